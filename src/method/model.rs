//! The specified work: steps in order, the overlay between its floor and its ceiling, what was
//! turned down and why.

use serde::Serialize;

use crate::assessment::Reason;
use crate::facts::Interval;
use crate::units::Kind;

/// The specified work for the whole slab.
#[derive(Debug, Clone, Serialize)]
pub struct Method {
    /// One for each area, in record order.
    pub areas: Vec<AreaMethod>,
    /// Each stair before and after the work.
    pub stairs: Vec<StairChange>,
    /// Care for the owner after the work, in plain sentences with the row behind each.
    pub care: Vec<Reason>,
}

/// The specified work for an area.
#[derive(Debug, Clone, Serialize)]
pub struct AreaMethod {
    /// Short name of the area.
    pub area: String,
    /// Verdict word this work belongs to. For an open verdict: the work is not specified yet.
    pub verdict: String,
    /// Whether the work is specified; when not, `why_not` says why.
    pub specified: bool,
    /// Why no work is specified (open verdict, engineer, nothing to do).
    pub why_not: Option<String>,
    /// Steps in the order of the work.
    pub steps: Vec<Step>,
    /// Chosen overlay, topping or coat, if any.
    pub overlay: Option<Overlay>,
    /// Target surface profile.
    pub profile: Option<Profile>,
    /// Candidates turned down, with the first reason.
    pub turned_down: Vec<TurnedDown>,
    /// Waiting times, in order.
    pub waits: Vec<Wait>,
    /// Patches to saw out and fill.
    pub patches: Vec<Patch>,
}

impl AreaMethod {
    /// How much lower than now new concrete is laid, mm, as the step says that sets its level;
    /// 0 where none does.
    pub fn lowered_mm(&self) -> f64 {
        self.steps
            .iter()
            .find(|s| s.reason.row == NEW_LEVEL)
            .and_then(|s| s.numbers.iter().find(|n| n.what == LOWER_BY))
            .map_or(0.0, |n| n.value.lo)
    }
}

/// Row of the step that sets the level of new concrete.
pub(super) const NEW_LEVEL: &str = "new-level";
/// Its number for how much lower than now the concrete is laid.
pub(super) const LOWER_BY: &str = "lower than now";

/// A patch to saw out and fill.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Patch {
    /// Numbers of the defects in it; several where they lie near each other.
    pub defects: Vec<u32>,
    /// Long side of the outline, margin included, mm.
    pub length_mm: f64,
    /// Short side, mm.
    pub width_mm: f64,
    /// Depth to take it down to, mm, where the depth of the damage is known.
    pub depth_mm: Option<f64>,
    /// Lifts it is filled in, mm; empty where no lift is known.
    pub lifts_mm: Vec<f64>,
    /// Word of the patching material.
    pub material: Option<String>,
}

/// A number of a step.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Number {
    /// What it is, in plain words.
    pub what: String,
    /// Kind of quantity.
    pub kind: Kind,
    /// Value in the kind's canonical unit.
    pub value: Interval,
    /// As the step says it.
    pub text: String,
}

/// One step of the work.
#[derive(Debug, Clone, Serialize)]
pub struct Step {
    /// Which part of the work it belongs to: `protect`, `remove`, `profile`, `cracks`, `joints`,
    /// `patch`, `bond`, `overlay`, `texture`, `cure`, `seal`, `reopen`, `replace`.
    pub stage: String,
    /// The instruction for the crew, in full.
    pub crew: String,
    /// The same in a line, for the crew's sheet.
    pub line: String,
    /// The same for the owner.
    pub owner: String,
    /// The numbers it says for this slab, with the facts and figures behind them in `reason`.
    pub numbers: Vec<Number>,
    /// The row behind it.
    pub reason: Reason,
}

/// A layer between its floor and its ceiling.
#[derive(Debug, Clone, Serialize)]
pub struct Overlay {
    /// Candidate word.
    pub system: String,
    /// In plain words.
    pub name: String,
    /// Least thickness, mm: the greatest of `floor_parts`.
    pub floor_mm: f64,
    /// Greatest thickness, mm: the least of `ceiling_parts`.
    pub ceiling_mm: f64,
    /// Thickness to place, mm.
    pub thickness_mm: f64,
    /// Thickness of one lift, least and greatest, mm, where the sheet or the family states one.
    pub lift_mm: Option<Interval>,
    /// What asks for thickness.
    pub floor_parts: Vec<Limit>,
    /// What forbids thickness.
    pub ceiling_parts: Vec<Limit>,
    /// The row that preferred it.
    pub reasons: Vec<Reason>,
}

/// Something that asks for thickness or forbids it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Limit {
    /// In plain words.
    pub what: String,
    /// Thickness, mm.
    pub thickness_mm: f64,
}

/// A target surface profile and the ways to reach it.
#[derive(Debug, Clone, Serialize)]
pub struct Profile {
    /// Least CSP number to work to.
    pub least: u8,
    /// Greatest CSP number to work to.
    pub greatest: u8,
    /// Least and greatest CSP number that the guide lists for a layer this thick.
    pub class: (u8, u8),
    /// Guide and edition.
    pub scale: String,
    /// Ways of preparing this surface that can reach it, best first.
    pub ways: Vec<String>,
    /// The rows behind it.
    pub reasons: Vec<Reason>,
}

/// A candidate that was turned down.
#[derive(Debug, Clone, Serialize)]
pub struct TurnedDown {
    /// Which choice: `overlay_system`, `removal`, `bond_coat`, `sealer` …
    pub choice: String,
    /// Candidate in plain words.
    pub name: String,
    /// The first thing in the way.
    pub reason: Reason,
}

/// Who or what waits for something to harden or dry.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Waiter {
    /// People on foot.
    Foot,
    /// Cars.
    Cars,
    /// Trucks.
    Trucks,
    /// The layer that goes over it.
    Layer,
    /// The sealer.
    Sealer,
    /// Whatever work comes next.
    Work,
}

impl Waiter {
    /// By its word in the `set` of a row: `who: foot`.
    pub fn of(word: &str) -> Option<Waiter> {
        Some(match word {
            "foot" => Waiter::Foot,
            "cars" => Waiter::Cars,
            "trucks" => Waiter::Trucks,
            "layer" => Waiter::Layer,
            "sealer" => Waiter::Sealer,
            "work" => Waiter::Work,
            _ => return None,
        })
    }
}

/// A waiting time.
#[derive(Debug, Clone, Serialize)]
pub struct Wait {
    /// Wait for what, in plain words.
    pub what: String,
    /// Who waits; everyone where the row does not say.
    pub who: Option<Waiter>,
    /// Days, least to greatest.
    pub days: Interval,
    /// The row behind it.
    pub reason: Reason,
}

/// A stair before and after the work.
#[derive(Debug, Clone, Serialize)]
pub struct StairChange {
    /// Short name in the record.
    pub stair: String,
    /// Risers before, mm, bottom to top.
    pub before_mm: Vec<f64>,
    /// Risers after, mm, bottom to top.
    pub after_mm: Vec<f64>,
    /// Limits applied and whether each is kept before and after.
    pub checks: Vec<StairCheck>,
}

/// A limit applied to a stair.
#[derive(Debug, Clone, Serialize)]
pub struct StairCheck {
    /// The limit in plain words.
    pub limit: String,
    /// Limit value, mm.
    pub limit_mm: f64,
    /// Measured value before, mm.
    pub before_mm: f64,
    /// Value after, mm.
    pub after_mm: f64,
    /// Kept before the work.
    pub kept_before: bool,
    /// Kept after the work.
    pub kept_after: bool,
    /// Where the limit comes from.
    pub source: String,
}
