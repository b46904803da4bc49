//! What to measure next.

use serde::Serialize;

use crate::facts::{Bits, Comes};
use crate::rules::board::Board;
use crate::rules::exact::{Classes, Matters};
use crate::rules::model::{Body, Pack, Row, Spot, Then};
use crate::rules::reach::{Reach, Undo, put_back};
use crate::rules::run::{Trail, run};
use crate::rules::words::{Possible, Word};
use crate::units::System;

/// What is to be settled, and how questions are weighed and answered.
pub struct Asking<'a> {
    /// The facts to settle, such as the verdicts of every area and of the slab.
    pub targets: &'a [Spot],
    /// Whether a fact may be asked for at all, beyond what its declaration says.
    pub may_ask: &'a dyn Fn(Spot) -> bool,
    /// Writes an answer on a board, with all that the survey would work out from it.
    pub answer: &'a dyn Fn(&mut Board, Spot, Bits),
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
            answer: &|board, spot, cells| board.set_bits(spot.thing, spot.fact, cells),
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

/// The open facts that can still change a target, the one that settles most for its work first.
/// Empty when nothing that may be asked can change any target.
pub fn ask(pack: &Pack, board: &Board, asking: &Asking<'_>) -> Vec<Question> {
    let reach = Reach::of(pack, board, asking.targets);
    let classes = Classes::new(pack, &reach, asking.targets);
    let mut base = board.clone();
    let mut trail = Trail::default();
    reach.run(pack, &mut base, &mut trail);
    let made: Vec<Spot> = reach.made().collect();
    let targets_open = openness(&base, asking.targets);
    let made_open = openness(&base, &made);
    if targets_open == 0.0 {
        return Vec::new();
    }
    let mut out = Vec::new();
    let mut scratch = base.clone();
    let mut undo = Undo::new();
    let matters: Vec<Matters<'_>> = asking
        .targets
        .iter()
        .map(|&target| Matters::new(pack, board, target))
        .collect();
    // Evidence weighs answers whether or not the targets read the causes, so everything is run.
    let mut all = board.clone();
    let mut evidence = Trail::default();
    run(pack, &mut all, &mut evidence);
    for &spot in reach.entries() {
        let cells = base.at(spot);
        let parts = classes.parts(spot.fact, cells);
        let fact = pack.vocabulary.fact(spot.fact);
        let asked = fact.ask.as_deref().or(fact.measure.as_deref());
        let Some(asked) = asked.filter(|_| parts.len() > 1) else {
            continue;
        };
        if !(asking.may_ask)(spot) || !concerns(pack, &base, spot) {
            continue;
        }
        // What settles nothing alone may still do so beside another fact; what settles something in
        // between may make no difference to a target whatever the others are.
        if !matters
            .iter()
            .any(|m| m.can_change(spot, &parts, asking.runs))
        {
            continue;
        }
        let weights = likelihood(pack, &all, &evidence, spot, &parts);
        let weighed = weights.is_some();
        let weights = weights.unwrap_or_else(|| vec![1.0 / parts.len() as f64; parts.len()]);
        let (mut settles, mut helps) = (0.0, 0.0);
        let mut answers = Vec::with_capacity(parts.len());
        for (&part, &likely) in parts.iter().zip(&weights) {
            put_back(&mut scratch, &mut undo, 0);
            // An answer may bring others with it, so what was there is compared, not assumed.
            undo.extend(reach.entries().iter().map(|&e| (e, scratch.at(e))));
            (asking.answer)(&mut scratch, spot, part);
            undo.retain(|&(e, old)| scratch.at(e) != old);
            let changed: Vec<Spot> = undo.iter().map(|(e, _)| *e).collect();
            reach.rerun(pack, &mut scratch, &mut trail, &changed, &mut undo);
            settles += likely * (targets_open - openness(&scratch, asking.targets));
            helps += likely * (made_open - openness(&scratch, &made));
            answers.push(Answer {
                cells: part,
                values: pack.words(spot.fact, part, asking.system),
                likely,
                leads_to: asking
                    .targets
                    .iter()
                    .map(|&t| pack.possible(&scratch, t, asking.system))
                    .collect(),
            });
        }
        put_back(&mut scratch, &mut undo, 0);
        let settles = settles / targets_open;
        let helps = if made_open > 0.0 {
            helps / made_open
        } else {
            0.0
        };
        // No question takes less than a minute.
        let work = fact.minutes.max(1.0) + fact.wait_days * asking.day_of_waiting;
        out.push(Question {
            spot,
            about: base.label(spot.thing).to_owned(),
            fact: fact.id.clone(),
            name: fact.name.clone(),
            ask: asked.to_owned(),
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
        });
    }
    let key = |q: &Question| {
        let work = q.minutes.max(1.0) + q.wait_days * asking.day_of_waiting;
        (q.per_minute, q.helps / work)
    };
    out.sort_by(|a, b| {
        let ((a, a2), (b, b2)) = (key(a), key(b));
        b.total_cmp(&a).then(b2.total_cmp(&a2))
    });
    out
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
        let whole: f64 = shares.iter().sum();
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
                    *m += share / whole * o / total;
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
    spots
        .iter()
        .map(|&s| (board.at(s).len().max(1) as f64).log2())
        .sum()
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
