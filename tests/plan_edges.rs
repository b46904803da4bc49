//! The plan's formulas at the edges of what they take, and with numbers that can be worked out by
//! hand. `tests/plan_published.rs` holds them to published values.
#![cfg(feature = "pages")]

use ringtrue::plan::money::{self, Amounts, CostLine, Estimate, Moments, MoneyError, SpreadRule};
use ringtrue::plan::quantities as q;
use ringtrue::units::{Area, Length, Mass, MassDensity, Volume};
use rust_decimal::Decimal;
use uom::si::area::square_meter;
use uom::si::length::millimeter;
use uom::si::mass::kilogram;
use uom::si::mass_density::kilogram_per_cubic_meter;
use uom::si::volume::liter;

fn near(found: f64, expected: f64) {
    let most = 1e-9 * expected.abs().max(1e-3);
    assert!((found - expected).abs() <= most, "{found} for {expected}");
}

fn mm(x: f64) -> Length {
    Length::new::<millimeter>(x)
}

fn m2(x: f64) -> Area {
    Area::new::<square_meter>(x)
}

fn litres(x: f64) -> Volume {
    Volume::new::<liter>(x)
}

fn d(text: &str) -> Decimal {
    Decimal::from_str_exact(text).unwrap()
}

#[test]
fn nothing_is_covered_at_no_thickness() {
    assert_eq!(q::covered_area(litres(1.0), mm(0.0)), None);
    assert_eq!(q::texture_depth(litres(1.0), mm(0.0)), None);
    assert_eq!(q::film_coverage_m2_l(mm(0.0)), None);
    assert_eq!(q::wet_film(0.0), None);
    for (a, b) in [(0.0, 100.0), (100.0, 0.0), (-100.0, 100.0)] {
        assert_eq!(q::pattern_groove_run(m2(1.0), mm(a), mm(b)), None);
    }
    // A dry film needs solids, and no more of them than all.
    for (solids, given) in [(0.0, false), (1e-6, true), (1.0, true), (1.1, false)] {
        let coverage = q::coverage_for_dry_film_m2_l(solids, mm(0.1));
        assert_eq!(coverage.is_some(), given, "{solids}");
    }
}

#[test]
fn bags_and_batches_have_a_limit() {
    // A millionth is forgiven as dust of conversion.
    assert_eq!(
        q::bags(litres(10_000_010.0), 0.0, litres(1.0)),
        Ok(10_000_000)
    );
    assert!(q::bags(litres(10_000_012.0), 0.0, litres(1.0)).is_err());
    assert_eq!(q::batches(100_000, 1).map(|b| b.len()), Ok(100_000));
    assert!(q::batches(100_001, 1).is_err());
    assert!(q::batches(300_000, 1).is_err());
}

#[test]
fn water_for_a_batch_goes_up_with_its_bags() {
    let water = q::batch_water(2, litres(3.0), litres(3.5), false);
    near(water.least.get::<liter>(), 6.0);
    near(water.start.get::<liter>(), 6.5);
    near(water.greatest.get::<liter>(), 7.0);
}

#[test]
fn a_taper_holds_what_its_middle_thickness_does() {
    // 1 m by 2 m, from 10 to 30 mm: 20 mm in the mean, 40 L.
    let volume = q::taper_volume(mm(1000.0), mm(2000.0), mm(10.0), mm(30.0));
    near(volume.get::<liter>(), 40.0);
}

fn density(x: f64) -> MassDensity {
    MassDensity::new::<kilogram_per_cubic_meter>(x)
}

#[test]
fn a_mix_of_nothing_but_air_is_refused() {
    let made = |air| {
        q::yield_from_solids(
            Mass::new::<kilogram>(25.0),
            density(2500.0),
            litres(3.0),
            air,
        )
    };
    // 25 kg at 2500 kg/m³ is 10 L; with 3 L of water 13 L; a fifth of air makes 16.25 L of it.
    near(made(0.0).unwrap().get::<liter>(), 13.0);
    near(made(0.2).unwrap().get::<liter>(), 16.25);
    assert!(made(1.0).is_err() && made(1.5).is_err() && made(-0.1).is_err());
}

#[test]
fn a_claimed_yield_is_held_against_mass() {
    // 1000 L of water at its densest are 999.975 kg (IAPWS); 25 kg and 1 L are 25.999975 kg.
    near(q::water_mass_kg(litres(1000.0)), 999.975);
    let held = |claimed_l: f64| {
        q::mass_balance(
            Mass::new::<kilogram>(25.0),
            litres(1.0),
            litres(claimed_l),
            (density(2000.0), density(2500.0)),
        )
        .unwrap()
    };
    let mass = 25.999_975;
    let balance = held(12.0);
    near(balance.claimed_l, 12.0);
    near(balance.density_kg_m3, mass / 0.012);
    near(balance.least_l, mass / 2.5);
    near(balance.greatest_l, mass / 2.0);
    // Both ends belong, in spite of binary dust; half a kilogram in a cubic metre beyond does not.
    for (density, plausible) in [
        (1999.5, false),
        (2000.0, true),
        (2000.5, true),
        (2499.5, true),
        (2500.0, true),
        (2500.5, false),
    ] {
        assert_eq!(
            held(mass / density * 1000.0).plausible,
            plausible,
            "{density}"
        );
    }
}

#[test]
fn thousands_are_set_apart_in_threes() {
    let read = |text| money::read_amount(text, "USD");
    assert_eq!(read("123,456"), Ok(d("123456")));
    assert_eq!(read("1,234,567.5"), Ok(d("1234567.5")));
    for text in ["1234,567", "12,34", "1,23,456"] {
        assert!(read(text).is_err(), "{text}");
    }
}

#[test]
fn a_line_may_cost_nothing_and_not_less() {
    let line = |quantity: &str, low: &str| CostLine {
        item: "x".into(),
        quantity: d(quantity),
        low: d(low),
        likely: d("2"),
        high: d("3"),
    };
    let amounts = |low: &str, likely: &str, high: &str| Amounts {
        low: d(low),
        likely: d(likely),
        high: d(high),
    };
    assert_eq!(line("4", "0").amounts(), Ok(amounts("0", "8", "12")));
    assert_eq!(line("0", "1").amounts(), Ok(amounts("0", "0", "0")));
    for refused in [line("4", "-1"), line("-4", "1")] {
        assert!(matches!(
            refused.amounts(),
            Err(MoneyError::Negative { .. })
        ));
    }
}

#[test]
fn a_sum_adds_means_and_variances() {
    let both = [
        Estimate::new(1.0, 2.0, 3.0).unwrap(),
        Estimate::new(2.0, 4.0, 9.0).unwrap(),
    ];
    // PERT: means 12/6 and 27/6, variances (2/6)² and (7/6)².
    let sum = SpreadRule::Pert.sum(&both);
    near(sum.mean, 6.5);
    near(sum.variance, 53.0 / 36.0);
    // Triangular: means 2 and 5; variances 3/18 and (4 + 16 + 81 - 8 - 18 - 36)/18 = 39/18.
    let sum = SpreadRule::Triangular.sum(&both);
    near(sum.mean, 7.0);
    near(sum.variance, 42.0 / 18.0);
}

#[test]
fn quantiles_of_a_sum() {
    let sum = Moments {
        mean: 10.0,
        variance: 4.0,
    };
    near(sum.quantile(0.5).unwrap(), 10.0);
    // One deviation up: 0.841344746 of a normal distribution (any table of it).
    assert!((sum.quantile(0.841_344_746).unwrap() - 12.0).abs() < 1e-6);
    assert!((sum.share_below(12.0).unwrap() - 0.841_344_746).abs() < 1e-6);
    for level in [-0.1, 0.0, 1.0, 1.1] {
        assert_eq!(sum.quantile(level), None, "{level}");
    }
    // Without spread there is one value, at every level there is.
    let sure = Moments {
        mean: 10.0,
        variance: 0.0,
    };
    for level in [0.0, 0.3, 1.0] {
        assert_eq!(sure.quantile(level), Some(10.0));
    }
    assert_eq!(sure.quantile(1.1), None);
    let shares = [9.9, 10.0, 10.1].map(|x| sure.share_below(x));
    assert_eq!(shares, [Some(0.0), Some(1.0), Some(1.0)]);
}

#[test]
fn a_triangle_is_bent_at_its_most_likely_value() {
    // From 2 over 3 to 6 a quarter lies below 3. Above: 6 - √(0.7 · 4 · 3).
    let e = Estimate::new(2.0, 3.0, 6.0).unwrap();
    near(money::triangular_quantile(e, 0.25).unwrap(), 3.0);
    near(
        money::triangular_quantile(e, 0.3).unwrap(),
        6.0 - 8.4f64.sqrt(),
    );
    // Below: 2 + √(0.16 · 4 · 1).
    near(money::triangular_quantile(e, 0.16).unwrap(), 2.8);
}

#[test]
fn interest_that_eats_everything_has_no_present_value() {
    assert_eq!(money::single_present_value(-1.0, 0.0), None);
    assert_eq!(money::uniform_present_value(-1.0, 3.0), None);
    assert_eq!(money::uniform_present_value(0.05, -1.0), None);
    assert_eq!(money::uniform_present_value(0.05, 0.0), Some(0.0));
    assert_eq!(money::capital_recovery(0.05, 0.0), None);
    assert_eq!(money::growing_present_value(0.02, -1.0, 3.0), None);
    assert_eq!(money::growing_present_value(-1.0, 0.02, 3.0), None);
    assert_eq!(money::growing_present_value(0.02, 0.03, -1.0), None);
    assert_eq!(money::growing_present_value(0.02, 0.03, 0.0), Some(0.0));
    assert_eq!(money::real_rate(0.05, -1.0), None);
    assert_eq!(money::break_even_cost_share(0.05, 3.0, 0.0), None);
    near(money::single_present_value(-0.5, 1.0).unwrap(), 2.0);
}

#[test]
fn what_is_left_and_what_comes_back_need_a_life() {
    assert_eq!(money::residual_today(100.0, 3.0, 0.0, 10.0, 0.0), None);
    assert_eq!(money::residual_today(100.0, -1.0, 10.0, 10.0, 0.0), None);
    assert_eq!(
        money::residual_today(100.0, 0.0, 10.0, 10.0, 0.0),
        Some(0.0)
    );
    assert_eq!(money::adjusted_return(0.0, 0.03, 10.0), None);
    assert_eq!(money::adjusted_return(2.0, 0.03, 0.0), None);
    assert_eq!(
        money::life_shortfall_cost(100.0, 0.0, 10.0, 5.0, 10.0),
        None
    );
    // Where money keeps its worth, R is 1 and the form divides by nothing.
    assert_eq!(
        money::life_shortfall_cost(100.0, 1.0, 10.0, 5.0, 10.0),
        None
    );
    // (1/4 - 1/2)/(1 - 1/4) of 300 with R = 1/2.
    near(
        money::life_shortfall_cost(300.0, 0.5, 2.0, 1.0, 2.0).unwrap(),
        -100.0,
    );
}

#[test]
fn a_life_that_pays() {
    for (cost, annual, rate) in [(-1.0, 10.0, 0.05), (100.0, 0.0, 0.05), (100.0, 10.0, -1.0)] {
        assert_eq!(money::break_even_life(cost, annual, rate), None);
    }
    near(money::break_even_life(0.0, 10.0, 0.05).unwrap(), 0.0);
    near(money::break_even_life(100.0, 10.0, 0.0).unwrap(), 10.0);
    // At 10 % the interest on 100 is 10 a year, so 10 a year never pays it back.
    assert_eq!(money::break_even_life(100.0, 10.0, 0.1), None);
    // Half of what is needed left: ln 2 / ln 1.1.
    near(
        money::break_even_life(100.0, 20.0, 0.1).unwrap(),
        2f64.ln() / 1.1f64.ln(),
    );
}

#[test]
fn the_widest_swing_stands_first() {
    let inputs = [
        ("narrow".to_owned(), Estimate::new(1.0, 2.0, 3.0).unwrap()),
        ("wide".to_owned(), Estimate::new(-5.0, 0.0, 5.0).unwrap()),
        (
            "shifted".to_owned(),
            Estimate::new(10.0, 11.0, 13.0).unwrap(),
        ),
    ];
    // narrow - wide + shifted: swings of 2, 10 and 3.
    let bars = money::tornado(&inputs, |x| Some(x[0] - x[1] + x[2]));
    let swings: Vec<(&str, f64)> = bars.iter().map(|b| (b.name.as_str(), b.swing())).collect();
    assert_eq!(swings, [("wide", 10.0), ("shifted", 3.0), ("narrow", 2.0)]);
}

#[test]
fn a_range_is_rounded_outward_by_its_greater_end() {
    // Two digits of 4567 are hundreds, of -4567 as well.
    assert_eq!(money::outward(123.0, 4567.0, 2), (100.0, 4600.0));
    assert_eq!(money::outward(-4567.0, 123.0, 2), (-4600.0, 200.0));
    assert_eq!(money::outward(120.0, 4500.0, 2), (100.0, 4500.0));
    assert_eq!(money::outward(0.0, 0.0, 2), (0.0, 0.0));
}
