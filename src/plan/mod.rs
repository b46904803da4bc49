//! The plan of work: geometry checks, quantities, clock, placing window, programme and money.
//!
//! Takes the specified method, the record and the trade's figures, gives a plan in numbers that a
//! contractor can order, schedule and sign for. The files beside this one hold the formulas, one
//! topic each, with no figure of the trade in them: limits come in as parameters and stand in
//! `rules/figures/plan.yaml`. Knows nothing of pages.

pub mod clock;
pub mod figures;
pub mod forecast;
pub mod inputs;
mod make;
pub mod model;
pub mod money;
pub mod programme;
pub mod quantities;
pub mod sampling;
pub mod setting;
pub mod weather;
pub mod window;

pub use crate::survey::heights;
pub use figures::{MissingFigure, Taken};
pub use inputs::{Inputs, Stages};
pub use make::plan;
pub use model::Plan;
