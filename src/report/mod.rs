//! The papers: the owner's condition report as a page, and the short summary for the terminal.
//!
//! Takes the record, the assessment, the method and the photos as one plain [`View`], gives HTML
//! and text. Knows nothing of how any value was found.

pub mod drawings;
pub mod names;
mod page;
pub mod photos;
pub mod plan_text;
pub mod plan_view;
pub mod readability;
pub mod text;
pub mod view;
pub mod words;

pub use page::{ReportError, html};
pub use plan_view::PlanView;
pub use view::{Sources, View};
