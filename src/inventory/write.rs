//! One result a line: NDJSON, CSV or GeoJSON; or a row of Parquet.

use std::borrow::Cow;

use super::judge::Outcome;

/// How results are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
#[cfg_attr(feature = "cli", derive(clap::ValueEnum))]
#[serde(rename_all = "lowercase")]
pub enum Format {
    /// One JSON object a line.
    Ndjson,
    /// Comma-separated, with a head.
    Csv,
    /// A feature a result; `null` as the geometry where no coordinates are given.
    Geojson,
    /// A table with typed columns, as Parquet; in a build with the feature `parquet`.
    Parquet,
}

impl Format {
    /// What stands before the first result.
    pub fn head(self) -> &'static str {
        match self {
            Format::Ndjson | Format::Parquet => "",
            Format::Csv => {
                "id,verdict,firm,possible,cost_low,cost_high,next,minutes,lat,lon,made_with\n"
            }
            Format::Geojson => "{\"type\":\"FeatureCollection\",\"features\":[\n",
        }
    }

    /// What stands after the last.
    pub fn tail(self) -> &'static str {
        match self {
            Format::Geojson => "\n]}\n",
            _ => "",
        }
    }

    /// What stands between two results.
    pub fn between(self) -> &'static str {
        match self {
            Format::Geojson => ",\n",
            _ => "",
        }
    }

    /// Its name as people know it.
    pub fn name(self) -> &'static str {
        match self {
            Format::Ndjson => "NDJSON",
            Format::Csv => "CSV",
            Format::Geojson => "GeoJSON",
            Format::Parquet => "Parquet",
        }
    }

    /// The format of a file by its name.
    pub fn of_name(name: &std::path::Path) -> Option<Format> {
        match name.extension()?.to_str()? {
            "ndjson" | "jsonl" => Some(Format::Ndjson),
            "csv" => Some(Format::Csv),
            "geojson" => Some(Format::Geojson),
            "parquet" => Some(Format::Parquet),
            _ => None,
        }
    }
}

/// A result to write. `id`, `lat` and `lon` are JSON as given.
#[derive(Debug, Clone, Copy)]
pub struct Line<'a> {
    /// Short name.
    pub id: &'a str,
    /// What the rules say.
    pub outcome: &'a Outcome,
    /// Version of the program and fingerprint of the rules; holds no mark that JSON or CSV quote.
    pub made_with: &'a str,
    /// Least and greatest cost, whole US dollars.
    pub cost: Option<(u64, u64)>,
    /// Latitude and longitude.
    pub at: Option<(&'a str, &'a str)>,
}

impl Line<'_> {
    /// Adds the result to `out`.
    pub fn write(&self, format: Format, out: &mut Vec<u8>) {
        match format {
            Format::Ndjson => {
                self.members(out);
                if let Some((lat, lon)) = self.at {
                    put(out, &[",\"lat\":", bare(lat), ",\"lon\":", bare(lon)]);
                }
                put(out, &[",\"made_with\":\"", self.made_with, "\"}\n"]);
            }
            Format::Geojson => {
                put(out, &["{\"type\":\"Feature\",\"geometry\":"]);
                match self.at {
                    Some((lat, lon)) => put(
                        out,
                        &[
                            "{\"type\":\"Point\",\"coordinates\":[",
                            bare(lon),
                            ",",
                            bare(lat),
                            "]}",
                        ],
                    ),
                    None => put(out, &["null"]),
                }
                put(out, &[",\"properties\":"]);
                self.members(out);
                put(out, &[",\"made_with\":\"", self.made_with, "\"}}"]);
            }
            Format::Csv => {
                cell(out, self.id);
                let Outcome {
                    word,
                    words,
                    ask,
                    minutes,
                    ..
                } = self.outcome;
                let firm = if self.outcome.firm() { "true" } else { "false" };
                put(out, &[",", word, ",", firm, ",", words, ","]);
                if let Some((low, high)) = self.cost {
                    number(out, low);
                    put(out, &[","]);
                    number(out, high);
                } else {
                    put(out, &[","]);
                }
                put(out, &[",", ask, ",", minutes, ","]);
                match self.at {
                    Some((lat, lon)) => put(out, &[bare(lat), ",", bare(lon)]),
                    None => put(out, &[","]),
                }
                put(out, &[",", self.made_with, "\n"]);
            }
            Format::Parquet => self.cells().add(out),
        }
    }

    fn cells(&self) -> Cells<'_> {
        // All of them are numbers: they were read as such before.
        let number = |raw: &str| bare(raw).parse().ok();
        Cells {
            id: plain(self.id),
            verdict: &self.outcome.word,
            firm: self.outcome.firm(),
            possible: &self.outcome.words,
            cost: self.cost,
            next: &self.outcome.ask,
            minutes: number(&self.outcome.minutes),
            at: self.at.and_then(|(lat, lon)| number(lat).zip(number(lon))),
        }
    }

    fn members(&self, out: &mut Vec<u8>) {
        put(out, &["{\"id\":", self.id, ",", &self.outcome.json]);
        if let Some((low, high)) = self.cost {
            put(out, &[",\"cost\":["]);
            number(out, low);
            put(out, &[","]);
            number(out, high);
            put(out, &["]"]);
        }
    }
}

/// A result on its way from a worker into a row of Parquet. A text that is empty is none.
#[derive(Debug, PartialEq, serde::Serialize, serde::Deserialize)]
pub(super) struct Cells<'a> {
    #[serde(borrow)]
    pub id: Cow<'a, str>,
    pub verdict: &'a str,
    pub firm: bool,
    pub possible: &'a str,
    pub cost: Option<(u64, u64)>,
    pub next: &'a str,
    pub minutes: Option<f64>,
    pub at: Option<(f64, f64)>,
}

impl Cells<'_> {
    fn add(&self, out: &mut Vec<u8>) {
        // Memory takes all of it.
        if let Ok(with) = postcard::to_extend(self, std::mem::take(out)) {
            *out = with;
        }
    }
}

fn put(out: &mut Vec<u8>, parts: &[&str]) {
    for part in parts {
        out.extend_from_slice(part.as_bytes());
    }
}

fn number(out: &mut Vec<u8>, n: u64) {
    let mut digits = [0u8; 20];
    let mut at = digits.len();
    let mut left = n;
    loop {
        at -= 1;
        digits[at] = b'0' + (left % 10) as u8;
        left /= 10;
        if left == 0 {
            break;
        }
    }
    out.extend_from_slice(&digits[at..]);
}

/// A number of JSON that may have come as text.
fn bare(raw: &str) -> &str {
    raw.trim_matches('"').trim()
}

/// A JSON text without its quotes; any other value as it stands.
fn plain(json: &str) -> Cow<'_, str> {
    match serde_json::from_str::<serde_json::Value>(json) {
        Ok(serde_json::Value::String(text)) => Cow::Owned(text),
        _ => Cow::Borrowed(json),
    }
}

/// A JSON text as a cell of CSV, in quotes where it needs them.
fn cell(out: &mut Vec<u8>, json: &str) {
    let text = plain(json);
    // A leading sign would be taken as a formula by a spreadsheet.
    let safe = if text.starts_with(['=', '+', '-', '@']) {
        format!("'{text}").into()
    } else {
        text
    };
    if safe.contains([',', '"', '\n', '\r']) {
        put(out, &["\"", &safe.replace('"', "\"\""), "\""]);
    } else {
        put(out, &[&safe]);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_are_quoted_only_where_needed() {
        let of = |json: &str| {
            let mut out = Vec::new();
            cell(&mut out, json);
            String::from_utf8(out).unwrap()
        };
        assert_eq!(of("\"P-1\""), "P-1");
        assert_eq!(of("17"), "17");
        assert_eq!(of("\"a \\\"b\\\", c\""), "\"a \"\"b\"\", c\"");
        assert_eq!(of("\"=1+1\""), "'=1+1");
        let mut out = Vec::new();
        for n in [0, 7, 10, 1234, u64::MAX] {
            number(&mut out, n);
            out.push(b' ');
        }
        assert_eq!(out, format!("0 7 10 1234 {} ", u64::MAX).into_bytes());
    }
}
