//! What speaks for and against each cause, as bars from a middle line.

use super::svg::{Letter, Paint, Svg, Tone};
use crate::report::language::Sentences;

/// One cause as drawn.
#[derive(Debug, Clone)]
pub struct Bar {
    /// Name in plain words.
    pub name: String,
    /// Weight before any sign; negative speaks against.
    pub before: f64,
    /// Weights of the signs seen; negative speaks against.
    pub seen: Vec<f64>,
    /// Weights of signs that were not looked for or not settled.
    pub unknown: Vec<f64>,
    /// Where the cause comes out, least and greatest.
    pub sum: (f64, f64),
    /// `likely`, `possible` … for the end of the line.
    pub standing: String,
    /// Whether a sign rules it out.
    pub ruled_out: bool,
}

const WIDTH: f64 = 720.0;
const NAMES: f64 = 214.0;
const STANDING: f64 = 158.0;

/// Draws the bars. `prefix` starts the ids inside the drawing.
pub fn bars(bars: &[Bar], prefix: &str, title: &str, tongue: &Sentences) -> String {
    let mut svg = Svg::new(prefix);
    let against = svg.pattern(
        "against",
        6.0,
        6.0,
        "M-1 7L7 -1M-1 1L1 -1M5 7L7 5",
        false,
        1.3,
    );
    let before = svg.pattern("before", 4.0, 4.0, "M1 1h1v1h-1z", true, 0.0);
    let finite = |v: f64| if v.is_finite() { v } else { 0.0 };
    // Each side's greatest sum sets the scale; it never gets finer than one unit of log-odds.
    let most = bars
        .iter()
        .map(|b| {
            let side = |sign: f64| -> f64 {
                b.seen
                    .iter()
                    .chain(&b.unknown)
                    .chain(std::iter::once(&b.before))
                    .map(|w| (finite(*w) * sign).max(0.0))
                    .sum()
            };
            side(1.0).max(side(-1.0))
        })
        .fold(1.0, f64::max);
    let middle = NAMES + (WIDTH - NAMES - STANDING) / 2.0;
    let unit = ((WIDTH - NAMES - STANDING) / 2.0 - 10.0) / most;
    let letter = Letter::new(13.0);
    let small = Letter::new(11.5).tone(Tone::Grey);
    let top = 26.0;
    svg.text(
        middle - 8.0,
        14.0,
        small.end(),
        &tongue.turn("speaks against"),
    );
    svg.text(middle + 8.0, 14.0, small, &tongue.turn("speaks for"));
    let mut y = top;
    let mut desc = String::new();
    for bar in bars {
        let lines = letter.wrap(&bar.name, NAMES - 14.0, 3);
        let height = (16.0 * lines.len() as f64).max(22.0) + 10.0;
        let (mid, thick) = (y + height / 2.0, 14.0);
        let first = mid - 8.0 * (lines.len() as f64 - 1.0) + 4.5;
        for (k, line) in lines.iter().enumerate() {
            svg.text(NAMES - 10.0, first + 16.0 * k as f64, letter.end(), line);
        }
        let mut ends = (middle, middle);
        let mut piece = |svg: &mut Svg, weight: f64, style: Piece| {
            let w = finite(weight);
            let length = w.abs() * unit;
            if length < 0.3 {
                return;
            }
            let x = if w > 0.0 {
                ends.1 += length;
                ends.1 - length
            } else {
                ends.0 -= length;
                ends.0
            };
            let paint = match style {
                Piece::Before => Paint::hatch(&before).edged(Tone::Grey, 0.8),
                Piece::Seen if w > 0.0 => Paint::fill(Tone::Ink).edged(Tone::Paper, 1.0),
                Piece::Seen => Paint::hatch(&against).edged(Tone::Ink, 1.0),
                Piece::Unknown => Paint::fill(Tone::Paper)
                    .edged(Tone::Grey, 1.0)
                    .dashed("3 2.5"),
            };
            svg.rect(x, mid - thick / 2.0, length, thick, paint);
        };
        piece(&mut svg, bar.before, Piece::Before);
        for w in &bar.seen {
            piece(&mut svg, *w, Piece::Seen);
        }
        for w in &bar.unknown {
            piece(&mut svg, *w, Piece::Unknown);
        }
        let held = |v: f64| {
            (middle + v.clamp(-most, most) * unit).clamp(NAMES + 2.0, WIDTH - STANDING - 2.0)
        };
        let clean = |v: f64, or: f64| if v.is_nan() { or } else { v };
        let (lo, hi) = (held(clean(bar.sum.0, 0.0)), held(clean(bar.sum.1, 0.0)));
        if !bar.ruled_out {
            let under = mid + thick / 2.0 + 4.0;
            if hi - lo > 3.0 {
                svg.line((lo, under), (hi, under), Paint::line(Tone::Ink, 1.4));
            }
            for x in [lo, hi] {
                svg.path(
                    &[
                        (x, under - 3.6),
                        (x + 3.6, under),
                        (x, under + 3.6),
                        (x - 3.6, under),
                    ],
                    true,
                    Paint::fill(Tone::Paper).edged(Tone::Ink, 1.4),
                );
            }
        }
        let words = &tongue.turn(if bar.ruled_out {
            "ruled out"
        } else {
            &bar.standing
        });
        let at_end = if bar.ruled_out {
            letter.bold().tone(Tone::Alert)
        } else {
            letter.bold()
        };
        let told = at_end.wrap(words, STANDING - 16.0, 2);
        let first = mid - 8.0 * (told.len() as f64 - 1.0) + 4.5;
        for (k, line) in told.iter().enumerate() {
            svg.text(
                WIDTH - STANDING + 14.0,
                first + 16.0 * k as f64,
                at_end,
                line,
            );
        }
        desc.push_str(&format!("{}: {}. ", bar.name, words));
        y += height;
    }
    svg.line(
        (middle, top - 4.0),
        (middle, y + 2.0),
        Paint::line(Tone::Ink, 1.2),
    );
    y += 12.0;
    let mut x = 4.0;
    for (words, style) in [
        ("sign for", 0),
        ("sign against", 1),
        ("usual case, before any sign", 2),
        ("sign not known yet", 3),
        ("where it comes out", 4),
    ] {
        let words = &tongue.turn(words);
        match style {
            0 => svg.rect(x, y, 22.0, 12.0, Paint::fill(Tone::Ink)),
            1 => svg.rect(
                x,
                y,
                22.0,
                12.0,
                Paint::hatch(&against).edged(Tone::Ink, 1.0),
            ),
            2 => svg.rect(
                x,
                y,
                22.0,
                12.0,
                Paint::hatch(&before).edged(Tone::Grey, 0.8),
            ),
            3 => svg.rect(
                x,
                y,
                22.0,
                12.0,
                Paint::fill(Tone::Paper)
                    .edged(Tone::Grey, 1.0)
                    .dashed("3 2.5"),
            ),
            _ => svg.path(
                &[
                    (x + 16.0, y + 2.0),
                    (x + 20.0, y + 6.0),
                    (x + 16.0, y + 10.0),
                    (x + 12.0, y + 6.0),
                ],
                true,
                Paint::fill(Tone::Paper).edged(Tone::Ink, 1.4),
            ),
        }
        svg.text(x + 27.0, y + 10.5, small, words);
        x += 27.0 + small.width(words) + 14.0;
    }
    svg.finish(WIDTH, y + 20.0, title, desc.trim())
}

#[derive(Clone, Copy)]
enum Piece {
    Before,
    Seen,
    Unknown,
}
