//! Sizes the crew works to: outlines, depths, lifts, runs and loads. Arithmetic only; every limit
//! comes in from the pack's figures.

use serde::Serialize;
use thiserror::Error;
use uom::si::area::square_meter;
use uom::si::force::newton;
use uom::si::length::{inch, meter};
use uom::si::pressure::pascal;

use crate::facts::Interval;
use crate::record::geometry::{self, Bounds};
use crate::units::{Area, Length, Pressure};

/// A force, as uom has it.
pub type Force = uom::si::f64::Force;

/// Why a quantity cannot be worked out.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum QuantityError {
    /// A figure that must be above zero is not.
    #[error("{what} must be more than zero, not {value}")]
    NotPositive {
        /// What it is, in plain words.
        what: &'static str,
        /// The value.
        value: f64,
    },
    /// A figure that must not be below zero is.
    #[error("{what} must not be less than zero, not {value}")]
    Negative {
        /// What it is, in plain words.
        what: &'static str,
        /// The value.
        value: f64,
    },
    /// More bags or coats than anyone buys: a unit is wrong somewhere.
    #[error("{what} comes to {value}; check the units")]
    TooMany {
        /// What it is, in plain words.
        what: &'static str,
        /// The value.
        value: f64,
    },
    /// No number of lifts between the least and greatest lift makes the depth.
    #[error("{depth_mm} mm cannot be filled in lifts of {least_mm} to {greatest_mm} mm")]
    NoLifts {
        /// Depth to fill, mm.
        depth_mm: f64,
        /// Least lift, mm.
        least_mm: f64,
        /// Greatest lift, mm.
        greatest_mm: f64,
    },
}

/// The value itself when it is above zero and finite.
///
/// # Errors
/// Zero, less, or no number.
pub fn positive(what: &'static str, value: f64) -> Result<f64, QuantityError> {
    if value > 0.0 && value.is_finite() {
        Ok(value)
    } else {
        Err(QuantityError::NotPositive { what, value })
    }
}

/// The value itself when it is not below zero and finite.
///
/// # Errors
/// Less than zero, or no number.
pub fn not_negative(what: &'static str, value: f64) -> Result<f64, QuantityError> {
    if value >= 0.0 && value.is_finite() {
        Ok(value)
    } else {
        Err(QuantityError::Negative { what, value })
    }
}

/// Rounds up, forgiving a millionth: conversion factors of the units library are rounded to seven
/// digits, and 30.000003 bags are 30.
pub fn ceil(x: f64) -> f64 {
    (x - x.abs() * 1e-6).ceil().max(0.0)
}

/// Equal lifts that fill a depth, none thicker than `greatest` and none thinner than `least`.
///
/// # Errors
/// No such number of lifts, or a depth or lift of zero.
pub fn lifts(depth: Length, least: Length, greatest: Length) -> Result<Vec<Length>, QuantityError> {
    const MOST: f64 = 1000.0;
    let d = positive("the depth", depth.get::<meter>())?;
    let most = positive("the greatest lift", greatest.get::<meter>())?;
    let few = not_negative("the least lift", least.get::<meter>())?;
    let count = ceil(d / most).max(1.0);
    if count > MOST {
        return Err(QuantityError::TooMany {
            what: "the number of lifts",
            value: count,
        });
    }
    if d / count < few * (1.0 - 1e-9) {
        let mm = |x: f64| x * 1000.0;
        return Err(QuantityError::NoLifts {
            depth_mm: mm(d),
            least_mm: mm(few),
            greatest_mm: mm(most),
        });
    }
    Ok(vec![depth / count; count as usize])
}

/// Rectangle to saw out around a spall: the unsound part with a margin all round, never smaller
/// than the least patch.
pub fn patch_outline(
    length: Length,
    width: Length,
    margin: Length,
    least: (Length, Length),
) -> (Length, Length) {
    let grow = |x: Length, y: Length| (x + margin * 2.0).max(y);
    let (long, short) = if length >= width {
        (length, width)
    } else {
        (width, length)
    };
    (grow(long, least.0), grow(short, least.1))
}

/// Whether two patches are sawn out as one: nearer to each other than `limit`.
pub fn patches_merge(apart: Length, limit: Length) -> bool {
    apart < limit
}

/// Groups of patches that are sawn out as one, by index into `outlines` (mm on the map), with the
/// rectangle round each group. Merging makes a patch larger, which may bring it near a third, so it
/// goes on until nothing more merges.
pub fn merge_patches(outlines: &[Bounds], limit: Length) -> Vec<(Vec<usize>, Bounds)> {
    let mut groups: Vec<(Vec<usize>, Bounds)> = outlines
        .iter()
        .enumerate()
        .map(|(i, b)| (vec![i], *b))
        .collect();
    let apart = |a: Bounds, b: Bounds| {
        Length::new::<uom::si::length::millimeter>(geometry::gap_between(a, b))
    };
    loop {
        let near = (0..groups.len()).find_map(|i| {
            (i + 1..groups.len())
                .find(|&j| patches_merge(apart(groups[i].1, groups[j].1), limit))
                .map(|j| (i, j))
        });
        let Some((i, j)) = near else { return groups };
        let (members, bounds) = groups.remove(j);
        groups[i].0.extend(members);
        groups[i].1 = geometry::hull(groups[i].1, bounds);
    }
}

/// Depth of a saw cut: a share of the slab's thickness, never less than `least`.
pub fn saw_depth(thickness: Length, share: f64, least: Length) -> Length {
    (thickness * share).max(least)
}

/// Depth of the cut over an old joint that a bonded layer carries up: right through the layer and
/// `extra` more, so that the cut meets the old joint.
pub fn saw_over_joint(layer: Length, extra: Length) -> Length {
    layer + extra
}

/// Clear distance to open behind a bar: `least`, or the largest stone of the repair and `extra`
/// more, whichever is greater.
pub fn undercut(stone: Length, least: Length, extra: Length) -> Length {
    (stone + extra).max(least)
}

/// Air that a grinder shroud must move, cubic feet a minute: so much for every inch of the wheel.
pub fn shroud_air(wheel: Length, per_inch: f64) -> f64 {
    // uom keeps an inch to seven digits; a tenth of a cubic foot is finer than any gauge.
    (wheel.get::<inch>() * per_inch * 1e4).round() / 1e4
}

/// Joint spacing that suits a slab: `ratio` times its thickness, no end beyond `cap`.
pub fn joint_band(thickness: Length, ratio: Interval, cap: Length) -> (Length, Length) {
    let end = |ratio: f64| (thickness * ratio).min(cap);
    (end(ratio.lo), end(ratio.hi))
}

/// How a measure stands to its limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Fit {
    /// Inside.
    Within,
    /// Just at the limit.
    AtLimit,
    /// Beyond.
    Over,
}

impl Fit {
    /// Compares with a limit; a ten-thousandth of it counts as just at it.
    pub fn of(value: f64, limit: f64) -> Fit {
        let slack = limit.abs() * 1e-4;
        if value > limit + slack {
            Fit::Over
        } else if value < limit - slack {
            Fit::Within
        } else {
            Fit::AtLimit
        }
    }
}

/// A panel held against shape and spacing.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PanelCheck {
    /// Long side over short side.
    pub ratio: f64,
    /// The ratio against the greatest allowed.
    pub shape: Fit,
    /// The long side in slab thicknesses, against the greatest allowed.
    pub spacing: Fit,
}

/// Holds a panel against the greatest side ratio and the greatest spacing in thicknesses. `None`
/// for a side or thickness of zero.
pub fn check_panel(
    a: Length,
    b: Length,
    thickness: Length,
    greatest_ratio: f64,
    greatest_spacing: f64,
) -> Option<PanelCheck> {
    let (long, short) = (a.max(b), a.min(b));
    let zero = Length::new::<meter>(0.0);
    (short > zero && thickness > zero).then(|| {
        let ratio = (long / short).get::<uom::si::ratio::ratio>();
        let spacing = (long / thickness).get::<uom::si::ratio::ratio>();
        PanelCheck {
            ratio,
            shape: Fit::of(ratio, greatest_ratio),
            spacing: Fit::of(spacing, greatest_spacing),
        }
    })
}

/// A share of a length, least and greatest: how much a slab shrinks as it dries, or how far its
/// edge lifts off the ground as it curls.
pub fn share_of(length: Length, share: Interval) -> (Length, Length) {
    (length * share.lo, length * share.hi)
}

/// Growth of a slab that warms by `rise_f` Fahrenheit degrees, from its growth per 100 of them as a
/// share of its length.
pub fn thermal_growth(length: Length, per_100_f: f64, rise_f: f64) -> Length {
    length * (per_100_f * rise_f / 100.0)
}

/// Depth of a humidity probe: a share of the slab's thickness that depends on how many sides dry.
pub fn probe_depth(thickness: Length, share: f64) -> Length {
    thickness * share
}

/// Stress under a round disk: F/(πd²/4), ASTM C1583. `None` for a disk of no size.
pub fn pull_off_stress(load: Force, disk: Length) -> Option<Pressure> {
    let m2 = disk_area(disk)?.get::<square_meter>();
    Some(Pressure::new::<pascal>(load.get::<newton>() / m2))
}

/// Load on a round disk that makes a stress: σπd²/4, the reverse of [`pull_off_stress`].
pub fn pull_off_load(stress: Pressure, disk: Length) -> Option<Force> {
    let m2 = disk_area(disk)?.get::<square_meter>();
    Some(Force::new::<newton>(stress.get::<pascal>() * m2))
}

fn disk_area(disk: Length) -> Option<Area> {
    (disk > Length::new::<meter>(0.0)).then(|| disk * disk * std::f64::consts::FRAC_PI_4)
}

#[cfg(test)]
mod tests {
    use super::*;
    use uom::si::length::millimeter;

    fn mm(x: f64) -> Length {
        Length::new::<millimeter>(x)
    }

    #[test]
    fn lifts_share_the_depth_evenly() {
        // 60 mm in lifts of 10 to 25 mm: three of 20 mm.
        let l = lifts(mm(60.0), mm(10.0), mm(25.0)).unwrap();
        assert_eq!(l.len(), 3);
        assert!((l[0].get::<millimeter>() - 20.0).abs() < 1e-9);
        // 26 mm in lifts of 15 to 25 mm: two of 13 mm would be too thin, one of 26 too thick.
        assert!(matches!(
            lifts(mm(26.0), mm(15.0), mm(25.0)),
            Err(QuantityError::NoLifts { .. })
        ));
    }

    #[test]
    fn a_spall_is_sawn_out_with_its_margin() {
        // 10 × 3 in with 3 in margin: 16 × 9 in; never under 12 × 4 in.
        let i = |x: f64| Length::new::<inch>(x);
        let (l, w) = patch_outline(i(3.0), i(10.0), i(3.0), (i(12.0), i(4.0)));
        assert!((l.get::<inch>() - 16.0).abs() < 1e-9 && (w.get::<inch>() - 9.0).abs() < 1e-9);
        let (l, w) = patch_outline(i(2.0), i(1.0), i(1.0), (i(12.0), i(4.0)));
        assert!((l.get::<inch>() - 12.0).abs() < 1e-9 && (w.get::<inch>() - 4.0).abs() < 1e-9);
    }

    #[test]
    fn merging_goes_on_until_nothing_is_near() {
        // Limit 300: the first two lie 200 apart; the third is 400 from either, but the rectangle
        // round both reaches to within 150 of it.
        let square = |x: f64, y: f64| ((x, y), (x + 100.0, y + 100.0));
        let list = [square(0.0, 0.0), square(300.0, 400.0), square(-50.0, 650.0)];
        let groups = merge_patches(&list[..2], mm(400.0));
        assert_eq!(groups, vec![(vec![0, 1], ((0.0, 0.0), (400.0, 500.0)))]);
        let groups = merge_patches(&list, mm(400.0));
        assert_eq!(groups.len(), 1);
        assert_eq!(groups[0].1, ((-50.0, 0.0), (400.0, 750.0)));
        // Far apart, each stays by itself.
        assert_eq!(merge_patches(&list, mm(100.0)).len(), 3);
    }

    #[test]
    fn load_and_stress_are_each_other_s_reverse() {
        let disk = Length::new::<inch>(2.0);
        let stress = Pressure::new::<pascal>(1.379e6);
        let load = pull_off_load(stress, disk).unwrap();
        let back = pull_off_stress(load, disk).unwrap();
        assert!((back.get::<pascal>() - 1.379e6).abs() < 1e-3);
        assert!(pull_off_stress(load, mm(0.0)).is_none());
    }

    #[test]
    fn a_panel_of_no_size_has_no_shape() {
        assert_eq!(check_panel(mm(0.0), mm(1.0), mm(1.0), 1.5, 36.0), None);
        assert_eq!(check_panel(mm(1.0), mm(1.0), mm(0.0), 1.5, 36.0), None);
    }
}
