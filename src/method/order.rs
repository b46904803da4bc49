//! The order in which the work runs, and what is said once where two steps would say the same.

use crate::rules::{Pack, Set};

use super::model::{AreaMethod, NEW_LEVEL, Step};

/// Stages of the work, in order. A step of another stage goes last.
const STAGES: [&str; 15] = [
    "now", "protect", "replace", "remove", "profile", "cracks", "joints", "patch", "bond",
    "overlay", "texture", "saw", "cure", "seal", "reopen",
];

/// Choices whose step is left out where another step tells how to do what was chosen.
pub(super) const CHOICE_SAID_BY_STEP: [&str; 5] = [
    "removal_method",
    "crack_repair",
    "patch_material",
    "bond_coat",
    "sealer",
];

/// Places within a stage of the steps that are no rows of the pack. Rows say theirs under `at`; what
/// says none stands in the middle.
const PLACES: [(&str, u32); 27] = [
    ("which-panels", 10),
    (NEW_LEVEL, 45),
    ("thermal-growth", 57),
    ("removal-depth", 50),
    ("grinder-air", 47),
    ("patch-outline", 35),
    ("patch-stop", 60),
    ("undercut", 66),
    ("curl-reach", 5),
    ("popout-core", 35),
    ("fill-first", 30),
    ("patch-fill", 55),
    ("gauge-setting", 30),
    ("fall-drop", 20),
    ("coats", 62),
    ("groove", 30),
    ("pull-off-load", 90),
    ("stair-after", 51),
    // Choices, by their table.
    ("removal_method", 46),
    ("profile_way", 10),
    ("crack_repair", 15),
    ("patch_material", 15),
    ("bond_coat", 20),
    ("overlay_system", 25),
    ("sealer", 30),
    ("crack-joint-depth", 60),
    ("humidity-probes", 60),
];
const MIDDLE: u32 = 50;

/// Steps with the numbers of this slab, and the general row they say everything of.
const SAYS_ALL_OF: [(&str, &str); 13] = [
    ("gauge-setting", "do-depth-gauge"),
    ("groove", "do-crack-rout"),
    ("patch-outline", "do-patch-outline"),
    ("patch-stop", "do-patch-third"),
    ("joint-band", "do-joint-new-panels"),
    ("fall-drop", "do-keep-fall"),
    ("fill-first", "do-patch-lifts"),
    ("joint-saw-depth", "do-joint-saw-bonded"),
    ("patch-fill", "do-spot-polymer"),
    ("patch-fill", "do-spot-bagged"),
    ("patch-fill", "do-spot-concrete"),
    ("patch-fill", "do-spot-epoxy"),
    ("thermal-growth", "do-replace-isolate"),
];

/// Place of a stage in the work that a verdict asks for. A patch is bonded before it is filled; under
/// a layer the holes are filled before the bonding coat of the layer goes on.
pub(super) fn stage_place(stage: &str, verdict: &str) -> usize {
    let place = |stage: &str| STAGES.iter().position(|s| *s == stage);
    match (stage, verdict) {
        ("bond", "patch") => place("patch").map(|p| 2 * p - 1),
        _ => place(stage).map(|p| 2 * p),
    }
    .unwrap_or(2 * STAGES.len())
}

/// Puts the steps in the order of the work. Steps of the same place keep theirs.
pub(super) fn sort_steps(pack: &Pack, method: &mut AreaMethod) {
    let verdict = method.verdict.clone();
    method
        .steps
        .sort_by_key(|s| (stage_place(&s.stage, &verdict), place(pack, s)));
}

fn place(pack: &Pack, step: &Step) -> u32 {
    let row = pack.table(&step.reason.table).and_then(|(_, table)| {
        let row = table.rows.iter().find(|r| r.id == step.reason.row)?;
        row.set.get("at").and_then(Set::quantity)
    });
    if let Some(at) = row {
        return at.lo.clamp(0.0, 1000.0) as u32;
    }
    let named = |name: &str| PLACES.iter().find(|(n, _)| *n == name).map(|(_, at)| *at);
    named(&step.reason.row)
        .or_else(|| named(&step.reason.table))
        .unwrap_or(MIDDLE)
}

/// Leaves out the general step where one with the numbers of this slab says all of it, for the same
/// thing or for one inside it.
pub(super) fn drop_general(steps: &mut Vec<Step>) {
    let said: Vec<(String, String)> = steps
        .iter()
        .map(|s| (s.reason.row.clone(), s.reason.about.clone()))
        .collect();
    steps.retain(|step| {
        let mut specials = SAYS_ALL_OF
            .iter()
            .filter(|(_, general)| *general == step.reason.row);
        !specials.any(|(special, _)| {
            said.iter().any(|(row, about)| {
                row == special
                    && (*about == step.reason.about || step.reason.about.starts_with("area"))
            })
        })
    });
}
