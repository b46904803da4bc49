//! The clock of a pour, the weather's formulas and the setting of the mix where no published value
//! reaches: small runs worked out by hand, and the edges of every formula.
#![cfg(feature = "pages")]

use ringtrue::plan::clock::{
    Batch, BatchTimes, Bay, ClockError, Pace, PanelToPlace, Person, Role, Run, batches_by_bay,
    breaks, one_fewer, patterning, simulate, stop_lines, usual_roles,
};
use ringtrue::plan::money::Estimate;
use ringtrue::plan::programme::{Activity, Link, ProgrammeError, programme};
use ringtrue::plan::sampling::{Acceptance, judge};
use ringtrue::plan::setting::TimeModel;
use ringtrue::plan::weather::{
    FreezeThawRule, LossRate, Sun, SunnySurface, clear_sky_w_m2, dew_point, freeze_thaws,
    heat_index, heat_index_plain, saturation_pressure, shadow_length, sunny_surface_bound,
    water_lost_share, wet_bulb, wind_at_height,
};
use ringtrue::units::{Length, Pressure, Temperature, Velocity};
use uom::si::length::meter;
use uom::si::pressure::pascal;
use uom::si::thermodynamic_temperature::{degree_celsius, degree_fahrenheit};
use uom::si::velocity::kilometer_per_hour;

fn near(found: f64, expected: f64, within: f64) {
    assert!((found - expected).abs() <= within, "{found} for {expected}");
}

fn c(x: f64) -> Temperature {
    Temperature::new::<degree_celsius>(x)
}

fn f(x: f64) -> Temperature {
    Temperature::new::<degree_fahrenheit>(x)
}

fn person(name: &str, roles: &[Role]) -> Person {
    Person {
        name: name.into(),
        roles: roles.to_vec(),
    }
}

/// Mixed beside the place in five minutes; a person spreads 60 m² in an hour, which finishes it.
fn pace(people: Vec<Person>) -> Pace {
    Pace {
        people,
        mixers: 1,
        mix_min: 5.0,
        haul_min: 0.0,
        back_min: 0.0,
        spread_m2_h: 60.0,
        finish_m2_h: f64::INFINITY,
        ahead: 2,
    }
}

fn batches(n: usize) -> Vec<Batch> {
    vec![
        Batch {
            bags: 1,
            area_m2: 5.0,
        };
        n
    ]
}

#[test]
fn one_mixes_while_the_other_spreads() {
    let crew = vec![person("a", &[Role::Mix]), person("b", &[Role::Spread])];
    // Five minutes each to mix and to spread: the second batch is mixed while the first is spread.
    let run = simulate(&batches(2), &pace(crew)).unwrap();
    let times: Vec<(u64, u64, u64, u64)> = (run.batches.iter())
        .map(|b| (b.water_s, b.mixed_s, b.spread_from_s, b.spread_to_s))
        .collect();
    assert_eq!(times, [(0, 300, 300, 600), (300, 600, 600, 900)]);
    assert_eq!(run.end_s, 900);
}

#[test]
fn whoever_is_free_at_the_same_moment_helps_to_spread() {
    // The mixer is free when the first batch is mixed, so both spread it, in two and a half minutes.
    let crew = vec![
        person("a", &[Role::Mix, Role::Spread]),
        person("b", &[Role::Spread]),
    ];
    // A second mixer is there, but nobody takes it up before all that happens at once has happened.
    let mut pace = pace(crew);
    pace.mixers = 2;
    let run = simulate(&batches(2), &pace).unwrap();
    assert_eq!(run.batches[0].spread_to_s, 450);
    assert_eq!(run.batches[1].water_s, 450);
}

#[test]
fn a_clock_that_cannot_run_says_why() {
    let both = || person("a", &[Role::Mix, Role::Spread]);
    let alone = || pace(vec![both()]);
    assert!(simulate(&batches(5000), &alone()).is_ok());
    assert!(matches!(
        simulate(&batches(5001), &alone()),
        Err(ClockError::TooMany { count: 5001, .. })
    ));
    let crew = |n: usize| pace((0..n).map(|_| both()).collect());
    assert!(simulate(&batches(1), &crew(200)).is_ok());
    assert!(matches!(
        simulate(&batches(1), &crew(201)),
        Err(ClockError::TooMany { count: 201, .. })
    ));
    for area_m2 in [0.0, -1.0, f64::INFINITY] {
        let batch = Batch { bags: 1, area_m2 };
        assert!(matches!(
            simulate(&[batch], &alone()),
            Err(ClockError::NotPositive { .. })
        ));
    }
    let mut carried = alone();
    carried.haul_min = 1.0;
    assert_eq!(
        simulate(&batches(1), &carried),
        Err(ClockError::Nobody { role: Role::Haul })
    );
    let names = Role::ALL.map(Role::name);
    assert_eq!(names, ["mixing", "carrying", "spreading", "finishing"]);
}

#[test]
fn whoever_there_are_too_few_for_the_others_do() {
    use Role::{Finish, Haul, Mix, Spread};
    let roles =
        |n: usize| -> Vec<Vec<Role>> { usual_roles(n).into_iter().map(|p| p.roles).collect() };
    assert_eq!(roles(0), Vec::<Vec<Role>>::new());
    assert_eq!(roles(1), [vec![Spread, Mix, Haul, Finish]]);
    assert_eq!(roles(2), [vec![Spread, Finish], vec![Mix, Haul]]);
    assert_eq!(roles(3), [vec![Spread], vec![Mix, Haul], vec![Finish]]);
    assert_eq!(roles(5), [[Spread], [Mix], [Finish], [Haul], [Spread]]);
}

#[test]
fn a_batch_may_be_as_old_as_its_working_time() {
    let run = |spread_to_s, finish_to_s| Run {
        batches: vec![BatchTimes {
            spread_to_s,
            finish_to_s,
            ..BatchTimes::default()
        }],
        tasks: Vec::new(),
        end_s: finish_to_s,
    };
    assert_eq!(breaks(&run(600, 600), 10.0, &[]), []);
    let broken = breaks(&run(600, 601), 10.0, &[]);
    assert_eq!(broken.len(), 1);
    assert_eq!((broken[0].at_s, broken[0].over_s), (601, 1));
}

#[test]
fn models_of_setting_name_themselves_and_refuse_no_step() {
    use TimeModel::{Arrhenius, DoublingPerStep, ThirdPerStep};
    for (model, name) in [
        (ThirdPerStep { step_f: 10.0 }, "a third for each 10 °F"),
        (
            DoublingPerStep { step_f: 18.0 },
            "doubled for each 18 °F colder",
        ),
        (Arrhenius { q_k: 5000.0 }, "Arrhenius with Q = 5000 K"),
    ] {
        assert_eq!(model.name(), name);
    }
    for model in [
        ThirdPerStep { step_f: 0.0 },
        DoublingPerStep { step_f: 0.0 },
        DoublingPerStep { step_f: -18.0 },
        Arrhenius { q_k: 0.0 },
        Arrhenius { q_k: -1.0 },
    ] {
        for at in [f(60.0), f(80.0)] {
            assert_eq!(model.factor(f(70.0), at), None, "{model:?}");
        }
    }
    // No temperature lies below nothing.
    let arrhenius = Arrhenius { q_k: 5000.0 };
    assert_eq!(arrhenius.factor(c(20.0), c(-300.0)), None);
    assert_eq!(arrhenius.factor(c(-300.0), c(20.0)), None);
}

#[test]
fn limits_met_exactly_are_kept() {
    let rule = |least, greatest| Acceptance {
        fewest: 3,
        mean_least: Some(least),
        single_least: Some(least),
        single_greatest: Some(greatest),
    };
    let readings = [1.5, 1.5, 1.5];
    assert!(judge(&readings, &rule(1.5, 1.5)).unwrap().passed);
    // A mean and three readings too low; three readings too high.
    assert_eq!(judge(&readings, &rule(1.6, 1.6)).unwrap().failures.len(), 4);
    assert_eq!(judge(&readings, &rule(1.4, 1.4)).unwrap().failures.len(), 3);
}

#[test]
fn a_layer_without_water_loses_none() {
    let rate = LossRate::from_kg_m2_h(0.5);
    assert_eq!(water_lost_share(rate, 2.0, 0.0), None);
    assert_eq!(water_lost_share(rate, -1.0, 4.0), None);
    assert_eq!(water_lost_share(rate, 0.0, 4.0), Some(0.0));
    assert_eq!(water_lost_share(rate, 2.0, 4.0), Some(0.25));
}

#[test]
fn saturated_air_at_freezing_and_at_twenty_degrees() {
    // WMO-No. 8: 6.112 hPa at 0 °C; 23.37 hPa at 20 °C (steam tables: 23.39).
    near(saturation_pressure(c(0.0)).get::<pascal>(), 611.2, 1e-9);
    near(saturation_pressure(c(20.0)).get::<pascal>(), 2339.0, 7.0);
}

/// Wet bulbs put into the energy balance of moist air (ASHRAE Handbook of Fundamentals, SI forms
/// over water and over ice) must give back the humidity that they were found for.
#[test]
fn a_wet_bulb_balances_what_evaporates_against_what_cools() {
    let sea = 101_325.0;
    let over = |t: f64| {
        let (a, b) = if t < 0.0 {
            (22.46, 272.62)
        } else {
            (17.62, 243.12)
        };
        611.2 * (a * t / (b + t)).exp()
    };
    let ratio = |e: f64| 0.621_945 * e / (sea - e);
    // Air and wet bulb, °C.
    for (t, w) in [
        (20.0, 10.0),
        (40.0, 25.0),
        (-3.0, -5.0),
        (-15.0, -15.5),
        (-10.0, -11.5),
    ] {
        let held = if w >= 0.0 {
            ((2501.0 - 2.326 * w) * ratio(over(w)) - 1.006 * (t - w))
                / (2501.0 + 1.86 * t - 4.186 * w)
        } else {
            ((2830.0 - 0.24 * w) * ratio(over(w)) - 1.006 * (t - w)) / (2830.0 + 1.86 * t - 2.1 * w)
        };
        let vapour = held * sea / (0.621_945 + held);
        let found = wet_bulb(c(t), vapour / over(t), Pressure::new::<pascal>(sea)).unwrap();
        near(found.get::<degree_celsius>(), w, 1e-6);
    }
    // Dry air cools a wet bulb until what evaporates takes what the air brings.
    for t in [20.0, -10.0] {
        let w = wet_bulb(c(t), 0.0, Pressure::new::<pascal>(sea)).unwrap();
        let w = w.get::<degree_celsius>();
        let heat = if w >= 0.0 {
            2501.0 - 2.326 * w
        } else {
            2830.0 - 0.24 * w
        };
        near(heat * ratio(over(w)), 1.006 * (t - w), 1e-6);
    }
}

#[test]
fn outside_its_range_no_wet_bulb_is_given() {
    let at = |t: f64, r: f64, p: f64| wet_bulb(c(t), r, Pressure::new::<pascal>(p));
    assert!(at(20.0, 0.5, 101_325.0).is_some());
    for (t, r, p) in [
        (61.0, 0.5, 101_325.0),
        (-21.0, 0.5, 101_325.0),
        (20.0, f64::NAN, 101_325.0),
        (20.0, 0.5, f64::NAN),
        (20.0, 0.5, 20_000.0),
    ] {
        assert_eq!(at(t, r, p), None, "{t} {r} {p}");
    }
    assert_eq!(dew_point(c(20.0), 0.0), None);
    assert_eq!(dew_point(c(20.0), f64::NAN), None);
}

/// NWS Weather Prediction Center, the heat index equation: [(13 − RH)/4]·√{[17 − |T − 95|]/17} is
/// taken off below 13 % and between 80 and 112 °F.
#[test]
fn dry_heat_feels_less() {
    for (t, r, off) in [
        (100.0, 0.05, 2.0 * (12.0f64 / 17.0).sqrt()),
        (90.0, 0.09, 1.0 * (12.0f64 / 17.0).sqrt()),
    ] {
        let plain = heat_index_plain(f(t), r).get::<degree_fahrenheit>();
        near(
            heat_index(f(t), r).get::<degree_fahrenheit>(),
            plain - off,
            1e-9,
        );
    }
}

#[test]
fn at_the_ground_there_is_no_wind() {
    let wind = Velocity::new::<kilometer_per_hour>(10.0);
    for (from, to) in [(0.0, 0.5), (10.0, 0.0), (-10.0, 0.5), (0.0, 0.0)] {
        let metres = Length::new::<meter>;
        let found = wind_at_height(wind, metres(from), metres(to), 0.2);
        assert_eq!(found.get::<kilometer_per_hour>(), 0.0, "{from} {to}");
    }
}

#[test]
fn sun_overhead_low_and_down() {
    let sun = |elevation_deg| Sun {
        elevation_deg,
        azimuth_deg: 180.0,
    };
    // Haurwitz: 1098·e^-0.057 overhead, 549·e^-0.114 at 30°.
    near(clear_sky_w_m2(sun(90.0)), 1037.164, 1e-3);
    near(clear_sky_w_m2(sun(30.0)), 489.849, 1e-3);
    assert_eq!(clear_sky_w_m2(sun(0.0)), 0.0);
    assert_eq!(clear_sky_w_m2(sun(-5.0)), 0.0);
    assert_eq!(shadow_length(Length::new::<meter>(1.0), sun(0.0)), None);
}

#[test]
fn a_surface_of_no_or_negative_numbers_has_no_bound() {
    let surface = SunnySurface {
        absorptance: 0.7,
        emittance: 0.9,
        sunlight_w_m2: 800.0,
        convection_w_m2_k: 12.0,
        air: c(20.0),
        sky: c(10.0),
    };
    assert!(sunny_surface_bound(surface).is_some());
    for broken in [
        SunnySurface {
            absorptance: f64::NAN,
            ..surface
        },
        SunnySurface {
            sunlight_w_m2: -1.0,
            ..surface
        },
        SunnySurface {
            emittance: -0.1,
            ..surface
        },
        SunnySurface {
            convection_w_m2_k: f64::INFINITY,
            ..surface
        },
        SunnySurface {
            convection_w_m2_k: 0.0,
            ..surface
        },
    ] {
        assert_eq!(sunny_surface_bound(broken), None, "{broken:?}");
    }
}

#[test]
fn a_day_that_only_reaches_nought_has_not_thawed() {
    let rule = FreezeThawRule::Cycles { freeze_c: -1.0 };
    assert_eq!(freeze_thaws(&[(-5.0, 0.0), (-5.0, 0.0)], rule), 0);
    assert_eq!(freeze_thaws(&[(-5.0, 0.0), (0.0, 2.0)], rule), 1);
    assert_eq!(freeze_thaws(&[(-5.0, 2.0), (-5.0, 2.0)], rule), 2);
}

fn bays(areas: &[f64], largest_m2: f64) -> Vec<(Vec<String>, bool)> {
    let panels: Vec<PanelToPlace> = (areas.iter().enumerate())
        .map(|(i, &area_m2)| PanelToPlace {
            name: format!("p{i}"),
            area_m2,
        })
        .collect();
    let bays = stop_lines(&panels, largest_m2).into_iter();
    bays.map(|b| (b.panels, b.fits)).collect()
}

#[test]
fn panels_go_into_bays_that_are_not_larger_than_the_largest() {
    let names = |list: &[&str]| -> Vec<String> { list.iter().map(|&n| n.to_owned()).collect() };
    // 0.1 and 0.2 are a little more than 0.3 in binary.
    assert_eq!(bays(&[0.1, 0.2], 0.3), [(names(&["p0", "p1"]), true)]);
    assert_eq!(
        bays(&[4.0, 4.0, 4.0], 10.0),
        [(names(&["p0", "p1"]), true), (names(&["p2"]), true)]
    );
    // One that is too large stands alone, before and after others.
    assert_eq!(
        bays(&[12.0, 4.0, 4.0, 12.0, 1.0], 10.0),
        [
            (names(&["p0"]), false),
            (names(&["p1", "p2"]), true),
            (names(&["p3"]), false),
            (names(&["p4"]), true),
        ]
    );
}

#[test]
fn a_bay_is_placed_in_full_batches_and_a_rest() {
    let bay = |area_m2| Bay {
        panels: vec!["p".into()],
        area_m2,
        fits: true,
    };
    // Batches of four bags for 10 m²: 10, 10 and 5 m² of the first bay, 10 and 2 of the second.
    let (batches, stops) = batches_by_bay(&[bay(25.0), bay(12.0)], 4, 10.0).unwrap();
    let found: Vec<(u64, f64)> = batches.iter().map(|b| (b.bags, b.area_m2)).collect();
    // A half takes two bags, a fifth of four bags takes a whole one.
    assert_eq!(found, [(4, 10.0), (4, 10.0), (2, 5.0), (4, 10.0), (1, 2.0)]);
    assert_eq!(stops, [3]);
    for area_m2 in [0.0, -1.0, f64::INFINITY, f64::NAN] {
        assert!(
            batches_by_bay(&[bay(25.0)], 4, area_m2).is_err(),
            "{area_m2}"
        );
    }
    assert_eq!(
        batches_by_bay(&[bay(50_000.0)], 4, 10.0).unwrap().0.len(),
        5000
    );
    for area in [50_020.0, 100_000.0, f64::NAN] {
        let most = batches_by_bay(&[bay(area)], 4, 10.0);
        assert_eq!(most.is_err(), !area.is_nan(), "{area}");
    }
}

#[test]
fn a_smaller_crew_mixes_as_far_ahead_as_suits_it_best() {
    // However far ahead the whole crew mixes, those who are left are tried with what is best for them.
    let crew = || {
        vec![
            person("a", &[Role::Mix]),
            person("b", &[Role::Spread]),
            person("c", &[Role::Spread, Role::Mix]),
        ]
    };
    let of = |ahead: usize| {
        let mut pace = pace(crew());
        pace.ahead = ahead;
        pace.mix_min = 2.0;
        pace.spread_m2_h = 30.0;
        one_fewer(&batches(6), &pace, 20.0, &[]).unwrap()
    };
    for ahead in 1..=4 {
        assert_eq!(of(ahead), of(2), "{ahead}");
    }
}

#[test]
fn patterning_that_never_ends_is_not_in_time() {
    let run = Run {
        batches: vec![BatchTimes::default()],
        tasks: Vec::new(),
        end_s: 0,
    };
    // 5 m² at 60 m² an hour are five minutes, from an hour after the water on.
    let times = patterning(&run, &batches(1), 60.0, 70.0, 60.0);
    assert_eq!((times[0].from_s, times[0].to_s), (3600, 3900));
    assert!(times[0].in_time());
    let never = patterning(&run, &batches(1), 60.0, 70.0, 0.0);
    assert!(
        !never[0].in_time() && never[0].to_s > u64::MAX / 8,
        "{never:?}"
    );
}

/// Name, days, and what comes before with the lag after that.
type Row<'a> = (&'a str, f64, &'a [(&'a str, f64)]);

fn activities(rows: &[Row<'_>]) -> Vec<Activity> {
    rows.iter()
        .map(|(id, days, after)| Activity {
            id: (*id).into(),
            name: (*id).into(),
            days: Estimate::exact(*days),
            wait: false,
            fresh: false,
            not_before: None,
            after: (after.iter())
                .map(|(id, lag_days)| Link {
                    id: (*id).into(),
                    lag_days: *lag_days,
                })
                .collect(),
        })
        .collect()
}

#[test]
fn a_lag_counts_forward_and_back() {
    // A 2 days, 4 of waiting, B 3 days: 9 in all. C 1 day, then B: it may begin 5 days late.
    let p = programme(&activities(&[
        ("A", 2.0, &[]),
        ("C", 1.0, &[]),
        ("B", 3.0, &[("A", 4.0), ("C", 0.0)]),
    ]))
    .unwrap();
    assert_eq!((p.length, p.critical.concat()), (9.0, "AB".to_owned()));
    let times: Vec<[f64; 4]> = (p.activities.iter())
        .map(|a| [a.earliest_start, a.earliest_end, a.latest_end, a.float])
        .collect();
    assert_eq!(
        times,
        [
            [0.0, 2.0, 2.0, 0.0],
            [0.0, 1.0, 6.0, 5.0],
            [6.0, 9.0, 9.0, 0.0]
        ]
    );
}

#[test]
fn activities_that_wait_for_one_another_are_named_alone() {
    let ring = programme(&activities(&[
        ("Z", 1.0, &[("B", 0.0)]),
        ("A", 1.0, &[("B", 0.0)]),
        ("B", 1.0, &[("A", 0.0), ("C", 0.0)]),
        ("C", 1.0, &[]),
    ]));
    let ids = vec!["A".to_owned(), "B".to_owned()];
    assert_eq!(ring, Err(ProgrammeError::Ring { ids }));
    let own = programme(&activities(&[("A", 1.0, &[("A", 0.0)]), ("B", 1.0, &[])]));
    let ids = vec!["A".to_owned()];
    assert_eq!(own, Err(ProgrammeError::Ring { ids }));
    for lag in [-1.0, f64::INFINITY] {
        let broken = programme(&activities(&[("A", 1.0, &[]), ("B", 1.0, &[("A", lag)])]));
        assert!(matches!(broken, Err(ProgrammeError::Days { .. })), "{lag}");
    }
}
