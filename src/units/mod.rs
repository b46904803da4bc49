//! Lengths, areas, temperatures and the other measures of the trade, in the trade's own notation.
//!
//! Takes text as people write it (`3/8 in`, `5' 6"`, `4 to 8 mm`, `72 F`), gives typed quantities
//! and back again. Knows nothing of records, rules or pages.

mod notation;

pub use notation::{Kind, Measured, Notation, NotationError, System};
pub use uom::si::f64::{
    Area, Length, Mass, MassDensity, Pressure, ThermodynamicTemperature as Temperature, Velocity,
    Volume,
};
