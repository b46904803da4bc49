//! The papers: the owner's condition report as a page, and the short summary for the terminal.
//!
//! Takes the record, the assessment, the method and the photos as one plain [`View`], gives HTML
//! and text. Knows nothing of how any value was found.

pub mod compare;
pub mod crew;
pub mod drawings;
pub mod guide;
mod handbook;
pub mod language;
pub mod names;
pub mod owner_plan;
mod page;
#[cfg(feature = "pdf")]
pub mod pdf;
pub mod photos;
pub mod phrases;
pub mod plan_text;
pub mod plan_view;
pub mod proposal;
pub mod readability;
pub mod templates;
pub mod text;
pub mod view;
pub mod words;

pub use crew::CrewSheet;
pub use guide::guide;
pub use handbook::{Handbook, contents, handbook};
pub(crate) use page::alone;
pub use page::{Pages, ReportError, html};
pub use plan_view::PlanView;
pub use proposal::Proposal;
pub use view::{Brief, Sources, View};
