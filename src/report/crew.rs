//! The crew sheet: what to do, in what order, with how much, how quick, and what to watch out for.

use serde::Serialize;

use super::names;
use super::phrases::Phrases;
use super::plan_view::{self, Section};
use super::view::{JobView, Sources, View, about_defect, join, sentence, stage_name};
use crate::assessment::Reason;
use crate::method::Step;
use crate::plan::Plan;
use crate::plan::model::TestPlan;
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
    /// Work that is the same in several areas.
    pub shared: Vec<CrewPart>,
    /// Areas with the rest of their work.
    pub areas: Vec<CrewArea>,
    /// What to bring, to tick off.
    pub bring: Vec<Bring>,
    /// Readings to take, to tick off.
    pub readings: Vec<Reading>,
    /// Waiting times.
    pub waits: Vec<CrewWait>,
    /// The pour and its window, from the plan; who does what among its details.
    pub plan: Vec<Section>,
    /// What the plan says to look out for.
    pub look_out: Vec<String>,
    /// Cautions, safety first.
    pub cautions: Vec<CrewCaution>,
    /// What must not be done.
    pub never: Vec<CrewCaution>,
    /// Letters in which it fits one printed page, points: where the page is set by a browser.
    pub letters: f64,
    /// How it stands on that page.
    pub way: Way,
    /// Letters are never smaller, points: what does not fit goes on a second page.
    pub least: f64,
    /// Version of the tool.
    pub version: String,
    /// Fingerprint of the rules.
    pub rules: String,
    /// House rules added, replaced or switched off, one line each.
    pub house_rules: Vec<String>,
}

/// A reading to take.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Reading {
    /// What to measure and when.
    pub what: String,
    /// How many, area by area where there are several.
    pub count: String,
    /// What it must keep.
    pub must: String,
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
    /// Whether nothing is done here.
    pub idle: bool,
    /// Parts of the work in order, without what is done alike elsewhere.
    pub parts: Vec<CrewPart>,
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
    /// In a line.
    pub text: String,
    /// Whether it is there for safety.
    pub safety: bool,
    /// Areas it holds for, where it stands for several.
    pub areas: String,
}

/// A waiting time.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct CrewWait {
    /// For what.
    pub what: String,
    /// How long.
    pub long: String,
    /// Areas it holds for, where there are several.
    pub areas: String,
}

/// Something to bring.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Bring {
    /// What the crew calls it.
    pub name: String,
    /// How much, area by area where there are several.
    pub amount: String,
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
        plan: Option<&Plan>,
        phrases: &Phrases,
    ) -> CrewSheet {
        let mut areas: Vec<CrewArea> = view
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
                idle: false,
                parts: Vec::new(),
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
        // An area goes by its letter on the map where it has one; a single one needs no name.
        let called = |id: &str| -> String {
            let all = plan.map_or(&[] as &[_], |p| &p.areas);
            match all.iter().find(|a| a.id == id).filter(|_| all.len() > 1) {
                Some(a) => {
                    let tag = names::area_tag(&a.id, &a.name);
                    if tag.is_empty() { a.name.clone() } else { tag }
                }
                None => String::new(),
            }
        };
        for area in plan.iter().flat_map(|p| &p.areas) {
            for order in &area.orders {
                let amount = at(plan_view::amount(order, units), &called(&area.id));
                add_amount(&mut bring, &order.material, amount);
            }
        }
        let mut readings = Vec::new();
        for test in plan.iter().flat_map(|p| &p.tests) {
            let count = at(test.count.to_string(), &called(&test.area));
            add_reading(&mut readings, test, count);
        }
        let drops = plan.is_some_and(|p| p.tests.iter().any(|t| t.id == "water_drops"));
        let pours = plan.is_some_and(|p| p.areas.iter().any(|a| a.pour.is_some()));
        let elsewhere = |step: &Step, all: &[Step]| match step.reason.row.as_str() {
            "do-water-bag" => pours,
            "do-water-drop" => drops,
            // The step that says how deep they are cut says all of it.
            "do-joint-carry" => all.iter().any(|s| s.reason.row == "joint-saw-depth"),
            row => {
                FOR_THE_OFFICE.contains(&row)
                    || IN_THE_BOX.contains(&row)
                    || step.reason.table == "overlay_system"
            }
        };
        for (area, method) in areas.iter_mut().zip(&sources.method.areas) {
            area.idle = method.steps.is_empty();
            area.parts = parts(&method.steps, elsewhere);
        }
        let (sections, notes) = plan.map_or_else(Default::default, |p| {
            plan_view::crew_parts(p, units, phrases)
        });
        if pours {
            // How much water and how long it works stands with the pour.
            bring.iter_mut().for_each(|b| b.sheet.truncate(1));
        }
        let shared = shared(&mut areas);
        let waits = waits(view);
        let mut sheet = CrewSheet {
            title: phrases.say("crew_title", &[]),
            job: view.job.clone(),
            verdict: view.verdict.headline.clone(),
            firm: view.verdict.firm,
            shared,
            areas,
            bring,
            readings,
            waits,
            plan: sections,
            look_out: together(&notes),
            cautions: cautions(&sources.assessment.cautions),
            never: cautions(&sources.assessment.exclusions),
            letters: LEAST_PT,
            way: Way::Tight,
            least: LEAST_PT,
            version: view.version.clone(),
            rules: view.rules.clone(),
            house_rules: view.house_rules.clone(),
        };
        (sheet.way, sheet.letters) = sheet.fitting();
        sheet
    }

    /// The way of setting it, and the largest letters, with which the sheet, two columns wide, stands
    /// on a printed page; estimated from the lines it takes. A browser can't measure and set in one go.
    fn fitting(&self) -> (Way, f64) {
        const STEP_PT: f64 = 0.1;
        for (way, least) in [
            (Way::Open, 1.15 * LEAST_PT),
            (Way::Close, 1.05 * LEAST_PT),
            (Way::Tight, LEAST_PT),
        ] {
            let steps = ((MOST_PT - least) / STEP_PT).floor() as u32;
            let sizes = (0..=steps).rev().map(|i| least + f64::from(i) * STEP_PT);
            if let Some(size) = sizes
                .into_iter()
                .find(|s| self.height(*s, way) <= 2.0 * PAGE_PT)
            {
                return (way, (size * 10.0).floor() / 10.0);
            }
        }
        (Way::Tight, LEAST_PT)
    }

    /// Height of one column with everything in it, points, in letters of `size` points.
    fn height(&self, size: f64, way: Way) -> f64 {
        let line = LINE * size;
        // A letter is about so much of the size wide in a text face.
        let across = (COLUMN_PT / (LETTER * size)).max(8.0);
        let lines =
            |letters: usize, indent: f64| (letters as f64 / (across - indent) + SPILL).ceil();
        let list = |entries: &[usize]| -> f64 {
            entries
                .iter()
                .map(|n| lines(*n, 2.5) * line + GAP * size)
                .sum()
        };
        // One behind the other, each with its box.
        let run = |entries: &[usize]| -> f64 {
            let letters: usize = entries.iter().map(|n| n + 3).sum();
            lines(letters, 1.5) * line + GAP * size
        };
        let head = HEAD * size;
        let parts = |parts: &[CrewPart]| -> f64 {
            let part = |p: &CrewPart| {
                let steps: Vec<usize> = p.steps.iter().map(CrewStep::letters).collect();
                if way == Way::Open {
                    line + GAP * size + list(&steps)
                } else {
                    run(&[&[letters(&p.name)], steps.as_slice()].concat())
                }
            };
            parts.iter().map(part).sum()
        };
        let mut high = 0.0;
        if !self.firm {
            high += 4.0 * line;
        }
        if !self.shared.is_empty() {
            high += head + parts(&self.shared);
        }
        for a in &self.areas {
            let title = a.name.chars().count() + letters(&a.verdict) + 14;
            // Capitals are wider.
            high += head + (lines(title * 13 / 10, 0.0) - 1.0) * line + parts(&a.parts);
            high += a
                .why_not
                .as_deref()
                .map_or(0.0, |w| lines(letters(w), 0.0) * line);
            if a.layer.is_some() || a.profile.is_some() {
                high += 3.2 * line;
            }
        }
        for s in &self.plan {
            let lead: Vec<usize> = s.lead.iter().map(|l| letters(l)).collect();
            high += head + list(&lead);
            if let Some(picture) = s.picture.as_ref().filter(|_| way == Way::Open) {
                high += (COLUMN_PT * proportion(picture)).min(PICTURE_PT) + line;
            } else {
                let who = s.details.iter().flat_map(|t| &t.rows);
                let who: usize = who.flatten().map(|c| letters(c) + 2).sum();
                high += lines(who, 0.0) * line;
            }
            for t in &s.tables {
                high += (t.rows.len() as f64 + 1.6) * 1.2 * line;
            }
        }
        let inline = |entries: &[usize], inline: bool| {
            if entries.is_empty() {
                0.0
            } else if inline {
                head + run(entries)
            } else {
                head + list(entries)
            }
        };
        let bring: Vec<usize> = (self.bring.iter())
            .map(|b| {
                let sheet: usize = b.sheet.iter().map(|x| letters(x) + 2).sum();
                let sheet = if way == Way::Open { sheet } else { 0 };
                letters(&b.name) + letters(&b.amount) + sheet + 2
            })
            .collect();
        let readings: Vec<usize> = (self.readings.iter())
            .map(|r| letters(&r.what) + letters(&r.count) + letters(&r.must) + 4)
            .collect();
        let waits: Vec<usize> = (self.waits.iter())
            .map(|w| letters(&w.what) + letters(&w.long) + letters(&w.areas) + 4)
            .collect();
        high += inline(&bring, way == Way::Tight) + inline(&readings, way == Way::Tight);
        high += inline(&waits, way != Way::Open);
        for texts in [&self.cautions, &self.never] {
            let texts: Vec<usize> = texts.iter().map(|c| letters(&c.text)).collect();
            high += inline(&texts, false);
        }
        let look_out: Vec<usize> = self.look_out.iter().map(|l| letters(l)).collect();
        high + inline(&look_out, false)
    }
}

/// How the sheet is set on a page that it must not outgrow.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Way {
    /// Each instruction on its own line, and the pours with their picture.
    Open,
    /// Instructions of a part one behind the other.
    Close,
    /// What to bring and to read one behind the other too.
    Tight,
}

impl CrewStep {
    /// How many letters it takes.
    fn letters(&self) -> usize {
        letters(&self.text) + letters(&self.areas) + 2
    }
}

fn letters(text: &str) -> usize {
    text.chars().count()
}

/// Letters of the sheet are never smaller, points: it is read at arm's length, in the sun.
const LEAST_PT: f64 = 9.0;
/// Nor larger.
const MOST_PT: f64 = 13.0;
/// Width of a column of the printed sheet, points.
const COLUMN_PT: f64 = 278.0;
/// Height of a column below the head of the sheet, points.
const PAGE_PT: f64 = 676.0;
/// Greatest height of a drawing on the printed sheet, points.
const PICTURE_PT: f64 = 130.0;
/// Mean width of a letter over the size of the letters.
const LETTER: f64 = 0.42;
/// What breaking between words costs a paragraph, lines.
const SPILL: f64 = 0.1;
/// Height of a line over the size of the letters.
const LINE: f64 = 1.1;
/// Space between entries of a list over the size of the letters.
const GAP: f64 = 0.15;
/// Height of a heading over the size of the letters.
const HEAD: f64 = 2.1;

/// Height over width of a drawing, as its head says.
fn proportion(svg: &str) -> f64 {
    let number = |name: &str| -> Option<f64> {
        let (_, rest) = svg.split_once(&format!(" {name}=\""))?;
        rest.split_once('"')?.0.parse().ok()
    };
    match (number("width"), number("height")) {
        (Some(w), Some(h)) if w > 0.0 => h / w,
        _ => 1.0,
    }
}

/// Puts an amount to order beside what is brought; what the record does not list is added.
fn add_amount(bring: &mut Vec<Bring>, material: &str, amount: String) {
    match bring.iter_mut().find(|b| b.name == material) {
        Some(b) if b.amount.is_empty() => b.amount = amount,
        Some(b) => b.amount = format!("{}; {amount}", b.amount),
        None => bring.push(Bring {
            name: material.to_owned(),
            amount,
            sheet: Vec::new(),
        }),
    }
}

/// `9 bags (A)`; without an area, as it is.
fn at(what: String, area: &str) -> String {
    if area.is_empty() {
        what
    } else {
        format!("{what} ({area})")
    }
}

/// Adds a reading; those of the same kind and limits stand together.
fn add_reading(readings: &mut Vec<Reading>, test: &TestPlan, count: String) {
    let same = |r: &&mut Reading| r.what == test.what && r.must == test.keep;
    match readings.iter_mut().find(same) {
        Some(r) => r.count = format!("{}, {count}", r.count),
        None => readings.push(Reading {
            what: test.what.clone(),
            count,
            must: test.keep.clone(),
        }),
    }
}

/// Steps of the method that are done at a desk: what is written into the contract.
const FOR_THE_OFFICE: [&str; 2] = ["do-crack-may-return", "do-crack-may-show"];

/// Name of a part of the work, short.
fn part_name(stage: &str) -> String {
    match stage {
        "protect" => "Protect".to_owned(),
        "remove" => "Take off".to_owned(),
        "profile" => "Roughen".to_owned(),
        "cracks" => "Cracks".to_owned(),
        "saw" => "Saw joints".to_owned(),
        "patch" => "Fill holes".to_owned(),
        "bond" => "Bond".to_owned(),
        "overlay" => "Place".to_owned(),
        "cure" => "Cure".to_owned(),
        other => stage_name(other),
    }
}

/// Steps that say no more than the box of the layer: the profile to reach.
const IN_THE_BOX: [&str; 4] = [
    "do-profile-thin",
    "do-profile-film",
    "do-profile-patterned",
    "do-profile-topping",
];

/// Parts of the work in order, without the steps that the sheet says elsewhere: the layer in its
/// box, water with the pour, drops of water among the readings. What is done alike at several
/// defects is one instruction with their numbers.
fn parts(steps: &[Step], elsewhere: impl Fn(&Step, &[Step]) -> bool) -> Vec<CrewPart> {
    struct Said {
        text: String,
        numbers: Vec<String>,
        safety: bool,
    }
    let mut parts: Vec<(String, Vec<Said>)> = Vec::new();
    for step in steps.iter().filter(|s| !elsewhere(s, steps)) {
        let (number, text) = about_defect(&step.line);
        let text = sentence(text);
        let name = part_name(&step.stage);
        if parts.last().is_none_or(|(last, _)| *last != name) {
            parts.push((name, Vec::new()));
        }
        let Some((_, said)) = parts.last_mut() else {
            continue;
        };
        let same = said
            .iter_mut()
            .find(|s| s.text == text && s.numbers.is_empty() == number.is_none());
        match same {
            Some(same) => {
                same.safety |= step.reason.safety;
                let new = number.filter(|n| !same.numbers.contains(n));
                same.numbers.extend(new);
            }
            None => said.push(Said {
                text,
                numbers: number.into_iter().collect(),
                safety: step.reason.safety,
            }),
        }
    }
    let step = |s: Said| CrewStep {
        text: match s.numbers.len() {
            0 => s.text,
            1 => format!("Defect {}: {}", join(&s.numbers, "and"), s.text),
            _ => format!("Defects {}: {}", join(&s.numbers, "and"), s.text),
        },
        safety: s.safety,
        areas: String::new(),
    };
    parts
        .into_iter()
        .map(|(name, said)| CrewPart {
            name,
            steps: said.into_iter().map(step).collect(),
        })
        .collect()
}

/// Waiting times of all areas; what is waited for alike in several is said once.
fn waits(view: &View) -> Vec<CrewWait> {
    let mut out: Vec<(String, String, Vec<&str>)> = Vec::new();
    for a in &view.work.areas {
        let called = if a.id.is_empty() { &a.name } else { &a.id };
        for wait in &a.waits {
            match out
                .iter_mut()
                .find(|(what, long, _)| *what == wait.name && *long == wait.value)
            {
                Some((_, _, areas)) if areas.contains(&called.as_str()) => {}
                Some((_, _, areas)) => areas.push(called),
                None => out.push((wait.name.clone(), wait.value.clone(), vec![called])),
            }
        }
    }
    let several = view.work.areas.len() > 1;
    out.into_iter()
        .map(|(what, long, areas)| CrewWait {
            what,
            // `1 day to 2 days` is read slower.
            long: long.replace(" day to ", " to "),
            areas: if several {
                areas.join(", ")
            } else {
                String::new()
            },
        })
        .collect()
}

/// Takes out what is done alike in several areas and gives it once, with the areas it holds for.
fn shared(areas: &mut [CrewArea]) -> Vec<CrewPart> {
    let mut out: Vec<CrewPart> = Vec::new();
    let mut seen: Vec<(String, String, Vec<String>)> = Vec::new();
    for a in areas.iter() {
        let called = if a.id.is_empty() { &a.name } else { &a.id };
        for part in &a.parts {
            for step in &part.steps {
                match seen
                    .iter_mut()
                    .find(|(name, text, _)| *name == part.name && *text == step.text)
                {
                    Some((_, _, who)) if who.contains(called) => {}
                    Some((_, _, who)) => who.push(called.clone()),
                    None => seen.push((part.name.clone(), step.text.clone(), vec![called.clone()])),
                }
            }
        }
    }
    seen.retain(|(_, _, who)| who.len() > 1);
    for (name, text, who) in &seen {
        let safety = areas
            .iter()
            .flat_map(|a| &a.parts)
            .flat_map(|p| &p.steps)
            .any(|s| s.text == *text && s.safety);
        let step = CrewStep {
            text: text.clone(),
            safety,
            areas: if who.len() == areas.len() {
                String::new()
            } else {
                who.join(", ")
            },
        };
        match out.iter_mut().find(|p| p.name == *name) {
            Some(p) => p.steps.push(step),
            None => out.push(CrewPart {
                name: name.clone(),
                steps: vec![step],
            }),
        }
    }
    for a in areas {
        for part in &mut a.parts {
            let alike = |s: &CrewStep| seen.iter().any(|(n, t, _)| *n == part.name && *t == s.text);
            part.steps.retain(|s| !alike(s));
        }
        a.parts.retain(|p| !p.steps.is_empty());
    }
    out
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
        amount: String::new(),
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
            let text = reason.crew.as_deref().unwrap_or(&reason.because);
            let text = sentence(text);
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
    fn amounts_stand_beside_what_is_brought_and_readings_of_a_kind_together() {
        let mut list = vec![Bring {
            name: "mix".into(),
            amount: String::new(),
            sheet: vec!["50 lb bag".into()],
        }];
        for (material, amount, area) in [
            ("mix", "9 bags", "north"),
            ("mix", "2 bags", "south"),
            ("sealer", "1 gal", "north"),
        ] {
            add_amount(&mut list, material, at(amount.to_owned(), area));
        }
        assert_eq!(list[0].amount, "9 bags (north); 2 bags (south)");
        assert_eq!(
            (list[1].name.as_str(), list[1].amount.as_str()),
            ("sealer", "1 gal (north)")
        );
        let mut all = Vec::new();
        for (area, count, keep) in [
            ("north", "2", "7 to 10"),
            ("south", "3", "7 to 10"),
            ("west", "1", "6 to 9"),
        ] {
            let test = TestPlan {
                area: area.into(),
                id: "ph".into(),
                what: "pH".into(),
                count: 1,
                keep: keep.into(),
                source: String::new(),
                kind: crate::units::Kind::Number,
                limits: Default::default(),
                result: None,
            };
            add_reading(&mut all, &test, at(count.to_owned(), area));
        }
        assert_eq!(all.len(), 2);
        assert_eq!(all[0].count, "2 (north), 3 (south)");
    }

    #[test]
    fn what_is_done_alike_is_said_once_with_its_areas() {
        let area = |id: &str, texts: &[&str]| CrewArea {
            id: id.into(),
            name: id.into(),
            verdict: String::new(),
            surface: None,
            why_not: None,
            layer: None,
            profile: None,
            idle: false,
            parts: vec![CrewPart {
                name: "Seal".into(),
                steps: texts
                    .iter()
                    .map(|t| CrewStep {
                        text: (*t).into(),
                        safety: *t == "Mask on.",
                        areas: String::new(),
                    })
                    .collect(),
            }],
        };
        let mut areas = [
            area("A", &["Mask on.", "Two coats."]),
            area("B", &["Mask on."]),
            area("C", &["Mask on.", "Two coats."]),
        ];
        let parts = shared(&mut areas);
        let steps = &parts[0].steps;
        assert_eq!(
            (steps[0].text.as_str(), steps[0].areas.as_str()),
            ("Mask on.", "")
        );
        assert!(steps[0].safety);
        assert_eq!(
            (steps[1].text.as_str(), steps[1].areas.as_str()),
            ("Two coats.", "A, C")
        );
        assert!(areas.iter().all(|a| a.parts.is_empty()));
    }
}
