//! Width by length: `12 ft x 30 ft`.

use std::borrow::Cow;
use std::fmt;
use std::str::FromStr;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use super::{Area, Kind, Length, Measured, Notation, NotationError, System};
use crate::units::Interval;

/// Width by length of a rectangle, for example `12 ft x 30 ft`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Size {
    /// Across the map, left to right.
    pub width: Measured<Length>,
    /// Up the map.
    pub length: Measured<Length>,
}

impl Size {
    /// The surface; a range when a side is one.
    pub fn area(&self) -> Measured<Area> {
        match (self.width.canonical(), self.length.canonical()) {
            // mm² to m².
            (Some(w), Some(l)) => Measured::from_canonical(Interval {
                lo: w.lo * l.lo / 1e6,
                hi: w.hi * l.hi / 1e6,
            }),
            _ => Measured::Unknown,
        }
    }

    /// As the trade prints it.
    pub fn write(&self, system: System) -> String {
        format!(
            "{} x {}",
            self.width.write(system),
            self.length.write(system)
        )
    }
}

impl FromStr for Size {
    type Err = NotationError;

    /// Reads `12 ft x 30 ft`, `12 x 30 ft`, `12' by 30'`, `3.5 m × 9 m`.
    fn from_str(text: &str) -> Result<Self, NotationError> {
        let example = "write width by length, for example `12 ft x 30 ft`";
        let lower = text.to_ascii_lowercase();
        let mut cuts: Vec<(usize, usize)> = Vec::new();
        for mark in ["×", "x", "*", " by "] {
            cuts.extend(
                lower
                    .match_indices(mark)
                    .map(|(at, found)| (at, at + found.len())),
            );
        }
        let [(from, past)] = cuts.as_slice() else {
            return Err(NotationError::new(
                format!("`{}` is no width by length", text.trim()),
                example,
            ));
        };
        let (left, right) = (
            text.get(..*from).unwrap_or("").trim(),
            text.get(*past..).unwrap_or("").trim(),
        );
        if left.is_empty() || right.is_empty() {
            return Err(NotationError::new(
                format!("`{}` is no width by length", text.trim()),
                example,
            ));
        }
        let digits = |side: &str| {
            side.chars()
                .all(|c| c.is_ascii_digit() || matches!(c, '.' | '/' | '-' | ' '))
        };
        let bare = digits(left);
        if digits(right) {
            return Err(NotationError::new(
                "a bare number needs its unit",
                match bare {
                    true => format!(
                        "write `{left} ft x {right} ft` or `{left} m x {right} m`, whichever it is"
                    ),
                    false => format!("write `{left} x {right} ft`, or whatever unit it is"),
                },
            ));
        }
        let length = Kind::Length.read(right)?;
        // `12 x 30 ft`: the width takes the unit of the length.
        let width = match right.rsplit_once(|c: char| c.is_ascii_digit()) {
            Some((before, unit)) if bare && !before.contains(['\'', '"']) => {
                Kind::Length.read(&format!("{left} {}", unit.trim()))?
            }
            _ => Kind::Length.read(left)?,
        };
        if width.lo <= 0.0 || length.lo <= 0.0 {
            return Err(NotationError::new(
                format!("`{}` has a side of nothing", text.trim()),
                "give both sides as more than zero, or leave the line out",
            ));
        }
        Ok(Size {
            width: Measured::from_canonical(width),
            length: Measured::from_canonical(length),
        })
    }
}

impl fmt::Display for Size {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.write(System::default()))
    }
}

impl Serialize for Size {
    /// In millimetres, exactly.
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let side = |m: &Measured<Length>| match m {
            Measured::Exact(x) => Kind::Length.write_exact(x.to_canonical()),
            Measured::Range(a, b) => format!(
                "{} to {}",
                Kind::Length.write_exact(a.to_canonical()),
                Kind::Length.write_exact(b.to_canonical())
            ),
            Measured::Unknown => "unknown".to_owned(),
        };
        serializer.serialize_str(&format!("{} x {}", side(&self.width), side(&self.length)))
    }
}

impl<'de> Deserialize<'de> for Size {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = Cow::<str>::deserialize(deserializer)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

impl JsonSchema for Size {
    fn schema_name() -> Cow<'static, str> {
        "size".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "title": "width by length with units",
            "type": "string",
            "format": "size",
            "examples": ["12 ft x 30 ft", "3.5 m x 9 m"],
        })
    }
}
