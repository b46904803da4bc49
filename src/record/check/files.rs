//! Photos and the forecast: in the record's folder, there, and what they claim to be.
//!
//! A photo that is missing or no picture is a warning: the report can be written without it and says
//! so in its place. A name that leads out of the folder is an error.

use std::fs::File;
use std::io::Read;
use std::path::{Component, Path, PathBuf};

use super::Check;
use crate::record::shape::short;

/// First bytes of a JPEG file.
const JPEG: &[u8] = &[0xff, 0xd8, 0xff];
/// First bytes of a PNG file.
const PNG: &[u8] = &[0x89, b'P', b'N', b'G', 0x0d, 0x0a, 0x1a, 0x0a];

/// What a file is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum What {
    Photo,
    Forecast,
}

impl What {
    fn word(self) -> &'static str {
        match self {
            What::Photo => "photo",
            What::Forecast => "forecast",
        }
    }
}

impl Check<'_> {
    pub(super) fn files(&mut self) {
        let record = self.record;
        for (a, area) in record.areas.iter().enumerate() {
            for (d, defect) in area.defects.iter().enumerate() {
                for (p, photo) in defect.photos.iter().enumerate() {
                    let path = format!("areas.{a}.defects.{d}.photos.{p}.file");
                    if let Some(file) = self.file_in_folder(&path, &photo.file, What::Photo) {
                        self.is_photo(&path, &file);
                    }
                }
            }
        }
        if let Some(forecast) = &record.forecast {
            let lower = forecast.to_lowercase();
            if !lower.ends_with(".csv") && !lower.ends_with(".json") {
                self.error(
                    "forecast",
                    "forecast",
                    format!("`{}` is neither CSV nor JSON", short(forecast)),
                    "save the hourly forecast beside the record as `.csv` or `.json`",
                );
            } else {
                self.file_in_folder("forecast", forecast, What::Forecast);
            }
        }
    }

    /// The real path of a file that stands in the record's folder.
    fn file_in_folder(&mut self, path: &str, name: &str, what: What) -> Option<PathBuf> {
        if self.is_broken(path) {
            return None;
        }
        let inside = format!(
            "put the {} in the folder of the record, or in one below it, and write its name from there",
            what.word()
        );
        let relative = Path::new(name);
        let plain = relative
            .components()
            .all(|c| matches!(c, Component::Normal(_) | Component::CurDir));
        if name.trim().is_empty() {
            self.error("missing-file", path, "no file is named here", inside);
            return None;
        }
        if !plain || name.contains(['\\', '\0']) || name.get(1..2) == Some(":") {
            self.error(
                "outside-folder",
                path,
                format!("`{}` is not a name inside the record's folder", short(name)),
                inside,
            );
            return None;
        }
        // A record named without a folder lies in the one the program runs in.
        let folder = self.folder.map(|f| {
            if f.as_os_str().is_empty() {
                Path::new(".")
            } else {
                f
            }
        })?;
        let found = folder.join(relative);
        let Ok(real) = found.canonicalize() else {
            self.missing(
                what,
                path,
                format!("there is no file `{}` in the record's folder", short(name)),
                nearest_file(folder, relative)
                    .map_or(inside, |near| format!("did you mean `{near}`?")),
            );
            return None;
        };
        // A link may lead out of the folder even where the name does not.
        if !folder.canonicalize().is_ok_and(|f| real.starts_with(f)) {
            self.error(
                "outside-folder",
                path,
                format!("`{}` leads out of the record's folder", short(name)),
                format!("copy the {} itself into the folder", what.word()),
            );
            return None;
        }
        if !real.is_file() {
            self.missing(what, path, format!("`{}` is no file", short(name)), inside);
            return None;
        }
        Some(real)
    }

    fn missing(&mut self, what: What, path: &str, message: String, hint: String) {
        match what {
            What::Photo => self.warning("missing-file", path, message, hint),
            What::Forecast => self.error("missing-file", path, message, hint),
        }
    }

    fn is_photo(&mut self, path: &str, file: &Path) {
        let mut head = Vec::new();
        let read = File::open(file).and_then(|f| f.take(8).read_to_end(&mut head));
        match read {
            Err(error) => {
                self.warning(
                    "missing-file",
                    path,
                    format!("the photo can't be read: {error}"),
                    "check its permissions",
                );
            }
            Ok(_) if !head.starts_with(JPEG) && !head.starts_with(PNG) => self.warning(
                "photo-kind",
                path,
                "this file holds neither a JPEG nor a PNG picture",
                "save the photo as `.jpg` or `.png`; some phones keep another format unless told",
            ),
            Ok(_) => {}
        }
    }
}

/// A file in the same folder whose name is near.
fn nearest_file(folder: &Path, name: &Path) -> Option<String> {
    let parent = name.parent().unwrap_or(Path::new(""));
    let wanted = name.file_name()?.to_str()?;
    let names: Vec<String> = std::fs::read_dir(folder.join(parent))
        .ok()?
        .take(2_000)
        .filter_map(|entry| entry.ok()?.file_name().into_string().ok())
        .collect();
    let near = crate::source::nearest(wanted, names.iter().map(String::as_str))?;
    Some(parent.join(near).to_string_lossy().replace('\\', "/"))
}
