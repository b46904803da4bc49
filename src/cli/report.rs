//! `ringtrue report`: the owner's report of a record.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use crate::report::{self, Sources, View, photos, text};
use crate::source::Problems;

use super::output::write_whole;
use super::{Loading, Screen, Work, print_all};

/// Write the owner's report of a record, and a short summary to the terminal.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  ringtrue report samples/terrace.yaml              report beside the record, as terrace.html
  ringtrue report samples/terrace.yaml -o out.html  report where you say
  ringtrue report job.yaml --summary                terminal summary only
  ringtrue report job.yaml --json                   everything, for machines
  cat job.yaml | ringtrue report - -o -             page on standard output")]
pub struct Args {
    #[command(flatten)]
    loading: Loading,
    /// Where the page goes; `-` is standard output. Default: beside the record, ending in `.html`.
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
}

/// Runs the command. Exit code 0 when the page is written, 1 when the record has problems.
pub fn run(args: &Args, screen: Screen) -> anyhow::Result<ExitCode> {
    let work = match Work::load(&args.loading) {
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
        let view = view(&work, &[]);
        return print_all(text::summary(&view, layout(screen, None)).as_bytes());
    }
    let to_stdout = args.output.as_deref() == Some(Path::new("-"))
        || (args.output.is_none() && args.loading.record == Path::new("-"));
    let path = match &args.output {
        Some(path) => path.clone(),
        None => args.loading.record.with_extension("html"),
    };
    if !to_stdout && !args.force && path.exists() {
        // Said before any work on photos, and again should the file appear meanwhile.
        anyhow::bail!(
            "{} exists already; give `--force` to write over it, or `-o` another name",
            path.display()
        );
    }
    let mut problems = Problems::default();
    let photos = photos::load(&work.folder, &work.loaded.record, &mut problems);
    if !problems.is_empty() {
        eprint!("{}", problems.render(screen.err_colour));
    }
    let view = view(&work, &photos);
    let page = report::html(&view)?;
    if to_stdout {
        return print_all(page.as_bytes());
    }
    write_whole(&path, page.as_bytes(), args.force)?;
    print_all(text::summary(&view, layout(screen, Some(&path.display().to_string()))).as_bytes())
}

fn view(work: &Work, photos: &[photos::Photo]) -> View {
    View::build(Sources {
        record: &work.loaded.record,
        assessment: &work.assessment,
        method: &work.method,
        photos,
        vocabulary: &work.pack.vocabulary,
    })
}

fn layout<'a>(screen: Screen, written: Option<&'a str>) -> text::Layout<'a> {
    text::Layout {
        columns: screen.width,
        colour: screen.out_colour,
        written,
    }
}
