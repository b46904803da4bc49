//! The way from a record's file to everything the commands print.

use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use anyhow::{Context, anyhow, bail};
use jiff::civil::Date;

use serde::Serialize;

use crate::assessment::{Assessment, MadeWith, Ran, assess, run_rules};
use crate::facts::FactId;
use crate::method::{Method, decide, specify};
use crate::record::{self, Loaded};
use crate::report::Sources;
use crate::report::language::{Overlay, Sentences};
use crate::report::photos::Photo;
use crate::report::phrases::Phrases;
use crate::rules::{Pack, PackFile, Spot, builtin, builtin_files, load_and_check};
use crate::source::{Limits, Problems, SourceFile, utf8};
use crate::survey::{Survey, survey};

use super::output::folder_of;
use super::{Screen, tell};

/// Most files of house rules.
const HOUSE_FILES: usize = 500;
/// Depth of folders among house rules.
const HOUSE_DEPTH: usize = 8;

/// Options that every command on a record shares.
#[derive(Debug, Clone, clap::Args)]
pub struct Loading {
    /// The record, or `-` for standard input.
    #[arg(value_name = "RECORD")]
    pub record: PathBuf,
    /// Folder of house rules laid over the built-in ones.
    #[arg(long, value_name = "FOLDER")]
    pub house_rules: Option<PathBuf>,
}

impl Loading {
    /// Folder the record's photos lie in; the working folder for standard input.
    pub fn folder(&self) -> PathBuf {
        folder_of(&self.record).to_owned()
    }
}

/// Today in universal time.
pub fn today() -> Date {
    jiff::Timestamp::now()
        .to_zoned_datetime(jiff::tz::TimeZone::UTC)
        .date()
}

/// The last day an inspection can be dated: tomorrow in universal time, for somewhere it is
/// tomorrow already.
pub fn last_day() -> Option<Date> {
    today().tomorrow().ok()
}

/// Everything the tool knows of a record.
#[derive(Debug)]
pub struct Work {
    /// The record with its places.
    pub loaded: Loaded,
    /// Folder its photos lie in.
    pub folder: PathBuf,
    /// The rules.
    pub pack: Pack,
    /// What the survey found, with the layers fitted.
    pub survey: Survey,
    /// The run of the rules.
    pub ran: Ran,
    /// What is wrong and why.
    pub assessment: Assessment,
    /// The specified work.
    pub method: Method,
    /// Warnings on the record.
    pub warnings: Problems,
    /// Sentences of the papers' language; none for English.
    pub sentences: Sentences,
}

/// Why a record could not be worked on.
#[derive(Debug)]
pub enum Stop {
    /// The record or the house rules have problems.
    Problems(Problems),
    /// A file could not be read.
    Unreadable(anyhow::Error),
}

impl From<anyhow::Error> for Stop {
    fn from(error: anyhow::Error) -> Self {
        Stop::Unreadable(error)
    }
}

impl Stop {
    /// Tells a person and gives the exit code: 1 for problems, 2 for what can't be read.
    ///
    /// # Errors
    /// What could not be read, for the program to print.
    pub fn tell(self, screen: Screen) -> anyhow::Result<ExitCode> {
        match self {
            Stop::Problems(problems) => {
                tell(&problems.render(screen.err_colour));
                Ok(ExitCode::from(1))
            }
            Stop::Unreadable(error) => Err(error),
        }
    }
}

/// Reads a text file, or standard input for `-`, up to the limit of the record reader.
pub fn read_text(path: &Path) -> anyhow::Result<SourceFile> {
    let limit = Limits::default().bytes as u64 + 1;
    let mut bytes = Vec::new();
    if path == Path::new("-") {
        std::io::stdin()
            .lock()
            .take(limit)
            .read_to_end(&mut bytes)
            .context("can't read standard input")?;
    } else {
        let file =
            std::fs::File::open(path).with_context(|| format!("can't open {}", path.display()))?;
        if file.metadata().is_ok_and(|m| m.is_dir()) {
            bail!("{} is a folder; name the record in it", path.display());
        }
        file.take(limit)
            .read_to_end(&mut bytes)
            .with_context(|| format!("can't read {}", path.display()))?;
    }
    let name = if path == Path::new("-") {
        "standard input".to_owned()
    } else {
        path.display().to_string()
    };
    let text = utf8(&name, bytes).map_err(anyhow::Error::msg)?;
    Ok(SourceFile::new(name, text))
}

/// What an output was made with, so that it can be made again years later.
pub fn made_with(pack: &Pack) -> String {
    let version = env!("CARGO_PKG_VERSION");
    format!("ringtrue {version}, rules {}", pack.fingerprint)
}

/// The rules: the built-in ones, with a folder of house rules over them if named.
pub fn rules(house: Option<&Path>) -> Result<Pack, Stop> {
    match house {
        // The built-in rules are proven when the program is built.
        None => builtin().map_err(Stop::Problems),
        Some(_) => proven_rules(house).map(|(pack, _)| pack),
    }
}

/// The rules, proven sound here and now, with any warnings.
pub fn proven_rules(house: Option<&Path>) -> Result<(Pack, Problems), Stop> {
    let mut problems = Problems::default();
    let mut files = builtin_files();
    let mut paths = Vec::new();
    if let Some(folder) = house {
        yaml_files(folder, 0, &mut paths)
            .with_context(|| format!("can't read the folder {}", folder.display()))?;
    }
    paths.sort();
    let mut bytes = 0;
    for path in paths {
        let file = read_text(&path)?;
        bytes += file.text.len();
        if bytes > Limits::default().bytes {
            return Err(anyhow!(
                "the house rules are larger than {} MB together; {} goes beyond that",
                Limits::default().bytes >> 20,
                path.display()
            )
            .into());
        }
        if let Some(file) = PackFile::read(file, true, &mut problems) {
            files.push(file);
        }
    }
    match load_and_check(&files, &mut problems) {
        Some(pack) => Ok((pack, problems)),
        None => Err(Stop::Problems(problems)),
    }
}

/// The YAML files of a folder and of those in it. Links are refused: they could lead anywhere, or
/// round in a circle.
fn yaml_files(folder: &Path, depth: usize, out: &mut Vec<PathBuf>) -> anyhow::Result<()> {
    if depth > HOUSE_DEPTH {
        bail!(
            "{} lies deeper than {HOUSE_DEPTH} folders; put the house rules further up",
            folder.display()
        );
    }
    for entry in std::fs::read_dir(folder)? {
        let entry = entry?;
        let (path, kind) = (entry.path(), entry.file_type()?);
        let yaml = path.extension().is_some_and(|e| e == "yaml" || e == "yml");
        if kind.is_symlink() && (yaml || path.is_dir()) {
            bail!(
                "{} is a link; copy what it leads to into the folder",
                path.display()
            );
        }
        if kind.is_dir() {
            yaml_files(&path, depth + 1, out)?;
        } else if yaml {
            if out.len() == HOUSE_FILES {
                bail!(
                    "it holds more than {HOUSE_FILES} files of rules; name a folder that holds yours and nothing else"
                );
            }
            out.push(path);
        }
    }
    Ok(())
}

impl Work {
    /// From a record's file to the specified work. It lives as long as the program: a command reads
    /// one or two records and ends, and taking them apart again would only cost time.
    ///
    /// # Errors
    /// The problems of the record or of the house rules, or what could not be read.
    pub fn load(loading: &Loading) -> Result<&'static Work, Stop> {
        Work::load_in(loading, Phrases::english())
    }

    /// The same with the rules' words in the language of a paper.
    pub fn load_in(loading: &Loading, phrases: &Phrases) -> Result<&'static Work, Stop> {
        let mut pack = rules(loading.house_rules.as_deref())?;
        if let Some(overlay) =
            Overlay::built_in(phrases.tongue()).context("the language of the paper")?
        {
            overlay.lay(&mut pack);
        }
        let file = read_text(&loading.record)?;
        let folder = loading.folder();
        let (loaded, problems) =
            record::read(&file, Some(&folder), last_day(), Some(&pack.vocabulary));
        match loaded {
            Some(loaded) => {
                let mut work = Work::of(loaded, folder, pack, problems);
                work.sentences = phrases.sentences.clone();
                Ok(Box::leak(Box::new(work)))
            }
            None => Err(Stop::Problems(problems)),
        }
    }

    /// Works a loaded record through every stage.
    pub fn of(loaded: Loaded, folder: PathBuf, pack: Pack, warnings: Problems) -> Work {
        let record = &loaded.record;
        let mut survey = survey(record, &pack.vocabulary);
        let ran = run_rules(&pack, &survey);
        let (ran, fitted) = decide(record, &mut survey, &pack, ran);
        let assessment = assess(record, Some(&loaded.node), &survey, &pack, &ran);
        let method = specify(record, Some(&loaded.node), &survey, &pack, &ran, &fitted);
        Work {
            loaded,
            folder,
            pack,
            survey,
            ran,
            assessment,
            method,
            warnings,
            sentences: Sentences::default(),
        }
    }

    /// What a paper is put together from.
    pub fn sources<'a>(&'a self, photos: &'a [Photo]) -> Sources<'a> {
        Sources {
            record: &self.loaded.record,
            assessment: &self.assessment,
            method: &self.method,
            photos,
            vocabulary: &self.pack.vocabulary,
            sentences: &self.sentences,
        }
    }

    /// Prints the warnings on the record, if any.
    pub fn tell_warnings(&self, screen: Screen) {
        if !self.warnings.is_empty() {
            tell(&self.warnings.render(screen.err_colour));
        }
    }

    /// For the end of whatever is printed of this record: what it was made with, and what house
    /// rules added, replaced or switched off, a line each.
    pub fn made_lines(&self) -> String {
        let mut out = format!("\n  {}\n", made_with(&self.pack));
        for line in &self.assessment.made_with.house_rules {
            out += &format!("  House rule: {line}\n");
        }
        out
    }

    /// What was found, as JSON for machines, behind what it was made with. `found` is a struct or
    /// a map.
    ///
    /// # Errors
    /// When it can't be written as JSON.
    pub fn json<T: Serialize>(&self, found: T) -> anyhow::Result<String> {
        #[derive(Serialize)]
        struct Made<'a, T> {
            made_with: &'a MadeWith,
            #[serde(flatten)]
            found: T,
        }
        let made = Made {
            made_with: &self.assessment.made_with,
            found,
        };
        Ok(serde_json::to_string_pretty(&made)? + "\n")
    }

    /// The verdict facts of the slab, its areas and its panels.
    pub fn verdicts(&self) -> Vec<Spot> {
        let find = |id: &str| self.pack.vocabulary.find(id);
        let mut out = Vec::new();
        let mut add = |fact: Option<FactId>, thing: usize| {
            if let Some(fact) = fact {
                out.push(Spot { thing, fact });
            }
        };
        add(find("slab_verdict"), self.survey.slab);
        for area in &self.survey.areas {
            add(find("verdict"), area.thing);
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn photos_lie_beside_the_record_however_it_is_named() {
        let folder = |record: &str| {
            Loading {
                record: record.into(),
                house_rules: None,
            }
            .folder()
        };
        assert_eq!(folder("job.yaml"), Path::new("."));
        assert_eq!(folder("-"), Path::new("."));
        assert_eq!(folder("jobs/job.yaml"), Path::new("jobs"));
    }
}
