//! Whatever the program writes is there whole or not at all: killed at any moment, and on a full
//! disk. `tests/walk.rs` does the same to a walk.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::process::{Child, Command, Output, Stdio};
use std::time::{Duration, Instant};

use assert_cmd::cargo::cargo_bin;

/// What stands in a file before it is written over.
const OLD: &[u8] = b"what stood here before\n";

/// Where the records lie while a command runs.
const RECORDS: [&str; 4] = [
    "terrace.yaml",
    "drive-scaled.yaml",
    "drive-scaled.forecast.csv",
    "photos",
];

/// A command that writes files.
struct Job {
    /// Arguments, without `--force`.
    args: &'static [&'static str],
    /// Lines typed at it.
    typed: &'static str,
    /// Files it writes, in the order it puts them in place.
    writes: &'static [&'static str],
    /// Whether it can be told to write over a file.
    force: bool,
    /// How often it is killed.
    kills: usize,
}

fn job(args: &'static [&'static str], writes: &'static [&'static str]) -> Job {
    Job {
        args,
        typed: "",
        writes,
        force: true,
        kills: kills(20),
    }
}

/// So often, or `KILLS` times as often: `KILLS=10 cargo test --test kills`.
fn kills(usual: usize) -> usize {
    let times = std::env::var("KILLS").ok().and_then(|k| k.parse().ok());
    usual * times.unwrap_or(1)
}

/// Every command that writes a file, but for `walk`.
fn jobs() -> Vec<Job> {
    let mut jobs = vec![
        Job {
            kills: kills(12),
            ..job(&["report", "terrace.yaml", "-o", "o.html"], &["o.html"])
        },
        Job {
            kills: kills(4),
            ..job(
                &["report", "terrace.yaml", "--format", "data"],
                &["terrace.json"],
            )
        },
        job(&["proposal", "terrace.yaml", "-o", "o.html"], &["o.html"]),
        job(&["crew", "terrace.yaml", "-o", "o.html"], &["o.html"]),
        job(
            &[
                "plan",
                "drive-scaled.yaml",
                "-o",
                "o.html",
                "--ics",
                "o.ics",
            ],
            &["o.html", "o.ics"],
        ),
        job(
            &[
                "compare",
                "terrace.yaml",
                "drive-scaled.yaml",
                "-o",
                "o.html",
            ],
            &["o.html"],
        ),
        Job {
            kills: kills(4),
            ..job(&["why", "terrace.yaml", "--graph", "o.svg"], &["o.svg"])
        },
        job(&["field", "terrace.yaml", "-o", "o.html"], &["o.html"]),
        job(&["guide", "-o", "o.html"], &["o.html"]),
        job(&["schema", "-o", "o.json"], &["o.json"]),
        job(&["starter", "o.yaml"], &["o.yaml"]),
        job(&["rules", "export", "-o", "o.dmn"], &["o.dmn"]),
        job(&["rules", "handbook", "-o", "o.html"], &["o.html"]),
        job(&["rules", "graph", "-o", "o.svg"], &["o.svg"]),
        Job {
            force: false,
            ..job(&["drill", "--write-lesson", "o.yaml"], &["o.yaml"])
        },
    ];
    if cfg!(feature = "pdf") {
        jobs.push(Job {
            kills: kills(4),
            ..job(
                &["crew", "terrace.yaml", "--format", "both", "-o", "o.html"],
                &["o.html", "o.pdf"],
            )
        });
    }
    jobs
}

/// The scores are written over unasked: they are the program's own.
fn drill() -> Job {
    Job {
        typed: "answer\n1\n1\n",
        force: false,
        ..job(&["drill", "--scores", "o.yaml"], &["o.yaml"])
    }
}

fn start(folder: &Path, job: &Job, force: bool) -> Child {
    use std::io::Write;
    let mut child = Command::new(cargo_bin("ringtrue"))
        .current_dir(folder)
        .args(job.args)
        .args(force.then_some("--force"))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // A program that ends at once closes its input.
    let _ = child.stdin.take().unwrap().write_all(job.typed.as_bytes());
    child
}

/// A folder with the records in it.
fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
    for name in RECORDS {
        copy(&samples.join(name), &folder.path().join(name));
    }
    folder
}

fn copy(from: &Path, to: &Path) {
    if from.is_dir() {
        fs::create_dir(to).unwrap();
        for entry in fs::read_dir(from).unwrap() {
            let entry = entry.unwrap();
            copy(&entry.path(), &to.join(entry.file_name()));
        }
    } else {
        fs::copy(from, to).unwrap();
    }
}

/// The files of a folder that are no records, and what stands in them.
fn written(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap())
        .map(|e| (e.file_name().into_string().unwrap(), e.path()))
        .filter(|(name, _)| !RECORDS.contains(&name.as_str()))
        .map(|(name, path)| (name, fs::read(path).unwrap()))
        .collect()
}

/// Whether a name is that of a file which is not in its place yet.
fn temporary(name: &str) -> bool {
    name.starts_with(".ringtrue-") && name.ends_with(".part")
}

/// Small numbers that look random (xorshift).
fn dice(state: &mut u64, below: u64) -> u64 {
    *state ^= *state << 13;
    *state ^= *state >> 7;
    *state ^= *state << 17;
    *state % below.max(1)
}

/// Kills a command again and again; how often it was running still.
fn killed(job: &Job, seed: u64) -> usize {
    let force = job.force;
    let told = format!("{:?}", job.args);
    let at = folder();
    let at = at.path();
    let began = Instant::now();
    let out = start(at, job, false).wait_with_output().unwrap();
    assert!(out.status.success(), "{told}: {out:?}");
    let usual = u64::try_from(began.elapsed().as_micros()).unwrap();
    let whole = written(at);
    assert!(whole.keys().eq(job.writes.iter()), "{told}: {whole:?}");
    let mut state = 0x9e37_79b9 + seed;
    let mut kills = 0;
    for turn in 0..job.kills {
        let over = force && turn % 2 == 1;
        for name in job.writes {
            let path = at.join(name);
            match over {
                true => fs::write(path, OLD).unwrap(),
                false if path.exists() => fs::remove_file(path).unwrap(),
                false => {}
            }
        }
        let mut child = start(at, job, over);
        if turn % 4 < 2 {
            // At any moment.
            std::thread::sleep(Duration::from_micros(dice(&mut state, usual * 11 / 10)));
        } else {
            // While a file is being written: some moments after it has appeared.
            let before: Vec<String> = written(at).into_keys().collect();
            while child.try_wait().unwrap().is_none()
                && !fs::read_dir(at).unwrap().any(|e| {
                    let name = e.unwrap().file_name().into_string().unwrap();
                    temporary(&name) && !before.contains(&name)
                })
            {
                std::thread::sleep(Duration::from_micros(100));
            }
            std::thread::sleep(Duration::from_micros(dice(&mut state, 2000)));
        }
        // It may have ended by itself.
        let _ = child.kill();
        kills += usize::from(!child.wait_with_output().unwrap().status.success());
        let now = written(at);
        for name in job.writes {
            let found = now.get(*name).map(Vec::as_slice);
            let there = found == whole.get(*name).map(Vec::as_slice);
            let untouched = found == over.then_some(OLD);
            assert!(there || untouched, "{told}: {name} is half-written");
        }
        let strays = now.keys().filter(|n| temporary(n)).count();
        assert!(strays <= job.writes.len(), "{told}: {:?}", now.keys());
        for name in now.keys() {
            let known = job.writes.contains(&name.as_str()) || temporary(name);
            assert!(known, "{told}: {name} is left");
        }
    }
    // The next run takes away what was left, and its files are as ever.
    for name in job.writes {
        let _ = fs::remove_file(at.join(name));
    }
    let out = start(at, job, false).wait_with_output().unwrap();
    assert!(out.status.success(), "{told}: {out:?}");
    assert_eq!(written(at), whole, "{told}");
    kills
}

#[test]
fn killed_at_any_moment_every_file_is_whole_or_absent_or_as_it_was() {
    let jobs = jobs();
    // Two at a time: much of it is waiting.
    let kills: usize = std::thread::scope(|s| {
        let halves: Vec<_> = (0..2)
            .map(|half| {
                let jobs = &jobs;
                s.spawn(move || {
                    let mine = jobs.iter().enumerate().skip(half).step_by(2);
                    mine.map(|(i, job)| killed(job, i as u64)).sum::<usize>()
                })
            })
            .collect();
        halves.into_iter().map(|h| h.join().unwrap()).sum()
    });
    println!("killed {kills} times while running");
    let turns: usize = jobs.iter().map(|j| j.kills).sum();
    assert!(kills * 2 > turns, "only {kills} of {turns} were running");
}

#[test]
fn the_scores_of_a_drill_are_the_old_or_the_new() {
    let job = drill();
    let at = folder();
    let at = at.path();
    let scores = |at: &Path| fs::read(at.join("o.yaml")).unwrap();
    let play = || {
        let out = start(at, &job, false).wait_with_output().unwrap();
        assert!(out.status.success(), "{out:?}");
    };
    play();
    let first = scores(at);
    let began = Instant::now();
    play();
    let usual = u64::try_from(began.elapsed().as_micros()).unwrap();
    let second = scores(at);
    assert_ne!(first, second);
    let mut state = 7;
    for _ in 0..kills(16) {
        fs::write(at.join("o.yaml"), &first).unwrap();
        let mut child = start(at, &job, false);
        std::thread::sleep(Duration::from_micros(dice(&mut state, usual * 11 / 10)));
        let _ = child.kill();
        child.wait_with_output().unwrap();
        let now = scores(at);
        assert!(now == first || now == second);
    }
}

/// What a command that finds no room must do: say so, end with 2, leave all as it was.
#[cfg(unix)]
fn no_room(job: &Job, out: &Output, left: &BTreeMap<String, Vec<u8>>, before: Option<&[u8]>) {
    let told = format!("{:?}", job.args);
    let said = String::from_utf8_lossy(&out.stderr);
    assert_eq!(out.status.code(), Some(2), "{told}: {said}");
    assert!(said.contains("no room to write"), "{told}: {said}");
    let wanted: BTreeMap<String, Vec<u8>> = before
        .iter()
        .flat_map(|old| job.writes.iter().map(|n| ((*n).to_owned(), old.to_vec())))
        .collect();
    assert_eq!(left, &wanted, "{told}");
}

/// A limit on the size of a file stands for a full disk; it needs no rights.
#[cfg(unix)]
#[test]
fn with_no_room_for_a_file_nothing_is_changed_and_it_says_so() {
    // Larger than the limit of 4 blocks of 512 bytes are all of them.
    for job in jobs().iter().filter(|j| !j.args.contains(&"both")) {
        for over in [false, true] {
            let at = folder();
            let at = at.path();
            let over = over && job.force;
            if over {
                for name in job.writes {
                    fs::write(at.join(name), OLD).unwrap();
                }
            }
            let out = Command::new("sh")
                .current_dir(at)
                // The signal that a limit sends would end the program; a full disk sends none.
                .args(["-c", "trap '' XFSZ; ulimit -f 4; exec \"$@\"", "sh"])
                .arg(cargo_bin("ringtrue"))
                .args(job.args)
                .args(over.then_some("--force"))
                .stdin(Stdio::null())
                .output()
                .unwrap();
            no_room(job, &out, &written(at), over.then_some(OLD));
        }
    }
}

/// The same on a disk that is really full, where this test may mount a small one in memory.
#[cfg(target_os = "linux")]
#[test]
fn on_a_full_disk_nothing_is_changed_and_it_says_so() {
    // In a space of its own, so that the disk goes with the program.
    let script = "\
        mount -t tmpfs -o size=64k tmpfs disk || exit 77
        printf 'what stood here before\\n' > disk/o.html
        cp terrace.yaml disk
        cd disk
        \"$@\" report terrace.yaml -o o.html --force
        code=$?
        ls -A
        cat o.html
        exit $code";
    let at = folder();
    let at = at.path();
    fs::create_dir(at.join("disk")).unwrap();
    let out = Command::new("unshare")
        .current_dir(at)
        .args(["--mount", "sh", "-c", script, "sh"])
        .arg(cargo_bin("ringtrue"))
        .stdin(Stdio::null())
        .output();
    let Ok(out) = out else {
        println!("left out: there is no `unshare` here");
        return;
    };
    let said = String::from_utf8_lossy(&out.stderr);
    if out.status.code() == Some(77) || said.starts_with("unshare:") {
        println!("left out: no disk may be mounted here ({})", said.trim());
        return;
    }
    assert_eq!(out.status.code(), Some(2), "{said}");
    assert!(said.contains("no room to write o.html"), "{said}");
    let shown = String::from_utf8_lossy(&out.stdout);
    assert_eq!(shown, "o.html\nterrace.yaml\nwhat stood here before\n");
}

#[cfg(target_os = "linux")]
#[test]
fn where_nothing_more_can_be_printed_it_ends_with_2_and_no_panic() {
    let at = folder();
    let full = || {
        Stdio::from(
            fs::OpenOptions::new()
                .write(true)
                .open("/dev/full")
                .unwrap(),
        )
    };
    for args in [
        &["report", "terrace.yaml", "-o", "-"][..],
        &["report", "terrace.yaml", "--summary"],
        &["plan", "terrace.yaml"],
        &["rules", "list"],
        &["rules", "graph", "-o", "o.svg"],
        &["why", "terrace.yaml", "--graph", "why.svg"],
        &["starter"],
        &["manual"],
        &["walk", "new.yaml"],
        &["drill", "--scores", "s.yaml"],
    ] {
        let mut command = Command::new(cargo_bin("ringtrue"));
        command.current_dir(at.path()).args(args);
        let out = command
            .stdin(Stdio::null())
            .stdout(full())
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&out.stderr);
        assert_eq!(out.status.code(), Some(2), "{args:?}: {said}");
        assert!(!said.contains("panicked"), "{args:?}: {said}");
        let mut command = Command::new(cargo_bin("ringtrue"));
        command.current_dir(at.path()).args(args);
        let out = command
            .stdin(Stdio::null())
            .stderr(full())
            .output()
            .unwrap();
        assert!(out.status.code().is_some_and(|c| c <= 2), "{args:?}");
    }
    // A record with problems and nobody to tell them to.
    fs::write(at.path().join("bad.yaml"), "ringtrue: 1\n").unwrap();
    let status = Command::new(cargo_bin("ringtrue"))
        .current_dir(at.path())
        .args(["check", "bad.yaml"])
        .stderr(full())
        .status()
        .unwrap();
    assert_eq!(status.code(), Some(1));
}

/// Rows for a run on two cores of more than the second after which a checkpoint is written, on quick
/// machines too.
const LONG: usize = if cfg!(debug_assertions) {
    500_000
} else {
    5_000_000
};

/// A folder with an inventory of so many rows, of few kinds: what counts is how long it is.
fn inventory(rows: usize) -> tempfile::TempDir {
    let at = tempfile::tempdir().unwrap();
    let kinds = ["", r#","kind":"lip","offset":"1-1/4 in""#];
    let text: String = (0..rows)
        .map(|i| {
            let kind = kinds[i * 7 % 11 % 2];
            format!("{{\"id\":{i},\"date\":\"2026-05-14\",\"use\":\"walk\",\"size\":\"5 ft x 5 ft\",\"lat\":43.{i:06},\"lon\":-89.4{kind}}}\n")
        })
        .collect();
    fs::write(at.path().join("m.ndjson"), text).unwrap();
    at
}

/// A survey of that inventory, with a page.
fn survey(at: &Path, more: &[&str]) -> Command {
    let mut command = Command::new(cargo_bin("ringtrue"));
    command
        .current_dir(at)
        .args(["survey", "m.ndjson", "-o", "o.geojson", "--page", "o.html"])
        .args(["--cores", "2"])
        .args(more)
        .stdin(Stdio::null());
    command
}

/// Unlike the other commands it keeps what it has done so far, under a name that says so.
#[test]
fn a_survey_killed_at_any_moment_is_a_part_by_name_and_goes_on_to_the_same_bytes() {
    let at = inventory(LONG);
    let at = at.path();
    let began = Instant::now();
    let out = survey(at, &[]).output().unwrap();
    assert!(out.status.success(), "{out:?}");
    let usual = u64::try_from(began.elapsed().as_micros()).unwrap();
    let read = |name: &str| fs::read(at.join(name)).ok();
    let whole = (read("o.geojson"), read("o.html"));
    let (mut state, mut kills, mut resumed) = (11, 0, 0);
    let clear = || {
        for name in ["o.geojson", "o.html"] {
            let _ = fs::remove_file(at.join(name));
        }
    };
    clear();
    for _ in 0..self::kills(24) {
        // Killed in a run that was taken up as well as in one that was begun.
        let on = at.join("o.geojson.partial").exists();
        let more: &[&str] = if on { &["--resume"] } else { &[] };
        let mut child = survey(at, more)
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        // Less is left to do behind a checkpoint.
        let longest = match at.join("o.geojson.partial.state").exists() {
            true => usual * 2 / 3,
            false => usual * 11 / 10,
        };
        std::thread::sleep(Duration::from_micros(dice(&mut state, longest)));
        let _ = child.kill();
        let ended = child.wait().unwrap();
        kills += usize::from(!ended.success());
        for (name, whole) in [("o.geojson", &whole.0), ("o.html", &whole.1)] {
            let now = read(name);
            assert!(now.is_none() || now == *whole, "{name} is half-written");
        }
        if read("o.geojson").is_some() {
            // Killed between the two, the page can be had by a new run only.
            let _ = fs::remove_file(at.join("o.geojson.partial"));
            clear();
        } else {
            resumed += usize::from(at.join("o.geojson.partial.state").exists());
        }
    }
    println!("killed {kills} times while running, {resumed} of them behind a checkpoint");
    assert!(kills >= self::kills(6) && resumed > 0, "{kills}, {resumed}");
    let out = survey(at, &["--resume"]).output().unwrap();
    assert!(out.status.success(), "{out:?}");
    assert!((read("o.geojson"), read("o.html")) == whole);
    for entry in fs::read_dir(at).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        assert!(
            ["m.ndjson", "o.geojson", "o.html"].contains(&name.as_str()),
            "{name}"
        );
    }
}

/// A limit on the size of a file stands for a full disk, as above.
#[cfg(unix)]
#[test]
fn a_survey_that_finds_no_room_says_so_and_is_never_taken_for_complete() {
    let at = inventory(LONG);
    let at = at.path();
    let limited = |blocks: &str, more: &[&str]| {
        let mut args = vec!["-c", "trap '' XFSZ; ulimit -f $0; exec \"$@\"", blocks];
        let program = cargo_bin("ringtrue");
        args.push(program.to_str().unwrap());
        args.extend(["survey", "m.ndjson", "-o", "o.geojson"]);
        args.extend_from_slice(more);
        let out = Command::new("sh")
            .current_dir(at)
            .args(args)
            .stdin(Stdio::null())
            .output()
            .unwrap();
        (out.status.code(), String::from_utf8(out.stderr).unwrap())
    };
    // No room for the first results: nothing is left, so nothing stands in the way of the next run.
    let (code, said) = limited("8", &[]);
    assert_eq!(code, Some(2), "{said}");
    assert!(said.contains("no room to write o.geojson"), "{said}");
    assert_eq!(fs::read_dir(at).unwrap().count(), 1, "{said}");
    // With an old file in the place, that stays.
    fs::write(at.join("o.geojson"), OLD).unwrap();
    let (code, _) = limited("8", &["--force"]);
    assert_eq!(code, Some(2));
    assert_eq!(fs::read(at.join("o.geojson")).unwrap(), OLD);
    fs::remove_file(at.join("o.geojson")).unwrap();
    // No room behind a checkpoint: a run is killed there, then taken up where there is no more room.
    let mut child = survey(at, &[]).stdout(Stdio::null()).spawn().unwrap();
    while !at.join("o.geojson.partial.state").exists() && child.try_wait().unwrap().is_none() {
        std::thread::sleep(Duration::from_millis(2));
    }
    child.kill().unwrap();
    child.wait().unwrap();
    assert!(!at.join("o.geojson").exists(), "give it more rows");
    let (code, said) = limited("8", &["--resume"]);
    assert_eq!(code, Some(2), "{said}");
    assert!(
        said.contains("no room to write o.geojson")
            && said.contains("is in o.geojson.partial")
            && said.contains("`--resume`"),
        "{said}"
    );
    assert!(!at.join("o.geojson").exists());
    // Room is made.
    let out = survey(at, &["--resume"]).output().unwrap();
    assert!(out.status.success(), "{out:?}");
    let resumed = fs::read(at.join("o.geojson")).unwrap();
    assert!(!at.join("o.geojson.partial").exists());
    let out = survey(at, &["--force"]).output().unwrap();
    assert!(out.status.success(), "{out:?}");
    assert!(fs::read(at.join("o.geojson")).unwrap() == resumed);
}

#[cfg(target_os = "linux")]
#[test]
fn a_survey_with_nowhere_to_print_does_not_panic() {
    let at = inventory(50);
    fs::write(at.path().join("bad.ndjson"), "no row\n").unwrap();
    let full = || Stdio::from(fs::File::options().write(true).open("/dev/full").unwrap());
    for (args, out, err, code) in [
        (&["m.ndjson", "-o", "-"][..], full(), Stdio::piped(), 2),
        (&["m.ndjson"], full(), Stdio::piped(), 2),
        (&["bad.ndjson"], Stdio::null(), full(), 1),
        (
            &["bad.ndjson", "m.ndjson", "-o", "-"],
            Stdio::null(),
            full(),
            1,
        ),
    ] {
        let out = Command::new(cargo_bin("ringtrue"))
            .current_dir(at.path())
            .arg("survey")
            .args(args)
            .stdin(Stdio::null())
            .stdout(out)
            .stderr(err)
            .output()
            .unwrap();
        assert_eq!(out.status.code(), Some(code), "{args:?}: {out:?}");
    }
}
