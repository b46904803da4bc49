//! The notation of measures at its edges: what is still read and what is refused, each with the words
//! it is refused with. Expected numbers follow from the definitions of the units (an inch is 25.4 mm).

use ringtrue::units::{Kind, Length, Measured, System};
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
    for text in ["5' 12\"", "5' 13\"", "6\" 5'", "5.5' 6\""] {
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
