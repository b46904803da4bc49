//! Findings, ranked causes, verdicts, exclusions, referrals, each with its trail.
//!
//! Takes facts and the compiled rules, gives an [`Assessment`]. Knows nothing of pages.

mod answers;
mod assess;
mod describe;
mod model;
mod open;

pub use answers::{Answering, Given};
pub use assess::{Ran, assess, board, judge, made, run_decided, run_rules};
pub use describe::{Describer, quantity};
pub use model::*;
pub use open::{PLACES, exact_verdict, questions};
