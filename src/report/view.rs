//! The one view model behind every paper: strings and numbers ready to print, in the order of the
//! pages, so that a template has nothing left to decide.

use std::collections::BTreeMap;

use serde::Serialize;

use super::drawings::evidence::{self, Bar};
use super::drawings::layers::{self, Body, Bound, Layer};
use super::drawings::map;
use super::drawings::stair::{self, Flight};
use super::photos::Photo;
use super::words::{Meaning, Rich, Words};
use crate::assessment::{
    AreaFinding, Assessment, Choice, DefectFinding, FactRead, Grade, Question, RankedCause, Reason,
    Sign, Verdict,
};
use crate::facts::{Interval, Vocabulary};
use crate::method::{AreaMethod, Method, Overlay, StairChange};
use crate::record::model::{AreaRecord, Defect, OneOrMore, Record, Signs};
use crate::units::{Kind, Measured, Notation, Size, System};

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
    pub trail: Vec<TrailGroup>,
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
    /// Numbers of its defects.
    pub numbers: Vec<u32>,
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
    /// The crew's instruction.
    pub crew: String,
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
    pub ways: Vec<String>,
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
    /// Table and row.
    pub row: String,
    /// For the crew.
    pub because: String,
    /// Whether it is certain.
    pub certain: bool,
    /// Whether it is a safety row.
    pub safety: bool,
    /// Source.
    pub source: String,
    /// How near we got to it.
    pub provenance: String,
    /// Facts read.
    pub read: Vec<TrailFact>,
}

/// A fact read by a row.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
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
}

struct Builder<'a> {
    s: Sources<'a>,
    system: System,
    words: Words,
}

impl<'a> Builder<'a> {
    fn build(mut self) -> View {
        let s = self.s;
        let job = JobView {
            client: s.record.job.client.clone(),
            address: s.record.job.address.clone(),
            date: long_date(&s.record.job.date, self.system),
            iso_date: iso(&s.record.job.date).map(|d| d.to_string()),
            inspector: s.record.job.inspector.clone(),
            reference: s.record.job.reference.clone(),
        };
        // In the order of the pages, so that first uses of words are found where they are read.
        let verdict = self.verdict();
        let saw = self.saw();
        let means = self.means();
        let causes = self.causes();
        let work = self.work();
        let against = self.against();
        let uncertain = self.uncertain();
        let not_inspected = s
            .record
            .not_inspected
            .iter()
            .map(|t| self.words.mark(t))
            .collect();
        let assumed = s
            .assessment
            .assumed
            .iter()
            .map(|a| AssumedView {
                about: capital(&a.about),
                name: a.name.clone(),
                value: a.value.clone(),
                because: self.words.say(&sentence(&a.because)),
            })
            .collect();
        let cautions = self.advice(&s.assessment.cautions);
        let care = self.advice(&s.method.care);
        let adds_up = s
            .assessment
            .slab
            .adds_up
            .iter()
            .map(|t| self.words.say(&sentence(t)))
            .collect();
        let last_words = self.words.take_fresh();
        let made = &s.assessment.made_with;
        View {
            title: "Slab condition report".to_owned(),
            job,
            verdict,
            saw,
            means,
            causes,
            work,
            against,
            uncertain,
            not_inspected,
            assumed,
            cautions,
            care,
            adds_up,
            last_words,
            glossary: self.words.used(),
            trail: trail(s.assessment, s.method),
            version: made.version.clone(),
            rules: made.rules.clone(),
            house_rules: made.house_rules.clone(),
            said: self.words.said(),
        }
    }

    // ---- verdict ----

    fn verdict(&mut self) -> VerdictView {
        let s = self.s;
        let verdict = &s.assessment.slab.verdict;
        let mut paragraph = Vec::new();
        if verdict.firm {
            for text in plain_texts(&verdict.reasons, 3) {
                paragraph.push(self.words.say(&text));
            }
            if paragraph.is_empty() {
                for text in s.assessment.slab.adds_up.iter().take(2) {
                    paragraph.push(self.words.say(&sentence(text)));
                }
            }
        } else {
            let possible = still_possible(verdict);
            if possible.len() > 1 {
                let text = format!(
                    "From what we know today, it could come to one of {}: {}.",
                    count_word(possible.len()),
                    either(&possible)
                );
                paragraph.push(self.words.say(&text));
            }
            for text in plain_texts(&verdict.reasons, 2) {
                paragraph.push(self.words.say(&text));
            }
            if let Some(q) = s.assessment.questions.first() {
                let text = format!(
                    "The next step is small: {} ({}).",
                    lower_first(&q.name),
                    effort(q)
                );
                paragraph.push(self.words.say(&text));
            }
        }
        let areas = s
            .assessment
            .areas
            .iter()
            .enumerate()
            .map(|(i, area)| AreaLine {
                id: area.id.clone(),
                name: area.name.clone(),
                verdict: verdict_words(&area.verdict),
                firm: area.verdict.firm,
                surface: s.record.areas.get(i).and_then(|a| surface(a, self.system)),
                numbers: area.defects.iter().map(|d| d.number).collect(),
                ring: layers::ring(area.verdict.firm, &format!("ring-{i}")),
            })
            .collect();
        VerdictView {
            headline: capital(&verdict.name),
            firm: verdict.firm,
            mark: if verdict.firm { "Firm" } else { "Open" }.to_owned(),
            mark_means: if verdict.firm {
                "Nothing that is still unknown could change this answer."
            } else {
                "Something we do not know yet could change this answer."
            }
            .to_owned(),
            ring: layers::ring(verdict.firm, "ring"),
            paragraph,
            areas,
            words: self.words.take_fresh(),
        }
    }

    // ---- what we saw ----

    fn saw(&mut self) -> SawView {
        let s = self.s;
        let facts = self.slab_facts();
        let map = map::slab_map(s.record, "map");
        let photos = s
            .photos
            .iter()
            .map(|p| PhotoView {
                number: p.number,
                defect: p.defect,
                caption: p.caption.clone(),
                uri: p.picture.as_ref().ok().map(super::photos::Picture::uri),
                trouble: p.picture.as_ref().err().map(|e| capital(&e.to_string())),
                width: p.picture.as_ref().map_or(0, |i| i.width),
                height: p.picture.as_ref().map_or(0, |i| i.height),
            })
            .collect();
        let mut defects = Vec::new();
        let mut remarks = Vec::new();
        let mut tests = Vec::new();
        for area in &s.record.areas {
            let finding = s.assessment.areas.iter().find(|a| a.id == area.id);
            for defect in &area.defects {
                let found = finding.and_then(|f| f.defects.iter().find(|d| d.number == defect.id));
                defects.push(self.defect_row(area, defect, found));
                if let Some(note) = &defect.note {
                    remarks.push(remark(format!("Defect {}", defect.id), note));
                }
            }
            self.tests(area, &mut tests);
            if let Some(note) = &area.note {
                remarks.push(remark(format!("Area {}, {}", area.id, area.name), note));
            }
        }
        if let Some(notes) = &s.record.notes {
            remarks.push(remark("The whole job".to_owned(), notes));
        }
        SawView {
            facts,
            map: map.svg,
            map_notes: map.notes,
            photos,
            defects,
            tests,
            remarks,
            words: self.words.take_fresh(),
        }
    }

    fn slab_facts(&self) -> Vec<Fact> {
        let record = self.s.record;
        let slab = &record.slab;
        let mut facts = Vec::new();
        let mut add = |name: &str, value: Option<String>| {
            if let Some(value) = value {
                facts.push(Fact {
                    name: name.to_owned(),
                    value,
                });
            }
        };
        add("Use", Some(self.choice("use", &slab.use_)));
        add(
            "Placed",
            slab.placed.as_ref().map(|p| long_date(p, self.system)),
        );
        add("Thickness", self.measure(slab.thickness.as_ref()));
        add("Finish", self.one("finish", slab.finish.as_ref()));
        add("Pattern depth", self.measure(slab.relief.as_ref()));
        add(
            "Steel or fibres",
            self.one("reinforcement", slab.reinforcement.as_ref()),
        );
        add("Carried by", self.one("support", slab.support.as_ref()));
        add("Now on it", self.one("covering", slab.covering.as_ref()));
        add(
            "Thickness of that",
            self.measure(slab.covering_thickness.as_ref()),
        );
        add(
            "Weather",
            self.one("weathering", record.site.weathering.as_ref()),
        );
        add(
            "Freeze-thaw days a year",
            self.measure(record.site.freeze_thaw_days.as_ref()),
        );
        add(
            "Salt and other deicers",
            self.one("deicers", record.site.deicers.as_ref()),
        );
        add("Ground", self.one("soil", record.site.soil.as_ref()));
        add(
            "Drainage",
            self.one("drainage", record.site.drainage.as_ref()),
        );
        add(
            "Nearest tree",
            self.measure(record.site.tree_distance.as_ref()),
        );
        add("Sun", self.one("sun", record.site.sun.as_ref()));
        add("Air in the mix", self.measure(slab.mix.air.as_ref()));
        add(
            "Largest stone",
            self.measure(slab.mix.largest_stone.as_ref()),
        );
        add(
            "Strength of the mix",
            self.measure(slab.mix.strength.as_ref()),
        );
        facts
    }

    fn defect_row(
        &mut self,
        area: &AreaRecord,
        defect: &Defect,
        found: Option<&DefectFinding>,
    ) -> DefectRow {
        let word = kind_word(defect);
        let what = found.map_or_else(|| word.replace('_', " "), |f| f.kind_name.clone());
        let mut measured = Vec::new();
        let mut add = |name: &str, value: Option<String>| {
            if let Some(value) = value {
                measured.push(Fact {
                    name: name.to_owned(),
                    value,
                });
            }
        };
        add(
            "size",
            defect
                .extent
                .as_ref()
                .and_then(|e| size_words(e, self.system)),
        );
        add("surface", self.measure(defect.surface.as_ref()));
        add("share of the area", self.measure(defect.share.as_ref()));
        add("count", self.measure(defect.count.as_ref()));
        if !defect.frame_counts.is_empty() {
            let list: Vec<String> = defect.frame_counts.iter().map(|n| format!("{n}")).collect();
            add("counts by frame", Some(list.join(", ")));
        }
        add("usual depth", self.measure(defect.depth.as_ref()));
        add("deepest", self.measure(defect.greatest_depth.as_ref()));
        add("hole width", self.measure(defect.diameter.as_ref()));
        add("width", self.measure(defect.width.as_ref()));
        add("length", self.measure(defect.length.as_ref()));
        add("height difference", self.measure(defect.offset.as_ref()));
        add("spacing", self.measure(defect.spacing.as_ref()));
        add("water depth", self.measure(defect.water_depth.as_ref()));
        add("stones", self.one("stones", defect.stones.as_ref()));
        for reading in &defect.readings {
            if let Some(value) = self.measure(Some(&reading.value)) {
                add(
                    &format!("width on {}", long_date(&reading.date, self.system)),
                    Some(value),
                );
            }
        }
        self.signs(&defect.signs, &mut measured);
        let severity = found.and_then(|f| f.grades.iter().find(|g| g.fact == SEVERITY));
        DefectRow {
            number: defect.id,
            area: area.id.clone(),
            panels: defect.panels.join(", "),
            what: self.words.say(&capital(&what)),
            measured,
            severity: severity.map(|g| either(&names(&g.classes))),
            photos: self
                .s
                .photos
                .iter()
                .filter(|p| p.defect == defect.id)
                .map(|p| p.number)
                .collect(),
        }
    }

    fn signs(&self, signs: &Signs, out: &mut Vec<Fact>) {
        for (id, value) in signs {
            let name = self.s.vocabulary.find(id).map_or_else(
                || id.replace('_', " "),
                |fact| self.s.vocabulary.fact(fact).name.clone(),
            );
            if let Some(value) = self.one(id, Some(value)) {
                out.push(Fact { name, value });
            }
        }
    }

    fn tests(&self, area: &AreaRecord, out: &mut Vec<Fact>) {
        let mut add = |name: &str, value: String| {
            out.push(Fact {
                name: format!("Area {}: {name}", area.id),
                value,
            });
        };
        let t = &area.tests;
        if let Some(sounding) = &t.sounding {
            if let (Some(taps), Some(hollow)) = (sounding.taps, sounding.hollow) {
                add(
                    "sounding with a hammer",
                    format!("{hollow} of {taps} taps answered dull"),
                );
            }
            if !sounding.patches.is_empty() {
                let n = sounding.patches.len();
                add(
                    "hollow patches marked with chalk",
                    if n == 1 {
                        "1 patch".to_owned()
                    } else {
                        format!("{n} patches")
                    },
                );
            }
        }
        let list = |values: Vec<String>| (!values.is_empty()).then(|| values.join(", "));
        let mut maybe = |name: &str, value: Option<String>| {
            if let Some(value) = value {
                add(name, value);
            }
        };
        maybe(
            "water drops taken in after",
            list(
                t.water_drop
                    .iter()
                    .filter_map(|m| self.measure(Some(m)))
                    .collect(),
            ),
        );
        maybe(
            "plastic sheet test",
            list(t.sheet.iter().map(|w| self.choice("sheet", w)).collect()),
        );
        maybe(
            "surface pH",
            list(t.ph.iter().map(|n| format!("{n}")).collect()),
        );
        maybe(
            "moisture inside",
            list(
                t.humidity
                    .iter()
                    .filter_map(|m| self.measure(Some(m)))
                    .collect(),
            ),
        );
        maybe(
            "pull-off strength",
            list(
                t.pull_off
                    .iter()
                    .filter_map(|m| self.measure(Some(m)))
                    .collect(),
            ),
        );
        maybe(
            "slab temperature",
            self.measure(t.slab_temperature.as_ref()),
        );
        maybe(
            "height of one spot",
            list(
                t.levels
                    .iter()
                    .filter_map(|l| {
                        Some(format!(
                            "{} ({})",
                            self.measure(Some(&l.value))?,
                            long_date(&l.date, self.system)
                        ))
                    })
                    .collect(),
            ),
        );
        maybe("fall of the surface", self.measure(area.fall.as_ref()));
        let mut signs = Vec::new();
        self.signs(&area.signs, &mut signs);
        for sign in signs {
            maybe(&sign.name, Some(sign.value));
        }
    }

    // ---- what it means ----

    fn means(&mut self) -> MeansView {
        let s = self.s;
        let slab = s
            .assessment
            .slab
            .grades
            .iter()
            .filter(|g| for_owner(g))
            .map(|g| self.grade(g))
            .collect();
        let mut areas = Vec::new();
        for area in &s.assessment.areas {
            let why = plain_texts(&area.verdict.reasons, 4)
                .iter()
                .map(|t| self.words.say(t))
                .collect();
            let maybe = self.maybe(&area.verdict.reasons);
            let grades = area
                .grades
                .iter()
                .filter(|g| for_owner(g))
                .map(|g| self.grade(g))
                .collect();
            let defects = self.defects_mean(area);
            areas.push(AreaMeans {
                id: area.id.clone(),
                name: area.name.clone(),
                verdict: verdict_words(&area.verdict),
                firm: area.verdict.firm,
                why,
                maybe,
                grades,
                defects,
                panels: panels(area),
            });
        }
        let mut things = Vec::new();
        for (word, list) in [
            ("Steps", &s.assessment.stairs),
            ("Door", &s.assessment.thresholds),
        ] {
            for thing in list {
                let grades: Vec<GradeView> = thing
                    .grades
                    .iter()
                    .filter(|g| for_owner(g))
                    .map(|g| self.grade(g))
                    .collect();
                if !grades.is_empty() {
                    things.push(ThingMeans {
                        name: format!("{word} {}", thing.id),
                        grades,
                    });
                }
            }
        }
        MeansView {
            areas,
            things,
            slab,
            scales: self.scales(),
            words: self.words.take_fresh(),
        }
    }

    /// Defects that are word for word alike stand once, with all their numbers.
    fn defects_mean(&mut self, area: &AreaFinding) -> Vec<DefectMeans> {
        let mut groups: Vec<(String, Vec<u32>, &DefectFinding)> = Vec::new();
        for defect in &area.defects {
            let mut key = defect.kind_name.clone();
            for grade in defect
                .grades
                .iter()
                .filter(|g| g.fact == SEVERITY || for_owner(g))
            {
                key.push_str(&format!(
                    "|{} {:?} {:?}",
                    grade.table,
                    grade.classes,
                    plain_texts(&grade.reasons, 3)
                ));
            }
            match groups.iter_mut().find(|(k, ..)| *k == key) {
                Some((_, numbers, _)) => numbers.push(defect.number),
                None => groups.push((key, vec![defect.number], defect)),
            }
        }
        groups
            .iter()
            .map(|(_, numbers, defect)| DefectMeans {
                about: capital(&defects_words(numbers)),
                kind: defect.kind_name.clone(),
                severity: defect
                    .grades
                    .iter()
                    .find(|g| g.fact == SEVERITY)
                    .map(|g| self.grade(g)),
                scales: defect
                    .grades
                    .iter()
                    .filter(|g| g.fact != SEVERITY && for_owner(g))
                    .map(|g| self.grade(g))
                    .collect(),
            })
            .collect()
    }

    /// What may hold, with the facts it hangs on; each sentence once.
    fn maybe(&mut self, reasons: &[Reason]) -> Vec<Maybe> {
        let mut out: Vec<(String, String)> = Vec::new();
        for reason in reasons.iter().filter(|r| !r.certain) {
            let text = sentence(plain(reason));
            if out.iter().all(|(t, _)| *t != text) {
                out.push((text, hangs_on(reason)));
            }
        }
        out.truncate(5);
        out.into_iter()
            .map(|(text, hangs_on)| Maybe {
                text: self.words.say(&text),
                hangs_on,
            })
            .collect()
    }

    fn grade(&mut self, grade: &Grade) -> GradeView {
        GradeView {
            title: lower_first(&grade.title),
            class: if is_flag(grade) {
                String::new()
            } else {
                either(&names(&grade.classes))
            },
            firm: grade.firm,
            scale: grade.scale.clone(),
            why: plain_texts(&grade.reasons, 3)
                .iter()
                .map(|t| self.words.say(t))
                .collect(),
        }
    }

    fn scales(&self) -> Vec<Scale> {
        let a = self.s.assessment;
        // Table -> (a grade of it, class word -> who has it).
        let mut tables: Vec<(&Grade, BTreeMap<&str, Vec<String>>)> = Vec::new();
        let mut see = |who: String, grade: &'a Grade| {
            if grade.scale.is_empty()
                || is_flag(grade)
                || !(for_owner(grade) || grade.fact == SEVERITY)
            {
                return;
            }
            let at = match tables.iter().position(|(g, _)| g.table == grade.table) {
                Some(at) => at,
                None => {
                    tables.push((grade, BTreeMap::new()));
                    tables.len() - 1
                }
            };
            if let Some((_, here)) = tables.get_mut(at) {
                for class in &grade.classes {
                    let who = if grade.firm {
                        who.clone()
                    } else {
                        format!("{who}{PERHAPS}")
                    };
                    here.entry(class.word.as_str()).or_default().push(who);
                }
            }
        };
        for grade in &a.slab.grades {
            see("the slab".to_owned(), grade);
        }
        for area in &a.areas {
            for grade in &area.grades {
                see(format!("area {}", area.id), grade);
            }
            for defect in &area.defects {
                for grade in &defect.grades {
                    see(format!("defect {}", defect.number), grade);
                }
            }
        }
        tables
            .iter()
            .map(|(grade, here)| {
                let at = |word: &str| here.get(word).map(|w| gather(w)).unwrap_or_default();
                let declared = self
                    .s
                    .vocabulary
                    .find(&grade.fact)
                    .map(|f| self.s.vocabulary.fact(f).values());
                let steps = match declared {
                    Some(values) if !values.is_empty() => values
                        .iter()
                        .map(|v| ScaleStep {
                            name: v.name.clone(),
                            here: at(&v.id),
                        })
                        .collect(),
                    _ => grade
                        .classes
                        .iter()
                        .map(|c| ScaleStep {
                            name: c.name.clone(),
                            here: at(&c.word),
                        })
                        .collect(),
                };
                Scale {
                    title: capital(&grade.title),
                    name: grade.scale.clone(),
                    steps,
                }
            })
            .collect()
    }

    // ---- what caused it ----

    fn causes(&mut self) -> CausesView {
        let s = self.s;
        let mut groups: Vec<(String, Vec<&DefectFinding>)> = Vec::new();
        for defect in s.assessment.areas.iter().flat_map(|a| &a.defects) {
            if defect.causes.is_empty() {
                continue;
            }
            let key = ranking_key(defect);
            match groups.iter_mut().find(|(k, _)| *k == key) {
                Some((_, list)) => list.push(defect),
                None => groups.push((key, vec![defect])),
            }
        }
        let groups = groups
            .iter()
            .enumerate()
            .filter_map(|(i, (_, list))| {
                let first = list.first()?;
                let numbers: Vec<u32> = list.iter().map(|d| d.number).collect();
                Some(self.cause_group(i, first, &numbers))
            })
            .collect();
        CausesView {
            groups,
            words: self.words.take_fresh(),
        }
    }

    fn cause_group(&mut self, index: usize, defect: &DefectFinding, numbers: &[u32]) -> CauseGroup {
        let heading = format!("{}: {}", capital(&defect.kind_name), defects_words(numbers));
        let leaders: Vec<&RankedCause> = defect.causes.iter().filter(|c| c.may_lead).collect();
        let mut lead = Vec::new();
        if let (Some(first), 0 | 1) = (defect.causes.first(), leaders.len()) {
            lead.push(self.words.say(&format!(
                "The signs point to this: {}.",
                lower_first(&first.name)
            )));
        } else if !leaders.is_empty() {
            let list: Vec<String> = leaders
                .iter()
                .take(TOLD)
                .map(|c| lower_first(&c.name))
                .collect();
            let rest = leaders.len().saturating_sub(TOLD);
            let more = if rest > 0 {
                format!(" and {rest} more")
            } else {
                String::new()
            };
            lead.push(self.words.say(&format!(
                "The signs do not settle it yet. Still in the running: {}{more}.",
                list.join("; ")
            )));
        }
        let mut at_work = Vec::new();
        if let Some(grade) = &defect.at_work {
            let answer = either(&names(&grade.classes));
            let text = if grade.firm {
                format!("Still at work? {}.", capital(&answer))
            } else {
                format!("Still at work? Not settled: {answer}.")
            };
            at_work.push(self.words.say(&text));
            for text in plain_texts(&grade.reasons, 2) {
                at_work.push(self.words.say(&text));
            }
        }
        let seen = |c: &RankedCause| c.signs.iter().any(|s| s.reason.certain);
        let title = format!(
            "Signs for and against each cause, {}",
            defects_words(numbers)
        );
        // A paragraph for the first few that can lead or are possible; the rest in one line.
        let worth = |c: &RankedCause| {
            !ruled_out(c) && (c.may_lead || c.standing.iter().any(|st| st.word != "unlikely"))
        };
        let bars: Vec<Bar> = defect
            .causes
            .iter()
            .filter(|c| worth(c) || seen(c))
            .take(10)
            .map(bar)
            .collect();
        let drawing = evidence::bars(&bars, &format!("cause-{index}"), &title);
        let told: Vec<&RankedCause> = defect
            .causes
            .iter()
            .filter(|c| worth(c))
            .take(TOLD)
            .collect();
        let also: Vec<String> = defect
            .causes
            .iter()
            .filter(|c| worth(c))
            .skip(TOLD)
            .map(|c| lower_first(&c.name))
            .collect();
        let unlikely: Vec<String> = defect
            .causes
            .iter()
            .filter(|c| !worth(c))
            .map(unlikely_words)
            .collect();
        let causes = told.iter().map(|c| self.cause(c)).collect();
        let mut others = Vec::new();
        if !also.is_empty() {
            others.push(
                self.words
                    .say(&format!("Also possible: {}.", also.join("; "))),
            );
        }
        if !unlikely.is_empty() {
            others.push(self.words.say(&format!(
                "Looked at and found unlikely: {}.",
                unlikely.join("; ")
            )));
        }
        let mut missing: Vec<String> = Vec::new();
        for sign in defect
            .causes
            .iter()
            .filter(|c| worth(c))
            .flat_map(|c| &c.signs)
        {
            for fact in sign
                .reason
                .read
                .iter()
                .filter(|r| !sign.reason.certain && is_open(r))
            {
                if !missing.contains(&fact.name) {
                    missing.push(fact.name.clone());
                }
            }
        }
        let missing = (!missing.is_empty()).then(|| {
            self.words.say(&format!(
                "Signs not looked at yet, or not settled: {}.",
                missing.join("; ")
            ))
        });
        let note = defect
            .cause_note
            .as_ref()
            .filter(|_| leaders.len() < 2)
            .map(|n| self.words.say(&sentence(n)));
        CauseGroup {
            heading,
            lead,
            at_work,
            bars: drawing,
            causes,
            others,
            missing,
            note,
        }
    }

    fn cause(&mut self, cause: &RankedCause) -> CauseView {
        let plain_said = self.words.say(&sentence(&cause.plain));
        let mut signs_for = Vec::new();
        let mut signs_against = Vec::new();
        for sign in cause.signs.iter().filter(|s| s.reason.certain) {
            let text = self.words.say(&sentence(plain(&sign.reason)));
            if sign.push >= 0.0 {
                signs_for.push(text);
            } else {
                signs_against.push(text);
            }
        }
        let stops_by = self.words.say(&sentence(&cause.stops_by));
        CauseView {
            name: capital(&cause.name),
            standing: format!(
                "{}, {}",
                standing_words(&cause.standing),
                chance(cause.share)
            ),
            plain: plain_said,
            signs_for,
            signs_against,
            stops_by,
        }
    }

    // ---- what we recommend ----

    fn work(&mut self) -> WorkView {
        let s = self.s;
        let mut areas = Vec::new();
        for (index, method) in s.method.areas.iter().enumerate() {
            let found = s.assessment.areas.iter().find(|a| a.id == method.area);
            let why_not = (!method.specified).then(|| {
                let text = method
                    .why_not
                    .clone()
                    .unwrap_or_else(|| "No work is specified here yet".to_owned());
                self.words.say(&sentence(&text))
            });
            let stages = self.stages(method);
            let overlay = method
                .overlay
                .as_ref()
                .map(|o| self.overlay(index, method, o));
            let profile = method.profile.as_ref().map(|p| ProfileView {
                range: if p.least == p.greatest {
                    format!("CSP {}", p.least)
                } else {
                    format!("CSP {} to {}", p.least, p.greatest)
                },
                scale: p.scale.clone(),
                ways: p.ways.clone(),
                why: plain_texts(&p.reasons, 2)
                    .iter()
                    .map(|t| self.words.say(t))
                    .collect(),
            });
            let waits = method
                .waits
                .iter()
                .map(|w| Fact {
                    name: capital(&w.what),
                    value: Kind::Duration.write(w.days, self.system),
                })
                .collect();
            areas.push(AreaWork {
                id: method.area.clone(),
                name: found.map_or_else(|| method.area.clone(), |f| f.name.clone()),
                verdict: found.map_or_else(
                    || method.verdict.replace('_', " "),
                    |f| verdict_words(&f.verdict),
                ),
                firm: found.is_some_and(|f| f.verdict.firm),
                why_not,
                stages,
                overlay,
                profile,
                waits,
            });
        }
        let stairs = s
            .method
            .stairs
            .iter()
            .enumerate()
            .map(|(i, stair)| self.stair(i, stair))
            .collect();
        WorkView {
            areas,
            stairs,
            words: self.words.take_fresh(),
        }
    }

    /// Steps that follow each other in one part of the work, together. What is done alike at
    /// several defects is said once, with their numbers; the same sentence never stands twice.
    fn stages(&mut self, method: &AreaMethod) -> Vec<StageView> {
        struct Said {
            numbers: Vec<String>,
            text: String,
            why: Option<String>,
            safety: bool,
            crew: String,
        }
        let mut stages: Vec<(String, Vec<Said>)> = Vec::new();
        for step in &method.steps {
            let (number, text) = about_defect(&step.owner);
            let text = sentence(text);
            let (_, crew) = about_defect(&step.crew);
            let name = stage_name(&step.stage);
            if stages.last().is_none_or(|(last, _)| *last != name) {
                stages.push((name, Vec::new()));
            }
            let Some((_, said)) = stages.last_mut() else {
                continue;
            };
            let why = step
                .reason
                .plain
                .as_deref()
                .map(sentence)
                .filter(|p| *p != text);
            match said
                .iter_mut()
                .find(|s| s.text == text || s.why.as_ref() == Some(&text))
            {
                Some(same) => {
                    same.safety |= step.reason.safety;
                    if let Some(number) = number.filter(|n| !same.numbers.contains(n)) {
                        same.numbers.push(number);
                    }
                    if !same.crew.contains(crew) {
                        same.crew = format!("{} {}", same.crew, sentence(crew));
                    }
                }
                None => said.push(Said {
                    numbers: number.into_iter().collect(),
                    text,
                    why,
                    safety: step.reason.safety,
                    crew: sentence(crew),
                }),
            }
        }
        stages
            .into_iter()
            .map(|(name, said)| StageView {
                name,
                steps: said
                    .into_iter()
                    .map(|s| {
                        let at = match s.numbers.len() {
                            0 => String::new(),
                            1 => format!("Defect {}: ", join(&s.numbers, "and")),
                            _ => format!("Defects {}: ", join(&s.numbers, "and")),
                        };
                        StepView {
                            text: self.words.say(&format!("{at}{}", s.text)),
                            why: s.why.map(|p| self.words.say(&p)),
                            safety: s.safety,
                            crew: format!("{at}{}", s.crew),
                        }
                    })
                    .collect(),
            })
            .collect()
    }

    fn overlay(&mut self, index: usize, method: &AreaMethod, overlay: &Overlay) -> OverlayView {
        let mm = |v: f64| Kind::Length.write(Interval::exact(v), self.system);
        let (floor, ceiling, chosen) = (
            mm(overlay.floor_mm),
            mm(overlay.ceiling_mm),
            mm(overlay.thickness_mm),
        );
        let fits = overlay.floor_mm <= overlay.ceiling_mm;
        let endless = !overlay.ceiling_mm.is_finite();
        let text = if endless {
            format!(
                "It needs at least {floor}; nothing here limits it from above. We place {chosen}."
            )
        } else if fits {
            format!("It needs at least {floor} and may have at most {ceiling}. We place {chosen}.")
        } else {
            format!("It would need at least {floor}, but there is only room for {ceiling}.")
        };
        let bounds: Vec<Bound> = overlay
            .floor_parts
            .iter()
            .map(|p| (p, true))
            .chain(overlay.ceiling_parts.iter().map(|p| (p, false)))
            .map(|(p, at_least)| Bound {
                what: capital(&p.what),
                mm: p.thickness_mm,
                figure: mm(p.thickness_mm),
                at_least,
            })
            .collect();
        let room = layers::room(
            &bounds,
            (overlay.floor_mm, overlay.ceiling_mm),
            fits.then_some((overlay.thickness_mm, chosen.as_str())),
            &format!("room-{index}"),
            &format!("Room for the new layer, area {}", method.area),
        );
        let has = |stage: &str| method.steps.iter().any(|step| step.stage == stage);
        let mut stack = Vec::new();
        let layer = |name: &str, figure: String, body: Body| Layer {
            name: name.to_owned(),
            figure,
            body,
        };
        if has("seal") {
            stack.push(layer(
                "Sealer",
                "a thin film or a soak".to_owned(),
                Body::Film,
            ));
        }
        stack.push(layer(&capital(&overlay.name), chosen.clone(), Body::New));
        if has("bond") {
            stack.push(layer("Bonding coat", "brushed in".to_owned(), Body::Bond));
        }
        let thick = self.measure(self.s.record.slab.thickness.as_ref());
        let profile = method.profile.as_ref().map(|p| {
            if p.least == p.greatest {
                format!("roughened to CSP {}", p.least)
            } else {
                format!("roughened to CSP {} to {}", p.least, p.greatest)
            }
        });
        let slab: Vec<String> = [
            Some(thick.unwrap_or_else(|| "thickness not recorded".to_owned())),
            profile,
        ]
        .into_iter()
        .flatten()
        .collect();
        stack.push(layer(
            "Your slab, cleaned back to sound concrete",
            slab.join(", "),
            Body::Slab,
        ));
        stack.push(layer("Ground", String::new(), Body::Ground));
        let section = layers::section(
            &stack,
            &format!("layers-{index}"),
            &format!("Section through the layers, area {}", method.area),
        );
        let limits = |parts: &[crate::method::Limit]| {
            parts
                .iter()
                .map(|p| Fact {
                    name: capital(&p.what),
                    value: mm(p.thickness_mm),
                })
                .collect::<Vec<_>>()
        };
        let (asks, forbids) = (limits(&overlay.floor_parts), limits(&overlay.ceiling_parts));
        OverlayView {
            name: capital(&overlay.name),
            why: plain_texts(&overlay.reasons, 3)
                .iter()
                .map(|t| self.words.say(t))
                .collect(),
            sentence: self.words.say(&text),
            floor,
            ceiling: if endless {
                "no limit found".to_owned()
            } else {
                ceiling
            },
            chosen,
            asks,
            forbids,
            room,
            section,
        }
    }

    fn stair(&mut self, index: usize, stair: &StairChange) -> StairView {
        let mm = |v: f64| Kind::Length.write(Interval::exact(v), self.system);
        let flight = |risers: &[f64], broken: &[f64]| Flight {
            risers: risers.to_vec(),
            figures: risers.iter().map(|r| mm(*r)).collect(),
            kept: within(risers, broken),
        };
        let broken = |after: bool| -> Vec<f64> {
            stair
                .checks
                .iter()
                .filter(|c| if after { !c.kept_after } else { !c.kept_before })
                .map(|c| if after { c.after_mm } else { c.before_mm })
                .collect()
        };
        let recorded = self.s.record.stairs.iter().find(|s| s.id == stair.stair);
        let treads: Vec<f64> = recorded
            .map(|s| {
                s.treads
                    .iter()
                    .filter_map(super::drawings::ground::middle)
                    .collect()
            })
            .unwrap_or_default();
        let drawing = stair::elevation(
            &flight(&stair.before_mm, &broken(false)),
            &flight(&stair.after_mm, &broken(true)),
            &treads,
            &format!("stair-{index}"),
            &format!("Steps {} before and after the work", stair.stair),
        );
        let checks = stair
            .checks
            .iter()
            .map(|c| StairCheckView {
                limit: capital(&c.limit),
                value: mm(c.limit_mm),
                before: mm(c.before_mm),
                after: mm(c.after_mm),
                kept_before: c.kept_before,
                kept_after: c.kept_after,
                source: c.source.clone(),
            })
            .collect();
        StairView {
            name: format!("Steps {}", stair.stair),
            drawing,
            checks,
            kept: stair.checks.iter().all(|c| c.kept_after),
        }
    }

    // ---- against, uncertain ----

    fn against(&mut self) -> AgainstView {
        let s = self.s;
        let exclusions = self.advice(&s.assessment.exclusions);
        let referrals = self.advice(&s.assessment.referrals);
        let mut turned: Vec<TurnedDownView> = Vec::new();
        for area in &s.method.areas {
            for t in &area.turned_down {
                let choice = self.s.vocabulary.find(&t.choice).map_or_else(
                    || t.choice.replace('_', " "),
                    |f| self.s.vocabulary.fact(f).name.clone(),
                );
                let choice = capital(&choice);
                let why = sentence(plain(&t.reason));
                let at = match turned.iter().position(|v| v.choice == choice) {
                    Some(at) => at,
                    None => {
                        turned.push(TurnedDownView {
                            choice,
                            candidates: Vec::new(),
                        });
                        turned.len() - 1
                    }
                };
                let Some(view) = turned.get_mut(at) else {
                    continue;
                };
                // The same candidate turned down for the same reason in several areas stands once.
                let same = view.candidates.iter_mut().find(|c| {
                    c.name == capital(&t.name)
                        && c.why.iter().map(|s| s.text.as_str()).collect::<String>() == why
                });
                match same {
                    Some(item) => item.about = format!("{}, {}", item.about, area.area),
                    None => view.candidates.push(TurnedDownItem {
                        about: format!("area {}", area.area),
                        name: capital(&t.name),
                        why: self.words.say(&why),
                    }),
                }
            }
        }
        AgainstView {
            exclusions,
            referrals,
            turned_down: turned,
            words: self.words.take_fresh(),
        }
    }

    fn advice(&mut self, reasons: &[Reason]) -> Vec<Advice> {
        let mut out: Vec<(String, Advice)> = Vec::new();
        for reason in reasons {
            let text = sentence(plain(reason));
            if let Some((_, first)) = out
                .iter_mut()
                .find(|(t, a)| *t == text && a.depends != reason.certain)
            {
                if !first
                    .about
                    .split("; ")
                    .any(|a| a.eq_ignore_ascii_case(&reason.about))
                {
                    first.about = format!("{}; {}", first.about, reason.about);
                }
                continue;
            }
            let advice = Advice {
                about: capital(&reason.about),
                text: self.words.say(&text),
                safety: reason.safety,
                depends: !reason.certain,
            };
            out.push((text, advice));
        }
        out.into_iter().map(|(_, a)| a).collect()
    }

    fn uncertain(&mut self) -> UncertainView {
        let s = self.s;
        let mut open = Vec::new();
        for area in &s.assessment.areas {
            let possible = still_possible(&area.verdict);
            if !area.verdict.firm && possible.len() > 1 {
                open.push(self.words.say(&format!(
                    "Area {} ({}) could still come to {}.",
                    area.id,
                    area.name,
                    either(&possible)
                )));
            }
        }
        let questions = s
            .assessment
            .questions
            .iter()
            .enumerate()
            .map(|(i, q)| QuestionView {
                number: i + 1,
                about: capital(&q.about),
                name: capital(&q.name),
                ask: self.words.say(&q.ask),
                measure: self.words.say(&sentence(&q.measure)),
                effort: capital(&effort(q)),
                outcomes: q
                    .outcomes
                    .iter()
                    .map(|o| Fact {
                        name: capital(&o.answer),
                        value: either(&names(&o.verdicts)),
                    })
                    .collect(),
            })
            .collect();
        UncertainView {
            open,
            questions,
            words: self.words.take_fresh(),
        }
    }

    // ---- words for values ----

    fn measure<T: Notation>(&self, value: Option<&Measured<T>>) -> Option<String> {
        let value = value?;
        let known = value.canonical()?;
        Some(value.kind().write(known, self.system))
    }

    fn choice(&self, fact: &str, word: &str) -> String {
        self.s
            .vocabulary
            .find(fact)
            .map(|f| self.s.vocabulary.fact(f))
            .and_then(|f| f.values().iter().find(|v| v.id == word))
            .map_or_else(|| word.replace('_', " "), |v| v.name.clone())
    }

    fn one(&self, fact: &str, value: Option<&OneOrMore>) -> Option<String> {
        match value? {
            OneOrMore::Flag(yes) => Some(if *yes { "yes" } else { "no" }.to_owned()),
            OneOrMore::Number(n) => Some(format!("{n}")),
            OneOrMore::One(word) if word == "unknown" => None,
            OneOrMore::One(word) => Some(self.choice(fact, word)),
            OneOrMore::More(words) => {
                let words: Vec<String> = words.iter().map(|w| self.choice(fact, w)).collect();
                (!words.is_empty()).then(|| either(&words))
            }
        }
    }
}

// ---- the trail ----

fn trail(assessment: &Assessment, method: &Method) -> Vec<TrailGroup> {
    let mut trail = Trail::default();
    let slab = &assessment.slab;
    trail.add_all(
        "the slab",
        &format!("verdict: {}", verdict_words(&slab.verdict)),
        &slab.verdict.reasons,
    );
    trail.grades("the slab", &slab.grades);
    for area in &assessment.areas {
        let about = format!("area {}", area.id);
        trail.add_all(
            &about,
            &format!("verdict: {}", verdict_words(&area.verdict)),
            &area.verdict.reasons,
        );
        trail.grades(&about, &area.grades);
        for panel in &area.panels {
            trail.add_all(
                &format!("panel {} of area {}", panel.id, area.id),
                &format!("verdict: {}", verdict_words(&panel.verdict)),
                &panel.verdict.reasons,
            );
        }
        for defect in &area.defects {
            let about = format!("defect {}", defect.number);
            trail.grades(&about, &defect.grades);
            for cause in &defect.causes {
                for sign in &cause.signs {
                    let result = if sign.rules_out {
                        format!("{}: ruled out", cause.name)
                    } else {
                        format!("{}: {:+.1} log-odds", cause.name, sign.push)
                    };
                    trail.add(&about, &result, &sign.reason);
                }
            }
            if let Some(at_work) = &defect.at_work {
                trail.grades(&about, std::slice::from_ref(at_work));
            }
            trail.add_all(&about, "remark", &defect.reasons);
        }
    }
    for thing in assessment.stairs.iter().chain(&assessment.thresholds) {
        trail.grades(&thing.id, &thing.grades);
    }
    for (result, list) in [
        ("advised against", &assessment.exclusions),
        ("referred", &assessment.referrals),
        ("caution", &assessment.cautions),
        ("care", &method.care),
    ] {
        for reason in list {
            trail.add(&reason.about, result, reason);
        }
    }
    for area in &method.areas {
        let about = format!("area {}", area.area);
        for step in &area.steps {
            trail.add(
                &about,
                &format!("step: {}", stage_name(&step.stage).to_lowercase()),
                &step.reason,
            );
        }
        if let Some(o) = &area.overlay {
            trail.add_all(&about, &format!("chosen: {}", o.name), &o.reasons);
        }
        if let Some(p) = &area.profile {
            trail.add_all(&about, "surface profile", &p.reasons);
        }
        for t in &area.turned_down {
            trail.add(&about, &format!("turned down: {}", t.name), &t.reason);
        }
        for w in &area.waits {
            trail.add(&about, &format!("wait: {}", w.what), &w.reason);
        }
    }
    trail.groups
}

#[derive(Default)]
struct Trail {
    groups: Vec<TrailGroup>,
    at: std::collections::HashMap<String, usize>,
    seen: std::collections::HashSet<(usize, String, String)>,
}

impl Trail {
    fn grades(&mut self, about: &str, grades: &[Grade]) {
        for grade in grades {
            let mut result = format!("{}: {}", grade.title, either(&names(&grade.classes)));
            if !grade.scale.is_empty() {
                result = format!("{result} ({})", grade.scale);
            }
            if grade.firm {
                self.add_all(about, &result, &grade.reasons);
            } else {
                self.open(about, &result, &grade.reasons);
            }
        }
    }

    /// Rows that may fire for one open answer, told together: a line each would bury the rest.
    fn open(&mut self, about: &str, result: &str, reasons: &[Reason]) {
        let Some(first) = reasons.first() else { return };
        let mut read: Vec<TrailFact> = Vec::new();
        let mut sources: Vec<&str> = Vec::new();
        for reason in reasons {
            for fact in reason.read.iter().map(trail_fact) {
                if !read.contains(&fact) {
                    read.push(fact);
                }
            }
            if !sources.contains(&reason.source.as_str()) {
                sources.push(&reason.source);
            }
        }
        let rows: Vec<&str> = reasons.iter().map(|r| r.row.as_str()).collect();
        let entry = TrailEntry {
            result: capital(result),
            row: format!("{} / {}", first.table, rows.join(", ")),
            because: String::new(),
            certain: false,
            safety: reasons.iter().any(|r| r.safety),
            source: sources.join("; "),
            provenance: first.provenance.words().to_owned(),
            read,
        };
        self.push(about, entry);
    }

    fn add_all(&mut self, about: &str, result: &str, reasons: &[Reason]) {
        for reason in reasons {
            self.add(about, result, reason);
        }
    }

    fn add(&mut self, about: &str, result: &str, reason: &Reason) {
        let entry = TrailEntry {
            result: capital(result),
            row: format!("{} / {}", reason.table, reason.row),
            because: sentence(&reason.because),
            certain: reason.certain,
            safety: reason.safety,
            source: reason.source.clone(),
            provenance: reason.provenance.words().to_owned(),
            read: reason.read.iter().map(trail_fact).collect(),
        };
        self.push(about, entry);
    }

    fn push(&mut self, about: &str, entry: TrailEntry) {
        let about = capital(about);
        let index = match self.at.get(&about) {
            Some(index) => *index,
            None => {
                self.groups.push(TrailGroup {
                    about: about.clone(),
                    entries: Vec::new(),
                });
                self.at.insert(about, self.groups.len() - 1);
                self.groups.len() - 1
            }
        };
        if !self
            .seen
            .insert((index, entry.row.clone(), entry.result.clone()))
        {
            return;
        }
        if let Some(group) = self.groups.get_mut(index) {
            group.entries.push(entry);
        }
    }
}

fn trail_fact(read: &FactRead) -> TrailFact {
    TrailFact {
        name: read.name.clone(),
        value: read.value.clone(),
        how: read.how.clone(),
        place: match (read.line, &read.path) {
            (Some(line), _) => format!("line {line}"),
            (None, Some(path)) => path.clone(),
            (None, None) => String::new(),
        },
    }
}

// ---- plain words ----

fn plain(reason: &Reason) -> &str {
    reason.plain.as_deref().unwrap_or(&reason.because)
}

/// Up to `most` different sentences of the reasons that hold for certain, safety first.
fn plain_texts(reasons: &[Reason], most: usize) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for safety in [true, false] {
        for reason in reasons.iter().filter(|r| r.safety == safety && r.certain) {
            let text = sentence(plain(reason));
            if !out.contains(&text) {
                out.push(text);
            }
        }
    }
    out.truncate(most);
    out
}

/// The fact that sums the scales up in plain words.
const SEVERITY: &str = "severity";

/// Whether a grade belongs on the owner's pages: it is settled, says something, has a sentence for
/// him, and stands on a scale that others know. The rest stands in the appendix.
fn for_owner(grade: &Grade) -> bool {
    grade.firm
        && !grade.scale.is_empty()
        && !grade.scale.starts_with("Own working rule")
        && grade
            .classes
            .iter()
            .all(|c| c.word != "none" && c.word != "no")
        && grade.reasons.iter().all(|r| r.plain.is_some())
}

/// Whether a fact as read is not settled: unknown, a range, or several values still possible.
fn is_open(read: &FactRead) -> bool {
    read.value == "not known" || read.value.contains(" or ") || read.value.contains(" to ")
}

/// A grade that only says yes or no.
fn is_flag(grade: &Grade) -> bool {
    grade
        .classes
        .iter()
        .all(|c| c.word == "yes" || c.word == "no")
}

/// The facts of a reason that are not settled, by name.
fn hangs_on(reason: &Reason) -> String {
    let open: Vec<String> = reason
        .read
        .iter()
        .filter(|r| is_open(r))
        .map(|r| r.name.clone())
        .collect();
    join(&open, "and")
}

fn names(choices: &[Choice]) -> Vec<String> {
    choices.iter().map(|c| c.name.clone()).collect()
}

/// `a`, `a or b`, `a, b or c`.
fn either(list: &[String]) -> String {
    join(list, "or")
}

fn join(list: &[String], word: &str) -> String {
    match list {
        [] => String::new(),
        [one] => one.clone(),
        [rest @ .., last] => format!("{} {word} {last}", rest.join(", ")),
    }
}

fn verdict_words(verdict: &Verdict) -> String {
    let possible = still_possible(verdict);
    if verdict.firm || possible.is_empty() {
        capital(&verdict.name)
    } else {
        format!("Measure first ({})", either(&possible))
    }
}

/// The verdicts an open one can still come to; to measure first is not one of them.
fn still_possible(verdict: &Verdict) -> Vec<String> {
    verdict
        .possible
        .iter()
        .filter(|c| c.word != "measure_first")
        .map(|c| lower_first(&c.name))
        .collect()
}

fn defects_words(numbers: &[u32]) -> String {
    let list: Vec<String> = numbers.iter().map(u32::to_string).collect();
    match list.len() {
        1 => format!("defect {}", join(&list, "and")),
        _ => format!("defects {}", join(&list, "and")),
    }
}

/// `defect 1`, `defect 3` as `defects 1 and 3`; other names as they are.
fn gather(who: &[String]) -> String {
    let part = |who: &[&str]| {
        let numbers: Vec<String> = who
            .iter()
            .filter_map(|w| w.strip_prefix("defect "))
            .map(str::to_owned)
            .collect();
        let mut parts: Vec<String> = who
            .iter()
            .filter(|w| !w.starts_with("defect "))
            .map(|w| (*w).to_owned())
            .collect();
        match numbers.len() {
            0 => {}
            1 => parts.push(format!("defect {}", join(&numbers, "and"))),
            _ => parts.push(format!("defects {}", join(&numbers, "and"))),
        }
        parts.join(", ")
    };
    let (perhaps, sure): (Vec<&str>, Vec<&str>) = who
        .iter()
        .map(String::as_str)
        .partition(|w| w.ends_with(PERHAPS));
    let perhaps: Vec<&str> = perhaps
        .iter()
        .map(|w| w.trim_end_matches(PERHAPS))
        .collect();
    match (sure.is_empty(), perhaps.is_empty()) {
        (_, true) => part(&sure),
        (true, false) => format!("perhaps {}", part(&perhaps)),
        (false, false) => format!("{}; perhaps {}", part(&sure), part(&perhaps)),
    }
}

const PERHAPS: &str = ", perhaps";

/// Defects of the same kind with the same signs share a ranking and are told of together.
fn ranking_key(defect: &DefectFinding) -> String {
    use std::fmt::Write;
    let mut key = defect.kind.clone();
    for cause in &defect.causes {
        let _ = write!(
            key,
            "|{} {:?} {}",
            cause.cause, cause.log_odds, cause.may_lead
        );
        for sign in &cause.signs {
            let _ = write!(
                key,
                ",{} {} {:?}",
                sign.reason.row, sign.reason.certain, sign.push
            );
        }
    }
    if let Some(at_work) = &defect.at_work {
        let _ = write!(key, "|{:?}", at_work.classes);
    }
    let _ = write!(key, "|{:?}", defect.cause_note);
    key
}

fn ruled_out(cause: &RankedCause) -> bool {
    cause.signs.iter().any(|s| s.rules_out && s.reason.certain)
}

fn bar(cause: &RankedCause) -> Bar {
    let pushes = |certain: bool| {
        cause
            .signs
            .iter()
            .filter(|s| s.reason.certain == certain && !s.rules_out)
            .map(|s| s.push)
            .collect()
    };
    Bar {
        name: capital(&cause.name),
        before: cause.prior,
        seen: pushes(true),
        unknown: pushes(false),
        sum: (cause.log_odds.lo, cause.log_odds.hi),
        standing: standing_words(&cause.standing),
        ruled_out: ruled_out(cause),
    }
}

/// Splits `Defect 3: text` into its number and the text.
fn about_defect(text: &str) -> (Option<String>, &str) {
    let split = text
        .strip_prefix("Defect ")
        .or_else(|| text.strip_prefix("defect "))
        .and_then(|rest| rest.split_once(": "))
        .filter(|(number, _)| !number.is_empty() && number.bytes().all(|b| b.is_ascii_digit()));
    match split {
        Some((number, rest)) => (Some(number.to_owned()), rest),
        None => (None, text),
    }
}

/// How many causes of a defect get a paragraph.
const TOLD: usize = 3;

/// A cause found unlikely, with what speaks against it most.
fn unlikely_words(cause: &RankedCause) -> String {
    let weight = |s: &Sign| {
        if s.rules_out {
            f64::NEG_INFINITY
        } else {
            s.push
        }
    };
    let against = cause
        .signs
        .iter()
        .filter(|s| s.reason.certain && weight(s) < 0.0)
        .min_by(|a, b| weight(a).total_cmp(&weight(b)));
    let name = lower_first(&cause.name);
    match against {
        Some(sign) => format!(
            "{name} ({})",
            lower_first(plain(&sign.reason).trim_end_matches('.'))
        ),
        None => name,
    }
}

/// Standings as a span: `possible`, `unlikely to likely`.
fn standing_words(standing: &[Choice]) -> String {
    match standing {
        [] => String::new(),
        [one] => one.name.clone(),
        [first, .., last] => format!("{} to {}", first.name, last.name),
    }
}

/// A share as a plain chance.
fn chance(share: Interval) -> String {
    let ten = |x: f64| (x.clamp(0.0, 1.0) * 10.0).round();
    let (lo, hi) = (ten(share.lo), ten(share.hi));
    match (lo, hi) {
        (lo, hi) if hi == 0.0 && lo == 0.0 => "less than 1 chance in 10".to_owned(),
        (lo, hi) if lo == hi && lo == 10.0 => "more than 9 chances in 10".to_owned(),
        (lo, hi) if lo == hi => format!(
            "about {lo:.0} {} in 10",
            if lo == 1.0 { "chance" } else { "chances" }
        ),
        // So wide a span says no more than that nobody knows.
        (lo, hi) if hi - lo > 6.5 => "can’t be told yet".to_owned(),
        (lo, hi) => format!("{lo:.0} to {hi:.0} chances in 10"),
    }
}

fn effort(q: &Question) -> String {
    let mut text = if q.minutes >= 90.0 {
        format!("about {:.0} hours", q.minutes / 60.0)
    } else if q.minutes > 0.0 {
        format!("about {:.0} minutes", q.minutes)
    } else {
        "no work".to_owned()
    };
    text.push_str(match q.who.as_str() {
        "anyone" => ", anyone can do it",
        "contractor" => ", by a contractor",
        "laboratory" => ", by a laboratory",
        "engineer" => ", by an engineer",
        _ => "",
    });
    if q.wait_days >= 1.0 {
        let days = q.wait_days;
        text.push_str(&if days >= 60.0 {
            format!("; the answer takes about {:.0} months", days / 30.4)
        } else if days < 1.5 {
            "; the answer takes about a day".to_owned()
        } else {
            format!("; the answer takes about {days:.0} days")
        });
    }
    text
}

fn count_word(n: usize) -> String {
    match n {
        2 => "two things".to_owned(),
        3 => "three things".to_owned(),
        4 => "four things".to_owned(),
        n => format!("{n} things"),
    }
}

fn stage_name(stage: &str) -> String {
    match stage {
        "protect" => "Protect what stays",
        "remove" => "Take off what is loose",
        "profile" => "Roughen the surface",
        "cracks" => "Treat the cracks",
        "joints" => "Joints",
        "saw" => "Cut the joints",
        "patch" => "Fill the holes",
        "bond" => "Bonding coat",
        "overlay" => "Place the new layer",
        "texture" => "Texture",
        "cure" => "Let it harden slowly",
        "seal" => "Seal",
        "reopen" => "Back in use",
        "replace" => "Replace",
        other => return capital(&other.replace('_', " ")),
    }
    .to_owned()
}

fn panels(area: &AreaFinding) -> Vec<Fact> {
    let mut by_verdict: Vec<(String, Vec<&str>)> = Vec::new();
    for panel in &area.panels {
        let words = verdict_words(&panel.verdict);
        match by_verdict.iter_mut().find(|(w, _)| *w == words) {
            Some((_, list)) => list.push(&panel.id),
            None => by_verdict.push((words, vec![&panel.id])),
        }
    }
    by_verdict
        .into_iter()
        .map(|(value, list)| Fact {
            name: list.join(", "),
            value,
        })
        .collect()
}

/// Which risers keep the limits. A broken limit names a value, not a riser: the risers of that
/// height are meant, or, where it is a difference between risers, those farthest from the middle
/// riser.
fn within(risers: &[f64], broken: &[f64]) -> Vec<bool> {
    let same = |a: f64, b: f64| (a - b).abs() < 0.05;
    let mut sorted = risers.to_vec();
    sorted.sort_by(f64::total_cmp);
    let middle = sorted.get(sorted.len() / 2).copied().unwrap_or(0.0);
    let farthest = risers
        .iter()
        .map(|r| (r - middle).abs())
        .fold(0.0, f64::max);
    risers
        .iter()
        .map(|r| {
            !broken.iter().any(|b| {
                if risers.iter().any(|r| same(*r, *b)) {
                    same(*r, *b)
                } else {
                    farthest > 0.05 && same((r - middle).abs(), farthest)
                }
            })
        })
        .collect()
}

/// Width by length, both in the same unit.
fn size_words(size: &Size, system: System) -> Option<String> {
    let (w, h) = super::drawings::ground::by(size)?;
    let feet = |mm: f64| {
        let inches = (mm / 25.4).round();
        let (whole, rest) = ((inches / 12.0).floor(), inches % 12.0);
        if rest == 0.0 {
            format!("{whole:.0} ft")
        } else {
            format!("{whole:.0} ft {rest:.0} in")
        }
    };
    let exact = size.width.canonical()?.is_exact() && size.length.canonical()?.is_exact();
    if system == System::Us && exact && w.min(h) >= 304.8 {
        return Some(format!("{} × {}", feet(w), feet(h)));
    }
    Some(size.write(system).replace(" x ", " × "))
}

fn surface(area: &AreaRecord, system: System) -> Option<String> {
    if let Some(known) = area.surface.as_ref().and_then(Measured::canonical) {
        return Some(Kind::Area.write(known, system));
    }
    if let Some((w, h)) = area.size.as_ref().and_then(super::drawings::ground::by) {
        return Some(Kind::Area.write(Interval::exact(w * h / 1e6), system));
    }
    let corners: Option<Vec<(f64, f64)>> = area
        .outline
        .iter()
        .map(super::drawings::ground::point)
        .collect();
    let corners = corners.filter(|c| c.len() >= 3)?;
    // Shoelace formula.
    let twice: f64 = corners
        .iter()
        .zip(corners.iter().cycle().skip(1))
        .map(|(a, b)| a.0 * b.1 - b.0 * a.1)
        .sum();
    Some(Kind::Area.write(Interval::exact(twice.abs() / 2.0 / 1e6), system))
}

fn kind_word(defect: &Defect) -> String {
    serde_json::to_value(defect.kind)
        .ok()
        .and_then(|v| v.as_str().map(str::to_owned))
        .unwrap_or_default()
}

fn remark(about: String, text: &str) -> Remark {
    let text = text
        .split("\n\n")
        .map(|p| p.split_whitespace().collect::<Vec<_>>().join(" "))
        .filter(|p| !p.is_empty())
        .collect();
    Remark { about, text }
}

fn iso(date: &str) -> Option<jiff::civil::Date> {
    date.trim().parse().ok()
}

/// A date as people of that system write it; what is no full date stays as written.
fn long_date(date: &str, system: System) -> String {
    match iso(date) {
        Some(day) => match system {
            System::Us => day.strftime("%B %-d, %Y").to_string(),
            System::Metric => day.strftime("%-d %B %Y").to_string(),
        },
        // A month without a day.
        None => match iso(&format!("{}-01", date.trim())) {
            Some(day) => day.strftime("%B %Y").to_string(),
            None => date.trim().to_owned(),
        },
    }
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars
        .next()
        .map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

/// The first letter small, unless the word is written in capitals (ASR, CSP).
fn lower_first(text: &str) -> String {
    let mut chars = text.chars();
    let Some(first) = chars.next() else {
        return String::new();
    };
    if chars.clone().next().is_some_and(char::is_uppercase) {
        return text.to_owned();
    }
    first.to_lowercase().chain(chars).collect()
}

/// With a capital and a full stop.
fn sentence(text: &str) -> String {
    let text = capital(text.trim());
    if text.is_empty() || text.ends_with(['.', '!', '?', '…', ':']) {
        text
    } else {
        format!("{text}.")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chances_are_said_in_tenths() {
        assert_eq!(chance(Interval::exact(0.71)), "about 7 chances in 10");
        assert_eq!(chance(Interval::of(0.38, 0.83)), "4 to 8 chances in 10");
        assert_eq!(chance(Interval::exact(0.99)), "more than 9 chances in 10");
        assert_eq!(chance(Interval::exact(0.001)), "less than 1 chance in 10");
    }

    #[test]
    fn dates_are_written_out_or_left() {
        assert_eq!(long_date("2026-06-04", System::Us), "June 4, 2026");
        assert_eq!(long_date("2026-06-04", System::Metric), "4 June 2026");
        assert_eq!(long_date("1998", System::Us), "1998");
        assert_eq!(long_date("1998-07", System::Us), "July 1998");
        assert_eq!(long_date("last spring", System::Us), "last spring");
    }

    #[test]
    fn lists_read_as_speech() {
        let list = |n: usize| (1..=n).map(|i| i.to_string()).collect::<Vec<_>>();
        assert_eq!(either(&list(1)), "1");
        assert_eq!(either(&list(3)), "1, 2 or 3");
        assert_eq!(
            gather(&["area A".into(), "defect 1".into(), "defect 4".into()]),
            "area A, defects 1 and 4"
        );
    }

    #[test]
    fn steps_at_a_defect_know_its_number() {
        assert_eq!(
            about_defect("Defect 3: fill it"),
            (Some("3".into()), "fill it")
        );
        assert_eq!(about_defect("Defect list: all"), (None, "Defect list: all"));
    }

    #[test]
    fn the_odd_riser_is_the_one_marked() {
        assert_eq!(within(&[140.0, 178.0, 178.0], &[38.0]), [false, true, true]);
        assert_eq!(
            within(&[140.0, 210.0, 178.0], &[210.0]),
            [true, false, true]
        );
        assert_eq!(within(&[178.0, 178.0], &[]), [true, true]);
    }

    #[test]
    fn abbreviations_keep_their_capitals() {
        assert_eq!(lower_first("Low air"), "low air");
        assert_eq!(lower_first("ASR gel"), "ASR gel");
    }
}
