//! The state of a walk: the record's text after every answer, and how its verdicts stand.

use std::collections::{BTreeSet, HashSet};
use std::path::PathBuf;

use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::assessment::{board, run_rules};
use crate::facts::{FactId, Scope};
use crate::record::{self, Loaded};
use crate::rules::{Asking, Board, Body, Memo, Pack, Spot, open_facts};
use crate::source::{Problems, SourceFile};
use crate::survey::{Survey, survey};

use super::answer::Complaint;
use super::plan::{self, Question};
use super::sheet::{CantPut, Put, put};

/// What an answer did.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Entry {
    /// The question it answers.
    pub key: String,
    /// The answer as typed.
    pub answer: String,
    /// Values put into the record: path, value, remark.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub puts: Vec<(String, Value, String)>,
    /// Questions not to be asked again.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub closes: Vec<String>,
    /// Questions to be asked though they need not be.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub wants: Vec<String>,
}

/// How the verdicts stand.
#[derive(Debug, Clone, PartialEq)]
pub struct Standing {
    /// Whether there is anything to judge yet.
    pub found: bool,
    /// Every area: its name, and the verdicts still possible in plain words, mildest first.
    pub areas: Vec<(String, Vec<String>)>,
    /// How many verdicts there are at all.
    pub of: usize,
}

impl Standing {
    /// Whether every area's verdict is firm.
    pub fn firm(&self) -> bool {
        self.areas.iter().all(|(_, v)| v.len() == 1)
    }

    /// How firm the verdicts are, from 0 to 1: one less the share of the verdicts' logarithm that
    /// is still open.
    pub fn firmness(&self) -> f64 {
        let whole = (self.of.max(2) as f64).ln() * self.areas.len().max(1) as f64;
        let open: f64 = self
            .areas
            .iter()
            .map(|(_, v)| (v.len().max(1) as f64).ln())
            .sum();
        (1.0 - open / whole).clamp(0.0, 1.0)
    }

    /// The standing in one line.
    pub fn line(&self) -> String {
        if !self.found {
            return "nothing wrong recorded yet".to_owned();
        }
        let one = |values: &[String]| match values {
            [only] => format!("{only} (firm)"),
            values if values.len() > 4 => format!("open, {} verdicts possible", values.len()),
            values => format!("{} (open)", or(values)),
        };
        match self.areas.as_slice() {
            [(_, values)] => one(values),
            areas => areas
                .iter()
                .map(|(name, values)| format!("{name}: {}", one(values)))
                .collect::<Vec<_>>()
                .join("; "),
        }
    }
}

fn or(values: &[String]) -> String {
    match values.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} or {last}", rest.join(", ")),
        Some((last, _)) => last.clone(),
        None => String::new(),
    }
}

/// A walk over a slab.
#[derive(Debug)]
pub struct Walk<'p> {
    /// The rules.
    pub pack: &'p Pack,
    folder: Option<PathBuf>,
    today: Option<Date>,
    name: String,
    base: String,
    fresh: bool,
    entries: Vec<Entry>,
    text: String,
    pub(super) base_json: Value,
    pub(super) json: Value,
    pub(super) closed: BTreeSet<String>,
    pub(super) wanted: BTreeSet<String>,
    pub(super) required: BTreeSet<String>,
    pub(super) loaded: Loaded,
    warnings: Problems,
    pub(super) survey: Survey,
    pub(super) open: HashSet<(FactId, usize)>,
    /// The same, and the outer things of those.
    pub(super) open_within: HashSet<(FactId, usize)>,
    /// What the rules were told when the walk was judged last.
    given: Option<Board>,
    /// Rankings of earlier searches: most are the same after the next answer.
    memo: Memo,
    standing: Standing,
}

/// What a new record begins with: what is written over first, and a place for every part.
const SKELETON: &str = include_str!("../../templates/walk.yaml");

/// What must be answered before a new record can stand.
const REQUIRED: [&str; 8] = [
    "job.client",
    "job.address",
    "job.date",
    "job.inspector",
    "job.units",
    "slab.use",
    "areas.0.name",
    "areas.0.size",
];

impl<'p> Walk<'p> {
    /// A walk that begins a new record. `today` is offered as its date.
    ///
    /// # Errors
    /// Only when the pack has no word the skeleton of a record uses.
    pub fn begin(pack: &'p Pack, name: &str, today: Date) -> Result<Walk<'p>, Problems> {
        let base = SKELETON.replace("@DATE@", &today.to_string());
        Walk::from(pack, name, None, today.tomorrow().ok(), base, true)
    }

    /// A walk that goes on with a record. `folder` is where its photos lie, `today` the last day
    /// an inspection can be dated.
    ///
    /// # Errors
    /// The problems of the record.
    pub fn go_on(
        pack: &'p Pack,
        name: &str,
        folder: Option<PathBuf>,
        today: Option<Date>,
        text: &str,
    ) -> Result<Walk<'p>, Problems> {
        Walk::from(pack, name, folder, today, text.to_owned(), false)
    }

    /// A walk from what its journal says it began with.
    ///
    /// # Errors
    /// The problems of the text.
    pub fn from(
        pack: &'p Pack,
        name: &str,
        folder: Option<PathBuf>,
        today: Option<Date>,
        base: String,
        fresh: bool,
    ) -> Result<Walk<'p>, Problems> {
        let (loaded, warnings) = read(pack, name, folder.as_deref(), today, &base);
        let Some(loaded) = loaded else {
            return Err(warnings);
        };
        let json = loaded.node.to_json();
        let survey = survey(&loaded.record, &pack.vocabulary);
        let mut walk = Walk {
            pack,
            folder,
            today,
            name: name.to_owned(),
            text: base.clone(),
            base,
            fresh,
            entries: Vec::new(),
            base_json: json.clone(),
            json,
            closed: BTreeSet::new(),
            wanted: BTreeSet::new(),
            required: if fresh {
                REQUIRED.map(str::to_owned).into()
            } else {
                BTreeSet::new()
            },
            loaded,
            warnings,
            survey,
            open: HashSet::new(),
            open_within: HashSet::new(),
            given: None,
            memo: Memo::default(),
            standing: Standing {
                found: false,
                areas: Vec::new(),
                of: 1,
            },
        };
        walk.judge();
        Ok(walk)
    }

    /// Gives the answers of a journal again. Those that no longer fit, since the rules have
    /// changed, are left out; their number is given.
    pub fn replay(&mut self, entries: &[Entry]) -> usize {
        let mut lost = 0;
        for entry in entries {
            if self.apply(entry.clone(), false).is_err() {
                lost += 1;
            }
        }
        self.judge();
        lost
    }

    /// The record's text as it stands.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// The record as it stands.
    pub fn loaded(&self) -> &Loaded {
        &self.loaded
    }

    /// Text of the record the walk began with.
    pub fn base(&self) -> &str {
        &self.base
    }

    /// Whether the record was begun by this walk.
    pub fn fresh(&self) -> bool {
        self.fresh
    }

    /// The answers so far.
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// Whether enough is answered for the record to stand as a file.
    pub fn can_stand(&self) -> bool {
        self.required.is_empty()
    }

    /// How the verdicts stand.
    pub fn standing(&self) -> &Standing {
        &self.standing
    }

    /// Warnings on the record as it stands, one line each.
    pub fn warnings(&self) -> Vec<String> {
        self.warnings
            .iter()
            .map(|p| match &p.hint {
                Some(hint) => format!("{} ({hint})", p.message),
                None => p.message.clone(),
            })
            .collect()
    }

    /// The questions still to be asked, in the order a person walks.
    pub fn questions(&self) -> Vec<Question> {
        plan::questions(self)
    }

    /// Takes an answer in. The record's own checks must let it through.
    ///
    /// # Errors
    /// What is wrong with it and how to write it right; nothing has changed then.
    pub fn take(&mut self, entry: Entry) -> Result<(), Complaint> {
        self.apply(entry, true)?;
        self.judge();
        Ok(())
    }

    /// Takes the last answer back. False when there is none.
    pub fn back(&mut self) -> bool {
        let mut entries = self.entries.clone();
        if entries.pop().is_none() {
            return false;
        }
        if let Ok(mut before) = Walk::from(
            self.pack,
            &self.name,
            self.folder.clone(),
            self.today,
            self.base.clone(),
            self.fresh,
        ) {
            before.replay(&entries);
            *self = before;
        }
        true
    }

    fn apply(&mut self, entry: Entry, check: bool) -> Result<(), Complaint> {
        let mut text = self.text.clone();
        for (path, value, remark) in &entry.puts {
            let one = Put {
                path: path.clone(),
                value: value.clone(),
                remark: remark.clone(),
            };
            text = put(&text, &one).map_err(|CantPut { path, line }| {
                Complaint::new(
                    format!(
                        "this record is laid out so that `{path}` can't be added to it from here"
                    ),
                    format!("write it by hand near line {line}, or answer `unknown` and go on"),
                )
            })?;
        }
        if text != self.text {
            let (loaded, warnings) = read(
                self.pack,
                &self.name,
                self.folder.as_deref(),
                self.today,
                &text,
            );
            let Some(loaded) = loaded else {
                let problem = warnings
                    .iter()
                    .find(|p| p.severity == crate::source::Severity::Error);
                return Err(Complaint::new(
                    problem
                        .map_or_else(|| "that can't stand here".to_owned(), |p| p.message.clone()),
                    problem.and_then(|p| p.hint.clone()).unwrap_or_default(),
                ));
            };
            // What the text now means must be what an answer may mean: the same words in another
            // place would be a record nobody meant.
            if check && loaded.record.areas.is_empty() {
                return Err(Complaint::new("a record needs a part to judge", ""));
            }
            self.json = loaded.node.to_json();
            self.loaded = loaded;
            self.warnings = warnings;
            self.text = text;
        }
        for key in &entry.closes {
            self.wanted.remove(key);
            self.closed.insert(key.clone());
        }
        for key in &entry.wants {
            self.closed.remove(key);
            self.wanted.insert(key.clone());
        }
        self.required.remove(&entry.key);
        self.entries.push(entry);
        Ok(())
    }

    /// Surveys and judges the record as it stands.
    fn judge(&mut self) {
        let pack = self.pack;
        self.survey = survey(&self.loaded.record, &pack.vocabulary);
        let given = board(pack, &self.survey);
        // Names, photos and places on the map tell the rules nothing.
        if self.given.as_ref() == Some(&given) {
            self.standing.found = found(&self.loaded.record);
            for (area, said) in self
                .loaded
                .record
                .areas
                .iter()
                .zip(&mut self.standing.areas)
            {
                said.0.clone_from(&area.name);
            }
            return;
        }
        let ran = run_rules(pack, &self.survey);
        let record = &self.loaded.record;
        self.standing = standing(pack, &self.survey, &ran, record);
        let targets = targets(pack, &self.survey, &given);
        self.open = open_facts(pack, &given, &Asking::new(pack, &targets), &mut self.memo)
            .into_iter()
            .map(|spot| (spot.fact, spot.thing))
            .collect();
        // A fact of an outer thing that is open in things inside it is open in the outer one too.
        self.open_within = self.open.clone();
        for &(fact, thing) in &self.open {
            let mut thing = thing;
            while let Some(outer) = self.survey.things.get(thing).and_then(|t| t.outer) {
                self.open_within.insert((fact, outer));
                thing = outer;
            }
        }
        self.given = Some(given);
    }
}

fn read(
    pack: &Pack,
    name: &str,
    folder: Option<&std::path::Path>,
    today: Option<Date>,
    text: &str,
) -> (Option<Loaded>, Problems) {
    let file = SourceFile::new(name, text);
    record::read(&file, folder, today, Some(&pack.vocabulary))
}

/// Facts that hold the leading cause of a defect: those of the tables of causes for its kind.
pub fn cause_facts(pack: &Pack, board: &Board, defect: usize) -> Vec<FactId> {
    let mut out: Vec<FactId> = pack
        .tables
        .iter()
        .filter(|t| t.scope == Scope::Defect)
        .filter(|t| {
            t.applies
                .iter()
                .all(|c| !board.get(pack, defect, c.fact).and(c.mask).is_empty())
        })
        .filter_map(|t| match &t.body {
            Body::Rank(rank) if rank.evidence => rank.gives,
            _ => None,
        })
        .collect();
    out.sort();
    out.dedup();
    out
}

/// What a walk is to settle: the verdicts, and the leading cause of every defect.
fn targets(pack: &Pack, survey: &Survey, board: &Board) -> Vec<Spot> {
    let mut out = Vec::new();
    if let Some(fact) = pack.vocabulary.find("slab_verdict") {
        out.push(Spot {
            thing: survey.slab,
            fact,
        });
    }
    let verdict = pack.vocabulary.find("verdict");
    for area in &survey.areas {
        out.extend(verdict.map(|fact| Spot {
            thing: area.thing,
            fact,
        }));
        for &defect in &area.defects {
            out.extend(
                cause_facts(pack, board, defect)
                    .into_iter()
                    .map(|fact| Spot {
                        thing: defect,
                        fact,
                    }),
            );
        }
    }
    out
}

fn standing(
    pack: &Pack,
    survey: &Survey,
    ran: &crate::assessment::Ran,
    record: &crate::record::model::Record,
) -> Standing {
    let Some(fact) = pack.vocabulary.find("verdict") else {
        return Standing {
            found: false,
            areas: Vec::new(),
            of: 1,
        };
    };
    let words = pack.vocabulary.fact(fact).values();
    let areas = record
        .areas
        .iter()
        .zip(&survey.areas)
        .map(|(area, things)| {
            let bits = ran.possible(
                pack,
                Spot {
                    thing: things.thing,
                    fact,
                },
            );
            let values = bits
                .iter()
                .filter_map(|i| words.get(i))
                .map(|v| v.name.clone())
                .collect();
            (area.name.clone(), values)
        })
        .collect();
    Standing {
        found: found(record),
        areas,
        of: words.len(),
    }
}

/// Whether there is anything to judge.
fn found(record: &crate::record::model::Record) -> bool {
    record.areas.iter().any(|a| !a.defects.is_empty())
        || !record.stairs.is_empty()
        || !record.thresholds.is_empty()
}
