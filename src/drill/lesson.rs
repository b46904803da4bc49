//! Lessons: files of cases that a trainer writes.
//!
//! ```yaml
//! lesson: Frost or finishing?
//! about: Two ways to lose a surface.       # optional
//! cases:
//!   - id: two-soft-panels
//!     title: Two panels of six
//!     defect: 1                            # the one asked about; optional
//!     answer:                              # optional: else what the rules say
//!       cause: [finished_wet]
//!       verdict: [patch, thin_resurfacing]
//!     method:                              # optional: else made from the rules
//!       - part: prep                       # one of the parts of the method
//!         right: [do-grind-sound]          # rows of steps; optional: else from the rules
//!         wrong: [removal_method.pressure_wash]  # rows, or choice and candidate; optional
//!     says: What the trainer adds at the end.
//!     record:                              # a whole inspection record
//!       ringtrue: 1
//! ```

use crate::facts::{FactKind, Reader, Vocabulary};
use crate::record::{self, Loaded};
use crate::source::{Limits, Node, Place, Problem, Problems, SourceFile, nearest};
use crate::walk::end_of;

use super::method::Part;

/// What counts as right.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Answer {
    /// Causes that are right; what the rules say when there are none.
    pub causes: Vec<String>,
    /// Verdicts that are right; what the rules say when there are none.
    pub verdicts: Vec<String>,
    /// Where a lesson names the causes.
    pub causes_at: Option<Place>,
    /// Where a lesson names the verdicts.
    pub verdicts_at: Option<Place>,
}

/// A question on the method as a trainer states it.
#[derive(Debug, Clone)]
pub struct Stated {
    /// What it is about.
    pub part: Part,
    /// The question in the trainer's words.
    pub ask: Option<String>,
    /// Right answers by id, with their places; those the rules give when there are none.
    pub right: Vec<(String, Place)>,
    /// Wrong answers, the same way.
    pub wrong: Vec<(String, Place)>,
    /// Where it stands.
    pub place: Place,
}

/// A case to practise on.
#[derive(Debug, Clone)]
pub struct Case {
    /// Name in the scores.
    pub id: String,
    /// What it is called when it is over; a title may give the answer away.
    pub title: String,
    /// Kind of the defect asked about, which is its topic in the scores.
    pub topic: String,
    /// Index of the area.
    pub area: usize,
    /// Index of the defect in it.
    pub defect: usize,
    /// The record.
    pub loaded: Loaded,
    /// What counts as right.
    pub answer: Answer,
    /// Questions on the method; made from the rules when there are none.
    pub method: Vec<Stated>,
    /// What the trainer adds at the end.
    pub says: Option<String>,
    /// Published basis, where there is one.
    pub source: Option<String>,
}

/// A file of cases.
#[derive(Debug, Clone)]
pub struct Lesson {
    /// Its title.
    pub title: String,
    /// What it is about.
    pub about: Option<String>,
    /// Its cases.
    pub cases: Vec<Case>,
}

impl Lesson {
    /// Reads a lesson. Every problem of it and of its records is found in one go; the lesson is
    /// given when none is an error.
    pub fn read(
        file: &SourceFile,
        vocabulary: &Vocabulary,
        problems: &mut Problems,
    ) -> Option<Lesson> {
        let mut found = Problems::default();
        let lesson = read(file, vocabulary, &mut found);
        found.sort();
        let bad = found.has_errors();
        problems.extend(found);
        lesson.filter(|_| !bad)
    }
}

fn read(file: &SourceFile, vocabulary: &Vocabulary, problems: &mut Problems) -> Option<Lesson> {
    let root = file.yaml(Limits::default(), problems)?;
    let mut reader = Reader { file, problems };
    reader.only_keys(&root, &["lesson", "about", "cases"]);
    let title = reader.text(&root, "lesson");
    let about = reader.optional_text(&root, "about");
    let items = reader.items(&root, "cases");
    if items.is_empty() && root.get("cases").is_none_or(|n| n.items().is_empty()) {
        reader.error(
            "missing-key",
            root.get("cases").map_or(root.place, |n| n.place),
            "a lesson needs cases",
            "add `cases:` and under it a list, each item with `id`, `title` and `record`",
        );
    }
    let mut cases: Vec<Case> = Vec::new();
    for item in items {
        let mut reader = Reader { file, problems };
        reader.only_keys(
            item,
            &[
                "id", "title", "defect", "answer", "method", "says", "source", "record",
            ],
        );
        let id = reader.text(item, "id");
        let title = reader.text(item, "title");
        if cases.iter().any(|c| c.id == id) {
            let place = item.get("id").map_or(item.place, |n| n.place);
            reader.error(
                "repeated-id",
                place,
                format!("the case `{id}` stands in this lesson already"),
                "scores are kept by this name: give it another",
            );
        }
        let says = reader.optional_text(item, "says");
        let source = reader.optional_text(item, "source");
        let answer = answer(
            &mut reader,
            item.get("answer"),
            ("cause", "verdict"),
            vocabulary,
        );
        let method = stated(&mut reader, item);
        let defect = number(&mut reader, item);
        let Some(node) = item.get("record") else {
            reader.error(
                "missing-key",
                item.place,
                "`record` is missing",
                "write a whole inspection record under it, as `ringtrue starter` shows",
            );
            continue;
        };
        let part = part(file, node);
        let Some(loaded) = load(&part, vocabulary, problems) else {
            continue;
        };
        let case = Case {
            id,
            title,
            method,
            says,
            source,
            ..focus(file, item, loaded, defect, answer, problems)?
        };
        cases.push(case);
    }
    Some(Lesson {
        title,
        about,
        cases,
    })
}

/// A worked case of the repository's own tests.
pub(super) fn worked_case(
    name: &str,
    file: &SourceFile,
    vocabulary: &Vocabulary,
    problems: &mut Problems,
) -> Option<Case> {
    let root = file.yaml(Limits::default(), problems)?;
    let expect = root.get("expect")?;
    let mut reader = Reader { file, problems };
    let answer = answer(
        &mut reader,
        Some(expect),
        ("cause_first_in", "verdict_in"),
        vocabulary,
    );
    let defect = number(&mut reader, expect);
    let title = reader.text(&root, "title");
    let source = reader.optional_text(&root, "source");
    let loaded = load(&part(file, root.get("record")?), vocabulary, problems)?;
    Some(Case {
        id: name.to_owned(),
        title,
        source,
        ..focus(file, &root, loaded, defect, answer, problems)?
    })
}

/// A record by itself as a case.
pub(super) fn case_of_record(
    name: &str,
    file: &SourceFile,
    answer: Answer,
    vocabulary: &Vocabulary,
    problems: &mut Problems,
) -> Option<Case> {
    let loaded = load(file, vocabulary, problems)?;
    let root = loaded.node.clone();
    Some(Case {
        id: name.to_owned(),
        title: name.replace('-', " "),
        ..focus(file, &root, loaded, None, answer, problems)?
    })
}

fn load(file: &SourceFile, vocabulary: &Vocabulary, problems: &mut Problems) -> Option<Loaded> {
    // No folder: a lesson shows no pictures, so they need not be there. No day: it may be old.
    let (loaded, found) = record::read(file, None, None, Some(vocabulary));
    problems.extend(found);
    loaded
}

/// The defect a case asks about: the one named, else the first.
fn focus(
    file: &SourceFile,
    item: &Node,
    loaded: Loaded,
    number: Option<u32>,
    answer: Answer,
    problems: &mut Problems,
) -> Option<Case> {
    let all = || {
        loaded
            .record
            .areas
            .iter()
            .enumerate()
            .flat_map(|(a, area)| area.defects.iter().enumerate().map(move |(d, x)| (a, d, x)))
    };
    let found = match number {
        Some(n) => all().find(|(_, _, d)| d.id == n),
        None => all().next(),
    };
    let Some((area, defect, _)) = found else {
        let place = item.get("defect").map_or(item.place, |n| n.place);
        problems.push(
            Problem::error("defect", "the record has no such defect to ask about")
                .at(file, place)
                .hint("name the number of a defect of the record"),
        );
        return None;
    };
    let topic = loaded
        .node
        .at_path(&format!("areas.{area}.defects.{defect}.kind"))
        .and_then(Node::text)
        .unwrap_or_default()
        .to_owned();
    Some(Case {
        id: String::new(),
        title: String::new(),
        topic,
        area,
        defect,
        loaded,
        answer,
        method: Vec::new(),
        says: None,
        source: None,
    })
}

/// The questions on the method of a case.
fn stated(reader: &mut Reader<'_>, item: &Node) -> Vec<Stated> {
    let mut out: Vec<Stated> = Vec::new();
    for node in reader.items(item, "method") {
        reader.only_keys(node, &["part", "ask", "right", "wrong"]);
        let parts = Part::ALL.map(|p| (p.word(), p));
        let ids = |reader: &mut Reader<'_>, key: &str| -> Vec<(String, Place)> {
            (reader.texts(node, key).into_iter())
                .map(|(text, node)| (text, node.place))
                .collect()
        };
        let (right, wrong) = (ids(reader, "right"), ids(reader, "wrong"));
        let ask = reader.optional_text(node, "ask");
        let Some(part) = reader.word(node, "part", &parts) else {
            continue;
        };
        if out.iter().any(|s| s.part == part) {
            reader.error(
                "repeated-part",
                node.place,
                format!("the part `{}` is asked about already", part.word()),
                "put all its answers into one question",
            );
            continue;
        }
        out.push(Stated {
            part,
            ask,
            right,
            wrong,
            place: node.place,
        });
    }
    out
}

fn number(reader: &mut Reader<'_>, node: &Node) -> Option<u32> {
    let text = reader.optional_text(node, "defect")?;
    match text.parse::<u32>() {
        Ok(n) if n > 0 => Some(n),
        _ => {
            let place = node.get("defect").map_or(node.place, |n| n.place);
            reader.error(
                "number",
                place,
                format!("`{text}` is no number of a defect"),
                "write the number it has in the record, such as `1`",
            );
            None
        }
    }
}

fn answer(
    reader: &mut Reader<'_>,
    node: Option<&Node>,
    (cause, verdict): (&str, &str),
    vocabulary: &Vocabulary,
) -> Answer {
    let Some(node) = node else {
        return Answer::default();
    };
    if cause == "cause" {
        reader.only_keys(node, &[cause, verdict]);
    }
    // Causes are the values of the facts that the tables of causes make.
    let causes: Vec<&str> = vocabulary
        .facts()
        .filter(|(_, f)| f.id.ends_with("_cause"))
        .flat_map(|(_, f)| f.values().iter().map(|v| v.id.as_str()))
        .collect();
    let verdicts: Vec<&str> = match vocabulary
        .find("verdict")
        .map(|id| &vocabulary.fact(id).kind)
    {
        Some(FactKind::Choice { values, .. }) => values.iter().map(|v| v.id.as_str()).collect(),
        _ => Vec::new(),
    };
    let mut words = |key: &str, known: &[&str], what: &str| -> Vec<String> {
        let texts = reader.texts(node, key);
        let mut out = Vec::new();
        for (text, item) in texts {
            if !known.contains(&text.as_str()) {
                let hint = nearest(&text, known.iter().copied()).map_or_else(
                    || "`ringtrue rules handbook` lists them".to_owned(),
                    |near| format!("did you mean `{near}`?"),
                );
                reader.error("value", item.place, format!("`{text}` is no {what}"), hint);
            }
            out.push(text);
        }
        out
    };
    let place = |key: &str| Some(node.get(key)?.place);
    Answer {
        causes: words(cause, &causes, "cause"),
        verdicts: words(verdict, &verdicts, "verdict"),
        causes_at: place(cause),
        verdicts_at: place(verdict),
    }
}

/// The part of a file that holds one block, with everything before it blank, so that lines and
/// columns stay those of the file.
fn part(file: &SourceFile, node: &Node) -> SourceFile {
    let (start, end) = (node.place.start, end_of(&file.text, node));
    let before = file.text.get(..start).unwrap_or("");
    let mut text: String = before
        .chars()
        .map(|c| if c == '\n' { '\n' } else { ' ' })
        .collect();
    let lines: Vec<&str> = text.split('\n').collect();
    if let Some((last, above)) = lines.split_last() {
        text = "\n".repeat(above.len()) + last;
    }
    let body = file.text.get(start..end).unwrap_or("");
    text.push_str(body);
    text.push('\n');
    SourceFile::new(file.name.clone(), text)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn vocabulary() -> Vocabulary {
        crate::rules::builtin().unwrap().vocabulary
    }

    #[test]
    fn the_lesson_that_ships_has_no_problem() {
        let mut problems = Problems::default();
        let file = SourceFile::new("lesson.yaml", super::super::LESSON);
        let lesson = Lesson::read(&file, &vocabulary(), &mut problems);
        assert!(problems.is_empty(), "{}", problems.render(false));
        assert!(lesson.unwrap().cases.len() >= 3);
    }

    #[test]
    fn a_slip_anywhere_is_named_with_its_line_and_column() {
        let text = super::super::LESSON
            .replacen("finish: broom", "finish: brom", 1)
            .replacen("says:", "sais:", 1)
            .replacen("verdict: [", "verdict: [pach, ", 1);
        let file = SourceFile::new("lesson.yaml", text.clone());
        let mut problems = Problems::default();
        assert!(Lesson::read(&file, &vocabulary(), &mut problems).is_none());
        let plain = problems.to_plain();
        for (slip, what, hint) in [
            ("brom", "brom", "broom"),
            ("sais", "sais", "says"),
            ("pach", "pach", "patch"),
        ] {
            let at = text.find(slip).unwrap();
            let line = text[..at].matches('\n').count() + 1;
            let column = at - text[..at].rfind('\n').unwrap();
            let wanted = format!("lesson.yaml:{line}:{column}: ");
            let told = plain
                .lines()
                .find(|l| l.contains(what))
                .unwrap_or_else(|| panic!("{what}: {plain}"));
            assert!(told.starts_with(&wanted), "{wanted} {told}");
            assert!(told.contains(hint), "{told}");
        }
    }

    #[test]
    fn nothing_makes_the_reader_fall_over() {
        for text in [
            "",
            "[]",
            "lesson: x",
            "cases: [1, {}]",
            "cases:\n  - record: {ringtrue: 1}",
            "lesson: {a: b}\ncases: {}",
            "cases: [{record: [1, 2], defect: -1, answer: 3}]",
        ] {
            let mut problems = Problems::default();
            let file = SourceFile::new("l.yaml", text);
            assert!(Lesson::read(&file, &vocabulary(), &mut problems).is_none());
            assert!(problems.has_errors(), "{text}");
        }
    }
}
