//! `check`, `schema` and `starter` as a user runs them.

use std::fs;

use assert_cmd::Command;

fn ringtrue() -> Command {
    let mut command = Command::cargo_bin("ringtrue").unwrap();
    command.env_remove("NO_COLOR").env("TERM", "dumb");
    command
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

#[test]
fn check_tells_sound_broken_and_unreadable_apart() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("job.yaml");
    ringtrue().args(["starter"]).arg(&path).assert().code(0);
    let sound = ringtrue().arg("check").arg(&path).assert().code(0);
    assert!(text(&sound.get_output().stdout).contains("nothing wrong; 1 area and 2 defects in it"));

    let broken = fs::read_to_string(&path)
        .unwrap()
        .replace("thickness: 4 in", "thicknes: 4");
    fs::write(&path, &broken).unwrap();
    let told = ringtrue().arg("check").arg(&path).assert().code(1);
    let told = text(&told.get_output().stdout);
    assert!(
        told.contains("did you mean `thickness`?") && told.contains("1 error"),
        "{told}"
    );
    let line = broken
        .lines()
        .position(|l| l.contains("thicknes:"))
        .unwrap()
        + 1;

    let plain = ringtrue()
        .args(["check", "--plain"])
        .arg(&path)
        .assert()
        .code(1);
    assert!(text(&plain.get_output().stdout).contains(&format!("job.yaml:{line}:3: unknown-key:")));
    let json = ringtrue()
        .args(["check", "--json", "-"])
        .write_stdin(broken)
        .assert()
        .code(1);
    let json: serde_json::Value = serde_json::from_slice(&json.get_output().stdout).unwrap();
    assert_eq!(json["errors"], 1);
    assert_eq!(json["problems"][0]["line"], line);
    assert_eq!(json["problems"][0]["column"], 3);
    assert_eq!(json["problems"][0]["text"], "thicknes");
    assert_eq!(json["problems"][0]["severity"], "error");

    ringtrue()
        .arg("check")
        .arg(folder.path().join("none.yaml"))
        .assert()
        .code(2);
    ringtrue().arg("check").arg(folder.path()).assert().code(2);
    ringtrue()
        .args(["check", "-"])
        .write_stdin(vec![0xff, 0xfe])
        .assert()
        .code(2);
    ringtrue().arg("check").assert().code(2);
}

#[test]
fn a_warning_alone_does_not_fail() {
    let record = "ringtrue: 1\n\
        job: {client: A, address: B, date: 2024-05-14, inspector: C}\n\
        slab: {use: patio}\n\
        areas:\n  - {id: a, name: patio, size: 9 ft x 9 ft, defects: [{id: 1, kind: scaling, at: [30 ft, 1 ft]}]}\n";
    let told = ringtrue()
        .args(["check", "-"])
        .write_stdin(record)
        .assert()
        .code(0);
    let told = text(&told.get_output().stdout);
    assert!(
        told.contains("warning[off-the-map]") && told.contains("standard input: 1 warning."),
        "{told}"
    );
}

#[test]
fn photos_are_looked_for_beside_a_record_named_without_a_folder() {
    let folder = tempfile::tempdir().unwrap();
    image::RgbImage::new(4, 4)
        .save(folder.path().join("a.png"))
        .unwrap();
    let record = "ringtrue: 1\n\
        job: {client: A, address: B, date: 2024-05-14, inspector: C}\n\
        slab: {use: patio}\n\
        areas:\n  - {id: a, name: patio, size: 9 ft x 9 ft, defects: [{id: 1, kind: scaling, photos: [{file: a.png, caption: seen}]}]}\n";
    fs::write(folder.path().join("job.yaml"), record).unwrap();
    ringtrue()
        .current_dir(folder.path())
        .args(["check", "job.yaml"])
        .assert()
        .code(0);
    fs::remove_file(folder.path().join("a.png")).unwrap();
    ringtrue()
        .current_dir(folder.path())
        .args(["check", "job.yaml"])
        .assert()
        .code(1);
}

#[test]
fn an_existing_file_is_not_written_over_unless_told() {
    let folder = tempfile::tempdir().unwrap();
    for command in [&["starter"][..], &["schema", "-o"][..]] {
        let path = folder.path().join("mine");
        fs::write(&path, "mine").unwrap();
        ringtrue().args(command).arg(&path).assert().code(2);
        assert_eq!(fs::read_to_string(&path).unwrap(), "mine");
        ringtrue()
            .args(command)
            .arg(&path)
            .arg("--force")
            .assert()
            .code(0);
        assert_ne!(fs::read_to_string(&path).unwrap(), "mine");
        fs::remove_file(&path).unwrap();
        ringtrue().args(command).arg(&path).assert().code(0);
    }
    ringtrue()
        .arg("starter")
        .arg(folder.path().join("no/such/folder.yaml"))
        .assert()
        .code(2);
}

#[test]
fn the_schema_names_words_and_signs() {
    let out = ringtrue().arg("schema").assert().code(0);
    let schema: serde_json::Value = serde_json::from_slice(&out.get_output().stdout).unwrap();
    assert_eq!(
        schema["$schema"],
        "https://json-schema.org/draft/2020-12/schema"
    );
    let defs = &schema["$defs"];
    let signs = &defs["Defect"]["properties"]["signs"];
    assert_eq!(signs["additionalProperties"], false);
    let shade = &signs["properties"]["flake_shade"];
    let words = shade["anyOf"][0]["enum"].as_array().unwrap();
    assert!(words.contains(&"paler".into()) && words.contains(&"unknown".into()));
    assert!(
        shade["description"]
            .as_str()
            .is_some_and(|d| d.contains('?'))
    );
    let uses = defs["Slab"]["properties"]["use"]["enum"]
        .as_array()
        .unwrap();
    assert!(uses.contains(&"patio".into()) && !uses.contains(&"unknown".into()));
    // Every key of every block has a description for the editor to show.
    for (name, def) in defs.as_object().unwrap() {
        for (key, property) in def["properties"].as_object().into_iter().flatten() {
            assert!(
                property["description"].is_string(),
                "{name}.{key} is not described"
            );
        }
    }
}
