//! From facts and rules to the assessment.

use std::collections::BTreeMap;

use crate::facts::{Bits, FactId, Interval, Value};
use crate::record::model::Record;
use crate::rules::{
    Board, Body, Fired, HouseChange, Pack, Rank, Row, Scored, Spot, Table, Then, Trail, Visit, run,
    run_pinned, standing_of,
};
use crate::source::Node;
use crate::survey::{Origin, Survey};

use super::describe::Describer;
use super::model::{
    AreaFinding, Assessment, Assumed, Choice, DefectFinding, Grade, MadeWith, PanelFinding,
    RankedCause, Reason, Sign, SlabFinding, ThingFinding, Verdict,
};
use super::open;

/// What a run left behind: kept so that later stages and explanations can go on from it.
#[derive(Debug, Clone)]
pub struct Ran {
    /// What is known after the run.
    pub board: Board,
    /// Rows that fired.
    pub trail: Trail,
    /// Exact sets of the verdicts the run left open, where they could be worked out.
    pub settled: BTreeMap<Spot, Bits>,
}

impl Ran {
    /// The values of a verdict that are still possible.
    pub fn possible(&self, pack: &Pack, spot: Spot) -> Bits {
        let bound = self.board.get(pack, spot.thing, spot.fact);
        self.settled
            .get(&spot)
            .map_or(bound, |exact| exact.and(bound))
    }
}

/// Puts what the survey found on a board.
pub fn board(pack: &Pack, survey: &Survey) -> Board {
    let mut board = Board::new(pack, survey.things.clone());
    for ((thing, fact), entry) in &survey.entries {
        if entry.value != Value::Unknown {
            board.set(pack, *thing, *fact, entry.value);
        }
    }
    board
}

/// Runs the rules over what the survey found.
pub fn run_rules(pack: &Pack, survey: &Survey) -> Ran {
    let mut board = board(pack, survey);
    let mut trail = Trail::default();
    run(pack, &mut board, &mut trail);
    let mut ran = Ran {
        board,
        trail,
        settled: BTreeMap::new(),
    };
    ran.settled = open::exact_verdicts(pack, survey, &ran);
    ran
}

/// Runs the rules once more with decisions taken after an earlier run: made facts held to the values
/// in `pins`, and the exact verdicts of the earlier run.
pub fn run_decided(pack: &Pack, survey: &Survey, before: &Ran, pins: &BTreeMap<Spot, Bits>) -> Ran {
    let mut all = before.settled.clone();
    all.extend(pins);
    let mut board = board(pack, survey);
    let mut trail = Trail::default();
    run_pinned(pack, &mut board, &mut trail, &all);
    Ran {
        board,
        trail,
        settled: before.settled.clone(),
    }
}

/// Makes the assessment of a record from a run. `node` is the record's tree, for line numbers.
pub fn assess(
    record: &Record,
    node: Option<&Node>,
    survey: &Survey,
    pack: &Pack,
    ran: &Ran,
) -> Assessment {
    Assessment {
        questions: open::questions(record, pack, survey, ran),
        ..judge(record, node, survey, pack, ran)
    }
}

/// The assessment without what to measure next, which takes most of the time.
pub fn judge(
    record: &Record,
    node: Option<&Node>,
    survey: &Survey,
    pack: &Pack,
    ran: &Ran,
) -> Assessment {
    let words = Describer {
        pack,
        survey,
        board: &ran.board,
        node,
        units: record.job.units,
    };
    let a = Assessor {
        words,
        ran,
        trail: &ran.trail,
    };
    let areas: Vec<AreaFinding> = record
        .areas
        .iter()
        .zip(&survey.areas)
        .map(|(area, things)| (area, things, a.verdict(things.thing, "verdict")))
        .map(|(area, things, verdict)| AreaFinding {
            id: area.id.clone(),
            name: area.name.clone(),
            grades: a.grades(things.thing, &["verdict"]),
            defects: area
                .defects
                .iter()
                .zip(&things.defects)
                .map(|(d, &t)| a.defect(d.id, t))
                .collect(),
            panels: things
                .panels
                .iter()
                .map(|(name, t)| PanelFinding {
                    id: name.clone(),
                    // A panel goes with its area where that is treated as one.
                    verdict: a.verdict(
                        *t,
                        if verdict.firm {
                            "panel_work"
                        } else {
                            "panel_verdict"
                        },
                    ),
                })
                .collect(),
            verdict,
        })
        .collect();
    let verdict = a.verdict(survey.slab, "slab_verdict");
    let adds_up = adds_up(&areas, &verdict);
    let thing = |id: &str, t: usize| ThingFinding {
        id: id.to_owned(),
        grades: a.grades(t, &[]),
    };
    Assessment {
        slab: SlabFinding {
            verdict,
            adds_up,
            grades: a.grades(survey.slab, &["slab_verdict"]),
        },
        areas,
        stairs: record
            .stairs
            .iter()
            .zip(&survey.stairs)
            .map(|(s, &t)| thing(&s.id, t))
            .collect(),
        thresholds: record
            .thresholds
            .iter()
            .zip(&survey.thresholds)
            .map(|(s, &t)| thing(&s.id, t))
            .collect(),
        exclusions: a.listed("exclusion"),
        referrals: a.listed("referral"),
        cautions: a.listed("caution"),
        assumed: assumed(&a.words),
        questions: Vec::new(),
        made_with: MadeWith {
            version: env!("CARGO_PKG_VERSION").to_owned(),
            rules: pack.fingerprint.clone(),
            house_rules: pack.house.iter().map(HouseChange::said).collect(),
        },
    }
}

struct Assessor<'a> {
    words: Describer<'a>,
    ran: &'a Ran,
    trail: &'a Trail,
}

impl<'a> Assessor<'a> {
    fn pack(&self) -> &'a Pack {
        self.words.pack
    }

    fn visits(&self, thing: usize) -> impl Iterator<Item = (&'a Table, &'a Visit)> + '_ {
        let pack = self.pack();
        self.trail
            .visits()
            .iter()
            .filter(move |v| v.thing as usize == thing)
            .filter_map(move |v| Some((pack.tables.get(v.table as usize)?, v)))
    }

    fn reasons(&self, table: &Table, visit: &Visit) -> Vec<Reason> {
        self.trail
            .fired(visit)
            .iter()
            .filter_map(|f| Some((f, table.rows.get(usize::from(f.row))?)))
            .map(|(f, row)| {
                self.words
                    .reason(table, row, visit.thing as usize, f.certain)
            })
            .collect()
    }

    /// Grades of a thing by tables that applied and carry a scale, but for the facts named. A scale
    /// on which nothing was measured says nothing, and is left out.
    fn grades(&self, thing: usize, but: &[&str]) -> Vec<Grade> {
        self.visits(thing)
            .filter_map(|(table, visit)| {
                let Body::Grade { gives, .. } = &table.body else {
                    return None;
                };
                let fact = &self.pack().vocabulary.fact(*gives).id;
                let fired = !self.trail.fired(visit).is_empty();
                if table.scale.is_none() || !fired || but.contains(&fact.as_str()) {
                    return None;
                }
                let grade = self.grade(table, *gives, visit);
                let measured = (grade.reasons.iter())
                    .flat_map(|r| &r.read)
                    .any(|r| r.value != "not known");
                (measured || (grade.firm && grade.reasons.iter().all(|r| !r.read.is_empty())))
                    .then_some(grade)
            })
            .collect()
    }

    fn grade(&self, table: &Table, gives: FactId, visit: &Visit) -> Grade {
        Grade {
            table: table.id.clone(),
            title: table.title.clone(),
            scale: table.scale.clone().unwrap_or_default(),
            fact: self.pack().vocabulary.fact(gives).id.clone(),
            firm: visit.out.is_one() && visit.applied,
            classes: self.words.choices(gives, visit.out),
            reasons: self.reasons(table, visit),
        }
    }

    /// The grade that makes a fact, for a thing.
    fn grade_of(&self, thing: usize, fact: &str) -> Option<Grade> {
        let id = self.pack().vocabulary.find(fact)?;
        self.visits(thing)
            .find_map(|(table, visit)| match &table.body {
                Body::Grade { gives, .. }
                    if *gives == id && !self.trail.fired(visit).is_empty() =>
                {
                    Some(self.grade(table, id, visit))
                }
                _ => None,
            })
    }

    /// A verdict: firm when one is left, else "measure first" with all that are possible.
    fn verdict(&self, thing: usize, fact: &str) -> Verdict {
        let grade = self.grade_of(thing, fact);
        let (mut possible, reasons) =
            grade.map_or_else(Default::default, |g| (g.classes, g.reasons));
        if let Some(fact) = self.pack().vocabulary.find(fact) {
            let left = self.ran.possible(self.pack(), Spot { thing, fact });
            possible = self.words.choices(fact, left);
        }
        let firm = possible.len() == 1;
        let headline = match possible.first() {
            Some(one) if firm => one.clone(),
            _ => self.measure_first(fact),
        };
        Verdict {
            word: headline.word,
            name: headline.name,
            firm,
            possible,
            reasons,
        }
    }

    fn measure_first(&self, fact: &str) -> Choice {
        let vocabulary = &self.pack().vocabulary;
        let found = vocabulary
            .find(fact)
            .map(|id| vocabulary.fact(id))
            .and_then(|f| {
                f.values()
                    .iter()
                    .find(|v| v.id == "measure_first")
                    .map(|v| Choice {
                        word: v.id.clone(),
                        name: v.name.clone(),
                    })
            });
        found.unwrap_or_else(|| Choice {
            word: "measure_first".into(),
            name: "measure first".into(),
        })
    }

    /// Rows of collect tables whose name begins with a word, for every thing, certain ones first.
    fn listed(&self, prefix: &str) -> Vec<Reason> {
        let mut out: Vec<Reason> = Vec::new();
        // Cautions follow the work that is specified: while it is open whether a table of them
        // applies at all, its rows say nothing.
        let sure = prefix == "caution";
        for visit in self.trail.visits() {
            let Some(table) = self.pack().tables.get(visit.table as usize) else {
                continue;
            };
            if matches!(table.body, Body::Collect)
                && table.id.starts_with(prefix)
                && (visit.applied || !sure)
            {
                out.extend(self.reasons(table, visit));
            }
        }
        out.sort_by_key(|r| !r.certain);
        // What holds for several things is said once and names them all.
        let mut once: Vec<Reason> = Vec::new();
        for reason in out {
            match once.iter_mut().find(|r| r.row == reason.row) {
                Some(same) if same.certain == reason.certain => {
                    if !same.about.split(", ").any(|a| a == reason.about) {
                        same.about = format!("{}, {}", same.about, reason.about);
                    }
                }
                Some(_) => {}
                None => once.push(reason),
            }
        }
        once
    }

    fn defect(&self, number: u32, thing: usize) -> DefectFinding {
        let vocabulary = &self.pack().vocabulary;
        let kind = vocabulary.find("kind").map(|id| {
            self.words
                .choices(id, self.words.board.get(self.pack(), thing, id))
        });
        let kind = kind.and_then(|k| k.into_iter().next()).unwrap_or(Choice {
            word: String::new(),
            name: String::new(),
        });
        let mut causes: Vec<RankedCause> = Vec::new();
        for (table, visit) in self.visits(thing) {
            if let Body::Rank(rank) = &table.body
                && rank.evidence
            {
                causes.extend(self.causes(table, rank, visit));
            }
        }
        causes.sort_by(|a, b| {
            let key = |c: &RankedCause| {
                if c.log_odds.hi.is_finite() {
                    middle(c.log_odds)
                } else {
                    f64::NEG_INFINITY
                }
            };
            b.may_lead.cmp(&a.may_lead).then(key(b).total_cmp(&key(a)))
        });
        let cause_note = self.cause_note(&causes);
        DefectFinding {
            number,
            kind: kind.word,
            kind_name: kind.name,
            grades: self.grades(thing, &["cause_at_work"]),
            cause_note,
            causes,
            at_work: self.grade_of(thing, "cause_at_work"),
            reasons: Vec::new(),
        }
    }

    fn causes(&self, table: &Table, rank: &Rank, visit: &Visit) -> Vec<RankedCause> {
        let fired = self.trail.fired(visit);
        self.trail
            .scored(visit)
            .iter()
            .filter_map(|s| self.cause(table, rank, visit, fired, s))
            .collect()
    }

    fn cause(
        &self,
        table: &Table,
        rank: &Rank,
        visit: &Visit,
        fired: &[Fired],
        s: &Scored,
    ) -> Option<RankedCause> {
        let index = usize::from(s.contestant);
        let contestant = rank.contestants.get(index)?;
        let cause = self.pack().cause(&contestant.id)?;
        let signs = fired
            .iter()
            .filter_map(|f| Some((f, table.rows.get(usize::from(f.row))?)))
            .filter_map(|(f, row)| {
                let (push, rules_out) = push_on(row, index)?;
                Some(Sign {
                    push,
                    rules_out,
                    reason: self
                        .words
                        .reason(table, row, visit.thing as usize, f.certain),
                })
            })
            .collect();
        let standing = standing_of(rank, s.score);
        let standing_words = ["unlikely", "possible", "likely"];
        Some(RankedCause {
            cause: cause.id.clone(),
            name: cause.name.clone(),
            plain: cause.plain.clone(),
            at_work: cause.at_work.clone(),
            stops_by: cause.stops_by.clone(),
            log_odds: s.score,
            share: Interval {
                lo: logistic(s.score.lo),
                hi: logistic(s.score.hi),
            },
            standing: standing
                .iter()
                .map(|i| Choice {
                    word: standing_words[i.min(2)].into(),
                    name: standing_words[i.min(2)].into(),
                })
                .collect(),
            may_lead: s.may_lead,
            prior: middle(s.prior),
            signs,
        })
    }

    /// A plain sentence on ties and thin evidence, by the pack's own borders.
    fn cause_note(&self, causes: &[RankedCause]) -> Option<String> {
        let first = causes.first()?;
        let leaders: Vec<&str> = causes
            .iter()
            .filter(|c| c.may_lead)
            .map(|c| c.name.as_str())
            .collect();
        let known = first.signs.iter().filter(|s| s.reason.certain).count();
        let mut parts: Vec<String> = Vec::new();
        if leaders.len() > 1 {
            parts.push(format!(
                "What was recorded does not decide between these: {}.",
                leaders.join("; ")
            ));
        } else if let Some(second) = causes.get(1)
            && let Some(close) = self.pack().figure("cause_close")
            && middle(first.log_odds) - middle(second.log_odds) < close.hi
        {
            parts.push(format!(
                "This is a close call: {} fits nearly as well.",
                second.name
            ));
        }
        let likely = causes
            .iter()
            .filter(|c| c.standing.iter().all(|s| s.word == "likely"))
            .count();
        if likely > 1 {
            parts.push("More than one cause is likely; they may act together.".to_owned());
        }
        if let Some(few) = self.pack().figure("cause_few_signs")
            && (known as f64) < few.hi
        {
            parts.push(match known {
                0 => "No sign that speaks for or against it was recorded; it stands on the setting alone.".to_owned(),
                1 => "The evidence is thin: one sign only.".to_owned(),
                n => format!("The evidence is thin: {n} signs only."),
            });
        }
        (!parts.is_empty()).then(|| parts.join(" "))
    }
}

fn push_on(row: &Row, contestant: usize) -> Option<(f64, bool)> {
    let Then::Pushes { pushes, rules_out } = &row.then else {
        return None;
    };
    if rules_out.contains(&contestant) {
        return Some((f64::NEG_INFINITY, true));
    }
    pushes
        .iter()
        .find(|(c, _)| *c == contestant)
        .map(|(_, push)| (*push, false))
}

fn logistic(x: f64) -> f64 {
    1.0 / (1.0 + (-x).exp())
}

fn middle(i: Interval) -> f64 {
    match (i.lo.is_finite(), i.hi.is_finite()) {
        (true, true) => f64::midpoint(i.lo, i.hi),
        (false, true) => i.hi,
        _ => i.lo,
    }
}

/// Values taken because the record was silent; the same value of several things is said once.
fn assumed(words: &Describer<'_>) -> Vec<Assumed> {
    let mut out: Vec<Assumed> = Vec::new();
    for ((thing, fact), entry) in &words.survey.entries {
        let Origin::Silent(because) = &entry.origin else {
            continue;
        };
        let declared = words.pack.vocabulary.fact(*fact);
        let about = (words.survey.things.get(*thing)).map_or_else(String::new, |t| t.label.clone());
        let value = words.value(declared, entry.value);
        match out
            .iter_mut()
            .find(|a| a.fact == declared.id && a.value == value)
        {
            Some(same) => same.about = format!("{}, {about}", same.about),
            None => out.push(Assumed {
                about,
                fact: declared.id.clone(),
                name: declared.name.clone(),
                value,
                because: because.clone(),
            }),
        }
    }
    out
}

/// How the areas add up to the slab's recommendation, in plain sentences.
fn adds_up(areas: &[AreaFinding], slab: &Verdict) -> Vec<String> {
    let mut out: Vec<String> = areas
        .iter()
        .map(|a| {
            if a.verdict.firm {
                format!("{} ({}): {}.", a.name, a.id, a.verdict.name)
            } else {
                // To measure first is what is said already.
                let open = a.verdict.possible.iter();
                let open = open.filter(|c| c.word != a.verdict.word);
                let names: Vec<&str> = open.map(|c| c.name.as_str()).collect();
                format!(
                    "{} ({}): {}; still possible: {}.",
                    a.name,
                    a.id,
                    a.verdict.name,
                    names.join(", ")
                )
            }
        })
        .collect();
    if let Some(reason) = slab
        .reasons
        .iter()
        .find(|r| r.certain)
        .or(slab.reasons.first())
    {
        out.push(
            reason
                .plain
                .clone()
                .unwrap_or_else(|| reason.because.clone()),
        );
    }
    out
}

/// Every class still possible of a made fact of a thing, as words. For tests and later stages.
pub fn made(pack: &Pack, ran: &Ran, thing: usize, fact: &str) -> Vec<String> {
    let Some(id) = pack.vocabulary.find(fact) else {
        return Vec::new();
    };
    let bits: Bits = ran.possible(pack, Spot { thing, fact: id });
    pack.vocabulary
        .fact(id)
        .values()
        .iter()
        .enumerate()
        .filter(|(i, _)| bits.has(*i))
        .map(|(_, v)| v.id.clone())
        .collect()
}
