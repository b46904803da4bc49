//! What must hold for the plan whatever the numbers.

use proptest::prelude::*;
use ringtrue::plan::clock::{self, Batch, Pace, PanelToPlace};
use ringtrue::plan::forecast;
use ringtrue::plan::heights::{self, RiserLimit, RiserRule, StairWork};
use ringtrue::plan::money::{self, Estimate, Payment, SpreadRule};
use ringtrue::plan::programme::{self, Activity, Dated, Link};
use ringtrue::plan::quantities as q;
use ringtrue::plan::setting::{TimeModel, scaled_time};
use ringtrue::plan::weather;
use ringtrue::source::{Problems, SourceFile};
use ringtrue::survey::stats;
use ringtrue::units::{Area, Length, Mass, MassDensity, Temperature, Velocity, Volume};
use rust_decimal::Decimal;
use uom::si::area::square_meter;
use uom::si::length::millimeter;
use uom::si::mass::kilogram;
use uom::si::mass_density::kilogram_per_cubic_meter;
use uom::si::thermodynamic_temperature::degree_celsius;
use uom::si::velocity::kilometer_per_hour;
use uom::si::volume::liter;

fn m2(x: f64) -> Area {
    Area::new::<square_meter>(x)
}

fn mm(x: f64) -> Length {
    Length::new::<millimeter>(x)
}

fn l(x: f64) -> Volume {
    Volume::new::<liter>(x)
}

fn c(x: f64) -> Temperature {
    Temperature::new::<degree_celsius>(x)
}

fn models() -> [TimeModel; 3] {
    [
        TimeModel::ThirdPerStep { step_f: 10.0 },
        TimeModel::DoublingPerStep { step_f: 18.0 },
        TimeModel::Arrhenius { q_k: 5000.0 },
    ]
}

fn pace(people: usize, mix: f64, haul: f64, spread: f64) -> Pace {
    Pace {
        people: clock::usual_roles(people),
        mixers: 1 + people / 4,
        mix_min: mix,
        haul_min: haul,
        back_min: haul,
        spread_m2_h: spread,
        finish_m2_h: spread * 1.5,
        ahead: 3,
    }
}

proptest! {
    #[test]
    fn more_area_never_needs_fewer_bags(a in 0.0..500.0f64, more in 0.0..50.0f64, t in 1.0..60.0f64, w in 0.0..0.3f64, y in 5.0..30.0f64) {
        let bags = |area| q::bags(q::layer_volume(m2(area), mm(t)), w, l(y)).unwrap();
        prop_assert!(bags(a + more) >= bags(a));
    }

    #[test]
    fn more_waste_or_thickness_never_needs_fewer_bags(a in 0.0..500.0f64, t in 1.0..60.0f64, dt in 0.0..9.0f64, w in 0.0..0.3f64, dw in 0.0..0.2f64) {
        let bags = |t, w| q::bags(q::layer_volume(m2(a), mm(t)), w, l(13.0)).unwrap();
        prop_assert!(bags(t + dt, w + dw) >= bags(t, w));
    }

    #[test]
    fn splitting_an_area_changes_nothing_but_rounding(a in 0.1..200.0f64, b in 0.1..200.0f64, t in 1.0..60.0f64) {
        let volume = |x| q::layer_volume(m2(x), mm(t));
        let split = (volume(a) + volume(b)).get::<liter>();
        prop_assert!((volume(a + b).get::<liter>() - split).abs() < 1e-9 * split);
        let bags = |x| q::bags(volume(x), 0.1, l(13.0)).unwrap();
        let (whole, parts) = (bags(a + b), bags(a) + bags(b));
        prop_assert!(whole <= parts && parts <= whole + 1);
    }

    #[test]
    fn lifts_add_up_to_the_depth(d in 1.0..300.0f64, greatest in 1.0..60.0f64) {
        let lifts = q::lifts(mm(d), mm(0.0), mm(greatest)).unwrap();
        let sum: f64 = lifts.iter().map(|x| x.get::<millimeter>()).sum();
        prop_assert!((sum - d).abs() < 1e-9 * d);
        prop_assert!(lifts.iter().all(|x| x.get::<millimeter>() <= greatest * (1.0 + 1e-5)));
    }

    #[test]
    fn hotter_never_gives_longer(t in -5.0..45.0f64, hotter in 0.0..20.0f64) {
        let at = |t| scaled_time(30.0, c(21.1), c(t), &models()).unwrap();
        let (cool, hot) = (at(t), at(t + hotter));
        prop_assert!(hot.least_min <= cool.least_min + 1e-9 && hot.greatest_min <= cool.greatest_min + 1e-9);
    }

    #[test]
    fn hotter_drier_windier_never_dries_slower(s in 0.0..45.0f64, a in 0.0..45.0f64, r in 0.0..1.0f64, v in 0.0..60.0f64, ds in 0.0..9.0f64, dr in 0.0..0.5f64, dv in 0.0..20.0f64) {
        let wind = |v| Velocity::new::<kilometer_per_hour>(v);
        for rate in [weather::evaporation_uno, weather::evaporation_menzel] {
            let base = rate(c(s), c(a), r, wind(v)).kg_m2_h;
            prop_assert!(rate(c(s + ds), c(a), (r - dr).max(0.0), wind(v + dv)).kg_m2_h >= base - 1e-12);
        }
    }

    #[test]
    fn the_wet_bulb_lies_between_dew_point_and_air(t in 2.0..45.0f64, r in 0.05..1.0f64) {
        let sea = ringtrue::units::Pressure::new::<uom::si::pressure::pascal>(101_325.0);
        let wet = weather::wet_bulb(c(t), r, sea).unwrap().get::<degree_celsius>();
        let dew = weather::dew_point(c(t), r).unwrap().get::<degree_celsius>();
        prop_assert!(dew - 0.05 <= wet && wet <= t + 1e-6, "{dew} {wet} {t}");
    }

    #[test]
    fn present_value_at_rate_zero_is_the_plain_sum(amounts in prop::collection::vec((0.0..60.0f64, -100_000i64..100_000), 0..12)) {
        let payments: Vec<Payment> = amounts.iter().map(|(year, cents)| Payment { year: *year, amount: Decimal::new(*cents, 2) }).collect();
        let sum: Decimal = payments.iter().map(|p| p.amount).sum();
        prop_assert_eq!(money::present_value(&payments, 0.0).unwrap(), sum);
    }

    #[test]
    fn a_higher_rate_never_makes_later_costs_dearer(n in 0.0..60.0f64, d in 0.0..0.2f64, more in 0.0..0.2f64) {
        prop_assert!(money::single_present_value(d + more, n).unwrap() <= money::single_present_value(d, n).unwrap() + 1e-12);
        let (u, a) = (money::uniform_present_value(d, n + 1.0).unwrap(), money::capital_recovery(d, n + 1.0).unwrap());
        prop_assert!((u * a - 1.0).abs() < 1e-12);
    }

    #[test]
    fn means_stay_between_low_and_high(a in -50.0..50.0f64, b in 0.0..50.0f64, d in 0.0..50.0f64, level in 0.0..1.0f64) {
        let e = Estimate::new(a, a + b, a + b + d).unwrap();
        for rule in [SpreadRule::Pert, SpreadRule::Triangular] {
            let m = rule.moments(e);
            prop_assert!(m.mean >= e.low - 1e-9 && m.mean <= e.high + 1e-9 && m.variance >= 0.0);
        }
        let x = money::triangular_quantile(e, level).unwrap();
        prop_assert!(x >= e.low - 1e-9 && x <= e.high + 1e-9);
    }

    #[test]
    fn rounding_outward_never_narrows(a in -1e6..1e6f64, w in 0.0..1e6f64, digits in 1u32..4) {
        let (lo, hi) = money::outward(a, a + w, digits);
        let slack = 1e-6 * (a.abs() + w).max(1.0);
        prop_assert!(lo <= a + slack && hi >= a + w - slack);
    }

    #[test]
    fn the_same_layer_everywhere_changes_no_riser(risers in prop::collection::vec(50.0..250.0f64, 1..12), t in 0.0..30.0f64) {
        let before: Vec<Length> = risers.iter().map(|x| mm(*x)).collect();
        let work = StairWork { below: mm(t), treads: mm(t), above: mm(t) };
        for (b, a) in before.iter().zip(heights::risers_after(&before, work)) {
            prop_assert!((b.get::<millimeter>() - a.get::<millimeter>()).abs() < 1e-9);
        }
    }

    #[test]
    fn the_thinner_system_found_keeps_every_limit(risers in prop::collection::vec(100.0..200.0f64, 1..9), below in 0.0..60.0f64, above in 0.0..60.0f64) {
        let before: Vec<Length> = risers.iter().map(|x| mm(*x)).collect();
        let limits = [
            RiserLimit { rule: RiserRule::Greatest, limit_mm: 196.85, source: "test".into() },
            RiserLimit { rule: RiserRule::Least, limit_mm: 101.6, source: "test".into() },
            RiserLimit { rule: RiserRule::Difference, limit_mm: 60.0, source: "test".into() },
        ];
        let work = |k: f64| StairWork { below: mm(below * k), treads: mm(0.0), above: mm(above * k) };
        if let Some((lo, hi)) = heights::share_that_keeps(&before, work(1.0), &limits) {
            for share in [lo, (lo + hi) / 2.0, hi] {
                let after = heights::risers_after(&before, work(share));
                for check in heights::check_risers(&before, &after, &limits) {
                    // Twice the rounding allowed in a single comparison.
                    let over = match check.limit.rule {
                        RiserRule::Least => check.limit.limit_mm - check.after_mm,
                        _ => check.after_mm - check.limit.limit_mm,
                    };
                    prop_assert!(over < 2.1e-3, "{check:?} at {share}");
                }
            }
        }
    }

    #[test]
    fn every_batch_goes_through_in_order(n in 0usize..40, people in 1usize..9, mix in 0.5..12.0f64, haul in 0.0..5.0f64, spread in 2.0..60.0f64) {
        let batches = vec![Batch { bags: 2, area_m2: 2.5 }; n];
        let run = clock::simulate(&batches, &pace(people, mix, haul, spread)).unwrap();
        for b in &run.batches {
            prop_assert!(b.water_s <= b.mixed_s && b.mixed_s <= b.arrived_s && b.arrived_s <= b.spread_from_s);
            prop_assert!(b.spread_from_s <= b.spread_to_s && b.spread_to_s <= b.finish_from_s && b.finish_from_s <= b.finish_to_s);
            prop_assert!(b.finish_to_s <= run.end_s);
        }
        // Every batch is mixed, carried, spread by one or more, and finished.
        let least = n * if haul > 0.0 { 4 } else { 3 };
        prop_assert!(run.tasks.len() >= least);
        // Nobody does two things at once.
        for p in 0..people {
            let mut own: Vec<_> = run.tasks.iter().filter(|t| t.person == p).collect();
            own.sort_by_key(|t| (t.from_s, t.to_s));
            prop_assert!(own.windows(2).all(|w| w[0].to_s <= w[1].from_s));
        }
    }

    #[test]
    fn longer_working_time_never_gives_a_smaller_bay(working in 5.0..60.0f64, more in 0.0..30.0f64, people in 1usize..7) {
        let batches = vec![Batch { bags: 2, area_m2: 2.5 }; 25];
        let run = clock::simulate(&batches, &pace(people, 4.0, 1.0, 20.0)).unwrap();
        let bay = |w| clock::largest_bay(&run, &batches, w).area_m2;
        prop_assert!(bay(working + more) >= bay(working));
    }

    #[test]
    fn bays_hold_every_panel_once(areas in prop::collection::vec(0.5..20.0f64, 0..20), largest in 0.0..40.0f64) {
        let panels: Vec<PanelToPlace> = areas.iter().enumerate().map(|(i, a)| PanelToPlace { name: i.to_string(), area_m2: *a }).collect();
        let bays = clock::stop_lines(&panels, largest);
        let names: Vec<&String> = bays.iter().flat_map(|b| &b.panels).collect();
        prop_assert_eq!(names, panels.iter().map(|p| &p.name).collect::<Vec<_>>());
        prop_assert!(bays.iter().all(|b| b.area_m2 <= largest + 1e-6 || !b.fits));
    }

    #[test]
    fn wilson_holds_the_share_and_narrows_with_more_trials(k in 0u32..60, n in 1u32..60) {
        let k = k.min(n);
        let (lo, hi) = stats::wilson(f64::from(k), f64::from(n), 0.95).unwrap();
        let p = f64::from(k) / f64::from(n);
        prop_assert!(lo <= p + 1e-12 && p <= hi + 1e-12 && (0.0..=1.0).contains(&lo) && (0.0..=1.0).contains(&hi));
        let (l4, h4) = stats::wilson(4.0 * f64::from(k), 4.0 * f64::from(n), 0.95).unwrap();
        prop_assert!(h4 - l4 < hi - lo);
    }

    #[test]
    fn float_is_never_negative_and_the_critical_path_fills_the_programme(days in prop::collection::vec(0.0..9.0f64, 1..14), seed in any::<u64>()) {
        let acts = network(&days, seed);
        let p = programme::programme(&acts).unwrap();
        prop_assert!(p.activities.iter().all(|a| a.float >= 0.0 && a.earliest_end <= p.length + 1e-9));
        prop_assert!(!p.critical.is_empty());
        let last = p.critical.last().unwrap();
        let end = p.activities.iter().find(|a| &a.id == last).unwrap().earliest_end;
        prop_assert!((end - p.length).abs() < 1e-6);
    }

    #[test]
    fn nothing_starts_before_what_it_waits_for(days in prop::collection::vec(0.0..9.0f64, 1..12), seed in any::<u64>()) {
        let acts = network(&days, seed);
        let start = jiff::civil::date(2026, 6, 5);
        let dates = programme::dates(&acts, start, &programme::Calendar::default()).unwrap();
        let by = |id: &str| dates.iter().find(|d| d.id == id).unwrap();
        for a in &acts {
            for link in &a.after {
                prop_assert!(by(&a.id).first >= by(&link.id).last);
            }
        }
    }

    #[test]
    fn calendar_files_keep_their_lines_short_whatever_the_names(name in ".{0,300}", job in ".{0,300}") {
        let day = jiff::civil::date(2026, 6, 5);
        let entry = Dated { id: name.clone(), name, first: day, last: day, days_off: 0, wait: false };
        let text = programme::calendar_file(&[entry], &job, &job, day);
        prop_assert!(text.split("\r\n").all(|x| x.len() <= 75 && !x.contains(['\r', '\n'])));
        let unfolded = text.replace("\r\n ", "");
        prop_assert_eq!(unfolded.matches("\r\nSUMMARY:").count(), 1);
        prop_assert_eq!(unfolded.matches("\r\nBEGIN:").count(), 1);
    }

    #[test]
    fn no_forecast_file_panics(text in "(time,air F,humidity %,wind mph\n)?[ -~\n\"é]{0,400}") {
        let mut problems = Problems::default();
        let out = forecast::read(&SourceFile::new("f", text), &mut problems);
        prop_assert!(out.is_some() || problems.has_errors());
        let _ = problems.render(false);
    }

    #[test]
    fn no_amount_text_panics(text in ".{0,40}") {
        let _ = money::read_amount(&text, "USD");
    }

    #[test]
    fn no_number_panics(x in prop::num::f64::ANY, y in prop::num::f64::ANY, z in prop::num::f64::ANY) {
        let _ = q::bags(l(x), y, l(z));
        let _ = q::lifts(mm(x), mm(y), mm(z));
        let _ = q::mass_balance(Mass::new::<kilogram>(x), l(y), l(z), (MassDensity::new::<kilogram_per_cubic_meter>(x), MassDensity::new::<kilogram_per_cubic_meter>(y)));
        let _ = weather::dew_point(c(x), y);
        let _ = weather::wet_bulb(c(x), y, ringtrue::units::Pressure::new::<uom::si::pressure::pascal>(z));
        let _ = weather::heat_index(c(x), y);
        let _ = weather::evaporation_uno(c(x), c(y), z, Velocity::new::<kilometer_per_hour>(x));
        let _ = weather::sun(x as i64, y, z, true);
        let _ = money::annual_cost(x, y, &[(z, x)], 0.03);
        let _ = money::present_value(&[Payment { year: x, amount: Decimal::MAX }], y);
        let _ = money::growing_present_value(x, y, z);
        let _ = money::break_even_life(x, y, z);
        let _ = money::outward(x, y, 2);
        let _ = stats::wilson(x, y, z);
        let _ = stats::percentile(&[x, y], z);
        let _ = heights::ways_out(&[mm(x), mm(y)], StairWork { below: mm(z), treads: mm(x), above: mm(y) }, &[RiserLimit { rule: RiserRule::Difference, limit_mm: z, source: String::new() }], x, Some(y));
        let _ = clock::simulate(&[Batch { bags: 1, area_m2: x }], &pace(3, y, z, x));
        let _ = scaled_time(x, c(y), c(z), &models());
    }
}

/// A network without rings: activity i may come after any before it.
fn network(days: &[f64], seed: u64) -> Vec<Activity> {
    days.iter()
        .enumerate()
        .map(|(i, d)| Activity {
            id: format!("a{i}"),
            name: format!("activity {i}"),
            days: Estimate::exact(*d),
            wait: (seed >> (i % 64)) & 1 == 1,
            fresh: (seed >> ((i + 9) % 64)) & 1 == 1,
            not_before: (i == 3).then_some(jiff::civil::date(2026, 7, 1)),
            after: (0..i)
                .filter(|j| (seed >> ((i * 7 + j * 3) % 64)) & 1 == 1)
                .map(|j| Link {
                    id: format!("a{j}"),
                    lag_days: ((seed >> (j % 60)) & 3) as f64,
                })
                .collect(),
        })
        .collect()
}
