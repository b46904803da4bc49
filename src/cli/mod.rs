//! The command line: one file a command.
//!
//! Exit codes: 0 fine, 1 the record or rules have problems or something was found, 2 bad usage or
//! unreadable input.

pub mod ask;
pub mod check;
pub mod compare;
pub mod drill;
pub mod field;
pub mod guide;
pub mod manual;
pub mod offer;
pub mod output;
pub mod papers;
pub mod plan;
pub mod report;
pub mod rules;
mod say;
pub mod schema;
mod spots;
pub mod starter;
pub mod survey;
pub mod walk;
pub mod what_if;
pub mod why;
pub mod why_not;
mod work;

use std::io::{IsTerminal, Write};
use std::process::ExitCode;

use anyhow::Context;
use clap::{ColorChoice, CommandFactory, Parser, Subcommand, ValueEnum};

pub use work::{Loading, Stop, Work};

const EXAMPLES: &str = "\
Examples:
  ringtrue starter new-job.yaml          write a commented record to fill in
  ringtrue walk new-job.yaml             or be asked, question by question, on the slab
  ringtrue check new-job.yaml            list everything wrong with it, with places
  ringtrue report new-job.yaml           write the owner's report beside it
  ringtrue proposal new-job.yaml -o offer.html
                                         write the paper to sign
  ringtrue crew new-job.yaml             write the sheet for the crew
  ringtrue ask new-job.yaml              what to measure next, and why
  ringtrue why new-job.yaml verdict      the reasons behind a verdict, back to the record's lines

Exit codes: 0 fine, 1 problems found, 2 bad usage or unreadable input.";

/// Reads the inspection record of a damaged concrete slab and says what is wrong, why, what to do
/// about it, what not to do, how sure that is and what to measure next.
#[derive(Debug, Parser)]
#[command(name = "ringtrue", version, about, after_help = EXAMPLES, propagate_version = true)]
pub struct Cli {
    /// What to do.
    #[command(subcommand)]
    command: Command,
    /// Colour on the terminal (`NO_COLOR` is honoured).
    #[arg(
        long,
        global = true,
        value_name = "WHEN",
        default_value = "auto",
        visible_alias = "color"
    )]
    colour: Colour,
}

/// When to use colour.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Colour {
    /// On a terminal, unless `NO_COLOR` is set.
    Auto,
    /// Always.
    Always,
    /// Never.
    Never,
}

/// What a command needs to know of the terminal.
#[derive(Debug, Clone, Copy)]
pub struct Screen {
    /// Whether standard output takes colour.
    pub out_colour: bool,
    /// Whether standard error takes colour.
    pub err_colour: bool,
    /// Width of standard output in columns.
    pub width: usize,
}

impl Screen {
    fn new(colour: Colour) -> Screen {
        // An empty NO_COLOR does not count, as its definition says.
        let plain = std::env::var_os("NO_COLOR").is_some_and(|v| !v.is_empty())
            || std::env::var_os("TERM").is_some_and(|t| t == "dumb")
            // An older console of Windows would print the colours' codes unless told what they are.
            || anstyle_query::windows::enable_ansi_colors() == Some(false);
        let on = |terminal: bool| match colour {
            Colour::Always => true,
            Colour::Never => false,
            Colour::Auto => terminal && !plain,
        };
        let width = terminal_size::terminal_size()
            .map_or(80, |(w, _)| usize::from(w.0))
            .clamp(40, 100);
        Screen {
            out_colour: on(std::io::stdout().is_terminal()),
            err_colour: on(std::io::stderr().is_terminal()),
            width,
        }
    }
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Write the owner's report of a record, and a short summary to the terminal.
    Report(report::Args),
    /// Write the proposal of a record: options, scope, what is left out, terms, signatures.
    Proposal(offer::Args),
    /// Write the one-page sheet for the crew of a record.
    Crew(offer::Args),
    /// Hold two records of one slab side by side: what grew, how fast, did the work hold.
    Compare(compare::Args),
    /// List everything wrong with a record, with places and how to write it right.
    Check(check::Args),
    /// The reasons behind a verdict, a grade or a cause, back to the record's lines.
    Why(why::Args),
    /// What stands in the way of a verdict or candidate, and the smallest change that lets it through.
    WhyNot(why_not::Args),
    /// What would come out otherwise if some facts were otherwise.
    WhatIf(what_if::Args),
    /// What to measure next, the most settled for the work first; or a short interview.
    Ask(ask::Args),
    /// Fill in a record on the slab: asked in the order you walk, every answer kept at once.
    Walk(walk::Args),
    /// Practise: a case a finding at a time, then the expert's way beside yours.
    Drill(drill::Args),
    /// Write the guide: what damage looks like, how to sound, measure and walk a slab.
    Guide(guide::Args),
    /// Check, list, export, draw and print the rules themselves.
    Rules(rules::Args),
    /// Write a page for the phone that takes down a record on site, with no network.
    Field(field::Args),
    /// Judge many slabs at once: one result each, and what they add up to.
    Survey(survey::Args),
    /// Write a commented record to fill in.
    Starter(starter::Args),
    /// Print the JSON Schema of a record, from which editors complete and check.
    Schema(schema::Args),
    /// Plan the work: heights, orders, the pour, the best day, the programme, the options.
    Plan(plan::Args),
    /// Print a shell completion script.
    Completions {
        /// The shell.
        shell: clap_complete::Shell,
    },
    /// Print a manual page, or write all of them.
    Manual(manual::Args),
}

/// Runs the program.
pub fn main() -> ExitCode {
    let cli = match Cli::try_parse() {
        Ok(cli) => cli,
        Err(error) => {
            let code = if error.use_stderr() { 2 } else { 0 };
            // A closed pipe is no reason to fail.
            let _ = error.print();
            return ExitCode::from(code);
        }
    };
    let screen = Screen::new(cli.colour);
    match run(cli.command, screen) {
        Ok(code) => code,
        Err(error) if is_closed_pipe(&error) => ExitCode::SUCCESS,
        Err(error) => {
            tell(&format!("ringtrue: {error:#}\n"));
            ExitCode::from(2)
        }
    }
}

fn is_closed_pipe(error: &anyhow::Error) -> bool {
    error.chain().any(|e| {
        e.downcast_ref::<std::io::Error>()
            .is_some_and(|e| e.kind() == std::io::ErrorKind::BrokenPipe)
    })
}

fn run(command: Command, screen: Screen) -> anyhow::Result<ExitCode> {
    match command {
        Command::Report(args) => report::run(&args, screen),
        Command::Proposal(args) => offer::run(&args, offer::Kind::Proposal, screen),
        Command::Compare(args) => compare::run(&args, screen),
        Command::Crew(args) => offer::run(&args, offer::Kind::Crew, screen),
        Command::Check(args) => check::run(&args, screen),
        Command::Why(args) => why::run(&args, screen),
        Command::WhyNot(args) => why_not::run(&args, screen),
        Command::WhatIf(args) => what_if::run(&args, screen),
        Command::Ask(args) => ask::run(&args, screen),
        Command::Walk(args) => walk::run(&args, screen),
        Command::Drill(args) => drill::run(&args, screen),
        Command::Guide(args) => guide::run(&args, screen),
        Command::Rules(args) => rules::run(&args, screen),
        Command::Field(args) => field::run(&args, screen),
        Command::Survey(args) => survey::run(&args, screen),
        Command::Starter(args) => starter::run(&args, screen),
        Command::Schema(args) => schema::run(&args, screen),
        Command::Plan(args) => plan::run(&args, screen),
        Command::Completions { shell } => {
            let mut out = Vec::new();
            clap_complete::generate(shell, &mut command_tree(), "ringtrue", &mut out);
            print_all(&out)
        }
        Command::Manual(args) => manual::run(&args),
    }
}

fn command_tree() -> clap::Command {
    Cli::command().color(ColorChoice::Never)
}

/// Writes to standard output, letting a closed pipe through as an error.
pub fn print_all(bytes: &[u8]) -> anyhow::Result<ExitCode> {
    let mut out = std::io::stdout().lock();
    out.write_all(bytes)
        .and_then(|()| out.flush())
        .context("can't write to standard output")?;
    Ok(ExitCode::SUCCESS)
}

/// Writes to standard error. Nobody is left to tell when that fails.
pub fn tell(text: &str) {
    let _ = std::io::stderr().lock().write_all(text.as_bytes());
}
