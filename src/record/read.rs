//! From a file to a checked record.

use std::path::Path;

use jiff::civil::Date;
use serde_json::{Map, Value};

use super::check;
use super::model::Record;
use super::shape::Shape;
use crate::facts::Vocabulary;
use crate::source::{Limits, Node, Problem, Problems, SourceFile};

/// A record that can be worked with, and where each of its values stands.
#[derive(Debug, Clone)]
pub struct Loaded {
    /// The typed record.
    pub record: Record,
    /// The file as a tree; `node.at_path("areas.0.defects.2.depth")` gives the place of a value.
    pub node: Node,
    /// The file.
    pub file: SourceFile,
}

/// Reads and checks a record. `folder` is where its photos are looked for (`None` when the record
/// did not come from a file), `today` the day after which no inspection can lie, `vocabulary` the
/// fact list of the rule pack.
///
/// Every problem is found in one go and points to its place; they come in file order. The record
/// is given when none of them is an error.
pub fn read(
    file: &SourceFile,
    folder: Option<&Path>,
    today: Option<Date>,
    vocabulary: Option<&Vocabulary>,
) -> (Option<Loaded>, Problems) {
    let mut problems = Problems::default();
    let Some(node) = file.yaml(Limits::default(), &mut problems) else {
        return (None, problems);
    };
    let schema = super::schema::structs();
    let empty = Map::new();
    let mut shape = Shape {
        file,
        problems: &mut problems,
        vocabulary,
        defs: schema
            .get("$defs")
            .and_then(Value::as_object)
            .unwrap_or(&empty),
        broken: std::collections::BTreeSet::new(),
    };
    let json = shape.value(&node, schema, "", node.place);
    let broken = shape.broken;
    let record = match json.map(serde_json::from_value::<Record>) {
        Some(Ok(record)) => record,
        Some(Err(error)) => {
            // The walk names what can be wrong; this is what is left if it missed something.
            if !problems.has_errors() {
                problems.push(
                    Problem::error("record", format!("the record can't be read: {error}"))
                        .in_file(file)
                        .hint("compare it with the published schema"),
                );
            }
            problems.sort();
            return (None, problems);
        }
        None => {
            problems.sort();
            return (None, problems);
        }
    };
    check::Check {
        file,
        root: &node,
        record: &record,
        folder,
        today,
        vocabulary,
        broken: &broken,
        problems: &mut problems,
        flagged: std::collections::BTreeSet::new(),
    }
    .all();
    problems.sort();
    if problems.has_errors() {
        return (None, problems);
    }
    (
        Some(Loaded {
            record,
            node,
            file: file.clone(),
        }),
        problems,
    )
}
