//! All that the typesetter may see: templates, data, pictures, fonts. No disk, no network, no
//! clock.

use std::collections::HashMap;
use std::sync::LazyLock;

use typst::diag::{FileError, FileResult};
use typst::foundations::{Bytes, Datetime, Duration};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Library, LibraryExt as _};

use super::fonts::FONTS;

/// Built once for a run of many papers.
static LIBRARY: LazyLock<LazyHash<Library>> =
    LazyLock::new(|| LazyHash::new(Library::builder().build()));

/// What one paper is set from.
#[derive(Debug)]
pub struct World {
    main: FileId,
    sources: HashMap<FileId, (Source, String)>,
    files: HashMap<FileId, Bytes>,
    today: Option<Datetime>,
}

/// The id of a path; one that can't be a path is as good as the root, where nothing lies.
fn id(path: &str) -> FileId {
    let path = VirtualPath::new(path).or_else(|_| VirtualPath::new("/"));
    match path {
        Ok(path) => RootedPath::new(VirtualRoot::Project, path).intern(),
        Err(_) => FileId::from_raw(std::num::NonZeroU16::MIN),
    }
}

impl World {
    /// An empty world whose paper starts at `template`; `date` is `YYYY-MM-DD`.
    pub fn new(template: &str, date: Option<&str>) -> World {
        World {
            main: id(template),
            sources: HashMap::new(),
            files: HashMap::new(),
            today: date.and_then(day),
        }
    }

    /// Adds a file.
    pub fn add(&mut self, path: &str, bytes: Bytes) {
        self.files.insert(id(path), bytes);
    }

    /// Adds a template; `shown` is its name in messages.
    pub fn template(&mut self, name: &str, text: String, shown: String) {
        let id = id(name);
        self.sources.insert(id, (Source::new(id, text), shown));
    }

    /// Name of a file in messages.
    pub fn shown(&self, id: FileId) -> String {
        self.sources.get(&id).map_or_else(
            || id.vpath().get_without_slash().to_owned(),
            |(_, shown)| shown.clone(),
        )
    }
}

fn day(date: &str) -> Option<Datetime> {
    let day: jiff::civil::Date = date.trim().parse().ok()?;
    let month = u8::try_from(day.month()).ok()?;
    Datetime::from_ymd(i32::from(day.year()), month, u8::try_from(day.day()).ok()?)
}

impl typst::World for World {
    fn library(&self) -> &LazyHash<Library> {
        &LIBRARY
    }

    fn book(&self) -> &LazyHash<FontBook> {
        &FONTS.book
    }

    fn main(&self) -> FileId {
        self.main
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        self.sources
            .get(&id)
            .map(|(source, _)| source.clone())
            .ok_or_else(|| missing(id))
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        if let Some(bytes) = self.files.get(&id) {
            return Ok(bytes.clone());
        }
        self.sources
            .get(&id)
            .map(|(source, _)| Bytes::from_string(source.text().to_owned()))
            .ok_or_else(|| missing(id))
    }

    fn font(&self, index: usize) -> Option<Font> {
        FONTS.faces.get(index).cloned()
    }

    fn today(&self, _: Option<Duration>) -> Option<Datetime> {
        self.today
    }
}

fn missing(id: FileId) -> FileError {
    FileError::NotFound(std::path::PathBuf::from(id.vpath().get_without_slash()))
}
