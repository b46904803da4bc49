//! What to measure next.

use serde::Serialize;

use crate::facts::{Bits, Comes};
use crate::rules::board::Board;
use crate::rules::exact::Classes;
use crate::rules::model::{Pack, Spot};
use crate::rules::reach::{Reach, Undo, put_back};
use crate::rules::run::Trail;
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
    /// Units to print.
    pub system: System,
}

impl<'a> Asking<'a> {
    /// Asks for every open fact; an answer is written on the board as it is. A day of waiting
    /// counts as the pack's figure `day_of_waiting` says, or for nothing.
    pub fn new(pack: &Pack, targets: &'a [Spot]) -> Asking<'a> {
        Asking {
            targets,
            may_ask: &|_| true,
            answer: &|board, spot, cells| board.set_bits(spot.thing, spot.fact, cells),
            day_of_waiting: pack.figure("day_of_waiting").map_or(0.0, |i| i.hi),
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
    /// Share of what is open in the targets that the answer is expected to settle, 0 to 1, with
    /// every answer the rules tell apart counted alike. What is open in a target is the logarithm
    /// of the number of values still possible.
    pub settles: f64,
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
        let (mut settles, mut helps) = (0.0, 0.0);
        let mut answers = Vec::with_capacity(parts.len());
        for &part in &parts {
            put_back(&mut scratch, &mut undo, 0);
            // An answer may bring others with it, so what was there is compared, not assumed.
            undo.extend(reach.entries().iter().map(|&e| (e, scratch.at(e))));
            (asking.answer)(&mut scratch, spot, part);
            undo.retain(|&(e, old)| scratch.at(e) != old);
            let changed: Vec<Spot> = undo.iter().map(|(e, _)| *e).collect();
            reach.rerun(pack, &mut scratch, &mut trail, &changed, &mut undo);
            settles += targets_open - openness(&scratch, asking.targets);
            helps += made_open - openness(&scratch, &made);
            answers.push(Answer {
                cells: part,
                values: pack.words(spot.fact, part, asking.system),
                leads_to: asking
                    .targets
                    .iter()
                    .map(|&t| pack.possible(&scratch, t, asking.system))
                    .collect(),
            });
        }
        let alike = parts.len() as f64;
        let settles = settles / alike / targets_open;
        let helps = if made_open > 0.0 {
            helps / alike / made_open
        } else {
            0.0
        };
        if settles <= 0.0 && helps <= 0.0 {
            continue;
        }
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
