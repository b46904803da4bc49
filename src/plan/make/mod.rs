//! From what is known to the plan: one file a part.

mod days;
mod levels;
mod liquids;
mod options;
mod order;
mod pour;
mod split;
mod tests;
mod window;

use crate::facts::Interval;

use super::figures::{Figures, MissingFigure};
use super::inputs::Inputs;
use super::model::{AreaPlan, Plan, Told};
use crate::facts::Vocabulary;

/// Plans the work.
///
/// What cannot be worked out is said in [`Plan::notes`]; what stands in for something the record
/// does not say is listed in [`Plan::taken`].
///
/// # Errors
/// The rule pack lacks a figure that the plan reads.
pub fn plan(inputs: &Inputs, vocabulary: &Vocabulary) -> Result<Plan, MissingFigure> {
    let mut figures = Figures::new(vocabulary, inputs.units);
    let mut notes = Vec::new();
    let stairs = levels::stairs(inputs, &figures, &mut notes)?;
    let doors = levels::doors(inputs, &figures)?;
    let lips = levels::lips(inputs, &figures)?;
    let sheets = order::sheets(inputs, &figures, &mut notes)?;
    let mut areas = Vec::new();
    for area in &inputs.areas {
        let orders = order::orders(inputs, area, &mut figures, &mut notes)?;
        areas.push(AreaPlan {
            id: area.id.clone(),
            name: area.name.clone(),
            verdict: area.verdict.clone(),
            why_not: area.why_not.clone(),
            surface_m2: area.surface_m2,
            layer_mm: area.layer.as_ref().map(|l| l.thickness_mm),
            fall: levels::fall(inputs, area, &figures)?,
            edges: levels::edges(area, &figures)?,
            orders,
            pour: None,
        });
    }
    // The window needs the length of the pour, the working time the temperatures of the window.
    let mut drafts = Vec::new();
    for area in &inputs.areas {
        drafts.push(pour::draft(inputs, area, &mut figures, &mut notes)?);
    }
    let longest = drafts
        .iter()
        .zip(&inputs.areas)
        .filter_map(|(d, a)| d.as_ref().map(|d| (a, d.run.end_s)))
        .max_by_key(|(_, end)| *end);
    let job = longest.map(|(area, end_s)| window::Job {
        area,
        hours: usize::try_from(end_s.div_ceil(3600).max(1)).unwrap_or(usize::MAX),
        concrete: false,
    });
    let mut weather = Vec::new();
    weather.extend(window::weather(inputs, job.as_ref(), &mut figures)?);
    let window = window::window(inputs, job, &mut figures, &mut notes)?;
    let job = window::concrete_job(inputs, &mut figures)?;
    weather.extend(window::weather(inputs, job.as_ref(), &mut figures)?);
    let concrete_window = window::window(inputs, job, &mut figures, &mut notes)?;
    for ((area, draft), out) in inputs.areas.iter().zip(drafts).zip(&mut areas) {
        if let Some(draft) = draft {
            out.pour = pour::settle(area, draft, window.as_ref(), &mut figures, &mut notes)?;
        }
    }
    let windows = [
        ("lay", window.as_ref()),
        ("replace", concrete_window.as_ref()),
    ];
    let days = days::days(inputs, &areas, &windows, &figures, &mut notes)?;
    let mut money_notes = Vec::new();
    let money = options::money(
        inputs,
        &areas,
        days.as_ref(),
        &mut figures,
        &mut money_notes,
    )?;
    let tests = tests::tests(inputs, &figures)?;
    let told = Told {
        half: figures.get("told_as_half")?,
        least_l: figures.get("told_least")?.lo,
    };
    Ok(Plan {
        areas,
        stairs,
        doors,
        lips,
        sheets,
        told,
        window,
        concrete_window,
        days,
        money,
        weather,
        tests,
        taken: figures.into_taken(),
        notes,
        money_notes,
    })
}

fn middle(i: Interval) -> f64 {
    f64::midpoint(i.lo, i.hi)
}

/// Product of two ranges of numbers that are not negative.
fn times(a: Interval, b: Interval) -> Interval {
    Interval {
        lo: a.lo * b.lo,
        hi: a.hi * b.hi,
    }
}

/// Quotient of two ranges of positive numbers.
fn over(a: Interval, b: Interval) -> Interval {
    Interval {
        lo: a.lo / b.hi,
        hi: a.hi / b.lo,
    }
}
