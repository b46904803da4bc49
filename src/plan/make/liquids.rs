//! Liquids and fillers: release, bonding coat, pigment, crack filler, joint sealant, sealer.

use crate::facts::Interval;
use crate::plan::figures::{Figures, MissingFigure};
use crate::plan::inputs::{AreaInput, CrackInput, Inputs, LayerInput};
use crate::plan::model::{Bought, Order, Packs};
use crate::record::model::Material;
use crate::units::{Kind, Measured};

use super::order::find;
use super::{over, times};

fn canonical<T: crate::units::Notation>(m: Option<&Measured<T>>) -> Option<Interval> {
    m.and_then(Measured::canonical).filter(|i| i.lo > 0.0)
}

/// Containers for a volume, where the entry says what they hold.
pub(super) fn packs(material: Option<&Material>, litres: Interval) -> Option<Packs> {
    let size = canonical(material?.pack.as_ref())?;
    let count = |l: f64, size: f64| (l / size - 1e-9).ceil().max(0.0);
    Some(Packs {
        count: Interval {
            lo: count(litres.lo, size.hi),
            hi: count(litres.hi, size.lo),
        },
        size_l: f64::midpoint(size.lo, size.hi),
    })
}

fn order(purpose: &str, material: String, basis: String) -> Order {
    Order {
        purpose: purpose.to_owned(),
        material,
        basis,
        bought: Bought::Liquid,
        amount: Interval::exact(0.0),
        how: String::new(),
        packs: None,
        lifts: Vec::new(),
    }
}

/// How a material covers a surface: by its sheet's spread, by packs that cover so much each, or by
/// a typical spread.
fn spread(
    purpose: &str,
    what: &str,
    (surface, coats): (Interval, u32),
    material: Option<&Material>,
    typical: Option<Interval>,
    figures: &Figures<'_>,
) -> Option<Order> {
    let name = material.map_or_else(|| what.to_owned(), |m| m.name.clone());
    let sheet = format!("data sheet of {name}");
    let wanted = times(surface, Interval::exact(f64::from(coats)));
    let area = Kind::Area.write(surface, figures.system());
    let coats = match coats {
        1 => "one coat".to_owned(),
        n => format!("{n} coats"),
    };
    let own = canonical(material.and_then(|m| m.coverage.as_ref()));
    if own.is_none()
        && let Some(covers) = canonical(material.and_then(|m| m.covers.as_ref()))
    {
        // Powders and the like are bought by what a pack covers.
        let count = |a: f64, b: f64| (a / b - 1e-9).ceil();
        let mut out = order(purpose, name, sheet);
        out.bought = Bought::Packs;
        out.amount = Interval {
            lo: count(wanted.lo, covers.hi),
            hi: count(wanted.hi, covers.lo),
        };
        out.how = format!(
            "{area}, {coats}; a pack covers {}",
            Kind::Area.write(covers, figures.system())
        );
        return Some(out);
    }
    let (coverage, basis) = match (own, typical) {
        (Some(c), _) => (c, sheet),
        (None, Some(c)) if c.lo > 0.0 => (c, "typical range of its family".to_owned()),
        _ => return None,
    };
    let litres = over(wanted, coverage);
    let mut out = order(purpose, name, basis);
    out.amount = litres;
    out.packs = packs(material, litres);
    out.how = format!(
        "{area}, {coats} at {}",
        Kind::Coverage.write(coverage, figures.system())
    );
    Some(out)
}

/// Release for a patterned layer.
pub(super) fn release(
    inputs: &Inputs,
    area: &AreaInput,
    layer: &LayerInput,
    figures: &mut Figures<'_>,
) -> Result<Option<Order>, MissingFigure> {
    let Some(surface) = area.surface_m2.filter(|_| layer.patterned) else {
        return Ok(None);
    };
    let sheet = find(inputs, "release");
    let typical = match sheet {
        None => Some(figures.take("release_spread")?),
        Some(_) => None,
    };
    Ok(spread(
        "release",
        "liquid release",
        (surface, 1),
        sheet,
        typical,
        figures,
    ))
}

/// Bonding coat under a layer or under patches.
pub(super) fn bond(
    inputs: &Inputs,
    area: &AreaInput,
    figures: &mut Figures<'_>,
) -> Result<Vec<Order>, MissingFigure> {
    let patched = area
        .patches
        .iter()
        .map(|p| p.surface_m2)
        .reduce(|a, b| a + b);
    let surface = match (&area.layer, area.surface_m2) {
        (Some(_), Some(surface)) => surface,
        (Some(_), None) => return Ok(Vec::new()),
        (None, _) => match patched {
            Some(surface) => surface,
            None => return Ok(Vec::new()),
        },
    };
    if !area.stages.iter().any(|s| s == "bond") {
        return Ok(Vec::new());
    }
    let own: Vec<&Material> = ["primer", "slurry"]
        .iter()
        .filter_map(|kind| find(inputs, kind))
        .collect();
    if !own.is_empty() {
        return Ok(own
            .into_iter()
            .filter_map(|m| spread(&m.kind, &m.name, (surface, 1), Some(m), None, figures))
            .collect());
    }
    let (what, typical) = match area.bond.as_deref() {
        Some("primer") => ("polymer primer", figures.take("primer_spread")?),
        Some("epoxy") => ("epoxy bonding coat", figures.take("epoxy_bond_spread")?),
        Some("slurry") => {
            // A film of a millimetre on a square metre is a litre.
            let film = figures.take("slurry_film")?;
            let mut out = order(
                "slurry",
                "cement slurry, same mix without stone".to_owned(),
                "typical range of its family".to_owned(),
            );
            out.bought = Bought::Mixed;
            out.amount = times(surface, film);
            out.how = format!(
                "{} brushed {} thick; mixed fresh, as much as is covered while it is wet",
                Kind::Area.write(surface, figures.system()),
                Kind::Length.write(film, figures.system())
            );
            return Ok(vec![out]);
        }
        _ => return Ok(Vec::new()),
    };
    Ok(
        spread("primer", what, (surface, 1), None, Some(typical), figures)
            .into_iter()
            .collect(),
    )
}

/// Pigment for the bags of a layer: packs of the entry's own size.
pub(super) fn pigment(inputs: &Inputs, bags: Interval) -> Option<Order> {
    let m = find(inputs, "pigment")?;
    let each = canonical(m.colours_bags.as_ref())?;
    let count = |a: f64, b: f64| (a / b - 1e-9).ceil();
    let mut out = order(
        "pigment",
        m.name.clone(),
        format!("data sheet of {}", m.name),
    );
    out.bought = Bought::Packs;
    out.amount = Interval {
        lo: count(bags.lo, each.hi),
        hi: count(bags.hi, each.lo),
    };
    out.how = format!(
        "a pack colours {}",
        if each == Interval::exact(1.0) {
            "one bag of mix".to_owned()
        } else {
            format!(
                "{} bags of mix",
                Kind::Number.write(each, crate::units::System::Us)
            )
        }
    );
    Some(out)
}

/// What fills the cracks, one line for each way of filling.
pub(super) fn cracks(
    inputs: &Inputs,
    area: &AreaInput,
    figures: &mut Figures<'_>,
    notes: &mut Vec<String>,
) -> Result<Vec<Order>, MissingFigure> {
    const WAYS: [(&str, &str); 6] = [
        ("gravity_resin", "thin resin, poured in"),
        ("inject", "injection epoxy"),
        ("flood", "methacrylate flood resin"),
        ("rout_seal", "crack sealant"),
        ("slot_fill", "dry pack or epoxy grout"),
        ("carry_joint", "soft crack filler"),
    ];
    let mut out = Vec::new();
    for (way, name) in WAYS {
        let own: Vec<&CrackInput> = area.cracks.iter().filter(|c| c.repair == way).collect();
        if own.is_empty() {
            continue;
        }
        let sheet = find(inputs, "crack_filler");
        let ids: Vec<String> = own.iter().map(|c| c.defect.to_string()).collect();
        let run = own.iter().fold(Interval::exact(0.0), |s, c| s + c.run_mm);
        let head = format!(
            "defect{} {}, {}",
            if ids.len() == 1 { "" } else { "s" },
            ids.join(", "),
            Kind::Length.write(run, figures.system())
        );
        let filled = if way == "flood" {
            match area.surface_m2 {
                Some(surface) => {
                    let rate = figures.take("methacrylate_rate")?;
                    let how = format!(
                        "flooded over {} at {}",
                        Kind::Area.write(surface, figures.system()),
                        Kind::Coverage.write(rate, figures.system())
                    );
                    Some((over(surface, rate), how))
                }
                None => None,
            }
        } else {
            fill(inputs, &own, way, figures)?
        };
        let mut line = order(
            "cracks",
            sheet.map_or_else(|| name.to_owned(), |m| m.name.clone()),
            "runs and widths in the record".to_owned(),
        );
        match filled {
            Some((litres, how)) => {
                line.amount = litres;
                line.packs = packs(sheet, litres);
                line.how = format!("{head}, {how}");
            }
            None => {
                notes.push(format!(
                    "The amount of {} for {} is not known: read the width of the cracks{}.",
                    line.material,
                    area.name,
                    if inputs.slab_mm.is_none() {
                        " and the thickness of the slab"
                    } else {
                        ""
                    }
                ));
                line.bought = Bought::Run;
                line.amount = run;
                line.how = head;
            }
        }
        out.push(line);
    }
    Ok(out)
}

/// Litres for cracks filled one way, and how they come about. `None` where a width or a depth is
/// not known.
fn fill(
    inputs: &Inputs,
    cracks: &[&CrackInput],
    way: &str,
    figures: &Figures<'_>,
) -> Result<Option<(Interval, String)>, MissingFigure> {
    let write = |i: Interval| Kind::Length.write(i, figures.system());
    let groove = figures.get("rout_width")?.lo;
    let share = figures.get("sealant_depth_share")?.lo;
    let slot = figures.get("slot_size")?.lo;
    let mut sum = Interval::exact(0.0);
    let mut widest = Interval::exact(0.0);
    for crack in cracks {
        // Cross-section, mm².
        let section = match way {
            "slot_fill" => Interval::exact(slot * slot),
            "rout_seal" | "carry_joint" => {
                let width = crack
                    .width_mm
                    .unwrap_or(Interval::exact(0.0))
                    .hi
                    .max(groove);
                widest = Interval::exact(widest.hi.max(width));
                Interval::exact(width * width * share)
            }
            _ => {
                let (Some(width), Some(slab)) = (crack.width_mm, inputs.slab_mm) else {
                    return Ok(None);
                };
                widest = Interval {
                    lo: if widest.hi == 0.0 {
                        width.lo
                    } else {
                        widest.lo.min(width.lo)
                    },
                    hi: widest.hi.max(width.hi),
                };
                times(width, slab)
            }
        };
        // Cubic millimetres to litres.
        let litres = times(crack.run_mm, section);
        sum = sum
            + Interval {
                lo: litres.lo / 1e6,
                hi: litres.hi / 1e6,
            };
    }
    let how = match way {
        "slot_fill" => format!("in a slot {} wide and deep", write(Interval::exact(slot))),
        "rout_seal" | "carry_joint" => {
            format!("in a groove {} wide, sealed half as deep", write(widest))
        }
        _ => format!("{} wide, through the slab at most", write(widest)),
    };
    Ok(Some((sum, how)))
}

/// Sealant and backer rod for the joints between panels.
pub(super) fn joints(
    inputs: &Inputs,
    area: &AreaInput,
    figures: &mut Figures<'_>,
) -> Result<Vec<Order>, MissingFigure> {
    if area.joints_mm <= 0.0 || !area.stages.iter().any(|s| s == "joints") {
        return Ok(Vec::new());
    }
    // A joint is opened to the least groove where it is narrower than that.
    let least = figures.get("rout_width")?.lo;
    let width = match area.joint_width_mm {
        Some(w) => Interval {
            lo: w.lo.max(least),
            hi: w.hi.max(least),
        },
        None => figures.take("joint_seal_width")?,
    };
    let share = figures.get("sealant_depth_share")?.lo;
    let extra = figures.get("backer_rod_extra")?.lo;
    let write = |i: Interval| Kind::Length.write(i, figures.system());
    let run = Interval::exact(area.joints_mm);
    let section = times(width, times(width, Interval::exact(share)));
    let litres = times(run, section);
    let litres = Interval {
        lo: litres.lo / 1e6,
        hi: litres.hi / 1e6,
    };
    let sheet = find(inputs, "joint_sealant");
    let basis = if area.joint_width_mm.is_some() {
        "panels and joint width in the record"
    } else {
        "panels in the record, usual joint width"
    };
    let mut sealant = order(
        "joints",
        sheet.map_or_else(|| "joint sealant".to_owned(), |m| m.name.clone()),
        basis.to_owned(),
    );
    sealant.amount = litres;
    sealant.packs = packs(sheet, litres);
    sealant.how = format!(
        "{} of joint {} wide, sealed half as deep",
        write(run),
        write(width)
    );
    let mut rod = order("joints", "backer rod".to_owned(), basis.to_owned());
    rod.bought = Bought::Run;
    rod.amount = run;
    rod.how = format!(
        "{} or thicker, a quarter more than the joint",
        write(Interval::exact(width.hi * (1.0 + extra)))
    );
    Ok(vec![sealant, rod])
}

/// The sealer, coat by coat.
pub(super) fn sealer(inputs: &Inputs, area: &AreaInput, figures: &Figures<'_>) -> Option<Order> {
    let (surface, (name, coverage, coats)) = (area.surface_m2?, area.sealer.as_ref()?);
    // Where several are listed, the one that is called what the method chose.
    let kind = name.split_whitespace().next().unwrap_or_default();
    let sheet = inputs
        .materials
        .iter()
        .find(|m| m.kind == "sealer" && m.name.to_lowercase().contains(kind))
        .or_else(|| find(inputs, "sealer"));
    spread(
        "sealer",
        name,
        (surface, *coats),
        sheet,
        Some(*coverage),
        figures,
    )
}
