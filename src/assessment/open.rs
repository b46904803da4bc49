//! What is open: the exact verdicts still possible, and what to measure next.

use std::collections::BTreeMap;

use crate::facts::Bits;
use crate::record::model::Record;
use crate::rules::{Asking, Board, Memo, Pack, Reach, Spot, Trail, ask, exact_within, run};
use crate::survey::Survey;

use super::answers::Answering;
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
    let mut memo = Memo::default();
    open.into_iter()
        .map(|spot| {
            let reach = Reach::of(pack, &given, &[spot]);
            (spot, exact_verdict(pack, &given, &reach, spot, &mut memo))
        })
        .filter(|(_, bits)| !bits.is_empty())
        .collect()
}

/// The exact set of one verdict, of which `reach` is what leads to it, from what is known on a board
/// before any run.
pub fn exact_verdict(
    pack: &Pack,
    given: &Board,
    reach: &Reach,
    verdict: Spot,
    memo: &mut Memo,
) -> Bits {
    exact_within(pack, given, reach, verdict, RUNS, memo).possible
}

/// What the question is called in which panels a defect lies.
pub const PLACES: &str = "panels";

/// Panels tried for one defect whose panel is not recorded.
const PANELS_TRIED: usize = 16;

/// The question in which panels a defect lies, where its answer could settle the verdict of its
/// area. It is no fact of the rules, so every panel is tried by surveying the record anew.
fn places(
    record: &Record,
    pack: &Pack,
    survey: &Survey,
    ran: &Ran,
    alike: &[usize],
) -> Vec<Question> {
    let Some(fact) = pack.vocabulary.find("verdict") else {
        return Vec::new();
    };
    let mut out = Vec::new();
    for (a, things) in survey.areas.iter().enumerate() {
        let thing = things.thing;
        let open = ran.possible(pack, Spot { thing, fact });
        if open.len() < 2 {
            continue;
        }
        let mut asked: BTreeMap<usize, Option<Question>> = BTreeMap::new();
        for (d, &defect) in things.defects.iter().enumerate() {
            // Of several that are told apart by their number only, one is tried.
            let like = alike.get(defect).copied().unwrap_or(defect);
            if let Some(same) = asked.get(&like) {
                out.extend(same.clone().map(|q| Question {
                    about: survey.things[defect].label.clone(),
                    ..q
                }));
                continue;
            }
            asked.insert(like, None);
            let panels: Vec<&str> = things
                .panels
                .iter()
                .filter(|(_, t)| survey.things[defect].may_lie_in.contains(t))
                .map(|(name, _)| name.as_str())
                .collect();
            if panels.is_empty() || panels.len() > PANELS_TRIED {
                continue;
            }
            let mut outcomes: Vec<(Bits, Vec<&str>)> = Vec::new();
            for panel in panels {
                let mut placed = record.clone();
                if let Some(defect) = placed.areas.get_mut(a).and_then(|x| x.defects.get_mut(d)) {
                    defect.panels = vec![panel.to_owned()];
                }
                let survey = crate::survey::survey(&placed, &pack.vocabulary);
                let mut board = board(pack, &survey);
                run(pack, &mut board, &mut Trail::default());
                let left = board.get(pack, thing, fact).and(open);
                match outcomes.iter_mut().find(|(bits, _)| *bits == left) {
                    Some((_, names)) => names.push(panel),
                    None => outcomes.push((left, vec![panel])),
                }
            }
            let tried: usize = outcomes.iter().map(|(_, names)| names.len()).sum();
            let log = |bits: Bits| (bits.len().max(1) as f64).ln();
            let left: f64 = outcomes
                .iter()
                .map(|(bits, names)| log(*bits) * names.len() as f64)
                .sum::<f64>()
                / tried.max(1) as f64;
            let settles = 1.0 - left / log(open);
            if settles < 1e-6 {
                continue;
            }
            let values = pack.vocabulary.fact(fact).values();
            let outcomes = outcomes.into_iter().map(|(bits, names)| Outcome {
                answer: names.join(" or "),
                verdicts: bits
                    .iter()
                    .filter_map(|i| values.get(i))
                    .map(|v| Choice {
                        word: v.id.clone(),
                        name: v.name.clone(),
                    })
                    .collect(),
            });
            let question = Question {
                about: survey.things[defect].label.clone(),
                fact: PLACES.to_owned(),
                name: "panels it lies in".to_owned(),
                ask: "In which panels does it lie?".to_owned(),
                measure: "Count the panels from the lower left of the map and note their names."
                    .to_owned(),
                minutes: pack.figure("place_minutes").map_or(0.0, |i| i.hi),
                wait_days: 0.0,
                who: "anyone".to_owned(),
                settles,
                outcomes: outcomes.collect(),
            };
            asked.insert(like, Some(question.clone()));
            out.push(question);
        }
    }
    out
}

/// What to measure next for the verdicts of slab and areas that are open, the most settled per
/// minute first.
pub fn questions(record: &Record, pack: &Pack, survey: &Survey, ran: &Ran) -> Vec<Question> {
    let targets: Vec<Spot> = verdicts(pack, survey)
        .into_iter()
        .filter(|s| pack.vocabulary.fact(s.fact).id != "panel_verdict")
        .filter(|s| ran.possible(pack, *s).len() > 1)
        .collect();
    if targets.is_empty() {
        return Vec::new();
    }
    let given = board(pack, survey);
    let answering = Answering {
        record,
        survey,
        pack,
    };
    let answer = |board: &Board, spot: Spot, cells: Bits| answering.answer(&[], board, spot, cells);
    let alike = answering.like(&[]);
    let like = |thing: usize| alike.get(thing).copied().unwrap_or(thing);
    let asking = Asking {
        answer: &answer,
        like: &like,
        ..Asking::new(pack, &targets)
    };
    // Where a defect lies costs next to nothing to say, so it is asked first.
    let mut all = places(record, pack, survey, ran, &alike);
    all.extend(ask(pack, &given, &asking).into_iter().map(|q| {
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
    }));
    all
}
