//! Questions on the method: how the work of a case is done.
//!
//! What is right is what the method stage specifies for the case. What is wrong comes from the rules
//! as well: candidates turned down, work that must not be done, and steps of a neighbouring way of
//! working; each with the row that says so.

use std::collections::HashSet;

use crate::assessment::{made, quantity};
use crate::facts::{Bits, FactId, Interval, Scope};
use crate::method::{AreaMethod, Limit, Overlay, in_favour, specify};
use crate::rules::{Body, Condition, Contestant, Rank, Row, Set, Table, Then, Visit, Work};
use crate::source::{Problem, Problems, SourceFile};
use crate::units::{Kind, capital};

use super::lesson::{Case, Lesson, Stated};
use super::made::Dice;
use super::play::Play;

/// Most right and most wrong answers of a question; a screenful.
const MOST: usize = 3;
/// Most wrong answers to a question with one right answer.
const MOST_OTHERS: usize = 4;
/// Most wrong answers of one sort, while there are others.
const MOST_ALIKE: usize = 2;

/// A part of the method that is asked about; a topic of its own in the scores.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Part {
    /// What is laid, filled or coated with.
    System,
    /// How thick the layer is.
    Thickness,
    /// Making the surface ready.
    Prep,
    /// Bonding.
    Bond,
    /// Joints and cracks.
    Joints,
    /// Filling and laying.
    Placing,
    /// Curing, sealing, opening again.
    Cure,
    /// What comes before what.
    Order,
    /// What is done until the work is decided.
    Until,
}

impl Part {
    /// Every part, in the order of the work.
    pub const ALL: [Part; 9] = [
        Part::System,
        Part::Thickness,
        Part::Prep,
        Part::Bond,
        Part::Joints,
        Part::Placing,
        Part::Cure,
        Part::Order,
        Part::Until,
    ];

    /// Word in the scores and in lessons.
    pub fn word(self) -> &'static str {
        match self {
            Part::System => "system",
            Part::Thickness => "thickness",
            Part::Prep => "prep",
            Part::Bond => "bond",
            Part::Joints => "joints",
            Part::Placing => "placing",
            Part::Cure => "cure",
            Part::Order => "order",
            Part::Until => "until",
        }
    }

    /// Name for people.
    pub fn name(self) -> &'static str {
        match self {
            Part::System => "what goes on",
            Part::Thickness => "thickness",
            Part::Prep => "getting the surface ready",
            Part::Bond => "bonding",
            Part::Joints => "joints and cracks",
            Part::Placing => "filling and laying",
            Part::Cure => "curing, sealing, opening again",
            Part::Order => "the order of the work",
            Part::Until => "until it is decided",
        }
    }

    /// The part of a word.
    pub fn of_word(word: &str) -> Option<Part> {
        Part::ALL.into_iter().find(|p| p.word() == word)
    }

    fn ask(self) -> &'static str {
        match self {
            Part::System => "What serves here?",
            Part::Thickness => "How thick is the layer laid?",
            Part::Prep => "What is done before, and to get the surface ready?",
            Part::Bond => "How is it bonded?",
            Part::Joints => "What is done with joints and cracks?",
            Part::Placing => "How is it filled or laid?",
            Part::Cure => "What comes after: curing, sealing, opening again?",
            Part::Order => "In which order is it done?",
            Part::Until => "What is done until it is decided?",
        }
    }

    /// Stages of the work that belong to it.
    fn stages(self) -> &'static [&'static str] {
        match self {
            Part::System | Part::Thickness | Part::Order => &[],
            Part::Prep => &["protect", "remove", "profile"],
            Part::Bond => &["bond"],
            Part::Joints => &["cracks", "joints", "saw"],
            Part::Placing => &["patch", "overlay", "texture", "replace"],
            Part::Cure => &["cure", "seal", "reopen"],
            Part::Until => &["now"],
        }
    }

    fn of_stage(stage: &str) -> Option<Part> {
        Part::ALL.into_iter().find(|p| p.stages().contains(&stage))
    }
}

/// Stages of the work whose turn is beyond dispute, as one says them. Cracks and opening again are
/// none: the one goes before or after the roughening, the other by the use.
const TURNS: [(&str, &str); 9] = [
    ("replace", "break out and pour anew"),
    ("remove", "take off what is bad"),
    ("profile", "roughen and clean the surface"),
    ("patch", "fill the holes"),
    ("bond", "put the bonding coat on"),
    ("overlay", "lay the layer"),
    ("texture", "give it its texture"),
    ("cure", "cure it"),
    ("seal", "seal it"),
];

/// Fewest and most stages that are put in order.
const IN_ORDER: (usize, usize) = (3, 6);

/// Choices of the pack that decide on the work, with the stage their candidate belongs to. The first
/// of the lower four that is made for a case is what its question on the system asks.
const CHOICES: [(&str, &str); 7] = [
    ("removal_method", "remove"),
    ("profile_way", "profile"),
    ("bond_coat", "bond"),
    ("overlay_system", "overlay"),
    ("patch_material", "patch"),
    ("crack_repair", "cracks"),
    ("sealer", "seal"),
];

/// The questions on the method of a case.
#[derive(Debug, Clone)]
pub struct Quiz {
    /// What is to be done by the rules, in plain words.
    pub verdict: String,
    /// The questions, in the order of the work.
    pub questions: Vec<Question>,
    /// Why nothing is asked, where nothing is.
    pub left_out: Option<String>,
}

/// A question on the method.
#[derive(Debug, Clone)]
pub struct Question {
    /// What it is about.
    pub part: Part,
    /// The question.
    pub ask: String,
    /// Whether exactly one answer is right.
    pub one: bool,
    /// Whether all answers are to be put in order.
    pub order: bool,
    /// Cautions for what its answers speak of, right or wrong: row and text.
    pub cautions: Vec<(String, String)>,
    /// Answers to choose from, in an order that gives nothing away.
    pub picks: Vec<Pick>,
}

/// An answer to choose from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pick {
    /// Row of the step, or choice and candidate: `bond_coat.epoxy`.
    pub id: String,
    /// As said.
    pub text: String,
    /// Whether it is right.
    pub right: bool,
    /// Why it is right, or why it is not.
    pub why: String,
    /// The row behind it.
    pub rule: String,
    /// Where that row comes from.
    pub source: String,
    /// Place in the order of the work.
    at: usize,
}

/// An answer held against the rules.
#[derive(Debug, Clone)]
pub struct Marked<'q> {
    /// The question.
    pub question: &'q Question,
    /// Whether all that is right was chosen, and nothing else.
    pub right: bool,
    /// Right, and chosen, in the order of the work.
    pub hit: Vec<&'q Pick>,
    /// Right, and not chosen, in the order of the work.
    pub missed: Vec<&'q Pick>,
    /// Chosen, and wrong.
    pub wrong: Vec<&'q Pick>,
}

impl Question {
    /// Holds the answers chosen, by index, against what is right.
    pub fn mark(&self, chosen: &[usize]) -> Marked<'_> {
        if self.order {
            let mut all: Vec<&Pick> = self.picks.iter().collect();
            all.sort_by_key(|p| p.at);
            let own: Vec<&Pick> = chosen.iter().filter_map(|i| self.picks.get(*i)).collect();
            let right = own == all;
            return Marked {
                question: self,
                right,
                hit: if right { all.clone() } else { Vec::new() },
                missed: if right { Vec::new() } else { all },
                wrong: Vec::new(),
            };
        }
        let mut inside: Vec<(bool, &Pick)> = self
            .picks
            .iter()
            .enumerate()
            .map(|(i, p)| (chosen.contains(&i), p))
            .collect();
        inside.sort_by_key(|(_, p)| p.at);
        let which = |taken: bool, right: bool| -> Vec<&Pick> {
            inside
                .iter()
                .filter(|(t, p)| *t == taken && p.right == right)
                .map(|(_, p)| *p)
                .collect()
        };
        let (hit, missed, wrong) = (which(true, true), which(false, true), which(true, false));
        Marked {
            question: self,
            right: missed.is_empty() && wrong.is_empty(),
            hit,
            missed,
            wrong,
        }
    }
}

/// Where a wrong answer comes from, the most tempting first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Lure {
    /// What a row says must not be done.
    Forbidden,
    /// A candidate turned down.
    TurnedDown,
    /// A step of a candidate turned down.
    OfTurnedDown,
    /// A step of another candidate than the one chosen.
    OfOther,
    /// A step of a choice that is not made here at all.
    OfNothing,
}

/// A possible answer with what its cautions are found by.
struct Card<'p> {
    part: Part,
    stage: String,
    pick: Pick,
    lure: Lure,
    /// Facts its row asks for, or the candidate it is.
    marks: Vec<(FactId, Bits)>,
    /// Rows of cautions it names itself.
    cautions: Option<&'p str>,
}

impl<'p> Play<'p> {
    /// The questions on how the work is done. `turn` shuffles; the same turn gives the same
    /// questions.
    pub fn method(&self, turn: u64) -> Quiz {
        let found = self.assessment.areas.get(self.case.area);
        let verdict = found.map_or_else(String::new, |a| a.verdict.name.clone());
        let mut quiz = Quiz {
            verdict,
            questions: Vec::new(),
            left_out: None,
        };
        let Some(work) = self.work() else { return quiz };
        if !self.right_verdicts().contains(&work.verdict) {
            return quiz;
        }
        let cards = self.cards(&work);
        let seed = crate::rules::fnv(self.case.id.bytes()) ^ turn;
        let stated = &self.case.method;
        for part in Part::ALL {
            let mut dice = Dice::new(seed.wrapping_add(part as u64));
            let said = stated.iter().find(|s| s.part == part);
            if said.is_none() && !stated.is_empty() {
                continue;
            }
            quiz.questions
                .extend(self.question(part, said, &work, &cards, &mut dice));
        }
        if quiz.questions.is_empty() {
            let why = match (work.specified, &work.why_not) {
                (false, Some(why)) if work.verdict == "leave_alone" => why,
                (false, _) => "No work is specified before that is settled.",
                (true, _) => "There is nothing about this case's method to choose between.",
            };
            quiz.left_out = Some(why.to_owned());
        }
        quiz
    }

    fn work(&self) -> Option<AreaMethod> {
        let record = &self.case.loaded.record;
        let method = specify(
            record,
            None,
            &self.survey,
            self.pack,
            &self.ran,
            &self.fitted,
        );
        method.areas.into_iter().nth(self.case.area)
    }

    fn question(
        &self,
        part: Part,
        said: Option<&Stated>,
        work: &AreaMethod,
        cards: &[Card<'p>],
        dice: &mut Dice,
    ) -> Option<Question> {
        let one = matches!(part, Part::System | Part::Thickness);
        let order = part == Part::Order;
        let of = |right: bool| {
            let listed = said.map(|s| if right { &s.right } else { &s.wrong });
            let mut of: Vec<(u64, &Card<'_>)> = cards
                .iter()
                .filter(|c| c.part == part && c.pick.right == right)
                .filter(|c| {
                    listed.is_none_or(|l| l.is_empty() || l.iter().any(|(id, _)| *id == c.pick.id))
                })
                .map(|c| (0, c))
                .collect();
            (of.iter_mut()).for_each(|(key, _)| *key = dice.below(u64::MAX));
            let all = listed.is_some_and(|l| !l.is_empty());
            (of, all)
        };
        let mut of = of;
        let (mut right, all_right) = of(true);
        // What depends on this case says more than what is done on every slab.
        right.sort_by_key(|(key, c)| (c.marks.is_empty(), *key));
        let (mut wrong, all_wrong) = of(false);
        wrong.sort_by_key(|(key, c)| (c.lure, *key));
        let most = if one { MOST_OTHERS } else { MOST };
        if !all_right {
            right.truncate(if order { IN_ORDER.1 } else { MOST });
        }
        let wrong = match all_wrong {
            true => wrong,
            false => mixed(wrong, most),
        };
        let enough = match order {
            true => right.len() >= IN_ORDER.0,
            false => !right.is_empty() && !wrong.is_empty(),
        };
        if !enough {
            return None;
        }
        let mut chosen: Vec<(u64, &Card<'_>)> = right.into_iter().chain(wrong).collect();
        chosen.sort_by_key(|(key, _)| *key);
        let chosen: Vec<&Card<'_>> = chosen.into_iter().map(|(_, c)| c).collect();
        let own = said.and_then(|s| s.ask.clone());
        let of_table = || {
            let (table, ..) = self.system(work).filter(|_| part == Part::System)?;
            Some(table.question.clone())
        };
        Some(Question {
            part,
            ask: own
                .or_else(of_table)
                .unwrap_or_else(|| part.ask().to_owned()),
            one,
            order,
            cautions: self.cautions(&chosen),
            picks: chosen.into_iter().map(|c| c.pick.clone()).collect(),
        })
    }

    /// Every answer there could be, right and wrong.
    fn cards(&self, work: &AreaMethod) -> Vec<Card<'p>> {
        let mut out = Vec::new();
        let system = self.system(work).map(|(table, ..)| table.id.as_str());
        self.right_steps(work, system, &mut out);
        if work.specified {
            self.systems(work, &mut out);
            self.turned_down(work, system, &mut out);
            self.turns(work, &mut out);
            if let Some(layer) = &work.overlay {
                self.thicknesses(layer, &mut out);
            }
        }
        self.forbidden(work, &mut out);
        self.neighbours(&mut out);
        // Nothing may be right and wrong at once, and nothing is said twice.
        let right: HashSet<String> = out
            .iter()
            .filter(|c| c.pick.right)
            .flat_map(|c| [c.pick.id.clone(), c.pick.text.clone()])
            .collect();
        let mut said = HashSet::new();
        out.retain(|c| {
            (c.pick.right || !(right.contains(&c.pick.id) || right.contains(&c.pick.text)))
                && said.insert((c.part, c.pick.text.clone()))
        });
        out
    }

    /// The area, the defect asked about, and what holds them.
    fn own_things(&self) -> [usize; 4] {
        [self.area, self.thing, self.survey.slab, self.survey.site]
    }

    /// Whether something is said of the area or the defect asked about, not of another defect.
    fn is_own(&self, about: &str) -> bool {
        let things = self.survey.things.iter().enumerate();
        let mut same = things.filter(|(_, t)| t.label == about).peekable();
        same.peek().is_none() || same.any(|(i, t)| t.scope != Scope::Defect || i == self.thing)
    }

    fn right_steps(&self, work: &AreaMethod, system: Option<&str>, out: &mut Vec<Card<'p>>) {
        // That the step is about the defect of the case need not be said.
        let label = format!("{}: ", capital(self.ran.board.label(self.thing)));
        let bare = |text: &str| capital(text.strip_prefix(&label).unwrap_or(text));
        for (at, step) in work.steps.iter().enumerate() {
            let Some(part) =
                Part::of_stage(&step.stage).filter(|_| self.is_own(&step.reason.about))
            else {
                continue;
            };
            let table = self.pack.table(&step.reason.table).map(|(_, t)| t);
            let chosen = table.and_then(|t| Some((t, self.chosen(t)?)));
            let is_choice = chosen.is_some_and(|(t, _)| CHOICES.iter().any(|(id, _)| *id == t.id));
            if is_choice && system == Some(step.reason.table.as_str()) {
                continue;
            }
            let row = table.and_then(|t| t.rows.iter().find(|r| r.id == step.reason.row));
            let (id, marks, why) = match chosen {
                Some((table, (fact, candidate))) if is_choice => (
                    format!("{}.{}", table.id, candidate.id),
                    vec![(fact, Bits::one(candidate.bit))],
                    step.reason.because.clone(),
                ),
                _ => (
                    step.reason.row.clone(),
                    row.map_or_else(Vec::new, |r| marks(&r.when)),
                    match step.owner == step.crew {
                        true => step.reason.because.clone(),
                        false => bare(&step.owner),
                    },
                ),
            };
            out.push(Card {
                part,
                stage: step.stage.clone(),
                pick: Pick {
                    id,
                    text: bare(&step.crew),
                    right: true,
                    why,
                    rule: step.reason.row.clone(),
                    source: step.reason.source.clone(),
                    at,
                },
                lure: Lure::Forbidden,
                marks,
                cautions: None,
            });
        }
    }

    /// A choice made for the area or the defect: its fact and the candidate chosen.
    fn chosen(&self, table: &'p Table) -> Option<(FactId, &'p Contestant)> {
        let Body::Rank(rank) = &table.body else {
            return None;
        };
        let fact = rank.gives?;
        let name = &self.pack.vocabulary.fact(fact).id;
        let words = made(self.pack, &self.ran, self.thing_of(table.scope), name);
        let [word] = words.as_slice() else {
            return None;
        };
        let candidate = rank.contestants.iter().find(|c| c.id == *word)?;
        Some((fact, candidate))
    }

    fn thing_of(&self, scope: Scope) -> usize {
        match scope {
            Scope::Defect => self.thing,
            _ => self.area,
        }
    }

    /// The choice that the question on the system is about, with the candidate that is right.
    fn system(&self, work: &AreaMethod) -> Option<(&'p Table, &'p Rank, &'p Contestant)> {
        let tables = CHOICES.iter().skip(3).filter_map(|(id, _)| {
            let (_, table) = self.pack.table(id)?;
            let Body::Rank(rank) = &table.body else {
                return None;
            };
            let chosen = match &work.overlay {
                Some(layer) => rank.contestants.iter().find(|c| c.id == layer.system),
                None => self.chosen(table).map(|(_, c)| c),
            }?;
            // Chosen is not yet done: a hole that needs no patch has a material all the same.
            let only = Bits::one(chosen.bit);
            let done = work.steps.iter().filter(|s| self.is_own(&s.reason.about));
            let done = done.map(|s| &s.reason).any(|r| {
                let row = self.pack.table(&r.table).and_then(|(_, t)| {
                    let row = t.rows.iter().find(|row| row.id == r.row);
                    row.filter(|_| t.id != *id)
                });
                r.table == *id
                    || row.is_some_and(|row| {
                        row.when
                            .iter()
                            .any(|c| Some(c.fact) == rank.gives && c.mask == only)
                    })
            });
            done.then_some((table, rank, chosen))
        });
        tables.into_iter().next()
    }

    fn systems(&self, work: &AreaMethod, out: &mut Vec<Card<'p>>) {
        let Some((table, rank, chosen)) = self.system(work) else {
            return;
        };
        let stage = stage_of(&table.id);
        let reason = self.favour(table, chosen);
        out.push(Card {
            part: Part::System,
            stage: stage.to_owned(),
            pick: Pick {
                id: format!("{}.{}", table.id, chosen.id),
                text: chosen.name.clone(),
                right: true,
                why: reason.map_or_else(
                    || "The first of the candidates that nothing speaks against.".to_owned(),
                    |r| r.because.clone(),
                ),
                rule: reason.map_or_else(|| table.id.clone(), |r| r.id.clone()),
                source: reason.map_or_else(|| table.title.clone(), |r| r.source.source.clone()),
                at: 0,
            },
            lure: Lure::TurnedDown,
            marks: rank
                .gives
                .map(|f| (f, Bits::one(chosen.bit)))
                .into_iter()
                .collect(),
            cautions: None,
        });
    }

    /// The row that speaks for a candidate, for certain.
    fn favour(&self, table: &Table, candidate: &Contestant) -> Option<&Row> {
        let (index, table) = self.pack.table(&table.id)?;
        let visit = self.ran.trail.visit(index, self.thing_of(table.scope))?;
        let (row, certain) = in_favour(&self.ran, table, visit, candidate)?;
        certain.then_some(row)
    }

    /// The visit of a choice for the thing of this case that it is about.
    fn visit(&self, id: &str) -> Option<(&'p Table, &'p Rank, &Visit)> {
        let (index, table) = self.pack.table(id)?;
        let Body::Rank(rank) = &table.body else {
            return None;
        };
        let visit = self.ran.trail.visit(index, self.thing_of(table.scope))?;
        visit.applied.then_some((table, rank, visit))
    }

    fn turned_down(&self, work: &AreaMethod, system: Option<&str>, out: &mut Vec<Card<'p>>) {
        for down in &work.turned_down {
            let Some((table, rank, _)) = self.visit(&down.choice) else {
                continue;
            };
            let Some(candidate) = rank.contestants.iter().find(|c| c.name == down.name) else {
                continue;
            };
            if !self.is_own(&down.reason.about) || self.kept_elsewhere(table, candidate) {
                continue;
            }
            let stage = stage_of(&table.id);
            let (part, text) = match system == Some(table.id.as_str()) {
                true => (Part::System, candidate.name.clone()),
                false => match Part::of_stage(stage) {
                    Some(part) => (part, format!("{}: {}.", table.title, candidate.name)),
                    None => continue,
                },
            };
            out.push(Card {
                part,
                stage: stage.to_owned(),
                pick: Pick {
                    id: format!("{}.{}", table.id, candidate.id),
                    text,
                    right: false,
                    why: down.reason.because.clone(),
                    rule: down.reason.row.clone(),
                    source: down.reason.source.clone(),
                    at: usize::MAX,
                },
                lure: Lure::TurnedDown,
                marks: rank
                    .gives
                    .map(|f| (f, Bits::one(candidate.bit)))
                    .into_iter()
                    .collect(),
                cautions: None,
            });
        }
    }

    /// Whether a candidate is not ruled out for another thing of the area.
    fn kept_elsewhere(&self, table: &Table, candidate: &Contestant) -> bool {
        let Some((index, _)) = self.pack.table(&table.id) else {
            return false;
        };
        self.inside().any(|thing| {
            let visit = self.ran.trail.visit(index, thing).filter(|v| v.applied);
            let Body::Rank(rank) = &table.body else {
                return false;
            };
            visit.is_some_and(|v| {
                self.ran.trail.scored(v).iter().any(|s| {
                    let own = rank.contestants.get(usize::from(s.contestant));
                    !s.out && own.is_some_and(|c| c.id == candidate.id)
                })
            })
        })
    }

    /// The area with everything in it, and what holds it.
    fn inside(&self) -> impl Iterator<Item = usize> + '_ {
        let things = self.survey.areas.get(self.case.area);
        let inner = things.into_iter().flat_map(|a| {
            (a.defects.iter().chain(&a.joints).copied()).chain(a.panels.iter().map(|(_, t)| *t))
        });
        [self.area, self.survey.slab, self.survey.site]
            .into_iter()
            .chain(inner)
    }

    /// The stages of the work in their order.
    fn turns(&self, work: &AreaMethod, out: &mut Vec<Card<'p>>) {
        for (at, step) in work.steps.iter().enumerate() {
            let Some((stage, name)) = TURNS.iter().find(|(stage, _)| *stage == step.stage) else {
                continue;
            };
            let known = |c: &Card<'_>| c.part == Part::Order && c.stage == *stage;
            if out.iter().any(known) || !self.is_own(&step.reason.about) {
                continue;
            }
            out.push(Card {
                part: Part::Order,
                stage: (*stage).to_owned(),
                pick: Pick {
                    id: (*stage).to_owned(),
                    text: (*name).to_owned(),
                    right: true,
                    why: step.crew.clone(),
                    rule: step.reason.row.clone(),
                    source: step.reason.source.clone(),
                    at,
                },
                lure: Lure::Forbidden,
                marks: Vec::new(),
                cautions: None,
            });
        }
    }

    /// The layer's thickness, and those of its neighbours that do not fit here.
    fn thicknesses(&self, layer: &Overlay, out: &mut Vec<Card<'p>>) {
        let units = self.case.loaded.record.job.units;
        let text = |mm: f64| quantity(Kind::Length, Interval::exact(mm), units);
        let card = |mm: f64, right: bool, why: String| Card {
            part: Part::Thickness,
            stage: String::new(),
            pick: Pick {
                id: text(mm),
                text: text(mm),
                right,
                why,
                rule: "overlay_system".to_owned(),
                source: "arithmetic of the parts named".to_owned(),
                at: 0,
            },
            lure: Lure::TurnedDown,
            marks: Vec::new(),
            cautions: None,
        };
        let named = |limit: Option<&Limit>| {
            limit.map_or_else(String::new, |l| {
                format!("{} is {}", l.what, text(l.thickness_mm))
            })
        };
        let by = |a: &&Limit, b: &&Limit| a.thickness_mm.total_cmp(&b.thickness_mm);
        let floor = named(layer.floor_parts.iter().max_by(by));
        let ceiling = named(layer.ceiling_parts.iter().min_by(by));
        let sides: Vec<&str> = [floor.as_str(), ceiling.as_str()]
            .into_iter()
            .filter(|s| !s.is_empty())
            .collect();
        out.push(card(
            layer.thickness_mm,
            true,
            format!("Between its floor and its ceiling: {}.", sides.join("; ")),
        ));
        let Some((_, table)) = self.pack.table("overlay_system") else {
            return;
        };
        let Body::Rank(rank) = &table.body else {
            return;
        };
        let mut others: Vec<f64> = rank
            .contestants
            .iter()
            .flat_map(|c| ["least", "usual", "greatest"].map(|key| c.set.get(key)))
            .filter_map(|set| set.and_then(Set::quantity))
            .map(|i| i.lo)
            .filter(|mm| *mm < layer.floor_mm - 1e-6 || *mm > layer.ceiling_mm + 1e-6)
            .collect();
        // The nearest tempt most.
        let off = |mm: f64| (mm / layer.thickness_mm.max(1e-6)).ln().abs();
        others.sort_by(|a, b| off(*a).total_cmp(&off(*b)));
        others.dedup();
        for mm in others.into_iter().take(MOST_OTHERS) {
            let why = match mm < layer.floor_mm {
                true => format!("Too thin: {floor}."),
                false => format!("Too thick: {ceiling}."),
            };
            out.push(card(mm, false, why));
        }
    }

    /// What must not be done here, as somebody would propose it.
    fn forbidden(&self, work: &AreaMethod, out: &mut Vec<Card<'p>>) {
        for (row, _) in self.listed(|_| true) {
            let Some(tempting) = row.set.get("tempting_but_wrong") else {
                continue;
            };
            let part = row.set.get("part").and_then(|p| Part::of_word(p.text()));
            out.push(Card {
                part: match work.specified {
                    true => part.unwrap_or(Part::Placing),
                    false => Part::Until,
                },
                stage: String::new(),
                pick: Pick {
                    id: row.id.clone(),
                    text: tempting.text().to_owned(),
                    right: false,
                    why: row.because.clone(),
                    rule: row.id.clone(),
                    source: row.source.source.clone(),
                    at: usize::MAX,
                },
                lure: Lure::Forbidden,
                marks: Vec::new(),
                cautions: row.set.get("cautions").map(Set::text),
            });
        }
    }

    /// Rows of some tables that list what fires, which fire for certain for the area, the defect or
    /// what holds them.
    fn listed(&self, which: impl Fn(&Table) -> bool) -> Vec<(&'p Row, &'p Table)> {
        let own = self.own_things();
        let mut out: Vec<(&Row, &Table)> = Vec::new();
        for visit in self.ran.trail.visits() {
            let table = self.pack.tables.get(visit.table as usize);
            let Some(table) = table.filter(|t| matches!(t.body, Body::Collect) && which(t)) else {
                continue;
            };
            if !visit.applied || !own.contains(&(visit.thing as usize)) {
                continue;
            }
            let fired = self.ran.trail.fired(visit).iter().filter(|f| f.certain);
            for row in fired.filter_map(|f| table.rows.get(usize::from(f.row))) {
                if !out.iter().any(|(r, _)| r.id == row.id) {
                    out.push((row, table));
                }
            }
        }
        out
    }

    /// Steps of another way of working than the one chosen.
    fn neighbours(&self, out: &mut Vec<Card<'p>>) {
        let steps = |t: &&Table| matches!(t.body, Body::Collect) && t.id.starts_with("steps_");
        // What kind of work it is; a step of another kind may be good advice all the same.
        let kinds: HashSet<FactId> = (self.pack.tables.iter().filter(steps))
            .flat_map(|t| t.applies.iter().map(|c| c.fact))
            .collect();
        for table in self.pack.tables.iter().filter(steps) {
            let scope = table.scope;
            let things: Vec<usize> = self
                .inside()
                .filter(|t| self.survey.things.get(*t).is_some_and(|x| x.scope == scope))
                .collect();
            let own = self.thing_of(scope);
            if !self.holds(&table.applies, own) {
                continue;
            }
            for row in &table.rows {
                let stage = row.set.get("stage").map_or("", |s| s.text());
                let Some(part) = Part::of_stage(stage) else {
                    continue;
                };
                let could = things
                    .iter()
                    .any(|&t| self.holds(&table.applies, t) && self.holds(&row.when, t));
                // Nobody is wrong to be careful, nor to do what does no harm elsewhere.
                let harmless = row.safety || row.set.contains_key("elsewhere");
                if could || harmless || row.set.contains_key("wait") {
                    continue;
                }
                let failing: Vec<&Condition> = (row.when.iter())
                    .filter(|c| !self.holds(std::slice::from_ref(c), own))
                    .collect();
                if failing.iter().any(|c| kinds.contains(&c.fact)) {
                    continue;
                }
                let reasons = failing.iter().filter_map(|c| self.against(c, row));
                let Some((lure, why, rule, source)) = reasons.min_by_key(|r| r.0) else {
                    continue;
                };
                // What goes on an area where nothing does is plainly not for it; a hole is another
                // matter.
                if lure == Lure::OfNothing && scope != Scope::Defect {
                    continue;
                }
                out.push(Card {
                    part,
                    stage: stage.to_owned(),
                    pick: Pick {
                        id: row.id.clone(),
                        text: row.because.clone(),
                        right: false,
                        why,
                        rule,
                        source,
                        at: usize::MAX,
                    },
                    lure,
                    marks: marks(&row.when),
                    cautions: None,
                });
            }
        }
    }

    /// Whether conditions can hold for a thing.
    fn holds(&self, when: &[Condition], thing: usize) -> bool {
        when.iter()
            .all(|c| c.mask.meets(self.ran.board.get(self.pack, thing, c.fact)))
    }

    /// Why a choice did not come to what a condition asks for, with the row that says so and where
    /// that comes from. `None` for conditions on anything but a choice: what is done on another slab
    /// may do no harm on this one.
    fn against(&self, c: &Condition, step: &'p Row) -> Option<(Lure, String, String, String)> {
        let Some(Work::Table(index)) = self.pack.maker(c.fact) else {
            return None;
        };
        let table = self.pack.tables.get(index)?;
        let Body::Rank(rank) = &table.body else {
            return None;
        };
        let asked = |i: usize| rank.contestants.get(i).is_some_and(|k| c.mask.has(k.bit));
        let names: Vec<&str> = (rank.contestants.iter())
            .filter(|k| c.mask.has(k.bit))
            .map(|k| k.name.as_str())
            .collect();
        let goes_with = format!("That goes with: {}.", names.join(", or "));
        let said = |lure, row: &Row, why: String| {
            Some((lure, why, row.id.clone(), row.source.source.clone()))
        };
        if let Some((_, _, visit)) = self.visit(&table.id) {
            let scored = self.ran.trail.scored(visit).iter();
            let all_out = scored
                .filter(|s| asked(usize::from(s.contestant)))
                .all(|s| s.out);
            let fired = self.ran.trail.fired(visit).iter().filter(|f| f.certain);
            let ruling = fired
                .filter_map(|f| table.rows.get(usize::from(f.row)))
                .find(|row| match &row.then {
                    Then::Pushes { rules_out, .. } => rules_out.iter().any(|i| asked(*i)),
                    _ => false,
                });
            if let Some(row) = ruling.filter(|_| all_out) {
                let why = format!("{goes_with} {}", row.because);
                return said(Lure::OfTurnedDown, row, why);
            }
        }
        let read = self.describer().read(c.fact, self.thing_of(table.scope));
        match self
            .chosen(table)
            .and_then(|(_, k)| Some((k, self.favour(table, k)?)))
        {
            Some((chosen, row)) => {
                let why = format!("{goes_with} Here it is: {}. {}", chosen.name, row.because);
                said(Lure::OfOther, row, why)
            }
            None => {
                let why = format!("{goes_with} {} here: {}.", capital(&read.name), read.value);
                said(Lure::OfNothing, step, why)
            }
        }
    }

    /// Cautions for what some answers speak of: those of the case for their stages, and those of the
    /// candidates that wrong ones name.
    fn cautions(&self, cards: &[&Card<'p>]) -> Vec<(String, String)> {
        let caution = |t: &Table| t.id.starts_with("caution");
        let fired: HashSet<&str> = self
            .listed(caution)
            .iter()
            .map(|(r, _)| r.id.as_str())
            .collect();
        let stages: HashSet<&str> = cards.iter().map(|c| c.stage.as_str()).collect();
        let mut out = Vec::new();
        for table in self.pack.tables.iter().filter(|t| caution(t)) {
            for row in &table.rows {
                let before = row.set.get("before").map_or("", Set::text);
                let at_hand = before.is_empty()
                    || before
                        .split([' ', ','])
                        .any(|stage| !stage.is_empty() && stages.contains(stage));
                let named = cards.iter().any(|c| {
                    c.cautions == Some(row.id.as_str())
                        || (!c.pick.right && self.concerns(row, &c.marks))
                });
                if named || (at_hand && fired.contains(row.id.as_str())) {
                    out.push((row.id.clone(), row.because.clone()));
                }
            }
        }
        out
    }

    /// Whether a caution is for a candidate that an answer names, and nothing known of the slab
    /// speaks against it.
    fn concerns(&self, caution: &Row, marks: &[(FactId, Bits)]) -> bool {
        let is_choice = |fact: FactId| match self.pack.maker(fact) {
            Some(Work::Table(i)) => self
                .pack
                .tables
                .get(i)
                .is_some_and(|t| matches!(t.body, Body::Rank(_))),
            _ => false,
        };
        let named = |c: &Condition| {
            is_choice(c.fact)
                && marks
                    .iter()
                    .any(|(fact, bits)| *fact == c.fact && c.mask.meets(*bits))
        };
        caution.when.iter().any(named)
            && caution.when.iter().all(|c| {
                named(c)
                    || self.pack.maker(c.fact).is_some()
                    || self.holds(std::slice::from_ref(c), self.area)
            })
    }
}

/// The first ones, but not all of one sort nor for one reason while there are others.
fn mixed<'c, 'p>(sorted: Vec<(u64, &'c Card<'p>)>, most: usize) -> Vec<(u64, &'c Card<'p>)> {
    let mut taken: Vec<(u64, &Card<'_>)> = Vec::new();
    let mut rest = Vec::new();
    for (key, card) in sorted {
        let alike = taken.iter().filter(|(_, c)| c.lure == card.lure).count();
        let said = taken.iter().any(|(_, c)| c.pick.rule == card.pick.rule);
        let single = matches!(card.part, Part::System | Part::Thickness);
        if taken.len() < most
            && (single || alike < MOST_ALIKE)
            && (!said || card.part == Part::Thickness)
        {
            taken.push((key, card));
        } else {
            rest.push((key, card));
        }
    }
    let room = most.saturating_sub(taken.len());
    taken.extend(rest.into_iter().take(room));
    taken
}

fn marks(when: &[Condition]) -> Vec<(FactId, Bits)> {
    when.iter().map(|c| (c.fact, c.mask)).collect()
}

fn stage_of(choice: &str) -> &'static str {
    CHOICES
        .iter()
        .find(|(id, _)| *id == choice)
        .map_or("", |(_, stage)| stage)
}

/// Holds what a lesson says is right against the rules: its causes, its verdicts and its questions
/// on the method. Where they differ, the end of the case would argue against its own answer.
pub fn agree(
    pack: &crate::rules::Pack,
    lesson: &Lesson,
    file: &SourceFile,
    problems: &mut Problems,
) {
    for case in &lesson.cases {
        agree_case(pack, case, file, problems);
    }
}

fn agree_case(pack: &crate::rules::Pack, case: &Case, file: &SourceFile, problems: &mut Problems) {
    let play = Play::new(pack, case);
    let mut wrong = |place, message: String, hint: String| {
        problems.push(
            Problem::error("lesson-rules", message)
                .at(file, place)
                .hint(hint),
        );
    };
    let leading = play.leading();
    if let Some(place) = case.answer.causes_at
        && !leading.is_empty()
        && !leading.iter().any(|c| case.answer.causes.contains(c))
    {
        wrong(
            place,
            format!("case `{}`: by the rules the cause is another", case.id),
            format!(
                "the rules lead with `{}`: name it too, change the signs of the record, or say it in house rules",
                leading.join("` or `")
            ),
        );
    }
    if let Some(place) = case.answer.verdicts_at {
        let rules = play.verdicts_of_rules();
        if !rules.iter().any(|v| case.answer.verdicts.contains(v)) {
            wrong(
                place,
                format!("case `{}`: by the rules the verdict is another", case.id),
                format!(
                    "the rules come to `{}`: name it too, change the record, or say it in house rules",
                    rules.join("` or `")
                ),
            );
        }
    }
    if case.method.is_empty() {
        return;
    }
    let cards = play.work().map_or_else(Vec::new, |w| play.cards(&w));
    for stated in &case.method {
        let of = |right: bool| -> Vec<&Pick> {
            cards
                .iter()
                .map(|c| (c.part, &c.pick))
                .filter(|(part, p)| *part == stated.part && p.right == right)
                .map(|(_, p)| p)
                .collect()
        };
        for right in [true, false] {
            let (own, there, other) = match right {
                true => (&stated.right, of(true), of(false)),
                false => (&stated.wrong, of(false), of(true)),
            };
            let list = || {
                let ids: Vec<String> = there.iter().map(|p| format!("`{}`", p.id)).collect();
                match ids.is_empty() {
                    true => format!("the rules have none in the part `{}`", stated.part.word()),
                    false => format!("the rules have {}", ids.join(", ")),
                }
            };
            for (id, place) in own {
                if there.iter().any(|p| p.id == *id) {
                    continue;
                }
                let message = match (right, other.iter().find(|p| p.id == *id)) {
                    (true, Some(p)) => format!("`{id}` is wrong here by the rules: {}", p.why),
                    (false, Some(p)) => format!("`{id}` is right here by the rules: {}", p.why),
                    (true, None) => format!("`{id}` is no step of this case"),
                    (false, None) => format!("nothing rules `{id}` out in this case"),
                };
                wrong(*place, message, list());
            }
        }
        let enough = match stated.part {
            Part::Order => of(true).len() >= IN_ORDER.0,
            _ => !of(true).is_empty() && !of(false).is_empty(),
        };
        if !enough {
            wrong(
                stated.place,
                format!(
                    "the rules give the part `{}` of this case nothing to choose between",
                    stated.part.word()
                ),
                "leave this part out".to_owned(),
            );
        }
    }
}
