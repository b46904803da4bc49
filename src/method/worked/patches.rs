//! Patches: outlines, depths, lifts, cores, and the holes that a layer leaves to be filled first.

use crate::facts::{Interval, Value};
use crate::method::model::{AreaMethod, Overlay, Patch, Step};
use crate::method::sizes::{lifts, merge_patches, patch_outline, undercut};
use crate::method::specify::Specifier;
use crate::record::geometry::{self, Bounds};
use crate::record::model::{Defect, DefectKind};
use crate::rules::{Contestant, Set};
use crate::units::{Kind, Length, Measured};

use super::{Said, Sources, in_mm, mark_down, mark_up, mm, numbered};

/// A patch before merging.
struct Spot {
    defect: u32,
    thing: usize,
    sides: (Length, Length),
    depth: Option<Interval>,
    /// Outline with its margin on the map, where it has a place.
    outline: Option<Bounds>,
}

impl Specifier<'_> {
    /// Outlines, depths and lifts of the patches of an area, those near each other as one.
    pub(super) fn patches(
        &self,
        index: usize,
        thing: usize,
        layer: Option<&Overlay>,
    ) -> (Vec<Patch>, Vec<Step>) {
        let (mut patches, mut steps) = (Vec::new(), Vec::new());
        let mut spots: Vec<Spot> = Vec::new();
        let area = &self.record.areas[index];
        for (defect, &t) in area.defects.iter().zip(&self.survey.areas[index].defects) {
            if let Some(spot) = self.spot(defect, t, layer) {
                spots.push(spot);
            }
        }
        let limit = self.figure("patch_merge");
        let placed: Vec<usize> = (0..spots.len())
            .filter(|&i| spots[i].outline.is_some())
            .collect();
        let outlines: Vec<Bounds> = placed.iter().filter_map(|&i| spots[i].outline).collect();
        let groups = match limit {
            Some(limit) => merge_patches(&outlines, mm(limit.lo)),
            None => Vec::new(),
        };
        let mut done: Vec<usize> = Vec::new();
        for (members, bounds) in groups.iter().filter(|(m, _)| m.len() > 1) {
            let members: Vec<usize> = members
                .iter()
                .filter_map(|&m| placed.get(m))
                .copied()
                .collect();
            let mut group: Vec<&Spot> = members.iter().filter_map(|&i| spots.get(i)).collect();
            group.sort_by_key(|s| s.defect);
            let sides = (mm(bounds.1.0 - bounds.0.0), mm(bounds.1.1 - bounds.0.1));
            if let Some((patch, said)) = self.patch(&group, sides, thing, layer) {
                patches.push(patch);
                steps.extend(said);
                done.extend(members);
            }
        }
        for (_, spot) in spots.iter().enumerate().filter(|(i, _)| !done.contains(i)) {
            if let Some((patch, said)) = self.patch(&[spot], spot.sides, thing, layer) {
                patches.push(patch);
                steps.extend(said);
            }
        }
        (patches, steps)
    }

    /// A defect that gets a patch of its own, with its outline; `None` for what gets none.
    fn spot(&self, defect: &Defect, t: usize, layer: Option<&Overlay>) -> Option<Spot> {
        let by_table = matches!(
            defect.kind,
            DefectKind::Spall | DefectKind::Delamination | DefectKind::Debonding
        );
        // An old overlay comes off whole before a new layer goes on.
        if layer.is_some() && defect.kind == DefectKind::Debonding {
            return None;
        }
        // A scaled patch is filled like the others where nothing goes on top of it.
        if !by_table && (defect.kind != DefectKind::Scaling || layer.is_some()) {
            return None;
        }
        if by_table && self.word(t, "patch_depth")? != "partial" {
            return None;
        }
        let number = |fact: &str| match self.survey.value(&self.pack.vocabulary, t, fact) {
            Value::Number(i) if i.hi.is_finite() => Some(i),
            _ => None,
        };
        let depth = number("greatest_depth").or_else(|| number("loss_depth"));
        if let Some(layer) = layer
            && depth.is_none_or(|d| d.hi <= self.layer_fills(layer))
        {
            return None;
        }
        let extent = defect
            .extent
            .as_ref()
            .and_then(|e| Some((e.width.canonical()?.hi, e.length.canonical()?.hi)));
        let spall = number("crack_length").zip(number("spall_width"));
        let (w, h) = match (spall, extent) {
            (Some((length, width)), None) => (length.hi, width.hi),
            (_, Some(extent)) => extent,
            (None, None) => return None,
        };
        if !(w > 0.0 && h > 0.0) {
            return None;
        }
        let margin = self.figure("patch_margin")?.lo;
        let least = (
            mm(self.figure("patch_least_length")?.lo),
            mm(self.figure("patch_least_width")?.lo),
        );
        let sides = patch_outline(mm(w), mm(h), mm(margin), least);
        let (long, short) = (in_mm(sides.0), in_mm(sides.1));
        let outline = defect.extent.as_ref().and_then(|_| {
            let at = geometry::point(defect.at.as_ref()?)?;
            let (w, h) = if w >= h { (long, short) } else { (short, long) };
            Some(geometry::around(at, w, h))
        });
        Some(Spot {
            defect: defect.id,
            thing: t,
            sides,
            depth,
            outline,
        })
    }

    fn patch(
        &self,
        group: &[&Spot],
        (a, b): (Length, Length),
        area: usize,
        layer: Option<&Overlay>,
    ) -> Option<(Patch, Vec<Step>)> {
        let first = group.first()?;
        let mut from = Sources::of(self);
        for spot in group {
            for fact in [
                "crack_length",
                "spall_width",
                "greatest_depth",
                "loss_depth",
            ] {
                from.number(spot.thing, fact);
            }
        }
        let margin = from.figure("patch_margin")?;
        from.figure("patch_least_length")?;
        from.figure("patch_least_width")?;
        let edge = from.figure("patch_saw_depth")?;
        let sound = from.figure("patch_into_sound")?;
        let (long, short) = if a >= b { (a, b) } else { (b, a) };
        let depth = group
            .iter()
            .filter_map(|s| s.depth)
            .reduce(|a, b| Interval {
                lo: a.lo.max(b.lo),
                hi: a.hi.max(b.hi),
            });
        // Not past a third of the slab: what is unsound below that goes out full depth.
        let thickness = from.number(first.thing, "thickness");
        let stop = match (thickness, from.figure("patch_partial_share")) {
            (Some(thickness), Some(share)) => mark_down(thickness.lo * share.lo, self.units()),
            _ => f64::INFINITY,
        };
        let down = depth.map(|d| {
            let wanted = mark_up((d.hi + sound.hi).max(edge.lo), self.units());
            wanted.min(stop.max(d.hi))
        });
        let material = self.pick(first.thing, "patch_material");
        let lift = self.patch_lift(material);
        let layers: Vec<f64> = match (down, lift) {
            (Some(down), Some(lift)) => lifts(mm(down), mm(lift.lo), mm(lift.hi))
                .map(|l| l.iter().map(|x| in_mm(*x)).collect())
                .unwrap_or_default(),
            _ => Vec::new(),
        };
        let numbers: Vec<String> = group.iter().map(|s| s.defect.to_string()).collect();
        let name = numbered("Defect", &numbers);
        let outline = format!(
            "{} by {}",
            from.mark("patch outline, long side", in_mm(long)),
            from.mark("patch outline, short side", in_mm(short))
        );
        let beyond = from.mark("margin round the unsound part", margin.lo);
        let mut line = match group {
            [_] => format!("{name}: saw out {outline}, {beyond} past the unsound part"),
            _ => format!("{name}: saw out as one, {outline}, {beyond} past the unsound parts"),
        };
        let mut crew = if group.len() > 1 {
            let limit = from.figure("patch_merge")?;
            let limit = Kind::Length.write(limit, self.units());
            format!(
                "{name} lie less than {limit} apart: saw them out as one, at least {outline}, the unsound parts and {beyond} all round"
            )
        } else {
            format!("{name}: saw out at least {outline}, the unsound part and {beyond} all round")
        };
        if layer.is_none() {
            let edge = from.marks("saw cut of the upright edge", edge);
            crew += &format!(", square corners, edges upright and {edge} deep, never feathered");
            line += &format!("; square corners, edges upright {edge}, never feathered");
        }
        crew.push('.');
        line.push('.');
        if let Some(down) = down {
            let down = from.say("depth of the patch", Kind::Length, Interval::exact(down));
            let deep = format!(" Take it down to about {down}.");
            crew += &deep;
            line += &deep;
        }
        let owner = format!("{name}: we saw out a clean rectangle of about {outline}.");
        let about = if group.len() > 1 { area } else { first.thing };
        let fill = match layers.as_slice() {
            [] | [_] => None,
            [lift, ..] => {
                let mut from = Sources::of(self);
                for spot in group {
                    from.number(spot.thing, "greatest_depth");
                }
                let each = from.mark("lift", *lift);
                let n = layers.len();
                let mortar = material.map_or("repair mortar", |m| m.name.as_str());
                Some(from.step(
                    ("steps_patch_area", "patch-fill"),
                    "patch",
                    about,
                    Said {
                        crew: format!("{name}: fill it with {mortar} in {n} lifts of about {each}, each scratched before the next."),
                        line: format!("{name}: fill in {n} lifts of about {each} with {mortar}, each scratched before the next."),
                        owner: format!("{name}: this spot is filled with {mortar} in {n} layers."),
                        how: "Depth of the patch in equal lifts.".to_owned(),
                    },
                ))
            }
        };
        let patch = Patch {
            defects: group.iter().map(|s| s.defect).collect(),
            length_mm: in_mm(long),
            width_mm: in_mm(short),
            depth_mm: down,
            lifts_mm: layers,
            material: material.map(|m| m.id.clone()),
        };
        let step = from.step(
            ("steps_patch_area", "patch-outline"),
            "remove",
            about,
            Said {
                crew,
                line,
                owner,
                how: "The unsound part with its margin on every side, not smaller than the least patch; depth into sound concrete.".to_owned(),
            },
        );
        Some((patch, std::iter::once(step).chain(fill).collect()))
    }

    /// Least and greatest lift: of the patching material's sheet, else of the kind chosen.
    fn patch_lift(&self, material: Option<&Contestant>) -> Option<Interval> {
        let sheet = self
            .record
            .materials
            .iter()
            .filter(|m| m.kind == "patch")
            .find_map(|m| m.lift.as_ref().and_then(Measured::canonical));
        sheet.or_else(|| match material?.set.get("lift")? {
            Set::Quantity { value, .. } => Some(Interval {
                lo: 0.0,
                hi: value.hi,
            }),
            Set::Text(_) => None,
        })
    }

    /// Where a patch must stop.
    pub(super) fn third(&self, thing: usize, patches: &[Patch]) -> Option<Step> {
        if patches.is_empty() {
            return None;
        }
        let mut from = Sources::of(self);
        let thickness = from.number(thing, "thickness")?;
        let share = from.figure("patch_partial_share")?;
        let stop = mark_down(thickness.lo * share.lo, self.units());
        let stop = from.say(
            "deepest a patch may go",
            Kind::Length,
            Interval::exact(stop),
        );
        Some(from.step(
            ("steps_patch_area", "patch-stop"),
            "remove",
            thing,
            Said {
                crew: format!("Stop at {stop}, a third of the slab. Where it is unsound below that, or cracked through, take it out full depth."),
                line: format!("Stop at {stop}; unsound below that or cracked through: take it out full depth."),
                owner: format!("A patch may go down to {stop}. Where the damage goes deeper, that part is replaced right through."),
                how: "Slab thickness times the greatest share of a patch.".to_owned(),
            },
        ))
    }

    /// Clear distance behind bared bars.
    pub(super) fn bars(&self, thing: usize) -> Option<Step> {
        let bared = self.fired(thing, "steps_patch_area", "do-patch-undercut");
        if !bared {
            return None;
        }
        let mut from = Sources::of(self);
        let (least, extra) = (
            from.figure("undercut")?,
            from.figure("undercut_stone_extra")?,
        );
        let stone = from.figure("repair_stone")?;
        let behind = undercut(mm(stone.hi), mm(least.lo), mm(extra.lo));
        let behind = from.mark("clear distance behind a bar", in_mm(behind));
        Some(
            from.step(
                ("steps_patch_area", "undercut"),
                "remove",
                thing,
                Said {
                    crew: format!("Open {behind} behind every corroded bar."),
                    line: format!("Open {behind} behind every corroded bar."),
                    owner: format!("Rusted bars are freed all round, {behind} behind them."),
                    how:
                        "The least clearance, or the largest stone of the repair and a little more."
                            .to_owned(),
                },
            ),
        )
    }

    /// Core at a popout that is patched.
    pub(super) fn core(&self, defect: &Defect, t: usize) -> Option<Step> {
        if defect.kind != DefectKind::Popouts || !self.fired(t, "steps_patch", "do-spot-popout") {
            return None;
        }
        let mut from = Sources::of(self);
        let diameter = from.number(t, "diameter")?;
        let extra = from.figure("patch_core_extra")?;
        let depth = from.figure("patch_core_depth")?;
        let wide = from.mark("core width", diameter.hi + extra.lo);
        let deep = from.marks("core depth", depth);
        Some(from.step(
            ("steps_patch", "popout-core"),
            "patch",
            t,
            Said {
                crew: format!(
                    "Defect {}: core {wide} wide for the largest hole, {deep} deep.",
                    defect.id
                ),
                line: format!(
                    "Defect {}: core {wide} wide at most, {deep} deep.",
                    defect.id
                ),
                owner: format!(
                    "Defect {}: each hole is drilled out {wide} wide and filled.",
                    defect.id
                ),
                how: "Width of the hole and the extra of the figure.".to_owned(),
            },
        ))
    }

    /// Holes of scaled ground that are deeper than the layer fills.
    pub(super) fn fill_first(&self, defect: &Defect, t: usize, layer: &Overlay) -> Option<Step> {
        if defect.kind != DefectKind::Scaling {
            return None;
        }
        let mut from = Sources::of(self);
        let depth = from
            .number(t, "greatest_depth")
            .or_else(|| from.number(t, "loss_depth"))?;
        let fills = self.layer_fills(layer);
        if depth.hi <= fills {
            return None;
        }
        from.figure("fill_before_overlay");
        let deeper = from.mark("depth that the layer fills by itself", fills);
        let deepest = from.seen("deepest loss", Interval::exact(depth.hi));
        Some(from.step(
            ("steps_patch_area", "fill-first"),
            "patch",
            t,
            Said {
                crew: format!("Defect {}: fill what is deeper than {deeper} flush first, to {deepest} at the deepest, and let it harden before the layer goes on.", defect.id),
                line: format!("Defect {}: fill what is deeper than {deeper} flush, {deepest} at most; let it harden before the layer.", defect.id),
                owner: format!("Defect {}: the deeper holes are filled first and left to harden.", defect.id),
                how: "Deepest loss against what the layer fills by itself.".to_owned(),
            },
        ))
    }

    /// Depth of hole, mm, that a layer fills by itself: no more than its own thickness, and for a
    /// thin layer no more than the pack's figure for holes to be patched first.
    fn layer_fills(&self, layer: &Overlay) -> f64 {
        match self.figure("fill_before_overlay") {
            Some(fill) if layer.thickness_mm <= fill.hi => layer.thickness_mm.min(fill.lo),
            _ => layer.thickness_mm,
        }
    }

    /// Whether a defect is patched by itself, rather than filled by the layer that goes on.
    pub(in crate::method) fn is_patched(&self, thing: usize, method: &AreaMethod) -> bool {
        let Some(layer) = &method.overlay else {
            return true;
        };
        if self.survey.value(&self.pack.vocabulary, thing, "kind")
            == self.value_of("kind", "debonding")
        {
            return false;
        }
        let depth = ["greatest_depth", "loss_depth"].iter().find_map(|fact| {
            match self.survey.value(&self.pack.vocabulary, thing, fact) {
                Value::Number(i) => Some(i.hi),
                _ => None,
            }
        });
        depth.is_none_or(|d| d > self.layer_fills(layer))
    }
}
