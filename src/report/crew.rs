//! The crew sheet: what to do, in what order, with how much, how quick, and what to watch out for.

use serde::Serialize;

use super::PlanView;
use super::phrases::Phrases;
use super::plan_view::{Section, Table};
use super::view::{JobView, Sources, View, unmarked};
use crate::assessment::Reason;
use crate::record::model::Material;
use crate::units::{Notation, System};

/// A crew sheet ready to print.
#[derive(Debug, Clone, Serialize)]
pub struct CrewSheet {
    /// Title of the paper.
    pub title: String,
    /// Who, where, when.
    pub job: JobView,
    /// The slab's verdict.
    pub verdict: String,
    /// Whether it is firm; if not, no work starts from this sheet.
    pub firm: bool,
    /// Areas with their work.
    pub areas: Vec<CrewArea>,
    /// What to bring, to tick off.
    pub bring: Vec<Bring>,
    /// People, batches, window, orders and readings of the plan.
    pub plan: Vec<Section>,
    /// What the plan says to look out for.
    pub look_out: Vec<String>,
    /// Cautions, safety first.
    pub cautions: Vec<CrewCaution>,
    /// What must not be done.
    pub never: Vec<CrewCaution>,
    /// Version of the tool.
    pub version: String,
    /// Fingerprint of the rules.
    pub rules: String,
    /// House rules added, replaced or switched off, one line each.
    pub house_rules: Vec<String>,
}

/// An area with its work.
#[derive(Debug, Clone, Serialize)]
pub struct CrewArea {
    /// Short name.
    pub id: String,
    /// What people call it.
    pub name: String,
    /// Verdict.
    pub verdict: String,
    /// Surface, as printed.
    pub surface: Option<String>,
    /// Why nothing is done here.
    pub why_not: Option<String>,
    /// Layer to place and its thickness.
    pub layer: Option<CrewLayer>,
    /// Surface profile to reach.
    pub profile: Option<String>,
    /// Parts of the work in order.
    pub parts: Vec<CrewPart>,
    /// Waits, as `what: how long`.
    pub waits: Vec<String>,
}

/// A layer to place.
#[derive(Debug, Clone, Serialize)]
pub struct CrewLayer {
    /// Which.
    pub name: String,
    /// Thickness to place.
    pub chosen: String,
    /// Never thinner than.
    pub floor: String,
    /// Never thicker than.
    pub ceiling: String,
}

/// A part of the work.
#[derive(Debug, Clone, Serialize)]
pub struct CrewPart {
    /// What it is.
    pub name: String,
    /// Instructions in order.
    pub steps: Vec<CrewStep>,
}

/// An instruction.
#[derive(Debug, Clone, Serialize)]
pub struct CrewStep {
    /// In full.
    pub text: String,
    /// Whether it is there for safety.
    pub safety: bool,
}

/// Something to bring.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Bring {
    /// What the crew calls it.
    pub name: String,
    /// What its data sheet says.
    pub sheet: Vec<String>,
}

/// A caution for the crew.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct CrewCaution {
    /// The caution.
    pub text: String,
    /// Whether it is for safety.
    pub safety: bool,
}

impl CrewSheet {
    /// Puts a sheet together from the owner's view, its sources and the plan, where there is one.
    pub fn build(
        view: &View,
        sources: &Sources<'_>,
        plan: Option<&PlanView>,
        phrases: &Phrases,
    ) -> CrewSheet {
        let areas = view
            .work
            .areas
            .iter()
            .map(|a| CrewArea {
                id: a.id.clone(),
                name: a.name.clone(),
                verdict: a.verdict.clone(),
                surface: view
                    .verdict
                    .areas
                    .iter()
                    .find(|line| line.id == a.id && line.name == a.name)
                    .and_then(|line| line.surface.clone()),
                why_not: a
                    .why_not
                    .as_ref()
                    .map(|r| r.iter().map(|s| s.text.as_str()).collect()),
                layer: a.overlay.as_ref().map(|o| CrewLayer {
                    name: o.name.clone(),
                    chosen: o.chosen.clone(),
                    floor: o.floor.clone(),
                    ceiling: o.ceiling.clone(),
                }),
                profile: a.profile.as_ref().map(|p| p.range.clone()),
                parts: a
                    .stages
                    .iter()
                    .map(|part| CrewPart {
                        name: part.name.clone(),
                        steps: part
                            .steps
                            .iter()
                            .map(|s| CrewStep {
                                text: s.crew.clone(),
                                safety: s.safety,
                            })
                            .collect(),
                    })
                    .collect(),
                waits: a
                    .waits
                    .iter()
                    .map(|w| format!("{}: {}", w.name, w.value))
                    .collect(),
            })
            .collect();
        let units = sources.record.job.units;
        let mut bring: Vec<Bring> = sources
            .record
            .materials
            .iter()
            .map(|m| bring(m, units, phrases))
            .collect();
        bring.dedup();
        CrewSheet {
            title: phrases.say("crew_title", &[]),
            job: view.job.clone(),
            verdict: view.verdict.headline.clone(),
            firm: view.verdict.firm,
            areas,
            bring,
            plan: plan.map_or_else(Vec::new, |p| p.sections.iter().map(slim).collect()),
            look_out: plan.map_or_else(Vec::new, |p| together(&p.notes)),
            cautions: cautions(&sources.assessment.cautions),
            never: cautions(&sources.assessment.exclusions),
            version: view.version.clone(),
            rules: view.rules.clone(),
            house_rules: view.house_rules.clone(),
        }
    }
}

/// On site nobody asks how a quantity comes about: columns of reasoning and empty tables go.
fn slim(section: &Section) -> Section {
    let mut section = section.clone();
    section.tables.retain(|t| !t.rows.is_empty());
    for table in &mut section.tables {
        // Where there is one area only, naming it on every line says nothing.
        let same = |i: usize| {
            let mut cells = table.rows.iter().map(|r| r.get(i));
            let first = cells.next();
            first.is_some_and(|f| cells.all(|c| c == f))
        };
        if let Some(i) = table.head.iter().position(|h| h == "Area")
            && same(i)
        {
            drop_column(table, "Area");
        }
        for head in ["How it comes about", "From", "Rule"] {
            drop_column(table, head);
        }
    }
    section
}

/// `In panel A1 …` and `In panel B1 …` with the same rest become `In panels A1, B1 …`.
fn together(notes: &[String]) -> Vec<String> {
    let mut out: Vec<(Vec<&str>, &str)> = Vec::new();
    for note in notes {
        let split = note
            .strip_prefix("In panel ")
            .and_then(|rest| rest.split_once(' '));
        match split {
            Some((panel, rest)) => {
                match out.iter_mut().find(|(p, r)| !p.is_empty() && *r == rest) {
                    Some((panels, _)) => panels.push(panel),
                    None => out.push((vec![panel], rest)),
                }
            }
            None => out.push((Vec::new(), note)),
        }
    }
    out.into_iter()
        .map(|(panels, rest)| match panels.as_slice() {
            [] => rest.to_owned(),
            [one] => format!("In panel {one} {rest}"),
            many => format!("In panels {} {rest}", many.join(", ")),
        })
        .collect()
}

fn drop_column(table: &mut Table, head: &str) {
    // A table of times has a column `From` of its own.
    if table.head.iter().any(|h| h == "To") {
        return;
    }
    if let Some(i) = table.head.iter().position(|h| h == head) {
        table.head.remove(i);
        for row in &mut table.rows {
            if i < row.len() {
                row.remove(i);
            }
        }
    }
}

fn bring(material: &Material, units: System, phrases: &Phrases) -> Bring {
    fn say<T: Notation>(
        key: &str,
        value: Option<&crate::units::Measured<T>>,
        units: System,
        phrases: &Phrases,
        out: &mut Vec<String>,
    ) {
        if let Some(value) = value.and_then(crate::units::Measured::canonical) {
            let value = T::KIND.write(value, units);
            out.push(phrases.say(key, &[("value", &value)]));
        }
    }
    let mut sheet = Vec::new();
    let m = material;
    say("sheet_bag", m.bag.as_ref(), units, phrases, &mut sheet);
    say("sheet_water", m.water.as_ref(), units, phrases, &mut sheet);
    say("sheet_lift", m.lift.as_ref(), units, phrases, &mut sheet);
    say(
        "sheet_life",
        m.pot_life.as_ref(),
        units,
        phrases,
        &mut sheet,
    );
    say(
        "sheet_temperature",
        m.temperature.as_ref(),
        units,
        phrases,
        &mut sheet,
    );
    Bring {
        name: m.name.clone(),
        sheet,
    }
}

/// Each caution once, safety first, in the crew's words.
fn cautions(reasons: &[Reason]) -> Vec<CrewCaution> {
    let mut out: Vec<CrewCaution> = Vec::new();
    for safety in [true, false] {
        for reason in reasons
            .iter()
            .filter(|r| r.safety == safety && (r.certain || r.safety))
        {
            let text = unmarked(reason.because.trim());
            if !out.iter().any(|c| c.text == text) {
                out.push(CrewCaution { text, safety });
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_note_on_many_panels_is_said_once() {
        let notes = [
            "In panel A1 of x mix less.",
            "Other.",
            "In panel B1 of x mix less.",
        ];
        let notes: Vec<String> = notes.iter().map(|n| (*n).to_owned()).collect();
        assert_eq!(
            together(&notes),
            ["In panels A1, B1 of x mix less.", "Other."]
        );
    }

    #[test]
    fn reasoning_columns_go_but_times_stay() {
        let table = |head: &[&str]| Table {
            caption: String::new(),
            head: head.iter().map(|h| (*h).to_owned()).collect(),
            rows: vec![head.iter().map(|h| format!("{h}!")).collect()],
        };
        let section = Section {
            tables: vec![
                table(&["Area", "What", "How it comes about", "From"]),
                table(&["Bay", "From", "To"]),
                Table::default(),
            ],
            ..Section::default()
        };
        let slim = slim(&section);
        assert_eq!(slim.tables.len(), 2);
        assert_eq!(slim.tables[0].rows[0], ["What!"]);
        assert_eq!(slim.tables[1].rows[0], ["Bay!", "From!", "To!"]);
    }
}
