//! The inspection record: typed, unit-checked, every rejected value named with its place.
//!
//! Takes a YAML file, gives a [`model::Record`]. Knows nothing of rules, money or pages.

pub mod model;
