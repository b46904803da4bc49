//! What is advised against, and what stays uncertain.

use super::build::Builder;
use super::phrases::{capital, effort, either, names, plain, sentence, still_possible};
use super::{
    Advice, AgainstView, Fact, QuestionView, TurnedDownItem, TurnedDownView, UncertainView,
};
use crate::assessment::Reason;

impl<'a> Builder<'a> {
    pub(super) fn against(&mut self) -> AgainstView {
        let s = self.s;
        let exclusions = self.advice(&s.assessment.exclusions);
        let referrals = self.advice(&s.assessment.referrals);
        let mut turned: Vec<TurnedDownView> = Vec::new();
        for area in &s.method.areas {
            for t in &area.turned_down {
                let choice = self.s.vocabulary.find(&t.choice).map_or_else(
                    || t.choice.replace('_', " "),
                    |f| self.s.vocabulary.fact(f).name.clone(),
                );
                let choice = capital(&choice);
                let why = sentence(plain(&t.reason));
                let at = match turned.iter().position(|v| v.choice == choice) {
                    Some(at) => at,
                    None => {
                        turned.push(TurnedDownView {
                            choice,
                            candidates: Vec::new(),
                        });
                        turned.len() - 1
                    }
                };
                let Some(view) = turned.get_mut(at) else {
                    continue;
                };
                // The same candidate turned down for the same reason in several areas stands once.
                let same = view.candidates.iter_mut().find(|c| {
                    c.name == capital(&t.name)
                        && c.why.iter().map(|s| s.text.as_str()).collect::<String>() == why
                });
                match same {
                    Some(item) => item.about = format!("{}, {}", item.about, area.area),
                    None => view.candidates.push(TurnedDownItem {
                        about: format!("area {}", area.area),
                        name: capital(&t.name),
                        why: self.words.say(&why),
                    }),
                }
            }
        }
        AgainstView {
            exclusions,
            referrals,
            turned_down: turned,
            words: self.words.take_fresh(),
        }
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
        out.into_iter().map(|(_, a)| a).collect()
    }

    pub(super) fn uncertain(&mut self) -> UncertainView {
        let s = self.s;
        let mut open = Vec::new();
        for area in &s.assessment.areas {
            let possible = still_possible(&area.verdict);
            if !area.verdict.firm && possible.len() > 1 {
                open.push(self.words.say(&format!(
                    "Area {} ({}) could still come to {}.",
                    area.id,
                    area.name,
                    either(&possible)
                )));
            }
        }
        let questions = s
            .assessment
            .questions
            .iter()
            .enumerate()
            .map(|(i, q)| QuestionView {
                number: i + 1,
                about: capital(&q.about),
                name: capital(&q.name),
                ask: self.words.say(&q.ask),
                measure: self.words.say(&sentence(&q.measure)),
                effort: capital(&effort(q)),
                outcomes: q
                    .outcomes
                    .iter()
                    .map(|o| Fact {
                        name: capital(&o.answer),
                        value: either(&names(&o.verdicts)),
                    })
                    .collect(),
            })
            .collect();
        UncertainView {
            open,
            questions,
            words: self.words.take_fresh(),
        }
    }
}
