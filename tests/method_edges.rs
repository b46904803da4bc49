//! The sizes of the method and the statistics of the survey at their limits. Expected values follow
//! from the formulas as their doc comments state them.

use ringtrue::method::sizes::{
    Fit, QuantityError, check_panel, joint_band, lifts, patches_merge, saw_depth, undercut,
};
use ringtrue::units::{Interval, Length};
use uom::si::length::millimeter;

fn mm(x: f64) -> Length {
    Length::new::<millimeter>(x)
}

fn near(found: Length, expected_mm: f64) {
    let found = found.get::<millimeter>();
    assert!(
        (found - expected_mm).abs() < 1e-9,
        "{found} for {expected_mm}"
    );
}

#[test]
fn lifts_may_be_as_thin_as_the_least_and_a_thousand_in_all() {
    // Two of exactly the least, which is the greatest too.
    let two = lifts(mm(30.0), mm(15.0), mm(15.0)).unwrap();
    assert_eq!(two.len(), 2);
    assert_eq!(lifts(mm(25_000.0), mm(0.0), mm(25.0)).unwrap().len(), 1000);
    let many = lifts(mm(25_025.0), mm(0.0), mm(25.0));
    assert!(
        matches!(many, Err(QuantityError::TooMany { .. })),
        "{many:?}"
    );
    let Err(QuantityError::NoLifts {
        depth_mm,
        least_mm,
        greatest_mm,
    }) = lifts(mm(26.0), mm(15.0), mm(25.0))
    else {
        panic!("26 mm in lifts of 15 to 25 mm")
    };
    for (found, expected) in [(depth_mm, 26.0), (least_mm, 15.0), (greatest_mm, 25.0)] {
        assert!((found - expected).abs() < 1e-9);
    }
}

#[test]
fn the_greater_or_the_lesser_counts() {
    near(saw_depth(mm(100.0), 0.25, mm(20.0)), 25.0);
    near(saw_depth(mm(100.0), 0.25, mm(30.0)), 30.0);
    near(undercut(mm(10.0), mm(19.0), mm(6.0)), 19.0);
    near(undercut(mm(19.0), mm(19.0), mm(6.0)), 25.0);
    let ratio = Interval { lo: 24.0, hi: 36.0 };
    let (least, greatest) = joint_band(mm(100.0), ratio, mm(3000.0));
    near(least, 2400.0);
    near(greatest, 3000.0);
    // Patches exactly the limit apart stay two.
    assert!(patches_merge(mm(299.0), mm(300.0)) && !patches_merge(mm(300.0), mm(300.0)));
}

#[test]
fn a_ten_thousandth_is_at_the_limit() {
    for (value, fit) in [
        (9998.0, Fit::Within),
        (9999.0, Fit::AtLimit),
        (10_000.0, Fit::AtLimit),
        (10_001.0, Fit::AtLimit),
        (10_002.0, Fit::Over),
    ] {
        assert_eq!(Fit::of(value, 10_000.0), fit, "{value}");
    }
}

#[test]
fn a_panel_has_two_sides_and_a_thickness() {
    for (a, b) in [(4000.0, 2000.0), (2000.0, 4000.0)] {
        let check = check_panel(mm(a), mm(b), mm(100.0), 1.5, 30.0).unwrap();
        assert!((check.ratio - 2.0).abs() < 1e-9);
        assert_eq!((check.shape, check.spacing), (Fit::Over, Fit::Over));
    }
    for (a, b, thickness) in [(0.0, 1.0, 1.0), (1.0, 0.0, 1.0), (1.0, 1.0, 0.0)] {
        assert_eq!(check_panel(mm(a), mm(b), mm(thickness), 1.5, 30.0), None);
    }
}
