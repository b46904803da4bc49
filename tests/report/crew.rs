//! The crew sheet says all that the work asks for, in lines: no step, wait, caution or ban of any
//! sample gets lost on the way to it, and every line says what its long text says.

use ringtrue::facts::Vocabulary;
use ringtrue::report::phrases::Phrases;
use ringtrue::report::{CrewSheet, View};
use ringtrue::rules::{Body, Row, builtin};
use ringtrue::units::System;

/// Rows whose step the sheet says elsewhere, and where: at the desk, in the box of the layer, with
/// the pour, among the readings, or in the step that cuts the joints.
const ELSEWHERE: [&str; 9] = [
    "do-crack-may-return",
    "do-crack-may-show",
    "do-profile-thin",
    "do-profile-film",
    "do-profile-patterned",
    "do-profile-topping",
    "do-water-bag",
    "do-water-drop",
    "do-joint-carry",
];

/// Small letters without what stands about the sentence.
fn bare(text: &str) -> String {
    let text = text.trim().trim_end_matches('.').to_lowercase();
    match text
        .strip_prefix("defect ")
        .and_then(|t| t.split_once(": "))
    {
        Some((number, rest)) if number.bytes().all(|b| b.is_ascii_digit()) => rest.to_owned(),
        _ => text,
    }
}

#[test]
fn nothing_gets_lost_on_the_way_to_the_sheet() {
    let phrases = Phrases::built_in("en").unwrap();
    let (mut steps, mut cautions, mut stops) = (0, 0, 0);
    for path in crate::spanish::samples() {
        let name = path.display();
        let work = crate::spanish::load(&path, &phrases);
        let sources = work.sources(&[]);
        let plan = crate::plan_of(work);
        let view = View::build(sources);
        let sheet = CrewSheet::build(&view, &sources, Some(&plan), &phrases);
        let parts = |a: usize| sheet.shared.iter().chain(&sheet.areas[a].parts);
        for (a, area) in sources.method.areas.iter().enumerate() {
            for step in &area.steps {
                let row = step.reason.row.as_str();
                if ELSEWHERE.contains(&row) || step.reason.table == "overlay_system" {
                    continue;
                }
                let line = bare(&step.line);
                let said = parts(a)
                    .flat_map(|p| &p.steps)
                    .find(|s| s.text.to_lowercase().contains(&line));
                let said = said.unwrap_or_else(|| panic!("{name}: {row} is not on it: {line}"));
                assert!(
                    said.safety || !step.reason.safety,
                    "{name}: {row} is for safety"
                );
                // Its defect is named.
                let number = step.line.strip_prefix("Defect ");
                if let Some((number, _)) = number.and_then(|n| n.split_once(':')) {
                    let before = said.text.split(':').next().unwrap();
                    assert!(before.contains(number), "{name}: {} of {number}", said.text);
                }
                stops += usize::from(step.reason.safety);
                steps += 1;
            }
            for wait in &area.waits {
                let what = bare(&wait.what);
                let here = sheet.waits.iter().any(|w| bare(&w.what) == what);
                assert!(here, "{name}: the wait for {what}");
            }
            if let Some(layer) = &sheet.areas[a].layer {
                assert!(
                    layer.chosen.starts_with(|c: char| c.is_ascii_digit()),
                    "{name}"
                );
            }
        }
        let listed = |list: &[ringtrue::report::crew::CrewCaution], text: &str| {
            list.iter().any(|c| bare(&c.text) == bare(text))
        };
        for (from, to) in [
            (&sources.assessment.cautions, &sheet.cautions),
            (&sources.assessment.exclusions, &sheet.never),
        ] {
            for reason in from.iter().filter(|r| r.certain || r.safety) {
                let text = reason.crew.as_ref().unwrap_or(&reason.because);
                assert!(listed(to, text), "{name}: {} is not on it", reason.row);
                cautions += 1;
            }
        }
        if !sources.assessment.slab.verdict.firm {
            assert!(!sheet.firm, "{name}: no work from an open verdict");
        }
    }
    // Counted in the samples of 26 November 2026, rounded down.
    assert!(
        steps >= 200 && cautions >= 80 && stops >= 4,
        "{steps} {cautions} {stops}"
    );
}

/// Rows that can print on a crew sheet: steps, cautions, bans.
fn printed() -> Vec<(String, Row, Vocabulary)> {
    let pack = builtin().unwrap();
    let mut out = Vec::new();
    for table in pack
        .tables
        .iter()
        .filter(|t| matches!(t.body, Body::Collect))
    {
        for row in &table.rows {
            let step = row.set.get("stage").is_some_and(|s| s.text() != "care");
            let wait = row.set.contains_key("wait");
            let listed = ["caution", "exclusion", "defect_exclusion"]
                .iter()
                .any(|start| table.id.starts_with(start));
            let desk = ["do-crack-may-return", "do-crack-may-show"].contains(&row.id.as_str());
            if (step && !wait || listed) && !desk {
                out.push((table.id.clone(), row.clone(), pack.vocabulary.clone()));
            }
        }
    }
    out
}

#[test]
fn whatever_prints_on_a_sheet_has_its_line() {
    let rows = printed();
    let without: Vec<&str> = rows
        .iter()
        .filter(|(_, r, _)| r.crew.is_none())
        .map(|(_, r, _)| r.id.as_str())
        .collect();
    assert_eq!(without, Vec::<&str>::new());
    assert!(rows.len() >= 180, "{}", rows.len());
}

/// Every figure in a text, without what only ends a sentence.
fn figures(text: &str) -> Vec<String> {
    let digits = |c: char| c.is_ascii_digit() || "./,:-".contains(c);
    text.split(|c: char| !digits(c))
        .map(|w| w.trim_matches(|c| "./,:-".contains(c)).to_owned())
        .filter(|w| w.contains(|c: char| c.is_ascii_digit()))
        .collect()
}

#[test]
fn a_line_says_no_figure_that_its_long_text_does_not_say() {
    for (_, row, vocabulary) in printed() {
        let line = row.crew.clone().unwrap_or_default();
        let long = figures(&row.because);
        // What a gap stands for is a figure of the pack.
        let literal = line
            .split('{')
            .enumerate()
            .map(|(i, part)| match part.split_once('}') {
                Some((_, rest)) if i > 0 => rest,
                _ => part,
            })
            .collect::<String>();
        for figure in figures(&literal) {
            assert!(long.contains(&figure), "{}: {figure} in {line}", row.id);
        }
        for units in [System::Us, System::Metric] {
            let filled = row.crew_line(&vocabulary, units).unwrap();
            assert!(!filled.contains(['{', '}']), "{}: {filled}", row.id);
        }
    }
}

/// A shortened caution loses none of what must be done: the protection its long text names.
#[test]
fn a_caution_keeps_every_protection_it_names() {
    const PROTECTIONS: [&str; 34] = [
        "water",
        "shroud",
        "collector",
        "mask",
        "APF 10",
        "HEPA",
        "hood",
        "containment",
        "gloves",
        "goggles",
        "boots",
        "rinse",
        "bleach",
        "neutralise",
        "flame",
        "spark",
        "pilot light",
        "engineer",
        "radar",
        "drawings",
        "ground-fault",
        "in pairs",
        "machine",
        "one-call",
        "811",
        "upwind",
        "eye protection",
        "knee boards",
        "wash at once",
        "shade",
        "rest",
        "Table 1",
        "petrol",
        "quartz sand",
    ];
    let mut held = 0;
    for (table, row, _) in printed() {
        if !table.starts_with("caution") {
            continue;
        }
        let line = row.crew.clone().unwrap_or_default().to_lowercase();
        for word in PROTECTIONS {
            let word = word.to_lowercase();
            if row.because.to_lowercase().contains(&word) {
                // A wet blade is water on the blade.
                let said = line.contains(&word) || word == "water" && line.contains("wet blade");
                assert!(said, "{}: {word} is not in {line}", row.id);
                held += 1;
            }
        }
    }
    assert!(held >= 50, "{held}");
}
