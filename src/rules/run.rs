//! Running a pack over what is known: sets of cells in, sets of outcomes out, with the trail.
//!
//! A table sees its inputs as a box: one set of cells an input. Tables with hit policy `first` cut
//! the box by the rows in turn, so within a table the answer is exact: an outcome is reported if
//! and only if some value of the unknowns gives it. Between tables only the set of outcomes
//! travels, so two tables that read one unknown may look freer together than they are: the answer
//! of the graph is always sound (holds every true possibility), and exact wherever no unknown
//! reaches a table by two ways. [`super::exact`] closes that gap.
//!
//! Exactness inside a table ends, soundly, where a box falls into more than [`BOX_LIMIT`] pieces
//! or a ranking has more combinations than [`super::rank`] tries.

use std::collections::{BTreeMap, HashMap};
use std::sync::OnceLock;

use crate::facts::{Bits, Comes, FactId, Gather, Interval};

use super::board::Board;
use super::graph::made_by;
use super::index::set_bits;
use super::model::{Body, Pack, Rank, Spot, Table, Work};
use super::rank::{self, RankScratch};

/// Boxes that one table may be cut into before the rest is taken as "may fire".
const BOX_LIMIT: usize = 512;

/// A row that fired or may fire.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Fired {
    /// Row, by index in its table.
    pub row: u16,
    /// Whether it fires whatever the unknowns turn out to be.
    pub certain: bool,
}

/// One run of one table for one thing.
#[derive(Debug, Clone, Copy)]
pub struct Visit {
    /// Table, by index.
    pub table: u32,
    /// Thing, by index.
    pub thing: u32,
    /// Outcomes still possible: classes, or contestants that may lead.
    pub out: Bits,
    /// Whether the table certainly applied; when not, it may not have.
    pub applied: bool,
    fired: (u32, u32),
    scored: (u32, u32),
}

/// A contestant's standing in a ranking.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Scored {
    /// Contestant, by index.
    pub contestant: u16,
    /// Sum of pushes. Minus infinity at the low end when it may be ruled out.
    pub score: Interval,
    /// Push before any sign.
    pub prior: Interval,
    /// `unlikely`, `possible`, `likely` as bits 0, 1, 2: those the score may fall in.
    pub standing: Bits,
    /// Whether it is ruled out for certain.
    pub out: bool,
    /// Whether it can come first.
    pub may_lead: bool,
}

/// The trail of a run. Reused from run to run without new memory once it has grown.
#[derive(Debug, Clone, Default)]
pub struct Trail {
    visits: Vec<Visit>,
    /// Where the visit of a table for a thing stands, once it is asked for.
    places: OnceLock<HashMap<(u32, u32), usize>>,
    fired: Vec<Fired>,
    scored: Vec<Scored>,
    inputs: Vec<Bits>,
    scratch: Scratch,
    ranking: RankScratch,
}

#[derive(Debug, Clone, Default)]
struct Scratch {
    boxes: Vec<Bits>,
    next: Vec<Bits>,
    may: Vec<u64>,
    must: Vec<u64>,
}

impl Trail {
    /// Forgets the last run, keeping the memory.
    pub(super) fn clear(&mut self) {
        self.visits.clear();
        self.places.take();
        self.fired.clear();
        self.scored.clear();
    }

    /// Runs of tables, in the order they ran.
    pub fn visits(&self) -> &[Visit] {
        &self.visits
    }

    /// Rows that fired or may fire in a visit.
    pub fn fired(&self, visit: &Visit) -> &[Fired] {
        self.fired
            .get(visit.fired.0 as usize..visit.fired.1 as usize)
            .unwrap_or_default()
    }

    /// Standings of a visit to a ranking.
    pub fn scored(&self, visit: &Visit) -> &[Scored] {
        self.scored
            .get(visit.scored.0 as usize..visit.scored.1 as usize)
            .unwrap_or_default()
    }

    /// The visit of a table for a thing.
    pub fn visit(&self, table: usize, thing: usize) -> Option<&Visit> {
        let places = self.places.get_or_init(|| {
            let visits = self.visits.iter().zip(0..);
            visits.map(|(v, at)| ((v.table, v.thing), at)).collect()
        });
        let key = (u32::try_from(table).ok()?, u32::try_from(thing).ok()?);
        self.visits.get(*places.get(&key)?)
    }
}

/// Runs every table and gathering of a pack in order, writing made facts on the board. What an
/// earlier run wrote there is written anew.
pub fn run(pack: &Pack, board: &mut Board, trail: &mut Trail) {
    run_some(pack, board, trail, |_| true);
}

/// Runs the tables named, in the pack's order, on a board that holds what they need.
pub fn run_some(pack: &Pack, board: &mut Board, trail: &mut Trail, wanted: impl Fn(&Work) -> bool) {
    trail.clear();
    for &work in pack.order.iter().filter(|w| wanted(w)) {
        let scope = match work {
            Work::Gather(fact) => pack.vocabulary.fact(fact).scope,
            Work::Table(t) => pack.tables[t].scope,
        };
        for thing in 0..board.things().len() {
            if board.things()[thing].scope == scope {
                step(pack, board, trail, work, thing);
            }
        }
    }
}

/// Runs the whole pack with some made facts held to the values in `pins`, which is how a decision
/// taken outside the tables (the exact set of a verdict, the candidate chosen) reaches the tables
/// that read it. A pin that leaves nothing of what a table gives is not taken.
pub fn run_pinned(pack: &Pack, board: &mut Board, trail: &mut Trail, pins: &BTreeMap<Spot, Bits>) {
    trail.clear();
    for &work in &pack.order {
        let (scope, made) = match work {
            Work::Gather(fact) => (pack.vocabulary.fact(fact).scope, vec![fact]),
            Work::Table(t) => (pack.tables[t].scope, made_by(&pack.tables[t])),
        };
        for thing in 0..board.things().len() {
            if board.things()[thing].scope != scope {
                continue;
            }
            step(pack, board, trail, work, thing);
            for &fact in &made {
                let spot = Spot { thing, fact };
                if let Some(pin) = pins.get(&spot) {
                    board.set_bits(thing, fact, board.at(spot).and(*pin));
                }
            }
        }
    }
}

/// Does one piece of work for one thing.
fn step(pack: &Pack, board: &mut Board, trail: &mut Trail, work: Work, thing: usize) {
    match work {
        Work::Gather(fact) => gather(pack, board, fact, thing),
        Work::Table(t) => visit(pack, board, trail, t, thing, None),
    }
}

/// Rankings by what they were given. A search runs the same tables over and over with inputs it has
/// had before, and ranking is the most of its work.
#[derive(Debug, Clone, Default)]
pub struct Memo {
    tables: HashMap<usize, HashMap<Vec<Bits>, Ranked>>,
    kept: usize,
}

#[derive(Debug, Clone)]
struct Ranked {
    lead: Bits,
    scored: Vec<Scored>,
}

/// Rankings kept before all are forgotten: some 20 MB.
const MEMO_LIMIT: usize = 20_000;

impl Memo {
    fn get(&self, table: usize, inputs: &[Bits]) -> Option<&Ranked> {
        self.tables.get(&table)?.get(inputs)
    }

    fn keep(&mut self, table: usize, inputs: &[Bits], ranked: Ranked) {
        if self.kept >= MEMO_LIMIT {
            self.tables.clear();
            self.kept = 0;
        }
        self.kept += 1;
        let of_table = self.tables.entry(table).or_default();
        of_table.insert(inputs.to_vec(), ranked);
    }
}

/// What is possible for a set of conditions over a box.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Holds {
    Never,
    Maybe,
    Always,
}

pub(super) fn holds(conditions: &[(u16, Bits)], inputs: &[Bits]) -> Holds {
    let mut result = Holds::Always;
    for &(input, mask) in conditions {
        let cells = inputs[usize::from(input)];
        if !cells.meets(mask) {
            return Holds::Never;
        }
        if !cells.within(mask) {
            result = Holds::Maybe;
        }
    }
    result
}

/// Runs a table for a thing. With a memo, a ranking it has had before is taken from there.
pub(super) fn visit(
    pack: &Pack,
    board: &mut Board,
    trail: &mut Trail,
    t: usize,
    thing: usize,
    memo: Option<&mut Memo>,
) {
    let table = &pack.tables[t];
    let mut inputs = std::mem::take(&mut trail.inputs);
    inputs.clear();
    inputs.extend(table.index.inputs.iter().map(|i| {
        board
            .seen(thing, i.fact, i.scope)
            .unwrap_or_else(|| pack.cells[usize::from(i.fact)].domain)
    }));
    let fired_from = trail.fired.len() as u32;
    let scored_from = trail.scored.len() as u32;
    let applies = holds(&table.flat_applies, &inputs);
    let mut out = Bits::NONE;
    if applies != Holds::Never {
        // The rows are only asked about things the table applies to.
        for &(input, mask) in &table.flat_applies {
            let slot = &mut inputs[usize::from(input)];
            *slot = slot.and(mask);
        }
        match &table.body {
            Body::Grade { gives, .. } => {
                let unsaid = pack.cells[usize::from(gives.0)].domain;
                out = grade(table, &inputs, unsaid, trail);
            }
            Body::Collect => collect(table, &inputs, trail),
            Body::Rank(rank) => {
                collect(table, &inputs, trail);
                // With everyone ruled out and no value for that, nothing is said.
                let nobody = match (rank.none, rank.gives) {
                    (Some(none), _) => Bits::one(none),
                    (None, Some(gives)) => pack.cells[usize::from(gives.0)].domain,
                    (None, None) => Bits::NONE,
                };
                out = match memo.as_ref().and_then(|m| m.get(t, &inputs)) {
                    Some(known) => {
                        trail.scored.extend_from_slice(&known.scored);
                        known.lead
                    }
                    None => {
                        let lead = rank::rank(
                            table,
                            rank,
                            &inputs,
                            nobody,
                            &mut trail.ranking,
                            &mut trail.scored,
                        );
                        if let Some(memo) = memo {
                            let scored = trail.scored[scored_from as usize..].to_vec();
                            memo.keep(t, &inputs, Ranked { lead, scored });
                        }
                        lead
                    }
                };
            }
        }
        if applies == Holds::Maybe {
            for fired in &mut trail.fired[fired_from as usize..] {
                fired.certain = false;
            }
        }
    }
    match &table.body {
        Body::Grade {
            gives, otherwise, ..
        } => {
            if applies != Holds::Always {
                // Nothing is said of a thing the table does not apply to.
                let domain = pack.cells[usize::from(gives.0)].domain;
                out = out.or(otherwise.unwrap_or(domain));
            }
            say(pack, board, thing, *gives, out);
        }
        Body::Collect => {}
        Body::Rank(rank) => {
            if let Some(gives) = rank.gives {
                let said = if applies == Holds::Always {
                    out
                } else {
                    Bits::NONE
                };
                say(pack, board, thing, gives, said);
            }
            standings(board, trail, rank, thing, applies, scored_from);
        }
    }
    trail.places.take();
    trail.visits.push(Visit {
        table: t as u32,
        thing: thing as u32,
        out,
        applied: applies == Holds::Always,
        fired: (fired_from, trail.fired.len() as u32),
        scored: (scored_from, trail.scored.len() as u32),
    });
    trail.inputs = inputs;
}

/// Writes what a table says of a fact; nothing said leaves it unknown.
fn say(pack: &Pack, board: &mut Board, thing: usize, fact: FactId, said: Bits) {
    if said.is_empty() {
        board.forget(pack, thing, fact);
    } else {
        board.set_bits(thing, fact, said);
    }
}

fn standings(
    board: &mut Board,
    trail: &Trail,
    rank: &Rank,
    thing: usize,
    applies: Holds,
    from: u32,
) {
    let scored = &trail.scored[from as usize..];
    for (i, contestant) in rank.contestants.iter().enumerate() {
        let Some(fact) = contestant.standing else {
            continue;
        };
        let unlikely = Bits::one(0);
        let bits = match (applies, scored.get(i)) {
            (Holds::Never, _) | (_, None) => unlikely,
            (Holds::Maybe, Some(s)) => s.standing.or(unlikely),
            (Holds::Always, Some(s)) => s.standing,
        };
        board.set_bits(thing, fact, bits);
    }
}

/// `unlikely`, `possible`, `likely` as bits 0, 1, 2, for every score in a range.
pub fn standing_of(rank: &Rank, score: Interval) -> Bits {
    let class = |x: f64| {
        if x >= rank.likely {
            2
        } else {
            usize::from(x >= rank.possible)
        }
    };
    Bits::first(class(score.hi) + 1).less(Bits::first(class(score.lo)))
}

/// A class by the first row that fires (in a unique table no two rows fire together, so the order
/// does not matter). Where some input is covered by no row, nothing is said of it: that adds
/// `unsaid`. A proven pack has such inputs only beyond the plausible ranges.
fn grade(table: &Table, inputs: &[Bits], unsaid: Bits, trail: &mut Trail) -> Bits {
    let scratch = &mut trail.scratch;
    let first = match table.index.few_rows(inputs) {
        Some((may, must)) => {
            scratch.may.clear();
            scratch.must.clear();
            scratch.may.push(may);
            scratch.must.push(must);
            (may != 0).then(|| may.trailing_zeros() as usize)
        }
        None => {
            table
                .index
                .rows(inputs, &mut scratch.may, &mut scratch.must);
            set_bits(&scratch.may).next()
        }
    };
    let Some(first) = first else {
        return unsaid;
    };
    let must = |row: usize| scratch.must[row / 64] >> (row % 64) & 1 == 1;
    if must(first) {
        trail.fired.push(Fired {
            row: first as u16,
            certain: true,
        });
        return table.class_of(first);
    }
    let mut out = Bits::NONE;
    let n = inputs.len();
    let (boxes, next) = (&mut scratch.boxes, &mut scratch.next);
    boxes.clear();
    boxes.extend_from_slice(inputs);
    for row in set_bits(&scratch.may) {
        let conditions = table.conditions(row);
        next.clear();
        let mut hit = false;
        for region in boxes.chunks_exact(n) {
            match holds(conditions, region) {
                Holds::Never => next.extend_from_slice(region),
                Holds::Always => hit = true,
                Holds::Maybe => {
                    hit = true;
                    if next.len() < BOX_LIMIT * n {
                        subtract(region, conditions, next);
                    } else {
                        // Too many pieces: keep the whole region, which is sound.
                        next.extend_from_slice(region);
                    }
                }
            }
        }
        if hit {
            out = out.or(table.class_of(row));
            trail.fired.push(Fired {
                row: row as u16,
                certain: false,
            });
        }
        std::mem::swap(boxes, next);
        if boxes.is_empty() {
            return out;
        }
    }
    out.or(unsaid)
}

/// Appends the parts of `region` where some condition fails, as disjoint boxes.
pub(super) fn subtract(region: &[Bits], conditions: &[(u16, Bits)], into: &mut Vec<Bits>) {
    let start = into.len();
    // `inside` is the part of the region that has met all conditions so far; it is built in place
    // at the end of `into` and dropped again.
    into.extend_from_slice(region);
    let n = region.len();
    let mut inside = start;
    for &(input, mask) in conditions {
        let input = usize::from(input);
        let cells = into[inside + input];
        let outside = cells.less(mask);
        if !outside.is_empty() {
            into.extend_from_within(inside..inside + n);
            let copy = into.len() - n;
            into[inside + input] = outside;
            into[copy + input] = cells.and(mask);
            inside = copy;
        }
    }
    into.truncate(inside);
}

/// Lists every row that fires or may.
fn collect(table: &Table, inputs: &[Bits], trail: &mut Trail) {
    let scratch = &mut trail.scratch;
    table
        .index
        .rows(inputs, &mut scratch.may, &mut scratch.must);
    for row in set_bits(&scratch.may) {
        trail.fired.push(Fired {
            row: row as u16,
            certain: scratch.must[row / 64] >> (row % 64) & 1 == 1,
        });
    }
}

/// Gathers a fact of an outer thing from the things inside it.
fn gather(pack: &Pack, board: &mut Board, fact: FactId, thing: usize) {
    let outer = pack.vocabulary.fact(fact);
    let Comes::Gathered { from, by } = &outer.comes else {
        return;
    };
    // Sums need numbers, not cells: the survey works them out.
    if *by == Gather::Sum {
        return;
    }
    let Some(from) = pack.vocabulary.find(from) else {
        return;
    };
    let inner_scope = pack.vocabulary.fact(from).scope;
    let inside = |t: usize| {
        board.may_lie_inside(t, thing, outer.scope).then(|| {
            (
                board.get(pack, t, from),
                board.lies_inside(t, thing, outer.scope),
            )
        })
    };
    let found = greatest(
        board.of_scope(inner_scope).filter_map(inside),
        nothing_inside(pack, fact),
    );
    say(pack, board, thing, fact, found.unwrap_or(Bits::NONE));
}

/// As [`gather`], with what lies inside at hand, each for certain or only perhaps.
pub(super) fn gather_from(
    pack: &Pack,
    board: &mut Board,
    fact: FactId,
    thing: usize,
    inside: impl Iterator<Item = (Spot, bool)>,
) {
    if matches!(&pack.vocabulary.fact(fact).comes, Comes::Gathered { by, .. } if *by != Gather::Sum)
    {
        let sets = inside.map(|(spot, certain)| (board.at(spot), certain));
        let found = greatest(sets, nothing_inside(pack, fact));
        say(pack, board, thing, fact, found.unwrap_or(Bits::NONE));
    }
}

/// What a gathered fact is when there is nothing to gather.
fn nothing_inside(pack: &Pack, fact: FactId) -> Option<Bits> {
    let none = pack.vocabulary.fact(fact).none?;
    let cells = pack.cells.get(usize::from(fact.0))?;
    Some(cells.of_value(none)).filter(|bits| !bits.is_empty())
}

/// Every possible greatest of several sets, each inside for certain or only perhaps: at least the
/// greatest of the least of those that are certain. Where nothing is inside for certain it may also
/// be `none`; where that says nothing, nothing is said.
fn greatest(sets: impl Iterator<Item = (Bits, bool)>, none: Option<Bits>) -> Option<Bits> {
    let (mut all, mut least) = (Bits::NONE, None);
    for (set, certain) in sets {
        all = all.or(set);
        if certain {
            least = least.max(Some(set.lowest().unwrap_or(0)));
        }
    }
    match least {
        Some(least) => Some(all.less(Bits::first(least))).filter(|bits| !bits.is_empty()),
        None => none.map(|none| all.or(none)),
    }
}

impl Table {
    /// Conditions of a row: input and mask.
    pub(super) fn conditions(&self, row: usize) -> &[(u16, Bits)] {
        let range = self.starts[row] as usize..self.starts[row + 1] as usize;
        &self.flat[range]
    }

    /// The class a row of a grade table gives.
    fn class_of(&self, row: usize) -> Bits {
        self.classes
            .get(row)
            .map_or(Bits::NONE, |&c| Bits::one(usize::from(c)))
    }

    /// Whether a row is out of reach, may fire, or fires, over a box of inputs. For explanations.
    pub fn row_state(&self, row: usize, inputs: &[Bits]) -> Option<bool> {
        match holds(self.conditions(row), inputs) {
            Holds::Never => None,
            Holds::Maybe => Some(false),
            Holds::Always => Some(true),
        }
    }
}
