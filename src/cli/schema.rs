//! `ringtrue schema`: the JSON Schema of a record.

use std::path::PathBuf;
use std::process::ExitCode;

use crate::record;

use super::Screen;
use super::output::write_or_print;
use super::work::{made_with, rules};

/// Print the JSON Schema of a record (2020-12), from which editors complete names and words.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  ringtrue schema                          on standard output
  ringtrue schema -o record.schema.json    in a file

An editor that reads YAML takes it from the first line of the record:
  # yaml-language-server: $schema=record.schema.json")]
pub struct Args {
    /// Where the schema goes. Default: standard output.
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
    /// Write over an existing file.
    #[arg(long)]
    force: bool,
    /// Folder of house rules whose signs the schema takes in.
    #[arg(long, value_name = "FOLDER")]
    house_rules: Option<PathBuf>,
}

/// Runs the command.
///
/// # Errors
/// When the file can't be written, or standard output is closed.
pub fn run(args: &Args, screen: Screen) -> anyhow::Result<ExitCode> {
    let pack = match rules(args.house_rules.as_deref()) {
        Ok(pack) => pack,
        Err(stop) => return stop.tell(screen),
    };
    let mut schema = record::schema(Some(&pack.vocabulary));
    schema["$comment"] = made_with(&pack).into();
    let text = serde_json::to_string_pretty(&schema)? + "\n";
    write_or_print(args.output.as_deref(), text.as_bytes(), args.force, |_| {
        String::new()
    })
}
