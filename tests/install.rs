//! One program is all there is to install: it carries its rules, templates, completions and manual
//! pages, and needs nothing of the machine it runs on.

use std::fs;
use std::path::Path;
use std::process::{Command, Output, Stdio};

use assert_cmd::cargo::cargo_bin;
use clap::CommandFactory;

fn ringtrue(folder: &Path, args: &[&str]) -> Output {
    Command::new(cargo_bin("ringtrue"))
        .current_dir(folder)
        .args(args)
        .output()
        .unwrap()
}

/// Every command as typed behind the program's name, and its long options; the program first.
fn commands() -> Vec<(Vec<String>, Vec<String>)> {
    fn gather(
        command: &clap::Command,
        typed: &[String],
        out: &mut Vec<(Vec<String>, Vec<String>)>,
    ) {
        let options = command
            .get_arguments()
            .filter_map(|a| a.get_long().map(str::to_owned))
            .collect();
        out.push((typed.to_vec(), options));
        for below in command.get_subcommands() {
            let mut typed = typed.to_vec();
            typed.push(below.get_name().to_owned());
            gather(below, &typed, out);
        }
    }
    let mut tree = ringtrue::cli::Cli::command().disable_help_subcommand(true);
    tree.build();
    let mut out = Vec::new();
    gather(&tree, &[], &mut out);
    out
}

#[test]
fn every_command_has_its_manual_page_with_all_its_options() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let out = ringtrue(at, &["manual", "--into", "man"]);
    assert!(out.status.success(), "{out:?}");
    let commands = commands();
    assert!(commands.len() > 20, "{}", commands.len());
    for (typed, options) in &commands {
        let name = [&["ringtrue".to_owned()], typed.as_slice()]
            .concat()
            .join("-");
        let page = fs::read_to_string(at.join("man").join(format!("{name}.1"))).unwrap();
        // A hyphen in such a page stands behind a backslash.
        let plain = page.replace("\\-", "-");
        assert!(plain.contains(".TH ") && plain.contains(&name), "{name}");
        for option in options {
            assert!(
                plain.contains(&format!("--{option}")),
                "{name} lacks --{option}"
            );
        }
        let mut args = vec!["manual"];
        args.extend(typed.iter().map(String::as_str));
        assert_eq!(ringtrue(at, &args).stdout, page.as_bytes(), "{name}");
    }
    let pages = fs::read_dir(at.join("man")).unwrap().count();
    assert_eq!(pages, commands.len());
    // Not over what is there, unless told.
    let out = ringtrue(at, &["manual", "--into", "man"]);
    assert_eq!(out.status.code(), Some(2));
    assert!(
        ringtrue(at, &["manual", "--into", "man", "--force"])
            .status
            .success()
    );
    assert_eq!(ringtrue(at, &["manual", "raport"]).status.code(), Some(2));
}

#[test]
fn completions_know_every_command_and_option() {
    let folder = tempfile::tempdir().unwrap();
    for shell in ["bash", "elvish", "fish", "powershell", "zsh"] {
        let out = ringtrue(folder.path(), &["completions", shell]);
        assert!(out.status.success(), "{out:?}");
        let script = String::from_utf8(out.stdout).unwrap();
        for (typed, options) in commands() {
            for name in typed.iter().chain(&options) {
                assert!(script.contains(name.as_str()), "{shell} lacks {name}");
            }
        }
    }
}

/// What the shell offers behind words that are typed.
#[cfg(unix)]
#[test]
fn bash_offers_commands_and_options() {
    let folder = tempfile::tempdir().unwrap();
    let script = ringtrue(folder.path(), &["completions", "bash"]).stdout;
    fs::write(folder.path().join("c.sh"), script).unwrap();
    let offered = |words: &str| {
        let ask = format!(
            "source ./c.sh; COMP_WORDS=({words}); COMP_CWORD=$((${{#COMP_WORDS[@]}} - 1)); \
             _ringtrue ringtrue \"${{COMP_WORDS[COMP_CWORD]}}\" \
             \"${{COMP_WORDS[COMP_CWORD - 1]}}\"; printf '%s\\n' \"${{COMPREPLY[@]}}\""
        );
        let out = Command::new("bash")
            .current_dir(folder.path())
            .args(["--norc", "-c", &ask])
            .output();
        out.map(|out| String::from_utf8(out.stdout).unwrap()).ok()
    };
    let Some(all) = offered("ringtrue ''") else {
        println!("left out: there is no bash here");
        return;
    };
    assert!(
        all.contains("proposal\n") && all.contains("rules\n"),
        "{all}"
    );
    assert_eq!(offered("ringtrue prop").unwrap(), "proposal\n");
    assert_eq!(offered("ringtrue rules exp").unwrap(), "export\n");
    assert_eq!(offered("ringtrue report --lang").unwrap(), "--language\n");
}

#[test]
fn the_program_alone_is_enough() {
    let (bin, work) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let program = bin
        .path()
        .join(format!("tool{}", std::env::consts::EXE_SUFFIX));
    fs::copy(cargo_bin("ringtrue"), &program).unwrap();
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples/drive-crumbling.yaml");
    fs::copy(sample, work.path().join("job.yaml")).unwrap();
    for args in [
        &["report", "job.yaml"][..],
        &["proposal", "job.yaml", "--language", "es"],
        &["crew", "job.yaml"],
        &["plan", "job.yaml"],
        &["guide", "-o", "guide.html"],
        &["field", "job.yaml", "-o", "field.html"],
        &["rules", "check"],
        &["rules", "handbook", "-o", "book.html"],
        &["drill", "--list", "--scores", "s.yaml"],
    ] {
        let mut command = Command::new(&program);
        command.current_dir(work.path()).args(args).env_clear();
        // A Windows program does not start without it.
        command.envs(std::env::var_os("SystemRoot").map(|root| ("SystemRoot", root)));
        let out = command.stdin(Stdio::null()).output().unwrap();
        let said = String::from_utf8_lossy(&out.stderr);
        assert!(out.status.success(), "{args:?}: {said}");
    }
    for page in [
        "job.html",
        "job.proposal.html",
        "job.crew.html",
        "guide.html",
        "field.html",
        "book.html",
    ] {
        let text = fs::read_to_string(work.path().join(page)).unwrap();
        assert!(text.trim_end().ends_with("</html>"), "{page}");
    }
}
