//! What to order: bags, liquids, concrete, runs; and whether the sheets can be true.

use uom::si::length::millimeter;
use uom::si::mass::kilogram;
use uom::si::mass_density::pound_per_cubic_foot;
use uom::si::volume::liter;

use crate::facts::Interval;
use crate::plan::figures::{Figures, MissingFigure};
use crate::plan::inputs::{AreaInput, Inputs, LayerInput};
use crate::plan::model::{Bought, Claim, Lifts, Order, SheetPlan};
use crate::plan::quantities as q;
use crate::record::model::Material;
use crate::units::{Kind, Length, Mass, MassDensity, Measured, System, Volume};

use super::{liquids, middle, over, times};

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
pub(super) fn is_concrete(system: &str) -> bool {
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
        if let Some(l) = canonical(claimed_cover(m)) {
            return Ok((l, format!("what the sheet of {} says a bag covers", m.name)));
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

/// Mixed volume of a bag that a coverage claim amounts to, litres: surface times thickness.
fn claimed_cover(m: &Material) -> Option<Interval> {
    let covers = m.covers.as_ref().and_then(Measured::canonical)?;
    let at = m.covers_at.as_ref().and_then(Measured::canonical)?;
    Some(times(covers, at))
}

/// What tapers and ramps add to a layer and save of it, litres: never less than 0 added, never
/// more than 0 saved. With the words for them.
///
/// A taper down to a drain or a street saves its wedge if it is made; a ramp up a lip takes one.
fn tapers(
    inputs: &Inputs,
    area: &AreaInput,
    layer: &LayerInput,
    figures: &Figures<'_>,
    notes: &mut Vec<String>,
) -> Result<(Interval, Vec<String>), MissingFigure> {
    let slope = figures.get("lip_ramp_slope")?.hi;
    let leave = figures.get("lip_as_is")?.hi;
    let bevelled = figures.get("lip_bevel")?.hi;
    let mm = Length::new::<millimeter>;
    let litres = |run: f64, over: f64, height: f64| {
        q::taper_volume(mm(run), mm(over), mm(height), mm(0.0)).get::<liter>()
    };
    let mut sum = Interval::exact(0.0);
    let mut words = Vec::new();
    if slope <= 0.0 {
        return Ok((sum, words));
    }
    let written = |x: f64| mixed(Interval::exact(x), figures.system());
    for edge in &area.edges {
        // A street edge is tapered only where the new lip may not stay.
        let tapered = match edge.kind.as_str() {
            "drain" => true,
            "street" => edge
                .height_mm
                .is_some_and(|h| h.hi + layer.thickness_mm > leave),
            _ => false,
        };
        if !tapered {
            continue;
        }
        let Some(run) = edge.run_mm else {
            notes.push(format!(
                "The side of {} that borders the {} is not recorded, so its taper is left out of the amount.",
                area.name, edge.kind
            ));
            continue;
        };
        let saved = litres(run, layer.thickness_mm / slope, layer.thickness_mm);
        sum.lo -= saved;
        words.push(format!(
            "a taper to the {} saves {}",
            edge.kind,
            written(saved)
        ));
    }
    for lip in inputs.lips.iter().filter(|l| l.area == area.id) {
        // What may be bevelled is ground, not built up.
        if lip.height_mm.hi <= bevelled + 1e-3 {
            continue;
        }
        let Some(run) = lip.run_mm else {
            notes.push(format!(
                "The length of lip {} is not recorded, so its ramp is left out of the amount.",
                lip.defect
            ));
            continue;
        };
        let takes = litres(run.hi, lip.height_mm.hi / slope, lip.height_mm.hi);
        sum.hi += takes;
        words.push(format!(
            "a ramp up lip {} takes {}",
            lip.defect,
            written(takes)
        ));
    }
    Ok((sum, words))
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
pub(super) fn mixed(litres: Interval, system: System) -> String {
    let unit = if system == System::Us { "ft3" } else { "L" };
    Kind::Volume
        .write_in(litres, unit)
        .unwrap_or_default()
        .replace("ft3", "ft³")
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
        let order = layer_order(inputs, area, layer, figures, notes)?;
        let bags = order
            .as_ref()
            .filter(|o| o.bought == Bought::Bags)
            .map(|o| o.amount);
        out.extend(order);
        out.extend(bags.and_then(|bags| liquids::pigment(inputs, bags)));
        out.extend(liquids::release(inputs, area, layer, figures)?);
    }
    out.extend(liquids::bond(inputs, area, figures)?);
    out.extend(patch_order(inputs, area, figures, notes)?);
    if let Some(m2) = area.replace_m2 {
        out.extend(concrete_order(inputs, m2, figures, notes)?);
    }
    out.extend(liquids::cracks(inputs, area, figures, notes)?);
    out.extend(liquids::joints(inputs, area, figures)?);
    out.extend(liquids::sealer(inputs, area, figures));
    Ok(out)
}

fn layer_order(
    inputs: &Inputs,
    area: &AreaInput,
    layer: &LayerInput,
    figures: &mut Figures<'_>,
    notes: &mut Vec<String>,
) -> Result<Option<Order>, MissingFigure> {
    let Some(whole) = layer_litres(inputs, area, layer, figures)? else {
        notes.push(format!(
            "The surface of {} is not known, so nothing can be ordered for it.",
            area.name
        ));
        return Ok(None);
    };
    let (taper, wedges) = tapers(inputs, area, layer, figures, notes)?;
    let litres = Interval {
        lo: (whole.lo + taper.lo).max(0.0),
        hi: whole.hi + taper.hi,
    };
    let wedges = wedges.iter().map(|w| format!("; {w}")).collect::<String>();
    let filled = filled(inputs, layer);
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
                "{} at {} is {}{filled}{wedges}; with {} waste",
                Kind::Area.write(surface, system),
                Kind::Length.write(Interval::exact(layer.thickness_mm), system),
                volume(whole),
                Kind::Share.write(waste, system)
            ),
            packs: None,
            lifts: Vec::new(),
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
            "{} at {} is {}{filled}{wedges}; {} waste, {} from a bag",
            Kind::Area.write(surface, system),
            Kind::Length.write(Interval::exact(layer.thickness_mm), system),
            volume(whole),
            Kind::Share.write(waste, system),
            volume(bag)
        ),
        packs: None,
        lifts: Vec::new(),
    }))
}

/// What the volume of a layer fills besides its own thickness, in words.
fn filled(inputs: &Inputs, layer: &LayerInput) -> &'static str {
    let grooves = inputs.relief_mm.is_some_and(|r| r.hi > 0.0);
    match (layer.roughened, grooves) {
        (true, true) => ", texture and old grooves filled",
        (true, false) => ", texture filled",
        (false, true) => ", old grooves filled",
        (false, false) => "",
    }
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
    let mm = Length::new::<millimeter>;
    let mut by_lift = Vec::new();
    for patch in &area.patches {
        match q::lifts(mm(patch.depth_mm.hi), mm(lift.lo), mm(lift.hi)) {
            Ok(lifts) if lifts.len() > 1 => by_lift.push(Lifts {
                defect: patch.defect,
                lifts_mm: lifts.iter().map(|l| l.get::<millimeter>()).collect(),
            }),
            Ok(_) => {}
            Err(e) => notes.push(format!(
                "The patch of defect {} in {}: {e}.",
                patch.defect, area.name
            )),
        }
    }
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
            "defect{} {}: surface times depth is {}; {} waste, {} from a bag",
            if defects.len() == 1 { "" } else { "s" },
            defects.join(", "),
            mixed(litres, figures.system()),
            Kind::Share.write(waste, figures.system()),
            mixed(bag, figures.system())
        ),
        packs: None,
        lifts: by_lift,
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
        packs: None,
        lifts: Vec::new(),
    }))
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
        let by_yield = read(m.bag_yield.as_ref().and_then(Measured::canonical));
        let by_cover = read(claimed_cover(m));
        let system = figures.system();
        let volume = |l: f64| mixed(Interval::exact(l), system);
        if let (Some(own), Some(cover)) = (by_yield, by_cover)
            && (cover > own * (1.0 + slack) || cover < own * (1.0 - slack))
        {
            notes.push(format!(
                "The sheet of {} contradicts itself: a bag yields {}, but what it is said to cover takes {}. Ask the supplier.",
                m.name,
                volume(own),
                volume(cover)
            ));
        }
        let (Some(bag), Some(water)) = (bag, water) else {
            continue;
        };
        let l = Volume::new::<liter>;
        for (claim, litres) in [(Claim::Yield, by_yield), (Claim::Coverage, by_cover)] {
            let Some(litres) = litres else { continue };
            match q::mass_balance(Mass::new::<kilogram>(bag), l(water), l(litres), densities) {
                Ok(balance) => {
                    if !balance.plausible {
                        notes.push(format!(
                            "The {} on the sheet of {} cannot be: {} from a bag, but its mass makes {}. Ask the supplier.",
                            claim.name(),
                            m.name,
                            volume(balance.claimed_l),
                            mixed(Interval { lo: balance.least_l, hi: balance.greatest_l }, system)
                        ));
                    }
                    out.push(SheetPlan {
                        material: m.name.clone(),
                        claim,
                        balance,
                    });
                }
                Err(e) => notes.push(format!("The sheet of {} cannot be checked: {e}.", m.name)),
            }
        }
    }
    Ok(out)
}
