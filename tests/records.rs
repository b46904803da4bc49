//! Whole records: what a sound one gives, and what each broken one is told.

use std::fs;
use std::path::{Path, PathBuf};

use jiff::civil::{Date, date};
use proptest::prelude::*;
use ringtrue::facts::{ChoiceValue, Comes, Fact, FactKind, Interval, Pass, Scope, Vocabulary};
use ringtrue::record::{Loaded, read};
use ringtrue::source::{Place, Problems, SourceFile};
use ringtrue::units::Kind;

const TODAY: Date = date(2026, 6, 1);

fn fact(id: &str, scope: Scope, kind: FactKind, comes: Comes, kinds: &[&str]) -> Fact {
    Fact {
        id: id.to_owned(),
        scope,
        name: id.replace('_', " "),
        kind,
        range: None,
        ask: None,
        measure: None,
        minutes: 1.0,
        wait_days: 0.0,
        who: "anyone".to_owned(),
        pass: Pass::Look,
        caution: None,
        cautions: vec![],
        comes,
        kinds: kinds.iter().map(|k| (*k).to_owned()).collect(),
        silent: None,
        read_by: vec![],
        none: None,
        product: None,
        file: 0,
        place: Place::default(),
    }
}

fn choice(values: &[&str]) -> FactKind {
    let values = values.iter().map(|v| ChoiceValue {
        id: (*v).to_owned(),
        name: v.replace('_', " "),
    });
    FactKind::Choice {
        values: values.collect(),
        ordered: false,
    }
}

/// A small fact list, enough to check against.
fn vocabulary() -> Vocabulary {
    let flag = || choice(&["no", "yes"]);
    let mut all = Vocabulary::default();
    let mut thickness = fact(
        "thickness",
        Scope::Slab,
        FactKind::Quantity(Kind::Length),
        Comes::Survey,
        &[],
    );
    thickness.range = Some(Interval {
        lo: 38.1,
        hi: 609.6,
    });
    let mut paste = fact(
        "paste_depth",
        Scope::Defect,
        FactKind::Quantity(Kind::Length),
        Comes::Asked,
        &[],
    );
    paste.range = Some(Interval { lo: 0.0, hi: 25.4 });
    let mut pieces = fact(
        "panel_pieces",
        Scope::Panel,
        FactKind::Quantity(Kind::Number),
        Comes::Asked,
        &[],
    );
    pieces.range = Some(Interval { lo: 1.0, hi: 50.0 });
    for fact in [
        thickness,
        paste,
        pieces,
        fact(
            "soil",
            Scope::Site,
            choice(&["clay", "silt", "sand", "gravel", "fill", "rock"]),
            Comes::Survey,
            &[],
        ),
        fact(
            "flake_shade",
            Scope::Defect,
            choice(&["same", "paler", "darker"]),
            Comes::Asked,
            &["scaling", "spall"],
        ),
        fact("rust_stain", Scope::Defect, flag(), Comes::Asked, &[]),
        fact("blankets_used", Scope::Slab, flag(), Comes::Asked, &[]),
        fact(
            "scaling_grade",
            Scope::Defect,
            choice(&["light", "severe"]),
            Comes::Made,
            &[],
        ),
    ] {
        assert!(all.add(fact).is_some());
    }
    all
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/records")
}

fn check(name: &str, text: &str) -> (Option<Loaded>, Problems) {
    let file = SourceFile::new(name, text);
    read(&file, Some(&folder()), Some(TODAY), Some(&vocabulary()))
}

fn good() -> String {
    fs::read_to_string(folder().join("good.yaml")).unwrap()
}

#[test]
fn a_sound_record_is_read_without_a_word() {
    let (loaded, problems) = check("good.yaml", &good());
    assert!(problems.is_empty(), "{}", problems.render(false));
    let loaded = loaded.unwrap();
    let area = &loaded.record.areas[0];
    // 12 ft × 30 ft = 360 ft² of 0.09290304 m².
    assert_eq!(
        area.size.unwrap().area().canonical().unwrap().lo,
        33.445_094_4
    );
    // 4 to 4-1/2 in of 25.4 mm.
    let thickness = loaded.record.slab.thickness.unwrap().canonical().unwrap();
    assert_eq!((thickness.lo, thickness.hi), (101.6, 114.3));
    assert_eq!(loaded.record.job.reference.as_deref(), Some("0117"));
    assert!(loaded.record.stairs[0].treads_overlaid);
    assert_eq!(
        loaded
            .node
            .at_path("areas.0.defects.1.width")
            .unwrap()
            .text(),
        Some("0.02 in")
    );
}

#[test]
fn every_bad_record_is_told_kindly_what_and_where() {
    let mut names: Vec<PathBuf> = fs::read_dir(folder().join("bad"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    names.retain(|path| path.extension().is_some_and(|e| e == "yaml"));
    names.sort();
    assert!(names.len() >= 20);
    for path in names {
        let name = path.file_stem().unwrap().to_str().unwrap().to_owned();
        let text = fs::read_to_string(&path).unwrap();
        let (loaded, problems) = check(&format!("{name}.yaml"), &text);
        assert!(!problems.is_empty(), "{name} has no problem");
        assert_eq!(loaded.is_none(), problems.has_errors(), "{name}");
        for problem in problems.iter() {
            assert!(
                problem.hint.is_some(),
                "{name}: no hint: {}",
                problem.message
            );
        }
        insta::with_settings!({snapshot_path => "records/bad", prepend_module_to_snapshot => false, omit_expression => true}, {
            insta::assert_snapshot!(name, problems.render(false));
        });
    }
}

#[test]
fn the_order_of_keys_does_not_matter() {
    let file = SourceFile::new("good.yaml", good());
    let tree = file
        .yaml(Default::default(), &mut Problems::default())
        .unwrap();
    let turned = serde_yaml::to_string(&turned(&tree)).unwrap();
    assert_ne!(turned, good());
    let (loaded, problems) = check("turned.yaml", &turned);
    assert!(problems.is_empty(), "{}", problems.render(false));
    assert_eq!(
        loaded.unwrap().record,
        check("good.yaml", &good()).0.unwrap().record
    );
}

/// The tree as text values with the keys of every block in reverse.
fn turned(node: &ringtrue::source::Node) -> serde_yaml::Value {
    use ringtrue::source::Data;
    match &node.data {
        Data::Null => serde_yaml::Value::Null,
        Data::Scalar { text, .. } => match text.parse::<f64>() {
            // Kept as numbers only where the record asks for numbers; quoting would make them text.
            Ok(_) => serde_yaml::from_str(text).unwrap(),
            Err(_) => text.clone().into(),
        },
        Data::List(items) => items.iter().map(turned).collect::<Vec<_>>().into(),
        Data::Map(entries) => {
            let pairs = entries
                .iter()
                .rev()
                .map(|(k, v)| (serde_yaml::Value::from(k.text.clone()), turned(v)));
            serde_yaml::Value::Mapping(pairs.collect())
        }
    }
}

#[test]
fn a_record_survives_being_written_and_read() {
    let record = check("good.yaml", &good()).0.unwrap().record;
    let text = serde_yaml::to_string(&record).unwrap();
    let (again, problems) = check("again.yaml", &text);
    assert!(problems.is_empty(), "{}", problems.render(false));
    assert_eq!(again.unwrap().record, record);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, ..ProptestConfig::default() })]

    #[test]
    fn no_change_to_a_record_makes_it_panic(
        changes in prop::collection::vec((any::<prop::sample::Index>(), "[ -~é½°\n]{0,3}", 0usize..6), 1..6),
    ) {
        let mut text = good();
        for (at, new, cut) in changes {
            let mut from = at.index(text.len());
            while !text.is_char_boundary(from) { from -= 1; }
            let mut past = (from + cut).min(text.len());
            while !text.is_char_boundary(past) { past += 1; }
            text.replace_range(from..past, &new);
        }
        let (loaded, problems) = check("changed.yaml", &text);
        prop_assert_eq!(loaded.is_none(), problems.has_errors());
        let _ = problems.render(false);
        let _ = problems.to_json();
    }

    #[test]
    fn no_value_in_any_place_makes_it_panic(
        line in any::<prop::sample::Index>(),
        value in prop::sample::select(vec![
            "", "~", "[]", "{}", "[1, 2]", "{a: b}", "-1", "1e999", ".nan", "99999999999", "yes", "unknown", "0 in",
            "-3 ft", "''", "5' 6\"", "[[1 in, 2 in]]", "&a [*a]", "4..8 mm", "2026-02-30", "../x", "1:48", "0 ft x 0 ft",
        ]),
    ) {
        let text = good();
        let lines: Vec<&str> = text.lines().collect();
        let n = line.index(lines.len());
        let changed: Vec<String> = lines.iter().enumerate().map(|(i, l)| match l.split_once(": ") {
            Some((key, _)) if i == n => format!("{key}: {value}"),
            _ => (*l).to_owned(),
        }).collect();
        let (loaded, problems) = check("changed.yaml", &changed.join("\n"));
        prop_assert_eq!(loaded.is_none(), problems.has_errors());
        let _ = problems.render(false);
    }
}

#[cfg(unix)]
#[test]
fn a_link_out_of_the_folder_is_no_photo() {
    let (inside, outside) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let picture = fs::read(folder().join("photos/scaling.png")).unwrap();
    fs::write(outside.path().join("secret.png"), &picture).unwrap();
    fs::write(inside.path().join("own.png"), &picture).unwrap();
    std::os::unix::fs::symlink(
        outside.path().join("secret.png"),
        inside.path().join("link.png"),
    )
    .unwrap();
    let with = |photo: &str| {
        let text = good().replace(
            "        stones: showing\n",
            &format!(
                "        stones: showing\n        photos: [{{file: {photo}, caption: seen}}]\n"
            ),
        );
        let file = SourceFile::new("r.yaml", text);
        read(&file, Some(inside.path()), Some(TODAY), None)
            .1
            .to_plain()
    };
    assert_eq!(with("own.png"), "");
    assert!(
        with("link.png").contains("outside-folder: `link.png` leads out of the record's folder")
    );
}

#[test]
fn a_share_of_a_record_is_checked_even_when_another_is_broken() {
    // A broken value must not hide a problem elsewhere, nor cause a second one where it stands.
    let text = good()
        .replace("12 ft x 30 ft", "12 x 30")
        .replace("hollow: 6", "hollow: 60");
    let problems = check("two.yaml", &text).1;
    let codes: Vec<&str> = problems.iter().map(|p| p.code).collect();
    assert_eq!(codes, ["measure", "sounding"]);
}
