//! Placeholder module text is replaced by its owner.
pub mod stats;
