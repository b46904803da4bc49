//! Running a pack over what is known: sets of cells in, sets of outcomes out, with the trail.
//!
//! A table sees its inputs as a box: one set of cells an input. `First` and `Unique` tables cut the
//! box by the rows in turn, so within a table the answer is exact: an outcome is reported if and
//! only if some value of the unknowns gives it. Between tables only the set of outcomes travels, so
//! two tables that read one unknown may look freer together than they are: the answer of the graph
//! is always sound (holds every true possibility), and exact wherever no unknown reaches a table by
//! two ways.

use crate::facts::{Bits, Comes, FactId, Gather, Interval, Scope, Thing, Value};

use super::model::{Body, Group, Pack, Rank, Spot, Table, Then, Work};

/// Push that stands for "ruled out" in sums; far beyond any sum of real pushes.
const OUT: f64 = -1.0e6;
/// Cell combinations of one group that are tried one by one before bounds are used instead.
const GROUP_LIMIT: usize = 4096;
/// Cell combinations of a whole table that are tried one by one before bounds are used instead.
const TABLE_LIMIT: usize = 512;
/// Boxes that one table may be cut into before the rest is taken as "may fire".
const BOX_LIMIT: usize = 512;

/// What is known of every thing, as sets of cells.
#[derive(Debug, Clone)]
pub struct Board {
    things: Vec<Thing>,
    /// For each thing, the thing of each scope that holds it (itself included).
    holders: Vec<[u32; 8]>,
    facts: usize,
    cells: Vec<Bits>,
}

const NOBODY: u32 = u32::MAX;

fn scope_index(scope: Scope) -> usize {
    scope as usize
}

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
            row[scope_index(thing.scope)] = i as u32;
            holders.push(row);
        }
        let domains: Vec<Bits> = pack.cells.iter().map(|c| c.domain).collect();
        let mut cells = Vec::with_capacity(facts * things.len());
        for _ in &things {
            cells.extend_from_slice(&domains);
        }
        Board {
            things,
            holders,
            facts,
            cells,
        }
    }

    /// What a thing is called; empty when there is no such thing.
    pub fn label(&self, thing: usize) -> &str {
        self.things.get(thing).map_or("", |t| &t.label)
    }

    /// The things, in order.
    pub fn things(&self) -> &[Thing] {
        &self.things
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

    /// Sets the cells of a fact of a thing; an empty set is not taken.
    pub fn set_bits(&mut self, thing: usize, fact: FactId, bits: Bits) {
        if bits.is_empty() {
            return;
        }
        if let Some(slot) = self.cells.get_mut(thing * self.facts + usize::from(fact.0)) {
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
        let scope = pack.vocabulary.fact(fact).scope;
        let domain = || {
            pack.cells
                .get(usize::from(fact.0))
                .map_or(Bits::NONE, |c| c.domain)
        };
        match self.holder(thing, scope) {
            Some(holder) => self
                .cells
                .get(holder * self.facts + usize::from(fact.0))
                .copied()
                .unwrap_or_else(domain),
            None => domain(),
        }
    }

    /// The cells of a fact of a thing; empty for a spot that is not on the board.
    pub fn at(&self, spot: Spot) -> Bits {
        self.cells
            .get(spot.thing * self.facts + usize::from(spot.fact.0))
            .copied()
            .unwrap_or(Bits::NONE)
    }

    /// The thing of a scope that holds a thing (itself included).
    pub fn holder(&self, thing: usize, scope: Scope) -> Option<usize> {
        let row = self.holders.get(thing)?;
        let holder = row[scope_index(scope)];
        (holder != NOBODY).then_some(holder as usize)
    }

    /// Whether a thing lies in another of the given scope.
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
    /// Whether it is ruled out for certain.
    pub out: bool,
    /// Whether it can come first.
    pub may_lead: bool,
}

/// The trail of a run. Reused from run to run without new memory once it has grown.
#[derive(Debug, Clone, Default)]
pub struct Trail {
    visits: Vec<Visit>,
    fired: Vec<Fired>,
    scored: Vec<Scored>,
    scratch: Scratch,
}

#[derive(Debug, Clone, Default)]
struct Scratch {
    inputs: Vec<Bits>,
    boxes: Vec<Bits>,
    next: Vec<Bits>,
    totals: Vec<f64>,
    diff: Vec<f64>,
    best: Vec<f64>,
    lowest: Vec<f64>,
    highest: Vec<f64>,
    group_lo: Vec<f64>,
    group_hi: Vec<f64>,
    chosen: Vec<Bits>,
    state: Vec<u8>,
}

impl Trail {
    /// Forgets the last run, keeping the memory.
    pub(super) fn clear(&mut self) {
        self.visits.clear();
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
        self.visits
            .iter()
            .find(|v| v.table as usize == table && v.thing as usize == thing)
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
        for thing in 0..board.things.len() {
            if board.things[thing].scope == scope {
                step(pack, board, trail, work, thing);
            }
        }
    }
}

/// Does one piece of work for one thing.
pub(super) fn step(pack: &Pack, board: &mut Board, trail: &mut Trail, work: Work, thing: usize) {
    match work {
        Work::Gather(fact) => gather(pack, board, fact, thing),
        Work::Table(t) => visit(pack, board, trail, t, thing),
    }
}

/// What is possible for a set of conditions over a box.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Holds {
    Never,
    Maybe,
    Always,
}

fn holds(conditions: &[(u16, Bits)], inputs: &[Bits]) -> Holds {
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

fn visit(pack: &Pack, board: &mut Board, trail: &mut Trail, t: usize, thing: usize) {
    let table = &pack.tables[t];
    let mut inputs = std::mem::take(&mut trail.scratch.inputs);
    inputs.clear();
    inputs.extend(
        table
            .inputs
            .iter()
            .map(|&fact| board.get(pack, thing, fact)),
    );
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
            Body::Grade { .. } => out = grade(table, &inputs, trail),
            Body::Collect => collect(table, &inputs, trail),
            Body::Rank(rank) => out = self::rank(table, rank, &inputs, trail),
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
            board.forget(pack, thing, *gives);
            board.set_bits(thing, *gives, out);
        }
        Body::Collect => {}
        Body::Rank(rank) => {
            if let Some(gives) = rank.gives {
                board.forget(pack, thing, gives);
                if applies == Holds::Always {
                    board.set_bits(thing, gives, out);
                }
            }
            standings(pack, board, trail, rank, thing, applies, scored_from);
        }
    }
    trail.visits.push(Visit {
        table: t as u32,
        thing: thing as u32,
        out,
        applied: applies == Holds::Always,
        fired: (fired_from, trail.fired.len() as u32),
        scored: (scored_from, trail.scored.len() as u32),
    });
    trail.scratch.inputs = inputs;
}

fn standings(
    pack: &Pack,
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
        let bits = match (applies, scored.get(i)) {
            (Holds::Never, _) | (_, None) => Bits::one(0),
            (_, Some(s)) => {
                let mut bits = standing_of(rank, s.score);
                if applies == Holds::Maybe {
                    bits = bits.or(Bits::one(0));
                }
                bits
            }
        };
        debug_assert!(pack.vocabulary.fact(fact).values().len() == 3);
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

/// A class by the first row that fires (for a unique table the order does not matter).
fn grade(table: &Table, inputs: &[Bits], trail: &mut Trail) -> Bits {
    let n = inputs.len();
    let mut out = Bits::NONE;
    // While every row either fires or can't, no box is needed.
    for r in 0..table.rows.len() {
        let conditions = table.conditions(r);
        match holds(conditions, inputs) {
            Holds::Never => {}
            Holds::Always => {
                trail.fired.push(Fired {
                    row: r as u16,
                    certain: true,
                });
                return class_of(table, r);
            }
            Holds::Maybe => {
                let mut boxes = std::mem::take(&mut trail.scratch.boxes);
                let mut next = std::mem::take(&mut trail.scratch.next);
                boxes.clear();
                boxes.extend_from_slice(inputs);
                for row in r..table.rows.len() {
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
                                    subtract(region, conditions, &mut next);
                                } else {
                                    // Too many pieces: keep the whole region, which is sound.
                                    next.extend_from_slice(region);
                                }
                            }
                        }
                    }
                    if hit {
                        out = out.or(class_of(table, row));
                        trail.fired.push(Fired {
                            row: row as u16,
                            certain: false,
                        });
                    }
                    std::mem::swap(&mut boxes, &mut next);
                    if boxes.is_empty() {
                        break;
                    }
                }
                trail.scratch.boxes = boxes;
                trail.scratch.next = next;
                return out;
            }
        }
    }
    out
}

fn class_of(table: &Table, row: usize) -> Bits {
    match table.rows[row].then {
        Then::Class(i) => Bits::one(i),
        _ => Bits::NONE,
    }
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

fn collect(table: &Table, inputs: &[Bits], trail: &mut Trail) {
    for row in 0..table.rows.len() {
        match holds(table.conditions(row), inputs) {
            Holds::Never => {}
            Holds::Maybe => trail.fired.push(Fired {
                row: row as u16,
                certain: false,
            }),
            Holds::Always => trail.fired.push(Fired {
                row: row as u16,
                certain: true,
            }),
        }
    }
}

/// Adds the pushes of a row to totals.
fn push_row(table: &Table, row: usize, totals: &mut [f64]) {
    if let Then::Pushes { pushes, rules_out } = &table.rows[row].then {
        for &(c, push) in pushes {
            totals[c] += push;
        }
        for &c in rules_out {
            totals[c] += OUT;
        }
    }
}

/// Adds the prior of every contestant whose prior rows lie in `priors`.
fn push_priors(rank: &Rank, priors: &[u16], inputs: &[Bits], totals: &mut [f64], state: &mut [u8]) {
    for &p in priors {
        let p = usize::from(p);
        let c = rank.priors[p].contestant;
        if state[c] == 0 && holds(&rank.prior_flat[p], inputs) == Holds::Always {
            state[c] = 1;
            totals[c] += rank.priors[p].push;
        }
    }
}

/// Calls `each` with every combination of single cells of some inputs; other inputs stay as they
/// are. Returns false, without a call, when there are more than `limit`.
fn each_choice(
    inputs: &[Bits],
    vary: &[u16],
    limit: usize,
    chosen: &mut Vec<Bits>,
    mut each: impl FnMut(&[Bits]),
) -> bool {
    let mut count = 1usize;
    for &i in vary {
        count = count.saturating_mul(inputs[usize::from(i)].len().max(1));
    }
    if count > limit {
        return false;
    }
    chosen.clear();
    chosen.extend_from_slice(inputs);
    for k in 0..count {
        let mut rest = k;
        for &i in vary {
            let cells = inputs[usize::from(i)];
            let len = cells.len().max(1);
            if let Some(cell) = cells.iter().nth(rest % len) {
                chosen[usize::from(i)] = Bits::one(cell);
            }
            rest /= len;
        }
        each(chosen);
    }
    true
}

/// Ranks contestants. Ranges of scores are exact while no group of inputs has too many
/// combinations; the set of possible leaders is exact while the whole table has few, and otherwise
/// bounded by comparing contestants in pairs, which is sound.
fn rank(table: &Table, rank: &Rank, inputs: &[Bits], trail: &mut Trail) -> Bits {
    let n = rank.contestants.len();
    for row in 0..table.rows.len() {
        match holds(table.conditions(row), inputs) {
            Holds::Never => {}
            Holds::Maybe => trail.fired.push(Fired {
                row: row as u16,
                certain: false,
            }),
            Holds::Always => trail.fired.push(Fired {
                row: row as u16,
                certain: true,
            }),
        }
    }
    let mut s = std::mem::take(&mut trail.scratch);
    refill(&mut s.lowest, n, 0.0);
    refill(&mut s.highest, n, 0.0);
    refill(&mut s.best, n * n, 0.0);
    for group in &rank.groups {
        group_bounds(table, rank, group, inputs, &mut s);
    }
    let mut lead = Bits::NONE;
    let (totals, state) = (&mut s.totals, &mut s.state);
    let exact = each_choice(inputs, &rank.vary, TABLE_LIMIT, &mut s.chosen, |values| {
        refill(totals, n, 0.0);
        refill(state, n, 0);
        for group in &rank.groups {
            add_group(table, rank, group, values, totals, state);
        }
        lead = lead.or(first_of(rank, totals));
    });
    if !exact {
        lead = leaders_by_pairs(rank, &s);
    }
    for a in 0..n {
        let end = |x: f64| if is_out(x) { f64::NEG_INFINITY } else { x };
        trail.scored.push(Scored {
            contestant: a as u16,
            score: Interval {
                lo: end(s.lowest[a]),
                hi: end(s.highest[a]),
            },
            prior: prior_range(rank, a, inputs),
            out: is_out(s.highest[a]),
            may_lead: lead.has(rank.contestants[a].bit),
        });
    }
    trail.scratch = s;
    lead
}

/// Whether a total stands for "ruled out".
fn is_out(total: f64) -> bool {
    total < OUT / 2.0
}

fn refill<T: Copy>(list: &mut Vec<T>, n: usize, value: T) {
    list.clear();
    list.resize(n, value);
}

/// Adds what one group of rows gives for single cells.
fn add_group(
    table: &Table,
    rank: &Rank,
    group: &Group,
    values: &[Bits],
    totals: &mut [f64],
    state: &mut [u8],
) {
    push_priors(rank, &group.priors, values, totals, state);
    for &row in &group.rows {
        if holds(table.conditions(usize::from(row)), values) == Holds::Always {
            push_row(table, usize::from(row), totals);
        }
    }
}

/// Adds to `lowest` and `highest` the range each contestant takes from a group, and to `best` the
/// greatest lead of each over each.
fn group_bounds(table: &Table, rank: &Rank, group: &Group, inputs: &[Bits], s: &mut Scratch) {
    let n = rank.contestants.len();
    refill(&mut s.diff, n * n, f64::NEG_INFINITY);
    refill(&mut s.group_lo, n, f64::INFINITY);
    refill(&mut s.group_hi, n, f64::NEG_INFINITY);
    let (totals, state, diff, lo, hi) = (
        &mut s.totals,
        &mut s.state,
        &mut s.diff,
        &mut s.group_lo,
        &mut s.group_hi,
    );
    let exact = each_choice(
        inputs,
        &group.inputs,
        GROUP_LIMIT,
        &mut s.chosen,
        |values| {
            refill(totals, n, 0.0);
            refill(state, n, 0);
            add_group(table, rank, group, values, totals, state);
            for a in 0..n {
                lo[a] = lo[a].min(totals[a]);
                hi[a] = hi[a].max(totals[a]);
                for b in 0..n {
                    diff[a * n + b] = diff[a * n + b].max(totals[a] - totals[b]);
                }
            }
        },
    );
    if !exact {
        loose_bounds(table, rank, group, inputs, s);
    }
    for a in 0..n {
        s.lowest[a] += s.group_lo[a];
        s.highest[a] += s.group_hi[a];
        for b in 0..n {
            s.best[a * n + b] += s.diff[a * n + b];
        }
    }
}

/// Bounds of a group with too many combinations: every row that may fire is taken on its own.
fn loose_bounds(table: &Table, rank: &Rank, group: &Group, inputs: &[Bits], s: &mut Scratch) {
    let n = rank.contestants.len();
    for a in 0..n {
        let prior = if group
            .priors
            .iter()
            .any(|&p| rank.priors[usize::from(p)].contestant == a)
        {
            prior_range(rank, a, inputs)
        } else {
            Interval::exact(0.0)
        };
        s.group_lo[a] = prior.lo;
        s.group_hi[a] = prior.hi;
    }
    for a in 0..n {
        for b in 0..n {
            s.diff[a * n + b] = if a == b {
                0.0
            } else {
                s.group_hi[a] - s.group_lo[b]
            };
        }
    }
    for &row in &group.rows {
        let holds = holds(table.conditions(usize::from(row)), inputs);
        if holds == Holds::Never {
            continue;
        }
        refill(&mut s.totals, n, 0.0);
        push_row(table, usize::from(row), &mut s.totals);
        for a in 0..n {
            let push = s.totals[a];
            let always = holds == Holds::Always;
            s.group_lo[a] += if always { push } else { push.min(0.0) };
            s.group_hi[a] += if always { push } else { push.max(0.0) };
            for b in 0..n {
                let lead = push - s.totals[b];
                s.diff[a * n + b] += if always { lead } else { lead.max(0.0) };
            }
        }
    }
}

/// Contestants that no other beats for certain.
fn leaders_by_pairs(rank: &Rank, s: &Scratch) -> Bits {
    let n = rank.contestants.len();
    let mut lead = Bits::NONE;
    for a in 0..n {
        // A tie goes to the earlier contestant.
        let unbeaten = (0..n).all(|b| match a.cmp(&b) {
            std::cmp::Ordering::Equal => true,
            std::cmp::Ordering::Less => s.best[a * n + b] >= 0.0,
            std::cmp::Ordering::Greater => s.best[a * n + b] > 0.0,
        });
        if unbeaten && !is_out(s.highest[a]) {
            lead = lead.or(Bits::one(rank.contestants[a].bit));
        }
    }
    if let Some(none) = rank.none
        && s.lowest.iter().all(|&x| is_out(x))
    {
        lead = lead.or(Bits::one(none));
    }
    lead
}

/// The first contestant with the greatest total that is not ruled out.
fn first_of(rank: &Rank, totals: &[f64]) -> Bits {
    let mut best: Option<usize> = None;
    for (i, &total) in totals.iter().enumerate() {
        if !is_out(total) && best.is_none_or(|b| total > totals[b]) {
            best = Some(i);
        }
    }
    match (best, rank.none) {
        (Some(i), _) => Bits::one(rank.contestants[i].bit),
        (None, Some(none)) => Bits::one(none),
        (None, None) => Bits::NONE,
    }
}

/// Range of the push a contestant has before any sign.
fn prior_range(rank: &Rank, contestant: usize, inputs: &[Bits]) -> Interval {
    let mut range: Option<Interval> = None;
    for (p, prior) in rank
        .priors
        .iter()
        .enumerate()
        .filter(|(_, p)| p.contestant == contestant)
    {
        let holds = holds(&rank.prior_flat[p], inputs);
        if holds == Holds::Never {
            continue;
        }
        let this = Interval::exact(prior.push);
        range = Some(range.map_or(this, |r| r.hull(this)));
        if holds == Holds::Always {
            return range.unwrap_or(this);
        }
    }
    // No prior row may hold: nothing is said, which is a push of nothing.
    range.map_or(Interval::exact(0.0), |r| r.hull(Interval::exact(0.0)))
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
    let bits = greatest(
        board
            .of_scope(inner_scope)
            .filter(|&t| board.lies_inside(t, thing, outer.scope))
            .map(|t| board.get(pack, t, from)),
    );
    match (bits, outer.none) {
        (Some(bits), _) => board.set_bits(thing, fact, bits),
        (None, Some(none)) => board.set(pack, thing, fact, none),
        (None, None) => board.forget(pack, thing, fact),
    }
}

/// Every possible greatest of several sets: at least the greatest of the least of each.
fn greatest(sets: impl Iterator<Item = Bits>) -> Option<Bits> {
    let (mut all, mut least) = (Bits::NONE, 0usize);
    for set in sets {
        all = all.or(set);
        least = least.max(set.lowest().unwrap_or(0));
    }
    (!all.is_empty()).then(|| all.less(Bits::first(least)))
}

impl Table {
    /// Conditions of a row: input and mask.
    pub(super) fn conditions(&self, row: usize) -> &[(u16, Bits)] {
        let range = self.starts[row] as usize..self.starts[row + 1] as usize;
        &self.flat[range]
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
