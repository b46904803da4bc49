//! Facts from the record: measured, worked out, a range, a set of possibilities, or unknown; each
//! knows where it came from.
//!
//! Takes a record and the vocabulary, gives a [`Survey`]. Knows nothing of tables. Figures of the
//! trade come from the vocabulary; this code holds arithmetic only.

mod area;
mod builder;
mod defect;
mod headroom;
pub mod heights;
pub mod panels;
mod site;
pub mod stats;
mod suppose;

use std::collections::BTreeMap;

use crate::facts::{FactId, Thing, Value, Vocabulary};
use crate::record::model::Record;

pub use headroom::{StepLimits, step_limits};
pub use site::air_target;
pub use suppose::{Supposed, suppose};

/// What is known of a fact and where it comes from.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// What is known.
    pub value: Value,
    /// Where it comes from.
    pub origin: Origin,
}

/// Where a value comes from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Origin {
    /// Written in the record at a path such as `areas.0.defects.2.depth`.
    Record(String),
    /// Worked out from entries at these paths, in the words given.
    WorkedOut {
        /// How, in plain words.
        how: String,
        /// Paths of the entries used.
        paths: Vec<String>,
    },
    /// Taken because the record is silent, for the reason given.
    Silent(String),
}

/// Everything the survey found.
#[derive(Debug, Clone)]
pub struct Survey {
    /// The site, the slab, its areas, and what lies in them; outer things come first.
    pub things: Vec<Thing>,
    /// What is known, by thing and fact. What is not listed is unknown.
    pub entries: BTreeMap<(usize, FactId), Entry>,
    /// Index of the site.
    pub site: usize,
    /// Index of the slab.
    pub slab: usize,
    /// For each area of the record: its thing, its panels and its defects.
    pub areas: Vec<AreaThings>,
    /// Thing of each stair of the record.
    pub stairs: Vec<usize>,
    /// Thing of each threshold of the record.
    pub thresholds: Vec<usize>,
    /// Field of the record that holds a fact of a thing, filled in or not, such as
    /// `areas.0.defects.2.depth`.
    pub fields: BTreeMap<(usize, FactId), String>,
    /// Block of the record about a thing, such as `areas.0.defects.2`.
    pub blocks: BTreeMap<usize, String>,
}

/// Things of an area.
#[derive(Debug, Clone)]
pub struct AreaThings {
    /// The area.
    pub thing: usize,
    /// Name and thing of each panel.
    pub panels: Vec<(String, usize)>,
    /// Thing of each defect, in record order.
    pub defects: Vec<usize>,
    /// Thing of each joint, in record order.
    pub joints: Vec<usize>,
}

impl Survey {
    /// What is known of a fact of a thing itself (not of the things that hold it).
    pub fn entry(&self, thing: usize, fact: FactId) -> Option<&Entry> {
        self.entries.get(&(thing, fact))
    }

    /// What is known of a fact of a thing, by name.
    pub fn value(&self, vocabulary: &Vocabulary, thing: usize, fact: &str) -> Value {
        vocabulary
            .find(fact)
            .and_then(|id| self.entry(thing, id))
            .map_or(Value::Unknown, |e| e.value)
    }
}

/// Surveys a record.
///
/// Never fails: what can't be read stays unknown. The record's own checks name what is wrong with it.
pub fn survey(record: &Record, vocabulary: &Vocabulary) -> Survey {
    survey_holding(record, vocabulary, BTreeMap::new())
}

/// Surveys a record with some facts held to a value, whatever the record says of them.
fn survey_holding(
    record: &Record,
    vocabulary: &Vocabulary,
    held: BTreeMap<(usize, FactId), Value>,
) -> Survey {
    let mut b = builder::Builder::new(vocabulary);
    b.held = held;
    let site = b.thing(crate::facts::Scope::Site, "the site", None);
    let slab = b.thing(crate::facts::Scope::Slab, "the slab", Some(site));
    site::site(&mut b, record, site);
    site::slab(&mut b, record, slab);
    let places = crate::record::geometry::places(record);
    let areas: Vec<AreaThings> = record
        .areas
        .iter()
        .enumerate()
        .map(|(i, _)| {
            let place = places.get(i).and_then(Option::as_deref);
            area::area(&mut b, record, i, slab, place)
        })
        .collect();
    let stairs = headroom::stairs(&mut b, record, slab);
    let thresholds = headroom::thresholds(&mut b, record, slab);
    b.silent_defaults(record, &areas);
    Survey {
        things: b.things,
        entries: b.entries,
        site,
        slab,
        areas,
        stairs,
        thresholds,
        fields: b.fields,
        blocks: b.blocks,
    }
}
