//! A survey of a million invented rows, against reading and writing the same lines as plain JSON.
//!
//! Rates are by processor time, so that whatever else the machine does counts little. Limits: at
//! least 150 000 rows a second and core, at most three times the plain reading and writing, at most
//! 100 MB, and two cores spend at most a fifth more than one. Exit code 1 when one is missed. Needs
//! `/proc`. `INVENTORY_ROWS` gives another number of rows.

use std::error::Error;
use std::fs;
use std::io::{BufRead, BufReader, BufWriter, Write};
use std::path::Path;
use std::process::{Command, ExitCode, Stdio};
use std::time::{Duration, Instant};

/// Seconds of processor time: of this program, and of the programs it waited for. A tick of the
/// kernel's count is a hundredth of a second.
fn spent() -> Result<(f64, f64), Box<dyn Error>> {
    let stat = fs::read_to_string("/proc/self/stat")?;
    let fields: Vec<&str> = stat
        .rsplit(')')
        .next()
        .unwrap_or("")
        .split_whitespace()
        .collect();
    // utime, stime, cutime and cstime are the 14th to 17th; the 3rd is the first behind the bracket.
    let ticks = |i: usize| {
        fields
            .get(i)
            .and_then(|f| f.parse::<f64>().ok())
            .unwrap_or(0.0)
    };
    Ok((
        (ticks(11) + ticks(12)) / 100.0,
        (ticks(13) + ticks(14)) / 100.0,
    ))
}

struct Run {
    wall: f64,
    processor: f64,
    peak_mb: f64,
}

fn survey(folder: &Path, cores: &str) -> Result<Run, Box<dyn Error>> {
    let before = spent()?.1;
    let begun = Instant::now();
    let mut child = Command::new(env!("CARGO_BIN_EXE_ringtrue"))
        .current_dir(folder)
        .args([
            "survey",
            "made.ndjson",
            "-o",
            "out.ndjson",
            "--force",
            "--cores",
            cores,
        ])
        .stdout(Stdio::null())
        .spawn()?;
    let status = format!("/proc/{}/status", child.id());
    let mut peak = 0.0f64;
    let ended = loop {
        if let Some(ended) = child.try_wait()? {
            break ended;
        }
        let text = fs::read_to_string(&status).unwrap_or_default();
        let high = text.lines().find_map(|l| l.strip_prefix("VmHWM:"));
        let kb = high.and_then(|l| l.split_whitespace().next()?.parse::<f64>().ok());
        peak = peak.max(kb.unwrap_or(0.0) / 1024.0);
        std::thread::sleep(Duration::from_millis(20));
    };
    if !ended.success() {
        return Err(format!("the survey ended with {ended}").into());
    }
    Ok(Run {
        wall: begun.elapsed().as_secs_f64(),
        processor: spent()?.1 - before,
        peak_mb: peak,
    })
}

fn main() -> Result<ExitCode, Box<dyn Error>> {
    let rows: f64 = std::env::var("INVENTORY_ROWS")
        .ok()
        .map_or(Ok(1e6), |n| n.parse())?;
    let folder = tempfile::tempdir()?;
    let made = Command::new(env!("CARGO_BIN_EXE_ringtrue"))
        .current_dir(folder.path())
        .args([
            "survey",
            "--made",
            &format!("{rows:.0}"),
            "-o",
            "made.ndjson",
        ])
        .status()?;
    if !made.success() {
        return Err("the inventory was not made".into());
    }
    let before = spent()?.0;
    let input = BufReader::new(fs::File::open(folder.path().join("made.ndjson"))?);
    let mut output = BufWriter::new(fs::File::create(folder.path().join("plain.ndjson"))?);
    for line in input.lines() {
        let value: serde_json::Value = serde_json::from_str(&line?)?;
        serde_json::to_writer(&mut output, &value)?;
        output.write_all(b"\n")?;
    }
    output.flush()?;
    let plain = spent()?.0 - before;
    let one = survey(folder.path(), "1")?;
    let two = survey(folder.path(), "2")?;
    let mut kept = true;
    let mut say = |what: &str, number: f64, limit: f64, least: bool| {
        let held = if least {
            number >= limit
        } else {
            number <= limit
        };
        kept &= held;
        let word = if held { "kept" } else { "MISSED" };
        println!("{what:<48} {number:12.2}   limit {limit:10.2}   {word}");
    };
    println!("{rows:.0} rows; plain reading and writing {plain:.2} s of processor time");
    println!(
        "one core {:.2} s ({:.2} s by the clock), two cores {:.2} s ({:.2} s by the clock)",
        one.processor, one.wall, two.processor, two.wall
    );
    say(
        "rows a second and core",
        rows / one.processor,
        150_000.0,
        true,
    );
    say(
        "times plain reading and writing",
        one.processor / plain,
        3.0,
        false,
    );
    say(
        "two cores' work over one's",
        two.processor / one.processor,
        1.2,
        false,
    );
    say(
        "peak memory, MB",
        one.peak_mb.max(two.peak_mb),
        100.0,
        false,
    );
    Ok(ExitCode::from(u8::from(!kept)))
}
