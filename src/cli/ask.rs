//! `ringtrue ask`: what to measure next, and a short interview.

use std::fmt::Write as _;
use std::io::{BufRead, Write as _};
use std::process::ExitCode;

use serde_json::json;

use crate::assessment::{Answering, Given, PLACES, Question as Place, board};
use crate::facts::{Bits, Comes};
use crate::rules::{Asking, Board, Pack, Question, Spot, Trail, ask, exact, run as run_rules};
use crate::units::System;

use super::spots::{cells_of, value_of};
use super::{Loading, Screen, Work, print_all};

/// Runs spent on the exact set of one open verdict.
const RUNS: usize = 600;

/// What to measure next: the open facts that would settle most of what is open for their work.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  ringtrue ask job.yaml                what to measure next, and what each answer would lead to
  ringtrue ask job.yaml --interview    question by question, only what can still change the answer
  ringtrue ask job.yaml --json         for machines

In an interview answer with the number of an answer, with a value such as `3/8 in`, with nothing to
skip the question, or with `stop`.

Exit codes: 0 answered, 1 the record has problems, 2 unreadable input.")]
pub struct Args {
    #[command(flatten)]
    loading: Loading,
    /// Ask the questions one by one.
    #[arg(short, long, conflicts_with = "json")]
    interview: bool,
    /// Most questions to print.
    #[arg(long, value_name = "N", default_value_t = 8)]
    most: usize,
    /// Print as JSON.
    #[arg(long)]
    json: bool,
}

/// Runs the command.
///
/// # Errors
/// When the record can't be read, or output is closed.
pub fn run(args: &Args, screen: Screen) -> anyhow::Result<ExitCode> {
    let work = match Work::load(&args.loading) {
        Ok(work) => work,
        Err(stop) => return stop.tell(screen),
    };
    let given = board(&work.pack, &work.survey);
    if args.interview {
        return interview(work, given);
    }
    let targets = open_verdicts(work, &given);
    let questions = questions(work, &given, &targets, &[], &[]);
    // Where a defect lies is no fact of the rules; it costs next to nothing to say, so it comes first.
    let all = work.assessment.questions.iter();
    let places: Vec<&Place> = all.filter(|q| q.fact == PLACES).collect();
    if args.json {
        let json = json!({"places": places, "questions": questions});
        return print_all(work.json(json)?.as_bytes());
    }
    let told: Vec<String> = (places.iter().map(|q| place(q)))
        .chain(questions.iter().map(tell))
        .collect();
    if told.is_empty() {
        return print_all((nothing_to_ask(&targets).to_owned() + &work.made_lines()).as_bytes());
    }
    let mut out = String::new();
    for (i, told) in told.iter().take(args.most).enumerate() {
        if i > 0 {
            out.push('\n');
        }
        let _ = write!(out, "{}. {told}", i + 1);
    }
    if told.len() > args.most {
        let _ = writeln!(
            out,
            "\n{} more could still change a verdict; `--most {}` shows them.",
            told.len() - args.most,
            told.len()
        );
    }
    print_all((out + &work.made_lines()).as_bytes())
}

/// The question in which panels a defect lies.
fn place(q: &Place) -> String {
    let mut out = headline(&q.about, &q.ask, q.minutes, &q.who, q.wait_days);
    let _ = writeln!(out, "\n   {}", q.measure);
    out += &settles(q.settles);
    for outcome in &q.outcomes {
        let verdicts: Vec<&str> = outcome.verdicts.iter().map(|v| v.name.as_str()).collect();
        let _ = writeln!(
            out,
            "   - {} -> its area: {}",
            outcome.answer,
            verdicts.join(" or ")
        );
    }
    out
}

fn settles(share: f64) -> String {
    if share > 0.0 {
        let percent = share * 100.0;
        format!("   Settles about {percent:.0} % of what is open.\n")
    } else {
        "   Settles nothing alone, but may beside other facts.\n".to_owned()
    }
}

fn nothing_to_ask(open: &[Spot]) -> &'static str {
    if open.is_empty() {
        "Every verdict is firm: nothing that could be measured would change it.\n"
    } else {
        "Verdicts are open, and nothing anyone could be asked would settle them.\n"
    }
}

/// Verdicts of the slab and its areas that are open, exactly where that can be afforded.
fn open_verdicts(work: &Work, board: &Board) -> Vec<Spot> {
    work.verdicts()
        .into_iter()
        .filter(|&spot| exact(&work.pack, board, spot, RUNS).possible.len() > 1)
        .collect()
}

fn answering(work: &Work) -> Answering<'_> {
    Answering {
        record: &work.loaded.record,
        survey: &work.survey,
        pack: &work.pack,
    }
}

fn questions(
    work: &Work,
    board: &Board,
    targets: &[Spot],
    skipped: &[Spot],
    answers: &[Given],
) -> Vec<Question> {
    let may_ask = |spot: Spot| {
        !skipped.contains(&spot)
            && matches!(
                work.pack.vocabulary.fact(spot.fact).comes,
                Comes::Asked | Comes::Survey
            )
    };
    let answer = |board: &Board, spot: Spot, cells: Bits| {
        answering(work).answer(answers, board, spot, cells)
    };
    let alike = answering(work).like(answers);
    let like = |thing: usize| alike.get(thing).copied().unwrap_or(thing);
    let asking = Asking {
        may_ask: &may_ask,
        answer: &answer,
        like: &like,
        system: work.loaded.record.job.units,
        ..Asking::new(&work.pack, targets)
    };
    ask(&work.pack, board, &asking)
}

fn headline(about: &str, ask: &str, minutes: f64, who: &str, wait_days: f64) -> String {
    let mut work = format!("{minutes} min, {who}");
    if wait_days > 0.0 {
        let _ = write!(work, ", {wait_days} days to wait");
    }
    format!("{about}: {ask} ({work})")
}

fn head(q: &Question) -> String {
    headline(&q.about, &q.ask, q.minutes, &q.who, q.wait_days)
}

fn tell(q: &Question) -> String {
    let mut out = head(q) + "\n";
    for caution in &q.cautions {
        let _ = writeln!(out, "   CAUTION: {caution}");
    }
    if !q.measure.is_empty() && q.measure != q.ask {
        let _ = writeln!(out, "   {}", q.measure);
    }
    out += &settles(q.settles);
    for answer in &q.answers {
        let words: Vec<&str> = answer.values.iter().map(|w| w.name.as_str()).collect();
        let leads: Vec<String> = answer
            .leads_to
            .iter()
            .map(|p| format!("{}: {}", p.about, p.text()))
            .collect();
        let likely = if q.weighed {
            format!(
                " (likely by the signs: about {:.0} %)",
                answer.likely * 100.0
            )
        } else {
            String::new()
        };
        let _ = writeln!(
            out,
            "   - {}{likely} -> {}",
            words.join(" or "),
            leads.join("; ")
        );
    }
    out
}

/// Asks question by question on the terminal until every verdict is firm.
fn interview(work: &Work, mut board: Board) -> anyhow::Result<ExitCode> {
    let units = work.loaded.record.job.units;
    let mut skipped: Vec<Spot> = Vec::new();
    let mut answers: Vec<Given> = Vec::new();
    let mut answered: Vec<(Spot, String)> = Vec::new();
    let mut input = std::io::stdin().lock();
    let mut out = std::io::stdout().lock();
    loop {
        let targets = open_verdicts(work, &board);
        let questions = questions(work, &board, &targets, &skipped, &answers);
        let Some(q) = questions.first() else {
            let end = match (targets.is_empty(), skipped.is_empty()) {
                (false, false) => "Verdicts are open; only what was skipped could settle them.",
                _ => nothing_to_ask(&targets).trim_end(),
            };
            writeln!(out, "{end}")?;
            break;
        };
        writeln!(out, "{}", head(q))?;
        for caution in &q.cautions {
            writeln!(out, "  CAUTION: {caution}")?;
        }
        if !q.measure.is_empty() && q.measure != q.ask {
            writeln!(out, "  {}", q.measure)?;
        }
        for (i, answer) in q.answers.iter().enumerate() {
            let words: Vec<&str> = answer.values.iter().map(|w| w.name.as_str()).collect();
            writeln!(out, "  {}  {}", i + 1, words.join(" or "))?;
        }
        write!(out, "> ")?;
        out.flush()?;
        let mut line = String::new();
        if input.read_line(&mut line)? == 0 {
            writeln!(out)?;
            break;
        }
        let answer = line.trim();
        if matches!(answer, "stop" | "quit" | "q") {
            break;
        }
        if matches!(answer, "" | "?" | "unknown" | "skip") {
            skipped.push(q.spot);
            continue;
        }
        let chosen = answer
            .parse::<usize>()
            .ok()
            .and_then(|n| q.answers.get(n.checked_sub(1)?));
        let (cells, value, text) = match chosen {
            Some(a) => {
                let words: Vec<&str> = a.values.iter().map(|w| w.word.as_str()).collect();
                (a.cells, None, words.join(", "))
            }
            None => match value_of(&work.pack, q.spot.fact, answer) {
                Ok(value) => {
                    let cells = cells_of(&work.pack, q.spot.fact, value);
                    (cells, Some(value), answer.to_owned())
                }
                Err(error) => {
                    writeln!(out, "{error:#}")?;
                    continue;
                }
            },
        };
        answers.push(Given {
            spot: q.spot,
            cells,
            value,
        });
        board = answering(work).board(&answers);
        answered.push((q.spot, text));
        writeln!(out)?;
    }
    writeln!(
        out,
        "\n{}",
        summary(&work.pack, work, &board, units).trim_end()
    )?;
    if !answered.is_empty() {
        writeln!(out, "\nTo keep the answers, write them into the record:")?;
        for (spot, text) in &answered {
            writeln!(
                out,
                "  {}: {}: {text}",
                board.label(spot.thing),
                work.pack.vocabulary.fact(spot.fact).id
            )?;
        }
    }
    out.flush()?;
    Ok(ExitCode::SUCCESS)
}

/// The verdicts as they stand.
fn summary(pack: &Pack, work: &Work, given: &Board, units: System) -> String {
    let mut board = given.clone();
    run_rules(pack, &mut board, &mut Trail::default());
    let mut out = String::new();
    for spot in work.verdicts() {
        let cells = exact(pack, given, spot, RUNS).possible;
        let p = pack.possible_cells(&board, spot, cells, units);
        let mark = if p.firm { "firm" } else { "open" };
        let _ = writeln!(out, "{}: {} ({mark})", p.about, p.text());
    }
    out
}
