//! The owner's report from a hand-built patio: complete, self-contained, the same every time, and
//! legible whatever is written into the record.

mod crew;
mod drawings;
mod fixture;
#[cfg(feature = "pdf")]
mod pdf;
mod reads;
mod rough;
mod spanish;

use std::path::Path;

use ringtrue::report::photos::{self, Photo};
use ringtrue::report::phrases::Phrases;
use ringtrue::report::templates::Templates;
use ringtrue::report::text::{Layout, summary};
use ringtrue::report::{Pages, View, html};
use ringtrue::source::Problems;

/// Folder with two of the three photos that the record names.
fn photo_folder(scale: u32) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for (name, w, h) in [("scaling.jpg", 16, 11), ("lip.jpg", 9, 12)] {
        let (w, h) = (w * scale, h * scale);
        let picture = image::RgbImage::from_fn(w, h, |x, y| {
            let n = ((x.wrapping_mul(374_761_393) ^ y.wrapping_mul(668_265_263)) >> 13) & 31;
            let (dx, dy) = (
                f64::from(x) - f64::from(w) / 2.0,
                f64::from(y) - f64::from(h) / 2.0,
            );
            let dark = (dx * dx + dy * dy).sqrt() < f64::from(h) / 3.0;
            let v = u8::try_from(n + if dark { 95 } else { 158 }).unwrap();
            image::Rgb([v, v - 4, v - 12])
        });
        picture.save(folder.path().join(name)).unwrap();
    }
    folder
}

fn view_with(photos: &[Photo]) -> View {
    fixture::view(
        &fixture::record(),
        &fixture::assessment(),
        &fixture::method(),
        photos,
    )
}

/// Leaves the page where a person can look at it.
fn leave(name: &str, page: &str) {
    leave_bytes(name, page.as_bytes());
}

fn leave_bytes(name: &str, bytes: &[u8]) {
    std::fs::write(Path::new(env!("CARGO_TARGET_TMPDIR")).join(name), bytes).unwrap();
}

#[test]
fn the_page_is_whole_and_the_same_every_time() {
    let folder = photo_folder(100);
    let mut problems = Problems::default();
    let photos = photos::load(folder.path(), &fixture::record(), &mut problems);
    // crack.jpg is not there: one problem, and the report still comes.
    assert_eq!(problems.len(), 1);
    assert!(problems.to_plain().contains("photo-missing"), "{problems}");
    let page = html(&view_with(&photos)).unwrap();
    leave("report.html", &page);
    assert_eq!(page, html(&view_with(&photos)).unwrap());
    assert!(page.contains("Photo 2 can’t be shown"));
    let mut settings = insta::Settings::clone_current();
    settings.add_filter(r#"(?s)<style>.*?</style>"#, "<style>…</style>");
    settings.add_filter(r#"data:image/jpeg;base64,[A-Za-z0-9+/=]+"#, "data:…");
    settings.bind(|| insta::assert_snapshot!("page", page));
}

#[test]
fn the_page_asks_nothing_of_the_network() {
    let page = html(&view_with(&[])).unwrap();
    assert!(page.contains("default-src 'none'"));
    assert!(!page.contains("<script") && !page.contains("<link") && !page.contains("@import"));
    // The only addresses are names: of the SVG standard, and places inside the page.
    let outside = page.replace("http://www.w3.org/2000/svg", "");
    assert!(!outside.contains("http://") && !outside.contains("https://"));
    for (at, _) in page.match_indices("url(") {
        assert!(page[at..].starts_with("url(#"), "{}", &page[at..at + 40]);
    }
}

#[test]
fn every_link_leads_somewhere_and_no_anchor_stands_twice() {
    let page = html(&view_with(&[])).unwrap();
    let values = |name: &str| -> Vec<String> {
        page.split(&format!(" {name}=\""))
            .skip(1)
            .map(|rest| rest.split('"').next().unwrap().to_owned())
            .collect()
    };
    let ids = values("id");
    let mut once = ids.clone();
    once.sort();
    once.dedup();
    assert_eq!(once.len(), ids.len(), "an id stands twice");
    for link in values("href").iter().filter_map(|h| h.strip_prefix('#')) {
        assert!(ids.iter().any(|i| i == link), "#{link} leads nowhere");
    }
    for label in values("aria-labelledby").iter().flat_map(|l| l.split(' ')) {
        assert!(ids.iter().any(|i| i == label), "{label} labels nothing");
    }
}

#[test]
fn whatever_is_written_stays_text() {
    let nasty = "<script>alert(1)</script> \"quoted\" 'single' & {{ v.title }} {% raw %} \u{202e}abc 🧱 مرحبا";
    let mut record = fixture::record();
    record.job.client = nasty.into();
    record.job.address = nasty.into();
    record.job.inspector = nasty.into();
    record.job.date = "once upon a time".into();
    record.notes = Some(format!("{nasty}\n\n{}", "word ".repeat(5000)));
    record.not_inspected = vec![nasty.into()];
    let mut assessment = fixture::assessment();
    for area in &mut record.areas {
        area.name = nasty.into();
        area.note = Some(nasty.into());
        for defect in &mut area.defects {
            defect.note = Some(nasty.into());
            for photo in &mut defect.photos {
                photo.caption = nasty.into();
                photo.file = nasty.into();
            }
        }
    }
    for area in &mut assessment.areas {
        area.name = nasty.into();
    }
    let folder = tempfile::tempdir().unwrap();
    let photos = photos::load(folder.path(), &record, &mut Problems::default());
    let view = fixture::view(&record, &assessment, &fixture::method(), &photos);
    let page = html(&view).unwrap();
    leave("nasty.html", &page);
    assert!(!page.contains("<script>") && page.contains("&lt;script&gt;"));
    assert!(page.contains("{{ v.title }}"), "no template is run twice");
    assert!(
        !page.contains("\"quoted\""),
        "quotes can't end an attribute"
    );
    let brief = fixture::brief(&record, &assessment);
    let text = summary(&brief, Layout::default());
    assert!(!text.contains('\u{202e}'), "no reversing of the terminal");
}

#[test]
fn hundreds_of_defects_and_photos_still_make_a_page() {
    let (record, assessment) = fixture::many_defects();
    let folder = photo_folder(10);
    let photos = photos::load(folder.path(), &record, &mut Problems::default());
    let view = fixture::view(&record, &assessment, &fixture::method(), &photos);
    let page = html(&view).unwrap();
    leave("many.html", &page);
    assert!(page.contains("id=\"d-299\"") && page.contains("id=\"p-63\""));
    // Defects with the same signs share one ranking.
    assert_eq!(view.causes.groups.len(), 1);
}

#[test]
fn a_slab_of_no_size_still_makes_a_page() {
    let mut record = fixture::record();
    for area in &mut record.areas {
        area.outline.clear();
        (area.size, area.origin, area.surface, area.panels) = (None, None, None, None);
        for defect in &mut area.defects {
            (defect.at, defect.to, defect.extent, defect.surface) = (None, None, None, None);
        }
        area.tests = Default::default();
        area.joints.clear();
    }
    record.stairs.clear();
    record.thresholds.clear();
    record.edges.clear();
    let view = fixture::view(&record, &fixture::assessment(), &fixture::method(), &[]);
    let page = html(&view).unwrap();
    leave("bare.html", &page);
    assert!(!page.contains("NaN") && !page.contains("inf\""));
    assert!(page.contains("their size and place were not recorded"));
}

#[test]
fn the_owners_pages_are_plain() {
    use ringtrue::report::readability::Count;
    let count = view_with(&[])
        .said
        .iter()
        .map(|t| Count::of(t))
        .fold(Count::default(), Count::plus);
    assert!(count.words > 300, "there is something to read");
    assert!(count.grade().unwrap() <= 8.0, "grade {:?}", count.grade());
}

#[test]
fn the_terminal_summary_keeps_to_its_width() {
    let view = fixture::brief(&fixture::record(), &fixture::assessment());
    for columns in [40, 80, 200] {
        let layout = Layout {
            columns,
            colour: false,
            written: Some("patio.html"),
            ..Layout::default()
        };
        let text = summary(&view, layout);
        assert!(
            text.lines().all(|l| l.chars().count() <= columns.min(80)),
            "{text}"
        );
        assert!(!text.contains('\u{1b}'), "colour only when asked");
    }
    let coloured = Layout {
        colour: true,
        ..Layout::default()
    };
    assert!(summary(&view, coloured).contains("\u{1b}["));
    let plain = Layout {
        written: Some("patio.html"),
        ..Layout::default()
    };
    insta::assert_snapshot!("summary", summary(&view, plain));
}

/// The plan of a record, without a forecast.
fn plan_of(work: &ringtrue::cli::Work) -> ringtrue::plan::Plan {
    let stages = ringtrue::plan::Stages {
        record: &work.loaded.record,
        survey: &work.survey,
        pack: &work.pack,
        assessment: &work.assessment,
        method: &work.method,
    };
    let inputs = ringtrue::plan::Inputs::gather(stages, None, None);
    ringtrue::plan::plan(&inputs, &work.pack.vocabulary).unwrap()
}

fn grade(said: &[String]) -> Option<f64> {
    use ringtrue::report::readability::Count;
    said.iter()
        .map(|t| Count::of(t))
        .fold(Count::default(), Count::plus)
        .grade()
}

#[test]
fn every_sample_reads_plainly() {
    use ringtrue::cli::{Loading, Work};
    use ringtrue::report::readability::Count;
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
    let mut seen = 0;
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|e| e != "yaml") {
            continue;
        }
        let loading = Loading {
            record: path.clone(),
            house_rules: None,
        };
        let Ok(work) = Work::load(&loading) else {
            panic!("{} does not load", path.display())
        };
        let sources = work.sources(&[]);
        let mut view = View::build(sources);
        let before = view.said.len();
        let phrases = Phrases::english();
        view.add_plan(&plan_of(work), &sources, phrases);
        let part = grade(&view.said[before..]);
        println!("the plan alone: {part:?}");
        assert!(
            part.is_none_or(|g| g <= 8.0),
            "{}: {part:?}",
            path.display()
        );
        let count = view
            .said
            .iter()
            .map(|t| Count::of(t))
            .fold(Count::default(), Count::plus);
        let grade = count.grade().unwrap();
        println!("{}: {grade:.1}, {} words", path.display(), count.words);
        assert!(grade <= 8.0, "{}: grade {grade:.1}", path.display());
        assert!(html(&view).is_ok());
        seen += 1;
    }
    assert!(seen >= 8, "{seen} samples");
}

/// The plan and the readings while working reach the owner's page, in his language, and no sum
/// stands there that nobody entered.
#[test]
fn the_owner_reads_the_plan_and_what_was_measured() {
    use ringtrue::cli::{Loading, Work};
    let page = |name: &str, language: &str| {
        let record = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("samples")
            .join(name);
        let loading = Loading {
            record,
            house_rules: None,
        };
        let Ok(work) = Work::load(&loading) else {
            panic!("{name} does not load")
        };
        let sources = work.sources(&[]);
        let phrases = Phrases::built_in(language).unwrap();
        let mut view = View::build(sources);
        view.add_plan(&plan_of(work), &sources, &phrases);
        Pages::new(&Templates::default())
            .unwrap()
            .render("report.html", &view, &phrases, None)
            .unwrap()
            .replace("&#x2f;", "/")
    };
    let walk = page("walk-pinned-high.yaml", "en");
    // 3-1/4 in and 4 in lower give 7-1/4 in; of 10.5 and 9 one lies outside 7 to 10.
    for part in [
        "the first step up will be 7-1/4 in high. Now it is 3-1/4 in.",
        "Undecided: replacing in part and replacing the whole slab",
        "about half the cost of tearing out",
        "id=\"worked\"",
        "Not passed: reading 1, 10.5, is too high",
    ] {
        assert!(walk.contains(part), "{part}");
    }
    assert_eq!(walk.matches("owner-options").count().min(1), 1);
    let yard = page("yard-topping.yaml", "es");
    for part in [
        "Para este trabajo no se han anotado precios",
        "Los días",
        "día 1",
    ] {
        assert!(yard.contains(part), "{part}");
    }
    assert!(!yard.contains("USD") && !yard.contains("id=\"worked\""));
    // Nothing is planned where an engineer must look first.
    assert!(!page("carport-rust.yaml", "en").contains("id=\"plan\""));
}
