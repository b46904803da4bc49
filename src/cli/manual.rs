//! `ringtrue manual`: the manual pages, one a command.

use std::path::PathBuf;
use std::process::ExitCode;

use anyhow::{Context, bail};
use clap_mangen::Man;

use super::output::ready;
use super::{command_tree, print_all};

/// Print a manual page, or write all of them.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  ringtrue manual                       print the page of the program
  ringtrue manual rules export          print the page of a command
  ringtrue manual --into share/man1     write every page into a folder; `man` finds them by their
                                        names where the folder is one of its own")]
pub struct Args {
    /// The command; the program itself where none is named.
    #[arg(value_name = "COMMAND")]
    command: Vec<String>,
    /// Write every page into this folder, as `ringtrue.1`, `ringtrue-report.1` and so on.
    #[arg(long, value_name = "FOLDER", conflicts_with = "command")]
    into: Option<PathBuf>,
    /// Write over existing files.
    #[arg(long, requires = "into")]
    force: bool,
}

/// Runs the command.
///
/// # Errors
/// When there is no such command, a page can't be written, or standard output is closed.
pub fn run(args: &Args) -> anyhow::Result<ExitCode> {
    let mut tree = command_tree().disable_help_subcommand(true);
    // Gives every command its full name.
    tree.build();
    if let Some(folder) = &args.into {
        let mut commands = Vec::new();
        gather(&tree, &mut commands);
        std::fs::create_dir_all(folder)
            .with_context(|| format!("can't make {}", folder.display()))?;
        let files: Vec<_> = commands
            .iter()
            .map(|command| {
                let man = page_of(command);
                let path = folder.join(man.get_filename());
                let mut page = Vec::new();
                man.render(&mut page)?;
                ready(&path, &page, args.force)
            })
            .collect::<anyhow::Result<_>>()?;
        let said = format!("{} pages are in {}\n", files.len(), folder.display());
        for file in files {
            file.put()?;
        }
        return print_all(said.as_bytes());
    }
    let mut command = &tree;
    for name in &args.command {
        command = match command.find_subcommand(name) {
            Some(found) => found,
            None => bail!("there is no command `{name}`; `ringtrue help` lists them"),
        };
    }
    let mut page = Vec::new();
    page_of(command).render(&mut page)?;
    print_all(&page)
}

fn page_of(command: &clap::Command) -> Man {
    Man::new(command.clone()).source(concat!("ringtrue ", env!("CARGO_PKG_VERSION")))
}

/// A command and all below it.
fn gather<'a>(command: &'a clap::Command, out: &mut Vec<&'a clap::Command>) {
    out.push(command);
    for below in command.get_subcommands() {
        gather(below, out);
    }
}
