//! Shapes on the slab map: rectangles and outlines, in millimetres from the slab's lower left.

use crate::facts::Interval;
use crate::record::model::{AreaRecord, Panels};
use crate::units::{Length, Measured, Size};

/// A point on the slab map, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// To the right.
    pub x: f64,
    /// Upward on the map.
    pub y: f64,
}

/// A rectangle on the slab map, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rect {
    /// Lower left corner.
    pub min: Point,
    /// Upper right corner.
    pub max: Point,
}

impl Rect {
    /// Whether a point lies in it or on its edge.
    pub fn contains(self, p: Point) -> bool {
        self.min.x <= p.x && p.x <= self.max.x && self.min.y <= p.y && p.y <= self.max.y
    }

    /// The middle.
    pub fn centre(self) -> Point {
        Point {
            x: f64::midpoint(self.min.x, self.max.x),
            y: f64::midpoint(self.min.y, self.max.y),
        }
    }

    /// To the right, mm.
    pub fn width(self) -> f64 {
        self.max.x - self.min.x
    }

    /// Upward, mm.
    pub fn height(self) -> f64 {
        self.max.y - self.min.y
    }
}

/// The middle of a measured length, mm; `None` when it is unknown.
pub fn middle_mm(length: &Measured<Length>) -> Option<f64> {
    length.canonical().map(|i| f64::midpoint(i.lo, i.hi))
}

/// A point from two measured lengths.
pub fn point(xy: &[Measured<Length>; 2]) -> Option<Point> {
    Some(Point {
        x: middle_mm(&xy[0])?,
        y: middle_mm(&xy[1])?,
    })
}

/// A size as two ranges, mm: across, then upward.
pub fn size(size: &Size) -> Option<(Interval, Interval)> {
    Some((size.width.canonical()?, size.length.canonical()?))
}

/// Product of two ranges of numbers that are not negative.
pub fn times(a: Interval, b: Interval) -> Interval {
    let corners = [a.lo * b.lo, a.lo * b.hi, a.hi * b.lo, a.hi * b.hi];
    Interval {
        lo: corners.into_iter().fold(f64::INFINITY, f64::min),
        hi: corners.into_iter().fold(f64::NEG_INFINITY, f64::max),
    }
}

/// Corners of an area on the map: its outline, or the rectangle of its size at its origin.
pub fn corners(area: &AreaRecord) -> Option<Vec<Point>> {
    if area.outline.len() >= 3 {
        return area.outline.iter().map(point).collect();
    }
    let (w, h) = size(area.size.as_ref()?)?;
    let min = match &area.origin {
        Some(origin) => point(origin)?,
        None => return None,
    };
    let (w, h) = (f64::midpoint(w.lo, w.hi), f64::midpoint(h.lo, h.hi));
    Some(vec![
        min,
        Point {
            x: min.x + w,
            y: min.y,
        },
        Point {
            x: min.x + w,
            y: min.y + h,
        },
        Point {
            x: min.x,
            y: min.y + h,
        },
    ])
}

/// Surface of a closed outline by the shoelace formula, mm². Corner ranges count by their middle.
pub fn polygon_surface(corners: &[Point]) -> f64 {
    let n = corners.len();
    let twice: f64 = (0..n)
        .map(|i| {
            let (a, b) = (corners[i], corners[(i + 1) % n]);
            a.x * b.y - b.x * a.y
        })
        .sum();
    twice.abs() / 2.0
}

/// Smallest upright rectangle around some points.
pub fn bounds(points: &[Point]) -> Option<Rect> {
    let first = *points.first()?;
    Some(points.iter().fold(
        Rect {
            min: first,
            max: first,
        },
        |r, p| Rect {
            min: Point {
                x: r.min.x.min(p.x),
                y: r.min.y.min(p.y),
            },
            max: Point {
                x: r.max.x.max(p.x),
                y: r.max.y.max(p.y),
            },
        },
    ))
}

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
    pub rect: Option<Rect>,
}

/// Letters of a column: A … Z, AA, AB …
pub fn column_letters(mut index: usize) -> String {
    let mut letters = Vec::new();
    loop {
        letters.push(b'A' + (index % 26) as u8);
        match (index / 26).checked_sub(1) {
            Some(next) => index = next,
            None => break,
        }
    }
    letters.iter().rev().map(|&b| char::from(b)).collect()
}

/// Every panel of a grid, column by column within rows from the bottom.
pub fn panels(area: &AreaRecord) -> Vec<PanelShape> {
    let Some(Panels { columns, rows, .. }) = &area.panels else {
        return Vec::new();
    };
    let origin = area
        .origin
        .as_ref()
        .and_then(point)
        .or_else(|| corners(area).as_deref().and_then(bounds).map(|b| b.min));
    let edge = |list: &[Measured<Length>]| -> Option<Vec<f64>> {
        let mut at = 0.0;
        let mut out = vec![0.0];
        for length in list {
            at += middle_mm(length)?;
            out.push(at);
        }
        Some(out)
    };
    let (xs, ys) = (edge(columns), edge(rows));
    let unknown = Interval {
        lo: 0.0,
        hi: f64::INFINITY,
    };
    let mut out = Vec::with_capacity(columns.len() * rows.len());
    for (r, height) in rows.iter().enumerate() {
        for (c, width) in columns.iter().enumerate() {
            let rect = match (&xs, &ys, origin) {
                (Some(xs), Some(ys), Some(o)) => Some(Rect {
                    min: Point {
                        x: o.x + xs[c],
                        y: o.y + ys[r],
                    },
                    max: Point {
                        x: o.x + xs[c + 1],
                        y: o.y + ys[r + 1],
                    },
                }),
                _ => None,
            };
            out.push(PanelShape {
                name: format!("{}{}", column_letters(c), r + 1),
                width: width.canonical().unwrap_or(unknown),
                height: height.canonical().unwrap_or(unknown),
                rect,
            });
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_count_past_z() {
        assert_eq!(column_letters(0), "A");
        assert_eq!(column_letters(25), "Z");
        assert_eq!(column_letters(26), "AA");
        assert_eq!(column_letters(701), "ZZ");
        assert_eq!(column_letters(702), "AAA");
    }

    #[test]
    fn the_shoelace_gives_the_surface_of_an_l() {
        // 4 x 4 with a 2 x 2 corner missing: 12, by hand.
        let p = |x, y| Point { x, y };
        let l = [
            p(0.0, 0.0),
            p(4.0, 0.0),
            p(4.0, 2.0),
            p(2.0, 2.0),
            p(2.0, 4.0),
            p(0.0, 4.0),
        ];
        assert_eq!(polygon_surface(&l), 12.0);
    }
}
