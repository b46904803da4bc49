//! `ringtrue plan`: heights, quantities, the pour, the window, the days and the money of a record.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::{Context, bail};
use jiff::civil::Date;

use crate::plan::{self, Inputs, Stages, forecast, programme};
use crate::record::dates;
use crate::report::view::JobView;
use crate::report::{PlanView, plan_text};
use crate::source::Problems;

use super::output::{Ready, keep, ready};
use super::papers::{Looks, Paper, Press, named};
use super::work::{made_with, read_text};
use super::{Loading, Screen, Work, print_all, tell};

/// Plan the work of a record: heights, what to order, the pour, the best day, the programme, the
/// options with their cost over their life.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  ringtrue plan job.yaml                            the whole plan on the terminal
  ringtrue plan job.yaml --forecast hourly.csv      with the placing window of a saved forecast
  ringtrue plan job.yaml --start 2026-06-08 --ics job.ics
                                                    dates, and a calendar file beside them
  ringtrue plan job.yaml --hours                    with the forecast hour by hour
  ringtrue plan job.yaml -o plan.html               a page, with the pour as a picture
  ringtrue plan job.yaml -o plan.pdf --paper a4     the same as a PDF
  ringtrue plan job.yaml --crew                     the sheet for the crew, on the terminal
  ringtrue plan job.yaml --json                     everything, for machines")]
pub struct Args {
    #[command(flatten)]
    loading: Loading,
    /// Saved hourly forecast, CSV or JSON, instead of the one the record names.
    #[arg(long, value_name = "FILE")]
    forecast: Option<PathBuf>,
    /// First day of work, `YYYY-MM-DD`. Default: the first working day after the inspection.
    #[arg(long, value_name = "DAY")]
    start: Option<String>,
    /// Write the programme as a calendar file too.
    #[arg(long, value_name = "FILE")]
    ics: Option<PathBuf>,
    /// Write the plan as a page for the browser, or as a PDF where the name ends in `.pdf`; `-`
    /// for a page on standard output.
    #[arg(short, long, value_name = "FILE", conflicts_with = "json")]
    output: Option<PathBuf>,
    /// Write over existing files.
    #[arg(long)]
    force: bool,
    /// Print the long tables too: the forecast hour by hour, the data sheets against mass.
    #[arg(long, conflicts_with = "json")]
    hours: bool,
    /// Print the sheet for the crew only.
    #[arg(long, conflicts_with = "json")]
    crew: bool,
    /// Print everything as JSON.
    #[arg(long)]
    json: bool,
    #[command(flatten)]
    looks: Looks,
}

/// Runs the command. Exit code 0 when the plan is made, 1 when the record or the forecast has
/// problems.
pub fn run(args: &Args, screen: Screen) -> anyhow::Result<ExitCode> {
    let start = args.start.as_deref().map(first_day).transpose()?;
    let press = Press::new(&args.looks)?;
    let work = match Work::load_in(&args.loading, press.phrases()) {
        Ok(work) => work,
        Err(stop) => return stop.tell(screen),
    };
    work.tell_warnings(screen);
    let record = &work.loaded.record;
    let path = match (&args.forecast, &record.forecast) {
        (Some(path), _) => Some(path.clone()),
        (None, Some(name)) => Some(work.folder.join(name)),
        (None, None) => None,
    };
    let forecast = match path {
        None => None,
        Some(path) => {
            let mut problems = Problems::default();
            let read = forecast::read(&read_text(&path)?, &mut problems);
            if !problems.is_empty() {
                tell(&problems.render(screen.err_colour));
            }
            if read.is_none() {
                return Ok(ExitCode::from(1));
            }
            read
        }
    };
    let stages = Stages {
        record,
        survey: &work.survey,
        pack: &work.pack,
        assessment: &work.assessment,
        method: &work.method,
    };
    let inputs = Inputs::gather(stages, forecast, start);
    let plan = plan::plan(&inputs, &work.pack.vocabulary).context("the rules lack a figure")?;
    let subtitle = format!(
        "{} · {} · {}",
        record.job.address, record.job.client, record.job.date
    );
    if let Some(path) = &args.ics {
        keep(&[&args.loading.record], path)?;
        if args.output.as_ref() == Some(path) {
            bail!(
                "the calendar and the page can't be one file, {}",
                path.display()
            );
        }
    }
    let calendar = match &args.ics {
        Some(path) => Some(calendar(path, &plan, &inputs, &subtitle, work, args.force)?),
        None => None,
    };
    let put = || calendar.map_or(Ok(()), Ready::put);
    if args.json {
        put()?;
        return print_all(work.json(&plan)?.as_bytes());
    }
    let mut view = if args.crew {
        PlanView::crew_sheet(&plan, record.job.units, &subtitle, press.phrases())
    } else {
        PlanView::build_in(&plan, record.job.units, &subtitle, press.phrases())
    };
    view.rules.clone_from(&work.pack.fingerprint);
    view.house_rules
        .clone_from(&work.assessment.made_with.house_rules);
    if let Some(path) = &args.output {
        let said = write_paper(path, &view, work, &press, args)?;
        put()?;
        return print_all(&said);
    }
    put()?;
    let view = view.turned(&press.phrases().sentences)?;
    let text = plan_text::plan(&view, screen.width, screen.out_colour, args.hours);
    print_all((text + &work.made_lines()).as_bytes())
}

/// The plan with what stands at the head of a paper.
#[derive(serde::Serialize)]
struct Titled<'a> {
    #[serde(flatten)]
    plan: &'a PlanView,
    job: JobView,
}

/// Writes the page, or the PDF where the name asks for one; gives what goes to standard output.
fn write_paper(
    path: &Path,
    view: &PlanView,
    work: &Work,
    press: &Press,
    args: &Args,
) -> anyhow::Result<Vec<u8>> {
    let titled = Titled {
        plan: view,
        job: JobView::of(&work.loaded.record.job),
    };
    let paper = Paper {
        template: "plan",
        view: &titled,
        photos: &[],
        date: titled.job.iso_date.as_deref(),
    };
    let places = press.places(&args.loading.record, Some(path), "", args.force)?;
    if let Some(bytes) = press.write(&paper, Some(path), places.as_deref(), args.force)? {
        return Ok(bytes);
    }
    let written = named(places.as_deref()).unwrap_or_default();
    Ok(format!("wrote {written}\n").into_bytes())
}

fn first_day(text: &str) -> anyhow::Result<Date> {
    dates::day(text).with_context(|| format!("`{text}` is no day; write it as `2026-06-08`"))
}

/// The programme as a calendar file, ready to be put in place.
fn calendar(
    path: &Path,
    plan: &plan::Plan,
    inputs: &Inputs,
    job: &str,
    work: &Work,
    force: bool,
) -> anyhow::Result<Ready> {
    let Some(days) = &plan.days else {
        bail!(
            "no work is specified in this record, so there is no programme to write to {}",
            path.display()
        );
    };
    // The record's day, so that the same record always gives the same file.
    let stamp = inputs.day.unwrap_or(days.start);
    let text = programme::calendar_file(&days.dated, job, &made_with(&work.pack), stamp);
    ready(path, text.as_bytes(), force)
}
