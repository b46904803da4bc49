//! `ringtrue what-if`: what would come out otherwise if some facts were otherwise.

use std::fmt::Write as _;
use std::process::ExitCode;

use anyhow::{Context, bail};

use crate::assessment::run_rules;
use crate::facts::{FactId, Value};
use crate::method::decide;
use crate::rules::{Flip, RowState, Spot, WhatIf, compare};
use crate::survey::{Survey, suppose};

use super::spots::{fact_id, spots, value_of};
use super::{Loading, Screen, Work, print_all};

/// What would come out otherwise if some facts were otherwise, side by side.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  ringtrue what-if job.yaml deicers=none
  ringtrue what-if job.yaml 'defect 3: loss_depth=1 in' thickness='5 in'
  ringtrue what-if job.yaml 'area A: hollow_share=unknown' --all

What is worked out from a changed fact follows it: shares from sizes, spacings from thickness. A fact
that is itself worked out can be named too, and then it stays as named.

Exit codes: 0 answered, 1 the record has problems, 2 no such fact or value, or unreadable input.")]
pub struct Args {
    #[command(flatten)]
    loading: Loading,
    /// What to take otherwise: `fact=value`, or `thing: fact=value` where there are several.
    #[arg(value_name = "CHANGE", required = true)]
    changes: Vec<String>,
    /// Also show facts in between and rows that fire otherwise.
    #[arg(long)]
    all: bool,
    /// Print as JSON.
    #[arg(long)]
    json: bool,
}

/// Runs the command.
///
/// # Errors
/// When the record can't be read, a change can't be understood, or output is closed.
pub fn run(args: &Args, screen: Screen) -> anyhow::Result<ExitCode> {
    let work = match Work::load(&args.loading) {
        Ok(work) => work,
        Err(stop) => return stop.tell(screen),
    };
    let mut changes = Vec::new();
    for text in &args.changes {
        changes.extend(read_change(work, text).with_context(|| format!("in `{text}`"))?);
    }
    let (answer, survey) = supposing(work, &changes);
    if args.json {
        return print_all(work.json(&answer)?.as_bytes());
    }
    print_all((tell(work, &answer, &survey, args.all) + &work.made_lines()).as_bytes())
}

/// A fact of a thing and its value then.
type Change = ((usize, FactId), Value);

/// Works the record through again with the changes, from the survey to the candidates chosen, and
/// sets the two side by side. Also what the survey finds then.
fn supposing(work: &Work, changes: &[Change]) -> (WhatIf, Survey) {
    let record = &work.loaded.record;
    let supposed = suppose(record, &work.survey, &work.pack.vocabulary, changes);
    let mut survey = supposed.survey;
    let ran = run_rules(&work.pack, &survey);
    let (after, _) = decide(&supposed.record, &mut survey, &work.pack, ran);
    let changed: Vec<Spot> = changes
        .iter()
        .map(|&((thing, fact), _)| Spot { thing, fact })
        .collect();
    let answer = compare(
        &work.pack,
        (&work.ran.board, &work.ran.trail),
        (&after.board, &after.trail),
        &changed,
        record.job.units,
    );
    (answer, survey)
}

/// `fact=value` or `thing: fact=value`.
fn read_change(work: &Work, text: &str) -> anyhow::Result<Vec<Change>> {
    let Some((what, value)) = text.split_once('=') else {
        bail!("write `fact=value`, such as `deicers=none`");
    };
    let (about, fact) = match what.rsplit_once(':') {
        Some((about, fact)) => (Some(about), fact),
        None => (None, what),
    };
    let id = fact_id(&work.pack, fact)?;
    if !work.is_given(crate::rules::Spot { thing: 0, fact: id }) {
        bail!(
            "`{}` is made by the rules; change what it is made from",
            work.pack.vocabulary.fact(id).id
        );
    }
    let value = value_of(&work.pack, id, value)?;
    Ok(spots(work, fact, about)?
        .into_iter()
        .map(|spot| ((spot.thing, spot.fact), value))
        .collect())
}

fn tell(work: &Work, answer: &WhatIf, then: &Survey, all: bool) -> String {
    let mut out = String::from("If\n");
    // Facts from outside are shown as they are, not by the stretch of numbers the rules see.
    let now = |spot: Spot| {
        let declared = work.pack.vocabulary.fact(spot.fact);
        let entry = then.entry(spot.thing, spot.fact);
        let value = entry.map_or(Value::Unknown, |e| e.value);
        work.describer().value(declared, value)
    };
    for f in &answer.changed {
        let _ = writeln!(
            out,
            "  {}: {} were {} instead of {}",
            f.before.about,
            f.before.name,
            now(f.before.spot),
            work.say(&f.before)
        );
    }
    for f in &answer.followed {
        let _ = writeln!(
            out,
            "  and so {}: {} {} instead of {}",
            f.before.about,
            f.before.name,
            now(f.before.spot),
            work.say(&f.before)
        );
    }
    let verdicts = work.verdicts();
    let (main, between): (Vec<&Flip>, Vec<&Flip>) = answer
        .flips
        .iter()
        .partition(|f| verdicts.contains(&f.before.spot));
    if main.is_empty() {
        out.push_str("no verdict would change.\n");
    } else {
        out.push_str("then\n");
        table(&main, &mut out);
    }
    if between.is_empty() {
        return out;
    }
    if all {
        out.push_str("\nOn the way:\n");
        table(&between, &mut out);
        out.push_str("\nRows that fire otherwise:\n");
        for row in &answer.rows {
            let word = |s: RowState| match s {
                RowState::Silent => "silent",
                RowState::May => "may fire",
                RowState::Fires => "fires",
            };
            let _ = writeln!(
                out,
                "  {}: {} [{}]: {} -> {}",
                row.about,
                row.because,
                row.row,
                word(row.before),
                word(row.after)
            );
        }
    } else {
        let _ = writeln!(
            out,
            "{} facts in between would change; `--all` shows them.",
            between.len()
        );
    }
    out
}

/// Facts side by side: now and then.
fn table(flips: &[&Flip], out: &mut String) {
    let what = |f: &Flip| format!("{}: {}", f.before.about, f.before.name);
    let wide = |texts: &mut dyn Iterator<Item = String>| {
        texts.map(|t| t.chars().count()).max().unwrap_or(0).min(44)
    };
    let first = wide(&mut flips.iter().map(|f| what(f)));
    let second = wide(&mut flips.iter().map(|f| f.before.text())).max(3);
    let _ = writeln!(out, "  {:first$}  {:second$}  then", "", "now");
    for f in flips {
        let _ = writeln!(
            out,
            "  {:first$}  {:second$}  {}",
            what(f),
            f.before.text(),
            f.after.text()
        );
    }
}
