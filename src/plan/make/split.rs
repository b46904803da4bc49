//! Splits an area that closes the only door into parts that keep the door reachable, along the
//! joints between its panels.

use std::collections::{BTreeMap, BTreeSet};

use crate::plan::inputs::{AreaInput, Inputs};
use crate::plan::model::{Boards, BoardsFrom, ShutWhy};
use crate::plan::programme::Way;
use crate::record::geometry::{Bounds, Point, gap_between};

/// Places nearer than this touch, mm: a joint, and what a tape is off.
const NEAR_MM: f64 = 50.0;

/// Figures on doors, mm.
#[derive(Debug, Clone, Copy)]
pub(super) struct DoorFigures {
    /// Width of a door.
    pub width: f64,
    /// Width beside it that a person needs to step out.
    pub step: f64,
    /// How far a walk board carries.
    pub span: f64,
}

/// An area or a part of it, as a place that is open or closed.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Part {
    /// Unique name: the area's for a whole area.
    pub id: String,
    /// Area it belongs to.
    pub area: String,
    /// Its panels; empty for the whole area.
    pub panels: Vec<String>,
    /// Share of the area's surface.
    pub share: f64,
    /// How it is reached.
    pub way: Way,
}

impl Part {
    fn whole(area: &AreaInput) -> Part {
        Part {
            id: area.id.clone(),
            area: area.id.clone(),
            panels: Vec::new(),
            share: 1.0,
            way: area.way.clone(),
        }
    }
}

/// How wide two upright rectangles lie side by side, mm; 0 where they do not touch or meet at a
/// corner only.
fn side_by_side(a: Bounds, b: Bounds) -> f64 {
    if gap_between(a, b) > NEAR_MM {
        return 0.0;
    }
    let shared = |a: (f64, f64), b: (f64, f64)| a.1.min(b.1) - a.0.max(b.0);
    let across = shared((a.0.0, a.1.0), (b.0.0, b.1.0));
    let up = shared((a.0.1, a.1.1), (b.0.1, b.1.1));
    across.max(up).max(0.0)
}

/// Whether one can step out of a door on to a panel: enough of its width lies along it.
fn opens_on(door: Point, panel: Bounds, doors: DoorFigures) -> bool {
    let half = doors.width / 2.0;
    // The wall may run either way.
    let wide = ((door.0 - half, door.1), (door.0 + half, door.1));
    let tall = ((door.0, door.1 - half), (door.0, door.1 + half));
    let on_side = |wall: Bounds| {
        let level = wall.0.1 == wall.1.1;
        let (near, along) = if level {
            (
                (wall.0.1 - panel.0.1)
                    .abs()
                    .min((wall.0.1 - panel.1.1).abs()),
                wall.1.0.min(panel.1.0) - wall.0.0.max(panel.0.0),
            )
        } else {
            (
                (wall.0.0 - panel.0.0)
                    .abs()
                    .min((wall.0.0 - panel.1.0).abs()),
                wall.1.1.min(panel.1.1) - wall.0.1.max(panel.0.1),
            )
        };
        near <= NEAR_MM && along >= doors.step - 1.0
    };
    on_side(wide) || on_side(tall)
}

/// A panel with what it leads to.
struct Cell<'a> {
    name: &'a str,
    place: Bounds,
    doors: Vec<String>,
    areas: Vec<String>,
    from_outside: bool,
}

impl Cell<'_> {
    /// Its surface, mm².
    fn surface(&self) -> f64 {
        let (low, high) = self.place;
        (high.0 - low.0) * (high.1 - low.1)
    }
}

/// Splits the areas that alone cut every door off; the others stay whole. `shut` says why an area
/// could not be split, by its name.
pub(super) fn parts(
    inputs: &Inputs,
    worked: &[String],
    doors: DoorFigures,
) -> (Vec<Part>, BTreeMap<String, ShutWhy>) {
    let ways: Vec<Way> = inputs.areas.iter().map(|a| a.way.clone()).collect();
    let any_door = ways.iter().any(|w| !w.doors.is_empty());
    let mut out = Vec::new();
    let mut shut = BTreeMap::new();
    for area in &inputs.areas {
        let alone = worked.contains(&area.id)
            && any_door
            && crate::plan::programme::reachable(&ways, std::slice::from_ref(&area.id)).is_empty();
        if !alone {
            out.push(Part::whole(area));
            continue;
        }
        match split(inputs, area, doors) {
            Ok(parts) => {
                shut.insert(area.id.clone(), ShutWhy::BeforeDoor);
                out.extend(parts);
            }
            Err(why) => {
                shut.insert(area.id.clone(), why);
                out.push(Part::whole(area));
            }
        }
    }
    (out, shut)
}

fn split(inputs: &Inputs, area: &AreaInput, doors: DoorFigures) -> Result<Vec<Part>, ShutWhy> {
    let ground = &area.ground;
    if ground.panels.len() < 2 {
        return Err(ShutWhy::NoPanels);
    }
    if area
        .way
        .doors
        .iter()
        .any(|d| ground.doors.iter().all(|(id, _)| id != d))
    {
        return Err(ShutWhy::NoPlace);
    }
    let cells: Vec<Cell<'_>> = ground
        .panels
        .iter()
        .map(|(name, place)| Cell {
            name,
            place: *place,
            doors: ground
                .doors
                .iter()
                .filter(|(_, at)| opens_on(*at, *place, doors))
                .map(|(id, _)| id.clone())
                .collect(),
            areas: inputs
                .areas
                .iter()
                .filter(|o| o.id != area.id)
                .filter(|o| {
                    o.ground
                        .place
                        .is_some_and(|there| side_by_side(*place, there) >= doors.step)
                })
                .map(|o| o.id.clone())
                .collect(),
            from_outside: ground
                .open_sides
                .iter()
                .any(|side| side_by_side(*place, *side) >= doors.step)
                || (area.way.from_outside && ground.open_sides.is_empty()),
        })
        .collect();
    let way = |of: &[usize], id: String| -> Way {
        let has = |i: &usize| of.contains(i);
        let own = || of.iter().filter_map(|i| cells.get(*i));
        let beside = (0..cells.len())
            .any(|i| !has(&i) && of.iter().any(|j| beside(&cells, *j, i, doors.step)));
        let mut touches: BTreeSet<String> = own().flat_map(|c| c.areas.iter().cloned()).collect();
        if beside {
            touches.insert(area.id.clone());
        }
        Way {
            area: id,
            touches: touches.into_iter().collect(),
            doors: own()
                .flat_map(|c| c.doors.iter().cloned())
                .collect::<BTreeSet<_>>()
                .into_iter()
                .collect(),
            from_outside: own().any(|c| c.from_outside),
        }
    };
    // The cheapest way over the panels from outside to a door, for every panel it may end on.
    let lanes = lanes(inputs, area, &cells, doors);
    if lanes.is_empty() {
        return Err(ShutWhy::OnlyWay);
    }
    let rest =
        |lane: &[usize]| -> Vec<usize> { (0..cells.len()).filter(|i| !lane.contains(i)).collect() };
    let others: Vec<Way> = inputs
        .areas
        .iter()
        .filter(|a| a.id != area.id)
        .map(|a| a.way.clone())
        .collect();
    // Best is a lane whose rest leads to a door as well.
    let leads = |of: &[usize]| {
        let mut ways = others.clone();
        // Panels one by one: the rest may lie in two pieces.
        for i in of {
            let one = format!("{}#{i}", area.id);
            let mut w = way(&[*i], one);
            w.touches.retain(|t| *t != area.id);
            w.touches.extend(
                of.iter()
                    .filter(|j| *j != i && beside(&cells, *i, **j, doors.step))
                    .map(|j| format!("{}#{j}", area.id)),
            );
            ways.push(w);
        }
        !crate::plan::programme::reachable(&ways, &[]).is_empty()
    };
    let lane = lanes
        .iter()
        .find(|lane| leads(&rest(lane)))
        .or_else(|| lanes.first())
        .ok_or(ShutWhy::OnlyWay)?;
    let rest = rest(lane);
    if rest.is_empty() {
        return Err(ShutWhy::OnlyWay);
    }
    let second_open = leads(&rest);
    let surface = |of: &[usize]| -> f64 {
        of.iter()
            .filter_map(|i| cells.get(*i))
            .map(Cell::surface)
            .sum()
    };
    let all = surface(lane) + surface(&rest);
    if all <= 0.0 {
        return Err(ShutWhy::NoPanels);
    }
    let part = |of: &[usize], n: usize, open: bool| {
        let id = format!("{}#{n}", area.id);
        let mut w = way(of, id.clone());
        w.touches.iter_mut().for_each(|t| {
            if *t == area.id {
                *t = format!("{}#{}", area.id, 3 - n);
            }
        });
        if !open {
            // It lies open, but leads to no door: the panels before the door are closed.
            w.doors.clear();
            w.from_outside = false;
        }
        Part {
            id,
            area: area.id.clone(),
            panels: of
                .iter()
                .filter_map(|i| cells.get(*i))
                .map(|c| c.name.to_owned())
                .collect(),
            share: surface(of) / all,
            way: w,
        }
    };
    // First all that is not needed to get to the door, then the lane.
    Ok(vec![part(&rest, 1, second_open), part(lane, 2, true)])
}

fn beside(cells: &[Cell<'_>], a: usize, b: usize, least: f64) -> bool {
    match (cells.get(a), cells.get(b)) {
        (Some(a), Some(b)) => side_by_side(a.place, b.place) >= least,
        _ => false,
    }
}

/// The ways of least surface from outside to every panel that leads to a door, least first.
fn lanes(
    inputs: &Inputs,
    area: &AreaInput,
    cells: &[Cell<'_>],
    doors: DoorFigures,
) -> Vec<Vec<usize>> {
    let closed = std::slice::from_ref(&area.id);
    let ways: Vec<Way> = inputs.areas.iter().map(|a| a.way.clone()).collect();
    let reached = crate::plan::programme::reached(&ways, closed);
    let leads_on = crate::plan::programme::lead_to_doors(&ways, closed);
    let any = |list: &[String], set: &BTreeSet<String>| list.iter().any(|a| set.contains(a));
    let starts = |c: &Cell<'_>| c.from_outside || any(&c.areas, &reached);
    let ends = |c: &Cell<'_>| !c.doors.is_empty() || any(&c.areas, &leads_on);
    let n = cells.len();
    // Shortest ways from outside, by surface.
    let mut cost = vec![f64::INFINITY; n];
    let mut before: Vec<Option<usize>> = vec![None; n];
    let mut done = vec![false; n];
    for (i, c) in cells.iter().enumerate() {
        if starts(c) {
            cost[i] = c.surface();
        }
    }
    while let Some(i) = (0..n)
        .filter(|i| !done[*i] && cost[*i].is_finite())
        .min_by(|a, b| cost[*a].total_cmp(&cost[*b]))
    {
        done[i] = true;
        for j in 0..n {
            if done[j] || !beside(cells, i, j, doors.step) {
                continue;
            }
            let through = cost[i] + cells.get(j).map_or(0.0, Cell::surface);
            if through < cost[j] {
                cost[j] = through;
                before[j] = Some(i);
            }
        }
    }
    let mut out: Vec<(f64, Vec<usize>)> = Vec::new();
    for (i, c) in cells.iter().enumerate() {
        if !ends(c) || !cost[i].is_finite() {
            continue;
        }
        let mut lane = vec![i];
        let mut at = i;
        while let Some(b) = before[at] {
            lane.push(b);
            at = b;
        }
        lane.sort_unstable();
        out.push((cost[i], lane));
    }
    out.sort_by(|a, b| a.0.total_cmp(&b.0));
    out.into_iter().map(|(_, lane)| lane).collect()
}

/// Walk boards to a door of an area while some of it is closed: the nearest place that can be
/// stood on, a panel that is open, another area or the ground beside the slab.
pub(super) fn boards(
    inputs: &Inputs,
    area: &AreaInput,
    closed: &[String],
    also_closed: &[String],
    doors: DoorFigures,
) -> Option<Boards> {
    let ground = &area.ground;
    let panels = ground
        .panels
        .iter()
        .filter(|(name, _)| !closed.is_empty() && !closed.contains(name))
        .map(|(name, place)| (BoardsFrom::Panel(name.clone()), *place));
    let areas = inputs
        .areas
        .iter()
        .filter(|a| a.id != area.id && !also_closed.contains(&a.id))
        .filter_map(|a| Some((BoardsFrom::Area(a.name.clone()), a.ground.place?)));
    let sides = ground
        .open_sides
        .iter()
        .map(|side| (BoardsFrom::Ground, *side));
    let stands: Vec<(BoardsFrom, Bounds)> = panels.chain(areas).chain(sides).collect();
    let mut best: Option<Boards> = None;
    for (_, at) in &ground.doors {
        for (from, place) in &stands {
            let length_mm = crate::record::geometry::gap_to(*place, *at);
            if best.as_ref().is_none_or(|b| length_mm < b.length_mm) {
                best = Some(Boards {
                    from: from.clone(),
                    length_mm,
                    span_mm: doors.span,
                });
            }
        }
    }
    best
}
