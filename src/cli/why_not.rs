//! `ringtrue why-not`: what stands in the way of a verdict or candidate, and the smallest change
//! that would let it through.

use std::fmt::Write as _;
use std::process::ExitCode;

use anyhow::{anyhow, bail};

use serde_json::json;

use crate::assessment::board;
use crate::facts::{FactId, Interval};
use crate::rules::{Body, Goal, Obstacle, Possible, RowState, WhyNot, why_not};
use crate::source::nearest;

use super::spots::{fact_id, spots};
use super::{Loading, Screen, Work, print_all};

/// Runs spent on the search for changes of two facts.
const RUNS: usize = 20_000;
/// Changes shown.
const SHOWN: usize = 6;

/// What stands in the way of a verdict or a candidate, and the smallest change that would let it
/// through.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  ringtrue why-not job.yaml thin_resurfacing            why no area gets a thin resurfacing
  ringtrue why-not job.yaml patch --about A             why area A is not patched
  ringtrue why-not job.yaml low_air --of surface_cause --about 3

Exit codes: 0 answered, 1 the record has problems, 2 no such value or thing, or unreadable input.")]
pub struct Args {
    #[command(flatten)]
    loading: Loading,
    /// The value or candidate asked for, such as `patch`.
    #[arg(value_name = "VALUE")]
    value: String,
    /// The fact it is a value of; found by itself where only one fits.
    #[arg(long, value_name = "FACT")]
    of: Option<String>,
    /// What it is about: `area A`, `A`, `defect 3`, `3`. Everything when not given.
    #[arg(long, value_name = "THING")]
    about: Option<String>,
    /// Print as JSON.
    #[arg(long)]
    json: bool,
}

/// Runs the command.
///
/// # Errors
/// When the record can't be read, the value or thing is not there, or output is closed.
pub fn run(args: &Args, screen: Screen) -> anyhow::Result<ExitCode> {
    let work = match Work::load(&args.loading) {
        Ok(work) => work,
        Err(stop) => return stop.tell(screen),
    };
    let value = args.value.trim().replace([' ', '-'], "_");
    let fact = match &args.of {
        Some(of) => fact_id(&work.pack, of)?,
        None => fact_with(work, &value)?,
    };
    let declared = work.pack.vocabulary.fact(fact);
    let Some(index) = declared.value_index(&value) else {
        let hint = nearest(&value, declared.values().iter().map(|v| v.id.as_str()))
            .map_or_else(String::new, |n| format!("; did you mean `{n}`?"));
        bail!("`{}` has no value `{value}`{hint}", declared.id);
    };
    let given = board(&work.pack, &work.survey);
    let units = work.loaded.record.job.units;
    let mut answers = Vec::new();
    for spot in spots(work, &declared.id, args.about.as_deref())? {
        let chosen = Goal::Value { spot, value: index };
        let goals = [candidate(work, fact, index, spot.thing), Some(chosen)];
        // A candidate that is ruled out must first be let in; one that is let in may still lose.
        let mut answer = None;
        for goal in goals.into_iter().flatten() {
            answer = why_not(&work.pack, &given, goal, units, RUNS);
            if answer.as_ref().is_some_and(|a| a.now != RowState::Fires) {
                break;
            }
        }
        answers.extend(answer);
    }
    if args.json {
        return print_all(work.json(json!({"answers": answers}))?.as_bytes());
    }
    let mut out = String::new();
    for (i, answer) in answers.iter().enumerate() {
        if i > 0 {
            out.push('\n');
        }
        tell(work, answer, &mut out);
    }
    print_all((out + &work.made_lines()).as_bytes())
}

/// The fact a value belongs to: a verdict first, else the one made fact that has it.
fn fact_with(work: &Work, value: &str) -> anyhow::Result<FactId> {
    let facts = || {
        work.pack
            .vocabulary
            .facts()
            .filter(|(id, _)| work.pack.maker(*id).is_some())
    };
    let having: Vec<FactId> = facts()
        .filter(|(_, f)| f.value_index(value).is_some())
        .map(|(id, _)| id)
        .collect();
    let verdict = work
        .verdicts()
        .last()
        .map(|s| s.fact)
        .filter(|f| having.contains(f));
    let name = |id: &FactId| work.pack.vocabulary.fact(*id).id.as_str();
    match (verdict, &having[..]) {
        (Some(fact), _) => Ok(fact),
        (None, [one]) => Ok(*one),
        (None, []) => {
            let all = facts().flat_map(|(_, f)| f.values().iter().map(|v| v.id.as_str()));
            let hint =
                nearest(value, all).map_or_else(String::new, |n| format!("; did you mean `{n}`?"));
            Err(anyhow!("no table gives `{value}`{hint}"))
        }
        (None, several) => {
            let names: Vec<&str> = several.iter().map(name).collect();
            bail!(
                "several facts may be `{value}`; say which with `--of`: {}",
                names.join(", ")
            )
        }
    }
}

/// The candidate a value stands for, where a choice table makes the fact.
fn candidate(work: &Work, fact: FactId, bit: usize, thing: usize) -> Option<Goal> {
    work.pack.tables.iter().enumerate().find_map(|(table, t)| {
        let Body::Rank(rank) = &t.body else {
            return None;
        };
        if rank.evidence || rank.gives != Some(fact) {
            return None;
        }
        let contestant = rank.contestants.iter().position(|c| c.bit == bit)?;
        Some(Goal::Candidate {
            table,
            thing,
            contestant,
        })
    })
}

fn tell(work: &Work, answer: &WhyNot, out: &mut String) {
    let state = match answer.now {
        RowState::Fires => "it is, for certain",
        RowState::May => "it may be; not all is known",
        RowState::Silent => "it is not",
    };
    let _ = writeln!(out, "{}: {}: {state}.", answer.about, answer.wanted.name);
    if let Some(instead) = answer
        .instead
        .as_ref()
        .filter(|_| answer.now != RowState::Fires)
    {
        let _ = writeln!(out, "  Now: {} = {}", instead.name, instead.text());
    }
    if !answer.in_the_way.is_empty() {
        out.push_str("  In the way, first thing first:\n");
        for obstacle in &answer.in_the_way {
            tell_obstacle(work, obstacle, 2, out);
        }
    }
    if answer.now == RowState::Fires {
        return;
    }
    if answer.ways.is_empty() {
        let tried = if answer.all_tried {
            "No change of one or two facts would let it through."
        } else {
            "No small change was found that would let it through; more than two facts stand in the way, or too many to try."
        };
        let _ = writeln!(out, "  {tried}");
        return;
    }
    out.push_str("  The smallest changes that would let it through:\n");
    for way in answer.ways.iter().take(SHOWN) {
        let changes: Vec<String> = way
            .changes
            .iter()
            .map(|c| {
                format!(
                    "{}: {} {} instead of {}",
                    c.before.about,
                    c.before.name,
                    c.after.text(),
                    work.say(&c.before)
                )
            })
            .collect();
        let sure = if way.certain { "" } else { " (then it may be)" };
        let open = if way.open {
            " (it may turn out so)"
        } else {
            ""
        };
        let _ = writeln!(out, "    {}{sure}{open}", changes.join("; and "));
    }
    if answer.ways.len() > SHOWN {
        let _ = writeln!(out, "    and {} more", answer.ways.len() - SHOWN);
    }
}

fn tell_obstacle(work: &Work, obstacle: &Obstacle, depth: usize, out: &mut String) {
    let pad = "  ".repeat(depth);
    let reads = |list: &[Possible]| {
        let parts: Vec<String> = list
            .iter()
            .map(|p| format!("{} {}", p.name, work.say(p)))
            .collect();
        match parts.is_empty() {
            true => String::new(),
            false => format!(" ({})", parts.join("; ")),
        }
    };
    let score = |i: &Interval| match i.lo == i.hi {
        true => format!("{}", i.lo),
        false => format!("{} to {}", i.lo, i.hi),
    };
    let _ = match obstacle {
        Obstacle::Condition {
            table,
            row,
            because,
            wants,
            is,
            behind,
        } => {
            let whose = if row.is_empty() {
                format!("the table `{table}` applies only where")
            } else {
                format!("{because} [{row}] wants")
            };
            let done = writeln!(
                out,
                "{pad}{whose} {} {wants}; it is {}",
                is.name,
                work.say(is)
            );
            for inner in behind {
                tell_obstacle(work, inner, depth + 1, out);
            }
            done
        }
        Obstacle::Before {
            row,
            because,
            safety,
            reads: list,
            ..
        } => writeln!(
            out,
            "{pad}{}another row comes first: {because} [{row}]{}",
            if *safety { "(safety) " } else { "" },
            reads(list)
        ),
        Obstacle::RuledOut {
            row,
            because,
            safety,
            certain,
            reads: list,
            ..
        } => writeln!(
            out,
            "{pad}{}{}ruled out: {because} [{row}]{}",
            if *safety { "(safety) " } else { "" },
            if *certain { "" } else { "perhaps " },
            reads(list)
        ),
        Obstacle::Outscored { by, its, own, .. } => writeln!(
            out,
            "{pad}{by} scores {}, this one {}",
            score(its),
            score(own)
        ),
        Obstacle::NoRow { table } => writeln!(out, "{pad}no row of `{table}` gives it"),
        Obstacle::Inside { things } => {
            let parts: Vec<String> = things
                .iter()
                .map(|p| format!("{} {}", p.about, work.say(p)))
                .collect();
            writeln!(out, "{pad}of the things inside: {}", parts.join("; "))
        }
        Obstacle::Given { is } => writeln!(out, "{pad}{} is {}", is.name, work.say(is)),
    };
}
