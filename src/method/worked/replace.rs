//! Panels that are replaced, and their growth in the heat.

use crate::facts::Interval;
use crate::method::model::Step;
use crate::method::sizes::thermal_growth;
use crate::method::specify::Specifier;
use crate::record::geometry;
use crate::record::model::AreaRecord;
use crate::survey::panels::PanelShape;
use crate::units::Kind;

use crate::method::model::{LOWER_BY, NEW_LEVEL};

use super::{Said, Sources, in_mm, mark_near, mark_up, middle, mm, numbered};

impl Specifier<'_> {
    /// Which panels are replaced, and what becomes of the others.
    pub(super) fn which_panels(&self, index: usize, shapes: &[PanelShape]) -> Option<Step> {
        let things = &self.survey.areas[index];
        let from = Sources::of(self);
        if self.word(things.thing, "verdict").as_deref() == Some("replace_all") {
            return Some(self.whole_area(from, things.thing, index, shapes));
        }
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
                line: format!("Replace {which}.{others} The others stay."),
                owner: format!("{names}: replaced.{others} The others stay."),
                how: "Verdict of every panel.".to_owned(),
            },
        ))
    }

    /// All of an area goes.
    fn whole_area(
        &self,
        from: Sources<'_, '_>,
        thing: usize,
        index: usize,
        shapes: &[PanelShape],
    ) -> Step {
        let area = self.record.areas.get(index);
        let name = area.map_or("the area", |a| a.name.as_str());
        let panels: Vec<String> = shapes.iter().map(|s| s.name.clone()).collect();
        let which = if panels.is_empty() {
            String::new()
        } else {
            format!(": {}", numbered("panel", &panels))
        };
        from.step(
            ("steps_replace", "which-panels"),
            "replace",
            thing,
            Said {
                crew: format!("Take out all of the {name}{which}."),
                line: format!("Take out all of the {name}{which}."),
                owner: format!("All of the {name} is replaced{which}."),
                how: "Verdict of the area.".to_owned(),
            },
        )
    }

    /// The level of new concrete: low enough that the first step up is as high as the others and
    /// that water stays out of the doors; else as it is now.
    pub(super) fn new_level(&self, index: usize, verdict: &str) -> Option<Step> {
        let area = self.record.areas.get(index)?;
        let thing = self.survey.areas.get(index)?.thing;
        let mut from = Sources::of(self);
        let place = ("steps_replace", NEW_LEVEL);
        if verdict == "replace_panels" {
            return Some(
                from.step(
                    place,
                    "replace",
                    thing,
                    Said {
                        crew: "Set the new panels flush with those that stay, with the same fall."
                            .to_owned(),
                        line: "Set the new panels flush with those that stay, with the same fall."
                            .to_owned(),
                        owner: "The new panels lie level with those that stay.".to_owned(),
                        how: "The panels beside them stay.".to_owned(),
                    },
                ),
            );
        }
        let units = self.units();
        let pointed_out = from.figure("first_riser_short")?;
        let short = from
            .number(thing, "first_step_short")
            .map(|s| mark_near(middle(s), units))
            .filter(|s| *s >= pointed_out.lo - 1e-6);
        let below_sill = from.figure("sill_drop_new")?;
        let doors = (self.record.thresholds.iter().zip(&self.survey.thresholds))
            .filter(|(door, _)| door.area == area.id)
            .map(|(_, thing)| *thing);
        let drops: Vec<Interval> = doors.filter_map(|d| from.number(d, "drop")).collect();
        let least_drop = drops.iter().map(|d| d.lo).reduce(f64::min);
        let for_door = least_drop
            .map(|d| mark_up(below_sill.lo - d, units))
            .filter(|l| *l > 0.0);
        let by = short.unwrap_or(0.0).max(for_door.unwrap_or(0.0));
        if by <= 0.0 {
            return Some(from.step(
                place,
                "replace",
                thing,
                Said {
                    crew: "Lay it at the level it has now, with the same fall or more.".to_owned(),
                    line: "Lay it at the level it has now, with the same fall or more.".to_owned(),
                    owner: "The new concrete lies as high as the old.".to_owned(),
                    how: "No short first riser and no door sill asks for another level.".to_owned(),
                },
            ));
        }
        let lower = from.say(LOWER_BY, Kind::Length, Interval::exact(by));
        let (mut crew, mut owner) = (Vec::new(), Vec::new());
        let mut line = vec![format!(
            "Lay it {lower} lower than it lies now; dig the base down by as much."
        )];
        crew.push(format!("Lay it {lower} lower than it lies now."));
        owner.push(format!("The new concrete is laid {lower} lower."));
        if let Some(short) = short {
            let short = from.say(
                "how much the first riser is short",
                Kind::Length,
                Interval::exact(short),
            );
            crew.push(format!(
                "The first riser is {short} lower than the others now; it must come out like them."
            ));
            owner.push("Then the first step up is as high as the others.".to_owned());
        }
        if let Some(drop) = least_drop {
            let left = from.seen("below the sill, at least", Interval::exact(drop + by));
            let sill = Kind::Length.write(below_sill, units);
            crew.push(format!(
                "That puts it {left} below the door sill, where {sill} is usual."
            ));
            line.push(format!("It must end {left} below the door sill."));
            if for_door.is_some() {
                owner.push(format!(
                    "Then it lies {left} below the door sill, so that water stays out."
                ));
            }
        }
        crew.push("Dig the base down by as much: the thickness stays.".to_owned());
        if let Some((name, run)) = self.stays_beside(index) {
            let ramp = from.figure("lip_ramp_slope")?;
            let slope = by / run;
            let over = from.say(
                "length over which it is taken up",
                Kind::Length,
                Interval::exact(run),
            );
            let one_in = |s: f64| format!("1:{:.0}", 1.0 / s);
            let (slope_text, most) = (one_in(slope), one_in(ramp.hi));
            if slope <= ramp.hi {
                crew.push(format!("The {name} stays {lower} above it: take that up over the whole {over} ({slope_text}, at most {most}), and drain the low end, for water now runs to it. Or lower the {name} too."));
                line.push(format!("Take the {lower} up to the {name} over the whole {over} ({slope_text}, at most {most}); drain the low end. Or lower the {name} too."));
                owner.push(format!("A slope over {over} leads down to it from the {name}, with a drain at the low end."));
            } else {
                crew.push(format!("The {name} stays {lower} above it, too much to take up over {over} ({slope_text}, at most {most}): lower the {name} too, or put a step between."));
                line.push(format!(
                    "Lower the {name} too, or put a step between: {over} is too short for a slope."
                ));
                owner.push(format!(
                    "The {name} must be lowered too, or a step put between."
                ));
            }
        }
        Some(from.step(
            place,
            "replace",
            thing,
            Said {
                crew: crew.join(" "),
                line: line.join(" "),
                owner: owner.join(" "),
                how: "The middle one of the other risers less the first; the usual drop below a sill less the drop now.".to_owned(),
            },
        ))
    }

    /// An area that touches this one and is not replaced, with the length of this one toward it, mm.
    fn stays_beside(&self, index: usize) -> Option<(String, f64)> {
        const TOUCHES_MM: f64 = 50.0;
        let places = geometry::places(self.record);
        let bounds = |i: usize| geometry::bounds(places.get(i)?.as_deref()?);
        let own = bounds(index)?;
        (self.record.areas.iter().enumerate()).find_map(|(i, other)| {
            let things = self.survey.areas.get(i)?;
            let stays = !matches!(
                self.word(things.thing, "verdict").as_deref(),
                Some("replace_all" | "replace_panels")
            );
            let there = bounds(i).filter(|_| i != index && stays)?;
            if geometry::gap_between(own, there) > TOUCHES_MM {
                return None;
            }
            let overlaps = own.0.0 < there.1.0 && there.0.0 < own.1.0;
            let run = if overlaps {
                own.1.1 - own.0.1
            } else {
                own.1.0 - own.0.0
            };
            (run > 0.0).then(|| (other.name.clone(), run))
        })
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
        let more = if fits {
            ""
        } else {
            "; one more at the other end, or one between"
        };
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
                crew: format!("Isolation joint through the full depth where the slab meets the building: over its {run} the slab grows by up to {grows} when it is 100 F warmer; {rest}."),
                line: format!("Isolation joint {joint}, full depth, where the slab meets the building{more}."),
                owner: format!("In the heat the slab grows by up to {grows}, so it gets a soft strip beside the house."),
                how: "Length times its growth per 100 F.".to_owned(),
            },
        ))
    }
}
