//! The specified work in order, with the candidates kept and turned down.
//!
//! Takes the record, the facts and a run of the rules, gives a [`Method`]. Knows nothing of money.

mod model;
mod order;
pub mod sizes;
mod specify;
mod worked;

pub use model::*;
pub use specify::{Fitted, csp, decide, in_favour, profile_row, specify};
