//! A YAML tree held against the JSON Schema of the record: unknown and missing keys, wrong shapes,
//! misspelt words, measures that can't be read. What is sound becomes JSON for the typed record;
//! what is not is left out, or stands in by an empty value where the record can't do without.

use std::collections::BTreeSet;

use serde_json::{Map, Value, json};

use crate::facts::{Comes, Vocabulary};
use crate::source::{Data, Node, Place, Problem, Problems, SourceFile, nearest};
use crate::units::{Kind, NotationError, Size, is_unknown};

/// Longest text in a record, in characters.
pub const LONGEST_TEXT: usize = 50_000;

/// Walks a tree along a schema.
pub(super) struct Shape<'a> {
    pub file: &'a SourceFile,
    pub problems: &'a mut Problems,
    pub vocabulary: Option<&'a Vocabulary>,
    /// The schema's `$defs`.
    pub defs: &'a Map<String, Value>,
    /// Paths whose value was replaced by an empty one.
    pub broken: BTreeSet<String>,
}

impl<'a> Shape<'a> {
    /// The node as JSON of the schema's shape. `owner` is the place of the key it stands under.
    pub fn value(
        &mut self,
        node: &Node,
        schema: &'a Value,
        path: &str,
        owner: Place,
    ) -> Option<Value> {
        let schema = self.resolve(schema);
        if let Some(words) = words_of(schema) {
            return self.word(node, &words, path);
        }
        if let Some(choices) = schema
            .get("anyOf")
            .or_else(|| schema.get("oneOf"))
            .and_then(Value::as_array)
        {
            return self.one_of(node, choices, path, owner);
        }
        match type_of(schema) {
            Some("object") => self.block(node, schema, path, owner),
            Some("array") => self.list(node, schema, path),
            Some("integer") => self.integer(node, schema, path),
            Some("number") => self.number(node, path),
            Some("boolean") => self.flag(node, path),
            Some("string") => match schema.get("format").and_then(Value::as_str) {
                Some(format) if format == "size" || format.parse::<Kind>().is_ok() => {
                    self.measure(node, format, path)
                }
                _ => self.text(node, path),
            },
            _ => Some(node.to_json()),
        }
    }

    fn resolve(&self, schema: &'a Value) -> &'a Value {
        let mut schema = schema;
        // Bounded: the schema is our own, and a reference to a reference is already unusual.
        for _ in 0..8 {
            let Some(name) = schema.get("$ref").and_then(Value::as_str) else {
                break;
            };
            let Some(found) = self.defs.get(name.trim_start_matches("#/$defs/")) else {
                break;
            };
            schema = found;
        }
        schema
    }

    fn fail(
        &mut self,
        code: &'static str,
        place: Place,
        path: &str,
        message: impl Into<String>,
        hint: impl Into<String>,
    ) -> Option<Value> {
        self.problems.push(
            Problem::error(code, message)
                .at(self.file, place)
                .hint(hint),
        );
        self.broken.insert(path.to_owned());
        None
    }

    fn one_of(
        &mut self,
        node: &Node,
        choices: &'a [Value],
        path: &str,
        owner: Place,
    ) -> Option<Value> {
        let real: Vec<&'a Value> = choices
            .iter()
            .filter(|c| type_of(c) != Some("null"))
            .collect();
        if let [only] = real.as_slice() {
            return self.value(node, only, path, owner);
        }
        match &node.data {
            Data::Null => None,
            Data::Scalar { .. } => {
                let text = self.text(node, path)?;
                // One spelling of "unknown" from here on.
                if text.as_str().is_some_and(is_unknown) {
                    return Some(json!("unknown"));
                }
                Some(node.to_json())
            }
            Data::List(items) if !items.is_empty() => {
                let mut out = Vec::new();
                for (i, item) in items.iter().enumerate() {
                    out.push(
                        self.text(item, &format!("{path}.{i}"))
                            .unwrap_or_else(|| json!("")),
                    );
                }
                Some(Value::Array(out))
            }
            _ => self.fail(
                "shape",
                node.place,
                path,
                format!("a value is needed here, not {}", described(node)),
                "write one value, or every value that is possible: `[moderate, severe]`",
            ),
        }
    }

    fn block(&mut self, node: &Node, schema: &'a Value, path: &str, owner: Place) -> Option<Value> {
        if !matches!(node.data, Data::Map(_)) {
            let properties = schema.get("properties").and_then(Value::as_object);
            let first = properties.and_then(|p| p.keys().next());
            let hint = match first {
                Some(key) => {
                    format!("write its lines below, set in by two spaces, for example `{key}: …`")
                }
                None => "write one `name: value` line for each, set in by two spaces".to_owned(),
            };
            return self.fail(
                "shape",
                if node.data == Data::Null {
                    owner
                } else {
                    node.place
                },
                path,
                format!(
                    "a block of `name: value` lines is needed here, not {}",
                    described(node)
                ),
                hint,
            );
        }
        let mut out = Map::new();
        let properties = schema.get("properties").and_then(Value::as_object);
        let others = schema.get("additionalProperties").filter(|v| v.is_object());
        for (key, value) in node.entries() {
            if out.contains_key(&key.text) {
                continue; // repeated; said when the file was read
            }
            let below = join(path, &key.text);
            let Some(schema) = properties.and_then(|p| p.get(&key.text)).or(others) else {
                let hint = self.hint_for_unknown(&key.text, path, properties);
                let message = match path {
                    "" => format!("there is no `{}` in a record", key.text),
                    _ => format!("there is no `{}` in {}", key.text, block_name(path)),
                };
                self.problems.push(
                    Problem::error("unknown-key", message)
                        .at(self.file, key.place)
                        .hint(hint),
                );
                continue;
            };
            if value.data == Data::Null {
                continue; // nothing after the colon: the same as leaving it out
            }
            match self.value(value, schema, &below, key.place) {
                Some(json) => {
                    out.insert(key.text.clone(), json);
                }
                None => {
                    self.broken.insert(below);
                }
            }
        }
        for name in schema
            .get("required")
            .and_then(Value::as_array)
            .into_iter()
            .flatten()
            .filter_map(Value::as_str)
        {
            if out.contains_key(name) {
                continue;
            }
            let property = properties.and_then(|p| p.get(name));
            let below = join(path, name);
            let written = node.get(name).is_some_and(|n| n.data != Data::Null);
            if !written {
                let what = property
                    .and_then(|p| p.get("description"))
                    .and_then(Value::as_str)
                    .map(first_sentence);
                let example = property.map_or("…".to_owned(), |p| self.example(p));
                let words = property.and_then(|p| words_of(self.resolve(p)));
                let hint = match what {
                    _ if let Some(words) = words => {
                        format!("add `{name}:` with one of: {}", words.join(", "))
                    }
                    Some(what) => format!("add `{name}: {example}`. {what}"),
                    None => format!("add `{name}: {example}`"),
                };
                let (place, message) = match node.entries().iter().find(|(k, _)| k.text == name) {
                    Some((key, _)) => (key.place, format!("nothing is written after `{name}`")),
                    None if path.is_empty() => {
                        (node.place, format!("`{name}` is missing from the record"))
                    }
                    None => (
                        owner,
                        format!("`{name}` is missing from {}", block_name(path)),
                    ),
                };
                self.problems.push(
                    Problem::error("missing-key", message)
                        .at(self.file, place)
                        .hint(hint),
                );
            }
            self.broken.insert(below);
            let stand_in = property.map_or(Value::Null, |p| self.stand_in(p, 0));
            out.insert(name.to_owned(), stand_in);
        }
        Some(Value::Object(out))
    }

    fn list(&mut self, node: &Node, schema: &'a Value, path: &str) -> Option<Value> {
        let items = schema.get("items").unwrap_or(&Value::Null);
        let length = schema.get("maxItems").and_then(Value::as_u64);
        let Data::List(nodes) = &node.data else {
            let hint = match (length, node.text()) {
                (Some(2), _) => "write `[x, y]`, for example `[4 ft, 6 ft]`".to_owned(),
                (_, Some(text)) if !text.contains('\n') && text.chars().count() < 40 => {
                    format!("write `[{}]`", text.trim())
                }
                _ => "begin each entry with `- `".to_owned(),
            };
            return self.fail(
                "shape",
                node.place,
                path,
                format!("a list is needed here, not {}", described(node)),
                hint,
            );
        };
        if let Some(length) = length
            && nodes.len() as u64 != length
        {
            return self.fail(
                "shape",
                node.place,
                path,
                format!(
                    "{length} values are needed here, and there {}",
                    are(nodes.len())
                ),
                if length == 2 {
                    "write two, for example `[4 ft, 6 ft]`"
                } else {
                    "count them again"
                },
            );
        }
        let mut out = Vec::with_capacity(nodes.len());
        for (i, item) in nodes.iter().enumerate() {
            let below = format!("{path}.{i}");
            let json = if item.data == Data::Null {
                self.fail(
                    "shape",
                    item.place,
                    &below,
                    "this entry of the list is empty",
                    "write it out, or take the line away",
                )
            } else {
                self.value(item, items, &below, item.place)
            };
            out.push(json.unwrap_or_else(|| {
                self.broken.insert(below);
                self.stand_in(items, 0)
            }));
        }
        Some(Value::Array(out))
    }

    fn word(&mut self, node: &Node, words: &[&str], path: &str) -> Option<Value> {
        match node.text().map(str::trim) {
            Some(text) if words.contains(&text) => Some(json!(text)),
            Some(text) => self.fail(
                "word",
                node.place,
                path,
                format!(
                    "`{}` is not among the words that can stand here",
                    short(text)
                ),
                one_of_hint(text, words.iter().copied()),
            ),
            None => self.fail(
                "shape",
                node.place,
                path,
                format!("one word is needed here, not {}", described(node)),
                format!("one of: {}", words.join(", ")),
            ),
        }
    }

    fn text(&mut self, node: &Node, path: &str) -> Option<Value> {
        match &node.data {
            Data::Scalar { text, .. } if text.chars().count() <= LONGEST_TEXT => {
                Some(json!(text.trim()))
            }
            Data::Scalar { text, .. } => self.fail(
                "text-too-long",
                node.place,
                path,
                format!(
                    "this text has {} characters; {LONGEST_TEXT} are read",
                    text.chars().count()
                ),
                "shorten it",
            ),
            _ => self.fail(
                "shape",
                node.place,
                path,
                format!("text is needed here, not {}", described(node)),
                "write it on one line, in quotes if it holds a colon or begins with a bracket",
            ),
        }
    }

    fn measure(&mut self, node: &Node, format: &str, path: &str) -> Option<Value> {
        let Some(text) = node.text() else {
            let (what, hint) = match format.parse::<Kind>() {
                Ok(kind) => (
                    kind.named(),
                    format!(
                        "write one measure, for example `{}`",
                        kind.examples().first().unwrap_or(&"")
                    ),
                ),
                Err(_) => ("width by length", "write `12 ft x 30 ft`".to_owned()),
            };
            let hint = match node.items() {
                [a, b] if format != "size" => match (a.text(), b.text()) {
                    (Some(a), Some(b)) => format!("write a range as `{a} to {b}`"),
                    _ => hint,
                },
                _ => hint,
            };
            return self.fail(
                "shape",
                node.place,
                path,
                format!("{what} is needed here, not {}", described(node)),
                hint,
            );
        };
        let read: Result<(), NotationError> = match format.parse::<Kind>() {
            Ok(_) if is_unknown(text) => Ok(()),
            Ok(kind) => kind.read(text).map(|_| ()),
            Err(_) => text.parse::<Size>().map(|_| ()),
        };
        match read {
            Ok(()) => Some(json!(text)),
            Err(error) => self.fail("measure", node.place, path, error.message, error.hint),
        }
    }

    fn integer(&mut self, node: &Node, schema: &Value, path: &str) -> Option<Value> {
        let least = schema
            .get("minimum")
            .and_then(Value::as_i64)
            .unwrap_or(i64::MIN);
        match (&node.data, node.text().map(str::trim)) {
            (Data::Scalar { plain: true, .. }, Some(text)) => match text.parse::<i64>() {
                Ok(n) if n >= least.max(0) && n <= i64::from(u32::MAX) => Some(json!(n)),
                Ok(n) if n < 0 => self.fail(
                    "number",
                    node.place,
                    path,
                    format!("`{n}` is less than nothing"),
                    "write a whole number from 0 up",
                ),
                Ok(_) => self.fail(
                    "number",
                    node.place,
                    path,
                    format!("`{}` is too large", short(text)),
                    "check the number",
                ),
                Err(_) => self.fail(
                    "number",
                    node.place,
                    path,
                    format!("a whole number is needed here, not `{}`", short(text)),
                    "write it in digits, for example `12`",
                ),
            },
            (Data::Scalar { .. }, Some(text)) => self.fail(
                "number",
                node.place,
                path,
                "a whole number is needed here, not text in quotes",
                format!("leave off the quotes: `{}`", short(text)),
            ),
            _ => self.fail(
                "shape",
                node.place,
                path,
                format!("a whole number is needed here, not {}", described(node)),
                "write it in digits, for example `12`",
            ),
        }
    }

    fn number(&mut self, node: &Node, path: &str) -> Option<Value> {
        let Some(text) = node.text().map(str::trim) else {
            return self.fail(
                "shape",
                node.place,
                path,
                format!("a number is needed here, not {}", described(node)),
                "write it in digits, for example `12.5`",
            );
        };
        match node.to_json() {
            Value::Number(n) if n.as_f64().is_some_and(f64::is_finite) => Some(Value::Number(n)),
            _ => {
                let hint = match text.replacen(',', ".", 1) {
                    point if text.matches(',').count() == 1 && point.parse::<f64>().is_ok() => {
                        format!("a decimal is written with a point: `{point}`")
                    }
                    _ => "write it in digits without a unit, for example `12.5`".to_owned(),
                };
                self.fail(
                    "number",
                    node.place,
                    path,
                    format!("a number is needed here, not `{}`", short(text)),
                    hint,
                )
            }
        }
    }

    fn flag(&mut self, node: &Node, path: &str) -> Option<Value> {
        match node.text().map(|t| t.trim().to_lowercase()).as_deref() {
            Some("yes" | "true") => Some(json!(true)),
            Some("no" | "false") => Some(json!(false)),
            Some(text) => self.fail(
                "flag",
                node.place,
                path,
                format!("`{}` is neither yes nor no", short(text)),
                "write `yes` or `no`",
            ),
            None => self.fail(
                "shape",
                node.place,
                path,
                format!("yes or no is needed here, not {}", described(node)),
                "write `yes` or `no`",
            ),
        }
    }

    /// An empty value of the schema's shape, so that the rest of the record can still be checked.
    fn stand_in(&self, schema: &'a Value, depth: usize) -> Value {
        let schema = self.resolve(schema);
        if depth > 8 {
            return Value::Null;
        }
        if let Some(words) = words_of(schema) {
            return json!(words.first());
        }
        if let Some(choices) = schema
            .get("anyOf")
            .or_else(|| schema.get("oneOf"))
            .and_then(Value::as_array)
        {
            return choices
                .first()
                .map_or(Value::Null, |c| self.stand_in(c, depth + 1));
        }
        match (
            type_of(schema),
            schema.get("format").and_then(Value::as_str),
        ) {
            (Some("string"), Some("size")) => json!("1 mm x 1 mm"),
            (Some("string"), Some(format)) if format.parse::<Kind>().is_ok() => json!("unknown"),
            (Some("string"), _) => json!(""),
            (Some("integer" | "number"), _) => json!(0),
            (Some("boolean"), _) => json!(false),
            (Some("array"), _) => {
                let length = schema.get("minItems").and_then(Value::as_u64).unwrap_or(0);
                let item = schema
                    .get("items")
                    .map_or(Value::Null, |i| self.stand_in(i, depth + 1));
                (0..length).map(|_| item.clone()).collect()
            }
            (Some("object"), _) => {
                let mut out = Map::new();
                let properties = schema.get("properties").and_then(Value::as_object);
                for name in schema
                    .get("required")
                    .and_then(Value::as_array)
                    .into_iter()
                    .flatten()
                    .filter_map(Value::as_str)
                {
                    let property = properties.and_then(|p| p.get(name));
                    out.insert(
                        name.to_owned(),
                        property.map_or(Value::Null, |p| self.stand_in(p, depth + 1)),
                    );
                }
                Value::Object(out)
            }
            _ => Value::Null,
        }
    }

    /// How a missing value could be written.
    fn example(&self, schema: &'a Value) -> String {
        let schema = self.resolve(schema);
        if let Some(example) = schema
            .get("examples")
            .and_then(|e| e.get(0))
            .and_then(Value::as_str)
        {
            return example.to_owned();
        }
        if let Some(words) = words_of(schema) {
            return words.first().copied().unwrap_or("…").to_owned();
        }
        match type_of(schema) {
            Some("integer" | "number") => "1".to_owned(),
            Some("boolean") => "no".to_owned(),
            Some("array") => "[…]".to_owned(),
            _ => "…".to_owned(),
        }
    }

    fn hint_for_unknown(
        &self,
        key: &str,
        path: &str,
        properties: Option<&Map<String, Value>>,
    ) -> String {
        let here: Vec<&str> = properties
            .into_iter()
            .flat_map(|p| p.keys().map(String::as_str))
            .collect();
        let near = nearest(key, here.iter().copied());
        if let Some(near) = near
            && alike(key, near) >= 0.7
        {
            return format!("did you mean `{near}`?");
        }
        if let Some(fact) = self
            .vocabulary
            .and_then(|v| v.find(key).map(|id| v.fact(id)))
            && fact.comes == Comes::Asked
        {
            return match here.contains(&"signs") {
                true if block_scope(path) == Some(fact.scope.word()) => {
                    format!("`{key}` is a sign: write it under `signs:` here")
                }
                _ => format!(
                    "`{key}` is a sign of the {}: write it under `signs:` there",
                    fact.scope.word()
                ),
            };
        }
        if key.starts_with(|c: char| c.is_ascii_digit()) {
            return "inside `{ }` a comma ends the entry: write the number before it without a comma".to_owned();
        }
        match self.elsewhere(key) {
            Some(hint) => hint,
            None => match near {
                Some(near) => format!("did you mean `{near}`? One of: {}", here.join(", ")),
                None => format!("one of: {}", here.join(", ")),
            },
        }
    }

    /// The blocks that have a key of this name, or nearly so.
    fn elsewhere(&self, key: &str) -> Option<String> {
        let all = self.defs.iter().filter_map(|(name, def)| {
            let keys = def.get("properties").and_then(Value::as_object)?;
            Some((def_name(name)?, keys))
        });
        let pairs: Vec<(&str, &str)> = all
            .flat_map(|(block, keys)| keys.keys().map(move |k| (block, k.as_str())))
            .collect();
        let meant = pairs
            .iter()
            .map(|(_, k)| (alike(key, k), *k))
            .filter(|(score, _)| *score >= 0.8)
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .map(|(_, k)| k)?;
        let blocks: Vec<String> = pairs
            .iter()
            .filter(|(_, k)| *k == meant)
            .map(|(block, _)| format!("`{block}`"))
            .collect();
        (blocks.len() <= 3).then(|| format!("`{meant}` belongs to {}", blocks.join(" or ")))
    }
}

/// Words an enumeration allows, if the schema is one.
pub(super) fn words_of(schema: &Value) -> Option<Vec<&str>> {
    if let Some(words) = schema.get("enum").and_then(Value::as_array) {
        return words.iter().map(Value::as_str).collect();
    }
    let choices = schema.get("oneOf").and_then(Value::as_array)?;
    let mut words = Vec::new();
    for choice in choices {
        match (
            choice.get("const").and_then(Value::as_str),
            choice.get("enum").and_then(Value::as_array),
        ) {
            (Some(word), _) => words.push(word),
            (None, Some(more)) => words.extend(more.iter().filter_map(Value::as_str)),
            _ => return None,
        }
    }
    (!words.is_empty()).then_some(words)
}

/// The schema's type, `null` left out of a list of types.
fn type_of(schema: &Value) -> Option<&str> {
    match schema.get("type") {
        Some(Value::String(word)) => Some(word),
        Some(Value::Array(words)) => words
            .iter()
            .filter_map(Value::as_str)
            .find(|w| *w != "null"),
        _ => None,
    }
}

pub(super) fn join(path: &str, key: &str) -> String {
    if path.is_empty() {
        key.to_owned()
    } else {
        format!("{path}.{key}")
    }
}

/// A block as people call it: `areas.0.defects.2` is `this defect`.
fn block_name(path: &str) -> String {
    match path
        .rsplit('.')
        .find(|s| s.parse::<usize>().is_err())
        .unwrap_or(path)
    {
        "areas" => "this area".to_owned(),
        "defects" => "this defect".to_owned(),
        "stairs" => "this stair".to_owned(),
        "thresholds" => "this threshold".to_owned(),
        "edges" => "this edge".to_owned(),
        "joints" => "this joint".to_owned(),
        "materials" => "this material".to_owned(),
        "lines" => "this price line".to_owned(),
        "photos" => "this photo".to_owned(),
        "readings" | "levels" => "this reading".to_owned(),
        "patches" => "this patch".to_owned(),
        block => format!("`{block}`"),
    }
}

/// The scope whose signs a block may hold.
fn block_scope(path: &str) -> Option<&'static str> {
    match path.rsplit('.').find(|s| s.parse::<usize>().is_err())? {
        "site" => Some("site"),
        "slab" => Some("slab"),
        "areas" => Some("area"),
        "defects" => Some("defect"),
        "joints" => Some("joint"),
        _ => None,
    }
}

/// The block a schema definition stands for.
fn def_name(def: &str) -> Option<&'static str> {
    Some(match def {
        "Job" => "job",
        "Site" => "site",
        "Slab" => "slab",
        "Mix" => "slab: mix",
        "AreaRecord" => "areas",
        "Panels" => "areas: panels",
        "Defect" => "areas: defects",
        "Joint" => "areas: joints",
        "Tests" => "areas: tests",
        "Sounding" => "areas: tests: sounding",
        "Stair" => "stairs",
        "Threshold" => "thresholds",
        "Edge" => "edges",
        "Wishes" => "wishes",
        "Material" => "materials",
        "Crew" => "crew",
        "Prices" => "prices",
        "PriceLine" => "prices: lines",
        "StepRules" => "job: step_rules",
        _ => return None,
    })
}

/// The nearest word, or all of them when none is near.
pub(super) fn one_of_hint<'w>(word: &str, words: impl Iterator<Item = &'w str> + Clone) -> String {
    match nearest(word, words.clone()) {
        Some(near) if alike(word, near) >= 0.7 => format!("did you mean `{near}`?"),
        _ => format!("one of: {}", words.collect::<Vec<_>>().join(", ")),
    }
}

/// How alike two words are, from 0 to 1.
fn alike(a: &str, b: &str) -> f64 {
    strsim::normalized_damerau_levenshtein(&a.to_lowercase(), b)
}

fn described(node: &Node) -> String {
    match node.text() {
        Some(text) => format!("`{}`", short(text.trim())),
        None => node.what().to_owned(),
    }
}

/// At most the first forty characters of the first line.
pub(super) fn short(text: &str) -> String {
    let line = text.lines().next().unwrap_or("");
    if line.chars().count() <= 40 && line.len() == text.len() {
        return line.to_owned();
    }
    line.chars().take(40).chain(['…']).collect()
}

fn are(count: usize) -> String {
    match count {
        0 => "are none".to_owned(),
        1 => "is one".to_owned(),
        n => format!("are {n}"),
    }
}

fn first_sentence(text: &str) -> String {
    let flat = text.replace('\n', " ");
    match flat.split_once(". ") {
        Some((first, _)) => format!("{first}."),
        None => flat,
    }
}
