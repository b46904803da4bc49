//! The fixed text of the papers, in the language of their reader.
//!
//! English and Spanish ship with the tool; a file of the same shape may name another language or
//! other words. What it leaves out stays English.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::LazyLock;

use serde::Deserialize;

use super::language::Sentences;
use super::templates::bytes_within;
use crate::rules::gaps;

const ENGLISH: &str = include_str!("../../templates/text/en.yaml");
const SPANISH: &str = include_str!("../../templates/text/es.yaml");
/// Greatest language file, bytes.
const FILE_BYTES: u64 = 1 << 20;

/// Fixed text by key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Phrases {
    /// Language tag, such as `en`.
    pub lang: String,
    /// Text by key.
    pub texts: BTreeMap<String, String>,
    /// Sentences that the stages make, in this language; none where they are English already.
    pub sentences: Sentences,
}

/// The built-in English text, read once.
static ENGLISH_TEXT: LazyLock<Result<Phrases, PhraseError>> = LazyLock::new(|| {
    let file = parse("en.yaml", ENGLISH)?;
    Ok(Phrases {
        lang: file.language,
        texts: file.texts,
        sentences: Sentences::default(),
    })
});

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    language: String,
    #[serde(default)]
    texts: BTreeMap<String, String>,
    /// Sentences that the stages make, by their English with its `{gaps}`.
    #[serde(default)]
    sentences: BTreeMap<String, String>,
}

/// A language file that can't be used.
#[derive(Debug, Clone, thiserror::Error)]
pub enum PhraseError {
    /// It can't be read.
    #[error("can't read the language file {file}: {why}")]
    Unreadable {
        /// File.
        file: String,
        /// Why.
        why: String,
    },
    /// It is not of the right shape.
    #[error(
        "the language file {file} is broken: {why}\n  hint: `language:` first, then `texts:` with one line a key, `sentences:` with one line an English sentence, or both"
    )]
    Broken {
        /// File.
        file: String,
        /// What is wrong, with its line.
        why: String,
    },
    /// It names a key that no paper uses, or loses a filled-in part.
    #[error("the language file {file} has a wrong key at line {line}: {why}")]
    Key {
        /// File.
        file: String,
        /// Line.
        line: usize,
        /// What is wrong.
        why: String,
    },
}

impl Phrases {
    /// The built-in text of a language: `en` or `es`.
    ///
    /// # Errors
    /// When there is no such language.
    pub fn built_in(language: &str) -> Result<Phrases, PhraseError> {
        match language {
            "en" => ENGLISH_TEXT.clone(),
            "es" => over("es.yaml", SPANISH, ENGLISH_TEXT.clone()?),
            other => Err(PhraseError::Unreadable {
                file: other.to_owned(),
                why: "the built-in languages are `en` and `es`; a file needs its path".to_owned(),
            }),
        }
    }

    /// The built-in English text.
    pub fn english() -> &'static Phrases {
        static KEYS: LazyLock<Phrases> = LazyLock::new(|| Phrases {
            lang: "en".to_owned(),
            texts: BTreeMap::new(),
            sentences: Sentences::default(),
        });
        // The file is part of the program and tried by a test; without it keys stand for texts.
        ENGLISH_TEXT.as_ref().unwrap_or(&KEYS)
    }

    /// `en`, `es`, or a file laid over the text of its language, the English where none ships.
    ///
    /// # Errors
    /// When the file can't be read, is broken, or names a key that no paper uses.
    pub fn load(choice: &str) -> Result<Phrases, PhraseError> {
        if choice == "en" || choice == "es" {
            return Phrases::built_in(choice);
        }
        let unreadable = |why: String| PhraseError::Unreadable {
            file: choice.to_owned(),
            why,
        };
        let text = bytes_within(Path::new(choice), FILE_BYTES)
            .map_err(|e| unreadable(format!("{e} (the built-in languages are `en` and `es`)")))
            .and_then(|bytes| {
                String::from_utf8(bytes).map_err(|_| unreadable("it is not UTF-8 text".to_owned()))
            })?;
        Phrases::read(choice, &text)
    }

    /// The text of a language file, laid over the English text; `name` is what messages call it.
    ///
    /// # Errors
    /// When it is broken, or names a key that no paper uses.
    pub fn read(name: &str, text: &str) -> Result<Phrases, PhraseError> {
        own(name, text)
    }

    /// The language without its region: `es` of `es-MX`.
    pub fn tongue(&self) -> &str {
        tongue(&self.lang)
    }

    /// The text of a key with `{name}` filled in; the key itself where there is none.
    pub fn say(&self, key: &str, fill: &[(&str, &str)]) -> String {
        let mut text = self
            .texts
            .get(key)
            .cloned()
            .unwrap_or_else(|| key.to_owned());
        for (name, value) in fill {
            text = text.replace(&format!("{{{name}}}"), value);
        }
        text
    }
}

fn parse(name: &str, text: &str) -> Result<File, PhraseError> {
    let broken = |why: String| PhraseError::Broken {
        file: name.to_owned(),
        why,
    };
    let file: File = serde_yaml::from_str(text).map_err(|e| broken(e.to_string()))?;
    // The tag goes into documents: letters, digits and hyphens only.
    let tag = !file.language.is_empty()
        && file.language.len() <= 35
        && file
            .language
            .chars()
            .all(|c| c.is_ascii_alphanumeric() || c == '-');
    if !tag {
        return Err(broken(format!(
            "`language: {}` is no language tag such as `en` or `es-MX`",
            file.language
        )));
    }
    Ok(file)
}

/// A contractor's own language file, laid over the text of its language that ships.
fn own(name: &str, text: &str) -> Result<Phrases, PhraseError> {
    let tongue = tongue(&parse(name, text)?.language).to_owned();
    let base = match tongue.as_str() {
        "es" => Phrases::built_in("es")?,
        _ => ENGLISH_TEXT.clone()?,
    };
    over(name, text, base)
}

/// The language of a tag without its region.
fn tongue(tag: &str) -> &str {
    tag.split('-').next().unwrap_or_default()
}

/// A language file laid over other text.
fn over(name: &str, text: &str, base: Phrases) -> Result<Phrases, PhraseError> {
    let other = parse(name, text)?;
    let line = |key: &str| {
        text.lines()
            .position(|l| {
                l.trim_start()
                    .trim_start_matches(['"', '\''])
                    .strip_prefix(key)
                    .is_some_and(|rest| rest.starts_with([':', '"', '\'']))
            })
            .map_or(0, |i| i + 1)
    };
    let mut texts = base.texts;
    for (key, value) in other.texts {
        let Some(known) = texts.get_mut(&key) else {
            let near = strsim_nearest(&key, texts.keys());
            return Err(PhraseError::Key {
                file: name.to_owned(),
                line: line(&key),
                why: match near {
                    Some(near) => format!("no paper uses `{key}`; did you mean `{near}`?"),
                    None => format!("no paper uses `{key}`"),
                },
            });
        };
        if let Some(strange) = gaps(&value).into_iter().find(|g| !gaps(known).contains(g)) {
            return Err(PhraseError::Key {
                file: name.to_owned(),
                line: line(&key),
                why: format!("nothing fills in `{{{strange}}}` of `{key}`"),
            });
        }
        *known = value;
    }
    let shipped = if base.sentences.is_empty() {
        Sentences::built_in(tongue(&other.language))?
    } else {
        base.sentences
    };
    Ok(Phrases {
        lang: other.language,
        texts,
        sentences: shipped.under(name, text, other.sentences)?,
    })
}

fn strsim_nearest<'a>(key: &str, keys: impl Iterator<Item = &'a String>) -> Option<String> {
    keys.map(|k| (strsim::damerau_levenshtein(key, k), k))
        .min()
        .filter(|(far, k)| *far <= k.len().max(3) / 3)
        .map(|(_, k)| k.clone())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spanish_says_everything_that_english_says_with_the_same_gaps() {
        let english = parse("en", ENGLISH).unwrap();
        let spanish = parse("es", SPANISH).unwrap();
        let keys = |f: &File| f.texts.keys().cloned().collect::<Vec<_>>();
        assert_eq!(keys(&english), keys(&spanish));
        for (key, text) in &english.texts {
            let sorted = |t: &str| {
                let mut g = gaps(t);
                g.sort();
                g
            };
            assert_eq!(sorted(text), sorted(&spanish.texts[key]), "{key}");
        }
    }

    #[test]
    fn a_slip_in_a_key_or_gap_is_named_with_its_line() {
        let slip = own("house.yaml", "language: en\ntexts:\n  made_fro: For\n");
        let said = slip.unwrap_err().to_string();
        assert!(
            said.contains("line 3") && said.contains("`made_for`"),
            "{said}"
        );
        let gap = own("house.yaml", "language: en\ntexts:\n  page_of: page {m}\n");
        let said = gap.unwrap_err().to_string();
        assert!(said.contains("line 3") && said.contains("{m}"), "{said}");
        let tag = own("house.yaml", "language: '\"><b>'\ntexts: {}\n");
        assert!(tag.is_err());
    }

    #[test]
    fn what_a_file_leaves_out_stays_english() {
        let house = own("h", "language: en-GB\ntexts:\n  made_for: For\n").unwrap();
        assert_eq!(house.say("made_for", &[]), "For");
        assert_eq!(
            house.say("page_of", &[("n", "2"), ("of", "9")]),
            "page 2 of 9"
        );
    }

    #[test]
    fn an_own_file_stands_before_the_text_of_its_language_and_changes_sentences_too() {
        let text = "language: es-MX\ntexts:\n  made_for: Para\nsentences:\n  \"about {n1} minutes\": \"como {n1} minutos\"\n";
        let house = own("house.yaml", text).unwrap();
        let said = [
            house.say("made_for", &[]),
            house.say("looked_at", &[]),
            house.sentences.turn("about 7 minutes"),
            house.sentences.turn("about 7 hours"),
        ];
        assert_eq!(
            said,
            [
                "Para",
                "Fecha de la visita",
                "como 7 minutos",
                "unas 7 horas"
            ]
        );
        // English papers have no other sentences than the house's.
        let text = "language: en\nsentences:\n  \"about {n1} minutes\": \"some {n1} minutes\"\n";
        let house = own("house.yaml", text).unwrap();
        assert_eq!(house.sentences.turn("about 7 minutes"), "some 7 minutes");
        assert_eq!(house.sentences.turn("about 7 hours"), "about 7 hours");
        let slip = "language: en\nsentences:\n  \"about {n1} minutes\": \"{n2}\"\n";
        let said = own("house.yaml", slip).unwrap_err().to_string();
        assert!(said.contains("line 3") && said.contains("{n2}"), "{said}");
    }
}
