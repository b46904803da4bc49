//! `ringtrue field`: a page that takes down a record on the phone, with no network.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::{Context, bail};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use serde_json::{Value, json};

use crate::field;
use crate::report::photos::real_path;
use crate::rules::{fnv, stored};

use super::output::{folder_of, keep, write_whole};
use super::work::{made_with, read_text, rules};
use super::{Screen, print_all, tell};

const PAGE: &str = include_str!("../../templates/field/page.html");
const STYLE: &str = include_str!("../../templates/field/page.css");
const SCRIPT: &str = include_str!("../../templates/field/page.js");
/// This library built for browsers by `templates/field/build`.
const MODULE: &[u8] = include_bytes!("../../templates/field/core.wasm");

/// Largest photo that goes into a page, in bytes.
const LARGEST_PHOTO: u64 = 20 << 20;

/// Write a page for the phone: draw, tap, measure, photograph; verdict as you go; no network.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  ringtrue field -o page.html              an empty page; send it to the phone and open it there
  ringtrue field job.yaml -o page.html     one that begins with a record and its photos
  ringtrue field --house-rules rules -o page.html    one that judges by your own rules too

On the phone the page keeps all that is written in the browser's own storage. It hands over one
zip with the record and its photos: unpack it, then `ringtrue check record.yaml`. It brings such a
zip in again, too. It works by the built-in rules, or by yours with --house-rules; the page names them.

Exit codes: 0 written, 1 the record or the house rules have errors, 2 bad usage or unreadable input.")]
pub struct Args {
    /// A record the page begins with; `-` is standard input.
    #[arg(value_name = "RECORD")]
    record: Option<PathBuf>,
    /// Where the page goes; `-` is standard output.
    #[arg(short, long, value_name = "FILE")]
    output: PathBuf,
    /// Folder of house rules laid over the built-in ones.
    #[arg(long, value_name = "FOLDER")]
    house_rules: Option<PathBuf>,
    /// Write over an existing file.
    #[arg(long)]
    force: bool,
}

/// Runs the command.
///
/// # Errors
/// When the record, one of its photos or the house rules can't be read, or the page can't be written.
pub fn run(args: &Args, screen: Screen) -> anyhow::Result<ExitCode> {
    let pack = match rules(args.house_rules.as_deref()) {
        Ok(pack) => pack,
        Err(stop) => return stop.tell(screen),
    };
    let house = match args.house_rules {
        None => None,
        Some(_) => Some(stored(&pack).context("the house rules are too large for a page")?),
    };
    let start = match &args.record {
        None => json!({}),
        Some(path) => {
            let file = read_text(path)?;
            let draft = match field::from_yaml(&file.text) {
                Ok((draft, _)) => draft,
                Err(problems) => {
                    tell(&problems.to_string());
                    return Ok(ExitCode::from(1));
                }
            };
            let folder = folder_of(path);
            json!({
                // The same record makes the same slab: opening the page again makes no second one.
                "key": format!("{:016x}", fnv(file.text.bytes())),
                "name": path.file_name().map(|n| n.to_string_lossy()),
                "yaml": &*file.text,
                "photos": photos(&draft, folder)?,
            })
        }
    };
    let page = page(&start, house.as_deref(), &made_with(&pack));
    if args.output.as_os_str() == "-" {
        return print_all(page.as_bytes());
    }
    if let Some(record) = &args.record {
        keep(&[record], &args.output)?;
    }
    write_whole(&args.output, page.as_bytes(), args.force)?;
    let shown = args.output.display();
    let said = format!(
        "{shown} is written ({} kB). Send it to the phone and open it in the browser there.\n",
        page.len().div_ceil(1000)
    );
    print_all(said.as_bytes())
}

/// The page with everything in it; `house` is the rules in their stored form where they are not the
/// built-in ones.
fn page(start: &Value, house: Option<&[u8]>, made_with: &str) -> String {
    // A `<` inside the data could end its element.
    let start = start.to_string().replace('<', "\\u003c");
    let mut out = String::with_capacity(PAGE.len() + MODULE.len() * 3 / 2);
    let mut rest = PAGE;
    while let Some((before, after)) = rest.split_once('@') {
        out.push_str(before);
        let (mark, after) = after.split_once('@').unwrap_or((after, ""));
        match mark {
            "STYLE" => out.push_str(STYLE),
            "SCRIPT" => out.push_str(SCRIPT),
            "MODULE" => out.push_str(&STANDARD.encode(MODULE)),
            "HOUSE" => out.push_str(&STANDARD.encode(house.unwrap_or_default())),
            "START" => out.push_str(&start),
            "MADE" => out.push_str(made_with),
            other => out.push_str(other),
        }
        rest = after;
    }
    out.push_str(rest);
    out
}

/// The record's photos that lie in its folder. One that doesn't is left for `check` to name.
fn photos(draft: &Value, folder: &Path) -> anyhow::Result<Vec<Value>> {
    let each = |value: &Value, key: &str| -> Vec<Value> {
        value
            .get(key)
            .and_then(Value::as_array)
            .cloned()
            .unwrap_or_default()
    };
    let mut out = Vec::new();
    for defect in each(draft, "areas").iter().flat_map(|a| each(a, "defects")) {
        for photo in each(&defect, "photos") {
            let Some(name) = photo.get("file").and_then(Value::as_str) else {
                continue;
            };
            let Ok(path) = real_path(folder, name) else {
                continue;
            };
            let size = path.metadata().map_or(0, |m| m.len());
            if size > LARGEST_PHOTO {
                bail!("{} has {size} bytes: too large for a page", path.display());
            }
            let bytes =
                std::fs::read(&path).with_context(|| format!("can't read {}", path.display()))?;
            out.push(json!({"file": name, "base64": STANDARD.encode(bytes)}));
        }
    }
    Ok(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_page_needs_nothing_from_outside() {
        let page = page(
            &json!({"yaml": "note: </script><b>"}),
            Some(b"rules"),
            "ringtrue 0, rules 0",
        );
        assert!(page.ends_with("</html>\n"));
        // Its own four scripts are the only ones, and no mark is left.
        assert_eq!(page.matches("</script>").count(), 4);
        for mark in ["MODULE", "HOUSE", "START"] {
            assert!(!page.contains(&format!("@{mark}@")), "{mark}");
        }
        // The one address is the name of a drawing format, which nothing is fetched from.
        let left = page.replace("http://www.w3.org/2000/svg", "");
        for sign in ["http://", "https://", "src=\"", "@import", "url("] {
            assert!(!left.contains(sign), "{sign}");
        }
        assert!(page.contains("default-src 'none'"));
        assert!(MODULE.starts_with(b"\0asm"));
    }

    #[test]
    fn the_script_holds_no_unit_or_notation_of_its_own() {
        for unit in [
            "\"ft\"", "\"in\"", "\"mm\"", "\"psi\"", "304.8", "25.4", "\" ft", "\" in\"",
        ] {
            assert!(!SCRIPT.contains(unit), "{unit}");
        }
    }
}
