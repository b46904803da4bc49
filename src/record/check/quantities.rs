//! Quantities that can't be, and quantities that are unusual.
//!
//! What can't be is bounded here, far outside the trade: these are guards against a slipped unit
//! or decimal point. What is unusual is the plausible range in the rule pack's fact list.

use super::Check;
use crate::facts::{FactKind, Interval};
use crate::record::model::DefectKind;
use crate::units::{Kind, Measured, Notation};

/// From where to where a quantity can be at all, in the canonical unit.
#[derive(Clone, Copy)]
struct Bounds {
    least: f64,
    greatest: f64,
    /// Whether the least itself is allowed.
    closed: bool,
}

/// More than nothing, up to a bound.
const fn above_zero(greatest: f64) -> Bounds {
    Bounds {
        least: 0.0,
        greatest,
        closed: false,
    }
}

/// Nothing or more, up to a bound.
const fn from_zero(greatest: f64) -> Bounds {
    Bounds {
        least: 0.0,
        greatest,
        closed: true,
    }
}

const fn within(least: f64, greatest: f64) -> Bounds {
    Bounds {
        least,
        greatest,
        closed: true,
    }
}

// mm
const METRE: f64 = 1_000.0;
const RISER: f64 = 508.0; // 20 in
const KILOMETRE: f64 = 1e6;
// m²
const SQUARE_KILOMETRE: f64 = 1e6;
// days
const DAY: f64 = 1.0;
const YEAR: f64 = 365.25;

impl Check<'_> {
    pub(super) fn quantities(&mut self) {
        let record = self.record;
        let rules = &record.job.step_rules;
        self.maybe(
            "job.step_rules.greatest_riser",
            &rules.greatest_riser,
            above_zero(RISER),
            None,
        );
        self.maybe(
            "job.step_rules.least_riser",
            &rules.least_riser,
            above_zero(RISER),
            None,
        );
        self.maybe(
            "job.step_rules.greatest_difference",
            &rules.greatest_difference,
            from_zero(RISER),
            None,
        );

        let site = &record.site;
        self.maybe(
            "site.freeze_thaw_days",
            &site.freeze_thaw_days,
            from_zero(366.0),
            Some("freeze_thaw_days"),
        );
        self.maybe(
            "site.tree_distance",
            &site.tree_distance,
            from_zero(KILOMETRE),
            Some("tree_distance"),
        );
        if let Some([latitude, longitude]) = site.coordinates {
            for (i, (degrees, most, what)) in [
                (latitude, 90.0, "latitude"),
                (longitude, 180.0, "longitude"),
            ]
            .into_iter()
            .enumerate()
            {
                if !(-most..=most).contains(&degrees) {
                    self.error(
                        "coordinates",
                        &format!("site.coordinates.{i}"),
                        format!("a {what} lies between -{most} and {most} degrees"),
                        "write `[latitude, longitude]`, north and east positive",
                    );
                }
            }
        }
        if let Some(degrees) = site.map_up
            && !(0.0..=360.0).contains(&degrees)
        {
            self.error(
                "map-up",
                "site.map_up",
                "a compass direction lies between 0 and 360 degrees",
                "0 is north, 90 is east",
            );
        }

        let slab = &record.slab;
        self.maybe(
            "slab.thickness",
            &slab.thickness,
            above_zero(METRE),
            Some("thickness"),
        );
        self.maybe(
            "slab.relief",
            &slab.relief,
            from_zero(100.0),
            Some("relief"),
        );
        self.maybe(
            "slab.covering_thickness",
            &slab.covering_thickness,
            above_zero(METRE),
            None,
        );
        self.maybe(
            "slab.mix.air",
            &slab.mix.air,
            from_zero(0.3),
            Some("mix_air"),
        );
        self.maybe(
            "slab.mix.largest_stone",
            &slab.mix.largest_stone,
            above_zero(200.0),
            Some("mix_stone"),
        );
        self.maybe(
            "slab.mix.strength",
            &slab.mix.strength,
            above_zero(250.0),
            Some("mix_strength"),
        );
        self.maybe(
            "slab.mix.chloride",
            &slab.mix.chloride,
            from_zero(0.5),
            Some("chloride_content"),
        );

        for (a, area) in record.areas.iter().enumerate() {
            self.area_quantities(&format!("areas.{a}"), area);
        }
        for (s, stair) in record.stairs.iter().enumerate() {
            if stair.risers.is_empty() {
                self.error(
                    "no-riser",
                    &format!("stairs.{s}.risers"),
                    format!("the stair `{}` has no riser", stair.id),
                    "write every riser, bottom to top: `[7 in, 7-1/8 in]`",
                );
            }
            self.list(
                &format!("stairs.{s}.risers"),
                &stair.risers,
                above_zero(RISER),
                Some("riser_greatest"),
            );
            self.list(
                &format!("stairs.{s}.treads"),
                &stair.treads,
                above_zero(5.0 * METRE),
                None,
            );
        }
        for (t, door) in record.thresholds.iter().enumerate() {
            self.one(
                &format!("thresholds.{t}.drop"),
                &door.drop,
                within(-METRE, 2.0 * METRE),
                Some("drop"),
            );
            let path = format!("thresholds.{t}.door_clearance");
            self.maybe(
                &path,
                &door.door_clearance,
                from_zero(METRE),
                Some("door_clearance"),
            );
        }
        for (e, edge) in record.edges.iter().enumerate() {
            self.maybe(
                &format!("edges.{e}.height"),
                &edge.height,
                within(-10.0 * METRE, 10.0 * METRE),
                None,
            );
        }
        self.maybe(
            "wishes.life",
            &record.wishes.life,
            above_zero(200.0 * YEAR),
            None,
        );
        self.material_quantities();
        if let Some(crew) = &record.crew {
            for (key, count) in [
                ("people", Some(crew.people)),
                ("mixers", crew.mixers),
                ("bags_per_batch", crew.bags_per_batch),
            ] {
                if let Some(count) = count
                    && !(1..=1000).contains(&count)
                {
                    self.error(
                        "quantity",
                        &format!("crew.{key}"),
                        format!("`{key}` can't be {count}"),
                        "write how many there are, or leave the line out",
                    );
                }
            }
            self.maybe("crew.batch_time", &crew.batch_time, above_zero(DAY), None);
            self.maybe("crew.haul_time", &crew.haul_time, from_zero(DAY), None);
            self.maybe(
                "crew.spread_per_hour",
                &crew.spread_per_hour,
                above_zero(10_000.0),
                None,
            );
        }
        if let Some(prices) = &record.prices {
            self.maybe("prices.tax", &prices.tax, from_zero(1.0), None);
            self.maybe("prices.deposit", &prices.deposit, from_zero(1.0), None);
            self.maybe(
                "prices.discount_rate",
                &prices.discount_rate,
                within(-0.2, 0.5),
                None,
            );
        }
    }

    fn material_quantities(&mut self) {
        let record = self.record;
        for (m, material) in record.materials.iter().enumerate() {
            let at = |key: &str| format!("materials.{m}.{key}");
            self.maybe(&at("bag"), &material.bag, above_zero(5_000.0), None);
            self.maybe(
                &at("bag_yield"),
                &material.bag_yield,
                above_zero(5_000.0),
                None,
            );
            self.maybe(&at("water"), &material.water, from_zero(5_000.0), None);
            self.maybe(&at("lift"), &material.lift, from_zero(METRE), None);
            self.maybe(
                &at("pot_life"),
                &material.pot_life,
                above_zero(7.0 * DAY),
                None,
            );
            self.maybe(
                &at("coverage"),
                &material.coverage,
                above_zero(1_000.0),
                None,
            );
            self.maybe(
                &at("temperature"),
                &material.temperature,
                within(-60.0, 100.0),
                None,
            );
            // Profile numbers run from 1 to 10 (ICRI 310.2R-2013).
            self.maybe(&at("profile"), &material.profile, within(1.0, 10.0), None);
        }
    }

    fn area_quantities(&mut self, path: &str, area: &crate::record::model::AreaRecord) {
        let at = |key: &str| format!("{path}.{key}");
        if let Some(size) = &area.size {
            for side in [&size.width, &size.length] {
                self.one(&at("size"), side, above_zero(KILOMETRE), None);
            }
        }
        self.maybe(
            &at("surface"),
            &area.surface,
            above_zero(SQUARE_KILOMETRE),
            Some("area_surface"),
        );
        self.maybe(&at("fall"), &area.fall, within(-1.0, 1.0), Some("fall"));
        if let Some(panels) = &area.panels {
            self.list(
                &at("panels.columns"),
                &panels.columns,
                above_zero(KILOMETRE),
                Some("panel_side"),
            );
            self.list(
                &at("panels.rows"),
                &panels.rows,
                above_zero(KILOMETRE),
                Some("panel_side"),
            );
        }
        for (d, defect) in area.defects.iter().enumerate() {
            let at = |key: &str| format!("{path}.defects.{d}.{key}");
            let cracked = matches!(
                defect.kind,
                DefectKind::Crack | DefectKind::MapCracking | DefectKind::CornerBreak
            );
            self.maybe(
                &at("surface"),
                &defect.surface,
                above_zero(SQUARE_KILOMETRE),
                None,
            );
            self.maybe(&at("share"), &defect.share, above_zero(1.0), None);
            self.maybe(&at("count"), &defect.count, above_zero(1e6), Some("count"));
            for (f, count) in defect.frame_counts.iter().enumerate() {
                if !(0.0..=1e6).contains(count) {
                    self.error(
                        "quantity",
                        &format!("{}.{f}", at("frame_counts")),
                        "a count is nothing or more",
                        "write how many were in the frame",
                    );
                }
            }
            self.maybe(
                &at("depth"),
                &defect.depth,
                above_zero(METRE),
                Some("loss_depth"),
            );
            self.maybe(
                &at("greatest_depth"),
                &defect.greatest_depth,
                above_zero(METRE),
                Some("greatest_depth"),
            );
            self.maybe(
                &at("diameter"),
                &defect.diameter,
                above_zero(METRE),
                Some("diameter"),
            );
            let width = if cracked {
                "crack_width"
            } else {
                "spall_width"
            };
            self.maybe(
                &at("width"),
                &defect.width,
                above_zero(10.0 * METRE),
                Some(width),
            );
            self.maybe(
                &at("length"),
                &defect.length,
                above_zero(KILOMETRE),
                cracked.then_some("crack_length"),
            );
            self.maybe(
                &at("offset"),
                &defect.offset,
                within(-METRE, METRE),
                Some("offset"),
            );
            self.maybe(
                &at("spacing"),
                &defect.spacing,
                above_zero(100.0 * METRE),
                Some("spacing"),
            );
            self.maybe(
                &at("water_depth"),
                &defect.water_depth,
                above_zero(METRE),
                Some("water_depth"),
            );
            for (r, reading) in defect.readings.iter().enumerate() {
                let at = |key: &str| format!("{path}.defects.{d}.readings.{r}.{key}");
                self.one(
                    &at("value"),
                    &reading.value,
                    from_zero(METRE),
                    Some("crack_width"),
                );
                self.maybe(
                    &at("slab"),
                    &reading.slab,
                    within(-60.0, 100.0),
                    Some("slab_temperature"),
                );
            }
        }
        for (j, joint) in area.joints.iter().enumerate() {
            let path = format!("{path}.joints.{j}.width");
            self.maybe(&path, &joint.width, from_zero(METRE), Some("joint_opening"));
        }
        let tests = &area.tests;
        self.list(
            &at("tests.water_drop"),
            &tests.water_drop,
            from_zero(7.0 * DAY),
            Some("water_drop"),
        );
        self.ph_readings(&at("tests.ph"), &tests.ph);
        self.list(
            &at("tests.humidity"),
            &tests.humidity,
            from_zero(1.0),
            Some("humidity"),
        );
        self.list(
            &at("tests.pull_off"),
            &tests.pull_off,
            from_zero(50.0),
            Some("pull_off"),
        );
        let temperature = &tests.slab_temperature;
        self.maybe(
            &at("tests.slab_temperature"),
            temperature,
            within(-60.0, 100.0),
            Some("slab_temperature"),
        );
        let taken = &area.work_readings;
        self.ph_readings(&at("work_readings.ph"), &taken.ph);
        self.list(
            &at("work_readings.thickness"),
            &taken.thickness,
            above_zero(METRE),
            None,
        );
        self.list(
            &at("work_readings.slab"),
            &taken.slab,
            within(-60.0, 100.0),
            Some("slab_temperature"),
        );
        self.list(
            &at("work_readings.pull_off"),
            &taken.pull_off,
            from_zero(50.0),
            Some("pull_off"),
        );
        for (l, reading) in tests.levels.iter().enumerate() {
            let path = format!("{path}.tests.levels.{l}.value");
            self.one(
                &path,
                &reading.value,
                within(-100.0 * METRE, 100.0 * METRE),
                None,
            );
        }
    }

    fn ph_readings(&mut self, path: &str, readings: &[f64]) {
        for (i, ph) in readings.iter().enumerate() {
            if !(0.0..=14.0).contains(ph) {
                self.error(
                    "quantity",
                    &format!("{path}.{i}"),
                    format!("a pH of {ph} can't be"),
                    "the scale runs from 0 to 14; read the strip again",
                );
            }
        }
    }

    fn list<T: Notation>(
        &mut self,
        path: &str,
        values: &[Measured<T>],
        bounds: Bounds,
        fact: Option<&str>,
    ) {
        for (i, value) in values.iter().enumerate() {
            self.one(&format!("{path}.{i}"), value, bounds, fact);
        }
    }

    fn maybe<T: Notation>(
        &mut self,
        path: &str,
        value: &Option<Measured<T>>,
        bounds: Bounds,
        fact: Option<&str>,
    ) {
        if let Some(value) = value {
            self.one(path, value, bounds, fact);
        }
    }

    fn one<T: Notation>(
        &mut self,
        path: &str,
        value: &Measured<T>,
        bounds: Bounds,
        fact: Option<&str>,
    ) {
        let Some(number) = value.canonical() else {
            return;
        };
        if self.is_broken(path) {
            return;
        }
        let units = self.record.job.units;
        let written = self.written(path).to_owned();
        let name = name_of(path);
        let low = number.lo < bounds.least || (!bounds.closed && number.lo <= bounds.least);
        let high = number.hi > bounds.greatest;
        if low || high {
            let message = match (low, bounds.least) {
                (true, 0.0) if bounds.closed => format!("{name} can't be less than nothing"),
                (true, 0.0) => format!("{name} must be more than nothing"),
                (true, least) => {
                    format!(
                        "{name} of `{written}` can't be: it is less than {}",
                        print(T::KIND, least, units)
                    )
                }
                (false, _) => format!(
                    "{name} of `{written}` can't be: it is more than {}",
                    print(T::KIND, bounds.greatest, units)
                ),
            };
            self.error(
                "quantity",
                path,
                message,
                "check the number and its unit, or write `unknown`",
            );
            return;
        }
        if let Some(fact) = fact {
            self.plausible(path, fact, T::KIND, number);
        }
    }

    /// Questions a value that lies wholly outside the plausible range of a fact.
    pub(super) fn plausible(&mut self, path: &str, fact: &str, kind: Kind, number: Interval) {
        let Some(vocabulary) = self.vocabulary else {
            return;
        };
        let Some(fact) = vocabulary.find(fact).map(|id| vocabulary.fact(id)) else {
            return;
        };
        let Some(range) = fact.range else { return };
        if fact.kind != FactKind::Quantity(kind) || (number.hi >= range.lo && number.lo <= range.hi)
        {
            return;
        }
        let units = self.record.job.units;
        let message = format!(
            "`{}` is unusual for the {}: {} is usual",
            self.written(path),
            fact.name,
            kind.write(range, units)
        );
        self.warning(
            "unusual",
            path,
            message,
            "check the number and its unit; leave it if it is right",
        );
    }
}

fn print(kind: Kind, x: f64, units: crate::units::System) -> String {
    kind.write(Interval::exact(x), units)
}

/// The last name on a path, for a sentence: `the greatest depth`.
fn name_of(path: &str) -> String {
    let key = path
        .rsplit('.')
        .find(|s| s.parse::<usize>().is_err())
        .unwrap_or(path);
    let word = match key {
        "risers" => "a riser",
        "treads" => "a tread",
        "columns" => "the width of a column",
        "rows" => "the height of a row",
        "value" => "a reading",
        "humidity" => "a humidity",
        "pull_off" => "a pull-off strength",
        "water_drop" => "a water drop's time",
        other => return format!("the {}", other.replace('_', " ")),
    };
    word.to_owned()
}
