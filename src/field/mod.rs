//! What the field page asks of the program: one call that takes JSON and gives JSON.
//!
//! The page is drawn by a browser and holds no rule, question, unit or notation of its own; it asks
//! for them here. Takes a *draft* (the record as the page holds it: the same names, every value as
//! the text that was typed), gives problems, verdicts, questions, forms, the map, and the record as
//! YAML. Knows nothing of pages, files or clocks: today's date comes with the question.

mod draft;
#[cfg(target_arch = "wasm32")]
mod exports;
mod forms;
mod look;
mod map;
mod measure;

use std::sync::OnceLock;

use serde_json::{Value, json};

pub use draft::{Layout, from_yaml};

use crate::rules::{Pack, builtin, restored};

/// What every answer needs, made once.
pub struct Core {
    /// The rules.
    pub(crate) pack: Pack,
    /// The schema of a record as its structs give it, with the kind of every measure.
    pub(crate) schema: &'static Value,
    /// Which field of the record each fact is read from.
    pub(crate) origins: forms::Origins,
}

impl Core {
    /// Answers by these rules.
    pub fn new(pack: Pack) -> Core {
        let schema = crate::record::structs();
        let origins = forms::Origins::find(schema, &pack.vocabulary);
        Core {
            pack,
            schema,
            origins,
        }
    }

    /// Answers by rules in their stored form: the built-in ones with a contractor's house rules laid
    /// over them, proven sound before they were stored.
    ///
    /// # Errors
    /// The bytes are no stored rules of this version of the program.
    pub fn stored(bytes: &[u8]) -> Result<Core, String> {
        restored(bytes).map(Core::new).ok_or_else(|| {
            "the house rules in this page can't be read: make the page anew".to_owned()
        })
    }

    /// Answers one question: see [`call`].
    pub fn call(&self, question: &str) -> String {
        said(
            serde_json::from_str::<Value>(question)
                .map_err(|error| format!("the question is no JSON: {error}"))
                .and_then(|q| answer(self, &q)),
        )
    }
}

fn core() -> Result<&'static Core, String> {
    static CORE: OnceLock<Result<Core, String>> = OnceLock::new();
    CORE.get_or_init(|| {
        builtin()
            .map(Core::new)
            .map_err(|problems| problems.to_plain())
    })
    .as_ref()
    .map_err(Clone::clone)
}

/// Answers one question by the built-in rules, both as JSON text. `do` says what is wanted:
///
/// | `do` | with | gives |
/// |---|---|---|
/// | `begin` | | version, house rules, forms, kinds of defect, scales of a map |
/// | `look` | `draft`, `today` | the record as YAML, problems, verdicts, map, cautions |
/// | `ask` | `draft`, `today` | what to measure next, each with the field it goes into |
/// | `take` | `yaml` | a record's text as a draft |
/// | `read` | `kind`, `text`, `units` | a measure as understood, or what is wrong with it |
/// | `write` | `kind`, `values`, `units` | canonical numbers in the trade's notation |
/// | `split` | `text`, `into`, `units` | a length in equal parts |
/// | `corner` | `outline`, `side`, `text` | an outline with one side given a new length |
/// | `scale` | `span`, `units` | the step of a map's grid |
/// | `taps` | `corners`, `step` | the spots of a sounding grid |
///
/// An answer always holds `ok`; where it is `false`, `message` says why.
///
/// ```
/// let answer = ringtrue::field::call(r#"{"do":"read","kind":"length","text":"3/8 in"}"#);
/// assert!(answer.contains(r#""value":9.525"#), "{answer}");
/// ```
pub fn call(question: &str) -> String {
    match core() {
        Ok(core) => core.call(question),
        Err(message) => said(Err(message)),
    }
}

/// An answer as JSON text.
fn said(answer: Result<Value, String>) -> String {
    let answer = match answer {
        Ok(Value::Object(mut map)) => {
            map.entry("ok").or_insert(Value::Bool(true));
            Value::Object(map)
        }
        Ok(other) => json!({"ok": true, "is": other}),
        Err(message) => json!({"ok": false, "message": message}),
    };
    answer.to_string()
}

fn answer(core: &Core, q: &Value) -> Result<Value, String> {
    match q.get("do").and_then(Value::as_str).unwrap_or_default() {
        "begin" => Ok(forms::begin(core)),
        "look" => look::look(core, q),
        "ask" => look::ask(core, q),
        "take" => look::take(q),
        "read" => measure::read(q),
        "write" => measure::write(q),
        "split" => measure::split(q),
        "corner" => map::corner(q),
        "scale" => map::scale(q),
        "taps" => map::taps(q),
        other => Err(format!("`{other}` can't be asked for")),
    }
}

/// A text of the question.
pub(crate) fn text<'q>(q: &'q Value, key: &str) -> Result<&'q str, String> {
    q.get(key)
        .and_then(Value::as_str)
        .ok_or_else(|| format!("`{key}` is missing from the question"))
}

/// The units a question wants its answer in.
pub(crate) fn units(q: &Value) -> crate::units::System {
    match q.get("units").and_then(Value::as_str) {
        Some("metric") => crate::units::System::Metric,
        _ => crate::units::System::Us,
    }
}
