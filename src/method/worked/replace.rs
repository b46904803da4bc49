//! Panels that are replaced, and their growth in the heat.

use crate::facts::Interval;
use crate::method::model::Step;
use crate::method::sizes::thermal_growth;
use crate::method::specify::Specifier;
use crate::record::geometry;
use crate::record::model::AreaRecord;
use crate::survey::panels::PanelShape;
use crate::units::Kind;

use super::{Said, Sources, in_mm, mm, numbered};

impl Specifier<'_> {
    /// Which panels are replaced, and what becomes of the others.
    pub(super) fn which_panels(&self, index: usize, shapes: &[PanelShape]) -> Option<Step> {
        let things = &self.survey.areas[index];
        let from = Sources::of(self);
        let mut out: Vec<String> = Vec::new();
        let mut rest: Vec<(String, Vec<String>)> = Vec::new();
        for (shape, (_, panel)) in shapes.iter().zip(&things.panels) {
            match self.word(*panel, "panel_verdict").as_deref() {
                Some("replace_panels" | "replace_all") => out.push(shape.name.clone()),
                Some("leave_alone") | None => {}
                Some(word) => match rest.iter_mut().find(|(w, _)| w == word) {
                    Some((_, list)) => list.push(shape.name.clone()),
                    None => rest.push((word.to_owned(), vec![shape.name.clone()])),
                },
            }
        }
        if out.is_empty() {
            return None;
        }
        let values = self.pack.vocabulary.find("verdict");
        let name_of = |word: &str| {
            let values = values.map(|v| self.pack.vocabulary.fact(v).values());
            values
                .and_then(|v| v.iter().find(|v| v.id == word))
                .map_or_else(|| word.replace('_', " "), |v| v.name.clone())
        };
        let others: String = rest
            .iter()
            .map(|(word, list)| format!(" {}: {}.", numbered("Panel", list), name_of(word)))
            .collect();
        let (which, names) = (numbered("panel", &out), numbered("Panel", &out));
        Some(from.step(
            ("steps_replace", "which-panels"),
            "replace",
            things.thing,
            Said {
                crew: format!("Replace {which}.{others} The others stay."),
                owner: format!("{names}: replaced.{others} The others stay."),
                how: "Verdict of every panel.".to_owned(),
            },
        ))
    }

    /// Growth in the heat against the width of the isolation joint.
    pub(super) fn growth(&self, area: &AreaRecord, thing: usize) -> Option<Step> {
        if !self.fired(thing, "steps_replace", "do-replace-isolate") {
            return None;
        }
        const RISE_F: f64 = 100.0; // The figure is per 100 F.
        let mut from = Sources::of(self);
        let (w, h) = geometry::sides_of(area.size.as_ref()?)?;
        let per = from.figure("thermal_growth")?;
        let joint = from.figure("isolation_width")?;
        let side = w.max(h);
        let grows = thermal_growth(mm(side), per.hi, RISE_F);
        let fits = in_mm(grows) <= joint.hi;
        let run = from.say("longer side", Kind::Length, Interval::exact(side));
        let grows = from.mark("growth when 100 F warmer", in_mm(grows));
        let joint = from.mark("isolation joint", joint.hi);
        let rest = if fits {
            format!("an isolation joint of {joint} takes that up")
        } else {
            format!(
                "one isolation joint of {joint} does not take that up: put one at either end, or one between"
            )
        };
        Some(from.step(
            ("steps_replace", "thermal-growth"),
            "replace",
            thing,
            Said {
                crew: format!("Over its {run} the slab grows by up to {grows} when it is 100 F warmer; {rest}."),
                owner: format!("In the heat the slab grows by up to {grows}, so it gets a soft strip beside the house."),
                how: "Length times its growth per 100 F.".to_owned(),
            },
        ))
    }
}
