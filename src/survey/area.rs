//! Facts of areas and panels.

use crate::facts::{Interval, Scope};
use crate::record::geometry::{self, Point};
use crate::record::model::{AreaRecord, DefectKind, Record};
use crate::units::Notation;

use super::builder::Builder;
use super::panels::{self, PanelShape, times};
use super::{AreaThings, defect, headroom, stats};

pub(super) fn area(
    b: &mut Builder<'_>,
    record: &Record,
    index: usize,
    slab: usize,
    place: Option<&[Point]>,
) -> AreaThings {
    let area = &record.areas[index];
    let path = format!("areas.{index}");
    let thing = b.thing(Scope::Area, format!("area {}", area.id), Some(slab));
    surface(b, area, &path, thing);
    b.measured(thing, "fall", area.fall.as_ref(), format!("{path}.fall"));
    let touches = |kind: &str| {
        record
            .edges
            .iter()
            .any(|e| e.area == area.id && e.kind == kind)
    };
    let near = touches("building") || record.thresholds.iter().any(|t| t.area == area.id);
    b.chosen(
        thing,
        "near_building",
        &[yes_no(near)],
        "from the edges and doors listed",
        vec!["edges".into(), "thresholds".into()],
    );
    let stair = record
        .stairs
        .iter()
        .any(|s| s.from.as_deref() == Some(&area.id) || s.to.as_deref() == Some(&area.id));
    b.chosen(
        thing,
        "has_stair",
        &[yes_no(stair)],
        "from the stairs listed",
        vec!["stairs".into()],
    );
    // Where no edge of the area is listed, what lies along it is not known.
    let listed = record.edges.iter().any(|e| e.area == area.id);
    let edges = [
        ("beside_lawn", touches("lawn") || touches("planting")),
        ("beside_pool", touches("coping")),
    ];
    for (fact, yes) in edges.into_iter().filter(|_| listed) {
        b.chosen(
            thing,
            fact,
            &[yes_no(yes)],
            "from the edges listed",
            vec!["edges".into()],
        );
    }
    let isolated = area.joints.iter().any(|j| j.kind == "isolation");
    b.chosen(
        thing,
        "has_isolation",
        &[yes_no(isolated)],
        "from the joints listed",
        vec![format!("{path}.joints")],
    );
    headroom::first_step(b, record, &area.id, thing);
    let shapes = panels::panels(area, place);
    let panels = panel_things(b, area, &path, thing, slab, &shapes);
    b.signs(thing, &area.signs, &format!("{path}.signs"));
    tests(b, area, &path, thing);
    let surface = b.number(thing, "area_surface");
    let defects: Vec<usize> = (0..area.defects.len())
        .map(|d| {
            defect::defect(
                b,
                record,
                index,
                d,
                &defect::Around {
                    area: thing,
                    slab,
                    surface,
                    shapes: &shapes,
                    panels: &panels,
                },
            )
        })
        .collect();
    shares(b, area, &path, thing, &defects);
    panel_shares(b, area, &path, &shapes, &panels, &defects);
    hollow(b, area, &path, thing, surface, &defects);
    headroom::room(b, record, index, thing);
    let joints = area
        .joints
        .iter()
        .enumerate()
        .map(|(j, joint)| {
            let path = format!("{path}.joints.{j}");
            let t = b.thing(Scope::Joint, format!("joint {}", joint.id), Some(thing));
            b.word(t, "joint_kind", Some(&joint.kind), format!("{path}.kind"));
            b.measured(
                t,
                "joint_opening",
                joint.width.as_ref(),
                format!("{path}.width"),
            );
            b.signs(t, &joint.signs, &format!("{path}.signs"));
            t
        })
        .collect();
    AreaThings {
        thing,
        panels,
        defects,
        joints,
    }
}

fn yes_no(yes: bool) -> &'static str {
    if yes { "yes" } else { "no" }
}

fn surface(b: &mut Builder<'_>, area: &AreaRecord, path: &str, thing: usize) {
    if area.surface.is_some() {
        b.measured(
            thing,
            "area_surface",
            area.surface.as_ref(),
            format!("{path}.surface"),
        );
    } else if area.outline.len() >= 3 {
        let surface = geometry::corners(area).map(|c| Interval::exact(geometry::surface(&c) / 1e6));
        b.worked_out(
            thing,
            "area_surface",
            surface,
            "from the outline",
            vec![format!("{path}.outline")],
        );
    } else if let Some(size) = &area.size {
        b.worked_out(
            thing,
            "area_surface",
            size.area().canonical(),
            "width times length",
            vec![format!("{path}.size")],
        );
    }
}

/// Longer side, side ratio and spacing in thicknesses of a panel.
pub(super) struct PanelNumbers {
    pub side: Interval,
    pub ratio: Interval,
    pub spacing: Option<Interval>,
}

impl PanelNumbers {
    /// Everything from the one to the other.
    pub fn hull(self, other: PanelNumbers) -> PanelNumbers {
        PanelNumbers {
            side: self.side.hull(other.side),
            ratio: self.ratio.hull(other.ratio),
            spacing: self.spacing.zip(other.spacing).map(|(a, b)| a.hull(b)),
        }
    }
}

pub(super) fn numbers(shape: &PanelShape, thickness: Option<Interval>) -> PanelNumbers {
    let (w, h) = (shape.width, shape.height);
    let side = Interval {
        lo: w.lo.max(h.lo),
        hi: w.hi.max(h.hi),
    };
    let short = Interval {
        lo: w.lo.min(h.lo),
        hi: w.hi.min(h.hi),
    };
    let ratio = Interval {
        lo: (side.lo / short.hi).max(1.0),
        hi: side.hi / short.lo,
    };
    let spacing = thickness.filter(|t| t.lo > 0.0).map(|t| Interval {
        lo: side.lo / t.hi,
        hi: side.hi / t.lo,
    });
    PanelNumbers {
        side,
        ratio,
        spacing,
    }
}

fn panel_things(
    b: &mut Builder<'_>,
    area: &AreaRecord,
    path: &str,
    thing: usize,
    slab: usize,
    shapes: &[PanelShape],
) -> Vec<(String, usize)> {
    let thickness = b.number(slab, "thickness");
    let mut out = Vec::with_capacity(shapes.len());
    let mut worst: Option<PanelNumbers> = None;
    let mut longest_ratio: Option<Interval> = None;
    for shape in shapes {
        let t = b.thing(
            Scope::Panel,
            format!("panel {} of area {}", shape.name, area.id),
            Some(thing),
        );
        let n = numbers(shape, thickness);
        let paths = || vec![format!("{path}.panels"), "slab.thickness".to_owned()];
        b.worked_out(
            t,
            "panel_side",
            Some(n.side),
            "longer side of the panel",
            paths(),
        );
        b.worked_out(
            t,
            "panel_shape",
            Some(n.ratio),
            "longer side over shorter side",
            paths(),
        );
        b.worked_out(
            t,
            "panel_spacing",
            n.spacing,
            "longer side over slab thickness",
            paths(),
        );
        if let Some(signs) = area.panels.as_ref().and_then(|p| p.signs.get(&shape.name)) {
            b.signs(t, signs, &format!("{path}.panels.signs.{}", shape.name));
        }
        if worst.as_ref().is_none_or(|w| n.side.hi > w.side.hi) {
            longest_ratio = Some(n.ratio);
            worst = Some(n);
        }
        out.push((shape.name.clone(), t));
    }
    if let Some(n) = worst {
        let paths = || vec![format!("{path}.panels"), "slab.thickness".to_owned()];
        b.worked_out(
            thing,
            "panel_length",
            Some(n.side),
            "longest panel side",
            paths(),
        );
        b.worked_out(
            thing,
            "panel_ratio",
            longest_ratio,
            "side ratio of the longest panel",
            paths(),
        );
        b.worked_out(
            thing,
            "spacing_ratio",
            n.spacing,
            "longest panel side over slab thickness",
            paths(),
        );
    }
    out
}

fn middle<T: Notation>(readings: &[crate::units::Measured<T>]) -> Option<Interval> {
    let mut known: Vec<Interval> = readings
        .iter()
        .filter_map(crate::units::Measured::canonical)
        .collect();
    if known.is_empty() {
        return None;
    }
    let median = |pick: fn(&Interval) -> f64, known: &mut Vec<Interval>| {
        known.sort_by(|a, b| pick(a).total_cmp(&pick(b)));
        let n = known.len();
        f64::midpoint(pick(&known[(n - 1) / 2]), pick(&known[n / 2]))
    };
    Some(Interval {
        lo: median(|i| i.lo, &mut known),
        hi: median(|i| i.hi, &mut known),
    })
}

fn tests(b: &mut Builder<'_>, area: &AreaRecord, path: &str, thing: usize) {
    let t = &area.tests;
    b.worked_out(
        thing,
        "water_drop",
        middle(&t.water_drop),
        "the middle of the readings",
        vec![format!("{path}.tests.water_drop")],
    );
    if !t.sheet.is_empty() {
        let damp = t.sheet.iter().any(|s| s == "damp");
        b.chosen(
            thing,
            "sheet",
            &[if damp { "damp" } else { "dry" }],
            "damp when any sheet was damp",
            vec![format!("{path}.tests.sheet")],
        );
    }
    let hull = |values: &[f64]| {
        values
            .iter()
            .copied()
            .map(Interval::exact)
            .reduce(Interval::hull)
    };
    b.worked_out(
        thing,
        "ph",
        hull(&t.ph),
        "all readings",
        vec![format!("{path}.tests.ph")],
    );
    let humidity = t
        .humidity
        .iter()
        .filter_map(crate::units::Measured::canonical)
        .reduce(|a, c| Interval {
            lo: a.lo.max(c.lo),
            hi: a.hi.max(c.hi),
        });
    b.worked_out(
        thing,
        "humidity",
        humidity,
        "the highest reading",
        vec![format!("{path}.tests.humidity")],
    );
    let pulls: Vec<Interval> = t
        .pull_off
        .iter()
        .filter_map(crate::units::Measured::canonical)
        .collect();
    if !pulls.is_empty() {
        let n = pulls.len() as f64;
        let mean = Interval {
            lo: pulls.iter().map(|p| p.lo).sum::<f64>() / n,
            hi: pulls.iter().map(|p| p.hi).sum::<f64>() / n,
        };
        b.worked_out(
            thing,
            "pull_off",
            Some(mean),
            "mean of the readings",
            vec![format!("{path}.tests.pull_off")],
        );
    }
    b.measured(
        thing,
        "slab_temperature",
        t.slab_temperature.as_ref(),
        format!("{path}.tests.slab_temperature"),
    );
    levels(b, area, path, thing);
}

/// Swing over the seasons and lasting change, from dated heights. Two readings belong to one season
/// when their days of the year lie within the pack's `level_same_season`; they show a lasting change
/// when a year (less that window) or more lies between them.
fn levels(b: &mut Builder<'_>, area: &AreaRecord, path: &str, thing: usize) {
    let mut readings: Vec<(jiff::civil::Date, Interval)> = area
        .tests
        .levels
        .iter()
        .filter_map(|l| Some((super::site::date_range(&l.date)?.0, l.value.canonical()?)))
        .collect();
    readings.sort_by_key(|r| r.0);
    let (Some(first), Some(last)) = (readings.first().copied(), readings.last().copied()) else {
        return;
    };
    if readings.len() < 2 {
        return;
    }
    let paths = || vec![format!("{path}.tests.levels")];
    let greatest = Interval {
        lo: readings
            .iter()
            .map(|r| r.1.lo)
            .fold(f64::NEG_INFINITY, f64::max),
        hi: readings
            .iter()
            .map(|r| r.1.hi)
            .fold(f64::NEG_INFINITY, f64::max),
    };
    let least = Interval {
        lo: readings
            .iter()
            .map(|r| r.1.lo)
            .fold(f64::INFINITY, f64::min),
        hi: readings
            .iter()
            .map(|r| r.1.hi)
            .fold(f64::INFINITY, f64::min),
    };
    let swing = greatest - least;
    let season = b.figure("level_same_season").map(|i| i.hi);
    let pair = season.and_then(|season| {
        let year_day = |d: jiff::civil::Date| f64::from(d.day_of_year());
        let apart = |a: jiff::civil::Date, c: jiff::civil::Date| {
            let d = (year_day(a) - year_day(c)).abs();
            d.min(365.0 - d)
        };
        let long = super::site::days_between(first.0, last.0) >= 365.0 - season;
        (long && apart(first.0, last.0) <= season).then(|| last.1 - first.1)
    });
    b.worked_out(
        thing,
        "level_drift",
        pair,
        "last reading less the first of the same season",
        paths(),
    );
    // The lasting part is not a swing.
    let swing = match pair {
        Some(drift) => Interval {
            lo: (swing.lo - drift.lo.abs().max(drift.hi.abs())).max(0.0),
            hi: swing.hi,
        },
        None => Interval {
            lo: swing.lo.max(0.0),
            hi: swing.hi,
        },
    };
    b.worked_out(
        thing,
        "level_swing",
        Some(swing),
        "highest reading less the lowest",
        paths(),
    );
}

/// Kinds that take surface away or leave it hollow.
pub(super) fn loses_surface(kind: DefectKind) -> bool {
    matches!(
        kind,
        DefectKind::Scaling
            | DefectKind::Spall
            | DefectKind::Delamination
            | DefectKind::Blisters
            | DefectKind::Debonding
            | DefectKind::Etching
    )
}

/// Share of a whole taken by several patches that may overlap: at least the greatest, at most the
/// sum. A patch of unknown size may take all of it.
fn union_share(shares: &[Option<Interval>]) -> Interval {
    let lo = shares
        .iter()
        .map(|s| s.map_or(0.0, |s| s.lo))
        .fold(0.0, f64::max);
    let hi: f64 = shares.iter().map(|s| s.map_or(1.0, |s| s.hi)).sum();
    Interval {
        lo: lo.min(1.0),
        hi: hi.clamp(lo.min(1.0), 1.0),
    }
}

fn shares(b: &mut Builder<'_>, area: &AreaRecord, path: &str, thing: usize, defects: &[usize]) {
    let mut of = |wanted: &dyn Fn(DefectKind) -> bool, fact: &str, how: &str| {
        let shares: Vec<Option<Interval>> = area
            .defects
            .iter()
            .zip(defects)
            .filter(|(d, _)| wanted(d.kind))
            .map(|(_, &t)| b.number(t, "share"))
            .collect();
        b.worked_out(
            thing,
            fact,
            Some(union_share(&shares)),
            how,
            vec![format!("{path}.defects")],
        );
    };
    of(
        &|k| k == DefectKind::Scaling,
        "scaled_share",
        "scaled patches of the area, which may overlap",
    );
    of(
        &loses_surface,
        "affected_share",
        "lost and hollow patches of the area, which may overlap",
    );
    let cracks: f64 = area
        .defects
        .iter()
        .filter(|d| matches!(d.kind, DefectKind::Crack | DefectKind::CornerBreak))
        .map(|d| {
            d.count
                .as_ref()
                .and_then(crate::units::Measured::canonical)
                .map_or(1.0, |c| c.hi)
        })
        .sum();
    b.worked_out(
        thing,
        "crack_count",
        Some(Interval::exact(cracks)),
        "cracks listed",
        vec![format!("{path}.defects")],
    );
}

/// Share of each panel that its defects cover: a patch that reaches over several panels, or may lie
/// in any of several, covers at least what the others can't hold, at most its whole surface.
fn panel_shares(
    b: &mut Builder<'_>,
    area: &AreaRecord,
    path: &str,
    shapes: &[PanelShape],
    panels: &[(String, usize)],
    defects: &[usize],
) {
    for (shape, (_, panel)) in shapes.iter().zip(panels) {
        let mine = times(shape.width, shape.height);
        let mine = Interval {
            lo: mine.lo / 1e6,
            hi: mine.hi / 1e6,
        };
        let shares: Vec<Option<Interval>> = area
            .defects
            .iter()
            .zip(defects)
            .filter(|(d, t)| {
                let t = &b.things[**t];
                loses_surface(d.kind) && (t.lies_in.contains(panel) || t.may_lie_in.contains(panel))
            })
            .map(|(_, &t)| {
                let surface = b.number(t, "defect_surface")?;
                let others: f64 = b.things[t]
                    .lies_in
                    .iter()
                    .chain(&b.things[t].may_lie_in)
                    .filter(|p| *p != panel)
                    .filter_map(|p| panels.iter().position(|(_, q)| q == p))
                    .map(|i| shapes[i].width.hi * shapes[i].height.hi / 1e6)
                    .sum();
                (mine.lo > 0.0).then(|| Interval {
                    lo: ((surface.lo - others) / mine.hi).clamp(0.0, 1.0),
                    hi: (surface.hi / mine.lo).clamp(0.0, 1.0),
                })
            })
            .collect();
        b.worked_out(
            *panel,
            "panel_affected",
            Some(union_share(&shares)),
            "lost and hollow patches in the panel",
            vec![format!("{path}.defects")],
        );
    }
}

/// Hollow share: mapped patches give it outright; taps give a Wilson interval at the pack's
/// `sounding_confidence`; a hollow layer recorded without sounding gives a least.
fn hollow(
    b: &mut Builder<'_>,
    area: &AreaRecord,
    path: &str,
    thing: usize,
    surface: Option<Interval>,
    defects: &[usize],
) {
    if let Some(sounding) = &area.tests.sounding {
        let paths = vec![format!("{path}.tests.sounding")];
        if !sounding.patches.is_empty() {
            let Some(surface) = surface.filter(|s| s.lo > 0.0) else {
                return;
            };
            let hollow = sounding
                .patches
                .iter()
                .filter_map(|p| p.extent.area().canonical())
                .reduce(|a, c| a + c)
                .unwrap_or(Interval::exact(0.0));
            let share = Interval {
                lo: (hollow.lo / surface.hi).min(1.0),
                hi: (hollow.hi / surface.lo).min(1.0),
            };
            b.worked_out(
                thing,
                "hollow_share",
                Some(share),
                "hollow patches over the surface of the area",
                paths,
            );
            return;
        }
        if let (Some(taps), Some(hollow)) = (sounding.taps, sounding.hollow)
            && let Some(level) = b.figure("sounding_confidence")
            && let Some((lo, hi)) = stats::wilson(f64::from(hollow), f64::from(taps), level.lo)
        {
            let how = format!(
                "{hollow} dull of {taps} taps, Wilson interval at {:.0} %",
                level.lo * 100.0
            );
            b.worked_out(
                thing,
                "hollow_share",
                Some(Interval { lo, hi }),
                &how,
                paths,
            );
        }
        return;
    }
    let hollow: Vec<Option<Interval>> = area
        .defects
        .iter()
        .zip(defects)
        .filter(|(d, _)| matches!(d.kind, DefectKind::Delamination | DefectKind::Debonding))
        .map(|(_, &t)| b.number(t, "share"))
        .collect();
    if !hollow.is_empty() {
        b.worked_out(
            thing,
            "hollow_share",
            Some(Interval {
                lo: union_share(&hollow).lo,
                hi: 1.0,
            }),
            "at least the hollow patches recorded; the rest was not sounded",
            vec![format!("{path}.defects")],
        );
    }
}
