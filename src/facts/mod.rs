//! The vocabulary of a rule pack: which facts there are, the trade's figures with their sources,
//! and the glossary.
//!
//! Takes the pack's `facts/`, `figures` and `glossary` files, gives [`Vocabulary`]. Every other
//! stage reads facts through it: the record's checks, the survey, the rules, the questions, the
//! handbook. Knows nothing of records or tables.

mod load;
mod value;

use std::collections::HashMap;

use serde::{Deserialize, Serialize};

pub use crate::units::Interval;
pub use load::{Reader, scope_of, source_of};
pub use value::{Bits, Value};

use crate::source::Place;
use crate::units::Kind;

/// Index of a fact in its [`Vocabulary`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct FactId(pub u16);

/// What a fact is about. A fact of an outer scope is known in every scope inside it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Scope {
    /// Climate, ground, surroundings.
    Site,
    /// The slab as a whole.
    Slab,
    /// A part judged on its own.
    Area,
    /// One panel between joints, inside an area.
    Panel,
    /// One numbered defect, inside an area.
    Defect,
    /// One joint, inside an area.
    Joint,
    /// One flight of steps, on the slab.
    Stair,
    /// One door, on the slab.
    Threshold,
}

impl Scope {
    /// Every scope, outermost first.
    pub const ALL: [Scope; 8] = [
        Scope::Site,
        Scope::Slab,
        Scope::Area,
        Scope::Panel,
        Scope::Defect,
        Scope::Joint,
        Scope::Stair,
        Scope::Threshold,
    ];

    /// The scope directly outside.
    pub fn outer(self) -> Option<Scope> {
        match self {
            Scope::Site => None,
            Scope::Slab => Some(Scope::Site),
            Scope::Area | Scope::Stair | Scope::Threshold => Some(Scope::Slab),
            Scope::Panel | Scope::Defect | Scope::Joint => Some(Scope::Area),
        }
    }

    /// Whether facts of `self` are known in `inner`.
    pub fn reaches(self, inner: Scope) -> bool {
        let mut scope = Some(inner);
        while let Some(s) = scope {
            if s == self {
                return true;
            }
            scope = s.outer();
        }
        false
    }

    /// Whether things of `inner` can be gathered into `self`. A defect lies in its area and in the
    /// panels it is recorded in.
    pub fn holds(self, inner: Scope) -> bool {
        self != inner && (self.reaches(inner) || (self == Scope::Panel && inner == Scope::Defect))
    }

    /// The word with its article, for sentences: `a slab`, `an area`.
    pub fn named(self) -> &'static str {
        match self {
            Scope::Site => "a site",
            Scope::Slab => "a slab",
            Scope::Area => "an area",
            Scope::Panel => "a panel",
            Scope::Defect => "a defect",
            Scope::Joint => "a joint",
            Scope::Stair => "a stair",
            Scope::Threshold => "a threshold",
        }
    }

    /// The word used in pack files.
    pub fn word(self) -> &'static str {
        match self {
            Scope::Site => "site",
            Scope::Slab => "slab",
            Scope::Area => "area",
            Scope::Panel => "panel",
            Scope::Defect => "defect",
            Scope::Joint => "joint",
            Scope::Stair => "stair",
            Scope::Threshold => "threshold",
        }
    }
}

/// A thing facts are about: the site, the slab, an area …
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Thing {
    /// What it is.
    pub scope: Scope,
    /// In plain words: `area A`, `defect 3`.
    pub label: String,
    /// The thing outside it, by index.
    pub outer: Option<usize>,
    /// Other things it lies in, by index: the panels of a defect. Only gathering looks at these.
    pub lies_in: Vec<usize>,
    /// Other things it may lie in, where its place is not known well enough.
    pub may_lie_in: Vec<usize>,
}

/// What values a fact takes.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum FactKind {
    /// A number with a unit of this kind.
    Quantity(Kind),
    /// One of a few named values; `ordered` when a later one is worse (or more) than an earlier.
    Choice {
        /// The values, in order.
        values: Vec<ChoiceValue>,
        /// Whether the order means something.
        ordered: bool,
    },
}

/// A named value of a choice.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ChoiceValue {
    /// Word used in records and tables.
    pub id: String,
    /// Plain words for pages.
    pub name: String,
}

/// Where a fact comes from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum Comes {
    /// Written by the inspector under `signs` at the fact's scope.
    Asked,
    /// Taken or worked out from the typed fields of the record by the survey.
    Survey,
    /// Made by a table.
    Made,
    /// Gathered from the facts of an inner scope.
    Gathered {
        /// The inner fact.
        from: String,
        /// How several become one.
        by: Gather,
    },
}

/// How the facts of several inner things become one fact of the outer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Gather {
    /// The last value in the order of an ordered choice (`yes` of a flag).
    Worst,
    /// The greatest number.
    Greatest,
    /// The sum of numbers.
    Sum,
}

/// At which pass over the slab a fact is found out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Pass {
    /// Looking and asking.
    Look,
    /// Tapping, prying, scratching.
    Tap,
    /// With a tool that gives a reading, or in a dish.
    Measure,
}

/// A value taken when the record is silent.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Silent {
    /// The value.
    pub value: Value,
    /// Why it may be taken so.
    pub because: String,
    /// Defect kinds it is taken for; empty means all the fact is asked for.
    pub kinds: Vec<String>,
}

/// How a fact is read from the name of a product that the record lists.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Product {
    /// Kind of product, as the record words it.
    pub kind: String,
    /// Values of the fact, by index, each with words of which one stands in the name, in small
    /// letters. The first that fits counts.
    pub words: Vec<(usize, Vec<String>)>,
    /// Value of a product whose name has none of the words.
    pub otherwise: usize,
    /// Where the words come from.
    pub source: SourceNote,
}

impl Product {
    /// The value that the name of such a product tells.
    pub fn told_by(&self, name: &str) -> usize {
        let name = name.to_lowercase();
        let has = |words: &[String]| words.iter().any(|w| name.contains(w.as_str()));
        let found = self.words.iter().find(|(_, words)| has(words));
        found.map_or(self.otherwise, |(value, _)| *value)
    }
}

/// Who may read a fact by its name outside the tables: the stages, and `house` for facts the record
/// holds and the built-in tables leave to house rules.
pub const READERS: [&str; 7] = [
    "record",
    "survey",
    "assessment",
    "method",
    "plan",
    "report",
    "house",
];

/// One fact that can be known about a slab.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Fact {
    /// Word used in records and tables.
    pub id: String,
    /// What it is about.
    pub scope: Scope,
    /// Name for pages.
    pub name: String,
    /// What values it takes.
    pub kind: FactKind,
    /// Plausible range in the kind's canonical unit; a value outside is questioned.
    pub range: Option<Interval>,
    /// Question to ask a person.
    pub ask: Option<String>,
    /// How to measure it.
    pub measure: Option<String>,
    /// Minutes of work to measure it once.
    pub minutes: f64,
    /// Days to wait before the answer is in (laboratory, a season).
    pub wait_days: f64,
    /// Who may do it: `anyone`, `contractor`, `laboratory`, `engineer`.
    pub who: String,
    /// At which pass over the slab it is found out.
    pub pass: Pass,
    /// What may hurt whoever finds it out, in its own words.
    pub caution: Option<String>,
    /// Rows of the pack's caution tables that say what may hurt whoever finds it out.
    pub cautions: Vec<String>,
    /// Where it comes from.
    pub comes: Comes,
    /// Defect kinds it is asked for; empty means all.
    pub kinds: Vec<String>,
    /// Value taken when the record is silent, with the reason. Shown wherever it was used.
    pub silent: Option<Silent>,
    /// Value of a gathered fact when there is nothing to gather.
    pub none: Option<Value>,
    /// The kind of product whose name tells it, where one does. It is `none` where no such product
    /// is listed.
    pub product: Option<Product>,
    /// Stages that read it by name, outside the tables: words of [`READERS`].
    pub read_by: Vec<String>,
    /// File of the pack it is declared in, by index.
    pub file: usize,
    /// Where its name stands there.
    pub place: Place,
}

/// A figure of the trade: one number, once, with its source.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Figure {
    /// Word used in code and tables.
    pub id: String,
    /// What it is.
    pub name: String,
    /// Least and greatest, equal for a single number, in the kind's canonical unit.
    pub value: Interval,
    /// Kind of quantity.
    pub kind: Kind,
    /// As written in the pack.
    pub text: String,
    /// Where it comes from.
    pub source: SourceNote,
}

/// Where a piece of knowledge comes from, and how near to it we got.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct SourceNote {
    /// Document, edition, section; or `common practice`.
    pub source: String,
    /// How near we got.
    pub provenance: Provenance,
}

/// How near to a source we got.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Provenance {
    /// Read in the document or an excerpt of it.
    Seen,
    /// Read in a text that restates the document.
    Restated,
    /// Recalled from memory, not read.
    Memory,
    /// Common practice, no published source.
    Practice,
    /// Our own arithmetic or logic from other rows.
    Derived,
    /// Our own judgement.
    Judgement,
}

impl Provenance {
    /// For pages.
    pub fn words(self) -> &'static str {
        match self {
            Provenance::Seen => "read in the source",
            Provenance::Restated => "read in a text that restates the source",
            Provenance::Memory => "from memory, not read",
            Provenance::Practice => "common practice",
            Provenance::Derived => "worked out from other entries",
            Provenance::Judgement => "our judgement",
        }
    }
}

/// A trade word and its plain meaning.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Term {
    /// The word.
    pub term: String,
    /// What it means, in a plain sentence.
    pub means: String,
}

/// All facts, figures and words of a pack.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub struct Vocabulary {
    facts: Vec<Fact>,
    by_id: HashMap<String, FactId>,
    figures: HashMap<String, Figure>,
    /// Figures a later file gave anew: name, file by index, place.
    pub replaced_figures: Vec<(String, usize, Place)>,
    /// Trade words, in file order.
    pub glossary: Vec<Term>,
}

impl Vocabulary {
    /// Number of facts.
    pub fn len(&self) -> usize {
        self.facts.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.facts.is_empty()
    }

    /// The facts with their ids, in file order.
    pub fn facts(&self) -> impl Iterator<Item = (FactId, &Fact)> {
        self.facts
            .iter()
            .enumerate()
            .map(|(i, f)| (FactId(i as u16), f))
    }

    /// The fact of an id.
    pub fn fact(&self, id: FactId) -> &Fact {
        &self.facts[usize::from(id.0)]
    }

    /// Looks a fact up by name.
    pub fn find(&self, id: &str) -> Option<FactId> {
        self.by_id.get(id).copied()
    }

    /// Adds a fact; `None` if the name is taken.
    pub fn add(&mut self, fact: Fact) -> Option<FactId> {
        if self.by_id.contains_key(&fact.id) {
            return None;
        }
        let id = FactId(u16::try_from(self.facts.len()).ok()?);
        self.by_id.insert(fact.id.clone(), id);
        self.facts.push(fact);
        Some(id)
    }

    /// Adds or replaces a figure; whether there was one of this name.
    pub fn add_figure(&mut self, figure: Figure) -> bool {
        self.figures.insert(figure.id.clone(), figure).is_some()
    }

    /// A figure by name.
    pub fn figure(&self, id: &str) -> Option<&Figure> {
        self.figures.get(id)
    }

    /// Every figure, by name.
    pub fn figures(&self) -> Vec<&Figure> {
        let mut all: Vec<_> = self.figures.values().collect();
        all.sort_by(|a, b| a.id.cmp(&b.id));
        all
    }
}

impl Fact {
    /// The values of a choice; empty for a quantity.
    pub fn values(&self) -> &[ChoiceValue] {
        match &self.kind {
            FactKind::Choice { values, .. } => values,
            FactKind::Quantity(_) => &[],
        }
    }

    /// Position of a choice value.
    pub fn value_index(&self, id: &str) -> Option<usize> {
        self.values().iter().position(|v| v.id == id)
    }

    /// Every value, as bits. Zero for a quantity.
    pub fn all_bits(&self) -> Bits {
        Bits::first(self.values().len())
    }
}
