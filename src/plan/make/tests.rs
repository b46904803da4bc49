//! Readings to take while working, how many, and what they must keep.

use uom::si::area::square_meter;

use crate::facts::Interval;
use crate::plan::figures::{Figures, MissingFigure};
use crate::plan::inputs::{Inputs, middle};
use crate::plan::model::TestPlan;
use crate::plan::sampling::{Acceptance, CountRule, judge, test_count};
use crate::units::{Area, Kind, Measured, Notation};

use super::order::layer_kind;

pub(super) fn tests(
    inputs: &Inputs,
    figures: &Figures<'_>,
) -> Result<Vec<TestPlan>, MissingFigure> {
    let m2 = |i: Interval| Area::new::<square_meter>(i.lo);
    let whole = |i: Interval| i.lo.clamp(0.0, 1e6) as u32;
    let write = |kind: Kind, i: Interval| kind.write(i, figures.system());
    let drops = CountRule {
        first_count: whole(figures.get("f3191_first")?),
        first_area: m2(figures.get("f3191_first_surface")?),
        further_count: 1,
        further_area: m2(figures.get("f3191_further_surface")?),
    };
    let pulls = CountRule {
        first_count: whole(figures.get("pull_off_count")?),
        first_area: m2(figures.get("pull_off_first_surface")?),
        further_count: 1,
        further_area: m2(figures.get("pull_off_first_surface")?),
    };
    let sheets = CountRule {
        first_count: 0,
        first_area: Area::new::<square_meter>(0.0),
        further_count: 1,
        further_area: m2(figures.get("d4263_surface")?),
    };
    let probes = CountRule {
        first_count: whole(figures.get("thickness_first")?),
        first_area: Area::new::<square_meter>(0.0),
        further_count: 1,
        further_area: m2(figures.get("thickness_surface")?),
    };
    let none = Area::new::<square_meter>(0.0);
    let acid = CountRule {
        first_count: 0,
        first_area: none,
        further_count: whole(figures.get("d4262_readings")?),
        further_area: m2(figures.get("d4262_surface")?),
    };
    // One reading before the first batch, more as the pour moves on.
    let warmth = CountRule {
        first_count: 1,
        ..sheets
    };
    let mut out = Vec::new();
    for area in &inputs.areas {
        let Some(surface) = area.surface_m2 else {
            continue;
        };
        let taken = &area.work_readings;
        let mut add = |test: Test<'_>, rule: CountRule| {
            let Some(count) =
                test_count(Area::new::<square_meter>(surface.hi), rule).filter(|n| *n > 0)
            else {
                return;
            };
            let limits = Acceptance {
                fewest: usize::try_from(count).unwrap_or(usize::MAX),
                ..test.limits
            };
            out.push(TestPlan {
                area: area.id.clone(),
                id: test.id.to_owned(),
                what: test.what.to_owned(),
                count,
                keep: test.keep,
                source: test.source,
                kind: test.kind,
                result: judge(&test.readings, &limits),
                limits,
            });
        };
        if let Some(layer) = &area.layer {
            add(
                Test {
                    id: "water_drops",
                    what: "water drops after preparation",
                    keep: format!(
                        "taken in within {}",
                        write(Kind::Duration, figures.get("f3191_porous")?)
                    ),
                    source: figures.source("f3191_first"),
                    kind: Kind::Duration,
                    limits: Acceptance::default(),
                    readings: Vec::new(),
                },
                drops,
            );
            let window = inputs
                .materials
                .iter()
                .find(|m| m.kind == layer_kind(&layer.system))
                .and_then(|m| m.temperature.as_ref())
                .and_then(Measured::canonical);
            let window = match window {
                Some(window) => window,
                None => figures.get("overlay_air_slab_temperature")?,
            };
            add(
                Test {
                    id: "slab_temperature",
                    what: "slab temperature while placing",
                    keep: write(Kind::Temperature, window),
                    source: figures.source("overlay_air_slab_temperature"),
                    kind: Kind::Temperature,
                    limits: Acceptance {
                        single_least: Some(window.lo - ROUNDING),
                        single_greatest: Some(window.hi + ROUNDING),
                        ..Acceptance::default()
                    },
                    readings: middles(&taken.slab),
                },
                warmth,
            );
            add(
                Test {
                    id: "thickness",
                    what: "thickness with a probe while placing",
                    keep: format!(
                        "{}, never under {} or over {}",
                        write(Kind::Length, Interval::exact(layer.thickness_mm)),
                        write(Kind::Length, Interval::exact(layer.floor_mm)),
                        write(Kind::Length, Interval::exact(layer.ceiling_mm))
                    ),
                    source: figures.source("thickness_surface"),
                    kind: Kind::Length,
                    limits: Acceptance {
                        single_least: Some(layer.floor_mm - ROUNDING),
                        single_greatest: Some(layer.ceiling_mm + ROUNDING),
                        ..Acceptance::default()
                    },
                    readings: middles(&taken.thickness),
                },
                probes,
            );
            let (mean, single) = (
                figures.get("bond_least_overlay")?.lo,
                figures.get("bond_single_overlay")?.lo,
            );
            add(
                Test {
                    id: "pull_off",
                    what: "pull-offs after curing",
                    keep: format!(
                        "mean {} or more, none below {}; a glue failure is repeated",
                        write(Kind::Pressure, Interval::exact(mean)),
                        write(Kind::Pressure, Interval::exact(single))
                    ),
                    source: figures.source("bond_least_overlay"),
                    kind: Kind::Pressure,
                    limits: Acceptance {
                        mean_least: Some(mean * (1.0 - ROUNDING)),
                        single_least: Some(single * (1.0 - ROUNDING)),
                        ..Acceptance::default()
                    },
                    readings: middles(&taken.pull_off),
                },
                pulls,
            );
        }
        if area.sealer.is_some() {
            add(
                Test {
                    id: "sheets",
                    what: "plastic sheets before sealing",
                    keep: format!(
                        "dry after {}",
                        write(Kind::Duration, figures.get("d4263_wait")?)
                    ),
                    source: figures.source("d4263_surface"),
                    kind: Kind::Duration,
                    limits: Acceptance::default(),
                    readings: Vec::new(),
                },
                sheets,
            );
            let window = figures.get("ph_window")?;
            add(
                Test {
                    id: "ph",
                    what: "surface pH before sealing",
                    keep: format!("{} to {}", window.lo, window.hi),
                    source: figures.source("ph_window"),
                    kind: Kind::Number,
                    limits: Acceptance {
                        single_least: Some(window.lo),
                        single_greatest: Some(window.hi),
                        ..Acceptance::default()
                    },
                    readings: taken.ph.clone(),
                },
                acid,
            );
        }
    }
    Ok(out)
}

/// Rounding of conversions between units.
const ROUNDING: f64 = 1e-6;

/// A test and what its readings must keep.
struct Test<'a> {
    id: &'a str,
    what: &'a str,
    keep: String,
    source: String,
    kind: Kind,
    limits: Acceptance,
    readings: Vec<f64>,
}

/// Readings in their canonical unit; what was not read is left out.
fn middles<T: Notation>(readings: &[Measured<T>]) -> Vec<f64> {
    readings.iter().filter_map(|r| middle(Some(r))).collect()
}
