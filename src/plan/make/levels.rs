//! Stairs, doors, lips, falls and edges before and after the work.

use uom::si::length::millimeter;

use crate::facts::Interval;
use crate::plan::figures::{Figures, MissingFigure};
use crate::plan::heights::{
    Door, FallVerdict, LipLimits, StairEnd, StairWork, WayOut, check_door, check_risers,
    deal_with_lip, judge_fall, new_level, risers_after, ways_out,
};
use crate::plan::inputs::{AreaInput, Inputs};
use crate::plan::model::{
    BuildUp, DoorPlan, EdgePlan, FallPlan, LipPlan, StairPlan, WayPlan, WishedLayer,
};
use crate::units::{Kind, Length, System};

use super::{middle, options};

/// Rounding of conversions, mm.
const ROUNDING_MM: f64 = 1e-3;

fn mm(x: f64) -> Length {
    Length::new::<millimeter>(x)
}

pub(super) fn stairs(
    inputs: &Inputs,
    figures: &Figures<'_>,
    notes: &mut Vec<String>,
) -> Result<Vec<StairPlan>, MissingFigure> {
    let taper = figures.get("cross_slope_greatest")?.hi;
    let costs = WayCosts {
        taper,
        partial: figures.get("patch_partial_share")?.hi,
        system: figures.system(),
        slab_mm: inputs.slab_mm,
    };
    let short = figures.get("first_riser_short")?.hi;
    Ok(inputs
        .stairs
        .iter()
        .map(|stair| {
            let below = inputs.raised_mm(stair.from.as_deref());
            let above = inputs.raised_mm(stair.to.as_deref());
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
            let foot = stair
                .from
                .as_deref()
                .and_then(|id| inputs.areas.iter().find(|a| a.id == id));
            let fall = foot.and_then(|a| a.fall).map(|f| f.lo);
            let broken = checks.iter().any(|c| !c.kept_after);
            let after_mm: Vec<f64> = after.iter().map(|r| r.get::<millimeter>()).collect();
            let rest = after_mm.iter().skip(1).copied().reduce(f64::min);
            // A finish that was wished for and turned down: what it would do here, and the ways to it.
            let level = |id: Option<&str>, laid: f64| {
                id.and_then(|id| inputs.areas.iter().find(|a| a.id == id))
                    // New concrete takes the finish itself.
                    .filter(|a| !placed_anew(a))
                    .and_then(|a| a.wished_mm)
                    .unwrap_or(laid)
            };
            let wish = StairWork {
                below: mm(level(stair.from.as_deref(), below)),
                treads: work.treads,
                above: mm(level(stair.to.as_deref(), above)),
            };
            let wish_after = risers_after(&before, wish);
            let breaks: Vec<_> = check_risers(&before, &wish_after, &inputs.riser_limits)
                .into_iter()
                .filter(|c| !c.kept_after)
                .collect();
            let wished = (!broken && wish != work && !breaks.is_empty()).then(|| WishedLayer {
                thickness_mm: wish.below.max(wish.above).get::<millimeter>(),
                at: if wish.below == work.below {
                    StairEnd::Head
                } else {
                    StairEnd::Foot
                },
                after_mm: wish_after.iter().map(|r| r.get::<millimeter>()).collect(),
                breaks,
            });
            let (broken, work) = match &wished {
                Some(_) => (true, wish),
                None => (broken, work),
            };
            let head = stair
                .to
                .as_deref()
                .and_then(|id| inputs.areas.iter().find(|a| a.id == id));
            let mut ways: Vec<WayPlan> = Vec::new();
            if broken {
                let limits = &inputs.riser_limits;
                // Concrete that is placed anyway may lie at another level.
                let anew = [(StairEnd::Foot, foot), (StairEnd::Head, head)]
                    .into_iter()
                    .filter(|(_, area)| area.is_some_and(placed_anew));
                for (end, area) in anew {
                    let way = new_level(&before, work, limits, end);
                    ways.extend(way.map(|way| costs.plan(way, &before, work, area)));
                }
                ways.extend(
                    ways_out(&before, work, limits, taper, fall)
                        .into_iter()
                        // Nothing is taken off a walk that is placed anew: it is laid lower.
                        .filter(|way| {
                            !matches!(way, WayOut::LowerWalk { .. })
                                || !foot.is_some_and(placed_anew)
                        })
                        .map(|way| costs.plan(way, &before, work, foot)),
                );
            }
            options::price_ways(inputs, foot.or(head), &mut ways, notes);
            StairPlan {
                id: stair.id.clone(),
                before_mm: stair.risers_mm.clone(),
                ways_out: ways,
                wished,
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

/// Whether the whole of an area is placed anew.
fn placed_anew(area: &AreaInput) -> bool {
    const ALL: f64 = 0.999;
    area.replace_m2
        .zip(area.surface_m2)
        .is_some_and(|(new, all)| new.hi >= all.lo * ALL)
}

/// What is needed to say what a way out costs.
struct WayCosts {
    /// How fast a taper may fall, fraction.
    taper: f64,
    /// Share of the slab's thickness that may be taken off at most.
    partial: f64,
    system: System,
    slab_mm: Option<Interval>,
}

impl WayCosts {
    fn length(&self, x: f64) -> String {
        Kind::Length.write(Interval::exact(x), self.system)
    }

    /// The riser series a way gives, and what is given up for it.
    fn plan(
        &self,
        way: WayOut,
        before: &[Length],
        work: StairWork,
        foot: Option<&AreaInput>,
    ) -> WayPlan {
        let series = |work: StairWork| -> Vec<f64> {
            risers_after(before, work)
                .iter()
                .map(|r| r.get::<millimeter>())
                .collect()
        };
        let layer = foot.and_then(|a| a.layer.as_ref());
        let below = work.below.get::<millimeter>();
        let (risers_mm, cost) = match &way {
            WayOut::Thinner { greatest_mm } => {
                let thickest = [work.below, work.treads, work.above]
                    .iter()
                    .map(|x| x.get::<millimeter>())
                    .fold(0.0, f64::max);
                let share = if thickest > 0.0 {
                    greatest_mm / thickest
                } else {
                    0.0
                };
                let thinner = StairWork {
                    below: work.below * share,
                    treads: work.treads * share,
                    above: work.above * share,
                };
                let cost = match layer {
                    Some(l) if *greatest_mm < l.floor_mm - ROUNDING_MM => format!(
                        "{} may not be thinner than {}: it takes another, thinner system",
                        l.name,
                        self.length(l.floor_mm)
                    ),
                    Some(l) => format!(
                        "{} less depth for the finish; {} still holds at {} or more",
                        self.length(below - greatest_mm),
                        l.name,
                        self.length(l.floor_mm)
                    ),
                    None => "less depth for the finish".to_owned(),
                };
                (series(thinner), cost)
            }
            WayOut::Taper {
                at_foot_mm,
                length_mm,
                fall_after,
            } => {
                let tapered = StairWork {
                    below: mm(*at_foot_mm),
                    ..work
                };
                let mut cost = match fall_after {
                    Some(f) if *f > 0.0 => format!(
                        "the fall there drops to {}",
                        Kind::Slope.write(Interval::exact(*f), self.system)
                    ),
                    Some(_) => "no fall is left there: water stands at the foot".to_owned(),
                    None => "the fall there drops; read it first".to_owned(),
                };
                if layer.is_some_and(|l| *at_foot_mm < l.floor_mm - ROUNDING_MM) {
                    cost.push_str(&format!(
                        ", and at the foot the layer is thinner than its {}: saw a key and end it there",
                        self.length(layer.map_or(0.0, |l| l.floor_mm))
                    ));
                }
                cost.push_str(&format!(", over {}", self.length(*length_mm)));
                (series(tapered), cost)
            }
            WayOut::LowerWalk { depth_mm } => {
                let lowered = StairWork {
                    below: mm(below - depth_mm),
                    ..work
                };
                let take = foot.and_then(|a| a.surface_m2).map(|m2| {
                    format!(
                        "{} at {} is {} to take off and haul",
                        Kind::Area.write(m2, self.system),
                        self.length(*depth_mm),
                        super::order::mixed(
                            Interval {
                                lo: m2.lo * depth_mm,
                                hi: m2.hi * depth_mm
                            },
                            self.system
                        )
                    )
                });
                let deep = self
                    .slab_mm
                    .filter(|t| *depth_mm > t.lo * self.partial)
                    .map(|t| {
                        format!(
                            "more than a slab of {} can lose: take it out and place it lower",
                            Kind::Length.write(t, self.system)
                        )
                    });
                let parts: Vec<String> = take.into_iter().chain(deep).collect();
                let cost = if parts.is_empty() {
                    "the surface to take off is not recorded".to_owned()
                } else {
                    parts.join("; ")
                };
                (series(lowered), cost)
            }
            WayOut::NewLevel { at, change_mm } => {
                let (moved, planned) = match at {
                    StairEnd::Foot => (
                        StairWork {
                            below: mm(*change_mm),
                            ..work
                        },
                        below,
                    ),
                    StairEnd::Head => (
                        StairWork {
                            above: mm(*change_mm),
                            ..work
                        },
                        work.above.get::<millimeter>(),
                    ),
                };
                let differs = change_mm - planned;
                let mut cost = format!(
                    "{} {} than planned",
                    self.length(differs.abs()),
                    if differs > 0.0 { "higher" } else { "lower" }
                );
                if planned == 0.0 {
                    let m2 = foot.and_then(|a| a.surface_m2);
                    let dug = m2.filter(|_| differs < 0.0).map(|m2| {
                        super::order::mixed(
                            Interval {
                                lo: m2.lo * -differs,
                                hi: m2.hi * -differs,
                            },
                            self.system,
                        )
                    });
                    match dug {
                        Some(dug) => cost.push_str(&format!(": {dug} more to dig out and haul")),
                        None => cost.push_str(": that much more base"),
                    }
                } else {
                    // The rest of the area keeps its planned level, which a door may have asked for.
                    cost.push_str(" at the steps only");
                    if self.taper > 0.0 {
                        cost.push_str(&format!(
                            ": from there it runs to its planned level over {}",
                            self.length(differs.abs() / self.taper)
                        ));
                    }
                }
                (series(moved), cost)
            }
            WayOut::Rebuild { risers, riser_mm } => (
                vec![*riser_mm; *risers],
                if *risers == before.len() {
                    "the whole flight is broken out and placed anew".to_owned()
                } else {
                    format!(
                        "the whole flight is broken out and placed anew, {} step{} more or less, so its length changes too",
                        risers.abs_diff(before.len()),
                        if risers.abs_diff(before.len()) == 1 {
                            ""
                        } else {
                            "s"
                        }
                    )
                },
            ),
        };
        WayPlan {
            way,
            risers_mm,
            cost,
            price: None,
        }
    }
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
                mm(inputs.raised_mm(Some(&door.area))),
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
    let back = figures.get("grind_back")?.lo;
    Ok(inputs
        .lips
        .iter()
        .filter_map(|lip| {
            let height = lip.height_mm.hi;
            let way = deal_with_lip(mm(height), limits)?;
            // Ground back as far as the usual rule, or as far as the ramp slope asks if that is more.
            let ramp = if limits.ramp_slope > 0.0 {
                height / limits.ramp_slope
            } else {
                0.0
            };
            let grind_mm = back.max(ramp);
            Some(LipPlan {
                defect: lip.defect,
                height_mm: height,
                way,
                grind_mm,
                grind_fall: if grind_mm > 0.0 {
                    height / grind_mm
                } else {
                    0.0
                },
                run_mm: lip.run_mm,
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
    Ok(area.fall.map(|fall| {
        let verdict = judge_fall(fall.lo, least, greatest);
        let flat = matches!(verdict, FallVerdict::TooFlat | FallVerdict::Toward);
        // Fall and surface are those of the area; a fall toward the building is made up too.
        let build_up = area
            .fall_run_mm
            .zip(area.surface_m2)
            .filter(|_| flat)
            .map(|(run, m2)| {
                let lacks = least - fall.lo;
                let thickest_mm = Interval {
                    lo: run.lo * lacks,
                    hi: run.hi * lacks,
                };
                BuildUp {
                    thickest_mm,
                    litres: Interval {
                        lo: m2.lo * thickest_mm.lo / 2.0,
                        hi: m2.hi * thickest_mm.hi / 2.0,
                    },
                    fits: area
                        .layer
                        .as_ref()
                        .map(|l| l.thickness_mm + thickest_mm.lo <= l.ceiling_mm + ROUNDING_MM),
                }
            });
        FallPlan {
            fall,
            verdict,
            least,
            greatest,
            build_up,
        }
    }))
}

pub(super) fn edges(
    area: &AreaInput,
    figures: &Figures<'_>,
) -> Result<Vec<EdgePlan>, MissingFigure> {
    let soil = figures.get("lawn_edge_below")?;
    let slope = figures.get("lip_ramp_slope")?.hi;
    let stays = figures.get("lip_as_is")?.hi;
    let Some(layer) = area.layer.as_ref().map(|l| l.thickness_mm) else {
        return Ok(Vec::new());
    };
    let write = |i: Interval| Kind::Length.write(i, figures.system());
    Ok(area
        .edges
        .iter()
        .filter_map(|edge| {
            let kind = &edge.kind;
            let before = edge.height_mm?;
            let after = before + Interval::exact(layer);
            let over = |height: f64| {
                if slope > 0.0 {
                    format!(" over {}", write(Interval::exact(height / slope)))
                } else {
                    String::new()
                }
            };
            let to_do = match kind.as_str() {
                "lawn" | "planting" => {
                    format!("bring the soil up to {} below the new edge", write(soil))
                }
                "drain" => format!(
                    "raise the rim by {} or taper the layer down to it{}",
                    write(Interval::exact(layer)),
                    over(layer)
                ),
                "coping" | "wall" | "building" => {
                    "keep the isolation joint open through the layer".to_owned()
                }
                "street" if after.hi <= stays + ROUNDING_MM => {
                    "low enough to stay as it is".to_owned()
                }
                "street" => format!(
                    "taper the layer or ramp the edge of {}{}",
                    write(Interval::exact(middle(after))),
                    over(after.hi)
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
