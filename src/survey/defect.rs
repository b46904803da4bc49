//! Facts of numbered defects.

use crate::facts::{Interval, Scope};
use crate::record::model::{DefectKind, Record};
use crate::units::Measured;

use super::area::numbers;
use super::builder::{Builder, kind_word};
use super::geometry::{self, PanelShape, Point};

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
    b.things[thing].lies_in = lies_in(d, around);

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
        let length = (to.x - from.x).hypot(to.y - from.y);
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

/// Panels the defect is recorded in, or lies in by its place on the map.
fn lies_in(d: &crate::record::model::Defect, around: &Around<'_>) -> Vec<usize> {
    if !d.panels.is_empty() {
        return around
            .panels
            .iter()
            .filter(|(name, _)| d.panels.contains(name))
            .map(|(_, t)| *t)
            .collect();
    }
    let ends: Vec<Point> = [&d.at, &d.to]
        .into_iter()
        .flatten()
        .filter_map(geometry::point)
        .collect();
    around
        .shapes
        .iter()
        .zip(around.panels)
        .filter(|(shape, _)| {
            shape
                .rect
                .is_some_and(|r| ends.iter().any(|p| r.contains(*p)))
        })
        .map(|(_, (_, t))| *t)
        .collect()
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
                let mm2 = geometry::times(w, l);
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
                Some(geometry::times(share, whole)),
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

/// Numbers of the panel it lies in; of the longest when it lies in several, and of the longest of
/// the area when no panel is named.
fn own_panel(b: &mut Builder<'_>, thing: usize, around: &Around<'_>, area: usize) {
    let thickness = b.number(around.slab, "thickness");
    let inside =
        |t: &usize| b.things[thing].lies_in.is_empty() || b.things[thing].lies_in.contains(t);
    let longest = around
        .shapes
        .iter()
        .zip(around.panels)
        .filter(|(_, (_, t))| inside(t))
        .map(|(shape, _)| numbers(shape, thickness))
        .max_by(|a, c| a.side.hi.total_cmp(&c.side.hi));
    let Some(n) = longest else { return };
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

/// Change of a crack's width over its readings, as a share of their mean, and the time they span.
fn readings(b: &mut Builder<'_>, d: &crate::record::model::Defect, thing: usize, path: &str) {
    let widths: Vec<Interval> = d
        .readings
        .iter()
        .filter_map(|r| r.value.canonical())
        .collect();
    if widths.len() < 2 {
        return;
    }
    let greatest = widths
        .iter()
        .map(|w| w.hi)
        .fold(f64::NEG_INFINITY, f64::max);
    let least = widths.iter().map(|w| w.lo).fold(f64::INFINITY, f64::min);
    let sure = widths
        .iter()
        .map(|w| w.lo)
        .fold(f64::NEG_INFINITY, f64::max)
        - widths.iter().map(|w| w.hi).fold(f64::INFINITY, f64::min);
    let mean = widths
        .iter()
        .map(|w| f64::midpoint(w.lo, w.hi))
        .sum::<f64>()
        / widths.len() as f64;
    if mean > 0.0 {
        let change = Interval {
            lo: (sure / mean).max(0.0),
            hi: (greatest - least) / mean,
        };
        b.worked_out(
            thing,
            "width_change",
            Some(change),
            "greatest less least width over the mean width",
            vec![format!("{path}.readings")],
        );
    }
    let days: Vec<_> = d
        .readings
        .iter()
        .filter_map(|r| super::site::date_range(&r.date))
        .map(|r| r.0)
        .collect();
    if let (Some(first), Some(last)) = (days.iter().min(), days.iter().max()) {
        let span = super::site::days_between(*first, *last);
        b.worked_out(
            thing,
            "reading_span",
            Some(Interval::exact(span)),
            "first to last reading",
            vec![format!("{path}.readings")],
        );
    }
}
