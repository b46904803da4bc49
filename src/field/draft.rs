//! A draft and the record's YAML: from one to the other and back.

use serde_json::{Map, Value};

use crate::source::{Data, Limits, Node, Problems, SourceFile};

/// Order of the keys of every block, from the published schema.
#[derive(Debug, Clone, Copy)]
pub struct Layout<'a> {
    schema: &'a Value,
}

impl<'a> Layout<'a> {
    /// The layout of a record under its schema.
    pub fn new(schema: &'a Value) -> Layout<'a> {
        Layout { schema }
    }

    /// A draft as the YAML of a record. What is empty is left out; every value stands as it was
    /// typed. Nesting deeper than any record is cut off.
    pub fn yaml(&self, draft: &Value) -> String {
        let mut out = String::new();
        if let Value::Object(map) = draft {
            self.block(&mut out, map, Some(self.schema), 0);
        }
        out
    }

    fn block(
        &self,
        out: &mut String,
        map: &Map<String, Value>,
        schema: Option<&Value>,
        deep: usize,
    ) {
        if deep > DEEPEST {
            return;
        }
        let known = schema
            .and_then(|s| s.get("properties"))
            .and_then(Value::as_object);
        let rank = |key: &str| {
            known
                .and_then(|k| k.keys().position(|own| own == key))
                .unwrap_or(usize::MAX)
        };
        let mut keys: Vec<(&String, &Value)> = map.iter().filter(|(_, v)| !is_empty(v)).collect();
        keys.sort_by_key(|(key, _)| rank(key));
        for (key, value) in keys {
            let below = known
                .and_then(|k| k.get(key))
                .or_else(|| schema.and_then(|s| s.get("additionalProperties")));
            indent(out, deep);
            out.push_str(&scalar(key));
            out.push(':');
            self.value(out, value, below.map(|b| self.resolve(b)), deep);
        }
    }

    fn value(&self, out: &mut String, value: &Value, schema: Option<&Value>, deep: usize) {
        match value {
            Value::Object(map) => {
                out.push('\n');
                self.block(out, map, schema, deep + 1);
            }
            Value::Array(items) if items.iter().any(|i| i.is_object()) => {
                out.push('\n');
                let below = schema.and_then(|s| s.get("items")).map(|s| self.resolve(s));
                for item in items {
                    let Value::Object(map) = item else { continue };
                    let mut text = String::new();
                    self.block(&mut text, map, below, deep + 2);
                    // The first key stands behind the dash.
                    let at = (deep + 2) * 2;
                    if let Some(rest) = text.get(at..) {
                        indent(out, deep + 1);
                        out.push_str("- ");
                        out.push_str(rest);
                    }
                }
            }
            other => {
                out.push(' ');
                flow(out, other, 0);
                out.push('\n');
            }
        }
    }

    fn resolve(&self, schema: &'a Value) -> &'a Value {
        super::forms::resolve(self.schema, schema)
    }
}

/// Deepest nesting written; a record has eight levels.
const DEEPEST: usize = 16;

fn indent(out: &mut String, deep: usize) {
    out.extend(std::iter::repeat_n("  ", deep));
}

/// Whether there is nothing in it worth writing.
pub(super) fn is_empty(value: &Value) -> bool {
    match value {
        Value::Null => true,
        Value::String(text) => text.trim().is_empty(),
        Value::Array(items) => items.iter().all(is_empty),
        Value::Object(map) => map.values().all(is_empty),
        Value::Bool(_) | Value::Number(_) => false,
    }
}

fn flow(out: &mut String, value: &Value, deep: usize) {
    match value {
        Value::Array(items) if deep < DEEPEST => {
            out.push('[');
            for (i, item) in items.iter().filter(|i| !is_empty(i)).enumerate() {
                if i > 0 {
                    out.push_str(", ");
                }
                flow(out, item, deep + 1);
            }
            out.push(']');
        }
        Value::String(text) => out.push_str(&scalar(text.trim())),
        Value::Bool(yes) => out.push_str(if *yes { "yes" } else { "no" }),
        Value::Number(n) => out.push_str(&n.to_string()),
        _ => out.push_str("\"\""),
    }
}

/// A text as a scalar that reads back as the same text: plain where YAML lets it, else in quotes.
fn scalar(text: &str) -> String {
    let first = text.chars().next();
    let plain = first.is_some_and(|c| {
        c.is_alphanumeric()
            || (matches!(c, '-' | '.')
                && text.len() > 1
                && !text.starts_with("- ")
                && !text.starts_with("--")
                && !text.starts_with(".."))
    }) && !text.ends_with(' ')
        && !text.ends_with(':')
        && !text.contains(": ")
        && !text.contains(" #")
        && !text.chars().any(|c| {
            c.is_control()
                || matches!(
                    c,
                    ',' | '[' | ']' | '{' | '}' | '\u{85}' | '\u{2028}' | '\u{2029}' | '\u{feff}'
                )
        })
        && !matches!(text, "null" | "Null" | "NULL");
    if plain {
        return text.to_owned();
    }
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\n' => out.push_str("\\n"),
            '\t' => out.push_str("\\t"),
            c if c.is_control() || matches!(c, '\u{2028}' | '\u{2029}' | '\u{feff}') => {
                out.push_str(&format!("\\u{:04x}", u32::from(c)));
            }
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

/// A record's text as a draft, with the number of lines that hold a remark: a draft keeps none.
///
/// # Errors
/// Text that is no YAML: what stands in the way, with its place.
pub fn from_yaml(text: &str) -> Result<(Value, usize), Problems> {
    let file = SourceFile::new("record.yaml", text);
    let mut problems = Problems::default();
    let node = file.yaml(Limits::default(), &mut problems);
    let remarks = text
        .lines()
        .filter(|l| l.trim_start().starts_with('#') || l.contains(" # "))
        .count();
    match node {
        Some(node) if matches!(node.data, Data::Map(_)) => Ok((from_node(&node), remarks)),
        _ => Err(problems),
    }
}

/// A tree as a draft: every scalar as its text.
fn from_node(node: &Node) -> Value {
    match &node.data {
        Data::Null => Value::Null,
        Data::Scalar { text, .. } => Value::String(text.clone()),
        Data::List(items) => items.iter().map(from_node).collect(),
        Data::Map(entries) => {
            let mut map = Map::new();
            for (key, node) in entries {
                map.entry(key.text.clone())
                    .or_insert_with(|| from_node(node));
            }
            Value::Object(map)
        }
    }
}

/// The value at a path such as `areas.0.defects.2.depth`.
pub(super) fn at<'v>(draft: &'v Value, path: &str) -> Option<&'v Value> {
    steps(path).try_fold(draft, |value, step| match value {
        Value::Array(items) => items.get(step.parse::<usize>().ok()?),
        other => other.get(step),
    })
}

/// Takes the value at a path away; whether there was one. Entries of a list keep their numbers: one
/// taken away is left as nothing.
pub(super) fn take(draft: &mut Value, path: &str) -> bool {
    let Some((outer, last)) = path
        .rsplit_once('.')
        .or(Some(("", path)))
        .filter(|p| !p.1.is_empty())
    else {
        return false;
    };
    let holder = steps(outer).try_fold(draft, |value, step| match value {
        Value::Array(items) => items.get_mut(step.parse::<usize>().ok()?),
        other => other.get_mut(step),
    });
    match holder {
        Some(Value::Array(items)) => {
            match last.parse::<usize>().ok().and_then(|i| items.get_mut(i)) {
                Some(item) if !item.is_null() => {
                    *item = Value::Null;
                    true
                }
                _ => false,
            }
        }
        Some(Value::Object(map)) => map.shift_remove(last).is_some(),
        _ => false,
    }
}

fn steps(path: &str) -> impl Iterator<Item = &str> {
    path.split('.').filter(|s| !s.is_empty())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use serde_json::json;

    fn there_and_back(draft: &Value) -> Value {
        let schema = crate::record::schema(None);
        let yaml = Layout::new(&schema).yaml(draft);
        match from_yaml(&yaml) {
            Ok((back, _)) => back,
            Err(problems) => panic!("{yaml}\n{problems}"),
        }
    }

    #[test]
    fn keys_come_in_the_order_of_the_form_and_empty_ones_stay_out() {
        let schema = crate::record::schema(None);
        let draft = json!({
            "areas": [{"name": "upper patio", "id": "a1", "outline": [["0 ft", "0 ft"], ["5' 6\"", "0 ft"]], "note": ""}],
            "ringtrue": "1",
            "job": {"address": "12 Example Lane: rear", "client": "A. Homeowner", "reference": ""},
        });
        assert_eq!(
            Layout::new(&schema).yaml(&draft),
            "ringtrue: 1\njob:\n  client: A. Homeowner\n  address: \"12 Example Lane: rear\"\nareas:\n  - id: a1\n    name: upper patio\n    outline: [[0 ft, 0 ft], [5' 6\", 0 ft]]\n"
        );
    }

    #[test]
    fn a_taken_value_leaves_the_others_in_their_places() {
        let mut draft = json!({"a": [{"b": "1", "c": "2"}, "3"]});
        assert!(take(&mut draft, "a.0.b") && take(&mut draft, "a.1"));
        assert!(!take(&mut draft, "a.7") && !take(&mut draft, "") && !take(&mut draft, "x.y"));
        assert_eq!(draft, json!({"a": [{"c": "2"}, null]}));
    }

    proptest! {
        #[test]
        fn any_text_comes_back_as_it_was(text in "\\PC{1,40}|[ -~\\n\\t\"'#:,\\[\\]{}\\\\-]{1,30}") {
            let text = text.trim();
            prop_assume!(!text.is_empty());
            let draft = json!({"notes": text, "not_inspected": [text, "x"], "areas": [{"id": text, "signs": {"a": text}}]});
            prop_assert_eq!(there_and_back(&draft), draft);
        }
    }
}
