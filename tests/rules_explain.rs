//! Why, why not, what if and what to ask, on a small pack whose answers are worked out by hand.

use ringtrue::facts::{Bits, Scope, Value};
use ringtrue::rules::{
    Asking, Board, Goal, Memo, Obstacle, Pack, PackFile, RowState, Source, Spot, Thing, Trail, Why,
    ask, ask_first, compare, exact, load_and_check, run, why, why_not,
};
use ringtrue::source::{Problems, SourceFile};
use ringtrue::units::System;

mod small;
mod things;
use small::{FIRST, plain, table};
use things::thing;

const FACTS: &str = "
facts:
  freezes: {scope: site, name: it freezes, kind: flag, ask: Does it freeze?, minutes: 1, comes: asked}
  salt: {scope: site, name: salt is used, kind: flag, ask: Is salt used?, minutes: 3, comes: asked}
  hollow: {scope: area, name: hollow share, kind: share, range: 0 % to 100 %, ask: How much is hollow?, measure: Sound it., minutes: 30, comes: asked}
  air: {scope: area, name: air in the concrete, kind: share, range: 0 % to 10 %, ask: How much air?, measure: Core it., minutes: 20, wait: 30 days, who: laboratory, comes: asked}
  kind: {scope: defect, name: kind, kind: choice, values: [scaling, crack], ask: What is it?, minutes: 1, comes: asked}
  depth: {scope: defect, name: depth of loss, kind: length, range: 0 mm to 100 mm, ask: How deep?, minutes: 5, kinds: [scaling], comes: asked}
  stones: {scope: defect, name: stones, kind: choice, values: [hidden, showing, missing], ordered: yes, ask: Do stones show?, minutes: 1, kinds: [scaling], comes: asked}
  grade: {scope: defect, name: scaling grade, kind: choice, values: [none, light, severe], ordered: yes, comes: made}
  worst: {scope: area, name: worst scaling, values_of: grade, comes: gathered, gathered: {from: grade, by: worst}, none: none}
  attack: {scope: site, name: salt and frost together, kind: flag, comes: made}
  shelter: {scope: site, name: neither salt nor frost, kind: flag, comes: made}
  verdict: {scope: area, name: verdict, kind: choice, values: {leave: leave it alone, seal: clean and seal, overlay: overlay it, replace: replace it}, ordered: yes, comes: made, read_by: [assessment]}
  system: {scope: area, name: overlay system, kind: choice, values: {thin: a thin overlay, thick: a thick overlay, none: none}, comes: made, read_by: [assessment]}
  cause: {scope: area, name: cause, kind: choice, values: [low_air, salt_attack], comes: made}
causes:
  low_air: {name: too little air, plain: P., at_work: in frost, stops_by: drying}
  salt_attack: {name: salt, plain: P., at_work: in frost, stops_by: no salt}
";

const TABLES: [&str; 6] = [
    "
table: grade
title: Scaling
kind: grade
scope: defect
applies: {kind: scaling}
otherwise: none
question: How bad?
hit: first
gives: grade
rows:
  - {id: grade-stones, when: {stones: missing}, then: severe, because: Stones are out., source: S, provenance: practice}
  - {id: grade-deep, when: {depth: '>= 10 mm'}, then: severe, because: Deep., source: S, provenance: practice}
  - {id: grade-some, then: light, because: Shallow., source: S, provenance: practice}
",
    "
table: attack
title: Attack
kind: grade
scope: site
question: Do salt and frost work together?
hit: first
gives: attack
rows:
  - {id: attack-yes, when: {salt: yes, freezes: yes}, then: yes, because: Both., source: S, provenance: practice}
  - {id: attack-no, then: no, because: Not both., source: S, provenance: practice}
",
    "
table: shelter
title: Shelter
kind: grade
scope: site
question: Is there neither?
hit: first
gives: shelter
rows:
  - {id: shelter-yes, when: {salt: no}, then: yes, because: No salt., source: S, provenance: practice}
  - {id: shelter-no, then: no, because: Salt., source: S, provenance: practice}
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
  - {id: v-hollow, when: {hollow: '>= 50 %'}, then: replace, because: Half of it is hollow., source: S, provenance: practice, safety: true}
  - {id: v-severe, when: {worst: severe}, then: overlay, because: Deep loss., source: S, provenance: practice}
  - {id: v-attack, when: {attack: yes}, then: seal, because: It goes on., source: S, provenance: practice}
  - {id: v-shelter, when: {shelter: yes}, then: leave, because: It has stopped., source: S, provenance: practice}
  - {id: v-rest, then: leave, because: No frost., source: S, provenance: practice}
",
    "
table: system
title: System
kind: choice
scope: area
question: Which overlay?
gives: system
candidates:
  thin: {name: a thin overlay}
  thick: {name: a thick overlay}
rows:
  - {id: thin-deep, candidate: thin, when: {worst: severe}, rules_out: true, because: Too deep for it., source: S, provenance: practice, safety: true}
  - {id: thin-liked, candidate: thin, when: {hollow: '< 10 %'}, prefers: 2, because: Cheap., source: S, provenance: practice}
  - {id: thick-hollow, candidate: thick, when: {hollow: '>= 30 %'}, rules_out: true, because: Nothing to stand on., source: S, provenance: practice}
",
    "
table: causes
title: Causes
kind: evidence
scope: area
question: What did it?
gives: cause
causes: [low_air, salt_attack]
rows:
  - {id: c-air, when: {air: '< 4 %'}, push: {low_air: 2}, because: Little air., source: S, provenance: practice}
  - {id: c-air-good, when: {air: '>= 4 %'}, push: {low_air: -2}, because: Enough air., source: S, provenance: practice}
  - {id: c-salt, when: {salt: yes}, push: {salt_attack: 1}, because: Salt., source: S, provenance: practice}
  - {id: c-salt-none, when: {salt: no}, push: {salt_attack: -1}, because: No salt., source: S, provenance: practice}
",
];

const SITE: usize = 0;
const AREA: usize = 2;
const DEFECT: usize = 3;
const OTHER: usize = 4;

struct Case {
    pack: Pack,
    board: Board,
}

impl Case {
    fn new() -> Case {
        let mut problems = Problems::default();
        let files: Vec<PackFile> = std::iter::once(FACTS)
            .chain(TABLES)
            .enumerate()
            .filter_map(|(i, text)| {
                PackFile::read(
                    SourceFile::new(format!("{i}.yaml"), text),
                    false,
                    &mut problems,
                )
            })
            .collect();
        let pack = load_and_check(&files, &mut problems)
            .unwrap_or_else(|| panic!("{}", problems.render(false)));
        let thing = |scope, label: &str, outer| Thing {
            scope,
            label: label.to_owned(),
            outer,
            lies_in: Vec::new(),
            may_lie_in: Vec::new(),
        };
        let things = vec![
            thing(Scope::Site, "the site", None),
            thing(Scope::Slab, "the slab", Some(0)),
            thing(Scope::Area, "area A", Some(1)),
            thing(Scope::Defect, "defect 1", Some(2)),
            thing(Scope::Defect, "defect 2", Some(2)),
        ];
        let board = Board::new(&pack, things);
        Case { pack, board }
    }

    fn spot(&self, thing: usize, fact: &str) -> Spot {
        let fact = self.pack.vocabulary.find(fact).unwrap();
        Spot { thing, fact }
    }

    fn word(&mut self, thing: usize, fact: &str, word: &str) {
        let spot = self.spot(thing, fact);
        let bit = self
            .pack
            .vocabulary
            .fact(spot.fact)
            .value_index(word)
            .unwrap();
        self.board.set_bits(thing, spot.fact, Bits::one(bit));
    }

    fn number(&mut self, thing: usize, fact: &str, x: f64) {
        let spot = self.spot(thing, fact);
        self.board
            .set(&self.pack, thing, spot.fact, Value::number(x));
    }

    fn value(&self, fact: &str, word: &str) -> usize {
        let fact = self.pack.vocabulary.find(fact).unwrap();
        self.pack.vocabulary.fact(fact).value_index(word).unwrap()
    }

    /// Everything known: salt and frost, 5 % hollow, one deep scaling and one crack.
    fn known() -> Case {
        let mut c = Case::new();
        c.word(SITE, "freezes", "yes");
        c.word(SITE, "salt", "yes");
        c.number(AREA, "hollow", 0.05);
        c.number(AREA, "air", 0.06);
        c.word(DEFECT, "kind", "scaling");
        c.word(DEFECT, "stones", "showing");
        c.number(DEFECT, "depth", 12.0);
        c.word(OTHER, "kind", "crack");
        c
    }
}

/// Facts from outside that a tree says are needed, as `about: fact`.
fn needed(why: &Why, out: &mut Vec<String>) {
    match &why.source {
        Source::Given if why.needed => out.push(format!("{}: {}", why.of.about, why.of.fact)),
        Source::Given | Source::Shown => {}
        Source::Gathered { from } => from.iter().for_each(|w| needed(w, out)),
        Source::Made(made) => {
            made.applies.iter().for_each(|w| needed(w, out));
            for row in &made.rows {
                row.reads.iter().for_each(|w| needed(w, out));
            }
            made.blocked.iter().for_each(|b| needed(&b.by, out));
        }
    }
}

#[test]
fn why_goes_back_to_the_entries_and_leaves_out_what_does_not_matter() {
    let c = Case::known();
    let why = why(&c.pack, &c.board, c.spot(AREA, "verdict"), System::Metric);
    assert_eq!(why.of.text(), "overlay it");
    let Source::Made(made) = &why.source else {
        panic!("{why:?}")
    };
    let rows: Vec<&str> = made.rows.iter().map(|r| r.row.as_str()).collect();
    assert_eq!(rows, ["v-severe"]);
    // The one row before it stayed silent because only 5 % is hollow.
    let [blocked] = &made.blocked[..] else {
        panic!("{:?}", made.blocked)
    };
    assert_eq!(
        (blocked.row.as_str(), blocked.wants.as_str()),
        ("v-hollow", ">= 50 %")
    );
    let mut facts = Vec::new();
    needed(&why, &mut facts);
    facts.sort();
    facts.dedup();
    // Salt, frost and the stones don't matter: at 12 mm the grade is severe whatever they are, and
    // no other defect could be worse.
    assert_eq!(
        facts,
        ["area A: hollow", "defect 1: depth", "defect 1: kind"]
    );
}

#[test]
fn why_not_names_the_first_thing_in_the_way_and_the_smallest_change() {
    let c = Case::known();
    let goal = Goal::Value {
        spot: c.spot(AREA, "verdict"),
        value: c.value("verdict", "seal"),
    };
    let answer = why_not(&c.pack, &c.board, goal, System::Metric, 10_000).unwrap();
    assert_eq!(answer.now, RowState::Silent);
    assert_eq!(answer.instead.unwrap().text(), "overlay it");
    assert!(
        matches!(&answer.in_the_way[0], Obstacle::Before { row, .. } if row == "v-severe"),
        "{:?}",
        answer.in_the_way
    );
    // A shallower defect, or none of that kind, lets it through for certain; the nearest first.
    let changes: Vec<String> = answer
        .ways
        .iter()
        .map(|w| {
            assert!(w.certain && w.changes.len() == 1);
            format!(
                "{} -> {}",
                w.changes[0].before.fact,
                w.changes[0].after.text()
            )
        })
        .collect();
    assert_eq!(changes, ["depth -> less than 10 mm", "kind -> crack"]);

    // To be left alone it must be shallow and free of salt or frost: two changes.
    let goal = Goal::Value {
        spot: c.spot(AREA, "verdict"),
        value: c.value("verdict", "leave"),
    };
    let answer = why_not(&c.pack, &c.board, goal, System::Metric, 10_000).unwrap();
    assert!(answer.all_tried);
    let mut changes: Vec<Vec<&str>> = answer
        .ways
        .iter()
        .map(|w| w.changes.iter().map(|c| c.before.fact.as_str()).collect())
        .collect();
    changes.iter_mut().for_each(|c| c.sort_unstable());
    changes.sort();
    assert_eq!(
        changes,
        [
            ["depth", "freezes"],
            ["depth", "salt"],
            ["freezes", "kind"],
            ["kind", "salt"]
        ]
    );
}

#[test]
fn why_not_a_candidate_names_the_row_that_rules_it_out() {
    let c = Case::known();
    let (table, _) = c.pack.table("system").unwrap();
    let goal = Goal::Candidate {
        table,
        thing: AREA,
        contestant: 0,
    };
    let answer = why_not(&c.pack, &c.board, goal, System::Metric, 10_000).unwrap();
    assert_eq!(answer.now, RowState::Silent);
    assert!(
        matches!(&answer.in_the_way[..], [Obstacle::RuledOut { row, safety: true, certain: true, .. }] if row == "thin-deep"),
        "{:?}",
        answer.in_the_way
    );
    assert!(
        answer
            .ways
            .iter()
            .any(|w| w.changes[0].before.fact == "depth")
    );
    // The other one stands already.
    let goal = Goal::Candidate {
        table,
        thing: AREA,
        contestant: 1,
    };
    let answer = why_not(&c.pack, &c.board, goal, System::Metric, 10_000).unwrap();
    assert_eq!(answer.now, RowState::Fires);
    assert!(answer.in_the_way.is_empty() && answer.ways.is_empty());
}

#[test]
fn what_if_shows_what_flips_and_nothing_else() {
    let c = Case::known();
    let depth = c.spot(DEFECT, "depth");
    let cells = c.pack.cells[usize::from(depth.fact.0)].of_value(Value::number(4.0));
    let ran = |board: &Board| {
        let (mut board, mut trail) = (board.clone(), Trail::default());
        run(&c.pack, &mut board, &mut trail);
        (board, trail)
    };
    let before = ran(&c.board);
    let mut other = c.board.clone();
    other.set_bits(depth.thing, depth.fact, cells);
    let after = ran(&other);
    let answer = compare(
        &c.pack,
        (&before.0, &before.1),
        (&after.0, &after.1),
        &[depth],
        System::Metric,
    );
    let mut flips: Vec<String> = answer
        .flips
        .iter()
        .map(|f| {
            let (before, after) = (f.before.text(), f.after.text());
            format!("{} {}: {before} -> {after}", f.before.about, f.before.fact)
        })
        .collect();
    flips.sort();
    assert_eq!(
        flips,
        [
            // The thin one is preferred at 5 % hollow once nothing rules it out.
            "area A system: a thick overlay -> a thin overlay",
            "area A verdict: overlay it -> clean and seal",
            "area A worst: severe -> light",
            "defect 1 grade: severe -> light",
        ]
    );
    let rows: Vec<&str> = answer.rows.iter().map(|r| r.row.as_str()).collect();
    for row in [
        "grade-deep",
        "grade-some",
        "v-severe",
        "v-attack",
        "thin-deep",
    ] {
        assert!(rows.contains(&row), "{row} in {rows:?}");
    }
    assert!(!rows.contains(&"thin-liked"));
}

#[test]
fn an_unknown_that_comes_by_two_ways_does_not_blur_the_exact_answer() {
    let mut c = Case::known();
    // Shallow, and nobody knows about salt: it is either attacked or sheltered, never neither.
    c.number(DEFECT, "depth", 4.0);
    c.word(SITE, "salt", "yes");
    let spot = c.spot(SITE, "salt");
    c.board.forget(&c.pack, SITE, spot.fact);
    let verdict = exact(&c.pack, &c.board, c.spot(AREA, "verdict"), 1000);
    assert!(verdict.exact);
    let wanted = [c.value("verdict", "leave"), c.value("verdict", "seal")];
    assert_eq!(verdict.possible.iter().collect::<Vec<_>>(), wanted);
}

#[test]
fn what_settles_most_for_its_work_is_asked_first() {
    // Nothing known but the kinds: everything is open.
    let mut c = Case::known();
    for (thing, fact) in [
        (AREA, "hollow"),
        (DEFECT, "depth"),
        (DEFECT, "stones"),
        (SITE, "salt"),
    ] {
        let spot = c.spot(thing, fact);
        c.board.forget(&c.pack, thing, spot.fact);
    }
    let targets = [c.spot(AREA, "verdict")];
    let asking = Asking::new(&c.pack, &targets);
    let questions = ask(&c.pack, &c.board, &asking);
    let facts: Vec<String> = questions
        .iter()
        .map(|q| format!("{}: {}", q.about, q.fact))
        .collect();
    // Four verdicts are open, log2 4 = 2 bits.
    // hollow, 30 min: 50 % or more settles all 2 bits; less leaves three, log2 3 = 1.585.
    //   (2 + 0.415) / 2 answers / 2 bits = 0.604; 0.0201 a minute.
    // depth, 5 min: 10 mm or more leaves replace and overlay, 1 bit; less changes nothing, since the
    //   stones may be missing: (1 + 0) / 2 / 2 = 0.25; 0.05 a minute.
    // stones, 1 min: missing leaves 1 bit; hidden and showing are one answer, no row tells them
    //   apart: 0.25; 0.25 a minute.
    // salt, 3 min: yes takes `leave` away, no takes `seal` away: 0.415 either way, of 2 bits 0.2075;
    //   0.069 a minute.
    assert_eq!(
        facts,
        [
            "defect 1: stones",
            "the site: salt",
            "defect 1: depth",
            "area A: hollow"
        ]
    );
    let first = ask_first(&c.pack, &c.board, &asking, &mut Memo::default());
    assert_eq!(first.map(|q| q.spot), Some(questions[0].spot));
    let close = |a: f64, b: f64| (a - b).abs() < 1e-9;
    let three = 3f64.log2();
    assert!(close(questions[3].settles, (2.0 + 2.0 - three) / 4.0));
    assert!(close(questions[0].settles, 0.25));
    assert!(close(questions[1].settles, (2.0 - three) / 2.0));
    assert!(close(questions[1].per_minute, (2.0 - three) / 6.0));
    // Open in between: the grade, the worst of it, attack and shelter a bit each, the verdict two. Salt
    // settles attack, shelter and 0.415 of the verdict; stones that are missing grade, worst and one
    // bit of the verdict, others nothing.
    assert!(close(questions[1].helps, (2.0 + 2.0 - three) / 6.0));
    assert!(close(questions[0].helps, 3.0 / 2.0 / 6.0));
    let answers: Vec<String> = questions[0]
        .answers
        .iter()
        .map(|a| {
            let words: Vec<&str> = a.values.iter().map(|w| w.name.as_str()).collect();
            format!("{}: {}", words.join("/"), a.leads_to[0].text())
        })
        .collect();
    assert_eq!(
        answers,
        [
            "hidden/showing: not known",
            "missing: overlay it or replace it",
        ]
    );
    // The air matters to the cause alone, and the crack is not asked how deep it is.
    assert!(
        questions
            .iter()
            .all(|q| q.fact != "air" && q.about != "defect 2")
    );
}

#[test]
fn waiting_counts_and_nothing_is_asked_once_the_answer_is_firm() {
    let mut c = Case::known();
    for (thing, fact) in [(AREA, "air"), (SITE, "salt")] {
        let spot = c.spot(thing, fact);
        c.board.forget(&c.pack, thing, spot.fact);
    }
    let targets = [c.spot(AREA, "cause")];
    let mut asking = Asking::new(&c.pack, &targets);
    asking.day_of_waiting = 10.0;
    let questions = ask(&c.pack, &c.board, &asking);
    // Air settles the cause whatever the salt (2 against at most 1, -2 against at least -1); salt
    // alone settles nothing, and helps nothing but the cause.
    assert_eq!(questions[0].fact, "air");
    assert!((questions[0].settles - 1.0).abs() < 1e-9);
    assert!((questions[0].per_minute - 1.0 / (20.0 + 300.0)).abs() < 1e-9);
    c.number(AREA, "air", 0.02);
    assert!(ask(&c.pack, &c.board, &asking).is_empty());
    assert!(ask_first(&c.pack, &c.board, &asking, &mut Memo::default()).is_none());
}

#[test]
fn answers_count_by_how_likely_the_evidence_makes_them() {
    // Shallow, with enough air; nobody knows about salt.
    let mut c = Case::known();
    c.number(DEFECT, "depth", 4.0);
    let salt = c.spot(SITE, "salt");
    c.board.forget(&c.pack, SITE, salt.fact);
    let targets = [c.spot(AREA, "verdict")];
    let questions = ask(&c.pack, &c.board, &Asking::new(&c.pack, &targets));
    let [q] = &questions[..] else {
        panic!("{questions:?}")
    };
    assert!(q.fact == "salt" && q.weighed);
    // Scores without salt: low_air -2 (enough air), salt_attack 0, so shares of 0.1192 and 0.8808.
    // With salt_attack, salt is as e^1 to e^-1: 0.8808. Low air says nothing of salt: 0.5.
    // Salt: 0.1192 * 0.5 + 0.8808 * 0.8808 = 0.8354.
    let e = std::f64::consts::E;
    let share = 1.0 / (1.0 + e.powi(-2));
    let likely = (1.0 - share) * 0.5 + share * share;
    assert!((likely - 0.8354).abs() < 5e-5);
    let [no, yes] = &q.answers[..] else {
        panic!("{q:?}")
    };
    assert!((yes.likely - likely).abs() < 1e-12 && (no.likely - (1.0 - likely)).abs() < 1e-12);
    // Either answer decides between `seal` and `leave`.
    assert!((q.settles - 1.0).abs() < 1e-12);

    // The verdict of a deep defect is `overlay` whatever the salt, unless half is hollow: with hollow
    // open there is something to ask, and it is not salt, though salt would settle the attack.
    let mut c = Case::known();
    let hollow = c.spot(AREA, "hollow");
    c.board.forget(&c.pack, AREA, hollow.fact);
    c.board.forget(&c.pack, SITE, salt.fact);
    let questions = ask(&c.pack, &c.board, &Asking::new(&c.pack, &targets));
    let facts: Vec<&str> = questions.iter().map(|q| q.fact.as_str()).collect();
    assert_eq!(facts, ["hollow"]);
    assert!(!questions[0].weighed);
}

#[test]
fn a_row_is_told_with_what_it_pushes() {
    let c = Case::known();
    let why = why(&c.pack, &c.board, c.spot(AREA, "cause"), System::Metric);
    let Source::Made(made) = &why.source else {
        panic!("{why:?}")
    };
    let pushes: Vec<(&str, &str, f64)> = (made.rows.iter())
        .flat_map(|r| {
            r.pushes
                .iter()
                .map(|p| (r.row.as_str(), p.id.as_str(), p.push))
        })
        .collect();
    assert_eq!(
        pushes,
        [
            ("c-air-good", "low_air", -2.0),
            ("c-salt", "salt_attack", 1.0)
        ]
    );
}

#[test]
fn what_stands_before_a_row_that_always_fires_is_told_up_to_the_first_that_does() {
    let c = Case::known();
    let goal = Goal::Value {
        spot: c.spot(AREA, "verdict"),
        value: c.value("verdict", "leave"),
    };
    let answer = why_not(&c.pack, &c.board, goal, System::Metric, 10_000).unwrap();
    // `v-rest` needs nothing; `v-severe` takes it all before the others.
    let [Obstacle::Before { row, reads, .. }] = &answer.in_the_way[..] else {
        panic!("{:?}", answer.in_the_way)
    };
    let read: Vec<&str> = reads.iter().map(|r| r.fact.as_str()).collect();
    assert_eq!((row.as_str(), read), ("v-severe", vec!["worst"]));
}

#[test]
fn of_conditions_only_those_that_fail_are_in_the_way() {
    let mut c = Case::known();
    c.word(SITE, "freezes", "no");
    let salt = c.spot(SITE, "salt");
    c.board.forget(&c.pack, SITE, salt.fact);
    let goal = Goal::Value {
        spot: c.spot(SITE, "attack"),
        value: c.value("attack", "yes"),
    };
    let failing = |c: &Case, goal| -> Vec<String> {
        let answer = why_not(&c.pack, &c.board, goal, System::Metric, 10_000).unwrap();
        let facts = answer.in_the_way.iter().filter_map(|o| match o {
            Obstacle::Condition { row, is, .. } => Some(format!("{row}: {}", is.fact)),
            _ => None,
        });
        facts.collect()
    };
    assert_eq!(failing(&c, goal), ["attack-yes: freezes"]);
    // With frost the salt that nobody knows is what is left.
    c.word(SITE, "freezes", "yes");
    assert_eq!(failing(&c, goal), ["attack-yes: salt"]);
}

#[test]
fn a_cause_that_does_not_lead_is_outscored() {
    let c = Case::known();
    let goal = Goal::Value {
        spot: c.spot(AREA, "cause"),
        value: c.value("cause", "low_air"),
    };
    let answer = why_not(&c.pack, &c.board, goal, System::Metric, 10_000).unwrap();
    let [Obstacle::Outscored { by, its, own, .. }] = &answer.in_the_way[..] else {
        panic!("{:?}", answer.in_the_way)
    };
    // Enough air speaks against low air by 2, salt for salt by 1.
    assert_eq!((by.as_str(), its.lo, own.hi), ("salt", 1.0, -2.0));
}

#[test]
fn a_candidate_that_may_be_ruled_out_may_stand() {
    let mut c = Case::known();
    let (table, _) = c.pack.table("system").unwrap();
    let goal = Goal::Candidate {
        table,
        thing: AREA,
        contestant: 0,
    };
    let stones = c.spot(DEFECT, "stones");
    c.board.forget(&c.pack, DEFECT, stones.fact);
    // At 12 mm it is out. A shallower defect leaves it open, as long as nobody knows of the stones.
    let answer = why_not(&c.pack, &c.board, goal, System::Metric, 10_000).unwrap();
    assert_eq!(answer.now, RowState::Silent);
    let open = |w: &&ringtrue::rules::Way| !w.certain && w.changes[0].before.fact == "depth";
    assert_eq!(
        answer.ways.iter().filter(open).count(),
        1,
        "{:?}",
        answer.ways
    );
    c.number(DEFECT, "depth", 4.0);
    let answer = why_not(&c.pack, &c.board, goal, System::Metric, 10_000).unwrap();
    assert_eq!(answer.now, RowState::May);
}

/// A small pack with a verdict over these facts.
fn about_an_area(facts: &str, tables: &[&str]) -> (Pack, Board) {
    let pack = plain(facts, tables);
    let things = vec![
        thing(Scope::Site, None),
        thing(Scope::Slab, Some(0)),
        thing(Scope::Area, Some(1)),
    ];
    let board = Board::new(&pack, things);
    (pack, board)
}

const TWO_WAYS: &str = "
facts:
  p: {scope: area, name: p, kind: flag, ask: Q?, minutes: 1, comes: asked}
  q: {scope: area, name: q, kind: choice, values: [zero, one, two, three], ordered: yes, ask: Q?, minutes: 1, comes: asked}
  r: {scope: area, name: r, kind: choice, values: [zero, one, two, three], ordered: yes, ask: Q?, minutes: 1, comes: asked}
  verdict: {scope: area, name: verdict, kind: choice, values: [keep, break], comes: made, read_by: [assessment]}
";

/// The ways to a verdict of `keep`, each as its changes, whether it is certain and whether it is open; and
/// whether all were tried.
fn ways_to_keep(pack: &Pack, board: &Board, budget: usize) -> (Vec<(String, bool, bool)>, bool) {
    let fact = pack.vocabulary.find("verdict").unwrap();
    let goal = Goal::Value {
        spot: Spot { thing: AREA, fact },
        value: pack.vocabulary.fact(fact).value_index("keep").unwrap(),
    };
    let answer = why_not(pack, board, goal, System::Metric, budget).unwrap();
    let ways = answer.ways.iter().map(|w| {
        let changes: Vec<String> = (w.changes.iter())
            .map(|c| format!("{} {}", c.before.fact, c.after.text()))
            .collect();
        (changes.join(", "), w.certain, w.open)
    });
    (ways.collect(), answer.all_tried)
}

fn set(pack: &Pack, board: &mut Board, name: &str, values: &[&str]) {
    let fact = pack.vocabulary.find(name).unwrap();
    let declared = pack.vocabulary.fact(fact);
    let bits = (values.iter()).fold(Bits::NONE, |bits, v| {
        bits.or(Bits::one(declared.value_index(v).unwrap()))
    });
    board.set_bits(AREA, fact, bits);
}

#[test]
fn the_nearest_way_comes_first() {
    // q must rise by three steps, r by one.
    let rows = [
        "when: {q: three}, then: keep",
        "when: {r: '>= two'}, then: keep",
        "then: break",
    ];
    let (pack, mut board) = about_an_area(TWO_WAYS, &[&table("verdict", "area", FIRST, &rows)]);
    set(&pack, &mut board, "p", &["no"]);
    set(&pack, &mut board, "q", &["zero"]);
    set(&pack, &mut board, "r", &["one"]);
    let way = |text: &str| (text.to_owned(), true, false);
    let (ways, _) = ways_to_keep(&pack, &board, 1000);
    assert_eq!(ways, [way("r two or three"), way("q three")]);
}

#[test]
fn neighbouring_values_that_do_the_same_are_one_change() {
    // Another row tells two from three, so they are tried one by one.
    let rows = [
        "when: {p: yes, q: three}, then: break",
        "when: {q: '>= two'}, then: keep",
        "then: break",
    ];
    let (pack, mut board) = about_an_area(TWO_WAYS, &[&table("verdict", "area", FIRST, &rows)]);
    set(&pack, &mut board, "p", &["no"]);
    set(&pack, &mut board, "q", &["zero"]);
    let (ways, _) = ways_to_keep(&pack, &board, 1000);
    assert_eq!(ways, [("q two or three".to_owned(), true, false)]);
}

#[test]
fn what_is_sure_to_help_comes_before_what_may_and_what_may_be_so_before_what_is_not() {
    // p is not known. q three keeps it for certain, q two only without p.
    let rows = [
        "when: {q: three}, then: keep",
        "when: {q: two, p: no}, then: keep",
        "then: break",
    ];
    let (pack, mut board) = about_an_area(TWO_WAYS, &[&table("verdict", "area", FIRST, &rows)]);
    set(&pack, &mut board, "q", &["zero"]);
    let (ways, _) = ways_to_keep(&pack, &board, 1000);
    let way = |text: &str, certain, open| (text.to_owned(), certain, open);
    assert_eq!(
        ways,
        [way("q three", true, false), way("q two", false, false)]
    );

    // q is known as little or more: three is as certain a way as r two, and may still turn out so; r two is
    // the nearer.
    let rows = [
        "when: {r: two}, then: keep",
        "when: {q: three}, then: keep",
        "then: break",
    ];
    let (pack, mut board) = about_an_area(TWO_WAYS, &[&table("verdict", "area", FIRST, &rows)]);
    set(&pack, &mut board, "r", &["one"]);
    set(&pack, &mut board, "q", &["zero", "three"]);
    // It may be kept now; only a change that makes it sure is a way.
    let (ways, _) = ways_to_keep(&pack, &board, 1000);
    assert_eq!(
        ways,
        [way("q three", true, true), way("r two", true, false)]
    );
}

#[test]
fn pairs_of_changes_are_tried_while_the_budget_lasts() {
    // Neither p nor q nor r alone: four single changes (p yes; q three, r three and their rest are where
    // they are), then the pairs.
    let rows = [
        "when: {p: yes, q: three, r: three}, then: keep",
        "then: break",
    ];
    let (pack, mut board) = about_an_area(TWO_WAYS, &[&table("verdict", "area", FIRST, &rows)]);
    set(&pack, &mut board, "p", &["no"]);
    set(&pack, &mut board, "q", &["zero"]);
    set(&pack, &mut board, "r", &["zero"]);
    // Three singles (p yes, q three, r three) and three pairs, none of them enough.
    assert_eq!(ways_to_keep(&pack, &board, 6), (vec![], true));
    assert_eq!(ways_to_keep(&pack, &board, 5), (vec![], false));
    assert_eq!(ways_to_keep(&pack, &board, 3), (vec![], false));
}

#[test]
fn what_holds_already_has_nothing_in_its_way_and_what_is_far_behind_is_not_told() {
    // p makes a, a makes b and so on: j is ten tables behind p. Eight are told.
    let made = ["a", "b", "c", "d", "e", "f", "g", "h", "i", "j"];
    let mut facts = TWO_WAYS.to_owned();
    let mut tables = Vec::new();
    let mut before = "p";
    for name in made {
        facts += &format!("  {name}: {{scope: area, name: {name}, kind: flag, comes: made}}\n");
        tables.push(format!(
            "table: {name}\ntitle: T\nkind: grade\nscope: area\nquestion: Q?\nhit: first\ngives: {name}\nrows:\n  - {{id: {name}-yes, when: {{{before}: yes}}, then: yes, because: B., source: S, provenance: practice}}\n  - {{id: {name}-no, then: no, because: B., source: S, provenance: practice}}\n"
        ));
        before = name;
    }
    tables.push(table(
        "verdict",
        "area",
        FIRST,
        &["when: {j: yes}, then: keep", "then: break"],
    ));
    let tables: Vec<&str> = tables.iter().map(String::as_str).collect();
    let (pack, mut board) = about_an_area(&facts, &tables);
    let goal = |word: &str| {
        let fact = pack.vocabulary.find("verdict").unwrap();
        Goal::Value {
            spot: Spot { thing: AREA, fact },
            value: pack.vocabulary.fact(fact).value_index(word).unwrap(),
        }
    };
    set(&pack, &mut board, "p", &["no"]);
    let kept = why_not(&pack, &board, goal("break"), System::Metric, 1000).unwrap();
    assert!(kept.in_the_way.is_empty(), "{:?}", kept.in_the_way);
    let answer = why_not(&pack, &board, goal("keep"), System::Metric, 1000).unwrap();
    let mut names = Vec::new();
    let mut level = &answer.in_the_way;
    while let Some(Obstacle::Condition { is, behind, .. }) = level.first() {
        names.push(is.fact.as_str());
        level = behind;
    }
    assert_eq!(names, ["j", "i", "h", "g", "f", "e", "d", "c"]);
}
