//! The owner's report from a hand-built patio: complete, self-contained, the same every time, and
//! legible whatever is written into the record.

mod fixture;

use std::path::Path;

use ringtrue::report::photos::{self, Photo};
use ringtrue::report::{Sources, View, html};
use ringtrue::source::Problems;

fn photo_folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    // Grey mottled picture with a darker patch: enough to look at, no photograph of anything.
    for (name, w, h) in [("scaling.jpg", 1600_u32, 1100_u32), ("lip.jpg", 900, 1200)] {
        let picture = image::RgbImage::from_fn(w, h, |x, y| {
            let n = (x.wrapping_mul(374_761_393) ^ y.wrapping_mul(668_265_263)) >> 13 & 31;
            let (dx, dy) = (
                f64::from(x) - f64::from(w) / 2.0,
                f64::from(y) - f64::from(h) / 2.0,
            );
            let base = if (dx * dx + dy * dy).sqrt() < f64::from(h) / 3.0 {
                95
            } else {
                158
            };
            let v = u8::try_from(base + n).unwrap();
            image::Rgb([v, v - 4, v - 12])
        });
        picture.save(folder.path().join(name)).unwrap();
    }
    folder
}

fn view_with(photos: &[Photo]) -> View {
    let (record, vocabulary) = (fixture::record(), fixture::vocabulary());
    let (assessment, method) = (fixture::assessment(), fixture::method());
    View::build(Sources {
        record: &record,
        assessment: &assessment,
        method: &method,
        photos,
        vocabulary: &vocabulary,
    })
}

fn photos(folder: &Path, problems: &mut Problems) -> Vec<Photo> {
    photos::load(folder, &fixture::record(), problems)
}

/// Leaves the page where a person can look at it.
fn leave(name: &str, page: &str) {
    std::fs::write(Path::new(env!("CARGO_TARGET_TMPDIR")).join(name), page).unwrap();
}

#[test]
fn the_page_is_whole_and_the_same_every_time() {
    let folder = photo_folder();
    let mut problems = Problems::default();
    let photos = photos(folder.path(), &mut problems);
    // crack.jpg is not there: one problem, and the report still comes.
    assert_eq!(problems.len(), 1);
    assert!(problems.to_plain().contains("photo-missing"), "{problems}");
    let page = html(&view_with(&photos)).unwrap();
    leave("report.html", &page);
    assert_eq!(page, html(&view_with(&photos)).unwrap());
    assert!(page.contains("Photo 2 can’t be shown"));
}

#[test]
fn the_terminal_summary_keeps_to_its_width() {
    use ringtrue::report::text::{Layout, summary};
    let view = view_with(&[]);
    for columns in [40, 80, 200] {
        let text = summary(
            &view,
            Layout {
                columns,
                colour: false,
                written: Some("patio.html"),
            },
        );
        assert!(
            text.lines().all(|l| l.chars().count() <= columns.min(80)),
            "{text}"
        );
        assert!(!text.contains('\u{1b}'), "colour only when asked");
    }
    let coloured = summary(
        &view,
        Layout {
            columns: 80,
            colour: true,
            written: None,
        },
    );
    assert!(coloured.contains("\u{1b}["));
    leave(
        "summary.txt",
        &summary(
            &view,
            Layout {
                columns: 80,
                colour: false,
                written: Some("patio.html"),
            },
        ),
    );
}
