//! The one view model behind every paper: strings and numbers ready to print, in the order of the
//! pages, so that a template has nothing left to decide.

mod advice;
mod build;
mod causes;
mod means;
mod phrases;
mod saw;
mod trail;
mod work;

use serde::Serialize;

use super::language::Sentences;
use super::owner_plan::{MeasuredRow, PlanPart};
use super::photos::Photo;
use super::words::{Meaning, Rich, Words};
use crate::assessment::Assessment;
use crate::facts::Vocabulary;
use crate::method::Method;
use crate::record::model::Record;
pub(super) use phrases::{about_defect, capital, join, sentence, stage_name};

use build::Builder;

/// Everything a report is made from.
#[derive(Debug, Clone, Copy)]
pub struct Sources<'a> {
    /// The record as read.
    pub record: &'a Record,
    /// What is wrong and why.
    pub assessment: &'a Assessment,
    /// The specified work.
    pub method: &'a Method,
    /// Photos, cleaned.
    pub photos: &'a [Photo],
    /// Names of facts and values, and the glossary.
    pub vocabulary: &'a Vocabulary,
    /// The paper's language, for what is broken into lines before the page turns its text.
    pub sentences: &'a Sentences,
}

/// A report ready to print.
#[derive(Debug, Clone, Serialize)]
pub struct View {
    /// Title of the paper.
    pub title: String,
    /// Who, where, when.
    pub job: JobView,
    /// The answer in one paragraph.
    pub verdict: VerdictView,
    /// What we saw.
    pub saw: SawView,
    /// What it means.
    pub means: MeansView,
    /// What caused it.
    pub causes: CausesView,
    /// What we recommend and why.
    pub work: WorkView,
    /// The plan of that work, where there is one: added by [`View::add_plan`].
    pub plan: Option<PlanPart>,
    /// What was measured while working, judged: added by [`View::add_plan`].
    pub worked: Vec<MeasuredRow>,
    /// What we advise against and why.
    pub against: AgainstView,
    /// What stays uncertain and what to measure next.
    pub uncertain: UncertainView,
    /// What was not inspected.
    pub not_inspected: Vec<Rich>,
    /// What was taken for granted because the record was silent.
    pub assumed: Vec<AssumedView>,
    /// Cautions for whoever works on the slab.
    pub cautions: Vec<Advice>,
    /// Care for the owner.
    pub care: Vec<Advice>,
    /// How the areas add up.
    pub adds_up: Vec<Rich>,
    /// Words explained in the last sections.
    pub last_words: Vec<Meaning>,
    /// Every trade word used, with its meaning.
    pub glossary: Vec<Meaning>,
    /// The trail of every finding, for the tradesman.
    pub trail: TrailView,
    /// Version of the tool.
    pub version: String,
    /// Fingerprint of the rules.
    pub rules: String,
    /// House rules added or changed.
    pub house_rules: Vec<String>,
    /// Everything said to the owner in our words, for the reading level.
    #[serde(skip)]
    pub said: Vec<String>,
}

/// Who, where, when.
#[derive(Debug, Clone, Serialize)]
pub struct JobView {
    /// The owner.
    pub client: String,
    /// Where.
    pub address: String,
    /// Day, written out.
    pub date: String,
    /// Day, `YYYY-MM-DD`, where it is one.
    pub iso_date: Option<String>,
    /// Who looked.
    pub inspector: String,
    /// Job number.
    pub reference: Option<String>,
}

/// The answer in one paragraph.
#[derive(Debug, Clone, Serialize)]
pub struct VerdictView {
    /// The verdict as a headline.
    pub headline: String,
    /// Whether it is firm.
    pub firm: bool,
    /// `Firm` or `Open`, with what that means.
    pub mark: String,
    /// The same in a sentence.
    pub mark_means: String,
    /// The mark as a drawing.
    pub ring: String,
    /// The paragraph, a sentence each.
    pub paragraph: Vec<Rich>,
    /// Every area in a line.
    pub areas: Vec<AreaLine>,
    /// Trade words explained here.
    pub words: Vec<Meaning>,
}

/// An area in a line.
#[derive(Debug, Clone, Serialize)]
pub struct AreaLine {
    /// Short name.
    pub id: String,
    /// What people call it.
    pub name: String,
    /// Its verdict, or the verdicts still possible.
    pub verdict: String,
    /// Whether it is firm.
    pub firm: bool,
    /// Surface, as printed.
    pub surface: Option<String>,
    /// Numbers of its defects; empty where it has none.
    pub numbers: String,
    /// The mark as a drawing.
    pub ring: String,
}

/// What we saw.
#[derive(Debug, Clone, Serialize)]
pub struct SawView {
    /// Facts of site and slab.
    pub facts: Vec<Fact>,
    /// The slab map.
    pub map: String,
    /// What could not be placed on it.
    pub map_notes: Vec<String>,
    /// Photos.
    pub photos: Vec<PhotoView>,
    /// Defects.
    pub defects: Vec<DefectRow>,
    /// Tests and readings.
    pub tests: Vec<Fact>,
    /// Remarks of the inspector.
    pub remarks: Vec<Remark>,
    /// Trade words explained here.
    pub words: Vec<Meaning>,
}

/// A name and its value.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Fact {
    /// Name.
    pub name: String,
    /// Value.
    pub value: String,
}

/// A photo, or the note that it is missing.
#[derive(Debug, Clone, Serialize)]
pub struct PhotoView {
    /// Number.
    pub number: usize,
    /// Defect it shows.
    pub defect: u32,
    /// What it shows.
    pub caption: String,
    /// Its `data:` address.
    pub uri: Option<String>,
    /// Why it can't be shown.
    pub trouble: Option<String>,
    /// Width, pixels.
    pub width: u32,
    /// Height, pixels.
    pub height: u32,
}

/// A line of the defect table.
#[derive(Debug, Clone, Serialize)]
pub struct DefectRow {
    /// Number.
    pub number: u32,
    /// Area.
    pub area: String,
    /// Panels.
    pub panels: String,
    /// What is seen.
    pub what: Rich,
    /// Sizes and readings.
    pub measured: Vec<Fact>,
    /// How bad it is in plain words.
    pub severity: Option<String>,
    /// Photos of it.
    pub photos: Vec<usize>,
}

/// A remark as written.
#[derive(Debug, Clone, Serialize)]
pub struct Remark {
    /// What it is about.
    pub about: String,
    /// Paragraphs.
    pub text: Vec<String>,
}

/// What it means.
#[derive(Debug, Clone, Serialize)]
pub struct MeansView {
    /// Every graded defect on the plain scale, as a drawing, where there are several.
    pub profile: Option<String>,
    /// One for each area.
    pub areas: Vec<AreaMeans>,
    /// Steps and doors.
    pub things: Vec<ThingMeans>,
    /// Grades of the slab as a whole.
    pub slab: Vec<GradeView>,
    /// The scales, with all their steps.
    pub scales: Vec<Scale>,
    /// Trade words explained here.
    pub words: Vec<Meaning>,
}

/// What an area's state means.
#[derive(Debug, Clone, Serialize)]
pub struct AreaMeans {
    /// Short name.
    pub id: String,
    /// What people call it.
    pub name: String,
    /// Verdict.
    pub verdict: String,
    /// Whether it is firm.
    pub firm: bool,
    /// Why, in plain sentences.
    pub why: Vec<Rich>,
    /// What would speak, depending on what is not known.
    pub maybe: Vec<Maybe>,
    /// Grades of the area that are settled and meant for the owner.
    pub grades: Vec<GradeView>,
    /// How bad each defect is.
    pub defects: Vec<DefectMeans>,
    /// Panels whose verdict is not that of the area.
    pub panels: Vec<Fact>,
}

/// Something that holds only if a fact not known yet turns out so.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Maybe {
    /// What would hold.
    pub text: Rich,
    /// The facts it hangs on.
    pub hangs_on: String,
}

/// How bad a defect is.
#[derive(Debug, Clone, Serialize)]
pub struct DefectMeans {
    /// `Defect 3` or `Defects 1 and 4`.
    pub about: String,
    /// What is seen.
    pub kind: String,
    /// How bad in plain words, if the rules say so.
    pub severity: Option<GradeView>,
    /// Settled grades on the trade's scales that have a sentence for the owner.
    pub scales: Vec<GradeView>,
}

/// A stair or door with its grades.
#[derive(Debug, Clone, Serialize)]
pub struct ThingMeans {
    /// `Steps S1`.
    pub name: String,
    /// Grades.
    pub grades: Vec<GradeView>,
}

/// A grade ready to print.
#[derive(Debug, Clone, Serialize)]
pub struct GradeView {
    /// What is graded.
    pub title: String,
    /// The class, or the classes still possible; empty where the answer is a plain yes.
    pub class: String,
    /// Whether it is settled.
    pub firm: bool,
    /// Scale and edition.
    pub scale: String,
    /// Why.
    pub why: Vec<Rich>,
}

/// A scale with its steps.
#[derive(Debug, Clone, Serialize)]
pub struct Scale {
    /// What is graded.
    pub title: String,
    /// Name and edition.
    pub name: String,
    /// Its steps, mildest first, and whether each is met on this slab.
    pub steps: Vec<ScaleStep>,
}

/// A step of a scale.
#[derive(Debug, Clone, Serialize)]
pub struct ScaleStep {
    /// Class.
    pub name: String,
    /// What on this slab has it; empty where nothing has.
    pub here: String,
}

/// What caused it.
#[derive(Debug, Clone, Serialize)]
pub struct CausesView {
    /// Defects with the same ranking, together.
    pub groups: Vec<CauseGroup>,
    /// Trade words explained here.
    pub words: Vec<Meaning>,
}

/// Defects with the same ranking.
#[derive(Debug, Clone, Serialize)]
pub struct CauseGroup {
    /// `Scaling: defects 1 and 4`.
    pub heading: String,
    /// The leading cause in a sentence.
    pub lead: Vec<Rich>,
    /// Whether it is still at work.
    pub at_work: Vec<Rich>,
    /// The bars.
    pub bars: String,
    /// Causes worth a paragraph.
    pub causes: Vec<CauseView>,
    /// The rest, in a sentence each.
    pub others: Vec<Rich>,
    /// Signs nobody looked for yet.
    pub missing: Option<Rich>,
    /// Remark on ties and thin evidence.
    pub note: Option<Rich>,
}

/// A cause worth a paragraph.
#[derive(Debug, Clone, Serialize)]
pub struct CauseView {
    /// Name.
    pub name: String,
    /// `likely`, with the share by our judgement.
    pub standing: String,
    /// In plain words.
    pub plain: Rich,
    /// Signs for.
    pub signs_for: Vec<Rich>,
    /// Signs against.
    pub signs_against: Vec<Rich>,
    /// What stops it.
    pub stops_by: Rich,
}

/// What we recommend.
#[derive(Debug, Clone, Serialize)]
pub struct WorkView {
    /// One for each area.
    pub areas: Vec<AreaWork>,
    /// Stairs before and after.
    pub stairs: Vec<StairView>,
    /// Trade words explained here.
    pub words: Vec<Meaning>,
}

/// The work on an area.
#[derive(Debug, Clone, Serialize)]
pub struct AreaWork {
    /// Short name.
    pub id: String,
    /// What people call it.
    pub name: String,
    /// Verdict.
    pub verdict: String,
    /// Whether it is firm.
    pub firm: bool,
    /// Why no work is specified.
    pub why_not: Option<Rich>,
    /// Parts of the work in order.
    pub stages: Vec<StageView>,
    /// The new layer.
    pub overlay: Option<OverlayView>,
    /// The surface it needs.
    pub profile: Option<ProfileView>,
    /// Waits.
    pub waits: Vec<Fact>,
}

/// A part of the work.
#[derive(Debug, Clone, Serialize)]
pub struct StageView {
    /// What it is.
    pub name: String,
    /// Steps in order.
    pub steps: Vec<StepView>,
}

/// A step of the work.
#[derive(Debug, Clone, Serialize)]
pub struct StepView {
    /// What is done.
    pub text: Rich,
    /// Why.
    pub why: Option<Rich>,
    /// Whether it is there for safety.
    pub safety: bool,
}

/// A layer between floor and ceiling.
#[derive(Debug, Clone, Serialize)]
pub struct OverlayView {
    /// Which layer.
    pub name: String,
    /// Why this one.
    pub why: Vec<Rich>,
    /// Floor, ceiling and choice in a sentence.
    pub sentence: Rich,
    /// The least.
    pub floor: String,
    /// The most.
    pub ceiling: String,
    /// To place.
    pub chosen: String,
    /// What asks for thickness.
    pub asks: Vec<Fact>,
    /// What forbids it.
    pub forbids: Vec<Fact>,
    /// Floor and ceiling drawn.
    pub room: String,
    /// The layers drawn.
    pub section: String,
}

/// A surface profile.
#[derive(Debug, Clone, Serialize)]
pub struct ProfileView {
    /// Range of numbers.
    pub range: String,
    /// Guide and edition.
    pub scale: String,
    /// Ways to get there, best first.
    pub ways: Vec<Rich>,
    /// Why.
    pub why: Vec<Rich>,
}

/// A stair before and after.
#[derive(Debug, Clone, Serialize)]
pub struct StairView {
    /// `Steps S1`.
    pub name: String,
    /// Drawn.
    pub drawing: String,
    /// Limits.
    pub checks: Vec<StairCheckView>,
    /// Whether every limit is kept after the work.
    pub kept: bool,
}

/// A limit on a stair.
#[derive(Debug, Clone, Serialize)]
pub struct StairCheckView {
    /// The limit.
    pub limit: String,
    /// Its value.
    pub value: String,
    /// Before.
    pub before: String,
    /// After.
    pub after: String,
    /// Kept before.
    pub kept_before: bool,
    /// Kept after.
    pub kept_after: bool,
    /// Source.
    pub source: String,
}

/// What we advise against.
#[derive(Debug, Clone, Serialize)]
pub struct AgainstView {
    /// Work that must not be done.
    pub exclusions: Vec<Advice>,
    /// What must go to an engineer or laboratory.
    pub referrals: Vec<Advice>,
    /// Candidates turned down.
    pub turned_down: Vec<TurnedDownView>,
    /// Trade words explained here.
    pub words: Vec<Meaning>,
}

/// Advice with what it is about.
#[derive(Debug, Clone, Serialize)]
pub struct Advice {
    /// What it is about.
    pub about: String,
    /// The advice.
    pub text: Rich,
    /// Whether it is for safety.
    pub safety: bool,
    /// Whether it may only hold, depending on what is not known.
    pub depends: bool,
}

/// Candidates turned down for one choice.
#[derive(Debug, Clone, Serialize)]
pub struct TurnedDownView {
    /// The choice.
    pub choice: String,
    /// Candidates with the reason.
    pub candidates: Vec<TurnedDownItem>,
}

/// A candidate turned down.
#[derive(Debug, Clone, Serialize)]
pub struct TurnedDownItem {
    /// Areas.
    pub about: String,
    /// Candidate.
    pub name: String,
    /// Reason.
    pub why: Rich,
}

/// What stays uncertain.
#[derive(Debug, Clone, Serialize)]
pub struct UncertainView {
    /// What is open, in sentences.
    pub open: Vec<Rich>,
    /// What to measure next.
    pub questions: Vec<QuestionView>,
    /// What is worth knowing too, in one sentence.
    pub also: Option<Rich>,
    /// How many things that sentence names.
    pub more: usize,
    /// Trade words explained here.
    pub words: Vec<Meaning>,
}

/// A fact worth measuring.
#[derive(Debug, Clone, Serialize)]
pub struct QuestionView {
    /// Order.
    pub number: usize,
    /// What it is about.
    pub about: String,
    /// Name.
    pub name: String,
    /// Question.
    pub ask: Rich,
    /// How to measure it.
    pub measure: Rich,
    /// Time it takes, and by whom.
    pub effort: String,
    /// What each answer leads to.
    pub outcomes: Vec<Fact>,
}

/// A value taken because the record was silent.
#[derive(Debug, Clone, Serialize)]
pub struct AssumedView {
    /// What it is about.
    pub about: String,
    /// Name.
    pub name: String,
    /// Value.
    pub value: String,
    /// Why it may be taken so.
    pub because: Rich,
}

/// The trail of every finding: facts and sources once each, rows by what they are about.
#[derive(Debug, Clone, Default, Serialize)]
pub struct TrailView {
    /// Facts that a row read, numbered from 1 in this order.
    pub facts: Vec<TrailFact>,
    /// Sources of the rows, numbered from 1 in this order.
    pub sources: Vec<TrailSource>,
    /// Rows by what they are about.
    pub groups: Vec<TrailGroup>,
}

/// The trail of the findings about one thing.
#[derive(Debug, Clone, Serialize)]
pub struct TrailGroup {
    /// What they are about.
    pub about: String,
    /// Findings.
    pub entries: Vec<TrailEntry>,
}

/// A row that fired or may fire.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct TrailEntry {
    /// What it led to.
    pub result: String,
    /// Table.
    pub table: String,
    /// Row, or rows told of together.
    pub row: String,
    /// For the crew; empty where the same row gave it before.
    pub because: String,
    /// Whether it is certain.
    pub certain: bool,
    /// Whether it is a safety row.
    pub safety: bool,
    /// Numbers of its sources.
    pub sources: String,
    /// Numbers of the facts it read, as printed.
    pub reads: String,
    /// The same as numbers.
    #[serde(skip)]
    pub read: Vec<usize>,
    /// Panels it spoke for, where it spoke for panels.
    pub with: Vec<String>,
}

/// A fact read by a row.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize)]
pub struct TrailFact {
    /// Name.
    pub name: String,
    /// Value.
    pub value: String,
    /// Where it comes from.
    pub how: String,
    /// Line or path in the record.
    pub place: String,
}

/// A source of rows.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize)]
pub struct TrailSource {
    /// Document, edition, section; or `common practice`.
    pub text: String,
    /// How near we got to it.
    pub provenance: String,
}

impl View {
    /// Puts a report together.
    pub fn build(sources: Sources<'_>) -> View {
        Builder {
            s: sources,
            system: sources.record.job.units,
            words: Words::new(&sources.vocabulary.glossary),
        }
        .build()
    }

    /// Only what the terminal shows: no drawing, no trail.
    pub fn brief(sources: Sources<'_>) -> Brief {
        Builder {
            s: sources,
            system: sources.record.job.units,
            words: Words::new(&[]),
        }
        .brief()
    }

    /// What the terminal shows of a report that is put together already.
    pub fn into_brief(self) -> Brief {
        let photos = &self.saw.photos;
        Brief {
            photos: photos.len(),
            broken_photos: photos.iter().filter(|p| p.trouble.is_some()).count(),
            job: self.job,
            verdict: self.verdict,
            uncertain: self.uncertain,
        }
    }
}

/// What the terminal shows of a report.
#[derive(Debug, Clone)]
pub struct Brief {
    /// Who, where, when.
    pub job: JobView,
    /// The answer in one paragraph.
    pub verdict: VerdictView,
    /// What stays uncertain and what to measure next.
    pub uncertain: UncertainView,
    /// Photos of the report.
    pub photos: usize,
    /// Those of them that can't be shown.
    pub broken_photos: usize,
}
