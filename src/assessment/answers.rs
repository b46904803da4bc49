//! Answers to questions, with all that the survey works out from them.

use crate::facts::{Bits, Comes, FactId, FactKind, Interval, Value};
use crate::record::model::Record;
use crate::rules::{Board, Pack, Spot};
use crate::survey::{Survey, suppose};

use super::assess::board;

/// An answer given to a question.
#[derive(Debug, Clone, Copy)]
pub struct Given {
    /// Fact and thing.
    pub spot: Spot,
    /// What is left of it.
    pub cells: Bits,
    /// The value as given, where it says more than the cells.
    pub value: Option<Value>,
}

/// A surveyed record, to which questions are answered.
#[derive(Debug, Clone, Copy)]
pub struct Answering<'a> {
    /// The record.
    pub record: &'a Record,
    /// Its survey.
    pub survey: &'a Survey,
    /// The rules.
    pub pack: &'a Pack,
}

impl Answering<'_> {
    /// What is known with some answers given, and with all that the survey works out from them.
    pub fn board(&self, answers: &[Given]) -> Board {
        let changes: Vec<((usize, FactId), Value)> = answers
            .iter()
            .filter_map(|a| {
                let value = a
                    .value
                    .or_else(|| value_in(self.pack, a.spot.fact, a.cells))?;
                Some(((a.spot.thing, a.spot.fact), value))
            })
            .collect();
        let vocabulary = &self.pack.vocabulary;
        let supposed = suppose(self.record, self.survey, vocabulary, &changes);
        let mut board = board(self.pack, &supposed.survey);
        for a in answers {
            board.set_bits(a.spot.thing, a.spot.fact, a.cells);
        }
        board
    }

    /// Writes an answer on a board that holds the earlier ones, with what follows from it.
    pub fn answer(&self, earlier: &[Given], board: &mut Board, spot: Spot, cells: Bits) {
        // Nothing is worked out from a sign but by the tables.
        if self.pack.vocabulary.fact(spot.fact).comes != Comes::Survey {
            board.set_bits(spot.thing, spot.fact, cells);
            return;
        }
        let mut answers = earlier.to_vec();
        answers.push(Given {
            spot,
            cells,
            value: None,
        });
        let with = self.board(&answers);
        for (fact, declared) in self.pack.vocabulary.facts() {
            if self.pack.maker(fact).is_none() {
                for thing in with.of_scope(declared.scope) {
                    board.set_bits(thing, fact, with.at(Spot { thing, fact }));
                }
            }
        }
    }
}

/// What a set of cells says of a fact, as a record could: the values, or the stretch of numbers from
/// the least to the greatest of them. Ends that are not in the cells are left by a billionth.
fn value_in(pack: &Pack, id: FactId, cells: Bits) -> Option<Value> {
    let fact = pack.vocabulary.fact(id);
    if matches!(fact.kind, FactKind::Choice { .. }) {
        return Some(Value::Choices(cells));
    }
    let lines = pack.cells.get(usize::from(id.0))?;
    let segment = |cell: usize| lines.segment(cell, cell);
    let (first, last) = (segment(cells.lowest()?), segment(cells.highest()?));
    let range = fact.range.unwrap_or(Interval::ALL);
    let step = |x: f64| (x.abs() * 1e-9).max(1e-9);
    let lo = if first.lo_closed {
        first.lo
    } else {
        first.lo + step(first.lo)
    };
    let hi = if last.hi_closed {
        last.hi
    } else {
        last.hi - step(last.hi)
    };
    let (lo, hi) = (lo.max(range.lo), hi.min(range.hi));
    (lo <= hi && lo.is_finite() && hi.is_finite()).then_some(Value::Number(Interval { lo, hi }))
}
