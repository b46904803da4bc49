//! Joints and cracks: saw cuts over those carried up, grooves, joints of new concrete.

use crate::facts::Interval;
use crate::method::model::{Overlay, Step};
use crate::method::sizes::{Fit, check_panel, joint_band, saw_depth, saw_over_joint, share_of};
use crate::method::specify::Specifier;
use crate::record::model::{AreaRecord, Defect, DefectKind};
use crate::survey::panels::PanelShape;
use crate::units::Kind;

use super::{Said, Sources, in_mm, mark_up, middle, mm, numbered};

impl Specifier<'_> {
    /// Saw cuts over the joints that a layer carries up.
    pub(super) fn carried(
        &self,
        area: &AreaRecord,
        thing: usize,
        layer: &Overlay,
        shapes: &[PanelShape],
    ) -> Option<Step> {
        if layer.system == "unbonded_topping" {
            return None;
        }
        let mut from = Sources::of(self);
        let extra = from.figure("saw_extra_over_joint")?;
        let tolerance = from.figure("joint_place_tolerance")?;
        let cut = saw_over_joint(mm(layer.thickness_mm), mm(extra.lo));
        let thick = from.mark("layer", layer.thickness_mm);
        let cut = from.mark("saw cut over a carried joint", in_mm(cut));
        let within = Kind::Length.write(tolerance, self.units());
        let extra = from.mark("cut into the old joint", extra.lo);
        let mut crew = format!(
            "Cut every joint that is carried up {cut} deep: the {thick} of the layer and {extra} more, within {within} of the old joint."
        );
        let mut line =
            format!("Cut every carried joint {cut} deep, within {within} of the old joint.");
        let run = joint_run(area, shapes);
        if run > 0.0 {
            let run = from.say(
                "run of the joints between the panels",
                Kind::Length,
                Interval::exact(run),
            );
            crew += &format!(" Between the panels recorded that is {run}.");
            line += &format!(" That is {run}.");
        }
        if matches!(
            layer.system.as_str(),
            "bonded_topping" | "bonded_overlay" | "latex_overlay"
        ) {
            let share = from.figure("saw_longitudinal_share")?;
            let along = saw_depth(mm(layer.thickness_mm), share.lo, mm(0.0));
            let along = from.mark("saw cut over a joint along the length, least", in_mm(along));
            let hours = from.figure("saw_within")?;
            let hours = Kind::Duration.write(hours, self.units());
            let all = format!(
                " Joints along the length may be cut {along} deep. All within {hours} of placing."
            );
            crew += &all;
            line += &all;
        }
        Some(from.step(
            ("steps_joints", "joint-saw-depth"),
            "saw",
            thing,
            Said {
                crew,
                line,
                owner: format!(
                    "Every joint that comes up through the new layer is cut {cut} deep."
                ),
                how: "Thickness of the layer and the extra depth into the old joint.".to_owned(),
            },
        ))
    }

    /// Cut over a crack that is carried up as a joint.
    pub(super) fn crack_joint(&self, defect: &Defect, t: usize, layer: &Overlay) -> Option<Step> {
        if defect.kind != DefectKind::Crack
            || self
                .pick(t, "crack_repair")
                .is_none_or(|c| c.id != "carry_joint")
        {
            return None;
        }
        let mut from = Sources::of(self);
        let extra = from.figure("saw_extra_over_joint")?;
        let cut = saw_over_joint(mm(layer.thickness_mm), mm(extra.lo));
        let cut = from.mark("saw cut over the crack", in_mm(cut));
        let run = from
            .number(t, "crack_length")
            .map(|l| from.say("run of the crack", Kind::Length, l));
        let over = run.map_or_else(String::new, |r| format!(" over its {r}"));
        Some(from.step(
            ("steps_cracks", "crack-joint-depth"),
            "saw",
            t,
            Said {
                crew: format!(
                    "Defect {}: joint right above the crack{over}, cut {cut} deep.",
                    defect.id
                ),
                line: format!(
                    "Defect {}: joint right above the crack{over}, cut {cut} deep.",
                    defect.id
                ),
                owner: format!(
                    "Defect {}: the new layer gets a joint right above this crack.",
                    defect.id
                ),
                how: "Thickness of the layer and the extra depth.".to_owned(),
            },
        ))
    }

    /// Groove, backer rod and sealant of a crack that is opened and sealed.
    pub(super) fn groove(&self, defect: &Defect, t: usize) -> Option<Step> {
        if self
            .pick(t, "crack_repair")
            .is_none_or(|c| c.id != "rout_seal")
        {
            return None;
        }
        let mut from = Sources::of(self);
        let width = from.number(t, "crack_width")?;
        let least = from.figure("rout_width")?;
        let share = from.figure("sealant_depth_share")?;
        let extra = from.figure("backer_rod_extra")?;
        let groove = mark_up(width.hi.max(least.lo), self.units());
        let run = from.number(t, "crack_length");
        let run = run.map(|l| from.say("run of the crack", Kind::Length, l));
        let over = run.map_or_else(String::new, |r| format!(" over its {r}"));
        let rod = from.mark("backer rod, least", groove * (1.0 + extra.lo));
        let seal = from.mark("depth of the sealant", groove * share.lo);
        let groove = from.say(
            "groove, width and depth",
            Kind::Length,
            Interval::exact(groove),
        );
        Some(from.step(
            ("steps_cracks", "groove"),
            "cracks",
            t,
            Said {
                crew: format!("Defect {}: groove {groove} wide and at least as deep{over}, backer rod {rod} or more, sealant {seal} deep.", defect.id),
                line: format!("Defect {}: groove {groove} wide and at least as deep{over}, backer rod {rod} or more, sealant {seal} deep.", defect.id),
                owner: format!("Defect {}: the crack is opened to a groove {groove} wide and sealed.", defect.id),
                how: "The wider of the crack and the least groove; rod and sealant in proportion to it.".to_owned(),
            },
        ))
    }

    /// Joint spacing and saw depth of new concrete.
    pub(super) fn new_joints(&self, thing: usize) -> Option<Step> {
        let mut from = Sources::of(self);
        let thickness = from.number(thing, "thickness")?;
        let ratio = from.figure("joint_ratio")?;
        let cap = from.figure("joint_spacing_cap")?;
        let share = from.figure("saw_depth_share")?;
        let shape = from.figure("panel_ratio_greatest")?;
        let shape = Kind::Number.write(Interval::exact(shape.hi), self.units());
        let least = from.figure("saw_depth_least")?;
        let shrinkage = from.figure("shrinkage")?;
        let thick = mm(middle(thickness));
        let (near, far) = joint_band(thick, ratio, mm(cap.hi));
        let cut = saw_depth(thick, share.lo, mm(least.lo));
        let (opens, opens_most) = share_of(far, shrinkage);
        let slab = from.say("slab thickness", Kind::Length, thickness);
        let band = from.say(
            "joint spacing",
            Kind::Length,
            Interval::of(in_mm(near), in_mm(far)),
        );
        let cut = from.mark("saw cut", in_mm(cut));
        let opens = from.marks(
            "opening of a joint as the panel dries",
            Interval::of(in_mm(opens), in_mm(opens_most)),
        );
        Some(from.step(
            ("steps_joints", "joint-band"),
            "joints",
            thing,
            Said {
                crew: format!("For a {slab} slab: joints {band} apart, sawn {cut} deep, no panel more than {shape} times as long as wide. A panel of the greatest length shrinks by about {opens}."),
                line: format!("Joints {band} apart, sawn {cut} deep, no panel more than {shape} times as long as wide."),
                owner: format!("The new concrete gets joints {band} apart. They open by about {opens} as it dries, which is meant."),
                how: "Slab thickness times the spacing ratio, not beyond the cap; a share of the thickness, not less than the least cut; drying shrinkage.".to_owned(),
            },
        ))
    }

    /// Panels to be replaced whose shape or size would crack again.
    pub(super) fn new_panels(&self, index: usize, shapes: &[PanelShape]) -> Option<Step> {
        let things = &self.survey.areas[index];
        let mut from = Sources::of(self);
        let thickness = from.number(things.thing, "thickness")?;
        let ratio = from.figure("panel_ratio_greatest")?;
        let spacing = from.figure("joint_ratio")?;
        let whole = self.word(things.thing, "verdict").as_deref() == Some("replace_all");
        let mut over = Vec::new();
        for (shape, (_, panel)) in shapes.iter().zip(&things.panels) {
            let out = whole
                || matches!(
                    self.word(*panel, "panel_verdict").as_deref(),
                    Some("replace_panels" | "replace_all")
                );
            if !(out && shape.width.hi.is_finite() && shape.height.hi.is_finite()) {
                continue;
            }
            let check = check_panel(
                mm(middle(shape.width)),
                mm(middle(shape.height)),
                mm(middle(thickness)),
                ratio.hi,
                spacing.hi,
            );
            if check.is_some_and(|c| c.shape == Fit::Over || c.spacing == Fit::Over) {
                over.push(shape.name.clone());
            }
        }
        if over.is_empty() {
            return None;
        }
        let times = Kind::Number.write(Interval::exact(ratio.hi), self.units());
        let apart = Kind::Number.write(Interval::exact(spacing.hi), self.units());
        let name = numbered("Panel", &over);
        Some(from.step(
            ("steps_joints", "panel-shape"),
            "joints",
            things.thing,
            Said {
                crew: format!("{name}: longer than {apart} thicknesses, or more than {times} times as long as wide. Give the new panel one joint more."),
                line: format!("{name}: give the new panel one joint more."),
                owner: format!("{name}: too long for its width or thickness, so the new one gets one joint more."),
                how: "Sides of the panel against the greatest ratio and the greatest spacing.".to_owned(),
            },
        ))
    }
}

/// Run of the joints between the panels of a grid, mm.
fn joint_run(area: &AreaRecord, shapes: &[PanelShape]) -> f64 {
    let Some(grid) = &area.panels else { return 0.0 };
    let (columns, rows) = (grid.columns.len(), grid.rows.len());
    let first = |i: usize| shapes.get(i);
    let across: f64 = (0..columns)
        .filter_map(first)
        .map(|s| middle(s.width))
        .sum();
    let up: f64 = (0..rows)
        .filter_map(|r| first(r * columns))
        .map(|s| middle(s.height))
        .sum();
    let between = |n: usize| n.saturating_sub(1) as f64;
    let run = between(columns) * up + between(rows) * across;
    if run.is_finite() { run } else { 0.0 }
}
