//! What is known of every thing, as sets of cells.

use crate::facts::{Bits, FactId, FactKind, Scope, Thing, Value};

use super::model::{Pack, Spot};

/// What is known of every thing, as sets of cells.
#[derive(Debug, Clone, PartialEq)]
pub struct Board {
    things: Vec<Thing>,
    /// For each thing, the thing of each scope that holds it (itself included).
    holders: Vec<[u32; 8]>,
    facts: usize,
    cells: Vec<Bits>,
    /// Every cell of each fact.
    whole: Vec<Bits>,
}

const NOBODY: u32 = u32::MAX;

impl Board {
    /// A board on which nothing is known. `things` must list every outer thing before its inner
    /// ones; a thing whose outer is missing or of the wrong scope simply sees nothing outside.
    pub fn new(pack: &Pack, things: Vec<Thing>) -> Board {
        let facts = pack.vocabulary.len();
        let mut holders = Vec::with_capacity(things.len());
        for (i, thing) in things.iter().enumerate() {
            let mut row = thing
                .outer
                .and_then(|o| holders.get(o).copied())
                .unwrap_or([NOBODY; 8]);
            row[thing.scope as usize] = i as u32;
            holders.push(row);
        }
        let domains: Vec<Bits> = pack.cells.iter().map(|c| c.domain).collect();
        let mut cells = Vec::with_capacity(facts * things.len());
        for _ in &things {
            cells.extend_from_slice(&domains);
        }
        let whole = pack
            .vocabulary
            .facts()
            .zip(&pack.cells)
            .map(|((_, fact), cells)| match fact.kind {
                FactKind::Choice { .. } => fact.all_bits(),
                FactKind::Quantity(_) => Bits::first(cells.count()),
            })
            .collect();
        Board {
            things,
            holders,
            facts,
            cells,
            whole,
        }
    }

    /// The things, in order.
    pub fn things(&self) -> &[Thing] {
        &self.things
    }

    /// What a thing is called; empty when there is no such thing.
    pub fn label(&self, thing: usize) -> &str {
        self.things.get(thing).map_or("", |t| &t.label)
    }

    /// Makes every fact unknown again, keeping the memory.
    pub fn clear(&mut self, pack: &Pack) {
        for chunk in self.cells.chunks_mut(self.facts.max(1)) {
            for (slot, cells) in chunk.iter_mut().zip(&pack.cells) {
                *slot = cells.domain;
            }
        }
    }

    /// Sets what is known of a fact of a thing. A value no cell holds leaves it unknown.
    pub fn set(&mut self, pack: &Pack, thing: usize, fact: FactId, value: Value) {
        if let Some(cells) = pack.cells.get(usize::from(fact.0)) {
            self.set_bits(thing, fact, cells.of_value(value));
        }
    }

    /// Sets the cells of a fact of a thing; cells the fact does not have are left out, and an
    /// empty set is not taken.
    pub fn set_bits(&mut self, thing: usize, fact: FactId, bits: Bits) {
        let fact = usize::from(fact.0);
        let Some(whole) = self.whole.get(fact) else {
            return;
        };
        let bits = bits.and(*whole);
        if bits.is_empty() {
            return;
        }
        if let Some(slot) = self.cells.get_mut(thing * self.facts + fact) {
            *slot = bits;
        }
    }

    /// Makes a fact of a thing unknown again.
    pub fn forget(&mut self, pack: &Pack, thing: usize, fact: FactId) {
        if let Some(cells) = pack.cells.get(usize::from(fact.0)) {
            self.set_bits(thing, fact, cells.domain);
        }
    }

    /// Where a fact seen from a thing stands: on the thing itself or on one that holds it.
    pub fn spot(&self, pack: &Pack, thing: usize, fact: FactId) -> Option<Spot> {
        let thing = self.holder(thing, pack.vocabulary.fact(fact).scope)?;
        Some(Spot { thing, fact })
    }

    /// The cells of a fact as seen from a thing: its own, or that of the thing that holds it.
    pub fn get(&self, pack: &Pack, thing: usize, fact: FactId) -> Bits {
        match self.spot(pack, thing, fact) {
            Some(spot) => self.at(spot),
            None => pack
                .cells
                .get(usize::from(fact.0))
                .map_or(Bits::NONE, |c| c.domain),
        }
    }

    /// The cells of a fact of a thing; empty for a spot that is not on the board.
    pub fn at(&self, spot: Spot) -> Bits {
        self.cells
            .get(spot.thing * self.facts + usize::from(spot.fact.0))
            .copied()
            .unwrap_or(Bits::NONE)
    }

    /// The cells of every fact of a thing, in the order of the facts.
    pub(super) fn row(&self, thing: usize) -> &[Bits] {
        let from = thing * self.facts;
        self.cells.get(from..from + self.facts).unwrap_or_default()
    }

    /// The cells of a fact, by index, as seen from a thing; `None` where no thing holds it.
    #[inline]
    pub(super) fn seen(&self, thing: usize, fact: u16, scope: u8) -> Option<Bits> {
        let holder = *self.holders.get(thing)?.get(usize::from(scope))?;
        if holder == NOBODY {
            return None;
        }
        self.cells
            .get(holder as usize * self.facts + usize::from(fact))
            .copied()
    }

    /// The thing of a scope that holds a thing (itself included).
    pub fn holder(&self, thing: usize, scope: Scope) -> Option<usize> {
        let row = self.holders.get(thing)?;
        let holder = row[scope as usize];
        (holder != NOBODY).then_some(holder as usize)
    }

    /// Whether a thing lies in another of the given scope, or may do so.
    pub(super) fn may_lie_inside(&self, thing: usize, outer: usize, scope: Scope) -> bool {
        self.lies_inside(thing, outer, scope)
            || self
                .things
                .get(thing)
                .is_some_and(|t| t.may_lie_in.contains(&outer))
    }

    /// Whether a thing lies in another of the given scope for certain.
    pub(super) fn lies_inside(&self, thing: usize, outer: usize, scope: Scope) -> bool {
        self.holder(thing, scope) == Some(outer)
            || self
                .things
                .get(thing)
                .is_some_and(|t| t.lies_in.contains(&outer))
    }

    /// Things of a scope.
    pub fn of_scope(&self, scope: Scope) -> impl Iterator<Item = usize> + '_ {
        self.things
            .iter()
            .enumerate()
            .filter(move |(_, t)| t.scope == scope)
            .map(|(i, _)| i)
    }
}
