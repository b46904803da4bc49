//! `ringtrue check`: everything wrong with a record.

use std::process::ExitCode;

use serde_json::json;

use crate::record;
use crate::report::photos;
use crate::source::{Problem, Problems, Severity};

use super::work::{last_day, made_with, read_text, rules};
use super::{Loading, Screen, print_all};

/// List everything wrong with a record, each with its place and how to write it right.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  ringtrue check job.yaml             every problem with its line and a hint
  ringtrue check job.yaml --plain     one line a problem, for editors
  ringtrue check job.yaml --json      for machines
  cat job.yaml | ringtrue check -     from standard input; photos are looked for in this folder

Exit codes: 0 nothing worse than an unusual value, 1 the record has errors or lacks a photo, 2 it
could not be read. Without a photo the report is still written, and says so in its place.")]
pub struct Args {
    #[command(flatten)]
    loading: Loading,
    /// Print the problems as JSON.
    #[arg(long, conflicts_with = "plain")]
    json: bool,
    /// Print one line a problem: file:line:column: code: message (hint).
    #[arg(long)]
    plain: bool,
}

/// Runs the command.
///
/// # Errors
/// When the record can't be read, or standard output is closed.
pub fn run(args: &Args, screen: Screen) -> anyhow::Result<ExitCode> {
    let pack = match rules(args.loading.house_rules.as_deref()) {
        Ok(pack) => pack,
        Err(stop) => return stop.tell(screen),
    };
    let file = read_text(&args.loading.record)?;
    let folder = args.loading.folder();
    let (loaded, mut problems) =
        record::read(&file, Some(&folder), last_day(), Some(&pack.vocabulary));
    if let Some(loaded) = &loaded {
        let mut found = Problems::default();
        photos::load(&folder, &loaded.record, &mut found);
        problems.extend(photos::not_told(found, &problems.clone()));
    }
    let count = |severity| problems.iter().filter(|p| p.severity == severity).count();
    let (errors, warnings) = (count(Severity::Error), count(Severity::Warning));
    let text = if args.json {
        let all = json!({
            "version": env!("CARGO_PKG_VERSION"),
            "rules": pack.fingerprint,
            "file": &*file.name,
            "errors": errors,
            "warnings": warnings,
            "problems": problems.to_json(),
        });
        serde_json::to_string_pretty(&all)? + "\n"
    } else if args.plain {
        problems.to_plain()
    } else {
        let summary = match &loaded {
            Some(loaded) if problems.is_empty() => {
                let areas = &loaded.record.areas;
                let defects: usize = areas.iter().map(|a| a.defects.len()).sum();
                format!(
                    "{}: nothing wrong; {} and {} in it.\n",
                    file.name,
                    counted(areas.len(), "area"),
                    counted(defects, "defect")
                )
            }
            _ => format!("{}: {}.\n", file.name, tally(errors, warnings)),
        };
        rendered(&problems, screen) + &summary + &format!("{}\n", made_with(&pack))
    };
    print_all(text.as_bytes())?;
    // An unusual value is a remark; a photo that a report will lack is something to mend.
    let lacking = |p: &Problem| p.code == "missing-file" || p.code.starts_with("photo-");
    Ok(if loaded.is_some() && !problems.iter().any(lacking) {
        ExitCode::SUCCESS
    } else {
        ExitCode::from(1)
    })
}

fn rendered(problems: &Problems, screen: Screen) -> String {
    match problems.is_empty() {
        true => String::new(),
        false => problems.render(screen.out_colour) + "\n",
    }
}

fn tally(errors: usize, warnings: usize) -> String {
    match (errors, warnings) {
        (0, w) => counted(w, "warning"),
        (e, 0) => counted(e, "error"),
        (e, w) => format!("{} and {}", counted(e, "error"), counted(w, "warning")),
    }
}

fn counted(n: usize, what: &str) -> String {
    match n {
        1 => format!("1 {what}"),
        _ => format!("{n} {what}s"),
    }
}
