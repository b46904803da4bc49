//! The severity profile: a line an area, a column a step of the plain scale, every defect a number
//! where it stands. What is not settled spans the steps it may stand on.

use super::svg::{Letter, Paint, Svg, Tone};
use crate::report::language::Sentences;

/// A defect on the scale.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Mark {
    /// Its number.
    pub number: u32,
    /// Mildest step it may stand on, from 0.
    pub from: usize,
    /// Gravest step it may stand on.
    pub to: usize,
}

/// An area with its defects.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    /// What people call it.
    pub name: String,
    /// Its defects.
    pub marks: Vec<Mark>,
}

const WIDTH: f64 = 720.0;
const LEFT: f64 = 190.0;
const TOP: f64 = 26.0;
const DOT: f64 = 22.0;
const LINE: f64 = 26.0;

/// Draws the profile. `steps` name the scale, mildest first.
pub fn severity(
    rows: &[Row],
    steps: &[String],
    prefix: &str,
    title: &str,
    tongue: &Sentences,
) -> String {
    let mut svg = Svg::new(prefix);
    let n = steps.len().max(1);
    let wide = (WIDTH - LEFT) / n as f64;
    let x = |step: usize| LEFT + wide * step.min(n) as f64;
    let each = ((wide - 8.0) / (DOT + 8.0)).floor().max(1.0) as usize;
    let mut y = TOP;
    let mut told = Vec::new();
    for row in rows {
        // A line of dots for what is settled, more where a cell is full; a line each for the rest,
        // where the same span of steps shares a line.
        let mut lines: Vec<Vec<usize>> = Vec::new();
        let mut places = Vec::new();
        for mark in &row.marks {
            let (from, to) = (
                mark.from.min(n - 1),
                mark.to.min(n - 1).max(mark.from.min(n - 1)),
            );
            let free = |line: &Vec<usize>| {
                (from..=to).all(|s| {
                    let taken = line.get(s).copied().unwrap_or(0);
                    if from == to { taken < each } else { taken == 0 }
                })
            };
            let at = match lines.iter().position(free) {
                Some(at) => at,
                None => {
                    lines.push(vec![0; n]);
                    lines.len() - 1
                }
            };
            let Some(line) = lines.get_mut(at) else {
                continue;
            };
            let place = line.get(from).copied().unwrap_or(0);
            for s in from..=to {
                if let Some(taken) = line.get_mut(s) {
                    *taken = if from == to { *taken + 1 } else { each };
                }
            }
            places.push((*mark, from, to, at, place));
        }
        let name = Letter::new(12.0).bold();
        let words = name.wrap(&row.name, LEFT - 14.0, 2);
        let high = LINE * lines.len().max(1) as f64 + 8.0;
        let high = high.max(16.0 * words.len() as f64 + 10.0);
        for (i, line) in words.iter().enumerate() {
            svg.text(0.0, y + 20.0 + 15.0 * i as f64, name, line);
        }
        // Before the numbers, so that no line runs through one.
        for step in 0..steps.len() {
            svg.line(
                (x(step), y),
                (x(step), y + high),
                Paint::line(Tone::Hair, 0.8),
            );
        }
        for (mark, from, to, line, place) in places {
            let top = y + 5.0 + LINE * line as f64;
            let text = mark.number.to_string();
            let letter = Letter::new(11.0).bold().middle();
            if from == to {
                let left = x(from) + 6.0 + (DOT + 8.0) * place as f64;
                let w = DOT + 6.0;
                svg.pill(
                    left,
                    top,
                    w,
                    20.0,
                    10.0,
                    Paint::fill(Tone::Paper).edged(Tone::Ink, 1.4),
                );
                svg.text(left + w / 2.0, top + 14.0, letter, &text);
            } else {
                let (left, w) = (x(from) + 6.0, x(to + 1) - x(from) - 12.0);
                let paint = Paint::fill(Tone::Paper)
                    .edged(Tone::Alert, 1.3)
                    .dashed("4 3");
                svg.pill(left, top, w, 20.0, 10.0, paint);
                svg.text(left + w / 2.0, top + 14.0, letter.tone(Tone::Alert), &text);
            }
        }
        if row.marks.is_empty() {
            let letter = Letter::new(11.5).tone(Tone::Grey);
            svg.text(x(0) + 8.0, y + 20.0, letter, &tongue.turn("no defects"));
        }
        y += high;
        svg.line((0.0, y), (WIDTH, y), Paint::line(Tone::Hair, 0.6));
        let list: Vec<String> = row
            .marks
            .iter()
            .map(|m| {
                let step = |s: usize| steps.get(s).map_or("", String::as_str);
                if m.from == m.to {
                    format!("defect {} {}", m.number, step(m.from))
                } else {
                    format!("defect {} {} to {}", m.number, step(m.from), step(m.to))
                }
            })
            .collect();
        told.push(format!(
            "{}: {}",
            row.name,
            if list.is_empty() {
                "no defects".to_owned()
            } else {
                list.join(", ")
            }
        ));
    }
    for (i, step) in steps.iter().enumerate() {
        let letter = Letter::new(11.5).tone(Tone::Grey);
        svg.text(
            x(i) + 6.0,
            TOP - 10.0,
            letter,
            &letter.cut(step, wide - 8.0),
        );
        svg.line((x(i), TOP - 4.0), (x(i), TOP), Paint::line(Tone::Hair, 0.8));
    }
    svg.line((0.0, TOP), (WIDTH, TOP), Paint::line(Tone::Ink, 1.2));
    svg.finish(WIDTH, y + 4.0, title, &format!("{}.", told.join("; ")))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_defect_is_there_and_no_two_share_a_place() {
        let steps: Vec<String> = ["mild", "middling", "bad"].map(String::from).to_vec();
        let marks: Vec<Mark> = (1..=40)
            .map(|n| Mark {
                number: n,
                from: (n as usize) % 3,
                to: if n % 7 == 0 { 2 } else { (n as usize) % 3 },
            })
            .collect();
        let rows = [
            Row {
                name: "Upper <terrace>".into(),
                marks,
            },
            Row {
                name: "Path".into(),
                marks: Vec::new(),
            },
        ];
        let svg = severity(&rows, &steps, "s", "How bad", Sentences::none());
        assert!(svg.contains("Upper &lt;terrace&gt;") && svg.contains("Path: no defects"));
        for n in 1..=40 {
            assert_eq!(svg.matches(&format!(">{n}</text>")).count(), 1, "{n}");
        }
        // Pills are rectangles with `x` and `y`: no two may start at the same place.
        let mut starts: Vec<&str> = svg
            .split("<rect ")
            .skip(1)
            .filter(|r| r.contains("rx="))
            .filter_map(|r| r.split(" width").next())
            .collect();
        let all = starts.len();
        starts.sort_unstable();
        starts.dedup();
        assert_eq!((all, starts.len()), (40, 40));
        assert!(!severity(&[], &[], "s", "None", Sentences::none()).contains("NaN"));
    }
}
