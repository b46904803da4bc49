//! Lengths, areas, temperatures and the other measures of the trade, in the trade's own notation.
//!
//! Takes text as people write it (`3/8 in`, `5' 6"`, `4 to 8 mm`, `72 F`), gives typed quantities
//! and back again. Knows nothing of records, rules or pages.

mod interval;
mod kind;
mod measured;
mod quantity;
mod read;
mod size;
#[cfg(test)]
mod tests;
mod write;

pub use interval::Interval;
pub use kind::{Kind, System};
pub use measured::Measured;
pub use quantity::{Coverage, Duration, Notation, Share, Slope};
pub use read::{NotationError, capital, is_unknown};
pub use size::Size;
pub use uom::si::f64::{
    Area, Length, Mass, MassDensity, Pressure, ThermodynamicTemperature as Temperature, Velocity,
    Volume,
};

/// Rounds to 12 significant digits, so that one length written in two units compares equal.
/// Anything smaller than a billionth of the canonical unit is zero.
pub(crate) fn canonical(x: f64) -> f64 {
    if !x.is_finite() || x.abs() < 1e-9 {
        return if x.is_finite() { 0.0 } else { x };
    }
    format!("{x:.11e}").parse().unwrap_or(x)
}
