//! What the assessment says: grades, causes, verdicts, each with the rows and facts behind it.

use serde::Serialize;

use crate::facts::{Interval, Provenance, Scope};
use crate::source::Place;

/// The whole assessment of a record.
#[derive(Debug, Clone, Serialize)]
pub struct Assessment {
    /// The slab's one recommendation.
    pub slab: SlabFinding,
    /// Every area, in record order.
    pub areas: Vec<AreaFinding>,
    /// Stairs that start or end on the slab.
    pub stairs: Vec<ThingFinding>,
    /// Doors that open on to the slab.
    pub thresholds: Vec<ThingFinding>,
    /// Work that must not be done, and why.
    pub exclusions: Vec<Reason>,
    /// What must go to an engineer or a laboratory.
    pub referrals: Vec<Reason>,
    /// Cautions for whoever works on the slab.
    pub cautions: Vec<Reason>,
    /// Values taken because the record was silent.
    pub assumed: Vec<Assumed>,
    /// What to measure next, most settled per minute first.
    pub questions: Vec<Question>,
    /// Version of the tool and fingerprint of the rules.
    pub made_with: MadeWith,
}

/// Version of the tool and fingerprint of the rules.
#[derive(Debug, Clone, Serialize)]
pub struct MadeWith {
    /// Version of the tool.
    pub version: String,
    /// Fingerprint of the rule pack, hexadecimal.
    pub rules: String,
    /// House rules added, replaced or switched off, one line each; empty for the built-in pack.
    pub house_rules: Vec<String>,
}

/// The slab as a whole.
#[derive(Debug, Clone, Serialize)]
pub struct SlabFinding {
    /// The one recommendation.
    pub verdict: Verdict,
    /// How the areas add up to it, in plain sentences.
    pub adds_up: Vec<String>,
    /// Grades made for the slab.
    pub grades: Vec<Grade>,
}

/// One area.
#[derive(Debug, Clone, Serialize)]
pub struct AreaFinding {
    /// Short name in the record.
    pub id: String,
    /// What people call it.
    pub name: String,
    /// Its verdict.
    pub verdict: Verdict,
    /// Grades made for the area.
    pub grades: Vec<Grade>,
    /// Its defects, in record order.
    pub defects: Vec<DefectFinding>,
    /// Its panels, in map order; empty where no panels were recorded.
    pub panels: Vec<PanelFinding>,
}

/// One panel.
#[derive(Debug, Clone, Serialize)]
pub struct PanelFinding {
    /// Name on the map, such as `B2`.
    pub id: String,
    /// Its verdict.
    pub verdict: Verdict,
}

/// One numbered defect.
#[derive(Debug, Clone, Serialize)]
pub struct DefectFinding {
    /// Number on the map, the photo and the table.
    pub number: u32,
    /// Kind as recorded.
    pub kind: String,
    /// Kind in plain words.
    pub kind_name: String,
    /// Severity on each named scale.
    pub grades: Vec<Grade>,
    /// Causes, likeliest first.
    pub causes: Vec<RankedCause>,
    /// Remark on ties and thin evidence, in a plain sentence.
    pub cause_note: Option<String>,
    /// Whether the leading cause is still at work: `yes`, `no`, or `unknown`, with the reason.
    pub at_work: Option<Grade>,
    /// Verdict hints made for the defect alone.
    pub reasons: Vec<Reason>,
}

/// A stair or a door.
#[derive(Debug, Clone, Serialize)]
pub struct ThingFinding {
    /// Short name in the record.
    pub id: String,
    /// Grades made for it.
    pub grades: Vec<Grade>,
}

/// One of the ten verdicts, firm or open.
#[derive(Debug, Clone, Serialize)]
pub struct Verdict {
    /// Word of the verdict: `leave_alone`, `clean_and_seal`, `patch`, `thin_resurfacing`,
    /// `thick_overlay`, `bonded_topping`, `replace_panels`, `replace_all`, `refer_engineer`,
    /// `measure_first`.
    pub word: String,
    /// In plain words.
    pub name: String,
    /// Whether it stays the same whatever the unknowns turn out to be.
    pub firm: bool,
    /// Verdicts still possible, mildest first. One when firm.
    pub possible: Vec<Choice>,
    /// The rows behind it: the one that fired when firm, all that may fire when open.
    pub reasons: Vec<Reason>,
}

/// A value of a choice, as a word and in plain words.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Choice {
    /// Word in the rule pack.
    pub word: String,
    /// In plain words.
    pub name: String,
}

/// A class on a named scale.
#[derive(Debug, Clone, Serialize)]
pub struct Grade {
    /// Table that made it.
    pub table: String,
    /// Title of the table.
    pub title: String,
    /// Name and edition of the scale; a grade without it means nothing.
    pub scale: String,
    /// Fact that it sets.
    pub fact: String,
    /// Whether only one class is possible.
    pub firm: bool,
    /// The class, or every class still possible, in the scale's order.
    pub classes: Vec<Choice>,
    /// The rows behind it.
    pub reasons: Vec<Reason>,
}

/// A row that fired or may fire, with the facts it read.
#[derive(Debug, Clone, Serialize)]
pub struct Reason {
    /// Table.
    pub table: String,
    /// Row.
    pub row: String,
    /// What it is about, in plain words: `area A`, `defect 3`, `the slab`.
    pub about: String,
    /// Whether it fired for certain; otherwise it may, depending on what is not known.
    pub certain: bool,
    /// For the crew.
    pub because: String,
    /// For the owner, where there is something to tell him.
    pub plain: Option<String>,
    /// The same for the crew in a line, where the row has one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub crew: Option<String>,
    /// Whether it is a safety row.
    pub safety: bool,
    /// Document, edition, section; or `common practice`.
    pub source: String,
    /// How near to the source we got.
    pub provenance: Provenance,
    /// The facts it read.
    pub read: Vec<FactRead>,
}

/// A fact as read by a row.
#[derive(Debug, Clone, Serialize)]
pub struct FactRead {
    /// Fact.
    pub fact: String,
    /// Name for pages.
    pub name: String,
    /// Scope it belongs to.
    pub scope: Scope,
    /// Value in plain words, with its unit.
    pub value: String,
    /// Where the value comes from, in words: `measured`, `worked out from …`, `taken as … because
    /// the record is silent`, `made by table …`, `not known`.
    pub how: String,
    /// Path in the record, such as `areas.0.defects.2.depth`.
    pub path: Option<String>,
    /// Place in the record's file.
    #[serde(skip)]
    pub place: Option<Place>,
    /// Line in the record's file.
    pub line: Option<usize>,
}

/// A cause and what speaks for and against it.
#[derive(Debug, Clone, Serialize)]
pub struct RankedCause {
    /// Word in the rule pack.
    pub cause: String,
    /// In plain words.
    pub name: String,
    /// One or two plain sentences for the owner.
    pub plain: String,
    /// When it goes on working.
    pub at_work: String,
    /// What stops it.
    pub stops_by: String,
    /// Log-odds, natural logarithm; a range where signs are not known.
    pub log_odds: Interval,
    /// The same as a share between 0 and 1. A judgement, not a measured frequency.
    pub share: Interval,
    /// `likely`, `possible` or `unlikely`; several when open.
    pub standing: Vec<Choice>,
    /// Whether it can still come first when the unknowns are known.
    pub may_lead: bool,
    /// Log-odds before any sign, with the row that says so.
    pub prior: f64,
    /// The signs that were looked for.
    pub signs: Vec<Sign>,
}

/// A sign and its push.
#[derive(Debug, Clone, Serialize)]
pub struct Sign {
    /// Push in log-odds: positive speaks for, negative against.
    pub push: f64,
    /// Whether the cause is ruled out by it.
    pub rules_out: bool,
    /// The row and the facts it read. `certain` is false where the sign is not known.
    pub reason: Reason,
}

/// A value taken because the record was silent.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Assumed {
    /// What it is about.
    pub about: String,
    /// Fact.
    pub fact: String,
    /// Name for pages.
    pub name: String,
    /// Value in plain words.
    pub value: String,
    /// Why it may be taken so.
    pub because: String,
}

/// A fact worth measuring next.
#[derive(Debug, Clone, Serialize)]
pub struct Question {
    /// What it is about: `area A`, `defect 3`, `the slab`.
    pub about: String,
    /// Fact.
    pub fact: String,
    /// Name for pages.
    pub name: String,
    /// Question to ask.
    pub ask: String,
    /// How to measure it.
    pub measure: String,
    /// Minutes of work.
    pub minutes: f64,
    /// Days to wait for the answer.
    pub wait_days: f64,
    /// Who may do it.
    pub who: String,
    /// Verdicts (of areas and of the slab) it could settle, from 0 to 1 of what is open.
    pub settles: f64,
    /// What each answer would lead to.
    pub outcomes: Vec<Outcome>,
}

/// What an answer would lead to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Outcome {
    /// The answer in plain words.
    pub answer: String,
    /// Verdicts possible then.
    pub verdicts: Vec<Choice>,
}
