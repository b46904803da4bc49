//! The plan of work as the owner needs it: steps and doors, rough amounts, days, weather, money,
//! and what was measured while working. A page, in the language of the paper.

use jiff::civil::{Date, DateTime};
use rust_decimal::prelude::ToPrimitive;
use serde::Serialize;

use super::drawings::cost;
use super::names;
use super::phrases::Phrases;
use super::plan_view::{
    money_range, option_rows, programme_drawn, thousands, two_digits, whole_degrees,
};
use super::view::{Fact, Sources, View, capital};
use super::words::{Meaning, Rich, Words};
use crate::facts::Interval;
use crate::plan::heights::{RiserCheck, RiserRule, StairEnd, WayOut};
use crate::plan::model::{
    Boards, BoardsFrom, Bought, DaysPlan, DoorPlan, MoneyPlan, Order, PhasePlan, Plan, RuleOfThumb,
    ShutWhy, StairPlan, TestPlan, Told, WayPlan,
};
use crate::plan::programme::Dated;
use crate::plan::sampling::Failure;
use crate::plan::window::WindowVerdict;
use crate::units::{Kind, System};

/// Change of a riser or a door that is worth saying, mm.
const CHANGED_MM: f64 = 0.5;

/// The plan for the owner.
#[derive(Debug, Clone, Default, Serialize)]
pub struct PlanPart {
    /// Steps and doors before and after.
    pub heights: Vec<Rich>,
    /// Ways out where steps break a limit.
    pub ways: Vec<WaysOut>,
    /// Roughly what goes into it, area by area.
    pub amounts: Vec<Fact>,
    /// The days in words.
    pub days: Vec<Rich>,
    /// The days as a drawing.
    pub programme: Option<String>,
    /// The weather it needs.
    pub weather: Vec<Rich>,
    /// The money in words.
    pub money: Vec<Rich>,
    /// The options as a drawing.
    pub options: Option<String>,
    /// Trade words explained here.
    pub words: Vec<Meaning>,
}

/// Ways out for a flight of steps.
#[derive(Debug, Clone, Serialize)]
pub struct WaysOut {
    /// Which steps.
    pub lead: Rich,
    /// The ways with their numbers.
    pub list: Vec<Rich>,
}

/// Readings of one kind, judged.
#[derive(Debug, Clone, Serialize)]
pub struct MeasuredRow {
    /// Area; empty where there is one only.
    pub area: String,
    /// What was read.
    pub what: String,
    /// What it must keep.
    pub must: String,
    /// What was read.
    pub read: String,
    /// The verdict.
    pub result: String,
    /// Whether it passed.
    pub passed: bool,
}

impl View {
    /// Adds the plan and what was measured while working. The brief view for the terminal does
    /// without.
    pub fn add_plan(&mut self, plan: &Plan, sources: &Sources<'_>, phrases: &Phrases) {
        let mut words = Words::new(&sources.vocabulary.glossary);
        words.known(&self.glossary);
        let say = Say {
            phrases,
            units: sources.record.job.units,
            told: plan.told,
        };
        let word = sources.assessment.slab.verdict.word.as_str();
        let keeps = !matches!(word, "replace_all" | "replace_panels");
        let mut part = PlanPart::default();
        let mut tell =
            |texts: Vec<String>| -> Vec<Rich> { texts.iter().map(|t| words.say(t)).collect() };
        if plan.days.is_some() || plan.areas.iter().any(|a| !a.orders.is_empty()) {
            part.heights = tell(say.heights(plan));
            part.ways = plan
                .stairs
                .iter()
                .filter(|s| !s.ways_out.is_empty())
                .map(|s| WaysOut {
                    lead: tell(vec![
                        phrases.say("ways_lead", &[("steps", &names::steps(&s.id))]),
                    ])
                    .concat(),
                    list: tell(say.ways(s, &plan.money)),
                })
                .collect();
            part.amounts = say.amounts(plan);
            part.days = tell(say.days(plan));
            part.programme = plan.days.as_ref().map(|d| say.programme(d));
            part.weather = tell(say.weather(plan));
            part.money = tell(say.money(&plan.money, keeps));
            part.options = say.options(&plan.money);
            part.words = words.take_fresh();
            self.said.append(&mut words.said());
            self.glossary.extend(part.words.iter().cloned());
            self.glossary.sort_by_key(|w| w.term.to_lowercase());
            self.plan = Some(part);
        }
        self.worked = plan
            .tests
            .iter()
            .filter_map(|t| say.measured(t, plan))
            .collect();
    }
}

/// What becomes of the doors while the work is done, a phase a sentence or two; for the plan and
/// the crew too. Empty where no phase shuts the doors.
pub(super) fn shut_words(plan: &Plan, units: System, phrases: &Phrases) -> Vec<String> {
    let say = Say {
        phrases,
        units,
        told: plan.told,
    };
    let Some(days) = &plan.days else {
        return Vec::new();
    };
    let mut out: Vec<String> = days
        .phases
        .iter()
        .filter(|p| p.shut.is_some())
        .map(|p| {
            format!(
                "{}: {}",
                capital(&parts_words(p, phrases)),
                say.shut(p).join(" ")
            )
        })
        .collect();
    out.extend(in_parts(plan, &say));
    out
}

/// The same for the crew, a line a phase: how long a way in is shut, and the boards over it.
pub(super) fn shut_for_crew(plan: &Plan, units: System, phrases: &Phrases) -> Vec<String> {
    let say = Say {
        phrases,
        units,
        told: plan.told,
    };
    let phases = plan.days.iter().flat_map(|d| &d.phases);
    let mut out: Vec<String> = phases
        .filter_map(|p| {
            let shut = p.shut.as_ref()?;
            let mut line = say.text("crew_shut", &[("what", &capital(&parts_words(p, phrases)))]);
            if let Some(days) = shut.days {
                line += " ";
                line += &say.text("shut_time", &[("time", &say.time(days))]);
            }
            if let Some(boards) = shut
                .boards
                .as_ref()
                .filter(|b| b.reach() && b.length_mm >= 1.0)
            {
                line += " ";
                line += &say.boards("crew_boards", boards);
            }
            Some(line)
        })
        .collect();
    out.extend(in_parts(plan, &say));
    out
}

/// What to know of pours that are drawn in one go and laid in parts.
fn in_parts(plan: &Plan, say: &Say<'_>) -> Vec<String> {
    let parts = || {
        plan.days
            .iter()
            .flat_map(|d| &d.phases)
            .flat_map(|p| &p.parts)
    };
    let split = |area: &str| {
        let own = parts().filter(|p| p.area == area && !p.panels.is_empty());
        own.count() > 1
    };
    let areas = plan.areas.iter();
    areas
        .filter(|a| a.pour.is_some() && split(&a.id))
        .map(|a| say.text("pour_in_parts", &[("area", &capital(&a.name))]))
        .collect()
}

/// The trade's rules of thumb on the cost of a repair, with their sources; for the plan.
pub(super) fn thumb_words(plan: &Plan, units: System, phrases: &Phrases) -> Vec<String> {
    let say = Say {
        phrases,
        units,
        told: plan.told,
    };
    plan.money.thumb.as_ref().map_or_else(Vec::new, |t| {
        let mut out = say.thumb(t);
        let mut sources: Vec<String> = t
            .usual
            .iter()
            .chain([&t.worth])
            .map(|s| {
                let how = phrases.sentences.turn(s.provenance.words());
                format!("{} ({how})", s.source)
            })
            .collect();
        sources.dedup();
        out.push(phrases.say("money_sources", &[("list", &sources.join("; "))]));
        out
    })
}

/// `upper terrace` or `front walk, panels A1, A2`: what is closed in a phase.
pub(super) fn parts_words(phase: &PhasePlan, phrases: &Phrases) -> String {
    let parts: Vec<String> = phase
        .parts
        .iter()
        .map(|p| match p.panels.len() {
            0 => p.name.clone(),
            1 => format!(
                "{}, {}",
                p.name,
                phrases.say("one_panel", &[("list", &p.panels.join(", "))])
            ),
            _ => format!(
                "{}, {}",
                p.name,
                phrases.say("many_panels", &[("list", &p.panels.join(", "))])
            ),
        })
        .collect();
    and(&parts, phrases)
}

/// `a, b and c`.
fn and(list: &[String], phrases: &Phrases) -> String {
    match list {
        [] => String::new(),
        [one] => one.clone(),
        [rest @ .., last] => {
            format!(
                "{} {} {last}",
                rest.join(", "),
                phrases.say("word_and", &[])
            )
        }
    }
}

/// Says things in a language, in the units of the job.
struct Say<'a> {
    phrases: &'a Phrases,
    units: System,
    told: Told,
}

impl Say<'_> {
    fn text(&self, key: &str, fill: &[(&str, &str)]) -> String {
        self.phrases.say(key, fill)
    }

    fn kind(&self, kind: Kind, x: Interval) -> String {
        let text = kind.write(x, self.units);
        // Ranges are written with `to`; other languages have another word.
        text.replace(" to ", &format!(" {} ", self.text("word_to", &[])))
    }

    fn mm(&self, x: f64) -> String {
        self.kind(Kind::Length, Interval::exact(x))
    }

    fn list_mm(&self, all: &[f64]) -> String {
        let all: Vec<String> = all.iter().map(|x| self.mm(*x)).collect();
        self.and(&all)
    }

    fn and(&self, list: &[String]) -> String {
        and(list, self.phrases)
    }

    fn share(&self, x: f64) -> String {
        if (self.told.half.lo..=self.told.half.hi).contains(&x) {
            self.text("about_half", &[])
        } else {
            let whole = (x * 100.0).round() / 100.0;
            self.text(
                "about_share",
                &[("share", &self.kind(Kind::Share, Interval::exact(whole)))],
            )
        }
    }

    /// `36 h`, `1 to 3 days`.
    fn time(&self, days: Interval) -> String {
        const HOURS: f64 = 24.0;
        let whole = |x: f64| (x - x.round()).abs() < 1e-9;
        let in_days = whole(days.lo) && whole(days.hi) && days.lo >= 1.0;
        let by = if in_days { 1.0 } else { HOURS };
        let (lo, hi) = ((days.lo * by).round(), (days.hi * by).round());
        let count = if lo == hi {
            format!("{hi:.0}")
        } else {
            format!("{lo:.0} {} {hi:.0}", self.text("word_to", &[]))
        };
        let key = match (in_days, hi == 1.0) {
            (true, true) => "time_day",
            (true, false) => "time_days",
            (false, _) => "time_hours",
        };
        self.text(key, &[("n", &count)])
    }

    // ---- heights ----

    fn heights(&self, plan: &Plan) -> Vec<String> {
        let mut out: Vec<String> = plan.stairs.iter().map(|s| self.stair(s)).collect();
        out.extend(plan.doors.iter().filter_map(|d| self.door(d)));
        out
    }

    fn stair(&self, s: &StairPlan) -> String {
        let steps = names::steps(&s.id);
        let changed: Vec<usize> = s
            .before_mm
            .iter()
            .zip(&s.after_mm)
            .enumerate()
            .filter(|(_, (b, a))| (*b - *a).abs() > CHANGED_MM)
            .map(|(i, _)| i)
            .collect();
        let last = s.after_mm.len().saturating_sub(1);
        let one = |i: usize| {
            let at = |list: &[f64]| list.get(i).map_or_else(String::new, |x| self.mm(*x));
            (at(&s.after_mm), at(&s.before_mm))
        };
        let mut out = vec![match changed.as_slice() {
            [] => self.text("steps_same", &[("steps", &steps)]),
            [i] if *i == 0 || *i == last => {
                let (after, before) = one(*i);
                let key = if *i == 0 { "steps_first" } else { "steps_last" };
                self.text(
                    key,
                    &[("steps", &steps), ("after", &after), ("before", &before)],
                )
            }
            _ => self.text(
                "steps_all",
                &[
                    ("steps", &steps),
                    ("after", &self.list_mm(&s.after_mm)),
                    ("before", &self.list_mm(&s.before_mm)),
                ],
            ),
        }];
        let broken: Vec<&RiserCheck> = s.checks.iter().filter(|c| !c.kept_after).collect();
        if broken.is_empty() && !changed.is_empty() {
            out.push(self.text("steps_kept", &[]));
        }
        out.extend(broken.into_iter().map(|c| self.broken(c, "")));
        if s.short_first && s.after_mm.len() > 1 {
            out.push(self.text("steps_trip", &[]));
        }
        if let Some(w) = &s.wished {
            let key = match w.at {
                StairEnd::Foot => "steps_wished_foot",
                StairEnd::Head => "steps_wished_head",
            };
            out.push(self.text(
                key,
                &[
                    ("thick", &self.mm(w.thickness_mm)),
                    ("risers", &self.list_mm(&w.after_mm)),
                ],
            ));
            out.extend(w.breaks.iter().take(1).map(|c| self.broken(c, "_would")));
        }
        out.join(" ")
    }

    /// A broken limit; `when` is the ending of its sentence for what is not done.
    fn broken(&self, c: &RiserCheck, when: &str) -> String {
        let key = match c.limit.rule {
            RiserRule::Greatest => "steps_highest",
            RiserRule::Least => "steps_lowest",
            RiserRule::Difference => "steps_differ",
        };
        self.text(
            &format!("{key}{when}"),
            &[
                ("limit", &self.mm(c.limit.limit_mm)),
                ("is", &self.mm(c.after_mm)),
            ],
        )
    }

    fn door(&self, d: &DoorPlan) -> Option<String> {
        let c = &d.check;
        if (c.drop_before_mm - c.drop_after_mm).abs() <= CHANGED_MM {
            return None;
        }
        let mut out = vec![self.text(
            "door_after",
            &[
                ("door", &names::door(&d.id)),
                ("after", &self.mm(c.drop_after_mm)),
                ("before", &self.mm(c.drop_before_mm)),
            ],
        )];
        if !c.lip_kept {
            out.push(self.text("door_low", &[]));
        }
        if !c.drop_kept {
            out.push(self.text("door_high", &[("limit", &self.mm(d.greatest_drop_mm))]));
        }
        if c.clear_after_mm.is_some() {
            out.push(if c.swings {
                self.text("door_free", &[])
            } else {
                self.text("door_drags", &[("most", &self.mm(c.greatest_mm))])
            });
        }
        Some(out.join(" "))
    }

    fn ways(&self, stair: &StairPlan, money: &MoneyPlan) -> Vec<String> {
        let code = money.currency.as_deref();
        stair
            .ways_out
            .iter()
            .map(|way| {
                let mut out = vec![self.way(way)];
                if !matches!(way.way, WayOut::Rebuild { .. }) {
                    out.push(self.text("way_then", &[("risers", &self.list_mm(&way.risers_mm))]));
                }
                if let (Some(p), Some(code)) = (way.price, code) {
                    let f = |d: rust_decimal::Decimal| d.to_f64().unwrap_or(0.0);
                    let price = self.money_range(f(p.low), f(p.high), code);
                    out.push(self.text("way_price", &[("price", &price)]));
                }
                out.join(" ")
            })
            .collect()
    }

    fn way(&self, way: &WayPlan) -> String {
        match &way.way {
            WayOut::Thinner { greatest_mm } => {
                self.text("way_thinner", &[("most", &self.mm(*greatest_mm))])
            }
            WayOut::Taper {
                at_foot_mm,
                length_mm,
                ..
            } => self.text(
                "way_taper",
                &[
                    ("thick", &self.mm(*at_foot_mm)),
                    ("length", &self.mm(*length_mm)),
                ],
            ),
            WayOut::LowerWalk { depth_mm } => {
                self.text("way_lower_walk", &[("depth", &self.mm(*depth_mm))])
            }
            WayOut::NewLevel { at, change_mm } => {
                let key = match (at, *change_mm) {
                    (StairEnd::Foot, x) if x.abs() < CHANGED_MM => "way_level_foot_same",
                    (StairEnd::Head, x) if x.abs() < CHANGED_MM => "way_level_head_same",
                    (StairEnd::Foot, x) if x < 0.0 => "way_level_foot_lower",
                    (StairEnd::Head, x) if x < 0.0 => "way_level_head_lower",
                    (StairEnd::Foot, _) => "way_level_foot_higher",
                    (StairEnd::Head, _) => "way_level_head_higher",
                };
                self.text(key, &[("by", &self.mm(change_mm.abs()))])
            }
            WayOut::Rebuild { risers, riser_mm } => self.text(
                "way_rebuild",
                &[
                    ("count", &risers.to_string()),
                    ("riser", &self.mm(*riser_mm)),
                ],
            ),
        }
    }

    // ---- amounts ----

    /// What an owner cares about: the layer, patches, concrete, fillers and sealer, roughly.
    fn amounts(&self, plan: &Plan) -> Vec<Fact> {
        const SHOWN: [&str; 6] = ["layer", "patch", "concrete", "cracks", "joints", "sealer"];
        plan.areas
            .iter()
            .filter_map(|area| {
                let list: Vec<String> = area
                    .orders
                    .iter()
                    .filter(|o| SHOWN.contains(&o.purpose.as_str()) && o.bought != Bought::Run)
                    .filter_map(|o| self.amount(o))
                    .collect();
                (!list.is_empty()).then(|| Fact {
                    name: capital(&area.name),
                    value: list.join("; "),
                })
            })
            .collect()
    }

    fn amount(&self, order: &Order) -> Option<String> {
        let us = self.units == System::Us;
        let most = order.amount.hi;
        if matches!(order.bought, Bought::Liquid | Bought::Mixed) && most < self.told.least_l {
            return None;
        }
        let volume = |unit: &str, name: &str| {
            let x = two_digits(Kind::Volume.to_unit(most, unit)?);
            (x > 0.0).then(|| format!("{} {name}", thousands(x)))
        };
        let amount = match order.bought {
            Bought::Bags if most == 1.0 => self.text("one_bag", &[]),
            Bought::Bags => self.text("some_bags", &[("n", &format!("{:.0}", two_digits(most)))]),
            Bought::Packs if most == 1.0 => self.text("one_pack", &[]),
            Bought::Packs => self.text("some_packs", &[("n", &format!("{most:.0}"))]),
            Bought::Concrete if us => volume("yd3", "yd³")?,
            Bought::Concrete => volume("m3", "m³")?,
            Bought::Mixed if us => volume("ft3", "ft³")?,
            Bought::Liquid if us => volume("gal", "gal")?,
            Bought::Mixed | Bought::Liquid => volume("L", "L")?,
            Bought::Run => return None,
        };
        Some(self.text(
            "amount_of",
            &[
                ("amount", &amount),
                ("material", &self.phrases.sentences.turn(&order.material)),
            ],
        ))
    }

    // ---- days ----

    /// `Wed 3 Jun`.
    fn date(&self, day: Date) -> String {
        let pick = |key: &str, i: usize| {
            let all = self.text(key, &[]);
            all.split_whitespace()
                .nth(i)
                .map_or_else(String::new, str::to_owned)
        };
        let weekday = usize::from(day.weekday().to_monday_zero_offset().unsigned_abs());
        let month = usize::from(day.month().unsigned_abs()).saturating_sub(1);
        self.text(
            "short_date",
            &[
                ("weekday", &pick("weekdays_short", weekday)),
                ("day", &day.day().to_string()),
                ("month", &pick("months_short", month)),
            ],
        )
    }

    /// A day by its date where the start was named, else by its number.
    fn day(&self, d: &DaysPlan, day: Date) -> String {
        if d.start_given {
            self.date(day)
        } else {
            let n = day.since(d.start).map_or(0, |s| s.get_days()) + 1;
            self.text("day_number", &[("n", &n.to_string())])
        }
    }

    fn days(&self, plan: &Plan) -> Vec<String> {
        let Some(d) = &plan.days else {
            return Vec::new();
        };
        let Some(last) = d.dated.iter().map(|x| x.last).max() else {
            return Vec::new();
        };
        let mut out = Vec::new();
        let length = last.since(d.start).map_or(0, |s| s.get_days()) + 1;
        out.push(if d.start_given {
            self.text(
                "days_dates",
                &[("first", &self.date(d.start)), ("last", &self.date(last))],
            )
        } else {
            let weekday = self.text("weekdays_long", &[]);
            let index = usize::from(d.start.weekday().to_monday_zero_offset().unsigned_abs());
            let weekday = weekday.split_whitespace().nth(index).unwrap_or_default();
            self.text(
                "days_numbers",
                &[("n", &length.to_string()), ("weekday", weekday)],
            )
        });
        for (n, phase) in d.phases.iter().enumerate() {
            let on = |key: &str| -> Option<&Dated> {
                let id = format!("{key}-{}", n + 1);
                d.dated.iter().find(|x| x.id == id)
            };
            let own = || {
                let ends = format!("-{}", n + 1);
                d.dated.iter().filter(move |x| x.id.ends_with(&ends))
            };
            let Some(first) = own().map(|x| x.first).min() else {
                continue;
            };
            let mut what = capital(&parts_words(phase, self.phrases));
            if d.phases.len() > 1 {
                what = format!("{}. {what}", n + 1);
            }
            let after = |x: &Dated| x.last.tomorrow().ok().map(|t| self.day(d, t));
            let walk = on("walk").or_else(|| on("cure"));
            let mut line = vec![self.text(
                "phase_from",
                &[("areas", &what), ("day", &self.day(d, first))],
            )];
            if let Some(day) = walk.and_then(after) {
                line.push(self.text("phase_walk", &[("day", &day)]));
            }
            if let Some(day) = on("drive").and_then(after) {
                line.push(self.text("phase_drive", &[("day", &day)]));
            }
            if let (Some(seal), Some(walk)) = (on("seal"), walk)
                && seal.first > walk.last
            {
                line.push(self.text("phase_seal", &[("day", &self.day(d, seal.first))]));
            }
            if phase.shut.is_some() {
                line.extend(self.shut(phase));
            } else if !phase.reachable.is_empty() {
                let doors: Vec<String> = phase.reachable.iter().map(|x| names::door(x)).collect();
                line.push(self.text("doors_open", &[("doors", &self.and(&doors))]));
            }
            out.push(line.join(" "));
        }
        out
    }

    /// What the owner does while no door can be reached, and why it is so.
    fn shut(&self, phase: &PhasePlan) -> Vec<String> {
        let Some(shut) = &phase.shut else {
            return Vec::new();
        };
        let mut out = vec![self.text(
            match shut.why {
                ShutWhy::NoPanels => "shut_no_panels",
                ShutWhy::NoPlace => "shut_no_place",
                ShutWhy::OnlyWay => "shut_only_way",
                ShutWhy::BeforeDoor => "shut_before_door",
            },
            &[],
        )];
        if let Some(days) = shut.days {
            out.push(self.text("shut_time", &[("time", &self.time(days))]));
        }
        out.push(match &shut.boards {
            Some(b) if b.length_mm < CHANGED_MM => self.boards("shut_boards_beside", b),
            Some(b) if b.reach() => self.boards("shut_boards", b),
            Some(b) => self.boards("shut_boards_far", b),
            None => self.text("shut_other", &[]),
        });
        out
    }

    fn boards(&self, key: &str, b: &Boards) -> String {
        let from = match &b.from {
            BoardsFrom::Panel(panel) => self.text("one_panel", &[("list", panel)]),
            BoardsFrom::Area(area) => area.clone(),
            BoardsFrom::Ground => self.text("beside_slab", &[]),
        };
        self.text(
            key,
            &[
                ("from", &from),
                ("length", &self.mm(b.length_mm)),
                ("span", &self.mm(b.span_mm)),
            ],
        )
    }

    fn programme(&self, d: &DaysPlan) -> String {
        let name = |dated: &Dated| {
            let (key, n) = dated.id.rsplit_once('-').unwrap_or((&dated.id, ""));
            let name = self.text(&format!("act_{}", key.replace('-', "_")), &[]);
            if d.phases.len() > 1 {
                format!("{n}. {name}")
            } else {
                name
            }
        };
        let title = self.text("days_title", &[]);
        programme_drawn(
            d,
            name,
            |day| self.day(d, day),
            ("owner-days", &title),
            &self.phrases.sentences,
        )
    }

    // ---- weather ----

    /// A sentence on what the weather must keep, one on when that is.
    fn weather(&self, plan: &Plan) -> Vec<String> {
        let mut out: Vec<String> = plan
            .weather
            .iter()
            .map(|w| {
                let key = if w.concrete {
                    "weather_concrete"
                } else {
                    "weather_layer"
                };
                self.text(
                    key,
                    &[
                        ("low", &whole_degrees(w.temperature_c.lo, self.units)),
                        ("high", &whole_degrees(w.temperature_c.hi, self.units)),
                        ("dry", &self.time(Interval::exact(w.dry_after_days.hi))),
                        ("frost", &self.time(w.frost_free_days)),
                    ],
                )
            })
            .collect();
        if out.is_empty() {
            return out;
        }
        let windows: Vec<_> = plan.window.iter().chain(&plan.concrete_window).collect();
        if windows.is_empty() {
            out.push(self.text("weather_open", &[]));
        }
        for w in windows {
            out.push(match &w.window.best {
                Some(best) => {
                    let key = match best.verdict {
                        WindowVerdict::Fine => "weather_best",
                        WindowVerdict::WithCare => "weather_best_care",
                        _ => "weather_best_open",
                    };
                    self.text(key, &[("when", &self.moment(best.local))])
                }
                None => self.text("weather_none", &[]),
            });
        }
        out.dedup();
        out
    }

    fn moment(&self, t: DateTime) -> String {
        format!("{}, {:02}:{:02}", self.date(t.date()), t.hour(), t.minute())
    }

    // ---- money ----

    fn money_range(&self, low: f64, high: f64, code: &str) -> String {
        money_range(low, high, code, &self.text("word_to", &[]))
    }

    fn option(&self, option: &str) -> String {
        self.text(&format!("do_{option}"), &[])
    }

    fn thumb(&self, t: &RuleOfThumb) -> Vec<String> {
        let mut out = Vec::new();
        if let Some(usual) = &t.usual {
            out.push(self.text("money_usual", &[("share", &self.share(usual.share))]));
        }
        out.push(self.text("money_worth", &[("share", &self.share(t.worth.share))]));
        if let Some(here) = t.here {
            let key = if t.over {
                "money_here_over"
            } else {
                "money_here_under"
            };
            out.push(self.text(key, &[("share", &self.share(here))]));
        }
        out
    }

    /// `keeps`: whether the verdict keeps the slab.
    fn money(&self, m: &MoneyPlan, keeps: bool) -> Vec<String> {
        let mut out = Vec::new();
        if m.options.is_empty() {
            out.push(self.text("money_none", &[]));
        }
        if let Some(t) = &m.thumb {
            out.push(self.thumb(t).join(" "));
        }
        if let (Some(d), Some(band)) = (&m.decision, m.band)
            && let Some(best) = m.options.get(d.cheapest)
        {
            let mends = m.options.iter().filter(|o| o.option != "do_little").count();
            let near: Vec<String> = d
                .undecided_with
                .iter()
                .filter_map(|i| m.options.get(*i))
                .map(|o| self.option(&o.option))
                .collect();
            let band = self.kind(Kind::Share, Interval::exact(band));
            let anew = best.option == "replace_all";
            let best = self.option(&best.option);
            out.push(if mends <= 1 {
                self.text("money_only", &[("option", &best)])
            } else if near.is_empty() {
                let mut text = self.text("money_cheapest", &[("option", &best), ("band", &band)]);
                if keeps && anew {
                    text = format!("{text} {}", self.text("money_keeps", &[]));
                }
                text
            } else {
                let mut all = vec![best];
                all.extend(near);
                self.text(
                    "money_undecided",
                    &[("options", &self.and(&all)), ("band", &band)],
                )
            });
        }
        if !m.options.is_empty() {
            out.push(self.text("money_chart", &[]));
        }
        out
    }

    fn options(&self, m: &MoneyPlan) -> Option<String> {
        let code = m.currency.as_deref()?;
        let money = |low: f64, high: f64| self.money_range(low, high, code);
        let years = |low: f64, high: f64| {
            let (low, high) = (format!("{low:.0}"), format!("{high:.0}"));
            self.text("years", &[("low", &low), ("high", &high)])
        };
        let rows = option_rows(m, |o| self.option(&o.option), money, years);
        let head = |key: &str| self.text(key, &[]);
        let heads = [head("cost_now"), head("cost_life"), head("cost_year")];
        let heads = heads.each_ref().map(String::as_str);
        (!rows.is_empty()).then(|| {
            let title = head("cost_title");
            cost::options(
                &rows,
                heads,
                "owner-options",
                &title,
                &self.phrases.sentences,
            )
        })
    }

    // ---- what was measured while working ----

    fn measured(&self, test: &TestPlan, plan: &Plan) -> Option<MeasuredRow> {
        let result = test.result.as_ref()?;
        let write = |x: f64| self.kind(test.kind, Interval::exact(x));
        let l = &test.limits;
        let single = match (l.single_least, l.single_greatest) {
            (Some(a), Some(b)) => {
                Some(self.text("must_between", &[("low", &write(a)), ("high", &write(b))]))
            }
            (Some(a), None) => Some(self.text("must_least", &[("low", &write(a))])),
            (None, Some(b)) => Some(self.text("must_most", &[("high", &write(b))])),
            (None, None) => None,
        };
        let mean = l
            .mean_least
            .map(|m| self.text("must_mean", &[("low", &write(m))]));
        let must: Vec<String> = mean.into_iter().chain(single).collect();
        let s = result.sample;
        let mut read = if s.count == 1 {
            self.text("read_one", &[("least", &write(s.least))])
        } else {
            self.text(
                "read_many",
                &[
                    ("n", &s.count.to_string()),
                    ("least", &write(s.least)),
                    ("greatest", &write(s.greatest)),
                    ("mean", &write(s.mean)),
                ],
            )
        };
        // Where the rule is one on the mean, how sure the mean is.
        if let Some((lo, hi)) = result.mean_interval.filter(|_| l.mean_least.is_some()) {
            read.push_str(". ");
            read.push_str(&self.text("read_sure", &[("low", &write(lo)), ("high", &write(hi))]));
        }
        let mut few = None;
        let why: Vec<String> = result
            .failures
            .iter()
            .filter_map(|f| match f {
                Failure::TooFew { wanted, there } => {
                    few = Some(wanted.saturating_sub(*there));
                    None
                }
                Failure::MeanLow { limit, .. } => {
                    Some(self.text("fail_mean", &[("limit", &write(*limit))]))
                }
                Failure::Low { index, reading, .. } => Some(self.text(
                    "fail_low",
                    &[("n", &(index + 1).to_string()), ("value", &write(*reading))],
                )),
                Failure::High { index, reading, .. } => Some(self.text(
                    "fail_high",
                    &[("n", &(index + 1).to_string()), ("value", &write(*reading))],
                )),
            })
            .collect();
        let mut verdict = Vec::new();
        if !why.is_empty() {
            verdict.push(self.text("result_failed", &[("why", &why.join("; "))]));
        }
        if let Some(n) = few {
            verdict.push(self.text("result_few", &[("n", &n.to_string())]));
        }
        if verdict.is_empty() {
            verdict.push(self.text("result_passed", &[]));
        }
        Some(MeasuredRow {
            area: if plan.areas.len() > 1 {
                plan.areas
                    .iter()
                    .find(|a| a.id == test.area)
                    .map_or_else(|| test.area.clone(), |a| capital(&a.name))
            } else {
                String::new()
            },
            what: self.text(&format!("reading_{}", test.id), &[]),
            must: must.join("; "),
            read,
            result: verdict.join(". "),
            passed: result.passed,
        })
    }
}
