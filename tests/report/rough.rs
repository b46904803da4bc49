//! Records as rough as they come, through the program itself: every one ends in a legible paper or
//! in a clear word on what is wrong.

use std::fmt::Write as _;
use std::path::Path;

use assert_cmd::Command;

/// Forms a paper can take in this build.
const FORMS: &[&str] = if cfg!(feature = "pdf") {
    &["html", "pdf"]
} else {
    &["html"]
};

fn ringtrue(folder: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_ringtrue"));
    command.current_dir(folder);
    command
}

const HEAD: &str = "ringtrue: 1\nslab: {use: patio, thickness: 4 in}\nsite: {weathering: severe, deicers: rock_salt}\n";

fn job(client: &str) -> String {
    let text = serde_json::to_string(client).unwrap();
    format!("job: {{client: {text}, address: {text}, date: 2026-05-14, inspector: {text}}}\n")
}

/// Writes a record and makes every paper of it in every form; gives the report's page.
fn papers(folder: &Path, record: &str) -> String {
    std::fs::write(folder.join("job.yaml"), record).unwrap();
    for form in FORMS {
        for paper in ["report", "proposal", "crew"] {
            let out = format!("{paper}.{form}");
            ringtrue(folder)
                .args([paper, "job.yaml", "-o", &out, "--force"])
                .assert()
                .success();
            let size = std::fs::metadata(folder.join(&out)).unwrap().len();
            assert!(size > 4_000, "{out} has {size} bytes");
        }
    }
    std::fs::read_to_string(folder.join("report.html")).unwrap()
}

#[test]
fn markup_quotes_other_scripts_and_pictographs_stay_text() {
    let nasty = "</style><script>alert(1)</script> \"q\" 'q' & {{ v }} #panic() $x$ *b* <w-fall> \u{202e}abc مرحبا بكم שלום 🧱🏗️";
    let text = serde_json::to_string(nasty).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let page = papers(
        folder.path(),
        &format!(
            "{HEAD}{}notes: {text}\nnot_inspected: [{text}]\nareas:\n  - {{id: A, name: {text}, size: 12 ft x 10 ft, note: {text}, defects: [{{id: 1, kind: scaling, depth: 1/4 in, note: {text}}}]}}\n",
            job(nasty)
        ),
    );
    assert!(!page.contains("<script>") && page.contains("&lt;script&gt;"));
    assert!(page.contains("مرحبا بكم") && page.contains("🧱"));
}

#[test]
fn five_thousand_words_two_hundred_defects_and_sixty_photos_make_a_report() {
    let folder = tempfile::tempdir().unwrap();
    image::RgbImage::from_fn(320, 240, |x, y| {
        image::Rgb([(x % 256) as u8, (y % 256) as u8, 90])
    })
    .save(folder.path().join("p.jpg"))
    .unwrap();
    let mut record = format!(
        "{}{}notes: {}\nareas:\n  - id: A\n    name: yard\n    size: 60 ft x 60 ft\n    defects:\n",
        // A slab over a room is for an engineer whatever is found, so nothing is left to ask: what
        // is tried here is the page.
        HEAD.replace("use: patio", "use: carport_deck, support: suspended"),
        job("A"),
        "word ".repeat(5000)
    );
    for n in 1..=200 {
        let (x, y) = (n % 20 * 3, n / 20 * 5);
        let photo = if n <= 60 {
            ", photos: [{file: p.jpg, caption: seen}]"
        } else {
            ""
        };
        let kind = ["scaling", "spall", "popouts"][n % 3];
        writeln!(
            record,
            "      - {{id: {n}, kind: {kind}, at: [{x} ft, {y} ft], extent: 1 ft x 1 ft, depth: 1/4 in{photo}}}"
        )
        .unwrap();
    }
    std::fs::write(folder.path().join("job.yaml"), &record).unwrap();
    let form = if FORMS.len() > 1 { "both" } else { "html" };
    ringtrue(folder.path())
        .args(["report", "job.yaml", "--format", form])
        .assert()
        .success();
    let page = std::fs::read_to_string(folder.path().join("job.html")).unwrap();
    assert!(page.contains("id=\"d-200\"") && page.contains("id=\"p-60\""));
    assert_eq!(page.matches("src=\"data:image/jpeg").count(), 60);
    // The appendix tells of defects alike together.
    assert!(page.contains("Defects ") && !page.contains("<h3>Defect 200</h3>"));
}

#[test]
fn a_slab_of_no_size_is_refused_with_its_place_and_one_of_unknown_shape_is_not() {
    let folder = tempfile::tempdir().unwrap();
    let area = |size: &str| {
        format!(
            "{HEAD}{}areas:\n  - {{id: A, name: yard, {size}defects: [{{id: 1, kind: scaling}}]}}\n",
            job("A")
        )
    };
    std::fs::write(folder.path().join("zero.yaml"), area("size: 0 ft x 0 ft, ")).unwrap();
    let told = ringtrue(folder.path())
        .args(["report", "zero.yaml"])
        .assert()
        .code(1);
    let said = String::from_utf8_lossy(&told.get_output().stderr).into_owned();
    assert!(
        said.contains("zero.yaml:6") && said.contains("0 ft x 0 ft"),
        "{said}"
    );
    assert!(!folder.path().join("zero.html").exists());
    // A surface without a shape is enough.
    let page = papers(folder.path(), &area("surface: 90 ft2, "));
    assert!(!page.contains("NaN"));
}

#[test]
fn a_photo_that_is_missing_or_broken_is_told_and_the_report_still_comes() {
    let folder = tempfile::tempdir().unwrap();
    let whole = folder.path().join("whole.jpg");
    image::RgbImage::from_fn(200, 150, |x, y| image::Rgb([(x ^ y) as u8, 80, 90]))
        .save(&whole)
        .unwrap();
    let bytes = std::fs::read(&whole).unwrap();
    std::fs::write(folder.path().join("half.jpg"), &bytes[..300]).unwrap();
    std::fs::write(folder.path().join("words.jpg"), "no picture").unwrap();
    let record = |files: &[&str]| {
        let photos: Vec<String> = files
            .iter()
            .map(|f| format!("{{file: {f}, caption: seen}}"))
            .collect();
        format!(
            "{HEAD}{}areas:\n  - {{id: A, name: yard, size: 9 ft x 9 ft, defects: [{{id: 1, kind: scaling, photos: [{}]}}]}}\n",
            job("A"),
            photos.join(", ")
        )
    };
    let check = |code: i32| {
        let done = ringtrue(folder.path())
            .args(["check", "--plain", "job.yaml"])
            .assert()
            .code(code);
        String::from_utf8_lossy(&done.get_output().stdout).into_owned()
    };
    let page = papers(folder.path(), &record(&["whole.jpg"]));
    assert_eq!(check(0), "");
    assert!(!page.contains("can’t be shown"));

    let page = papers(
        folder.path(),
        &record(&["whole.jpg", "gone.jpg", "half.jpg", "words.jpg"]),
    );
    let told = check(1);
    assert_eq!(told.lines().count(), 3, "each is told once: {told}");
    for part in [
        "gone.jpg",
        "half.jpg",
        "missing-file",
        "photo-broken",
        "photo-kind",
    ] {
        assert!(told.contains(part), "{part}: {told}");
    }
    for n in 2..=4 {
        assert!(page.contains(&format!("Photo {n} can’t be shown.")), "{n}");
    }
    // A name that leads out of the folder is no slip but an error.
    std::fs::write(folder.path().join("job.yaml"), record(&["../outside.jpg"])).unwrap();
    check(1);
    ringtrue(folder.path())
        .args(["report", "job.yaml", "--force"])
        .assert()
        .code(1);
}

#[test]
fn a_logo_and_a_letterhead_stand_on_every_paper() {
    let folder = tempfile::tempdir().unwrap();
    let own = folder.path().join("own");
    std::fs::create_dir(&own).unwrap();
    image::RgbImage::from_pixel(60, 20, image::Rgb([20, 60, 90]))
        .save(own.join("mark.png"))
        .unwrap();
    std::fs::write(
        own.join("letterhead.yaml"),
        "name: \"Field & <Stone>\"\nlines: [1 Invented Way, licence 0000]\nlogo: mark.png\n",
    )
    .unwrap();
    let record = format!(
        "{HEAD}{}areas:\n  - {{id: A, name: yard, size: 9 ft x 9 ft, defects: [{{id: 1, kind: scaling}}]}}\n",
        job("A")
    );
    std::fs::write(folder.path().join("job.yaml"), record).unwrap();
    for paper in ["report", "proposal", "crew", "compare"] {
        let mut pages = Vec::new();
        for form in FORMS {
            let out = format!("{paper}.{form}");
            let mut command = ringtrue(folder.path());
            command.args([paper, "job.yaml"]);
            if paper == "compare" {
                command.arg("job.yaml");
            }
            command
                .args(["--templates", "own", "-o", &out])
                .assert()
                .success();
            pages.push(std::fs::read(folder.path().join(&out)).unwrap());
        }
        let page = String::from_utf8_lossy(&pages[0]);
        assert!(page.contains("Field &amp; &lt;Stone&gt;"), "{paper}");
        assert!(page.contains("src=\"data:image/png;base64,"), "{paper}");
    }
    // The same by name, without a folder of templates.
    ringtrue(folder.path())
        .args([
            "crew",
            "job.yaml",
            "--letterhead",
            "own/letterhead.yaml",
            "-o",
            "x.html",
        ])
        .assert()
        .success();
    let page = std::fs::read_to_string(folder.path().join("x.html")).unwrap();
    assert!(page.contains("licence 0000"));
}

#[test]
fn a_broken_page_template_is_told_with_file_line_and_hint() {
    let folder = tempfile::tempdir().unwrap();
    let own = folder.path().join("own");
    std::fs::create_dir(&own).unwrap();
    let record = format!(
        "{HEAD}{}areas:\n  - {{id: A, name: yard, size: 9 ft x 9 ft, defects: [{{id: 1, kind: scaling}}]}}\n",
        job("A")
    );
    std::fs::write(folder.path().join("job.yaml"), record).unwrap();
    for (text, parts) in [
        (
            "<p>\n{{ v.nothing.here }}",
            &["own/report.html", "line 2", "hint:"][..],
        ),
        ("<p>\n\n{% if %}", &["own/report.html", "line 3", "hint:"]),
        (
            "{% extends \"frame.html\" %}",
            &["own/report.html", "frame.html", "hint:"],
        ),
    ] {
        std::fs::write(own.join("report.html"), text).unwrap();
        let told = ringtrue(folder.path())
            .args(["report", "job.yaml", "--templates", "own", "-o", "x.html"])
            .assert()
            .code(2);
        let said = String::from_utf8_lossy(&told.get_output().stderr).into_owned();
        for part in parts {
            assert!(said.contains(part), "{part} is not in: {said}");
        }
        assert!(!folder.path().join("x.html").exists());
    }
}
