//! What a tradesman would hold the advice to: the facts of the trade that the tool was given, each
//! against the work of a sample, and the advice of the samples where it was once wrong.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, OnceLock};

use ringtrue::cli::Work;
use ringtrue::facts::{Provenance, Value};
use ringtrue::method::{AreaMethod, Step};
use ringtrue::record::{self};
use ringtrue::rules::{Pack, Set, builtin};
use ringtrue::source::{Problems, SourceFile};

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("samples")
}

/// The rules, loaded once: unpacking them takes most of a second in an unoptimised build.
fn pack() -> &'static Pack {
    static PACK: OnceLock<Pack> = OnceLock::new();
    PACK.get_or_init(|| builtin().unwrap_or_else(|p| panic!("{}", p.render(false))))
}

fn text(sample: &str) -> String {
    std::fs::read_to_string(folder().join(format!("{sample}.yaml"))).unwrap()
}

fn work_of(name: &str, text: String) -> Work {
    let file = SourceFile::new(name.to_owned(), text);
    let (loaded, problems) = record::read(&file, Some(&folder()), None, Some(&pack().vocabulary));
    assert!(problems.is_empty(), "{name}\n{}", problems.render(false));
    Work::of(
        loaded.unwrap(),
        folder(),
        pack().clone(),
        Problems::default(),
    )
}

fn sample(name: &str) -> &'static Work {
    static DONE: OnceLock<Mutex<BTreeMap<String, &'static Work>>> = OnceLock::new();
    let mut done = DONE.get_or_init(Mutex::default).lock().unwrap();
    done.entry(name.to_owned())
        .or_insert_with(|| Box::leak(Box::new(work_of(name, text(name)))))
}

/// A sample with one piece of its text changed.
fn changed(name: &str, from: &str, to: &str) -> Work {
    let text = text(name);
    assert_eq!(text.matches(from).count(), 1, "`{from}` in {name}");
    work_of(name, text.replace(from, to))
}

fn names() -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(folder())
        .unwrap()
        .map(|e| e.unwrap().path())
        .filter(|p| p.extension().is_some_and(|e| e == "yaml"))
        .map(|p| p.file_stem().unwrap().to_string_lossy().into_owned())
        .collect();
    names.sort();
    names
}

fn area<'a>(work: &'a Work, id: &str) -> &'a AreaMethod {
    work.method.areas.iter().find(|a| a.area == id).unwrap()
}

fn step<'a>(area: &'a AreaMethod, row: &str) -> &'a Step {
    area.steps
        .iter()
        .find(|s| s.reason.row == row)
        .unwrap_or_else(|| {
            let rows: Vec<&str> = area.steps.iter().map(|s| s.reason.row.as_str()).collect();
            panic!("no step `{row}` in area {}: {rows:?}", area.area)
        })
}

fn has(area: &AreaMethod, row: &str) -> bool {
    area.steps.iter().any(|s| s.reason.row == row)
}

fn says(step: &Step, words: &[&str]) {
    for word in words {
        assert!(
            step.crew.contains(word),
            "`{word}` is not in: {}",
            step.crew
        );
    }
}

fn in_order(area: &AreaMethod, rows: &[&str]) {
    let place = |row: &str| {
        let at = area.steps.iter().position(|s| s.reason.row == row);
        at.unwrap_or_else(|| panic!("no step `{row}` in area {}", area.area))
    };
    for pair in rows.windows(2) {
        assert!(
            place(pair[0]) < place(pair[1]),
            "`{}` must come before `{}`",
            pair[0],
            pair[1]
        );
    }
}

fn cautions(work: &Work) -> BTreeSet<&str> {
    let list = work.assessment.cautions.iter();
    list.map(|r| r.row.as_str()).collect()
}

/// The rows the facts of the trade stand in carry them as what they are.
fn is_practice(step: &Step) {
    assert_eq!(
        step.reason.provenance,
        Provenance::Practice,
        "{}",
        step.crew
    );
    assert_eq!(step.reason.source, "common practice", "{}", step.crew);
}

// ------------------------------------------------------------------ facts of the trade
// All from common practice, as the task states them; there is no published source.

/// Pressure washing alone is not enough on a scaled surface: it is ground to sound concrete.
#[test]
fn a_scaled_surface_is_ground_not_washed() {
    for (name, id) in [
        ("drive-scaled", "A"),
        ("terrace", "A"),
        ("yard-topping", "A"),
    ] {
        let area = area(sample(name), id);
        let ground = step(area, "do-grind-sound");
        says(
            ground,
            &["Grind to sound concrete", "Washing alone is not enough"],
        );
        is_practice(ground);
        let washing = area
            .turned_down
            .iter()
            .find(|t| t.choice == "removal_method" && t.name == "pressure washing")
            .unwrap();
        assert_eq!(washing.reason.row, "removal-wash-scaled");
        in_order(
            area,
            &["do-grind-sound", "do-water-drop", "do-bond-primer"].map(|r| {
                if name == "yard-topping" && r == "do-bond-primer" {
                    "do-bond-slurry"
                } else {
                    r
                }
            }),
        );
    }
}

/// A small grinder with a cup wheel and a vacuum follows the dips and humps of a patterned surface.
#[test]
fn a_relief_is_followed_by_a_small_grinder() {
    let work = changed(
        "terrace",
        "  finish: broom\n",
        "  finish: patterned\n  relief: 1/8 in\n",
    );
    let area = area(&work, "A");
    let relief = step(area, "do-grind-relief");
    says(
        relief,
        &["Cup wheel and vacuum", "small grinder", "dips and humps"],
    );
    is_practice(relief);
    let removal = step(area, "removal-hand-relief");
    says(removal, &["small hand grinder with cup wheel and vacuum"]);
    let flat = (area.turned_down.iter()).find(|t| t.name == "floor grinder with vacuum");
    assert!(flat.is_some(), "a flat machine must be turned down");
}

/// A deep pattern needs about 3/8 in, a shallow relief 1/4 in; gauges are set at 1/4, 3/8 or 1/2 in.
#[test]
fn depth_gauges_and_what_a_pattern_needs() {
    // 1 in is 25.4 mm.
    let mm = |id: &str| pack().figure(id).unwrap().lo;
    for (id, inches) in [
        ("gauge_rake_small", 0.25),
        ("gauge_rake_middle", 0.375),
        ("gauge_rake_large", 0.5),
        ("relief_deep_needs", 0.375),
        ("relief_shallow_needs", 0.25),
    ] {
        assert!((mm(id) - inches * 25.4).abs() < 1e-9, "{id}");
        let figure = pack().vocabulary.figure(id).unwrap();
        assert_eq!(figure.source.provenance, Provenance::Practice, "{id}");
    }
    let all = &[
        "settings are 1/4 in, 3/8 in and 1/2 in",
        "deep grooves needs about 3/8 in",
        "shallow relief 1/4 in",
    ];
    let deep = step(area(sample("courtyard-pattern"), "A"), "gauge-setting");
    says(deep, all);
    says(deep, &["Depth gauge at 3/8 in"]);
    let shallow = step(area(sample("terrace"), "A"), "gauge-setting");
    says(shallow, all);
    says(shallow, &["Depth gauge at 1/4 in"]);
}

/// 3 to 3-1/2 qt of water a bag, the wet end only where there is little slope; two bags take 7 qt at
/// most.
#[test]
fn water_for_a_bag_and_for_two() {
    let water = step(area(sample("terrace"), "A"), "do-water-bag");
    says(
        water,
        &[
            "3 to 3-1/2 qt of water a bag",
            "at most 7 qt for a two-bag batch",
            "the wet end only where there is little slope",
        ],
    );
    is_practice(water);
}

/// The polymer primer is scrubbed in and left to dry, and it reduces pinholes, which come from air
/// driven out of the pores.
#[test]
fn the_primer_is_scrubbed_in_and_left_to_dry() {
    for (name, id) in [("terrace", "A"), ("overlay-pinholes", "A")] {
        let primer = step(area(sample(name), id), "do-bond-primer");
        says(
            primer,
            &[
                "Scrub the polymer primer in",
                "let it dry",
                "reduces pinholes",
            ],
        );
        is_practice(primer);
    }
    let causes = &sample("overlay-pinholes").assessment.areas[0].defects[0].causes;
    assert_eq!(causes[0].cause, "outgassing");
}

/// A walk that stands about 4 in too high leaves a short first riser.
#[test]
fn a_walk_pinned_too_high_is_laid_that_much_lower() {
    let work = sample("walk-pinned-high");
    let a = area(work, "A");
    // The other risers are 7-1/4 in, the first 3-1/4 in.
    says(
        step(a, "new-level"),
        &[
            "Lay it 4 in lower",
            "first riser is 4 in lower than the others",
        ],
    );
    assert!((a.lowered_mm() - 4.0 * 25.4).abs() < 1e-6);
    let stair = &work.method.stairs[0];
    assert!((stair.before_mm[0] - 3.25 * 25.4).abs() < 1e-6);
    assert!((stair.after_mm[0] - 7.25 * 25.4).abs() < 1e-6);
    let grade = &work.assessment.stairs[0].grades[0];
    assert_eq!(
        (grade.table.as_str(), grade.classes[0].word.as_str()),
        ("first_step", "short")
    );
    assert!(cautions(work).contains("slab-first-step"));
    // Nothing goes on at its foot.
    assert!(a.overlay.is_none());
}

/// Overlay edges end above the lawn; soil is brought up afterwards. Where no lawn lies along it,
/// nothing is said of one.
#[test]
fn edges_end_above_the_lawn() {
    let lawn = step(area(sample("terrace"), "A"), "do-edge-lawn");
    says(lawn, &["above the lawn", "bring soil up afterwards"]);
    is_practice(lawn);
    assert!(!has(area(sample("overlay-pinholes"), "A"), "do-edge-lawn"));
}

/// On a hot day patterning starts half an hour after placing; shade and a light mist buy time,
/// puddles do harm. Then: wash next day, dry a day or two, seal.
#[test]
fn patterning_washing_and_sealing_have_their_hours() {
    let area = area(sample("courtyard-pattern"), "A");
    let pattern = step(area, "do-pattern-time");
    says(
        pattern,
        &[
            "On a hot day",
            "half an hour after placing",
            "Shade and a light mist buy time",
            "puddles do harm",
        ],
    );
    is_practice(pattern);
    let wash = step(area, "do-wash-next-day");
    says(
        wash,
        &["Wash the next day", "dry a day or two", "then seal"],
    );
    is_practice(wash);
    let dries = area
        .waits
        .iter()
        .find(|w| w.reason.row == "do-wash-next-day-wait")
        .unwrap();
    assert_eq!((dries.days.lo, dries.days.hi), (1.0, 2.0));
    in_order(
        area,
        &[
            "do-release-powder",
            "do-pattern-time",
            "do-wash-next-day",
            "do-seal-acrylic",
        ],
    );
}

/// Resurfacing costs about half of tearing out and replacing.
#[test]
fn resurfacing_costs_about_half_of_replacing() {
    let share = pack().figure("resurfacing_cost_share").unwrap();
    assert!(share.lo <= 0.5 && 0.5 <= share.hi);
    let figure = pack().vocabulary.figure("resurfacing_cost_share").unwrap();
    assert_eq!(figure.source.provenance, Provenance::Practice);
    // The invented prices of the samples that are priced by the square foot keep to it, likely sums.
    for name in [
        "courtyard-pattern",
        "drive-scaled",
        "terrace",
        "overlay-pinholes",
    ] {
        let work = sample(name);
        let prices = work.loaded.record.prices.as_ref().unwrap();
        let sum = |option: &str| -> f64 {
            let lines = prices.lines.iter();
            let lines = lines.filter(|l| l.option == option && l.per == "ft2");
            lines.map(|l| l.likely.parse::<f64>().unwrap()).sum()
        };
        let share = sum("repair") / sum("replace_all");
        assert!((0.4..0.65).contains(&share), "{name}: {share:.2}");
    }
}

/// Deicing salt wears through any sealer where it freezes.
#[test]
fn salt_wears_through_any_sealer() {
    for name in ["drive-salted", "drive-scaled"] {
        let work = sample(name);
        let salt = step(area(work, "A"), "do-stop-salt");
        says(
            salt,
            &[
                "salting stops",
                "salt wears through any sealer where it freezes",
            ],
        );
        is_practice(salt);
        let care = work
            .method
            .care
            .iter()
            .find(|r| r.row == "care-salt")
            .unwrap();
        assert!(
            care.because
                .contains("wears through any sealer where it freezes")
        );
    }
}

// ------------------------------------------------------------------ replacement

/// A patio above a door sill is laid below it, all of it goes, and the wish is kept.
#[test]
fn a_patio_at_a_low_door_is_laid_below_the_sill() {
    let a = area(sample("patio-low-door"), "A");
    // The sill stands 1/4 in above the slab now; new concrete is laid 1 in below it at least.
    says(
        step(a, "new-level"),
        &["Lay it 3/4 in lower", "1 in below the door sill"],
    );
    says(step(a, "which-panels"), &["A1, B1, A2 and B2"]);
    says(
        step(a, "do-replace-pattern"),
        &["pattern is pressed into the fresh slab"],
    );
    in_order(
        a,
        &[
            "which-panels",
            "do-replace-cut",
            "new-level",
            "do-replace-mix",
            "do-replace-pattern",
            "joint-band",
            "do-cure-new",
        ],
    );
}

/// An arborist looks before anything is cut, and the root is dealt with before anything is poured.
#[test]
fn a_root_is_dealt_with_before_new_concrete() {
    let a = area(sample("walk-maple"), "A");
    says(step(a, "which-panels"), &["C1, D1, G1 and I1"]);
    says(
        step(a, "do-root-arborist"),
        &["Before anything is cut", "arborist"],
    );
    in_order(
        a,
        &[
            "do-root-arborist",
            "which-panels",
            "do-replace-cut",
            "do-replace-root",
            "do-replace-base",
            "new-level",
        ],
    );
}

/// A colour or pattern wished for is not lost when the slab is replaced.
#[test]
fn the_wish_outlives_the_slab() {
    let a = area(sample("walk-pinned-high"), "A");
    assert!(has(a, "do-replace-pattern") && has(a, "do-replace-colour"));
    let plain = changed(
        "walk-pinned-high",
        "  finish: patterned\n  relief: deep\n",
        "  finish: broom\n",
    );
    let a = area(&plain, "A");
    if a.verdict == "replace_all" {
        assert!(has(a, "do-replace-broom") && !has(a, "do-replace-pattern"));
    }
}

// ------------------------------------------------------------------ heights

/// A shallower pattern is offered only where it could fit.
#[test]
fn a_shallower_pattern_is_offered_only_where_it_fits() {
    let says_of = |work: &Work| -> String {
        let list = work.assessment.exclusions.iter();
        let list = list.filter(|r| r.certain && r.row.starts_with("ex-no-room"));
        list.map(|r| r.plain.clone().unwrap_or_default() + " ")
            .collect()
    };
    let none = says_of(sample("patio-low-door"));
    assert!(
        none.contains("Not even a shallow one") && !none.contains("A shallower pattern"),
        "{none}"
    );
    // 1/2 in at the sill leaves 1/4 in of room: enough for a shallow pattern, not for a deep one.
    let some = says_of(&changed("patio-low-door", "drop: 1/4 in", "drop: 1/2 in"));
    assert!(some.contains("A shallower pattern would"), "{some}");
}

/// A shallow pattern is laid thin where a thicker layer would use up all that the steps allow; a deep
/// one takes what it needs, and the crew is told that nothing is left.
#[test]
fn a_layer_at_steps_keeps_a_margin() {
    let terrace = area(sample("terrace"), "A").overlay.as_ref().unwrap();
    assert!(
        (terrace.thickness_mm - 0.25 * 25.4).abs() < 1e-9,
        "{}",
        terrace.thickness_mm
    );
    says(
        step(area(sample("terrace"), "A"), "stair-after"),
        &["1/4 in, at most 3/8 in"],
    );
    let court = area(sample("courtyard-pattern"), "A");
    assert!((court.overlay.as_ref().unwrap().thickness_mm - 0.375 * 25.4).abs() < 1e-9);
    says(
        step(court, "stair-after"),
        &["6-5/8 in", "all that is allowed"],
    );
    // Where nothing limits the height the usual thickness stays.
    let free = area(sample("walk-pinned-high"), "B")
        .overlay
        .as_ref()
        .unwrap();
    assert!((free.thickness_mm - 0.375 * 25.4).abs() < 1e-9);
}

// ------------------------------------------------------------------ patches and order

/// Outline sawn, broken out with a light breaker, sounded, blasted clean, bonded, filled, cured,
/// sounded again; no machine for whole floors.
#[test]
fn a_patch_runs_in_the_order_of_the_work() {
    for (name, id) in [("terrace", "B"), ("workshop-joints", "A")] {
        let a = area(sample(name), id);
        in_order(
            a,
            &[
                "do-outline",
                "patch-outline",
                "do-hammer",
                "do-resound",
                "do-blast-patch",
                "do-bond-slurry",
                "patch-fill",
                "do-cure-patch",
                "do-patch-cure-sound",
            ],
        );
        assert!(
            !a.steps.iter().any(|s| s.crew.contains("shot blasting")),
            "{name}"
        );
    }
    // Under a layer the holes are filled before its bonding coat goes on.
    in_order(
        area(sample("drive-scaled"), "A"),
        &[
            "do-grind-sound",
            "do-vacuum",
            "fill-first",
            "do-bond-primer",
            "gauge-or-lift",
            "do-broom",
            "joint-saw-depth",
            "do-cure-thin",
            "do-seal-penetrating",
        ]
        .map(|r| {
            if r == "gauge-or-lift" {
                "do-thin-lift"
            } else {
                r
            }
        }),
    );
}

/// A few pinholes are opened, filled and recoated: nothing is stripped, sawn or bonded, and no sealer
/// is put on. The half that is stripped gets no filling of old holes.
#[test]
fn pinholes_are_filled_or_stripped_not_both() {
    let work = sample("overlay-pinholes");
    let b = area(work, "B");
    says(
        step(b, "do-spot-holes"),
        &["Open every hole", "fill it flush", "second coat"],
    );
    for stage in ["remove", "profile", "bond", "overlay", "seal"] {
        assert!(!b.steps.iter().any(|s| s.stage == stage), "{stage}");
    }
    let a = area(work, "A");
    assert!(has(a, "do-strip-overlay") && !has(a, "do-spot-holes"));
}

/// Patches indoors need no sealer.
#[test]
fn patches_in_a_workshop_are_not_sealed() {
    let a = area(sample("workshop-joints"), "A");
    assert!(!a.steps.iter().any(|s| s.stage == "seal"));
    assert!(a.waits.iter().all(|w| !w.what.contains("seal")));
}

/// No sentence stands twice in an area's work, for the crew or for the owner.
#[test]
fn nothing_is_said_twice() {
    for name in names() {
        for area in &sample(&name).method.areas {
            let mut seen = BTreeSet::new();
            for step in &area.steps {
                assert!(
                    seen.insert(&step.owner),
                    "{name} {}: {}",
                    area.area,
                    step.owner
                );
            }
        }
    }
}

/// What was chosen is told once: by the step that tells how to do it.
#[test]
fn a_choice_and_its_step_are_one() {
    for name in names() {
        for area in &sample(&name).method.areas {
            for (choice, prefix) in [("Bonding coat:", "do-bond-"), ("Sealer:", "do-seal-")] {
                let told = area.steps.iter().any(|s| s.reason.row.starts_with(prefix));
                let named = area.steps.iter().any(|s| s.crew.starts_with(choice));
                assert!(!(told && named), "{name} {}: {choice}", area.area);
            }
        }
    }
}

// ------------------------------------------------------------------ wishes and materials

/// Colour, release agent and sealer come from the wish and the materials.
#[test]
fn colour_release_and_sealer_reach_the_work() {
    let court = area(sample("courtyard-pattern"), "A");
    assert!(has(court, "do-colour-integral") && has(court, "do-release-powder"));
    assert!(has(court, "do-seal-acrylic") && !has(court, "do-seal-penetrating"));
    let terrace = area(sample("terrace"), "A");
    assert!(has(terrace, "do-colour-hardener") && has(terrace, "do-release-liquid"));
    in_order(
        terrace,
        &["do-colour-hardener", "do-release-liquid", "do-pattern-time"],
    );
    // Nothing entered: both are to be settled on a sample.
    let bare = text("terrace");
    let (head, rest) = bare.split_once("materials:\n").unwrap();
    let (_, tail) = rest.split_once("\ncrew:\n").unwrap();
    let bare = work_of("terrace", format!("{head}crew:\n{tail}"));
    let terrace = area(&bare, "A");
    assert!(has(terrace, "do-colour-choose") && has(terrace, "do-release-choose"));
    // A rule still comes before what is at hand: salt calls for a sealer that soaks in, unless the
    // contractor's own and the colour outweigh it; a damp slab forbids the film.
    let damp = changed(
        "courtyard-pattern",
        "sheet: [dry, dry]",
        "sheet: [damp, damp]",
    );
    assert!(!has(area(&damp, "A"), "do-seal-acrylic"));
}

/// Four samples or more show the plan in full: data sheets, crew and prices.
#[test]
fn enough_samples_are_full() {
    let full: Vec<String> = names()
        .into_iter()
        .filter(|n| {
            let record = &sample(n).loaded.record;
            !record.materials.is_empty() && record.crew.is_some() && record.prices.is_some()
        })
        .collect();
    assert!(full.len() >= 6, "{full:?}");
}

// ------------------------------------------------------------------ areas, panels, neighbours

/// A firm overlay beside ground that moves waits for its own level readings.
#[test]
fn a_layer_beside_moving_ground_waits() {
    let work = sample("pool-deck-clay");
    let b = &work.assessment.areas[1].verdict;
    assert!(!b.firm);
    let words: BTreeSet<&str> = b.possible.iter().map(|c| c.word.as_str()).collect();
    assert_eq!(words, ["measure_first", "thick_overlay"].into());
    let asked = work
        .assessment
        .questions
        .iter()
        .any(|q| q.fact == "level_swing");
    assert!(asked, "the readings that settle it must be asked for");
    // Read and steady: it may go on, once the engineer has answered on the rest.
    let steady = changed(
        "pool-deck-clay",
        "      sounding: {taps: 40, hollow: 0}\n",
        "      sounding: {taps: 40, hollow: 0}\n      levels:\n        - {date: 2024-08-30, value: 0 in}\n        - {date: 2025-01-26, value: 0 in}\n        - {date: 2025-04-11, value: 0 in}\n",
    );
    let b = area(&steady, "B");
    assert_eq!((b.verdict.as_str(), b.specified), ("thick_overlay", true));
    assert_eq!(b.steps[0].reason.row, "do-wait-engineer");
}

/// The verdict of a panel never contradicts that of an area that is treated as one.
#[test]
fn panels_go_with_their_area() {
    let mut panels = 0;
    for name in names() {
        for area in &sample(&name).assessment.areas {
            let whole = [
                "thin_resurfacing",
                "thick_overlay",
                "bonded_topping",
                "replace_all",
                "refer_engineer",
            ];
            if !(area.verdict.firm && whole.contains(&area.verdict.word.as_str())) {
                continue;
            }
            for panel in &area.panels {
                panels += 1;
                assert_eq!(
                    panel.verdict.word, area.verdict.word,
                    "{name} {} {}",
                    area.id, panel.id
                );
                assert!(panel.verdict.firm);
            }
        }
    }
    assert!(panels >= 20, "{panels}");
}

// ------------------------------------------------------------------ cautions

/// Cautions follow the work that is specified.
#[test]
fn cautions_follow_the_work() {
    // Pieces may fall from a deck over a room.
    let carport = cautions(sample("carport-rust"));
    assert!(carport.contains("slab-falling-steel"), "{carport:?}");
    assert!(has(area(sample("carport-rust"), "A"), "now-clear-below"));
    for name in names() {
        let work = sample(&name);
        let rows = cautions(work);
        let layered = |what: &str| {
            let steps = work.method.areas.iter().flat_map(|a| &a.steps);
            steps
                .filter(|s| s.stage != "now")
                .any(|s| s.crew.to_lowercase().contains(what))
        };
        for (row, what) in [
            ("hazard-acid", "acid etching"),
            ("hazard-acid-removal", "acid etching"),
            ("hazard-resin", "epoxy"),
            ("hazard-solvent", "acrylic film"),
            ("dust-blast", "abrasive blasting"),
            ("dust-hand-grinder", "hand grinder"),
        ] {
            assert!(!rows.contains(row) || layered(what), "{name}: {row}");
        }
        let verdicts: BTreeSet<&str> = work
            .method
            .areas
            .iter()
            .map(|a| a.verdict.as_str())
            .collect();
        let only = |list: &[&str]| verdicts.iter().all(|v| list.contains(v));
        if only(&["replace_all", "replace_panels"]) {
            for row in [
                "hazard-resin",
                "hazard-solvent",
                "hazard-acid",
                "dust-blast",
                "dust-saw",
                "hazard-coating",
            ] {
                assert!(!rows.contains(row), "{name}: {row}");
            }
            assert!(
                rows.contains("hazard-lifting-slabs") && rows.contains("hazard-lines"),
                "{name}"
            );
        }
        if only(&["leave_alone", "measure_first", "refer_engineer"]) {
            let of_work = rows
                .iter()
                .find(|r| r.starts_with("dust-") || r.starts_with("hazard-"));
            assert_eq!(of_work, None, "{name}");
        }
    }
    // A crack that is cut open makes dust; washing and sealing alone does not.
    assert!(cautions(sample("drive-salted")).contains("dust-crack"));
    // A crack left alone makes none, and an old coat is named only where it is ground.
    let patio = cautions(sample("patio-new"));
    assert!(patio.iter().all(|r| !r.starts_with("dust-")), "{patio:?}");
    assert!(cautions(sample("overlay-pinholes")).contains("hazard-coating"));
    assert!(!cautions(sample("terrace")).contains("hazard-coating"));
}

/// The soft joints named are those the record has.
#[test]
fn only_the_joints_recorded_are_named() {
    for name in names() {
        let work = sample(&name);
        let pool = work.loaded.record.edges.iter().any(|e| e.kind == "coping");
        for area in &work.method.areas {
            for step in &area.steps {
                assert!(!step.crew.contains("posts"), "{name}: {}", step.crew);
                assert!(
                    pool || !step.owner.contains("pool"),
                    "{name}: {}",
                    step.owner
                );
            }
        }
    }
}

/// What is said of a crack fits what is done with it, and a slab that needs no work gets no step.
#[test]
fn a_crack_is_spoken_of_as_it_is_treated() {
    let left = area(sample("courtyard-pattern"), "A");
    assert!(has(left, "do-crack-may-show") && !has(left, "do-crack-may-return"));
    let carried = area(sample("drive-scaled"), "A");
    assert!(has(carried, "do-crack-carry") && !has(carried, "do-crack-may-return"));
    let filled = area(sample("yard-topping"), "A");
    assert!(has(filled, "do-crack-gravity") && has(filled, "do-crack-may-return"));
    let new = sample("patio-new");
    assert!(area(new, "A").steps.is_empty());
    // To watch a crack takes a crack: a fine net alone has none that moves.
    let text = text("patio-new");
    let (head, rest) = text.split_once("      - id: 3\n").unwrap();
    let (_, tail) = rest.split_once("    tests:\n").unwrap();
    let net = work_of("patio-new", format!("{head}    tests:\n{tail}"));
    assert!(net.method.care.iter().all(|r| r.row != "care-watch-cracks"));
}

/// Nothing is sawn or chipped in a stressed slab before its tendons are found.
#[test]
fn tendons_are_found_before_anything_is_cut() {
    for (from, to, row) in [
        (
            "reinforcement: mesh",
            "reinforcement: post_tensioned",
            "do-find-tendons",
        ),
        (
            "  reinforcement: mesh\n",
            "  reinforcement: mesh\n  signs: {tendon_signs: yes}\n",
            "do-find-tendons-signs",
        ),
    ] {
        let work = changed("workshop-joints", from, to);
        let a = area(&work, "A");
        assert_eq!(a.steps[0].reason.row, row);
        assert!(a.steps[0].reason.safety);
        in_order(a, &[row, "patch-outline"]);
        assert!(!has(a, "do-hammer"), "no breaker in a stressed slab");
    }
}

/// What only may be so is not told as a fact.
#[test]
fn what_may_be_is_not_told_as_a_fact() {
    let work = changed("workshop-joints", "  reinforcement: mesh\n", "");
    let rows = (work.assessment.referrals.iter()).chain(&work.assessment.cautions);
    let maybe: Vec<_> = rows.filter(|r| r.row.contains("tendons")).collect();
    assert_eq!(maybe.len(), 2, "{maybe:?}");
    for reason in maybe {
        assert!(!reason.certain);
        let plain = reason.plain.as_deref().unwrap();
        assert!(plain.to_lowercase().contains("where "), "{plain}");
    }
}

/// No mark of our own bookkeeping stands in what people read.
#[test]
fn no_bookkeeping_is_shown() {
    for table in &pack().tables {
        for row in &table.rows {
            let plain = row.plain.as_deref().unwrap_or_default();
            for text in [row.because.as_str(), plain] {
                for word in ["[boundary]", "from memory", "csp_"] {
                    assert!(!text.contains(word), "{}: {text}", row.id);
                }
            }
            assert!(
                !matches!(row.set.get("at"), Some(Set::Text(_))),
                "{}",
                row.id
            );
        }
    }
    for name in names() {
        for area in &sample(&name).method.areas {
            let profile = area.profile.iter().flat_map(|p| &p.reasons);
            for reason in profile {
                assert!(reason.plain.is_some(), "{name}: {}", reason.row);
            }
        }
    }
}

/// The new facts are there for every record, so that no advice hangs on a silent unknown.
#[test]
fn wishes_and_materials_are_always_known() {
    for name in names() {
        let work = sample(&name);
        for fact in ["wish_colour", "sealer_kind", "release_kind", "colour_kind"] {
            let value = work
                .survey
                .value(&pack().vocabulary, work.survey.slab, fact);
            assert_ne!(value, Value::Unknown, "{name}: {fact}");
        }
    }
}
