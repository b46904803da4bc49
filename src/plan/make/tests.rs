//! Readings to take while working, how many, and what they must keep.

use uom::si::area::square_meter;

use crate::facts::Interval;
use crate::plan::figures::{Figures, MissingFigure};
use crate::plan::inputs::Inputs;
use crate::plan::model::TestPlan;
use crate::plan::sampling::{CountRule, test_count};
use crate::units::{Area, Kind};

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
    let mut out = Vec::new();
    for area in &inputs.areas {
        let Some(surface) = area.surface_m2 else {
            continue;
        };
        let mut add = |what: &str, rule: CountRule, keep: String, source: String| {
            if let Some(count) =
                test_count(Area::new::<square_meter>(surface.hi), rule).filter(|n| *n > 0)
            {
                out.push(TestPlan {
                    area: area.id.clone(),
                    what: what.to_owned(),
                    count,
                    keep,
                    source,
                });
            }
        };
        if let Some(layer) = &area.layer {
            add(
                "water drops after preparation",
                drops,
                format!(
                    "taken in within {}",
                    write(Kind::Duration, figures.get("f3191_porous")?)
                ),
                figures.source("f3191_first"),
            );
            add(
                "pull-offs after curing",
                pulls,
                format!(
                    "mean {} or more, none below {}; a glue failure is repeated",
                    write(Kind::Pressure, figures.get("bond_least_overlay")?),
                    write(
                        Kind::Pressure,
                        Interval::exact(figures.get("bond_single_overlay")?.lo)
                    )
                ),
                figures.source("pull_off_count"),
            );
            add(
                "thickness with a probe while placing",
                probes,
                format!(
                    "{} over the highest spot",
                    write(Kind::Length, Interval::exact(layer.thickness_mm))
                ),
                figures.source("thickness_surface"),
            );
        }
        if area.sealer.is_some() {
            add(
                "plastic sheets before sealing",
                sheets,
                format!(
                    "dry after {}",
                    write(Kind::Duration, figures.get("d4263_wait")?)
                ),
                figures.source("d4263_surface"),
            );
        }
    }
    Ok(out)
}
