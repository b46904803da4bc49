//! Putting one value into the text of a record without touching anything else in it.
//!
//! The people who write records put remarks into them and lay them out as they like, so an answer
//! must not cost them either. Every edit is read back and held against what it should have done;
//! an edit that would do anything else is not made.

use serde_json::Value;

use crate::source::{Data, Key, Limits, Node, Problems, SourceFile};

/// A value to put at a path such as `areas.0.defects.2.depth`; the last step of the path may be
/// `+`, which appends to a list.
#[derive(Debug, Clone, PartialEq)]
pub struct Put {
    /// Where it goes.
    pub path: String,
    /// What goes there.
    pub value: Value,
    /// Remark behind it, or above it where a block of its own is begun.
    pub remark: String,
}

/// Why a value can't be put in: the layout of the file does not allow it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CantPut {
    /// Where it should have gone.
    pub path: String,
    /// Line of the block it belongs to.
    pub line: usize,
}

/// Puts a value into the text of a record.
///
/// # Errors
/// When the text is laid out so that the value can't be put in without changing something else.
/// The text is then as it was.
pub fn put(text: &str, put: &Put) -> Result<String, CantPut> {
    let root = parse(text).ok_or_else(|| CantPut {
        path: put.path.clone(),
        line: 1,
    })?;
    let cant = |node: &Node| CantPut {
        path: put.path.clone(),
        line: node.place.line,
    };
    let steps: Vec<&str> = put.path.split('.').collect();
    let mut node = &root;
    let mut key: Option<&Key> = None;
    let mut taken = 0;
    for step in &steps {
        let next = match &node.data {
            Data::List(items) => step
                .parse::<usize>()
                .ok()
                .and_then(|i| items.get(i))
                .map(|n| (None, n)),
            _ => node
                .entries()
                .iter()
                .find(|(k, _)| k.text == *step)
                .map(|(k, n)| (Some(k), n)),
        };
        let Some((next_key, next_node)) = next else {
            break;
        };
        if next_key.is_some() {
            key = next_key;
        }
        node = next_node;
        taken += 1;
    }
    let rest = steps.get(taken..).unwrap_or_default();
    let nl = if text.contains("\r\n") { "\r\n" } else { "\n" };
    let new = match &node.data {
        Data::Null => under_nothing(text, node, key, rest, put, nl),
        Data::Scalar { .. } if rest.is_empty() => Some(splice(
            text,
            node.place.start,
            node.place.end,
            &inline(&put.value),
        )),
        Data::Map(_) if !rest.is_empty() => into_map(text, node, rest, put, nl),
        Data::List(_) => match rest {
            ["+"] => into_list(text, node, key, &put.value, nl),
            _ => None,
        },
        _ => None,
    }
    .ok_or_else(|| cant(node))?;
    // Whatever went wrong above, a record is never changed otherwise than meant.
    let mut wanted = root.to_json();
    set_json(&mut wanted, &steps, &put.value).ok_or_else(|| cant(node))?;
    match parse(&new) {
        Some(read) if same(&read.to_json(), &wanted) => Ok(new),
        _ => Err(cant(node)),
    }
}

fn parse(text: &str) -> Option<Node> {
    let mut problems = Problems::default();
    let node = SourceFile::new("record", text).yaml(Limits::default(), &mut problems)?;
    (!problems.has_errors()).then_some(node)
}

/// Puts a value into a JSON tree at a path. `None` where the path runs through a single value.
pub fn set_json(root: &mut Value, steps: &[&str], value: &Value) -> Option<()> {
    let Some((step, rest)) = steps.split_first() else {
        *root = value.clone();
        return Some(());
    };
    match root {
        Value::Array(items) => {
            if *step == "+" {
                if !rest.is_empty() {
                    return None;
                }
                items.push(value.clone());
                return Some(());
            }
            set_json(items.get_mut(step.parse::<usize>().ok()?)?, rest, value)
        }
        Value::Null if *step == "+" => {
            *root = Value::Array(vec![value.clone()]);
            rest.is_empty().then_some(())
        }
        Value::Null => {
            *root = Value::Object(serde_json::Map::new());
            set_json(root, steps, value)
        }
        Value::Object(map) => {
            let slot = map.entry((*step).to_owned()).or_insert(Value::Null);
            set_json(slot, rest, value)
        }
        _ => None,
    }
}

/// Whether two trees say the same; the order of names is no matter.
fn same(a: &Value, b: &Value) -> bool {
    match (a, b) {
        (Value::Object(a), Value::Object(b)) => {
            a.len() == b.len() && a.iter().all(|(k, v)| b.get(k).is_some_and(|w| same(v, w)))
        }
        (Value::Array(a), Value::Array(b)) => {
            a.len() == b.len() && a.iter().zip(b).all(|(v, w)| same(v, w))
        }
        (Value::Number(a), Value::Number(b)) => a.as_f64() == b.as_f64(),
        _ => a == b,
    }
}

fn splice(text: &str, from: usize, to: usize, new: &str) -> String {
    let (before, after) = (
        text.get(..from).unwrap_or(text),
        text.get(to..).unwrap_or(""),
    );
    format!("{before}{new}{after}")
}

fn is_flow(text: &str, node: &Node) -> bool {
    text.get(node.place.start..)
        .is_some_and(|t| t.starts_with(['{', '[']))
}

/// The value wrapped in the blocks that are still missing.
fn wrapped(steps: &[&str], value: &Value) -> Value {
    steps
        .iter()
        .rev()
        .fold(value.clone(), |inner, step| match *step {
            "+" => Value::Array(vec![inner]),
            step => Value::Object([(step.to_owned(), inner)].into_iter().collect()),
        })
}

/// A key with nothing after it: the value goes behind the key, or in a block under it.
fn under_nothing(
    text: &str,
    node: &Node,
    key: Option<&Key>,
    rest: &[&str],
    put: &Put,
    nl: &str,
) -> Option<String> {
    let key = key?;
    let colon = key.place.end + text.get(key.place.end..)?.find(':')? + 1;
    let value = wrapped(rest, &put.value);
    let line_end = end_of_line(text, colon);
    // A written `~` or `null` is replaced.
    if node.place.end > node.place.start && node.place.start >= colon {
        return Some(splice(
            text,
            node.place.start,
            node.place.end,
            &inline(&value),
        ));
    }
    if !is_block(&value) {
        return Some(splice(text, colon, colon, &format!(" {}", inline(&value))));
    }
    let indent = key.place.column - 1 + 2;
    let mut lines = Vec::new();
    block(&value, indent, &put.remark, &mut lines);
    Some(insert_lines(text, line_end, &lines, nl))
}

fn into_map(text: &str, node: &Node, rest: &[&str], put: &Put, nl: &str) -> Option<String> {
    let (first, more) = rest.split_first()?;
    let value = wrapped(more, &put.value);
    if is_flow(text, node) {
        let brace = closing(text, node)?;
        let inside = format!("{}: {}", scalar(first), inline(&value));
        return Some(match node.entries().last() {
            None => splice(text, brace, brace, &inside),
            Some((k, last)) => {
                let at = leaf_end(text, k, last).max(k.place.end);
                splice(text, at, at, &format!(", {inside}"))
            }
        });
    }
    let (first_key, _) = node.entries().first()?;
    let (last_key, last) = node.entries().last()?;
    let indent = first_key.place.column - 1;
    let entry = Value::Object([((*first).to_owned(), value)].into_iter().collect());
    let mut lines = Vec::new();
    if indent == 0 && is_block(&entry[*first]) {
        // A new part of the record stands apart, under its remark.
        lines.push(String::new());
        if !put.remark.is_empty() {
            lines.push(format!("# {}", put.remark));
        }
        block(&entry, 0, "", &mut lines);
    } else {
        block(&entry, indent, &put.remark, &mut lines);
    }
    let at = end_of_line(text, leaf_end(text, last_key, last));
    Some(insert_lines(text, at, &lines, nl))
}

fn into_list(
    text: &str,
    node: &Node,
    key: Option<&Key>,
    value: &Value,
    nl: &str,
) -> Option<String> {
    if is_flow(text, node) {
        let bracket = closing(text, node)?;
        if let Some(last) = node.items().last() {
            let at = end_of(text, last);
            return Some(splice(text, at, at, &format!(", {}", inline(value))));
        }
        let key = key?;
        if !is_block(&Value::Array(vec![value.clone()])) {
            return Some(splice(text, bracket, bracket, &inline(value)));
        }
        // `defects: []` becomes a block, unless it stands inside braces.
        let opened = splice(text, node.place.start, bracket + 1, "");
        let indent = key.place.column - 1 + 2;
        let mut lines = Vec::new();
        block(&Value::Array(vec![value.clone()]), indent, "", &mut lines);
        let at = end_of_line(&opened, node.place.start);
        let trimmed = trim_line_end(&opened, node.place.start);
        let opened = splice(&opened, trimmed, node.place.start, "");
        let at = at - (node.place.start - trimmed);
        return Some(insert_lines(&opened, at, &lines, nl));
    }
    let last = node.items().last()?;
    // The dash stands where the list begins.
    let indent = node.place.column - 1;
    let mut lines = Vec::new();
    block(&Value::Array(vec![value.clone()]), indent, "", &mut lines);
    let at = end_of_line(text, end_of(text, last));
    Some(insert_lines(text, at, &lines, nl))
}

fn trim_line_end(text: &str, at: usize) -> usize {
    text.get(..at)
        .map_or(at, |t| t.trim_end_matches([' ', '\t']).len())
}

/// Byte past the last thing written in a node of a text.
pub fn end_of(text: &str, node: &Node) -> usize {
    if is_flow(text, node) {
        return closing(text, node).map_or(node.place.end, |at| at + 1);
    }
    match &node.data {
        Data::Map(entries) => entries
            .last()
            .map_or(node.place.end, |(k, n)| leaf_end(text, k, n)),
        Data::List(items) => items.last().map_or(node.place.end, |n| end_of(text, n)),
        _ => node.place.end,
    }
}

/// Byte of the bracket that closes a map or list written in brackets.
fn closing(text: &str, node: &Node) -> Option<usize> {
    let mut at = match &node.data {
        Data::Map(entries) => entries.last().map(|(k, n)| leaf_end(text, k, n)),
        Data::List(items) => items.last().map(|n| end_of(text, n)),
        _ => return None,
    }
    .unwrap_or(node.place.start + 1);
    let bytes = text.as_bytes();
    loop {
        match bytes.get(at)? {
            b'}' | b']' => return Some(at),
            b' ' | b'\t' | b'\r' | b'\n' | b',' => at += 1,
            b'#' => at += text.get(at..)?.find('\n')?,
            _ => return None,
        }
    }
}

fn leaf_end(text: &str, key: &Key, node: &Node) -> usize {
    match &node.data {
        Data::Null if node.place.end <= node.place.start => {
            let colon = text
                .get(key.place.end..)
                .and_then(|t| t.find(':'))
                .unwrap_or(0);
            key.place.end + colon + 1
        }
        _ => end_of(text, node),
    }
}

/// Byte where the line that holds `at` ends, or `at` itself when it begins a line.
fn end_of_line(text: &str, at: usize) -> usize {
    if at > 0 && text.as_bytes().get(at - 1) == Some(&b'\n') {
        return at - 1;
    }
    let end = text
        .get(at..)
        .and_then(|t| t.find('\n'))
        .map_or(text.len(), |i| at + i);
    match text.as_bytes().get(end.wrapping_sub(1)) {
        Some(b'\r') if end > at => end - 1,
        _ => end,
    }
}

fn insert_lines(text: &str, at: usize, lines: &[String], nl: &str) -> String {
    let mut new = String::new();
    for line in lines {
        new.push_str(nl);
        new.push_str(line);
    }
    let mut out = splice(text, at, at, &new);
    if !out.ends_with('\n') {
        out.push_str(nl);
    }
    out
}

/// Whether a value is written as a block: a map, or a list that holds maps.
fn is_block(value: &Value) -> bool {
    match value {
        Value::Object(map) => !map.is_empty(),
        Value::Array(items) => items.iter().any(Value::is_object),
        _ => false,
    }
}

/// Writes a value as lines.
fn block(value: &Value, indent: usize, remark: &str, out: &mut Vec<String>) {
    let pad = " ".repeat(indent);
    match value {
        Value::Object(map) => {
            for (key, inner) in map {
                if is_block(inner) {
                    out.push(format!("{pad}{}:", scalar(key)));
                    block(inner, indent + 2, remark, out);
                } else {
                    let line = format!("{pad}{}: {}", scalar(key), inline(inner));
                    out.push(remarked(&line, remark));
                }
            }
        }
        Value::Array(items) => {
            for item in items {
                let mut lines = Vec::new();
                block(item, indent + 2, remark, &mut lines);
                for (i, line) in lines.into_iter().enumerate() {
                    out.push(match i {
                        0 => format!("{pad}- {}", line.trim_start()),
                        _ => line,
                    });
                }
            }
        }
        single => out.push(format!("{pad}{}", inline(single))),
    }
}

/// Column at which remarks begin, where the value leaves room.
const REMARKS: usize = 34;

fn remarked(line: &str, remark: &str) -> String {
    if remark.is_empty() {
        return line.to_owned();
    }
    let gap = REMARKS.saturating_sub(line.chars().count()).max(3);
    format!("{line}{}# {remark}", " ".repeat(gap))
}

/// A value on one line.
fn inline(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::Bool(true) => "true".to_owned(),
        Value::Bool(false) => "false".to_owned(),
        Value::Number(n) => n.to_string(),
        Value::String(text) => scalar(text),
        Value::Array(items) => {
            let all: Vec<String> = items.iter().map(inline).collect();
            format!("[{}]", all.join(", "))
        }
        Value::Object(map) => {
            let all: Vec<String> = map
                .iter()
                .map(|(k, v)| format!("{}: {}", scalar(k), inline(v)))
                .collect();
            format!("{{{}}}", all.join(", "))
        }
    }
}

/// Text as a YAML scalar, in quotes only where YAML needs them, inside brackets too.
fn scalar(text: &str) -> String {
    let first = text.chars().next();
    let plain = first.is_some_and(char::is_alphanumeric)
        && text
            .chars()
            .all(|c| c.is_alphanumeric() || " _./%+()-'\"×;?=&$€°".contains(c))
        && !text.ends_with(' ')
        && text.parse::<f64>().is_err()
        && !matches!(
            text.to_ascii_lowercase().as_str(),
            "true" | "false" | "null" | "nan" | "inf" | "infinity"
        );
    if plain {
        text.to_owned()
    } else {
        format!("'{}'", text.replace('\'', "''"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn at(text: &str, path: &str, value: Value) -> String {
        put(
            text,
            &Put {
                path: path.to_owned(),
                value,
                remark: String::new(),
            },
        )
        .unwrap()
    }

    #[test]
    fn remarks_and_layout_stay_as_they_are() {
        let text = "# head\njob: {client: A}   # who\nslab:\n  use: patio  # what for\n  mix: {air: 3 %}\n\n# end\nareas:\n  - id: A   # the only one\n    name: patio\n";
        let new = at(text, "slab.thickness", json!("4 in"));
        assert_eq!(
            new,
            text.replace(
                "  mix: {air: 3 %}\n",
                "  mix: {air: 3 %}\n  thickness: 4 in\n"
            )
        );
        let new = at(text, "job.inspector", json!("B, the second"));
        assert!(new.contains("job: {client: A, inspector: 'B, the second'}   # who"));
        let new = at(text, "slab.mix.strength", json!("4000 psi"));
        assert!(new.contains("{air: 3 %, strength: 4000 psi}"));
        let new = at(text, "areas.0.defects.+", json!({"id": 1, "kind": "crack"}));
        assert!(
            new.ends_with("    name: patio\n    defects:\n      - id: 1\n        kind: crack\n"),
            "{new}"
        );
        let more = at(&new, "areas.0.defects.+", json!({"id": 2, "kind": "spall"}));
        assert!(
            more.ends_with("        kind: crack\n      - id: 2\n        kind: spall\n"),
            "{more}"
        );
        let signs = at(&more, "areas.0.defects.0.signs.x", json!("no"));
        assert!(
            signs.contains("kind: crack\n        signs:\n          x: no\n      - id: 2"),
            "{signs}"
        );
    }

    #[test]
    fn empty_keys_and_empty_lists_are_filled() {
        let text = "site:          # nothing yet\n  # weathering: severe\nslab: {use: patio}\nareas:\n  - id: A\n    defects: []  # none yet\n    name: p\n";
        let new = at(text, "site.weathering", json!("severe"));
        assert!(
            new.starts_with("site:          # nothing yet\n  weathering: severe\n"),
            "{new}"
        );
        let new = at(&new, "areas.0.defects.+", json!({"id": 1, "kind": "crack"}));
        assert!(
            new.contains(
                "    defects:  # none yet\n      - id: 1\n        kind: crack\n    name: p"
            ),
            "{new}"
        );
    }

    #[test]
    fn a_layout_that_gives_no_room_is_left_alone() {
        let text = "a: &x {b: 1}\nc: *x\n";
        // Adding to the alias would add to its source too.
        assert!(
            put(
                text,
                &Put {
                    path: "c.d".into(),
                    value: json!("1 in"),
                    remark: String::new()
                }
            )
            .is_err()
        );
    }

    #[test]
    fn words_that_yaml_would_misread_are_quoted() {
        for text in [
            "12", "1e5", "true", "- a", "a: b", "a #b", "'a", "null", "a,b", "[x]", "",
        ] {
            let new = at("k: v\n", "t", json!(text));
            assert!(
                new.contains(&format!("t: '{}'", text.replace('\'', "''"))),
                "{new}"
            );
        }
        assert!(at("k: v\n", "t", json!("5' 6\"")).contains("t: 5' 6\"\n"));
    }
}
