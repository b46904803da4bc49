//! Why: the trail of a fact back to the facts from outside.

use std::collections::HashSet;

use serde::Serialize;

use crate::facts::{Bits, Interval, Provenance};
use crate::rules::board::Board;
use crate::rules::exact::exact_within;
use crate::rules::graph::made_by;
use crate::rules::model::{Body, Condition, Pack, Rank, Row, Spot, Table, Then, Work};
use crate::rules::reach::{Reach, Undo, put_back, reads};
use crate::rules::run::{Memo, Scored, Trail};
use crate::rules::words::Possible;
use crate::units::System;

/// Runs spent to show that an answer stands without a fact, when the bound alone does not.
const STANDS_BUDGET: usize = 60;

/// A fact and what it comes from.
#[derive(Debug, Clone, Serialize)]
pub struct Why {
    /// The fact and what is possible for it.
    pub of: Possible,
    /// Whether the answer asked about needs it: without the needed facts together it would be
    /// more open, without the others it stands.
    pub needed: bool,
    /// Where it comes from.
    pub source: Source,
}

/// Where a fact comes from.
#[derive(Debug, Clone, Serialize)]
#[serde(tag = "source", rename_all = "snake_case")]
pub enum Source {
    /// From outside: the record, the survey, or nobody knows.
    Given,
    /// Made by a table.
    Made(Made),
    /// Gathered from inner things.
    Gathered {
        /// The inner facts.
        from: Vec<Why>,
    },
    /// Shown further up in the tree.
    Shown,
}

/// What a table made of its inputs.
#[derive(Debug, Clone, Serialize)]
pub struct Made {
    /// Table.
    pub table: String,
    /// Title of the table.
    pub title: String,
    /// Conditions under which the table applies, with the facts they read.
    pub applies: Vec<Why>,
    /// Whether the table applies: for certain, perhaps, or not.
    pub applied: super::RowState,
    /// Rows that fired or may fire, in table order.
    pub rows: Vec<WhyRow>,
    /// Earlier rows that would have won, and the fact that kept each from firing.
    pub blocked: Vec<Blocked>,
    /// How the causes or candidates of a ranking stand, the greatest sum first; empty in other tables.
    pub standings: Vec<Standing>,
}

/// How a cause or candidate stands in a ranking.
#[derive(Debug, Clone, Serialize)]
pub struct Standing {
    /// Word.
    pub id: String,
    /// In plain words.
    pub name: String,
    /// Log-odds before any sign; a range where what it depends on is not known.
    pub prior: Interval,
    /// Prior and pushes added up; a range where signs are not known.
    pub score: Interval,
    /// Whether it is ruled out for certain.
    pub out: bool,
    /// Whether it can come first.
    pub may_lead: bool,
}

/// A row that fired or may fire.
#[derive(Debug, Clone, Serialize)]
pub struct WhyRow {
    /// Row.
    pub row: String,
    /// Whether it fired for certain.
    pub certain: bool,
    /// For the crew.
    pub because: String,
    /// For the owner.
    pub plain: Option<String>,
    /// Where the row comes from.
    pub source: String,
    /// How near to the source we got.
    pub provenance: Provenance,
    /// Whether nothing may outvote it.
    pub safety: bool,
    /// What it says of each cause or candidate; empty in a grade table.
    pub pushes: Vec<Push>,
    /// The facts it read, in the order of its conditions.
    pub reads: Vec<Why>,
}

/// What a row says of a cause or candidate.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Push {
    /// Word.
    pub id: String,
    /// In plain words.
    pub name: String,
    /// Push in log-odds, or preference points; zero when it rules out.
    pub push: f64,
    /// Whether it is ruled out.
    pub rules_out: bool,
}

/// A row kept from firing.
#[derive(Debug, Clone, Serialize)]
pub struct Blocked {
    /// Row.
    pub row: String,
    /// For the crew.
    pub because: String,
    /// The condition that fails, as written.
    pub wants: String,
    /// The fact that fails it.
    pub by: Why,
}

/// Why a fact of a thing is what it is. `board` holds the facts from outside; what it says of made
/// facts is worked out anew.
pub fn why(pack: &Pack, board: &Board, target: Spot, system: System) -> Why {
    let reach = Reach::of(pack, board, &[target]);
    let mut run = board.clone();
    let mut trail = Trail::default();
    reach.run(pack, &mut run, &mut trail);
    let needed = needed(pack, board, &reach, target);
    let mut teller = Teller {
        pack,
        board: &run,
        trail: &trail,
        system,
        useful: useful(pack, &run, &reach, needed),
        shown: HashSet::new(),
    };
    teller.tell(target)
}

/// Facts from outside that the answer needs: a set from which none can be left out. Facts far from
/// the target are left out first.
fn needed(pack: &Pack, board: &Board, reach: &Reach, target: Spot) -> HashSet<Spot> {
    let mut scratch = board.clone();
    let mut trail = Trail::default();
    reach.run(pack, &mut scratch, &mut trail);
    let answer = scratch.at(target);
    let mut needed = HashSet::new();
    let mut undo = Undo::new();
    let mut memo = Memo::default();
    for &entry in reach.entries().iter().rev() {
        undo.clear();
        undo.push((entry, scratch.at(entry)));
        scratch.forget(pack, entry.thing, entry.fact);
        if scratch.at(entry) == undo[0].1 {
            continue;
        }
        reach.rerun(
            pack,
            &mut scratch,
            &mut trail,
            &[entry],
            &mut undo,
            &mut memo,
        );
        let stands = scratch.at(target) == answer
            || exact_within(pack, &scratch, reach, target, STANDS_BUDGET, &mut memo)
                .possible
                .within(answer);
        if !stands {
            put_back(&mut scratch, &mut undo, 0);
            needed.insert(entry);
        }
    }
    needed
}

/// The needed facts and every made fact that stands between one of them and the target.
fn useful(pack: &Pack, board: &Board, reach: &Reach, needed: HashSet<Spot>) -> HashSet<Spot> {
    let mut useful = needed;
    for &(work, thing) in reach.steps() {
        if reads(pack, board, work, thing)
            .iter()
            .any(|s| useful.contains(s))
        {
            match work {
                Work::Gather(fact) => {
                    useful.insert(Spot { thing, fact });
                }
                Work::Table(t) => useful.extend(
                    made_by(&pack.tables[t])
                        .into_iter()
                        .map(|fact| Spot { thing, fact }),
                ),
            }
        }
    }
    useful
}

struct Teller<'a> {
    pack: &'a Pack,
    board: &'a Board,
    trail: &'a Trail,
    system: System,
    useful: HashSet<Spot>,
    shown: HashSet<Spot>,
}

impl Teller<'_> {
    fn tell(&mut self, spot: Spot) -> Why {
        let source = match self.pack.maker(spot.fact) {
            None => Source::Given,
            Some(_) if !self.shown.insert(spot) => Source::Shown,
            Some(work @ Work::Gather(_)) => Source::Gathered {
                from: reads(self.pack, self.board, work, spot.thing)
                    .into_iter()
                    .map(|s| self.tell(s))
                    .collect(),
            },
            Some(Work::Table(t)) => Source::Made(self.made(t, spot.thing)),
        };
        Why {
            of: self.pack.possible(self.board, spot, self.system),
            needed: self.useful.contains(&spot),
            source,
        }
    }

    fn conditions(&mut self, thing: usize, conditions: &[Condition]) -> Vec<Why> {
        conditions
            .iter()
            .filter_map(|c| self.board.spot(self.pack, thing, c.fact))
            .map(|s| self.tell(s))
            .collect()
    }

    fn made(&mut self, t: usize, thing: usize) -> Made {
        let pack = self.pack;
        let trail = self.trail;
        let table = &pack.tables[t];
        let fired = trail.visit(t, thing).map_or(&[][..], |v| trail.fired(v));
        let applied = state(self.board, pack, thing, &table.applies);
        let applies = self.conditions(thing, &table.applies);
        let rows = fired
            .iter()
            .map(|f| {
                let row = &table.rows[usize::from(f.row)];
                WhyRow {
                    row: row.id.clone(),
                    certain: f.certain,
                    because: row.because.clone(),
                    plain: row.plain.clone(),
                    source: row.source.source.clone(),
                    provenance: row.source.provenance,
                    safety: row.safety,
                    pushes: pushes(table, row),
                    reads: self.conditions(thing, &row.when),
                }
            })
            .collect();
        let blocked = match &table.body {
            Body::Grade { .. } => self.blocked(table, thing, fired.last().map(|f| f.row)),
            _ => Vec::new(),
        };
        let standings = match (&table.body, trail.visit(t, thing)) {
            (Body::Rank(rank), Some(visit)) => standings(rank, trail.scored(visit)),
            _ => Vec::new(),
        };
        Made {
            table: table.id.clone(),
            title: table.title.clone(),
            applies,
            applied,
            rows,
            blocked,
            standings,
        }
    }

    /// Rows before the last that fired which did not fire, each with one condition that fails; one
    /// that the answer needs, where there is a choice.
    fn blocked(&mut self, table: &Table, thing: usize, last: Option<u16>) -> Vec<Blocked> {
        let Some(last) = last else {
            return Vec::new();
        };
        let mut out = Vec::new();
        for row in &table.rows[..usize::from(last)] {
            let failing: Vec<(&Condition, Spot)> = row
                .when
                .iter()
                .filter_map(|c| Some((c, self.board.spot(self.pack, thing, c.fact)?)))
                .filter(|(c, s)| !self.board.at(*s).meets(c.mask))
                .collect();
            let chosen = failing
                .iter()
                .find(|(_, s)| self.useful.contains(s))
                .or(failing.first());
            if let Some(&(condition, spot)) = chosen {
                out.push(Blocked {
                    row: row.id.clone(),
                    because: row.because.clone(),
                    wants: condition.text.clone(),
                    by: self.tell(spot),
                });
            }
        }
        out
    }
}

/// Everyone's standing, the greatest sum first, those that are out last.
fn standings(rank: &Rank, scored: &[Scored]) -> Vec<Standing> {
    let mut all: Vec<Standing> = scored
        .iter()
        .filter_map(|s| {
            let contestant = rank.contestants.get(usize::from(s.contestant))?;
            Some(Standing {
                id: contestant.id.clone(),
                name: contestant.name.clone(),
                prior: s.prior,
                score: s.score,
                out: s.out,
                may_lead: s.may_lead,
            })
        })
        .collect();
    // Sorting is stable, so ties stay in the order in which the table breaks them.
    let key = |s: &Standing| s.score.hi + s.score.lo.max(-1e9);
    all.sort_by(|a, b| a.out.cmp(&b.out).then(key(b).total_cmp(&key(a))));
    all
}

/// Whether conditions hold for a thing: for certain, perhaps, or not.
pub(super) fn state(
    board: &Board,
    pack: &Pack,
    thing: usize,
    conditions: &[Condition],
) -> super::RowState {
    let mut state = super::RowState::Fires;
    for c in conditions {
        let cells: Bits = board.get(pack, thing, c.fact);
        if !cells.meets(c.mask) {
            return super::RowState::Silent;
        }
        if !cells.within(c.mask) {
            state = super::RowState::May;
        }
    }
    state
}

fn pushes(table: &Table, row: &Row) -> Vec<Push> {
    let (Body::Rank(rank), Then::Pushes { pushes, rules_out }) = (&table.body, &row.then) else {
        return Vec::new();
    };
    let cause = |c: usize, push: f64, rules_out: bool| Push {
        id: rank.contestants[c].id.clone(),
        name: rank.contestants[c].name.clone(),
        push,
        rules_out,
    };
    pushes
        .iter()
        .map(|&(c, push)| cause(c, push, false))
        .chain(rules_out.iter().map(|&c| cause(c, 0.0, true)))
        .collect()
}
