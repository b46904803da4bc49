//! Small packs for single properties of the engine that random packs hardly meet: tables of more rows
//! than one word of the index holds, budgets, things that are told apart by what is known of them.
//! Every expected value follows from the rows as written.

use std::fmt::Write as _;

use ringtrue::facts::{Bits, FactId, Interval, Scope, Value};
use ringtrue::rules::{
    Asking, Board, Pack, PackFile, Spot, Thing, Trail, ask, exact, load_and_check, run,
};
use ringtrue::source::{Problems, SourceFile};
use ringtrue::units::System;

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
    let thing = |scope, outer| Thing {
        scope,
        label: String::new(),
        outer,
        lies_in: Vec::new(),
        may_lie_in: Vec::new(),
    };
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
    let asking = Asking {
        targets,
        day_of_waiting: 0.0,
        system: System::Metric,
        runs: 1000,
        may_ask: &|_| true,
        answer: &|_, spot, cells| vec![(spot, cells)],
        like: &|thing| thing,
    };
    ask(pack, board, &asking)
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

/// Rows that fire of the first table for the first defect, the certain ones and the others.
fn fired(pack: &Pack, board: &mut Board) -> (Vec<String>, Vec<String>) {
    let mut trail = Trail::default();
    run(pack, board, &mut trail);
    let visit = (trail.visits().iter())
        .find(|v| v.thing as usize == ONE)
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
            fired(&pack, &mut board),
            (rows(&[mm], "abdefghij"), vec![]),
            "{mm} mm"
        );
    }
    // Nothing known of the depth, one letter: every row may fire but those that the letter shuts
    // out, and none must.
    let mut board = Board::new(&pack, things());
    say(&pack, &mut board, ONE, "letter", &["j"]);
    let all: Vec<usize> = (0..13).collect();
    assert_eq!(fired(&pack, &mut board), (vec![], rows(&all, "abcdefghi")));
    // One of two letters: of the rows that need another letter those for certain that need neither.
    let mut board = Board::new(&pack, things());
    board.set(&pack, ONE, depth, Value::Number(Interval::exact(7.0)));
    say(&pack, &mut board, ONE, "letter", &["b", "c"]);
    assert_eq!(
        fired(&pack, &mut board),
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
        fired(&pack, &mut board),
        (vec![], rows(&[5, 6], "bcdefghij"))
    );
}

const WET: [&str; 3] = [
    "
facts:
  wet: {scope: defect, name: wet, kind: flag, ask: Is it wet?, minutes: 1, comes: asked}
  deep: {scope: defect, name: deep, kind: flag, ask: Is it deep?, minutes: 1, comes: asked}
  size: {scope: defect, name: size, kind: choice, values: [speck, small, large, huge], ordered: yes, ask: How large?, minutes: 1, comes: asked}
  bad: {scope: defect, name: bad, kind: choice, values: [fine, poor], ordered: yes, comes: made}
  worst: {scope: area, name: worst, values_of: bad, comes: gathered, gathered: {from: bad, by: worst}, none: fine}
  largest: {scope: area, name: largest, values_of: size, comes: gathered, gathered: {from: size, by: worst}, none: speck}
  verdict: {scope: area, name: verdict, kind: choice, values: [leave, mend], comes: made, read_by: [assessment]}
  extent: {scope: area, name: extent, kind: choice, values: [little, much], comes: made, read_by: [assessment]}
",
    "
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
",
    "
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
",
];

const EXTENT: &str = "
table: extent
title: Extent
kind: grade
scope: area
question: How much is it?
hit: first
gives: extent
rows:
  - {id: e-much, when: {largest: '>= large'}, then: much, because: B., source: S, provenance: practice}
  - {id: e-little, then: little, because: B., source: S, provenance: practice}
";

fn wet() -> Pack {
    pack(&[WET[0], WET[1], WET[2], EXTENT])
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
    let pack = wet();
    let board = Board::new(&pack, things());
    // `>= large` parts four sizes in two.
    let target = spot(&pack, AREA, "extent");
    let mut questions = asked(&pack, &board, &[target]);
    questions.sort();
    let size = |thing| (thing, "size".to_owned(), 2);
    assert_eq!(questions, [size(ONE), size(OTHER)]);
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
    say(&pack, &mut board, ONE, "size", &["huge"]);
    say(&pack, &mut board, OTHER, "wet", &["yes"]);
    assert_ne!(board, new);
    board.clear(&pack);
    assert_eq!(board, new);
}
