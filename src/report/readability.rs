//! How hard a text is to read, as a US school grade.
//!
//! Formula: Kincaid, Fishburne, Rogers and Chissom, *Derivation of New Readability Formulas for
//! Navy Enlisted Personnel*, Research Branch Report 8-75, 1975:
//! grade = 0.39 words/sentence + 11.8 syllables/word - 15.59.

/// What was counted in a text.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Count {
    /// Sentences.
    pub sentences: usize,
    /// Words.
    pub words: usize,
    /// Syllables, estimated from the spelling.
    pub syllables: usize,
}

impl Count {
    /// Counts a text. Figures and units between words are left out: they are read, not spelled.
    pub fn of(text: &str) -> Count {
        let mut count = Count::default();
        let mut open = false;
        for token in text.split_whitespace() {
            let word: String = token
                .chars()
                .filter(|c| c.is_alphabetic() || *c == '\'' || *c == '’')
                .collect();
            let has_digit = token.chars().any(|c| c.is_ascii_digit());
            if !has_digit && word.chars().any(char::is_alphabetic) {
                for part in token.split(['-', '–', '—', '/']) {
                    let part: String = part.chars().filter(|c| c.is_alphabetic()).collect();
                    if !part.is_empty() {
                        count.words += 1;
                        count.syllables += syllables(&part);
                        open = true;
                    }
                }
            }
            let bare = token.trim_end_matches(['"', '\'', ')', '”', '’']);
            if open && bare.ends_with(['.', '!', '?', ':', ';']) {
                count.sentences += 1;
                open = false;
            }
        }
        if open {
            count.sentences += 1;
        }
        count
    }

    /// Flesch-Kincaid grade; `None` for a text without words.
    pub fn grade(self) -> Option<f64> {
        if self.words == 0 || self.sentences == 0 {
            return None;
        }
        let (s, w, y) = (
            self.sentences as f64,
            self.words as f64,
            self.syllables as f64,
        );
        Some(0.39 * w / s + 11.8 * y / w - 15.59)
    }

    /// Both together.
    #[must_use]
    pub fn plus(self, other: Count) -> Count {
        Count {
            sentences: self.sentences + other.sentences,
            words: self.words + other.words,
            syllables: self.syllables + other.syllables,
        }
    }
}

/// Syllables of an English word: groups of vowels, less the silent endings.
pub fn syllables(word: &str) -> usize {
    let word: Vec<char> = word.to_lowercase().chars().collect();
    let vowel = |c: char| matches!(c, 'a' | 'e' | 'i' | 'o' | 'u' | 'y');
    let mut groups = 0;
    let mut in_group = false;
    for (i, c) in word.iter().enumerate() {
        // A `y` before a vowel sounds as a consonant: `yard`, `layer` counts the next group.
        let y_glide = *c == 'y' && word.get(i + 1).is_some_and(|n| vowel(*n));
        let v = vowel(*c) && !y_glide;
        if v && !in_group {
            groups += 1;
        }
        in_group = v;
    }
    let text: String = word.iter().collect();
    // Two vowels that are spoken apart.
    for pair in ["ia", "io", "eo", "iu", "ua", "uo", "ea"] {
        let apart = match pair {
            "io" => {
                text.matches("io").count()
                    - text.matches("ion").count().min(text.matches("io").count())
            }
            "ia" => {
                text.matches("ia").count()
                    - text.matches("cial").count()
                    - text.matches("tial").count()
            }
            "ua" => {
                text.matches("ua").count()
                    - text.matches("qua").count()
                    - text.matches("gua").count()
            }
            "uo" => text.matches("uo").count() - text.matches("quo").count(),
            "eo" => {
                text.matches("eo").count()
                    - text.matches("eou").count()
                    - text.matches("people").count()
            }
            "iu" => text.matches("iu").count(),
            _ => {
                text.matches("crea").count()
                    + text.matches("area").count()
                    + text.matches("react").count()
            }
        };
        groups += apart;
    }
    let silent_e = text.ends_with('e')
        && !text.ends_with("le")
        && word.len() > 2
        && word.get(word.len() - 2).is_some_and(|c| !vowel(*c));
    let le_alone = text.ends_with("le")
        && word.len() > 2
        && word.get(word.len() - 3).is_some_and(|c| vowel(*c));
    // `-ed` is silent except after t and d, `-es` except after s, x, z, ch, sh and soft c or g.
    let silent_ed = text.ends_with("ed")
        && word.len() > 3
        && word
            .get(word.len() - 3)
            .is_some_and(|c| !vowel(*c) && !matches!(c, 't' | 'd'))
        && !text.ends_with("led");
    let silent_es = text.ends_with("es")
        && word.len() > 3
        && word
            .get(word.len() - 3)
            .is_some_and(|c| !vowel(*c) && !matches!(c, 's' | 'x' | 'z' | 'c' | 'g' | 'h'))
        && !text.ends_with("les");
    let silent_ely = ["ely", "ement", "eless", "eful"].iter().any(|end| {
        text.strip_suffix(end).is_some_and(|stem| {
            stem.len() > 1 && stem.chars().next_back().is_some_and(|c| !vowel(c))
        })
    });
    for silent in [silent_e, le_alone, silent_ed, silent_es, silent_ely] {
        if silent && groups > 1 {
            groups -= 1;
        }
    }
    groups.max(1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formula_agrees_with_a_hand_calculation() {
        // 13 words, 24 syllables, one sentence: 0.39*13 + 11.8*24/13 - 15.59
        // = 5.07 + 21.784615 - 15.59 = 11.264615.
        let count = Count {
            sentences: 1,
            words: 13,
            syllables: 24,
        };
        assert!((count.grade().unwrap() - 11.264_615).abs() < 1e-5);
    }

    #[test]
    fn counts_what_a_reader_counts() {
        let count =
            Count::of("The slab is sound. Tap it: it rings! Leave 3/8 in of it alone (for now).");
        assert_eq!(count.sentences, 4);
        assert_eq!(count.words, 15);
        assert_eq!(Count::of("12 3/8 …").grade(), None);
    }
}
