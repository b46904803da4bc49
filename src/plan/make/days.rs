//! The programme: phases that keep a door reachable, activities with their waits, dates.

use std::collections::BTreeMap;

use crate::facts::Interval;
use crate::method::Waiter;
use crate::plan::figures::{Figures, MissingFigure};
use crate::plan::inputs::{AreaInput, Inputs, WaitInput};
use jiff::civil::Date;

use super::split::{self, DoorFigures, Part};
use crate::plan::model::{AreaPlan, DaysPlan, PhasePart, PhasePlan, Shut, ShutWhy, WindowPlan};
use crate::plan::money::Estimate;
use crate::plan::programme::{
    Activity, Calendar, Dated, Link, Phase, Way, dates, phases, programme,
};

pub(super) fn days(
    inputs: &Inputs,
    areas: &[AreaPlan],
    windows: &[(&str, Option<&WindowPlan>)],
    figures: &Figures<'_>,
    notes: &mut Vec<String>,
) -> Result<Option<DaysPlan>, MissingFigure> {
    let worked: Vec<String> = inputs
        .areas
        .iter()
        .filter(|a| !a.stages.is_empty() && a.why_not.is_none())
        .map(|a| a.id.clone())
        .collect();
    if worked.is_empty() {
        return Ok(None);
    }
    let doors = DoorFigures {
        width: figures.get("door_width")?.hi,
        step: figures.get("door_step_least")?.lo,
        span: figures.get("walk_board_span")?.hi,
    };
    let (parts, mut shut) = split::parts(inputs, &worked, doors);
    let ways: Vec<Way> = parts.iter().map(|p| p.way.clone()).collect();
    let work_on: Vec<String> = parts
        .iter()
        .filter(|p| worked.contains(&p.area))
        .map(|p| p.id.clone())
        .collect();
    let phases = phases(&ways, &work_on);
    let pace = Pace::read(inputs, figures)?;
    let mut activities = Vec::new();
    let mut before: Option<Vec<Link>> = None;
    for (n, phase) in phases.iter().enumerate() {
        let own: Vec<Own> = parts
            .iter()
            .filter(|p| phase.areas.contains(&p.id))
            .filter_map(|p| {
                let area = inputs.areas.iter().find(|a| a.id == p.area)?;
                let pour = areas
                    .iter()
                    .find(|a| a.id == p.area)
                    .and_then(|a| a.pour.as_ref());
                Some(Own {
                    area: shared(area, p),
                    pour_hours: pour.map(|pour| pour.run.end_s as f64 / 3600.0 * p.share),
                })
            })
            .collect();
        before = Some(phase_activities(
            &mut activities,
            n,
            &own,
            &pace,
            before.take(),
        ));
    }
    let start = match (inputs.start, inputs.day) {
        (Some(day), _) => (day, "as asked for"),
        (None, Some(day)) => {
            let next = day.tomorrow().unwrap_or(day);
            (
                Calendar::default().next(next).unwrap_or(next),
                "the first working day after the inspection, as no start was given",
            )
        }
        (None, None) => {
            notes.push("The record has no day, so the work is not put on the calendar.".to_owned());
            return Ok(None);
        }
    };
    seal_last(&mut activities, phases.len());
    let mut calendar = Calendar::default();
    let weather_days = weather_days(inputs, figures)?;
    calendar.days_off.extend(weather_days.iter().copied());
    for (key, window) in windows {
        wait_for_weather(
            &mut activities,
            (&phases, &parts, &calendar),
            key,
            *window,
            start.0,
            notes,
        );
    }
    let worked_out =
        programme(&activities).and_then(|p| Ok((p, dates(&activities, start.0, &calendar)?)));
    match worked_out {
        Ok((programme, dated)) => Ok(Some(DaysPlan {
            start: start.0,
            start_how: start.1.to_owned(),
            start_given: inputs.start.is_some() || inputs.forecast.is_some(),
            phases: phases
                .iter()
                .enumerate()
                .map(|(n, phase)| phase_plan(inputs, (n, phase), &parts, &mut shut, &dated, doors))
                .collect(),
            programme,
            dated,
            hours_a_day: pace.hours,
            weather_days,
        })),
        Err(e) => {
            notes.push(format!("No programme can be made: {e}."));
            Ok(None)
        }
    }
}

/// An area cut down to a part of it: quantities by its share of the surface.
fn shared(area: &AreaInput, part: &Part) -> AreaInput {
    let mut own = area.clone();
    if part.panels.is_empty() {
        return own;
    }
    let by = |i: Interval| Interval {
        lo: i.lo * part.share,
        hi: i.hi * part.share,
    };
    let number = part.id.rsplit('#').next().unwrap_or_default();
    own.name = format!("{}, part {number}", area.name);
    own.surface_m2 = area.surface_m2.map(by);
    own.cracks_mm = by(area.cracks_mm);
    own.joints_mm *= part.share;
    own.replace_m2 = area.replace_m2.map(by);
    for patch in &mut own.patches {
        patch.surface_m2 = by(patch.surface_m2);
    }
    own
}

/// A phase with what becomes of the doors in it.
fn phase_plan(
    inputs: &Inputs,
    (number, phase): (usize, &Phase),
    parts: &[Part],
    shut: &mut BTreeMap<String, ShutWhy>,
    dated: &[Dated],
    doors: DoorFigures,
) -> PhasePlan {
    let own: Vec<&Part> = parts
        .iter()
        .filter(|p| phase.areas.contains(&p.id))
        .collect();
    let area = |id: &str| inputs.areas.iter().find(|a| a.id == id);
    let closes = inputs.areas.iter().any(|a| !a.way.doors.is_empty()) && phase.reachable.is_empty();
    let shut = own.first().filter(|_| closes).and_then(|part| {
        let closed = area(&part.area)?;
        let also: Vec<String> = own.iter().map(|p| p.area.clone()).collect();
        let on = |key: &str| {
            let id = format!("{key}-{}", number + 1);
            dated.iter().find(|d| d.id == id)
        };
        // People may cross while it is only prepared; from the first wet work on it is closed.
        let first = ["patch", "replace", "lay", "seal", "cracks", "prepare"]
            .iter()
            .find_map(|key| on(key))
            .map(|d| d.first);
        let last = ["walk", "cure", "patch-cure", "seal", "lay", "replace"]
            .iter()
            .find_map(|key| on(key))
            .map(|d| d.last);
        let days = longest(&closed.waits, "reopen", &[Waiter::Foot]);
        Some(Shut {
            doors: inputs
                .areas
                .iter()
                .flat_map(|a| a.way.doors.iter().cloned())
                .collect(),
            why: shut.remove(&part.area).unwrap_or(ShutWhy::OnlyWay),
            days,
            dates: first.zip(last),
            boards: split::boards(inputs, closed, &part.panels, &also, doors),
        })
    });
    PhasePlan {
        parts: own
            .iter()
            .filter_map(|p| {
                Some(PhasePart {
                    area: p.area.clone(),
                    name: area(&p.area)?.name.clone(),
                    panels: p.panels.clone(),
                })
            })
            .collect(),
        reachable: phase.reachable.clone(),
        shut,
    }
}

/// The longest of the waits of a stage for some of those who wait, or for any where none is named.
fn longest<'a>(
    waits: impl IntoIterator<Item = &'a WaitInput>,
    stage: &str,
    who: &[Waiter],
) -> Option<Interval> {
    let among = |w: &WaitInput| who.is_empty() || w.who.is_none_or(|x| who.contains(&x));
    waits
        .into_iter()
        .filter(|w| w.stage == stage && among(w))
        .map(|w| w.days)
        .reduce(|a, b| Interval {
            lo: a.lo.max(b.lo),
            hi: a.hi.max(b.hi),
        })
}

/// An area of a phase, and how long its pour takes where it is worked out.
struct Own {
    area: AreaInput,
    pour_hours: Option<f64>,
}

/// Holds the pour back until the best day of the forecast, or says that the day comes too soon.
fn wait_for_weather(
    activities: &mut [Activity],
    (phases, parts, calendar): (&[Phase], &[Part], &Calendar),
    key: &str,
    window: Option<&WindowPlan>,
    start: Date,
    notes: &mut Vec<String>,
) {
    let Some((area, best)) =
        window.and_then(|w| Some((&w.area, w.window.best.as_ref()?.local.date())))
    else {
        return;
    };
    let holds = |p: &Phase| {
        parts
            .iter()
            .any(|part| part.area == *area && p.areas.contains(&part.id))
    };
    let Some(phase) = phases.iter().position(holds) else {
        return;
    };
    let id = format!("{key}-{}", phase + 1);
    let planned = dates(activities, start, calendar)
        .ok()
        .and_then(|d| d.iter().find(|x| x.id == id).map(|x| x.first));
    match planned {
        Some(day) if day > best => notes.push(format!(
            "The best day of the forecast is {}, but {} is ready for it on {} only. Start earlier, or take a later forecast.",
            spoken(best),
            if key == "lay" { "the slab" } else { "the bed" },
            spoken(day)
        )),
        Some(day) if day < best => {
            if let Some(a) = activities.iter_mut().find(|a| a.id == id) {
                a.not_before = Some(best);
                a.name.push_str(", on the best day of the forecast");
            }
        }
        _ => {}
    }
}

/// Days of the forecast on which every hour of work is too wet. A day that the forecast holds only
/// in part is not judged.
fn weather_days(inputs: &Inputs, figures: &Figures<'_>) -> Result<Vec<Date>, MissingFigure> {
    let dry = figures.get("rain_chance_dry")?.hi;
    let working = figures.get("working_day")?;
    let hours = working.lo..working.hi;
    let mut days: BTreeMap<Date, (usize, usize)> = BTreeMap::new();
    for hour in inputs.forecast.iter().flat_map(|f| &f.hours) {
        if !hours.contains(&f64::from(hour.local.hour())) {
            continue;
        }
        let (all, wet) = days.entry(hour.local.date()).or_default();
        *all += 1;
        *wet += usize::from(hour.rain_chance.is_some_and(|x| x > dry));
    }
    let whole = (working.hi - working.lo).max(1.0) as usize;
    Ok(days
        .into_iter()
        .filter(|(_, (all, wet))| !inputs.under_roof && *all >= whole && wet == all)
        .map(|(day, _)| day)
        .collect())
}

/// `Tue 2 Jun`.
fn spoken(day: Date) -> String {
    day.strftime("%a %-d %b").to_string()
}

/// Where the work is done in phases, sealing waits until the last phase may be walked on, and goes
/// area by area: nobody is shut in by two closed areas at once.
fn seal_last(activities: &mut [Activity], phases: usize) {
    if phases < 2 {
        return;
    }
    let there = |activities: &[Activity], id: &str| activities.iter().any(|a| a.id == id);
    // The last thing that must be over before people walk on the last phase.
    let open = [
        "walk",
        "cure",
        "lay",
        "replace",
        "patch-cure",
        "patch",
        "cracks",
        "prepare",
    ]
    .iter()
    .map(|key| format!("{key}-{phases}"))
    .find(|id| there(activities, id));
    let last = format!("seal-{phases}");
    let mut before: Vec<String> = open
        .into_iter()
        .chain(there(activities, &last).then_some(last))
        .collect();
    for phase in 1..phases {
        let id = format!("seal-{phase}");
        // What is only sealed is opened by its sealing, and the next phase waits for that.
        let waited_for = activities
            .iter()
            .any(|a| a.after.iter().any(|l| l.id == id));
        if waited_for {
            continue;
        }
        if let Some(a) = activities.iter_mut().find(|a| a.id == id) {
            for earlier in &before {
                if !a.after.iter().any(|l| l.id == *earlier) {
                    a.after.push(Link {
                        id: earlier.clone(),
                        lag_days: 0.0,
                    });
                }
            }
            before = vec![id];
        }
    }
}

/// Paces of a crew, in units an hour for the whole crew.
struct Pace {
    people: f64,
    hours: f64,
    prepare_m2: Interval,
    wash_m2: Interval,
    cracks_mm: Interval,
    patch_m2: Interval,
    seal_m2: Interval,
    replace_m2: Interval,
    pattern_m2: Interval,
}

impl Pace {
    fn read(inputs: &Inputs, figures: &Figures<'_>) -> Result<Pace, MissingFigure> {
        Ok(Pace {
            people: inputs
                .crew
                .as_ref()
                .map_or(2.0, |c| f64::from(c.people.max(1))),
            hours: figures.get("hours_a_day")?.lo * 24.0,
            prepare_m2: figures.get("pace_prepare")?,
            wash_m2: figures.get("pace_wash")?,
            cracks_mm: figures.get("pace_cracks")?,
            patch_m2: figures.get("pace_patch")?,
            seal_m2: figures.get("pace_seal")?,
            replace_m2: figures.get("pace_replace")?,
            pattern_m2: figures.get("pattern_rate_crew")?,
        })
    }

    /// Working days for an amount at a pace of one person an hour.
    fn days(&self, amount: Interval, pace: Interval) -> Interval {
        let whole = self.people * self.hours;
        if pace.lo <= 0.0 || whole <= 0.0 {
            return Interval::exact(0.0);
        }
        Interval {
            lo: amount.lo / (pace.hi * whole),
            hi: amount.hi / (pace.lo * whole),
        }
    }
}

fn sum(parts: impl Iterator<Item = Interval>) -> Interval {
    parts.fold(Interval::exact(0.0), |s, x| s + x)
}

/// Adds the activities of a phase; gives the links that the next phase waits for.
fn phase_activities(
    out: &mut Vec<Activity>,
    number: usize,
    areas: &[Own],
    pace: &Pace,
    before: Option<Vec<Link>>,
) -> Vec<Link> {
    // Each line names the areas that have a part in it.
    let named = |what: &dyn Fn(&AreaInput) -> bool| {
        let names: Vec<&str> = areas
            .iter()
            .map(|o| &o.area)
            .filter(|a| what(a))
            .map(|a| a.name.as_str())
            .collect();
        names.join(" and ")
    };
    let all = named(&|_| true);
    let has =
        |a: &AreaInput, stages: &[&str]| a.stages.iter().any(|s| stages.contains(&s.as_str()));
    let surface = |stages: &[&str]| {
        sum(areas
            .iter()
            .filter(|o| has(&o.area, stages))
            .filter_map(|o| o.area.surface_m2))
    };
    let mut last = before.unwrap_or_default();
    let mut add = |key: &str, what: String, days: Interval, wait: bool, last: &mut Vec<Link>| {
        if days.hi <= 0.0 {
            return;
        }
        let id = format!("{key}-{}", number + 1);
        let mid = f64::midpoint(days.lo, days.hi);
        out.push(Activity {
            id: id.clone(),
            name: what,
            days: Estimate {
                low: days.lo,
                likely: mid,
                high: days.hi,
            },
            wait,
            // A pour is not broken off overnight, and new concrete comes in the morning.
            fresh: matches!(key, "lay" | "replace"),
            not_before: None,
            after: std::mem::take(last),
        });
        *last = vec![Link { id, lag_days: 0.0 }];
    };
    let wait = |stage: &str, who: &[Waiter]| {
        longest(areas.iter().flat_map(|o| &o.area.waits), stage, who)
            .unwrap_or(Interval::exact(0.0))
    };

    let rough = surface(&["profile", "remove"]);
    let washed = sum(areas
        .iter()
        .map(|o| &o.area)
        .filter(|a| has(a, &["protect", "seal"]) && !has(a, &["profile", "remove", "replace"]))
        .filter_map(|a| a.surface_m2));
    let prepare = pace.days(rough, pace.prepare_m2) + pace.days(washed, pace.wash_m2);
    add(
        "prepare",
        format!(
            "Prepare {}",
            named(&|a| has(a, &["profile", "remove"])
                || (has(a, &["protect", "seal"]) && !has(a, &["replace"])))
        ),
        prepare,
        false,
        &mut last,
    );

    // Joints of new concrete are sealed when it has cured, all others before anything is laid.
    let runs = |new: bool| {
        sum(areas.iter().map(|Own { area: a, .. }| {
            let cracks = if has(a, &["cracks"]) && !new {
                a.cracks_mm
            } else {
                Interval::exact(0.0)
            };
            let joints = if has(a, &["joints"]) && (a.replace_m2.is_some() == new) {
                a.joints_mm
            } else {
                0.0
            };
            cracks + Interval::exact(joints)
        }))
    };
    add(
        "cracks",
        format!(
            "Cracks and joints of {}",
            named(&|a| (has(a, &["cracks"]) && a.cracks_mm.hi > 0.0)
                || (has(a, &["joints"]) && a.replace_m2.is_none() && a.joints_mm > 0.0))
        ),
        pace.days(runs(false), pace.cracks_mm),
        false,
        &mut last,
    );

    let patched = sum(areas
        .iter()
        .flat_map(|o| &o.area.patches)
        .map(|p| p.surface_m2));
    add(
        "patch",
        format!("Patch {}", named(&|a| !a.patches.is_empty())),
        pace.days(patched, pace.patch_m2),
        false,
        &mut last,
    );
    if patched.hi > 0.0 {
        add(
            "patch-cure",
            format!("Patches of {} cure", named(&|a| !a.patches.is_empty())),
            wait("patch_area", &[]),
            true,
            &mut last,
        );
    }

    let replaced = sum(areas.iter().filter_map(|o| o.area.replace_m2));
    add(
        "replace",
        format!("Break out and place {}", named(&|a| a.replace_m2.is_some())),
        pace.days(replaced, pace.replace_m2),
        false,
        &mut last,
    );

    let pour = sum(areas.iter().filter_map(
        |Own {
             area: a,
             pour_hours,
         }| {
            let layer = a.layer.as_ref()?;
            let hours = match pour_hours {
                Some(hours) => Interval::exact(hours / pace.hours),
                None => pace.days(a.surface_m2?, pace.prepare_m2),
            };
            let pattern = if layer.patterned {
                pace.days(a.surface_m2?, pace.pattern_m2)
            } else {
                Interval::exact(0.0)
            };
            Some(hours + pattern)
        },
    ));
    add(
        "lay",
        format!("Lay the layer on {}", named(&|a| a.layer.is_some())),
        pour,
        false,
        &mut last,
    );

    let placed = pour.hi > 0.0 || replaced.hi > 0.0;
    if placed {
        let what = match (pour.hi > 0.0, replaced.hi > 0.0) {
            (true, true) => "Layer and new concrete of",
            (true, false) => "The layer on",
            (false, _) => "New concrete of",
        };
        let cures = if pour.hi > 0.0 && replaced.hi > 0.0 {
            "cure"
        } else {
            "cures"
        };
        add(
            "cure",
            format!(
                "{what} {} {cures}",
                named(&|a| a.layer.is_some() || a.replace_m2.is_some())
            ),
            wait("cure", &[Waiter::Work]),
            true,
            &mut last,
        );
    }
    let cured = last.clone();
    add(
        "joints",
        format!(
            "Joints of {}",
            named(&|a| a.replace_m2.is_some() && has(a, &["joints"]))
        ),
        pace.days(runs(true), pace.cracks_mm),
        false,
        &mut last,
    );
    let sealed = sum(areas
        .iter()
        .filter(|o| o.area.sealer.is_some())
        .filter_map(|o| o.area.surface_m2));
    // Where nothing is sealed there is nothing to dry for.
    if sealed.hi > 0.0 {
        add(
            "dry",
            format!("Drying before sealing {}", named(&|a| a.sealer.is_some())),
            wait("seal", &[]),
            true,
            &mut last,
        );
    }
    add(
        "seal",
        format!("Seal {}", named(&|a| a.sealer.is_some())),
        pace.days(sealed, pace.seal_m2),
        false,
        &mut last,
    );
    let after_seal = last.clone();

    // Reopening counts from the last thing that was laid, sealing from its own drying.
    let mut foot = if placed {
        cured.clone()
    } else {
        after_seal.clone()
    };
    add(
        "walk",
        format!("Keep off {all} on foot"),
        wait("reopen", &[Waiter::Foot]),
        true,
        &mut foot,
    );
    let mut car = if placed { cured } else { after_seal.clone() };
    add(
        "drive",
        format!("Keep cars off {all}"),
        wait("reopen", &[Waiter::Cars, Waiter::Trucks]),
        true,
        &mut car,
    );
    // The next phase begins when this one may be walked on; its sealing comes later.
    foot
}
