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
    assert!(out.ends_with("Every text has its Spanish.\n"), "{out}");

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

/// What house rules say has no Spanish; it is counted, listed on request, and no failure. The
/// Spanish of the row that they replace must not stand in its place.
#[test]
fn texts_of_the_house_without_spanish_are_told() {
    let folder = house(
        "changes:\n  - {table: steps_protect, add: {id: house-neighbours, when: {verdict: patch}, because: Tell the neighbours the day before., source: our own jobs, provenance: practice, set: {stage: protect}}, because: They asked us to.}\n",
    );
    let (code, out, err) = ringtrue(&["rules", "check", shown(folder.path())]);
    assert_eq!(code, 0, "{err}");
    assert!(
        out.contains("1 text has no Spanish") && out.contains("`--spanish` lists it"),
        "{out}"
    );
    let (code, out, _) = ringtrue(&["rules", "check", shown(folder.path()), "--spanish"]);
    assert_eq!(code, 0);
    assert!(out.contains("row house-neighbours of the house"), "{out}");
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
    // A fact only that row read is worth a word, and no reason to refuse the house's rules.
    assert_eq!(code, 0, "{err}");
    assert!(!err.contains("error["), "{err}");
    assert!(
        out.contains(&format!(
            "switched off {table} {row}: We do it another way."
        )),
        "{out}"
    );
}

#[test]
fn everything_made_with_house_rules_lists_them() {
    let folder = house(
        "changes:\n  - {table: cautions_slab, add: {id: house-hoses, when: {use: drive}, because: Coil the hoses., source: our own jobs, provenance: practice}, because: We want it said.}\n",
    );
    let pages = tempfile::tempdir().unwrap();
    let rules = shown(folder.path());
    for (what, page) in [
        ("report", true),
        ("crew", true),
        ("proposal", true),
        ("plan", false),
    ] {
        let path = pages.path().join(format!("{what}.html"));
        let mut args = vec![what, RECORD, "--house-rules", rules];
        if page {
            args.extend(["-o", shown(&path)]);
        }
        let (code, out, err) = ringtrue(&args);
        assert_eq!(code, 0, "{what}: {err}");
        let text = if page {
            fs::read_to_string(&path).unwrap()
        } else {
            out
        };
        assert!(
            text.contains("House rule: added house-hoses in cautions_slab: We want it said."),
            "{what} does not list the house rule"
        );
    }
    let (code, out, err) =
        ringtrue(&["compare", RECORD, RECORD, "--house-rules", rules, "-o", "-"]);
    assert!(
        code != 0 || out.contains("House rule: added house-hoses"),
        "{out}{err}"
    );
    let (_, out, _) = ringtrue(&["report", RECORD, "--summary", "--house-rules", rules]);
    assert!(out.contains("House rule: added house-hoses"), "{out}");
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
    assert_eq!(tree["answers"][0]["of"]["fact"], "verdict");
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

/// A sample of which the depths of the loss have been forgotten, in a folder with its photos.
fn forgetful() -> (tempfile::TempDir, std::path::PathBuf) {
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
    let open = text
        .replacen("depth: 1/8 to 3/16 in", "depth: unknown", 1)
        .replacen("greatest_depth: 1/4 in", "greatest_depth: unknown", 1);
    assert_ne!(open, text, "the sample has changed; take another fact away");
    fs::write(&path, open).unwrap();
    (folder, path)
}

fn interview(record: &Path, answers: &str) -> String {
    let out = Command::cargo_bin("ringtrue")
        .unwrap()
        .args(["ask", shown(record), "--interview"])
        .write_stdin(answers)
        .output()
        .unwrap();
    assert!(
        out.status.success(),
        "{}",
        String::from_utf8_lossy(&out.stderr)
    );
    String::from_utf8(out.stdout).unwrap()
}

#[test]
fn an_interview_asks_until_it_is_stopped_or_done() {
    let (_folder, record) = forgetful();
    let said = interview(&record, "no such answer\nstop\n");
    assert!(
        said.contains("the slab: ") && said.contains("area A: "),
        "{said}"
    );
    // What was skipped is not asked again.
    let said = interview(&record, &"skip\n".repeat(40));
    let mut asked: Vec<&str> = said.lines().filter(|l| l.contains(" min, ")).collect();
    let many = asked.len();
    asked.dedup();
    assert!(many > 1 && asked.len() == many, "{said}");
    assert!(said.contains("only what was skipped"), "{said}");
}

#[test]
fn where_a_defect_lies_is_asked_first() {
    let folder = tempfile::tempdir().unwrap();
    let record = folder.path().join("walk.yaml");
    std::fs::write(&record, include_str!("somewhere.yaml")).unwrap();
    let (code, out, err) = ringtrue(&["ask", shown(&record)]);
    assert_eq!(code, 0, "{err}");
    assert!(
        out.starts_with("1. defect 1: In which panels does it lie? (2 min, anyone)\n"),
        "{out}"
    );
    assert!(
        out.contains("\n   - A1 -> its area: replace panels\n   - B1 -> its area: patch\n"),
        "{out}"
    );
    assert!(out.contains("\n\n2. "), "{out}");
    let (_, out, _) = ringtrue(&["ask", shown(&record), "--most", "1"]);
    assert!(
        !out.contains("\n2. ") && out.contains("more could still change a verdict"),
        "{out}"
    );
    let (_, out, _) = ringtrue(&["ask", shown(&record), "--json"]);
    let said: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!(said["places"][0]["about"], "defect 1");
}

#[test]
fn an_interview_asks_only_what_can_still_change_the_answer() {
    let (_folder, record) = forgetful();
    let (code, out, err) = ringtrue(&["ask", shown(&record), "--json"]);
    assert_eq!(code, 0, "{err}");
    let open: serde_json::Value = serde_json::from_str(&out).unwrap();
    let open = open["questions"].as_array().unwrap();
    assert!(open.len() > 1, "{out}");
    let first = &open[0];
    assert_eq!(first["fact"], "loss_depth");
    for answer in first["answers"].as_array().unwrap() {
        assert!(answer["likely"].as_f64().unwrap() > 0.0);
        assert!(!answer["leads_to"].as_array().unwrap().is_empty());
    }
    // A shallow loss makes every verdict firm, so the one answer ends the interview, though other
    // questions were open before it.
    let said = interview(&record, &format!("1/8 in\n{}", "skip\n".repeat(20)));
    assert_eq!(
        said.lines().filter(|l| l.contains(" min, ")).count(),
        1,
        "{said}"
    );
    assert!(said.contains("Every verdict is firm"), "{said}");
    // A deep one, known only as the last answer says, leaves others open, and then they are asked.
    let said = interview(&record, &format!("5\n{}", "skip\n".repeat(20)));
    assert!(
        said.lines().filter(|l| l.contains(" min, ")).count() > 1,
        "{said}"
    );
}

#[test]
fn what_is_worked_out_from_a_changed_fact_follows_it() {
    use ringtrue::assessment::board;
    use ringtrue::facts::{Bits, FactKind, Value};
    use ringtrue::rules::Spot;
    use ringtrue::source::SourceFile;
    use ringtrue::survey::{Survey, suppose, survey};

    let pack = ringtrue::rules::builtin().unwrap();
    let vocabulary = &pack.vocabulary;
    let text = fs::read_to_string(RECORD).unwrap();
    let read = |text: &str| {
        let file = SourceFile::new("record.yaml", text);
        let (loaded, problems) = ringtrue::record::read(&file, None, None, Some(vocabulary));
        loaded.unwrap_or_else(|| panic!("{problems}")).record
    };
    let record = read(&text);
    let surveyed = survey(&record, vocabulary);
    let cells = |survey: &Survey| -> Vec<(String, Bits)> {
        let board = board(&pack, survey);
        let mut out = Vec::new();
        for (fact, declared) in vocabulary.facts() {
            if pack.maker(fact).is_none() {
                for thing in board.of_scope(declared.scope) {
                    let name = format!("{}: {}", board.label(thing), declared.id);
                    out.push((name, board.at(Spot { thing, fact })));
                }
            }
        }
        out
    };
    // Whatever is taken to be otherwise, the facts are those of a record that says so.
    let mut followed = 0;
    for (thing, fact, value, from, to) in [
        (
            "the slab",
            "thickness",
            "3 in",
            "thickness: 5 in",
            "thickness: 3 in",
        ),
        ("the slab", "mix_air", "6.5 %", "air: 3.9 %", "air: 6.5 %"),
        (
            "the site",
            "weathering",
            "negligible",
            "weathering: severe",
            "weathering: negligible",
        ),
        (
            "the site",
            "deicers",
            "none",
            "deicers: rock_salt",
            "deicers: none",
        ),
        (
            "the slab",
            "mix_stone",
            "3/8 in",
            "largest_stone: 3/4 in",
            "largest_stone: 3/8 in",
        ),
        (
            "defect 1",
            "loss_depth",
            "3/16 in",
            "depth: 1/8 to 3/16 in",
            "depth: 3/16 in",
        ),
        (
            "defect 1",
            "flake_shade",
            "paler",
            "flake_shade: same",
            "flake_shade: paler",
        ),
        ("area A", "fall", "0 %", "fall: 1/8 in/ft", "fall: 0 %"),
    ] {
        assert!(text.contains(from), "the sample has no `{from}` any more");
        let edited = survey(&read(&text.replacen(from, to, 1)), vocabulary);
        let id = vocabulary.find(fact).unwrap();
        let declared = vocabulary.fact(id);
        let value = match &declared.kind {
            FactKind::Quantity(kind) => Value::Number(kind.read(value).unwrap()),
            FactKind::Choice { .. } => {
                Value::Choices(Bits::one(declared.value_index(value).unwrap()))
            }
        };
        let at = surveyed
            .things
            .iter()
            .position(|t| t.label == thing)
            .unwrap();
        let supposed = suppose(&record, &surveyed, vocabulary, &[((at, id), value)]);
        let (wanted, got) = (cells(&edited), cells(&supposed.survey));
        for (a, b) in wanted.iter().zip(&got) {
            assert_eq!(a, b, "{fact} = {to}");
        }
        let before = cells(&surveyed);
        followed += before.iter().zip(&got).filter(|(a, b)| a != b).count();
    }
    // More than the eight that were named: what is worked out from them came along.
    assert!(followed > 8, "{followed} facts changed in all");

    let (code, out, err) = ringtrue(&["what-if", RECORD, "thickness=3 in"]);
    assert_eq!(code, 0, "{err}");
    assert!(out.contains("and so "), "{out}");
}
