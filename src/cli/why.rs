//! `ringtrue why`: the reasons behind a fact, back to the record's lines.

use std::fmt::Write as _;
use std::path::PathBuf;
use std::process::ExitCode;

use serde_json::json;

use crate::assessment::board;
use crate::facts::Interval;
use crate::report::drawings::graph::{Graph, Line, Shape, Tile};
use crate::rules::{Blocked, RowState, Source, Spot, Standing, Why, why};

use super::output::{keep, write_whole};
use super::spots::spots;
use super::work::made_with;
use super::{Loading, Screen, Work, print_all};

/// The reasons behind a verdict, a grade or a cause, back to the record's lines.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  ringtrue why job.yaml                                  the verdicts of slab and areas
  ringtrue why job.yaml verdict --about A                the verdict of area A
  ringtrue why job.yaml surface_cause --about 3          the cause behind defect 3
  ringtrue why job.yaml verdict --about A --graph a.svg  the same as a picture
  ringtrue why job.yaml verdict --all                    with what does not matter to the answer

Exit codes: 0 answered, 1 the record has problems, 2 no such fact or thing, or unreadable input.")]
pub struct Args {
    #[command(flatten)]
    loading: Loading,
    /// What to explain: a fact such as `verdict`; verdicts when not given.
    #[arg(value_name = "FACT")]
    fact: Option<String>,
    /// What it is about: `area A`, `A`, `defect 3`, `3`, `the slab`. Everything when not given.
    #[arg(long, value_name = "THING")]
    about: Option<String>,
    /// Also show facts without which the answer would stand.
    #[arg(long)]
    all: bool,
    /// Write the reasons as a picture (`.svg`) or in the DOT language (`.dot`).
    #[arg(long, value_name = "FILE")]
    graph: Option<PathBuf>,
    /// Write over an existing file.
    #[arg(short, long, requires = "graph")]
    force: bool,
    /// Print as JSON.
    #[arg(long, conflicts_with = "graph")]
    json: bool,
}

/// Runs the command.
///
/// # Errors
/// When the record can't be read, the fact or thing is not there, or output can't be written.
pub fn run(args: &Args, screen: Screen) -> anyhow::Result<ExitCode> {
    let work = match Work::load(&args.loading) {
        Ok(work) => work,
        Err(stop) => return stop.tell(screen),
    };
    let targets: Vec<Spot> = match &args.fact {
        Some(fact) => spots(work, fact, args.about.as_deref())?,
        None => work.verdicts(),
    };
    let given = board(&work.pack, &work.survey);
    let units = work.loaded.record.job.units;
    let answers: Vec<Why> = targets
        .iter()
        .map(|&t| why(&work.pack, &given, t, units))
        .collect();
    if args.json {
        return print_all(work.json(json!({"answers": answers}))?.as_bytes());
    }
    if let Some(path) = &args.graph {
        let mut drawing = Drawing {
            work,
            all: args.all,
            graph: Graph {
                title: format!("Reasons ({})", made_with(&work.pack)),
                ..Graph::default()
            },
        };
        for answer in &answers {
            drawing.tile(answer, None, "");
        }
        let dot = path.extension().is_some_and(|e| e == "dot" || e == "gv");
        let text = if dot {
            drawing.graph.dot()
        } else {
            drawing.graph.svg()
        };
        keep(&[&args.loading.record], path)?;
        write_whole(path, text.as_bytes(), args.force)?;
        return print_all(format!("{}\n", path.display()).as_bytes());
    }
    let mut teller = Teller {
        work,
        all: args.all,
        out: String::new(),
    };
    for (i, answer) in answers.iter().enumerate() {
        if i > 0 {
            teller.out.push('\n');
        }
        teller.tell(answer, 0);
    }
    if !args.all {
        teller.out.push_str(
            "\nFacts without which the answer would stand are left out; `--all` shows them.\n",
        );
    }
    print_all((teller.out + &work.made_lines()).as_bytes())
}

struct Teller<'a> {
    work: &'a Work,
    all: bool,
    out: String,
}

impl Teller<'_> {
    fn line(&mut self, depth: usize, text: &str) {
        let _ = writeln!(self.out, "{}{text}", "  ".repeat(depth));
    }

    fn tell(&mut self, why: &Why, depth: usize) {
        let mark = match (why.of.firm, &why.source) {
            (false, Source::Made(_) | Source::Gathered { .. }) if !why.of.unknown => " [open]",
            _ => "",
        };
        let shown = match why.source {
            Source::Shown => " (reasons above)",
            _ => "",
        };
        let text = format!(
            "{}: {} = {}{mark}{shown}",
            why.of.about,
            why.of.name,
            self.work.say(&why.of)
        );
        self.line(depth, &text);
        match &why.source {
            Source::Given | Source::Shown => {}
            Source::Gathered { from } => {
                for inner in from {
                    self.part(inner, depth + 1);
                }
            }
            Source::Made(made) => {
                if made.applied == RowState::Silent {
                    self.line(
                        depth + 1,
                        &format!("the table `{}` does not apply here", made.table),
                    );
                }
                for guard in &made.applies {
                    self.part(guard, depth + 1);
                }
                self.standings(&made.standings, depth + 1);
                for row in &made.rows {
                    let verb = if row.certain {
                        "because"
                    } else {
                        "perhaps because"
                    };
                    let pushes: Vec<String> = row
                        .pushes
                        .iter()
                        .map(|p| {
                            if p.rules_out {
                                format!("{} ruled out", p.name)
                            } else {
                                format!("{} {:+}", p.name, p.push)
                            }
                        })
                        .collect();
                    let pushes = if pushes.is_empty() {
                        String::new()
                    } else {
                        format!(" ({})", pushes.join(", "))
                    };
                    self.line(
                        depth + 1,
                        &format!(
                            "{verb}: {}{pushes} [{}; {}]",
                            row.because, row.row, row.source
                        ),
                    );
                    for read in &row.reads {
                        self.part(read, depth + 2);
                    }
                }
                self.blocked(&made.blocked, depth + 1);
            }
        }
    }

    /// Sums of a ranking; without `--all` only of those that may come first and of the next.
    fn standings(&mut self, standings: &[Standing], depth: usize) {
        let leading = standings.iter().filter(|s| s.may_lead).count();
        let most = if self.all {
            standings.len()
        } else {
            leading + 1
        };
        for s in standings.iter().take(most) {
            let sum = if s.out {
                "ruled out".to_owned()
            } else {
                format!("{}, before any sign {}", range(s.score), range(s.prior))
            };
            let mark = if s.may_lead && leading > 1 {
                " (may come first)"
            } else {
                ""
            };
            self.line(depth, &format!("{}: {sum}{mark}", s.name));
        }
    }

    /// Earlier rows that stayed silent, together where one fact kept several from firing.
    fn blocked(&mut self, blocked: &[Blocked], depth: usize) {
        let mut told: Vec<Spot> = Vec::new();
        let all = self.all;
        for b in blocked.iter().filter(|b| all || b.by.needed) {
            let spot = b.by.of.spot;
            if told.contains(&spot) {
                continue;
            }
            told.push(spot);
            let same: Vec<&Blocked> = blocked.iter().filter(|o| o.by.of.spot == spot).collect();
            let by = format!("{} = {}", b.by.of.name, self.work.say(&b.by.of));
            match same[..] {
                [one] => self.line(
                    depth,
                    &format!(
                        "not: {} [{}, wants {}], since {by}",
                        one.because, one.row, one.wants
                    ),
                ),
                _ => {
                    let rows: Vec<&str> = same.iter().map(|o| o.row.as_str()).collect();
                    self.line(
                        depth,
                        &format!(
                            "not {} earlier rows [{}], since {by}",
                            rows.len(),
                            rows.join(", ")
                        ),
                    );
                }
            }
            if !matches!(b.by.source, Source::Given | Source::Shown) {
                self.part(&b.by, depth + 1);
            }
        }
    }

    fn part(&mut self, why: &Why, depth: usize) {
        if self.all || why.needed || !why.of.firm {
            self.tell(why, depth);
        }
    }
}

/// A sum of pushes, signed; minus infinity where it may be ruled out.
fn range(i: Interval) -> String {
    let end = |x: f64| {
        if x.is_finite() {
            format!("{x:+.1}")
        } else {
            "ruled out".to_owned()
        }
    };
    if i.is_exact() {
        end(i.lo)
    } else {
        format!("{} to {}", end(i.lo), end(i.hi))
    }
}

/// The tree as boxes and lines; a fact that several rows read is drawn once.
struct Drawing<'a> {
    work: &'a Work,
    all: bool,
    graph: Graph,
}

impl Drawing<'_> {
    fn tile(&mut self, why: &Why, to: Option<usize>, word: &str) {
        let id = format!("{}/{}", why.of.about, why.of.fact);
        let known = self.graph.boxes.iter().position(|b| b.id == id);
        let at = known.unwrap_or_else(|| {
            self.graph.boxes.push(Tile {
                id,
                lines: vec![
                    format!("{}: {}", why.of.about, why.of.name),
                    self.work.say(&why.of),
                ],
                shape: match (&why.source, why.needed) {
                    (_, false) => Shape::Faint,
                    (Source::Gathered { .. }, _) => Shape::Gathered,
                    (Source::Made(_) | Source::Shown, _) => Shape::Made,
                    (Source::Given, _) => Shape::Given,
                },
            });
            self.graph.boxes.len() - 1
        });
        if let Some(to) = to {
            self.graph.lines.push(Line {
                from: at,
                to,
                word: word.to_owned(),
            });
        }
        match &why.source {
            Source::Given | Source::Shown => {}
            Source::Gathered { from } => {
                for inner in from {
                    self.part(inner, at, "gathered");
                }
            }
            Source::Made(made) => {
                for guard in &made.applies {
                    self.part(guard, at, "applies");
                }
                for row in &made.rows {
                    for read in &row.reads {
                        self.part(read, at, &row.row);
                    }
                }
                for blocked in &made.blocked {
                    if self.all || blocked.by.needed {
                        self.part(&blocked.by, at, &format!("not {}", blocked.row));
                    }
                }
            }
        }
    }

    fn part(&mut self, why: &Why, to: usize, word: &str) {
        if self.all || why.needed || !why.of.firm {
            self.tile(why, Some(to), word);
        }
    }
}
