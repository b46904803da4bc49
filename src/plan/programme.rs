//! The days: activities with waits between them, critical path, float, dates and a calendar file.

use std::collections::{BTreeSet, HashMap};
use std::fmt::Write as _;

use jiff::civil::{Date, Weekday};
use petgraph::graph::{DiGraph, NodeIndex};
use petgraph::visit::EdgeRef;
use petgraph::{Direction, algo};
use serde::Serialize;
use thiserror::Error;

use super::money::{Estimate, Moments, SpreadRule};

/// A piece of work or a wait, with what must come before it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Activity {
    /// Short name, unique.
    pub id: String,
    /// For pages.
    pub name: String,
    /// Days it takes. For work: working days; for a wait: calendar days.
    pub days: Estimate,
    /// Whether it runs on days off too (curing, drying).
    pub wait: bool,
    /// Whether it begins on a fresh morning, such as a pour that must not be broken off.
    pub fresh: bool,
    /// Day before which it cannot begin (weather).
    pub not_before: Option<Date>,
    /// What must be finished before.
    pub after: Vec<Link>,
}

/// Finish to start, with a lag.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Link {
    /// The earlier activity.
    pub id: String,
    /// Days between its end and the start.
    pub lag_days: f64,
}

/// Why a programme cannot be worked out.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum ProgrammeError {
    /// Two activities share a name.
    #[error("two activities are called `{id}`")]
    Repeated {
        /// The name.
        id: String,
    },
    /// A link leads nowhere.
    #[error("`{id}` comes after `{after}`, but there is no such activity")]
    Unknown {
        /// The later activity.
        id: String,
        /// The missing one.
        after: String,
    },
    /// Activities wait for one another in a ring.
    #[error("these activities wait for one another: {}", ids.join(", "))]
    Ring {
        /// The activities in the ring.
        ids: Vec<String>,
    },
    /// A number of days below zero or none at all.
    #[error("`{id}` has {days} days; days cannot be less than zero")]
    Days {
        /// The activity.
        id: String,
        /// Its days or lag.
        days: f64,
    },
    /// No working day within reach of the start.
    #[error("no working day within ten years of {from}")]
    NoWorkingDay {
        /// Where the search began.
        from: Date,
    },
}

/// An activity in its place.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Placed {
    /// Short name.
    pub id: String,
    /// For pages.
    pub name: String,
    /// Expected days.
    pub days: f64,
    /// Standard deviation of the days.
    pub deviation: f64,
    /// Earliest start, days from the beginning.
    pub earliest_start: f64,
    /// Earliest end.
    pub earliest_end: f64,
    /// Latest start that does not move the end of the job.
    pub latest_start: f64,
    /// Latest end that does not move the end of the job.
    pub latest_end: f64,
    /// Days it can slip without moving the end of the job.
    pub float: f64,
    /// Whether it has none.
    pub critical: bool,
}

/// The worked-out programme.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Programme {
    /// Every activity, in the order given.
    pub activities: Vec<Placed>,
    /// Days from first start to last end.
    pub length: f64,
    /// Names along the critical path, first to last.
    pub critical: Vec<String>,
    /// Mean and variance of the critical path's length (PERT).
    pub spread: Moments,
}

struct Network<'a> {
    graph: DiGraph<&'a Activity, f64>,
    order: Vec<NodeIndex>,
}

fn network(activities: &[Activity]) -> Result<Network<'_>, ProgrammeError> {
    let mut graph = DiGraph::new();
    let mut by_id = HashMap::new();
    for a in activities {
        let (low, high) = (a.days.low, a.days.high);
        if !(low >= 0.0 && high.is_finite() && low <= a.days.likely && a.days.likely <= high) {
            return Err(ProgrammeError::Days {
                id: a.id.clone(),
                days: low.min(a.days.likely).min(high),
            });
        }
        if by_id.insert(a.id.as_str(), graph.add_node(a)).is_some() {
            return Err(ProgrammeError::Repeated { id: a.id.clone() });
        }
    }
    for a in activities {
        let Some(to) = by_id.get(a.id.as_str()) else {
            continue;
        };
        for link in &a.after {
            let from = by_id
                .get(link.id.as_str())
                .ok_or_else(|| ProgrammeError::Unknown {
                    id: a.id.clone(),
                    after: link.id.clone(),
                })?;
            if !(link.lag_days >= 0.0 && link.lag_days.is_finite()) {
                return Err(ProgrammeError::Days {
                    id: a.id.clone(),
                    days: link.lag_days,
                });
            }
            graph.add_edge(*from, *to, link.lag_days);
        }
    }
    match algo::toposort(&graph, None) {
        Ok(order) => Ok(Network { graph, order }),
        Err(_) => {
            let ring = algo::tarjan_scc(&graph)
                .into_iter()
                .find(|c| c.len() > 1 || c.first().is_some_and(|n| graph.contains_edge(*n, *n)))
                .unwrap_or_default();
            let mut ids: Vec<String> = ring.into_iter().map(|n| graph[n].id.clone()).collect();
            ids.sort();
            Err(ProgrammeError::Ring { ids })
        }
    }
}

/// Works out earliest and latest times, float and the critical path.
///
/// EF = ES + days; ES = greatest EF of what comes before plus its lag; LF = least LS of what
/// follows less its lag; float = LS − ES. Days are the PERT mean (a + 4m + b)/6; the spread adds
/// the variances along the critical path. Source: Navy training manual 14233 for the passes.
///
/// # Errors
/// Repeated or unknown names, days below zero, activities that wait for one another.
pub fn programme(activities: &[Activity]) -> Result<Programme, ProgrammeError> {
    const ROUNDING: f64 = 1e-9;
    let Network { graph, order } = network(activities)?;
    let moments: Vec<Moments> = graph
        .node_indices()
        .map(|n| SpreadRule::Pert.moments(graph[n].days))
        .collect();
    let days = |n: NodeIndex| moments.get(n.index()).map_or(0.0, |m| m.mean);
    let mut start = vec![0.0f64; graph.node_count()];
    for n in &order {
        start[n.index()] = graph
            .edges_directed(*n, Direction::Incoming)
            .map(|e| start[e.source().index()] + days(e.source()) + e.weight())
            .fold(0.0, f64::max);
    }
    let end = |n: NodeIndex| start[n.index()] + days(n);
    let length = graph.node_indices().map(end).fold(0.0, f64::max);
    let mut latest_end = vec![length; graph.node_count()];
    for n in order.iter().rev() {
        latest_end[n.index()] = graph
            .edges_directed(*n, Direction::Outgoing)
            .map(|e| latest_end[e.target().index()] - days(e.target()) - e.weight())
            .fold(length, f64::min);
    }
    let is_critical = |n: NodeIndex| latest_end[n.index()] - end(n) < ROUNDING * (1.0 + length);
    // Walk one path back from the end, so that its variances add up to those of a single path.
    let mut path = Vec::new();
    let mut at = order
        .iter()
        .copied()
        .filter(|n| (end(*n) - length).abs() < ROUNDING * (1.0 + length))
        .min();
    while let Some(n) = at {
        path.push(n);
        at = graph
            .edges_directed(n, Direction::Incoming)
            .filter(|e| {
                (end(e.source()) + e.weight() - start[n.index()]).abs() < ROUNDING * (1.0 + length)
            })
            .map(|e| e.source())
            .min();
    }
    path.reverse();
    let variance = path
        .iter()
        .filter_map(|n| moments.get(n.index()))
        .map(|m| m.variance)
        .sum();
    let placed = graph
        .node_indices()
        .map(|n| Placed {
            id: graph[n].id.clone(),
            name: graph[n].name.clone(),
            days: days(n),
            deviation: moments.get(n.index()).map_or(0.0, |m| m.deviation()),
            earliest_start: start[n.index()],
            earliest_end: end(n),
            latest_start: latest_end[n.index()] - days(n),
            latest_end: latest_end[n.index()],
            float: (latest_end[n.index()] - end(n)).max(0.0),
            critical: is_critical(n),
        })
        .collect();
    Ok(Programme {
        activities: placed,
        length,
        critical: path.iter().map(|n| graph[*n].id.clone()).collect(),
        spread: Moments {
            mean: length,
            variance,
        },
    })
}

/// Days on which the crew works.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Calendar {
    /// Weekdays off.
    #[serde(skip)]
    pub weekdays_off: Vec<Weekday>,
    /// Single days off: holidays, days with bad weather.
    pub days_off: BTreeSet<Date>,
}

impl Default for Calendar {
    /// Saturdays and Sundays off.
    fn default() -> Self {
        Calendar {
            weekdays_off: vec![Weekday::Saturday, Weekday::Sunday],
            days_off: BTreeSet::new(),
        }
    }
}

impl Calendar {
    /// Whether the crew works on a day.
    pub fn works(&self, day: Date) -> bool {
        !self.weekdays_off.contains(&day.weekday()) && !self.days_off.contains(&day)
    }

    /// The first working day on or after a day.
    ///
    /// # Errors
    /// No working day within ten years.
    pub fn next(&self, from: Date) -> Result<Date, ProgrammeError> {
        const REACH: usize = 3660;
        let mut day = from;
        for _ in 0..REACH {
            if self.works(day) {
                return Ok(day);
            }
            day = day
                .tomorrow()
                .map_err(|_| ProgrammeError::NoWorkingDay { from })?;
        }
        Err(ProgrammeError::NoWorkingDay { from })
    }
}

/// An activity with its dates.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Dated {
    /// Short name.
    pub id: String,
    /// For pages.
    pub name: String,
    /// First day.
    pub first: Date,
    /// Last day, itself included. The day before `first` for something that takes no time.
    pub last: Date,
    /// Days within that are not worked (weekends, holidays, weather).
    pub days_off: u32,
    /// Whether it runs on days off too.
    pub wait: bool,
}

/// A moment: a day and the part of it that is used up (0 to 1).
#[derive(Debug, Clone, Copy, PartialEq, PartialOrd)]
struct Moment {
    day: Date,
    used: f64,
}

/// Parts of a day below this are rounding.
const SLIVER: f64 = 1e-6;

impl Moment {
    /// So many days on, days off counted like others.
    fn later(self, days: f64) -> Result<Moment, jiff::Error> {
        let at = self.used + days.clamp(0.0, 11_000.0);
        let whole = (at + SLIVER).floor();
        let used = (at - whole).max(0.0);
        let day = self
            .day
            .checked_add(jiff::Span::new().try_days(whole as i64)?)?;
        Ok(Moment {
            day,
            used: if used < SLIVER { 0.0 } else { used },
        })
    }

    /// The last day that it reaches into.
    fn last_day(self) -> Result<Date, jiff::Error> {
        if self.used > 0.0 {
            Ok(self.day)
        } else {
            self.day.yesterday()
        }
    }
}

/// Puts the activities on the calendar, each as early as it can be.
///
/// Work runs on working days only, and shares a day with what follows it at once, unless that
/// begins on a fresh morning. Waits and lags run on days off too.
///
/// # Errors
/// As [`programme`], and a calendar without working days.
pub fn dates(
    activities: &[Activity],
    start: Date,
    calendar: &Calendar,
) -> Result<Vec<Dated>, ProgrammeError> {
    let Network { graph, order } = network(activities)?;
    let beyond = |_| ProgrammeError::NoWorkingDay { from: start };
    let mut free = vec![
        Moment {
            day: start,
            used: 0.0
        };
        graph.node_count()
    ];
    let mut out: Vec<Option<Dated>> = vec![None; graph.node_count()];
    for n in order {
        let a = graph[n];
        let mut from = Moment {
            day: start,
            used: 0.0,
        };
        for e in graph.edges_directed(n, Direction::Incoming) {
            let ready = free[e.source().index()]
                .later(*e.weight())
                .map_err(beyond)?;
            if ready > from {
                from = ready;
            }
        }
        if let Some(day) = a.not_before.filter(|d| *d > from.day) {
            from = Moment { day, used: 0.0 };
        }
        let needed = SpreadRule::Pert.moments(a.days).mean;
        let (first, until, days_off) = if a.wait {
            (from.day, from.later(needed).map_err(beyond)?, 0)
        } else {
            work(a, from, needed, calendar)?
        };
        free[n.index()] = until;
        out[n.index()] = Some(Dated {
            id: a.id.clone(),
            name: a.name.clone(),
            first,
            last: until.last_day().map_err(beyond)?,
            days_off,
            wait: a.wait,
        });
    }
    Ok(out.into_iter().flatten().collect())
}

/// First day, end and days off of a piece of work of so many working days.
fn work(
    a: &Activity,
    from: Moment,
    needed: f64,
    calendar: &Calendar,
) -> Result<(Date, Moment, u32), ProgrammeError> {
    let beyond = |_| ProgrammeError::NoWorkingDay { from: from.day };
    let mut at = from;
    if a.fresh && at.used > 0.0 {
        at = Moment {
            day: at.day.tomorrow().map_err(beyond)?,
            used: 0.0,
        };
    }
    if !calendar.works(at.day) {
        at = Moment {
            day: calendar.next(at.day)?,
            used: 0.0,
        };
    }
    let first = at.day;
    let (mut left, mut off) = (needed.min(11_000.0), 0);
    while left > SLIVER {
        if !calendar.works(at.day) {
            let next = calendar.next(at.day)?;
            off += days_between(at.day, next);
            at.day = next;
        }
        let part = left.min(1.0 - at.used);
        left -= part;
        at = at.later(part).map_err(beyond)?;
    }
    Ok((first, at, off))
}

fn days_between(from: Date, to: Date) -> u32 {
    from.until(to).map_or(0, |s| s.get_days().unsigned_abs())
}

/// A calendar file (RFC 5545) with one all-day entry an activity.
///
/// `stamp` is the day the plan was made (the record's date, so that the same plan always gives the
/// same file), `job` names it, `made_with` says by what version and rules. Waits are marked as free time, work as busy.
pub fn calendar_file(entries: &[Dated], job: &str, made_with: &str, stamp: Date) -> String {
    let mut out = String::new();
    let mut line = |text: &str| fold(text, &mut out);
    line("BEGIN:VCALENDAR");
    line("VERSION:2.0");
    line(&format!("PRODID:-//ringtrue//{}//EN", escape(made_with)));
    line("CALSCALE:GREGORIAN");
    for e in entries.iter().filter(|e| e.last >= e.first) {
        let Ok(end) = e.last.tomorrow() else { continue };
        line("BEGIN:VEVENT");
        line(&format!(
            "UID:{}-{}@ringtrue.invalid",
            uid(&e.id),
            day(e.first)
        ));
        line(&format!("DTSTAMP:{}T000000Z", day(stamp)));
        line(&format!("DTSTART;VALUE=DATE:{}", day(e.first)));
        line(&format!("DTEND;VALUE=DATE:{}", day(end)));
        line(&format!("SUMMARY:{}", escape(&e.name)));
        line(&format!("DESCRIPTION:{}", escape(job)));
        line(if e.wait {
            "TRANSP:TRANSPARENT"
        } else {
            "TRANSP:OPAQUE"
        });
        line("END:VEVENT");
    }
    line("END:VCALENDAR");
    out
}

fn day(d: Date) -> String {
    format!("{:04}{:02}{:02}", d.year(), d.month(), d.day())
}

/// Escapes a text value: backslash, semicolon, comma and line ends. Other control marks are dropped.
fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.replace("\r\n", "\n").chars() {
        match c {
            '\\' | ';' | ',' => {
                out.push('\\');
                out.push(c);
            }
            '\n' | '\r' => out.push_str("\\n"),
            '\t' => out.push(' '),
            c if c.is_control() => {}
            c => out.push(c),
        }
    }
    out
}

fn uid(id: &str) -> String {
    let mut out = String::new();
    for c in id.chars() {
        if c.is_ascii_alphanumeric() || c == '-' || c == '_' {
            out.push(c);
        } else {
            let _ = write!(out, "x{:x}", u32::from(c));
        }
    }
    out
}

/// Writes a content line of at most 75 octets; a continuation begins with a space.
fn fold(text: &str, out: &mut String) {
    const OCTETS: usize = 75;
    let mut room = OCTETS;
    for c in text.chars() {
        if c.len_utf8() > room {
            out.push_str("\r\n ");
            room = OCTETS - 1;
        }
        out.push(c);
        room -= c.len_utf8();
    }
    out.push_str("\r\n");
}

/// An area that is closed while it is worked on, and what it leads to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Way {
    /// Short name of the area.
    pub area: String,
    /// Areas it touches.
    pub touches: Vec<String>,
    /// Doors that open on to it.
    pub doors: Vec<String>,
    /// Whether it can be walked on to from off the slab (street, lawn, drive).
    pub from_outside: bool,
}

/// Areas to work on together, and the doors that stay reachable meanwhile.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Phase {
    /// Areas closed in this phase.
    pub areas: Vec<String>,
    /// Doors that can still be reached.
    pub reachable: Vec<String>,
}

/// Splits the areas to be worked on into as few phases as a simple pass finds, such that a door
/// stays reachable in each. Where an area on its own cuts off every door, it stands alone in a
/// phase without reachable doors: it must be worked in halves, or a way laid over it.
pub fn phases(ways: &[Way], work_on: &[String]) -> Vec<Phase> {
    let has_doors = ways.iter().any(|w| !w.doors.is_empty());
    let mut phases: Vec<Vec<String>> = Vec::new();
    for area in work_on {
        let room = phases.iter_mut().find(|p| {
            let mut with = (*p).clone();
            with.push(area.clone());
            !has_doors || !reachable(ways, &with).is_empty()
        });
        match room {
            Some(p) => p.push(area.clone()),
            // It begins a phase; one that cuts every door off is joined by no other.
            None => phases.push(vec![area.clone()]),
        }
    }
    phases
        .into_iter()
        .map(|areas| Phase {
            reachable: reachable(ways, &areas),
            areas,
        })
        .collect()
}

/// Doors that can be reached from outside over areas that are not closed.
pub(crate) fn reachable(ways: &[Way], closed: &[String]) -> Vec<String> {
    let seen = reached(ways, closed);
    ways.iter()
        .filter(|w| seen.contains(&w.area))
        .flat_map(|w| w.doors.iter().cloned())
        .collect()
}

/// Areas that can be reached from outside over areas that are not closed.
pub(crate) fn reached(ways: &[Way], closed: &[String]) -> BTreeSet<String> {
    spread(ways, closed, |w| w.from_outside)
}

/// Areas from which a door can be reached over areas that are not closed.
pub(crate) fn lead_to_doors(ways: &[Way], closed: &[String]) -> BTreeSet<String> {
    spread(ways, closed, |w| !w.doors.is_empty())
}

/// Everything joined to the areas that hold to `from`, over areas that are not closed.
fn spread(ways: &[Way], closed: &[String], from: impl Fn(&Way) -> bool) -> BTreeSet<String> {
    let open = |w: &&Way| !closed.contains(&w.area);
    let mut seen: BTreeSet<String> = BTreeSet::new();
    let mut next: Vec<&Way> = ways.iter().filter(open).filter(|w| from(w)).collect();
    while let Some(w) = next.pop() {
        if seen.insert(w.area.clone()) {
            next.extend(
                ways.iter()
                    .filter(open)
                    .filter(|o| w.touches.contains(&o.area) || o.touches.contains(&w.area)),
            );
        }
    }
    seen
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    fn work(id: &str, days: f64, after: &[(&str, f64)]) -> Activity {
        Activity {
            id: id.into(),
            name: id.into(),
            days: Estimate::exact(days),
            wait: false,
            fresh: false,
            not_before: None,
            after: after
                .iter()
                .map(|(id, lag)| Link {
                    id: (*id).into(),
                    lag_days: *lag,
                })
                .collect(),
        }
    }

    #[test]
    fn rings_repeats_and_strangers_are_named() {
        let ring = [work("a", 1.0, &[("b", 0.0)]), work("b", 1.0, &[("a", 0.0)])];
        assert_eq!(
            programme(&ring),
            Err(ProgrammeError::Ring {
                ids: vec!["a".into(), "b".into()]
            })
        );
        let own = [work("a", 1.0, &[("a", 0.0)])];
        assert_eq!(
            programme(&own),
            Err(ProgrammeError::Ring {
                ids: vec!["a".into()]
            })
        );
        assert!(matches!(
            programme(&[work("a", 1.0, &[("z", 0.0)])]),
            Err(ProgrammeError::Unknown { .. })
        ));
        assert!(matches!(
            programme(&[work("a", 1.0, &[]), work("a", 1.0, &[])]),
            Err(ProgrammeError::Repeated { .. })
        ));
        assert!(matches!(
            programme(&[work("a", -1.0, &[])]),
            Err(ProgrammeError::Days { .. })
        ));
        assert!(programme(&[]).unwrap().critical.is_empty());
    }

    #[test]
    fn work_skips_days_off_and_curing_does_not() {
        // 2026-06-05 is a Friday. Two days of work: Friday and Monday. Cure 3 days: Tuesday to
        // Thursday. Then one day of sealing, Friday the 12th; with that day off, Monday the 15th.
        let cure = Activity {
            wait: true,
            ..work("cure", 3.0, &[("lay", 0.0)])
        };
        let acts = [
            work("lay", 2.0, &[]),
            cure,
            work("seal", 1.0, &[("cure", 0.0)]),
        ];
        let mut calendar = Calendar::default();
        let d = dates(&acts, date(2026, 6, 5), &calendar).unwrap();
        assert_eq!(
            (d[0].first, d[0].last, d[0].days_off),
            (date(2026, 6, 5), date(2026, 6, 8), 2)
        );
        assert_eq!(
            (d[1].first, d[1].last),
            (date(2026, 6, 9), date(2026, 6, 11))
        );
        assert_eq!(d[2].first, date(2026, 6, 12));
        calendar.days_off.insert(date(2026, 6, 12));
        assert_eq!(
            dates(&acts, date(2026, 6, 5), &calendar).unwrap()[2].first,
            date(2026, 6, 15)
        );
        let never = Calendar {
            weekdays_off: [1, 2, 3, 4, 5, 6, 7]
                .map(|i| Weekday::from_monday_one_offset(i).unwrap())
                .to_vec(),
            ..Calendar::default()
        };
        assert!(matches!(
            dates(&acts, date(2026, 6, 5), &never),
            Err(ProgrammeError::NoWorkingDay { .. })
        ));
    }

    #[test]
    fn short_works_share_a_day_and_a_pour_begins_in_the_morning() {
        // Monday 2026-06-01: half a day and a quarter share it; the pour waits for Tuesday.
        let pour = Activity {
            fresh: true,
            ..work("pour", 0.5, &[("b", 0.0)])
        };
        let acts = [work("a", 0.5, &[]), work("b", 0.25, &[("a", 0.0)]), pour];
        let d = dates(&acts, date(2026, 6, 1), &Calendar::default()).unwrap();
        assert_eq!(d[1].first, date(2026, 6, 1));
        assert_eq!(
            (d[2].first, d[2].last),
            (date(2026, 6, 2), date(2026, 6, 2))
        );
    }

    #[test]
    fn calendar_lines_are_escaped_and_folded() {
        let entry = Dated {
            id: "lay 1".into(),
            name: format!("Lay; north, {}", "ü".repeat(60)),
            first: date(2026, 6, 5),
            last: date(2026, 6, 8),
            days_off: 2,
            wait: false,
        };
        let text = calendar_file(
            &[entry],
            "line one\nline two\\",
            "by hand",
            date(2026, 6, 1),
        );
        assert!(text.lines().all(|l| l.len() <= 75), "{text}");
        assert!(text.contains("DTSTART;VALUE=DATE:20260605\r\nDTEND;VALUE=DATE:20260609\r\n"));
        assert!(
            text.contains("SUMMARY:Lay\\; north\\, ü")
                && text.contains("DESCRIPTION:line one\\nline two\\\\\r\n")
        );
        let unfolded = text.replace("\r\n ", "");
        assert!(unfolded.contains(&"ü".repeat(60)), "{text}");
        assert!(!text.replace("\r\n", "").contains(['\r', '\n']));
    }

    #[test]
    fn a_door_stays_reachable_in_every_phase() {
        let way = |area: &str, touches: &[&str], doors: &[&str], from_outside| Way {
            area: area.into(),
            touches: touches.iter().map(|s| (*s).into()).collect(),
            doors: doors.iter().map(|s| (*s).into()).collect(),
            from_outside,
        };
        let ways = [
            way("walk", &["porch"], &[], true),
            way("porch", &["walk"], &["front"], false),
            way("patio", &[], &["back"], true),
        ];
        let all: Vec<String> = ["walk", "porch", "patio"].map(String::from).to_vec();
        let p = phases(&ways, &all);
        assert_eq!(p.len(), 2);
        assert_eq!(
            (p[0].areas.as_slice(), p[0].reachable.as_slice()),
            (&all[..2], &["back".to_owned()][..])
        );
        assert_eq!(p[1].reachable, ["front"]);
        // With the patio door walled up the walk alone cuts the house off.
        let p = phases(&ways[..2], &all[..2]);
        assert!(p.len() == 2 && p.iter().all(|p| p.reachable.is_empty()));
    }

    #[test]
    fn areas_lead_to_doors_over_what_is_open() {
        let way = |area: &str, touches: &[&str], doors: &[&str]| Way {
            area: area.into(),
            touches: touches.iter().map(|t| (*t).into()).collect(),
            doors: doors.iter().map(|d| (*d).into()).collect(),
            from_outside: false,
        };
        // a, b and c in a row, the door at c; each names one neighbour at most.
        let ways = [
            way("a", &["b"], &[]),
            way("b", &[], &[]),
            way("c", &["b"], &["door"]),
        ];
        let lead = |closed: &[String]| lead_to_doors(&ways, closed).into_iter().collect::<Vec<_>>();
        assert_eq!(lead(&[]), ["a", "b", "c"]);
        assert_eq!(lead(&["b".into()]), ["c"]);
        assert_eq!(lead(&["c".into()]), [""; 0]);
    }
}
