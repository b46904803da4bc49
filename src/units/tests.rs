//! Hand-calculated readings, and properties that hold for every measure.

use proptest::prelude::*;

use super::{Kind, Length, Measured, Notation, Size, System, canonical};
use crate::units::Interval;

fn one(kind: Kind, text: &str) -> f64 {
    let value = kind.read(text).unwrap_or_else(|e| panic!("{text}: {e}"));
    assert!(value.is_exact(), "{text} is a range");
    value.lo
}

fn range(kind: Kind, text: &str) -> (f64, f64) {
    let value = kind.read(text).unwrap_or_else(|e| panic!("{text}: {e}"));
    (value.lo, value.hi)
}

fn refused(kind: Kind, text: &str) -> String {
    match kind.read(text) {
        Ok(value) => panic!("{text} was read as {value:?}"),
        Err(error) => format!("{} | {}", error.message, error.hint),
    }
}

#[test]
fn lengths_are_read_as_the_trade_writes_them() {
    // 25.4 mm to the inch, 304.8 mm to the foot.
    for (text, mm) in [
        ("3/8 in", 9.525),
        ("3/8\"", 9.525),
        ("⅜ in.", 9.525),
        ("1-1/2 in", 38.1),
        ("1 1/2 in", 38.1),
        ("1½ inches", 38.1),
        ("5' 6\"", 1676.4),
        ("5'6\"", 1676.4),
        ("5 ft 6 in", 1676.4),
        ("5’ 6”", 1676.4),
        ("5'-6 1/2\"", 1689.1),
        ("5' - 6-1/2\"", 1689.1),
        ("12 ft", 3657.6),
        ("12'", 3657.6),
        ("10 mm", 10.0),
        ("10mm", 10.0),
        ("1.5 cm", 15.0),
        (".5 in", 12.7),
        ("-3/4 in", -19.05),
        ("−3/4 in", -19.05),
        ("+2 in", 50.8),
        ("30 mils", 0.762),
        ("0", 0.0),
    ] {
        assert_eq!(one(Kind::Length, text), mm, "{text}");
    }
    assert_eq!(Kind::Length.read("3/8 in"), Kind::Length.read("9.525 mm"));
}

#[test]
fn ranges_take_their_unit_from_the_last_end() {
    // A US quart is 57.75 cubic inches of 16.387064 mL: 0.946352946 L.
    assert_eq!(
        range(Kind::Volume, "3 to 3-1/2 qt"),
        (2.839_058_838, 3.312_235_311)
    );
    for text in [
        "4 to 8 mm",
        "4..8 mm",
        "4–8 mm",
        "4 – 8 mm",
        "4 mm to 8 mm",
        "4 mm to 0.8 cm",
    ] {
        assert_eq!(range(Kind::Length, text), (4.0, 8.0), "{text}");
    }
    assert_eq!(range(Kind::Length, "6 in to 1' 6\""), (152.4, 457.2));
    assert_eq!(
        range(Kind::Temperature, "50 to 90 F"),
        (10.0, canonical(58.0 / 1.8))
    );
    assert_eq!(range(Kind::Length, "-1/2 to 1/2 in"), (-12.7, 12.7));
    assert_eq!(range(Kind::Number, "3 to 5"), (3.0, 5.0));
    assert_eq!(
        range(Kind::Slope, "1:60 to 1:50"),
        (canonical(1.0 / 60.0), 0.02)
    );
    assert_eq!(range(Kind::Length, "0 to 150 mm"), (0.0, 150.0));
}

#[test]
fn other_measures_are_read_in_their_units() {
    assert_eq!(
        one(Kind::Temperature, "72 F"),
        one(Kind::Temperature, "72 °F")
    );
    assert_eq!(one(Kind::Temperature, "32 F"), 0.0);
    assert_eq!(one(Kind::Temperature, "-40 F"), -40.0);
    assert_eq!(one(Kind::Share, "12 %"), 0.12);
    assert_eq!(one(Kind::Share, "12%"), 0.12);
    assert_eq!(one(Kind::Share, "7 percent"), 0.07);
    // 1/4 in over 12 in; and one in forty-eight is the same slope.
    for text in [
        "1/4 in/ft",
        "1/4 in per ft",
        "1/4\"/ft",
        "1/4 inch per foot",
        "1:48",
    ] {
        assert_eq!(one(Kind::Slope, text), canonical(1.0 / 48.0), "{text}");
    }
    assert_eq!(one(Kind::Slope, "-2 %"), -0.02);
    for text in [
        "360 ft2",
        "360 ft²",
        "360 sq ft",
        "360 sq. ft.",
        "360 square feet",
        "360 ft^2",
        "40 yd2",
    ] {
        // 360 × 0.09290304 m².
        assert_eq!(one(Kind::Area, text), 33.445_094_4, "{text}");
    }
    assert_eq!(one(Kind::Duration, "18 months"), 547.875);
    assert_eq!(one(Kind::Duration, "36 h"), 1.5);
    assert_eq!(one(Kind::Duration, "1 h 30 min"), 0.0625);
    assert_eq!(one(Kind::Duration, "6 weeks"), 42.0);
    assert_eq!(
        one(Kind::Coverage, "200 sq ft per gallon"),
        one(Kind::Coverage, "200 ft2/gal")
    );
    assert_eq!(
        one(Kind::SpreadRate, "0.2 lb/ft2/h"),
        one(Kind::SpreadRate, "0.2 lb per sq ft per hour")
    );
    assert_eq!(one(Kind::Speed, "10 m/s"), 36.0);
    assert_eq!(
        one(Kind::Pressure, "4000 psi"),
        one(Kind::Pressure, "4 ksi")
    );
    assert_eq!(one(Kind::Mass, "5 lb 8 oz"), one(Kind::Mass, "5.5 lb"));
}

#[test]
fn refusals_say_how_to_write_it() {
    let table = [
        (
            Kind::Length,
            "4",
            "a bare number needs its unit | write `4 in` or `4 mm`, whichever it is",
        ),
        (
            Kind::Temperature,
            "0",
            "a bare number needs its unit | write `0 F` or `0 C`, whichever it is",
        ),
        (
            Kind::Share,
            "0.12",
            "a bare number needs its unit | write `12 %` if it is a fraction of one, `0.12 %` if it is per cent",
        ),
        (
            Kind::Length,
            "4-8 mm",
            "the hyphen in `4-8 mm` can be read as a range or as a fraction | write a range with `to`: `4 to 8 mm`",
        ),
        (
            Kind::Length,
            "4 - 8 mm",
            "the hyphen in `4 - 8 mm` can be read as a range or as a fraction | write a range with `to`: `4 to 8 mm`",
        ),
        (
            Kind::Length,
            "1,5 mm",
            "a decimal is written with a point | write `1.5 mm`",
        ),
        (
            Kind::Pressure,
            "4,000 psi",
            "a comma in a number can be read two ways | write `4000 psi` if it parts thousands, `4.000 psi` if it is a decimal",
        ),
        (
            Kind::Length,
            "about 4 in",
            "`about` does not say how near it is | write the range you are sure of, for example `4 to 8 mm`",
        ),
        (
            Kind::Length,
            "~4 in",
            "`~` does not say how near it is | write the range you are sure of, for example `4 to 8 mm`",
        ),
        (
            Kind::Length,
            "over 4 in",
            "`over` leaves one end open | write both ends, for example `4 to 8 mm`",
        ),
        (
            Kind::Length,
            "8 to 4 mm",
            "the range `8 to 4 mm` is written backwards | write the lesser first: `4 to 8 mm`",
        ),
        (
            Kind::Length,
            "1 ft to 6 in",
            "the range `1 ft to 6 in` is written backwards | write the lesser first: `6 in to 1 ft`",
        ),
        (
            Kind::Length,
            "4 mm to 8",
            "the range `4 mm to 8` has its unit at the first end only | put the unit last, for example `4 to 8 mm`",
        ),
        (
            Kind::Area,
            "20 psi",
            "`20 psi` is a pressure, and an area is needed here | write `360 ft2`, `33 m2`",
        ),
        (
            Kind::Area,
            "-3 ft2",
            "an area can't be less than nothing | leave off the minus sign",
        ),
        (
            Kind::Temperature,
            "-500 F",
            "`-500 F` is colder than anything can be | check the number and its unit",
        ),
        (
            Kind::Length,
            "3/0 in",
            "a fraction can't be over nothing | write `3/8 in`",
        ),
        (
            Kind::Length,
            "1-3/2 in",
            "the fraction after a whole number must be less than one | write `1-1/2 in`",
        ),
        (
            Kind::Length,
            "5' 14\"",
            "`5' 14\"` does not add up to one measure | inches after feet run from 0 to less than 12: `5' 6\"`",
        ),
        (
            Kind::Volume,
            "8 oz",
            "`oz` is a mass | write `fl oz` for a volume",
        ),
        (
            Kind::Number,
            "12 mm",
            "`mm` stands after a bare number | write `12`, `3 to 5`",
        ),
    ];
    for (kind, text, expected) in table {
        assert_eq!(refused(kind, text), expected, "{text}");
    }
    for text in [
        "",
        " ",
        "in",
        "1e5 mm",
        "nan",
        "inf mm",
        "1 2 mm",
        "4 to",
        "to 8 mm",
        "1 to 2 to 3 mm",
        "--4 mm",
        "4 x 5 mm",
        "unknown",
        "1/2/3 in",
        "5 ft 6",
        "9999999999999999999999999 mm",
        "1 in 2 in",
        "½½ in",
    ] {
        assert!(Kind::Length.read(text).is_err(), "{text}");
    }
    let huge = "9".repeat(400) + " mm";
    assert!(Kind::Length.read(&huge).is_err());
}

#[test]
fn measures_are_written_as_the_trade_prints_them() {
    let mm = |x: f64| Kind::Length.write(Interval::exact(x), System::Us);
    for (x, text) in [
        (9.525, "3/8 in"),
        (10.0, "3/8 in"), // 0.394 in: 0.019 off, within a fiftieth of an inch
        (4.0, "0.16 in"), // 0.157 in: nearest sixteenths are 0.032 off
        // Cracks are read off a gauge in millimetres: 0.25 / 25.4 = 0.00984, 0.3 / 25.4 = 0.0118.
        (0.25, "0.25 mm (0.0098 in)"),
        (0.3, "0.3 mm (0.012 in)"),
        (38.1, "1-1/2 in"),
        (1676.4, "5' 6\""),
        (1689.1, "5' 6-1/2\""),
        (3657.6, "12 ft"),
        (-19.05, "-3/4 in"),
        (0.0, "0 in"),
        (0.79375, "1/32 in"),
    ] {
        assert_eq!(mm(x), text);
    }
    let us = |kind: Kind, text: &str| kind.write(kind.read(text).unwrap(), System::Us);
    let metric = |kind: Kind, text: &str| kind.write(kind.read(text).unwrap(), System::Metric);
    assert_eq!(metric(Kind::Length, "4 to 8 mm"), "4 to 8 mm");
    assert_eq!(metric(Kind::Length, "12 ft"), "3.66 m");
    assert_eq!(us(Kind::Length, "1/4 to 3/8 in"), "1/4 to 3/8 in");
    assert_eq!(
        us(Kind::Length, "0.2 to 0.5 mm"),
        "0.2 to 0.5 mm (0.0079 to 0.02 in)"
    );
    // 8 mm is 0.315 in and passes as 5/16 alone; beside a decimal it is one too.
    assert_eq!(us(Kind::Length, "4 to 8 mm"), "0.16 to 0.31 in");
    assert_eq!(us(Kind::Length, "6 in to 1' 6\""), "6 to 18 in");
    assert_eq!(us(Kind::Length, "3 ft to 5' 6\""), "36 in to 5' 6\"");
    assert_eq!(us(Kind::Volume, "3 to 3-1/2 qt"), "3 to 3-1/2 qt");
    assert_eq!(us(Kind::Slope, "1:48"), "1/4 in/ft");
    assert_eq!(us(Kind::Slope, "2 %"), "2 %");
    assert_eq!(us(Kind::Temperature, "72 F"), "72 °F");
    assert_eq!(metric(Kind::Temperature, "72 F"), "22.2 °C");
    assert_eq!(us(Kind::Share, "5 to 10 %"), "5 to 10 %");
    assert_eq!(us(Kind::Duration, "45 s"), "45 s");
    assert_eq!(us(Kind::Duration, "18 months"), "18 months");
    assert_eq!(us(Kind::Duration, "24 months"), "2 years");
    assert_eq!(us(Kind::Duration, "24 h"), "1 day");
    assert_eq!(us(Kind::Duration, "28 days"), "28 days");
    assert_eq!(us(Kind::Duration, "4500 days"), "12.3 years");
    assert_eq!(us(Kind::Coverage, "200 ft2/gal"), "200 ft²/gal");
    assert_eq!(
        Kind::Volume
            .write_in(Interval::exact(28.316_846_592), "ft3")
            .as_deref(),
        Some("1 ft3")
    );
    assert_eq!(
        Kind::Length.write(
            Interval {
                lo: 25.4,
                hi: f64::INFINITY
            },
            System::Us
        ),
        "at least 1 in"
    );
}

#[test]
fn the_same_measure_in_brackets_is_read_and_another_refused() {
    let read = |text: &str| Kind::Length.read(text);
    assert_eq!(read("0.3 mm (0.012 in)"), read("0.3 mm"));
    assert_eq!(
        read("0.2 to 0.5 mm (0.0079 to 0.02 in)"),
        read("0.2 to 0.5 mm")
    );
    for text in ["0.3 mm (0.12 in)", "0.3 mm (fine)", "0.3 mm ()", "(0.3 mm)"] {
        assert!(read(text).is_err(), "{text}");
    }
}

#[test]
fn sizes_are_width_by_length() {
    for text in [
        "12 ft x 30 ft",
        "12 x 30 ft",
        "12' by 30'",
        "12 ft × 30 ft",
        "12'x30'",
        "12 FT X 30 FT",
    ] {
        let size: Size = text.parse().unwrap_or_else(|e| panic!("{text}: {e}"));
        // 360 ft² of 0.09290304 m².
        assert_eq!(
            size.area().canonical().map(|i| i.lo),
            Some(33.445_094_4),
            "{text}"
        );
    }
    for text in [
        "12 ft",
        "12 x 30",
        "12 ft x",
        "0 ft x 3 ft",
        "3 ft x 4 ft x 5 ft",
        "a x b",
        "",
    ] {
        assert!(text.parse::<Size>().is_err(), "{text}");
    }
}

#[test]
fn unknown_is_a_value() {
    for text in ["unknown", "don't know", "Don’t know", "?", " UNKNOWN "] {
        assert_eq!(
            text.parse::<Measured<Length>>(),
            Ok(Measured::Unknown),
            "{text}"
        );
    }
}

#[test]
fn words_of_kinds_read_back() {
    for kind in Kind::ALL {
        assert_eq!(kind.word().parse::<Kind>(), Ok(kind));
        assert_eq!(serde_json::to_value(kind).unwrap(), kind.word());
        for example in kind.examples().iter().filter(|e| **e != "unknown") {
            assert!(kind.read(example).is_ok(), "{kind}: {example}");
        }
    }
}

/// How far what is printed may lie from the number, in the canonical unit.
fn precision(kind: Kind, x: f64) -> f64 {
    let share = x.abs() * 0.006; // three figures: half a unit in the third place is 0.5 % at most
    match kind {
        // Sixteenths: a fiftieth of an inch or 6 %, whichever is less; a thirty-second from 4 ft up.
        Kind::Length if x.abs() >= 47.9 * 25.4 => (25.4_f64 / 32.0 + 1e-6).max(share),
        Kind::Length => (0.02 * 25.4_f64).min(x.abs() * 0.06).max(share),
        Kind::Temperature => 0.051,
        // 1 % for fractions of an inch to the foot and of a quart.
        Kind::Slope | Kind::Volume => x.abs() * 0.0101,
        _ => share,
    }
}

fn any_kind() -> impl Strategy<Value = Kind> {
    prop::sample::select(Kind::ALL.to_vec())
}

fn any_number(kind: Kind) -> impl Strategy<Value = f64> {
    let magnitude = (-3.0..5.0_f64).prop_map(|e| canonical(10.0_f64.powf(e)));
    (magnitude, any::<bool>()).prop_map(move |(x, minus)| match kind {
        Kind::Temperature if minus => -x.min(270.0),
        _ if minus && kind.may_be_negative() => -x,
        _ => x,
    })
}

proptest! {
    #[test]
    fn what_is_written_reads_back_within_print_precision(
        (kind, x) in any_kind().prop_flat_map(|k| any_number(k).prop_map(move |x| (k, x))),
    ) {
        for system in [System::Us, System::Metric] {
            let text = kind.write(Interval::exact(x), system);
            let back = kind.read(&text).map_err(|e| TestCaseError::fail(format!("{text}: {e}")))?;
            prop_assert!((back.lo - x).abs() <= precision(kind, x), "{x} -> {text} -> {}", back.lo);
        }
    }

    #[test]
    fn exact_writing_loses_nothing(
        (kind, x) in any_kind().prop_flat_map(|k| any_number(k).prop_map(move |x| (k, x))),
    ) {
        let text = kind.write_exact(x);
        prop_assert_eq!(kind.read(&text).map(|i| i.lo), Ok(canonical(x)), "{}", text);
    }

    #[test]
    fn ranges_are_written_and_read_back(
        (kind, x, y) in any_kind().prop_flat_map(|k| (any_number(k), any_number(k)).prop_map(move |(x, y)| (k, x, y))),
    ) {
        let value = Interval::of(x, y);
        for system in [System::Us, System::Metric] {
            let text = kind.write(value, system);
            let back = kind.read(&text).map_err(|e| TestCaseError::fail(format!("{text}: {e}")))?;
            prop_assert!((back.lo - value.lo).abs() <= precision(kind, value.lo), "{:?} -> {} -> {:?}", value, text, back);
            prop_assert!((back.hi - value.hi).abs() <= precision(kind, value.hi), "{:?} -> {} -> {:?}", value, text, back);
        }
    }

    #[test]
    fn every_unit_converts_both_ways(
        (kind, x) in any_kind().prop_flat_map(|k| any_number(k).prop_map(move |x| (k, x))),
    ) {
        for unit in kind.units() {
            let there = kind.to_unit(x, unit.symbol).unwrap_or(f64::NAN);
            let back = kind.from_unit(there, unit.symbol).unwrap_or(f64::NAN);
            // Twelve figures of the larger of the two numbers; offsets of °F and K cost a figure.
            let slack = 1e-10 * (x.abs() + unit.zero.abs());
            prop_assert!((back - x).abs() <= slack.max(1e-9), "{x} {kind} in {}", unit.symbol);
        }
    }

    #[test]
    fn a_length_is_the_same_typed_or_bare(x in 0.001..1e6_f64) {
        let x = canonical(x);
        prop_assert_eq!(Length::from_canonical(x).to_canonical(), x);
        let measured = Measured::<Length>::from_canonical(Interval::exact(x));
        let text = serde_json::to_string(&measured).unwrap();
        prop_assert_eq!(serde_json::from_str::<Measured<Length>>(&text).unwrap().canonical(), measured.canonical());
    }

    #[test]
    fn no_text_makes_it_panic(text in "\\PC{0,40}") {
        for kind in Kind::ALL {
            if let Ok(value) = kind.read(&text) {
                prop_assert!(value.lo.is_finite() && value.hi.is_finite() && value.lo <= value.hi);
            }
        }
        let _ = text.parse::<Size>();
    }

    #[test]
    fn nothing_near_a_measure_makes_it_panic(text in "[-+~0-9./ '\"a-z%°²½–:x,]{0,24}( in| mm| ft| F| %| to |\")?") {
        for kind in Kind::ALL {
            if let Ok(value) = kind.read(&text) {
                prop_assert!(value.lo.is_finite() && value.hi.is_finite() && value.lo <= value.hi);
            }
        }
        let _ = text.parse::<Size>();
    }
}

#[test]
fn usual_units_are_read() {
    for kind in Kind::ALL {
        for system in [System::Us, System::Metric] {
            for unit in kind.usual_units(system) {
                assert!(
                    kind.read(&format!("1 {unit}")).is_ok(),
                    "1 {unit} as {kind}"
                );
            }
        }
    }
}
