//! Scores: what was asked, what was right, and when it comes again.
//!
//! A case that was missed comes back soon, one that was right ever later; so does one whose method
//! was missed, part by part. The clock is the number of cases done, not the calendar, so that the
//! same file always leads to the same case.

use std::collections::BTreeMap;

use crate::facts::Reader;
use crate::source::{Limits, Node, Problems, SourceFile};

use super::method::Part;

/// After how many further cases one comes again, by how often in a row it was right.
const GAPS: [u32; 5] = [3, 6, 12, 24, 48];

/// What is kept of a case.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Mark {
    /// Its topic.
    pub topic: String,
    /// How often it was right in a row.
    pub row: u32,
    /// Number of cases done from which on it is due again.
    pub due: u32,
    /// How often it was asked.
    pub asked: u32,
    /// How often the cause was right.
    pub cause: u32,
    /// How often the verdict was right.
    pub verdict: u32,
}

/// What is kept of a part of a case's method.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct PartMark {
    /// How often it was asked.
    pub asked: u32,
    /// How often it was right.
    pub right: u32,
    /// How often it was right in a row.
    pub row: u32,
    /// Number of cases done from which on it is due again.
    pub due: u32,
}

/// The scores of one person.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Scores {
    /// Cases done.
    pub done: u32,
    /// By name of the case.
    pub cases: BTreeMap<String, Mark>,
    /// By name of the case and part of the method.
    pub method: BTreeMap<String, BTreeMap<Part, PartMark>>,
}

/// The score of a topic.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TopicScore {
    /// Topic.
    pub topic: String,
    /// How often it was asked.
    pub asked: u32,
    /// How often the cause was right.
    pub cause: u32,
    /// How often the verdict was right.
    pub verdict: u32,
    /// Cases of it that are due again.
    pub due: u32,
}

/// The score of a part of the method, over all cases.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PartScore {
    /// Part.
    pub part: Part,
    /// How often it was asked.
    pub asked: u32,
    /// How often it was right.
    pub right: u32,
    /// Cases in which it is due again.
    pub due: u32,
}

impl Scores {
    /// Notes the outcome of a case.
    pub fn note(&mut self, id: &str, topic: &str, cause: bool, verdict: bool) {
        self.done = self.done.saturating_add(1);
        let mark = self.cases.entry(id.to_owned()).or_default();
        topic.clone_into(&mut mark.topic);
        mark.asked = mark.asked.saturating_add(1);
        mark.cause = mark.cause.saturating_add(u32::from(cause));
        mark.verdict = mark.verdict.saturating_add(u32::from(verdict));
        mark.row = match cause && verdict {
            true => mark.row.saturating_add(1),
            false => 0,
        };
        mark.due = self.done.saturating_add(gap(mark.row));
    }

    /// Notes how a part of the method went in the case noted last.
    pub fn note_part(&mut self, id: &str, part: Part, right: bool) {
        let parts = self.method.entry(id.to_owned()).or_default();
        let mark = parts.entry(part).or_default();
        mark.asked = mark.asked.saturating_add(1);
        mark.right = mark.right.saturating_add(u32::from(right));
        mark.row = match right {
            true => mark.row.saturating_add(1),
            false => 0,
        };
        mark.due = self.done.saturating_add(gap(mark.row));
    }

    /// Notes how parts of the method went in a case of which nothing else was asked.
    pub fn note_method(&mut self, id: &str, parts: &[(Part, bool)]) {
        self.done = self.done.saturating_add(1);
        for (part, right) in parts {
            self.note_part(id, *part, *right);
        }
    }

    /// Number of cases done from which on a case, or a part of its method, is due again. `None` for
    /// a case not seen yet.
    pub fn due(&self, id: &str) -> Option<u32> {
        let case = self.cases.get(id).map(|m| m.due);
        case.into_iter().chain(self.method_due(id, None)).min()
    }

    /// The same for a part of a case's method, or for all of them.
    pub fn method_due(&self, id: &str, part: Option<Part>) -> Option<u32> {
        let parts = self.method.get(id).into_iter().flatten();
        let wanted = parts.filter(|(own, _)| part.is_none_or(|p| p == **own));
        wanted.map(|(_, mark)| mark.due).min()
    }

    /// The next case out of `pool`: what is due longest, else one not seen yet, else what is due
    /// soonest. `turn` picks among those not seen.
    pub fn next<'a>(&self, pool: &[&'a str], turn: u64) -> Option<&'a str> {
        self.next_by(pool, turn, |id| self.due(id))
    }

    /// The same where only a part of the method counts, or only the method.
    pub fn next_method<'a>(
        &self,
        pool: &[&'a str],
        part: Option<Part>,
        turn: u64,
    ) -> Option<&'a str> {
        self.next_by(pool, turn, |id| self.method_due(id, part))
    }

    fn next_by<'a>(
        &self,
        pool: &[&'a str],
        turn: u64,
        due_of: impl Fn(&str) -> Option<u32>,
    ) -> Option<&'a str> {
        let due = pool
            .iter()
            .filter_map(|id| Some((due_of(id)?, *id)))
            .filter(|(due, _)| *due <= self.done)
            .min();
        if let Some((_, id)) = due {
            return Some(id);
        }
        let new: Vec<&str> = pool
            .iter()
            .copied()
            .filter(|id| due_of(id).is_none())
            .collect();
        if !new.is_empty() {
            let i = (super::made::mix(turn) % new.len() as u64) as usize;
            return new.get(i).copied();
        }
        pool.iter().copied().min_by_key(|id| (due_of(id), *id))
    }

    /// The scores by part of the method.
    pub fn parts(&self) -> Vec<PartScore> {
        let mut out: BTreeMap<Part, PartScore> = BTreeMap::new();
        for (part, mark) in self.method.values().flatten() {
            let p = out.entry(*part).or_insert(PartScore {
                part: *part,
                asked: 0,
                right: 0,
                due: 0,
            });
            p.asked = p.asked.saturating_add(mark.asked);
            p.right = p.right.saturating_add(mark.right);
            p.due += u32::from(mark.due <= self.done);
        }
        out.into_values().collect()
    }

    /// The scores by topic.
    pub fn topics(&self) -> Vec<TopicScore> {
        let mut out: BTreeMap<&str, TopicScore> = BTreeMap::new();
        for mark in self.cases.values() {
            let t = out.entry(&mark.topic).or_insert_with(|| TopicScore {
                topic: mark.topic.clone(),
                asked: 0,
                cause: 0,
                verdict: 0,
                due: 0,
            });
            t.asked = t.asked.saturating_add(mark.asked);
            t.cause = t.cause.saturating_add(mark.cause);
            t.verdict = t.verdict.saturating_add(mark.verdict);
            t.due += u32::from(mark.due <= self.done);
        }
        out.into_values().collect()
    }

    /// The file as written.
    pub fn text(&self) -> String {
        let mut out = String::from(
            "# Scores of `ringtrue drill`, by case: how often it was asked, how often cause and verdict\n\
             # were right, how often in a row both were (`row`), and after how many cases in all it comes\n\
             # again (`due`). Take a line out, and the case counts as not seen. Under `method` the same for\n\
             # the parts of its method.\n",
        );
        out += &format!("drill_scores: 1\ndone: {}\ncases:", self.done);
        if self.cases.is_empty() {
            out += " {}";
        }
        out.push('\n');
        for (id, m) in &self.cases {
            out += &format!(
                "  {}: {{topic: {}, asked: {}, cause: {}, verdict: {}, row: {}, due: {}}}\n",
                quoted(id),
                quoted(&m.topic),
                m.asked,
                m.cause,
                m.verdict,
                m.row,
                m.due
            );
        }
        if !self.method.is_empty() {
            out += "method:\n";
        }
        for (id, parts) in &self.method {
            out += &format!("  {}:\n", quoted(id));
            for (part, m) in parts {
                out += &format!(
                    "    {}: {{asked: {}, right: {}, row: {}, due: {}}}\n",
                    part.word(),
                    m.asked,
                    m.right,
                    m.row,
                    m.due
                );
            }
        }
        out
    }

    /// Reads the file. `None` when it has errors.
    pub fn read(file: &SourceFile, problems: &mut Problems) -> Option<Scores> {
        if file.text.trim().is_empty() {
            return Some(Scores::default());
        }
        let root = file.yaml(Limits::default(), problems)?;
        let mut reader = Reader { file, problems };
        reader.only_keys(&root, &["drill_scores", "done", "cases", "method"]);
        let mut scores = Scores {
            done: count(&mut reader, &root, "done"),
            ..Scores::default()
        };
        for (key, node) in reader.entries(&root, "cases") {
            reader.only_keys(node, &["topic", "asked", "cause", "verdict", "row", "due"]);
            let mark = Mark {
                topic: reader.text(node, "topic"),
                row: count(&mut reader, node, "row"),
                due: count(&mut reader, node, "due"),
                asked: count(&mut reader, node, "asked"),
                cause: count(&mut reader, node, "cause"),
                verdict: count(&mut reader, node, "verdict"),
            };
            scores.cases.insert(key.text.clone(), mark);
        }
        // Files from before the method was asked for have none of these.
        for (id, node) in reader.entries(&root, "method") {
            let parts = Part::ALL.map(Part::word);
            reader.only_keys(node, &parts);
            for part in Part::ALL {
                let Some(node) = node.get(part.word()) else {
                    continue;
                };
                reader.only_keys(node, &["asked", "right", "row", "due"]);
                let mark = PartMark {
                    asked: count(&mut reader, node, "asked"),
                    right: count(&mut reader, node, "right"),
                    row: count(&mut reader, node, "row"),
                    due: count(&mut reader, node, "due"),
                };
                let of_case = scores.method.entry(id.text.clone()).or_default();
                of_case.insert(part, mark);
            }
        }
        (!problems.has_errors()).then_some(scores)
    }
}

/// After how many further cases one comes again that was right this often in a row.
fn gap(row: u32) -> u32 {
    let at = GAPS.get(row as usize).or(GAPS.last());
    at.copied().unwrap_or(1)
}

fn count(reader: &mut Reader<'_>, node: &Node, key: &str) -> u32 {
    let text = reader.text(node, key);
    text.parse::<u32>().unwrap_or_else(|_| {
        if !text.is_empty() {
            let place = node.get(key).map_or(node.place, |n| n.place);
            reader.error(
                "number",
                place,
                format!("`{text}` is no count"),
                "write a whole number",
            );
        }
        0
    })
}

fn quoted(text: &str) -> String {
    format!("'{}'", text.replace('\'', "''"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_missed_comes_back_soon_and_what_was_right_later() {
        let mut s = Scores::default();
        s.note("a", "scaling", false, true);
        s.note("b", "crack", true, true);
        // `a` is due after three more cases, `b` after six more.
        assert_eq!((s.cases["a"].due, s.cases["b"].due), (1 + 3, 2 + 6));
        let pool = ["a", "b", "c"];
        assert_eq!(s.next(&pool, 0), Some("c"), "not seen yet");
        s.note("c", "crack", true, true);
        assert_eq!(s.next(&pool, 0), Some("a"), "due soonest");
        s.note("x", "crack", true, true);
        assert_eq!(
            s.next(&["a", "b", "d"], 0),
            Some("a"),
            "due, before what is new"
        );
        s.note("a", "scaling", true, true);
        assert_eq!(s.next(&["a", "b", "d"], 0), Some("d"));
        assert_eq!(s.next(&[], 0), None);
    }

    #[test]
    fn a_case_whose_method_was_missed_comes_back_soon() {
        let mut s = Scores::default();
        s.note("a", "scaling", true, true);
        s.note_part("a", Part::Prep, false);
        s.note_part("a", Part::Bond, true);
        // Cause and verdict are due after six more cases, and so is the bonding; the preparation
        // after three.
        assert_eq!(s.cases["a"].due, 1 + 6);
        let parts = &s.method["a"];
        assert_eq!((parts[&Part::Prep].due, parts[&Part::Bond].due), (4, 7));
        assert_eq!(s.due("a"), Some(4));
        s.done = 4;
        assert_eq!(s.next(&["a", "b"], 0), Some("a"));
        // Asked for the bonding alone, another case not seen yet goes first.
        assert_eq!(s.next_method(&["a", "b"], Some(Part::Bond), 0), Some("b"));
        s.note_method("b", &[(Part::Bond, true)]);
        assert_eq!((s.done, s.due("b")), (5, Some(11)));
        assert!(!s.cases.contains_key("b"));
        let prep = s.parts()[0];
        assert_eq!(
            (prep.part, prep.asked, prep.right, prep.due),
            (Part::Prep, 1, 0, 1)
        );
        assert_eq!(s.parts()[1].due, 0);
    }

    #[test]
    fn a_file_from_before_the_method_was_asked_for_is_still_read() {
        let old = "# Scores of `ringtrue drill`\ndrill_scores: 1\ndone: 2\ncases:\n  \
            'V01': {topic: 'scaling', asked: 2, cause: 1, verdict: 2, row: 1, due: 8}\n";
        let mut problems = Problems::default();
        let read = Scores::read(&SourceFile::new("s.yaml", old), &mut problems).unwrap();
        assert_eq!((read.done, read.cases["V01"].due), (2, 8));
        assert!(read.method.is_empty() && problems.is_empty());
    }

    #[test]
    fn scores_are_written_and_read_alike() {
        let mut s = Scores::default();
        s.note("it's: a #case", "scaling", false, true);
        s.note("V01", "scaling", true, true);
        s.note_part("it's: a #case", Part::Prep, false);
        s.note_part("V01", Part::Prep, true);
        s.note_part("V01", Part::System, true);
        let file = SourceFile::new("s.yaml", s.text());
        let mut problems = Problems::default();
        assert_eq!(Scores::read(&file, &mut problems), Some(s.clone()));
        let t = &s.topics()[0];
        assert_eq!((t.asked, t.cause, t.verdict), (2, 1, 2));
        let empty = SourceFile::new("s.yaml", Scores::default().text());
        assert_eq!(Scores::read(&empty, &mut problems), Some(Scores::default()));
        let broken = SourceFile::new("s.yaml", s.text().replace("asked: 1", "asked: many"));
        assert_eq!(Scores::read(&broken, &mut problems), None);
        assert!(
            problems.to_plain().contains("s.yaml:8:"),
            "{}",
            problems.to_plain()
        );
    }
}
