//! What is open: the exact verdicts still possible, and what to measure next.

use std::collections::BTreeMap;

use crate::facts::{Bits, Comes};
use crate::rules::{Asking, Pack, Spot, ask, exact};
use crate::survey::Survey;

use super::assess::{Ran, board};
use super::model::{Choice, Outcome, Question};

/// Runs spent on one open verdict. Enough for records as they are; a verdict with more unknowns
/// than this can tell apart keeps its bound, which holds every true verdict and perhaps more.
const RUNS: usize = 600;

/// The verdict of every area and panel, and of the slab.
fn verdicts(pack: &Pack, survey: &Survey) -> Vec<Spot> {
    let mut out = Vec::new();
    let mut add = |name: &str, things: &mut dyn Iterator<Item = usize>| {
        if let Some(fact) = pack.vocabulary.find(name) {
            out.extend(things.map(|thing| Spot { thing, fact }));
        }
    };
    add("slab_verdict", &mut std::iter::once(survey.slab));
    add("verdict", &mut survey.areas.iter().map(|a| a.thing));
    add(
        "panel_verdict",
        &mut survey.areas.iter().flat_map(|a| &a.panels).map(|(_, t)| *t),
    );
    out
}

/// Exact sets of the verdicts that a run left open.
pub(super) fn exact_verdicts(pack: &Pack, survey: &Survey, ran: &Ran) -> BTreeMap<Spot, Bits> {
    let open: Vec<Spot> = verdicts(pack, survey)
        .into_iter()
        .filter(|s| ran.board.get(pack, s.thing, s.fact).len() > 1)
        .collect();
    if open.is_empty() {
        return BTreeMap::new();
    }
    let given = board(pack, survey);
    open.into_iter()
        .map(|spot| (spot, exact(pack, &given, spot, RUNS).possible))
        .filter(|(_, bits)| !bits.is_empty())
        .collect()
}

/// What to measure next for the verdicts of slab and areas that are open, the most settled per
/// minute first.
pub(super) fn questions(pack: &Pack, survey: &Survey, ran: &Ran) -> Vec<Question> {
    let targets: Vec<Spot> = verdicts(pack, survey)
        .into_iter()
        .filter(|s| pack.vocabulary.fact(s.fact).id != "panel_verdict")
        .filter(|s| ran.possible(pack, *s).len() > 1)
        .collect();
    if targets.is_empty() {
        return Vec::new();
    }
    let given = board(pack, survey);
    let may_ask = |spot: Spot| {
        matches!(
            pack.vocabulary.fact(spot.fact).comes,
            Comes::Asked | Comes::Survey
        )
    };
    let asking = Asking {
        may_ask: &may_ask,
        ..Asking::new(pack, &targets)
    };
    ask(pack, &given, &asking)
        .into_iter()
        .map(|q| {
            // The answers are shown by what they would do to the verdict nearest to the fact.
            let area = given.holder(q.spot.thing, crate::facts::Scope::Area);
            let target = targets
                .iter()
                .position(|t| Some(t.thing) == area)
                .or_else(|| targets.iter().position(|t| t.thing != survey.slab))
                .unwrap_or(0);
            let outcomes = q
                .answers
                .iter()
                .map(|a| Outcome {
                    answer: a
                        .values
                        .iter()
                        .map(|w| w.name.as_str())
                        .collect::<Vec<_>>()
                        .join(" or "),
                    verdicts: a.leads_to.get(target).map_or_else(Vec::new, |p| {
                        p.values
                            .iter()
                            .map(|w| Choice {
                                word: w.word.clone(),
                                name: w.name.clone(),
                            })
                            .collect()
                    }),
                })
                .collect();
            Question {
                about: q.about,
                fact: q.fact,
                name: q.name,
                ask: q.ask,
                measure: q.measure,
                minutes: q.minutes,
                wait_days: q.wait_days,
                who: q.who,
                settles: q.settles,
                outcomes,
            }
        })
        .collect()
}
