//! The specified work in order, with the candidates kept and turned down.
//!
//! Takes the record, the facts and a run of the rules, gives a [`Method`]. Knows nothing of money.

mod model;
mod specify;

pub use model::*;
pub use specify::{Fitted, fit_layers, specify};
