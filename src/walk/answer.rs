//! From what was typed to what goes into the record.

use serde_json::{Value, json};

use crate::record::dates;
use crate::source::nearest;
use crate::units::{Kind, NotationError, Size, is_unknown};

use super::plan::{Pick, Question, Take};
use super::state::{Entry, Walk};
use super::{more, parts};

/// Why an answer was not taken, and how to write it right.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Complaint {
    /// What is wrong.
    pub message: String,
    /// How to write it right; may be empty.
    pub hint: String,
}

impl Complaint {
    /// A complaint from its two sentences.
    pub fn new(message: impl Into<String>, hint: impl Into<String>) -> Complaint {
        Complaint {
            message: message.into(),
            hint: hint.into(),
        }
    }
}

impl From<NotationError> for Complaint {
    fn from(error: NotationError) -> Self {
        Complaint::new(error.message, error.hint)
    }
}

/// What a line typed at a question means.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Said {
    /// An answer; nothing for an empty line.
    Answer(String),
    /// It is not known.
    Unknown,
    /// How is it found out, how is it written?
    How,
    /// Why is it asked?
    Why,
    /// Take the last answer back.
    Back,
    /// Leave it for another day.
    Skip,
    /// How do the verdicts stand?
    Verdict,
    /// Add to a list that was closed: `defect`, `area`, `stairs`, `door`, `edge`, with the part
    /// meant, if named.
    Add(String),
    /// What can be typed?
    Help,
    /// Enough for now.
    Stop,
}

/// Reads a line. Words in double quotes are an answer whatever they say.
pub fn said(line: &str) -> Said {
    let text: String = line
        .chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect();
    let text = text.trim();
    if text.len() >= 2 && text.starts_with('"') && text.ends_with('"') {
        return Said::Answer(text[1..text.len() - 1].trim().to_owned());
    }
    let low = text.to_lowercase().replace('’', "'");
    match low.as_str() {
        "?" | "how" => Said::How,
        "why" => Said::Why,
        "back" | "undo" => Said::Back,
        "skip" | "later" => Said::Skip,
        "verdict" => Said::Verdict,
        "help" => Said::Help,
        "stop" | "quit" | "exit" => Said::Stop,
        "-" | "dk" | "not sure" | "no idea" | "i don't know" => Said::Unknown,
        _ if is_unknown(text) => Said::Unknown,
        _ => match low.strip_prefix("add ") {
            Some(what) => Said::Add(what.trim().to_owned()),
            None => Said::Answer(text.to_owned()),
        },
    }
}

impl Walk<'_> {
    /// What it means to leave a question for another day.
    ///
    /// # Errors
    /// When the record can't stand without an answer.
    pub fn skip(&self, q: &Question) -> Result<Entry, Complaint> {
        if q.needed {
            return Err(Complaint::new(
                "a record can't stand without this one",
                "answer it as well as you can; it can be changed later",
            ));
        }
        Ok(Entry {
            key: q.key.clone(),
            answer: "skip".to_owned(),
            closes: vec![q.key.clone()],
            ..Entry::default()
        })
    }

    /// What it means not to know the answer: the record says `unknown` where it can.
    ///
    /// # Errors
    /// When the record can't stand without an answer.
    pub fn unknown(&self, q: &Question) -> Result<Entry, Complaint> {
        let unknown = match &q.take {
            Take::Word { unknown, .. } => *unknown,
            Take::Measure(_) => true,
            Take::Text => q.needed && q.key.starts_with("job."),
            _ => false,
        };
        if q.needed && !unknown {
            return Err(Complaint::new(
                "a record can't stand without this one",
                "take what comes nearest",
            ));
        }
        let mut entry = Entry {
            key: q.key.clone(),
            answer: "unknown".to_owned(),
            closes: vec![q.key.clone()],
            ..Entry::default()
        };
        if unknown {
            entry
                .puts
                .push((q.key.clone(), json!("unknown"), q.remark.clone()));
        }
        Ok(entry)
    }

    /// Opens a list again that was closed.
    ///
    /// # Errors
    /// When there is no such list, or no such part.
    pub fn add(&self, what: &str) -> Result<Entry, Complaint> {
        let (word, part) = what.split_once(' ').unwrap_or((what, ""));
        let areas = &self.loaded.record.areas;
        let part = part.trim();
        let entry = |key: String| Entry {
            answer: format!("add {what}"),
            wants: vec![key],
            ..Entry::default()
        };
        if matches!(word, "reading" | "readings") {
            return parts::readings(&self.loaded.record, part).map(entry);
        }
        let index = areas
            .iter()
            .position(|a| a.id.to_lowercase() == part || a.name.to_lowercase() == part);
        let index = match (index, part) {
            (Some(i), _) => i,
            (None, "") => 0,
            (None, _) => {
                let all: Vec<&str> = areas.iter().map(|a| a.name.as_str()).collect();
                return Err(Complaint::new(
                    format!("there is no part `{part}`"),
                    format!("one of: {}", all.join(", ")),
                ));
            }
        };
        let key = match word {
            "defect" => format!("areas.{index}.defects?"),
            "area" | "part" => "areas?".to_owned(),
            "stairs" | "stair" | "steps" => "stairs?".to_owned(),
            "door" => format!("areas.{index}.doors?"),
            "edge" => format!("areas.{index}.edges?"),
            "joint" => format!("areas.{index}.joints?"),
            "outline" => format!("areas.{index}.outline"),
            "levels" | "level" => format!("areas.{index}.tests.levels"),
            "patch" | "patches" => format!("areas.{index}.tests.sounding.patches"),
            "work" => format!("areas.{index}.work_readings.more?"),
            "photo" | "photos" => more::PHOTOS.to_owned(),
            "remark" | "note" => more::REMARKS.to_owned(),
            "product" | "material" => more::MATERIALS.to_owned(),
            "price" | "prices" if self.loaded.record.prices.is_some() => more::PRICES.to_owned(),
            "price" | "prices" => "prices.currency".to_owned(),
            "crew" if self.loaded.record.crew.is_some() => "crew.more?".to_owned(),
            "crew" => "crew.people".to_owned(),
            "more" | "anything" => more::MORE.to_owned(),
            _ => {
                return Err(Complaint::new(
                    format!("`{word}` can't be added"),
                    "write `add defect`, `area`, `stairs`, `door`, `edge`, `joint`, `photo`, `reading`, `levels`, `patch`, `outline`, `remark`, `product`, `crew`, `price` or `more`",
                ));
            }
        };
        Ok(entry(key))
    }

    /// Reads an answer to a question.
    ///
    /// # Errors
    /// What is wrong with it and how to write it right.
    pub fn answer(&self, q: &Question, text: &str) -> Result<Entry, Complaint> {
        let text = text.trim();
        let mut entry = Entry {
            key: q.key.clone(),
            answer: text.to_owned(),
            ..Entry::default()
        };
        let none = matches!(
            text.to_lowercase().as_str(),
            "none" | "no" | "nothing" | "all"
        );
        if text.is_empty() && q.take != Take::Day {
            return Err(Complaint::new(
                "nothing was typed",
                "answer, or type `unknown`, `skip`, `?` for how to find out, `stop` to go on later",
            ));
        }
        let mut put = |path: &str, value: Value, remark: &str| {
            entry.puts.push((path.to_owned(), value, remark.to_owned()));
        };
        match &q.take {
            Take::Text => {
                put(&q.key, json!(text), &q.remark);
                if q.key == "prices.currency" {
                    entry.wants = vec!["prices.more?".to_owned(), more::PRICES.to_owned()];
                }
            }
            Take::Day => {
                let day = match text.to_lowercase().as_str() {
                    "" | "today" => q.example.clone(),
                    _ => text.to_owned(),
                };
                if dates::day(&day).is_none() {
                    return Err(Complaint::new(
                        format!("`{day}` is no day"),
                        format!("write year, month and day: `{}`", q.example),
                    ));
                }
                put(&q.key, json!(day), "");
            }
            Take::Placed => {
                if dates::span(text).is_none() {
                    return Err(Complaint::new(
                        format!("`{text}` is no year, month or day"),
                        "write `2011`, `2011-06` or `2011-06-20`; `unknown` if nobody knows",
                    ));
                }
                let value = text
                    .parse::<u32>()
                    .map_or_else(|_| json!(text), |year| json!(year));
                put(&q.key, value, "when it was placed");
            }
            Take::Word { many, .. } => {
                let found = words(&q.picks, text, *many)?;
                if q.key.starts_with("stairs.") && found.iter().any(|p| p.word == "off") {
                    entry.closes.push(q.key.clone());
                    return Ok(entry);
                }
                let remark = remark_of(q, &found);
                let value = match found.as_slice() {
                    [only] => json!(only.word),
                    several => json!(several.iter().map(|p| &p.word).collect::<Vec<_>>()),
                };
                put(&q.key, value, &remark);
            }
            Take::Measure(kind) => {
                kind.read(text)?;
                let value = match kind {
                    Kind::Number => number(text).unwrap_or_else(|| json!(text)),
                    _ => json!(text),
                };
                put(&q.key, value, &q.remark);
            }
            Take::Measures(kind) => {
                let all = measures(*kind, text)?;
                put(&q.key, json!(all), &q.remark);
            }
            Take::Numbers => {
                let all: Vec<Value> = text
                    .split([',', ' '])
                    .map(str::trim)
                    .filter(|t| !t.is_empty())
                    .map(|t| {
                        number(t).ok_or_else(|| {
                            Complaint::new(
                                format!("`{t}` is not a number"),
                                format!("write numbers with commas between: `{}`", q.example),
                            )
                        })
                    })
                    .collect::<Result<_, _>>()?;
                put(&q.key, json!(all), &q.remark);
            }
            Take::Words => {
                let all: Vec<String> = text
                    .split(',')
                    .map(|t| words(&q.picks, t.trim(), false).map(|p| p[0].word.clone()))
                    .collect::<Result<_, _>>()?;
                put(&q.key, json!(all), &q.remark);
            }
            Take::Size => size(q, text, &mut put)?,
            Take::Point => {
                put(&q.key, parts::point(text)?, &q.remark);
            }
            Take::Panels => {
                if none {
                    entry.closes.push(q.key.clone());
                    return Ok(entry);
                }
                let wrong = || {
                    Complaint::new(
                        "columns and rows are needed",
                        "write widths from the left, `by`, heights from below: `10 ft, 10 ft by 4 x 10 ft`",
                    )
                };
                let lower = text.to_lowercase();
                let (at, _) = lower.match_indices(" by ").next().ok_or_else(wrong)?;
                let (columns, rows) = (text.get(..at), text.get(at + 4..));
                let columns = measures(Kind::Length, columns.ok_or_else(wrong)?)?;
                let rows = measures(Kind::Length, rows.ok_or_else(wrong)?)?;
                put(&q.key, json!({"columns": columns, "rows": rows}), "");
            }
            Take::PanelNames => {
                let all: Vec<String> = text
                    .split([',', ' '])
                    .map(str::trim)
                    .filter(|t| !t.is_empty())
                    .map(|t| t.to_uppercase())
                    .collect();
                if let Some(wrong) = all
                    .iter()
                    .find(|name| q.picks.iter().all(|p| p.word != **name))
                {
                    let known: Vec<&str> = q.picks.iter().map(|p| p.word.as_str()).collect();
                    return Err(Complaint::new(
                        format!("there is no panel `{wrong}` here"),
                        format!("one of: {}", known.join(", ")),
                    ));
                }
                put(&q.key, json!(all), "");
            }
            Take::Sounding => {
                let numbers: Vec<u64> = text
                    .split(|c: char| !c.is_ascii_digit())
                    .filter_map(|t| t.parse().ok())
                    .collect();
                let [taps, dull] = numbers.as_slice() else {
                    return Err(Complaint::new(
                        "two numbers are needed: taps made, and how many answered dull",
                        "write `60 taps, 4 dull`; `skip` if it was not tapped",
                    ));
                };
                put(&q.key, json!({"taps": taps, "hollow": dull}), "");
            }
            Take::Defect { number } => {
                let list = q.key.trim_end_matches('?');
                if none {
                    if self.missing(list) {
                        put(list, json!([]), "");
                    }
                    entry.closes.push(q.key.clone());
                    return Ok(entry);
                }
                let kind = words(&q.picks, text, false)?;
                let item = json!({"id": number, "kind": kind[0].word});
                put(&format!("{list}.+"), item, "");
                // The list goes on until there is nothing more.
                entry.wants.push(q.key.clone());
            }
            Take::Area { id } => {
                if none {
                    entry.closes.push(q.key.clone());
                    return Ok(entry);
                }
                let wrong =
                    |hint: &str| Complaint::new("a part needs a name and a size", hint.to_owned());
                // An outline is a list of places, with commas of its own.
                if let Some((name, outline)) = text.split_once(',').filter(|_| text.contains(';')) {
                    let outline = parts::corners(outline)?;
                    let item = json!({"id": id, "name": name.trim(), "outline": outline});
                    put("areas.+", item, "");
                    entry.wants.push(q.key.clone());
                    return Ok(entry);
                }
                let (name, size) = text
                    .rsplit_once(',')
                    .ok_or_else(|| wrong("write both: `front walk, 4 ft x 30 ft`"))?;
                let (name, size) = (name.trim(), size.trim());
                size.parse::<Size>()?;
                if name.is_empty() {
                    return Err(wrong("write both: `front walk, 4 ft x 30 ft`"));
                }
                put("areas.+", json!({"id": id, "name": name, "size": size}), "");
                entry.wants.push(q.key.clone());
            }
            Take::Stair { id } => {
                if none {
                    if self.missing("stairs") {
                        put("stairs", json!([]), "");
                    }
                    entry.closes.push(q.key.clone());
                    return Ok(entry);
                }
                let risers = measures(Kind::Length, text)?;
                put("stairs.+", json!({"id": id, "risers": risers}), "");
                entry.wants.push(q.key.clone());
            }
            Take::Door { id, area } => {
                if none {
                    if self.missing("thresholds") {
                        put("thresholds", json!([]), "");
                    }
                    entry.closes.push(q.key.clone());
                    return Ok(entry);
                }
                Kind::Length.read(text)?;
                let item = json!({"id": id, "area": area, "drop": text});
                put("thresholds.+", item, "");
                entry.wants.push(q.key.clone());
            }
            Take::Edges { area } => {
                if none {
                    if self.missing("edges") {
                        put("edges", json!([]), "");
                    }
                } else {
                    for pick in each(&q.picks, text)? {
                        put("edges.+", json!({"area": area, "kind": pick.word}), "");
                    }
                }
                entry.closes.push(q.key.clone());
            }
            Take::Checklist => {
                if !none {
                    entry.wants = each(&q.picks, text)?.into_iter().map(|p| p.word).collect();
                    // What else is there is asked again until it is nothing.
                    if q.key == more::MORE {
                        return Ok(entry);
                    }
                }
                entry.closes.push(q.key.clone());
            }
            Take::Corners => {
                put(&q.key, parts::corners(text)?, "");
                let size = q.key.replace(".outline", ".size");
                if !self.missing(&size) {
                    put(&size, Value::Null, "");
                }
            }
            Take::Count => {
                let count = text.parse::<u32>().map_err(|_| {
                    Complaint::new(
                        format!("`{text}` is no count"),
                        "write a whole number in digits",
                    )
                })?;
                put(&q.key, json!(count), &q.remark);
                // The crew and the prices are a few more fields each.
                if q.key == "crew.people" {
                    entry.wants.push("crew.more?".to_owned());
                }
            }
            Take::Dated { slab } => {
                let there = super::plan::at_path(&self.json, &q.key)
                    .and_then(Value::as_array)
                    .map_or(0, Vec::len);
                entry.puts = parts::dated(&q.key, text, *slab, there)?;
                entry.closes.push(q.key.clone());
            }
            Take::Patches => {
                entry.puts = parts::patches(&q.key, text)?;
                entry.closes.push(q.key.clone());
            }
            Take::PanelSign { fact, kind, panels } => {
                let base = q.key.split('?').next().unwrap_or_default();
                entry.puts = parts::panel_signs(base, fact, *kind, panels, &q.picks, text)?;
                entry.closes.push(q.key.clone());
            }
            Take::Joint { .. }
            | Take::Photo
            | Take::Remark
            | Take::Material { .. }
            | Take::Price => {
                let list = q.key.trim_end_matches('?');
                if none {
                    if matches!(q.take, Take::Joint { .. }) && self.missing(list) {
                        put(list, json!([]), "");
                    }
                    entry.closes.push(q.key.clone());
                    return Ok(entry);
                }
                let record = &self.loaded.record;
                entry.puts = match &q.take {
                    Take::Joint { id } => parts::joint(list, id, &q.picks, text)?,
                    Take::Photo => parts::photo(record, text)?,
                    Take::Remark => parts::remark(record, text)?,
                    Take::Material { index } => {
                        entry.wants.push(format!("materials.{index}.more?"));
                        parts::material(&q.picks, text)?
                    }
                    _ => parts::price(text)?,
                };
                // The list goes on until there is nothing more.
                entry.wants.push(q.key.clone());
            }
            Take::Lines => {
                let lines: Vec<&str> = match none {
                    true => Vec::new(),
                    false => text
                        .split(';')
                        .map(str::trim)
                        .filter(|t| !t.is_empty())
                        .collect(),
                };
                put(&q.key, json!(lines), "");
            }
        }
        Ok(entry)
    }

    fn missing(&self, path: &str) -> bool {
        super::plan::at_path(&self.json, path).is_none_or(Value::is_null)
    }
}

/// The remark behind a choice: what was asked, and what the word means.
fn remark_of(q: &Question, found: &[Pick]) -> String {
    let plain = |p: &&Pick| p.name != p.word.replace('_', " ") && p.name != p.word;
    let meanings: Vec<&str> = found
        .iter()
        .filter(plain)
        .map(|p| p.name.as_str())
        .collect();
    match (q.remark.is_empty(), meanings.is_empty()) {
        (true, _) => meanings.join(" or "),
        (false, true) => q.remark.clone(),
        (false, false) => format!("{}: {}", q.remark, meanings.join(" or ")),
    }
}

/// A bare number as JSON: whole where it is.
pub(super) fn number(text: &str) -> Option<Value> {
    let text = text.trim();
    if !text.starts_with(|c: char| c.is_ascii_digit() || c == '-') {
        return None;
    }
    text.parse::<i64>().map(|n| json!(n)).ok().or_else(|| {
        text.parse::<f64>()
            .ok()
            .filter(|x| x.is_finite())
            .map(|x| json!(x))
    })
}

/// Measures with commas between; `4 x 10 ft` stands for the same four times.
pub(super) fn measures(kind: Kind, text: &str) -> Result<Vec<String>, Complaint> {
    let mut out = Vec::new();
    for part in text
        .split([',', ';'])
        .map(str::trim)
        .filter(|t| !t.is_empty())
    {
        let (times, one) = match part.split_once([' ', 'x']) {
            Some((n, rest)) if n.parse::<usize>().is_ok() => {
                let rest = rest.trim_start();
                match rest.strip_prefix(['x', '×']).or_else(|| {
                    part.get(n.len()..)
                        .and_then(|r| r.strip_prefix('x'))
                        .map(|_| rest)
                }) {
                    Some(one) => (n.parse::<usize>().unwrap_or(1), one.trim()),
                    None => (1, part),
                }
            }
            _ => (1, part),
        };
        if times == 0 || times > 200 {
            return Err(Complaint::new(
                format!("`{part}` is {times} times the same"),
                "write 1 to 200 times",
            ));
        }
        kind.read(one)?;
        out.extend(std::iter::repeat_n(one.to_owned(), times));
    }
    if out.is_empty() {
        return Err(Complaint::new(
            "no measure was typed",
            format!(
                "write one or more with commas between, such as `{}`",
                kind.examples().first().copied().unwrap_or_default()
            ),
        ));
    }
    Ok(out)
}

/// A size, a surface, an outline, or (for a defect) a share of the area; each has its own field.
fn size(q: &Question, text: &str, put: &mut dyn FnMut(&str, Value, &str)) -> Result<(), Complaint> {
    let (base, field) = q.key.rsplit_once('.').unwrap_or(("", &q.key));
    // A new record holds a size to be written over, which must not stay beside another.
    let mut instead = |field: &str, value: Value, remark: &str| {
        put(&format!("{base}.{field}"), value, remark);
        if q.needed {
            put(&q.key, Value::Null, "");
        }
    };
    if field == "size" && text.contains(';') {
        instead("outline", parts::corners(text)?, "");
        return Ok(());
    }
    let error = match text.parse::<Size>() {
        Ok(_) => {
            put(&q.key, json!(text), &q.remark);
            return Ok(());
        }
        Err(error) => error,
    };
    if Kind::Area.read(text).is_ok() {
        instead("surface", json!(text), "surface");
    } else if field == "extent" && Kind::Share.read(text).is_ok() {
        instead("share", json!(text), "share of the area");
    } else {
        return Err(error.into());
    }
    Ok(())
}

/// The picks a text means: by number, by word, by name, or by how one of them begins.
pub(super) fn words(picks: &[Pick], text: &str, many: bool) -> Result<Vec<Pick>, Complaint> {
    if let Some(one) = pick(picks, text) {
        return Ok(vec![one.clone()]);
    }
    let mut parts: Vec<String> = text
        .split([',', '|'])
        .flat_map(|t| t.split(" or "))
        .map(|t| t.trim().to_owned())
        .filter(|t| !t.is_empty())
        .collect();
    parts.dedup();
    if many && parts.len() > 1 {
        let found: Vec<Pick> = each(picks, text)?;
        return Ok(found);
    }
    Err(no_pick(picks, text))
}

/// Several picks, each named once.
fn each(picks: &[Pick], text: &str) -> Result<Vec<Pick>, Complaint> {
    let mut out: Vec<Pick> = Vec::new();
    for part in text
        .split([',', '|', ';'])
        .flat_map(|t| t.split(" or "))
        .flat_map(|t| t.split(" and "))
        .map(str::trim)
        .filter(|t| !t.is_empty())
    {
        let all_numbers = part.split(' ').all(|t| t.parse::<usize>().is_ok());
        let several: Vec<&str> = match all_numbers {
            true => part.split(' ').collect(),
            false => vec![part],
        };
        for one in several {
            let found = pick(picks, one).ok_or_else(|| no_pick(picks, one))?;
            if !out.contains(found) {
                out.push(found.clone());
            }
        }
    }
    match out.is_empty() {
        true => Err(no_pick(picks, text)),
        false => Ok(out),
    }
}

fn pick<'p>(picks: &'p [Pick], text: &str) -> Option<&'p Pick> {
    if let Ok(n) = text.parse::<usize>() {
        return picks.get(n.checked_sub(1)?);
    }
    let plain = |t: &str| t.trim().to_lowercase().replace(['_', '-'], " ");
    let wanted = plain(text);
    if wanted.is_empty() {
        return None;
    }
    let is = |p: &&Pick| {
        plain(&p.word) == wanted
            || plain(&p.name) == wanted
            || plain(p.word.rsplit('.').next().unwrap_or("")) == wanted
    };
    if let Some(found) = picks.iter().find(is) {
        return Some(found);
    }
    // Yes and no are often typed as letters, and a few letters tell most words apart.
    let mut near = picks
        .iter()
        .filter(|p| plain(&p.word).starts_with(&wanted) || plain(&p.name).starts_with(&wanted));
    match (near.next(), near.next()) {
        (Some(only), None) => Some(only),
        _ => None,
    }
}

fn no_pick(picks: &[Pick], text: &str) -> Complaint {
    let names = || picks.iter().map(|p| p.name.as_str());
    let hint = nearest(text, picks.iter().map(|p| p.word.as_str()))
        .map(|word| {
            picks
                .iter()
                .find(|p| p.word == word)
                .map_or(word, |p| p.name.as_str())
        })
        .or_else(|| nearest(text, names()))
        .map_or_else(
            || {
                format!(
                    "type a number from 1 to {}, or the first letters",
                    picks.len()
                )
            },
            |near| {
                format!(
                    "did you mean `{near}`? A number from 1 to {} will do",
                    picks.len()
                )
            },
        );
    Complaint::new(format!("`{text}` is not among the answers"), hint)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn list(of: &[(&str, &str)]) -> Vec<Pick> {
        of.iter()
            .map(|(w, n)| Pick {
                word: (*w).to_owned(),
                name: (*n).to_owned(),
            })
            .collect()
    }

    #[test]
    fn an_answer_is_known_by_number_word_name_or_beginning() {
        let picks = list(&[
            ("hot_dry_windy", "hot, dry or windy"),
            ("cold", "at or below 40 F"),
            ("cool_base", "cold ground"),
        ]);
        for text in [
            "1",
            "hot_dry_windy",
            "hot dry windy",
            "hot, dry or windy",
            "HOT",
        ] {
            assert_eq!(
                words(&picks, text, true).unwrap()[0].word,
                "hot_dry_windy",
                "{text}"
            );
        }
        assert_eq!(words(&picks, "1 or cold", true).unwrap().len(), 2);
        assert!(words(&picks, "1 or cold", false).is_err());
        assert!(words(&picks, "0", true).is_err());
        // `co` may be either of two.
        assert!(words(&picks, "co", true).is_err());
        assert!(words(&picks, "hott", true).is_err());
    }

    #[test]
    fn lists_of_measures_know_how_often() {
        let read = |t: &str| measures(Kind::Length, t).ok();
        assert_eq!(read("4 x 10 ft").unwrap(), vec!["10 ft"; 4]);
        assert_eq!(read("2x 10 ft, 5 ft").unwrap(), ["10 ft", "10 ft", "5 ft"]);
        assert_eq!(read("7 in, 7-1/8 in").unwrap(), ["7 in", "7-1/8 in"]);
        assert_eq!(read("1 1/2 in").unwrap(), ["1 1/2 in"]);
        assert!(read("7").is_none());
        assert!(read("").is_none());
        assert!(read("9999 x 1 ft").is_none());
    }

    #[test]
    fn lines_are_commands_only_when_they_stand_alone() {
        assert_eq!(said(" Back \n"), Said::Back);
        assert_eq!(said("\"back\""), Said::Answer("back".into()));
        assert_eq!(said("back yard"), Said::Answer("back yard".into()));
        assert_eq!(said("don’t know"), Said::Unknown);
        assert_eq!(said("add defect B"), Said::Add("defect b".into()));
        assert_eq!(said("\u{7}\n"), Said::Answer(String::new()));
        assert_eq!(said("\""), Said::Answer("\"".into()));
    }
}
