//! The papers as PDF: the same bytes every time, tagged, with their own fonts and properties, and
//! what a client wrote is never markup.

use std::path::{Path, PathBuf};

use ringtrue::report::pdf::{Setting, Sheet, write};
use ringtrue::report::photos::{self, Photo};
use ringtrue::report::phrases::Phrases;
use ringtrue::report::templates::Templates;
use ringtrue::source::Problems;

use crate::{fixture, leave_bytes, photo_folder};

fn phrases() -> Phrases {
    Phrases::built_in("en").unwrap()
}

fn report(photos: &[Photo], sheet: Sheet) -> Vec<u8> {
    report_of(&fixture::record(), &fixture::assessment(), photos, sheet)
}

fn report_of(
    record: &ringtrue::record::model::Record,
    assessment: &ringtrue::assessment::Assessment,
    photos: &[Photo],
    sheet: Sheet,
) -> Vec<u8> {
    let view = fixture::view(record, assessment, &fixture::method(), photos);
    let (templates, phrases) = (Templates::default(), phrases());
    let setting = Setting {
        sheet,
        accessible: true,
        templates: &templates,
        phrases: &phrases,
        letterhead: None,
    };
    let date = view.job.iso_date.clone();
    write("report.typ", &view, photos, date.as_deref(), &setting)
        .unwrap_or_else(|e| panic!("{e}"))
        .bytes
}

fn count(pdf: &[u8], part: &str) -> usize {
    pdf.windows(part.len())
        .filter(|w| *w == part.as_bytes())
        .count()
}

fn holds(pdf: &[u8], part: &str) -> bool {
    count(pdf, part) > 0
}

/// Number of pages, by the page objects (ISO 32000-1, 7.7.3.3).
fn pages(pdf: &[u8]) -> usize {
    count(pdf, "/Type/Page/") + count(pdf, "/Type/Page\n") + count(pdf, "/Type /Page\n")
}

/// Size of most of the letters of a PDF and of the smallest, points: by the operators that choose a
/// face (`Tf`) and show text (`Tj`, `TJ`) in its content (ISO 32000-1, 9.3 and 9.4). The typesetter
/// scales nothing but pictures.
fn letters(pdf: &[u8]) -> (f64, f64) {
    let mut shown: Vec<(f64, usize)> = Vec::new();
    let find = |from: usize, part: &[u8]| {
        let rest = &pdf[from..];
        let at = rest.windows(part.len()).position(|w| w == part);
        at.map(|at| from + at)
    };
    let mut at = 0;
    while let Some(start) = find(at, b"stream\n") {
        let start = start + 7;
        let end = find(start, b"endstream").unwrap();
        at = end + 9;
        let Ok(content) = miniz_oxide::inflate::decompress_to_vec_zlib(&pdf[start..end]) else {
            continue;
        };
        let content = String::from_utf8_lossy(&content);
        let words: Vec<&str> = content.split_whitespace().collect();
        let mut size = None;
        for (i, word) in words.iter().enumerate() {
            if *word == "Tf" && i > 0 {
                size = words[i - 1].parse::<f64>().ok();
            }
            // What is shown stands right before its operator: `Tm[(…)]TJ`.
            let shows = word.ends_with(")]TJ") || word.ends_with(")Tj");
            let Some(size) = size.filter(|_| shows) else {
                continue;
            };
            match shown.iter_mut().find(|(s, _)| *s == size) {
                Some((_, n)) => *n += word.len(),
                None => shown.push((size, word.len())),
            }
        }
    }
    let most = shown.iter().max_by_key(|(_, n)| *n).unwrap().0;
    let smallest = shown.iter().map(|(s, _)| *s).fold(f64::MAX, f64::min);
    (most, smallest)
}

#[test]
fn the_same_view_gives_the_same_bytes_tagged_and_with_its_fonts() {
    let folder = photo_folder(60);
    let mut problems = Problems::default();
    let photos = photos::load(folder.path(), &fixture::record(), &mut problems);
    let pdf = report(&photos, Sheet::Letter);
    leave_bytes("report.pdf", &pdf);
    assert!(pdf.starts_with(b"%PDF-1.7"));
    assert!(pdf == report(&photos, Sheet::Letter), "two runs differ");
    // Tagged (ISO 32000-1, 14.8), with a language, and said to keep PDF/UA-1.
    assert!(holds(&pdf, "/StructTreeRoot") && holds(&pdf, "/MarkInfo"));
    assert!(holds(&pdf, "/Lang") && holds(&pdf, "pdfuaid"));
    // Every font is in the file: as many font files as descriptors, and no standard font by name.
    let files = count(&pdf, "/FontFile2") + count(&pdf, "/FontFile3");
    assert!(files >= 4, "{files} fonts");
    assert_eq!(count(&pdf, "/Type/FontDescriptor"), files);
    // Two photos and the note on the third.
    assert!(count(&pdf, "/DCTDecode") == 2, "photos go in as they are");
    assert!(pages(&pdf) >= 5, "{} pages", pages(&pdf));
}

#[test]
fn properties_come_from_the_record() {
    let pdf = report(&[], Sheet::Letter);
    let record = fixture::record();
    let meta = metadata(&pdf);
    assert!(meta.contains("Slab condition report"), "{meta}");
    assert!(meta.contains(&record.job.address) && meta.contains(&record.job.inspector));
    // The day of the record and no other clock.
    assert!(meta.contains(&format!("{}T", record.job.date)), "{meta}");
}

/// The XMP packet, which stands in the file as plain text.
fn metadata(pdf: &[u8]) -> String {
    let text = String::from_utf8_lossy(pdf);
    let from = text.find("<x:xmpmeta").expect("an XMP packet");
    let to = text.find("</x:xmpmeta>").expect("its end");
    text[from..to].to_owned()
}

#[test]
fn both_sheets_have_their_size() {
    // Letter is 612 by 792 points, A4 595.28 by 841.89 (ISO 216: 210 by 297 mm).
    for (sheet, size) in [(Sheet::Letter, "612 792]"), (Sheet::A4, "595.27")] {
        let pdf = report(&[], sheet);
        assert!(holds(&pdf, size), "{sheet:?}");
    }
}

#[test]
fn what_a_client_wrote_is_no_markup() {
    let nasty = "#pagebreak() *bold* $x^2$ `raw` <w-scaling> @ref \\ #panic(\"no\") // /* [ ] { } \"quoted\" & <b> \u{202e}abc 🧱 مرحبا";
    let page_count = |text: &str| {
        let mut record = fixture::record();
        let mut assessment = fixture::assessment();
        record.job.client = text.into();
        record.job.address = text.into();
        record.job.inspector = text.into();
        record.job.reference = Some(text.into());
        record.notes = Some(text.into());
        record.not_inspected = vec![text.into()];
        for area in &mut record.areas {
            area.name = text.into();
            area.note = Some(text.into());
        }
        for area in &mut assessment.areas {
            area.name = text.into();
        }
        let pdf = report_of(&record, &assessment, &[], Sheet::Letter);
        leave_bytes("nasty.pdf", &pdf);
        (pages(&pdf), metadata(&pdf))
    };
    let (with, meta) = page_count(nasty);
    assert!(meta.contains("#pagebreak() *bold* $x^2$"), "{meta}");
    // The same length in plain words takes the same number of pages: nothing broke a page.
    let (without, _) = page_count(&"word ".repeat(nasty.len() / 7));
    assert!(with.abs_diff(without) <= 1, "{with} and {without}");
}

#[test]
fn long_notes_hundreds_of_defects_and_bare_slabs_come_out_whole() {
    let (mut record, assessment) = fixture::many_defects();
    record.notes = Some("word ".repeat(5000) + &"long".repeat(300));
    let folder = photo_folder(10);
    let photos = photos::load(folder.path(), &record, &mut Problems::default());
    assert!(photos.len() >= 60);
    let pdf = report_of(&record, &assessment, &photos, Sheet::A4);
    leave_bytes("many.pdf", &pdf);
    assert!(pages(&pdf) > 20);

    let mut record = fixture::record();
    for area in &mut record.areas {
        area.outline.clear();
        (area.size, area.origin, area.surface, area.panels) = (None, None, None, None);
        area.defects.clear();
        area.joints.clear();
    }
    let mut assessment = fixture::assessment();
    for area in &mut assessment.areas {
        area.defects.clear();
    }
    let pdf = report_of(&record, &assessment, &[], Sheet::Letter);
    leave_bytes("bare.pdf", &pdf);
    assert!(pages(&pdf) > 1);
}

fn sample(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("samples")
        .join(name)
}

fn ringtrue() -> assert_cmd::Command {
    assert_cmd::Command::new(env!("CARGO_BIN_EXE_ringtrue"))
}

#[test]
fn every_paper_of_every_sample_is_an_accessible_pdf() {
    let folder = tempfile::tempdir().unwrap();
    let mut seen = 0;
    for entry in std::fs::read_dir(sample("")).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|e| e != "yaml") {
            continue;
        }
        for (paper, sheet) in [("report", "letter"), ("proposal", "a4")] {
            let out = folder.path().join(format!("{seen}-{paper}.pdf"));
            ringtrue()
                .arg(paper)
                .arg(&path)
                .args(["--accessible", "--paper", sheet, "-o"])
                .arg(&out)
                .assert()
                .success()
                // Nothing is said: no letter is missing, and every page number is settled.
                .stderr("");
            let pdf = std::fs::read(&out).unwrap();
            assert!(holds(&pdf, "/StructTreeRoot"), "{}", out.display());
        }
        seen += 1;
    }
    assert!(seen >= 15, "{seen} samples");
    let out = folder.path().join("change.pdf");
    let record = sample("terrace.yaml");
    ringtrue()
        .arg("compare")
        .args([&record, &record])
        .args(["--language", "es", "--accessible", "-o"])
        .arg(&out)
        .assert()
        .success();
    assert!(holds(&std::fs::read(out).unwrap(), "/StructTreeRoot"));
}

/// Nobody turns a page on site: the crew sheet of every sample stands on one, on either sheet, and in
/// Spanish.
#[test]
fn every_crew_sheet_is_one_accessible_page() {
    use ringtrue::report::{CrewSheet, View};

    let templates = Templates::default();
    let (mut seen, mut drawn) = (0, 0);
    for path in crate::spanish::samples() {
        for language in ["en", "es"] {
            let phrases = Phrases::built_in(language).unwrap();
            let work = crate::spanish::load(&path, &phrases);
            let sources = work.sources(&[]);
            let plan = crate::plan_of(work);
            let crew = CrewSheet::build(&View::build(sources), &sources, Some(&plan), &phrases);
            // Every pour stands on it as a picture.
            let pours = plan.areas.iter().filter(|a| a.pour.is_some()).count();
            assert_eq!(
                crew.plan.iter().filter(|s| s.picture.is_some()).count(),
                pours
            );
            drawn += pours;
            // A browser prints it in the letters worked out for it.
            let least = if language == "en" { 9.5 } else { 9.0 };
            assert!(
                crew.letters >= least,
                "{}: {}",
                path.display(),
                crew.letters
            );
            // Letter is the lower of the two.
            let sheets: &[Sheet] = match language {
                "en" => &[Sheet::Letter, Sheet::A4],
                _ => &[Sheet::Letter],
            };
            for sheet in sheets.iter().copied() {
                let setting = Setting {
                    sheet,
                    accessible: true,
                    templates: &templates,
                    phrases: &phrases,
                    letterhead: None,
                };
                let pdf = write("crew.typ", &crew, &[], None, &setting).unwrap().bytes;
                let name = path.display();
                assert_eq!(pages(&pdf), 1, "{name} on {sheet:?} in {language}");
                // To be read at arm's length, in the sun.
                let (body, smallest) = letters(&pdf);
                assert!(
                    body >= least && smallest >= 7.0,
                    "{name} on {sheet:?} in {language}: letters of {body} pt, some of {smallest} pt"
                );
            }
        }
        seen += 1;
    }
    assert!(seen >= 15 && drawn >= 10, "{seen} samples, {drawn} pours");
}

#[test]
fn a_broken_template_is_told_with_file_line_and_hint() {
    let folder = tempfile::tempdir().unwrap();
    let (view, photos) = (
        fixture::view(
            &fixture::record(),
            &fixture::assessment(),
            &fixture::method(),
            &[],
        ),
        [],
    );
    let told = |text: &str| {
        std::fs::write(folder.path().join("report.typ"), text).unwrap();
        let templates = Templates::load(folder.path()).unwrap();
        let phrases = phrases();
        let setting = Setting {
            sheet: Sheet::A4,
            accessible: false,
            templates: &templates,
            phrases: &phrases,
            letterhead: None,
        };
        write("report.typ", &view, &photos, None, &setting)
            .map(|written| written.bytes)
            .map_err(|e| e.to_string())
    };
    for (text, parts) in [
        (
            "#import \"base.typ\": *\nfine\n#v.nothing_like_it",
            &[
                "report.typ`",
                "line 3, column 4",
                "nothing_like_it",
                "hint:",
            ][..],
        ),
        (
            "ok\n#let x = (1, 2",
            &["report.typ`", "line 2", "unclosed", "hint:"],
        ),
        (
            "#import \"other.typ\": *",
            &["report.typ`", "line 1", "other.typ", "hint:"],
        ),
    ] {
        let said = told(text).expect_err(text);
        for part in parts {
            assert!(said.contains(part), "{part} is not in: {said}");
        }
    }
    // His own template and a part of it beside; the built-in parts stay at hand.
    std::fs::write(folder.path().join("mine.typ"), "#let greet = [Good day]").unwrap();
    let own = told(
        "#import \"base.typ\": *\n#import \"mine.typ\": greet\n#show: paper.with(v.title)\n#greet #own(v.job.client)",
    );
    assert!(own.expect("a paper of his own").starts_with(b"%PDF"));
}
