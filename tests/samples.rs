//! The sample records: each loads without a word of complaint and gives the answer written at its
//! head, and between them they come to every verdict there is.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

use ringtrue::assessment::Verdict;
use ringtrue::cli::Work;
use ringtrue::plan::forecast;
use ringtrue::record::{self, Loaded};
use ringtrue::report::photos;
use ringtrue::rules::{Pack, builtin};
use ringtrue::source::{Problems, SourceFile};

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("samples")
}

fn samples() -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder())
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "yaml"))
        .collect();
    files.sort();
    assert!(files.len() >= 10, "only {} samples", files.len());
    files
}

fn name(path: &Path) -> String {
    path.file_name().unwrap().to_string_lossy().into_owned()
}

/// What the first comment lines of a sample promise.
struct Promise {
    verdict: String,
    firm: bool,
    areas: BTreeMap<String, (String, bool)>,
    possible: BTreeSet<String>,
}

impl Promise {
    fn of(text: &str) -> Promise {
        let line = |key: &str| {
            text.lines()
                .take(3)
                .find_map(|l| l.strip_prefix(&format!("# {key}: ")))
        };
        let list = |text: &str| -> Vec<String> {
            text.split(", ")
                .map(|part| part.trim().to_owned())
                .collect()
        };
        let (verdict, how) = line("verdict").unwrap().split_once(' ').unwrap();
        assert!(["(firm)", "(open)"].contains(&how), "{how}");
        let areas = list(line("areas").unwrap())
            .iter()
            .map(|part| {
                let words: Vec<&str> = part.split(' ').collect();
                (
                    words[0].to_owned(),
                    (words[1].to_owned(), words.get(2) != Some(&"(open)")),
                )
            })
            .collect();
        Promise {
            verdict: verdict.to_owned(),
            firm: how == "(firm)",
            areas,
            possible: line("possible")
                .map_or_else(BTreeSet::new, |l| list(l).into_iter().collect()),
        }
    }
}

/// The rules, loaded once: unpacking them takes most of a second in an unoptimised build.
fn pack() -> &'static Pack {
    static PACK: OnceLock<Pack> = OnceLock::new();
    PACK.get_or_init(|| builtin().unwrap_or_else(|p| panic!("{}", p.render(false))))
}

/// Loads a record as the command line does, and insists that nothing is wrong with it.
fn load(path: &Path, text: String) -> Loaded {
    let file = SourceFile::new(name(path), text);
    let (loaded, problems) = record::read(&file, Some(&folder()), None, Some(&pack().vocabulary));
    assert!(
        problems.is_empty(),
        "{}\n{}",
        name(path),
        problems.render(false)
    );
    loaded.unwrap()
}

fn work(loaded: Loaded) -> Work {
    Work::of(loaded, folder(), pack().clone(), Problems::default())
}

fn read(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap()
}

fn words(verdict: &Verdict) -> BTreeSet<String> {
    verdict.possible.iter().map(|c| c.word.clone()).collect()
}

#[test]
fn every_sample_gives_the_answer_at_its_head() {
    let mut seen = BTreeSet::new();
    let mut wrong = String::new();
    for path in samples() {
        let text = read(&path);
        let promise = Promise::of(&text);
        let work = work(load(&path, text));
        let slab = &work.assessment.slab.verdict;
        if (&slab.word, slab.firm) != (&promise.verdict, promise.firm) {
            wrong += &format!("{}: {} firm {}\n", name(&path), slab.word, slab.firm);
        }
        if !promise.firm && words(slab) != promise.possible {
            wrong += &format!("{}: may be {:?}\n", name(&path), words(slab));
        }
        let areas: BTreeMap<String, (String, bool)> = work
            .assessment
            .areas
            .iter()
            .map(|a| (a.id.clone(), (a.verdict.word.clone(), a.verdict.firm)))
            .collect();
        if areas != promise.areas {
            wrong += &format!("{}: {areas:?}\n", name(&path));
        }
        seen.insert(slab.word.clone());
    }
    assert!(wrong.is_empty(), "\n{wrong}");
    let all: BTreeSet<String> = [
        "leave_alone",
        "clean_and_seal",
        "patch",
        "thin_resurfacing",
        "thick_overlay",
        "bonded_topping",
        "replace_panels",
        "replace_all",
        "refer_engineer",
        "measure_first",
    ]
    .map(str::to_owned)
    .into();
    assert_eq!(seen, all);
}

/// The whole answer, with what depends on the order of the file left out: areas by their id, defects
/// by their number, and no line numbers.
fn answer(work: &Work) -> BTreeMap<String, String> {
    let mut out = BTreeMap::new();
    let slab = &work.assessment.slab.verdict;
    let slab_says = format!("{} {} {:?}", slab.word, slab.firm, words(slab));
    out.insert("slab".to_owned(), slab_says);
    for area in &work.assessment.areas {
        let verdict = &area.verdict;
        let key = format!("area {}", area.id);
        let says = format!("{} {} {:?}", verdict.word, verdict.firm, words(verdict));
        out.insert(key, says);
        for panel in &area.panels {
            let key = format!("panel {} {}", area.id, panel.id);
            out.insert(key, panel.verdict.word.clone());
        }
        for defect in &area.defects {
            let causes: Vec<String> = defect
                .causes
                .iter()
                .map(|c| format!("{} {:.6} {:.6}", c.cause, c.log_odds.lo, c.log_odds.hi))
                .collect();
            let grades: Vec<String> = defect
                .grades
                .iter()
                .map(|g| format!("{} {:?}", g.table, g.classes))
                .collect();
            let key = format!("defect {}", defect.number);
            out.insert(key, format!("{causes:?} {grades:?}"));
        }
    }
    for area in &work.method.areas {
        let steps: Vec<&str> = area.steps.iter().map(|s| s.reason.row.as_str()).collect();
        let layer = area
            .overlay
            .as_ref()
            .map(|o| format!("{} {:.6}", o.system, o.thickness_mm));
        let key = format!("work {}", area.area);
        out.insert(key, format!("{steps:?} {layer:?}"));
    }
    for stair in &work.method.stairs {
        let key = format!("stair {}", stair.stair);
        out.insert(key, format!("{:?}", stair.after_mm));
    }
    out
}

fn reversed(value: &serde_yaml::Value) -> serde_yaml::Value {
    use serde_yaml::Value;
    match value {
        Value::Mapping(map) => {
            let mut pairs: Vec<_> = map.iter().collect();
            pairs.reverse();
            let turned = pairs.into_iter().map(|(k, v)| (k.clone(), reversed(v)));
            Value::Mapping(turned.collect())
        }
        Value::Sequence(list) => Value::Sequence(list.iter().map(reversed).collect()),
        other => other.clone(),
    }
}

#[test]
fn the_order_of_keys_does_not_change_an_answer() {
    for path in samples() {
        let text = read(&path);
        let value: serde_yaml::Value = serde_yaml::from_str(&text).unwrap();
        let turned = serde_yaml::to_string(&reversed(&value)).unwrap();
        assert!(!turned.starts_with("ringtrue"), "the keys were not turned");
        let before = answer(&work(load(&path, text)));
        let after = answer(&work(load(&path, turned)));
        assert_eq!(before, after, "{}", name(&path));
    }
}

#[test]
fn the_order_of_areas_and_defects_does_not_change_an_answer() {
    let mut turned_any = false;
    for path in samples() {
        let text = read(&path);
        let mut value: serde_yaml::Value = serde_yaml::from_str(&text).unwrap();
        let areas = value["areas"].as_sequence_mut().unwrap();
        turned_any |= areas.len() > 1;
        areas.reverse();
        for area in areas {
            if let Some(defects) = area["defects"].as_sequence_mut() {
                defects.reverse();
            }
        }
        let turned = serde_yaml::to_string(&value).unwrap();
        let before = answer(&work(load(&path, text)));
        let after = answer(&work(load(&path, turned)));
        assert_eq!(before, after, "{}", name(&path));
    }
    assert!(turned_any);
}

#[test]
fn every_picture_is_small_and_shows() {
    let mut with_four = 0;
    for path in samples() {
        let loaded = load(&path, read(&path));
        let mut problems = Problems::default();
        let photos = photos::load(&folder(), &loaded.record, &mut problems);
        assert!(problems.is_empty(), "{}", problems.render(false));
        with_four += usize::from(photos.len() == 4);
    }
    assert!(with_four >= 2, "{with_four} samples with four pictures");
    for entry in std::fs::read_dir(folder().join("photos")).unwrap() {
        let entry = entry.unwrap();
        let bytes = entry.metadata().unwrap().len();
        assert!(bytes < 60_000, "{:?} has {bytes} bytes", entry.file_name());
    }
}

/// A picture stored on its side, with a (made-up) place in its tags, comes out upright and bare.
#[test]
fn a_picture_with_a_place_in_it_comes_out_bare() {
    let holds = |bytes: &[u8], what: &[u8]| bytes.windows(what.len()).any(|w| w == what);
    let stored = std::fs::read(folder().join("photos/terrace-scaling.jpg")).unwrap();
    assert!(holds(&stored, b"Exif"), "the sample lost its tags");

    let path = folder().join("terrace.yaml");
    let loaded = load(&path, read(&path));
    let photos = photos::load(&folder(), &loaded.record, &mut Problems::default());
    let photo = photos
        .iter()
        .find(|p| p.file == "photos/terrace-scaling.jpg")
        .unwrap();
    let picture = photo.picture.as_ref().unwrap();
    // Stored 675 wide by 900 high; its orientation tag says that it is to be turned.
    assert_eq!((picture.width, picture.height), (900, 675));
    assert!(!holds(&picture.jpeg, b"Exif"));
    assert!(!holds(&picture.jpeg, b"2025:05:20"));
}

#[test]
fn the_saved_forecast_reads() {
    let mut read_one = false;
    for path in samples() {
        let loaded = load(&path, read(&path));
        let Some(saved) = &loaded.record.forecast else {
            continue;
        };
        let file = SourceFile::new(saved.clone(), read(&folder().join(saved)));
        let mut problems = Problems::default();
        let forecast = forecast::read(&file, &mut problems);
        assert!(problems.is_empty(), "{}", problems.render(false));
        // Five days of 24 hours.
        assert_eq!(forecast.unwrap().hours.len(), 120);
        read_one = true;
    }
    assert!(read_one);
}
