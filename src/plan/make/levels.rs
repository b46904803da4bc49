//! Stairs, doors, lips, falls and edges before and after the work.

use uom::si::length::millimeter;

use crate::facts::Interval;
use crate::plan::figures::{Figures, MissingFigure};
use crate::plan::heights::{
    Door, LipLimits, StairWork, check_door, check_risers, deal_with_lip, judge_fall, risers_after,
    ways_out,
};
use crate::plan::inputs::{AreaInput, Inputs};
use crate::plan::model::{DoorPlan, EdgePlan, FallPlan, LipPlan, StairPlan};
use crate::units::{Kind, Length};

use super::middle;

/// Rounding of conversions, mm.
const ROUNDING_MM: f64 = 1e-3;

fn mm(x: f64) -> Length {
    Length::new::<millimeter>(x)
}

pub(super) fn stairs(
    inputs: &Inputs,
    figures: &Figures<'_>,
) -> Result<Vec<StairPlan>, MissingFigure> {
    let taper = figures.get("cross_slope_greatest")?.hi;
    let short = figures.get("first_riser_short")?.hi;
    Ok(inputs
        .stairs
        .iter()
        .map(|stair| {
            let below = inputs.layer_mm(stair.from.as_deref());
            let above = inputs.layer_mm(stair.to.as_deref());
            let treads = if stair.treads_overlaid {
                below.max(above)
            } else {
                0.0
            };
            let work = StairWork {
                below: mm(below),
                treads: mm(treads),
                above: mm(above),
            };
            let before: Vec<Length> = stair.risers_mm.iter().copied().map(mm).collect();
            let after = risers_after(&before, work);
            let checks = check_risers(&before, &after, &inputs.riser_limits);
            let fall = stair
                .from
                .as_deref()
                .and_then(|id| inputs.areas.iter().find(|a| a.id == id))
                .and_then(|a| a.fall)
                .map(|f| f.lo);
            let broken = checks.iter().any(|c| !c.kept_after);
            let after_mm: Vec<f64> = after.iter().map(|r| r.get::<millimeter>()).collect();
            let rest = after_mm.iter().skip(1).copied().reduce(f64::min);
            StairPlan {
                id: stair.id.clone(),
                before_mm: stair.risers_mm.clone(),
                ways_out: if broken {
                    ways_out(&before, work, &inputs.riser_limits, taper, fall)
                } else {
                    Vec::new()
                },
                short_first: match (after_mm.first(), rest) {
                    (Some(first), Some(rest)) => rest - first >= short - ROUNDING_MM,
                    // A single riser is what people trip on.
                    (Some(_), None) => true,
                    _ => false,
                },
                after_mm,
                checks,
            }
        })
        .collect())
}

pub(super) fn doors(
    inputs: &Inputs,
    figures: &Figures<'_>,
) -> Result<Vec<DoorPlan>, MissingFigure> {
    let clear = figures.get("door_clear_least")?.hi;
    let lip = figures.get("weather_lip_least")?.hi;
    inputs
        .doors
        .iter()
        .map(|door| {
            // The required way out may be as low as other doors where no leaf swings over the slab.
            let limit = if door.required_exit && door.clearance_mm.is_some() {
                "threshold_drop_exit"
            } else {
                "threshold_drop_other"
            };
            let greatest = figures.get(limit)?.hi;
            let check = check_door(
                Door {
                    drop: mm(door.drop_mm.lo),
                    clearance: door.clearance_mm.map(|c| mm(c.lo)),
                    greatest_drop: mm(greatest),
                    leave_clear: mm(clear),
                    leave_lip: mm(lip),
                },
                mm(inputs.layer_mm(Some(&door.area))),
            );
            Ok(DoorPlan {
                id: door.id.clone(),
                area: door.area.clone(),
                check,
                greatest_drop_mm: greatest,
                source: figures.source(limit),
            })
        })
        .collect()
}

pub(super) fn lips(inputs: &Inputs, figures: &Figures<'_>) -> Result<Vec<LipPlan>, MissingFigure> {
    let limits = LipLimits {
        leave_to: mm(figures.get("lip_as_is")?.hi),
        bevel_to: mm(figures.get("lip_bevel")?.hi),
        bevel_slope: figures.get("lip_bevel_slope")?.hi,
        ramp_slope: figures.get("lip_ramp_slope")?.hi,
    };
    Ok(inputs
        .lips
        .iter()
        .filter_map(|(defect, height)| {
            let way = deal_with_lip(mm(height.hi), limits)?;
            Some(LipPlan {
                defect: *defect,
                height_mm: height.hi,
                way,
            })
        })
        .collect())
}

pub(super) fn fall(
    inputs: &Inputs,
    area: &AreaInput,
    figures: &Figures<'_>,
) -> Result<Option<FallPlan>, MissingFigure> {
    let least = figures.get("fall_least")?.lo;
    let landing = figures.get("landing_fall_greatest")?.hi;
    let greatest = inputs
        .doors
        .iter()
        .any(|d| d.area == area.id)
        .then_some(landing);
    Ok(area.fall.map(|fall| FallPlan {
        fall,
        verdict: judge_fall(fall.lo, least, greatest),
        least,
        greatest,
    }))
}

pub(super) fn edges(
    area: &AreaInput,
    figures: &Figures<'_>,
) -> Result<Vec<EdgePlan>, MissingFigure> {
    let soil = figures.get("lawn_edge_below")?;
    let Some(layer) = area.layer.as_ref().map(|l| l.thickness_mm) else {
        return Ok(Vec::new());
    };
    let write = |i: Interval| Kind::Length.write(i, figures.system());
    Ok(area
        .edges
        .iter()
        .filter_map(|(kind, height)| {
            let before = (*height)?;
            let after = before + Interval::exact(layer);
            let to_do = match kind.as_str() {
                "lawn" | "planting" => {
                    format!("bring the soil up to {} below the new edge", write(soil))
                }
                "drain" => format!(
                    "raise the rim by {} or taper the layer down to it",
                    write(Interval::exact(layer))
                ),
                "coping" | "wall" | "building" => {
                    "keep the isolation joint open through the layer".to_owned()
                }
                "street" => format!(
                    "taper or ramp the edge of {}",
                    write(Interval::exact(middle(after)))
                ),
                _ => String::new(),
            };
            Some(EdgePlan {
                kind: kind.clone(),
                before_mm: before,
                after_mm: after,
                to_do,
            })
        })
        .collect())
}
