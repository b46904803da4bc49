//! The programme's days, its calendar file and its phases, on cases small enough for a calendar on the
//! wall. 15 May 2026 is a Friday.
#![cfg(feature = "pages")]

use jiff::civil::{Date, date};
use ringtrue::plan::clock::{PanelToPlace, stop_lines};
use ringtrue::plan::money::Estimate;
use ringtrue::plan::programme::{
    Activity, Calendar, Dated, Link, Phase, Way, calendar_file, dates, phases,
};

const FRIDAY: Date = date(2026, 5, 15);
const MONDAY: Date = date(2026, 5, 18);

fn activity(id: &str, days: f64, after: &[&str]) -> Activity {
    Activity {
        id: id.into(),
        name: id.into(),
        days: Estimate::exact(days),
        wait: false,
        fresh: false,
        not_before: None,
        after: (after.iter())
            .map(|id| Link {
                id: (*id).into(),
                lag_days: 0.0,
            })
            .collect(),
    }
}

/// First day, last day and days off of the last activity.
fn last(activities: &[Activity], start: Date) -> (Date, Date, u32) {
    let dated = dates(activities, start, &Calendar::default()).unwrap();
    let d = dated.last().unwrap();
    (d.first, d.last, d.days_off)
}

#[test]
fn work_goes_on_after_the_weekend_where_it_stopped() {
    // Half of Friday is used; a whole day takes the other half and half of Monday.
    let half = activity("a", 0.5, &[]);
    let whole = activity("b", 1.0, &["a"]);
    assert_eq!(last(&[half.clone(), whole], FRIDAY), (FRIDAY, MONDAY, 2));
    // What may not begin before the day that is half used keeps the other half of it.
    let mut more = activity("b", 0.75, &["a"]);
    more.not_before = Some(FRIDAY);
    assert_eq!(last(&[half.clone(), more], FRIDAY), (FRIDAY, MONDAY, 2));
    // A wait of a day and a half from Friday noon ends with Saturday; work begins on Monday.
    let mut wait = activity("w", 1.25, &["a"]);
    wait.wait = true;
    let then = activity("b", 1.0, &["w"]);
    assert_eq!(last(&[half, wait, then], FRIDAY), (MONDAY, MONDAY, 0));
}

#[test]
fn parts_that_add_up_to_whole_days_end_with_the_last_of_them() {
    // 0.8 + 1.6 + 0.6 is three days, and a bit of rounding more in floating point.
    let three = [
        activity("a", 0.8, &[]),
        activity("b", 1.6, &["a"]),
        activity("c", 0.6, &["b"]),
    ];
    let wednesday = date(2026, 5, 20);
    assert_eq!(last(&three, MONDAY), (wednesday, wednesday, 0));
    // Waits of 0.22 and 0.78 days are a day, and a bit more in floating point.
    let mut waits = [activity("a", 0.22, &[]), activity("b", 0.78, &["a"])];
    for wait in &mut waits {
        wait.wait = true;
    }
    assert_eq!(last(&waits, MONDAY).1, MONDAY);
    // The next begins in the morning of the day after.
    let mut four = three.to_vec();
    four.push(activity("d", 1.0, &["c"]));
    let thursday = date(2026, 5, 21);
    assert_eq!(last(&four, MONDAY), (thursday, thursday, 0));
}

#[test]
fn a_calendar_file_is_folded_and_escaped_as_its_standard_says() {
    // RFC 5545: lines of 75 octets at most (3.1), no control marks in text (3.3.11).
    let entry = |id: &str, name: &str| Dated {
        id: id.into(),
        name: name.into(),
        first: FRIDAY,
        last: FRIDAY,
        days_off: 0,
        wait: false,
    };
    let of = |id: &str, name: &str| calendar_file(&[entry(id, name)], "job", "1", FRIDAY);
    let long = of("a", &"x".repeat(200));
    assert_eq!(long.split("\r\n").map(str::len).max(), Some(75));
    assert!(of("a", "cut\u{7}, then;\tfill").contains("SUMMARY:cut\\, then\\; fill\r\n"));
    // Letters, digits, hyphens and underscores stay; a space is 20 in hexadecimal.
    assert!(of("Cut-1_b c", "n").contains("UID:Cut-1_bx20c-20260515@"));
}

fn way(area: &str, touches: &[&str], doors: &[&str], from_outside: bool) -> Way {
    Way {
        area: area.into(),
        touches: touches.iter().map(|t| (*t).into()).collect(),
        doors: doors.iter().map(|d| (*d).into()).collect(),
        from_outside,
    }
}

fn split(ways: &[Way], work_on: &[&str]) -> Vec<(Vec<String>, Vec<String>)> {
    let work_on: Vec<String> = work_on.iter().map(|a| (*a).into()).collect();
    let of = |p: Phase| (p.areas, p.reachable);
    phases(ways, &work_on).into_iter().map(of).collect()
}

#[test]
fn a_door_stays_reachable_in_every_phase_where_one_can() {
    let words = |list: &[&str]| list.iter().map(|w| (*w).to_owned()).collect::<Vec<_>>();
    // Two walks to one landing, named from one side only.
    let two = [
        way("left", &["landing"], &[], true),
        way("right", &[], &[], true),
        way("landing", &["right"], &["door"], false),
    ];
    assert_eq!(
        split(&two, &["left", "right"]),
        [
            (words(&["left"]), words(&["door"])),
            (words(&["right"]), words(&["door"])),
        ]
    );
    // The landing itself cuts the door off: a phase of its own, with no door.
    assert_eq!(
        split(&two, &["landing", "left"]),
        [
            (words(&["landing"]), words(&[])),
            (words(&["left"]), words(&["door"])),
        ]
    );
    // Where there is no door all is done at once.
    let none = [way("a", &[], &[], true), way("b", &[], &[], true)];
    assert_eq!(
        split(&none, &["a", "b"]),
        [(words(&["a", "b"]), words(&[]))]
    );
}

#[test]
fn a_panel_as_large_as_the_largest_bay_fits_and_a_larger_one_stands_alone() {
    let panels = |areas: &[f64]| -> Vec<PanelToPlace> {
        (areas.iter())
            .map(|area_m2| PanelToPlace {
                name: String::new(),
                area_m2: *area_m2,
            })
            .collect()
    };
    let bays = |areas: &[f64]| -> Vec<(usize, bool)> {
        (stop_lines(&panels(areas), 8.0).iter())
            .map(|b| (b.panels.len(), b.fits))
            .collect()
    };
    assert_eq!(bays(&[8.0]), [(1, true)]);
    assert_eq!(bays(&[3.0, 5.0]), [(2, true)]);
    assert_eq!(bays(&[9.0, 4.0]), [(1, false), (1, true)]);
}
