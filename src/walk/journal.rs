//! The journal of a walk: what it began with, and every answer, a line each.
//!
//! A line is written and synced before the record is, and a line that was cut off by a crash is
//! left out, so that at most the answer being typed is lost.

use serde::{Deserialize, Serialize};

use super::state::Entry;

/// Version of the journal's format.
const VERSION: u32 = 1;

/// One line of a journal.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Line {
    /// What the walk began with.
    Began {
        /// Version of the format.
        version: u32,
        /// Text of the record.
        base: String,
        /// Whether the record was begun by this walk.
        fresh: bool,
    },
    /// An answer.
    Answer(Entry),
    /// The last answer is taken back.
    Back,
}

/// A journal as read.
#[derive(Debug, Clone, PartialEq)]
pub struct Journal {
    /// Text of the record the walk began with.
    pub base: String,
    /// Whether the record was begun by this walk.
    pub fresh: bool,
    /// The answers that stand.
    pub entries: Vec<Entry>,
    /// The answers that stood before the last line: the record on disk may be one line behind.
    pub before: Vec<Entry>,
    /// Bytes of the file that hold whole lines; what follows was cut off.
    pub whole: usize,
}

impl Line {
    /// The first line of a journal.
    pub fn began(base: &str, fresh: bool) -> Line {
        Line::Began {
            version: VERSION,
            base: base.to_owned(),
            fresh,
        }
    }

    /// The line as written, with its end.
    pub fn text(&self) -> String {
        // Nothing in a line can fail to be written as JSON.
        serde_json::to_string(self).unwrap_or_default() + "\n"
    }
}

impl Journal {
    /// Reads a journal. `None` when not even its first line is whole: nothing had been answered.
    pub fn read(bytes: &[u8]) -> Option<Journal> {
        let mut journal: Option<Journal> = None;
        let mut at = 0;
        for line in bytes.split_inclusive(|b| *b == b'\n') {
            if line.last() != Some(&b'\n') {
                break;
            }
            let Ok(line_read) = serde_json::from_slice::<Line>(line) else {
                break;
            };
            at += line.len();
            match (line_read, &mut journal) {
                (
                    Line::Began {
                        version: VERSION,
                        base,
                        fresh,
                    },
                    None,
                ) => {
                    journal = Some(Journal {
                        base,
                        fresh,
                        entries: Vec::new(),
                        before: Vec::new(),
                        whole: 0,
                    });
                }
                (Line::Answer(entry), Some(j)) => {
                    j.before.clone_from(&j.entries);
                    j.entries.push(entry);
                }
                (Line::Back, Some(j)) => {
                    j.before.clone_from(&j.entries);
                    j.entries.pop();
                }
                _ => break,
            }
            if let Some(j) = &mut journal {
                j.whole = at;
            }
        }
        journal
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entry(key: &str) -> Entry {
        Entry {
            key: key.to_owned(),
            ..Entry::default()
        }
    }

    #[test]
    fn a_line_cut_off_anywhere_costs_only_itself() {
        let first = Line::began("ringtrue: 1\n", true).text();
        let second = Line::Answer(entry("job.client")).text();
        let third = Line::Answer(entry("job.address")).text();
        let all = format!("{first}{second}{third}");
        for cut in 0..=all.len() {
            let read = Journal::read(&all.as_bytes()[..cut]);
            let whole = [first.len(), first.len() + second.len(), all.len()]
                .into_iter()
                .rfind(|l| *l <= cut);
            match (read, whole) {
                (None, None) => {}
                (Some(j), Some(w)) => {
                    assert_eq!(j.whole, w);
                    let answers = usize::from(w > first.len()) + usize::from(w == all.len());
                    assert_eq!(j.entries.len(), answers);
                }
                other => panic!("{cut}: {other:?}"),
            }
        }
    }

    #[test]
    fn an_answer_taken_back_is_gone() {
        let text = [
            Line::began("", true),
            Line::Answer(entry("a")),
            Line::Answer(entry("b")),
            Line::Back,
        ]
        .map(|l| l.text())
        .concat();
        let keys: Vec<String> = Journal::read(text.as_bytes())
            .unwrap()
            .entries
            .into_iter()
            .map(|e| e.key)
            .collect();
        assert_eq!(keys, ["a"]);
    }
}
