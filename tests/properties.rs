//! What must hold for any record, found by trying many.

use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;
use std::sync::OnceLock;

use proptest::prelude::*;
use ringtrue::assessment::{Assessment, Ran, Verdict, assess, run_rules};
use ringtrue::cli::Work;
use ringtrue::facts::{Bits, FactKind, Gather, Interval, Scope, Thing, Value};
use ringtrue::method::{Method, decide, specify};
use ringtrue::record::model::{AreaRecord, Defect, Record};
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
        let view = View::build(work.sources(&[]));
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

/// Writes a record's text with every mapping, its areas and the defects of each the other way round.
fn turned_round(text: &str) -> String {
    fn turn(value: &mut serde_yaml::Value) {
        match value {
            serde_yaml::Value::Mapping(map) => {
                let mut entries: Vec<_> = std::mem::take(map).into_iter().collect();
                for (key, value) in &mut entries {
                    turn(value);
                    if matches!(key.as_str(), Some("areas" | "defects"))
                        && let serde_yaml::Value::Sequence(list) = value
                    {
                        list.reverse();
                    }
                }
                entries.reverse();
                map.extend(entries);
            }
            serde_yaml::Value::Sequence(list) => list.iter_mut().for_each(turn),
            _ => {}
        }
    }
    let mut value: serde_yaml::Value = serde_yaml::from_str(text).unwrap();
    turn(&mut value);
    serde_yaml::to_string(&value).unwrap()
}

/// What an answer says, without the order it says it in.
#[derive(Debug, Default, PartialEq)]
struct Said {
    verdicts: BTreeMap<String, Vec<String>>,
    grades: BTreeSet<(u32, String, Vec<String>)>,
    causes: BTreeSet<(u32, String, bool, String)>,
    steps: BTreeSet<(String, String, String)>,
    listed: BTreeSet<(String, bool)>,
    stairs: BTreeMap<String, String>,
}

fn said(assessment: &Assessment, method: &Method) -> Said {
    let words = |v: &Verdict| v.possible.iter().map(|c| c.word.clone()).collect();
    let mut said = Said::default();
    let slab = words(&assessment.slab.verdict);
    said.verdicts.insert("slab".to_owned(), slab);
    for area in &assessment.areas {
        let name = format!("area {}", area.id);
        said.verdicts.insert(name, words(&area.verdict));
        for panel in &area.panels {
            let name = format!("{} {}", area.id, panel.id);
            said.verdicts.insert(name, words(&panel.verdict));
        }
        for defect in &area.defects {
            let n = defect.number;
            said.grades.extend(defect.grades.iter().map(|g| {
                let classes = g.classes.iter().map(|c| c.word.clone()).collect();
                (n, g.table.clone(), classes)
            }));
            said.causes.extend(
                (defect.causes.iter())
                    .map(|c| (n, c.cause.clone(), c.may_lead, format!("{:?}", c.log_odds))),
            );
        }
    }
    for area in &method.areas {
        let steps = area.steps.iter();
        said.steps
            .extend(steps.map(|s| (area.area.clone(), s.stage.clone(), s.crew.clone())));
    }
    for list in [
        &assessment.exclusions,
        &assessment.referrals,
        &assessment.cautions,
    ] {
        let rows = list.iter().map(|r| (r.row.clone(), r.certain));
        said.listed.extend(rows);
    }
    for stair in &method.stairs {
        let after = format!("{:?}", stair.after_mm);
        said.stairs.insert(stair.stair.clone(), after);
    }
    said
}

/// The order of keys, of areas and of defects is the writer's; the answer does not hang on it.
#[test]
fn order_changes_nothing() {
    for (name, text) in samples() {
        let answer = |text: &str| {
            let (loaded, problems) = read(name, text);
            let loaded = loaded.unwrap_or_else(|| panic!("{problems}"));
            let work = Work::of(loaded, PathBuf::from("samples"), pack().clone(), problems);
            said(&work.assessment, &work.method)
        };
        assert_eq!(answer(text), answer(&turned_round(text)), "{name}");
    }
}

/// One of some texts.
fn any_of(texts: &'static [&'static str]) -> impl Strategy<Value = String> {
    prop::sample::select(texts).prop_map(str::to_owned)
}

/// `key: value, `, or nothing.
fn maybe(key: &'static str, texts: &'static [&'static str]) -> impl Strategy<Value = String> {
    prop_oneof![
        2 => Just(String::new()),
        3 => any_of(texts).prop_map(move |t| format!("{key}: {t}, ")),
    ]
}

const LENGTHS: &[&str] = &[
    "unknown",
    "0 in",
    "0.002 in",
    "1/32 in",
    "1/16 in",
    "1/4 in",
    "3/8 to 3/4 in",
    "1 in",
    "4 in",
    "12 mm",
    "3 ft",
    "40 ft",
    "900 ft",
];
const SHARES: &[&str] = &[
    "unknown",
    "0 %",
    "0.5 %",
    "4 %",
    "12 to 60 %",
    "100 %",
    "340 %",
];
const PLACES: &[&str] = &[
    "[2 ft, 2 ft]",
    "[0 in, 0 in]",
    "[unknown, 3 ft]",
    "[500 ft, 1 ft]",
    "[7 ft, 9 ft]",
];

fn any_defect() -> impl Strategy<Value = String> {
    const KINDS: &[&str] = &[
        "scaling",
        "spall",
        "delamination",
        "blisters",
        "popouts",
        "pinholes",
        "dusting",
        "etching",
        "crack",
        "map_cracking",
        "corner_break",
        "debonding",
        "lip",
        "settlement",
        "heave",
        "curling",
        "ponding",
        "stain",
    ];
    let first = (
        any_of(KINDS),
        maybe("panels", &["[A1]", "[B2, A1]", "[Z9]", "[]"]),
        maybe("at", PLACES),
        maybe("to", PLACES),
        maybe(
            "extent",
            &["2 ft x 3 ft", "1 to 3 ft x 2 ft", "90 ft x 1 in"],
        ),
        maybe("share", SHARES),
        maybe("depth", LENGTHS),
        maybe("greatest_depth", LENGTHS),
    );
    let second = (
        maybe("width", LENGTHS),
        maybe("length", LENGTHS),
        maybe("offset", LENGTHS),
        maybe("diameter", LENGTHS),
        maybe(
            "stones",
            &["showing", "missing", "[proud, missing]", "unknown"],
        ),
        maybe("frame_counts", &["[3, 9]", "[]", "[100000]"]),
        maybe(
            "readings",
            &[
                "[{date: '2024-01-05', value: 0.5 mm}, {date: '2024-07-05', value: 0.8 mm}]",
                "[{date: '2024-01-05', value: unknown}, {date: '2025-01-05', value: 0.8 mm}]",
                "[{date: '2024-01-05', value: 0 in}, {date: '2024-01-05', value: 0 in}]",
            ],
        ),
        maybe(
            "signs",
            &[
                "{hollow_body: yes, rocking: yes}",
                "{flake_shade: paler, appeared: first_weeks}",
                "{level_history: [steady, sinking]}",
                "{rust_stain: yes, over_steel: yes}",
            ],
        ),
    );
    (first, second).prop_map(|(a, b)| {
        format!(
            "kind: {}, {}{}{}{}{}{}{}{}{}{}{}{}{}{}{}",
            a.0, a.1, a.2, a.3, a.4, a.5, a.6, a.7, b.0, b.1, b.2, b.3, b.4, b.5, b.6, b.7
        )
    })
}

fn any_record() -> impl Strategy<Value = String> {
    const USES: &[&str] = &[
        "walk",
        "patio",
        "drive",
        "garage_floor",
        "pool_deck",
        "interior_floor",
        "carport_deck",
    ];
    let slab = (
        any_of(USES),
        maybe("thickness", LENGTHS),
        maybe(
            "finish",
            &["broom", "patterned", "steel_trowel", "[smooth, float]"],
        ),
        maybe("relief", LENGTHS),
        maybe("reinforcement", &["none", "bars", "post_tensioned"]),
        maybe("covering", &["none", "overlay", "coating"]),
        maybe("placed", &["'2004'", "2025-04", "'2031'", "'1899-12-31'"]),
        maybe(
            "mix",
            &["{air: 4 %, largest_stone: 3/4 in}", "{air: unknown}"],
        ),
    );
    let area = (
        maybe(
            "size",
            &["8 ft x 12 ft", "9 ft x 1 ft", "3 m x 1 mm", "40 ft x 1 ft"],
        ),
        maybe("origin", PLACES),
        maybe(
            "panels",
            &[
                "{columns: [4 ft, 4 ft], rows: [6 ft, 6 ft]}",
                "{columns: [4 ft, 4 ft], rows: [6 ft, 6 ft]}",
                "{columns: [unknown], rows: [5 ft]}",
                "{columns: [], rows: []}",
            ],
        ),
        maybe("fall", &["2 %", "-1 %", "unknown", "0 %"]),
        maybe(
            "tests",
            &[
                "{sounding: {taps: 200, hollow: 13}, water_drop: [20 s]}",
                "{sounding: {taps: 0, hollow: 5}, ph: [7]}",
                "{levels: [{date: '2024-02-01', value: 0 in}, {date: '2025-02-10', value: 1/2 in}]}",
                "{pull_off: [120 psi, 300 psi], slab_temperature: 96 F}",
            ],
        ),
        maybe(
            "signs",
            &[
                "{oil_soaked: yes}",
                "{crumbles: yes}",
                "{water_source: runoff, pieces: 4}",
            ],
        ),
        prop::collection::vec(any_defect(), 0..4),
    );
    let around = (
        maybe(
            "thresholds",
            &[
                "[{id: d, area: A, drop: 1/4 in}]",
                "[{id: d, area: A, drop: unknown, door_clearance: 0 in}]",
            ],
        ),
        maybe(
            "stairs",
            &[
                "[{id: s, from: A, risers: [7 in, 3 in, 7 in]}]",
                "[{id: s, to: A, risers: [unknown]}]",
                "[{id: s, from: A, to: A, risers: []}]",
            ],
        ),
        maybe(
            "edges",
            &["[{area: A, kind: building}, {area: A, kind: drain}]"],
        ),
        maybe(
            "wishes",
            &[
                "{finish: patterned, relief: deep}",
                "{finish: broom, traffic: truck}",
                "{finish: sealed}",
            ],
        ),
        maybe(
            "materials",
            &[
                "[{name: m, kind: overlay, lift: 0 in}]",
                "[{name: m, kind: patch, lift: 1 in}, {name: r, kind: resurfacer, lift: 1/16 in to 1/4 in, profile: 3 to 5}]",
            ],
        ),
        maybe(
            "site",
            &[
                "{weathering: severe, deicers: rock_salt}",
                "{freeze_thaw_days: 40, sun: full}",
                "{weathering: [moderate, severe], soil: clay}",
            ],
        ),
    );
    (slab, prop::collection::vec(area, 1..3), around).prop_map(|(s, areas, o)| {
        let mut id = 0;
        let areas: Vec<String> = areas
            .into_iter()
            .enumerate()
            .map(|(i, a)| {
                let defects: Vec<String> = (a.6.iter())
                    .map(|d| {
                        id += 1;
                        format!("{{id: {id}, {d}}}")
                    })
                    .collect();
                format!(
                    "{{id: {}, name: part, {}{}{}{}{}{}defects: [{}]}}",
                    char::from(b'A' + i as u8),
                    a.0,
                    a.1,
                    a.2,
                    a.3,
                    a.4,
                    a.5,
                    defects.join(", ")
                )
            })
            .collect();
        format!(
            "{{ringtrue: 1, job: {{client: c, address: a, date: '2025-06-01', inspector: i}}, \
             slab: {{use: {}, {}{}{}{}{}{}{}}}, areas: [{}], {}{}{}{}{}{}}}",
            s.0,
            s.1,
            s.2,
            s.3,
            s.4,
            s.5,
            s.6,
            s.7,
            areas.join(", "),
            o.0,
            o.1,
            o.2,
            o.3,
            o.4,
            o.5
        )
    })
}

/// The made-up record, possible or not. The strategy writes what the model can hold.
fn made_up(text: &str) -> Record {
    serde_yaml::from_str(text).unwrap_or_else(|e| panic!("{e}\n{text}"))
}

/// The first defect of an area that has four panels, where it has no place of its own.
fn unplaced(area: &mut AreaRecord) -> Option<&mut Defect> {
    let four = area.panels.as_ref().is_some_and(|p| p.columns.len() == 2);
    area.defects.first_mut().filter(|d| four && d.at.is_none())
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, failure_persistence: None, ..ProptestConfig::default() })]

    /// A made-up record goes the whole way without a panic, and its numbers are numbers.
    #[test]
    fn no_made_up_record_makes_it_panic(text in any_record()) {
        // What the record's checks say of it is for them; here even what they refuse is worked on.
        let _ = read("made up", &text);
        let record = made_up(&text);
        let p = pack();
        let mut found = survey(&record, &p.vocabulary);
        let ran = run_rules(p, &found);
        let (ran, fitted) = decide(&record, &mut found, p, ran);
        let assessment = assess(&record, None, &found, p, &ran);
        let method = specify(&record, None, &found, p, &ran, &fitted);
        for step in method.areas.iter().flat_map(|a| &a.steps) {
            for n in &step.numbers {
                prop_assert!(n.value.lo.is_finite() && n.value.hi.is_finite(), "{n:?}");
            }
            prop_assert!(!step.crew.contains("NaN"), "{}", step.crew);
        }
        let view = View::build(Sources {
            record: &record,
            assessment: &assessment,
            method: &method,
            photos: &[],
            vocabulary: &p.vocabulary,
            sentences: report::language::Sentences::none(),
        });
        let page = report::html(&view);
        prop_assert!(page.is_ok(), "{:?}", page.err());
    }

    /// Of a made-up record too, knowing less leaves the old verdicts among those still possible.
    #[test]
    fn knowing_less_of_a_made_up_record_excludes_nothing(
        text in any_record(),
        forget in prop::collection::vec(0usize..100_000, 1..4),
    ) {
        let full = survey(&made_up(&text), &pack().vocabulary);
        let before = run_rules(pack(), &full);
        let mut less = full.clone();
        for f in forget {
            let keys: Vec<_> = less.entries.keys().copied().collect();
            if !keys.is_empty() {
                less.entries.remove(&keys[f % keys.len()]);
            }
        }
        let after = run_rules(pack(), &less);
        for spot in verdicts(&full) {
            let (was, is) = (possible(&before, spot), possible(&after, spot));
            prop_assert!(was.within(is), "{:?} was {was:?}, is {is:?} in {text}", spot);
        }
    }

    /// Saying in which panel a defect lies never leads to a verdict that was excluded before.
    #[test]
    fn naming_the_panel_only_narrows(text in any_record(), which in 0usize..4) {
        let mut record = made_up(&text);
        for defect in record.areas.iter_mut().filter_map(unplaced) {
            defect.panels.clear();
        }
        let open = survey(&record, &pack().vocabulary);
        let before = run_rules(pack(), &open);
        for defect in record.areas.iter_mut().filter_map(unplaced) {
            defect.panels = vec![["A1", "B1", "A2", "B2"][which].to_owned()];
        }
        let placed = survey(&record, &pack().vocabulary);
        let after = run_rules(pack(), &placed);
        let panels = pack().vocabulary.find("panel_verdict").unwrap();
        let all = verdicts(&open).into_iter().chain(
            (open.areas.iter().flat_map(|a| &a.panels)).map(|(_, t)| Spot { thing: *t, fact: panels }),
        );
        for spot in all {
            let (was, is) = (possible(&before, spot), possible(&after, spot));
            prop_assert!(is.within(was), "{:?} was {was:?}, is {is:?} in {text}", spot);
        }
    }
}
