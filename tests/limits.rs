//! What is too deep, too large, too much, outside or without end is refused, with words that say
//! what to do. DEVELOPERS.md lists the limits; what has no case here is tried beside its code.

use std::fmt::Write;
use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

use jiff::civil::date;
use ringtrue::plan::forecast;
use ringtrue::record;
use ringtrue::report::Pages;
use ringtrue::report::photos::{self, PhotoError};
use ringtrue::report::phrases::Phrases;
use ringtrue::report::templates::{Letterhead, Template, Templates};
use ringtrue::source::{Problems, SourceFile};

/// Longest that anything here may take to be refused, in an unoptimised build on a busy machine.
const LONGEST: Duration = Duration::from_secs(60);

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn good() -> String {
    std::fs::read_to_string(root().join("tests/records/good.yaml")).unwrap()
}

/// What is said of a record's text.
fn said(text: &str) -> Problems {
    let file = SourceFile::new("r.yaml", text);
    let (loaded, problems) = record::read(&file, None, Some(date(2026, 6, 1)), None);
    assert_eq!(loaded.is_none(), problems.has_errors());
    problems
}

/// A record with the areas, each with the defects, given as text.
fn areas(areas: &str) -> String {
    let mut text = String::from(
        "ringtrue: 1\njob: {client: C, address: A, date: 2026-05-14, inspector: I}\nslab: {use: patio, thickness: 4 in}\nareas:\n",
    );
    text += areas;
    text
}

fn one_area(defects: &str) -> String {
    areas(&format!(
        "  - {{id: A, name: patio, size: 90 ft x 90 ft, defects: [{defects}]}}\n"
    ))
}

fn defects(count: usize, more: &str) -> String {
    (1..=count).fold(String::new(), |mut out, i| {
        let _ = write!(out, "{{id: {i}, kind: stain{more}}}, ");
        out
    })
}

#[test]
fn a_record_beyond_a_limit_is_told_where_and_what_to_do() {
    let aliases = (1..9).fold(
        String::from("a0: &a0 [1,1,1,1,1,1,1,1,1,1]\n"),
        |mut out, i| {
            let list = vec![format!("*a{}", i - 1); 10].join(",");
            let _ = writeln!(out, "a{i}: &a{i} [{list}]");
            out
        },
    );
    let photos = vec!["{file: a.jpg, caption: c}"; 501].join(", ");
    let many_areas = (0..501).fold(String::new(), |mut out, i| {
        let _ = writeln!(out, "  - {{id: A{i}, name: a, size: 9 ft x 9 ft}}");
        out
    });
    let corners = (0..501).fold(String::new(), |mut out, i| {
        let _ = write!(out, "[{i} ft, 0 ft], ");
        out
    });
    let feet = vec!["1 ft"; 201].join(", ");
    let cases = [
        (
            "nesting",
            format!("a: {}", "[".repeat(100) + &"]".repeat(100)),
            "too-deep",
            Some(1),
        ),
        ("aliases", aliases, "too-many-values", Some(6)),
        (
            "an alias of itself",
            "a: &a [*a]\n".to_owned(),
            "alias",
            Some(1),
        ),
        (
            "values",
            "- 1\n".repeat(400_001),
            "too-many-values",
            Some(400_001),
        ),
        ("size", " ".repeat((8 << 20) + 1), "file-too-large", None),
        (
            "text",
            good() + &format!("notes: {}\n", "x".repeat(50_001)),
            "text-too-long",
            None,
        ),
        ("areas", areas(&many_areas), "limit", Some(5)),
        ("defects", one_area(&defects(2_001, "")), "limit", Some(5)),
        (
            "photos",
            one_area(&defects(1, &format!(", photos: [{photos}]"))),
            "limit",
            Some(5),
        ),
        (
            "panels",
            areas(&format!(
                "  - {{id: A, name: p, size: 201 ft x 201 ft, panels: {{columns: [{feet}], rows: [{feet}]}}}}\n"
            )),
            "limit",
            Some(5),
        ),
        (
            "joints",
            areas(&format!(
                "  - {{id: A, name: p, size: 9 ft x 9 ft, joints: [{}]}}\n",
                vec!["{id: J, kind: isolation}"; 2_001].join(", ")
            )),
            "limit",
            Some(5),
        ),
        (
            "stairs",
            one_area("") + "stairs:\n" + &"  - {id: S, risers: [7 in]}\n".repeat(501),
            "limit",
            Some(7),
        ),
        (
            "risers",
            one_area("")
                + &format!(
                    "stairs: [{{id: S, risers: [{}]}}]\n",
                    vec!["7 in"; 5_001].join(", ")
                ),
            "limit",
            Some(6),
        ),
        (
            "thresholds",
            one_area("") + "thresholds:\n" + &"  - {id: D, area: A}\n".repeat(501),
            "limit",
            Some(7),
        ),
        (
            "edges",
            one_area("") + "edges:\n" + &"  - {area: A, kind: lawn, side: left}\n".repeat(2_001),
            "limit",
            Some(7),
        ),
        (
            "corners",
            areas(&format!("  - {{id: A, name: p, outline: [{corners}]}}\n")),
            "limit",
            Some(5),
        ),
        (
            "a photo outside",
            one_area("{id: 1, kind: stain, photos: [{file: ../../etc/passwd, caption: c}]}"),
            "outside-folder",
            Some(5),
        ),
        (
            "a photo at the root",
            one_area("{id: 1, kind: stain, photos: [{file: /etc/passwd, caption: c}]}"),
            "outside-folder",
            Some(5),
        ),
        (
            "a photo on another drive",
            one_area("{id: 1, kind: stain, photos: [{file: 'C:\\x.jpg', caption: c}]}"),
            "outside-folder",
            Some(5),
        ),
        (
            "a forecast outside",
            one_area("") + "forecast: ../hourly.csv\n",
            "outside-folder",
            Some(6),
        ),
    ];
    for (what, text, code, line) in cases {
        let start = Instant::now();
        let problems = said(&text);
        let told = problems.render(false);
        let problem = problems
            .iter()
            .find(|p| p.code == code)
            .unwrap_or_else(|| panic!("{what}: {}", &told[..told.len().min(2000)]));
        assert!(problem.hint.is_some(), "{what} has no hint");
        assert_eq!(&*problem.file.as_ref().unwrap().name, "r.yaml", "{what}");
        if line.is_some() {
            assert_eq!(problem.place.map(|p| p.line), line, "{what}");
        }
        let took = start.elapsed();
        assert!(took < LONGEST, "{what} took {took:?}");
    }
}

#[test]
fn a_record_full_of_slips_is_told_in_good_time() {
    // Each of these once took minutes: a search through all keys for each, the whole file gone
    // through for every problem, the nearest name to a word of a megabyte.
    let keys = (0..40_000).fold(String::new(), |mut out, i| {
        let _ = writeln!(out, "k{i}: 1");
        out
    });
    let word = format!("{}: 1\n", "k".repeat(1 << 20));
    let slips = one_area(&"{id: x, kind: rust, dept: 3}, ".repeat(1_900));
    for (what, text) in [("keys", keys), ("a long word", word), ("slips", slips)] {
        let start = Instant::now();
        let problems = said(&text);
        assert!(problems.has_errors(), "{what}");
        let told = problems.render(false);
        if problems.len() > 200 {
            assert!(told.contains("more problems; mend these first"), "{what}");
        }
        let took = start.elapsed();
        assert!(took < LONGEST, "{what} took {took:?}");
    }
}

#[test]
fn a_forecast_ends_after_two_thousand_hours() {
    let hour = |i: i64| {
        date(2026, 1, 1)
            .at(0, 0, 0, 0)
            .saturating_add(jiff::Span::new().hours(i))
    };
    let csv = (0..2001).fold(String::from("time,air F,humidity %\n"), |mut out, i| {
        let _ = writeln!(out, "{}Z,60,50", hour(i));
        out
    });
    let periods: Vec<String> = (0..2001)
        .map(|i| {
            format!(
                "{{\"startTime\": \"{}Z\", \"temperature\": 60, \"relativeHumidity\": {{\"value\": 50}}}}",
                hour(i)
            )
        })
        .collect();
    let json = format!(
        "{{\"properties\": {{\"periods\": [\n{}]}}}}",
        periods.join(",\n")
    );
    for (name, text, line) in [("h.csv", csv, 2002), ("h.json", json, 2002)] {
        let mut problems = Problems::default();
        let read = forecast::read(&SourceFile::new(name, text), &mut problems);
        let told = problems.to_plain();
        assert!(read.is_none(), "{name}");
        assert!(
            told.contains(&format!("{name}:{line}:")) && told.contains("forecast-too-long"),
            "{}",
            &told[..told.len().min(500)]
        );
    }
}

/// A PNG of one colour, `side` by `side` pixels, a few kilobytes: it unfolds to four bytes a pixel.
fn bomb(width: u32, height: u32) -> Vec<u8> {
    // Signature and header alone: its size is read before anything is unfolded.
    let mut png = b"\x89PNG\r\n\x1a\n\0\0\0\x0dIHDR".to_vec();
    png.extend(width.to_be_bytes());
    png.extend(height.to_be_bytes());
    png.extend([8, 6, 0, 0, 0]);
    let crc = crc(&png[12..]);
    png.extend(crc.to_be_bytes());
    png.extend(b"\0\0\0\0IDAT\x35\xaf\x06\x1e\0\0\0\0IEND\xae\x42\x60\x82");
    png
}

/// CRC-32 of the PNG standard, bit by bit.
fn crc(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(u32::MAX, |crc, b| {
        (0..8).fold(crc ^ u32::from(*b), |c, _| {
            if c & 1 == 1 {
                0xedb8_8320 ^ (c >> 1)
            } else {
                c >> 1
            }
        })
    })
}

#[test]
fn a_photo_that_unfolds_to_gigabytes_is_not_unfolded() {
    let folder = tempfile::tempdir().unwrap();
    let put = |name: &str, bytes: &[u8]| std::fs::write(folder.path().join(name), bytes).unwrap();
    put("wide.png", &bomb(16_385, 1));
    put("square.png", &bomb(16_000, 16_000));
    put("heavy.jpg", &vec![0xff; (30 << 20) + 1]);
    put("small.png", &bomb(40, 40));
    for (file, wrong) in [
        ("wide.png", PhotoError::TooLarge),
        ("square.png", PhotoError::TooLarge),
        ("heavy.jpg", PhotoError::TooLarge),
        ("small.png", PhotoError::Broken),
        ("../small.png", PhotoError::Outside),
        ("none.png", PhotoError::Missing),
    ] {
        assert_eq!(
            photos::read(folder.path(), file).unwrap_err(),
            wrong,
            "{file}"
        );
    }
}

/// Renders a report with a template of one's own, and gives what is said or the page.
fn rendered(template: &str) -> String {
    let mut templates = Templates::default();
    templates.lay(Template {
        name: "report.html".to_owned(),
        text: template.to_owned(),
        shown: "ours/report.html".to_owned(),
    });
    let view = serde_json::json!({"job": {"client": "Mara Quill"}});
    Pages::new(&templates)
        .and_then(|p| p.render("report.html", &view, Phrases::english(), None))
        .unwrap_or_else(|e| e.to_string())
}

#[test]
fn a_template_reads_no_file_and_comes_to_an_end() {
    for (template, expected) in [
        // Without end, or as good as.
        (
            "\n{% for a in range(99999) %}{% for b in range(99999) %}{% endfor %}{% endfor %}",
            "`ours/report.html` was stopped at line 2",
        ),
        (
            "{% set x = 'ab' %}{% for i in range(60) %}{% set x = x ~ x %}{{ x }}{% endfor %}{% for a in range(99999) %}{% for b in range(99999) %}{{ a }}{% endfor %}{% endfor %}",
            "was stopped at line 1",
        ),
        (
            "{% set ns = namespace(x='ab') %}{% for i in range(60) %}{% set ns.x = ns.x ~ ns.x %}{% endfor %}",
            "was stopped at line 1",
        ),
        ("{{ 'ab' * 9999999999 }}", "was stopped at line 1"),
        (
            "{% macro m(n) %}{{ m(n) }}{{ m(n) }}{% endmacro %}{{ m(1) }}",
            "ours/report.html",
        ),
        ("{% include 'report.html' %}", "ours/report.html"),
        ("{% extends 'report.html' %}", "ours/report.html"),
        // Other files.
        ("{% include '/etc/passwd' %}", "template not found"),
        ("{% include '../Cargo.toml' %}", "template not found"),
        ("{% from 'C:/x.html' import y %}", "template not found"),
        ("{% extends 'en.yaml' %}", "template not found"),
        // And what is well.
        ("{{ v.job.client }}", "Mara Quill"),
    ] {
        let start = Instant::now();
        let said = rendered(template);
        assert!(
            said.contains(expected),
            "{template}: {}",
            &said[..said.len().min(300)]
        );
        assert!(!said.contains("root:"), "{template}");
        let took = start.elapsed();
        assert!(took < LONGEST, "{template} took {took:?}");
    }
}

#[test]
fn a_folder_of_templates_has_its_limits() {
    let folder = tempfile::tempdir().unwrap();
    let put = |name: &str, text: &str| std::fs::write(folder.path().join(name), text).unwrap();
    let said = || Templates::load(folder.path()).unwrap_err().to_string();
    put("report.html", &" ".repeat((4 << 20) + 1));
    assert!(said().contains("more than 4 MB"), "{}", said());
    put("report.html", "x");
    for i in 0..200 {
        put(&format!("t{i}.html"), "x");
    }
    assert!(said().contains("more than 200 templates"), "{}", said());
    let outside = folder.path().join("head.yaml");
    std::fs::write(&outside, "name: House\nlogo: ../../x.png\n").unwrap();
    let head = Letterhead::load(&outside).unwrap_err().to_string();
    assert!(head.contains("outside"), "{head}");
    let language = folder.path().join("long.yaml");
    std::fs::write(&language, " ".repeat((1 << 20) + 1)).unwrap();
    let said = Phrases::load(language.to_str().unwrap())
        .unwrap_err()
        .to_string();
    assert!(said.contains("more than 1 MB"), "{said}");
}

fn ringtrue(arguments: &[&str]) -> (Option<i32>, String) {
    let out = Command::new(env!("CARGO_BIN_EXE_ringtrue"))
        .args(arguments)
        .env("NO_COLOR", "1")
        .output()
        .unwrap();
    (
        out.status.code(),
        String::from_utf8_lossy(&out.stderr).into_owned(),
    )
}

#[test]
fn a_folder_of_house_rules_has_its_limits() {
    let folder = tempfile::tempdir().unwrap();
    let said = || ringtrue(&["rules", "check", folder.path().to_str().unwrap()]);
    let large = folder.path().join("a.yaml");
    std::fs::write(&large, "#".repeat(5 << 20)).unwrap();
    std::fs::write(folder.path().join("b.yaml"), "#".repeat(5 << 20)).unwrap();
    let (code, err) = said();
    assert_eq!(code, Some(2), "{err}");
    assert!(
        err.contains("larger than 8 MB together") && err.contains("b.yaml"),
        "{err}"
    );
    for i in 0..501 {
        std::fs::write(folder.path().join(format!("c{i}.yaml")), "#").unwrap();
    }
    let (code, err) = said();
    assert_eq!(code, Some(2), "{err}");
    assert!(err.contains("more than 500 files"), "{err}");
    let deep = tempfile::tempdir().unwrap();
    std::fs::create_dir_all(deep.path().join("a/b/c/d/e/f/g/h/i")).unwrap();
    let (code, err) = ringtrue(&["rules", "check", deep.path().to_str().unwrap()]);
    assert_eq!(code, Some(2), "{err}");
    assert!(err.contains("deeper than 8 folders"), "{err}");
}

#[cfg(unix)]
#[test]
fn links_do_not_lead_out() {
    use std::os::unix::fs::symlink;
    let (outside, inside) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let secret = outside.path().join("secret");
    std::fs::write(&secret, "the secret").unwrap();
    let link = |name: &str| symlink(&secret, inside.path().join(name)).unwrap();
    let path = |name: &str| inside.path().join(name);

    link("report.html");
    let said = Templates::load(inside.path()).unwrap_err().to_string();
    assert!(said.contains("leads out of its folder"), "{said}");
    std::fs::remove_file(path("report.html")).unwrap();

    link("letterhead.yaml");
    let said = Templates::load(inside.path()).unwrap_err().to_string();
    assert!(said.contains("leads out of its folder"), "{said}");
    std::fs::remove_file(path("letterhead.yaml")).unwrap();

    link("logo.svg");
    std::fs::write(path("letterhead.yaml"), "name: House\nlogo: logo.svg\n").unwrap();
    let said = Templates::load(inside.path()).unwrap_err().to_string();
    assert!(said.contains("leads out of its folder"), "{said}");
    std::fs::remove_file(path("letterhead.yaml")).unwrap();

    link("photo.jpg");
    let photo = photos::read(inside.path(), "photo.jpg");
    assert_eq!(photo.unwrap_err(), PhotoError::Outside);

    // House rules take no links at all, so that none goes round in a circle.
    for (name, to) in [("ours.yaml", secret.as_path()), ("again", inside.path())] {
        symlink(to, path(name)).unwrap();
        let (code, err) = ringtrue(&["rules", "check", inside.path().to_str().unwrap()]);
        assert_eq!(code, Some(2), "{err}");
        assert!(err.contains("is a link") && err.contains(name), "{err}");
        std::fs::remove_file(path(name)).unwrap();
    }
}
