//! What the work does to a stair, in words.

use crate::facts::Interval;
use crate::method::model::{AreaMethod, StairChange};
use crate::method::order::sort_steps;
use crate::method::specify::Specifier;
use crate::units::Kind;

use super::{Said, Sources, listed, mark_near};

/// Change of a riser that is worth saying, mm.
const CHANGED_MM: f64 = 0.5;
/// Less than this below a limit, mm, is no room left: a layer is not spread truer.
const NOTHING_LEFT_MM: f64 = 1.0;

impl Specifier<'_> {
    /// Adds to every area whose level changes what becomes of the stairs that start or end on it.
    pub(in crate::method) fn stair_steps(&self, areas: &mut [AreaMethod], stairs: &[StairChange]) {
        for stair in stairs {
            let recorded = self.record.stairs.iter().find(|s| s.id == stair.stair);
            let Some(recorded) = recorded else { continue };
            for (index, method) in areas.iter_mut().enumerate() {
                let on = |end: &Option<String>| end.as_deref() == Some(method.area.as_str());
                let changed = method.overlay.is_some() || method.lowered_mm() > 0.0;
                let touched = method.specified && changed;
                if !touched || !(on(&recorded.from) || on(&recorded.to)) {
                    continue;
                }
                let Some(things) = self.survey.areas.get(index) else {
                    continue;
                };
                let steps = self.stair_after(stair, things.thing, method.overlay.is_none());
                method.steps.extend(steps);
                sort_steps(self.pack, method);
            }
        }
    }

    fn stair_after(
        &self,
        stair: &StairChange,
        thing: usize,
        replaced: bool,
    ) -> Option<crate::method::model::Step> {
        let mut from = Sources::of(self);
        let units = self.units();
        let name = stair.stair.replace(['-', '_'], " ");
        let write = |mm: f64| Kind::Length.write(Interval::exact(mark_near(mm, units)), units);
        let list = |risers: &[f64]| -> String {
            let all: Vec<String> = risers.iter().map(|r| write(*r)).collect();
            all.join(", ")
        };
        let (first, rest) = stair.after_mm.split_first()?;
        let mut crew = format!(
            "Stair ({name}), risers from the bottom: {} after the work, {} now.",
            list(&stair.after_mm),
            list(&stair.before_mm)
        );
        let mut line = format!(
            "Stair ({name}), risers from the bottom: {} after the work.",
            list(&stair.after_mm)
        );
        from.say(
            "first riser after the work",
            Kind::Length,
            Interval::exact(mark_near(*first, units)),
        );
        let places = ["first", "second", "third", "fourth", "fifth", "sixth"];
        let last = stair.after_mm.len() - 1;
        let changed: Vec<String> = (stair.before_mm.iter().zip(&stair.after_mm).enumerate())
            .filter(|(_, (before, after))| (*before - *after).abs() > CHANGED_MM)
            .map(|(i, (before, after))| {
                let which = match places.get(i) {
                    _ if i == last && i > 0 => "last",
                    Some(word) => word,
                    None => "next",
                };
                format!(
                    "the {which} step goes from {} to {}",
                    write(*before),
                    write(*after)
                )
            })
            .collect();
        let mut owner = if changed.is_empty() {
            format!("The stair ({name}) stays as it is.")
        } else {
            format!("On the stair ({name}) {}.", listed(&changed))
        };
        if stair.checks.iter().all(|c| c.kept_after) {
            owner += " All its steps are then within what the building rules allow.";
        } else {
            owner += " Not all its steps are then within what the building rules allow.";
        }
        for check in &stair.checks {
            if !check.limit.starts_with("difference") {
                continue;
            }
            let (is, most) = (write(check.after_mm), write(check.limit_mm));
            let differ = if !check.kept_after {
                format!(" Highest less lowest is {is}, more than the {most} allowed.")
            } else if check.limit_mm - check.after_mm < NOTHING_LEFT_MM {
                format!(" Highest less lowest is {is}: all that is allowed, so not a hair thicker.")
            } else {
                format!(" Highest less lowest is {is}, at most {most}.")
            };
            crew += &differ;
            line += &differ;
        }
        let short = from.figure("first_riser_short")?;
        let mut others = rest.to_vec();
        others.sort_by(f64::total_cmp);
        if let Some(usual) = others.get(others.len() / 2) {
            let by = usual - first;
            if by >= short.lo - 1e-6 {
                let stays = format!(
                    " The first riser stays {} lower than the others: mark its edge, and rebuild the first step.",
                    write(by)
                );
                crew += &stays;
                line += &stays;
                owner += &format!(
                    " It stays {} lower than the others, which makes people stumble.",
                    write(by)
                );
            }
        }
        Some(
            from.step(
                ("steps_protect", "stair-after"),
                if replaced { "replace" } else { "protect" },
                thing,
                Said {
                    crew,
                    line,
                    owner,
                    how: "Each riser plus what is laid on its head less what is laid at its foot."
                        .to_owned(),
                },
            ),
        )
    }
}
