//! What to measure next.

use std::cmp::Ordering;
use std::collections::{HashMap, HashSet};

use serde::Serialize;

use crate::facts::{Bits, Comes};
use crate::rules::board::Board;
use crate::rules::exact::{Classes, Matters};
use crate::rules::model::{Body, Pack, Row, Spot, Then};
use crate::rules::reach::{Reach, Undo, put_back};
use crate::rules::run::{Memo, Trail, run};
use crate::rules::words::{Possible, Word};
use crate::units::System;

/// What else is then known on the board, once a spot is known to lie in some cells.
pub type Suppose<'a> = dyn Fn(&Board, Spot, Bits) -> Vec<(Spot, Bits)> + 'a;

/// What is to be settled, and how questions are weighed and answered.
pub struct Asking<'a> {
    /// The facts to settle, such as the verdicts of every area and of the slab.
    pub targets: &'a [Spot],
    /// Whether a fact may be asked for at all, beyond what its declaration says.
    pub may_ask: &'a dyn Fn(Spot) -> bool,
    /// What is to be written on a board when a fact is answered: the answer, and all that the survey
    /// would work out from it.
    pub answer: &'a Suppose<'a>,
    /// The thing whose questions a thing shares, where the two differ in nothing that `answer` or
    /// `may_ask` look at and in nothing on the board: each is weighed once. A thing that is like no
    /// other shares its own.
    pub like: &'a dyn Fn(usize) -> usize,
    /// Minutes of work that a day of waiting for the answer counts for.
    pub day_of_waiting: f64,
    /// Runs spent on finding out whether a fact can still change a target.
    pub runs: usize,
    /// Units to print.
    pub system: System,
}

/// Runs that are enough to find out of nearly every fact whether it can still change a target.
const RUNS: usize = 60;

impl<'a> Asking<'a> {
    /// Asks for every open fact; an answer is written on the board as it is. A day of waiting
    /// counts as the pack's figure `day_of_waiting` says, or for nothing.
    pub fn new(pack: &Pack, targets: &'a [Spot]) -> Asking<'a> {
        Asking {
            targets,
            may_ask: &|_| true,
            answer: &|_, spot, cells| vec![(spot, cells)],
            like: &|thing| thing,
            day_of_waiting: pack.figure("day_of_waiting").map_or(0.0, |i| i.hi),
            runs: RUNS,
            system: System::default(),
        }
    }
}

/// A fact worth measuring.
#[derive(Debug, Clone, Serialize)]
pub struct Question {
    /// Where the fact stands on the board.
    #[serde(skip)]
    pub spot: Spot,
    /// What it is about, in plain words.
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
    /// Share of what is open in the targets that the answer is expected to settle, 0 to 1: what each
    /// answer settles, by how likely the answer is. What is open in a target is the logarithm of the
    /// number of values still possible.
    pub settles: f64,
    /// Whether evidence tables say how likely the answers are. Else every answer the rules tell apart
    /// counts alike.
    pub weighed: bool,
    /// The same for everything between the fact and the targets. A fact that settles no target on
    /// its own may still be needed beside another.
    pub helps: f64,
    /// `settles` a minute of work, waiting included.
    pub per_minute: f64,
    /// What may hurt whoever measures it.
    pub cautions: Vec<String>,
    /// What each answer would lead to, in the order of the fact's values.
    pub answers: Vec<Answer>,
}

/// What an answer would lead to.
#[derive(Debug, Clone, Serialize)]
pub struct Answer {
    /// Cells of the answer.
    #[serde(skip)]
    pub cells: Bits,
    /// The answer; several values where no row tells them apart.
    pub values: Vec<Word>,
    /// How likely the answer is, 0 to 1; the answers of a question add up to 1.
    pub likely: f64,
    /// What would be possible for each target.
    pub leads_to: Vec<Possible>,
}

/// The facts that could be asked for, each with its parts that the rules tell apart.
struct Askable<'a> {
    pack: &'a Pack,
    reach: Reach,
    classes: Classes,
    /// All work done that leads to the targets.
    base: Board,
}

impl<'a> Askable<'a> {
    fn of(pack: &'a Pack, board: &Board, targets: &[Spot]) -> Askable<'a> {
        let reach = Reach::of(pack, board, targets);
        let mut base = board.clone();
        reach.run(pack, &mut base, &mut Trail::default());
        Askable {
            pack,
            classes: Classes::new(pack, &reach, targets),
            reach,
            base,
        }
    }

    fn spots(&self, may_ask: &dyn Fn(Spot) -> bool) -> impl Iterator<Item = (Spot, Vec<Bits>)> {
        let spots = self.reach.entries().iter().copied();
        spots.filter_map(move |spot| {
            let fact = self.pack.vocabulary.fact(spot.fact);
            let cells = self.base.at(spot);
            if cells.is_one() || (fact.ask.is_none() && fact.measure.is_none()) {
                return None;
            }
            let parts = self.classes.parts(spot.fact, cells);
            (parts.len() > 1 && may_ask(spot) && concerns(self.pack, &self.base, spot))
                .then_some((spot, parts))
        })
    }
}

/// The open facts that can still change a target, the nearest to the targets first. As [`ask`], but
/// nothing is weighed, which is most of the work.
pub fn open_facts(pack: &Pack, board: &Board, asking: &Asking<'_>, memo: &mut Memo) -> Vec<Spot> {
    let askable = Askable::of(pack, board, asking.targets);
    let mut matters = Matters::new(pack, &askable.base, asking.targets);
    askable
        .spots(asking.may_ask)
        .filter(|(spot, parts)| matters.can_change(*spot, parts, asking.runs, memo))
        .map(|(spot, _)| spot)
        .collect()
}

/// The open facts that can still change a target, the one that settles most for its work first.
/// Empty when nothing that may be asked can change any target.
pub fn ask(pack: &Pack, board: &Board, asking: &Asking<'_>) -> Vec<Question> {
    let askable = Askable::of(pack, board, asking.targets);
    let targets_open = openness(&askable.base, asking.targets);
    if targets_open == 0.0 {
        return Vec::new();
    }
    let mut memo = Memo::default();
    let mut weighing = Weighing::new(&askable, board, asking, targets_open);
    let mut matters = Matters::new(pack, &askable.base, asking.targets);
    let mut out: Vec<Question> = Vec::new();
    let mut asked: HashMap<Spot, usize> = HashMap::new();
    for (spot, parts) in askable.spots(asking.may_ask) {
        // What settles nothing alone may still do so beside another fact; what settles something in
        // between may make no difference to a target whatever the others are.
        if !matters.can_change(spot, &parts, asking.runs, &mut memo) {
            continue;
        }
        let like = Spot {
            thing: (asking.like)(spot.thing),
            fact: spot.fact,
        };
        let question = match asked.get(&like).and_then(|&i| out.get(i)) {
            Some(same) => same.about_like(spot, askable.base.label(spot.thing)),
            None => weighing.weigh(spot, &parts, &mut memo),
        };
        asked.entry(like).or_insert(out.len());
        out.push(question);
    }
    out.sort_by(|a, b| best_first(asking, a, b));
    out
}

/// The first that [`ask`] would give, found sooner: whether a fact can change a target is most of
/// the work, and it is looked into for the best one after another only until one can.
pub fn ask_first(
    pack: &Pack,
    board: &Board,
    asking: &Asking<'_>,
    memo: &mut Memo,
) -> Option<Question> {
    let askable = Askable::of(pack, board, asking.targets);
    let targets_open = openness(&askable.base, asking.targets);
    if targets_open == 0.0 {
        return None;
    }
    let mut weighing = Weighing::new(&askable, board, asking, targets_open);
    let mut all: Vec<(Question, Vec<Bits>)> = askable
        .spots(asking.may_ask)
        .map(|(spot, parts)| (weighing.weigh(spot, &parts, memo), parts))
        .collect();
    all.sort_by(|(a, _), (b, _)| best_first(asking, a, b));
    let mut matters = Matters::new(pack, &askable.base, asking.targets);
    all.into_iter()
        .find(|(q, parts)| matters.can_change(q.spot, parts, asking.runs, memo))
        .map(|(q, _)| q)
}

/// What settles most for its work comes first; of two alike, what helps most.
fn best_first(asking: &Asking<'_>, a: &Question, b: &Question) -> Ordering {
    let key = |q: &Question| {
        let work = q.minutes.max(1.0) + q.wait_days * asking.day_of_waiting;
        (q.per_minute, q.helps / work)
    };
    let ((a, a2), (b, b2)) = (key(a), key(b));
    b.total_cmp(&a).then(b2.total_cmp(&a2))
}

impl Question {
    /// The same question about a thing that is like this one's. What its answers lead to for targets
    /// inside the things themselves is not said.
    fn about_like(&self, spot: Spot, label: &str) -> Question {
        Question {
            spot,
            about: label.to_owned(),
            ..self.clone()
        }
    }
}

/// What questions are weighed on.
struct Weighing<'a> {
    askable: &'a Askable<'a>,
    asking: &'a Asking<'a>,
    targets: HashSet<Spot>,
    targets_open: f64,
    made_open: f64,
    scratch: Board,
    undo: Undo,
    trail: Trail,
    /// Everything run: evidence weighs answers whether or not the targets read the causes.
    all: Board,
    evidence: Trail,
}

impl<'a> Weighing<'a> {
    fn new(
        askable: &'a Askable<'a>,
        board: &Board,
        asking: &'a Asking<'a>,
        targets_open: f64,
    ) -> Weighing<'a> {
        let made: Vec<Spot> = askable.reach.made().collect();
        let mut all = board.clone();
        let mut evidence = Trail::default();
        run(askable.pack, &mut all, &mut evidence);
        Weighing {
            askable,
            asking,
            targets: asking.targets.iter().copied().collect(),
            targets_open,
            made_open: openness(&askable.base, &made),
            scratch: askable.base.clone(),
            undo: Undo::new(),
            trail: Trail::default(),
            all,
            evidence,
        }
    }

    fn weigh(&mut self, spot: Spot, parts: &[Bits], memo: &mut Memo) -> Question {
        let Askable {
            pack, reach, base, ..
        } = self.askable;
        let fact = pack.vocabulary.fact(spot.fact);
        let weights = likelihood(pack, &self.all, &self.evidence, spot, parts);
        let weighed = weights.is_some();
        let weights = weights.unwrap_or_else(|| vec![1.0 / parts.len() as f64; parts.len()]);
        let (mut settles, mut helps) = (0.0, 0.0);
        let mut answers = Vec::with_capacity(parts.len());
        for (&part, &likely) in parts.iter().zip(&weights) {
            // An answer may bring others with it.
            for (entry, cells) in (self.asking.answer)(base, spot, part) {
                let old = self.scratch.at(entry);
                self.scratch.set_bits(entry.thing, entry.fact, cells);
                if self.scratch.at(entry) != old {
                    self.undo.push((entry, old));
                }
            }
            let changed: Vec<Spot> = self.undo.iter().map(|(e, _)| *e).collect();
            reach.rerun(
                pack,
                &mut self.scratch,
                &mut self.trail,
                &changed,
                &mut self.undo,
                memo,
            );
            // Only what changed is open otherwise than before.
            for (i, &(spot, old)) in self.undo.iter().enumerate() {
                let less = open_by(old) - open_by(self.scratch.at(spot));
                if i >= changed.len() {
                    helps += likely * less;
                }
                if self.targets.contains(&spot) {
                    settles += likely * less;
                }
            }
            answers.push(Answer {
                cells: part,
                values: pack.words(spot.fact, part, self.asking.system),
                likely,
                leads_to: self
                    .asking
                    .targets
                    .iter()
                    .map(|&t| pack.possible(&self.scratch, t, self.asking.system))
                    .collect(),
            });
            put_back(&mut self.scratch, &mut self.undo, 0);
        }
        let settles = settles / self.targets_open;
        let helps = if self.made_open > 0.0 {
            helps / self.made_open
        } else {
            0.0
        };
        // No question takes less than a minute.
        let work = fact.minutes.max(1.0) + fact.wait_days * self.asking.day_of_waiting;
        let asked = fact.ask.as_deref().or(fact.measure.as_deref());
        Question {
            spot,
            about: base.label(spot.thing).to_owned(),
            fact: fact.id.clone(),
            name: fact.name.clone(),
            ask: asked.unwrap_or_default().to_owned(),
            measure: fact.measure.clone().unwrap_or_default(),
            minutes: fact.minutes,
            wait_days: fact.wait_days,
            who: fact.who.clone(),
            cautions: pack.cautions(fact).into_iter().map(str::to_owned).collect(),
            settles,
            weighed,
            helps,
            per_minute: settles / work,
            answers,
        }
    }
}

/// How likely each part of an open fact is, by the evidence tables that read it; `None` where none
/// does.
///
/// A push is the logarithm of how much likelier a sign is when a cause is there, so with a cause an
/// answer is as likely as the exponential of the pushes it brings, against the other answers, which
/// would be alike without any evidence. The causes count by their shares as they stand: the
/// exponential of the prior and of the signs known for certain. Rows that also need something not
/// known bring nothing. Where several tables or things read the fact, their likelihoods are averaged.
fn likelihood(
    pack: &Pack,
    board: &Board,
    trail: &Trail,
    spot: Spot,
    parts: &[Bits],
) -> Option<Vec<f64>> {
    let mut sum = vec![0.0; parts.len()];
    let mut voices = 0.0;
    for visit in trail.visits() {
        let (table, thing) = (pack.tables.get(visit.table as usize)?, visit.thing as usize);
        let Body::Rank(rank) = &table.body else {
            continue;
        };
        let reads = rank.evidence
            && visit.applied
            && table.inputs.contains(&spot.fact)
            && board.spot(pack, thing, spot.fact) == Some(spot);
        if !reads {
            continue;
        }
        let mut scores: Vec<f64> = trail
            .scored(visit)
            .iter()
            .map(|s| f64::midpoint(s.prior.lo, s.prior.hi))
            .collect();
        for fired in trail.fired(visit).iter().filter(|f| f.certain) {
            if let Some(row) = table.rows.get(usize::from(fired.row)) {
                (0..scores.len()).for_each(|c| scores[c] += push_on(&row.then, c));
            }
        }
        let most = scores.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        if !most.is_finite() {
            continue;
        }
        let telling: Vec<&Row> = table
            .rows
            .iter()
            .filter(|row| {
                let mut reads = false;
                row.when.iter().all(|c| {
                    let own = c.fact == spot.fact;
                    reads |= own;
                    own || board.get(pack, thing, c.fact).within(c.mask)
                }) && reads
            })
            .collect();
        if telling.is_empty() {
            continue;
        }
        let shares: Vec<f64> = scores.iter().map(|s| (s - most).exp()).collect();
        let mut mix = vec![0.0; parts.len()];
        for (c, share) in shares.iter().enumerate() {
            let odds: Vec<f64> = parts
                .iter()
                .map(|part| {
                    let cells = part.iter().map(|cell| {
                        telling
                            .iter()
                            .filter(|row| {
                                row.when
                                    .iter()
                                    .filter(|k| k.fact == spot.fact)
                                    .all(|k| k.mask.has(cell))
                            })
                            .map(|row| push_on(&row.then, c))
                            .sum::<f64>()
                            .exp()
                    });
                    cells.sum::<f64>() / part.len().max(1) as f64
                })
                .collect();
            let total: f64 = odds.iter().sum();
            // A cause that no answer would leave standing has no say in which comes.
            if total > 0.0 {
                for (m, o) in mix.iter_mut().zip(&odds) {
                    *m += share * o / total;
                }
            }
        }
        let total: f64 = mix.iter().sum();
        if total > 0.0 {
            for (s, m) in sum.iter_mut().zip(&mix) {
                *s += m / total;
            }
            voices += 1.0;
        }
    }
    (voices > 0.0).then(|| sum.into_iter().map(|s| s / voices).collect())
}

/// What a row adds to a contestant; minus infinity where it rules it out.
fn push_on(then: &Then, contestant: usize) -> f64 {
    match then {
        Then::Pushes { rules_out, .. } if rules_out.contains(&contestant) => f64::NEG_INFINITY,
        Then::Pushes { pushes, .. } => pushes
            .iter()
            .filter(|(c, _)| *c == contestant)
            .map(|(_, push)| push)
            .sum(),
        _ => 0.0,
    }
}

/// How much is open: the sum of the logarithms of the numbers of values still possible.
fn openness(board: &Board, spots: &[Spot]) -> f64 {
    spots.iter().map(|&s| open_by(board.at(s))).sum()
}

fn open_by(cells: Bits) -> f64 {
    (cells.len().max(1) as f64).log2()
}

/// Whether a fact is asked for this thing: some facts are asked for certain kinds of defect only.
fn concerns(pack: &Pack, board: &Board, spot: Spot) -> bool {
    let fact = pack.vocabulary.fact(spot.fact);
    if matches!(fact.comes, Comes::Made) {
        return false;
    }
    if fact.kinds.is_empty() {
        return true;
    }
    let Some(kind) = pack.vocabulary.find("kind") else {
        return true;
    };
    let values = pack.vocabulary.fact(kind).values();
    board
        .get(pack, spot.thing, kind)
        .iter()
        .filter_map(|i| values.get(i))
        .any(|v| fact.kinds.contains(&v.id))
}
