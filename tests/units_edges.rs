//! The notation of measures at its edges: what is still read and what is refused, each with the words
//! it is refused with. Expected numbers follow from the definitions of the units (an inch is 25.4 mm).

use ringtrue::facts::Interval;
use ringtrue::units::{Kind, Length, Measured, Size, System};
use schemars::{JsonSchema, schema_for};
use uom::si::length::millimeter;

/// Letters of a measure.
const LONGEST: usize = 80;

fn one(kind: Kind, text: &str) -> f64 {
    let read = kind.read(text).unwrap_or_else(|e| panic!("{text}: {e:?}"));
    assert!(read.is_exact(), "{text}");
    read.lo
}

fn refused(kind: Kind, text: &str) -> (String, String) {
    let e = kind.read(text).expect_err(text);
    (e.message, e.hint)
}

#[track_caller]
fn says(kind: Kind, text: &str, part: &str) {
    let (message, hint) = refused(kind, text);
    assert!(
        message.contains(part) || hint.contains(part),
        "{text}: {message}; {hint}"
    );
}

#[test]
fn a_measure_in_brackets_needs_one_before_it() {
    says(Kind::Length, "(0.3 mm)", "can't be read");
    says(Kind::Length, "0.3 mm ()", "no unit that is known");
    // Both ends must agree.
    assert!(Kind::Length.read("4 to 8 mm (0.16 to 0.31 in)").is_ok());
    says(
        Kind::Length,
        "4 to 8 mm (0.16 to 0.5 in)",
        "are not the same",
    );
    says(
        Kind::Length,
        "4 to 8 mm (0.2 to 0.31 in)",
        "are not the same",
    );
}

#[test]
fn a_range_has_two_ends_which_may_be_the_same() {
    assert_eq!(one(Kind::Length, "5 to 5 mm"), 5.0);
    for text in ["..8 mm", "4 mm.."] {
        says(Kind::Length, text, "no range with two ends");
    }
}

#[test]
fn a_text_may_be_so_long() {
    let long = |n: usize| format!("{}4 mm", "0".repeat(n - 4));
    assert_eq!(one(Kind::Length, &long(LONGEST)), 4.0);
    for n in [LONGEST + 1, LONGEST + 100] {
        says(Kind::Length, &long(n), "too long");
    }
}

#[test]
fn ratios_of_rise_to_run() {
    assert_eq!(one(Kind::Slope, "1:50"), 0.02);
    assert_eq!(one(Kind::Slope, "-1:50"), -0.02);
    says(Kind::Slope, "1:0", "no ratio");
}

#[test]
fn feet_take_less_than_twelve_inches_and_only_whole_feet_do() {
    assert_eq!(one(Kind::Length, "5' 11.9\""), 5.0 * 304.8 + 11.9 * 25.4);
    for text in ["5' 12\"", "5' 13\"", "6\" 5'", "6\" 0.01'", "5.5' 6\""] {
        says(Kind::Length, text, "does not add up");
    }
    says(Kind::Length, "5' 6", "needs its unit");
}

#[test]
fn the_greatest_and_the_coldest() {
    assert_eq!(one(Kind::Length, "1000000000 mm"), 1e9);
    says(Kind::Length, "1000000001 mm", "far too large");
    assert_eq!(one(Kind::Temperature, "-273.15 C"), -273.15);
    // As it is printed.
    assert_eq!(one(Kind::Temperature, "-273.19 C"), -273.15);
    says(Kind::Temperature, "-273.3 C", "colder than anything");
    // Less than a billionth is nothing.
    assert_eq!(one(Kind::Number, "0.0000000001"), 0.0);
    assert_eq!(one(Kind::Number, "0.00000001"), 1e-8);
}

#[test]
fn a_bare_share_is_asked_for_its_meaning() {
    assert_eq!(refused(Kind::Share, "1").1, "write `1 %`");
    says(
        Kind::Share,
        "0.5",
        "write `50 %` if it is a fraction of one",
    );
    assert_eq!(
        refused(Kind::Length, "4").1,
        "write `4 in` or `4 mm`, whichever it is"
    );
}

#[test]
fn an_unknown_unit_is_guessed_only_where_one_letter_is_wrong() {
    says(
        Kind::Length,
        "4 mmm",
        "did you mean `mm`? A length is written",
    );
    for text in ["4 q", "4 furlongs"] {
        let (message, hint) = refused(Kind::Length, text);
        assert!(message.contains("no unit that is known"), "{message}");
        assert!(hint.starts_with("write "), "{hint}");
    }
    says(Kind::Volume, "4 oz", "`oz` is a mass");
    says(Kind::Volume, "4 mm", "is a length");
    says(Kind::Mass, "4 mm", "is a length");
}

#[test]
fn fractions_of_one_letter_and_odd_spaces_are_read() {
    for (letter, up, down) in [
        ('½', 1.0, 2.0),
        ('⅓', 1.0, 3.0),
        ('⅔', 2.0, 3.0),
        ('¼', 1.0, 4.0),
        ('¾', 3.0, 4.0),
        ('⅛', 1.0, 8.0),
        ('⅜', 3.0, 8.0),
        ('⅝', 5.0, 8.0),
        ('⅞', 7.0, 8.0),
    ] {
        let found = one(Kind::Length, &format!("1{letter} in"));
        assert!((found - (1.0 + up / down) * 25.4).abs() < 1e-9, "{letter}");
    }
    assert_eq!(one(Kind::Length, "4\u{a0}mm"), 4.0);
    assert_eq!(one(Kind::Area, "10 sq  m"), one(Kind::Area, "10 m2"));
}

#[test]
fn what_is_measured_has_a_least_and_a_greatest() {
    let read = |text: &str| text.parse::<Measured<Length>>().unwrap();
    let mm = |x: Option<Length>| x.map(|l| (l.get::<millimeter>() * 1e9).round() / 1e9);
    let range = read("4 to 8 mm");
    assert_eq!(
        (mm(range.least()), mm(range.greatest())),
        (Some(4.0), Some(8.0))
    );
    let exact = read("5 mm");
    assert_eq!(
        (mm(exact.least()), mm(exact.greatest())),
        (Some(5.0), Some(5.0))
    );
    let unknown = read("unknown");
    assert_eq!((mm(unknown.least()), mm(unknown.greatest())), (None, None));
    assert!(unknown.is_unknown() && !exact.is_unknown() && !range.is_unknown());
    for (measured, printed, stored) in [
        (range, "4 to 8 mm", "\"4 mm to 8 mm\""),
        (exact, "5 mm", "\"5 mm\""),
        (unknown, "unknown", "\"unknown\""),
    ] {
        assert_eq!(measured.write(System::Metric), printed);
        assert_eq!(serde_json::to_string(&measured).unwrap(), stored);
        let back: Measured<Length> = serde_json::from_str(stored).unwrap();
        assert_eq!(back, measured);
    }
    // A number is no length.
    let refused = serde_json::from_str::<Measured<Length>>("true").unwrap_err();
    assert!(refused.to_string().contains("a length"), "{refused}");
}

#[test]
fn every_kind_has_a_word_and_usual_units() {
    for kind in Kind::ALL {
        assert_eq!(kind.to_string().parse::<Kind>().unwrap(), kind);
        for system in [System::Us, System::Metric] {
            let bare = kind == Kind::Number;
            assert_eq!(kind.usual_units(system).is_empty(), bare, "{kind}");
        }
    }
}

#[test]
fn measures_are_printed_in_the_units_people_use_for_their_size() {
    for (kind, x, us, metric) in [
        (Kind::Length, 1000.0, "39-3/8 in", "1 m"),
        (Kind::Length, 999.0, "39-5/16 in", "999 mm"),
        (Kind::Area, 1.0, "10.8 ft²", "1 m²"),
        // A pint is half a quart, 0.4732 L; 10.14 fl oz; 1.11 qt; 4.23 gal.
        (Kind::Volume, 0.473_176_473, "1/2 qt", "473 mL"),
        (Kind::Volume, 0.3, "10.1 fl oz", "300 mL"),
        (Kind::Volume, 1.0, "1.06 qt", "1 L"),
        (Kind::Volume, 1.05, "1.11 qt", "1.05 L"),
        (Kind::Volume, 16.0, "4.23 gal", "16 L"),
        (Kind::Volume, 0.0, "0 qt", "0 L"),
        // A pound is 0.45359237 kg, an ounce a sixteenth of it.
        (Kind::Mass, 0.453_592_37, "1 lb", "454 g"),
        (Kind::Mass, 0.226_796_185, "8 oz", "227 g"),
        (Kind::Mass, 1.0, "2.2 lb", "1 kg"),
        (Kind::Mass, 0.0, "0 lb", "0 kg"),
        (Kind::Temperature, 20.0, "68 °F", "20 °C"),
        (Kind::Pressure, 1.0, "145 psi", "1 MPa"),
        (Kind::Speed, 100.0, "62.1 mph", "100 km/h"),
        (Kind::Coverage, 1.0, "40.7 ft²/gal", "1 m²/L"),
        (Kind::SpreadRate, 1.0, "0.205 lb/ft²/h", "1 kg/m²/h"),
        // A quarter of an inch in a foot is 1/48.
        (Kind::Slope, 1.0 / 48.0, "1/4 in/ft", "2.08 %"),
        (Kind::Slope, 0.0, "0 %", "0 %"),
        (Kind::Slope, 1.0, "100 %", "100 %"),
        (Kind::Duration, 100.000_05, "100 days", "100 days"),
    ] {
        let write = |system| kind.write(Interval::exact(x), system);
        assert_eq!(write(System::Us), us, "{kind} {x}");
        assert_eq!(write(System::Metric), metric, "{kind} {x}");
    }
    // One end between the marks of a rule: both in decimals, the hair-fine in millimetres first.
    let crack = Interval { lo: 0.3, hi: 12.7 };
    assert_eq!(
        Kind::Length.write(crack, System::Us),
        "0.3 to 12.7 mm (0.012 to 0.5 in)"
    );
}

#[test]
fn feet_begin_at_four_and_a_hair_less_is_still_four() {
    let us = |inches: f64| Kind::Length.write(Interval::exact(inches * 25.4), System::Us);
    assert_eq!(us(48.0), "4 ft");
    assert_eq!(us(47.99), "4 ft");
    assert_eq!(us(48.5), "4' 1/2\"");
    assert_eq!(us(47.97), "47.97 in");
    assert_eq!(us(-60.0), "-5 ft");
    assert_eq!(us(20.0), "20 in");
}

#[test]
fn decimals_and_fractions_do_not_mix() {
    for text in ["1.5-1/2 in", "1.5 1/2 in"] {
        assert!(Kind::Length.read(text).is_err(), "{text}");
    }
    assert_eq!(one(Kind::Length, "5 ft - 6 in"), 1676.4);
}

#[test]
fn a_size_needs_both_sides() {
    let size = |text: &str| text.parse::<Size>();
    for text in ["12 ft x", "x 12 ft", "x"] {
        assert!(
            size(text)
                .unwrap_err()
                .message
                .contains("no width by length"),
            "{text}"
        );
    }
    assert_eq!(size("12 x 30 ft").unwrap().to_string(), "12 ft x 30 ft");
}

#[test]
fn the_schema_calls_measures_by_the_words_of_their_kinds() {
    assert_eq!(Size::schema_name(), "size");
    assert_eq!(Measured::<Length>::schema_name(), "length");
    let schema = schema_for!(Measured<Length>).to_value();
    assert_eq!(schema["type"], "string");
    assert_eq!(
        schema["title"],
        "a length with its unit, a range or `unknown`"
    );
}

#[test]
fn spaces_points_and_hyphens_stand_where_people_put_them() {
    // 5 1/2 in is 139.7 mm, with a space that does not break too.
    assert_eq!(one(Kind::Length, "5\u{a0}1/2 in"), 139.7);
    assert_eq!(one(Kind::Length, "5. mm"), 5.0);
    says(Kind::Length, "5. 1/2 in", "`.` is no unit");
    // The hyphen is no part of the unit.
    says(
        Kind::Length,
        "5 mm -x",
        "`5 mm -x` can't be read as a length",
    );
}

#[test]
fn a_bare_number_may_be_one_in_json() {
    let of = |schema: schemars::Schema| schema.as_value()["type"].clone();
    assert_eq!(
        of(schema_for!(Measured<f64>)),
        serde_json::json!(["string", "number"])
    );
    assert_eq!(
        of(schema_for!(Measured<Length>)),
        serde_json::json!("string")
    );
}

#[test]
fn units_that_no_table_of_others_holds_are_what_they_are_defined_as() {
    let near = |kind: Kind, text: &str, expected: f64| {
        let found = one(kind, text);
        assert!(
            (found / expected - 1.0).abs() < 1e-9,
            "{text}: {found} for {expected}"
        );
    };
    // A pound-force is 4.4482216152605 N (0.45359237 kg at 9.80665 m/s2); a square inch 645.16 mm2.
    near(
        Kind::Pressure,
        "2 ksi",
        2000.0 * 0.453_592_37 * 9.806_65 / 645.16,
    );
    near(Kind::Duration, "90 s", 90.0 / 86_400.0);
    near(Kind::Duration, "36 h", 1.5);
    // A square foot is 0.09290304 m2; a quart a quarter of 231 cubic inches of 16.387064 ml.
    near(
        Kind::Coverage,
        "100 ft2/qt",
        9.290_304 / (0.231 / 4.0 * 16.387_064),
    );
}
