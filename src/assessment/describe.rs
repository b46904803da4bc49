//! Facts, values and rows in plain words.

use crate::facts::{Bits, Comes, Fact, FactId, FactKind, Interval, Value};
use crate::rules::{Board, Condition, Pack, Row, Table};
use crate::source::Node;
use crate::survey::{Origin, Survey};
use crate::units::System;

use super::model::{Choice, FactRead, Reason};

/// Everything needed to put an answer into words.
pub struct Describer<'a> {
    /// The rules.
    pub pack: &'a Pack,
    /// What the survey found.
    pub survey: &'a Survey,
    /// What is known after the run.
    pub board: &'a Board,
    /// The record's tree, for lines.
    pub node: Option<&'a Node>,
    /// Units to print.
    pub units: System,
}

impl Describer<'_> {
    /// Values of a choice fact as words and plain words, in the fact's order.
    pub fn choices(&self, fact: FactId, bits: Bits) -> Vec<Choice> {
        let values = self.pack.vocabulary.fact(fact).values();
        bits.iter()
            .filter_map(|i| values.get(i))
            .map(|v| Choice {
                word: v.id.clone(),
                name: v.name.clone(),
            })
            .collect()
    }

    /// A value in plain words, with its unit.
    pub fn value(&self, fact: &Fact, value: Value) -> String {
        match (&fact.kind, value) {
            (FactKind::Quantity(kind), Value::Number(i)) => quantity(*kind, i, self.units),
            (FactKind::Choice { values, .. }, Value::Choices(bits)) => {
                if bits.len() == values.len() && values.len() > 1 {
                    return "not known".to_owned();
                }
                let names: Vec<&str> = bits
                    .iter()
                    .filter_map(|i| values.get(i))
                    .map(|v| v.name.as_str())
                    .collect();
                names.join(" or ")
            }
            _ => "not known".to_owned(),
        }
    }

    /// A fact as a thing sees it.
    pub fn read(&self, fact_id: FactId, thing: usize) -> FactRead {
        let fact = self.pack.vocabulary.fact(fact_id);
        let holder = self.board.holder(thing, fact.scope);
        let entry = holder.and_then(|h| self.survey.entry(h, fact_id));
        let (value, how, path) = match entry {
            Some(entry) => {
                let (how, path) = match &entry.origin {
                    Origin::Record(path) if entry.value == Value::Unknown => {
                        ("recorded as not known".to_owned(), Some(path.clone()))
                    }
                    Origin::Record(path) => ("recorded".to_owned(), Some(path.clone())),
                    Origin::WorkedOut { how, paths } => {
                        let first = paths
                            .iter()
                            .find(|p| self.line(p).is_some())
                            .or(paths.first());
                        (format!("worked out: {how}"), first.cloned())
                    }
                    Origin::Silent(because) => (
                        format!("taken so because the record is silent: {because}"),
                        None,
                    ),
                };
                (self.value(fact, entry.value), how, path)
            }
            None => {
                let bits = self.board.get(self.pack, thing, fact_id);
                match (&fact.comes, &fact.kind) {
                    (Comes::Made, FactKind::Choice { .. }) => (
                        self.value(fact, Value::Choices(bits)),
                        "made by a table".to_owned(),
                        None,
                    ),
                    (Comes::Gathered { from, .. }, FactKind::Choice { .. }) => (
                        self.value(fact, Value::Choices(bits)),
                        format!("gathered from `{from}`"),
                        None,
                    ),
                    (Comes::Gathered { from, .. }, FactKind::Quantity(_)) => {
                        let gathered = holder.and_then(|h| self.gathered(h, fact_id));
                        (
                            self.value(fact, gathered.unwrap_or(Value::Unknown)),
                            format!("gathered from `{from}`"),
                            None,
                        )
                    }
                    _ => ("not known".to_owned(), "not recorded".to_owned(), None),
                }
            }
        };
        let line = path.as_deref().and_then(|p| self.line(p));
        FactRead {
            fact: fact.id.clone(),
            name: fact.name.clone(),
            scope: fact.scope,
            value,
            how,
            place: path
                .as_deref()
                .and_then(|p| self.node?.at_path(p))
                .map(|n| n.place),
            path,
            line,
        }
    }

    fn line(&self, path: &str) -> Option<usize> {
        self.node?.at_path(path).map(|n| n.place.line)
    }

    /// The greatest of a quantity over the things inside, in numbers rather than cells.
    pub fn gathered(&self, thing: usize, fact: FactId) -> Option<Value> {
        let Comes::Gathered { from, .. } = &self.pack.vocabulary.fact(fact).comes else {
            return None;
        };
        let from = self.pack.vocabulary.find(from)?;
        let scope = self.pack.vocabulary.fact(fact).scope;
        self.survey
            .things
            .iter()
            .enumerate()
            .filter(|(i, t)| {
                self.board.holder(*i, scope) == Some(thing)
                    || t.lies_in.contains(&thing)
                    || t.may_lie_in.contains(&thing)
            })
            .filter_map(|(i, _)| match self.survey.entry(i, from)?.value {
                Value::Number(n) => Some(n),
                _ => None,
            })
            .reduce(|a, b| Interval {
                lo: a.lo.max(b.lo),
                hi: a.hi.max(b.hi),
            })
            .map(Value::Number)
    }

    /// A row with the facts it read.
    pub fn reason(&self, table: &Table, row: &Row, thing: usize, certain: bool) -> Reason {
        Reason {
            table: table.id.clone(),
            row: row.id.clone(),
            about: self
                .board
                .things()
                .get(thing)
                .map_or_else(String::new, |t| t.label.clone()),
            certain,
            because: row.because.clone(),
            plain: row.plain.clone(),
            crew: row.crew_line(&self.pack.vocabulary, self.units),
            safety: row.safety,
            source: row.source.source.clone(),
            provenance: row.source.provenance,
            read: self.reads(&row.when, thing),
        }
    }

    /// The facts some conditions read.
    pub fn reads(&self, when: &[Condition], thing: usize) -> Vec<FactRead> {
        when.iter().map(|c| self.read(c.fact, thing)).collect()
    }
}

/// A quantity in plain words; an end at infinity is left open.
pub fn quantity(kind: crate::units::Kind, i: Interval, units: System) -> String {
    match (i.lo.is_finite(), i.hi.is_finite()) {
        (true, true) => kind.write(i, units),
        (true, false) => format!("{} or more", kind.write(Interval::exact(i.lo), units)),
        (false, true) => format!("{} or less", kind.write(Interval::exact(i.hi), units)),
        (false, false) => "not known".to_owned(),
    }
}
