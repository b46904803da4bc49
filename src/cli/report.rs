//! `ringtrue report`: the owner's report of a record.

use std::path::PathBuf;
use std::process::ExitCode;

use crate::report::language::Sentences;
use crate::report::{View, photos, text};
use crate::source::Problems;

use super::offer;
use super::papers::{Looks, Paper, Press, named};
use super::{Loading, Screen, Work, print_all, tell};

/// Write the owner's report of a record, and a short summary to the terminal.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  ringtrue report samples/terrace.yaml              report beside the record, as terrace.html
  ringtrue report samples/terrace.yaml -o out.pdf   the same as a PDF, where you say
  ringtrue report job.yaml --format both            page and PDF
  ringtrue report job.yaml --summary                terminal summary only
  ringtrue report job.yaml --json                   everything, for machines
  cat job.yaml | ringtrue report - -o -             page on standard output")]
pub struct Args {
    #[command(flatten)]
    loading: Loading,
    /// Where the report goes; `-` is standard output. Default: beside the record.
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
    /// Write over an existing file.
    #[arg(long)]
    force: bool,
    /// Print the summary only; write no page.
    #[arg(long, conflicts_with_all = ["output", "json"])]
    summary: bool,
    /// Print assessment and method as JSON; write no page.
    #[arg(long, conflicts_with = "output")]
    json: bool,
    #[command(flatten)]
    looks: Looks,
}

/// Runs the command. Exit code 0 when the page is written, 1 when the record has problems.
pub fn run(args: &Args, screen: Screen) -> anyhow::Result<ExitCode> {
    let press = Press::new(&args.looks)?;
    let work = match Work::load_in(&args.loading, press.phrases()) {
        Ok(work) => work,
        Err(stop) => return stop.tell(screen),
    };
    work.tell_warnings(screen);
    if args.json {
        let mut json = serde_json::to_vec_pretty(&serde_json::json!({
            "assessment": work.assessment,
            "method": work.method,
        }))?;
        json.push(b'\n');
        return print_all(&json);
    }
    if args.summary {
        let brief = View::brief(work.sources(&[]));
        let text =
            text::summary(&brief, layout(screen, &work.sentences, None)) + &work.made_lines();
        return print_all(text.as_bytes());
    }
    let output = args.output.as_deref();
    let places = press.places(&args.loading.record, output, "", args.force)?;
    let mut problems = Problems::default();
    // Photos take longest; the plan is worked out meanwhile.
    let (photos, plan) = std::thread::scope(|scope| {
        let photos = scope.spawn(|| photos::load(&work.folder, &work.loaded.record, &mut problems));
        let plan = offer::plan(work, screen);
        (photos.join(), plan)
    });
    let photos = photos.unwrap_or_else(|panic| std::panic::resume_unwind(panic));
    let plan = plan?;
    let problems = photos::not_told(problems, &work.warnings);
    if !problems.is_empty() {
        tell(&problems.render(screen.err_colour));
    }
    let sources = work.sources(&photos);
    let mut view = View::build(sources);
    view.title = press.phrases().say("report_title", &[]);
    view.add_plan(&plan, &sources, press.phrases());
    let paper = Paper {
        template: "report",
        view: &view,
        photos: &photos,
        date: view.job.iso_date.as_deref(),
    };
    if let Some(bytes) = press.write(&paper, output, places.as_deref(), args.force)? {
        return print_all(&bytes);
    }
    let written = named(places.as_deref());
    let text = text::summary(
        &view.into_brief(),
        layout(screen, &work.sentences, written.as_deref()),
    );
    print_all((text + &work.made_lines()).as_bytes())
}

fn layout<'a>(screen: Screen, tongue: &'a Sentences, written: Option<&'a str>) -> text::Layout<'a> {
    text::Layout {
        tongue,
        columns: screen.width,
        colour: screen.out_colour,
        written,
    }
}
