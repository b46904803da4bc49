//! The drawings: labels that never collide on random records, SVG that stands alone.

use proptest::prelude::*;
use ringtrue::record::model::Record;
use ringtrue::report::drawings::map::slab_map;
use ringtrue::report::language::Sentences;

use crate::fixture;

const KINDS: [&str; 18] = [
    "scaling",
    "spall",
    "delamination",
    "blisters",
    "popouts",
    "pinholes",
    "dusting",
    "etching",
    "crack",
    "map_cracking",
    "corner_break",
    "debonding",
    "lip",
    "settlement",
    "heave",
    "curling",
    "ponding",
    "stain",
];

/// A record with areas and defects here and there, some without size or place.
fn records() -> impl Strategy<Value = Record> {
    let defect = (
        0_usize..18,
        0..9_u8,
        0.0..40.0_f64,
        0.0..30.0_f64,
        0.2..9.0_f64,
        0.2..9.0_f64,
    );
    let area = (
        0..4_u8,
        1.0..40.0_f64,
        1.0..30.0_f64,
        prop::collection::vec(defect, 0..40),
        0..7_usize,
    );
    prop::collection::vec(area, 1..6).prop_map(|areas| {
        let mut yaml = String::from(
            "ringtrue: 1\njob: {client: a, address: b, date: 2026-01-01, inspector: c}\nsite: {map_up: 200}\nslab: {use: patio}\nareas:\n",
        );
        let mut number = 0;
        let mut edges = String::from("edges:\n");
        let mut stairs = String::from("stairs:\n");
        for (i, (place, w, h, defects, panels)) in areas.iter().enumerate() {
            let x = 12.0 * i as f64;
            yaml += &format!("  - id: A{i}\n    name: A rather long name for area {i}\n");
            match place {
                0 => yaml += &format!("    size: {w:.2} ft x {h:.2} ft\n    origin: [{x} ft, 0 ft]\n"),
                1 => yaml += &format!("    size: {w:.2} ft x {h:.2} ft\n"),
                2 => yaml += &format!("    outline: [[{x} ft, 0 ft], [{:.2} ft, 0 ft], [{x} ft, {h:.2} ft]]\n", x + w),
                _ => {}
            }
            if *panels > 0 {
                let list = vec![format!("{:.2} ft", w / *panels as f64); *panels].join(", ");
                yaml += &format!("    panels: {{columns: [{list}], rows: [{h:.2} ft]}}\n");
            }
            edges += &format!("  - {{area: A{i}, kind: lawn, side: left}}\n  - {{area: A{i}, kind: building, side: top}}\n");
            stairs += &format!("  - {{id: S{i}, risers: [7 in], at: [{x} ft, {h:.2} ft]}}\n");
            yaml += "    defects:\n";
            for (kind, form, dx, dy, dw, dh) in defects {
                number += 1;
                yaml += &format!("      - {{id: {number}, kind: {}", KINDS[*kind]);
                yaml += &match form {
                    0 => String::new(),
                    1 => format!(", at: [{dx:.2} ft, {dy:.2} ft]"),
                    2 => format!(", at: [{dx:.2} ft, {dy:.2} ft], to: [{dw:.2} ft, {dh:.2} ft]"),
                    3 => format!(", at: [{dx:.2} ft, {dy:.2} ft], surface: {dw:.2} ft2"),
                    // Many at one spot.
                    4 => ", at: [1 ft, 1 ft]".to_owned(),
                    _ => format!(", at: [{dx:.2} ft, {dy:.2} ft], extent: {dw:.2} ft x {dh:.2} ft"),
                };
                yaml += "}\n";
            }
            if defects.is_empty() {
                yaml += "      []\n";
            }
        }
        serde_yaml::from_str(&(yaml + &edges + &stairs)).expect("a record")
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn labels_of_the_map_never_collide(record in records()) {
        let map = slab_map(&record, "m", Sentences::none());
        for (i, a) in map.labels.iter().enumerate() {
            prop_assert!(a.x >= -0.01 && a.x + a.w <= 760.01, "{a:?} leaves the drawing");
            for b in &map.labels[i + 1..] {
                prop_assert!(!a.overlaps(*b), "{a:?} and {b:?}");
            }
        }
        prop_assert!(!map.svg.contains("NaN"));
    }
}

#[test]
fn the_map_numbers_every_defect_and_names_every_area() {
    let map = slab_map(&fixture::record(), "m", Sentences::none());
    for number in 1..=8 {
        assert!(
            map.svg.contains(&format!(">{number}</text>")),
            "defect {number}"
        );
    }
    for name in [
        "A Upper patio",
        "B Walk to the gate",
        "C Bin stand",
        "Steps S1",
        "Door D1",
        ">lawn<",
        ">N<",
        ">5 ft<",
    ] {
        assert!(map.svg.contains(name), "{name}");
    }
    assert_eq!(
        map.notes,
        ["Area C is a stand-in: its size and place were not recorded."]
    );
}

#[test]
fn the_map_is_to_scale() {
    // Area A is 20 ft wide, and with area B 24 ft; the scale bar of 5 ft must be 5/20 of A's width.
    let svg = slab_map(&fixture::record(), "m", Sentences::none()).svg;
    let outline = svg
        .split("<path d=\"M")
        .nth(1)
        .unwrap()
        .split('"')
        .next()
        .unwrap();
    let xs: Vec<f64> = outline
        .trim_end_matches('Z')
        .split('L')
        .map(|p| p.split(' ').next().unwrap().parse().unwrap())
        .collect();
    let wide =
        xs.iter().copied().fold(f64::MIN, f64::max) - xs.iter().copied().fold(f64::MAX, f64::min);
    // The bar is four rectangles 7 px high.
    let bar: f64 = svg
        .split("<rect ")
        .filter(|r| r.contains("height=\"7\""))
        .map(|r| {
            r.split("width=\"")
                .nth(1)
                .unwrap()
                .split('"')
                .next()
                .unwrap()
                .parse::<f64>()
                .unwrap()
        })
        .sum();
    assert!((bar - wide / 4.0).abs() < 0.5, "{bar} for {wide}");
}

#[test]
fn every_drawing_has_a_role_a_title_and_a_description() {
    let view = fixture::view(
        &fixture::record(),
        &fixture::assessment(),
        &fixture::method(),
        &[],
    );
    let overlay = view.work.areas[0].overlay.as_ref().unwrap();
    let all = [
        &view.saw.map,
        &view.causes.groups[0].bars,
        &overlay.room,
        &overlay.section,
        &view.work.stairs[0].drawing,
        &view.verdict.ring,
    ];
    for svg in all {
        assert!(
            svg.starts_with("<svg ")
                && svg.contains("role=\"img\"")
                && svg.contains("<title")
                && svg.contains("<desc")
        );
        // Well-formed enough for any XML reader: as many ends as beginnings.
        let open = svg.matches('<').count() - svg.matches("</").count();
        let ends = svg.matches("/>").count() + svg.matches("</").count();
        assert_eq!(open, ends, "{}", &svg[..200]);
    }
}

#[test]
fn the_room_drawing_says_when_nothing_fits() {
    let mut method = fixture::method();
    let overlay = method.areas[0].overlay.as_mut().unwrap();
    overlay.ceiling_mm = 4.0;
    let view = fixture::view(&fixture::record(), &fixture::assessment(), &method, &[]);
    let overlay = view.work.areas[0].overlay.as_ref().unwrap();
    assert!(overlay.room.contains("more than there is room for"));
    let said: String = overlay.sentence.iter().map(|s| s.text.as_str()).collect();
    assert!(said.contains("would need at least 1/4 in"), "{said}");
}

#[test]
fn a_short_first_riser_is_marked_before_and_after() {
    let view = fixture::view(
        &fixture::record(),
        &fixture::assessment(),
        &fixture::method(),
        &[],
    );
    let drawing = &view.work.stairs[0].drawing;
    assert!(drawing.contains("5-1/2 in !") && drawing.contains("5-1/8 in !"));
    assert!(!drawing.contains(">7 in !"));
    assert!(!view.work.stairs[0].kept);
}
