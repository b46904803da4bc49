//! Two records of one slab held side by side: what grew, how fast, what was done, did it hold.

use serde::Serialize;

use super::phrases::Phrases;
use super::view::{Fact, JobView, View, capital};
use crate::facts::Interval;
use crate::record::dates;
use crate::record::model::{AreaRecord, Defect, DefectKind, OneOrMore, Record};
use crate::units::{Kind, Measured, Notation, System};

/// Days in a year, over a leap cycle of four.
const YEAR_DAYS: f64 = 365.25;
/// Shorter spans give no yearly rate: the reading error would be multiplied.
const LEAST_SPAN_DAYS: i32 = 60;

/// How something has changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Course {
    /// Not there before.
    New,
    /// Larger than before, whatever the ranges.
    Grew,
    /// The ranges overlap: it may have grown.
    Unclear,
    /// Nothing was measured both times.
    NotCompared,
    /// The same.
    Same,
    /// Smaller than before.
    Shrank,
    /// No longer there.
    Gone,
}

impl Course {
    fn key(self) -> &'static str {
        match self {
            Course::New => "course_new",
            Course::Grew => "course_grew",
            Course::Unclear => "course_unclear",
            Course::NotCompared => "course_not_compared",
            Course::Same => "course_same",
            Course::Shrank => "course_shrank",
            Course::Gone => "course_gone",
        }
    }
}

/// Two records side by side, ready to print.
#[derive(Debug, Clone, Serialize)]
pub struct Comparison {
    /// Title of the paper.
    pub title: String,
    /// Who, where, when: of the later record.
    pub job: JobView,
    /// Day of the earlier record.
    pub before: String,
    /// Day of the later record.
    pub after: String,
    /// Time between them.
    pub span: Option<String>,
    /// What to keep in mind.
    pub notes: Vec<String>,
    /// The answer in sentences.
    pub summary: Vec<String>,
    /// Verdict before.
    pub verdict_before: String,
    /// Verdict after.
    pub verdict_after: String,
    /// Whether each is firm.
    pub firm: (bool, bool),
    /// Defects, worst course first.
    pub defects: Vec<Change>,
    /// What is different about the slab: what was done, or what became known.
    pub done: Vec<Changed>,
    /// Whether what was done has held.
    pub held: Vec<Held>,
    /// Tests read both times.
    pub tests: Vec<Measure>,
    /// Version of the tool.
    pub version: String,
    /// Fingerprint of the rules.
    pub rules: String,
    /// House rules added, replaced or switched off, one line each.
    pub house_rules: Vec<String>,
}

/// A defect before and after.
#[derive(Debug, Clone, Serialize)]
pub struct Change {
    /// Number.
    pub number: u32,
    /// Area.
    pub area: String,
    /// What is seen.
    pub kind: String,
    /// How it has changed.
    pub course: Course,
    /// The same in words.
    pub word: String,
    /// Measures.
    pub measures: Vec<Measure>,
}

/// A measure before and after.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Measure {
    /// What was measured.
    pub name: String,
    /// Before; empty where it was not measured.
    pub before: String,
    /// After.
    pub after: String,
    /// Difference with its sign.
    pub change: String,
    /// Difference a year; empty where the span is too short or nothing changed.
    pub rate: String,
}

/// A fact of the slab that is not what it was.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Changed {
    /// What.
    pub name: String,
    /// Before.
    pub before: String,
    /// After.
    pub after: String,
}

/// Whether work has held.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Held {
    /// In a sentence.
    pub text: String,
    /// Whether it has.
    pub held: bool,
}

/// Why two records can't be compared.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CompareError {
    /// The first is the later one.
    #[error(
        "the first record ({before}) is later than the second ({after})\n  hint: name the older record first"
    )]
    Order {
        /// Day of the first.
        before: String,
        /// Day of the second.
        after: String,
    },
}

/// A record with its view.
#[derive(Debug, Clone, Copy)]
pub struct Side<'a> {
    /// The record.
    pub record: &'a Record,
    /// Its report.
    pub view: &'a View,
}

impl Comparison {
    /// Holds two records of one slab side by side, in the units of the later.
    ///
    /// # Errors
    /// When the first is later than the second.
    pub fn build(
        old: Side<'_>,
        new: Side<'_>,
        phrases: &Phrases,
    ) -> Result<Comparison, CompareError> {
        let units = new.record.job.units;
        let days = match (
            dates::day(&old.record.job.date),
            dates::day(&new.record.job.date),
        ) {
            (Some(a), Some(b)) => Some((b - a).get_days()),
            _ => None,
        };
        if days.is_some_and(|d| d < 0) {
            return Err(CompareError::Order {
                before: old.record.job.date.clone(),
                after: new.record.job.date.clone(),
            });
        }
        let years = days
            .filter(|d| *d >= LEAST_SPAN_DAYS)
            .map(|d| f64::from(d) / YEAR_DAYS);
        let w = Writer {
            units,
            years,
            phrases,
        };
        let mut defects = w.defects(old, new);
        defects.sort_by_key(|c| (c.course, c.number));
        let done = w.done(old, new);
        let held = w.held(old, new, &defects);
        let mut notes = Vec::new();
        let same = |a: &str, b: &str| a.trim().eq_ignore_ascii_case(b.trim());
        if !same(&old.record.job.address, &new.record.job.address) {
            notes.push(phrases.say(
                "note_address",
                &[
                    ("a", &old.record.job.address),
                    ("b", &new.record.job.address),
                ],
            ));
        }
        if years.is_none() {
            notes.push(phrases.say("note_short", &[]));
        }
        Ok(Comparison {
            title: phrases.say("compare_title", &[]),
            job: new.view.job.clone(),
            before: old.view.job.date.clone(),
            after: new.view.job.date.clone(),
            span: days.map(|d| Kind::Duration.write(Interval::exact(f64::from(d)), units)),
            summary: w.summary(&defects),
            verdict_before: old.view.verdict.headline.clone(),
            verdict_after: new.view.verdict.headline.clone(),
            firm: (old.view.verdict.firm, new.view.verdict.firm),
            tests: w.tests(old.record, new.record),
            notes,
            defects,
            done,
            held,
            version: new.view.version.clone(),
            rules: new.view.rules.clone(),
            house_rules: new.view.house_rules.clone(),
        })
    }
}

struct Writer<'a> {
    units: System,
    years: Option<f64>,
    phrases: &'a Phrases,
}

type Reading = (&'static str, Kind, Option<Interval>);

fn reading<T: Notation>(key: &'static str, value: Option<&Measured<T>>) -> Reading {
    (key, T::KIND, value.and_then(Measured::canonical))
}

/// What may grow about a defect.
fn readings(d: &Defect) -> [Reading; 11] {
    let extent = d.extent.as_ref().and_then(|e| {
        let (a, b) = (e.width.canonical()?, e.length.canonical()?);
        // mm by mm to m².
        Some(Interval::of(a.lo * b.lo / 1e6, a.hi * b.hi / 1e6))
    });
    [
        ("measure_extent", Kind::Area, extent),
        reading("measure_surface", d.surface.as_ref()),
        reading("measure_share", d.share.as_ref()),
        reading("measure_count", d.count.as_ref()),
        reading("measure_depth", d.depth.as_ref()),
        reading("measure_deepest", d.greatest_depth.as_ref()),
        reading("measure_diameter", d.diameter.as_ref()),
        reading("measure_width", d.width.as_ref()),
        reading("measure_length", d.length.as_ref()),
        reading("measure_offset", d.offset.as_ref()),
        reading("measure_water", d.water_depth.as_ref()),
    ]
}

fn course(old: Interval, new: Interval) -> Course {
    if new.lo > old.hi {
        Course::Grew
    } else if new.hi < old.lo {
        Course::Shrank
    } else if old == new {
        Course::Same
    } else {
        Course::Unclear
    }
}

fn all(record: &Record) -> impl Iterator<Item = (&AreaRecord, &Defect)> {
    record
        .areas
        .iter()
        .flat_map(|a| a.defects.iter().map(move |d| (a, d)))
}

fn kind_of(side: Side<'_>, number: u32) -> String {
    side.view
        .saw
        .defects
        .iter()
        .find(|d| d.number == number)
        .map_or_else(String::new, |d| {
            d.what.iter().map(|s| s.text.as_str()).collect()
        })
}

impl Writer<'_> {
    fn say(&self, key: &str) -> String {
        self.phrases.say(key, &[])
    }

    /// A difference with its sign, or both ends where they differ in sign.
    fn signed(&self, kind: Kind, by: Interval) -> String {
        let one = |x: f64| {
            let size = kind.write(Interval::exact(x.abs()), self.units);
            match x {
                x if x > 0.0 => format!("+{size}"),
                x if x < 0.0 => format!("\u{2212}{size}"),
                _ => self.say("no_change"),
            }
        };
        if by.lo == by.hi {
            one(by.lo)
        } else if by.lo > 0.0 {
            // Grown whatever the truth is: one range in one unit.
            format!("+{}", kind.write(by, self.units))
        } else {
            self.phrases
                .say("between", &[("a", &one(by.lo)), ("b", &one(by.hi))])
        }
    }

    fn measure(&self, name: String, kind: Kind, old: Interval, new: Interval) -> Measure {
        let by = Interval::of(new.lo - old.hi, new.hi - old.lo);
        let same = old == new;
        Measure {
            name,
            before: kind.write(old, self.units),
            after: kind.write(new, self.units),
            change: if same {
                self.say("no_change")
            } else {
                self.signed(kind, by)
            },
            rate: match self.years {
                Some(years) if !same => self.phrases.say(
                    "a_year",
                    &[(
                        "change",
                        &self.signed(kind, Interval::of(by.lo / years, by.hi / years)),
                    )],
                ),
                _ => String::new(),
            },
        }
    }

    fn defects(&self, old: Side<'_>, new: Side<'_>) -> Vec<Change> {
        let mut out = Vec::new();
        let mut add = |number: u32, area: &AreaRecord, kind: String, course, measures| {
            out.push(Change {
                number,
                area: area.id.clone(),
                kind,
                course,
                word: self.say(Course::key(course)),
                measures,
            });
        };
        for (area, d) in all(new.record) {
            let before = all(old.record).find(|(_, o)| o.id == d.id && o.kind == d.kind);
            let Some((_, before)) = before else {
                let measures = self.alone(&readings(d), false);
                add(d.id, area, kind_of(new, d.id), Course::New, measures);
                continue;
            };
            let mut courses = Vec::new();
            let mut measures = Vec::new();
            for ((key, kind, a), (_, _, b)) in readings(before).into_iter().zip(readings(d)) {
                if let (Some(a), Some(b)) = (a, b) {
                    courses.push(course(a, b));
                    measures.push(self.measure(self.say(key), kind, a, b));
                }
            }
            let course = courses.into_iter().min().unwrap_or(Course::NotCompared);
            add(d.id, area, kind_of(new, d.id), course, measures);
        }
        for (area, d) in all(old.record) {
            if !all(new.record).any(|(_, n)| n.id == d.id && n.kind == d.kind) {
                let measures = self.alone(&readings(d), true);
                add(d.id, area, kind_of(old, d.id), Course::Gone, measures);
            }
        }
        out
    }

    /// Measures taken once only.
    fn alone(&self, readings: &[Reading], before: bool) -> Vec<Measure> {
        readings
            .iter()
            .filter_map(|(key, kind, value)| {
                let value = kind.write((*value)?, self.units);
                let (before, after) = if before {
                    (value, String::new())
                } else {
                    (String::new(), value)
                };
                Some(Measure {
                    name: self.say(key),
                    before,
                    after,
                    change: String::new(),
                    rate: String::new(),
                })
            })
            .collect()
    }

    fn tests(&self, old: &Record, new: &Record) -> Vec<Measure> {
        let mut out = Vec::new();
        for area in &new.areas {
            let Some(before) = old.areas.iter().find(|a| a.id == area.id) else {
                continue;
            };
            let hollow = |a: &AreaRecord| {
                let s = a.tests.sounding.as_ref()?;
                let (taps, hollow) = (s.taps?, s.hollow?);
                (taps > 0).then(|| Interval::exact(f64::from(hollow) / f64::from(taps)))
            };
            let pull = |a: &AreaRecord| {
                let all: Vec<f64> = a
                    .tests
                    .pull_off
                    .iter()
                    .filter_map(Measured::canonical)
                    .map(|i| (i.lo + i.hi) / 2.0)
                    .collect();
                (!all.is_empty())
                    .then(|| Interval::exact(all.iter().sum::<f64>() / all.len() as f64))
            };
            let mut add = |key: &str, kind: Kind, a: Option<Interval>, b: Option<Interval>| {
                if let (Some(a), Some(b)) = (a, b) {
                    let name = self.phrases.say(key, &[("area", &capital(&area.name))]);
                    out.push(self.measure(name, kind, a, b));
                }
            };
            add("test_hollow", Kind::Share, hollow(before), hollow(area));
            add("test_pull", Kind::Pressure, pull(before), pull(area));
            let fall = |a: &AreaRecord| a.fall.as_ref().and_then(Measured::canonical);
            add("test_fall", Kind::Slope, fall(before), fall(area));
        }
        out
    }

    fn done(&self, old: Side<'_>, new: Side<'_>) -> Vec<Changed> {
        let facts = |side: Side<'_>| -> Vec<Fact> { side.view.saw.facts.clone() };
        let (before, after) = (facts(old), facts(new));
        let mut out = Vec::new();
        for fact in &after {
            let was = before.iter().find(|f| f.name == fact.name);
            if was.is_none_or(|f| f.value != fact.value) {
                out.push(Changed {
                    name: fact.name.clone(),
                    before: was.map_or_else(|| self.say("not_recorded"), |f| f.value.clone()),
                    after: fact.value.clone(),
                });
            }
        }
        out
    }

    /// A covering that is new, or a recommended repair whose defects are gone, has held where no
    /// defect of a kind that means failure is new or grew in its area.
    fn held(&self, old: Side<'_>, new: Side<'_>, changes: &[Change]) -> Vec<Held> {
        let mut out = Vec::new();
        let covered = |r: &Record| match &r.slab.covering {
            Some(OneOrMore::One(word)) if word != "none" && word != "unknown" => Some(word.clone()),
            _ => None,
        };
        let laid = covered(new.record).filter(|w| covered(old.record).as_ref() != Some(w));
        for area in &new.record.areas {
            let here: Vec<&Change> = changes.iter().filter(|c| c.area == area.id).collect();
            let gone = here.iter().filter(|c| c.course == Course::Gone).count();
            if gone == 0 && laid.is_none() {
                continue;
            }
            let failed: Vec<String> = area
                .defects
                .iter()
                .filter(|d| {
                    matches!(
                        d.kind,
                        DefectKind::Debonding
                            | DefectKind::Delamination
                            | DefectKind::Blisters
                            | DefectKind::Pinholes
                            | DefectKind::Scaling
                            | DefectKind::Spall
                            | DefectKind::Crack
                    ) && here
                        .iter()
                        .any(|c| c.number == d.id && c.course <= Course::Grew)
                })
                .map(|d| format!("{} ({})", d.id, kind_of(new, d.id).to_lowercase()))
                .collect();
            let text = if failed.is_empty() {
                self.phrases
                    .say("held_yes", &[("area", &capital(&area.name))])
            } else {
                self.phrases.say(
                    "held_no",
                    &[("area", &capital(&area.name)), ("list", &failed.join(", "))],
                )
            };
            out.push(Held {
                text,
                held: failed.is_empty(),
            });
        }
        let _ = old;
        out
    }

    fn summary(&self, defects: &[Change]) -> Vec<String> {
        let mut out = Vec::new();
        for course in [
            Course::New,
            Course::Grew,
            Course::Unclear,
            Course::Same,
            Course::Shrank,
            Course::Gone,
        ] {
            let list: Vec<String> = defects
                .iter()
                .filter(|c| c.course == course)
                .map(|c| c.number.to_string())
                .collect();
            if !list.is_empty() {
                let no = self.say("no");
                let list = list.join(", ");
                out.push(format!("{}: {no} {list}.", self.say(course.key())));
            }
        }
        if out.is_empty() {
            out.push(self.say("nothing_to_compare"));
        }
        out
    }
}

/// A comparison for the terminal, ending with a line break.
pub fn text(c: &Comparison, width: usize) -> String {
    use std::fmt::Write;
    let mut out = String::new();
    let line = |out: &mut String, indent: usize, text: &str| {
        let pad = " ".repeat(indent);
        for l in super::text::wrap(text, width.saturating_sub(indent)) {
            let _ = writeln!(out, "{pad}{l}");
        }
    };
    let _ = writeln!(out);
    line(&mut out, 2, &format!("{}: {}", c.title, c.job.address));
    let span = c.span.as_ref().map_or(String::new(), |s| format!(" ({s})"));
    line(
        &mut out,
        2,
        &format!("{} \u{2192} {}{span}", c.before, c.after),
    );
    line(
        &mut out,
        2,
        &format!("{} \u{2192} {}", c.verdict_before, c.verdict_after),
    );
    let _ = writeln!(out);
    for s in c.notes.iter().chain(&c.summary) {
        line(&mut out, 2, s);
    }
    for d in &c.defects {
        let _ = writeln!(out);
        line(
            &mut out,
            2,
            &format!("{:>2}  {} ({}): {}", d.number, d.kind, d.area, d.word),
        );
        for m in &d.measures {
            measure(&mut out, m, &line);
        }
    }
    if !c.done.is_empty() || !c.held.is_empty() || !c.tests.is_empty() {
        let _ = writeln!(out);
    }
    for m in &c.tests {
        measure(&mut out, m, &line);
    }
    for f in &c.done {
        line(
            &mut out,
            2,
            &format!("{}: {} \u{2192} {}", f.name, f.before, f.after),
        );
    }
    for h in &c.held {
        line(&mut out, 2, &h.text);
    }
    out
}

fn measure(out: &mut String, m: &Measure, line: &dyn Fn(&mut String, usize, &str)) {
    let dash = |s: &str| {
        if s.is_empty() {
            "\u{2013}".to_owned()
        } else {
            s.to_owned()
        }
    };
    let mut text = format!(
        "{}: {} \u{2192} {}",
        m.name,
        dash(&m.before),
        dash(&m.after)
    );
    if !m.change.is_empty() {
        text.push_str(&format!(", {}", m.change));
    }
    if !m.rate.is_empty() {
        text.push_str(&format!(" ({})", m.rate));
    }
    line(out, 6, &text);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranges_that_overlap_prove_nothing() {
        let i = Interval::of;
        assert_eq!(course(i(1.0, 2.0), i(2.5, 3.0)), Course::Grew);
        assert_eq!(course(i(1.0, 2.0), i(2.0, 3.0)), Course::Unclear);
        assert_eq!(course(i(1.0, 2.0), i(1.0, 2.0)), Course::Same);
        assert_eq!(course(i(2.0, 3.0), i(1.0, 1.5)), Course::Shrank);
    }

    #[test]
    fn a_difference_of_ranges_spans_every_pair() {
        let phrases = Phrases::built_in("en").unwrap();
        let w = Writer {
            units: System::Metric,
            years: Some(2.0),
            phrases: &phrases,
        };
        // 4..6 mm to 5..8 mm: least 5 - 6 = -1, most 8 - 4 = +4; over two years -0.5 to +2.
        let m = w.measure(
            "x".into(),
            Kind::Length,
            Interval::of(4.0, 6.0),
            Interval::of(5.0, 8.0),
        );
        assert_eq!(m.change, "between \u{2212}1 mm and +4 mm");
        assert_eq!(m.rate, "between \u{2212}0.5 mm and +2 mm a year");
        // 0.4 mm to 0.6 mm over two years: +0.2 mm, +0.1 mm a year.
        let m = w.measure(
            "x".into(),
            Kind::Length,
            Interval::exact(0.4),
            Interval::exact(0.6),
        );
        assert_eq!(
            (m.change.as_str(), m.rate.as_str()),
            ("+0.2 mm", "+0.1 mm a year")
        );
    }
}
