//! The exported tables in an independent DMN engine, on random complete records: every outcome
//! must be ours.
//!
//! Differences that are none: where a table says nothing (no row covers the record, or it does not
//! apply and has no `otherwise`), DMN's answer is null and ours is every value; a fact that reads
//! such a one is not compared, since DMN takes null for a value no test meets and we take it for
//! unknown.

use std::collections::BTreeMap;

use dsntk_feel::context::FeelContext;
use dsntk_feel::values::Value as Feel;
use dsntk_feel::{FeelNumber, Name};
use dsntk_model_evaluator::ModelEvaluator;
use ringtrue::facts::{Bits, FactId, FactKind, Scope};
use ringtrue::rules::{
    Board, Body, DMN_NAMESPACE, Pack, Thing, Trail, Work, builtin, decision_name, dmn, run,
};

const RECORDS: u64 = 25;

fn things() -> Vec<Thing> {
    let thing = |scope, outer| Thing {
        scope,
        label: String::new(),
        outer,
        lies_in: Vec::new(),
        may_lie_in: Vec::new(),
    };
    let mut out = vec![thing(Scope::Site, None), thing(Scope::Slab, Some(0))];
    out.push(thing(Scope::Area, Some(1)));
    for scope in [
        Scope::Panel,
        Scope::Joint,
        Scope::Defect,
        Scope::Defect,
        Scope::Defect,
    ] {
        out.push(thing(scope, Some(2)));
    }
    out.push(thing(Scope::Stair, Some(1)));
    out.push(thing(Scope::Threshold, Some(1)));
    out
}

/// Numbers from a plain mixing of a seed.
struct Dice(u64);

impl Dice {
    fn upto(&mut self, n: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 20) as usize % n.max(1)
    }
}

/// Gives every fact from outside one plausible cell.
fn fill(pack: &Pack, board: &mut Board, dice: &mut Dice) {
    board.clear(pack);
    for thing in 0..board.things().len() {
        for (id, fact) in pack.vocabulary.facts() {
            if pack.maker(id).is_none() && fact.scope == board.things()[thing].scope {
                let domain = pack.cells[usize::from(id.0)].domain;
                let cell = domain.iter().nth(dice.upto(domain.len())).unwrap();
                board.set_bits(thing, id, Bits::one(cell));
            }
        }
    }
}

/// A settled fact as a FEEL value; a number by a sample of its cell.
fn feel(pack: &Pack, id: FactId, cells: Bits) -> Option<Feel> {
    let cell = cells.lowest().filter(|_| cells.is_one())?;
    let fact = pack.vocabulary.fact(id);
    Some(match &fact.kind {
        FactKind::Choice { values, .. } => Feel::String(values[cell].id.clone()),
        FactKind::Quantity(_) => {
            let x = pack.cells[usize::from(id.0)].sample(cell, fact.range);
            Feel::Number(format!("{x}").parse::<FeelNumber>().unwrap())
        }
    })
}

/// Everything a table's decision needs to be given, through the decisions it requires; `None`
/// where something on the way is not settled.
fn context(pack: &Pack, board: &Board, table: usize, thing: usize) -> Option<FeelContext> {
    let mut out = FeelContext::new();
    let mut open = vec![table];
    let mut seen = vec![table];
    while let Some(t) = open.pop() {
        for &fact in &pack.tables[t].inputs {
            let cells = board.get(pack, thing, fact);
            let value = feel(pack, fact, cells)?;
            match pack.maker(fact) {
                Some(Work::Table(from)) if !matches!(pack.tables[from].body, Body::Rank(_)) => {
                    if !seen.contains(&from) {
                        seen.push(from);
                        open.push(from);
                    }
                }
                _ => out.set_entry(&Name::from(pack.vocabulary.fact(fact).id.as_str()), value),
            }
        }
    }
    Some(out)
}

#[test]
fn an_independent_engine_gives_every_outcome_we_give() {
    let pack = builtin().unwrap_or_else(|p| panic!("{p}"));
    let xml = dmn(&pack);
    let definitions = dsntk_model::parse(&xml).unwrap_or_else(|e| panic!("{e}"));
    let model = definitions_name(&xml);
    let engine = ModelEvaluator::new(&[definitions]).unwrap_or_else(|e| panic!("{e}"));
    let mut board = Board::new(&pack, things());
    let mut trail = Trail::default();
    let mut dice = Dice(0x9e37_79b9_7f4a_7c15);
    let mut compared: BTreeMap<&str, usize> = BTreeMap::new();
    for record in 0..RECORDS {
        fill(&pack, &mut board, &mut dice);
        run(&pack, &mut board, &mut trail);
        for visit in trail.visits() {
            let (t, thing) = (visit.table as usize, visit.thing as usize);
            let table = &pack.tables[t];
            if matches!(table.body, Body::Rank(_)) {
                continue;
            }
            let Some(context) = context(&pack, &board, t, thing) else {
                continue;
            };
            let theirs = engine.evaluate_invocable(
                DMN_NAMESPACE,
                &model,
                &decision_name(&pack, table),
                &context,
            );
            let ours: Option<Vec<String>> = match &table.body {
                Body::Grade { gives, .. } => {
                    let cells = board.get(&pack, thing, *gives);
                    let values = pack.vocabulary.fact(*gives).values();
                    cells
                        .lowest()
                        .filter(|_| cells.is_one())
                        .map(|i| vec![values[i].id.clone()])
                }
                _ => Some(
                    trail
                        .fired(visit)
                        .iter()
                        .map(|f| table.rows[usize::from(f.row)].id.clone())
                        .collect(),
                ),
            };
            let theirs_said = said(&theirs);
            let same = match (&ours, &theirs_said) {
                // Nothing said is null there, and an empty list of rows is null too.
                (None, None) => true,
                (Some(rows), None) => rows.is_empty(),
                (a, b) => a == b,
            };
            assert!(
                same,
                "record {record}: `{}`: ours {ours:?}, theirs {theirs:?}",
                table.id
            );
            *compared.entry(&table.id).or_default() += 1;
        }
    }
    let exported = pack
        .tables
        .iter()
        .filter(|t| !matches!(t.body, Body::Rank(_)));
    for table in exported {
        assert!(
            compared.get(table.id.as_str()).is_some_and(|n| *n >= 10),
            "`{}` was hardly compared: {:?}",
            table.id,
            compared.get(table.id.as_str())
        );
    }
}

/// The strings of an answer; `None` for null.
fn said(value: &Feel) -> Option<Vec<String>> {
    match value {
        Feel::String(word) => Some(vec![word.clone()]),
        Feel::List(list) => Some(
            list.iter()
                .flat_map(|v| said(v).unwrap_or_default())
                .collect(),
        ),
        Feel::Null(_) => None,
        other => panic!("an answer of an unexpected type: {other:?}"),
    }
}

fn definitions_name(xml: &str) -> String {
    let from = xml.find(" name=\"").unwrap() + 7;
    xml[from..].split('"').next().unwrap().to_owned()
}
