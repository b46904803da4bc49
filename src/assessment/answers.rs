//! Answers to questions, with all that the survey works out from them.

use std::collections::HashMap;

use crate::facts::{Bits, Comes, FactId, FactKind, Interval, Value};
use crate::record::model::{Defect, Record};
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

    /// What is to be written on a board that holds the earlier answers when one more is given: the
    /// answer, with what follows from it.
    pub fn answer(
        &self,
        earlier: &[Given],
        board: &Board,
        spot: Spot,
        cells: Bits,
    ) -> Vec<(Spot, Bits)> {
        // Nothing is worked out from a sign but by the tables.
        if self.pack.vocabulary.fact(spot.fact).comes != Comes::Survey {
            return vec![(spot, cells)];
        }
        let mut answers = earlier.to_vec();
        answers.push(Given {
            spot,
            cells,
            value: None,
        });
        let with = self.board(&answers);
        let mut out = Vec::new();
        for (fact, declared) in self.pack.vocabulary.facts() {
            if self.pack.maker(fact).is_none() {
                let spots = with
                    .of_scope(declared.scope)
                    .map(|thing| Spot { thing, fact });
                out.extend(
                    spots
                        .map(|spot| (spot, with.at(spot)))
                        .filter(|&(spot, cells)| board.at(spot) != cells),
                );
            }
        }
        out
    }

    /// For each thing the first that the record says the same of: defects of an area that differ in
    /// number, photos and remarks only, and that none of the answers is about.
    pub fn like(&self, answers: &[Given]) -> Vec<usize> {
        let mut like: Vec<usize> = (0..self.survey.things.len()).collect();
        for (area, things) in self.record.areas.iter().zip(&self.survey.areas) {
            let mut first: HashMap<String, usize> = HashMap::new();
            for (defect, &thing) in area.defects.iter().zip(&things.defects) {
                if answers.iter().any(|a| a.spot.thing == thing) {
                    continue;
                }
                let bare = Defect {
                    id: 0,
                    photos: Vec::new(),
                    note: None,
                    ..defect.clone()
                };
                let Ok(said) = serde_json::to_string(&bare) else {
                    continue;
                };
                if let Some(slot) = like.get_mut(thing) {
                    *slot = *first.entry(said).or_insert(thing);
                }
            }
        }
        like
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
