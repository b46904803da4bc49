//! The drill through a pipe: cases, scores, lessons.

mod piped;

use std::path::Path;
use std::process::Command;

use assert_cmd::cargo::cargo_bin;
use piped::{Run, piped};

fn drill(folder: &Path, args: &[&str], lines: &[&str]) -> Run {
    piped(
        Command::new(cargo_bin("ringtrue"))
            .current_dir(folder)
            .arg("drill")
            .args(args)
            .env("RINGTRUE_DATA", folder),
        lines,
    )
}

/// The text without its line breaks.
fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn holds(haystack: &str, needle: &str) {
    assert!(
        flat(haystack).contains(needle),
        "`{needle}` is not in:\n{haystack}"
    );
}

#[test]
fn a_lesson_is_written_checked_played_and_what_was_missed_comes_back() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let run = drill(at, &["--write-lesson", "l.yaml"], &[]);
    assert_eq!(run.code, Some(0), "{}", run.err);
    // Not over an existing one.
    assert_eq!(drill(at, &["--write-lesson", "l.yaml"], &[]).code, Some(2));
    let run = drill(at, &["--check", "l.yaml"], &[]);
    assert_eq!(run.code, Some(0), "{}", run.out);
    holds(&run.out, "3 cases.");
    // One test, then a wrong answer: the trail, what was missed, why it is wrong. Of the method the
    // person knows nothing, then ends.
    let args = ["--lesson", "l.yaml", "--topic", "scaling"];
    let run = drill(
        at,
        &args,
        &["1", "answer", "chemical attack", "replace it all", "?"],
    );
    assert_eq!(run.code, Some(0), "{}", run.err);
    for part in [
        "Cause, not so: water worked into the surface while finishing",
        "Verdict, not so:",
        "Why not what you said:",
        "Why it is not what you said: chemical attack",
        "Your way: 5 min",
        "The expert's way:",
        "What you did not look at, and it tells",
        "underside paler than the top",
        "Your trainer: Good and bad panels",
        "scaling: cause right 0 of 1, verdict right 0 of 1",
        "By the rules this comes to: thin resurfacing.",
        "1 of 2. The skin is weak.",
        "CAUTION: Cutting, grinding and breaking concrete makes quartz dust",
        "The rest of the method does not count.",
        "The expert's method beside yours: 0 of 1 parts right",
        "Getting the surface ready, not known",
        "You missed: Grind to sound concrete",
        "(rule do-resound: UFC 3-270-03; city repair specification)",
    ] {
        holds(&run.out, part);
    }
    // The caution for acid stands before the line that offers it.
    let flat_out = flat(&run.out);
    let at_of = |what: &str| flat_out.find(what).unwrap_or_else(|| panic!("{what}"));
    assert!(at_of("acid into water, never the reverse") < at_of("acid etching"));
    let kept = std::fs::read_to_string(at.join("drill.yaml")).unwrap();
    assert!(
        kept.contains("'two-pale-panels': {topic: 'scaling'"),
        "{kept}"
    );
    // The right answer.
    let run = drill(
        at,
        &args,
        &[
            "answer",
            "water worked into the surface while finishing",
            "patch",
        ],
    );
    holds(&run.out, "Cause, right:");
    holds(&run.out, "Verdict, right:");
    holds(&run.out, "Tempting, and wrong:");
    holds(&run.out, "no test");
    let run = drill(at, &["--score"], &[]);
    holds(&run.out, "2 cases done.");
    holds(&run.out, "scaling cause 1 of 2, verdict 1 of 2");
    holds(&run.out, "getting the surface ready right 0 of 1");
}

/// The number that stands before an answer in what was printed.
fn number_of(out: &str, answer: &str) -> String {
    let line = out.lines().find(|l| l.contains(answer));
    let line = line.unwrap_or_else(|| panic!("`{answer}` is not in:\n{out}"));
    line.split_whitespace().next().unwrap().to_owned()
}

#[test]
fn the_method_is_asked_for_marked_and_kept() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    drill(at, &["--write-lesson", "l.yaml"], &[]);
    let args = ["--lesson", "l.yaml", "--topic", "scaling"];
    // What is offered, for the numbers: the same file and seed offer the same.
    let looked = drill(
        at,
        &[&args[..], &["--scores", "x.yaml"]].concat(),
        &["answer", "1", "1", "?", "?"],
    );
    let of = |answer: &str| number_of(&looked.out, answer);
    let letter = |answer: &str| {
        let n: u8 = of(answer).parse().unwrap();
        char::from(b'a' + n - 1)
    };
    // By hand: a weak skin is ground off and the slab sounded again; acid takes surface paste only.
    // The primer that dries goes under a thin layer, not the slurry that must be wet.
    let prep = format!(
        "{} {} {}",
        letter("Grind to sound concrete"),
        letter("Sound again after removal"),
        letter("acid etching"),
    );
    let run = drill(
        at,
        &args,
        &[
            "answer",
            "1",
            "patch",
            "9",
            &prep,
            &of("Scrub the polymer primer in"),
        ],
    );
    assert_eq!(run.code, Some(0), "{}", run.err);
    for part in [
        "type numbers or letters",
        "The expert's method beside yours: 1 of 2 parts right",
        "Getting the surface ready, not so + Grind to sound concrete",
        "Not here: Taking off the bad surface: acid etching.",
        "Acid takes off surface paste only",
        "(rule removal-etch-scaled: ICRI 310.2R-2013, methods table)",
        "Bonding, right + Scrub the polymer primer in",
    ] {
        holds(&run.out, part);
    }
    assert!(!flat(&run.out).contains("You missed"), "{}", run.out);
    let kept = std::fs::read_to_string(at.join("drill.yaml")).unwrap();
    // One case done: what was missed is due after three more, what was right after six.
    assert!(
        kept.contains("    prep: {asked: 1, right: 0, row: 0, due: 4}\n"),
        "{kept}"
    );
    assert!(
        kept.contains("    bond: {asked: 1, right: 1, row: 1, due: 7}\n"),
        "{kept}"
    );
    // The next time only what was missed is asked.
    let run = drill(at, &args, &["answer", "1", "patch", "?", "?"]);
    holds(&run.out, "1 of 1. The skin is weak.");
    holds(&run.out, "0 of 1 parts right");
}

#[test]
fn a_patch_is_bonded_before_it_is_filled_and_a_layer_after() {
    // Repair practice: the coat goes into the hole ahead of the mortar; under a layer the holes are
    // filled first, and the coat is the layer's.
    let pack = ringtrue::rules::builtin().unwrap();
    let cases = ringtrue::drill::worked(&pack.vocabulary);
    let first = |id: &str| -> Vec<String> {
        let case = cases.iter().find(|c| c.id == id).unwrap();
        let play = ringtrue::drill::Play::new(&pack, case);
        let quiz = play.method(0);
        let q = quiz.questions.iter().find(|q| q.order).unwrap();
        let told = q.mark(&[]);
        let in_order = told.missed.iter().map(|p| p.id.clone());
        in_order
            .filter(|id| ["bond", "patch"].contains(&id.as_str()))
            .collect()
    };
    assert_eq!(first("V01"), ["bond", "patch"]);
    assert_eq!(first("V08"), ["patch", "bond"]);
}

#[test]
fn where_nothing_is_built_the_method_is_left_out_or_asks_what_comes_first() {
    let folder = tempfile::tempdir().unwrap();
    let pack = ringtrue::rules::builtin().unwrap();
    let cases = ringtrue::drill::worked(&pack.vocabulary);
    let case = |id: &str| cases.iter().find(|c| c.id == id).unwrap();
    let quiz = |id: &str| ringtrue::drill::Play::new(&pack, case(id)).method(0);
    // A few popouts: nothing is done (UFC 3-270-05).
    let left = quiz("V04");
    assert!(left.questions.is_empty());
    assert_eq!(left.left_out.as_deref(), Some("No work is needed."));
    // Rusting steel in a carport deck: an engineer; until then close off what lies below and stop
    // the salt. Patching over rust and chipping at it are forbidden.
    let until = quiz("V17");
    let [only] = until.questions.as_slice() else {
        panic!("{until:?}");
    };
    let of = |right: bool| -> Vec<&str> {
        let mut ids: Vec<&str> = (only.picks.iter().filter(|p| p.right == right))
            .map(|p| p.id.as_str())
            .collect();
        ids.sort_unstable();
        ids
    };
    assert_eq!(of(true), ["now-clear-below", "now-salt"]);
    assert_eq!(of(false), ["ex-steel", "ex-suspended"]);
    assert!(
        only.cautions
            .iter()
            .any(|(row, _)| row == "slab-falling-steel")
    );
    // The same through the terminal: the case is left out with a word.
    let lesson = std::fs::read_to_string("tests/cases/V04.yaml").unwrap();
    let record: String = lesson
        .lines()
        .skip_while(|l| !l.starts_with("record:"))
        .take_while(|l| !l.starts_with("expect:"))
        .map(|l| format!("    {l}\n"))
        .collect();
    let text = format!("lesson: One\ncases:\n  - id: one\n    title: one\n{record}");
    std::fs::write(folder.path().join("one.yaml"), text).unwrap();
    let run = drill(
        folder.path(),
        &["--lesson", "one.yaml"],
        &["answer", "1", "1"],
    );
    assert_eq!(run.code, Some(0), "{}{}", run.out, run.err);
    holds(
        &run.out,
        "Nothing is asked on the method here. No work is needed.",
    );
}

#[test]
fn the_method_alone_can_be_practised_part_by_part() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let run = drill(at, &["--topic", "method/bond", "-n", "2"], &["?", "?"]);
    assert_eq!(run.code, Some(0), "{}", run.err);
    for part in [
        "How is the work done?",
        "The likeliest cause:",
        "1 of 1. How is it bonded?",
        "CAUTION: ",
        "0 of 1 parts right",
        "You missed:",
    ] {
        holds(&run.out, part);
    }
    assert!(!run.out.contains("Which test?") && !run.out.contains("What is the cause?"));
    let kept = std::fs::read_to_string(at.join("drill.yaml")).unwrap();
    assert!(kept.contains("done: 2\ncases: {}\nmethod:\n"), "{kept}");
    assert_eq!(
        kept.matches("    bond: {asked: 1, right: 0").count(),
        2,
        "{kept}"
    );
    // The order of the work: what was printed as right, given back by its numbers.
    let args = ["--topic", "method/order", "--scores", "o.yaml"];
    let run = drill(at, &args, &["1 1 1", "?"]);
    holds(&run.out, "each of them once");
    let (_, told) = run.out.split_once("The order of the work, not so").unwrap();
    let numbers: Vec<String> = told
        .lines()
        .filter_map(|l| Some(l.trim().split_once(". ")?.1))
        .map(|name| number_of(&run.out, name))
        .collect();
    assert!(numbers.len() >= 3, "{told}");
    std::fs::remove_file(at.join("o.yaml")).unwrap();
    let run = drill(at, &args, &[&numbers.join(" ")]);
    holds(&run.out, "The order of the work, right");
    holds(
        &std::fs::read_to_string(at.join("o.yaml")).unwrap(),
        "order: {asked: 1, right: 1",
    );
    // Made cases too, and every part; what is no part is no topic.
    let run = drill(at, &["--topic", "method", "--level", "easy"], &["?"; 8]);
    assert_eq!(run.code, Some(0), "{}{}", run.out, run.err);
    holds(&run.out, "The expert's method beside yours");
    assert_eq!(drill(at, &["--topic", "method/roof"], &["?"]).code, Some(1));
    let run = drill(at, &["--topic", "method"], &["stop"]);
    holds(&run.out, "this case does not count");
}

#[test]
fn a_lesson_that_differs_from_the_rules_is_refused_with_places() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    drill(at, &["--write-lesson", "l.yaml"], &[]);
    let text = std::fs::read_to_string(at.join("l.yaml")).unwrap();
    let slips = [
        (
            "cause: [finished_wet]",
            "cause: [low_air]",
            "the rules lead with `finished_wet`",
        ),
        (
            "verdict: [patch, thin_resurfacing]",
            "verdict: [replace_all]",
            "the rules come to `",
        ),
        (
            "right: [do-bond-primer]",
            "right: [do-bond-slurry]",
            "is wrong here by the rules",
        ),
        (
            "wrong: [bond_coat.pva, do-bond-slurry]",
            "wrong: [do-bond-primer]",
            "is right here by the rules",
        ),
        (
            "right: [do-grind-sound, do-resound]",
            "right: [do-grind]",
            "is no step of this case",
        ),
        ("part: bond", "part: bound", "bond"),
    ];
    for (from, to, said) in slips {
        assert_eq!(text.matches(from).count(), 1, "{from}");
        std::fs::write(at.join("l.yaml"), text.replace(from, to)).unwrap();
        let run = drill(at, &["--check", "l.yaml"], &[]);
        assert_eq!(run.code, Some(1), "{to}: {}", run.out);
        holds(&run.out, said);
        let line = text.lines().position(|l| l.contains(from)).unwrap() + 1;
        holds(&run.out, &format!("l.yaml:{line}:"));
        assert_eq!(drill(at, &["--lesson", "l.yaml"], &["stop"]).code, Some(1));
    }
}

#[test]
fn a_test_that_can_change_nothing_is_called_wasted_and_cautions_are_said() {
    let folder = tempfile::tempdir().unwrap();
    // Every test there is, then the answer: some can no longer change anything.
    let mut lines = vec!["1"; 30];
    lines.extend(["1", "1"]);
    let run = drill(
        folder.path(),
        &["--topic", "scaling", "--seed", "3"],
        &lines,
    );
    assert_eq!(run.code, Some(0), "{}", run.err);
    holds(&run.out, "There is nothing left to test.");
    holds(&run.out, "Minutes that could change nothing any more");
    holds(&run.out, "CAUTION: Before you grind");
}

#[test]
fn made_cases_are_the_same_for_the_same_seed() {
    let (a, b) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let play = |at: &Path, level: &str| {
        let run = drill(
            at,
            &["--level", level, "--seed", "5"],
            &["1", "answer", "1", "1"],
        );
        assert_eq!(run.code, Some(0), "{}", run.err);
        run.out.replace(&at.display().to_string(), "")
    };
    assert_eq!(play(a.path(), "hard"), play(b.path(), "hard"));
    play(a.path(), "easy");
    let kept = std::fs::read_to_string(a.path().join("drill.yaml")).unwrap();
    assert!(
        kept.contains("'made-hard-5'") && kept.contains("'made-easy-6'"),
        "{kept}"
    );
}

#[test]
fn a_lesson_with_slips_is_refused_with_places_and_broken_scores_are_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    drill(at, &["--write-lesson", "l.yaml"], &[]);
    let text = std::fs::read_to_string(at.join("l.yaml")).unwrap();
    std::fs::write(
        at.join("l.yaml"),
        text.replace("thickness: 5 in", "thickness: 5"),
    )
    .unwrap();
    let run = drill(at, &["--check", "l.yaml"], &[]);
    assert_eq!(run.code, Some(1));
    let line = text
        .lines()
        .position(|l| l.contains("thickness: 5 in"))
        .unwrap()
        + 1;
    holds(&run.out, &format!("l.yaml:{line}:20"));
    assert_eq!(drill(at, &["--lesson", "l.yaml"], &["stop"]).code, Some(1));
    assert_eq!(
        drill(at, &["--lesson", "none.yaml"], &["stop"]).code,
        Some(2)
    );
    assert_eq!(drill(at, &["--topic", "nonsense"], &["stop"]).code, Some(1));
    // Ending a case in the middle notes nothing.
    let run = drill(at, &[], &["1", "stop"]);
    holds(&run.out, "this case does not count");
    assert!(!at.join("drill.yaml").exists());
    std::fs::write(
        at.join("drill.yaml"),
        "drill_scores: 1\ndone: x\ncases: {}\n",
    )
    .unwrap();
    let run = drill(at, &[], &["answer", "1", "1"]);
    assert_eq!(run.code, Some(1));
    holds(&run.err, "drill.yaml:2:7");
    let kept = std::fs::read_to_string(at.join("drill.yaml")).unwrap();
    assert!(kept.contains("done: x"));
}

#[test]
fn every_built_in_case_can_be_played_to_the_end() {
    let folder = tempfile::tempdir().unwrap();
    let list = drill(folder.path(), &["--list"], &[]);
    assert_eq!(list.code, Some(0), "{}", list.err);
    // 25 worked cases and the samples that have something wrong.
    assert!(list.out.lines().count() >= 35, "{}", list.out);
    let pack = ringtrue::rules::builtin().unwrap();
    let mut cases = ringtrue::drill::worked(&pack.vocabulary);
    cases.extend(ringtrue::drill::samples(&pack.vocabulary));
    for (n, case) in cases.iter().enumerate() {
        let mut play = ringtrue::drill::Play::new(&pack, case);
        assert!(!play.opening().is_empty(), "{}", case.id);
        // Weighing every test and answer takes long, so it is done for some of them.
        if n % 6 != 0 {
            continue;
        }
        for i in 0..play.tests().len() {
            let finds = &play.take(i).unwrap().finds;
            assert!(!finds.is_empty() && finds != "not known", "{}", case.id);
        }
        let causes = play.causes();
        for (cause, _) in causes.first().into_iter().chain(causes.last()) {
            let outcome = play.judge(&cause.word, "patch");
            assert!(!outcome.causes.is_empty(), "{}", case.id);
            assert!(outcome.missed.is_empty(), "{}: all was looked at", case.id);
            if let Some(only) = case.answer.causes.first() {
                let right = case.answer.causes.contains(&cause.word);
                assert_eq!(outcome.cause_right, right, "{} {only}", case.id);
            }
        }
    }
}

/// Cases to hold the questions on the method to: worked ones, samples, and made ones.
fn all_cases(pack: &ringtrue::rules::Pack, made: u64) -> Vec<ringtrue::drill::Case> {
    use ringtrue::drill::{Level, make, samples, worked};
    let mut cases = worked(&pack.vocabulary);
    cases.extend(samples(&pack.vocabulary));
    let levels = Level::ALL
        .into_iter()
        .flat_map(|l| (0..made).map(move |s| (l, s)));
    cases.extend(levels.filter_map(|(level, seed)| make(pack, level, seed, None)));
    cases
}

#[test]
fn right_and_wrong_ways_of_working_never_mix() {
    use ringtrue::assessment::{made, run_rules};
    use ringtrue::drill::{Part, Play};
    use ringtrue::method::{decide, specify};
    use ringtrue::rules::Body;
    let pack = ringtrue::rules::builtin().unwrap();
    let (mut asked, mut parts) = (0, std::collections::BTreeSet::new());
    for case in all_cases(&pack, 8) {
        let id = &case.id;
        // The work by the method stage itself, beside the questions.
        let record = &case.loaded.record;
        let mut survey = ringtrue::survey::survey(record, &pack.vocabulary);
        let ran = run_rules(&pack, &survey);
        let (ran, fitted) = decide(record, &mut survey, &pack, ran);
        let method = specify(record, None, &survey, &pack, &ran, &fitted);
        let work = &method.areas[case.area];
        let rows: Vec<&str> = work.steps.iter().map(|s| s.reason.row.as_str()).collect();
        let inside = &survey.areas[case.area];
        let things: Vec<usize> = [inside.thing]
            .into_iter()
            .chain(inside.defects.clone())
            .collect();
        let play = Play::new(&pack, &case);
        for turn in 0..3 {
            let quiz = play.method(turn);
            assert_eq!(quiz.questions.is_empty(), quiz.left_out.is_some(), "{id}");
            for q in &quiz.questions {
                asked += 1;
                parts.insert(q.part);
                let (right, wrong): (Vec<_>, Vec<_>) = q.picks.iter().partition(|p| p.right);
                if q.order {
                    // The order of the steps themselves, each stage in its turn.
                    let mut stages: Vec<&str> = Vec::new();
                    for s in work.steps.iter().map(|s| s.stage.as_str()) {
                        if q.picks.iter().any(|p| p.id == s) && !stages.contains(&s) {
                            stages.push(s);
                        }
                    }
                    let place = |s: &&str| q.picks.iter().position(|p| p.id == **s).unwrap();
                    let mut chosen: Vec<usize> = stages.iter().map(place).collect();
                    assert_eq!(chosen.len(), q.picks.len(), "{id} {q:?}");
                    assert!(q.mark(&chosen).right, "{id} {q:?}");
                    chosen.swap(0, 1);
                    assert!(!q.mark(&chosen).right && !q.mark(&[]).right);
                    assert!(!q.mark(&chosen[1..]).right);
                    continue;
                }
                assert!(!right.is_empty() && !wrong.is_empty(), "{id} {q:?}");
                assert_eq!(q.one, matches!(q.part, Part::System | Part::Thickness));
                assert!(!q.one || right.len() == 1, "{id} {q:?}");
                let mut texts: Vec<&str> = q.picks.iter().map(|p| p.text.as_str()).collect();
                texts.sort_unstable();
                texts.dedup();
                assert_eq!(texts.len(), q.picks.len(), "{id} {q:?}");
                for p in &q.picks {
                    assert!(!p.why.is_empty() && !p.rule.is_empty() && !p.source.is_empty());
                    let candidate = p.id.split_once('.').filter(|(table, _)| {
                        pack.table(table)
                            .is_some_and(|(_, t)| matches!(t.body, Body::Rank(_)))
                    });
                    match (candidate, p.right) {
                        (Some((table, word)), right) => {
                            let own = things
                                .iter()
                                .any(|&t| made(&pack, &ran, t, table) == [word]);
                            assert_eq!(own, right, "{id} {}", p.id);
                        }
                        (None, _) if q.part == Part::Thickness => {
                            let layer = work.overlay.as_ref().unwrap();
                            let kind = ringtrue::units::Kind::Length;
                            let mm = kind.read(&p.text).unwrap().lo;
                            // Shown to a sixteenth of an inch or finer, so within 0.1 mm.
                            let fits = mm >= layer.floor_mm - 0.1 && mm <= layer.ceiling_mm + 0.1;
                            assert_eq!(fits, p.right, "{id} {}", p.text);
                        }
                        (None, right) => {
                            assert_eq!(rows.contains(&p.id.as_str()), right, "{id} {}", p.id);
                            // Nobody is told off for a step that only makes the work safer.
                            let mut all = pack.tables.iter().filter(|t| t.id.starts_with("steps_"));
                            let row = all.find_map(|t| t.rows.iter().find(|r| r.id == p.id));
                            assert!(right || row.is_none_or(|r| !r.safety), "{id} {}", p.id);
                        }
                    }
                }
                // Whoever chooses what is right is right; one more or one less is not.
                let of = |which: bool| -> Vec<usize> {
                    (0..q.picks.len())
                        .filter(|i| q.picks[*i].right == which)
                        .collect()
                };
                assert!(q.mark(&of(true)).right);
                assert!(!q.mark(&[]).right && !q.mark(&of(false)).right);
                let all: Vec<usize> = (0..q.picks.len()).collect();
                assert_eq!(q.mark(&all).wrong.len(), wrong.len());
            }
            assert_eq!(
                format!("{quiz:?}"),
                format!("{:?}", play.method(turn)),
                "{id}"
            );
        }
    }
    assert!(asked > 300, "{asked}");
    assert_eq!(parts.len(), Part::ALL.len(), "{parts:?}");
}
