//! The pour of a layer: crew, batches, bays, and what the working time allows.

use uom::si::thermodynamic_temperature::degree_celsius;

use crate::facts::Interval;
use crate::plan::clock::{
    self, Batch, LargestBay, Pace, PanelToPlace, Role, best_ahead, breaks, largest_bay, one_fewer,
    patterning, simulate, stop_lines, usual_roles,
};
use crate::plan::figures::{Figures, MissingFigure};
use crate::plan::inputs::{AreaInput, Inputs, LayerInput, middle};
use crate::plan::model::{PourPlan, WindowPlan};
use crate::plan::quantities::batch_water;
use crate::plan::setting::{TimeModel, TimeSpread, scaled_time};
use crate::record::model::Crew;
use crate::units::{Duration, Kind, Measured, Temperature, Volume};

use super::order::{bag_yield, find, layer_kind};

/// A pour before its temperature is known.
pub(super) struct Draft {
    pub material: String,
    pub bags_per_batch: u64,
    pub batch_m2: f64,
    pub water_l: Option<(f64, f64, f64)>,
    pub dry_end: bool,
    pub pace: Pace,
    pub batches: Vec<Batch>,
    pub run: clock::Run,
    pub working_min: Interval,
    pub patterned: bool,
}

fn minutes(d: Option<&Measured<Duration>>) -> Option<f64> {
    middle(d).map(|days| days * 1440.0).filter(|m| *m > 0.0)
}

/// The crew's pace; what the record does not say is taken from the trade and listed.
fn pace(crew: Option<&Crew>, figures: &mut Figures<'_>) -> Result<(Pace, u64), MissingFigure> {
    // Two is the fewest who can pour: one mixes while the other places.
    const FEWEST: usize = 2;
    let people = crew.map_or(FEWEST, |c| c.people as usize);
    let mixers = crew.and_then(|c| c.mixers).unwrap_or(1) as usize;
    let take =
        |figures: &mut Figures<'_>, id: &str| figures.take(id).map(|i| f64::midpoint(i.lo, i.hi));
    let bags = match crew.and_then(|c| c.bags_per_batch) {
        Some(n) => u64::from(n),
        None => take(figures, "bags_per_batch")? as u64,
    };
    let mix_min = match minutes(crew.and_then(|c| c.batch_time.as_ref())) {
        Some(m) => m,
        None => take(figures, "batch_time")? * 1440.0,
    };
    let haul_min = match crew.and_then(|c| c.haul_time.as_ref()) {
        // A haul of no time is a mixer beside the slab, and a statement of its own.
        Some(d) if !d.is_unknown() => middle(Some(d)).unwrap_or(0.0) * 1440.0,
        _ => take(figures, "haul_time")? * 1440.0,
    };
    let spread_m2_h =
        match middle(crew.and_then(|c| c.spread_per_hour.as_ref())).filter(|x| *x > 0.0) {
            Some(m2) => m2,
            None => take(figures, "spread_rate_person")?,
        };
    // The record's pace is for spreading and finishing together, so finishers spread too.
    let mut people = usual_roles(people);
    for p in &mut people {
        if p.roles.contains(&Role::Finish) {
            p.roles.retain(|r| *r != Role::Finish && *r != Role::Spread);
            p.roles.insert(0, Role::Spread);
        }
    }
    let pace = Pace {
        people,
        mixers,
        mix_min,
        haul_min,
        back_min: haul_min,
        spread_m2_h,
        finish_m2_h: f64::INFINITY,
        ahead: 1,
    };
    Ok((pace, bags))
}

/// Batches and the run, before the temperature is known. `None` where nothing is poured from bags
/// or something it needs is not known; the reason is in the notes.
pub(super) fn draft(
    inputs: &Inputs,
    area: &AreaInput,
    figures: &mut Figures<'_>,
    notes: &mut Vec<String>,
) -> Result<Option<Draft>, MissingFigure> {
    let Some(layer) = &area.layer else {
        return Ok(None);
    };
    let sheet = find(inputs, layer_kind(&layer.system));
    if sheet.is_none()
        && matches!(
            layer.system.as_str(),
            "bonded_overlay" | "unbonded_topping" | "latex_overlay"
        )
    {
        return Ok(None);
    }
    let Some(_) = area.surface_m2 else {
        return Ok(None);
    };
    let (pace, bags_per_batch) = pace(inputs.crew.as_ref(), figures)?;
    // Said once already with the order: the yield here adds no new note.
    let (bag, _) = bag_yield(sheet, yield_figure(layer), figures, &mut Vec::new())?;
    let texture = if layer.roughened {
        figures.get("texture_fill")?
    } else {
        Interval::exact(0.0)
    };
    let depth = layer.thickness_mm + f64::midpoint(texture.lo, texture.hi);
    let batch_m2 = bags_per_batch as f64 * f64::midpoint(bag.lo, bag.hi) / depth;
    let working_min = match sheet
        .and_then(|m| m.pot_life.as_ref())
        .and_then(Measured::canonical)
        .filter(|d| d.lo > 0.0)
    {
        Some(days) => Interval {
            lo: days.lo * 1440.0,
            hi: days.hi * 1440.0,
        },
        None => {
            let days = figures.take("working_time_overlay")?;
            Interval {
                lo: days.lo * 1440.0,
                hi: days.hi * 1440.0,
            }
        }
    };
    let wet_end = figures.get("water_wet_end_fall")?.hi;
    let dry_end = area
        .fall
        .is_some_and(|f| f.hi.abs().max(f.lo.abs()) > wet_end);
    let water_l = sheet
        .and_then(|m| m.water.as_ref())
        .and_then(Measured::canonical)
        .map(|w| {
            let l = Volume::new::<uom::si::volume::liter>;
            let b = batch_water(bags_per_batch, l(w.lo), l(w.hi), dry_end);
            let get = |v: Volume| v.get::<uom::si::volume::liter>();
            (get(b.least), get(b.start), get(b.greatest))
        });
    let whole = [clock::Bay {
        panels: Vec::new(),
        area_m2: area.panels.iter().map(|p| p.area_m2).sum(),
        fits: true,
    }];
    let run = clock::batches_by_bay(&whole, bags_per_batch, batch_m2).and_then(|(batches, _)| {
        let ahead = best_ahead(&batches, &pace)?;
        let pace = Pace { ahead, ..pace };
        let run = simulate(&batches, &pace)?;
        Ok((batches, pace, run))
    });
    match run {
        Ok((batches, pace, run)) => Ok(Some(Draft {
            material: sheet.map_or_else(|| layer.name.clone(), |m| m.name.clone()),
            bags_per_batch,
            batch_m2,
            water_l,
            dry_end,
            pace,
            batches,
            run,
            working_min,
            patterned: layer.patterned,
        })),
        Err(e) => {
            notes.push(format!("The pour of {} cannot be timed: {e}.", area.name));
            Ok(None)
        }
    }
}

fn yield_figure(layer: &LayerInput) -> &'static str {
    match layer_kind(&layer.system) {
        "resurfacer" | "skim" => "yield_resurfacer_bag",
        "topping" => "yield_topping_bag",
        _ => "yield_overlay_bag",
    }
}

/// Temperature the pour is timed for: measured, the warmest of the best window, or the sheet's.
fn temperature(
    area: &AreaInput,
    window: Option<&WindowPlan>,
    figures: &mut Figures<'_>,
) -> Result<(Temperature, String), MissingFigure> {
    let c = Temperature::new::<degree_celsius>;
    if let Some(w) = window
        && let Some(best) = &w.window.best
    {
        let warmest = w
            .window
            .hours
            .iter()
            .skip(best.hour)
            .take(best.hours)
            .map(|h| {
                if h.numbers.slab_how == crate::plan::window::SlabHow::Sun {
                    h.numbers.air_c
                } else {
                    h.numbers.slab_c.1.max(h.numbers.air_c)
                }
            })
            .reduce(f64::max);
        if let Some(warmest) = warmest {
            return Ok((
                c(warmest),
                "warmest hour of the best window, in the shade".to_owned(),
            ));
        }
    }
    if let Some(t) = area.slab_temperature {
        return Ok((t, "slab temperature in the record".to_owned()));
    }
    let sheet = figures.take("sheet_temperature")?;
    Ok((
        c(sheet.lo),
        "temperature of data sheets, as nothing was measured".to_owned(),
    ))
}

fn spread(
    working: Interval,
    at: Temperature,
    figures: &Figures<'_>,
) -> Result<Option<TimeSpread>, MissingFigure> {
    let reference = Temperature::new::<degree_celsius>(figures.get("sheet_temperature")?.lo);
    let models = [
        TimeModel::ThirdPerStep {
            step_f: figures.get("set_third_step")?.lo,
        },
        TimeModel::DoublingPerStep {
            step_f: figures.get("set_double_step")?.lo,
        },
        TimeModel::Arrhenius {
            q_k: figures.get("set_arrhenius")?.lo,
        },
    ];
    let shortest = scaled_time(working.lo, reference, at, &models);
    let longest = scaled_time(working.hi, reference, at, &models);
    Ok(shortest.zip(longest).map(|(a, b)| TimeSpread {
        least_min: a.least_min,
        greatest_min: b.greatest_min,
        by_model: a.by_model,
    }))
}

/// The pour at its temperature: bays, stop lines, what breaks.
pub(super) fn settle(
    area: &AreaInput,
    draft: Draft,
    window: Option<&WindowPlan>,
    figures: &mut Figures<'_>,
    notes: &mut Vec<String>,
) -> Result<Option<PourPlan>, MissingFigure> {
    let (at, at_how) = temperature(area, window, figures)?;
    let Some(working) = spread(draft.working_min, at, figures)? else {
        return Ok(None);
    };
    let largest = largest_bay(&draft.run, &draft.batches, working.least_min);
    let bays = stop_lines(&area.panels, largest.area_m2);
    let timed = clock::batches_by_bay(&bays, draft.bags_per_batch, draft.batch_m2).and_then(
        |(batches, stops)| {
            let run = simulate(&batches, &draft.pace)?;
            let fewer = one_fewer(&batches, &draft.pace, working.least_min, &stops)?;
            Ok((batches, stops, run, fewer))
        },
    );
    let (batches, stops, run, one_fewer) = match timed {
        Ok(timed) => timed,
        Err(e) => {
            notes.push(format!("The pour of {} cannot be timed: {e}.", area.name));
            return Ok(None);
        }
    };
    if let Some(large) = too_large(area, &bays, &largest, figures) {
        let wanted = bays.iter().map(|b| b.area_m2).fold(0.0, f64::max);
        let hint = smaller_batch(area, &draft, working.least_min, wanted);
        notes.push(match hint {
            Some(1) => format!("{large} Batches of a single bag would do."),
            Some(bags) => format!("{large} Batches of {bags} bags would do."),
            None => large,
        });
    }
    let patterning = if draft.patterned {
        let starts = figures.take("pattern_starts")?;
        let lasts = figures.take("pattern_lasts")?;
        let rate = figures.take("pattern_rate_crew")?;
        let opens = starts.lo * 1440.0;
        // Patterning is done by those who do not mix; one person is left at the mixer.
        let hands = draft.pace.people.len().saturating_sub(1).max(1) as f64;
        patterning(
            &run,
            &batches,
            opens,
            opens + lasts.lo * 1440.0,
            rate.lo * hands,
        )
    } else {
        Vec::new()
    };
    Ok(Some(PourPlan {
        material: draft.material,
        bags_per_batch: draft.bags_per_batch,
        batch_m2: draft.batch_m2,
        water_l: draft.water_l,
        dry_end: draft.dry_end,
        people: draft.pace.people.clone(),
        mixers: draft.pace.mixers,
        ahead: draft.pace.ahead,
        at_c: at.get::<degree_celsius>(),
        at_how,
        breaks: breaks(&run, working.least_min, &stops),
        working,
        largest,
        bays,
        one_fewer,
        patterning,
        stops,
        batches,
        run,
    }))
}

/// The most bags a batch may have, fewer than planned, so that wet edges hold for a surface.
fn smaller_batch(area: &AreaInput, draft: &Draft, working_min: f64, wanted_m2: f64) -> Option<u64> {
    let whole: f64 = area.panels.iter().map(|p| p.area_m2).sum();
    (1..draft.bags_per_batch).rev().find(|bags| {
        let m2 = draft.batch_m2 * *bags as f64 / draft.bags_per_batch as f64;
        let bay = [clock::Bay {
            panels: Vec::new(),
            area_m2: whole,
            fits: true,
        }];
        clock::batches_by_bay(&bay, *bags, m2)
            .and_then(|(batches, _)| Ok((simulate(&batches, &draft.pace)?, batches)))
            .is_ok_and(|(run, batches)| {
                largest_bay(&run, &batches, working_min).area_m2 >= wanted_m2
            })
    })
}

/// One sentence for everything that is too large for wet edges.
fn too_large(
    area: &AreaInput,
    bays: &[clock::Bay],
    largest: &LargestBay,
    figures: &Figures<'_>,
) -> Option<String> {
    let write = |m2: f64| Kind::Area.write(Interval::exact(m2), figures.system());
    let large: Vec<&clock::Bay> = bays.iter().filter(|b| !b.fits).collect();
    let greatest = large.iter().map(|b| b.area_m2).reduce(f64::max)?;
    if largest.batches == 0 {
        return Some(format!(
            "On {} every batch is older than its working time before it is spread. Mix nearer, mix less at once, or wait for a cooler hour.",
            area.name
        ));
    }
    let names: Vec<String> = large
        .iter()
        .flat_map(|b| b.panels.iter().cloned())
        .collect();
    let what = match area.panels.as_slice() {
        [PanelToPlace { name, .. }] if *name == area.name => area.name.clone(),
        _ if names.len() == 1 => format!("panel {} of {}", names.join(", "), area.name),
        _ => format!("panels {} of {}", names.join(", "), area.name),
    };
    Some(format!(
        "Wet edges hold for {} only, but {what} {} up to {} in one piece. Add people or a mixer, wait for a cooler hour, or agree on a joint within it.",
        write(largest.area_m2),
        if names.len() > 1 { "have" } else { "has" },
        write(greatest)
    ))
}
