//! Readings that contradict each other.

use super::Check;
use crate::units::Kind;

impl Check<'_> {
    pub(super) fn readings(&mut self) {
        let record = self.record;
        let units = record.job.units;
        for (a, area) in record.areas.iter().enumerate() {
            let path = format!("areas.{a}");
            if let Some(sounding) = &area.tests.sounding {
                let at = |key: &str| format!("{path}.tests.sounding.{key}");
                match (sounding.taps, sounding.hollow) {
                    (Some(0), _) => self.error(
                        "sounding",
                        &at("taps"),
                        "no tap was made",
                        "write how many, or leave `sounding` out",
                    ),
                    (Some(taps), Some(hollow)) if hollow > taps => self.error(
                        "sounding",
                        &at("hollow"),
                        format!("{hollow} taps answered dull, but only {taps} were made"),
                        "check both counts",
                    ),
                    (Some(_), None) if !self.is_broken(&at("hollow")) => self.warning(
                        "sounding",
                        &at("taps"),
                        "how many of the taps answered dull is not written",
                        "add `hollow:`, 0 if none did",
                    ),
                    (None, Some(_)) if !self.is_broken(&at("taps")) => self.error(
                        "sounding",
                        &at("hollow"),
                        "how many taps were made is not written",
                        "add `taps:`; a share needs both counts",
                    ),
                    _ => {}
                }
            }
            for (d, defect) in area.defects.iter().enumerate() {
                let at = |key: &str| format!("{path}.defects.{d}.{key}");
                let typical = defect.depth.and_then(|m| m.canonical());
                let greatest = defect.greatest_depth.and_then(|m| m.canonical());
                if let (Some(typical), Some(greatest)) = (typical, greatest)
                    && greatest.hi < typical.hi
                {
                    self.error(
                        "depth",
                        &at("greatest_depth"),
                        format!(
                            "the greatest depth, {}, is less than the usual one, {}",
                            Kind::Length.write(greatest, units),
                            Kind::Length.write(typical, units)
                        ),
                        "exchange them, or check the units",
                    );
                }
                let thickness = record.slab.thickness.and_then(|m| m.canonical());
                let deepest = [("greatest_depth", greatest), ("depth", typical)]
                    .into_iter()
                    .find_map(|(k, v)| Some((k, v?)));
                if let (Some(thickness), Some((key, deepest))) = (thickness, deepest)
                    && thickness.hi > 0.0
                    && deepest.lo > thickness.hi
                {
                    self.warning(
                        "depth",
                        &at(key),
                        format!(
                            "the loss is {} deep, and the slab is {} thick",
                            Kind::Length.write(deepest, units),
                            Kind::Length.write(thickness, units)
                        ),
                        "check both; a hole that goes through is as deep as the slab is thick",
                    );
                }
            }
        }
    }
}
