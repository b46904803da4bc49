//! The engine against a naive reader of the same packs.
//!
//! Random small packs (hit policies first, unique and collect, evidence, choice, gathered facts,
//! several chained tables in several scopes) and random partial records. The reference below knows
//! nothing of cells and masks: it reads every condition from its written text and tries every
//! completion of every table.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

use proptest::prelude::*;
use ringtrue::facts::{Bits, Interval, Scope, Value};
use ringtrue::rules::{
    Asking, Board, Body, Pack, PackFile, Spot, Thing, Trail, ask, exact, load, run,
};
use ringtrue::source::{Problems, SourceFile};

mod things;
use things::thing;

// ------------------------------------------------------------------------------- what is written

#[derive(Debug, Clone)]
struct FactText {
    id: String,
    scope: Scope,
    /// Empty for a number.
    values: Vec<String>,
    ordered: bool,
    /// Gathered from this fact.
    from: Option<String>,
    /// Value or number when there is nothing to gather.
    none: Option<String>,
    entry: bool,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Kind {
    First,
    Unique,
    Collect,
    Evidence,
    Choice,
}

#[derive(Debug, Clone, Default)]
struct RowText {
    when: Vec<(String, String)>,
    then: String,
    /// Contestant and push in tenths; `None` rules it out.
    pushes: Vec<(usize, Option<i64>)>,
}

/// Contestant, conditions, push in tenths.
type Prior = (usize, Vec<(String, String)>, i64);

#[derive(Debug, Clone)]
struct TableText {
    id: String,
    scope: Scope,
    kind: Kind,
    applies: Vec<(String, String)>,
    otherwise: Option<String>,
    gives: String,
    contestants: Vec<String>,
    standing: Option<(usize, String)>,
    /// Contestant, conditions, push in tenths.
    priors: Vec<Prior>,
    rows: Vec<RowText>,
}

#[derive(Debug, Clone, Default)]
struct PackText {
    facts: Vec<FactText>,
    tables: Vec<TableText>,
}

/// Numbers come from a tape, so that a failing case shrinks to a short and simple tape.
struct Tape<'a> {
    tape: &'a [u32],
    at: usize,
}

impl Tape<'_> {
    fn upto(&mut self, n: usize) -> usize {
        let x = self.tape.get(self.at).copied().unwrap_or(0) as usize;
        self.at += 1;
        x % n.max(1)
    }

    fn often(&mut self, in_four: usize) -> bool {
        self.upto(4) >= 4 - in_four
    }

    fn pick<T: Clone>(&mut self, list: &[T]) -> T {
        list[self.upto(list.len())].clone()
    }
}

const MOST: i64 = 12;
const SCOPES: [Scope; 4] = [Scope::Site, Scope::Slab, Scope::Area, Scope::Defect];
const WORDS: [&str; 4] = ["wa", "wb", "wc", "wd"];

fn words(n: usize) -> Vec<String> {
    WORDS[..n].iter().map(|w| (*w).to_owned()).collect()
}

impl PackText {
    fn fact(&self, id: &str) -> &FactText {
        self.facts.iter().find(|f| f.id == id).unwrap()
    }

    fn random(t: &mut Tape<'_>) -> PackText {
        let mut pack = PackText::default();
        for i in 0..3 + t.upto(3) {
            let values = if t.often(2) {
                Vec::new()
            } else {
                words(2 + t.upto(3))
            };
            pack.facts.push(FactText {
                id: format!("e{i}"),
                scope: t.pick(&SCOPES),
                ordered: !values.is_empty() && t.often(2),
                values,
                from: None,
                none: None,
                entry: true,
            });
        }
        for i in 0..2 + t.upto(4) {
            // Now and then something is gathered first, so that a table may read it.
            let inner: Vec<FactText> = pack
                .facts
                .iter()
                .filter(|f| matches!(f.scope, Scope::Defect | Scope::Area))
                .filter(|f| f.values.is_empty() || f.ordered)
                .cloned()
                .collect();
            if !inner.is_empty() && t.often(2) {
                let from = t.pick(&inner);
                let none = t.often(2).then(|| match from.values.first() {
                    Some(word) => word.clone(),
                    None => "0".to_owned(),
                });
                pack.facts.push(FactText {
                    id: format!("g{i}"),
                    scope: if from.scope == Scope::Area || t.often(1) {
                        Scope::Slab
                    } else {
                        Scope::Area
                    },
                    values: from.values.clone(),
                    ordered: from.ordered,
                    from: Some(from.id.clone()),
                    none,
                    entry: false,
                });
            }
            let table = pack.random_table(t, i);
            pack.tables.push(table);
        }
        pack
    }

    fn random_table(&mut self, t: &mut Tape<'_>, i: usize) -> TableText {
        let scope = t.pick(&[Scope::Defect, Scope::Area, Scope::Slab, Scope::Defect]);
        let kind = t.pick(&[
            Kind::First,
            Kind::Unique,
            Kind::Evidence,
            Kind::Choice,
            Kind::Collect,
        ]);
        let visible: Vec<FactText> = self
            .facts
            .iter()
            .filter(|f| f.scope.reaches(scope))
            .cloned()
            .collect();
        let mut inputs: Vec<FactText> = Vec::new();
        for _ in 0..1 + t.upto(3) {
            if !visible.is_empty() {
                // Later facts are made ones; prefer them a little, to get chains.
                let at = if t.often(2) {
                    visible.len() - 1 - t.upto(visible.len().min(3))
                } else {
                    t.upto(visible.len())
                };
                if !inputs.iter().any(|f| f.id == visible[at].id) {
                    inputs.push(visible[at].clone());
                }
            }
        }
        let condition = |t: &mut Tape<'_>, f: &FactText| (f.id.clone(), random_test(t, f));
        let applies: Vec<(String, String)> = inputs
            .first()
            .filter(|_| t.often(1))
            .map(|f| condition(t, f))
            .into_iter()
            .collect();
        let mut table = TableText {
            id: format!("t{i}"),
            scope,
            kind,
            applies,
            otherwise: None,
            gives: format!("m{i}"),
            contestants: Vec::new(),
            standing: None,
            priors: Vec::new(),
            rows: Vec::new(),
        };
        let mut values = words(2 + t.upto(3));
        let some = |t: &mut Tape<'_>| -> Vec<(String, String)> {
            let mut when = Vec::new();
            for f in &inputs {
                if t.often(2) {
                    when.push(condition(t, f));
                }
            }
            when
        };
        match kind {
            Kind::First | Kind::Collect => {
                for _ in 0..1 + t.upto(4) {
                    table.rows.push(RowText {
                        when: some(t),
                        then: t.pick(&values),
                        pushes: Vec::new(),
                    });
                }
                if t.often(3) {
                    table.rows.push(RowText {
                        when: Vec::new(),
                        then: t.pick(&values),
                        pushes: Vec::new(),
                    });
                }
            }
            Kind::Unique => {
                // Rows that can't overlap: parts of one fact, one of them parted again.
                let Some(f) = inputs.first() else {
                    table.rows.push(RowText {
                        when: Vec::new(),
                        then: values[0].clone(),
                        pushes: Vec::new(),
                    });
                    self.push_made(&table, values);
                    return table;
                };
                let parts: Vec<String> = if f.values.is_empty() {
                    let (a, b) = (1 + t.upto(5), 7 + t.upto(4));
                    vec![format!("< {a}"), format!("[{a}..{b})"), format!(">= {b}")]
                } else {
                    f.values.clone()
                };
                for part in parts {
                    let first = (f.id.clone(), part);
                    match inputs.get(1).filter(|_| t.often(2)) {
                        Some(g) => {
                            let test = if g.values.is_empty() {
                                "< 6".to_owned()
                            } else {
                                g.values[0].clone()
                            };
                            for other in [test.clone(), format!("not({test})")] {
                                table.rows.push(RowText {
                                    when: vec![first.clone(), (g.id.clone(), other)],
                                    then: t.pick(&values),
                                    pushes: Vec::new(),
                                });
                            }
                        }
                        None => table.rows.push(RowText {
                            when: vec![first],
                            then: t.pick(&values),
                            pushes: Vec::new(),
                        }),
                    }
                }
            }
            Kind::Evidence | Kind::Choice => {
                table.contestants = values.clone();
                let n = table.contestants.len();
                for _ in 0..1 + t.upto(5) {
                    let mut row = RowText {
                        when: some(t),
                        ..RowText::default()
                    };
                    let first = t.upto(n);
                    let push = |t: &mut Tape<'_>| {
                        if t.often(1) {
                            None
                        } else {
                            Some(t.upto(41) as i64 - 20)
                        }
                    };
                    if kind == Kind::Evidence {
                        row.pushes.push((first, push(t)));
                        if t.often(2) {
                            row.pushes.push(((first + 1) % n, push(t)));
                        }
                    } else {
                        let push = push(t);
                        row.pushes.push((first, push));
                        if t.often(1) {
                            row.pushes.push(((first + 1) % n, push));
                        }
                    }
                    table.rows.push(row);
                }
                if kind == Kind::Evidence {
                    for _ in 0..t.upto(3) {
                        let c = t.upto(n);
                        table.priors.push((c, some(t), t.upto(31) as i64 - 20));
                    }
                    if t.often(2) {
                        table.standing = Some((t.upto(n), format!("s{i}")));
                    }
                }
                if t.often(2) {
                    values.push("none".to_owned());
                }
            }
        }
        if matches!(kind, Kind::First | Kind::Unique) && !table.applies.is_empty() && t.often(2) {
            table.otherwise = Some(t.pick(&values));
        }
        self.push_made(&table, values);
        table
    }

    fn push_made(&mut self, table: &TableText, values: Vec<String>) {
        let made = |id: &str, values: Vec<String>| FactText {
            id: id.to_owned(),
            scope: table.scope,
            values,
            ordered: true,
            from: None,
            none: None,
            entry: false,
        };
        if table.kind != Kind::Collect {
            self.facts.push(made(&table.gives, values));
        }
        if let Some((_, id)) = &table.standing {
            let words = ["unlikely", "possible", "likely"]
                .map(str::to_owned)
                .to_vec();
            self.facts.push(made(id, words));
        }
    }

    /// The pack as files.
    fn files(&self) -> Vec<(String, String)> {
        let mut facts = String::from("facts:\n");
        for f in &self.facts {
            let _ = write!(
                facts,
                "  {}: {{scope: {}, name: {}, ",
                f.id,
                f.scope.word(),
                f.id
            );
            if f.values.is_empty() {
                let _ = write!(facts, "kind: number, range: 0 to {MOST}, ");
            } else {
                let _ = write!(
                    facts,
                    "kind: choice, values: [{}], ordered: {}, ",
                    f.values.join(", "),
                    if f.ordered { "yes" } else { "no" }
                );
            }
            match &f.from {
                Some(from) => {
                    let by = if f.values.is_empty() {
                        "greatest"
                    } else {
                        "worst"
                    };
                    let _ = write!(
                        facts,
                        "comes: gathered, gathered: {{from: {from}, by: {by}}}"
                    );
                }
                None if f.entry => facts += "comes: asked, ask: What?",
                None => facts += "comes: made",
            }
            if let Some(none) = &f.none {
                let _ = write!(facts, ", none: {none}");
            }
            facts += "}\n";
        }
        let mut causes = String::from("causes:\n");
        for w in WORDS {
            let _ = writeln!(
                causes,
                "  {w}: {{name: {w}, plain: P., at_work: always, stops_by: nothing}}"
            );
        }
        let mut out = vec![
            ("facts.yaml".to_owned(), facts),
            ("causes.yaml".to_owned(), causes),
        ];
        for t in &self.tables {
            out.push((format!("{}.yaml", t.id), t.yaml()));
        }
        out
    }
}

/// Conditions as a YAML block.
fn when_yaml(when: &[(String, String)]) -> String {
    let parts: Vec<String> = when.iter().map(|(f, t)| format!("{f}: \"{t}\"")).collect();
    format!("{{{}}}", parts.join(", "))
}

fn tenths(x: i64) -> String {
    format!(
        "{}{}.{}",
        if x < 0 { "-" } else { "" },
        x.abs() / 10,
        x.abs() % 10
    )
}

impl TableText {
    fn yaml(&self) -> String {
        let mut out = format!(
            "table: {}\ntitle: T\nscope: {}\nquestion: Q?\n",
            self.id,
            self.scope.word()
        );
        if !self.applies.is_empty() {
            let _ = writeln!(out, "applies: {}", when_yaml(&self.applies));
        }
        let _ = match self.kind {
            Kind::First => writeln!(out, "kind: grade\nhit: first\ngives: {}", self.gives),
            Kind::Unique => writeln!(out, "kind: grade\nhit: unique\ngives: {}", self.gives),
            Kind::Collect => writeln!(out, "kind: grade\nhit: collect"),
            Kind::Evidence => writeln!(
                out,
                "kind: evidence\ngives: {}\ncauses: [{}]",
                self.gives,
                self.contestants.join(", ")
            ),
            Kind::Choice => writeln!(out, "kind: choice\ngives: {}", self.gives),
        };
        if self.kind == Kind::Choice {
            out += "candidates:\n";
            for c in &self.contestants {
                let _ = writeln!(out, "  {c}: {{name: {c}}}");
            }
        }
        if let Some(word) = &self.otherwise {
            let _ = writeln!(out, "otherwise: {word}");
        }
        if let Some((c, fact)) = &self.standing {
            let _ = writeln!(out, "also: {{{}: {fact}}}", self.contestants[*c]);
        }
        let note = "because: B., source: S, provenance: practice";
        if !self.priors.is_empty() {
            out += "priors:\n";
            for (i, (c, when, push)) in self.priors.iter().enumerate() {
                let _ = writeln!(
                    out,
                    "  - {{id: {}-p{i}, when: {}, cause: {}, push: {}, {note}}}",
                    self.id,
                    when_yaml(when),
                    self.contestants[*c],
                    tenths(*push)
                );
            }
        }
        out += "rows:\n";
        for (i, row) in self.rows.iter().enumerate() {
            let _ = write!(
                out,
                "  - {{id: {}-r{i}, when: {}, {note}",
                self.id,
                when_yaml(&row.when)
            );
            let named = |wanted: bool| -> Vec<&str> {
                row.pushes
                    .iter()
                    .filter(|(_, p)| p.is_none() == wanted)
                    .map(|(c, _)| self.contestants[*c].as_str())
                    .collect()
            };
            match self.kind {
                Kind::First | Kind::Unique => {
                    let _ = write!(out, ", then: {}", row.then);
                }
                Kind::Collect => {}
                Kind::Evidence => {
                    let pushes: Vec<String> = row
                        .pushes
                        .iter()
                        .filter_map(|(c, p)| {
                            p.map(|p| format!("{}: {}", self.contestants[*c], tenths(p)))
                        })
                        .collect();
                    if !pushes.is_empty() {
                        let _ = write!(out, ", push: {{{}}}", pushes.join(", "));
                    }
                    if !named(true).is_empty() {
                        let _ = write!(out, ", rules_out: [{}]", named(true).join(", "));
                    }
                }
                Kind::Choice => {
                    let out_of_it = !named(true).is_empty();
                    let _ = write!(out, ", candidate: [{}]", named(out_of_it).join(", "));
                    match row.pushes[0].1 {
                        Some(p) => {
                            let _ = write!(out, ", prefers: {}", tenths(p));
                        }
                        None => out += ", rules_out: true",
                    }
                }
            }
            out += "}\n";
        }
        out
    }
}

/// A condition on a fact, as written.
fn random_test(t: &mut Tape<'_>, f: &FactText) -> String {
    if f.values.is_empty() {
        let a = 1 + t.upto(6);
        let b = a + 1 + t.upto(5);
        return match t.upto(7) {
            0 => format!("< {a}"),
            1 => format!(">= {b}"),
            2 => format!("[{a}..{b})"),
            3 => format!("({a}..{b}]"),
            4 => format!("< {a}, > {b}"),
            5 => format!("not([{a}..{b}])"),
            _ => format!("{a}"),
        };
    }
    let word = t.pick(&f.values);
    let other = t.pick(&f.values);
    match t.upto(if f.ordered { 6 } else { 3 }) {
        0 => word,
        1 => format!("{word}, {other}"),
        2 => format!("not({word})"),
        3 => format!(">= {word}"),
        4 => format!("<= {word}"),
        _ => format!("> {word}"),
    }
}

// ------------------------------------------------------------------------------ naive reference

/// One plain value.
#[derive(Debug, Clone, PartialEq, PartialOrd)]
enum Plain {
    Number(f64),
    Word(String),
}

/// Whether a written condition holds for a plain value.
fn naive_holds(f: &FactText, test: &str, value: &Plain) -> bool {
    let test = test.trim();
    if let Some(inner) = test.strip_prefix("not(").and_then(|t| t.strip_suffix(')')) {
        return !naive_holds(f, inner, value);
    }
    test.split(',').map(str::trim).any(|part| match value {
        Plain::Word(word) => {
            let place = |w: &str| f.values.iter().position(|v| v == w).unwrap();
            let here = place(word);
            if let Some(w) = part.strip_prefix(">=") {
                here >= place(w.trim())
            } else if let Some(w) = part.strip_prefix("<=") {
                here <= place(w.trim())
            } else if let Some(w) = part.strip_prefix('>') {
                here > place(w.trim())
            } else {
                here == place(part)
            }
        }
        Plain::Number(x) => {
            let number = |t: &str| t.trim().parse::<f64>().unwrap();
            if let Some(t) = part.strip_prefix(">=") {
                *x >= number(t)
            } else if let Some(t) = part.strip_prefix('<') {
                *x < number(t)
            } else if let Some(t) = part.strip_prefix('>') {
                *x > number(t)
            } else if let Some((a, b)) = part.split_once("..") {
                let (open, a) = a.split_at(1);
                let (b, close) = b.split_at(b.len() - 1);
                let above = if open == "[" {
                    *x >= number(a)
                } else {
                    *x > number(a)
                };
                let below = if close == "]" {
                    *x <= number(b)
                } else {
                    *x < number(b)
                };
                above && below
            } else {
                *x == number(part)
            }
        }
    })
}

/// Possible plain values of every fact of every thing.
type Known = BTreeMap<(usize, String), Vec<Plain>>;

/// Every number worth trying for a fact: half a step below, at and above every number written in a
/// condition, inside the plausible range. Conditions are written in whole numbers.
fn worth_trying() -> Vec<Plain> {
    (0..=2 * MOST)
        .map(|i| Plain::Number(i as f64 / 2.0))
        .collect()
}

fn everything(f: &FactText) -> Vec<Plain> {
    if f.values.is_empty() {
        worth_trying()
    } else {
        f.values.iter().cloned().map(Plain::Word).collect()
    }
}

struct Reference<'a> {
    pack: &'a PackText,
    things: &'a [Thing],
}

/// What a table may say: classes, and for rankings the range of every score in tenths
/// (`None` below when it may be ruled out) and the rows that fire.
#[derive(Debug, Default)]
struct Said {
    values: BTreeSet<String>,
    standing: BTreeSet<String>,
    scores: Vec<(Option<i64>, Option<i64>)>,
    may_fire: BTreeSet<usize>,
    must_fire: BTreeSet<usize>,
    applied: bool,
}

impl Reference<'_> {
    fn holder(&self, thing: usize, scope: Scope) -> Option<usize> {
        let mut at = Some(thing);
        while let Some(i) = at {
            if self.things[i].scope == scope {
                return Some(i);
            }
            at = self.things[i].outer;
        }
        None
    }

    fn of<'k>(&self, known: &'k Known, thing: usize, fact: &FactText) -> &'k Vec<Plain> {
        &known[&(self.holder(thing, fact.scope).unwrap(), fact.id.clone())]
    }

    /// Runs gathers and tables in the order written, which is an order of need.
    fn run(&self, known: &mut Known) -> BTreeMap<(usize, usize), Said> {
        let mut all = BTreeMap::new();
        for (t, table) in self.pack.tables.iter().enumerate() {
            for f in self.pack.facts.iter().filter(|f| f.from.is_some()) {
                // Facts are listed before the table that follows them.
                self.gather(known, f);
            }
            for thing in 0..self.things.len() {
                if self.things[thing].scope == table.scope {
                    let said = self.table(known, table, thing);
                    let made = |words: &BTreeSet<String>, id: &str| {
                        let fact = self.pack.fact(id);
                        if words.is_empty() {
                            everything(fact)
                        } else {
                            everything(fact)
                                .into_iter()
                                .filter(|v| matches!(v, Plain::Word(w) if words.contains(w)))
                                .collect()
                        }
                    };
                    if table.kind != Kind::Collect {
                        known.insert(
                            (thing, table.gives.clone()),
                            made(&said.values, &table.gives),
                        );
                    }
                    if let Some((_, id)) = &table.standing {
                        known.insert((thing, id.clone()), made(&said.standing, id));
                    }
                    all.insert((t, thing), said);
                }
            }
        }
        for f in self.pack.facts.iter().filter(|f| f.from.is_some()) {
            self.gather(known, f);
        }
        all
    }

    fn gather(&self, known: &mut Known, outer: &FactText) {
        let from = self.pack.fact(outer.from.as_ref().unwrap());
        for thing in 0..self.things.len() {
            if self.things[thing].scope != outer.scope {
                continue;
            }
            let place = |v: &Plain| everything(from).iter().position(|e| e == v).unwrap();
            let inner: Vec<Vec<Plain>> = (0..self.things.len())
                .filter(|&t| {
                    self.things[t].scope == from.scope && self.holder(t, outer.scope) == Some(thing)
                })
                .filter_map(|t| known.get(&(t, from.id.clone())).cloned())
                .collect();
            let mut possible: Vec<Plain> = Vec::new();
            if inner.is_empty() {
                possible = match &outer.none {
                    Some(none) if outer.values.is_empty() => {
                        vec![Plain::Number(none.parse().unwrap())]
                    }
                    Some(none) => vec![Plain::Word(none.clone())],
                    None => everything(outer),
                };
            } else {
                each(&inner, &mut |picked| {
                    let worst = picked.iter().max_by_key(|v| place(v)).unwrap();
                    if !possible.contains(worst) {
                        possible.push(worst.clone());
                    }
                });
                possible.sort_by_key(&place);
            }
            known.insert((thing, outer.id.clone()), possible);
        }
    }

    fn table(&self, known: &Known, table: &TableText, thing: usize) -> Said {
        let mut facts: Vec<&FactText> = Vec::new();
        let conditions = table
            .applies
            .iter()
            .chain(table.rows.iter().flat_map(|r| &r.when))
            .chain(table.priors.iter().flat_map(|p| &p.1));
        for (id, _) in conditions {
            if !facts.iter().any(|f| f.id == *id) {
                facts.push(self.pack.fact(id));
            }
        }
        let sets: Vec<Vec<Plain>> = facts
            .iter()
            .map(|f| self.of(known, thing, f).clone())
            .collect();
        let n = table.contestants.len();
        let mut said = Said {
            scores: Vec::new(),
            applied: true,
            must_fire: (0..table.rows.len()).collect(),
            ..Said::default()
        };
        let everywhere: Vec<String> = if table.kind == Kind::Collect {
            Vec::new()
        } else {
            self.pack.fact(&table.gives).values.clone()
        };
        each(&sets, &mut |picked| {
            let holds = |when: &[(String, String)]| {
                when.iter().all(|(id, test)| {
                    let at = facts.iter().position(|f| f.id == *id).unwrap();
                    naive_holds(facts[at], test, &picked[at])
                })
            };
            if !holds(&table.applies) {
                said.applied = false;
                said.must_fire.clear();
                match &table.otherwise {
                    Some(word) => {
                        said.values.insert(word.clone());
                    }
                    None => said.values.extend(everywhere.iter().cloned()),
                }
                said.standing.insert("unlikely".to_owned());
                return;
            }
            let firing: BTreeSet<usize> = (0..table.rows.len())
                .filter(|&r| holds(&table.rows[r].when))
                .collect();
            let fired: BTreeSet<usize> = match table.kind {
                Kind::First => firing.iter().take(1).copied().collect(),
                _ => firing,
            };
            said.must_fire.retain(|r| fired.contains(r));
            said.may_fire.extend(&fired);
            match table.kind {
                Kind::First | Kind::Unique => match fired.first() {
                    Some(&r) => {
                        said.values.insert(table.rows[r].then.clone());
                    }
                    // Nobody covers it, so nothing is said.
                    None => said.values.extend(everywhere.iter().cloned()),
                },
                Kind::Collect => {}
                Kind::Evidence | Kind::Choice => {
                    let mut sums: Vec<Option<i64>> = vec![Some(0); n];
                    for (c, sum) in sums.iter_mut().enumerate() {
                        if let Some((_, _, push)) = table
                            .priors
                            .iter()
                            .find(|(pc, when, _)| *pc == c && holds(when))
                        {
                            *sum = sum.map(|s| s + push);
                        }
                    }
                    for &r in &fired {
                        for (c, push) in &table.rows[r].pushes {
                            sums[*c] = match (sums[*c], push) {
                                (Some(s), Some(p)) => Some(s + p),
                                _ => None,
                            };
                        }
                    }
                    let best = sums.iter().flatten().max().copied();
                    match best {
                        Some(best) => {
                            let leader = sums.iter().position(|s| *s == Some(best)).unwrap();
                            said.values.insert(table.contestants[leader].clone());
                        }
                        None if everywhere.iter().any(|v| v == "none") => {
                            said.values.insert("none".to_owned());
                        }
                        None => said.values.extend(everywhere.iter().cloned()),
                    }
                    if let Some((c, _)) = &table.standing {
                        said.standing.insert(match sums[*c] {
                            Some(s) if s >= 15 => "likely".to_owned(),
                            Some(s) if s >= -5 => "possible".to_owned(),
                            _ => "unlikely".to_owned(),
                        });
                    }
                    if said.scores.is_empty() {
                        said.scores = sums.iter().map(|s| (*s, *s)).collect();
                    } else {
                        for (range, s) in said.scores.iter_mut().zip(&sums) {
                            // `None`, ruled out, is less than every number.
                            range.0 = range.0.min(*s);
                            range.1 = range.1.max(*s);
                        }
                    }
                }
            }
        });
        // Where the table may not apply, a leader is not handed on at all.
        if !said.applied && matches!(table.kind, Kind::Evidence | Kind::Choice) {
            said.values = everywhere.into_iter().collect();
        }
        said
    }
}

/// Calls `f` with every way to pick one of each set.
fn each(sets: &[Vec<Plain>], f: &mut impl FnMut(&[Plain])) {
    fn go(sets: &[Vec<Plain>], picked: &mut Vec<Plain>, f: &mut impl FnMut(&[Plain])) {
        match sets.get(picked.len()) {
            None => f(picked),
            Some(set) => {
                for v in set {
                    picked.push(v.clone());
                    go(sets, picked, f);
                    picked.pop();
                }
            }
        }
    }
    go(sets, &mut Vec::new(), f);
}

// ------------------------------------------------------------------------------------ the match

fn things(t: &mut Tape<'_>) -> Vec<Thing> {
    let mut out = vec![thing(Scope::Site, None), thing(Scope::Slab, Some(0))];
    for _ in 0..1 + t.upto(2) {
        let area = out.len();
        out.push(thing(Scope::Area, Some(1)));
        for _ in 0..t.upto(3) {
            out.push(thing(Scope::Defect, Some(area)));
        }
    }
    out
}

/// What the record says: for every entry fact of every thing the plain values still possible.
fn record(t: &mut Tape<'_>, pack: &PackText, things: &[Thing]) -> Known {
    let mut known = Known::new();
    for f in pack.facts.iter().filter(|f| f.entry) {
        for (i, thing) in things.iter().enumerate() {
            if thing.scope != f.scope {
                continue;
            }
            let all = everything(f);
            let lo = t.upto(all.len());
            let possible = match t.upto(4) {
                0 | 3 => vec![all[lo].clone()],
                1 => all,
                _ if f.values.is_empty() => all[lo..(lo + 1 + t.upto(6)).min(all.len())].to_vec(),
                _ => all
                    .iter()
                    .filter(|v| **v == all[lo] || t.often(2))
                    .cloned()
                    .collect(),
            };
            known.insert((i, f.id.clone()), possible);
        }
    }
    known
}

fn value_of(f: &FactText, possible: &[Plain]) -> Value {
    if possible.len() == everything(f).len() {
        return Value::Unknown;
    }
    let numbers: Vec<f64> = possible
        .iter()
        .filter_map(|v| match v {
            Plain::Number(x) => Some(*x),
            Plain::Word(_) => None,
        })
        .collect();
    if let (Some(&lo), Some(&hi)) = (numbers.first(), numbers.last()) {
        return Value::Number(Interval { lo, hi });
    }
    let mut bits = Bits::NONE;
    for v in possible {
        if let Plain::Word(w) = v {
            bits = bits.or(Bits::one(f.values.iter().position(|x| x == w).unwrap()));
        }
    }
    Value::Choices(bits)
}

fn fill(pack: &Pack, text: &PackText, board: &mut Board, known: &Known) {
    board.clear(pack);
    for ((thing, id), possible) in known {
        let f = text.fact(id);
        if f.entry {
            board.set(
                pack,
                *thing,
                pack.vocabulary.find(id).unwrap(),
                value_of(f, possible),
            );
        }
    }
}

/// Cells as the plain values in them.
fn plain_of(pack: &Pack, f: &FactText, cells: Bits) -> Vec<Plain> {
    let fact = pack.vocabulary.find(&f.id).unwrap();
    everything(f)
        .into_iter()
        .enumerate()
        .filter(|(i, v)| match v {
            Plain::Word(_) => cells.has(*i),
            Plain::Number(x) => cells.has(pack.cells[usize::from(fact.0)].of_number(*x)),
        })
        .map(|(_, v)| v)
        .collect()
}

/// The cells plain values lie in.
fn cells_of(pack: &Pack, f: &FactText, values: &[Plain]) -> Bits {
    let fact = pack.vocabulary.find(&f.id).unwrap();
    values.iter().fold(Bits::NONE, |bits, v| {
        bits.or(Bits::one(match v {
            Plain::Word(w) => f.values.iter().position(|x| x == w).unwrap(),
            Plain::Number(x) => pack.cells[usize::from(fact.0)].of_number(*x),
        }))
    })
}

fn compiled(text: &PackText) -> Pack {
    let mut problems = Problems::default();
    let files: Vec<PackFile> = text
        .files()
        .into_iter()
        .filter_map(|(name, body)| {
            PackFile::read(SourceFile::new(name, body), false, &mut problems)
        })
        .collect();
    let pack = load(&files, &mut problems);
    pack.unwrap_or_else(|| panic!("{}", problems.render(false)))
}

/// Every completion of a record, or `None` when there are more than `limit`.
fn completions(known: &Known, limit: usize) -> Option<Vec<Known>> {
    let count = known.values().try_fold(1usize, |n, v| {
        n.checked_mul(v.len()).filter(|n| *n <= limit)
    })?;
    let keys: Vec<_> = known.keys().cloned().collect();
    let sets: Vec<Vec<Plain>> = known.values().cloned().collect();
    let mut out = Vec::with_capacity(count);
    each(&sets, &mut |picked| {
        out.push(
            keys.iter()
                .cloned()
                .zip(picked.iter().map(|v| vec![v.clone()]))
                .collect(),
        );
    });
    Some(out)
}

/// Keeps, of every open number, one plain value for each stretch that no condition of the pack
/// divides, so that completions stay few. Stretches are found from the written conditions.
fn thinned(text: &PackText, known: &Known) -> Known {
    let mut conditions: Vec<(&str, &str)> = Vec::new();
    for t in &text.tables {
        let all = t
            .applies
            .iter()
            .chain(t.rows.iter().flat_map(|r| &r.when))
            .chain(t.priors.iter().flat_map(|p| &p.1));
        conditions.extend(all.map(|(f, c)| (f.as_str(), c.as_str())));
    }
    let linked = |a: &str, b: &str| {
        let root = |id: &str| {
            let mut id = id.to_owned();
            while let Some(from) = &text.fact(&id).from {
                id = from.clone();
            }
            id
        };
        root(a) == root(b)
    };
    known
        .iter()
        .map(|((thing, id), possible)| {
            let f = text.fact(id);
            let mine: Vec<&str> = conditions
                .iter()
                .filter(|(c, _)| linked(c, id))
                .map(|(_, c)| *c)
                .collect();
            let mut seen: Vec<Vec<bool>> = Vec::new();
            let kept = possible
                .iter()
                .filter(|v| {
                    let told: Vec<bool> = mine.iter().map(|c| naive_holds(f, c, v)).collect();
                    let fresh = seen.last() != Some(&told);
                    seen.push(told);
                    fresh || !f.values.is_empty()
                })
                .cloned()
                .collect();
            ((*thing, id.clone()), kept)
        })
        .collect()
}

/// For each fact of a thing: the open entry facts that reach it, and whether by two ways.
type Ways = BTreeMap<(usize, String), (BTreeSet<(usize, String)>, bool)>;

/// The open entry facts that reach each fact, and whether some table or gathering on the way reads
/// one of them by two ways.
fn ways(text: &PackText, things: &[Thing], known: &Known) -> Ways {
    let r = Reference { pack: text, things };
    let mut out: Ways = BTreeMap::new();
    for ((thing, id), possible) in known {
        let set = if possible.len() > 1 {
            BTreeSet::from([(*thing, id.clone())])
        } else {
            BTreeSet::new()
        };
        out.insert((*thing, id.clone()), (set, false));
    }
    let join = |reads: Vec<(BTreeSet<(usize, String)>, bool)>| {
        let mut all = BTreeSet::new();
        let mut twice = false;
        for (set, t) in reads {
            twice |= t || set.iter().any(|x| all.contains(x));
            all.extend(set);
        }
        (all, twice)
    };
    // Facts are written in an order of need.
    for f in text.facts.iter().filter(|f| !f.entry) {
        for thing in (0..things.len()).filter(|&t| things[t].scope == f.scope) {
            let reads = match &f.from {
                Some(from) => (0..things.len())
                    .filter(|&t| {
                        things[t].scope == text.fact(from).scope
                            && r.holder(t, f.scope) == Some(thing)
                    })
                    .filter_map(|t| out.get(&(t, from.clone())).cloned())
                    .collect(),
                None => {
                    let table = text
                        .tables
                        .iter()
                        .find(|t| {
                            t.gives == f.id || t.standing.as_ref().is_some_and(|s| s.1 == f.id)
                        })
                        .unwrap();
                    let ids: BTreeSet<&str> = table
                        .applies
                        .iter()
                        .chain(table.rows.iter().flat_map(|r| &r.when))
                        .chain(table.priors.iter().flat_map(|p| &p.1))
                        .map(|(id, _)| id.as_str())
                        .collect();
                    ids.into_iter()
                        .map(|id| {
                            out[&(r.holder(thing, text.fact(id).scope).unwrap(), id.to_owned())]
                                .clone()
                        })
                        .collect()
                }
            };
            out.insert((thing, f.id.clone()), join(reads));
        }
    }
    out
}

fn check(tape: &[u32]) -> Result<(), TestCaseError> {
    let mut t = Tape { tape, at: 0 };
    let text = PackText::random(&mut t);
    let pack = compiled(&text);
    let things = things(&mut t);
    let known = record(&mut t, &text, &things);
    let reference = Reference {
        pack: &text,
        things: &things,
    };
    let mut board = Board::new(&pack, things.clone());
    let mut trail = Trail::default();

    // One pass of the engine against one naive pass, table by table.
    fill(&pack, &text, &mut board, &known);
    run(&pack, &mut board, &mut trail);
    let mut naive = known.clone();
    let said = reference.run(&mut naive);
    let spots: Vec<(usize, &FactText)> = text
        .facts
        .iter()
        .filter(|f| !f.entry)
        .flat_map(|f| {
            (0..things.len())
                .filter(|&i| things[i].scope == f.scope)
                .map(move |i| (i, f))
        })
        .collect();
    let spot = |thing: usize, f: &FactText| Spot {
        thing,
        fact: pack.vocabulary.find(&f.id).unwrap(),
    };
    for &(thing, f) in &spots {
        let wanted = &naive[&(thing, f.id.clone())];
        let got = board.at(spot(thing, f));
        prop_assert_eq!(
            got,
            cells_of(&pack, f, wanted),
            "`{}` of thing {}: one pass gives {:?} for {:?}\n{:#?}",
            f.id,
            thing,
            plain_of(&pack, f, got),
            wanted,
            text
        );
    }
    for ((table, thing), said) in &said {
        let at = pack.table(&text.tables[*table].id).unwrap().0;
        let visit = trail.visit(at, *thing).unwrap();
        let rows = |certain: bool| -> BTreeSet<usize> {
            trail
                .fired(visit)
                .iter()
                .filter(|f| f.certain || !certain)
                .map(|f| usize::from(f.row))
                .collect()
        };
        prop_assert_eq!(
            rows(false),
            said.may_fire.clone(),
            "rows that may fire of t{}",
            table
        );
        prop_assert_eq!(
            rows(true),
            said.must_fire.clone(),
            "rows that fire of t{}",
            table
        );
        prop_assert_eq!(visit.applied, said.applied);
        if matches!(pack.tables[at].body, Body::Rank(_)) && !said.scores.is_empty() {
            for (s, (lo, hi)) in trail.scored(visit).iter().zip(&said.scores) {
                let end = |x: Option<i64>| x.map_or(f64::NEG_INFINITY, |x| x as f64 / 10.0);
                prop_assert_eq!(
                    (s.score.lo, s.score.hi),
                    (end(*lo), end(*hi)),
                    "scores of t{}",
                    table
                );
                prop_assert_eq!(s.out, hi.is_none());
            }
        }
    }

    // Against every completion.
    let Some(all) = completions(&thinned(&text, &known), 700) else {
        return Ok(());
    };
    let mut union: BTreeMap<(usize, String), Vec<Plain>> = BTreeMap::new();
    let mut complete = Board::new(&pack, things.clone());
    for completion in &all {
        fill(&pack, &text, &mut complete, completion);
        run(&pack, &mut complete, &mut trail);
        let mut naive = completion.clone();
        reference.run(&mut naive);
        for &(thing, f) in &spots {
            let got = plain_of(&pack, f, complete.at(spot(thing, f)));
            let bound = plain_of(&pack, f, board.at(spot(thing, f)));
            for v in &got {
                prop_assert!(
                    bound.contains(v),
                    "`{}` of thing {}: {:?} is possible and not in {:?}",
                    f.id,
                    thing,
                    v,
                    bound
                );
            }
            if f.values.is_empty() {
                continue;
            }
            prop_assert_eq!(
                &got,
                &naive[&(thing, f.id.clone())],
                "`{}` of thing {}: a complete record",
                f.id,
                thing
            );
            let entry = union.entry((thing, f.id.clone())).or_default();
            for v in got {
                if !entry.contains(&v) {
                    entry.push(v);
                }
            }
        }
    }
    let ways = ways(&text, &things, &known);
    fill(&pack, &text, &mut complete, &known);
    for &(thing, f) in spots.iter().filter(|(_, f)| !f.values.is_empty()) {
        let key = (thing, f.id.clone());
        let mut true_set = union[&key].clone();
        true_set.sort_by_key(|v| everything(f).iter().position(|e| e == v));
        if !ways[&key].1 {
            let bound = plain_of(&pack, f, board.at(spot(thing, f)));
            prop_assert_eq!(
                &bound,
                &true_set,
                "`{}` of thing {}: no unknown comes by two ways",
                f.id,
                thing
            );
        }
        let exact = exact(&pack, &complete, spot(thing, f), 100_000);
        prop_assert!(exact.exact);
        prop_assert_eq!(
            &plain_of(&pack, f, exact.possible),
            &true_set,
            "`{}` of thing {}: exact",
            f.id,
            thing
        );
        // With hardly any budget it may say less, never something wrong.
        let hasty = ringtrue::rules::exact(&pack, &complete, spot(thing, f), 3);
        let hasty_set = plain_of(&pack, f, hasty.possible);
        prop_assert!(true_set.iter().all(|v| hasty_set.contains(v)));
        if hasty.exact {
            prop_assert_eq!(&hasty_set, &true_set);
        }
    }

    // What is asked for a target is what can still change it, no more and no less: some two
    // completions that differ in that fact alone give the target different values.
    let Some(&(thing, f)) = spots.iter().rfind(|(_, f)| !f.values.is_empty()) else {
        return Ok(());
    };
    let key = (thing, f.id.clone());
    let mut outcomes: BTreeMap<(usize, String), BTreeMap<String, BTreeSet<String>>> =
        BTreeMap::new();
    for completion in &all {
        let mut naive = completion.clone();
        reference.run(&mut naive);
        let outcome = format!("{:?}", naive[&key]);
        for (entry, possible) in &known {
            if possible.len() > 1 {
                let mut others = completion.clone();
                others.remove(entry);
                outcomes
                    .entry(entry.clone())
                    .or_default()
                    .entry(format!("{others:?}"))
                    .or_default()
                    .insert(outcome.clone());
            }
        }
    }
    let wanted: BTreeSet<(usize, String)> = outcomes
        .into_iter()
        .filter(|(_, by_others)| by_others.values().any(|set| set.len() > 1))
        .map(|(entry, _)| entry)
        .collect();
    let target = spot(thing, f);
    let targets = [target];
    let asking = Asking {
        runs: 100_000,
        ..Asking::new(&pack, &targets)
    };
    let questions = ask(&pack, &complete, &asking);
    let asked: BTreeSet<(usize, String)> = questions
        .iter()
        .map(|q| (q.spot.thing, q.fact.clone()))
        .collect();
    prop_assert_eq!(asked, wanted, "asked for `{}` of thing {}", f.id, thing);
    for q in &questions {
        let sum: f64 = q.answers.iter().map(|a| a.likely).sum();
        prop_assert!((sum - 1.0).abs() < 1e-9, "{}: {}", q.fact, sum);
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig {
        // `PROPTEST_CASES=20000` for a long search.
        cases: std::env::var("PROPTEST_CASES").ok().and_then(|n| n.parse().ok()).unwrap_or(160),
        max_shrink_iters: 4000,
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    #[test]
    fn the_engine_agrees_with_a_naive_reader(tape in prop::collection::vec(0u32..1000, 260)) {
        check(&tape).map_err(|e| {
            let mut t = Tape { tape: &tape, at: 0 };
            let text = PackText::random(&mut t);
            let things = things(&mut t);
            let known = record(&mut t, &text, &things);
            let files: Vec<String> = text.files().into_iter().map(|f| f.1).collect();
            TestCaseError::fail(format!("{e}\n{}\n{things:?}\n{known:?}", files.join("\n")))
        })?;
    }
}
