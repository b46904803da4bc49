//! `ringtrue rules`: check, list, export, draw and print the rules themselves.

use std::collections::HashMap;
use std::fmt::Write as _;
use std::path::PathBuf;
use std::process::ExitCode;

use crate::facts::FactId;
use crate::report::drawings::graph::{Graph, Line, Shape, Tile};
use crate::report::handbook;
use crate::report::language::Overlay;
use crate::rules::{Body, Hit, Pack, Work, dmn, graph};

use super::output::write_or_print;
use super::work::{made_with, proven_rules, rules};
use super::{Screen, print_all, tell};

/// Check, list, export, draw and print the rules themselves.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  ringtrue rules check                    prove the built-in rules sound
  ringtrue rules check house/             the same with a folder of house rules laid over them
  ringtrue rules check house/ --spanish   which of their texts have no Spanish yet
  ringtrue rules list                     every table and row with its source
  ringtrue rules handbook -o rules.html   the rules as a book
  ringtrue rules graph -o rules.svg       what the tables need from each other
  ringtrue rules export -o rules.dmn      grade tables in the open DMN standard

Exit codes: 0 fine, 1 the rules have problems, 2 bad usage or unreadable input.")]
pub struct Args {
    #[command(subcommand)]
    what: What,
}

#[derive(Debug, clap::Subcommand)]
enum What {
    /// Prove the rules sound: gaps, overlaps, rows out of reach, outvoted safety rows and more.
    Check {
        #[command(flatten)]
        house: House,
        /// List the texts that have no Spanish and stand English in a Spanish paper.
        #[arg(long)]
        spanish: bool,
    },
    /// List every table and row.
    List {
        #[command(flatten)]
        house: House,
        /// Print as JSON.
        #[arg(long)]
        json: bool,
    },
    /// Write the grade tables as OMG DMN 1.3 XML.
    Export(Output),
    /// Write the rules as a book in HTML.
    Handbook(Output),
    /// Draw what the tables need from each other, as SVG or DOT.
    Graph {
        #[command(flatten)]
        output: Output,
        /// Picture or text for other drawing programs.
        #[arg(long, value_enum, default_value = "svg")]
        format: Format,
    },
}

/// How a graph is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub enum Format {
    /// A picture.
    Svg,
    /// The DOT language.
    Dot,
}

#[derive(Debug, Clone, clap::Args)]
struct House {
    /// Folder of house rules laid over the built-in ones.
    #[arg(value_name = "FOLDER")]
    folder: Option<PathBuf>,
}

#[derive(Debug, Clone, clap::Args)]
struct Output {
    #[command(flatten)]
    house: House,
    /// File to write; standard output when not given.
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
    /// Write over an existing file.
    #[arg(short, long)]
    force: bool,
}

impl Output {
    fn write(&self, text: &str) -> anyhow::Result<ExitCode> {
        write_or_print(
            self.output.as_deref(),
            text.as_bytes(),
            self.force,
            |path| format!("{}\n", path.display()),
        )
    }
}

/// Runs the command.
///
/// # Errors
/// When a file can't be read or written, or standard output is closed.
pub fn run(args: &Args, screen: Screen) -> anyhow::Result<ExitCode> {
    match &args.what {
        What::Check { house, spanish } => check(house, *spanish, screen),
        What::List { house, json } => with_rules(house, screen, |pack| {
            let text = if *json { list_json(pack)? } else { list(pack) };
            print_all(text.as_bytes())
        }),
        What::Export(output) => with_rules(&output.house, screen, |pack| output.write(&dmn(pack))),
        What::Handbook(output) => {
            with_rules(&output.house, screen, |pack| output.write(&handbook(pack)?))
        }
        What::Graph { output, format } => with_rules(&output.house, screen, |pack| {
            let graph = requirements(pack);
            output.write(&match format {
                Format::Svg => graph.svg(),
                Format::Dot => graph.dot(),
            })
        }),
    }
}

fn with_rules(
    house: &House,
    screen: Screen,
    then: impl FnOnce(&Pack) -> anyhow::Result<ExitCode>,
) -> anyhow::Result<ExitCode> {
    match rules(house.folder.as_deref()) {
        Ok(pack) => then(&pack),
        Err(stop) => stop.tell(screen),
    }
}

fn check(house: &House, spanish: bool, screen: Screen) -> anyhow::Result<ExitCode> {
    let (mut pack, problems) = match proven_rules(house.folder.as_deref()) {
        Ok(found) => found,
        Err(stop) => return stop.tell(screen),
    };
    if !problems.is_empty() {
        tell(&problems.render(screen.err_colour));
    }
    let rows: usize = pack.tables.iter().map(|t| t.rows.len()).sum();
    let mut text = format!(
        "The rules are sound: {} tables, {rows} rows, {} facts ({}).\n",
        pack.tables.len(),
        pack.vocabulary.len(),
        made_with(&pack)
    );
    if house.folder.is_some() {
        if pack.house.is_empty() {
            text += "The folder changes nothing.\n";
        } else {
            text += "Changed by the house rules:\n";
        }
        for change in &pack.house {
            let _ = write!(
                text,
                "  {:<12} {} {}",
                change.what, change.table, change.row
            );
            if !change.because.is_empty() {
                let _ = write!(text, ": {}", change.because);
            }
            text.push('\n');
        }
    }
    let missing = match Overlay::built_in("es")? {
        Some(overlay) => overlay.lay(&mut pack).missing,
        None => Vec::new(),
    };
    match missing.len() {
        0 => text += "Every text has its Spanish.\n",
        n if spanish => {
            let _ = writeln!(text, "Without Spanish ({n}):");
            for name in &missing {
                let _ = writeln!(text, "  {name}");
            }
        }
        n => {
            let _ = writeln!(
                text,
                "{n} {} no Spanish and would stand English in a Spanish paper; `--spanish` lists {}.",
                if n == 1 { "text has" } else { "texts have" },
                if n == 1 { "it" } else { "them" },
            );
        }
    }
    print_all(text.as_bytes())
}

fn list(pack: &Pack) -> String {
    let mut out = String::new();
    for table in &pack.tables {
        let _ = writeln!(
            out,
            "{} ({}): {}",
            table.id,
            kind_of(&table.body),
            table.title
        );
        for row in &table.rows {
            let mark = if row.safety { "!" } else { " " };
            let _ = writeln!(
                out,
                " {mark} {:<28} {} [{}; {}]",
                row.id,
                row.because,
                row.source.source,
                row.source.provenance.words()
            );
        }
    }
    let _ = writeln!(
        out,
        "\nRows marked ! are safety rows; nothing may outvote them.\n{}",
        made_with(pack)
    );
    out
}

fn list_json(pack: &Pack) -> anyhow::Result<String> {
    let tables: Vec<serde_json::Value> = pack
        .tables
        .iter()
        .map(|table| {
            let rows: Vec<serde_json::Value> = table
                .rows
                .iter()
                .map(|row| {
                    let when: serde_json::Map<String, serde_json::Value> = row
                        .when
                        .iter()
                        .map(|c| {
                            let fact = pack.vocabulary.fact(c.fact).id.clone();
                            (fact, c.text.clone().into())
                        })
                        .collect();
                    serde_json::json!({
                        "id": row.id, "when": when, "because": row.because, "plain": row.plain,
                        "source": row.source.source, "provenance": row.source.provenance,
                        "safety": row.safety,
                    })
                })
                .collect();
            serde_json::json!({
                "table": table.id, "title": table.title, "kind": kind_of(&table.body),
                "scope": table.scope, "question": table.question, "rows": rows,
            })
        })
        .collect();
    let all = serde_json::json!({
        "version": env!("CARGO_PKG_VERSION"), "rules": pack.fingerprint, "house": pack.house, "tables": tables,
    });
    Ok(serde_json::to_string_pretty(&all)? + "\n")
}

fn kind_of(body: &Body) -> &'static str {
    match body {
        Body::Grade {
            hit: Hit::First, ..
        } => "grade, first",
        Body::Grade {
            hit: Hit::Unique, ..
        } => "grade, unique",
        Body::Collect => "collect",
        Body::Rank(rank) if rank.evidence => "evidence",
        Body::Rank(_) => "choice",
    }
}

/// The tables and what they need from each other.
fn requirements(pack: &Pack) -> Graph {
    let needs = graph(&pack.vocabulary, &pack.tables);
    let mut at = HashMap::new();
    let mut boxes = Vec::new();
    for node in needs.node_indices() {
        at.insert(node, boxes.len());
        boxes.push(match needs[node] {
            Work::Table(t) => {
                let table = &pack.tables[t];
                let outside = table
                    .inputs
                    .iter()
                    .filter(|f| pack.maker(**f).is_none())
                    .count();
                Tile {
                    id: table.id.clone(),
                    lines: vec![
                        table.title.clone(),
                        format!("{}, {} rows", kind_of(&table.body), table.rows.len()),
                        format!("{outside} facts from outside"),
                    ],
                    shape: Shape::Made,
                }
            }
            Work::Gather(fact) => Tile {
                id: pack.vocabulary.fact(fact).id.clone(),
                lines: vec![pack.vocabulary.fact(fact).name.clone()],
                shape: Shape::Gathered,
            },
        });
    }
    let name = |fact: FactId| pack.vocabulary.fact(fact).name.clone();
    let lines = needs
        .edge_indices()
        .filter_map(|e| {
            let (from, to) = needs.edge_endpoints(e)?;
            Some(Line {
                from: *at.get(&from)?,
                to: *at.get(&to)?,
                word: name(needs[e]),
            })
        })
        .collect();
    Graph {
        title: format!("What the tables need from each other ({})", made_with(pack)),
        boxes,
        lines,
    }
}
