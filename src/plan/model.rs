//! The plan of work: numbers a contractor can order, schedule and sign for.
//!
//! Measures are in canonical units, named in the field: mm, m², L, °C, minutes, days.

use jiff::civil::Date;
use rust_decimal::Decimal;
use serde::Serialize;

use super::clock::{Batch, Bay, Break, LargestBay, OneFewer, PatternTime, Person, Run};
use super::figures::Taken;
use super::heights::{DoorCheck, FallVerdict, LipWay, RiserCheck, StairEnd, WayOut};
use super::money::{Amounts, Bill, Decision, SpreadRule, TornadoBar, Upkeep};
use super::programme::{Dated, Programme};
use super::quantities::MassBalance;
use super::sampling::{Acceptance, Accepted};
use super::setting::TimeSpread;
use super::window::Window;
use crate::facts::{Interval, Provenance};
use crate::units::Kind;

/// The plan of work for the whole slab.
#[derive(Debug, Clone, Serialize)]
pub struct Plan {
    /// One for each area, in record order.
    pub areas: Vec<AreaPlan>,
    /// Stairs before and after the work.
    pub stairs: Vec<StairPlan>,
    /// Doors before and after the work.
    pub doors: Vec<DoorPlan>,
    /// Trip lips and how they are dealt with.
    pub lips: Vec<LipPlan>,
    /// Data sheets held against the mass of their bags.
    pub sheets: Vec<SheetPlan>,
    /// How finely the owner is told of it.
    pub told: Told,
    /// The placing window of a layer from bags; `None` without a forecast or without such a layer.
    pub window: Option<WindowPlan>,
    /// The placing window of new concrete; `None` without a forecast or without any to place.
    pub concrete_window: Option<WindowPlan>,
    /// The programme; `None` when no work is specified.
    pub days: Option<DaysPlan>,
    /// The options side by side.
    pub money: MoneyPlan,
    /// What the weather must keep while something is placed and after.
    pub weather: Vec<PlacingWeather>,
    /// Tests to make while working.
    pub tests: Vec<TestPlan>,
    /// What was taken from the trade because the record does not say.
    pub taken: Vec<Taken>,
    /// What could not be worked out, and what looks wrong.
    pub notes: Vec<String>,
    /// What could not be priced; nothing the crew needs to know.
    pub money_notes: Vec<String>,
}

/// The note of a plan that picks no hour, since no forecast is saved.
pub const NO_FORECAST: &str =
    "No forecast is saved beside the record, so no placing window is picked.";

/// How finely the owner is told of the plan.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Told {
    /// Shares of a cost that are told as about half, fractions.
    pub half: Interval,
    /// Amount of a liquid or mortar below which the owner is not told of it, L.
    pub least_l: f64,
}

/// The plan for an area.
#[derive(Debug, Clone, Serialize)]
pub struct AreaPlan {
    /// Short name.
    pub id: String,
    /// What people call it.
    pub name: String,
    /// Verdict word.
    pub verdict: String,
    /// Why no work is planned, where none is.
    pub why_not: Option<String>,
    /// Surface, m².
    pub surface_m2: Option<Interval>,
    /// Thickness of the layer, mm.
    pub layer_mm: Option<f64>,
    /// Its fall now and what speaks against it.
    pub fall: Option<FallPlan>,
    /// What it borders, before and after.
    pub edges: Vec<EdgePlan>,
    /// What to order.
    pub orders: Vec<Order>,
    /// The pour.
    pub pour: Option<PourPlan>,
}

/// A fall and its verdict.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct FallPlan {
    /// Least and greatest fall as recorded, fraction; positive away from the building.
    pub fall: Interval,
    /// Verdict on the least of them.
    pub verdict: FallVerdict,
    /// Least that drains.
    pub least: f64,
    /// Greatest allowed outside a door, where one opens on to the area.
    pub greatest: Option<f64>,
    /// What building it up to the least fall would take, where it is too flat.
    pub build_up: Option<BuildUp>,
}

/// A wedge that brings a flat surface to the least fall.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct BuildUp {
    /// Thickness over and above the layer at the high side, mm.
    pub thickest_mm: Interval,
    /// Volume of the wedge, litres.
    pub litres: Interval,
    /// Whether the layer may be so thick there; `None` where no layer is planned.
    pub fits: Option<bool>,
}

/// An edge before and after.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct EdgePlan {
    /// What it is.
    pub kind: String,
    /// How far the slab stands above it now, mm.
    pub before_mm: Interval,
    /// After the layer, mm.
    pub after_mm: Interval,
    /// What to do about it.
    pub to_do: String,
}

/// A stair before and after.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StairPlan {
    /// Short name.
    pub id: String,
    /// Risers before, mm, bottom to top.
    pub before_mm: Vec<f64>,
    /// Risers after, mm, bottom to top.
    pub after_mm: Vec<f64>,
    /// Limits held against both.
    pub checks: Vec<RiserCheck>,
    /// Ways out, where a limit is not kept after the work.
    pub ways_out: Vec<WayPlan>,
    /// The wished layer that is not laid because it would break a limit here.
    pub wished: Option<WishedLayer>,
    /// Whether the first riser is much lower than the rest after the work: what people trip on.
    pub short_first: bool,
}

/// A layer that was wished for and would break a limit of a stair.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WishedLayer {
    /// Its least thickness, mm.
    pub thickness_mm: f64,
    /// The end of the stair it would lie at.
    pub at: StairEnd,
    /// The risers it would give, mm, bottom to top.
    pub after_mm: Vec<f64>,
    /// Limits it would break.
    pub breaks: Vec<RiserCheck>,
}

/// A way out of a broken limit: what it gives and what it costs.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WayPlan {
    /// The way, with its numbers.
    pub way: WayOut,
    /// The riser series it would give, mm, bottom to top.
    pub risers_mm: Vec<f64>,
    /// What it costs besides money, in a plain sentence with the numbers.
    pub cost: String,
    /// What the price book asks for it, before tax; `None` where it has no line for it.
    pub price: Option<Amounts>,
}

impl WayPlan {
    /// The word of the price book for it.
    pub fn word(&self) -> &'static str {
        match self.way {
            WayOut::Thinner { .. } => "thinner",
            WayOut::Taper { .. } => "taper",
            WayOut::LowerWalk { .. } => "lower_walk",
            WayOut::NewLevel { .. } => "new_level",
            WayOut::Rebuild { .. } => "rebuild_steps",
        }
    }
}

/// A door before and after.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DoorPlan {
    /// Short name.
    pub id: String,
    /// Area outside it.
    pub area: String,
    /// The check.
    pub check: DoorCheck,
    /// Greatest drop allowed, mm, and where that comes from.
    pub greatest_drop_mm: f64,
    /// Where the limit comes from.
    pub source: String,
}

/// A trip lip.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LipPlan {
    /// Number of the defect.
    pub defect: u32,
    /// Height, mm.
    pub height_mm: f64,
    /// What to do.
    pub way: LipWay,
    /// Length over which it is ground off where it is ground, mm.
    pub grind_mm: f64,
    /// Fall of the ground strip, fraction: height over its length.
    pub grind_fall: f64,
    /// Run of the lip, mm, where it is recorded.
    pub run_mm: Option<Interval>,
}

/// A data sheet held against mass.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SheetPlan {
    /// Name of the material.
    pub material: String,
    /// Which of its claims.
    pub claim: Claim,
    /// The check.
    pub balance: MassBalance,
}

/// What a data sheet claims of a bag.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Claim {
    /// The mixed volume.
    Yield,
    /// The surface it covers at some thickness.
    Coverage,
}

impl Claim {
    /// For pages.
    pub fn name(self) -> &'static str {
        match self {
            Claim::Yield => "yield",
            Claim::Coverage => "coverage",
        }
    }
}

/// In what something is bought.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Bought {
    /// Whole bags.
    Bags,
    /// Whole packs of something that is no liquid, such as pigment.
    Packs,
    /// Litres of a mortar or slurry mixed on site from what is there.
    Mixed,
    /// Litres or gallons of a liquid.
    Liquid,
    /// Cubic metres or yards of concrete.
    Concrete,
    /// A run of crack or joint.
    Run,
}

/// Something to order.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Order {
    /// What it is for: `layer`, `patch`, `concrete`, `cracks`, `joints`, `sealer`, `primer`,
    /// `slurry`, `release`, `pigment`.
    pub purpose: String,
    /// Name of the material.
    pub material: String,
    /// `its data sheet` or the typical range it comes from.
    pub basis: String,
    /// In what it is bought.
    pub bought: Bought,
    /// Least and greatest: bags, packs, litres, litres of concrete, or mm of run.
    pub amount: Interval,
    /// Containers for a liquid, where the entry says what one holds.
    pub packs: Option<Packs>,
    /// How it comes about, in a plain sentence with the numbers.
    pub how: String,
    /// Patches that take more than one lift.
    pub lifts: Vec<Lifts>,
}

/// Containers to buy.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Packs {
    /// Least and greatest number.
    pub count: Interval,
    /// What one holds, litres.
    pub size_l: f64,
}

/// A patch placed in several lifts.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Lifts {
    /// Number of the defect.
    pub defect: u32,
    /// Thickness of each lift, mm, from the bottom.
    pub lifts_mm: Vec<f64>,
}

/// The pour of a layer.
#[derive(Debug, Clone, Serialize)]
pub struct PourPlan {
    /// Name of the material.
    pub material: String,
    /// Bags in a full batch.
    pub bags_per_batch: u64,
    /// Surface a full batch covers, m².
    pub batch_m2: f64,
    /// Water for a full batch, litres: least, where to start, most.
    pub water_l: Option<(f64, f64, f64)>,
    /// Whether the start is the dry end because of the fall.
    pub dry_end: bool,
    /// People and their roles.
    pub people: Vec<Person>,
    /// Mixers.
    pub mixers: usize,
    /// Batches to start ahead of the spreaders.
    pub ahead: usize,
    /// Temperature the working time is for, °C.
    pub at_c: f64,
    /// Where that temperature comes from.
    pub at_how: String,
    /// Working time, minutes; the shortest is used.
    pub working: TimeSpread,
    /// The batches.
    pub batches: Vec<Batch>,
    /// Indices of batches that begin a new bay.
    pub stops: Vec<usize>,
    /// The run.
    pub run: Run,
    /// The largest bay that stays wet-edge safe.
    pub largest: LargestBay,
    /// Bays between stop lines.
    pub bays: Vec<Bay>,
    /// What goes wrong with the whole crew, in order of time.
    pub breaks: Vec<Break>,
    /// What happens with one person fewer.
    pub one_fewer: Vec<OneFewer>,
    /// When each batch may be patterned; empty where nothing is patterned.
    pub patterning: Vec<PatternTime>,
}

/// The placing window.
#[derive(Debug, Clone, Serialize)]
pub struct WindowPlan {
    /// The area with the longest pour.
    pub area: String,
    /// What is placed, in plain words.
    pub what: String,
    /// Hours of the pour.
    pub hours: usize,
    /// Name of the drying formula.
    pub formula: String,
    /// The hours and the best start.
    pub window: Window,
}

/// What the weather must keep for a placing.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PlacingWeather {
    /// New concrete rather than a layer from bags.
    pub concrete: bool,
    /// Air and slab, °C.
    pub temperature_c: Interval,
    /// Dry time wanted afterwards, days.
    pub dry_after_days: Interval,
    /// Time without frost wanted afterwards, days.
    pub frost_free_days: Interval,
}

/// Areas, or panels of an area, that are closed together.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PhasePlan {
    /// What is closed.
    pub parts: Vec<PhasePart>,
    /// Doors that can still be reached.
    pub reachable: Vec<String>,
    /// What becomes of the doors, where none can be reached.
    pub shut: Option<Shut>,
}

/// An area of a phase, or some of its panels.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PhasePart {
    /// Short name of the area.
    pub area: String,
    /// What people call it.
    pub name: String,
    /// Its panels in this phase; empty for the whole area.
    pub panels: Vec<String>,
}

/// A time in which no door can be reached over the slab.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Shut {
    /// The doors.
    pub doors: Vec<String>,
    /// Why the area is not split so that one stays open.
    pub why: ShutWhy,
    /// From laying until it may be walked on, days; `None` where nothing is laid.
    pub days: Option<Interval>,
    /// First and last day on which it is closed, itself included.
    pub dates: Option<(Date, Date)>,
    /// Walk boards over it, where the record says where the door stands.
    pub boards: Option<Boards>,
}

/// Walk boards from a place that can be stood on to a door.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Boards {
    /// What they start from.
    pub from: BoardsFrom,
    /// How far it is, mm.
    pub length_mm: f64,
    /// How far a board carries a person, mm.
    pub span_mm: f64,
}

/// What walk boards start from, as JSON `{"panel": "B2"}`, `{"area": "front walk"}` or `"ground"`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum BoardsFrom {
    /// A panel of the same area, by its name.
    Panel(String),
    /// Another area, by what people call it.
    Area(String),
    /// The ground beside the slab.
    Ground,
}

impl Boards {
    /// Whether boards reach without a prop on the fresh work.
    pub fn reach(&self) -> bool {
        self.length_mm <= self.span_mm
    }
}

/// Why an area that closes the only door is not split, or not further.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ShutWhy {
    /// It has no joints to stop at, or the record does not give its panels and their place.
    NoPanels,
    /// The record does not say where the door stands.
    NoPlace,
    /// Every panel lies on the only way to the door.
    OnlyWay,
    /// It is split; this is the part that lies before the door.
    BeforeDoor,
}

/// The programme.
#[derive(Debug, Clone, Serialize)]
pub struct DaysPlan {
    /// First day.
    pub start: Date,
    /// Where the first day comes from.
    pub start_how: String,
    /// Whether its dates mean something: the first day was asked for, or a forecast stands behind.
    pub start_given: bool,
    /// Areas worked on together.
    pub phases: Vec<PhasePlan>,
    /// Activities with float, and the critical path.
    pub programme: Programme,
    /// The same on the calendar.
    pub dated: Vec<Dated>,
    /// Hours of work in a day.
    pub hours_a_day: f64,
    /// Days that the forecast takes away: every hour of work is too wet.
    pub weather_days: Vec<Date>,
}

/// The options side by side.
#[derive(Debug, Clone, Default, Serialize)]
pub struct MoneyPlan {
    /// Currency code; `None` without a price book.
    pub currency: Option<String>,
    /// The options that have prices.
    pub options: Vec<OptionPlan>,
    /// How low, likely and high become a sum.
    pub rule: Option<SpreadRule>,
    /// Real discount rate a year.
    pub rate: Option<f64>,
    /// Band within which options are undecided.
    pub band: Option<f64>,
    /// The cheapest over its life, by the likely figures, and what cannot be told from it. Doing
    /// little mends nothing and is left out where another option has a price.
    pub decision: Option<Decision>,
    /// What moves the difference between the two cheapest options, widest first.
    pub tornado: Vec<TornadoBar>,
    /// Names of the two options the tornado compares.
    pub compared: Option<(String, String)>,
    /// Where repair and replacement cost the same a year.
    pub break_even: Option<BreakEven>,
    /// What the trade's rules of thumb say of a repair; `None` where none is specified.
    pub thumb: Option<RuleOfThumb>,
}

/// What the trade says of the cost of a repair against that of replacement.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RuleOfThumb {
    /// What resurfacing cost as a share of tearing out and placing anew; `None` where no layer is
    /// laid.
    pub usual: Option<Sourced>,
    /// Share up to which a repair is worth it.
    pub worth: Sourced,
    /// Likely cost of the repair as a share of the likely cost of replacing everything, where both
    /// have prices.
    pub here: Option<f64>,
    /// Whether that is more than it may be, by more than the band within which options count as
    /// undecided.
    pub over: bool,
}

/// A share with its source.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sourced {
    /// The share, a fraction.
    pub share: f64,
    /// Where it comes from.
    pub source: String,
    /// How near to the source we got.
    pub provenance: Provenance,
}

/// An option and its cost over its life.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct OptionPlan {
    /// `do_little`, `repair`, `replace_part`, `replace_all`.
    pub option: String,
    /// In plain words.
    pub name: String,
    /// Its lines.
    pub lines: Vec<MoneyLine>,
    /// Sum of the lines: every low, every likely, every high.
    pub sum: Amounts,
    /// Range that holds the sum with 80 % probability when the lines vary independently.
    pub likely_range: (f64, f64),
    /// With tax, and the deposit, for low, likely and high.
    pub bills: [Bill; 3],
    /// Life, years: low, likely, high.
    pub life_years: (f64, f64, f64),
    /// Where the life comes from.
    pub life_how: String,
    /// What comes again over the life, tax included.
    pub upkeep: Vec<Upkeep>,
    /// Cost a year over its life: best case, likely, worst case.
    pub annual: (f64, f64, f64),
    /// Present value of the likely cost over one life.
    pub present: f64,
}

/// A line of an option.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MoneyLine {
    /// What is bought.
    pub item: String,
    /// Unit of the price.
    pub per: String,
    /// How many units.
    pub quantity: Decimal,
    /// Years between the times it is paid, least and greatest; `None` for what is paid once.
    pub every_years: Option<(f64, f64)>,
    /// Amounts.
    pub amounts: Amounts,
}

/// Where repair and replacement cost the same a year.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct BreakEven {
    /// Greatest repair cost as a share of the cost of replacement: shortest and longest repair life
    /// against the longest and shortest life of replacement.
    pub cost_share: (f64, f64),
    /// Years the repair must last at the likely prices; `None` without prices or when no life is
    /// long enough.
    pub life_years: Option<f64>,
    /// What the repair may cost now, with tax, at its likely life; `None` without prices or when
    /// its upkeep alone is dearer.
    pub price: Option<f64>,
}

/// Tests to make while working.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TestPlan {
    /// Area.
    pub area: String,
    /// Short name: `water_drops`, `slab_temperature`, `thickness`, `pull_off`, `sheets`, `ph`.
    pub id: String,
    /// What to measure and when.
    pub what: String,
    /// How many readings.
    pub count: u64,
    /// What they must keep, in words.
    pub keep: String,
    /// Where the rule comes from.
    pub source: String,
    /// Kind of the readings.
    pub kind: Kind,
    /// The limits as numbers.
    pub limits: Acceptance,
    /// What the readings in the record say, in the kind's canonical unit; `None` while there are
    /// none.
    pub result: Option<Accepted>,
}
