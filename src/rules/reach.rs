//! What a fact depends on: the work that leads to it and the facts from outside that it starts
//! from.

use std::collections::{BTreeSet, HashMap, HashSet};

use crate::facts::{Bits, Comes, FactId};

use super::board::Board;
use super::graph::made_by;
use super::model::{Pack, Spot, Work};
use super::run::{Memo, Trail, gather_from, visit};

/// The part of the graph that leads to some facts of some things.
#[derive(Debug, Clone, Default)]
pub struct Reach {
    /// Work and thing, in an order in which everything needed comes first.
    steps: Vec<(Work, usize)>,
    /// Facts from outside that the work reads, nearest to the targets first.
    entries: Vec<Spot>,
    /// For each fact the steps that read it.
    readers: HashMap<Spot, Vec<usize>>,
    /// What each step makes.
    makes: Vec<Vec<Spot>>,
    /// What each step reads, in order of first use.
    reads: Vec<Vec<Spot>>,
    /// For each step that gathers, which of what it reads lies inside for certain.
    certain: Vec<Vec<bool>>,
    /// The step that makes a fact.
    makers: HashMap<Spot, usize>,
}

/// What a fact was before it was overwritten.
pub(super) type Undo = Vec<(Spot, Bits)>;

impl Reach {
    /// What `targets` depend on.
    pub fn of(pack: &Pack, board: &Board, targets: &[Spot]) -> Reach {
        Reach::build(pack, board, targets.to_vec(), Vec::new())
    }

    /// What a table depends on when it is run for a thing, and the table itself.
    pub fn of_table(pack: &Pack, board: &Board, table: usize, thing: usize) -> Reach {
        let work = Work::Table(table);
        let queue = reads(pack, board, work, thing);
        Reach::build(pack, board, queue, vec![(work, thing)])
    }

    fn build(pack: &Pack, board: &Board, mut queue: Vec<Spot>, steps: Vec<(Work, usize)>) -> Reach {
        let mut reach = Reach {
            steps,
            ..Reach::default()
        };
        let mut seen: HashSet<Spot> = queue.iter().copied().collect();
        let mut done: HashSet<(Work, usize)> = reach.steps.iter().copied().collect();
        let mut at = 0;
        while let Some(&spot) = queue.get(at) {
            at += 1;
            let Some(work) = pack.maker(spot.fact) else {
                reach.entries.push(spot);
                continue;
            };
            if !done.insert((work, spot.thing)) {
                continue;
            }
            reach.steps.push((work, spot.thing));
            for read in reads(pack, board, work, spot.thing) {
                if seen.insert(read) {
                    queue.push(read);
                }
            }
        }
        let mut position = vec![0usize; pack.tables.len() + pack.vocabulary.len()];
        let slot = |work: Work| match work {
            Work::Table(t) => t,
            Work::Gather(fact) => pack.tables.len() + usize::from(fact.0),
        };
        for (i, &work) in pack.order.iter().enumerate() {
            position[slot(work)] = i;
        }
        reach
            .steps
            .sort_by_key(|&(work, thing)| (position[slot(work)], thing));
        for (i, &(work, thing)) in reach.steps.iter().enumerate() {
            let read = reads(pack, board, work, thing);
            for &spot in &read {
                reach.readers.entry(spot).or_default().push(i);
            }
            reach.certain.push(match work {
                Work::Gather(fact) => {
                    let outer = pack.vocabulary.fact(fact).scope;
                    let lies = |s: &Spot| board.lies_inside(s.thing, thing, outer);
                    read.iter().map(lies).collect()
                }
                Work::Table(_) => Vec::new(),
            });
            reach.reads.push(read);
            let made = makes(pack, work, thing);
            reach.makers.extend(made.iter().map(|&spot| (spot, i)));
            reach.makes.push(made);
        }
        reach
    }

    /// Work and thing, in the order in which it is done.
    pub fn steps(&self) -> &[(Work, usize)] {
        &self.steps
    }

    /// Facts from outside, nearest to the targets first.
    pub fn entries(&self) -> &[Spot] {
        &self.entries
    }

    /// The facts the work makes, in order.
    pub fn made(&self) -> impl Iterator<Item = Spot> + '_ {
        self.makes.iter().flatten().copied()
    }

    /// What a made fact is made from; `None` for a fact from outside.
    pub(super) fn made_from(&self, spot: Spot) -> Option<(Work, &[Spot])> {
        let step = *self.makers.get(&spot)?;
        Some((self.steps.get(step)?.0, self.reads.get(step)?))
    }

    /// Does the work of one step.
    fn step(
        &self,
        pack: &Pack,
        board: &mut Board,
        trail: &mut Trail,
        i: usize,
        memo: Option<&mut Memo>,
    ) {
        let (work, thing) = self.steps[i];
        match work {
            // What lies inside does not change from run to run, so it is not looked for again.
            Work::Gather(fact) => {
                let inside = self.reads[i].iter().zip(&self.certain[i]);
                let inside = inside.map(|(&spot, &certain)| (spot, certain));
                gather_from(pack, board, fact, thing, inside);
            }
            Work::Table(t) => visit(pack, board, trail, t, thing, memo),
        }
    }

    /// Does again, on a board on which all of it was done before, the work that a change of some
    /// facts from outside reaches. Notes what it overwrites.
    pub(super) fn rerun(
        &self,
        pack: &Pack,
        board: &mut Board,
        trail: &mut Trail,
        changed: &[Spot],
        undo: &mut Undo,
        memo: &mut Memo,
    ) {
        trail.clear();
        let mut due: BTreeSet<usize> = changed
            .iter()
            .filter_map(|spot| self.readers.get(spot))
            .flatten()
            .copied()
            .collect();
        while let Some(i) = due.pop_first() {
            let before = undo.len();
            undo.extend(self.makes[i].iter().map(|&spot| (spot, board.at(spot))));
            self.step(pack, board, trail, i, Some(memo));
            let mut kept = before;
            for k in before..undo.len() {
                let (spot, old) = undo[k];
                if board.at(spot) != old {
                    due.extend(self.readers.get(&spot).into_iter().flatten());
                    undo[kept] = (spot, old);
                    kept += 1;
                }
            }
            undo.truncate(kept);
        }
    }

    /// Does the work.
    pub fn run(&self, pack: &Pack, board: &mut Board, trail: &mut Trail) {
        trail.clear();
        for i in 0..self.steps.len() {
            self.step(pack, board, trail, i, None);
        }
    }
}

/// Puts back what was overwritten since `undo` had `from` entries.
pub(super) fn put_back(board: &mut Board, undo: &mut Undo, from: usize) {
    for (spot, old) in undo.drain(from..).rev() {
        board.set_bits(spot.thing, spot.fact, old);
    }
}

/// The facts a piece of work makes for a thing.
fn makes(pack: &Pack, work: Work, thing: usize) -> Vec<Spot> {
    match work {
        Work::Table(t) => made_by(&pack.tables[t])
            .into_iter()
            .map(|fact| Spot { thing, fact })
            .collect(),
        Work::Gather(fact) => vec![Spot { thing, fact }],
    }
}

/// The facts a piece of work reads for a thing, in order of first use.
pub(super) fn reads(pack: &Pack, board: &Board, work: Work, thing: usize) -> Vec<Spot> {
    match work {
        Work::Table(t) => pack.tables[t]
            .inputs
            .iter()
            .filter_map(|&fact| board.spot(pack, thing, fact))
            .collect(),
        Work::Gather(fact) => match gathered_from(pack, fact) {
            Some(from) => {
                let outer = pack.vocabulary.fact(fact).scope;
                board
                    .of_scope(pack.vocabulary.fact(from).scope)
                    .filter(|&t| board.may_lie_inside(t, thing, outer))
                    .map(|thing| Spot { thing, fact: from })
                    .collect()
            }
            None => Vec::new(),
        },
    }
}

fn gathered_from(pack: &Pack, fact: FactId) -> Option<FactId> {
    match &pack.vocabulary.fact(fact).comes {
        Comes::Gathered { from, .. } => pack.vocabulary.find(from),
        _ => None,
    }
}
