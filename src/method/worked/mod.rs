//! Steps with the numbers of this slab: outlines, depths, lifts, saw cuts, runs and loads, each
//! with the facts and figures it was worked out from.

mod edges;
mod joints;
mod layer;
mod patches;
mod removal;
mod replace;
mod stairs;

use uom::si::length::millimeter;

use crate::assessment::{FactRead, Reason, made};
use crate::facts::{Interval, Provenance, Scope, Value};
use crate::record::geometry;
use crate::rules::Contestant;
use crate::survey::panels::panels;
use crate::units::{Kind, Length, System};

use super::model::{AreaMethod, Number, Step};
use super::specify::{Specifier, kept, ranking};

fn mm(x: f64) -> Length {
    Length::new::<millimeter>(x)
}

fn in_mm(x: Length) -> f64 {
    x.get::<millimeter>()
}

/// Rounds a length that the crew marks out up to what a rule shows: 1/16 in or 1 mm, and 1/4 in
/// beyond a foot, 5 mm beyond 50 mm.
fn mark_up(mm: f64, units: System) -> f64 {
    let step = step_of(mm, units);
    ((mm / step) * (1.0 - 1e-6)).ceil() * step
}

/// The same, rounded to the nearest: for what was measured.
fn mark_near(mm: f64, units: System) -> f64 {
    let step = step_of(mm, units);
    (mm / step).round() * step
}

/// The same, rounded down.
fn mark_down(mm: f64, units: System) -> f64 {
    let step = step_of(mm, units);
    ((mm / step) * (1.0 + 1e-6)).floor() * step
}

fn step_of(mm: f64, units: System) -> f64 {
    match units {
        System::Us if mm > 304.8 => 25.4 / 4.0,
        System::Us => 25.4 / 16.0,
        System::Metric if mm > 50.0 => 5.0,
        System::Metric => 1.0,
    }
}

fn middle(i: Interval) -> f64 {
    f64::midpoint(i.lo, i.hi)
}

/// `a, b and c`.
fn listed(list: &[String]) -> String {
    match list {
        [rest @ .., last] if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
        _ => list.join(""),
    }
}

/// `1 defect`, `defects 1, 2 and 3`.
fn numbered(what: &str, list: &[String]) -> String {
    match list {
        [one] => format!("{what} {one}"),
        [rest @ .., last] => format!("{what}s {} and {last}", rest.join(", ")),
        [] => what.to_owned(),
    }
}

/// What a step was worked out from.
struct Sources<'s, 'a> {
    s: &'s Specifier<'a>,
    read: Vec<FactRead>,
    numbers: Vec<Number>,
}

impl<'s, 'a> Sources<'s, 'a> {
    fn of(s: &'s Specifier<'a>) -> Self {
        Sources {
            s,
            read: Vec::new(),
            numbers: Vec::new(),
        }
    }

    /// A figure of the pack, noted as read.
    fn figure(&mut self, id: &str) -> Option<Interval> {
        let figure = self.s.pack.vocabulary.figure(id)?;
        if !self.read.iter().any(|r| r.fact == figure.id) {
            self.read.push(FactRead {
                fact: figure.id.clone(),
                name: figure.name.clone(),
                scope: Scope::Slab,
                value: figure.kind.write(figure.value, self.s.units()),
                how: format!("figure of the trade: {}", figure.source.source),
                path: None,
                place: None,
                line: None,
            });
        }
        Some(figure.value)
    }

    /// A known, finite number of a thing or of what holds it, noted as read.
    fn number(&mut self, thing: usize, fact: &str) -> Option<Interval> {
        let id = self.s.pack.vocabulary.find(fact)?;
        let scope = self.s.pack.vocabulary.fact(id).scope;
        let holder = self.s.ran.board.holder(thing, scope)?;
        let value = match self.s.survey.entry(holder, id)?.value {
            Value::Number(i) if i.lo.is_finite() && i.hi.is_finite() => i,
            _ => return None,
        };
        let read = self.s.words.read(id, thing);
        if !self
            .read
            .iter()
            .any(|r| r.fact == read.fact && r.path == read.path)
        {
            self.read.push(read);
        }
        Some(value)
    }

    /// A length in words, kept as a number of the step.
    fn say(&mut self, what: &str, kind: Kind, value: Interval) -> String {
        let text = crate::assessment::quantity(kind, value, self.s.units());
        self.numbers.push(Number {
            what: what.to_owned(),
            kind,
            value,
            text: text.clone(),
        });
        text
    }

    /// A length to mark out, rounded up to what a rule shows.
    fn mark(&mut self, what: &str, mm: f64) -> String {
        let mm = mark_up(mm, self.s.units());
        self.say(what, Kind::Length, Interval::exact(mm))
    }

    /// A measured length as a rule shows it.
    fn seen(&mut self, what: &str, range: Interval) -> String {
        let units = self.s.units();
        let range = Interval::of(mark_near(range.lo, units), mark_near(range.hi, units));
        self.say(what, Kind::Length, range)
    }

    /// A range of lengths to mark out.
    fn marks(&mut self, what: &str, range: Interval) -> String {
        let units = self.s.units();
        let range = Interval::of(mark_up(range.lo, units), mark_up(range.hi, units));
        self.say(what, Kind::Length, range)
    }

    /// The step, with the row of the pack it puts numbers to.
    fn step(self, (table, row): (&str, &str), stage: &str, thing: usize, said: Said) -> Step {
        Step {
            stage: stage.to_owned(),
            crew: said.crew,
            line: said.line,
            owner: said.owner,
            numbers: self.numbers,
            reason: Reason {
                table: table.to_owned(),
                row: row.to_owned(),
                about: self.s.ran.board.label(thing).to_owned(),
                certain: true,
                because: said.how,
                plain: None,
                crew: None,
                safety: false,
                source: "arithmetic of the figures and measures named".to_owned(),
                provenance: Provenance::Derived,
                read: self.read,
            },
        }
    }
}

/// What a worked step says.
struct Said {
    crew: String,
    /// The same in a line, for the crew's sheet.
    line: String,
    owner: String,
    /// How the numbers were found.
    how: String,
}

impl Specifier<'_> {
    pub(super) fn units(&self) -> System {
        self.record.job.units
    }

    /// The candidate a choice came to for a thing.
    pub(in crate::method) fn pick(&self, thing: usize, table: &str) -> Option<&Contestant> {
        let (_, rank, visit) = ranking(self.pack, self.ran, thing, table)?;
        kept(self.ran, rank, visit).into_iter().next()
    }

    /// The only value left of a made fact.
    pub(in crate::method) fn word(&self, thing: usize, fact: &str) -> Option<String> {
        let mut words = made(self.pack, self.ran, thing, fact);
        (words.len() == 1).then(|| words.pop()).flatten()
    }

    /// Adds every worked step of an area.
    pub(super) fn worked(&self, index: usize, method: &mut AreaMethod) {
        let Some(area) = self.record.areas.get(index) else {
            return;
        };
        let things = &self.survey.areas[index];
        let thing = things.thing;
        let place = geometry::places(self.record)
            .into_iter()
            .nth(index)
            .flatten();
        let shapes = panels(area, place.as_deref());
        // Those that the general steps of their stage build on come before them.
        let (mut first, mut steps) = (Vec::new(), Vec::new());
        let verdict = method.verdict.clone();
        let layer = method.overlay.clone();
        let layered = layer.is_some();
        let repaired = layered || verdict == "patch";
        let replaced = matches!(verdict.as_str(), "replace_panels" | "replace_all");
        if repaired {
            steps.extend(self.dust(thing));
            for (defect, &t) in area.defects.iter().zip(&things.defects) {
                steps.extend(self.removal(defect, t, thing));
            }
            let (patches, patch_steps) = self.patches(index, thing, layer.as_ref());
            method.patches = patches;
            steps.extend(patch_steps);
            steps.extend(self.bars(thing));
        }
        if verdict == "patch" {
            steps.extend(self.third(thing, &method.patches));
            for (defect, &t) in area.defects.iter().zip(&things.defects) {
                steps.extend(self.lip(defect, t));
                first.extend(self.curl(defect, t));
                steps.extend(self.core(defect, t));
            }
        }
        if let Some(layer) = &layer {
            for (defect, &t) in area.defects.iter().zip(&things.defects) {
                steps.extend(self.fill_first(defect, t, layer));
            }
            steps.extend(self.pull(thing));
            steps.extend(self.carried(area, thing, layer, &shapes));
            for (defect, &t) in area.defects.iter().zip(&things.defects) {
                steps.extend(self.crack_joint(defect, t, layer));
            }
            steps.extend(self.gauge(thing, layer));
            steps.extend(self.coats(thing, layer));
            steps.extend(self.fall(area, thing));
        }
        let dense = self
            .pick(thing, "sealer")
            .is_some_and(|s| s.id == "dense_film");
        let leveled = layer.as_ref().is_some_and(|l| l.system == "self_leveling");
        if (dense && (layered || verdict == "clean_and_seal")) || leveled {
            steps.extend(self.probes(thing));
        }
        if replaced {
            first.extend(self.which_panels(index, &shapes));
            first.extend(self.new_level(index, &verdict));
        }
        if !replaced {
            for (defect, &t) in area.defects.iter().zip(&things.defects) {
                steps.extend(self.groove(defect, t));
            }
        }
        if replaced {
            steps.extend(self.new_joints(thing));
            steps.extend(self.new_panels(index, &shapes));
            steps.extend(self.growth(area, thing));
        }
        method.steps.splice(0..0, first);
        method.steps.extend(steps);
    }

    fn figure(&self, id: &str) -> Option<Interval> {
        self.pack.figure(id)
    }

    fn value_of(&self, fact: &str, word: &str) -> Value {
        let bit = self
            .pack
            .vocabulary
            .find(fact)
            .and_then(|id| self.pack.vocabulary.fact(id).value_index(word));
        bit.map_or(Value::Unknown, |i| {
            Value::Choices(crate::facts::Bits::one(i))
        })
    }

    /// Whether a row fired for certain at a thing.
    fn fired(&self, thing: usize, table: &str, row: &str) -> bool {
        let Some((index, t)) = self.pack.table(table) else {
            return false;
        };
        self.ran.trail.visit(index, thing).is_some_and(|visit| {
            self.ran
                .trail
                .fired(visit)
                .iter()
                .any(|f| f.certain && t.rows.get(usize::from(f.row)).is_some_and(|r| r.id == row))
        })
    }
}

fn length(mm: f64, units: System) -> String {
    Kind::Length.write(Interval::exact(mm), units)
}
