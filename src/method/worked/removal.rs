//! What comes off: how deep, with which air through the grinder.

use crate::facts::Interval;
use crate::method::model::Step;
use crate::method::sizes::shroud_air;
use crate::method::specify::Specifier;
use crate::record::model::{Defect, DefectKind};
use crate::rules::Set;
use crate::units::Kind;

use super::{Said, Sources, length, mm};

impl Specifier<'_> {
    /// Air that the shroud of the grinder must move, where a grinder is used.
    pub(super) fn dust(&self, thing: usize) -> Option<Step> {
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
                line: format!("Shroud and vacuum on every grinder: {small} cfm for a {narrow} wheel, {large} for {wide}; filter {filter}."),
                owner: "The grinders have a dust vacuum, since fine concrete dust harms the lungs.".to_owned(),
                how: format!("{per_inch} cubic feet a minute for every inch of the wheel."),
            },
        ))
    }

    /// How deep to take off at a defect.
    pub(super) fn removal(&self, defect: &Defect, t: usize, area: usize) -> Option<Step> {
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
                let lies = from.seen("depth of the loose layer", depth);
                let down = from.mark("depth to take off, at most", depth.hi + sound.hi);
                let beyond = from.marks("margin beyond the dull sound", margin);
                Some(from.step(
                    ("steps_remove", "removal-depth"),
                    "remove",
                    t,
                    Said {
                        crew: format!("{name}: the loose layer lies {lies} deep. Take it off, {beyond} beyond the dull sound all round, and up to {down} deep where the concrete below is bruised; stop where it rings."),
                        line: format!("{name}: take off the loose layer ({lies}) and {beyond} beyond it, {down} deep at most; stop where it rings."),
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
                let takes = from.mark("depth taken off by a pass", pass.lo);
                let lost = loss.map(|l| from.seen("deepest loss", Interval::exact(l.hi)));
                let now = lost
                    .as_ref()
                    .map_or_else(String::new, |l| format!("; the loss is {l} now"));
                let found =
                    lost.map_or_else(String::new, |l| format!(" The loss reaches {l} now."));
                Some(from.step(
                    ("steps_remove", "removal-depth"),
                    "remove",
                    t,
                    Said {
                        crew: format!("{name}:{found} Take off at least {takes} more, one pass of the {}, and go on until it is sound.", short(&way.name)),
                        line: format!("{name}: take off at least {takes}, one pass, until it is sound{now}."),
                        owner: format!("{name}: the weak top comes off, at least {takes}."),
                        how: "One pass of the way of removal chosen.".to_owned(),
                    },
                ))
            }
            _ => None,
        }
    }
}

/// The first words of a candidate's name, without what follows `with` or a comma.
fn short(name: &str) -> &str {
    name.split(" with ")
        .next()
        .and_then(|n| n.split(',').next())
        .unwrap_or(name)
}
