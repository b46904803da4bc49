//! Results as Parquet say what NDJSON says of the same rows, and are whole or not there.

use std::fs;
use std::io::Write;
use std::process::{Command, Stdio};

use parquet::basic::Compression;
use parquet::file::reader::{FileReader, SerializedFileReader};
use parquet::record::{Field, Row};
use ringtrue::inventory::run::Target;
use ringtrue::inventory::source::inputs;
use ringtrue::inventory::write::Format;
use ringtrue::inventory::{Judge, Options, survey_all};
use ringtrue::rules::builtin;
use serde_json::{Value, json};

mod program;
use program::{ringtrue, text};

/// A folder with invented rows in `in.ndjson`, and a few of another kind among them.
fn rows(count: &str) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let out = ringtrue(
        folder.path(),
        &["survey", "--made", count, "--seed", "3", "-o", "in.ndjson"],
    );
    assert!(out.status.success(), "{}", text(&out.stderr));
    let path = folder.path().join("in.ndjson");
    let mut file = fs::OpenOptions::new().append(true).open(path).unwrap();
    for row in [
        // A name that a spreadsheet would take for a formula, and marks that CSV quotes.
        r#"{"id":"=a \"b\", c","date":"2026-05-14","use":"walk","size":"5 ft x 5 ft","kind":"lip","offset":"3/4 in"}"#,
        // A number as the name, coordinates as text.
        r#"{"id":17,"date":"2026-05-14","use":"patio","size":"10 ft x 12 ft","lat":"43.5","lon":"-89.25"}"#,
        // No name.
        r#"{"date":"2026-05-14","use":"walk","size":"5 ft x 5 ft","kind":"crack"}"#,
    ] {
        writeln!(file, "{row}").unwrap();
    }
    folder
}

/// A row of Parquet as the object that stands for it in NDJSON.
fn object(row: &Row, made_with: &str) -> Value {
    let mut object = serde_json::Map::new();
    let mut cost = Vec::new();
    for (name, field) in row.get_column_iter() {
        let value = match field {
            Field::Null => continue,
            Field::Bool(b) => json!(b),
            Field::Long(n) => json!(n),
            Field::Double(x) => json!(x),
            Field::Str(s) => json!(s),
            other => panic!("{name} is {other:?}"),
        };
        match name.as_str() {
            "cost_low" | "cost_high" => cost.push(value),
            "possible" => {
                let words: Vec<&str> = value.as_str().unwrap().split('|').collect();
                object.insert(name.clone(), json!(words));
            }
            _ => {
                object.insert(name.clone(), value);
            }
        }
    }
    if !cost.is_empty() {
        object.insert("cost".to_owned(), Value::from(cost));
    }
    object.insert("made_with".to_owned(), json!(made_with));
    Value::from(object)
}

/// Numbers are equal as numbers, and every name is text.
fn evened(line: &str) -> Value {
    let mut value: Value = serde_json::from_str(line).unwrap();
    for key in ["minutes", "lat", "lon"] {
        if let Some(x) = value.get(key).and_then(Value::as_f64) {
            value[key] = json!(x);
        }
    }
    if value["id"].is_number() {
        value["id"] = json!(value["id"].to_string());
    }
    value
}

#[test]
fn a_table_says_what_the_lines_say() {
    // More than one group of rows, which hold 65,536 each.
    let folder = rows("70000");
    let at = folder.path();
    for (to, cores) in [("1.parquet", "1"), ("2.parquet", "2"), ("r.ndjson", "2")] {
        let out = ringtrue(at, &["survey", "in.ndjson", "--cores", cores, "-o", to]);
        assert!(out.status.success(), "{}", text(&out.stderr));
    }
    let bytes = fs::read(at.join("1.parquet")).unwrap();
    assert!(
        bytes == fs::read(at.join("2.parquet")).unwrap(),
        "one core and two differ"
    );

    let lines = fs::read_to_string(at.join("r.ndjson")).unwrap();
    let wanted: Vec<Value> = lines.lines().map(evened).collect();
    assert_eq!(wanted.len(), 70_003);

    let file = SerializedFileReader::new(fs::File::open(at.join("1.parquet")).unwrap()).unwrap();
    let about = file.metadata();
    let groups: Vec<i64> = about.row_groups().iter().map(|g| g.num_rows()).collect();
    assert_eq!(groups, [65_536, 4_467]);
    for column in about.row_groups().iter().flat_map(|g| g.columns()) {
        assert_eq!(column.compression(), Compression::UNCOMPRESSED);
    }
    let about = about.file_metadata();
    assert_eq!(about.created_by(), Some("ringtrue"));
    let of = |key: &str| {
        let all = about.key_value_metadata().unwrap();
        let found = all.iter().find(|m| m.key == key);
        found.and_then(|m| m.value.clone()).unwrap_or_default()
    };
    assert_eq!(of("unit_of_cost_low"), "US dollars");
    assert_eq!(of("unit_of_cost_high"), "US dollars");
    assert_eq!(of("unit_of_minutes"), "minutes");
    assert_eq!(of("unit_of_lat"), "degrees");
    assert_eq!(of("unit_of_lon"), "degrees");
    let names: Vec<&str> = about
        .schema_descr()
        .columns()
        .iter()
        .map(|c| c.name())
        .collect();
    assert_eq!(
        names.join(","),
        "id,verdict,firm,possible,cost_low,cost_high,next,minutes,lat,lon"
    );

    let made_with = of("made_with");
    let mut seen = 0;
    for (row, wanted) in file.get_row_iter(None).unwrap().zip(&wanted) {
        assert_eq!(&object(&row.unwrap(), &made_with), wanted);
        seen += 1;
    }
    assert_eq!(seen, wanted.len());
    // With and without what may be missing.
    for key in ["possible", "next", "minutes", "lat"] {
        assert!(wanted.iter().any(|w| w.get(key).is_some()), "{key}");
        assert!(wanted.iter().any(|w| w.get(key).is_none()), "{key}");
    }
    // The rows put in by hand came through.
    let last = |n: usize| &wanted[wanted.len() - n];
    assert_eq!(last(3)["id"], "=a \"b\", c");
    assert_eq!(
        (&last(2)["id"], &last(2)["lat"]),
        (&json!("17"), &json!(43.5))
    );
    assert_eq!(last(1)["id"], "line 70003");
    assert!(last(1).get("lat").is_none() && last(3).get("lat").is_none());
}

#[test]
fn a_table_goes_to_standard_output_too_and_may_be_empty() {
    let folder = rows("10");
    let at = folder.path();
    let file = ringtrue(at, &["survey", "in.ndjson", "-o", "r.parquet"]);
    assert!(file.status.success(), "{}", text(&file.stderr));
    let out = ringtrue(
        at,
        &["survey", "in.ndjson", "--format", "parquet", "-o", "-"],
    );
    assert!(out.status.success(), "{}", text(&out.stderr));
    assert!(out.stdout == fs::read(at.join("r.parquet")).unwrap());

    // No row at all, and a bad one alone.
    for (input, code) in [("", 0), ("{\n", 1)] {
        let mut child = Command::new(env!("CARGO_BIN_EXE_ringtrue"))
            .current_dir(at)
            .args(["survey", "-", "-o", "none.parquet", "--force"])
            .stdin(Stdio::piped())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut stdin = child.stdin.take().unwrap();
        stdin.write_all(input.as_bytes()).unwrap();
        drop(stdin);
        assert_eq!(child.wait().unwrap().code(), Some(code));
        let file = fs::File::open(at.join("none.parquet")).unwrap();
        let file = SerializedFileReader::new(file).unwrap();
        assert_eq!(file.metadata().file_metadata().num_rows(), 0);
    }
}

#[test]
fn a_table_is_never_half_there_and_never_taken_up_again() {
    let folder = rows("10");
    let at = folder.path();
    let resume = ["survey", "in.ndjson", "-o", "r.parquet", "--resume"];
    let out = ringtrue(at, &resume);
    assert_eq!(out.status.code(), Some(2));
    let said = text(&out.stderr);
    assert!(
        said.contains("`--resume` can't go on with Parquet"),
        "{said}"
    );
    assert!(!at.join("r.parquet").exists());

    // Killed while it waits for more rows: a part, and nothing by the name that was asked for.
    let mut child = Command::new(env!("CARGO_BIN_EXE_ringtrue"))
        .current_dir(at)
        .args(["survey", "-", "-o", "r.parquet"])
        .stdin(Stdio::piped())
        .stdout(Stdio::null())
        .spawn()
        .unwrap();
    let deadline = std::time::Instant::now() + std::time::Duration::from_secs(60);
    while !at.join("r.parquet.partial").exists() {
        assert!(std::time::Instant::now() < deadline, "it never began");
        std::thread::sleep(std::time::Duration::from_millis(10));
    }
    child.kill().unwrap();
    child.wait().unwrap();
    assert!(!at.join("r.parquet").exists());
    let out = ringtrue(at, &["survey", "in.ndjson", "-o", "r.parquet"]);
    assert_eq!(out.status.code(), Some(2));
    let said = text(&out.stderr);
    assert!(said.contains("give `--force` to begin anew"), "{said}");
    let out = ringtrue(at, &["survey", "in.ndjson", "-o", "r.parquet", "--force"]);
    assert!(out.status.success(), "{}", text(&out.stderr));
    let names: Vec<_> = fs::read_dir(at)
        .unwrap()
        .flatten()
        .map(|e| e.file_name())
        .collect();
    assert_eq!(names.len(), 2, "{names:?}");

    // The last checkpoint is written when all rows are done; a table has none.
    let judge = Judge::new(builtin().unwrap_or_else(|p| panic!("{p}")), None).unwrap();
    let sources = inputs(&[at.join("in.ndjson")], false).unwrap();
    for (format, kept) in [(Format::Csv, true), (Format::Parquet, false)] {
        let path = at.join(format.name());
        let options = Options {
            target: Target::File(path.clone(), None),
            format,
            cores: 1,
            resume: false,
            force: false,
            tell: |_| {},
        };
        let (_, whole) = survey_all(&judge, &sources, None, &options).unwrap();
        assert!(whole.unwrap().partial.exists() && !path.exists());
        let state = at.join(format!("{}.partial.state", format.name()));
        assert_eq!(state.exists(), kept, "{}", format.name());
    }

    // An invented inventory is rows to read, not results.
    let out = ringtrue(at, &["survey", "--made", "5", "-o", "made.parquet"]);
    assert_eq!(out.status.code(), Some(2));
    assert!(text(&out.stderr).contains("NDJSON or CSV"));
}
