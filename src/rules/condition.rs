//! Conditions of rows: DMN unary tests in the trade's units.

use serde::{Deserialize, Serialize};

use crate::facts::{Bits, Fact, FactKind, Interval};
use crate::source::nearest;
use crate::units::{Kind, NotationError};

/// One piece of a number line.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Segment {
    /// Least number.
    pub lo: f64,
    /// Whether the least number belongs to it.
    pub lo_closed: bool,
    /// Greatest number.
    pub hi: f64,
    /// Whether the greatest number belongs to it.
    pub hi_closed: bool,
}

impl Segment {
    const ALL: Segment = Segment {
        lo: f64::NEG_INFINITY,
        lo_closed: true,
        hi: f64::INFINITY,
        hi_closed: true,
    };

    fn is_empty(self) -> bool {
        self.lo > self.hi || (self.lo == self.hi && !(self.lo_closed && self.hi_closed))
    }
}

/// What a condition asks of a fact, before numbers become cells.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum Test {
    /// The number lies in one of these pieces; `negated` turns it round.
    Number {
        /// The pieces.
        segments: Vec<Segment>,
        /// Whether the number must lie outside all of them.
        negated: bool,
    },
    /// The value is one of these.
    Choice(Bits),
}

/// What is wrong with a condition.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ConditionError {
    /// In a sentence.
    pub message: String,
    /// How to write it right.
    pub hint: String,
}

fn error(message: impl Into<String>, hint: impl Into<String>) -> ConditionError {
    ConditionError {
        message: message.into(),
        hint: hint.into(),
    }
}

impl From<NotationError> for ConditionError {
    fn from(e: NotationError) -> Self {
        ConditionError {
            message: e.message,
            hint: e.hint,
        }
    }
}

/// Reads a condition on a fact. Several tests with commas between them mean any of them.
///
/// # Errors
/// Says what can't be read and how to write it.
pub fn read(fact: &Fact, text: &str) -> Result<Test, ConditionError> {
    let text = text.trim();
    let (negated, body) = match text
        .strip_prefix("not(")
        .and_then(|rest| rest.strip_suffix(')'))
    {
        Some(body) => (true, body),
        None => (false, text),
    };
    let parts = split_commas(body);
    if parts.is_empty() {
        return Err(error(
            "the condition is empty",
            "write a value, `< 5 mm`, `[5 mm..10 mm)` or `not(…)`",
        ));
    }
    match &fact.kind {
        FactKind::Quantity(kind) => {
            let segments = parts
                .iter()
                .map(|p| segment(*kind, p))
                .collect::<Result<Vec<_>, _>>()?;
            Ok(Test::Number { segments, negated })
        }
        FactKind::Choice { ordered, .. } => {
            let mut bits = Bits::NONE;
            for part in parts {
                bits = bits.or(choice(fact, *ordered, part)?);
            }
            Ok(Test::Choice(if negated {
                fact.all_bits().less(bits)
            } else {
                bits
            }))
        }
    }
}

fn split_commas(text: &str) -> Vec<&str> {
    text.split(',')
        .map(str::trim)
        .filter(|s| !s.is_empty())
        .collect()
}

fn comparison(text: &str) -> Option<(&'static str, &str)> {
    ["<=", ">=", "<", ">"]
        .into_iter()
        .find_map(|op| text.strip_prefix(op).map(|rest| (op, rest.trim())))
}

fn single(kind: Kind, text: &str) -> Result<f64, ConditionError> {
    let interval = kind.read(text)?;
    if interval.is_exact() {
        Ok(interval.lo)
    } else {
        Err(error(
            format!("`{text}` is a range; a single value is needed here"),
            "write `[4 mm..8 mm]` for a range",
        ))
    }
}

fn segment(kind: Kind, text: &str) -> Result<Segment, ConditionError> {
    if let Some((op, value)) = comparison(text) {
        let x = single(kind, value)?;
        return Ok(match op {
            "<" => Segment {
                hi: x,
                hi_closed: false,
                ..Segment::ALL
            },
            "<=" => Segment {
                hi: x,
                ..Segment::ALL
            },
            ">" => Segment {
                lo: x,
                lo_closed: false,
                ..Segment::ALL
            },
            _ => Segment {
                lo: x,
                ..Segment::ALL
            },
        });
    }
    let (first, last) = (text.chars().next(), text.chars().last());
    if let (Some(first @ ('[' | '(' | ']')), Some(last @ (']' | ')' | '['))) = (first, last) {
        // A single bracket has no inside.
        let inner = text.get(1..text.len() - 1).unwrap_or_default();
        let Some((lo, hi)) = inner.split_once("..") else {
            return Err(error(
                format!("`{text}` is no interval"),
                "write `[5 mm..10 mm)`",
            ));
        };
        let mut hi = hi.trim().to_owned();
        let mut lo = lo.trim().to_owned();
        // `[5..10 mm)` means both ends in mm.
        if kind != Kind::Number
            && kind.read(&lo).is_err()
            && let Some(unit) =
                hi.find(|c: char| c.is_alphabetic() || c == '%' || c == '"' || c == '\'')
        {
            lo = format!("{lo} {}", &hi[unit..]);
        }
        if hi.is_empty() {
            hi = lo.clone();
        }
        let segment = Segment {
            lo: single(kind, &lo)?,
            lo_closed: first == '[',
            hi: single(kind, &hi)?,
            hi_closed: last == ']',
        };
        if segment.is_empty() {
            return Err(error(
                format!("`{text}` holds nothing"),
                "write the lesser number first",
            ));
        }
        return Ok(segment);
    }
    let Interval { lo, hi } = kind.read(text)?;
    Ok(Segment {
        lo,
        lo_closed: true,
        hi,
        hi_closed: true,
    })
}

fn choice(fact: &Fact, ordered: bool, text: &str) -> Result<Bits, ConditionError> {
    let (op, word) = comparison(text).unwrap_or(("", text));
    let word = match word {
        "true" => "yes",
        "false" => "no",
        other => other,
    };
    let Some(i) = fact.value_index(word) else {
        let hint = nearest(word, fact.values().iter().map(|v| v.id.as_str())).map_or_else(
            || {
                format!(
                    "one of: {}",
                    fact.values()
                        .iter()
                        .map(|v| v.id.as_str())
                        .collect::<Vec<_>>()
                        .join(", ")
                )
            },
            |near| format!("did you mean `{near}`?"),
        );
        return Err(error(
            format!("`{word}` is not among the values of `{}`", fact.id),
            hint,
        ));
    };
    if !op.is_empty() && !ordered {
        return Err(error(
            format!(
                "the values of `{}` have no order, so `{op}` means nothing",
                fact.id
            ),
            "list the values",
        ));
    }
    let below = Bits::first(i);
    let upto = Bits::first(i + 1);
    let all = fact.all_bits();
    Ok(match op {
        "<" => below,
        "<=" => upto,
        ">" => all.less(upto),
        ">=" => all.less(below),
        _ => Bits::one(i),
    })
}

#[cfg(test)]
mod tests {
    use super::super::cells::tests::fact;
    use super::*;
    use crate::facts::ChoiceValue;

    const INF: f64 = f64::INFINITY;

    /// Least, whether it belongs, greatest, whether it belongs.
    type Ends = (f64, bool, f64, bool);

    fn ends(kind: Kind, text: &str) -> Result<Ends, String> {
        let test = read(&fact(FactKind::Quantity(kind)), text).map_err(|e| e.message)?;
        let Test::Number { segments, .. } = test else {
            panic!("{test:?}")
        };
        let [s] = segments[..] else {
            panic!("{segments:?}")
        };
        Ok((s.lo, s.lo_closed, s.hi, s.hi_closed))
    }

    #[test]
    fn comparisons_and_intervals_keep_their_ends() {
        for (text, expected) in [
            ("< 5", (-INF, true, 5.0, false)),
            ("<= 5", (-INF, true, 5.0, true)),
            ("> 5", (5.0, false, INF, true)),
            (">= 5", (5.0, true, INF, true)),
            ("5", (5.0, true, 5.0, true)),
            ("[5..10]", (5.0, true, 10.0, true)),
            ("[5..10)", (5.0, true, 10.0, false)),
            ("(5..10]", (5.0, false, 10.0, true)),
            ("(5..10)", (5.0, false, 10.0, false)),
            // The brackets of DMN turned outward leave the end out as well.
            ("]5..10[", (5.0, false, 10.0, false)),
            ("[5..5]", (5.0, true, 5.0, true)),
        ] {
            assert_eq!(ends(Kind::Number, text), Ok(expected), "{text}");
        }
    }

    #[test]
    fn an_interval_that_holds_nothing_is_refused() {
        for text in ["[10..5]", "(5..5]", "[5..5)", "(5..5)"] {
            let message = ends(Kind::Number, text).unwrap_err();
            assert_eq!(message, format!("`{text}` holds nothing"));
        }
        for text in ["[", "]", "[]", "(]"] {
            let message = ends(Kind::Number, text).unwrap_err();
            assert_eq!(message, format!("`{text}` is no interval"));
        }
    }

    #[test]
    fn a_unit_behind_the_greater_end_stands_for_both() {
        let both = |lo, hi| Ok((lo, true, hi, true));
        assert_eq!(ends(Kind::Length, "[5..10 mm]"), both(5.0, 10.0));
        assert_eq!(ends(Kind::Share, "[5..10 %]"), both(0.05, 0.1));
        // An inch is 25.4 mm, a foot 304.8 mm.
        assert_eq!(ends(Kind::Length, "[1..2\"]"), both(25.4, 50.8));
        assert_eq!(ends(Kind::Length, "[1..2']"), both(304.8, 609.6));
        assert_eq!(ends(Kind::Length, "[5 mm..1 in]"), both(5.0, 25.4));
    }

    #[test]
    fn words_in_order_may_be_compared() {
        let values = ["hidden", "showing", "missing"].map(|id| ChoiceValue {
            id: id.into(),
            name: id.into(),
        });
        let choice = |ordered| {
            fact(FactKind::Choice {
                values: values.to_vec(),
                ordered,
            })
        };
        let of = |bits: &[usize]| {
            let set = bits.iter().fold(Bits::NONE, |b, &i| b.or(Bits::one(i)));
            Ok(Test::Choice(set))
        };
        for (text, bits) in [
            ("showing", &[1][..]),
            ("< showing", &[0]),
            ("<= showing", &[0, 1]),
            ("> showing", &[2]),
            (">= showing", &[1, 2]),
            ("not(showing)", &[0, 2]),
            ("hidden, missing", &[0, 2]),
        ] {
            assert_eq!(read(&choice(true), text), of(bits), "{text}");
        }
        let refused = read(&choice(false), "< showing").unwrap_err();
        assert!(refused.message.contains("have no order"), "{refused:?}");
    }
}
