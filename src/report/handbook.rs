//! The rule pack as a book: every table with its reasons, sources, provenance and examples, every
//! fact with how to measure it.
//!
//! Takes a pack, gives HTML. Knows nothing of records.

use std::collections::BTreeMap;

use minijinja::context;
use minijinja::value::Serde;
use serde::Serialize;

use crate::facts::{Comes, Fact, FactKind, Value};
use crate::rules::{
    Body, Condition, Hit, HouseChange, Pack, Rank, Row, Table, Then, Work, canonical_unit,
};
use crate::units::System;

use super::ReportError;
use super::page::alone;

const PAGE: &str = include_str!("../../templates/handbook.html");

/// Everything the handbook shows.
#[derive(Debug, Serialize)]
pub struct Handbook {
    /// Version of the tool.
    pub version: String,
    /// Fingerprint of the rules.
    pub fingerprint: String,
    /// What house rules changed.
    pub house: Vec<HouseChange>,
    /// Topics, each with its tables.
    pub topics: Vec<Topic>,
    /// Facts, grouped by what they are about.
    pub facts: Vec<FactGroup>,
    /// Figures of the trade.
    pub figures: Vec<FigureEntry>,
    /// Causes.
    pub causes: Vec<CauseEntry>,
    /// Trade words.
    pub words: Vec<(String, String)>,
    /// Rows without an example, by table.
    pub without_example: Vec<(String, Vec<String>)>,
    /// Number of tables.
    pub table_count: usize,
    /// Number of rows, priors included.
    pub row_count: usize,
}

/// Tables of one folder of the pack.
#[derive(Debug, Serialize)]
pub struct Topic {
    /// Name of the folder.
    pub name: String,
    /// Its tables.
    pub tables: Vec<TableEntry>,
}

/// One table.
#[derive(Debug, Serialize)]
pub struct TableEntry {
    id: String,
    title: String,
    question: String,
    kind: String,
    about: String,
    scale: Option<String>,
    gives: Vec<String>,
    otherwise: Option<String>,
    applies: Vec<String>,
    contestants: Vec<Contestant>,
    priors: Vec<RowEntry>,
    rows: Vec<RowEntry>,
}

#[derive(Debug, Serialize)]
struct Contestant {
    name: String,
    plain: String,
    set: Vec<(String, String)>,
}

#[derive(Debug, Serialize)]
struct RowEntry {
    id: String,
    when: Vec<String>,
    then: String,
    because: String,
    plain: Option<String>,
    source: String,
    provenance: &'static str,
    safety: bool,
    set: Vec<(String, String)>,
    example: Vec<String>,
}

/// Facts about one kind of thing.
#[derive(Debug, Serialize)]
pub struct FactGroup {
    /// What they are about.
    pub about: String,
    facts: Vec<FactEntry>,
}

#[derive(Debug, Serialize)]
struct FactEntry {
    id: String,
    name: String,
    kind: String,
    values: Vec<(String, String)>,
    range: Option<String>,
    comes: String,
    ask: Option<String>,
    measure: Option<String>,
    work: Option<String>,
    only_for: Vec<String>,
    silent: Option<(String, String)>,
    product: Option<String>,
    read_by: Vec<String>,
}

/// One figure of the trade.
#[derive(Debug, Serialize)]
pub struct FigureEntry {
    id: String,
    name: String,
    text: String,
    source: String,
    provenance: &'static str,
}

/// One cause.
#[derive(Debug, Serialize)]
pub struct CauseEntry {
    id: String,
    name: String,
    plain: String,
    at_work: String,
    stops_by: String,
}

/// The handbook of a pack as one self-contained page.
///
/// # Errors
/// When the template asks for something that is not there.
pub fn handbook(pack: &Pack) -> Result<String, ReportError> {
    alone(
        "handbook.html",
        PAGE,
        &context! { b => Serde(&contents(pack)) },
    )
}

/// What the handbook of a pack holds.
pub fn contents(pack: &Pack) -> Handbook {
    let mut topics: BTreeMap<String, Vec<TableEntry>> = BTreeMap::new();
    let mut without_example = Vec::new();
    let mut row_count = 0;
    for table in &pack.tables {
        topics
            .entry(topic_of(&pack.files[table.file].name))
            .or_default()
            .push(table_entry(pack, table));
        let bare: Vec<String> = table
            .rows
            .iter()
            .filter(|r| r.example.is_empty())
            .map(|r| r.id.clone())
            .collect();
        row_count += table.rows.len();
        if let Body::Rank(rank) = &table.body {
            row_count += rank.priors.len();
        }
        if !bare.is_empty() {
            without_example.push((table.id.clone(), bare));
        }
    }
    let mut groups: Vec<FactGroup> = Vec::new();
    for (_, fact) in pack.vocabulary.facts() {
        let about = fact.scope.word().to_owned();
        let entry = fact_entry(pack, fact);
        match groups.iter_mut().find(|g| g.about == about) {
            Some(group) => group.facts.push(entry),
            None => groups.push(FactGroup {
                about,
                facts: vec![entry],
            }),
        }
    }
    Handbook {
        version: env!("CARGO_PKG_VERSION").to_owned(),
        fingerprint: pack.fingerprint.clone(),
        house: pack.house.clone(),
        topics: topics
            .into_iter()
            .map(|(name, tables)| Topic { name, tables })
            .collect(),
        facts: groups,
        figures: pack
            .vocabulary
            .figures()
            .into_iter()
            .map(|f| FigureEntry {
                id: f.id.clone(),
                name: f.name.clone(),
                text: f.text.clone(),
                source: f.source.source.clone(),
                provenance: f.source.provenance.words(),
            })
            .collect(),
        causes: pack
            .causes
            .iter()
            .map(|c| CauseEntry {
                id: c.id.clone(),
                name: c.name.clone(),
                plain: c.plain.clone(),
                at_work: c.at_work.clone(),
                stops_by: c.stops_by.clone(),
            })
            .collect(),
        words: pack
            .vocabulary
            .glossary
            .iter()
            .map(|t| (t.term.clone(), t.means.clone()))
            .collect(),
        without_example,
        table_count: pack.tables.len(),
        row_count,
    }
}

/// The folder a pack file lies in, as a heading.
fn topic_of(file: &str) -> String {
    let mut steps: Vec<&str> = file.split('/').collect();
    steps.pop();
    match steps.pop() {
        Some(folder) if !folder.is_empty() => folder.replace('_', " "),
        _ => "other".to_owned(),
    }
}

fn conditions(pack: &Pack, when: &[Condition]) -> Vec<String> {
    when.iter()
        .map(|c| format!("{} {}", pack.vocabulary.fact(c.fact).name, c.text))
        .collect()
}

fn value(fact: &Fact, value: Value) -> String {
    match (value, &fact.kind) {
        (Value::Number(i), FactKind::Quantity(kind)) => kind.write(i, System::Us),
        (Value::Choices(bits), FactKind::Choice { values, .. }) => {
            let names: Vec<&str> = bits
                .iter()
                .filter_map(|i| values.get(i))
                .map(|v| v.name.as_str())
                .collect();
            names.join(" or ")
        }
        _ => "not known".to_owned(),
    }
}

fn row_entry(pack: &Pack, table: &Table, row: &Row) -> RowEntry {
    let then = match (&table.body, &row.then) {
        (Body::Grade { gives, .. }, Then::Class(class)) => pack
            .vocabulary
            .fact(*gives)
            .values()
            .get(*class)
            .map_or_else(String::new, |v| v.name.clone()),
        (Body::Rank(rank), Then::Pushes { pushes, rules_out }) => {
            let name = |c: usize| rank.contestants[c].name.as_str();
            let mut parts: Vec<String> = pushes
                .iter()
                .map(|&(c, push)| format!("{} {push:+}", name(c)))
                .collect();
            parts.extend(rules_out.iter().map(|&c| format!("{}: ruled out", name(c))));
            parts.join("; ")
        }
        _ => String::new(),
    };
    RowEntry {
        id: row.id.clone(),
        when: conditions(pack, &row.when),
        then,
        because: row.because.clone(),
        plain: row.plain.clone(),
        source: row.source.source.clone(),
        provenance: row.source.provenance.words(),
        safety: row.safety,
        set: row
            .set
            .iter()
            .map(|(k, v)| (k.replace('_', " "), v.text().to_owned()))
            .collect(),
        example: row
            .example
            .iter()
            .map(|(id, v)| {
                let fact = pack.vocabulary.fact(*id);
                format!("{}: {}", fact.name, value(fact, *v))
            })
            .collect(),
    }
}

fn table_entry(pack: &Pack, table: &Table) -> TableEntry {
    let kind = match &table.body {
        Body::Grade {
            hit: Hit::First, ..
        } => "the first row that fires counts",
        Body::Grade {
            hit: Hit::Unique, ..
        } => "exactly one row fires",
        Body::Collect => "every row that fires is listed",
        Body::Rank(rank) if rank.evidence => {
            "signs push causes up and down; pushes are log-odds, and are judgement"
        }
        Body::Rank(_) => "candidates are ruled out, or preferred by points",
    };
    let (contestants, priors) = match &table.body {
        Body::Rank(rank) => (
            rank.contestants
                .iter()
                .map(|c| Contestant {
                    name: c.name.clone(),
                    plain: c.plain.clone(),
                    set: c
                        .set
                        .iter()
                        .map(|(k, v)| (k.replace('_', " "), v.text().to_owned()))
                        .collect(),
                })
                .collect(),
            prior_entries(pack, rank),
        ),
        _ => (Vec::new(), Vec::new()),
    };
    let otherwise = match &table.body {
        Body::Grade {
            otherwise: Some(bits),
            gives,
            ..
        } => Some(value(pack.vocabulary.fact(*gives), Value::Choices(*bits))),
        _ => None,
    };
    TableEntry {
        id: table.id.clone(),
        title: table.title.clone(),
        question: table.question.clone(),
        kind: kind.to_owned(),
        about: table.scope.named().to_owned(),
        scale: table.scale.clone(),
        gives: crate::rules::made_by(table)
            .into_iter()
            .map(|f| pack.vocabulary.fact(f).name.clone())
            .collect(),
        otherwise,
        applies: conditions(pack, &table.applies),
        contestants,
        priors,
        rows: table
            .rows
            .iter()
            .map(|r| row_entry(pack, table, r))
            .collect(),
    }
}

/// Priors, one entry a row; a row may set the prior of several causes.
fn prior_entries(pack: &Pack, rank: &Rank) -> Vec<RowEntry> {
    let mut out: Vec<RowEntry> = Vec::new();
    for p in &rank.priors {
        let then = format!("{} {:+}", rank.contestants[p.contestant].name, p.push);
        match out.last_mut().filter(|last| last.id == p.id) {
            Some(last) => last.then += &format!("; {then}"),
            None => out.push(RowEntry {
                id: p.id.clone(),
                when: conditions(pack, &p.when),
                then,
                because: p.because.clone(),
                plain: None,
                source: p.source.source.clone(),
                provenance: p.source.provenance.words(),
                safety: false,
                set: Vec::new(),
                example: Vec::new(),
            }),
        }
    }
    out
}

fn fact_entry(pack: &Pack, fact: &Fact) -> FactEntry {
    let id = pack.vocabulary.find(&fact.id);
    let (kind, values) = match &fact.kind {
        FactKind::Quantity(kind) => (
            format!("{}, held in {}", kind.named(), canonical_unit(*kind)),
            Vec::new(),
        ),
        FactKind::Choice { values, ordered } => (
            if *ordered {
                "a choice, in order"
            } else {
                "a choice"
            }
            .to_owned(),
            values
                .iter()
                .map(|v| (v.id.clone(), v.name.clone()))
                .collect(),
        ),
    };
    let comes = match (&fact.comes, id.and_then(|id| pack.maker(id))) {
        (Comes::Asked, _) => "asked of the inspector".to_owned(),
        (Comes::Survey, _) => "taken from the record's own fields".to_owned(),
        (Comes::Made, Some(Work::Table(t))) => format!("made by the table {}", pack.tables[t].id),
        (Comes::Made, _) => "made by a table".to_owned(),
        (Comes::Gathered { from, by }, _) => format!(
            "gathered from {from}, {}",
            match by {
                crate::facts::Gather::Worst => "the worst",
                crate::facts::Gather::Greatest => "the greatest",
                crate::facts::Gather::Sum => "the sum",
            }
        ),
    };
    let work = (fact.minutes > 0.0 || fact.wait_days > 0.0).then(|| {
        let mut text = format!("{} minutes, {}", fact.minutes, fact.who);
        if fact.wait_days > 0.0 {
            text += &format!("; {} days to wait", fact.wait_days);
        }
        text
    });
    FactEntry {
        id: fact.id.clone(),
        name: fact.name.clone(),
        kind,
        values,
        range: fact.range.map(|r| value(fact, Value::Number(r))),
        comes,
        ask: fact.ask.clone(),
        measure: fact.measure.clone(),
        work,
        only_for: fact.kinds.clone(),
        silent: fact
            .silent
            .as_ref()
            .map(|s| (value(fact, s.value), s.because.clone())),
        product: fact.product.as_ref().map(|product| {
            let named = |i: usize| fact.values().get(i).map_or("", |v| &v.id);
            let words = product.words.iter();
            let told: Vec<String> = words
                .map(|(i, words)| format!("{} by {}", named(*i), words.join(", ")))
                .collect();
            format!(
                "{}: {}; else {}. {} ({})",
                product.kind,
                told.join("; "),
                named(product.otherwise),
                product.source.source,
                product.source.provenance.words()
            )
        }),
        read_by: pack
            .tables
            .iter()
            .filter(|t| id.is_some_and(|id| t.inputs.contains(&id)))
            .map(|t| t.id.clone())
            .collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_handbook_holds_every_table_row_and_fact() {
        let pack = crate::rules::builtin().unwrap();
        let page = handbook(&pack).unwrap();
        for table in &pack.tables {
            assert!(
                page.contains(&format!("id=\"t-{}\"", table.id)),
                "{}",
                table.id
            );
            for row in &table.rows {
                assert!(page.contains(&format!("id=\"r-{}\"", row.id)), "{}", row.id);
            }
        }
        for (_, fact) in pack.vocabulary.facts() {
            assert!(
                page.contains(&format!("id=\"f-{}\"", fact.id)),
                "{}",
                fact.id
            );
        }
        // A row without an example is listed as such.
        let book = contents(&pack);
        let bare = pack
            .tables
            .iter()
            .flat_map(|t| &t.rows)
            .filter(|r| r.example.is_empty())
            .count();
        assert_eq!(
            book.without_example
                .iter()
                .map(|(_, r)| r.len())
                .sum::<usize>(),
            bare
        );
    }
}
