//! From a row to its verdict, at the pace of a whole inventory.
//!
//! Three memories lie between a row and the rules, each exact:
//!
//! 1. groups of measures that the survey works on together are turned into classes: two rows whose
//!    groups leave the same cells of every fact are of one class;
//! 2. words and classes of a row together are its key; a key seen before has its answer;
//! 3. a new key is written as a record, read, checked and surveyed; if the cells of the facts that
//!    lead to a verdict were seen before, whatever the key, their answer stands, for the rules look
//!    at cells alone.
//!
//! Only what gets past all three runs the rules. The first memory is each worker's own, the others
//! are shared; all are bounded and may be forgotten at any time without changing an answer.

use std::collections::HashMap;
use std::hash::{BuildHasherDefault, DefaultHasher, Hash, Hasher};
use std::sync::{Arc, Mutex, PoisonError};

use jiff::civil::Date;

use super::fields::{Fields, Group};
use super::row::{Fault, Row, column, shortened};
use crate::assessment::{board, exact_verdict};
use crate::facts::{Bits, Comes, FactId, Interval};
use crate::record::{self, Loaded};
use crate::rules::{Asking, Board, Memo, Pack, Reach, Spot, ask_first};
use crate::source::{Problem, Problems, Severity, SourceFile};
use crate::survey::{Survey, survey};
use crate::units::{Kind, Size};

/// Most entries of a memory; a full one is emptied.
const MOST: usize = 200_000;

/// A fact worth measuring next.
#[derive(Debug, Clone, PartialEq)]
pub struct Next {
    /// Fact, by index.
    pub fact: FactId,
    /// Seconds of work, whole.
    pub seconds: u64,
    /// Share of what is open that it is expected to settle, in millionths.
    pub settles: u64,
}

/// What the rules say of one set of cells.
#[derive(Debug, Clone, PartialEq)]
pub struct Outcome {
    /// Verdicts still possible, by index of the pack's values, mildest first.
    pub possible: Bits,
    /// Index of the verdict; `measure_first` while it is open.
    pub verdict: usize,
    /// What to measure first, where it is open.
    pub next: Option<Next>,
    /// The answer's members as they stand in a line of JSON: `"verdict":"patch","firm":true`.
    pub json: String,
    /// The verdict's word.
    pub word: String,
    /// Words of the possible verdicts, a `|` between them; empty where it is firm.
    pub words: String,
    /// What to find out next, by the fact's id, or empty.
    pub ask: String,
    /// Minutes that takes, as text, or empty.
    pub minutes: String,
    /// Least and greatest price of a square metre, US dollars, over the possible verdicts that are
    /// priced by the whole surface.
    pub whole: Option<(f64, f64)>,
    /// The same for those priced by the damaged surface.
    pub damaged: Option<(f64, f64)>,
}

impl Outcome {
    /// Whether it stays the same whatever the unknowns turn out to be.
    pub fn firm(&self) -> bool {
        self.possible.is_one()
    }

    /// Least and greatest cost in whole US dollars, for a surface and the damaged part of it, m².
    /// `None` where a surface or a price is not known.
    pub fn cost(&self, surface: Option<Interval>, damaged: Option<Interval>) -> Option<(u64, u64)> {
        let surface = surface?;
        let damaged = damaged.map_or(Interval::of(0.0, surface.hi), |d| {
            Interval::of(d.lo.min(surface.hi), d.hi.min(surface.hi))
        });
        let of = |price: Option<(f64, f64)>, over: Interval| {
            price.map(|(lo, hi)| (lo * over.lo, hi * over.hi))
        };
        let (lo, hi) = match (of(self.whole, surface), of(self.damaged, damaged)) {
            (Some(a), Some(b)) => (a.0.min(b.0), a.1.max(b.1)),
            (Some(a), None) | (None, Some(a)) => a,
            (None, None) => return None,
        };
        // Whole dollars add up exactly in any order. A float too large is held at the greatest.
        Some((lo.floor() as u64, hi.ceil() as u64))
    }
}

type Numbers<V> = HashMap<u64, V, BuildHasherDefault<Same>>;
type Keys<V> = HashMap<u128, V, BuildHasherDefault<Same>>;

/// Keys are hashes already.
#[derive(Debug, Default, Clone)]
pub struct Same(u64);

impl Hasher for Same {
    fn finish(&self) -> u64 {
        self.0
    }
    fn write(&mut self, bytes: &[u8]) {
        for b in bytes {
            self.0 = self.0.rotate_left(8) ^ u64::from(*b);
        }
    }
    fn write_u64(&mut self, x: u64) {
        self.0 = x;
    }
    fn write_u128(&mut self, x: u128) {
        self.0 = x as u64;
    }
}

/// The rules and the memories that all workers share.
#[derive(Debug)]
pub struct Judge {
    /// The rules.
    pub pack: Pack,
    /// Version of the program and fingerprint of the rules, as every result bears them.
    pub made_with: String,
    /// Fields of a row.
    pub fields: Fields,
    today: Option<Date>,
    verdict: FactId,
    words: Vec<(String, String)>,
    open_word: usize,
    prices: Vec<Option<Interval>>,
    /// `None` is a key whose rows can't be read.
    rows: Mutex<Keys<Option<Arc<Outcome>>>>,
    boards: Mutex<Keys<Arc<Outcome>>>,
    reaches: Mutex<Keys<Arc<Reach>>>,
}

/// Verdict whose price is for the damaged surface alone.
const BY_DAMAGE: &str = "patch";

impl Judge {
    /// A judge by a pack. No inspection can be dated after `today`. `None` when the pack has no
    /// verdict for the slab.
    pub fn new(pack: Pack, today: Option<Date>) -> Option<Judge> {
        let verdict = pack.vocabulary.find("slab_verdict")?;
        let words: Vec<(String, String)> = pack
            .vocabulary
            .fact(verdict)
            .values()
            .iter()
            .map(|v| (v.id.clone(), v.name.clone()))
            .collect();
        let foot = Kind::Area.read("1 ft2").map_or(f64::NAN, |i| i.lo);
        let prices = words
            .iter()
            .map(|(word, _)| {
                let price = pack.figure(&format!("price_{word}"))?;
                Some(Interval::of(price.lo / foot, price.hi / foot))
            })
            .collect();
        Some(Judge {
            fields: Fields::of(&pack.vocabulary),
            open_word: words.iter().position(|(w, _)| w == "measure_first")?,
            today,
            verdict,
            words,
            prices,
            made_with: format!(
                "ringtrue {} rules {}",
                env!("CARGO_PKG_VERSION"),
                pack.fingerprint
            ),
            pack,
            rows: Mutex::default(),
            boards: Mutex::default(),
            reaches: Mutex::default(),
        })
    }

    /// The day after which no inspection can lie.
    pub fn last_day(&self) -> Option<Date> {
        self.today
    }

    /// Verdicts by index: word and plain name, mildest first.
    pub fn verdicts(&self) -> &[(String, String)] {
        &self.words
    }

    /// What the rules say of a surveyed record.
    pub fn outcome(&self, survey: &Survey, memo: &mut Memo) -> Arc<Outcome> {
        let (board, reach, key) = self.known(survey);
        if let Some(known) = locked(&self.boards).get(&key) {
            return known.clone();
        }
        // Nothing but what the key holds may have a say, or the first of its rows would speak for
        // others that differ from it.
        let mut given = board.clone();
        given.clear(&self.pack);
        for &spot in reach.entries() {
            given.set_bits(spot.thing, spot.fact, board.at(spot));
        }
        let spot = self.spot(survey);
        let outcome = Arc::new(self.work_out(&given, &reach, spot, memo));
        let mut boards = locked(&self.boards);
        make_room(&mut boards);
        boards.insert(key, outcome.clone());
        outcome
    }

    fn spot(&self, survey: &Survey) -> Spot {
        Spot {
            thing: survey.slab,
            fact: self.verdict,
        }
    }

    /// What is known of a surveyed record, the part of the rules that leads to its verdict, and a key
    /// to everything the verdict is made from: the things and the cells of the facts that lead there.
    fn known(&self, survey: &Survey) -> (Board, Arc<Reach>, u128) {
        let board = board(&self.pack, survey);
        let mut hash = Twice::default();
        for thing in &survey.things {
            (thing.scope as u8).hash(&mut hash);
            (thing.outer, &thing.lies_in, &thing.may_lie_in).hash(&mut hash);
        }
        let shape = hash.both();
        // The way to a verdict is the same for all slabs with the same things.
        let known = locked(&self.reaches).get(&shape).cloned();
        let reach = known.unwrap_or_else(|| {
            let reach = Arc::new(Reach::of(&self.pack, &board, &[self.spot(survey)]));
            let mut reaches = locked(&self.reaches);
            make_room(&mut reaches);
            reaches.insert(shape, reach.clone());
            reach
        });
        for &spot in reach.entries() {
            board.at(spot).0.hash(&mut hash);
        }
        (board, reach, hash.both())
    }

    fn work_out(&self, given: &Board, reach: &Reach, spot: Spot, memo: &mut Memo) -> Outcome {
        let possible = exact_verdict(&self.pack, given, reach, spot, memo);
        let firm = possible.is_one();
        let next = if firm {
            None
        } else {
            self.next(given, spot, memo)
        };
        let verdict = if firm {
            possible.lowest().unwrap_or(self.open_word)
        } else {
            self.open_word
        };
        let word = |i: usize| self.words.get(i).map_or("", |(w, _)| w.as_str());
        let names: Vec<&str> = possible.iter().map(word).collect();
        let mut json = format!("\"verdict\":\"{}\",\"firm\":{firm}", word(verdict));
        if !firm {
            json += &format!(",\"possible\":[\"{}\"]", names.join("\",\""));
        }
        let (mut ask, mut minutes) = (String::new(), String::new());
        if let Some(next) = &next {
            ask.clone_from(&self.pack.vocabulary.fact(next.fact).id);
            minutes = (next.seconds as f64 / 60.0).to_string();
            json += &format!(",\"next\":\"{ask}\",\"minutes\":{minutes}");
        }
        let hull = |by_damage: bool| {
            possible
                .iter()
                .filter(|i| (word(*i) == BY_DAMAGE) == by_damage)
                .filter_map(|i| *self.prices.get(i)?)
                .reduce(Interval::hull)
                .map(|i| (i.lo, i.hi))
        };
        Outcome {
            possible,
            verdict,
            next,
            json,
            word: word(verdict).to_owned(),
            words: if firm { String::new() } else { names.join("|") },
            ask,
            minutes,
            whole: hull(false),
            damaged: hull(true),
        }
    }

    /// The fact that settles most of an open verdict for its work. An answer is written on the board
    /// as it is, so that this depends on cells alone.
    fn next(&self, given: &Board, spot: Spot, memo: &mut Memo) -> Option<Next> {
        let targets = [spot];
        let may_ask = |spot: Spot| {
            matches!(
                self.pack.vocabulary.fact(spot.fact).comes,
                Comes::Asked | Comes::Survey
            )
        };
        let asking = Asking {
            may_ask: &may_ask,
            ..Asking::new(&self.pack, &targets)
        };
        let first = ask_first(&self.pack, given, &asking, memo)?;
        Some(Next {
            fact: first.spot.fact,
            seconds: (first.minutes * 60.0).round() as u64,
            settles: (first.settles * 1e6).round() as u64,
        })
    }

    fn read(&self, text: String) -> (Option<Loaded>, Problems) {
        let file = SourceFile::new("row", text);
        record::read(&file, None, self.today, Some(&self.pack.vocabulary))
    }

    /// What is wrong with a row that can't be read.
    pub fn faults(&self, row: &Row<'_>, line: &str) -> Vec<Fault> {
        let (text, lines) = row.to_record(&self.fields);
        let (_, problems) = self.read(text);
        problems
            .iter()
            .filter(|p| p.severity == Severity::Error)
            .map(|p| self.fault(p, row, &lines, line))
            .collect()
    }

    fn fault(&self, p: &Problem, row: &Row<'_>, lines: &[Option<u16>], line: &str) -> Fault {
        let field = p
            .place
            .and_then(|place| lines.get(place.line - 1).copied().flatten());
        let raw = field.and_then(|i| row.get(i));
        let base = line.as_ptr() as usize;
        // A cell of a CSV row that had to be written anew lies elsewhere.
        let at = raw
            .map(|r| (r.as_ptr() as usize).wrapping_sub(base))
            .filter(|at| *at <= line.len());
        Fault {
            column: at.map(|at| column(line, at)),
            key: field.map(|i| self.fields.get(i).key.clone()),
            text: shortened(raw.unwrap_or(line)),
            message: p.message.clone(),
            hint: p.hint.clone().unwrap_or_default(),
        }
    }
}

fn locked<T>(mutex: &Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    // A memory is whole after every step: nothing is lost with a worker that died.
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

fn make_room<K, V, S>(memory: &mut HashMap<K, V, S>) {
    if memory.len() >= MOST {
        memory.clear();
    }
}

/// Two hashes of one content, as a key too long to meet by chance.
struct Twice(DefaultHasher, DefaultHasher);

impl Default for Twice {
    fn default() -> Self {
        let mut other = DefaultHasher::new();
        other.write_u8(1);
        Twice(DefaultHasher::new(), other)
    }
}

impl Hasher for Twice {
    fn finish(&self) -> u64 {
        self.0.finish()
    }
    fn write(&mut self, bytes: &[u8]) {
        self.0.write(bytes);
        self.1.write(bytes);
    }
}

impl Twice {
    fn both(&self) -> u128 {
        (u128::from(self.0.finish()) << 64) | u128::from(self.1.finish())
    }
}

/// One worker's memories.
#[derive(Debug, Default)]
pub struct Worker {
    classes: Numbers<u64>,
    rows: Keys<Option<Arc<Outcome>>>,
    surfaces: Numbers<Option<Interval>>,
    /// Rankings of earlier searches.
    pub memo: Memo,
    /// Rows that no memory of this worker knew, for the books.
    pub missed: u64,
}

impl Worker {
    /// What the rules say of a row. `None` when it can't be read: see [`Judge::faults`].
    pub fn judge(&mut self, judge: &Judge, row: &Row<'_>) -> Option<Arc<Outcome>> {
        let key = self.key(judge, row);
        if let Some(known) = self.rows.get(&key) {
            return known.clone();
        }
        let shared = locked(&judge.rows).get(&key).cloned();
        let outcome = match shared {
            Some(known) => known,
            None => {
                self.missed += 1;
                let (loaded, _) = judge.read(row.to_record(&judge.fields).0);
                let outcome = loaded.map(|l| {
                    judge.outcome(&survey(&l.record, &judge.pack.vocabulary), &mut self.memo)
                });
                let mut rows = locked(&judge.rows);
                make_room(&mut rows);
                rows.insert(key, outcome.clone());
                outcome
            }
        };
        make_room(&mut self.rows);
        self.rows.insert(key, outcome.clone());
        outcome
    }

    /// Words as they are, measures by their classes.
    fn key(&mut self, judge: &Judge, row: &Row<'_>) -> u128 {
        let mut key = Twice::default();
        let mut shared = [false; Group::SHARED.len()];
        let fields = &judge.fields;
        for &(i, raw) in &row.cells {
            i.hash(&mut key);
            let field = fields.get(i);
            match field.group {
                Group::Word => raw.hash(&mut key),
                Group::Alone => {
                    let kind = field.defect.and_then(|n| fields.kind(n));
                    let class = self.class(judge, row, |j| j == i || Some(j) == kind);
                    class.hash(&mut key);
                }
                group => {
                    if let Some(at) = Group::SHARED.iter().position(|g| *g == group) {
                        shared[at] = true;
                    }
                }
            }
        }
        for (group, present) in Group::SHARED.into_iter().zip(shared) {
            if present {
                let with_kinds = matches!(group, Group::Surface | Group::Depth);
                let class = self.class(judge, row, |j| {
                    let field = fields.get(j);
                    field.group == group
                        || (with_kinds && field.defect.is_some_and(|n| fields.kind(n) == Some(j)))
                        // What the wished finish needs is worked out with the old relief.
                        || (group == Group::Depth && field.path.starts_with("wishes."))
                });
                class.hash(&mut key);
            }
        }
        key.both()
    }

    /// Class of some fields of a row: what the survey makes of them alone.
    fn class(&mut self, judge: &Judge, row: &Row<'_>, member: impl Fn(u16) -> bool) -> u64 {
        let mut hash = DefaultHasher::new();
        for &(i, raw) in row.cells.iter().filter(|(i, _)| member(*i)) {
            (i, raw).hash(&mut hash);
        }
        let key = hash.finish();
        if let Some(known) = self.classes.get(&key) {
            return *known;
        }
        let (loaded, _) = judge.read(row.part_to_record(&judge.fields, &member));
        let class = match loaded {
            Some(l) => judge.known(&survey(&l.record, &judge.pack.vocabulary)).2 as u64,
            // Whatever can't be read is told apart by its text, so that nothing good shares it.
            None => !key,
        };
        make_room(&mut self.classes);
        self.classes.insert(key, class);
        class
    }

    /// Surface of a row and of its damage, m².
    pub fn surfaces(
        &mut self,
        judge: &Judge,
        row: &Row<'_>,
    ) -> (Option<Interval>, Option<Interval>) {
        let (mut whole, mut damaged, mut share) = (None, None, None);
        for &(i, raw) in &row.cells {
            let field = judge.fields.get(i);
            if field.group != Group::Surface {
                continue;
            }
            let name = field.path.rsplit('.').next().unwrap_or("");
            let into: &mut Option<Interval> = match (field.defect, name) {
                (None, "size" | "surface") => &mut whole,
                (Some(_), "extent" | "surface") => &mut damaged,
                (Some(_), "share") => &mut share,
                _ => continue,
            };
            let mut hash = DefaultHasher::new();
            (name, raw).hash(&mut hash);
            let key = hash.finish();
            let value = *match self.surfaces.get(&key) {
                Some(known) => known,
                None => {
                    make_room(&mut self.surfaces);
                    self.surfaces.entry(key).or_insert(measure(name, raw))
                }
            };
            *into = match (*into, value) {
                (Some(a), Some(b)) if field.defect.is_some() => Some(a + b),
                (before, now) => now.or(before),
            };
        }
        if damaged.is_none()
            && let (Some(share), Some(whole)) = (share, whole)
        {
            damaged = Some(Interval::of(share.lo * whole.lo, share.hi * whole.hi));
        }
        (whole, damaged)
    }
}

fn measure(name: &str, raw: &str) -> Option<Interval> {
    let text: String = serde_json::from_str(raw).ok()?;
    match name {
        "share" => Kind::Share.read(&text).ok(),
        "surface" => Kind::Area.read(&text).ok(),
        _ => text.parse::<Size>().ok()?.area().canonical(),
    }
}
