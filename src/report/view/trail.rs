//! The trail of every finding, for the tradesman.

use super::phrases::{capital, either, names, sentence, stage_name, verdict_words};
use super::{TrailEntry, TrailFact, TrailGroup};
use crate::assessment::Assessment;
use crate::assessment::FactRead;
use crate::assessment::Grade;
use crate::assessment::Reason;
use crate::method::Method;

pub(super) fn trail(assessment: &Assessment, method: &Method) -> Vec<TrailGroup> {
    let mut trail = Trail::default();
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
            trail.add_all(
                &format!("panel {} of area {}", panel.id, area.id),
                &format!("verdict: {}", verdict_words(&panel.verdict)),
                &panel.verdict.reasons,
            );
        }
        for defect in &area.defects {
            let about = format!("defect {}", defect.number);
            trail.grades(&about, &defect.grades);
            for cause in &defect.causes {
                for sign in &cause.signs {
                    let result = if sign.rules_out {
                        format!("{}: ruled out", cause.name)
                    } else {
                        format!("{}: {:+.1} log-odds", cause.name, sign.push)
                    };
                    trail.add(&about, &result, &sign.reason);
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
    trail.groups
}

#[derive(Default)]
pub(super) struct Trail {
    groups: Vec<TrailGroup>,
    at: std::collections::HashMap<String, usize>,
    seen: std::collections::HashSet<(usize, String, String)>,
}

impl Trail {
    pub(super) fn grades(&mut self, about: &str, grades: &[Grade]) {
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
    pub(super) fn open(&mut self, about: &str, result: &str, reasons: &[Reason]) {
        let Some(first) = reasons.first() else { return };
        let mut read: Vec<TrailFact> = Vec::new();
        let mut sources: Vec<&str> = Vec::new();
        for reason in reasons {
            for fact in reason.read.iter().map(trail_fact) {
                if !read.contains(&fact) {
                    read.push(fact);
                }
            }
            if !sources.contains(&reason.source.as_str()) {
                sources.push(&reason.source);
            }
        }
        let rows: Vec<&str> = reasons.iter().map(|r| r.row.as_str()).collect();
        let entry = TrailEntry {
            result: capital(result),
            row: format!("{} / {}", first.table, rows.join(", ")),
            because: String::new(),
            certain: false,
            safety: reasons.iter().any(|r| r.safety),
            source: sources.join("; "),
            provenance: first.provenance.words().to_owned(),
            read,
        };
        self.push(about, entry);
    }

    pub(super) fn add_all(&mut self, about: &str, result: &str, reasons: &[Reason]) {
        for reason in reasons {
            self.add(about, result, reason);
        }
    }

    pub(super) fn add(&mut self, about: &str, result: &str, reason: &Reason) {
        let entry = TrailEntry {
            result: capital(result),
            row: format!("{} / {}", reason.table, reason.row),
            because: sentence(&reason.because),
            certain: reason.certain,
            safety: reason.safety,
            source: reason.source.clone(),
            provenance: reason.provenance.words().to_owned(),
            read: reason.read.iter().map(trail_fact).collect(),
        };
        self.push(about, entry);
    }

    pub(super) fn push(&mut self, about: &str, entry: TrailEntry) {
        let about = capital(about);
        let index = match self.at.get(&about) {
            Some(index) => *index,
            None => {
                self.groups.push(TrailGroup {
                    about: about.clone(),
                    entries: Vec::new(),
                });
                self.at.insert(about, self.groups.len() - 1);
                self.groups.len() - 1
            }
        };
        if !self
            .seen
            .insert((index, entry.row.clone(), entry.result.clone()))
        {
            return;
        }
        if let Some(group) = self.groups.get_mut(index) {
            group.entries.push(entry);
        }
    }
}

pub(super) fn trail_fact(read: &FactRead) -> TrailFact {
    TrailFact {
        name: read.name.clone(),
        value: read.value.clone(),
        how: read.how.clone(),
        place: match (read.line, &read.path) {
            (Some(line), _) => format!("line {line}"),
            (None, Some(path)) => path.clone(),
            (None, None) => String::new(),
        },
    }
}
