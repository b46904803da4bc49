//! Collects things and entries.

use std::collections::BTreeMap;

use crate::facts::{
    Bits, Comes, Fact, FactId, FactKind, Interval, Scope, Thing, Value, Vocabulary,
};
use crate::record::model::{OneOrMore, Record, Signs};
use crate::units::{Measured, Notation};

use super::{AreaThings, Entry, Origin};

/// Collects things and entries.
pub(super) struct Builder<'v> {
    pub vocabulary: &'v Vocabulary,
    pub things: Vec<Thing>,
    pub entries: BTreeMap<(usize, FactId), Entry>,
    /// Field of the record that holds a fact, whether or not it is filled in.
    pub fields: BTreeMap<(usize, FactId), String>,
    /// Block of the record about a thing.
    pub blocks: BTreeMap<usize, String>,
    /// Facts taken to be otherwise, whatever the record says.
    pub held: BTreeMap<(usize, FactId), Value>,
}

impl<'v> Builder<'v> {
    pub fn new(vocabulary: &'v Vocabulary) -> Self {
        Builder {
            vocabulary,
            things: Vec::new(),
            entries: BTreeMap::new(),
            fields: BTreeMap::new(),
            blocks: BTreeMap::new(),
            held: BTreeMap::new(),
        }
    }

    pub fn thing(&mut self, scope: Scope, label: impl Into<String>, outer: Option<usize>) -> usize {
        self.things.push(Thing {
            scope,
            label: label.into(),
            outer,
            lies_in: Vec::new(),
            may_lie_in: Vec::new(),
        });
        let thing = self.things.len() - 1;
        // Held from the start, so that what is worked out from it is worked out from what is held.
        for (&(t, id), &value) in &self.held {
            if t == thing {
                let origin = Origin::WorkedOut {
                    how: "taken to be so".to_owned(),
                    paths: Vec::new(),
                };
                self.entries.insert((t, id), Entry { value, origin });
            }
        }
        thing
    }

    /// Notes which field of the record holds a fact.
    fn field(&mut self, thing: usize, fact: &str, path: &str) {
        if let Some(id) = self.vocabulary.find(fact) {
            self.fields.insert((thing, id), path.to_owned());
        }
    }

    /// Sets a fact by name. A pack that does not declare the fact does not want it; one that
    /// declares it with another kind or scope is not written for this survey, and gets nothing.
    fn set(&mut self, thing: usize, fact: &str, value: Value, origin: Origin) {
        let Some(id) = self.vocabulary.find(fact) else {
            return;
        };
        if self.held.contains_key(&(thing, id)) {
            return;
        }
        let declared = self.vocabulary.fact(id);
        let fits = matches!(
            (&declared.kind, value),
            (_, Value::Unknown)
                | (FactKind::Quantity(_), Value::Number(_))
                | (FactKind::Choice { .. }, Value::Choices(_))
        );
        if fits
            && self
                .things
                .get(thing)
                .is_some_and(|t| t.scope == declared.scope)
        {
            self.entries.insert((thing, id), Entry { value, origin });
        }
    }

    /// A measure as written in the record.
    pub fn measured<T: Notation>(
        &mut self,
        thing: usize,
        fact: &str,
        value: Option<&Measured<T>>,
        path: String,
    ) {
        self.field(thing, fact, &path);
        if let Some(value) = value {
            let value = value.canonical().map_or(Value::Unknown, Value::Number);
            self.set(thing, fact, value, Origin::Record(path));
        }
    }

    /// A number worked out from other entries.
    pub fn worked_out(
        &mut self,
        thing: usize,
        fact: &str,
        value: Option<Interval>,
        how: &str,
        paths: Vec<String>,
    ) {
        if let Some(value) = value.filter(|v| !v.lo.is_nan() && !v.hi.is_nan()) {
            self.set(
                thing,
                fact,
                Value::Number(tidy(value)),
                Origin::WorkedOut {
                    how: how.to_owned(),
                    paths,
                },
            );
        }
    }

    /// A choice worked out from other entries, by words; words the pack does not know are dropped.
    pub fn chosen(
        &mut self,
        thing: usize,
        fact: &str,
        words: &[&str],
        how: &str,
        paths: Vec<String>,
    ) {
        let Some(declared) = self
            .vocabulary
            .find(fact)
            .map(|id| self.vocabulary.fact(id))
        else {
            return;
        };
        let bits = words
            .iter()
            .filter_map(|w| declared.value_index(w))
            .fold(Bits::NONE, |b, i| b.or(Bits::one(i)));
        if !bits.is_empty() {
            self.set(
                thing,
                fact,
                Value::Choices(bits),
                Origin::WorkedOut {
                    how: how.to_owned(),
                    paths,
                },
            );
        }
    }

    /// A choice as written in the record.
    pub fn choice(&mut self, thing: usize, fact: &str, written: Option<&OneOrMore>, path: String) {
        self.field(thing, fact, &path);
        let Some(written) = written else { return };
        let Some(id) = self.vocabulary.find(fact) else {
            return;
        };
        let value = read(self.vocabulary.fact(id), written);
        self.set(thing, fact, value, Origin::Record(path));
    }

    /// A choice written as one word.
    pub fn word(&mut self, thing: usize, fact: &str, written: Option<&str>, path: String) {
        self.choice(
            thing,
            fact,
            written.map(|w| OneOrMore::One(w.to_owned())).as_ref(),
            path,
        );
    }

    /// Every sign written at a thing.
    pub fn signs(&mut self, thing: usize, signs: &Signs, path: &str) {
        if let Some(block) = path.strip_suffix(".signs") {
            self.blocks.insert(thing, block.to_owned());
        }
        for (name, written) in signs {
            self.choice(thing, name, Some(written), format!("{path}.{name}"));
        }
    }

    /// Known range of a fact already set.
    pub fn number(&self, thing: usize, fact: &str) -> Option<Interval> {
        let id = self.vocabulary.find(fact)?;
        match self.entries.get(&(thing, id))?.value {
            Value::Number(i) => Some(i),
            _ => None,
        }
    }

    /// Words still possible of a choice already set; `None` when nothing is known.
    pub fn words(&self, thing: usize, fact: &str) -> Option<Vec<&'v str>> {
        let id = self.vocabulary.find(fact)?;
        let Value::Choices(bits) = self.entries.get(&(thing, id))?.value else {
            return None;
        };
        let values = self.vocabulary.fact(id).values();
        Some(
            bits.iter()
                .filter_map(|i| values.get(i))
                .map(|v| v.id.as_str())
                .collect(),
        )
    }

    /// A figure of the pack, in its canonical unit.
    pub fn figure(&self, id: &str) -> Option<Interval> {
        self.vocabulary.figure(id).map(|f| f.value)
    }

    /// Fills in what may be taken when the record says nothing, wherever nothing was said.
    pub fn silent_defaults(&mut self, record: &Record, areas: &[AreaThings]) {
        let mut kinds: BTreeMap<usize, String> = BTreeMap::new();
        for (area, things) in record.areas.iter().zip(areas) {
            for (defect, &thing) in area.defects.iter().zip(&things.defects) {
                kinds.insert(thing, kind_word(defect.kind));
            }
        }
        for (id, fact) in self.vocabulary.facts() {
            let Some(silent) = &fact.silent else {
                continue;
            };
            if !matches!(fact.comes, Comes::Asked | Comes::Survey) {
                continue;
            }
            for (thing, t) in self
                .things
                .iter()
                .enumerate()
                .filter(|(_, t)| t.scope == fact.scope)
            {
                let for_kind = |list: &[String]| {
                    list.is_empty() || kinds.get(&thing).is_some_and(|k| list.contains(k))
                };
                let asked =
                    t.scope != Scope::Defect || (for_kind(&fact.kinds) && for_kind(&silent.kinds));
                if asked {
                    self.entries.entry((thing, id)).or_insert_with(|| Entry {
                        value: silent.value,
                        origin: Origin::Silent(silent.because.clone()),
                    });
                }
            }
        }
    }
}

/// The word of a defect kind, as written in records.
pub(super) fn kind_word(kind: crate::record::model::DefectKind) -> String {
    serde_json::to_value(kind)
        .ok()
        .and_then(|v| v.as_str().map(str::to_owned))
        .unwrap_or_default()
}

/// Rounds away the noise of arithmetic, so that 120 in / 4 in is 30 and not a hair above.
fn tidy(i: Interval) -> Interval {
    let round = |x: f64| {
        if !x.is_finite() || x == 0.0 {
            return x;
        }
        // Twelve significant digits, as the notation reader keeps.
        let scale = 10f64.powi(11 - x.abs().log10().floor() as i32);
        if scale.is_finite() && scale > 0.0 {
            (x * scale).round() / scale
        } else {
            x
        }
    };
    Interval {
        lo: round(i.lo),
        hi: round(i.hi),
    }
}

/// A value as written: a quantity, words, yes or no, a bare number, or unknown. What does not fit
/// the fact is unknown; the record's checks have named it already.
fn read(fact: &Fact, written: &OneOrMore) -> Value {
    let texts: Vec<String> = match written {
        OneOrMore::Flag(yes) => vec![if *yes { "yes" } else { "no" }.to_owned()],
        OneOrMore::Number(x) => vec![x.to_string()],
        OneOrMore::One(text) => vec![text.trim().to_owned()],
        OneOrMore::More(texts) => texts.iter().map(|t| t.trim().to_owned()).collect(),
    };
    match &fact.kind {
        FactKind::Quantity(kind) => texts
            .iter()
            .filter_map(|t| kind.read(t).ok())
            .reduce(Interval::hull)
            .map_or(Value::Unknown, Value::Number),
        FactKind::Choice { .. } => {
            let word = |t: &str| match t {
                "true" => fact.value_index("yes"),
                "false" => fact.value_index("no"),
                other => fact.value_index(other),
            };
            let bits = texts
                .iter()
                .filter_map(|t| word(t))
                .fold(Bits::NONE, |b, i| b.or(Bits::one(i)));
            if bits.is_empty() {
                Value::Unknown
            } else {
                Value::Choices(bits)
            }
        }
    }
}
