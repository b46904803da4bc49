//! A compiled pack: tables whose conditions are sets of cells.

use std::borrow::Cow;
use std::collections::BTreeMap;

use serde::ser::SerializeStruct;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use crate::facts::{Bits, FactId, Interval, Scope, SourceNote, Value, Vocabulary};
use crate::source::{Place, SourceFile};
use crate::units::{Kind, System};

use super::cells::Cells;
use super::condition::Test;
use super::index::Index;

/// A compiled rule pack.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Pack {
    /// Facts, figures and words.
    pub vocabulary: Vocabulary,
    /// Causes, by word.
    pub causes: Vec<Cause>,
    /// Tables, in file order.
    pub tables: Vec<Table>,
    /// Cells of each fact, by fact id.
    pub cells: Vec<Cells>,
    /// Work to do for a set of facts, in an order in which everything needed comes first.
    pub order: Vec<Work>,
    /// What makes each fact, by fact id; none for facts that come from outside.
    pub makers: Vec<Option<Work>>,
    /// Files of the pack. Not part of the stored form: the built-in pack's stand in the program.
    #[serde(skip)]
    pub files: Vec<SourceFile>,
    /// Fingerprint of the files, hexadecimal.
    pub fingerprint: String,
    /// What a house pack added, replaced and switched off.
    pub house: Vec<HouseChange>,
}

/// A fact of a thing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Spot {
    /// Thing, by its index on the board.
    pub thing: usize,
    /// Fact.
    pub fact: FactId,
}

impl HouseChange {
    /// In a line: `replaced av-seal in area_verdict: we never seal`.
    pub fn said(&self) -> String {
        let because = match self.because.as_str() {
            "" => String::new(),
            because => format!(": {because}"),
        };
        format!("{} {} in {}{because}", self.what, self.row, self.table)
    }
}

/// One piece of work of a run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Work {
    /// Run a table.
    Table(usize),
    /// Gather a fact from an inner scope.
    Gather(FactId),
}

/// A change a house pack made to the built-in one.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct HouseChange {
    /// `added`, `replaced` or `switched off`.
    pub what: String,
    /// Table.
    pub table: String,
    /// Row, or `*` for a whole table.
    pub row: String,
    /// Reason the house gives.
    pub because: String,
}

/// A cause of damage.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Cause {
    /// Word used in tables.
    pub id: String,
    /// In plain words.
    pub name: String,
    /// One or two plain sentences for the owner.
    pub plain: String,
    /// When it goes on working.
    pub at_work: String,
    /// What stops it.
    pub stops_by: String,
    /// File it is declared in, by index.
    pub file: usize,
    /// Where its word stands there.
    pub place: Place,
}

/// A decision table.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Table {
    /// Name.
    pub id: String,
    /// Title for pages.
    pub title: String,
    /// The question it answers.
    pub question: String,
    /// Name and edition of the scale, for grades.
    pub scale: Option<String>,
    /// What it is about.
    pub scope: Scope,
    /// Conditions under which it applies at all.
    pub applies: Vec<Condition>,
    /// The facts its conditions read, in order of first use.
    pub inputs: Vec<FactId>,
    /// What it does with its rows.
    pub body: Body,
    /// Rows, in file order.
    pub rows: Vec<Row>,
    /// File, by index.
    pub file: usize,
    /// Where it stands.
    pub place: Place,
    /// Conditions of all rows, flat: `rows[i]` owns `flat[starts[i]..starts[i + 1]]`.
    pub(super) flat: Vec<(u16, Bits)>,
    pub(super) starts: Vec<u32>,
    pub(super) flat_applies: Vec<(u16, Bits)>,
    /// Class of each row of a grade table.
    pub(super) classes: Vec<u8>,
    pub(super) index: Index,
}

/// What a table does with its rows.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub enum Body {
    /// One class on a scale.
    Grade {
        /// DMN hit policy.
        hit: Hit,
        /// The fact it makes.
        gives: FactId,
        /// Value where the table does not apply.
        otherwise: Option<Bits>,
    },
    /// Every row that fires is listed (DMN hit policy `collect`).
    Collect,
    /// Contestants ranked by pushes: causes by log-odds, candidates by preference.
    Rank(Rank),
}

/// DMN hit policies with a single result.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Hit {
    /// The first row that fires wins.
    First,
    /// Exactly one row may fire.
    Unique,
}

/// A ranking of causes or candidates.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Rank {
    /// Whether it ranks causes (evidence) rather than candidates (choice).
    pub evidence: bool,
    /// The fact that takes the leading contestant.
    pub gives: Option<FactId>,
    /// Contestants, in file order; ties go to the earlier one.
    pub contestants: Vec<Contestant>,
    /// Value of `gives` when every contestant is ruled out, if it has one.
    pub none: Option<usize>,
    /// Log-odds from which a cause counts as likely.
    pub likely: f64,
    /// Log-odds from which a cause counts as possible.
    pub possible: f64,
    /// Rows that set the log-odds before any sign; for each contestant the first that holds.
    pub priors: Vec<Prior>,
    pub(super) prior_flat: Vec<Vec<(u16, Bits)>>,
    /// Groups of inputs that share a row, with the rows of each.
    pub(super) groups: Vec<Group>,
    /// For each input and cell, the first cell that no row and no prior tells apart from it.
    pub(super) alike: Vec<Vec<u8>>,
}

/// Inputs that stand together in some row, and the rows they decide.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub(super) struct Group {
    pub inputs: Vec<u16>,
    pub rows: Vec<u16>,
    pub priors: Vec<u16>,
}

/// A cause or a candidate.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Contestant {
    /// Word.
    pub id: String,
    /// In plain words.
    pub name: String,
    /// For the owner.
    pub plain: String,
    /// Bit of the leading fact.
    pub bit: usize,
    /// Fact that takes the standing (`unlikely`, `possible`, `likely`), if any.
    pub standing: Option<FactId>,
    /// Named numbers and texts for the method.
    pub set: BTreeMap<String, Set>,
}

/// Log-odds before any sign.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Prior {
    /// Row name.
    pub id: String,
    /// Conditions.
    pub when: Vec<Condition>,
    /// Contestant, by index.
    pub contestant: usize,
    /// Log-odds.
    pub push: f64,
    /// Why.
    pub because: String,
    /// Where it comes from.
    pub source: SourceNote,
    /// Where it stands, in the table's file.
    pub place: Place,
}

/// A row.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Row {
    /// Name, unique in the pack, never used again.
    pub id: String,
    /// All of these must hold.
    pub when: Vec<Condition>,
    /// What follows.
    pub then: Then,
    /// For the crew.
    pub because: String,
    /// For the owner.
    pub plain: Option<String>,
    /// The same for the crew in a line, with `{gaps}` for quantities of `set` and figures.
    pub crew: Option<String>,
    /// Where it comes from.
    pub source: SourceNote,
    /// Whether nothing may outvote it.
    pub safety: bool,
    /// Named numbers and texts for the method.
    pub set: BTreeMap<String, Set>,
    /// Facts of an example that fires it.
    pub example: Vec<(FactId, Value)>,
    /// File, by index.
    pub file: usize,
    /// Where it stands.
    pub place: Place,
}

/// What follows from a row.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum Then {
    /// A class of the scale, by index.
    Class(usize),
    /// The row is listed.
    Listed,
    /// Contestants are pushed up or down, or ruled out.
    Pushes {
        /// Contestant and push.
        pushes: Vec<(usize, f64)>,
        /// Contestants ruled out.
        rules_out: Vec<usize>,
    },
}

/// A condition on a fact.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Condition {
    /// The fact.
    pub fact: FactId,
    /// Cells for which it holds.
    pub mask: Bits,
    /// As written.
    pub text: String,
    /// What it asks.
    pub test: Test,
    /// Where it stands.
    pub place: Place,
}

/// A named number or text of a row or candidate.
#[derive(Debug, Clone, PartialEq)]
pub enum Set {
    /// A quantity, in the kind's canonical unit.
    Quantity {
        /// Least and greatest.
        value: Interval,
        /// Kind.
        kind: Kind,
        /// As written.
        text: String,
    },
    /// A text, as written.
    Text(String),
}

/// [`Set`] as it is stored with the built-in pack.
#[derive(Serialize, Deserialize)]
#[serde(rename = "Set")]
enum StoredSet<'a> {
    Quantity(Interval, Kind, Cow<'a, str>),
    Text(Cow<'a, str>),
}

impl Serialize for Set {
    /// For people and machines that read JSON the bare quantity or text; in the stored form,
    /// which names nothing, with what it is.
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        if !to.is_human_readable() {
            return match self {
                Set::Quantity { value, kind, text } => {
                    StoredSet::Quantity(*value, *kind, text.into())
                }
                Set::Text(text) => StoredSet::Text(text.into()),
            }
            .serialize(to);
        }
        match self {
            Set::Quantity { value, kind, text } => {
                let mut fields = to.serialize_struct("Set", 3)?;
                fields.serialize_field("value", value)?;
                fields.serialize_field("kind", kind)?;
                fields.serialize_field("text", text)?;
                fields.end()
            }
            Set::Text(text) => to.serialize_str(text),
        }
    }
}

impl<'de> Deserialize<'de> for Set {
    /// Reads the stored form only.
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        Ok(match StoredSet::deserialize(from)? {
            StoredSet::Quantity(value, kind, text) => Set::Quantity {
                value,
                kind,
                text: text.into_owned(),
            },
            StoredSet::Text(text) => Set::Text(text.into_owned()),
        })
    }
}

impl Set {
    /// The quantity, if it is one.
    pub fn quantity(&self) -> Option<Interval> {
        match self {
            Set::Quantity { value, .. } => Some(*value),
            Set::Text(_) => None,
        }
    }

    /// As written.
    pub fn text(&self) -> &str {
        match self {
            Set::Quantity { text, .. } | Set::Text(text) => text,
        }
    }
}

impl Row {
    /// The line for the crew with its figures filled in; none where the row has none.
    pub fn crew_line(&self, vocabulary: &Vocabulary, units: System) -> Option<String> {
        let text = self.crew.as_deref()?;
        Some(gaps(text).into_iter().fold(text.to_owned(), |text, gap| {
            match self.figure(vocabulary, &gap) {
                Some((kind, value)) => {
                    let value = on_a_rule(kind, value, units);
                    text.replace(&format!("{{{gap}}}"), &kind.write(value, units))
                }
                None => text,
            }
        }))
    }

    /// The quantity a gap stands for: one that the row sets, else a figure of the pack.
    pub(super) fn figure(&self, vocabulary: &Vocabulary, gap: &str) -> Option<(Kind, Interval)> {
        match self.set.get(gap) {
            Some(Set::Quantity { value, kind, .. }) => Some((*kind, *value)),
            Some(Set::Text(_)) => None,
            None => vocabulary.figure(gap).map(|f| (f.kind, f.value)),
        }
    }
}

/// A length as a metric rule shows it: whole millimetres, and 5 mm beyond 50 mm.
fn on_a_rule(kind: Kind, value: Interval, units: System) -> Interval {
    if kind != Kind::Length || units != System::Metric {
        return value;
    }
    let near = |mm: f64| {
        let step = if mm > 50.0 { 5.0 } else { 1.0 };
        (mm / step).round() * step
    };
    Interval {
        lo: near(value.lo),
        hi: near(value.hi),
    }
}

/// Names in `{…}`.
pub(crate) fn gaps(text: &str) -> Vec<String> {
    text.split('{')
        .skip(1)
        .filter_map(|part| part.split_once('}'))
        .map(|(name, _)| name.to_owned())
        .collect()
}

impl Pack {
    /// A table by name.
    pub fn table(&self, id: &str) -> Option<(usize, &Table)> {
        self.tables.iter().enumerate().find(|(_, t)| t.id == id)
    }

    /// What makes a fact; `None` for facts that come from outside.
    pub fn maker(&self, fact: FactId) -> Option<Work> {
        self.makers.get(usize::from(fact.0)).copied().flatten()
    }

    /// A cause by word.
    pub fn cause(&self, id: &str) -> Option<&Cause> {
        self.causes.iter().find(|c| c.id == id)
    }

    /// A figure's range in its canonical unit, if the pack has it.
    pub fn figure(&self, id: &str) -> Option<Interval> {
        self.vocabulary.figure(id).map(|f| f.value)
    }
}
