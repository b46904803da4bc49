//! Raised and curled edges: bevels, ramps, and how far they are hollow below.

use crate::facts::Interval;
use crate::method::model::Step;
use crate::method::sizes::share_of;
use crate::method::specify::Specifier;
use crate::record::model::{Defect, DefectKind};
use crate::survey::heights::{LipLimits, LipWay, deal_with_lip};

use super::{Said, Sources, in_mm, mm};

impl Specifier<'_> {
    /// Bevel or ramp of a step.
    pub(super) fn lip(&self, defect: &Defect, t: usize) -> Option<Step> {
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
        let height = from.seen("height of the step", offset);
        let name = format!("Defect {}", defect.id);
        let (crew, line, owner) = match deal_with_lip(mm(offset.hi), limits)? {
            LipWay::Leave => return None,
            LipWay::Bevel { length_mm } => {
                let run = from.mark("length of the bevel", length_mm);
                let back = from.figure("grind_back")?;
                let back = from.mark("greatest distance ground back", back.hi);
                (
                    format!(
                        "{name}: grind the {height} step to a bevel at least {run} long, and feather it back up to {back} from the joint where it would still be felt."
                    ),
                    format!(
                        "{name}: grind the {height} step to a bevel {run} or longer, feathered back {back} at most."
                    ),
                    format!("{name}: the raised edge is ground to a slope at least {run} long."),
                )
            }
            LipWay::Ramp { length_mm } => {
                let run = from.mark("length of the ramp", length_mm);
                (
                    format!(
                        "{name}: a step of {height} is too high for a bevel. Ramp it over at least {run}, or lift the low side."
                    ),
                    format!(
                        "{name}: ramp the {height} step over {run} or more, or lift the low side."
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
                line,
                owner,
                how: "Height of the step over the steepest slope allowed.".to_owned(),
            },
        ))
    }

    /// How far a curled edge is likely to be hollow below.
    pub(super) fn curl(&self, defect: &Defect, t: usize) -> Option<Step> {
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
        let reach = from.marks(
            "how far the edge may be hollow below",
            Interval::of(in_mm(least), in_mm(most)),
        );
        Some(from.step(
            ("steps_patch_area", "curl-reach"),
            "patch",
            t,
            Said {
                crew: format!("Defect {}: expect the panel to stand off its base for {reach} from the joint, more where no dowels cross it. Sound it and mark how far; fill below that far before grinding.", defect.id),
                line: format!("Defect {}: sound and mark how far it is hollow, {reach} or more from the joint; fill below before grinding.", defect.id),
                owner: format!("Defect {}: the curled edge may be hollow below for {reach}; that is filled first.", defect.id),
                how: "Length of the panel times the share that lifts off, with and without load transfer.".to_owned(),
            },
        ))
    }
}
