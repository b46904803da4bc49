//! An invented inventory: rows as a quick walk over the pavements of a made-up town would give
//! them. The same seed gives the same bytes. Every row says in its `note` that it is invented.

use std::io::{self, Write};

use super::write::Format;

/// A made row's members, in the order they are written.
type Cells = Vec<(&'static str, String)>;

const KEYS: [&str; 18] = [
    "id",
    "date",
    "use",
    "size",
    "placed",
    "weathering",
    "deicers",
    "kind",
    "extent",
    "depth",
    "stones",
    "width",
    "length",
    "offset",
    "count",
    "lat",
    "lon",
    "note",
];

/// Keys whose values are bare numbers in JSON.
const BARE: [&str; 4] = ["placed", "count", "lat", "lon"];

/// Writes an inventory of `rows` rows.
///
/// # Errors
/// When `out` can't be written to.
pub fn write(out: &mut impl Write, rows: u64, seed: u64, format: Format) -> io::Result<()> {
    if format == Format::Csv {
        writeln!(out, "{}", KEYS.join(","))?;
    }
    for n in 0..rows {
        let row = row(n, seed);
        match format {
            Format::Csv => {
                for (i, key) in KEYS.iter().enumerate() {
                    if i > 0 {
                        out.write_all(b",")?;
                    }
                    // Nothing made here holds a comma but the note, which is quoted.
                    if let Some((_, value)) = row.iter().find(|(k, _)| k == key) {
                        match *key {
                            "note" => write!(out, "\"{value}\"")?,
                            _ => out.write_all(value.as_bytes())?,
                        }
                    }
                }
            }
            _ => {
                for (i, (key, value)) in row.iter().enumerate() {
                    let before = if i == 0 { "{" } else { "," };
                    if BARE.contains(key) {
                        write!(out, "{before}\"{key}\":{value}")?;
                    } else {
                        write!(out, "{before}\"{key}\":\"{value}\"")?;
                    }
                }
                out.write_all(b"}")?;
            }
        }
        out.write_all(b"\n")?;
    }
    Ok(())
}

/// One row: what a person with a rule and a chalk takes down in a minute. Each row is drawn from its
/// number and the seed alone.
fn row(n: u64, seed: u64) -> Cells {
    let mut dice = Dice(mix(seed ^ mix(n)));
    let mut row: Cells = vec![("id", format!("M-{:07}", n + 1))];
    let mut put = |key, value: &str| row.push((key, value.to_owned()));
    // Streets lie on a grid of blocks; a crew walks a block a day.
    let block = n / 200;
    put(
        "date",
        &format!("2026-{:02}-{:02}", 4 + block / 20 % 6, 1 + block % 20),
    );
    let use_ = dice.weighed(&[("walk", 80), ("drive", 14), ("apron", 4), ("patio", 2)]);
    put("use", use_);
    put(
        "size",
        dice.weighed(match use_ {
            "walk" => &[
                ("5 ft x 5 ft", 60),
                ("4 ft x 4 ft", 25),
                ("6 ft x 6 ft", 15),
            ],
            _ => &[("10 ft x 10 ft", 70), ("12 ft x 12 ft", 30)],
        }),
    );
    // The city knows when a block was placed, for most of them.
    let mut of_block = Dice(mix(seed.rotate_left(17) ^ block));
    if of_block.below(3) > 0 {
        put("placed", &(1962 + of_block.below(60)).to_string());
    }
    put("weathering", "severe");
    let salted = of_block.below(4) > 0;
    put("deicers", if salted { "rock_salt" } else { "none" });
    let kind = dice.weighed(&[
        ("", 58),
        ("crack", 14),
        ("lip", 10),
        ("scaling", 8),
        ("spall", 4),
        ("settlement", 2),
        ("heave", 1),
        ("corner_break", 1),
        ("popouts", 1),
        ("ponding", 1),
    ]);
    if !kind.is_empty() {
        put("kind", kind);
    }
    let depths = ["1/16 in", "1/8 in", "1/4 in", "3/8 in", "1/2 in", "3/4 in"];
    let patches = [
        "1 ft x 1 ft",
        "1 ft x 2 ft",
        "2 ft x 2 ft",
        "2 ft x 3 ft",
        "3 ft x 4 ft",
    ];
    let steps = [
        "1/8 in", "1/4 in", "3/8 in", "1/2 in", "3/4 in", "1 in", "1-1/2 in",
    ];
    match kind {
        "scaling" | "spall" => {
            put("extent", dice.pick(&patches));
            put("depth", dice.pick(&depths));
            if kind == "scaling" {
                put("stones", dice.pick(&["not_showing", "showing", "proud"]));
            }
        }
        "popouts" | "ponding" => put("extent", dice.pick(&patches)),
        "crack" | "corner_break" => {
            put(
                "width",
                dice.pick(&["1/64 in", "1/32 in", "1/16 in", "1/8 in", "1/4 in"]),
            );
            put("length", dice.pick(&["2 ft", "3 ft", "4 ft", "5 ft"]));
            put(
                "offset",
                dice.pick(&["0 in", "0 in", "0 in", "1/8 in", "1/4 in"]),
            );
        }
        "lip" | "settlement" | "heave" => put("offset", dice.pick(&steps)),
        _ => {}
    }
    if kind == "crack" {
        put("count", dice.pick(&["1", "1", "1", "2", "3"]));
    }
    let (street, along) = (block % 250, n % 200);
    let lat = 43.0 + street as f64 * 0.000_9 + dice.below(9) as f64 * 0.000_01;
    let lon = -89.5 + (block / 250) as f64 * 0.003 + along as f64 * 0.000_014;
    put("lat", &format!("{lat:.6}"));
    put("lon", &format!("{lon:.6}"));
    put("note", &format!("invented, seed {seed}"));
    row
}

/// A small generator of numbers that look random; the same everywhere.
struct Dice(u64);

fn mix(x: u64) -> u64 {
    // The finaliser of SplitMix64 (Steele, Lea and Flood, 2014).
    let x = x.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let x = (x ^ (x >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let x = (x ^ (x >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    x ^ (x >> 31)
}

impl Dice {
    fn below(&mut self, n: u64) -> u64 {
        self.0 = mix(self.0);
        self.0 % n
    }

    fn pick(&mut self, from: &[&'static str]) -> &'static str {
        let at = self.below(from.len() as u64) as usize;
        from.get(at).copied().unwrap_or("")
    }

    fn weighed(&mut self, from: &[(&'static str, u64)]) -> &'static str {
        let mut left = self.below(from.iter().map(|(_, w)| w).sum());
        for (word, weight) in from {
            if left < *weight {
                return word;
            }
            left -= weight;
        }
        ""
    }
}
