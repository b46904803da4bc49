//! Plans made from inputs put together by hand, and the `plan` command.

use std::sync::LazyLock;

use assert_cmd::Command;
use ringtrue::facts::Interval;
use ringtrue::method::Waiter;
use ringtrue::plan::clock::PanelToPlace;
use ringtrue::plan::heights::{Effect, RiserLimit, RiserRule, StairEnd, WayOut};
use ringtrue::plan::inputs::{
    AreaInput, CrackInput, DoorInput, EdgeInput, GroundInput, LayerInput, LipInput, PatchInput,
    StairInput, WaitInput,
};
use ringtrue::plan::model::{BoardsFrom, Bought, ShutWhy};
use ringtrue::plan::programme::Way;
use ringtrue::plan::sampling::Failure;
use ringtrue::plan::window::TroubleKind;
use ringtrue::plan::{Inputs, Plan, forecast, plan};
use ringtrue::record::model::{Crew, Material, PriceLine, Prices, WorkReadings};
use ringtrue::report::phrases::Phrases;
use ringtrue::report::{PlanView, plan_text};
use ringtrue::rules::{Pack, builtin};
use ringtrue::source::{Problems, SourceFile};
use ringtrue::units::{Measured, System};

const FT2: f64 = 0.092_903_04;
const IN: f64 = 25.4;
/// Cubic foot in litres.
const FT3: f64 = 28.316_846_592;

fn read<T>(text: &str) -> Option<Measured<T>>
where
    Measured<T>: std::str::FromStr,
{
    text.parse().ok()
}

fn exact(x: f64) -> Interval {
    Interval::exact(x)
}

/// 400 ft² with 3/8 in of a patterned overlay, one door, three risers up from it.
fn inputs() -> Inputs {
    let wait = |stage: &str, who, days| WaitInput {
        stage: stage.into(),
        who: Some(who),
        days: exact(days),
    };
    Inputs {
        units: System::Us,
        day: Some(jiff::civil::date(2026, 5, 29)),
        start: Some(jiff::civil::date(2026, 6, 1)),
        coordinates: Some((42.0, -93.6)),
        sunny: false,
        under_roof: false,
        relief_mm: None,
        slab_mm: Some(exact(4.0 * IN)),
        areas: vec![AreaInput {
            id: "A".into(),
            name: "patio".into(),
            verdict: "thick_overlay".into(),
            why_not: None,
            surface_m2: Some(exact(400.0 * FT2)),
            fall: Some(exact(0.02)),
            edges: vec![EdgeInput {
                kind: "lawn".into(),
                height_mm: Some(exact(IN)),
                run_mm: Some(20.0 * 12.0 * IN),
            }],
            wished_mm: None,
            lowered_mm: 0.0,
            fall_run_mm: Some(exact(20.0 * 12.0 * IN)),
            layer: Some(LayerInput {
                system: "patterned".into(),
                name: "patterned overlay".into(),
                thickness_mm: 0.375 * IN,
                roughened: false,
                patterned: true,
                floor_mm: 0.375 * IN,
                ceiling_mm: 0.5 * IN,
            }),
            panels: (1..=4)
                .map(|i| PanelToPlace {
                    name: format!("A{i}"),
                    area_m2: 100.0 * FT2,
                })
                .collect(),
            joints_mm: 0.0,
            joint_width_mm: None,
            cracks_mm: exact(0.0),
            cracks: Vec::new(),
            bond: None,
            patches: Vec::new(),
            replace_m2: None,
            stages: ["profile", "overlay", "seal"].map(String::from).to_vec(),
            waits: vec![
                wait("cure", Waiter::Work, 1.0),
                wait("seal", Waiter::Sealer, 2.0),
                wait("reopen", Waiter::Foot, 1.5),
            ],
            sealer: Some(("penetrating sealer".into(), exact(5.0), 1)),
            way: Way {
                area: "A".into(),
                touches: Vec::new(),
                doors: vec!["back".into()],
                from_outside: true,
            },
            ground: GroundInput::default(),
            slab_temperature: None,
            work_readings: WorkReadings::default(),
        }],
        stairs: vec![StairInput {
            id: "S".into(),
            risers_mm: vec![7.0 * IN; 3],
            from: Some("A".into()),
            to: None,
            treads_overlaid: false,
        }],
        riser_limits: vec![
            RiserLimit {
                rule: RiserRule::Greatest,
                limit_mm: 7.75 * IN,
                source: "IRC R311.7.5.1".into(),
            },
            RiserLimit {
                rule: RiserRule::Difference,
                limit_mm: 0.375 * IN,
                source: "IRC R311.7.5.1".into(),
            },
        ],
        doors: vec![DoorInput {
            id: "back".into(),
            area: "A".into(),
            drop_mm: exact(1.0 * IN),
            clearance_mm: None,
            required_exit: true,
        }],
        lips: vec![LipInput {
            defect: 7,
            area: "A".into(),
            height_mm: exact(0.4 * IN),
            run_mm: None,
        }],
        materials: vec![Material {
            name: "overlay mix".into(),
            kind: "overlay".into(),
            bag: read("50 lb"),
            bag_yield: read("0.45 ft3"),
            water: read("4 qt"),
            lift: read("1/4 to 1/2 in"),
            pot_life: read("30 min"),
            coverage: None,
            pack: None,
            covers: None,
            covers_at: None,
            colours_bags: None,
            temperature: None,
            profile: None,
            exterior: None,
        }],
        crew: Some(Crew {
            people: 4,
            mixers: Some(1),
            bags_per_batch: Some(2),
            batch_time: read("5 min"),
            haul_time: read("2 min"),
            spread_per_hour: read("240 ft2"),
        }),
        prices: None,
        wished_years: None,
        forecast: None,
    }
}

/// The pack is read once for all tests.
static PACK: LazyLock<Pack> = LazyLock::new(|| builtin().unwrap());

fn made(inputs: &Inputs) -> Plan {
    plan(inputs, &PACK.vocabulary).unwrap()
}

fn note<'a>(plan: &'a Plan, part: &str) -> Option<&'a String> {
    plan.notes
        .iter()
        .chain(&plan.money_notes)
        .find(|n| n.contains(part))
}

/// Every cell of every table, a line each.
fn cells(view: &PlanView) -> String {
    view.sections
        .iter()
        .flat_map(|s| &s.tables)
        .flat_map(|t| t.rows.iter().flatten())
        .map(|c| format!("{c}\n"))
        .collect()
}

fn price(option: &str, item: &str, per: &str, price: [&str; 3]) -> PriceLine {
    PriceLine {
        option: option.into(),
        item: item.into(),
        per: per.into(),
        every: None,
        low: price[0].into(),
        likely: price[1].into(),
        high: price[2].into(),
    }
}

#[test]
fn bags_follow_area_thickness_waste_and_yield() {
    // 400 ft² × 3/8 in = 12.5 ft³; with 10 % waste 13.75; at 0.45 ft³ a bag 30.6 -> 31.
    let p = made(&inputs());
    let layer = p.areas[0]
        .orders
        .iter()
        .find(|o| o.purpose == "layer")
        .unwrap();
    assert_eq!((layer.bought, layer.amount), (Bought::Bags, exact(31.0)));
    // 37.16 m² at 5 m²/L is 7.43 L.
    let sealer = p.areas[0]
        .orders
        .iter()
        .find(|o| o.purpose == "sealer")
        .unwrap();
    assert!((sealer.amount.lo - 400.0 * FT2 / 5.0).abs() < 1e-6);
    // 50 lb + 4 qt on 0.45 ft³ is 130 lb/ft³: plausible.
    assert!(p.sheets[0].balance.plausible && note(&p, "cannot be").is_none());
}

#[test]
fn the_pour_keeps_to_its_working_time() {
    let p = made(&inputs());
    let pour = p.areas[0].pour.as_ref().unwrap();
    // A batch of two bags covers 0.9 ft³ / (3/8 in) = 28.8 ft², so 100 ft² take four.
    assert!((pour.batch_m2 / FT2 - 28.8).abs() < 0.001);
    assert_eq!(pour.batches.len(), 16);
    // One mixer gives a batch each 5 min; batch k is met 5k + 7 min after the first water: with
    // 30 min four more fit, five in all.
    assert!((pour.working.least_min - 30.0).abs() < 1e-6);
    assert_eq!(pour.largest.batches, 5);
    assert_eq!(pour.bays.len(), 4);
    assert!(pour.bays.iter().all(|b| b.fits) && pour.breaks.is_empty());
    assert_eq!(pour.stops, [4, 8, 12]);
    // 2 % is more than the fall up to which the wet end may be used.
    assert!(pour.dry_end);
    let starts: Vec<u64> = pour.run.batches.iter().map(|b| b.water_s / 60).collect();
    assert_eq!(starts[..4], [0, 5, 10, 15]);
}

#[test]
fn heights_are_held_against_the_limits() {
    let mut i = inputs();
    let p = made(&i);
    assert!(p.stairs[0].checks.iter().all(|c| c.effect == Effect::Kept));
    assert!(p.doors[0].check.lip_kept);
    // The lip of 0.4 in is bevelled 1:2 over 0.8 in.
    assert!(
        matches!(p.lips[0].way, ringtrue::plan::heights::LipWay::Bevel { length_mm } if (length_mm - 0.8 * IN).abs() < 1e-6)
    );
    assert!((p.areas[0].edges[0].after_mm.lo - 1.375 * IN).abs() < 1e-9);
    // With half an inch the difference of 3/8 in is broken, and 3/8 in is the way out.
    i.areas[0].layer.as_mut().unwrap().thickness_mm = 0.5 * IN;
    let p = made(&i);
    assert_eq!(p.stairs[0].checks[1].effect, Effect::Broken);
    assert!(
        matches!(p.stairs[0].ways_out[0].way, WayOut::Thinner { greatest_mm } if (greatest_mm - 0.375 * IN).abs() < 0.01)
    );
    assert!(p.stairs[0].short_first);
    // Each way says which risers it gives and what is given up for it: the walk lowered by 1/8 in
    // over 400 ft² is 400 × 0.125 / 12 = 4.17 ft³ to take off.
    let way = |word: &str| p.stairs[0].ways_out.iter().find(|w| w.word() == word);
    let lowered = way("lower_walk").unwrap();
    assert!((lowered.risers_mm[0] - 6.625 * IN).abs() < 0.01);
    assert!(lowered.cost.contains("4.17 ft³"), "{}", lowered.cost);
    assert!(way("taper").unwrap().cost.contains("fall"));
    assert!(lowered.price.is_none());
    // A line of the price book puts a price to it.
    i.prices = Some(Prices {
        currency: "USD".into(),
        lines: vec![price("lower_walk", "mill it off", "ft2", ["2", "3", "5"])],
        tax: None,
        deposit: None,
        discount_rate: None,
    });
    let p = made(&i);
    let way = p.stairs[0]
        .ways_out
        .iter()
        .find(|w| w.word() == "lower_walk");
    let cost = way.unwrap().price.unwrap();
    // 400 ft² at 2 to 5.
    assert_eq!(
        (cost.low.to_string(), cost.high.to_string()),
        ("800".into(), "2000".into())
    );
}

#[test]
fn a_wished_layer_that_a_stair_forbids_is_shown_with_its_ways() {
    let mut i = inputs();
    i.areas[0].layer = None;
    i.areas[0].wished_mm = Some(0.5 * IN);
    // A local limit of 1/4 in on the difference: 1/2 in would give 6-1/2, 7, 7 in.
    i.riser_limits[1].limit_mm = 0.25 * IN;
    let p = made(&i);
    let stair = &p.stairs[0];
    assert!(stair.checks.iter().all(|c| c.kept_after));
    let wished = stair.wished.as_ref().unwrap();
    assert!((wished.after_mm[0] - 6.5 * IN).abs() < 1e-6 && wished.breaks.len() == 1);
    // At most 1/4 in could be laid; the walk would go down by the other 1/4 in.
    assert!(
        matches!(stair.ways_out[0].way, WayOut::Thinner { greatest_mm } if (greatest_mm - 0.25 * IN).abs() < 0.01)
    );
    let text = plan_text::plan(&PlanView::build(&p, System::Us, "job"), 80, false, false);
    assert!(text.contains("The wished finish needs 1/2 in"), "{text}");
}

#[test]
fn a_landing_placed_anew_shows_what_its_level_may_be() {
    let mut i = inputs();
    let area = &mut i.areas[0];
    area.layer = None;
    area.replace_m2 = area.surface_m2;
    // A door sill asks for 2 in lower; the three risers of 7 in come up to this landing.
    area.lowered_mm = 2.0 * IN;
    (i.stairs[0].from, i.stairs[0].to) = (None, Some("A".into()));
    let p = made(&i);
    let stair = &p.stairs[0];
    assert!((stair.after_mm[2] - 5.0 * IN).abs() < 1e-6);
    assert_eq!(stair.checks[1].effect, Effect::Broken);
    // The difference of 3/8 in lets the last riser be 6-5/8 in: 3/8 in lower, not 2 in.
    let WayOut::NewLevel { at, change_mm } = stair.ways_out[0].way else {
        panic!("{:?}", stair.ways_out)
    };
    assert_eq!(at, StairEnd::Head);
    assert!((change_mm + 0.375 * IN).abs() < 0.01, "{change_mm}");
    let risers = &stair.ways_out[0].risers_mm;
    assert!((risers[2] - 6.625 * IN).abs() < 0.01, "{risers:?}");
    // From there it runs down the other 1-5/8 in at a fiftieth (the greatest cross slope) or so.
    let cost = &stair.ways_out[0].cost;
    assert!(
        cost.contains("1-5/8 in higher than planned") && cost.contains("over"),
        "{cost}"
    );
    // Or built anew: 19 in over three risers is 6-1/3 in each.
    let WayOut::Rebuild { risers, riser_mm } = stair.ways_out[1].way else {
        panic!("{:?}", stair.ways_out)
    };
    assert!(risers == 3 && (riser_mm - 19.0 / 3.0 * IN).abs() < 0.01);
    let flat = cells(&PlanView::build(&p, System::Us, ""));
    assert!(
        flat.contains("Lay the new concrete at the head of the steps 3/8 in lower than now"),
        "{flat}"
    );
}

/// 20 by 20 ft in four panels of 10 by 10 ft, the house along the top, lawn along the bottom.
fn four_panels(door_ft: f64) -> GroundInput {
    let ft = 12.0 * IN;
    let panel = |name: &str, x: f64, y: f64| {
        (
            name.to_owned(),
            ((x * ft, y * ft), ((x + 10.0) * ft, (y + 10.0) * ft)),
        )
    };
    GroundInput {
        place: Some(((0.0, 0.0), (20.0 * ft, 20.0 * ft))),
        panels: vec![
            panel("A1", 0.0, 0.0),
            panel("B1", 10.0, 0.0),
            panel("A2", 0.0, 10.0),
            panel("B2", 10.0, 10.0),
        ],
        doors: vec![("back".into(), (door_ft * ft, 20.0 * ft))],
        open_sides: vec![((0.0, 0.0), (20.0 * ft, 0.0))],
    }
}

#[test]
fn an_area_that_shuts_the_only_door_is_worked_in_two_parts() {
    let parts = |p: &Plan| -> Vec<(Vec<String>, bool)> {
        let days = p.days.as_ref().unwrap();
        days.phases
            .iter()
            .map(|x| (x.parts[0].panels.clone(), x.shut.is_some()))
            .collect()
    };
    let names = |all: &[&str]| all.iter().map(|n| (*n).to_owned()).collect::<Vec<_>>();
    let mut i = inputs();
    // The door stands on the joint, half of its 36 in on either side: 18 in are enough to step
    // out. So one column is closed while the other is walked on.
    i.areas[0].ground = four_panels(10.0);
    let p = made(&i);
    assert_eq!(
        parts(&p),
        [(names(&["B1", "B2"]), false), (names(&["A1", "A2"]), false)]
    );
    let days = p.days.as_ref().unwrap();
    // Half of 400 ft² to grind and to seal each time; the second is begun when the first may be
    // walked on, 1 + 1.5 days after its layer.
    let find = |id: &str| days.dated.iter().find(|d| d.id == id).unwrap();
    assert!(find("prepare-2").first > find("walk-1").last.yesterday().unwrap());
    assert!(
        find("lay-1").name.contains("patio, part 1"),
        "{}",
        find("lay-1").name
    );
    let half = days
        .programme
        .activities
        .iter()
        .find(|a| a.id == "seal-1")
        .unwrap()
        .days;
    i.areas[0].ground = GroundInput::default();
    let p = made(&i);
    let whole = &p.days.as_ref().unwrap().programme.activities;
    let whole = whole.iter().find(|a| a.id == "seal-1").unwrap().days;
    assert!((half * 2.0 - whole).abs() < 1e-9, "{half} {whole}");
    // Without panels on the map it is not split, and that is said.
    assert_eq!(parts(&p), [(Vec::new(), true)]);
    let text = plan_text::plan(&PlanView::build(&p, System::Us, ""), 300, false, false);
    assert!(
        text.contains("The map shows no panels to stop at"),
        "{text}"
    );
    assert!(text.contains("Keep off for 36 h"), "{text}");

    // In the middle of A2 the door opens on one panel. Everything but the column A goes first;
    // then boards lead from panel B2, 5 ft away, and 8 ft is what a board carries.
    i.areas[0].ground = four_panels(5.0);
    let p = made(&i);
    assert_eq!(
        parts(&p),
        [(names(&["B1", "B2"]), false), (names(&["A1", "A2"]), true)]
    );
    let shut = p.days.as_ref().unwrap().phases[1].shut.clone().unwrap();
    assert_eq!(shut.why, ShutWhy::BeforeDoor);
    assert_eq!(shut.doors, ["back"]);
    let boards = shut.boards.unwrap();
    assert_eq!(boards.from, BoardsFrom::Panel("B2".into()));
    assert!((boards.length_mm - 5.0 * 12.0 * IN).abs() < 1e-6 && boards.reach());
    // 1.5 days until it may be walked on.
    assert_eq!(shut.days, Some(exact(1.5)));

    // A single row of panels from the street to the door: every one lies on the only way.
    let ft = 12.0 * IN;
    let row = |n: usize| {
        let y = 10.0 * n as f64;
        (
            format!("A{}", n + 1),
            ((0.0, y * ft), (4.0 * ft, (y + 10.0) * ft)),
        )
    };
    i.areas[0].ground = GroundInput {
        place: Some(((0.0, 0.0), (4.0 * ft, 40.0 * ft))),
        panels: (0..4).map(row).collect(),
        doors: vec![("back".into(), (2.0 * ft, 40.0 * ft))],
        open_sides: vec![((0.0, 0.0), (4.0 * ft, 0.0))],
    };
    let p = made(&i);
    let shut = p.days.as_ref().unwrap().phases[0].shut.clone().unwrap();
    assert_eq!(shut.why, ShutWhy::OnlyWay);
    // The lawn at its foot is 40 ft from the door: no board reaches.
    assert!(!shut.boards.unwrap().reach());
    // Lawn along the side: only the panel at the door is needed, and the rest goes first.
    i.areas[0].ground.open_sides = vec![((0.0, 0.0), (0.0, 40.0 * ft))];
    let p = made(&i);
    assert_eq!(
        parts(&p),
        [(names(&["A1", "A2", "A3"]), false), (names(&["A4"]), true)]
    );
    let boards = p.days.as_ref().unwrap().phases[1]
        .shut
        .clone()
        .unwrap()
        .boards;
    // From the lawn it is 2 ft, from panel A3 it would be 10 ft.
    let boards = boards.unwrap();
    assert_eq!(boards.from, BoardsFrom::Ground);
    assert!((boards.length_mm - 2.0 * ft).abs() < 1e-6);
}

#[test]
fn the_trades_rule_of_half_the_cost_stands_with_the_options() {
    let mut i = inputs();
    let p = made(&i);
    let thumb = p.money.thumb.as_ref().unwrap();
    // Both figures of the rules are 50 %.
    assert!((thumb.worth.share - 0.5).abs() < 1e-9 && thumb.here.is_none());
    assert!((thumb.usual.as_ref().unwrap().share - 0.5).abs() < 1e-9);
    let text = plan_text::plan(&PlanView::build(&p, System::Us, ""), 300, false, false);
    assert!(
        text.contains("about half the cost of tearing out") && text.contains("stays as its base"),
        "{text}"
    );
    assert!(text.contains("common practice, one job"), "{text}");
    // 400 ft² at 9 against 15: 60 %, more than half and a tenth of it.
    i.prices = Some(Prices {
        currency: "USD".into(),
        lines: vec![
            price("repair", "overlay", "ft2", ["9", "9", "9"]),
            price("replace_all", "slab", "ft2", ["15", "15", "15"]),
        ],
        tax: None,
        deposit: None,
        discount_rate: None,
    });
    let thumb = made(&i).money.thumb.unwrap();
    assert!((thumb.here.unwrap() - 0.6).abs() < 1e-9 && thumb.over);
    // What is replaced is no repair.
    i.areas[0].layer = None;
    i.areas[0].replace_m2 = i.areas[0].surface_m2;
    assert!(made(&i).money.thumb.is_none());
}

#[test]
fn a_flat_area_says_what_building_its_fall_up_takes() {
    let mut i = inputs();
    i.areas[0].fall = Some(exact(0.0));
    let p = made(&i);
    // 1/8 in a foot over 20 ft is 2.5 in at the high side; half of that on 400 ft² is 41.7 ft³.
    let up = p.areas[0].fall.unwrap().build_up.unwrap();
    assert!((up.thickest_mm.lo - 2.5 * IN).abs() < 0.01);
    assert!((up.litres.lo / FT3 - 400.0 * 1.25 / 12.0).abs() < 0.01);
    // The layer may be half an inch at most.
    assert_eq!(up.fits, Some(false));
}

#[test]
fn tapers_and_ramps_count_with_the_layer() {
    let mut i = inputs();
    // 400 ft² at 3/8 in are 12.5 ft³. A taper of 1:12 from 3/8 in to a drain is 4.5 in long; over
    // 200 ft its wedge is 2400 × 4.5 × 0.375 / 2 = 2025 in³ = 1.172 ft³, saved if it is made.
    i.areas[0].edges = vec![EdgeInput {
        kind: "drain".into(),
        height_mm: Some(exact(0.0)),
        run_mm: Some(2400.0 * IN),
    }];
    // A ramp of 1:12 up a lip of 5/8 in is 7.5 in long; over 64 ft 768 × 7.5 × 0.625 / 2 = 1800 in³
    // = 1.042 ft³.
    i.lips = vec![LipInput {
        defect: 7,
        area: "A".into(),
        height_mm: exact(0.625 * IN),
        run_mm: Some(exact(768.0 * IN)),
    }];
    let p = made(&i);
    let layer = p.areas[0]
        .orders
        .iter()
        .find(|o| o.purpose == "layer")
        .unwrap();
    // (12.5 − 1.172) × 1.1 / 0.45 = 27.7 and (12.5 + 1.042) × 1.1 / 0.45 = 33.1.
    assert_eq!(layer.amount, Interval { lo: 28.0, hi: 34.0 });
    assert!(
        layer.how.contains("a taper to the drain saves 1.17 ft³"),
        "{}",
        layer.how
    );
    assert!(
        layer.how.contains("a ramp up lip 7 takes 1.04 ft³"),
        "{}",
        layer.how
    );
}

#[test]
fn fillers_are_ordered_by_volume_and_by_the_pack() {
    let mut i = inputs();
    i.areas[0]
        .stages
        .extend(["cracks".into(), "joints".into(), "bond".into()]);
    i.areas[0].bond = Some("slurry".into());
    i.areas[0].joints_mm = 40.0 * 12.0 * IN;
    i.areas[0].joint_width_mm = Some(exact(0.5 * IN));
    let crack = |defect, repair: &str, run: f64, width: f64| CrackInput {
        defect,
        repair: repair.into(),
        run_mm: exact(run * 12.0 * IN),
        width_mm: Some(exact(width * IN)),
    };
    i.areas[0].cracks = vec![
        crack(1, "rout_seal", 20.0, 0.125),
        crack(2, "gravity_resin", 10.0, 0.02),
    ];
    let mut filler = i.materials[0].clone();
    filler.kind = "crack_filler".into();
    filler.name = "filler".into();
    filler.pack = read("10 fl oz");
    let mut pigment = filler.clone();
    pigment.kind = "pigment".into();
    pigment.name = "grey".into();
    pigment.colours_bags = read("2");
    let mut powder = filler.clone();
    powder.kind = "release".into();
    powder.name = "powder".into();
    powder.covers = read("150 ft2");
    i.materials.extend([filler, pigment, powder]);
    let p = made(&i);
    let orders = |purpose: &str| -> Vec<_> {
        p.areas[0]
            .orders
            .iter()
            .filter(|o| o.purpose == purpose)
            .collect()
    };
    let cubic_inch = IN * IN * IN / 1e6;
    // Thin resin: 120 × 0.02 × 4 in = 9.6 in³. Groove: 240 × 1/4 × 1/8 in = 7.5 in³.
    let cracks = orders("cracks");
    assert!((cracks[0].amount.hi - 9.6 * cubic_inch).abs() < 1e-9);
    assert!((cracks[1].amount.hi - 7.5 * cubic_inch).abs() < 1e-9);
    // 9.6 in³ are 5.3 fl oz, 7.5 in³ 4.2: a pack of 10 each.
    assert_eq!(cracks[0].packs.unwrap().count, exact(1.0));
    // Joints: 480 × 1/2 × 1/4 in = 60 in³; rod as long as they are.
    let joints = orders("joints");
    assert!((joints[0].amount.hi - 60.0 * cubic_inch).abs() < 1e-9);
    assert!((joints[1].amount.hi - 480.0 * IN).abs() < 1e-9);
    // 31 bags by two a pack; 400 ft² by 150 ft² a pack.
    assert_eq!(orders("pigment")[0].amount, exact(16.0));
    assert_eq!(orders("release")[0].amount, exact(3.0));
    // Slurry 1/32 to 1/16 in on 400 ft²: 1.04 to 2.08 ft³.
    let slurry = orders("slurry")[0].amount;
    assert!((slurry.lo / FT3 - 400.0 / 32.0 / 12.0).abs() < 1e-6);
    assert!((slurry.hi / FT3 - 400.0 / 16.0 / 12.0).abs() < 1e-6);
    let cells = cells(&PlanView::build(&p, System::Us, "job"));
    assert!(
        cells.contains("1 pack of 10 fl oz, for 5.4 fl oz"),
        "{cells}"
    );
}

#[test]
fn an_impossible_coverage_claim_is_named() {
    let mut i = inputs();
    let m = &mut i.materials[0];
    m.bag = read("40 lb");
    m.water = read("3 qt");
    m.bag_yield = None;
    m.covers_at = read("1/16 in");
    // 120 ft² at 1/16 in is 0.625 ft³; 46.3 lb make no more than 0.39 ft³ at 118.75 lb/ft³.
    m.covers = read("120 ft2");
    let p = made(&i);
    assert!(
        note(
            &p,
            "The coverage on the sheet of overlay mix cannot be: 0.625 ft³"
        )
        .is_some(),
        "{:?}",
        p.notes
    );
    // 70 ft² is 0.365 ft³, 127 lb/ft³: that can be, and counts as the yield.
    i.materials[0].covers = read("70 ft2");
    let p = made(&i);
    assert!(p.sheets.iter().all(|s| s.balance.plausible) && note(&p, "cannot be").is_none());
    let layer = p.areas[0]
        .orders
        .iter()
        .find(|o| o.purpose == "layer")
        .unwrap();
    // 12.5 × 1.1 / 0.3646 = 37.7.
    assert_eq!(layer.amount, exact(38.0));
    // A sheet whose yield and coverage differ contradicts itself.
    i.materials[0].bag_yield = read("0.30 ft3");
    assert!(note(&made(&i), "contradicts itself").is_some());
}

#[test]
fn what_comes_again_counts_over_the_life() {
    let mut i = inputs();
    let mut reseal = price("repair", "sealer", "job", ["100", "100", "100"]);
    reseal.every = read("3 years");
    i.prices = Some(Prices {
        currency: "USD".into(),
        lines: vec![
            price("repair", "overlay", "job", ["1000", "1000", "1000"]),
            reseal,
            price("replace_all", "slab", "job", ["3750", "3750", "3750"]),
        ],
        tax: None,
        deposit: None,
        discount_rate: read("0 %"),
    });
    let p = made(&i);
    let repair = &p.money.options[0];
    // The sum asked now is without it.
    assert_eq!(repair.sum.likely.to_string(), "1000");
    // Life 14 years at rate 0: again at 3, 6, 9 and 12. (1000 + 4 × 100) / 14 = 100 a year.
    assert!((repair.annual.1 - 100.0).abs() < 1e-9);
    // Best, 20 years: at 3 to 18, six times, 1600 / 20 = 80. Worst, 8 years: 1200 / 8 = 150.
    assert!((repair.annual.0 - 80.0).abs() < 1e-9 && (repair.annual.2 - 150.0).abs() < 1e-9);
    // Replacement costs 3750 / 37.5 = 100 a year: even at 14 years and at 1000 now.
    let even = p.money.break_even.unwrap();
    assert!(
        (even.life_years.unwrap() - 14.0).abs() < 1e-9
            && (even.price.unwrap() - 1000.0).abs() < 1e-6
    );
    assert_eq!(p.money.decision.as_ref().unwrap().undecided_with.len(), 1);
    assert!(
        p.money
            .tornado
            .iter()
            .any(|b| b.name == "repair: years between sealer")
    );
    let text = plan_text::plan(&PlanView::build(&p, System::Us, "job"), 120, false, false);
    assert!(text.contains("every 3 years"), "{text}");
}

#[test]
fn new_concrete_has_weather_limits_of_its_own() {
    let mut i = inputs();
    let forecast = |air: u32| {
        let mut text = String::from("time,air F,humidity %,wind mph,rain %\n");
        for h in 0..168 {
            let (day, hour) = (1 + h / 24, h % 24);
            text += &format!("2026-06-{day:02}T{hour:02}:00-05:00,{air},60,5,5\n");
        }
        forecast::read(&SourceFile::new("f.csv", text), &mut Problems::default())
    };
    // 45 F: too cold for the layer (50 to 90 F), not for concrete (40 to 90 F).
    i.forecast = forecast(45);
    let p = made(&i);
    assert!(p.window.as_ref().unwrap().window.best.is_none() && p.concrete_window.is_none());
    i.areas[0].layer = None;
    i.areas[0].verdict = "replace_all".into();
    i.areas[0].replace_m2 = Some(exact(400.0 * FT2));
    let p = made(&i);
    assert!(p.window.is_none());
    let w = p.concrete_window.as_ref().unwrap();
    // Four people at 40 ft² an hour each at least: 2.5 hours, so three.
    assert_eq!(w.hours, 3);
    assert_eq!(w.window.best.as_ref().unwrap().local.hour(), 7);
    let text = plan_text::plan(&PlanView::build(&p, System::Us, "job"), 80, false, false);
    assert!(
        text.contains("When to place: the new concrete of patio"),
        "{text}"
    );
    i.forecast = forecast(38);
    let w = made(&i).concrete_window.unwrap();
    assert!(w.window.best.is_none());
    assert_eq!(w.window.ruled_out[0].0, TroubleKind::AirCold);
}

#[test]
fn when_one_man_is_missing_another_takes_over() {
    let p = made(&inputs());
    let pour = p.areas[0].pour.as_ref().unwrap();
    let mixing = &pour.one_fewer[1];
    assert_eq!(mixing.takes_over.len(), 1);
    assert!(mixing.nobody_for.is_none() && mixing.end_s.unwrap() > pour.run.end_s);
    let text = plan_text::plan(&PlanView::build(&p, System::Us, "job"), 80, false, false);
    assert!(text.contains("With one man missing"), "{text}");
}

#[test]
fn a_sheet_that_cannot_be_true_is_named() {
    let mut i = inputs();
    // 0.7 ft³ from 58 lb is 83 lb/ft³.
    i.materials[0].bag_yield = read("0.7 ft3");
    let p = made(&i);
    assert!(!p.sheets[0].balance.plausible);
    assert!(note(&p, "cannot be").is_some(), "{:?}", p.notes);
}

#[test]
fn a_sheet_without_yield_is_worked_out_and_said() {
    let mut i = inputs();
    i.materials[0].bag_yield = None;
    let p = made(&i);
    assert!(note(&p, "gives no yield").is_some());
    let layer = p.areas[0]
        .orders
        .iter()
        .find(|o| o.purpose == "layer")
        .unwrap();
    // 58.34 lb at 148 and at 125 lb/ft³: 0.394 and 0.467 ft³; 13.75 ft³ take 30 to 35 bags.
    assert_eq!(layer.amount, Interval { lo: 30.0, hi: 35.0 });
    i.materials.clear();
    let p = made(&i);
    assert!(
        p.taken.iter().any(|t| t.what.contains("bag of overlay")),
        "{:?}",
        p.taken
    );
}

#[test]
fn patches_take_lifts_and_bags() {
    let mut i = inputs();
    // 2 ft² × 1.5 in is 0.25 ft³: one bag of 0.45 ft³; lifts of an inch at most: two of 3/4 in.
    i.areas[0].patches = vec![PatchInput {
        defect: 3,
        surface_m2: exact(2.0 * FT2),
        depth_mm: exact(1.5 * IN),
    }];
    let p = made(&i);
    let patch = p.areas[0]
        .orders
        .iter()
        .find(|o| o.purpose == "patch")
        .unwrap();
    assert_eq!(patch.amount, exact(1.0));
    assert_eq!(
        (patch.lifts[0].defect, patch.lifts[0].lifts_mm.len()),
        (3, 2)
    );
    assert!((patch.lifts[0].lifts_mm[0] - 0.75 * IN).abs() < 1e-9);
}

#[test]
fn replaced_panels_are_ordered_as_concrete() {
    let mut i = inputs();
    i.areas[0].layer = None;
    i.areas[0].verdict = "replace_all".into();
    i.areas[0].replace_m2 = Some(exact(400.0 * FT2));
    let p = made(&i);
    let concrete = p.areas[0]
        .orders
        .iter()
        .find(|o| o.purpose == "concrete")
        .unwrap();
    // 400 ft² × 4 in = 133.3 ft³, with 5 to 10 % waste.
    assert!((concrete.amount.lo - 133.333 * 1.05 * FT3).abs() < 0.1);
    assert!((concrete.amount.hi - 133.333 * 1.10 * FT3).abs() < 0.1);
    i.slab_mm = None;
    assert!(note(&made(&i), "thickness of the slab is not known").is_some());
}

#[test]
fn the_programme_runs_from_preparation_to_reopening() {
    let p = made(&inputs());
    let d = p.days.as_ref().unwrap();
    let ids: Vec<&str> = d.dated.iter().map(|x| x.id.as_str()).collect();
    assert_eq!(
        ids,
        ["prepare-1", "lay-1", "cure-1", "dry-1", "seal-1", "walk-1"]
    );
    // Monday 1 June: preparing 400 ft² takes 4 people 1 to 2.5 h. The pour begins on Tuesday
    // morning; then a day of cure and two of drying from Tuesday noon or so.
    assert_eq!(d.dated[1].first, jiff::civil::date(2026, 6, 2));
    assert!(d.dated[4].first >= jiff::civil::date(2026, 6, 5));
    // The only door is shut, without panels to work it in halves.
    assert!(d.phases.len() == 1 && d.phases[0].shut.is_some());
}

#[test]
fn options_are_compared_over_their_life() {
    let mut i = inputs();
    let line = price;
    i.prices = Some(Prices {
        currency: "USD".into(),
        lines: vec![
            line("repair", "overlay", "ft2", ["8", "10", "12"]),
            line("repair", "bags", "bag", ["30", "30", "30"]),
            line("repair", "skip", "job", ["200", "200 EUR", "300"]),
            line("replace_all", "new slab", "ft2", ["9", "12", "15"]),
            line("do_little", "wash", "job", ["100", "150", "200"]),
        ],
        tax: read("10 %"),
        deposit: read("50 %"),
        discount_rate: read("0 %"),
    });
    let p = made(&i);
    // The euro line is left out and named.
    assert!(
        note(&p, "price line “skip” (number 3) is left out").is_some(),
        "{:?}",
        p.notes
    );
    let repair = p
        .money
        .options
        .iter()
        .find(|o| o.option == "repair")
        .unwrap();
    // 400 × 10 + 31 × 30 = 4930; tax 493; total 5423; half of it at signing.
    assert_eq!(
        repair.sum.likely.to_string().parse::<f64>().unwrap(),
        4930.0
    );
    let [_, likely, _] = repair.bills;
    assert_eq!(
        (likely.total.to_string(), likely.deposit.to_string()),
        ("5423.00".into(), "2711.50".into())
    );
    // At rate 0 the cost a year is the total over the life of 14 years (8 to 20).
    assert!((repair.annual.1 - 5423.0 / 14.0).abs() < 1e-6);
    // Replacement: 4800 with tax 5280 over 37.5 years is 140.8 a year; the repair must last 38.5.
    let replace = p
        .money
        .options
        .iter()
        .position(|o| o.option == "replace_all")
        .unwrap();
    assert_eq!(p.money.decision.as_ref().unwrap().cheapest, replace);
    let even = p.money.break_even.unwrap();
    assert!((even.life_years.unwrap() - 5423.0 / 140.8).abs() < 1e-6);
    // Rate 0: 8/50 to 20/25 of the cost of replacement.
    assert!((even.cost_share.0 - 0.16).abs() < 1e-9 && (even.cost_share.1 - 0.8).abs() < 1e-9);
    assert!(!p.money.tornado.is_empty());
}

#[test]
fn a_forecast_gives_a_window_and_its_temperature_the_working_time() {
    let mut i = inputs();
    let mut text = String::from("time,air F,humidity %,wind mph,rain %\n");
    for h in 0..72 {
        let (day, hour) = (1 + h / 24, h % 24);
        text += &format!("2026-06-{day:02}T{hour:02}:00-05:00,80,50,5,5\n");
    }
    i.forecast = forecast::read(&SourceFile::new("f.csv", text), &mut Problems::default());
    let p = made(&i);
    let w = p.window.as_ref().unwrap();
    assert_eq!(w.window.best.as_ref().unwrap().local.hour(), 7);
    let pour = p.areas[0].pour.as_ref().unwrap();
    // At 80 °F the one-third rule leaves two thirds of 30 minutes.
    assert!(
        (pour.working.least_min - 20.0).abs() < 0.5,
        "{}",
        pour.working.least_min
    );
    assert!(pour.largest.batches < 5);
}

#[test]
fn the_pour_waits_for_the_best_day_of_the_forecast() {
    let mut i = inputs();
    let forecast = |wet: std::ops::Range<usize>| {
        let mut text = String::from("time,air F,humidity %,wind mph,rain %\n");
        for h in 0..168 {
            let rain = if wet.contains(&h) { 90 } else { 5 };
            let (day, hour) = (1 + h / 24, h % 24);
            text += &format!("2026-06-{day:02}T{hour:02}:00-05:00,75,50,5,{rain}\n");
        }
        forecast::read(&SourceFile::new("f.csv", text), &mut Problems::default())
    };
    // Rain from Monday to Wednesday: Thursday 4 June is the first dry day with a dry day after.
    i.forecast = forecast(0..72);
    // Wet days stop no work under a roof: preparing goes on, the layer waits.
    i.under_roof = true;
    let p = made(&i);
    assert!(p.days.as_ref().unwrap().weather_days.is_empty());
    let lay = p
        .days
        .as_ref()
        .unwrap()
        .dated
        .iter()
        .find(|d| d.id == "lay-1")
        .unwrap();
    assert_eq!(lay.first, jiff::civil::date(2026, 6, 4));
    // In the open Monday to Wednesday are weather days, so even preparing waits for Thursday.
    i.under_roof = false;
    let p = made(&i);
    let d = p.days.as_ref().unwrap();
    let wet: Vec<_> = (1..=3).map(|x| jiff::civil::date(2026, 6, x)).collect();
    assert_eq!(d.weather_days, wet);
    let prepare = d.dated.iter().find(|x| x.id == "prepare-1").unwrap();
    assert_eq!(prepare.first, jiff::civil::date(2026, 6, 4));
    // Rain from Wednesday on: Monday is the best day, but the slab is ready on Tuesday only.
    i.forecast = forecast(48..168);
    let p = made(&i);
    assert!(
        note(&p, "the slab is ready for it on Tue 2 Jun only").is_some(),
        "{:?}",
        p.notes
    );
}

#[test]
fn readings_taken_while_working_are_judged() {
    let mut i = inputs();
    let list = |all: &[&str]| all.iter().map(|t| t.parse().unwrap()).collect();
    let psi = |all: &[&str]| all.iter().map(|t| t.parse().unwrap()).collect();
    // 400 ft² ask for 2 + 8 readings of thickness; the fourth is under the floor of 3/8 in.
    i.areas[0].work_readings.thickness = list(&["3/8 in", "0.4 in", "0.41 in", "5/16 in"]);
    // 215, 242, 188: mean 215, none under 150.
    i.areas[0].work_readings.pull_off = psi(&["215 psi", "242 psi", "188 psi"]);
    i.areas[0].work_readings.ph = vec![9.0, 10.5];
    let p = made(&i);
    let find = |what: &str| p.tests.iter().find(|t| t.what.contains(what)).unwrap();
    let thickness = find("thickness");
    assert_eq!(thickness.count, 10);
    let failures = &thickness.result.as_ref().unwrap().failures;
    assert!(matches!(
        failures[0],
        Failure::TooFew {
            wanted: 10,
            there: 4
        }
    ));
    assert!(matches!(failures[1], Failure::Low { index: 3, .. }) && failures.len() == 2);
    let pulls = find("pull-offs").result.as_ref().unwrap();
    assert!(pulls.passed && (pulls.sample.mean - 215.0 * 0.006_894_757).abs() < 1e-3);
    assert!(!find("pH").result.as_ref().unwrap().passed);
    assert!(find("plastic sheets").result.is_none());
    let flat = cells(&PlanView::build(&p, System::Us, ""));
    assert!(
        flat.contains("mean 215 psi (148 to 282 psi with 95 % confidence); passed"),
        "{flat}"
    );
    assert!(
        flat.contains("FAILED: 6 more to take, reading 4 of 5/16 in too low"),
        "{flat}"
    );
}

#[test]
fn without_a_figure_there_is_no_plan() {
    let empty = ringtrue::facts::Vocabulary::default();
    assert!(
        plan(&inputs(), &empty)
            .unwrap_err()
            .to_string()
            .contains("no figure")
    );
}

#[test]
fn an_area_that_waits_for_a_measurement_is_said_so() {
    let mut i = inputs();
    i.areas[0].layer = None;
    i.areas[0].stages.clear();
    i.areas[0].sealer = None;
    i.areas[0].why_not = Some("Measure first.".into());
    let p = made(&i);
    assert!(p.days.is_none() && p.areas[0].orders.is_empty());
    let view = PlanView::build(&p, System::Us, "job");
    assert!(plan_text::plan(&view, 80, false, false).contains("Patio: Measure first."));
}

#[test]
fn plan_and_crew_sheet_are_the_same_every_time_and_fit_the_terminal() {
    let p = made(&inputs());
    for width in [60, 80, 100] {
        for view in [
            PlanView::build(&p, System::Us, "12 Example Lane"),
            PlanView::crew_sheet(&p, System::Metric, "12 Example Lane", Phrases::english()),
        ] {
            let text = plan_text::plan(&view, width, false, false);
            for line in text.lines() {
                assert!(line.chars().count() <= width, "{line}");
            }
            assert_eq!(text, plan_text::plan(&view, width, false, false));
        }
    }
    assert_eq!(
        serde_json::to_string(&p).unwrap(),
        serde_json::to_string(&made(&inputs())).unwrap()
    );
}

#[test]
fn the_command_prints_a_plan_and_refuses_a_broken_forecast() {
    let dir = tempfile::tempdir().unwrap();
    let record = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/records/good.yaml");
    let run = |args: &[&str]| {
        Command::cargo_bin("ringtrue")
            .unwrap()
            .arg("plan")
            .arg(record)
            .args(args)
            .output()
            .unwrap()
    };
    let out = run(&[]);
    assert_eq!(out.status.code(), Some(0));
    assert!(String::from_utf8_lossy(&out.stdout).contains("Plan of work"));
    let json = run(&["--json"]);
    let value: serde_json::Value = serde_json::from_slice(&json.stdout).unwrap();
    assert!(value["stairs"].is_array());
    let gap = dir.path().join("gap.csv");
    std::fs::write(
        &gap,
        "time,air F,humidity %\n2026-06-01T07:00Z,60,50\n2026-06-01T09:00Z,60,50\n",
    )
    .unwrap();
    let out = run(&["--forecast", gap.to_str().unwrap()]);
    assert_eq!(out.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&out.stderr).contains("forecast-gap"));
    assert_eq!(run(&["--start", "soon"]).status.code(), Some(2));
    assert_eq!(
        run(&["--forecast", "no-such-file.csv"]).status.code(),
        Some(2)
    );
}

#[test]
fn the_plan_is_a_page_too_with_its_pictures() {
    let dir = tempfile::tempdir().unwrap();
    let page = dir.path().join("plan.html");
    let sample = concat!(env!("CARGO_MANIFEST_DIR"), "/samples/drive-scaled.yaml");
    let run = |args: &[&str]| {
        Command::cargo_bin("ringtrue")
            .unwrap()
            .args(["plan", sample])
            .args(args)
            .output()
            .unwrap()
    };
    let out = run(&["-o", page.to_str().unwrap()]);
    assert_eq!(
        out.status.code(),
        Some(0),
        "{}",
        String::from_utf8_lossy(&out.stderr)
    );
    let text = std::fs::read_to_string(&page).unwrap();
    // The pour, the programme, the options and what moves the choice are drawn; the forecast stands
    // hour by hour.
    assert_eq!(text.matches("<svg").count(), 4);
    for part in [
        "Slab over dew point",
        "Wind at slab",
        "flips at",
        "stop at a joint",
    ] {
        assert!(text.contains(part), "{part}");
    }
    // Not over an existing file.
    assert_eq!(run(&["-o", page.to_str().unwrap()]).status.code(), Some(2));
    // And as a PDF, where the build has one.
    let pdf = dir.path().join("plan.pdf");
    let out = run(&["-o", pdf.to_str().unwrap()]);
    if cfg!(feature = "pdf") {
        assert_eq!(out.status.code(), Some(0));
        assert!(std::fs::read(&pdf).unwrap().starts_with(b"%PDF-1.7"));
    } else {
        assert_eq!(out.status.code(), Some(2));
    }
    let hours = run(&["--hours"]);
    let hours = String::from_utf8_lossy(&hours.stdout).into_owned();
    assert!(
        hours.contains("Hour by hour; drying rate by Uno 1998"),
        "{hours}"
    );
}

/// The hourly answer of the US National Weather Service, in the shape its API documents: a
/// `properties` object with `periods`, temperatures in F, wind as text, the rest as quantities.
fn weather_service(air: impl Fn(usize) -> i32) -> String {
    let periods: Vec<serde_json::Value> = (0..96)
        .map(|h| {
            let at = |h: usize| format!("2026-06-{:02}T{:02}:00:00-05:00", 1 + h / 24, h % 24);
            serde_json::json!({
                "number": h + 1,
                "startTime": at(h),
                "endTime": at(h + 1),
                "isDaytime": (6..18).contains(&(h % 24)),
                "temperature": air(h),
                "temperatureUnit": "F",
                "probabilityOfPrecipitation": {"unitCode": "wmoUnit:percent", "value": 5},
                "dewpoint": {"unitCode": "wmoUnit:degC", "value": 10.0},
                "relativeHumidity": {"unitCode": "wmoUnit:percent", "value": 50},
                "windSpeed": "5 to 10 mph",
                "windDirection": "NW",
                "shortForecast": "Mostly Sunny"
            })
        })
        .collect();
    serde_json::json!({"type": "Feature", "properties": {"units": "us", "periods": periods}})
        .to_string()
}

#[test]
fn the_weather_services_json_gives_every_number_of_an_hour() {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("hourly.json");
    std::fs::write(&file, weather_service(|_| 68)).unwrap();
    let sample = concat!(env!("CARGO_MANIFEST_DIR"), "/samples/drive-scaled.yaml");
    let plan_of = || {
        let out = Command::cargo_bin("ringtrue")
            .unwrap()
            .args([
                "plan",
                sample,
                "--json",
                "--forecast",
                file.to_str().unwrap(),
            ])
            .output()
            .unwrap();
        assert_eq!(
            out.status.code(),
            Some(0),
            "{}",
            String::from_utf8_lossy(&out.stderr)
        );
        serde_json::from_slice::<serde_json::Value>(&out.stdout).unwrap()
    };
    let plan = plan_of();
    let window = &plan["window"];
    assert!(window["formula"].as_str().unwrap().contains("Uno"));
    let noon = &window["window"]["hours"][12]["numbers"];
    let number = |key: &str| noon[key].as_f64().unwrap_or(f64::NAN);
    // 68 F is 20 C; at 50 % the dew point is 9.26 C by the Magnus formula.
    assert!(
        (number("air_c") - 20.0).abs() < 0.01 && (number("dew_c") - 9.26).abs() < 0.05,
        "{noon}"
    );
    // The stronger wind of "5 to 10 mph" is 16.09 km/h at 10 m; at 20 in (0.508 m) by the 1/7
    // power law 16.09 × (0.508 / 10)^(1/7) = 10.51.
    assert!((number("wind_km_h") - 10.51).abs() < 0.05, "{noon}");
    assert_eq!(number("rain_chance"), 0.05);
    // Noon on daylight time at 43.1 N in early June: the sun stands high, so the slab is a range.
    assert!(number("sun_elevation_deg") > 55.0);
    assert!(noon["slab_c"][1].as_f64().unwrap() > noon["slab_c"][0].as_f64().unwrap() + 5.0);
    assert!(noon["drying_kg_m2_h"][1].as_f64().unwrap() > 0.0 && number("heat_index_c") > 0.0);
    assert!(window["window"]["best"].is_object());
    // Frost every night: no start, and the reason is named.
    std::fs::write(
        &file,
        weather_service(|h| if (6..20).contains(&(h % 24)) { 60 } else { 30 }),
    )
    .unwrap();
    let plan = plan_of();
    let window = &plan["window"]["window"];
    assert!(window["best"].is_null() && window["nearest"].is_object());
    let why: Vec<&str> = window["ruled_out"]
        .as_array()
        .unwrap()
        .iter()
        .map(|r| r[0].as_str().unwrap())
        .collect();
    assert!(why.contains(&"frost"), "{why:?}");
}

/// RFC 5545, the parts a calendar program refuses a file over: line ends and lengths (3.1), one
/// VERSION and PRODID (3.6), UID and DTSTAMP in every event (3.6.1), an end after the start
/// (3.8.2.2), escaped commas and semicolons (3.3.11).
#[test]
fn the_calendar_file_is_valid() {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("job.ics");
    let sample = concat!(env!("CARGO_MANIFEST_DIR"), "/samples/terrace.yaml");
    let out = Command::cargo_bin("ringtrue")
        .unwrap()
        .args([
            "plan",
            sample,
            "--ics",
            file.to_str().unwrap(),
            "--start",
            "2026-06-01",
        ])
        .output()
        .unwrap();
    assert_eq!(out.status.code(), Some(0));
    let text = std::fs::read_to_string(&file).unwrap();
    assert!(text.ends_with("\r\n") && !text.replace("\r\n", "").contains(['\r', '\n']));
    assert!(text.split("\r\n").all(|l| l.len() <= 75));
    let unfolded = text.replace("\r\n ", "");
    let lines: Vec<&str> = unfolded.split_terminator("\r\n").collect();
    assert_eq!(
        (lines[0], lines[lines.len() - 1]),
        ("BEGIN:VCALENDAR", "END:VCALENDAR")
    );
    let count = |start: &str| lines.iter().filter(|l| l.starts_with(start)).count();
    assert_eq!((count("VERSION:2.0"), count("PRODID:")), (1, 1));
    let events = count("BEGIN:VEVENT");
    assert!(events > 5 && events == count("END:VEVENT"));
    for needed in [
        "UID:",
        "DTSTAMP:",
        "DTSTART;VALUE=DATE:",
        "DTEND;VALUE=DATE:",
        "SUMMARY:",
    ] {
        assert_eq!(count(needed), events, "{needed}");
    }
    let values =
        |start: &str| -> Vec<&str> { lines.iter().filter_map(|l| l.strip_prefix(start)).collect() };
    let mut ids = values("UID:");
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), events);
    for (from, to) in values("DTSTART;VALUE=DATE:")
        .iter()
        .zip(values("DTEND;VALUE=DATE:"))
    {
        assert!(from.len() == 8 && *from < to, "{from} {to}");
    }
    for l in values("SUMMARY:").into_iter().chain(values("DESCRIPTION:")) {
        let plain = l
            .replace("\\\\", "")
            .replace("\\,", "")
            .replace("\\;", "")
            .replace("\\n", "");
        assert!(!plain.contains([',', ';', '\\']), "{l}");
    }
}
