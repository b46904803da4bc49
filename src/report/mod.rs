//! The papers: the owner's condition report as a page, and the short summary for the terminal.
//!
//! Takes the record, the assessment, the method and the photos as one plain [`View`], gives HTML
//! and text. Knows nothing of how any value was found.

pub mod drawings;
mod handbook;
mod page;
pub mod photos;
pub mod readability;
pub mod text;
pub mod view;
pub mod words;

pub use handbook::{Handbook, contents, handbook};
pub use page::{ReportError, html};
pub use view::{Sources, View};
