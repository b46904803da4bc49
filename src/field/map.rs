//! The slab's map: outlines, panels, defects and sounding grids in mm, and lengths typed for sides.

use serde_json::{Value, json};

use super::text;
use crate::record::geometry::{self, Bounds, Point};
use crate::record::model::{AreaRecord, Record};
use crate::survey::panels;
use crate::units::{Interval, Kind, System, canonical};

/// Steps of the map's grid, mm: 1, 3 and 6 in, 1, 2, 5 and 10 ft; 2, 5 and 10 cm and so on.
const STEPS: [&[f64]; 2] = [
    &[25.4, 76.2, 152.4, 304.8, 609.6, 1524.0, 3048.0],
    &[20.0, 50.0, 100.0, 250.0, 500.0, 1000.0, 2500.0, 5000.0],
];

/// Most steps across a map that a finger can tell apart.
const ACROSS: f64 = 26.0;

fn step(span: f64, system: System) -> f64 {
    let steps = match system {
        System::Us => STEPS[0],
        System::Metric => STEPS[1],
    };
    let enough = steps.iter().copied().find(|s| span / s <= ACROSS);
    enough.or(steps.last().copied()).unwrap_or(1000.0)
}

/// The step of a grid over so many mm.
pub(super) fn scale(q: &Value) -> Result<Value, String> {
    let span = q.get("span").and_then(Value::as_f64).unwrap_or_default();
    let step = step(span, super::units(q));
    let words = Kind::Length.write(Interval::exact(step), super::units(q));
    Ok(json!({"step": step, "says": words}))
}

/// What a new sheet and a new sounding grid begin with, until the person says otherwise.
pub(super) fn starts() -> Value {
    json!({
        "us": {"sheet": "40 ft", "tap": "2 ft", "width": "12 ft", "length": "30 ft"},
        "metric": {"sheet": "12 m", "tap": "500 mm", "width": "4 m", "length": "9 m"},
    })
}

fn pair(p: Point) -> Value {
    json!([canonical(p.0), canonical(p.1)])
}

fn rect((low, high): Bounds) -> Value {
    json!([low.0, low.1, high.0, high.1].map(canonical))
}

/// What of a record has a place, in mm, rightward and upward.
pub(super) fn of(record: &Record) -> Value {
    let places = geometry::places(record);
    let units = record.job.units;
    let mut bounds: Option<Bounds> = None;
    let mut areas = Vec::new();
    for (i, area) in record.areas.iter().enumerate() {
        let corners = places.get(i).and_then(Option::as_deref);
        if let Some(own) = corners.and_then(geometry::bounds) {
            bounds = Some(bounds.map_or(own, |b| geometry::hull(b, own)));
        }
        let panels: Vec<Value> = panels::panels(area, corners)
            .into_iter()
            .map(|p| json!({"name": p.name, "place": p.place.map(rect)}))
            .collect();
        areas.push(json!({
            "id": area.id,
            "corners": corners.map(|c| c.iter().copied().map(pair).collect::<Vec<_>>()),
            "outlined": area.outline.len() >= 3,
            "panels": panels,
            "surface": surface(corners, units),
            "defects": defects(area),
        }));
    }
    let span = bounds.map_or(10_000.0, |(low, high)| (high.0 - low.0).max(high.1 - low.1));
    json!({
        "areas": areas,
        "bounds": bounds.map(rect),
        "step": step(span, units),
    })
}

fn surface(corners: Option<&[Point]>, units: System) -> Option<String> {
    let m2 = geometry::surface(corners?) / 1e6;
    Some(Kind::Area.write(Interval::exact(canonical(m2)), units))
}

fn defects(area: &AreaRecord) -> Vec<Value> {
    area.defects
        .iter()
        .map(|d| {
            let at = d.at.as_ref().and_then(geometry::point);
            let size = d.extent.as_ref().and_then(geometry::sides_of);
            json!({
                "id": d.id,
                "at": at.map(pair),
                "to": d.to.as_ref().and_then(geometry::point).map(pair),
                "box": at.zip(size).map(|(p, (w, h))| rect(geometry::around(p, w, h))),
            })
        })
        .collect()
}

/// Most corners of an outline that are worked on.
const CORNERS: usize = 200;

/// Points of the question.
fn points(q: &Value, key: &str) -> Vec<Point> {
    q.get(key)
        .and_then(Value::as_array)
        .into_iter()
        .flatten()
        .filter_map(|p| Some((p.get(0)?.as_f64()?, p.get(1)?.as_f64()?)))
        .take(CORNERS)
        .collect()
}

/// A typed length of the question, mm, or what to say of it.
fn length(q: &Value, key: &str) -> Result<Result<f64, Value>, String> {
    Ok(match Kind::Length.read(text(q, key)?) {
        Ok(typed) => Ok(f64::midpoint(typed.lo, typed.hi)),
        Err(error) => Err(super::measure::wrong(error)),
    })
}

/// An outline with one side given a typed length: everything beyond the side's far end moves along
/// with it, so that right angles stay right. Side `n` runs from corner `n` to the next.
pub(super) fn corner(q: &Value) -> Result<Value, String> {
    let outline: Vec<Point> = points(q, "outline");
    let side = q
        .get("side")
        .and_then(Value::as_u64)
        .map_or(usize::MAX, |n| usize::try_from(n).unwrap_or(usize::MAX));
    let (Some(&a), Some(&b)) = (
        outline.get(side),
        outline.get(side.wrapping_add(1)).or(outline.first()),
    ) else {
        return Err("there is no such side".to_owned());
    };
    let typed = match length(q, "text")? {
        Ok(typed) => typed,
        Err(said) => return Ok(said),
    };
    let was = (b.0 - a.0).hypot(b.1 - a.1);
    if was <= 0.0 || typed <= 0.0 {
        return Err("a side is longer than nothing".to_owned());
    }
    let (ux, uy) = ((b.0 - a.0) / was, (b.1 - a.1) / was);
    let along = |p: Point| p.0 * ux + p.1 * uy;
    let (far, more) = (along(b), typed - was);
    let moved: Vec<Value> = outline
        .iter()
        .map(|&p| {
            // Half a millimetre forgives what rounding does to a right angle.
            let by = if along(p) >= far - 0.5 { more } else { 0.0 };
            json!([canonical(p.0 + by * ux), canonical(p.1 + by * uy)])
        })
        .collect();
    Ok(json!({"outline": moved}))
}

/// Most spots of a sounding grid.
const SPOTS: usize = 1500;

/// The spots of a sounding grid laid over an area, from its lower left, row by row upward.
pub(super) fn taps(q: &Value) -> Result<Value, String> {
    let corners: Vec<Point> = points(q, "corners");
    let Some((low, high)) = geometry::bounds(&corners) else {
        return Err("draw the area first: a grid needs its outline".to_owned());
    };
    let step = match length(q, "step")? {
        Ok(step) => step,
        Err(said) => return Ok(said),
    };
    // What rounding takes off a whole number of steps is given back.
    let count = |span: f64| (span / step + 1e-6).floor().max(1.0);
    let (columns, rows) = (count(high.0 - low.0), count(high.1 - low.1));
    if !(step > 0.0 && columns * rows <= SPOTS as f64) {
        return Err(format!("more than {SPOTS} taps: choose a wider step"));
    }
    // The grid stands in the middle of the area, half what is left over at each edge.
    let rest = |span: f64, n: f64| (span - (n - 1.0) * step) / 2.0;
    let (dx, dy) = (rest(high.0 - low.0, columns), rest(high.1 - low.1, rows));
    let mut spots = Vec::new();
    for r in 0..rows as u32 {
        for c in 0..columns as u32 {
            let p = (
                canonical(low.0 + dx + f64::from(c) * step),
                canonical(low.1 + dy + f64::from(r) * step),
            );
            if geometry::holds(&corners, p, 0.0) {
                spots.push(
                    json!({"at": pair(p), "name": geometry::panel_name(c as usize, r as usize)}),
                );
            }
        }
    }
    Ok(json!({"spots": spots, "step": step, "columns": columns, "rows": rows}))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_typed_side_moves_all_that_lies_beyond_it() {
        // A square of 4 m whose lower side becomes 5 m: both right corners move.
        let q = json!({"outline": [[0, 0], [4000, 0], [4000, 4000], [0, 4000]], "side": 0, "text": "5 m"});
        let out = corner(&q).unwrap();
        assert_eq!(
            out["outline"],
            json!([[0.0, 0.0], [5000.0, 0.0], [5000.0, 4000.0], [0.0, 4000.0]])
        );
        let bad = json!({"outline": [[0, 0], [0, 0]], "side": 0, "text": "5 m"});
        assert!(corner(&bad).is_err());
        assert!(corner(&json!({"outline": [], "side": 3, "text": "5 m"})).is_err());
    }

    #[test]
    fn a_grid_fills_the_area_and_stays_inside() {
        // 12 ft by 8 ft at 2 ft: 6 by 4 taps, the first 1 ft in from both edges.
        let ft = 304.8;
        let q = json!({"corners": [[0, 0], [12.0 * ft, 0], [12.0 * ft, 8.0 * ft], [0, 8.0 * ft]], "step": "2 ft"});
        let out = taps(&q).unwrap();
        let spots = out["spots"].as_array().unwrap();
        assert_eq!(spots.len(), 24);
        assert_eq!(spots[0]["at"], json!([ft, ft]));
        assert_eq!(spots[23]["name"], "F4");
        // Nine whole steps stay nine, whatever rounding does to 18 ft.
        let long = json!({"corners": [[0, 0], [12.0 * ft, 0], [12.0 * ft, 18.0 * ft], [0, 18.0 * ft]], "step": "2 ft"});
        assert_eq!(taps(&long).unwrap()["spots"].as_array().unwrap().len(), 54);
        // An L: its upper right quarter of 3 by 2 taps is missing.
        let l = json!({"corners": [[0, 0], [12.0 * ft, 0], [12.0 * ft, 4.0 * ft], [6.0 * ft, 4.0 * ft], [6.0 * ft, 8.0 * ft], [0, 8.0 * ft]], "step": "2 ft"});
        assert_eq!(taps(&l).unwrap()["spots"].as_array().unwrap().len(), 18);
        let tiny = json!({"corners": [[0, 0], [1e6, 0], [1e6, 1e6]], "step": "1 mm"});
        assert!(taps(&tiny).is_err());
    }

    #[test]
    fn a_map_has_no_more_steps_than_a_finger_can_tell_apart() {
        assert_eq!(step(12.0 * 304.8, System::Us), 152.4);
        assert_eq!(step(9_000.0, System::Metric), 500.0);
        assert_eq!(step(1e9, System::Us), 3048.0);
    }
}
