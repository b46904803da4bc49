//! Sample statistics: what a few readings say about the whole slab.
//!
//! Levels are shares between 0 and 1 (0.95 for 95 %). Every function gives `None` where the
//! statistic does not exist (no readings, a level outside 0 to 1) instead of a made-up number.

use serde::Serialize;
use statrs::distribution::{Beta, ContinuousCDF, Normal, StudentsT};
use uom::si::area::square_meter;

use crate::units::Area;

/// Mean and sample standard deviation of some readings.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Sample {
    /// Number of readings.
    pub count: usize,
    /// Arithmetic mean.
    pub mean: f64,
    /// Sample standard deviation, divisor n − 1. `None` for a single reading.
    pub deviation: Option<f64>,
    /// Least reading.
    pub least: f64,
    /// Greatest reading.
    pub greatest: f64,
}

/// Describes some readings. `None` when there are none or one of them is no finite number.
pub fn sample(readings: &[f64]) -> Option<Sample> {
    if readings.is_empty() || readings.iter().any(|x| !x.is_finite()) {
        return None;
    }
    let count = readings.len();
    let mean = readings.iter().sum::<f64>() / count as f64;
    let deviation = (count > 1).then(|| {
        let squares: f64 = readings.iter().map(|x| (x - mean).powi(2)).sum();
        (squares / (count - 1) as f64).sqrt()
    });
    Some(Sample {
        count,
        mean,
        deviation,
        least: readings.iter().copied().fold(f64::INFINITY, f64::min),
        greatest: readings.iter().copied().fold(f64::NEG_INFINITY, f64::max),
    })
}

/// Quantile of Student's t: the value that a share `level` of the distribution stays below.
///
/// `level` lies strictly between 0 and 1, `freedom` is at least 1.
pub fn t_quantile(level: f64, freedom: usize) -> Option<f64> {
    if !is_open_share(level) || freedom == 0 {
        return None;
    }
    StudentsT::new(0.0, 1.0, freedom as f64)
        .ok()
        .map(|t| t.inverse_cdf(level))
}

/// Quantile of the standard normal distribution. `level` lies strictly between 0 and 1.
pub fn normal_quantile(level: f64) -> Option<f64> {
    if !is_open_share(level) {
        return None;
    }
    Normal::new(0.0, 1.0).ok().map(|n| n.inverse_cdf(level))
}

/// Two-sided confidence interval of a mean: x̄ ± t(1 − α/2, n − 1)·s/√n, least and greatest.
///
/// Needs two readings or more. Assumes independent, roughly normal readings.
pub fn mean_interval(readings: &[f64], level: f64) -> Option<(f64, f64)> {
    let s = sample(readings)?;
    let half = t_quantile((1.0 + level) / 2.0, s.count.checked_sub(1)?)? * s.deviation?
        / (s.count as f64).sqrt();
    Some((s.mean - half, s.mean + half))
}

/// One-sided lower confidence bound of a mean: x̄ − t(level, n − 1)·s/√n. Needs two readings.
pub fn mean_lower_bound(readings: &[f64], level: f64) -> Option<f64> {
    let s = sample(readings)?;
    let half = t_quantile(level, s.count.checked_sub(1)?)? * s.deviation? / (s.count as f64).sqrt();
    Some(s.mean - half)
}

/// Wilson score interval of a share, `hits` out of `trials`:
/// [p + z²/2n ± z√(p(1−p)/n + z²/4n²)] / (1 + z²/n).
///
/// Good for small samples and for shares near 0 and 1. `None` without trials, with more hits than
/// trials, or with a level outside 0 to 1. Assumes independent trials; see [`effective_count`].
pub fn wilson(hits: f64, trials: f64, level: f64) -> Option<(f64, f64)> {
    if !(trials > 0.0 && trials.is_finite() && (0.0..=trials).contains(&hits)) {
        return None;
    }
    let z = normal_quantile((1.0 + level) / 2.0)?;
    let (p, z2n) = (hits / trials, z * z / trials);
    let middle = p + z2n / 2.0;
    let half = z * (p * (1.0 - p) / trials + z2n / (4.0 * trials)).sqrt();
    let lo = (middle - half) / (1.0 + z2n);
    let hi = (middle + half) / (1.0 + z2n);
    // Exact at the ends: rounding must not make an impossible share of the sample impossible.
    Some((
        if hits == 0.0 { 0.0 } else { lo.clamp(0.0, 1.0) },
        if hits == trials {
            1.0
        } else {
            hi.clamp(0.0, 1.0)
        },
    ))
}

/// Exact (Clopper-Pearson) interval of a share, `hits` out of `trials`. Wider than [`wilson`].
pub fn exact_share(hits: u32, trials: u32, level: f64) -> Option<(f64, f64)> {
    if trials == 0 || hits > trials || !is_open_share(level) {
        return None;
    }
    let (k, n, alpha) = (f64::from(hits), f64::from(trials), 1.0 - level);
    let lo = if hits == 0 {
        0.0
    } else {
        Beta::new(k, n - k + 1.0).ok()?.inverse_cdf(alpha / 2.0)
    };
    let hi = if hits == trials {
        1.0
    } else {
        Beta::new(k + 1.0, n - k)
            .ok()?
            .inverse_cdf(1.0 - alpha / 2.0)
    };
    Some((lo, hi))
}

/// Number of independent readings that clustered ones are worth: n / [1 + (m − 1)ρ], where `m`
/// neighbours share a cluster and `rho` (0 to 1) is their correlation.
///
/// Hollow spots are patches, so neighbouring taps answer alike and the true interval is wider.
pub fn effective_count(readings: f64, neighbours: f64, rho: f64) -> Option<f64> {
    if !(readings > 0.0 && neighbours >= 1.0 && (0.0..=1.0).contains(&rho)) {
        return None;
    }
    Some(readings / (1.0 + (neighbours - 1.0) * rho))
}

/// Readings needed so that a share near `p` is known to ± `half_width` at `level`:
/// z²p(1 − p)/h², rounded up. `p` 0.5 is the worst case.
pub fn readings_for_share(p: f64, half_width: f64, level: f64) -> Option<u64> {
    if !((0.0..=1.0).contains(&p) && half_width > 0.0 && half_width < 1.0) {
        return None;
    }
    let z = normal_quantile((1.0 + level) / 2.0)?;
    let n = (z * z * p * (1.0 - p) / half_width.powi(2)).ceil();
    (n < 1e15).then_some(n as u64)
}

/// Factor √((N − n)/(N − 1)) that shrinks a standard error when `n` of only `whole` were looked at.
pub fn finite_factor(n: u64, whole: u64) -> Option<f64> {
    if n == 0 || n > whole || whole < 2 {
        return None;
    }
    Some((((whole - n) as f64) / ((whole - 1) as f64)).sqrt())
}

/// Value that a share `level` (0 to 1) of the readings stays below, linear between readings.
pub fn percentile(readings: &[f64], level: f64) -> Option<f64> {
    if readings.is_empty() || readings.iter().any(|x| x.is_nan()) || !(0.0..=1.0).contains(&level) {
        return None;
    }
    let mut sorted = readings.to_vec();
    sorted.sort_by(f64::total_cmp);
    let place = level * (sorted.len() - 1) as f64;
    let (below, part) = (place.floor() as usize, place.fract());
    let lo = sorted.get(below)?;
    let hi = sorted.get(below + 1).unwrap_or(lo);
    Some(if part == 0.0 {
        *lo
    } else {
        lo + (hi - lo) * part
    })
}

/// Middle reading, or the mean of the two middle ones.
pub fn median(readings: &[f64]) -> Option<f64> {
    percentile(readings, 0.5)
}

/// A rule for the number of tests on an area.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CountRule {
    /// Tests on the first part.
    pub first_count: u32,
    /// Size of the first part. Zero for rules that only count parts.
    pub first_area: Area,
    /// Tests for each further part or fraction of one.
    pub further_count: u32,
    /// Size of a further part.
    pub further_area: Area,
}

/// Number of tests on an area: first_count + further_count·⌈(A − first_area)/further_area⌉.
///
/// `None` for an area below zero or a further part of no size. No area needs no test.
pub fn test_count(area: Area, rule: CountRule) -> Option<u64> {
    let (a, first, further) = (
        area.get::<square_meter>(),
        rule.first_area.get::<square_meter>(),
        rule.further_area.get::<square_meter>(),
    );
    if !(a >= 0.0 && a.is_finite() && first >= 0.0 && further > 0.0) {
        return None;
    }
    if a == 0.0 {
        return Some(0);
    }
    let parts = ((a - first) / further * (1.0 - 1e-9)).ceil().max(0.0);
    (parts < 1e12)
        .then(|| u64::from(rule.first_count) + u64::from(rule.further_count) * parts as u64)
}

fn is_open_share(level: f64) -> bool {
    level > 0.0 && level < 1.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use uom::si::area::square_foot;

    #[test]
    fn wilson_is_exact_at_the_ends_and_refuses_nonsense() {
        assert_eq!(wilson(0.0, 30.0, 0.95).unwrap().0, 0.0);
        assert_eq!(wilson(30.0, 30.0, 0.95).unwrap().1, 1.0);
        for (hits, trials, level) in [
            (1.0, 0.0, 0.95),
            (3.0, 2.0, 0.95),
            (-1.0, 5.0, 0.95),
            (1.0, 5.0, 1.0),
            (f64::NAN, 5.0, 0.9),
        ] {
            assert_eq!(
                wilson(hits, trials, level),
                None,
                "{hits}/{trials} at {level}"
            );
        }
    }

    #[test]
    fn a_single_reading_has_a_mean_but_no_interval() {
        assert_eq!(sample(&[4.0]).unwrap().deviation, None);
        assert_eq!(mean_interval(&[4.0], 0.95), None);
        assert_eq!(sample(&[1.0, f64::NAN]), None);
    }

    #[test]
    fn percentiles_lie_between_the_readings() {
        // By hand: 1 2 3 4, level 0.25 -> place 0.75 -> 1.75.
        assert_eq!(percentile(&[4.0, 1.0, 3.0, 2.0], 0.25), Some(1.75));
        assert_eq!(median(&[5.0, 1.0, 3.0]), Some(3.0));
        assert_eq!(percentile(&[1.0], 2.0), None);
    }

    #[test]
    fn neighbours_that_answer_alike_count_for_less() {
        // 150 / (1 + 4 × 0.5) = 50.
        assert_eq!(effective_count(150.0, 5.0, 0.5), Some(50.0));
        // √((20 − 20)/19) = 0: the whole was looked at.
        assert_eq!(finite_factor(20, 20), Some(0.0));
    }

    #[test]
    fn no_area_needs_no_test_and_a_broken_rule_gives_none() {
        let ft2 = |x: f64| Area::new::<square_foot>(x);
        let rule = CountRule {
            first_count: 3,
            first_area: ft2(1000.0),
            further_count: 1,
            further_area: ft2(1000.0),
        };
        assert_eq!(test_count(ft2(0.0), rule), Some(0));
        assert_eq!(test_count(ft2(-1.0), rule), None);
        assert_eq!(
            test_count(
                ft2(10.0),
                CountRule {
                    further_area: ft2(0.0),
                    ..rule
                }
            ),
            None
        );
        assert_eq!(test_count(ft2(f64::NAN), rule), None);
    }
}
