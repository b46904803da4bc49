//! The verdict and what was seen.

use super::build::Builder;
use super::phrases::{
    SEVERITY, capital, count_word, effort, either, kind_word, long_date, lower_first, names,
    plain_texts, remark, runs, sentence, size_words, still_possible, surface, verdict_words,
};
use super::{AreaLine, DefectRow, Fact, PhotoView, SawView, VerdictView};
use crate::assessment::{AreaFinding, DefectFinding, Verdict};
use crate::record::model::AreaRecord;
use crate::record::model::Defect;
use crate::record::model::Signs;
use crate::report::drawings::layers;
use crate::report::drawings::map;
use crate::units::is_unknown;

impl<'a> Builder<'a> {
    pub(super) fn verdict(&mut self) -> VerdictView {
        let s = self.s;
        let verdict = &s.assessment.slab.verdict;
        let mut paragraph = Vec::new();
        if verdict.firm {
            for text in self.in_short(verdict) {
                paragraph.push(self.words.say(&text));
            }
        } else {
            let possible = still_possible(verdict);
            if possible.len() > 1 {
                let text = format!(
                    "From what we know today, it could come to one of {}: {}.",
                    count_word(possible.len()),
                    either(&possible)
                );
                paragraph.push(self.words.say(&text));
            }
            for text in plain_texts(&verdict.reasons, 2) {
                paragraph.push(self.words.say(&text));
            }
            if let Some(q) = s.assessment.questions.first() {
                let text = format!(
                    "The next step is small, {}: {}",
                    effort(q),
                    lower_first(&q.ask)
                );
                paragraph.push(self.words.say(&text));
            }
        }
        let areas = s
            .assessment
            .areas
            .iter()
            .enumerate()
            .map(|(i, area)| AreaLine {
                id: crate::report::names::area_tag(&area.id, &area.name),
                name: capital(&area.name),
                verdict: verdict_words(&area.verdict),
                firm: area.verdict.firm,
                surface: s.record.areas.get(i).and_then(|a| surface(a, self.system)),
                numbers: runs(&area.defects.iter().map(|d| d.number).collect::<Vec<_>>())
                    .join(", "),
                ring: layers::ring(area.verdict.firm, &format!("ring-{i}")),
            })
            .collect();
        VerdictView {
            headline: capital(&verdict.name),
            firm: verdict.firm,
            mark: if verdict.firm { "Firm" } else { "Open" }.to_owned(),
            mark_means: if verdict.firm {
                "Nothing that is still unknown could change this answer."
            } else {
                "Something we do not know yet could change this answer."
            }
            .to_owned(),
            ring: layers::ring(verdict.firm, "ring"),
            paragraph,
            areas,
            words: self.words.take_fresh(),
        }
    }

    pub(super) fn saw(&mut self) -> SawView {
        let s = self.s;
        let facts = self.slab_facts();
        let map = map::slab_map(s.record, "map", s.sentences);
        let photos = s
            .photos
            .iter()
            .map(|p| PhotoView {
                number: p.number,
                defect: p.defect,
                caption: p.caption.clone(),
                uri: p
                    .picture
                    .as_ref()
                    .ok()
                    .map(crate::report::photos::Picture::uri),
                trouble: p.picture.as_ref().err().map(|e| capital(&e.to_string())),
                width: p.picture.as_ref().map_or(0, |i| i.width),
                height: p.picture.as_ref().map_or(0, |i| i.height),
            })
            .collect();
        let mut defects = Vec::new();
        let mut remarks = Vec::new();
        let mut tests = Vec::new();
        for area in &s.record.areas {
            let finding = s.assessment.areas.iter().find(|a| a.id == area.id);
            for defect in &area.defects {
                let found = finding.and_then(|f| f.defects.iter().find(|d| d.number == defect.id));
                defects.push(self.defect_row(area, defect, found));
                if let Some(note) = &defect.note {
                    remarks.push(remark(format!("Defect {}", defect.id), note));
                }
            }
            self.tests(area, &mut tests);
            if let Some(note) = &area.note {
                remarks.push(remark(
                    format!("Area {}", crate::report::names::area(&area.id, &area.name)),
                    note,
                ));
            }
        }
        if let Some(notes) = &s.record.notes {
            remarks.push(remark("The whole job".to_owned(), notes));
        }
        SawView {
            facts,
            map: map.svg,
            map_notes: map.notes,
            photos,
            defects,
            tests,
            remarks,
            words: self.words.take_fresh(),
        }
    }

    /// The answer in a few sentences: the slab's reason, the reasons of the area it hangs on most,
    /// and the cause, where the signs point to one.
    fn in_short(&self, verdict: &Verdict) -> Vec<String> {
        let a = self.s.assessment;
        let headline = sentence(&verdict.name);
        // Of a slab with one area the verdict speaks as if there were others.
        let mut out = match a.areas.as_slice() {
            [one] if one.verdict.firm && one.verdict.word == verdict.word => Vec::new(),
            _ => plain_texts(&verdict.reasons, 2),
        };
        let area = a
            .areas
            .iter()
            .find(|area| area.verdict.firm && area.verdict.word == verdict.word)
            .or_else(|| {
                let worked =
                    |area: &&AreaFinding| area.verdict.firm && area.verdict.word != "leave_alone";
                a.areas.iter().find(worked)
            });
        if let Some(area) = area {
            let mut why = plain_texts(&area.verdict.reasons, 2);
            // Where areas differ, it must be said which one is meant.
            let alike = a.areas.iter().all(|x| x.verdict.word == area.verdict.word);
            if let (false, Some(first)) = (alike, why.first_mut()) {
                *first = format!("Area {}: {}", area.id, lower_first(first));
            }
            out.extend(why);
            // The cause of the gravest defect, unless the signs leave it open.
            let gravest = area
                .defects
                .iter()
                .max_by_key(|d| (self.severity(d), std::cmp::Reverse(d.number)));
            if let Some(defect) = gravest {
                let mut leaders = defect.causes.iter().filter(|c| c.may_lead);
                if let (Some(cause), None) = (leaders.next(), leaders.next()) {
                    out.push(format!(
                        "What most likely caused the worst of it: {}.",
                        lower_first(&cause.name)
                    ));
                }
            }
        }
        if out.is_empty() {
            out.extend(a.slab.adds_up.iter().take(2).map(|t| sentence(t)));
        }
        let mut seen: Vec<String> = vec![headline];
        out.retain(|text| {
            let new = !seen.contains(text);
            seen.push(text.clone());
            new
        });
        out
    }

    /// Place of a defect's severity in its order, from 1; 0 where it has none.
    fn severity(&self, defect: &DefectFinding) -> usize {
        let vocabulary = self.s.vocabulary;
        let word = defect
            .grades
            .iter()
            .find(|g| g.fact == SEVERITY)
            .and_then(|g| g.classes.last())
            .map(|c| c.word.as_str());
        word.zip(vocabulary.find(SEVERITY))
            .and_then(|(word, fact)| vocabulary.fact(fact).value_index(word))
            .map_or(0, |i| i + 1)
    }

    pub(super) fn slab_facts(&self) -> Vec<Fact> {
        let record = self.s.record;
        let slab = &record.slab;
        let mut facts = Vec::new();
        let mut add = |name: &str, value: Option<String>| {
            if let Some(value) = value {
                facts.push(Fact {
                    name: name.to_owned(),
                    value,
                });
            }
        };
        add("Use", Some(self.choice("use", &slab.use_)));
        add(
            "Placed",
            slab.placed
                .as_ref()
                .filter(|p| !is_unknown(p))
                .map(|p| long_date(p, self.system)),
        );
        add("Thickness", self.measure(slab.thickness.as_ref()));
        add("Finish", self.one("finish", slab.finish.as_ref()));
        add("Pattern depth", self.measure(slab.relief.as_ref()));
        add(
            "Steel or fibres",
            self.one("reinforcement", slab.reinforcement.as_ref()),
        );
        add("Carried by", self.one("support", slab.support.as_ref()));
        add("Now on it", self.one("covering", slab.covering.as_ref()));
        add(
            "Thickness of that",
            self.measure(slab.covering_thickness.as_ref()),
        );
        add(
            "Weather",
            self.one("weathering", record.site.weathering.as_ref()),
        );
        add(
            "Freeze-thaw days a year",
            self.measure(record.site.freeze_thaw_days.as_ref()),
        );
        add(
            "Salt and other deicers",
            self.one("deicers", record.site.deicers.as_ref()),
        );
        add("Ground", self.one("soil", record.site.soil.as_ref()));
        add(
            "Drainage",
            self.one("drainage", record.site.drainage.as_ref()),
        );
        add(
            "Nearest tree",
            self.measure(record.site.tree_distance.as_ref()),
        );
        add("Sun", self.one("sun", record.site.sun.as_ref()));
        add("Air in the mix", self.measure(slab.mix.air.as_ref()));
        add(
            "Largest stone",
            self.measure(slab.mix.largest_stone.as_ref()),
        );
        add(
            "Strength of the mix",
            self.measure(slab.mix.strength.as_ref()),
        );
        facts
    }

    pub(super) fn defect_row(
        &mut self,
        area: &AreaRecord,
        defect: &Defect,
        found: Option<&DefectFinding>,
    ) -> DefectRow {
        let word = kind_word(defect);
        let what = found.map_or_else(|| word.replace('_', " "), |f| f.kind_name.clone());
        let mut measured = Vec::new();
        let mut add = |name: &str, value: Option<String>| {
            if let Some(value) = value {
                measured.push(Fact {
                    name: name.to_owned(),
                    value,
                });
            }
        };
        add(
            "size",
            defect
                .extent
                .as_ref()
                .and_then(|e| size_words(e, self.system)),
        );
        add("surface", self.measure(defect.surface.as_ref()));
        add("share of the area", self.measure(defect.share.as_ref()));
        add("count", self.measure(defect.count.as_ref()));
        if !defect.frame_counts.is_empty() {
            let list: Vec<String> = defect.frame_counts.iter().map(|n| format!("{n}")).collect();
            add("counts by frame", Some(list.join(", ")));
        }
        add("usual depth", self.measure(defect.depth.as_ref()));
        add("deepest", self.measure(defect.greatest_depth.as_ref()));
        add("hole width", self.measure(defect.diameter.as_ref()));
        add("width", self.measure(defect.width.as_ref()));
        add("length", self.measure(defect.length.as_ref()));
        add("height difference", self.measure(defect.offset.as_ref()));
        add("spacing", self.measure(defect.spacing.as_ref()));
        add("water depth", self.measure(defect.water_depth.as_ref()));
        add("stones", self.one("stones", defect.stones.as_ref()));
        for reading in &defect.readings {
            if let Some(value) = self.measure(Some(&reading.value)) {
                add(
                    &format!("width on {}", long_date(&reading.date, self.system)),
                    Some(value),
                );
            }
        }
        self.signs(&defect.signs, &mut measured);
        let severity = found.and_then(|f| f.grades.iter().find(|g| g.fact == SEVERITY));
        DefectRow {
            number: defect.id,
            area: area.id.clone(),
            panels: defect.panels.join(", "),
            what: self.words.say(&capital(&what)),
            measured,
            severity: severity.map(|g| either(&names(&g.classes))),
            photos: self
                .s
                .photos
                .iter()
                .filter(|p| p.defect == defect.id)
                .map(|p| p.number)
                .collect(),
        }
    }

    pub(super) fn signs(&self, signs: &Signs, out: &mut Vec<Fact>) {
        for (id, value) in signs {
            let name = self.s.vocabulary.find(id).map_or_else(
                || id.replace('_', " "),
                |fact| self.s.vocabulary.fact(fact).name.clone(),
            );
            if let Some(value) = self.one(id, Some(value)) {
                out.push(Fact { name, value });
            }
        }
    }

    pub(super) fn tests(&self, area: &AreaRecord, out: &mut Vec<Fact>) {
        let mut add = |name: &str, value: String| {
            out.push(Fact {
                name: format!("Area {}: {name}", area.id),
                value,
            });
        };
        let t = &area.tests;
        if let Some(sounding) = &t.sounding {
            if let (Some(taps), Some(hollow)) = (sounding.taps, sounding.hollow) {
                add(
                    "sounding with a hammer",
                    format!("{hollow} of {taps} taps answered dull"),
                );
            }
            if !sounding.patches.is_empty() {
                let n = sounding.patches.len();
                add(
                    "hollow patches marked with chalk",
                    if n == 1 {
                        "1 patch".to_owned()
                    } else {
                        format!("{n} patches")
                    },
                );
            }
        }
        let list = |values: Vec<String>| (!values.is_empty()).then(|| values.join(", "));
        let mut maybe = |name: &str, value: Option<String>| {
            if let Some(value) = value {
                add(name, value);
            }
        };
        maybe(
            "water drops taken in after",
            list(
                t.water_drop
                    .iter()
                    .filter_map(|m| self.measure(Some(m)))
                    .collect(),
            ),
        );
        maybe(
            "plastic sheet test",
            list(t.sheet.iter().map(|w| self.choice("sheet", w)).collect()),
        );
        maybe(
            "surface pH",
            list(t.ph.iter().map(|n| format!("{n}")).collect()),
        );
        maybe(
            "moisture inside",
            list(
                t.humidity
                    .iter()
                    .filter_map(|m| self.measure(Some(m)))
                    .collect(),
            ),
        );
        maybe(
            "pull-off strength",
            list(
                t.pull_off
                    .iter()
                    .filter_map(|m| self.measure(Some(m)))
                    .collect(),
            ),
        );
        maybe(
            "slab temperature",
            self.measure(t.slab_temperature.as_ref()),
        );
        maybe(
            "height of one spot",
            list(
                t.levels
                    .iter()
                    .filter_map(|l| {
                        Some(format!(
                            "{} ({})",
                            self.measure(Some(&l.value))?,
                            long_date(&l.date, self.system)
                        ))
                    })
                    .collect(),
            ),
        );
        maybe("fall of the surface", self.measure(area.fall.as_ref()));
        let mut signs = Vec::new();
        self.signs(&area.signs, &mut signs);
        for sign in signs {
            maybe(&sign.name, Some(sign.value));
        }
    }
}
