//! The field page's questions, asked of the program itself, and the command that writes the page.

use std::fs;
use std::path::Path;

use assert_cmd::Command;
use proptest::prelude::*;
use ringtrue::cli::{Loading, Work};
use serde_json::{Value, json};

const TODAY: &str = "2026-11-25";

fn ask(question: &Value) -> Value {
    serde_json::from_str(&ringtrue::field::call(&question.to_string())).unwrap()
}

fn look(draft: &Value) -> Value {
    ask(&json!({"do": "look", "draft": draft, "today": TODAY}))
}

fn draft_of(file: &Path) -> Value {
    let text = fs::read_to_string(file).unwrap();
    let answer = ask(&json!({"do": "take", "yaml": text}));
    assert_eq!(answer["ok"], true, "{}: {answer}", file.display());
    answer["draft"].clone()
}

fn samples() -> Vec<std::path::PathBuf> {
    let mut all: Vec<_> = fs::read_dir("samples")
        .unwrap()
        .map(|e| e.unwrap().path())
        .filter(|p| p.extension().is_some_and(|e| e == "yaml"))
        .collect();
    all.sort();
    assert!(all.len() >= 10);
    all
}

fn ringtrue() -> Command {
    Command::cargo_bin("ringtrue").unwrap()
}

/// A draft as the page makes one: a patio with a scaled patch and a crack.
fn patio() -> Value {
    json!({
        "ringtrue": "1",
        "job": {"client": "A. Homeowner", "address": "12 Example Lane", "inspector": "B. Inspector", "date": TODAY},
        "slab": {"use": "patio", "thickness": "4 in"},
        "areas": [{
            "id": "upper", "name": "upper patio", "size": "12 ft x 18 ft", "origin": ["0 ft", "0 ft"],
            "panels": {"columns": ["6 ft", "6 ft"], "rows": ["6 ft", "6 ft", "6 ft"]},
            "defects": [
                {"id": "1", "kind": "scaling", "at": ["5 ft", "11 ft"], "extent": "5 ft x 8 ft"},
                {"id": "2", "kind": "crack", "at": ["2 ft", "13 ft"], "to": ["10 ft", "12 ft"]},
            ],
            "tests": {"sounding": {"taps": "54", "hollow": "3"}},
        }],
    })
}

fn copy(from: &Path, to: &Path) {
    fs::create_dir_all(to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let (from, to) = (
            entry.as_ref().unwrap().path(),
            to.join(entry.unwrap().file_name()),
        );
        if from.is_dir() {
            copy(&from, &to);
        } else {
            fs::copy(&from, &to).unwrap();
        }
    }
}

/// What the program itself says of a record's file: the slab's verdict, then each area's.
fn verdicts(record: &Path, house: Option<&Path>) -> Vec<(String, bool, Vec<String>)> {
    let loading = Loading {
        record: record.to_owned(),
        house_rules: house.map(Path::to_owned),
    };
    let work = Work::load(&loading).unwrap_or_else(|stop| panic!("{}: {stop:?}", record.display()));
    let one = |v: &ringtrue::assessment::Verdict| {
        let possible = v.possible.iter().map(|c| c.name.clone()).collect();
        (v.name.clone(), v.firm, possible)
    };
    let areas = work.assessment.areas.iter().map(|a| one(&a.verdict));
    std::iter::once(one(&work.assessment.slab.verdict))
        .chain(areas)
        .collect()
}

/// What the page says: the slab's verdict, then each area's.
fn seen_verdicts(seen: &Value) -> Vec<(String, bool, Vec<String>)> {
    let one = |v: &Value| {
        let possible = v["possible"].as_array().unwrap();
        let names = possible.iter().map(|n| n.as_str().unwrap().to_owned());
        (
            v["name"].as_str().unwrap().to_owned(),
            v["firm"].as_bool().unwrap(),
            names.collect(),
        )
    };
    let areas = seen["areas"].as_array().unwrap();
    std::iter::once(one(&seen["slab"]))
        .chain(areas.iter().map(|a| one(&a["verdict"])))
        .collect()
}

#[test]
fn every_sample_comes_back_with_the_verdict_the_program_gives() {
    let folder = tempfile::tempdir().unwrap();
    copy(Path::new("samples"), folder.path());
    for file in samples() {
        let name = file.display();
        let seen = look(&draft_of(&file));
        assert_eq!(seen["judged"], true, "{name}");
        assert_eq!(seen["partly"], false, "{name}: {}", seen["problems"]);
        let theirs = verdicts(&file, None);
        assert_eq!(seen_verdicts(&seen), theirs, "{name}");
        // The record handed over, beside the sample's photos, is judged alike.
        let out = folder.path().join(file.file_name().unwrap());
        fs::write(&out, seen["yaml"].as_str().unwrap()).unwrap();
        assert_eq!(verdicts(&out, None), theirs, "{name}");
    }
}

#[test]
fn a_half_written_record_is_judged_as_far_as_it_goes() {
    let mut draft = patio();
    let whole = look(&draft);
    assert_eq!(
        (&whole["problems"], &whole["partly"]),
        (&json!([]), &json!(false))
    );
    // A number without its unit, a stair without risers, nobody named yet.
    draft["slab"]["thickness"] = json!("4");
    draft["stairs"] = json!([{"id": "porch", "from": "upper"}]);
    draft["job"]["client"] = json!("");
    let seen = look(&draft);
    assert_eq!(
        (&seen["judged"], &seen["partly"]),
        (&json!(true), &json!(true))
    );
    let paths: Vec<&str> = seen["problems"]
        .as_array()
        .unwrap()
        .iter()
        .map(|p| p["path"].as_str().unwrap())
        .collect();
    assert_eq!(paths, ["job", "slab.thickness", "stairs.0"]);
    // What was typed is handed over as it was typed.
    assert!(seen["yaml"].as_str().unwrap().contains("thickness: 4\n"));
    draft["slab"]["thickness"] = json!("4 in");
    draft["stairs"] = json!([]);
    draft["job"]["client"] = json!("A. Homeowner");
    assert_eq!(look(&draft)["slab"], whole["slab"]);
}

#[test]
fn the_map_is_the_record_in_millimetres() {
    let map = look(&patio())["map"].clone();
    let area = &map["areas"][0];
    // 12 ft and 18 ft at 304.8 mm.
    assert_eq!(map["bounds"], json!([0.0, 0.0, 3657.6, 5486.4]));
    assert_eq!(area["panels"][5]["name"], "B3");
    assert_eq!(
        area["panels"][5]["place"],
        json!([1828.8, 3657.6, 3657.6, 5486.4])
    );
    assert_eq!(area["defects"][1]["to"], json!([3048.0, 3657.6]));
    // 5 ft by 8 ft round 5 ft, 11 ft: from 2.5 ft, 7 ft.
    let round = area["defects"][0]["box"].clone();
    assert_eq!((&round[0], &round[1]), (&json!(762.0), &json!(2133.6)));
    // 12 ft by 18 ft are 216 square feet.
    assert!(
        area["surface"].as_str().unwrap().starts_with("216"),
        "{area}"
    );
}

#[test]
fn every_question_has_a_field_that_takes_its_answer() {
    let draft = patio();
    let answer = ask(&json!({"do": "ask", "draft": draft, "today": TODAY}));
    let questions = answer["questions"].as_array().unwrap();
    assert!(questions.len() > 5, "{answer}");
    let mut answered = 0;
    for q in questions {
        let field = &q["field"];
        if field.is_null() {
            continue;
        }
        let one = match field["kind"].as_str().unwrap() {
            "choice" => field["values"][0]["word"].clone(),
            "measure" => field["examples"][0].clone(),
            "text" => json!("2011"),
            "size" => json!("2 ft x 3 ft"),
            other => panic!("{other}: {q}"),
        };
        let value = match (&field["dated"], &field["many"]) {
            (Value::Bool(true), _) => json!([{"date": TODAY, "value": one}]),
            (_, Value::Bool(true)) => json!([one]),
            _ => one,
        };
        let mut draft = draft.clone();
        put(&mut draft, field["path"].as_str().unwrap(), value);
        let seen = look(&draft);
        let errors: Vec<&Value> = seen["problems"]
            .as_array()
            .unwrap()
            .iter()
            .filter(|p| p["code"] == "unknown-key" || p["code"] == "word" || p["code"] == "shape")
            .collect();
        assert!(errors.is_empty(), "{q}\n{errors:?}");
        answered += 1;
    }
    assert!(
        answered * 10 >= questions.len() * 8,
        "{answered} of {}",
        questions.len()
    );
}

fn put(draft: &mut Value, path: &str, value: Value) {
    let mut at = draft;
    let steps: Vec<&str> = path.split('.').collect();
    for step in &steps {
        at = match step.parse::<usize>() {
            Ok(i) => &mut at[i],
            Err(_) => &mut at[*step],
        };
    }
    *at = value;
}

#[test]
fn what_is_typed_on_the_page_is_answered_in_the_trade_s_notation() {
    let read = ask(&json!({"do": "read", "kind": "length", "text": "9.525 mm", "units": "us"}));
    assert_eq!(read["says"], "3/8 in");
    let write =
        ask(&json!({"do": "write", "kind": "length", "values": [1676.4, 0], "units": "us"}));
    // 1676.4 mm are 66 in.
    assert_eq!(write["texts"][0], "5' 6\"");
    let wrong = ask(&json!({"do": "read", "kind": "length", "text": "two hands", "units": "us"}));
    assert_eq!(wrong["ok"], false);
}

#[test]
fn nonsense_gets_an_answer_and_not_a_crash() {
    for text in [
        "",
        "{",
        "[]",
        "null",
        "7",
        r#"{"do":7}"#,
        r#"{"do":"look"}"#,
        r#"{"do":"look","draft":[],"today":"x"}"#,
        r#"{"do":"look","draft":[1],"today":"2026-11-25"}"#,
        r#"{"do":"take","yaml":"- 1"}"#,
        r#"{"do":"taps","corners":[[1]],"step":"0 ft"}"#,
        r#"{"do":"corner","outline":[[0,0],[1,1]],"side":99999999999999999999,"text":"1 ft"}"#,
        r#"{"do":"split","text":"1 ft","into":-1}"#,
    ] {
        let answer: Value = serde_json::from_str(&ringtrue::field::call(text)).unwrap();
        assert!(answer["ok"].is_boolean(), "{text}: {answer}");
    }
    let deep = "[".repeat(5000) + &"]".repeat(5000);
    let answer: Value = serde_json::from_str(&ringtrue::field::call(&deep)).unwrap();
    assert_eq!(answer["ok"], false);
}

/// Every path of a tree that ends in a text.
fn leaves(value: &Value, path: &str, out: &mut Vec<String>) {
    let join = |step: String| {
        if path.is_empty() {
            step
        } else {
            format!("{path}.{step}")
        }
    };
    match value {
        Value::Object(map) => map
            .iter()
            .for_each(|(k, v)| leaves(v, &join(k.clone()), out)),
        Value::Array(items) => items
            .iter()
            .enumerate()
            .for_each(|(i, v)| leaves(v, &join(i.to_string()), out)),
        _ => out.push(path.to_owned()),
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// Whatever stands in a field, there is an answer, and what was typed is in the record.
    #[test]
    fn any_text_in_any_field_is_answered(which in 0usize..1000, text in "[ -~]{0,20}|unknown|3/8 in|[0-9]{1,3} (in|ft|mm|%)") {
        let mut draft = patio();
        let mut paths = Vec::new();
        leaves(&draft, "", &mut paths);
        let path = &paths[which % paths.len()];
        put(&mut draft, path, json!(text));
        let seen = look(&draft);
        prop_assert_eq!(&seen["ok"], &json!(true));
        let back = ask(&json!({"do": "take", "yaml": seen["yaml"]}));
        prop_assert_eq!(&back["ok"], &json!(true), "{}", seen["yaml"]);
        let mut at = &back["draft"];
        // What is empty is left out, and a list closes up behind it.
        if !text.trim().is_empty() {
            for step in path.split('.') {
                at = step.parse::<usize>().map_or_else(|_| &at[step], |i| &at[i]);
            }
            prop_assert_eq!(at, &json!(text.trim()));
        }
    }
}

#[test]
fn the_command_writes_one_page_that_holds_everything() {
    let folder = tempfile::tempdir().unwrap();
    let page = folder.path().join("page.html");
    let run = |force: bool| {
        let mut command = ringtrue();
        command
            .args(["field", "samples/terrace.yaml", "-o"])
            .arg(&page);
        if force {
            command.arg("--force");
        }
        command.output().unwrap()
    };
    let out = run(false);
    assert!(
        out.status.success(),
        "{}",
        String::from_utf8_lossy(&out.stderr)
    );
    let text = fs::read_to_string(&page).unwrap();
    assert!(text.starts_with("<!doctype html>") && text.trim_end().ends_with("</html>"));
    // The module's first bytes in base64, the record, and its photos.
    assert!(text.contains("AGFzbQ"));
    assert!(text.contains("ringtrue: 1") && text.contains("photos/terrace-scaling.jpg"));
    assert!(text.contains("capture: \"environment\""));
    // Nothing is written over unasked.
    assert_eq!(run(false).status.code(), Some(2));
    assert!(run(true).status.success());
    let bad = folder.path().join("bad.yaml");
    fs::write(&bad, "a: [").unwrap();
    let out = ringtrue()
        .arg("field")
        .arg(&bad)
        .args(["-o", "-"])
        .output()
        .unwrap();
    assert_eq!(out.status.code(), Some(1));
    assert!(out.stdout.is_empty());
}

#[test]
fn house_rules_in_the_page_judge_as_the_report_does() {
    let folder = tempfile::tempdir().unwrap();
    let rules = folder.path().join("house");
    fs::create_dir(&rules).unwrap();
    // A house that seals nothing where the built-in rules would.
    fs::write(
        rules.join("ours.yaml"),
        "changes:\n  - {table: area_verdict, replace: {id: av-seal, when: {area_need: seal}, then: leave_alone, because: We do not seal sound concrete., source: our own jobs, provenance: practice}, because: We never seal.}\n",
    )
    .unwrap();
    let write = |page: &Path| {
        ringtrue()
            .args(["field", "--house-rules"])
            .arg(&rules)
            .arg("-o")
            .arg(page)
            .output()
            .unwrap()
    };
    let page = folder.path().join("page.html");
    let out = write(&page);
    let err = String::from_utf8_lossy(&out.stderr).into_owned();
    assert!(out.status.success(), "{err}");
    let text = fs::read_to_string(&page).unwrap();
    let (_, rest) = text.split_once("id=\"house\">").unwrap();
    let (packed, _) = rest.split_once("</script>").unwrap();
    let bytes = base64::Engine::decode(&base64::engine::general_purpose::STANDARD, packed).unwrap();
    let core = ringtrue::field::Core::stored(&bytes).unwrap();
    let ask_house = |question: &Value| -> Value {
        serde_json::from_str(&core.call(&question.to_string())).unwrap()
    };
    let begin = ask_house(&json!({"do": "begin"}));
    assert_eq!(
        begin["house"],
        json!(["replaced av-seal in area_verdict: We never seal."])
    );
    let built_in = ask(&json!({"do": "begin"}));
    assert_eq!(built_in["house"], json!([]));
    assert_ne!(begin["rules"], built_in["rules"]);
    let mut changed = 0;
    for file in samples() {
        let draft = draft_of(&file);
        let seen = ask_house(&json!({"do": "look", "draft": draft, "today": TODAY}));
        let name = file.display();
        assert_eq!(
            seen_verdicts(&seen),
            verdicts(&file, Some(&rules)),
            "{name}"
        );
        changed += usize::from(seen_verdicts(&seen) != seen_verdicts(&look(&draft)));
    }
    assert!(changed > 0, "no sample shows that the house rules count");
    // Unsound ones are refused with their place, and no page is written.
    fs::write(rules.join("ours.yaml"), "changes:\n  - {table: nowhere}\n").unwrap();
    let other = folder.path().join("other.html");
    let out = write(&other);
    assert_eq!(out.status.code(), Some(1));
    let err = String::from_utf8_lossy(&out.stderr).into_owned();
    assert!(
        err.contains("ours.yaml:2:") && err.contains("nowhere"),
        "{err}"
    );
    assert!(!other.exists());
    // Bytes that are no rules are told, not trusted.
    assert!(ringtrue::field::Core::stored(b"no rules").is_err());
}
