//! Whatever path of answers is taken, the record is valid, and judged the same when read from its
//! file.

use jiff::civil::date;
use proptest::prelude::*;
use ringtrue::assessment::{assess, run_rules};
use ringtrue::method::decide;
use ringtrue::record::{self, Loaded};
use ringtrue::rules::{Pack, builtin};
use ringtrue::source::SourceFile;
use ringtrue::survey::survey;
use ringtrue::units::Kind;
use ringtrue::walk::{Journal, Line, Question, Take, Walk};

fn pack() -> &'static Pack {
    static PACK: std::sync::OnceLock<Pack> = std::sync::OnceLock::new();
    PACK.get_or_init(|| builtin().unwrap())
}

/// An answer of the right kind, chosen by a number.
fn fitting(q: &Question, n: u32) -> String {
    let some = |list: &[&str]| list[n as usize % list.len()].to_owned();
    match &q.take {
        Take::Text => some(&[
            "A. Oak",
            "12, Lane: #4 'x'",
            "yes",
            "0117",
            "- a\tb",
            "Ünder [x]",
        ]),
        Take::Day => some(&["2026-05-14", "", "today"]),
        Take::Placed => some(&["2011", "2011-06", "2019-06-20"]),
        Take::Measure(Kind::Number) => some(&["3", "2 to 4", "80"]),
        Take::Measure(kind) | Take::Measures(kind) => some(match kind {
            Kind::Length => &["3/8 in", "4 to 8 mm", "5' 6\"", "4 in", "0.02 in"],
            Kind::Share => &["4 %", "5 to 10 %"],
            Kind::Slope => &["1/4 in/ft", "-1 %"],
            Kind::Duration => &["20 s", "2 min", "10 years"],
            Kind::Pressure => &["200 psi", "4000 psi"],
            Kind::Temperature => &["72 F"],
            _ => &["1"],
        }),
        Take::Numbers => some(&["2, 3, 1", "11.5"]),
        Take::Size => some(&["12 ft x 30 ft", "3 x 4 m", "20 ft2", "9 %"]),
        Take::Point => some(&["4 ft, 6 ft", "0 ft, 1 m"]),
        Take::Panels => some(&["none", "6 ft, 6 ft by 3 x 10 ft", "12 ft by 30 ft"]),
        Take::PanelNames => some(&["A1", "a1, b1"]),
        Take::Sounding => some(&["60 taps, 4 dull", "30 0", "5 of 100"]),
        Take::Words => some(&["dry", "dry, damp"]),
        Take::Word { .. } | Take::Defect { .. } if !q.picks.is_empty() => {
            (n as usize % q.picks.len() + 1).to_string()
        }
        Take::Area { .. } => some(&["none", "none", "front walk, 4 ft x 30 ft"]),
        Take::Stair { .. } => some(&["none", "7 in, 7-1/8 in, 7 in"]),
        Take::Door { .. } => some(&["none", "2-1/2 in"]),
        Take::Corners => some(&["0 ft, 0 ft; 9 ft, 0 ft; 9 ft, 9 ft", "1 m, 1 m; 2 m, 2 m"]),
        Take::Count => some(&["3", "1", "-1"]),
        Take::Joint { .. } => some(&["none", "none", "isolation, 1/2 in", "control"]),
        Take::Dated { .. } => some(&[
            "2025-01-14 0.02 in; 2025-07-10 0.03 in",
            "2025-01-14 1/4 in at 35 F",
            "2024-02-30 1 in",
        ]),
        Take::Patches => some(&[
            "4 ft, 6 ft, 3 ft x 2 ft",
            "1 m, 1 m, 1 x 1 m; 2 m, 2 m, 1 x 1 m",
        ]),
        Take::PanelSign { .. } => some(&["A1 3", "a1 4 to 6; B1 2"]),
        Take::Photo => some(&["none", "1, a.jpg, a crack", "9, b.jpg, none such"]),
        Take::Remark => some(&["none", "1, wet: and #cold", "slab, seen from the road"]),
        Take::Material { .. } => some(&["none", "sealer, acrylic sealer", "overlay"]),
        Take::Price => some(&[
            "none",
            "repair, overlay, ft2, 6.50, 8, 11",
            "repair, seal, job, 1, 2, 3, every 3 years",
        ]),
        Take::Edges { .. } | Take::Checklist => some(&["none", "1", "1 2"]),
        _ => "none".to_owned(),
    }
}

/// What can be opened at any question.
const ADDED: [&str; 17] = [
    "defect", "area", "stairs", "door", "edge", "joint", "photo", "reading", "levels", "patch",
    "outline", "remark", "product", "crew", "price", "more", "work",
];

fn read(text: &str) -> Option<Loaded> {
    let (loaded, problems) = record::read(
        &SourceFile::new("job.yaml", text),
        None,
        Some(date(2026, 6, 1)),
        Some(&pack().vocabulary),
    );
    assert!(loaded.is_some(), "{}\n{text}", problems.to_plain());
    loaded
}

fn assessed(loaded: &Loaded) -> String {
    let pack = pack();
    let mut found = survey(&loaded.record, &pack.vocabulary);
    let ran = run_rules(pack, &found);
    let (ran, _) = decide(&loaded.record, &mut found, pack, ran);
    let assessment = assess(&loaded.record, Some(&loaded.node), &found, pack, &ran);
    serde_json::to_string(&assessment).unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 8, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_path_of_answers_ends_in_a_valid_record_judged_the_same_from_its_file(
        path in prop::collection::vec((0u8..20, any::<u32>(), "\\PC{0,12}"), 1..70)
    ) {
        let mut walk = Walk::begin(pack(), "job.yaml", date(2026, 5, 14)).unwrap();
        let mut journal = Line::began(walk.base(), walk.fresh()).text();
        for (what, n, junk) in path {
            let questions = walk.questions();
            let Some(q) = questions.first() else { break };
            // No question comes twice.
            let keys: std::collections::HashSet<&str> = questions.iter().map(|q| q.key.as_str()).collect();
            prop_assert_eq!(keys.len(), questions.len());
            let entry = match what {
                0 => walk.unknown(q),
                1 => walk.skip(q),
                2 => walk.answer(q, &junk),
                3 => {
                    if walk.back() {
                        journal += &Line::Back.text();
                    }
                    continue;
                }
                4 => walk.add(ADDED[n as usize % ADDED.len()]),
                _ => walk.answer(q, &fitting(q, n)),
            };
            let Ok(entry) = entry else { continue };
            let before = walk.text().to_owned();
            match walk.take(entry.clone()) {
                Ok(()) => journal += &Line::Answer(entry).text(),
                Err(complaint) => {
                    prop_assert!(!complaint.message.is_empty());
                    prop_assert_eq!(&before, walk.text());
                }
            }
            read(walk.text());
        }
        // From the file.
        let from_file = read(walk.text()).unwrap();
        prop_assert_eq!(&from_file.record, &walk.loaded().record);
        prop_assert_eq!(assessed(&from_file), assessed(walk.loaded()));
        // From the journal.
        let kept = Journal::read(journal.as_bytes()).unwrap();
        let mut again = Walk::from(pack(), "job.yaml", None, date(2026, 5, 14).tomorrow().ok(), kept.base, kept.fresh).unwrap();
        prop_assert_eq!(again.replay(&kept.entries), 0);
        prop_assert_eq!(again.text(), walk.text());
        prop_assert_eq!(again.questions(), walk.questions());
    }
}

/// A record of one area with `count` defects, of each of which only `what` says more than the kind.
fn crowded(count: usize, what: impl Fn(usize) -> String) -> String {
    let kinds = [
        "scaling",
        "spall",
        "delamination",
        "popouts",
        "crack",
        "map_cracking",
        "lip",
        "ponding",
    ];
    let mut text = "ringtrue: 1\n\
        job: {client: A, address: B, date: 2026-05-14, inspector: C}\n\
        slab: {use: patio}\n\
        areas:\n\
        \x20 - id: A\n    name: patio\n    size: 40 ft x 60 ft\n    defects:\n"
        .to_owned();
    for i in 0..count {
        let kind = kinds[i % kinds.len()];
        text += &format!("      - {{id: {}, kind: {kind}{}}}\n", i + 1, what(i));
    }
    text
}

#[test]
fn two_hundred_defects_of_which_nothing_is_known_are_judged_in_seconds() {
    let begun = std::time::Instant::now();
    let text = crowded(200, |_| String::new());
    let walk = Walk::go_on(pack(), "job.yaml", None, Some(date(2026, 6, 1)), &text).unwrap();
    let questions = walk.questions();
    eprintln!("walk {:?}", begun.elapsed());
    // Every one of them is asked about.
    for n in 1..=200 {
        let about = format!("defect {n}, ");
        assert!(questions.iter().any(|q| q.about.starts_with(&about)), "{n}");
    }
    let all = assessed(walk.loaded());
    eprintln!("assessed {:?}", begun.elapsed());
    assert!(all.contains("\"questions\":[{"));
    assert!(begun.elapsed().as_secs() < 60, "{:?}", begun.elapsed());
}
