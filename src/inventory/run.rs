//! The run over all inputs: workers take pieces, and put their results down in the order of the
//! input. What is written is complete or bears the name of a part.

use std::fs::{File, OpenOptions, Permissions, TryLockError};
use std::io::{self, BufWriter, IsTerminal, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU8, Ordering};
use std::sync::{Condvar, Mutex, PoisonError};
use std::time::{Duration, Instant};

use serde::{Deserialize, Serialize};
use thiserror::Error;

use super::judge::{Judge, Worker};
use super::mapping::{Columns, Mapping};
use super::row::{Fault, Row};
use super::source::{Feed, LINE, Piece, Position, Source, SourceError, What};
#[cfg(feature = "parquet")]
use super::table::Table;
use super::tally::{FINEST, Tally};
use super::write::{Format, Line};
use crate::facts::{Interval, Value};
use crate::record;
use crate::rules::fnv;
use crate::source::{Limits, NOT_UTF8, SAVE_IT, Severity, SourceFile, utf8};
use crate::survey::{Survey, survey};

/// Time between two checkpoints.
const CHECKPOINT: Duration = Duration::from_secs(1);
/// Time between two lines of progress.
const PROGRESS: Duration = Duration::from_millis(200);

/// Where results go.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Target {
    /// Nowhere: the summary alone is wanted.
    Nowhere,
    /// Standard output.
    Stdout,
    /// Beside the file of this name, which they get when they are put in place, under the same name
    /// with `.partial` behind it; for those who could read the file before.
    File(PathBuf, Option<Permissions>),
}

/// How to run.
#[derive(Debug, Clone)]
pub struct Options {
    /// Where results go.
    pub target: Target,
    /// How they are written.
    pub format: Format,
    /// Workers.
    pub cores: usize,
    /// Go on from the last checkpoint of an interrupted run.
    pub resume: bool,
    /// Begin anew over what an interrupted run left.
    pub force: bool,
    /// Tells whoever runs this what can't wait for the end: bad rows and progress.
    pub tell: fn(&str),
}

/// Results that lie on the disk, whole, and bear the name of a part still.
#[derive(Debug)]
pub struct Whole {
    /// The file, locked as long as it is open.
    pub file: File,
    /// Its name.
    pub partial: PathBuf,
}

/// Takes away the checkpoint of results that are in their place now.
pub fn forget(partial: &Path) {
    // One that stays is harmless: without its part it counts for nothing.
    let _ = std::fs::remove_file(state_of(partial));
}

/// Whether a file could not be written for want of room.
pub fn no_room(error: &io::Error) -> bool {
    matches!(
        error.kind(),
        io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded | io::ErrorKind::FileTooLarge
    )
}

/// Why a run ended early.
#[derive(Debug, Error)]
pub enum RunError {
    /// An input can't be read.
    #[error(transparent)]
    Source(#[from] SourceError),
    /// Results can't be written.
    #[error("{} {what}", if no_room(.source) { "no room to write" } else { "can't write" })]
    Write {
        /// The file.
        what: String,
        /// What the system said.
        source: io::Error,
    },
    /// Parquet is not built in.
    #[error(
        "this program was built without Parquet: build it with `--features parquet` (`cargo install --path . --features parquet`), or write NDJSON, CSV or GeoJSON"
    )]
    NoParquet,
    /// A file stands in the way.
    #[error("{0}")]
    InTheWay(String),
    /// The interrupted run was another one.
    #[error("can't go on from {state}: {why}; give `--force` without `--resume` to begin anew")]
    OtherRun {
        /// The checkpoint.
        state: String,
        /// What differs.
        why: String,
    },
    /// It ended early, and can be taken up again.
    #[error(
        "the survey stopped; what was done so far is in {partial}: when this is mended, give the same command with `--resume` to go on"
    )]
    Stopped {
        /// Where the results so far are.
        partial: String,
        /// Why.
        source: Box<RunError>,
    },
}

/// What a run came to.
#[derive(Debug, Clone)]
pub struct Summary {
    /// What the results add up to.
    pub tally: Tally,
    /// Time of this run, without that of an interrupted one before it.
    pub took: Duration,
    /// Rows of this run alone.
    pub rows: u64,
}

/// A checkpoint: everything needed to go on.
#[derive(Debug, Serialize, Deserialize)]
struct State {
    made_with: String,
    inputs: String,
    format: Format,
    position: Position,
    bytes: u64,
    tally: Tally,
}

fn state_of(partial: &Path) -> PathBuf {
    beside(partial, ".state")
}

fn beside(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(ending);
    PathBuf::from(name)
}

/// The inputs as they are now, so that a run is not taken up with others.
fn identity(sources: &[Source], mapping: Option<&Mapping>) -> String {
    let mut text = format!("{mapping:?}");
    let mut add = |path: &Path, kind: &dyn std::fmt::Debug| {
        let about = std::fs::metadata(path).ok();
        let changed = about.as_ref().and_then(|m| m.modified().ok());
        let size = about.map(|m| m.len());
        text += &format!("{path:?} {kind:?} {size:?} {changed:?}\n");
    };
    for source in sources {
        match source {
            Source::File(path, rows) => add(path, rows),
            Source::Records(list) => list.iter().for_each(|path| add(path, &"record")),
            Source::Stdin(rows) => add(Path::new("-"), rows),
        }
    }
    format!("{:016x}", fnv(text.bytes()))
}

/// Surveys all inputs. Results for a file are whole then and on the disk, but not in their place.
///
/// # Errors
/// An input that can't be read or a file that can't be written. A bad row or record is no error: it
/// is told, counted, and passed over.
pub fn survey_all(
    judge: &Judge,
    sources: &[Source],
    mapping: Option<&Mapping>,
    options: &Options,
) -> Result<(Summary, Option<Whole>), RunError> {
    if options.format == Format::Parquet && !cfg!(feature = "parquet") {
        return Err(RunError::NoParquet);
    }
    let begun = Instant::now();
    let made_with = judge.made_with.clone();
    let inputs = identity(sources, mapping);
    let mut out = Output::open(options, &made_with, &inputs, sources)?;
    let mut position = Position::default();
    let mut tally = Tally::new(FINEST);
    if let Some(state) = out.state.take() {
        position = state.position;
        tally = state.tally;
    } else {
        out.put(options.format.head().as_bytes())?;
    }
    let before = tally.read;
    let feed = Mutex::new(Feed::new(sources, mapping, &judge.fields, position));
    let level = AtomicU8::new(tally.level);
    let sink = Mutex::new(Sink {
        next: 0,
        first: tally.judged() == 0,
        out,
        tally,
        failed: None,
        kept: Instant::now(),
        told: Instant::now(),
        begun,
        before,
        start: position.done,
        size: Feed::size(sources),
        progress: io::stderr().is_terminal(),
        tell: options.tell,
        format: options.format,
        made_with,
        inputs,
        position,
    });
    let turn = Condvar::new();
    std::thread::scope(|scope| {
        for _ in 0..options.cores.max(1) {
            scope.spawn(|| {
                let mut hand = Hand {
                    judge,
                    worker: Worker::default(),
                    format: options.format,
                    out: Vec::new(),
                    told: String::new(),
                    level: &level,
                };
                loop {
                    let piece = {
                        let mut feed = feed.lock().unwrap_or_else(PoisonError::into_inner);
                        feed.next_piece()
                    };
                    let piece = match piece {
                        Ok(Some(piece)) => piece,
                        Ok(None) => return,
                        Err(error) => {
                            let mut sink = sink.lock().unwrap_or_else(PoisonError::into_inner);
                            sink.failed.get_or_insert(error.into());
                            turn.notify_all();
                            return;
                        }
                    };
                    let tally = hand.work(&piece);
                    let mut sink = sink.lock().unwrap_or_else(PoisonError::into_inner);
                    while sink.next != piece.number && sink.failed.is_none() {
                        sink = turn.wait(sink).unwrap_or_else(PoisonError::into_inner);
                    }
                    if sink.failed.is_some() {
                        turn.notify_all();
                        return;
                    }
                    if let Err(error) = sink.take(&piece, &hand.out, &hand.told, tally) {
                        sink.failed = Some(error);
                        turn.notify_all();
                        return;
                    }
                    level.store(sink.tally.level, Ordering::Relaxed);
                    turn.notify_all();
                }
            });
        }
    });
    let mut sink = sink.into_inner().unwrap_or_else(PoisonError::into_inner);
    if sink.progress {
        (options.tell)("\r\x1b[K");
    }
    let ended = match sink.failed.take() {
        Some(error) => Err(error),
        // From here on there is nothing left to do but to put the results in place.
        None => sink
            .checkpoint()
            .and_then(|()| sink.out.end(options.format))
            .and_then(|()| sink.out.settle()),
    };
    if let Err(error) = ended {
        return Err(sink.out.stopped(error));
    }
    let summary = Summary {
        rows: sink.tally.read - before,
        tally: sink.tally,
        took: begun.elapsed(),
    };
    Ok((summary, sink.out.whole()))
}

/// What results are written to.
enum To {
    Nowhere,
    Stdout(BufWriter<io::Stdout>),
    File(BufWriter<File>),
}

struct Output {
    what: String,
    to: To,
    bytes: u64,
    partial: PathBuf,
    state: Option<State>,
    can_resume: bool,
    #[cfg(feature = "parquet")]
    table: Option<Table>,
}

/// Room of a buffer, bytes.
const BUFFER: usize = 64 * 1024;

impl Output {
    fn open(
        options: &Options,
        made_with: &str,
        inputs: &str,
        sources: &[Source],
    ) -> Result<Output, RunError> {
        let mut out = Output {
            what: "standard output".to_owned(),
            to: To::Nowhere,
            bytes: 0,
            partial: PathBuf::new(),
            state: None,
            // The foot of a Parquet file tells of every row before it: it is written in one go.
            can_resume: options.format != Format::Parquet
                && !sources.iter().any(|s| matches!(s, Source::Stdin(_))),
            #[cfg(feature = "parquet")]
            table: None,
        };
        #[cfg(feature = "parquet")]
        if options.format == Format::Parquet && options.target != Target::Nowhere {
            out.table = Some(Table::new(made_with).map_err(|e| out.failed(io::Error::other(e)))?);
        }
        let (path, before) = match &options.target {
            Target::Nowhere => return Ok(out),
            Target::Stdout => {
                out.to = To::Stdout(BufWriter::with_capacity(BUFFER, io::stdout()));
                return Ok(out);
            }
            Target::File(path, before) => (path, before),
        };
        out.what = path.display().to_string();
        out.partial = beside(path, ".partial");
        let (partial, state) = (out.partial.clone(), state_of(&out.partial));
        let left = match OpenOptions::new().write(true).open(&partial) {
            Ok(file) => Some(file),
            Err(e) if e.kind() == io::ErrorKind::NotFound => None,
            Err(e) => return Err(out.failed(e)),
        };
        if let Some(file) = &left {
            out.lock(file)?;
        }
        let file = match left {
            Some(mut file) if options.resume && state.exists() => {
                let other = |why| RunError::OtherRun {
                    state: state.display().to_string(),
                    why,
                };
                let found = read_state(&state, made_with, inputs, options.format).map_err(other)?;
                let long = file.metadata().map_err(|e| out.failed(e))?.len();
                if long < found.bytes {
                    let why = format!("{} is shorter than it says", partial.display());
                    return Err(other(why));
                }
                file.set_len(found.bytes)
                    .and_then(|()| io::Seek::seek(&mut file, io::SeekFrom::End(0)))
                    .map_err(|e| out.failed(e))?;
                out.bytes = found.bytes;
                out.state = Some(found);
                file
            }
            left => {
                if left.is_some() && !options.force && !options.resume {
                    let go_on = match out.can_resume {
                        true => "`--resume` to go on with it, or ",
                        false => "",
                    };
                    return Err(RunError::InTheWay(format!(
                        "{} is left from an interrupted run; give {go_on}`--force` to begin anew",
                        partial.display()
                    )));
                }
                // Never written into: it may be a link, or a second name of a whole file.
                for old in [&state, &partial] {
                    match std::fs::remove_file(old) {
                        Err(e) if e.kind() != io::ErrorKind::NotFound => {
                            return Err(out.failed(e));
                        }
                        _ => {}
                    }
                }
                let new = OpenOptions::new()
                    .write(true)
                    .create_new(true)
                    .open(&partial);
                let file = new.map_err(|e| out.failed(e))?;
                out.lock(&file)?;
                // A file system without modes keeps what it has.
                if let Some(before) = before {
                    let _ = file.set_permissions(before.clone());
                }
                file
            }
        };
        out.to = To::File(BufWriter::with_capacity(BUFFER, file));
        Ok(out)
    }

    /// Holds a part for this run alone. Where the file system has no locks it goes without.
    fn lock(&self, file: &File) -> Result<(), RunError> {
        match file.try_lock() {
            Err(TryLockError::WouldBlock) => Err(RunError::InTheWay(format!(
                "{} is being written by another run; wait for it, or name another file with `-o`",
                self.partial.display()
            ))),
            _ => Ok(()),
        }
    }

    fn failed(&self, source: io::Error) -> RunError {
        RunError::Write {
            what: self.what.clone(),
            source,
        }
    }

    /// Puts results as a worker wrote them.
    fn add(&mut self, results: &[u8]) -> Result<(), RunError> {
        #[cfg(feature = "parquet")]
        if let Some(table) = &mut self.table {
            let ready = table.add(results);
            return self.put_ready(ready);
        }
        self.put(results)
    }

    /// Puts what stands behind the last result.
    fn end(&mut self, format: Format) -> Result<(), RunError> {
        #[cfg(feature = "parquet")]
        if let Some(table) = &mut self.table {
            let ready = table.end();
            return self.put_ready(ready);
        }
        self.put(format.tail().as_bytes())
    }

    #[cfg(feature = "parquet")]
    fn put_ready(&mut self, ready: parquet::errors::Result<Vec<u8>>) -> Result<(), RunError> {
        let ready = ready.map_err(|e| self.failed(io::Error::other(e)))?;
        self.put(&ready)
    }

    fn put(&mut self, bytes: &[u8]) -> Result<(), RunError> {
        self.bytes += bytes.len() as u64;
        let put = match &mut self.to {
            To::Nowhere => Ok(()),
            To::Stdout(out) => out.write_all(bytes),
            To::File(out) => out.write_all(bytes),
        };
        put.map_err(|e| self.failed(e))
    }

    /// Everything put so far is on the disk.
    fn settle(&mut self) -> Result<(), RunError> {
        let settled = match &mut self.to {
            To::Nowhere => Ok(()),
            To::Stdout(out) => out.flush(),
            To::File(out) => out.flush().and_then(|()| out.get_ref().sync_all()),
        };
        settled.map_err(|e| self.failed(e))
    }

    /// Whether checkpoints are of use.
    fn keeps(&self) -> bool {
        self.can_resume && matches!(self.to, To::File(_))
    }

    fn checkpoint(&mut self, state: &State) -> Result<(), RunError> {
        self.settle()?;
        let path = state_of(&self.partial);
        let new = beside(&path, ".new");
        let write = || {
            let mut file = BufWriter::new(File::create(&new)?);
            serde_json::to_writer(&mut file, state)?;
            file.flush()?;
            file.get_ref().sync_all()?;
            drop(file);
            std::fs::rename(&new, &path)
        };
        write().map_err(|e| {
            let _ = std::fs::remove_file(&new);
            self.failed(e)
        })
    }

    /// What a run that ended early leaves: a part that can be taken up again, or nothing.
    fn stopped(self, error: RunError) -> RunError {
        if self.keeps() && state_of(&self.partial).exists() {
            return RunError::Stopped {
                partial: self.partial.display().to_string(),
                source: Box::new(error),
            };
        }
        if matches!(self.to, To::File(_)) {
            let _ = std::fs::remove_file(&self.partial);
        }
        error
    }

    /// Results that were settled.
    fn whole(self) -> Option<Whole> {
        match self.to {
            To::File(out) => Some(Whole {
                // Nothing is left in the buffer.
                file: out.into_parts().0,
                partial: self.partial,
            }),
            _ => None,
        }
    }
}

fn read_state(path: &Path, made_with: &str, inputs: &str, format: Format) -> Result<State, String> {
    let text = std::fs::read(path).map_err(|e| e.to_string())?;
    let state: State =
        serde_json::from_slice(&text).map_err(|e| format!("it is no checkpoint ({e})"))?;
    if state.made_with != made_with {
        return Err(format!(
            "it was made with {}, this is {made_with}",
            state.made_with
        ));
    }
    if state.inputs != inputs {
        return Err("the inputs are others, or have changed".to_owned());
    }
    if state.format != format {
        return Err(format!(
            "its results are {}, not {}",
            state.format.name(),
            format.name()
        ));
    }
    Ok(state)
}

struct Sink {
    next: u64,
    /// Whether no result was put yet.
    first: bool,
    out: Output,
    tally: Tally,
    failed: Option<RunError>,
    kept: Instant,
    told: Instant,
    begun: Instant,
    before: u64,
    start: u64,
    size: Option<u64>,
    progress: bool,
    tell: fn(&str),
    format: Format,
    made_with: String,
    inputs: String,
    position: Position,
}

impl Sink {
    fn take(
        &mut self,
        piece: &Piece,
        out: &[u8],
        told: &str,
        tally: Tally,
    ) -> Result<(), RunError> {
        if !told.is_empty() {
            if self.progress {
                (self.tell)("\r\x1b[K");
            }
            (self.tell)(told);
        }
        // Every result comes with what stands between; the very first needs none.
        let skip = if self.first && !out.is_empty() {
            self.first = false;
            self.format.between().len()
        } else {
            0
        };
        self.out.add(out.get(skip..).unwrap_or_default())?;
        self.tally.merge(tally);
        self.next += 1;
        self.position = piece.end;
        if self.kept.elapsed() >= CHECKPOINT {
            self.checkpoint()?;
            self.kept = Instant::now();
        }
        if self.progress && self.told.elapsed() >= PROGRESS {
            self.told = Instant::now();
            self.tell(piece.end.done);
        }
        Ok(())
    }

    fn checkpoint(&mut self) -> Result<(), RunError> {
        if !self.out.keeps() {
            return Ok(());
        }
        let state = State {
            made_with: self.made_with.clone(),
            inputs: self.inputs.clone(),
            format: self.format,
            position: self.position,
            bytes: self.out.bytes,
            tally: self.tally.clone(),
        };
        self.out.checkpoint(&state)
    }

    fn tell(&self, done: u64) {
        let seconds = self.begun.elapsed().as_secs_f64().max(1e-3);
        let rate = (self.tally.read - self.before) as f64 / seconds;
        let left = self.size.map_or(String::new(), |size| {
            let behind = done.saturating_sub(self.start).max(1) as f64;
            let ahead = size.saturating_sub(done) as f64;
            format!(", about {:.0} s left", ahead / behind * seconds)
        });
        (self.tell)(&format!(
            "\r\x1b[K  {} slabs, {rate:.0} a second{left}",
            self.tally.read
        ));
    }
}

/// A worker with its buffers.
struct Hand<'a> {
    judge: &'a Judge,
    worker: Worker,
    format: Format,
    out: Vec<u8>,
    told: String,
    level: &'a AtomicU8,
}

impl Hand<'_> {
    fn work(&mut self, piece: &Piece) -> Tally {
        self.out.clear();
        self.told.clear();
        let mut tally = Tally::new(self.level.load(Ordering::Relaxed));
        match &piece.what {
            What::Files(files) => {
                for path in files {
                    tally.read += 1;
                    self.file(path, &mut tally);
                }
            }
            What::Lines {
                name,
                first,
                text,
                cut,
                columns,
            } => match columns {
                None => self.ndjson(name, *first, text, *cut, &mut tally),
                Some(columns) => self.csv(name, *first, text, *cut, columns, &mut tally),
            },
        }
        tally
    }

    fn ndjson(&mut self, name: &str, first: u64, text: &[u8], cut: bool, tally: &mut Tally) {
        let mut lines = text.split(|b| *b == b'\n').zip(first..).peekable();
        while let Some((line, number)) = lines.next() {
            let is_last = lines.peek().is_none();
            if line.iter().all(u8::is_ascii_whitespace) {
                continue;
            }
            tally.read += 1;
            let line = if number == 1 {
                line.strip_prefix(b"\xef\xbb\xbf").unwrap_or(line)
            } else {
                line
            };
            let judge = self.judge;
            let read = text_of(line, cut && is_last);
            match read.and_then(|line| Ok((line, Row::read(&judge.fields, line)?))) {
                Ok((line, row)) => self.row(name, number, line, &row, tally),
                Err(fault) => self.fault(name, number, &fault, tally),
            }
        }
    }

    fn csv(
        &mut self,
        name: &str,
        first: u64,
        text: &[u8],
        cut: bool,
        columns: &Columns,
        tally: &mut Tally,
    ) {
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .from_reader(text);
        let (mut cells, mut bytes) = (csv::StringRecord::new(), csv::ByteRecord::new());
        let mut arena = String::new();
        loop {
            let start = reader.position().clone();
            // Reading from memory fails at nothing but the end.
            if !reader.read_byte_record(&mut bytes).unwrap_or(false) {
                return;
            }
            let at = bytes.position().unwrap_or(&start);
            let number = first + at.line() - 1;
            let end = usize::try_from(reader.position().byte()).unwrap_or(text.len());
            let from = usize::try_from(at.byte()).unwrap_or(0);
            let line = text.get(from..end).unwrap_or_default();
            if bytes.iter().all(|c| c.iter().all(u8::is_ascii_whitespace)) {
                continue;
            }
            tally.read += 1;
            let judge = self.judge;
            let fault = match text_of(line, cut && end >= text.len()) {
                Err(fault) => Some(fault),
                Ok(line) => {
                    // The line is UTF-8, and so are its cells.
                    cells = csv::StringRecord::from_byte_record(std::mem::take(&mut bytes))
                        .unwrap_or_default();
                    let placed = columns.texts(&cells, &mut arena);
                    match columns.row(&placed, &arena, cells.len(), line, &judge.fields) {
                        Ok(row) => {
                            self.row(name, number, line, &row, tally);
                            None
                        }
                        Err(fault) => Some(in_line(fault, line)),
                    }
                }
            };
            if let Some(fault) = fault {
                self.fault(name, number, &fault, tally);
            }
            bytes = std::mem::take(&mut cells).into_byte_record();
        }
    }

    fn row(&mut self, name: &str, number: u64, line: &str, row: &Row<'_>, tally: &mut Tally) {
        let Some(outcome) = self.worker.judge(self.judge, row) else {
            for fault in self.judge.faults(row, line) {
                self.tell(name, number, &in_line(fault, line));
            }
            let told = self.last_told();
            tally.add_bad(&told);
            return;
        };
        let numbered;
        let id = match row.id {
            Some(id) => id,
            None => {
                numbered = format!("\"line {number}\"");
                &numbered
            }
        };
        let (surface, damaged) = self.worker.surfaces(self.judge, row);
        let cost = outcome.cost(surface, damaged);
        let at = row.lat.zip(row.lon);
        // What came as text is written as the number it is.
        let text = |(raw, x): (&str, f64)| match raw.starts_with('"') {
            true => x.to_string(),
            false => raw.to_owned(),
        };
        let owned;
        let shown = match at {
            Some((lat, lon)) if lat.0.starts_with('"') || lon.0.starts_with('"') => {
                owned = (text(lat), text(lon));
                Some((owned.0.as_str(), owned.1.as_str()))
            }
            Some((lat, lon)) => Some((lat.0, lon.0)),
            None => None,
        };
        self.out.extend_from_slice(self.format.between().as_bytes());
        Line {
            id,
            outcome: &outcome,
            made_with: &self.judge.made_with,
            cost,
            at: shown,
        }
        .write(self.format, &mut self.out);
        let at = at.map(|(lat, lon)| (lat.1, lon.1));
        tally.add(self.judge, &outcome, tally.read, id, cost, at);
    }

    fn file(&mut self, path: &Path, tally: &mut Tally) {
        let name = path.display().to_string();
        let file = match read_record(path, &name) {
            Ok(text) => SourceFile::new(name.as_str(), text),
            Err(why) => {
                self.told.push_str(&format!("{why}\n"));
                tally.add_bad(&why);
                return;
            }
        };
        let vocabulary = &self.judge.pack.vocabulary;
        let (loaded, problems) = record::read(
            &file,
            path.parent(),
            self.judge.last_day(),
            Some(vocabulary),
        );
        let Some(loaded) = loaded else {
            let errors = problems.to_plain();
            let wrong = problems.iter().filter(|p| p.severity == Severity::Error);
            self.told.push_str(&errors);
            let first = wrong.map(|p| p.message.as_str()).next().unwrap_or("");
            tally.add_bad(&format!("{name}: {first}"));
            return;
        };
        let survey = survey(&loaded.record, vocabulary);
        let outcome = self.judge.outcome(&survey, &mut self.worker.memo);
        let (surface, damaged) = surfaces(&survey, vocabulary);
        let cost = outcome.cost(surface, damaged);
        let id = serde_json::Value::from(name).to_string();
        let at = loaded.record.site.coordinates;
        let text = at.map(|[lat, lon]| (lat.to_string(), lon.to_string()));
        self.out.extend_from_slice(self.format.between().as_bytes());
        Line {
            id: &id,
            outcome: &outcome,
            made_with: &self.judge.made_with,
            cost,
            at: text.as_ref().map(|(a, b)| (a.as_str(), b.as_str())),
        }
        .write(self.format, &mut self.out);
        let at = at.map(|[lat, lon]| (lat, lon));
        tally.add(self.judge, &outcome, tally.read, &id, cost, at);
    }

    fn fault(&mut self, name: &str, number: u64, fault: &Fault, tally: &mut Tally) {
        self.tell(name, number, fault);
        let told = self.last_told();
        tally.add_bad(&told);
    }

    /// The last line told.
    fn last_told(&self) -> String {
        let told = self.told.trim_end_matches('\n');
        told.rsplit('\n').next().unwrap_or("").to_owned()
    }

    fn tell(&mut self, name: &str, number: u64, fault: &Fault) {
        let column = fault.column.map_or(String::new(), |c| format!(":{c}"));
        let key = fault
            .key
            .as_ref()
            .map_or(String::new(), |k| format!("`{k}`: "));
        let hint = match fault.hint.as_str() {
            "" => String::new(),
            hint => format!(" ({hint})"),
        };
        let told = format!(
            "{name}:{number}{column}: {key}{}: {}{hint}\n",
            fault.message, fault.text
        );
        self.told.push_str(&told);
    }
}

/// The column of a cell that was written anew, by its text in the line.
fn in_line(fault: Fault, line: &str) -> Fault {
    let cell = fault.text.trim_matches('"');
    let found = || line.find(cell).map(|at| super::row::column(line, at));
    Fault {
        column: fault.column.or_else(found),
        ..fault
    }
}

fn text_of(line: &[u8], cut: bool) -> Result<&str, Fault> {
    let fault = |before: &[u8], message: &str, hint: &str| Fault {
        column: Some(String::from_utf8_lossy(before).chars().count() + 1),
        key: None,
        text: super::row::shortened(&String::from_utf8_lossy(line.get(..200).unwrap_or(line))),
        message: message.to_owned(),
        hint: hint.to_owned(),
    };
    if cut || line.len() as u64 > LINE {
        return Err(fault(
            b"",
            "the line is longer than a megabyte",
            "write one row a line, with a line end behind each",
        ));
    }
    std::str::from_utf8(line).map_err(|e| {
        fault(
            line.get(..e.valid_up_to()).unwrap_or_default(),
            NOT_UTF8,
            SAVE_IT,
        )
    })
}

fn read_record(path: &Path, name: &str) -> Result<String, String> {
    use std::io::Read;
    let limit = Limits::default().bytes as u64 + 1;
    let mut bytes = Vec::new();
    File::open(path)
        .and_then(|f| f.take(limit).read_to_end(&mut bytes))
        .map_err(|e| format!("{name}: can't be read: {e}"))?;
    utf8(name, bytes)
}

/// Surface of all areas and of all damage, m²; `None` where an area has none.
fn surfaces(
    survey: &Survey,
    vocabulary: &crate::facts::Vocabulary,
) -> (Option<Interval>, Option<Interval>) {
    let number = |thing: usize, fact: &str| match survey.value(vocabulary, thing, fact) {
        Value::Number(interval) => Some(interval),
        _ => None,
    };
    let add = |things: Vec<usize>, fact: &str| {
        things
            .into_iter()
            .try_fold(Interval::exact(0.0), |sum, t| Some(sum + number(t, fact)?))
    };
    let areas = survey.areas.iter().map(|a| a.thing).collect();
    let defects = survey
        .areas
        .iter()
        .flat_map(|a| a.defects.clone())
        .collect();
    (add(areas, "area_surface"), add(defects, "defect_surface"))
}

/// Workers when none are asked for: one a core.
pub fn all_cores() -> usize {
    std::thread::available_parallelism().map_or(1, std::num::NonZeroUsize::get)
}
