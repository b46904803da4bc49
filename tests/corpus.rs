//! Every stored input of the fuzzer, and every one that once went wrong, run through the body of
//! its target: `fuzz/corpus/TARGET` and `fuzz/regressions/TARGET`.

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

#[path = "../fuzz/src/lib.rs"]
mod targets;

/// Longest that one input may take, in an unoptimised build on a busy machine.
const LONGEST: Duration = Duration::from_secs(30);

fn files(folder: &Path) -> Vec<PathBuf> {
    let Ok(entries) = std::fs::read_dir(folder) else {
        return Vec::new();
    };
    let mut files: Vec<PathBuf> = entries.map(|e| e.unwrap().path()).collect();
    files.sort();
    files
}

fn replay(target: &str, body: fn(&[u8])) {
    let fuzz = Path::new(env!("CARGO_MANIFEST_DIR")).join("fuzz");
    let corpus = files(&fuzz.join("corpus").join(target));
    assert!(corpus.len() >= 10, "only {} inputs", corpus.len());
    for path in corpus
        .iter()
        .chain(&files(&fuzz.join("regressions").join(target)))
    {
        let input = std::fs::read(path).unwrap();
        let start = Instant::now();
        let ended = std::panic::catch_unwind(|| body(&input));
        assert!(ended.is_ok(), "{} panics", path.display());
        let took = start.elapsed();
        assert!(took < LONGEST, "{} took {took:?}", path.display());
    }
}

#[test]
fn records() {
    replay("record", targets::record);
}

#[test]
fn quantities() {
    replay("units", targets::units);
}

#[test]
fn packs() {
    replay("pack", targets::pack);
}

#[test]
fn forecasts() {
    replay("forecast", targets::forecast);
}

#[test]
fn templates() {
    replay("template", targets::template);
}
