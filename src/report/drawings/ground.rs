//! Where everything lies, in millimetres, y upward: the slab as the drawings need it.
//!
//! What the record does not place is laid out beside, and said to be.

use crate::record::geometry::{self, rectangle};
use crate::record::model::{Defect, DefectKind, Panels, Record};

pub use crate::record::geometry::{Point, middle, point, sides_of as by};

/// How sure the place and shape of an area are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Lie {
    /// Place and size recorded.
    Placed,
    /// Size recorded, place not: laid out beside, to scale.
    Beside,
    /// Neither recorded: a tile that only stands for it.
    Schematic,
}

/// An area with its place.
#[derive(Debug, Clone)]
pub struct AreaShape {
    /// Short name.
    pub id: String,
    /// What people call it.
    pub name: String,
    /// Corners in order.
    pub outline: Vec<Point>,
    /// How sure that is.
    pub lie: Lie,
    /// Least and greatest corner.
    pub box_: (Point, Point),
    /// Joints between panels: x of the upright ones, y of the level ones.
    pub grid: (Vec<f64>, Vec<f64>),
    /// Panels with name and rectangle.
    pub panels: Vec<(String, (Point, Point))>,
    /// How far it was moved from the recorded place.
    shift: Point,
}

impl AreaShape {
    /// Whether a point lies inside the outline (even-odd rule).
    pub fn holds(&self, p: Point) -> bool {
        geometry::holds(&self.outline, p, 0.0)
    }
}

/// What a defect covers.
#[derive(Debug, Clone, PartialEq)]
pub enum Reach {
    /// A rectangle of the recorded size round its middle.
    Patch(Point, Point),
    /// A disc as large as the recorded surface; its shape is not recorded.
    Disc(Point, f64),
    /// A line from start to end.
    Line(Point, Point),
    /// A place without a size.
    Spot(Point),
    /// Somewhere in the area or panel; the point is only where the number stands.
    Somewhere(Point),
}

/// A defect with its place.
#[derive(Debug, Clone)]
pub struct DefectShape {
    /// Number.
    pub number: u32,
    /// Kind.
    pub kind: DefectKind,
    /// Index of its area.
    pub area: usize,
    /// What it covers.
    pub reach: Reach,
}

/// The whole slab with its places.
#[derive(Debug, Clone, Default)]
pub struct Ground {
    /// Areas in record order.
    pub areas: Vec<AreaShape>,
    /// Defects in record order.
    pub defects: Vec<DefectShape>,
    /// Hollow patches found by sounding: least and greatest corner.
    pub hollow: Vec<(Point, Point)>,
}

/// Side of a tile that stands for an area without a size, mm.
const TILE: f64 = 3000.0;

impl Ground {
    /// Reads the places out of a record.
    pub fn of(record: &Record) -> Ground {
        let mut ground = Ground::default();
        let mut waiting: Vec<(usize, f64, f64, Lie)> = Vec::new();
        let places = geometry::places(record);
        // With nothing placed, the first sized area is drawn at the corner.
        let mut first_free = places.iter().all(Option::is_none);
        for ((index, area), place) in record.areas.iter().enumerate().zip(places) {
            let size = area.size.as_ref().and_then(by);
            let (corners, lie) = match (place, size) {
                (Some(corners), _) => (corners, Lie::Placed),
                (None, Some((w, h))) if first_free => {
                    first_free = false;
                    (rectangle((0.0, 0.0), w, h), Lie::Placed)
                }
                (None, Some((w, h))) => {
                    waiting.push((index, w, h, Lie::Beside));
                    (Vec::new(), Lie::Beside)
                }
                (None, None) => {
                    let side = area
                        .surface
                        .as_ref()
                        .and_then(middle)
                        .filter(|m2| *m2 > 0.0)
                        .map_or(TILE, |m2| m2.sqrt() * 1000.0);
                    waiting.push((index, side, side, Lie::Schematic));
                    (Vec::new(), Lie::Schematic)
                }
            };
            ground.areas.push(AreaShape {
                id: area.id.clone(),
                name: area.name.clone(),
                box_: bounds(&corners),
                outline: corners,
                lie,
                grid: (Vec::new(), Vec::new()),
                panels: Vec::new(),
                shift: (0.0, 0.0),
            });
        }
        lay_beside(&mut ground.areas, &waiting);
        for (area, shape) in record.areas.iter().zip(&mut ground.areas) {
            if let Some(panels) = &area.panels {
                fill_grid(shape, panels);
            }
        }
        for (index, area) in record.areas.iter().enumerate() {
            let Some(shape) = ground.areas.get(index) else {
                continue;
            };
            for defect in &area.defects {
                let reach = reach(shape, defect);
                ground.defects.push(DefectShape {
                    number: defect.id,
                    kind: defect.kind,
                    area: index,
                    reach,
                });
            }
            if let Some(sounding) = &area.tests.sounding {
                for patch in &sounding.patches {
                    if let (Some(at), Some((w, h))) = (point(&patch.at), by(&patch.extent)) {
                        let at = (at.0 + shape.shift.0, at.1 + shape.shift.1);
                        ground.hollow.push(geometry::around(at, w, h));
                    }
                }
            }
        }
        ground
    }

    /// Least and greatest corner of all areas.
    pub fn bounds(&self) -> (Point, Point) {
        let all: Vec<Point> = self
            .areas
            .iter()
            .flat_map(|a| a.outline.iter().copied())
            .collect();
        bounds(&all)
    }

    /// An area by its short name.
    pub fn area(&self, id: &str) -> Option<&AreaShape> {
        self.areas.iter().find(|a| a.id == id)
    }
}

fn bounds(points: &[Point]) -> (Point, Point) {
    let nothing = (
        (f64::INFINITY, f64::INFINITY),
        (f64::NEG_INFINITY, f64::NEG_INFINITY),
    );
    geometry::bounds(points).unwrap_or(nothing)
}

/// Columns of tiles to the right of what is placed, each no higher than it.
fn lay_beside(areas: &mut [AreaShape], waiting: &[(usize, f64, f64, Lie)]) {
    let placed: Vec<Point> = areas
        .iter()
        .flat_map(|a| a.outline.iter().copied())
        .collect();
    let ((_, y0), (x1, y1)) = if placed.is_empty() {
        ((0.0, 0.0), (0.0, 0.0))
    } else {
        bounds(&placed)
    };
    // A tile that stands for an unknown size must not dwarf what is known.
    let widest = waiting
        .iter()
        .filter(|w| w.3 == Lie::Beside)
        .map(|w| w.1.max(w.2))
        .fold(f64::max(x1, y1 - y0), f64::max);
    let known = !placed.is_empty() || waiting.iter().any(|w| w.3 == Lie::Beside);
    let height = if placed.is_empty() { 0.0 } else { y1 - y0 };
    let gap = if placed.is_empty() {
        0.0
    } else {
        ((y1 - y0).max(x1) * 0.08).max(300.0)
    };
    let mut at = (x1 + gap, y0);
    let mut column = 0.0_f64;
    let between = gap.max(TILE * 0.2);
    for (index, w, h, lie) in waiting.iter().copied() {
        let cap = if known && lie == Lie::Schematic {
            (widest / 3.0).max(600.0)
        } else {
            f64::INFINITY
        };
        let (w, h) = (w.min(cap), h.min(cap));
        if at.1 > y0 && at.1 + h > y0 + height {
            at = (at.0 + column + between, y0);
            column = 0.0;
        }
        if let Some(shape) = areas.get_mut(index) {
            shape.outline = rectangle(at, w, h);
            shape.box_ = bounds(&shape.outline);
            shape.shift = at;
        }
        column = column.max(w);
        at.1 += h + between;
    }
}

fn fill_grid(shape: &mut AreaShape, panels: &Panels) {
    let widths: Vec<f64> = panels.columns.iter().filter_map(middle).collect();
    let heights: Vec<f64> = panels.rows.iter().filter_map(middle).collect();
    if widths.len() != panels.columns.len() || heights.len() != panels.rows.len() {
        return;
    }
    let ((x0, y0), (x1, y1)) = shape.box_;
    // On a tile of no true size the grid is fitted to the tile.
    let fit = |parts: &[f64], room: f64| {
        let sum: f64 = parts.iter().sum();
        if shape.lie == Lie::Schematic && sum > 0.0 {
            room / sum
        } else {
            1.0
        }
    };
    let (fx, fy) = (fit(&widths, x1 - x0), fit(&heights, y1 - y0));
    let edges = |parts: &[f64], from: f64, f: f64| {
        let mut at = from;
        parts
            .iter()
            .map(|p| {
                let edge = (at, at + p * f);
                at = edge.1;
                edge
            })
            .collect::<Vec<_>>()
    };
    let (columns, rows) = (edges(&widths, x0, fx), edges(&heights, y0, fy));
    shape.grid = (
        columns.iter().skip(1).map(|c| c.0).collect(),
        rows.iter().skip(1).map(|r| r.0).collect(),
    );
    for (j, row) in rows.iter().enumerate() {
        for (i, column) in columns.iter().enumerate() {
            shape.panels.push((
                geometry::panel_name(i, j),
                ((column.0, row.0), (column.1, row.1)),
            ));
        }
    }
}

fn reach(shape: &AreaShape, defect: &Defect) -> Reach {
    let shifted = |p: Point| (p.0 + shape.shift.0, p.1 + shape.shift.1);
    let at = defect.at.as_ref().and_then(point).map(shifted);
    // A place recorded in an area that has none itself means nothing on a tile of no true size.
    let at = at.filter(|_| shape.lie != Lie::Schematic);
    let to = defect.to.as_ref().and_then(point).map(shifted);
    let extent = defect.extent.as_ref().and_then(by);
    let surface = defect
        .surface
        .as_ref()
        .and_then(middle)
        .filter(|m2| *m2 > 0.0);
    let panel = defect.panels.iter().find_map(|name| {
        shape
            .panels
            .iter()
            .find(|(n, _)| n == name)
            .map(|(_, r)| *r)
    });
    let here = at.or_else(|| panel.map(|(lo, hi)| ((lo.0 + hi.0) / 2.0, (lo.1 + hi.1) / 2.0)));
    match (at, to, here) {
        (Some(a), Some(b), _) => Reach::Line(a, b),
        (_, _, Some(c)) => match (extent, surface) {
            (Some((w, h)), _) => {
                let (low, high) = geometry::around(c, w, h);
                Reach::Patch(low, high)
            }
            (None, Some(m2)) => Reach::Disc(c, (m2 / std::f64::consts::PI).sqrt() * 1000.0),
            (None, None) if at.is_some() => Reach::Spot(c),
            (None, None) => Reach::Somewhere(c),
        },
        (_, _, None) => {
            let (lo, hi) = shape.box_;
            Reach::Somewhere(((lo.0 + hi.0) / 2.0, (lo.1 + hi.1) / 2.0))
        }
    }
}
