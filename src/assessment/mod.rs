//! Findings, ranked causes, verdicts, exclusions, referrals, each with its trail.
//!
//! Takes facts and the compiled rules, gives an [`Assessment`]. Knows nothing of pages.

mod model;

pub use model::*;
