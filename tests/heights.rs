//! What stairs and doors allow, out of small records and at the very limits. Expected values are worked
//! by hand: an inch is 25.4 mm; riser limits are those of a house (7-3/4 in greatest, 3/8 in difference).

use ringtrue::facts::{Interval, Value};
use ringtrue::record::{self};
use ringtrue::rules::{Pack, builtin};
use ringtrue::source::SourceFile;
use ringtrue::survey::heights::{
    Door, LipLimits, LipWay, RiserLimit, RiserRule, StairEnd, StairWork, WayOut, check_door,
    deal_with_lip, new_level,
};
use ringtrue::survey::{Survey, survey};
use ringtrue::units::Length;
use uom::si::length::millimeter;

fn mm(x: f64) -> Length {
    Length::new::<millimeter>(x)
}

/// The survey of a walk of two areas with some more lines of the record.
fn surveyed(pack: &Pack, more: &str) -> Survey {
    let text = format!(
        "
ringtrue: 1
job: {{client: C, address: A, date: 2026-05-14, inspector: I}}
site: {{weathering: moderate, deicers: none, soil: gravel, drainage: good}}
slab: {{use: walk, placed: 2014, thickness: 4 in, finish: broom, support: on_ground, covering: none}}
areas:
  - {{id: A, name: walk, size: 20 ft x 8 ft, origin: [0 ft, 0 ft]}}
  - {{id: B, name: landing, size: 20 ft x 8 ft, origin: [0 ft, 8 ft]}}
{more}
"
    );
    let file = SourceFile::new("r.yaml", text);
    let (loaded, problems) = record::read(&file, None, None, Some(&pack.vocabulary));
    let record = loaded.unwrap_or_else(|| panic!("{problems}")).record;
    survey(&record, &pack.vocabulary)
}

fn range(value: Value) -> (f64, f64) {
    match value {
        Value::Number(Interval { lo, hi, .. }) => (lo, hi),
        other => panic!("{other:?}"),
    }
}

#[track_caller]
fn lies(value: Value, inches: (f64, f64)) {
    let (lo, hi) = range(value);
    // A thousandth of a millimetre is rounding to every comparison of heights.
    let near = |mm: f64, inches: f64| (mm - inches * 25.4).abs() < 2e-3;
    assert!(
        near(lo, inches.0) && near(hi, inches.1),
        "{lo} to {hi} mm for {inches:?} in"
    );
}

#[test]
fn risers_differ_by_the_highest_less_the_lowest() {
    let pack = &builtin().unwrap();
    let found = surveyed(
        pack,
        "stairs:\n  - {id: s, from: A, risers: [6 to 7 in, 8 in], treads: [11 in]}",
    );
    let of = |fact: &str| found.value(&pack.vocabulary, found.stairs[0], fact);
    lies(of("riser_greatest"), (8.0, 8.0));
    lies(of("riser_difference"), (1.0, 2.0));
}

#[test]
fn a_first_step_is_held_against_the_middle_one_of_the_others() {
    let pack = &builtin().unwrap();
    for (risers, short) in [
        // 5, 6 and 8 in: the middle one is 6.
        ("4 in, 8 in, 5 in, 6 in", (2.0, 2.0)),
        ("4 in, 6 in, 8 in, 5 in", (2.0, 2.0)),
        // By their middles 5.25, 5.5 and 8 in.
        ("4 in, 1 to 10 in, 8 in, 5 to 5-1/2 in", (0.0, 6.0)),
    ] {
        let found = surveyed(
            pack,
            &format!(
                "stairs:\n  - {{id: s, from: A, risers: [{risers}], treads: [11 in, 11 in, 11 in]}}"
            ),
        );
        let area = found.areas[0].thing;
        lies(
            found.value(&pack.vocabulary, area, "first_step_short"),
            short,
        );
    }
}

#[test]
fn a_stair_outside_its_limits_allows_no_layer() {
    let pack = &builtin().unwrap();
    let headroom = |more: &str, area: usize| {
        let found = surveyed(pack, more);
        found.value(&pack.vocabulary, found.areas[area].thing, "headroom")
    };
    // The first is 2 in higher than the others: a layer of 2 in at its foot would mend it, a thin one
    // would not.
    let stair = |risers: &str| {
        format!("stairs:\n  - {{id: s, from: A, risers: [{risers}], treads: [11 in, 11 in]}}")
    };
    lies(headroom(&stair("9 in, 7 in, 7 in"), 0), (0.0, 0.0));
    lies(headroom(&stair("7 in, 7 in, 7 in"), 0), (0.375, 0.375));
    // A drain at one area leaves its height open; the other has nothing that limits it.
    let drain = "edges:\n  - {area: A, kind: drain, side: left}";
    assert_eq!(headroom(drain, 0), Value::Unknown);
    let headroom_fact = pack.vocabulary.find("headroom").unwrap();
    let top = pack.vocabulary.fact(headroom_fact).range.unwrap().hi;
    assert_eq!(range(headroom(drain, 1)), (top, top));
}

#[test]
fn a_wished_finish_needs_its_thickness() {
    let pack = &builtin().unwrap();
    // 1/16 in for a plain finish, 1/4 in for a shallow relief, 3/8 in for a deep one.
    for (wish, need) in [
        ("", (0.0, 0.0)),
        ("wishes: {finish: as_is}", (0.0, 0.0)),
        ("wishes: {finish: sealed}", (0.0, 0.0)),
        ("wishes: {finish: plain}", (0.0625, 0.0625)),
        ("wishes: {finish: patterned, relief: shallow}", (0.25, 0.25)),
        ("wishes: {finish: patterned, relief: deep}", (0.375, 0.375)),
        ("wishes: {finish: patterned}", (0.25, 0.375)),
    ] {
        let found = surveyed(pack, wish);
        let area = found.areas[0].thing;
        lies(found.value(&pack.vocabulary, area, "overlay_need"), need);
    }
}

#[test]
fn the_room_left_is_nothing_where_only_rounding_is_left() {
    let pack = &builtin().unwrap();
    let left = |more: &str| {
        let found = surveyed(
            pack,
            &format!("{more}\nwishes: {{finish: patterned, relief: deep}}"),
        );
        found.value(&pack.vocabulary, found.areas[0].thing, "room_left")
    };
    // Equal risers allow 3/8 in, which is what the relief takes.
    let stair = "stairs:\n  - {id: s, from: A, risers: [7 in, 7 in, 7 in], treads: [11 in, 11 in]}";
    assert_eq!(range(left(stair)), (0.0, 0.0));
    // A drop of 11/16 in less a lip of 1/4 in is 7/16 in, 1/16 in more than needed.
    let door = "thresholds:\n  - {id: d, area: A, drop: 11/16 in, at: [0 ft, 0 ft]}";
    lies(left(door), (0.0625, 0.0625));
}

#[test]
fn a_door_keeps_what_it_keeps_exactly() {
    let door = Door {
        drop: mm(30.0),
        clearance: Some(mm(15.0)),
        greatest_drop: mm(20.0),
        leave_clear: mm(5.0),
        leave_lip: mm(20.0),
    };
    // 10 mm: a drop of 20 mm, which is the greatest and the least lip, and 5 mm under the leaf.
    let at = check_door(door, mm(10.0));
    assert!(at.drop_kept && at.lip_kept && at.swings && !at.drop_kept_before);
    let less = check_door(door, mm(9.9));
    assert!(!less.drop_kept && less.lip_kept && less.swings);
    let more = check_door(door, mm(10.1));
    assert!(more.drop_kept && !more.lip_kept && !more.swings);
    // The thickest layer: by the lip 30 less 20, by the leaf 12 less 5.
    let of = |clearance| check_door(Door { clearance, ..door }, mm(1.0)).greatest_mm;
    let near = |found: f64, expected: f64| (found - expected).abs() < 1e-9;
    assert!(near(of(None), 10.0) && near(of(Some(mm(12.0))), 7.0));
}

#[test]
fn a_trip_lip_is_dealt_with_by_its_height() {
    let limits = LipLimits {
        leave_to: mm(6.0),
        bevel_to: mm(12.0),
        bevel_slope: 0.5,
        ramp_slope: 0.1,
    };
    let way = |height: f64| deal_with_lip(mm(height), limits).unwrap();
    assert_eq!(way(6.0), LipWay::Leave);
    // 12 mm at 1:2.
    match way(12.0) {
        LipWay::Bevel { length_mm } => assert!((length_mm - 24.0).abs() < 1e-9),
        other => panic!("{other:?}"),
    }
    match way(13.0) {
        LipWay::Ramp { length_mm } => assert!((length_mm - 130.0).abs() < 1e-9),
        other => panic!("{other:?}"),
    }
}

#[test]
fn new_concrete_at_a_stair_changes_its_level_only_where_it_must() {
    let limits = [RiserLimit {
        rule: RiserRule::Difference,
        limit_mm: 9.0,
        source: "invented".into(),
    }];
    let risers = [mm(180.0), mm(180.0), mm(180.0)];
    let planned = |below: f64| {
        let work = StairWork {
            below: mm(below),
            treads: mm(0.0),
            above: mm(0.0),
        };
        new_level(&risers, work, &limits, StairEnd::Foot)
    };
    assert_eq!(planned(5.0), None);
    // 10 mm makes the first riser 170 mm, 1 mm too little.
    match planned(10.0) {
        Some(WayOut::NewLevel {
            at: StairEnd::Foot,
            change_mm,
        }) => assert!((change_mm - 9.0).abs() < 2e-3, "{change_mm}"),
        other => panic!("{other:?}"),
    }
}
