//! The summary as one self-contained page.

use minijinja::context;
use minijinja::value::Serde;
use serde::Serialize;

use super::judge::Judge;
use super::run::Summary;
use super::tally::{Square, middle};
use super::told::{by_worth, grouped, names, work};
use crate::report::{ReportError, alone};

const PAGE: &str = include_str!("../../templates/inventory.html");
const STYLE: &str = include_str!("../../templates/report.css");
const PAPERS: &str = include_str!("../../templates/papers.css");

/// Facts listed.
const FACTS: usize = 12;
/// Width of the map in its own units.
const WIDTH: f64 = 900.0;
/// Metres of a degree of latitude: a quarter of the earth's girth, 10 000 km, over 90.
const DEGREE: f64 = 10_000_000.0 / 90.0;

#[derive(Serialize)]
struct Page<'a> {
    judged: String,
    open: String,
    bad: String,
    verdicts: Vec<Verdict<'a>>,
    next: Vec<Next<'a>>,
    worst: Vec<Slab<'a>>,
    map: Option<Map>,
    faults: &'a [String],
    version: &'static str,
    rules: &'a str,
    house: Vec<String>,
}

#[derive(Serialize)]
struct Verdict<'a> {
    name: &'a str,
    slabs: String,
    share: String,
    cost: String,
}

#[derive(Serialize)]
struct Next<'a> {
    name: &'a str,
    measure: &'a str,
    slabs: String,
    work: String,
    settles: String,
    between: String,
}

#[derive(Serialize)]
struct Slab<'a> {
    id: String,
    verdict: &'a str,
    cost: String,
}

#[derive(Serialize)]
struct Map {
    width: f64,
    height: f64,
    side: String,
    marks: Vec<Mark>,
}

#[derive(Serialize)]
struct Mark {
    x: f64,
    y: f64,
    r: f64,
    class: u8,
}

/// Writes the page. The same summary gives the same bytes.
///
/// # Errors
/// When the template is broken.
pub fn page(judge: &Judge, summary: &Summary) -> Result<String, ReportError> {
    let t = &summary.tally;
    let name = |i: u8| {
        judge
            .verdicts()
            .get(usize::from(i))
            .map_or("", |v| v.1.as_str())
    };
    let range = |low: u64, high: u64| match low == high {
        true => grouped(low),
        false => format!("{} to {}", grouped(low), grouped(high)),
    };
    let all = t.judged().max(1);
    let vocabulary = &judge.pack.vocabulary;
    let view = Page {
        judged: grouped(t.judged()),
        open: grouped(t.open_slabs()),
        bad: grouped(t.bad),
        verdicts: t
            .verdicts
            .iter()
            .map(|(i, c)| Verdict {
                name: name(*i),
                slabs: grouped(c.slabs),
                share: format!("{:.1} %", c.slabs as f64 * 100.0 / all as f64),
                cost: match c.priced {
                    0 => "not known".to_owned(),
                    _ => range(c.low, c.high),
                },
            })
            .collect(),
        next: by_worth(summary)
            .into_iter()
            .take(FACTS)
            .filter_map(|(fact, a)| {
                let fact = vocabulary.fact(vocabulary.find(fact)?);
                // Of two as common, the milder.
                let most = a
                    .between
                    .iter()
                    .max_by_key(|(bits, n)| (**n, u64::MAX - **bits))?;
                Some(Next {
                    name: &fact.name,
                    measure: fact.measure.as_deref().unwrap_or(""),
                    slabs: grouped(a.slabs),
                    work: work(a.seconds),
                    settles: grouped(a.settles / 1_000_000),
                    between: names(judge, *most.0).join(" or "),
                })
            })
            .collect(),
        worst: t
            .worst
            .iter()
            .map(|w| Slab {
                id: serde_json::from_str::<serde_json::Value>(&w.id)
                    .ok()
                    .and_then(|v| v.as_str().map(str::to_owned))
                    .unwrap_or_else(|| w.id.clone()),
                verdict: name(w.verdict),
                cost: match w.high {
                    0 => "–".to_owned(),
                    _ => range(w.low, w.high),
                },
            })
            .collect(),
        map: map(judge, summary),
        faults: &t.faults,
        version: env!("CARGO_PKG_VERSION"),
        rules: &judge.pack.fingerprint,
        house: judge
            .pack
            .house
            .iter()
            .map(|h| format!("{} {} in {}", h.what, h.row, h.table))
            .collect(),
    };
    alone(
        "inventory.html",
        PAGE,
        &context! { s => Serde(&view), style => STYLE, papers => PAPERS },
    )
}

/// Look of a square: the gravest of its slabs, those that wait for a reading aside.
fn class(judge: &Judge, square: &Square) -> u8 {
    let of = |i: &u8| match judge.verdicts().get(usize::from(*i)).map(|v| v.0.as_str()) {
        Some("leave_alone" | "clean_and_seal") => 0,
        Some("replace_panels" | "replace_all" | "refer_engineer") => 3,
        Some("measure_first") => 1,
        _ => 2,
    };
    // As the style sheet numbers them.
    match square.verdicts.keys().map(of).max() {
        Some(3) => 2,
        Some(2) => 1,
        Some(1) => 3,
        _ => 0,
    }
}

fn map(judge: &Judge, summary: &Summary) -> Option<Map> {
    let t = &summary.tally;
    let places: Vec<((f64, f64), &Square)> = t
        .squares
        .iter()
        .map(|(place, square)| (middle(*place, t.level), square))
        .collect();
    let fold = |pick: fn(&(f64, f64)) -> f64, by: fn(f64, f64) -> f64| {
        places.iter().map(|(p, _)| pick(p)).reduce(by)
    };
    let (south, north) = (fold(|p| p.0, f64::min)?, fold(|p| p.0, f64::max)?);
    let (west, east) = (fold(|p| p.1, f64::min)?, fold(|p| p.1, f64::max)?);
    // A degree of longitude shrinks with the cosine of the latitude.
    let shrink = f64::midpoint(south, north).to_radians().cos().max(0.05);
    let side = 1.0 / f64::from(1u32 << t.level);
    let (across, up) = (((east - west) + side) * shrink, north - south + side);
    let scale = WIDTH / across.max(up);
    let margin = 12.0;
    let round = |x: f64| (x * 10.0).round() / 10.0;
    let slabs = |s: &Square| s.verdicts.values().sum::<u64>() as f64;
    let most = places.iter().map(|(_, s)| slabs(s)).fold(1.0, f64::max);
    let mut marks: Vec<Mark> = places
        .iter()
        .map(|((lat, lon), square)| Mark {
            x: round(margin + (lon - west + side / 2.0) * shrink * scale),
            y: round(margin + (north - lat + side / 2.0) * scale),
            r: round(2.0 + 5.0 * (slabs(square) / most).sqrt()),
            class: class(judge, square),
        })
        .collect();
    // The gravest lie on top.
    marks.sort_by_key(|m| [0, 2, 3, 1].get(usize::from(m.class)).copied());
    let metres = side * DEGREE;
    Some(Map {
        width: round(across * scale + 2.0 * margin),
        height: round(up * scale + 2.0 * margin),
        side: match metres {
            m if m < 1_000.0 => format!("{m:.0} m"),
            m => format!("{:.0} km", m / 1_000.0),
        },
        marks,
    })
}
