//! What added thickness does to steps, doors, edges and the fall.
//!
//! Limits come in as parameters with their source; comparisons allow a thousandth of a millimetre
//! for rounding, so that a riser exactly at its limit passes.

use serde::Serialize;
use uom::si::length::millimeter;

use crate::units::Length;

/// Rounding allowed in comparisons, mm. Not a tolerance of the trade.
pub(super) const ROUNDING_MM: f64 = 1e-3;

fn mm(x: Length) -> f64 {
    x.get::<millimeter>()
}

fn from_mm(x: f64) -> Length {
    Length::new::<millimeter>(x)
}

/// Thickness added on each part of a stair. Negative where material is taken off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StairWork {
    /// On the level that the first riser stands on.
    pub below: Length,
    /// On every tread between.
    pub treads: Length,
    /// On the level that the last riser comes up to.
    pub above: Length,
}

impl StairWork {
    /// The work with every thickness multiplied.
    fn scaled(self, by: f64) -> Self {
        StairWork {
            below: self.below * by,
            treads: self.treads * by,
            above: self.above * by,
        }
    }
}

/// The whole riser series after the work, bottom to top.
///
/// A riser grows by what is laid on the level above it and shrinks by what is laid on the level it
/// stands on.
pub fn risers_after(before: &[Length], work: StairWork) -> Vec<Length> {
    let last = before.len().saturating_sub(1);
    before
        .iter()
        .enumerate()
        .map(|(i, riser)| {
            let foot = if i == 0 { work.below } else { work.treads };
            let head = if i == last { work.above } else { work.treads };
            *riser + head - foot
        })
        .collect()
}

/// Which property of a flight a limit holds to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum RiserRule {
    /// No riser higher than this.
    Greatest,
    /// No riser lower than this.
    Least,
    /// Greatest less least riser of the flight, not of neighbours.
    Difference,
}

/// A limit on the risers of a flight.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RiserLimit {
    /// What it limits.
    pub rule: RiserRule,
    /// Limit, mm.
    pub limit_mm: f64,
    /// Where it comes from.
    pub source: String,
}

impl RiserLimit {
    /// The value that the limit is held against, mm. `None` for a flight without risers.
    pub fn measure_mm(&self, risers: &[Length]) -> Option<f64> {
        let greatest = risers.iter().map(|r| mm(*r)).reduce(f64::max)?;
        let least = risers.iter().map(|r| mm(*r)).reduce(f64::min)?;
        Some(match self.rule {
            RiserRule::Greatest => greatest,
            RiserRule::Least => least,
            RiserRule::Difference => greatest - least,
        })
    }

    /// Whether a measured value, mm, keeps the limit.
    pub fn kept(&self, value_mm: f64) -> bool {
        match self.rule {
            RiserRule::Greatest | RiserRule::Difference => value_mm <= self.limit_mm + ROUNDING_MM,
            RiserRule::Least => value_mm >= self.limit_mm - ROUNDING_MM,
        }
    }
}

/// What the work does to a limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Effect {
    /// Kept before and after.
    Kept,
    /// Kept before; the work breaks it.
    Broken,
    /// Outside before; the work brings it inside.
    Mended,
    /// Outside before and after, and the work makes it worse.
    Worse,
    /// Outside before and after, and the work does not make it worse.
    StillOutside,
}

/// A limit held against a flight before and after the work.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RiserCheck {
    /// The limit.
    pub limit: RiserLimit,
    /// Value before, mm.
    pub before_mm: f64,
    /// Value after, mm.
    pub after_mm: f64,
    /// Kept before the work.
    pub kept_before: bool,
    /// Kept after the work.
    pub kept_after: bool,
    /// Both put together.
    pub effect: Effect,
}

/// Holds every limit against the flight before and after.
pub fn check_risers(before: &[Length], after: &[Length], limits: &[RiserLimit]) -> Vec<RiserCheck> {
    limits
        .iter()
        .filter_map(|limit| {
            let (was, is) = (limit.measure_mm(before)?, limit.measure_mm(after)?);
            let (kept_before, kept_after) = (limit.kept(was), limit.kept(is));
            let worse = match limit.rule {
                RiserRule::Least => is < was - ROUNDING_MM,
                _ => is > was + ROUNDING_MM,
            };
            let effect = match (kept_before, kept_after) {
                (true, true) => Effect::Kept,
                (true, false) => Effect::Broken,
                (false, true) => Effect::Mended,
                (false, false) if worse => Effect::Worse,
                (false, false) => Effect::StillOutside,
            };
            Some(RiserCheck {
                limit: limit.clone(),
                before_mm: was,
                after_mm: is,
                kept_before,
                kept_after,
                effect,
            })
        })
        .collect()
}

/// The thinnest and thickest version of the work (as a share of it, 0 to 1) that keeps every limit.
///
/// Every riser is linear in the share, so each limit cuts an interval; the result is where all of
/// them meet. `None` when no version keeps them, not even none at all.
pub fn share_that_keeps(
    before: &[Length],
    work: StairWork,
    limits: &[RiserLimit],
) -> Option<(f64, f64)> {
    let whole = risers_after(before, work.scaled(1.0));
    // Riser i is start[i] + share × grows[i].
    let lines: Vec<(f64, f64)> = before
        .iter()
        .zip(&whole)
        .map(|(b, a)| (mm(*b), mm(*a) - mm(*b)))
        .collect();
    let (mut lo, mut hi) = (0.0f64, 1.0f64);
    // Keeps start + share × grows ≤ bound.
    let mut at_most = |start: f64, grows: f64, bound: f64| {
        let room = bound - start;
        if grows.abs() < 1e-12 {
            if room < -ROUNDING_MM {
                (lo, hi) = (1.0, 0.0);
            }
        } else if grows > 0.0 {
            hi = hi.min((room + ROUNDING_MM) / grows);
        } else {
            lo = lo.max((room + ROUNDING_MM) / grows);
        }
    };
    for limit in limits {
        for (i, (start, grows)) in lines.iter().enumerate() {
            match limit.rule {
                RiserRule::Greatest => at_most(*start, *grows, limit.limit_mm),
                RiserRule::Least => at_most(-start, -grows, -limit.limit_mm),
                RiserRule::Difference => {
                    for (j, (s, g)) in lines.iter().enumerate() {
                        if i != j {
                            at_most(start - s, grows - g, limit.limit_mm);
                        }
                    }
                }
            }
        }
    }
    (lo <= hi).then_some((lo, hi))
}

/// A way out when a limit breaks, with the numbers it would take.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(rename_all = "snake_case", tag = "way")]
pub enum WayOut {
    /// Lay the same work thinner.
    Thinner {
        /// Greatest thickness that keeps every limit, mm.
        greatest_mm: f64,
    },
    /// Taper the walk's layer down toward the foot of the stair.
    Taper {
        /// Thickness left at the foot, mm.
        at_foot_mm: f64,
        /// Length of the taper, mm.
        length_mm: f64,
        /// Fall of the surface after it, as a fraction; positive runs away from the stair.
        fall_after: Option<f64>,
    },
    /// Take material off the walk first, so that its layer ends lower.
    LowerWalk {
        /// Depth to take off at the foot, mm.
        depth_mm: f64,
    },
    /// Lay new concrete at another level at the stair than planned.
    NewLevel {
        /// Which end of the flight the new concrete lies at.
        at: StairEnd,
        /// Its level against what lies there now, mm; negative is lower.
        change_mm: f64,
    },
    /// Build the flight anew with equal risers.
    Rebuild {
        /// Number of risers.
        risers: usize,
        /// Height of each, mm.
        riser_mm: f64,
    },
}

/// An end of a flight.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum StairEnd {
    /// The level that the first riser stands on.
    Foot,
    /// The level that the last riser comes up to.
    Head,
}

/// The level of new concrete at an end of a flight that keeps every limit, nearest to the planned
/// one; the rest of the work stays as planned. `None` when no level within a metre does, or the
/// planned one does.
///
/// Every riser is linear in the level, as in [`share_that_keeps`].
pub fn new_level(
    before: &[Length],
    work: StairWork,
    limits: &[RiserLimit],
    at: StairEnd,
) -> Option<WayOut> {
    const REACH_MM: f64 = 1000.0;
    let none = from_mm(0.0);
    let (rest, span, planned) = match at {
        StairEnd::Foot => (
            StairWork {
                below: from_mm(-REACH_MM),
                ..work
            },
            StairWork {
                below: from_mm(2.0 * REACH_MM),
                treads: none,
                above: none,
            },
            mm(work.below),
        ),
        StairEnd::Head => (
            StairWork {
                above: from_mm(-REACH_MM),
                ..work
            },
            StairWork {
                below: none,
                treads: none,
                above: from_mm(2.0 * REACH_MM),
            },
            mm(work.above),
        ),
    };
    let start = risers_after(before, rest);
    let (lo, hi) = share_that_keeps(&start, span, limits)?;
    let level = |share: f64| share * 2.0 * REACH_MM - REACH_MM;
    let change_mm = planned.clamp(level(lo), level(hi));
    ((change_mm - planned).abs() > 2.0 * ROUNDING_MM).then_some(WayOut::NewLevel { at, change_mm })
}

/// Ways out of a broken riser limit.
///
/// `taper_slope` is how fast a taper may fall (fraction); `fall` is the walk's present fall away
/// from the stair, if known. A way that does not exist for this flight is left out; none at all
/// means that the flight cannot be brought inside the limits by these means.
pub fn ways_out(
    before: &[Length],
    work: StairWork,
    limits: &[RiserLimit],
    taper_slope: f64,
    fall: Option<f64>,
) -> Vec<WayOut> {
    let mut ways = Vec::new();
    let thickest = [work.below, work.treads, work.above]
        .into_iter()
        .map(mm)
        .fold(0.0, f64::max);
    if let Some((_, hi)) = share_that_keeps(before, work, limits)
        && hi < 1.0
        && hi * thickest > ROUNDING_MM
    {
        ways.push(WayOut::Thinner {
            greatest_mm: hi * thickest,
        });
    }
    // Net height change at the foot that keeps the limits, with treads and landing as planned.
    if mm(work.below) > 0.0 {
        let rest = StairWork {
            below: from_mm(0.0),
            ..work
        };
        let start = risers_after(before, rest);
        let foot = StairWork {
            below: work.below,
            treads: from_mm(0.0),
            above: from_mm(0.0),
        };
        if let Some((_, hi)) = share_that_keeps(&start, foot, limits)
            && hi < 1.0
        {
            let at_foot = hi * mm(work.below);
            let drop = mm(work.below) - at_foot;
            if taper_slope > 0.0 {
                let length = drop / taper_slope;
                ways.push(WayOut::Taper {
                    at_foot_mm: at_foot,
                    length_mm: length,
                    fall_after: fall.map(|f| f - taper_slope),
                });
            }
            ways.push(WayOut::LowerWalk { depth_mm: drop });
        } else if share_that_keeps(&start, foot, limits).is_none() {
            // Even without the layer the first riser is too low: how far the walk must go down.
            let down = StairWork {
                below: from_mm(-1.0),
                ..foot
            };
            if let Some(depth) = lowering_that_keeps(&start, down, limits) {
                ways.push(WayOut::LowerWalk {
                    depth_mm: depth + mm(work.below),
                });
            }
        }
    }
    if mm(work.below) == 0.0 {
        // Nothing is laid there: a flight that is outside may still want a lower walk.
        let start = risers_after(before, work);
        let down = StairWork {
            below: from_mm(-1.0),
            treads: from_mm(0.0),
            above: from_mm(0.0),
        };
        if let Some(depth) = lowering_that_keeps(&start, down, limits)
            && depth > ROUNDING_MM
        {
            ways.push(WayOut::LowerWalk { depth_mm: depth });
        }
    }
    let after = risers_after(before, work);
    let rise: f64 = after.iter().map(|r| mm(*r)).sum();
    if let Some((count, each)) = equal_risers(from_mm(rise), before.len(), limits) {
        ways.push(WayOut::Rebuild {
            risers: count,
            riser_mm: mm(each),
        });
    }
    ways
}

/// Smallest lowering of the foot, mm, that keeps the limits; `unit` lowers it by 1 mm.
fn lowering_that_keeps(before: &[Length], unit: StairWork, limits: &[RiserLimit]) -> Option<f64> {
    const DEEPEST_MM: f64 = 1000.0;
    let deepest = unit.scaled(DEEPEST_MM);
    share_that_keeps(before, deepest, limits).map(|(lo, _)| lo * DEEPEST_MM)
}

/// Number and height of equal risers for a total rise, the number nearest to `near` that keeps the
/// greatest and least riser. `None` when no number does.
pub fn equal_risers(rise: Length, near: usize, limits: &[RiserLimit]) -> Option<(usize, Length)> {
    const MOST: usize = 200;
    (1..=MOST)
        .filter(|n| {
            let each = mm(rise) / *n as f64;
            each > 0.0
                && limits.iter().all(|l| match l.rule {
                    RiserRule::Difference => true,
                    _ => l.kept(each),
                })
        })
        .min_by_key(|n| n.abs_diff(near))
        .map(|n| (n, rise / n as f64))
}

/// Length over which a thickness runs out at a slope (fraction). `None` for a slope of zero or less.
pub fn taper_length(thickness: Length, slope: f64) -> Option<Length> {
    (slope > 0.0 && thickness >= from_mm(0.0)).then(|| thickness / slope)
}

/// How far a surface drops over a length at a fall (fraction).
pub fn drop_over(length: Length, fall: f64) -> Length {
    length * fall
}

/// Fall of a surface after a layer that grows from `near` (at the building) to `far` over `length`.
///
/// Fractions; positive runs away from the building. A layer thicker away from the building takes
/// fall away. `None` for a length of zero.
pub fn fall_after(fall: f64, near: Length, far: Length, length: Length) -> Option<f64> {
    (length > from_mm(0.0)).then(|| fall - (mm(far) - mm(near)) / mm(length))
}

/// A fall held between the least that drains and the greatest allowed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum FallVerdict {
    /// Water runs off and the limit is kept.
    Kept,
    /// Too flat: water stands.
    TooFlat,
    /// Runs toward the building.
    Toward,
    /// Steeper than allowed.
    TooSteep,
}

/// Judges a fall (fraction, positive away from the building).
pub fn judge_fall(fall: f64, least: f64, greatest: Option<f64>) -> FallVerdict {
    const ROUNDING: f64 = 1e-6;
    if fall < -ROUNDING {
        FallVerdict::Toward
    } else if fall < least - ROUNDING {
        FallVerdict::TooFlat
    } else if greatest.is_some_and(|g| fall > g + ROUNDING) {
        FallVerdict::TooSteep
    } else {
        FallVerdict::Kept
    }
}

/// A door over the work.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Door {
    /// From the slab up to the top of the threshold.
    pub drop: Length,
    /// Free height under a door leaf that swings out over the slab, if one does.
    pub clearance: Option<Length>,
    /// Greatest drop the rule allows.
    pub greatest_drop: Length,
    /// Free height to leave under the leaf.
    pub leave_clear: Length,
    /// Height to leave between the finished surface and the top of the threshold, so that water
    /// stays out.
    pub leave_lip: Length,
}

/// A door before and after the work.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DoorCheck {
    /// Drop before, mm.
    pub drop_before_mm: f64,
    /// Drop after, mm.
    pub drop_after_mm: f64,
    /// Whether the drop is within the rule after the work.
    pub drop_kept: bool,
    /// Whether the drop was within the rule before.
    pub drop_kept_before: bool,
    /// Whether enough lip is left to keep water out.
    pub lip_kept: bool,
    /// Free height under the leaf after the work, mm; `None` where no leaf swings out.
    pub clear_after_mm: Option<f64>,
    /// Whether the leaf still swings free.
    pub swings: bool,
    /// Greatest thickness that keeps lip and swing, mm; 0 when there is none.
    pub greatest_mm: f64,
}

/// Checks a door against a layer laid in front of it.
pub fn check_door(door: Door, thickness: Length) -> DoorCheck {
    let drop = mm(door.drop);
    let after = drop - mm(thickness);
    let kept = |d: f64| d <= mm(door.greatest_drop) + ROUNDING_MM;
    let clear_after = door.clearance.map(|c| mm(c) - mm(thickness));
    let for_lip = drop - mm(door.leave_lip);
    let for_swing = door
        .clearance
        .map_or(f64::INFINITY, |c| mm(c) - mm(door.leave_clear));
    DoorCheck {
        drop_before_mm: drop,
        drop_after_mm: after,
        drop_kept: kept(after),
        drop_kept_before: kept(drop),
        lip_kept: after >= mm(door.leave_lip) - ROUNDING_MM,
        clear_after_mm: clear_after,
        swings: clear_after.is_none_or(|c| c >= mm(door.leave_clear) - ROUNDING_MM),
        greatest_mm: for_lip.min(for_swing).max(0.0),
    }
}

/// How a trip lip is dealt with.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(rename_all = "snake_case", tag = "way")]
pub enum LipWay {
    /// Low enough to leave.
    Leave,
    /// Bevel it over this length.
    Bevel {
        /// Length of the bevel, mm.
        length_mm: f64,
    },
    /// Ramp it over this length, grind it back, or take it out.
    Ramp {
        /// Length of the ramp or of the ground-back strip, mm.
        length_mm: f64,
    },
}

/// Limits for trip lips. Slopes are fractions (1:2 is 0.5).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LipLimits {
    /// Up to this it may stay.
    pub leave_to: Length,
    /// Up to this it may be bevelled.
    pub bevel_to: Length,
    /// Steepest bevel.
    pub bevel_slope: f64,
    /// Steepest ramp.
    pub ramp_slope: f64,
}

/// How to deal with a trip lip of a given height. `None` for slopes of zero or less.
pub fn deal_with_lip(offset: Length, limits: LipLimits) -> Option<LipWay> {
    let height = mm(offset).abs();
    Some(if height <= mm(limits.leave_to) + ROUNDING_MM {
        LipWay::Leave
    } else if height <= mm(limits.bevel_to) + ROUNDING_MM {
        LipWay::Bevel {
            length_mm: mm(taper_length(from_mm(height), limits.bevel_slope)?),
        }
    } else {
        LipWay::Ramp {
            length_mm: mm(taper_length(from_mm(height), limits.ramp_slope)?),
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use uom::si::length::inch;

    fn inches(x: f64) -> Length {
        Length::new::<inch>(x)
    }

    fn limits() -> Vec<RiserLimit> {
        // IRC R311.7.5.1: 7-3/4 in greatest, 3/8 in difference.
        vec![
            RiserLimit {
                rule: RiserRule::Greatest,
                limit_mm: 7.75 * 25.4,
                source: "R311.7.5.1".into(),
            },
            RiserLimit {
                rule: RiserRule::Difference,
                limit_mm: 0.375 * 25.4,
                source: "R311.7.5.1".into(),
            },
        ]
    }

    fn walk(t: f64) -> StairWork {
        StairWork {
            below: inches(t),
            treads: inches(0.0),
            above: inches(0.0),
        }
    }

    #[test]
    fn a_single_riser_takes_both_levels() {
        let work = StairWork {
            below: inches(0.5),
            treads: inches(9.0),
            above: inches(0.25),
        };
        let after = risers_after(&[inches(6.0)], work);
        assert!((after[0].get::<inch>() - 5.75).abs() < 1e-9);
        assert!(risers_after(&[], work).is_empty());
    }

    #[test]
    fn the_thinner_system_that_keeps_the_limits_is_found() {
        // 7, 7, 7 with 1/2 in on the walk: the difference limit of 3/8 in is reached at 3/8 in.
        let before = [inches(7.0); 3];
        let ways = ways_out(&before, walk(0.5), &limits(), 0.02, Some(0.02));
        let WayOut::Thinner { greatest_mm } = ways[0] else {
            panic!("{ways:?}")
        };
        assert!((greatest_mm / 25.4 - 0.375).abs() < 1e-4);
        // Tapering off 1/8 in at 2 % takes 6.25 in, and all of a 2 % fall.
        let WayOut::Taper {
            at_foot_mm,
            length_mm,
            fall_after,
        } = ways[1]
        else {
            panic!("{ways:?}")
        };
        assert!((at_foot_mm / 25.4 - 0.375).abs() < 1e-4 && (length_mm / 25.4 - 6.25).abs() < 0.01);
        assert_eq!(fall_after, Some(0.0));
        let WayOut::LowerWalk { depth_mm } = ways[2] else {
            panic!("{ways:?}")
        };
        assert!((depth_mm / 25.4 - 0.125).abs() < 1e-4);
    }

    #[test]
    fn a_first_riser_already_short_needs_the_walk_lowered_by_more_than_the_layer() {
        // 3-1/4, 7, 7, 7: the walk must go down 3-3/8 in for the difference of 3/8 in, plus 3/8.
        let before = [3.25, 7.0, 7.0, 7.0].map(inches);
        let ways = ways_out(&before, walk(0.375), &limits(), 0.02, None);
        let WayOut::LowerWalk { depth_mm } = ways[0] else {
            panic!("{ways:?}")
        };
        assert!((depth_mm / 25.4 - 3.75).abs() < 1e-3, "{depth_mm}");
        // Rebuilt: 23-7/8 in over 4 risers is 5.969 in each.
        let WayOut::Rebuild { risers, riser_mm } = ways[1] else {
            panic!("{ways:?}")
        };
        assert_eq!(risers, 4);
        assert!((riser_mm / 25.4 - 5.96875).abs() < 1e-6);
    }

    #[test]
    fn a_walk_that_stays_as_it_is_may_still_be_lowered() {
        // 3-1/4, 7-1/4: the difference of 4 in is 3-5/8 in more than 3/8 in.
        let before = [3.25, 7.25, 7.25].map(inches);
        let ways = ways_out(&before, walk(0.0), &limits(), 0.02, None);
        let WayOut::LowerWalk { depth_mm } = ways[0] else {
            panic!("{ways:?}")
        };
        assert!((depth_mm / 25.4 - 3.625).abs() < 1e-3, "{depth_mm}");
    }

    #[test]
    fn new_concrete_at_the_head_may_lie_only_so_much_lower() {
        // Three risers of 7 in; the landing is laid 2 in lower for a door sill: the last riser
        // would be 5 in. The difference of 3/8 in allows 3/8 in lower, no more.
        let before = [inches(7.0); 3];
        let work = StairWork {
            below: inches(0.0),
            treads: inches(0.0),
            above: inches(-2.0),
        };
        let Some(WayOut::NewLevel { at, change_mm }) =
            new_level(&before, work, &limits(), StairEnd::Head)
        else {
            panic!("no level")
        };
        assert_eq!(at, StairEnd::Head);
        assert!((change_mm / 25.4 + 0.375).abs() < 1e-3, "{change_mm}");
        // At the foot, 1 in lower makes the first riser 8 in: 7-3/8 in is the most.
        let foot = StairWork {
            below: inches(-1.0),
            above: inches(0.0),
            ..work
        };
        assert!(
            matches!(new_level(&before, foot, &limits(), StairEnd::Foot),
                Some(WayOut::NewLevel { change_mm, .. }) if (change_mm / 25.4 + 0.375).abs() < 1e-3)
        );
        // What keeps the limits already needs no other level.
        assert_eq!(
            new_level(&before, walk(0.0), &limits(), StairEnd::Head),
            None
        );
    }

    #[test]
    fn more_on_the_treads_can_mend_a_tall_first_riser() {
        // 7-1/2 foot, then 7: laying 3/8 in on the walk alone mends the difference of 1/2 in.
        let before = [7.5, 7.0, 7.0].map(inches);
        let after = risers_after(&before, walk(0.375));
        let check = &check_risers(&before, &after, &limits())[1];
        assert_eq!(check.effect, Effect::Mended);
    }

    #[test]
    fn doors_keep_their_lip_and_their_swing() {
        let door = Door {
            drop: inches(0.5),
            clearance: Some(inches(0.75)),
            greatest_drop: inches(1.5),
            leave_clear: inches(0.25),
            leave_lip: inches(0.25),
        };
        let ok = check_door(door, inches(0.25));
        assert!(ok.drop_kept && ok.lip_kept && ok.swings);
        let bad = check_door(door, inches(0.625));
        assert!(!bad.lip_kept && !bad.swings && bad.drop_kept);
        // Lip allows 1/4 in, swing 1/2 in: the lesser rules.
        assert!((bad.greatest_mm - 6.35).abs() < 1e-9);
    }

    #[test]
    fn a_taper_takes_fall_away() {
        // 3/8 in over 10 ft is 0.3125 %: 2 % becomes 1.6875 %.
        let f = fall_after(0.02, inches(0.0), inches(0.375), inches(120.0)).unwrap();
        assert!((f - 0.016_875).abs() < 1e-12);
        assert_eq!(judge_fall(f, 0.0104, Some(0.0208)), FallVerdict::Kept);
        assert_eq!(judge_fall(-0.01, 0.0104, None), FallVerdict::Toward);
        assert_eq!(judge_fall(0.005, 0.0104, None), FallVerdict::TooFlat);
        assert_eq!(
            fall_after(0.02, inches(0.0), inches(0.3), inches(0.0)),
            None
        );
    }
}
