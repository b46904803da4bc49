//! Puts a view together, page by page, and words the record's own values.

use super::phrases::{about_words, either, iso, long_date, sentence};
use super::trail::trail;
use super::{AssumedView, Brief, JobView, Sources, View};
use crate::record::model::{Job, OneOrMore};
use crate::report::words::Words;
use crate::units::Measured;
use crate::units::Notation;
use crate::units::System;

pub(super) struct Builder<'a> {
    pub(super) s: Sources<'a>,
    pub(super) system: System,
    pub(super) words: Words,
}

impl JobView {
    /// The job as a paper names it at its head.
    pub fn of(job: &Job) -> JobView {
        JobView {
            client: job.client.clone(),
            address: job.address.clone(),
            date: long_date(&job.date, job.units),
            iso_date: iso(&job.date).map(|d| d.to_string()),
            inspector: job.inspector.clone(),
            reference: job.reference.clone(),
        }
    }
}

impl<'a> Builder<'a> {
    pub(super) fn brief(mut self) -> Brief {
        let photos = self.s.photos;
        Brief {
            job: JobView::of(&self.s.record.job),
            verdict: self.verdict(),
            uncertain: self.uncertain(),
            photos: photos.len(),
            broken_photos: photos.iter().filter(|p| p.picture.is_err()).count(),
        }
    }

    pub(super) fn build(mut self) -> View {
        let s = self.s;
        let job = JobView::of(&self.s.record.job);
        // In the order of the pages, so that first uses of words are found where they are read.
        let verdict = self.verdict();
        let saw = self.saw();
        let means = self.means();
        let causes = self.causes();
        let work = self.work();
        let against = self.against();
        let uncertain = self.uncertain();
        let not_inspected = s
            .record
            .not_inspected
            .iter()
            .map(|t| self.words.mark(t))
            .collect();
        let assumed = s
            .assessment
            .assumed
            .iter()
            .map(|a| AssumedView {
                about: about_words(&a.about),
                name: a.name.clone(),
                value: a.value.clone(),
                because: self.words.say(&sentence(&a.because)),
            })
            .collect();
        let cautions = self.advice(&s.assessment.cautions);
        let care = self.advice(&s.method.care);
        let adds_up = s
            .assessment
            .slab
            .adds_up
            .iter()
            .map(|t| self.words.say(&sentence(t)))
            .collect();
        let last_words = self.words.take_fresh();
        let made = &s.assessment.made_with;
        View {
            title: "Slab condition report".to_owned(),
            job,
            verdict,
            saw,
            means,
            causes,
            work,
            plan: None,
            worked: Vec::new(),
            against,
            uncertain,
            not_inspected,
            assumed,
            cautions,
            care,
            adds_up,
            last_words,
            glossary: self.words.used(),
            trail: trail(s.assessment, s.method, s.vocabulary),
            version: made.version.clone(),
            rules: made.rules.clone(),
            house_rules: made.house_rules.clone(),
            said: self.words.said(),
        }
    }

    pub(super) fn measure<T: Notation>(&self, value: Option<&Measured<T>>) -> Option<String> {
        let value = value?;
        let known = value.canonical()?;
        Some(value.kind().write(known, self.system))
    }

    pub(super) fn choice(&self, fact: &str, word: &str) -> String {
        self.s
            .vocabulary
            .find(fact)
            .map(|f| self.s.vocabulary.fact(f))
            .and_then(|f| f.values().iter().find(|v| v.id == word))
            .map_or_else(|| word.replace('_', " "), |v| v.name.clone())
    }

    pub(super) fn one(&self, fact: &str, value: Option<&OneOrMore>) -> Option<String> {
        match value? {
            OneOrMore::Flag(yes) => Some(if *yes { "yes" } else { "no" }.to_owned()),
            OneOrMore::Number(n) => Some(format!("{n}")),
            OneOrMore::One(word) if word == "unknown" => None,
            OneOrMore::One(word) => Some(self.choice(fact, word)),
            OneOrMore::More(words) => {
                let words: Vec<String> = words.iter().map(|w| self.choice(fact, w)).collect();
                (!words.is_empty()).then(|| either(&words))
            }
        }
    }
}
