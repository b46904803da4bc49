//! The pour as bars over time: a line a person, a bar a task, stop lines and the patterning.

use super::svg::{Letter, Paint, Svg, Tone};
use crate::report::language::Sentences;

/// A task as drawn.
#[derive(Debug, Clone, Copy)]
pub struct Bar {
    /// Line it lies on.
    pub line: usize,
    /// Start, minutes.
    pub from: f64,
    /// End, minutes.
    pub to: f64,
    /// Which kind of task: picks the hatch, in the order of the legend.
    pub kind: usize,
    /// Whether it overruns the working time.
    pub late: bool,
}

/// What is drawn.
#[derive(Debug, Clone)]
pub struct Timeline {
    /// Name of each line.
    pub lines: Vec<String>,
    /// Names of the kinds of task.
    pub kinds: Vec<String>,
    /// The bars.
    pub bars: Vec<Bar>,
    /// Moments at which a bay ends, minutes.
    pub stops: Vec<f64>,
    /// Whether it is drawn for half a page's width, in letters that stay legible there.
    pub narrow: bool,
}

const ROW: f64 = 22.0;
/// Room on the right for half of the last mark's letters.
const RIGHT: f64 = 20.0;

/// Draws the pour. `title` and `desc` say what it shows to whoever cannot see it.
pub fn pour(t: &Timeline, prefix: &str, title: &str, desc: &str, tongue: &Sentences) -> String {
    let (width, indent, most) = if t.narrow {
        (400.0, 78.0, 6.0)
    } else {
        (720.0, 120.0, 9.0)
    };
    let mut svg = Svg::new(prefix);
    let hatches = [
        svg.pattern("mix", 6.0, 6.0, "M0 6L6 0", false, 0.9),
        svg.pattern("haul", 5.0, 5.0, "M2 0L2 5", false, 0.9),
        svg.pattern("spread", 6.0, 6.0, "M0 3L6 3", false, 0.9),
        svg.pattern("finish", 6.0, 6.0, "M0 0L6 6M0 6L6 0", false, 0.7),
        svg.pattern("pattern", 7.0, 7.0, "M1 1L3 1L3 3L1 3Z", true, 0.9),
    ];
    let end = t
        .bars
        .iter()
        .map(|b| b.to)
        .filter(|x| x.is_finite())
        .fold(1.0, f64::max);
    let step = nice_step(end, most);
    let last = (end / step).ceil().max(1.0) * step;
    let x = |minutes: f64| indent + (width - indent - RIGHT) * (minutes / last).clamp(0.0, 1.0);
    let top = 30.0;
    let bottom = top + ROW * t.lines.len().max(1) as f64;
    let ticks = (last / step).round() as usize;
    for i in 0..=ticks {
        let minutes = step * i as f64;
        svg.line(
            (x(minutes), top - 6.0),
            (x(minutes), bottom),
            Paint::line(Tone::Hair, 0.6),
        );
        svg.text(
            x(minutes),
            top - 10.0,
            Letter::new(11.0).tone(Tone::Grey).middle(),
            &clock(minutes),
        );
    }
    for (i, name) in t.lines.iter().enumerate() {
        let y = top + ROW * i as f64;
        let letter = Letter::new(12.0);
        svg.text(
            4.0,
            y + 15.0,
            letter,
            &letter.cut(&tongue.turn(name), indent - 8.0),
        );
        svg.line(
            (indent, y + ROW),
            (width - RIGHT, y + ROW),
            Paint::line(Tone::Hair, 0.5),
        );
    }
    for bar in t
        .bars
        .iter()
        .filter(|b| b.line < t.lines.len() && b.to.is_finite() && b.from.is_finite())
    {
        let y = top + ROW * bar.line as f64 + 4.0;
        let w = (x(bar.to) - x(bar.from)).max(0.8);
        let hatch = hatches
            .get(bar.kind.min(hatches.len() - 1))
            .map_or("", String::as_str);
        let tone = if bar.late { Tone::Alert } else { Tone::Ink };
        svg.rect(x(bar.from), y, w, ROW - 8.0, Paint::fill(Tone::Paper));
        svg.rect(
            x(bar.from),
            y,
            w,
            ROW - 8.0,
            Paint::hatch(hatch).edged(tone, if bar.late { 1.6 } else { 0.7 }),
        );
        if bar.late {
            svg.text(
                x(bar.from) + w / 2.0,
                y + 11.0,
                Letter::new(11.0).bold().tone(Tone::Alert).middle(),
                "!",
            );
        }
    }
    for stop in &t.stops {
        svg.line(
            (x(*stop), top - 4.0),
            (x(*stop), bottom + 4.0),
            Paint::line(Tone::Ink, 1.4).dashed("5 3"),
        );
    }
    // The legend, in as many lines as it takes.
    let letter = Letter::new(11.0);
    let from = if t.narrow { 4.0 } else { indent };
    let (mut at, mut y) = (from, bottom + 14.0);
    let mut place = |words: &str| {
        let wide = 25.0 + letter.width(words) + 14.0;
        if at + wide > width + 14.0 && at > from {
            (at, y) = (from, y + 18.0);
        }
        let here = (at, y);
        at += wide;
        here
    };
    let mut low = bottom + 14.0;
    for (i, kind) in t.kinds.iter().enumerate() {
        // What nobody does needs no key.
        if !t.bars.iter().any(|b| b.kind == i) {
            continue;
        }
        let kind = &tongue.turn(kind);
        let (at, y) = place(kind);
        low = y;
        let hatch = hatches
            .get(i.min(hatches.len() - 1))
            .map_or("", String::as_str);
        svg.rect(at, y, 20.0, 12.0, Paint::hatch(hatch).edged(Tone::Ink, 0.7));
        svg.text(at + 25.0, y + 10.0, letter, kind);
    }
    if !t.stops.is_empty() {
        let words = &tongue.turn("stop at a joint");
        let (at, y) = place(words);
        low = y;
        svg.line(
            (at, y + 6.0),
            (at + 20.0, y + 6.0),
            Paint::line(Tone::Ink, 1.4).dashed("5 3"),
        );
        svg.text(at + 25.0, y + 10.0, letter, words);
    }
    svg.finish(width, low + 20.0, title, desc)
}

/// Hours and minutes, `1:05`.
pub fn clock(minutes: f64) -> String {
    let whole = minutes.max(0.0).round();
    format!("{}:{:02}", (whole / 60.0).floor(), (whole % 60.0).round())
}

/// A step of 5 to 60 minutes or whole hours that gives at most so many marks.
fn nice_step(end: f64, most: f64) -> f64 {
    [5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 240.0]
        .into_iter()
        .find(|s| end / s <= most)
        .unwrap_or_else(|| (end / (most - 1.0) / 60.0).ceil() * 60.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_task_is_a_bar_and_late_ones_are_marked() {
        let bar = |line, from, to, kind, late| Bar {
            line,
            from,
            to,
            kind,
            late,
        };
        let t = Timeline {
            lines: vec!["one".into(), "two".into()],
            kinds: vec!["mixing".into(), "carrying".into()],
            bars: vec![
                bar(0, 0.0, 5.0, 0, false),
                bar(1, 5.0, 7.0, 1, true),
                bar(9, 0.0, f64::NAN, 1, false),
            ],
            stops: vec![7.0],
            narrow: false,
        };
        let svg = pour(&t, "t", "The pour", "Two tasks", Sentences::none());
        assert!(svg.contains("<title") && svg.contains("The pour"));
        assert_eq!(svg.matches(">!<").count(), 1);
        assert!(svg.contains("stop at a joint"));
        let narrow = pour(
            &Timeline { narrow: true, ..t },
            "t",
            "The pour",
            "Two tasks",
            Sentences::none(),
        );
        assert!(narrow.contains("width=\"400\"") && narrow.contains("stop at a joint"));
    }

    #[test]
    fn times_are_written_as_hours_and_minutes() {
        assert_eq!(
            [clock(0.0), clock(65.4), clock(-3.0), clock(600.0)],
            ["0:00", "1:05", "0:00", "10:00"]
        );
        assert_eq!(nice_step(40.0, 9.0), 5.0);
        assert_eq!(nice_step(5000.0, 9.0), 660.0);
    }
}
