//! The program with lines typed into it through a pipe.

use std::io::Write;
use std::process::{Command, Stdio};

/// What a run said and how it ended.
pub struct Run {
    pub out: String,
    pub err: String,
    pub code: Option<i32>,
}

/// Runs a command to its end with these lines typed.
pub fn piped(command: &mut Command, lines: &[&str]) -> Run {
    let mut child = command
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut input = child.stdin.take().unwrap();
    // The program may end before it has read everything.
    let _ = input.write_all((lines.join("\n") + "\n").as_bytes());
    drop(input);
    let done = child.wait_with_output().unwrap();
    Run {
        out: String::from_utf8(done.stdout).unwrap(),
        err: String::from_utf8(done.stderr).unwrap(),
        code: done.status.code(),
    }
}
