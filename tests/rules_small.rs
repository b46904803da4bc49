//! Small packs for single properties of the engine that random packs hardly meet: tables of more rows
//! than one word of the index holds, budgets, things that are told apart by what is known of them.
//! Every expected value follows from the rows as written.

use std::fmt::Write as _;

use ringtrue::facts::{Bits, FactId, Interval, Scope, Value};
use ringtrue::rules::{
    Asking, Board, Body, Pack, PackFile, Scored, Source, Spot, Thing, Trail, ask, exact,
    load_and_check, load_texts, run, standing_of, why,
};
use ringtrue::source::{Problem, Problems, SourceFile};
use ringtrue::units::System;

mod small;
mod things;
use small::{FIRST, plain, table};
use things::thing;

fn pack(texts: &[&str]) -> Pack {
    let mut problems = Problems::default();
    let files: Vec<PackFile> = (texts.iter().enumerate())
        .filter_map(|(i, text)| {
            let file = SourceFile::new(format!("{i}.yaml"), *text);
            PackFile::read(file, false, &mut problems)
        })
        .collect();
    load_and_check(&files, &mut problems).unwrap_or_else(|| panic!("{}", problems.render(false)))
}

/// A site, a slab, an area and two defects in it.
fn things() -> Vec<Thing> {
    vec![
        thing(Scope::Site, None),
        thing(Scope::Slab, Some(0)),
        thing(Scope::Area, Some(1)),
        thing(Scope::Defect, Some(2)),
        thing(Scope::Defect, Some(2)),
    ]
}

const AREA: usize = 2;
const ONE: usize = 3;
const OTHER: usize = 4;

fn fact(pack: &Pack, name: &str) -> FactId {
    pack.vocabulary.find(name).unwrap()
}

fn spot(pack: &Pack, thing: usize, name: &str) -> Spot {
    let fact = fact(pack, name);
    Spot { thing, fact }
}

/// The bits of some values of a choice.
fn words(pack: &Pack, name: &str, words: &[&str]) -> Bits {
    let fact = pack.vocabulary.fact(fact(pack, name));
    words.iter().fold(Bits::NONE, |bits, word| {
        bits.or(Bits::one(fact.value_index(word).unwrap()))
    })
}

fn say(pack: &Pack, board: &mut Board, thing: usize, name: &str, value: &[&str]) {
    board.set_bits(thing, fact(pack, name), words(pack, name, value));
}

/// Things and facts that are asked for to settle the targets.
fn asked(pack: &Pack, board: &Board, targets: &[Spot]) -> Vec<(usize, String, usize)> {
    ask(pack, board, &Asking::new(pack, targets))
        .into_iter()
        .map(|q| (q.spot.thing, q.fact, q.answers.len()))
        .collect()
}

/// 13 lengths times 10 letters: 130 rows, three words of 64, the last of them nearly empty.
fn long_table() -> Pack {
    let letters = ["a", "b", "c", "d", "e", "f", "g", "h", "i", "j"];
    let mut table = "table: long\ntitle: Long\nkind: grade\nscope: defect\nquestion: Which?\nhit: collect\nrows:\n".to_owned();
    for i in 0..13 {
        for letter in letters {
            writeln!(
                table,
                "  - {{id: r-{i}{letter}, when: {{depth: '[{i} mm..{} mm)', letter: not({letter})}}, because: B., source: S, provenance: practice}}",
                i + 1
            )
            .unwrap();
        }
    }
    pack(&[
        "facts:\n  \
           depth: {scope: defect, name: depth, kind: length, range: 0 mm to 12.5 mm, ask: How deep?, minutes: 1, comes: asked}\n  \
           letter: {scope: defect, name: letter, kind: choice, values: [a, b, c, d, e, f, g, h, i, j], ask: Which?, minutes: 1, comes: asked}\n",
        &table,
    ])
}

/// Rows that fire of the first table for a thing, the certain ones and the others.
fn fired(pack: &Pack, board: &mut Board, thing: usize) -> (Vec<String>, Vec<String>) {
    let mut trail = Trail::default();
    run(pack, board, &mut trail);
    let visit = (trail.visits().iter())
        .find(|v| v.thing as usize == thing)
        .unwrap();
    let rows = &pack.tables[0].rows;
    let of = |certain: bool| {
        let fired = trail.fired(visit).iter();
        fired
            .filter(|f| f.certain == certain)
            .map(|f| rows[usize::from(f.row)].id.clone())
            .collect()
    };
    (of(true), of(false))
}

#[test]
fn rows_beyond_the_first_word_of_the_index_fire_like_any_other() {
    let pack = long_table();
    let depth = fact(&pack, "depth");
    let rows = |mm: &[usize], letters: &str| -> Vec<String> {
        (mm.iter())
            .flat_map(|i| letters.chars().map(move |c| format!("r-{i}{c}")))
            .collect()
    };
    // One cell of each input, in each of the three words: rows 5 mm are 50 to 59, 8 mm 80 to 89,
    // 12 mm 120 to 129.
    for mm in [0, 5, 6, 8, 12] {
        let mut board = Board::new(&pack, things());
        let value = Value::Number(Interval::exact(mm as f64 + 0.25));
        board.set(&pack, ONE, depth, value);
        say(&pack, &mut board, ONE, "letter", &["c"]);
        assert_eq!(
            fired(&pack, &mut board, ONE),
            (rows(&[mm], "abdefghij"), vec![]),
            "{mm} mm"
        );
    }
    // Nothing known of the depth, one letter: every row may fire but those that the letter shuts
    // out, and none must.
    let mut board = Board::new(&pack, things());
    say(&pack, &mut board, ONE, "letter", &["j"]);
    let all: Vec<usize> = (0..13).collect();
    assert_eq!(
        fired(&pack, &mut board, ONE),
        (vec![], rows(&all, "abcdefghi"))
    );
    // One of two letters: of the rows that need another letter those for certain that need neither.
    let mut board = Board::new(&pack, things());
    board.set(&pack, ONE, depth, Value::Number(Interval::exact(7.0)));
    say(&pack, &mut board, ONE, "letter", &["b", "c"]);
    assert_eq!(
        fired(&pack, &mut board, ONE),
        (rows(&[7], "adefghij"), rows(&[7], "bc"))
    );
    // A range over the border of two words.
    let mut board = Board::new(&pack, things());
    board.set(
        &pack,
        ONE,
        depth,
        Value::Number(Interval { lo: 5.5, hi: 6.5 }),
    );
    say(&pack, &mut board, ONE, "letter", &["a"]);
    assert_eq!(
        fired(&pack, &mut board, ONE),
        (vec![], rows(&[5, 6], "bcdefghij"))
    );
}

const WET: &str = "
facts:
  wet: {scope: defect, name: wet, kind: flag, ask: Is it wet?, minutes: 1, comes: asked}
  deep: {scope: defect, name: deep, kind: flag, ask: Is it deep?, minutes: 1, comes: asked}
  bad: {scope: defect, name: bad, kind: choice, values: [fine, poor], ordered: yes, comes: made}
  worst: {scope: area, name: worst, values_of: bad, comes: gathered, gathered: {from: bad, by: worst}, none: fine}
  verdict: {scope: area, name: verdict, kind: choice, values: [leave, mend], comes: made, read_by: [assessment]}
";

const BAD: &str = "
table: bad
title: Bad
kind: grade
scope: defect
question: How bad?
hit: first
gives: bad
rows:
  - {id: b-poor, when: {wet: yes, deep: yes}, then: poor, because: B., source: S, provenance: practice}
  - {id: b-rest, then: fine, because: B., source: S, provenance: practice}
";

const VERDICT: &str = "
table: verdict
title: Verdict
kind: grade
scope: area
question: What to do?
hit: first
gives: verdict
rows:
  - {id: v-mend, when: {worst: poor}, then: mend, because: B., source: S, provenance: practice}
  - {id: v-leave, then: leave, because: B., source: S, provenance: practice}
";

/// Every fact has two values, so that no two of them differ in what may be known of them.
fn wet() -> Pack {
    pack(&[WET, BAD, VERDICT])
}

const SIZES: &str = "
facts:
  size: {scope: defect, name: size, kind: choice, values: [speck, small, large, huge], ordered: yes, ask: How large?, minutes: 1, comes: asked}
  largest: {scope: area, name: largest, values_of: size, comes: gathered, gathered: {from: size, by: worst}, none: speck}
  shape: {scope: area, name: shape, kind: choice, values: [round, long, odd], ask: Which shape?, minutes: 1, comes: asked}
  extent: {scope: area, name: extent, kind: choice, values: [little, much], comes: made, read_by: [assessment]}
";

/// Sizes in a table of two rows, the first with this condition.
fn sizes(when: &str) -> Pack {
    let table = format!(
        "
table: extent
title: Extent
kind: grade
scope: area
question: How much is it?
hit: first
gives: extent
rows:
  - {{id: e-much, when: {when}, then: much, because: B., source: S, provenance: practice}}
  - {{id: e-little, then: little, because: B., source: S, provenance: practice}}
"
    );
    let mut problems = Problems::default();
    load_texts(
        [("facts.yaml", SIZES), ("extent.yaml", &table)],
        &mut problems,
    )
    .unwrap_or_else(|| panic!("{}", problems.render(false)))
}

#[test]
fn what_is_known_of_a_thing_tells_it_from_others_of_its_area() {
    let pack = wet();
    let mut board = Board::new(&pack, things());
    // The first is dry, so its depth is all one; that of the other, which is wet, decides.
    say(&pack, &mut board, ONE, "wet", &["no"]);
    say(&pack, &mut board, OTHER, "wet", &["yes"]);
    let target = spot(&pack, AREA, "verdict");
    assert_eq!(
        asked(&pack, &board, &[target]),
        [(OTHER, "deep".to_owned(), 2)]
    );
    // The other way round, so that the thing that matters comes first.
    say(&pack, &mut board, ONE, "wet", &["yes"]);
    say(&pack, &mut board, OTHER, "wet", &["no"]);
    assert_eq!(
        asked(&pack, &board, &[target]),
        [(ONE, "deep".to_owned(), 2)]
    );
}

#[test]
fn answers_that_no_row_tells_apart_are_one_answer() {
    // `>= large` parts four sizes in two.
    let pack = sizes("{largest: '>= large'}");
    let target = spot(&pack, AREA, "extent");
    let board = Board::new(&pack, things());
    let mut questions = asked(&pack, &board, &[target]);
    questions.sort();
    let size = |thing, answers| (thing, "size".to_owned(), answers);
    assert_eq!(questions, [size(ONE, 2), size(OTHER, 2)]);
    // Long or not: the order of shapes means nothing.
    let pack = sizes("{shape: long}");
    let target = spot(&pack, AREA, "extent");
    let board = Board::new(&pack, things());
    assert_eq!(
        asked(&pack, &board, &[target]),
        [(AREA, "shape".to_owned(), 2)]
    );
}

#[test]
fn of_sizes_that_rows_treat_alike_those_on_both_sides_of_another_are_told_apart() {
    // No row tells a speck from something huge, but beside something small only the second matters.
    let pack = sizes("{largest: small}");
    let target = spot(&pack, AREA, "extent");
    let mut board = Board::new(&pack, things());
    say(&pack, &mut board, ONE, "size", &["speck", "huge"]);
    say(&pack, &mut board, OTHER, "size", &["small"]);
    assert_eq!(
        asked(&pack, &board, &[target]),
        [(ONE, "size".to_owned(), 2)]
    );
}

#[test]
fn a_search_gives_up_when_its_budget_is_spent_and_counts_its_runs() {
    let pack = wet();
    let mut board = Board::new(&pack, things());
    say(&pack, &mut board, OTHER, "wet", &["no"]);
    let target = spot(&pack, AREA, "verdict");
    let both = words(&pack, "verdict", &["leave", "mend"]);
    // The whole; one flag split; of the part that stays open the other flag split.
    let done = exact(&pack, &board, target, 100);
    assert_eq!((done.possible, done.exact, done.runs), (both, true, 5));
    // One run shows the bound and nothing more.
    let bound = exact(&pack, &board, target, 1);
    assert_eq!((bound.possible, bound.exact, bound.runs), (both, false, 1));
    // What is settled needs one run.
    say(&pack, &mut board, ONE, "deep", &["no"]);
    let firm = exact(&pack, &board, target, 1);
    let leave = words(&pack, "verdict", &["leave"]);
    assert_eq!((firm.possible, firm.exact, firm.runs), (leave, true, 1));
}

#[test]
fn a_board_that_is_cleared_knows_nothing() {
    let pack = wet();
    let new = Board::new(&pack, things());
    let mut board = new.clone();
    say(&pack, &mut board, ONE, "deep", &["no"]);
    say(&pack, &mut board, OTHER, "wet", &["yes"]);
    assert_ne!(board, new);
    board.clear(&pack);
    assert_eq!(board, new);
}

/// Six causes and 70 depths that all push differently: more sums than a group keeps, so that only
/// ranges are known of it.
fn loose() -> Pack {
    let facts = "
facts:
  depth: {scope: defect, name: depth, kind: length, range: 0 mm to 100 mm, ask: How deep?, minutes: 1, comes: asked}
  wet: {scope: defect, name: wet, kind: flag, ask: Is it wet?, minutes: 1, comes: asked}
  old: {scope: defect, name: old, kind: flag, ask: Is it old?, minutes: 1, comes: asked}
  salted: {scope: defect, name: salted, kind: flag, ask: Is it salted?, minutes: 1, comes: asked}
  cause: {scope: defect, name: cause, kind: choice, values: [air, salt, wear, frost, heat, load, rust], comes: made, read_by: [assessment]}
causes:
  air: {name: air, plain: P., at_work: A., stops_by: S.}
  salt: {name: salt, plain: P., at_work: A., stops_by: S.}
  wear: {name: wear, plain: P., at_work: A., stops_by: S.}
  frost: {name: frost, plain: P., at_work: A., stops_by: S.}
  heat: {name: heat, plain: P., at_work: A., stops_by: S.}
  load: {name: load, plain: P., at_work: A., stops_by: S.}
  rust: {name: rust, plain: P., at_work: A., stops_by: S.}
";
    let mut table = "
table: cause
title: Cause
kind: evidence
scope: defect
question: What did it?
gives: cause
likely: 1.5
possible: 0
causes: [air, salt, wear, frost, heat, load, rust]
priors:
  - {id: p-dry, when: {wet: no}, cause: air, push: 5, because: B., source: S, provenance: practice}
  - {id: p-air, when: {depth: '< 50 mm'}, cause: air, push: -2, because: B., source: S, provenance: practice}
  - {id: p-salt, when: {depth: '>= 0 mm'}, cause: salt, push: -1, because: B., source: S, provenance: practice}
  - {id: p-frost, cause: frost, push: -90, because: B., source: S, provenance: practice}
rows:
  - {id: d-all, when: {depth: '>= 0 mm'}, push: {salt: 0.5}, because: B., source: S, provenance: practice}
  - {id: d-one, when: {depth: '[1 mm..2 mm)'}, push: {salt: -0.25, load: 1}, because: B., source: S, provenance: practice}
  - {id: d-out, when: {depth: '>= 60 mm'}, rules_out: [wear], because: B., source: S, provenance: practice}
  - {id: o-yes, when: {old: yes}, push: {air: 0.3, heat: 1, rust: 1}, because: B., source: S, provenance: practice}
  - {id: s-yes, when: {salted: yes}, push: {salt: 2}, because: B., source: S, provenance: practice}
"
    .to_owned();
    for i in 1..=70 {
        writeln!(
            table,
            "  - {{id: d-{i}, when: {{depth: '[{i} mm..{} mm)'}}, push: {{air: {}}}, because: B., source: S, provenance: practice}}",
            i + 1,
            f64::from(i) / 10.0
        )
        .unwrap();
    }
    let mut problems = Problems::default();
    load_texts(
        [("facts.yaml", facts), ("cause.yaml", &table)],
        &mut problems,
    )
    .unwrap_or_else(|| panic!("{}", problems.render(false)))
}

/// What the first table says of everyone for the first defect, and who may lead.
fn ranked(pack: &Pack, board: &mut Board) -> (Vec<Scored>, Bits) {
    let mut trail = Trail::default();
    run(pack, board, &mut trail);
    let visit = (trail.visits().iter())
        .find(|v| v.thing as usize == ONE)
        .unwrap();
    let lead = board.get(pack, ONE, fact(pack, "cause"));
    (trail.scored(visit).to_vec(), lead)
}

fn near(range: Interval, (lo, hi): (f64, f64)) -> bool {
    let same = |x: f64, y: f64| x == y || (x - y).abs() < 1e-9;
    same(range.lo, lo) && same(range.hi, hi)
}

/// By hand: of the depths each row counts on its own, so that all pushes of `air` add up to
/// 0.1 + 0.2 + … + 7.0 = 248.5.
#[test]
fn too_many_sums_give_ranges_that_hold_every_score() {
    let pack = loose();
    let mut board = Board::new(&pack, things());
    say(&pack, &mut board, ONE, "wet", &["yes"]);
    say(&pack, &mut board, ONE, "old", &["yes"]);
    let (scored, lead) = ranked(&pack, &mut board);
    let out = f64::NEG_INFINITY;
    let (no, maybe, yes) = (0, 1, 2);
    // Score, prior, least and greatest standing.
    let expected = [
        // 0.3 for the age, 0 to 248.5 for the depth, -2 or nothing before.
        ((-1.7, 248.8), (-2.0, 0.0), (no, yes)),
        // -1 before, 0.5 always, -0.25 perhaps, 2 perhaps.
        ((-0.75, 1.5), (-1.0, -1.0), (no, yes)),
        // Ruled out beyond 60 mm.
        ((out, 0.0), (0.0, 0.0), (no, maybe)),
        ((-90.0, -90.0), (-90.0, -90.0), (no, no)),
        ((1.0, 1.0), (0.0, 0.0), (maybe, maybe)),
        ((0.0, 1.0), (0.0, 0.0), (maybe, maybe)),
        ((1.0, 1.0), (0.0, 0.0), (maybe, maybe)),
    ];
    assert_eq!(scored.len(), expected.len());
    for (s, (score, prior, standing)) in scored.iter().zip(expected) {
        assert!(near(s.score, score), "{s:?}");
        assert!(near(s.prior, prior), "{s:?}");
        let standing = Bits::first(standing.1 + 1).less(Bits::first(standing.0));
        assert_eq!(s.standing, standing, "{s:?}");
        assert!(!s.out, "{s:?}");
    }
    // `wear` is behind `heat` by 1 at best. `load` and `rust` come up to `heat` at best, and a tie
    // goes to the earlier; `heat` and `rust` are always level, so `heat` may lead.
    assert_eq!(lead, words(&pack, "cause", &["air", "salt", "heat"]));
    let may: Vec<bool> = scored.iter().map(|s| s.may_lead).collect();
    assert_eq!(may, [true, true, false, false, true, false, false]);
}

#[test]
fn what_is_ruled_out_in_a_group_of_too_many_sums_is_out() {
    let pack = loose();
    let mut board = Board::new(&pack, things());
    let deep = Value::Number(Interval { lo: 60.0, hi: 80.0 });
    board.set(&pack, ONE, fact(&pack, "depth"), deep);
    let (scored, lead) = ranked(&pack, &mut board);
    assert!(scored[2].out && !scored[2].may_lead, "{:?}", scored[2]);
    assert!(!lead.meets(words(&pack, "cause", &["wear"])));
}

/// A pack of an evidence table with these rows over three flags.
fn weighed(causes: &str, rows: &[&str]) -> Pack {
    let mut facts = format!(
        "
facts:
  p: {{scope: defect, name: p, kind: flag, ask: P?, minutes: 1, comes: asked}}
  q: {{scope: defect, name: q, kind: flag, ask: Q?, minutes: 1, comes: asked}}
  three: {{scope: defect, name: three, kind: choice, values: [one, two, last], ask: Which?, minutes: 1, comes: asked}}
  x: {{scope: defect, name: x, kind: length, range: 0 mm to 50 mm, ask: X?, minutes: 1, comes: asked}}
  y: {{scope: defect, name: y, kind: length, range: 0 mm to 50 mm, ask: Y?, minutes: 1, comes: asked}}
  word: {{scope: defect, name: word, kind: choice, values: [{}], ask: Which?, minutes: 1, comes: asked}}
  cause: {{scope: defect, name: cause, kind: choice, values: [{causes}], comes: made, read_by: [assessment]}}
causes:
",
        (0..80).map(|i| format!("w{i}")).collect::<Vec<_>>().join(", ")
    );
    for cause in causes.split(", ") {
        writeln!(
            facts,
            "  {cause}: {{name: {cause}, plain: P., at_work: A., stops_by: S.}}"
        )
        .unwrap();
    }
    let mut table = format!(
        "
table: cause
title: Cause
kind: evidence
scope: defect
question: What did it?
gives: cause
likely: 1.5
possible: 0
causes: [{causes}]
rows:
"
    );
    for (i, row) in rows.iter().enumerate() {
        writeln!(
            table,
            "  - {{id: r-{i}, {row}, because: B., source: S, provenance: practice}}"
        )
        .unwrap();
    }
    let mut problems = Problems::default();
    load_texts(
        [("facts.yaml", &*facts), ("cause.yaml", &table)],
        &mut problems,
    )
    .unwrap_or_else(|| panic!("{}", problems.render(false)))
}

#[test]
fn every_pairing_of_two_open_groups_is_tried() {
    // a: 0, or 2 with p. b: 1, or 3 with q. c: -1, or 4 with q. Neither: b leads; p alone: a; q, with or
    // without p: c.
    let pack = weighed(
        "a, b, c",
        &[
            "when: {p: yes}, push: {a: 2}",
            "when: {q: yes}, push: {b: 2, c: 5}",
            "push: {b: 1, c: -1}",
        ],
    );
    let mut board = Board::new(&pack, things());
    let (_, lead) = ranked(&pack, &mut board);
    assert_eq!(lead, words(&pack, "cause", &["a", "b", "c"]));
}

#[test]
fn every_pair_of_values_of_one_row_is_tried() {
    let pack = weighed(
        "a, b, c",
        &[
            "when: {p: yes, q: no}, push: {a: 5}",
            "when: {p: no, q: yes}, push: {b: 5}",
            "push: {c: 1}",
        ],
    );
    let mut board = Board::new(&pack, things());
    let (_, lead) = ranked(&pack, &mut board);
    assert_eq!(lead, words(&pack, "cause", &["a", "b", "c"]));
}

#[test]
fn of_two_that_are_level_the_first_leads() {
    // With p a and b have 1; without it b has 1, which is more than a, and c 2.
    let pack = weighed(
        "a, b, c",
        &[
            "when: {p: yes}, push: {a: 1, b: 1}",
            "when: {p: no}, push: {b: 1, c: 2}",
        ],
    );
    let mut board = Board::new(&pack, things());
    let (_, lead) = ranked(&pack, &mut board);
    assert_eq!(lead, words(&pack, "cause", &["a", "c"]));
}

#[test]
fn who_is_beaten_in_every_sum_does_not_lead_however_many_sums_there_are() {
    // Three groups of 41 sums, 68 921 together. Whatever fires gives b 1 more than a, and without any of
    // it b has 0.5 more; by the greatest of a (12) and the least of b (0.5) alone a could lead.
    let mut rows: Vec<String> = (1..=40)
        .flat_map(|i| {
            let push = f64::from(i) / 10.0;
            [
                format!("x: '[{i} mm..{} mm)'", i + 1),
                format!("y: '[{i} mm..{} mm)'", i + 1),
                format!("word: w{i}"),
            ]
            .map(|when| format!("when: {{{when}}}, push: {{a: {push}, b: {}}}", push + 1.0))
        })
        .collect();
    rows.push("push: {b: 0.5}".into());
    let rows: Vec<&str> = rows.iter().map(String::as_str).collect();
    let pack = weighed("a, b", &rows);
    let mut board = Board::new(&pack, things());
    let (scored, lead) = ranked(&pack, &mut board);
    assert!(near(scored[0].score, (0.0, 12.0)), "{scored:?}");
    assert_eq!(lead, words(&pack, "cause", &["b"]));
}

#[test]
fn who_is_beaten_by_one_or_another_every_time_does_not_lead() {
    // a has 5 always. One: b 4, c 6. Else: b 6, c 4. All three are likely.
    let pack = weighed(
        "a, b, c",
        &[
            "push: {a: 5, b: 4, c: 4}",
            "when: {p: yes}, push: {c: 2}",
            "when: {p: no}, push: {b: 2}",
        ],
    );
    let mut board = Board::new(&pack, things());
    let (scored, lead) = ranked(&pack, &mut board);
    assert_eq!(lead, words(&pack, "cause", &["b", "c"]));
    assert!(scored.iter().all(|s| s.standing == Bits::one(2)));
}

#[test]
fn a_standing_between_two_sums_is_not_said() {
    // -5 or 5: unlikely or likely, never merely possible.
    let pack = weighed(
        "a",
        &[
            "when: {p: yes}, push: {a: 5}",
            "when: {p: no}, push: {a: -5}",
        ],
    );
    let mut board = Board::new(&pack, things());
    let (scored, _) = ranked(&pack, &mut board);
    assert_eq!(scored[0].standing, Bits::one(0).or(Bits::one(2)));
    assert!(near(scored[0].score, (-5.0, 5.0)));
}

#[test]
fn sums_are_listed_one_by_one_while_there_are_few() {
    // Two groups of 41 sums each: of the rows of a depth one fires, so that no more than 4 is added.
    let rows: Vec<String> = (1..=40)
        .flat_map(|i| {
            ["x", "y"].map(|f| {
                format!(
                    "when: {{{f}: '[{i} mm..{} mm)'}}, push: {{a: {}}}",
                    i + 1,
                    f64::from(i) / 10.0
                )
            })
        })
        .collect();
    let rows: Vec<&str> = rows.iter().map(String::as_str).collect();
    let pack = weighed("a, b", &rows);
    let mut board = Board::new(&pack, things());
    let (scored, _) = ranked(&pack, &mut board);
    assert!(near(scored[0].score, (0.0, 8.0)), "{scored:?}");
}

#[test]
fn words_that_push_differently_are_told_apart_in_a_long_table() {
    // 80 words, a row each, so two words of the index: w0 pushes 0.1, w1 0.2 and so on.
    let rows: Vec<String> = (0..80)
        .map(|i| {
            format!(
                "when: {{word: w{i}}}, push: {{a: {}}}",
                f64::from(i + 1) / 10.0
            )
        })
        .collect();
    let rows: Vec<&str> = rows.iter().map(String::as_str).collect();
    let pack = weighed("a", &rows);
    for (pair, range) in [
        (["w0", "w1"], (0.1, 0.2)),
        (["w2", "w3"], (0.3, 0.4)),
        (["w70", "w71"], (7.1, 7.2)),
    ] {
        let mut board = Board::new(&pack, things());
        say(&pack, &mut board, ONE, "word", &pair);
        let (scored, _) = ranked(&pack, &mut board);
        assert!(near(scored[0].score, range), "{scored:?}");
    }
}

#[test]
fn a_score_stands_in_every_class_it_may_reach() {
    let pack = weighed("a", &["push: {a: 1}"]);
    let Body::Rank(rank) = &pack.tables[0].body else {
        panic!("a ranking")
    };
    // Likely from 1.5, possible from 0; both ends belong.
    for (lo, hi, classes) in [
        (-1.0, -0.5, 0..1),
        (-1.0, 0.0, 0..2),
        (0.0, 1.4, 1..2),
        (0.0, 1.5, 1..3),
        (1.5, 9.0, 2..3),
        (-9.0, 9.0, 0..3),
    ] {
        let expected = Bits::first(classes.end).less(Bits::first(classes.start));
        assert_eq!(
            standing_of(rank, Interval { lo, hi }),
            expected,
            "{lo} {hi}"
        );
    }
}

#[test]
fn problems_of_other_files_do_not_keep_a_pack_from_loading() {
    let mut problems = Problems::default();
    problems.push(Problem::error("other", "something else is wrong"));
    let files = [
        ("facts.yaml", WET),
        ("bad.yaml", BAD),
        ("verdict.yaml", VERDICT),
    ];
    assert!(load_texts(files, &mut problems).is_some());
    // An error of its own does.
    let files = [("facts.yaml", WET), ("verdict.yaml", "table: verdict\n")];
    assert!(load_texts(files, &mut problems).is_none());
}

#[test]
fn a_table_of_more_than_20_000_rows_is_refused() {
    for (rows, refused) in [(20_000, false), (20_001, true)] {
        let mut table = "table: long\nrows:\n".to_owned();
        for i in 0..rows {
            writeln!(table, "  - {{id: r{i}}}").unwrap();
        }
        let mut problems = Problems::default();
        load_texts([("long.yaml", &*table)], &mut problems);
        let said = problems.iter().any(|p| p.code == "too-many-rows");
        assert_eq!(said, refused, "{rows} rows");
    }
}

/// A first table of an area.
fn first(gives: &str, rows: &[&str]) -> String {
    table(gives, "area", FIRST, rows)
}

#[test]
fn of_questions_that_settle_nothing_alone_the_one_that_helps_most_for_its_work_comes_first() {
    // The target is whether an odd number of four flags is set, each by a table of its own: no flag
    // settles anything, each settles its own table. Four tables and the target are open, a bit each, so
    // that each flag helps by a fifth.
    let mut facts =
        "facts:\n  odd: {scope: area, name: odd, kind: flag, comes: made, read_by: [assessment]}\n"
            .to_owned();
    // Work with a day counted as 3 minutes: 12; 4 + 2 * 3 = 10; 5; 8.
    for (name, minutes, wait) in [("p", 12, 0), ("q", 4, 2), ("r", 5, 0), ("s", 8, 0)] {
        writeln!(
            facts,
            "  {name}: {{scope: area, name: {name}, kind: flag, ask: Q?, minutes: {minutes}, wait: {wait} days, comes: asked}}\n  \
             of_{name}: {{scope: area, name: of {name}, kind: flag, comes: made}}"
        )
        .unwrap();
    }
    let mut tables: Vec<String> = ["p", "q", "r", "s"]
        .map(|f| {
            let when = format!("when: {{{f}: yes}}, then: yes");
            first(&format!("of_{f}"), &[&when, "then: no"])
        })
        .to_vec();
    let odd: Vec<String> = (0..16u32)
        .filter(|n| n.count_ones() % 2 == 1)
        .map(|n| {
            let bit = |i: u32| if n >> i & 1 == 1 { "yes" } else { "no" };
            format!(
                "when: {{of_p: {}, of_q: {}, of_r: {}, of_s: {}}}, then: yes",
                bit(0),
                bit(1),
                bit(2),
                bit(3)
            )
        })
        .collect();
    let mut rows: Vec<&str> = odd.iter().map(String::as_str).collect();
    rows.push("then: no");
    tables.push(first("odd", &rows));
    let pack = plain(
        &facts,
        &tables.iter().map(String::as_str).collect::<Vec<_>>(),
    );
    let board = Board::new(&pack, things());
    let targets = [spot(&pack, AREA, "odd")];
    let mut asking = Asking::new(&pack, &targets);
    asking.day_of_waiting = 3.0;
    let questions = ask(&pack, &board, &asking);
    let order: Vec<&str> = questions.iter().map(|q| q.fact.as_str()).collect();
    assert_eq!(order, ["r", "s", "q", "p"]);
    for q in &questions {
        assert!(
            q.settles.abs() < 1e-12 && (q.helps - 0.2).abs() < 1e-12,
            "{q:?}"
        );
    }
}

const SEVERAL: &str = "
facts:
  kind: {scope: area, name: kind, kind: choice, values: [scaling, crack], ask: Q?, minutes: 1, comes: asked}
  seen: {scope: area, name: seen, kind: flag, ask: Q?, minutes: 1, comes: asked}
  loss: {scope: area, name: loss, kind: flag, ask: Q?, minutes: 1, kinds: [scaling], comes: asked}
  told: {scope: area, name: told, kind: flag, comes: survey}
  verdict: {scope: area, name: verdict, kind: flag, comes: made, read_by: [assessment]}
";

#[test]
fn only_what_may_be_asked_and_concerns_the_thing_is_asked() {
    let verdict = first(
        "verdict",
        &[
            "when: {seen: yes}, then: yes",
            "when: {loss: yes}, then: yes",
            "when: {told: yes}, then: yes",
            "then: no",
        ],
    );
    let pack = plain(SEVERAL, &[&verdict]);
    let mut board = Board::new(&pack, things());
    say(&pack, &mut board, AREA, "kind", &["scaling"]);
    let targets = [spot(&pack, AREA, "verdict")];
    let names = |board: &Board, may_ask: &dyn Fn(Spot) -> bool| -> Vec<String> {
        let mut asking = Asking::new(&pack, &targets);
        asking.may_ask = may_ask;
        let questions = ask(&pack, board, &asking);
        let mut names: Vec<String> = questions.into_iter().map(|q| q.fact).collect();
        names.sort();
        names
    };
    // `told` has no question: the survey works it out.
    assert_eq!(names(&board, &|_| true), ["loss", "seen"]);
    let loss = fact(&pack, "loss");
    assert_eq!(names(&board, &|s| s.fact == loss), ["loss"]);
    // A crack has no loss that could be measured.
    say(&pack, &mut board, AREA, "kind", &["crack"]);
    assert_eq!(names(&board, &|_| true), ["seen"]);
}

#[test]
fn things_that_are_alike_share_a_question_under_their_own_names() {
    let pack = sizes("{largest: '>= large'}");
    let mut things = things();
    things[ONE].label = "one".to_owned();
    things[OTHER].label = "other".to_owned();
    let board = Board::new(&pack, things);
    let targets = [spot(&pack, AREA, "extent")];
    let mut asking = Asking::new(&pack, &targets);
    asking.like = &|thing| if thing == OTHER { ONE } else { thing };
    let questions = ask(&pack, &board, &asking);
    let mut about: Vec<(usize, &str)> = (questions.iter())
        .map(|q| (q.spot.thing, q.about.as_str()))
        .collect();
    about.sort_unstable();
    assert_eq!(about, [(ONE, "one"), (OTHER, "other")]);
}

/// A verdict that needs much salt, and evidence tables of the causes a and b that read salt.
fn salted(rows: &[&[&str]]) -> Pack {
    let mut facts = "
facts:
  salt: {scope: area, name: salt, kind: choice, values: [none, some, much], ask: Q?, minutes: 1, comes: asked}
  cold: {scope: area, name: cold, kind: flag, ask: Q?, minutes: 1, comes: asked}
  verdict: {scope: area, name: verdict, kind: flag, comes: made, read_by: [assessment]}
"
    .to_owned();
    let mut tables = vec![first(
        "verdict",
        &["when: {salt: much}, then: yes", "then: no"],
    )];
    for (n, rows) in rows.iter().enumerate() {
        writeln!(
            facts,
            "  cause{n}: {{scope: area, name: cause, kind: choice, values: [a, b, none], comes: made, read_by: [assessment]}}"
        )
        .unwrap();
        let mut table = format!(
            "table: cause{n}\ntitle: T\nkind: evidence\nscope: area\nquestion: Q?\ngives: cause{n}\ncauses: [a, b]\nrows:\n"
        );
        for (i, row) in rows.iter().enumerate() {
            writeln!(
                table,
                "  - {{id: r{n}-{i}, {row}, because: B., source: S, provenance: practice}}"
            )
            .unwrap();
        }
        tables.push(table);
    }
    facts += "
causes:
  a: {name: a, plain: P., at_work: A., stops_by: S.}
  b: {name: b, plain: P., at_work: A., stops_by: S.}
";
    plain(
        &facts,
        &tables.iter().map(String::as_str).collect::<Vec<_>>(),
    )
}

/// How likely much salt is, where evidence says so.
fn likely_much(rows: &[&[&str]]) -> Option<f64> {
    let pack = salted(rows);
    let board = Board::new(&pack, things());
    let targets = [spot(&pack, AREA, "verdict")];
    let questions = ask(&pack, &board, &Asking::new(&pack, &targets));
    let q = questions.iter().find(|q| q.fact == "salt").unwrap();
    // None and some are one answer, much the other.
    assert_eq!(q.answers.len(), 2);
    let all: f64 = q.answers.iter().map(|a| a.likely).sum();
    assert!((all - 1.0).abs() < 1e-12, "{q:?}");
    q.weighed.then_some(q.answers[1].likely)
}

/// The expected shares by hand, from the words at `likelihood`.
#[test]
fn an_answer_is_as_likely_as_causes_and_pushes_make_it() {
    let e = std::f64::consts::E;
    let close = |rows: &[&[&str]], expected: f64| {
        let found = likely_much(rows).unwrap();
        assert!(
            (found - expected).abs() < 1e-12,
            "{found} {expected} {rows:?}"
        );
    };
    // With a, some salt is as e and no salt as 1, together (1 + e) / 2; much as e^2. b says nothing of
    // salt: one half. Both causes stand alike.
    let much_with_a = e * e / (e * e + f64::midpoint(1.0, e));
    let a = [
        "when: {salt: some}, push: {a: 1}",
        "when: {salt: much}, push: {a: 2}",
    ];
    close(&[&a], f64::midpoint(much_with_a, 0.5));
    // A sign that holds for certain moves the share of a to e / (e + 1).
    let share = e / (e + 1.0);
    let sure = [a[0], a[1], "push: {a: 1}"];
    close(&[&sure], share * much_with_a + (1.0 - share) * 0.5);
    // A row that needs something not known brings nothing.
    let perhaps = [a[0], a[1], "when: {salt: none, cold: yes}, push: {a: 9}"];
    close(&[&perhaps], f64::midpoint(much_with_a, 0.5));
    // Two tables: the mean of both. In the other salt speaks for b alone: much as e^3 to 1.
    let b = ["when: {salt: much}, push: {b: 3}"];
    let much_with_b = e.powi(3) / (e.powi(3) + 1.0);
    close(
        &[&a, &b],
        f64::midpoint(
            f64::midpoint(much_with_a, 0.5),
            f64::midpoint(much_with_b, 0.5),
        ),
    );
    // Much salt rules a out, so with a it never comes.
    let out = ["when: {salt: much}, rules_out: [a]"];
    close(&[&out], 0.25);
    // A cause that no salt leaves standing has no say: b alone counts.
    let never = [
        "when: {salt: [none, some]}, rules_out: [a]",
        "when: {salt: much}, rules_out: [a]",
        "when: {salt: much}, push: {b: 3}",
    ];
    close(&[&never], much_with_b);
    // Nobody left who could say anything.
    let nobody = [
        "when: {salt: [none, some]}, rules_out: [a, b]",
        "when: {salt: much}, rules_out: [a, b]",
    ];
    assert_eq!(likely_much(&[&nobody]), None);
}

#[test]
fn a_fact_that_comes_by_two_ways_and_changes_nothing_is_not_needed() {
    // Two tables turn p one way and the other, so one of them is yes, whatever p is.
    let facts = "
facts:
  p: {scope: area, name: p, kind: flag, ask: Q?, minutes: 1, comes: asked}
  is: {scope: area, name: is, kind: flag, comes: made}
  isnt: {scope: area, name: is not, kind: flag, comes: made}
  verdict: {scope: area, name: verdict, kind: flag, comes: made, read_by: [assessment]}
";
    let pack = plain(
        facts,
        &[
            &first("is", &["when: {p: yes}, then: yes", "then: no"]),
            &first("isnt", &["when: {p: no}, then: yes", "then: no"]),
            &first(
                "verdict",
                &[
                    "when: {is: yes}, then: yes",
                    "when: {isnt: yes}, then: yes",
                    "then: no",
                ],
            ),
        ],
    );
    let mut board = Board::new(&pack, things());
    say(&pack, &mut board, AREA, "p", &["no"]);
    let told = why(&pack, &board, spot(&pack, AREA, "verdict"), System::Metric);
    let Source::Made(made) = &told.source else {
        panic!("{told:?}")
    };
    assert_eq!(made.rows[0].row, "verdict-1");
    let Source::Made(isnt) = &made.rows[0].reads[0].source else {
        panic!("{made:?}")
    };
    assert!(!isnt.rows[0].reads[0].needed, "{isnt:?}");
}

#[test]
fn what_has_been_told_is_not_told_again() {
    let facts = "
facts:
  p: {scope: area, name: p, kind: flag, ask: Q?, minutes: 1, comes: asked}
  is: {scope: area, name: is, kind: flag, comes: made}
  verdict: {scope: area, name: verdict, kind: flag, comes: made, read_by: [assessment]}
";
    let pack = plain(
        facts,
        &[
            &first("is", &["when: {p: yes}, then: yes", "then: no"]),
            &first(
                "verdict",
                &[
                    "when: {is: no, p: no}, then: no",
                    "when: {is: yes, p: yes}, then: yes",
                    "then: no",
                ],
            ),
        ],
    );
    let mut board = Board::new(&pack, things());
    say(&pack, &mut board, AREA, "p", &["yes"]);
    let told = why(&pack, &board, spot(&pack, AREA, "verdict"), System::Metric);
    let Source::Made(made) = &told.source else {
        panic!("{told:?}")
    };
    // First where the row that fired reads it, then as what stopped the row before.
    assert!(matches!(made.rows[0].reads[0].source, Source::Made(_)));
    assert!(matches!(made.blocked[0].by.source, Source::Shown));
}

#[test]
fn standings_go_by_the_middle_of_the_score_and_what_may_be_out_comes_last() {
    let pack = weighed(
        "a, b, c, d",
        &[
            // a -1 to 3, middle 1. b 1.5. c 9 or out. d out.
            "when: {p: yes}, push: {a: 4}",
            "push: {a: -1, b: 1.5, c: 9}",
            "when: {q: yes}, rules_out: [c]",
            "rules_out: [d]",
        ],
    );
    let board = Board::new(&pack, things());
    let told = why(&pack, &board, spot(&pack, ONE, "cause"), System::Metric);
    let Source::Made(made) = &told.source else {
        panic!("{told:?}")
    };
    let order: Vec<&str> = made.standings.iter().map(|s| s.id.as_str()).collect();
    assert_eq!(order, ["b", "a", "c", "d"]);
    // a -1 to 3, middle 1; b 0.55, which is less, though the ends of a multiplied are below nothing.
    let pack = weighed(
        "b, a",
        &["when: {p: yes}, push: {a: 4}", "push: {a: -1, b: 0.55}"],
    );
    let board = Board::new(&pack, things());
    let told = why(&pack, &board, spot(&pack, ONE, "cause"), System::Metric);
    let Source::Made(made) = &told.source else {
        panic!("{told:?}")
    };
    let order: Vec<&str> = made.standings.iter().map(|s| s.id.as_str()).collect();
    assert_eq!(order, ["a", "b"]);
}

#[test]
fn stretches_of_a_number_are_said_as_people_say_them() {
    let facts = "
facts:
  x: {scope: area, name: x, kind: length, range: 0 mm to 50 mm, ask: Q?, minutes: 1, comes: asked}
  t: {scope: area, name: t, kind: temperature, range: -30 °C to 50 °C, ask: Q?, minutes: 1, comes: asked}
  verdict: {scope: area, name: verdict, kind: flag, comes: made, read_by: [assessment]}
";
    let rows = |when: &[&str]| -> Vec<String> {
        when.iter()
            .map(|w| format!("when: {{{w}}}, then: yes"))
            .collect()
    };
    let rows = rows(&[
        "x: '<= 0 mm'",
        "x: '[5 mm..7 mm]'",
        "x: 9 mm",
        "x: '(12 mm..14 mm)'",
        "t: '<= 0 °C'",
        "t: '< 5 °C'",
    ]);
    let rows: Vec<&str> = rows.iter().map(String::as_str).collect();
    let pack = plain(facts, &[&first("verdict", &rows)]);
    let said = |name: &str, lo: f64, hi: f64| -> (String, String) {
        let id = fact(&pack, name);
        let cells = pack.cells[usize::from(id.0)].of_interval(Interval { lo, hi });
        let words = pack.words(id, cells, System::Metric);
        let [word] = &words[..] else {
            panic!("{words:?}")
        };
        (word.word.clone(), word.name.clone())
    };
    let is = |found: (String, String), word: &str, name: &str| {
        assert_eq!((found.0.as_str(), found.1.as_str()), (word, name));
    };
    // A length starts at nothing, so no more than nothing is nothing; a temperature does not.
    is(said("x", 0.0, 0.0), "<= 0 mm", "0 mm");
    is(said("t", -30.0, 0.0), "<= 0 C", "0 °C or less");
    is(said("t", -30.0, 4.0), "< 5 C", "less than 5 °C");
    is(said("x", 0.0, 7.0), "<= 7 mm", "7 mm or less");
    is(said("x", 5.0, 7.0), "[5 mm..7 mm]", "5 mm to 7 mm");
    is(said("x", 9.0, 9.0), "9 mm", "9 mm");
    is(
        said("x", 13.0, 13.0),
        "(12 mm..14 mm)",
        "between 12 mm and 14 mm",
    );
    is(said("x", 9.0, 10.0), "[9 mm..12 mm]", "9 mm to 12 mm");
    is(said("x", 14.0, 50.0), ">= 14 mm", "14 mm or more");
    is(said("x", 7.5, 8.0), "(7 mm..9 mm)", "between 7 mm and 9 mm");
    is(said("x", 7.5, 50.0), "> 7 mm", "more than 7 mm");
    is(said("x", 0.0, 50.0), "-", "anything");
}

#[test]
fn the_cautions_of_a_fact_are_its_own_and_those_of_the_rows_it_names() {
    let facts = "
facts:
  core: {scope: area, name: core, kind: flag, ask: Q?, minutes: 1, comes: asked, caution: Mind the drill., cautions: [dust]}
";
    let cautions = "
table: cautions
title: T
kind: grade
scope: area
question: Q?
hit: collect
rows:
  - {id: noise, when: {core: yes}, because: It is loud., source: S, provenance: practice}
  - {id: dust, when: {core: yes}, because: It makes dust., source: S, provenance: practice}
";
    let pack = plain(facts, &[cautions]);
    let core = pack.vocabulary.fact(fact(&pack, "core"));
    assert_eq!(pack.cautions(core), ["Mind the drill.", "It makes dust."]);
}

#[test]
fn of_a_first_table_of_many_rows_every_row_that_may_be_the_first_counts() {
    let values = (0..70).map(|i| format!("w{i}")).collect::<Vec<_>>();
    let facts = format!(
        "
facts:
  word: {{scope: area, name: word, kind: choice, values: [{}], ask: Which?, minutes: 1, comes: asked}}
  even: {{scope: area, name: even, kind: flag, comes: made, read_by: [assessment]}}
",
        values.join(", ")
    );
    let rows: Vec<String> = (0..70)
        .map(|i| {
            let then = if i % 2 == 0 { "yes" } else { "no" };
            format!("when: {{word: w{i}}}, then: {then}")
        })
        .collect();
    let rows: Vec<&str> = rows.iter().map(String::as_str).collect();
    let pack = plain(&facts, &[&first("even", &rows)]);
    // The same of a table that fits one word of the index.
    let few = plain(&facts, &[&first("even", &rows[..4])]);
    let mut board = Board::new(&few, things());
    say(&few, &mut board, AREA, "word", &["w2"]);
    let certain = fired(&few, &mut board, AREA).0;
    assert_eq!(certain, ["even-2"]);
    for (known, even) in [
        (&["w3"][..], &["no"][..]),
        (&["w66"], &["yes"]),
        (&["w65", "w67"], &["no"]),
        (&["w66", "w67"], &["no", "yes"]),
        (&["w2", "w69"], &["no", "yes"]),
    ] {
        let mut board = Board::new(&pack, things());
        say(&pack, &mut board, AREA, "word", known);
        let (certain, maybe) = fired(&pack, &mut board, AREA);
        let got = board.at(spot(&pack, AREA, "even"));
        assert_eq!(got, words(&pack, "even", even), "{known:?}");
        let rows: Vec<String> = known.iter().map(|w| w.replace('w', "even-")).collect();
        let (one, more) = if known.len() == 1 {
            (rows, vec![])
        } else {
            (vec![], rows)
        };
        assert_eq!((certain, maybe), (one, more));
    }
}

/// A verdict that s never changes, by two tables that turn it one way and the other, beside three
/// flags that do.
fn turned_twice() -> Pack {
    let facts = "
facts:
  s: {scope: area, name: s, kind: flag, ask: Q?, minutes: 1, comes: asked}
  u: {scope: area, name: u, kind: flag, ask: Q?, minutes: 1, comes: asked}
  v: {scope: area, name: v, kind: flag, ask: Q?, minutes: 1, comes: asked}
  is: {scope: area, name: is, kind: flag, comes: made}
  isnt: {scope: area, name: is not, kind: flag, comes: made}
  verdict: {scope: area, name: verdict, kind: choice, values: [one, two, three, last], comes: made, read_by: [assessment]}
";
    plain(
        facts,
        &[
            &first("is", &["when: {s: yes}, then: yes", "then: no"]),
            &first("isnt", &["when: {s: no}, then: yes", "then: no"]),
            &first(
                "verdict",
                &[
                    "when: {u: yes}, then: one",
                    "when: {v: yes}, then: two",
                    "when: {is: yes}, then: three",
                    "when: {isnt: yes}, then: three",
                    "then: last",
                ],
            ),
        ],
    )
}

#[test]
fn a_question_is_left_out_only_where_enough_runs_showed_that_it_changes_nothing() {
    let pack = turned_twice();
    let board = Board::new(&pack, things());
    let targets = [spot(&pack, AREA, "verdict")];
    let facts = |runs: usize| {
        let mut asking = Asking::new(&pack, &targets);
        asking.runs = runs;
        let mut facts: Vec<String> = ask(&pack, &board, &asking)
            .into_iter()
            .map(|q| q.fact)
            .collect();
        facts.sort();
        facts
    };
    assert_eq!(facts(100), ["u", "v"]);
    // The whole of it is open; a part of it needs another run.
    assert_eq!(facts(1), ["s", "u", "v"]);
    assert_eq!(facts(0), ["s", "u", "v"]);
}

#[test]
fn the_line_for_the_crew_shows_lengths_as_a_rule_does() {
    let facts = "
facts:
  wet: {scope: defect, name: wet, kind: flag, ask: Q?, minutes: 1, comes: asked}
";
    let step = "
table: steps
title: steps
kind: grade
scope: defect
question: What is done?
hit: collect
rows:
  - id: step-cut
    because: Cut it.
    crew: Cut {saw} deep, {bay} long, {lift} a lift, at {warm} and {word}; the other {gap}.
    source: S
    provenance: practice
    set: {stage: patch, saw: 1-1/2 in, bay: 2-1/2 in, lift: 3/8 in to 2 in, warm: 50 F, word: slowly, gap: 50.6 mm}
";
    // Whole millimetres to 50 mm, 5 mm beyond: 38.1, 63.5, 9.525 to 50.8 and 50.6 mm; a temperature as
    // it is.
    let step = step.replace(" and {word}", "");
    let pack = plain(facts, &[&step]);
    let row = &pack.tables[0].rows[0];
    let line = |units| row.crew_line(&pack.vocabulary, units).unwrap();
    assert_eq!(
        line(System::Metric),
        "Cut 38 mm deep, 65 mm long, 10 to 50 mm a lift, at 10 °C; the other 50 mm."
    );
    assert_eq!(
        line(System::Us),
        "Cut 1-1/2 in deep, 2-1/2 in long, 3/8 to 2 in a lift, at 50 °F; the other 2 in."
    );
}

#[test]
fn the_line_for_the_crew_has_120_letters_at_most_beside_its_figures() {
    let with = |letters: usize| {
        let line = format!("{}{{lift}}", "a".repeat(letters));
        let table = format!(
            "table: steps\ntitle: T\nkind: grade\nscope: area\nquestion: Q?\nhit: collect\nrows:\n  - {{id: s-0, because: B., crew: '{line}', source: S, provenance: practice, set: {{stage: patch, lift: 2 in}}}}\n"
        );
        let facts =
            "facts:\n  p: {scope: area, name: p, kind: flag, ask: Q?, minutes: 1, comes: asked}\n";
        let mut problems = Problems::default();
        load_texts(
            [("facts.yaml", facts), ("steps.yaml", &table)],
            &mut problems,
        );
        let codes: Vec<&str> = problems.iter().map(|p| p.code).collect();
        codes.contains(&"crew-line")
    };
    assert!(!with(120));
    assert!(with(121));
}

#[test]
fn a_safety_row_may_stand_behind_one_that_says_the_same_and_behind_another_safety_row() {
    let facts = "
facts:
  p: {scope: area, name: p, kind: flag, ask: Q?, minutes: 1, comes: asked}
  q: {scope: area, name: q, kind: flag, ask: Q?, minutes: 1, comes: asked}
  verdict: {scope: area, name: verdict, kind: flag, comes: made, read_by: [assessment]}
";
    let outvoted = |before: &str| {
        let table = first(
            "verdict",
            &[
                before,
                "when: {q: yes}, then: yes, safety: true",
                "then: no",
            ],
        );
        let mut problems = Problems::default();
        let files: Vec<PackFile> = [facts, &table]
            .iter()
            .filter_map(|text| {
                PackFile::read(SourceFile::new("pack.yaml", *text), false, &mut problems)
            })
            .collect();
        load_and_check(&files, &mut problems);
        problems.iter().any(|p| p.code == "outvoted")
    };
    assert!(outvoted("when: {p: yes}, then: no"));
    assert!(!outvoted("when: {p: yes}, then: yes"));
    assert!(!outvoted("when: {p: yes}, then: no, safety: true"));
}
