//! The rule graph: decision tables compiled to sets of cells, evaluated over what is known, a
//! range, a set of possibilities or unknown, with a trail.
//!
//! Takes pack files and facts, gives outcomes and the rows behind them. Knows nothing of records,
//! money or pages.

mod builtin;
mod cells;
mod check;
mod condition;
mod graph;
mod load;
mod model;
mod run;

pub use crate::facts::Thing;
pub use builtin::{builtin, builtin_files};
pub use cells::Cells;
pub use condition::{ConditionError, Segment, Test};
pub use graph::{graph, made_by};
pub use load::{PackFile, load, load_and_check};
pub use model::{
    Body, Cause, Condition, Contestant, Hit, HouseChange, Pack, Prior, Rank, Row, Set, Table, Then,
    Work,
};
pub use run::{Board, Fired, Scored, Trail, Visit, run, run_some, standing_of};
