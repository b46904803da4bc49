//! Trade words in running text: each is linked to its meaning where it is first used, and the
//! words first used in a section are explained there.

use std::collections::HashMap;

use serde::Serialize;

use crate::facts::Term;

/// A run of text; `term` names the glossary entry it is the first use of.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Span {
    /// The text.
    pub text: String,
    /// Anchor of the word's meaning.
    pub term: Option<String>,
}

/// Running text with its first uses of trade words marked.
pub type Rich = Vec<Span>;

/// A word with its meaning, ready to print.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Meaning {
    /// Anchor.
    pub anchor: String,
    /// The word.
    pub term: String,
    /// What it means.
    pub means: String,
}

#[derive(Debug)]
struct Entry {
    meaning: Meaning,
    lower: String,
    used: bool,
}

/// Marks first uses while a report is put together, in the order of its pages.
#[derive(Debug)]
pub struct Words {
    entries: Vec<Entry>,
    /// Entries by the first word of their term.
    by_first: HashMap<String, Vec<usize>>,
    fresh: Vec<usize>,
    said: Vec<String>,
}

impl Words {
    /// From a pack's glossary.
    pub fn new(glossary: &[Term]) -> Self {
        let entries: Vec<Entry> = glossary
            .iter()
            .filter(|t| !t.term.trim().is_empty())
            .map(|t| Entry {
                meaning: Meaning {
                    anchor: anchor(&t.term),
                    term: t.term.clone(),
                    means: t.means.clone(),
                },
                lower: t.term.trim().to_ascii_lowercase(),
                used: false,
            })
            .collect();
        let mut by_first: HashMap<String, Vec<usize>> = HashMap::new();
        for (i, entry) in entries.iter().enumerate() {
            if let Some((a, b)) = tokens(&entry.lower).next() {
                let first = entry.lower.get(a..b).unwrap_or_default();
                by_first.entry(first.to_owned()).or_default().push(i);
            }
        }
        Words {
            entries,
            by_first,
            fresh: Vec::new(),
            said: Vec::new(),
        }
    }

    /// Takes words as explained elsewhere in the paper: they are marked no more.
    pub fn known(&mut self, words: &[Meaning]) {
        for entry in &mut self.entries {
            entry.used |= words.iter().any(|w| w.anchor == entry.meaning.anchor);
        }
    }

    /// Text that we say to the owner: marked, and counted towards the reading level.
    pub fn say(&mut self, text: &str) -> Rich {
        self.said.push(text.to_owned());
        self.mark(text)
    }

    /// Text that others wrote: marked only.
    pub fn mark(&mut self, text: &str) -> Rich {
        let lower = text.to_ascii_lowercase();
        // (start, end, entry) of the first use of each word not used before.
        let mut hits: Vec<(usize, usize, usize)> = Vec::new();
        for (start, end) in tokens(&lower) {
            let token = lower.get(start..end).unwrap_or_default();
            let single = token.strip_suffix('s').unwrap_or(token);
            let starts = [Some(token), (single != token).then_some(single)];
            for &index in starts
                .into_iter()
                .flatten()
                .filter_map(|t| self.by_first.get(t))
                .flatten()
            {
                let Some(entry) = self.entries.get(index).filter(|e| !e.used) else {
                    continue;
                };
                let seen = hits.iter().any(|(_, _, i)| *i == index);
                let Some(end) = word_at(&lower, start, &entry.lower).filter(|_| !seen) else {
                    continue;
                };
                let noun = || {
                    !VERBS.contains(&entry.lower.as_str())
                        || is_noun(
                            lower.get(..start).unwrap_or(""),
                            lower.get(end..).unwrap_or(""),
                        )
                };
                if noun() {
                    hits.push((start, end, index));
                }
            }
        }
        // The longest first, so that `bonding coat` wins over `coat`.
        hits.sort_by_key(|(a, b, index)| {
            let long = self.entries.get(*index).map_or(b - a, |e| e.lower.len());
            (usize::MAX - long, *index)
        });
        let mut free: Vec<(usize, usize, usize)> = Vec::with_capacity(hits.len());
        for (a, b, index) in hits {
            if free.iter().all(|(c, d, _)| b <= *c || a >= *d) {
                free.push((a, b, index));
                if let Some(entry) = self.entries.get_mut(index) {
                    entry.used = true;
                    self.fresh.push(index);
                }
            }
        }
        let mut hits = free;
        hits.sort_unstable();
        let mut rich = Vec::with_capacity(hits.len() * 2 + 1);
        let mut from = 0;
        for (a, b, index) in hits {
            push(&mut rich, text.get(from..a), None);
            let term = self.entries.get(index).map(|e| e.meaning.anchor.clone());
            push(&mut rich, text.get(a..b), term);
            from = b;
        }
        push(&mut rich, text.get(from..), None);
        rich
    }

    /// The words first used since the last call, with their meanings.
    pub fn take_fresh(&mut self) -> Vec<Meaning> {
        let mut fresh: Vec<&Entry> = std::mem::take(&mut self.fresh)
            .iter()
            .filter_map(|i| self.entries.get(*i))
            .collect();
        fresh.sort_by(|a, b| a.lower.cmp(&b.lower));
        fresh.into_iter().map(|e| e.meaning.clone()).collect()
    }

    /// Every word used so far, by the alphabet.
    pub fn used(&self) -> Vec<Meaning> {
        let mut all: Vec<&Entry> = self.entries.iter().filter(|e| e.used).collect();
        all.sort_by(|a, b| a.lower.cmp(&b.lower));
        all.into_iter().map(|e| e.meaning.clone()).collect()
    }

    /// Everything said to the owner so far.
    pub fn said(&mut self) -> Vec<String> {
        std::mem::take(&mut self.said)
    }
}

/// An anchor made of small letters, digits and hyphens.
pub fn anchor(term: &str) -> String {
    let mut out = String::new();
    for c in term.chars() {
        if c.is_ascii_alphanumeric() {
            out.push(c.to_ascii_lowercase());
        } else if !out.is_empty() && !out.ends_with('-') {
            out.push('-');
        }
    }
    out.trim_end_matches('-').to_owned()
}

/// Trade words that are everyday verbs too: `a fall of 2 %`, but `water falls both ways`.
const VERBS: [&str; 7] = ["bevel", "bond", "core", "fall", "lift", "rout", "taper"];

/// Words after which one of these is a noun.
const BEFORE_NOUNS: [&str; 22] = [
    "a", "an", "the", "this", "that", "each", "every", "one", "two", "three", "its", "their", "no",
    "per", "of", "in", "any", "single", "second", "least", "enough", "good",
];

/// Whether a word that may be a verb is a noun where it stands: by the word before it, or by the
/// `of` behind it.
fn is_noun(before: &str, after: &str) -> bool {
    let last = before
        .split_whitespace()
        .next_back()
        .filter(|_| before.ends_with(char::is_whitespace))
        .unwrap_or("");
    BEFORE_NOUNS.contains(&last) || after.trim_start().starts_with("of ")
}

fn is_part(c: char) -> bool {
    c.is_alphanumeric() || c == '-'
}

/// The words of a text: runs of letters, digits and hyphens, by start and end.
fn tokens(text: &str) -> impl Iterator<Item = (usize, usize)> {
    let mut rest = text.char_indices().peekable();
    std::iter::from_fn(move || {
        let (start, _) = rest.find(|(_, c)| is_part(*c))?;
        while rest.next_if(|(_, c)| is_part(*c)).is_some() {}
        Some((start, rest.peek().map_or(text.len(), |(i, _)| *i)))
    })
}

/// Where `word` ends if it stands alone at `start`, also with a plural ending.
fn word_at(text: &str, start: usize, word: &str) -> Option<usize> {
    let rest = text.get(start..)?.strip_prefix(word)?;
    let rest = rest.strip_prefix('s').unwrap_or(rest);
    (!rest.starts_with(is_part)).then_some(text.len() - rest.len())
}

fn push(rich: &mut Rich, text: Option<&str>, term: Option<String>) {
    if let Some(text) = text.filter(|t| !t.is_empty()) {
        rich.push(Span {
            text: text.to_owned(),
            term,
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words() -> Words {
        let term = |t: &str| Term {
            term: t.into(),
            means: format!("what {t} means"),
        };
        Words::new(&[term("scaling"), term("bond coat"), term("coat")])
    }

    #[test]
    fn only_the_first_use_is_marked() {
        let mut words = words();
        let first = words.say("Scaling is a loss. More scaling here.");
        let marks: Vec<_> = first
            .iter()
            .map(|s| (s.text.as_str(), s.term.as_deref()))
            .collect();
        assert_eq!(
            marks,
            [
                ("Scaling", Some("scaling")),
                (" is a loss. More scaling here.", None)
            ]
        );
        assert!(words.say("scaling again").iter().all(|s| s.term.is_none()));
        assert_eq!(words.take_fresh().len(), 1);
        assert!(words.take_fresh().is_empty());
    }

    #[test]
    fn longer_words_win_and_parts_of_words_do_not_count() {
        let mut words = words();
        let rich = words.say("Two bond coats, descaling and a petticoat.");
        let marked: Vec<_> = rich
            .iter()
            .filter(|s| s.term.is_some())
            .map(|s| s.text.as_str())
            .collect();
        assert_eq!(marked, ["bond coats"]);
        assert_eq!(words.used().len(), 1);
    }

    #[test]
    fn a_verb_is_no_trade_word() {
        let marked = |text: &str| -> Vec<String> {
            let term = |t: &str| Term {
                term: t.into(),
                means: t.into(),
            };
            Words::new(&[term("fall"), term("lift"), term("bond")])
                .say(text)
                .into_iter()
                .filter(|s| s.term.is_some())
                .map(|s| s.text)
                .collect()
        };
        for verb in [
            "The new surface falls 2 in over 10 ft.",
            "Frost lifts the ground; then lift or replace the slab.",
            "A wet cement wash bonds the new layer.",
            "Lift it with two men, and let it fall.",
        ] {
            assert!(marked(verb).is_empty(), "{verb}");
        }
        assert_eq!(
            marked("Lay it in two lifts with a fall of 2 %."),
            ["lifts", "fall"]
        );
        assert_eq!(marked("Fall of the surface."), ["Fall"]);
        // The first use that is a noun counts.
        assert_eq!(marked("It falls where the fall is least."), ["fall"]);
    }

    #[test]
    fn other_scripts_stay_whole() {
        let mut words = words();
        let text = "مرحبا coat 🧱 é";
        let whole: String = words.say(text).into_iter().map(|s| s.text).collect();
        assert_eq!(whole, text);
    }
}
