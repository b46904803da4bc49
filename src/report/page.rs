//! The owner's report as one self-contained HTML page.

use std::sync::LazyLock;

use minijinja::syntax::SyntaxConfig;
use minijinja::value::Serde;
use minijinja::{AutoEscape, Environment, UndefinedBehavior, context};

use super::view::View;

const PAGE: &str = include_str!("../../templates/report.html");
const STYLE: &str = include_str!("../../templates/report.css");

/// Templates are read once for a run of many reports.
static TEMPLATES: LazyLock<Result<Environment<'static>, minijinja::Error>> = LazyLock::new(|| {
    let mut env = Environment::new();
    env.set_undefined_behavior(UndefinedBehavior::Strict);
    env.set_syntax(
        SyntaxConfig::builder()
            .trim_blocks(true)
            .lstrip_blocks(true)
            .build()?,
    );
    env.set_auto_escape_callback(|_| AutoEscape::Html);
    env.add_template("report.html", PAGE)?;
    Ok(env)
});

/// A page that could not be written.
#[derive(Debug, thiserror::Error)]
pub enum ReportError {
    /// The template is broken or asks for something that is not in the view.
    #[error("the template `{template}` failed{}: {message}", line.map_or(String::new(), |l| format!(" at line {l}")))]
    Template {
        /// Template file.
        template: String,
        /// Line in it.
        line: Option<usize>,
        /// What went wrong.
        message: String,
    },
}

impl ReportError {
    pub(super) fn of(error: &minijinja::Error) -> Self {
        // The template's own causes (a filter, an included file) say more than the outermost line.
        let mut message = error.detail().unwrap_or("it can't be rendered").to_owned();
        let mut source = std::error::Error::source(error);
        while let Some(inner) = source {
            message = format!("{message}: {inner}");
            source = inner.source();
        }
        ReportError::Template {
            template: error.name().unwrap_or("report.html").to_owned(),
            line: error.line(),
            message: format!("{} ({message})", error.kind()),
        }
    }
}

/// Writes the owner's report. The same view gives the same bytes.
///
/// # Errors
/// When the template can't be read or asks for something the view does not hold.
pub fn html(view: &View) -> Result<String, ReportError> {
    let env = TEMPLATES.as_ref().map_err(ReportError::of)?;
    env.get_template("report.html")
        .and_then(|page| page.render(context! { v => Serde(view), style => STYLE }))
        .map_err(|e| ReportError::of(&e))
}
