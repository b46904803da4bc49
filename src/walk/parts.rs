//! Answers of several parts: a joint, a photo, readings on several days, a product, a price.

use serde_json::{Value, json};

use crate::record::dates;
use crate::record::model::Record;
use crate::units::{Kind, Size};

use super::answer::{Complaint, measures, number, words};
use super::plan::Pick;

/// Values to put: path, value, remark.
pub(super) type Puts = Vec<(String, Value, String)>;

fn put(path: String, value: Value) -> Puts {
    vec![(path, value, String::new())]
}

/// A place on the map: `4 ft, 6 ft`.
pub(super) fn point(text: &str) -> Result<Value, Complaint> {
    let all = measures(Kind::Length, text)?;
    if all.len() != 2 {
        return Err(Complaint::new(
            format!(
                "`{}` is no place on the map: it takes two lengths",
                text.trim()
            ),
            "write how far to the right and how far up: `4 ft, 6 ft`",
        ));
    }
    Ok(json!(all))
}

/// The parts of an answer between semicolons.
fn each(text: &str) -> Vec<&str> {
    text.split(';')
        .map(str::trim)
        .filter(|t| !t.is_empty())
        .collect()
}

/// Corners in order: `0 ft, 0 ft; 12 ft, 0 ft; 12 ft, 20 ft`.
pub(super) fn corners(text: &str) -> Result<Value, Complaint> {
    let all: Vec<Value> = each(text)
        .into_iter()
        .map(point)
        .collect::<Result<_, _>>()?;
    if all.len() < 3 {
        return Err(Complaint::new(
            "an outline has three corners or more",
            "write them in order with `;` between: `0 ft, 0 ft; 12 ft, 0 ft; 12 ft, 20 ft`",
        ));
    }
    Ok(json!(all))
}

/// A joint: its kind, and how wide it is open.
pub(super) fn joint(list: &str, id: &str, picks: &[Pick], text: &str) -> Result<Puts, Complaint> {
    let (kind, width) = match text.split_once(',') {
        Some((kind, width)) => (kind.trim(), Some(width.trim())),
        None => (text, None),
    };
    let kind = &words(picks, kind, false)?[0].word;
    let mut item = json!({"id": id, "kind": kind});
    if let Some(width) = width {
        Kind::Length.read(width)?;
        item["width"] = json!(width);
    }
    Ok(put(format!("{list}.+"), item))
}

/// Path of the defect of a number.
fn defect(record: &Record, text: &str) -> Option<(usize, usize)> {
    let number = text.trim().trim_start_matches("defect").trim();
    let number: u32 = number.parse().ok()?;
    record.areas.iter().enumerate().find_map(|(a, area)| {
        let d = area.defects.iter().position(|d| d.id == number)?;
        Some((a, d))
    })
}

fn no_defect(record: &Record, text: &str) -> Complaint {
    let all: Vec<String> = record
        .areas
        .iter()
        .flat_map(|a| &a.defects)
        .map(|d| d.id.to_string())
        .collect();
    Complaint::new(
        format!("there is no defect `{}`", text.trim()),
        match all.is_empty() {
            true => "no defect is written down yet".to_owned(),
            false => format!("one of: {}", all.join(", ")),
        },
    )
}

/// Path of the readings of the defect of a number, or of the first.
pub(super) fn readings(record: &Record, text: &str) -> Result<String, Complaint> {
    let found = match text {
        "" => record
            .areas
            .iter()
            .position(|a| !a.defects.is_empty())
            .map(|a| (a, 0)),
        text => defect(record, text),
    };
    let (a, d) = found.ok_or_else(|| no_defect(record, text))?;
    Ok(format!("areas.{a}.defects.{d}.readings"))
}

/// A photo: number of the defect, file, what it shows.
pub(super) fn photo(record: &Record, text: &str) -> Result<Puts, Complaint> {
    let mut parts = text.splitn(3, ',').map(str::trim);
    let (Some(number), Some(file), Some(caption)) = (parts.next(), parts.next(), parts.next())
    else {
        return Err(Complaint::new(
            "a photo needs the number of its defect, its file and what it shows",
            "write `2, crack.jpg, crack at the door`",
        ));
    };
    let (a, d) = defect(record, number).ok_or_else(|| no_defect(record, number))?;
    if file.is_empty() || caption.is_empty() {
        return Err(Complaint::new(
            "the file or what it shows is missing",
            "write `2, crack.jpg, crack at the door`",
        ));
    }
    Ok(put(
        format!("areas.{a}.defects.{d}.photos.+"),
        json!({"file": file, "caption": caption}),
    ))
}

/// A remark on a defect or a part; it goes behind what is noted already.
pub(super) fn remark(record: &Record, text: &str) -> Result<Puts, Complaint> {
    let Some((of, said)) = text.split_once(',') else {
        return Err(Complaint::new(
            "a remark needs what it is about",
            "write the number of the defect or the name of the part first: `2, wider after every winter`",
        ));
    };
    let (of, said) = (of.trim(), said.trim());
    let low = of.to_lowercase();
    let part = record
        .areas
        .iter()
        .position(|a| a.id.to_lowercase() == low || a.name.to_lowercase() == low);
    let (path, before) = match (part, defect(record, of)) {
        (Some(a), _) => (
            format!("areas.{a}.note"),
            record.areas.get(a).and_then(|a| a.note.clone()),
        ),
        (None, Some((a, d))) => (
            format!("areas.{a}.defects.{d}.note"),
            record
                .areas
                .get(a)
                .and_then(|a| a.defects.get(d))
                .and_then(|d| d.note.clone()),
        ),
        (None, None) => return Err(no_defect(record, of)),
    };
    if said.is_empty() {
        return Err(Complaint::new("the remark is missing", ""));
    }
    let whole = before.map_or_else(|| said.to_owned(), |before| format!("{before}; {said}"));
    Ok(put(path, json!(whole)))
}

/// Readings on several days: `2025-01-14 0.02 in at 35 F; 2025-07-10 0.03 in`.
pub(super) fn dated(key: &str, text: &str, slab: bool, there: usize) -> Result<Puts, Complaint> {
    let mut items = Vec::new();
    for part in each(text) {
        let wrong = || {
            Complaint::new(
                format!("`{part}` is no reading of a day"),
                "write the day, then what was read: `2025-01-14 0.02 in`; several with `;` between",
            )
        };
        let (day, rest) = part.split_once([' ', ',', ':']).ok_or_else(wrong)?;
        if dates::day(day).is_none() {
            return Err(wrong());
        }
        let rest = rest.trim_start_matches([' ', ',', ':']);
        let (value, at) = match rest.split_once(" at ") {
            Some((value, at)) if slab => (value.trim(), Some(at.trim())),
            _ => (rest, None),
        };
        Kind::Length.read(value)?;
        let mut item = json!({"date": day, "value": value});
        if let Some(at) = at {
            Kind::Temperature.read(at)?;
            item["slab"] = json!(at);
        }
        items.push(item);
    }
    if items.is_empty() {
        return Err(Complaint::new(
            "no reading was typed",
            "write the day, then what was read: `2025-01-14 0.02 in`",
        ));
    }
    // An empty list is filled as a whole; a longer one is added to.
    Ok(match there {
        0 => put(key.to_owned(), Value::Array(items)),
        _ => items
            .into_iter()
            .flat_map(|item| put(format!("{key}.+"), item))
            .collect(),
    })
}

/// Hollow patches: the middle of each, then its width by length.
pub(super) fn patches(key: &str, text: &str) -> Result<Puts, Complaint> {
    let mut out = Vec::new();
    for part in each(text) {
        let mut parts = part.splitn(3, ',').map(str::trim);
        let (Some(right), Some(up), Some(size)) = (parts.next(), parts.next(), parts.next()) else {
            return Err(Complaint::new(
                format!("`{part}` is no place with a size"),
                "write how far to the right, how far up, then width by length: `4 ft, 6 ft, 3 ft x 2 ft`",
            ));
        };
        size.parse::<Size>()?;
        let at = point(&format!("{right}, {up}"))?;
        out.extend(put(format!("{key}.+"), json!({"at": at, "extent": size})));
    }
    match out.is_empty() {
        true => Err(Complaint::new(
            "no patch was typed",
            "write `4 ft, 6 ft, 3 ft x 2 ft`",
        )),
        false => Ok(out),
    }
}

/// What holds for single panels: `B2 3; A1 4 to 6`.
pub(super) fn panel_signs(
    base: &str,
    fact: &str,
    kind: Option<Kind>,
    panels: &[String],
    picks: &[Pick],
    text: &str,
) -> Result<Puts, Complaint> {
    let mut out = Vec::new();
    for part in each(text) {
        let (panel, value) = part.split_once([' ', ',', ':']).ok_or_else(|| {
            Complaint::new(
                format!("`{part}` is no panel with a value"),
                "write the panel, then the value: `B2 3`",
            )
        })?;
        let panel = panel.to_uppercase();
        if !panels.contains(&panel) {
            return Err(Complaint::new(
                format!("there is no panel `{panel}` here"),
                format!("one of: {}", panels.join(", ")),
            ));
        }
        let value = value.trim_start_matches([' ', ',', ':']);
        let value = match kind {
            Some(kind) => {
                kind.read(value)?;
                match kind {
                    Kind::Number => number(value).unwrap_or_else(|| json!(value)),
                    _ => json!(value),
                }
            }
            None => json!(words(picks, value, false)?[0].word),
        };
        out.extend(put(format!("{base}.{panel}.{fact}"), value));
    }
    match out.is_empty() {
        true => Err(Complaint::new("no panel was typed", "write `B2 3`")),
        false => Ok(out),
    }
}

/// A product: what it is, then what the crew calls it.
pub(super) fn material(picks: &[Pick], text: &str) -> Result<Puts, Complaint> {
    let (kind, name) = match text.split_once([',', ':']) {
        Some((kind, name)) => (kind.trim(), Some(name.trim()).filter(|n| !n.is_empty())),
        None => (text, None),
    };
    let kind = &words(picks, kind, false)?[0];
    let name = name.unwrap_or(&kind.name);
    Ok(put(
        "materials.+".to_owned(),
        json!({"name": name, "kind": kind.word}),
    ))
}

/// A line of the price book: option, item, per, low, likely, high, and how often it comes again.
pub(super) fn price(text: &str) -> Result<Puts, Complaint> {
    let parts: Vec<&str> = text.split(',').map(str::trim).collect();
    let (fixed, every) = match parts.as_slice() {
        [fixed @ .., every] if fixed.len() == 6 => (fixed, Some(*every)),
        fixed => (fixed, None),
    };
    let [option, item, per, low, likely, high] = fixed else {
        return Err(Complaint::new(
            "a price has six parts",
            "write option, what is bought, per what, low, likely, high: `repair, overlay, ft2, 6.50, 8, 11`",
        ));
    };
    let mut line = json!({
        "option": option.replace(' ', "_"),
        "item": item,
        "per": per,
        "low": low,
        "likely": likely,
        "high": high,
    });
    if let Some(every) = every {
        let every = every.trim_start_matches("every").trim();
        Kind::Duration.read(every)?;
        line["every"] = json!(every);
    }
    Ok(put("prices.lines.+".to_owned(), line))
}
