//! What to order: bags, liquids, concrete, runs; and whether the sheets can be true.

use uom::si::length::millimeter;
use uom::si::mass::kilogram;
use uom::si::mass_density::pound_per_cubic_foot;
use uom::si::volume::liter;

use crate::facts::Interval;
use crate::plan::figures::{Figures, MissingFigure};
use crate::plan::inputs::{AreaInput, Inputs, LayerInput};
use crate::plan::model::{Bought, Order, SheetPlan};
use crate::plan::quantities as q;
use crate::record::model::Material;
use crate::units::{Kind, Length, Mass, MassDensity, Measured, System, Volume};

use super::{middle, over, times};

/// The material kind that a layer is laid with.
pub(super) fn layer_kind(system: &str) -> &'static str {
    match system {
        "skim" => "skim",
        "thin_broom" | "spray_texture" => "resurfacer",
        "bonded_topping" => "topping",
        "self_leveling" => "self_leveling",
        _ => "overlay",
    }
}

/// Layers that are ordered as ready-mixed concrete rather than in bags.
fn is_concrete(system: &str) -> bool {
    matches!(
        system,
        "bonded_overlay" | "unbonded_topping" | "latex_overlay"
    )
}

pub(super) fn find<'a>(inputs: &'a Inputs, kind: &str) -> Option<&'a Material> {
    inputs.materials.iter().find(|m| m.kind == kind)
}

fn density(figures: &Figures<'_>) -> Result<(MassDensity, MassDensity), MissingFigure> {
    let lb_ft3 = figures.get("wet_density")?;
    let d = MassDensity::new::<pound_per_cubic_foot>;
    Ok((d(lb_ft3.lo), d(lb_ft3.hi)))
}

/// Mixed volume of a bag, litres: from the sheet, from its mass, or the family's typical range.
pub(super) fn bag_yield(
    material: Option<&Material>,
    typical: &str,
    figures: &mut Figures<'_>,
    notes: &mut Vec<String>,
) -> Result<(Interval, String), MissingFigure> {
    let canonical = |m: Option<Interval>| m.filter(|i| i.lo > 0.0);
    if let Some(m) = material {
        if let Some(l) = canonical(m.bag_yield.as_ref().and_then(Measured::canonical)) {
            return Ok((l, format!("data sheet of {}", m.name)));
        }
        let bag = canonical(m.bag.as_ref().and_then(Measured::canonical));
        let water = canonical(m.water.as_ref().and_then(Measured::canonical));
        if let (Some(bag), Some(water)) = (bag, water) {
            let (light, heavy) = density(figures)?;
            let kg_l = |d: MassDensity| {
                d.get::<uom::si::mass_density::kilogram_per_cubic_meter>() / 1000.0
            };
            let mass = bag + water;
            let l = over(
                mass,
                Interval {
                    lo: kg_l(light),
                    hi: kg_l(heavy),
                },
            );
            figures.take("wet_density")?;
            notes.push(format!(
                "The sheet of {} gives no yield. It is worked out from the bag, its water and the usual wet density: {}. Look it up before ordering.",
                m.name,
                mixed(l, figures.system())
            ));
            return Ok((l, format!("mass of {} and its water", m.name)));
        }
        notes.push(format!(
            "The entry for {} has neither yield nor bag and water; the typical range of its family is used.",
            m.name
        ));
    }
    let l = figures.take(typical)?;
    Ok((l, "typical range of its family".to_owned()))
}

/// Volume of a layer on an area, litres, with texture and old grooves.
pub(super) fn layer_litres(
    inputs: &Inputs,
    area: &AreaInput,
    layer: &LayerInput,
    figures: &mut Figures<'_>,
) -> Result<Option<Interval>, MissingFigure> {
    let Some(surface) = area.surface_m2 else {
        return Ok(None);
    };
    let texture = if layer.roughened {
        figures.take("texture_fill")?
    } else {
        Interval::exact(0.0)
    };
    let grooves = match inputs.relief_mm {
        Some(relief) if relief.hi > 0.0 => {
            let share = figures.take("groove_share")?;
            let round = q::GrooveShape::Round.share();
            Interval {
                lo: relief.lo * share.lo * round,
                hi: relief.hi * share.hi * round,
            }
        }
        _ => Interval::exact(0.0),
    };
    // A millimetre on a square metre is a litre.
    let depth = Interval::exact(layer.thickness_mm) + texture + grooves;
    Ok(Some(times(surface, depth)))
}

/// Mixed volume as the trade writes it: cubic feet or litres.
fn mixed(litres: Interval, system: System) -> String {
    let unit = if system == System::Us { "ft3" } else { "L" };
    Kind::Volume.write_in(litres, unit).unwrap_or_default()
}

fn typical_yield(system: &str) -> &'static str {
    match layer_kind(system) {
        "resurfacer" | "skim" => "yield_resurfacer_bag",
        "topping" => "yield_topping_bag",
        _ => "yield_overlay_bag",
    }
}

/// Bags for a range of net volumes and yields: the fewest and the most.
fn bag_range(
    litres: Interval,
    waste: Interval,
    bag: Interval,
    notes: &mut Vec<String>,
) -> Option<Interval> {
    let l = Volume::new::<liter>;
    let fewest = q::bags(l(litres.lo), waste.lo, l(bag.hi));
    let most = q::bags(l(litres.hi), waste.hi, l(bag.lo));
    match (fewest, most) {
        (Ok(a), Ok(b)) => Some(Interval {
            lo: a as f64,
            hi: b as f64,
        }),
        (Err(e), _) | (_, Err(e)) => {
            notes.push(format!("Bags cannot be counted: {e}."));
            None
        }
    }
}

pub(super) fn orders(
    inputs: &Inputs,
    area: &AreaInput,
    figures: &mut Figures<'_>,
    notes: &mut Vec<String>,
) -> Result<Vec<Order>, MissingFigure> {
    let mut out = Vec::new();
    if let Some(layer) = &area.layer {
        out.extend(layer_order(inputs, area, layer, figures, notes)?);
        if layer.patterned
            && let Some(m) = find(inputs, "release")
        {
            out.extend(liquid(area, "release", m.name.clone(), m, 1, figures));
        }
        for kind in ["primer", "slurry"] {
            if area.stages.iter().any(|s| s == "bond")
                && let Some(m) = find(inputs, kind)
            {
                out.extend(liquid(area, "primer", m.name.clone(), m, 1, figures));
            }
        }
    }
    out.extend(patch_order(inputs, area, figures, notes)?);
    if let Some(m2) = area.replace_m2 {
        out.extend(concrete_order(inputs, m2, figures, notes)?);
    }
    for (purpose, what, run) in [
        ("cracks", "crack filler", area.cracks_mm),
        (
            "joints",
            "joint sealant and backer rod",
            Interval::exact(area.joints_mm),
        ),
    ] {
        if run.hi > 0.0 && area.stages.iter().any(|s| s == purpose) {
            let name = if purpose == "cracks" {
                find(inputs, "crack_filler").map(|m| m.name.clone())
            } else {
                None
            };
            out.push(Order {
                purpose: purpose.to_owned(),
                material: name.unwrap_or_else(|| what.to_owned()),
                basis: "runs in the record".to_owned(),
                bought: Bought::Run,
                amount: run,
                how: "the run to be filled; the amount follows from its width and depth".to_owned(),
                lifts_mm: Vec::new(),
            });
        }
    }
    if let (Some(surface), Some((name, coverage, coats))) = (area.surface_m2, &area.sealer) {
        let sheet = find(inputs, "sealer");
        let own = sheet
            .and_then(|m| m.coverage.as_ref())
            .and_then(Measured::canonical)
            .filter(|c| c.lo > 0.0);
        let (coverage, basis) = match (own, sheet) {
            (Some(c), Some(m)) => (c, format!("data sheet of {}", m.name)),
            _ => (*coverage, "typical range of its family".to_owned()),
        };
        if coverage.lo > 0.0 {
            let litres = over(times(surface, Interval::exact(f64::from(*coats))), coverage);
            out.push(Order {
                purpose: "sealer".to_owned(),
                material: sheet.map_or_else(|| name.clone(), |m| m.name.clone()),
                basis,
                bought: Bought::Liquid,
                amount: litres,
                how: format!(
                    "{} in {coats} {} at {}",
                    Kind::Area.write(surface, figures.system()),
                    if *coats == 1 { "coat" } else { "coats" },
                    Kind::Coverage.write(coverage, figures.system())
                ),
                lifts_mm: Vec::new(),
            });
        }
    }
    Ok(out)
}

fn layer_order(
    inputs: &Inputs,
    area: &AreaInput,
    layer: &LayerInput,
    figures: &mut Figures<'_>,
    notes: &mut Vec<String>,
) -> Result<Option<Order>, MissingFigure> {
    let Some(litres) = layer_litres(inputs, area, layer, figures)? else {
        notes.push(format!(
            "The surface of {} is not known, so nothing can be ordered for it.",
            area.name
        ));
        return Ok(None);
    };
    let waste = figures.get("waste")?;
    let sheet = find(inputs, layer_kind(&layer.system));
    let system = figures.system();
    let surface = area.surface_m2.unwrap_or(Interval::exact(0.0));
    let volume = |l: Interval| mixed(l, system);
    if is_concrete(&layer.system) && sheet.is_none() {
        let with = times(
            litres,
            Interval {
                lo: 1.0 + waste.lo,
                hi: 1.0 + waste.hi,
            },
        );
        return Ok(Some(Order {
            purpose: "layer".to_owned(),
            material: layer.name.clone(),
            basis: "ordered as ready-mixed concrete".to_owned(),
            bought: Bought::Concrete,
            amount: with,
            how: format!(
                "{} at {}, with {} waste",
                Kind::Area.write(surface, system),
                Kind::Length.write(Interval::exact(layer.thickness_mm), system),
                Kind::Share.write(waste, system)
            ),
            lifts_mm: Vec::new(),
        }));
    }
    let (bag, basis) = bag_yield(sheet, typical_yield(&layer.system), figures, notes)?;
    let Some(bags) = bag_range(litres, waste, bag, notes) else {
        return Ok(None);
    };
    Ok(Some(Order {
        purpose: "layer".to_owned(),
        material: sheet.map_or_else(|| layer.name.clone(), |m| m.name.clone()),
        basis,
        bought: Bought::Bags,
        amount: bags,
        how: format!(
            "{} at {} is {} with the texture filled; {} waste, {} from a bag",
            Kind::Area.write(surface, system),
            Kind::Length.write(Interval::exact(layer.thickness_mm), system),
            volume(litres),
            Kind::Share.write(waste, system),
            volume(bag)
        ),
        lifts_mm: Vec::new(),
    }))
}

fn patch_order(
    inputs: &Inputs,
    area: &AreaInput,
    figures: &mut Figures<'_>,
    notes: &mut Vec<String>,
) -> Result<Option<Order>, MissingFigure> {
    if area.patches.is_empty() {
        return Ok(None);
    }
    let sheet = find(inputs, "patch");
    let waste = figures.get("waste")?;
    let litres = area
        .patches
        .iter()
        .map(|p| times(p.surface_m2, p.depth_mm))
        .fold(Interval::exact(0.0), |s, x| s + x);
    let (bag, basis) = bag_yield(sheet, "yield_mortar_bag", figures, notes)?;
    let Some(bags) = bag_range(litres, waste, bag, notes) else {
        return Ok(None);
    };
    let lift = match sheet
        .and_then(|m| m.lift.as_ref())
        .and_then(Measured::canonical)
    {
        Some(lift) => lift,
        None => Interval {
            lo: 0.0,
            hi: figures.take("lift_polymer_mortar")?.hi,
        },
    };
    let deepest = area
        .patches
        .iter()
        .map(|p| p.depth_mm.hi)
        .fold(0.0, f64::max);
    let mm = Length::new::<millimeter>;
    let lifts_mm = match q::lifts(mm(deepest), mm(lift.lo), mm(lift.hi)) {
        Ok(lifts) => lifts.iter().map(|l| l.get::<millimeter>()).collect(),
        Err(e) => {
            notes.push(format!("The deepest patch of {}: {e}.", area.name));
            Vec::new()
        }
    };
    let defects: Vec<String> = area.patches.iter().map(|p| p.defect.to_string()).collect();
    Ok(Some(Order {
        purpose: "patch".to_owned(),
        material: sheet.map_or_else(
            || "polymer-modified patching mortar".to_owned(),
            |m| m.name.clone(),
        ),
        basis,
        bought: Bought::Bags,
        amount: bags,
        how: format!(
            "defects {}: surface times depth, {} waste, {} from a bag",
            defects.join(", "),
            Kind::Share.write(waste, figures.system()),
            mixed(bag, figures.system())
        ),
        lifts_mm: if lifts_mm.len() > 1 {
            lifts_mm
        } else {
            Vec::new()
        },
    }))
}

fn concrete_order(
    inputs: &Inputs,
    m2: Interval,
    figures: &mut Figures<'_>,
    notes: &mut Vec<String>,
) -> Result<Option<Order>, MissingFigure> {
    let Some(thick) = inputs.slab_mm else {
        notes.push(
            "The thickness of the slab is not known, so no concrete can be ordered.".to_owned(),
        );
        return Ok(None);
    };
    let waste = figures.take("waste_replace")?;
    let litres = times(
        times(m2, thick),
        Interval {
            lo: 1.0 + waste.lo,
            hi: 1.0 + waste.hi,
        },
    );
    Ok(Some(Order {
        purpose: "concrete".to_owned(),
        material: "concrete for the new panels".to_owned(),
        basis: "surface and slab thickness in the record".to_owned(),
        bought: Bought::Concrete,
        amount: litres,
        how: format!(
            "{} at {}, with {} waste",
            Kind::Area.write(m2, figures.system()),
            Kind::Length.write(thick, figures.system()),
            Kind::Share.write(waste, figures.system())
        ),
        lifts_mm: Vec::new(),
    }))
}

/// A liquid from the sheet's coverage; nothing where the sheet gives none.
fn liquid(
    area: &AreaInput,
    purpose: &str,
    name: String,
    material: &Material,
    coats: u32,
    figures: &Figures<'_>,
) -> Option<Order> {
    let coverage = material
        .coverage
        .as_ref()
        .and_then(Measured::canonical)
        .filter(|c| c.lo > 0.0)?;
    let surface = area.surface_m2?;
    Some(Order {
        purpose: purpose.to_owned(),
        material: name.clone(),
        basis: format!("data sheet of {name}"),
        bought: Bought::Liquid,
        amount: over(times(surface, Interval::exact(f64::from(coats))), coverage),
        how: format!(
            "{} at {}",
            Kind::Area.write(surface, figures.system()),
            Kind::Coverage.write(coverage, figures.system())
        ),
        lifts_mm: Vec::new(),
    })
}

/// Every sheet that gives bag, water and yield, held against mass.
pub(super) fn sheets(
    inputs: &Inputs,
    figures: &Figures<'_>,
    notes: &mut Vec<String>,
) -> Result<Vec<SheetPlan>, MissingFigure> {
    let slack = figures.get("wet_density_slack")?.hi;
    let (light, heavy) = density(figures)?;
    let densities = (light * (1.0 - slack), heavy * (1.0 + slack));
    let mut out = Vec::new();
    for m in &inputs.materials {
        let read = |x: Option<Interval>| x.map(middle);
        let bag = read(m.bag.as_ref().and_then(Measured::canonical));
        let water = read(m.water.as_ref().and_then(Measured::canonical));
        let claimed = read(m.bag_yield.as_ref().and_then(Measured::canonical));
        let (Some(bag), Some(water), Some(claimed)) = (bag, water, claimed) else {
            continue;
        };
        let l = Volume::new::<liter>;
        match q::mass_balance(Mass::new::<kilogram>(bag), l(water), l(claimed), densities) {
            Ok(balance) => {
                if !balance.plausible {
                    let system = figures.system();
                    notes.push(format!(
                        "The yield on the sheet of {} cannot be: {} from a bag, but its mass makes {}. Ask the supplier.",
                        m.name,
                        mixed(Interval::exact(balance.claimed_l), system),
                        mixed(Interval { lo: balance.least_l, hi: balance.greatest_l }, system)
                    ));
                }
                out.push(SheetPlan {
                    material: m.name.clone(),
                    balance,
                });
            }
            Err(e) => notes.push(format!("The sheet of {} cannot be checked: {e}.", m.name)),
        }
    }
    Ok(out)
}
