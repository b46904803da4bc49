//! Problems that point into a file, and how they are printed.

use std::fmt;
use std::ops::Range;

use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};

use super::tree::{Place, SourceFile};

/// Whether a problem stops the work.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Severity {
    /// The file can't be used until this is mended.
    Error,
    /// The file can be used; something in it looks wrong.
    Warning,
}

/// Most problems shown in one go; nobody reads further before mending the first.
const MOST_SHOWN: usize = 200;
/// Longest word that a near one is looked for, characters: no name of the record is as long.
const LONGEST_WORD: usize = 64;

/// One thing wrong with a file: what, where, and how to write it right.
#[derive(Debug, Clone)]
pub struct Problem {
    /// Whether it stops the work.
    pub severity: Severity,
    /// Stable short name, such as `unknown-key`.
    pub code: &'static str,
    /// What is wrong, in a sentence.
    pub message: String,
    /// How to write it right.
    pub hint: Option<String>,
    /// The file.
    pub file: Option<SourceFile>,
    /// The place in it.
    pub place: Option<Place>,
}

impl Problem {
    /// A problem that stops the work.
    pub fn error(code: &'static str, message: impl Into<String>) -> Self {
        Problem {
            severity: Severity::Error,
            code,
            message: message.into(),
            hint: None,
            file: None,
            place: None,
        }
    }

    /// A problem that does not stop the work.
    pub fn warning(code: &'static str, message: impl Into<String>) -> Self {
        Problem {
            severity: Severity::Warning,
            ..Problem::error(code, message)
        }
    }

    /// Points to a place in a file.
    #[must_use]
    pub fn at(mut self, file: &SourceFile, place: Place) -> Self {
        self.file = Some(file.clone());
        self.place = Some(place);
        self
    }

    /// Names the file alone.
    #[must_use]
    pub fn in_file(mut self, file: &SourceFile) -> Self {
        self.file = Some(file.clone());
        self
    }

    /// Says how to write it right.
    #[must_use]
    pub fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hint = Some(hint.into());
        self
    }

    /// The offending text, if there is a place.
    pub fn text(&self) -> Option<&str> {
        let (file, place) = (self.file.as_ref()?, self.place?);
        file.text.get(place.start..place.end)
    }

    fn render(&self, renderer: &Renderer) -> String {
        let level = match self.severity {
            Severity::Error => Level::ERROR,
            Severity::Warning => Level::WARNING,
        };
        let title = level.primary_title(&self.message).id(self.code);
        let mut group = match (&self.file, self.place) {
            (Some(file), Some(place)) => {
                let span = first_line(&file.text, place);
                // The line alone: the whole file would be gone through again for every problem.
                // The end of the text belongs to its last line.
                let (mut before, mut line) = (&file.text[..span.start], place.line.max(1));
                if span.start == file.text.len()
                    && let Some(last) = before.strip_suffix('\n')
                {
                    (before, line) = (last, (line - 1).max(1));
                }
                let from = before.rfind('\n').map_or(0, |i| i + 1);
                let to = file.text[span.end..]
                    .find('\n')
                    .map_or(file.text.len(), |i| span.end + i);
                let snippet = Snippet::source(&file.text[from..to])
                    .line_start(line)
                    .path(&*file.name)
                    .fold(true)
                    .annotation(AnnotationKind::Primary.span(span.start - from..span.end - from));
                Group::with_title(title).element(snippet)
            }
            (Some(file), None) => {
                Group::with_title(title).element(annotate_snippets::Origin::path(&*file.name))
            }
            _ => Group::with_title(title),
        };
        if let Some(hint) = &self.hint {
            group = group.element(Level::HELP.message(hint.as_str()));
        }
        renderer.render(&[group]).to_string()
    }
}

/// The part of a place that lies on its first line, so that a whole block is not underlined.
fn first_line(text: &str, place: Place) -> Range<usize> {
    let end = place.end.min(text.len());
    let start = place.start.min(end);
    let line_end = text[start..end].find('\n').map_or(end, |i| start + i);
    let trimmed = text[start..line_end].trim_end().len();
    if trimmed == 0 {
        // An empty place: point at one character if there is one on the line.
        let next = text[start..]
            .chars()
            .next()
            .filter(|c| *c != '\n')
            .map_or(0, char::len_utf8);
        return start..start + next;
    }
    start..start + trimmed
}

/// Every problem found in one go, in file order.
#[derive(Debug, Clone, Default)]
pub struct Problems(Vec<Problem>);

impl Problems {
    /// Adds one.
    pub fn push(&mut self, problem: Problem) {
        self.0.push(problem);
    }

    /// Adds all of another list.
    pub fn extend(&mut self, others: Problems) {
        self.0.extend(others.0);
    }

    /// Whether there is none at all.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// Whether any of them stops the work.
    pub fn has_errors(&self) -> bool {
        self.0.iter().any(|p| p.severity == Severity::Error)
    }

    /// In the order found.
    pub fn iter(&self) -> impl Iterator<Item = &Problem> {
        self.0.iter()
    }

    /// Sorts by file and place, keeping the order of problems at one place.
    pub fn sort(&mut self) {
        self.0.sort_by(|a, b| {
            let key = |p: &Problem| {
                (
                    p.file.as_ref().map(|f| f.name.clone()),
                    p.place.map(|p| p.start),
                )
            };
            key(a).cmp(&key(b))
        });
    }

    /// For a person, with the offending line and a mark under it.
    pub fn render(&self, colour: bool) -> String {
        let renderer = if colour {
            Renderer::styled()
        } else {
            Renderer::plain()
        };
        let mut shown = self
            .0
            .iter()
            .take(MOST_SHOWN)
            .map(|p| p.render(&renderer) + "\n")
            .collect::<Vec<_>>();
        if let Some(more @ 1..) = self.0.len().checked_sub(MOST_SHOWN) {
            shown.push(format!("and {more} more problems; mend these first\n"));
        }
        shown.join("\n")
    }

    /// One line a problem: `file:line:column: code: message (hint)`.
    pub fn to_plain(&self) -> String {
        use fmt::Write;
        let mut out = String::new();
        for p in &self.0 {
            if let Some(file) = &p.file {
                let _ = write!(out, "{}:", file.name);
            }
            if let Some(place) = p.place {
                let _ = write!(out, "{}:{}:", place.line, place.column);
            }
            let _ = write!(out, " {}: {}", p.code, p.message);
            if let Some(hint) = &p.hint {
                let _ = write!(out, " ({hint})");
            }
            out.push('\n');
        }
        out
    }

    /// For machines.
    pub fn to_json(&self) -> serde_json::Value {
        self.0
            .iter()
            .map(|p| {
                serde_json::json!({
                    "severity": p.severity,
                    "code": p.code,
                    "message": p.message,
                    "hint": p.hint,
                    "file": p.file.as_ref().map(|f| f.name.to_string()),
                    "line": p.place.map(|p| p.line),
                    "column": p.place.map(|p| p.column),
                    "text": p.text(),
                })
            })
            .collect()
    }
}

impl IntoIterator for Problems {
    type Item = Problem;
    type IntoIter = std::vec::IntoIter<Problem>;
    fn into_iter(self) -> Self::IntoIter {
        self.0.into_iter()
    }
}

impl fmt::Display for Problems {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.to_plain())
    }
}

impl std::error::Error for Problems {}

/// The candidate nearest to a misspelt word, if one is near enough to be meant.
pub fn nearest<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    if word.chars().nth(LONGEST_WORD).is_some() {
        return None;
    }
    candidates
        .into_iter()
        .map(|c| {
            (
                strsim::normalized_damerau_levenshtein(&word.to_lowercase(), c),
                c,
            )
        })
        .filter(|(score, _)| *score >= 0.5)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, c)| c)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nearest_names_are_offered_and_far_ones_are_not() {
        let keys = ["thickness", "finish", "relief"];
        assert_eq!(nearest("thicknes", keys), Some("thickness"));
        assert_eq!(nearest("relif", keys), Some("relief"));
        assert_eq!(nearest("zebra", keys), None);
    }

    #[test]
    fn a_problem_shows_line_mark_and_hint() {
        let file = SourceFile::new("r.yaml", "a: 1\nthicknes: 4\n");
        let place = Place {
            line: 2,
            column: 1,
            start: 5,
            end: 13,
        };
        let mut problems = Problems::default();
        problems.push(
            Problem::error("unknown-key", "no such key")
                .at(&file, place)
                .hint("did you mean `thickness`?"),
        );
        let text = problems.render(false);
        assert!(
            text.contains("r.yaml:2:1")
                && text.contains("^^^^^^^^")
                && text.contains("did you mean"),
            "{text}"
        );
        assert_eq!(
            problems.to_plain(),
            "r.yaml:2:1: unknown-key: no such key (did you mean `thickness`?)\n"
        );
    }
}
