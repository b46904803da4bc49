//! Statistics and heights of the survey at their limits, and small cases worked out by hand.
//! `tests/plan_published.rs` holds both to published tables.

use ringtrue::survey::heights::{
    Effect, FallVerdict, RiserLimit, RiserRule, StairWork, check_risers, equal_risers, fall_after,
    judge_fall, share_that_keeps, taper_length,
};
use ringtrue::survey::stats::{
    effective_count, exact_share, finite_factor, normal_quantile, percentile, readings_for_share,
    t_quantile, wilson,
};
use ringtrue::units::Length;
use uom::si::length::millimeter;

fn near(found: f64, expected: f64) {
    assert!((found - expected).abs() < 1e-6, "{found} for {expected}");
}

fn mm(x: f64) -> Length {
    Length::new::<millimeter>(x)
}

#[test]
fn levels_lie_strictly_between_nothing_and_all() {
    for level in [0.0, 1.0, -0.1, 1.1, f64::NAN] {
        assert_eq!(normal_quantile(level), None, "{level}");
        assert_eq!(t_quantile(level, 5), None, "{level}");
        assert_eq!(exact_share(1, 3, level), None, "{level}");
    }
    assert_eq!(t_quantile(0.95, 0), None);
    near(t_quantile(0.5, 1).unwrap(), 0.0);
}

#[test]
fn a_share_needs_trials_and_no_more_hits_than_trials() {
    for (hits, trials) in [(0.0, 0.0), (5.0, 3.0), (-1.0, 3.0), (1.0, f64::INFINITY)] {
        assert_eq!(wilson(hits, trials, 0.95), None, "{hits} of {trials}");
    }
    assert_eq!(wilson(0.0, 3.0, 0.95).map(|w| w.0), Some(0.0));
    assert_eq!(exact_share(0, 0, 0.95), None);
    assert_eq!(exact_share(4, 3, 0.95), None);
    // All of three: the least share p has p³ = 0.025.
    let (lo, hi) = exact_share(3, 3, 0.95).unwrap();
    near(lo, 0.025f64.cbrt());
    near(hi, 1.0);
}

#[test]
fn clustered_readings_are_worth_fewer() {
    near(effective_count(12.0, 4.0, 0.5).unwrap(), 4.8);
    near(effective_count(12.0, 1.0, 1.0).unwrap(), 12.0);
    for (readings, neighbours, rho) in [(0.0, 4.0, 0.5), (12.0, 0.5, 0.5), (12.0, 4.0, 1.1)] {
        assert_eq!(effective_count(readings, neighbours, rho), None);
    }
}

#[test]
fn readings_for_a_share_and_a_part_of_all() {
    // 1.96² · 0.25 / 0.1² = 96.04.
    assert_eq!(readings_for_share(0.5, 0.1, 0.95), Some(97));
    for (p, half) in [(-0.1, 0.1), (1.1, 0.1), (0.5, 0.0), (0.5, 1.0)] {
        assert_eq!(readings_for_share(p, half, 0.95), None, "{p} {half}");
    }
    near(finite_factor(50, 100).unwrap(), (50.0f64 / 99.0).sqrt());
    near(finite_factor(1, 2).unwrap(), 1.0);
    near(finite_factor(2, 2).unwrap(), 0.0);
    for (n, whole) in [(0, 5), (6, 5), (1, 1), (1, 0)] {
        assert_eq!(finite_factor(n, whole), None, "{n} of {whole}");
    }
}

#[test]
fn a_percentile_needs_readings_that_are_numbers() {
    assert_eq!(percentile(&[], 0.5), None);
    assert_eq!(percentile(&[1.0, f64::NAN], 0.5), None);
    assert_eq!(percentile(&[1.0, 2.0], 1.1), None);
    near(percentile(&[4.0, 1.0, 2.0], 0.75).unwrap(), 3.0);
    assert_eq!(percentile(&[4.0, 1.0, 2.0], 1.0), Some(4.0));
}

fn limit(rule: RiserRule, limit_mm: f64) -> RiserLimit {
    RiserLimit {
        rule,
        limit_mm,
        source: "invented".into(),
    }
}

fn effect(rule: RiserRule, limit_mm: f64, before: f64, after: f64) -> Effect {
    let checks = check_risers(&[mm(before)], &[mm(after)], &[limit(rule, limit_mm)]);
    checks[0].effect
}

#[test]
fn the_least_riser_is_held_from_below() {
    use Effect::{Broken, Kept, Mended, StillOutside, Worse};
    use RiserRule::{Greatest, Least};
    for (before, after, expected) in [
        (100.0, 100.0, Kept),
        (100.0, 99.0, Broken),
        (90.0, 100.0, Mended),
        (90.0, 80.0, Worse),
        (90.0, 90.0, StillOutside),
        (90.0, 95.0, StillOutside),
    ] {
        assert_eq!(
            effect(Least, 100.0, before, after),
            expected,
            "{before} {after}"
        );
    }
    for (before, after, expected) in [
        (200.0, 200.0, Kept),
        (210.0, 210.0, StillOutside),
        (210.0, 205.0, StillOutside),
        (210.0, 220.0, Worse),
    ] {
        assert_eq!(
            effect(Greatest, 200.0, before, after),
            expected,
            "{before} {after}"
        );
    }
}

fn work(below: f64, above: f64) -> StairWork {
    StairWork {
        below: mm(below),
        treads: mm(0.0),
        above: mm(above),
    }
}

#[test]
fn the_share_of_the_work_that_keeps_a_limit() {
    let greatest = [limit(RiserRule::Greatest, 200.0)];
    // Nothing is laid: a riser at the limit is kept, one beyond it by no share of nothing.
    assert_eq!(
        share_that_keeps(&[mm(200.0)], work(0.0, 0.0), &greatest),
        Some((0.0, 1.0))
    );
    assert_eq!(
        share_that_keeps(&[mm(210.0)], work(0.0, 0.0), &greatest),
        None
    );
    // 20 mm at the foot take 20 mm off a riser of 210: half of it is enough, a rounding less.
    let (lo, hi) = share_that_keeps(&[mm(210.0)], work(20.0, 0.0), &greatest).unwrap();
    assert!((0.5 - 0.001..=0.5).contains(&lo), "{lo}");
    near(hi, 1.0);
    // 20 mm above put them on a riser of 190: half of it, and a rounding more.
    let (lo, hi) = share_that_keeps(&[mm(190.0)], work(0.0, 20.0), &greatest).unwrap();
    near(lo, 0.0);
    assert!((0.5..=0.5 + 0.001).contains(&hi), "{hi}");
}

#[test]
fn equal_risers_nearest_to_what_was_there() {
    let limits = [
        limit(RiserRule::Greatest, 190.0),
        limit(RiserRule::Least, 100.0),
    ];
    // 540 mm: three of 180, four of 135, five of 108.
    for (near_to, count, each) in [(2, 3, 180.0), (4, 4, 135.0), (10, 5, 108.0)] {
        let (found, height) = equal_risers(mm(540.0), near_to, &limits).unwrap();
        assert_eq!(found, count);
        near(height.get::<millimeter>(), each);
    }
    assert_eq!(equal_risers(mm(95.0), 1, &limits), None);
    // No rise, no riser, whatever the limits.
    let difference = [limit(RiserRule::Difference, 10.0)];
    assert_eq!(equal_risers(mm(0.0), 1, &difference), None);
    assert_eq!(equal_risers(mm(-100.0), 1, &difference), None);
}

#[test]
fn tapers_and_falls() {
    near(
        taper_length(mm(100.0), 0.02).unwrap().get::<millimeter>(),
        5000.0,
    );
    assert_eq!(taper_length(mm(0.0), 0.02), Some(mm(0.0)));
    assert_eq!(taper_length(mm(100.0), 0.0), None);
    assert_eq!(taper_length(mm(-1.0), 0.02), None);
    // 10 mm at the house and 30 mm a metre away take 2 % off the fall.
    near(
        fall_after(0.02, mm(10.0), mm(30.0), mm(1000.0)).unwrap(),
        0.0,
    );
    assert_eq!(fall_after(0.02, mm(10.0), mm(30.0), mm(0.0)), None);
    for (fall, least, verdict) in [
        (0.0, 0.0, FallVerdict::Kept),
        (0.0, 0.01, FallVerdict::TooFlat),
        (0.01, 0.01, FallVerdict::Kept),
        (-0.001, 0.01, FallVerdict::Toward),
        (0.05, 0.01, FallVerdict::Kept),
        (0.051, 0.01, FallVerdict::TooSteep),
    ] {
        assert_eq!(judge_fall(fall, least, Some(0.05)), verdict, "{fall}");
    }
}
