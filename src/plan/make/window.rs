//! The placing window for the longest pour.

use uom::si::length::millimeter;
use uom::si::thermodynamic_temperature::degree_celsius;

use crate::facts::Interval;
use crate::plan::figures::{Figures, MissingFigure};
use crate::plan::inputs::{AreaInput, Inputs};
use crate::plan::model::WindowPlan;
use crate::plan::weather::{EvaporationFormula, LossRate};
use crate::plan::window::{Place, SlabReading, WindowLimits, window as judge};
use crate::units::{Length, Measured, Temperature};

use super::middle;
use super::order::{find, layer_kind};

fn hours(days: f64) -> usize {
    (days * 24.0 - 1e-9).ceil().clamp(0.0, 2000.0) as usize
}

pub(super) fn window(
    inputs: &Inputs,
    longest: Option<(&AreaInput, u64)>,
    figures: &mut Figures<'_>,
    notes: &mut Vec<String>,
) -> Result<Option<WindowPlan>, MissingFigure> {
    let Some((area, end_s)) = longest else {
        return Ok(None);
    };
    let Some(forecast) = &inputs.forecast else {
        notes.push(
            "No forecast is saved beside the record, so no placing window is picked.".to_owned(),
        );
        return Ok(None);
    };
    let c = Temperature::new::<degree_celsius>;
    let between = |i: Interval| (c(i.lo), c(i.hi));
    let system = area
        .layer
        .as_ref()
        .map_or("patterned", |l| l.system.as_str());
    let sheet = find(inputs, layer_kind(system))
        .and_then(|m| m.temperature.as_ref())
        .and_then(Measured::canonical);
    let temperature = match sheet {
        Some(t) => t,
        None => figures.take("overlay_air_slab_temperature")?,
    };
    let working = figures.get("working_day")?;
    let length = |i: Interval| Length::new::<millimeter>(i.lo);
    let limits = WindowLimits {
        air: between(temperature),
        slab: between(temperature),
        drying_care: LossRate::from_kg_m2_h(figures.get("drying_care_overlay")?.lo),
        drying_stop: LossRate::from_kg_m2_h(figures.get("drying_stop_overlay")?.lo),
        formula: EvaporationFormula::Uno,
        dew_margin_k: figures.get("dew_margin")?.lo / 1.8,
        rain_chance: figures.get("rain_chance_dry")?.hi,
        dry_before_h: hours(figures.get("dry_before_overlay")?.lo),
        dry_after_h: hours(figures.get("dry_after_overlay")?.hi),
        frost: c(figures.get("frost_at")?.lo),
        no_frost_after_h: hours(figures.get("frost_free_after_overlay")?.lo),
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
    if inputs.coordinates.is_none() && inputs.sunny {
        notes.push(
            "The record has no coordinates, so the sun's heat is left out of the window. Measure the slab."
                .to_owned(),
        );
    }
    let place = Place {
        coordinates: inputs.coordinates,
        sunny: inputs.sunny,
        // The darkest concrete of the range: the bound is for the safe side.
        absorptance: 1.0 - figures.get("concrete_reflectance")?.lo,
        emittance: figures.get("concrete_emittance")?.lo,
        convection_w_m2_k: figures.get("convection_medium_wind")?.lo,
        sky_below_air_k: middle(figures.get("sky_below_air")?),
    };
    let pour_h = end_s.div_ceil(3600).max(1) as usize;
    Ok(Some(WindowPlan {
        area: area.id.clone(),
        hours: pour_h,
        formula: limits.formula.name().to_owned(),
        window: judge(forecast, place, SlabReading::None, &limits, pour_h),
    }))
}
