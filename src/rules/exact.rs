//! The exact set of outcomes of a made fact.
//!
//! Between tables only sets travel, so an unknown that reaches a table by two ways makes the bound
//! of [`super::run`] too wide. Here the unknowns are split into cells, one at a time, only those
//! that reach the target and still matter, and branches that can bring nothing new are cut off.

use std::collections::{HashMap, HashSet};

use crate::facts::{Bits, Comes, FactId};

use super::board::Board;
use super::model::{Body, Condition, Pack, Row, Spot, Table, Work};
use super::reach::{Reach, Undo, put_back};
use super::run::{Memo, Trail};

/// Runs that are enough for nearly every target of the built-in pack.
pub const BUDGET: usize = 4000;

/// The outcomes of a made fact that some values of the unknowns really give.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Exact {
    /// The outcomes.
    pub possible: Bits,
    /// Whether the set is exact. When the budget ran out it is only a bound: it holds every true
    /// outcome and perhaps some more.
    pub exact: bool,
    /// Runs of the part of the graph that leads to the target.
    pub runs: usize,
}

/// The exact set of outcomes of a fact of a thing, given what the board says of the facts from
/// outside. Gives up after `budget` runs and returns the bound known by then.
pub fn exact(pack: &Pack, board: &Board, target: Spot, budget: usize) -> Exact {
    let reach = Reach::of(pack, board, &[target]);
    exact_within(pack, board, &reach, target, budget, &mut Memo::default())
}

/// As [`exact`], with the reach of the target and rankings of earlier searches at hand.
pub fn exact_within(
    pack: &Pack,
    board: &Board,
    reach: &Reach,
    target: Spot,
    budget: usize,
    memo: &mut Memo,
) -> Exact {
    let classes = Classes::new(pack, reach, &[target]);
    let mut board = board.clone();
    reach.run(pack, &mut board, &mut Trail::default());
    let mut search = Search::on(pack, reach, &classes, target, &mut board, budget);
    search.split(memo);
    Exact {
        possible: search.found.or(search.beyond),
        exact: search.beyond.within(search.found),
        runs: search.runs,
    }
}

/// Finds out whether facts from outside can still change some target.
pub(super) struct Matters<'a> {
    pack: &'a Pack,
    /// The open targets, those with the least work behind them first.
    targets: Vec<Leading>,
    /// For each fact from outside the targets it leads to.
    leads: HashMap<Spot, Vec<usize>>,
    /// For each thing the first that nothing but its name tells it from.
    like: Vec<usize>,
    known: HashMap<Spot, bool>,
    /// Two boards with all work done, on which searches are made and undone.
    one: Board,
    other: Board,
}

/// A target and what leads to it.
struct Leading {
    target: Spot,
    reach: Reach,
    classes: Classes,
}

impl<'a> Matters<'a> {
    /// `done` is a board on which all work that leads to the targets is done.
    pub fn new(pack: &'a Pack, done: &Board, targets: &[Spot]) -> Matters<'a> {
        let mut open: Vec<Leading> = targets
            .iter()
            .filter(|&&target| !done.at(target).is_one())
            .map(|&target| {
                let reach = Reach::of(pack, done, &[target]);
                Leading {
                    target,
                    classes: Classes::new(pack, &reach, &[target]),
                    reach,
                }
            })
            .collect();
        open.sort_by_key(|l| l.reach.steps().len());
        let mut leads: HashMap<Spot, Vec<usize>> = HashMap::new();
        for (i, leading) in open.iter().enumerate() {
            for &entry in leading.reach.entries() {
                leads.entry(entry).or_default().push(i);
            }
        }
        Matters {
            pack,
            like: alike(done, targets),
            targets: open,
            leads,
            known: HashMap::new(),
            one: done.clone(),
            other: done.clone(),
        }
    }

    /// Whether some values of the other unknowns give another outcome of a target when `spot` is in
    /// one of `parts` than when it is in another. After `budget` runs for a target it is taken to
    /// matter.
    pub fn can_change(
        &mut self,
        spot: Spot,
        parts: &[Bits],
        budget: usize,
        memo: &mut Memo,
    ) -> bool {
        let Some(leads) = self.leads.get(&spot) else {
            return false;
        };
        // What holds for a thing holds for every other that is like it.
        let key = Spot {
            thing: self.like.get(spot.thing).copied().unwrap_or(spot.thing),
            fact: spot.fact,
        };
        if let Some(&known) = self.known.get(&key) {
            return known;
        }
        let matters = leads.iter().filter_map(|&i| self.targets.get(i)).any(|l| {
            l.can_change(
                self.pack,
                (&mut self.one, &mut self.other),
                spot,
                parts,
                budget,
                memo,
            )
        });
        self.known.insert(key, matters);
        matters
    }
}

impl Leading {
    fn can_change(
        &self,
        pack: &Pack,
        (one, other): (&mut Board, &mut Board),
        spot: Spot,
        parts: &[Bits],
        budget: usize,
        memo: &mut Memo,
    ) -> bool {
        // Enough to set each part against the first: where all agree with it, they agree.
        let Some((&first, rest)) = parts.split_first() else {
            return false;
        };
        let on = |board| Search::on(pack, &self.reach, &self.classes, self.target, board, budget);
        let (mut one, mut other) = (on(one), on(other));
        one.take(spot, first, memo);
        let differ = rest.iter().any(|&part| {
            other.take(spot, part, memo);
            let differ = one.differs_from(&mut other, memo);
            other.put_back(0);
            differ
        });
        one.put_back(0);
        differ
    }
}

/// For each thing the first that is like it: one that lies in the same things, of which the same is
/// known, and of which the same targets are asked. Exchanging two such things changes nothing.
/// Things in which others lie are like themselves alone.
fn alike(board: &Board, targets: &[Spot]) -> Vec<usize> {
    let things = board.things();
    let mut holds: HashSet<usize> = HashSet::new();
    for thing in things {
        holds.extend(thing.outer);
        holds.extend(thing.lies_in.iter().chain(&thing.may_lie_in));
    }
    let mut asked: HashMap<usize, Vec<FactId>> = HashMap::new();
    for target in targets {
        asked.entry(target.thing).or_default().push(target.fact);
    }
    asked.values_mut().for_each(|facts| facts.sort_unstable());
    let mut first = HashMap::new();
    things
        .iter()
        .enumerate()
        .map(|(i, thing)| {
            if holds.contains(&i) {
                return i;
            }
            let key = (
                (thing.scope, thing.outer, &thing.lies_in, &thing.may_lie_in),
                board.row(i),
                asked.get(&i),
            );
            *first.entry(key).or_insert(i)
        })
        .collect()
}

struct Search<'a> {
    pack: &'a Pack,
    reach: &'a Reach,
    target: Spot,
    classes: &'a Classes,
    board: &'a mut Board,
    trail: Trail,
    undo: Undo,
    /// Outcomes that some values give for certain.
    found: Bits,
    /// Outcomes of branches that were not looked into.
    beyond: Bits,
    runs: usize,
    budget: usize,
}

impl<'a> Search<'a> {
    /// A search on a board on which all work has been done.
    fn on(
        pack: &'a Pack,
        reach: &'a Reach,
        classes: &'a Classes,
        target: Spot,
        board: &'a mut Board,
        budget: usize,
    ) -> Search<'a> {
        Search {
            pack,
            reach,
            target,
            classes,
            board,
            trail: Trail::default(),
            undo: Undo::new(),
            found: Bits::NONE,
            beyond: Bits::NONE,
            runs: 0,
            budget,
        }
    }

    fn put_back(&mut self, from: usize) {
        put_back(self.board, &mut self.undo, from);
    }

    /// Splits what the board says, on which all work has been done.
    fn split(&mut self, memo: &mut Memo) {
        self.runs += 1;
        let possible = self.board.at(self.target);
        if possible.within(self.found) {
            return;
        }
        let next = (!possible.is_one())
            .then(|| self.deciding(self.target, &mut HashSet::new()))
            .flatten();
        let Some(spot) = next else {
            self.found = self.found.or(possible);
            return;
        };
        if self.runs >= self.budget {
            self.beyond = self.beyond.or(possible);
            return;
        }
        let whole = self.board.at(spot);
        for part in self.classes.parts(spot.fact, whole) {
            let from = self.undo.len();
            self.take(spot, part, memo);
            self.split(memo);
            self.put_back(from);
        }
    }

    /// Whether some values of the unknowns tell the target of this search from that of another, whose
    /// board differs in one fact only.
    fn differs_from(&mut self, other: &mut Search<'_>, memo: &mut Memo) -> bool {
        self.runs += 1;
        let (mine, theirs) = (self.board.at(self.target), other.board.at(other.target));
        if mine.is_one() && mine == theirs {
            return false;
        }
        if !mine.meets(theirs) || self.runs > self.budget {
            return true;
        }
        let next = self
            .deciding(self.target, &mut HashSet::new())
            .or_else(|| other.deciding(other.target, &mut HashSet::new()));
        let Some(spot) = next else {
            return mine != theirs;
        };
        let whole = self.board.at(spot);
        for part in self.classes.parts(spot.fact, whole) {
            let from = (self.undo.len(), other.undo.len());
            self.take(spot, part, memo);
            other.take(spot, part, memo);
            let differ = self.differs_from(other, memo);
            self.put_back(from.0);
            other.put_back(from.1);
            if differ {
                return true;
            }
        }
        false
    }

    /// Takes a fact from outside to be in `part`, and does again what that reaches.
    fn take(&mut self, spot: Spot, part: Bits, memo: &mut Memo) {
        self.undo.push((spot, self.board.at(spot)));
        self.board.set_bits(spot.thing, spot.fact, part);
        self.reach.rerun(
            self.pack,
            self.board,
            &mut self.trail,
            &[spot],
            &mut self.undo,
            memo,
        );
    }

    /// The open fact from outside that decides most directly what becomes of `spot`: the first
    /// open condition of the first undecided row, followed back through the tables.
    fn deciding(&self, spot: Spot, seen: &mut HashSet<Spot>) -> Option<Spot> {
        if !seen.insert(spot) {
            return None;
        }
        let open = |s: &Spot| !self.board.at(*s).is_one();
        match self.reach.made_from(spot) {
            None => {
                let whole = self.board.at(spot);
                (self.classes.parts(spot.fact, whole).len() > 1).then_some(spot)
            }
            Some((Work::Gather(_), reads)) => reads
                .iter()
                .copied()
                .filter(open)
                .find_map(|s| self.deciding(s, seen)),
            Some((Work::Table(t), reads)) => {
                let table = &self.pack.tables[t];
                let undecided = self.undecided(table, spot.thing);
                let conditions = table
                    .applies
                    .iter()
                    .chain(undecided.iter().flat_map(|r| &r.when));
                let by_row: Vec<Spot> = conditions
                    .filter_map(|c| self.board.spot(self.pack, spot.thing, c.fact))
                    .collect();
                by_row
                    .into_iter()
                    .chain(reads.iter().copied())
                    .filter(open)
                    .find_map(|s| self.deciding(s, seen))
            }
        }
    }
}

impl Search<'_> {
    /// Rows that may fire and need not, as far as they can matter.
    fn undecided<'t>(&self, table: &'t Table, thing: usize) -> Vec<&'t Row> {
        let mut out = Vec::new();
        for row in &table.rows {
            let sees = |c: &Condition| (self.board.get(self.pack, thing, c.fact), c.mask);
            if row
                .when
                .iter()
                .map(sees)
                .any(|(cells, mask)| !cells.meets(mask))
            {
                continue;
            }
            if !row
                .when
                .iter()
                .map(sees)
                .all(|(cells, mask)| cells.within(mask))
            {
                out.push(row);
            } else if matches!(table.body, Body::Grade { .. }) {
                break;
            }
        }
        out
    }
}

/// Cells of facts that no row in reach tells apart, so that it is enough to try one of them.
#[derive(Debug, Clone, Default)]
pub(super) struct Classes {
    by_fact: HashMap<FactId, Telling>,
}

#[derive(Debug, Clone, Default)]
struct Telling {
    masks: Vec<Bits>,
    /// Whether the order of the cells matters, since the fact is gathered.
    ordered: bool,
    /// Whether every cell counts, since the fact itself is asked for.
    every: bool,
}

impl Classes {
    pub fn new(pack: &Pack, reach: &Reach, targets: &[Spot]) -> Classes {
        let mut by_fact: HashMap<FactId, Telling> = HashMap::new();
        for target in targets {
            by_fact.entry(target.fact).or_default().every = true;
        }
        let mut tables: Vec<usize> = Vec::new();
        let mut gathers: Vec<FactId> = Vec::new();
        for &(work, _) in reach.steps() {
            match work {
                Work::Table(t) if !tables.contains(&t) => tables.push(t),
                Work::Gather(fact) if !gathers.contains(&fact) => gathers.push(fact),
                _ => {}
            }
        }
        for t in tables {
            let table = &pack.tables[t];
            let priors = match &table.body {
                Body::Rank(rank) => &rank.priors[..],
                _ => &[],
            };
            let conditions = table
                .applies
                .iter()
                .chain(table.rows.iter().flat_map(|r| &r.when))
                .chain(priors.iter().flat_map(|p| &p.when));
            for c in conditions {
                let telling = by_fact.entry(c.fact).or_default();
                if !telling.masks.contains(&c.mask) {
                    telling.masks.push(c.mask);
                }
            }
        }
        // Work is done inner things first, so walking it backward hands masks inward.
        for outer in gathers.into_iter().rev() {
            let Comes::Gathered { from, .. } = &pack.vocabulary.fact(outer).comes else {
                continue;
            };
            let Some(from) = pack.vocabulary.find(from) else {
                continue;
            };
            let told = by_fact.get(&outer).cloned().unwrap_or_default();
            let telling = by_fact.entry(from).or_default();
            telling.ordered = true;
            telling.every |= told.every;
            telling.masks.extend(told.masks);
        }
        Classes { by_fact }
    }

    /// The parts of `cells` that some row may tell apart.
    pub fn parts(&self, fact: FactId, cells: Bits) -> Vec<Bits> {
        let Some(telling) = self.by_fact.get(&fact) else {
            return vec![cells];
        };
        if telling.every {
            return cells.iter().map(Bits::one).collect();
        }
        let told =
            |cell: usize| -> Vec<bool> { telling.masks.iter().map(|m| m.has(cell)).collect() };
        let mut parts: Vec<(Vec<bool>, Bits)> = Vec::new();
        let mut before: Option<usize> = None;
        for cell in cells.iter() {
            let mine = told(cell);
            // Of several things the greatest counts, so a part must not skip over a cell that is
            // told apart from it: another thing may have that one.
            let together = !telling.ordered
                || before.is_some_and(|b| (b..cell).all(|between| told(between) == mine));
            before = Some(cell);
            let from = if telling.ordered {
                parts.len().saturating_sub(1)
            } else {
                0
            };
            match parts[from..].iter_mut().find(|(t, _)| *t == mine) {
                Some((_, part)) if together => *part = part.or(Bits::one(cell)),
                _ => parts.push((mine, Bits::one(cell))),
            }
        }
        parts.into_iter().map(|(_, part)| part).collect()
    }
}
