//! Plane geometry of the slab map: points and outlines out of a record, and the names of panels.

use crate::record::model::{AreaRecord, Record};
use crate::units::{Length, Measured, Notation, Size};
use geo::kernels::{Kernel as _, Orientation, RobustKernel};
use geo::line_intersection::{LineIntersection, line_intersection};
use geo::{
    Area as _, BoundingRect as _, Distance as _, Euclidean, Intersects as _, Line, LineString,
    Polygon, Rect,
};

/// A point on the slab map, in mm: to the right, upward.
pub type Point = (f64, f64);

/// Lower left and upper right corner of an upright rectangle.
pub type Bounds = (Point, Point);

/// Middle of a measure in its canonical unit; `None` when it is unknown or has no middle.
pub fn middle<T: Notation>(measured: &Measured<T>) -> Option<f64> {
    let i = measured.canonical()?;
    let m = f64::midpoint(i.lo, i.hi);
    m.is_finite().then_some(m)
}

/// A point of the record; ranges count by their middle.
pub fn point(at: &[Measured<Length>; 2]) -> Option<Point> {
    Some((middle(&at[0])?, middle(&at[1])?))
}

/// Width and length of a size, mm; `None` where one has no middle. Neither is ever nothing: a
/// [`Size`] is read with sides above zero alone.
pub fn sides_of(size: &Size) -> Option<(f64, f64)> {
    Some((middle(&size.width)?, middle(&size.length)?))
}

/// Corners of an upright rectangle, from the lower left.
pub fn rectangle(at: Point, width: f64, height: f64) -> Vec<Point> {
    vec![
        at,
        (at.0 + width, at.1),
        (at.0 + width, at.1 + height),
        (at.0, at.1 + height),
    ]
}

/// Upright rectangle round a middle.
pub fn around(centre: Point, width: f64, height: f64) -> Bounds {
    (
        (centre.0 - width / 2.0, centre.1 - height / 2.0),
        (centre.0 + width / 2.0, centre.1 + height / 2.0),
    )
}

/// Corners of an area as recorded: its outline, or the rectangle of its size at its origin.
/// `None` where the record gives no place.
pub fn corners(area: &AreaRecord) -> Option<Vec<Point>> {
    let outline: Option<Vec<Point>> = area.outline.iter().map(point).collect();
    if let Some(outline) = outline.filter(|o| o.len() >= 3)
        && let Some((low, high)) = bounds(&outline)
        && high.0 > low.0
        && high.1 > low.1
    {
        return Some(outline);
    }
    let (w, h) = sides_of(area.size.as_ref()?)?;
    Some(rectangle(point(area.origin.as_ref()?)?, w, h))
}

/// Corners of every area that has a place on the map, in record order. An area that is the only one
/// and gives no place stands at the corner of the map.
pub fn places(record: &Record) -> Vec<Option<Vec<Point>>> {
    if let [only] = record.areas.as_slice() {
        let at_corner = || {
            let (w, h) = sides_of(only.size.as_ref()?)?;
            Some(rectangle((0.0, 0.0), w, h))
        };
        return vec![corners(only).or_else(at_corner)];
    }
    record.areas.iter().map(corners).collect()
}

/// Whether a point lies in a rectangle or on its edge.
pub fn inside((low, high): Bounds, p: Point) -> bool {
    low.0 <= p.0 && p.0 <= high.0 && low.1 <= p.1 && p.1 <= high.1
}

/// Whether two rectangles share more than an edge.
pub fn overlap(a: Bounds, b: Bounds) -> bool {
    let meets = |a: (f64, f64), b: (f64, f64)| a.0 < b.1 && b.0 < a.1;
    meets((a.0.0, a.1.0), (b.0.0, b.1.0)) && meets((a.0.1, a.1.1), (b.0.1, b.1.1))
}

/// From a rectangle to a point; zero inside.
pub fn gap_to((low, high): Bounds, p: Point) -> f64 {
    let out = |lo: f64, hi: f64, x: f64| (lo - x).max(x - hi).max(0.0);
    out(low.0, high.0, p.0).hypot(out(low.1, high.1, p.1))
}

/// Free distance between two rectangles; zero where they touch.
pub fn gap_between(a: Bounds, b: Bounds) -> f64 {
    let out = |a: (f64, f64), b: (f64, f64)| (b.0 - a.1).max(a.0 - b.1).max(0.0);
    out((a.0.0, a.1.0), (b.0.0, b.1.0)).hypot(out((a.0.1, a.1.1), (b.0.1, b.1.1)))
}

/// Smallest rectangle that holds both.
pub fn hull(a: Bounds, b: Bounds) -> Bounds {
    (
        (a.0.0.min(b.0.0), a.0.1.min(b.0.1)),
        (a.1.0.max(b.1.0), a.1.1.max(b.1.1)),
    )
}

/// Whether a straight line from one point to another touches a rectangle.
pub fn crosses((low, high): Bounds, from: Point, to: Point) -> bool {
    Rect::new(low, high).intersects(&Line::new(from, to))
}

/// Surface of a polygon, in the square of the points' unit.
pub fn surface(corners: &[Point]) -> f64 {
    polygon(corners).unsigned_area()
}

fn polygon(corners: &[Point]) -> Polygon {
    Polygon::new(LineString::from(corners.to_vec()), Vec::new())
}

/// Lower left and upper right of the smallest upright rectangle around the points.
pub fn bounds(corners: &[Point]) -> Option<Bounds> {
    let held = LineString::from(corners.to_vec()).bounding_rect()?;
    Some((held.min().x_y(), held.max().x_y()))
}

/// The numbers, from 0, of two sides of a polygon that cross or touch where they should not.
pub fn crossing(corners: &[Point]) -> Option<(usize, usize)> {
    let next = corners.iter().cycle().skip(1);
    let sides: Vec<Line> = corners
        .iter()
        .zip(next)
        .map(|(a, b)| Line::new(*a, *b))
        .collect();
    let wrong = |i: usize, j: usize| match line_intersection(sides[i], sides[j])? {
        // Neighbours share a corner, and more only where one runs back along the other.
        LineIntersection::SinglePoint { .. } if j == i + 1 || (i == 0 && j + 1 == sides.len()) => {
            None
        }
        LineIntersection::SinglePoint { .. } | LineIntersection::Collinear { .. } => Some((i, j)),
    };
    (0..sides.len()).find_map(|i| (i + 1..sides.len()).find_map(|j| wrong(i, j)))
}

/// Whether all corners lie on one line.
pub fn on_one_line(corners: &[Point]) -> bool {
    let [first, rest @ ..] = corners else {
        return true;
    };
    let Some(far) = rest.iter().find(|p| *p != first) else {
        return true;
    };
    let turn = |p: &Point| RobustKernel::orient2d((*first).into(), (*far).into(), (*p).into());
    rest.iter().all(|p| turn(p) == Orientation::Collinear)
}

/// Whether a point lies in a polygon, or within `slack` outside it.
pub fn holds(corners: &[Point], p: Point, slack: f64) -> bool {
    Euclidean.distance(&geo::Point::from(p), &polygon(corners)) <= slack
}

/// Name of a panel from its column and row, both from 0: `A1`, `B1` … `Z1`, `AA1`.
///
/// ```
/// use ringtrue::record::geometry::{panel_at, panel_name};
/// assert_eq!(panel_name(1, 2), "B3");
/// assert_eq!(panel_name(26, 0), "AA1");
/// assert_eq!(panel_at("AA1"), Some((26, 0)));
/// assert_eq!(panel_at("3B"), None);
/// ```
pub fn panel_name(column: usize, row: usize) -> String {
    let mut letters = Vec::new();
    let mut rest = column + 1;
    while rest > 0 {
        // 0 to 25, so it fits a byte.
        letters.push(char::from(b'A' + ((rest - 1) % 26) as u8));
        rest = (rest - 1) / 26;
    }
    letters.iter().rev().collect::<String>() + &(row + 1).to_string()
}

/// Column and row, both from 0, of a panel's name.
pub fn panel_at(name: &str) -> Option<(usize, usize)> {
    let split = name.find(|c: char| !c.is_ascii_uppercase())?;
    let (letters, digits) = name.split_at(split);
    if letters.is_empty()
        || letters.len() > 3
        || digits.len() > 6
        || digits.starts_with('0')
        || !digits.bytes().all(|b| b.is_ascii_digit())
    {
        return None;
    }
    let column = letters
        .bytes()
        .fold(0, |sum, b| sum * 26 + usize::from(b - b'A') + 1);
    Some((
        column.checked_sub(1)?,
        digits.parse::<usize>().ok()?.checked_sub(1)?,
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    const SQUARE: [Point; 4] = [(0.0, 0.0), (4.0, 0.0), (4.0, 4.0), (0.0, 4.0)];

    #[test]
    fn surfaces_are_those_of_school_geometry() {
        assert_eq!(surface(&SQUARE), 16.0);
        // An L: 4 × 4 less its upper right quarter of 2 × 2.
        let l = [
            (0.0, 0.0),
            (4.0, 0.0),
            (4.0, 2.0),
            (2.0, 2.0),
            (2.0, 4.0),
            (0.0, 4.0),
        ];
        assert_eq!(surface(&l), 12.0);
        assert_eq!(crossing(&l), None);
        assert!(
            holds(&l, (1.0, 3.0), 0.0) && !holds(&l, (3.0, 3.0), 0.5) && holds(&l, (3.0, 2.2), 0.5)
        );
    }

    #[test]
    fn crossing_sides_are_found() {
        let bow_tie = [(0.0, 0.0), (4.0, 4.0), (4.0, 0.0), (0.0, 4.0)];
        assert_eq!(crossing(&bow_tie), Some((0, 2)));
        assert_eq!(crossing(&SQUARE), None);
        let there_and_back = [(0.0, 0.0), (4.0, 0.0), (2.0, 0.0), (2.0, 4.0)];
        assert!(crossing(&there_and_back).is_some());
    }

    #[test]
    fn lines_and_patches_meet_rectangles_as_drawn() {
        let square = ((0.0, 0.0), (4.0, 4.0));
        // Straight through, ending inside, along an edge, and past a corner.
        assert!(crosses(square, (-1.0, 2.0), (5.0, 2.0)));
        assert!(crosses(square, (2.0, 9.0), (2.0, 3.0)));
        assert!(crosses(square, (4.0, 1.0), (4.0, 9.0)));
        assert!(!crosses(square, (3.0, 6.0), (6.0, 3.0)));
        assert!(!crosses(square, (5.0, 0.0), (5.0, 4.0)));
        // Neighbours that share an edge do not overlap.
        assert!(!overlap(square, ((4.0, 0.0), (8.0, 4.0))));
        assert!(overlap(square, around((4.0, 2.0), 1.0, 1.0)));
        // 3 across and 4 up from the corner: 5 by Pythagoras.
        assert_eq!(gap_to(square, (7.0, 8.0)), 5.0);
        assert_eq!(gap_between(square, ((7.0, 8.0), (9.0, 9.0))), 5.0);
        assert_eq!(gap_between(square, ((2.0, 2.0), (9.0, 9.0))), 0.0);
    }

    #[test]
    fn sizes_without_both_sides_place_nothing() {
        assert_eq!(
            sides_of(&"1 m x 500 mm".parse().unwrap()),
            Some((1000.0, 500.0))
        );
        let unknown = Size {
            width: Measured::Unknown,
            length: Measured::Unknown,
        };
        assert_eq!(sides_of(&unknown), None);
    }

    #[test]
    fn panel_names_go_there_and_back() {
        for column in 0..2000 {
            assert_eq!(panel_at(&panel_name(column, 7)), Some((column, 7)));
        }
    }
}
