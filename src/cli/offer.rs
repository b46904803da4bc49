//! `ringtrue proposal` and `ringtrue crew`: the paper to sign and the sheet to work from.

use std::path::PathBuf;
use std::process::ExitCode;

use anyhow::Context;
use serde::Serialize;

use crate::plan::{self, Inputs, Plan, Stages, forecast};
use crate::report::{CrewSheet, PlanView, Proposal, View};
use crate::source::Problems;

use super::papers::{Looks, Paper, Press, named};
use super::work::read_text;
use super::{Loading, Screen, Work, print_all, tell};

/// Options of both commands.
#[derive(Debug, clap::Args)]
pub struct Args {
    #[command(flatten)]
    loading: Loading,
    /// Where the paper goes; `-` is standard output. Default: beside the record.
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
    /// Write over an existing file.
    #[arg(long)]
    force: bool,
    #[command(flatten)]
    looks: Looks,
}

/// Which paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Options, scope, exclusions, terms, signatures.
    Proposal,
    /// One page for the people who do the work.
    Crew,
}

/// Runs the command. Exit code 0 when the paper is written, 1 when the record has problems.
pub fn run(args: &Args, kind: Kind, screen: Screen) -> anyhow::Result<ExitCode> {
    let press = Press::new(&args.looks)?;
    let work = match Work::load_in(&args.loading, press.phrases()) {
        Ok(work) => work,
        Err(stop) => return stop.tell(screen),
    };
    work.tell_warnings(screen);
    let sources = work.sources(&[]);
    let mut view = View::build(sources);
    let plan = plan(work, screen)?;
    view.add_plan(&plan, &sources, press.phrases());
    let units = work.loaded.record.job.units;
    match kind {
        Kind::Proposal => {
            let plan = PlanView::build_in(&plan, units, "", press.phrases());
            let paper = Proposal::build(&view, &sources, Some(&plan), press.phrases());
            write(args, &press, "proposal", &paper, &view)
        }
        Kind::Crew => {
            let paper = CrewSheet::build(&view, &sources, Some(&plan), press.phrases());
            write(args, &press, "crew", &paper, &view)
        }
    }
}

fn write<V: Serialize>(
    args: &Args,
    press: &Press,
    template: &str,
    paper: &V,
    view: &View,
) -> anyhow::Result<ExitCode> {
    let output = args.output.as_deref();
    let suffix = format!(".{template}");
    let places = press.places(&args.loading.record, output, &suffix, args.force)?;
    let paper = Paper {
        template,
        view: paper,
        photos: &[],
        date: view.job.iso_date.as_deref(),
    };
    if let Some(bytes) = press.write(&paper, output, places.as_deref(), args.force)? {
        return print_all(&bytes);
    }
    let written = named(places.as_deref()).unwrap_or_default();
    print_all(format!("wrote {written}\n").as_bytes())
}

/// The plan of a record, with its saved forecast if it names one. A forecast that can't be read
/// is told of and left out.
pub(super) fn plan(work: &Work, screen: Screen) -> anyhow::Result<Plan> {
    let record = &work.loaded.record;
    let mut problems = Problems::default();
    let forecast = match &record.forecast {
        None => None,
        Some(name) => match read_text(&work.folder.join(name)) {
            Ok(file) => forecast::read(&file, &mut problems),
            Err(error) => {
                tell(&format!("ringtrue: the forecast is left out: {error:#}\n"));
                None
            }
        },
    };
    if !problems.is_empty() {
        tell(&problems.render(screen.err_colour));
    }
    let stages = Stages {
        record,
        survey: &work.survey,
        pack: &work.pack,
        assessment: &work.assessment,
        method: &work.method,
    };
    let inputs = Inputs::gather(stages, forecast, None);
    plan::plan(&inputs, &work.pack.vocabulary).context("the rules lack a figure")
}
