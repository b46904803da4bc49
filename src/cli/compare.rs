//! `ringtrue compare`: two records of one slab side by side.

use std::path::PathBuf;
use std::process::ExitCode;

use crate::report::View;
use crate::report::compare::{self, Comparison, Side};

use super::output::keep;
use super::papers::{Looks, Paper, Press, named};
use super::{Loading, Screen, Work, print_all};

/// Hold two records of one slab side by side: what grew, how fast, what was done, did it hold.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  ringtrue compare 2024.yaml 2026.yaml                  on the terminal
  ringtrue compare 2024.yaml 2026.yaml -o change.html   as a page
  ringtrue compare 2024.yaml 2026.yaml -o change.pdf    as a PDF")]
pub struct Args {
    /// The older record.
    #[arg(value_name = "OLD")]
    old: PathBuf,
    /// The newer record.
    #[arg(value_name = "NEW")]
    new: PathBuf,
    /// Folder of house rules laid over the built-in ones.
    #[arg(long, value_name = "FOLDER")]
    house_rules: Option<PathBuf>,
    /// Where the change report goes; `-` is standard output. Default: the terminal only.
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
    /// Write over an existing file.
    #[arg(long)]
    force: bool,
    #[command(flatten)]
    looks: Looks,
}

/// Runs the command. Exit code 0 when the records were compared, 1 when one of them has problems.
pub fn run(args: &Args, screen: Screen) -> anyhow::Result<ExitCode> {
    let press = Press::new(&args.looks)?;
    let load = |record: &PathBuf| {
        let loading = Loading {
            record: record.clone(),
            house_rules: args.house_rules.clone(),
        };
        Work::load_in(&loading, press.phrases())
    };
    let (old, new) = match (load(&args.old), load(&args.new)) {
        (Ok(old), Ok(new)) => (old, new),
        (Err(stop), _) | (_, Err(stop)) => return stop.tell(screen),
    };
    old.tell_warnings(screen);
    new.tell_warnings(screen);
    let view = |work: &Work| View::build(work.sources(&[]));
    let (old_view, new_view) = (view(old), view(new));
    let comparison = Comparison::build(
        Side {
            record: &old.loaded.record,
            view: &old_view,
        },
        Side {
            record: &new.loaded.record,
            view: &new_view,
        },
        press.phrases(),
    )?;
    let told = compare::text(&comparison, screen.width) + &new.made_lines();
    let Some(output) = args.output.as_deref() else {
        return print_all(told.as_bytes());
    };
    keep(&[&args.old], output)?;
    let places = press.places(&args.new, Some(output), "", args.force)?;
    let paper = Paper {
        template: "compare",
        view: &comparison,
        photos: &[],
        date: new_view.job.iso_date.as_deref(),
    };
    if let Some(bytes) = press.write(&paper, Some(output), places.as_deref(), args.force)? {
        return print_all(&bytes);
    }
    let written = named(places.as_deref()).unwrap_or_default();
    print_all(format!("{told}\n  wrote {written}\n").as_bytes())
}
