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
        (sheet.way, sheet.letters) = sheet.fitting(phrases);
        sheet
    }

    /// The way of setting it, and the largest letters, with which the sheet, two columns wide, stands
    /// on a printed page; worked out line by line. A browser can't measure and set in one go.
    fn fitting(&self, phrases: &Phrases) -> (Way, f64) {
        const STEP_PT: f64 = 0.1;
        for (way, least) in [
            (Way::Open, 1.15 * LEAST_PT),
            (Way::Close, 1.05 * LEAST_PT),
            (Way::Tight, LEAST_PT),
        ] {
            let blocks = self.blocks(way, phrases);
            let high = |size: f64| blocks.iter().map(|b| b.height(size)).sum::<f64>();
            let steps = ((MOST_PT - least) / STEP_PT).round() as u32;
            let mut sizes = (0..=steps).rev().map(|i| least + f64::from(i) * STEP_PT);
            // A column ends with a line to spare.
            if let Some(size) = sizes.find(|s| high(*s) + s <= 2.0 * PAGE_PT) {
                return (way, (size * 10.0).floor() / 10.0);
            }
        }
        (Way::Tight, LEAST_PT)
    }

    /// What stands one below the other in the columns of the printed sheet.
    fn blocks(&self, way: Way, phrases: &Phrases) -> Vec<Block> {
        let turn = |text: &str| phrases.sentences.turn(text);
        let say = |key: &str| phrases.say(key, &[]);
        let mut out = Vec::new();
        let head = |out: &mut Vec<Block>, title: String| {
            // Capitals, bold and spaced, are wider.
            out.push(Block::new(title.to_uppercase(), 0.8, 1.03).and(0.9));
        };
        let list = |out: &mut Vec<Block>, texts: Vec<String>, run: bool| {
            if run {
                out.push(Block::new(texts.join(" "), 0.0, 1.03).and(0.1));
            } else {
                let own_line = |t: String| Block::new(t, 1.3, 1.0).and(0.08);
                out.extend(texts.into_iter().map(own_line));
            }
        };
        let parts = |out: &mut Vec<Block>, parts: &[CrewPart]| {
            for part in parts {
                let step = |s: &CrewStep| match s.areas.as_str() {
                    "" => format!("{TICK}{}", turn(&s.text)),
                    areas => format!("{TICK}{areas}: {}", turn(&s.text)),
                };
                let steps: Vec<String> = part.steps.iter().map(step).collect();
                if way == Way::Open {
                    out.push(Block::new(turn(&part.name), 0.0, 1.0).and(0.3));
                    list(out, steps, false);
                } else {
                    let text = format!("{}. {}", turn(&part.name), steps.join(" "));
                    out.push(Block::new(text, 0.7, 1.0));
                }
            }
        };
        if !self.firm {
            let text = format!("{} {}", turn(&self.verdict), say("stop_open"));
            out.push(Block::new(text, 1.4, 1.05).and(2.5));
        }
        for s in &self.plan {
            head(&mut out, turn(&s.title));
            let lead = s.lead.iter().map(|l| turn(l)).collect();
            list(&mut out, lead, way == Way::Tight);
            if let Some(picture) = s.picture.as_ref().filter(|_| way == Way::Open) {
                let high = (COLUMN_PT * proportion(picture)).min(PICTURE_PT);
                out.push(Block {
                    fixed: high,
                    ..Block::new(String::new(), 0.0, 1.0).and(0.6)
                });
            } else {
                let who = s.details.iter().flat_map(|t| &t.rows).flatten();
                let who: Vec<String> = who.map(|c| turn(c)).collect();
                out.push(Block::new(who.join(", "), 0.0, 1.02));
            }
            for row in s.tables.iter().flat_map(|t| &t.rows) {
                out.push(Block::new(row.concat(), 0.0, 0.1).and(0.16));
            }
            out.push(Block::new(String::new(), 0.0, 1.0).and(1.4));
        }
        if !self.shared.is_empty() {
            head(&mut out, say("in_several_areas"));
            parts(&mut out, &self.shared);
        }
        for a in &self.areas {
            let surface = a.surface.as_deref().unwrap_or_default();
            head(
                &mut out,
                format!("{} {} {surface} {}", a.id, a.name, turn(&a.verdict)),
            );
            out.extend(a.why_not.as_deref().map(|w| Block::new(turn(w), 0.0, 1.0)));
            if a.layer.is_some() || a.profile.is_some() {
                let mut text = a.profile.clone().map_or_else(String::new, |range| {
                    phrases.say("roughness", &[("range", &range)])
                });
                if let Some(l) = &a.layer {
                    let place = phrases.say("place_it", &[("chosen", &l.chosen)]);
                    let thin = phrases.say("never_thinner", &[("floor", &l.floor)]);
                    let thick = phrases.say("never_thicker", &[("ceiling", &l.ceiling)]);
                    text += &format!(". {}: {place}, {thin}, {thick}.", turn(&l.name));
                }
                out.push(Block::new(text, 1.0, 1.04).and(0.8));
            }
            parts(&mut out, &a.parts);
        }
        let tight = way == Way::Tight;
        let waits = self.waits.iter();
        let waits = waits.map(|w| format!("{} {} ({});", turn(&w.long), turn(&w.what), w.areas));
        let bring = self.bring.iter().map(|b| {
            let sheet = if way == Way::Open {
                b.sheet.join(", ")
            } else {
                String::new()
            };
            format!(
                "{TICK}{}: {} {}",
                turn(&b.name),
                turn(&b.amount),
                turn(&sheet)
            )
        });
        let readings = self.readings.iter();
        let readings =
            readings.map(|r| format!("{TICK}{}: {}; {}", turn(&r.what), r.count, turn(&r.must)));
        let cautions = |list: &[CrewCaution]| list.iter().map(|c| turn(&c.text)).collect();
        for (title, texts, run) in [
            ("wait", waits.collect::<Vec<String>>(), way != Way::Open),
            ("bring", bring.collect(), tight),
            ("readings_to_take", readings.collect(), tight),
            ("watch_out", cautions(&self.cautions), false),
            ("never", cautions(&self.never), false),
            (
                "look_out",
                self.look_out.iter().map(|l| turn(l)).collect(),
                false,
            ),
        ] {
            if !texts.is_empty() {
                head(&mut out, say(title));
                list(&mut out, texts, run);
            }
        }
        out
    }
}

/// A paragraph of the printed sheet.
struct Block {
    text: String,
    /// How much narrower than the column it is, over the size of the letters.
    indent: f64,
    /// How much wider its letters are than those of the plain face.
    wide: f64,
    /// Space around it, over the size of the letters.
    around: f64,
    /// Height that does not change with the letters, points.
    fixed: f64,
}

impl Block {
    fn new(text: String, indent: f64, wide: f64) -> Block {
        Block {
            text,
            indent,
            wide,
            around: 0.0,
            fixed: 0.0,
        }
    }

    fn and(self, around: f64) -> Block {
        Block { around, ..self }
    }

    /// Height in letters of `size` points.
    fn height(&self, size: f64) -> f64 {
        let room = COLUMN_PT / size - self.indent;
        let space = f64::from(TIMES[0]) / 1e3;
        let (mut lines, mut at) = (0.0, f64::INFINITY);
        for word in self.text.split_whitespace() {
            let wide = self.wide * width(word);
            if at + space + wide > room {
                lines += 1.0;
                at = wide;
            } else {
                at += space + wide;
            }
        }
        (lines * LINE + self.around) * size + self.fixed
    }
}

/// Width of a word in the face the sheet is printed in, over the size of the letters.
fn width(word: &str) -> f64 {
    let of = |c: char| {
        let place = (c as usize).checked_sub(32);
        place.and_then(|i| TIMES.get(i)).copied().unwrap_or(OTHER)
    };
    word.chars().map(|c| f64::from(of(c))).sum::<f64>() / 1e3
}

/// Widths of the letters from the space to `~` in Times, thousandths of their size: the face's own
/// published metrics, which the faces that stand in for it share.
#[rustfmt::skip]
const TIMES: [u16; 95] = [
    250, 333, 408, 500, 500, 833, 778, 180, 333, 333, 500, 564, 250, 333, 250, 278,
    500, 500, 500, 500, 500, 500, 500, 500, 500, 500, 278, 278, 564, 564, 564, 444,
    921, 722, 667, 667, 722, 611, 556, 722, 722, 333, 389, 722, 611, 889, 722, 722,
    556, 722, 667, 556, 611, 722, 722, 944, 722, 722, 611, 333, 278, 333, 469, 500,
    333, 444, 500, 444, 500, 444, 333, 500, 500, 278, 278, 500, 278, 778, 500, 500,
    500, 500, 333, 389, 278, 500, 500, 722, 500, 500, 444, 480, 200, 480, 541,
];
/// Width of other letters, thousandths of their size.
const OTHER: u16 = 470;
/// As wide as a box to tick.
const TICK: &str = "oo";

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

/// Letters of the sheet are never smaller, points: it is read at arm's length, in the sun.
const LEAST_PT: f64 = 9.0;
/// Nor larger.
const MOST_PT: f64 = 13.0;
/// Width of a column of the printed sheet, points.
const COLUMN_PT: f64 = 278.0;
/// Height of a column below the head of the sheet, points.
const PAGE_PT: f64 = 705.0;
/// Greatest height of a drawing on the printed sheet, points.
const PICTURE_PT: f64 = 130.0;
/// Height of a line over the size of the letters.
const LINE: f64 = 1.03;

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

/// What an area is called beside others.
fn called<'a>(id: &'a str, name: &'a str) -> &'a str {
    if id.is_empty() { name } else { id }
}

/// Waiting times of all areas; what is waited for alike in several is said once.
fn waits(view: &View) -> Vec<CrewWait> {
    let mut out: Vec<(String, String, Vec<&str>)> = Vec::new();
    for a in &view.work.areas {
        let called = called(&a.id, &a.name);
        for wait in &a.waits {
            match out
                .iter_mut()
                .find(|(what, long, _)| *what == wait.name && *long == wait.value)
            {
                Some((_, _, areas)) if areas.contains(&called) => {}
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
        let called = called(&a.id, &a.name);
        for part in &a.parts {
            for step in &part.steps {
                match seen
                    .iter_mut()
                    .find(|(name, text, _)| *name == part.name && *text == step.text)
                {
                    Some((_, _, who)) if who.iter().any(|w| w == called) => {}
                    Some((_, _, who)) => who.push(called.to_owned()),
                    None => seen.push((
                        part.name.clone(),
                        step.text.clone(),
                        vec![called.to_owned()],
                    )),
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
