//! Drawings as SVG text, made from the record and the findings.
//!
//! Takes a record, causes, layers and risers, gives SVG that stands alone: role, title and
//! description in each, tones that survive greyscale, hatches and numbers besides any colour.
//! Knows nothing of pages.

pub mod cost;
pub mod evidence;
pub mod graph;
pub mod ground;
pub mod guide;
mod hatch;
pub mod labels;
pub mod layers;
pub mod map;
pub mod profile;
pub mod programme;
pub mod stair;
mod svg;
pub mod timeline;
pub mod tornado;

pub use svg::{Letter, escape};
