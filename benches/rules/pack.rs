//! The pack that is raced: eight chained grade tables made from a fixed seed, in the words of each
//! contestant.

use std::fmt::Write as _;

/// Tables.
pub const TABLES: usize = 8;
const NUMBERS: usize = 10;
const CHOICES: usize = 8;
const FLAGS: usize = 4;
/// Facts from outside.
pub const INPUTS: usize = NUMBERS + CHOICES + FLAGS;
const CLASSES: usize = 5;
const NUMBER_MOST: u64 = 100;

/// What a fact is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Kind {
    /// A number from 0 to 100.
    Number,
    /// One of so many words `w0`, `w1` …; a flag has two, `no` and `yes`.
    Choice(usize),
}

/// One condition of a row.
#[derive(Debug, Clone)]
pub enum Test {
    /// At least the first and less than the second, each if given.
    Between(Option<u64>, Option<u64>),
    /// One of these words.
    Among(Vec<usize>),
}

/// A table: the facts it reads (earlier tables come after the facts from outside), and its rows.
#[derive(Debug, Clone)]
pub struct Table {
    /// Rows: conditions as fact and test, and the class.
    pub rows: Vec<(Vec<(usize, Test)>, usize)>,
}

/// The whole pack.
#[derive(Debug, Clone)]
pub struct Spec {
    /// Facts from outside.
    pub facts: Vec<Kind>,
    /// Tables; each makes a choice of five classes.
    pub tables: Vec<Table>,
}

/// Numbers from a fixed seed (xorshift).
pub struct Dice(pub u64);

impl Dice {
    /// A number below `n`.
    pub fn upto(&mut self, n: u64) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 16) % n.max(1)
    }
}

impl Spec {
    /// The pack with so many rows a table; fifteen make the 120 rows of the race.
    pub fn new(rows: usize) -> Spec {
        let mut dice = Dice(0x51ab_5eed_0fc0_ffee);
        let mut facts = vec![Kind::Number; NUMBERS];
        facts.extend((0..CHOICES).map(|i| Kind::Choice(3 + i % 4)));
        facts.extend([Kind::Choice(2); FLAGS]);
        let mut tables: Vec<Table> = Vec::new();
        for t in 0..TABLES {
            // Six facts from outside and up to two earlier tables.
            let mut reads: Vec<usize> = Vec::new();
            while reads.len() < 6 {
                let fact = dice.upto(INPUTS as u64) as usize;
                if !reads.contains(&fact) {
                    reads.push(fact);
                }
            }
            for back in 1..=2 {
                if t >= back {
                    reads.push(INPUTS + t - back);
                }
            }
            let mut list = Vec::new();
            for _ in 0..rows - 1 {
                let mut left = reads.clone();
                let mut when = Vec::new();
                let many = 4 + usize::from(dice.upto(4) != 0);
                while when.len() < many.min(reads.len()) {
                    let fact = left.swap_remove(dice.upto(left.len() as u64) as usize);
                    when.push((fact, test(kind(&facts, fact), &mut dice)));
                }
                when.sort_by_key(|(fact, _)| *fact);
                list.push((when, dice.upto(CLASSES as u64) as usize));
            }
            list.push((Vec::new(), dice.upto(CLASSES as u64) as usize));
            tables.push(Table { rows: list });
        }
        Spec { facts, tables }
    }

    /// Number of conditions.
    pub fn conditions(&self) -> usize {
        self.tables
            .iter()
            .flat_map(|t| &t.rows)
            .map(|(when, _)| when.len())
            .sum()
    }

    /// A random complete record: a number each, choices by index.
    pub fn record(&self, dice: &mut Dice) -> Vec<f64> {
        self.facts
            .iter()
            .map(|kind| match kind {
                Kind::Number => dice.upto(2 * NUMBER_MOST + 1) as f64 / 2.0,
                Kind::Choice(n) => dice.upto(*n as u64) as f64,
            })
            .collect()
    }

    /// The pack in our own format.
    pub fn yaml(&self) -> Vec<(String, String)> {
        let mut facts = String::from("facts:\n");
        for (i, kind) in self.facts.iter().enumerate() {
            let _ = match kind {
                Kind::Number => writeln!(
                    facts,
                    "  f{i}: {{scope: site, name: fact {i}, kind: number, range: 0 to {NUMBER_MOST}, ask: How much?, comes: asked}}"
                ),
                Kind::Choice(_) => writeln!(
                    facts,
                    "  f{i}: {{scope: site, name: fact {i}, kind: choice, values: [{}], ask: Which?, comes: asked}}",
                    self.words(i).join(", ")
                ),
            };
        }
        for t in 0..self.tables.len() {
            let fact = INPUTS + t;
            let _ = writeln!(
                facts,
                "  f{fact}: {{scope: site, name: fact {fact}, kind: choice, values: [{}], comes: made}}",
                self.words(fact).join(", ")
            );
        }
        let mut out = vec![("facts.yaml".to_owned(), facts)];
        for (t, table) in self.tables.iter().enumerate() {
            let fact = INPUTS + t;
            let mut text = format!(
                "table: t{t}\ntitle: Table {t}\nkind: grade\nscope: site\nquestion: Which class?\nhit: first\ngives: f{fact}\nrows:\n"
            );
            for (r, (when, then)) in table.rows.iter().enumerate() {
                let _ = writeln!(text, "  - id: t{t}-r{r}");
                if !when.is_empty() {
                    let tests: Vec<String> = when
                        .iter()
                        .map(|(fact, test)| match test {
                            Test::Between(..) => format!("f{fact}: \"{}\"", interval(test)),
                            Test::Among(_) => {
                                format!("f{fact}: [{}]", self.among(*fact, test).join(", "))
                            }
                        })
                        .collect();
                    let _ = writeln!(text, "    when: {{{}}}", tests.join(", "));
                }
                let _ = writeln!(
                    text,
                    "    then: {}\n    because: Row {r}.\n    source: made from a seed\n    provenance: derived",
                    self.words(fact)[*then]
                );
            }
            out.push((format!("t{t}.yaml"), text));
        }
        out
    }

    /// The words of a fact.
    pub fn words(&self, fact: usize) -> Vec<String> {
        match kind(&self.facts, fact) {
            Kind::Choice(2) => vec!["no".to_owned(), "yes".to_owned()],
            Kind::Choice(n) => (0..n).map(|i| format!("w{i}")).collect(),
            Kind::Number => Vec::new(),
        }
    }

    fn among(&self, fact: usize, test: &Test) -> Vec<String> {
        let words = self.words(fact);
        match test {
            Test::Among(list) => list.iter().map(|&i| words[i].clone()).collect(),
            Test::Between(..) => Vec::new(),
        }
    }

    /// The pack as Rust code: one function a table, one branch a row.
    pub fn code(&self) -> String {
        let mut out = String::from(
            "//! The pack as code. Written by `cargo bench --bench rules -- --write`; do not change by hand.\n\n/// What the tables read and make; numbers, and choices by index.\n#[derive(Debug, Clone, Default)]\npub struct Record {\n",
        );
        for (i, kind) in self.facts.iter().enumerate() {
            let _ = writeln!(
                out,
                "    pub f{i}: {},",
                if *kind == Kind::Number { "f64" } else { "u8" }
            );
        }
        for t in 0..self.tables.len() {
            let _ = writeln!(out, "    pub f{}: u8,", INPUTS + t);
        }
        out += "}\n\n/// Runs every table.\npub fn run(r: &mut Record) {\n";
        for t in 0..self.tables.len() {
            let _ = writeln!(out, "    r.f{} = t{t}(r);", INPUTS + t);
        }
        out += "}\n";
        for (t, table) in self.tables.iter().enumerate() {
            let _ = writeln!(out, "\nfn t{t}(r: &Record) -> u8 {{");
            for (when, then) in &table.rows {
                if when.is_empty() {
                    let _ = writeln!(out, "    {then}");
                    continue;
                }
                let tests: Vec<String> = when
                    .iter()
                    .map(|(fact, test)| match test {
                        Test::Between(None, Some(b)) => format!("r.f{fact} < {b}.0"),
                        Test::Between(Some(a), None) => format!("r.f{fact} >= {a}.0"),
                        Test::Between(a, b) => format!(
                            "({}.0..{}.0).contains(&r.f{fact})",
                            a.unwrap_or(0),
                            b.unwrap_or(0)
                        ),
                        Test::Among(list) => {
                            let words: Vec<String> = list.iter().map(ToString::to_string).collect();
                            format!("matches!(r.f{fact}, {})", words.join(" | "))
                        }
                    })
                    .collect();
                let _ = writeln!(
                    out,
                    "    if {} {{\n        return {then};\n    }}",
                    tests.join(" && ")
                );
            }
            out += "}\n";
        }
        out += "\n/// A record from plain numbers.\npub fn record(x: &[f64]) -> Record {\n    Record {\n";
        for (i, kind) in self.facts.iter().enumerate() {
            let cast = if *kind == Kind::Number { "" } else { " as u8" };
            let _ = writeln!(out, "        f{i}: x[{i}]{cast},");
        }
        out += "        ..Record::default()\n    }\n}\n\n/// The classes the tables gave.\npub fn classes(r: &Record) -> [u8; 8] {\n    [";
        let made: Vec<String> = (0..self.tables.len())
            .map(|t| format!("r.f{}", INPUTS + t))
            .collect();
        let _ = writeln!(out, "{}]\n}}", made.join(", "));
        out
    }

    /// The pack as a decision graph in JSON, each table a node that hands on what it was given.
    #[cfg_attr(not(feature = "bench-beside"), allow(dead_code))]
    pub fn graph_json(&self) -> serde_json::Value {
        use serde_json::{Map, Value, json};
        let mut nodes = vec![
            json!({"id": "in", "type": "inputNode", "name": "in", "position": {"x": 0, "y": 0}}),
            json!({"id": "out", "type": "outputNode", "name": "out", "position": {"x": 0, "y": 0}}),
        ];
        let mut edges = Vec::new();
        for (t, table) in self.tables.iter().enumerate() {
            let mut reads: Vec<usize> = table
                .rows
                .iter()
                .flat_map(|(w, _)| w.iter().map(|(f, _)| *f))
                .collect();
            reads.sort_unstable();
            reads.dedup();
            let inputs: Vec<Value> = reads
                .iter()
                .map(|f| json!({"id": format!("i{f}"), "name": format!("f{f}"), "type": "expression", "field": format!("f{f}")}))
                .collect();
            let rules: Vec<Value> = table
                .rows
                .iter()
                .enumerate()
                .map(|(r, (when, then))| {
                    let mut rule = Map::new();
                    rule.insert("_id".into(), format!("t{t}r{r}").into());
                    // It passes over a row in which a column is missing; an empty cell asks nothing.
                    for fact in &reads {
                        rule.insert(format!("i{fact}"), "".into());
                    }
                    for (fact, test) in when {
                        let text = match test {
                            Test::Between(..) => interval(test),
                            Test::Among(_) => {
                                let words: Vec<String> = self
                                    .among(*fact, test)
                                    .iter()
                                    .map(|w| format!("\"{w}\""))
                                    .collect();
                                words.join(", ")
                            }
                        };
                        rule.insert(format!("i{fact}"), text.into());
                    }
                    rule.insert(
                        "o".into(),
                        format!("\"{}\"", self.words(INPUTS + t)[*then]).into(),
                    );
                    Value::Object(rule)
                })
                .collect();
            nodes.push(json!({
                "id": format!("t{t}"), "type": "decisionTableNode", "name": format!("t{t}"),
                "position": {"x": 0, "y": 0},
                "content": {
                    "hitPolicy": "first", "inputs": inputs, "rules": rules,
                    "outputs": [{"id": "o", "name": "o", "type": "expression", "field": format!("f{}", INPUTS + t)}],
                    "passThrough": true, "inputField": null, "outputPath": null, "executionMode": "single"
                }
            }));
            let from = if t == 0 {
                "in".to_owned()
            } else {
                format!("t{}", t - 1)
            };
            edges.push(json!({"id": format!("e{t}"), "type": "edge", "sourceId": from, "targetId": format!("t{t}")}));
        }
        edges.push(json!({"id": "last", "type": "edge", "sourceId": format!("t{}", self.tables.len() - 1), "targetId": "out"}));
        json!({"contentType": "application/vnd.gorules.decision", "nodes": nodes, "edges": edges})
    }

    /// A record as JSON.
    #[cfg_attr(not(feature = "bench-beside"), allow(dead_code))]
    pub fn record_json(&self, x: &[f64]) -> serde_json::Value {
        let mut out = serde_json::Map::new();
        for (i, kind) in self.facts.iter().enumerate() {
            let value = match kind {
                Kind::Number => serde_json::json!(x[i]),
                Kind::Choice(_) => self.words(i)[x[i] as usize].clone().into(),
            };
            out.insert(format!("f{i}"), value);
        }
        serde_json::Value::Object(out)
    }
}

fn kind(facts: &[Kind], fact: usize) -> Kind {
    facts.get(fact).copied().unwrap_or(Kind::Choice(CLASSES))
}

fn interval(test: &Test) -> String {
    match test {
        Test::Between(None, Some(b)) => format!("< {b}"),
        Test::Between(Some(a), None) => format!(">= {a}"),
        Test::Between(Some(a), Some(b)) => format!("[{a}..{b})"),
        _ => String::new(),
    }
}

fn test(kind: Kind, dice: &mut Dice) -> Test {
    match kind {
        Kind::Number => {
            // Wide, so that rows fire at every depth of a table; cut at every fifth number.
            let a = 5 * (1 + dice.upto(7));
            let b = 5 * (12 + dice.upto(8));
            match dice.upto(3) {
                0 => Test::Between(None, Some(b)),
                1 => Test::Between(Some(a), None),
                _ => Test::Between(Some(a), Some(b)),
            }
        }
        Kind::Choice(n) => {
            let without = dice.upto(n as u64) as usize;
            let mut list: Vec<usize> = (0..n).filter(|&i| i != without).collect();
            if n > 3 && dice.upto(2) == 0 {
                list.remove(dice.upto(list.len() as u64) as usize);
            }
            Test::Among(list)
        }
    }
}
