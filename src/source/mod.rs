//! Text files with places: a YAML tree whose every node knows its line and column, and the
//! problems that point into it.
//!
//! Takes the text of a file, gives a [`Node`] tree and [`Problems`]. Knows nothing of slabs.

mod problem;
mod text;
mod tree;

pub use problem::{Problem, Problems, Severity, nearest};
pub use text::{NOT_UTF8, SAVE_IT, utf8};
pub use tree::{Data, Key, Limits, Node, Place, SourceFile};
