//! Scores: what was asked, what was right, and when it comes again.
//!
//! A case that was missed comes back soon, one that was right ever later. The clock is the number
//! of cases done, not the calendar, so that the same file always leads to the same case.

use std::collections::BTreeMap;

use crate::facts::Reader;
use crate::source::{Limits, Node, Problems, SourceFile};

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

/// The scores of one person.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Scores {
    /// Cases done.
    pub done: u32,
    /// By name of the case.
    pub cases: BTreeMap<String, Mark>,
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
        let gap = GAPS
            .get(mark.row as usize)
            .or(GAPS.last())
            .copied()
            .unwrap_or(1);
        mark.due = self.done.saturating_add(gap);
    }

    /// The next case out of `pool`: what is due longest, else one not seen yet, else what is due
    /// soonest. `turn` picks among those not seen.
    pub fn next<'a>(&self, pool: &[&'a str], turn: u64) -> Option<&'a str> {
        let due = pool
            .iter()
            .filter_map(|id| Some((self.cases.get(*id)?, *id)))
            .filter(|(m, _)| m.due <= self.done)
            .min_by_key(|(m, id)| (m.due, *id));
        if let Some((_, id)) = due {
            return Some(id);
        }
        let new: Vec<&str> = pool
            .iter()
            .copied()
            .filter(|id| !self.cases.contains_key(*id))
            .collect();
        if !new.is_empty() {
            let i = (super::made::mix(turn) % new.len() as u64) as usize;
            return new.get(i).copied();
        }
        pool.iter()
            .copied()
            .min_by_key(|id| (self.cases.get(*id).map_or(0, |m| m.due), *id))
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
             # again (`due`). Take a line out, and the case counts as not seen.\n",
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
        out
    }

    /// Reads the file. `None` when it has errors.
    pub fn read(file: &SourceFile, problems: &mut Problems) -> Option<Scores> {
        if file.text.trim().is_empty() {
            return Some(Scores::default());
        }
        let root = file.yaml(Limits::default(), problems)?;
        let mut reader = Reader { file, problems };
        reader.only_keys(&root, &["drill_scores", "done", "cases"]);
        let mut scores = Scores {
            done: count(&mut reader, &root, "done"),
            cases: BTreeMap::new(),
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
        (!problems.has_errors()).then_some(scores)
    }
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
    fn scores_are_written_and_read_alike() {
        let mut s = Scores::default();
        s.note("it's: a #case", "scaling", false, true);
        s.note("V01", "scaling", true, true);
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
            problems.to_plain().contains("s.yaml:7:"),
            "{}",
            problems.to_plain()
        );
    }
}
