//! `ringtrue walk`: filling in a record on the slab, question by question.

use std::fs::{File, OpenOptions, TryLockError};
use std::io::{BufRead, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::{Context, bail};

use crate::rules::Pack;
use crate::walk::{Complaint, Entry, Journal, Line, Question, Said, Stage, Take, Walk, said};

use super::output::{sync_folder, write_whole};
use super::say::Talk;
use super::work::{Stop, last_day, read_text, rules, today};
use super::{Loading, Screen};

/// Fill in a record on the slab: asked in the order you walk, every answer kept at once.
#[derive(Debug, clap::Args)]
#[command(after_help = "\
Examples:
  ringtrue walk new-job.yaml      begin a record, or go on with one: only what is missing is asked
  ringtrue walk job.yaml --left   list what is still to be asked, and ask nothing

At a question type the answer as the trade writes it (3/8 in, 4 to 8 mm, 9 %), the number of an
answer, or
  unknown   nobody knows; the record says so, and the rules reckon with it
  ?         how to find it out, and what to take care of
  why       what the answer would settle
  back      take the last answer back
  skip      leave it for another day
  add ...   add a defect, area, stairs, door, edge, joint, photo, reading, levels, patch, outline,
            remark, product, crew or price: `add defect`, `add door back patio`, `add reading 3`;
            `add more` lists what else a record can hold
  verdict   how the verdicts stand
  stop      enough for now; the same command goes on
Words in double quotes are taken as an answer whatever they say.

Every answer is on the disk before the next question is asked: first in a journal beside the record
(.new-job.yaml.walk), then in the record itself. The journal goes when nothing is left to ask.

Exit codes: 0 done or stopped, 1 the record has problems, 2 it can't be read or written.")]
pub struct Args {
    #[command(flatten)]
    loading: Loading,
    /// List what is still to be asked, and ask nothing.
    #[arg(long)]
    left: bool,
}

/// Runs the command.
///
/// # Errors
/// When the record or its journal can't be read or written, or output is closed.
pub fn run(args: &Args, screen: Screen) -> anyhow::Result<ExitCode> {
    if args.loading.record == Path::new("-") {
        bail!("a walk writes into a file; name one");
    }
    let pack = match rules(args.loading.house_rules.as_deref()) {
        Ok(pack) => pack,
        Err(stop) => return stop.tell(screen),
    };
    if args.left {
        return left(args, &pack, screen);
    }
    let (mut disk, mut walk, began) = match Disk::open(&args.loading, &pack) {
        Ok(opened) => opened,
        Err(stop) => return stop.tell(screen),
    };
    let input = std::io::stdin().lock();
    let out = std::io::BufWriter::new(std::io::stdout().lock());
    let mut talk = Talk::new(input, out, screen.out_colour, screen.width);
    talk.gap()?;
    talk.bold("", &began)?;
    talk.dim(
        "",
        "`?` tells how to find an answer, `unknown` is an answer, `back` takes the last one back, `stop` ends and keeps all; `help` for the rest.",
    )?;
    let done = interview(&mut walk, &mut disk, &mut talk)?;
    end(&walk, &mut disk, &mut talk, done)?;
    talk.flush()?;
    Ok(ExitCode::SUCCESS)
}

fn left(args: &Args, pack: &Pack, screen: Screen) -> anyhow::Result<ExitCode> {
    let file = read_text(&args.loading.record)?;
    let folder = Some(args.loading.folder());
    let walk = match Walk::go_on(pack, &file.name, folder, last_day(), &file.text) {
        Ok(walk) => walk,
        Err(problems) => return Stop::Problems(problems).tell(screen),
    };
    let mut out = String::new();
    for q in walk.questions() {
        out += &format!("{}: {}: {}\n", q.stage.name(), q.about, q.ask);
    }
    if out.is_empty() {
        out = "Nothing is left to ask.\n".to_owned();
    }
    super::print_all(out.as_bytes())
}

/// Asks until nothing is left (true) or the person has enough (false).
fn interview<R: BufRead, W: Write>(
    walk: &mut Walk<'_>,
    disk: &mut Disk,
    talk: &mut Talk<R, W>,
) -> anyhow::Result<bool> {
    let mut stage: Option<Stage> = None;
    loop {
        let questions = walk.questions();
        let Some(q) = questions.first() else {
            return Ok(true);
        };
        if stage != Some(q.stage) {
            stage = Some(q.stage);
            talk.gap()?;
            talk.bold("== ", &format!("{} ==", q.stage.name()))?;
        }
        show(q, walk, questions.len(), talk)?;
        // Until something is answered, the same question stands.
        loop {
            let Some(line) = talk.ask()? else {
                return Ok(false);
            };
            let entry = match said(&line) {
                Said::Stop => return Ok(false),
                Said::Answer(text) => walk.answer(q, &text),
                Said::Unknown => walk.unknown(q),
                Said::Skip => walk.skip(q),
                Said::Add(what) => walk.add(&what),
                Said::How => {
                    how(q, talk)?;
                    continue;
                }
                Said::Why => {
                    why(q, talk)?;
                    continue;
                }
                Said::Verdict => {
                    verdict(walk, talk)?;
                    continue;
                }
                Said::Help => {
                    help(talk)?;
                    continue;
                }
                Said::Back => {
                    if let Some(last) = walk.entries().last().cloned() {
                        disk.note(&Line::Back)?;
                        walk.back();
                        disk.write(walk)?;
                        talk.line("  ", &format!("taken back: {}", last.answer))?;
                        stage = None;
                    } else {
                        talk.line("  ", "there is no answer to take back")?;
                        continue;
                    }
                    break;
                }
            };
            match entry.and_then(|e| take(walk, e)) {
                Err(complaint) => tell(&complaint, talk)?,
                Ok((entry, before)) => {
                    disk.note(&Line::Answer(entry))?;
                    disk.write(walk)?;
                    kept(walk, &before, talk)?;
                    break;
                }
            }
        }
    }
}

/// Takes an answer in; gives it back with the warnings there were before it.
fn take(walk: &mut Walk<'_>, entry: Entry) -> Result<(Entry, Vec<String>), Complaint> {
    let before = walk.warnings();
    walk.take(entry.clone())?;
    Ok((entry, before))
}

fn show<R: BufRead, W: Write>(
    q: &Question,
    walk: &Walk<'_>,
    left: usize,
    talk: &mut Talk<R, W>,
) -> std::io::Result<()> {
    talk.gap()?;
    let answered = walk.entries().len();
    talk.dim(
        "",
        &format!("{} · {answered} answered, about {left} to go", q.about),
    )?;
    let mut ask = q.ask.clone();
    if !q.example.is_empty() && q.take != Take::Text {
        ask = format!("{ask}  [{}]", q.example);
    }
    talk.bold("", &ask)?;
    // What may hurt stands where the hands are, not behind a key.
    for caution in &q.cautions {
        talk.alert("  CAUTION: ", caution)?;
    }
    if !q.picks.is_empty() {
        let names: Vec<&str> = q.picks.iter().map(|p| p.name.as_str()).collect();
        if q.take == Take::PanelNames {
            talk.line("  ", &names.join(" "))?;
        } else {
            talk.picks(&names)?;
        }
    }
    Ok(())
}

fn how<R: BufRead, W: Write>(q: &Question, talk: &mut Talk<R, W>) -> std::io::Result<()> {
    for caution in &q.cautions {
        talk.alert("  CAUTION: ", caution)?;
    }
    if q.how.is_empty() {
        talk.line("  ", "Ask, or write what you see.")?;
    } else {
        talk.line("  ", &q.how)?;
    }
    let mut work = Vec::new();
    if q.minutes > 0.0 {
        work.push(format!("about {} min", q.minutes));
    }
    if q.wait_days > 0.0 {
        work.push(format!("{} days to wait for the answer", q.wait_days));
    }
    if let Some(who) = &q.who {
        work.push(format!("by {}", article(who)));
    }
    if !work.is_empty() {
        talk.line("  ", &format!("Takes {}.", work.join(", ")))?;
    }
    if !q.example.is_empty() {
        talk.line("  ", &format!("Written like this: {}", q.example))?;
    }
    Ok(())
}

fn article(who: &str) -> String {
    match who {
        "engineer" => format!("an {who}"),
        _ => format!("a {who}"),
    }
}

fn why<R: BufRead, W: Write>(q: &Question, talk: &mut Talk<R, W>) -> std::io::Result<()> {
    let text = if q.needed {
        "The record can't stand without it."
    } else if q.key.contains(".signs.") && !q.key.ends_with('?') {
        "Its answer can still change a verdict or the cause that leads. If you don't know it, the report says what stays open."
    } else {
        "The report, the quantities or the map need it. If you don't know it, the report says what stays open."
    };
    talk.line("  ", text)
}

fn verdict<R: BufRead, W: Write>(walk: &Walk<'_>, talk: &mut Talk<R, W>) -> std::io::Result<()> {
    let standing = walk.standing();
    if !standing.found {
        return talk.line("  ", &standing.line());
    }
    for (name, values) in &standing.areas {
        let mark = if values.len() == 1 { "firm" } else { "open" };
        talk.line("  ", &format!("{name}: {} ({mark})", values.join(", or ")))?;
    }
    Ok(())
}

fn help<R: BufRead, W: Write>(talk: &mut Talk<R, W>) -> std::io::Result<()> {
    for (word, means) in [
        ("unknown", "nobody knows; the rules reckon with that"),
        ("?", "how to find it out"),
        ("why", "why it is asked"),
        ("back", "take the last answer back"),
        ("skip", "leave it for another day"),
        (
            "add ...",
            "add defect, area, stairs, door, edge, joint, photo, reading, levels, patch, outline, remark, product, crew, price; a part's name or a defect's number may follow; `add more` lists all",
        ),
        ("verdict", "how the verdicts stand"),
        ("stop", "enough for now; all is kept"),
    ] {
        talk.line(&format!("  {word:<9}"), means)?;
    }
    Ok(())
}

fn tell<R: BufRead, W: Write>(complaint: &Complaint, talk: &mut Talk<R, W>) -> std::io::Result<()> {
    talk.alert("  ", &complaint.message)?;
    if !complaint.hint.is_empty() {
        talk.line("  ", &complaint.hint)?;
    }
    Ok(())
}

/// Columns of the bar that fills as the verdicts firm up.
const BAR: usize = 10;

fn kept<R: BufRead, W: Write>(
    walk: &Walk<'_>,
    before: &[String],
    talk: &mut Talk<R, W>,
) -> std::io::Result<()> {
    for warning in walk.warnings().iter().filter(|w| !before.contains(w)) {
        talk.line("  note: ", warning)?;
    }
    let standing = walk.standing();
    if standing.found {
        let full = (standing.firmness() * BAR as f64).round() as usize;
        let bar = format!(
            "{}{}",
            "#".repeat(full),
            ".".repeat(BAR.saturating_sub(full))
        );
        talk.dim("  kept: ", &format!("[{bar}] {}", standing.line()))
    } else {
        talk.dim("  kept: ", &standing.line())
    }
}

fn end<R: BufRead, W: Write>(
    walk: &Walk<'_>,
    disk: &mut Disk,
    talk: &mut Talk<R, W>,
    done: bool,
) -> anyhow::Result<()> {
    let shown = disk.record.display().to_string();
    talk.gap()?;
    let answers = walk.entries().len();
    if answers == 0 && !done {
        disk.close()?;
        talk.line("", "Nothing was answered, and nothing is changed.")?;
        return Ok(());
    }
    if !walk.can_stand() {
        talk.line(
            "",
            &format!(
                "{answers} answers are kept in {}. The record is written once it says who, where, when and what kind of slab. `ringtrue walk {shown}` goes on.",
                disk.journal.display()
            ),
        )?;
        return Ok(());
    }
    if done {
        talk.bold("", "Nothing is left to ask.")?;
    }
    verdict(walk, talk)?;
    for warning in walk.warnings() {
        talk.line("  note: ", &warning)?;
    }
    if done {
        disk.write(walk)?;
        disk.close()?;
        talk.line(
            "",
            &format!("{shown} is complete. Next: ringtrue report {shown}"),
        )?;
    } else {
        talk.line(
            "",
            &format!(
                "{shown} holds all {answers} answers; about {} questions are left. `ringtrue walk {shown}` goes on.",
                walk.questions().len()
            ),
        )?;
    }
    Ok(())
}

/// The record and the journal on disk.
struct Disk {
    record: PathBuf,
    journal: PathBuf,
    file: File,
    /// The record's text as it stands on the disk.
    written: Option<String>,
}

impl Disk {
    /// Opens the journal and the record, brings them together and gives the walk to go on with.
    fn open<'p>(loading: &Loading, pack: &'p Pack) -> Result<(Disk, Walk<'p>, String), Stop> {
        // A link is followed, so that the record behind it is written and not the link replaced.
        let record = match loading.record.is_symlink() {
            true => loading.record.canonicalize().ok(),
            false => None,
        }
        .unwrap_or_else(|| loading.record.clone());
        if record.is_dir() {
            return Err(anyhow::anyhow!("{} is a folder; name a file", record.display()).into());
        }
        let name = record
            .file_name()
            .map_or_else(String::new, |n| n.to_string_lossy().into_owned());
        let journal = record.with_file_name(format!(".{name}.walk"));
        let mut file = OpenOptions::new()
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .open(&journal)
            .with_context(|| format!("can't write the journal {}", journal.display()))?;
        match file.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => {
                return Err(anyhow::anyhow!(
                    "another walk is open on {}; end it first",
                    record.display()
                )
                .into());
            }
            // A file system without locks must not keep a person from working.
            Err(TryLockError::Error(_)) => {}
        }
        let mut bytes = Vec::new();
        file.read_to_end(&mut bytes)
            .with_context(|| format!("can't read {}", journal.display()))?;
        let on_disk = match record.exists() {
            true => Some(read_text(&record)?),
            false => None,
        };
        let shown = loading.record.display().to_string();
        let folder = Some(loading.folder());
        let read = Journal::read(&bytes);
        if read.is_none() && bytes.contains(&b'\n') {
            return Err(anyhow::anyhow!(
                "the journal {} can't be read; move it away to go on with the record alone",
                journal.display()
            )
            .into());
        }
        let mut disk = Disk {
            record,
            journal,
            file,
            written: on_disk.as_ref().map(|f| f.text.to_string()),
        };
        let replayed = |entries: &[Entry], j: &Journal| -> Result<Walk<'p>, Stop> {
            let mut walk = Walk::from(
                pack,
                &shown,
                folder.clone(),
                last_day(),
                j.base.clone(),
                j.fresh,
            )
            .map_err(Stop::Problems)?;
            walk.replay(entries);
            Ok(walk)
        };
        if let Some(j) = &read {
            let walk = replayed(&j.entries, j)?;
            let mut known = match &disk.written {
                None => true,
                Some(text) => text == walk.text(),
            };
            if !known {
                known = disk.written.as_deref() == Some(replayed(&j.before, j)?.text());
            }
            if known {
                disk.cut(j.whole)?;
                disk.write(&walk)?;
                let began = format!(
                    "Going on with {shown}: {} answers are kept.",
                    walk.entries().len()
                );
                return Ok((disk, walk, began));
            }
        }
        // No journal, or the record was changed by hand since: what stands in the file counts.
        let (walk, began) = match &on_disk {
            Some(text) => match Walk::go_on(pack, &shown, folder, last_day(), &text.text) {
                Ok(walk) => (
                    walk,
                    format!("{shown} is there already: only what is missing is asked."),
                ),
                Err(problems) => {
                    // Nothing was answered: leave nothing behind.
                    if read.is_none() {
                        disk.close()?;
                    }
                    return Err(Stop::Problems(problems));
                }
            },
            None => (
                Walk::begin(pack, &shown, today()).map_err(Stop::Problems)?,
                format!("A new record, {shown}."),
            ),
        };
        disk.cut(0)?;
        disk.note(&Line::began(walk.base(), walk.fresh()))?;
        sync_folder(&disk.journal);
        Ok((disk, walk, began))
    }

    /// Cuts the journal to its whole lines and goes on behind them.
    fn cut(&mut self, whole: usize) -> anyhow::Result<()> {
        self.file
            .set_len(whole as u64)
            .and_then(|()| self.file.seek(SeekFrom::End(0)))
            .with_context(|| format!("can't write {}", self.journal.display()))?;
        Ok(())
    }

    /// Adds a line to the journal; it is on the disk when this returns.
    fn note(&mut self, line: &Line) -> anyhow::Result<()> {
        self.file
            .write_all(line.text().as_bytes())
            .and_then(|()| self.file.sync_data())
            .with_context(|| format!("can't write {}", self.journal.display()))
    }

    /// Writes the record whole, if it can stand and has changed.
    fn write(&mut self, walk: &Walk<'_>) -> anyhow::Result<()> {
        if !walk.can_stand() || self.written.as_deref() == Some(walk.text()) {
            return Ok(());
        }
        write_whole(&self.record, walk.text().as_bytes(), true)?;
        self.written = Some(walk.text().to_owned());
        Ok(())
    }

    /// Takes the journal away.
    fn close(&mut self) -> anyhow::Result<()> {
        std::fs::remove_file(&self.journal)
            .with_context(|| format!("can't take away {}", self.journal.display()))
    }
}
