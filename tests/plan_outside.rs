//! The plan's formulas against values from general-purpose reference libraries.
//!
//! `tests/outside/values.ndjson` holds one value a line with the library that made it and its
//! tolerance. `RINGTRUE_OUTSIDE` may name another file of the same form.

use jiff::Timestamp;
use ringtrue::plan::money::{self, Estimate, SpreadRule};
use ringtrue::plan::programme::{Activity, Link, programme};
use ringtrue::plan::weather;
use ringtrue::survey::stats;
use ringtrue::units::{Area, Length, MassDensity, Pressure, Temperature, Velocity, Volume};
use rust_decimal::Decimal;
use rust_decimal::prelude::{FromPrimitive, ToPrimitive};
use serde_json::Value;
use uom::si::area::{square_foot, square_meter};
use uom::si::length::{foot, inch, meter, micrometer, mil, millimeter};
use uom::si::mass_density::{kilogram_per_cubic_meter, pound_per_cubic_foot};
use uom::si::pressure::{megapascal, pascal, psi};
use uom::si::thermodynamic_temperature::{degree_celsius, degree_fahrenheit};
use uom::si::velocity::{kilometer_per_hour, mile_per_hour};
use uom::si::volume::{cubic_meter, cubic_yard, gallon, liter, quart_liquid};

fn number(v: &Value, key: &str) -> f64 {
    v[key]
        .as_f64()
        .unwrap_or_else(|| panic!("no `{key}` in {v}"))
}

/// What we get for a check, with a name for each number. `None` where we have no formula.
fn ours(check: &str, i: &Value) -> Option<Vec<(&'static str, f64)>> {
    let air = || Temperature::new::<degree_celsius>(number(i, "air_c"));
    let humidity = || number(i, "humidity_pct") / 100.0;
    let c = |t: Temperature| t.get::<degree_celsius>();
    Some(match check {
        "dew point" => vec![("", c(weather::dew_point(air(), humidity()).unwrap()))],
        "wet bulb at 101325 Pa" => {
            let sea = Pressure::new::<pascal>(101_325.0);
            vec![
                (
                    "exact",
                    c(weather::wet_bulb(air(), humidity(), sea).unwrap()),
                ),
                (
                    "regression",
                    c(weather::wet_bulb_stull(air(), humidity()).unwrap()),
                ),
            ]
        }
        "heat index, NWS" => {
            let air = Temperature::new::<degree_fahrenheit>(number(i, "air_f"));
            vec![(
                "",
                weather::heat_index(air, humidity()).get::<degree_fahrenheit>(),
            )]
        }
        "sun position, no refraction" => {
            let at: Timestamp = i["utc"].as_str().unwrap().parse().unwrap();
            let s =
                weather::sun(at.as_second(), number(i, "lat"), number(i, "lon"), false).unwrap();
            vec![("elevation", s.elevation_deg), ("azimuth", s.azimuth_deg)]
        }
        "present value of one later payment" => {
            let amount = Decimal::from_f64(number(i, "amount")).unwrap();
            let payment = money::Payment {
                year: number(i, "years"),
                amount,
            };
            let pv = money::present_value(&[payment], number(i, "rate")).unwrap();
            vec![("", pv.to_f64().unwrap())]
        }
        "equivalent annual cost, payments at year end" => {
            let present = Decimal::from_f64(number(i, "present")).unwrap();
            let a = money::equivalent_annual(present, number(i, "rate"), number(i, "years"));
            vec![("", a.unwrap().to_f64().unwrap())]
        }
        "Wilson 95 % interval" => {
            let (lo, hi) = stats::wilson(number(i, "hollow"), number(i, "taps"), 0.95).unwrap();
            vec![("0", lo), ("1", hi)]
        }
        "Student t, one-sided" => {
            vec![(
                "",
                stats::t_quantile(number(i, "level"), number(i, "df") as usize).unwrap(),
            )]
        }
        "triangular distribution" => {
            let e = Estimate::new(number(i, "low"), number(i, "mode"), number(i, "high")).unwrap();
            let m = SpreadRule::Triangular.moments(e);
            let p = |level| money::triangular_quantile(e, level).unwrap();
            vec![
                ("mean", m.mean),
                ("sd", m.deviation()),
                ("p10", p(0.1)),
                ("p90", p(0.9)),
            ]
        }
        "critical path length, finish to start with lags" => {
            let text = |v: &Value| v["id"].as_str().unwrap().to_owned();
            let acts: Vec<Activity> = i["activities"]
                .as_array()
                .unwrap()
                .iter()
                .map(|a| Activity {
                    id: text(a),
                    name: text(a),
                    days: Estimate::exact(number(a, "days")),
                    wait: false,
                    fresh: false,
                    not_before: None,
                    after: a["after"]
                        .as_array()
                        .unwrap()
                        .iter()
                        .map(|l| Link {
                            id: text(l),
                            lag_days: number(l, "lag"),
                        })
                        .collect(),
                })
                .collect();
            vec![("", programme(&acts).unwrap().length)]
        }
        "unit conversion" => {
            let x = number(i, "value");
            let both = (i["from"].as_str().unwrap(), i["to"].as_str().unwrap());
            vec![("", convert(x, both)?)]
        }
        _ => return None,
    })
}

fn convert(x: f64, (from, to): (&str, &str)) -> Option<f64> {
    Some(match (from, to) {
        ("inch", "mm") => Length::new::<inch>(x).get::<millimeter>(),
        ("foot", "m") => Length::new::<foot>(x).get::<meter>(),
        ("thou", "micrometer") => Length::new::<mil>(x).get::<micrometer>(),
        ("ft**2", "m**2") => Area::new::<square_foot>(x).get::<square_meter>(),
        ("US_liquid_quart", "L") => Volume::new::<quart_liquid>(x).get::<liter>(),
        ("US_liquid_gallon", "L") => Volume::new::<gallon>(x).get::<liter>(),
        ("yard**3", "m**3") => Volume::new::<cubic_yard>(x).get::<cubic_meter>(),
        ("lb/ft**3", "kg/m**3") => {
            MassDensity::new::<pound_per_cubic_foot>(x).get::<kilogram_per_cubic_meter>()
        }
        ("psi", "MPa") => Pressure::new::<psi>(x).get::<megapascal>(),
        ("mile/hour", "km/hour") => Velocity::new::<mile_per_hour>(x).get::<kilometer_per_hour>(),
        ("lb/ft**2/hour", "kg/m**2/hour") => weather::LossRate::from_lb_ft2_h(x).kg_m2_h,
        _ => return None,
    })
}

fn expected(value: &Value, name: &str) -> f64 {
    let at = match name {
        "" | "exact" | "regression" => value,
        "0" | "1" => &value[name.parse::<usize>().unwrap()],
        key => &value[key],
    };
    at.as_f64()
        .unwrap_or_else(|| panic!("no `{name}` in {value}"))
}

#[test]
fn every_outside_value_is_met() {
    let own = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/outside/values.ndjson").to_owned();
    let file = std::env::var("RINGTRUE_OUTSIDE").unwrap_or(own);
    let text = std::fs::read_to_string(&file).unwrap();
    let (mut misses, mut met) = (Vec::new(), 0);
    for line in text.lines() {
        let row: Value = serde_json::from_str(line).unwrap();
        let (check, by) = (row["check"].as_str().unwrap(), row["by"].as_str().unwrap());
        let Some(numbers) = ours(check, &row["inputs"]) else {
            misses.push(format!("no formula for `{check}` by {by}"));
            continue;
        };
        for (name, got) in numbers {
            let want = expected(&row["value"], name);
            // The note of the wet bulb rows: a short regression may be off by 1 K, an iterative
            // solution by 0.1 K.
            let mut allowed = if name == "exact" {
                0.1
            } else {
                number(&row, "tolerance")
            };
            // Unit conversions state their tolerance relative to the value (eight digits printed).
            if check == "unit conversion" {
                allowed *= want.abs().max(1.0);
            }
            if (got - want).abs() > allowed + 1e-9 {
                misses.push(format!(
                    "{check} {name}: {got} instead of {want} ± {allowed} by {by}; {}",
                    row["inputs"]
                ));
            } else {
                met += 1;
            }
        }
    }
    assert!(
        misses.is_empty(),
        "{} missed, {met} met:\n{}",
        misses.len(),
        misses.join("\n")
    );
    assert!(met > 80, "only {met} values in {file}");
}
