//! A commented record to begin with.

use jiff::civil::Date;

use super::words::words;
use crate::facts::{Comes, Fact, FactKind, Vocabulary};

/// The record with marks where words, signs and the date go.
const TEMPLATE: &str = include_str!("../../templates/starter.yaml");

/// A commented record of an invented patio, dated `date`. With a vocabulary, the signs that are
/// asked stand in it as remarks, each with its values and its question; without one, only the
/// record's own fields do. It reads back without a problem.
pub fn starter(vocabulary: Option<&Vocabulary>, date: Date) -> String {
    let mut out = String::with_capacity(TEMPLATE.len() * 2);
    for line in TEMPLATE.lines() {
        let trimmed = line.trim_start();
        if let Some(of) = trimmed
            .strip_prefix("@SIGNS ")
            .and_then(|l| l.strip_suffix('@'))
        {
            signs(&mut out, vocabulary, of);
            continue;
        }
        match line.split_once("@WORDS ") {
            Some((before, rest)) => {
                let (field, after) = rest.split_once('@').unwrap_or((rest, ""));
                out.push_str(before);
                if let Some(list) = field.split_once('.').and_then(|(d, f)| words(d, f)) {
                    out.push_str(&list.allowed(vocabulary).join(", "));
                }
                out.push_str(after);
            }
            None if line.contains("@KINDS@") => kinds(&mut out, line),
            None => out.push_str(&line.replace("@DATE@", &date.to_string())),
        }
        out.push('\n');
    }
    out
}

/// Every kind of defect, in lines of a readable length.
fn kinds(out: &mut String, line: &str) {
    let indent = line.split('#').next().unwrap_or("");
    let schema = serde_json::Value::from(schemars::schema_for!(super::model::DefectKind));
    let all = super::shape::words_of(&schema).unwrap_or_default();
    for (i, some) in all.chunks(7).enumerate() {
        if i > 0 {
            out.push('\n');
        }
        out.push_str(indent);
        out.push_str("#   ");
        out.push_str(&some.join(", "));
    }
}

/// The signs of a scope (and kind of defect) as remarks, one a line.
fn signs(out: &mut String, vocabulary: Option<&Vocabulary>, of: &str) {
    let (scope, kind) = of.split_once(' ').map_or((of, None), |(s, k)| (s, Some(k)));
    let indent = match scope {
        "defect" => "          ",
        "area" => "      ",
        _ => "    ",
    };
    let asked: Vec<&Fact> = vocabulary
        .into_iter()
        .flat_map(Vocabulary::facts)
        .map(|(_, f)| f)
        .filter(|f| f.comes == Comes::Asked && f.scope.word() == scope)
        .filter(|f| kind.is_none_or(|k| f.kinds.is_empty() || f.kinds.iter().any(|own| own == k)))
        .collect();
    if asked.is_empty() {
        out.push_str(indent);
        out.push_str("# (the rules ask nothing more here)\n");
    }
    for fact in asked {
        let values = match &fact.kind {
            FactKind::Choice { values, .. } => values
                .iter()
                .map(|v| v.id.as_str())
                .collect::<Vec<_>>()
                .join(" | "),
            FactKind::Quantity(kind) => kind
                .examples()
                .first()
                .map(|e| (*e).to_owned())
                .unwrap_or_default(),
        };
        let question = fact.ask.as_deref().unwrap_or(&fact.name);
        out.push_str(&format!(
            "{indent}# {}: {values}   # {}\n",
            fact.id,
            question.replace('\n', " ")
        ));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::record::read;
    use crate::rules::builtin;
    use crate::source::SourceFile;
    use jiff::civil::date;

    #[test]
    fn the_starter_reads_back_without_a_problem() {
        let pack = builtin().unwrap();
        for vocabulary in [None, Some(&pack.vocabulary)] {
            let today = date(2026, 5, 14);
            let text = starter(vocabulary, today);
            assert!(!text.contains('@'), "a mark is left: {text}");
            let (loaded, problems) = read(
                &SourceFile::new("starter.yaml", text),
                None,
                Some(today),
                vocabulary,
            );
            assert!(problems.is_empty(), "{}", problems.render(false));
            assert_eq!(loaded.unwrap().record.areas[0].defects.len(), 2);
        }
    }

    #[test]
    fn every_remark_that_is_an_example_reads_back_too() {
        // Taking away the `#` of a line must leave a line that can be read.
        let pack = builtin().unwrap();
        let today = date(2026, 5, 14);
        let text = starter(Some(&pack.vocabulary), today);
        let mut tried = 0;
        for (i, line) in text.lines().enumerate() {
            let Some((indent, rest)) = line.split_once("# ") else {
                continue;
            };
            let one_line = rest.split_once(": ").is_some_and(|(key, _)| {
                !key.is_empty() && key.bytes().all(|b| b.is_ascii_lowercase() || b == b'_')
            });
            // Choices are listed with bars between them; keep the first.
            let rest = match rest.split_once(" | ") {
                Some((first, _)) => first,
                None => rest,
            };
            let skip = ["surface:", "outline:", "forecast:", "patches:", "file:"]
                .iter()
                .any(|k| rest.starts_with(k));
            if !indent.trim().is_empty() || !one_line || skip || rest.starts_with("  ") {
                continue;
            }
            let changed: Vec<String> = text
                .lines()
                .enumerate()
                .map(|(j, l)| {
                    if i == j {
                        format!("{indent}{rest}")
                    } else {
                        l.to_owned()
                    }
                })
                .collect();
            let (_, problems) = read(
                &SourceFile::new("starter.yaml", changed.join("\n")),
                None,
                Some(today),
                Some(&pack.vocabulary),
            );
            assert!(!problems.has_errors(), "{}", problems.render(false));
            tried += 1;
        }
        assert!(tried > 40, "{tried}");
    }
}
