//! Numbers as cells: all cut points of a fact over a pack divide its line, so that every condition
//! is a set of cells and gaps and overlaps can be proved, not sampled.

use serde::{Deserialize, Serialize};

use crate::facts::{Bits, Fact, FactKind, Interval, Value};

use super::condition::{Segment, Test};

/// A border between two cells, just before or just after a number.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
struct Cut {
    at: f64,
    /// Whether the number itself belongs to the cell below the border.
    after: bool,
}

impl Cut {
    fn is_below(self, x: f64) -> bool {
        if self.after {
            self.at < x
        } else {
            self.at <= x
        }
    }
}

/// The cells of one fact. A choice has one cell a value.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub struct Cells {
    cuts: Vec<Cut>,
    /// What an unknown value may be: cells inside the plausible range, or every value.
    pub domain: Bits,
}

/// A fact has more cut points than a set of cells can hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TooManyCuts(pub usize);

impl Cells {
    /// Cells of a fact from every test made of it in the pack.
    ///
    /// # Errors
    /// A fact can have 127 cut points at most.
    pub fn new<'a>(
        fact: &Fact,
        tests: impl IntoIterator<Item = &'a Test>,
    ) -> Result<Cells, TooManyCuts> {
        if matches!(fact.kind, FactKind::Choice { .. }) {
            return Ok(Cells {
                cuts: Vec::new(),
                domain: fact.all_bits(),
            });
        }
        let mut cuts: Vec<Cut> = Vec::new();
        for test in tests {
            let Test::Number { segments, .. } = test else {
                continue;
            };
            for s in segments {
                if s.lo.is_finite() {
                    cuts.push(Cut {
                        at: s.lo,
                        after: !s.lo_closed,
                    });
                }
                if s.hi.is_finite() {
                    cuts.push(Cut {
                        at: s.hi,
                        after: s.hi_closed,
                    });
                }
            }
        }
        cuts.sort_by(|a, b| a.at.total_cmp(&b.at).then(a.after.cmp(&b.after)));
        cuts.dedup();
        if cuts.len() > 127 {
            return Err(TooManyCuts(cuts.len()));
        }
        let mut cells = Cells {
            cuts,
            domain: Bits::NONE,
        };
        cells.domain = cells.of_interval(fact.range.unwrap_or(Interval::ALL));
        Ok(cells)
    }

    /// Number of cells of a quantity.
    pub fn count(&self) -> usize {
        self.cuts.len() + 1
    }

    /// The cell a number lies in.
    pub fn of_number(&self, x: f64) -> usize {
        self.cuts.partition_point(|c| c.is_below(x))
    }

    /// The cells a range touches.
    pub fn of_interval(&self, i: Interval) -> Bits {
        let (lo, hi) = (self.of_number(i.lo), self.of_number(i.hi));
        Bits::first(hi + 1).less(Bits::first(lo))
    }

    /// The cells a value may lie in.
    pub fn of_value(&self, value: Value) -> Bits {
        match value {
            Value::Unknown => self.domain,
            Value::Number(i) => self.of_interval(i),
            Value::Choices(bits) => bits,
        }
    }

    /// The cells for which a test holds.
    pub fn of_test(&self, test: &Test) -> Bits {
        match test {
            Test::Choice(bits) => *bits,
            Test::Number { segments, negated } => {
                let mut bits = Bits::NONE;
                for s in segments {
                    bits = bits.or(self.of_segment(*s));
                }
                if *negated {
                    Bits::first(self.count()).less(bits)
                } else {
                    bits
                }
            }
        }
    }

    fn of_segment(&self, s: Segment) -> Bits {
        // The borders of the segment are cuts, so a cell lies in it whole or not at all.
        let lo = if s.lo_closed {
            self.of_number(s.lo)
        } else {
            self.cuts.partition_point(|c| c.at <= s.lo)
        };
        let hi_open = if s.hi_closed {
            self.of_number(s.hi) + 1
        } else {
            self.cuts
                .partition_point(|c| c.at < s.hi || (c.at == s.hi && !c.after))
        };
        // The cell before the last border passed is the last one inside an open end.
        Bits::first(hi_open.max(lo)).less(Bits::first(lo))
    }

    /// The piece of the number line that the cells from `first` to `last` fill.
    pub fn segment(&self, first: usize, last: usize) -> Segment {
        let below = first.checked_sub(1).and_then(|i| self.cuts.get(i));
        let above = self.cuts.get(last);
        Segment {
            lo: below.map_or(f64::NEG_INFINITY, |c| c.at),
            lo_closed: below.is_none_or(|c| !c.after),
            hi: above.map_or(f64::INFINITY, |c| c.at),
            hi_closed: above.is_none_or(|c| c.after),
        }
    }

    /// A number inside a cell, for showing an input that proves a point. Prefers round numbers
    /// and stays inside `range` where the cell reaches into it.
    pub fn sample(&self, cell: usize, range: Option<Interval>) -> f64 {
        let range = range.unwrap_or(Interval::ALL);
        let below = cell.checked_sub(1).and_then(|i| self.cuts.get(i));
        let above = self.cuts.get(cell);
        let lo = below.map_or(range.lo, |c| c.at.max(range.lo));
        let hi = above.map_or(range.hi, |c| c.at.min(range.hi));
        let lo_in = below.is_none_or(|c| !c.after || c.at < lo);
        let hi_in = above.is_none_or(|c| c.after || c.at > hi);
        match (lo.is_finite(), hi.is_finite()) {
            (true, _) if lo_in => lo,
            (_, true) if hi_in => hi,
            (true, true) => f64::midpoint(lo, hi),
            (true, false) => lo + 1.0,
            (false, true) => hi - 1.0,
            (false, false) => 0.0,
        }
    }
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    /// A fact of this kind, with nothing else said of it.
    pub fn fact(kind: FactKind) -> Fact {
        Fact {
            id: "x".into(),
            scope: crate::facts::Scope::Site,
            name: "x".into(),
            kind,
            range: None,
            ask: None,
            measure: None,
            minutes: 0.0,
            wait_days: 0.0,
            pass: crate::facts::Pass::Look,
            caution: None,
            cautions: Vec::new(),
            who: "anyone".into(),
            comes: crate::facts::Comes::Survey,
            kinds: vec![],
            silent: None,
            none: None,
            product: None,
            read_by: vec![],
            file: 0,
            place: crate::source::Place::default(),
        }
    }

    fn cells(segments: &[Segment]) -> Cells {
        let test = Test::Number {
            segments: segments.to_vec(),
            negated: false,
        };
        let number = fact(FactKind::Quantity(crate::units::Kind::Number));
        Cells::new(&number, [&test]).unwrap()
    }

    const fn seg(lo: f64, lo_closed: bool, hi: f64, hi_closed: bool) -> Segment {
        Segment {
            lo,
            lo_closed,
            hi,
            hi_closed,
        }
    }

    #[test]
    fn every_number_is_in_exactly_the_segments_it_belongs_to() {
        let inf = f64::INFINITY;
        let segments = [
            seg(-inf, true, 5.0, false),
            seg(5.0, true, 10.0, false),
            seg(5.0, false, 10.0, true),
            seg(10.0, false, inf, true),
            seg(7.0, true, 7.0, true),
            seg(-inf, true, 5.0, true),
        ];
        let cells = cells(&segments);
        for x in [
            -1.0, 4.999, 5.0, 5.001, 6.9, 7.0, 7.1, 9.99, 10.0, 10.01, 99.0,
        ] {
            let cell = Bits::one(cells.of_number(x));
            for s in segments {
                let inside = (x > s.lo || (x == s.lo && s.lo_closed))
                    && (x < s.hi || (x == s.hi && s.hi_closed));
                assert_eq!(cell.within(cells.of_segment(s)), inside, "{x} in {s:?}");
            }
        }
    }

    #[test]
    fn a_sample_lies_in_its_cell() {
        let cells = cells(&[seg(0.0, true, 5.0, false), seg(5.0, false, 9.0, true)]);
        for cell in 0..cells.count() {
            assert_eq!(cells.of_number(cells.sample(cell, None)), cell);
        }
    }

    #[test]
    fn a_sample_is_an_end_that_belongs_to_the_cell_and_to_the_range() {
        // Cells: below 0, 0 to under 5, 5, over 5 to 9, over 9 to under 20, 20 and more.
        let cells = cells(&[
            seg(0.0, true, 5.0, false),
            seg(5.0, false, 9.0, true),
            seg(9.0, false, 20.0, false),
        ]);
        let sample = |cell, lo, hi| cells.sample(cell, Some(Interval { lo, hi }));
        // The end of the range inside the cell, where its own end does not belong to it.
        assert_eq!(sample(3, 7.0, 100.0), 7.0);
        assert_eq!(sample(4, 0.0, 15.0), 15.0);
        // An end as written before a number between two.
        assert_eq!(cells.sample(3, None), 9.0);
        assert_eq!(cells.sample(1, None), 0.0);
        // Neither end belongs to the cell: half way.
        assert_eq!(cells.sample(4, None), 14.5);
        // Without an end on one side, one away from the other.
        assert_eq!(cells.sample(0, None), -1.0);
        assert_eq!(cells.sample(5, None), 20.0);
    }

    #[test]
    fn cells_give_their_stretch_back() {
        let cells = cells(&[seg(0.0, true, 5.0, false), seg(5.0, false, 9.0, true)]);
        let inf = f64::INFINITY;
        for (first, last, expected) in [
            (0, 0, seg(-inf, true, 0.0, false)),
            (1, 1, seg(0.0, true, 5.0, false)),
            (2, 2, seg(5.0, true, 5.0, true)),
            (3, 3, seg(5.0, false, 9.0, true)),
            (1, 3, seg(0.0, true, 9.0, true)),
            (4, 4, seg(9.0, false, inf, true)),
        ] {
            assert_eq!(cells.segment(first, last), expected);
        }
    }
}
