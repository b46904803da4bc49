//! Practice for apprentices: a case a finding at a time, tests that cost minutes, an answer, and the
//! expert's way beside it.
//!
//! Takes records (samples, worked cases, lessons of a trainer, cases made from the pack) and the
//! rules; gives what to show and what the rules say to the answers. Knows nothing of terminals and
//! writes no files.

mod built;
mod lesson;
mod made;
mod method;
mod play;
mod score;

pub use built::{LESSON, samples, worked};
pub use lesson::{Answer, Case, Lesson, Stated};
pub use made::{Level, make};
pub use method::{Marked, Part, Pick, Question, Quiz, agree};
pub use play::{Outcome, Play, Step, Test};
pub use score::{Mark, PartMark, PartScore, Scores, TopicScore};
