//! What once read wrong on a paper of a sample: claims that spoke against another page, sentences
//! said over and over, work offered that nobody may do yet.

use serde_json::Value;

/// What is handed to the templates for a paper of a sample.
fn data(paper: &str, sample: &str) -> Value {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("samples")
        .join(sample);
    let out = assert_cmd::Command::new(env!("CARGO_BIN_EXE_ringtrue"))
        .arg(paper)
        .arg(path)
        .args(["--format", "data", "-o", "-"])
        .assert()
        .success();
    let all: Value = serde_json::from_slice(&out.get_output().stdout).unwrap();
    all.get("v").cloned().unwrap_or(all)
}

/// A marked text without its marks; a list of them in one.
fn text(rich: &Value) -> String {
    match rich {
        Value::Array(list) => list.iter().map(text).collect(),
        Value::Object(span) => text(&span["text"]),
        Value::String(text) => text.clone(),
        _ => String::new(),
    }
}

fn list<'a>(value: &'a Value, path: &str) -> &'a [Value] {
    value.pointer(path).and_then(Value::as_array).unwrap()
}

#[test]
fn no_work_is_offered_before_the_engineer_has_looked() {
    for sample in ["carport-rust.yaml", "pool-deck-clay.yaml"] {
        let paper = data("proposal", sample);
        assert_eq!(paper["offer"], "refer", "{sample}");
        assert!(list(&paper, "/scope").is_empty(), "{sample}");
        // What is right whatever he says is named all the same.
        assert_eq!(list(&paper, "/until").len(), 1, "{sample}");
        assert!(!list(&paper, "/referrals").is_empty(), "{sample}");
    }
    assert_eq!(data("proposal", "terrace.yaml")["offer"], "work");
}

/// Where the record holds no prices both forms of the proposal leave room to write them in.
#[test]
fn what_has_no_price_has_a_place_for_one() {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("samples/yard-topping.yaml");
    let out = assert_cmd::Command::new(env!("CARGO_BIN_EXE_ringtrue"))
        .arg("proposal")
        .arg(path)
        .args(["-o", "-"])
        .assert()
        .success();
    let page = String::from_utf8_lossy(&out.get_output().stdout).into_owned();
    assert!(
        page.contains("The record holds no prices. Fill in:")
            && page.contains("Replace the whole slab")
    );
}

/// On a phone a cell is a row of its label and its text: what holds a link must be one piece, or its
/// words stand in two columns.
#[test]
fn a_cell_with_a_link_is_one_piece() {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("samples/patio-new.yaml");
    let out = assert_cmd::Command::new(env!("CARGO_BIN_EXE_ringtrue"))
        .arg("report")
        .arg(path)
        .args(["-o", "-"])
        .assert()
        .success();
    let page = String::from_utf8_lossy(&out.get_output().stdout).into_owned();
    let cells = page.split("<td role=\"cell\"").skip(1);
    let linked: Vec<&str> = cells
        .filter_map(|c| c.split("</td>").next())
        .filter(|c| c.contains("<a "))
        .collect();
    assert!(linked.len() > 3);
    for cell in linked {
        assert!(cell.contains("<div>"), "{cell}");
    }
}

#[test]
fn a_firm_verdict_does_not_hide_an_open_area() {
    let paper = data("report", "pool-deck-clay.yaml");
    assert_eq!(paper["verdict"]["firm"], true);
    assert_eq!(
        text(&paper["uncertain"]["open"]),
        "Area B (deck at the shallow end) may come to thick or patterned overlay."
    );
    // Its panels are not told to be left alone meanwhile.
    assert!(list(&paper, "/means/areas/1/panels").is_empty());
    let sums = text(&paper["adds_up"]);
    assert!(
        sums.contains("measure first; still possible: thick or patterned overlay."),
        "{sums}"
    );
}

#[test]
fn few_questions_are_asked_and_none_twice() {
    let paper = data("report", "plaza-map-cracks.yaml");
    let questions = list(&paper, "/uncertain/questions");
    let mut asked: Vec<String> = questions.iter().map(|q| text(&q["ask"])).collect();
    let count = asked.len();
    asked.sort();
    asked.dedup();
    assert!(asked.len() == count && count <= 10, "{asked:?}");
    // Whatever leads to other work is asked; the rest is named in a line.
    assert!(
        questions
            .iter()
            .any(|q| !q["outcomes"].as_array().unwrap().is_empty())
    );
    assert!(text(&paper["uncertain"]["also"]).starts_with("Worth knowing too: "));
}

#[test]
fn a_slab_of_one_area_speaks_of_no_others() {
    for sample in [
        "drive-scaled.yaml",
        "courtyard-pattern.yaml",
        "yard-topping.yaml",
    ] {
        let lead = text(&data("report", sample)["verdict"]["paragraph"]);
        assert!(
            !lead.contains("the rest") && !lead.contains("Part") && !lead.is_empty(),
            "{sample}: {lead}"
        );
    }
}

#[test]
fn a_defect_is_named_once_in_a_row_of_sentences() {
    let paper = data("report", "courtyard-pattern.yaml");
    let stages = list(&paper, "/work/areas/0/stages");
    let cracks = stages
        .iter()
        .find(|s| s["name"] == "Treat the cracks")
        .unwrap();
    let said: Vec<String> = list(cracks, "/steps")
        .iter()
        .map(|s| text(&s["text"]))
        .collect();
    assert!(said[0].starts_with("Defect 2: "), "{said:?}");
    assert!(!said[1].starts_with("Defect"), "{said:?}");
}

#[test]
fn the_plan_does_not_speak_against_itself() {
    // What is not laid is told as what would be.
    let heights = text(&data("report", "terrace.yaml")["plan"]["heights"]);
    assert!(
        heights.contains("Those would differ by 1/2 in."),
        "{heights}"
    );
    assert!(!heights.contains("will differ"), "{heights}");
    // September 13, 2025 is a Saturday; nobody starts on it.
    let days = text(&data("report", "walk-maple.yaml")["plan"]["days"]);
    assert!(
        days.contains("here a Monday") && days.contains("work starts on day 1."),
        "{days}"
    );
    let boards = text(&data("report", "overlay-pinholes.yaml")["plan"]["days"]);
    assert!(!boards.contains("0 in"), "{boards}");
    // The cheapest way is not the one advised: the page says why.
    let money = text(&data("report", "overlay-pinholes.yaml")["plan"]["money"]);
    assert!(money.contains("not by price"), "{money}");
}

#[test]
fn a_crack_that_is_torn_out_is_not_watched() {
    for (sample, watched) in [("drive-crumbling.yaml", false), ("drive-salted.yaml", true)] {
        let care = text(&Value::Array(
            list(&data("report", sample), "/care")
                .iter()
                .map(|c| c["text"].clone())
                .collect(),
        ));
        assert_eq!(care.contains("pencil marks"), watched, "{sample}: {care}");
    }
}
