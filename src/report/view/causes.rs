//! What caused it, with the signs for and against.

use super::build::Builder;
use super::phrases::{
    TOLD, bar, capital, chance, defects_words, either, is_open, lower_first, names, plain,
    plain_texts, ranking_key, ruled_out, sentence, standing_words, unlikely_words,
};
use super::{CauseGroup, CauseView, CausesView};
use crate::assessment::DefectFinding;
use crate::assessment::RankedCause;
use crate::report::drawings::evidence;
use crate::report::drawings::evidence::Bar;

/// How many causes of a defect are drawn: more would make the letters too small to read. Those past
/// them are the least likely, and are told of in the text.
const DRAWN: usize = 7;

impl<'a> Builder<'a> {
    pub(super) fn causes(&mut self) -> CausesView {
        let s = self.s;
        let mut groups: Vec<(String, Vec<&DefectFinding>)> = Vec::new();
        for defect in s.assessment.areas.iter().flat_map(|a| &a.defects) {
            if defect.causes.is_empty() {
                continue;
            }
            let key = ranking_key(defect);
            match groups.iter_mut().find(|(k, _)| *k == key) {
                Some((_, list)) => list.push(defect),
                None => groups.push((key, vec![defect])),
            }
        }
        let groups = groups
            .iter()
            .enumerate()
            .filter_map(|(i, (_, list))| {
                let first = list.first()?;
                let numbers: Vec<u32> = list.iter().map(|d| d.number).collect();
                Some(self.cause_group(i, first, &numbers))
            })
            .collect();
        CausesView {
            groups,
            words: self.words.take_fresh(),
        }
    }

    pub(super) fn cause_group(
        &mut self,
        index: usize,
        defect: &DefectFinding,
        numbers: &[u32],
    ) -> CauseGroup {
        let heading = format!("{}: {}", capital(&defect.kind_name), defects_words(numbers));
        let leaders: Vec<&RankedCause> = defect.causes.iter().filter(|c| c.may_lead).collect();
        let mut lead = Vec::new();
        if let (Some(first), 0 | 1) = (defect.causes.first(), leaders.len()) {
            lead.push(self.words.say(&format!(
                "The signs point to this: {}.",
                lower_first(&first.name)
            )));
        } else if !leaders.is_empty() {
            let list: Vec<String> = leaders
                .iter()
                .take(TOLD)
                .map(|c| lower_first(&c.name))
                .collect();
            let rest = leaders.len().saturating_sub(TOLD);
            let more = if rest > 0 {
                format!(" and {rest} more")
            } else {
                String::new()
            };
            lead.push(self.words.say(&format!(
                "The signs do not settle it yet. Still in the running: {}{more}.",
                list.join("; ")
            )));
        }
        let mut at_work = Vec::new();
        if let Some(grade) = &defect.at_work {
            let answer = either(&names(&grade.classes));
            let text = if grade.firm {
                format!("Still at work? {}.", capital(&answer))
            } else {
                format!("Still at work? Not settled: {answer}.")
            };
            at_work.push(self.words.say(&text));
            for text in plain_texts(&grade.reasons, 2) {
                at_work.push(self.words.say(&text));
            }
        }
        let seen = |c: &RankedCause| c.signs.iter().any(|s| s.reason.certain);
        let title = format!(
            "Signs for and against each cause, {}",
            defects_words(numbers)
        );
        // A paragraph for the first few that can lead or are possible; the rest in one line.
        let worth = |c: &RankedCause| {
            !ruled_out(c) && (c.may_lead || c.standing.iter().any(|st| st.word != "unlikely"))
        };
        let bars: Vec<Bar> = defect
            .causes
            .iter()
            .filter(|c| worth(c) || seen(c))
            .take(DRAWN)
            .map(bar)
            .collect();
        let drawing = evidence::bars(&bars, &format!("cause-{index}"), &title, self.s.sentences);
        let told: Vec<&RankedCause> = defect
            .causes
            .iter()
            .filter(|c| worth(c))
            .take(TOLD)
            .collect();
        let also: Vec<String> = defect
            .causes
            .iter()
            .filter(|c| worth(c))
            .skip(TOLD)
            .map(|c| lower_first(&c.name))
            .collect();
        let unlikely: Vec<String> = defect
            .causes
            .iter()
            .filter(|c| !worth(c))
            .map(unlikely_words)
            .collect();
        let causes = told.iter().map(|c| self.cause(c)).collect();
        let mut others = Vec::new();
        if !also.is_empty() {
            others.push(
                self.words
                    .say(&format!("Also possible: {}.", also.join("; "))),
            );
        }
        if !unlikely.is_empty() {
            others.push(self.words.say(&format!(
                "Looked at and found unlikely: {}.",
                unlikely.join("; ")
            )));
        }
        let mut missing: Vec<String> = Vec::new();
        for sign in defect
            .causes
            .iter()
            .filter(|c| worth(c))
            .flat_map(|c| &c.signs)
        {
            for fact in sign
                .reason
                .read
                .iter()
                .filter(|r| !sign.reason.certain && is_open(r))
            {
                if !missing.contains(&fact.name) {
                    missing.push(fact.name.clone());
                }
            }
        }
        let missing = (!missing.is_empty()).then(|| {
            self.words.say(&format!(
                "Signs not looked at yet, or not settled: {}.",
                missing.join("; ")
            ))
        });
        let note = defect
            .cause_note
            .as_ref()
            .filter(|_| leaders.len() < 2)
            .map(|n| self.words.say(&sentence(n)));
        CauseGroup {
            heading,
            lead,
            at_work,
            bars: drawing,
            causes,
            others,
            missing,
            note,
        }
    }

    pub(super) fn cause(&mut self, cause: &RankedCause) -> CauseView {
        let plain_said = self.words.say(&sentence(&cause.plain));
        let mut signs_for = Vec::new();
        let mut signs_against = Vec::new();
        for sign in cause.signs.iter().filter(|s| s.reason.certain) {
            let text = self.words.say(&sentence(plain(&sign.reason)));
            if sign.push >= 0.0 {
                signs_for.push(text);
            } else {
                signs_against.push(text);
            }
        }
        let stops_by = self.words.say(&sentence(&cause.stops_by));
        CauseView {
            name: capital(&cause.name),
            standing: format!(
                "{}, {}",
                standing_words(&cause.standing),
                chance(cause.share)
            ),
            plain: plain_said,
            signs_for,
            signs_against,
            stops_by,
        }
    }
}
