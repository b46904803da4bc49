//! What a fact depends on: the work that leads to it and the facts from outside that it starts
//! from.

use std::collections::HashSet;

use crate::facts::{Comes, FactId};

use super::board::Board;
use super::graph::made_by;
use super::model::{Pack, Spot, Work};
use super::run::{Trail, step};

/// The part of the graph that leads to some facts of some things.
#[derive(Debug, Clone, Default)]
pub struct Reach {
    /// Work and thing, in an order in which everything needed comes first.
    steps: Vec<(Work, usize)>,
    /// Facts from outside that the work reads, nearest to the targets first.
    entries: Vec<Spot>,
}

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
            entries: Vec::new(),
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
    pub fn made(&self, pack: &Pack) -> Vec<Spot> {
        let mut out = Vec::new();
        for &(work, thing) in &self.steps {
            match work {
                Work::Table(t) => out.extend(
                    made_by(&pack.tables[t])
                        .into_iter()
                        .map(|fact| Spot { thing, fact }),
                ),
                Work::Gather(fact) => out.push(Spot { thing, fact }),
            }
        }
        out
    }

    /// Does the work.
    pub fn run(&self, pack: &Pack, board: &mut Board, trail: &mut Trail) {
        trail.clear();
        for &(work, thing) in &self.steps {
            step(pack, board, trail, work, thing);
        }
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
