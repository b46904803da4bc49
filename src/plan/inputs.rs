//! Everything a plan is made from, gathered from record, survey, assessment and method; or put
//! together by hand in a test.

use uom::si::thermodynamic_temperature::degree_celsius;

use super::clock::PanelToPlace;
use super::forecast::Forecast;
use super::heights::RiserLimit;
use super::programme::Way;
use crate::assessment::Assessment;
use crate::facts::{Interval, Value};
use crate::method::{AreaMethod, Method, Waiter};
use crate::record::dates;
use crate::record::geometry::{self, Bounds, Point};
use crate::record::model::{
    AreaRecord, Crew, DefectKind, Material, OneOrMore, Prices, Record, WorkReadings,
};
use crate::rules::Pack;
use crate::survey::panels::{panels, times};
use crate::survey::{Survey, step_limits};
use crate::units::{Measured, Notation, System, Temperature};
use jiff::civil::Date;

/// Everything a plan is made from.
#[derive(Debug, Clone)]
pub struct Inputs {
    /// Units to write in.
    pub units: System,
    /// Day of the record.
    pub day: Option<Date>,
    /// First day of work, where it is known.
    pub start: Option<Date>,
    /// Latitude and longitude.
    pub coordinates: Option<(f64, f64)>,
    /// Whether the sun reaches the slab.
    pub sunny: bool,
    /// Whether rain keeps off the slab, so that a wet day stops no work.
    pub under_roof: bool,
    /// Old relief of the slab, mm.
    pub relief_mm: Option<Interval>,
    /// Thickness of the slab, mm.
    pub slab_mm: Option<Interval>,
    /// Areas, in record order.
    pub areas: Vec<AreaInput>,
    /// Stairs.
    pub stairs: Vec<StairInput>,
    /// Limits on their risers.
    pub riser_limits: Vec<RiserLimit>,
    /// Doors.
    pub doors: Vec<DoorInput>,
    /// Trip lips.
    pub lips: Vec<LipInput>,
    /// Products at hand.
    pub materials: Vec<Material>,
    /// The crew.
    pub crew: Option<Crew>,
    /// The price book.
    pub prices: Option<Prices>,
    /// How long the owner wants it to last, years.
    pub wished_years: Option<Interval>,
    /// The forecast.
    pub forecast: Option<Forecast>,
}

/// An area and its specified work.
#[derive(Debug, Clone)]
pub struct AreaInput {
    /// Short name.
    pub id: String,
    /// What people call it.
    pub name: String,
    /// Verdict word.
    pub verdict: String,
    /// Why no work is specified, where none is.
    pub why_not: Option<String>,
    /// Surface, m².
    pub surface_m2: Option<Interval>,
    /// Fall, fraction; positive away from the building.
    pub fall: Option<Interval>,
    /// What it borders.
    pub edges: Vec<EdgeInput>,
    /// Length of the area along its fall, mm; a range where the direction of the fall is not
    /// recorded.
    pub fall_run_mm: Option<Interval>,
    /// The layer.
    pub layer: Option<LayerInput>,
    /// How much lower than now new concrete is laid, mm; 0 where none is or its level stays.
    pub lowered_mm: f64,
    /// Least thickness that the wished finish asks for where no layer is specified, mm.
    pub wished_mm: Option<f64>,
    /// Panels in the order of placing.
    pub panels: Vec<PanelToPlace>,
    /// Run of the joints between panels, mm.
    pub joints_mm: f64,
    /// Width of the joints, mm, where one is recorded.
    pub joint_width_mm: Option<Interval>,
    /// Run of the cracks to treat, mm.
    pub cracks_mm: Interval,
    /// The cracks to treat, each with its way.
    pub cracks: Vec<CrackInput>,
    /// Bonding coat the method asks for: `primer`, `slurry` or `epoxy`.
    pub bond: Option<String>,
    /// Patches to place.
    pub patches: Vec<PatchInput>,
    /// Surface to be replaced, m².
    pub replace_m2: Option<Interval>,
    /// Stages with a step, in order.
    pub stages: Vec<String>,
    /// Waits of the method.
    pub waits: Vec<WaitInput>,
    /// Sealer: what it is called, coverage m²/L, coats.
    pub sealer: Option<(String, Interval, u32)>,
    /// How it is reached.
    pub way: Way,
    /// Where it, its panels and its doors lie.
    pub ground: GroundInput,
    /// Measured slab temperature.
    pub slab_temperature: Option<Temperature>,
    /// Readings taken while and after the work was done.
    pub work_readings: WorkReadings,
}

/// Where an area, its panels and its doors lie on the slab map, mm.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct GroundInput {
    /// The rectangle that holds the area.
    pub place: Option<Bounds>,
    /// Panels by name; empty where the record gives none or no place for them.
    pub panels: Vec<(String, Bounds)>,
    /// Doors whose place is recorded.
    pub doors: Vec<(String, Point)>,
    /// Sides that can be stepped over from off the slab, as thin rectangles.
    pub open_sides: Vec<Bounds>,
}

/// A layer to place.
#[derive(Debug, Clone, PartialEq)]
pub struct LayerInput {
    /// Candidate word.
    pub system: String,
    /// In plain words.
    pub name: String,
    /// Thickness, mm.
    pub thickness_mm: f64,
    /// Whether the slab is roughened first.
    pub roughened: bool,
    /// Whether it is patterned.
    pub patterned: bool,
    /// Never thinner than this, mm.
    pub floor_mm: f64,
    /// Never thicker than this, mm.
    pub ceiling_mm: f64,
}

/// A trip lip.
#[derive(Debug, Clone, PartialEq)]
pub struct LipInput {
    /// Number of the defect.
    pub defect: u32,
    /// Area it lies in.
    pub area: String,
    /// Height, mm.
    pub height_mm: Interval,
    /// Run, mm, where it is recorded.
    pub run_mm: Option<Interval>,
}

/// What an area borders.
#[derive(Debug, Clone, PartialEq)]
pub struct EdgeInput {
    /// Word of the record: `lawn`, `drain`, `street` …
    pub kind: String,
    /// How far the slab stands above it, mm.
    pub height_mm: Option<Interval>,
    /// Run of the edge, mm, where the side and the size of the area are recorded.
    pub run_mm: Option<f64>,
}

/// A crack to treat.
#[derive(Debug, Clone, PartialEq)]
pub struct CrackInput {
    /// Number of the defect.
    pub defect: u32,
    /// Candidate word of the repair: `rout_seal`, `gravity_resin`, `slot_fill` …
    pub repair: String,
    /// Run, mm.
    pub run_mm: Interval,
    /// Width, mm, where it is recorded.
    pub width_mm: Option<Interval>,
}

/// A patch to place.
#[derive(Debug, Clone, PartialEq)]
pub struct PatchInput {
    /// Number of the defect.
    pub defect: u32,
    /// Surface, m².
    pub surface_m2: Interval,
    /// Depth, mm.
    pub depth_mm: Interval,
}

/// A wait of the method.
#[derive(Debug, Clone, PartialEq)]
pub struct WaitInput {
    /// Stage it belongs to: `cure`, `seal`, `reopen`, `patch`, `protect`.
    pub stage: String,
    /// Who waits; everyone where nobody is named.
    pub who: Option<Waiter>,
    /// Days.
    pub days: Interval,
}

/// A stair and the layers on its levels.
#[derive(Debug, Clone, PartialEq)]
pub struct StairInput {
    /// Short name.
    pub id: String,
    /// Risers, mm, bottom to top.
    pub risers_mm: Vec<f64>,
    /// Area it starts from.
    pub from: Option<String>,
    /// Area it comes up to.
    pub to: Option<String>,
    /// Whether the treads get the layer.
    pub treads_overlaid: bool,
}

/// A door.
#[derive(Debug, Clone, PartialEq)]
pub struct DoorInput {
    /// Short name.
    pub id: String,
    /// Area outside it.
    pub area: String,
    /// Least drop from the threshold, mm.
    pub drop_mm: Interval,
    /// Least free height under a leaf that swings out, mm.
    pub clearance_mm: Option<Interval>,
    /// Whether it is the required way out.
    pub required_exit: bool,
}

/// Where a plan is gathered from.
#[derive(Debug, Clone, Copy)]
pub struct Stages<'a> {
    /// The record.
    pub record: &'a Record,
    /// What the survey found.
    pub survey: &'a Survey,
    /// The rules.
    pub pack: &'a Pack,
    /// What is wrong.
    pub assessment: &'a Assessment,
    /// The specified work.
    pub method: &'a Method,
}

impl Inputs {
    /// Gathers what a plan needs. What is not known stays unknown.
    pub fn gather(s: Stages<'_>, forecast: Option<Forecast>, start: Option<Date>) -> Inputs {
        let record = s.record;
        let canonical =
            |m: &Option<Measured<crate::units::Length>>| m.as_ref().and_then(Measured::canonical);
        let riser_limits = step_limits(record, |id| {
            s.pack
                .vocabulary
                .figure(id)
                .map(|f| (f.value.lo, f.source.source.clone()))
        })
        .risers;
        let stairs = record
            .stairs
            .iter()
            .filter_map(|stair| {
                let risers: Option<Vec<f64>> = stair.risers.iter().map(geometry::middle).collect();
                Some(StairInput {
                    id: stair.id.clone(),
                    risers_mm: risers.filter(|r| !r.is_empty())?,
                    from: stair.from.clone(),
                    to: stair.to.clone(),
                    treads_overlaid: stair.treads_overlaid,
                })
            })
            .collect();
        let doors = record
            .thresholds
            .iter()
            .filter_map(|t| {
                Some(DoorInput {
                    id: t.id.clone(),
                    area: t.area.clone(),
                    drop_mm: t.drop.canonical()?,
                    clearance_mm: canonical(&t.door_clearance),
                    required_exit: t.required_exit,
                })
            })
            .collect();
        let lips = record
            .areas
            .iter()
            .flat_map(|a| a.defects.iter().map(move |d| (a, d)))
            .filter(|(_, d)| d.kind == DefectKind::Lip)
            .filter_map(|(a, d)| {
                Some(LipInput {
                    defect: d.id,
                    area: a.id.clone(),
                    height_mm: canonical(&d.offset)?,
                    run_mm: canonical(&d.length),
                })
            })
            .collect();
        Inputs {
            units: record.job.units,
            day: dates::day(&record.job.date),
            start,
            coordinates: record.site.coordinates.map(|[lat, lon]| (lat, lon)),
            sunny: is_sunny(record),
            under_roof: under_roof(record),
            relief_mm: canonical(&record.slab.relief),
            slab_mm: canonical(&record.slab.thickness),
            areas: record
                .areas
                .iter()
                .enumerate()
                .filter_map(|(i, area)| gather_area(s, i, area))
                .collect(),
            stairs,
            riser_limits,
            doors,
            lips,
            materials: record.materials.clone(),
            crew: record.crew.clone(),
            prices: record.prices.clone(),
            wished_years: record
                .wishes
                .life
                .as_ref()
                .and_then(Measured::canonical)
                .map(|d| Interval {
                    lo: d.lo / 365.25,
                    hi: d.hi / 365.25,
                }),
            forecast,
        }
    }

    /// How much higher an area stands after the work, mm: by its layer, or lower where new concrete
    /// is laid lower.
    pub fn raised_mm(&self, area: Option<&str>) -> f64 {
        area.and_then(|id| self.areas.iter().find(|a| a.id == id))
            .map_or(0.0, |a| {
                a.layer.as_ref().map_or(0.0, |l| l.thickness_mm) - a.lowered_mm
            })
    }
}

fn gather_area(s: Stages<'_>, index: usize, area: &AreaRecord) -> Option<AreaInput> {
    let things = s.survey.areas.get(index)?;
    let method = s.method.areas.iter().find(|m| m.area == area.id)?;
    let number = |fact: &str, thing: usize| match s.survey.value(&s.pack.vocabulary, thing, fact) {
        Value::Number(i) if i.lo.is_finite() && i.hi.is_finite() => Some(i),
        _ => None,
    };
    let surface_m2 = number("area_surface", things.thing);
    let layer = method.overlay.as_ref().map(|o| LayerInput {
        system: o.system.clone(),
        name: o.name.clone(),
        thickness_mm: o.thickness_mm,
        roughened: method.profile.is_some(),
        patterned: o.system == "patterned",
        floor_mm: o.floor_mm,
        ceiling_mm: o.ceiling_mm,
    });
    let has = |stage: &str| method.steps.iter().any(|step| step.stage == stage);
    let patches = if has("patch") {
        gather_patches(s, index, area, layer.as_ref())
    } else {
        Vec::new()
    };
    let repairs = crack_repairs(method);
    let cracks: Vec<CrackInput> = area
        .defects
        .iter()
        .zip(&things.defects)
        .filter_map(|(d, thing)| {
            let (_, repair) = repairs.iter().find(|(id, _)| *id == d.id)?;
            Some(CrackInput {
                defect: d.id,
                repair: (*repair).to_owned(),
                run_mm: number("crack_length", *thing)?,
                width_mm: number("crack_width", *thing),
            })
        })
        .collect();
    let cracks_mm = cracks
        .iter()
        .fold(Interval::exact(0.0), |sum, c| sum + c.run_mm);
    let replace_m2 = match method.verdict.as_str() {
        "replace_all" => surface_m2,
        "replace_panels" => replaced_panels(s, area).or(surface_m2),
        _ => None,
    };
    let mut stages: Vec<String> = Vec::new();
    for step in &method.steps {
        if !stages.contains(&step.stage) {
            stages.push(step.stage.clone());
        }
    }
    let shapes = panels(area, None);
    let middle = |i: Interval| f64::midpoint(i.lo, i.hi);
    let panels = if shapes.is_empty() {
        surface_m2
            .map(|m2| {
                vec![PanelToPlace {
                    name: area.name.clone(),
                    area_m2: middle(m2),
                }]
            })
            .unwrap_or_default()
    } else {
        shapes
            .iter()
            .map(|p| PanelToPlace {
                name: p.name.clone(),
                area_m2: middle(p.width) * middle(p.height) / 1e6,
            })
            .collect()
    };
    let waits = method
        .waits
        .iter()
        .map(|w| WaitInput {
            stage: w.reason.table.trim_start_matches("steps_").to_owned(),
            who: w.who,
            days: w.days,
        })
        .collect();
    let temperature = area
        .tests
        .slab_temperature
        .as_ref()
        .and_then(Measured::canonical);
    Some(AreaInput {
        id: area.id.clone(),
        name: area.name.clone(),
        verdict: method.verdict.clone(),
        why_not: method.why_not.clone(),
        surface_m2,
        fall: area.fall.as_ref().and_then(Measured::canonical),
        edges: s
            .record
            .edges
            .iter()
            .filter(|e| e.area == area.id)
            .map(|e| EdgeInput {
                kind: e.kind.clone(),
                height_mm: e.height.as_ref().and_then(Measured::canonical),
                run_mm: sides(area).and_then(|(width, height)| match e.side.as_deref()? {
                    "left" | "right" => Some(height),
                    _ => Some(width),
                }),
            })
            .collect(),
        fall_run_mm: fall_run(s.record, area),
        wished_mm: match &layer {
            None => number("overlay_need", things.thing)
                .map(|i| i.lo)
                .filter(|mm| *mm > 0.0),
            Some(_) => None,
        },
        layer,
        lowered_mm: method.lowered_mm(),
        panels,
        joints_mm: joint_run_mm(area),
        joint_width_mm: area
            .joints
            .iter()
            .filter_map(|j| j.width.as_ref().and_then(Measured::canonical))
            .filter(|w| w.hi > 0.0)
            .reduce(|a, b| Interval {
                lo: a.lo.min(b.lo),
                hi: a.hi.max(b.hi),
            }),
        cracks_mm,
        cracks,
        bond: bond(method),
        patches,
        replace_m2,
        sealer: if has("seal") {
            sealer(s.pack, method)
        } else {
            None
        },
        stages,
        waits,
        way: way(s.record, area),
        ground: ground(s.record, area),
        work_readings: area.work_readings.clone(),
        slab_temperature: temperature
            .map(|t| Temperature::new::<degree_celsius>(f64::midpoint(t.lo, t.hi))),
    })
}

/// Defects of an area that are patched: all with a loss where the area is patched, and those
/// deeper than the layer where it gets one.
fn gather_patches(
    s: Stages<'_>,
    index: usize,
    area: &AreaRecord,
    layer: Option<&LayerInput>,
) -> Vec<PatchInput> {
    let lost = |kind: DefectKind| {
        matches!(
            kind,
            DefectKind::Scaling
                | DefectKind::Spall
                | DefectKind::Delamination
                | DefectKind::Popouts
                | DefectKind::Debonding
        )
    };
    let Some(things) = s.survey.areas.get(index) else {
        return Vec::new();
    };
    let number = |fact: &str, thing: usize| match s.survey.value(&s.pack.vocabulary, thing, fact) {
        Value::Number(i) if i.lo.is_finite() && i.hi.is_finite() => Some(i),
        _ => None,
    };
    area.defects
        .iter()
        .zip(&things.defects)
        .filter(|(d, _)| lost(d.kind))
        .filter_map(|(d, thing)| {
            let depth_mm =
                number("greatest_depth", *thing).or_else(|| number("loss_depth", *thing))?;
            let deep_enough = layer.is_none_or(|l| depth_mm.hi > l.thickness_mm);
            let surface_m2 = number("defect_surface", *thing)?;
            deep_enough.then_some(PatchInput {
                defect: d.id,
                surface_m2,
                depth_mm,
            })
        })
        .collect()
}

/// Surface of the panels whose verdict is replacement, m². `None` when no panel has one.
fn replaced_panels(s: Stages<'_>, area: &AreaRecord) -> Option<Interval> {
    let finding = s.assessment.areas.iter().find(|a| a.id == area.id)?;
    let shapes = panels(area, None);
    let mut sum: Option<Interval> = None;
    for panel in &finding.panels {
        let word = panel.verdict.word.as_str();
        if !matches!(word, "replace_panels" | "replace_all") {
            continue;
        }
        if let Some(shape) = shapes.iter().find(|p| p.name == panel.id) {
            let mm2 = times(shape.width, shape.height);
            let m2 = Interval {
                lo: mm2.lo / 1e6,
                hi: mm2.hi / 1e6,
            };
            sum = Some(sum.map_or(m2, |s| s + m2));
        }
    }
    sum
}

/// Crack repairs that the method's steps name, by the number of the defect.
fn crack_repairs(method: &AreaMethod) -> Vec<(u32, &'static str)> {
    // The rows of `steps_cracks` that each belong to one way.
    const WAYS: [(&str, &str); 6] = [
        ("do-crack-gravity", "gravity_resin"),
        ("do-crack-inject", "inject"),
        ("do-crack-flood", "flood"),
        ("do-crack-rout", "rout_seal"),
        ("do-crack-slot", "slot_fill"),
        ("do-crack-carry", "carry_joint"),
    ];
    method
        .steps
        .iter()
        .filter_map(|step| {
            let (_, way) = WAYS.iter().find(|(row, _)| *row == step.reason.row)?;
            let id = step.reason.about.strip_prefix("defect ")?.parse().ok()?;
            Some((id, *way))
        })
        .collect()
}

/// The bonding coat that the method's steps ask for.
fn bond(method: &AreaMethod) -> Option<String> {
    const COATS: [(&str, &str); 3] = [
        ("do-bond-primer", "primer"),
        ("do-bond-slurry", "slurry"),
        ("do-bond-epoxy", "epoxy"),
    ];
    method.steps.iter().find_map(|step| {
        COATS
            .iter()
            .find(|(row, _)| *row == step.reason.row)
            .map(|(_, coat)| (*coat).to_owned())
    })
}

/// Width (across the map) and height of the rectangle that holds an area, mm.
fn sides(area: &AreaRecord) -> Option<(f64, f64)> {
    let corners = geometry::corners(area);
    match corners.as_deref().and_then(geometry::bounds) {
        Some((low, high)) => Some((high.0 - low.0, high.1 - low.1)),
        None => geometry::sides_of(area.size.as_ref()?),
    }
}

/// Length of an area along its fall: across from the building where an edge says where that
/// stands, else anything from its short to its long side.
fn fall_run(record: &Record, area: &AreaRecord) -> Option<Interval> {
    let (width, height) = sides(area)?;
    let building = record
        .edges
        .iter()
        .filter(|e| e.area == area.id && e.kind == "building")
        .find_map(|e| e.side.as_deref());
    Some(match building {
        Some("left" | "right") => Interval::exact(width),
        Some(_) => Interval::exact(height),
        None => Interval {
            lo: width.min(height),
            hi: width.max(height),
        },
    })
}

/// Run of the joints between the panels of a grid, mm.
fn joint_run_mm(area: &AreaRecord) -> f64 {
    let Some(panels) = &area.panels else {
        return 0.0;
    };
    let sides = |list: &[Measured<crate::units::Length>]| -> f64 {
        list.iter().filter_map(geometry::middle).sum()
    };
    let (across, up) = (sides(&panels.columns), sides(&panels.rows));
    let between = |n: usize| n.saturating_sub(1) as f64;
    between(panels.columns.len()) * up + between(panels.rows.len()) * across
}

/// The sealer a method chose, with the coverage and coats its row states.
fn sealer(pack: &Pack, method: &AreaMethod) -> Option<(String, Interval, u32)> {
    method
        .steps
        .iter()
        .filter(|step| step.stage == "seal")
        .find_map(|step| {
            let (_, table) = pack.table(&step.reason.table)?;
            let row = table.rows.iter().find(|r| r.id == step.reason.row)?;
            let coverage = row
                .set
                .get("coverage")
                .and_then(crate::rules::Set::quantity)?;
            let coats = row
                .set
                .get("coats")
                .and_then(crate::rules::Set::quantity)
                .map_or(1.0, |i| i.hi);
            let name = row
                .set
                .get("sealer")
                .map_or("sealer", |s| s.text())
                .to_owned();
            Some((name, coverage, coats.clamp(1.0, 9.0) as u32))
        })
}

fn under_roof(record: &Record) -> bool {
    matches!(
        record.slab.use_.as_str(),
        "garage_floor" | "interior_floor" | "porch"
    )
}

/// Whether the sun can reach the slab: not under a roof, not where the record says shade.
fn is_sunny(record: &Record) -> bool {
    !under_roof(record)
        && !matches!(&record.site.sun, Some(OneOrMore::One(word)) if word == "shade")
}

/// Where an area, its panels, its doors and its open sides lie.
fn ground(record: &Record, area: &AreaRecord) -> GroundInput {
    let corners = geometry::corners(area);
    let place = corners.as_deref().and_then(geometry::bounds);
    let side = |(low, high): Bounds, side: &str| match side {
        "left" => Some((low, (low.0, high.1))),
        "right" => Some(((high.0, low.1), high)),
        "bottom" => Some((low, (high.0, low.1))),
        "top" => Some(((low.0, high.1), high)),
        _ => None,
    };
    GroundInput {
        place,
        panels: panels(area, corners.as_deref())
            .into_iter()
            .filter_map(|p| Some((p.name, p.place?)))
            .collect(),
        doors: record
            .thresholds
            .iter()
            .filter(|t| t.area == area.id)
            .filter_map(|t| Some((t.id.clone(), geometry::point(t.at.as_ref()?)?)))
            .collect(),
        open_sides: record
            .edges
            .iter()
            .filter(|e| e.area == area.id && OPEN.contains(&e.kind.as_str()))
            .filter_map(|e| side(place?, e.side.as_deref()?))
            .collect(),
    }
}

/// Kinds of edges that one can step over on to the slab.
const OPEN: [&str; 3] = ["lawn", "planting", "street"];

/// How an area is reached: what it touches on the map, its doors, and whether it borders anything
/// one can walk on to it from. Where no edge is recorded it counts as open.
fn way(record: &Record, area: &AreaRecord) -> Way {
    const NEAR_MM: f64 = 50.0;
    let rect = |a: &AreaRecord| geometry::corners(a).as_deref().and_then(geometry::bounds);
    let own = rect(area);
    let touches = record
        .areas
        .iter()
        .filter(|other| other.id != area.id)
        .filter(|other| {
            let (Some(a), Some(b)) = (own, rect(other)) else {
                return false;
            };
            geometry::gap_between(a, b) <= NEAR_MM
        })
        .map(|other| other.id.clone())
        .collect();
    let mut edges = record.edges.iter().filter(|e| e.area == area.id).peekable();
    Way {
        area: area.id.clone(),
        touches,
        doors: record
            .thresholds
            .iter()
            .filter(|t| t.area == area.id)
            .map(|t| t.id.clone())
            .collect(),
        from_outside: edges.peek().is_none() || edges.any(|e| OPEN.contains(&e.kind.as_str())),
    }
}

/// Canonical middle of a measure.
pub(super) fn middle<T: Notation>(m: Option<&Measured<T>>) -> Option<f64> {
    m.and_then(Measured::canonical)
        .map(|i| f64::midpoint(i.lo, i.hi))
}
