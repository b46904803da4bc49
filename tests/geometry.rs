//! The plane geometry of the slab map on figures small enough to draw on squared paper.

use ringtrue::record::geometry::{
    Bounds, Point, around, bounds, corners, crosses, crossing, gap_between, gap_to, holds, hull,
    inside, on_one_line, overlap, panel_at, places, rectangle, sides_of, surface,
};
use ringtrue::record::model::{AreaRecord, Record};
use serde_json::json;

/// The same figure moved, so that no coordinate is zero, and turned by a quarter.
fn turned(points: &[Point]) -> Vec<Point> {
    points.iter().map(|p| (-p.1 + 70.0, p.0 - 30.0)).collect()
}

fn each_way(points: &[Point]) -> [Vec<Point>; 4] {
    let moved: Vec<Point> = points.iter().map(|p| (p.0 + 5.0, p.1 + 7.0)).collect();
    let mut back = moved.clone();
    back.reverse();
    [points.to_vec(), turned(points), turned(&moved), back]
}

#[test]
fn outlines_whose_sides_stay_apart_are_sound() {
    for outline in [
        &[(0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (0.0, 3.0)][..],
        &[(0.0, 0.0), (4.0, 0.0), (0.0, 3.0)],
        // An L, and a corner in the middle of a straight side.
        &[
            (0.0, 0.0),
            (4.0, 0.0),
            (4.0, 1.0),
            (1.0, 1.0),
            (1.0, 3.0),
            (0.0, 3.0),
        ],
        &[(0.0, 0.0), (2.0, 0.0), (4.0, 0.0), (4.0, 3.0), (0.0, 3.0)],
        // A side that points at another without reaching it.
        &[
            (0.0, 0.0),
            (9.0, 0.0),
            (9.0, 5.0),
            (5.0, 5.0),
            (5.0, 1.0),
            (4.0, 1.0),
            (4.0, 5.0),
            (0.0, 5.0),
        ],
        // A corner close beside a slanting side.
        &[(0.0, 0.0), (4.0, 4.0), (9.0, 4.0), (3.0, 1.0), (0.0, -1.0)],
    ] {
        for way in each_way(outline) {
            assert_eq!(crossing(&way), None, "{way:?}");
        }
    }
}

#[test]
fn sides_that_cross_touch_or_run_back_are_found() {
    for outline in [
        // A bow tie.
        &[(0.0, 0.0), (4.0, 3.0), (4.0, 0.0), (0.0, 3.0)][..],
        // A corner on another side, and one on another corner.
        &[(0.0, 0.0), (4.0, 0.0), (4.0, 4.0), (2.0, 0.0), (0.0, 4.0)],
        &[
            (0.0, 0.0),
            (4.0, 0.0),
            (2.0, 2.0),
            (4.0, 4.0),
            (0.0, 4.0),
            (2.0, 2.0),
        ],
        // A side that runs back along the one before.
        &[(0.0, 0.0), (4.0, 0.0), (2.0, 0.0), (2.0, 3.0)],
        &[(2.0, 0.0), (2.0, 3.0), (0.0, 0.0), (4.0, 0.0)],
        // Two sides of one line, one over the other.
        &[
            (0.0, 0.0),
            (6.0, 0.0),
            (6.0, 2.0),
            (5.0, 2.0),
            (5.0, 0.0),
            (1.0, 0.0),
            (1.0, 2.0),
            (0.0, 2.0),
        ],
    ] {
        for way in each_way(outline) {
            assert!(crossing(&way).is_some(), "{way:?}");
        }
    }
    // Which two sides: the first and the third of a bow tie; a side and the one before it; the first
    // and the last, which runs back along it.
    for (outline, pair) in [
        ([(0.0, 0.0), (4.0, 3.0), (4.0, 0.0), (0.0, 3.0)], (0, 2)),
        ([(0.0, 0.0), (4.0, 0.0), (2.0, 0.0), (2.0, 3.0)], (0, 1)),
        ([(0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (6.0, 0.0)], (0, 3)),
    ] {
        assert_eq!(crossing(&outline), Some(pair), "{outline:?}");
    }
}

#[test]
fn corners_on_one_line_make_no_surface() {
    for (points, flat) in [
        (&[][..], true),
        (&[(1.0, 1.0)], true),
        (&[(1.0, 1.0), (1.0, 1.0), (1.0, 1.0)], true),
        (&[(1.0, 1.0), (2.0, 3.0), (4.0, 7.0)], true),
        (&[(1.0, 1.0), (1.0, 1.0), (2.0, 3.0), (4.0, 7.0)], true),
        (&[(1.0, 1.0), (2.0, 3.0), (4.0, 6.0)], false),
        (&[(1.0, 1.0), (1.0, 1.0), (2.0, 3.0), (4.0, 6.0)], false),
    ] {
        assert_eq!(on_one_line(points), flat, "{points:?}");
    }
    // A triangle on 3 and 4 is 6, an L of 4 + 2 squares as well.
    assert_eq!(surface(&[(5.0, 5.0), (8.0, 5.0), (5.0, 9.0)]), 6.0);
    let l = [
        (0.0, 0.0),
        (4.0, 0.0),
        (4.0, 1.0),
        (1.0, 1.0),
        (1.0, 3.0),
        (0.0, 3.0),
    ];
    for way in each_way(&l) {
        assert_eq!(surface(&way), 6.0);
    }
}

const BOX: Bounds = ((2.0, 3.0), (6.0, 5.0));

#[test]
fn rectangles_meet_and_stand_apart() {
    assert_eq!(
        rectangle((2.0, 3.0), 4.0, 2.0),
        [(2.0, 3.0), (6.0, 3.0), (6.0, 5.0), (2.0, 5.0)]
    );
    assert_eq!(around((4.0, 4.0), 4.0, 2.0), BOX);
    assert_eq!(bounds(&[(6.0, 3.0), (2.0, 5.0), (4.0, 4.0)]), Some(BOX));
    assert_eq!(bounds(&[]), None);
    for (other, meets, gap) in [
        (((5.0, 4.0), (9.0, 9.0)), true, 0.0),
        // An edge or a corner alone is not shared surface.
        (((6.0, 3.0), (9.0, 5.0)), false, 0.0),
        (((2.0, 5.0), (6.0, 8.0)), false, 0.0),
        (((6.0, 5.0), (9.0, 9.0)), false, 0.0),
        (((7.5, 3.0), (9.0, 5.0)), false, 1.5),
        (((2.0, 0.0), (6.0, 1.0)), false, 2.0),
        // 3 to the right and 4 up.
        (((9.0, 9.0), (10.0, 10.0)), false, 5.0),
    ] {
        assert_eq!(overlap(BOX, other), meets, "{other:?}");
        assert_eq!(overlap(other, BOX), meets, "{other:?}");
        assert_eq!(gap_between(BOX, other), gap, "{other:?}");
        assert_eq!(gap_between(other, BOX), gap, "{other:?}");
    }
    assert_eq!(
        hull(BOX, ((0.0, 4.0), (3.0, 9.0))),
        ((0.0, 3.0), (6.0, 9.0))
    );
    for (p, lies, gap) in [
        ((4.0, 4.0), true, 0.0),
        ((2.0, 5.0), true, 0.0),
        ((9.0, 9.0), false, 5.0),
        ((0.0, 4.0), false, 2.0),
        ((4.0, 2.0), false, 1.0),
    ] {
        assert_eq!(inside(BOX, p), lies, "{p:?}");
        assert_eq!(gap_to(BOX, p), gap, "{p:?}");
    }
}

#[test]
fn a_line_touches_a_rectangle() {
    for (from, to, touches) in [
        ((0.0, 4.0), (9.0, 4.0), true),
        ((4.0, 0.0), (4.0, 9.0), true),
        ((0.0, 0.0), (8.0, 8.0), true),
        ((3.0, 4.0), (4.0, 4.5), true),
        // Along an edge and through a corner.
        ((0.0, 3.0), (9.0, 3.0), true),
        ((2.0, 0.0), (2.0, 9.0), true),
        ((6.0, 0.0), (6.0, 9.0), true),
        ((0.0, 5.0), (9.0, 5.0), true),
        ((1.0, 4.0), (3.0, 2.0), true),
        // Beside it, before it, past a corner.
        ((0.0, 2.9), (9.0, 2.9), false),
        ((0.0, 5.1), (9.0, 5.1), false),
        ((1.9, 0.0), (1.9, 9.0), false),
        ((6.1, 0.0), (6.1, 9.0), false),
        ((0.0, 4.0), (1.0, 4.0), false),
        ((7.0, 4.0), (9.0, 4.0), false),
        ((0.0, 4.0), (3.0, 1.0), false),
    ] {
        assert_eq!(crosses(BOX, from, to), touches, "{from:?} {to:?}");
        assert_eq!(crosses(BOX, to, from), touches, "{to:?} {from:?}");
    }
}

#[test]
fn a_point_lies_in_an_outline_or_near_it() {
    let l = [
        (0.0, 0.0),
        (4.0, 0.0),
        (4.0, 1.0),
        (1.0, 1.0),
        (1.0, 3.0),
        (0.0, 3.0),
    ];
    for (p, slack, lies) in [
        ((0.5, 2.0), 0.0, true),
        ((3.0, 0.5), 0.0, true),
        ((3.0, 2.0), 0.0, false),
        ((3.0, 2.0), 1.0, true),
        ((3.0, 2.0), 0.9, false),
        ((-1.0, 2.0), 0.0, false),
        ((-1.0, 2.0), 1.0, true),
        ((5.0, 0.5), 0.5, false),
        ((4.0, 0.5), 0.0, true),
        // 3 to the right of a corner and 4 below it.
        ((7.0, -4.0), 5.0, true),
        ((7.0, -4.0), 4.9, false),
        ((0.5, 5.0), 1.9, false),
        ((0.5, 5.0), 2.0, true),
    ] {
        assert_eq!(holds(&l, p, slack), lies, "{p:?} {slack}");
    }
    // A slope: the side from (4, 0) to (0, 4).
    let slope = [(0.0, 0.0), (4.0, 0.0), (0.0, 4.0)];
    for (p, lies) in [
        ((1.9, 2.0), true),
        ((2.1, 2.0), false),
        ((1.0, 2.9), true),
        ((3.1, 1.0), false),
    ] {
        assert_eq!(holds(&slope, p, 0.0), lies, "{p:?}");
    }
}

fn area(mut place: serde_json::Value) -> AreaRecord {
    place["id"] = json!("A");
    place["name"] = json!("a yard");
    serde_json::from_value(place).unwrap()
}

#[test]
fn an_area_stands_where_its_outline_or_its_origin_puts_it() {
    let triangle = json!([["0 m", "0 m"], ["4 m", "0 m"], ["0 m", "3 m"]]);
    let both = json!({"outline": triangle, "size": "1 m x 2 m", "origin": ["5 m", "6 m"]});
    assert_eq!(
        corners(&area(both)).unwrap(),
        [(0.0, 0.0), (4000.0, 0.0), (0.0, 3000.0)]
    );
    let by_size = rectangle((5000.0, 6000.0), 1000.0, 2000.0);
    // Two corners, and corners above or beside one another, enclose nothing.
    for outline in [
        json!([]),
        json!([["0 m", "0 m"], ["4 m", "3 m"]]),
        json!([["0 m", "0 m"], ["4 m", "0 m"], ["2 m", "0 m"]]),
        json!([["0 m", "0 m"], ["0 m", "3 m"], ["0 m", "1 m"]]),
        json!([["0 m", "0 m"], ["4 m", "0 m"], ["unknown", "3 m"]]),
    ] {
        let place = json!({"outline": outline, "size": "1 m x 2 m", "origin": ["5 m", "6 m"]});
        assert_eq!(corners(&area(place)), Some(by_size.clone()), "{outline}");
    }
    for nowhere in [
        json!({"size": "1 m x 2 m"}),
        json!({"origin": ["5 m", "6 m"]}),
    ] {
        assert_eq!(corners(&area(nowhere.clone())), None, "{nowhere}");
    }
    assert_eq!(
        sides_of(&"1 to 2 m x 3 m".parse().unwrap()),
        Some((1500.0, 3000.0))
    );
}

#[test]
fn an_only_area_without_a_place_stands_at_the_corner_of_the_map() {
    let with = |areas: serde_json::Value| -> Record {
        serde_json::from_value(json!({
            "ringtrue": 1,
            "job": {"client": "C", "address": "A", "date": "2026-05-14", "inspector": "I"},
            "site": {},
            "slab": {"use": "walk", "placed": "2014", "thickness": "4 in", "finish": "broom"},
            "areas": areas,
        }))
        .unwrap()
    };
    let one = json!({"id": "A", "name": "a", "size": "1 m x 2 m"});
    let two = json!({"id": "B", "name": "b", "size": "1 m x 2 m", "origin": ["5 m", "6 m"]});
    let corner = rectangle((0.0, 0.0), 1000.0, 2000.0);
    let there = rectangle((5000.0, 6000.0), 1000.0, 2000.0);
    assert_eq!(places(&with(json!([one]))), [Some(corner)]);
    assert_eq!(places(&with(json!([two]))), [Some(there.clone())]);
    assert_eq!(places(&with(json!([one, two]))), [None, Some(there)]);
}

#[test]
fn what_is_no_name_of_a_panel_is_refused() {
    for (name, at) in [
        ("A1", Some((0, 0))),
        ("ZZZ999999", Some((18_277, 999_998))),
        ("", None),
        ("A", None),
        ("1", None),
        ("A0", None),
        ("A01", None),
        ("A1B", None),
        ("a1", None),
        ("AAAA1", None),
        ("A1000000", None),
    ] {
        assert_eq!(panel_at(name), at, "{name}");
    }
}
