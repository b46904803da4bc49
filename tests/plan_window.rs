//! Which hours are fit for placing: the numbers of an hour, and each limit on both sides of it. The
//! limits here are invented and round; every expected value follows from them.
#![cfg(feature = "pages")]

use jiff::civil;
use ringtrue::plan::forecast::{Forecast, Hour};
use ringtrue::plan::weather::{
    EvaporationFormula, LossRate, SunnySurface, clear_sky_w_m2, dew_point, heat_index, sun,
    sunny_surface_bound, wind_at_height,
};
use ringtrue::plan::window::{
    HourNumbers, Place, SlabHow, SlabReading, TroubleKind, Weight, WindowLimits, window,
};
use ringtrue::units::{Length, Temperature, Velocity};
use uom::si::length::meter;
use uom::si::thermodynamic_temperature::{degree_celsius, degree_fahrenheit, kelvin};
use uom::si::velocity::kilometer_per_hour;

fn c(x: f64) -> Temperature {
    Temperature::new::<degree_celsius>(x)
}

fn celsius(t: Temperature) -> f64 {
    t.get::<degree_celsius>()
}

fn metres(x: f64) -> Length {
    Length::new::<meter>(x)
}

fn wind() -> Velocity {
    Velocity::new::<kilometer_per_hour>(10.0)
}

fn limits() -> WindowLimits {
    WindowLimits {
        air: (c(10.0), c(30.0)),
        slab: (c(10.0), c(35.0)),
        drying_care: LossRate::from_kg_m2_h(50.0),
        drying_stop: LossRate::from_kg_m2_h(60.0),
        formula: EvaporationFormula::Uno,
        dew_margin_k: 3.0,
        rain_chance: 0.2,
        dry_before_h: 1,
        dry_after_h: 1,
        frost: c(0.0),
        no_frost_after_h: 1,
        heat_care: c(60.0),
        heat_stop: c(70.0),
        heat_in_sun_f: 15.0,
        working_hours: (7, 18),
        wind_profile: (metres(10.0), metres(0.5), 0.2),
        slab_lag_h: 3,
    }
}

/// At the crossing of equator and zero meridian, where the sun rises at 6:04 and sets at 18:11 on
/// the day below.
fn place(sunny: bool) -> Place {
    Place {
        coordinates: Some((0.0, 0.0)),
        sunny,
        absorptance: 0.7,
        emittance: 0.9,
        convection_w_m2_k: 12.0,
        sky_below_air_k: 10.0,
    }
}

/// 20 March 2024 (UTC), day and night at 20 °C.
fn day(change: impl Fn(usize, &mut Hour)) -> Forecast {
    let hours = (0..24usize).map(|i| {
        let mut hour = Hour {
            start_s: 1_710_892_800 + i as i64 * 3600,
            local: civil::date(2024, 3, 20).at(i as i8, 0, 0, 0),
            air: c(20.0),
            humidity: 0.5,
            wind: Some(wind()),
            rain_chance: Some(0.0),
            cloud: None,
            slab: None,
        };
        change(i, &mut hour);
        hour
    });
    Forecast {
        hours: hours.collect(),
    }
}

fn numbers(
    place: Place,
    slab: SlabReading,
    i: usize,
    change: impl Fn(usize, &mut Hour),
) -> HourNumbers {
    window(&day(change), place, slab, &limits(), 1).hours[i]
        .numbers
        .clone()
}

fn measured(at: f64, give_or_take_k: f64) -> SlabReading {
    SlabReading::Measured {
        at: c(at),
        give_or_take_k,
    }
}

/// What speaks against ten o'clock when every hour has this air and the slab is so.
fn against(air: f64, slab: SlabReading) -> Vec<(TroubleKind, Weight)> {
    let judged = window(
        &day(|_, hour| {
            hour.air = c(air);
            hour.humidity = 0.1;
        }),
        place(false),
        slab,
        &limits(),
        1,
    );
    let troubles = judged.hours[10].troubles.iter();
    troubles.map(|t| (t.kind, t.weight)).collect()
}

fn near(found: f64, expected: f64) {
    assert!((found - expected).abs() < 1e-9, "{found} for {expected}");
}

#[test]
fn the_slab_follows_the_air_of_the_hours_before() {
    // Of seven to ten o'clock 12 is the coldest and 24 the warmest; what was before is forgotten.
    let airs = [5.0, 40.0, 18.0, 24.0, 12.0, 20.0];
    let n = numbers(place(false), SlabReading::None, 10, |i, hour| {
        if (5..11).contains(&i) {
            hour.air = c(airs[i - 5]);
        }
    });
    near(n.slab_c.0, 12.0);
    near(n.slab_c.1, 24.0);
    assert_eq!(n.slab_how, SlabHow::Air);
}

#[test]
fn a_measured_slab_is_good_to_either_side() {
    for k in [2.0, -2.0] {
        let n = numbers(place(false), measured(18.0, k), 10, |_, _| {});
        near(n.slab_c.0, 16.0);
        near(n.slab_c.1, 20.0);
        assert_eq!(n.slab_how, SlabHow::Measured);
    }
}

#[test]
fn the_sun_counts_from_the_middle_of_the_hour() {
    // At 17:30 it is up, at 18:30 it has set, though it is up at 18:00.
    for (i, how) in [(17, SlabHow::Sun), (18, SlabHow::Air)] {
        let n = numbers(place(true), SlabReading::None, i, |_, _| {});
        let middle = 1_710_892_800 + i as i64 * 3600 + 1800;
        let expected = sun(middle, 0.0, 0.0, true).unwrap().elevation_deg;
        assert_eq!(n.sun_elevation_deg, Some(expected));
        assert_eq!(n.slab_how, how, "{i}");
    }
    let nowhere = Place {
        coordinates: None,
        ..place(true)
    };
    let n = numbers(nowhere, SlabReading::None, 12, |_, _| {});
    assert_eq!(n.slab_how, SlabHow::SunNotKnown);
}

#[test]
fn a_slab_in_the_sun_is_between_the_mean_of_the_air_and_what_the_sun_can_give() {
    // Air of 14, 18, 22 and 26 °C: 20 in the mean. A full cover of cloud leaves a quarter of the sun.
    for (cloud, share) in [(None, 1.0), (Some(0.0), 1.0), (Some(1.0), 0.25)] {
        let n = numbers(place(true), SlabReading::None, 12, |i, hour| {
            if (9..13).contains(&i) {
                hour.air = c([14.0, 18.0, 22.0, 26.0][i - 9]);
            }
            hour.cloud = cloud;
        });
        let noon = sun(1_710_892_800 + 12 * 3600 + 1800, 0.0, 0.0, true).unwrap();
        let bound = sunny_surface_bound(SunnySurface {
            absorptance: 0.7,
            emittance: 0.9,
            sunlight_w_m2: clear_sky_w_m2(noon) * share,
            convection_w_m2_k: 12.0,
            air: c(26.0),
            sky: c(16.0),
        });
        near(n.slab_c.0, 20.0);
        near(n.slab_c.1, celsius(bound.unwrap()));
    }
}

#[test]
fn a_fresh_layer_lies_between_the_air_and_a_slab_that_is_placed_on() {
    // Air, slab; coolest and hottest the layer may be. No one places on a slab above 35 °C.
    for (air, slab, cool, hot) in [
        (20.0, 25.0, 20.0, 25.0),
        (20.0, 15.0, 15.0, 20.0),
        (20.0, 45.0, 20.0, 35.0),
        (40.0, 45.0, 40.0, 40.0),
    ] {
        let n = numbers(place(false), SlabReading::None, 10, |_, hour| {
            hour.air = c(air);
            hour.slab = Some(c(slab));
        });
        let wind = wind_at_height(wind(), metres(10.0), metres(0.5), 0.2);
        let rate = |t: f64| {
            EvaporationFormula::Uno
                .rate(c(t), c(air), 0.5, wind)
                .kg_m2_h
        };
        let (low, high) = n.drying_kg_m2_h.unwrap();
        near(low, rate(cool));
        near(high, rate(hot));
    }
}

#[test]
fn sun_on_the_crew_adds_to_the_heat_only_when_it_is_hot() {
    let felt = |sunny: bool, air: f64| {
        let n = numbers(place(sunny), SlabReading::None, 12, |_, hour| {
            hour.air = c(air)
        });
        Temperature::new::<degree_celsius>(n.heat_index_c).get::<degree_fahrenheit>()
    };
    let shade = |air: f64| heat_index(c(air), 0.5).get::<degree_fahrenheit>();
    near(felt(true, 35.0), shade(35.0) + 15.0);
    near(felt(false, 35.0), shade(35.0));
    // Below 80 °F the index is the air's own and nothing is added.
    near(felt(true, 20.0), shade(20.0));
}

#[test]
fn air_and_slab_are_held_to_their_limits_ends_included() {
    use TroubleKind::{AirCold, AirHot, SlabCold, SlabHot};
    let care = |kind| vec![(kind, Weight::Care)];
    let stop = |kind| vec![(kind, Weight::Stop)];
    let slab = |t: f64| measured(t, 0.0);
    assert_eq!(against(10.0, slab(20.0)), []);
    assert_eq!(against(9.5, slab(20.0)), stop(AirCold));
    assert_eq!(against(30.0, slab(20.0)), []);
    assert_eq!(against(30.5, slab(20.0)), stop(AirHot));
    assert_eq!(against(20.0, slab(10.0)), []);
    assert_eq!(against(20.0, slab(9.5)), stop(SlabCold));
    assert_eq!(against(20.0, slab(35.0)), []);
    assert_eq!(against(20.0, slab(35.5)), stop(SlabHot));
    // A range stops only when all of it is beyond; its end on the limit is not.
    assert_eq!(against(20.0, measured(10.5, 1.0)), care(SlabCold));
    assert_eq!(against(20.0, measured(9.0, 1.0)), care(SlabCold));
    assert_eq!(against(20.0, measured(8.5, 1.0)), stop(SlabCold));
    assert_eq!(against(20.0, measured(34.5, 1.0)), care(SlabHot));
    assert_eq!(against(20.0, measured(36.0, 1.0)), care(SlabHot));
    assert_eq!(against(20.0, measured(36.5, 1.0)), stop(SlabHot));
}

#[test]
fn a_slab_may_be_near_the_dew_point_or_surely_is() {
    let dew = celsius(dew_point(c(25.0), 0.9).unwrap());
    let against = |slab: SlabReading| -> Vec<(TroubleKind, Weight)> {
        let hours = day(|_, hour| {
            hour.air = c(25.0);
            hour.humidity = 0.9;
        });
        let judged = window(&hours, place(false), slab, &limits(), 1);
        let troubles = judged.hours[10].troubles.iter();
        troubles.map(|t| (t.kind, t.weight)).collect()
    };
    let dew_is = |weight| vec![(TroubleKind::Dew, weight)];
    assert_eq!(against(measured(dew + 1.0, 0.5)), dew_is(Weight::Stop));
    assert_eq!(against(measured(dew + 2.0, 1.5)), dew_is(Weight::Care));
    assert_eq!(against(measured(dew + 5.0, 1.5)), []);
    // A margin met exactly is kept, by the least the slab may be or by the greatest.
    let damp = |_: usize, hour: &mut Hour| hour.humidity = 0.9;
    for (slab, left) in [
        (measured(19.0, 0.0), None),
        (measured(19.0, 0.5), Some(Weight::Care)),
    ] {
        let n = numbers(place(false), slab, 10, damp);
        let mut limits = limits();
        limits.dew_margin_k = n.slab_c.1 - n.dew_c.unwrap();
        let judged = window(&day(damp), place(false), slab, &limits, 1);
        let said = judged.hours[10].troubles.iter().map(|t| t.weight).next();
        assert_eq!(said, left);
    }
}

#[test]
fn of_the_hours_of_a_pour_the_one_furthest_beyond_is_told() {
    // 10 and 11 o'clock, whichever is the colder or the hotter.
    for (first, second, value) in [
        (5.0, 2.0, 2.0),
        (2.0, 5.0, 2.0),
        (33.0, 38.0, 38.0),
        (38.0, 33.0, 38.0),
    ] {
        let hours = day(|i, hour| {
            hour.humidity = 0.1;
            hour.air = c(match i {
                10 => first,
                11 => second,
                // No other pair of hours has less against it.
                _ => -20.0,
            });
        });
        let mut limits = limits();
        limits.frost = c(-50.0);
        limits.working_hours = (10, 12);
        let judged = window(&hours, place(false), measured(20.0, 0.0), &limits, 2);
        let start = judged.nearest.unwrap();
        assert_eq!(start.hour, 10);
        let [trouble] = &start.troubles[..] else {
            panic!("{start:?}")
        };
        near(trouble.value.unwrap(), value);
    }
}

#[test]
fn every_kind_of_trouble_has_its_own_words() {
    use TroubleKind::{
        AirCold, AirHot, Dew, Drying, ForecastEnds, Frost, Heat, Hours, Rain, RainAfter,
        RainBefore, SlabCold, SlabHot,
    };
    let kinds = [
        Hours,
        AirCold,
        AirHot,
        SlabCold,
        SlabHot,
        Drying,
        Dew,
        Rain,
        RainBefore,
        RainAfter,
        Frost,
        Heat,
        ForecastEnds,
    ];
    let mut names: Vec<&str> = kinds.iter().map(|k| k.name()).collect();
    names.sort_unstable();
    names.dedup();
    assert_eq!(names.len(), kinds.len());
    assert_eq!(Drying.name(), "dries too fast");
    // Nothing helps against the clock and against rain.
    let helpless: Vec<&str> = kinds
        .iter()
        .filter(|k| k.precaution().is_empty())
        .map(|k| k.name())
        .collect();
    assert_eq!(helpless, ["outside working hours", "rain"]);
    assert!(Heat.precaution().contains("shade"), "{}", Heat.precaution());
}

#[test]
fn kelvin_and_celsius_agree_on_an_end() {
    // The ends in the tests above are met exactly: a degree more is a kelvin more.
    let one_more = Temperature::new::<kelvin>(c(9.0).get::<kelvin>() + 1.0);
    assert_eq!(one_more, c(10.0));
}
