//! Inputs, and the pieces that workers take from them.

use std::fs::File;
use std::io::{self, BufRead, BufReader, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use serde::{Deserialize, Serialize};
use thiserror::Error;

use super::fields::Fields;
use super::mapping::{Columns, Mapping};
use crate::source::{NOT_UTF8, SAVE_IT};

/// Bytes of a piece.
const PIECE: u64 = 256 * 1024;
/// Longest line, bytes.
pub const LINE: u64 = 1024 * 1024;
/// Record files of a piece.
const FILES: usize = 8;

/// What can't be read.
#[derive(Debug, Error)]
pub enum SourceError {
    /// A file or folder that can't be opened or read.
    #[error("can't read {path}: {error}")]
    Unreadable {
        /// The file.
        path: String,
        /// What the system said.
        error: io::Error,
    },
    /// A name that says nothing of what is in the file.
    #[error(
        "{0} is no folder, and its name does not end in .yaml, .yml, .ndjson, .jsonl or .csv; name it so, or give it on standard input with `-`"
    )]
    UnknownKind(String),
    /// A folder that holds nothing.
    #[error(
        "{0} holds no records; they end in .yaml or .yml; name files of rows (.ndjson, .jsonl, .csv) themselves"
    )]
    Empty(String),
    /// A pattern that finds nothing.
    #[error("{0} finds no file that ends in .yaml, .yml, .ndjson, .jsonl or .csv")]
    NoneFound(String),
    /// A pattern that is none.
    #[error("`{pattern}` is no pattern: {error}")]
    Pattern {
        /// As given.
        pattern: String,
        /// What is wrong.
        error: String,
    },
    /// A CSV head that can't be bound.
    #[error("{path}:1: {message}")]
    Head {
        /// The file.
        path: String,
        /// What is wrong.
        message: String,
    },
}

/// How rows are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rows {
    /// One object a line.
    Ndjson,
    /// A head, then one row a line.
    Csv,
}

/// One input.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Source {
    /// A file of rows.
    File(PathBuf, Rows),
    /// Rows on standard input.
    Stdin(Rows),
    /// Record files, in order.
    Records(Vec<PathBuf>),
}

fn kind_of(path: &Path) -> Option<Option<Rows>> {
    match path.extension()?.to_str()? {
        "ndjson" | "jsonl" => Some(Some(Rows::Ndjson)),
        "csv" => Some(Some(Rows::Csv)),
        "yaml" | "yml" => Some(None),
        _ => None,
    }
}

/// What the inputs on the command line stand for: a folder's records by name, what a pattern finds
/// by name, files as given. `-` is rows on standard input, CSV if `csv`.
///
/// # Errors
/// An input that is not there, holds nothing, or has a name that does not say what it is.
pub fn inputs(given: &[PathBuf], csv: bool) -> Result<Vec<Source>, SourceError> {
    let mut out: Vec<Source> = Vec::new();
    for input in given {
        let shown = input.display().to_string();
        if shown == "-" {
            out.push(Source::Stdin(if csv { Rows::Csv } else { Rows::Ndjson }));
            continue;
        }
        let mut files = Vec::new();
        if input.is_dir() {
            records_in(input, &mut files)?;
        } else if input.exists() {
            if kind_of(input).is_none() {
                return Err(SourceError::UnknownKind(shown));
            }
            files.push(input.clone());
        } else if shown.contains(['*', '?', '[']) {
            let found = glob::glob(&shown).map_err(|e| SourceError::Pattern {
                pattern: shown.clone(),
                error: e.to_string(),
            })?;
            for file in found {
                let file = file.map_err(|e| SourceError::Unreadable {
                    path: e.path().display().to_string(),
                    error: e.into(),
                })?;
                if kind_of(&file).is_some() && file.is_file() {
                    files.push(file);
                }
            }
            if files.is_empty() {
                return Err(SourceError::NoneFound(shown));
            }
        } else {
            return Err(SourceError::Unreadable {
                path: shown,
                error: io::ErrorKind::NotFound.into(),
            });
        }
        if files.is_empty() {
            return Err(SourceError::Empty(shown));
        }
        files.sort();
        for file in files {
            match (kind_of(&file).flatten(), out.last_mut()) {
                (Some(rows), _) => out.push(Source::File(file, rows)),
                (None, Some(Source::Records(list))) => list.push(file),
                (None, _) => out.push(Source::Records(vec![file])),
            }
        }
    }
    Ok(out)
}

/// Record files of a folder and the folders in it. Links to folders are not followed: they may lead
/// in a circle.
fn records_in(folder: &Path, out: &mut Vec<PathBuf>) -> Result<(), SourceError> {
    let unreadable = |error| SourceError::Unreadable {
        path: folder.display().to_string(),
        error,
    };
    for entry in std::fs::read_dir(folder).map_err(unreadable)? {
        let entry = entry.map_err(unreadable)?;
        let path = entry.path();
        if entry.file_type().map_err(unreadable)?.is_dir() {
            records_in(&path, out)?;
        } else if kind_of(&path) == Some(None) {
            out.push(path);
        }
    }
    Ok(())
}

/// How far the inputs were read.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Position {
    /// Input, by index.
    pub source: usize,
    /// Byte of its file; number of its record file.
    pub at: u64,
    /// Lines before it.
    pub lines: u64,
    /// Work behind it, in the units of [`Feed::size`].
    pub done: u64,
}

/// A piece of the inputs.
#[derive(Debug)]
pub struct Piece {
    /// Its number, from 0.
    pub number: u64,
    /// What is in it.
    pub what: What,
    /// Where the next begins.
    pub end: Position,
}

/// What is in a piece.
#[derive(Debug)]
pub enum What {
    /// Whole lines.
    Lines {
        /// Name of the file.
        name: Arc<str>,
        /// Number of the first line, from 1.
        first: u64,
        /// The lines.
        text: Vec<u8>,
        /// Whether the last line was too long and is cut off.
        cut: bool,
        /// Columns of a CSV file.
        columns: Option<Arc<Columns>>,
    },
    /// Record files.
    Files(Vec<PathBuf>),
}

struct Open {
    name: Arc<str>,
    reader: Box<dyn BufRead + Send>,
    columns: Option<Arc<Columns>>,
}

/// Gives out the inputs piece by piece. Where pieces end depends on the inputs alone.
pub struct Feed<'a> {
    sources: &'a [Source],
    mapping: Option<&'a Mapping>,
    fields: &'a Fields,
    position: Position,
    number: u64,
    open: Option<Open>,
}

impl<'a> Feed<'a> {
    /// From a position on.
    pub fn new(
        sources: &'a [Source],
        mapping: Option<&'a Mapping>,
        fields: &'a Fields,
        position: Position,
    ) -> Feed<'a> {
        Feed {
            sources,
            mapping,
            fields,
            position,
            number: 0,
            open: None,
        }
    }

    /// Bytes of all row files plus a share for every record file; `None` with standard input.
    pub fn size(sources: &[Source]) -> Option<u64> {
        sources
            .iter()
            .map(|s| match s {
                Source::File(path, _) => std::fs::metadata(path).ok().map(|m| m.len()),
                Source::Stdin(_) => None,
                Source::Records(list) => Some(list.len() as u64 * A_FILE),
            })
            .sum()
    }

    /// The next piece; `None` at the end.
    ///
    /// # Errors
    /// A file that can't be read, or a CSV head that can't be bound.
    pub fn next_piece(&mut self) -> Result<Option<Piece>, SourceError> {
        loop {
            let Some(source) = self.sources.get(self.position.source) else {
                return Ok(None);
            };
            let what = match source {
                Source::Records(list) => {
                    let from = usize::try_from(self.position.at).unwrap_or(usize::MAX);
                    let files: Vec<PathBuf> = list.iter().skip(from).take(FILES).cloned().collect();
                    self.position.at += files.len() as u64;
                    self.position.done += files.len() as u64 * A_FILE;
                    (!files.is_empty()).then_some(What::Files(files))
                }
                Source::File(path, rows) => {
                    let name = path.display().to_string();
                    let rows = *rows;
                    self.lines(&name, rows, || File::open(path))?
                }
                Source::Stdin(rows) => self.lines_of_stdin(*rows)?,
            };
            match what {
                Some(what) => {
                    let number = self.number;
                    self.number += 1;
                    return Ok(Some(Piece {
                        number,
                        what,
                        end: self.position,
                    }));
                }
                None => {
                    self.open = None;
                    self.position = Position {
                        source: self.position.source + 1,
                        at: 0,
                        lines: 0,
                        done: self.position.done,
                    };
                }
            }
        }
    }

    fn lines(
        &mut self,
        name: &str,
        rows: Rows,
        open: impl FnOnce() -> io::Result<File>,
    ) -> Result<Option<What>, SourceError> {
        let unreadable = |error| SourceError::Unreadable {
            path: name.to_owned(),
            error,
        };
        if self.open.is_none() {
            let mut reader = BufReader::with_capacity(64 * 1024, open().map_err(unreadable)?);
            let columns = self.head(name, rows, &mut reader)?;
            if self.position.at > 0 {
                reader
                    .seek(SeekFrom::Start(self.position.at))
                    .map_err(unreadable)?;
            } else {
                let (at, lines) = (columns.1, columns.2);
                self.position.at = at;
                self.position.done += at;
                self.position.lines = lines;
            }
            self.open = Some(Open {
                name: name.into(),
                reader: Box::new(reader),
                columns: columns.0,
            });
        }
        self.piece(rows).map_err(unreadable)
    }

    fn lines_of_stdin(&mut self, rows: Rows) -> Result<Option<What>, SourceError> {
        const NAME: &str = "standard input";
        if self.open.is_none() {
            let mut reader = BufReader::with_capacity(64 * 1024, io::stdin());
            let (columns, at, lines) = self.head(NAME, rows, &mut reader)?;
            self.position.at = at;
            self.position.lines = lines;
            self.open = Some(Open {
                name: NAME.into(),
                reader: Box::new(reader),
                columns,
            });
        }
        self.piece(rows).map_err(|error| SourceError::Unreadable {
            path: NAME.to_owned(),
            error,
        })
    }

    /// Reads the head of a CSV file: its columns, bytes and lines.
    fn head(
        &self,
        name: &str,
        rows: Rows,
        reader: &mut impl BufRead,
    ) -> Result<(Option<Arc<Columns>>, u64, u64), SourceError> {
        if rows == Rows::Ndjson {
            return Ok((None, 0, 0));
        }
        let wrong = |message: String| SourceError::Head {
            path: name.to_owned(),
            message,
        };
        let mut text = Vec::new();
        let cut = whole_line(reader, &mut text, true).map_err(|e| wrong(e.to_string()))?;
        if cut || text.is_empty() {
            return Err(wrong("the first line must name the columns".to_owned()));
        }
        let bytes = text.strip_prefix(b"\xef\xbb\xbf").unwrap_or(&text);
        if std::str::from_utf8(bytes).is_err() {
            return Err(wrong(format!("{NOT_UTF8}; {SAVE_IT}")));
        }
        let mut csv = csv::ReaderBuilder::new()
            .has_headers(false)
            .from_reader(bytes);
        let mut head = csv::StringRecord::new();
        csv.read_record(&mut head)
            .map_err(|e| wrong(e.to_string()))?;
        let columns = Columns::bind(&head, self.mapping, self.fields).map_err(wrong)?;
        let lines = text.iter().filter(|b| **b == b'\n').count();
        Ok((Some(Arc::new(columns)), text.len() as u64, lines as u64))
    }

    fn piece(&mut self, rows: Rows) -> io::Result<Option<What>> {
        let Some(open) = &mut self.open else {
            return Ok(None);
        };
        let mut text = Vec::with_capacity(PIECE as usize + 4096);
        open.reader.by_ref().take(PIECE).read_to_end(&mut text)?;
        let mut bytes = text.len() as u64;
        let mut cut = false;
        if bytes == PIECE {
            let before = text.len();
            cut = whole_line(&mut open.reader, &mut text, rows == Rows::Csv)?;
            bytes += (text.len() - before) as u64;
            if cut {
                // The rest of a line that is too long is passed over.
                bytes += pass_over(&mut open.reader)?;
            }
        }
        if text.is_empty() {
            return Ok(None);
        }
        let first = self.position.lines + 1;
        let lines = text.iter().filter(|b| **b == b'\n').count() as u64 + u64::from(cut);
        self.position.lines += lines;
        self.position.at += bytes;
        self.position.done += bytes;
        Ok(Some(What::Lines {
            name: open.name.clone(),
            first,
            text,
            cut,
            columns: open.columns.clone(),
        }))
    }
}

/// What a record file counts for in [`Feed::size`], beside bytes of rows.
const A_FILE: u64 = 100_000;

/// Reads on to the end of the line that `text` ends in. Whether the line is too long and was cut.
fn whole_line(reader: &mut impl BufRead, text: &mut Vec<u8>, csv: bool) -> io::Result<bool> {
    let mut quotes = Quotes::default();
    let mut seen = 0;
    let from = text.len();
    loop {
        if csv {
            quotes.pass(&text[seen..]);
        }
        seen = text.len();
        if text.last() == Some(&b'\n') && !quotes.inside {
            return Ok(false);
        }
        let room = LINE.saturating_sub((text.len() - from) as u64);
        if room == 0 {
            return Ok(true);
        }
        if reader.by_ref().take(room).read_until(b'\n', text)? == 0 {
            return Ok(false);
        }
    }
}

fn pass_over(reader: &mut impl BufRead) -> io::Result<u64> {
    let (mut bytes, mut scrap) = (0, Vec::new());
    loop {
        scrap.clear();
        let n = reader.by_ref().take(LINE).read_until(b'\n', &mut scrap)?;
        bytes += n as u64;
        if n == 0 || scrap.last() == Some(&b'\n') {
            return Ok(bytes);
        }
    }
}

/// Whether a CSV text stands inside a quoted cell. A quote counts at the start of a cell only, so
/// that an inch mark does no harm.
#[derive(Debug)]
struct Quotes {
    inside: bool,
    starts: bool,
}

impl Default for Quotes {
    fn default() -> Self {
        Quotes {
            inside: false,
            starts: true,
        }
    }
}

impl Quotes {
    fn pass(&mut self, text: &[u8]) {
        for b in text {
            match b {
                b'"' if self.inside => self.inside = false,
                // A doubled quote inside goes out and in again.
                b'"' if self.starts => self.inside = true,
                _ => {}
            }
            self.starts = matches!(b, b',' | b'\n' | b'\r' | b'"') && !self.inside;
        }
    }
}
