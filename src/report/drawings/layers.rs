//! The section through the layers, and the room between what asks for thickness and what forbids it.

use super::svg::{Letter, Paint, Svg, Tone, num};
use crate::report::language::Sentences;

/// A layer of the section, from the top down.
#[derive(Debug, Clone)]
pub struct Layer {
    /// What it is.
    pub name: String,
    /// Thickness or other figure, as printed; may be empty.
    pub figure: String,
    /// How it is drawn.
    pub body: Body,
}

/// How a layer is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Body {
    /// Sealer: a thin line.
    Film,
    /// New overlay, topping or resurfacing.
    New,
    /// Bonding coat.
    Bond,
    /// The old slab, with stones; its top is roughened.
    Slab,
    /// The ground beneath.
    Ground,
}

/// Draws the section. Thin layers are drawn thicker than they are, which the drawing says.
pub fn section(layers: &[Layer], prefix: &str, title: &str, tongue: &Sentences) -> String {
    const WIDTH: f64 = 720.0;
    const LEFT: f64 = 8.0;
    const BLOCK: f64 = 330.0;
    let mut svg = Svg::new(prefix);
    let stones = svg.pattern(
        "stones",
        46.0,
        38.0,
        "M6 8L13 5L17 11L10 15ZM28 22L37 19L40 28L30 31ZM33 4L39 3L40 9L34 9ZM8 27L14 25L16 31L9 33Z",
        false,
        1.0,
    );
    let grains = svg.pattern(
        "grains",
        7.0,
        7.0,
        "M1 1h1.2v1.2h-1.2zM4.5 4.5h1.2v1.2h-1.2z",
        true,
        0.0,
    );
    let bond = svg.pattern("bond", 6.0, 6.0, "M0 6L6 0", false, 1.4);
    let earth = svg.pattern(
        "earth",
        16.0,
        12.0,
        "M1 11L7 3M6 11L12 3M11 11L17 3",
        false,
        0.8,
    );
    let letter = Letter::new(13.5);
    let grey = Letter::new(12.5).tone(Tone::Grey);
    let height = |body: Body| match body {
        Body::Film => 6.0,
        Body::New => 44.0,
        Body::Bond => 11.0,
        Body::Slab => 112.0,
        Body::Ground => 34.0,
    };
    let mut y = 10.0;
    let mut labels: Vec<(f64, Vec<(String, bool)>)> = Vec::new();
    let mut desc = String::from("From the top down: ");
    for layer in layers {
        let (name, figure) = (tongue.turn(&layer.name), tongue.turn(&layer.figure));
        let h = height(layer.body);
        match layer.body {
            Body::Film => svg.rect(LEFT, y, BLOCK, h, Paint::fill(Tone::Grey)),
            Body::New => {
                svg.rect(LEFT, y, BLOCK, h, Paint::fill(Tone::Paper));
                svg.rect(
                    LEFT,
                    y,
                    BLOCK,
                    h,
                    Paint::hatch(&grains).edged(Tone::Ink, 1.6),
                );
            }
            Body::Bond => {
                svg.rect(LEFT, y, BLOCK, h, Paint::fill(Tone::Paper));
                svg.rect(LEFT, y, BLOCK, h, Paint::hatch(&bond).edged(Tone::Ink, 0.8));
            }
            Body::Slab => {
                // A roughened top: the profile that the new layer grips.
                let mut d = format!("M{} {}", num(LEFT), num(y));
                let mut x = LEFT;
                let mut k = 0;
                while x < LEFT + BLOCK - 8.0 {
                    x += 8.0;
                    k += 1;
                    let dip = [3.5, 0.5, 4.5, 1.5, 2.8][k % 5];
                    d.push_str(&format!("L{} {}", num(x), num(y + dip)));
                }
                d.push_str(&format!(
                    "L{} {}L{} {}L{} {}Z",
                    num(LEFT + BLOCK),
                    num(y),
                    num(LEFT + BLOCK),
                    num(y + h),
                    num(LEFT),
                    num(y + h)
                ));
                svg.raw_path(&d, Paint::fill(Tone::Tint));
                svg.raw_path(&d, Paint::hatch(&stones).edged(Tone::Ink, 1.6));
            }
            Body::Ground => svg.rect(LEFT, y, BLOCK, h, Paint::hatch(&earth)),
        }
        let mut lines: Vec<(String, bool)> = letter
            .bold()
            .wrap(&name, WIDTH - BLOCK - 60.0, 2)
            .into_iter()
            .map(|l| (l, true))
            .collect();
        if !figure.is_empty() {
            lines.extend(
                grey.wrap(&figure, WIDTH - BLOCK - 60.0, 2)
                    .into_iter()
                    .map(|l| (l, false)),
            );
        }
        labels.push((y + h / 2.0, lines));
        desc.push_str(&layer.name);
        if !layer.figure.is_empty() {
            desc.push_str(&format!(" ({})", layer.figure));
        }
        desc.push_str("; ");
        y += h;
    }
    let mut next = 14.0_f64;
    for (mid, lines) in &labels {
        let tall = 17.0 * lines.len() as f64;
        let top = (mid - tall / 2.0).max(next);
        let anchor = top + 12.0;
        svg.path(
            &[
                (LEFT + BLOCK + 3.0, *mid),
                (LEFT + BLOCK + 14.0, *mid),
                (LEFT + BLOCK + 32.0, anchor - 4.0),
            ],
            false,
            Paint::line(Tone::Grey, 1.0),
        );
        for (k, (line, bold)) in lines.iter().enumerate() {
            let style = if *bold { letter.bold() } else { grey };
            svg.text(LEFT + BLOCK + 38.0, anchor + 17.0 * k as f64, style, line);
        }
        next = top + tall + 9.0;
    }
    let bottom = y.max(next);
    svg.text(
        LEFT,
        bottom + 16.0,
        grey,
        &tongue.turn("Not to scale: thin layers are drawn thicker than they are."),
    );
    svg.finish(
        WIDTH,
        bottom + 26.0,
        title,
        desc.trim().trim_end_matches(';'),
    )
}

/// Something that asks for thickness (`at_least`) or forbids it, with its figure as printed.
#[derive(Debug, Clone)]
pub struct Bound {
    /// In plain words.
    pub what: String,
    /// Millimetres.
    pub mm: f64,
    /// As printed.
    pub figure: String,
    /// Whether it is a floor.
    pub at_least: bool,
}

/// Draws floor, ceiling and the chosen thickness between them. `chosen` is in millimetres and as
/// printed; `window` is floor and ceiling.
pub fn room(
    bounds: &[Bound],
    window: (f64, f64),
    chosen: Option<(f64, &str)>,
    prefix: &str,
    title: &str,
    tongue: &Sentences,
) -> String {
    const WIDTH: f64 = 720.0;
    // Names, then figures, then the bars: so no figure lies on a bar or on the chosen line.
    const FIGURES: f64 = 262.0;
    const NAMES: f64 = 388.0;
    let mut svg = Svg::new(prefix);
    let slant = svg.pattern("no", 7.0, 7.0, "M-1 8L8 -1M-1 1L1 -1M6 8L8 6", false, 1.0);
    let letter = Letter::new(13.0);
    let small = Letter::new(12.0).tone(Tone::Grey);
    let most = bounds
        .iter()
        .map(|b| b.mm)
        .chain([window.0, window.1, chosen.map_or(0.0, |c| c.0)])
        .filter(|v| v.is_finite())
        .fold(1.0, f64::max);
    // Something far away (a door with a foot to spare) must not squeeze the rest together.
    let base = [window.0, window.1, chosen.map_or(0.0, |c| c.0)]
        .into_iter()
        .filter(|v| v.is_finite())
        .fold(1.0, f64::max);
    let end = most.min(base * 2.2) * 1.1;
    let room = WIDTH - NAMES - 24.0;
    let x_of =
        |mm: f64| NAMES + room * (if mm.is_finite() { mm } else { end }).clamp(0.0, end) / end;
    let top = 30.0;
    let rows: Vec<(Vec<String>, &Bound)> = bounds
        .iter()
        .map(|b| (letter.wrap(&tongue.turn(&b.what), FIGURES - 8.0, 2), b))
        .collect();
    let heights: Vec<f64> = rows
        .iter()
        .map(|(l, _)| 15.0 * l.len() as f64 + 13.0)
        .collect();
    let bottom = top + heights.iter().sum::<f64>();
    let (lo, hi) = (x_of(window.0), x_of(window.1));
    if hi >= lo {
        svg.rect(
            lo,
            top - 6.0,
            (hi - lo).max(2.0),
            bottom - top + 10.0,
            Paint::fill(Tone::Tint).edged(Tone::Hair, 1.0),
        );
    }
    let mut y = top;
    let mut desc = String::new();
    for ((lines, bound), h) in rows.iter().zip(&heights) {
        let mid = y + h / 2.0;
        let first = mid - 7.5 * (lines.len() as f64 - 1.0) + 4.5;
        for (k, line) in lines.iter().enumerate() {
            svg.text(FIGURES - 8.0, first + 15.0 * k as f64, letter.end(), line);
        }
        let x = x_of(bound.mm);
        if bound.at_least {
            svg.rect(NAMES, mid - 6.0, x - NAMES, 12.0, Paint::fill(Tone::Ink));
        } else {
            svg.rect(
                x,
                mid - 6.0,
                NAMES + room - x,
                12.0,
                Paint::hatch(&slant).edged(Tone::Ink, 1.2),
            );
        }
        let words = if bound.at_least {
            format!("at least {}", bound.figure)
        } else {
            format!("at most {}", bound.figure)
        };
        let words = tongue.turn(&words);
        let style = Letter::new(12.0).bold();
        svg.text(
            FIGURES + 6.0,
            mid + 4.5,
            style,
            &style.cut(&words, NAMES - FIGURES - 12.0),
        );
        desc.push_str(&format!("{}: {}. ", bound.what, words));
        y += h;
    }
    svg.line(
        (NAMES, top - 6.0),
        (NAMES, bottom + 6.0),
        Paint::line(Tone::Ink, 1.2),
    );
    if let Some((mm, figure)) = chosen {
        let x = x_of(mm);
        svg.line(
            (x, top - 10.0),
            (x, bottom + 6.0),
            Paint::line(Tone::Ink, 2.2),
        );
        let words = tongue.turn(&format!("we place {figure}"));
        let style = Letter::new(13.0).bold().middle();
        let half = style.width(&words) / 2.0;
        svg.path(
            &[(x, top - 8.0), (x - 5.0, top - 15.0), (x + 5.0, top - 15.0)],
            true,
            Paint::fill(Tone::Ink),
        );
        svg.text(x.clamp(half, WIDTH - half), 12.0, style, &words);
        desc.push_str(&format!("Chosen: {figure}. "));
    } else {
        let words = &tongue.turn("the layer would need more than there is room for");
        svg.text(
            NAMES + 4.0,
            14.0,
            Letter::new(13.0).bold().tone(Tone::Alert),
            words,
        );
        desc.push_str(words);
    }
    svg.text(NAMES, bottom + 20.0, small.middle(), "0");
    svg.finish(WIDTH, bottom + 28.0, title, desc.trim())
}

/// A ring that is whole for a firm answer and broken for an open one: a sound slab rings.
pub fn ring(firm: bool, prefix: &str) -> String {
    let mut svg = Svg::new(prefix);
    if firm {
        svg.ellipse(16.0, 16.0, 13.0, 13.0, Paint::line(Tone::Ink, 2.4));
        svg.ellipse(16.0, 16.0, 7.5, 7.5, Paint::line(Tone::Ink, 2.0));
        svg.ellipse(16.0, 16.0, 2.6, 2.6, Paint::fill(Tone::Ink));
        svg.finish(32.0, 32.0, "firm", "Whole rings: the answer is firm.")
    } else {
        svg.ellipse(
            16.0,
            16.0,
            13.0,
            13.0,
            Paint::line(Tone::Alert, 2.4).dashed("6 6"),
        );
        svg.ellipse(
            16.0,
            16.0,
            7.5,
            7.5,
            Paint::line(Tone::Alert, 2.0).dashed("3.5 4.5"),
        );
        svg.finish(
            32.0,
            32.0,
            "open",
            "Broken rings: the answer is still open.",
        )
    }
}
