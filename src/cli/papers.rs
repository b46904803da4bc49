//! What every command that writes a paper shares: format, sheet, language, templates, letterhead.

use std::path::{Path, PathBuf};

use anyhow::bail;
use clap::ValueEnum;
use serde::Serialize;

use crate::report::Pages;
use crate::report::photos::Photo;
use crate::report::phrases::Phrases;
use crate::report::templates::{Letterhead, Templates};

use super::output::{keep, ready};

/// Form of a paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// A page for the browser.
    Html,
    /// A PDF.
    Pdf,
    /// Both, side by side.
    Both,
    /// The data handed to the templates, for whoever writes one.
    Data,
}

/// Size of a sheet.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, ValueEnum)]
pub enum Sheet {
    /// 8-1/2 by 11 in.
    #[default]
    Letter,
    /// 210 by 297 mm.
    A4,
}

/// Options on how a paper looks.
#[derive(Debug, Clone, clap::Args)]
pub struct Looks {
    /// Form of the paper. Default: by the ending of the output's name, else `html`.
    #[arg(long, value_name = "FORM")]
    pub format: Option<Format>,
    /// Size of the sheet, for a PDF.
    #[arg(long = "paper", value_name = "SIZE", default_value = "letter")]
    pub sheet: Sheet,
    /// Language of the fixed text: `en`, `es`, or a file of your own.
    #[arg(long, value_name = "LANGUAGE", default_value = "en")]
    pub language: String,
    /// Folder with your own templates; each takes the place of the built-in one of its name. A
    /// `letterhead.yaml` in it is used too.
    #[arg(long, value_name = "FOLDER")]
    pub templates: Option<PathBuf>,
    /// Your letterhead: a file with `name:`, `lines:` and `logo:`.
    #[arg(long, value_name = "FILE")]
    pub letterhead: Option<PathBuf>,
    /// Hold a PDF to the accessibility standard PDF/UA-1.
    #[arg(long)]
    pub accessible: bool,
}

/// A paper ready to be written.
pub struct Paper<'a, V> {
    /// Name of its templates, without ending.
    pub template: &'a str,
    /// What it says.
    pub view: &'a V,
    /// Its photos.
    pub photos: &'a [Photo],
    /// Day of the record, where it is one.
    pub date: Option<&'a str>,
}

/// Templates, text and letterhead of a run.
#[derive(Debug)]
pub struct Press {
    looks: Looks,
    templates: Templates,
    phrases: Phrases,
    letterhead: Option<Letterhead>,
}

/// A file to write.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Form {
    Html,
    Pdf,
    Data,
}

impl Form {
    fn ending(self) -> &'static str {
        match self {
            Form::Html => "html",
            Form::Pdf => "pdf",
            Form::Data => "json",
        }
    }
}

impl Press {
    /// Reads templates, text and letterhead.
    ///
    /// # Errors
    /// When one of them can't be read or is broken.
    pub fn new(looks: &Looks) -> anyhow::Result<Press> {
        let mut templates = match &looks.templates {
            Some(folder) => Templates::load(folder)?,
            None => Templates::default(),
        };
        let letterhead = match &looks.letterhead {
            Some(file) => Some(Letterhead::load(file)?),
            None => templates.letterhead.take(),
        };
        Ok(Press {
            phrases: Phrases::load(&looks.language)?,
            looks: looks.clone(),
            templates,
            letterhead,
        })
    }

    /// The fixed text.
    pub fn phrases(&self) -> &Phrases {
        &self.phrases
    }

    fn forms(&self, output: Option<&Path>) -> Vec<Form> {
        let ends = |ending: &str| {
            output
                .and_then(Path::extension)
                .is_some_and(|e| e.eq_ignore_ascii_case(ending))
        };
        match self.looks.format {
            Some(Format::Html) => vec![Form::Html],
            Some(Format::Pdf) => vec![Form::Pdf],
            Some(Format::Data) => vec![Form::Data],
            Some(Format::Both) => vec![Form::Html, Form::Pdf],
            None if ends("pdf") => vec![Form::Pdf],
            None if ends("json") => vec![Form::Data],
            None => vec![Form::Html],
        }
    }

    /// The files a paper goes to: `output` as it stands for one form, with the ending changed for
    /// two; without `output`, beside the record with `suffix` before the ending. `None` is
    /// standard output.
    ///
    /// # Errors
    /// When a file is in the way and `force` is not given, or two forms go to standard output.
    pub fn places(
        &self,
        record: &Path,
        output: Option<&Path>,
        suffix: &str,
        force: bool,
    ) -> anyhow::Result<Option<Vec<PathBuf>>> {
        let forms = self.forms(output);
        let dash = Path::new("-");
        if output == Some(dash) || (output.is_none() && record == dash) {
            if forms.len() > 1 {
                bail!("only one form fits on standard output; name a file with `-o`");
            }
            return Ok(None);
        }
        let paths: Vec<PathBuf> = forms
            .iter()
            .map(|form| match output {
                Some(path) if forms.len() == 1 => path.to_owned(),
                Some(path) => path.with_extension(form.ending()),
                None => {
                    let stem = record.file_stem().unwrap_or(record.as_os_str());
                    let mut name = stem.to_owned();
                    name.push(suffix);
                    name.push(".");
                    name.push(form.ending());
                    record.with_file_name(name)
                }
            })
            .collect();
        // Said before any work on photos, and again should a file appear meanwhile.
        if let Some(there) = paths.iter().find(|p| !force && p.exists()) {
            bail!(
                "{} exists already; give `--force` to write over it, or `-o` another name",
                there.display()
            );
        }
        for path in &paths {
            keep(&[record], path)?;
        }
        Ok(Some(paths))
    }

    /// Writes a paper to its places; gives its bytes where they belong on standard output.
    ///
    /// # Errors
    /// When a template is broken or a file can't be written. Every form is made before the first
    /// file is written.
    pub fn write<V: Serialize>(
        &self,
        paper: &Paper<'_, V>,
        output: Option<&Path>,
        places: Option<&[PathBuf]>,
        force: bool,
    ) -> anyhow::Result<Option<Vec<u8>>> {
        let mut made = Vec::new();
        for form in self.forms(output) {
            made.push(match form {
                Form::Html => Pages::new(&self.templates)?
                    .render(
                        &format!("{}.html", paper.template),
                        paper.view,
                        &self.phrases,
                        self.letterhead.as_ref(),
                    )?
                    .into_bytes(),
                Form::Pdf => self.pdf(paper)?,
                Form::Data => {
                    let sentences = &self.phrases.sentences;
                    let mut data = if sentences.is_empty() {
                        serde_json::to_vec_pretty(paper.view)?
                    } else {
                        serde_json::to_vec_pretty(&sentences.data(paper.view)?)?
                    };
                    data.push(b'\n');
                    data
                }
            });
        }
        let Some(places) = places else {
            return Ok(made.into_iter().next());
        };
        // Both lie on the disk before the first takes the place of an older one.
        let files: Vec<_> = places
            .iter()
            .zip(&made)
            .map(|(path, bytes)| ready(path, bytes, force))
            .collect::<anyhow::Result<_>>()?;
        for file in files {
            file.put()?;
        }
        Ok(None)
    }

    #[cfg(feature = "pdf")]
    fn pdf<V: Serialize>(&self, paper: &Paper<'_, V>) -> anyhow::Result<Vec<u8>> {
        use crate::report::pdf;
        let setting = pdf::Setting {
            sheet: match self.looks.sheet {
                Sheet::Letter => pdf::Sheet::Letter,
                Sheet::A4 => pdf::Sheet::A4,
            },
            accessible: self.looks.accessible,
            templates: &self.templates,
            phrases: &self.phrases,
            letterhead: self.letterhead.as_ref(),
        };
        let written = pdf::write(
            &format!("{}.typ", paper.template),
            paper.view,
            paper.photos,
            paper.date,
            &setting,
        )?;
        if !written.lost.is_empty() {
            let lost: Vec<String> = written.lost.iter().map(char::to_string).collect();
            super::tell(&format!(
                "ringtrue: the PDF's typefaces have no letter for {}; an empty square stands there (the page shows them)\n",
                lost.join(" ")
            ));
        }
        if written.unsettled {
            super::tell(&format!(
                "ringtrue: the pages of `{}.typ` do not settle, so page numbers in it may be wrong; look in your template for what is laid out by its place on the page\n",
                paper.template
            ));
        }
        Ok(written.bytes)
    }

    #[cfg(not(feature = "pdf"))]
    fn pdf<V: Serialize>(&self, _: &Paper<'_, V>) -> anyhow::Result<Vec<u8>> {
        bail!("this build has no PDF; build it with the feature `pdf`, or ask for `--format html`")
    }
}

/// Names of files for a person.
pub fn named(places: Option<&[PathBuf]>) -> Option<String> {
    places.map(|paths| {
        paths
            .iter()
            .map(|p| p.display().to_string())
            .collect::<Vec<_>>()
            .join(" and ")
    })
}
