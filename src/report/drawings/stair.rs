//! A stair seen from the side, before and after the work.

use super::svg::{Letter, Paint, Svg, Tone};
use crate::report::language::Sentences;

/// A flight as drawn: risers bottom to top.
#[derive(Debug, Clone)]
pub struct Flight {
    /// Heights, mm.
    pub risers: Vec<f64>,
    /// Heights as printed.
    pub figures: Vec<String>,
    /// Whether each is within the limits.
    pub kept: Vec<bool>,
}

/// Tread drawn where none is recorded, mm. Only the look of the drawing hangs on it.
const TREAD: f64 = 280.0;

/// Draws the flight before and after, to one scale.
pub fn elevation(
    before: &Flight,
    after: &Flight,
    treads: &[f64],
    prefix: &str,
    title: &str,
    tongue: &Sentences,
) -> String {
    const WIDTH: f64 = 720.0;
    let mut svg = Svg::new(prefix);
    let stones = svg.pattern(
        "fill",
        18.0,
        16.0,
        "M3 4L6 3L7 6L4 7ZM11 10L14 9L15 13L12 13Z",
        false,
        0.8,
    );
    let count = before.risers.len().max(after.risers.len()).max(1);
    let clean = |v: f64| if v.is_finite() { v.max(0.0) } else { 0.0 };
    let rise = |f: &Flight| f.risers.iter().copied().map(clean).sum::<f64>();
    let run: f64 = (0..count)
        .map(|i| {
            treads
                .get(i)
                .copied()
                .map_or(TREAD, |t| if t.is_finite() && t > 0.0 { t } else { TREAD })
        })
        .sum::<f64>()
        + TREAD;
    let high = rise(before).max(rise(after)).max(1.0);
    let half = WIDTH / 2.0;
    let scale = ((half - 96.0) / run).min(230.0 / high);
    let top = 34.0;
    let base = top + high * scale + 8.0;
    let mut desc = String::new();
    for (side, (flight, words)) in [(before, "Now"), (after, "After the work")]
        .into_iter()
        .enumerate()
    {
        let x0 = half * side as f64 + 14.0;
        svg.text(x0, 15.0, Letter::new(14.0).bold(), &tongue.turn(words));
        let mut points = vec![(x0, base)];
        let (mut x, mut y) = (x0 + TREAD * 0.6 * scale, base);
        points.push((x, y));
        let mut marks = Vec::new();
        for (i, riser) in flight.risers.iter().enumerate() {
            let h = clean(*riser) * scale;
            marks.push((x, y - h / 2.0, h, i));
            y -= h;
            points.push((x, y));
            let tread = treads
                .get(i)
                .copied()
                .filter(|t| t.is_finite() && *t > 0.0)
                .unwrap_or(TREAD);
            x += tread * scale;
            points.push((x, y));
        }
        let line = points.clone();
        points.push((x, base + 12.0));
        points.push((x0, base + 12.0));
        svg.path(&points, true, Paint::fill(Tone::Tint));
        svg.path(&points, true, Paint::hatch(&stones));
        svg.path(&line, false, Paint::line(Tone::Ink, 2.0));
        desc.push_str(&format!("{words}, from the bottom: "));
        // Figures stand to the left of their riser, one row each: rows are kept apart even where
        // the risers themselves are low.
        let letter = Letter::new(12.5);
        let rows = marks.len() as f64;
        let room = (base - top).max(rows * 16.0);
        let mut last = f64::INFINITY;
        for (mx, my, _, i) in &marks {
            let kept = flight.kept.get(*i).copied().unwrap_or(true);
            let figure = flight.figures.get(*i).map_or("", String::as_str);
            let ty = (my + 4.0).min(last - 16.0).max(top - room);
            last = ty;
            let style = if kept {
                letter
            } else {
                letter.bold().tone(Tone::Alert)
            };
            let text = if kept {
                figure.to_owned()
            } else {
                format!("{figure} !")
            };
            let w = style.width(&text);
            let tx = x + 16.0;
            svg.line(
                (mx + 3.0, *my),
                (tx - 4.0, ty - 4.0),
                Paint::line(if kept { Tone::Hair } else { Tone::Alert }, 0.8).dashed("2 2"),
            );
            if !kept {
                svg.rect(
                    tx - 3.0,
                    ty - 12.0,
                    w + 6.0,
                    16.0,
                    Paint::fill(Tone::Paper).edged(Tone::Alert, 1.4),
                );
            }
            svg.text(tx, ty, style, &text);
            desc.push_str(figure);
            desc.push_str(if kept {
                ", "
            } else {
                " (outside the limits), "
            });
        }
    }
    svg.line(
        (half - 6.0, 6.0),
        (half - 6.0, base + 12.0),
        Paint::line(Tone::Hair, 1.0),
    );
    svg.finish(WIDTH, base + 22.0, title, desc.trim_end_matches([' ', ',']))
}
