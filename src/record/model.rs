//! The inspection record as written: one struct for one block of the file.
//!
//! Every field is optional unless a record without it would be meaningless; what is left out or
//! written `unknown` stays unknown through the whole tool. The doc comments become the
//! descriptions in the published JSON Schema, so they speak to the person who fills in the record.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::units::{Area, Length, Mass, Measured, Pressure, System, Temperature, Volume};

// The non-SI kinds that have no type in the units library are newtypes in `units`.
use crate::units::{Coverage, Duration, Share, Size, Slope};

/// A whole inspection record.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Record {
    /// Version of the record format. Always 1.
    pub ringtrue: u32,
    /// Who asked, where, when and who looked.
    pub job: Job,
    /// Climate, ground and surroundings.
    #[serde(default)]
    pub site: Site,
    /// The slab as a whole.
    pub slab: Slab,
    /// The parts of the slab that are judged on their own.
    pub areas: Vec<AreaRecord>,
    /// Flights of steps that start or end on the slab.
    #[serde(default)]
    pub stairs: Vec<Stair>,
    /// Doors that open on to the slab.
    #[serde(default)]
    pub thresholds: Vec<Threshold>,
    /// What the slab runs up against.
    #[serde(default)]
    pub edges: Vec<Edge>,
    /// What the owner would like.
    #[serde(default)]
    pub wishes: Wishes,
    /// Products really at hand, from their data sheets.
    #[serde(default)]
    pub materials: Vec<Material>,
    /// The crew and its tools.
    #[serde(default)]
    pub crew: Option<Crew>,
    /// The contractor's price book for this job.
    #[serde(default)]
    pub prices: Option<Prices>,
    /// Saved hourly forecast beside the record (CSV or JSON).
    #[serde(default)]
    pub forecast: Option<String>,
    /// What was not looked at, in the inspector's words.
    #[serde(default)]
    pub not_inspected: Vec<String>,
    /// Free remarks.
    #[serde(default)]
    pub notes: Option<String>,
}

/// Who asked, where, when and who looked.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Job {
    /// The owner or whoever ordered the inspection.
    pub client: String,
    /// Where the slab is.
    pub address: String,
    /// Day of the inspection, `YYYY-MM-DD`. Every age in the report counts from it.
    pub date: String,
    /// Who walked the slab.
    pub inspector: String,
    /// The contractor's job number, if there is one.
    #[serde(default)]
    pub reference: Option<String>,
    /// Units to print: `us` or `metric`.
    #[serde(default)]
    pub units: System,
    /// Rules for steps and doors that the local authority applies.
    #[serde(default)]
    pub step_rules: StepRules,
}

/// Which published limits the steps are held to.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StepRules {
    /// `house` (IRC) or `other_building` (IBC).
    #[serde(default)]
    pub code: StepCode,
    /// Local greatest riser, where it differs.
    #[serde(default)]
    pub greatest_riser: Option<Measured<Length>>,
    /// Local least riser, where there is one.
    #[serde(default)]
    pub least_riser: Option<Measured<Length>>,
    /// Local greatest difference between the risers of one flight.
    #[serde(default)]
    pub greatest_difference: Option<Measured<Length>>,
}

/// Published step rules.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum StepCode {
    /// One- and two-family houses (IRC R311.7).
    #[default]
    House,
    /// All other buildings (IBC 1011.5).
    OtherBuilding,
}

/// Climate, ground and surroundings. Signs hold what the fact list of the rule pack asks at `site`.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Site {
    /// Weathering region: `negligible`, `moderate` or `severe`.
    #[serde(default)]
    pub weathering: Option<OneOrMore>,
    /// Freeze-thaw days in a usual year.
    #[serde(default)]
    pub freeze_thaw_days: Option<Measured<f64>>,
    /// Deicers used on or carried to the slab: `none`, `rock_salt`, `calcium_chloride`,
    /// `magnesium_chloride`, `acetate`, `urea`, `ammonium`, `sand`.
    #[serde(default)]
    pub deicers: Option<OneOrMore>,
    /// Ground under the slab: `clay`, `silt`, `sand`, `gravel`, `fill`, `rock`.
    #[serde(default)]
    pub soil: Option<OneOrMore>,
    /// Drainage of the site: `good` or `poor`.
    #[serde(default)]
    pub drainage: Option<OneOrMore>,
    /// Nearest tree trunk to the slab.
    #[serde(default)]
    pub tree_distance: Option<Measured<Length>>,
    /// Sun on the slab: `full`, `part` or `shade`.
    #[serde(default)]
    pub sun: Option<OneOrMore>,
    /// Latitude and longitude in degrees, north and east positive.
    #[serde(default)]
    pub coordinates: Option<[f64; 2]>,
    /// Compass direction of the map's upward edge, in degrees clockwise from north.
    #[serde(default)]
    pub map_up: Option<f64>,
    /// Anything else the fact list asks about the site.
    #[serde(default)]
    pub signs: Signs,
}

/// Facts of the rule pack by name, as written: a quantity, a choice, `yes`/`no`, several
/// possibilities, or `unknown`.
pub type Signs = BTreeMap<String, OneOrMore>;

/// One value or a list of the values that are possible.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(untagged)]
pub enum OneOrMore {
    /// A yes or no.
    Flag(bool),
    /// A bare number (counts only; a measure needs its unit).
    Number(f64),
    /// A single value, a measure with its unit, or `unknown`.
    One(String),
    /// Every value that is still possible.
    More(Vec<String>),
}

/// The slab as a whole.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Slab {
    /// What it serves as: `walk`, `patio`, `drive`, `garage_floor`, `pool_deck`, `apron`,
    /// `porch`, `interior_floor`, `carport_deck`.
    #[serde(rename = "use")]
    pub use_: String,
    /// When it was placed: `YYYY`, `YYYY-MM` or `YYYY-MM-DD`.
    #[serde(default)]
    pub placed: Option<String>,
    /// Slab thickness.
    #[serde(default)]
    pub thickness: Option<Measured<Length>>,
    /// Surface finish: `broom`, `float`, `steel_trowel`, `exposed_stone`, `patterned`, `smooth`.
    #[serde(default)]
    pub finish: Option<OneOrMore>,
    /// Depth of the relief pattern now on the slab.
    #[serde(default)]
    pub relief: Option<Measured<Length>>,
    /// `none`, `mesh`, `bars`, `fibres`, `post_tensioned`.
    #[serde(default)]
    pub reinforcement: Option<OneOrMore>,
    /// `on_ground` or `suspended`.
    #[serde(default)]
    pub support: Option<OneOrMore>,
    /// What lies on it now: `none`, `penetrating_sealer`, `film_sealer`, `coating`, `overlay`.
    #[serde(default)]
    pub covering: Option<OneOrMore>,
    /// Thickness of an overlay already on it.
    #[serde(default)]
    pub covering_thickness: Option<Measured<Length>>,
    /// What the delivery tickets or a laboratory say.
    #[serde(default)]
    pub mix: Mix,
    /// Anything else the fact list asks about the slab.
    #[serde(default)]
    pub signs: Signs,
}

/// Mix facts from tickets or a laboratory.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Mix {
    /// Total air content.
    #[serde(default)]
    pub air: Option<Measured<Share>>,
    /// Largest stone in the mix.
    #[serde(default)]
    pub largest_stone: Option<Measured<Length>>,
    /// Compressive strength.
    #[serde(default)]
    pub strength: Option<Measured<Pressure>>,
    /// Chloride at the steel, share of cement mass.
    #[serde(default)]
    pub chloride: Option<Measured<Share>>,
}

/// A part of the slab that is judged on its own.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AreaRecord {
    /// Short name used on the map: letters, digits, `-` and `_`.
    pub id: String,
    /// What people call it.
    pub name: String,
    /// Width by length of a rectangle, for example `12 ft x 30 ft`.
    #[serde(default)]
    pub size: Option<Size>,
    /// Corners in order, each `[x, y]` from the slab's lower left.
    #[serde(default)]
    pub outline: Vec<[Measured<Length>; 2]>,
    /// Surface, where neither size nor outline was taken.
    #[serde(default)]
    pub surface: Option<Measured<Area>>,
    /// Lower left corner of a `size` rectangle on the slab map, `[x, y]`.
    #[serde(default)]
    pub origin: Option<[Measured<Length>; 2]>,
    /// The panels between joints.
    #[serde(default)]
    pub panels: Option<Panels>,
    /// Fall of the surface, for example `1/4 in/ft` or `2 %`; negative runs toward the building.
    #[serde(default)]
    pub fall: Option<Measured<Slope>>,
    /// What is wrong, numbered through the whole record.
    #[serde(default)]
    pub defects: Vec<Defect>,
    /// Joints worth a line of their own.
    #[serde(default)]
    pub joints: Vec<Joint>,
    /// Readings taken here.
    #[serde(default)]
    pub tests: Tests,
    /// Readings taken while the work was done here and after it.
    #[serde(default)]
    pub work_readings: WorkReadings,
    /// Anything else the fact list asks about an area.
    #[serde(default)]
    pub signs: Signs,
    /// Free remarks.
    #[serde(default)]
    pub note: Option<String>,
}

/// Panels as a grid of columns and rows, named by column letter and row number from the lower
/// left: `A1`, `B1`, `A2` …
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Panels {
    /// Widths of the columns, left to right.
    pub columns: Vec<Measured<Length>>,
    /// Heights of the rows, bottom to top.
    pub rows: Vec<Measured<Length>>,
    /// What holds for single panels only, by panel name.
    #[serde(default)]
    pub signs: BTreeMap<String, Signs>,
}

/// One numbered defect: whatever has a place on the map.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Defect {
    /// Number on the map, the photo and the table. Unique in the record.
    pub id: u32,
    /// What is seen, not why.
    pub kind: DefectKind,
    /// Panels it lies in, by name.
    #[serde(default)]
    pub panels: Vec<String>,
    /// Centre (or start of a crack) on the slab map, `[x, y]`.
    #[serde(default)]
    pub at: Option<[Measured<Length>; 2]>,
    /// End of a crack or lip on the slab map, `[x, y]`.
    #[serde(default)]
    pub to: Option<[Measured<Length>; 2]>,
    /// Width by length of the damaged patch, for example `3 ft x 2 ft`.
    #[serde(default)]
    pub extent: Option<Size>,
    /// Damaged surface, where no extent was taken.
    #[serde(default)]
    pub surface: Option<Measured<Area>>,
    /// Damaged share of the area, for example `9 %`.
    #[serde(default)]
    pub share: Option<Measured<Share>>,
    /// How many (popouts, pinholes, cracks).
    #[serde(default)]
    pub count: Option<Measured<f64>>,
    /// How many in each one-square-yard (or one-square-metre) sample frame.
    #[serde(default)]
    pub frame_counts: Vec<f64>,
    /// Usual depth of loss, or of the plane that sounds hollow.
    #[serde(default)]
    pub depth: Option<Measured<Length>>,
    /// Deepest loss found.
    #[serde(default)]
    pub greatest_depth: Option<Measured<Length>>,
    /// Hole or dome width (popouts, pinholes, blisters).
    #[serde(default)]
    pub diameter: Option<Measured<Length>>,
    /// Crack width, or width of a joint spall from the joint face.
    #[serde(default)]
    pub width: Option<Measured<Length>>,
    /// Crack, lip or spall length.
    #[serde(default)]
    pub length: Option<Measured<Length>>,
    /// Height difference across a crack, joint or lip.
    #[serde(default)]
    pub offset: Option<Measured<Length>>,
    /// Spacing of parallel cracks, or cell size of map cracking.
    #[serde(default)]
    pub spacing: Option<Measured<Length>>,
    /// Depth of standing water.
    #[serde(default)]
    pub water_depth: Option<Measured<Length>>,
    /// `not_showing`, `showing`, `proud`, `missing`: the coarse stones in the loss.
    #[serde(default)]
    pub stones: Option<OneOrMore>,
    /// Crack width read on several days.
    #[serde(default)]
    pub readings: Vec<DatedReading>,
    /// Anything else the fact list asks about a defect.
    #[serde(default)]
    pub signs: Signs,
    /// Photos of it.
    #[serde(default)]
    pub photos: Vec<Photo>,
    /// Free remarks.
    #[serde(default)]
    pub note: Option<String>,
}

/// What is seen. The cause is for the tool to say.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum DefectKind {
    /// Surface mortar flaking or peeling off in patches.
    Scaling,
    /// A piece broken out, often at an edge or joint.
    Spall,
    /// A layer that sounds hollow or has come off as a sheet.
    Delamination,
    /// Small raised domes with a thin skin.
    Blisters,
    /// Small conical holes with something at the bottom, or shallow loss over single stones.
    Popouts,
    /// Pin-sized holes in an overlay, topping or coating.
    Pinholes,
    /// Surface that powders or scratches easily.
    Dusting,
    /// Paste eaten away, sandpaper feel.
    Etching,
    /// A crack that runs somewhere.
    Crack,
    /// A net of cracks.
    MapCracking,
    /// Crack across a corner, through the slab.
    CornerBreak,
    /// An old overlay, topping or coating coming loose.
    Debonding,
    /// A step between two panels, or panel and building.
    Lip,
    /// A panel or part that has gone down.
    Settlement,
    /// A panel or part that has come up.
    Heave,
    /// Panel edges or corners turned up.
    Curling,
    /// Water that stays standing.
    Ponding,
    /// A change of colour or a deposit.
    Stain,
}

/// A dated width reading.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DatedReading {
    /// Day of the reading, `YYYY-MM-DD`.
    pub date: String,
    /// What was read.
    pub value: Measured<Length>,
    /// Slab temperature then.
    #[serde(default)]
    pub slab: Option<Measured<Temperature>>,
}

/// A photo in the record's folder.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Photo {
    /// File name, relative to the record.
    pub file: String,
    /// What it shows.
    pub caption: String,
}

/// A joint worth a line of its own.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Joint {
    /// Short name.
    pub id: String,
    /// `control`, `construction`, `isolation`.
    pub kind: String,
    /// From where on the slab map, `[x, y]`.
    #[serde(default)]
    pub at: Option<[Measured<Length>; 2]>,
    /// To where on the slab map, `[x, y]`.
    #[serde(default)]
    pub to: Option<[Measured<Length>; 2]>,
    /// Opening of the joint.
    #[serde(default)]
    pub width: Option<Measured<Length>>,
    /// Anything else the fact list asks about a joint.
    #[serde(default)]
    pub signs: Signs,
}

/// Readings taken in an area.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Tests {
    /// Hammer or chain sounding.
    #[serde(default)]
    pub sounding: Option<Sounding>,
    /// Seconds until each water drop was taken in.
    #[serde(default)]
    pub water_drop: Vec<Measured<Duration>>,
    /// Plastic sheet: `dry`, `damp`.
    #[serde(default)]
    pub sheet: Vec<String>,
    /// Surface pH readings.
    #[serde(default)]
    pub ph: Vec<f64>,
    /// Internal relative humidity readings.
    #[serde(default)]
    pub humidity: Vec<Measured<Share>>,
    /// Pull-off strengths.
    #[serde(default)]
    pub pull_off: Vec<Measured<Pressure>>,
    /// Slab temperature at the time.
    #[serde(default)]
    pub slab_temperature: Option<Measured<Temperature>>,
    /// Height of one spot read on several days, against a fixed mark.
    #[serde(default)]
    pub levels: Vec<LevelReading>,
}

/// Readings taken while the work was done and after it, held against the plan.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct WorkReadings {
    /// Thickness of the layer, probed while placing.
    #[serde(default)]
    pub thickness: Vec<Measured<Length>>,
    /// Slab temperatures while placing.
    #[serde(default)]
    pub slab: Vec<Measured<Temperature>>,
    /// Pull-off strengths after curing; leave out those whose glue failed.
    #[serde(default)]
    pub pull_off: Vec<Measured<Pressure>>,
    /// Surface pH before sealing.
    #[serde(default)]
    pub ph: Vec<f64>,
}

/// A dated height reading.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LevelReading {
    /// Day of the reading, `YYYY-MM-DD`.
    pub date: String,
    /// Height above (or below) the fixed mark.
    pub value: Measured<Length>,
}

/// Sounding by taps or by mapped patches.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Sounding {
    /// Taps made on a grid.
    #[serde(default)]
    pub taps: Option<u32>,
    /// How many of them answered dull.
    #[serde(default)]
    pub hollow: Option<u32>,
    /// Hollow patches mapped with chalk.
    #[serde(default)]
    pub patches: Vec<Patch>,
}

/// A hollow patch mapped with chalk.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Patch {
    /// Centre on the slab map, `[x, y]`.
    pub at: [Measured<Length>; 2],
    /// Width by length, for example `3 ft x 2 ft`.
    pub extent: Size,
}

/// A flight of steps.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Stair {
    /// Short name.
    pub id: String,
    /// Area the first riser stands on; leave out when it starts off the slab.
    #[serde(default)]
    pub from: Option<String>,
    /// Area the last riser comes up to; leave out when it ends off the slab.
    #[serde(default)]
    pub to: Option<String>,
    /// Whether the treads themselves get the same overlay.
    #[serde(default)]
    pub treads_overlaid: bool,
    /// Every riser, bottom to top.
    pub risers: Vec<Measured<Length>>,
    /// Tread depths, bottom to top.
    #[serde(default)]
    pub treads: Vec<Measured<Length>>,
    /// Foot of the stair on the slab map, `[x, y]`.
    #[serde(default)]
    pub at: Option<[Measured<Length>; 2]>,
}

/// A door that opens on to the slab.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Threshold {
    /// Short name.
    pub id: String,
    /// Area outside the door.
    pub area: String,
    /// From the slab up to the top of the threshold.
    pub drop: Measured<Length>,
    /// Free height under a door, screen or gate that swings out over the slab, if one does.
    #[serde(default)]
    pub door_clearance: Option<Measured<Length>>,
    /// Whether it is the house's required way out.
    #[serde(default)]
    pub required_exit: bool,
    /// On the slab map, `[x, y]`.
    #[serde(default)]
    pub at: Option<[Measured<Length>; 2]>,
}

/// What the slab runs up against.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Edge {
    /// Area it borders.
    pub area: String,
    /// `lawn`, `planting`, `wall`, `building`, `coping`, `drain`, `street`.
    pub kind: String,
    /// How far the slab now stands above it (below: negative).
    #[serde(default)]
    pub height: Option<Measured<Length>>,
    /// Which side of the area: `left`, `right`, `top`, `bottom`.
    #[serde(default)]
    pub side: Option<String>,
}

/// What the owner would like.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Wishes {
    /// `as_is`, `plain`, `broom`, `patterned`, `sealed`.
    #[serde(default)]
    pub finish: Option<String>,
    /// Relief of the pattern wished for: `shallow` or `deep`.
    #[serde(default)]
    pub relief: Option<String>,
    /// Colour, in the owner's words.
    #[serde(default)]
    pub colour: Option<String>,
    /// `foot`, `car`, `truck`.
    #[serde(default)]
    pub traffic: Option<String>,
    /// What the owner will spend, as written.
    #[serde(default)]
    pub budget: Option<String>,
    /// How long it should last.
    #[serde(default)]
    pub life: Option<Measured<Duration>>,
}

/// A product really at hand, from its data sheet. No brand is needed: name it by what it is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Material {
    /// What the crew calls it.
    pub name: String,
    /// `overlay`, `resurfacer`, `skim`, `topping`, `self_leveling`, `patch`, `primer`, `slurry`,
    /// `sealer`, `crack_filler`, `joint_sealant`, `pigment`, `release`.
    pub kind: String,
    /// Mass of a bag.
    #[serde(default)]
    pub bag: Option<Measured<Mass>>,
    /// Mixed volume a bag gives.
    #[serde(default)]
    pub bag_yield: Option<Measured<Volume>>,
    /// Water for a bag, for example `3 to 3-1/2 qt`.
    #[serde(default)]
    pub water: Option<Measured<Volume>>,
    /// Thickness in one lift, least to greatest.
    #[serde(default)]
    pub lift: Option<Measured<Length>>,
    /// Workable time at 70 F.
    #[serde(default)]
    pub pot_life: Option<Measured<Duration>>,
    /// Surface covered by a unit.
    #[serde(default)]
    pub coverage: Option<Measured<Coverage>>,
    /// Contents of the container it is sold in, where that is no bag: `5 gal`, `10 fl oz`.
    #[serde(default)]
    pub pack: Option<Measured<Volume>>,
    /// Surface that a bag or a pack covers, as the sheet claims it.
    #[serde(default)]
    pub covers: Option<Measured<Area>>,
    /// Thickness that this claim is for.
    #[serde(default)]
    pub covers_at: Option<Measured<Length>>,
    /// Bags of mix that a pack of pigment colours.
    #[serde(default)]
    pub colours_bags: Option<Measured<f64>>,
    /// Air and slab temperature window.
    #[serde(default)]
    pub temperature: Option<Measured<Temperature>>,
    /// Surface profile asked for, for example `3 to 5`.
    #[serde(default)]
    pub profile: Option<Measured<f64>>,
    /// Whether the sheet allows it outdoors.
    #[serde(default)]
    pub exterior: Option<bool>,
}

/// The crew and its tools.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Crew {
    /// People on the job.
    pub people: u32,
    /// Mixers running.
    #[serde(default)]
    pub mixers: Option<u32>,
    /// Bags in one batch.
    #[serde(default)]
    pub bags_per_batch: Option<u32>,
    /// Mixing time for a batch.
    #[serde(default)]
    pub batch_time: Option<Measured<Duration>>,
    /// Time to carry a batch to its place.
    #[serde(default)]
    pub haul_time: Option<Measured<Duration>>,
    /// Surface one person spreads and finishes in an hour, as an area.
    #[serde(default)]
    pub spread_per_hour: Option<Measured<Area>>,
}

/// The contractor's price book for this job. Low, likely and high for each line.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Prices {
    /// Three-letter currency code, for example `USD`.
    pub currency: String,
    /// Price lines by option.
    #[serde(default)]
    pub lines: Vec<PriceLine>,
    /// Tax share added to every line.
    #[serde(default)]
    pub tax: Option<Measured<Share>>,
    /// Deposit share asked at signing.
    #[serde(default)]
    pub deposit: Option<Measured<Share>>,
    /// Real discount rate a year.
    #[serde(default)]
    pub discount_rate: Option<Measured<Share>>,
}

/// One line of the price book.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PriceLine {
    /// Option it belongs to: `do_little`, `repair`, `replace_part`, `replace_all`; or a way out
    /// where a stair breaks its limits: `thinner`, `taper`, `lower_walk`, `new_level`,
    /// `rebuild_steps`.
    pub option: String,
    /// What is bought.
    pub item: String,
    /// `job`, `ft2`, `m2`, `bag`, `hour`.
    pub per: String,
    /// For what comes again over the life of the option, such as a new coat of sealer: the time
    /// between, `3 years` or `2 to 3 years`. Leave it out for what is paid once.
    #[serde(default)]
    pub every: Option<Measured<Duration>>,
    /// Decimal amount, low.
    pub low: String,
    /// Decimal amount, most likely.
    pub likely: String,
    /// Decimal amount, high.
    pub high: String,
}
