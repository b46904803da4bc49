//! The placing window: which hours of a forecast are fine, which need precautions, which are not,
//! and the best start for a pour of given length.

use std::collections::BTreeMap;

use jiff::civil;
use serde::Serialize;
use uom::si::thermodynamic_temperature::{degree_celsius, degree_fahrenheit, kelvin};
use uom::si::velocity::kilometer_per_hour;

use super::forecast::{Forecast, HOUR_S, Hour};
use super::weather::{
    EvaporationFormula, LossRate, SunnySurface, clear_sky_w_m2, dew_point, heat_index, sun,
    sunny_surface_bound, wind_at_height,
};
use crate::units::{Length, Temperature};

/// Limits an hour is held to. All of them come from the material's sheet or the rule pack.
#[derive(Debug, Clone, PartialEq)]
pub struct WindowLimits {
    /// Air temperature, least and greatest.
    pub air: (Temperature, Temperature),
    /// Slab temperature, least and greatest.
    pub slab: (Temperature, Temperature),
    /// Drying rate from which precautions are taken.
    pub drying_care: LossRate,
    /// Drying rate from which nothing is placed.
    pub drying_stop: LossRate,
    /// Formula for the drying rate.
    pub formula: EvaporationFormula,
    /// Kelvin that the slab must be above the dew point.
    pub dew_margin_k: f64,
    /// Chance of rain (share) up to which an hour counts as dry.
    pub rain_chance: f64,
    /// Dry hours wanted before placing.
    pub dry_before_h: usize,
    /// Dry hours wanted after the pour.
    pub dry_after_h: usize,
    /// Air at or below this is frost.
    pub frost: Temperature,
    /// Hours without frost wanted after the pour.
    pub no_frost_after_h: usize,
    /// Heat index in the shade from which the crew needs water, shade and breaks.
    pub heat_care: Temperature,
    /// Heat index from which work is put off.
    pub heat_stop: Temperature,
    /// Added to the heat index when the sun is on the crew, Fahrenheit degrees.
    pub heat_in_sun_f: f64,
    /// Local hours of work: first hour in which a pour may begin, and hour by which it has ended.
    pub working_hours: (i8, i8),
    /// Heights of forecast wind and of the wind over the slab, and exponent of the power law.
    pub wind_profile: (Length, Length, f64),
    /// Hours over which the slab follows the air.
    pub slab_lag_h: usize,
}

/// The place, for sun and shade.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// Latitude and longitude in degrees, north and east positive; `None` when not known: the sun
    /// is then left out, and every hour says so.
    pub coordinates: Option<(f64, f64)>,
    /// Whether the sun reaches the slab at all.
    pub sunny: bool,
    /// Share of sunlight the surface takes in (1 − reflectance).
    pub absorptance: f64,
    /// Thermal emittance of the surface.
    pub emittance: f64,
    /// Convection coefficient for the bound, W/m²K.
    pub convection_w_m2_k: f64,
    /// Kelvin that the sky radiates below the air.
    pub sky_below_air_k: f64,
}

/// Where a slab temperature comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SlabReading {
    /// Not measured: estimated from the air of the hours before and the sun as a bound.
    None,
    /// Measured, good to ± this many kelvin over the window.
    Measured {
        /// What was read.
        at: Temperature,
        /// How far it may be off in other hours, kelvin.
        give_or_take_k: f64,
    },
}

/// How the slab temperature of an hour was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum SlabHow {
    /// Given in the forecast file.
    File,
    /// Measured on the slab.
    Measured,
    /// Between the coldest air of the hours before and the warmest, no sun.
    Air,
    /// Between the mean of the air before and what the sun can give at most.
    Sun,
    /// As `Air`; whether the sun adds to it is not known, because the place is not.
    SunNotKnown,
}

/// An hour in numbers.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HourNumbers {
    /// Local time at the start.
    pub local: civil::DateTime,
    /// Air, °C.
    pub air_c: f64,
    /// Relative humidity, share.
    pub humidity: f64,
    /// Dew point, °C.
    pub dew_c: Option<f64>,
    /// Wind over the slab, km/h.
    pub wind_km_h: Option<f64>,
    /// Chance of rain, share.
    pub rain_chance: Option<f64>,
    /// Slab, least and greatest, °C.
    pub slab_c: (f64, f64),
    /// How the slab temperature was found.
    pub slab_how: SlabHow,
    /// Drying rate at the least and greatest surface temperature, kg/m²/h.
    pub drying_kg_m2_h: Option<(f64, f64)>,
    /// Heat index for the crew, °C; with the sun's share where the sun shines on them.
    pub heat_index_c: f64,
    /// Sun above the horizon, degrees; `None` when the place is not known.
    pub sun_elevation_deg: Option<f64>,
}

/// How much something weighs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Weight {
    /// Fine with a precaution.
    Care,
    /// Not known, because the forecast does not say.
    Unknown,
    /// Not in this hour.
    Stop,
}

/// What speaks against an hour.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum TroubleKind {
    /// Outside the hours of work.
    Hours,
    /// Air too cold, °C.
    AirCold,
    /// Air too hot, °C.
    AirHot,
    /// Slab too cold, °C.
    SlabCold,
    /// Slab too hot, °C.
    SlabHot,
    /// Dries too fast, kg/m²/h.
    Drying,
    /// Slab too near the dew point, K above it.
    Dew,
    /// Rain during the pour, share.
    Rain,
    /// Rain before, share.
    RainBefore,
    /// Rain too soon after, share.
    RainAfter,
    /// Frost during or too soon after, °C.
    Frost,
    /// Heat on the crew, heat index °C.
    Heat,
    /// The forecast ends too early to know what comes after.
    ForecastEnds,
}

impl TroubleKind {
    /// What it is, for pages.
    pub fn name(self) -> &'static str {
        match self {
            TroubleKind::Hours => "outside working hours",
            TroubleKind::AirCold => "air too cold",
            TroubleKind::AirHot => "air too hot",
            TroubleKind::SlabCold => "slab too cold",
            TroubleKind::SlabHot => "slab too hot",
            TroubleKind::Drying => "dries too fast",
            TroubleKind::Dew => "dew on the slab",
            TroubleKind::Rain => "rain",
            TroubleKind::RainBefore => "rain just before",
            TroubleKind::RainAfter => "rain too soon after",
            TroubleKind::Frost => "frost",
            TroubleKind::Heat => "heat on the crew",
            TroubleKind::ForecastEnds => "forecast ends too early",
        }
    }

    /// What to do about it when the hour is used all the same; empty where nothing helps.
    pub fn precaution(self) -> &'static str {
        match self {
            TroubleKind::Hours | TroubleKind::Rain => "",
            TroubleKind::AirCold => "keep bags and water warm, cover with blankets after placing",
            TroubleKind::AirHot => "cool water, bags in the shade, smaller batches",
            TroubleKind::SlabCold => {
                "measure the slab before the first batch; cover it the night before"
            }
            TroubleKind::SlabHot => {
                "measure the slab before the first batch; shade it and wet it down early"
            }
            TroubleKind::Drying => {
                "shade and wind break, fog over the surface, cover or cure at once"
            }
            TroubleKind::Dew => "measure the slab; wait until it is dry and clear of the dew point",
            TroubleKind::RainBefore => {
                "look at the slab: no standing water, damp as the sheet asks"
            }
            TroubleKind::RainAfter => "covers laid out on a frame before the first batch",
            TroubleKind::Frost => "insulating blankets ready",
            TroubleKind::Heat => "water, shade and breaks for the crew; watch one another",
            TroubleKind::ForecastEnds => "look at a later forecast before opening a bag",
        }
    }
}

/// Something that speaks against an hour, with its number.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Trouble {
    /// What.
    pub kind: TroubleKind,
    /// How much it weighs.
    pub weight: Weight,
    /// Index of the hour.
    pub hour: usize,
    /// The value, in the unit of its kind; `None` when it is not known.
    pub value: Option<f64>,
    /// The limit, in the same unit.
    pub limit: f64,
}

/// What an hour, or a pour of several, is good for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum WindowVerdict {
    /// Place.
    Fine,
    /// Place with the precautions named.
    WithCare,
    /// Something decisive is not known.
    NotKnown,
    /// Do not place.
    Not,
}

fn verdict(troubles: &[Trouble]) -> WindowVerdict {
    match troubles.iter().map(|t| t.weight).max() {
        None => WindowVerdict::Fine,
        Some(Weight::Care) => WindowVerdict::WithCare,
        Some(Weight::Unknown) => WindowVerdict::NotKnown,
        Some(Weight::Stop) => WindowVerdict::Not,
    }
}

/// An hour with its verdict.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct JudgedHour {
    /// Its numbers.
    pub numbers: HourNumbers,
    /// Verdict for a pour of this one hour.
    pub verdict: WindowVerdict,
    /// What speaks against it, heaviest first.
    pub troubles: Vec<Trouble>,
}

/// A start for the whole pour.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Start {
    /// Index of the first hour.
    pub hour: usize,
    /// Local time.
    pub local: civil::DateTime,
    /// Hours of the pour.
    pub hours: usize,
    /// Verdict for the whole pour.
    pub verdict: WindowVerdict,
    /// The heaviest trouble of each kind.
    pub troubles: Vec<Trouble>,
    /// Greatest drying rate on the way, kg/m²/h.
    pub peak_drying_kg_m2_h: Option<f64>,
}

/// The window of a forecast.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Window {
    /// Every hour.
    pub hours: Vec<JudgedHour>,
    /// The best start, if the whole pour fits anywhere.
    pub best: Option<Start>,
    /// When there is none: how many starts each kind of trouble rules out, most first.
    pub ruled_out: Vec<(TroubleKind, usize)>,
    /// When there is none: the start with the least against it.
    pub nearest: Option<Start>,
}

/// Judges every hour and picks the best start for a pour of `pour_h` hours.
///
/// The best start has nothing that stops it and, in this order, least that is not known, fewest
/// precautions, the lowest peak drying rate, the earliest hour.
pub fn window(
    forecast: &Forecast,
    place: Place,
    slab: SlabReading,
    limits: &WindowLimits,
    pour_h: usize,
) -> Window {
    let numbers: Vec<HourNumbers> = (0..forecast.hours.len())
        .map(|i| numbers(&forecast.hours, i, place, slab, limits))
        .collect();
    let hours: Vec<JudgedHour> = numbers
        .iter()
        .enumerate()
        .map(|(i, n)| {
            let troubles = pour_troubles(&numbers, i, 1, limits);
            JudgedHour {
                numbers: n.clone(),
                verdict: verdict(&troubles),
                troubles,
            }
        })
        .collect();
    let pour_h = pour_h.max(1);
    let starts: Vec<Start> = (0..numbers.len())
        .filter(|i| i + pour_h <= numbers.len())
        .filter_map(|i| {
            let troubles = pour_troubles(&numbers, i, pour_h, limits);
            let peak = numbers
                .get(i..i + pour_h)?
                .iter()
                .filter_map(|n| n.drying_kg_m2_h)
                .map(|d| d.1)
                .reduce(f64::max);
            Some(Start {
                hour: i,
                local: numbers.get(i)?.local,
                hours: pour_h,
                verdict: verdict(&troubles),
                troubles,
                peak_drying_kg_m2_h: peak,
            })
        })
        .collect();
    let count = |s: &Start, w: Weight| s.troubles.iter().filter(|t| t.weight == w).count();
    let better = |a: &&Start, b: &&Start| {
        (
            count(a, Weight::Stop),
            count(a, Weight::Unknown),
            count(a, Weight::Care),
        )
            .cmp(&(
                count(b, Weight::Stop),
                count(b, Weight::Unknown),
                count(b, Weight::Care),
            ))
            .then_with(|| {
                let peak = |s: &Start| s.peak_drying_kg_m2_h.unwrap_or(f64::INFINITY);
                peak(a).total_cmp(&peak(b))
            })
            .then(a.hour.cmp(&b.hour))
    };
    let first = starts.iter().min_by(better).cloned();
    let best = first.clone().filter(|s| s.verdict != WindowVerdict::Not);
    let mut ruled_out: Vec<(TroubleKind, usize)> = Vec::new();
    if best.is_none() {
        let mut by_kind: BTreeMap<TroubleKind, usize> = BTreeMap::new();
        for t in starts
            .iter()
            .flat_map(|s| &s.troubles)
            .filter(|t| t.weight == Weight::Stop)
        {
            *by_kind.entry(t.kind).or_default() += 1;
        }
        ruled_out = by_kind.into_iter().collect();
        ruled_out.sort_by_key(|(kind, n)| (std::cmp::Reverse(*n), *kind));
    }
    let nearest = if best.is_none() { first } else { None };
    Window {
        hours,
        best,
        ruled_out,
        nearest,
    }
}

fn c(t: Temperature) -> f64 {
    t.get::<degree_celsius>()
}

fn numbers(
    hours: &[Hour],
    i: usize,
    place: Place,
    slab: SlabReading,
    limits: &WindowLimits,
) -> HourNumbers {
    // The caller walks the indices of `hours` itself.
    let hour = &hours[i];
    let from = i.saturating_sub(limits.slab_lag_h);
    let lag = hours[from..=i].iter().map(|h| h.air);
    let coldest = lag
        .clone()
        .reduce(|a, b| if b < a { b } else { a })
        .unwrap_or(hour.air);
    let warmest = lag
        .reduce(|a, b| if b > a { b } else { a })
        .unwrap_or(hour.air);
    let sun = place
        .coordinates
        .and_then(|(lat, lon)| sun(hour.start_s + HOUR_S / 2, lat, lon, true));
    let in_sun = place.sunny && sun.is_some_and(|s| s.elevation_deg > 0.0);
    let (least, greatest, how) = match (hour.slab, slab) {
        (Some(t), _) => (t, t, SlabHow::File),
        (None, SlabReading::Measured { at, give_or_take_k }) => {
            let k = give_or_take_k.abs();
            let moved = |by: f64| Temperature::new::<kelvin>(at.get::<kelvin>() + by);
            (moved(-k), moved(k), SlabHow::Measured)
        }
        (None, SlabReading::None) if place.sunny && sun.is_none() => {
            (coldest, warmest, SlabHow::SunNotKnown)
        }
        (None, SlabReading::None) => match sun.filter(|_| in_sun) {
            Some(s) => {
                // Cloud takes away 75 % of the sunlight when it covers the sky (Kasten and
                // Czeplak 1980, from memory); an unknown cover counts as none, which is the bound.
                let clear = 1.0 - 0.75 * hour.cloud.unwrap_or(0.0).powf(3.4);
                let bound = sunny_surface_bound(SunnySurface {
                    absorptance: place.absorptance,
                    emittance: place.emittance,
                    sunlight_w_m2: clear_sky_w_m2(s) * clear,
                    convection_w_m2_k: place.convection_w_m2_k,
                    air: hour.air,
                    sky: Temperature::new::<kelvin>(
                        hour.air.get::<kelvin>() - place.sky_below_air_k,
                    ),
                });
                let greatest = bound.filter(|b| *b > warmest).unwrap_or(warmest);
                // In the sun a slab is no colder than the mean of the air it follows.
                let kelvins = hours[from..=i].iter().map(|h| h.air.get::<kelvin>());
                let mean = kelvins.sum::<f64>() / (i + 1 - from) as f64;
                (Temperature::new::<kelvin>(mean), greatest, SlabHow::Sun)
            }
            None => (coldest, warmest, SlabHow::Air),
        },
    };
    let (from_h, to_h, exponent) = limits.wind_profile;
    let wind = hour.wind.map(|w| wind_at_height(w, from_h, to_h, exponent));
    // A fresh layer lies between the air and the slab; a slab beyond its limit is not placed on.
    let hot = if greatest > limits.slab.1 {
        limits.slab.1
    } else {
        greatest
    };
    let hot = if hot > hour.air { hot } else { hour.air };
    let cool = if least < hour.air { least } else { hour.air };
    let drying = wind.map(|w| {
        let rate = |t| limits.formula.rate(t, hour.air, hour.humidity, w).kg_m2_h;
        (rate(cool), rate(hot))
    });
    let shade = heat_index(hour.air, hour.humidity);
    let felt = if in_sun && shade.get::<degree_fahrenheit>() >= 80.0 {
        Temperature::new::<degree_fahrenheit>(
            shade.get::<degree_fahrenheit>() + limits.heat_in_sun_f,
        )
    } else {
        shade
    };
    HourNumbers {
        local: hour.local,
        air_c: c(hour.air),
        humidity: hour.humidity,
        dew_c: dew_point(hour.air, hour.humidity).map(c),
        wind_km_h: wind.map(|w| w.get::<kilometer_per_hour>()),
        rain_chance: hour.rain_chance,
        slab_c: (c(least), c(greatest)),
        slab_how: how,
        drying_kg_m2_h: drying,
        heat_index_c: c(felt),
        sun_elevation_deg: sun.map(|s| s.elevation_deg),
    }
}

/// Everything against a pour of `length` hours from hour `start`, the heaviest of each kind.
fn pour_troubles(
    hours: &[HourNumbers],
    start: usize,
    length: usize,
    limits: &WindowLimits,
) -> Vec<Trouble> {
    let mut found: BTreeMap<TroubleKind, Trouble> = BTreeMap::new();
    let mut add = |t: Trouble| {
        let heavier = found.get(&t.kind).is_none_or(|old| {
            let over = |t: &Trouble| t.value.map_or(0.0, |v| (v - t.limit).abs());
            (t.weight, over(&t)).partial_cmp(&(old.weight, over(old)))
                == Some(std::cmp::Ordering::Greater)
        });
        if heavier {
            found.insert(t.kind, t);
        }
    };
    let end = start.saturating_add(length);
    for (i, h) in hours.iter().enumerate().take(end).skip(start) {
        hour_troubles(i, h, limits, &mut add);
    }
    let rain = |kind, i: usize, h: &HourNumbers| match h.rain_chance {
        Some(x) if x <= limits.rain_chance => None,
        value => {
            let weight = if value.is_some() {
                Weight::Stop
            } else {
                Weight::Unknown
            };
            Some(Trouble {
                kind,
                weight,
                hour: i,
                value,
                limit: limits.rain_chance,
            })
        }
    };
    let span = |from: usize, to: usize| hours.iter().enumerate().take(to).skip(from);
    span(start.saturating_sub(limits.dry_before_h), start)
        .filter_map(|(i, h)| rain(TroubleKind::RainBefore, i, h))
        .for_each(&mut add);
    span(start, end)
        .filter_map(|(i, h)| rain(TroubleKind::Rain, i, h))
        .for_each(&mut add);
    span(end, end.saturating_add(limits.dry_after_h))
        .filter_map(|(i, h)| rain(TroubleKind::RainAfter, i, h))
        .for_each(&mut add);
    span(start, end.saturating_add(limits.no_frost_after_h))
        .filter(|(_, h)| h.air_c <= c(limits.frost))
        .map(|(i, h)| Trouble {
            kind: TroubleKind::Frost,
            weight: Weight::Stop,
            hour: i,
            value: Some(h.air_c),
            limit: c(limits.frost),
        })
        .for_each(&mut add);
    let after = limits.dry_after_h.max(limits.no_frost_after_h);
    if end.saturating_add(after) > hours.len() {
        let known = hours.len().saturating_sub(end);
        add(Trouble {
            kind: TroubleKind::ForecastEnds,
            weight: Weight::Unknown,
            hour: hours.len().saturating_sub(1),
            value: Some(known as f64),
            limit: after as f64,
        });
    }
    let mut all: Vec<Trouble> = found.into_values().collect();
    all.sort_by_key(|t| (std::cmp::Reverse(t.weight), t.kind));
    all
}

/// What speaks against an hour by itself.
fn hour_troubles(i: usize, h: &HourNumbers, limits: &WindowLimits, add: &mut impl FnMut(Trouble)) {
    let mut say = |kind, weight, value: Option<f64>, limit| {
        add(Trouble {
            kind,
            weight,
            hour: i,
            value,
            limit,
        })
    };
    let (from, to) = limits.working_hours;
    if h.local.hour() < from || h.local.hour() >= to {
        say(
            TroubleKind::Hours,
            Weight::Stop,
            Some(f64::from(h.local.hour())),
            f64::from(from),
        );
    }
    if h.air_c < c(limits.air.0) {
        say(
            TroubleKind::AirCold,
            Weight::Stop,
            Some(h.air_c),
            c(limits.air.0),
        );
    }
    if h.air_c > c(limits.air.1) {
        say(
            TroubleKind::AirHot,
            Weight::Stop,
            Some(h.air_c),
            c(limits.air.1),
        );
    }
    // The slab is a range: it stops the hour only when every possible value does.
    let (least, greatest) = h.slab_c;
    let (cold, hot) = (c(limits.slab.0), c(limits.slab.1));
    if least < cold {
        let weight = if greatest < cold {
            Weight::Stop
        } else {
            Weight::Care
        };
        say(TroubleKind::SlabCold, weight, Some(least), cold);
    }
    if greatest > hot {
        let weight = if least > hot {
            Weight::Stop
        } else {
            Weight::Care
        };
        say(TroubleKind::SlabHot, weight, Some(greatest), hot);
    }
    match h.drying_kg_m2_h {
        None => say(
            TroubleKind::Drying,
            Weight::Unknown,
            None,
            limits.drying_care.kg_m2_h,
        ),
        Some((low, high)) => {
            if low >= limits.drying_stop.kg_m2_h {
                say(
                    TroubleKind::Drying,
                    Weight::Stop,
                    Some(low),
                    limits.drying_stop.kg_m2_h,
                );
            } else if high >= limits.drying_care.kg_m2_h {
                say(
                    TroubleKind::Drying,
                    Weight::Care,
                    Some(high),
                    limits.drying_care.kg_m2_h,
                );
            }
        }
    }
    if let Some(dew) = h.dew_c {
        let margin = least - dew;
        if margin < limits.dew_margin_k {
            let weight = if greatest - dew < limits.dew_margin_k {
                Weight::Stop
            } else {
                Weight::Care
            };
            say(TroubleKind::Dew, weight, Some(margin), limits.dew_margin_k);
        }
    }
    if h.heat_index_c >= c(limits.heat_stop) {
        say(
            TroubleKind::Heat,
            Weight::Stop,
            Some(h.heat_index_c),
            c(limits.heat_stop),
        );
    } else if h.heat_index_c >= c(limits.heat_care) {
        say(
            TroubleKind::Heat,
            Weight::Care,
            Some(h.heat_index_c),
            c(limits.heat_care),
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use uom::si::length::meter;
    use uom::si::velocity::mile_per_hour;

    use crate::units::Velocity;

    fn f(x: f64) -> Temperature {
        Temperature::new::<degree_fahrenheit>(x)
    }

    fn limits() -> WindowLimits {
        WindowLimits {
            air: (f(50.0), f(90.0)),
            slab: (f(50.0), f(90.0)),
            drying_care: LossRate::from_lb_ft2_h(0.10),
            drying_stop: LossRate::from_lb_ft2_h(0.20),
            formula: EvaporationFormula::Uno,
            dew_margin_k: 3.0,
            rain_chance: 0.2,
            dry_before_h: 1,
            dry_after_h: 4,
            frost: f(32.0),
            no_frost_after_h: 6,
            heat_care: f(91.0),
            heat_stop: f(103.0),
            heat_in_sun_f: 15.0,
            working_hours: (7, 18),
            wind_profile: (
                Length::new::<meter>(10.0),
                Length::new::<meter>(0.5),
                1.0 / 7.0,
            ),
            slab_lag_h: 3,
        }
    }

    fn shade() -> Place {
        Place {
            coordinates: Some((42.0, -93.0)),
            sunny: false,
            absorptance: 0.7,
            emittance: 0.9,
            convection_w_m2_k: 12.0,
            sky_below_air_k: 10.0,
        }
    }

    /// 2026-06-03 from midnight, UTC−5: mild and dry the whole day.
    fn day(change: impl Fn(usize, &mut Hour)) -> Forecast {
        let hours = (0..24usize)
            .map(|i| {
                let mut h = Hour {
                    start_s: 1_780_462_800 + i as i64 * HOUR_S,
                    local: civil::date(2026, 6, 3).at(i as i8, 0, 0, 0),
                    air: f(68.0),
                    humidity: 0.5,
                    wind: Some(Velocity::new::<mile_per_hour>(5.0)),
                    rain_chance: Some(0.05),
                    cloud: None,
                    slab: None,
                };
                change(i, &mut h);
                h
            })
            .collect();
        Forecast { hours }
    }

    fn run(forecast: &Forecast, pour_h: usize) -> Window {
        window(forecast, shade(), SlabReading::None, &limits(), pour_h)
    }

    #[test]
    fn a_mild_dry_day_is_fine_from_the_first_working_hour() {
        let w = run(&day(|_, _| {}), 3);
        let best = w.best.unwrap();
        assert_eq!((best.hour, best.verdict), (7, WindowVerdict::Fine));
        assert_eq!(w.hours[6].verdict, WindowVerdict::Not);
        assert_eq!(w.hours[6].troubles[0].kind, TroubleKind::Hours);
        assert!(w.ruled_out.is_empty() && w.nearest.is_none());
    }

    #[test]
    fn rain_rules_out_the_hours_before_and_after_it() {
        // Rain at 13: a pour of three hours with four dry hours after must end by 9 (start 6, too
        // early) or begin at 15 or later with an hour dry before; it must end by 18 and the dry
        // hours after reach to 22.
        let w = run(
            &day(|i, h| {
                if i == 13 {
                    h.rain_chance = Some(0.6)
                }
            }),
            3,
        );
        let best = w.best.unwrap();
        assert_eq!(
            (best.hour, best.verdict),
            (15, WindowVerdict::Fine),
            "frost is known to 18 + 6 = 24"
        );
        let kind = |i: usize| w.hours[i].troubles[0].kind;
        assert_eq!(kind(13), TroubleKind::Rain);
        assert_eq!(kind(14), TroubleKind::RainBefore);
        assert_eq!(kind(10), TroubleKind::RainAfter);
    }

    #[test]
    fn when_nothing_fits_it_says_why_and_what_comes_nearest() {
        let w = run(&day(|_, h| h.rain_chance = Some(0.9)), 3);
        assert!(w.best.is_none());
        assert_eq!(w.ruled_out[0].0, TroubleKind::Rain);
        assert_eq!(w.nearest.unwrap().verdict, WindowVerdict::Not);
        let short = run(&day(|_, _| {}), 30);
        assert!(short.best.is_none() && short.nearest.is_none());
    }

    #[test]
    fn an_hour_without_wind_or_rain_is_not_known_rather_than_fine() {
        let w = run(
            &day(|i, h| {
                if i == 9 {
                    h.wind = None
                }
            }),
            1,
        );
        assert_eq!(w.hours[9].verdict, WindowVerdict::NotKnown);
        assert_eq!(
            (w.hours[9].troubles[0].kind, w.hours[9].troubles[0].value),
            (TroubleKind::Drying, None)
        );
        let w = run(&day(|_, h| h.rain_chance = None), 1);
        assert_eq!(w.best.unwrap().verdict, WindowVerdict::NotKnown);
    }

    #[test]
    fn a_frost_in_the_night_after_stops_the_day_before() {
        let w = run(
            &day(|i, h| {
                if i >= 20 {
                    h.air = f(30.0)
                }
            }),
            2,
        );
        // A start at 12 ends at 14; six hours on is 20.
        assert_eq!(w.hours[13].verdict, WindowVerdict::Fine);
        assert_eq!(w.hours[14].troubles[0].kind, TroubleKind::Frost);
    }

    #[test]
    fn dry_wind_asks_for_precautions_and_then_stops() {
        let w = run(
            &day(|i, h| {
                h.humidity = 0.3;
                h.wind = Some(Velocity::new::<mile_per_hour>(if i < 12 {
                    12.0
                } else {
                    40.0
                }));
            }),
            1,
        );
        assert_eq!(w.hours[9].verdict, WindowVerdict::WithCare);
        assert_eq!(w.hours[9].troubles[0].kind, TroubleKind::Drying);
        assert_eq!(w.hours[14].verdict, WindowVerdict::Not);
    }

    #[test]
    fn the_sun_is_a_bound_that_asks_for_a_reading_and_does_not_stop() {
        let sunny = Place {
            sunny: true,
            ..shade()
        };
        let w = window(&day(|_, _| {}), sunny, SlabReading::None, &limits(), 1);
        let noon = &w.hours[12];
        assert_eq!(noon.numbers.slab_how, SlabHow::Sun);
        assert!(
            noon.numbers.slab_c.0 < 21.0 && noon.numbers.slab_c.1 > 40.0,
            "{:?}",
            noon.numbers.slab_c
        );
        assert_eq!(noon.verdict, WindowVerdict::WithCare);
        // A reading settles it.
        let read = SlabReading::Measured {
            at: f(75.0),
            give_or_take_k: 2.0,
        };
        assert_eq!(
            window(&day(|_, _| {}), sunny, read, &limits(), 1).hours[12].verdict,
            WindowVerdict::Fine
        );
        let lost = Place {
            coordinates: None,
            ..sunny
        };
        let w = window(&day(|_, _| {}), lost, SlabReading::None, &limits(), 1);
        assert_eq!(w.hours[12].numbers.slab_how, SlabHow::SunNotKnown);
    }

    #[test]
    fn a_damp_morning_waits_for_the_dew() {
        let w = run(
            &day(|i, h| {
                if i < 10 {
                    h.humidity = 0.97
                }
            }),
            1,
        );
        assert_eq!(
            (w.hours[8].troubles[0].kind, w.hours[8].verdict),
            (TroubleKind::Dew, WindowVerdict::Not)
        );
        assert_eq!(w.hours[11].verdict, WindowVerdict::Fine);
    }
}
