//! A panel record: one flat object, read without taking its values apart.

use std::borrow::Cow;
use std::fmt;

use serde::de::{DeserializeSeed, Deserializer, IgnoredAny, MapAccess, Visitor};
use serde_json::value::RawValue;
use serde_json::{Map, Value};

use super::fields::{Fields, Form, Group, Slot};
use crate::source::nearest;

/// What is wrong with a row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// Column in characters, from 1, where it is known.
    pub column: Option<usize>,
    /// Key, where it is known.
    pub key: Option<String>,
    /// The offending text.
    pub text: String,
    /// What is wrong, in a sentence.
    pub message: String,
    /// How to write it right.
    pub hint: String,
}

/// A panel record. Values are kept as their JSON text.
#[derive(Debug, Default)]
pub struct Row<'a> {
    /// Short name, as JSON.
    pub id: Option<&'a str>,
    /// Latitude as JSON, and in degrees.
    pub lat: Option<(&'a str, f64)>,
    /// Longitude as JSON, and in degrees.
    pub lon: Option<(&'a str, f64)>,
    /// Fields that are judged, by index, with their JSON text; in the order of the indices.
    pub cells: Vec<(u16, &'a str)>,
}

impl<'a> Row<'a> {
    /// Text of a field.
    pub fn get(&self, field: u16) -> Option<&'a str> {
        self.cells
            .iter()
            .find(|(i, _)| *i == field)
            .map(|(_, raw)| *raw)
    }

    /// Takes a value.
    pub fn put(&mut self, slot: Slot, raw: &'a str) -> Result<(), (String, &'static str)> {
        if raw == "null" || raw == "\"\"" {
            return Ok(());
        }
        match slot {
            Slot::Remark => {}
            Slot::Id => self.id = Some(raw),
            Slot::Latitude => self.lat = degrees(raw, 90.0, "latitude")?,
            Slot::Longitude => self.lon = degrees(raw, 180.0, "longitude")?,
            Slot::Field(i) => {
                if raw.starts_with('{') {
                    return Err((
                        "a row is flat".to_owned(),
                        "write a word, a measure with its unit, or a list of them",
                    ));
                }
                // Rows of a file mostly bear their keys in one order.
                let at = self.cells.partition_point(|(j, _)| *j < i);
                if self.cells.get(at).is_some_and(|(j, _)| *j == i) {
                    return Err((
                        "this key stands in the row already".to_owned(),
                        "keep one of the two",
                    ));
                }
                self.cells.insert(at, (i, raw));
            }
        }
        Ok(())
    }

    /// Reads a line of NDJSON.
    ///
    /// # Errors
    /// The first thing wrong with it, with its column.
    pub fn read(fields: &Fields, line: &'a str) -> Result<Row<'a>, Fault> {
        let mut row = Row::default();
        row.cells.reserve(16);
        let mut fault = None;
        let seed = Object {
            fields,
            row: &mut row,
            fault: &mut fault,
        };
        let mut json = serde_json::Deserializer::from_str(line);
        let read = seed.deserialize(&mut json).and_then(|()| json.end());
        if let Some((start, key, message, hint)) = fault {
            let (column, text) = match start {
                Start::At(raw) => (
                    Some(column(line, raw.as_ptr() as usize - line.as_ptr() as usize)),
                    raw.to_owned(),
                ),
                Start::Key(key) => (
                    line.find(&format!("\"{key}\"")).map(|at| column(line, at)),
                    key,
                ),
            };
            return Err(Fault {
                column,
                key,
                text: shortened(&text),
                message,
                hint,
            });
        }
        read.map_err(|e| Fault {
            column: Some(e.column().max(1)),
            key: None,
            text: shortened(line),
            message: format!("this is no JSON object: {}", plain(&e)),
            hint:
                "write one object a line: {\"id\":\"P-1\",\"date\":\"2026-05-14\",\"use\":\"walk\"}"
                    .to_owned(),
        })?;
        row.check(fields, line)?;
        Ok(row)
    }

    /// What no part of the record asks for, but a row needs.
    pub fn check(&self, fields: &Fields, line: &str) -> Result<(), Fault> {
        let fault = |message: &str, hint: &str| {
            Err(Fault {
                column: None,
                key: None,
                text: shortened(line),
                message: message.to_owned(),
                hint: hint.to_owned(),
            })
        };
        if self.get(fields.use_).is_none() {
            return fault(
                "the row does not say what the slab serves as",
                "add \"use\": walk, patio, drive, garage_floor, pool_deck, apron, porch, interior_floor or carport_deck",
            );
        }
        if self.get(fields.date).is_none() {
            return fault(
                "the row has no day of inspection",
                "add \"date\":\"2026-05-14\"",
            );
        }
        if self.lat.is_some() != self.lon.is_some() {
            return fault(
                "one of `lat` and `lon` is missing",
                "give both, in degrees, north and east positive",
            );
        }
        Ok(())
    }

    /// The row as the text of an inspection record, a field a line, and the field of each line.
    pub fn to_record(&self, fields: &Fields) -> (String, Vec<Option<u16>>) {
        self.as_record(fields, &[], |_| true)
    }

    /// Some fields of the row as the text of a record. What no record can do without is filled in,
    /// always alike.
    pub fn part_to_record(&self, fields: &Fields, only: impl Fn(u16) -> bool) -> String {
        let sized = self
            .cells
            .iter()
            .any(|&(i, _)| only(i) && fields.get(i).group == Group::Surface);
        let size: &[(&str, Value)] = if sized {
            &[]
        } else {
            &[("areas.0.surface", "100 ft2".into())]
        };
        let mut filled = vec![("slab.use", "walk".into())];
        filled.extend_from_slice(size);
        self.as_record(fields, &filled, only).0
    }

    fn as_record(
        &self,
        fields: &Fields,
        filled: &[(&str, Value)],
        only: impl Fn(u16) -> bool,
    ) -> (String, Vec<Option<u16>>) {
        let mut root = Map::new();
        let fixed = [
            ("ringtrue", Value::from(1)),
            ("job.client", "of an inventory".into()),
            ("job.address", "of an inventory".into()),
            ("job.date", "2000-01-01".into()),
            ("job.inspector", "of an inventory".into()),
            ("areas.0.id", "A".into()),
            ("areas.0.name", "panel".into()),
        ];
        for (path, value) in fixed.iter().chain(filled) {
            set(&mut root, path, value.clone());
        }
        for &(i, raw) in self.cells.iter().filter(|(i, _)| only(*i)) {
            let field = fields.get(i);
            if let Some(n) = field.defect {
                set(
                    &mut root,
                    &format!("areas.0.defects.{n}.id"),
                    Value::from(n + 1),
                );
            }
            set(&mut root, &field.path, leaf(raw, field.form));
        }
        let (mut text, mut lines) = (String::new(), vec![None]);
        emit(&Value::Object(root), "", fields, &mut text, &mut lines);
        text.push('\n');
        (text, lines)
    }
}

fn degrees<'a>(
    raw: &'a str,
    most: f64,
    what: &str,
) -> Result<Option<(&'a str, f64)>, (String, &'static str)> {
    match raw.trim_matches('"').trim().parse::<f64>() {
        Ok(x) if (-most..=most).contains(&x) => Ok(Some((raw, x))),
        _ => Err((
            format!("a {what} lies between -{most} and {most} degrees"),
            "write degrees with a point, north and east positive: 43.0712",
        )),
    }
}

/// Column in characters of a byte of a line.
pub fn column(line: &str, byte: usize) -> usize {
    line.get(..byte)
        .map_or(1, |before| before.chars().count() + 1)
}

/// A text short enough for a message.
pub fn shortened(text: &str) -> String {
    const MOST: usize = 80;
    let text = text.trim();
    match text.char_indices().nth(MOST) {
        Some((at, _)) => format!("{}…", &text[..at]),
        None => text.to_owned(),
    }
}

/// What the JSON reader found, without its own count of lines.
fn plain(error: &serde_json::Error) -> String {
    let text = error.to_string();
    match text.rfind(" at line ") {
        Some(at) => text[..at].to_owned(),
        None => text,
    }
}

/// Where something wrong begins: at a value, or at a key that has no place of its own.
enum Start<'a> {
    At(&'a str),
    Key(String),
}

type Found<'a> = Option<(Start<'a>, Option<String>, String, String)>;

struct Object<'r, 'a> {
    fields: &'r Fields,
    row: &'r mut Row<'a>,
    fault: &'r mut Found<'a>,
}

impl<'a> DeserializeSeed<'a> for Object<'_, 'a> {
    type Value = ();
    fn deserialize<D: Deserializer<'a>>(self, deserializer: D) -> Result<(), D::Error> {
        deserializer.deserialize_map(self)
    }
}

impl<'a> Visitor<'a> for Object<'_, 'a> {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("an object")
    }

    fn visit_map<M: MapAccess<'a>>(self, mut map: M) -> Result<(), M::Error> {
        while let Some(key) = map.next_key_seed(Key(self.fields))? {
            match key {
                Ok(slot) => {
                    let raw = map.next_value::<&'a RawValue>()?.get();
                    if let Err((message, hint)) = self.row.put(slot, raw) {
                        let key = match slot {
                            Slot::Field(i) => Some(self.fields.get(i).key.clone()),
                            _ => None,
                        };
                        self.fault
                            .get_or_insert((Start::At(raw), key, message, hint.to_owned()));
                    }
                }
                Err(unknown) => {
                    map.next_value::<IgnoredAny>()?;
                    let (message, hint) = no_such_key(self.fields, &unknown);
                    self.fault.get_or_insert((
                        Start::Key(unknown.clone()),
                        Some(unknown),
                        message,
                        hint,
                    ));
                }
            }
        }
        Ok(())
    }
}

/// What is said of a key that no row has.
pub fn no_such_key(fields: &Fields, key: &str) -> (String, String) {
    let hint = match nearest(key, fields.keys()) {
        Some(near) => format!("did you mean `{near}`?"),
        None => "`ringtrue survey --fields` lists every field".to_owned(),
    };
    (format!("a panel record has no field `{key}`"), hint)
}

struct Key<'r>(&'r Fields);

impl<'a> DeserializeSeed<'a> for Key<'_> {
    type Value = Result<Slot, String>;
    fn deserialize<D: Deserializer<'a>>(self, deserializer: D) -> Result<Self::Value, D::Error> {
        deserializer.deserialize_str(self)
    }
}

impl Visitor<'_> for Key<'_> {
    type Value = Result<Slot, String>;
    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a key")
    }
    fn visit_str<E>(self, key: &str) -> Result<Self::Value, E> {
        Ok(self.0.slot(key).ok_or_else(|| key.to_owned()))
    }
}

/// A value as the record takes it.
fn leaf(raw: &str, form: Form) -> Value {
    let value: Value = serde_json::from_str(raw).unwrap_or_else(|_| Value::from(raw));
    let one = |value: Value| match value {
        Value::Bool(yes) => Value::from(if yes { "yes" } else { "no" }),
        Value::String(text) if matches!(form, Form::Number | Form::Numbers) => {
            // A number that came as text, as every cell of a CSV file does.
            serde_json::from_str::<serde_json::Number>(text.trim())
                .map_or(Value::String(text), Value::Number)
        }
        other => other,
    };
    let list = match value {
        Value::Array(items) => items,
        Value::String(text) if text.contains('|') => {
            text.split('|').map(|t| Value::from(t.trim())).collect()
        }
        single => match form {
            Form::Readings | Form::Numbers => return Value::Array(vec![one(single)]),
            Form::Text | Form::Number => return one(single),
        },
    };
    Value::Array(list.into_iter().map(one).collect())
}

/// Puts a value into a tree; `0`, `1` … are places in a list.
fn set(root: &mut Map<String, Value>, path: &str, value: Value) {
    // Lists are kept as objects with the places as keys until they are written.
    let (head, rest) = path
        .split_once('.')
        .map_or((path, None), |(h, r)| (h, Some(r)));
    match rest {
        None => {
            root.insert(head.to_owned(), value);
        }
        Some(rest) => {
            let inner = root
                .entry(head)
                .or_insert_with(|| Value::Object(Map::new()));
            if let Value::Object(inner) = inner {
                set(inner, rest, value);
            }
        }
    }
}

fn emit(
    value: &Value,
    path: &str,
    fields: &Fields,
    out: &mut String,
    lines: &mut Vec<Option<u16>>,
) {
    let Value::Object(map) = value else {
        let _ = fmt::Write::write_fmt(out, format_args!("{value}"));
        return;
    };
    let list = map
        .keys()
        .next()
        .is_some_and(|k| k.parse::<usize>().is_ok());
    out.push(if list { '[' } else { '{' });
    for (i, (key, value)) in map.iter().enumerate() {
        out.push_str(if i == 0 { "\n" } else { ",\n" });
        let path: Cow<'_, str> = match path {
            "" => key.as_str().into(),
            path => format!("{path}.{key}").into(),
        };
        lines.push(match value {
            Value::Object(_) => None,
            _ => fields.at_path(&path),
        });
        if !list {
            let _ = fmt::Write::write_fmt(out, format_args!("{}: ", Value::from(key.as_str())));
        }
        emit(value, &path, fields, out, lines);
    }
    out.push(if list { ']' } else { '}' });
}
