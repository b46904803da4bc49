//! The layer itself: pull-offs, gauge, coats, fall, and probes before anything tight.

use uom::si::area::square_meter;
use uom::si::pressure::megapascal;

use crate::facts::Interval;
use crate::method::model::{Overlay, Step};
use crate::method::sizes::{lifts, probe_depth, pull_off_load};
use crate::method::specify::Specifier;
use crate::record::geometry;
use crate::record::model::AreaRecord;
use crate::survey::heights::drop_over;
use crate::survey::stats::{CountRule, test_count};
use crate::units::{Area, Kind, Pressure, System};

use super::{Said, Sources, in_mm, middle, mm};

impl Specifier<'_> {
    /// Loads for the pull-offs of the prepared surface.
    pub(super) fn pull(&self, thing: usize) -> Option<Step> {
        let mut from = Sources::of(self);
        let stress = from.figure("bond_surface")?;
        let disk = from.figure("pull_off_disk")?;
        let surface = from.number(thing, "area_surface")?;
        let load = |mpa: f64| {
            pull_off_load(Pressure::new::<megapascal>(mpa), mm(disk.lo))
                .map(|f| f.get::<uom::si::force::newton>())
        };
        let (least, mean) = (load(stress.lo)?, load(stress.hi)?);
        let rule = [
            "pull_off_count",
            "pull_off_first_surface",
            "pull_off_first_surface",
        ];
        let count = from.count(rule, surface)?;
        let stress = from.say("pull-off of the prepared surface", Kind::Pressure, stress);
        let disk = Kind::Length.write(disk, self.units());
        let load = force(least, mean, self.units());
        Some(from.step(
            ("steps_profile", "pull-off-load"),
            "profile",
            thing,
            Said {
                crew: format!("Pull {count} times on the prepared surface: {stress} or more, which is {load} on a {disk} disk. Below that take more off and pull again."),
                line: format!("Pull {count} times: {stress} or more ({load} on a {disk} disk). Below that take more off and pull again."),
                owner: "We pull on the prepared surface to be sure that it holds.".to_owned(),
                how: "Stress times the surface of the disk.".to_owned(),
            },
        ))
    }

    /// Setting of the depth gauge.
    pub(super) fn gauge(&self, thing: usize, layer: &Overlay) -> Option<Step> {
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
            .iter()
            .copied()
            .filter(|s| *s >= layer.thickness_mm - 0.1)
            .reduce(f64::min)?;
        let write = |mm: f64| Kind::Length.write(Interval::exact(mm), self.units());
        let settings: Vec<String> = all.iter().map(|mm| write(*mm)).collect();
        let deep = write(from.figure("relief_deep_needs")?.lo);
        let shallow = write(from.figure("relief_shallow_needs")?.lo);
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
                crew: format!("Depth gauge at {set}, over the highest spot. Its settings are {}; a pattern with deep grooves needs about {deep}, a shallow relief {shallow}.", crate::method::worked::listed(&settings)),
                line: format!("Depth gauge at {set}, over the highest spot."),
                owner: format!("The layer is spread with a gauge set at {set}."),
                how: "The smallest gauge setting that is not thinner than the layer.".to_owned(),
            },
        ))
    }

    /// Coats of a layer that is thicker than one of its lifts.
    pub(super) fn coats(&self, thing: usize, layer: &Overlay) -> Option<Step> {
        let mut from = Sources::of(self);
        let lift = layer.lift_mm?;
        let coats = lifts(mm(layer.thickness_mm), mm(lift.lo), mm(lift.hi)).ok()?;
        let [first, _, ..] = coats.as_slice() else {
            return None;
        };
        let each = from.mark("coat", in_mm(*first));
        let n = coats.len();
        Some(from.step(
            ("steps_overlay", "coats"),
            "overlay",
            thing,
            Said {
                crew: format!(
                    "Lay it in {n} coats of {each}, each on the hard and clean one before."
                ),
                line: format!(
                    "Lay it in {n} coats of {each}, each on the hard and clean one before."
                ),
                owner: format!("The layer goes on in {n} coats."),
                how: "Thickness of the layer over its greatest lift, in equal coats.".to_owned(),
            },
        ))
    }

    /// Drop that the finished surface needs over the shorter side.
    pub(super) fn fall(&self, area: &AreaRecord, thing: usize) -> Option<Step> {
        if !self.fired(thing, "steps_overlay", "do-keep-fall") {
            return None;
        }
        let mut from = Sources::of(self);
        let (w, h) = geometry::sides_of(area.size.as_ref()?)?;
        let side = w.min(h);
        let (least, aim) = (from.figure("fall_least")?, from.figure("fall_preferred")?);
        let drop = |fall: f64| in_mm(drop_over(mm(side), fall));
        let now = from.number(thing, "fall");
        let range = from.marks(
            "drop over the shorter side",
            Interval::of(drop(least.lo), drop(aim.hi)),
        );
        let run = from.say("shorter side", Kind::Length, Interval::exact(side));
        let today = now.filter(|n| n.lo >= 0.0).map_or_else(String::new, |n| {
            let has = from.seen("drop now", Interval::of(drop(n.lo), drop(n.hi)));
            format!(" It is {has} now.")
        });
        let away = if self
            .survey
            .value(&self.pack.vocabulary, thing, "near_building")
            == self.value_of("near_building", "yes")
        {
            ", away from the building"
        } else {
            ""
        };
        Some(from.step(
            ("steps_overlay", "fall-drop"),
            "overlay",
            thing,
            Said {
                crew: format!(
                    "Over the {run} of the shorter side the surface must drop {range}{away}.{today}"
                ),
                line: format!(
                    "The surface must drop {range} over the {run} of the shorter side{away}."
                ),
                owner: format!("The new surface falls {range} over {run}, so that water runs off."),
                how: "Fall times the length.".to_owned(),
            },
        ))
    }

    /// Humidity probes before a tight coat or layer.
    pub(super) fn probes(&self, thing: usize) -> Option<Step> {
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
        let rule = [
            "f2170_first",
            "f2170_first_surface",
            "f2170_further_surface",
        ];
        let count = from.count(rule, surface)?;
        let wait = from.figure("f2170_wait")?;
        let limit = from.figure("humidity_limit")?;
        let depth = from.mark(
            "probe depth",
            in_mm(probe_depth(mm(middle(thickness)), share.lo)),
        );
        let wait = Kind::Duration.write(wait, self.units());
        let limit = Kind::Share.write(limit, self.units());
        Some(from.step(
            ("steps_protect", "humidity-probes"),
            "protect",
            thing,
            Said {
                crew: format!("{count} humidity probes {depth} deep, read after {wait}: at most {limit} unless the sheet allows more."),
                line: format!("{count} humidity probes {depth} deep, read after {wait}: at most {limit} unless the sheet allows more."),
                owner: "We measure how damp the slab is inside before anything tight goes on it.".to_owned(),
                how: "Share of the slab thickness; count by surface.".to_owned(),
            },
        ))
    }
}

impl Sources<'_, '_> {
    /// How many readings a surface (m2) asks for: so many for the first so much surface, one more
    /// for every further so much, by three figures of the pack in this order.
    fn count(&mut self, [first, on, further]: [&str; 3], surface: Interval) -> Option<u64> {
        let (first, on, further) = (self.figure(first)?, self.figure(on)?, self.figure(further)?);
        test_count(
            Area::new::<square_meter>(surface.hi),
            CountRule {
                first_count: first.lo.clamp(0.0, 1e6) as u32,
                first_area: Area::new::<square_meter>(on.lo),
                further_count: 1,
                further_area: Area::new::<square_meter>(further.lo),
            },
        )
    }
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
