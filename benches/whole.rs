//! The whole process, from a record's file to what a person sees, against an empty Rust program.
//!
//! `cargo bench --bench whole` runs each a number of times in turn, so that whatever else the
//! machine does falls on all alike, and compares medians. Limits: a summary within three times the
//! empty program's process time plus 10 ms, a page with four photos within 300 ms. Exit code 1 when
//! a limit is missed.

use std::error::Error;
use std::path::Path;
use std::process::{Command, ExitCode, Stdio};
use std::time::{Duration, Instant};

const RUNS: usize = 41;

/// A record without photos to decode, and one with four.
const SUMMARY: &str = "samples/drive-scaled.yaml";
const PHOTOS: &str = "samples/terrace.yaml";

fn once(program: &Path, arguments: &[&str]) -> Result<Duration, Box<dyn Error>> {
    let start = Instant::now();
    let status = Command::new(program)
        .args(arguments)
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()?;
    let took = start.elapsed();
    if !status.success() {
        return Err(format!("{} {arguments:?} ended with {status}", program.display()).into());
    }
    Ok(took)
}

fn median(times: &mut [Duration]) -> f64 {
    times.sort_unstable();
    times[times.len() / 2].as_secs_f64() * 1e3
}

fn main() -> Result<ExitCode, Box<dyn Error>> {
    let folder = tempfile::tempdir()?;
    let source = folder.path().join("empty.rs");
    let empty = folder.path().join("empty");
    std::fs::write(&source, "fn main() {}\n")?;
    let rustc = std::env::var("RUSTC").unwrap_or_else(|_| "rustc".into());
    let built = Command::new(rustc)
        .args(["-O", "-o"])
        .arg(&empty)
        .arg(&source)
        .status()?;
    if !built.success() {
        return Err("the empty program did not compile".into());
    }
    let ringtrue = Path::new(env!("CARGO_BIN_EXE_ringtrue"));
    let page = folder.path().join("page.html");
    let page = page
        .to_str()
        .ok_or("the temporary folder's name is not text")?;
    let photos = std::fs::read_to_string(PHOTOS)?.matches("file:").count();
    if photos != 4 {
        return Err(format!("{PHOTOS} has {photos} photos; this measures four").into());
    }
    let (mut nothing, mut summary, mut report) = (Vec::new(), Vec::new(), Vec::new());
    for _ in 0..RUNS {
        nothing.push(once(&empty, &[])?);
        summary.push(once(ringtrue, &["report", SUMMARY, "--summary"])?);
        report.push(once(ringtrue, &["report", PHOTOS, "-o", page, "--force"])?);
    }
    let (nothing, summary, report) = (
        median(&mut nothing),
        median(&mut summary),
        median(&mut report),
    );
    let mut kept = true;
    let mut say = |what: &str, took: f64, limit: f64| {
        let verdict = if took <= limit { "kept" } else { "MISSED" };
        kept &= took <= limit;
        println!("{what:<44} {took:8.2} ms   limit {limit:7.2} ms   {verdict}");
    };
    println!("medians of {RUNS} runs; an empty program takes {nothing:.2} ms");
    say("record to terminal summary", summary, 3.0 * nothing + 10.0);
    say("record with four photos to page", report, 300.0);
    Ok(ExitCode::from(u8::from(!kept)))
}
