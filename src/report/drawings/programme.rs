//! The programme as bars over the days: work and waits, what the length hangs on, and the slack of
//! the rest.

use super::svg::{Letter, Paint, Svg, Tone};
use crate::report::language::Sentences;

/// An activity as drawn. Days count from the first day of the job.
#[derive(Debug, Clone, PartialEq)]
pub struct Bar {
    /// What is done.
    pub name: String,
    /// First day, from 0.
    pub from: f64,
    /// Day after the last.
    pub to: f64,
    /// Whether it is a wait.
    pub wait: bool,
    /// Whether the length of the job hangs on it.
    pub critical: bool,
}

const WIDTH: f64 = 720.0;
const LEFT: f64 = 300.0;
const RIGHT: f64 = 16.0;
const ROW: f64 = 22.0;
const TOP: f64 = 30.0;
/// Height of a further line of a name, pixels.
const LINE: f64 = 13.0;
/// Most rows drawn: the table beside the drawing has them all.
const MOST: usize = 60;

/// Draws the programme. `day` names a day by its number, for the marks along the top.
pub fn programme(
    bars: &[Bar],
    day: impl Fn(i64) -> String,
    prefix: &str,
    title: &str,
    tongue: &Sentences,
) -> String {
    let mut svg = Svg::new(prefix);
    let wait = svg.pattern("wait", 5.0, 5.0, "M0 5L5 0", false, 0.8);
    let bars: Vec<&Bar> = bars
        .iter()
        .filter(|b| b.from.is_finite() && b.to.is_finite())
        .take(MOST)
        .collect();
    let end = bars.iter().map(|b| b.to).fold(1.0, f64::max);
    let step = step(end);
    let last = (end / step).ceil().max(1.0) * step;
    let x = |days: f64| LEFT + (WIDTH - LEFT - RIGHT) * (days / last).clamp(0.0, 1.0);
    let letter = |bar: &Bar| {
        let plain = Letter::new(11.5);
        if bar.critical { plain.bold() } else { plain }
    };
    let names: Vec<Vec<String>> = bars
        .iter()
        .map(|b| letter(b).wrap(&tongue.turn(&b.name), LEFT - 10.0, 3))
        .collect();
    let high = |lines: &[String]| ROW + LINE * (lines.len().max(1) - 1) as f64;
    let bottom = TOP + names.iter().map(|n| high(n)).sum::<f64>().max(ROW);
    let marks = (last / step).round() as i64;
    // Where a day's name is wider than its column, every second, third … is named.
    let days = Letter::new(10.5).tone(Tone::Grey);
    let called: Vec<String> = (0..marks)
        .map(|i| tongue.turn(&day((i as f64 * step) as i64)))
        .collect();
    let widest = called.iter().map(|d| days.width(d)).fold(0.0, f64::max);
    let every = ((widest + 4.0) / (x(step) - x(0.0)).max(1.0))
        .ceil()
        .max(1.0) as usize;
    for i in 0..=marks {
        let at = x(i as f64 * step);
        svg.line((at, TOP - 6.0), (at, bottom), Paint::line(Tone::Hair, 0.6));
    }
    // The mark at the end stands for the day after.
    for (i, name) in called.iter().enumerate().step_by(every) {
        svg.text(x(i as f64 * step) + 2.0, TOP - 10.0, days, name);
    }
    let mut y = TOP;
    for (bar, lines) in bars.iter().zip(&names) {
        let row = high(lines);
        for (n, line) in lines.iter().enumerate() {
            svg.text(0.0, y + 15.0 + LINE * n as f64, letter(bar), line);
        }
        svg.line(
            (0.0, y + row),
            (WIDTH - RIGHT, y + row),
            Paint::line(Tone::Hair, 0.5),
        );
        let (from, w) = (x(bar.from), (x(bar.to) - x(bar.from)).max(2.0));
        let (at, h) = (y + (row - ROW) / 2.0 + 5.0, ROW - 10.0);
        if bar.wait {
            svg.rect(from, at, w, h, Paint::fill(Tone::Paper));
            let edge = if bar.critical { 1.6 } else { 0.7 };
            svg.rect(from, at, w, h, Paint::hatch(&wait).edged(Tone::Ink, edge));
        } else {
            let tone = if bar.critical { Tone::Ink } else { Tone::Tint };
            svg.rect(from, at, w, h, Paint::fill(tone).edged(Tone::Ink, 0.9));
        }
        y += row;
    }
    let y = bottom + 14.0;
    let mut at = LEFT;
    let small = Letter::new(10.5);
    let keys: [(&str, Paint<'_>); 3] = [
        (
            "work the length hangs on",
            Paint::fill(Tone::Ink).edged(Tone::Ink, 0.9),
        ),
        ("other work", Paint::fill(Tone::Tint).edged(Tone::Ink, 0.9)),
        ("wait", Paint::hatch(&wait).edged(Tone::Ink, 0.7)),
    ];
    for (name, paint) in keys {
        let name = &tongue.turn(name);
        svg.rect(at, y, 20.0, 10.0, paint);
        svg.text(at + 25.0, y + 9.0, small, name);
        at += 25.0 + small.width(name) + 14.0;
    }
    let critical: Vec<String> = bars
        .iter()
        .filter(|b| b.critical)
        .map(|b| tongue.turn(&b.name))
        .collect();
    let desc = format!(
        "{} activities over {:.0} days. The length hangs on: {}.",
        bars.len(),
        end.ceil(),
        critical.join(&format!(", {} ", tongue.turn("then")))
    );
    svg.finish(WIDTH, y + 18.0, title, &desc)
}

/// Days between marks: one, or whole weeks where there are many.
fn step(end: f64) -> f64 {
    [1.0, 2.0, 7.0, 14.0, 28.0]
        .into_iter()
        .find(|s| end / s <= 8.0)
        .unwrap_or_else(|| (end / 8.0 / 7.0).ceil() * 7.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bar(name: &str, from: f64, to: f64, wait: bool, critical: bool) -> Bar {
        Bar {
            name: name.into(),
            from,
            to,
            wait,
            critical,
        }
    }

    #[test]
    fn work_waits_and_the_critical_path_can_be_told_apart() {
        let bars = [
            bar("Grind", 0.0, 1.0, false, true),
            bar("Dry", 1.0, 3.0, true, true),
            bar("Clean <up>", 0.0, 1.0, false, false),
            bar("lost", f64::NAN, 2.0, false, false),
        ];
        let svg = programme(
            &bars,
            |d| format!("day {d}"),
            "p",
            "The days",
            Sentences::none(),
        );
        assert!(svg.contains("Clean &lt;up&gt;") && !svg.contains("lost"));
        assert!(svg.contains("hangs on: Grind, then Dry."));
        assert!(svg.contains("day 0") && svg.contains("day 2"));
        assert!(!svg.contains("NaN"));
    }

    #[test]
    fn marks_stay_apart_however_long_the_job() {
        assert_eq!(
            [step(5.0), step(12.0), step(30.0), step(300.0)],
            [1.0, 2.0, 7.0, 42.0]
        );
        let empty = programme(&[], |d| d.to_string(), "p", "None", Sentences::none());
        assert!(!empty.contains("NaN") && !empty.contains("inf"));
    }
}
