//! What each fuzz target does with its input. The same bodies replay the stored inputs in
//! `tests/corpus.rs`, which includes this file.
//!
//! An input passes when nothing panics and it ends in good time; what is said about it is held to
//! what the readers promise.

use std::sync::LazyLock;

use jiff::civil::{Date, date};
use ringtrue::assessment::{Assessment, assess, run_rules};
use ringtrue::method::{Method, decide, specify};
use ringtrue::plan::forecast;
use ringtrue::record::{self, Loaded};
use ringtrue::report::language::Sentences;
use ringtrue::report::phrases::Phrases;
use ringtrue::report::templates::{Template, Templates};
use ringtrue::report::{Pages, Sources, View};
use ringtrue::rules::{Pack, PackFile, builtin, builtin_files, load, load_and_check};
use ringtrue::source::{Problems, SourceFile};
use ringtrue::survey::survey;
use ringtrue::units::{Kind, System};

/// The last day of an inspection, whatever the clock says.
const TODAY: Date = date(2026, 12, 31);
/// Greatest input, bytes: time is better spent on shapes than on sizes, which `tests/limits.rs`
/// looks after.
const BYTES: usize = 64 << 10;

static PACK: LazyLock<Pack> = LazyLock::new(|| builtin().expect("the built-in rules load"));

fn text(data: &[u8]) -> Option<&str> {
    std::str::from_utf8(data).ok().filter(|t| t.len() <= BYTES)
}

/// The parts of an input of several files, each under a line `#### NAME`.
fn parts(text: &str) -> impl Iterator<Item = (&str, &str)> {
    text.split("#### ")
        .skip(1)
        .filter_map(|part| part.split_once('\n'))
}

/// Whatever is found wrong can be shown in every form.
fn told(problems: &Problems) {
    let _ = problems.render(false);
    let _ = problems.to_plain();
    let _ = problems.to_json();
}

fn work_out(loaded: &Loaded) -> (Assessment, Method) {
    let record = &loaded.record;
    let mut survey = survey(record, &PACK.vocabulary);
    let ran = run_rules(&PACK, &survey);
    let (ran, fitted) = decide(record, &mut survey, &PACK, ran);
    let node = Some(&loaded.node);
    let assessment = assess(record, node, &survey, &PACK, &ran);
    let method = specify(record, node, &survey, &PACK, &ran, &fitted);
    (assessment, method)
}

/// A record, from its text to the specified work.
pub fn record(data: &[u8]) {
    let Some(text) = text(data) else { return };
    let file = SourceFile::new("record.yaml", text);
    let (loaded, problems) = record::read(&file, None, Some(TODAY), Some(&PACK.vocabulary));
    told(&problems);
    assert_eq!(loaded.is_none(), problems.has_errors());
    if let Some(loaded) = loaded {
        work_out(&loaded);
    }
}

/// A quantity in every kind of unit. What is read can be written, and read again.
pub fn units(data: &[u8]) {
    let Some(text) = text(data) else { return };
    for kind in Kind::ALL {
        let Ok(read) = kind.read(text) else { continue };
        assert!(read.lo <= read.hi, "{text} as {kind:?}: {read:?}");
        assert!(read.lo.is_finite() && read.hi.is_finite());
        for system in [System::Us, System::Metric] {
            let written = kind.write(read, system);
            assert!(
                kind.read(&written).is_ok(),
                "{text} as {kind:?} is written {written}, which is not read"
            );
        }
    }
}

/// A whole pack of several files, or one file of house rules over the built-in rules.
pub fn pack(data: &[u8]) {
    let Some(text) = text(data) else { return };
    let mut problems = Problems::default();
    if text.contains("#### ") {
        let files: Vec<PackFile> = parts(text)
            .filter_map(|(name, body)| {
                let house = name.starts_with("house/");
                PackFile::read(SourceFile::new(name, body), house, &mut problems)
            })
            .collect();
        load_and_check(&files, &mut problems);
    } else {
        let house = SourceFile::new("house/rules.yaml", text);
        let mut files = builtin_files();
        files.extend(PackFile::read(house, true, &mut problems));
        // The proofs take most of a second; the packs of several files go through them.
        load(&files, &mut problems);
    }
    told(&problems);
}

/// A saved forecast.
pub fn forecast(data: &[u8]) {
    let Some(text) = text(data) else { return };
    let mut problems = Problems::default();
    let read = forecast::read(&SourceFile::new("hourly.csv", text), &mut problems);
    told(&problems);
    assert_eq!(read.is_none(), problems.has_errors());
}

/// A contractor's templates (`#### report.html`, `#### other.html`) and his language file
/// (`#### language`), over the view of one record.
pub fn template(data: &[u8]) {
    static VIEW: LazyLock<View> = LazyLock::new(view);
    let Some(text) = text(data) else { return };
    let mut templates = Templates::default();
    let mut phrases = Phrases::english().clone();
    for (name, body) in parts(text) {
        if name == "language" {
            if let Ok(read) = Phrases::read(name, body) {
                phrases = read;
            }
        } else if name.ends_with(".html") {
            templates.lay(Template {
                name: name.to_owned(),
                text: body.to_owned(),
                shown: name.to_owned(),
            });
        }
    }
    let page = Pages::new(&templates)
        .and_then(|pages| pages.render("report.html", &*VIEW, &phrases, None));
    match page {
        Ok(page) => assert!(page.len() < 64 << 20, "a page of {} bytes", page.len()),
        Err(error) => assert!(!error.to_string().is_empty()),
    }
}

fn view() -> View {
    let file = SourceFile::new("terrace.yaml", include_str!("../../samples/terrace.yaml"));
    let (loaded, problems) = record::read(&file, None, Some(TODAY), Some(&PACK.vocabulary));
    let loaded = loaded.unwrap_or_else(|| panic!("{}", problems.render(false)));
    let (assessment, method) = work_out(&loaded);
    View::build(Sources {
        record: &loaded.record,
        assessment: &assessment,
        method: &method,
        photos: &[],
        vocabulary: &PACK.vocabulary,
        sentences: &Sentences::default(),
    })
}
