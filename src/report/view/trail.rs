//! The trail of every finding, for the tradesman: each fact and each source once, with a number,
//! and each row that spoke in a line or two that names what it read by these numbers.

use std::collections::HashMap;

use super::phrases::{
    capital, defects_words, either, lower_first, names, ranking_key, runs, sentence, stage_name,
    verdict_words,
};
use super::{TrailEntry, TrailFact, TrailGroup, TrailSource, TrailView};
use crate::assessment::Assessment;
use crate::assessment::DefectFinding;
use crate::assessment::FactRead;
use crate::assessment::Grade;
use crate::assessment::Reason;
use crate::facts::Vocabulary;
use crate::method::Method;

pub(super) fn trail(
    assessment: &Assessment,
    method: &Method,
    vocabulary: &Vocabulary,
) -> TrailView {
    let mut trail = Trail::new(vocabulary);
    let slab = &assessment.slab;
    trail.add_all(
        "the slab",
        &format!("verdict: {}", verdict_words(&slab.verdict)),
        &slab.verdict.reasons,
    );
    trail.grades("the slab", &slab.grades);
    for area in &assessment.areas {
        let about = format!("area {}", area.id);
        trail.add_all(
            &about,
            &format!("verdict: {}", verdict_words(&area.verdict)),
            &area.verdict.reasons,
        );
        trail.grades(&about, &area.grades);
        for panel in &area.panels {
            trail.panel(
                &about,
                &panel.id,
                &format!("verdict: {}", verdict_words(&panel.verdict)),
                &panel.verdict.reasons,
            );
        }
        for (about, defect) in alike_together(&area.defects) {
            trail.grades(&about, &defect.grades);
            for cause in &defect.causes {
                for sign in &cause.signs {
                    let result = if sign.rules_out {
                        format!("{}: ruled out", cause.name)
                    } else {
                        format!("{} {:+.1}", cause.name, sign.push)
                    };
                    trail.sign(&about, &result, &sign.reason);
                }
            }
            if let Some(at_work) = &defect.at_work {
                trail.grades(&about, std::slice::from_ref(at_work));
            }
            trail.add_all(&about, "remark", &defect.reasons);
        }
    }
    for thing in assessment.stairs.iter().chain(&assessment.thresholds) {
        trail.grades(&thing.id, &thing.grades);
    }
    for (result, list) in [
        ("advised against", &assessment.exclusions),
        ("referred", &assessment.referrals),
        ("caution", &assessment.cautions),
        ("care", &method.care),
    ] {
        for reason in list {
            trail.add(&reason.about, result, reason);
        }
    }
    for area in &method.areas {
        let about = format!("area {}", area.area);
        for step in &area.steps {
            trail.add(
                &about,
                &format!("step: {}", stage_name(&step.stage).to_lowercase()),
                &step.reason,
            );
        }
        if let Some(o) = &area.overlay {
            trail.add_all(&about, &format!("chosen: {}", o.name), &o.reasons);
        }
        if let Some(p) = &area.profile {
            trail.add_all(&about, "surface profile", &p.reasons);
        }
        for t in &area.turned_down {
            trail.add(&about, &format!("turned down: {}", t.name), &t.reason);
        }
        for w in &area.waits {
            trail.add(&about, &format!("wait: {}", w.what), &w.reason);
        }
    }
    for entry in trail.view.groups.iter_mut().flat_map(|g| &mut g.entries) {
        entry.reads = spans(&entry.read);
    }
    trail.view
}

/// Defects with what they are told of as: those for which the same rows spoke alike stand under one
/// head, so that two hundred of a kind fill no book.
fn alike_together(defects: &[DefectFinding]) -> Vec<(String, &DefectFinding)> {
    let key = |defect: &DefectFinding| {
        let mut key = ranking_key(defect);
        for grade in &defect.grades {
            let rows: Vec<&str> = grade.reasons.iter().map(|r| r.row.as_str()).collect();
            key.push_str(&format!("|{} {:?} {rows:?}", grade.table, grade.classes));
        }
        for reason in &defect.reasons {
            key.push_str(&format!("|{} {}", reason.row, reason.certain));
        }
        key
    };
    let mut numbers: HashMap<String, Vec<u32>> = HashMap::new();
    let keyed: Vec<(String, &DefectFinding)> = defects.iter().map(|d| (key(d), d)).collect();
    for (key, defect) in &keyed {
        numbers.entry(key.clone()).or_default().push(defect.number);
    }
    keyed
        .into_iter()
        .map(|(key, defect)| {
            let about = numbers.get(&key).map(|n| defects_words(n));
            (about.unwrap_or_default(), defect)
        })
        .collect()
}

struct Trail<'a> {
    vocabulary: &'a Vocabulary,
    view: TrailView,
    groups: HashMap<String, usize>,
    facts: HashMap<TrailFact, usize>,
    sources: HashMap<TrailSource, usize>,
    /// Where an entry of a group stands, by its row and, where a row may lead to several results,
    /// by its result.
    seen: HashMap<(usize, String, String), usize>,
    /// Reasons given before, with the group that gives them.
    told: HashMap<(String, String), usize>,
}

impl<'a> Trail<'a> {
    fn new(vocabulary: &'a Vocabulary) -> Self {
        Trail {
            vocabulary,
            view: TrailView::default(),
            groups: HashMap::new(),
            facts: HashMap::new(),
            sources: HashMap::new(),
            seen: HashMap::new(),
            told: HashMap::new(),
        }
    }

    fn grades(&mut self, about: &str, grades: &[Grade]) {
        for grade in grades {
            let mut result = format!("{}: {}", grade.title, either(&names(&grade.classes)));
            if !grade.scale.is_empty() {
                result = format!("{result} ({})", grade.scale);
            }
            if grade.firm {
                self.add_all(about, &result, &grade.reasons);
            } else {
                self.open(about, &result, &grade.reasons);
            }
        }
    }

    /// Rows that may fire for one open answer, told together: a line each would bury the rest.
    fn open(&mut self, about: &str, result: &str, reasons: &[Reason]) {
        let Some(first) = reasons.first() else { return };
        let mut reads: Vec<usize> = Vec::new();
        let mut sources: Vec<usize> = Vec::new();
        for reason in reasons {
            reads.extend(reason.read.iter().map(|f| self.fact(f)));
            sources.push(self.source(reason));
        }
        let rows: Vec<&str> = reasons.iter().map(|r| r.row.as_str()).collect();
        let entry = TrailEntry {
            result: capital(result),
            row: rows.join(", "),
            table: first.table.clone(),
            because: String::new(),
            certain: false,
            safety: reasons.iter().any(|r| r.safety),
            sources: spans(&sources),
            reads: String::new(),
            read: reads,
            with: Vec::new(),
        };
        self.push(about, entry);
    }

    fn add_all(&mut self, about: &str, result: &str, reasons: &[Reason]) {
        for reason in reasons {
            self.add(about, result, reason);
        }
    }

    fn add(&mut self, about: &str, result: &str, reason: &Reason) -> Option<(usize, usize)> {
        let entry = self.entry(result, reason);
        self.push(about, entry)
    }

    fn entry(&mut self, result: &str, reason: &Reason) -> TrailEntry {
        let reads: Vec<usize> = reason.read.iter().map(|f| self.fact(f)).collect();
        TrailEntry {
            result: capital(result),
            row: reason.row.clone(),
            table: reason.table.clone(),
            because: sentence(&reason.because),
            certain: reason.certain,
            safety: reason.safety,
            sources: self.source(reason).to_string(),
            reads: String::new(),
            read: reads,
            with: Vec::new(),
        }
    }

    /// A sign that speaks to several causes is one line with all its pushes.
    fn sign(&mut self, about: &str, result: &str, reason: &Reason) {
        let group = self.group(about);
        let read: Vec<usize> = reason.read.iter().map(|f| self.fact(f)).collect();
        let key = (group, reason.row.clone(), String::new());
        if let Some(entry) = self.seen.get(&key).and_then(|at| {
            let group = self.view.groups.get_mut(group)?;
            group.entries.get_mut(*at)
        }) {
            entry.read.extend(read);
            if !entry
                .result
                .split("; ")
                .any(|told| told.eq_ignore_ascii_case(result))
            {
                entry.result.push_str("; ");
                entry.result.push_str(result);
            }
            return;
        }
        if let Some((_, at)) = self.add(about, result, reason) {
            self.seen.insert(key, at);
        }
    }

    /// Panels of an area for which the same row spoke are one line.
    fn panel(&mut self, about: &str, panel: &str, result: &str, reasons: &[Reason]) {
        for reason in reasons {
            let group = self.group(about);
            let read: Vec<usize> = reason.read.iter().map(|f| self.fact(f)).collect();
            let key = (group, reason.row.clone(), format!("panel {result}"));
            if let Some(entry) = self.seen.get(&key).and_then(|at| {
                let group = self.view.groups.get_mut(group)?;
                group.entries.get_mut(*at)
            }) {
                entry.with.push(panel.to_owned());
                entry.read.extend(read);
                continue;
            }
            let mut entry = self.entry(result, reason);
            entry.with.push(panel.to_owned());
            if let Some((_, at)) = self.place(group, entry) {
                self.seen.insert(key, at);
            }
        }
    }

    fn group(&mut self, about: &str) -> usize {
        let about = capital(about);
        if let Some(index) = self.groups.get(&about) {
            return *index;
        }
        let index = self.view.groups.len();
        self.view.groups.push(TrailGroup {
            about: about.clone(),
            entries: Vec::new(),
        });
        self.groups.insert(about, index);
        index
    }

    fn push(&mut self, about: &str, entry: TrailEntry) -> Option<(usize, usize)> {
        let group = self.group(about);
        let key = (group, entry.row.clone(), entry.result.clone());
        if let Some(at) = self.seen.get(&key) {
            let there = self.view.groups.get_mut(group)?.entries.get_mut(*at)?;
            there.read.extend(entry.read);
            return None;
        }
        let placed = self.place(group, entry)?;
        self.seen.insert(key, placed.1);
        Some(placed)
    }

    /// Sets an entry down; a reason given before is not given again, but said to stand there.
    fn place(&mut self, group: usize, mut entry: TrailEntry) -> Option<(usize, usize)> {
        let reason = (entry.row.clone(), entry.because.clone());
        match self.told.get(&reason).copied() {
            None => {
                self.told.insert(reason, group);
            }
            Some(first) if first == group || entry.because.is_empty() => {
                entry.because = String::new();
            }
            Some(first) => {
                let about = self.view.groups.get(first).map(|g| lower_first(&g.about));
                entry.because = format!("As for {}.", about.unwrap_or_default());
            }
        }
        let to = self.view.groups.get_mut(group)?;
        to.entries.push(entry);
        Some((group, to.entries.len() - 1))
    }

    fn fact(&mut self, read: &FactRead) -> usize {
        let fact = TrailFact {
            name: read.name.clone(),
            value: read.value.clone(),
            how: self.how(&read.how),
            place: match (read.line, &read.path) {
                (Some(line), _) => format!("line {line}"),
                (None, Some(path)) => path.clone(),
                (None, None) => String::new(),
            },
        };
        if let Some(number) = self.facts.get(&fact) {
            return *number;
        }
        self.view.facts.push(fact.clone());
        let number = self.view.facts.len();
        self.facts.insert(fact, number);
        number
    }

    /// How a value came about, with the names of facts in place of their short names.
    fn how(&self, how: &str) -> String {
        let mut out = String::with_capacity(how.len());
        for (i, part) in how.split('`').enumerate() {
            let name = (i % 2 == 1)
                .then(|| self.vocabulary.find(part))
                .flatten()
                .map(|fact| self.vocabulary.fact(fact).name.as_str());
            out.push_str(name.unwrap_or(part));
        }
        out
    }

    fn source(&mut self, reason: &Reason) -> usize {
        let source = TrailSource {
            text: reason.source.clone(),
            provenance: reason.provenance.words().to_owned(),
        };
        if let Some(number) = self.sources.get(&source) {
            return *number;
        }
        self.view.sources.push(source.clone());
        let number = self.view.sources.len();
        self.sources.insert(source, number);
        number
    }
}

/// Numbers in order with runs drawn together: `1, 4–6`.
fn spans(numbers: &[usize]) -> String {
    let numbers: Vec<u32> = numbers
        .iter()
        .filter_map(|n| u32::try_from(*n).ok())
        .collect();
    runs(&numbers).join(", ").replace(" to ", "–")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_drawn_together() {
        assert_eq!(spans(&[9, 4, 5, 6, 1, 4]), "1, 4–6, 9");
        assert_eq!(spans(&[]), "");
    }
}
