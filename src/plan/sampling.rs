//! How many tests to make, and what the readings taken while working say.
//!
//! Counts follow rules of the form "so many for the first area, one more for each further"; the
//! figures come in as parameters. Readings are judged with the statistics of [`crate::survey::stats`].

use serde::Serialize;

pub use crate::survey::stats::{CountRule, test_count};
use crate::survey::stats::{Sample, mean_interval, sample};

/// What a set of readings must keep.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Acceptance {
    /// Fewest readings.
    pub fewest: usize,
    /// Least mean.
    pub mean_least: Option<f64>,
    /// Least single reading.
    pub single_least: Option<f64>,
    /// Greatest single reading.
    pub single_greatest: Option<f64>,
}

/// A reading or a set of them against its rule.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Accepted {
    /// Statistics of the readings.
    pub sample: Sample,
    /// 95 % interval of the mean, where two or more readings allow one.
    pub mean_interval: Option<(f64, f64)>,
    /// Whether everything is kept.
    pub passed: bool,
    /// What is not kept.
    pub failures: Vec<Failure>,
}

/// What a set of readings fails on.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case", tag = "failure")]
pub enum Failure {
    /// Too few readings to judge.
    TooFew {
        /// Readings wanted.
        wanted: usize,
        /// Readings there are.
        there: usize,
    },
    /// The mean is too low.
    MeanLow {
        /// Limit.
        limit: f64,
        /// Mean of the readings.
        mean: f64,
    },
    /// A single reading is too low.
    Low {
        /// Which reading, from 0.
        index: usize,
        /// Limit.
        limit: f64,
        /// The reading.
        reading: f64,
    },
    /// A single reading is too high.
    High {
        /// Which reading, from 0.
        index: usize,
        /// Limit.
        limit: f64,
        /// The reading.
        reading: f64,
    },
}

/// Judges readings by a rule. `None` when there are no readings or one is no number.
///
/// Limits count as kept when met exactly; readings must be in the limits' unit.
pub fn judge(readings: &[f64], rule: &Acceptance) -> Option<Accepted> {
    let described = sample(readings)?;
    let mut failures = Vec::new();
    if described.count < rule.fewest {
        failures.push(Failure::TooFew {
            wanted: rule.fewest,
            there: described.count,
        });
    }
    if let Some(limit) = rule.mean_least.filter(|l| described.mean < *l) {
        failures.push(Failure::MeanLow {
            limit,
            mean: described.mean,
        });
    }
    for (index, reading) in readings.iter().copied().enumerate() {
        if let Some(limit) = rule.single_least.filter(|l| reading < *l) {
            failures.push(Failure::Low {
                index,
                limit,
                reading,
            });
        }
        if let Some(limit) = rule.single_greatest.filter(|l| reading > *l) {
            failures.push(Failure::High {
                index,
                limit,
                reading,
            });
        }
    }
    Some(Accepted {
        sample: described,
        mean_interval: mean_interval(readings, 0.95),
        passed: failures.is_empty(),
        failures,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_failure_is_named() {
        // Mean of 215, 120, 188 is 174.3: under 200, and 120 under 150.
        let rule = Acceptance {
            fewest: 3,
            mean_least: Some(200.0),
            single_least: Some(150.0),
            single_greatest: None,
        };
        let out = judge(&[215.0, 120.0, 188.0], &rule).unwrap();
        assert!(!out.passed);
        assert!(matches!(out.failures[0], Failure::MeanLow { .. }));
        assert_eq!(
            out.failures[1],
            Failure::Low {
                index: 1,
                limit: 150.0,
                reading: 120.0
            }
        );
        assert!(
            judge(&[250.0, 220.0], &rule)
                .unwrap()
                .failures
                .contains(&Failure::TooFew {
                    wanted: 3,
                    there: 2
                })
        );
        assert_eq!(judge(&[], &rule), None);
    }
}
