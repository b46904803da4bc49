//! Stairs, doors and edges: how much thickness they allow, and how much the wished finish needs.

use uom::si::length::millimeter;

use crate::facts::{Interval, Scope};
use crate::record::geometry;
use crate::record::model::{Record, StepCode};
use crate::units::{Length, Measured};

use super::builder::Builder;
use super::heights::{ROUNDING_MM, RiserLimit, RiserRule, StairWork, share_that_keeps};

/// Limits the steps are held to, with their sources.
#[derive(Debug, Clone, PartialEq)]
pub struct StepLimits {
    /// Limits on risers.
    pub risers: Vec<RiserLimit>,
}

/// The limits the record selects: the code's figures from the pack, replaced by local ones.
pub fn step_limits(record: &Record, figure: impl Fn(&str) -> Option<(f64, String)>) -> StepLimits {
    let rules = &record.job.step_rules;
    let suffix = match rules.code {
        StepCode::House => "house",
        StepCode::OtherBuilding => "other",
    };
    let mut risers = Vec::new();
    let mut limit = |rule: RiserRule, name: &str, local: Option<&Measured<Length>>| {
        if let Some(mm) = local.and_then(geometry::middle) {
            risers.push(RiserLimit {
                rule,
                limit_mm: mm,
                source: "local limit given in the record".to_owned(),
            });
        } else if let Some((mm, source)) = figure(&format!("{name}_{suffix}")) {
            risers.push(RiserLimit {
                rule,
                limit_mm: mm,
                source,
            });
        }
    };
    limit(
        RiserRule::Greatest,
        "riser_greatest",
        rules.greatest_riser.as_ref(),
    );
    limit(RiserRule::Least, "riser_least", rules.least_riser.as_ref());
    limit(
        RiserRule::Difference,
        "riser_difference",
        rules.greatest_difference.as_ref(),
    );
    StepLimits { risers }
}

fn limits(b: &Builder<'_>, record: &Record) -> StepLimits {
    step_limits(record, |id| {
        b.vocabulary
            .figure(id)
            .map(|f| (f.value.lo, f.source.source.clone()))
    })
}

/// Risers in mm; `None` unless every one is known.
fn risers(stair: &crate::record::model::Stair) -> Option<Vec<Interval>> {
    let known: Option<Vec<Interval>> = stair.risers.iter().map(Measured::canonical).collect();
    known.filter(|k| !k.is_empty())
}

pub(super) fn stairs(b: &mut Builder<'_>, record: &Record, slab: usize) -> Vec<usize> {
    record
        .stairs
        .iter()
        .enumerate()
        .map(|(i, stair)| {
            let thing = b.thing(Scope::Stair, format!("stair {}", stair.id), Some(slab));
            let Some(risers) = risers(stair) else {
                return thing;
            };
            let paths = || vec![format!("stairs.{i}.risers")];
            let greatest = fold(&risers, f64::max);
            let least = fold(&risers, f64::min);
            b.worked_out(
                thing,
                "riser_greatest",
                Some(greatest),
                "highest riser",
                paths(),
            );
            b.worked_out(thing, "riser_least", Some(least), "lowest riser", paths());
            let difference = Interval {
                lo: (greatest.lo - least.hi).max(0.0),
                hi: greatest.hi - least.lo,
            };
            b.worked_out(
                thing,
                "riser_difference",
                Some(difference),
                "highest riser less the lowest of the flight",
                paths(),
            );
            b.worked_out(
                thing,
                "first_riser",
                risers.first().copied(),
                "the lowest step up",
                paths(),
            );
            let lower = risers.split_first().map(|(first, rest)| {
                if rest.is_empty() {
                    return Interval::exact(0.0);
                }
                less(fold(rest, f64::min), *first)
            });
            b.worked_out(
                thing,
                "first_riser_lower",
                lower,
                "lowest of the other risers less the first",
                paths(),
            );
            thing
        })
        .collect()
}

/// A difference of two measures that never falls below nothing.
fn less(a: Interval, b: Interval) -> Interval {
    Interval {
        lo: (a.lo - b.hi).max(0.0),
        hi: (a.hi - b.lo).max(0.0),
    }
}

/// How much lower than the middle one of the other steps the first step up from an area is, over
/// every stair that starts there. Nothing where none does.
pub(super) fn first_step(b: &mut Builder<'_>, record: &Record, area: &str, thing: usize) {
    let mut short = Interval::exact(0.0);
    let mut paths = Vec::new();
    for (i, stair) in record.stairs.iter().enumerate() {
        if stair.from.as_deref() != Some(area) {
            continue;
        }
        let Some(known) = risers(stair) else {
            // Steps that were not measured may be anything.
            return;
        };
        paths.push(format!("stairs.{i}.risers"));
        if let Some(by) = first_short(&known) {
            short = Interval {
                lo: short.lo.max(by.lo),
                hi: short.hi.max(by.hi),
            };
        }
    }
    b.worked_out(
        thing,
        "first_step_short",
        Some(short),
        "middle one of the other risers less the first",
        paths,
    );
}

/// The middle one of the other risers less the first, where there are others.
pub(crate) fn first_short(risers: &[Interval]) -> Option<Interval> {
    let (first, rest) = risers.split_first()?;
    let mut rest: Vec<Interval> = rest.to_vec();
    rest.sort_by(|a, b| (a.lo + a.hi).total_cmp(&(b.lo + b.hi)));
    Some(less(*rest.get(rest.len() / 2)?, *first))
}

fn fold(list: &[Interval], pick: fn(f64, f64) -> f64) -> Interval {
    list.iter()
        .copied()
        .reduce(|a, c| Interval {
            lo: pick(a.lo, c.lo),
            hi: pick(a.hi, c.hi),
        })
        .unwrap_or(Interval::exact(0.0))
}

pub(super) fn thresholds(b: &mut Builder<'_>, record: &Record, slab: usize) -> Vec<usize> {
    record
        .thresholds
        .iter()
        .enumerate()
        .map(|(i, t)| {
            let thing = b.thing(Scope::Threshold, format!("door {}", t.id), Some(slab));
            b.measured(thing, "drop", Some(&t.drop), format!("thresholds.{i}.drop"));
            b.measured(
                thing,
                "door_clearance",
                t.door_clearance.as_ref(),
                format!("thresholds.{i}.door_clearance"),
            );
            b.chosen(
                thing,
                "required_exit",
                &[if t.required_exit { "yes" } else { "no" }],
                "as recorded",
                vec![format!("thresholds.{i}.required_exit")],
            );
            thing
        })
        .collect()
}

/// The greatest layer on an area, mm, that a stair allows, from the limits. A stair whose foot,
/// treads and head all rise together keeps its risers, and limits nothing; one that is outside its
/// limits as it stands allows no layer that changes a riser.
fn stair_allows(
    stair: &crate::record::model::Stair,
    area: &str,
    limits: &[RiserLimit],
) -> Option<Interval> {
    let below = stair.from.as_deref() == Some(area);
    let above = stair.to.as_deref() == Some(area);
    if below == above && (!below || stair.treads_overlaid) {
        return None;
    }
    let risers: Vec<Length> = risers(stair)?
        .iter()
        .map(|i| Length::new::<millimeter>(f64::midpoint(i.lo, i.hi)))
        .collect();
    // A unit layer of a metre is far thicker than any overlay; the share that keeps the limits is
    // then the thickness in metres.
    const UNIT_MM: f64 = 1000.0;
    let layer = |on: bool| Length::new::<millimeter>(if on { UNIT_MM } else { 0.0 });
    let work = StairWork {
        below: layer(below),
        treads: layer(stair.treads_overlaid),
        above: layer(above),
    };
    match share_that_keeps(&risers, work, limits) {
        Some((least, greatest)) if least <= 1e-9 => Some(Interval::exact(greatest * UNIT_MM)),
        // Outside the limits as it stands: no layer keeps them without mending the stair.
        _ => Some(Interval::exact(0.0)),
    }
}

/// What heights allow, what the finish needs, and the room between them.
pub(super) fn room(b: &mut Builder<'_>, record: &Record, index: usize, thing: usize) {
    let area = &record.areas[index];
    let limits = limits(b, record);
    let mut allowed: Option<Interval> = None;
    let mut tighten = |limit: Interval| {
        allowed = Some(allowed.map_or(limit, |a| Interval {
            lo: a.lo.min(limit.lo),
            hi: a.hi.min(limit.hi),
        }));
    };
    let mut paths = Vec::new();
    for (i, stair) in record.stairs.iter().enumerate() {
        if let Some(limit) = stair_allows(stair, &area.id, &limits.risers) {
            paths.push(format!("stairs.{i}.risers"));
            tighten(limit);
        }
    }
    let lip = b.figure("weather_lip_least").map_or(0.0, |f| f.hi);
    let clear = b.figure("door_clear_least").map_or(0.0, |f| f.hi);
    for (i, door) in record
        .thresholds
        .iter()
        .enumerate()
        .filter(|(_, t)| t.area == area.id)
    {
        let less = |x: Interval, keep: f64| Interval {
            lo: (x.lo - keep).max(0.0),
            hi: (x.hi - keep).max(0.0),
        };
        if let Some(drop) = door.drop.canonical() {
            paths.push(format!("thresholds.{i}.drop"));
            tighten(less(drop, lip));
        }
        if let Some(c) = door.door_clearance.as_ref().and_then(Measured::canonical) {
            paths.push(format!("thresholds.{i}.door_clearance"));
            tighten(less(c, clear));
        }
    }
    // With no stair, door or drain listed nothing in the record limits the height.
    let allowed = allowed.or_else(|| {
        let listed = record
            .edges
            .iter()
            .any(|e| e.area == area.id && e.kind == "drain");
        let top = b
            .vocabulary
            .find("headroom")
            .and_then(|id| b.vocabulary.fact(id).range)
            .map(|r| r.hi);
        (!listed).then_some(top).flatten().map(Interval::exact)
    });
    b.worked_out(
        thing,
        "headroom",
        allowed,
        "least of what stairs and doors allow",
        paths,
    );
    let need = overlay_need(b, record);
    b.worked_out(
        thing,
        "overlay_need",
        need,
        "what the wished finish and the old relief ask for",
        vec![
            "wishes.finish".into(),
            "wishes.relief".into(),
            "slab.relief".into(),
        ],
    );
    if let (Some(allowed), Some(need)) = (allowed, need) {
        // What the heights allow holds the rounding of its comparisons; as room it is none.
        let room = |mm: f64| {
            if mm.abs() < 2.0 * ROUNDING_MM {
                0.0
            } else {
                mm
            }
        };
        let left = allowed - need;
        b.worked_out(
            thing,
            "room_left",
            Some(Interval::of(room(left.lo), room(left.hi))),
            "what heights allow less what the finish needs",
            vec!["stairs".into(), "thresholds".into(), "wishes".into()],
        );
    }
}

/// Least thickness the wished finish asks for, mm, from the pack's figures.
fn overlay_need(b: &Builder<'_>, record: &Record) -> Option<Interval> {
    let figure = |id: &str| b.figure(id).map(|f| f.lo);
    // No wish written counts as `as_is`, as the pack's own default for `wish_finish` says.
    let wish = record.wishes.finish.as_deref().unwrap_or("as_is");
    let wished = match (wish, record.wishes.relief.as_deref()) {
        ("as_is" | "sealed", _) => return Some(Interval::exact(0.0)),
        ("patterned", Some("deep")) => Interval::exact(figure("relief_deep_needs")?),
        ("patterned", Some("shallow")) => Interval::exact(figure("relief_shallow_needs")?),
        ("patterned", _) => Interval::of(
            figure("relief_shallow_needs")?,
            figure("relief_deep_needs")?,
        ),
        _ => Interval::exact(figure("finish_plain_needs")?),
    };
    // A new finish must also fill the old relief.
    let old = record
        .slab
        .relief
        .as_ref()
        .and_then(Measured::canonical)
        .unwrap_or(Interval::exact(0.0));
    Some(Interval {
        lo: wished.lo.max(old.lo),
        hi: wished.hi.max(old.hi),
    })
}
