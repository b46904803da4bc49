//! The specified work in order, with the candidates kept and turned down.
//!
//! Takes the assessment and the facts, gives a [`Method`]. Knows nothing of money.

mod model;

pub use model::*;
