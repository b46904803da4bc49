//! The placing windows: for the longest pour from bags, and for new concrete.

use uom::si::length::millimeter;
use uom::si::thermodynamic_temperature::degree_celsius;

use crate::facts::Interval;
use crate::plan::figures::{Figures, MissingFigure};
use crate::plan::inputs::{AreaInput, Inputs};
use crate::plan::model::{NO_FORECAST, PlacingWeather, WindowPlan};
use crate::plan::weather::{EvaporationFormula, LossRate};
use crate::plan::window::{Place, SlabReading, WindowLimits, window as judge};
use crate::units::{Length, Measured, Temperature};

use super::middle;
use super::order::{find, is_concrete, layer_kind};

fn hours(days: f64) -> usize {
    (days * 24.0 - 1e-9).ceil().clamp(0.0, 2000.0) as usize
}

/// What is placed, how long it takes and what it is held to.
#[derive(Clone, Copy)]
pub(super) struct Job<'a> {
    /// Where.
    pub area: &'a AreaInput,
    /// How long, hours.
    pub hours: usize,
    /// New concrete rather than a thin layer from bags.
    pub concrete: bool,
}

/// The largest placing of new concrete: where, and for how long the crew is at it.
pub(super) fn concrete_job<'a>(
    inputs: &'a Inputs,
    figures: &mut Figures<'_>,
) -> Result<Option<Job<'a>>, MissingFigure> {
    let surface = |a: &AreaInput| match &a.layer {
        Some(l) if is_concrete(&l.system) && find(inputs, layer_kind(&l.system)).is_none() => {
            a.surface_m2.map(|m2| m2.hi)
        }
        _ => a.replace_m2.map(|m2| m2.hi),
    };
    let Some((area, m2)) = inputs
        .areas
        .iter()
        .filter_map(|a| Some((a, surface(a)?)))
        .max_by(|a, b| a.1.total_cmp(&b.1))
    else {
        return Ok(None);
    };
    let working = figures.get("working_day")?;
    let pace = figures.take("place_concrete_person")?.lo;
    let people = inputs
        .crew
        .as_ref()
        .map_or(2.0, |c| f64::from(c.people.max(1)));
    let hours = if pace > 0.0 {
        m2 / (pace * people)
    } else {
        0.0
    };
    // What takes longer than a day is placed on several; each of them is as long as the day.
    let longest = (working.hi - working.lo).max(1.0);
    Ok(Some(Job {
        area,
        hours: hours.ceil().clamp(1.0, longest) as usize,
        concrete: true,
    }))
}

/// Air and slab that a placing wants, °C: the data sheet's, else the trade's.
fn temperature(
    inputs: &Inputs,
    job: &Job<'_>,
    figures: &mut Figures<'_>,
) -> Result<Interval, MissingFigure> {
    if job.concrete {
        return figures.take("concrete_air");
    }
    let system = job
        .area
        .layer
        .as_ref()
        .map_or("patterned", |l| l.system.as_str());
    let sheet = find(inputs, layer_kind(system))
        .and_then(|m| m.temperature.as_ref())
        .and_then(Measured::canonical);
    match sheet {
        Some(t) => Ok(t),
        None => figures.take("overlay_air_slab_temperature"),
    }
}

/// What the weather must keep for a placing, whether a forecast is there or not.
pub(super) fn weather(
    inputs: &Inputs,
    job: Option<&Job<'_>>,
    figures: &mut Figures<'_>,
) -> Result<Option<PlacingWeather>, MissingFigure> {
    let Some(job) = job else {
        return Ok(None);
    };
    let of = |name: &str| {
        format!(
            "{name}_{}",
            if job.concrete { "concrete" } else { "overlay" }
        )
    };
    Ok(Some(PlacingWeather {
        concrete: job.concrete,
        temperature_c: temperature(inputs, job, figures)?,
        dry_after_days: figures.get(&of("dry_after"))?,
        frost_free_days: figures.get(&of("frost_free_after"))?,
    }))
}

pub(super) fn window(
    inputs: &Inputs,
    job: Option<Job<'_>>,
    figures: &mut Figures<'_>,
    notes: &mut Vec<String>,
) -> Result<Option<WindowPlan>, MissingFigure> {
    let Some(job) = job else {
        return Ok(None);
    };
    let Job {
        area,
        hours: pour_h,
        concrete,
    } = job;
    let Some(forecast) = &inputs.forecast else {
        if !notes.iter().any(|n| n == NO_FORECAST) {
            notes.push(NO_FORECAST.to_owned());
        }
        return Ok(None);
    };
    let c = Temperature::new::<degree_celsius>;
    let between = |i: Interval| (c(i.lo), c(i.hi));
    let temperature = temperature(inputs, &job, figures)?;
    let of = |name: &str| format!("{name}_{}", if concrete { "concrete" } else { "overlay" });
    let working = figures.get("working_day")?;
    let length = |i: Interval| Length::new::<millimeter>(i.lo);
    let limits = WindowLimits {
        air: between(temperature),
        slab: between(temperature),
        drying_care: LossRate::from_kg_m2_h(figures.get(&of("drying_care"))?.lo),
        drying_stop: LossRate::from_kg_m2_h(figures.get(&of("drying_stop"))?.lo),
        formula: EvaporationFormula::Uno,
        // Dew harms the bond of a thin layer; fresh concrete is wet by itself.
        dew_margin_k: if concrete {
            f64::NEG_INFINITY
        } else {
            figures.get("dew_margin")?.lo / 1.8
        },
        rain_chance: figures.get("rain_chance_dry")?.hi,
        dry_before_h: if concrete {
            0
        } else {
            hours(figures.get("dry_before_overlay")?.lo)
        },
        dry_after_h: hours(figures.get(&of("dry_after"))?.hi),
        frost: c(figures.get("frost_at")?.lo),
        no_frost_after_h: hours(figures.get(&of("frost_free_after"))?.lo),
        heat_care: c(figures.get("heat_index_care")?.lo),
        heat_stop: c(figures.get("heat_index_stop")?.lo),
        heat_in_sun_f: figures.get("heat_index_in_sun")?.hi,
        working_hours: (
            working.lo.clamp(0.0, 23.0) as i8,
            working.hi.clamp(1.0, 24.0) as i8,
        ),
        wind_profile: (
            length(figures.get("wind_forecast_height")?),
            length(figures.get("wind_slab_height")?),
            figures.get("wind_exponent")?.lo,
        ),
        slab_lag_h: hours(figures.get("slab_lag")?.lo),
    };
    let lost = "The record has no coordinates, so the sun's heat is left out of the window. Measure the slab.";
    if inputs.coordinates.is_none() && inputs.sunny && !notes.iter().any(|n| n == lost) {
        notes.push(lost.to_owned());
    }
    let place = Place {
        coordinates: inputs.coordinates,
        // The sun on old concrete says nothing of fresh concrete on the ground.
        sunny: inputs.sunny && !concrete,
        // The darkest concrete of the range: the bound is for the safe side.
        absorptance: 1.0 - figures.get("concrete_reflectance")?.lo,
        emittance: figures.get("concrete_emittance")?.lo,
        convection_w_m2_k: figures.get("convection_medium_wind")?.lo,
        sky_below_air_k: middle(figures.get("sky_below_air")?),
    };
    Ok(Some(WindowPlan {
        area: area.id.clone(),
        what: if concrete {
            format!("the new concrete of {}", area.name)
        } else {
            format!("the pour of {}", area.name)
        },
        hours: pour_h,
        formula: limits.formula.name().to_owned(),
        window: judge(forecast, place, SlabReading::None, &limits, pour_h),
    }))
}
