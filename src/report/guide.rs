//! The guide for the slab: how to walk it in twenty minutes, what damage looks like, how the usual
//! tests are done, what may hurt, what the words mean.
//!
//! Takes a pack, gives one page readable on a phone. How a thing is measured, what it costs, what
//! may hurt and every figure come from the pack; only the order of the walk and the pictures are
//! the guide's own.

use minijinja::context;
use minijinja::value::Serde;
use serde::Serialize;

use crate::facts::{Comes, Fact, Pass, Scope};
use crate::rules::Pack;

use super::ReportError;
use super::drawings::guide::Picture;
use super::page::alone;
use super::view::capital;

const PAGE: &str = include_str!("../../templates/guide.html");

/// Everything the guide shows.
#[derive(Debug, Serialize)]
struct Guide {
    version: &'static str,
    fingerprint: String,
    walk: Vec<Leg>,
    seen: Vec<Sight>,
    tests: Vec<Sight>,
    before: Vec<Warning>,
    passes: Vec<PassList>,
    words: Vec<(String, String)>,
}

/// A leg of the walk.
#[derive(Debug, Serialize)]
struct Leg {
    minutes: &'static str,
    title: &'static str,
    text: &'static str,
    facts: Vec<Entry>,
}

/// A picture with what to know about it.
#[derive(Debug, Serialize)]
struct Sight {
    id: &'static str,
    title: String,
    svg: String,
    means: Option<String>,
    facts: Vec<Entry>,
    figures: Vec<(String, String, String)>,
}

/// A fact with how to find it out.
#[derive(Debug, Clone, Serialize)]
struct Entry {
    name: String,
    ask: String,
    measure: String,
    work: String,
    kinds: String,
    cautions: Vec<String>,
}

/// What to take care of before a piece of work.
#[derive(Debug, Serialize)]
struct Warning {
    title: &'static str,
    rows: Vec<(String, String)>,
}

/// Facts found out at one pass.
#[derive(Debug, Serialize)]
struct PassList {
    id: &'static str,
    title: &'static str,
    facts: Vec<Entry>,
}

/// Legs of the walk: minutes, title, what to do, facts of the pack that are found out on it. The
/// minutes are our judgement of an ordinary drive; the way of measuring is the pack's.
const LEGS: [(&str, &str, &str, &[&str]); 6] = [
    (
        "0 to 3",
        "Talk at the curb",
        "Ask before you look, so that you know what to look for. Write down what the owner does not know, too.",
        &["age", "deicers", "salted_early", "finish_water", "curing"],
    ),
    (
        "3 to 8",
        "Look, from far and then from near",
        "Stand back and see where it is worst. Walk every edge and joint. Number each damage with chalk, once, and take a picture with the number in it. Follow the water: downspouts, low spots, wet soil.",
        &["spreads_from", "water_source", "drainage", "crack_course"],
    ),
    (
        "8 to 9",
        "Set the drops",
        "Put the water drops down now, on clean places away from the damage. They work while you go on.",
        &["water_drop"],
    ),
    (
        "9 to 13",
        "Tap",
        "Go over it in rows, an arm's length apart, closer where it is damaged. Count the taps and the dull ones. Chalk round what is dull.",
        &["hollow_share", "hollow_beyond_loss", "scratch"],
    ),
    (
        "13 to 18",
        "Measure",
        "One tool at a time for all the damage: straightedge and depth gauge, then the crack card, then the level.",
        &["loss_depth", "crack_width", "offset", "fall"],
    ),
    (
        "18 to 20",
        "Steps, doors, edges",
        "They say how much higher the surface may come. Every riser, every door, every edge.",
        &["riser_greatest", "drop", "door_clearance"],
    ),
];

/// Pictures of damage: the glossary's word for it, and the facts that tell it from others.
const SEEN: [(Picture, &str, &[&str]); 5] = [
    (
        Picture::Scaling,
        "scaling",
        &["stones", "flake_shade", "hollow_beyond_loss"],
    ),
    (
        Picture::Spall,
        "spall",
        &["spall_width", "greatest_depth", "rust_stain"],
    ),
    (
        Picture::Delamination,
        "delamination",
        &["hollow_share", "underside"],
    ),
    (Picture::Popouts, "popout", &["hole_bottom", "frame_mean"]),
    (
        Picture::MapCracking,
        "map cracking",
        &["spacing", "crack_depth", "crack_deposit"],
    ),
];

/// Pictures of tests: the facts they find out, and figures of the pack that belong to them.
const TESTS: [(Picture, &str, &[&str], &[&str]); 4] = [
    (Picture::Sounding, "Sounding", &["hollow_share"], &[]),
    (
        Picture::WaterDrop,
        "Water drop",
        &["water_drop"],
        &[
            "f3191_first",
            "f3191_first_surface",
            "f3191_further_surface",
            "f3191_porous",
        ],
    ),
    (Picture::CrackCard, "Crack card", &["crack_width"], &[]),
    (
        Picture::Risers,
        "Risers",
        &["riser_greatest"],
        &[
            "riser_greatest_house",
            "riser_difference_house",
            "riser_greatest_other",
        ],
    ),
];

/// What to take care of, by the rows of the pack that say so.
const BEFORE: [(&str, &[&str]); 4] = [
    ("Before a drop of acid", &["hazard-acid"]),
    (
        "Before you grind",
        &[
            "hazard-coating",
            "hazard-1978",
            "dust-limit",
            "dust-hand-grinder",
            "dust-hand-grinder-indoors",
            "dust-no-sweeping",
        ],
    ),
    (
        "Before you cut, drill or open it",
        &[
            "slab-tendons",
            "slab-tendon-signs",
            "hazard-lines",
            "dust-saw",
            "dust-saw-indoors",
            "hazard-shock",
        ],
    ),
    (
        "Before you step on it",
        &["slab-hollow-ground", "slab-suspended", "slab-trip"],
    ),
];

/// The guide of a pack as one self-contained page.
///
/// # Errors
/// When the template asks for something that is not there.
pub fn guide(pack: &Pack) -> Result<String, ReportError> {
    alone(
        "guide.html",
        PAGE,
        &context! { g => Serde(&contents(pack)) },
    )
}

fn contents(pack: &Pack) -> Guide {
    let by_id = |ids: &[&str]| -> Vec<Entry> {
        ids.iter()
            .filter_map(|id| pack.vocabulary.find(id))
            .map(|id| entry(pack, pack.vocabulary.fact(id)))
            .collect()
    };
    let figures = |ids: &[&str]| -> Vec<(String, String, String)> {
        ids.iter()
            .filter_map(|id| pack.vocabulary.figure(id))
            .map(|f| (f.name.clone(), f.text.clone(), f.source.source.clone()))
            .collect()
    };
    let means = |term: &str| {
        pack.vocabulary
            .glossary
            .iter()
            .find(|t| t.term == term)
            .map(|t| t.means.clone())
    };
    let row = |id: &&str| {
        pack.tables
            .iter()
            .flat_map(|t| &t.rows)
            .find(|r| r.id == **id)
            .map(|r| (r.because.clone(), r.source.source.clone()))
    };
    let mut words: Vec<(String, String)> = pack
        .vocabulary
        .glossary
        .iter()
        .map(|t| (t.term.clone(), t.means.clone()))
        .collect();
    words.sort_by_key(|(term, _)| term.to_lowercase());
    Guide {
        version: env!("CARGO_PKG_VERSION"),
        fingerprint: pack.fingerprint.clone(),
        walk: LEGS
            .iter()
            .map(|(minutes, title, text, facts)| Leg {
                minutes,
                title,
                text,
                facts: by_id(facts),
            })
            .collect(),
        seen: SEEN
            .iter()
            .map(|(picture, term, facts)| Sight {
                id: picture.word(),
                title: capital(term),
                svg: picture.draw(),
                means: means(term),
                facts: by_id(facts),
                figures: Vec::new(),
            })
            .collect(),
        tests: TESTS
            .iter()
            .map(|(picture, title, facts, numbers)| Sight {
                id: picture.word(),
                title: (*title).to_owned(),
                svg: picture.draw(),
                means: None,
                facts: by_id(facts),
                figures: figures(numbers),
            })
            .collect(),
        before: BEFORE
            .iter()
            .map(|(title, rows)| Warning {
                title,
                rows: rows.iter().filter_map(row).collect(),
            })
            .collect(),
        passes: [
            ("pass-look", "Look and ask", Pass::Look),
            ("pass-tap", "Tap, scratch, pry", Pass::Tap),
            ("pass-measure", "Measure", Pass::Measure),
        ]
        .into_iter()
        .map(|(id, title, pass)| PassList {
            id,
            title,
            facts: pack
                .vocabulary
                .facts()
                .map(|(_, f)| f)
                .filter(|f| f.pass == pass && f.measure.is_some() && f.ask.is_some())
                .filter(|f| matches!(f.comes, Comes::Asked | Comes::Survey))
                .filter(|f| !is_worked_out(f))
                .map(|f| entry(pack, f))
                .collect(),
        })
        .collect(),
        words,
    }
}

/// Whether nobody goes and measures a fact: it is reckoned from others.
fn is_worked_out(fact: &Fact) -> bool {
    let taken = fact
        .measure
        .as_deref()
        .is_some_and(|m| m.starts_with("Taken from") || m.contains("divided by"));
    taken || (fact.scope == Scope::Panel && fact.comes == Comes::Survey)
}

fn entry(pack: &Pack, fact: &Fact) -> Entry {
    let mut work = Vec::new();
    if fact.minutes > 0.0 {
        work.push(format!("{} min", fact.minutes));
    }
    if fact.wait_days >= 1.0 {
        work.push(format!("{:.0} days to wait", fact.wait_days));
    } else if fact.wait_days > 0.0 {
        work.push(format!("{:.0} hours to wait", fact.wait_days * 24.0));
    }
    if fact.who != "anyone" {
        work.push(fact.who.clone());
    }
    Entry {
        name: capital(&fact.name),
        ask: fact.ask.clone().unwrap_or_default(),
        measure: fact.measure.clone().unwrap_or_default(),
        work: work.join(", "),
        kinds: fact.kinds.join(", ").replace('_', " "),
        cautions: pack.cautions(fact).into_iter().map(str::to_owned).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_guide_finds_everything_it_points_to() {
        let pack = crate::rules::builtin().unwrap();
        let g = contents(&pack);
        for (leg, (_, title, _, facts)) in g.walk.iter().zip(LEGS) {
            assert_eq!(leg.facts.len(), facts.len(), "{title}");
        }
        for (sight, (_, term, facts)) in g.seen.iter().zip(SEEN) {
            assert_eq!(sight.facts.len(), facts.len(), "{term}");
            assert!(sight.means.is_some(), "{term}");
        }
        for (sight, (_, title, facts, numbers)) in g.tests.iter().zip(TESTS) {
            assert_eq!(sight.facts.len(), facts.len(), "{title}");
            assert_eq!(sight.figures.len(), numbers.len(), "{title}");
        }
        for (warning, (title, rows)) in g.before.iter().zip(BEFORE) {
            assert_eq!(warning.rows.len(), rows.len(), "{title}");
        }
    }

    #[test]
    fn the_page_stands_alone_with_every_picture_word_and_caution() {
        let pack = crate::rules::builtin().unwrap();
        let page = guide(&pack).unwrap();
        for p in Picture::ALL {
            assert!(page.contains(&format!("id=\"{}\"", p.word())), "{p:?}");
        }
        assert_eq!(page.matches("<svg").count(), Picture::ALL.len());
        for t in &pack.vocabulary.glossary {
            assert!(page.contains(&format!("<dt>{}</dt>", t.term)), "{}", t.term);
        }
        assert!(page.contains("acid into water, never the reverse"));
        assert!(page.contains("test before grinding"));
        assert!(page.contains("never cut, core, drill"));
        assert!(
            !page.contains("http://")
                || page.matches("http://").count()
                    == page.matches("http://www.w3.org/2000/svg").count()
        );
        assert!(!page.contains("https://") && !page.contains("<script"));
        // Ids are unique.
        let ids: Vec<&str> = page
            .split(" id=\"")
            .skip(1)
            .filter_map(|t| t.split('"').next())
            .collect();
        let unique: std::collections::HashSet<&&str> = ids.iter().collect();
        assert_eq!(unique.len(), ids.len());
    }
}
