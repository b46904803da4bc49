//! Outlines, panels and defects against the surface they lie in.

use std::collections::BTreeMap;

use super::Check;
use crate::facts::Interval;
use crate::record::geometry::{self, Point};
use crate::record::model::{AreaRecord, Defect, DefectKind};
use crate::units::{Kind, Length, Measured, Notation};

/// Two statements of one size may differ by this share before they contradict each other.
const SLACK: f64 = 0.05;
/// How far outside its area's outline a point may lie on the map, mm. A hand's width.
const OUTSIDE: f64 = 100.0;

impl Check<'_> {
    pub(super) fn areas(&mut self) {
        let record = self.record;
        for (a, area) in record.areas.iter().enumerate() {
            let path = format!("areas.{a}");
            let outline = self.outline(&path, area);
            let grid_fits = self.panels(&path, area, outline.as_deref());
            let surface = self.surface(&path, area, outline.as_deref(), grid_fits);
            if let Some(surface) = surface {
                self.defect_sizes(&path, area, surface);
            }
            let corners = outline.or_else(|| rectangle(area, record.areas.len() == 1));
            if let Some(corners) = corners {
                self.on_the_map(&path, area, &corners);
            }
        }
    }

    /// The corners, when there are any and they make a proper outline.
    fn outline(&mut self, path: &str, area: &AreaRecord) -> Option<Vec<Point>> {
        let path = format!("{path}.outline");
        if area.outline.is_empty() || self.is_broken(&path) {
            return None;
        }
        let mut corners = Vec::with_capacity(area.outline.len());
        let mut sound = true;
        for (c, corner) in area.outline.iter().enumerate() {
            let at = format!("{path}.{c}");
            if (0..2).any(|i| self.is_broken(&format!("{at}.{i}"))) {
                sound = false;
                continue;
            }
            match point(corner) {
                Some(p) => corners.push(p),
                None => {
                    sound = false;
                    self.error(
                        "outline",
                        &at,
                        "a corner needs two single numbers",
                        "write it as `[4 ft, 6 ft]`; take a middle value where it was read roughly",
                    );
                }
            }
        }
        if !sound {
            return None;
        }
        if corners.len() < 3 {
            self.error(
                "outline",
                &path,
                format!(
                    "an outline needs at least three corners, and this one has {}",
                    corners.len()
                ),
                "write every corner in order, or give a rectangle as `size: 12 ft x 30 ft`",
            );
            return None;
        }
        // The closing corner may be written once more.
        if corners.len() > 3 && corners.first() == corners.last() {
            corners.pop();
        }
        for c in 1..corners.len() {
            if corners.get(c) == corners.get(c - 1) {
                self.error(
                    "outline",
                    &format!("{path}.{c}"),
                    format!("corner {} stands on the same spot as the one before", c + 1),
                    "take one of them away",
                );
                return None;
            }
        }
        // Pairs of sides are compared; nobody draws so many corners by hand.
        const MOST_CORNERS: usize = 500;
        if corners.len() > MOST_CORNERS {
            self.error(
                "limit",
                &path,
                format!(
                    "the outline has {} corners; {MOST_CORNERS} are read",
                    corners.len()
                ),
                "leave out corners on straight sides",
            );
            return None;
        }
        if geometry::on_one_line(&corners) {
            self.error(
                "outline",
                &path,
                "the outline holds no surface",
                "its corners lie on one line; check them",
            );
            return None;
        }
        if let Some((a, b)) = geometry::crossing(&corners) {
            let n = corners.len();
            let side = |i: usize| {
                format!(
                    "the side from corner {} to corner {}",
                    i + 1,
                    (i + 1) % n + 1
                )
            };
            self.error(
                "outline",
                &format!("{path}.{b}"),
                format!("the outline crosses itself: {} meets {}", side(b), side(a)),
                "write the corners in the order you meet them walking round the area",
            );
            return None;
        }
        Some(corners)
    }

    /// Whether there is a grid, and it adds up to the size.
    fn panels(&mut self, path: &str, area: &AreaRecord, outline: Option<&[Point]>) -> bool {
        let Some(grid) = &area.panels else {
            return false;
        };
        let path = format!("{path}.panels");
        for (key, list) in [("columns", &grid.columns), ("rows", &grid.rows)] {
            if list.is_empty() {
                self.error(
                    "panels",
                    &format!("{path}.{key}"),
                    format!("the panels have no {key}"),
                    "write at least one, for example `[10 ft]`",
                );
                return false;
            }
        }
        let sums = (total(&grid.columns), total(&grid.rows));
        let (Some(across), Some(up)) = sums else {
            return false;
        };
        let broken = [&path, &format!("{path}.columns"), &format!("{path}.rows")]
            .iter()
            .any(|p| self.is_broken(p))
            || (0..grid.columns.len()).any(|i| self.is_broken(&format!("{path}.columns.{i}")))
            || (0..grid.rows.len()).any(|i| self.is_broken(&format!("{path}.rows.{i}")));
        if broken {
            return false;
        }
        let sides = match (&area.size, outline) {
            (Some(size), _) => size.width.canonical().zip(size.length.canonical()),
            (None, Some(corners)) => geometry::bounds(corners).map(|(low, high)| {
                (
                    Interval::exact(high.0 - low.0),
                    Interval::exact(high.1 - low.1),
                )
            }),
            _ => None,
        };
        let Some((width, length)) = sides else {
            return true;
        };
        let units = self.record.job.units;
        let turned = agree(across, length) && agree(up, width);
        let mut fits = true;
        for (key, sum, side, what) in [
            ("columns", across, width, "wide"),
            ("rows", up, length, "long"),
        ] {
            if agree(sum, side) {
                continue;
            }
            fits = false;
            let hint = if turned {
                "columns run across the map and rows up it; exchange the two, or the two sides of `size`".to_owned()
            } else {
                "measure the panels again; a joint may be missing from the list".to_owned()
            };
            self.error(
                "panels",
                &format!("{path}.{key}"),
                format!(
                    "the {key} add up to {}, and the area is {} {what}",
                    Kind::Length.write(sum, units),
                    Kind::Length.write(side, units)
                ),
                hint,
            );
        }
        fits
    }

    /// The surface of an area, m², from whatever states it; problems when nothing does or when
    /// the statements contradict each other.
    fn surface(
        &mut self,
        path: &str,
        area: &AreaRecord,
        outline: Option<&[Point]>,
        grid_fits: bool,
    ) -> Option<Interval> {
        let mut stated: Vec<(&str, Interval)> = Vec::new();
        if let Some(size) = &area.size
            && let Some(surface) = size.area().canonical()
            && !self.is_broken(&format!("{path}.size"))
        {
            stated.push(("size", surface));
        }
        if let Some(corners) = outline {
            stated.push(("outline", Interval::exact(geometry::surface(corners) / 1e6)));
        }
        if let Some(surface) = area.surface.and_then(|s| s.canonical())
            && surface.lo > 0.0
        {
            stated.push(("surface", surface));
        }
        let anything = area.size.is_some() || !area.outline.is_empty() || area.panels.is_some();
        let said = ["size", "outline", "surface", "panels"]
            .iter()
            .any(|k| self.is_broken(&format!("{path}.{k}")));
        if stated.is_empty() && !anything && !said {
            self.error(
                "no-surface",
                &format!("{path}.id"),
                format!("the area `{}` has no size", area.id),
                "write `size: 12 ft x 30 ft`, its corners as `outline:`, or `surface: 360 ft2`",
            );
        }
        let units = self.record.job.units;
        if let Some((first, rest)) = stated.split_first() {
            for (key, surface) in rest {
                if !agree(first.1, *surface) {
                    let hint = if first.0 == "size" && *key == "outline" {
                        "keep the outline if the area is not a rectangle, else the size"
                    } else {
                        "keep the one that was measured"
                    };
                    self.error(
                        "contradiction",
                        &format!("{path}.{key}"),
                        format!(
                            "the {key} gives {}, and the {} gives {}",
                            Kind::Area.write(*surface, units),
                            first.0,
                            Kind::Area.write(first.1, units)
                        ),
                        hint,
                    );
                }
            }
        }
        stated.first().map(|s| s.1).or_else(|| {
            let grid = area.panels.as_ref().filter(|_| grid_fits)?;
            let (across, up) = (total(&grid.columns)?, total(&grid.rows)?);
            Some(Interval {
                lo: across.lo * up.lo / 1e6,
                hi: across.hi * up.hi / 1e6,
            })
        })
    }

    /// No defect is larger than its area, nor all of one kind together.
    fn defect_sizes(&mut self, path: &str, area: &AreaRecord, surface: Interval) {
        let units = self.record.job.units;
        // What is measured with a tape may come out a little larger than what it lies in.
        let whole = surface.hi * (1.0 + SLACK);
        let mut by_kind: BTreeMap<DefectKind, (f64, usize, bool)> = BTreeMap::new();
        for (d, defect) in area.defects.iter().enumerate() {
            let at = |key: &str| format!("{path}.defects.{d}.{key}");
            let own = own_surface(defect);
            let mut too_large = false;
            if let Some((key, stated)) = own {
                if stated.lo > whole {
                    too_large = true;
                    self.error(
                        "larger-than-area",
                        &at(key),
                        format!(
                            "defect {} has {}, and its whole area has {}",
                            defect.id,
                            Kind::Area.write(stated, units),
                            Kind::Area.write(surface, units)
                        ),
                        "check the numbers and units of both",
                    );
                }
                if key == "extent"
                    && let Some(other) = defect.surface.and_then(|s| s.canonical())
                    && !agree(stated, other)
                {
                    self.error(
                        "contradiction",
                        &at("surface"),
                        format!(
                            "the surface gives {}, and the extent gives {}",
                            Kind::Area.write(other, units),
                            Kind::Area.write(stated, units)
                        ),
                        "keep the one that was measured",
                    );
                }
            }
            let share = match (defect.share.and_then(|s| s.canonical()), own) {
                (Some(share), _) if !self.is_broken(&at("share")) => share.lo,
                (_, Some((_, stated))) if surface.hi > 0.0 => stated.lo / surface.hi,
                _ => continue,
            };
            if self.is_broken(&at("kind")) {
                continue;
            }
            too_large |= share > 1.0 + SLACK;
            let entry = by_kind.entry(defect.kind).or_insert((0.0, d, false));
            *entry = (entry.0 + share, d, entry.2 || too_large);
        }
        for (kind, (sum, last, said)) in by_kind {
            if sum > 1.0 + SLACK && !said {
                self.error(
                    "larger-than-area",
                    &format!("{path}.defects.{last}"),
                    format!(
                        "the defects of kind `{}` in the area `{}` add up to {} of it",
                        word(kind),
                        area.id,
                        Kind::Share.write(Interval::exact(sum), units)
                    ),
                    "check their sizes; one spot may have been written down twice",
                );
            }
        }
        let patches = area.tests.sounding.iter().flat_map(|s| &s.patches);
        let hollow: f64 = patches
            .filter_map(|p| p.extent.area().canonical())
            .map(|i| i.lo)
            .sum();
        if hollow > whole {
            self.error(
                "larger-than-area",
                &format!("{path}.tests.sounding.patches"),
                format!(
                    "the hollow patches add up to {}, and the whole area has {}",
                    Kind::Area.write(Interval::exact(hollow), units),
                    Kind::Area.write(surface, units)
                ),
                "check their sizes; one patch may have been written down twice",
            );
        }
    }

    /// Points on the map lie in their area, or nearly so.
    fn on_the_map(&mut self, path: &str, area: &AreaRecord, corners: &[Point]) {
        let mut points: Vec<(String, String, Point)> = Vec::new();
        for (d, defect) in area.defects.iter().enumerate() {
            for (key, at) in [("at", &defect.at), ("to", &defect.to)] {
                if let Some(p) = at.as_ref().and_then(point) {
                    points.push((
                        format!("{path}.defects.{d}.{key}"),
                        format!("defect {}", defect.id),
                        p,
                    ));
                }
            }
        }
        for (i, patch) in area
            .tests
            .sounding
            .iter()
            .flat_map(|s| &s.patches)
            .enumerate()
        {
            if let Some(p) = point(&patch.at) {
                points.push((
                    format!("{path}.tests.sounding.patches.{i}.at"),
                    "this hollow patch".to_owned(),
                    p,
                ));
            }
        }
        for (j, joint) in area.joints.iter().enumerate() {
            for (key, at) in [("at", &joint.at), ("to", &joint.to)] {
                if let Some(p) = at.as_ref().and_then(point) {
                    points.push((
                        format!("{path}.joints.{j}.{key}"),
                        format!("the joint `{}`", joint.id),
                        p,
                    ));
                }
            }
        }
        for (at, what, p) in points {
            if (0..2).any(|i| self.is_broken(&format!("{at}.{i}"))) {
                continue;
            }
            if !geometry::holds(corners, p, OUTSIDE) {
                self.warning(
                    "off-the-map",
                    &at,
                    format!("{what} lies outside the area `{}` on the map", area.id),
                    "`[x, y]` counts from the lower left of the slab, not of the area",
                );
            }
        }
    }
}

/// The damaged surface that a defect states itself, m².
fn own_surface(defect: &Defect) -> Option<(&'static str, Interval)> {
    if let Some(stated) = defect.extent.and_then(|e| e.area().canonical()) {
        return Some(("extent", stated));
    }
    let stated = defect.surface.and_then(|s| s.canonical())?;
    Some(("surface", stated))
}

/// A point whose two numbers are single.
fn point(at: &[Measured<Length>; 2]) -> Option<Point> {
    match at {
        [Measured::Exact(x), Measured::Exact(y)] => Some((x.to_canonical(), y.to_canonical())),
        _ => None,
    }
}

/// Corners of a `size` rectangle at its origin; at the map's corner when it is the only area.
fn rectangle(area: &AreaRecord, alone: bool) -> Option<Vec<Point>> {
    let (x, y) = match &area.origin {
        Some(origin) => point(origin)?,
        None if alone => (0.0, 0.0),
        None => return None,
    };
    let size = area.size?;
    let (w, l) = (size.width.canonical()?.hi, size.length.canonical()?.hi);
    Some(vec![(x, y), (x + w, y), (x + w, y + l), (x, y + l)])
}

fn total(lengths: &[Measured<Length>]) -> Option<Interval> {
    lengths
        .iter()
        .try_fold(Interval::exact(0.0), |sum, m| Some(sum + m.canonical()?))
}

/// Whether two statements of one size are the same within the slack.
fn agree(a: Interval, b: Interval) -> bool {
    a.lo <= b.hi * (1.0 + SLACK) && b.lo <= a.hi * (1.0 + SLACK)
}

/// The word of a defect kind in records.
fn word(kind: DefectKind) -> String {
    serde_json::to_value(kind)
        .ok()
        .and_then(|v| v.as_str().map(str::to_owned))
        .unwrap_or_default()
}
