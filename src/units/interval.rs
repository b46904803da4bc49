//! Ranges of numbers.

use serde::{Deserialize, Serialize};

/// A closed range of numbers. `lo == hi` for a single number; the ends may be infinite.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Interval {
    /// Least.
    pub lo: f64,
    /// Greatest.
    pub hi: f64,
}

impl Interval {
    /// Everything.
    pub const ALL: Interval = Interval {
        lo: f64::NEG_INFINITY,
        hi: f64::INFINITY,
    };

    /// A single number.
    pub fn exact(x: f64) -> Self {
        Interval { lo: x, hi: x }
    }

    /// From the lesser to the greater of two numbers.
    pub fn of(a: f64, b: f64) -> Self {
        Interval {
            lo: a.min(b),
            hi: a.max(b),
        }
    }

    /// Whether it is a single number.
    pub fn is_exact(self) -> bool {
        self.lo == self.hi
    }

    /// The smallest range that holds both.
    pub fn hull(self, other: Interval) -> Self {
        Interval {
            lo: self.lo.min(other.lo),
            hi: self.hi.max(other.hi),
        }
    }
}

impl std::ops::Add for Interval {
    type Output = Interval;
    fn add(self, other: Interval) -> Interval {
        Interval {
            lo: self.lo + other.lo,
            hi: self.hi + other.hi,
        }
    }
}

impl std::ops::Sub for Interval {
    type Output = Interval;
    fn sub(self, other: Interval) -> Interval {
        Interval {
            lo: self.lo - other.hi,
            hi: self.hi - other.lo,
        }
    }
}
