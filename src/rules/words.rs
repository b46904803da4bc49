//! Cells and values in words.

use serde::Serialize;

use crate::facts::{Bits, Fact, FactId, FactKind, Interval};
use crate::units::{Kind, System};

use super::board::Board;
use super::condition::Segment;
use super::model::{Pack, Spot};

/// One value, or one stretch of numbers, as a word and in plain words.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Word {
    /// Word in the rule pack; for numbers a DMN interval such as `[5 mm..10 mm)`.
    pub word: String,
    /// In plain words.
    pub name: String,
}

/// What is possible for a fact of a thing.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Possible {
    /// Where the fact stands on the board.
    #[serde(skip)]
    pub spot: Spot,
    /// Its cells.
    #[serde(skip)]
    pub cells: Bits,
    /// What it is about, in plain words: `area A`, `defect 3`.
    pub about: String,
    /// Fact.
    pub fact: String,
    /// Name for pages.
    pub name: String,
    /// Whether only one value, or one stretch of numbers no row divides, is left.
    pub firm: bool,
    /// Whether nothing at all is known: every plausible value is possible.
    pub unknown: bool,
    /// The values still possible.
    pub values: Vec<Word>,
}

impl Possible {
    /// The possible values in one line: `patch or thin resurfacing`.
    pub fn text(&self) -> String {
        if self.unknown && !self.firm {
            return "not known".to_owned();
        }
        let names: Vec<&str> = self.values.iter().map(|w| w.name.as_str()).collect();
        match names.split_last() {
            None => String::new(),
            Some((last, [])) => (*last).to_owned(),
            Some((last, rest)) => format!("{} or {last}", rest.join(", ")),
        }
    }
}

impl Pack {
    /// What may hurt whoever finds out a fact: its own caution, then the rows it names.
    pub fn cautions<'a>(&'a self, fact: &'a Fact) -> Vec<&'a str> {
        let row = |id: &String| {
            self.tables
                .iter()
                .flat_map(|t| &t.rows)
                .find(|r| r.id == *id)
                .map(|r| r.because.as_str())
        };
        fact.caution
            .as_deref()
            .into_iter()
            .chain(fact.cautions.iter().filter_map(row))
            .collect()
    }

    /// The values a set of cells of a fact stands for.
    pub fn words(&self, fact: FactId, cells: Bits, system: System) -> Vec<Word> {
        let declared = self.vocabulary.fact(fact);
        match &declared.kind {
            FactKind::Choice { values, .. } => cells
                .iter()
                .filter_map(|i| values.get(i))
                .map(|v| Word {
                    word: v.id.clone(),
                    name: v.name.clone(),
                })
                .collect(),
            FactKind::Quantity(kind) => {
                let mut out = Vec::new();
                let mut rest = cells;
                while let Some(first) = rest.lowest() {
                    let mut last = first;
                    while rest.has(last + 1) {
                        last += 1;
                    }
                    rest = rest.less(Bits::first(last + 1));
                    let segment = self.cells[usize::from(fact.0)].segment(first, last);
                    out.push(stretch(*kind, segment, declared, system));
                }
                out
            }
        }
    }

    /// What is possible for a spot of a board.
    pub fn possible(&self, board: &Board, spot: Spot, system: System) -> Possible {
        self.possible_cells(board, spot, board.at(spot), system)
    }

    /// The words for some cells of a spot of a board.
    pub fn possible_cells(
        &self,
        board: &Board,
        spot: Spot,
        cells: Bits,
        system: System,
    ) -> Possible {
        let fact = self.vocabulary.fact(spot.fact);
        let domain = self
            .cells
            .get(usize::from(spot.fact.0))
            .map_or(Bits::NONE, |c| c.domain);
        Possible {
            spot,
            cells,
            about: board
                .things()
                .get(spot.thing)
                .map_or_else(String::new, |t| t.label.clone()),
            fact: fact.id.clone(),
            name: fact.name.clone(),
            firm: cells.is_one(),
            unknown: domain.within(cells),
            values: self.words(spot.fact, cells, system),
        }
    }
}

/// A stretch of the number line in words.
fn stretch(kind: Kind, s: Segment, fact: &Fact, system: System) -> Word {
    let one = |x: f64| kind.write(Interval::exact(x), system);
    let (open, close) = (
        if s.lo_closed { '[' } else { '(' },
        if s.hi_closed { ']' } else { ')' },
    );
    let exact = |x: f64| kind.write_exact(x);
    // The least the fact can be is all that is left of such a stretch.
    let floor = fact.range.is_some_and(|r| r.lo >= s.hi);
    match (s.lo.is_finite(), s.hi.is_finite()) {
        (false, false) => Word {
            word: "-".into(),
            name: "anything".into(),
        },
        (false, true) => Word {
            word: format!("{} {}", if s.hi_closed { "<=" } else { "<" }, exact(s.hi)),
            name: match (s.hi_closed, floor) {
                (true, true) => one(s.hi),
                (true, false) => format!("{} or less", one(s.hi)),
                (false, _) => format!("less than {}", one(s.hi)),
            },
        },
        (true, false) => Word {
            word: format!("{} {}", if s.lo_closed { ">=" } else { ">" }, exact(s.lo)),
            name: if s.lo_closed {
                format!("{} or more", one(s.lo))
            } else {
                format!("more than {}", one(s.lo))
            },
        },
        (true, true) if s.lo == s.hi => Word {
            word: exact(s.lo),
            name: one(s.lo),
        },
        (true, true) => Word {
            word: format!("{open}{}..{}{close}", exact(s.lo), exact(s.hi)),
            name: match (s.lo_closed, s.hi_closed) {
                (true, true) => format!("{} to {}", one(s.lo), one(s.hi)),
                (true, false) => format!("{} to just under {}", one(s.lo), one(s.hi)),
                (false, true) => format!("over {} up to {}", one(s.lo), one(s.hi)),
                (false, false) => format!("between {} and {}", one(s.lo), one(s.hi)),
            },
        },
    }
}
