//! Proofs about a compiled pack, by set algebra over the cells: rows that can never fire, rows
//! that overlap under a unique policy, inputs no row covers, safety rows that could be outvoted,
//! facts nobody reads, examples that do not fire their row.

use crate::facts::{Bits, Comes, FactKind, Interval};
use crate::source::{Problem, Problems};
use crate::units::System;

use super::graph::made_by;
use super::model::{Body, Hit, Pack, Row, Table, Then};
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
    unread_facts(pack, problems);
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

    /// Every input as far as it is plausible and the table applies.
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
        domain
    }

    fn row_box(&self, domain: &[Bits], row: usize) -> Option<Vec<Bits>> {
        let mut cells = domain.to_vec();
        for &(input, mask) in self.table.conditions(row) {
            let slot = &mut cells[usize::from(input)];
            *slot = slot.and(mask);
            if slot.is_empty() {
                return None;
            }
        }
        Some(cells)
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
        let mut alive = vec![true; self.table.rows.len()];
        for r in 0..self.table.rows.len() {
            if self.row_box(&domain, r).is_none() {
                alive[r] = false;
                let row = &self.table.rows[r];
                self.problem(Some(row), "never-fires", format!("the row `{}` can never fire: its conditions contradict each other, the plausible range or `applies`", row.id),
                    "loosen a condition or drop the row");
            }
        }
        match &self.table.body {
            Body::Grade { hit, .. } => {
                self.single_result(&domain, *hit, &alive);
            }
            Body::Rank(_) => self.rank_safety(),
            Body::Collect => {}
        }
        self.examples();
    }

    fn single_result(&mut self, domain: &[Bits], hit: Hit, alive: &[bool]) {
        let n = domain.len();
        let mut left: Vec<Bits> = domain.to_vec();
        // A table without inputs has one empty box, which chunks can't carry.
        let mut nothing_left = false;
        let mut taken: Vec<Vec<Bits>> = Vec::new();
        for r in 0..self.table.rows.len() {
            let conditions = self.table.conditions(r);
            let mut mine: Vec<Bits> = Vec::new();
            let mut next: Vec<Bits> = Vec::new();
            if n == 0 || conditions.is_empty() {
                if nothing_left || (n > 0 && left.is_empty()) {
                    self.shadowed(r, &taken, domain);
                }
                if n > 0 {
                    mine = std::mem::take(&mut left);
                }
                nothing_left = true;
                taken.push(mine);
                continue;
            }
            for region in left.chunks_exact(n) {
                let inside: Vec<Bits> = intersect(region, conditions);
                if inside.iter().any(|b| b.is_empty()) {
                    next.extend_from_slice(region);
                } else {
                    mine.extend_from_slice(&inside);
                    subtract(region, conditions, &mut next);
                }
            }
            if mine.is_empty() && alive[r] && hit == Hit::First {
                self.shadowed(r, &taken, domain);
            }
            if hit == Hit::Unique && alive[r] {
                self.overlaps(r, domain);
            }
            taken.push(mine);
            left = next;
            if left.len() / n > PROOF_LIMIT {
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
            }
        }
        if !nothing_left && !left.is_empty() {
            let example = self.show(domain, &left[..n]);
            self.problem(
                None,
                "gap",
                format!("no row of `{}` covers {example}", self.table.id),
                "add a row for it, or a last row without conditions",
            );
        }
        if hit == Hit::First {
            self.outvoted(domain, &taken);
        }
    }

    fn shadowed(&mut self, r: usize, taken: &[Vec<Bits>], domain: &[Bits]) {
        let n = domain.len();
        let row = &self.table.rows[r];
        let Some(own) = self.row_box(domain, r) else {
            return;
        };
        let by: Vec<String> = taken
            .iter()
            .enumerate()
            .filter(|(_, regions)| {
                n == 0 || regions.chunks_exact(n).any(|region| meets(region, &own))
            })
            .map(|(i, _)| format!("`{}`", self.table.rows[i].id))
            .collect();
        let message = format!(
            "the row `{}` can never be reached: {} already take{} all it covers",
            row.id,
            if by.is_empty() {
                "earlier rows".to_owned()
            } else {
                by.join(", ")
            },
            if by.len() == 1 { "s" } else { "" }
        );
        self.problem(
            Some(row),
            "unreachable",
            message,
            "move it up, narrow the earlier rows, or drop it",
        );
    }

    fn overlaps(&mut self, r: usize, domain: &[Bits]) {
        let Some(own) = self.row_box(domain, r) else {
            return;
        };
        for q in 0..r {
            let Some(other) = self.row_box(domain, q) else {
                continue;
            };
            if meets(&own, &other) {
                let both: Vec<Bits> = own.iter().zip(&other).map(|(a, b)| a.and(*b)).collect();
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
    fn outvoted(&mut self, domain: &[Bits], taken: &[Vec<Bits>]) {
        let n = domain.len();
        for (r, row) in self
            .table
            .rows
            .iter()
            .enumerate()
            .filter(|(_, row)| row.safety)
        {
            let Some(own) = self.row_box(domain, r) else {
                continue;
            };
            for q in 0..r {
                let other = &self.table.rows[q];
                if other.safety || other.then == row.then || n == 0 {
                    continue;
                }
                if let Some(region) = taken
                    .get(q)
                    .and_then(|t| t.chunks_exact(n).find(|region| meets(region, &own)))
                {
                    let both: Vec<Bits> = region.iter().zip(&own).map(|(a, b)| a.and(*b)).collect();
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

    fn examples(&mut self) {
        for (r, row) in self.table.rows.iter().enumerate() {
            if row.example.is_empty() {
                continue;
            }
            let inputs = self.inputs_of(row);
            if self.table.row_state(r, &inputs) != Some(true) {
                self.problem(
                    Some(row),
                    "example",
                    format!("the example of `{}` does not fire it", row.id),
                    "mend the example or the conditions",
                );
                continue;
            }
            if matches!(
                self.table.body,
                Body::Grade {
                    hit: Hit::First,
                    ..
                }
            ) && let Some(q) = (0..r).find(|&q| self.table.row_state(q, &inputs) == Some(true))
            {
                let message = format!(
                    "the example of `{}` fires `{}` first",
                    row.id, self.table.rows[q].id
                );
                self.problem(
                    Some(row),
                    "example",
                    message,
                    "mend the example or the order",
                );
            }
        }
    }

    fn inputs_of(&self, row: &Row) -> Vec<Bits> {
        self.table
            .inputs
            .iter()
            .map(|f| {
                let cells = &self.pack.cells[usize::from(f.0)];
                row.example
                    .iter()
                    .find(|(fact, _)| fact == f)
                    .map_or(cells.domain, |(_, v)| cells.of_value(*v))
            })
            .collect()
    }
}

fn intersect(region: &[Bits], conditions: &[(u16, Bits)]) -> Vec<Bits> {
    let mut out = region.to_vec();
    for &(input, mask) in conditions {
        let slot = &mut out[usize::from(input)];
        *slot = slot.and(mask);
    }
    out
}

fn meets(a: &[Bits], b: &[Bits]) -> bool {
    a.iter().zip(b).all(|(a, b)| a.meets(*b))
}

/// Facts that are asked for or gathered, but that no table reads.
fn unread_facts(pack: &Pack, problems: &mut Problems) {
    let mut read = vec![false; pack.vocabulary.len()];
    for table in &pack.tables {
        for fact in &table.inputs {
            read[usize::from(fact.0)] = true;
        }
        for fact in made_by(table) {
            if !super::load::is_choice(&pack.vocabulary.fact(fact).kind) {
                problems.push(
                    Problem::error(
                        "kind",
                        format!(
                            "`{}` makes the number `{}`; tables make choices only",
                            table.id,
                            pack.vocabulary.fact(fact).id
                        ),
                    )
                    .at(&pack.files[table.file], table.place)
                    .hint("declare it as a choice"),
                );
            }
        }
    }
    for (_, fact) in pack.vocabulary.facts() {
        if let Comes::Gathered { from, .. } = &fact.comes
            && let Some(from) = pack.vocabulary.find(from)
        {
            read[usize::from(from.0)] = true;
        }
    }
    for (id, fact) in pack.vocabulary.facts() {
        if !read[usize::from(id.0)] && matches!(fact.comes, Comes::Asked | Comes::Gathered { .. }) {
            let place = pack.files.iter().find_map(|f| {
                let at = f.text.find(&format!("\n  {}:", fact.id))? + 3;
                let line = f.text[..at].matches('\n').count() + 1;
                Some((
                    f,
                    crate::source::Place {
                        line,
                        column: 3,
                        start: at,
                        end: at + fact.id.len(),
                    },
                ))
            });
            let mut problem = Problem::error(
                "unused-fact",
                format!("nobody reads the fact `{}`", fact.id),
            )
            .hint("use it in a table, or do not ask for it");
            if let Some((file, place)) = place {
                problem = problem.at(file, place);
            }
            problems.push(problem);
        }
    }
}
