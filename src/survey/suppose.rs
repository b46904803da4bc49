//! A record with some facts otherwise: what is worked out from them is worked out anew.

use std::collections::BTreeMap;

use serde_json::{Map, Value as Json};

use crate::facts::{Fact, FactId, FactKind, Value, Vocabulary};
use crate::record::model::Record;

use super::{Origin, Survey, survey_holding};

/// A record and its survey with some facts taken to be otherwise.
#[derive(Debug, Clone)]
pub struct Supposed {
    /// The record, with the changes written into the fields that hold them.
    pub record: Record,
    /// Its survey.
    pub survey: Survey,
}

/// Takes some facts of a surveyed record to be otherwise and surveys it anew, so that what the
/// survey works out from them follows. A fact that a field of the record holds is written there; one
/// that is worked out is held to its new value, and so is everything worked out from it where it
/// reads the fact itself. Nothing else of the record changes.
pub fn suppose(
    record: &Record,
    survey: &Survey,
    vocabulary: &Vocabulary,
    changes: &[((usize, FactId), Value)],
) -> Supposed {
    let mut changed = record.clone();
    for &((thing, id), value) in changes {
        let fact = vocabulary.fact(id);
        let (Some(path), Some(written)) = (path(survey, thing, id, fact), written(fact, value))
        else {
            continue;
        };
        if let Some(with) = set(&changed, &path, written) {
            changed = with;
        }
    }
    let held: BTreeMap<(usize, FactId), Value> = changes.iter().copied().collect();
    let survey = survey_holding(&changed, vocabulary, held);
    Supposed {
        record: changed,
        survey,
    }
}

/// The field that holds a fact: as the survey knows it, else the one it was worked out from alone and
/// which bears its name, else the one of that name in the block of its thing.
fn path(survey: &Survey, thing: usize, id: FactId, fact: &Fact) -> Option<String> {
    if let Some(path) = survey.fields.get(&(thing, id)) {
        return Some(path.clone());
    }
    if let Some(Origin::WorkedOut { paths, .. }) = survey.entry(thing, id).map(|e| &e.origin)
        && let [only] = &paths[..]
        && only.rsplit('.').next() == Some(&fact.id)
    {
        return Some(only.clone());
    }
    let block = survey.blocks.get(&thing)?;
    Some(format!("{block}.{}", fact.id))
}

/// A value as a record writes it; `None` where no record could.
fn written(fact: &Fact, value: Value) -> Option<Json> {
    match (value, &fact.kind) {
        (Value::Unknown, _) => Some(Json::Null),
        (Value::Number(i), FactKind::Quantity(kind)) => {
            if !i.lo.is_finite() || !i.hi.is_finite() {
                return None;
            }
            let text = if i.is_exact() {
                kind.write_exact(i.lo)
            } else {
                format!("{} to {}", kind.write_exact(i.lo), kind.write_exact(i.hi))
            };
            Some(Json::String(text))
        }
        (Value::Choices(bits), FactKind::Choice { values, .. }) => {
            let mut words: Vec<Json> = bits
                .iter()
                .filter_map(|i| values.get(i))
                .map(|v| Json::String(v.id.clone()))
                .collect();
            match words.len() {
                0 => None,
                1 => words.pop(),
                _ => Some(Json::Array(words)),
            }
        }
        _ => None,
    }
}

/// The record with one field written anew; `None` where it has no such field or the value does not
/// fit it.
fn set(record: &Record, path: &str, value: Json) -> Option<Record> {
    let mut root = serde_json::to_value(record).ok()?;
    let mut at = &mut root;
    for part in path.split('.') {
        if at.is_null() {
            *at = Json::Object(Map::new());
        }
        at = match at {
            Json::Object(fields) => fields.entry(part).or_insert(Json::Null),
            Json::Array(items) => items.get_mut(part.parse::<usize>().ok()?)?,
            _ => return None,
        };
    }
    *at = value;
    serde_json::from_value(root).ok()
}
