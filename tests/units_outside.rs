//! Unit conversions against values from a reference library; see `tests/outside/README.md`.

use ringtrue::units::{Kind, MassDensity};
use serde::Deserialize;
use uom::si::mass_density::{kilogram_per_cubic_meter, pound_per_cubic_foot};

#[derive(Deserialize)]
struct Check {
    check: String,
    inputs: serde_json::Value,
    value: serde_json::Value,
    unit: String,
    by: String,
    tolerance: f64,
}

#[derive(Deserialize)]
struct Conversion {
    value: f64,
    from: String,
    to: String,
}

/// The reference library's unit names in the trade's notation.
fn ours(name: &str) -> (Kind, &'static str) {
    match name {
        "inch" => (Kind::Length, "in"),
        "foot" => (Kind::Length, "ft"),
        "thou" => (Kind::Length, "mil"),
        "micrometer" => (Kind::Length, "µm"),
        "mm" => (Kind::Length, "mm"),
        "m" => (Kind::Length, "m"),
        "ft**2" => (Kind::Area, "ft2"),
        "m**2" => (Kind::Area, "m2"),
        "US_liquid_quart" => (Kind::Volume, "qt"),
        "US_liquid_gallon" => (Kind::Volume, "gal"),
        "L" => (Kind::Volume, "L"),
        "yard**3" => (Kind::Volume, "yd3"),
        "m**3" => (Kind::Volume, "m3"),
        "psi" => (Kind::Pressure, "psi"),
        "MPa" => (Kind::Pressure, "MPa"),
        "lb/ft**2/hour" => (Kind::SpreadRate, "lb/ft2/h"),
        "kg/m**2/hour" => (Kind::SpreadRate, "kg/m2/h"),
        "mile/hour" => (Kind::Speed, "mph"),
        "km/hour" => (Kind::Speed, "km/h"),
        other => panic!("a unit without a counterpart: {other}"),
    }
}

#[test]
fn conversions_agree_with_the_reference_library() {
    let mut checked = 0;
    for line in include_str!("outside/values.ndjson").lines() {
        let check: Check = serde_json::from_str(line).unwrap();
        if check.check != "unit conversion" {
            continue;
        }
        let conversion: Conversion = serde_json::from_value(check.inputs).unwrap();
        let expected = check.value.as_f64().unwrap();
        assert_eq!(check.unit, conversion.to);
        let (there, back) = if conversion.from == "lb/ft**3" {
            // A density is only ever a quantity of the units library here.
            let there = MassDensity::new::<pound_per_cubic_foot>(conversion.value)
                .get::<kilogram_per_cubic_meter>();
            let back = MassDensity::new::<kilogram_per_cubic_meter>(expected)
                .get::<pound_per_cubic_foot>();
            (there, back)
        } else {
            let ((kind, from), (same, to)) = (ours(&conversion.from), ours(&conversion.to));
            assert_eq!(kind, same);
            let through = |x: f64, from: &str, to: &str| {
                let read = kind.read(&format!("{x} {from}")).unwrap();
                kind.to_unit(read.lo, to).unwrap()
            };
            (
                through(conversion.value, from, to),
                through(expected, to, from),
            )
        };
        let near = |a: f64, b: f64| (a - b).abs() <= check.tolerance * b.abs();
        assert!(
            near(there, expected),
            "{} {} -> {there}, {} says {expected}",
            conversion.value,
            conversion.from,
            check.by
        );
        assert!(
            near(back, conversion.value),
            "{expected} {} -> {back}, {} says {}",
            conversion.to,
            check.by,
            conversion.value
        );
        checked += 1;
    }
    assert_eq!(checked, 11);
}
