//! Why, why not, what if, and what to measure next: answers about a run, as plain data.
//!
//! Takes a pack and a board with what is known; gives structures that serialise. Knows nothing of
//! pages; labels are those of the things on the board.

mod ask;
mod what_if;
mod why;
mod why_not;

pub use ask::{Answer, Asking, Question, ask, ask_first, open_facts};
use what_if::Change;
pub use what_if::{Flip, RowFlip, RowState, WhatIf, compare};
pub use why::{Blocked, Made, Push, Source, Standing, Why, WhyRow, why};
pub use why_not::{Goal, Obstacle, Way, WhyNot, why_not};
