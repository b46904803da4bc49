//! Reading facts, figures and the glossary from pack files.

use crate::source::{Data, Key, Node, Place, Problem, Problems, SourceFile, nearest};
use crate::units::Kind;

use super::{
    Bits, ChoiceValue, Comes, Fact, FactKind, Figure, Gather, Interval, Pass, Product, Provenance,
    READERS, Scope, Silent, SourceNote, Term, Value, Vocabulary,
};

/// Reads fields out of a node, collecting every problem on the way.
pub struct Reader<'a> {
    /// The file the nodes come from.
    pub file: &'a SourceFile,
    /// Where problems go.
    pub problems: &'a mut Problems,
}

impl Reader<'_> {
    /// Reports an error at a place.
    pub fn error(
        &mut self,
        code: &'static str,
        place: Place,
        message: impl Into<String>,
        hint: impl Into<String>,
    ) {
        self.problems.push(
            Problem::error(code, message)
                .at(self.file, place)
                .hint(hint),
        );
    }

    /// Reports every key that is not among `allowed`, with the nearest that is.
    pub fn only_keys(&mut self, node: &Node, allowed: &[&str]) {
        if !matches!(node.data, Data::Map(_)) {
            self.error(
                "shape",
                node.place,
                format!(
                    "this is {}, a block of `name: value` lines is needed",
                    node.what()
                ),
                format!("one of: {}", allowed.join(", ")),
            );
            return;
        }
        for (key, _) in node.entries() {
            if !allowed.contains(&key.text.as_str()) {
                let hint = match nearest(&key.text, allowed.iter().copied()) {
                    Some(near) => format!("did you mean `{near}`?"),
                    None => format!("one of: {}", allowed.join(", ")),
                };
                self.error(
                    "unknown-key",
                    key.place,
                    format!("there is no `{}` here", key.text),
                    hint,
                );
            }
        }
    }

    /// Text under a key that must be there.
    pub fn text(&mut self, node: &Node, key: &str) -> String {
        match self.optional_text(node, key) {
            Some(text) => text,
            None => {
                if node.get(key).is_none_or(|n| n.data == Data::Null) {
                    self.error(
                        "missing-key",
                        node.place,
                        format!("`{key}` is missing"),
                        format!("add `{key}: …`"),
                    );
                }
                String::new()
            }
        }
    }

    /// Text under a key, if it is there.
    pub fn optional_text(&mut self, node: &Node, key: &str) -> Option<String> {
        let value = node.get(key)?;
        match &value.data {
            Data::Scalar { text, .. } => Some(text.trim().to_owned()),
            Data::Null => None,
            _ => {
                self.error(
                    "shape",
                    value.place,
                    format!("`{key}` is {}, a single value is needed", value.what()),
                    "write it on one line",
                );
                None
            }
        }
    }

    /// A bare number under a key.
    pub fn number(&mut self, node: &Node, key: &str) -> Option<f64> {
        let text = self.optional_text(node, key)?;
        match text.parse::<f64>() {
            Ok(x) if x.is_finite() => Some(x),
            _ => {
                let place = node.get(key).map_or(node.place, |n| n.place);
                self.error(
                    "number",
                    place,
                    format!("`{text}` is not a number"),
                    "write digits only, such as `1.5`",
                );
                None
            }
        }
    }

    /// `true`/`yes` or `false`/`no` under a key; false when absent.
    pub fn flag(&mut self, node: &Node, key: &str) -> bool {
        match self.optional_text(node, key).as_deref() {
            None | Some("false" | "no") => false,
            Some("true" | "yes") => true,
            Some(other) => {
                let place = node.get(key).map_or(node.place, |n| n.place);
                self.error(
                    "flag",
                    place,
                    format!("`{other}` is neither yes nor no"),
                    "write `yes` or `no`",
                );
                false
            }
        }
    }

    /// One text or a list of texts under a key, each with its node; empty when absent.
    pub fn texts<'n>(&mut self, node: &'n Node, key: &str) -> Vec<(String, &'n Node)> {
        node.get(key)
            .map_or_else(Vec::new, |value| self.texts_of(value))
    }

    /// One text or a list of texts.
    pub fn texts_of<'n>(&mut self, value: &'n Node) -> Vec<(String, &'n Node)> {
        let items: &[Node] = match &value.data {
            Data::List(items) => items,
            Data::Null => return Vec::new(),
            _ => std::slice::from_ref(value),
        };
        let mut out = Vec::with_capacity(items.len());
        for item in items {
            match item.text() {
                Some(text) => out.push((text.trim().to_owned(), item)),
                None => self.error(
                    "shape",
                    item.place,
                    format!("this is {}, a single value is needed", item.what()),
                    "write one word",
                ),
            }
        }
        out
    }

    /// The items of a list under a key; empty when absent.
    pub fn items<'n>(&mut self, node: &'n Node, key: &str) -> &'n [Node] {
        match node.get(key) {
            Some(list @ Node { data, .. }) if !matches!(data, Data::List(_) | Data::Null) => {
                self.error(
                    "shape",
                    list.place,
                    format!("`{key}` is {}, a list is needed", list.what()),
                    "begin each item with `- `",
                );
                &[]
            }
            Some(list) => list.items(),
            None => &[],
        }
    }

    /// The entries of a block under a key; empty when absent.
    pub fn entries<'n>(&mut self, node: &'n Node, key: &str) -> &'n [(Key, Node)] {
        match node.get(key) {
            Some(block @ Node { data, .. }) if !matches!(data, Data::Map(_) | Data::Null) => {
                self.error(
                    "shape",
                    block.place,
                    format!(
                        "`{key}` is {}, a block of `name: value` lines is needed",
                        block.what()
                    ),
                    "write `name: value` lines",
                );
                &[]
            }
            Some(block) => block.entries(),
            None => &[],
        }
    }

    /// A word out of a list, with the nearest when it is none of them.
    pub fn word<T: Copy>(&mut self, node: &Node, key: &str, words: &[(&str, T)]) -> Option<T> {
        let text = self.optional_text(node, key)?;
        match words.iter().find(|(w, _)| *w == text) {
            Some((_, value)) => Some(*value),
            None => {
                let place = node.get(key).map_or(node.place, |n| n.place);
                let all: Vec<_> = words.iter().map(|(w, _)| *w).collect();
                let hint = match nearest(&text, all.iter().copied()) {
                    Some(near) => format!("did you mean `{near}`?"),
                    None => format!("one of: {}", all.join(", ")),
                };
                self.error("word", place, format!("`{key}` can't be `{text}`"), hint);
                None
            }
        }
    }
}

const PROVENANCE: [(&str, Provenance); 6] = [
    ("seen", Provenance::Seen),
    ("restated", Provenance::Restated),
    ("memory", Provenance::Memory),
    ("practice", Provenance::Practice),
    ("derived", Provenance::Derived),
    ("judgement", Provenance::Judgement),
];

const SCOPES: [(&str, Scope); 8] = [
    ("site", Scope::Site),
    ("slab", Scope::Slab),
    ("area", Scope::Area),
    ("panel", Scope::Panel),
    ("defect", Scope::Defect),
    ("joint", Scope::Joint),
    ("stair", Scope::Stair),
    ("threshold", Scope::Threshold),
];

/// Source and provenance of an entry; both must be there.
pub fn source_of(reader: &mut Reader<'_>, node: &Node) -> SourceNote {
    let source = reader.text(node, "source");
    if node.get("provenance").is_none() {
        reader.error(
            "missing-key",
            node.place,
            "`provenance` is missing",
            "add `provenance:` seen, restated, memory, practice, derived or judgement",
        );
    }
    let provenance = reader
        .word(node, "provenance", &PROVENANCE)
        .unwrap_or(Provenance::Judgement);
    SourceNote { source, provenance }
}

/// The scope word under `scope`.
pub fn scope_of(reader: &mut Reader<'_>, node: &Node) -> Option<Scope> {
    if node.get("scope").is_none() {
        reader.error(
            "missing-key",
            node.place,
            "`scope` is missing",
            "add `scope:` site, slab, area, panel, defect, joint, stair or threshold",
        );
    }
    reader.word(node, "scope", &SCOPES)
}

/// A fact, a figure or a word as it stands in a file, before references are resolved.
struct Raw<'a> {
    index: usize,
    file: &'a SourceFile,
    key: &'a Key,
    node: &'a Node,
}

impl Vocabulary {
    /// Reads the `facts`, `figures` and `glossary` blocks of all files of a pack. A later file may
    /// replace a figure or a glossary word of an earlier one, but not a fact.
    pub fn load<'a>(
        files: impl IntoIterator<Item = (&'a SourceFile, &'a Node)>,
        problems: &mut Problems,
    ) -> Vocabulary {
        let mut vocabulary = Vocabulary::default();
        let mut raw: Vec<Raw<'_>> = Vec::new();
        let mut terms: Vec<Term> = Vec::new();
        for (index, (file, root)) in files.into_iter().enumerate() {
            for (key, node) in (Reader { file, problems }).entries(root, "facts") {
                raw.push(Raw {
                    index,
                    file,
                    key,
                    node,
                });
            }
            for (key, node) in (Reader { file, problems }).entries(root, "figures") {
                if let Some(figure) = figure(&mut Reader { file, problems }, key, node) {
                    let id = figure.id.clone();
                    if vocabulary.add_figure(figure) {
                        vocabulary.replaced_figures.push((id, index, key.place));
                    }
                }
            }
            for (key, node) in (Reader { file, problems }).entries(root, "glossary") {
                let means = node.text().unwrap_or_default().trim().to_owned();
                if means.is_empty() {
                    Reader { file, problems }.error(
                        "glossary",
                        key.place,
                        format!("`{}` has no meaning", key.text),
                        "write `word: what it means, in one plain sentence`",
                    );
                }
                terms.retain(|t| t.term != key.text);
                terms.push(Term {
                    term: key.text.clone(),
                    means,
                });
            }
        }
        vocabulary.glossary = terms;
        let kinds: Vec<Option<FactKind>> = raw.iter().map(|r| own_kind(r, problems)).collect();
        for (i, r) in raw.iter().enumerate() {
            let kind = kinds[i]
                .clone()
                .or_else(|| kind_of_other(r, &raw, &kinds, problems));
            let Some(kind) = kind else { continue };
            if let Some(fact) = fact(r, kind, problems) {
                let id = fact.id.clone();
                if vocabulary.add(fact).is_none() {
                    Reader {
                        file: r.file,
                        problems,
                    }
                    .error(
                        "repeated-fact",
                        r.key.place,
                        if vocabulary.find(&id).is_some() {
                            format!("the fact `{id}` is declared twice")
                        } else {
                            format!("there are too many facts to take `{id}`")
                        },
                        "keep one of them",
                    );
                }
            }
        }
        gathered_facts_exist(&raw, &vocabulary, problems);
        vocabulary
    }
}

const FACT_KEYS: [&str; 22] = [
    "scope",
    "name",
    "kind",
    "values",
    "values_of",
    "ordered",
    "range",
    "ask",
    "measure",
    "minutes",
    "wait",
    "who",
    "pass",
    "caution",
    "cautions",
    "comes",
    "gathered",
    "kinds",
    "silent",
    "none",
    "product",
    "read_by",
];

/// The kind a fact states itself; `None` where it takes another's (`values_of`).
fn own_kind(raw: &Raw<'_>, problems: &mut Problems) -> Option<FactKind> {
    let mut reader = Reader {
        file: raw.file,
        problems,
    };
    let node = raw.node;
    if node.get("values_of").is_some() {
        return None;
    }
    let kind = reader.text(node, "kind");
    match kind.as_str() {
        "" => None,
        "flag" => Some(FactKind::Choice {
            values: vec![
                ChoiceValue {
                    id: "no".into(),
                    name: "no".into(),
                },
                ChoiceValue {
                    id: "yes".into(),
                    name: "yes".into(),
                },
            ],
            ordered: true,
        }),
        "choice" => {
            let ordered = reader.flag(node, "ordered");
            let mut values: Vec<ChoiceValue> = Vec::new();
            match node.get("values").map(|n| &n.data) {
                Some(Data::Map(entries)) => {
                    for (key, name) in entries {
                        let name = name.text().unwrap_or(&key.text).trim().to_owned();
                        values.push(ChoiceValue {
                            id: key.text.clone(),
                            name,
                        });
                    }
                }
                Some(Data::List(items)) => {
                    for item in items {
                        if let Some(text) = item.text() {
                            values.push(ChoiceValue {
                                id: text.to_owned(),
                                name: text.replace('_', " "),
                            });
                        }
                    }
                }
                _ => reader.error(
                    "missing-key",
                    node.place,
                    "a choice needs its `values`",
                    "add `values: {word: plain words, …}`",
                ),
            }
            if values.len() > 128 {
                reader.error(
                    "too-many-values",
                    node.place,
                    "a choice can have 128 values at most",
                    "split the fact",
                );
                values.truncate(128);
            }
            Some(FactKind::Choice { values, ordered })
        }
        word => match word.parse::<Kind>() {
            Ok(kind) => Some(FactKind::Quantity(kind)),
            Err(_) => {
                let place = node.get("kind").map_or(node.place, |n| n.place);
                reader.error(
                    "kind",
                    place,
                    format!("`{word}` is no kind of fact"),
                    format!(
                        "`choice`, `flag` or one of: {}",
                        Kind::ALL.map(Kind::word).join(", ")
                    ),
                );
                None
            }
        },
    }
}

fn kind_of_other(
    raw: &Raw<'_>,
    all: &[Raw<'_>],
    kinds: &[Option<FactKind>],
    problems: &mut Problems,
) -> Option<FactKind> {
    let mut reader = Reader {
        file: raw.file,
        problems,
    };
    let other = reader.optional_text(raw.node, "values_of")?;
    // One `values_of` may point at another; a loop of them ends after as many steps as there are facts.
    let mut name = other.as_str();
    for _ in 0..all.len() {
        match all.iter().position(|r| r.key.text == name) {
            Some(i) => match (&kinds[i], all[i].node.get("values_of").and_then(Node::text)) {
                (Some(kind), _) => return Some(kind.clone()),
                (None, Some(next)) => name = next,
                (None, None) => return None,
            },
            None => {
                let place = raw
                    .node
                    .get("values_of")
                    .map_or(raw.node.place, |n| n.place);
                let hint = nearest(name, all.iter().map(|r| r.key.text.as_str()))
                    .map_or("declare it under `facts:`".to_owned(), |near| {
                        format!("did you mean `{near}`?")
                    });
                reader.error(
                    "unknown-fact",
                    place,
                    format!("there is no fact `{name}`"),
                    hint,
                );
                return None;
            }
        }
    }
    reader.error(
        "loop",
        raw.node.place,
        "these facts take their values from each other",
        "state `kind` and `values` on one of them",
    );
    None
}

/// How a choice is told from the name of a product.
fn product(reader: &mut Reader<'_>, node: &Node, kind: &FactKind) -> Option<Product> {
    reader.only_keys(
        node,
        &["kind", "words", "otherwise", "source", "provenance"],
    );
    let FactKind::Choice { values, .. } = kind else {
        reader.error(
            "product",
            node.place,
            "only a choice is told by the name of a product",
            "leave `product` out",
        );
        return None;
    };
    let value = |reader: &mut Reader<'_>, word: &str, place| {
        let found = values.iter().position(|v| v.id == word);
        if found.is_none() {
            let hint = nearest(word, values.iter().map(|v| v.id.as_str())).map_or_else(
                || "name one of its `values`".to_owned(),
                |near| format!("did you mean `{near}`?"),
            );
            reader.error("value", place, format!("`{word}` is no value of it"), hint);
        }
        found
    };
    let mut words = Vec::new();
    for (key, list) in reader.entries(node, "words") {
        let own: Vec<String> = (reader.texts_of(list).into_iter())
            .map(|(text, _)| text.to_lowercase())
            .collect();
        if let Some(i) = value(reader, &key.text, key.place) {
            words.push((i, own));
        }
    }
    let otherwise = reader.text(node, "otherwise");
    let place = node.get("otherwise").map_or(node.place, |n| n.place);
    let kind = reader.text(node, "kind");
    let source = source_of(reader, node);
    Some(Product {
        kind,
        words,
        otherwise: value(reader, &otherwise, place)?,
        source,
    })
}

fn fact(raw: &Raw<'_>, kind: FactKind, problems: &mut Problems) -> Option<Fact> {
    let mut reader = Reader {
        file: raw.file,
        problems,
    };
    let node = raw.node;
    reader.only_keys(node, &FACT_KEYS);
    let scope = scope_of(&mut reader, node)?;
    let name = reader.text(node, "name");
    let gathered = node.get("gathered");
    let comes = match reader.text(node, "comes").as_str() {
        "asked" => Comes::Asked,
        "survey" => Comes::Survey,
        "made" => Comes::Made,
        "gathered" => {
            let Some(gathered) = gathered else {
                reader.error(
                    "missing-key",
                    node.place,
                    "a gathered fact needs `gathered`",
                    "add `gathered: {from: fact, by: worst}`",
                );
                return None;
            };
            reader.only_keys(gathered, &["from", "by"]);
            let from = reader.text(gathered, "from");
            let by = reader.word(
                gathered,
                "by",
                &[
                    ("worst", Gather::Worst),
                    ("greatest", Gather::Greatest),
                    ("sum", Gather::Sum),
                ],
            )?;
            Comes::Gathered { from, by }
        }
        "" => return None,
        other => {
            let place = node.get("comes").map_or(node.place, |n| n.place);
            let hint = nearest(other, ["asked", "survey", "made", "gathered"])
                .map_or("one of: asked, survey, made, gathered".to_owned(), |n| {
                    format!("did you mean `{n}`?")
                });
            reader.error("word", place, format!("`comes` can't be `{other}`"), hint);
            return None;
        }
    };
    let range = node.get("range").and_then(|n| match &kind {
        FactKind::Quantity(kind) => quantity(&mut reader, n, *kind),
        FactKind::Choice { .. } => {
            reader.error(
                "range",
                n.place,
                "a choice has no range",
                "leave `range` out",
            );
            None
        }
    });
    let wait_days = node
        .get("wait")
        .and_then(|n| quantity(&mut reader, n, Kind::Duration))
        .map_or(0.0, |i| i.hi);
    let who = reader
        .word(
            node,
            "who",
            &[
                ("anyone", "anyone"),
                ("contractor", "contractor"),
                ("laboratory", "laboratory"),
                ("engineer", "engineer"),
            ],
        )
        .unwrap_or("anyone")
        .to_owned();
    let usual = if comes == Comes::Survey {
        Pass::Measure
    } else {
        Pass::Look
    };
    let pass = reader
        .word(
            node,
            "pass",
            &[
                ("look", Pass::Look),
                ("tap", Pass::Tap),
                ("measure", Pass::Measure),
            ],
        )
        .unwrap_or(usual);
    let silent = node.get("silent").and_then(|n| {
        reader.only_keys(n, &["value", "because", "kinds"]);
        let because = reader.text(n, "because");
        let value = n.get("value").and_then(|v| value(&mut reader, v, &kind))?;
        let kinds = reader
            .texts(n, "kinds")
            .into_iter()
            .map(|(t, _)| t)
            .collect();
        Some(Silent {
            value,
            because,
            kinds,
        })
    });
    let none = node.get("none").and_then(|n| value(&mut reader, n, &kind));
    let product = (node.get("product")).and_then(|n| product(&mut reader, n, &kind));
    let mut read_by = Vec::new();
    for (word, item) in reader.texts(node, "read_by") {
        match READERS.iter().find(|r| **r == word) {
            Some(_) => read_by.push(word),
            None => {
                let hint = nearest(&word, READERS).map_or_else(
                    || format!("one of: {}", READERS.join(", ")),
                    |near| format!("did you mean `{near}`?"),
                );
                reader.error(
                    "word",
                    item.place,
                    format!("`read_by` can't be `{word}`"),
                    hint,
                );
            }
        }
    }
    let ask = reader.optional_text(node, "ask");
    if comes == Comes::Asked && ask.is_none() {
        reader.error(
            "missing-key",
            node.place,
            "an asked fact needs the question",
            "add `ask: …`",
        );
    }
    Some(Fact {
        id: raw.key.text.clone(),
        scope,
        name,
        kind,
        range,
        ask,
        measure: reader.optional_text(node, "measure"),
        minutes: reader.number(node, "minutes").unwrap_or(0.0),
        wait_days,
        who,
        pass,
        caution: reader.optional_text(node, "caution"),
        cautions: reader
            .texts(node, "cautions")
            .into_iter()
            .map(|(t, _)| t)
            .collect(),
        comes,
        kinds: reader
            .texts(node, "kinds")
            .into_iter()
            .map(|(t, _)| t)
            .collect(),
        silent,
        none,
        product,
        read_by,
        file: raw.index,
        place: raw.key.place,
    })
}

/// A quantity of a kind, as written.
fn quantity(reader: &mut Reader<'_>, node: &Node, kind: Kind) -> Option<Interval> {
    let Some(text) = node.text() else {
        reader.error(
            "shape",
            node.place,
            format!("this is {}, a {} is needed", node.what(), kind.word()),
            "write it on one line",
        );
        return None;
    };
    match kind.read(text) {
        Ok(interval) => Some(interval),
        Err(error) => {
            reader.error("unit", node.place, error.message, error.hint);
            None
        }
    }
}

/// A value of a fact: a quantity, a word, or a list of words that are possible.
fn value(reader: &mut Reader<'_>, node: &Node, kind: &FactKind) -> Option<Value> {
    match kind {
        FactKind::Quantity(kind) => quantity(reader, node, *kind).map(Value::Number),
        FactKind::Choice { values, .. } => {
            let mut bits = Bits::NONE;
            for (text, item) in reader.texts_of(node) {
                let word = match text.as_str() {
                    "true" => "yes",
                    "false" => "no",
                    other => other,
                };
                match values.iter().position(|v| v.id == word) {
                    Some(i) => bits = bits.or(Bits::one(i)),
                    None => {
                        let hint = nearest(word, values.iter().map(|v| v.id.as_str())).map_or(
                            format!(
                                "one of: {}",
                                values
                                    .iter()
                                    .map(|v| v.id.as_str())
                                    .collect::<Vec<_>>()
                                    .join(", ")
                            ),
                            |near| format!("did you mean `{near}`?"),
                        );
                        reader.error(
                            "value",
                            item.place,
                            format!("`{word}` is not among the values"),
                            hint,
                        );
                    }
                }
            }
            (!bits.is_empty()).then_some(Value::Choices(bits))
        }
    }
}

impl Fact {
    /// Reads a value of this fact as written in a record or an example.
    ///
    /// # Errors
    /// A problem at the node's place when it is no value of this fact. `unknown` is a value.
    pub fn read_value(&self, reader: &mut Reader<'_>, node: &Node) -> Option<Value> {
        if matches!(node.text(), Some("unknown" | "?" | "don't know")) {
            return Some(Value::Unknown);
        }
        value(reader, node, &self.kind)
    }
}

fn figure(reader: &mut Reader<'_>, key: &Key, node: &Node) -> Option<Figure> {
    reader.only_keys(node, &["name", "kind", "value", "source", "provenance"]);
    let name = reader.text(node, "name");
    let kind_word = reader.text(node, "kind");
    let Ok(kind) = kind_word.parse::<Kind>() else {
        let place = node.get("kind").map_or(node.place, |n| n.place);
        reader.error(
            "kind",
            place,
            format!("`{kind_word}` is no kind of quantity"),
            format!("one of: {}", Kind::ALL.map(Kind::word).join(", ")),
        );
        return None;
    };
    let text = reader.text(node, "value");
    let value = node.get("value").and_then(|n| quantity(reader, n, kind))?;
    let source = source_of(reader, node);
    Some(Figure {
        id: key.text.clone(),
        name,
        value,
        kind,
        text,
        source,
    })
}

fn gathered_facts_exist(raw: &[Raw<'_>], vocabulary: &Vocabulary, problems: &mut Problems) {
    for r in raw {
        let Some(id) = vocabulary.find(&r.key.text) else {
            continue;
        };
        let outer = vocabulary.fact(id);
        let Comes::Gathered { from, by } = &outer.comes else {
            continue;
        };
        let mut reader = Reader {
            file: r.file,
            problems,
        };
        let place = r.node.get("gathered").map_or(r.node.place, |n| n.place);
        let Some(inner) = vocabulary.find(from).map(|i| vocabulary.fact(i)) else {
            let hint = nearest(from, vocabulary.facts().map(|(_, f)| f.id.as_str()))
                .map_or("declare it under `facts:`".to_owned(), |near| {
                    format!("did you mean `{near}`?")
                });
            reader.error(
                "unknown-fact",
                place,
                format!("there is no fact `{from}` to gather"),
                hint,
            );
            continue;
        };
        if !outer.scope.holds(inner.scope) {
            reader.error(
                "scope",
                place,
                format!(
                    "`{from}` is about {}, which does not lie inside {}",
                    inner.scope.named(),
                    outer.scope.named()
                ),
                "gather from an inner scope",
            );
        }
        let fits = match (&inner.kind, &outer.kind, by) {
            (FactKind::Quantity(a), FactKind::Quantity(b), Gather::Greatest | Gather::Sum) => {
                a == b
            }
            (
                FactKind::Choice {
                    ordered: true,
                    values: a,
                },
                FactKind::Choice { values: b, .. },
                Gather::Worst,
            ) => a.iter().map(|v| &v.id).eq(b.iter().map(|v| &v.id)),
            _ => false,
        };
        if !fits {
            reader.error("kind", place, format!("`{from}` can't be gathered into `{}` this way", outer.id),
                "worst wants an ordered choice with the same values; greatest and sum want the same kind of quantity");
        }
    }
}
