//! The same record gives the same bytes, wherever and however often it is worked on; and every
//! output names the version and the rules it was made with.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use assert_cmd::cargo::cargo_bin;

/// Arguments of every command that prints or writes what it made of a record or of the rules;
/// `RECORD` and `OTHER` stand for records. With `OUT` the file of that name is looked at, else
/// standard output. `starter` and `walk` are left out: what they write is a record, with the day
/// in it.
const COMMANDS: &[&[&str]] = &[
    &["report", "RECORD", "-o", "-"],
    &["report", "RECORD", "--language", "es", "-o", "-"],
    &["report", "RECORD", "--format", "data", "-o", "-"],
    &["report", "RECORD", "--summary"],
    &["report", "RECORD", "--json"],
    &["proposal", "RECORD", "-o", "-"],
    &["crew", "RECORD", "-o", "-"],
    &["compare", "OTHER", "RECORD"],
    &["compare", "OTHER", "RECORD", "-o", "-"],
    &["survey", "RECORD", "-o", "-"],
    &["survey", "RECORD", "--json"],
    &["plan", "RECORD"],
    &["plan", "RECORD", "--crew"],
    &["plan", "RECORD", "--json"],
    &["plan", "RECORD", "-o", "-"],
    &["plan", "RECORD", "--ics", "OUT"],
    &["check", "RECORD"],
    &["check", "RECORD", "--json"],
    &["ask", "RECORD"],
    &["ask", "RECORD", "--json"],
    &["why", "RECORD", "verdict"],
    &["why", "RECORD", "verdict", "--graph", "OUT"],
    &["why-not", "RECORD", "patch", "--of", "verdict"],
    &["why-not", "RECORD", "patch", "--of", "verdict", "--json"],
    &["what-if", "RECORD", "deicers=none"],
    &["what-if", "RECORD", "deicers=none", "--json"],
    &["field", "RECORD", "-o", "-"],
    &["guide"],
    &["schema"],
    &["rules", "check"],
    &["rules", "list"],
    &["rules", "list", "--json"],
    &["rules", "export"],
    &["rules", "handbook"],
    &["rules", "graph"],
    &["rules", "graph", "--format", "dot"],
];

/// Where and how a command runs.
struct Place {
    folder: PathBuf,
    vars: &'static [(&'static str, &'static str)],
    /// Cores it may use, as `taskset` takes them; empty for all.
    cores: &'static str,
}

impl Place {
    fn plain(folder: &Path) -> Place {
        Place {
            folder: folder.to_owned(),
            vars: &[],
            cores: "",
        }
    }
}

/// What a command makes of a record, or prints; with its exit code.
fn run(place: &Place, args: &[&str], record: &Path, other: &Path) -> (Option<i32>, Vec<u8>) {
    let out = tempfile::tempdir().unwrap();
    let file = out.path().join("out");
    let mut command = match place.cores {
        "" => Command::new(cargo_bin("ringtrue")),
        cores => {
            let mut command = Command::new("taskset");
            command.args(["-c", cores]).arg(cargo_bin("ringtrue"));
            command
        }
    };
    command.current_dir(&place.folder).env_clear();
    // A Windows program does not start without it.
    command.envs(std::env::var_os("SystemRoot").map(|root| ("SystemRoot", root)));
    command.envs(place.vars.iter().copied());
    for arg in args {
        match *arg {
            "RECORD" => command.arg(record),
            "OTHER" => command.arg(other),
            "OUT" => command.arg(&file),
            arg => command.arg(arg),
        };
    }
    let done = command.stdin(Stdio::null()).output().unwrap();
    let made = match fs::read(&file) {
        Ok(bytes) if args.contains(&"OUT") => bytes,
        _ => done.stdout,
    };
    (done.status.code(), made)
}

/// The records, copied so that nothing is written beside the samples.
fn copied() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
    fs::create_dir(folder.path().join("photos")).unwrap();
    for name in [
        "drive-scaled.yaml",
        "drive-scaled.forecast.csv",
        "terrace.yaml",
    ] {
        fs::copy(samples.join(name), folder.path().join(name)).unwrap();
    }
    for entry in fs::read_dir(samples.join("photos")).unwrap() {
        let entry = entry.unwrap();
        let to = folder.path().join("photos").join(entry.file_name());
        fs::copy(entry.path(), to).unwrap();
    }
    folder
}

/// Where two outputs part.
fn parting(a: &[u8], b: &[u8]) -> String {
    let at = a.iter().zip(b).take_while(|(x, y)| x == y).count();
    let near = |x: &[u8]| {
        let from = at.saturating_sub(60);
        String::from_utf8_lossy(&x[from.min(x.len())..(at + 60).min(x.len())]).into_owned()
    };
    format!("byte {at}:\n{}\n{}", near(a), near(b))
}

fn same(
    place: &Place,
    args: &[&str],
    record: &Path,
    other: &Path,
    wanted: &(Option<i32>, Vec<u8>),
) {
    let got = run(place, args, record, other);
    assert_eq!(got.0, wanted.0, "{args:?} {:?}", place.vars);
    assert!(
        got.1 == wanted.1,
        "{args:?} {:?} cores {:?}, {}",
        place.vars,
        place.cores,
        parting(&got.1, &wanted.1)
    );
}

#[test]
fn everywhere_and_every_time_the_bytes_are_the_same_and_name_version_and_rules() {
    let folder = copied();
    let at = folder.path();
    let home = tempfile::tempdir().unwrap();
    let record = Path::new("drive-scaled.yaml");
    let other = Path::new("terrace.yaml");
    let plain = Place::plain(at);
    let rules = {
        let (_, said) = run(&plain, &["rules", "check"], record, other);
        let said = String::from_utf8(said).unwrap();
        let from = said.find("(ringtrue ").expect(&said) + 1;
        said[from..from + said[from..].find(')').unwrap()].to_owned()
    };
    let (version, rules) = rules
        .strip_prefix("ringtrue ")
        .and_then(|r| r.split_once(", rules "))
        .unwrap();
    assert_eq!((version, rules.len()), (env!("CARGO_PKG_VERSION"), 16));
    let has_cores = Command::new("taskset")
        .args(["-c", "0", "true"])
        .status()
        .is_ok_and(|s| s.success());
    if !has_cores {
        println!("left out: one core beside many, for want of `taskset`");
    }
    let places = [
        // Once more, for the order of maps, which is drawn anew in every run.
        Place::plain(at),
        Place {
            vars: &[
                ("LANG", "de_DE.UTF-8"),
                ("LC_ALL", "tr_TR.UTF-8"),
                ("LANGUAGE", "es"),
                ("TZ", "Pacific/Kiritimati"),
                ("USER", "somebody"),
            ],
            cores: if has_cores { "0" } else { "" },
            ..Place::plain(at)
        },
        Place {
            vars: &[
                ("LC_ALL", "C"),
                ("TZ", "Pacific/Pago_Pago"),
                ("HOME", "/nowhere"),
                ("COLUMNS", "33"),
                ("TERM", "dumb"),
                ("NO_COLOR", "1"),
            ],
            ..Place::plain(at)
        },
    ];
    // From elsewhere, the records named in full: outputs name a record as it was named.
    let elsewhere = Place::plain(home.path());
    let named = |text: &[u8]| {
        String::from_utf8_lossy(text)
            .replace(&format!("{}/", at.display()), "")
            .into_bytes()
    };
    std::thread::scope(|s| {
        for half in 0..2 {
            let (places, elsewhere, plain, named) = (&places, &elsewhere, &plain, &named);
            s.spawn(move || {
                for args in COMMANDS.iter().skip(half).step_by(2) {
                    let wanted = run(plain, args, record, other);
                    assert_eq!(wanted.0, Some(0), "{args:?}");
                    let text = String::from_utf8_lossy(&wanted.1);
                    // Long lines of a calendar file are folded.
                    let text = text.replace("\r\n ", "");
                    assert!(text.contains(version), "{args:?} names no version");
                    assert!(text.contains(rules), "{args:?} names no rules");
                    for place in places {
                        same(place, args, record, other, &wanted);
                    }
                    let far = run(elsewhere, args, &at.join(record), &at.join(other));
                    assert_eq!(far.0, Some(0), "{args:?}");
                    let (far, near) = (named(&far.1), named(&wanted.1));
                    assert!(far == near, "{args:?}, {}", parting(&far, &near));
                }
            });
        }
    });
}

#[test]
fn line_ends_and_a_mark_at_the_head_change_nothing() {
    let plain_folder = copied();
    let other_folder = copied();
    let (record, other) = (Path::new("drive-scaled.yaml"), Path::new("terrace.yaml"));
    for name in [
        "drive-scaled.yaml",
        "drive-scaled.forecast.csv",
        "terrace.yaml",
    ] {
        let text = fs::read_to_string(plain_folder.path().join(name)).unwrap();
        let turned = format!("\u{feff}{}", text.replace('\n', "\r\n"));
        fs::write(other_folder.path().join(name), turned).unwrap();
    }
    let place = Place::plain(other_folder.path());
    for args in COMMANDS.iter().filter(|a| a.contains(&"RECORD")) {
        // This one carries the record's text as it stands.
        if args[0] == "field" {
            continue;
        }
        let wanted = run(&Place::plain(plain_folder.path()), args, record, other);
        same(&place, args, record, other, &wanted);
    }
}

/// What `rules check` says of a folder of house rules that lies somewhere.
fn house(place: &Place, named: &Path) -> String {
    let said = run(place, &["rules", "check", "RECORD"], named, named);
    assert_eq!(said.0, Some(0));
    String::from_utf8(said.1).unwrap()
}

#[test]
fn house_rules_have_one_fingerprint_wherever_they_lie_and_whatever_ends_their_lines() {
    let figure = "figures:\n  cup_wheel: {name: our wheel, kind: length, value: 5 in, source: our trials, provenance: practice}\n";
    let (here, there) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    for (folder, text) in [
        (&here, figure.to_owned()),
        (&there, figure.replace('\n', "\r\n")),
    ] {
        fs::create_dir(folder.path().join("house")).unwrap();
        fs::write(folder.path().join("house/ours.yaml"), text).unwrap();
    }
    let at = Place::plain(here.path());
    let said = house(&at, Path::new("house"));
    assert!(said.contains("cup_wheel"), "{said}");
    assert_eq!(said, house(&at, &here.path().join("house")));
    assert_eq!(said, house(&at, &there.path().join("house")));
    let built_in = run(&at, &["rules", "check"], here.path(), here.path()).1;
    let first = |text: &str| text.lines().next().unwrap().to_owned();
    assert_ne!(first(&said), first(&String::from_utf8(built_in).unwrap()));
}

/// Windows gives a program 1 MB of stack for its first thread, where others give 8.
#[cfg(unix)]
#[test]
fn a_small_stack_is_enough() {
    let folder = copied();
    let deep = format!("ringtrue: 1\njob: {}\n", "[".repeat(5000));
    fs::write(folder.path().join("deep.yaml"), deep).unwrap();
    for (args, code) in [
        (&["report", "terrace.yaml", "-o", "-"][..], 0),
        (&["why", "terrace.yaml", "verdict"], 0),
        (&["plan", "drive-scaled.yaml", "--json"], 0),
        (&["rules", "handbook"], 0),
        (&["manual"], 0),
        (&["check", "deep.yaml"], 1),
    ] {
        let out = Command::new("sh")
            .current_dir(folder.path())
            .args(["-c", "ulimit -s 1024; exec \"$@\"", "sh"])
            .arg(cargo_bin("ringtrue"))
            .args(args)
            .stdin(Stdio::null())
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&out.stderr);
        assert_eq!(out.status.code(), Some(code), "{args:?}: {said}");
    }
}

#[cfg(feature = "pdf")]
#[test]
fn a_pdf_is_the_same_everywhere_and_its_properties_name_version_and_rules() {
    let folder = copied();
    let record = Path::new("drive-scaled.yaml");
    let args = ["crew", "RECORD", "--format", "pdf", "-o", "-"];
    let wanted = run(&Place::plain(folder.path()), &args, record, record);
    assert_eq!(wanted.0, Some(0));
    assert!(wanted.1.starts_with(b"%PDF-"));
    let place = Place {
        vars: &[("LC_ALL", "tr_TR.UTF-8"), ("TZ", "Pacific/Kiritimati")],
        ..Place::plain(folder.path())
    };
    same(&place, &args, record, record, &wanted);
    let text = String::from_utf8_lossy(&wanted.1);
    let version = format!("ringtrue {}", env!("CARGO_PKG_VERSION"));
    assert!(
        text.contains(&version) && text.contains("rules "),
        "properties"
    );
}
