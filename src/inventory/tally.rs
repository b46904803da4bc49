//! What many results add up to, in bounded memory.
//!
//! Everything is counted in whole numbers, so that tallies merged in any grouping are the same.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::judge::{Judge, Outcome};

/// Slabs shown as the worst.
pub const WORST: usize = 25;
/// Faults shown on the page.
pub const FAULTS: usize = 20;
/// Most marks on the map.
const MARKS: usize = 3_000;
/// Finest squares of the map: a degree is cut into 2 to this power.
pub const FINEST: u8 = 16;

/// Counts of one verdict.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Count {
    /// Slabs.
    pub slabs: u64,
    /// Of them, those with a cost.
    pub priced: u64,
    /// Sum of the least costs, whole US dollars.
    pub low: u64,
    /// Sum of the greatest costs.
    pub high: u64,
}

/// One of the worst slabs.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Worst {
    /// Mildest verdict still possible: it is at least so bad.
    pub least: u8,
    /// Gravest verdict still possible.
    pub gravest: u8,
    /// Greatest cost, 0 where none is known.
    pub high: u64,
    /// Least cost.
    pub low: u64,
    /// Number in the input, from 1.
    pub number: u64,
    /// Short name, as JSON.
    pub id: String,
    /// Verdict by index.
    pub verdict: u8,
}

impl Worst {
    /// Worst first; of two alike the one that came first.
    fn rank(&self) -> impl Ord + use<> {
        (
            std::cmp::Reverse((self.least, self.gravest, self.high)),
            self.number,
        )
    }
}

/// A fact to find out.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Ask {
    /// Slabs where it comes first.
    pub slabs: u64,
    /// Seconds of work over them all.
    pub seconds: u64,
    /// Verdicts it is expected to settle, in millionths of a slab.
    pub settles: u64,
    /// Verdicts that are possible there, as bits, with the number of slabs.
    pub between: BTreeMap<u64, u64>,
}

/// Slabs in one square of the map.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Square {
    /// Slabs by verdict.
    pub verdicts: BTreeMap<u8, u64>,
}

/// What many results add up to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Tally {
    /// Rows or records read.
    pub read: u64,
    /// Those that could not be judged.
    pub bad: u64,
    /// By index of the verdict.
    pub verdicts: BTreeMap<u8, Count>,
    /// Open slabs by the verdicts still possible, as bits.
    pub open: BTreeMap<u64, u64>,
    /// Worst first.
    pub worst: Vec<Worst>,
    /// What to find out, by fact.
    pub ask: BTreeMap<String, Ask>,
    /// Degrees are cut into 2 to this power.
    pub level: u8,
    /// Squares of the map that hold slabs, by place.
    pub squares: BTreeMap<u64, Square>,
    /// The first faults, as told.
    pub faults: Vec<String>,
}

impl Tally {
    /// An empty tally, its map cut no finer than `level`.
    pub fn new(level: u8) -> Tally {
        Tally {
            read: 0,
            bad: 0,
            verdicts: BTreeMap::new(),
            open: BTreeMap::new(),
            worst: Vec::new(),
            ask: BTreeMap::new(),
            level: level.min(FINEST),
            squares: BTreeMap::new(),
            faults: Vec::new(),
        }
    }

    /// Counts a result. `number` is its place in the input of this tally; `id` is JSON.
    pub fn add(
        &mut self,
        judge: &Judge,
        outcome: &Outcome,
        number: u64,
        id: &str,
        cost: Option<(u64, u64)>,
        at: Option<(f64, f64)>,
    ) {
        // A choice has at most 128 values.
        let verdict = outcome.verdict as u8;
        let count = self.verdicts.entry(verdict).or_default();
        count.slabs += 1;
        let (low, high) = cost.unwrap_or_default();
        if cost.is_some() {
            count.priced += 1;
            count.low = count.low.saturating_add(low);
            count.high = count.high.saturating_add(high);
        }
        // The pack has ten verdicts; what lies beyond 64 would only be left out of a list.
        let bits = outcome.possible.0 as u64;
        if !outcome.firm() {
            *self.open.entry(bits).or_default() += 1;
        }
        if let Some(next) = &outcome.next {
            let id = &judge.pack.vocabulary.fact(next.fact).id;
            if !self.ask.contains_key(id) {
                self.ask.insert(id.clone(), Ask::default());
            }
            if let Some(ask) = self.ask.get_mut(id) {
                ask.slabs += 1;
                ask.seconds += next.seconds;
                ask.settles += next.settles;
                *ask.between.entry(bits).or_default() += 1;
            }
        }
        let lowest = outcome.possible.lowest().unwrap_or(0) as u8;
        let highest = outcome.possible.highest().unwrap_or(0) as u8;
        let full = self.worst.len() >= WORST;
        let last = self.worst.last();
        // Most slabs are not among the worst: told without making anything.
        if !full || last.is_some_and(|w| (lowest, highest, high) > (w.least, w.gravest, w.high)) {
            self.keep(Worst {
                least: lowest,
                gravest: highest,
                high,
                low,
                number,
                id: id.to_owned(),
                verdict,
            });
        }
        if let Some((lat, lon)) = at {
            let square = self
                .squares
                .entry(square(lat, lon, self.level))
                .or_default();
            *square.verdicts.entry(verdict).or_default() += 1;
        }
    }

    fn keep(&mut self, slab: Worst) {
        let at = self.worst.partition_point(|w| w.rank() < slab.rank());
        if at < WORST {
            self.worst.insert(at, slab);
            self.worst.truncate(WORST);
        }
    }

    /// Counts a row that could not be judged.
    pub fn add_bad(&mut self, told: &str) {
        self.bad += 1;
        if self.faults.len() < FAULTS {
            self.faults.push(told.to_owned());
        }
    }

    /// Adds the tally of what came next in the input.
    pub fn merge(&mut self, other: Tally) {
        let before = self.read;
        self.read += other.read;
        self.bad += other.bad;
        for (verdict, theirs) in other.verdicts {
            let mine = self.verdicts.entry(verdict).or_default();
            mine.slabs += theirs.slabs;
            mine.priced += theirs.priced;
            mine.low = mine.low.saturating_add(theirs.low);
            mine.high = mine.high.saturating_add(theirs.high);
        }
        for (bits, n) in other.open {
            *self.open.entry(bits).or_default() += n;
        }
        for slab in other.worst {
            self.keep(Worst {
                number: slab.number + before,
                ..slab
            });
        }
        for (fact, theirs) in other.ask {
            let mine = self.ask.entry(fact).or_default();
            mine.slabs += theirs.slabs;
            mine.seconds += theirs.seconds;
            mine.settles += theirs.settles;
            for (bits, n) in theirs.between {
                *mine.between.entry(bits).or_default() += n;
            }
        }
        let level = self.level.min(other.level);
        self.coarsen(level);
        for (place, theirs) in other.squares {
            let place = coarser(place, other.level - level);
            let mine = self.squares.entry(place).or_default();
            for (verdict, n) in theirs.verdicts {
                *mine.verdicts.entry(verdict).or_default() += n;
            }
        }
        // Squares only ever fill up, so where this ends depends on the slabs alone.
        while self.squares.len() > MARKS && self.level > 0 {
            self.coarsen(self.level - 1);
        }
        let room = FAULTS.saturating_sub(self.faults.len());
        self.faults.extend(other.faults.into_iter().take(room));
    }

    fn coarsen(&mut self, level: u8) {
        let by = self.level.saturating_sub(level);
        if by == 0 {
            return;
        }
        self.level = level;
        for (place, theirs) in std::mem::take(&mut self.squares) {
            let mine = self.squares.entry(coarser(place, by)).or_default();
            for (verdict, n) in theirs.verdicts {
                *mine.verdicts.entry(verdict).or_default() += n;
            }
        }
    }

    /// Everything that has a verdict.
    pub fn judged(&self) -> u64 {
        self.read - self.bad
    }

    /// Slabs whose verdict is still open.
    pub fn open_slabs(&self) -> u64 {
        self.open.values().sum()
    }
}

/// Square of a place: degrees from the south and from the west, cut by 2 to the power of `level`.
fn square(lat: f64, lon: f64, level: u8) -> u64 {
    let scale = f64::from(1u32 << level);
    // At most 360 x 65536.
    let cut = |degrees: f64| (degrees * scale).floor().max(0.0) as u64;
    (cut(lat + 90.0) << 32) | cut(lon + 180.0)
}

fn coarser(place: u64, by: u8) -> u64 {
    ((place >> 32 >> by) << 32) | ((place & 0xffff_ffff) >> by)
}

/// Latitude and longitude of the middle of a square.
pub fn middle(place: u64, level: u8) -> (f64, f64) {
    let scale = f64::from(1u32 << level);
    let at = |cut: u64| (cut as f64 + 0.5) / scale;
    (at(place >> 32) - 90.0, at(place & 0xffff_ffff) - 180.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn squares_grow_into_the_squares_around_them() {
        // 43.0712 + 90 = 133.0712; times 2^16 is 8 720 954.2.
        let fine = square(43.0712, -89.4, 16);
        assert_eq!(fine >> 32, 8_720_954);
        assert_eq!(coarser(fine, 6), square(43.0712, -89.4, 10));
        let (lat, lon) = middle(fine, 16);
        assert!((lat - 43.0712).abs() < 1e-4 && (lon + 89.4).abs() < 1e-4);
    }

    #[test]
    fn the_worst_come_first_and_of_two_alike_the_first() {
        let slab = |least, high, number| Worst {
            least,
            gravest: least,
            high,
            low: 0,
            number,
            id: String::new(),
            verdict: least,
        };
        let mut tally = Tally::new(FINEST);
        for (least, high, number) in [(2, 10, 1), (7, 5, 2), (7, 9, 3), (7, 9, 4)] {
            tally.keep(slab(least, high, number));
        }
        let order: Vec<u64> = tally.worst.iter().map(|w| w.number).collect();
        assert_eq!(order, [3, 4, 2, 1]);
    }
}
