//! The owner's report as one self-contained HTML page.

use std::collections::HashMap;
use std::sync::LazyLock;

use minijinja::syntax::SyntaxConfig;
use minijinja::value::{Serde, Value};
use minijinja::{AutoEscape, Environment, UndefinedBehavior, context};

use serde::Serialize;

use super::phrases::Phrases;
use super::templates::{Letterhead, Logo, Templates};
use super::view::View;

/// Page templates, read once for a run of many papers.
#[derive(Debug)]
pub struct Pages {
    env: Environment<'static>,
    style: String,
    papers: String,
    shown: HashMap<String, String>,
}

static BUILT_IN: LazyLock<Result<Pages, ReportError>> =
    LazyLock::new(|| Pages::new(&Templates::default()));

/// Work that any template may do: steps, or 64 bytes made (`Environment::set_fuel`).
const FUEL: u64 = 4_000_000;
/// Bytes of what a page says for which a template may do one step more: eight times over all of it.
const BYTES_A_STEP: u64 = 8;

/// Counts what is written to it.
struct Length(u64);

impl std::io::Write for Length {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.0 += bytes.len() as u64;
        Ok(bytes.len())
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

/// What every page is rendered in: nothing undefined, everything escaped, blocks without lines of
/// their own.
fn environment() -> Result<Environment<'static>, minijinja::Error> {
    let mut env = Environment::new();
    env.set_undefined_behavior(UndefinedBehavior::Strict);
    env.set_syntax(
        SyntaxConfig::builder()
            .trim_blocks(true)
            .lstrip_blocks(true)
            .build()?,
    );
    env.set_auto_escape_callback(|_| AutoEscape::Html);
    Ok(env)
}

/// How every page begins that is no paper of a job: it loads nothing and runs nothing.
const HEAD: &str = include_str!("../../templates/head.html");

/// Writes a page that has one template, called `name`, and is no paper of a job.
pub(crate) fn alone(
    name: &'static str,
    template: &'static str,
    view: &minijinja::Value,
) -> Result<String, ReportError> {
    let render = || {
        let mut env = environment()?;
        env.add_template("head.html", HEAD)?;
        env.add_template(name, template)?;
        env.get_template(name)?.render(view)
    };
    render().map_err(|e| ReportError::of(&e, &HashMap::new()))
}

impl Pages {
    /// Reads the page templates.
    ///
    /// # Errors
    /// When one of them is broken.
    pub fn new(templates: &Templates) -> Result<Pages, ReportError> {
        let mut shown = HashMap::new();
        let mut env = environment().map_err(|e| ReportError::of(&e, &shown))?;
        for page in templates.pages() {
            shown.insert(page.name.clone(), page.shown.clone());
            env.add_template_owned(page.name.clone(), page.text.clone())
                .map_err(|e| ReportError::of(&e, &shown))?;
        }
        let style = |name: &str| {
            templates
                .get(name)
                .map_or(String::new(), |t| t.text.clone())
        };
        Ok(Pages {
            env,
            style: style("report.css"),
            papers: style("papers.css"),
            shown,
        })
    }

    /// Writes a paper as a page. The same view gives the same bytes.
    ///
    /// # Errors
    /// When the template asks for something the view does not hold.
    pub fn render<V: Serialize>(
        &self,
        template: &str,
        view: &V,
        phrases: &Phrases,
        letterhead: Option<&Letterhead>,
    ) -> Result<String, ReportError> {
        let logo = letterhead.and_then(|l| l.logo.as_ref()).map(Logo::uri);
        let view = if phrases.sentences.is_empty() {
            Value::from(Serde(view))
        } else {
            let data = phrases.sentences.data(view);
            Value::from(Serde(
                &data.map_err(|e| ReportError::Phrases(e.to_string()))?,
            ))
        };
        let mut length = Length(0);
        serde_json::to_writer(&mut length, &view)
            .map_err(|e| ReportError::Phrases(e.to_string()))?;
        let mut env = self.env.clone();
        env.set_fuel(Some(FUEL + length.0 / BYTES_A_STEP));
        env.get_template(template)
            .and_then(|page| {
                page.render(context! {
                    v => view,
                    t => Serde(&phrases.texts),
                    lang => &phrases.lang,
                    letterhead => Serde(letterhead),
                    logo,
                    style => &self.style,
                    papers => &self.papers,
                })
            })
            .map_err(|e| ReportError::of(&e, &self.shown))
    }
}

/// A page that could not be written.
#[derive(Debug, Clone, thiserror::Error)]
pub enum ReportError {
    /// The template is broken or asks for something that is not in the view.
    #[error("the template `{template}` failed{}: {message}\n  hint: compare with the built-in template of the same name", line.map_or(String::new(), |l| format!(" at line {l}")))]
    Template {
        /// Template file.
        template: String,
        /// Line in it.
        line: Option<usize>,
        /// What went wrong.
        message: String,
    },
    /// The template does more work than a page can need.
    #[error("the template `{template}` was stopped{}: it runs on without end, or makes far more text than a page holds\n  hint: look there for a loop over a long `range` or inside another loop, or a text that doubles itself", line.map_or(String::new(), |l| format!(" at line {l}")))]
    Endless {
        /// Template file.
        template: String,
        /// Line in it.
        line: Option<usize>,
    },
    /// The fixed text can't be read.
    #[error("{0}")]
    Phrases(String),
}

impl ReportError {
    pub(super) fn of(error: &minijinja::Error, shown: &HashMap<String, String>) -> Self {
        if error.kind() == minijinja::ErrorKind::OutOfFuel {
            return ReportError::Endless {
                template: named(error, shown),
                line: error.line(),
            };
        }
        // The template's own causes (a filter, an included file) say more than the outermost line.
        let mut message = error.detail().unwrap_or("it can't be rendered").to_owned();
        let mut source = std::error::Error::source(error);
        while let Some(inner) = source {
            message = format!("{message}: {inner}");
            source = inner.source();
        }
        ReportError::Template {
            template: named(error, shown),
            line: error.line(),
            message: format!("{} ({message})", error.kind()),
        }
    }
}

/// The template an error points to, as its owner knows it.
fn named(error: &minijinja::Error, shown: &HashMap<String, String>) -> String {
    error.name().map_or_else(
        || "report.html".to_owned(),
        |n| shown.get(n).cloned().unwrap_or_else(|| n.to_owned()),
    )
}

/// Writes the owner's report. The same view gives the same bytes.
///
/// # Errors
/// When the template can't be read or asks for something the view does not hold.
pub fn html(view: &View) -> Result<String, ReportError> {
    let pages = BUILT_IN.as_ref().map_err(Clone::clone)?;
    let phrases = Phrases::built_in("en").map_err(|e| ReportError::Phrases(e.to_string()))?;
    pages.render("report.html", view, &phrases, None)
}
