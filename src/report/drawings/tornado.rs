//! What moves a choice: a bar an input, from its low to its high end, on both sides of where the
//! two options cost the same.

use super::svg::{Letter, Paint, Svg, Tone};
use crate::report::language::Sentences;

/// An input and what it does to the difference.
#[derive(Debug, Clone, PartialEq)]
pub struct Swing {
    /// The input.
    pub name: String,
    /// Difference with the input low.
    pub at_low: f64,
    /// Difference with the input high.
    pub at_high: f64,
    /// The input's low and high ends as printed.
    pub ends: (String, String),
    /// Where the choice flips, as printed.
    pub flips_at: Option<String>,
}

const WIDTH: f64 = 720.0;
const LEFT: f64 = 250.0;
const RIGHT: f64 = 40.0;
const ROW: f64 = 34.0;
const LINE: f64 = 14.0;

/// Draws the bars, widest first as given. `likely` is the difference with every input likely;
/// `title` and `desc` say what it shows to whoever cannot see it, `below` and `above` which option
/// is the cheaper on either side of zero.
pub fn tornado(
    swings: &[Swing],
    likely: f64,
    (below, above): (&str, &str),
    prefix: &str,
    title: &str,
    desc: &str,
    tongue: &Sentences,
) -> String {
    let mut svg = Svg::new(prefix);
    let ends = || {
        swings
            .iter()
            .flat_map(|s| [s.at_low, s.at_high])
            .chain([likely, 0.0])
            .filter(|x| x.is_finite())
    };
    let (lo, hi) = (ends().fold(0.0, f64::min), ends().fold(0.0, f64::max));
    let span = (hi - lo).max(1e-9);
    let x = |d: f64| LEFT + (WIDTH - LEFT - RIGHT) * ((d - lo) / span).clamp(0.0, 1.0);
    let top = 46.0;
    let letter = Letter::new(12.0);
    let names: Vec<Vec<String>> = swings
        .iter()
        .map(|s| letter.wrap(&tongue.turn(&s.name), LEFT - 14.0, 2))
        .collect();
    let high = |lines: &[String]| ROW + LINE * (lines.len().max(1) - 1) as f64;
    let bottom = top + names.iter().map(|n| high(n)).sum::<f64>().max(ROW);
    let hatch = svg.pattern("flip", 6.0, 6.0, "M0 6L6 0", false, 0.9);
    let small = Letter::new(11.0);
    let mut y = top;
    for (s, lines) in swings.iter().zip(&names) {
        for (n, line) in lines.iter().enumerate() {
            svg.text(4.0, y + 15.0 + LINE * n as f64, letter, line);
        }
        let more = high(lines) - ROW;
        svg.text(
            4.0,
            y + 28.0 + more,
            small.tone(Tone::Grey),
            &tongue.turn(&format!("{} to {}", s.ends.0, s.ends.1)),
        );
        let (a, b) = (s.at_low.min(s.at_high), s.at_low.max(s.at_high));
        let (from, to) = (x(a), x(b));
        svg.rect(
            from,
            y + 6.0,
            (to - from).max(1.0),
            16.0,
            Paint::fill(Tone::Tint).edged(Tone::Ink, 0.8),
        );
        // The part beyond zero is where the choice is the other one.
        if a < 0.0 && b > 0.0 {
            let (start, end) = if likely >= 0.0 {
                (from, x(0.0))
            } else {
                (x(0.0), to)
            };
            svg.rect(
                start,
                y + 6.0,
                end - start,
                16.0,
                Paint::hatch(&hatch).edged(Tone::Ink, 0.8),
            );
        }
        if let Some(flip) = &s.flips_at {
            svg.text(
                x(0.0) + 4.0,
                y + 33.0,
                small,
                &tongue.turn(&format!("flips at {flip}")),
            );
        }
        y += high(lines);
    }
    svg.line(
        (x(0.0), top - 6.0),
        (x(0.0), bottom),
        Paint::line(Tone::Ink, 1.6),
    );
    svg.line(
        (x(likely), top - 6.0),
        (x(likely), bottom),
        Paint::line(Tone::Grey, 1.0).dashed("4 3"),
    );
    svg.text(
        x(0.0) - 6.0,
        top - 26.0,
        small.end(),
        &tongue.turn(&format!("← {below} is cheaper")),
    );
    svg.text(
        x(0.0) + 6.0,
        top - 12.0,
        small,
        &tongue.turn(&format!("{above} is cheaper →")),
    );
    svg.rect(
        LEFT,
        bottom + 10.0,
        20.0,
        12.0,
        Paint::hatch(&hatch).edged(Tone::Ink, 0.7),
    );
    svg.text(
        LEFT + 26.0,
        bottom + 20.0,
        small,
        &tongue.turn("the other choice; dashed: all inputs likely"),
    );
    svg.finish(WIDTH, bottom + 30.0, title, desc)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_input_that_flips_the_choice_is_hatched_and_named() {
        let swing = |name: &str, at_low, at_high, flips: Option<&str>| Swing {
            name: name.into(),
            at_low,
            at_high,
            ends: ("1".into(), "2".into()),
            flips_at: flips.map(str::to_owned),
        };
        let svg = tornado(
            &[
                swing("life", -50.0, 100.0, Some("14")),
                swing("cost", 10.0, 40.0, None),
                swing("nothing", f64::NAN, 3.0, None),
            ],
            20.0,
            ("repair", "replace"),
            "t",
            "What moves it",
            "Two inputs",
            Sentences::none(),
        );
        assert_eq!(svg.matches("flips at").count(), 1);
        assert!(
            svg.contains("repair is cheaper") && !svg.contains("NaN"),
            "{svg}"
        );
    }
}
