//! Steps with the numbers of this slab: outlines, depths, lifts, saw cuts, runs and loads, each
//! with the facts and figures it was worked out from.

use uom::si::area::square_meter;
use uom::si::length::millimeter;
use uom::si::pressure::megapascal;

use crate::assessment::{FactRead, Reason, made};
use crate::facts::{Interval, Provenance, Scope, Value};
use crate::record::geometry::{self, Bounds};
use crate::record::model::{Defect, DefectKind};
use crate::rules::{Contestant, Set};
use crate::survey::heights::{LipLimits, LipWay, deal_with_lip, drop_over};
use crate::survey::panels::{PanelShape, panels};
use crate::survey::stats::{CountRule, test_count};
use crate::units::{Area, Kind, Length, Measured, Pressure, System};

use super::model::{AreaMethod, Number, Overlay, Patch, Step};
use super::sizes::{
    Fit, check_panel, joint_band, lifts, merge_patches, patch_outline, probe_depth, pull_off_load,
    saw_depth, saw_over_joint, share_of, shroud_air, thermal_growth, undercut,
};
use super::specify::{Specifier, kept, ranking};

fn mm(x: f64) -> Length {
    Length::new::<millimeter>(x)
}

fn in_mm(x: Length) -> f64 {
    x.get::<millimeter>()
}

fn middle(i: Interval) -> f64 {
    f64::midpoint(i.lo, i.hi)
}

/// `1 defect`, `defects 1, 2 and 3`.
fn numbered(what: &str, list: &[String]) -> String {
    match list {
        [one] => format!("{what} {one}"),
        [rest @ .., last] => format!("{what}s {} and {last}", rest.join(", ")),
        [] => what.to_owned(),
    }
}

/// What a step was worked out from.
struct Sources<'s, 'a> {
    s: &'s Specifier<'a>,
    read: Vec<FactRead>,
    numbers: Vec<Number>,
}

impl<'s, 'a> Sources<'s, 'a> {
    fn of(s: &'s Specifier<'a>) -> Self {
        Sources {
            s,
            read: Vec::new(),
            numbers: Vec::new(),
        }
    }

    /// A figure of the pack, noted as read.
    fn figure(&mut self, id: &str) -> Option<Interval> {
        let figure = self.s.pack.vocabulary.figure(id)?;
        if !self.read.iter().any(|r| r.fact == figure.id) {
            self.read.push(FactRead {
                fact: figure.id.clone(),
                name: figure.name.clone(),
                scope: Scope::Slab,
                value: figure.kind.write(figure.value, self.s.units()),
                how: format!("figure of the trade: {}", figure.source.source),
                path: None,
                place: None,
                line: None,
            });
        }
        Some(figure.value)
    }

    /// A known, finite number of a thing or of what holds it, noted as read.
    fn number(&mut self, thing: usize, fact: &str) -> Option<Interval> {
        let id = self.s.pack.vocabulary.find(fact)?;
        let scope = self.s.pack.vocabulary.fact(id).scope;
        let holder = self.s.ran.board.holder(thing, scope)?;
        let value = match self.s.survey.entry(holder, id)?.value {
            Value::Number(i) if i.lo.is_finite() && i.hi.is_finite() => i,
            _ => return None,
        };
        let read = self.s.words.read(id, thing);
        if !self
            .read
            .iter()
            .any(|r| r.fact == read.fact && r.path == read.path)
        {
            self.read.push(read);
        }
        Some(value)
    }

    /// A length in words, kept as a number of the step.
    fn say(&mut self, what: &str, kind: Kind, value: Interval) -> String {
        let text = crate::assessment::quantity(kind, value, self.s.units());
        self.numbers.push(Number {
            what: what.to_owned(),
            kind,
            value,
            text: text.clone(),
        });
        text
    }

    fn say_length(&mut self, what: &str, value: Length) -> String {
        self.say(what, Kind::Length, Interval::exact(in_mm(value)))
    }

    /// The step, with the row of the pack it puts numbers to.
    fn step(self, (table, row): (&str, &str), stage: &str, thing: usize, said: Said) -> Step {
        Step {
            stage: stage.to_owned(),
            crew: said.crew,
            owner: said.owner,
            numbers: self.numbers,
            reason: Reason {
                table: table.to_owned(),
                row: row.to_owned(),
                about: self.s.ran.board.label(thing).to_owned(),
                certain: true,
                because: said.how,
                plain: None,
                safety: false,
                source: "arithmetic of the figures and measures named".to_owned(),
                provenance: Provenance::Derived,
                read: self.read,
            },
        }
    }
}

/// What a worked step says.
struct Said {
    crew: String,
    owner: String,
    /// How the numbers were found.
    how: String,
}

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
    pub(super) fn units(&self) -> System {
        self.record.job.units
    }

    /// The candidate a choice came to for a thing.
    fn pick(&self, thing: usize, table: &str) -> Option<&Contestant> {
        let (_, rank, visit) = ranking(self.pack, self.ran, thing, table)?;
        kept(self.ran, rank, visit).into_iter().next()
    }

    /// The only value left of a made fact.
    fn word(&self, thing: usize, fact: &str) -> Option<String> {
        let mut words = made(self.pack, self.ran, thing, fact);
        (words.len() == 1).then(|| words.pop()).flatten()
    }

    /// Adds every worked step of an area.
    pub(super) fn worked(&self, index: usize, method: &mut AreaMethod) {
        let Some(area) = self.record.areas.get(index) else {
            return;
        };
        let things = &self.survey.areas[index];
        let thing = things.thing;
        let place = geometry::places(self.record)
            .into_iter()
            .nth(index)
            .flatten();
        let shapes = panels(area, place.as_deref());
        let mut steps = Vec::new();
        let verdict = method.verdict.clone();
        let layer = method.overlay.clone();
        let layered = layer.is_some();
        let repaired = layered || verdict == "patch";
        let replaced = matches!(verdict.as_str(), "replace_panels" | "replace_all");
        if repaired {
            steps.extend(self.dust(thing));
            for (defect, &t) in area.defects.iter().zip(&things.defects) {
                steps.extend(self.removal(defect, t, thing));
            }
            let (patches, patch_steps) = self.patches(index, thing, layer.as_ref());
            method.patches = patches;
            steps.extend(patch_steps);
            steps.extend(self.bars(thing));
        }
        if verdict == "patch" {
            steps.extend(self.third(thing, &method.patches));
            for (defect, &t) in area.defects.iter().zip(&things.defects) {
                steps.extend(self.lip(defect, t));
                steps.extend(self.curl(defect, t));
                steps.extend(self.core(defect, t));
            }
        }
        if let Some(layer) = &layer {
            steps.extend(self.pull(thing));
            steps.extend(self.carried(area, thing, layer, &shapes));
            for (defect, &t) in area.defects.iter().zip(&things.defects) {
                steps.extend(self.crack_joint(defect, t, layer));
            }
            steps.extend(self.gauge(thing, layer));
            steps.extend(self.coats(thing, layer));
            steps.extend(self.fall(area, thing));
        }
        let dense = self
            .pick(thing, "sealer")
            .is_some_and(|s| s.id == "dense_film");
        let leveled = layer.as_ref().is_some_and(|l| l.system == "self_leveling");
        if (dense && (layered || verdict == "clean_and_seal")) || leveled {
            steps.extend(self.probes(thing));
        }
        if replaced {
            steps.extend(self.new_joints(thing));
            steps.extend(self.new_panels(index, &shapes));
            steps.extend(self.growth(area, thing));
        }
        method.steps.extend(steps);
    }

    /// Air that the shroud of the grinder must move, where a grinder is used.
    fn dust(&self, thing: usize) -> Option<Step> {
        let grinds = ["removal_method", "profile_way"].iter().any(|t| {
            self.pick(thing, t)
                .is_some_and(|c| c.id.starts_with("grind"))
        });
        if !grinds {
            return None;
        }
        let mut from = Sources::of(self);
        let per_inch = from.figure("shroud_air_per_inch")?.lo;
        let wheel = from.figure("cup_wheel")?;
        let filter = from.figure("dust_filter_least")?;
        let mut air = |wheel: f64| {
            let value = Interval::exact(shroud_air(mm(wheel), per_inch));
            from.say(
                "air through the shroud, cubic feet a minute",
                Kind::Number,
                value,
            )
        };
        let (small, large) = (air(wheel.lo), air(wheel.hi));
        let write = |x: f64| length(x, self.units());
        let (narrow, wide) = (write(wheel.lo), write(wheel.hi));
        let filter = Kind::Share.write(filter, self.units());
        Some(from.step(
            ("steps_remove", "grinder-air"),
            "remove",
            thing,
            Said {
                crew: format!(
                    "Grind with a shroud and a vacuum that moves at least {small} cubic feet a minute for a {narrow} wheel, {large} for a {wide} wheel, through a filter that holds back {filter}."
                ),
                owner: "The grinders have a dust vacuum, since fine concrete dust harms the lungs.".to_owned(),
                how: format!("{per_inch} cubic feet a minute for every inch of the wheel."),
            },
        ))
    }

    /// How deep to take off at a defect.
    fn removal(&self, defect: &Defect, t: usize, area: usize) -> Option<Step> {
        let mut from = Sources::of(self);
        let deepest = |from: &mut Sources<'_, '_>| {
            from.number(t, "greatest_depth")
                .or_else(|| from.number(t, "loss_depth"))
        };
        let name = format!("Defect {}", defect.id);
        match defect.kind {
            DefectKind::Delamination | DefectKind::Debonding | DefectKind::Blisters => {
                let depth = deepest(&mut from)?;
                let sound = from.figure("patch_into_sound")?;
                let margin = from.figure("hollow_margin")?;
                let to = Interval {
                    lo: depth.lo,
                    hi: depth.hi + sound.hi,
                };
                let lies = from.say("depth of the loose layer", Kind::Length, depth);
                let down = from.say(
                    "depth to take off, at most",
                    Kind::Length,
                    Interval::exact(to.hi),
                );
                let beyond = from.say("margin beyond the dull sound", Kind::Length, margin);
                Some(from.step(
                    ("steps_remove", "removal-depth"),
                    "remove",
                    t,
                    Said {
                        crew: format!("{name}: the loose layer lies {lies} deep. Take it off, {beyond} beyond the dull sound all round, and up to {down} deep where the concrete below is bruised; stop where it rings."),
                        owner: format!("{name}: the loose layer comes off, about {lies} deep."),
                        how: "Depth of the loose layer, and as much into sound concrete as the figure says.".to_owned(),
                    },
                ))
            }
            DefectKind::Scaling | DefectKind::Dusting | DefectKind::Etching => {
                let way = self.pick(area, "removal_method")?;
                let pass = match way.set.get("removes") {
                    Some(Set::Quantity { value, .. }) => *value,
                    _ => return None,
                };
                let loss = deepest(&mut from);
                let takes = from.say(
                    "depth taken off by a pass",
                    Kind::Length,
                    Interval::exact(pass.lo),
                );
                let lost =
                    loss.map(|l| from.say("deepest loss", Kind::Length, Interval::exact(l.hi)));
                let found =
                    lost.map_or_else(String::new, |l| format!(" The loss reaches {l} now."));
                Some(from.step(
                    ("steps_remove", "removal-depth"),
                    "remove",
                    t,
                    Said {
                        crew: format!("{name}:{found} Take off at least {takes} more, one pass of the {}, and go on until it is sound.", short(&way.name)),
                        owner: format!("{name}: the weak top comes off, at least {takes}."),
                        how: "One pass of the way of removal chosen.".to_owned(),
                    },
                ))
            }
            _ => None,
        }
    }

    /// Outlines, depths and lifts of the patches of an area, those near each other as one.
    fn patches(
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
            let group: Vec<&Spot> = members.iter().filter_map(|&i| spots.get(i)).collect();
            let sides = (mm(bounds.1.0 - bounds.0.0), mm(bounds.1.1 - bounds.0.1));
            if let Some((patch, step)) = self.patch(&group, sides, thing, layer) {
                patches.push(patch);
                steps.push(step);
                done.extend(members);
            }
        }
        for (i, spot) in spots.iter().enumerate().filter(|(i, _)| !done.contains(i)) {
            let _ = i;
            if let Some((patch, step)) = self.patch(&[spot], spot.sides, thing, layer) {
                patches.push(patch);
                steps.push(step);
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
        if let Some(layer) = layer {
            // The layer itself fills what is shallow enough for it.
            let fill = self.figure("fill_before_overlay")?;
            let fills = if layer.thickness_mm > fill.hi {
                layer.thickness_mm
            } else {
                fill.lo
            };
            if depth.is_none_or(|d| d.hi <= fills) {
                return None;
            }
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
    ) -> Option<(Patch, Step)> {
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
        let down = depth.map(|d| (d.hi + sound.hi).max(edge.lo));
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
            from.say_length("patch outline, long side", long),
            from.say_length("patch outline, short side", short)
        );
        let beyond = from.say(
            "margin round the unsound part",
            Kind::Length,
            Interval::exact(margin.lo),
        );
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
            let edge = from.say("saw cut of the upright edge", Kind::Length, edge);
            crew += &format!(", edges upright and {edge} deep");
        }
        crew.push('.');
        if let Some(down) = down {
            let down = from.say("depth of the patch", Kind::Length, Interval::exact(down));
            crew += &format!(" Take it down to about {down}.");
        }
        let mut owner =
            format!("{name}: we saw out a clean rectangle of about {outline} and fill it");
        match layers.as_slice() {
            [] | [_] => owner.push('.'),
            [lift, ..] => {
                let each = from.say("lift", Kind::Length, Interval::exact(*lift));
                crew += &format!(" Fill it in {} lifts of {each}.", layers.len());
                owner += &format!(" in {} layers.", layers.len());
            }
        }
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
            "patch",
            if group.len() > 1 { area } else { first.thing },
            Said {
                crew,
                owner,
                how: "The unsound part with its margin on every side, not smaller than the least patch; depth into sound concrete; equal lifts.".to_owned(),
            },
        );
        Some((patch, step))
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
    fn third(&self, thing: usize, patches: &[Patch]) -> Option<Step> {
        if patches.is_empty() {
            return None;
        }
        let mut from = Sources::of(self);
        let thickness = from.number(thing, "thickness")?;
        let share = from.figure("patch_partial_share")?;
        let stop = from.say(
            "deepest a patch may go",
            Kind::Length,
            Interval::exact(thickness.lo * share.lo),
        );
        Some(from.step(
            ("steps_patch_area", "patch-stop"),
            "patch",
            thing,
            Said {
                crew: format!("Stop at {stop}, a third of the slab. Where it is unsound below that, take it out full depth."),
                owner: format!("A patch may go down to {stop}. Where the damage goes deeper, that part is replaced right through."),
                how: "Slab thickness times the greatest share of a patch.".to_owned(),
            },
        ))
    }

    /// Clear distance behind bared bars.
    fn bars(&self, thing: usize) -> Option<Step> {
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
        let behind = from.say_length("clear distance behind a bar", behind);
        Some(
            from.step(
                ("steps_patch_area", "undercut"),
                "patch",
                thing,
                Said {
                    crew: format!("Open {behind} behind every corroded bar."),
                    owner: format!("Rusted bars are freed all round, {behind} behind them."),
                    how:
                        "The least clearance, or the largest stone of the repair and a little more."
                            .to_owned(),
                },
            ),
        )
    }

    /// Bevel or ramp of a step.
    fn lip(&self, defect: &Defect, t: usize) -> Option<Step> {
        if !matches!(
            defect.kind,
            DefectKind::Lip | DefectKind::Settlement | DefectKind::Heave | DefectKind::Curling
        ) {
            return None;
        }
        let mut from = Sources::of(self);
        let offset = from.number(t, "offset")?;
        let limits = LipLimits {
            leave_to: mm(from.figure("lip_as_is")?.hi),
            bevel_to: mm(from.figure("lip_bevel")?.hi),
            bevel_slope: from.figure("lip_bevel_slope")?.hi,
            ramp_slope: from.figure("lip_ramp_slope")?.hi,
        };
        let height = from.say("height of the step", Kind::Length, offset);
        let name = format!("Defect {}", defect.id);
        let (crew, owner) = match deal_with_lip(mm(offset.hi), limits)? {
            LipWay::Leave => return None,
            LipWay::Bevel { length_mm } => {
                let run = from.say(
                    "length of the bevel",
                    Kind::Length,
                    Interval::exact(length_mm),
                );
                let back = from.figure("grind_back")?;
                let back = Kind::Length.write(back, self.units());
                (
                    format!(
                        "{name}: grind the {height} step to a bevel at least {run} long, and feather it back up to {back} from the joint where it would still be felt."
                    ),
                    format!("{name}: the raised edge is ground to a slope at least {run} long."),
                )
            }
            LipWay::Ramp { length_mm } => {
                let run = from.say(
                    "length of the ramp",
                    Kind::Length,
                    Interval::exact(length_mm),
                );
                (
                    format!(
                        "{name}: a step of {height} is too high for a bevel. Ramp it over at least {run}, or lift the low side."
                    ),
                    format!("{name}: the step is made into a gentle ramp at least {run} long."),
                )
            }
        };
        Some(from.step(
            ("steps_patch_area", "lip-run"),
            "patch",
            t,
            Said {
                crew,
                owner,
                how: "Height of the step over the steepest slope allowed.".to_owned(),
            },
        ))
    }

    /// How far a curled edge is likely to be hollow below.
    fn curl(&self, defect: &Defect, t: usize) -> Option<Step> {
        if defect.kind != DefectKind::Curling {
            return None;
        }
        let mut from = Sources::of(self);
        let panel = from.number(t, "own_panel_length")?;
        // Whether the joint carries load across is not recorded, so both shares count.
        let doweled = from.figure("curl_share_doweled")?;
        let plain = from.figure("curl_share_plain")?;
        let least = share_of(mm(panel.lo), doweled).0;
        let most = share_of(mm(panel.hi), plain).1;
        let reach = from.say(
            "how far the edge may be hollow below",
            Kind::Length,
            Interval::of(in_mm(least), in_mm(most)),
        );
        Some(from.step(
            ("steps_patch_area", "curl-reach"),
            "patch",
            t,
            Said {
                crew: format!("Defect {}: expect the panel to stand off its base {reach} in from the joint, more without dowels. Sound it, and fill below as far as it is hollow before grinding.", defect.id),
                owner: format!("Defect {}: the curled edge may be hollow below for {reach}; that is filled first.", defect.id),
                how: "Length of the panel times the share that lifts off, with and without load transfer.".to_owned(),
            },
        ))
    }

    /// Core at a popout that is patched.
    fn core(&self, defect: &Defect, t: usize) -> Option<Step> {
        if defect.kind != DefectKind::Popouts || !self.fired(t, "steps_patch", "do-spot-popout") {
            return None;
        }
        let mut from = Sources::of(self);
        let diameter = from.number(t, "diameter")?;
        let extra = from.figure("patch_core_extra")?;
        let depth = from.figure("patch_core_depth")?;
        let wide = from.say(
            "core width",
            Kind::Length,
            Interval::exact(diameter.hi + extra.lo),
        );
        let deep = from.say("core depth", Kind::Length, depth);
        Some(from.step(
            ("steps_patch", "popout-core"),
            "patch",
            t,
            Said {
                crew: format!(
                    "Defect {}: core {wide} wide for the largest hole, {deep} deep.",
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

    /// Loads for the pull-offs of the prepared surface.
    fn pull(&self, thing: usize) -> Option<Step> {
        let mut from = Sources::of(self);
        let stress = from.figure("bond_surface")?;
        let disk = from.figure("pull_off_disk")?;
        let first = from.figure("pull_off_count")?;
        let first_surface = from.figure("pull_off_first_surface")?;
        let surface = from.number(thing, "area_surface")?;
        let load = |mpa: f64| {
            pull_off_load(Pressure::new::<megapascal>(mpa), mm(disk.lo))
                .map(|f| f.get::<uom::si::force::newton>())
        };
        let (least, mean) = (load(stress.lo)?, load(stress.hi)?);
        let count = test_count(
            Area::new::<square_meter>(surface.hi),
            CountRule {
                first_count: first.lo.clamp(0.0, 1e6) as u32,
                first_area: Area::new::<square_meter>(first_surface.lo),
                further_count: 1,
                further_area: Area::new::<square_meter>(first_surface.lo),
            },
        )?;
        let stress = from.say("pull-off of the prepared surface", Kind::Pressure, stress);
        let disk = Kind::Length.write(disk, self.units());
        let load = force(least, mean, self.units());
        Some(from.step(
            ("steps_profile", "pull-off-load"),
            "profile",
            thing,
            Said {
                crew: format!("Pull {count} times on the prepared surface: {stress} or more, which is {load} on a {disk} disk. Below that take more off and pull again."),
                owner: "We pull on the prepared surface to be sure that it holds.".to_owned(),
                how: "Stress times the surface of the disk.".to_owned(),
            },
        ))
    }

    /// Saw cuts over the joints that a layer carries up.
    fn carried(
        &self,
        area: &crate::record::model::AreaRecord,
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
        let thick = from.say_length("layer", mm(layer.thickness_mm));
        let cut = from.say_length("saw cut over a carried joint", cut);
        let within = Kind::Length.write(tolerance, self.units());
        let extra = Kind::Length.write(extra, self.units());
        let mut crew = format!(
            "Cut every joint that is carried up {cut} deep: the {thick} of the layer and {extra} more, within {within} of the old joint."
        );
        let run = joint_run(area, shapes);
        if run > 0.0 {
            let run = from.say(
                "run of the joints between the panels",
                Kind::Length,
                Interval::exact(run),
            );
            crew += &format!(" Between the panels recorded that is {run}.");
        }
        if matches!(
            layer.system.as_str(),
            "bonded_topping" | "bonded_overlay" | "latex_overlay"
        ) {
            let share = from.figure("saw_longitudinal_share")?;
            let along = saw_depth(mm(layer.thickness_mm), share.lo, mm(0.0));
            let along = from.say_length("saw cut over a joint along the length, least", along);
            let hours = from.figure("saw_within")?;
            let hours = Kind::Duration.write(hours, self.units());
            crew += &format!(
                " Joints along the length may be cut {along} deep. All within {hours} of placing."
            );
        }
        Some(from.step(
            ("steps_joints", "joint-saw-depth"),
            "saw",
            thing,
            Said {
                crew,
                owner: format!(
                    "Every joint that comes up through the new layer is cut {cut} deep."
                ),
                how: "Thickness of the layer and the extra depth into the old joint.".to_owned(),
            },
        ))
    }

    /// Cut over a crack that is carried up as a joint.
    fn crack_joint(&self, defect: &Defect, t: usize, layer: &Overlay) -> Option<Step> {
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
        let cut = from.say_length("saw cut over the crack", cut);
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
                owner: format!(
                    "Defect {}: the new layer gets a joint right above this crack.",
                    defect.id
                ),
                how: "Thickness of the layer and the extra depth.".to_owned(),
            },
        ))
    }

    /// Setting of the depth gauge.
    fn gauge(&self, thing: usize, layer: &Overlay) -> Option<Step> {
        if layer.system != "patterned" {
            return None;
        }
        let mut from = Sources::of(self);
        let settings = ["gauge_rake_small", "gauge_rake_middle", "gauge_rake_large"];
        let all: Vec<f64> = settings
            .iter()
            .filter_map(|id| from.figure(id))
            .map(|i| i.lo)
            .collect();
        let set = all
            .into_iter()
            .filter(|s| *s >= layer.thickness_mm - 0.1)
            .reduce(f64::min)?;
        let set = from.say(
            "setting of the depth gauge",
            Kind::Length,
            Interval::exact(set),
        );
        Some(from.step(
            ("steps_overlay", "gauge-setting"),
            "overlay",
            thing,
            Said {
                crew: format!("Depth gauge at {set}, over the highest spot."),
                owner: format!("The layer is spread with a gauge set at {set}."),
                how: "The smallest gauge setting that is not thinner than the layer.".to_owned(),
            },
        ))
    }

    /// Coats of a layer that is thicker than one of its lifts.
    fn coats(&self, thing: usize, layer: &Overlay) -> Option<Step> {
        let mut from = Sources::of(self);
        let lift = layer.lift_mm?;
        let coats = lifts(mm(layer.thickness_mm), mm(lift.lo), mm(lift.hi)).ok()?;
        let [first, _, ..] = coats.as_slice() else {
            return None;
        };
        let each = from.say_length("coat", *first);
        let n = coats.len();
        Some(from.step(
            ("steps_overlay", "coats"),
            "overlay",
            thing,
            Said {
                crew: format!(
                    "Lay it in {n} coats of {each}, each on the hard and clean one before."
                ),
                owner: format!("The layer goes on in {n} coats."),
                how: "Thickness of the layer over its greatest lift, in equal coats.".to_owned(),
            },
        ))
    }

    /// Drop that the finished surface needs over the shorter side.
    fn fall(&self, area: &crate::record::model::AreaRecord, thing: usize) -> Option<Step> {
        if !self.fired(thing, "steps_overlay", "do-keep-fall") {
            return None;
        }
        let mut from = Sources::of(self);
        let (w, h) = geometry::sides_of(area.size.as_ref()?)?;
        let side = w.min(h);
        let (least, aim) = (from.figure("fall_least")?, from.figure("fall_preferred")?);
        let drop = |fall: f64| in_mm(drop_over(mm(side), fall));
        let now = from.number(thing, "fall");
        let range = from.say(
            "drop over the shorter side",
            Kind::Length,
            Interval::of(drop(least.lo), drop(aim.hi)),
        );
        let run = from.say("shorter side", Kind::Length, Interval::exact(side));
        let today = now.filter(|n| n.lo >= 0.0).map_or_else(String::new, |n| {
            let has = from.say(
                "drop now",
                Kind::Length,
                Interval::of(drop(n.lo), drop(n.hi)),
            );
            format!(" It is {has} now.")
        });
        Some(from.step(
            ("steps_overlay", "fall-drop"),
            "overlay",
            thing,
            Said {
                crew: format!(
                    "Over the {run} of the shorter side the surface must drop {range}.{today}"
                ),
                owner: format!("The new surface falls {range} over {run}, so that water runs off."),
                how: "Fall times the length.".to_owned(),
            },
        ))
    }

    /// Humidity probes before a tight coat or layer.
    fn probes(&self, thing: usize) -> Option<Step> {
        let mut from = Sources::of(self);
        let thickness = from.number(thing, "thickness")?;
        let surface = from.number(thing, "area_surface")?;
        // A slab on the ground dries to one side, a slab over air to both.
        let suspended = self
            .survey
            .value(&self.pack.vocabulary, self.survey.slab, "support")
            == self.value_of("support", "suspended");
        let share = from.figure(if suspended {
            "f2170_depth_both_sides"
        } else {
            "f2170_depth_one_side"
        })?;
        let first = from.figure("f2170_first")?;
        let (first_surface, further) = (
            from.figure("f2170_first_surface")?,
            from.figure("f2170_further_surface")?,
        );
        let count = test_count(
            Area::new::<square_meter>(surface.hi),
            CountRule {
                first_count: first.lo.clamp(0.0, 1e6) as u32,
                first_area: Area::new::<square_meter>(first_surface.lo),
                further_count: 1,
                further_area: Area::new::<square_meter>(further.lo),
            },
        )?;
        let wait = from.figure("f2170_wait")?;
        let limit = from.figure("humidity_limit")?;
        let depth = from.say_length("probe depth", probe_depth(mm(middle(thickness)), share.lo));
        let wait = Kind::Duration.write(wait, self.units());
        let limit = Kind::Share.write(limit, self.units());
        Some(from.step(
            ("steps_protect", "humidity-probes"),
            "protect",
            thing,
            Said {
                crew: format!("{count} humidity probes {depth} deep, read after {wait}: at most {limit} unless the sheet allows more."),
                owner: "We measure how damp the slab is inside before anything tight goes on it.".to_owned(),
                how: "Share of the slab thickness; count by surface.".to_owned(),
            },
        ))
    }

    /// Joint spacing and saw depth of new concrete.
    fn new_joints(&self, thing: usize) -> Option<Step> {
        let mut from = Sources::of(self);
        let thickness = from.number(thing, "thickness")?;
        let ratio = from.figure("joint_ratio")?;
        let cap = from.figure("joint_spacing_cap")?;
        let share = from.figure("saw_depth_share")?;
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
        let cut = from.say_length("saw cut", cut);
        let opens = from.say(
            "opening of a joint as the panel dries",
            Kind::Length,
            Interval::of(in_mm(opens), in_mm(opens_most)),
        );
        Some(from.step(
            ("steps_joints", "joint-band"),
            "joints",
            thing,
            Said {
                crew: format!("For a {slab} slab: joints {band} apart, sawn {cut} deep. A panel of the greatest length shrinks by {opens}."),
                owner: format!("The new concrete gets joints {band} apart. They open by about {opens} as it dries, which is meant."),
                how: "Slab thickness times the spacing ratio, not beyond the cap; a share of the thickness, not less than the least cut; drying shrinkage.".to_owned(),
            },
        ))
    }

    /// Panels to be replaced whose shape or size would crack again.
    fn new_panels(&self, index: usize, shapes: &[PanelShape]) -> Option<Step> {
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
                owner: format!("{name}: too long for its width or thickness, so the new one gets one joint more."),
                how: "Sides of the panel against the greatest ratio and the greatest spacing.".to_owned(),
            },
        ))
    }

    /// Growth in the heat against the width of the isolation joint.
    fn growth(&self, area: &crate::record::model::AreaRecord, thing: usize) -> Option<Step> {
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
        let grows = from.say_length("growth when 100 F warmer", grows);
        let joint = Kind::Length.write(joint, self.units());
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
                crew: format!("Over its {run} the slab grows by {grows} when it is 100 F warmer; {rest}."),
                owner: format!("In the heat the slab grows by up to {grows}, so it gets a soft strip beside the house."),
                how: "Length times its growth per 100 F.".to_owned(),
            },
        ))
    }

    fn figure(&self, id: &str) -> Option<Interval> {
        self.pack.figure(id)
    }

    fn value_of(&self, fact: &str, word: &str) -> Value {
        let bit = self
            .pack
            .vocabulary
            .find(fact)
            .and_then(|id| self.pack.vocabulary.fact(id).value_index(word));
        bit.map_or(Value::Unknown, |i| {
            Value::Choices(crate::facts::Bits::one(i))
        })
    }

    /// Whether a row fired for certain at a thing.
    fn fired(&self, thing: usize, table: &str, row: &str) -> bool {
        let Some((index, t)) = self.pack.table(table) else {
            return false;
        };
        self.ran.trail.visit(index, thing).is_some_and(|visit| {
            self.ran
                .trail
                .fired(visit)
                .iter()
                .any(|f| f.certain && t.rows.get(usize::from(f.row)).is_some_and(|r| r.id == row))
        })
    }
}

/// Run of the joints between the panels of a grid, mm.
fn joint_run(area: &crate::record::model::AreaRecord, shapes: &[PanelShape]) -> f64 {
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

/// The first words of a candidate's name, without what follows `with` or a comma.
fn short(name: &str) -> &str {
    name.split(" with ")
        .next()
        .and_then(|n| n.split(',').next())
        .unwrap_or(name)
}

fn length(mm: f64, units: System) -> String {
    Kind::Length.write(Interval::exact(mm), units)
}

/// A range of forces, pounds or kilonewtons.
fn force(least: f64, greatest: f64, units: System) -> String {
    match units {
        // A pound-force is 4.4482216 N.
        System::Us => {
            let lb = |n: f64| (n / 4.448_221_6).round();
            format!("{} to {} lb of pull", lb(least), lb(greatest))
        }
        System::Metric => format!("{:.1} to {:.1} kN", least / 1e3, greatest / 1e3),
    }
}
