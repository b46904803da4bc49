//! `ringtrue guide`: the guide for the slab.

use std::path::PathBuf;
use std::process::ExitCode;

use crate::report::guide;

use super::Screen;
use super::output::write_or_print;
use super::work::rules;

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
    write_or_print(
        args.output.as_deref(),
        page.as_bytes(),
        args.force,
        |path| format!("{}\n", path.display()),
    )
}
