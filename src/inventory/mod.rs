//! A survey of many slabs: rows or records in, one result each out, and what they add up to.
//!
//! Takes panel records (a flat form of the inspection record) and whole records, gives verdicts as
//! lines and a [`Tally`]. A row is judged by the very same stages as a record: it is written out as
//! the text of one, read, surveyed and run through the rules. Since the rules look at classes of
//! values only, rows of the same classes share one answer, which is worked out once. Knows nothing
//! of terminals.

pub mod fields;
pub mod judge;
pub mod made;
pub mod mapping;
pub mod page;
pub mod row;
pub mod run;
pub mod source;
#[cfg(feature = "parquet")]
pub mod table;
pub mod tally;
pub mod told;
pub mod write;

pub use fields::Fields;
pub use judge::{Judge, Outcome, Worker};
pub use run::{Options, Summary, survey_all};
pub use tally::Tally;
