//! Many slabs at once: rows give what records give, and runs end whole or can be taken up again.

use std::fs;
use std::path::Path;
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

use ringtrue::assessment::{board, judge as judge_record, run_rules};
use ringtrue::inventory::row::Row;
use ringtrue::inventory::{Judge, Worker};
use ringtrue::method::decide;
use ringtrue::record;
use ringtrue::rules::{Asking, Memo, Question, Spot, ask, ask_first, builtin};
use ringtrue::source::SourceFile;
use ringtrue::survey::survey;
use serde_json::Value;

mod program;
use program::{ringtrue, text};

fn judge() -> Judge {
    Judge::new(builtin().unwrap_or_else(|p| panic!("{p}")), None).unwrap()
}

/// Verdict of a record's text by the whole way that `report` goes; `None` where it has errors.
fn by_record(judge: &Judge, text: &str) -> Option<(String, bool)> {
    let file = SourceFile::new("row.yaml", text);
    let (loaded, _) = record::read(&file, None, None, Some(&judge.pack.vocabulary));
    let loaded = loaded?;
    let mut survey = survey(&loaded.record, &judge.pack.vocabulary);
    let ran = run_rules(&judge.pack, &survey);
    let (ran, _) = decide(&loaded.record, &mut survey, &judge.pack, ran);
    let said = judge_record(
        &loaded.record,
        Some(&loaded.node),
        &survey,
        &judge.pack,
        &ran,
    );
    Some((said.slab.verdict.word, said.slab.verdict.firm))
}

fn by_row(judge: &Judge, worker: &mut Worker, line: &str) -> Option<(String, bool)> {
    let row = Row::read(&judge.fields, line).unwrap();
    let outcome = worker.judge(judge, &row)?;
    Some((judge.verdicts()[outcome.verdict].0.clone(), outcome.firm()))
}

#[test]
fn a_row_says_what_a_record_written_by_hand_says() {
    let judge = judge();
    let mut worker = Worker::default();
    let head = "ringtrue: 1\njob: {client: a, address: b, date: 2026-05-14, inspector: c}\n";
    for (row, rest) in [
        (
            r#"{"id":"1","date":"2026-05-14","use":"walk","size":"5 ft x 5 ft","kind":"lip","offset":"3/4 in"}"#,
            "slab: {use: walk}\nareas: [{id: A, name: a, size: 5 ft x 5 ft, defects: [{id: 1, kind: lip, offset: 3/4 in}]}]\n",
        ),
        (
            r#"{"date":"2026-05-14","use":"patio","size":"10 ft x 12 ft"}"#,
            "slab: {use: patio}\nareas: [{id: A, name: a, size: 10 ft x 12 ft}]\n",
        ),
        (
            r#"{"date":"2026-05-14","use":"drive","placed":2019,"thickness":"5 in","weathering":"severe","deicers":["rock_salt","sand"],
              "surface":"800 ft2","air":"3.9 %","largest_stone":"3/4 in","kind":"scaling","extent":"6 ft x 15 ft","depth":"1/8 to 3/16 in",
              "greatest_depth":"1/4 in","stones":"showing","scratch":"hard","kind_2":"crack","width_2":"1/16 in","crack_reaches_edge_2":true,
              "taps":180,"hollow":0,"water_drop":["8 s","10 s"],"ph":[11.5,12],"curing":"cured","finish":"broom | float"}"#,
            "site: {weathering: severe, deicers: [rock_salt, sand]}\nslab: {use: drive, placed: 2019, thickness: 5 in, finish: [broom, float], mix: {air: 3.9 %, largest_stone: 3/4 in}, signs: {curing: cured}}\nareas:\n- {id: A, name: a, surface: 800 ft2, tests: {sounding: {taps: 180, hollow: 0}, water_drop: [8 s, 10 s], ph: [11.5, 12]}, defects: [{id: 1, kind: scaling, extent: 6 ft x 15 ft, depth: 1/8 to 3/16 in, greatest_depth: 1/4 in, stones: showing, signs: {scratch: hard}}, {id: 2, kind: crack, width: 1/16 in, signs: {crack_reaches_edge: yes}}]}\n",
        ),
    ] {
        let record = by_record(&judge, &format!("{head}{rest}"));
        assert!(record.is_some(), "{rest}");
        let row = row.replace('\n', " ");
        assert_eq!(by_row(&judge, &mut worker, &row), record, "{row}");
    }
}

/// Numbers that look random, the same in every run.
struct Dice(u64);

impl Dice {
    fn below(&mut self, n: usize) -> usize {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % n
    }
    fn pick<'a>(&mut self, from: &[&'a str]) -> &'a str {
        from[self.below(from.len())]
    }
}

/// A row with whatever a row can hold, often at the ends of a class or against sense.
fn any_row(judge: &Judge, dice: &mut Dice) -> String {
    let mut row = serde_json::Map::new();
    let kinds = [
        "scaling",
        "spall",
        "delamination",
        "crack",
        "lip",
        "popouts",
        "heave",
        "dusting",
        "ponding",
    ];
    let lengths = [
        "0 in",
        "1/16 in",
        "1/8 in",
        "6 mm",
        "1/4 in",
        "1/2 in",
        "1/4 to 5/8 in",
        "1 in",
        "unknown",
    ];
    let mut has_kind = [false; 3];
    for (n, has) in has_kind.iter_mut().enumerate() {
        if dice.below(n + 1) == 0 && dice.below(5) > 0 {
            let key = if n == 0 {
                "kind".to_owned()
            } else {
                format!("kind_{}", n + 1)
            };
            row.insert(key, dice.pick(&kinds).into());
            *has = true;
        }
    }
    for field in judge.fields.iter() {
        let name = field.path.rsplit('.').next().unwrap();
        if name == "kind" || dice.below(4) > 0 || field.defect.is_some_and(|n| !has_kind[n]) {
            continue;
        }
        let sign = judge.pack.vocabulary.find(name);
        let kinds = sign.map_or(&[][..], |id| &judge.pack.vocabulary.fact(id).kinds);
        let kind = field.defect.map(|n| match n {
            0 => "kind".to_owned(),
            n => format!("kind_{}", n + 1),
        });
        let kind = kind.and_then(|k| row[&k].as_str().map(str::to_owned));
        if kind.is_some_and(|k| !kinds.is_empty() && !kinds.contains(&k)) {
            continue;
        }
        let value: Value = match name {
            "date" | "use" => continue,
            // The slab's own surface would contradict its size; dull taps need taps.
            "surface" if field.defect.is_none() => continue,
            "taps" | "hollow" => continue,
            "placed" => dice.pick(&["1975", "2003-06", "2025-01-01", "2026"]).into(),
            "size" | "extent" => dice
                .pick(&["5 ft x 5 ft", "1 ft x 2 ft", "3 ft x 4 ft", "2 m x 3 m"])
                .into(),
            "surface" => dice.pick(&["25 ft2", "2 ft2", "10 m2"]).into(),
            "share" | "air" | "chloride" => {
                dice.pick(&["0.05 %", "4 %", "9 %", "20 to 40 %"]).into()
            }
            "fall" => dice.pick(&["1/4 in/ft", "0.5 %", "-1 %"]).into(),
            "thickness" => dice
                .pick(&["3-1/2 in", "4 in", "100 mm", "4 to 6 in"])
                .into(),
            "strength" | "pull_off" => dice.pick(&["90 psi", "200 psi", "4000 psi"]).into(),
            "tree_distance" | "length" => dice.pick(&["2 ft", "10 ft", "4 m"]).into(),
            "water_drop" => dice.pick(&["8 s", "90 s | 200 s"]).into(),
            "ph" | "frame_counts" => serde_json::json!([7 + dice.below(6)]),
            "freeze_thaw_days" => (dice.below(3) * 40).into(),
            "count" => (dice.below(4) + 1).into(),
            _ => match judge
                .pack
                .vocabulary
                .find(name)
                .map(|id| judge.pack.vocabulary.fact(id))
            {
                Some(fact) if !fact.values().is_empty() => {
                    let values: Vec<&str> = fact.values().iter().map(|v| v.id.as_str()).collect();
                    dice.pick(&values).into()
                }
                Some(fact) if field.path.contains(".signs.") && fact.id == "pieces" => 2.into(),
                _ => dice.pick(&lengths).into(),
            },
        };
        row.insert(field.key.clone(), value);
    }
    row.insert(
        "date".into(),
        dice.pick(&["2026-05-14", "2026-11-02"]).into(),
    );
    row.insert(
        "use".into(),
        dice.pick(&["walk", "drive", "patio", "interior_floor"])
            .into(),
    );
    row.insert(
        "size".into(),
        dice.pick(&["5 ft x 5 ft", "10 ft x 12 ft", "2 m x 3 m"])
            .into(),
    );
    if dice.below(3) == 0 {
        row.insert("taps".into(), 100.into());
        row.insert("hollow".into(), [0, 9, 40][dice.below(3)].into());
    }
    Value::Object(row).to_string()
}

#[test]
fn rows_of_all_kinds_say_what_their_records_say() {
    let judge = judge();
    let mut worker = Worker::default();
    let mut dice = Dice(7);
    let (mut good, mut bad) = (0, 0);
    let rounds = std::env::var("INVENTORY_ROWS")
        .ok()
        .and_then(|n| n.parse().ok())
        .unwrap_or(60);
    for _ in 0..rounds {
        let mut line = any_row(&judge, &mut dice);
        // The row as drawn, then the same with one measure after another changed, so that rows meet
        // whose words are alike and whose classes may be.
        for change in [
            ("1/4 in", "5/16 in"),
            ("4 in", "4-1/2 in"),
            ("3 ft x 4 ft", "1 ft x 1 ft"),
            ("2003-06", "2004"),
            ("walk", "walk"),
        ] {
            let row = Row::read(&judge.fields, &line).unwrap();
            let (record, _) = row.to_record(&judge.fields);
            let expected = by_record(&judge, &record);
            if expected.is_some() {
                good += 1
            } else {
                bad += 1
            }
            assert_eq!(
                by_row(&judge, &mut worker, &line),
                expected,
                "{line}\n{record}"
            );
            line = line.replace(&format!("\"{}\"", change.0), &format!("\"{}\"", change.1));
        }
    }
    assert!(
        good >= rounds,
        "{good} good, {bad} bad: too few rows are judged at all"
    );
}

/// A row may be written in many ways. One way of writing has a class of its own only where the rules
/// could tell it from another; else an inventory of a million rows would be worked out row by row.
#[test]
fn one_content_written_in_many_ways_is_worked_out_once() {
    let judge = judge();
    let mut worker = Worker::default();
    for (placed, depth, crack) in [
        ("2003", "1/4 in", "1/8 in"),
        ("\"2003\"", "0.25 in", "0.125 in"),
        ("2003", "6.35 mm", "3.175 mm"),
    ] {
        let row = format!(
            r#"{{"date":"2026-05-14","use":"walk","placed":{placed},"size":"5 ft x 5 ft","kind":"scaling","extent":"1 ft x 2 ft","depth":"{depth}","kind_2":"crack","offset_2":"{crack}"}}"#
        );
        assert!(by_row(&judge, &mut worker, &row).is_some(), "{row}");
    }
    assert_eq!(worker.missed, 1);
}

#[test]
fn what_is_measured_first_is_the_first_of_all_questions() {
    let judge = judge();
    let pack = &judge.pack;
    let fact = pack.vocabulary.find("slab_verdict").unwrap();
    let mut dice = Dice(11);
    let mut open = 0;
    for _ in 0..60 {
        let line = any_row(&judge, &mut dice);
        let row = Row::read(&judge.fields, &line).unwrap();
        let file = SourceFile::new("row", row.to_record(&judge.fields).0);
        let (Some(loaded), _) = record::read(&file, None, None, Some(&pack.vocabulary)) else {
            continue;
        };
        let survey = survey(&loaded.record, &pack.vocabulary);
        let given = board(pack, &survey);
        let targets = [Spot {
            thing: survey.slab,
            fact,
        }];
        let asking = Asking::new(pack, &targets);
        let all = ask(pack, &given, &asking);
        let first = ask_first(pack, &given, &asking, &mut Memo::default());
        open += usize::from(first.is_some());
        let said = |q: &Question| (q.spot, q.settles, q.helps, q.minutes);
        assert_eq!(first.as_ref().map(said), all.first().map(said), "{line}");
    }
    assert!(open > 5, "{open} open: too few to tell");
}

const ROWS: &str = r#"{"id":"P-1","date":"2026-05-14","use":"walk","size":"5 ft x 5 ft","lat":43.0712,"lon":-89.4}
{"id":"P-2","date":"2026-05-14","use":"walk","depht":"1 in"}

{"id":"P-3","date":"2026-05-14","use":"walk","size":"5 ft x 5 ft","kind":"scaling","depth":"14"}
not a row
{"id":"P-4","date":"2026-05-14","use":"walk","size":"5 ft x 5 ft","lat":43.0713,"lon":-89.4}
"#;

#[test]
fn bad_rows_are_told_with_their_place_and_passed_over() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("r.ndjson"), ROWS).unwrap();
    let out = ringtrue(folder.path(), &["survey", "r.ndjson", "-o", "out.ndjson"]);
    assert_eq!(out.status.code(), Some(1));
    let told = text(&out.stderr);
    // Counted by hand in ROWS: the key `depht` begins at column 46, the value "14" at column 92.
    assert!(
        told.contains("r.ndjson:2:46: `depht`: ") && told.contains("did you mean `depth`?"),
        "{told}"
    );
    assert!(
        told.contains("r.ndjson:4:92: `depth`: ") && told.contains("14 in"),
        "{told}"
    );
    assert!(told.contains("r.ndjson:5:"), "{told}");
    let results = fs::read_to_string(folder.path().join("out.ndjson")).unwrap();
    let ids: Vec<String> = results
        .lines()
        .map(|l| {
            serde_json::from_str::<Value>(l).unwrap()["id"]
                .as_str()
                .unwrap()
                .to_owned()
        })
        .collect();
    assert_eq!(ids, ["P-1", "P-4"]);
    // No file is written over, and nothing of the run is left behind.
    let again = ringtrue(folder.path(), &["survey", "r.ndjson", "-o", "out.ndjson"]);
    assert_eq!(again.status.code(), Some(2));
    assert!(text(&again.stderr).contains("--force"));
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 2);
}

#[test]
fn csv_with_a_mapping_says_what_the_rows_say() {
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, text: &str| fs::write(folder.path().join(name), text).unwrap();
    write(
        "w.csv",
        "Panel,Step,Damage,Left out\nP-1,0.75,L,x\n\"P-2, east\",,,\nP-3,1,Q,\nP-4,1\n",
    );
    write(
        "w.yaml",
        "columns:\n  Panel: id\n  Step: {field: offset, unit: in}\n  Damage: {field: kind, words: {L: lip}}\nfixed: {date: 2026-05-14, use: walk, size: 5 ft x 5 ft}\n",
    );
    write(
        "w.ndjson",
        "{\"id\":\"P-1\",\"date\":\"2026-05-14\",\"use\":\"walk\",\"size\":\"5 ft x 5 ft\",\"kind\":\"lip\",\"offset\":\"0.75 in\"}\n{\"id\":\"P-2, east\",\"date\":\"2026-05-14\",\"use\":\"walk\",\"size\":\"5 ft x 5 ft\"}\n",
    );
    let csv = ringtrue(
        folder.path(),
        &["survey", "w.csv", "--columns", "w.yaml", "-o", "-"],
    );
    let rows = ringtrue(folder.path(), &["survey", "w.ndjson", "-o", "-"]);
    assert_eq!(text(&csv.stdout), text(&rows.stdout));
    let told = text(&csv.stderr);
    assert!(told.contains("w.csv:4:7: `kind`: "), "{told}");
    assert!(
        told.contains("w.csv:5") && told.contains("2 cells"),
        "{told}"
    );
}

#[test]
fn a_folder_gives_each_record_its_verdict_and_tells_the_bad_ones() {
    let folder = tempfile::tempdir().unwrap();
    let inner = folder.path().join("jobs/old");
    fs::create_dir_all(&inner).unwrap();
    fs::copy("samples/patio-new.yaml", folder.path().join("jobs/b.yaml")).unwrap();
    fs::copy("samples/yard-topping.yaml", inner.join("a.yaml")).unwrap();
    fs::write(
        folder.path().join("jobs/bad.yaml"),
        "ringtrue: 1\njob: {}\n",
    )
    .unwrap();
    let out = ringtrue(
        folder.path(),
        &["survey", "jobs", "-o", "-", "--format", "csv"],
    );
    assert_eq!(out.status.code(), Some(1));
    let verdict = |name: &str| {
        let text = fs::read_to_string(format!("samples/{name}.yaml")).unwrap();
        let head = text.lines().next().unwrap().to_owned();
        head.trim_start_matches("# verdict: ")
            .split(' ')
            .next()
            .unwrap()
            .to_owned()
    };
    let lines: Vec<String> = text(&out.stdout).lines().map(str::to_owned).collect();
    assert!(
        lines[1].starts_with(&format!("jobs/b.yaml,{},", verdict("patio-new"))),
        "{lines:?}"
    );
    assert!(
        lines[2].starts_with(&format!("jobs/old/a.yaml,{},", verdict("yard-topping"))),
        "{lines:?}"
    );
    assert_eq!(lines.len(), 3);
    assert!(text(&out.stderr).contains("jobs/bad.yaml:"));
}

/// So many rows of a few kinds, with places.
fn few_kinds(rows: usize) -> String {
    let kinds = [
        "",
        ",\"kind\":\"lip\",\"offset\":\"1-1/4 in\"",
        ",\"kind\":\"scaling\",\"extent\":\"2 ft x 2 ft\",\"depth\":\"1/8 in\"",
    ];
    (0..rows)
        .map(|i| {
            format!(
                "{{\"id\":{i},\"date\":\"2026-05-14\",\"use\":\"walk\",\"size\":\"5 ft x 5 ft\",\"lat\":43.{i:06},\"lon\":-89.4{}}}\n",
                kinds[i * 7 % 11 % 3]
            )
        })
        .collect()
}

#[test]
fn an_invented_inventory_says_so_and_is_the_same_for_a_seed() {
    let folder = tempfile::tempdir().unwrap();
    let made = |seed: &str, more: &[&str]| {
        let mut arguments = vec!["survey", "--made", "300", "--seed", seed];
        arguments.extend_from_slice(more);
        let out = ringtrue(folder.path(), &arguments);
        assert!(out.status.success(), "{}", text(&out.stderr));
        text(&out.stdout)
    };
    let rows = made("3", &[]);
    assert_eq!(rows, made("3", &[]));
    assert_ne!(rows, made("4", &[]));
    assert_eq!(rows.matches("invented, seed 3").count(), 300);
    let judge = judge();
    for line in rows.lines() {
        let row = Row::read(&judge.fields, line).unwrap();
        let (record, _) = row.to_record(&judge.fields);
        let file = SourceFile::new("row", record);
        let (loaded, problems) = record::read(&file, None, None, Some(&judge.pack.vocabulary));
        assert!(loaded.is_some(), "{line}\n{problems}");
    }
    // As CSV the same rows, with a head.
    let csv = made("3", &["--format", "csv"]);
    assert_eq!(csv.lines().count(), 301);
    assert!(csv.starts_with("id,date,use,size"));
}

#[test]
fn any_number_of_cores_gives_the_same_bytes_and_the_same_sums() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    fs::write(at.join("m.ndjson"), few_kinds(6000)).unwrap();
    let run = |cores: &str, to: &str| {
        let out = ringtrue(
            at,
            &["survey", "m.ndjson", "--cores", cores, "-o", to, "--json"],
        );
        assert!(out.status.success(), "{}", text(&out.stderr));
        (text(&out.stdout), fs::read(at.join(to)).unwrap())
    };
    let one = run("1", "1.geojson");
    assert_eq!(one, run("2", "2.geojson"));
    assert_eq!(one, run("5", "5.geojson"));
    let map: Value = serde_json::from_slice(&one.1).unwrap();
    let features = map["features"].as_array().unwrap();
    assert_eq!(features.len(), 6000);
    assert_eq!(features[17]["properties"]["id"], 17);
    assert_eq!(
        features[17]["geometry"]["coordinates"],
        serde_json::json!([-89.4, 43.000017])
    );
}

#[test]
fn a_run_that_was_killed_is_taken_up_and_ends_in_the_same_bytes() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    // Long enough for a checkpoint, which comes after a second, and for the kill behind it.
    fs::write(at.join("m.ndjson"), few_kinds(150_000)).unwrap();
    let whole = ringtrue(at, &["survey", "m.ndjson", "-o", "whole.ndjson", "--json"]);
    let mut child = Command::new(env!("CARGO_BIN_EXE_ringtrue"))
        .current_dir(at)
        .args(["survey", "m.ndjson", "-o", "out.ndjson"])
        .stdout(Stdio::null())
        .spawn()
        .unwrap();
    let state = at.join("out.ndjson.partial.state");
    let begun = Instant::now();
    while !state.exists() && child.try_wait().unwrap().is_none() {
        assert!(begun.elapsed() < Duration::from_secs(120));
        std::thread::sleep(Duration::from_millis(2));
    }
    child.kill().unwrap();
    child.wait().unwrap();
    assert!(
        !at.join("out.ndjson").exists(),
        "the run ended before it could be killed; give it more rows"
    );
    // What is left says that it is a part, and is not begun anew unless told.
    let not = ringtrue(at, &["survey", "m.ndjson", "-o", "out.ndjson"]);
    assert_eq!(not.status.code(), Some(2));
    assert!(text(&not.stderr).contains("--resume"));
    let on = ringtrue(
        at,
        &[
            "survey",
            "m.ndjson",
            "-o",
            "out.ndjson",
            "--resume",
            "--json",
        ],
    );
    assert!(on.status.success(), "{}", text(&on.stderr));
    assert_eq!(
        fs::read(at.join("out.ndjson")).unwrap(),
        fs::read(at.join("whole.ndjson")).unwrap()
    );
    assert_eq!(text(&on.stdout), text(&whole.stdout));
    assert!(!state.exists() && !at.join("out.ndjson.partial").exists());
}

#[test]
fn the_summary_adds_up_as_by_hand() {
    let folder = tempfile::tempdir().unwrap();
    // One sound panel and two that have scaled over six of their 25 square feet.
    let rows: String = [
        ("a", ""),
        (
            "b",
            r#","kind":"scaling","extent":"2 ft x 3 ft","depth":"1/8 in","stones":"not_showing""#,
        ),
        (
            "c",
            r#","kind":"scaling","extent":"2 ft x 3 ft","depth":"1/8 in","stones":"not_showing""#,
        ),
    ]
    .map(|(id, damage)| {
        format!(
            r#"{{"id":"{id}","date":"2026-05-14","use":"walk","placed":1988,"weathering":"severe","deicers":"rock_salt","size":"5 ft x 5 ft"{damage}}}"#
        ) + "\n"
    })
    .concat();
    fs::write(folder.path().join("r.ndjson"), rows).unwrap();
    let out = ringtrue(
        folder.path(),
        &["survey", "r.ndjson", "--json", "--page", "p.html"],
    );
    let said: Value = serde_json::from_slice(&out.stdout).unwrap();
    assert_eq!((&said["read"], &said["bad"]), (&3.into(), &0.into()));
    assert_eq!(said["verdicts"][0]["verdict"], "leave_alone");
    assert_eq!(said["verdicts"][0]["slabs"], 1);
    assert_eq!(said["verdicts"][1]["verdict"], "thin_resurfacing");
    // 2 x 25 square feet at 3 to 5 dollars: 150 to 250.
    assert_eq!(said["verdicts"][1]["cost"], serde_json::json!([150, 250]));
    let worst = said["worst"].as_array().unwrap();
    let order: Vec<&str> = worst.iter().map(|w| w["id"].as_str().unwrap()).collect();
    assert_eq!(order, ["b", "c", "a"]);
    let page = fs::read_to_string(folder.path().join("p.html")).unwrap();
    assert!(page.contains("150 to 250") && page.contains("<h1>3 slabs</h1>"));
    assert!(!page.contains("http://") && !page.contains("https://"));
}

const GOOD: &str = r#"{"id":"P-1","date":"2026-05-14","use":"walk","size":"5 ft x 5 ft"}"#;

/// Ids of the results on standard output.
fn ids(out: &Output) -> Vec<String> {
    text(&out.stdout)
        .lines()
        .map(|l| serde_json::from_str::<Value>(l).unwrap()["id"].to_string())
        .collect()
}

#[test]
fn a_pattern_stands_for_what_it_finds_by_name() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    fs::create_dir(at.join("jobs")).unwrap();
    // A folder that is named as a record is none.
    fs::create_dir(at.join("jobs/2026-c.yaml")).unwrap();
    for name in ["2026-b.yaml", "2026-a.yaml", "2025-z.yaml"] {
        fs::copy("samples/patio-new.yaml", at.join("jobs").join(name)).unwrap();
    }
    fs::write(at.join("jobs/2026-d.ndjson"), format!("{GOOD}\n")).unwrap();
    fs::write(at.join("jobs/2026-note.txt"), "no record").unwrap();
    let out = ringtrue(at, &["survey", "jobs/2026-*", "-o", "-"]);
    assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
    assert_eq!(
        ids(&out),
        ["\"jobs/2026-a.yaml\"", "\"jobs/2026-b.yaml\"", "\"P-1\""]
    );
    for (given, says) in [
        ("jobs/1999-*", "finds no file that ends in"),
        ("jobs/[", "is no pattern"),
        ("jobs/none.yaml", "can't read jobs/none.yaml"),
        ("jobs/2026-note.txt", "its name does not end in"),
        ("jobs/2026-c.yaml", "holds no records"),
    ] {
        let out = ringtrue(at, &["survey", given]);
        assert_eq!(out.status.code(), Some(2), "{given}");
        assert!(text(&out.stderr).contains(says), "{}", text(&out.stderr));
    }
}

#[test]
fn a_line_without_end_is_told_and_the_run_goes_on() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let row = |id: &str, more: &str| {
        format!(
            "{{\"id\":\"{id}\",\"date\":\"2026-05-14\",\"use\":\"walk\",\"size\":\"5 ft x 5 ft\",\"note\":\"{more}\"}}\n"
        )
    };
    const MEGABYTE: usize = 1024 * 1024;
    // As long as may be without its line end, one byte longer, and longer than any buffer, behind a
    // few or behind many others, so that they fall on the ends of pieces in several ways.
    let spare = MEGABYTE + 1 - row("edge", "").len();
    let many: String = (0..4000).map(|i| row(&format!("m{i}"), "")).collect();
    let rows = [
        row("a", ""),
        row("edge", &"x".repeat(spare)),
        row("over", &"x".repeat(spare + 1)),
        row("b", ""),
        row("long", &"x".repeat(5 * MEGABYTE)),
        many,
        row("last", ""),
        row("end", &"x".repeat(2 * MEGABYTE)),
    ];
    fs::write(at.join("r.ndjson"), rows.concat()).unwrap();
    let out = ringtrue(at, &["survey", "r.ndjson", "-o", "-"]);
    assert_eq!(out.status.code(), Some(1));
    let told = text(&out.stderr);
    // Lines 3, 5 and 4007: counted in the list above, 4000 of them in one string.
    for line in [3, 5, 4007] {
        let says = format!("r.ndjson:{line}:1: the line is longer than a megabyte: ");
        assert!(told.contains(&says), "{line}: {told}");
    }
    assert_eq!(told.matches("longer than").count(), 3, "{told}");
    let named = ids(&out);
    assert_eq!(named.len(), 4004);
    assert_eq!(named[..3], ["\"a\"", "\"edge\"", "\"b\""]);
    assert_eq!(named[4003], "\"last\"");
    // The same in a CSV file, from standard input.
    let csv = format!(
        "id,date,use,size,note\nP-1,2026-05-14,walk,5 ft x 5 ft,\nP-2,2026-05-14,walk,5 ft x 5 ft,{}\nP-3,2026-05-14,walk,5 ft x 5 ft,\n",
        "x".repeat(3 * MEGABYTE)
    );
    fs::write(at.join("r.csv"), csv).unwrap();
    let out = ringtrue(at, &["survey", "r.csv", "-o", "-"]);
    assert_eq!(out.status.code(), Some(1));
    assert_eq!(ids(&out), ["\"P-1\"", "\"P-3\""]);
    assert!(text(&out.stderr).contains("r.csv:3:1: the line is longer than a megabyte"));
}

#[test]
fn what_is_not_utf_8_is_told_with_its_place_and_passed_over() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    // The byte 0xE9 is é as older systems write it; `{"id":"Bébé` has ten characters before it.
    let mut rows = format!("{GOOD}\n{{\"id\":\"B\u{e9}b").into_bytes();
    rows.push(0xe9);
    rows.extend_from_slice(format!("\"}}\n{GOOD}\n").as_bytes());
    fs::write(at.join("r.ndjson"), &rows).unwrap();
    let out = ringtrue(at, &["survey", "r.ndjson", "-o", "-"]);
    assert_eq!(out.status.code(), Some(1));
    assert_eq!(ids(&out).len(), 2);
    let told = text(&out.stderr);
    assert!(
        told.contains("r.ndjson:2:11: this is not UTF-8 text") && told.contains("save the file"),
        "{told}"
    );
    // A record among others.
    fs::create_dir(at.join("jobs")).unwrap();
    fs::write(
        at.join("jobs/a.yaml"),
        b"ringtrue: 1\njob: {client: \xe9}\n",
    )
    .unwrap();
    fs::copy("samples/patio-new.yaml", at.join("jobs/b.yaml")).unwrap();
    let out = ringtrue(at, &["survey", "jobs", "-o", "-"]);
    assert_eq!(out.status.code(), Some(1));
    assert_eq!(ids(&out), ["\"jobs/b.yaml\""]);
    assert!(
        text(&out.stderr).contains("jobs/a.yaml:2: this is not UTF-8 text; save the file"),
        "{}",
        text(&out.stderr)
    );
    // A whole file as another system writes it: UTF-16 with its mark.
    let wide: Vec<u8> = format!("\u{feff}{GOOD}\n{GOOD}\n")
        .encode_utf16()
        .flat_map(u16::to_le_bytes)
        .collect();
    fs::write(at.join("wide.ndjson"), wide).unwrap();
    let out = ringtrue(at, &["survey", "wide.ndjson", "-o", "-"]);
    assert_eq!(out.status.code(), Some(1));
    assert!(out.stdout.is_empty());
    assert!(text(&out.stderr).contains("wide.ndjson:1:1: this is not UTF-8 text"));
    // A head of CSV that can't be read stands for the whole file.
    fs::write(
        at.join("r.csv"),
        b"id,date,use,s\xefze\nP-1,2026-05-14,walk,\n",
    )
    .unwrap();
    let out = ringtrue(at, &["survey", "r.csv", "-o", "-"]);
    assert_eq!(out.status.code(), Some(2));
    assert!(text(&out.stderr).contains("r.csv:1: this is not UTF-8 text; save the file"));
}

/// Lets a survey of `m.ndjson` into `out.ndjson` come to its first checkpoint, then kills it.
fn left_behind(at: &Path) {
    let mut child = Command::new(env!("CARGO_BIN_EXE_ringtrue"))
        .current_dir(at)
        .args(["survey", "m.ndjson", "-o", "out.ndjson"])
        .stdout(Stdio::null())
        .spawn()
        .unwrap();
    let begun = Instant::now();
    while !at.join("out.ndjson.partial.state").exists() && child.try_wait().unwrap().is_none() {
        assert!(begun.elapsed() < Duration::from_secs(120));
        std::thread::sleep(Duration::from_millis(2));
    }
    child.kill().unwrap();
    child.wait().unwrap();
    assert!(
        !at.join("out.ndjson").exists(),
        "the run ended before it could be killed; give it more rows"
    );
}

#[test]
fn a_run_is_not_taken_up_with_anything_else() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    fs::write(at.join("m.ndjson"), few_kinds(150_000)).unwrap();
    fs::write(at.join("n.ndjson"), few_kinds(10)).unwrap();
    fs::write(at.join("c.yaml"), "columns: {}\n").unwrap();
    fs::create_dir(at.join("house")).unwrap();
    fs::write(
        at.join("house/ours.yaml"),
        "changes:\n- table: area_verdict\n  replace: {id: av-seal, when: {area_need: seal}, then: leave_alone, because: Not sealed by us., source: our own jobs, provenance: practice}\n  because: We never seal.\n",
    )
    .unwrap();
    left_behind(at);
    let part = fs::read(at.join("out.ndjson.partial")).unwrap();
    let state = fs::read(at.join("out.ndjson.partial.state")).unwrap();
    for (args, says) in [
        (
            &["n.ndjson", "--resume"][..],
            "the inputs are others, or have changed",
        ),
        (
            &["m.ndjson", "n.ndjson", "--resume"],
            "the inputs are others",
        ),
        (
            &["m.ndjson", "--columns", "c.yaml", "--resume"],
            "the inputs are others",
        ),
        (
            &["m.ndjson", "--format", "csv", "--resume"],
            "its results are NDJSON, not CSV",
        ),
        (
            &["m.ndjson", "--house-rules", "house", "--resume"],
            "it was made with ringtrue",
        ),
        (
            &["m.ndjson"],
            "is left from an interrupted run; give `--resume` to go on with it",
        ),
    ] {
        let mut all = vec!["survey", "-o", "out.ndjson"];
        all.extend_from_slice(args);
        let out = ringtrue(at, &all);
        let told = text(&out.stderr);
        assert_eq!(out.status.code(), Some(2), "{args:?}: {told}");
        assert!(
            told.contains(says) && told.contains("--force"),
            "{args:?}: {told}"
        );
        // What was done so far is as it was.
        assert_eq!(fs::read(at.join("out.ndjson.partial")).unwrap(), part);
        assert_eq!(
            fs::read(at.join("out.ndjson.partial.state")).unwrap(),
            state
        );
    }
    // Standard input is gone.
    let out = ringtrue(at, &["survey", "-", "-o", "out.ndjson", "--resume"]);
    assert_eq!(out.status.code(), Some(2));
    assert!(text(&out.stderr).contains("standard input can't be taken up again"));
    // An input that was written to since.
    let mut rows = fs::read_to_string(at.join("m.ndjson")).unwrap();
    rows.insert(0, '\n');
    fs::write(at.join("m.ndjson"), rows).unwrap();
    let out = ringtrue(at, &["survey", "m.ndjson", "-o", "out.ndjson", "--resume"]);
    assert_eq!(out.status.code(), Some(2));
    assert!(text(&out.stderr).contains("have changed"));
    // Told to begin anew it does, with other inputs too.
    let out = ringtrue(at, &["survey", "n.ndjson", "-o", "out.ndjson", "--force"]);
    assert_eq!(out.status.code(), Some(0), "{}", text(&out.stderr));
    let results = fs::read_to_string(at.join("out.ndjson")).unwrap();
    assert_eq!(results.lines().count(), 10);
    assert!(!at.join("out.ndjson.partial").exists());
    assert!(!at.join("out.ndjson.partial.state").exists());
}

#[test]
fn a_record_that_was_changed_since_is_noticed() {
    // Two records of the same length: their size alone does not tell them apart.
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    fs::create_dir(at.join("jobs")).unwrap();
    fs::copy("samples/patio-new.yaml", at.join("jobs/a.yaml")).unwrap();
    fs::write(at.join("m.ndjson"), few_kinds(150_000)).unwrap();
    let mut child = Command::new(env!("CARGO_BIN_EXE_ringtrue"))
        .current_dir(at)
        .args(["survey", "jobs", "m.ndjson", "-o", "out.ndjson"])
        .stdout(Stdio::null())
        .spawn()
        .unwrap();
    while !at.join("out.ndjson.partial.state").exists() && child.try_wait().unwrap().is_none() {
        std::thread::sleep(Duration::from_millis(2));
    }
    child.kill().unwrap();
    child.wait().unwrap();
    fs::copy("samples/patio-new.yaml", at.join("jobs/a.yaml")).unwrap();
    fs::File::options()
        .write(true)
        .open(at.join("jobs/a.yaml"))
        .and_then(|f| f.set_modified(std::time::SystemTime::UNIX_EPOCH))
        .unwrap();
    let out = ringtrue(
        at,
        &["survey", "jobs", "m.ndjson", "-o", "out.ndjson", "--resume"],
    );
    assert_eq!(out.status.code(), Some(2));
    assert!(
        text(&out.stderr).contains("have changed"),
        "{}",
        text(&out.stderr)
    );
}

#[test]
fn results_never_go_over_what_is_read_or_over_each_other() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    fs::create_dir(at.join("jobs")).unwrap();
    fs::copy("samples/patio-new.yaml", at.join("jobs/a.yaml")).unwrap();
    fs::write(at.join("r.ndjson"), format!("{GOOD}\n")).unwrap();
    for (args, says) in [
        (
            &["r.ndjson", "-o", "./r.ndjson"][..],
            "is what this is made from",
        ),
        (
            &["r.ndjson", "--page", "r.ndjson"],
            "is what this is made from",
        ),
        (&["jobs", "-o", "jobs/a.yaml"], "is what this is made from"),
        (
            &["r.ndjson", "-o", "x.html", "--page", "x.html"],
            "named for two outputs",
        ),
        (&["r.ndjson", "-o", "jobs"], "is a folder; name a file"),
        (&["r.ndjson", "--page", "jobs"], "is a folder; name a file"),
    ] {
        let mut all = vec!["survey", "--force"];
        all.extend_from_slice(args);
        let out = ringtrue(at, &all);
        let told = text(&out.stderr);
        assert_eq!(out.status.code(), Some(2), "{args:?}: {told}");
        assert!(told.contains(says), "{args:?}: {told}");
    }
    assert_eq!(
        fs::read_to_string(at.join("r.ndjson")).unwrap(),
        format!("{GOOD}\n")
    );
    assert_eq!(fs::read_dir(at).unwrap().count(), 2);
}

/// As `cli::output` does it for every other file.
#[cfg(unix)]
#[test]
fn links_are_followed_modes_kept_and_devices_refused() {
    use std::os::unix::fs::{PermissionsExt, symlink};
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let inner = at.join("inner");
    fs::create_dir(&inner).unwrap();
    fs::write(at.join("r.ndjson"), format!("{GOOD}\n")).unwrap();
    let file = inner.join("results.ndjson");
    fs::write(&file, "old").unwrap();
    fs::set_permissions(&file, PermissionsExt::from_mode(0o640)).unwrap();
    symlink("inner/results.ndjson", at.join("link.ndjson")).unwrap();
    let run = |more: &[&str]| {
        let mut all = vec!["survey", "r.ndjson", "-o"];
        all.extend_from_slice(more);
        let out = ringtrue(at, &all);
        (out.status.code(), text(&out.stderr))
    };
    let (code, told) = run(&["link.ndjson"]);
    assert_eq!(code, Some(2));
    assert!(
        told.contains("link.ndjson exists already; give `--force`"),
        "{told}"
    );
    assert_eq!(run(&["link.ndjson", "--force"]).0, Some(0));
    assert!(at.join("link.ndjson").is_symlink());
    assert!(fs::read_to_string(&file).unwrap().contains("P-1"));
    let mode = fs::metadata(&file).unwrap().permissions().mode();
    assert_eq!(mode & 0o777, 0o640);
    fs::set_permissions(&file, PermissionsExt::from_mode(0o440)).unwrap();
    let (code, told) = run(&["link.ndjson", "--force"]);
    assert_eq!(code, Some(2));
    assert!(told.contains("write-protected"), "{told}");
    let (code, told) = run(&["/dev/null", "--force"]);
    assert_eq!(code, Some(2));
    assert!(told.contains("no plain file"), "{told}");
    assert!(!Path::new("/dev/null.partial").exists());
    // A link in the place of a part is not written through.
    fs::write(at.join("else.txt"), "theirs").unwrap();
    symlink("else.txt", at.join("new.ndjson.partial")).unwrap();
    assert_eq!(run(&["new.ndjson", "--force"]).0, Some(0));
    assert_eq!(fs::read_to_string(at.join("else.txt")).unwrap(), "theirs");
    // Nor is a second name of a file that is whole.
    fs::hard_link(at.join("new.ndjson"), at.join("next.ndjson.partial")).unwrap();
    let before = fs::read(at.join("new.ndjson")).unwrap();
    fs::write(at.join("two.ndjson"), format!("{GOOD}\n{GOOD}\n")).unwrap();
    let out = ringtrue(
        at,
        &["survey", "two.ndjson", "-o", "next.ndjson", "--force"],
    );
    assert!(out.status.success());
    assert_eq!(fs::read(at.join("new.ndjson")).unwrap(), before);
    assert_eq!(fs::read_dir(&inner).unwrap().count(), 1);
}

#[test]
fn two_runs_do_not_write_to_one_file() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    fs::write(at.join("r.ndjson"), format!("{GOOD}\n")).unwrap();
    let mut first = Command::new(env!("CARGO_BIN_EXE_ringtrue"))
        .current_dir(at)
        .args(["survey", "-", "-o", "out.ndjson"])
        .stdin(Stdio::piped())
        .stdout(Stdio::null())
        .spawn()
        .unwrap();
    let begun = Instant::now();
    while !at.join("out.ndjson.partial").exists() {
        assert!(begun.elapsed() < Duration::from_secs(60));
        std::thread::sleep(Duration::from_millis(2));
    }
    // It may lock its file a moment after making it.
    std::thread::sleep(Duration::from_millis(100));
    for more in ["--force", "--resume"] {
        let out = ringtrue(at, &["survey", "r.ndjson", "-o", "out.ndjson", more]);
        assert_eq!(out.status.code(), Some(2));
        assert!(
            text(&out.stderr).contains("is being written by another run"),
            "{}",
            text(&out.stderr)
        );
    }
    use std::io::Write;
    let mut rows = first.stdin.take().unwrap();
    rows.write_all(format!("{GOOD}\n").as_bytes()).unwrap();
    drop(rows);
    assert!(first.wait().unwrap().success());
    let results = fs::read_to_string(at.join("out.ndjson")).unwrap();
    assert_eq!(results.lines().count(), 1);
    assert_eq!(fs::read_dir(at).unwrap().count(), 2);
}

#[test]
fn a_page_that_finds_no_place_costs_no_results() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    fs::write(at.join("r.ndjson"), format!("{GOOD}\n")).unwrap();
    let run = |more: &[&str]| {
        let mut all = vec!["survey", "r.ndjson", "-o", "out.ndjson", "--page"];
        all.extend_from_slice(more);
        ringtrue(at, &all)
    };
    let out = run(&["nowhere/p.html"]);
    assert_eq!(out.status.code(), Some(2));
    // Nothing is in place, and what was worked out is kept: it needs no second reading.
    assert!(!at.join("out.ndjson").exists());
    let on = run(&["p.html", "--resume"]);
    assert!(on.status.success(), "{}", text(&on.stderr));
    assert!(at.join("p.html").exists());
    assert!(
        fs::read_to_string(at.join("out.ndjson"))
            .unwrap()
            .contains("P-1")
    );
    assert_eq!(fs::read_dir(at).unwrap().count(), 3);
}

#[cfg(not(feature = "parquet"))]
#[test]
fn parquet_that_is_not_built_in_says_how_to_get_it() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    fs::write(at.join("m.ndjson"), few_kinds(3)).unwrap();
    for more in [
        &["-o", "r.parquet"][..],
        &["-o", "r", "--format", "parquet"],
        &["-o", "-", "--format", "parquet"],
    ] {
        let out = ringtrue(at, &[&["survey", "m.ndjson"], more].concat());
        assert_eq!(out.status.code(), Some(2), "{more:?}");
        let said = text(&out.stderr);
        assert!(said.contains("--features parquet"), "{said}");
        assert!(out.stdout.is_empty());
    }
    assert_eq!(fs::read_dir(at).unwrap().count(), 1);
}
