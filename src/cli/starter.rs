//! `ringtrue starter`: a commented record to begin with.

use std::path::PathBuf;
use std::process::ExitCode;

use crate::record;

use super::Screen;
use super::output::write_or_print;
use super::work::{rules, today};

/// Write a commented record of an invented patio, to be filled in.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  ringtrue starter new-job.yaml    a file to fill in; an existing one is left alone
  ringtrue starter                 on standard output")]
pub struct Args {
    /// Where the record goes; `-` is standard output, and so is nothing.
    #[arg(value_name = "FILE")]
    output: Option<PathBuf>,
    /// Write over an existing file.
    #[arg(long)]
    force: bool,
    /// Folder of house rules whose signs the record asks for.
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
    let text = record::starter(Some(&pack.vocabulary), today());
    write_or_print(
        args.output.as_deref(),
        text.as_bytes(),
        args.force,
        |path| {
            let shown = path.display();
            format!("{shown} is written. Fill it in, then: ringtrue check {shown}\n")
        },
    )
}
