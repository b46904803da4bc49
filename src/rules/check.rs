//! Proofs about a compiled pack, by set algebra over the cells: rows that can never fire, rows
//! that overlap under a unique policy, inputs no row covers, safety rows that could be outvoted,
//! facts nobody reads, examples that do not fire their row.

use crate::facts::{Bits, Comes, Fact, FactId, FactKind, Interval};
use crate::source::{Problem, Problems};
use crate::units::System;

use super::model::{Body, Hit, Pack, Rank, Row, Table, Then, Work};
use super::run::subtract;

/// Boxes a proof may need before it is given up, with a problem that says so.
const PROOF_LIMIT: usize = 200_000;

/// Checks a compiled pack and reports every problem with its place.
pub fn check(pack: &Pack, problems: &mut Problems) {
    for table in &pack.tables {
        Checker {
            pack,
            table,
            problems,
        }
        .table();
    }
    facts(pack, problems);
    causes(pack, problems);
}

struct Checker<'a> {
    pack: &'a Pack,
    table: &'a Table,
    problems: &'a mut Problems,
}

impl Checker<'_> {
    fn problem(
        &mut self,
        row: Option<&Row>,
        code: &'static str,
        message: String,
        hint: impl Into<String>,
    ) {
        let (file, place) = row.map_or((self.table.file, self.table.place), |r| (r.file, r.place));
        self.problems.push(
            Problem::error(code, message)
                .at(&self.pack.files[file], place)
                .hint(hint),
        );
    }

    /// Every input as far as it is plausible and the table applies, and one cell more: a box is
    /// never empty-handed, even in a table without inputs.
    fn domain(&self) -> Vec<Bits> {
        let mut domain: Vec<Bits> = self
            .table
            .inputs
            .iter()
            .map(|f| self.pack.cells[usize::from(f.0)].domain)
            .collect();
        for &(input, mask) in &self.table.flat_applies {
            let slot = &mut domain[usize::from(input)];
            *slot = slot.and(mask);
        }
        domain.push(Bits::one(0));
        domain
    }

    /// An input inside a box, in words; only the inputs that are narrower than the domain.
    fn show(&self, domain: &[Bits], cells: &[Bits]) -> String {
        let mut parts = Vec::new();
        for (i, &fact_id) in self.table.inputs.iter().enumerate() {
            if cells[i] == domain[i] && domain[i].len() > 1 {
                continue;
            }
            let fact = self.pack.vocabulary.fact(fact_id);
            let Some(cell) = cells[i].lowest() else {
                continue;
            };
            let value = match &fact.kind {
                FactKind::Choice { values, .. } => {
                    values.get(cell).map_or_else(String::new, |v| v.id.clone())
                }
                FactKind::Quantity(kind) => {
                    let x = self.pack.cells[usize::from(fact_id.0)].sample(cell, fact.range);
                    kind.write(Interval::exact(x), System::Metric)
                }
            };
            parts.push(format!("{} = {value}", fact.id));
        }
        if parts.is_empty() {
            "any input".to_owned()
        } else {
            parts.join(", ")
        }
    }

    fn table(&mut self) {
        let domain = self.domain();
        if domain.iter().any(|d| d.is_empty()) {
            self.problem(
                None,
                "never-applies",
                format!("the table `{}` can never apply", self.table.id),
                "look at `applies`",
            );
            return;
        }
        let boxes: Vec<Option<Vec<Bits>>> = (0..self.table.rows.len())
            .map(|r| intersect(&domain, self.table.conditions(r)))
            .collect();
        for (row, _) in self
            .table
            .rows
            .iter()
            .zip(&boxes)
            .filter(|(_, b)| b.is_none())
        {
            self.problem(
                Some(row),
                "never-fires",
                format!(
                    "the row `{}` can never fire: its conditions contradict each other, the plausible range or `applies`",
                    row.id
                ),
                "loosen a condition or drop the row",
            );
        }
        match &self.table.body {
            Body::Grade { hit, .. } => self.single_result(&domain, *hit, &boxes),
            Body::Rank(rank) => {
                self.rank_safety();
                self.priors(&domain, rank);
                self.all_out(&domain, rank);
            }
            Body::Collect => {}
        }
        self.examples(&domain);
    }

    fn single_result(&mut self, domain: &[Bits], hit: Hit, boxes: &[Option<Vec<Bits>>]) {
        let rows: Vec<&[(u16, Bits)]> = (0..self.table.rows.len())
            .map(|r| self.table.conditions(r))
            .collect();
        let Some(cover) = Cover::of(domain, &rows) else {
            self.problem(
                None,
                "too-tangled",
                format!(
                    "the table `{}` is too tangled to prove free of gaps",
                    self.table.id
                ),
                "split it",
            );
            return;
        };
        for (r, own) in boxes.iter().enumerate() {
            let Some(own) = own else { continue };
            if hit == Hit::First && cover.taken[r].is_empty() {
                let by = cover.takers(r, own);
                self.unreachable(r, &by);
            }
            if hit == Hit::Unique {
                self.overlaps(r, domain, boxes);
            }
        }
        if let Some(region) = cover.left.first() {
            let example = self.show(domain, region);
            self.problem(
                None,
                "gap",
                format!("no row of `{}` covers {example}", self.table.id),
                "add a row for it, or a last row without conditions",
            );
        }
        if hit == Hit::First {
            self.outvoted(domain, &cover, boxes);
        }
    }

    fn unreachable(&mut self, r: usize, by: &[usize]) {
        let row = &self.table.rows[r];
        let names: Vec<String> = by
            .iter()
            .map(|&i| format!("`{}`", self.table.rows[i].id))
            .collect();
        let message = format!(
            "the row `{}` can never be reached: {} already take{} all it covers",
            row.id,
            names.join(", "),
            if names.len() == 1 { "s" } else { "" }
        );
        self.problem(
            Some(row),
            "unreachable",
            message,
            "move it up, narrow the earlier rows, or drop it",
        );
    }

    fn overlaps(&mut self, r: usize, domain: &[Bits], boxes: &[Option<Vec<Bits>>]) {
        let Some(own) = &boxes[r] else { return };
        for (q, other) in boxes[..r].iter().enumerate() {
            let Some(other) = other else { continue };
            if meets(own, other) {
                let both: Vec<Bits> = own.iter().zip(other).map(|(a, b)| a.and(*b)).collect();
                let example = self.show(domain, &both);
                let row = &self.table.rows[r];
                let message = format!(
                    "the rows `{}` and `{}` both cover {example}, and the policy is unique",
                    self.table.rows[q].id, row.id
                );
                self.problem(
                    Some(row),
                    "overlap",
                    message,
                    "narrow one of them, or use `hit: first` and mind the order",
                );
            }
        }
    }

    /// In a first table a safety row must not stand behind a row that says something else for an
    /// input both cover.
    fn outvoted(&mut self, domain: &[Bits], cover: &Cover, boxes: &[Option<Vec<Bits>>]) {
        for (r, row) in self.table.rows.iter().enumerate() {
            let (true, Some(own)) = (row.safety, &boxes[r]) else {
                continue;
            };
            for (other, taken) in self.table.rows[..r].iter().zip(&cover.taken) {
                if other.safety || other.then == row.then {
                    continue;
                }
                if let Some(region) = taken.iter().find(|region| meets(region, own)) {
                    let both: Vec<Bits> = region.iter().zip(own).map(|(a, b)| a.and(*b)).collect();
                    let example = self.show(domain, &both);
                    self.problem(
                        Some(row),
                        "outvoted",
                        format!(
                            "the safety row `{}` is outvoted by `{}` for {example}",
                            row.id, other.id
                        ),
                        "put safety rows first",
                    );
                }
            }
        }
    }

    /// Of the priors of one contestant the first that holds counts, so a later one may be out of
    /// reach.
    fn priors(&mut self, domain: &[Bits], rank: &Rank) {
        for c in 0..rank.contestants.len() {
            let mine: Vec<usize> = (0..rank.priors.len())
                .filter(|&p| rank.priors[p].contestant == c)
                .collect();
            let rows: Vec<&[(u16, Bits)]> = mine
                .iter()
                .map(|&p| rank.prior_flat[p].as_slice())
                .collect();
            let Some(cover) = Cover::of(domain, &rows) else {
                continue;
            };
            for (&p, taken) in mine.iter().zip(&cover.taken) {
                if taken.is_empty() {
                    let prior = &rank.priors[p];
                    self.problems.push(
                        Problem::error(
                            "unreachable",
                            format!(
                                "the prior `{}` of `{}` can never hold, or an earlier one always does",
                                prior.id, rank.contestants[c].id
                            ),
                        )
                        .at(&self.pack.files[self.table.file], prior.place)
                        .hint("move it up, or drop it"),
                    );
                }
            }
        }
    }

    /// Where everyone can be ruled out, the fact needs a value for that.
    fn all_out(&mut self, domain: &[Bits], rank: &Rank) {
        let Some(gives) = rank.gives.filter(|_| rank.none.is_none()) else {
            return;
        };
        let mut regions: Vec<Vec<Bits>> = vec![domain.to_vec()];
        for c in 0..rank.contestants.len() {
            let mut next = Vec::new();
            for (r, row) in self.table.rows.iter().enumerate() {
                if matches!(&row.then, Then::Pushes { rules_out, .. } if rules_out.contains(&c)) {
                    let conditions = self.table.conditions(r);
                    next.extend(regions.iter().filter_map(|b| intersect(b, conditions)));
                }
            }
            next.sort_unstable();
            next.dedup();
            if next.len() > PROOF_LIMIT {
                return;
            }
            regions = next;
        }
        if let Some(region) = regions.first() {
            let example = self.show(domain, region);
            let fact = &self.pack.vocabulary.fact(gives).id;
            let message = format!(
                "`{}` rules everyone out for {example}, and `{fact}` has no value `none`",
                self.table.id
            );
            self.problem(
                None,
                "all-out",
                message,
                format!("add `none` to the values of `{fact}`"),
            );
        }
    }

    fn rank_safety(&mut self) {
        for row in self.table.rows.iter().filter(|r| r.safety) {
            if let Then::Pushes { rules_out, .. } = &row.then
                && rules_out.is_empty()
            {
                self.problem(
                    Some(row),
                    "outvoted",
                    format!(
                        "the safety row `{}` only pushes, and pushes can be outvoted",
                        row.id
                    ),
                    "let a safety row rule out",
                );
            }
        }
    }

    fn examples(&mut self, domain: &[Bits]) {
        for (r, row) in self.table.rows.iter().enumerate() {
            if row.example.is_empty() {
                continue;
            }
            let Some(inputs) = self.inputs_of(domain, row) else {
                self.problem(
                    Some(row),
                    "example",
                    format!("the table does not apply to the example of `{}`", row.id),
                    "mend the example or `applies`",
                );
                continue;
            };
            if self.table.row_state(r, &inputs) != Some(true) {
                self.problem(
                    Some(row),
                    "example",
                    format!("the example of `{}` does not fire it", row.id),
                    "mend the example or the conditions",
                );
                continue;
            }
            let first = matches!(
                self.table.body,
                Body::Grade {
                    hit: Hit::First,
                    ..
                }
            );
            // What the example leaves unsaid may be chosen so that earlier rows stay silent; if no
            // choice does that, they win.
            if first && let Some(earlier) = self.wins_before(r, &inputs) {
                let names: Vec<String> = earlier
                    .iter()
                    .map(|&q| format!("`{}`", self.table.rows[q].id))
                    .collect();
                self.problem(
                    Some(row),
                    "example",
                    format!(
                        "the example of `{}` fires {} first",
                        row.id,
                        names.join(", ")
                    ),
                    "mend the example or the order",
                );
            }
        }
    }

    /// Earlier rows that take all of a box; `None` where some of it is left for row `r`.
    fn wins_before(&self, r: usize, inputs: &[Bits]) -> Option<Vec<usize>> {
        let rows: Vec<&[(u16, Bits)]> = (0..r).map(|q| self.table.conditions(q)).collect();
        let cover = Cover::of(inputs, &rows)?;
        cover.left.is_empty().then(|| cover.takers(r, inputs))
    }

    /// The inputs of an example; `None` where the table does not apply to it.
    fn inputs_of(&self, domain: &[Bits], row: &Row) -> Option<Vec<Bits>> {
        let mut inputs = domain.to_vec();
        for (slot, f) in inputs.iter_mut().zip(&self.table.inputs) {
            if let Some((_, value)) = row.example.iter().find(|(fact, _)| fact == f) {
                let given = self.pack.cells[usize::from(f.0)].of_value(*value);
                let applies = self.applies_to(*f);
                *slot = given.and(applies);
            }
        }
        inputs.iter().all(|b| !b.is_empty()).then_some(inputs)
    }

    /// The cells of an input for which the table applies.
    fn applies_to(&self, fact: FactId) -> Bits {
        self.table
            .applies
            .iter()
            .filter(|c| c.fact == fact)
            .fold(Bits(u128::MAX), |cells, c| cells.and(c.mask))
    }
}

/// What each row takes of a domain when earlier rows go first, and what is left.
struct Cover {
    taken: Vec<Vec<Vec<Bits>>>,
    left: Vec<Vec<Bits>>,
}

impl Cover {
    /// `None` when the pieces become too many.
    fn of(domain: &[Bits], rows: &[&[(u16, Bits)]]) -> Option<Cover> {
        let n = domain.len();
        let mut left: Vec<Vec<Bits>> = vec![domain.to_vec()];
        let mut taken = Vec::with_capacity(rows.len());
        let mut pieces: Vec<Bits> = Vec::new();
        for conditions in rows {
            let mut mine = Vec::new();
            let mut next = Vec::new();
            for region in left {
                match intersect(&region, conditions) {
                    None => next.push(region),
                    Some(inside) => {
                        mine.push(inside);
                        pieces.clear();
                        subtract(&region, conditions, &mut pieces);
                        next.extend(pieces.chunks_exact(n).map(<[Bits]>::to_vec));
                    }
                }
            }
            if next.len() > PROOF_LIMIT {
                return None;
            }
            taken.push(mine);
            left = next;
        }
        Some(Cover { taken, left })
    }

    /// Rows before `row` that take something of its box.
    fn takers(&self, row: usize, own: &[Bits]) -> Vec<usize> {
        (0..row)
            .filter(|&q| self.taken[q].iter().any(|region| meets(region, own)))
            .collect()
    }
}

/// The part of a region that meets all conditions, if there is any.
fn intersect(region: &[Bits], conditions: &[(u16, Bits)]) -> Option<Vec<Bits>> {
    let mut out = region.to_vec();
    for &(input, mask) in conditions {
        let slot = &mut out[usize::from(input)];
        *slot = slot.and(mask);
        if slot.is_empty() {
            return None;
        }
    }
    Some(out)
}

fn meets(a: &[Bits], b: &[Bits]) -> bool {
    a.iter().zip(b).all(|(a, b)| a.meets(*b))
}

/// Facts nobody makes or nobody reads, and gathered facts that would be unknown wherever the table
/// behind them says nothing.
fn facts(pack: &Pack, problems: &mut Problems) {
    let mut read = vec![false; pack.vocabulary.len()];
    for table in &pack.tables {
        for fact in &table.inputs {
            read[usize::from(fact.0)] = true;
        }
    }
    let gathered: Vec<(FactId, &Fact)> = pack
        .vocabulary
        .facts()
        .filter_map(|(_, fact)| match &fact.comes {
            Comes::Gathered { from, .. } => Some((pack.vocabulary.find(from)?, fact)),
            _ => None,
        })
        .collect();
    for (from, _) in &gathered {
        read[usize::from(from.0)] = true;
    }
    // Where a house pack has taken the last row away that read a fact, that is worth a word, and no
    // reason to refuse it.
    let house = !pack.house.is_empty();
    let mut report = |fact: &Fact, code: &'static str, message: String, hint: &str| {
        let excused = house && matches!(code, "unused-fact" | "unread-output");
        let problem = if excused {
            Problem::warning(code, message)
        } else {
            Problem::error(code, message)
        };
        problems.push(problem.at(&pack.files[fact.file], fact.place).hint(hint));
    };
    for (id, fact) in pack.vocabulary.facts() {
        let is_read = read[usize::from(id.0)] || !fact.read_by.is_empty();
        match fact.comes {
            Comes::Asked if !is_read => report(
                fact,
                "unused-fact",
                format!("nobody reads the fact `{}`", fact.id),
                "use it in a table, or do not ask for it",
            ),
            Comes::Gathered { .. } if !is_read => report(
                fact,
                "unused-fact",
                format!("nobody reads the fact `{}`", fact.id),
                "use it in a table, or do not gather it",
            ),
            Comes::Survey if !is_read => report(
                fact,
                "unused-fact",
                format!("nobody reads the fact `{}`", fact.id),
                "use it in a table, or name the stage that reads it under `read_by`",
            ),
            Comes::Made if !is_read && !is_shown(pack, id) => report(
                fact,
                "unread-output",
                format!(
                    "nobody reads the fact `{}`, which {} makes",
                    fact.id,
                    maker(pack, id)
                ),
                "use it in a table, give its table a `scale` so that it is shown as a grade, or name \
                 the stage that reads it under `read_by`",
            ),
            _ => {}
        }
        if fact.comes == Comes::Made && pack.maker(id).is_none() {
            report(
                fact,
                "no-maker",
                format!("no table makes the fact `{}`", fact.id),
                "let a table give it, or drop it",
            );
        }
    }
    for (from, outer) in gathered {
        let Some(Work::Table(t)) = pack.maker(from) else {
            continue;
        };
        let table = &pack.tables[t];
        if let Body::Grade {
            otherwise: None, ..
        } = table.body
            && !table.applies.is_empty()
        {
            report(
                outer,
                "unknown-where-not-applied",
                format!(
                    "`{}` gathers `{}`, which `{}` leaves unknown where it does not apply",
                    outer.id,
                    pack.vocabulary.fact(from).id,
                    table.id
                ),
                "give that table `otherwise`",
            );
        }
    }
}

/// Whether people are shown what a table makes as it is: a grade on a named scale, or the leading
/// cause of a ranking. A fact no table makes has its own problem.
fn is_shown(pack: &Pack, fact: FactId) -> bool {
    let Some(Work::Table(t)) = pack.maker(fact) else {
        return true;
    };
    let table = &pack.tables[t];
    match &table.body {
        Body::Grade { .. } => table.scale.is_some(),
        Body::Rank(rank) => rank.evidence && rank.gives == Some(fact),
        Body::Collect => false,
    }
}

fn maker(pack: &Pack, fact: FactId) -> String {
    match pack.maker(fact) {
        Some(Work::Table(t)) => format!("the table `{}`", pack.tables[t].id),
        _ => "nobody".to_owned(),
    }
}

/// Causes no table ranks.
fn causes(pack: &Pack, problems: &mut Problems) {
    for cause in &pack.causes {
        let ranked = pack.tables.iter().any(|t| {
            matches!(&t.body, Body::Rank(rank) if rank.evidence
                && rank.contestants.iter().any(|c| c.id == cause.id))
        });
        if !ranked {
            problems.push(
                Problem::error(
                    "unused-cause",
                    format!("no table ranks the cause `{}`", cause.id),
                )
                .at(&pack.files[cause.file], cause.place)
                .hint("list it under `causes` of an evidence table, or drop it"),
            );
        }
    }
}
