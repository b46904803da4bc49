//! The typed quantities: those of the units library, and newtypes for the kinds it lacks.

use std::fmt::Debug;

use uom::si::area::square_meter;
use uom::si::length::millimeter;
use uom::si::mass::kilogram;
use uom::si::pressure::megapascal;
use uom::si::thermodynamic_temperature::degree_celsius;
use uom::si::velocity::kilometer_per_hour;
use uom::si::volume::liter;

use super::{Area, Kind, Length, Mass, Pressure, Temperature, Velocity, Volume, canonical};

/// A quantity that has a [`Kind`] and therefore a notation.
pub trait Notation: Copy + PartialEq + Debug {
    /// Its kind.
    const KIND: Kind;

    /// From a number in the kind's canonical unit.
    fn from_canonical(x: f64) -> Self;

    /// The number in the kind's canonical unit, to 12 significant digits.
    fn to_canonical(self) -> f64;
}

macro_rules! quantity {
    ($($type:ty, $kind:ident, $unit:ty;)*) => {$(
        impl Notation for $type {
            const KIND: Kind = Kind::$kind;
            fn from_canonical(x: f64) -> Self {
                <$type>::new::<$unit>(x)
            }
            fn to_canonical(self) -> f64 {
                canonical(self.get::<$unit>())
            }
        }
    )*};
}

quantity! {
    Length, Length, millimeter;
    Area, Area, square_meter;
    Volume, Volume, liter;
    Mass, Mass, kilogram;
    Temperature, Temperature, degree_celsius;
    Pressure, Pressure, megapascal;
    Velocity, Speed, kilometer_per_hour;
}

impl Notation for f64 {
    const KIND: Kind = Kind::Number;
    fn from_canonical(x: f64) -> Self {
        x
    }
    fn to_canonical(self) -> f64 {
        canonical(self)
    }
}

macro_rules! newtype {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Default)]
        pub struct $name(f64);

        impl Notation for $name {
            const KIND: Kind = Kind::$name;
            fn from_canonical(x: f64) -> Self {
                $name(x)
            }
            fn to_canonical(self) -> f64 {
                canonical(self.0)
            }
        }
    };
}

newtype!(
    /// A part of a whole, held as a fraction of one.
    Share
);
newtype!(
    /// Rise over run, held as a fraction.
    Slope
);
newtype!(
    /// A span of time, held in days. A year has 365.25 days, a month a twelfth of that.
    Duration
);
newtype!(
    /// Surface covered by a volume, held in square metres a litre.
    Coverage
);
