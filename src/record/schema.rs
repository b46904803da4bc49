//! The published JSON Schema of a record (2020-12), from which editors complete and check.
//!
//! The reader walks the schema as the structs give it; what is published is made friendlier: words
//! and signs of the rule pack are merged in, and whatever the reader takes is allowed (a year as
//! a bare number, `yes` for true, nothing after a colon).

use std::sync::OnceLock;

use serde_json::{Map, Value, json};

use super::model::Record;
use super::shape::LONGEST_TEXT;
use super::words::WORDS;
use crate::facts::{Comes, Fact, FactKind, Scope, Vocabulary};
use crate::units::Kind;

/// The schema as the structs give it, which the reader walks. It is made once in a process.
pub fn structs() -> &'static Value {
    static SCHEMA: OnceLock<Value> = OnceLock::new();
    SCHEMA.get_or_init(|| Value::from(schemars::schema_for!(Record)))
}

/// The JSON Schema of a record. With a vocabulary, the signs of each scope and their values are
/// named, and anything else under `signs` is refused.
pub fn schema(vocabulary: Option<&Vocabulary>) -> Value {
    let mut root = structs().clone();
    if let Some(Value::Object(defs)) = root.get_mut("$defs") {
        for word in WORDS {
            if let Some(property) = property(defs, word.field.0, word.field.1) {
                let many = property.get("type").is_none() && property.get("items").is_none();
                let words = word.allowed(vocabulary);
                set_words(property, &words, many);
            }
        }
        if let Some(vocabulary) = vocabulary {
            for (definition, scope) in [
                ("Site", Scope::Site),
                ("Slab", Scope::Slab),
                ("AreaRecord", Scope::Area),
                ("Defect", Scope::Defect),
                ("Joint", Scope::Joint),
            ] {
                if let Some(signs) = property(defs, definition, "signs") {
                    set_signs(signs, vocabulary, scope);
                }
            }
            if let Some(panels) = property(defs, "Panels", "signs") {
                let mut signs = Map::new();
                set_signs(&mut signs, vocabulary, Scope::Panel);
                panels.insert("additionalProperties".to_owned(), Value::Object(signs));
            }
        }
        for (definition, field) in [
            ("Job", "date"),
            ("DatedReading", "date"),
            ("LevelReading", "date"),
        ] {
            if let Some(property) = property(defs, definition, field) {
                property.insert("format".to_owned(), json!("date"));
            }
        }
        for (definition, field, example) in EXAMPLES {
            if let Some(property) = property(defs, definition, field) {
                property.insert("examples".to_owned(), json!([example]));
            }
        }
        for (name, title) in TITLES {
            if let Some(Value::Object(definition)) = defs.get_mut(*name) {
                definition.insert("title".to_owned(), json!(title));
            }
        }
    }
    relax(&mut root);
    if let Value::Object(root) = &mut root {
        root.insert(
            "title".to_owned(),
            json!("Inspection record of a concrete slab"),
        );
    }
    root
}

/// Names of the blocks, for editors.
const TITLES: &[(&str, &str)] = &[
    ("Job", "job"),
    ("StepRules", "step rules"),
    ("Site", "site"),
    ("Slab", "slab"),
    ("Mix", "mix"),
    ("AreaRecord", "area"),
    ("Panels", "panels"),
    ("Defect", "defect"),
    ("DefectKind", "kind of defect"),
    ("DatedReading", "dated reading"),
    ("LevelReading", "dated height"),
    ("Photo", "photo"),
    ("Joint", "joint"),
    ("Tests", "tests"),
    ("Sounding", "sounding"),
    ("Patch", "hollow patch"),
    ("Stair", "flight of steps"),
    ("Threshold", "door"),
    ("Edge", "edge"),
    ("Wishes", "wishes"),
    ("Material", "material"),
    ("Crew", "crew"),
    ("Prices", "price book"),
    ("PriceLine", "price line"),
];

/// Examples of free text, whose form the type does not show.
const EXAMPLES: &[(&str, &str, &str)] = &[
    ("Job", "client", "A. Homeowner"),
    ("Job", "address", "12 Example Lane"),
    ("Job", "date", "2026-05-14"),
    ("Job", "inspector", "B. Inspector"),
    ("Slab", "placed", "2011-06"),
    ("AreaRecord", "id", "upper"),
    ("AreaRecord", "name", "upper patio"),
    ("Photo", "file", "photos/scaling-1.jpg"),
    ("Photo", "caption", "Flaking beside the downspout"),
    ("Stair", "id", "front-steps"),
    ("Threshold", "id", "back-door"),
    ("Joint", "id", "j1"),
    ("Prices", "currency", "USD"),
    ("PriceLine", "low", "6.50"),
    ("PriceLine", "likely", "8.00"),
    ("PriceLine", "high", "11.00"),
    ("PriceLine", "every", "3 years"),
];

fn property<'v>(
    defs: &'v mut Map<String, Value>,
    definition: &str,
    field: &str,
) -> Option<&'v mut Map<String, Value>> {
    defs.get_mut(definition)?
        .get_mut("properties")?
        .get_mut(field)?
        .as_object_mut()
}

/// Puts a list of words in place of free text. `many`: a list of possible words is allowed too.
fn set_words(property: &mut Map<String, Value>, words: &[&str], many: bool) {
    if let Some(items) = property.get_mut("items") {
        *items = json!({"enum": words});
        return;
    }
    for key in ["type", "anyOf", "$ref"] {
        property.remove(key);
    }
    if many {
        property.insert("anyOf".to_owned(), word_or_words(words, &["unknown"]));
    } else {
        property.insert(
            "enum".to_owned(),
            json!(
                words
                    .iter()
                    .map(|w| json!(w))
                    .chain([Value::Null])
                    .collect::<Vec<_>>()
            ),
        );
    }
}

fn word_or_words(words: &[&str], more: &[&str]) -> Value {
    let all: Vec<Value> = words
        .iter()
        .chain(more)
        .map(|w| json!(w))
        .chain([Value::Null])
        .collect();
    json!([{"enum": all}, {"type": "array", "items": {"enum": words}, "minItems": 1}])
}

/// Names every sign that is asked at a scope.
fn set_signs(signs: &mut Map<String, Value>, vocabulary: &Vocabulary, scope: Scope) {
    let asked = vocabulary
        .facts()
        .map(|(_, f)| f)
        .filter(|f| f.comes == Comes::Asked && f.scope == scope);
    let properties: Map<String, Value> = asked.map(|f| (f.id.clone(), sign(f))).collect();
    signs.extend([
        ("type".to_owned(), json!("object")),
        ("properties".to_owned(), Value::Object(properties)),
        ("additionalProperties".to_owned(), json!(false)),
    ]);
}

/// A sign with its question, its way of measuring and its values.
fn sign(fact: &Fact) -> Value {
    let mut about: Vec<String> = Vec::new();
    about.extend(fact.ask.clone());
    about.extend(fact.measure.clone());
    if !fact.kinds.is_empty() {
        about.push(format!("Asked for: {}.", fact.kinds.join(", ")));
    }
    let mut out = Map::new();
    out.insert("title".to_owned(), json!(fact.name));
    match &fact.kind {
        FactKind::Quantity(kind) => {
            let types = match kind {
                Kind::Number => json!(["string", "number"]),
                _ => json!("string"),
            };
            out.insert("type".to_owned(), types);
            out.insert("format".to_owned(), json!(kind.word()));
            out.insert("examples".to_owned(), json!(kind.examples()));
        }
        FactKind::Choice { values, .. } => {
            let words: Vec<&str> = values.iter().map(|v| v.id.as_str()).collect();
            if words == ["no", "yes"] {
                out.insert(
                    "enum".to_owned(),
                    json!(["no", "yes", "unknown", false, true, null]),
                );
            } else {
                out.insert("anyOf".to_owned(), word_or_words(&words, &["unknown"]));
                let meanings: Vec<String> = values
                    .iter()
                    .filter(|v| v.id.replace('_', " ") != v.name)
                    .map(|v| format!("`{}`: {}", v.id, v.name))
                    .collect();
                if !meanings.is_empty() {
                    about.push(format!("{}.", meanings.join("; ")));
                }
            }
        }
    }
    if !about.is_empty() {
        out.insert("description".to_owned(), json!(about.join(" ")));
    }
    Value::Object(out)
}

/// Allows what the reader allows, and drops formats that only the reader knows: a strict
/// validator refuses a schema with formats it has not heard of.
fn relax(schema: &mut Value) {
    match schema {
        Value::Array(items) => items.iter_mut().for_each(relax),
        Value::Object(map) => {
            let format = map.get("format").and_then(Value::as_str).map(str::to_owned);
            match format.as_deref() {
                None if is_type(map, "string")
                    && !["enum", "const", "minLength"]
                        .iter()
                        .any(|k| map.contains_key(*k)) =>
                {
                    // A year, a house number, a price: YAML reads them as numbers.
                    let nullable = map.get("type").is_some_and(Value::is_array);
                    map.insert(
                        "type".to_owned(),
                        if nullable {
                            json!(["string", "number", "null"])
                        } else {
                            json!(["string", "number"])
                        },
                    );
                    map.insert("maxLength".to_owned(), json!(LONGEST_TEXT));
                }
                None if is_type(map, "boolean") => {
                    let nullable = map.get("type").is_some_and(Value::is_array);
                    map.remove("type");
                    let mut words = vec![json!(true), json!(false), json!("yes"), json!("no")];
                    if nullable {
                        words.push(Value::Null);
                    }
                    map.insert("enum".to_owned(), Value::Array(words));
                }
                Some("date") | None => {}
                Some(word) => {
                    if word
                        .parse::<Kind>()
                        .is_ok_and(|k| k != Kind::Number && k != Kind::Temperature)
                    {
                        // Nothing is nothing in every unit.
                        map.remove("type");
                        map.insert(
                            "anyOf".to_owned(),
                            json!([{"type": "string", "minLength": 1}, {"const": 0}]),
                        );
                    }
                    map.remove("format");
                }
            }
            // An empty line is the same as none.
            let required: Vec<String> = map
                .get("required")
                .and_then(Value::as_array)
                .map(|r| {
                    r.iter()
                        .filter_map(|w| w.as_str().map(str::to_owned))
                        .collect()
                })
                .unwrap_or_default();
            if let Some(Value::Object(properties)) = map.get_mut("properties") {
                for (name, property) in properties.iter_mut() {
                    relax(property);
                    if !required.contains(name)
                        && let Value::Object(property) = property
                    {
                        allow_nothing(property);
                    }
                }
            }
            for (key, value) in map.iter_mut() {
                if key != "properties" && key != "examples" && key != "default" && key != "enum" {
                    relax(value);
                }
            }
        }
        _ => {}
    }
}

fn is_type(map: &Map<String, Value>, word: &str) -> bool {
    match map.get("type") {
        Some(Value::String(own)) => own == word,
        Some(Value::Array(all)) => {
            all.iter().any(|w| w == word) && all.iter().all(|w| w == word || w == "null")
        }
        _ => false,
    }
}

/// Lets a property be empty. Whole blocks stay as they are: an editor's message on what is wrong
/// inside them would drown in "neither a block nor nothing".
fn allow_nothing(property: &mut Map<String, Value>) {
    match property.get_mut("type") {
        Some(Value::String(word)) => {
            let word = std::mem::take(word);
            property.insert("type".to_owned(), json!([word, "null"]));
        }
        Some(Value::Array(words)) if !words.iter().any(|w| w == "null") => {
            words.push(json!("null"))
        }
        _ => {}
    }
    if let Some(Value::Array(choices)) = property.get_mut("anyOf")
        && !choices
            .iter()
            .any(|c| c.get("type").is_some_and(|t| t == "null") || has_null(c))
    {
        choices.push(json!({"type": "null"}));
    }
    if let Some(Value::Array(words)) = property.get_mut("enum")
        && !words.iter().any(Value::is_null)
    {
        words.push(Value::Null);
    }
}

fn has_null(choice: &Value) -> bool {
    choice
        .get("enum")
        .and_then(Value::as_array)
        .is_some_and(|w| w.iter().any(Value::is_null))
}
