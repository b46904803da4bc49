//! Reading a measure as people write it.

use super::canonical;
use super::kind::Kind;
use crate::units::Interval;

/// A measure that can't be read: what is wrong, and how to write it right.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{message} ({hint})")]
pub struct NotationError {
    /// What is wrong, in a sentence.
    pub message: String,
    /// How to write it right.
    pub hint: String,
}

impl NotationError {
    pub(super) fn new(message: impl Into<String>, hint: impl Into<String>) -> Self {
        NotationError {
            message: message.into(),
            hint: hint.into(),
        }
    }
}

/// Longest text read as a measure, in characters.
const LONGEST: usize = 80;

/// Greatest canonical number read as a measure. Far beyond any slab; keeps arithmetic finite.
const GREATEST: f64 = 1e9;

/// A measure given again in brackets, in another unit, must agree to within this share: two
/// figures are 5 % at most.
const SAME_WITHIN: f64 = 0.06;

/// Absolute zero, °C.
const COLDEST: f64 = -273.15;
/// Half of the last figure that a temperature is printed with, °C: what is printed must be read again.
const PRINTED: f64 = 0.05;

/// `0.3 mm (0.012 in)` as its two measures.
fn twice(text: &str) -> Option<(&str, &str)> {
    let (first, again) = text.trim().strip_suffix(')')?.split_once('(')?;
    let (first, again) = (first.trim(), again.trim());
    (!first.is_empty() && !again.is_empty() && !again.contains('(')).then_some((first, again))
}

/// Whether the text says that the value was not measured: `unknown`, `don't know`, `?`.
pub fn is_unknown(text: &str) -> bool {
    let text = text.trim().to_lowercase().replace('’', "'");
    matches!(
        text.as_str(),
        "unknown" | "don't know" | "dont know" | "not known" | "not measured" | "?"
    )
}

impl Kind {
    /// Reads a measure: one number or a range, as canonical numbers rounded to 12 significant
    /// digits, so that `3/8 in` and `9.525 mm` give the same.
    ///
    /// # Errors
    /// Anything else is an error with a hint that shows how to write it: a bare number where a
    /// unit is needed, a unit of another kind, a range written backwards, a hyphen that could be
    /// a range or a fraction, a decimal comma, `about`, `unknown`, a negative area.
    ///
    /// ```
    /// use ringtrue::facts::Interval;
    /// use ringtrue::units::Kind;
    /// assert_eq!(Kind::Length.read("1-1/2 in"), Kind::Length.read("38.1 mm"));
    /// assert_eq!(Kind::Slope.read("1:50"), Kind::Slope.read("2 %"));
    /// assert_eq!(Kind::Length.read("4 to 8 mm").unwrap(), Interval { lo: 4.0, hi: 8.0 });
    /// assert_eq!(Kind::Length.read("4").unwrap_err().hint, "write `4 in` or `4 mm`, whichever it is");
    /// ```
    pub fn read(self, text: &str) -> Result<Interval, NotationError> {
        let text = fold(text);
        if let Some((first, again)) = twice(&text) {
            let (value, same) = (self.read(first)?, self.read(again)?);
            let near = |a: f64, b: f64| (a - b).abs() <= SAME_WITHIN * a.abs().max(b.abs());
            return if near(value.lo, same.lo) && near(value.hi, same.hi) {
                Ok(value)
            } else {
                Err(NotationError::new(
                    format!("`{first}` and `{again}` are not the same"),
                    "write one of the two alone",
                ))
            };
        }
        self.refuse_words(&text)?;
        let (left, right) = ends(&text, self)?;
        let Some(right) = right else {
            let x = self.settle(&self.terms(left)?, None, left)?;
            return Ok(Interval::exact(x));
        };
        let (low, high) = (self.terms(left)?, self.terms(right)?);
        // `3 to 3-1/2 qt`: the first end takes the unit of the second, where that is one unit.
        let shared = match high.as_slice() {
            [
                Term {
                    unit: Some(unit), ..
                },
            ] => Some(unit.as_str()),
            _ => None,
        };
        if low.iter().any(|t| t.unit.is_some())
            && high.iter().all(|t| t.unit.is_none())
            && self != Kind::Number
        {
            return Err(NotationError::new(
                format!("the range `{text}` has its unit at the first end only"),
                format!("put the unit last, for example `{}`", self.range_example()),
            ));
        }
        let (a, b) = (
            self.settle(&low, shared, left)?,
            self.settle(&high, None, right)?,
        );
        if a > b {
            return Err(NotationError::new(
                format!("the range `{text}` is written backwards"),
                match shared {
                    Some(unit) if low.iter().all(|t| t.unit.is_none()) => {
                        format!(
                            "write the lesser first: `{} to {left} {unit}`",
                            without_unit(right, unit)
                        )
                    }
                    _ => format!("write the lesser first: `{right} to {left}`"),
                },
            ));
        }
        Ok(Interval { lo: a, hi: b })
    }

    fn range_example(self) -> &'static str {
        match self {
            Kind::Length => "4 to 8 mm",
            Kind::Area => "20 to 30 ft2",
            Kind::Volume => "3 to 3-1/2 qt",
            Kind::Mass => "40 to 50 lb",
            Kind::Temperature => "50 to 90 F",
            Kind::Pressure => "150 to 250 psi",
            Kind::Share => "5 to 10 %",
            Kind::Slope => "1 to 2 %",
            Kind::Duration => "20 to 30 min",
            Kind::Speed => "5 to 10 mph",
            Kind::Coverage => "150 to 200 ft2/gal",
            Kind::SpreadRate => "0.1 to 0.2 lb/ft2/h",
            Kind::Number => "3 to 5",
        }
    }

    fn shown(self) -> String {
        let all: Vec<String> = self.examples().iter().map(|e| format!("`{e}`")).collect();
        all.join(", ")
    }

    /// Refuses what is no measure at all, each with its own hint.
    fn refuse_words(self, text: &str) -> Result<(), NotationError> {
        let lower = text.to_lowercase();
        if text.is_empty() {
            return Err(NotationError::new(
                format!("{} is needed here, and there is nothing", self.named()),
                format!("write {}", self.shown()),
            ));
        }
        if text.chars().count() > LONGEST {
            return Err(NotationError::new(
                format!("this is too long for {}", self.named()),
                format!("write {}; remarks go into `note`", self.shown()),
            ));
        }
        if is_unknown(&lower) {
            return Err(NotationError::new(
                format!("`{text}` is no measure, and one is needed here"),
                format!("write {}", self.shown()),
            ));
        }
        const VAGUE: [&str; 11] = [
            "about ", "approx", "around ", "roughly ", "circa ", "ca ", "ca. ", "some ", "~", "≈",
            "c. ",
        ];
        if let Some(word) = VAGUE.iter().find(|w| lower.starts_with(**w)) {
            return Err(NotationError::new(
                format!("`{}` does not say how near it is", word.trim()),
                format!(
                    "write the range you are sure of, for example `{}`",
                    self.range_example()
                ),
            ));
        }
        const OPEN: [&str; 13] = [
            "<",
            ">",
            "≤",
            "≥",
            "over ",
            "under ",
            "at least ",
            "at most ",
            "up to ",
            "more than ",
            "less than ",
            "min ",
            "max ",
        ];
        if let Some(word) = OPEN.iter().find(|w| lower.starts_with(**w)) {
            return Err(NotationError::new(
                format!("`{}` leaves one end open", word.trim()),
                format!("write both ends, for example `{}`", self.range_example()),
            ));
        }
        if let Some(at) = text.find(',') {
            return Err(comma(text, at));
        }
        Ok(())
    }

    /// Splits one end of a range into its numbers with their units.
    fn terms(self, text: &str) -> Result<Vec<Term>, NotationError> {
        let mut scan = Scan { text, at: 0 };
        scan.spaces();
        let negative = scan.take('-');
        if !negative {
            scan.take('+');
        }
        let mut terms: Vec<Term> = Vec::new();
        loop {
            scan.spaces();
            if !terms.is_empty() {
                // The hyphen of `5'-6"`.
                scan.take('-');
                scan.spaces();
            }
            let Some(value) = scan.number(self)? else {
                return Err(NotationError::new(
                    format!("`{}` can't be read as {}", text.trim(), self.named()),
                    format!("write {}", self.shown()),
                ));
            };
            if self == Kind::Slope && scan.peek() == Some(':') {
                scan.take(':');
                scan.spaces();
                let run = scan.number(self)?.filter(|r| *r > 0.0);
                scan.spaces();
                let (Some(run), None) = (run, scan.peek()) else {
                    return Err(NotationError::new(
                        format!("`{}` is no ratio of rise to run", text.trim()),
                        "write `1:48`, or `1/4 in/ft`, or `2 %`",
                    ));
                };
                let sign = if negative { -1.0 } else { 1.0 };
                return Ok(vec![Term {
                    value: sign * value / run,
                    unit: Some(":".into()),
                }]);
            }
            scan.spaces();
            let unit = scan.unit();
            let sign = if negative { -1.0 } else { 1.0 };
            terms.push(Term {
                value: sign * value,
                unit,
            });
            scan.spaces();
            if scan.peek().is_none() {
                return Ok(terms);
            }
            if terms.len() >= 4 {
                return Err(NotationError::new(
                    format!(
                        "`{}` holds more numbers than {} has",
                        text.trim(),
                        self.named()
                    ),
                    format!("write {}", self.shown()),
                ));
            }
        }
    }

    /// Adds up the terms of one end: `5' 6"`, `1 h 30 min`.
    fn settle(
        self,
        terms: &[Term],
        shared: Option<&str>,
        text: &str,
    ) -> Result<f64, NotationError> {
        let text = text.trim();
        let mut total = 0.0;
        let mut before: Option<(f64, &str)> = None;
        for term in terms {
            let unit = term.unit.as_deref().or(shared);
            let value = match unit {
                None if self == Kind::Number => term.value,
                // Nothing is nothing in every unit but a temperature.
                None if term.value == 0.0 && self != Kind::Temperature => 0.0,
                None => return Err(self.needs_unit(text)),
                Some(":") if self == Kind::Slope => term.value,
                Some(unit) => {
                    let known = self.unit(unit).ok_or_else(|| self.wrong_unit(unit, text))?;
                    if let Some((larger, larger_name)) = before {
                        let step = term.value.abs() * known.factor;
                        if self == Kind::Temperature
                            || known.factor >= larger
                            || step >= larger * (1.0 - 1e-9)
                        {
                            return Err(NotationError::new(
                                format!("`{text}` does not add up to one measure"),
                                match super::kind::symbol(larger_name).as_str() {
                                    "ft" => {
                                        "inches after feet run from 0 to less than 12: `5' 6\"`"
                                            .to_owned()
                                    }
                                    _ => format!(
                                        "after `{larger_name}` write a smaller unit, and less of it than makes one `{larger_name}`"
                                    ),
                                },
                            ));
                        }
                    }
                    before = Some((known.factor, unit));
                    (term.value - known.zero) * known.factor
                }
            };
            total += value;
        }
        if terms.len() > 1 {
            let whole = terms
                .iter()
                .take(terms.len() - 1)
                .all(|t| t.value.fract() == 0.0);
            if !whole || terms.iter().any(|t| t.unit.is_none()) {
                return Err(NotationError::new(
                    format!("`{text}` does not add up to one measure"),
                    format!("write {}", self.shown()),
                ));
            }
        }
        if !total.is_finite() || total.abs() > GREATEST {
            return Err(NotationError::new(
                format!("`{text}` is far too large for {}", self.named()),
                "check the number and its unit",
            ));
        }
        if total < 0.0 && !self.may_be_negative() {
            return Err(NotationError::new(
                format!("{} can't be less than nothing", self.named()),
                "leave off the minus sign",
            ));
        }
        if self == Kind::Temperature && total < COLDEST - PRINTED {
            return Err(NotationError::new(
                format!("`{text}` is colder than anything can be"),
                "check the number and its unit",
            ));
        }
        if self == Kind::Temperature {
            return Ok(canonical(total.max(COLDEST)));
        }
        Ok(canonical(total))
    }

    fn needs_unit(self, text: &str) -> NotationError {
        let units: &[&str] = match self {
            Kind::Length => &["in", "mm"],
            Kind::Area => &["ft2", "m2"],
            Kind::Volume => &["qt", "L"],
            Kind::Mass => &["lb", "kg"],
            Kind::Temperature => &["F", "C"],
            Kind::Pressure => &["psi", "MPa"],
            Kind::Share => &["%"],
            Kind::Slope => &["in/ft", "%"],
            Kind::Duration => &["min", "days"],
            Kind::Speed => &["mph", "km/h"],
            Kind::Coverage => &["ft2/gal", "m2/L"],
            Kind::SpreadRate => &["lb/ft2/h", "kg/m2/h"],
            Kind::Number => &[],
        };
        let ways: Vec<String> = units.iter().map(|u| format!("`{text} {u}`")).collect();
        if self == Kind::Share
            && let Ok(x) = text.parse::<f64>()
            && x > 0.0
            && x < 1.0
        {
            let percent = canonical(x * 100.0);
            return NotationError::new(
                "a bare number needs its unit",
                format!(
                    "write `{percent} %` if it is a fraction of one, `{text} %` if it is per cent"
                ),
            );
        }
        let which = if ways.len() > 1 {
            ", whichever it is"
        } else {
            ""
        };
        NotationError::new(
            "a bare number needs its unit",
            format!("write {}{which}", ways.join(" or ")),
        )
    }

    fn wrong_unit(self, unit: &str, text: &str) -> NotationError {
        if self == Kind::Number {
            return NotationError::new(
                format!("`{unit}` stands after a bare number"),
                format!("write {}", self.shown()),
            );
        }
        if self == Kind::Volume && super::kind::symbol(unit) == "oz" {
            return NotationError::new("`oz` is a mass", "write `fl oz` for a volume");
        }
        if let Some(other) = Kind::ALL.into_iter().find(|k| k.unit(unit).is_some()) {
            return NotationError::new(
                format!(
                    "`{text}` is {}, and {} is needed here",
                    other.named(),
                    self.named()
                ),
                format!("write {}", self.shown()),
            );
        }
        let near = self
            .units()
            .iter()
            .map(|u| {
                (
                    strsim::damerau_levenshtein(&super::kind::symbol(unit), u.symbol),
                    u.symbol,
                )
            })
            .filter(|(distance, symbol)| *distance == 1 && symbol.chars().count() > 1)
            .min_by_key(|(distance, _)| *distance);
        match near {
            Some((_, symbol)) => NotationError::new(
                format!("`{unit}` is no unit that is known here"),
                format!(
                    "did you mean `{symbol}`? {} is written {}",
                    capital(self.named()),
                    self.shown()
                ),
            ),
            None => NotationError::new(
                format!("`{unit}` is no unit that is known here"),
                format!("write {}", self.shown()),
            ),
        }
    }
}

/// A text with its first letter large.
pub fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars
        .next()
        .map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

fn without_unit<'a>(text: &'a str, unit: &str) -> &'a str {
    text.trim().strip_suffix(unit).unwrap_or(text).trim()
}

/// A number with its unit, as written.
struct Term {
    value: f64,
    unit: Option<String>,
}

/// Folds typographic marks to those on a keyboard.
fn fold(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.trim().chars() {
        let fraction = match c {
            '½' => "1/2",
            '⅓' => "1/3",
            '⅔' => "2/3",
            '¼' => "1/4",
            '¾' => "3/4",
            '⅛' => "1/8",
            '⅜' => "3/8",
            '⅝' => "5/8",
            '⅞' => "7/8",
            _ => "",
        };
        if !fraction.is_empty() {
            if out.ends_with(|c: char| c.is_ascii_digit()) {
                out.push(' ');
            }
            out.push_str(fraction);
            continue;
        }
        match c {
            '’' | '‘' | '′' => out.push('\''),
            '”' | '“' | '″' => out.push('"'),
            '−' | '‐' | '‑' => out.push('-'),
            '⁄' => out.push('/'),
            '—' => out.push('–'),
            c if c.is_whitespace() => out.push(' '),
            c => out.push(c),
        }
    }
    out.replace("''", "\"")
}

/// The two ends of a range, or the whole text as one.
fn ends(text: &str, kind: Kind) -> Result<(&str, Option<&str>), NotationError> {
    // Folding keeps ASCII letters where they are, so places found in it hold in the text.
    let lower = text.to_ascii_lowercase();
    let mut cuts: Vec<(usize, usize)> = Vec::new();
    for mark in [" to ", "..", "–"] {
        cuts.extend(
            lower
                .match_indices(mark)
                .map(|(at, found)| (at, at + found.len())),
        );
    }
    cuts.sort_unstable();
    let wrong = || {
        NotationError::new(
            format!("`{text}` is no range with two ends"),
            format!("write `{}`", kind.range_example()),
        )
    };
    match cuts.as_slice() {
        [] => Ok((text, None)),
        [(from, past)] => {
            let (left, right) = (
                text.get(..*from).unwrap_or(""),
                text.get(*past..).unwrap_or(""),
            );
            if left.trim().is_empty() || right.trim().is_empty() {
                return Err(wrong());
            }
            Ok((left.trim(), Some(right.trim())))
        }
        _ => Err(wrong()),
    }
}

/// A comma is either a decimal comma or parts thousands; both are refused, each with its hint.
fn comma(text: &str, at: usize) -> NotationError {
    let after = text
        .get(at + 1..)
        .unwrap_or("")
        .chars()
        .take_while(char::is_ascii_digit)
        .count();
    let point = text.replacen(',', ".", 1);
    let none = text.replace(',', "");
    if after == 3 {
        NotationError::new(
            "a comma in a number can be read two ways",
            format!("write `{none}` if it parts thousands, `{point}` if it is a decimal"),
        )
    } else {
        NotationError::new(
            "a decimal is written with a point",
            format!("write `{point}`"),
        )
    }
}

struct Scan<'a> {
    text: &'a str,
    at: usize,
}

impl Scan<'_> {
    fn rest(&self) -> &str {
        self.text.get(self.at..).unwrap_or("")
    }

    fn peek(&self) -> Option<char> {
        self.rest().chars().next()
    }

    fn take(&mut self, c: char) -> bool {
        let found = self.peek() == Some(c);
        if found {
            self.at += c.len_utf8();
        }
        found
    }

    fn spaces(&mut self) {
        while self.take(' ') {}
    }

    fn digits(&mut self) -> &str {
        let length = self.rest().bytes().take_while(u8::is_ascii_digit).count();
        let from = self.at;
        self.at += length;
        self.text.get(from..self.at).unwrap_or("")
    }

    /// `n/d` at this place, after any spaces. Nothing is taken when it is not there.
    fn fraction(&mut self) -> Option<(f64, f64)> {
        let from = self.at;
        self.spaces();
        let top = self.digits().to_owned();
        if !top.is_empty() && self.take('/') {
            let bottom = self.digits();
            if let (Ok(top), Ok(bottom)) = (top.parse(), bottom.parse()) {
                return Some((top, bottom));
            }
        }
        self.at = from;
        None
    }

    /// A whole number, a decimal, a fraction or a mixed number.
    fn number(&mut self, kind: Kind) -> Result<Option<f64>, NotationError> {
        let no_whole = || NotationError::new("a fraction can't be over nothing", "write `3/8 in`");
        if let Some((top, bottom)) = self.fraction() {
            if bottom == 0.0 {
                return Err(no_whole());
            }
            return Ok(Some(top / bottom));
        }
        let from = self.at;
        let whole = self.digits().len();
        let mut decimals = 0;
        if self.peek() == Some('.') {
            self.at += 1;
            decimals = self.digits().len();
            if decimals == 0 {
                self.at -= 1;
            }
        }
        if whole + decimals == 0 {
            self.at = from;
            return Ok(None);
        }
        let Ok(value) = self.text.get(from..self.at).unwrap_or("").parse::<f64>() else {
            return Ok(None);
        };
        if decimals > 0 {
            return Ok(Some(value));
        }
        let hyphen = self.at;
        if self.take('-') {
            if let Some((top, bottom)) = self.fraction() {
                return mixed(value, top, bottom).map(Some);
            }
            self.spaces();
            if self.peek().is_some_and(|c| c.is_ascii_digit()) {
                return Err(NotationError::new(
                    format!(
                        "the hyphen in `{}` can be read as a range or as a fraction",
                        self.text.trim()
                    ),
                    format!("write a range with `to`: `{}`", kind.range_example()),
                ));
            }
            self.at = hyphen;
        } else if self.peek() == Some(' ') {
            if let Some((top, bottom)) = self.fraction() {
                return mixed(value, top, bottom).map(Some);
            }
            let spaces = self.at;
            self.spaces();
            if self.rest().starts_with("- ") {
                return Err(NotationError::new(
                    format!(
                        "the hyphen in `{}` can be read as a range or as a fraction",
                        self.text.trim()
                    ),
                    format!("write a range with `to`: `{}`", kind.range_example()),
                ));
            }
            self.at = spaces;
        }
        Ok(Some(value))
    }

    /// The unit that follows a number: up to the next number, or one foot or inch mark.
    fn unit(&mut self) -> Option<String> {
        let from = self.at;
        while let Some(c) = self.peek() {
            let ahead = self.rest().get(c.len_utf8()..).unwrap_or("");
            let next = ahead.trim_start_matches(' ');
            let number_next = next.starts_with(|c: char| c.is_ascii_digit() || c == '.');
            match c {
                ' ' | '-' if number_next => break,
                ' ' if next.starts_with('-') => break,
                '\'' | '"' => {
                    let goes_on = next.starts_with('/') || next.starts_with("per ");
                    self.at += 1;
                    if !goes_on {
                        break;
                    }
                }
                ':' => break,
                c => self.at += c.len_utf8(),
            }
        }
        let unit = self.text.get(from..self.at).unwrap_or("").trim();
        (!unit.is_empty()).then(|| unit.to_owned())
    }
}

fn mixed(whole: f64, top: f64, bottom: f64) -> Result<f64, NotationError> {
    if bottom == 0.0 || top >= bottom {
        return Err(NotationError::new(
            "the fraction after a whole number must be less than one",
            "write `1-1/2 in`",
        ));
    }
    Ok(whole + top / bottom)
}
