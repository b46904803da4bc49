//! The slab map: outline, panels, joints, steps, doors, edges, numbered defects to scale.

use std::fmt::Write;

use super::ground::{AreaShape, Ground, Lie, Point, Reach, point};
use super::hatch::{self, Mark};
use super::labels::{Placer, Rect};
use super::svg::{Letter, Paint, Svg, Tone};
use crate::record::model::{DefectKind, Record};
use crate::report::language::Sentences;
use crate::report::names;
use crate::units::System;

/// Width of the map, pixels.
const WIDTH: f64 = 760.0;
/// Greatest height of the slab on it, pixels.
const TALLEST: f64 = 640.0;
/// Room over and under the slab for edges, steps and their names, pixels.
const MARGIN: f64 = 58.0;
/// The same at its sides, where a name like `planting` lies beside its edge and not over the slab.
const SIDE: f64 = 78.0;

/// A finished map.
#[derive(Debug, Clone)]
pub struct SlabMap {
    /// The drawing.
    pub svg: String,
    /// What could not be placed on it, in plain sentences.
    pub notes: Vec<String>,
    /// Rectangles of every label and of the legend's lines, for checking that none collide.
    pub labels: Vec<Rect>,
}

/// Draws the map of a record, its own words in the language of the sentences. `prefix` starts the
/// ids inside the drawing.
pub fn slab_map(record: &Record, prefix: &str, tongue: &Sentences) -> SlabMap {
    let ground = Ground::of(record);
    let ((x0, y0), (x1, y1)) = ground.bounds();
    let (wide, high) = ((x1 - x0).max(1.0), (y1 - y0).max(1.0));
    let (wide, high) = if wide.is_finite() && high.is_finite() {
        (wide, high)
    } else {
        (1.0, 1.0)
    };
    let scale = ((WIDTH - 2.0 * SIDE) / wide).min(TALLEST / high);
    let left = (WIDTH - wide * scale) / 2.0;
    let field = Rect {
        x: 0.0,
        y: 0.0,
        w: WIDTH,
        h: high * scale + 2.0 * MARGIN,
    };
    let frame = Frame {
        scale,
        origin: if x0.is_finite() && y1.is_finite() {
            (x0, y1)
        } else {
            (0.0, 0.0)
        },
        at: (left, MARGIN),
        field,
    };
    let mut map = Drawing {
        svg: Svg::new(prefix),
        placer: Placer::new(field),
        frame,
        legend: Vec::new(),
        notes: Vec::new(),
        tongue,
    };
    map.areas(&ground);
    map.hollow(&ground);
    map.defects(&ground);
    map.joints(record, &ground);
    map.edges(record, &ground);
    map.names(&ground);
    map.steps_and_doors(record);
    map.numbers(&ground);
    map.panel_names(&ground);
    map.finish(record, &ground)
}

/// From millimetres on the ground, y upward, to pixels, y downward.
#[derive(Debug, Clone, Copy)]
struct Frame {
    scale: f64,
    origin: Point,
    at: Point,
    field: Rect,
}

impl Frame {
    fn spot(&self, p: Point) -> Point {
        let x = self.at.0 + (p.0 - self.origin.0) * self.scale;
        let y = self.at.1 + (self.origin.1 - p.1) * self.scale;
        // What lies far off the slab is held at the border, so that nothing leaves the drawing.
        let held = |v: f64, size: f64| {
            if v.is_finite() {
                v.clamp(4.0, size - 4.0)
            } else {
                4.0
            }
        };
        (held(x, self.field.w), held(y, self.field.h))
    }

    fn rect(&self, lo: Point, hi: Point) -> Rect {
        let (a, b) = (self.spot((lo.0, hi.1)), self.spot((hi.0, lo.1)));
        Rect {
            x: a.0,
            y: a.1,
            w: b.0 - a.0,
            h: b.1 - a.1,
        }
    }
}

struct Drawing<'a> {
    svg: Svg,
    placer: Placer,
    frame: Frame,
    legend: Vec<(Mark, String)>,
    notes: Vec<String>,
    tongue: &'a Sentences,
}

/// A mark for a defect number: middle, reach on the page, and how it is ringed.
struct Number {
    number: u32,
    at: Point,
    own: Option<Rect>,
    somewhere: bool,
}

impl Drawing<'_> {
    fn explain(&mut self, mark: Mark, words: &str) {
        if !self.legend.iter().any(|(m, _)| *m == mark) {
            self.legend.push((mark, self.tongue.turn(words)));
        }
    }

    fn clip_of(index: usize) -> String {
        format!("area-{index}")
    }

    fn areas(&mut self, ground: &Ground) {
        for (index, area) in ground.areas.iter().enumerate() {
            let corners: Vec<Point> = area.outline.iter().map(|p| self.frame.spot(*p)).collect();
            let paint = Paint::fill(Tone::Tint).edged(Tone::Ink, 1.8);
            let paint = if area.lie == Lie::Placed {
                paint
            } else {
                paint.dashed("7 4")
            };
            self.svg.path(&corners, true, paint);
            let clip = self.svg.clip(&Self::clip_of(index), &corners);
            let ((x0, y0), (x1, y1)) = area.box_;
            for x in &area.grid.0 {
                let (a, b) = (self.frame.spot((*x, y0)), self.frame.spot((*x, y1)));
                self.svg
                    .line(a, b, Paint::line(Tone::Grey, 1.0).clipped(&clip));
            }
            for y in &area.grid.1 {
                let (a, b) = (self.frame.spot((x0, *y)), self.frame.spot((x1, *y)));
                self.svg
                    .line(a, b, Paint::line(Tone::Grey, 1.0).clipped(&clip));
            }
            if !area.grid.0.is_empty() || !area.grid.1.is_empty() {
                self.explain(Mark::Panel, "joint between panels");
            }
        }
        let of = |lie: Lie| -> Vec<&str> {
            let held = ground.areas.iter().filter(|a| a.lie == lie);
            held.map(|a| a.id.as_str()).collect()
        };
        match of(Lie::Beside).as_slice() {
            [] => {}
            [one] => self.notes.push(format!(
                "Area {one} is drawn to scale, but where it lies was not recorded."
            )),
            more => self.notes.push(format!(
                "Areas {} are drawn to scale, but where they lie was not recorded.",
                more.join(", ")
            )),
        }
        match of(Lie::Schematic).as_slice() {
            [] => {}
            [one] => self.notes.push(format!(
                "Area {one} is a stand-in: its size and place were not recorded."
            )),
            more => self.notes.push(format!(
                "Areas {} are stand-ins: their size and place were not recorded.",
                more.join(", ")
            )),
        }
    }

    fn hollow(&mut self, ground: &Ground) {
        if ground.hollow.is_empty() {
            return;
        }
        let id = hatch::define(&mut self.svg, Mark::Hollow);
        self.explain(Mark::Hollow, "sounds hollow under the hammer");
        for (lo, hi) in &ground.hollow {
            let r = self.frame.rect(*lo, *hi);
            let paint = Paint::hatch(&id).edged(Tone::Ink, 1.3).dashed("2 4");
            self.svg.pill(r.x, r.y, r.w, r.h, 6.0, paint);
        }
    }

    fn defects(&mut self, ground: &Ground) {
        for defect in &ground.defects {
            let mark = Mark::Defect(defect.kind);
            let clip = self.svg.local(&Self::clip_of(defect.area));
            match &defect.reach {
                Reach::Patch(lo, hi) => {
                    let r = self.frame.rect(*lo, *hi);
                    let id = hatch::define(&mut self.svg, mark);
                    self.svg.pill(
                        r.x,
                        r.y,
                        r.w,
                        r.h,
                        3.0,
                        Paint::hatch(&id).edged(Tone::Ink, 1.3).clipped(&clip),
                    );
                    self.placer.avoid(r);
                    self.explain(mark, hatch::words(defect.kind));
                }
                Reach::Disc(c, radius) => {
                    let (x, y) = self.frame.spot(*c);
                    let r = (radius * self.frame.scale).min(WIDTH);
                    let id = hatch::define(&mut self.svg, mark);
                    self.svg.ellipse(
                        x,
                        y,
                        r,
                        r,
                        Paint::hatch(&id)
                            .edged(Tone::Ink, 1.3)
                            .dashed("6 3")
                            .clipped(&clip),
                    );
                    self.placer.avoid(Rect {
                        x: x - r,
                        y: y - r,
                        w: 2.0 * r,
                        h: 2.0 * r,
                    });
                    self.explain(mark, hatch::words(defect.kind));
                    self.explain(Mark::Disc, "right size, shape not recorded");
                }
                Reach::Line(a, b) => {
                    let (a, b) = (self.frame.spot(*a), self.frame.spot(*b));
                    if defect.kind == DefectKind::Lip {
                        self.svg.line(a, b, Paint::line(Tone::Ink, 4.2));
                        self.svg.line(a, b, Paint::line(Tone::Paper, 1.6));
                    } else {
                        self.svg.raw_path(
                            &hatch::jagged(a, b, defect.number),
                            Paint::line(Tone::Ink, 2.0),
                        );
                    }
                    self.explain(mark, hatch::words(defect.kind));
                }
                Reach::Spot(c) => {
                    let (x, y) = self.frame.spot(*c);
                    self.svg.ellipse(x, y, 3.2, 3.2, Paint::fill(Tone::Ink));
                    self.explain(Mark::Spot, "place of a defect, size not drawn");
                }
                Reach::Somewhere(_) => {
                    self.explain(Mark::Somewhere, "in this area, exact place not recorded");
                }
            }
        }
    }

    fn joints(&mut self, record: &Record, ground: &Ground) {
        let mut unplaced = 0_usize;
        for joint in record
            .areas
            .iter()
            .zip(&ground.areas)
            .flat_map(|(a, _)| &a.joints)
        {
            let ends = joint
                .at
                .as_ref()
                .and_then(point)
                .zip(joint.to.as_ref().and_then(point));
            let Some((a, b)) = ends else {
                unplaced += 1;
                continue;
            };
            let (a, b) = (self.frame.spot(a), self.frame.spot(b));
            let (mark, words, paint) = match joint.kind.as_str() {
                "isolation" => (
                    Mark::Isolation,
                    "joint that keeps two parts apart",
                    Paint::line(Tone::Ink, 3.0).dashed("1 5"),
                ),
                "construction" => (
                    Mark::Construction,
                    "joint between two pours",
                    Paint::line(Tone::Ink, 2.0).dashed("12 3 2 3"),
                ),
                _ => (
                    Mark::Control,
                    "cut joint that guides cracks",
                    Paint::line(Tone::Ink, 1.6).dashed("9 4"),
                ),
            };
            self.svg.line(a, b, paint);
            self.explain(mark, words);
        }
        if unplaced > 0 {
            self.notes.push(format!(
                "{unplaced} {} recorded without a place {} not drawn.",
                if unplaced == 1 { "joint" } else { "joints" },
                if unplaced == 1 { "is" } else { "are" }
            ));
        }
    }

    fn edges(&mut self, record: &Record, ground: &Ground) {
        for edge in &record.edges {
            let words = self.tongue.turn(&edge.kind.replace('_', " "));
            let place = ground
                .area(&edge.area)
                .and_then(|area| side(area, edge.side.as_deref()?));
            let Some((pieces, out)) = place else {
                self.notes.push(format!(
                    "Edge along area {}: {words} (side not recorded).",
                    edge.area
                ));
                continue;
            };
            let off = |p: Point, d: f64| (p.0 + out.0 * d, p.1 + out.1 * d);
            let mut longest = (0.0, (0.0, 0.0));
            for (a, b) in pieces {
                let (a, b) = (self.frame.spot(a), self.frame.spot(b));
                self.svg.raw_path(
                    &hatch::edge(&edge.kind, off(a, 5.0), off(b, 5.0), out),
                    Paint::line(Tone::Grey, 1.2),
                );
                let (p, q) = (off(a, 3.0), off(b, 14.0));
                self.placer.avoid(Rect {
                    x: p.0.min(q.0),
                    y: p.1.min(q.1),
                    w: (p.0 - q.0).abs(),
                    h: (p.1 - q.1).abs(),
                });
                let length = (b.0 - a.0).abs() + (b.1 - a.1).abs();
                if length > longest.0 {
                    longest = (length, ((a.0 + b.0) / 2.0, (a.1 + b.1) / 2.0));
                }
            }
            let letter = Letter::new(11.5).tone(Tone::Grey).middle();
            let words = letter.cut(&words, 150.0);
            let w = letter.width(&words);
            let far = if out.0 == 0.0 { 21.0 } else { 16.0 + w / 2.0 };
            let (r, _) = self.placer.place(off(longest.1, far), w, 14.0, None);
            let (x, y) = r.middle();
            self.svg.text(x, y + 4.0, letter, &words);
        }
    }

    fn names(&mut self, ground: &Ground) {
        for area in &ground.areas {
            let letter = Letter::new(13.0).bold();
            let r = self.frame.rect(area.box_.0, area.box_.1);
            let room = (r.w - 12.0).clamp(260.0, WIDTH / 2.0);
            let full = letter.cut(&names::area(&area.id, &area.name), room);
            let w = letter.width(&full) + 10.0;
            // Just above the area's upper left corner, outside the damage; where another area
            // lies there, inside its own corner; else wherever there is room.
            let above = (r.x + w / 2.0 - 1.0, r.y - 13.0);
            let ((x0, _), (_, y1)) = area.box_;
            let taken = ground.areas.iter().any(|other| {
                other.id != area.id
                    && [2.0, w].iter().any(|dx| {
                        other.holds((x0 + dx / self.frame.scale, y1 + 13.0 / self.frame.scale))
                    })
            });
            let aim = match (taken, w < r.w) {
                (false, _) => above,
                (true, true) => (r.x + w / 2.0 + 3.0, r.y + 13.0),
                (true, false) => (r.x + r.w + w / 2.0 + 22.0, r.y + 13.0),
            };
            let (spot, _) = self.placer.place(aim, w, 19.0, None);
            let gap = |a: f64, la: f64, b: f64, lb: f64| (b - a - la).max(a - b - lb).max(0.0);
            let away = gap(spot.x, spot.w, r.x, r.w).max(gap(spot.y, spot.h, r.y, r.h));
            if away > 30.0 {
                self.svg.line(
                    spot.middle(),
                    (r.x + 4.0, r.y + 4.0),
                    Paint::line(Tone::Hair, 0.8),
                );
            }
            let back = if away > 0.0 { Tone::Paper } else { Tone::Tint };
            self.svg
                .rect(spot.x, spot.y, spot.w, spot.h, Paint::fill(back));
            self.svg.text(spot.x + 4.0, spot.y + 14.0, letter, &full);
        }
    }

    fn steps_and_doors(&mut self, record: &Record) {
        let mut missing = Vec::new();
        for stair in &record.stairs {
            let Some(at) = stair.at.as_ref().and_then(point) else {
                missing.push(format!("steps {}", stair.id));
                continue;
            };
            let (x, y) = self.frame.spot(at);
            let own = Rect {
                x: x - 15.0,
                y: y - 11.0,
                w: 30.0,
                h: 22.0,
            };
            let (r, _) = self.placer.place((x, y), own.w, own.h, Some(own));
            hatch::steps(&mut self.svg, r);
            self.tag(&self.tongue.turn(&names::steps(&stair.id)), r, (x, y));
            self.explain(Mark::Steps, "steps");
        }
        for door in &record.thresholds {
            let Some(at) = door.at.as_ref().and_then(point) else {
                missing.push(format!("door {}", door.id));
                continue;
            };
            let (x, y) = self.frame.spot(at);
            let own = Rect {
                x: x - 11.0,
                y: y - 11.0,
                w: 22.0,
                h: 22.0,
            };
            let (r, _) = self.placer.place((x, y), own.w, own.h, Some(own));
            hatch::door(&mut self.svg, r);
            self.tag(&self.tongue.turn(&names::door(&door.id)), r, (x, y));
            self.explain(Mark::Door, "door");
        }
        if !missing.is_empty() {
            self.notes.push(format!(
                "Not on the map, because their place was not recorded: {}.",
                missing.join(", ")
            ));
        }
    }

    fn tag(&mut self, words: &str, symbol: Rect, _at: Point) {
        let letter = Letter::new(11.5).middle();
        let words = letter.cut(words, 140.0);
        let w = letter.width(&words) + 4.0;
        let (sx, sy) = symbol.middle();
        let (r, near) = self
            .placer
            .place((sx, sy + symbol.h / 2.0 + 9.0), w, 14.0, Some(symbol));
        let (x, y) = r.middle();
        if !near {
            self.svg
                .line((sx, sy), (x, y), Paint::line(Tone::Hair, 0.8));
        }
        self.svg.rect(r.x, r.y, r.w, r.h, Paint::fill(Tone::Paper));
        self.svg.text(x, y + 4.0, letter, &words);
    }

    fn numbers(&mut self, ground: &Ground) {
        let numbers: Vec<Number> = ground
            .defects
            .iter()
            .map(|d| {
                let (at, own) = match &d.reach {
                    Reach::Patch(lo, hi) => {
                        let r = self.frame.rect(*lo, *hi);
                        (r.middle(), Some(r))
                    }
                    Reach::Disc(c, radius) => {
                        let (x, y) = self.frame.spot(*c);
                        let r = (radius * self.frame.scale).min(WIDTH);
                        (
                            (x, y),
                            Some(Rect {
                                x: x - r,
                                y: y - r,
                                w: 2.0 * r,
                                h: 2.0 * r,
                            }),
                        )
                    }
                    Reach::Line(a, b) => {
                        let (a, b) = (self.frame.spot(*a), self.frame.spot(*b));
                        (((a.0 + b.0) / 2.0, (a.1 + b.1) / 2.0), None)
                    }
                    Reach::Spot(c) | Reach::Somewhere(c) => (self.frame.spot(*c), None),
                };
                Number {
                    number: d.number,
                    at,
                    own,
                    somewhere: matches!(d.reach, Reach::Somewhere(_)),
                }
            })
            .collect();
        let mut placed = Vec::new();
        for n in &numbers {
            let letter = Letter::new(11.5).bold().middle();
            let text = n.number.to_string();
            let w = (letter.width(&text) + 9.0).max(19.0);
            // A number beside a thin thing or one smaller than itself, else on it.
            let small = n.own.is_none_or(|o| o.w < w + 6.0 || o.h < 25.0);
            let aim = if n.somewhere || !small {
                n.at
            } else {
                let half = n.own.map_or(0.0, |o| o.h / 2.0);
                (n.at.0 + 4.0, n.at.1 - half - 14.0)
            };
            let (r, _) = self.placer.place(aim, w, 19.0, n.own);
            placed.push((r, text, letter));
        }
        // Leader lines first, numbers on top of them.
        for (n, (r, ..)) in numbers.iter().zip(&placed) {
            let (x, y) = r.middle();
            let far = ((x - n.at.0).powi(2) + (y - n.at.1).powi(2)).sqrt();
            let covers = n.own.is_some_and(|o| o.overlaps(*r));
            if far > 12.0 && !covers && !(n.somewhere && far < 60.0) {
                self.svg.line((x, y), n.at, Paint::line(Tone::Ink, 0.9));
                self.svg
                    .ellipse(n.at.0, n.at.1, 1.7, 1.7, Paint::fill(Tone::Ink));
            }
        }
        for (n, (r, text, letter)) in numbers.iter().zip(&placed) {
            let (x, y) = r.middle();
            let paint = Paint::fill(Tone::Paper).edged(Tone::Ink, 1.4);
            let paint = if n.somewhere {
                paint.dashed("3 2.4")
            } else {
                paint
            };
            self.svg.pill(r.x, r.y, r.w, r.h, 9.5, paint);
            self.svg.text(x, y + 4.1, *letter, text);
        }
    }

    fn panel_names(&mut self, ground: &Ground) {
        let mut damage: Vec<Rect> = ground
            .hollow
            .iter()
            .map(|(lo, hi)| self.frame.rect(*lo, *hi))
            .collect();
        damage.extend(ground.defects.iter().filter_map(|d| match &d.reach {
            Reach::Patch(lo, hi) => Some(self.frame.rect(*lo, *hi)),
            Reach::Disc((x, y), r) => Some(self.frame.rect((x - r, y - r), (x + r, y + r))),
            _ => None,
        }));
        for area in &ground.areas {
            for (name, (lo, hi)) in &area.panels {
                let r = self.frame.rect(*lo, *hi);
                let letter = Letter::new(10.0).tone(Tone::Grey);
                let w = letter.width(name);
                let middle = ((lo.0 + hi.0) / 2.0, (lo.1 + hi.1) / 2.0);
                if r.w < w + 8.0 || r.h < 20.0 || !area.holds(middle) {
                    continue;
                }
                let (x0, x1) = (r.x + 4.0, r.x + r.w - w - 4.0);
                let (y0, y1) = (r.y + r.h - 15.0, r.y + 3.0);
                let corners = [(x0, y0), (x1, y0), (x0, y1), (x1, y1)];
                let spots = corners.map(|(x, y)| Rect { x, y, w, h: 12.0 });
                let bare = |spot: &Rect| !damage.iter().any(|d| d.overlaps(*spot));
                let order = spots
                    .iter()
                    .filter(|s| bare(s))
                    .chain(spots.iter().filter(|s| !bare(s)));
                for spot in order {
                    if self.placer.claim(*spot) {
                        if !bare(spot) {
                            self.svg.rect(
                                spot.x - 1.0,
                                spot.y,
                                w + 2.0,
                                12.0,
                                Paint::fill(Tone::Tint),
                            );
                        }
                        self.svg.text(spot.x, spot.y + 10.0, letter, name);
                        break;
                    }
                }
            }
        }
    }

    fn finish(mut self, record: &Record, ground: &Ground) -> SlabMap {
        let mut labels: Vec<Rect> = self.placer.taken().to_vec();
        let slab = self.frame.at.1 + high_of(ground) * self.frame.scale;
        let lowest = labels.iter().map(|r| r.y + r.h).fold(slab + 14.0, f64::max);
        let mut y = lowest + 8.0;
        // Stand-ins alone have neither a scale nor a direction.
        if ground.areas.iter().any(|a| a.lie != Lie::Schematic) {
            self.scale_bar(record.job.units, y, &mut labels);
            self.north(record.site.map_up, y, &mut labels);
            y += 52.0;
        }
        self.svg.line(
            (0.0, y - 8.0),
            (WIDTH, y - 8.0),
            Paint::line(Tone::Hair, 0.8),
        );
        let letter = Letter::new(12.5);
        let columns = 3_usize;
        let wide = WIDTH / columns as f64;
        let legend = std::mem::take(&mut self.legend);
        let mut row = 0.0_f64;
        for (i, (mark, words)) in legend.iter().enumerate() {
            let column = i % columns;
            if column == 0 && i > 0 {
                y += row;
                row = 0.0;
            }
            let x = wide * column as f64 + 2.0;
            hatch::swatch(
                &mut self.svg,
                *mark,
                Rect {
                    x,
                    y: y + 2.0,
                    w: 34.0,
                    h: 20.0,
                },
            );
            let lines = letter.wrap(words, wide - 50.0, 2);
            for (k, line) in lines.iter().enumerate() {
                self.svg
                    .text(x + 42.0, y + 16.0 + 15.0 * k as f64, letter, line);
                labels.push(Rect {
                    x: x + 42.0,
                    y: y + 6.0 + 15.0 * k as f64,
                    w: letter.width(line),
                    h: 13.0,
                });
            }
            row = row.max(14.0 + 15.0 * lines.len() as f64);
        }
        y += row + 4.0;
        // Room above the slab that nothing uses is cut off.
        let top = labels
            .iter()
            .map(|r| r.y)
            .chain(std::iter::once(self.frame.at.1))
            .fold(f64::INFINITY, f64::min)
            .max(6.0)
            - 6.0;
        let mut desc = String::new();
        for area in &ground.areas {
            let numbers: Vec<String> = ground
                .defects
                .iter()
                .filter(|d| ground.areas.get(d.area).is_some_and(|a| a.id == area.id))
                .map(|d| d.number.to_string())
                .collect();
            let _ = write!(
                desc,
                "Area {}, {}: {}. ",
                area.id,
                area.name,
                if numbers.is_empty() {
                    "no numbered defects".to_owned()
                } else {
                    format!("defects {}", numbers.join(", "))
                }
            );
        }
        let svg = self.svg.finish_from(
            top,
            WIDTH,
            y - top,
            "Map of the slab with the numbered defects",
            desc.trim(),
        );
        SlabMap {
            svg,
            notes: self.notes,
            labels,
        }
    }

    fn scale_bar(&mut self, system: System, y: f64, labels: &mut Vec<Rect>) {
        let (unit, name) = match system {
            System::Us => (304.8, "ft"),
            System::Metric => (1000.0, "m"),
        };
        // The longest round number of units that stays under about a quarter of the width.
        let most = 190.0 / self.frame.scale / unit;
        let steps = [
            0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0,
        ];
        let Some(length) = steps.iter().rev().find(|s| **s <= most).copied() else {
            return;
        };
        let px = length * unit * self.frame.scale;
        let (x, top) = (14.0, y + 14.0);
        for k in 0..4 {
            let tone = if k % 2 == 0 { Tone::Ink } else { Tone::Paper };
            self.svg.rect(
                x + px / 4.0 * f64::from(k),
                top,
                px / 4.0,
                7.0,
                Paint::fill(tone).edged(Tone::Ink, 1.0),
            );
        }
        let letter = Letter::new(12.0);
        let words = if length < 1.0 {
            format!("{length:.1} {name}")
        } else {
            format!("{length:.0} {name}")
        };
        self.svg.text(x, top - 4.0, letter, "0");
        let right = letter.end();
        let end = (x + px + 6.0).max(x + 40.0);
        self.svg.text(end, top - 4.0, right, &words);
        labels.push(Rect {
            x,
            y: top - 14.0,
            w: 8.0,
            h: 12.0,
        });
        labels.push(Rect {
            x: end - letter.width(&words),
            y: top - 14.0,
            w: letter.width(&words),
            h: 12.0,
        });
    }

    fn north(&mut self, map_up: Option<f64>, y: f64, labels: &mut Vec<Rect>) {
        let Some(up) = map_up.filter(|d| d.is_finite()) else {
            let letter = Letter::new(12.0).tone(Tone::Grey).end();
            let words = &self.tongue.turn("north not recorded");
            self.svg.text(WIDTH - 14.0, y + 18.0, letter, words);
            labels.push(Rect {
                x: WIDTH - 14.0 - letter.width(words),
                y: y + 8.0,
                w: letter.width(words),
                h: 13.0,
            });
            return;
        };
        // The map's upward edge looks `up` degrees clockwise from north, so north lies as much
        // anticlockwise from upward.
        let turn = -up.to_radians();
        let (cx, cy) = (WIDTH - 34.0, y + 16.0);
        let spot = |along: f64, aside: f64| {
            (
                cx + along * turn.sin() + aside * turn.cos(),
                cy - along * turn.cos() + aside * turn.sin(),
            )
        };
        self.svg.path(
            &[spot(15.0, 0.0), spot(-12.0, 6.5), spot(-7.0, 0.0)],
            true,
            Paint::fill(Tone::Ink).edged(Tone::Ink, 1.0),
        );
        self.svg.path(
            &[spot(15.0, 0.0), spot(-12.0, -6.5), spot(-7.0, 0.0)],
            true,
            Paint::fill(Tone::Paper).edged(Tone::Ink, 1.0),
        );
        let letter = Letter::new(13.0).bold().middle();
        self.svg.text(cx - 30.0, cy + 4.0, letter, "N");
        labels.push(Rect {
            x: cx - 36.0,
            y: cy - 7.0,
            w: 12.0,
            h: 13.0,
        });
    }
}

/// Height of the slab, mm.
fn high_of(ground: &Ground) -> f64 {
    let ((_, y0), (_, y1)) = ground.bounds();
    if (y1 - y0).is_finite() { y1 - y0 } else { 1.0 }
}

/// The stretches of an area's outline along a side, and the way outward in pixels.
fn side(area: &AreaShape, word: &str) -> Option<(Vec<(Point, Point)>, Point)> {
    let ((x0, y0), (x1, y1)) = area.box_;
    let (out, at, upright, ends) = match word {
        "left" => ((-1.0, 0.0), x0, true, ((x0, y0), (x0, y1))),
        "right" => ((1.0, 0.0), x1, true, ((x1, y0), (x1, y1))),
        "top" => ((0.0, -1.0), y1, false, ((x0, y1), (x1, y1))),
        "bottom" => ((0.0, 1.0), y0, false, ((x0, y0), (x1, y0))),
        _ => return None,
    };
    let near = |v: f64| (v - at).abs() < 1.0;
    let pieces: Vec<(Point, Point)> = area
        .outline
        .iter()
        .zip(area.outline.iter().cycle().skip(1))
        .filter(|(a, b)| {
            if upright {
                near(a.0) && near(b.0)
            } else {
                near(a.1) && near(b.1)
            }
        })
        .map(|(a, b)| (*a, *b))
        .collect();
    Some((
        if pieces.is_empty() {
            vec![ends]
        } else {
            pieces
        },
        out,
    ))
}
