//! The built-in rule pack must load and stand every proof.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use ringtrue::facts::Comes;
use ringtrue::rules::{builtin, builtin_files, load_and_check};
use ringtrue::source::Problems;

#[test]
fn the_built_in_pack_is_sound() {
    let mut problems = Problems::default();
    let pack = load_and_check(&builtin_files(), &mut problems);
    assert!(
        pack.is_some() && problems.is_empty(),
        "{}",
        problems.render(false)
    );
}

/// Source of a stage without its tests and comments, white space run together.
fn source_of(stage: &str) -> String {
    fn read(folder: &Path, out: &mut String) {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                read(&path, out);
            } else if path.extension().is_some_and(|e| e == "rs") {
                let text = fs::read_to_string(&path).unwrap();
                let code = text.split("#[cfg(test)]").next().unwrap_or_default();
                for line in code.lines().map(str::trim) {
                    if !line.starts_with("//") {
                        out.push_str(line);
                    }
                }
                out.push('\n');
            }
        }
    }
    let mut out = String::new();
    read(&Path::new("src").join(stage), &mut out);
    out
}

/// The last string among the arguments of every call that begins with `call`; calls without one are
/// left out.
fn names<'s>(source: &'s str, call: &str) -> Vec<&'s str> {
    source
        .match_indices(call)
        .filter_map(|(at, _)| {
            let rest = &source[at + call.len()..];
            let mut depth = 1;
            let end = rest.find(|c| {
                depth += match c {
                    '(' => 1,
                    ')' => -1,
                    _ => 0,
                };
                depth == 0
            })?;
            let arguments = rest[..end].trim_end_matches(',');
            let name = arguments.strip_suffix('"')?.rsplit('"').next()?;
            Some(name)
        })
        .collect()
}

#[test]
fn what_a_stage_reads_by_name_is_there_and_declared_so() {
    let pack = builtin().unwrap_or_else(|p| panic!("{p}"));
    let mut read = BTreeSet::new();
    for stage in ["assessment", "method", "plan", "report"] {
        let source = source_of(stage);
        for call in [
            "vocabulary.find(",
            ".word(",
            "made(",
            ".value(",
            "from.number(",
            "fact_values(",
            ".verdict(",
        ] {
            for name in names(&source, call) {
                let Some(id) = pack.vocabulary.find(name) else {
                    panic!(
                        "src/{stage} reads `{name}` by `{call}`, which the pack does not declare"
                    );
                };
                let fact = pack.vocabulary.fact(id);
                assert!(
                    fact.read_by.iter().any(|r| r == stage),
                    "src/{stage} reads `{name}` by name; say so under its `read_by`"
                );
                read.insert((stage, fact.id.clone()));
            }
        }
        for call in ["pack.table(", "ranking(", ".pick("] {
            for name in names(&source, call) {
                assert!(
                    pack.table(name).is_some(),
                    "src/{stage} reads the table `{name}`, which is not in the pack"
                );
            }
        }
    }
    assert!(read.len() >= 8, "the calls are no longer found: {read:?}");
    for (_, fact) in pack.vocabulary.facts() {
        for stage in ["assessment", "method", "plan", "report"] {
            if fact.read_by.iter().any(|r| r == stage) {
                assert!(
                    source_of(stage).contains(&format!("\"{}\"", fact.id)),
                    "`{}` says that src/{stage} reads it, and nothing there does",
                    fact.id
                );
            }
        }
    }
}

#[test]
fn the_survey_makes_every_fact_that_says_so_and_no_other() {
    let pack = builtin().unwrap_or_else(|p| panic!("{p}"));
    let survey = source_of("survey");
    for (_, fact) in pack.vocabulary.facts() {
        // The layer is fitted by the method, which then hands its thickness back.
        let by_method = fact.read_by.iter().any(|r| r == "method")
            && !survey.contains(&format!("\"{}\"", fact.id));
        // The name of a product tells it.
        let by_product = fact.product.as_ref().is_some_and(|product| {
            let kinds = ringtrue::record::words::words("Material", "kind").unwrap();
            assert!(kinds.own.contains(&product.kind.as_str()), "{}", fact.id);
            assert!(fact.value_index("none").is_some(), "{}", fact.id);
            true
        });
        if fact.comes == Comes::Survey && !by_method && !by_product {
            assert!(
                survey.contains(&format!("\"{}\"", fact.id)),
                "`{}` is said to come from the survey, which never makes it",
                fact.id
            );
        }
    }
}

#[test]
fn every_figure_read_by_name_is_in_the_pack() {
    let pack = builtin().unwrap_or_else(|p| panic!("{p}"));
    let mut read = 0;
    for stage in [
        "record",
        "survey",
        "rules",
        "assessment",
        "method",
        "plan",
        "report",
        "cli",
    ] {
        for name in names(&source_of(stage), "figure(") {
            assert!(
                pack.vocabulary.figure(name).is_some(),
                "src/{stage} reads the figure `{name}`, which is not in the pack"
            );
            read += 1;
        }
    }
    assert!(read >= 60, "the calls are no longer found: {read}");
}

/// A wait holds someone or something up; the row says whom, in a word that the method knows.
#[test]
fn every_wait_says_who_waits() {
    let pack = builtin().unwrap();
    let mut seen = 0;
    for row in pack.tables.iter().flat_map(|t| &t.rows) {
        if row.set.contains_key("wait") {
            let who = row.set.get("who").map(|s| s.text());
            assert!(
                who.and_then(ringtrue::method::Waiter::of).is_some(),
                "{}: {who:?}",
                row.id
            );
            seen += 1;
        }
    }
    assert!(seen > 15, "{seen} waits");
}
