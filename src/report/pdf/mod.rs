//! Papers as PDF: a typesetter in the same process, fed with a view and a template.
//!
//! The view reaches the template as a data file, never as source, so that nothing a client wrote
//! can become markup. There is no network and no file but those handed over here. The same view
//! gives the same bytes.

mod fonts;
mod world;

use std::collections::BTreeSet;
use std::fmt;
use std::sync::mpsc::{RecvTimeoutError, channel};
use std::time::Duration;

use serde::Serialize;
use typst::diag::SourceDiagnostic;
use typst::foundations::{Bytes, Smart};
use typst::{World as _, WorldExt as _};
use typst_layout::PagedDocument;
use typst_pdf::{PdfOptions, PdfStandard, PdfStandards};

use super::photos::Photo;
use super::phrases::Phrases;
use super::templates::{Letterhead, Templates};

/// Stack of the typesetting thread, bytes. Nested blocks take more of it than a thread usually has.
const STACK: usize = 64 << 20;
/// Runs after which the typesetter's memory of earlier results is dropped.
const KEEP: usize = 2;

/// How the typesetter says that places and page numbers still change after its last round.
const UNSETTLED: &str = "did not converge";

/// Longest that a paper may take. The greatest record takes a small part of it; a template that
/// counts to a billion never ends.
const LONGEST: Duration = Duration::from_secs(300);

/// Size of a sheet.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Sheet {
    /// 8-1/2 by 11 in.
    #[default]
    Letter,
    /// 210 by 297 mm.
    A4,
}

impl Sheet {
    /// Name by which the typesetter knows it.
    fn word(self) -> &'static str {
        match self {
            Sheet::Letter => "us-letter",
            Sheet::A4 => "a4",
        }
    }
}

/// How a paper is set, whatever it says.
#[derive(Debug, Clone, Copy)]
pub struct Setting<'a> {
    /// Size of the sheet.
    pub sheet: Sheet,
    /// Hold the file to PDF/UA-1 (accessible documents) and fail where it can't be kept.
    pub accessible: bool,
    /// Templates, the contractor's before the built-in ones.
    pub templates: &'a Templates,
    /// Fixed text in the language of the paper.
    pub phrases: &'a Phrases,
    /// The contractor's name and logo at the head of the paper.
    pub letterhead: Option<&'a Letterhead>,
}

/// What is handed to every template.
#[derive(Serialize)]
struct Data<'a> {
    /// Size of the sheet.
    sheet: &'a str,
    /// Language of the fixed text.
    lang: &'a str,
    /// Fixed text by key.
    phrases: &'a std::collections::BTreeMap<String, String>,
    /// The contractor's letterhead.
    letterhead: Option<&'a Letterhead>,
    /// Name of the logo's file.
    logo: Option<&'static str>,
    /// Numbers of the photos that can be shown.
    photos: Vec<usize>,
    /// The view.
    v: serde_json::Value,
}

/// A finished PDF.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Written {
    /// The file.
    pub bytes: Vec<u8>,
    /// Characters for which no typeface has a letter; an empty square stands in their place.
    pub lost: Vec<char>,
    /// What moves on the pages when their numbers are filled in, so that the numbers may be wrong: a
    /// template that lays out by where it stands on the page can do that.
    pub unsettled: bool,
}

/// Why a PDF could not be written.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PdfError {
    /// The view can't be written as data.
    #[error("the view can't be handed to the template: {0}")]
    Data(String),
    /// A template is broken.
    #[error("{0}")]
    Template(Fault),
    /// The paper takes longer than any paper does.
    #[error(
        "the template `{template}` was stopped: its paper was not set after {seconds} s\n  hint: look there for a loop over a long range or inside another loop; compare with the built-in template of the same name"
    )]
    Endless {
        /// Template the paper starts at.
        template: String,
        /// How long it was let run, seconds.
        seconds: u64,
    },
    /// The typesetter gave up.
    #[error("the typesetter gave up on `{0}`")]
    Typesetter(String),
}

/// A fault in a template, with its place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// Template file, as its owner knows it.
    pub file: String,
    /// Line and column, from 1.
    pub place: Option<(usize, usize)>,
    /// What is wrong.
    pub message: String,
    /// What may mend it.
    pub hints: Vec<String>,
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "the template `{}` failed", self.file)?;
        if let Some((line, column)) = self.place {
            write!(f, " at line {line}, column {column}")?;
        }
        write!(f, ": {}", self.message)?;
        for hint in &self.hints {
            write!(f, "\n  hint: {hint}")?;
        }
        Ok(())
    }
}

/// Sets a paper. `template` is the name of a `.typ` template, `date` the day of the record
/// (`YYYY-MM-DD`), if it is one.
///
/// # Errors
/// When the template is broken, or asks for something that the view does not hold, or, where
/// PDF/UA-1 is asked for, when the paper can't be held to it.
pub fn write<V: Serialize>(
    template: &str,
    view: &V,
    photos: &[Photo],
    date: Option<&str>,
    setting: &Setting<'_>,
) -> Result<Written, PdfError> {
    write_within(LONGEST, template, view, photos, date, setting)
}

fn write_within<V: Serialize>(
    longest: Duration,
    template: &str,
    view: &V,
    photos: &[Photo],
    date: Option<&str>,
    setting: &Setting<'_>,
) -> Result<Written, PdfError> {
    let data_error = |e: serde_json::Error| PdfError::Data(e.to_string());
    let mut v = setting.phrases.sentences.data(view).map_err(data_error)?;
    // The pictures travel as files of their own.
    if let Some(list) = v
        .pointer_mut("/saw/photos")
        .and_then(serde_json::Value::as_array_mut)
    {
        for photo in list {
            if let Some(photo) = photo.as_object_mut() {
                photo.remove("uri");
            }
        }
    }
    let mut lost = BTreeSet::new();
    stand_in(&mut v, &mut lost);
    let pictures: Vec<(usize, &[u8])> = photos
        .iter()
        .filter_map(|p| Some((p.number, p.picture.as_ref().ok()?.jpeg.as_slice())))
        .collect();
    let data = serde_json::to_vec(&Data {
        sheet: setting.sheet.word(),
        lang: &setting.phrases.lang,
        phrases: &setting.phrases.texts,
        letterhead: setting.letterhead,
        logo: setting
            .letterhead
            .and_then(|l| l.logo.as_ref())
            .map(|l| l.kind.file()),
        photos: pictures.iter().map(|(n, _)| *n).collect(),
        v,
    })
    .map_err(data_error)?;
    let mut world = world::World::new(template, date);
    world.add("/data.json", Bytes::new(data));
    for (number, jpeg) in pictures {
        world.add(&format!("/photo-{number}.jpg"), Bytes::new(jpeg.to_vec()));
    }
    if let Some(logo) = setting.letterhead.and_then(|l| l.logo.as_ref()) {
        world.add(
            &format!("/{}", logo.kind.file()),
            Bytes::new(logo.bytes.clone()),
        );
    }
    for source in setting.templates.typeset() {
        world.template(&source.name, source.text.clone(), source.shown.clone());
    }
    let standards = if setting.accessible {
        vec![PdfStandard::V_1_7, PdfStandard::Ua_1]
    } else {
        vec![PdfStandard::V_1_7]
    };
    let options = PdfOptions {
        ident: Smart::Auto,
        creator: Smart::Custom(Some(format!("ringtrue {}", env!("CARGO_PKG_VERSION")))),
        standards: PdfStandards::new(&standards)
            .map_err(|e| PdfError::Data(e.message().to_string()))?,
        ..PdfOptions::default()
    };
    let set = move || {
        let set = typst::compile::<PagedDocument>(&world);
        let unsettled = set.warnings.iter().any(|w| w.message.contains(UNSETTLED));
        let bytes = set
            .output
            .and_then(|document| typst_pdf::pdf(&document, &options))
            .map_err(|faults| fault(&world, faults.first()));
        typst::comemo::evict(KEEP);
        bytes.map(|bytes| (bytes, unsettled))
    };
    // On a thread of its own: for its stack, so that a fault of the typesetter stays in there, and so
    // that one that never ends can be left behind.
    let (sender, receiver) = channel();
    let gave_up = || PdfError::Typesetter(template.to_owned());
    std::thread::Builder::new()
        .stack_size(STACK)
        .spawn(move || sender.send(set()))
        .map_err(|_| gave_up())?;
    let (bytes, unsettled) = receiver.recv_timeout(longest).map_err(|e| match e {
        RecvTimeoutError::Disconnected => gave_up(),
        RecvTimeoutError::Timeout => PdfError::Endless {
            template: template.to_owned(),
            seconds: longest.as_secs(),
        },
    })??;
    Ok(Written {
        bytes,
        lost: lost.into_iter().collect(),
        unsettled,
    })
}

/// Puts a stand-in where no typeface has a letter, and takes out the marks that joined it to
/// others. What was lost is kept for the caller to tell.
fn stand_in(value: &mut serde_json::Value, lost: &mut BTreeSet<char>) {
    match value {
        serde_json::Value::String(text) => {
            if text.chars().all(fonts::printable) {
                return;
            }
            let mut out = String::with_capacity(text.len());
            let mut after = false;
            for c in text.chars() {
                if fonts::printable(c) {
                    if !(after && fonts::is_joiner(c)) {
                        out.push(c);
                        after = false;
                    }
                } else {
                    lost.insert(c);
                    out.push(fonts::STAND_IN);
                    after = true;
                }
            }
            *text = out;
        }
        serde_json::Value::Array(list) => list.iter_mut().for_each(|x| stand_in(x, lost)),
        serde_json::Value::Object(map) => {
            map.values_mut().for_each(|x| stand_in(x, lost));
        }
        _ => {}
    }
}

fn fault(world: &world::World, fault: Option<&SourceDiagnostic>) -> PdfError {
    let Some(fault) = fault else {
        return PdfError::Typesetter(world.shown(world.main()));
    };
    // A fault inside the shared parts is the caller's: the outermost place in the trace that has
    // a line is where a person would look next, but the innermost is where it went wrong.
    let id = fault.span.id();
    let place = id.and_then(|id| {
        let source = world.source(id).ok()?;
        let at = world.range(fault.span)?.start;
        let lines = source.lines();
        Some((lines.byte_to_line(at)? + 1, lines.byte_to_column(at)? + 1))
    });
    // What it advises to its own command line is not to be had here.
    let said = fault.hints.iter().map(|h| h.v.to_string());
    let mut hints: Vec<String> = said.filter(|h| !h.contains("--root")).collect();
    if hints.is_empty() {
        hints.push("compare with the built-in template of the same name".to_owned());
    }
    PdfError::Template(Fault {
        file: world.shown(id.unwrap_or_else(|| world.main())),
        place,
        message: fault.message.to_string(),
        hints,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::templates::Template;

    /// A template of one's own, set.
    fn set(template: &str, longest: Duration) -> Result<Written, PdfError> {
        let mut templates = Templates::default();
        templates.lay(Template {
            name: "report.typ".to_owned(),
            text: template.to_owned(),
            shown: "ours/report.typ".to_owned(),
        });
        let setting = Setting {
            sheet: Sheet::Letter,
            accessible: false,
            templates: &templates,
            phrases: Phrases::english(),
            letterhead: None,
        };
        let view = serde_json::json!({});
        write_within(longest, "report.typ", &view, &[], None, &setting)
    }

    /// What is said of it.
    fn said(template: &str, longest: Duration) -> String {
        match set(template, longest) {
            Ok(written) => format!("{} bytes", written.bytes.len()),
            Err(error) => error.to_string(),
        }
    }

    #[test]
    fn a_template_reads_no_file_of_the_disk() {
        for template in [
            "#read(\"/etc/hostname\")",
            "#include \"../../Cargo.toml\"",
            "#image(\"/usr/share/x.png\")",
            "#import \"@preview/example:0.1.0\": *",
        ] {
            let said = said(template, LONGEST);
            assert!(
                said.contains("ours/report.typ")
                    && (said.contains("not found") || said.contains("would escape"))
                    && !said.contains("--root"),
                "{template}: {said}"
            );
        }
        assert!(said("Fine.", LONGEST).ends_with(" bytes"));
    }

    #[test]
    fn pages_that_do_not_settle_are_told() {
        let unsettled = |template: &str| set(template, LONGEST).map(|w| w.unsettled);
        let fine = "#set page(numbering: \"1 of 1\")\nOne.\n#pagebreak()\nTwo.";
        assert_eq!(unsettled(fine), Ok(false));
        // A break where the page is nearly full moves the place that asks to the next page, where
        // nothing asks for a break.
        let swings =
            "#box(height: 150mm)\n\n#context if here().position().y > 95mm { pagebreak() }\nEnd.";
        assert_eq!(unsettled(swings), Ok(true));
    }

    #[test]
    fn a_template_without_end_is_left_behind() {
        let turns = "#{ for a in range(9999) { for b in range(9999) { for c in range(9999) { let x = a } } } }";
        let stopped = said(turns, Duration::from_secs(1));
        assert!(
            stopped.contains("`report.typ` was stopped") && stopped.contains("1 s"),
            "{stopped}"
        );
        // The typesetter's own guards come first where they can.
        for (template, guard) in [
            ("#while true { }", "always true"),
            ("#let f(n) = f(n + 1)\n#f(1)", "depth"),
            ("#include \"report.typ\"", "cyclic"),
        ] {
            let said = said(template, LONGEST);
            assert!(said.contains(guard), "{template}: {said}");
        }
    }
}
