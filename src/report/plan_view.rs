//! The plan of work as sections of sentences and tables, ready to print: on the terminal, in the
//! report, and on the one-page sheet for the crew.

use rust_decimal::prelude::ToPrimitive;
use serde::Serialize;

use super::drawings::timeline::{Bar, Timeline, clock, pour};
use super::drawings::{cost, programme};
use crate::facts::Interval;
use crate::plan::clock::{BreakKind, Role};
use crate::plan::heights::{Effect, FallVerdict, LipWay, RiserRule, WayOut};
use crate::plan::model::{
    AreaPlan, Bought, DaysPlan, DoorPlan, MoneyPlan, Order, Plan, PourPlan, StairPlan, TestPlan,
    WindowPlan,
};
use crate::plan::money::outward;
use crate::plan::sampling::Failure;
use crate::plan::window::{
    JudgedHour, SlabHow, Start, Trouble, TroubleKind, Weight, WindowVerdict,
};
use crate::units::{Kind, System};

/// Start of the sentence that names the activities which set the length of the job.
pub(super) const HANGS_ON: &str = "The length hangs on:";

/// A plan ready to print.
#[derive(Debug, Clone, Serialize)]
pub struct PlanView {
    /// Title of the paper.
    pub title: String,
    /// Job and place in a line.
    pub subtitle: String,
    /// Sections in order.
    pub sections: Vec<Section>,
    /// Figures that stand in for something the record does not say.
    pub taken: Table,
    /// What could not be worked out, and what looks wrong.
    pub notes: Vec<String>,
}

/// A section.
#[derive(Debug, Clone, Default, Serialize)]
pub struct Section {
    /// Anchor.
    pub anchor: String,
    /// Heading.
    pub title: String,
    /// Sentences before the tables.
    pub lead: Vec<String>,
    /// A drawing as SVG text, safe to print as it is.
    pub picture: Option<String>,
    /// Tables.
    pub tables: Vec<Table>,
    /// Tables too long for a terminal: for pages only.
    pub details: Vec<Table>,
}

/// A table.
#[derive(Debug, Clone, Default, Serialize)]
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
    /// The whole plan. `subtitle` names job and place.
    pub fn build(plan: &Plan, units: System, subtitle: &str) -> PlanView {
        let w = Writer { units };
        let mut sections = vec![w.heights(plan), w.orders(plan)];
        for area in &plan.areas {
            if let Some(pour) = &area.pour {
                sections.push(w.pour(area, pour));
            }
        }
        if let Some(window) = &plan.window {
            sections.push(w.window(window));
        }
        sections.extend(w.days(plan));
        sections.push(w.money(&plan.money));
        sections.push(w.tests(plan));
        sections.retain(|s| {
            !s.lead.is_empty() || s.tables.iter().any(|t| !t.rows.is_empty()) || s.picture.is_some()
        });
        PlanView {
            title: "Plan of work".to_owned(),
            subtitle: subtitle.to_owned(),
            sections,
            taken: w.taken(plan),
            notes: plan.notes.clone(),
        }
    }

    /// The sheet for the crew: who does what, batches, bays, water, readings. One page.
    pub fn crew_sheet(plan: &Plan, units: System, subtitle: &str) -> PlanView {
        let w = Writer { units };
        let mut sections = Vec::new();
        for area in &plan.areas {
            if let Some(pour) = &area.pour {
                sections.push(w.crew(area, pour));
            }
        }
        if let Some(window) = &plan.window {
            let mut s = w.window(window);
            s.tables.clear();
            s.details.clear();
            sections.push(s);
        }
        sections.push(w.orders(plan));
        sections.push(w.tests(plan));
        sections.retain(|s| !s.lead.is_empty() || s.tables.iter().any(|t| !t.rows.is_empty()));
        PlanView {
            title: "Crew sheet".to_owned(),
            subtitle: subtitle.to_owned(),
            sections,
            taken: Table::default(),
            notes: plan.notes.clone(),
        }
    }
}

/// Writes numbers in the units of the job.
#[derive(Debug, Clone, Copy)]
struct Writer {
    units: System,
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

impl Writer {
    fn kind(self, kind: Kind, i: Interval) -> String {
        kind.write(i, self.units)
    }

    fn mm(self, x: f64) -> String {
        self.kind(Kind::Length, Interval::exact(x))
    }

    fn m2(self, x: f64) -> String {
        self.kind(Kind::Area, Interval::exact(x))
    }

    fn celsius(self, x: f64) -> String {
        self.kind(Kind::Temperature, Interval::exact(x))
    }

    // ---- heights ----

    fn heights(self, plan: &Plan) -> Section {
        let mut s = section("plan-heights", "Heights".to_owned());
        for stair in &plan.stairs {
            self.stair(stair, &mut s);
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
            let mut t = Table::new("Trip lips", &["Defect", "Height", "What to do"]);
            for lip in &plan.lips {
                let what = match lip.way {
                    LipWay::Leave => "may stay".to_owned(),
                    LipWay::Bevel { length_mm } => format!("bevel over {}", self.mm(length_mm)),
                    LipWay::Ramp { length_mm } => {
                        format!("ramp or grind back over {}", self.mm(length_mm))
                    }
                };
                t.row([lip.defect.to_string(), self.mm(lip.height_mm), what]);
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

    fn stair(self, stair: &StairPlan, s: &mut Section) {
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
        let ways: Vec<String> = stair.ways_out.iter().map(|w| self.way_out(w)).collect();
        if !ways.is_empty() {
            s.lead.push(format!(
                "Ways out for steps {}: {}.",
                stair.id,
                ways.join("; or ")
            ));
        }
    }

    fn way_out(self, way: &WayOut) -> String {
        match way {
            WayOut::Thinner { greatest_mm } => format!("lay at most {}", self.mm(*greatest_mm)),
            WayOut::Taper {
                at_foot_mm,
                length_mm,
                fall_after,
            } => {
                let fall = match fall_after {
                    Some(f) if *f > 0.0 => {
                        format!(
                            ", which leaves a fall of {} there",
                            self.kind(Kind::Slope, Interval::exact(*f))
                        )
                    }
                    Some(_) => ", which leaves no fall there: water stands at the foot".to_owned(),
                    None => String::new(),
                };
                format!(
                    "taper the layer down to {} at the foot over {}{fall}",
                    self.mm(*at_foot_mm),
                    self.mm(*length_mm)
                )
            }
            WayOut::LowerWalk { depth_mm } => {
                format!("take {} off the walk at the foot first", self.mm(*depth_mm))
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

    fn amount(self, order: &Order) -> String {
        let us = self.units == System::Us;
        match order.bought {
            Bought::Bags => count(order.amount, "bag"),
            Bought::Liquid => Kind::Volume
                .write_in(order.amount, if us { "gal" } else { "L" })
                .unwrap_or_default(),
            Bought::Concrete => Kind::Volume
                .write_in(order.amount, if us { "yd3" } else { "m3" })
                .unwrap_or_else(|| self.kind(Kind::Volume, order.amount)),
            Bought::Run => self.kind(Kind::Length, order.amount),
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
                if !o.lifts_mm.is_empty() {
                    let each = o.lifts_mm.first().map_or_else(String::new, |x| self.mm(*x));
                    how.push_str(&format!(
                        "; the deepest in {} lifts of {each}",
                        o.lifts_mm.len()
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
        s
    }

    // ---- pour ----

    fn working(self, pour: &PourPlan) -> String {
        format!(
            "Working time at {} ({}) is {:.0} to {:.0} minutes by the models used; the shortest counts. Try a batch first.",
            self.celsius(pour.at_c),
            pour.at_how,
            pour.working.least_min,
            pour.working.greatest_min
        )
    }

    fn water(self, pour: &PourPlan) -> Option<String> {
        let (least, start, most) = pour.water_l?;
        let l = |x: f64| self.kind(Kind::Volume, Interval::exact(x));
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
            let without = match (fewer.nobody_for, fewer.first) {
                (Some(role), _) => format!("nobody is left for {}: do not start", role.name()),
                (None, Some(b)) => format!(
                    "{}: batch {} at {}, {:.0} min too late",
                    break_words(b.kind),
                    b.batch + 1,
                    clock(minutes(b.at_s)),
                    minutes(b.over_s).ceil()
                ),
                (None, None) => format!(
                    "still works, ends at {}",
                    fewer.end_s.map_or_else(String::new, |e| clock(minutes(e)))
                ),
            };
            t.row([person.name.clone(), does.join(", "), without]);
        }
        t
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
        s.lead.extend(pattern_words(p));
        s.picture = Some(timeline(area, p, false));
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
        s.lead.extend(pattern_words(p));
        s.picture = Some(timeline(area, p, true));
        s.tables.push(self.crew_table(p));
        s.tables.push(self.bay_table(p));
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
            | TroubleKind::Heat => kind(Kind::Temperature, x),
            TroubleKind::Drying => kind(Kind::SpreadRate, x),
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
                self.kind(Kind::SpreadRate, Interval::exact(rate))
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

    fn window(self, w: &WindowPlan) -> Section {
        let mut s = section("plan-window", "When to place".to_owned());
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
                    "Best start for the pour of {length}: {}. {words}",
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
                    format!("The forecast is too short for a pour of {length}.")
                } else {
                    format!(
                        "No start fits the pour of {length}. In the way: {}.",
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
            let why: Vec<&str> = first.troubles.iter().map(|t| t.kind.name()).collect();
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
        let slab = self.kind(
            Kind::Temperature,
            Interval {
                lo: n.slab_c.0,
                hi: n.slab_c.1,
            },
        );
        let mark = match n.slab_how {
            SlabHow::Sun => " at most, in the sun",
            SlabHow::SunNotKnown => ", sun left out",
            SlabHow::Air => ", estimated",
            SlabHow::File | SlabHow::Measured => "",
        };
        vec![
            moment(n.local),
            self.celsius(n.air_c),
            self.kind(Kind::Share, exact(n.humidity)),
            n.wind_km_h.map_or_else(
                || "not known".to_owned(),
                |x| self.kind(Kind::Speed, exact(x)),
            ),
            format!("{slab}{mark}"),
            n.drying_kg_m2_h.map_or_else(
                || "not known".to_owned(),
                |(lo, hi)| self.kind(Kind::SpreadRate, Interval { lo, hi }),
            ),
            // Below 80 F the index says nothing.
            if n.heat_index_c >= 26.5 {
                self.celsius(n.heat_index_c)
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
            d.start, d.start_how, last
        ));
        if d.phases.len() > 1 {
            for (i, phase) in d.phases.iter().enumerate() {
                let doors = if phase.reachable.is_empty() {
                    "no door can be reached".to_owned()
                } else {
                    format!("{} stays reachable", phase.reachable.join(", "))
                };
                s.lead.push(format!(
                    "Phase {}: area {}; {doors}.",
                    i + 1,
                    phase.areas.join(", ")
                ));
            }
        }
        let names: Vec<String> = d
            .programme
            .critical
            .iter()
            .filter_map(|id| d.programme.activities.iter().find(|a| a.id == *id))
            .map(|a| a.name.clone())
            .collect();
        s.lead
            .push(format!("{HANGS_ON} {}.", names.join(", then ")));
        let mut t = Table::new(
            "Programme",
            &["What", "From", "To", "Days", "Float, days", ""],
        );
        for (dated, a) in d.dated.iter().zip(&d.programme.activities) {
            t.row([
                dated.name.clone(),
                dated.first.to_string(),
                dated.last.to_string(),
                format!("{:.1}", a.days),
                format!("{:.1}", a.float),
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
        let days =
            |to: jiff::civil::Date| f64::from(to.since(d.start).map_or(0, |span| span.get_days()));
        let bars: Vec<programme::Bar> = d
            .dated
            .iter()
            .zip(&d.programme.activities)
            .map(|(dated, a)| programme::Bar {
                name: dated.name.clone(),
                from: days(dated.first),
                to: days(dated.last) + 1.0,
                wait: dated.wait,
                critical: a.critical,
            })
            .collect();
        let day = |n: i64| {
            let day = jiff::Span::new().try_days(n).ok();
            day.and_then(|n| d.start.checked_add(n).ok())
                .map_or_else(String::new, |day| match self.units {
                    System::Us => day.strftime("%b %-d").to_string(),
                    System::Metric => day.strftime("%-d %b").to_string(),
                })
        };
        programme::programme(&bars, day, "programme", "The programme, day by day")
    }

    // ---- money ----

    fn options_drawn(self, m: &MoneyPlan, range: impl Fn(f64, f64) -> String) -> String {
        let rows: Vec<cost::Row> = m
            .options
            .iter()
            .enumerate()
            .map(|(i, o)| {
                let [low, likely, high] = &o.bills;
                let f = |d: rust_decimal::Decimal| d.to_f64().unwrap_or(0.0);
                let span = |(low, likely, high): (f64, f64, f64), words: String| cost::Span {
                    low,
                    likely,
                    high,
                    words,
                };
                let now = (f(low.total), f(likely.total), f(high.total));
                let years = o.life_years;
                cost::Row {
                    name: capital(&o.name),
                    spans: [
                        span(now, range(now.0, now.2)),
                        span(years, format!("{:.0} to {:.0} years", years.0, years.2)),
                        span(o.annual, range(o.annual.0, o.annual.2)),
                    ],
                    best: m
                        .decision
                        .as_ref()
                        .is_some_and(|d| d.cheapest == i || d.undecided_with.contains(&i)),
                }
            })
            .collect();
        cost::options(
            &rows,
            ["Cost now", "How long it lasts", "Cost a year"],
            "options",
            "The options side by side: cost now, life and cost a year",
        )
    }

    fn money(self, m: &MoneyPlan) -> Section {
        let mut s = section("plan-money", "The options side by side".to_owned());
        let code = m.currency.as_deref().unwrap_or_default();
        let range = |lo: f64, hi: f64| {
            let (a, b) = outward(lo, hi, 2);
            if a == b {
                format!("{} {code}", thousands(a))
            } else {
                format!("{} to {} {code}", thousands(a), thousands(b))
            }
        };
        let mut t = Table::new(
            "Cost now and over the life; ranges, not an offer",
            &[
                "Option",
                "Sum of the lines",
                "Eight times in ten",
                "Tax",
                "With tax",
                "Deposit",
                "Life, years",
                "Cost a year",
            ],
        );
        for o in &m.options {
            let f = |d: rust_decimal::Decimal| d.to_f64().unwrap_or(0.0);
            let [low, _, high] = &o.bills;
            t.row([
                o.name.clone(),
                range(f(o.sum.low), f(o.sum.high)),
                range(o.likely_range.0, o.likely_range.1),
                range(f(low.tax), f(high.tax)),
                range(f(low.total), f(high.total)),
                range(f(low.deposit), f(high.deposit)),
                format!("{:.0} to {:.0}", o.life_years.0, o.life_years.2),
                range(o.annual.0, o.annual.2),
            ]);
        }
        if !t.rows.is_empty() {
            s.tables.push(t);
            s.picture = Some(self.options_drawn(m, range));
            let mut lines = Table::new("Lines", &["Option", "Item", "Quantity", "Amount"]);
            for o in &m.options {
                for l in &o.lines {
                    let f = |d: rust_decimal::Decimal| d.to_f64().unwrap_or(0.0);
                    let quantity = l.quantity.round_dp(1).normalize();
                    lines.row([
                        o.name.clone(),
                        l.item.clone(),
                        format!("{quantity} {}", l.per),
                        range(f(l.amounts.low), f(l.amounts.high)),
                    ]);
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
                "Cost a year is at a real rate of {}, each option renewed like for like; lives are ranges of the trade and no warranty. Sums take the mean and spread of each line by the PERT rule.",
                percent(rate)
            ));
        }
        if let Some(e) = &m.break_even {
            s.lead.push(format!(
                "A repair pays as long as it costs less than {} of replacement, depending on how long each lasts.",
                self.kind(Kind::Share, Interval { lo: e.cost_share.0, hi: e.cost_share.1 })
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
                    thousands(bar.input.low),
                    thousands(bar.input.high),
                    format!("{} to {}", thousands(bar.at_low), thousands(bar.at_high)),
                    bar.flips_at
                        .map_or_else(|| "does not flip".to_owned(), thousands),
                ]);
            }
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
        if let Some((lo, hi)) = result.mean_interval {
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

fn timeline(area: &AreaPlan, p: &PourPlan, narrow: bool) -> String {
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
    )
}

/// `Wed 3 June, 09:00`.
fn moment(t: jiff::civil::DateTime) -> String {
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
    format!(
        "{day} {} {month}, {:02}:{:02}",
        t.day(),
        t.hour(),
        t.minute()
    )
}

/// A number with its thousands set apart, no decimals where it is large.
fn thousands(x: f64) -> String {
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

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars
        .next()
        .map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
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
        assert_eq!(
            moment(jiff::civil::date(2026, 6, 3).at(9, 5, 0, 0)),
            "Wed 3 Jun, 09:05"
        );
    }
}
