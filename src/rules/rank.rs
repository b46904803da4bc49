//! Ranking causes and candidates over sets of cells.
//!
//! Pushes are summed as whole millionths, so that sums do not depend on their order and a tie is a
//! tie. Rows that share inputs form a group; the sums a group can give are listed, and the ranges
//! of scores follow exactly from them. The contestants that may lead are first bounded in pairs;
//! where that leaves more than one, the groups' sums are combined one by one while there are few
//! enough combinations. Past the limits the answer is a bound that holds every true possibility.

use crate::facts::{Bits, Interval};

use super::model::{Group, Rank, Table, Then};
use super::run::{Holds, Scored, holds};

/// Whole units in a log-odds of one.
const UNIT: f64 = 1.0e6;
/// Sum that stands for "ruled out": far beyond any sum of real pushes (fewer than 65 536 rows of
/// less than 100 each), and far from overflow with a row's worth of them added up.
const OUT: i64 = -(1 << 46);
/// Combinations of cells of one group that are tried one by one before bounds are used instead.
const GROUP_LIMIT: usize = 4096;
/// Different sums of one group that are kept before bounds are used instead.
const OUTCOME_LIMIT: usize = 64;
/// Combinations of the groups' sums that are tried one by one before bounds are used instead.
const TABLE_LIMIT: usize = 4096;

/// Memory of a ranking, reused from run to run.
#[derive(Debug, Clone, Default)]
pub(super) struct RankScratch {
    totals: Vec<i64>,
    /// Sums that do not depend on anything unknown.
    base: Vec<i64>,
    /// Sums of the open groups, one contestant after the other.
    outcomes: Vec<i64>,
    /// For each open group the first of its outcomes and how many it has.
    groups: Vec<(usize, usize)>,
    /// Range of what the groups with too many outcomes add.
    loose: Vec<(i64, i64)>,
    lowest: Vec<i64>,
    highest: Vec<i64>,
    /// Greatest lead of each contestant over each.
    best: Vec<i64>,
    standing: Vec<Bits>,
    chosen: Vec<Bits>,
    open: Vec<Bits>,
    prior_done: Vec<bool>,
}

/// A push as whole units.
pub(super) fn units(push: f64) -> i64 {
    (push * UNIT).round() as i64
}

fn log_odds(units: i64) -> f64 {
    if is_out(units) {
        f64::NEG_INFINITY
    } else {
        units as f64 / UNIT
    }
}

/// Whether a total stands for "ruled out".
fn is_out(total: i64) -> bool {
    total < OUT / 2
}

fn refill<T: Copy>(list: &mut Vec<T>, n: usize, value: T) {
    list.clear();
    list.resize(n, value);
}

/// Ranks contestants over a box of inputs. Gives the bits of those that may lead, or `nobody`
/// where all may be ruled out; appends everyone's standing to `scored`.
pub(super) fn rank(
    table: &Table,
    rank: &Rank,
    inputs: &[Bits],
    nobody: Bits,
    s: &mut RankScratch,
    scored: &mut Vec<Scored>,
) -> Bits {
    let n = rank.contestants.len();
    let exact = sums(table, rank, inputs, s);
    bounds(n, s);
    let mut lead = leaders_by_pairs(rank, nobody, s);
    let class = |x: i64| class_of(rank, x);
    s.standing.clear();
    for a in 0..n {
        let (lo, hi) = (class(s.lowest[a]), class(s.highest[a]));
        s.standing.push(Bits::first(hi + 1).less(Bits::first(lo)));
    }
    let undecided = lead.len() > 1 || s.standing.iter().any(|b| !b.is_one());
    let combinations = s
        .groups
        .iter()
        .fold(1usize, |product, g| product.saturating_mul(g.1));
    if exact && undecided && combinations <= TABLE_LIMIT {
        lead = combine(rank, nobody, combinations, s);
    }
    for a in 0..n {
        scored.push(Scored {
            contestant: a as u16,
            score: Interval {
                lo: log_odds(s.lowest[a]),
                hi: log_odds(s.highest[a]),
            },
            prior: prior_range(rank, a, inputs),
            standing: s.standing[a],
            out: is_out(s.highest[a]),
            may_lead: lead.has(rank.contestants[a].bit) && !is_out(s.highest[a]),
        });
    }
    lead
}

fn class_of(rank: &Rank, total: i64) -> usize {
    let x = log_odds(total);
    if x >= rank.likely {
        2
    } else {
        usize::from(x >= rank.possible)
    }
}

/// Lists the sums every group can give. Returns false where some group has too many, whose range
/// is then kept instead.
fn sums(table: &Table, rank: &Rank, inputs: &[Bits], s: &mut RankScratch) -> bool {
    let n = rank.contestants.len();
    refill(&mut s.base, n, 0);
    refill(&mut s.loose, n, (0, 0));
    s.outcomes.clear();
    s.groups.clear();
    // Cells that no row and no prior tells apart count once.
    s.open.clear();
    s.open
        .extend(inputs.iter().zip(&rank.alike).map(|(&cells, alike)| {
            if cells.is_one() {
                cells
            } else {
                cells.iter().fold(Bits::NONE, |set, cell| {
                    set.or(Bits::one(alike.get(cell).map_or(cell, |&c| usize::from(c))))
                })
            }
        }));
    let mut exact = true;
    for group in &rank.groups {
        let from = s.outcomes.len();
        if list_sums(table, rank, group, s) {
            let count = (s.outcomes.len() - from) / n;
            if count == 1 {
                for a in 0..n {
                    s.base[a] += s.outcomes[from + a];
                }
                s.outcomes.truncate(from);
            } else {
                s.groups.push((from, count));
            }
        } else {
            s.outcomes.truncate(from);
            exact = false;
            loose_sums(table, rank, group, inputs, s);
        }
    }
    exact
}

/// Appends the different sums a group can give, over every combination of the cells its inputs
/// may have. False when there are too many.
fn list_sums(table: &Table, rank: &Rank, group: &Group, s: &mut RankScratch) -> bool {
    let n = rank.contestants.len();
    let mut count = 1usize;
    for &i in &group.inputs {
        count = count.saturating_mul(s.open[usize::from(i)].len().max(1));
    }
    if count > GROUP_LIMIT {
        return false;
    }
    let from = s.outcomes.len();
    s.chosen.clear();
    s.chosen.extend_from_slice(&s.open);
    for k in 0..count {
        let mut rest = k;
        for &i in &group.inputs {
            let cells = s.open[usize::from(i)];
            let len = cells.len().max(1);
            if let Some(cell) = cells.iter().nth(rest % len) {
                s.chosen[usize::from(i)] = Bits::one(cell);
            }
            rest /= len;
        }
        refill(&mut s.totals, n, 0);
        refill(&mut s.prior_done, n, false);
        add_group(
            table,
            rank,
            group,
            &s.chosen,
            &mut s.totals,
            &mut s.prior_done,
        );
        let known = s.outcomes[from..]
            .chunks_exact(n)
            .any(|sum| sum == s.totals);
        if !known {
            if s.outcomes.len() - from >= OUTCOME_LIMIT * n {
                return false;
            }
            s.outcomes.extend_from_slice(&s.totals);
        }
    }
    true
}

/// Adds what one group of rows gives for single cells.
fn add_group(
    table: &Table,
    rank: &Rank,
    group: &Group,
    cells: &[Bits],
    totals: &mut [i64],
    prior_done: &mut [bool],
) {
    for &p in &group.priors {
        let p = usize::from(p);
        let c = rank.priors[p].contestant;
        if !prior_done[c] && holds(&rank.prior_flat[p], cells) == Holds::Always {
            prior_done[c] = true;
            totals[c] += units(rank.priors[p].push);
        }
    }
    for &row in &group.rows {
        let row = usize::from(row);
        if holds(table.conditions(row), cells) == Holds::Always {
            push_row(table, row, totals);
        }
    }
}

/// Adds the pushes of a row to totals.
fn push_row(table: &Table, row: usize, totals: &mut [i64]) {
    if let Then::Pushes { pushes, rules_out } = &table.rows[row].then {
        for &(c, push) in pushes {
            totals[c] += units(push);
        }
        for &c in rules_out {
            totals[c] += OUT;
        }
    }
}

/// Range of a group with too many combinations: every row that may fire is taken on its own.
fn loose_sums(table: &Table, rank: &Rank, group: &Group, inputs: &[Bits], s: &mut RankScratch) {
    let n = rank.contestants.len();
    for a in 0..n {
        let has_prior = group
            .priors
            .iter()
            .any(|&p| rank.priors[usize::from(p)].contestant == a);
        if has_prior {
            let prior = prior_range(rank, a, inputs);
            s.loose[a].0 += units(prior.lo);
            s.loose[a].1 += units(prior.hi);
        }
    }
    for &row in &group.rows {
        let holds = holds(table.conditions(usize::from(row)), inputs);
        if holds == Holds::Never {
            continue;
        }
        refill(&mut s.totals, n, 0);
        push_row(table, usize::from(row), &mut s.totals);
        for a in 0..n {
            let push = s.totals[a];
            let always = holds == Holds::Always;
            s.loose[a].0 += if always { push } else { push.min(0) };
            s.loose[a].1 += if always { push } else { push.max(0) };
        }
    }
}

/// Ranges of scores and greatest leads, from the sums of the groups.
fn bounds(n: usize, s: &mut RankScratch) {
    s.lowest.clear();
    s.highest.clear();
    refill(&mut s.best, n * n, 0);
    for a in 0..n {
        s.lowest.push(s.base[a] + s.loose[a].0);
        s.highest.push(s.base[a] + s.loose[a].1);
        for b in 0..n {
            if a != b {
                s.best[a * n + b] = s.base[a] - s.base[b] + s.loose[a].1 - s.loose[b].0;
            }
        }
    }
    for &(from, count) in &s.groups {
        let sums = &s.outcomes[from..from + count * n];
        for a in 0..n {
            let of_a = || sums.iter().skip(a).step_by(n);
            s.lowest[a] += of_a().copied().min().unwrap_or(0);
            s.highest[a] += of_a().copied().max().unwrap_or(0);
            for b in 0..n {
                let of_b = sums.iter().skip(b).step_by(n);
                let lead = of_a().zip(of_b).map(|(x, y)| x - y).max();
                s.best[a * n + b] += lead.unwrap_or(0);
            }
        }
    }
}

/// Contestants that no other beats for certain.
fn leaders_by_pairs(rank: &Rank, nobody: Bits, s: &RankScratch) -> Bits {
    let n = rank.contestants.len();
    let mut lead = Bits::NONE;
    for a in 0..n {
        // A tie goes to the earlier contestant.
        let unbeaten = (0..n).all(|b| match a.cmp(&b) {
            std::cmp::Ordering::Equal => true,
            std::cmp::Ordering::Less => s.best[a * n + b] >= 0,
            std::cmp::Ordering::Greater => s.best[a * n + b] > 0,
        });
        if unbeaten && !is_out(s.highest[a]) {
            lead = lead.or(Bits::one(rank.contestants[a].bit));
        }
    }
    if s.lowest.iter().all(|&x| is_out(x)) {
        lead = lead.or(nobody);
    }
    lead
}

/// Tries every combination of the groups' sums. Leaves the exact standings in `s.standing`, gives
/// the exact leaders.
fn combine(rank: &Rank, nobody: Bits, combinations: usize, s: &mut RankScratch) -> Bits {
    let n = rank.contestants.len();
    let mut lead = Bits::NONE;
    refill(&mut s.standing, n, Bits::NONE);
    for k in 0..combinations {
        s.totals.clear();
        s.totals.extend_from_slice(&s.base);
        let mut rest = k;
        for &(from, count) in &s.groups {
            let at = from + rest % count * n;
            for (total, sum) in s.totals.iter_mut().zip(&s.outcomes[at..at + n]) {
                *total += sum;
            }
            rest /= count;
        }
        lead = lead.or(first_of(rank, nobody, &s.totals));
        for (standing, &total) in s.standing.iter_mut().zip(&s.totals) {
            *standing = standing.or(Bits::one(class_of(rank, total)));
        }
    }
    lead
}

/// The first contestant with the greatest total that is not ruled out.
fn first_of(rank: &Rank, nobody: Bits, totals: &[i64]) -> Bits {
    let mut best: Option<(usize, i64)> = None;
    for (i, &total) in totals.iter().enumerate() {
        if !is_out(total) && best.is_none_or(|(_, most)| total > most) {
            best = Some((i, total));
        }
    }
    best.map_or(nobody, |(i, _)| Bits::one(rank.contestants[i].bit))
}

/// Range of the push a contestant has before any sign.
fn prior_range(rank: &Rank, contestant: usize, inputs: &[Bits]) -> Interval {
    let mut range: Option<Interval> = None;
    for (p, prior) in rank.priors.iter().enumerate() {
        if prior.contestant != contestant {
            continue;
        }
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
