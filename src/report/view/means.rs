//! What the state of the slab means: grades on named scales.

use super::build::Builder;
use super::phrases::{
    PERHAPS, SEVERITY, capital, defects_words, either, for_owner, gather, hangs_on, is_flag, names,
    panels, plain, plain_texts, sentence, verdict_words,
};
use super::{AreaMeans, DefectMeans, GradeView, Maybe, MeansView, Scale, ScaleStep, ThingMeans};
use crate::assessment::AreaFinding;
use crate::assessment::DefectFinding;
use crate::assessment::Grade;
use crate::assessment::Reason;
use crate::report::drawings::profile;
use crate::report::names as call;
use std::collections::BTreeMap;

/// Severity as a drawing is worth its room from this many graded defects on.
const PROFILE_FROM: usize = 2;

impl<'a> Builder<'a> {
    /// Every graded defect on the plain scale, area by area.
    fn profile(&self) -> Option<String> {
        let vocabulary = self.s.vocabulary;
        let fact = vocabulary.fact(vocabulary.find(SEVERITY)?);
        let steps: Vec<String> = fact.values().iter().map(|v| capital(&v.name)).collect();
        let mark = |defect: &DefectFinding| {
            let grade = defect.grades.iter().find(|g| g.fact == SEVERITY)?;
            let at = |word: &str| fact.value_index(word);
            let places: Vec<usize> = grade.classes.iter().filter_map(|c| at(&c.word)).collect();
            Some(profile::Mark {
                number: defect.number,
                from: *places.iter().min()?,
                to: *places.iter().max()?,
            })
        };
        let rows: Vec<profile::Row> = self
            .s
            .assessment
            .areas
            .iter()
            .map(|area| profile::Row {
                name: call::area(&area.id, &area.name),
                marks: area.defects.iter().filter_map(mark).collect(),
            })
            .collect();
        let graded: usize = rows.iter().map(|r| r.marks.len()).sum();
        (graded >= PROFILE_FROM).then(|| {
            profile::severity(
                &rows,
                &steps,
                "profile",
                "How bad each defect is",
                self.s.sentences,
            )
        })
    }

    pub(super) fn means(&mut self) -> MeansView {
        let s = self.s;
        let slab = s
            .assessment
            .slab
            .grades
            .iter()
            .filter(|g| for_owner(g))
            .map(|g| self.grade(g))
            .collect();
        let mut areas = Vec::new();
        for area in &s.assessment.areas {
            let why = plain_texts(&area.verdict.reasons, 4)
                .iter()
                .map(|t| self.words.say(t))
                .collect();
            let maybe = self.maybe(&area.verdict.reasons);
            let grades = area
                .grades
                .iter()
                .filter(|g| for_owner(g))
                .map(|g| self.grade(g))
                .collect();
            let defects = self.defects_mean(area);
            areas.push(AreaMeans {
                id: call::area_tag(&area.id, &area.name),
                name: capital(&area.name),
                verdict: verdict_words(&area.verdict),
                firm: area.verdict.firm,
                why,
                maybe,
                grades,
                defects,
                // While the area is open its panels have no answer of their own either.
                panels: if area.verdict.firm {
                    panels(area)
                } else {
                    Vec::new()
                },
            });
        }
        let mut things = Vec::new();
        let stairs = s.assessment.stairs.iter().map(|t| (call::steps(&t.id), t));
        let doors = s
            .assessment
            .thresholds
            .iter()
            .map(|t| (call::door(&t.id), t));
        for (name, thing) in stairs.chain(doors) {
            let grades: Vec<GradeView> = thing
                .grades
                .iter()
                .filter(|g| for_owner(g))
                .map(|g| self.grade(g))
                .collect();
            if !grades.is_empty() {
                things.push(ThingMeans { name, grades });
            }
        }
        let profile = self.profile();
        let drawn = profile.is_some();
        MeansView {
            profile,
            areas,
            things,
            slab,
            scales: self.scales(drawn),
            words: self.words.take_fresh(),
        }
    }

    /// Defects that are word for word alike stand once, with all their numbers.
    pub(super) fn defects_mean(&mut self, area: &AreaFinding) -> Vec<DefectMeans> {
        let mut groups: Vec<(String, Vec<u32>, &DefectFinding)> = Vec::new();
        for defect in &area.defects {
            let mut key = defect.kind_name.clone();
            for grade in defect
                .grades
                .iter()
                .filter(|g| g.fact == SEVERITY || for_owner(g))
            {
                key.push_str(&format!(
                    "|{} {:?} {:?}",
                    grade.table,
                    grade.classes,
                    plain_texts(&grade.reasons, 3)
                ));
            }
            match groups.iter_mut().find(|(k, ..)| *k == key) {
                Some((_, numbers, _)) => numbers.push(defect.number),
                None => groups.push((key, vec![defect.number], defect)),
            }
        }
        groups
            .iter()
            .map(|(_, numbers, defect)| DefectMeans {
                about: capital(&defects_words(numbers)),
                kind: defect.kind_name.clone(),
                severity: defect
                    .grades
                    .iter()
                    .find(|g| g.fact == SEVERITY)
                    .map(|g| self.grade(g)),
                scales: defect
                    .grades
                    .iter()
                    .filter(|g| g.fact != SEVERITY && for_owner(g))
                    .map(|g| self.grade(g))
                    .collect(),
            })
            .collect()
    }

    /// What may hold, with the facts it hangs on; each sentence once.
    pub(super) fn maybe(&mut self, reasons: &[Reason]) -> Vec<Maybe> {
        let mut out: Vec<(String, String)> = Vec::new();
        for reason in reasons.iter().filter(|r| !r.certain) {
            let text = sentence(plain(reason));
            if out.iter().all(|(t, _)| *t != text) {
                out.push((text, hangs_on(reason)));
            }
        }
        out.truncate(5);
        out.into_iter()
            .map(|(text, hangs_on)| Maybe {
                text: self.words.say(&text),
                hangs_on,
            })
            .collect()
    }

    pub(super) fn grade(&mut self, grade: &Grade) -> GradeView {
        GradeView {
            title: capital(&grade.title),
            class: if is_flag(grade) {
                String::new()
            } else {
                either(&names(&grade.classes))
            },
            firm: grade.firm,
            scale: grade.scale.clone(),
            why: plain_texts(&grade.reasons, 3)
                .iter()
                .map(|t| self.words.say(t))
                .collect(),
        }
    }

    /// `drawn`: whether the plain scale has a drawing of its own.
    pub(super) fn scales(&self, drawn: bool) -> Vec<Scale> {
        let a = self.s.assessment;
        // Table -> (a grade of it, class word -> who has it).
        let mut tables: Vec<(&Grade, BTreeMap<&str, Vec<String>>)> = Vec::new();
        let mut see = |who: String, grade: &'a Grade| {
            if grade.scale.is_empty()
                || is_flag(grade)
                || !(for_owner(grade) || grade.fact == SEVERITY)
                || (drawn && grade.fact == SEVERITY)
            {
                return;
            }
            let at = match tables.iter().position(|(g, _)| g.table == grade.table) {
                Some(at) => at,
                None => {
                    tables.push((grade, BTreeMap::new()));
                    tables.len() - 1
                }
            };
            if let Some((_, here)) = tables.get_mut(at) {
                for class in &grade.classes {
                    let who = if grade.firm {
                        who.clone()
                    } else {
                        format!("{who}{PERHAPS}")
                    };
                    here.entry(class.word.as_str()).or_default().push(who);
                }
            }
        };
        for grade in &a.slab.grades {
            see("the slab".to_owned(), grade);
        }
        for area in &a.areas {
            for grade in &area.grades {
                see(format!("area {}", area.id), grade);
            }
            for defect in &area.defects {
                for grade in &defect.grades {
                    see(format!("defect {}", defect.number), grade);
                }
            }
        }
        tables
            .iter()
            .map(|(grade, here)| {
                let at = |word: &str| here.get(word).map(|w| gather(w)).unwrap_or_default();
                let declared = self
                    .s
                    .vocabulary
                    .find(&grade.fact)
                    .map(|f| self.s.vocabulary.fact(f).values());
                let steps = match declared {
                    Some(values) if !values.is_empty() => values
                        .iter()
                        .map(|v| ScaleStep {
                            name: v.name.clone(),
                            here: at(&v.id),
                        })
                        .collect(),
                    _ => grade
                        .classes
                        .iter()
                        .map(|c| ScaleStep {
                            name: c.name.clone(),
                            here: at(&c.word),
                        })
                        .collect(),
                };
                Scale {
                    title: capital(&grade.title),
                    name: grade.scale.clone(),
                    steps,
                }
            })
            .collect()
    }
}
