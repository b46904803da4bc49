//! A measure as it stands in a record: one number, a range, or unknown.

use std::borrow::Cow;
use std::fmt;
use std::str::FromStr;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::de::{self, Deserializer, Visitor};
use serde::{Deserialize, Serialize, Serializer};

use super::{Kind, Notation, NotationError, System, is_unknown};
use crate::units::Interval;

/// A measure as it stands in a record.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Measured<T> {
    /// One number.
    Exact(T),
    /// Somewhere from the first to the second.
    Range(T, T),
    /// Not measured, or not known.
    Unknown,
}

impl<T: Notation> Measured<T> {
    /// From a range of canonical numbers.
    pub fn from_canonical(value: Interval) -> Self {
        if value.is_exact() {
            Measured::Exact(T::from_canonical(value.lo))
        } else {
            Measured::Range(T::from_canonical(value.lo), T::from_canonical(value.hi))
        }
    }

    /// The numbers in the kind's canonical unit; `None` when unknown.
    pub fn canonical(&self) -> Option<Interval> {
        match *self {
            Measured::Exact(x) => Some(Interval::exact(x.to_canonical())),
            Measured::Range(a, b) => Some(Interval::of(a.to_canonical(), b.to_canonical())),
            Measured::Unknown => None,
        }
    }

    /// The kind of measure.
    pub fn kind(&self) -> Kind {
        T::KIND
    }

    /// Whether nothing is known.
    pub fn is_unknown(&self) -> bool {
        matches!(self, Measured::Unknown)
    }

    /// The least it can be.
    pub fn least(&self) -> Option<T> {
        match *self {
            Measured::Exact(x) | Measured::Range(x, _) => Some(x),
            Measured::Unknown => None,
        }
    }

    /// The greatest it can be.
    pub fn greatest(&self) -> Option<T> {
        match *self {
            Measured::Exact(x) | Measured::Range(_, x) => Some(x),
            Measured::Unknown => None,
        }
    }

    /// As the trade prints it; `unknown` when nothing is known.
    pub fn write(&self, system: System) -> String {
        self.canonical()
            .map_or_else(|| "unknown".to_owned(), |i| T::KIND.write(i, system))
    }
}

impl<T: Notation> FromStr for Measured<T> {
    type Err = NotationError;
    fn from_str(text: &str) -> Result<Self, NotationError> {
        if is_unknown(text) {
            return Ok(Measured::Unknown);
        }
        T::KIND.read(text).map(Measured::from_canonical)
    }
}

impl<T: Notation> Serialize for Measured<T> {
    /// In the canonical unit, exactly.
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let text = match self.canonical() {
            None => "unknown".to_owned(),
            Some(i) if i.is_exact() => T::KIND.write_exact(i.lo),
            Some(i) => format!(
                "{} to {}",
                T::KIND.write_exact(i.lo),
                T::KIND.write_exact(i.hi)
            ),
        };
        serializer.serialize_str(&text)
    }
}

impl<'de, T: Notation> Deserialize<'de> for Measured<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Text<T>(std::marker::PhantomData<T>);
        impl<T: Notation> Visitor<'_> for Text<T> {
            type Value = Measured<T>;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, "{}", T::KIND.named())
            }
            fn visit_str<E: de::Error>(self, text: &str) -> Result<Self::Value, E> {
                text.parse().map_err(E::custom)
            }
            fn visit_f64<E: de::Error>(self, x: f64) -> Result<Self::Value, E> {
                self.visit_str(&x.to_string())
            }
            fn visit_i64<E: de::Error>(self, x: i64) -> Result<Self::Value, E> {
                self.visit_str(&x.to_string())
            }
            fn visit_u64<E: de::Error>(self, x: u64) -> Result<Self::Value, E> {
                self.visit_str(&x.to_string())
            }
        }
        deserializer.deserialize_any(Text(std::marker::PhantomData))
    }
}

impl<T: Notation> JsonSchema for Measured<T> {
    fn schema_name() -> Cow<'static, str> {
        T::KIND.word().into()
    }

    fn schema_id() -> Cow<'static, str> {
        format!("ringtrue::units::Measured<{}>", T::KIND.word()).into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        let title = match T::KIND {
            Kind::Number => "a number, a range or `unknown`".to_owned(),
            kind => format!("{} with its unit, a range or `unknown`", kind.named()),
        };
        let types = match T::KIND {
            Kind::Number => serde_json::json!(["string", "number"]),
            _ => serde_json::json!("string"),
        };
        json_schema!({
            "title": title,
            "type": types,
            "format": T::KIND.word(),
            "examples": T::KIND.examples(),
        })
    }
}
