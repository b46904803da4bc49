//! Small packs that must be refused, each with what is printed. A pack is one file here; a line
//! `#### name` begins each of its files, those under `house/` are laid over the others.

use std::path::Path;

use ringtrue::rules::{PackFile, load_and_check};
use ringtrue::source::{Problems, SourceFile};

/// The files of a pack written as one text.
fn files(text: &str, problems: &mut Problems) -> Vec<PackFile> {
    text.split("#### ")
        .skip(1)
        .filter_map(|part| {
            let (name, body) = part.split_once('\n')?;
            PackFile::read(
                SourceFile::new(name, body),
                name.starts_with("house/"),
                problems,
            )
        })
        .collect()
}

#[test]
fn every_broken_pack_is_refused_with_places_and_hints() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/rules_refused");
    let mut paths: Vec<_> = std::fs::read_dir(&folder)
        .unwrap()
        .map(|e| e.unwrap().path())
        .filter(|p| p.extension().is_some_and(|e| e == "yaml"))
        .collect();
    paths.sort();
    assert!(paths.len() >= 30, "packs have gone missing");
    let mut codes = std::collections::BTreeSet::new();
    for path in paths {
        let name = path.file_stem().unwrap().to_string_lossy().into_owned();
        let text = std::fs::read_to_string(&path).unwrap();
        let mut problems = Problems::default();
        let files = files(&text, &mut problems);
        let pack = load_and_check(&files, &mut problems);
        assert!(pack.is_none() && problems.has_errors(), "{name} was taken");
        for problem in problems.iter() {
            codes.insert(problem.code);
            assert!(
                problem.hint.is_some(),
                "{name}: no hint: {}",
                problem.message
            );
            assert!(
                problem.file.is_some(),
                "{name}: no file: {}",
                problem.message
            );
        }
        problems.sort();
        let why = text
            .lines()
            .next()
            .unwrap_or_default()
            .trim_start_matches("# ");
        insta::with_settings!({
            snapshot_path => "rules_refused",
            prepend_module_to_snapshot => false,
            description => why,
            omit_expression => true,
        }, {
            insta::assert_snapshot!(name, problems.render(false));
        });
    }
    // The checks the engine promises; each must have been seen.
    for code in [
        "unknown-fact",
        "condition",
        "scope",
        "loop",
        "unreachable",
        "never-fires",
        "overlap",
        "gap",
        "outvoted",
        "missing-key",
        "two-makers",
        "no-maker",
        "not-made",
        "unused-fact",
        "unread-output",
        "unused-cause",
        "word",
        "too-many-cuts",
        "example",
        "repeated-row",
        "repeated-fact",
        "repeated-figure",
        "repeated-table",
        "safety-row",
        "never-applies",
        "all-out",
        "unknown-contestant",
        "unknown-where-not-applied",
        "shape",
        "unknown-key",
        "unknown-table",
        "unknown-row",
        "change",
        "value",
        "kind",
        "yaml",
        "empty",
        "repeated-key",
    ] {
        assert!(codes.contains(code), "no pack shows `{code}`");
    }
}
