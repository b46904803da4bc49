//! A case being played: what is known, what can be tested, and what the rules make of it.

use std::collections::{BTreeSet, HashSet};

use crate::assessment::{
    Assessment, Choice, Describer, Ran, RankedCause, Reason, assess, run_rules,
};
use crate::facts::{Comes, Fact, Scope, Value};
use crate::method::{Fitted, decide};
use crate::rules::{
    Asking, Board, Goal, Memo, Obstacle, Pack, Spot, WhyNot, ask, open_facts, why_not,
};
use crate::survey::{Origin, Survey, survey};
use crate::walk::cause_facts;

use super::lesson::Case;

/// Runs spent on the search for what stands in the way of a verdict.
const RUNS: usize = 200;
/// Most lines of one kind in what is said at the end.
const MOST: usize = 4;

/// A test that minutes can be spent on.
#[derive(Debug, Clone)]
pub struct Test {
    spot: Spot,
    paths: Vec<String>,
    /// Fact.
    pub fact: String,
    /// What it is about: `defect 1`, `area A`.
    pub about: String,
    /// Name of what it finds out.
    pub name: String,
    /// The question it answers.
    pub ask: String,
    /// How it is done.
    pub measure: String,
    /// Minutes it takes.
    pub minutes: f64,
    /// Days to wait for the answer.
    pub wait_days: f64,
    /// What may hurt whoever does it.
    pub cautions: Vec<String>,
    /// What it finds.
    pub finds: String,
    /// When it was done, from 1; 0 when not.
    pub turn: usize,
    /// Whether, when it was done, its answer could still change the cause that leads or the verdict.
    pub useful: bool,
}

/// A step of somebody's way.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// What was found out.
    pub name: String,
    /// What was found.
    pub finds: String,
    /// Minutes spent.
    pub minutes: f64,
    /// Whether it could still change anything.
    pub useful: bool,
}

/// What the rules say to an answer.
#[derive(Debug, Clone)]
pub struct Outcome {
    /// Whether the cause is right.
    pub cause_right: bool,
    /// Whether the verdict is right.
    pub verdict_right: bool,
    /// The causes that are right, in plain words.
    pub causes: Vec<String>,
    /// The verdicts that are right, in plain words.
    pub verdicts: Vec<String>,
    /// The way of the person.
    pub own: Vec<Step>,
    /// The way of the expert.
    pub expert: Vec<Step>,
    /// Signs that bear most on the cause and were not looked at.
    pub missed: Vec<String>,
    /// Tests that could change nothing any more when they were done.
    pub wasted: Vec<String>,
    /// What speaks for the right cause.
    pub speaks_for: Vec<String>,
    /// The tempting wrong cause, in plain words, and why it is wrong.
    pub tempting: Option<(String, Vec<String>)>,
    /// Why the verdict given is wrong; empty when it is right.
    pub verdict_why: Vec<String>,
    /// Why the right verdict is right.
    pub verdict_because: Vec<String>,
}

/// A case being played.
#[derive(Debug)]
pub struct Play<'p> {
    pub(super) pack: &'p Pack,
    pub(super) case: &'p Case,
    pub(super) survey: Survey,
    pub(super) ran: Ran,
    pub(super) fitted: Vec<Option<Fitted>>,
    pub(super) assessment: Assessment,
    tests: Vec<Test>,
    pub(super) thing: usize,
    pub(super) area: usize,
    turns: usize,
}

impl<'p> Play<'p> {
    /// Lays a case out.
    pub fn new(pack: &'p Pack, case: &'p Case) -> Play<'p> {
        let record = &case.loaded.record;
        let mut found = survey(record, &pack.vocabulary);
        let ran = run_rules(pack, &found);
        let (ran, fitted) = decide(record, &mut found, pack, ran);
        let assessment = assess(record, Some(&case.loaded.node), &found, pack, &ran);
        let things = found.areas.get(case.area);
        let area = things.map_or(found.slab, |a| a.thing);
        let thing = things
            .and_then(|a| a.defects.get(case.defect))
            .copied()
            .unwrap_or(area);
        let mut play = Play {
            pack,
            case,
            survey: found,
            ran,
            fitted,
            assessment,
            tests: Vec::new(),
            thing,
            area,
            turns: 0,
        };
        play.tests = play.lay_out();
        play
    }

    pub(super) fn describer(&self) -> Describer<'_> {
        Describer {
            pack: self.pack,
            survey: &self.survey,
            board: &self.ran.board,
            node: None,
            units: self.case.loaded.record.job.units,
        }
    }

    /// Every finding of the record that someone had to spend time on.
    fn lay_out(&self) -> Vec<Test> {
        let order = |thing: usize| {
            [self.thing, self.area, self.survey.slab, self.survey.site]
                .iter()
                .position(|t| *t == thing)
        };
        let mut out: Vec<(usize, Test)> = Vec::new();
        for ((thing, id), entry) in &self.survey.entries {
            let Some(rank) = order(*thing) else { continue };
            let fact = self.pack.vocabulary.fact(*id);
            let paths = paths(&entry.origin);
            if entry.value == Value::Unknown || fact.ask.is_none() || !self.is_test(fact, &paths) {
                continue;
            }
            out.push((
                rank,
                Test {
                    spot: Spot {
                        thing: *thing,
                        fact: *id,
                    },
                    paths,
                    fact: fact.id.clone(),
                    about: self
                        .survey
                        .things
                        .get(*thing)
                        .map_or_else(String::new, |t| t.label.clone()),
                    name: fact.name.clone(),
                    ask: fact.ask.clone().unwrap_or_default(),
                    measure: fact.measure.clone().unwrap_or_default(),
                    minutes: fact.minutes.max(1.0),
                    wait_days: fact.wait_days,
                    cautions: self
                        .pack
                        .cautions(fact)
                        .into_iter()
                        .map(str::to_owned)
                        .collect(),
                    finds: self.describer().read(*id, *thing).value,
                    turn: 0,
                    useful: false,
                },
            ));
        }
        out.sort_by(|(a, x), (b, y)| a.cmp(b).then(x.spot.fact.cmp(&y.spot.fact)));
        out.into_iter().map(|(_, t)| t).collect()
    }

    /// Whether a value is found by a test: a sign, a reading, or a measure of the defect. What the
    /// slab is and how large the damage is are seen by anyone.
    fn is_test(&self, fact: &Fact, paths: &[String]) -> bool {
        let [path] = paths else {
            return paths.len() > 1
                && fact.scope == Scope::Area
                && paths.iter().all(|p| p.contains(".tests."));
        };
        if path.contains(".signs.") {
            return fact.comes == Comes::Asked;
        }
        // What stands on a delivery ticket or in a laboratory's paper has to be asked for.
        if path.starts_with("slab.mix.") {
            return fact.scope == Scope::Slab;
        }
        if path.contains(".tests.") {
            return fact.scope == Scope::Area;
        }
        let seen = ["kind", "share", "defect_surface", "count", "crack_length"];
        fact.scope == Scope::Defect
            && path.contains(".defects.")
            && path.ends_with(
                FIELDS
                    .iter()
                    .find(|(f, _)| *f == fact.id)
                    .map_or("-", |(_, p)| p),
            )
            && !seen.contains(&fact.id.as_str())
    }

    /// Paths of the record that are not known yet.
    fn hidden(&self, done: &dyn Fn(&Test) -> bool) -> BTreeSet<&str> {
        self.tests
            .iter()
            .filter(|t| !done(t))
            .flat_map(|t| t.paths.iter().map(String::as_str))
            .collect()
    }

    fn board(&self, done: &dyn Fn(&Test) -> bool) -> Board {
        let hidden = self.hidden(done);
        let mut board = Board::new(self.pack, self.survey.things.clone());
        for ((thing, fact), entry) in &self.survey.entries {
            let known = paths(&entry.origin)
                .iter()
                .all(|p| !hidden.contains(p.as_str()));
            if entry.value != Value::Unknown && known {
                board.set(self.pack, *thing, *fact, entry.value);
            }
        }
        board
    }

    fn targets(&self) -> Vec<Spot> {
        let mut out: Vec<Spot> = Vec::new();
        if let Some(fact) = self.pack.vocabulary.find("verdict") {
            out.push(Spot {
                thing: self.area,
                fact,
            });
        }
        // The kind of the defect is known from the start, so any board that knows it will do.
        let causes = cause_facts(self.pack, &self.ran.board, self.thing);
        out.extend(causes.into_iter().map(|fact| Spot {
            thing: self.thing,
            fact,
        }));
        out
    }

    /// Facts whose answers can still change something, the best for its minutes first.
    fn best(&self, board: &Board, left: &[Spot]) -> Vec<Spot> {
        let targets = self.targets();
        let may_ask = |spot: Spot| left.contains(&spot);
        let asking = Asking {
            may_ask: &may_ask,
            ..Asking::new(self.pack, &targets)
        };
        ask(self.pack, board, &asking)
            .into_iter()
            .map(|q| q.spot)
            .collect()
    }

    /// Whether an answer can still change something.
    fn matters(&self, board: &Board, spot: Spot) -> bool {
        let targets = self.targets();
        let may_ask = |other: Spot| other == spot;
        let asking = Asking {
            may_ask: &may_ask,
            ..Asking::new(self.pack, &targets)
        };
        !open_facts(self.pack, board, &asking, &mut Memo::default()).is_empty()
    }

    /// What is plain at first sight, a line each.
    pub fn opening(&self) -> Vec<String> {
        let hidden = self.hidden(&|_| false);
        let mut out = Vec::new();
        let mut said: HashSet<String> = HashSet::new();
        for thing in [self.survey.site, self.survey.slab, self.area, self.thing] {
            let mut parts = Vec::new();
            for ((at, id), entry) in &self.survey.entries {
                let fact = self.pack.vocabulary.fact(*id);
                let worked_out = matches!(entry.origin, Origin::WorkedOut { .. });
                let shown = match fact.scope {
                    Scope::Defect => ["kind", "share", "defect_surface", "count", "crack_length"]
                        .contains(&fact.id.as_str()),
                    Scope::Area => {
                        ["area_surface", "panel_length", "fall"].contains(&fact.id.as_str())
                    }
                    _ => !worked_out || ["age", "deicers"].contains(&fact.id.as_str()),
                };
                let known = paths(&entry.origin)
                    .iter()
                    .all(|p| !hidden.contains(p.as_str()));
                if *at != thing
                    || !shown
                    || !known
                    || entry.value == Value::Unknown
                    || matches!(entry.origin, Origin::Silent(_))
                {
                    continue;
                }
                let value = self.describer().read(*id, *at).value;
                parts.push(format!("{}: {value}", fact.name));
            }
            let label = self
                .survey
                .things
                .get(thing)
                .map_or("", |t| t.label.as_str());
            if !parts.is_empty() && said.insert(label.to_owned()) {
                out.push(format!("{label}: {}", parts.join("; ")));
            }
        }
        let others: Vec<String> = self
            .assessment
            .areas
            .get(self.case.area)
            .map(|a| a.defects.as_slice())
            .unwrap_or_default()
            .iter()
            .enumerate()
            .filter(|(i, _)| *i != self.case.defect)
            .map(|(_, d)| format!("defect {}, {}", d.number, d.kind_name))
            .collect();
        if !others.is_empty() {
            out.push(format!("there is also: {}", others.join("; ")));
        }
        out
    }

    /// The tests there are.
    pub fn tests(&self) -> &[Test] {
        &self.tests
    }

    /// Minutes spent so far.
    pub fn minutes(&self) -> f64 {
        self.tests
            .iter()
            .filter(|t| t.turn > 0)
            .map(|t| t.minutes)
            .fold(0.0, |a, b| a + b)
    }

    /// Does a test. `None` when there is no such test, or it is done already.
    pub fn take(&mut self, index: usize) -> Option<&Test> {
        let spot = self.tests.get(index).filter(|t| t.turn == 0)?.spot;
        let board = self.board(&|t| t.turn > 0);
        let useful = self.matters(&board, spot);
        self.turns += 1;
        let turns = self.turns;
        let test = self.tests.get_mut(index)?;
        test.turn = turns;
        test.useful = useful;
        Some(test)
    }

    fn ranked(&self) -> &[RankedCause] {
        self.assessment
            .areas
            .get(self.case.area)
            .and_then(|a| a.defects.get(self.case.defect))
            .map_or(&[], |d| d.causes.as_slice())
    }

    /// The causes with their log-odds, likeliest first.
    pub fn causes(&self) -> Vec<(Choice, f64)> {
        self.ranked()
            .iter()
            .map(|c| {
                (
                    Choice {
                        word: c.cause.clone(),
                        name: c.name.clone(),
                    },
                    (c.log_odds.lo + c.log_odds.hi) / 2.0,
                )
            })
            .collect()
    }

    /// The verdicts to choose from.
    pub fn verdicts(&self) -> Vec<Choice> {
        self.pack
            .vocabulary
            .find("verdict")
            .map_or_else(Vec::new, |id| {
                self.pack
                    .vocabulary
                    .fact(id)
                    .values()
                    .iter()
                    .map(|v| Choice {
                        word: v.id.clone(),
                        name: v.name.clone(),
                    })
                    .collect()
            })
    }

    /// Causes that are right: the trainer's, else the one that leads.
    fn right_causes(&self) -> Vec<String> {
        if !self.case.answer.causes.is_empty() {
            return self.case.answer.causes.clone();
        }
        self.ranked()
            .first()
            .map(|c| c.cause.clone())
            .into_iter()
            .collect()
    }

    /// Verdicts that are right: the trainer's, else those the rules leave possible.
    pub(super) fn right_verdicts(&self) -> Vec<String> {
        match self.case.answer.verdicts.is_empty() {
            true => self.verdicts_of_rules(),
            false => self.case.answer.verdicts.clone(),
        }
    }

    /// Causes that can lead, by the rules.
    pub(super) fn leading(&self) -> Vec<String> {
        let may = self.ranked().iter().filter(|c| c.may_lead);
        may.map(|c| c.cause.clone()).collect()
    }

    /// The verdict by the rules, with those that are still possible.
    pub(super) fn verdicts_of_rules(&self) -> Vec<String> {
        self.assessment
            .areas
            .get(self.case.area)
            .map(|a| {
                let mut out = vec![a.verdict.word.clone()];
                out.extend(a.verdict.possible.iter().map(|c| c.word.clone()));
                out.dedup();
                out
            })
            .unwrap_or_default()
    }

    /// The expert's way: always the test that settles most for its minutes, until nothing that is
    /// left could change anything.
    pub fn expert(&self) -> Vec<Step> {
        let mut done: HashSet<usize> = HashSet::new();
        let mut out = Vec::new();
        for _ in 0..self.tests.len() {
            let is_done = |t: &Test| {
                self.tests
                    .iter()
                    .position(|o| o.spot == t.spot)
                    .is_some_and(|i| done.contains(&i))
            };
            let board = self.board(&is_done);
            let left: Vec<Spot> = self
                .tests
                .iter()
                .filter(|t| !is_done(t))
                .map(|t| t.spot)
                .collect();
            let Some(next) = self.best(&board, &left).first().copied() else {
                break;
            };
            let Some(i) = self.tests.iter().position(|t| t.spot == next) else {
                break;
            };
            if let Some(t) = self.tests.get(i) {
                out.push(step_of(t, true));
            }
            done.insert(i);
        }
        out
    }

    /// Holds an answer against the rules.
    pub fn judge(&self, cause: &str, verdict: &str) -> Outcome {
        let (causes, verdicts) = (self.right_causes(), self.right_verdicts());
        let cause_right = causes.is_empty() || causes.iter().any(|c| c == cause);
        let verdict_right = verdicts.iter().any(|v| v == verdict);
        let mut own: Vec<&Test> = self.tests.iter().filter(|t| t.turn > 0).collect();
        own.sort_by_key(|t| t.turn);
        let taken: HashSet<&str> = own.iter().map(|t| t.fact.as_str()).collect();
        let ranked = self.ranked();
        let leader = ranked
            .iter()
            .find(|c| causes.contains(&c.cause))
            .or(ranked.first());
        let other = match cause_right {
            false => ranked.iter().find(|c| c.cause == cause),
            true => ranked.iter().find(|c| !causes.contains(&c.cause)),
        };
        let names = |words: &[String], of: &[Choice]| -> Vec<String> {
            words
                .iter()
                .map(|w| {
                    of.iter()
                        .find(|c| c.word == *w)
                        .map_or_else(|| w.replace('_', " "), |c| c.name.clone())
                })
                .collect()
        };
        let all_causes: Vec<Choice> = self.causes().into_iter().map(|(c, _)| c).collect();
        Outcome {
            cause_right,
            verdict_right,
            causes: names(&causes, &all_causes),
            verdicts: names(&verdicts, &self.verdicts()),
            missed: missed(leader, other, &taken, &self.tests),
            wasted: own
                .iter()
                .filter(|t| !t.useful)
                .map(|t| t.name.clone())
                .collect(),
            own: own.iter().map(|t| step_of(t, t.useful)).collect(),
            expert: self.expert(),
            speaks_for: leader.map_or_else(Vec::new, |c| signs(c, |push| push > 0.0)),
            tempting: other.map(|c| {
                let mut why = signs(c, |push| push < 0.0);
                if why.is_empty()
                    && let Some(leader) = leader
                {
                    // Nothing speaks against it; the other is simply spoken for more.
                    why = signs(leader, |push| push > 0.0);
                }
                (c.name.clone(), why)
            }),
            verdict_why: match verdict_right {
                true => Vec::new(),
                false => self.why_not_verdict(verdict),
            },
            verdict_because: self
                .assessment
                .areas
                .get(self.case.area)
                .map(|a| {
                    a.verdict
                        .reasons
                        .iter()
                        .filter(|r| r.certain)
                        .map(said)
                        .take(MOST)
                        .collect()
                })
                .unwrap_or_default(),
        }
    }

    fn why_not_verdict(&self, verdict: &str) -> Vec<String> {
        let Some(fact) = self.pack.vocabulary.find("verdict") else {
            return Vec::new();
        };
        let Some(value) = self.pack.vocabulary.fact(fact).value_index(verdict) else {
            return Vec::new();
        };
        let spot = Spot {
            thing: self.area,
            fact,
        };
        let board = self.board(&|_| true);
        let units = self.case.loaded.record.job.units;
        let Some(answer) = why_not(self.pack, &board, Goal::Value { spot, value }, units, RUNS)
        else {
            return Vec::new();
        };
        obstacles(&answer)
    }
}

/// Fields of a defect that feed its measured facts.
const FIELDS: [(&str, &str); 9] = [
    ("loss_depth", ".depth"),
    ("greatest_depth", ".greatest_depth"),
    ("stones", ".stones"),
    ("diameter", ".diameter"),
    ("crack_width", ".width"),
    ("spall_width", ".width"),
    ("offset", ".offset"),
    ("spacing", ".spacing"),
    ("water_depth", ".water_depth"),
];

fn paths(origin: &Origin) -> Vec<String> {
    match origin {
        Origin::Record(path) => vec![path.clone()],
        Origin::WorkedOut { paths, .. } => paths.clone(),
        Origin::Silent(_) => Vec::new(),
    }
}

fn step_of(test: &Test, useful: bool) -> Step {
    Step {
        name: test.name.clone(),
        finds: test.finds.clone(),
        minutes: test.minutes,
        useful,
    }
}

/// What a reason read and says: `flake's underside: paler. The skin was weak …`.
fn said(reason: &Reason) -> String {
    reason.because.clone()
}

/// Known signs of a cause whose push is of one kind, the strongest first.
fn signs(cause: &RankedCause, which: impl Fn(f64) -> bool) -> Vec<String> {
    let mut list: Vec<(f64, String)> = cause
        .signs
        .iter()
        .filter(|s| s.reason.certain)
        .filter(|s| which(s.push) || (s.rules_out && which(-1.0)))
        .map(|s| {
            let strength = match s.rules_out {
                true => f64::INFINITY,
                false => s.push.abs(),
            };
            (strength, s.reason.because.clone())
        })
        .collect();
    list.sort_by(|a, b| b.0.total_cmp(&a.0));
    list.into_iter().map(|(_, t)| t).take(MOST).collect()
}

/// Tests not done whose signs tell the right cause from the other.
fn missed(
    leader: Option<&RankedCause>,
    other: Option<&RankedCause>,
    taken: &HashSet<&str>,
    tests: &[Test],
) -> Vec<String> {
    let mut list: Vec<(f64, String)> = Vec::new();
    for (cause, sign) in [(leader, 1.0), (other, -1.0)] {
        for s in cause.map(|c| c.signs.as_slice()).unwrap_or_default() {
            let push = s.push * sign;
            if !s.reason.certain || push <= 0.0 {
                continue;
            }
            for read in &s.reason.read {
                let Some(test) = tests.iter().find(|t| t.fact == read.fact && t.turn == 0) else {
                    continue;
                };
                if !taken.contains(read.fact.as_str()) {
                    list.push((
                        push,
                        format!("{}: {}. {}", test.name, test.finds, s.reason.because),
                    ));
                }
            }
        }
    }
    list.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut seen = HashSet::new();
    list.into_iter()
        .map(|(_, t)| t)
        .filter(|t| seen.insert(t.split(':').next().unwrap_or_default().to_owned()))
        .take(MOST)
        .collect()
}

/// What stands in the way of a verdict, a line each.
fn obstacles(answer: &WhyNot) -> Vec<String> {
    let mut out = Vec::new();
    for o in &answer.in_the_way {
        let line = match o {
            Obstacle::Condition { because, is, .. } => {
                format!("It would take: {because} But {} is {}.", is.name, is.text())
            }
            Obstacle::Before { because, .. } => format!("Something else comes first: {because}"),
            Obstacle::RuledOut { because, .. } => format!("It is ruled out: {because}"),
            Obstacle::Outscored { by, .. } => format!("{by} fits better."),
            Obstacle::NoRow { .. } => "No rule gives it here.".to_owned(),
            Obstacle::Inside { .. } => "Nothing in the area calls for it.".to_owned(),
            Obstacle::Given { is } => format!("{} is {}.", is.name, is.text()),
        };
        if !out.contains(&line) {
            out.push(line);
        }
    }
    out.truncate(MOST);
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pack() -> Pack {
        crate::rules::builtin().unwrap()
    }

    fn case(pack: &Pack, id: &str) -> Case {
        super::super::worked(&pack.vocabulary)
            .into_iter()
            .find(|c| c.id == id)
            .unwrap()
    }

    #[test]
    fn what_must_be_tested_is_not_said_at_first_sight() {
        let pack = pack();
        let case = case(&pack, "V01");
        let play = Play::new(&pack, &case);
        let opening = play.opening().join("\n");
        assert!(
            opening.contains("driveway") && opening.contains("rock salt"),
            "{opening}"
        );
        let names: Vec<&str> = play.tests().iter().map(|t| t.fact.as_str()).collect();
        for hidden in [
            "flake_shade",
            "hollow_beyond_loss",
            "loss_depth",
            "stones",
            "spreads_from",
        ] {
            assert!(names.contains(&hidden), "{names:?}");
        }
        for t in play.tests() {
            assert!(
                !opening.contains(&format!("{}: ", t.name)),
                "{} in {opening}",
                t.name
            );
            assert!(t.minutes >= 1.0);
        }
    }

    #[test]
    fn the_wrong_cause_is_answered_with_what_speaks_against_it() {
        // V01: low air, not wet finishing; flakes of one grey speak against wet finishing (its
        // expected answer in tests/cases/V01.yaml).
        let pack = pack();
        let case = case(&pack, "V01");
        let mut play = Play::new(&pack, &case);
        let i = play
            .tests()
            .iter()
            .position(|t| t.fact == "loss_depth")
            .unwrap();
        play.take(i).unwrap();
        assert!(play.take(i).is_none(), "a test is done once");
        let outcome = play.judge("finished_wet", "replace_all");
        assert!(!outcome.cause_right && !outcome.verdict_right);
        let (name, why) = outcome.tempting.unwrap();
        assert!(name.contains("water worked in"), "{name}");
        assert!(!why.is_empty() && !outcome.verdict_why.is_empty());
        assert!(
            outcome.missed.iter().any(|m| m.contains("flake")),
            "{:?}",
            outcome.missed
        );
        let right = play.judge("low_air", "thin_resurfacing");
        assert!(right.cause_right && right.verdict_right);
        assert!(!right.speaks_for.is_empty() && right.verdict_why.is_empty());
    }

    #[test]
    fn the_expert_does_nothing_that_could_change_nothing() {
        let pack = pack();
        for id in ["V01", "V04", "V15"] {
            let case = case(&pack, id);
            let play = Play::new(&pack, &case);
            let expert = play.expert();
            assert!(expert.len() <= play.tests().len());
            assert!(expert.iter().all(|s| s.useful));
            // Doing the same again, step by step, wastes no minute.
            let mut own = Play::new(&pack, &case);
            for step in &expert {
                let i = own
                    .tests()
                    .iter()
                    .position(|t| t.name == step.name)
                    .unwrap();
                assert!(own.take(i).unwrap().useful, "{id} {}", step.name);
            }
        }
    }
}
