//! Why not: what stands in the way of a value or a candidate, and the smallest change that lets it
//! through.

use serde::Serialize;

use crate::facts::{Bits, Interval};
use crate::rules::board::Board;
use crate::rules::exact::Classes;
use crate::rules::model::{Body, Condition, Pack, Rank, Row, Spot, Table, Then, Work};
use crate::rules::reach::{Reach, Undo, put_back, reads};
use crate::rules::run::{Memo, Trail};
use crate::rules::words::{Possible, Word};
use crate::units::System;

use super::why::state;
use super::{Change, Flip, RowState};

/// How deep obstacles behind obstacles are followed.
const DEPTH: usize = 8;

/// What is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Goal {
    /// That a made fact takes a value.
    Value {
        /// Fact and thing.
        spot: Spot,
        /// Value, by index.
        value: usize,
    },
    /// That a candidate of a ranking is not ruled out.
    Candidate {
        /// Table, by index.
        table: usize,
        /// Thing.
        thing: usize,
        /// Contestant, by index.
        contestant: usize,
    },
}

/// What stands in the way, and what would clear it.
#[derive(Debug, Clone, Serialize)]
pub struct WhyNot {
    /// What was asked for, in plain words.
    pub wanted: Word,
    /// What it is about.
    pub about: String,
    /// Whether it holds now: for certain, perhaps, or not.
    pub now: RowState,
    /// What is possible now, where a fact was asked about.
    pub instead: Option<Possible>,
    /// What stands in the way, first thing first; empty when it holds for certain.
    pub in_the_way: Vec<Obstacle>,
    /// The smallest changes of facts from outside that let it through, the surest and nearest
    /// first: of one fact if one is enough, else of two.
    pub ways: Vec<Way>,
    /// Whether every change of up to two facts was tried; false when the budget ran out.
    pub all_tried: bool,
}

/// A change that lets it through.
#[derive(Debug, Clone, Serialize)]
pub struct Way {
    /// The facts as they are and as they would have to be.
    pub changes: Vec<Flip>,
    /// Whether it then holds for certain; otherwise it may.
    pub certain: bool,
    /// Whether the change contradicts nothing that is known, so that it may still turn out so.
    pub open: bool,
    #[serde(skip)]
    far: usize,
}

/// One thing in the way.
#[derive(Debug, Clone, Serialize)]
#[serde(tag = "obstacle", rename_all = "snake_case")]
pub enum Obstacle {
    /// A row that would give it has a condition that fails or may fail.
    Condition {
        /// Table.
        table: String,
        /// Row; empty when the table as a whole does not apply.
        row: String,
        /// For the crew.
        because: String,
        /// The condition, as written.
        wants: String,
        /// The fact that fails it.
        is: Possible,
        /// What stands in the way of that, where a table made the fact.
        behind: Vec<Obstacle>,
    },
    /// A row that says something else comes first.
    Before {
        /// Table.
        table: String,
        /// Row.
        row: String,
        /// For the crew.
        because: String,
        /// Whether it is a safety row.
        safety: bool,
        /// What it read.
        reads: Vec<Possible>,
    },
    /// A row rules it out.
    RuledOut {
        /// Table.
        table: String,
        /// Row.
        row: String,
        /// For the crew.
        because: String,
        /// For the owner.
        plain: Option<String>,
        /// Whether it is a safety row.
        safety: bool,
        /// Whether it fires for certain.
        certain: bool,
        /// What it read.
        reads: Vec<Possible>,
    },
    /// Another contestant scores higher.
    Outscored {
        /// Table.
        table: String,
        /// The other, in plain words.
        by: String,
        /// Its score.
        its: Interval,
        /// The score of what was asked for.
        own: Interval,
    },
    /// No row gives this value.
    NoRow {
        /// Table.
        table: String,
    },
    /// No inner thing has it.
    Inside {
        /// What the inner things have.
        things: Vec<Possible>,
    },
    /// It comes from outside and is as it is.
    Given {
        /// The fact.
        is: Possible,
    },
}

/// What stands in the way of a goal, and the smallest changes that clear it. `budget` limits the
/// runs spent on the search for changes.
pub fn why_not(
    pack: &Pack,
    board: &Board,
    goal: Goal,
    system: System,
    budget: usize,
) -> Option<WhyNot> {
    let reach = match goal {
        Goal::Value { spot, value } => {
            pack.cells
                .get(usize::from(spot.fact.0))
                .filter(|c| c.domain.has(value))?;
            Reach::of(pack, board, &[spot])
        }
        Goal::Candidate {
            table,
            thing,
            contestant,
        } => {
            rank_of(pack, table)?.contestants.get(contestant)?;
            Reach::of_table(pack, board, table, thing)
        }
    };
    let mut base = board.clone();
    let mut trail = Trail::default();
    reach.run(pack, &mut base, &mut trail);
    let now = standing(goal, &base, &trail);
    let seeker = Seeker {
        pack,
        board: &base,
        trail: &trail,
        system,
    };
    let (wanted, about, instead, in_the_way) = match goal {
        Goal::Value { spot, value } => (
            pack.words(spot.fact, Bits::one(value), system)
                .into_iter()
                .next()?,
            base.label(spot.thing).to_owned(),
            Some(pack.possible(&base, spot, system)),
            seeker.obstacles(spot, Bits::one(value), DEPTH),
        ),
        Goal::Candidate {
            table,
            thing,
            contestant,
        } => {
            let c = &rank_of(pack, table)?.contestants[contestant];
            (
                Word {
                    word: c.id.clone(),
                    name: c.name.clone(),
                },
                base.label(thing).to_owned(),
                None,
                seeker.ruled_out(&pack.tables[table], thing, contestant),
            )
        }
    };
    let (ways, all_tried) = if now == RowState::Fires {
        (Vec::new(), true)
    } else {
        let targets = match goal {
            Goal::Value { spot, .. } => vec![spot],
            Goal::Candidate { .. } => Vec::new(),
        };
        ways(pack, &base, &reach, &targets, goal, now, system, budget)
    };
    Some(WhyNot {
        wanted,
        about,
        now,
        instead,
        in_the_way: if now == RowState::Fires {
            Vec::new()
        } else {
            in_the_way
        },
        ways,
        all_tried,
    })
}

fn rank_of(pack: &Pack, table: usize) -> Option<&Rank> {
    match &pack.tables.get(table)?.body {
        Body::Rank(rank) => Some(rank),
        _ => None,
    }
}

/// Whether a goal holds after a run.
fn standing(goal: Goal, board: &Board, trail: &Trail) -> RowState {
    match goal {
        Goal::Value { spot, value } => {
            let cells = board.at(spot);
            if !cells.has(value) {
                RowState::Silent
            } else if cells.is_one() {
                RowState::Fires
            } else {
                RowState::May
            }
        }
        Goal::Candidate {
            table,
            thing,
            contestant,
        } => {
            let Some(visit) = trail.visit(table, thing) else {
                return RowState::May;
            };
            match trail.scored(visit).get(contestant) {
                Some(s) if s.out => RowState::Silent,
                Some(s) if s.score.lo.is_finite() && visit.applied => RowState::Fires,
                _ => RowState::May,
            }
        }
    }
}

struct Seeker<'a> {
    pack: &'a Pack,
    board: &'a Board,
    trail: &'a Trail,
    system: System,
}

impl Seeker<'_> {
    fn read(&self, thing: usize, conditions: &[Condition]) -> Vec<Possible> {
        conditions
            .iter()
            .filter_map(|c| self.board.spot(self.pack, thing, c.fact))
            .map(|s| self.pack.possible(self.board, s, self.system))
            .collect()
    }

    /// What keeps a fact from certainly lying in `wanted`, first thing first.
    fn obstacles(&self, spot: Spot, wanted: Bits, depth: usize) -> Vec<Obstacle> {
        if depth == 0 || self.board.at(spot).within(wanted) {
            return Vec::new();
        }
        match self.pack.maker(spot.fact) {
            None => vec![Obstacle::Given {
                is: self.pack.possible(self.board, spot, self.system),
            }],
            Some(work @ Work::Gather(_)) => vec![Obstacle::Inside {
                things: reads(self.pack, self.board, work, spot.thing)
                    .into_iter()
                    .map(|s| self.pack.possible(self.board, s, self.system))
                    .collect(),
            }],
            Some(Work::Table(t)) => {
                let table = &self.pack.tables[t];
                let failed = self.failing(table, None, &table.applies, spot.thing, depth);
                if !failed.is_empty() {
                    return failed;
                }
                match &table.body {
                    Body::Grade { .. } => self.grade(table, spot.thing, wanted, depth),
                    Body::Rank(rank) => self.rank(t, table, rank, spot, wanted),
                    Body::Collect => Vec::new(),
                }
            }
        }
    }

    /// The conditions that fail, or else those that may.
    fn failing(
        &self,
        table: &Table,
        row: Option<&Row>,
        conditions: &[Condition],
        thing: usize,
        depth: usize,
    ) -> Vec<Obstacle> {
        let wanted = match state(self.board, self.pack, thing, conditions) {
            RowState::Fires => return Vec::new(),
            other => other,
        };
        conditions
            .iter()
            .filter_map(|c| Some((c, self.board.spot(self.pack, thing, c.fact)?)))
            .filter(|(c, s)| {
                let cells = self.board.at(*s);
                match wanted {
                    RowState::Silent => !cells.meets(c.mask),
                    _ => !cells.within(c.mask),
                }
            })
            .map(|(c, s)| Obstacle::Condition {
                table: table.id.clone(),
                row: row.map_or_else(String::new, |r| r.id.clone()),
                because: row.map_or_else(String::new, |r| r.because.clone()),
                wants: c.text.clone(),
                is: self.pack.possible(self.board, s, self.system),
                behind: match self.pack.maker(s.fact) {
                    Some(_) => self.obstacles(s, c.mask, depth - 1),
                    None => Vec::new(),
                },
            })
            .collect()
    }

    fn grade(&self, table: &Table, thing: usize, wanted: Bits, depth: usize) -> Vec<Obstacle> {
        let gives = |row: &Row| matches!(row.then, Then::Class(c) if wanted.has(c));
        let mut out = Vec::new();
        // The row nearest to firing: fewest conditions that fail.
        let best = table
            .rows
            .iter()
            .enumerate()
            .filter(|(_, row)| gives(row))
            .min_by_key(|(_, row)| {
                row.when
                    .iter()
                    .filter(|c| !self.board.get(self.pack, thing, c.fact).meets(c.mask))
                    .count()
            });
        let Some((at, row)) = best else {
            return vec![Obstacle::NoRow {
                table: table.id.clone(),
            }];
        };
        for other in table.rows[..at].iter().filter(|r| !gives(r)) {
            let fires = state(self.board, self.pack, thing, &other.when);
            if fires != RowState::Silent {
                out.push(Obstacle::Before {
                    table: table.id.clone(),
                    row: other.id.clone(),
                    because: other.because.clone(),
                    safety: other.safety,
                    reads: self.read(thing, &other.when),
                });
                if fires == RowState::Fires {
                    break;
                }
            }
        }
        out.extend(self.failing(table, Some(row), &row.when, thing, depth));
        out
    }

    fn rank(
        &self,
        t: usize,
        table: &Table,
        rank: &Rank,
        spot: Spot,
        wanted: Bits,
    ) -> Vec<Obstacle> {
        let standing_of = rank
            .contestants
            .iter()
            .position(|c| c.standing == Some(spot.fact));
        let Some(own) =
            standing_of.or_else(|| rank.contestants.iter().position(|c| wanted.has(c.bit)))
        else {
            return vec![Obstacle::NoRow {
                table: table.id.clone(),
            }];
        };
        let mut out = self.ruled_out(table, spot.thing, own);
        let scored = self
            .trail
            .visit(t, spot.thing)
            .map_or(&[][..], |v| self.trail.scored(v));
        if standing_of.is_none()
            && let Some(mine) = scored.get(own)
            && !mine.out
        {
            for s in scored.iter().filter(|s| s.may_lead) {
                let other = usize::from(s.contestant);
                if other != own {
                    out.push(Obstacle::Outscored {
                        table: table.id.clone(),
                        by: rank.contestants[other].name.clone(),
                        its: s.score,
                        own: mine.score,
                    });
                }
            }
        }
        out
    }

    fn ruled_out(&self, table: &Table, thing: usize, contestant: usize) -> Vec<Obstacle> {
        table
            .rows
            .iter()
            .filter(|row| {
                matches!(&row.then, Then::Pushes { rules_out, .. } if rules_out.contains(&contestant))
            })
            .filter_map(|row| {
                let fires = state(self.board, self.pack, thing, &row.when);
                (fires != RowState::Silent).then(|| Obstacle::RuledOut {
                    table: table.id.clone(),
                    row: row.id.clone(),
                    because: row.because.clone(),
                    plain: row.plain.clone(),
                    safety: row.safety,
                    certain: fires == RowState::Fires,
                    reads: self.read(thing, &row.when),
                })
            })
            .collect()
    }
}

/// The smallest changes that bring a goal from `now` nearer to certain.
#[allow(clippy::too_many_arguments)]
fn ways(
    pack: &Pack,
    base: &Board,
    reach: &Reach,
    targets: &[Spot],
    goal: Goal,
    now: RowState,
    system: System,
    budget: usize,
) -> (Vec<Way>, bool) {
    let classes = Classes::new(pack, reach, targets);
    let changes: Vec<Vec<Change>> = reach
        .entries()
        .iter()
        .map(|&spot| {
            let domain = pack.cells[usize::from(spot.fact.0)].domain;
            classes
                .parts(spot.fact, domain)
                .into_iter()
                .filter(|part| !base.at(spot).within(*part))
                .map(|cells| Change { spot, cells })
                .collect()
        })
        .collect();
    let mut search = WaySearch {
        pack,
        base,
        reach,
        goal,
        now,
        system,
        scratch: base.clone(),
        trail: Trail::default(),
        memo: Memo::default(),
        undo: Undo::new(),
        runs: 0,
        ways: Vec::new(),
    };
    let mut all_tried = true;
    for (i, one) in changes.iter().enumerate() {
        for &change in one {
            search.try_out(&[(i, change)]);
        }
    }
    if search.ways.is_empty() {
        'pairs: for (i, first) in changes.iter().enumerate() {
            for (j, second) in changes.iter().enumerate().skip(i + 1) {
                for &a in first {
                    for &b in second {
                        if search.runs >= budget {
                            all_tried = false;
                            break 'pairs;
                        }
                        search.try_out(&[(i, a), (j, b)]);
                    }
                }
            }
        }
    }
    let mut ways = merged(pack, base, search.ways, system);
    // What a thing is can't be changed, only mistaken.
    let kind = pack.vocabulary.find("kind");
    let identity = |w: &Way| w.changes.iter().any(|c| Some(c.before.spot.fact) == kind);
    ways.sort_by_key(|w| (identity(w), !w.certain, !w.open, w.far));
    (ways, all_tried)
}

/// Changes of one fact to neighbouring stretches that do the same are one change.
fn merged(pack: &Pack, base: &Board, ways: Vec<Way>, system: System) -> Vec<Way> {
    let mut out: Vec<Way> = Vec::new();
    for way in ways {
        let same = out
            .iter_mut()
            .find(|w| match (&w.changes[..], &way.changes[..]) {
                ([a], [b]) => {
                    a.before.spot == b.before.spot && (w.certain, w.open) == (way.certain, way.open)
                }
                _ => false,
            });
        match same {
            Some(w) => {
                if let ([a], [b]) = (&mut w.changes[..], &way.changes[..]) {
                    let cells = a.after.cells.or(b.after.cells);
                    a.after = pack.possible_cells(base, a.before.spot, cells, system);
                }
                w.far = w.far.min(way.far);
            }
            None => out.push(way),
        }
    }
    out
}

struct WaySearch<'a> {
    pack: &'a Pack,
    base: &'a Board,
    reach: &'a Reach,
    goal: Goal,
    now: RowState,
    system: System,
    scratch: Board,
    trail: Trail,
    undo: Undo,
    memo: Memo,
    runs: usize,
    ways: Vec<Way>,
}

impl WaySearch<'_> {
    fn try_out(&mut self, changes: &[(usize, Change)]) {
        put_back(&mut self.scratch, &mut self.undo, 0);
        for (_, c) in changes {
            self.undo.push((c.spot, self.scratch.at(c.spot)));
            self.scratch.set_bits(c.spot.thing, c.spot.fact, c.cells);
        }
        let changed: Vec<Spot> = changes.iter().map(|(_, c)| c.spot).collect();
        self.reach.rerun(
            self.pack,
            &mut self.scratch,
            &mut self.trail,
            &changed,
            &mut self.undo,
            &mut self.memo,
        );
        self.runs += 1;
        let then = match self.goal {
            // A change that does not reach the ranking leaves it as it is.
            Goal::Candidate { table, thing, .. } if self.trail.visit(table, thing).is_none() => {
                self.now
            }
            goal => standing(goal, &self.scratch, &self.trail),
        };
        let better = match self.now {
            RowState::Silent => then != RowState::Silent,
            _ => then == RowState::Fires,
        };
        if better {
            let flips = changes
                .iter()
                .map(|(_, c)| Flip {
                    before: self.pack.possible(self.base, c.spot, self.system),
                    after: self
                        .pack
                        .possible_cells(self.base, c.spot, c.cells, self.system),
                })
                .collect();
            self.ways.push(Way {
                changes: flips,
                certain: then == RowState::Fires,
                open: changes
                    .iter()
                    .all(|(_, c)| self.base.at(c.spot).meets(c.cells)),
                far: changes
                    .iter()
                    .map(|(i, c)| i + distance(self.base.at(c.spot), c.cells))
                    .sum(),
            });
        }
    }
}

/// Steps between the nearest cells of two sets.
fn distance(a: Bits, b: Bits) -> usize {
    a.iter()
        .flat_map(|x| b.iter().map(move |y| x.abs_diff(y)))
        .min()
        .unwrap_or(0)
}
