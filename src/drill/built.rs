//! Cases built into the program, so that an installed one needs no files beside it.

use crate::facts::Vocabulary;
use crate::source::{Problems, SourceFile};

use super::lesson::{Answer, Case, case_of_record, worked_case};

/// The lesson that ships with the program.
pub const LESSON: &str = include_str!("../../samples/lessons/frost-or-finishing.yaml");

/// Sample records: name and text.
const SAMPLES: &[(&str, &str)] = &[
    (
        "carport-rust",
        include_str!("../../samples/carport-rust.yaml"),
    ),
    (
        "courtyard-pattern",
        include_str!("../../samples/courtyard-pattern.yaml"),
    ),
    (
        "drive-crumbling",
        include_str!("../../samples/drive-crumbling.yaml"),
    ),
    (
        "drive-salted",
        include_str!("../../samples/drive-salted.yaml"),
    ),
    (
        "drive-scaled",
        include_str!("../../samples/drive-scaled.yaml"),
    ),
    (
        "overlay-pinholes",
        include_str!("../../samples/overlay-pinholes.yaml"),
    ),
    (
        "patio-low-door",
        include_str!("../../samples/patio-low-door.yaml"),
    ),
    ("patio-new", include_str!("../../samples/patio-new.yaml")),
    (
        "plaza-map-cracks",
        include_str!("../../samples/plaza-map-cracks.yaml"),
    ),
    (
        "pool-deck-clay",
        include_str!("../../samples/pool-deck-clay.yaml"),
    ),
    ("terrace", include_str!("../../samples/terrace.yaml")),
    ("walk-maple", include_str!("../../samples/walk-maple.yaml")),
    (
        "walk-pinned-high",
        include_str!("../../samples/walk-pinned-high.yaml"),
    ),
    (
        "workshop-joints",
        include_str!("../../samples/workshop-joints.yaml"),
    ),
    (
        "yard-topping",
        include_str!("../../samples/yard-topping.yaml"),
    ),
];

/// The worked cases: name and text.
const WORKED: &[(&str, &str)] = &[
    ("V01", include_str!("../../tests/cases/V01.yaml")),
    ("V02", include_str!("../../tests/cases/V02.yaml")),
    ("V03", include_str!("../../tests/cases/V03.yaml")),
    ("V04", include_str!("../../tests/cases/V04.yaml")),
    ("V05", include_str!("../../tests/cases/V05.yaml")),
    ("V06", include_str!("../../tests/cases/V06.yaml")),
    ("V07", include_str!("../../tests/cases/V07.yaml")),
    ("V08", include_str!("../../tests/cases/V08.yaml")),
    ("V09", include_str!("../../tests/cases/V09.yaml")),
    ("V10", include_str!("../../tests/cases/V10.yaml")),
    ("V11", include_str!("../../tests/cases/V11.yaml")),
    ("V12", include_str!("../../tests/cases/V12.yaml")),
    ("V13", include_str!("../../tests/cases/V13.yaml")),
    ("V14", include_str!("../../tests/cases/V14.yaml")),
    ("V15", include_str!("../../tests/cases/V15.yaml")),
    ("V16", include_str!("../../tests/cases/V16.yaml")),
    ("V17", include_str!("../../tests/cases/V17.yaml")),
    ("V18", include_str!("../../tests/cases/V18.yaml")),
    ("V19", include_str!("../../tests/cases/V19.yaml")),
    ("V20", include_str!("../../tests/cases/V20.yaml")),
    ("V21", include_str!("../../tests/cases/V21.yaml")),
    ("V22", include_str!("../../tests/cases/V22.yaml")),
    ("V23", include_str!("../../tests/cases/V23.yaml")),
    ("V24", include_str!("../../tests/cases/V24.yaml")),
    ("V25", include_str!("../../tests/cases/V25.yaml")),
];

/// The sample records as cases. Their answer is what the rules say.
pub fn samples(vocabulary: &Vocabulary) -> Vec<Case> {
    SAMPLES
        .iter()
        .filter_map(|(name, text)| {
            let file = SourceFile::new(format!("{name}.yaml"), *text);
            case_of_record(
                name,
                &file,
                Answer::default(),
                vocabulary,
                &mut Problems::default(),
            )
        })
        .collect()
}

/// The worked cases, each with the answer of an experienced inspector.
pub fn worked(vocabulary: &Vocabulary) -> Vec<Case> {
    WORKED
        .iter()
        .filter_map(|(name, text)| {
            let file = SourceFile::new(format!("{name}.yaml"), *text);
            worked_case(name, &file, vocabulary, &mut Problems::default())
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_built_in_case_can_be_read() {
        let pack = crate::rules::builtin().unwrap();
        assert_eq!(worked(&pack.vocabulary).len(), WORKED.len());
        // A sample with nothing wrong in it is no case.
        assert!(samples(&pack.vocabulary).len() + 1 >= SAMPLES.len());
        for case in worked(&pack.vocabulary) {
            assert!(!case.answer.causes.is_empty() && !case.answer.verdicts.is_empty());
        }
    }
}
