//! The commands about rules and reasons, as a person runs them.

use std::fs;
use std::path::Path;

use assert_cmd::Command;

fn ringtrue(args: &[&str]) -> (i32, String, String) {
    let out = Command::cargo_bin("ringtrue")
        .unwrap()
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .args(args)
        .output()
        .unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (
        out.status.code().unwrap(),
        text(out.stdout),
        text(out.stderr),
    )
}

const RECORD: &str = "samples/drive-scaled.yaml";

/// A house folder with one file of changes.
fn house(changes: &str) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("ours.yaml"), changes).unwrap();
    folder
}

fn shown(path: &Path) -> &str {
    path.to_str().unwrap()
}

#[test]
fn the_built_in_rules_are_sound_and_house_rules_are_listed() {
    let (code, out, err) = ringtrue(&["rules", "check"]);
    assert_eq!((code, err.as_str()), (0, ""));
    assert!(out.starts_with("The rules are sound: "), "{out}");

    let folder = house(
        "changes:\n  - {table: crack_card, replace: {id: crack-card-in, when: {crack_width: '>= 0.030 in'}, then: goes_in, because: House., source: our own jobs, provenance: practice}, because: We use a card of our own.}\n",
    );
    let (code, out, err) = ringtrue(&["rules", "check", shown(folder.path())]);
    // Either the row is there and the change is listed, or the row's name is told.
    match code {
        0 => assert!(
            out.contains("replaced     crack_card crack-card-in: We use a card of our own."),
            "{out}"
        ),
        _ => assert!(
            err.contains("has no row") || err.contains("not among the values"),
            "{err}"
        ),
    }
}

#[test]
fn a_safety_row_stays_on() {
    // The first safety row of the pack, whatever it is.
    let pack = ringtrue::rules::builtin().unwrap();
    let (table, row) = pack
        .tables
        .iter()
        .find_map(|t| Some((&t.id, &t.rows.iter().find(|r| r.safety)?.id)))
        .unwrap();
    let folder = house(&format!(
        "changes:\n  - {{table: {table}, switch_off: {row}, because: We never see it.}}\n"
    ));
    let (code, _, err) = ringtrue(&["rules", "check", shown(folder.path())]);
    assert_eq!(code, 1);
    assert!(
        err.contains("safety-row") && err.contains("can't be switched off"),
        "{err}"
    );
}

#[test]
fn a_row_that_is_switched_off_is_listed() {
    // The last row of a table that lists what fires can go without leaving a gap.
    let pack = ringtrue::rules::builtin().unwrap();
    let (table, row) = pack
        .tables
        .iter()
        .filter(|t| matches!(t.body, ringtrue::rules::Body::Collect))
        .find_map(|t| {
            Some((
                &t.id,
                &t.rows.iter().rfind(|r| !r.safety && t.rows.len() > 1)?.id,
            ))
        })
        .unwrap();
    let folder = house(&format!(
        "changes:\n  - {{table: {table}, switch_off: {row}, because: We do it another way.}}\n"
    ));
    let (code, out, err) = ringtrue(&["rules", "check", shown(folder.path())]);
    // A fact only that row read would be told as unused.
    assert!(code == 0 || err.contains("unused-fact"), "{err}");
    if code == 0 {
        assert!(
            out.contains(&format!(
                "switched off {table} {row}: We do it another way."
            )),
            "{out}"
        );
    }
}

#[test]
fn book_drawing_and_export_are_written_whole_and_not_over_others() {
    let folder = tempfile::tempdir().unwrap();
    for (what, file, begins) in [
        ("handbook", "rules.html", "<!doctype html>"),
        ("graph", "rules.svg", "<svg "),
        ("export", "rules.dmn", "<?xml "),
    ] {
        let path = folder.path().join(file);
        let (code, out, err) = ringtrue(&["rules", what, "-o", shown(&path)]);
        assert_eq!(code, 0, "{err}");
        assert_eq!(out.trim(), shown(&path));
        let text = fs::read_to_string(&path).unwrap();
        assert!(
            text.trim_start().starts_with(begins),
            "{what}: {}",
            &text[..60]
        );
        let (code, _, err) = ringtrue(&["rules", what, "-o", shown(&path)]);
        assert_eq!(code, 2);
        assert!(err.contains("--force"), "{err}");
    }
    let (code, out, _) = ringtrue(&["rules", "graph", "--format", "dot"]);
    assert!(code == 0 && out.starts_with("digraph {") && out.contains(" -> "));
    let (code, out, _) = ringtrue(&["rules", "list", "--json"]);
    let list: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert!(code == 0 && list["tables"].as_array().unwrap().len() > 50);
}

#[test]
fn reasons_lead_back_to_lines_of_the_record() {
    let (code, out, err) = ringtrue(&["why", RECORD, "verdict", "--about", "A"]);
    assert_eq!(code, 0, "{err}");
    assert!(out.starts_with("area A: "), "{out}");
    assert!(out.contains("because: ") && out.contains("(line "), "{out}");
    let folder = tempfile::tempdir().unwrap();
    for file in ["why.svg", "why.dot"] {
        let path = folder.path().join(file);
        assert_eq!(ringtrue(&["why", RECORD, "--graph", shown(&path)]).0, 0);
        assert!(fs::read_to_string(path).unwrap().contains("area A"));
    }
    let (code, out, _) = ringtrue(&["why", RECORD, "verdict", "--json"]);
    let tree: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!(code, 0);
    assert_eq!(tree[0]["of"]["fact"], "verdict");
}

#[test]
fn what_is_not_there_is_told_with_the_nearest_name() {
    for (args, wanted) in [
        (&["why", RECORD, "verdct"][..], "did you mean `verdict`?"),
        (
            &["why", RECORD, "verdict", "--about", "Z"][..],
            "there is no `Z` among area A",
        ),
        (&["why-not", RECORD, "patsch"][..], "did you mean `patch`?"),
        (
            &["what-if", RECORD, "thicknes=4 in"][..],
            "did you mean `thickness`?",
        ),
        (
            &["what-if", RECORD, "thickness=4"][..],
            "a bare number needs its unit",
        ),
        (
            &["what-if", RECORD, "verdict=patch"][..],
            "is made by the rules",
        ),
        (&["what-if", RECORD, "thickness"][..], "write `fact=value`"),
    ] {
        let (code, _, err) = ringtrue(args);
        assert_eq!(code, 2, "{args:?}");
        assert!(err.contains(wanted), "{args:?}: {err}");
    }
}

#[test]
fn why_not_and_what_if_answer() {
    let (code, out, err) = ringtrue(&["why-not", RECORD, "replace_all"]);
    assert_eq!(code, 0, "{err}");
    assert!(out.contains("In the way, first thing first:"), "{out}");
    let (code, out, err) = ringtrue(&["what-if", RECORD, "defect 1: loss_depth=2 in"]);
    assert_eq!(code, 0, "{err}");
    assert!(
        out.contains("defect 1: ") && out.contains("area A: "),
        "{out}"
    );
}

#[test]
fn an_interview_asks_until_it_is_stopped_or_done() {
    // A sample of which the depth of the loss has been forgotten.
    let folder = tempfile::tempdir().unwrap();
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
    fs::create_dir(folder.path().join("photos")).unwrap();
    for sub in ["photos", "."] {
        for entry in fs::read_dir(samples.join(sub)).unwrap() {
            let from = entry.unwrap().path();
            if from.is_file() {
                let to = folder.path().join(sub).join(from.file_name().unwrap());
                fs::copy(from, to).unwrap();
            }
        }
    }
    let path = folder.path().join("drive-scaled.yaml");
    let text = fs::read_to_string(&path).unwrap();
    let open = text.replacen("depth: 1/8 to 3/16 in", "depth: unknown", 1);
    assert_ne!(open, text, "the sample has changed; take another fact away");
    fs::write(&path, open).unwrap();
    let out = Command::cargo_bin("ringtrue")
        .unwrap()
        .args(["ask", shown(&path), "--interview"])
        .write_stdin("no such answer\n1/8 in\nskip\nskip\nskip\nskip\nskip\nskip\nstop\n")
        .output()
        .unwrap();
    let said = String::from_utf8(out.stdout).unwrap();
    assert!(
        out.status.success(),
        "{}",
        String::from_utf8_lossy(&out.stderr)
    );
    assert!(
        said.contains("the slab: ") && said.contains("area A: "),
        "{said}"
    );
}
