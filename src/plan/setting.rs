//! How temperature stretches or shortens working and setting times.
//!
//! No formula here was published for polymer-modified bag mixes, so a working time is given as the
//! spread of several models and is to be calibrated with a trial batch.

use serde::Serialize;
use uom::si::thermodynamic_temperature::{degree_celsius, degree_fahrenheit};

use crate::units::Temperature;

/// A rule that scales a time from one temperature to another.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case", tag = "model")]
pub enum TimeModel {
    /// Shorter by a third for each step hotter, longer by a third for each step colder.
    ///
    /// A rule of the trade with a 10 °F step; fits the published set-time table from 60 to 90 °F.
    ThirdPerStep {
        /// Step in Fahrenheit degrees.
        step_f: f64,
    },
    /// Doubled for each step colder, halved for each step hotter. Usual step 18 °F (10 °C).
    DoublingPerStep {
        /// Step in Fahrenheit degrees.
        step_f: f64,
    },
    /// Arrhenius: time ∝ exp(Q/T), T in kelvin. ASTM C1074 takes Q = 5000 K for Type I cement
    /// without admixture.
    Arrhenius {
        /// Activation energy over the gas constant, kelvin.
        q_k: f64,
    },
}

impl TimeModel {
    /// For pages.
    pub fn name(self) -> String {
        match self {
            TimeModel::ThirdPerStep { step_f } => format!("a third for each {step_f} °F"),
            TimeModel::DoublingPerStep { step_f } => format!("doubled for each {step_f} °F colder"),
            TimeModel::Arrhenius { q_k } => format!("Arrhenius with Q = {q_k} K"),
        }
    }

    /// Factor on a time known at `reference` when it is `at` instead. `None` for a step of zero or
    /// numbers that are not finite.
    pub fn factor(self, reference: Temperature, at: Temperature) -> Option<f64> {
        let hotter_f = at.get::<degree_fahrenheit>() - reference.get::<degree_fahrenheit>();
        let factor = match self {
            TimeModel::ThirdPerStep { step_f } if step_f > 0.0 => {
                let base: f64 = if hotter_f >= 0.0 {
                    2.0 / 3.0
                } else {
                    4.0 / 3.0
                };
                base.powf(hotter_f.abs() / step_f)
            }
            TimeModel::DoublingPerStep { step_f } if step_f > 0.0 => 2f64.powf(-hotter_f / step_f),
            TimeModel::Arrhenius { q_k } if q_k > 0.0 => {
                let (ref_k, at_k) = (whole_kelvin(reference), whole_kelvin(at));
                if ref_k <= 0.0 || at_k <= 0.0 {
                    return None;
                }
                (q_k * (1.0 / at_k - 1.0 / ref_k)).exp()
            }
            _ => return None,
        };
        factor.is_finite().then_some(factor)
    }
}

/// A time as several models see it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TimeSpread {
    /// Shortest, minutes.
    pub least_min: f64,
    /// Longest, minutes.
    pub greatest_min: f64,
    /// Each model's name and result, minutes.
    pub by_model: Vec<(String, f64)>,
}

/// A working or setting time known at `reference` (a data sheet states it at 70 °F or so), at
/// another temperature. `None` without a usable model or with a time below zero.
pub fn scaled_time(
    minutes: f64,
    reference: Temperature,
    at: Temperature,
    models: &[TimeModel],
) -> Option<TimeSpread> {
    if !(minutes >= 0.0 && minutes.is_finite()) {
        return None;
    }
    let by_model: Vec<(String, f64)> = models
        .iter()
        .filter_map(|m| Some((m.name(), minutes * m.factor(reference, at)?)))
        .collect();
    let least_min = by_model.iter().map(|(_, x)| *x).reduce(f64::min)?;
    let greatest_min = by_model.iter().map(|(_, x)| *x).reduce(f64::max)?;
    Some(TimeSpread {
        least_min,
        greatest_min,
        by_model,
    })
}

/// A stretch of time at one temperature of the concrete.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stretch {
    /// Hours.
    pub hours: f64,
    /// Temperature of the concrete.
    pub at: Temperature,
}

/// Maturity in °C·h by Nurse and Saul: Σ(T − T0)Δt, nothing while it is colder than the datum.
///
/// Source: ASTM C1074. Datum often 0, −10 or −11 °C.
pub fn nurse_saul(history: &[Stretch], datum: Temperature) -> f64 {
    let t0 = datum.get::<degree_celsius>();
    history
        .iter()
        .map(|s| (s.at.get::<degree_celsius>() - t0).max(0.0) * s.hours.max(0.0))
        .sum()
}

/// Kelvin as the maturity standards count them, 273 + °C. The missing 0.15 K moves a factor by
/// about a thousandth, far below what the models know.
fn whole_kelvin(t: Temperature) -> f64 {
    273.0 + t.get::<degree_celsius>()
}

/// Speed of hardening against that at `reference`: exp[−Q(1/T − 1/Ts)], kelvin.
///
/// Source: ASTM C1074 (from memory); form of Freiesleben Hansen and Pedersen.
pub fn age_factor(at: Temperature, reference: Temperature, q_k: f64) -> f64 {
    (-q_k * (1.0 / whole_kelvin(at).max(1.0) - 1.0 / whole_kelvin(reference).max(1.0))).exp()
}

/// Equivalent age at `reference` in hours: Σ exp[−Q(1/T − 1/Ts)]Δt. See [`age_factor`].
pub fn equivalent_age_h(history: &[Stretch], reference: Temperature, q_k: f64) -> f64 {
    history
        .iter()
        .map(|s| age_factor(s.at, reference, q_k) * s.hours.max(0.0))
        .sum()
}

/// Speed of hardening by Eurocode 2: exp(13.65 − 4000/(273 + T)), T in °C, 0 to 80 °C.
///
/// Source: EN 1992-1-1 Annex B / fib Model Code (numbers from memory). It is 0.998 at 20 °C.
pub fn age_factor_eurocode(at: Temperature) -> f64 {
    (13.65 - 4000.0 / whole_kelvin(at).max(1.0)).exp()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn f(x: f64) -> Temperature {
        Temperature::new::<degree_fahrenheit>(x)
    }

    #[test]
    fn every_model_gives_one_at_its_reference() {
        for m in [
            TimeModel::ThirdPerStep { step_f: 10.0 },
            TimeModel::DoublingPerStep { step_f: 18.0 },
            TimeModel::Arrhenius { q_k: 5000.0 },
        ] {
            assert!((m.factor(f(70.0), f(70.0)).unwrap() - 1.0).abs() < 1e-12);
        }
    }

    #[test]
    fn a_step_of_zero_is_refused() {
        assert_eq!(
            TimeModel::ThirdPerStep { step_f: 0.0 }.factor(f(70.0), f(80.0)),
            None
        );
        assert_eq!(scaled_time(30.0, f(70.0), f(80.0), &[]), None);
        assert_eq!(
            scaled_time(
                -1.0,
                f(70.0),
                f(80.0),
                &[TimeModel::Arrhenius { q_k: 5000.0 }]
            ),
            None
        );
    }
}
