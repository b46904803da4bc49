//! Options side by side: what each costs now, how long it lasts, what it costs a year. Ranges as
//! bars, the likely figure as a mark in each.

use super::svg::{Letter, Paint, Svg, Tone};
use crate::report::language::Sentences;

/// A span with its likely value.
#[derive(Debug, Clone, PartialEq)]
pub struct Span {
    /// Least.
    pub low: f64,
    /// Likely.
    pub likely: f64,
    /// Greatest.
    pub high: f64,
    /// As printed.
    pub words: String,
}

/// An option as drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// What it is.
    pub name: String,
    /// Cost now, life, cost a year, in the order of the heads.
    pub spans: [Span; 3],
    /// Whether it costs least a year, or can't be told from what does.
    pub best: bool,
}

const WIDTH: f64 = 720.0;
const LEFT: f64 = 170.0;
const GUTTER: f64 = 16.0;
const ROW: f64 = 46.0;
const TOP: f64 = 26.0;

/// Draws the options. `heads` name the three columns.
pub fn options(
    rows: &[Row],
    heads: [&str; 3],
    prefix: &str,
    title: &str,
    tongue: &Sentences,
) -> String {
    let mut svg = Svg::new(prefix);
    let hatch = svg.pattern("span", 4.0, 4.0, "M0 4L4 0", false, 0.7);
    let wide = (WIDTH - LEFT - 2.0 * GUTTER) / 3.0;
    let bottom = TOP + ROW * rows.len() as f64;
    let mut told = Vec::new();
    for (c, head) in heads.iter().enumerate() {
        let left = LEFT + (wide + GUTTER) * c as f64;
        let letter = Letter::new(11.5).tone(Tone::Grey);
        svg.text(
            left,
            TOP - 10.0,
            letter,
            &letter.cut(&tongue.turn(head), wide),
        );
        svg.line((left, TOP), (left, bottom), Paint::line(Tone::Ink, 1.0));
        let finite = |x: f64| x.is_finite().then_some(x.max(0.0));
        let most = rows
            .iter()
            .filter_map(|r| finite(r.spans.get(c)?.high))
            .fold(0.0, f64::max);
        let scale = if most > 0.0 { (wide - 4.0) / most } else { 0.0 };
        for (i, row) in rows.iter().enumerate() {
            let Some(span) = row.spans.get(c) else {
                continue;
            };
            let y = TOP + ROW * i as f64;
            let small = Letter::new(11.0);
            svg.text(
                left + 5.0,
                y + 38.0,
                small,
                &small.cut(&tongue.turn(&span.words), wide - 6.0),
            );
            let (Some(low), Some(likely), Some(high)) =
                (finite(span.low), finite(span.likely), finite(span.high))
            else {
                continue;
            };
            let (a, b) = (left + low * scale, left + high.max(low) * scale);
            let paint = if row.best {
                Paint::fill(Tone::Tint).edged(Tone::Ink, 1.6)
            } else {
                Paint::hatch(&hatch).edged(Tone::Grey, 0.8)
            };
            svg.rect(a, y + 8.0, (b - a).max(2.0), 15.0, paint);
            let at = left + likely * scale;
            svg.line((at, y + 4.0), (at, y + 27.0), Paint::line(Tone::Ink, 2.4));
        }
    }
    for (i, row) in rows.iter().enumerate() {
        let y = TOP + ROW * i as f64;
        let letter = if row.best {
            Letter::new(12.0).bold()
        } else {
            Letter::new(12.0)
        };
        for (n, line) in letter
            .wrap(&tongue.turn(&row.name), LEFT - 12.0, 2)
            .iter()
            .enumerate()
        {
            svg.text(0.0, y + 19.0 + 14.0 * n as f64, letter, line);
        }
        svg.line(
            (0.0, y + ROW),
            (WIDTH, y + ROW),
            Paint::line(Tone::Hair, 0.6),
        );
        let words: Vec<String> = heads
            .iter()
            .zip(&row.spans)
            .map(|(h, s)| format!("{}: {}", h.to_lowercase(), s.words))
            .collect();
        told.push(format!("{}: {}", row.name, words.join(", ")));
    }
    let y = bottom + 18.0;
    let small = Letter::new(10.5).tone(Tone::Grey);
    svg.line(
        (LEFT + 6.0, y - 11.0),
        (LEFT + 6.0, y + 1.0),
        Paint::line(Tone::Ink, 2.4),
    );
    svg.text(
        LEFT + 14.0,
        y - 1.0,
        small,
        &tongue.turn("the likely figure; each bar runs from the least to the most"),
    );
    let mut end = y + 8.0;
    if rows.iter().any(|r| r.best) {
        svg.text(
            LEFT + 14.0,
            y + 14.0,
            small,
            &tongue.turn("bold: mends it for the least cost a year, or too near that to tell"),
        );
        end += 15.0;
    }
    svg.finish(WIDTH, end, title, &format!("{}.", told.join("; ")))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn span(low: f64, likely: f64, high: f64, words: &str) -> Span {
        Span {
            low,
            likely,
            high,
            words: words.into(),
        }
    }

    #[test]
    fn every_option_shows_its_three_spans_and_odd_numbers_do_no_harm() {
        let rows = [
            Row {
                name: "Repair & seal".into(),
                spans: [
                    span(10.0, 20.0, 40.0, "10 to 40"),
                    span(5.0, 8.0, 10.0, "5 to 10 years"),
                    span(1.0, 2.0, 4.0, "1 to 4"),
                ],
                best: true,
            },
            Row {
                name: "Odd".into(),
                spans: [
                    span(0.0, 0.0, 0.0, "nothing"),
                    span(f64::NAN, 1.0, 2.0, "unknown"),
                    span(5.0, f64::INFINITY, 1.0, "much"),
                ],
                best: false,
            },
        ];
        let svg = options(
            &rows,
            ["Cost now", "Life", "Cost a year"],
            "c",
            "Options",
            Sentences::none(),
        );
        assert!(svg.contains("Repair &amp; seal") && svg.contains("unknown"));
        assert!(svg.contains("life: 5 to 10 years"));
        assert!(!svg.contains("NaN") && !svg.contains("inf"));
        assert!(!options(&[], ["a", "b", "c"], "c", "None", Sentences::none()).contains("NaN"));
    }
}
