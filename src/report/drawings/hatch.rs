//! Our own hatches and signs: each kind of damage has a pattern that stays itself in black and
//! white, and the number beside it says the rest.

use std::fmt::Write;

use super::ground::Point;
use super::labels::Rect;
use super::svg::{Letter, Paint, Svg, Tone, num};
use crate::record::model::DefectKind;

/// A sign of the map's legend.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mark {
    /// A kind of damage.
    Defect(DefectKind),
    /// Hollow patch found by sounding.
    Hollow,
    /// Joint of the panel grid.
    Panel,
    /// Control joint.
    Control,
    /// Construction joint.
    Construction,
    /// Isolation joint.
    Isolation,
    /// Size known, shape not.
    Disc,
    /// Place known, size not.
    Spot,
    /// Place not known.
    Somewhere,
    /// Steps.
    Steps,
    /// Door.
    Door,
}

/// What is seen, in plain words for a legend.
pub fn words(kind: DefectKind) -> &'static str {
    match kind {
        DefectKind::Scaling => "surface flaking off",
        DefectKind::Spall => "piece broken out",
        DefectKind::Delamination => "layer come loose",
        DefectKind::Blisters => "blisters",
        DefectKind::Popouts => "popouts (small cone-shaped holes)",
        DefectKind::Pinholes => "pinholes",
        DefectKind::Dusting => "powdery surface",
        DefectKind::Etching => "paste eaten away",
        DefectKind::Crack => "crack",
        DefectKind::MapCracking => "net of cracks",
        DefectKind::CornerBreak => "broken corner",
        DefectKind::Debonding => "old overlay or coating coming loose",
        DefectKind::Lip => "lip (a step in height)",
        DefectKind::Settlement => "part gone down",
        DefectKind::Heave => "part come up",
        DefectKind::Curling => "edges turned up",
        DefectKind::Ponding => "standing water",
        DefectKind::Stain => "stain or deposit",
    }
}

fn key(mark: Mark) -> &'static str {
    match mark {
        Mark::Defect(kind) => match kind {
            DefectKind::Scaling => "scaling",
            DefectKind::Spall => "spall",
            DefectKind::Delamination => "delamination",
            DefectKind::Blisters => "blisters",
            DefectKind::Popouts => "popouts",
            DefectKind::Pinholes => "pinholes",
            DefectKind::Dusting => "dusting",
            DefectKind::Etching => "etching",
            DefectKind::Crack => "crack",
            DefectKind::MapCracking => "map-cracking",
            DefectKind::CornerBreak => "corner-break",
            DefectKind::Debonding => "debonding",
            DefectKind::Lip => "lip",
            DefectKind::Settlement => "settlement",
            DefectKind::Heave => "heave",
            DefectKind::Curling => "curling",
            DefectKind::Ponding => "ponding",
            DefectKind::Stain => "stain",
        },
        _ => "hollow",
    }
}

/// A hatch tile: width, height, path data, whether the marks are filled, line width.
fn tile(mark: Mark) -> (f64, f64, &'static str, bool, f64) {
    let Mark::Defect(kind) = mark else {
        // Hollow: slanting lines, as of something that is not tied down.
        return (9.0, 9.0, "M-2 11L11 -2M-2 2L2 -2M7 11L11 7", false, 0.9);
    };
    match kind {
        DefectKind::Scaling => (
            9.0,
            9.0,
            "M1 2a1.1 1.1 0 1 0 2.2 0a1.1 1.1 0 1 0 -2.2 0M5.4 6.6a1.1 1.1 0 1 0 2.2 0a1.1 1.1 0 1 0 -2.2 0",
            true,
            0.0,
        ),
        DefectKind::Spall => (8.0, 8.0, "M0 0L8 8M8 0L0 8", false, 1.0),
        DefectKind::Delamination => (14.0, 8.0, "M1 2L9 2M8 6L14 6M0 6L2 6", false, 1.3),
        DefectKind::Blisters => (14.0, 12.0, "M2 8A4 4 0 0 1 10 8", false, 1.2),
        DefectKind::Popouts => (14.0, 14.0, "M2 2L8 2L5 8Z", true, 0.0),
        DefectKind::Pinholes => (
            6.0,
            6.0,
            "M1 1a.8 .8 0 1 0 1.6 0a.8 .8 0 1 0 -1.6 0",
            true,
            0.0,
        ),
        DefectKind::Dusting => (12.0, 12.0, "M3 1L3 5M1 3L5 3M9 7L9 11M7 9L11 9", false, 0.9),
        DefectKind::Etching => (5.0, 10.0, "M2.5 0L2.5 10", false, 0.8),
        DefectKind::Crack => (12.0, 10.0, "M0 5L3 3L6 7L9 4L12 5", false, 1.2),
        DefectKind::MapCracking => (
            18.0,
            16.0,
            "M0 4L5 2L10 5L18 4M5 2L6 0M10 5L8 11L0 12M8 11L13 14L18 12M13 14L12 16",
            false,
            1.0,
        ),
        DefectKind::CornerBreak => (12.0, 8.0, "M0 6L3 2L6 6L9 2L12 6", false, 1.2),
        DefectKind::Debonding => (
            16.0,
            10.0,
            "M0 0L16 0M0 5L16 5M4 0L4 5M12 5L12 10",
            false,
            0.9,
        ),
        DefectKind::Lip => (10.0, 8.0, "M0 2L10 2M0 5L10 5", false, 1.4),
        DefectKind::Settlement => (12.0, 10.0, "M2 2L6 6L10 2", false, 1.3),
        DefectKind::Heave => (12.0, 10.0, "M2 7L6 3L10 7", false, 1.3),
        DefectKind::Curling => (14.0, 10.0, "M2 2A5 5 0 0 0 12 2", false, 1.2),
        DefectKind::Ponding => (16.0, 9.0, "M0 4Q4 0 8 4T16 4", false, 1.1),
        DefectKind::Stain => (8.0, 8.0, "M0 0L3 0L3 3L0 3ZM4 4L7 4L7 7L4 7Z", true, 0.0),
    }
}

/// Defines the hatch of a mark once in a drawing and gives its id.
pub fn define(svg: &mut Svg, mark: Mark) -> String {
    let name = format!("h-{}", key(mark));
    let id = svg.local(&name);
    if svg.defines(&id) {
        return id;
    }
    let (w, h, marks, solid, width) = tile(mark);
    svg.pattern(&name, w, h, marks, solid, width)
}

/// A broken line between two points, the same for the same seed.
pub fn jagged(a: Point, b: Point, seed: u32) -> String {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let length = (dx * dx + dy * dy).sqrt();
    let pieces = ((length / 14.0) as usize).clamp(2, 60);
    let mut state = seed.wrapping_mul(2_654_435_761).wrapping_add(1);
    let mut d = format!("M{} {}", num(a.0), num(a.1));
    for k in 1..pieces {
        // A small linear congruential step: only the look of the line hangs on it.
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let off = (f64::from(state >> 16 & 0xff) / 255.0 - 0.5) * 7.0;
        let t = k as f64 / pieces as f64;
        let (nx, ny) = if length > 0.0 {
            (-dy / length, dx / length)
        } else {
            (0.0, 0.0)
        };
        let _ = write!(
            d,
            "L{} {}",
            num(a.0 + dx * t + nx * off),
            num(a.1 + dy * t + ny * off)
        );
    }
    let _ = write!(d, "L{} {}", num(b.0), num(b.1));
    d
}

/// The sign of what lies along an edge; `out` points away from the slab.
pub fn edge(kind: &str, a: Point, b: Point, out: Point) -> String {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let length = (dx * dx + dy * dy).sqrt();
    let mut d = String::new();
    if length < 1.0 {
        return d;
    }
    let along = (dx / length, dy / length);
    let spot = |t: f64, o: f64| (a.0 + along.0 * t + out.0 * o, a.1 + along.1 * t + out.1 * o);
    let line = |d: &mut String, p: Point, q: Point| {
        let _ = write!(d, "M{} {}L{} {}", num(p.0), num(p.1), num(q.0), num(q.1));
    };
    let gap = match kind {
        "lawn" => 9.0,
        "planting" => 16.0,
        "street" => 20.0,
        _ => 7.0,
    };
    if matches!(kind, "building" | "wall" | "coping") {
        line(&mut d, spot(0.0, 0.0), spot(length, 0.0));
        line(&mut d, spot(0.0, 7.0), spot(length, 7.0));
    }
    let count = (length / gap).floor().min(400.0) as usize;
    for k in 0..count {
        let t = gap * (k as f64 + 0.5);
        match kind {
            // Blades of grass.
            "lawn" => line(
                &mut d,
                spot(t, 0.0),
                spot(t + if k % 2 == 0 { 2.0 } else { -2.0 }, 6.0),
            ),
            // Small tufts.
            "planting" => {
                line(&mut d, spot(t, 0.0), spot(t - 4.0, 6.0));
                line(&mut d, spot(t, 0.0), spot(t, 8.0));
                line(&mut d, spot(t, 0.0), spot(t + 4.0, 6.0));
            }
            "building" => line(&mut d, spot(t - 3.0, 0.0), spot(t + 3.0, 7.0)),
            "wall" => line(&mut d, spot(t, 0.0), spot(t, 7.0)),
            "coping" => {
                if k % 3 == 0 {
                    line(&mut d, spot(t, 0.0), spot(t, 7.0));
                }
            }
            "drain" => line(&mut d, spot(t - 1.0, 3.0), spot(t + 1.0, 3.0)),
            "street" => line(&mut d, spot(t - 6.0, 4.0), spot(t + 6.0, 4.0)),
            _ => line(&mut d, spot(t - 2.0, 2.0), spot(t + 2.0, 2.0)),
        }
    }
    d
}

/// A flight of steps seen from above.
pub fn steps(svg: &mut Svg, r: Rect) {
    svg.rect(
        r.x,
        r.y,
        r.w,
        r.h,
        Paint::fill(Tone::Paper).edged(Tone::Ink, 1.4),
    );
    for k in 1..4 {
        let y = r.y + r.h / 4.0 * f64::from(k);
        svg.line((r.x, y), (r.x + r.w, y), Paint::line(Tone::Ink, 1.0));
    }
}

/// A door leaf with its swing.
pub fn door(svg: &mut Svg, r: Rect) {
    let d = format!(
        "M{} {}L{} {}A{} {} 0 0 1 {} {}Z",
        num(r.x),
        num(r.y + r.h),
        num(r.x),
        num(r.y),
        num(r.w),
        num(r.h),
        num(r.x + r.w),
        num(r.y + r.h)
    );
    svg.raw_path(&d, Paint::fill(Tone::Paper).edged(Tone::Ink, 1.3));
}

/// A sample of a mark for the legend.
pub fn swatch(svg: &mut Svg, mark: Mark, r: Rect) {
    let mid = r.y + r.h / 2.0;
    let (a, b) = ((r.x, mid), (r.x + r.w, mid));
    match mark {
        Mark::Defect(DefectKind::Crack) => {
            svg.raw_path(&jagged(a, b, 3), Paint::line(Tone::Ink, 2.0));
        }
        Mark::Defect(DefectKind::Lip) => {
            svg.line(a, b, Paint::line(Tone::Ink, 4.2));
            svg.line(a, b, Paint::line(Tone::Paper, 1.6));
        }
        Mark::Defect(_) => {
            let id = define(svg, mark);
            svg.rect(r.x, r.y, r.w, r.h, Paint::fill(Tone::Tint));
            svg.pill(
                r.x,
                r.y,
                r.w,
                r.h,
                3.0,
                Paint::hatch(&id).edged(Tone::Ink, 1.3),
            );
        }
        Mark::Hollow => {
            let id = define(svg, mark);
            svg.rect(r.x, r.y, r.w, r.h, Paint::fill(Tone::Tint));
            svg.pill(
                r.x,
                r.y,
                r.w,
                r.h,
                6.0,
                Paint::hatch(&id).edged(Tone::Ink, 1.3).dashed("2 4"),
            );
        }
        Mark::Panel => svg.line(a, b, Paint::line(Tone::Grey, 1.0)),
        Mark::Control => svg.line(a, b, Paint::line(Tone::Ink, 1.6).dashed("9 4")),
        Mark::Construction => svg.line(a, b, Paint::line(Tone::Ink, 2.0).dashed("12 3 2 3")),
        Mark::Isolation => svg.line(a, b, Paint::line(Tone::Ink, 3.0).dashed("1 5")),
        Mark::Disc => {
            svg.ellipse(
                r.x + r.w / 2.0,
                mid,
                9.5,
                9.5,
                Paint::line(Tone::Ink, 1.3).dashed("6 3"),
            );
        }
        Mark::Spot => svg.ellipse(r.x + r.w / 2.0, mid, 3.2, 3.2, Paint::fill(Tone::Ink)),
        Mark::Somewhere => {
            svg.pill(
                r.x + 7.0,
                r.y,
                20.0,
                19.0,
                9.5,
                Paint::fill(Tone::Paper)
                    .edged(Tone::Ink, 1.4)
                    .dashed("3 2.4"),
            );
            svg.text(
                r.x + 17.0,
                r.y + 13.6,
                Letter::new(11.5).bold().middle(),
                "n",
            );
        }
        Mark::Steps => steps(
            svg,
            Rect {
                x: r.x + 3.0,
                y: r.y,
                w: 28.0,
                h: 20.0,
            },
        ),
        Mark::Door => door(
            svg,
            Rect {
                x: r.x + 7.0,
                y: r.y,
                w: 20.0,
                h: 20.0,
            },
        ),
    }
}
