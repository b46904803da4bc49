//! The inspection record: typed, unit-checked, every rejected value named with its place.
//!
//! Takes a YAML file, gives a [`model::Record`]. Knows nothing of rules, money or pages.

mod check;
pub mod dates;
pub mod geometry;
pub mod model;
mod read;
mod schema;
mod shape;
mod starter;
pub mod words;

pub use read::{Loaded, read};
pub use schema::{schema, structs};
pub use starter::starter;
