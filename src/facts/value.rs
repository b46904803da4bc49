//! What is known of a fact: nothing, a range, or a set of possibilities.

use serde::{Deserialize, Serialize};

use crate::units::Interval;

/// A set of up to 128 numbered possibilities.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, Hash, Default, PartialOrd, Ord, Serialize, Deserialize,
)]
pub struct Bits(pub u128);

impl Bits {
    /// The empty set.
    pub const NONE: Bits = Bits(0);

    /// The set of one.
    pub fn one(i: usize) -> Self {
        Bits(1u128 << i)
    }

    /// The first `n` possibilities.
    pub fn first(n: usize) -> Self {
        if n >= 128 {
            Bits(u128::MAX)
        } else {
            Bits((1u128 << n) - 1)
        }
    }

    /// Whether it holds nothing.
    pub fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// How many it holds.
    pub fn len(self) -> usize {
        self.0.count_ones() as usize
    }

    /// Whether exactly one possibility is left.
    pub fn is_one(self) -> bool {
        self.0 != 0 && self.0 & (self.0 - 1) == 0
    }

    /// Whether possibility `i` is in it.
    pub fn has(self, i: usize) -> bool {
        i < 128 && self.0 >> i & 1 == 1
    }

    /// Whether the two share a possibility.
    pub fn meets(self, other: Bits) -> bool {
        self.0 & other.0 != 0
    }

    /// Whether every possibility of `self` is in `other`.
    pub fn within(self, other: Bits) -> bool {
        self.0 & !other.0 == 0
    }

    /// The possibilities of both.
    pub fn and(self, other: Bits) -> Bits {
        Bits(self.0 & other.0)
    }

    /// The possibilities of either.
    pub fn or(self, other: Bits) -> Bits {
        Bits(self.0 | other.0)
    }

    /// The possibilities of `self` that are not in `other`.
    pub fn less(self, other: Bits) -> Bits {
        Bits(self.0 & !other.0)
    }

    /// The least possibility.
    pub fn lowest(self) -> Option<usize> {
        (self.0 != 0).then(|| self.0.trailing_zeros() as usize)
    }

    /// The greatest possibility.
    pub fn highest(self) -> Option<usize> {
        (self.0 != 0).then(|| 127 - self.0.leading_zeros() as usize)
    }

    /// The possibilities in order.
    pub fn iter(self) -> impl Iterator<Item = usize> {
        let mut rest = self.0;
        std::iter::from_fn(move || {
            (rest != 0).then(|| {
                let i = rest.trailing_zeros() as usize;
                rest &= rest - 1;
                i
            })
        })
    }
}

/// What is known of a fact.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum Value {
    /// Nothing.
    Unknown,
    /// A number or a range, in the kind's canonical unit.
    Number(Interval),
    /// The values of a choice that are still possible.
    Choices(Bits),
}

impl Value {
    /// A single number in the kind's canonical unit.
    pub fn number(x: f64) -> Self {
        Value::Number(Interval::exact(x))
    }

    /// `no` or `yes` of a flag fact (values `no`, `yes` in that order).
    pub fn flag(yes: bool) -> Self {
        Value::Choices(Bits::one(usize::from(yes)))
    }

    /// Whether nothing is left open.
    pub fn is_settled(self) -> bool {
        match self {
            Value::Unknown => false,
            Value::Number(i) => i.is_exact(),
            Value::Choices(b) => b.is_one(),
        }
    }
}
