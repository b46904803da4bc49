//! The forms of the page: every field with its question, its way of measuring and its values, out of
//! the record's schema and the fact list of the rules.

use std::collections::BTreeMap;

use serde_json::{Map, Value, json};

use super::Core;
use crate::facts::{Comes, Fact, FactKind, Scope, Vocabulary};
use crate::record::model::Record;
use crate::record::words::words;
use crate::rules::HouseChange;
use crate::survey::{Origin, survey};
use crate::units::{Kind, System};

/// Follows references within a schema.
pub(super) fn resolve<'s>(root: &'s Value, schema: &'s Value) -> &'s Value {
    let mut schema = schema;
    // Bounded: the schema is our own, and a reference to a reference is already unusual.
    for _ in 0..8 {
        let next = schema
            .get("$ref")
            .and_then(Value::as_str)
            .and_then(|name| root.get("$defs")?.get(name.trim_start_matches("#/$defs/")))
            .or_else(|| only_choice(schema));
        match next {
            Some(found) => schema = found,
            None => break,
        }
    }
    schema
}

/// The one choice of several that is not "nothing".
fn only_choice(schema: &Value) -> Option<&Value> {
    let choices = schema.get("anyOf")?.as_array()?;
    let mut real = choices
        .iter()
        .filter(|c| c.get("type").and_then(Value::as_str) != Some("null"));
    match (real.next(), real.next()) {
        (Some(only), None) => Some(only),
        _ => None,
    }
}

/// Which field of the record each fact is read from, found by surveying a record in which every
/// field is filled in: so the survey itself is the only place that says so.
pub(crate) struct Origins {
    /// By scope (and kind of defect) and fact: the field's path below the thing, and whether the
    /// fact is the field itself and not worked out from it.
    fields: BTreeMap<(String, String), (String, bool)>,
    /// Kinds of defect whose length is taken from where they start and end on the map.
    lines: Vec<String>,
}

impl Origins {
    /// Finds them.
    pub fn find(schema: &Value, vocabulary: &Vocabulary) -> Origins {
        let mut origins = Origins {
            fields: BTreeMap::new(),
            lines: Vec::new(),
        };
        let kinds = words_of(schema, "Defect", "kind");
        let mut record = sample(schema, schema, ("", ""), 0);
        let defects: Vec<Value> = kinds
            .iter()
            .enumerate()
            .map(|(i, kind)| {
                let mut defect = record["areas"][0]["defects"][0].clone();
                defect["kind"] = json!(kind);
                defect["id"] = json!(i + 1);
                defect
            })
            .collect();
        record["areas"][0]["defects"] = Value::Array(defects);
        origins.lines = lines(&record, vocabulary);
        let Ok(record) = serde_json::from_value::<Record>(record) else {
            return origins;
        };
        let found = survey(&record, vocabulary);
        let place = Place::of(&record);
        for ((thing, fact), entry) in &found.entries {
            let id = &vocabulary.fact(*fact).id;
            let Some((scope, base)) = found
                .things
                .get(*thing)
                .and_then(|_| place.thing(&found, *thing))
            else {
                continue;
            };
            let (paths, exact) = match &entry.origin {
                Origin::Record(path) => (vec![path.clone()], true),
                Origin::WorkedOut { paths, .. } => (paths.clone(), false),
                Origin::Silent(_) => continue,
            };
            // The first field of the thing itself; a fact may be worked out from others' too.
            let below = paths.iter().find_map(|p| {
                let rest = p.strip_prefix(&base)?;
                rest.strip_prefix('.')
                    .or((base.is_empty() && !rest.is_empty()).then_some(rest))
            });
            if let Some(below) = below.filter(|b| !b.starts_with("signs.")) {
                origins
                    .fields
                    .insert((scope, id.clone()), (below.to_owned(), exact));
            }
        }
        origins
    }

    /// The field, below its thing, that a fact is read from; `kind` is the kind of a defect.
    pub fn field(&self, scope: Scope, kind: Option<&str>, fact: &str) -> Option<&str> {
        self.fields
            .get(&(key_of(scope, kind), fact.to_owned()))
            .map(|(path, _)| path.as_str())
    }

    /// The facts read from a field below a thing, those that are the field itself first.
    fn facts<'a>(&'a self, key: &'a str, field: &'a str) -> Vec<&'a str> {
        let mut out: Vec<(bool, &str)> = self
            .fields
            .iter()
            .filter(|((scope, _), (path, _))| scope == key && path == field)
            .map(|((_, fact), (_, exact))| (!exact, fact.as_str()))
            .collect();
        out.sort_by_key(|(worked_out, _)| *worked_out);
        out.into_iter().map(|(_, fact)| fact).collect()
    }
}

/// The kinds of defect of a record in which, with no length written, one is worked out from the map.
fn lines(record: &Value, vocabulary: &Vocabulary) -> Vec<String> {
    let mut record = record.clone();
    let defects = record["areas"][0]["defects"].as_array_mut();
    for defect in defects
        .into_iter()
        .flatten()
        .filter_map(Value::as_object_mut)
    {
        defect.shift_remove("length");
    }
    let Ok(record) = serde_json::from_value::<Record>(record) else {
        return Vec::new();
    };
    let found = survey(&record, vocabulary);
    let place = Place::of(&record);
    found
        .entries
        .iter()
        .filter(|(_, entry)| match &entry.origin {
            Origin::WorkedOut { paths, .. } => paths.iter().any(|p| p.ends_with(".to")),
            _ => false,
        })
        .filter_map(|((thing, fact), _)| {
            let (key, _) = place.thing(&found, *thing)?;
            let kind = key.strip_prefix("defect ")?.to_owned();
            vocabulary.fact(*fact).kinds.contains(&kind).then_some(kind)
        })
        .collect()
}

fn key_of(scope: Scope, kind: Option<&str>) -> String {
    match (scope, kind) {
        (Scope::Defect, Some(kind)) => format!("defect {kind}"),
        _ => scope.word().to_owned(),
    }
}

/// Where the things of a survey stand in the record.
pub(super) struct Place<'r> {
    record: &'r Record,
}

impl<'r> Place<'r> {
    pub fn of(record: &'r Record) -> Place<'r> {
        Place { record }
    }

    /// Scope (with the kind of a defect) and path of a thing. Wishes and readings that the survey
    /// puts on the site or slab count with those.
    pub fn thing(&self, survey: &crate::survey::Survey, thing: usize) -> Option<(String, String)> {
        if thing == survey.site {
            return Some((key_of(Scope::Site, None), String::new()));
        }
        if thing == survey.slab {
            return Some((key_of(Scope::Slab, None), String::new()));
        }
        for (a, things) in survey.areas.iter().enumerate() {
            if thing == things.thing {
                return Some((key_of(Scope::Area, None), format!("areas.{a}")));
            }
            if let Some(d) = things.defects.iter().position(|&t| t == thing) {
                let kind = self.record.areas.get(a)?.defects.get(d)?.kind;
                let kind = serde_json::to_value(kind).ok()?;
                return Some((
                    key_of(Scope::Defect, kind.as_str()),
                    format!("areas.{a}.defects.{d}"),
                ));
            }
            if let Some(j) = things.joints.iter().position(|&t| t == thing) {
                return Some((key_of(Scope::Joint, None), format!("areas.{a}.joints.{j}")));
            }
            if let Some((name, _)) = things.panels.iter().find(|(_, t)| *t == thing) {
                return Some((
                    key_of(Scope::Panel, None),
                    format!("areas.{a}.panels.signs.{name}"),
                ));
            }
        }
        if let Some(i) = survey.stairs.iter().position(|&t| t == thing) {
            return Some((key_of(Scope::Stair, None), format!("stairs.{i}")));
        }
        let i = survey.thresholds.iter().position(|&t| t == thing)?;
        Some((key_of(Scope::Threshold, None), format!("thresholds.{i}")))
    }
}

/// A value for every field of a schema, so that the survey has something to read. `field` is the
/// definition it stands in and its name there.
fn sample(root: &Value, schema: &Value, field: (&str, &str), deep: usize) -> Value {
    let definition = named(schema).unwrap_or(field.0);
    let schema = resolve(root, schema);
    if deep > 8 {
        return Value::Null;
    }
    if let Some(word) = words(field.0, field.1).and_then(|w| w.own.first()) {
        return match type_of(schema) {
            "array" => json!([word]),
            _ => json!(word),
        };
    }
    if let Some(word) = enum_of(schema).first() {
        return json!(word);
    }
    match type_of(schema) {
        "object" => {
            let mut out = Map::new();
            let properties = schema.get("properties").and_then(Value::as_object);
            for (name, below) in properties.into_iter().flatten() {
                // Signs are fields of their own names. A surface would stand before the fields it
                // is worked out from.
                if name != "signs" && (definition, name.as_str()) != ("AreaRecord", "surface") {
                    out.insert(
                        name.clone(),
                        sample(root, below, (definition, name), deep + 1),
                    );
                }
            }
            Value::Object(out)
        }
        "array" => {
            let item = schema
                .get("items")
                .map_or(Value::Null, |i| sample(root, i, field, deep + 1));
            let count = schema.get("minItems").and_then(Value::as_u64).unwrap_or(4);
            let mut items = vec![item; usize::try_from(count.clamp(1, 4)).unwrap_or(1)];
            // Dated readings are read over the years, so that what they show can be worked out.
            for (i, item) in items.iter_mut().enumerate() {
                if item.get("date").is_some() {
                    item["date"] = json!(format!("{}-01-01", 2020 + i));
                }
            }
            Value::Array(items)
        }
        "integer" => json!(1),
        "number" => json!(1.0),
        "boolean" => json!(true),
        _ => match schema.get("examples").and_then(|e| e.get(0)) {
            Some(example) => example.clone(),
            None if matches!(field.1, "date" | "placed") => json!("2026-01-01"),
            None => json!("a"),
        },
    }
}

/// Name of the definition a schema refers to.
fn named(schema: &Value) -> Option<&str> {
    let schema = only_choice(schema).unwrap_or(schema);
    let name = schema.get("$ref")?.as_str()?;
    Some(name.trim_start_matches("#/$defs/"))
}

fn type_of(schema: &Value) -> &str {
    match schema.get("type") {
        Some(Value::String(word)) => word,
        Some(Value::Array(words)) => words
            .iter()
            .filter_map(Value::as_str)
            .find(|w| *w != "null")
            .unwrap_or(""),
        _ => "",
    }
}

/// The words of a schema that takes one of a few.
fn enum_of(schema: &Value) -> Vec<&str> {
    let listed = schema.get("enum").and_then(Value::as_array);
    let chosen = schema.get("oneOf").and_then(Value::as_array);
    listed
        .into_iter()
        .flatten()
        .chain(chosen.into_iter().flatten().filter_map(|c| c.get("const")))
        .filter_map(Value::as_str)
        .collect()
}

fn words_of<'s>(root: &'s Value, definition: &str, field: &str) -> Vec<&'s str> {
    root.get("$defs")
        .and_then(|d| d.get(definition)?.get("properties")?.get(field))
        .map(|s| enum_of(resolve(root, s)))
        .unwrap_or_default()
}

/// One field of a form.
struct Field<'c> {
    core: &'c Core,
    out: Map<String, Value>,
}

impl<'c> Field<'c> {
    fn new(core: &'c Core, path: &str, label: &str) -> Field<'c> {
        let mut out = Map::new();
        out.insert("path".to_owned(), json!(path));
        out.insert("label".to_owned(), json!(label));
        Field { core, out }
    }

    fn set(&mut self, key: &str, value: impl Into<Value>) -> &mut Self {
        self.out.insert(key.to_owned(), value.into());
        self
    }

    /// A choice of words, each with its name.
    fn choice<'w>(&mut self, values: impl IntoIterator<Item = (&'w str, &'w str)>) -> &mut Self {
        let values: Vec<Value> = values
            .into_iter()
            .map(|(word, name)| json!({"word": word, "name": name}))
            .collect();
        self.set("kind", "choice").set("values", values)
    }

    fn measure(&mut self, kind: Kind) -> &mut Self {
        let examples: Vec<&str> = kind
            .examples()
            .iter()
            .copied()
            .filter(|e| *e != "unknown")
            .collect();
        self.set("kind", "measure")
            .set("unit", kind.word())
            .set("examples", examples)
            .set("us", kind.usual_units(System::Us).to_vec())
            .set("metric", kind.usual_units(System::Metric).to_vec())
            .set("negative", kind.may_be_negative())
    }

    /// What may hurt whoever finds a fact out.
    fn warn_of(&mut self, fact: &Fact) {
        let cautions = self.core.pack.cautions(fact);
        if !cautions.is_empty() {
            self.set("cautions", cautions);
        }
    }

    /// What the fact list says of it.
    fn of_fact(&mut self, fact: &Fact) -> &mut Self {
        self.set("fact", fact.id.as_str())
            .set("label", fact.name.as_str());
        if let Some(ask) = &fact.ask {
            self.set("ask", ask.as_str());
        }
        if let Some(how) = &fact.measure {
            self.set("how", how.as_str());
        }
        self.warn_of(fact);
        if let Some(silent) = &fact.silent {
            let said = json!({"kinds": silent.kinds, "because": silent.because});
            self.set("silent", said);
        }
        self
    }
}

/// A sign of the fact list as a field.
fn sign(core: &Core, path: &str, fact: &Fact) -> Value {
    let mut field = Field::new(core, path, &fact.name);
    match &fact.kind {
        FactKind::Quantity(kind) => field.measure(*kind),
        FactKind::Choice { values, .. } => field
            .choice(values.iter().map(|v| (v.id.as_str(), v.name.as_str())))
            .set("open", true),
    };
    field.of_fact(fact);
    Value::Object(field.out)
}

/// The record itself, which the schema begins with.
const RECORD: &str = "Record";

/// Fields of one block of the record that a person fills in on the spot. `base` goes before every
/// path; `key` is the scope (and kind) whose facts explain them.
fn fields(core: &Core, definition: &str, base: &str, key: &str) -> Vec<Value> {
    let block = match definition {
        RECORD => Some(core.schema),
        _ => core.schema.get("$defs").and_then(|d| d.get(definition)),
    };
    let properties = block.and_then(|b| b.get("properties")?.as_object());
    properties
        .into_iter()
        .flatten()
        .filter_map(|(name, schema)| {
            let path = match base {
                "" => name.clone(),
                _ => format!("{base}.{name}"),
            };
            field(core, definition, name, &path, schema, key)
        })
        .collect()
}

fn field(
    core: &Core,
    definition: &str,
    name: &str,
    path: &str,
    schema: &Value,
    key: &str,
) -> Option<Value> {
    let described = schema
        .get("description")
        .and_then(Value::as_str)
        .unwrap_or("");
    let inner = resolve(core.schema, schema);
    // A block within a block says whose field it is: `code` means nothing alone.
    let label = match path.split('.').rev().nth(1) {
        Some(block) if path.split('.').count() > 2 && key.is_empty() => {
            format!("{}, {}", block.replace('_', " "), name.replace('_', " "))
        }
        _ => name.replace('_', " "),
    };
    let mut field = Field::new(core, path, &label);
    let help = plain(described);
    match definition {
        // Bare names such as `slab` say too little of what is read while working.
        "WorkReadings" => field.set("label", help),
        _ if help.is_empty() => &mut field,
        _ => field.set("ask", help),
    };
    let (inner, many) = match type_of(inner) {
        "array" if inner.get("maxItems").is_none() => {
            (resolve(core.schema, inner.get("items")?), true)
        }
        _ => (inner, false),
    };
    let vocabulary = &core.pack.vocabulary;
    let listed = words(definition, name);
    let words = listed.map_or_else(|| enum_of(inner), |w| w.allowed(Some(vocabulary)));
    if !words.is_empty() {
        let fact = listed
            .and_then(|w| vocabulary.find(w.fact))
            .map(|id| vocabulary.fact(id));
        let name_of = |word: &str| {
            let said = fact
                .and_then(|f| f.values().iter().find(|v| v.id == word))
                .map(|v| v.name.clone());
            said.unwrap_or_else(|| described_word(inner, word))
        };
        let named: Vec<(&str, String)> = words.iter().map(|w| (*w, name_of(w))).collect();
        field.choice(named.iter().map(|(w, n)| (*w, n.as_str())));
        // Where the record takes a list of words that are still possible, so does the page.
        let open = inner
            .get("anyOf")
            .and_then(Value::as_array)
            .is_some_and(|c| c.iter().any(|c| type_of(c) == "array"));
        if open {
            field.set("open", true);
        }
    } else {
        match type_of(inner) {
            "boolean" => {
                field.choice([("yes", "yes"), ("no", "no")]);
            }
            "integer" => {
                field.set("kind", "count");
            }
            "number" => {
                field.measure(Kind::Number);
            }
            "string" => {
                let format = inner.get("format").and_then(Value::as_str).unwrap_or("");
                match format.parse::<Kind>() {
                    Ok(kind) => {
                        field.measure(kind);
                    }
                    Err(_) if format == "size" => {
                        field.set("kind", "size");
                    }
                    Err(_) if name == "date" => {
                        field.set("kind", "date");
                    }
                    Err(_)
                        if matches!(
                            (definition, name),
                            ("Stair", "from" | "to") | ("Threshold" | "Edge", "area")
                        ) =>
                    {
                        field.set("kind", "area");
                    }
                    // Lists of names are chosen on the map.
                    Err(_) if many && definition != RECORD => {
                        return None;
                    }
                    Err(_) => {
                        field.set("kind", "text");
                        // How it is written, where the form says so.
                        if let Some(form) = described.split('`').nth(1) {
                            field.set("examples", vec![form]);
                        }
                    }
                }
            }
            "object" if many => {
                // Readings on several days: a day and a measure each.
                let read = inner.get("properties")?;
                let kind = |name: &str| {
                    let of = resolve(core.schema, read.get(name)?);
                    of.get("format")?.as_str()?.parse::<Kind>().ok()
                };
                read.get("date")?;
                field.measure(kind("value")?).set("dated", true);
                if let Some(beside) = kind("slab") {
                    let said = read["slab"]["description"].as_str().map_or("", |d| d);
                    let mut slab = Field::new(core, "slab", plain(said).as_str());
                    slab.measure(beside);
                    field.set("beside", Value::Object(slab.out));
                }
            }
            // Two numbers that belong together: a place on the map, or on the globe.
            "array" if inner.get("maxItems").is_some_and(|n| *n == 2) => {
                let item = resolve(core.schema, inner.get("items")?);
                let kind = item.get("format").and_then(Value::as_str);
                let (kind, ends) = match kind.and_then(|f| f.parse::<Kind>().ok()) {
                    Some(kind) => {
                        field.set(
                            "label",
                            if name == "to" {
                                "where it ends"
                            } else {
                                "where it is"
                            },
                        );
                        (kind, ["right of the map's lower left", "up from it"])
                    }
                    None => (Kind::Number, ["degrees north", "degrees east"]),
                };
                field
                    .measure(kind)
                    .set("kind", "point")
                    .set("ends", ends.to_vec());
            }
            _ => return None,
        }
    }
    if many {
        field.set("many", true);
    }
    let required = core.schema["$defs"][definition]["required"]
        .as_array()
        .is_some_and(|r| r.iter().any(|k| k == name));
    if required {
        field.set("needed", true);
    }
    let facts: Vec<&Fact> = core
        .origins
        .facts(key, path)
        .into_iter()
        .filter_map(|f| vocabulary.find(f))
        .map(|id| vocabulary.fact(id))
        .collect();
    // A defect is asked only what the rules ask of its kind.
    if let Some(kind) = key.strip_prefix("defect ")
        && !facts.is_empty()
        && !facts
            .iter()
            .any(|f| f.kinds.is_empty() || f.kinds.iter().any(|k| k == kind))
    {
        return None;
    }
    // A list that several facts are worked out from, such as the risers, keeps its own name.
    if let [fact, rest @ ..] = facts.as_slice()
        && (rest.is_empty() || !many)
        && fact.ask.is_some()
    {
        field.of_fact(fact);
    }
    // What is read while working is read as before it, with the same hands.
    if definition == "WorkReadings" {
        let tests = format!("tests.{name}");
        let same = core.origins.facts(Scope::Area.word(), &tests);
        if let Some(id) = same.first().and_then(|f| vocabulary.find(f)) {
            field.warn_of(vocabulary.fact(id));
        }
    }
    Some(Value::Object(field.out))
}

/// The first sentence or two of a description, without the words that stand in it as code.
fn plain(described: &str) -> String {
    let text = described.replace('\n', " ");
    let cut = text
        .split_once(": `")
        .map_or(text.as_str(), |(before, _)| before);
    let cut = if cut.starts_with('`') { "" } else { cut };
    let cut = cut.split(", for example `").next().unwrap_or(cut);
    let cut = cut.split(", `[x, y]`").next().unwrap_or(cut);
    cut.replace('`', "").trim_end_matches('.').trim().to_owned()
}

/// What the schema says of one of its words, or the word itself.
fn described_word(schema: &Value, word: &str) -> String {
    schema
        .get("oneOf")
        .and_then(Value::as_array)
        .and_then(|c| c.iter().find(|c| c.get("const").is_some_and(|k| k == word)))
        .and_then(|c| c.get("description"))
        .and_then(Value::as_str)
        .map_or_else(
            || word.replace('_', " "),
            |d| d.trim_end_matches('.').to_owned(),
        )
}

/// The signs asked at a scope, of a kind of defect.
fn signs(core: &Core, scope: Scope, kind: Option<&str>, base: &str) -> Vec<Value> {
    core.pack
        .vocabulary
        .facts()
        .map(|(_, f)| f)
        .filter(|f| f.comes == Comes::Asked && f.scope == scope)
        .filter(|f| kind.is_none_or(|k| f.kinds.is_empty() || f.kinds.iter().any(|own| own == k)))
        .map(|f| sign(core, &format!("{base}signs.{}", f.id), f))
        .collect()
}

/// The form field that a fact of a thing goes into, with its path below the thing (below the record
/// for facts of the site and the slab).
pub(super) fn field_of(core: &Core, fact: &Fact, kind: Option<&str>) -> Option<Value> {
    if fact.comes == Comes::Asked {
        let base = match fact.scope {
            Scope::Site => "site.signs.",
            Scope::Slab => "slab.signs.",
            // The signs of a panel stand under its name without a key of their own.
            Scope::Panel => "",
            _ => "signs.",
        };
        return Some(sign(core, &format!("{base}{}", fact.id), fact));
    }
    let path = core.origins.field(fact.scope, kind, &fact.id)?;
    let form = form(core, fact.scope, kind);
    let mut field = form.into_iter().find(|f| f["path"] == path)?;
    // Several facts may be read from one field; this one is asked for now.
    if let Some(map) = field.as_object_mut() {
        map.insert("label".to_owned(), json!(fact.name));
    }
    Some(field)
}

/// The form of a scope, as far as a person fills it in on the spot.
fn form(core: &Core, scope: Scope, kind: Option<&str>) -> Vec<Value> {
    let key = key_of(scope, kind);
    match scope {
        Scope::Site => [
            fields(core, "Site", "site", &key),
            signs(core, scope, None, "site."),
        ]
        .concat(),
        Scope::Slab => [
            fields(core, "Slab", "slab", &key),
            fields(core, "Mix", "slab.mix", &key),
            fields(core, "Wishes", "wishes", &key),
            signs(core, scope, None, "slab."),
        ]
        .concat(),
        Scope::Area => [
            fields(core, "AreaRecord", "", &key),
            fields(core, "Tests", "tests", &key),
            fields(core, "Sounding", "tests.sounding", &key),
            signs(core, scope, None, ""),
        ]
        .concat(),
        Scope::Defect => [
            fields(core, "Defect", "", &key),
            signs(core, scope, kind, ""),
        ]
        .concat(),
        Scope::Panel => signs(core, scope, None, "")
            .into_iter()
            .map(|mut f| {
                let bare = f["path"]
                    .as_str()
                    .unwrap_or("")
                    .trim_start_matches("signs.")
                    .to_owned();
                f["path"] = json!(bare);
                f
            })
            .collect(),
        Scope::Joint => [
            fields(core, "Joint", "", &key),
            signs(core, scope, None, ""),
        ]
        .concat(),
        Scope::Stair => fields(core, "Stair", "", &key),
        Scope::Threshold => fields(core, "Threshold", "", &key),
    }
}

/// Everything the page needs before there is a record.
pub(super) fn begin(core: &Core) -> Value {
    let kinds = core.schema["$defs"]["DefectKind"].clone();
    let kinds: Vec<Value> = enum_of(&kinds)
        .into_iter()
        .map(|word| {
            let name = core
                .pack
                .vocabulary
                .find("kind")
                .and_then(|id| core.pack.vocabulary.fact(id).values().iter().find(|v| v.id == word))
                .map_or_else(|| word.replace('_', " "), |v| v.name.clone());
            json!({
                "word": word,
                "name": name,
                "seen": described_word(&kinds, word),
                "line": core.origins.lines.iter().any(|k| k == word),
                "form": without(form(core, Scope::Defect, Some(word)), &["id", "kind", "panels", "note"]),
            })
        })
        .collect();
    let slab = form(core, Scope::Slab, None);
    let part = |prefix: &str| -> Vec<Value> {
        slab.iter()
            .filter(|f| f["path"].as_str().is_some_and(|p| p.starts_with(prefix)))
            .cloned()
            .collect()
    };
    let area = form(core, Scope::Area, None);
    let (readings, area): (Vec<Value>, Vec<Value>) = area
        .into_iter()
        .partition(|f| f["path"].as_str().is_some_and(|p| p.starts_with("tests.")));
    let mut job = fields(core, "Job", "job", "");
    job.extend(fields(core, "StepRules", "job.step_rules", ""));
    let mut length = Field::new(core, "", "length");
    length.measure(Kind::Length);
    json!({
        "length": length.out,
        "starts": super::map::starts(),
        "version": env!("CARGO_PKG_VERSION"),
        "rules": core.pack.fingerprint,
        "house": core.pack.house.iter().map(HouseChange::said).collect::<Vec<_>>(),
        "kinds": kinds,
        "forms": {
            "job": job,
            "site": form(core, Scope::Site, None),
            "slab": part("slab."),
            "wishes": part("wishes."),
            "area": without(area, &["id", "outline", "size", "origin"]),
            "readings": readings,
            "panel": form(core, Scope::Panel, None),
            "joint": form(core, Scope::Joint, None),
            "stair": form(core, Scope::Stair, None),
            "threshold": form(core, Scope::Threshold, None),
            "edge": fields(core, "Edge", "", ""),
            "patch": fields(core, "Patch", "", ""),
            "work": fields(core, "WorkReadings", "work_readings", ""),
            "material": fields(core, "Material", "", ""),
            "crew": fields(core, "Crew", "crew", ""),
            "prices": fields(core, "Prices", "prices", ""),
            "price": fields(core, "PriceLine", "", ""),
            "remarks": without(fields(core, RECORD, "", ""), &["ringtrue"]),
        },
    })
}

fn without(form: Vec<Value>, paths: &[&str]) -> Vec<Value> {
    form.into_iter()
        .filter(|f| !f["path"].as_str().is_some_and(|p| paths.contains(&p)))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn core() -> &'static Core {
        crate::field::core().unwrap()
    }

    #[test]
    fn what_runs_somewhere_has_two_ends() {
        let lines = &core().origins.lines;
        assert!(lines.iter().any(|k| k == "crack"), "{lines:?}");
        assert!(!lines.iter().any(|k| k == "scaling"), "{lines:?}");
    }

    #[test]
    fn the_sample_is_a_record() {
        let sample = sample(core().schema, core().schema, ("", ""), 0);
        if let Err(error) = serde_json::from_value::<Record>(sample.clone()) {
            panic!("{error}\n{sample:#}");
        }
    }

    #[test]
    fn a_pull_off_while_working_bears_the_caution_of_one_before_it() {
        let begin = begin(core());
        let work = begin["forms"]["work"].as_array().unwrap();
        let of = |path: &str| work.iter().find(|f| f["path"] == path).unwrap();
        let said = of("work_readings.pull_off")["cautions"].to_string();
        assert!(said.contains("Before a core or a hole"), "{said}");
        assert!(of("work_readings.thickness").get("cautions").is_none());
    }

    #[test]
    fn every_field_of_the_record_can_be_entered() {
        // What is drawn, photographed, tapped, added or numbered by the page itself.
        let by_hand = [
            ("Record", "ringtrue"),
            ("AreaRecord", "id"),
            ("AreaRecord", "size"),
            ("AreaRecord", "outline"),
            ("AreaRecord", "origin"),
            ("Panels", "columns"),
            ("Panels", "rows"),
            ("Defect", "id"),
            ("Defect", "kind"),
            ("Defect", "at"),
            ("Defect", "to"),
            ("Defect", "panels"),
            ("Defect", "note"),
            ("Photo", "file"),
            ("Photo", "caption"),
        ];
        let begin = begin(core());
        let mut forms: Vec<Value> = begin["forms"]
            .as_object()
            .unwrap()
            .values()
            .cloned()
            .collect();
        forms.extend(
            begin["kinds"]
                .as_array()
                .unwrap()
                .iter()
                .map(|k| k["form"].clone()),
        );
        let forms: Vec<&Value> = forms.iter().flat_map(|f| f.as_array().unwrap()).collect();
        // A field of a block is in a form under its own name, behind the path of the block.
        let has = |name: &str| {
            let last = |f: &&&Value| f["path"].as_str().unwrap().rsplit('.').next() == Some(name);
            forms.iter().any(|f| last(&f))
        };
        let defs = core().schema["$defs"].as_object().unwrap();
        let blocks = defs.iter().map(|(name, d)| (name.as_str(), d));
        let mut lost = Vec::new();
        for (block, definition) in blocks.chain([(RECORD, core().schema)]) {
            let fields = definition["properties"].as_object();
            for (name, schema) in fields.into_iter().flatten() {
                let inner = resolve(core().schema, schema);
                let holds_blocks = inner.get("properties").is_some()
                    || (inner.get("items")).is_some_and(|i| {
                        let item = resolve(core().schema, i);
                        item["properties"].get("date").is_none() && item.get("properties").is_some()
                    });
                // What stands beside a dated reading is asked with it.
                if matches!(block, "DatedReading" | "LevelReading") {
                    let beside = |f: &&&Value| {
                        f["dated"] == true && (name != "slab" || f["beside"].is_object())
                    };
                    assert!(forms.iter().any(|f| beside(&f)), "{block}.{name}");
                    continue;
                }
                let is_own = by_hand.contains(&(block, name.as_str())) || name == "signs";
                if !holds_blocks && !is_own && !has(name) {
                    lost.push(format!("{block}.{name}"));
                }
            }
        }
        assert!(lost.is_empty(), "{lost:?}");
    }

    #[test]
    fn every_fact_that_is_read_from_a_field_has_a_field_to_answer_in() {
        // What a person can be asked must have somewhere to go, or the page asks in vain. What is
        // drawn on the map or counted from lists is answered there.
        let drawn = [
            "affected_share",
            "scaled_share",
            "hollow_share",
            "crack_count",
            "panel_affected",
            "layer_thickness",
            "kind",
            "area_surface",
            "near_building",
            "has_stair",
            "beside_lawn",
            "beside_pool",
            "has_isolation",
            "first_step_short",
            // Known in every record: no such material listed is an answer too.
            "sealer_kind",
            "release_kind",
            "colour_kind",
            "panel_length",
            "panel_ratio",
            "spacing_ratio",
            "headroom",
            "room_left",
            "overlay_need",
            "own_panel_length",
            "own_panel_ratio",
            "own_spacing_ratio",
            "panel_side",
            "panel_shape",
            "panel_spacing",
        ];
        let mut lost = Vec::new();
        for (_, fact) in core().pack.vocabulary.facts() {
            if !matches!(fact.comes, Comes::Asked | Comes::Survey)
                || fact.ask.is_none()
                || drawn.contains(&fact.id.as_str())
            {
                continue;
            }
            let kinds: Vec<Option<&str>> = match fact.scope {
                Scope::Defect => fact.kinds.iter().map(|k| Some(k.as_str())).collect(),
                _ => vec![None],
            };
            for kind in kinds {
                if field_of(core(), fact, kind).is_none() {
                    lost.push(format!("{} {} {kind:?}", fact.scope.word(), fact.id));
                }
            }
        }
        assert!(lost.is_empty(), "{}", lost.join("\n"));
    }
}
