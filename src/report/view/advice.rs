//! What is advised against, and what stays uncertain.

use super::build::Builder;
use super::phrases::{
    about_words, capital, effort, either, lower_first, names, plain, sentence, still_possible,
};
use super::{
    Advice, AgainstView, Fact, QuestionView, TurnedDownItem, TurnedDownView, UncertainView,
};
use crate::assessment::{Choice, Question, Reason};

impl<'a> Builder<'a> {
    pub(super) fn against(&mut self) -> AgainstView {
        let s = self.s;
        let exclusions = self.advice(&s.assessment.exclusions);
        let referrals = self.advice(&s.assessment.referrals);
        let turned_down = self.turned_down();
        AgainstView {
            exclusions,
            referrals,
            turned_down,
            words: self.words.take_fresh(),
        }
    }

    /// Candidates by choice; those turned down for one reason in the same areas stand together.
    fn turned_down(&mut self) -> Vec<TurnedDownView> {
        // Choice, candidate, reason, areas.
        let mut rows: Vec<(String, String, String, Vec<&str>)> = Vec::new();
        for area in &self.s.method.areas {
            for t in &area.turned_down {
                let choice = self.s.vocabulary.find(&t.choice).map_or_else(
                    || t.choice.replace('_', " "),
                    |f| self.s.vocabulary.fact(f).name.clone(),
                );
                let why = sentence(plain(&t.reason));
                match rows
                    .iter_mut()
                    .find(|r| r.0 == choice && r.1 == t.name && r.2 == why)
                {
                    Some(row) if !row.3.contains(&area.area.as_str()) => row.3.push(&area.area),
                    Some(_) => {}
                    None => rows.push((choice, t.name.clone(), why, vec![&area.area])),
                }
            }
        }
        let mut turned: Vec<(String, Vec<Together>)> = Vec::new();
        for (choice, name, why, areas) in rows {
            let about = if areas.len() == 1 {
                format!("area {}", areas.concat())
            } else {
                format!("areas {}", areas.join(", "))
            };
            if turned.iter().all(|(c, _)| *c != choice) {
                turned.push((choice.clone(), Vec::new()));
            }
            let Some((_, items)) = turned.iter_mut().find(|(c, _)| *c == choice) else {
                continue;
            };
            match items.iter_mut().find(|i| i.1 == why && i.2 == about) {
                Some(item) => item.0.push(name),
                None => items.push((vec![name], why, about)),
            }
        }
        turned
            .into_iter()
            .map(|(choice, items)| TurnedDownView {
                choice: capital(&choice),
                candidates: items
                    .into_iter()
                    .map(|(names, why, about)| TurnedDownItem {
                        about,
                        name: capital(&names.join("; ")),
                        why: self.words.say(&why),
                    })
                    .collect(),
            })
            .collect()
    }

    pub(super) fn advice(&mut self, reasons: &[Reason]) -> Vec<Advice> {
        let mut out: Vec<(String, Advice)> = Vec::new();
        for reason in reasons {
            let text = sentence(plain(reason));
            if let Some((_, first)) = out
                .iter_mut()
                .find(|(t, a)| *t == text && a.depends != reason.certain)
            {
                if !first
                    .about
                    .split("; ")
                    .any(|a| a.eq_ignore_ascii_case(&reason.about))
                {
                    first.about = format!("{}; {}", first.about, reason.about);
                }
                continue;
            }
            let advice = Advice {
                about: capital(&reason.about),
                text: self.words.say(&text),
                safety: reason.safety,
                depends: !reason.certain,
            };
            out.push((text, advice));
        }
        out.into_iter()
            .map(|(_, mut a)| {
                a.about = about_words(&a.about);
                a
            })
            .collect()
    }

    pub(super) fn uncertain(&mut self) -> UncertainView {
        let s = self.s;
        let mut open = Vec::new();
        for area in &s.assessment.areas {
            let possible = still_possible(&area.verdict);
            if !area.verdict.firm && !possible.is_empty() {
                let may = if possible.len() > 1 {
                    "could still"
                } else {
                    "may"
                };
                open.push(self.words.say(&format!(
                    "Area {} ({}) {may} come to {}.",
                    area.id,
                    area.name,
                    either(&possible)
                )));
            }
        }
        // What is asked alike of several places, and settles nothing alone, is asked once.
        let mut asked: Vec<(&Question, String, Vec<Fact>)> = Vec::new();
        for q in &s.assessment.questions {
            let outcomes = outcomes(q);
            match asked
                .iter_mut()
                .find(|(first, _, o)| first.ask == q.ask && o.is_empty() && outcomes.is_empty())
            {
                Some((_, about, _)) => *about = format!("{about}; {}", q.about),
                None => asked.push((q, q.about.clone(), outcomes)),
            }
        }
        // The first few, and whatever an answer of which leads to other work; the rest in a line.
        let mut also: Vec<String> = Vec::new();
        let mut questions: Vec<QuestionView> = Vec::new();
        for (i, (q, about, outcomes)) in asked.into_iter().enumerate() {
            if i >= ASKED && outcomes.is_empty() {
                let name = lower_first(&q.name);
                if !also.contains(&name) {
                    also.push(name);
                }
                continue;
            }
            questions.push(QuestionView {
                number: questions.len() + 1,
                about: about_words(&about),
                name: capital(&q.name),
                ask: self.words.say(&q.ask),
                measure: self.words.say(&sentence(&q.measure)),
                effort: capital(&effort(q)),
                outcomes,
            });
        }
        let more = also.len();
        let also = (more > 0).then(|| {
            self.words
                .say(&format!("Worth knowing too: {}.", also.join("; ")))
        });
        UncertainView {
            open,
            questions,
            also,
            more,
            words: self.words.take_fresh(),
        }
    }
}

/// How many questions are asked one by one though their answers change no work alone.
const ASKED: usize = 8;

/// Candidates turned down for one reason in the same areas: names, reason, areas.
type Together = (Vec<String>, String, String);

/// What each answer leads to; nothing where every answer leaves the same verdicts open.
fn outcomes(q: &Question) -> Vec<Fact> {
    let left: Vec<String> = q
        .outcomes
        .iter()
        .map(|o| {
            let real: Vec<Choice> = o
                .verdicts
                .iter()
                .filter(|v| v.word != "measure_first" || o.verdicts.len() == 1)
                .cloned()
                .collect();
            either(&names(&real))
        })
        .collect();
    if left.windows(2).all(|pair| pair.first() == pair.last()) && left.len() > 1 {
        return Vec::new();
    }
    q.outcomes
        .iter()
        .zip(left)
        .map(|(o, value)| Fact {
            name: capital(&o.answer),
            value,
        })
        .collect()
}
