//! Saved hourly forecasts: plain CSV, and the JSON of the US National Weather Service hourly
//! endpoint. Nothing is filled in: gaps, repeated hours and mixed zones are errors with their
//! place, a missing wind stays missing.
//!
//! CSV: a head line that names each column with its unit, then one line an hour:
//!
//! ```csv
//! time,air F,humidity %,wind mph,rain %,cloud %
//! 2026-06-03T07:00-05:00,61,72,4,5,10
//! ```
//!
//! `time`, `air` and one of `humidity`, `dew` are needed; `wind`, `gust`, `rain`, `cloud` and `slab`
//! (a measured or modelled slab temperature) may be there. Temperatures in `F` or `C`, wind in
//! `mph`, `km/h` or `m/s`, the rest in `%`.

use jiff::fmt::temporal::Pieces;
use jiff::tz::Offset;
use jiff::{Timestamp, civil};
use serde::Serialize;
use uom::si::thermodynamic_temperature::{degree_celsius, degree_fahrenheit};
use uom::si::velocity::{kilometer_per_hour, meter_per_second, mile_per_hour};

use super::weather::humidity_from_dew_point;
use crate::source::{Limits, Node, Place, Problem, Problems, SourceFile, nearest};
use crate::units::{Temperature, Velocity};

/// Seconds in an hour.
pub const HOUR_S: i64 = 3600;

/// An hour of the forecast.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Hour {
    /// Start, Unix seconds.
    pub start_s: i64,
    /// Local time at the start, for pages.
    pub local: civil::DateTime,
    /// Air temperature.
    #[serde(skip)]
    pub air: Temperature,
    /// Relative humidity, share 0 to 1.
    pub humidity: f64,
    /// Wind at 10 m; `None` where the forecast has none.
    #[serde(skip)]
    pub wind: Option<Velocity>,
    /// Chance of rain, share 0 to 1; `None` where the forecast has none.
    pub rain_chance: Option<f64>,
    /// Cloud cover, share 0 to 1; `None` where the forecast has none.
    pub cloud: Option<f64>,
    /// Slab temperature that the file gives.
    #[serde(skip)]
    pub slab: Option<Temperature>,
}

/// An hourly forecast without gaps, in order of time.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Forecast {
    /// The hours.
    pub hours: Vec<Hour>,
}

/// Most hours that are read: twelve weeks.
const MOST_HOURS: usize = 2000;

/// Reads a saved forecast: JSON when the text begins with `{`, CSV otherwise.
///
/// Every problem found goes to `problems`; `None` when one of them stops the reading. Warnings
/// (a missing wind) do not.
pub fn read(file: &SourceFile, problems: &mut Problems) -> Option<Forecast> {
    let mut found = Problems::default();
    let text = file.text.trim_start_matches('\u{feff}').trim_start();
    let raw = if text.starts_with('{') {
        read_json(file, &mut found)
    } else {
        read_csv(file, &mut found)
    };
    let hours = raw.map(|raw| in_order(file, raw, &mut found));
    let failed = found.has_errors();
    problems.extend(found);
    hours
        .filter(|h| !failed && !h.is_empty())
        .map(|hours| Forecast { hours })
}

/// An hour as read, with its place in the file.
struct Raw {
    place: Place,
    offset: Offset,
    hour: Hour,
}

/// Checks that the hours follow one another in one zone.
fn in_order(file: &SourceFile, raw: Vec<Raw>, problems: &mut Problems) -> Vec<Hour> {
    if raw.is_empty() {
        problems.push(
            Problem::error("forecast-empty", "the forecast holds no hour")
                .in_file(file)
                .hint("save the hourly forecast again"),
        );
    }
    let mut changes = 0;
    for pair in raw.windows(2) {
        let [before, now] = pair else { continue };
        let step = now.hour.start_s - before.hour.start_s;
        if now.offset != before.offset {
            changes += 1;
            let shift = (now.offset.seconds() - before.offset.seconds()).abs();
            // The clocks go forward or back once; anything else is two forecasts in one file.
            if i64::from(shift) != HOUR_S || step != HOUR_S || changes > 1 {
                problems.push(
                    Problem::error(
                        "forecast-zones",
                        format!(
                            "this hour is in zone {}, the one before in {}",
                            now.offset, before.offset
                        ),
                    )
                    .at(file, now.place)
                    .hint("keep the hours of one place only"),
                );
                continue;
            }
            problems.push(
                Problem::warning(
                    "forecast-clock-change",
                    "the clocks change here; local times jump by an hour",
                )
                .at(file, now.place),
            );
        }
        if step == 0 {
            problems.push(
                Problem::error(
                    "forecast-repeated-hour",
                    format!("{} stands twice", now.hour.local),
                )
                .at(file, now.place)
                .hint("keep one of the two lines"),
            );
        } else if step < 0 {
            problems.push(
                Problem::error(
                    "forecast-order",
                    format!("{} comes after {}", now.hour.local, before.hour.local),
                )
                .at(file, now.place)
                .hint("put the hours in order of time"),
            );
        } else if step != HOUR_S {
            problems.push(
                Problem::error(
                    "forecast-gap",
                    format!(
                        "{} h are missing between {} and {}",
                        written(step as f64 / HOUR_S as f64 - 1.0),
                        before.hour.local,
                        now.hour.local
                    ),
                )
                .at(file, now.place)
                .hint("save the forecast again, or keep the hours on one side of the gap; nothing is filled in"),
            );
        }
    }
    let windless: Vec<&Raw> = raw.iter().filter(|r| r.hour.wind.is_none()).collect();
    if let Some(first) = windless.first() {
        problems.push(
            Problem::warning(
                "forecast-no-wind",
                format!(
                    "{} of {} hours have no wind; their drying rate is not known",
                    windless.len(),
                    raw.len()
                ),
            )
            .at(file, first.place)
            .hint("measure the wind at the slab before placing in such an hour"),
        );
    }
    raw.into_iter().map(|r| r.hour).collect()
}

fn written(x: f64) -> String {
    let rounded = (x * 100.0).round() / 100.0;
    format!("{rounded}")
}

/// What a value must lie within to be believed; beyond it a unit is wrong.
fn believable(what: &str, value: f64) -> bool {
    match what {
        "air" | "dew" | "slab" => (-70.0..=70.0).contains(&value),
        "wind" | "gust" => (0.0..=120.0).contains(&value),
        _ => (0.0..=1.0).contains(&value),
    }
}

// ---- CSV ----

const COLUMNS: [&str; 9] = [
    "time", "air", "humidity", "dew", "wind", "gust", "rain", "cloud", "slab",
];

#[derive(Clone)]
struct Column {
    name: String,
    unit: String,
}

fn read_csv(file: &SourceFile, problems: &mut Problems) -> Option<Vec<Raw>> {
    let mut lines = csv_lines(&file.text).filter(|cells| cells.iter().any(|c| !c.text.is_empty()));
    let head = lines.next().or_else(|| {
        problems.push(
            Problem::error("forecast-empty", "the file is empty")
                .in_file(file)
                .hint("save the hourly forecast again"),
        );
        None
    })?;
    let columns = csv_head(file, &head, problems)?;
    let mut hours = Vec::new();
    for cells in lines {
        if hours.len() >= MOST_HOURS {
            problems.push(too_long(file, start_of(&cells)));
            return None;
        }
        if let Some(raw) = csv_hour(file, &columns, &cells, problems) {
            hours.push(raw);
        }
    }
    Some(hours)
}

fn too_long(file: &SourceFile, place: Place) -> Problem {
    Problem::error("forecast-too-long", format!("more than {MOST_HOURS} hours"))
        .at(file, place)
        .hint("keep the days that matter")
}

/// Where a line begins.
fn start_of(cells: &[Cell]) -> Place {
    cells.first().map_or(
        Place {
            line: 1,
            column: 1,
            start: 0,
            end: 0,
        },
        |c| c.place,
    )
}

fn csv_head(file: &SourceFile, head: &[Cell], problems: &mut Problems) -> Option<Vec<Column>> {
    let mut columns: Vec<Column> = Vec::new();
    let before = problems.len();
    for cell in head {
        let (name, unit) = cell.text.split_once(' ').unwrap_or((&cell.text, ""));
        let (name, unit) = (
            name.trim().to_lowercase(),
            unit.trim().trim_matches(['(', ')', '[', ']']).to_owned(),
        );
        let units: &[&str] = match name.as_str() {
            "time" => &[""],
            "air" | "dew" | "slab" => &["F", "C"],
            "wind" | "gust" => &["mph", "km/h", "m/s"],
            "humidity" | "rain" | "cloud" => &["%"],
            _ => {
                let hint = match nearest(&name, COLUMNS) {
                    Some(near) => format!("did you mean `{near}`?"),
                    None => format!("known columns: {}", COLUMNS.join(", ")),
                };
                problems.push(
                    Problem::error(
                        "forecast-column",
                        format!("`{}` is no column of a forecast", cell.text),
                    )
                    .at(file, cell.place)
                    .hint(hint),
                );
                continue;
            }
        };
        if columns.iter().any(|c| c.name == name) {
            problems.push(
                Problem::error(
                    "forecast-column",
                    format!("the column `{name}` stands twice"),
                )
                .at(file, cell.place)
                .hint("keep one of them"),
            );
        }
        if !units.contains(&unit.as_str()) {
            problems.push(
                Problem::error(
                    "forecast-unit",
                    format!("the column `{name}` needs its unit"),
                )
                .at(file, cell.place)
                .hint(format!(
                    "write `{name} {}`",
                    units.join(&format!("` or `{name} "))
                )),
            );
        }
        columns.push(Column { name, unit });
    }
    let has = |name: &str| columns.iter().any(|c| c.name == name);
    for (there, name) in [
        (has("time"), "time"),
        (has("air"), "air"),
        (has("humidity") || has("dew"), "humidity"),
    ] {
        if !there {
            problems.push(
                Problem::error("forecast-column", format!("the column `{name}` is missing"))
                    .at(file, start_of(head))
                    .hint(
                        "the head line names the columns: `time,air F,humidity %,wind mph,rain %`",
                    ),
            );
        }
    }
    (problems.len() == before).then_some(columns)
}

fn csv_hour(
    file: &SourceFile,
    columns: &[Column],
    cells: &[Cell],
    problems: &mut Problems,
) -> Option<Raw> {
    let start = cells.first()?.place;
    if cells.len() != columns.len() {
        problems.push(
            Problem::error(
                "forecast-cells",
                format!(
                    "this line has {} values, the head line names {}",
                    cells.len(),
                    columns.len()
                ),
            )
            .at(file, start)
            .hint("leave a value empty when it is not known"),
        );
        return None;
    }
    let mut when = None;
    let (mut air, mut dew, mut slab, mut humidity) = (None, None, None, None);
    let (mut wind, mut rain, mut cloud) = (None, None, None);
    let before = problems.len();
    for (column, cell) in columns.iter().zip(cells) {
        if column.name == "time" {
            when = read_time(file, &cell.text, cell.place, problems);
            continue;
        }
        if cell.text.is_empty() {
            continue;
        }
        let Some(value) =
            canonical(&cell.text, &column.unit).filter(|v| believable(&column.name, *v))
        else {
            problems.push(
                Problem::error(
                    "forecast-value",
                    format!(
                        "`{}` is no believable `{}` in {}",
                        cell.text, column.name, column.unit
                    ),
                )
                .at(file, cell.place)
                .hint(
                    "write a number in the column's unit, or leave it empty when it is not known",
                ),
            );
            continue;
        };
        match column.name.as_str() {
            "air" => air = Some(value),
            "dew" => dew = Some(value),
            "slab" => slab = Some(value),
            "humidity" => humidity = Some(value),
            "wind" => wind = Some(value),
            "rain" => rain = Some(value),
            "cloud" => cloud = Some(value),
            // Gusts are read so that a column of them is no error; the drying rate goes by the wind.
            _ => {}
        }
    }
    if problems.len() > before {
        return None;
    }
    let (start_s, local, offset) = when?;
    let celsius = Temperature::new::<degree_celsius>;
    let air = air.map(celsius);
    let humidity = humidity.or_else(|| Some(humidity_from_dew_point(air?, celsius(dew?))));
    let (Some(air), Some(humidity)) = (air, humidity) else {
        let what = if air.is_none() {
            "air temperature"
        } else {
            "humidity"
        };
        problems.push(
            Problem::error("forecast-missing", format!("this hour has no {what}"))
                .at(file, start)
                .hint("an hour without it is a gap: keep the hours on one side of it"),
        );
        return None;
    };
    Some(Raw {
        place: start,
        offset,
        hour: Hour {
            start_s,
            local,
            air,
            humidity,
            wind: wind.map(Velocity::new::<meter_per_second>),
            rain_chance: rain,
            cloud,
            slab: slab.map(celsius),
        },
    })
}

/// A number in °C, m/s or as a share.
fn canonical(text: &str, unit: &str) -> Option<f64> {
    let x: f64 = text.trim_end_matches('%').trim().parse().ok()?;
    let value = match unit {
        "F" => Temperature::new::<degree_fahrenheit>(x).get::<degree_celsius>(),
        "mph" => Velocity::new::<mile_per_hour>(x).get::<meter_per_second>(),
        "km/h" => Velocity::new::<kilometer_per_hour>(x).get::<meter_per_second>(),
        "%" => x / 100.0,
        _ => x,
    };
    value.is_finite().then_some(value)
}

fn read_time(
    file: &SourceFile,
    text: &str,
    place: Place,
    problems: &mut Problems,
) -> Option<(i64, civil::DateTime, Offset)> {
    let read = || {
        let pieces = Pieces::parse(text).ok()?;
        let offset = pieces.to_numeric_offset()?;
        let local = pieces.date().to_datetime(pieces.time()?);
        let at: Timestamp = offset.to_timestamp(local).ok()?;
        Some((at.as_second(), local, offset))
    };
    let out = read();
    if out.is_none() {
        problems.push(
            Problem::error(
                "forecast-time",
                format!("`{text}` is no time with its zone"),
            )
            .at(file, place)
            .hint("write `2026-06-03T07:00-05:00`: day, hour and how far local time is from UTC"),
        );
    }
    out
}

struct Cell {
    text: String,
    place: Place,
}

/// Lines of cells; quotes may hold commas, a doubled quote is one.
fn csv_lines(text: &str) -> impl Iterator<Item = Vec<Cell>> + '_ {
    let mut at = if text.starts_with('\u{feff}') {
        '\u{feff}'.len_utf8()
    } else {
        0
    };
    let mut line = 1;
    std::iter::from_fn(move || {
        if at >= text.len() {
            return None;
        }
        let mut cells = Vec::new();
        let (mut start, mut column, mut here) = (at, 1, 1);
        let (mut cell, mut quoted, mut end_of_line) = (String::new(), false, false);
        let mut chars = text[at..].char_indices().peekable();
        let mut next = text.len();
        let first_line = line;
        while let Some((i, c)) = chars.next() {
            here += 1;
            match c {
                '"' if quoted && matches!(chars.peek(), Some((_, '"'))) => {
                    chars.next();
                    cell.push('"');
                }
                '"' => quoted = !quoted,
                ',' if !quoted => {
                    let place = Place {
                        line: first_line,
                        column,
                        start,
                        end: at + i,
                    };
                    cells.push(Cell {
                        text: std::mem::take(&mut cell).trim().to_owned(),
                        place,
                    });
                    (start, column) = (at + i + 1, here);
                }
                // A line ends even inside quotes: a forgotten quote must not swallow the file.
                '\n' => {
                    let place = Place {
                        line: first_line,
                        column,
                        start,
                        end: at + i,
                    };
                    cells.push(Cell {
                        text: std::mem::take(&mut cell).trim().to_owned(),
                        place,
                    });
                    next = at + i + 1;
                    line += 1;
                    end_of_line = true;
                    break;
                }
                c => cell.push(c),
            }
        }
        if !end_of_line {
            let place = Place {
                line: first_line,
                column,
                start,
                end: text.len(),
            };
            cells.push(Cell {
                text: cell.trim().to_owned(),
                place,
            });
        }
        at = next;
        Some(cells)
    })
}

// ---- JSON of the National Weather Service ----

fn read_json(file: &SourceFile, problems: &mut Problems) -> Option<Vec<Raw>> {
    // JSON is a subset of YAML, so the located tree reads it too.
    let root = file.yaml(Limits::default(), problems)?;
    let Some(periods) = root
        .at_path("properties.periods")
        .filter(|n| !n.items().is_empty())
    else {
        problems.push(
            Problem::error(
                "forecast-periods",
                "there is no `properties.periods` list in this file",
            )
            .in_file(file)
            .hint(
                "save the answer of the hourly forecast address, not of the point or the daily one",
            ),
        );
        return None;
    };
    if let Some(past) = periods.items().get(MOST_HOURS) {
        problems.push(too_long(file, past.place));
        return None;
    }
    let hours = periods
        .items()
        .iter()
        .filter_map(|period| json_hour(file, period, problems))
        .collect();
    Some(hours)
}

fn json_hour(file: &SourceFile, period: &Node, problems: &mut Problems) -> Option<Raw> {
    let missing = |what: &str, problems: &mut Problems| {
        problems.push(
            Problem::error("forecast-missing", format!("this hour has no `{what}`"))
                .at(file, period.place)
                .hint("an hour without it is a gap: save the forecast again"),
        );
    };
    let before = problems.len();
    let Some(time) = period.get("startTime") else {
        missing("startTime", problems);
        return None;
    };
    let when = read_time(file, time.text().unwrap_or_default(), time.place, problems);
    let mut quantity = |key: &str, what: &str, default_unit: &str| -> Option<f64> {
        let node = period.get(key)?;
        let (value, unit) = match node.get("value") {
            Some(value) => (
                value,
                node.get("unitCode")
                    .and_then(Node::text)
                    .unwrap_or(default_unit),
            ),
            None => (node, default_unit),
        };
        let text = value.text()?;
        let read = json_unit(unit)
            .and_then(|u| canonical(text, u))
            .filter(|v| believable(what, *v));
        if read.is_none() {
            problems.push(
                Problem::error(
                    "forecast-value",
                    format!("`{key}` is {text} {unit}, which is no believable value"),
                )
                .at(file, value.place)
                .hint("save the forecast again"),
            );
        }
        read
    };
    let degree = period
        .get("temperatureUnit")
        .and_then(Node::text)
        .unwrap_or("F")
        .to_owned();
    let air = quantity("temperature", "air", &degree);
    let humidity = quantity("relativeHumidity", "humidity", "%");
    let dew = quantity("dewpoint", "dew", &degree);
    let rain = quantity("probabilityOfPrecipitation", "rain", "%");
    let wind = period
        .get("windSpeed")
        .and_then(|node| json_wind(file, node, problems));
    if problems.len() > before {
        return None;
    }
    let celsius = Temperature::new::<degree_celsius>;
    let Some(air) = air.map(celsius) else {
        missing("temperature", problems);
        return None;
    };
    let Some(humidity) = humidity.or_else(|| dew.map(|d| humidity_from_dew_point(air, celsius(d))))
    else {
        missing("relativeHumidity", problems);
        return None;
    };
    let (start_s, local, offset) = when?;
    Some(Raw {
        place: time.place,
        offset,
        hour: Hour {
            start_s,
            local,
            air,
            humidity,
            wind: wind.map(Velocity::new::<meter_per_second>),
            rain_chance: rain,
            cloud: None,
            slab: None,
        },
    })
}

/// Unit of a WMO unit code (`wmoUnit:degC`) or of a plain unit.
fn json_unit(code: &str) -> Option<&'static str> {
    Some(match code.rsplit(':').next().unwrap_or_default() {
        "degC" | "C" => "C",
        "degF" | "F" => "F",
        "percent" | "%" => "%",
        "km_h-1" => "km/h",
        "m_s-1" => "m/s",
        _ => return None,
    })
}

/// Wind in m/s: `10 mph`, `5 to 10 mph` (the greater), or a value with its unit code.
fn json_wind(file: &SourceFile, node: &Node, problems: &mut Problems) -> Option<f64> {
    let (text, unit, place) = match node.get("value").or_else(|| node.get("maxValue")) {
        Some(value) => {
            let unit = node
                .get("unitCode")
                .and_then(Node::text)
                .unwrap_or_default();
            (value.text()?.to_owned(), json_unit(unit), value.place)
        }
        None => {
            let text = node.text()?;
            let (number, unit) = text.rsplit_once(' ').unwrap_or((text, ""));
            let greatest = number.rsplit(' ').next().unwrap_or_default();
            let unit = match unit {
                "mph" => Some("mph"),
                "km/h" => Some("km/h"),
                _ => None,
            };
            (greatest.to_owned(), unit, node.place)
        }
    };
    let read = unit
        .and_then(|u| canonical(&text, u))
        .filter(|v| believable("wind", *v));
    if read.is_none() {
        problems.push(
            Problem::error(
                "forecast-value",
                format!("`windSpeed` is `{text}`, which is no believable wind"),
            )
            .at(file, place)
            .hint("save the forecast again"),
        );
    }
    read
}

#[cfg(test)]
mod tests {
    use super::*;

    fn try_read(text: &str) -> (Option<Forecast>, String) {
        let mut problems = Problems::default();
        let out = read(&SourceFile::new("f", text), &mut problems);
        (out, problems.to_plain())
    }

    const GOOD: &str = "time,air F,humidity %,wind mph,rain %\n\
                        2026-06-03T07:00-05:00,68,50,10,5\n\
                        2026-06-03T08:00-05:00,\"70\",45,,\n";

    #[test]
    fn a_plain_file_is_read_with_its_units() {
        let (f, p) = try_read(GOOD);
        let f = f.unwrap();
        assert!((f.hours[0].air.get::<degree_celsius>() - 20.0).abs() < 1e-9);
        assert!((f.hours[0].wind.unwrap().get::<mile_per_hour>() - 10.0).abs() < 1e-9);
        assert_eq!(
            (f.hours[0].humidity, f.hours[0].rain_chance),
            (0.5, Some(0.05))
        );
        assert_eq!(f.hours[0].local.to_string(), "2026-06-03T07:00:00");
        assert_eq!((f.hours[1].wind, f.hours[1].rain_chance), (None, None));
        assert!(p.contains("f:3:1: forecast-no-wind: 1 of 2 hours"), "{p}");
    }

    #[test]
    fn gaps_repeats_and_mixed_zones_are_named_with_their_line() {
        let line = |t: &str| format!("{t},68,50,10,5\n");
        let head = "time,air F,humidity %,wind mph,rain %\n";
        let two = |a: &str, b: &str| try_read(&(head.to_owned() + &line(a) + &line(b)));
        for (a, b, code) in [
            (
                "2026-06-03T07:00-05:00",
                "2026-06-03T10:00-05:00",
                "f:3:1: forecast-gap: 2 h are missing",
            ),
            (
                "2026-06-03T07:00-05:00",
                "2026-06-03T07:00-05:00",
                "f:3:1: forecast-repeated-hour",
            ),
            (
                "2026-06-03T07:00-05:00",
                "2026-06-03T06:00-05:00",
                "f:3:1: forecast-order",
            ),
            (
                "2026-06-03T07:00-05:00",
                "2026-06-03T08:00-08:00",
                "f:3:1: forecast-zones",
            ),
            (
                "2026-06-03T07:00-05:00",
                "2026-06-03 noon",
                "f:3:1: forecast-time",
            ),
            (
                "2026-06-03T07:00-05:00",
                "2026-06-03T08:00",
                "f:3:1: forecast-time",
            ),
        ] {
            let (f, p) = two(a, b);
            assert!(f.is_none() && p.contains(code), "{b}: {p}");
        }
        // Clocks go back: the same local hour again, one real hour later.
        let (f, p) = two("2026-11-01T01:00-05:00", "2026-11-01T01:00-06:00");
        assert!(f.is_some() && p.contains("forecast-clock-change"), "{p}");
    }

    #[test]
    fn heads_and_values_must_make_sense() {
        for (text, code) in [
            ("", "forecast-empty"),
            ("time,air F,humidity %\n", "forecast-empty"),
            ("time,air,humidity %\n", "forecast-unit"),
            ("time,air F,humdity %\n", "did you mean `humidity`?"),
            ("time,air F\n", "the column `humidity` is missing"),
            ("time,air F,air C,humidity %\n", "stands twice"),
            (
                "time,air F,humidity %\n2026-06-03T07:00Z,60\n",
                "forecast-cells",
            ),
            (
                "time,air F,humidity %\n2026-06-03T07:00-05:00,sixty,50\n",
                "forecast-value",
            ),
            (
                "time,air F,humidity %\n2026-06-03T07:00-05:00,600,50\n",
                "forecast-value",
            ),
            (
                "time,air F,humidity %\n2026-06-03T07:00-05:00,60,140\n",
                "forecast-value",
            ),
            (
                "time,air F,humidity %\n2026-06-03T07:00-05:00,60,\n",
                "forecast-missing",
            ),
            ("{\"properties\": {}}", "forecast-periods"),
            ("{\"properties\"", "yaml"),
        ] {
            let (f, p) = try_read(text);
            assert!(f.is_none() && p.contains(code), "{text:?}: {p}");
        }
    }

    const PERIODS: &str = r#"{
  "type": "Feature",
  "properties": {
    "units": "us",
    "periods": [
      {"number": 1, "startTime": "2026-06-03T07:00:00-05:00", "endTime": "2026-06-03T08:00:00-05:00",
       "temperature": 68, "temperatureUnit": "F",
       "probabilityOfPrecipitation": {"unitCode": "wmoUnit:percent", "value": 20},
       "dewpoint": {"unitCode": "wmoUnit:degC", "value": 9.26},
       "windSpeed": "5 to 10 mph", "windDirection": "NW", "shortForecast": "Sunny"},
      {"number": 2, "startTime": "2026-06-03T08:00:00-05:00", "endTime": "2026-06-03T09:00:00-05:00",
       "temperature": {"unitCode": "wmoUnit:degC", "value": 21},
       "probabilityOfPrecipitation": {"unitCode": "wmoUnit:percent", "value": null},
       "relativeHumidity": {"unitCode": "wmoUnit:percent", "value": 45},
       "windSpeed": {"unitCode": "wmoUnit:km_h-1", "value": 18}}
    ]
  }
}"#;

    #[test]
    fn the_weather_services_hours_are_read() {
        let (f, p) = try_read(PERIODS);
        assert_eq!(p, "");
        let f = f.unwrap();
        // 20 °C with a dew point of 9.26 °C is 50 % (Magnus, see the dew point check).
        assert!((f.hours[0].humidity - 0.5).abs() < 0.001);
        assert!((f.hours[0].wind.unwrap().get::<mile_per_hour>() - 10.0).abs() < 1e-9);
        assert_eq!(
            (f.hours[0].rain_chance, f.hours[1].rain_chance),
            (Some(0.2), None)
        );
        assert!((f.hours[1].wind.unwrap().get::<meter_per_second>() - 5.0).abs() < 1e-9);
    }

    #[test]
    fn bad_values_of_the_weather_service_are_named_with_their_place() {
        let (f, p) = try_read(&PERIODS.replace("\"5 to 10 mph\"", "\"gale\""));
        assert!(
            f.is_none() && p.contains("f:10:21: forecast-value: `windSpeed`"),
            "{p}"
        );
        let (f, p) = try_read(&PERIODS.replace("\"temperature\": 68,", ""));
        assert!(f.is_none() && p.contains("no `temperature`"), "{p}");
        let (_, p) = try_read(&PERIODS.replace(
            "T08:00:00-05:00\", \"endTime\": \"2026-06-03T09",
            "T11:00:00-05:00\", \"endTime\": \"2026-06-03T12",
        ));
        assert!(p.contains("forecast-gap"), "{p}");
        let (f, p) = try_read(&PERIODS.replace("\"windSpeed\": \"5 to 10 mph\", ", ""));
        assert!(f.is_some() && p.contains("forecast-no-wind"), "{p}");
    }
}
