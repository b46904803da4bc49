//! The plan of work as sections of sentences and tables, ready to print: on the terminal, in the
//! report, and on the one-page sheet for the crew.

use jiff::civil::Date;
use rust_decimal::prelude::ToPrimitive;
use serde::{Deserialize, Serialize};

use super::drawings::timeline::{Bar, Timeline, clock, pour};
use super::drawings::tornado::{Swing, tornado};
use super::drawings::{cost, programme};
use super::language::Sentences;
use super::owner_plan;
use super::phrases::Phrases;
use super::view::capital;
use crate::facts::Interval;
use crate::plan::clock::{BreakKind, OneFewer, Role};
use crate::plan::heights::{Effect, FallVerdict, LipWay, RiserRule, StairEnd, WayOut};
use crate::plan::model::{
    AreaPlan, Bought, DaysPlan, DoorPlan, MoneyPlan, NO_FORECAST, OptionPlan, Order, Plan,
    PourPlan, StairPlan, TestPlan, WayPlan, WindowPlan,
};
use crate::plan::money::outward;
use crate::plan::programme::Dated;
use crate::plan::sampling::Failure;
use crate::plan::window::{
    JudgedHour, SlabHow, Start, Trouble, TroubleKind, Weight, WindowVerdict,
};
use crate::units::{Kind, System};

/// Start of the sentence that names the activities which set the length of the job.
pub(super) const HANGS_ON: &str = "The length hangs on:";

/// A plan ready to print.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct PlanView {
    /// Title of the paper.
    pub title: String,
    /// Job and place in a line.
    pub subtitle: String,
    /// Version of the tool.
    pub version: String,
    /// Fingerprint of the rules; whoever builds the view fills it in.
    pub rules: String,
    /// House rules added, replaced or switched off, one line each.
    pub house_rules: Vec<String>,
    /// Sections in order.
    pub sections: Vec<Section>,
    /// Figures that stand in for something the record does not say.
    pub taken: Table,
    /// What could not be worked out, and what looks wrong.
    pub notes: Vec<String>,
}

/// A section.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub struct Section {
    /// Anchor.
    pub anchor: String,
    /// Heading.
    pub title: String,
    /// Sentences before the tables.
    pub lead: Vec<String>,
    /// A drawing as SVG text, safe to print as it is.
    pub picture: Option<String>,
    /// Another, of what moves the first.
    pub second: Option<String>,
    /// Tables.
    pub tables: Vec<Table>,
    /// Tables too long for a terminal: for pages only.
    pub details: Vec<Table>,
}

/// A table.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub struct Table {
    /// What it holds.
    pub caption: String,
    /// Heads of the columns.
    pub head: Vec<String>,
    /// Rows.
    pub rows: Vec<Vec<String>>,
}

impl Table {
    fn new(caption: &str, head: &[&str]) -> Self {
        Table {
            caption: caption.to_owned(),
            head: head.iter().map(|h| (*h).to_owned()).collect(),
            rows: Vec::new(),
        }
    }

    fn row<const N: usize>(&mut self, cells: [String; N]) {
        self.rows.push(cells.to_vec());
    }
}

impl PlanView {
    /// The whole plan in English. `subtitle` names job and place.
    pub fn build(plan: &Plan, units: System, subtitle: &str) -> PlanView {
        PlanView::build_in(plan, units, subtitle, Phrases::english())
    }

    /// The whole plan for a paper in some language: its fixed texts and the labels of its drawings
    /// in that language, its other sentences still English, to be turned with the page.
    pub fn build_in(plan: &Plan, units: System, subtitle: &str, phrases: &Phrases) -> PlanView {
        let w = Writer { units, phrases };
        let mut sections = vec![w.heights(plan), w.orders(plan)];
        for area in &plan.areas {
            if let Some(pour) = &area.pour {
                sections.push(w.pour(area, pour));
            }
        }
        sections.extend(plan.window.iter().map(|x| w.window(x, "plan-window")));
        sections.extend(
            plan.concrete_window
                .iter()
                .map(|x| w.window(x, "plan-window-concrete")),
        );
        sections.extend(w.days(plan));
        sections.push(w.money(plan));
        sections.push(w.tests(plan));
        tidy(&mut sections, plan);
        sections.retain(|s| {
            !s.lead.is_empty() || s.tables.iter().any(|t| !t.rows.is_empty()) || s.picture.is_some()
        });
        PlanView {
            title: "Plan of work".to_owned(),
            subtitle: subtitle.to_owned(),
            version: env!("CARGO_PKG_VERSION").to_owned(),
            rules: String::new(),
            house_rules: Vec::new(),
            sections,
            taken: w.taken(plan),
            notes: plan
                .notes
                .iter()
                .chain(&plan.money_notes)
                .cloned()
                .collect(),
        }
    }

    /// The same with its sentences in another language, for the terminal.
    ///
    /// # Errors
    /// When it can't be written as data.
    pub fn turned(self, sentences: &Sentences) -> serde_json::Result<PlanView> {
        if sentences.is_empty() {
            return Ok(self);
        }
        serde_json::from_value(sentences.data(&self)?)
    }

    /// The sheet for the crew: who does what, batches, bays, water, readings. One page.
    pub fn crew_sheet(plan: &Plan, units: System, subtitle: &str, phrases: &Phrases) -> PlanView {
        let w = Writer { units, phrases };
        let mut sections = Vec::new();
        for area in &plan.areas {
            if let Some(pour) = &area.pour {
                sections.push(w.crew(area, pour));
            }
        }
        for window in plan.window.iter().chain(&plan.concrete_window) {
            let mut s = w.window(window, "plan-window");
            s.tables.clear();
            s.details.clear();
            sections.push(s);
        }
        sections.push(w.orders(plan));
        sections.push(w.tests(plan));
        tidy(&mut sections, plan);
        sections.retain(|s| !s.lead.is_empty() || s.tables.iter().any(|t| !t.rows.is_empty()));
        PlanView {
            title: "Crew sheet".to_owned(),
            subtitle: subtitle.to_owned(),
            version: env!("CARGO_PKG_VERSION").to_owned(),
            rules: String::new(),
            house_rules: Vec::new(),
            sections,
            taken: Table::default(),
            notes: plan
                .notes
                .iter()
                .cloned()
                .chain(owner_plan::shut_words(plan, units, phrases))
                .collect(),
        }
    }
}

/// What the one-page sheet takes of a plan besides orders and readings: the pours without who does
/// what, which their picture shows, the best hours, and what to look out for.
pub(super) fn crew_parts(
    plan: &Plan,
    units: System,
    phrases: &Phrases,
) -> (Vec<Section>, Vec<String>) {
    let w = Writer { units, phrases };
    let mut sections = Vec::new();
    for area in &plan.areas {
        if let Some(pour) = &area.pour {
            sections.push(w.crew_brief(area, pour));
        }
    }
    for window in plan.window.iter().chain(&plan.concrete_window) {
        let mut s = w.window(window, "plan-window");
        s.tables.clear();
        s.details.clear();
        sections.push(s);
    }
    tidy(&mut sections, plan);
    let notes = plan.notes.iter().filter(|n| *n != NO_FORECAST).cloned();
    let shut = owner_plan::shut_for_crew(plan, units, phrases);
    (sections, notes.chain(shut).collect())
}

/// How much of something to order, as printed.
pub(super) fn amount(order: &Order, units: System) -> String {
    let phrases = Phrases::english();
    Writer { units, phrases }.amount(order)
}

/// Takes out columns that say nothing: those without a value, and the area where there is one only.
fn tidy(sections: &mut [Section], plan: &Plan) {
    for table in sections
        .iter_mut()
        .flat_map(|s| s.tables.iter_mut().chain(&mut s.details))
    {
        if table.rows.is_empty() {
            continue;
        }
        for i in (0..table.head.len()).rev() {
            let empty = table
                .rows
                .iter()
                .all(|r| r.get(i).is_none_or(String::is_empty));
            let only = plan.areas.len() == 1 && table.head.get(i).is_some_and(|h| h == "Area");
            if empty || only {
                table.head.remove(i);
                for row in table.rows.iter_mut().filter(|r| i < r.len()) {
                    row.remove(i);
                }
            }
        }
    }
}

/// Writes numbers in the units of the job.
#[derive(Debug, Clone, Copy)]
struct Writer<'a> {
    units: System,
    phrases: &'a Phrases,
}

fn section(anchor: &str, title: String) -> Section {
    Section {
        anchor: anchor.to_owned(),
        title,
        ..Section::default()
    }
}

fn minutes(seconds: u64) -> f64 {
    seconds as f64 / 60.0
}

/// A count in words where it is one thing: `1 bag`, `2 to 3 bags`.
fn count(i: Interval, one: &str) -> String {
    if one == "batch" && i.is_exact() && i.lo != 1.0 {
        format!("{} batches", i.lo)
    } else if i.is_exact() {
        format!("{} {one}{}", i.lo, if i.lo == 1.0 { "" } else { "s" })
    } else {
        format!("{} to {} {one}s", i.lo, i.hi)
    }
}

impl Writer<'_> {
    fn kind(self, kind: Kind, i: Interval) -> String {
        kind.write(i, self.units)
    }

    /// Part of a sentence that is put together of several.
    fn turn(self, text: &str) -> String {
        self.phrases.sentences.turn(text)
    }

    fn mm(self, x: f64) -> String {
        self.kind(Kind::Length, Interval::exact(x))
    }

    fn m2(self, x: f64) -> String {
        self.kind(Kind::Area, Interval::exact(x))
    }

    fn whole(self, celsius: f64) -> String {
        whole_degrees(celsius, self.units)
    }

    /// A range of temperatures to the degree, outward.
    fn whole_range(self, (lo, hi): (f64, f64)) -> String {
        let (lo, hi, unit) = match self.units {
            System::Us => (lo * 1.8 + 32.0, hi * 1.8 + 32.0, "°F"),
            System::Metric => (lo, hi, "°C"),
        };
        let (lo, hi) = ((lo + 0.05).floor(), (hi - 0.05).ceil());
        if lo >= hi {
            format!("{hi:.0} {unit}")
        } else {
            format!("{lo:.0} to {hi:.0} {unit}")
        }
    }

    /// A drying rate to two digits: real rates scatter far more.
    fn rate(self, lo: f64, hi: f64) -> String {
        let two = |x: f64| (x * 100.0).round() / 100.0;
        let unit = |x: f64| match self.units {
            System::Us => Kind::SpreadRate.to_unit(x, "lb/ft2/h").unwrap_or(x),
            System::Metric => x,
        };
        let name = match self.units {
            System::Us => "lb/ft²/h",
            System::Metric => "kg/m²/h",
        };
        let (lo, hi) = (two(unit(lo)), two(unit(hi)));
        if lo == hi {
            format!("{hi:.2} {name}")
        } else {
            format!("{lo:.2} to {hi:.2} {name}")
        }
    }

    // ---- heights ----

    fn heights(self, plan: &Plan) -> Section {
        let mut s = section("plan-heights", "Heights".to_owned());
        for stair in &plan.stairs {
            self.stair(
                stair,
                plan.money.currency.as_deref().unwrap_or_default(),
                &mut s,
            );
        }
        if !plan.doors.is_empty() {
            let mut t = Table::new(
                "Doors",
                &["Door", "Drop now", "Drop after", "Allowed", "Lip", "Swing"],
            );
            for d in &plan.doors {
                self.door(d, &mut t);
            }
            s.tables.push(t);
        }
        if !plan.lips.is_empty() {
            let mut t = Table::new(
                "Trip lips",
                &["Defect", "Height", "Run", "What to do", "Or ground off"],
            );
            for lip in &plan.lips {
                let (what, grind) = match lip.way {
                    LipWay::Leave => ("may stay".to_owned(), false),
                    LipWay::Bevel { length_mm } => {
                        (format!("bevel over {}", self.mm(length_mm)), true)
                    }
                    LipWay::Ramp { length_mm } => {
                        (format!("ramp over {}", self.mm(length_mm)), true)
                    }
                };
                t.row([
                    lip.defect.to_string(),
                    self.mm(lip.height_mm),
                    lip.run_mm
                        .map_or_else(|| "not read".to_owned(), |r| self.kind(Kind::Length, r)),
                    what,
                    if grind {
                        format!(
                            "{} back, a fall of {}",
                            self.mm(lip.grind_mm),
                            self.kind(Kind::Slope, Interval::exact(lip.grind_fall))
                        )
                    } else {
                        String::new()
                    },
                ]);
            }
            s.tables.push(t);
        }
        let mut falls = Table::new(
            "Fall of the surface",
            &["Area", "Fall", "Least", "Greatest", "Verdict"],
        );
        let mut edges = Table::new("Edges", &["Area", "Edge", "Now", "After", "What to do"]);
        for area in &plan.areas {
            if let Some(f) = &area.fall {
                let verdict = match f.verdict {
                    FallVerdict::Kept => "drains",
                    FallVerdict::TooFlat => "too flat: water stands",
                    FallVerdict::Toward => "runs toward the building",
                    FallVerdict::TooSteep => "steeper than allowed outside a door",
                };
                let slope = |x: f64| self.kind(Kind::Slope, Interval::exact(x));
                falls.row([
                    area.name.clone(),
                    self.kind(Kind::Slope, f.fall),
                    slope(f.least),
                    f.greatest.map_or_else(|| "none".to_owned(), slope),
                    verdict.to_owned(),
                ]);
                if let Some(b) = &f.build_up {
                    let fits = match b.fits {
                        Some(true) => "the layer may be so thick there",
                        Some(false) => {
                            "more than the layer may have: place it anew, or lead the water off with a drain"
                        }
                        None => {
                            "no layer is planned there: a drain or a gutter leads the water off, or it is placed anew"
                        }
                    };
                    s.lead.push(format!(
                        "{} lacks fall. Building it up to {} takes {} more at its high side, {} in all; {fits}.",
                        capital(&area.name),
                        slope(f.least),
                        self.kind(Kind::Length, b.thickest_mm),
                        self.mixed(b.litres)
                    ));
                }
            }
            for e in &area.edges {
                edges.row([
                    area.name.clone(),
                    e.kind.clone(),
                    self.kind(Kind::Length, e.before_mm),
                    self.kind(Kind::Length, e.after_mm),
                    e.to_do.clone(),
                ]);
            }
        }
        s.tables
            .extend([falls, edges].into_iter().filter(|t| !t.rows.is_empty()));
        s
    }

    fn stair(self, stair: &StairPlan, code: &str, s: &mut Section) {
        let mut t = Table::new(
            &format!("Steps {}", stair.id),
            &["Riser", "Now", "After the work"],
        );
        for (i, (before, after)) in stair.before_mm.iter().zip(&stair.after_mm).enumerate() {
            t.row([(i + 1).to_string(), self.mm(*before), self.mm(*after)]);
        }
        s.tables.push(t);
        let mut t = Table::new(
            &format!("Limits on steps {}", stair.id),
            &["Limit", "Allowed", "Now", "After", "Verdict", "Source"],
        );
        for check in &stair.checks {
            let what = match check.limit.rule {
                RiserRule::Greatest => "highest riser",
                RiserRule::Least => "lowest riser",
                RiserRule::Difference => "difference in the flight",
            };
            let verdict = match check.effect {
                Effect::Kept => "kept",
                Effect::Broken => "broken by the work",
                Effect::Mended => "mended by the work",
                Effect::Worse => "outside before, the work makes it worse",
                Effect::StillOutside => "outside before and after",
            };
            t.row([
                what.to_owned(),
                self.mm(check.limit.limit_mm),
                self.mm(check.before_mm),
                self.mm(check.after_mm),
                verdict.to_owned(),
                check.limit.source.clone(),
            ]);
        }
        s.tables.push(t);
        if stair.short_first {
            s.lead.push(format!(
                "The first step of {} is {}: people trip on a step that is lower than the rest, or stands alone. Mark its edge.",
                stair.id,
                stair.after_mm.first().map_or_else(String::new, |x| self.mm(*x))
            ));
        }
        if let Some(w) = &stair.wished {
            let risers: Vec<String> = w.after_mm.iter().map(|r| self.mm(*r)).collect();
            let breaks: Vec<String> = w
                .breaks
                .iter()
                .map(|c| {
                    format!(
                        "{} {} against {}",
                        match c.limit.rule {
                            RiserRule::Greatest => "highest riser",
                            RiserRule::Least => "lowest riser",
                            RiserRule::Difference => "difference",
                        },
                        self.mm(c.after_mm),
                        self.mm(c.limit.limit_mm)
                    )
                })
                .collect();
            s.lead.push(format!(
                "The wished finish needs {} and is not laid: steps {} would become {} ({}). The ways to it stand below.",
                self.mm(w.thickness_mm),
                stair.id,
                risers.join(", "),
                breaks.join("; ")
            ));
        }
        if stair.ways_out.is_empty() {
            if stair.checks.iter().any(|c| !c.kept_after) {
                s.lead.push(format!(
                    "No way out for steps {} by thickness, taper, a lower walk or equal risers: ask the building office.",
                    stair.id
                ));
            }
            return;
        }
        let mut t = Table::new(
            &format!("Ways out for steps {}", stair.id),
            &["Way", "Risers then", "What it costs", "Price"],
        );
        for way in &stair.ways_out {
            let alike = way
                .risers_mm
                .iter()
                .all(|r| way.risers_mm.first().is_some_and(|f| (r - f).abs() < 0.01));
            let risers = match way.risers_mm.as_slice() {
                [first, _, ..] if alike => {
                    format!("{} of {}", way.risers_mm.len(), self.mm(*first))
                }
                all => all
                    .iter()
                    .map(|r| self.mm(*r))
                    .collect::<Vec<_>>()
                    .join(", "),
            };
            t.row([
                capital(&self.way_out(way)),
                risers,
                way.cost.clone(),
                way.price.map_or_else(
                    || "no line in the price book".to_owned(),
                    |p| {
                        let f = |d: rust_decimal::Decimal| d.to_f64().unwrap_or(0.0);
                        money_range(f(p.low), f(p.high), code, "to")
                    },
                ),
            ]);
        }
        s.tables.push(t);
    }

    fn way_out(self, way: &WayPlan) -> String {
        match &way.way {
            WayOut::Thinner { greatest_mm } => format!("lay at most {}", self.mm(*greatest_mm)),
            WayOut::Taper {
                at_foot_mm,
                length_mm,
                ..
            } => format!(
                "taper the layer down to {} at the foot over {}",
                self.mm(*at_foot_mm),
                self.mm(*length_mm)
            ),
            WayOut::LowerWalk { depth_mm } => {
                format!("take {} off the walk at the foot first", self.mm(*depth_mm))
            }
            WayOut::NewLevel { at, change_mm } => {
                let level = if change_mm.abs() < 0.05 {
                    "at the level it has now".to_owned()
                } else {
                    format!(
                        "{} {} than now",
                        self.mm(change_mm.abs()),
                        if *change_mm < 0.0 { "lower" } else { "higher" }
                    )
                };
                let end = match at {
                    StairEnd::Foot => "foot",
                    StairEnd::Head => "head",
                };
                format!("lay the new concrete at the {end} of the steps {level}")
            }
            WayOut::Rebuild { risers, riser_mm } => {
                format!(
                    "build the flight anew with {risers} risers of {}",
                    self.mm(*riser_mm)
                )
            }
        }
    }

    fn door(self, d: &DoorPlan, t: &mut Table) {
        let c = &d.check;
        let swing = match c.clear_after_mm {
            None => "no leaf over the slab".to_owned(),
            Some(x) if c.swings => format!("{} free", self.mm(x)),
            Some(x) => format!(
                "{} only: it drags; at most {} may be laid",
                self.mm(x.max(0.0)),
                self.mm(c.greatest_mm)
            ),
        };
        t.row([
            d.id.clone(),
            self.mm(c.drop_before_mm),
            self.mm(c.drop_after_mm),
            format!(
                "{}{}",
                self.mm(d.greatest_drop_mm),
                if c.drop_kept { "" } else { ", not kept" }
            ),
            if c.lip_kept {
                "keeps water out".to_owned()
            } else {
                "too low: water gets in".to_owned()
            },
            swing,
        ]);
    }

    // ---- orders ----

    /// A volume in a unit, rounded outward to two digits.
    fn volume_in(litres: Interval, unit: &str) -> Option<String> {
        let to = |l: f64| Kind::Volume.to_unit(l, unit);
        let (lo, hi) = outward(to(litres.lo)?, to(litres.hi)?, 2);
        // Known exactly, it is rounded up: too little stops the work.
        let lo = if litres.is_exact() { hi } else { lo };
        let name = match unit {
            "ft3" => "ft³",
            "yd3" => "yd³",
            "m3" => "m³",
            "ml" => "mL",
            other => other,
        };
        Some(if lo == hi {
            format!("{} {name}", short(lo))
        } else {
            format!("{} to {} {name}", short(lo), short(hi))
        })
    }

    /// A volume mixed on site or taken off.
    fn mixed(self, litres: Interval) -> String {
        let unit = if self.units == System::Us { "ft3" } else { "L" };
        Self::volume_in(litres, unit).unwrap_or_default()
    }

    /// A liquid as it is bought: gallons or litres, small amounts in ounces or millilitres.
    fn liquid(self, litres: Interval) -> String {
        let unit = match self.units {
            System::Us if litres.hi < 0.95 => "fl oz",
            System::Us => "gal",
            System::Metric if litres.hi < 1.0 => "ml",
            System::Metric => "L",
        };
        Self::volume_in(litres, unit).unwrap_or_else(|| self.kind(Kind::Volume, litres))
    }

    /// The size of a container.
    fn pack(self, litres: f64) -> String {
        let unit = match self.units {
            System::Us if litres < 0.95 => "fl oz",
            System::Us => "gal",
            System::Metric if litres < 1.0 => "ml",
            System::Metric => "L",
        };
        Kind::Volume
            .write_in(Interval::exact(litres), unit)
            .unwrap_or_default()
    }

    fn amount(self, order: &Order) -> String {
        let us = self.units == System::Us;
        let amount = match order.bought {
            Bought::Bags => count(order.amount, "bag"),
            Bought::Packs => count(order.amount, "pack"),
            Bought::Liquid => self.liquid(order.amount),
            Bought::Mixed => self.mixed(order.amount),
            Bought::Concrete => Self::volume_in(order.amount, if us { "yd3" } else { "m3" })
                .unwrap_or_else(|| self.kind(Kind::Volume, order.amount)),
            Bought::Run => self.kind(Kind::Length, order.amount),
        };
        match &order.packs {
            None => amount,
            Some(p) => format!(
                "{} of {}, for {amount}",
                count(p.count, "pack"),
                self.pack(p.size_l)
            ),
        }
    }

    fn orders(self, plan: &Plan) -> Section {
        let mut s = section("plan-orders", "What to order".to_owned());
        for area in &plan.areas {
            if let Some(why) = &area.why_not {
                s.lead.push(format!("{}: {why}", capital(&area.name)));
            }
        }
        let mut t = Table::new(
            "Materials",
            &["Area", "Material", "How much", "How it comes about", "From"],
        );
        for area in &plan.areas {
            for o in &area.orders {
                let mut how = o.how.clone();
                for lifts in &o.lifts {
                    let each = lifts
                        .lifts_mm
                        .first()
                        .map_or_else(String::new, |x| self.mm(*x));
                    how.push_str(&format!(
                        "; defect {} in {} lifts of {each}",
                        lifts.defect,
                        lifts.lifts_mm.len()
                    ));
                }
                t.row([
                    area.name.clone(),
                    o.material.clone(),
                    self.amount(o),
                    how,
                    o.basis.clone(),
                ]);
            }
        }
        s.tables.push(t);
        let mut t = Table::new(
            "Data sheets against the mass in a bag",
            &["Material", "Claim", "It says", "Its mass makes", "Verdict"],
        );
        for sheet in &plan.sheets {
            let b = &sheet.balance;
            t.row([
                sheet.material.clone(),
                sheet.claim.name().to_owned(),
                self.mixed_fine(Interval::exact(b.claimed_l)),
                self.mixed_fine(Interval {
                    lo: b.least_l,
                    hi: b.greatest_l,
                }),
                if b.plausible {
                    "can be".to_owned()
                } else {
                    "cannot be: ask the supplier".to_owned()
                },
            ]);
        }
        s.details.push(t);
        s
    }

    /// A mixed volume to three digits, for a single bag.
    fn mixed_fine(self, litres: Interval) -> String {
        let unit = if self.units == System::Us { "ft3" } else { "L" };
        Kind::Volume
            .write_in(litres, unit)
            .unwrap_or_default()
            .replace("ft3", "ft³")
    }

    // ---- pour ----

    fn working(self, pour: &PourPlan) -> String {
        let (least, most) = (
            pour.working.least_min.round(),
            pour.working.greatest_min.round(),
        );
        let span = if least == most {
            format!("{least:.0} minutes")
        } else {
            format!("{least:.0} to {most:.0} minutes by the models used; the shortest counts")
        };
        format!(
            "Working time at {} ({}) is {span}. Try a batch first.",
            self.whole(pour.at_c),
            pour.at_how,
        )
    }

    fn water(self, pour: &PourPlan) -> Option<String> {
        let (least, start, most) = pour.water_l?;
        let l = |x: f64| self.kind(Kind::Volume, Interval::exact(x));
        if least == most {
            return Some(format!(
                "Water for a batch of {}: {}, no more and no less.",
                count(Interval::exact(pour.bags_per_batch as f64), "bag"),
                l(most)
            ));
        }
        Some(format!(
            "Water for a batch of {}: start with {}{}, never more than {} or less than {}.",
            count(Interval::exact(pour.bags_per_batch as f64), "bag"),
            l(start),
            if pour.dry_end {
                ", the dry end because of the fall"
            } else {
                ""
            },
            l(most),
            l(least)
        ))
    }

    fn crew_table(self, pour: &PourPlan) -> Table {
        let mut t = Table::new("Who does what", &["Who", "Does", "Without him"]);
        for (person, fewer) in pour.people.iter().zip(&pour.one_fewer) {
            let does: Vec<&str> = person.roles.iter().map(|r| role_name(*r)).collect();
            let mut without = String::new();
            for (who, role) in &fewer.takes_over {
                without.push_str(&format!("{who} takes over {}; ", role.name()));
            }
            without.push_str(&match (fewer.nobody_for, fewer.first) {
                (Some(role), _) => format!("nobody is left for {}: do not start", role.name()),
                (None, Some(b)) => format!(
                    "{}: batch {} at {}, {:.0} min too late",
                    break_words(b.kind),
                    b.batch + 1,
                    clock(minutes(b.at_s)),
                    minutes(b.over_s).ceil()
                ),
                (None, None) => format!(
                    "holds, ends at {}",
                    fewer.end_s.map_or_else(String::new, |e| clock(minutes(e)))
                ),
            });
            if fewer.end_s.is_some() && fewer.largest_m2 + 1e-6 < pour.largest.area_m2 {
                without.push_str(&format!(
                    "; wet edges hold for {}",
                    self.m2(fewer.largest_m2)
                ));
            }
            t.row([person.name.clone(), does.join(", "), without]);
        }
        t
    }

    /// Whom the pour misses most: fewest square metres with wet edges, then the latest end.
    fn most_missed(p: &PourPlan) -> Option<&OneFewer> {
        p.one_fewer.iter().min_by(|a, b| {
            let key = |o: &OneFewer| (o.nobody_for.is_none(), o.first.is_none());
            key(a)
                .cmp(&key(b))
                .then(a.largest_m2.total_cmp(&b.largest_m2))
                .then(b.end_s.cmp(&a.end_s))
        })
    }

    /// Whom the pour misses most, and what breaks first then.
    fn one_missing(self, p: &PourPlan) -> Option<String> {
        let worst = Self::most_missed(p)?;
        let mut out = format!("With one man missing, {} is missed most: ", worst.person);
        let taken: Vec<String> = worst
            .takes_over
            .iter()
            .map(|(who, role)| format!("{who} takes over {}, ", role.name()))
            .collect();
        out.push_str(&taken.concat());
        match (worst.nobody_for, worst.first) {
            (Some(role), _) => out.push_str(&format!("nobody is left for {}.", role.name())),
            (None, Some(b)) => out.push_str(&format!(
                "and the first thing to break is at {}: {}, batch {}.",
                clock(minutes(b.at_s)),
                break_words(b.kind),
                b.batch + 1
            )),
            (None, None) => out.push_str(&format!(
                "nothing breaks, but it ends at {} and wet edges hold for {} only.",
                worst.end_s.map_or_else(String::new, |e| clock(minutes(e))),
                self.m2(worst.largest_m2)
            )),
        }
        Some(out)
    }

    /// The same in a line.
    fn without(self, p: &PourPlan) -> Option<String> {
        let worst = Self::most_missed(p)?;
        let what = match (worst.nobody_for, worst.first) {
            (Some(role), _) => format!("nobody is left for {}: do not start", role.name()),
            (None, Some(b)) => format!(
                "{} at {}, batch {}",
                break_words(b.kind),
                clock(minutes(b.at_s)),
                b.batch + 1
            ),
            (None, None) => format!(
                "it ends at {}, wet edges hold for {} only",
                worst.end_s.map_or_else(String::new, |e| clock(minutes(e))),
                self.m2(worst.largest_m2)
            ),
        };
        Some(format!("Without {}: {what}.", worst.person))
    }

    fn bay_table(self, pour: &PourPlan) -> Table {
        let mut t = Table::new(
            "Bays between stop lines",
            &["Bay", "Panels", "Surface", "Batches", "From", "To", ""],
        );
        for (i, bay) in pour.bays.iter().enumerate() {
            let first = if i == 0 {
                Some(0)
            } else {
                pour.stops.get(i - 1).copied()
            };
            let end = pour.stops.get(i).copied().unwrap_or(pour.batches.len());
            let times = first.and_then(|f| {
                Some((
                    f,
                    pour.run.batches.get(f)?,
                    pour.run.batches.get(end.checked_sub(1)?)?,
                ))
            });
            let (numbers, from, to) = match times {
                Some((f, a, b)) => {
                    let numbers = if end - f == 1 {
                        format!("{}", f + 1)
                    } else {
                        format!("{} to {end}", f + 1)
                    };
                    (
                        numbers,
                        clock(minutes(a.water_s)),
                        clock(minutes(b.finish_to_s)),
                    )
                }
                None => (String::new(), String::new(), String::new()),
            };
            let fits = if bay.fits {
                ""
            } else {
                "too large for wet edges"
            };
            t.row([
                (i + 1).to_string(),
                bay.panels.join(", "),
                self.m2(bay.area_m2),
                numbers,
                from,
                to,
                fits.to_owned(),
            ]);
        }
        t
    }

    fn pour(self, area: &AreaPlan, p: &PourPlan) -> Section {
        let mut s = section(
            &format!("plan-pour-{}", area.id),
            format!("The pour of {}", area.name),
        );
        s.lead.push(format!(
            "{} batches of up to {} cover {} each; the last is finished {} after the first water. Start at most {} ahead of the spreaders.",
            p.batches.len(),
            count(Interval::exact(p.bags_per_batch as f64), "bag"),
            self.m2(p.batch_m2),
            clock(minutes(p.run.end_s)),
            count(Interval::exact(p.ahead as f64), "batch")
        ));
        s.lead.push(self.working(p));
        s.lead.push(if p.largest.batches == 0 {
            "Not even one batch is spread within its working time.".to_owned()
        } else {
            format!(
                "Wet edges hold for {} or less, {}. Stop at a joint before that.",
                self.m2(p.largest.area_m2),
                match p.largest.batches {
                    1 => "a single batch".to_owned(),
                    n => format!("{n} batches in a row"),
                }
            )
        });
        s.lead.extend(self.water(p));
        if let Some(b) = p.breaks.first() {
            s.lead.push(format!(
                "With the whole crew the first thing to go wrong is at {}: {}, batch {}.",
                clock(minutes(b.at_s)),
                break_words(b.kind),
                b.batch + 1
            ));
        }
        s.lead.extend(self.one_missing(p));
        s.lead.extend(pattern_words(p));
        s.picture = Some(timeline(area, p, false, &self.phrases.sentences));
        s.tables.push(self.crew_table(p));
        s.tables.push(self.bay_table(p));
        let mut t = Table::new(
            "Batches",
            &[
                "Batch",
                "Bags",
                "Covers",
                "Water",
                "Spread",
                "Finished",
                "Pattern from",
            ],
        );
        for (i, (b, times)) in p.batches.iter().zip(&p.run.batches).enumerate() {
            t.row([
                (i + 1).to_string(),
                b.bags.to_string(),
                self.m2(b.area_m2),
                clock(minutes(times.water_s)),
                format!(
                    "{} to {}",
                    clock(minutes(times.spread_from_s)),
                    clock(minutes(times.spread_to_s))
                ),
                clock(minutes(times.finish_to_s)),
                p.patterning.get(i).map_or_else(String::new, |x| {
                    format!(
                        "{}{}",
                        clock(minutes(x.from_s)),
                        if x.in_time() { "" } else { " too late" }
                    )
                }),
            ]);
        }
        if p.patterning.is_empty() {
            t.head.pop();
            t.rows.iter_mut().for_each(|r| {
                r.pop();
            });
        }
        s.tables.push(t);
        s
    }

    fn crew(self, area: &AreaPlan, p: &PourPlan) -> Section {
        let mut s = section(&format!("crew-{}", area.id), capital(&area.name));
        s.lead.extend(self.water(p));
        s.lead.push(self.working(p));
        s.lead.push(format!(
            "Times count from the first water. Last batch finished at {}.",
            clock(minutes(p.run.end_s))
        ));
        s.lead.extend(self.one_missing(p));
        s.lead.extend(pattern_words(p));
        s.picture = Some(timeline(area, p, true, &self.phrases.sentences));
        s.tables.push(self.crew_table(p));
        s.tables.push(self.bay_table(p));
        s
    }

    /// The pour in short lines: water, times, the man missed most, bays.
    fn crew_brief(self, area: &AreaPlan, p: &PourPlan) -> Section {
        let name = capital(&area.name);
        let title = self.phrases.say("pour_of", &[("area", &name)]);
        let mut s = section(&format!("crew-{}", area.id), title);
        let batch = count(Interval::exact(p.bags_per_batch as f64), "bag");
        let l = |x: f64| self.kind(Kind::Volume, Interval::exact(x));
        s.lead.extend(p.water_l.map(|(least, start, most)| {
            if least == most {
                format!("{batch} a batch: {} of water, no more and no less.", l(most))
            } else {
                let (start, least, most) = (l(start), l(least), l(most));
                format!("{batch} a batch: {start} of water to start, never under {least} or over {most}.")
            }
        }));
        let (least, most) = (p.working.least_min.round(), p.working.greatest_min.round());
        let works = if least == most {
            format!("{least:.0} min")
        } else {
            format!("{least:.0} to {most:.0} min")
        };
        s.lead.push(format!(
            "Working time {works} at {}: try a batch first.",
            self.whole(p.at_c)
        ));
        s.lead.push(format!(
            "From the first water to the last batch finished: {}.",
            clock(minutes(p.run.end_s))
        ));
        s.lead.extend(pattern_words(p));
        s.lead.extend(self.without(p));
        s.picture = Some(timeline(area, p, true, &self.phrases.sentences));
        let mut who = Table::new("Who does what", &["Who", "Does"]);
        for person in &p.people {
            let does: Vec<&str> = person.roles.iter().map(|r| role_name(*r)).collect();
            who.row([person.name.clone(), does.join(", ")]);
        }
        s.details.push(who);
        // A single bay has no stop line.
        let bays = self.bay_table(p);
        s.tables.extend((bays.rows.len() > 1).then_some(bays));
        s
    }

    // ---- window ----

    fn trouble(self, t: &Trouble) -> String {
        let kind = |k: Kind, x: f64| k.write(Interval::exact(x), self.units);
        let number = |x: f64| match t.kind {
            TroubleKind::AirCold
            | TroubleKind::AirHot
            | TroubleKind::SlabCold
            | TroubleKind::SlabHot
            | TroubleKind::Frost
            | TroubleKind::Heat => self.whole(x),
            TroubleKind::Drying => self.rate(x, x),
            TroubleKind::Rain | TroubleKind::RainBefore | TroubleKind::RainAfter => {
                kind(Kind::Share, x)
            }
            TroubleKind::Dew => match self.units {
                System::Us => format!("{:.0} F above it", x * 1.8),
                System::Metric => format!("{x:.1} C above it"),
            },
            TroubleKind::ForecastEnds => format!("{x:.0} hours known after it"),
            TroubleKind::Hours => String::new(),
        };
        // A slab estimated as a range speaks against an hour only by its far end.
        if t.weight == Weight::Care
            && let Some(x) = t.value
        {
            match t.kind {
                TroubleKind::SlabHot => {
                    return format!("slab may be too hot: up to {}", self.whole(x));
                }
                TroubleKind::SlabCold => {
                    return format!("slab may be too cold: down to {}", self.whole(x));
                }
                _ => {}
            }
        }
        match t.value {
            None => format!("{}: not in the forecast", t.kind.name()),
            Some(_) if t.kind == TroubleKind::Hours => t.kind.name().to_owned(),
            Some(x) => format!("{}: {}", t.kind.name(), number(x)),
        }
    }

    fn start(self, start: &Start) -> Vec<String> {
        let mut out = Vec::new();
        if let Some(rate) = start.peak_drying_kg_m2_h {
            out.push(format!(
                "The fastest drying on the way is {}.",
                self.rate(rate, rate)
            ));
        }
        for t in &start.troubles {
            let what = self.trouble(t);
            out.push(match t.weight {
                Weight::Care if !t.kind.precaution().is_empty() => {
                    format!("{}. Precaution: {}.", capital(&what), t.kind.precaution())
                }
                Weight::Unknown => format!("{}. {}.", capital(&what), capital(t.kind.precaution())),
                _ => format!("{}.", capital(&what)),
            });
        }
        out
    }

    fn window(self, w: &WindowPlan, anchor: &str) -> Section {
        let mut s = section(anchor, format!("When to place: {}", w.what));
        let length = if w.hours == 1 {
            "one hour".to_owned()
        } else {
            format!("{} hours", w.hours)
        };
        match (&w.window.best, &w.window.nearest) {
            (Some(best), _) => {
                let words = match best.verdict {
                    WindowVerdict::Fine => "Nothing speaks against it.",
                    WindowVerdict::WithCare => "It takes these precautions.",
                    _ => "Something decisive is not known yet.",
                };
                s.lead.push(format!(
                    "Best start for {length} of work: {}. {words}",
                    moment(best.local)
                ));
                s.lead.extend(self.start(best));
            }
            (None, nearest) => {
                let why: Vec<String> = w
                    .window
                    .ruled_out
                    .iter()
                    .map(|(k, n)| format!("{} ({n} starts)", k.name()))
                    .collect();
                s.lead.push(if why.is_empty() {
                    format!("The forecast is too short for {length} of work.")
                } else {
                    format!(
                        "No start fits {length} of work. In the way: {}.",
                        why.join(", ")
                    )
                });
                if let Some(n) = nearest {
                    s.lead.push(format!(
                        "The start with the least against it is {}.",
                        moment(n.local)
                    ));
                    s.lead.extend(self.start(n));
                }
            }
        }
        let working: Vec<&JudgedHour> = w
            .window
            .hours
            .iter()
            // Nights say nothing that the limits do not.
            .filter(|h| !h.troubles.iter().any(|t| t.kind == TroubleKind::Hours))
            .collect();
        s.tables.push(self.stretches(&working));
        let mut t = Table::new(
            &format!(
                "Hour by hour; drying rate by {}, real rates scatter about 40 % around it",
                w.formula
            ),
            &[
                "Hour",
                "Air",
                "Humidity",
                "Wind at slab",
                "Slab",
                "Drying",
                "Slab over dew point",
                "Rain",
                "Sun",
                "Heat index",
                "Verdict",
                "Why",
            ],
        );
        t.rows = working.iter().map(|h| self.hour(h)).collect();
        s.details.push(t);
        s
    }

    /// Hours in a row with the same verdict for the same reasons, together.
    fn stretches(self, hours: &[&JudgedHour]) -> Table {
        let mut t = Table::new(
            "A start in these hours, for one hour of work",
            &["From", "To", "Verdict", "Why"],
        );
        let alike = |a: &JudgedHour, b: &JudgedHour| {
            let kinds = |h: &JudgedHour| {
                h.troubles
                    .iter()
                    .map(|t| (t.kind, t.weight))
                    .collect::<Vec<_>>()
            };
            let next = b.numbers.local.duration_since(a.numbers.local).as_hours() == 1;
            a.verdict == b.verdict && kinds(a) == kinds(b) && next
        };
        for run in hours.chunk_by(|a, b| alike(a, b)) {
            let (Some(first), Some(last)) = (run.first(), run.last()) else {
                continue;
            };
            let why: Vec<&str> = first
                .troubles
                .iter()
                .map(|t| match (t.kind, t.weight) {
                    (TroubleKind::SlabHot, Weight::Care) => "slab may be too hot",
                    (TroubleKind::SlabCold, Weight::Care) => "slab may be too cold",
                    (TroubleKind::Drying, Weight::Care) => "dries fast",
                    (kind, _) => kind.name(),
                })
                .collect();
            t.row([
                moment(first.numbers.local),
                format!("{:02}:00", last.numbers.local.hour() + 1),
                verdict_word(first.verdict).to_owned(),
                why.join(", "),
            ]);
        }
        t
    }

    fn hour(self, h: &JudgedHour) -> Vec<String> {
        let n = &h.numbers;
        let exact = Interval::exact;
        let slab = self.whole_range(n.slab_c);
        let mark = match n.slab_how {
            SlabHow::Sun => " at most, in the sun",
            SlabHow::SunNotKnown => ", sun left out",
            SlabHow::Air => ", estimated",
            SlabHow::File | SlabHow::Measured => "",
        };
        vec![
            moment(n.local),
            self.whole(n.air_c),
            self.kind(Kind::Share, exact(n.humidity)),
            n.wind_km_h.map_or_else(
                || "not known".to_owned(),
                |x| self.kind(Kind::Speed, exact(x)),
            ),
            format!("{slab}{mark}"),
            n.drying_kg_m2_h
                .map_or_else(|| "not known".to_owned(), |(lo, hi)| self.rate(lo, hi)),
            n.dew_c.map_or_else(String::new, |dew| {
                let (least, greatest) = (n.slab_c.0 - dew, n.slab_c.1 - dew);
                match self.units {
                    System::Us => format!("{:.0} to {:.0} F", least * 1.8, greatest * 1.8),
                    System::Metric => format!("{least:.0} to {greatest:.0} K"),
                }
            }),
            n.rain_chance.map_or_else(
                || "not known".to_owned(),
                |x| self.kind(Kind::Share, exact(x)),
            ),
            match n.sun_elevation_deg {
                None => "not known".to_owned(),
                Some(e) if e <= 0.0 => "down".to_owned(),
                Some(e) if n.slab_how == SlabHow::Sun => format!("on it, {e:.0}° up"),
                Some(e) => format!("{e:.0}° up"),
            },
            // Below 80 F the index says nothing.
            if n.heat_index_c >= 26.5 {
                self.whole(n.heat_index_c)
            } else {
                String::new()
            },
            verdict_word(h.verdict).to_owned(),
            h.troubles
                .iter()
                .map(|t| self.trouble(t))
                .collect::<Vec<_>>()
                .join("; "),
        ]
    }

    // ---- days ----

    fn days(self, plan: &Plan) -> Option<Section> {
        let d = plan.days.as_ref()?;
        let mut s = section("plan-days", "The days".to_owned());
        let last = d.dated.iter().map(|x| x.last).max()?;
        s.lead.push(format!(
            "From {} ({}) to {}, Saturdays and Sundays off; waits run on.",
            day(d.start),
            d.start_how,
            day(last)
        ));
        let wet: Vec<String> = d
            .weather_days
            .iter()
            .filter(|x| **x >= d.start && **x <= last)
            .map(|x| day_in_year(*x))
            .collect();
        if !wet.is_empty() {
            s.lead.push(format!(
                "Weather days, wet at every hour of work by the forecast and not worked: {}.",
                wet.join(", ")
            ));
        }
        if d.phases.len() > 1 {
            for (i, phase) in d.phases.iter().enumerate() {
                let doors = if phase.reachable.is_empty() {
                    "no door can be reached".to_owned()
                } else {
                    format!("{} stays reachable", phase.reachable.join(", "))
                };
                s.lead.push(format!(
                    "Phase {}: {}; {doors}.",
                    i + 1,
                    owner_plan::parts_words(phase, self.phrases)
                ));
            }
        }
        s.lead
            .extend(owner_plan::shut_words(plan, self.units, self.phrases));
        let names: Vec<String> = d
            .programme
            .critical
            .iter()
            .filter_map(|id| d.programme.activities.iter().find(|a| a.id == *id))
            .map(|a| small(&self.turn(&a.name)))
            .collect();
        let then = format!(", {} ", self.turn("then"));
        s.lead.push(format!("{HANGS_ON} {}.", names.join(&then)));
        let spread = d.programme.spread.deviation();
        if spread >= 0.05 {
            s.lead.push(format!(
                "That is {:.1} days of work and waiting, give or take {spread:.1} (PERT), days off not counted. Days that cannot slip have no float.",
                d.programme.length
            ));
        }
        let mut t = Table::new("Programme", &["What", "From", "To", "Takes", "Float", ""]);
        for (dated, a) in d.dated.iter().zip(&d.programme.activities) {
            t.row([
                dated.name.clone(),
                within_year(dated.first, d.start),
                within_year(dated.last, d.start),
                if dated.wait {
                    waited(a.days)
                } else {
                    worked(a.days, d.hours_a_day)
                },
                if a.float < 0.05 {
                    "none".to_owned()
                } else {
                    format!("{:.1} days", a.float)
                },
                match (a.critical, dated.wait) {
                    (true, true) => "critical, wait",
                    (true, false) => "critical",
                    (false, true) => "wait",
                    (false, false) => "",
                }
                .to_owned(),
            ]);
        }
        s.tables.push(t);
        s.picture = Some(self.programme(d));
        Some(s)
    }

    fn programme(self, d: &DaysPlan) -> String {
        programme_drawn(
            d,
            |dated| dated.name.clone(),
            |day| {
                match self.units {
                    System::Us if self.phrases.tongue() == "en" => day.strftime("%b %-d"),
                    _ => day.strftime("%-d %b"),
                }
                .to_string()
            },
            ("programme", "The programme, day by day"),
            &self.phrases.sentences,
        )
    }

    // ---- money ----

    fn options_drawn(self, m: &MoneyPlan, range: impl Fn(f64, f64) -> String) -> String {
        let years = |low: f64, high: f64| format!("{low:.0} to {high:.0} years");
        cost::options(
            &option_rows(m, |o| o.name.clone(), range, years),
            ["Cost now", "How long it lasts", "Cost a year"],
            "options",
            "The options side by side: cost now, life and cost a year",
            &self.phrases.sentences,
        )
    }

    fn money(self, plan: &Plan) -> Section {
        let m = &plan.money;
        let mut s = section("plan-money", "The options side by side".to_owned());
        let code = m.currency.as_deref().unwrap_or_default();
        let range = |lo: f64, hi: f64| money_range(lo, hi, code, "to");
        // A column of nothing but noughts says nothing.
        let bills = || m.options.iter().flat_map(|o| &o.bills);
        let taxed = bills().any(|b| !b.tax.is_zero());
        let deposit = bills().any(|b| !b.deposit.is_zero());
        let mut head = vec!["Option", "Sum of the lines", "Eight times in ten"];
        if taxed {
            head.extend(["Tax", "With tax"]);
        }
        if deposit {
            head.push("Deposit");
        }
        head.extend(["Life, years", "Cost a year"]);
        let mut t = Table::new("Cost now and over the life; ranges, not an offer", &head);
        for o in &m.options {
            let f = |d: rust_decimal::Decimal| d.to_f64().unwrap_or(0.0);
            let [low, _, high] = &o.bills;
            let mut row = vec![
                o.name.clone(),
                range(f(o.sum.low), f(o.sum.high)),
                range(o.likely_range.0, o.likely_range.1),
            ];
            if taxed {
                row.push(range(f(low.tax), f(high.tax)));
                row.push(range(f(low.total), f(high.total)));
            }
            if deposit {
                row.push(range(f(low.deposit), f(high.deposit)));
            }
            row.push(format!("{:.0} to {:.0}", o.life_years.0, o.life_years.2));
            row.push(range(o.annual.0, o.annual.2));
            t.rows.push(row);
        }
        if !t.rows.is_empty() {
            s.tables.push(t);
            s.picture = Some(self.options_drawn(m, range));
            let mut lines = Table::new(
                "Lines",
                &["Option", "Item", "Quantity", "When", "Amount each time"],
            );
            let ever = m.options.iter().any(|o| !o.upkeep.is_empty());
            if !ever {
                lines = Table::new("Lines", &["Option", "Item", "Quantity", "Amount"]);
            }
            for o in &m.options {
                for l in &o.lines {
                    let f = |d: rust_decimal::Decimal| d.to_f64().unwrap_or(0.0);
                    let quantity = l.quantity.round_dp(1).normalize();
                    let mut row = vec![
                        o.name.clone(),
                        l.item.clone(),
                        format!("{quantity} {}", per_unit(&l.per)),
                    ];
                    if ever {
                        row.push(l.every_years.map_or_else(|| "now".to_owned(), every));
                    }
                    row.push(range(f(l.amounts.low), f(l.amounts.high)));
                    lines.rows.push(row);
                }
            }
            s.tables.push(lines);
        }
        let percent = |x: f64| self.kind(Kind::Share, Interval::exact(x));
        if let (Some(d), Some(rate), Some(band)) = (&m.decision, m.rate, m.band)
            && let Some(best) = m.options.get(d.cheapest)
        {
            let near: Vec<&str> = d
                .undecided_with
                .iter()
                .filter_map(|i| m.options.get(*i))
                .map(|o| o.name.as_str())
                .collect();
            let compared = m.options.iter().filter(|o| o.option != "do_little").count();
            s.lead.push(if compared <= 1 {
                format!(
                    "Only “{}” has prices, so there is nothing to compare it with.",
                    best.name
                )
            } else if near.is_empty() {
                format!(
                    "By the likely figures, “{}” costs least a year, by more than {}.",
                    best.name,
                    percent(band)
                )
            } else {
                format!(
                    "Undecided: “{}” and “{}” differ by less than {} a year by the likely figures.",
                    best.name,
                    near.join("”, “"),
                    percent(band)
                )
            });
            s.lead.push(format!(
                "Cost a year is at a real rate of {}, each option renewed like for like, with what comes again at its times; lives are ranges of the trade and no warranty. Sums take the mean and spread of each line by the PERT rule.",
                percent(rate)
            ));
        }
        s.lead
            .extend(owner_plan::thumb_words(plan, self.units, self.phrases));
        if let Some(e) = &m.break_even {
            s.lead.push(format!(
                "Counting how long each lasts, a repair pays as long as it costs less than {} of replacement.",
                self.kind(Kind::Share, Interval { lo: (e.cost_share.0 * 100.0).round() / 100.0, hi: (e.cost_share.1 * 100.0).round() / 100.0 })
            ));
            let longest = m
                .options
                .iter()
                .find(|o| o.option == "repair")
                .map(|o| o.life_years.2);
            if let Some(years) = e.life_years {
                let within = longest.is_none_or(|l| years <= l);
                s.lead.push(format!(
                    "At the likely prices the repair must last {} to cost no more a year than replacing everything{}.",
                    if years > 100.0 { "over 100 years".to_owned() } else { format!("{years:.0} years") },
                    if within { "" } else { ", which is longer than such repairs last" }
                ));
            } else if !m.options.is_empty()
                && longest.is_some()
                && m.options.iter().any(|o| o.option == "replace_all")
            {
                s.lead.push(
                    "At the likely prices no life is long enough for the repair to cost no more a year than replacing everything.".to_owned(),
                );
            }
            if let Some(price) = e.price {
                s.lead.push(format!(
                    "At its likely life the repair costs as much a year as replacing everything at about {} {code}.",
                    thousands(two_digits(price))
                ));
            }
        }
        if let Some((a, b)) = &m.compared {
            let mut t = Table::new(
                &format!(
                    "How much dearer a year “{b}” is than “{a}” when one input moves; below zero the choice flips"
                ),
                &["Input", "From", "To", "Difference", "Flips at"],
            );
            for bar in m.tornado.iter().filter(|b| b.swing() > 0.0) {
                t.row([
                    bar.name.clone(),
                    rounded(bar.input.low),
                    rounded(bar.input.high),
                    format!("{} to {}", rounded(bar.at_low), rounded(bar.at_high)),
                    bar.flips_at
                        .map_or_else(|| "does not flip".to_owned(), rounded),
                ]);
            }
            s.second = tornado_picture(m, (a, b), code, &self.phrases.sentences);
            s.tables.push(t);
        }
        s
    }

    // ---- tests and what was taken ----

    fn tests(self, plan: &Plan) -> Section {
        let mut s = section("plan-tests", "Readings while working".to_owned());
        let mut t = Table::new(
            "Readings",
            &["Area", "What", "How many", "Must be", "Rule", "Read"],
        );
        for test in &plan.tests {
            t.row([
                plan.areas
                    .iter()
                    .find(|a| a.id == test.area)
                    .map_or_else(|| test.area.clone(), |a| a.name.clone()),
                test.what.clone(),
                test.count.to_string(),
                test.keep.clone(),
                test.source.clone(),
                self.read(test),
            ]);
        }
        s.tables.push(t);
        s
    }

    /// What the readings say: how many, their mean with its range, passed or why not.
    fn read(self, test: &TestPlan) -> String {
        let Some(result) = &test.result else {
            return String::new();
        };
        let write = |x: f64| self.kind(test.kind, Interval::exact(x));
        let s = result.sample;
        let mut out = format!(
            "{}: {} to {}, mean {}",
            count(Interval::exact(s.count as f64), "reading"),
            write(s.least),
            write(s.greatest),
            write(s.mean)
        );
        // Where the rule is one on the mean, how sure the mean is.
        if let Some((lo, hi)) = result
            .mean_interval
            .filter(|_| test.limits.mean_least.is_some())
        {
            out.push_str(&format!(
                " ({} with 95 % confidence)",
                self.kind(test.kind, Interval { lo, hi })
            ));
        }
        if result.passed {
            out.push_str("; passed");
            return out;
        }
        let why: Vec<String> = result
            .failures
            .iter()
            .map(|f| match f {
                Failure::TooFew { wanted, there } => format!("{} more to take", wanted - there),
                Failure::MeanLow { limit, .. } => format!("mean under {}", write(*limit)),
                Failure::Low { index, reading, .. } => {
                    format!("reading {} of {} too low", index + 1, write(*reading))
                }
                Failure::High { index, reading, .. } => {
                    format!("reading {} of {} too high", index + 1, write(*reading))
                }
            })
            .collect();
        let only_few = result
            .failures
            .iter()
            .all(|f| matches!(f, Failure::TooFew { .. }));
        out.push_str(if only_few {
            "; not complete: "
        } else {
            "; FAILED: "
        });
        out.push_str(&why.join(", "));
        out
    }

    fn taken(self, plan: &Plan) -> Table {
        let mut t = Table::new(
            "Taken from the trade because the record does not say",
            &["What", "Value", "Source", ""],
        );
        for x in &plan.taken {
            t.row([
                x.what.clone(),
                x.value.clone(),
                x.source.clone(),
                x.provenance.words().to_owned(),
            ]);
        }
        t
    }
}

/// A number of the tornado, to two digits.
fn rounded(x: f64) -> String {
    let two = two_digits(x.abs());
    thousands(if x < 0.0 { -two } else { two })
}

/// The tornado as a drawing; `None` where nothing moves.
fn tornado_picture(
    m: &MoneyPlan,
    (a, b): (&str, &str),
    code: &str,
    tongue: &Sentences,
) -> Option<String> {
    const MOST: usize = 10;
    let likely = |name: &str| {
        m.options
            .iter()
            .find(|o| o.name == name)
            .map(|o| o.annual.1)
    };
    let difference = likely(b)? - likely(a)?;
    let swings: Vec<Swing> = m
        .tornado
        .iter()
        .filter(|bar| bar.swing() > 0.0)
        .take(MOST)
        .map(|bar| Swing {
            name: bar.name.clone(),
            at_low: bar.at_low,
            at_high: bar.at_high,
            ends: (rounded(bar.input.low), rounded(bar.input.high)),
            flips_at: bar.flips_at.map(rounded),
        })
        .collect();
    if swings.is_empty() {
        return None;
    }
    let flips = swings.iter().filter(|s| s.flips_at.is_some()).count();
    Some(tornado(
        &swings,
        difference,
        (b, a),
        "tornado",
        &format!("What moves the difference between “{a}” and “{b}”, {code} a year"),
        &format!(
            "{} inputs, widest first; {flips} of them can flip the choice.",
            swings.len()
        ),
        tongue,
    ))
}

/// A number to two digits: a break-even is no exact figure.
pub(super) fn two_digits(x: f64) -> f64 {
    if x <= 0.0 || !x.is_finite() {
        return x;
    }
    let step = 10f64.powf(x.log10().floor() - 1.0);
    (x / step).round() * step
}

/// `every 3 years`, `every 2 to 3 years`, `every 6 months`.
fn every((lo, hi): (f64, f64)) -> String {
    let (lo, hi, unit) = if hi < 1.0 {
        (lo * 12.0, hi * 12.0, "month")
    } else {
        (lo, hi, "year")
    };
    let number = |x: f64| {
        let text = format!("{x:.1}");
        text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
    };
    match (number(lo), number(hi)) {
        (a, b) if a == b && a == "1" => format!("every {unit}"),
        (a, b) if a == b => format!("every {a} {unit}s"),
        (a, b) => format!("every {a} to {b} {unit}s"),
    }
}

/// Units of the price book as they are printed.
fn per_unit(per: &str) -> &str {
    match per {
        "ft2" => "ft²",
        "m2" => "m²",
        other => other,
    }
}

fn verdict_word(v: WindowVerdict) -> &'static str {
    match v {
        WindowVerdict::Fine => "fine",
        WindowVerdict::WithCare => "with care",
        WindowVerdict::NotKnown => "not known",
        WindowVerdict::Not => "not",
    }
}

fn role_name(role: Role) -> &'static str {
    role.name()
}

fn break_words(kind: BreakKind) -> &'static str {
    match kind {
        BreakKind::TooOldToSpread => "a batch is too old when it is spread",
        BreakKind::TooOldToFinish => "a batch is too old when it is finished",
        BreakKind::StiffEdge => "the edge is stiff before the next batch meets it",
    }
}

fn pattern_words(p: &PourPlan) -> Option<String> {
    let first = p.patterning.first()?;
    let late = p.patterning.iter().find(|t| !t.in_time());
    Some(match late {
        None => format!(
            "Patterning may start at {} and keeps up.",
            clock(minutes(first.from_s))
        ),
        Some(t) => format!(
            "Patterning may start at {}, but falls behind at batch {}: put more people to it, or lay less at once.",
            clock(minutes(first.from_s)),
            t.batch + 1
        ),
    })
}

fn timeline(area: &AreaPlan, p: &PourPlan, narrow: bool, tongue: &Sentences) -> String {
    let late = |batch: usize, at: u64| p.breaks.iter().any(|b| b.batch == batch && b.at_s == at);
    let mut lines: Vec<String> = p.people.iter().map(|x| x.name.clone()).collect();
    let mut bars: Vec<Bar> = p
        .run
        .tasks
        .iter()
        .map(|t| Bar {
            line: t.person,
            from: minutes(t.from_s),
            to: minutes(t.to_s),
            kind: Role::ALL.iter().position(|r| *r == t.role).unwrap_or(0),
            late: late(t.batch, t.to_s),
        })
        .collect();
    let mut kinds: Vec<String> = Role::ALL.iter().map(|r| r.name().to_owned()).collect();
    if !p.patterning.is_empty() {
        let line = lines.len();
        lines.push("pattern".to_owned());
        kinds.push("patterning".to_owned());
        bars.extend(p.patterning.iter().map(|t| Bar {
            line,
            from: minutes(t.from_s),
            to: minutes(t.to_s),
            kind: Role::ALL.len(),
            late: !t.in_time(),
        }));
    }
    let stops = p
        .stops
        .iter()
        .filter_map(|i| p.run.batches.get(i.checked_sub(1)?))
        .map(|b| minutes(b.finish_to_s))
        .collect();
    let desc = format!(
        "{} people, {} batches, finished {} after the first water.",
        p.people.len(),
        p.batches.len(),
        clock(minutes(p.run.end_s))
    );
    let id: String = area
        .id
        .chars()
        .filter(char::is_ascii_alphanumeric)
        .collect();
    pour(
        &Timeline {
            lines,
            kinds,
            bars,
            stops,
            narrow,
        },
        &format!("pour-{id}"),
        &format!(
            "The pour of {}, hours and minutes from the first water",
            area.name
        ),
        &desc,
        tongue,
    )
}

/// A piece of work: `2 h`, `1.3 days`.
fn worked(days: f64, hours_a_day: f64) -> String {
    if days >= 0.95 {
        return format!("{days:.1} days");
    }
    let hours = days * hours_a_day;
    if hours < 0.95 {
        // To the next five minutes.
        format!("{:.0} min", (hours * 12.0).ceil().max(1.0) * 5.0)
    } else {
        format!("{:.0} h", hours.ceil())
    }
}

/// A wait: `36 h`, `7 days`.
fn waited(days: f64) -> String {
    if days < 3.0 {
        format!("{:.0} h", (days * 24.0).ceil())
    } else {
        let text = format!("{days:.1}");
        format!("{} days", text.strip_suffix(".0").unwrap_or(&text))
    }
}

/// The first letter small, for the middle of a sentence.
fn small(text: &str) -> String {
    let mut chars = text.chars();
    chars
        .next()
        .map_or_else(String::new, |c| c.to_lowercase().chain(chars).collect())
}

/// `Wed 3 June, 09:00`.
fn moment(t: jiff::civil::DateTime) -> String {
    format!(
        "{}, {:02}:{:02}",
        day_in_year(t.date()),
        t.hour(),
        t.minute()
    )
}

/// `Wed 3 Jun 2026`.
fn day(d: jiff::civil::Date) -> String {
    format!("{} {}", day_in_year(d), d.year())
}

/// A day, with its year where that is another than the start's.
fn within_year(d: jiff::civil::Date, start: jiff::civil::Date) -> String {
    if d.year() == start.year() {
        day_in_year(d)
    } else {
        day(d)
    }
}

fn day_in_year(t: jiff::civil::Date) -> String {
    const DAYS: [&str; 7] = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"];
    const MONTHS: [&str; 12] = [
        "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec",
    ];
    let day = DAYS
        .get(t.weekday().to_monday_zero_offset().unsigned_abs() as usize)
        .unwrap_or(&"");
    let month = MONTHS
        .get((t.month().unsigned_abs() as usize).saturating_sub(1))
        .unwrap_or(&"");
    format!("{day} {} {month}", t.day())
}

/// Low to high of a sum, rounded outward so that it does not look exact; `to` stands between.
pub(super) fn money_range(low: f64, high: f64, code: &str, to: &str) -> String {
    let (low, high) = outward(low, high, 2);
    if low == high {
        format!("{} {code}", thousands(low))
    } else {
        format!("{} {to} {} {code}", thousands(low), thousands(high))
    }
}

/// The programme as a drawing, each activity by its name and each day by its own.
pub(super) fn programme_drawn(
    d: &DaysPlan,
    name: impl Fn(&Dated) -> String,
    day: impl Fn(Date) -> String,
    (prefix, title): (&str, &str),
    tongue: &Sentences,
) -> String {
    let days = |to: Date| f64::from(to.since(d.start).map_or(0, |span| span.get_days()));
    let bars: Vec<programme::Bar> = d
        .dated
        .iter()
        .zip(&d.programme.activities)
        .map(|(dated, a)| programme::Bar {
            name: name(dated),
            from: days(dated.first),
            to: days(dated.last) + 1.0,
            wait: dated.wait,
            critical: a.critical,
        })
        .collect();
    let day = |n: i64| {
        let n = jiff::Span::new().try_days(n).ok();
        n.and_then(|n| d.start.checked_add(n).ok())
            .map_or_else(String::new, &day)
    };
    programme::programme(&bars, day, prefix, title, tongue)
}

/// The options as rows of a drawing: cost now, life, cost a year.
pub(super) fn option_rows(
    m: &MoneyPlan,
    name: impl Fn(&OptionPlan) -> String,
    money: impl Fn(f64, f64) -> String,
    years: impl Fn(f64, f64) -> String,
) -> Vec<cost::Row> {
    let span = |(low, likely, high): (f64, f64, f64), words: String| cost::Span {
        low,
        likely,
        high,
        words,
    };
    let f = |d: rust_decimal::Decimal| d.to_f64().unwrap_or(0.0);
    m.options
        .iter()
        .enumerate()
        .map(|(i, o)| {
            let [low, likely, high] = &o.bills;
            let now = (f(low.total), f(likely.total), f(high.total));
            let (life, year) = (o.life_years, o.annual);
            cost::Row {
                name: capital(&name(o)),
                spans: [
                    span(now, money(now.0, now.2)),
                    span(life, years(life.0, life.2)),
                    span(year, money(year.0, year.2)),
                ],
                best: m
                    .decision
                    .as_ref()
                    .is_some_and(|d| d.cheapest == i || d.undecided_with.contains(&i)),
            }
        })
        .collect()
}

/// A temperature to the degree: no forecast is better than that.
pub(super) fn whole_degrees(celsius: f64, units: System) -> String {
    match units {
        System::Us => format!("{:.0} °F", celsius * 1.8 + 32.0),
        System::Metric => format!("{celsius:.0} °C"),
    }
}

/// A number without decimals it does not need.
fn short(x: f64) -> String {
    let rounded = (x * 1000.0).round() / 1000.0;
    format!("{rounded}")
}

/// A number with its thousands set apart, no decimals where it is large.
pub(super) fn thousands(x: f64) -> String {
    let text = if x.abs() >= 100.0 {
        format!("{x:.0}")
    } else {
        let short = format!("{x:.1}");
        short
            .strip_suffix(".0")
            .map_or(short.clone(), str::to_owned)
    };
    let (sign, rest) = text
        .strip_prefix('-')
        .map_or(("", text.as_str()), |r| ("-", r));
    let (whole, part) = rest
        .split_once('.')
        .map_or((rest, None), |(w, p)| (w, Some(p)));
    let mut out = String::new();
    for (i, c) in whole.chars().enumerate() {
        if i > 0 && (whole.len() - i).is_multiple_of(3) {
            out.push(',');
        }
        out.push(c);
    }
    match part {
        Some(p) => format!("{sign}{out}.{p}"),
        None => format!("{sign}{out}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_set_apart_and_moments_written_out() {
        assert_eq!(thousands(1_234_567.0), "1,234,567");
        assert_eq!(thousands(-1200.4), "-1,200");
        assert_eq!(thousands(12.0), "12");
        assert_eq!(thousands(4.26), "4.3");
        assert_eq!([rounded(-126.4), rounded(12_701.0)], ["-130", "13,000"]);
        assert_eq!(
            [worked(0.2, 8.0), worked(0.02, 8.0), worked(1.26, 8.0)],
            ["2 h", "10 min", "1.3 days"]
        );
        assert_eq!([waited(1.5), waited(7.0)], ["36 h", "7 days"]);
        assert_eq!(
            [every((2.0, 3.0)), every((1.0, 1.0)), every((0.5, 0.5))],
            ["every 2 to 3 years", "every year", "every 6 months"]
        );
        assert_eq!(
            moment(jiff::civil::date(2026, 6, 3).at(9, 5, 0, 0)),
            "Wed 3 Jun, 09:05"
        );
    }
}
