//! The program run as a person runs it.

use std::path::Path;
use std::process::{Command, Output};

/// The program run in a folder.
pub fn ringtrue(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_ringtrue"))
        .current_dir(folder)
        .args(arguments)
        .output()
        .unwrap()
}

/// What it printed.
pub fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}
