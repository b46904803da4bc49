//! `ringtrue survey`: many slabs at once.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::{Context, bail};

use crate::inventory::mapping::Mapping;
use crate::inventory::page::page;
use crate::inventory::run::{Target, all_cores, forget};
use crate::inventory::source::{Source, inputs};
use crate::inventory::write::Format;
use crate::inventory::{Judge, Options, made, survey_all, told};

use super::output::{Place, keep, ready, write_stream};
use super::work::{last_day, read_text, rules};
use super::{Screen, print_all, tell};

/// Judge many slabs at once: one result each, and what they add up to.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  ringtrue survey jobs/                                    every record of a folder
  ringtrue survey 'jobs/2026-*.yaml' --page year.html      what a pattern finds, and a page
  ringtrue survey walks.ndjson -o results.ndjson           one panel a line in, one result a line out
  ringtrue survey walks.csv --columns walks.map.yaml -o results.geojson
  ringtrue survey walks.ndjson -o results.parquet          a typed table, in a build with `--features parquet`
  ringtrue survey walks.ndjson -o results.csv --resume     go on after the power went
  cat walks.ndjson | ringtrue survey - -o -                in a pipe
  ringtrue survey --made 100000 --seed 7 -o made.ndjson    an invented inventory to try things on
  ringtrue survey --fields                                 every field a row may have

A row names its panel flat: {\"id\":\"P-1\",\"date\":\"2026-05-14\",\"use\":\"walk\",\"size\":\"5 ft x 5 ft\",
\"kind\":\"lip\",\"offset\":\"3/4 in\"}. A second and third defect are kind_2, offset_2, kind_3 …
Costs are wide bands in US dollars, from the rules' own prices a square foot.

Exit codes: 0 fine, 1 some rows or records were bad and passed over, 2 it could not be done.")]
pub struct Args {
    /// Folders of records, patterns, files of records (.yaml) or rows (.ndjson, .csv), or `-`.
    #[arg(value_name = "INPUT", required_unless_present_any = ["made", "fields"])]
    inputs: Vec<PathBuf>,
    /// Where results go, one a record; `-` is standard output. Default: the summary only.
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
    /// How results are written. Default: by the name of the file, else NDJSON.
    #[arg(long, value_name = "FORMAT")]
    format: Option<Format>,
    /// Which column of a CSV file is which field.
    #[arg(long, value_name = "FILE")]
    columns: Option<PathBuf>,
    /// Write a summary page: counts, costs, worst first, what to find out, a map.
    #[arg(long, value_name = "FILE")]
    page: Option<PathBuf>,
    /// Print the summary as JSON.
    #[arg(long)]
    json: bool,
    /// Workers. Default: one a core. The results are the same for any number.
    #[arg(long, value_name = "N")]
    cores: Option<usize>,
    /// Go on from the last checkpoint of an interrupted run.
    #[arg(long)]
    resume: bool,
    /// Write over existing files.
    #[arg(long)]
    force: bool,
    /// Folder of house rules laid over the built-in ones.
    #[arg(long, value_name = "FOLDER")]
    house_rules: Option<PathBuf>,
    /// Write an invented inventory of so many rows instead, to try things on.
    #[arg(long, value_name = "ROWS", conflicts_with_all = ["inputs", "columns", "resume", "json", "cores"])]
    made: Option<u64>,
    /// Seed of an invented inventory; the same seed gives the same bytes.
    #[arg(long, value_name = "NUMBER", default_value_t = 1)]
    seed: u64,
    /// List every field that a row may have.
    #[arg(long, exclusive = true)]
    fields: bool,
}

/// Runs the command.
///
/// # Errors
/// When an input can't be read or a file can't be written.
pub fn run(args: &Args, screen: Screen) -> anyhow::Result<ExitCode> {
    if let Some(rows) = args.made {
        return make(args, rows);
    }
    let pack = match rules(args.house_rules.as_deref()) {
        Ok(pack) => pack,
        Err(stop) => return stop.tell(screen),
    };
    let judge = Judge::new(pack, last_day()).context("the rules have no verdict for a slab")?;
    if args.fields {
        let list: String = judge
            .fields
            .iter()
            .map(|f| format!("{:<24} {}\n", f.key, f.about))
            .collect();
        return print_all(list.as_bytes());
    }
    let mapping = match &args.columns {
        Some(path) => {
            let text = read_text(path)?;
            let read = Mapping::read(&text.text);
            Some(read.map_err(|e| anyhow::anyhow!("{}: {e}", path.display()))?)
        }
        None => None,
    };
    let sources = inputs(&args.inputs, mapping.is_some())?;
    let file = args.output.as_deref().filter(|p| p.as_os_str() != "-");
    let place = match file {
        Some(path) => Some(apart(path, args.page.as_deref(), &sources, args.force)?),
        None => None,
    };
    let target = match (&place, &args.output) {
        (Some(place), _) => Target::File(place.path().to_owned(), place.before().cloned()),
        (None, Some(_)) => Target::Stdout,
        (None, None) => Target::Nowhere,
    };
    if args.resume && place.is_none() {
        bail!("`--resume` goes on with a file of results; name it with `-o`");
    }
    if args.resume && sources.iter().any(|s| matches!(s, Source::Stdin(_))) {
        bail!("standard input can't be taken up again; give the rows as a file");
    }
    let named = args.output.as_deref().and_then(Format::of_name);
    let format = args.format.or(named).unwrap_or(Format::Ndjson);
    if args.resume && format == Format::Parquet {
        bail!(
            "`--resume` can't go on with Parquet: its last part tells of all before it, so it is written in one go; leave `--resume` away, or write NDJSON, CSV or GeoJSON"
        );
    }
    // Better now than after an hour.
    if let Some(page) = &args.page {
        apart(page, file, &sources, args.force)?;
    }
    let options = Options {
        format,
        cores: args.cores.unwrap_or_else(all_cores),
        resume: args.resume,
        force: args.force,
        tell,
        target,
    };
    let (summary, whole) = survey_all(&judge, &sources, mapping.as_ref(), &options)?;
    // Both lie on the disk before the first is put in place.
    let page = match &args.page {
        Some(path) => {
            let html = page(&judge, &summary)?;
            Some(ready(path, html.as_bytes(), args.force)?)
        }
        None => None,
    };
    if let (Some(place), Some(whole)) = (place, whole) {
        place.take(whole.file, &whole.partial)?.put()?;
        forget(&whole.partial);
    }
    if let Some(page) = page {
        page.put()?;
    }
    let told = if args.json {
        serde_json::to_string_pretty(&told::machine(&judge, &summary))? + "\n"
    } else {
        told::text(&judge, &summary)
    };
    if options.target == Target::Stdout {
        tell(&told);
    } else {
        print_all(told.as_bytes())?;
    }
    Ok(match summary.tally.bad {
        0 => ExitCode::SUCCESS,
        _ => ExitCode::from(1),
    })
}

/// The place of an output that is neither an input nor the other output.
fn apart(
    path: &Path,
    other: Option<&Path>,
    sources: &[Source],
    force: bool,
) -> anyhow::Result<Place> {
    for source in sources {
        match source {
            Source::File(input, _) => keep(&[input], path)?,
            Source::Records(list) => {
                let list: Vec<&Path> = list.iter().map(PathBuf::as_path).collect();
                keep(&list, path)?;
            }
            Source::Stdin(_) => {}
        }
    }
    if other == Some(path) {
        bail!("{} is named for two outputs", path.display());
    }
    Place::find(path, force)
}

/// Writes an invented inventory.
fn make(args: &Args, rows: u64) -> anyhow::Result<ExitCode> {
    let named = args.output.as_deref().and_then(Format::of_name);
    let format = args.format.or(named).unwrap_or(Format::Ndjson);
    if matches!(format, Format::Geojson | Format::Parquet) {
        bail!("an invented inventory is written as NDJSON or CSV");
    }
    match args.output.as_deref().filter(|p| p.as_os_str() != "-") {
        Some(path) => write_stream(path, args.force, |out| {
            made::write(out, rows, args.seed, format)
        })?,
        None => {
            let mut out = std::io::BufWriter::new(std::io::stdout().lock());
            made::write(&mut out, rows, args.seed, format)?;
            std::io::Write::flush(&mut out)?;
        }
    }
    Ok(ExitCode::SUCCESS)
}
