//! Every paper as a page, held to the axe-core checker in a headless Chromium: on screen in light
//! and dark, and on a phone. Skipped, with the reason printed, where node, Chromium or axe-core is
//! not at hand; `DEVELOPERS.md` says how to get them.

use std::path::{Path, PathBuf};
use std::process::Command;

/// Three samples with much on their pages: three areas and photos, an open verdict, a referral.
const SAMPLES: [&str; 3] = ["terrace", "drive-salted", "carport-rust"];

fn found(name: &str) -> bool {
    Command::new(name)
        .arg("--version")
        .output()
        .is_ok_and(|o| o.status.success())
}

/// The browser, by `CHROMIUM` or one of its usual names.
fn chromium() -> Option<String> {
    std::env::var("CHROMIUM").ok().or_else(|| {
        ["chromium", "chromium-browser"]
            .into_iter()
            .find(|name| found(name))
            .map(str::to_owned)
    })
}

/// The checker, by `AXE_CORE` or where `npm install --prefix target/axe axe-core` puts it.
fn axe_core() -> Option<PathBuf> {
    let usual =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("target/axe/node_modules/axe-core/axe.min.js");
    std::env::var_os("AXE_CORE")
        .map(PathBuf::from)
        .or(Some(usual))
        .filter(|p| p.is_file())
}

#[test]
fn no_paper_has_a_violation() {
    let (Some(chromium), Some(axe), true) = (chromium(), axe_core(), found("node")) else {
        println!("skipped: needs node, Chromium (or CHROMIUM) and axe-core (or AXE_CORE)");
        return;
    };
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let folder = tempfile::tempdir().unwrap();
    let mut pages = Vec::new();
    let mut write = |paper: &str, records: &[&str], language: &str| {
        let page = folder
            .path()
            .join(format!("{paper}-{}-{language}.html", records.join("-")));
        let records = records
            .iter()
            .map(|r| root.join("samples").join(format!("{r}.yaml")));
        assert_cmd::Command::new(env!("CARGO_BIN_EXE_ringtrue"))
            .arg(paper)
            .args(records)
            .args(["--language", language, "-o"])
            .arg(&page)
            .assert()
            .success();
        pages.push(page);
    };
    for sample in SAMPLES {
        for paper in ["report", "proposal", "crew"] {
            write(paper, &[sample], "en");
        }
        write("compare", &[sample, sample], "en");
    }
    write("report", &["terrace"], "es");
    let done = Command::new("node")
        .arg(root.join("tests/accessible/axe.mjs"))
        .arg(chromium)
        .arg(axe)
        .args(&pages)
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&done.stdout);
    println!("{said}");
    assert!(
        done.status.success(),
        "{said}{}",
        String::from_utf8_lossy(&done.stderr)
    );
    // Three looks at each page.
    assert_eq!(said.matches("no violation").count(), 3 * pages.len());
}
