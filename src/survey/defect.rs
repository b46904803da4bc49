//! Facts of numbered defects.

use crate::facts::{Interval, Scope};
use crate::record::geometry;
use crate::record::model::{DefectKind, Record};
use crate::units::Measured;

use super::area::{PanelNumbers, numbers};
use super::builder::{Builder, kind_word};
use super::panels::{self, PanelShape, times};

/// What lies around a defect.
pub(super) struct Around<'a> {
    pub area: usize,
    pub slab: usize,
    /// Surface of the area, m².
    pub surface: Option<Interval>,
    pub shapes: &'a [PanelShape],
    pub panels: &'a [(String, usize)],
}

pub(super) fn defect(
    b: &mut Builder<'_>,
    record: &Record,
    area: usize,
    index: usize,
    around: &Around<'_>,
) -> usize {
    let d = &record.areas[area].defects[index];
    let path = format!("areas.{area}.defects.{index}");
    let at = |field: &str| format!("{path}.{field}");
    let thing = b.thing(Scope::Defect, format!("defect {}", d.id), Some(around.area));
    b.word(thing, "kind", Some(&kind_word(d.kind)), at("kind"));

    b.measured(thing, "loss_depth", d.depth.as_ref(), at("depth"));
    b.measured(
        thing,
        "greatest_depth",
        d.greatest_depth.as_ref(),
        at("greatest_depth"),
    );
    if d.greatest_depth.is_none() {
        // The deepest is at least the usual depth; nothing is known of how much more.
        if let Some(depth) = b.number(thing, "loss_depth") {
            let cap = b
                .number(around.slab, "thickness")
                .map_or(f64::INFINITY, |t| t.hi)
                .max(depth.hi);
            let deepest = if d.depth.is_some() && depth.lo < depth.hi {
                Interval {
                    lo: depth.hi,
                    hi: depth.hi,
                }
            } else {
                Interval {
                    lo: depth.lo,
                    hi: cap,
                }
            };
            // A usual depth written as a range was read at several spots, and its end is the deepest.
            if depth.lo < depth.hi {
                b.worked_out(
                    thing,
                    "greatest_depth",
                    Some(deepest),
                    "the deep end of the usual depth",
                    vec![at("depth")],
                );
            }
        }
    }
    b.choice(thing, "stones", d.stones.as_ref(), at("stones"));
    b.measured(thing, "diameter", d.diameter.as_ref(), at("diameter"));
    match d.kind {
        DefectKind::Spall => b.measured(thing, "spall_width", d.width.as_ref(), at("width")),
        _ => b.measured(thing, "crack_width", d.width.as_ref(), at("width")),
    }
    b.measured(thing, "crack_length", d.length.as_ref(), at("length"));
    if d.length.is_none()
        && let (Some(from), Some(to)) = (
            d.at.as_ref().and_then(geometry::point),
            d.to.as_ref().and_then(geometry::point),
        )
    {
        let length = (to.0 - from.0).hypot(to.1 - from.1);
        b.worked_out(
            thing,
            "crack_length",
            Some(Interval::exact(length)),
            "from its ends on the map",
            vec![at("at"), at("to")],
        );
    }
    b.measured(thing, "offset", d.offset.as_ref(), at("offset"));
    b.measured(thing, "spacing", d.spacing.as_ref(), at("spacing"));
    b.measured(
        thing,
        "water_depth",
        d.water_depth.as_ref(),
        at("water_depth"),
    );
    b.measured(thing, "count", d.count.as_ref(), at("count"));
    frames(b, d, thing, &path);
    sizes(b, d, thing, &path, around);
    let surface = b.number(thing, "defect_surface").map(|m2| Interval {
        lo: m2.lo * 1e6,
        hi: m2.hi * 1e6,
    });
    let lies = panels::lies_in(d, around.shapes, surface);
    let panel = |i: &usize| around.panels.get(*i).map(|(_, t)| *t);
    b.things[thing].lies_in = lies.sure.iter().filter_map(panel).collect();
    b.things[thing].may_lie_in = lies.maybe.iter().filter_map(panel).collect();
    own_panel(b, thing, around, area);
    let thickness = b.number(around.slab, "thickness").filter(|t| t.lo > 0.0);
    let depth = b
        .number(thing, "greatest_depth")
        .or_else(|| b.number(thing, "loss_depth"));
    if let (Some(depth), Some(t)) = (depth, thickness) {
        let ratio = Interval {
            lo: depth.lo / t.hi,
            hi: depth.hi / t.lo,
        };
        b.worked_out(
            thing,
            "depth_ratio",
            Some(ratio),
            "deepest loss over slab thickness",
            vec![at("greatest_depth"), at("depth"), "slab.thickness".into()],
        );
    }
    readings(b, d, thing, &path);
    b.signs(thing, &d.signs, &at("signs"));
    thing
}

/// Mean of the counts in one-square-yard frames.
fn frames(b: &mut Builder<'_>, d: &crate::record::model::Defect, thing: usize, path: &str) {
    let counts: Vec<f64> = d
        .frame_counts
        .iter()
        .copied()
        .filter(|x| x.is_finite())
        .collect();
    if !counts.is_empty() {
        let mean = counts.iter().sum::<f64>() / counts.len() as f64;
        b.worked_out(
            thing,
            "frame_mean",
            Some(Interval::exact(mean)),
            "mean of the frame counts",
            vec![format!("{path}.frame_counts")],
        );
    }
}

/// Surface and share of the area, each from the other where only one was taken.
fn sizes(
    b: &mut Builder<'_>,
    d: &crate::record::model::Defect,
    thing: usize,
    path: &str,
    around: &Around<'_>,
) {
    let at = |field: &str| format!("{path}.{field}");
    b.measured(thing, "share", d.share.as_ref(), at("share"));
    b.measured(thing, "defect_surface", d.surface.as_ref(), at("surface"));
    if d.surface.is_none() {
        if let Some(extent) = &d.extent {
            b.worked_out(
                thing,
                "defect_surface",
                extent.area().canonical(),
                "width times length",
                vec![at("extent")],
            );
        } else if let (Some(w), Some(l)) = (
            d.width.as_ref().and_then(Measured::canonical),
            d.length.as_ref().and_then(Measured::canonical),
        ) {
            if d.kind == DefectKind::Spall {
                let mm2 = times(w, l);
                b.worked_out(
                    thing,
                    "defect_surface",
                    Some(Interval {
                        lo: mm2.lo / 1e6,
                        hi: mm2.hi / 1e6,
                    }),
                    "width times length",
                    vec![at("width"), at("length")],
                );
            }
        } else if let (Some(share), Some(whole)) = (b.number(thing, "share"), around.surface) {
            b.worked_out(
                thing,
                "defect_surface",
                Some(times(share, whole)),
                "share times the surface of the area",
                vec![at("share")],
            );
        }
    }
    if d.share.is_none()
        && let (Some(own), Some(whole)) = (
            b.number(thing, "defect_surface"),
            around.surface.filter(|s| s.lo > 0.0),
        )
    {
        let share = Interval {
            lo: (own.lo / whole.hi).min(1.0),
            hi: (own.hi / whole.lo).min(1.0),
        };
        b.worked_out(
            thing,
            "share",
            Some(share),
            "its surface over the surface of the area",
            vec![at("extent"), at("surface")],
        );
    }
}

/// Numbers of the panel it lies in; of the longest when it lies in several. Where the panel is not
/// known, everything from the shortest to the longest it may lie in.
fn own_panel(b: &mut Builder<'_>, thing: usize, around: &Around<'_>, area: usize) {
    let thickness = b.number(around.slab, "thickness");
    let of = |panels: &[usize]| -> Vec<PanelNumbers> {
        around
            .shapes
            .iter()
            .zip(around.panels)
            .filter(|(_, (_, t))| panels.contains(t))
            .map(|(shape, _)| numbers(shape, thickness))
            .collect()
    };
    let longest = of(&b.things[thing].lies_in)
        .into_iter()
        .max_by(|a, c| a.side.hi.total_cmp(&c.side.hi));
    let others = of(&b.things[thing].may_lie_in);
    let least = longest.as_ref().map_or(f64::NEG_INFINITY, |n| n.side.lo);
    let Some(n) = longest
        .into_iter()
        .chain(others.into_iter().filter(|n| n.side.hi > least))
        .reduce(PanelNumbers::hull)
    else {
        return;
    };
    let paths = || vec![format!("areas.{area}.panels"), "slab.thickness".to_owned()];
    b.worked_out(
        thing,
        "own_panel_length",
        Some(n.side),
        "longer side of its panel",
        paths(),
    );
    b.worked_out(
        thing,
        "own_panel_ratio",
        Some(n.ratio),
        "side ratio of its panel",
        paths(),
    );
    b.worked_out(
        thing,
        "own_spacing_ratio",
        n.spacing,
        "longer side of its panel over slab thickness",
        paths(),
    );
}

/// What dated readings of a crack's width show: how much it changes, as a share of the mean width,
/// and whether that counts as moving by the pack's figures. Readings that show no change speak for a
/// still crack only when they span the time the pack asks for.
fn readings(b: &mut Builder<'_>, d: &crate::record::model::Defect, thing: usize, path: &str) {
    let read: Vec<(Option<jiff::civil::Date>, Interval)> = d
        .readings
        .iter()
        .filter_map(|r| {
            let day = super::site::date_range(&r.date).map(|d| d.0);
            Some((day, r.value.canonical()?))
        })
        .collect();
    if read.len() < 2 {
        return;
    }
    let paths = || vec![format!("{path}.readings")];
    let fold = |pick: fn(&Interval) -> f64, by: fn(f64, f64) -> f64| {
        read.iter().map(|(_, w)| pick(w)).reduce(by).unwrap_or(0.0)
    };
    let change = Interval {
        // Readings that are ranges differ for certain only by what lies between them.
        lo: (fold(|w| w.lo, f64::max) - fold(|w| w.hi, f64::min)).max(0.0),
        hi: fold(|w| w.hi, f64::max) - fold(|w| w.lo, f64::min),
    };
    let mean = read
        .iter()
        .map(|(_, w)| f64::midpoint(w.lo, w.hi))
        .sum::<f64>()
        / read.len() as f64;
    let share = (mean > 0.0).then(|| Interval {
        lo: change.lo / mean,
        hi: change.hi / mean,
    });
    b.worked_out(
        thing,
        "width_change",
        share,
        "greatest less least width over the mean width",
        paths(),
    );
    let (Some(width), Some(of_width)) = (
        b.figure("crack_change_width"),
        b.figure("crack_change_share"),
    ) else {
        return;
    };
    let moves = |change: f64, share: Option<f64>| {
        change > width.hi || share.is_some_and(|s| s > of_width.hi)
    };
    let surely = moves(change.lo, share.map(|s| s.lo));
    let perhaps = moves(change.hi, share.map(|s| s.hi));
    let days: Vec<jiff::civil::Date> = read.iter().filter_map(|(day, _)| *day).collect();
    let span = match (days.iter().min(), days.iter().max()) {
        (Some(first), Some(last)) => super::site::days_between(*first, *last),
        _ => 0.0,
    };
    let long = b
        .figure("crack_reading_span")
        .is_some_and(|least| span >= least.lo);
    let still = if long { "steady" } else { "not_read" };
    let how = if surely || long {
        "from the widths read and the days between them"
    } else {
        "the readings span too short a time to show that it stands still"
    };
    let words: &[&str] = match (surely, perhaps) {
        (true, _) => &["changes"],
        (false, true) => &["changes", still],
        (false, false) => &[still],
    };
    b.chosen(thing, "crack_history", words, how, paths());
}
