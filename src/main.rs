//! The `ringtrue` program.

use std::process::ExitCode;

fn main() -> ExitCode {
    ringtrue::cli::main()
}
