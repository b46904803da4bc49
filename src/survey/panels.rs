//! Panels of an area: their sides, their places, and which of them a defect lies in.

use crate::facts::Interval;
use crate::record::geometry::{self, Bounds, Point};
use crate::record::model::{AreaRecord, Defect, DefectKind, Panels};
use crate::units::{Length, Measured};

/// A panel by name with its sides as ranges and, where the area has a place, its place.
#[derive(Debug, Clone, PartialEq)]
pub struct PanelShape {
    /// Column letter and row number from the lower left.
    pub name: String,
    /// Across, mm.
    pub width: Interval,
    /// Upward, mm.
    pub height: Interval,
    /// On the slab map.
    pub place: Option<Bounds>,
}

/// Product of two ranges of numbers that are not negative.
pub fn times(a: Interval, b: Interval) -> Interval {
    let corners = [a.lo * b.lo, a.lo * b.hi, a.hi * b.lo, a.hi * b.hi];
    Interval {
        lo: corners.into_iter().fold(f64::INFINITY, f64::min),
        hi: corners.into_iter().fold(f64::NEG_INFINITY, f64::max),
    }
}

/// Every panel of an area's grid, row by row from the bottom. `place` is where the area lies.
pub fn panels(area: &AreaRecord, place: Option<&[Point]>) -> Vec<PanelShape> {
    let Some(Panels { columns, rows, .. }) = &area.panels else {
        return Vec::new();
    };
    let origin = area
        .origin
        .as_ref()
        .and_then(geometry::point)
        .or_else(|| place.and_then(geometry::bounds).map(|b| b.0));
    let edges = |list: &[Measured<Length>]| -> Option<Vec<(f64, f64)>> {
        let mut at = 0.0;
        list.iter()
            .map(|length| {
                let from = at;
                at += geometry::middle(length)?;
                Some((from, at))
            })
            .collect()
    };
    let (xs, ys) = (edges(columns), edges(rows));
    let unknown = Interval {
        lo: 0.0,
        hi: f64::INFINITY,
    };
    let mut out = Vec::with_capacity(columns.len() * rows.len());
    for (r, height) in rows.iter().enumerate() {
        for (c, width) in columns.iter().enumerate() {
            let x = xs.as_ref().and_then(|xs| xs.get(c));
            let y = ys.as_ref().and_then(|ys| ys.get(r));
            let place = match (x, y, origin) {
                (Some(x), Some(y), Some(o)) => {
                    Some(((o.0 + x.0, o.1 + y.0), (o.0 + x.1, o.1 + y.1)))
                }
                _ => None,
            };
            out.push(PanelShape {
                name: geometry::panel_name(c, r),
                width: width.canonical().unwrap_or(unknown),
                height: height.canonical().unwrap_or(unknown),
                place,
            });
        }
    }
    out
}

/// The panels a defect lies in, by index.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Lies {
    /// For certain.
    pub sure: Vec<usize>,
    /// Perhaps: what is recorded of its place leaves it open.
    pub maybe: Vec<usize>,
}

/// Which panels a defect lies in: those it is recorded in, else those its place and size on the map
/// reach. A defect without either lies in any of them. `surface` is the surface it covers, mm².
///
/// A patch of which only the surface was taken is thought round; what it may reach then is open.
pub fn lies_in(defect: &Defect, shapes: &[PanelShape], surface: Option<Interval>) -> Lies {
    let all = || (0..shapes.len()).collect::<Vec<_>>();
    if shapes.len() <= 1 {
        return Lies {
            sure: all(),
            maybe: Vec::new(),
        };
    }
    let named: Vec<usize> = (0..shapes.len())
        .filter(|&i| defect.panels.contains(&shapes[i].name))
        .collect();
    if !named.is_empty() {
        return Lies {
            sure: named,
            maybe: Vec::new(),
        };
    }
    let nowhere = Lies {
        sure: Vec::new(),
        maybe: all(),
    };
    let places: Option<Vec<Bounds>> = shapes.iter().map(|s| s.place).collect();
    let (Some(places), Some(at)) = (places, defect.at.as_ref().and_then(geometry::point)) else {
        return nowhere;
    };
    let where_ = |holds: &dyn Fn(Bounds) -> bool| -> Vec<usize> {
        (0..places.len()).filter(|&i| holds(places[i])).collect()
    };
    let mut maybe = Vec::new();
    let mut sure = where_(&|b| geometry::inside(b, at));
    if let Some(to) = defect.to.as_ref().and_then(geometry::point) {
        sure = where_(&|b| geometry::crosses(b, at, to));
    } else if runs(defect.kind) {
        if let Some(length) = defect.length.as_ref().and_then(Measured::canonical) {
            maybe = where_(&|b| geometry::gap_to(b, at) <= length.hi);
        }
    } else if let Some(extent) = &defect.extent {
        let (w, h) = (extent.width.canonical(), extent.length.canonical());
        if let (Some(w), Some(h)) = (w, h) {
            sure.extend(where_(&|b| {
                geometry::overlap(b, geometry::around(at, w.lo, h.lo))
            }));
            maybe = where_(&|b| geometry::overlap(b, geometry::around(at, w.hi, h.hi)));
        }
    } else if let Some(surface) = surface {
        let radius = (surface.hi / std::f64::consts::PI).sqrt();
        maybe = where_(&|b| geometry::gap_to(b, at) < radius);
    }
    sure.sort_unstable();
    sure.dedup();
    maybe.retain(|i| !sure.contains(i));
    if sure.is_empty() {
        // A point off every panel places nothing.
        return nowhere;
    }
    Lies { sure, maybe }
}

/// Kinds that run along a line, so that their place is where they start.
fn runs(kind: DefectKind) -> bool {
    matches!(
        kind,
        DefectKind::Crack | DefectKind::Lip | DefectKind::CornerBreak
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn area(yaml: &str) -> AreaRecord {
        serde_yaml::from_str(yaml).unwrap()
    }

    /// Four panels of 5 x 5 ft in a row, and what a defect in them lies in.
    fn four(defect: &str) -> (Vec<String>, Vec<String>) {
        let area = area(&format!(
            "{{id: A, name: walk, size: 20 ft x 5 ft, panels: {{columns: [5 ft, 5 ft, 5 ft, 5 ft], \
             rows: [5 ft]}}, defects: [{{id: 1, {defect}}}]}}"
        ));
        let place = geometry::rectangle((0.0, 0.0), 6096.0, 1524.0);
        let shapes = panels(&area, Some(&place));
        let surface = area.defects[0].surface.and_then(|s| s.canonical());
        let mm2 = surface.map(|s| Interval {
            lo: s.lo * 1e6,
            hi: s.hi * 1e6,
        });
        let lies = lies_in(&area.defects[0], &shapes, mm2);
        let names = |list: &[usize]| list.iter().map(|&i| shapes[i].name.clone()).collect();
        (names(&lies.sure), names(&lies.maybe))
    }

    #[test]
    fn a_defect_lies_where_its_place_and_size_reach() {
        let lies = |d: &str| {
            let (sure, maybe) = four(d);
            (sure.join(" "), maybe.join(" "))
        };
        let is = |sure: &str, maybe: &str| (sure.to_owned(), maybe.to_owned());
        assert_eq!(lies("kind: crack, panels: [C1]"), is("C1", ""));
        // Nothing said of its place: any of them.
        assert_eq!(lies("kind: crack"), is("", "A1 B1 C1 D1"));
        // From the middle of A1 to the middle of C1.
        assert_eq!(
            lies("kind: crack, at: [2.5 ft, 2 ft], to: [12.5 ft, 3 ft]"),
            is("A1 B1 C1", "")
        );
        // It starts in A1 and is 4 ft long: B1 is 2-1/2 ft away, C1 7-1/2 ft.
        assert_eq!(
            lies("kind: crack, at: [2.5 ft, 2 ft], length: 4 ft"),
            is("A1", "B1")
        );
        // 8 ft wide round the middle of B1: from 3-1/2 to 11-1/2 ft.
        assert_eq!(
            lies("kind: scaling, at: [7.5 ft, 2.5 ft], extent: 8 ft x 2 ft"),
            is("A1 B1 C1", "")
        );
        // 28.27 ft2 in a round is 3 ft from its middle, half a foot over either joint of B1.
        assert_eq!(
            lies("kind: scaling, at: [7.5 ft, 2.5 ft], surface: 28.27 ft2"),
            is("B1", "A1 C1")
        );
        // Off the map.
        assert_eq!(lies("kind: scaling, at: [90 ft, 2 ft]").0, "");
    }
}
