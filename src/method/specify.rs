//! From the assessment to the work: the overlay between its floor and its ceiling, the steps in the
//! order of the work, and what was turned down.

use std::collections::BTreeMap;

use crate::assessment::{Describer, Ran, Reason, run_decided};
use crate::facts::{Bits, ChoiceValue, FactId, Interval, Value};
use crate::record::model::{Material, Record};
use crate::rules::{Body, Contestant, Pack, Rank, Row, Set, Spot, Table, Then, Visit};
use crate::source::Node;
use crate::survey::heights::{RiserRule, StairWork, check_risers, risers_after};
use crate::survey::{Entry, Origin, Survey, step_limits};
use crate::units::{Length, Measured, System, capital};

use super::model::{
    AreaMethod, Limit, Method, Overlay, Profile, StairChange, StairCheck, Step, TurnedDown, Wait,
    Waiter,
};
use super::order::{CHOICE_SAID_BY_STEP, drop_general, sort_steps, stage_place};

/// Choices of the pack whose chosen candidate is a step, and the stage it belongs to.
const CHOICES: [(&str, &str); 7] = [
    ("removal_method", "remove"),
    ("profile_way", "profile"),
    ("crack_repair", "cracks"),
    ("patch_material", "patch"),
    ("bond_coat", "bond"),
    ("overlay_system", "overlay"),
    ("sealer", "seal"),
];

/// Decides the work: the exact verdicts first, then a layer between its floor and its ceiling for
/// every area that gets one (its thickness goes into the survey), then the candidate of every other
/// choice. The rules run again after each, since later choices and the steps read earlier ones.
pub fn decide(
    record: &Record,
    survey: &mut Survey,
    pack: &Pack,
    ran: Ran,
) -> (Ran, Vec<Option<Fitted>>) {
    let mut pins = BTreeMap::new();
    let exact = if ran.settled.is_empty() {
        ran
    } else {
        run_decided(pack, survey, &ran, &pins)
    };
    let fitted = fit_layers(record, survey, pack, &exact);
    if let Some((fact, values)) = fact_values(pack, "overlay_system") {
        for (area, fitted) in survey.areas.iter().zip(&fitted) {
            let chosen = fitted.as_ref().and_then(|f| f.chosen.as_ref());
            let word = chosen.map_or("none", |o| o.system.as_str());
            if fitted.is_some()
                && let Some(bit) = values.iter().position(|v| v.id == word)
            {
                let spot = Spot {
                    thing: area.thing,
                    fact,
                };
                pins.insert(spot, Bits::one(bit));
            }
        }
    }
    let layered = run_decided(pack, survey, &exact, &pins);
    for (id, _) in CHOICES {
        for thing in 0..survey.things.len() {
            if let Some((spot, none)) = no_choice(pack, &layered, thing, id) {
                pins.insert(spot, none);
            } else if id != "overlay_system"
                && let Some((_, rank, visit)) = ranking(pack, &layered, thing, id)
                && let Some(fact) = rank.gives
                && let Some(chosen) = kept(&layered, rank, visit).into_iter().next()
            {
                pins.insert(Spot { thing, fact }, Bits::one(chosen.bit));
            }
        }
    }
    (run_decided(pack, survey, &exact, &pins), fitted)
}

/// The value for "none" of a choice that is not made for a thing, since its table does not apply.
fn no_choice(pack: &Pack, ran: &Ran, thing: usize, id: &str) -> Option<(Spot, Bits)> {
    let (index, table) = pack.table(id)?;
    let visit = ran.trail.visit(index, thing)?;
    let Body::Rank(rank) = &table.body else {
        return None;
    };
    let (fact, none) = (rank.gives?, rank.none?);
    let asked = visit.applied || !ran.trail.scored(visit).is_empty();
    (!asked).then(|| (Spot { thing, fact }, Bits::one(none)))
}

fn fact_values<'a>(pack: &'a Pack, id: &str) -> Option<(FactId, &'a [ChoiceValue])> {
    let fact = pack.vocabulary.find(id)?;
    Some((fact, pack.vocabulary.fact(fact).values()))
}

/// Fits a layer into every area that gets one, and sets `layer_thickness` in the survey.
fn fit_layers(record: &Record, survey: &mut Survey, pack: &Pack, ran: &Ran) -> Vec<Option<Fitted>> {
    let areas: Vec<usize> = survey.areas.iter().map(|a| a.thing).collect();
    areas
        .iter()
        .map(|&thing| {
            let (table, rank, visit) = ranking(pack, ran, thing, "overlay_system")?;
            let fitted = fit(record, survey, pack, ran, thing, table, rank, visit);
            if let (Some(overlay), Some(fact)) =
                (&fitted.chosen, pack.vocabulary.find("layer_thickness"))
            {
                let how = format!("between the floor and the ceiling of the {}", overlay.name);
                survey.entries.insert(
                    (thing, fact),
                    Entry {
                        value: Value::number(overlay.thickness_mm),
                        origin: Origin::WorkedOut {
                            how,
                            paths: Vec::new(),
                        },
                    },
                );
            }
            Some(fitted)
        })
        .collect()
}

/// What became of the overlay candidates of an area.
#[derive(Debug, Clone)]
pub struct Fitted {
    /// The first candidate, best first, whose floor lies under its ceiling.
    pub chosen: Option<Overlay>,
    /// Candidates the rules kept but that do not fit: name, floor and ceiling parts.
    pub misfits: Vec<Overlay>,
}

pub(super) fn ranking<'a>(
    pack: &'a Pack,
    ran: &'a Ran,
    thing: usize,
    id: &str,
) -> Option<(&'a Table, &'a Rank, &'a Visit)> {
    let (index, table) = pack.table(id)?;
    let visit = ran.trail.visit(index, thing)?;
    match &table.body {
        Body::Rank(rank) if visit.applied => Some((table, rank, visit)),
        _ => None,
    }
}

/// Contestants that are not ruled out for certain, best first; ties in the order of the table.
pub(super) fn kept<'a>(ran: &Ran, rank: &'a Rank, visit: &Visit) -> Vec<&'a Contestant> {
    let mut scored: Vec<(f64, usize)> = ran
        .trail
        .scored(visit)
        .iter()
        .filter(|s| !s.out)
        .map(|s| {
            // A candidate that some unknown may still rule out ranks by its least score.
            let score = if s.score.lo.is_finite() {
                f64::midpoint(s.score.lo, s.score.hi)
            } else {
                s.score.hi - 100.0
            };
            (score, usize::from(s.contestant))
        })
        .collect();
    scored.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    scored
        .into_iter()
        .filter_map(|(_, i)| rank.contestants.get(i))
        .collect()
}

fn mm(set: &BTreeMap<String, Set>, key: &str) -> Option<Interval> {
    match set.get(key)? {
        Set::Quantity {
            value,
            kind: crate::units::Kind::Length,
            ..
        } => Some(*value),
        _ => None,
    }
}

#[allow(clippy::too_many_arguments)]
fn fit(
    record: &Record,
    survey: &Survey,
    pack: &Pack,
    ran: &Ran,
    thing: usize,
    table: &Table,
    rank: &Rank,
    visit: &Visit,
) -> Fitted {
    let mut misfits = Vec::new();
    for candidate in kept(ran, rank, visit) {
        let overlay = limits(
            record, survey, pack, ran, thing, table, rank, visit, candidate,
        );
        if overlay.floor_mm <= overlay.ceiling_mm + 1e-6 {
            return Fitted {
                chosen: Some(overlay),
                misfits,
            };
        }
        misfits.push(overlay);
    }
    Fitted {
        chosen: None,
        misfits,
    }
}

/// Floor, ceiling and thickness of one candidate on one area.
#[allow(clippy::too_many_arguments)]
fn limits(
    record: &Record,
    survey: &Survey,
    pack: &Pack,
    ran: &Ran,
    thing: usize,
    table: &Table,
    rank: &Rank,
    visit: &Visit,
    candidate: &Contestant,
) -> Overlay {
    let mut floor_parts = Vec::new();
    let mut ceiling_parts = Vec::new();
    let sheet = sheet(record, &candidate.id)
        .and_then(|m| Some((&m.name, m.lift.as_ref().and_then(Measured::canonical)?)));
    let lift = sheet.as_ref().map(|(_, lift)| *lift);
    let source = |own: &str, of_sheet: &str| match &sheet {
        Some((name, _)) => format!("{of_sheet} ({name})"),
        None => own.to_owned(),
    };
    let least = lift
        .map(|l| l.lo)
        .or(mm(&candidate.set, "least").map(|i| i.lo));
    let greatest = lift
        .map(|l| l.hi)
        .or(mm(&candidate.set, "greatest").map(|i| i.hi));
    if let Some(least) = least {
        floor_parts.push(Limit {
            what: source(
                "least thickness of this kind of layer",
                "least lift on the data sheet",
            ),
            thickness_mm: least,
        });
    }
    if let Value::Number(need) = survey.value(&pack.vocabulary, thing, "overlay_need")
        && need.hi > 0.0
    {
        floor_parts.push(Limit {
            what: "what the wished finish and the old relief need".to_owned(),
            thickness_mm: need.hi,
        });
    }
    if let Some(greatest) = greatest {
        ceiling_parts.push(Limit {
            what: source(
                "greatest thickness of this kind of layer",
                "greatest lift on the data sheet",
            ),
            thickness_mm: greatest,
        });
    }
    if let Value::Number(room) = survey.value(&pack.vocabulary, thing, "headroom") {
        ceiling_parts.push(Limit {
            what: "what steps and doors allow".to_owned(),
            thickness_mm: room.lo,
        });
    }
    let floor_mm = floor_parts
        .iter()
        .map(|l| l.thickness_mm)
        .fold(0.0, f64::max);
    let ceiling_mm = ceiling_parts
        .iter()
        .map(|l| l.thickness_mm)
        .fold(f64::INFINITY, f64::min);
    let usual = mm(&candidate.set, "usual").map_or(floor_mm, |i| i.lo);
    // What steps and doors allow is not used up where a thinner layer serves as well.
    let keeps = candidate.set.contains_key("keeps_margin");
    let spare = pack.figure("step_margin").filter(|_| keeps);
    let in_hand = match (survey.value(&pack.vocabulary, thing, "headroom"), spare) {
        // Rounded down, since the room is found by search and may lie a hair too high.
        (Value::Number(room), Some(margin)) => ((room.lo - margin.hi) * 20.0).floor() / 20.0,
        _ => f64::INFINITY,
    };
    let thickness_mm = usual.min(in_hand).clamp(floor_mm, ceiling_mm.max(floor_mm));
    let words = Describer {
        pack,
        survey,
        board: &ran.board,
        node: None,
        units: System::Us,
    };
    let index = rank.contestants.iter().position(|c| c.id == candidate.id);
    let reasons = pushes_on(ran, table, visit, index, true)
        .map(|(row, certain)| words.reason(table, row, thing, certain))
        .collect();
    Overlay {
        system: candidate.id.clone(),
        name: candidate.name.clone(),
        floor_mm,
        ceiling_mm,
        thickness_mm,
        lift_mm: lift.or(mm(&candidate.set, "lift").map(|i| Interval { lo: 0.0, hi: i.hi })),
        floor_parts,
        ceiling_parts,
        reasons,
    }
}

/// The data sheet in the record that belongs to a kind of layer.
fn sheet<'a>(record: &'a Record, candidate: &str) -> Option<&'a Material> {
    let kinds: &[&str] = match candidate {
        "skim" => &["skim"],
        "thin_broom" | "spray_texture" => &["resurfacer"],
        "patterned" => &["overlay"],
        "bonded_topping" => &["topping"],
        "self_leveling" => &["self_leveling"],
        _ => return None,
    };
    record
        .materials
        .iter()
        .find(|m| kinds.contains(&m.kind.as_str()))
}

/// Rows that fired in a ranking and speak on a contestant: for it, or to rule it out.
fn pushes_on<'a>(
    ran: &'a Ran,
    table: &'a Table,
    visit: &'a Visit,
    contestant: Option<usize>,
    in_favour: bool,
) -> impl Iterator<Item = (&'a crate::rules::Row, bool)> {
    ran.trail.fired(visit).iter().filter_map(move |f| {
        let row = table.rows.get(usize::from(f.row))?;
        let Then::Pushes { pushes, rules_out } = &row.then else {
            return None;
        };
        let speaks = contestant.is_some_and(|c| {
            if in_favour {
                pushes.iter().any(|(i, p)| *i == c && *p > 0.0)
            } else {
                rules_out.contains(&c)
            }
        });
        speaks.then_some((row, f.certain))
    })
}

/// The row that speaks for a candidate in a visit of its choice; one that holds for certain first.
pub fn in_favour<'a>(
    ran: &'a Ran,
    table: &'a Table,
    visit: &'a Visit,
    candidate: &Contestant,
) -> Option<(&'a Row, bool)> {
    let Body::Rank(rank) = &table.body else {
        return None;
    };
    let index = rank.contestants.iter().position(|c| c.id == candidate.id);
    pushes_on(ran, table, visit, index, true).max_by_key(|(_, certain)| *certain)
}

/// Specifies the work after the run that [`decide`] gives, with what it fitted.
pub fn specify(
    record: &Record,
    node: Option<&Node>,
    survey: &Survey,
    pack: &Pack,
    ran: &Ran,
    fitted: &[Option<Fitted>],
) -> Method {
    let words = Describer {
        pack,
        survey,
        board: &ran.board,
        node,
        units: record.job.units,
    };
    let s = Specifier {
        record,
        survey,
        pack,
        ran,
        words,
    };
    let mut areas: Vec<AreaMethod> = (0..survey.areas.len())
        .map(|i| s.area(i, fitted.get(i).and_then(Option::as_ref)))
        .collect();
    let stairs = s.stairs(&areas);
    s.stair_steps(&mut areas, &stairs);
    Method {
        care: s.care(),
        areas,
        stairs,
    }
}

pub(super) struct Specifier<'a> {
    pub record: &'a Record,
    pub survey: &'a Survey,
    pub pack: &'a Pack,
    pub ran: &'a Ran,
    pub words: Describer<'a>,
}

impl Specifier<'_> {
    fn area(&self, index: usize, fitted: Option<&Fitted>) -> AreaMethod {
        let things = &self.survey.areas[index];
        let verdicts = crate::assessment::made(self.pack, self.ran, things.thing, "verdict");
        let firm = verdicts.len() == 1;
        let verdict = if firm {
            verdicts[0].clone()
        } else {
            "measure_first".to_owned()
        };
        let mut method = AreaMethod {
            area: self.record.areas[index].id.clone(),
            verdict: verdict.clone(),
            specified: false,
            why_not: None,
            steps: Vec::new(),
            overlay: None,
            profile: None,
            turned_down: Vec::new(),
            waits: Vec::new(),
            patches: Vec::new(),
        };
        match verdict.as_str() {
            "measure_first" if firm => {
                method.why_not = Some(
                    "No work is specified before the readings named in this report are in."
                        .to_owned(),
                )
            }
            "measure_first" => {
                method.why_not = Some("What is not known yet decides which work is right. No work is specified before it is measured.".to_owned());
                return method;
            }
            "refer_engineer" => {
                method.why_not =
                    Some("No work is specified before a licensed engineer has looked.".to_owned())
            }
            "leave_alone" => method.why_not = Some("No work is needed.".to_owned()),
            _ => method.specified = true,
        }
        let layered = fitted.is_some();
        if let Some(fitted) = fitted {
            method.overlay = fitted.chosen.clone();
            for misfit in &fitted.misfits {
                method.turned_down.push(self.misfit(misfit, things.thing));
            }
            if fitted.chosen.is_none() {
                method.specified = false;
                method.why_not = Some(no_layer(&fitted.misfits, self.record.job.units));
                return method;
            }
        }
        let mut inside: Vec<usize> = vec![things.thing];
        inside.extend(&things.defects);
        inside.extend(&things.joints);
        for thing in inside {
            if method.specified {
                self.choices(thing, layered, &mut method);
            }
            self.rows(thing, &mut method);
        }
        for thing in [self.survey.slab, self.survey.site] {
            self.rows(thing, &mut method);
        }
        if method.specified {
            self.worked(index, &mut method);
        }
        if !method.specified {
            // Nothing but what is right whatever is decided later.
            method.steps.retain(|s| s.stage == "now");
            method.waits.clear();
        }
        drop_general(&mut method.steps);
        sort_steps(self.pack, &mut method);
        let verdict = method.verdict.clone();
        let wait_order =
            |w: &Wait| stage_place(w.reason.table.trim_start_matches("steps_"), &verdict);
        method.waits.sort_by_key(wait_order);
        let mut seen: Vec<(String, String)> = Vec::new();
        method.steps.retain(|s| {
            // A step that several things call for in the same words is written once.
            let key = (s.stage.clone(), s.crew.clone());
            let first = !seen.contains(&key);
            if first {
                seen.push(key);
            }
            first
        });
        method.profile = self.profile(things.thing, method.overlay.as_ref());
        method
    }

    /// Steps and refusals of the choices made for a thing.
    fn choices(&self, thing: usize, layered: bool, method: &mut AreaMethod) {
        for (id, stage) in CHOICES {
            let Some((table, rank, visit)) = ranking(self.pack, self.ran, thing, id) else {
                continue;
            };
            let kept = kept(self.ran, rank, visit);
            for scored in self.ran.trail.scored(visit).iter().filter(|s| s.out) {
                let index = usize::from(scored.contestant);
                let Some(contestant) = rank.contestants.get(index) else {
                    continue;
                };
                let first = pushes_on(self.ran, table, visit, Some(index), false)
                    .find(|(_, certain)| *certain);
                if let Some((row, certain)) = first {
                    let known = method
                        .turned_down
                        .iter()
                        .any(|t| t.name == contestant.name && t.choice == id);
                    if !known {
                        method.turned_down.push(TurnedDown {
                            choice: id.to_owned(),
                            name: contestant.name.clone(),
                            reason: self.words.reason(table, row, thing, certain),
                        });
                    }
                }
            }
            let chosen = match (&method.overlay, id) {
                (Some(overlay), "overlay_system") => {
                    kept.into_iter().find(|c| c.id == overlay.system)
                }
                (None, "overlay_system") if layered => None,
                _ => kept.into_iter().next(),
            };
            let Some(chosen) = chosen else { continue };
            // What is left as it is has its sentence among the steps, and a hole that the layer
            // itself fills needs no patching material.
            let unpatched = || {
                !self.is_patched(thing, method)
                    || self.word(thing, "patch_depth").as_deref() == Some("seal_only")
            };
            if chosen.id == "leave" || (id == "patch_material" && unpatched()) {
                continue;
            }
            // The machine that takes the bad surface off leaves the profile as it goes.
            let removal = self.pick(thing, "removal_method");
            let same_machine = removal.is_some_and(|c| c.id == chosen.id);
            if id == "profile_way" && same_machine {
                continue;
            }
            if CHOICE_SAID_BY_STEP.contains(&id) && self.has_own_step(thing, rank, chosen) {
                continue;
            }
            let reason = in_favour(self.ran, table, visit, chosen)
                .map(|(row, certain)| self.words.reason(table, row, thing, certain));
            let reason = reason.unwrap_or_else(|| Reason {
                table: table.id.clone(),
                row: chosen.id.clone(),
                about: self
                    .ran
                    .board
                    .things()
                    .get(thing)
                    .map_or_else(String::new, |t| t.label.clone()),
                certain: true,
                because: "The first of the candidates that nothing speaks against.".to_owned(),
                plain: None,
                crew: None,
                safety: false,
                source: table.title.clone(),
                provenance: crate::facts::Provenance::Judgement,
                read: Vec::new(),
            });
            let about = match self.ran.board.things().get(thing) {
                Some(t) if t.scope == crate::facts::Scope::Defect => {
                    format!("{}: ", capital(&t.label))
                }
                _ => String::new(),
            };
            let crew = match &method.overlay {
                Some(o) if id == "overlay_system" => {
                    format!(
                        "{}: {} at {}.",
                        table.title,
                        o.name,
                        length(o.thickness_mm, self.record.job.units)
                    )
                }
                _ => format!("{about}{}: {}{}.", table.title, chosen.name, state(chosen)),
            };
            let owner = if chosen.plain.is_empty() {
                chosen.name.clone()
            } else {
                // The name with its meaning: what a thing is makes no sentence alone.
                let mut meaning = chosen.plain.chars();
                let first = meaning.next().map(char::to_lowercase);
                let small: String = first.into_iter().flatten().chain(meaning).collect();
                format!("{about}{}: {small}", capital(&chosen.name))
            };
            method.steps.push(Step {
                stage: stage.to_owned(),
                crew,
                line: format!("{about}{}{}.", capital(&chosen.name), state(chosen)),
                owner,
                numbers: Vec::new(),
                reason,
            });
        }
    }

    /// Whether a step of the thing tells how to do what was chosen, and so says its name too.
    fn has_own_step(&self, thing: usize, rank: &Rank, chosen: &Contestant) -> bool {
        let only = Bits::one(chosen.bit);
        let visits = self.ran.trail.visits().iter();
        visits
            .filter(|v| v.thing as usize == thing)
            .filter_map(|v| Some((v, self.pack.tables.get(v.table as usize)?)))
            .filter(|(_, table)| table.id.starts_with("steps_"))
            .any(|(visit, table)| {
                self.ran.trail.fired(visit).iter().any(|f| {
                    let row = table.rows.get(usize::from(f.row));
                    f.certain
                        && row.is_some_and(|r| {
                            let says = |c: &crate::rules::Condition| {
                                Some(c.fact) == rank.gives && c.mask == only
                            };
                            !r.set.contains_key("wait") && r.when.iter().any(says)
                        })
                })
            })
    }

    /// Steps and waits from tables that list every row that fires.
    fn rows(&self, thing: usize, method: &mut AreaMethod) {
        for visit in self
            .ran
            .trail
            .visits()
            .iter()
            .filter(|v| v.thing as usize == thing)
        {
            let Some(table) = self.pack.tables.get(visit.table as usize) else {
                continue;
            };
            if !matches!(table.body, Body::Collect) {
                continue;
            }
            for fired in self.ran.trail.fired(visit).iter().filter(|f| f.certain) {
                let Some(row) = table.rows.get(usize::from(fired.row)) else {
                    continue;
                };
                if table.id == "steps_patch"
                    && row.set.get("stage").is_some_and(|s| s.text() == "patch")
                    && !self.is_patched(thing, method)
                {
                    continue;
                }
                let reason = || self.words.reason(table, row, thing, true);
                if let Some(days) = row.set.get("wait").and_then(Set::quantity) {
                    let what = row
                        .set
                        .get("for")
                        .map_or_else(|| row.because.clone(), |s| s.text().to_owned());
                    method.waits.push(Wait {
                        what,
                        who: row.set.get("who").and_then(|s| Waiter::of(s.text())),
                        days,
                        reason: reason(),
                    });
                } else if let Some(stage) = row.set.get("stage")
                    && stage.text() != "care"
                {
                    let about = match self.ran.board.things().get(thing) {
                        Some(t) if t.scope == crate::facts::Scope::Defect => {
                            format!("{}: ", capital(&t.label))
                        }
                        _ => String::new(),
                    };
                    let owner = row.plain.clone().unwrap_or_else(|| row.because.clone());
                    let reason = reason();
                    let line = reason.crew.as_deref().unwrap_or(&row.because);
                    method.steps.push(Step {
                        stage: stage.text().to_owned(),
                        crew: format!("{about}{}", row.because),
                        line: format!("{about}{line}"),
                        owner: format!("{about}{owner}"),
                        numbers: Vec::new(),
                        reason,
                    });
                }
            }
        }
    }

    fn care(&self) -> Vec<Reason> {
        let mut out: Vec<Reason> = Vec::new();
        for visit in self.ran.trail.visits() {
            let Some(table) = self.pack.tables.get(visit.table as usize) else {
                continue;
            };
            if !matches!(table.body, Body::Collect) {
                continue;
            }
            for fired in self.ran.trail.fired(visit).iter().filter(|f| f.certain) {
                let Some(row) = table.rows.get(usize::from(fired.row)) else {
                    continue;
                };
                let care = row.set.get("stage").is_some_and(|s| s.text() == "care");
                if care && !out.iter().any(|r| r.row == row.id) {
                    out.push(self.words.reason(table, row, visit.thing as usize, true));
                }
            }
        }
        out
    }

    /// Profile for the layer, and the ways of reaching it that the rules kept, best first. The
    /// profile to work to is that of the data sheet, else that of the row for layers it names, else
    /// that of the kind of layer.
    fn profile(&self, thing: usize, layer: Option<&Overlay>) -> Option<Profile> {
        let layer = layer?;
        let (table, row) = profile_row(self.pack, layer.thickness_mm)?;
        let class = csp(&row.set, "csp")?;
        let by_sheet = sheet(self.record, &layer.system)
            .and_then(|m| m.profile.as_ref().and_then(Measured::canonical))
            .and_then(|i| Some((csp_number(i.lo)?, csp_number(i.hi)?)));
        let by_row = mm(&row.set, "target_up_to")
            .filter(|up_to| layer.thickness_mm <= up_to.hi)
            .and_then(|_| csp(&row.set, "target"));
        let by_system = ranking(self.pack, self.ran, thing, "overlay_system")
            .and_then(|(_, rank, _)| rank.contestants.iter().find(|c| c.id == layer.system))
            .and_then(|c| csp(&c.set, "csp"));
        let (least, greatest) = by_sheet.or(by_row).or(by_system).unwrap_or(class);
        let mut reasons = vec![self.words.reason(table, row, thing, true)];
        let mut ways = Vec::new();
        if let Some((table, rank, visit)) = ranking(self.pack, self.ran, thing, "profile_way") {
            for way in kept(self.ran, rank, visit) {
                let reach = way
                    .set
                    .get("csp_greatest")
                    .and_then(Set::quantity)
                    .map_or(0.0, |i| i.lo);
                if reach >= f64::from(least) {
                    ways.push(way.name.clone());
                }
            }
            let index = ways
                .first()
                .and_then(|w| rank.contestants.iter().position(|c| c.name == *w));
            reasons.extend(
                pushes_on(self.ran, table, visit, index, true)
                    .map(|(row, certain)| self.words.reason(table, row, thing, certain)),
            );
        }
        Some(Profile {
            least,
            greatest,
            class,
            scale: table.scale.clone().unwrap_or_default(),
            ways,
            reasons,
        })
    }

    fn misfit(&self, overlay: &Overlay, thing: usize) -> TurnedDown {
        let units = self.record.job.units;
        let because = misfit_words(overlay, units);
        TurnedDown {
            choice: "overlay_system".to_owned(),
            name: overlay.name.clone(),
            reason: Reason {
                table: "overlay_system".to_owned(),
                row: "floor-over-ceiling".to_owned(),
                about: self
                    .ran
                    .board
                    .things()
                    .get(thing)
                    .map_or_else(String::new, |t| t.label.clone()),
                certain: true,
                plain: Some(because.clone()),
                because,
                crew: None,
                safety: false,
                source: "arithmetic of the parts named".to_owned(),
                provenance: crate::facts::Provenance::Derived,
                read: Vec::new(),
            },
        }
    }

    /// Each stair before and after the layers of the areas it starts from and ends on.
    fn stairs(&self, areas: &[AreaMethod]) -> Vec<StairChange> {
        let limits = step_limits(self.record, |id| {
            self.pack
                .vocabulary
                .figure(id)
                .map(|f| (f.value.lo, f.source.source.clone()))
        });
        let layer = |area: Option<&str>| {
            let method = area.and_then(|id| areas.iter().find(|a| a.area == id));
            let mm = method.map_or(0.0, |a| {
                let on = a.overlay.as_ref().map_or(0.0, |o| o.thickness_mm);
                on - a.lowered_mm()
            });
            Length::new::<uom::si::length::millimeter>(mm)
        };
        self.record
            .stairs
            .iter()
            .filter_map(|stair| {
                let before: Option<Vec<Length>> = stair
                    .risers
                    .iter()
                    .map(|r| {
                        r.canonical().map(|i| {
                            Length::new::<uom::si::length::millimeter>(f64::midpoint(i.lo, i.hi))
                        })
                    })
                    .collect();
                let before = before.filter(|b| !b.is_empty())?;
                let (below, above) = (layer(stair.from.as_deref()), layer(stair.to.as_deref()));
                let treads = if stair.treads_overlaid {
                    // New concrete laid lower does not touch the treads.
                    let most = if below > above { below } else { above };
                    if most > Length::default() {
                        most
                    } else {
                        Length::default()
                    }
                } else {
                    Length::default()
                };
                let after = risers_after(
                    &before,
                    StairWork {
                        below,
                        treads,
                        above,
                    },
                );
                let checks = check_risers(&before, &after, &limits.risers)
                    .into_iter()
                    .map(|c| StairCheck {
                        limit: match c.limit.rule {
                            RiserRule::Greatest => "highest riser",
                            RiserRule::Least => "lowest riser",
                            RiserRule::Difference => {
                                "difference between the highest and the lowest riser"
                            }
                        }
                        .to_owned(),
                        limit_mm: c.limit.limit_mm,
                        before_mm: c.before_mm,
                        after_mm: c.after_mm,
                        kept_before: c.limit.kept(c.before_mm),
                        kept_after: c.limit.kept(c.after_mm),
                        source: c.limit.source,
                    })
                    .collect();
                let mm = |l: &Length| l.get::<uom::si::length::millimeter>();
                Some(StairChange {
                    stair: stair.id.clone(),
                    before_mm: before.iter().map(mm).collect(),
                    after_mm: after.iter().map(mm).collect(),
                    checks,
                })
            })
            .collect()
    }
}

/// The row of the profile table for a layer of some thickness, mm; its `csp_least` and
/// `csp_greatest` are the class the guide lists.
pub fn profile_row(pack: &Pack, thickness_mm: f64) -> Option<(&Table, &Row)> {
    let (_, table) = pack.table("target_profile")?;
    let fact = pack.vocabulary.find("layer_thickness")?;
    let cell = pack.cells.get(usize::from(fact.0))?.of_number(thickness_mm);
    let row = table
        .rows
        .iter()
        .find(|r| r.when.iter().all(|c| c.fact == fact && c.mask.has(cell)))?;
    Some((table, row))
}

/// Least and greatest profile number under `…_least` and `…_greatest`.
pub fn csp(set: &BTreeMap<String, Set>, key: &str) -> Option<(u8, u8)> {
    let number = |end: &str| {
        let value = set.get(&format!("{key}_{end}")).and_then(Set::quantity)?;
        csp_number(value.lo)
    };
    Some((number("least")?, number("greatest")?))
}

/// A profile number; the guide has ten, and 0 stands for a layer that asks for none.
fn csp_number(x: f64) -> Option<u8> {
    (0.0..=10.0).contains(&x).then_some(x.round() as u8)
}

/// `in the state it must be in when the next layer goes on`, where a bonding coat has one.
fn state(chosen: &Contestant) -> String {
    chosen.set.get("state").map_or_else(String::new, |s| {
        format!(", {} when the layer goes on", s.text())
    })
}

fn length(mm: f64, units: System) -> String {
    crate::assessment::quantity(crate::units::Kind::Length, Interval::exact(mm), units)
}

fn misfit_words(overlay: &Overlay, units: System) -> String {
    let asks = overlay
        .floor_parts
        .iter()
        .max_by(|a, b| a.thickness_mm.total_cmp(&b.thickness_mm));
    let allows = overlay
        .ceiling_parts
        .iter()
        .min_by(|a, b| a.thickness_mm.total_cmp(&b.thickness_mm));
    match (asks, allows) {
        (Some(asks), Some(allows)) => format!(
            "It does not fit: {} is {}, but {} is only {}.",
            asks.what,
            length(asks.thickness_mm, units),
            allows.what,
            length(allows.thickness_mm, units)
        ),
        _ => "It does not fit.".to_owned(),
    }
}

fn no_layer(misfits: &[Overlay], units: System) -> String {
    let Some(nearest) = misfits
        .iter()
        .min_by(|a, b| (a.floor_mm - a.ceiling_mm).total_cmp(&(b.floor_mm - b.ceiling_mm)))
    else {
        return "No kind of layer serves here; every one was turned down for the reasons given."
            .to_owned();
    };
    let flatter = if nearest.ceiling_mm > 0.0 {
        "choose a flatter finish, lower the surface,"
    } else {
        "lower the surface"
    };
    format!(
        "No layer fits. The nearest is the {}: it needs {} and may have {}. To make room, {flatter} or change the step or door that limits the height.",
        nearest.name,
        length(nearest.floor_mm, units),
        length(nearest.ceiling_mm.max(0.0), units)
    )
}
