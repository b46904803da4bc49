//! What the project stands on is said, with the reason, and said truly.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use std::process::Command;

use serde_json::Value;

/// The manifest as cargo reads it.
fn manifest() -> Value {
    let out = Command::new(env!("CARGO"))
        .args([
            "metadata",
            "--no-deps",
            "--offline",
            "--format-version",
            "1",
        ])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .unwrap();
    assert!(
        out.status.success(),
        "{}",
        String::from_utf8_lossy(&out.stderr)
    );
    let all: Value = serde_json::from_slice(&out.stdout).unwrap();
    all["packages"][0].clone()
}

fn text(name: &str) -> String {
    fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(name)).unwrap()
}

#[test]
fn every_direct_dependency_has_its_reason_and_no_other_is_named() {
    let manifest = manifest();
    let wanted: BTreeSet<String> = manifest["dependencies"]
        .as_array()
        .unwrap()
        .iter()
        .map(|d| d["name"].as_str().unwrap().to_owned())
        .collect();
    let guide = text("DEVELOPERS.md");
    let table = guide
        .split_once("## Direct dependencies, and why")
        .and_then(|(_, rest)| rest.split_once("| crate | why |\n|---|---|\n"))
        .and_then(|(_, rest)| rest.split_once("\n\n"))
        .unwrap()
        .0;
    let mut named = BTreeSet::new();
    for row in table.lines() {
        let cells: Vec<&str> = row.trim_matches('|').split('|').map(str::trim).collect();
        assert!(cells.len() == 2 && cells[1].len() > 3, "no reason: {row}");
        for name in cells[0].split(',') {
            // Where it serves tests or benches only stands behind its name.
            let name = name.split('(').next().unwrap_or_default().trim();
            assert!(named.insert(name.to_owned()), "{name} stands there twice");
        }
    }
    let missing: Vec<_> = wanted.difference(&named).collect();
    let gone: Vec<_> = named.difference(&wanted).collect();
    assert!(
        missing.is_empty(),
        "without a reason in DEVELOPERS.md: {missing:?}"
    );
    assert!(gone.is_empty(), "in DEVELOPERS.md and not used: {gone:?}");
}

#[test]
fn the_readme_names_the_oldest_rust_that_will_do() {
    let manifest = manifest();
    let oldest = manifest["rust_version"].as_str().unwrap();
    let said = format!("({oldest} or newer)");
    assert!(text("README.md").contains(&said), "README.md lacks {said}");
}
