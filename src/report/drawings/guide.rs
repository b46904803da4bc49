//! Pictures of the guide: what damage looks like from above and cut through, and how the usual
//! tests are done. Drawn from nothing but geometry of our own; no figure of the trade stands here.

use super::svg::{Letter, Paint, Svg, Tone};

/// A picture of the guide.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Picture {
    /// The skin flaked off.
    Scaling,
    /// A piece broken out at a joint.
    Spall,
    /// A layer that has come loose.
    Delamination,
    /// Cone-shaped holes.
    Popouts,
    /// A net of cracks.
    MapCracking,
    /// Tapping on a grid.
    Sounding,
    /// A drop on the slab.
    WaterDrop,
    /// A card beside a crack.
    CrackCard,
    /// Measuring the risers of a flight.
    Risers,
}

/// Width of every picture, in pixels.
const WIDTH: f64 = 340.0;
/// Left edge of the drawn slab.
const X: f64 = 8.0;
/// Width of the drawn slab.
const W: f64 = 324.0;
/// Top and height of the view from above.
const PLAN: (f64, f64) = (26.0, 112.0);
/// Top of the slab where it is cut through, and its thickness.
const CUT: (f64, f64) = (186.0, 64.0);
/// Height of a picture with both views.
const HEIGHT: f64 = 286.0;

impl Picture {
    /// Every picture.
    pub const ALL: [Picture; 9] = [
        Picture::Scaling,
        Picture::Spall,
        Picture::Delamination,
        Picture::Popouts,
        Picture::MapCracking,
        Picture::Sounding,
        Picture::WaterDrop,
        Picture::CrackCard,
        Picture::Risers,
    ];

    /// Short name, for ids.
    pub fn word(self) -> &'static str {
        match self {
            Picture::Scaling => "scaling",
            Picture::Spall => "spall",
            Picture::Delamination => "delamination",
            Picture::Popouts => "popouts",
            Picture::MapCracking => "map-cracking",
            Picture::Sounding => "sounding",
            Picture::WaterDrop => "water-drop",
            Picture::CrackCard => "crack-card",
            Picture::Risers => "risers",
        }
    }

    /// What the picture shows, for those who can't see it.
    pub fn describes(self) -> &'static str {
        match self {
            Picture::Scaling => {
                "From above: patches without skin, stones showing in them. Cut through: a shallow loss at the top, a thin flake lifting beside it."
            }
            Picture::Spall => {
                "From above: a piece missing at a joint. Cut through: a bowl at the edge of the joint, deeper than the skin."
            }
            Picture::Delamination => {
                "From above: a dashed line round the part that sounds hollow, one sheet of it gone. Cut through: a thin gap that runs level under the skin."
            }
            Picture::Popouts => {
                "From above: single round holes with a broken stone in the middle. Cut through: a cone, its tip at a stone near the surface."
            }
            Picture::MapCracking => {
                "From above: fine cracks that meet in a net. Cut through: short cracks from the top that end in the skin."
            }
            Picture::Sounding => {
                "From above: a grid of taps, rings where it rang and crosses where it was dull, a chalk line round the crosses. Cut through: a hammer over a gap."
            }
            Picture::WaterDrop => {
                "Three drops on the slab: standing as a bead, spreading dark, taken in."
            }
            Picture::CrackCard => {
                "A card with lines of rising width laid beside a crack; the line as wide as the crack is marked."
            }
            Picture::Risers => {
                "A flight of three steps from the side, each riser measured upright from tread to tread, the first from the walk."
            }
        }
    }

    /// Draws it.
    pub fn draw(self) -> String {
        match self {
            Picture::Scaling => scaling(),
            Picture::Spall => spall(),
            Picture::Delamination => delamination(),
            Picture::Popouts => popouts(),
            Picture::MapCracking => map_cracking(),
            Picture::Sounding => sounding(),
            Picture::WaterDrop => water_drop(),
            Picture::CrackCard => crack_card(),
            Picture::Risers => risers(),
        }
    }

    fn svg(self) -> Svg {
        Svg::new(&format!("g-{}", self.word()))
    }

    fn done(self, svg: Svg, height: f64) -> String {
        svg.finish(
            WIDTH,
            height,
            &self.word().replace('-', " "),
            self.describes(),
        )
    }
}

/// Numbers that look random and are the same every time.
struct Dice(u32);

impl Dice {
    /// Between two numbers.
    fn between(&mut self, a: f64, b: f64) -> f64 {
        self.0 = self.0.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        a + (b - a) * f64::from(self.0 >> 16 & 0xffff) / 65_535.0
    }
}

fn small() -> Letter {
    Letter::new(12.0)
}

fn head(svg: &mut Svg, y: f64, text: &str) {
    svg.text(X, y, Letter::new(13.0).bold(), text);
}

/// The slab from above, with the fine lines of a broom.
fn plan(svg: &mut Svg) {
    head(svg, PLAN.0 - 8.0, "From above");
    svg.rect(
        X,
        PLAN.0,
        W,
        PLAN.1,
        Paint::fill(Tone::Tint).edged(Tone::Ink, 1.2),
    );
    let mut x = X + 7.0;
    while x < X + W {
        svg.line(
            (x, PLAN.0 + 3.0),
            (x, PLAN.0 + PLAN.1 - 3.0),
            Paint::line(Tone::Hair, 0.4),
        );
        x += 7.0;
    }
}

/// The slab cut through: `top` is its upper outline from left to right, below `CUT`.
fn cut(svg: &mut Svg, top: &[(f64, f64)], clear_of: &[(f64, f64, f64)]) {
    head(svg, CUT.0 - 28.0, "Cut through");
    let bottom = CUT.0 + CUT.1;
    ground(svg, bottom);
    let mut outline = top.to_vec();
    outline.push((X + W, bottom));
    outline.push((X, bottom));
    svg.path(
        &outline,
        true,
        Paint::fill(Tone::Tint).edged(Tone::Ink, 1.4),
    );
    let mut dice = Dice(7);
    for row in 0..4 {
        for column in 0..16 {
            let x = X + 12.0 + f64::from(column) * 20.0 + dice.between(-5.0, 5.0);
            let y = CUT.0 + 13.0 + f64::from(row) * 13.5 + dice.between(-2.0, 2.0);
            let r = dice.between(2.6, 5.4);
            let taken = clear_of
                .iter()
                .any(|(cx, cy, cr)| (x - cx).hypot(y - cy) < cr + r);
            if !taken && y + r < bottom - 2.0 {
                stone(svg, x, y, r);
            }
        }
    }
}

fn ground(svg: &mut Svg, y: f64) {
    let mut x = X;
    while x < X + W - 4.0 {
        svg.line(
            (x + 8.0, y + 2.0),
            (x, y + 12.0),
            Paint::line(Tone::Grey, 0.8),
        );
        x += 12.0;
    }
}

fn stone(svg: &mut Svg, x: f64, y: f64, r: f64) {
    svg.ellipse(
        x,
        y,
        r * 1.25,
        r,
        Paint::fill(Tone::Paper).edged(Tone::Grey, 0.9),
    );
}

/// A label with a line to what it names.
fn label(svg: &mut Svg, at: (f64, f64), to: (f64, f64), text: &str) {
    let width = small().width(text);
    let near = if to.0 < at.0 {
        at.0 - 3.0
    } else {
        at.0 + width + 3.0
    };
    let from = if to.0 >= at.0 && to.0 <= at.0 + width {
        (to.0, if to.1 > at.1 { at.1 + 4.0 } else { at.1 - 12.0 })
    } else {
        (near, at.1 - 4.0)
    };
    svg.line(from, to, Paint::line(Tone::Ink, 0.9));
    svg.ellipse(to.0, to.1, 1.8, 1.8, Paint::fill(Tone::Ink));
    svg.text(at.0, at.1, small(), text);
}

/// A ragged closed line round a middle.
fn blob(dice: &mut Dice, cx: f64, cy: f64, rx: f64, ry: f64) -> Vec<(f64, f64)> {
    ring(dice, (cx, cy), (rx, ry), (0.78, 1.08))
}

/// A closed line round a middle, between two shares of its radii.
fn ring(
    dice: &mut Dice,
    (cx, cy): (f64, f64),
    (rx, ry): (f64, f64),
    (least, most): (f64, f64),
) -> Vec<(f64, f64)> {
    (0..22)
        .map(|i| {
            let a = f64::from(i) / 22.0 * std::f64::consts::TAU;
            let r = dice.between(least, most);
            (cx + rx * r * a.cos(), cy + ry * r * a.sin())
        })
        .collect()
}

fn flat() -> Vec<(f64, f64)> {
    vec![(X, CUT.0), (X + W, CUT.0)]
}

fn scaling() -> String {
    let mut svg = Picture::Scaling.svg();
    plan(&mut svg);
    let mut dice = Dice(3);
    for (cx, cy, rx, ry) in [
        (92.0, 74.0, 62.0, 34.0),
        (170.0, 104.0, 42.0, 20.0),
        (262.0, 66.0, 32.0, 20.0),
    ] {
        let edge = blob(&mut dice, cx, cy, rx, ry);
        svg.path(&edge, true, Paint::fill(Tone::Paper).edged(Tone::Ink, 1.3));
        for _ in 0..(rx * ry / 60.0) as usize {
            let a = dice.between(0.0, std::f64::consts::TAU);
            let d = dice.between(0.0, 0.68);
            let (x, y) = (cx + rx * d * a.cos(), cy + ry * d * a.sin());
            if dice.between(0.0, 1.0) < 0.4 {
                let r = dice.between(2.0, 4.0);
                stone(&mut svg, x, y, r);
            } else {
                svg.ellipse(x, y, 0.8, 0.8, Paint::fill(Tone::Grey));
            }
        }
    }
    // A shallow loss: no deeper than the skin and the mortar about the uppermost stones.
    let mut top = vec![(X, CUT.0), (86.0, CUT.0)];
    let mut x = 88.0;
    while x < 214.0 {
        top.push((x, CUT.0 + dice.between(5.0, 9.5)));
        x += 9.0;
    }
    top.extend([(216.0, CUT.0), (X + W, CUT.0)]);
    cut(&mut svg, &top, &[]);
    for (x, r) in [(112.0, 4.6), (146.0, 5.2), (186.0, 4.4)] {
        stone(&mut svg, x, CUT.0 + 7.0, r);
    }
    // A flake lifting at the edge of the loss.
    svg.path(
        &[
            (218.0, CUT.0 - 4.0),
            (240.0, CUT.0 - 2.0),
            (243.0, CUT.0 + 0.5),
            (220.0, CUT.0 - 0.5),
        ],
        true,
        Paint::fill(Tone::Hair).edged(Tone::Ink, 1.0),
    );
    label(
        &mut svg,
        (150.0, CUT.0 - 28.0),
        (146.0, CUT.0 + 1.0),
        "stones show",
    );
    label(
        &mut svg,
        (258.0, CUT.0 - 14.0),
        (238.0, CUT.0 - 2.0),
        "thin flake",
    );
    Picture::Scaling.done(svg, HEIGHT)
}

fn spall() -> String {
    let mut svg = Picture::Spall.svg();
    plan(&mut svg);
    let joint = 170.0;
    svg.rect(joint - 2.0, PLAN.0, 4.0, PLAN.1, Paint::fill(Tone::Ink));
    let mut dice = Dice(11);
    let mut edge = vec![(joint - 2.0, PLAN.0 + 30.0)];
    for i in 1..10 {
        let a = f64::from(i) / 10.0 * std::f64::consts::PI;
        let r = dice.between(0.85, 1.1);
        edge.push((
            joint - 2.0 - 40.0 * r * a.sin(),
            PLAN.0 + 56.0 - 26.0 * a.cos(),
        ));
    }
    edge.push((joint - 2.0, PLAN.0 + 82.0));
    svg.path(&edge, true, Paint::fill(Tone::Paper).edged(Tone::Ink, 1.4));
    for (x, y, r) in [(152.0, 72.0, 3.4), (142.0, 84.0, 2.8), (157.0, 92.0, 3.0)] {
        stone(&mut svg, x, y, r);
    }
    label(
        &mut svg,
        (188.0, PLAN.0 + 24.0),
        (joint, PLAN.0 + 16.0),
        "joint",
    );
    label(
        &mut svg,
        (20.0, PLAN.0 + 60.0),
        (134.0, PLAN.0 + 56.0),
        "piece gone",
    );
    // A bowl at the joint, then the joint itself.
    let d = CUT.0;
    let top = vec![
        (X, d),
        (116.0, d),
        (122.0, d + 7.0),
        (134.0, d + 15.0),
        (148.0, d + 21.0),
        (160.0, d + 25.0),
        (joint - 3.0, d + 26.0),
        (joint - 3.0, d + 42.0),
        (joint + 3.0, d + 42.0),
        (joint + 3.0, d),
        (X + W, d),
    ];
    cut(&mut svg, &top, &[(joint, d + 22.0, 26.0), (140.0, d, 24.0)]);
    // The surface as it was.
    svg.line(
        (116.0, d),
        (joint - 3.0, d),
        Paint::line(Tone::Grey, 1.0).dashed("3 3"),
    );
    svg.line(
        (128.0, d + 1.0),
        (128.0, d + 11.0),
        Paint::line(Tone::Alert, 1.2),
    );
    svg.line(
        (150.0, d + 1.0),
        (150.0, d + 21.0),
        Paint::line(Tone::Alert, 1.2),
    );
    label(
        &mut svg,
        (196.0, d - 12.0),
        (150.0, d + 9.0),
        "read the depth here",
    );
    Picture::Spall.done(svg, HEIGHT)
}

fn delamination() -> String {
    let mut svg = Picture::Delamination.svg();
    plan(&mut svg);
    let mut dice = Dice(5);
    let hollow = ring(&mut dice, (160.0, 82.0), (112.0, 46.0), (0.9, 1.02));
    svg.path(&hollow, true, Paint::line(Tone::Alert, 1.8).dashed("6 4"));
    let gone = blob(&mut dice, 116.0, 84.0, 34.0, 18.0);
    svg.path(&gone, true, Paint::fill(Tone::Paper).edged(Tone::Ink, 1.3));
    svg.text(158.0, 80.0, small(), "sounds hollow");
    let line = hollow.get(20).copied().unwrap_or((240.0, 60.0));
    label(&mut svg, (268.0, PLAN.0 + 18.0), line, "chalk line");
    label(&mut svg, (12.0, PLAN.0 + 20.0), (98.0, 80.0), "sheet gone");
    let d = CUT.0;
    let top = vec![
        (X, d),
        (84.0, d),
        (86.0, d + 8.0),
        (146.0, d + 9.0),
        (150.0, d),
        (X + W, d),
    ];
    cut(
        &mut svg,
        &top,
        &[
            (190.0, d + 9.0, 4.0),
            (230.0, d + 9.0, 4.0),
            (160.0, d + 9.0, 6.0),
        ],
    );
    // The gap runs level, a little below the top, past what has come off.
    svg.path(
        &[
            (148.0, d + 8.0),
            (190.0, d + 7.4),
            (240.0, d + 8.2),
            (262.0, d + 9.6),
            (240.0, d + 10.4),
            (190.0, d + 10.2),
            (148.0, d + 9.6),
        ],
        true,
        Paint::fill(Tone::Ink),
    );
    label(
        &mut svg,
        (196.0, d - 12.0),
        (214.0, d + 8.0),
        "gap under a whole skin",
    );
    Picture::Delamination.done(svg, HEIGHT)
}

fn popouts() -> String {
    let mut svg = Picture::Popouts.svg();
    plan(&mut svg);
    for (x, y, r) in [
        (58.0, 62.0, 9.0),
        (132.0, 104.0, 12.0),
        (196.0, 56.0, 7.0),
        (266.0, 92.0, 11.0),
    ] {
        svg.ellipse(
            x,
            y,
            r,
            r * 0.92,
            Paint::fill(Tone::Paper).edged(Tone::Ink, 1.3),
        );
        svg.ellipse(x, y, r * 0.38, r * 0.34, Paint::fill(Tone::Grey));
    }
    label(
        &mut svg,
        (150.0, PLAN.0 + 104.0),
        (132.0, 104.0),
        "rest of a stone",
    );
    let d = CUT.0;
    let top = vec![
        (X, d),
        (136.0, d),
        (164.0, d + 24.0),
        (172.0, d + 24.0),
        (200.0, d),
        (X + W, d),
    ];
    cut(&mut svg, &top, &[(168.0, d + 16.0, 26.0)]);
    svg.ellipse(
        168.0,
        d + 27.0,
        11.0,
        7.0,
        Paint::fill(Tone::Grey).edged(Tone::Ink, 1.0),
    );
    // The broken half of the stone, on the tip of the cone that flew off.
    svg.path(
        &[
            (224.0, d - 22.0),
            (272.0, d - 18.0),
            (252.0, d - 4.0),
            (244.0, d - 5.0),
        ],
        true,
        Paint::fill(Tone::Tint).edged(Tone::Ink, 1.1),
    );
    svg.ellipse(248.0, d - 6.0, 6.0, 3.0, Paint::fill(Tone::Grey));
    label(
        &mut svg,
        (16.0, d - 12.0),
        (162.0, d + 25.0),
        "stone at the bottom",
    );
    label(&mut svg, (284.0, d - 12.0), (258.0, d - 14.0), "cone");
    Picture::Popouts.done(svg, HEIGHT)
}

fn map_cracking() -> String {
    let mut svg = Picture::MapCracking.svg();
    plan(&mut svg);
    let mut dice = Dice(19);
    let (columns, rows) = (11_usize, 5_usize);
    let mut points = vec![vec![(0.0, 0.0); columns + 1]; rows + 1];
    for (r, line) in points.iter_mut().enumerate() {
        for (c, p) in line.iter_mut().enumerate() {
            let shift = if r % 2 == 0 { 0.0 } else { 0.5 };
            let x = X + 8.0 + (c as f64 + shift) * (W - 32.0) / columns as f64;
            let y = PLAN.0 + 6.0 + r as f64 * (PLAN.1 - 12.0) / rows as f64;
            *p = (
                (x + dice.between(-6.0, 6.0)).clamp(X + 3.0, X + W - 3.0),
                (y + dice.between(-5.0, 5.0)).clamp(PLAN.0 + 3.0, PLAN.0 + PLAN.1 - 3.0),
            );
        }
    }
    let at = |r: usize, c: usize| points.get(r).and_then(|l| l.get(c)).copied();
    for r in 0..=rows {
        for c in 0..=columns {
            let Some(here) = at(r, c) else { continue };
            for (nr, nc, keep) in [(r, c + 1, 0.92), (r + 1, c, 0.8)] {
                if let Some(next) = at(nr, nc)
                    && dice.between(0.0, 1.0) < keep
                {
                    let middle = (
                        (here.0 + next.0) / 2.0 + dice.between(-2.5, 2.5),
                        (here.1 + next.1) / 2.0 + dice.between(-2.5, 2.5),
                    );
                    svg.path(&[here, middle, next], false, Paint::line(Tone::Ink, 1.1));
                }
            }
        }
    }
    cut(&mut svg, &flat(), &[]);
    let d = CUT.0;
    let mut x = X + 16.0;
    while x < X + W - 8.0 {
        let depth = dice.between(5.0, 10.0);
        svg.path(
            &[(x, d), (x + 1.5, d + depth * 0.5), (x - 0.5, d + depth)],
            false,
            Paint::line(Tone::Ink, 1.4),
        );
        x += dice.between(18.0, 28.0);
    }
    label(
        &mut svg,
        (122.0, d - 12.0),
        (108.0, d - 1.0),
        "look how deep: skin, or more?",
    );
    Picture::MapCracking.done(svg, HEIGHT)
}

fn hammer(svg: &mut Svg, x: f64, y: f64) {
    svg.path(
        &[(x + 4.0, y - 8.0), (x + 46.0, y - 40.0)],
        false,
        Paint::line(Tone::Ink, 3.2),
    );
    svg.path(
        &[
            (x - 6.0, y - 10.0),
            (x + 4.0, y - 18.0),
            (x + 13.0, y - 8.0),
            (x + 2.0, y),
        ],
        true,
        Paint::fill(Tone::Grey).edged(Tone::Ink, 1.2),
    );
}

fn sounding() -> String {
    let mut svg = Picture::Sounding.svg();
    plan(&mut svg);
    let (cx, cy, rx, ry) = (206.0, 92.5, 66.0, 34.0);
    for r in 0..5 {
        for c in 0..13 {
            let (x, y) = (
                X + 18.0 + f64::from(c) * 24.0,
                PLAN.0 + 14.0 + f64::from(r) * 21.0,
            );
            let inside = ((x - cx) / rx).powi(2) + ((y - cy) / ry).powi(2) < 0.8;
            if inside {
                for s in [-1.0, 1.0] {
                    svg.line(
                        (x - 4.0, y - 4.0 * s),
                        (x + 4.0, y + 4.0 * s),
                        Paint::line(Tone::Alert, 2.0),
                    );
                }
            } else {
                svg.ellipse(
                    x,
                    y,
                    4.0,
                    4.0,
                    Paint::fill(Tone::Paper).edged(Tone::Ink, 1.2),
                );
            }
        }
    }
    let mut dice = Dice(23);
    let chalk = ring(&mut dice, (cx, cy), (54.0, 25.0), (0.96, 1.03));
    svg.path(&chalk, true, Paint::line(Tone::Ink, 1.4).dashed("5 3"));
    let d = CUT.0;
    svg.text(196.0, PLAN.0 - 8.0, small(), "o rings    x sounds dull");
    cut(
        &mut svg,
        &flat(),
        &[
            (206.0, d + 9.0, 4.0),
            (230.0, d + 9.0, 4.0),
            (180.0, d + 9.0, 4.0),
            (250.0, d + 9.0, 4.0),
        ],
    );
    svg.path(
        &[
            (160.0, d + 9.0),
            (206.0, d + 7.4),
            (256.0, d + 9.0),
            (206.0, d + 10.6),
        ],
        true,
        Paint::fill(Tone::Ink),
    );
    hammer(&mut svg, 96.0, d - 1.0);
    hammer(&mut svg, 206.0, d - 1.0);
    for r in [9.0, 15.0] {
        svg.raw_path(
            &format!(
                "M{} {}A{r} {r} 0 0 1 {} {}",
                90.0 - r,
                d - 2.0,
                90.0 - r * 0.3,
                d - 2.0 - r * 0.95
            ),
            Paint::line(Tone::Ink, 1.0),
        );
    }
    svg.text(34.0, d - 10.0, small(), "rings");
    svg.text(164.0, d - 10.0, small(), "dull");
    Picture::Sounding.done(svg, HEIGHT)
}

fn water_drop() -> String {
    let mut svg = Picture::WaterDrop.svg();
    let d = 92.0;
    head(&mut svg, 16.0, "Cut through, three moments");
    svg.rect(X, d, W, 44.0, Paint::fill(Tone::Tint).edged(Tone::Ink, 1.4));
    let mut dice = Dice(29);
    for i in 0..28 {
        let x = X + 10.0 + f64::from(i % 14) * 23.0 + dice.between(-4.0, 4.0);
        let y = d + if i < 14 { 24.0 } else { 36.0 } + dice.between(-2.0, 2.0);
        let r = dice.between(2.2, 4.2);
        stone(&mut svg, x, y, r);
    }
    let at = [62.0, 170.0, 278.0];
    // A bead, a spreading drop, a dark spot.
    svg.raw_path(
        &format!(
            "M{} {d}C{} {} {} {} {} {d}Z",
            at[0] - 15.0,
            at[0] - 20.0,
            d - 24.0,
            at[0] + 20.0,
            d - 24.0,
            at[0] + 15.0
        ),
        Paint::fill(Tone::Paper).edged(Tone::Ink, 1.4),
    );
    svg.line(
        (at[0] - 5.0, d - 11.0),
        (at[0] - 1.0, d - 14.0),
        Paint::line(Tone::Ink, 1.2),
    );
    svg.raw_path(
        &format!(
            "M{} {d}Q{} {} {} {d}Z",
            at[1] - 24.0,
            at[1],
            d - 12.0,
            at[1] + 24.0
        ),
        Paint::fill(Tone::Paper).edged(Tone::Ink, 1.4),
    );
    for (x, w, h) in [(at[1], 24.0, 9.0), (at[2], 32.0, 15.0)] {
        svg.raw_path(
            &format!(
                "M{} {}Q{x} {} {} {}Z",
                x - w,
                d + 0.7,
                d + h * 2.0,
                x + w,
                d + 0.7
            ),
            Paint::fill(Tone::Grey),
        );
    }
    for (x, a, b) in [
        (at[0], "stands as a bead", "start the watch"),
        (at[1], "spreads, shines", "wait"),
        (at[2], "shine is gone", "read the watch"),
    ] {
        let middle = small().middle();
        svg.text(x, d - 50.0, middle.bold(), b);
        svg.text(x, d - 34.0, middle, a);
    }
    Picture::WaterDrop.done(svg, 144.0)
}

fn crack_card() -> String {
    let mut svg = Picture::CrackCard.svg();
    head(&mut svg, 16.0, "From above, larger than life");
    svg.rect(
        X,
        24.0,
        W,
        150.0,
        Paint::fill(Tone::Tint).edged(Tone::Ink, 1.2),
    );
    // The crack, frayed at the top of its edges.
    let mut dice = Dice(31);
    let mut left = Vec::new();
    let mut right = Vec::new();
    let mut y: f64 = 24.0;
    while y <= 174.0 {
        let x = 250.0 + (y / 19.0).sin() * 5.0;
        left.push((x - 1.8 - dice.between(0.0, 0.8), y));
        right.push((x + 1.8 + dice.between(0.0, 0.8), y));
        y += 7.5;
    }
    right.reverse();
    left.extend(right);
    svg.path(&left, true, Paint::fill(Tone::Ink));
    // The card lies up to the crack.
    svg.pill(
        34.0,
        50.0,
        208.0,
        92.0,
        6.0,
        Paint::fill(Tone::Paper).edged(Tone::Ink, 1.6),
    );
    svg.text(44.0, 68.0, small().bold(), "card: lines of known width");
    for (i, width) in [0.6, 1.2, 2.2, 3.6, 5.4].into_iter().enumerate() {
        let x = 60.0 + i as f64 * 38.0;
        svg.line((x, 78.0), (x, 118.0), Paint::line(Tone::Ink, width));
        svg.text(x, 135.0, small().middle(), &format!("{}", i + 1));
        if i == 3 {
            svg.ellipse(x, 100.0, 15.0, 26.0, Paint::line(Tone::Alert, 2.0));
        }
    }
    svg.text(
        X,
        194.0,
        small(),
        "Which line is as wide as the crack? Here line 4.",
    );
    svg.text(
        X,
        211.0,
        small(),
        "Read at three places, below a frayed edge.",
    );
    Picture::CrackCard.done(svg, 220.0)
}

fn risers() -> String {
    let mut svg = Picture::Risers.svg();
    head(&mut svg, 16.0, "From the side");
    let (base, run, rise) = (188.0, 70.0, 44.0);
    let mut outline = vec![(X, base), (84.0, base)];
    let mut x = 84.0;
    let mut y = base;
    for _ in 0..3 {
        y -= rise;
        outline.push((x, y));
        x += run;
        outline.push((x, y));
    }
    outline.push((X + W, y));
    outline.push((X + W, base + 18.0));
    outline.push((X, base + 18.0));
    svg.path(
        &outline,
        true,
        Paint::fill(Tone::Tint).edged(Tone::Ink, 1.5),
    );
    ground(&mut svg, base + 18.0);
    for i in 0..3 {
        let x = 84.0 + f64::from(i) * run - 12.0;
        let (low, high) = (base - f64::from(i) * rise, base - f64::from(i + 1) * rise);
        svg.line(
            (x, low - 1.0),
            (x, high + 1.0),
            Paint::line(Tone::Alert, 1.8),
        );
        for (tip, s) in [(low - 1.0, -1.0), (high + 1.0, 1.0)] {
            svg.path(
                &[(x - 4.0, tip + 7.0 * s), (x, tip), (x + 4.0, tip + 7.0 * s)],
                false,
                Paint::line(Tone::Alert, 1.8),
            );
        }
        // A level held out from the nosing.
        svg.line(
            (x - 10.0, high),
            (x + 12.0, high),
            Paint::line(Tone::Ink, 1.0).dashed("4 3"),
        );
        svg.text(
            x - 20.0,
            (low + high) / 2.0 + 4.0,
            small().bold().middle(),
            &format!("{}", i + 1),
        );
    }
    svg.text(X + 4.0, base - 8.0, small(), "walk");
    svg.text(262.0, base - 3.0 * rise - 8.0, small(), "landing");
    svg.text(118.0, base - 12.0, small(), "tread to tread, upright,");
    svg.text(118.0, base + 4.0, small(), "every riser, 1 from the walk");
    Picture::Risers.done(svg, 224.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_picture_stands_alone_and_stays_inside_its_frame() {
        for p in Picture::ALL {
            let svg = p.draw();
            assert!(svg.starts_with("<svg") && svg.ends_with("</svg>"), "{p:?}");
            assert!(
                svg.contains("role=\"img\"") && svg.contains("<desc"),
                "{p:?}"
            );
            assert!(!svg.contains("NaN") && !svg.contains("inf"), "{p:?}");
            // The same picture every time.
            assert_eq!(svg, p.draw());
            for text in svg.split("<text ").skip(1) {
                let number = |key: &str| {
                    text.split(&format!("{key}=\""))
                        .nth(1)
                        .and_then(|t| t.split('"').next())
                        .and_then(|t| t.parse::<f64>().ok())
                        .unwrap()
                };
                let words = text.split('>').nth(1).unwrap().split('<').next().unwrap();
                let (x, size) = (number("x"), number("font-size"));
                let width = Letter::new(size).width(words);
                let (left, right) = match text.contains("middle") {
                    true => (x - width / 2.0, x + width / 2.0),
                    false => (x, x + width),
                };
                assert!(
                    left >= 0.0 && right <= WIDTH,
                    "{p:?}: {words} {left} {right}"
                );
            }
        }
    }
}
