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

impl Share {
    /// From a fraction of one.
    pub fn from_fraction(x: f64) -> Self {
        Share(x)
    }
    /// As a fraction of one.
    pub fn fraction(self) -> f64 {
        self.0
    }
    /// In per cent.
    pub fn percent(self) -> f64 {
        canonical(self.0 * 100.0)
    }
}

impl Slope {
    /// From rise over run.
    pub fn from_fraction(x: f64) -> Self {
        Slope(x)
    }
    /// Rise over run.
    pub fn fraction(self) -> f64 {
        self.0
    }
    /// In per cent.
    pub fn percent(self) -> f64 {
        canonical(self.0 * 100.0)
    }
    /// Inches in a foot.
    pub fn inches_per_foot(self) -> f64 {
        canonical(self.0 * 12.0)
    }
}

impl Duration {
    /// From days.
    pub fn from_days(x: f64) -> Self {
        Duration(x)
    }
    /// In seconds.
    pub fn seconds(self) -> f64 {
        canonical(self.0 * 86_400.0)
    }
    /// In minutes.
    pub fn minutes(self) -> f64 {
        canonical(self.0 * 1440.0)
    }
    /// In hours.
    pub fn hours(self) -> f64 {
        canonical(self.0 * 24.0)
    }
    /// In days.
    pub fn days(self) -> f64 {
        self.0
    }
    /// In years of 365.25 days.
    pub fn years(self) -> f64 {
        canonical(self.0 / 365.25)
    }
}

impl Coverage {
    /// From square metres a litre.
    pub fn from_m2_per_litre(x: f64) -> Self {
        Coverage(x)
    }
    /// Square metres a litre.
    pub fn m2_per_litre(self) -> f64 {
        self.0
    }
    /// Square feet a US gallon.
    pub fn ft2_per_gallon(self) -> f64 {
        Kind::Coverage.to_unit(self.0, "ft2/gal").unwrap_or(self.0)
    }
}
