//! `ringtrue` reads the inspection record of a damaged concrete slab and says what is wrong, why,
//! what to do about it, what not to do, how sure that is and what to measure next.
//!
//! The stages run in one direction; each module opens with what it takes, gives and must not know:
//! [`record`] -> [`survey`] -> [`rules`] -> [`assessment`] -> [`method`] -> [`plan`] -> [`report`].
//! Beneath them stand [`source`] (files with places), [`units`] and [`facts`] (the vocabulary).

pub mod assessment;
#[path = "rules/builtin.rs"]
mod builtin;
#[cfg(feature = "cli")]
pub mod cli;
#[cfg(feature = "cli")]
pub mod drill;
pub mod facts;
pub mod field;
#[cfg(feature = "cli")]
pub mod inventory;
pub mod method;
#[cfg(feature = "pages")]
pub mod plan;
pub mod record;
#[cfg(feature = "pages")]
pub mod report;
pub mod rules;
pub mod source;
pub mod survey;
pub mod units;
#[cfg(feature = "cli")]
pub mod walk;
