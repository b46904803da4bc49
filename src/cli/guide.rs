//! `ringtrue guide`: the guide for the slab.

use std::path::PathBuf;
use std::process::ExitCode;

use crate::report::guide;

use super::output::write_whole;
use super::work::rules;
use super::{Screen, print_all};

/// Write the guide: what damage looks like, how to sound, measure and walk a slab.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  ringtrue guide -o guide.html     one page with pictures, for a phone; needs no network
  ringtrue guide                   on standard output

The rules behind it are printed by `ringtrue rules handbook`.

Exit codes: 0 written, 1 the house rules have problems, 2 it can't be written.")]
pub struct Args {
    /// File to write; standard output when not given.
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
    /// Write over an existing file.
    #[arg(short, long)]
    force: bool,
    /// Folder of house rules laid over the built-in ones.
    #[arg(long, value_name = "FOLDER")]
    house_rules: Option<PathBuf>,
}

/// Runs the command.
///
/// # Errors
/// When the file exists already and `--force` is not given, or can't be written.
pub fn run(args: &Args, screen: Screen) -> anyhow::Result<ExitCode> {
    let pack = match rules(args.house_rules.as_deref()) {
        Ok(pack) => pack,
        Err(stop) => return stop.tell(screen),
    };
    let page = guide(&pack)?;
    match &args.output {
        Some(path) if path.as_os_str() != "-" => {
            write_whole(path, page.as_bytes(), args.force)?;
            print_all(format!("{}\n", path.display()).as_bytes())
        }
        _ => print_all(page.as_bytes()),
    }
}
