//! Walks and drills typed at a real terminal (a pty).
#![cfg(unix)]

use std::path::Path;
use std::process::Command;

use assert_cmd::cargo::cargo_bin;
use rexpect::session::{PtySession, spawn_command};

fn at_terminal(folder: &Path, args: &[&str], plain: bool) -> PtySession {
    let mut command = Command::new(cargo_bin("ringtrue"));
    command
        .current_dir(folder)
        .args(args)
        .env("TERM", "xterm")
        .env_remove("NO_COLOR");
    if plain {
        command.env("NO_COLOR", "1");
    }
    spawn_command(command, Some(20_000)).unwrap()
}

#[test]
fn a_walk_is_typed_stopped_and_gone_on_with() {
    let folder = tempfile::tempdir().unwrap();
    let mut t = at_terminal(folder.path(), &["walk", "job.yaml"], true);
    for (ask, answer) in [
        ("Who asked for the inspection?", "A. Oak"),
        ("Where is the slab?", "12 Example Lane"),
        ("Who walks the slab?", "B. Inspector"),
        ("Nothing typed takes the day shown.", ""),
        ("Which units", "us"),
        ("What is the slab used for?", "drive"),
        ("What do people call this slab", "drive"),
        ("width by length?", "20 x 40"),
        ("whichever it is", "20 ft x 40 ft"),
        ("How hard are the winters", "stop"),
    ] {
        t.exp_string(ask).unwrap();
        t.exp_string("> ").unwrap();
        t.send_line(answer).unwrap();
    }
    t.exp_string("holds all 8 answers").unwrap();
    t.exp_eof().unwrap();
    let record = std::fs::read_to_string(folder.path().join("job.yaml")).unwrap();
    assert!(record.contains("size: 20 ft x 40 ft"), "{record}");
    let mut t = at_terminal(folder.path(), &["walk", "job.yaml"], true);
    t.exp_string("8 answers are kept").unwrap();
    t.exp_string("How hard are the winters").unwrap();
    t.send_line("unknown").unwrap();
    t.exp_string("What is spread on the slab").unwrap();
    // Control-C in the middle of an answer costs that answer only.
    t.send("rock").unwrap();
    t.send_control('c').unwrap();
    t.exp_eof().unwrap();
    let record = std::fs::read_to_string(folder.path().join("job.yaml")).unwrap();
    assert!(
        record.contains("weathering: unknown") && !record.contains("deicers"),
        "{record}"
    );
}

#[test]
fn colour_stands_on_a_terminal_and_not_where_it_is_refused() {
    for plain in [false, true] {
        let folder = tempfile::tempdir().unwrap();
        let mut t = at_terminal(folder.path(), &["walk", "job.yaml"], plain);
        let before = t.exp_string("Who asked for the inspection?").unwrap();
        assert_eq!(before.contains('\u{1b}'), !plain, "{before:?}");
        t.send_line("stop").unwrap();
        t.exp_string("Nothing was answered").unwrap();
        t.exp_eof().unwrap();
    }
}
