//! A small writer of SVG text: shapes in a few fixed tones, hatches of our own, labels.
//!
//! Every tone is written as a plain attribute, so that the drawing stands alone (in the PDF too),
//! and as a class, so that a page in dark mode can change it.

use std::fmt::Write;

/// A tone of the drawings. Chosen to stay apart in greyscale: ink prints near black, grey at about
/// half, tint near white.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tone {
    /// Lines and letters.
    Ink,
    /// Secondary lines and letters.
    Grey,
    /// Hair lines.
    Hair,
    /// Surface of the slab.
    Tint,
    /// Bare paper.
    Paper,
    /// Something wrong; never the only mark of it.
    Alert,
}

impl Tone {
    fn colour(self) -> &'static str {
        match self {
            Tone::Ink => "#1d1c19",
            Tone::Grey => "#5f5a50",
            Tone::Hair => "#a39b8b",
            Tone::Tint => "#f1ece0",
            Tone::Paper => "#ffffff",
            Tone::Alert => "#8f2d17",
        }
    }

    fn fill_class(self) -> &'static str {
        match self {
            Tone::Ink => "fi",
            Tone::Grey => "fg",
            Tone::Hair => "fh",
            Tone::Tint => "ft",
            Tone::Paper => "fp",
            Tone::Alert => "fa",
        }
    }

    fn stroke_class(self) -> &'static str {
        match self {
            Tone::Ink => "si",
            Tone::Grey => "sg",
            Tone::Hair => "sh",
            Tone::Tint => "st",
            Tone::Paper => "sp",
            Tone::Alert => "sa",
        }
    }
}

/// How a shape is painted.
#[derive(Debug, Clone, Copy, Default)]
pub struct Paint<'a> {
    /// Fill tone.
    pub fill: Option<Tone>,
    /// Id of a hatch to fill with instead.
    pub hatch: Option<&'a str>,
    /// Line tone and width in pixels.
    pub stroke: Option<(Tone, f64)>,
    /// Dash pattern.
    pub dash: Option<&'a str>,
    /// Id of a clip path.
    pub clip: Option<&'a str>,
}

impl<'a> Paint<'a> {
    /// Filled with a tone.
    pub fn fill(tone: Tone) -> Self {
        Paint {
            fill: Some(tone),
            ..Paint::default()
        }
    }

    /// Drawn as a line.
    pub fn line(tone: Tone, width: f64) -> Self {
        Paint {
            stroke: Some((tone, width)),
            ..Paint::default()
        }
    }

    /// Filled with a hatch.
    pub fn hatch(id: &'a str) -> Self {
        Paint {
            hatch: Some(id),
            ..Paint::default()
        }
    }

    /// With a line round it.
    #[must_use]
    pub fn edged(mut self, tone: Tone, width: f64) -> Self {
        self.stroke = Some((tone, width));
        self
    }

    /// With a dashed line.
    #[must_use]
    pub fn dashed(mut self, dash: &'a str) -> Self {
        self.dash = Some(dash);
        self
    }

    /// Cut to a clip path.
    #[must_use]
    pub fn clipped(mut self, id: &'a str) -> Self {
        self.clip = Some(id);
        self
    }

    fn write(self, out: &mut String) {
        let mut classes = String::new();
        match (self.hatch, self.fill) {
            (Some(id), _) => {
                let _ = write!(out, " fill=\"url(#{id})\"");
            }
            (None, Some(tone)) => {
                let _ = write!(out, " fill=\"{}\"", tone.colour());
                classes.push_str(tone.fill_class());
            }
            (None, None) => out.push_str(" fill=\"none\""),
        }
        if let Some((tone, width)) = self.stroke {
            let _ = write!(
                out,
                " stroke=\"{}\" stroke-width=\"{}\"",
                tone.colour(),
                num(width)
            );
            if !classes.is_empty() {
                classes.push(' ');
            }
            classes.push_str(tone.stroke_class());
        }
        if let Some(dash) = self.dash {
            let _ = write!(out, " stroke-dasharray=\"{dash}\"");
        }
        if let Some(clip) = self.clip {
            let _ = write!(out, " clip-path=\"url(#{clip})\"");
        }
        if !classes.is_empty() {
            let _ = write!(out, " class=\"{classes}\"");
        }
    }
}

/// Where a text is held.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    /// At its start.
    Start,
    /// At its middle.
    Middle,
    /// At its end.
    End,
}

/// A style of lettering.
#[derive(Debug, Clone, Copy)]
pub struct Letter {
    /// Height in pixels.
    pub size: f64,
    /// Whether it is bold.
    pub bold: bool,
    /// Tone.
    pub tone: Tone,
    /// Where it is held.
    pub anchor: Anchor,
}

impl Letter {
    /// Plain ink lettering held at its start.
    pub fn new(size: f64) -> Self {
        Letter {
            size,
            bold: false,
            tone: Tone::Ink,
            anchor: Anchor::Start,
        }
    }

    /// Bold.
    #[must_use]
    pub fn bold(mut self) -> Self {
        self.bold = true;
        self
    }

    /// In another tone.
    #[must_use]
    pub fn tone(mut self, tone: Tone) -> Self {
        self.tone = tone;
        self
    }

    /// Held at its middle.
    #[must_use]
    pub fn middle(mut self) -> Self {
        self.anchor = Anchor::Middle;
        self
    }

    /// Held at its end.
    #[must_use]
    pub fn end(mut self) -> Self {
        self.anchor = Anchor::End;
        self
    }

    /// Width a text will take, in pixels, rather too much than too little: the reader's own font
    /// is not known here.
    pub fn width(self, text: &str) -> f64 {
        let em: f64 = text
            .chars()
            .map(|c| match c {
                'i' | 'j' | 'l' | 'I' | '.' | ',' | '\'' | '|' | ':' | ';' | '!' | ' ' => 0.34,
                'f' | 'r' | 't' | '-' | '(' | ')' | '"' | '/' => 0.42,
                'm' | 'w' | 'M' | 'W' | '%' | '@' => 0.96,
                'A'..='Z' | '&' | '×' | '+' | '=' => 0.74,
                c if c.is_ascii() => 0.6,
                // Letters of other scripts and pictographs can be as wide as they are high.
                c if (c as u32) < 0x0250 => 0.66,
                _ => 1.05,
            })
            .sum();
        em * self.size * if self.bold { 1.08 } else { 1.0 }
    }

    /// The text, cut with an ellipsis so that it takes no more than `room` pixels.
    pub fn cut(self, text: &str, room: f64) -> String {
        if self.width(text) <= room {
            return text.to_owned();
        }
        let mut out = String::new();
        for c in text.chars() {
            out.push(c);
            if self.width(&out) + self.size > room {
                out.pop();
                break;
            }
        }
        format!("{}…", out.trim_end())
    }

    /// The text broken into lines no wider than `room`, at most `most` of them.
    pub fn wrap(self, text: &str, room: f64, most: usize) -> Vec<String> {
        let mut lines: Vec<String> = Vec::new();
        let mut line = String::new();
        for word in text.split_whitespace() {
            let longer = if line.is_empty() {
                word.to_owned()
            } else {
                format!("{line} {word}")
            };
            if line.is_empty() || self.width(&longer) <= room {
                line = longer;
            } else {
                lines.push(std::mem::replace(&mut line, word.to_owned()));
            }
        }
        if !line.is_empty() {
            lines.push(line);
        }
        if lines.len() > most {
            let rest = lines.split_off(most.saturating_sub(1)).join(" ");
            lines.push(rest);
        }
        lines.iter().map(|line| self.cut(line, room)).collect()
    }
}

/// A drawing being written.
#[derive(Debug)]
pub struct Svg {
    id: String,
    defs: String,
    body: String,
}

impl Svg {
    /// An empty drawing. `id` starts every id inside it and must be unlike those of other drawings
    /// on the page: small letters, digits and `-`.
    pub fn new(id: &str) -> Self {
        Svg {
            id: id.to_owned(),
            defs: String::new(),
            body: String::new(),
        }
    }

    /// An id inside this drawing.
    pub fn local(&self, name: &str) -> String {
        format!("{}-{name}", self.id)
    }

    /// Whether a clip path or hatch of that id is defined.
    pub fn defines(&self, id: &str) -> bool {
        self.defs.contains(&format!(" id=\"{id}\""))
    }

    /// A rectangle.
    pub fn rect(&mut self, x: f64, y: f64, w: f64, h: f64, paint: Paint<'_>) {
        let (w, h) = (w.max(0.0), h.max(0.0));
        let _ = write!(
            self.body,
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"",
            num(x),
            num(y),
            num(w),
            num(h)
        );
        paint.write(&mut self.body);
        self.body.push_str("/>");
    }

    /// A rectangle with round corners.
    pub fn pill(&mut self, x: f64, y: f64, w: f64, h: f64, r: f64, paint: Paint<'_>) {
        let _ = write!(
            self.body,
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" rx=\"{}\"",
            num(x),
            num(y),
            num(w.max(0.0)),
            num(h.max(0.0)),
            num(r)
        );
        paint.write(&mut self.body);
        self.body.push_str("/>");
    }

    /// An ellipse.
    pub fn ellipse(&mut self, cx: f64, cy: f64, rx: f64, ry: f64, paint: Paint<'_>) {
        let _ = write!(
            self.body,
            "<ellipse cx=\"{}\" cy=\"{}\" rx=\"{}\" ry=\"{}\"",
            num(cx),
            num(cy),
            num(rx.max(0.0)),
            num(ry.max(0.0))
        );
        paint.write(&mut self.body);
        self.body.push_str("/>");
    }

    /// A straight line.
    pub fn line(&mut self, from: (f64, f64), to: (f64, f64), paint: Paint<'_>) {
        let _ = write!(
            self.body,
            "<line x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\"",
            num(from.0),
            num(from.1),
            num(to.0),
            num(to.1)
        );
        paint.write(&mut self.body);
        self.body.push_str("/>");
    }

    /// A line through points, closed if asked.
    pub fn path(&mut self, points: &[(f64, f64)], closed: bool, paint: Paint<'_>) {
        let d = path_data(points, closed);
        self.raw_path(&d, paint);
    }

    /// A path from ready path data.
    pub fn raw_path(&mut self, d: &str, paint: Paint<'_>) {
        let _ = write!(self.body, "<path d=\"{d}\"");
        paint.write(&mut self.body);
        self.body.push_str("/>");
    }

    /// A line of text; `y` is its baseline.
    pub fn text(&mut self, x: f64, y: f64, letter: Letter, text: &str) {
        let anchor = match letter.anchor {
            Anchor::Start => "",
            Anchor::Middle => " text-anchor=\"middle\"",
            Anchor::End => " text-anchor=\"end\"",
        };
        let weight = if letter.bold {
            " font-weight=\"700\""
        } else {
            ""
        };
        let _ = write!(
            self.body,
            "<text x=\"{}\" y=\"{}\" font-size=\"{}\"{weight}{anchor} fill=\"{}\" class=\"{}\">{}</text>",
            num(x),
            num(y),
            num(letter.size),
            letter.tone.colour(),
            letter.tone.fill_class(),
            escape(text)
        );
    }

    /// Defines a clip path from a polygon and gives its id.
    pub fn clip(&mut self, name: &str, points: &[(f64, f64)]) -> String {
        let id = self.local(name);
        let _ = write!(
            self.defs,
            "<clipPath id=\"{id}\"><path d=\"{}\"/></clipPath>",
            path_data(points, true)
        );
        id
    }

    /// Defines a hatch and gives its id. `marks` is path data drawn in ink on a tile of `w` by `h`
    /// pixels; `solid` marks are filled, the others are lines of the given width.
    pub fn pattern(
        &mut self,
        name: &str,
        w: f64,
        h: f64,
        marks: &str,
        solid: bool,
        width: f64,
    ) -> String {
        let id = self.local(name);
        let _ = write!(
            self.defs,
            "<pattern id=\"{id}\" width=\"{}\" height=\"{}\" patternUnits=\"userSpaceOnUse\"><path d=\"{marks}\"",
            num(w),
            num(h)
        );
        let paint = if solid {
            Paint::fill(Tone::Ink)
        } else {
            Paint::line(Tone::Ink, width)
        };
        paint.write(&mut self.defs);
        self.defs.push_str("/></pattern>");
        id
    }

    /// The finished drawing with its title and description, `width` by `height` pixels.
    pub fn finish(self, width: f64, height: f64, title: &str, desc: &str) -> String {
        self.finish_from(0.0, width, height, title, desc)
    }

    /// The same, leaving off what lies above `top`.
    pub fn finish_from(self, top: f64, width: f64, height: f64, title: &str, desc: &str) -> String {
        let id = &self.id;
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" aria-labelledby=\"{id}-t {id}-d\" \
             viewBox=\"0 {top} {w} {h}\" width=\"{w}\" height=\"{h}\" \
             font-family=\"system-ui, 'Liberation Sans', 'DejaVu Sans', sans-serif\" \
             stroke-linecap=\"round\" stroke-linejoin=\"round\">\
             <title id=\"{id}-t\">{}</title><desc id=\"{id}-d\">{}</desc>\
             <defs>{}</defs>{}</svg>",
            escape(title),
            escape(desc),
            self.defs,
            self.body,
            top = num(top),
            w = num(width),
            h = num(height),
        )
    }
}

/// A coordinate to a tenth of a pixel, without needless zeros. Anything not finite becomes 0.
pub fn num(x: f64) -> String {
    if !x.is_finite() {
        return "0".to_owned();
    }
    // Whole tenths: the writing of whole numbers is many times quicker than that of fractions.
    let tenths = (x * 10.0).round() as i64;
    let sign = if tenths < 0 { "-" } else { "" };
    match (tenths.unsigned_abs() / 10, tenths.unsigned_abs() % 10) {
        (whole, 0) => format!("{sign}{whole}"),
        (whole, tenth) => format!("{sign}{whole}.{tenth}"),
    }
}

/// Text made safe for SVG and HTML. Control characters, which XML forbids, are dropped.
pub fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c if c.is_control() || c == '\u{fffe}' || c == '\u{ffff}' => out.push(' '),
            c => out.push(c),
        }
    }
    out
}

fn path_data(points: &[(f64, f64)], closed: bool) -> String {
    let mut d = String::new();
    for (i, (x, y)) in points.iter().enumerate() {
        let _ = write!(
            d,
            "{}{} {}",
            if i == 0 { "M" } else { "L" },
            num(*x),
            num(*y)
        );
    }
    if closed && !points.is_empty() {
        d.push('Z');
    }
    d
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_short_and_never_nan() {
        assert_eq!(num(1.0), "1");
        assert_eq!(num(1.26), "1.3");
        assert_eq!(num(-0.01), "0");
        assert_eq!(num(-0.26), "-0.3");
        assert_eq!(num(-12.0), "-12");
        assert_eq!(num(f64::NAN), "0");
        assert_eq!(num(f64::INFINITY), "0");
    }

    #[test]
    fn markup_and_control_characters_cannot_get_in() {
        let mut svg = Svg::new("t");
        svg.text(0.0, 0.0, Letter::new(12.0), "</text><script>\u{0}\"");
        let out = svg.finish(10.0, 10.0, "<b>", "a & b");
        assert!(
            !out.contains("<script>") && !out.contains("<b>") && !out.contains('\u{0}'),
            "{out}"
        );
        assert!(
            out.contains("role=\"img\"") && out.contains("a &amp; b"),
            "{out}"
        );
    }

    #[test]
    fn cut_and_wrapped_text_keeps_to_its_room() {
        let letter = Letter::new(12.0);
        let long = "a driveway with a name as long as the street it leads to";
        assert!(letter.width(&letter.cut(long, 90.0)) <= 90.0);
        let lines = letter.wrap(long, 90.0, 2);
        assert_eq!(lines.len(), 2);
        assert!(lines.iter().all(|l| letter.width(l) <= 90.0), "{lines:?}");
    }
}
