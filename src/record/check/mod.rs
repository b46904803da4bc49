//! Checks on the typed record: what each value means, and how the values fit together. Every
//! problem points to the place of its value.

mod days;
mod files;
mod names;
mod places;
mod prices;
mod quantities;
mod readings;
mod signs;

use std::collections::BTreeSet;
use std::path::Path;

use jiff::civil::Date;

use super::model::Record;
use crate::facts::Vocabulary;
use crate::source::{Node, Place, Problem, Problems, SourceFile};

/// Most areas in a record.
const MOST_AREAS: usize = 500;
/// Most defects in a record.
const MOST_DEFECTS: usize = 2_000;
/// Most joints in a record.
const MOST_JOINTS: usize = 2_000;
/// Most stairs, and most thresholds, in a record.
const MOST_STAIRS: usize = 500;
/// Most risers of all stairs in a record.
const MOST_RISERS: usize = 5_000;
/// Most edges in a record.
const MOST_EDGES: usize = 2_000;
/// Most photos in a record.
const MOST_PHOTOS: usize = 500;
/// Most panels in a record.
const MOST_PANELS: usize = 20_000;
/// Version of the record format.
const VERSION: u32 = 1;

/// Everything the checks look at.
pub(super) struct Check<'a> {
    pub file: &'a SourceFile,
    pub root: &'a Node,
    pub record: &'a Record,
    pub folder: Option<&'a Path>,
    pub today: Option<Date>,
    pub vocabulary: Option<&'a Vocabulary>,
    /// Paths whose value could not be read; a problem stands there already.
    pub broken: &'a BTreeSet<String>,
    pub problems: &'a mut Problems,
    /// Paths with an error from here, so that one slip is not told twice.
    pub flagged: BTreeSet<String>,
}

impl Check<'_> {
    /// Every check.
    pub fn all(mut self) {
        self.version();
        if !self.within_limits() {
            return; // the checks below compare things pairwise
        }
        self.names();
        self.words();
        self.all_signs();
        self.quantities();
        self.areas();
        self.readings();
        self.days();
        self.prices();
        self.files();
    }

    /// Whether the value at a path, or a block around it, could not be read.
    fn is_broken(&self, path: &str) -> bool {
        let mut path = path;
        loop {
            if self.broken.contains(path) {
                return true;
            }
            match path.rfind('.') {
                Some(at) => path = path.get(..at).unwrap_or(""),
                None => return false,
            }
        }
    }

    /// Place of the value at a path, or of the nearest block around it.
    fn place(&self, path: &str) -> Place {
        let mut path = path;
        loop {
            if let Some(node) = self.root.at_path(path) {
                return node.place;
            }
            match path.rfind('.') {
                Some(at) => path = path.get(..at).unwrap_or(""),
                None => return self.root.place,
            }
        }
    }

    /// Place of a key in the block at a path.
    fn key_place(&self, path: &str, key: &str) -> Place {
        let block = self.root.at_path(path);
        block
            .and_then(|b| b.entries().iter().find(|(k, _)| k.text == key))
            .map_or_else(|| self.place(path), |(k, _)| k.place)
    }

    /// What is written at a path.
    fn written(&self, path: &str) -> &str {
        self.root
            .at_path(path)
            .and_then(Node::text)
            .unwrap_or("")
            .trim()
    }

    /// Line of the value at a path.
    fn line(&self, path: &str) -> usize {
        self.place(path).line
    }

    fn error(
        &mut self,
        code: &'static str,
        path: &str,
        message: impl Into<String>,
        hint: impl Into<String>,
    ) {
        if !self.is_broken(path) {
            let place = self.place(path);
            self.problems.push(
                Problem::error(code, message)
                    .at(self.file, place)
                    .hint(hint),
            );
            self.flagged.insert(path.to_owned());
        }
    }

    fn warning(
        &mut self,
        code: &'static str,
        path: &str,
        message: impl Into<String>,
        hint: impl Into<String>,
    ) {
        if !self.is_broken(path) && !self.flagged.contains(path) {
            let place = self.place(path);
            self.problems.push(
                Problem::warning(code, message)
                    .at(self.file, place)
                    .hint(hint),
            );
        }
    }

    fn version(&mut self) {
        let version = self.record.ringtrue;
        if version != VERSION {
            self.error(
                "version",
                "ringtrue",
                format!("this record is of version {version}; version {VERSION} is read here"),
                format!(
                    "write `ringtrue: {VERSION}` if it follows the schema of version {VERSION}"
                ),
            );
        }
    }

    fn within_limits(&mut self) -> bool {
        let record = self.record;
        let areas = record.areas.len();
        let defects: usize = record.areas.iter().map(|a| a.defects.len()).sum();
        let joints: usize = record.areas.iter().map(|a| a.joints.len()).sum();
        let risers: usize = record.stairs.iter().map(|s| s.risers.len()).sum();
        let photos: usize = record
            .areas
            .iter()
            .flat_map(|a| &a.defects)
            .map(|d| d.photos.len())
            .sum();
        let panels: usize = record
            .areas
            .iter()
            .filter_map(|a| a.panels.as_ref())
            .map(|p| p.columns.len().saturating_mul(p.rows.len()))
            .fold(0, usize::saturating_add);
        let mut fine = true;
        for (path, what, count, most) in [
            ("areas", "areas", areas, MOST_AREAS),
            ("areas", "defects", defects, MOST_DEFECTS),
            ("areas", "joints", joints, MOST_JOINTS),
            ("areas", "photos", photos, MOST_PHOTOS),
            ("areas", "panels", panels, MOST_PANELS),
            ("stairs", "stairs", record.stairs.len(), MOST_STAIRS),
            ("stairs", "risers", risers, MOST_RISERS),
            (
                "thresholds",
                "thresholds",
                record.thresholds.len(),
                MOST_STAIRS,
            ),
            ("edges", "edges", record.edges.len(), MOST_EDGES),
        ] {
            if count > most {
                fine = false;
                self.error(
                    "limit",
                    path,
                    format!("the record holds {count} {what}; {most} are read"),
                    "split it into several records",
                );
            }
        }
        if areas == 0 {
            self.error(
                "no-area",
                "areas",
                "the record has no area",
                "a slab that is judged as a whole is one area: give it an `id`, a `name` and a `size`",
            );
        }
        fine
    }
}
