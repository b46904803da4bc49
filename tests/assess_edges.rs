//! Questions, answers and causes on small packs over small records. Every expected value follows from
//! the rows as written; lengths are worked out beside them (an inch is 25.4 mm).

use std::sync::OnceLock;

use ringtrue::assessment::{
    Answering, Assessment, Describer, Given, PLACES, Ran, assess, board, run_rules,
};
use ringtrue::facts::{Bits, Interval, Value};
use ringtrue::record::{self, model::Record};
use ringtrue::rules::{Pack, Spot, builtin};
use ringtrue::source::SourceFile;
use ringtrue::survey::{Survey, survey};
use ringtrue::units::System;

mod small;
use small::{FIRST, plain, table};

/// Ratios of panel length to thickness, and verdicts that go by them.
const FACTS: &str = "
facts:
  soil: {scope: site, name: soil, kind: choice, values: [gravel, sand, silt, clay], ask: Q?, minutes: 1, comes: survey}
  thickness: {scope: slab, name: thickness, kind: length, range: 1-1/2 in to 24 in, ask: Q?, minutes: 1, comes: survey}
  fall: {scope: area, name: fall, kind: slope, range: -10 % to 20 %, ask: Q?, minutes: 1, comes: survey}
  spacing_ratio: {scope: area, name: spacing, kind: number, range: 1 to 400, comes: survey}
  kind: {scope: defect, name: kind, kind: choice, values: [crack, spall], ask: Q?, minutes: 1, comes: survey}
  loss_depth: {scope: defect, name: depth, kind: length, range: 0 in to 8 in, ask: Q?, minutes: 1, comes: survey}
  depth_most: {scope: area, name: greatest depth, kind: length, range: 0 in to 8 in, comes: gathered, gathered: {from: loss_depth, by: greatest}}
  panel_most: {scope: panel, name: greatest depth, kind: length, range: 0 in to 8 in, comes: gathered, gathered: {from: loss_depth, by: greatest}}
  always: {scope: area, name: always, kind: choice, values: [so], ask: Q?, minutes: 1, comes: asked}
  thin: {scope: slab, name: thin, kind: choice, values: [yes, no], comes: made}
  verdict: {scope: area, name: verdict, kind: choice, values: [leave, seal, replace], ordered: yes, comes: made, read_by: [assessment]}
  slab_verdict: {scope: slab, name: verdict of the slab, kind: choice, values: [keep, drop], ordered: yes, comes: made, read_by: [assessment]}
  cause: {scope: defect, name: cause, kind: choice, values: [air, salt, load], comes: made, read_by: [assessment]}
causes:
  air: {name: air, plain: P., at_work: A., stops_by: S.}
  salt: {name: salt, plain: P., at_work: A., stops_by: S.}
  load: {name: load, plain: P., at_work: A., stops_by: S.}
figures:
  cause_close: {name: close, kind: number, value: 1, source: S, provenance: practice}
  cause_few_signs: {name: few, kind: number, value: 2, source: S, provenance: practice}
";

/// Head of a table that weighs these causes.
const EVIDENCE: &str = "kind: evidence\nlikely: 1.5\npossible: 0\ncauses: [air, salt, load]";

fn pack(tables: &[String]) -> Pack {
    plain(FACTS, tables)
}

struct Case {
    pack: Pack,
    record: Record,
    survey: Survey,
    ran: Ran,
    said: Assessment,
}

impl Case {
    fn new(pack: Pack, record: &str) -> Case {
        let file = SourceFile::new("r.yaml", record.to_owned());
        let (loaded, problems) = record::read(&file, None, None, None);
        let record = loaded.unwrap_or_else(|| panic!("{problems}")).record;
        let survey = survey(&record, &pack.vocabulary);
        let ran = run_rules(&pack, &survey);
        let said = assess(&record, None, &survey, &pack, &ran);
        Case {
            pack,
            record,
            survey,
            ran,
            said,
        }
    }

    fn spot(&self, thing: usize, fact: &str) -> Spot {
        let fact = self.pack.vocabulary.find(fact).unwrap();
        Spot { thing, fact }
    }

    fn area(&self, i: usize) -> usize {
        self.survey.areas[i].thing
    }

    fn answering(&self) -> Answering<'_> {
        Answering {
            record: &self.record,
            survey: &self.survey,
            pack: &self.pack,
        }
    }

    /// What each question is about and asks for.
    fn asked(&self) -> Vec<(&str, &str)> {
        (self.said.questions.iter())
            .map(|q| (q.about.as_str(), q.fact.as_str()))
            .collect()
    }
}

/// A record of these areas, with `unknown` thickness unless told otherwise.
fn walk(slab: &str, areas: &str) -> String {
    format!(
        "
ringtrue: 1
job: {{client: C, address: A, date: 2026-05-14, inspector: I}}
site: {{weathering: moderate, deicers: none, drainage: good}}
slab: {{use: walk, placed: 2014, finish: broom, support: on_ground, covering: none{slab}}}
areas:
{areas}"
    )
}

/// One area of panels of 5 ft.
const PANELS: &str = "  - {id: A, name: walk, size: 15 ft x 5 ft, panels: {columns: [5 ft, 5 ft, 5 ft], rows: [5 ft]}}\n";

/// Rows that part thickness at 4 and 5 in, and the ratio at 12 and 15, which is 60 in over 5 and 4 in.
fn ratios() -> Pack {
    ratios_of(FACTS)
}

fn ratios_of(facts: &str) -> Pack {
    plain(
        facts,
        &[
            table(
                "thin",
                "slab",
                FIRST,
                &[
                    "when: {thickness: '< 4 in'}, then: yes",
                    "when: {thickness: '> 5 in'}, then: no",
                    "then: yes",
                ],
            ),
            table(
                "verdict",
                "area",
                FIRST,
                &[
                    "when: {thickness: '> 5 in'}, then: leave",
                    "when: {spacing_ratio: '> 15'}, then: replace",
                    "when: {spacing_ratio: '< 12'}, then: leave",
                    "then: seal",
                ],
            ),
        ],
    )
}

#[test]
fn an_answer_brings_what_the_survey_works_out_from_it() {
    let c = Case::new(ratios(), &walk("", PANELS));
    let thickness = c.spot(c.survey.slab, "thickness");
    let ratio = c.spot(c.area(0), "spacing_ratio");
    let cell = |i: usize| Bits::one(i);
    let given = board(&c.pack, &c.survey);
    assert_eq!((given.at(thickness).len(), given.at(ratio).len()), (3, 3));
    // Less than 4 in: more than 15. From 4 to 5 in: 12 to 15. More than 5 in: less than 12.
    for (inches, holds) in [(0, 2), (1, 1), (2, 0)] {
        let mut answer = c.answering().answer(&[], &given, thickness, cell(inches));
        answer.sort();
        let mut expected = vec![(thickness, cell(inches)), (ratio, cell(holds))];
        expected.sort();
        assert_eq!(answer, expected, "{inches}");
        let told = Given {
            spot: thickness,
            cells: cell(inches),
            value: None,
        };
        assert_eq!(c.answering().board(&[told]).at(ratio), cell(holds));
    }
    // The rows of the verdict part thickness at 5 in only. More leaves one of three verdicts, less two,
    // since the ratio is then 12 or more: of log2 3 bits half a bit stays open on the whole, and that of the
    // slab's verdict, which no row makes.
    assert_eq!(c.asked(), [("the slab", "thickness")]);
    let settles = (3f64.log2() - 0.5) / (3f64.log2() + 1.0);
    let found = c.said.questions[0].settles;
    assert!((found - settles).abs() < 1e-9, "{found} for {settles}");
}

#[test]
fn nothing_is_worked_out_from_an_answer_without_end() {
    // Without a range less than 4 in and more than 5 in may be anything.
    let facts = FACTS.replace(", range: 1-1/2 in to 24 in", "");
    let c = Case::new(ratios_of(&facts), &walk("", PANELS));
    let thickness = c.spot(c.survey.slab, "thickness");
    let given = board(&c.pack, &c.survey);
    let cells = given.at(thickness);
    for end in [cells.lowest(), cells.highest()].map(|c| Bits::one(c.unwrap())) {
        let answer = c.answering().answer(&[], &given, thickness, end);
        assert_eq!(answer, [(thickness, end)]);
    }
}

#[test]
fn defects_that_differ_in_number_photos_and_remarks_only_are_alike() {
    let defects = "  - id: A
    name: walk
    size: 15 ft x 5 ft
    panels: {columns: [5 ft, 5 ft, 5 ft], rows: [5 ft]}
    defects:
      - {id: 1, kind: spall, depth: 1 in}
      - {id: 2, kind: spall, depth: 1 in, note: beside the tree}
      - {id: 3, kind: spall, depth: 2 in}
      - {id: 4, kind: spall, depth: 1 in, photos: [{file: a.jpg, caption: C}]}
";
    let c = Case::new(ratios(), &walk("", defects));
    let [one, two, three, four] = c.survey.areas[0].defects[..] else {
        panic!()
    };
    let mut expected: Vec<usize> = (0..c.survey.things.len()).collect();
    expected[two] = one;
    expected[four] = one;
    assert_eq!(c.answering().like(&[]), expected);
    // One of which something has been told is like no other.
    let told = Given {
        spot: c.spot(one, "loss_depth"),
        cells: Bits::one(0),
        value: None,
    };
    expected[two] = two;
    expected[four] = two;
    assert_eq!(c.answering().like(&[told]), expected);
    assert_eq!(expected[three], three);
}

#[test]
fn answers_are_shown_by_the_verdict_nearest_to_the_fact() {
    // The soil decides slab and areas, the fall of an area its own verdict.
    let tables = [
        table(
            "verdict",
            "area",
            FIRST,
            &[
                "when: {fall: '< 0 %'}, then: replace",
                "when: {soil: clay}, then: seal",
                "then: leave",
            ],
        ),
        table(
            "slab_verdict",
            "slab",
            FIRST,
            &["when: {soil: clay}, then: drop", "then: keep"],
        ),
    ];
    let areas = "  - {id: A, name: walk, size: 15 ft x 5 ft, origin: [0 ft, 0 ft], fall: 1 %}
  - {id: B, name: drive, size: 15 ft x 5 ft, origin: [0 ft, 5 ft]}
";
    let c = Case::new(pack(&tables), &walk("", areas));
    let of = |fact: &str| {
        let mut words: Vec<Vec<&str>> = (c.said.questions.iter())
            .find(|q| q.fact == fact)
            .unwrap_or_else(|| panic!("{:?}", c.asked()))
            .outcomes
            .iter()
            .map(|o| o.verdicts.iter().map(|v| v.word.as_str()).collect())
            .collect();
        words.sort();
        words
    };
    assert_eq!(of("soil"), [vec!["leave"], vec!["seal"]]);
    // Of B, whose fall is open; A, the first area, would show nothing of it.
    assert_eq!(of("fall"), [vec!["leave", "seal"], vec!["replace"]]);
}

#[test]
fn a_verdict_is_worked_out_exactly() {
    // Silt or clay is either thin or not: never neither, so never `leave`.
    let tables = [
        table(
            "thin",
            "slab",
            FIRST,
            &["when: {thickness: '< 4 in'}, then: yes", "then: no"],
        ),
        table(
            "verdict",
            "area",
            FIRST,
            &[
                "when: {thin: yes}, then: replace",
                "when: {thickness: '>= 4 in'}, then: seal",
                "then: leave",
            ],
        ),
    ];
    let c = Case::new(pack(&tables), &walk("", PANELS));
    let words: Vec<&str> = (c.said.areas[0].verdict.possible.iter())
        .map(|v| v.word.as_str())
        .collect();
    assert_eq!(words, ["seal", "replace"]);
}

/// The questions in which panels a defect lies, and what each settles. By the built-in rules a loss of
/// more than half of a panel, 1/2 in deep and more, is beyond repair; less is patched.
fn places(areas: &str) -> Vec<(String, f64)> {
    static PACK: OnceLock<Pack> = OnceLock::new();
    let pack = PACK.get_or_init(|| builtin().unwrap());
    let c = Case::new(pack.clone(), &walk(", thickness: 4 in", areas));
    (c.said.questions.iter())
        .filter(|q| q.fact == PLACES)
        .map(|q| (q.about.clone(), q.settles))
        .collect()
}

fn area(id: &str, columns: &str, width: &str, defects: &str) -> String {
    format!(
        "  - id: {id}
    name: walk
    size: {width} x 8 ft
    panels: {{columns: [{columns}], rows: [8 ft]}}
    tests: {{sounding: {{taps: 40, hollow: 0}}}}
    defects:
{defects}"
    )
}

/// A spall of 20 ft2: 62 % of a panel of 4 ft, 16 % of one of 16 ft.
fn spall(id: usize, depth: &str) -> String {
    format!(
        "      - {{id: {id}, kind: spall, extent: 4 ft x 5 ft, depth: {depth}, greatest_depth: {depth}, stones: showing}}\n"
    )
}

#[test]
fn where_a_defect_lies_settles_what_its_answers_leave_less() {
    let log2 = 2f64.ln();
    // In either panel of 4 ft the depth decides between two verdicts, in the wide one it is patched:
    // of ln 2 two answers of three leave all.
    let found = places(&area(
        "A",
        "4 ft, 16 ft, 4 ft",
        "24 ft",
        &spall(1, "3/8 to 3/4 in"),
    ));
    assert_eq!(found.len(), 1, "{found:?}");
    let left = 2.0 * log2 / 3.0;
    assert!((found[0].1 - (1.0 - left / log2)).abs() < 1e-9, "{found:?}");
}

#[test]
fn where_a_defect_lies_is_asked_of_16_panels_at_most() {
    let of = |wide: usize| {
        let mut columns = vec!["4 ft"];
        columns.extend(vec!["16 ft"; wide]);
        places(&area(
            "A",
            &columns.join(", "),
            &format!("{} ft", 4 + 16 * wide),
            &spall(1, "3/4 in"),
        ))
        .len()
    };
    assert_eq!((of(15), of(16)), (1, 0));
}

#[test]
fn where_a_defect_lies_is_not_asked_where_it_changes_nothing() {
    // The verdict of A is settled whatever the panel; that of B is open.
    let small = "      - {id: 1, kind: spall, extent: 2 ft x 2 ft, depth: 3/4 in, greatest_depth: 3/4 in, stones: showing}\n";
    let two = area("A", "4 ft, 16 ft", "20 ft", small)
        + &area("B", "4 ft, 16 ft", "20 ft", &spall(2, "3/4 in")).replace(
            "size: 20 ft x 8 ft",
            "size: 20 ft x 8 ft\n    origin: [0 ft, 8 ft]",
        );
    let names = |areas: &str| -> Vec<String> { places(areas).into_iter().map(|p| p.0).collect() };
    assert_eq!(names(&two), ["defect 2"]);
    // The small one beside the large one, whose panel keeps the verdict open.
    let both = area(
        "A",
        "4 ft, 16 ft",
        "20 ft",
        &(small.to_owned() + &spall(2, "3/4 in")),
    );
    assert_eq!(names(&both), ["defect 2"]);
}

fn caused(rows: &[&str], record: &str) -> Case {
    Case::new(pack(&[table("cause", "defect", EVIDENCE, rows)]), record)
}

fn spalled(depth: &str) -> String {
    walk(
        ", thickness: 4 in",
        &format!(
            "  - id: A\n    name: walk\n    size: 15 ft x 5 ft\n    defects:\n      - {{id: 1, kind: spall{depth}}}\n"
        ),
    )
}

#[test]
fn a_cause_carries_its_signs_and_how_far_each_pushes() {
    let rows = [
        "when: {kind: spall}, push: {air: 2, salt: -0.5}",
        "when: {loss_depth: '>= 1 in'}, push: {air: 1}",
        "when: {kind: spall}, rules_out: [load]",
    ];
    let c = caused(&rows, &spalled(", depth: 2 in"));
    let causes = &c.said.areas[0].defects[0].causes;
    let of = |name: &str| -> Vec<(f64, bool)> {
        let cause = causes.iter().find(|c| c.cause == name).unwrap();
        cause.signs.iter().map(|s| (s.push, s.rules_out)).collect()
    };
    assert_eq!(of("air"), [(2.0, false), (1.0, false)]);
    assert_eq!(of("salt"), [(-0.5, false)]);
    assert_eq!(of("load"), [(f64::NEG_INFINITY, true)]);
}

#[test]
fn a_call_is_close_and_evidence_thin_below_the_figures_of_the_rules() {
    let note = |rows: &[&str], depth: &str| {
        let c = caused(rows, &spalled(depth));
        c.said.areas[0].defects[0]
            .cause_note
            .clone()
            .unwrap_or_default()
    };
    let two_signs = |salt: &str| {
        [
            "when: {kind: spall}, push: {air: 1}".to_owned(),
            format!("when: {{loss_depth: '>= 1 in'}}, push: {{air: 1, salt: {salt}}}"),
            "push: {load: -5}".to_owned(),
        ]
    };
    let of = |salt: &str| {
        let rows = two_signs(salt);
        note(
            &rows.iter().map(String::as_str).collect::<Vec<_>>(),
            ", depth: 2 in",
        )
    };
    // Two signs are not few. Air has 2: salt at 1 is 1 less, which is not close; at 1.25 it is.
    assert_eq!(of("1"), "");
    assert!(of("1.25").contains("close call"), "{}", of("1.25"));
    // One sign is few.
    let one = note(
        &["when: {kind: spall}, push: {air: 3}", "push: {load: -5}"],
        "",
    );
    assert!(one.contains("one sign only"), "{one}");
}

#[test]
fn causes_that_may_be_out_are_ranked_by_what_they_have_if_not() {
    // Shallow, all are out; else salt has 5, air 4.5 and load nothing.
    let rows = [
        "when: {kind: spall}, push: {air: 4.5, salt: 5}",
        "when: {loss_depth: '< 1 in'}, rules_out: [air, load, salt]",
    ];
    let c = caused(&rows, &spalled(""));
    let order: Vec<&str> = (c.said.areas[0].defects[0].causes.iter())
        .map(|c| c.cause.as_str())
        .collect();
    assert_eq!(order, ["salt", "air", "load"]);
}

#[test]
fn values_are_said_and_gathered_from_all_that_lie_inside() {
    let areas = "  - id: A
    name: walk
    size: 10 ft x 5 ft
    origin: [0 ft, 0 ft]
    panels: {columns: [5 ft, 5 ft], rows: [5 ft]}
    defects:
      - {id: 1, kind: spall, depth: 1 in, panels: [A1]}
      - {id: 2, kind: spall, depth: 1/2 to 2 in, panels: [B1]}
      - {id: 3, kind: spall}
  - id: B
    name: drive
    size: 10 ft x 5 ft
    origin: [0 ft, 5 ft]
    defects:
      - {id: 4, kind: spall, depth: 3 in}
";
    let c = Case::new(ratios(), &walk("", areas));
    let words = Describer {
        pack: &c.pack,
        survey: &c.survey,
        board: &c.ran.board,
        node: None,
        units: System::Us,
    };
    let most = c.pack.vocabulary.find("depth_most").unwrap();
    // 1 in at least, from the first, and 2 in at most, from the second.
    for (i, (lo, hi)) in [(0, (25.4, 50.8)), (1, (76.2, 76.2))] {
        let Some(Value::Number(Interval { lo: l, hi: h, .. })) = words.gathered(c.area(i), most)
        else {
            panic!("{i}")
        };
        assert!((l - lo).abs() < 1e-9 && (h - hi).abs() < 1e-9, "{l} to {h}");
    }
    // Of the first panel what surely lies there and what may: its own defect and the third, whose depth
    // nobody knows.
    let panel = c.survey.areas[0].panels[0].1;
    let in_panel = c.pack.vocabulary.find("panel_most").unwrap();
    let Some(Value::Number(i)) = words.gathered(panel, in_panel) else {
        panic!()
    };
    assert!(
        (i.lo - 25.4).abs() < 1e-9 && (i.hi - 25.4).abs() < 1e-9,
        "{i:?}"
    );
    let kind = c.pack.vocabulary.find("kind").unwrap();
    let fact = c.pack.vocabulary.fact(kind);
    let said = |bits: Bits| words.value(fact, Value::Choices(bits));
    let both = Bits::one(0).or(Bits::one(1));
    assert_eq!(said(both), "not known");
    assert_eq!(said(Bits::one(1)), "spall");
    assert_eq!(words.value(fact, Value::Unknown), "not known");
    // What can be but one thing is that.
    let always = c.pack.vocabulary.find("always").unwrap();
    let so = words.value(c.pack.vocabulary.fact(always), Value::Choices(Bits::one(0)));
    assert_eq!(so, "so");
}
