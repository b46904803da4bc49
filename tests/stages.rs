//! The stages run in one direction: no stage may know of a later one.

use std::fs;
use std::path::Path;

/// Every module of the library, earliest first. A module may use those before it.
const ORDER: [&str; 15] = [
    "source",
    "units",
    "facts",
    "record",
    "survey",
    "rules",
    "assessment",
    "method",
    "field",
    "plan",
    "report",
    "walk",
    "drill",
    "inventory",
    "cli",
];

/// Pairs that stand side by side: neither knows the other.
const APART: [(&str, &str); 2] = [("rules", "record"), ("rules", "survey")];

fn uses(folder: &Path, found: &mut Vec<(String, String)>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            uses(&path, found);
        } else if path.extension().is_some_and(|e| e == "rs") {
            let text = fs::read_to_string(&path).unwrap();
            // Tests inside a module may look wherever they like.
            let code = text.split("#[cfg(test)]").next().unwrap_or_default();
            for line in code.lines().filter(|l| !l.trim_start().starts_with("//")) {
                for (_, rest) in line
                    .match_indices("crate::")
                    .map(|(i, m)| (i, &line[i + m.len()..]))
                {
                    let name: String = rest
                        .chars()
                        .take_while(|c| c.is_alphanumeric() || *c == '_')
                        .collect();
                    found.push((path.display().to_string(), name));
                }
            }
        }
    }
}

#[test]
fn no_stage_reaches_back() {
    let mut wrong = Vec::new();
    for (i, stage) in ORDER.iter().enumerate() {
        let mut found = Vec::new();
        uses(&Path::new("src").join(stage), &mut found);
        assert!(
            !found.is_empty() || i == 0 || *stage == "cli",
            "nothing read in src/{stage}"
        );
        for (file, used) in found {
            let later = ORDER.iter().position(|s| *s == used).is_some_and(|j| j > i);
            let apart = APART
                .iter()
                .any(|(a, b)| (a == stage && *b == used) || (b == stage && *a == used));
            if later || apart {
                wrong.push(format!("{file} uses crate::{used}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
