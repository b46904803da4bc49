//! Writing a measure as the trade prints it.

use super::kind::{Kind, System};
use crate::units::Interval;

/// Lengths from here on are printed in feet and inches, in.
const FEET_FROM: f64 = 48.0;
/// A sixteenth is printed where it is true to within this, in.
const SIXTEENTH_WITHIN: f64 = 0.02;
/// … and to within this share of the length, so that a hairline crack is not rounded to nothing.
const SIXTEENTH_SHARE: f64 = 0.06;
/// A fraction of an inch to the foot, or a quarter of a quart, is printed where it is true to
/// within this share; 2 % and 1/4 in/ft must stay apart.
const FRACTION_SHARE: f64 = 0.01;

/// A printed number and its unit; the unit is empty where it is part of the text (`5' 6"`).
struct Printed {
    text: String,
    unit: &'static str,
}

impl Printed {
    fn new(text: impl Into<String>, unit: &'static str) -> Self {
        Printed {
            text: text.into(),
            unit,
        }
    }

    fn whole(&self) -> String {
        if self.unit.is_empty() {
            self.text.clone()
        } else {
            format!("{} {}", self.text, self.unit)
        }
    }
}

impl Kind {
    /// Writes a canonical measure as the trade prints it: `3/8 in`, `5' 6"`, `4 to 8 mm`. What is
    /// printed reads back to the same number within the print precision: three figures, or a
    /// fiftieth of an inch. What is finer than a sixteenth of an inch, as cracks are, is printed in
    /// millimetres with the inches beside them: `0.3 mm (0.012 in)`. An open end is written `at least` or `at most` and does not read back.
    ///
    /// ```
    /// use ringtrue::facts::Interval;
    /// use ringtrue::units::{Kind, System};
    /// assert_eq!(Kind::Length.write(Interval::exact(9.525), System::Us), "3/8 in");
    /// assert_eq!(Kind::Length.write(Interval { lo: 4.0, hi: 8.0 }, System::Metric), "4 to 8 mm");
    /// ```
    pub fn write(self, value: Interval, system: System) -> String {
        match (value.lo.is_finite(), value.hi.is_finite()) {
            (true, true) => {}
            (true, false) => return format!("at least {}", self.print(value.lo, system).whole()),
            (false, true) => return format!("at most {}", self.print(value.hi, system).whole()),
            (false, false) => return "anything".to_owned(),
        }
        if self == Kind::Length
            && system == System::Us
            && let Some(text) = fine_length(value)
        {
            return text;
        }
        let (low, high) = (self.print(value.lo, system), self.print(value.hi, system));
        let (a, b) = (low.whole(), high.whole());
        if a == b {
            a
        } else if low.unit == high.unit && !low.unit.is_empty() {
            format!("{} to {b}", low.text)
        } else {
            format!("{a} to {b}")
        }
    }

    /// Writes a canonical measure in a unit of choice, to three figures: `0.45 ft3`. `None` when
    /// the kind has no such unit.
    pub fn write_in(self, value: Interval, unit: &str) -> Option<String> {
        let (a, b) = (self.to_unit(value.lo, unit)?, self.to_unit(value.hi, unit)?);
        let (a, b) = (figures(a.min(b)), figures(a.max(b)));
        Some(if a == b {
            format!("{b} {unit}")
        } else {
            format!("{a} to {b} {unit}")
        })
    }

    /// Writes a canonical number so that it reads back to the very same number.
    pub fn write_exact(self, x: f64) -> String {
        let unit = match self {
            Kind::Length => "mm",
            Kind::Area => "m2",
            Kind::Volume => "L",
            Kind::Mass => "kg",
            Kind::Temperature => "C",
            Kind::Pressure => "MPa",
            Kind::Share | Kind::Slope => "%",
            Kind::Duration => "days",
            Kind::Speed => "km/h",
            Kind::Coverage => "m2/L",
            Kind::SpreadRate => "kg/m2/h",
            Kind::Number => return format!("{}", super::canonical(x)),
        };
        format!("{} {unit}", self.to_unit(x, unit).unwrap_or(x))
    }

    fn print(self, x: f64, system: System) -> Printed {
        let us = system == System::Us;
        let to = |unit: &str| self.to_unit(x, unit).unwrap_or(x);
        match self {
            Kind::Length if us => us_length(to("in")),
            Kind::Length => match x.abs() {
                a if a < 1000.0 => Printed::new(figures(x), "mm"),
                _ => Printed::new(figures(to("m")), "m"),
            },
            Kind::Area if us => Printed::new(figures(to("ft2")), "ft²"),
            Kind::Area => Printed::new(figures(x), "m²"),
            Kind::Volume if us => us_volume(x),
            Kind::Volume if x < 1.0 && x != 0.0 => Printed::new(figures(to("ml")), "mL"),
            Kind::Volume => Printed::new(figures(x), "L"),
            Kind::Mass if us && to("lb") < 1.0 && x != 0.0 => Printed::new(figures(to("oz")), "oz"),
            Kind::Mass if us => Printed::new(figures(to("lb")), "lb"),
            Kind::Mass if x < 1.0 && x != 0.0 => Printed::new(figures(to("g")), "g"),
            Kind::Mass => Printed::new(figures(x), "kg"),
            Kind::Temperature if us => Printed::new(decimals(to("f"), 1), "°F"),
            Kind::Temperature => Printed::new(decimals(x, 1), "°C"),
            Kind::Pressure if us => Printed::new(figures(to("psi")), "psi"),
            Kind::Pressure => Printed::new(figures(x), "MPa"),
            Kind::Share => Printed::new(figures(to("%")), "%"),
            Kind::Slope => slope(to("in/ft"), to("%"), us),
            Kind::Duration => duration(x),
            Kind::Speed if us => Printed::new(figures(to("mph")), "mph"),
            Kind::Speed => Printed::new(figures(x), "km/h"),
            Kind::Coverage if us => Printed::new(figures(to("ft2/gal")), "ft²/gal"),
            Kind::Coverage => Printed::new(figures(x), "m²/L"),
            Kind::SpreadRate if us => Printed::new(figures(to("lb/ft2/h")), "lb/ft²/h"),
            Kind::SpreadRate => Printed::new(figures(x), "kg/m²/h"),
            Kind::Number => Printed::new(
                if x.fract() == 0.0 {
                    decimals(x, 0)
                } else {
                    figures(x)
                },
                "",
            ),
        }
    }
}

/// Three figures or the whole number, whichever is more; no trailing zeros.
fn figures(x: f64) -> String {
    let size = x.abs();
    let places = if size >= 100.0 || size == 0.0 {
        0
    } else {
        // 2 for 1 to 10, 3 for 0.1 to 1 …; twelve at most, where nothing is left to show.
        (2 - size.log10().floor() as i32).clamp(0, 12) as usize
    };
    decimals(x, places)
}

fn decimals(x: f64, places: usize) -> String {
    let mut text = format!("{x:.places$}");
    if text.contains('.') {
        text.truncate(text.trim_end_matches('0').trim_end_matches('.').len());
    }
    if text == "-0" { "0".to_owned() } else { text }
}

/// `n` parts of `1/parts` as a whole number and a fraction in lowest terms: `1-1/2`.
fn fraction(n: u64, parts: u64) -> String {
    let (whole, rest) = (n / parts, n % parts);
    if rest == 0 {
        return whole.to_string();
    }
    let common = divisor(rest, parts);
    let (top, bottom) = (rest / common, parts / common);
    if whole == 0 {
        format!("{top}/{bottom}")
    } else {
        format!("{whole}-{top}/{bottom}")
    }
}

fn divisor(a: u64, b: u64) -> u64 {
    if b == 0 { a } else { divisor(b, a % b) }
}

/// Two figures, no trailing zeros.
fn two_figures(x: f64) -> String {
    if x == 0.0 {
        return "0".to_owned();
    }
    let places = (1 - x.abs().log10().floor() as i32).clamp(0, 12) as usize;
    decimals(x, places)
}

/// Lengths of which an end lies between the marks of a rule: the hair-fine in millimetres, as crack
/// gauges are marked, with the inches beside them; others in decimals at both ends, so that no
/// range mixes decimals and fractions. `None` where every end is a mark of the rule or the length
/// is printed in feet.
fn fine_length(value: Interval) -> Option<String> {
    let inches = |mm: f64| Kind::Length.to_unit(mm, "in").unwrap_or(mm);
    let (lo, hi) = (inches(value.lo), inches(value.hi));
    let odd = |x: f64| mark(x.abs()).is_none();
    if !(odd(lo) || odd(hi)) || lo.abs().max(hi.abs()) >= 1.0 {
        return None;
    }
    let range = |a: String, b: String| if a == b { a } else { format!("{a} to {b}") };
    let text = range(two_figures(lo), two_figures(hi));
    let fine = |x: f64| odd(x) && x.abs() < 1.0 / 16.0;
    Some(if fine(lo) || fine(hi) {
        let mm = range(figures(value.lo), figures(value.hi));
        format!("{mm} mm ({text} in)")
    } else {
        format!("{text} in")
    })
}

/// A length of some inches as it is marked on a rule: in sixty-fourths where it is one, in
/// sixteenths where that is true enough. `None` between the marks.
fn mark(size: f64) -> Option<String> {
    // What was measured to a thirty-second or sixty-fourth is printed so.
    let fine = (size * 64.0).round();
    if fine > 0.0 && (size * 64.0 - fine).abs() <= 1e-6 {
        return Some(fraction(fine as u64, 64));
    }
    let sixteenths = (size * 16.0).round();
    let off = (size - sixteenths / 16.0).abs();
    (size == 0.0 || (off <= SIXTEENTH_WITHIN && off <= size * SIXTEENTH_SHARE))
        .then(|| fraction(sixteenths as u64, 16))
}

/// A length in inches.
fn us_length(inches: f64) -> Printed {
    let size = inches.abs();
    let sign = if inches < 0.0 { "-" } else { "" };
    if FEET_FROM - size <= SIXTEENTH_WITHIN {
        // Fits: the greatest number that is read is 1e9 mm, about 6.3e8 sixteenths.
        let n = (size * 16.0).round() as u64;
        let (feet, rest) = (n / 192, n % 192);
        return if rest == 0 {
            Printed::new(format!("{sign}{feet}"), "ft")
        } else {
            Printed::new(format!("{sign}{feet}' {}\"", fraction(rest, 16)), "")
        };
    }
    if let Some(text) = mark(size) {
        return Printed::new(format!("{sign}{text}"), "in");
    }
    let text = if size >= 1.0 {
        decimals(inches, 2)
    } else {
        figures(inches)
    };
    Printed::new(text, "in")
}

fn us_volume(litres: f64) -> Printed {
    let to = |unit: &str| Kind::Volume.to_unit(litres, unit).unwrap_or(litres);
    let quarts = to("qt");
    if quarts >= 16.0 {
        return Printed::new(figures(to("gal")), "gal");
    }
    let quarters = (quarts * 4.0).round();
    if (quarts - quarters / 4.0).abs() <= quarts * FRACTION_SHARE {
        return Printed::new(fraction(quarters as u64, 4), "qt");
    }
    if quarts < 1.0 {
        return Printed::new(figures(to("fl oz")), "fl oz");
    }
    Printed::new(figures(quarts), "qt")
}

fn slope(inches_per_foot: f64, percent: f64, us: bool) -> Printed {
    let size = inches_per_foot.abs();
    let sixteenths = (size * 16.0).round();
    let near = (size - sixteenths / 16.0).abs() <= size * FRACTION_SHARE;
    if us && sixteenths > 0.0 && size < 12.0 && near {
        let sign = if inches_per_foot < 0.0 { "-" } else { "" };
        return Printed::new(
            format!("{sign}{}", fraction(sixteenths as u64, 16)),
            "in/ft",
        );
    }
    Printed::new(figures(percent), "%")
}

/// The unit in which a span is a whole number, within the length people use that unit for; else
/// the unit that suits its length.
fn duration(days: f64) -> Printed {
    // One unit, several units, greatest whole number printed in it, least number printed in it
    // when it is not whole.
    const STEPS: [(&str, &str, f64, f64); 6] = [
        ("year", "years", f64::INFINITY, 2.0),
        ("month", "months", 48.0, 2.0),
        ("day", "days", 120.0, 2.0),
        ("h", "h", 72.0, 2.0),
        ("min", "min", 180.0, 2.0),
        ("s", "s", 180.0, 0.0),
    ];
    let to = |unit: &str| Kind::Duration.to_unit(days, unit).unwrap_or(days);
    if days == 0.0 {
        return Printed::new("0", "days");
    }
    for (one, many, most, _) in STEPS {
        let n = to(many);
        let whole = n.round();
        if whole >= 1.0 && whole <= most && (n - whole).abs() <= 1e-6 * whole {
            return Printed::new(decimals(whole, 0), if whole == 1.0 { one } else { many });
        }
    }
    let (_, unit, ..) = STEPS
        .into_iter()
        .find(|(_, unit, _, least)| to(unit) >= *least)
        .unwrap_or(STEPS[5]);
    let text = figures(to(unit));
    Printed::new(text, unit)
}
