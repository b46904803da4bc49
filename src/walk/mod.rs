//! Walking a slab with the record: which question comes next, what an answer puts into the record,
//! and how the verdict stands after it.
//!
//! Takes the text of a record, a pack and answers as typed; gives the next text of the record. It
//! reads and writes no files: the command line keeps the journal and the record on disk. The whole
//! state is the text it began with and the answers since, so that undoing is leaving off the last
//! answer, and going on after a crash is giving them again.

mod answer;
mod journal;
mod more;
mod parts;
mod plan;
mod sheet;
mod state;

pub use answer::{Complaint, Said, said};
pub use journal::{Journal, Line};
pub use plan::{Pick, Question, Stage, Take};
pub use sheet::{CantPut, Put, end_of, put};
pub use state::{Entry, Standing, Walk, cause_facts};
