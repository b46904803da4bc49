//! The rule graph: decision tables compiled to sets of cells, evaluated over what is known, a
//! range, a set of possibilities or unknown, with a trail.
//!
//! Takes pack files and facts, gives outcomes and the rows behind them. Knows nothing of records,
//! money or pages.

mod board;
mod cells;
mod check;
mod condition;
mod dmn;
mod exact;
mod explain;
mod graph;
mod index;
mod load;
mod model;
mod rank;
mod reach;
mod run;
mod words;

pub use crate::builtin::*;
pub use crate::facts::Thing;
pub use board::Board;
pub use cells::Cells;
pub use condition::{ConditionError, Segment, Test};
pub use dmn::{NAMESPACE as DMN_NAMESPACE, canonical_unit, decision_name, dmn};
pub use exact::{BUDGET, Exact, exact, exact_within};
pub use explain::{
    Answer, Asking, Blocked, Flip, Goal, Made, Obstacle, Push, Question, RowFlip, RowState, Source,
    Standing, Way, WhatIf, Why, WhyNot, WhyRow, ask, ask_first, compare, open_facts, why, why_not,
};
pub use graph::{graph, made_by};
pub use load::{PackFile, fnv, load, load_and_check, load_texts};
#[cfg(feature = "pages")]
pub(crate) use model::gaps;
pub use model::{
    Body, Cause, Condition, Contestant, Hit, HouseChange, Pack, Prior, Rank, Row, Set, Spot, Table,
    Then, Work,
};
pub use reach::Reach;
pub use run::{Fired, Memo, Scored, Trail, Visit, run, run_pinned, run_some, standing_of};
pub use words::{Possible, Word};
