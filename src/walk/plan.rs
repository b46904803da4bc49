//! Which questions are still to be asked, in the order a person walks: context, look, tap,
//! measure, what the owner and the papers know, steps, wishes.
//!
//! The record's own fields stand here with the facts they feed; the words of a question, how to
//! measure, what it costs and what may hurt come from the fact list of the pack. A field that the
//! work needs is always asked; a sign only while its answer can still change a verdict or the
//! leading cause of a defect.

use serde_json::Value;

use crate::facts::{Comes, Fact, FactKind, Pass, Scope};
use crate::record::geometry;
use crate::units::Kind;

use super::state::Walk;

/// A stretch of the walk.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Stage {
    /// Who, where, when; climate; the slab as a whole.
    Context,
    /// What is seen.
    Look,
    /// What the hammer and the knife say.
    Tap,
    /// What tools read.
    Measure,
    /// What the owner, the papers and a laboratory know.
    AskAround,
    /// Steps, doors, edges.
    Steps,
    /// What the owner would like.
    Wishes,
    /// What else is to be taken down.
    More,
}

impl Stage {
    /// Name of the stretch.
    pub fn name(self) -> &'static str {
        match self {
            Stage::Context => "context",
            Stage::Look => "look",
            Stage::Tap => "tap",
            Stage::Measure => "measure",
            Stage::AskAround => "ask around",
            Stage::Steps => "steps and doors",
            Stage::Wishes => "wishes",
            Stage::More => "anything more",
        }
    }
}

/// One of the answers to choose from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pick {
    /// Word in the record.
    pub word: String,
    /// In plain words.
    pub name: String,
}

/// How an answer is read and where it goes.
#[derive(Debug, Clone, PartialEq)]
pub enum Take {
    /// Free text.
    Text,
    /// A day.
    Day,
    /// When the slab was placed: a year, a month or a day.
    Placed,
    /// One of the picks; `many` allows several that are possible, `unknown` the word `unknown`.
    Word {
        /// Whether several possible words may be given.
        many: bool,
        /// Whether the field takes `unknown`.
        unknown: bool,
    },
    /// One measure.
    Measure(Kind),
    /// Several measures.
    Measures(Kind),
    /// Bare numbers.
    Numbers,
    /// Width by length.
    Size,
    /// Two lengths on the map.
    Point,
    /// Widths of the columns by heights of the rows.
    Panels,
    /// Names of panels.
    PanelNames,
    /// Taps and dull taps.
    Sounding,
    /// A list of words, such as readings of a plastic sheet.
    Words,
    /// A kind of defect to add, or none.
    Defect {
        /// Number it gets.
        number: u32,
    },
    /// The name of a further area, or none.
    Area {
        /// Short name it gets.
        id: String,
    },
    /// Risers of a flight to add, or none.
    Stair {
        /// Short name it gets.
        id: String,
    },
    /// Drop at a door to add, or none.
    Door {
        /// Short name it gets.
        id: String,
        /// Area outside it.
        area: String,
    },
    /// What an area runs up against; each pick adds an edge.
    Edges {
        /// The area.
        area: String,
    },
    /// Which of the picks are there at all; each is then asked for. The words are paths.
    Checklist,
    /// A few lines of free text.
    Lines,
    /// A whole number.
    Count,
    /// Corners of an outline, in order.
    Corners,
    /// A kind of joint to add, with its opening, or none.
    Joint {
        /// Short name it gets.
        id: String,
    },
    /// Readings on several days; `slab` allows the slab's temperature with each.
    Dated {
        /// Whether a reading may say how warm the slab was.
        slab: bool,
    },
    /// Hollow patches: middle and size of each.
    Patches,
    /// Panels, each with a value of a fact.
    PanelSign {
        /// The fact.
        fact: String,
        /// Its kind, where it is a measure.
        kind: Option<Kind>,
        /// The panels there are.
        panels: Vec<String>,
    },
    /// A photo of a defect, or none.
    Photo,
    /// A remark on a defect or a part, or none.
    Remark,
    /// A product, or none.
    Material {
        /// Its place in the list.
        index: usize,
    },
    /// A line of the price book, or none.
    Price,
}

/// A question of the walk.
#[derive(Debug, Clone, PartialEq)]
pub struct Question {
    /// Path of the answer in the record, or a name of its own for what has none.
    pub key: String,
    /// Stretch of the walk it belongs to.
    pub stage: Stage,
    /// What it is about: `the slab`, `patio`, `defect 2, crack`.
    pub about: String,
    /// The question.
    pub ask: String,
    /// How to find it out; may be empty.
    pub how: String,
    /// What may hurt whoever does.
    pub cautions: Vec<String>,
    /// Minutes of work; 0 where it takes none worth naming.
    pub minutes: f64,
    /// Who may do it, where not anyone.
    pub who: Option<String>,
    /// Days to wait for the answer.
    pub wait_days: f64,
    /// Answers to choose from.
    pub picks: Vec<Pick>,
    /// How the answer is read.
    pub take: Take,
    /// How the answer is written, by example.
    pub example: String,
    /// Remark put behind the value.
    pub remark: String,
    /// Whether the record can't stand without it.
    pub needed: bool,
}

/// When a field is asked for.
#[derive(Clone, Copy, PartialEq, Eq)]
enum When {
    /// Always.
    Always,
    /// While one of its facts can still change anything.
    Matters,
}
use When::{Always, Matters};

/// A field of the record, its question's fact, and further facts it feeds.
struct Field {
    name: &'static str,
    facts: &'static [&'static str],
    take: Take,
    when: When,
}

const fn field(
    name: &'static str,
    facts: &'static [&'static str],
    take: Take,
    when: When,
) -> Field {
    Field {
        name,
        facts,
        take,
        when,
    }
}

const WORDS: Take = Take::Word {
    many: true,
    unknown: true,
};
pub(super) const WORD: Take = Take::Word {
    many: false,
    unknown: false,
};
const LENGTH: Take = Take::Measure(Kind::Length);

/// Of the site, asked at once.
const SITE: [Field; 3] = [
    field("weathering", &["weathering", "freezes"], WORDS, Always),
    field("deicers", &["deicers", "chloride_salt_used"], WORDS, Always),
    field("drainage", &["drainage"], WORDS, Always),
];

/// Of the site, asked when it matters.
const SITE_LATER: [Field; 4] = [
    field(
        "freeze_thaw_days",
        &["freeze_thaw_days"],
        Take::Measure(Kind::Number),
        Matters,
    ),
    field("soil", &["soil"], WORDS, Matters),
    field("tree_distance", &["tree_distance"], LENGTH, Matters),
    field("sun", &["sun"], WORDS, Matters),
];

/// Of the slab, asked at once.
const SLAB: [Field; 6] = [
    field("placed", &["age"], Take::Placed, Always),
    field("finish", &["finish"], WORDS, Always),
    field("covering", &["covering"], WORDS, Always),
    field("support", &["support"], WORDS, Always),
    field("reinforcement", &["reinforcement"], WORDS, Always),
    field("thickness", &["thickness"], LENGTH, Always),
];

/// Of the slab, asked when it matters.
const SLAB_LATER: [Field; 4] = [
    field(
        "mix.air",
        &["mix_air", "air_shortfall"],
        Take::Measure(Kind::Share),
        Matters,
    ),
    field(
        "mix.largest_stone",
        &["mix_stone", "air_shortfall"],
        LENGTH,
        Matters,
    ),
    field(
        "mix.strength",
        &["mix_strength"],
        Take::Measure(Kind::Pressure),
        Matters,
    ),
    field(
        "mix.chloride",
        &["chloride_content"],
        Take::Measure(Kind::Share),
        Matters,
    ),
];

/// Of a defect: looked at, then measured. Which kinds a field is for stands in the fact list.
const DEFECT: [Field; 12] = [
    field("stones", &["stones"], WORDS, Always),
    field("depth", &["loss_depth", "depth_ratio"], LENGTH, Always),
    field(
        "greatest_depth",
        &["greatest_depth", "depth_ratio"],
        LENGTH,
        Matters,
    ),
    field("diameter", &["diameter"], LENGTH, Always),
    field("width", &["crack_width"], LENGTH, Always),
    field("width", &["spall_width"], LENGTH, Matters),
    field("length", &["crack_length"], LENGTH, Always),
    field("offset", &["offset"], LENGTH, Always),
    field("spacing", &["spacing"], LENGTH, Matters),
    field("water_depth", &["water_depth"], LENGTH, Always),
    field(
        "count",
        &["count", "crack_count"],
        Take::Measure(Kind::Number),
        Matters,
    ),
    field("frame_counts", &["frame_mean"], Take::Numbers, Matters),
];

/// Of an area.
const TESTS: [Field; 7] = [
    field("fall", &["fall"], Take::Measure(Kind::Slope), Always),
    field(
        "tests.water_drop",
        &["water_drop"],
        Take::Measures(Kind::Duration),
        Matters,
    ),
    field("tests.sheet", &["sheet"], Take::Words, Matters),
    field("tests.ph", &["ph"], Take::Numbers, Matters),
    field(
        "tests.humidity",
        &["humidity"],
        Take::Measures(Kind::Share),
        Matters,
    ),
    field(
        "tests.pull_off",
        &["pull_off"],
        Take::Measures(Kind::Pressure),
        Matters,
    ),
    field(
        "tests.slab_temperature",
        &["slab_temperature"],
        Take::Measure(Kind::Temperature),
        Matters,
    ),
];

/// Everything still to be asked.
pub(super) fn questions(walk: &Walk<'_>) -> Vec<Question> {
    let mut p = Planner {
        walk,
        out: Vec::new(),
    };
    p.context();
    p.look();
    p.tap();
    p.measure();
    p.ask_around();
    p.steps();
    p.wishes();
    p.more();
    p.out
}

pub(super) struct Planner<'w, 'p> {
    pub(super) walk: &'w Walk<'p>,
    pub(super) out: Vec<Question>,
}

impl Planner<'_, '_> {
    fn at(&self, path: &str) -> Option<&Value> {
        at_path(&self.walk.json, path)
    }

    pub(super) fn has(&self, path: &str) -> bool {
        self.at(path).is_some_and(|v| !v.is_null())
    }

    pub(super) fn text_at(&self, path: &str) -> Option<&str> {
        self.at(path).and_then(Value::as_str)
    }

    /// Whether a thing came into the record on this walk.
    pub(super) fn is_new(&self, path: &str) -> bool {
        self.walk.fresh() || at_path(&self.walk.base_json, path).is_none_or(Value::is_null)
    }

    pub(super) fn closed(&self, key: &str) -> bool {
        self.walk.closed.contains(key)
    }

    /// Whether a value is still to be asked for, needed or not.
    pub(super) fn missing(&self, path: &str) -> bool {
        self.walk.required.contains(path) || (!self.has(path) && !self.closed(path))
    }

    /// Whether a list is still to be added to.
    pub(super) fn list_open(&self, key: &str, list: &str) -> bool {
        self.walk.wanted.contains(key) || (self.is_new(list) && !self.closed(key))
    }

    pub(super) fn matters(&self, facts: &[&str], thing: usize) -> bool {
        let vocabulary = &self.walk.pack.vocabulary;
        // What a field of an outer thing feeds may be open in things inside it.
        facts
            .iter()
            .filter_map(|f| vocabulary.find(f))
            .any(|id| self.walk.open_within.contains(&(id, thing)))
    }

    pub(super) fn own(
        &mut self,
        stage: Stage,
        key: &str,
        about: &str,
        ask: &str,
        take: Take,
    ) -> &mut Question {
        let example = example(&take).to_owned();
        self.out.push(Question {
            key: key.to_owned(),
            stage,
            about: about.to_owned(),
            ask: ask.to_owned(),
            how: String::new(),
            cautions: Vec::new(),
            minutes: 0.0,
            who: None,
            wait_days: 0.0,
            picks: Vec::new(),
            take,
            example,
            remark: String::new(),
            needed: self.walk.required.contains(key),
        });
        // It has just been put there.
        let last = self.out.len() - 1;
        &mut self.out[last]
    }

    /// A question with the words of a fact.
    pub(super) fn of_fact(
        &mut self,
        stage: Stage,
        path: &str,
        about: &str,
        fact: &Fact,
        take: Take,
    ) {
        let cautions = self
            .walk
            .pack
            .cautions(fact)
            .into_iter()
            .map(str::to_owned)
            .collect();
        let q = self.own(
            stage,
            path,
            about,
            fact.ask.as_deref().unwrap_or(&fact.name),
            take,
        );
        q.how = fact.measure.clone().unwrap_or_default();
        q.cautions = cautions;
        q.minutes = fact.minutes;
        q.wait_days = fact.wait_days;
        q.who = (fact.who != "anyone").then(|| fact.who.clone());
        q.picks = picks(fact);
        q.remark = fact.name.clone();
    }

    fn fields(&mut self, stage: Stage, base: &str, about: &str, thing: usize, fields: &[Field]) {
        for f in fields {
            let path = format!("{base}.{}", f.name);
            let vocabulary = &self.walk.pack.vocabulary;
            let Some(fact) = f
                .facts
                .first()
                .and_then(|id| vocabulary.find(id))
                .map(|id| vocabulary.fact(id))
            else {
                continue;
            };
            if self.missing(&path) && (f.when == Always || self.matters(f.facts, thing)) {
                self.of_fact(stage, &path, about, &fact.clone(), f.take.clone());
                let example = match f.name {
                    "thickness" => "4 in",
                    "tree_distance" => "20 ft",
                    "length" => "6 ft",
                    "width" => "0.02 in, or 1/8 in",
                    "spacing" => "2 ft",
                    "depth" => "1/8 to 1/4 in",
                    _ => continue,
                };
                if let Some(q) = self.out.last_mut() {
                    q.example = example.to_owned();
                }
            }
        }
    }

    /// Signs of a thing that are asked at one pass: those that matter, and those the inspector said
    /// are there.
    pub(super) fn signs(
        &mut self,
        stage: Stage,
        base: &str,
        about: &str,
        thing: usize,
        scope: Scope,
        which: &dyn Fn(&Fact) -> bool,
    ) {
        let asked: Vec<Fact> = self
            .walk
            .pack
            .vocabulary
            .facts()
            .filter(|(_, f)| f.comes == Comes::Asked && f.scope == scope && which(f))
            .filter(|(id, f)| {
                let path = format!("{base}.signs.{}", f.id);
                ((f.silent.is_none() && self.walk.open.contains(&(*id, thing)))
                    || self.walk.wanted.contains(&path))
                    && self.missing(&path)
            })
            .map(|(_, f)| f.clone())
            .collect();
        for fact in asked {
            let take = match fact.kind {
                FactKind::Quantity(kind) => Take::Measure(kind),
                FactKind::Choice { .. } => WORDS,
            };
            let path = format!("{base}.signs.{}", fact.id);
            self.of_fact(stage, &path, about, &fact, take);
        }
    }

    /// One question for all the things that are plainly seen and else taken not to be there.
    fn checklist(&mut self, base: &str, about: &str, scope: Scope, kind: Option<&str>) {
        let key = format!("{base}.signs?");
        if self.closed(&key) || !self.is_new(base) {
            return;
        }
        let list: Vec<Pick> = self
            .walk
            .pack
            .vocabulary
            .facts()
            .map(|(_, f)| f)
            .filter(|f| f.comes == Comes::Asked && f.scope == scope)
            .filter(|f| f.silent.is_some() && concerns(f, kind))
            .filter(|f| !self.has(&format!("{base}.signs.{}", f.id)))
            .map(|f| Pick {
                word: format!("{base}.signs.{}", f.id),
                name: f.name.clone(),
            })
            .collect();
        if list.is_empty() {
            return;
        }
        let q = self.own(
            Stage::Look,
            &key,
            about,
            "Is any of this there? Give the numbers, or `none`.",
            Take::Checklist,
        );
        q.how =
            "All of it is plainly seen on a walk; what you don't name is taken not to be there."
                .to_owned();
        q.picks = list;
    }

    pub(super) fn areas(&self) -> Vec<(usize, String, String, String)> {
        self.walk
            .loaded
            .record
            .areas
            .iter()
            .enumerate()
            .map(|(i, a)| (i, format!("areas.{i}"), a.id.clone(), a.name.clone()))
            .collect()
    }

    /// Index, path, thing, kind word and label of every defect of an area.
    pub(super) fn defects(&self, area: usize) -> Vec<(usize, String, usize, String, String)> {
        let things = self.walk.survey.areas.get(area);
        let Some(record) = self.walk.loaded.record.areas.get(area) else {
            return Vec::new();
        };
        let kinds = self.kind_names();
        record
            .defects
            .iter()
            .enumerate()
            .filter_map(|(j, d)| {
                let path = format!("areas.{area}.defects.{j}");
                let kind = self.text_at(&format!("{path}.kind"))?.to_owned();
                let name = kinds
                    .iter()
                    .find(|p| p.word == kind)
                    .map_or(kind.as_str(), |p| p.name.as_str())
                    .to_owned();
                let thing = *things?.defects.get(j)?;
                Some((j, path, thing, kind, format!("defect {}, {name}", d.id)))
            })
            .collect()
    }

    fn kind_names(&self) -> Vec<Pick> {
        let vocabulary = &self.walk.pack.vocabulary;
        vocabulary
            .find("kind")
            .map_or_else(Vec::new, |id| picks(vocabulary.fact(id)))
    }

    fn context(&mut self) {
        use Stage::Context;
        for (key, ask) in [
            ("job.client", "Who asked for the inspection?"),
            ("job.address", "Where is the slab?"),
            ("job.inspector", "Who walks the slab?"),
        ] {
            if self.missing(key) {
                self.own(Context, key, "the job", ask, Take::Text);
            }
        }
        if self.missing("job.date") {
            let day = self.text_at("job.date").unwrap_or_default().to_owned();
            let q = self.own(
                Context,
                "job.date",
                "the job",
                "On which day was it walked? Nothing typed takes the day shown.",
                Take::Day,
            );
            q.example = day;
        }
        if self.missing("job.units") {
            let q = self.own(
                Context,
                "job.units",
                "the job",
                "Which units should the papers be printed in? What you type may be either.",
                WORD,
            );
            q.picks = [
                ("us", "inches and feet"),
                ("metric", "millimetres and metres"),
            ]
            .map(|(word, name)| Pick {
                word: word.to_owned(),
                name: name.to_owned(),
            })
            .into();
        }
        let vocabulary = &self.walk.pack.vocabulary;
        if self.missing("slab.use")
            && let Some(fact) = vocabulary.find("use").map(|id| vocabulary.fact(id))
        {
            self.of_fact(Context, "slab.use", "the slab", &fact.clone(), WORD);
        }
        // A new record can't stand without a part to judge, so the first is asked for at once.
        if self.walk.required.contains("areas.0.name") {
            self.area_name(Context, "areas.0");
        }
        if self.walk.required.contains("areas.0.size") {
            let name = self
                .text_at("areas.0.name")
                .unwrap_or("the slab")
                .to_owned();
            self.area_size(Context, "areas.0", &name);
        }
        let (site, slab) = (self.walk.survey.site, self.walk.survey.slab);
        self.fields(Context, "site", "the site", site, &SITE);
        self.fields(Context, "slab", "the slab", slab, &SLAB);
        if self.text_at("slab.finish") == Some("patterned") {
            let f = [field("relief", &["relief"], LENGTH, Always)];
            self.fields(Context, "slab", "the slab", slab, &f);
        }
        if self.text_at("slab.covering") == Some("overlay")
            && self.missing("slab.covering_thickness")
        {
            let q = self.own(
                Context,
                "slab.covering_thickness",
                "the slab",
                "How thick is the overlay that lies on it?",
                LENGTH,
            );
            q.how = "Measure at an edge or where a piece has come off.".to_owned();
            q.remark = "thickness of the earlier overlay".to_owned();
        }
        self.checklist("slab", "the slab", Scope::Slab, None);
    }

    fn look(&mut self) {
        use Stage::Look;
        for (i, path, _, name) in self.areas() {
            let key = format!("{path}.size");
            if !self.sized(&path) && self.missing(&key) {
                self.area_size(Look, &path, &name);
            }
            let key = format!("{path}.panels");
            if self.missing(&key) {
                let q = self.own(
                    Look,
                    &key,
                    &name,
                    "How do the joints divide it? Widths of the columns from the left, `by`, heights of the rows from below; `none` if there are no joints.",
                    Take::Panels,
                );
                q.how = "Tape between joints, along two sides of the area.".to_owned();
                q.minutes = 5.0;
            }
            self.joints(i, &path, &name);
            self.checklist(&path, &name, Scope::Area, None);
            let many_panels = self
                .walk
                .survey
                .areas
                .get(i)
                .is_some_and(|a| a.panels.len() > 1);
            for (_, path, thing, kind, label) in self.defects(i) {
                self.defect_looks(&path, thing, &kind, &label, i, many_panels);
            }
            let key = format!("{path}.defects?");
            if self.list_open(&key, &format!("{path}.defects")) {
                let number = self.next_number();
                let none_yet = self.defects(i).is_empty();
                let kinds = self.kind_names();
                let q = self.own(
                    Look,
                    &key,
                    &name,
                    if none_yet {
                        "What do you see that is wrong? One thing at a time; `none` if nothing."
                    } else {
                        "What else is wrong here? `none` if that is all."
                    },
                    Take::Defect { number },
                );
                q.how =
                    "Say what is seen, not why: the cause is worked out from the signs.".to_owned();
                q.picks = kinds;
            }
            let thing = self.walk.survey.areas.get(i).map_or(0, |a| a.thing);
            self.signs(Look, &path, &name, thing, Scope::Area, &|f| {
                f.pass == Pass::Look && is_quick(f)
            });
        }
        if self.list_open("areas?", if self.walk.fresh() { "-" } else { "areas" }) {
            let id = self.next_area();
            let q = self.own(
                Look,
                "areas?",
                "the slab",
                "Is there another part to be judged on its own? Its name, then width by length; `none` if not.",
                Take::Area { id },
            );
            q.how = "A part with another use, another age, another level or plainly other damage is judged on its own."
                .to_owned();
        }
    }

    /// Whether it is known how large an area is.
    fn sized(&self, path: &str) -> bool {
        ["size", "outline", "surface"]
            .iter()
            .any(|f| self.has(&format!("{path}.{f}")))
    }

    fn area_name(&mut self, stage: Stage, path: &str) {
        self.own(
            stage,
            &format!("{path}.name"),
            "the slab",
            "What do people call this slab, or the first part of it that you judge on its own?",
            Take::Text,
        );
    }

    fn area_size(&mut self, stage: Stage, path: &str, about: &str) {
        let q = self.own(
            stage,
            &format!("{path}.size"),
            about,
            "How large is it, width by length? Or its corners in order with `;` between, each from the lower left of the map.",
            Take::Size,
        );
        q.how = "Tape two sides, or pace them. A part that is no rectangle: tape every corner to the right and up from one that is square, such as `0 ft, 0 ft; 12 ft, 0 ft; 12 ft, 20 ft; 0 ft, 16 ft`. A surface such as `240 ft2` will do, without a map."
            .to_owned();
        q.minutes = 5.0;
        q.remark = "width across the map by length".to_owned();
    }

    fn defect_looks(
        &mut self,
        path: &str,
        thing: usize,
        kind: &str,
        label: &str,
        area: usize,
        many_panels: bool,
    ) {
        use Stage::Look;
        let key = format!("{path}.panels");
        if many_panels && self.missing(&key) {
            let names = self.panel_names(area);
            let q = self.own(
                Look,
                &key,
                label,
                "In which panels does it lie?",
                Take::PanelNames,
            );
            q.how = "Columns are letters from the left, rows numbers from below: A1 is the lower left panel."
                .to_owned();
            q.picks = names;
        }
        let spread = self.fact_concerns("defect_surface", kind);
        let sized = ["extent", "surface", "share"]
            .iter()
            .any(|f| self.has(&format!("{path}.{f}")));
        let key = format!("{path}.extent");
        if spread && !sized && self.missing(&key) {
            let q = self.own(
                Look,
                &key,
                label,
                "How large is the damaged patch, width by length? Or its share of the area, such as `9 %`.",
                Take::Size,
            );
            q.how = "Chalk round it and tape the rectangle it fills.".to_owned();
            q.minutes = 2.0;
            q.example = "3 ft x 2 ft".to_owned();
            q.remark = "damaged patch".to_owned();
        }
        let key = format!("{path}.at");
        let mapped = ["size", "outline"]
            .iter()
            .any(|f| self.has(&format!("areas.{area}.{f}")));
        if self.missing(&key) && mapped {
            let q = self.own(
                Look,
                &key,
                label,
                "Where on the map is its middle, from the lower left corner: to the right, then up?",
                Take::Point,
            );
            q.how = "Tape or pace it; it puts the number on the map.".to_owned();
            q.remark = "centre on the map".to_owned();
        }
        let fields: Vec<Field> = self.defect_fields(kind, Pass::Look);
        self.fields(Look, path, label, thing, &fields);
        self.checklist(path, label, Scope::Defect, Some(kind));
        self.signs(Look, path, label, thing, Scope::Defect, &|f| {
            f.pass == Pass::Look && is_quick(f) && concerns(f, Some(kind))
        });
    }

    fn tap(&mut self) {
        use Stage::Tap;
        for (i, path, _, name) in self.areas() {
            let key = format!("{path}.tests.sounding");
            let vocabulary = &self.walk.pack.vocabulary;
            if self.missing(&key)
                && let Some(fact) = vocabulary
                    .find("hollow_share")
                    .map(|id| vocabulary.fact(id))
            {
                self.of_fact(Tap, &key, &name, &fact.clone(), Take::Sounding);
                if let Some(q) = self.out.last_mut() {
                    q.remark = String::new();
                }
            }
            let thing = self.walk.survey.areas.get(i).map_or(0, |a| a.thing);
            self.signs(Tap, &path, &name, thing, Scope::Area, &|f| {
                f.pass == Pass::Tap && is_quick(f)
            });
            for (_, path, thing, kind, label) in self.defects(i) {
                self.signs(Tap, &path, &label, thing, Scope::Defect, &|f| {
                    f.pass == Pass::Tap && is_quick(f) && concerns(f, Some(&kind))
                });
            }
        }
    }

    fn measure(&mut self) {
        use Stage::Measure;
        for (i, path, _, name) in self.areas() {
            for (_, path, thing, kind, label) in self.defects(i) {
                let fields: Vec<Field> = self.defect_fields(&kind, Pass::Measure);
                self.fields(Measure, &path, &label, thing, &fields);
                self.signs(Measure, &path, &label, thing, Scope::Defect, &|f| {
                    f.pass == Pass::Measure && is_quick(f) && concerns(f, Some(&kind))
                });
            }
            let thing = self.walk.survey.areas.get(i).map_or(0, |a| a.thing);
            self.fields(Measure, &path, &name, thing, &TESTS);
            self.signs(Measure, &path, &name, thing, Scope::Area, &|f| {
                f.pass == Pass::Measure && is_quick(f)
            });
        }
    }

    fn ask_around(&mut self) {
        use Stage::AskAround;
        let (site, slab) = (self.walk.survey.site, self.walk.survey.slab);
        self.fields(AskAround, "site", "the site", site, &SITE_LATER);
        self.signs(AskAround, "site", "the site", site, Scope::Site, &|_| true);
        self.signs(AskAround, "slab", "the slab", slab, Scope::Slab, &|_| true);
        self.fields(AskAround, "slab", "the slab", slab, &SLAB_LATER);
        // What takes a season or a laboratory comes last: on a walk it is mostly not known.
        self.seasons();
        for (i, path, _, name) in self.areas() {
            let thing = self.walk.survey.areas.get(i).map_or(0, |a| a.thing);
            self.signs(AskAround, &path, &name, thing, Scope::Area, &|f| {
                !is_quick(f)
            });
            for (_, path, thing, kind, label) in self.defects(i) {
                self.signs(AskAround, &path, &label, thing, Scope::Defect, &|f| {
                    !is_quick(f) && concerns(f, Some(&kind))
                });
            }
        }
    }

    fn steps(&mut self) {
        use Stage::Steps;
        let stairs = self.walk.loaded.record.stairs.len();
        let areas = self.areas();
        for s in 0..stairs {
            let id = self
                .text_at(&format!("stairs.{s}.id"))
                .unwrap_or_default()
                .to_owned();
            for (end, ask) in [
                ("from", "On which part does the first riser stand?"),
                ("to", "Up to which part does the last riser come?"),
            ] {
                let key = format!("stairs.{s}.{end}");
                let new = self.is_new(&format!("stairs.{s}"));
                if new && self.missing(&key) {
                    let mut list: Vec<Pick> = areas
                        .iter()
                        .map(|(_, _, id, name)| Pick {
                            word: id.clone(),
                            name: name.clone(),
                        })
                        .collect();
                    list.push(Pick {
                        word: "off".to_owned(),
                        name: "it is off the slab".to_owned(),
                    });
                    let q = self.own(Steps, &key, &id, ask, WORD);
                    q.picks = list;
                }
            }
        }
        for s in 0..stairs {
            let key = format!("stairs.{s}.treads_overlaid");
            if self.is_new(&format!("stairs.{s}")) && self.missing(&key) {
                let id = self.text_at(&format!("stairs.{s}.id"));
                let id = id.unwrap_or_default().to_owned();
                let q = self.own(
                    Steps,
                    &key,
                    &id,
                    "Do the treads get the same new layer as the slab?",
                    WORD,
                );
                q.picks = ["no", "yes"]
                    .map(|word| Pick {
                        word: word.to_owned(),
                        name: word.to_owned(),
                    })
                    .into();
                q.remark = "treads get the new layer".to_owned();
            }
        }
        self.step_code();
        if self.list_open("stairs?", "stairs") {
            let id = self.free_name("stairs", "steps");
            let vocabulary = &self.walk.pack.vocabulary;
            let fact = vocabulary
                .find("riser_greatest")
                .map(|id| vocabulary.fact(id).clone());
            let q = self.own(
                Steps,
                "stairs?",
                "the steps",
                if stairs == 0 {
                    "Does a flight of steps start or end on the slab? Give every riser, bottom to top; `none` if not."
                } else {
                    "Another flight? Give every riser, bottom to top; `none` if not."
                },
                Take::Stair { id },
            );
            q.how = fact.and_then(|f| f.measure).unwrap_or_default();
        }
        let doors = self.walk.loaded.record.thresholds.len();
        for d in 0..doors {
            let id = self
                .text_at(&format!("thresholds.{d}.id"))
                .unwrap_or_default()
                .to_owned();
            if !self.is_new(&format!("thresholds.{d}")) {
                continue;
            }
            let fields = [
                field("door_clearance", &["door_clearance"], LENGTH, Always),
                field("required_exit", &["required_exit"], WORD, Always),
            ];
            let thing = self.walk.survey.thresholds.get(d).copied().unwrap_or(0);
            self.fields(Steps, &format!("thresholds.{d}"), &id, thing, &fields);
        }
        for (i, _, area, name) in &areas {
            let key = format!("areas.{i}.doors?");
            if self.list_open(&key, "thresholds") {
                let id = self.free_name("thresholds", "door");
                let vocabulary = &self.walk.pack.vocabulary;
                let fact = vocabulary
                    .find("drop")
                    .map(|id| vocabulary.fact(id).clone());
                let any = self
                    .walk
                    .loaded
                    .record
                    .thresholds
                    .iter()
                    .any(|t| t.area == *area);
                let q = self.own(
                    Steps,
                    &key,
                    name,
                    if any {
                        "Another door here? How far below the top of its threshold is the slab? `none` if not."
                    } else {
                        "Does a door open on to it? How far below the top of the threshold is the slab? `none` if not."
                    },
                    Take::Door {
                        id,
                        area: area.clone(),
                    },
                );
                q.how = fact.and_then(|f| f.measure).unwrap_or_default();
            }
        }
        for (i, _, area, name) in &areas {
            let key = format!("areas.{i}.edges?");
            if self.list_open(&key, "edges") {
                let list = crate::record::words::words("Edge", "kind")
                    .map(|w| w.allowed(Some(&self.walk.pack.vocabulary)))
                    .unwrap_or_default()
                    .into_iter()
                    .map(|word| Pick {
                        word: word.to_owned(),
                        name: word.replace('_', " "),
                    })
                    .collect();
                let q = self.own(
                    Steps,
                    &key,
                    name,
                    "What does it run up against? Give the numbers, or `none`.",
                    Take::Edges { area: area.clone() },
                );
                q.picks = list;
            }
        }
        for (e, edge) in self.walk.loaded.record.edges.iter().enumerate() {
            let key = format!("edges.{e}.height");
            if self.is_new(&format!("edges.{e}"))
                && self.missing(&key)
                && !matches!(edge.kind.as_str(), "building" | "wall")
            {
                let about = format!("{}, edge to the {}", edge.area, edge.kind);
                let q = self.own(
                    Steps,
                    &key,
                    &about,
                    "How far does the slab stand above it? A minus if it stands below.",
                    LENGTH,
                );
                q.how = "Rule from the top of the slab down to it.".to_owned();
                q.minutes = 1.0;
            }
        }
    }

    fn wishes(&mut self) {
        use Stage::Wishes;
        let slab = self.walk.survey.slab;
        let about = "the owner";
        let finish = [
            field("finish", &["wish_finish"], WORD, Always),
            field("traffic", &["traffic"], WORD, Always),
        ];
        self.fields(Wishes, "wishes", about, slab, &finish);
        if self.text_at("wishes.finish") == Some("patterned") {
            let relief = [field("relief", &["wish_relief"], WORD, Always)];
            self.fields(Wishes, "wishes", about, slab, &relief);
        }
        for (key, ask, take) in [
            (
                "wishes.colour",
                "Any wish for the colour, in the owner's words?",
                Take::Text,
            ),
            (
                "wishes.budget",
                "What would the owner spend, in his own words?",
                Take::Text,
            ),
            (
                "wishes.life",
                "How long should it last?",
                Take::Measure(Kind::Duration),
            ),
        ] {
            if self.missing(key) {
                let q = self.own(Wishes, key, about, ask, take);
                if key == "wishes.life" {
                    q.example = "10 years".to_owned();
                }
            }
        }
        if self.missing("not_inspected") {
            let q = self.own(
                Wishes,
                "not_inspected",
                "the walk",
                "What could you not look at? `none` if you saw all of it.",
                Take::Lines,
            );
            q.how = "It stands in the report, so that nobody thinks you judged it. Part several with `;`."
                .to_owned();
            q.example = "the strip under the parked trailer".to_owned();
        }
    }

    fn defect_fields(&self, kind: &str, pass: Pass) -> Vec<Field> {
        DEFECT
            .into_iter()
            .filter(|f| {
                let vocabulary = &self.walk.pack.vocabulary;
                f.facts
                    .first()
                    .and_then(|id| vocabulary.find(id))
                    .map(|id| vocabulary.fact(id))
                    .is_some_and(|fact| concerns(fact, Some(kind)) && fact.pass == pass)
            })
            .collect()
    }

    pub(super) fn fact_concerns(&self, fact: &str, kind: &str) -> bool {
        let vocabulary = &self.walk.pack.vocabulary;
        vocabulary
            .find(fact)
            .is_some_and(|id| concerns(vocabulary.fact(id), Some(kind)))
    }

    pub(super) fn panel_names(&self, area: usize) -> Vec<Pick> {
        let Some(panels) = self
            .walk
            .loaded
            .record
            .areas
            .get(area)
            .and_then(|a| a.panels.as_ref())
        else {
            return Vec::new();
        };
        (0..panels.rows.len())
            .flat_map(|row| (0..panels.columns.len()).map(move |column| (column, row)))
            .map(|(column, row)| geometry::panel_name(column, row))
            .map(|name| Pick {
                word: name.clone(),
                name,
            })
            .collect()
    }

    fn next_number(&self) -> u32 {
        let record = &self.walk.loaded.record;
        let greatest = record
            .areas
            .iter()
            .flat_map(|a| &a.defects)
            .map(|d| d.id)
            .max();
        greatest.unwrap_or(0).saturating_add(1)
    }

    fn next_area(&self) -> String {
        let record = &self.walk.loaded.record;
        ('A'..='Z')
            .map(String::from)
            .chain((27..).map(|n| format!("area-{n}")))
            .find(|id| record.areas.iter().all(|a| a.id != *id))
            .unwrap_or_default()
    }

    pub(super) fn free_name(&self, list: &str, word: &str) -> String {
        let taken: Vec<&str> = self
            .at(list)
            .and_then(Value::as_array)
            .into_iter()
            .flatten()
            .filter_map(|v| v.get("id").and_then(Value::as_str))
            .collect();
        (1..)
            .map(|n| format!("{word}-{n}"))
            .find(|id| !taken.contains(&id.as_str()))
            .unwrap_or_default()
    }
}

/// Whether a fact is asked for a kind of defect.
pub(super) fn concerns(fact: &Fact, kind: Option<&str>) -> bool {
    fact.kinds.is_empty() || kind.is_some_and(|k| fact.kinds.iter().any(|own| own == k))
}

/// Whether a fact can be found out on the day.
fn is_quick(fact: &Fact) -> bool {
    fact.wait_days < 1.0 && fact.who != "laboratory" && fact.who != "engineer"
}

fn picks(fact: &Fact) -> Vec<Pick> {
    fact.values()
        .iter()
        .map(|v| Pick {
            word: v.id.clone(),
            name: v.name.clone(),
        })
        .collect()
}

/// The value at a path.
pub(super) fn at_path<'v>(root: &'v Value, path: &str) -> Option<&'v Value> {
    path.split('.').try_fold(root, |node, step| match node {
        Value::Array(items) => items.get(step.parse::<usize>().ok()?),
        node => node.get(step),
    })
}

/// How an answer is written, by example.
fn example(take: &Take) -> &'static str {
    match take {
        Take::Measure(kind) => kind.examples().first().copied().unwrap_or_default(),
        Take::Measures(Kind::Duration) => "20 s, 45 s, 2 min",
        Take::Measures(Kind::Pressure) => "180 psi, 210 psi",
        Take::Measures(Kind::Share) => "72 %, 75 %",
        Take::Measures(_) => "7 in, 7-1/8 in",
        Take::Numbers => "2, 3, 1",
        Take::Size => "12 ft x 30 ft",
        Take::Corners => "0 ft, 0 ft; 12 ft, 0 ft; 12 ft, 20 ft; 0 ft, 16 ft",
        Take::Patches => "4 ft, 6 ft, 3 ft x 2 ft",
        Take::Count => "3",
        Take::Point => "4 ft, 6 ft",
        Take::Panels => "10 ft, 10 ft by 4 x 10 ft",
        Take::PanelNames => "A1, A2",
        Take::Sounding => "60 taps, 4 dull",
        Take::Words => "dry, damp",
        Take::Placed => "2011, or 2011-06, or 2011-06-20",
        Take::Day => "2026-05-14",
        Take::Stair { .. } => "7 in, 7-1/8 in, 7 in",
        Take::Door { .. } => "2-1/2 in",
        Take::Area { .. } => "front walk, 4 ft x 30 ft",
        _ => "",
    }
}
