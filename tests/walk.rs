//! Walks through a terminal and through a pipe: what is typed ends in a valid record, nothing is
//! lost when the program is killed, and going on asks only what is missing.

mod piped;

use std::io::{BufRead, BufReader, Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use assert_cmd::cargo::cargo_bin;
use piped::Run;

/// A walk from the first question to the last, as a person types it.
const ANSWERS: &[&str] = &[
    "A. Oak",
    "12 Example Lane",
    "B. Inspector",
    "2026-05-14",
    "us",
    "patio",
    "back patio",
    "12 ft x 30 ft",
    "severe",
    "rock salt",
    "good",
    "2011",
    "broom",
    "none",
    "on ground",
    "unknown",
    "4 in",
    "none",
    "6 ft, 6 ft by 3 x 10 ft",
    "none",
    "none",
    "scaling",
    "A1, A2",
    "5 ft x 8 ft",
    "4 ft, 6 ft",
    "showing",
    "none",
];

fn program() -> Command {
    let mut c = Command::new(cargo_bin("ringtrue"));
    c.env_remove("NO_COLOR");
    c
}

fn piped(folder: &Path, args: &[&str], lines: &[&str]) -> Run {
    piped::piped(program().current_dir(folder).args(args), lines)
}

fn text(folder: &Path, name: &str) -> String {
    std::fs::read_to_string(folder.join(name)).unwrap()
}

fn holds(haystack: &str, needle: &str) {
    assert!(
        haystack.contains(needle),
        "`{needle}` is not in:\n{haystack}"
    );
}

/// Answers whatever is asked until nothing is left: `unknown` where it is not known, `none` at lists.
fn to_the_end(folder: &Path, name: &str) -> Run {
    let mut lines = Vec::new();
    for _ in 0..120 {
        lines.push("none");
        lines.push("unknown");
    }
    piped(folder, &["walk", name], &lines)
}

#[test]
fn a_walk_ends_in_a_valid_record_with_remarks() {
    let folder = tempfile::tempdir().unwrap();
    let run = piped(folder.path(), &["walk", "job.yaml"], ANSWERS);
    assert_eq!((run.code, run.err.as_str()), (Some(0), ""));
    let record = text(folder.path(), "job.yaml");
    for line in [
        "  client: A. Oak",
        "  date: 2026-05-14",
        "  deicers: rock_salt              # deicer used on the slab",
        "  reinforcement: unknown          # reinforcement",
        "      rows: [10 ft, 10 ft, 10 ft]",
        "        panels: [A1, A2]",
        "        stones: showing           # coarse stones in the loss",
    ] {
        holds(&record, line);
    }
    let check = piped(folder.path(), &["check", "job.yaml"], &[]);
    assert_eq!(check.code, Some(0), "{}", check.out);
    let run = to_the_end(folder.path(), "job.yaml");
    assert_eq!(run.code, Some(0), "{}", run.err);
    holds(&run.out, "27 answers are kept");
    holds(&run.out, "Nothing is left to ask.");
    // A complete record leaves no journal behind, and still checks.
    assert!(!folder.path().join(".job.yaml.walk").exists());
    assert_eq!(
        piped(folder.path(), &["check", "job.yaml"], &[]).code,
        Some(0)
    );
    assert_eq!(
        piped(folder.path(), &["report", "job.yaml"], &[]).code,
        Some(0)
    );
    let record = text(folder.path(), "job.yaml");
    holds(&record, "# Flights of steps that start or end on the slab");
}

#[test]
fn outlines_joints_photos_readings_products_and_prices_are_taken_down() {
    let folder = tempfile::tempdir().unwrap();
    // The corner list goes where the size is asked for.
    let mut lines: Vec<&str> = ANSWERS[..7].to_vec();
    lines.push("0 ft, 0 ft; 12 ft, 0 ft; 12 ft, 20 ft; 0 ft, 16 ft");
    lines.extend(&ANSWERS[8..18]);
    lines.extend([
        "none",
        "isolation, 1/2 in",
        "control",
        "none",
        "none",
        "crack",
        "2 ft, 2 ft",
    ]);
    let run = piped(folder.path(), &["walk", "job.yaml"], &lines);
    assert_eq!(run.code, Some(0), "{}", run.err);
    // Everything else is opened by name, and answered when its turn comes.
    let run = in_turn(folder.path(), "job.yaml");
    assert_eq!(run.code, Some(0), "{}", run.err);
    let record = text(folder.path(), "job.yaml");
    for part in [
        "outline: [[0 ft, 0 ft], [12 ft, 0 ft], [12 ft, 20 ft], [0 ft, 16 ft]]",
        "kind: isolation",
        "width: 1/2 in",
        "kind: control",
        "file: crack.jpg",
        "caption: crack at the door",
        "slab: 35 F",
        "value: 5/8 in",
        "extent: 3 ft x 2 ft",
        "note: wider after every winter",
        "name: acrylic sealer",
        "people: 3",
        "currency: USD",
        "likely: '8'",
    ] {
        holds(&record, part);
    }
    let check = piped(folder.path(), &["check", "job.yaml"], &[]);
    assert!(
        check.code == Some(0) || check.out.contains("crack.jpg"),
        "{}",
        check.out
    );
    assert_eq!(
        piped(folder.path(), &["ask", "job.yaml", "--json"], &[]).code,
        Some(0)
    );
}

/// Answers the question that stands, whichever it is, until nothing is left: what was opened with
/// what the test knows of it, the rest with `unknown` or `none`.
fn in_turn(folder: &Path, name: &str) -> Run {
    let pack = ringtrue::rules::builtin().unwrap();
    let known = [
        ("photos?", "1, crack.jpg, crack at the door"),
        (
            ".readings",
            "2025-01-14 0.02 in at 35 F; 2025-07-10 0.03 in",
        ),
        (".levels", "2025-01-14 1/4 in; 2025-07-10 5/8 in"),
        (".patches", "4 ft, 6 ft, 3 ft x 2 ft"),
        ("remarks?", "1, wider after every winter"),
        ("materials?", "sealer, acrylic sealer"),
        ("crew.people", "3"),
        ("prices.currency", "USD"),
        (
            "prices.lines?",
            "repair, overlay, ft2, 6.50, 8, 11, every 8 years",
        ),
    ];
    let bytes = std::fs::read(folder.join(format!(".{name}.walk"))).unwrap();
    let journal = ringtrue::walk::Journal::read(&bytes).unwrap();
    let mut walk =
        ringtrue::walk::Walk::from(&pack, name, None, None, journal.base, journal.fresh).unwrap();
    assert_eq!(walk.replay(&journal.entries), 0);
    let mut lines: Vec<String> = [
        "photo",
        "reading 1",
        "levels",
        "patch",
        "remark",
        "product",
        "crew",
        "price",
    ]
    .map(|what| format!("add {what}"))
    .into();
    for line in &lines {
        walk.take(walk.add(line.trim_start_matches("add ")).unwrap())
            .unwrap();
    }
    let mut done = std::collections::HashSet::new();
    while let Some(q) = walk.questions().into_iter().next() {
        assert!(lines.len() < 400, "{lines:?}");
        let said = known
            .iter()
            .find(|(key, _)| q.key.ends_with(key))
            .map(|(_, said)| *said);
        let line = match said {
            Some(said) if done.insert(q.key.clone()) => said.to_owned(),
            _ if q.key.ends_with('?') => "none".to_owned(),
            _ => "unknown".to_owned(),
        };
        let entry = match line.as_str() {
            "unknown" => walk.unknown(&q),
            text => walk.answer(&q, text),
        };
        walk.take(entry.unwrap()).unwrap();
        lines.push(line);
    }
    let lines: Vec<&str> = lines.iter().map(String::as_str).collect();
    piped(folder, &["walk", name], &lines)
}

#[test]
fn the_verdict_firms_up_and_cautions_stand_before_the_hands() {
    let folder = tempfile::tempdir().unwrap();
    let run = piped(folder.path(), &["walk", "job.yaml"], ANSWERS);
    holds(&run.out, "kept: nothing wrong recorded yet");
    holds(&run.out, "verdicts possible");
    // The acid drop and the drill are warned of where the question stands.
    let question = run.out.find("Is there a sealer, a coating").unwrap();
    let answers = run.out[question..].find("bare concrete").unwrap();
    holds(
        &run.out[question..question + answers],
        "acid into water, never the reverse",
    );
    let question = run.out.find("How thick is the slab?").unwrap();
    holds(&run.out[question..], "CAUTION: Drilling throws dust");
    // The order a person walks.
    let places: Vec<usize> = ["== context ==", "== look =="]
        .iter()
        .map(|s| run.out.find(s).unwrap())
        .collect();
    assert!(places.is_sorted(), "{places:?}");
}

#[test]
fn a_slip_is_told_kindly_and_asked_again() {
    let folder = tempfile::tempdir().unwrap();
    let mut lines: Vec<&str> = ANSWERS[..16].to_vec();
    lines.extend(["4", "?", "4 kg", "4 in", "back", "5 in", "stop"]);
    let run = piped(folder.path(), &["walk", "job.yaml"], &lines);
    holds(&run.out, "a bare number needs its unit");
    holds(&run.out, "write `4 in` or `4 mm`, whichever it is");
    holds(&run.out, "Dig at a free edge");
    holds(&run.out, "taken back: 4 in");
    let record = text(folder.path(), "job.yaml");
    holds(&record, "thickness: 5 in");
    assert!(!record.contains("4 in"), "{record}");
    // A day that does not exist, a date to come, a word that is none.
    let mut lines = ANSWERS[..3].to_vec();
    lines.extend([
        "2026-02-30",
        "2099-01-01",
        "2026-05-14",
        "us",
        "patioo",
        "patio",
        "stop",
    ]);
    let other = tempfile::tempdir().unwrap();
    let run = piped(other.path(), &["walk", "job.yaml"], &lines);
    holds(&run.out, "`2026-02-30` is no day");
    holds(&run.out, "still to come");
    holds(&run.out, "did you mean `patio`?");
}

#[test]
fn going_on_with_a_record_asks_only_what_is_missing_and_keeps_its_layout() {
    let folder = tempfile::tempdir().unwrap();
    let sample = std::fs::read_to_string("samples/patio-new.yaml").unwrap();
    // The reinforcement is not known; everything else of the sample stays as it is.
    let record: String = sample
        .lines()
        .filter(|l| !l.trim_start().starts_with("reinforcement:"))
        .map(|l| l.to_owned() + "\n")
        .collect();
    assert_ne!(record, sample);
    std::fs::write(folder.path().join("job.yaml"), &record).unwrap();
    let left = piped(folder.path(), &["walk", "job.yaml", "--left"], &[]);
    holds(&left.out, "What steel is in the slab?");
    assert!(
        !left.out.contains("What is the slab used for?"),
        "{}",
        left.out
    );
    let run = piped(folder.path(), &["walk", "job.yaml"], &["mesh", "stop"]);
    assert_eq!(run.code, Some(0), "{}", run.err);
    holds(&run.out, "What steel is in the slab?");
    let after = text(folder.path(), "job.yaml");
    let new: Vec<&str> = after
        .lines()
        .filter(|l| !record.lines().any(|r| r == *l))
        .collect();
    assert_eq!(new.len(), 1, "{new:?}");
    assert!(
        new[0].trim_start().starts_with("reinforcement: mesh"),
        "{new:?}"
    );
    for line in record.lines() {
        assert!(after.lines().any(|l| l == line), "lost: {line}");
    }
}

#[test]
fn a_record_with_problems_is_refused_and_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(
        folder.path().join("job.yaml"),
        "ringtrue: 1\njob: {client: A}\n",
    )
    .unwrap();
    let run = piped(folder.path(), &["walk", "job.yaml"], &["x"]);
    assert_eq!(run.code, Some(1));
    holds(&run.err, "job.yaml:2");
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
    // A folder, standard input, a journal that is none.
    assert_eq!(piped(folder.path(), &["walk", "."], &[]).code, Some(2));
    assert_eq!(piped(folder.path(), &["walk", "-"], &[]).code, Some(2));
    std::fs::write(folder.path().join(".new.yaml.walk"), "not a journal\n").unwrap();
    let run = piped(folder.path(), &["walk", "new.yaml"], &[]);
    assert_eq!(run.code, Some(2));
    holds(&run.err, "move it away");
}

#[test]
fn a_record_changed_by_hand_between_two_walks_counts() {
    let folder = tempfile::tempdir().unwrap();
    piped(folder.path(), &["walk", "job.yaml"], ANSWERS);
    let record = text(folder.path(), "job.yaml").replace("thickness: 4 in", "thickness: 6 in");
    std::fs::write(folder.path().join("job.yaml"), &record).unwrap();
    let run = piped(folder.path(), &["walk", "job.yaml"], &["stop"]);
    holds(&run.out, "only what is missing is asked");
    assert_eq!(text(folder.path(), "job.yaml"), record);
}

#[test]
fn a_second_walk_on_the_same_record_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let mut first = Live::start(folder.path());
    first.wait_for("Who asked");
    let run = piped(folder.path(), &["walk", "job.yaml"], &["x"]);
    assert_eq!(run.code, Some(2));
    holds(&run.err, "another walk is open");
    first.child.kill().unwrap();
    first.child.wait().unwrap();
}

/// A walk that is talked to while it runs.
struct Live {
    child: Child,
    out: BufReader<std::process::ChildStdout>,
    seen: String,
}

impl Live {
    fn start(folder: &Path) -> Live {
        let mut child = program()
            .current_dir(folder)
            .args(["walk", "job.yaml"])
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let out = BufReader::new(child.stdout.take().unwrap());
        Live {
            child,
            out,
            seen: String::new(),
        }
    }

    fn wait_for(&mut self, what: &str) {
        let mut byte = [0];
        while !self.seen.contains(what) {
            assert!(self.out.read(&mut byte).unwrap() > 0, "{}", self.seen);
            self.seen.push(char::from(byte[0]));
        }
    }
}

/// Small numbers that look random and are the same every time (xorshift).
fn dice(state: &mut u64) -> u64 {
    *state ^= *state << 13;
    *state ^= *state >> 7;
    *state ^= *state << 17;
    *state
}

#[test]
fn killed_at_any_moment_it_loses_at_most_the_answer_being_typed() {
    // What an undisturbed walk writes.
    let whole = tempfile::tempdir().unwrap();
    piped(whole.path(), &["walk", "job.yaml"], ANSWERS);
    let wanted = text(whole.path(), "job.yaml");
    // Two at a time, since most of a walk is waiting for the typist.
    let kills: usize = std::thread::scope(|s| {
        let halves: Vec<_> = (0..2)
            .map(|half| {
                s.spawn({
                    let wanted = &wanted;
                    move || killed(9, half, wanted)
                })
            })
            .collect();
        halves.into_iter().map(|h| h.join().unwrap()).sum()
    });
    assert_eq!(kills, 2 * 9 * 2);
}

/// A limit on the size of a file stands for a disk that fills in the middle of a walk.
#[cfg(unix)]
#[test]
fn when_the_disk_is_full_it_says_so_and_all_that_was_kept_is_there_later() {
    // In blocks of 512 bytes: too little for the journal's head, for some answers, for the record.
    for blocks in [1, 2, 3, 5] {
        let folder = tempfile::tempdir().unwrap();
        let script = format!("trap '' XFSZ; ulimit -f {blocks}; exec \"$@\"");
        let mut command = Command::new("sh");
        command
            .current_dir(folder.path())
            .args(["-c", &script, "sh"])
            .arg(cargo_bin("ringtrue"))
            .args(["walk", "job.yaml"]);
        let run = piped::piped(&mut command, ANSWERS);
        assert_eq!(run.code, Some(2), "{blocks}: {}", run.err);
        holds(&run.err, "write");
        // What is on the disk can be gone on with, and what was not answered is asked again.
        let kept = run.out.matches("  kept: ").count();
        let run = piped(folder.path(), &["walk", "job.yaml"], &["stop"]);
        assert_eq!(run.code, Some(0), "{blocks}: {}", run.err);
        if kept > 0 {
            // The last one may have come into the journal and not into the record.
            let said = |n: usize| run.out.contains(&format!("{n} answers are kept"));
            assert!(
                said(kept) || said(kept + 1),
                "{blocks}: {kept}, {}",
                run.out
            );
        }
    }
}

/// Walks in so many folders, each killed twice on the way and gone on with; how often it was killed.
fn killed(folders: usize, half: u64, wanted: &str) -> usize {
    let mut state = 0x9E37_79B9_7F4A_7C15 ^ half;
    let mut kills = 0;
    for _ in 0..folders {
        let folder = tempfile::tempdir().unwrap();
        let mut acknowledged = 0;
        for round in 0..3 {
            let answered = answers_kept(folder.path());
            assert!(
                answered >= acknowledged,
                "{answered} answers are kept, {acknowledged} were acknowledged"
            );
            assert!(answered <= ANSWERS.len());
            let mut child = program()
                .current_dir(folder.path())
                .args(["walk", "job.yaml"])
                .stdin(Stdio::piped())
                .stdout(Stdio::piped())
                .stderr(Stdio::null())
                .spawn()
                .unwrap();
            let mut input = child.stdin.take().unwrap();
            let rest: Vec<String> = ANSWERS[answered..]
                .iter()
                .map(|a| format!("{a}\n"))
                .collect();
            let typing = std::thread::spawn(move || {
                for line in rest {
                    // In two halves, so that a kill can come in the middle of a line.
                    let (a, b) = line.split_at(line.len() / 2);
                    if input.write_all(a.as_bytes()).is_err() || input.flush().is_err() {
                        return;
                    }
                    std::thread::sleep(Duration::from_millis(1));
                    if input.write_all(b.as_bytes()).is_err() {
                        return;
                    }
                }
            });
            let out = BufReader::new(child.stdout.take().unwrap());
            let reading = std::thread::spawn(move || {
                out.lines()
                    .map_while(Result::ok)
                    .filter(|l| l.contains("  kept: "))
                    .count()
            });
            if round < 2 {
                std::thread::sleep(Duration::from_millis(5 + dice(&mut state) % 300));
                child.kill().unwrap(); // SIGKILL
                kills += 1;
            }
            child.wait().unwrap();
            typing.join().unwrap();
            let seen = reading.join().unwrap();
            acknowledged = answered + seen;
        }
        assert_eq!(text(folder.path(), "job.yaml"), wanted);
        let left_over: Vec<PathBuf> = std::fs::read_dir(folder.path())
            .unwrap()
            .map(|e| e.unwrap().path())
            .filter(|p| p.extension().is_some_and(|e| e == "yaml"))
            .collect();
        assert_eq!(left_over.len(), 1, "{left_over:?}");
    }
    kills
}

/// Answers in the journal.
fn answers_kept(folder: &Path) -> usize {
    let bytes = std::fs::read(folder.join(".job.yaml.walk")).unwrap_or_default();
    ringtrue::walk::Journal::read(&bytes).map_or(0, |j| j.entries.len())
}
