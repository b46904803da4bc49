//! Measures as typed on the page: read, written, shared out.

use serde_json::{Value, json};

use super::{text, units};
use crate::units::{Interval, Kind, NotationError, Size, is_unknown};

fn kind(q: &Value) -> Result<Kind, String> {
    text(q, "kind")?.parse::<Kind>().map_err(|e| e.to_string())
}

pub(super) fn wrong(error: NotationError) -> Value {
    json!({"ok": false, "message": error.message, "hint": error.hint})
}

/// What a text means, in its canonical unit, and as the trade prints it; or what is wrong with it.
pub(super) fn read(q: &Value) -> Result<Value, String> {
    let typed = text(q, "text")?;
    if text(q, "kind")? == "size" {
        return Ok(match typed.parse::<Size>() {
            Ok(size) => json!({"says": size.write(units(q))}),
            Err(error) => wrong(error),
        });
    }
    let kind = kind(q)?;
    if is_unknown(typed) {
        return Ok(json!({"says": "unknown"}));
    }
    Ok(match kind.read(typed) {
        Ok(i) => json!({"value": i.lo, "to": i.hi, "says": kind.write(i, units(q))}),
        Err(error) => wrong(error),
    })
}

/// Canonical numbers in the trade's notation.
pub(super) fn write(q: &Value) -> Result<Value, String> {
    let (kind, units) = (kind(q)?, units(q));
    let values = q.get("values").and_then(Value::as_array);
    let texts: Vec<String> = values
        .into_iter()
        .flatten()
        .map(|v| match v.as_f64() {
            Some(x) => kind.write(Interval::exact(crate::units::canonical(x)), units),
            None => "unknown".to_owned(),
        })
        .collect();
    Ok(json!({"texts": texts}))
}

/// Most parts a length is shared out in: panels in a row.
const PARTS: u64 = 200;

/// A length in equal parts, as texts.
pub(super) fn split(q: &Value) -> Result<Value, String> {
    let whole = match Kind::Length.read(text(q, "text")?) {
        Ok(whole) => whole,
        Err(error) => return Ok(wrong(error)),
    };
    let parts = q.get("into").and_then(Value::as_u64).unwrap_or(1);
    if !(1..=PARTS).contains(&parts) {
        return Err(format!("write a number of parts from 1 to {PARTS}"));
    }
    let part = f64::midpoint(whole.lo, whole.hi) / parts as f64;
    let written = Kind::Length.write(Interval::exact(crate::units::canonical(part)), units(q));
    Ok(json!({"texts": vec![written; parts as usize]}))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_typed_is_read_as_the_trade_means_it() {
        let ok = read(&json!({"kind": "length", "text": "4 to 8 mm"})).unwrap();
        assert_eq!((&ok["value"], &ok["to"]), (&json!(4.0), &json!(8.0)));
        let bare = read(&json!({"kind": "length", "text": "4"})).unwrap();
        assert_eq!(bare["ok"], json!(false));
        assert!(bare["hint"].as_str().unwrap().contains("4 in"), "{bare}");
        assert!(read(&json!({"kind": "colour", "text": "red"})).is_err());
        let size = read(&json!({"kind": "size", "text": "12 x 30 ft"})).unwrap();
        assert!(size["says"].as_str().unwrap().contains(" x "), "{size}");
    }

    #[test]
    fn a_length_is_shared_out_evenly() {
        // 10 ft in three parts is 40 in each.
        let parts = split(&json!({"text": "10 ft", "into": 3})).unwrap();
        let each = parts["texts"][2].as_str().unwrap();
        assert_eq!(Kind::Length.read(each).unwrap().lo, 1016.0);
        assert!(split(&json!({"text": "10 ft", "into": 0})).is_err());
        assert!(split(&json!({"text": "10 ft", "into": 100_000})).is_err());
    }
}
