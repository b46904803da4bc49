//! Every paper of every sample in Spanish: no English in what is visible, but the record's own words.

use std::path::{Path, PathBuf};

use ringtrue::cli::{Loading, Work};
use ringtrue::report::compare::{Comparison, Side};
use ringtrue::report::phrases::Phrases;
use ringtrue::report::templates::Templates;
use ringtrue::report::view::JobView;
use ringtrue::report::{CrewSheet, Pages, PlanView, Proposal, View};
use serde_json::{Value, json};

/// Words without which hardly an English sentence is made, and which Spanish does not know. `in` is
/// an inch.
const ENGLISH: &[&str] = &[
    "about", "after", "an", "and", "are", "at", "be", "before", "between", "but", "by", "each",
    "every", "for", "from", "has", "have", "if", "into", "is", "it", "its", "least", "less",
    "more", "most", "must", "not", "of", "on", "only", "or", "over", "so", "than", "that", "the",
    "then", "there", "they", "this", "to", "under", "until", "when", "where", "which", "will",
    "with", "without", "you", "your",
];

pub fn samples() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples");
    let mut all: Vec<PathBuf> = std::fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().path())
        .filter(|p| p.extension().is_some_and(|e| e == "yaml"))
        .collect();
    all.sort();
    all
}

pub fn load(record: &Path, phrases: &Phrases) -> &'static Work {
    let loading = Loading {
        record: record.to_owned(),
        house_rules: None,
    };
    match Work::load_in(&loading, phrases) {
        Ok(work) => work,
        Err(_) => panic!("{} does not load", record.display()),
    }
}

/// Report, proposal, crew sheet and plan of a record.
fn papers(work: &'static Work, phrases: &Phrases) -> Vec<(&'static str, String)> {
    let pages = Pages::new(&Templates::default()).unwrap();
    let sources = work.sources(&[]);
    let plan = crate::plan_of(work);
    let units = work.loaded.record.job.units;
    let mut view = View::build(sources);
    view.title = phrases.say("report_title", &[]);
    let plan_view = PlanView::build_in(&plan, units, "", phrases);
    let mut titled = serde_json::to_value(&plan_view).unwrap();
    titled["job"] = serde_json::to_value(JobView::of(&work.loaded.record.job)).unwrap();
    view.add_plan(&plan, &sources, phrases);
    let proposal = Proposal::build(&view, &sources, Some(&plan_view), phrases);
    let crew = CrewSheet::build(&view, &sources, Some(&plan), phrases);
    let page = |name: &str, view: Value| pages.render(name, &view, phrases, None).unwrap();
    vec![
        ("report", page("report.html", json!(view))),
        ("proposal", page("proposal.html", json!(proposal))),
        ("crew", page("crew.html", json!(crew))),
        ("plan", page("plan.html", titled)),
    ]
}

/// Every text that the record holds, longest first, line by line.
fn own_words(record: &Path) -> Vec<String> {
    fn leaves(value: &serde_yaml::Value, out: &mut Vec<String>) {
        match value {
            serde_yaml::Value::String(text) => {
                out.push(spaced(text));
                out.extend(text.lines().map(spaced));
            }
            serde_yaml::Value::Sequence(list) => list.iter().for_each(|v| leaves(v, out)),
            serde_yaml::Value::Mapping(map) => map.iter().for_each(|(_, v)| leaves(v, out)),
            _ => {}
        }
    }
    let text = std::fs::read_to_string(record).unwrap();
    let mut out = Vec::new();
    leaves(&serde_yaml::from_str(&text).unwrap(), &mut out);
    out.retain(|t| t.len() > 3);
    out.sort_by_key(|t| std::cmp::Reverse(t.len()));
    out.dedup();
    out
}

/// Small letters and single blanks.
fn spaced(text: &str) -> String {
    text.to_lowercase()
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ")
}

/// What can be read of a page, or is read aloud of it.
fn visible(page: &str) -> String {
    let mut out = String::new();
    let mut rest = page;
    while let Some((text, after)) = rest.split_once('<') {
        out.push_str(text);
        let (tag, next) = after.split_once('>').unwrap_or((after, ""));
        for name in ["aria-label=\"", "alt=\"", "title=\""] {
            if let Some((_, label)) = tag.split_once(name) {
                out.push_str(" | ");
                out.push_str(label.split('"').next().unwrap_or_default());
                out.push_str(" | ");
            }
        }
        // Words with a mark around them run on; everything else stands apart.
        let inline = [
            "a ", "/a>", "b>", "/b>", "span", "/span", "strong", "/strong", "dfn", "/dfn",
        ];
        if !inline.iter().any(|i| after.starts_with(i)) {
            out.push(' ');
        }
        rest = if tag.starts_with("style") {
            next.split_once("</style>").map_or("", |(_, r)| r)
        } else {
            next
        };
    }
    out.push_str(rest);
    let out = out
        .replace("&#x27;", "'")
        .replace("&#x2f;", "/")
        .replace("&quot;", "\"")
        .replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&amp;", "&");
    spaced(&out)
}

/// English words of a text with some words before them, without the record's own words.
fn english(text: &str, own: &[String]) -> Vec<String> {
    let mut text = text.to_owned();
    for words in own {
        let letter = |c: Option<char>| c.is_some_and(char::is_alphanumeric);
        let mut out = String::with_capacity(text.len());
        let mut from = 0;
        for (at, _) in text.match_indices(words.as_str()) {
            let end = at + words.len();
            let inside =
                letter(text[..at].chars().next_back()) || letter(text[end..].chars().next());
            if at >= from && !inside {
                out.push_str(&text[from..at]);
                out.push('§');
                from = end;
            }
        }
        out.push_str(&text[from..]);
        text = out;
    }
    // Names of rows are words with hyphens.
    let words: Vec<&str> = text.split(' ').collect();
    let bare = |w: &str| w.trim_matches(|c: char| !c.is_alphanumeric()).to_owned();
    words
        .iter()
        .enumerate()
        .filter(|(_, w)| {
            let own: Vec<&str> = w
                .split(|c: char| !c.is_alphanumeric() && c != '-')
                .collect();
            own.iter().any(|part| ENGLISH.contains(part)) && !bare(w).contains('-')
        })
        .map(|(i, _)| words[i.saturating_sub(5)..(i + 4).min(words.len())].join(" "))
        .collect()
}

#[test]
fn every_paper_of_every_sample_is_spanish() {
    let phrases = Phrases::built_in("es").unwrap();
    let mut found = Vec::new();
    for record in samples() {
        let own = own_words(&record);
        let work = load(&record, &phrases);
        for (paper, page) in papers(work, &phrases) {
            assert!(page.contains("lang=\"es\""), "{paper}");
            for words in english(&visible(&page), &own) {
                found.push(format!("{}, {paper}: {words}", record.display()));
            }
        }
    }
    assert!(found.is_empty(), "{}", found.join("\n"));
}

#[test]
fn a_change_report_is_spanish() {
    let phrases = Phrases::built_in("es").unwrap();
    // The same walk a year earlier, with a smaller step.
    let now = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples/walk-maple.yaml");
    let folder = tempfile::tempdir().unwrap();
    let then = folder.path().join("then.yaml");
    let text = std::fs::read_to_string(&now).unwrap();
    let earlier = text.replace("date: 2025-09-12", "date: 2024-09-12");
    assert_ne!(text, earlier, "the sample has another date");
    std::fs::write(&then, earlier).unwrap();
    let (old, new) = (load(&then, &phrases), load(&now, &phrases));
    let (old_view, new_view) = (View::build(old.sources(&[])), View::build(new.sources(&[])));
    let comparison = Comparison::build(
        Side {
            record: &old.loaded.record,
            view: &old_view,
        },
        Side {
            record: &new.loaded.record,
            view: &new_view,
        },
        &phrases,
    )
    .unwrap();
    let page = Pages::new(&Templates::default())
        .unwrap()
        .render("compare.html", &comparison, &phrases, None)
        .unwrap();
    let found = english(&visible(&page), &own_words(&now));
    assert!(found.is_empty(), "{}", found.join("\n"));
}

#[test]
fn english_would_be_found() {
    let own = ["and so on".to_owned()];
    assert_eq!(english("losa and so on", &own), Vec::<String>::new());
    assert_eq!(english("la losa and the rest", &[]).len(), 2);
    assert_eq!(english("fila cr-to-edge", &[]), Vec::<String>::new());
    assert_eq!(
        visible("<p title=\"of it\">a <b>b</b>c</p><style>the</style><i>d</i>"),
        "| of it | a bc d"
    );
    // Without its Spanish sentences a page shows its English.
    let mut phrases = Phrases::built_in("es").unwrap();
    phrases.sentences = Default::default();
    let record = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples/terrace.yaml");
    let work = load(&record, &phrases);
    for (paper, page) in papers(work, &phrases) {
        let found = english(&visible(&page), &own_words(&record));
        assert!(found.len() > 3, "{paper}: {found:?}");
    }
}

/// The example of the templates' own page: texts and made sentences in a contractor's words.
#[test]
fn an_own_language_file_changes_texts_and_made_sentences() {
    let readme = Path::new(env!("CARGO_MANIFEST_DIR")).join("templates/README.md");
    let readme = std::fs::read_to_string(readme).unwrap();
    let (_, rest) = readme.split_once("```yaml\n").unwrap();
    let (example, _) = rest.split_once("```").unwrap();
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("ours.yaml");
    std::fs::write(&file, example).unwrap();
    let record = Path::new(env!("CARGO_MANIFEST_DIR")).join("samples/terrace.yaml");
    let page = |language: &str| {
        let out = assert_cmd::Command::cargo_bin("ringtrue")
            .unwrap()
            .args(["report", "-o", "-", "--language", language])
            .arg(&record)
            .output()
            .unwrap();
        assert!(out.status.success());
        visible(&String::from_utf8(out.stdout).unwrap())
    };
    let (ours, theirs) = (page(file.to_str().unwrap()), page("en"));
    for (own, built_in) in [
        ("what we found on your slab", "slab condition report"),
        (
            "we lay 1/4 in. less than 1/4 in will not do",
            "it needs at least 1/4 in and may have",
        ),
        ("more than 9 chances in 10", "about 7 chances in 10"),
        ("7 in 10", "about 4 chances in 10"),
    ] {
        assert!(ours.contains(own) && theirs.contains(built_in), "{own}");
        assert!(!ours.contains(built_in), "{built_in}");
    }
}
