//! The clock: batches, people, mixers, haul, spreading and finishing as a simulation of discrete
//! events, and whether it all fits the working time of the mix.
//!
//! A batch is mixed by a person at a mixer, carried (it stays in the mixer until someone takes it),
//! spread by everyone who is free to, and finished. A person who has several roles takes the task furthest along first, because
//! what lies on the slab will not wait. Times are whole seconds from the first water.

use std::cmp::Reverse;
use std::collections::{BinaryHeap, VecDeque};

use serde::Serialize;
use thiserror::Error;

/// What a person can do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Role {
    /// Runs a mixer.
    Mix,
    /// Carries batches.
    Haul,
    /// Spreads them.
    Spread,
    /// Finishes behind.
    Finish,
}

impl Role {
    /// Every role, first to last in the life of a batch.
    pub const ALL: [Role; 4] = [Role::Mix, Role::Haul, Role::Spread, Role::Finish];

    /// For pages.
    pub fn name(self) -> &'static str {
        match self {
            Role::Mix => "mixing",
            Role::Haul => "carrying",
            Role::Spread => "spreading",
            Role::Finish => "finishing",
        }
    }
}

/// A person of the crew.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Person {
    /// What he is called on the sheet.
    pub name: String,
    /// What he does.
    pub roles: Vec<Role>,
}

/// A batch to be placed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Batch {
    /// Bags in it.
    pub bags: u64,
    /// Surface it covers, m².
    pub area_m2: f64,
}

/// The crew and its pace.
#[derive(Debug, Clone, PartialEq)]
pub struct Pace {
    /// People, in any order.
    pub people: Vec<Person>,
    /// Mixers that can run at once.
    pub mixers: usize,
    /// Minutes to mix a batch, from first water to ready.
    pub mix_min: f64,
    /// Minutes to carry a batch to its place; 0 when it is mixed beside it.
    pub haul_min: f64,
    /// Minutes back.
    pub back_min: f64,
    /// Surface that one person spreads in an hour, m².
    pub spread_m2_h: f64,
    /// Surface that one person finishes in an hour, m²; infinite when spreading finishes it.
    pub finish_m2_h: f64,
    /// Batches that may be started before spreading takes them up. Too few starves the spreaders,
    /// too many lets batches grow old: see [`best_ahead`].
    pub ahead: usize,
}

/// Why the clock cannot run.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum ClockError {
    /// Nobody has a role that is needed.
    #[error("nobody is there for {}", role.name())]
    Nobody {
        /// The role.
        role: Role,
    },
    /// A figure that must be above zero is not.
    #[error("{what} must be more than zero, not {value}")]
    NotPositive {
        /// What it is, in plain words.
        what: &'static str,
        /// The value.
        value: f64,
    },
    /// More batches or people than a day can hold.
    #[error("{count} {what} are too many for one run")]
    TooMany {
        /// Batches or people.
        what: &'static str,
        /// How many.
        count: usize,
    },
}

/// What somebody did, from when to when.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Task {
    /// Index of the person.
    pub person: usize,
    /// In which role.
    pub role: Role,
    /// Index of the batch.
    pub batch: usize,
    /// Start, seconds from the first water.
    pub from_s: u64,
    /// End, the way back of a carrier included.
    pub to_s: u64,
}

/// The life of a batch, seconds from the first water of the run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
pub struct BatchTimes {
    /// First water: its working time begins.
    pub water_s: u64,
    /// Ready mixed.
    pub mixed_s: u64,
    /// At its place.
    pub arrived_s: u64,
    /// Spreading begins.
    pub spread_from_s: u64,
    /// Spread.
    pub spread_to_s: u64,
    /// Finishing begins.
    pub finish_from_s: u64,
    /// Finished.
    pub finish_to_s: u64,
}

/// A simulated run.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Run {
    /// Each batch, in order.
    pub batches: Vec<BatchTimes>,
    /// Who did what, in order of time.
    pub tasks: Vec<Task>,
    /// When the last batch is finished.
    pub end_s: u64,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Event {
    Free(usize),
    Mixed(usize),
    Arrived(usize),
    Spread(usize),
    Finished(usize),
}

fn seconds(minutes: f64) -> u64 {
    (minutes * 60.0).round().clamp(0.0, 1e12) as u64
}

struct State<'a> {
    pace: &'a Pace,
    batches: &'a [Batch],
    now: u64,
    serial: u64,
    heap: BinaryHeap<Reverse<(u64, u64, Event)>>,
    free: Vec<bool>,
    mixers_free: usize,
    next_mix: usize,
    not_spread: usize,
    to_haul: VecDeque<usize>,
    to_spread: VecDeque<usize>,
    to_finish: VecDeque<usize>,
    run: Run,
}

impl State<'_> {
    fn at(&mut self, time: u64, event: Event) {
        self.serial += 1;
        self.heap.push(Reverse((time, self.serial, event)));
    }

    /// The free person for a role who has the fewest others.
    fn someone(&self, role: Role) -> Option<usize> {
        self.pace
            .people
            .iter()
            .enumerate()
            .filter(|(i, p)| self.free[*i] && p.roles.contains(&role))
            .min_by_key(|(i, p)| (p.roles.len(), *i))
            .map(|(i, _)| i)
    }

    fn busy(&mut self, person: usize, role: Role, batch: usize, minutes: f64) -> u64 {
        let to_s = self.now + seconds(minutes);
        self.free[person] = false;
        self.at(to_s, Event::Free(person));
        self.run.tasks.push(Task {
            person,
            role,
            batch,
            from_s: self.now,
            to_s,
        });
        to_s
    }

    /// Gives out every task that can begin now.
    fn dispatch(&mut self) {
        loop {
            let started =
                self.finish_one() || self.spread_one() || self.haul_one() || self.mix_one();
            if !started {
                return;
            }
        }
    }

    fn finish_one(&mut self) -> bool {
        let Some(b) = self.to_finish.front().copied() else {
            return false;
        };
        let Some(p) = self.someone(Role::Finish) else {
            return false;
        };
        self.to_finish.pop_front();
        self.run.batches[b].finish_from_s = self.now;
        let end = self.busy(
            p,
            Role::Finish,
            b,
            60.0 * self.batches[b].area_m2 / self.pace.finish_m2_h,
        );
        self.at(end, Event::Finished(b));
        true
    }

    fn spread_one(&mut self) -> bool {
        let Some(b) = self.to_spread.front().copied() else {
            return false;
        };
        // Whoever is free to spread works on the batch together.
        let team: Vec<usize> = (0..self.pace.people.len())
            .filter(|i| self.free[*i] && self.pace.people[*i].roles.contains(&Role::Spread))
            .collect();
        if team.is_empty() {
            return false;
        }
        self.to_spread.pop_front();
        self.not_spread -= 1;
        self.run.batches[b].spread_from_s = self.now;
        let rate = self.pace.spread_m2_h * team.len() as f64;
        let minutes = 60.0 * self.batches[b].area_m2 / rate;
        for p in team {
            self.busy(p, Role::Spread, b, minutes);
        }
        self.at(self.now + seconds(minutes), Event::Spread(b));
        true
    }

    fn haul_one(&mut self) -> bool {
        let Some(b) = self.to_haul.front().copied() else {
            return false;
        };
        let Some(p) = self.someone(Role::Haul) else {
            return false;
        };
        self.to_haul.pop_front();
        self.mixers_free += 1;
        self.busy(p, Role::Haul, b, self.pace.haul_min + self.pace.back_min);
        self.at(self.now + seconds(self.pace.haul_min), Event::Arrived(b));
        true
    }

    fn mix_one(&mut self) -> bool {
        let b = self.next_mix;
        if b >= self.batches.len() || self.mixers_free == 0 || self.not_spread >= self.pace.ahead {
            return false;
        }
        let Some(p) = self.someone(Role::Mix) else {
            return false;
        };
        self.next_mix += 1;
        self.not_spread += 1;
        self.mixers_free -= 1;
        self.run.batches[b].water_s = self.now;
        let end = self.busy(p, Role::Mix, b, self.pace.mix_min);
        self.at(end, Event::Mixed(b));
        true
    }

    fn happen(&mut self, event: Event) {
        match event {
            Event::Free(p) => self.free[p] = true,
            Event::Mixed(b) => {
                self.run.batches[b].mixed_s = self.now;
                if self.pace.haul_min > 0.0 {
                    self.to_haul.push_back(b);
                } else {
                    self.mixers_free += 1;
                    self.happen(Event::Arrived(b));
                }
            }
            Event::Arrived(b) => {
                self.run.batches[b].arrived_s = self.now;
                self.to_spread.push_back(b);
            }
            Event::Spread(b) => {
                self.run.batches[b].spread_to_s = self.now;
                if self.pace.finish_m2_h.is_finite() {
                    self.to_finish.push_back(b);
                } else {
                    self.run.batches[b].finish_from_s = self.now;
                    self.happen(Event::Finished(b));
                }
            }
            Event::Finished(b) => {
                self.run.batches[b].finish_to_s = self.now;
                self.run.end_s = self.run.end_s.max(self.now);
            }
        }
    }
}

fn check(batches: &[Batch], pace: &Pace) -> Result<(), ClockError> {
    const MOST_BATCHES: usize = 5000;
    const MOST_PEOPLE: usize = 200;
    if batches.len() > MOST_BATCHES {
        return Err(ClockError::TooMany {
            what: "batches",
            count: batches.len(),
        });
    }
    if pace.people.len() > MOST_PEOPLE {
        return Err(ClockError::TooMany {
            what: "people",
            count: pace.people.len(),
        });
    }
    let positive = [
        ("the mixing time", pace.mix_min),
        ("the rate of spreading", pace.spread_m2_h),
        ("the rate of finishing", pace.finish_m2_h),
        ("the number of mixers", pace.mixers as f64),
        ("the number of batches started ahead", pace.ahead as f64),
    ];
    for (what, value) in positive {
        if value.is_nan() || value <= 0.0 {
            return Err(ClockError::NotPositive { what, value });
        }
    }
    for (what, value) in [
        ("the mixing time", pace.mix_min),
        ("the time to carry", pace.haul_min),
        ("the way back", pace.back_min),
    ] {
        if !(value.is_finite() && value >= 0.0) {
            return Err(ClockError::NotPositive { what, value });
        }
    }
    if let Some(b) = batches
        .iter()
        .find(|b| !(b.area_m2 > 0.0 && b.area_m2.is_finite()))
    {
        return Err(ClockError::NotPositive {
            what: "the surface of a batch",
            value: b.area_m2,
        });
    }
    for role in Role::ALL {
        let needed = match role {
            Role::Haul => pace.haul_min > 0.0,
            Role::Finish => pace.finish_m2_h.is_finite(),
            _ => true,
        };
        if needed && !batches.is_empty() && !pace.people.iter().any(|p| p.roles.contains(&role)) {
            return Err(ClockError::Nobody { role });
        }
    }
    Ok(())
}

/// Runs the clock.
///
/// # Errors
/// A role that nobody has, a rate or time that makes no sense, more batches than a day holds.
pub fn simulate(batches: &[Batch], pace: &Pace) -> Result<Run, ClockError> {
    check(batches, pace)?;
    let mut state = State {
        pace,
        batches,
        now: 0,
        serial: 0,
        heap: BinaryHeap::new(),
        free: vec![true; pace.people.len()],
        mixers_free: pace.mixers,
        next_mix: 0,
        not_spread: 0,
        to_haul: VecDeque::new(),
        to_spread: VecDeque::new(),
        to_finish: VecDeque::new(),
        run: Run {
            batches: vec![BatchTimes::default(); batches.len()],
            tasks: Vec::new(),
            end_s: 0,
        },
    };
    state.dispatch();
    while let Some(Reverse((time, _, event))) = state.heap.pop() {
        state.now = time;
        state.happen(event);
        // Everything that happens at the same moment happens before anyone takes a new task.
        if state.heap.peek().is_none_or(|Reverse((t, _, _))| *t > time) {
            state.dispatch();
        }
    }
    Ok(state.run)
}

/// The fewest batches started ahead that end the run as early as any number does.
///
/// # Errors
/// As [`simulate`].
pub fn best_ahead(batches: &[Batch], pace: &Pace) -> Result<usize, ClockError> {
    let most = pace.mixers.saturating_add(pace.people.len()).clamp(1, 64);
    let end = |ahead| {
        simulate(
            batches,
            &Pace {
                ahead,
                ..pace.clone()
            },
        )
        .map(|r| r.end_s)
    };
    let shortest = end(most)?;
    for ahead in 1..most {
        if end(ahead)? <= shortest {
            return Ok(ahead);
        }
    }
    Ok(most)
}

/// Roles for a crew of some size, by the custom of the trade: the first spreads, the second mixes,
/// the third finishes, the fourth carries, further people take turns at spreading, mixing,
/// finishing and carrying. Whoever there are too few for, the others do as well.
pub fn usual_roles(people: usize) -> Vec<Person> {
    const ORDER: [Role; 4] = [Role::Spread, Role::Mix, Role::Finish, Role::Haul];
    let mut crew: Vec<Person> = (0..people)
        .map(|i| Person {
            name: format!("person {}", i + 1),
            roles: vec![ORDER[i % ORDER.len()]],
        })
        .collect();
    let mut share = |who: usize, role: Role| {
        if let Some(p) = crew.get_mut(who).filter(|p| !p.roles.contains(&role)) {
            p.roles.push(role);
        }
    };
    match people {
        1 => [Role::Mix, Role::Haul, Role::Finish]
            .into_iter()
            .for_each(|r| share(0, r)),
        2 => {
            share(0, Role::Finish);
            share(1, Role::Haul);
        }
        3 => share(1, Role::Haul),
        _ => {}
    }
    crew
}

/// What goes wrong first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum BreakKind {
    /// A batch is spread when its working time is over.
    TooOldToSpread,
    /// A batch is finished when its working time is over.
    TooOldToFinish,
    /// The edge of a batch is stiff before its neighbour meets it.
    StiffEdge,
}

/// Something that goes wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Break {
    /// What.
    pub kind: BreakKind,
    /// Index of the batch.
    pub batch: usize,
    /// When, seconds from the first water.
    pub at_s: u64,
    /// By how many seconds the working time is overrun.
    pub over_s: u64,
}

/// Everything in a run that overruns the working time, in order of time.
///
/// `stops` holds the indices of batches that begin a new bay: their edge to the batch before is a
/// joint and need not be wet.
pub fn breaks(run: &Run, working_min: f64, stops: &[usize]) -> Vec<Break> {
    let working = seconds(working_min);
    let mut all = Vec::new();
    let mut hold = |kind, batch, at_s: u64, since: u64| {
        let age = at_s.saturating_sub(since);
        if age > working {
            all.push(Break {
                kind,
                batch,
                at_s,
                over_s: age - working,
            });
        }
    };
    for (i, b) in run.batches.iter().enumerate() {
        hold(BreakKind::TooOldToSpread, i, b.spread_to_s, b.water_s);
        hold(BreakKind::TooOldToFinish, i, b.finish_to_s, b.water_s);
        if let Some(next) = run.batches.get(i + 1).filter(|_| !stops.contains(&(i + 1))) {
            hold(BreakKind::StiffEdge, i, next.spread_from_s, b.water_s);
        }
    }
    all.sort_by_key(|b| (b.at_s, b.batch));
    all
}

/// The largest bay whose every edge stays wet, in whatever order it is placed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LargestBay {
    /// Batches in it.
    pub batches: usize,
    /// Its surface, m².
    pub area_m2: f64,
}

/// Most batches in a row of which the last begins to be spread before the first has used up its
/// working time, anywhere in the run; and the least surface of that many batches.
///
/// Zero batches when even a single one grows too old.
pub fn largest_bay(run: &Run, batches: &[Batch], working_min: f64) -> LargestBay {
    let working = seconds(working_min);
    let n = run.batches.len();
    let fits = |k: usize| {
        run.batches.windows(k).all(|w| match (w.first(), w.last()) {
            (Some(first), Some(last)) => {
                last.spread_from_s.saturating_sub(first.water_s) <= working
            }
            _ => true,
        })
    };
    let most = (1..=n).take_while(|k| fits(*k)).last().unwrap_or(0);
    let area_m2 = if most == 0 {
        0.0
    } else {
        batches
            .windows(most)
            .map(|w| w.iter().map(|b| b.area_m2).sum())
            .fold(f64::INFINITY, f64::min)
    };
    LargestBay {
        batches: most,
        area_m2: if area_m2.is_finite() { area_m2 } else { 0.0 },
    }
}

/// A panel between joints.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PanelToPlace {
    /// Name on the map.
    pub name: String,
    /// Surface, m².
    pub area_m2: f64,
}

/// Panels placed in one go.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Bay {
    /// Names of its panels, in order.
    pub panels: Vec<String>,
    /// Surface, m².
    pub area_m2: f64,
    /// Whether it can be placed with wet edges.
    pub fits: bool,
}

/// Groups panels, in the order of placing, into bays that end at joints and stay wet-edge safe.
/// A panel larger than the largest bay stands alone and does not fit.
pub fn stop_lines(panels: &[PanelToPlace], largest_m2: f64) -> Vec<Bay> {
    const ROUNDING: f64 = 1e-9;
    let mut bays: Vec<Bay> = Vec::new();
    for p in panels {
        let fits = p.area_m2 <= largest_m2 + ROUNDING;
        match bays
            .last_mut()
            .filter(|b| b.area_m2 + p.area_m2 <= largest_m2 + ROUNDING)
        {
            Some(bay) => {
                bay.panels.push(p.name.clone());
                bay.area_m2 += p.area_m2;
            }
            None => bays.push(Bay {
                panels: vec![p.name.clone()],
                area_m2: p.area_m2,
                fits,
            }),
        }
    }
    bays
}

/// Batches that cover a surface bay by bay, each `area_m2` a full batch; the last of a bay takes
/// the rest. Also gives the index of the first batch of every bay but the first.
pub fn batches_by_bay(
    bays: &[Bay],
    bags: u64,
    area_m2: f64,
) -> Result<(Vec<Batch>, Vec<usize>), ClockError> {
    const MOST_BATCHES: f64 = 5000.0;
    if !(area_m2 > 0.0 && area_m2.is_finite()) {
        return Err(ClockError::NotPositive {
            what: "the surface of a batch",
            value: area_m2,
        });
    }
    let total: f64 = bays.iter().map(|b| b.area_m2.max(0.0)).sum();
    let count = total / area_m2;
    if count.is_nan() || count > MOST_BATCHES {
        return Err(ClockError::TooMany {
            what: "batches",
            count: count as usize,
        });
    }
    let (mut all, mut stops) = (Vec::new(), Vec::new());
    for bay in bays {
        if !all.is_empty() {
            stops.push(all.len());
        }
        let mut rest = bay.area_m2;
        while rest > area_m2 * 1e-6 {
            let covers = rest.min(area_m2);
            // Bags are whole: the last batch of a bay takes as many as its share needs.
            let share = ((covers / area_m2) * bags as f64 - 1e-9).ceil().max(1.0);
            all.push(Batch {
                bags: (share as u64).min(bags.max(1)),
                area_m2: covers,
            });
            rest -= covers;
        }
    }
    Ok((all, stops))
}

/// When a batch may be patterned.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct PatternTime {
    /// Index of the batch.
    pub batch: usize,
    /// Stiff enough from here, seconds from the first water of the run.
    pub opens_s: u64,
    /// Too stiff from here.
    pub closes_s: u64,
    /// When it is its turn.
    pub from_s: u64,
    /// When it is done.
    pub to_s: u64,
}

impl PatternTime {
    /// Whether it is done in time.
    pub fn in_time(&self) -> bool {
        self.to_s <= self.closes_s
    }
}

/// Patterning in the order of placing: a batch is ready from `opens_min` to `closes_min` after its
/// water and after it is finished; `rate_m2_h` is the pace of those who pattern.
pub fn patterning(
    run: &Run,
    batches: &[Batch],
    opens_min: f64,
    closes_min: f64,
    rate_m2_h: f64,
) -> Vec<PatternTime> {
    let mut free = 0u64;
    run.batches
        .iter()
        .zip(batches)
        .enumerate()
        .map(|(i, (t, b))| {
            let opens_s = (t.water_s + seconds(opens_min)).max(t.finish_to_s);
            let closes_s = t.water_s + seconds(closes_min);
            let from_s = opens_s.max(free);
            let takes = if rate_m2_h > 0.0 {
                seconds(60.0 * b.area_m2 / rate_m2_h)
            } else {
                u64::MAX / 4
            };
            free = from_s.saturating_add(takes);
            PatternTime {
                batch: i,
                opens_s,
                closes_s,
                from_s,
                to_s: free,
            }
        })
        .collect()
}

/// What happens when one person is missing.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OneFewer {
    /// Who is missing.
    pub person: String,
    /// What he would have done.
    pub roles: Vec<Role>,
    /// Who takes over what nobody would do otherwise.
    pub takes_over: Vec<(String, Role)>,
    /// The role that nobody can take over; the run cannot begin.
    pub nobody_for: Option<Role>,
    /// What goes wrong first, if anything.
    pub first: Option<Break>,
    /// The largest bay then, m².
    pub largest_m2: f64,
    /// When the run ends then, seconds.
    pub end_s: Option<u64>,
}

/// Runs the clock once without each person. What only he did is taken over by whoever ends the
/// run earliest with it.
///
/// # Errors
/// As [`simulate`], but a role left empty is a result and no error.
pub fn one_fewer(
    batches: &[Batch],
    pace: &Pace,
    working_min: f64,
    stops: &[usize],
) -> Result<Vec<OneFewer>, ClockError> {
    (0..pace.people.len())
        .map(|i| {
            let mut fewer = pace.clone();
            let missing = fewer.people.remove(i);
            let mut out = OneFewer {
                person: missing.name,
                roles: missing.roles,
                takes_over: Vec::new(),
                nobody_for: None,
                first: None,
                largest_m2: 0.0,
                end_s: None,
            };
            // Each pass gives one empty role away; there are no more passes than roles.
            for _ in 0..=Role::ALL.len() {
                match simulate(batches, &fewer) {
                    Ok(run) => {
                        // A smaller crew may do better with fewer or more batches ahead.
                        let ahead = best_ahead(batches, &fewer)?;
                        let run = if ahead == fewer.ahead {
                            run
                        } else {
                            fewer.ahead = ahead;
                            simulate(batches, &fewer)?
                        };
                        out.first = breaks(&run, working_min, stops).first().copied();
                        out.largest_m2 = largest_bay(&run, batches, working_min).area_m2;
                        out.end_s = Some(run.end_s);
                        break;
                    }
                    Err(ClockError::Nobody { role }) => match take_over(batches, &fewer, role) {
                        Some(who) => {
                            if let Some(p) = fewer.people.get_mut(who) {
                                p.roles.push(role);
                                out.takes_over.push((p.name.clone(), role));
                            }
                        }
                        None => {
                            out.nobody_for = Some(role);
                            break;
                        }
                    },
                    Err(other) => return Err(other),
                }
            }
            Ok(out)
        })
        .collect()
}

/// Who takes over a role that nobody has: the one with whom the run ends earliest, or the one with
/// the fewest roles while another role is still empty.
fn take_over(batches: &[Batch], pace: &Pace, role: Role) -> Option<usize> {
    (0..pace.people.len()).min_by_key(|who| {
        let mut tried = pace.clone();
        let roles = tried.people.get_mut(*who).map_or(0, |p| {
            p.roles.push(role);
            p.roles.len()
        });
        let end = simulate(batches, &tried).map_or(u64::MAX, |run| run.end_s);
        (end, roles, *who)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn crew(roles: &[&[Role]]) -> Vec<Person> {
        roles
            .iter()
            .enumerate()
            .map(|(i, r)| Person {
                name: format!("p{i}"),
                roles: r.to_vec(),
            })
            .collect()
    }

    /// Four people, one role each; one mixer; batches of 2 m².
    fn line(mix: f64, haul: f64, spread_min: f64, finish_min: f64) -> Pace {
        Pace {
            people: crew(&[
                &[Role::Mix],
                &[Role::Haul],
                &[Role::Spread],
                &[Role::Finish],
            ]),
            mixers: 1,
            mix_min: mix,
            haul_min: haul,
            back_min: 0.0,
            spread_m2_h: 120.0 / spread_min,
            finish_m2_h: 120.0 / finish_min,
            ahead: 64,
        }
    }

    fn batches(n: usize) -> Vec<Batch> {
        vec![
            Batch {
                bags: 2,
                area_m2: 2.0
            };
            n
        ]
    }

    #[test]
    fn a_line_of_single_servers_takes_the_sum_and_the_slowest_again_for_each_further_batch() {
        // Closed form for equal jobs through single servers: Σp + (n − 1)·max p.
        for (times, n) in [
            ((5.0, 2.0, 4.0, 3.0), 7),
            ((2.0, 3.0, 9.0, 4.0), 5),
            ((3.0, 1.0, 2.0, 8.0), 6),
        ] {
            let pace = line(times.0, times.1, times.2, times.3);
            let run = simulate(&batches(n), &pace).unwrap();
            let sum = times.0 + times.1 + times.2 + times.3;
            let slowest = times.0.max(times.1).max(times.2).max(times.3);
            assert_eq!(
                run.end_s as f64,
                60.0 * (sum + (n - 1) as f64 * slowest),
                "{times:?}"
            );
        }
    }

    #[test]
    fn one_person_does_everything_in_turn() {
        // n × (5 + 2 + 1 back + 4 + 3) minutes, whatever the order.
        let pace = Pace {
            people: crew(&[&[Role::Mix, Role::Haul, Role::Spread, Role::Finish]]),
            back_min: 1.0,
            ..line(5.0, 2.0, 4.0, 3.0)
        };
        assert_eq!(simulate(&batches(4), &pace).unwrap().end_s, 4 * 15 * 60);
    }

    #[test]
    fn two_mixers_double_the_rate_when_mixing_is_slowest() {
        // Batches 2k and 2k+1 start together: the last pair of eight starts at 3 × 10 min, and the
        // second of the pair is carried and spread 1 min later: 30 + 10 + 1 + 1 + 1 + 1 = 44.
        let pace = Pace {
            people: crew(&[
                &[Role::Mix],
                &[Role::Mix],
                &[Role::Haul],
                &[Role::Spread],
                &[Role::Finish],
            ]),
            mixers: 2,
            ..line(10.0, 1.0, 1.0, 1.0)
        };
        assert_eq!(simulate(&batches(8), &pace).unwrap().end_s, 44 * 60);
    }

    #[test]
    fn two_spreaders_share_a_batch() {
        // Mixing 5, carrying 2, spreading 4 / 2, finishing 3: spreading is no longer in the way,
        // so 5 + 2 + 2 + 3 + 3 × 5 = 27 min for four batches.
        let pace = Pace {
            people: crew(&[
                &[Role::Mix],
                &[Role::Haul],
                &[Role::Spread],
                &[Role::Spread],
                &[Role::Finish],
            ]),
            ..line(5.0, 2.0, 4.0, 3.0)
        };
        assert_eq!(simulate(&batches(4), &pace).unwrap().end_s, 27 * 60);
    }

    #[test]
    fn the_batch_waits_in_the_mixer_until_someone_takes_it() {
        // Carrying takes 10 min a batch, mixing 2: batch 3 cannot begin before batch 2 is taken.
        let run = simulate(&batches(3), &line(2.0, 10.0, 1.0, 1.0)).unwrap();
        assert_eq!(run.batches[1].mixed_s, 4 * 60);
        assert_eq!(run.batches[2].water_s, 12 * 60);
    }

    #[test]
    fn starting_less_ahead_keeps_batches_young() {
        let slow_spread = line(2.0, 1.0, 10.0, 1.0);
        let ahead = best_ahead(&batches(6), &slow_spread).unwrap();
        let age = |a: usize| {
            let run = simulate(
                &batches(6),
                &Pace {
                    ahead: a,
                    ..slow_spread.clone()
                },
            )
            .unwrap();
            let old = run
                .batches
                .iter()
                .map(|b| b.spread_from_s - b.water_s)
                .max()
                .unwrap();
            (run.end_s, old)
        };
        assert_eq!(ahead, 1);
        assert_eq!(age(1).0, age(64).0);
        assert!(age(1).1 < age(64).1);
    }

    #[test]
    fn the_largest_bay_follows_from_the_cycle() {
        // One batch each 5 min, spread from 7 min after its water (5 mix + 2 carry). Batch k after
        // the first is met at 5k + 7 min: with 22 min of working time k = 3, so four batches.
        let run = simulate(&batches(9), &line(5.0, 2.0, 4.0, 3.0)).unwrap();
        let bay = largest_bay(&run, &batches(9), 22.0);
        assert_eq!((bay.batches, bay.area_m2), (4, 8.0));
        assert_eq!(largest_bay(&run, &batches(9), 21.9).batches, 3);
        assert_eq!(largest_bay(&run, &batches(9), 6.0).batches, 0);
        assert_eq!(
            largest_bay(
                &simulate(&[], &line(5.0, 2.0, 4.0, 3.0)).unwrap(),
                &[],
                10.0
            )
            .batches,
            0
        );
    }

    #[test]
    fn bays_end_at_joints() {
        let panel = |name: &str, area_m2| PanelToPlace {
            name: name.into(),
            area_m2,
        };
        let panels = [
            panel("A1", 4.0),
            panel("B1", 4.0),
            panel("C1", 3.0),
            panel("D1", 12.0),
            panel("E1", 1.0),
        ];
        let bays = stop_lines(&panels, 8.0);
        let shape: Vec<(usize, bool)> = bays.iter().map(|b| (b.panels.len(), b.fits)).collect();
        assert_eq!(shape, [(2, true), (1, true), (1, false), (1, true)]);
        let (all, stops) = batches_by_bay(&bays, 2, 3.0).unwrap();
        // 8 m² -> 3 + 3 + 2; 3 -> 3; 12 -> 4 × 3; 1 -> 1 with a single bag.
        assert_eq!(all.len(), 3 + 1 + 4 + 1);
        assert_eq!(stops, [3, 4, 8]);
        assert_eq!((all[2].bags, all[8].bags), (2, 1));
    }

    #[test]
    fn with_one_person_missing_the_first_thing_to_go_is_named() {
        let pace = Pace {
            people: crew(&[
                &[Role::Mix],
                &[Role::Haul],
                &[Role::Spread],
                &[Role::Spread, Role::Finish],
            ]),
            ..line(4.0, 1.0, 6.0, 3.0)
        };
        let out = one_fewer(&batches(6), &pace, 20.0, &[]).unwrap();
        // What only the missing one did is taken over by another.
        assert_eq!(
            (out[0].nobody_for, out[0].takes_over[0].1),
            (None, Role::Mix)
        );
        assert_eq!(
            (out[3].nobody_for, out[3].takes_over[0].1),
            (None, Role::Finish)
        );
        assert!(out[2].takes_over.is_empty());
        let alone = Pace {
            people: crew(&[&Role::ALL]),
            ..pace.clone()
        };
        let out_alone = one_fewer(&batches(6), &alone, 20.0, &[]).unwrap();
        assert_eq!(out_alone[0].nobody_for, Some(Role::Mix));
        // A single spreader who must finish too takes longer, and batches wait for him.
        let whole = simulate(&batches(6), &pace).unwrap();
        assert!(out[2].end_s.unwrap() > whole.end_s);
        assert!(out[2].largest_m2 < largest_bay(&whole, &batches(6), 20.0).area_m2);
    }

    #[test]
    fn a_joint_needs_no_wet_edge() {
        let run = simulate(&batches(3), &line(10.0, 1.0, 1.0, 1.0)).unwrap();
        // Each edge is met after 10 + 11 = 21 min.
        assert!(
            breaks(&run, 20.0, &[])
                .iter()
                .all(|b| b.kind == BreakKind::StiffEdge && b.over_s == 60)
        );
        assert_eq!(breaks(&run, 20.0, &[]).len(), 2);
        assert!(breaks(&run, 20.0, &[1, 2]).is_empty());
    }

    #[test]
    fn patterning_takes_its_turn_and_may_come_too_late() {
        let run = simulate(&batches(3), &line(5.0, 1.0, 1.0, 1.0)).unwrap();
        // Water at 0, 5, 10 min; ready 30 to 45 min after; each takes 10 min (2 m² at 12 m²/h).
        let p = patterning(&run, &batches(3), 30.0, 45.0, 12.0);
        let minutes: Vec<(u64, u64)> = p.iter().map(|t| (t.from_s / 60, t.to_s / 60)).collect();
        assert_eq!(minutes, [(30, 40), (40, 50), (50, 60)]);
        assert_eq!(
            p.iter().map(PatternTime::in_time).collect::<Vec<_>>(),
            [true, true, false]
        );
    }

    #[test]
    fn nonsense_is_refused() {
        let good = line(5.0, 2.0, 4.0, 3.0);
        for bad in [
            Pace {
                mixers: 0,
                ..good.clone()
            },
            Pace {
                mix_min: f64::NAN,
                ..good.clone()
            },
            Pace {
                haul_min: f64::INFINITY,
                ..good.clone()
            },
            Pace {
                spread_m2_h: 0.0,
                ..good.clone()
            },
            Pace {
                ahead: 0,
                ..good.clone()
            },
        ] {
            assert!(matches!(
                simulate(&batches(2), &bad),
                Err(ClockError::NotPositive { .. })
            ));
        }
        let none = Pace {
            people: vec![],
            ..good
        };
        assert_eq!(
            simulate(&batches(2), &none),
            Err(ClockError::Nobody { role: Role::Mix })
        );
        assert!(usual_roles(0).is_empty());
        for n in 1..7 {
            for role in Role::ALL {
                assert!(
                    usual_roles(n).iter().any(|p| p.roles.contains(&role)),
                    "{n} {role:?}"
                );
            }
        }
    }
}
