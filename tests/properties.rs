//! What must hold for any record, found by trying many.

use std::path::PathBuf;
use std::sync::OnceLock;

use proptest::prelude::*;
use ringtrue::assessment::{Ran, run_rules};
use ringtrue::cli::Work;
use ringtrue::facts::{Bits, FactKind, Gather, Interval, Scope, Thing, Value};
use ringtrue::record::{self, Loaded};
use ringtrue::report::{self, Sources, View};
use ringtrue::rules::{Board, Body, Pack, Spot, Trail, builtin, run};
use ringtrue::source::{Problems, SourceFile};
use ringtrue::survey::{Survey, survey};

fn pack() -> &'static Pack {
    static PACK: OnceLock<Pack> = OnceLock::new();
    PACK.get_or_init(|| builtin().unwrap_or_else(|p| panic!("{p}")))
}

/// Name and text of every sample.
fn samples() -> &'static [(String, String)] {
    static SAMPLES: OnceLock<Vec<(String, String)>> = OnceLock::new();
    SAMPLES.get_or_init(|| {
        let mut all: Vec<(String, String)> = std::fs::read_dir("samples")
            .unwrap()
            .map(|e| e.unwrap().path())
            .filter(|p| p.extension().is_some_and(|e| e == "yaml"))
            .map(|p| {
                (
                    p.display().to_string(),
                    std::fs::read_to_string(&p).unwrap(),
                )
            })
            .collect();
        all.sort();
        assert!(all.len() >= 8);
        all
    })
}

fn read(name: &str, text: &str) -> (Option<Loaded>, Problems) {
    let file = SourceFile::new(name, text);
    record::read(&file, None, None, Some(&pack().vocabulary))
}

/// Every sample, surveyed.
fn surveyed() -> &'static [(String, Survey)] {
    static SURVEYED: OnceLock<Vec<(String, Survey)>> = OnceLock::new();
    SURVEYED.get_or_init(|| {
        samples()
            .iter()
            .map(|(name, text)| {
                let (loaded, problems) = read(name, text);
                let loaded = loaded.unwrap_or_else(|| panic!("{problems}"));
                (name.clone(), survey(&loaded.record, &pack().vocabulary))
            })
            .collect()
    })
}

/// The verdicts of the slab and of every area of a survey.
fn verdicts(survey: &Survey) -> Vec<Spot> {
    let fact = |id: &str| pack().vocabulary.find(id).unwrap();
    let mut out = vec![Spot {
        thing: survey.slab,
        fact: fact("slab_verdict"),
    }];
    out.extend(survey.areas.iter().map(|a| Spot {
        thing: a.thing,
        fact: fact("verdict"),
    }));
    out
}

fn possible(ran: &Ran, spot: Spot) -> Bits {
    ran.possible(pack(), spot)
}

/// A slip of the pen: one line of a record gone, doubled, or with another ending.
#[derive(Debug, Clone)]
enum Slip {
    Drop,
    Double,
    Ending(&'static str),
    Swap(usize),
}

fn slip() -> impl Strategy<Value = Slip> {
    prop_oneof![
        Just(Slip::Drop),
        Just(Slip::Double),
        prop::sample::select(vec![
            " unknown",
            " -1 in",
            " 0 in",
            " 1e300 ft",
            " 999999 %",
            " [",
            " {}",
            " \"\u{202e}\"",
            " 4 to 8 mm",
            " no",
            " ''",
            " 12 ft x 0 ft",
        ])
        .prop_map(Slip::Ending),
        (0usize..400).prop_map(Slip::Swap),
    ]
}

fn slipped(text: &str, at: usize, slip: &Slip) -> String {
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    let at = at % lines.len();
    match slip {
        Slip::Drop => {
            lines.remove(at);
        }
        Slip::Double => lines.insert(at, lines[at].clone()),
        Slip::Ending(end) => {
            if let Some((key, _)) = lines[at].split_once(':') {
                lines[at] = format!("{key}:{end}");
            }
        }
        Slip::Swap(other) => {
            let other = other % lines.len();
            lines.swap(at, other);
        }
    }
    lines.join("\n")
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]

    /// A record with slips either names its problems or goes the whole way to a page.
    #[test]
    fn no_record_makes_it_panic(which in 0usize..1000, slips in prop::collection::vec((0usize..4000, slip()), 1..4)) {
        let (name, text) = &samples()[which % samples().len()];
        let text = slips.iter().fold(text.clone(), |text, (at, slip)| slipped(&text, *at, slip));
        let (loaded, problems) = read(name, &text);
        let Some(loaded) = loaded else {
            prop_assert!(problems.has_errors());
            prop_assert!(!problems.render(false).is_empty());
            return Ok(());
        };
        let work = Work::of(loaded, PathBuf::from("samples"), pack().clone(), problems);
        let view = View::build(Sources {
            record: &work.loaded.record,
            assessment: &work.assessment,
            method: &work.method,
            photos: &[],
            vocabulary: &work.pack.vocabulary,
        });
        let page = report::html(&view);
        prop_assert!(page.is_ok(), "{:?}", page.err());
    }

    /// Taking away what is known of one fact leaves the old verdicts among those still possible.
    #[test]
    fn knowing_less_never_excludes_what_was_right(which in 0usize..1000, forget in prop::collection::vec(0usize..100_000, 1..4)) {
        let (name, full) = &surveyed()[which % surveyed().len()];
        let before = run_rules(pack(), full);
        let mut less = full.clone();
        for f in forget {
            let keys: Vec<_> = less.entries.keys().copied().collect();
            if !keys.is_empty() {
                less.entries.remove(&keys[f % keys.len()]);
            }
        }
        let after = run_rules(pack(), &less);
        for spot in verdicts(full) {
            let (was, is) = (possible(&before, spot), possible(&after, spot));
            prop_assert!(was.within(is), "{name}: {:?} was {was:?}, is {is:?}", spot);
        }
    }
}

/// Facts of a defect of which more is worse.
const WORSE_UP: [&str; 11] = [
    "loss_depth",
    "greatest_depth",
    "stones",
    "share",
    "diameter",
    "crack_width",
    "offset",
    "water_depth",
    "count",
    "frame_mean",
    "spall_width",
];

fn chain() -> Vec<Thing> {
    let thing = |scope, label: &str, outer| Thing {
        scope,
        label: label.to_owned(),
        outer,
        lies_in: Vec::new(),
        may_lie_in: Vec::new(),
    };
    vec![
        thing(Scope::Site, "the site", None),
        thing(Scope::Slab, "the slab", Some(0)),
        thing(Scope::Area, "area A", Some(1)),
        thing(Scope::Defect, "defect 1", Some(2)),
    ]
}

/// A number of a fact's plausible range, from a share of it; finer near the low end, where the
/// scales have their borders.
fn number(fact: &ringtrue::facts::Fact, share: f64) -> f64 {
    let range = fact.range.unwrap_or(Interval { lo: 0.0, hi: 100.0 });
    range.lo + (range.hi - range.lo) * share.powi(3)
}

fn severity_facts() -> Vec<ringtrue::facts::FactId> {
    pack()
        .tables
        .iter()
        .filter(|t| {
            t.scope == Scope::Defect
                && t.scale.is_some()
                && pack().files[t.file].name.contains("/severity/")
        })
        .filter_map(|t| match t.body {
            Body::Grade { gives, .. } => Some(gives),
            _ => None,
        })
        .filter(|f| {
            matches!(
                pack().vocabulary.fact(*f).kind,
                FactKind::Choice { ordered: true, .. }
            )
        })
        .collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    /// Deeper, wider, more: no severity scale gives a milder class for more damage.
    #[test]
    fn more_damage_never_yields_a_milder_grade(
        kind in 0usize..18,
        shares in prop::collection::vec(0.0f64..=1.0, 40),
        raise in 0usize..WORSE_UP.len(),
        to in 0.0f64..=1.0,
        picks in prop::collection::vec(0usize..64, 40),
    ) {
        let p = pack();
        let defect = 3;
        let mut board = Board::new(p, chain());
        let kinds = p.vocabulary.find("kind").unwrap();
        let all = p.vocabulary.fact(kinds).values().len();
        board.set_bits(defect, kinds, Bits::one(kind % all));
        // Every fact of the defect that a record gives, at random.
        let given: Vec<_> = p
            .vocabulary
            .facts()
            .filter(|(id, f)| *id != kinds && f.scope == Scope::Defect && matches!(f.comes, ringtrue::facts::Comes::Survey | ringtrue::facts::Comes::Asked))
            .collect();
        for (i, (id, fact)) in given.iter().enumerate() {
            match &fact.kind {
                FactKind::Quantity(_) => board.set(p, defect, *id, Value::number(number(fact, shares[i % shares.len()]))),
                FactKind::Choice { values, .. } => board.set_bits(defect, *id, Bits::one(picks[i % picks.len()] % values.len())),
            }
        }
        let mut trail = Trail::default();
        let mut low = board.clone();
        run(p, &mut low, &mut trail);
        let raised = p.vocabulary.find(WORSE_UP[raise]).unwrap();
        let fact = p.vocabulary.fact(raised);
        let mut high = board.clone();
        match &fact.kind {
            FactKind::Quantity(_) => {
                let i = given.iter().position(|(id, _)| *id == raised).unwrap();
                let was = number(fact, shares[i % shares.len()]);
                high.set(p, defect, raised, Value::number(number(fact, to).max(was)));
            }
            FactKind::Choice { values, .. } => {
                let was = board.get(p, defect, raised).lowest().unwrap_or(0);
                let worse = was.max(((to * values.len() as f64) as usize).min(values.len() - 1));
                high.set_bits(defect, raised, Bits::one(worse));
            }
        }
        run(p, &mut high, &mut trail);
        for made in severity_facts() {
            let (a, b) = (low.get(p, defect, made), high.get(p, defect, made));
            prop_assert!(
                b.lowest() >= a.lowest() && b.highest() >= a.highest(),
                "{} fell from {a:?} to {b:?} when {} rose", p.vocabulary.fact(made).id, fact.id
            );
        }
    }
}

#[test]
fn the_scales_under_test_are_not_few() {
    assert!(severity_facts().len() >= 20, "{}", severity_facts().len());
    // Gathering keeps the worst, so areas follow their defects.
    let gathered = pack()
        .vocabulary
        .facts()
        .filter(|(_, f)| {
            matches!(
                f.comes,
                ringtrue::facts::Comes::Gathered {
                    by: Gather::Worst,
                    ..
                }
            )
        })
        .count();
    assert!(gathered >= 5);
}
