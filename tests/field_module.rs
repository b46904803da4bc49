//! The module inside the field page is the one its sources give.
//!
//! Building it takes another compiler target, which not everybody has, so it is stored with a
//! fingerprint of what went into it. `templates/field/build` makes both anew.

use std::fs;
use std::path::{Path, PathBuf};

/// What goes into the module.
const PARTS: [&str; 9] = [
    "rules",
    "src/source",
    "src/units",
    "src/facts",
    "src/record",
    "src/survey",
    "src/rules",
    "src/assessment",
    "src/method",
];

/// The part of this page's own stage that goes into it too: all of it but for the page.
const OWN: &str = "src/field";

const STORED: &str = "templates/field/built-from";
const MODULE: &str = "templates/field/core.wasm";

fn files(folder: &Path, out: &mut Vec<PathBuf>) {
    let mut entries: Vec<PathBuf> = fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().path())
        .collect();
    entries.sort();
    for path in entries {
        let kept = path.extension().is_some_and(|e| e == "rs" || e == "yaml")
            && path
                .file_name()
                .is_some_and(|n| n != "tests.rs" && n != "page.rs");
        if path.is_dir() {
            files(&path, out);
        } else if kept {
            out.push(path);
        }
    }
}

/// Fowler, Noll and Vo's 64-bit hash, 1a.
fn hash(bytes: impl IntoIterator<Item = u8>, from: u64) -> u64 {
    bytes.into_iter().fold(from, |h, b| {
        (h ^ u64::from(b)).wrapping_mul(0x0100_0000_01b3)
    })
}

const START: u64 = 0xcbf2_9ce4_8422_2325;

fn sources() -> u64 {
    let mut all = Vec::new();
    for part in PARTS.iter().chain([&OWN]) {
        files(Path::new(part), &mut all);
    }
    assert!(all.len() > 100, "only {} files found", all.len());
    all.iter().fold(START, |h, path| {
        let text = fs::read_to_string(path).unwrap().replace("\r\n", "\n");
        // Tests at the end of a file don't go into the module.
        let code = text
            .split("\n#[cfg(test)]\nmod tests {")
            .next()
            .unwrap_or_default();
        let name = path.to_string_lossy().replace('\\', "/");
        hash(code.bytes(), hash(name.bytes().chain([0]), h))
    })
}

#[test]
fn the_hash_is_the_published_one() {
    // Test vector of the hash's authors: 1a, 64 bits, of "foobar" (from memory).
    assert_eq!(hash(*b"foobar", START), 0x8594_4171_f739_67e8);
}

#[test]
fn the_module_is_fresh() {
    let now = format!("sources {:016x}\n", sources());
    let whole = || {
        let module = fs::read(MODULE).unwrap();
        format!("{now}module {:016x}\n", hash(module, START))
    };
    let stored = fs::read_to_string(STORED)
        .unwrap_or_default()
        .replace("\r\n", "\n");
    let told = std::env::var_os("FIELD_MODULE_BUILT");
    match told.as_deref().and_then(|t| t.to_str()) {
        // Before the module is built, and after it: see `templates/field/build`.
        Some("sources") => fs::write(STORED, now).unwrap(),
        Some("module") => {
            assert_eq!(stored, now, "sources changed while the module was built");
            fs::write(STORED, whole()).unwrap();
        }
        _ => assert_eq!(
            stored,
            whole(),
            "\nThe field page's module was built from other sources or rules than these.\n\
             Build it anew: templates/field/build\n"
        ),
    }
}
