//! Pack files to a compiled pack.

use std::collections::{BTreeMap, HashMap};

use crate::facts::{
    Bits, Comes, FactId, FactKind, Reader, Scope, Value, Vocabulary, scope_of, source_of,
};
use crate::source::{Data, Limits, Node, Place, Problem, Problems, SourceFile, nearest};
use crate::units::Kind;

use super::cells::Cells;
use super::condition::{self, Test};
use super::index::Index;
use super::model::{
    Body, Cause, Condition, Contestant, Group, Hit, HouseChange, Pack, Prior, Rank, Row, Set,
    Table, Then, Work, gaps,
};
use super::{check, graph};

/// A pack file with its text and tree.
#[derive(Debug, Clone)]
pub struct PackFile {
    /// Name and text.
    pub file: SourceFile,
    /// What it holds.
    pub root: Node,
    /// Whether it belongs to a house pack laid over the built-in one.
    pub house: bool,
}

impl PackFile {
    /// Reads a pack file's text.
    pub fn read(file: SourceFile, house: bool, problems: &mut Problems) -> Option<PackFile> {
        let root = file.yaml(Limits::default(), problems)?;
        Some(PackFile { file, root, house })
    }
}

const FILE_KEYS: [&str; 5] = ["facts", "figures", "glossary", "causes", "changes"];
const TABLE_KEYS: [&str; 23] = [
    "table",
    "title",
    "kind",
    "scope",
    "applies",
    "question",
    "scale",
    "hit",
    "gives",
    "otherwise",
    "rows",
    "causes",
    "also",
    "likely",
    "possible",
    "priors",
    "candidates",
    "facts",
    "figures",
    "glossary",
    "note",
    "source",
    "provenance",
];
const ROW_KEYS: [&str; 15] = [
    "id",
    "when",
    "then",
    "push",
    "rules_out",
    "candidate",
    "prefers",
    "because",
    "plain",
    "crew",
    "source",
    "provenance",
    "safety",
    "set",
    "example",
];

/// Rows are counted in 16 bits.
const ROW_LIMIT: usize = 20_000;

/// Longest line for the crew, letters without its gaps: two lines of a column of the sheet.
const LONGEST_LINE: usize = 120;

/// A table before its conditions are compiled.
struct RawTable<'a> {
    file: usize,
    node: &'a Node,
    rows: Vec<(usize, &'a Node)>,
}

/// Loads a pack: reads every file, resolves names, compiles conditions, orders and checks the
/// graph.
///
/// # Errors
/// Every problem of every file at once. A pack with an error does not load; warnings come back
/// beside the pack.
pub fn load(files: &[PackFile], problems: &mut Problems) -> Option<Pack> {
    let before = problems
        .iter()
        .filter(|p| p.severity == crate::source::Severity::Error)
        .count();
    let vocabulary = Vocabulary::load(files.iter().map(|f| (&f.file, &f.root)), problems);
    let mut loader = Loader {
        files,
        vocabulary: &vocabulary,
        problems,
        causes: Vec::new(),
        house: Vec::new(),
    };
    loader.read_causes();
    let raw = loader.raw_tables();
    let mut tables: Vec<Table> = raw.iter().filter_map(|t| loader.table(t)).collect();
    loader.repeated_names(&tables);
    loader.named_cautions(&tables);
    let (causes, mut house) = (
        std::mem::take(&mut loader.causes),
        std::mem::take(&mut loader.house),
    );
    for (figure, file, place) in &vocabulary.replaced_figures {
        if files[*file].house {
            house.push(HouseChange {
                what: "replaced".into(),
                table: "figures".into(),
                row: figure.clone(),
                because: vocabulary
                    .figure(figure)
                    .map_or_else(String::new, |f| f.source.source.clone()),
            });
        } else {
            problems.push(
                Problem::error(
                    "repeated-figure",
                    format!("the figure `{figure}` stands in the pack already"),
                )
                .at(&files[*file].file, *place)
                .hint("a figure stands once; only a house pack may replace it"),
            );
        }
    }
    let cells = compile_cells(files, &vocabulary, &tables, problems);
    for table in &mut tables {
        compile(table, &vocabulary, &cells);
    }
    let order = graph::order(files, &vocabulary, &tables, problems);
    let mut makers = vec![None; vocabulary.len()];
    for &work in &order {
        match work {
            Work::Table(t) => {
                for fact in graph::made_by(&tables[t]) {
                    makers[usize::from(fact.0)] = Some(work);
                }
            }
            Work::Gather(fact) => makers[usize::from(fact.0)] = Some(work),
        }
    }
    let mut pack = Pack {
        vocabulary,
        causes,
        tables,
        cells,
        order,
        makers,
        files: files.iter().map(|f| f.file.clone()).collect(),
        fingerprint: fingerprint(files),
        house,
    };
    pack.tables.shrink_to_fit();
    let errors = |problems: &Problems| {
        problems
            .iter()
            .filter(|p| p.severity == crate::source::Severity::Error)
            .count()
    };
    (errors(problems) == before).then_some(pack)
}

/// Loads a pack and proves it sound: unreachable rows, overlaps, gaps, safety rows, examples.
///
/// # Errors
/// As [`load`]; a pack with any error does not load.
pub fn load_and_check(files: &[PackFile], problems: &mut Problems) -> Option<Pack> {
    let pack = load(files, problems)?;
    check::check(&pack, problems);
    (!problems.has_errors()).then_some(pack)
}

/// Loads any pack of tables from the names and texts of its files. Nothing in it need be about
/// slabs: facts may all have the scope `site`.
///
/// ```
/// use ringtrue::facts::{Scope, Value};
/// use ringtrue::rules::{Board, Thing, Trail, load_texts, run};
/// use ringtrue::source::Problems;
///
/// let facts = "
/// facts:
///   depth: {scope: site, name: depth, kind: length, ask: How deep?, comes: asked}
///   grade: {scope: site, name: grade, kind: choice, values: [shallow, deep], comes: made}
/// ";
/// let table = "
/// table: grade
/// title: Depth
/// kind: grade
/// scope: site
/// question: How deep is it?
/// hit: first
/// gives: grade
/// rows:
///   - {id: deep, when: {depth: '>= 1/2 in'}, then: deep, because: Deep., source: us, provenance: practice}
///   - {id: shallow, then: shallow, because: Not deep., source: us, provenance: practice}
/// ";
/// let mut problems = Problems::default();
/// let pack = load_texts([("facts.yaml", facts), ("grade.yaml", table)], &mut problems).unwrap();
/// let it = Thing { scope: Scope::Site, label: "it".into(), outer: None, lies_in: vec![], may_lie_in: vec![] };
/// let mut board = Board::new(&pack, vec![it]);
/// let [depth, grade] = ["depth", "grade"].map(|f| pack.vocabulary.find(f).unwrap());
/// board.set(&pack, 0, depth, Value::number(20.0));
/// run(&pack, &mut board, &mut Trail::default());
/// assert_eq!(board.get(&pack, 0, grade).lowest(), Some(1));
/// ```
///
/// # Errors
/// As [`load`].
pub fn load_texts<'a>(
    texts: impl IntoIterator<Item = (&'a str, &'a str)>,
    problems: &mut Problems,
) -> Option<Pack> {
    let mut files = Vec::new();
    for (name, text) in texts {
        files.push(PackFile::read(
            SourceFile::new(name, text),
            false,
            problems,
        )?);
    }
    load(&files, problems)
}

/// Fowler, Noll and Vo's 64-bit hash, 1a: enough to tell one text from another.
pub fn fnv(bytes: impl IntoIterator<Item = u8>) -> u64 {
    bytes.into_iter().fold(0xcbf2_9ce4_8422_2325, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3)
    })
}

/// The hash of names and texts, so that a report can name the very rules it was made with. Line ends
/// don't count, nor where a folder of house rules lies: they differ between machines, and the rules
/// don't.
fn fingerprint(files: &[PackFile]) -> String {
    let hash = fnv(files.iter().flat_map(|f| {
        let name = if f.house { "" } else { &f.file.name };
        let text = f.file.text.bytes().filter(|b| *b != b'\r');
        name.bytes().chain([0]).chain(text)
    }));
    format!("{hash:016x}")
}

struct Loader<'a> {
    files: &'a [PackFile],
    vocabulary: &'a Vocabulary,
    problems: &'a mut Problems,
    causes: Vec<Cause>,
    house: Vec<HouseChange>,
}

impl<'a> Loader<'a> {
    fn reader(&mut self, file: usize) -> Reader<'_> {
        Reader {
            file: &self.files[file].file,
            problems: self.problems,
        }
    }

    fn read_causes(&mut self) {
        for (i, f) in self.files.iter().enumerate() {
            // In a table `causes` lists the causes it ranks.
            if f.root.get("table").is_some() {
                continue;
            }
            for (key, node) in self.reader(i).entries(&f.root, "causes") {
                let mut reader = self.reader(i);
                reader.only_keys(node, &["name", "plain", "at_work", "stops_by", "note"]);
                let cause = Cause {
                    id: key.text.clone(),
                    name: reader.text(node, "name"),
                    plain: reader.text(node, "plain"),
                    at_work: reader.text(node, "at_work"),
                    stops_by: reader.text(node, "stops_by"),
                    file: i,
                    place: key.place,
                };
                if self.causes.iter().any(|c| c.id == cause.id) {
                    self.reader(i).error(
                        "repeated-cause",
                        key.place,
                        format!("the cause `{}` is declared twice", cause.id),
                        "keep one of them",
                    );
                } else {
                    self.causes.push(cause);
                }
            }
        }
    }

    /// Tables of all files with the changes of house packs laid over them.
    fn raw_tables(&mut self) -> Vec<RawTable<'a>> {
        let files = self.files;
        let mut raw: Vec<RawTable<'a>> = Vec::new();
        for (i, f) in files.iter().enumerate() {
            if f.root.get("table").is_none() {
                self.reader(i).only_keys(&f.root, &FILE_KEYS);
                continue;
            }
            let rows: Vec<(usize, &Node)> = self
                .reader(i)
                .items(&f.root, "rows")
                .iter()
                .map(|r| (i, r))
                .collect();
            let empty = |n: &Node| matches!(&n.data, Data::List(items) if items.is_empty());
            if f.root.get("rows").is_none_or(empty) {
                self.reader(i).error(
                    "missing-key",
                    f.root.get("table").map_or(f.root.place, |n| n.place),
                    "this table has no rows",
                    "add `rows:` with at least one row",
                );
            }
            if f.house {
                let id = f
                    .root
                    .get("table")
                    .and_then(Node::text)
                    .unwrap_or_default()
                    .to_owned();
                self.house.push(HouseChange {
                    what: "added".into(),
                    table: id,
                    row: "*".into(),
                    because: String::new(),
                });
            }
            raw.push(RawTable {
                file: i,
                node: &f.root,
                rows,
            });
        }
        for (i, f) in files.iter().enumerate() {
            for change in self.reader(i).items(&f.root, "changes") {
                self.house_change(i, change, &mut raw);
            }
        }
        raw
    }

    /// One change of a house pack: `{table, add | replace | switch_off, row, before, because}`.
    fn house_change(&mut self, file: usize, change: &'a Node, raw: &mut [RawTable<'a>]) {
        let files = self.files;
        let mut reader = self.reader(file);
        reader.only_keys(
            change,
            &["table", "add", "replace", "switch_off", "before", "because"],
        );
        let table = reader.text(change, "table");
        let because = reader.text(change, "because");
        let Some(target) = raw
            .iter_mut()
            .find(|t| t.node.get("table").and_then(Node::text) == Some(table.as_str()))
        else {
            let names: Vec<&str> = files
                .iter()
                .filter_map(|f| f.root.get("table").and_then(Node::text))
                .collect();
            let hint = nearest(&table, names).map_or("name a table of the pack".to_owned(), |n| {
                format!("did you mean `{n}`?")
            });
            reader.error(
                "unknown-table",
                change.place,
                format!("there is no table `{table}` to change"),
                hint,
            );
            return;
        };
        let id_of = |row: &Node| {
            row.get("id")
                .and_then(Node::text)
                .unwrap_or_default()
                .to_owned()
        };
        let find =
            |rows: &[(usize, &Node)], id: &str| rows.iter().position(|(_, r)| id_of(r) == id);
        let mut missing = |id: &str, rows: &[(usize, &Node)]| {
            let ids: Vec<String> = rows.iter().map(|(_, r)| id_of(r)).collect();
            let hint = nearest(id, ids.iter().map(String::as_str))
                .map_or("name a row of that table".to_owned(), |n| {
                    format!("did you mean `{n}`?")
                });
            reader.error(
                "unknown-row",
                change.place,
                format!("`{table}` has no row `{id}`"),
                hint,
            );
        };
        let verbs = ["add", "replace", "switch_off"];
        if verbs.iter().filter(|v| change.get(v).is_some()).count() > 1 {
            reader.error(
                "change",
                change.place,
                "one change does one thing",
                "write a change for each row",
            );
            return;
        }
        let (what, row) = if let Some(row) = change.get("add") {
            let at = match change.get("before").and_then(Node::text) {
                None => target.rows.len(),
                Some(id) => match find(&target.rows, id) {
                    Some(at) => at,
                    None => return missing(id, &target.rows),
                },
            };
            target.rows.insert(at, (file, row));
            ("added", id_of(row))
        } else if let Some(row) = change.get("replace") {
            let id = id_of(row);
            let Some(at) = find(&target.rows, &id) else {
                return missing(&id, &target.rows);
            };
            if is_safety(target.rows[at].1) {
                reader.error(
                    "safety-row",
                    change.place,
                    format!("`{id}` is a safety row and can't be replaced"),
                    "add a stricter row before it instead",
                );
                return;
            }
            target.rows[at] = (file, row);
            ("replaced", id)
        } else if let Some(id) = change.get("switch_off").and_then(Node::text) {
            let Some(at) = find(&target.rows, id) else {
                return missing(id, &target.rows);
            };
            if is_safety(target.rows[at].1) {
                reader.error(
                    "safety-row",
                    change.place,
                    format!("`{id}` is a safety row and can't be switched off"),
                    "leave it on",
                );
                return;
            }
            target.rows.remove(at);
            ("switched off", id.to_owned())
        } else {
            reader.error(
                "change",
                change.place,
                "a change must `add`, `replace` or `switch_off` a row",
                "add: {id: …, when: …, then: …}",
            );
            return;
        };
        self.house.push(HouseChange {
            what: what.into(),
            table,
            row,
            because,
        });
    }

    fn table(&mut self, raw: &RawTable<'a>) -> Option<Table> {
        let node = raw.node;
        let mut reader = self.reader(raw.file);
        reader.only_keys(node, &TABLE_KEYS);
        let id = reader.text(node, "table");
        if raw.rows.len() > ROW_LIMIT {
            reader.error(
                "too-many-rows",
                node.get("table").map_or(node.place, |n| n.place),
                format!(
                    "this table has {} rows, {ROW_LIMIT} can be held",
                    raw.rows.len()
                ),
                "split the table",
            );
            return None;
        }
        let title = reader.text(node, "title");
        let question = reader.text(node, "question");
        let scale = reader.optional_text(node, "scale");
        let scope = scope_of(&mut reader, node)?;
        let kind = reader.word(
            node,
            "kind",
            &[("grade", 0u8), ("evidence", 1), ("choice", 2)],
        );
        if node.get("kind").is_none() {
            reader.error(
                "missing-key",
                node.place,
                "`kind` is missing",
                "add `kind:` grade, evidence or choice",
            );
        }
        let kind = kind?;
        let applies = node
            .get("applies")
            .map_or_else(Vec::new, |n| self.conditions(raw.file, n, scope));
        let body = match kind {
            0 => self.grade_body(raw, scope)?,
            _ => Body::Rank(self.rank_body(raw, scope, kind == 1)?),
        };
        let rows = raw
            .rows
            .iter()
            .filter_map(|&(file, row)| self.row(file, row, scope, &body))
            .collect();
        Some(Table {
            id,
            title,
            question,
            scale,
            scope,
            applies,
            inputs: Vec::new(),
            body,
            rows,
            file: raw.file,
            place: node.get("table").map_or(node.place, |n| n.place),
            flat: Vec::new(),
            starts: Vec::new(),
            flat_applies: Vec::new(),
            classes: Vec::new(),
            index: Index::default(),
        })
    }

    /// The made fact under a key, with the table's scope.
    fn made(&mut self, file: usize, node: &Node, name: &str, scope: Scope) -> Option<FactId> {
        let vocabulary = self.vocabulary;
        let Some(id) = vocabulary.find(name) else {
            let hint = nearest(name, vocabulary.facts().map(|(_, f)| f.id.as_str())).map_or(
                "declare it under `facts:` with `comes: made`".to_owned(),
                |n| format!("did you mean `{n}`?"),
            );
            self.reader(file).error(
                "unknown-fact",
                node.place,
                format!("there is no fact `{name}`"),
                hint,
            );
            return None;
        };
        let fact = vocabulary.fact(id);
        if fact.comes != Comes::Made {
            self.reader(file).error(
                "not-made",
                node.place,
                format!("`{name}` is not declared as made by a table"),
                "declare it with `comes: made`",
            );
        }
        if !matches!(fact.kind, FactKind::Choice { .. }) {
            self.reader(file).error(
                "kind",
                node.place,
                format!("`{name}` is a quantity; tables make choices only"),
                "declare it as a choice",
            );
            return None;
        }
        if fact.scope != scope {
            self.reader(file).error(
                "scope",
                node.place,
                format!(
                    "`{name}` is about {}, this table about {}",
                    fact.scope.named(),
                    scope.named()
                ),
                "give both the same scope",
            );
        }
        Some(id)
    }

    fn grade_body(&mut self, raw: &RawTable<'a>, scope: Scope) -> Option<Body> {
        let node = raw.node;
        let hit = self.reader(raw.file).word(
            node,
            "hit",
            &[
                ("first", Some(Hit::First)),
                ("unique", Some(Hit::Unique)),
                ("collect", None),
            ],
        );
        let Some(hit) = hit else {
            if node.get("hit").is_none() {
                self.reader(raw.file).error(
                    "missing-key",
                    node.place,
                    "`hit` is missing",
                    "add `hit:` first, unique or collect",
                );
            }
            return None;
        };
        let Some(hit) = hit else {
            return Some(Body::Collect);
        };
        let name = self.reader(raw.file).text(node, "gives");
        let gives = self.made(raw.file, node.get("gives")?, &name, scope)?;
        let fact = self.vocabulary.fact(gives);
        let otherwise = node.get("otherwise").and_then(|n| {
            match fact.read_value(&mut self.reader(raw.file), n) {
                Some(Value::Choices(bits)) => Some(bits),
                _ => None,
            }
        });
        Some(Body::Grade {
            hit,
            gives,
            otherwise,
        })
    }

    fn rank_body(&mut self, raw: &RawTable<'a>, scope: Scope, evidence: bool) -> Option<Rank> {
        let node = raw.node;
        let gives = match self.reader(raw.file).optional_text(node, "gives") {
            Some(name) => self.made(raw.file, node.get("gives")?, &name, scope),
            None => None,
        };
        let mut contestants: Vec<Contestant> = Vec::new();
        if evidence {
            for (id, item) in self.reader(raw.file).texts(node, "causes") {
                let Some(cause) = self.causes.iter().find(|c| c.id == id).cloned() else {
                    let hint = nearest(&id, self.causes.iter().map(|c| c.id.as_str()))
                        .map_or("declare it under `causes:`".to_owned(), |n| {
                            format!("did you mean `{n}`?")
                        });
                    self.reader(raw.file).error(
                        "unknown-cause",
                        item.place,
                        format!("there is no cause `{id}`"),
                        hint,
                    );
                    continue;
                };
                contestants.push(Contestant {
                    id,
                    name: cause.name,
                    plain: cause.plain,
                    bit: 0,
                    standing: None,
                    set: BTreeMap::new(),
                });
            }
        } else {
            for (key, candidate) in self.reader(raw.file).entries(node, "candidates") {
                let mut reader = self.reader(raw.file);
                reader.only_keys(
                    candidate,
                    &["name", "plain", "set", "source", "provenance", "because"],
                );
                let (name, plain) = (
                    reader.text(candidate, "name"),
                    reader.optional_text(candidate, "plain").unwrap_or_default(),
                );
                let set = sets(&mut reader, candidate);
                contestants.push(Contestant {
                    id: key.text.clone(),
                    name,
                    plain,
                    bit: 0,
                    standing: None,
                    set,
                });
            }
        }
        if contestants.is_empty() {
            self.reader(raw.file).error(
                "missing-key",
                node.place,
                "nothing to rank",
                if evidence {
                    "add `causes: […]`"
                } else {
                    "add `candidates: {…}`"
                },
            );
            return None;
        }
        let mut none = None;
        for (i, c) in contestants.iter_mut().enumerate() {
            c.bit = i;
            if let Some(gives) = gives {
                match self.vocabulary.fact(gives).value_index(&c.id) {
                    Some(bit) => c.bit = bit,
                    None => {
                        let (id, fact) = (c.id.clone(), self.vocabulary.fact(gives).id.clone());
                        self.problems.push(
                            Problem::error("value", format!("`{fact}` has no value `{id}`"))
                                .at(
                                    &self.files[raw.file].file,
                                    node.get("gives").map_or(node.place, |n| n.place),
                                )
                                .hint(format!("add `{id}` to the values of `{fact}`")),
                        );
                    }
                }
            }
        }
        if let Some(gives) = gives {
            none = self
                .vocabulary
                .fact(gives)
                .value_index("none")
                .filter(|i| contestants.iter().all(|c| c.bit != *i));
        }
        for (key, n) in self.reader(raw.file).entries(node, "also") {
            let fact = n.text().unwrap_or_default().to_owned();
            let standing = self.made(raw.file, n, &fact, scope);
            if let Some(id) = standing {
                let words: Vec<&str> = self
                    .vocabulary
                    .fact(id)
                    .values()
                    .iter()
                    .map(|v| v.id.as_str())
                    .collect();
                if words != ["unlikely", "possible", "likely"] {
                    self.reader(raw.file).error(
                        "value",
                        n.place,
                        format!("`{fact}` must have the values unlikely, possible, likely"),
                        "declare it so, `ordered: yes`",
                    );
                    continue;
                }
            }
            match contestants.iter_mut().find(|c| c.id == key.text) {
                Some(c) => c.standing = standing,
                None => self.reader(raw.file).error(
                    "unknown-cause",
                    key.place,
                    format!("`{}` is not ranked here", key.text),
                    "list it under `causes`",
                ),
            }
        }
        let mut reader = self.reader(raw.file);
        // The two borders are our judgement of how to name a log-odds; a table may set its own.
        let likely = reader.number(node, "likely");
        let possible = reader.number(node, "possible");
        let mut priors = Vec::new();
        for p in self.reader(raw.file).items(node, "priors") {
            let mut reader = self.reader(raw.file);
            reader.only_keys(
                p,
                &[
                    "id",
                    "when",
                    "cause",
                    "push",
                    "because",
                    "source",
                    "provenance",
                ],
            );
            let id = reader.text(p, "id");
            let push = push_of(&mut reader, p, "push").unwrap_or(0.0);
            let because = reader.text(p, "because");
            let source = source_of(&mut reader, p);
            let names = reader.texts(p, "cause");
            let when = p
                .get("when")
                .map_or_else(Vec::new, |n| self.conditions(raw.file, n, scope));
            for (name, item) in names {
                match contestants.iter().position(|c| c.id == name) {
                    Some(contestant) => priors.push(Prior {
                        id: id.clone(),
                        when: when.clone(),
                        contestant,
                        push,
                        because: because.clone(),
                        source: source.clone(),
                        place: p.get("id").map_or(p.place, |n| n.place),
                    }),
                    None => self.reader(raw.file).error(
                        "unknown-cause",
                        item.place,
                        format!("`{name}` is not ranked here"),
                        "list it under `causes`",
                    ),
                }
            }
        }
        Some(Rank {
            evidence,
            gives,
            contestants,
            none,
            likely: likely.unwrap_or(1.5),
            possible: possible.unwrap_or(-0.5),
            priors,
            prior_flat: Vec::new(),
            groups: Vec::new(),
            alike: Vec::new(),
        })
    }

    fn conditions(&mut self, file: usize, node: &Node, scope: Scope) -> Vec<Condition> {
        let vocabulary = self.vocabulary;
        let mut out: Vec<Condition> = Vec::new();
        if !matches!(node.data, Data::Map(_) | Data::Null) {
            self.reader(file).error(
                "shape",
                node.place,
                format!("this is {}, conditions are `fact: test` lines", node.what()),
                "write `when: {stones: missing}`",
            );
            return out;
        }
        for (key, test) in node.entries() {
            let Some(id) = vocabulary.find(&key.text) else {
                let hint = nearest(&key.text, vocabulary.facts().map(|(_, f)| f.id.as_str()))
                    .map_or("declare it under `facts:`".to_owned(), |n| {
                        format!("did you mean `{n}`?")
                    });
                self.reader(file).error(
                    "unknown-fact",
                    key.place,
                    format!("there is no fact `{}`", key.text),
                    hint,
                );
                continue;
            };
            let fact = vocabulary.fact(id);
            if !fact.scope.reaches(scope) {
                self.reader(file).error(
                    "scope",
                    key.place,
                    format!(
                        "`{}` is about {}, which this table about {} can't see",
                        fact.id,
                        fact.scope.named(),
                        scope.named()
                    ),
                    "gather it into the table's scope first",
                );
                continue;
            }
            let texts: Vec<String> = self
                .reader(file)
                .texts_of(test)
                .into_iter()
                .map(|(t, _)| t)
                .collect();
            let text = texts.join(", ");
            match condition::read(fact, &text) {
                Ok(test_read) => out.push(Condition {
                    fact: id,
                    mask: Bits::NONE,
                    text,
                    test: test_read,
                    place: test.place,
                }),
                Err(e) => self
                    .reader(file)
                    .error("condition", test.place, e.message, e.hint),
            }
        }
        out
    }

    fn row(&mut self, file: usize, node: &Node, scope: Scope, body: &Body) -> Option<Row> {
        let mut reader = self.reader(file);
        reader.only_keys(node, &ROW_KEYS);
        let id = reader.text(node, "id");
        let because = reader.text(node, "because");
        let plain = reader.optional_text(node, "plain");
        let crew = reader.optional_text(node, "crew");
        let source = source_of(&mut reader, node);
        let safety = reader.flag(node, "safety");
        let set = sets(&mut reader, node);
        let when = node
            .get("when")
            .map_or_else(Vec::new, |n| self.conditions(file, n, scope));
        let then = match body {
            Body::Collect => Then::Listed,
            Body::Grade { gives, .. } => {
                let fact = self.vocabulary.fact(*gives);
                let word = self.reader(file).text(node, "then");
                match fact.value_index(match word.as_str() {
                    "true" => "yes",
                    "false" => "no",
                    w => w,
                }) {
                    Some(i) => Then::Class(i),
                    None => {
                        if !word.is_empty() {
                            let hint = nearest(&word, fact.values().iter().map(|v| v.id.as_str()))
                                .map_or_else(
                                    || {
                                        format!(
                                            "one of: {}",
                                            fact.values()
                                                .iter()
                                                .map(|v| v.id.as_str())
                                                .collect::<Vec<_>>()
                                                .join(", ")
                                        )
                                    },
                                    |n| format!("did you mean `{n}`?"),
                                );
                            self.reader(file).error(
                                "value",
                                node.get("then").map_or(node.place, |n| n.place),
                                format!("`{word}` is not among the values of `{}`", fact.id),
                                hint,
                            );
                        }
                        return None;
                    }
                }
            }
            Body::Rank(rank) => self.pushes(file, node, rank),
        };
        let mut example = Vec::new();
        for (key, value) in self.reader(file).entries(node, "example") {
            match self.vocabulary.find(&key.text) {
                Some(fact) => {
                    let declared = self.vocabulary.fact(fact);
                    if let Some(value) = declared.read_value(&mut self.reader(file), value) {
                        example.push((fact, value));
                    }
                }
                None => {
                    let hint = nearest(
                        &key.text,
                        self.vocabulary.facts().map(|(_, f)| f.id.as_str()),
                    )
                    .map_or("use declared facts".to_owned(), |n| {
                        format!("did you mean `{n}`?")
                    });
                    self.reader(file).error(
                        "unknown-fact",
                        key.place,
                        format!("there is no fact `{}`", key.text),
                        hint,
                    );
                }
            }
        }
        let row = Row {
            id,
            when,
            then,
            because,
            plain,
            crew,
            source,
            safety,
            set,
            example,
            file,
            place: node.get("id").map_or(node.place, |n| n.place),
        };
        if let (Some(text), Some(node)) = (&row.crew, node.get("crew")) {
            self.crew_line(&row, text, node, body);
        }
        Some(row)
    }

    /// The line for the crew must be printed somewhere, be short, and name figures that are there.
    fn crew_line(&mut self, row: &Row, text: &str, node: &Node, body: &Body) {
        let names: usize = gaps(text).iter().map(|g| g.chars().count() + 2).sum();
        let letters = text.chars().count().saturating_sub(names);
        let strange: Vec<String> = gaps(text)
            .into_iter()
            .filter(|gap| row.figure(self.vocabulary, gap).is_none())
            .collect();
        let mut reader = self.reader(row.file);
        if !matches!(body, Body::Collect) {
            reader.error(
                "crew-line",
                node.place,
                "no sheet prints the crew's line of this row",
                "only rows of tables with `hit: collect` are listed; take `crew` out",
            );
        }
        if letters > LONGEST_LINE {
            reader.error(
                "crew-line",
                node.place,
                format!("the crew's line has {letters} letters, {LONGEST_LINE} is the most"),
                "say what to do, in 4 to 12 words; reasons stay in `because`",
            );
        }
        if text.matches(['{', '}']).count() != 2 * gaps(text).len() {
            reader.error(
                "crew-line",
                node.place,
                "a brace of the crew's line has no partner",
                "write a figure as `{name}`",
            );
        }
        for gap in strange {
            reader.error(
                "crew-line",
                node.place,
                format!("nothing fills in `{{{gap}}}`"),
                "name a quantity of this row's `set`, or a figure of the pack",
            );
        }
    }

    fn pushes(&mut self, file: usize, node: &Node, rank: &Rank) -> Then {
        let mut pushes: Vec<(usize, f64)> = Vec::new();
        let mut rules_out: Vec<usize> = Vec::new();
        let index = |id: &str| rank.contestants.iter().position(|c| c.id == id);
        let word = if rank.evidence {
            "causes"
        } else {
            "candidates"
        };
        let mut unknown: Vec<(String, Place)> = Vec::new();
        let mut complained = false;
        if rank.evidence {
            let block = node.get("push").unwrap_or(node);
            for (key, _) in self.reader(file).entries(node, "push") {
                match index(&key.text) {
                    None => unknown.push((key.text.clone(), key.place)),
                    Some(c) => match push_of(&mut self.reader(file), block, &key.text) {
                        Some(push) => pushes.push((c, push)),
                        None => complained = true,
                    },
                }
            }
            for (id, n) in self.reader(file).texts(node, "rules_out") {
                match index(&id) {
                    Some(c) => rules_out.push(c),
                    None => unknown.push((id, n.place)),
                }
            }
        } else {
            let out = self.reader(file).flag(node, "rules_out");
            let points = push_of(&mut self.reader(file), node, "prefers");
            complained |= points.is_none() && node.get("prefers").is_some();
            let mut chosen: Vec<usize> = Vec::new();
            for (id, n) in self.reader(file).texts(node, "candidate") {
                if id == "*" {
                    chosen.extend(0..rank.contestants.len());
                } else {
                    match index(&id) {
                        Some(c) => chosen.push(c),
                        None => unknown.push((id, n.place)),
                    }
                }
            }
            if out {
                rules_out = chosen;
            } else if let Some(points) = points {
                pushes = chosen.into_iter().map(|c| (c, points)).collect();
            }
        }
        complained |= !unknown.is_empty();
        for (id, place) in unknown {
            let hint = nearest(&id, rank.contestants.iter().map(|c| c.id.as_str()))
                .map_or(format!("list it under `{word}`"), |n| {
                    format!("did you mean `{n}`?")
                });
            self.reader(file).error(
                "unknown-contestant",
                place,
                format!("`{id}` is not ranked here"),
                hint,
            );
        }
        if pushes.is_empty() && rules_out.is_empty() && !complained {
            self.reader(file).error(
                "missing-key",
                node.place,
                "this row says nothing about anyone",
                if rank.evidence {
                    "add `push: {cause: 1.5}` or `rules_out: [cause]`"
                } else {
                    "add `candidate:` with `rules_out: true` or `prefers: 1`"
                },
            );
        }
        Then::Pushes { pushes, rules_out }
    }

    /// A caution that a fact points to must be a row of the pack.
    fn named_cautions(&mut self, tables: &[Table]) {
        let rows = || {
            tables
                .iter()
                .filter(|t| matches!(t.body, Body::Collect))
                .flat_map(|t| &t.rows)
                .map(|r| r.id.as_str())
        };
        for (_, fact) in self.vocabulary.facts() {
            for id in &fact.cautions {
                if rows().any(|r| r == id) {
                    continue;
                }
                let hint = crate::source::nearest(id, rows())
                    .map_or("name a row of a table of cautions".to_owned(), |near| {
                        format!("did you mean `{near}`?")
                    });
                self.problems.push(
                    Problem::error(
                        "unknown-row",
                        format!(
                            "`{}` names the caution `{id}`, and no row is called so",
                            fact.id
                        ),
                    )
                    .at(&self.files[fact.file].file, fact.place)
                    .hint(hint),
                );
            }
        }
    }

    fn repeated_names(&mut self, tables: &[Table]) {
        let mut seen: HashMap<&str, (usize, Place)> = HashMap::new();
        let mut rows: HashMap<&str, (usize, Place)> = HashMap::new();
        let files = self.files;
        for table in tables {
            if let Some((file, place)) = seen.insert(&table.id, (table.file, table.place)) {
                self.problems.push(
                    Problem::error(
                        "repeated-table",
                        format!(
                            "the table `{}` is declared twice; also at {}:{}",
                            table.id, files[file].file.name, place.line
                        ),
                    )
                    .at(&files[table.file].file, table.place)
                    .hint("give one of them another name"),
                );
            }
            let mut own: Vec<(&str, usize, Place)> = Vec::new();
            if let Body::Rank(rank) = &table.body {
                for prior in &rank.priors {
                    // One row may set the prior of several causes.
                    let entry = (prior.id.as_str(), table.file, prior.place);
                    if !own.contains(&entry) {
                        own.push(entry);
                    }
                }
            }
            own.extend(table.rows.iter().map(|r| (r.id.as_str(), r.file, r.place)));
            for (id, row_file, row_place) in own {
                if let Some((file, place)) = rows.insert(id, (row_file, row_place)) {
                    self.problems.push(
                        Problem::error(
                            "repeated-row",
                            format!(
                                "the row id `{id}` is used twice; also at {}:{}",
                                files[file].file.name, place.line
                            ),
                        )
                        .at(&files[row_file].file, row_place)
                        .hint("ids are unique in the whole pack and never used again"),
                    );
                }
            }
        }
    }
}

/// A push may not come near what stands for "ruled out".
const PUSH_LIMIT: f64 = 100.0;

/// A push or preference under a key.
fn push_of(reader: &mut Reader<'_>, node: &Node, key: &str) -> Option<f64> {
    let push = reader.number(node, key)?;
    if push.abs() < PUSH_LIMIT {
        return Some(push);
    }
    reader.error(
        "number",
        node.get(key).map_or(node.place, |n| n.place),
        format!("a push of {push} is too strong"),
        format!("stay under {PUSH_LIMIT}, or use `rules_out`"),
    );
    None
}

fn is_safety(row: &Node) -> bool {
    matches!(row.get("safety").and_then(Node::text), Some("true" | "yes"))
}

/// Kinds that a bare payload is tried as, in order.
const SET_KINDS: [Kind; 11] = [
    Kind::Number,
    Kind::Slope,
    Kind::Length,
    Kind::Duration,
    Kind::Share,
    Kind::Temperature,
    Kind::Coverage,
    Kind::Area,
    Kind::Volume,
    Kind::Mass,
    Kind::Pressure,
];

fn sets(reader: &mut Reader<'_>, node: &Node) -> BTreeMap<String, Set> {
    let mut out = BTreeMap::new();
    for (key, value) in reader.entries(node, "set") {
        let text = reader
            .texts_of(value)
            .into_iter()
            .map(|(t, _)| t)
            .collect::<Vec<_>>()
            .join(", ");
        // A quantity begins with a number or a foot or inch count; a sentence need not be tried.
        let begins = |c: char| c.is_ascii_digit() || matches!(c, '-' | '.' | '½' | '¼' | '¾');
        let read = SET_KINDS
            .iter()
            .filter(|_| text.starts_with(begins))
            .find_map(|&kind| kind.read(&text).ok().map(|value| (kind, value)));
        let set = match read {
            Some((kind, value)) => Set::Quantity { value, kind, text },
            None => Set::Text(text),
        };
        out.insert(key.text.clone(), set);
    }
    out
}

/// Every condition of a table with the file it stands in.
fn every_condition(table: &Table) -> impl Iterator<Item = (usize, &Condition)> {
    let priors: &[Prior] = match &table.body {
        Body::Rank(rank) => &rank.priors,
        _ => &[],
    };
    let own = table
        .applies
        .iter()
        .chain(priors.iter().flat_map(|p| &p.when))
        .map(|c| (table.file, c));
    let rows = table
        .rows
        .iter()
        .flat_map(|r| r.when.iter().map(|c| (r.file, c)));
    own.chain(rows)
}

fn compile_cells(
    files: &[PackFile],
    vocabulary: &Vocabulary,
    tables: &[Table],
    problems: &mut Problems,
) -> Vec<Cells> {
    // A gathered number must have the cells of what it is gathered from, and the other way round:
    // cells travel between the two.
    let mut pool: Vec<usize> = (0..vocabulary.len()).collect();
    for (id, fact) in vocabulary.facts() {
        if let Comes::Gathered { from, .. } = &fact.comes
            && let Some(from) = vocabulary.find(from)
        {
            let (a, b) = (pool[usize::from(id.0)], pool[usize::from(from.0)]);
            for slot in pool.iter_mut().filter(|p| **p == a) {
                *slot = b;
            }
        }
    }
    let mut tests: Vec<Vec<&Test>> = vec![Vec::new(); vocabulary.len()];
    let mut first: Vec<Option<(usize, Place)>> = vec![None; vocabulary.len()];
    for table in tables {
        for (file, c) in every_condition(table) {
            tests[pool[usize::from(c.fact.0)]].push(&c.test);
            first[usize::from(c.fact.0)].get_or_insert((file, c.place));
        }
    }
    let mut out = Vec::with_capacity(vocabulary.len());
    for (id, fact) in vocabulary.facts() {
        let i = usize::from(id.0);
        match Cells::new(fact, tests[pool[i]].iter().copied()) {
            Ok(cells) => out.push(cells),
            Err(too_many) => {
                if let Some((file, place)) = first[i] {
                    problems.push(
                        Problem::error(
                            "too-many-cuts",
                            format!(
                                "`{}` is cut at {} points over the pack, 127 can be held",
                                fact.id, too_many.0
                            ),
                        )
                        .at(&files[file].file, place)
                        .hint("let one table make a grade and let others read the grade"),
                    );
                }
                out.push(Cells::default());
            }
        }
    }
    out
}

/// Gives every condition its cells and lays the table's conditions out flat.
fn compile(table: &mut Table, vocabulary: &Vocabulary, cells: &[Cells]) {
    let mut inputs: Vec<FactId> = Vec::new();
    let mut flatten = |conditions: &mut [Condition]| -> Vec<(u16, Bits)> {
        conditions
            .iter_mut()
            .map(|c| {
                let fact = usize::from(c.fact.0);
                c.mask = cells[fact].of_test(&c.test);
                let input = inputs.iter().position(|&f| f == c.fact).unwrap_or_else(|| {
                    inputs.push(c.fact);
                    inputs.len() - 1
                });
                (input as u16, c.mask)
            })
            .collect()
    };
    debug_assert!(matches!(vocabulary.len(), n if n == cells.len()));
    table.flat_applies = flatten(&mut table.applies);
    let mut flat = Vec::new();
    let mut starts = vec![0u32];
    for row in &mut table.rows {
        flat.extend(flatten(&mut row.when));
        starts.push(flat.len() as u32);
    }
    if let Body::Rank(rank) = &mut table.body {
        rank.prior_flat = rank
            .priors
            .iter_mut()
            .map(|p| flatten(&mut p.when))
            .collect();
    }
    table.index = Index::new(vocabulary, cells, &inputs, &flat, &starts);
    table.classes = table
        .rows
        .iter()
        .map(|row| match row.then {
            // A choice has at most 128 values.
            Then::Class(c) => c as u8,
            _ => 0,
        })
        .collect();
    table.flat = flat;
    table.starts = starts;
    table.inputs = inputs;
    if let Body::Rank(rank) = &table.body {
        let (groups, alike) = (groups(table, rank), alike(table, rank, cells));
        if let Body::Rank(rank) = &mut table.body {
            rank.groups = groups;
            rank.alike = alike;
        }
    }
}

/// For each input and cell, the first cell that no row and no prior tells apart from it.
fn alike(table: &Table, rank: &Rank, cells: &[Cells]) -> Vec<Vec<u8>> {
    let same = |input: usize, a: usize, b: usize| {
        table.index.alike(input, a, b)
            && rank
                .prior_flat
                .iter()
                .flatten()
                .filter(|(i, _)| usize::from(*i) == input)
                .all(|(_, mask)| mask.has(a) == mask.has(b))
    };
    table
        .inputs
        .iter()
        .enumerate()
        .map(|(input, fact)| {
            let width = cells[usize::from(fact.0)]
                .domain
                .highest()
                .map_or(0, |h| h + 1);
            (0..width)
                .map(|cell| (0..cell).find(|&c| same(input, c, cell)).unwrap_or(cell) as u8)
                .collect()
        })
        .collect()
}

/// Rows and priors that share inputs, directly or through others, belong to one group. All priors
/// of a contestant belong together, since the first that holds wins.
fn groups(table: &Table, rank: &Rank) -> Vec<Group> {
    let n = table.inputs.len();
    let mut leader: Vec<usize> = (0..n).collect();
    fn find(leader: &mut [usize], mut i: usize) -> usize {
        while leader[i] != i {
            leader[i] = leader[leader[i]];
            i = leader[i];
        }
        i
    }
    let join = |inputs: &[u16], leader: &mut Vec<usize>| {
        for pair in inputs.windows(2) {
            let (a, b) = (
                find(leader, usize::from(pair[0])),
                find(leader, usize::from(pair[1])),
            );
            leader[a.max(b)] = a.min(b);
        }
    };
    let row_inputs: Vec<Vec<u16>> = (0..table.rows.len())
        .map(|r| table.conditions(r).iter().map(|c| c.0).collect())
        .collect();
    let mut prior_inputs: Vec<Vec<u16>> = vec![Vec::new(); rank.contestants.len()];
    for (prior, flat) in rank.priors.iter().zip(&rank.prior_flat) {
        prior_inputs[prior.contestant].extend(flat.iter().map(|c| c.0));
    }
    for inputs in row_inputs.iter().chain(&prior_inputs) {
        join(inputs, &mut leader);
    }
    // Index `n` is the group of rows that read nothing.
    let mut groups: Vec<Group> = vec![Group::default(); n + 1];
    for input in 0..n {
        let g = find(&mut leader, input);
        groups[g].inputs.push(input as u16);
    }
    for (r, inputs) in row_inputs.iter().enumerate() {
        let g = inputs
            .first()
            .map_or(n, |&i| find(&mut leader, usize::from(i)));
        groups[g].rows.push(r as u16);
    }
    for (p, prior) in rank.priors.iter().enumerate() {
        let g = prior_inputs[prior.contestant]
            .first()
            .map_or(n, |&i| find(&mut leader, usize::from(i)));
        groups[g].priors.push(p as u16);
    }
    groups.retain(|g| !g.rows.is_empty() || !g.priors.is_empty());
    groups
}
