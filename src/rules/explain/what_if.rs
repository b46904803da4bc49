//! What would be otherwise if some facts were.

use serde::Serialize;

use crate::facts::{Bits, FactId};
use crate::rules::board::Board;
use crate::rules::model::{Pack, Spot, Work};
use crate::rules::run::Trail;
use crate::rules::words::Possible;
use crate::units::System;

/// A fact from outside taken to be otherwise.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Change {
    /// Fact and thing.
    pub spot: Spot,
    /// Its cells then.
    pub cells: Bits,
}

/// What is otherwise, side by side.
#[derive(Debug, Clone, Serialize)]
pub struct WhatIf {
    /// The facts changed.
    pub changed: Vec<Flip>,
    /// Facts from outside that follow from those.
    pub followed: Vec<Flip>,
    /// Made and gathered facts that come out otherwise, in the order in which they are made.
    pub flips: Vec<Flip>,
    /// Rows that fire otherwise.
    pub rows: Vec<RowFlip>,
}

/// A fact before and after.
#[derive(Debug, Clone, Serialize)]
pub struct Flip {
    /// As things are.
    pub before: Possible,
    /// As they would be.
    pub after: Possible,
}

/// Whether a row fires.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum RowState {
    /// It does not fire.
    Silent,
    /// It may, depending on what is not known.
    May,
    /// It fires.
    Fires,
}

/// A row before and after.
#[derive(Debug, Clone, Serialize)]
pub struct RowFlip {
    /// Table.
    pub table: String,
    /// Row.
    pub row: String,
    /// What it is about.
    pub about: String,
    /// For the crew.
    pub because: String,
    /// As things are.
    pub before: RowState,
    /// As they would be.
    pub after: RowState,
}

/// Sets two runs over the same things side by side; `changed` are the facts that were taken to be
/// otherwise.
pub fn compare(
    pack: &Pack,
    before: (&Board, &Trail),
    after: (&Board, &Trail),
    changed: &[Spot],
    system: System,
) -> WhatIf {
    let flip = |spot: Spot| Flip {
        before: pack.possible(before.0, spot, system),
        after: pack.possible(after.0, spot, system),
    };
    let differs = |fact: FactId| {
        before
            .0
            .of_scope(pack.vocabulary.fact(fact).scope)
            .map(move |thing| Spot { thing, fact })
            .filter(|&spot| before.0.at(spot) != after.0.at(spot))
    };
    let mut flips = Vec::new();
    for &work in &pack.order {
        let made = match work {
            Work::Table(t) => super::super::graph::made_by(&pack.tables[t]),
            Work::Gather(fact) => vec![fact],
        };
        for fact in made {
            flips.extend(differs(fact).map(flip));
        }
    }
    let followed = pack
        .vocabulary
        .facts()
        .filter(|(id, _)| pack.maker(*id).is_none())
        .flat_map(|(id, _)| differs(id))
        .filter(|spot| !changed.contains(spot))
        .map(flip)
        .collect();
    WhatIf {
        changed: changed.iter().map(|&spot| flip(spot)).collect(),
        followed,
        flips,
        rows: row_flips(pack, before.0, before.1, after.1),
    }
}

fn row_flips(pack: &Pack, board: &Board, before: &Trail, after: &Trail) -> Vec<RowFlip> {
    let mut out = Vec::new();
    for visit in before.visits() {
        let (t, thing) = (visit.table as usize, visit.thing as usize);
        let table = &pack.tables[t];
        for (r, row) in table.rows.iter().enumerate() {
            let (a, b) = (state(before, t, thing, r), state(after, t, thing, r));
            if a != b {
                out.push(RowFlip {
                    table: table.id.clone(),
                    row: row.id.clone(),
                    about: board.label(thing).to_owned(),
                    because: row.because.clone(),
                    before: a,
                    after: b,
                });
            }
        }
    }
    out
}

fn state(trail: &Trail, table: usize, thing: usize, row: usize) -> RowState {
    trail
        .visit(table, thing)
        .and_then(|v| trail.fired(v).iter().find(|f| usize::from(f.row) == row))
        .map_or(RowState::Silent, |f| {
            if f.certain {
                RowState::Fires
            } else {
                RowState::May
            }
        })
}
