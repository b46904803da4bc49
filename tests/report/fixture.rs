//! An invented patio, judged by hand: scaling, hollow patches, a short first riser, an open area.

use ringtrue::assessment::*;
use ringtrue::facts::{Interval, Provenance, Scope, Vocabulary};
use ringtrue::method::*;
use ringtrue::record::model::Record;
use ringtrue::report::language::Sentences;
use ringtrue::report::photos::Photo;
use ringtrue::report::{Brief, Sources, View};
use ringtrue::source::{Limits, Problems, SourceFile};

pub const RECORD: &str = r#"
ringtrue: 1
job:
  client: Mara Quill
  address: 12 Fernbank Lane, Little Harrow
  date: 2026-06-04
  inspector: Ode Tallis
  reference: LH-0412
site:
  weathering: severe
  deicers: [rock_salt]
  drainage: good
  soil: clay
  tree_distance: 14 ft
  map_up: 30
slab:
  use: patio
  placed: 2011-05
  thickness: 4 in
  finish: patterned
  relief: 3/16 in
  reinforcement: mesh
  covering: film_sealer
areas:
  - id: A
    name: Upper patio
    outline: [[0 ft, 0 ft], [20 ft, 0 ft], [20 ft, 10 ft], [14 ft, 10 ft], [14 ft, 16 ft], [0 ft, 16 ft]]
    panels: {columns: [5 ft, 5 ft, 5 ft, 5 ft], rows: [5 ft, 5 ft, 6 ft]}
    fall: 1/4 in/ft
    defects:
      - {id: 1, kind: scaling, at: [4 ft, 12 ft], extent: 6 ft x 4 ft, depth: 3/16 in, greatest_depth: 3/8 in, stones: showing,
         panels: [A3], photos: [{file: scaling.jpg, caption: The scaled patch by the door}]}
      - {id: 2, kind: delamination, at: [15 ft, 4 ft], extent: 4 ft x 3 ft, depth: 1/2 in, panels: [C1, D1]}
      - {id: 3, kind: crack, at: [0 ft, 6 ft], to: [9 ft, 7 ft], width: 1/32 in, length: 9 ft, photos: [{file: crack.jpg, caption: "Crack from the left edge"}]}
      - {id: 4, kind: popouts, at: [10 ft, 3 ft], surface: 9 ft2, count: 22, diameter: 3/4 in}
      - {id: 5, kind: pinholes, count: 40}
    joints:
      - {id: J1, kind: isolation, at: [0 ft, 16 ft], to: [14 ft, 16 ft]}
    tests:
      sounding: {taps: 120, hollow: 9, patches: [{at: [15 ft, 4 ft], extent: 5 ft x 4 ft}, {at: [7 ft, 8 ft], extent: 2 ft x 2 ft}]}
    note: The film of old sealer peels off by hand beside the door.
  - id: B
    name: Walk to the gate
    size: 4 ft x 14 ft
    origin: [20 ft, -4 ft]
    defects:
      - {id: 6, kind: scaling, at: [22 ft, 3 ft], extent: 3 ft x 5 ft, depth: 1/8 in}
      - {id: 7, kind: lip, at: [20 ft, 0 ft], to: [24 ft, 0 ft], offset: 3/8 in, photos: [{file: lip.jpg, caption: Lip where walk and patio meet}]}
  - id: C
    name: Bin stand
    surface: 20 ft2
    defects:
      - {id: 8, kind: stain}
stairs:
  - {id: S1, from: A, risers: [5-1/2 in, 7 in, 7 in], treads: [11 in, 11 in], at: [3 ft, 16 ft]}
thresholds:
  - {id: D1, area: A, drop: 1-1/2 in, at: [9 ft, 16 ft]}
edges:
  - {area: A, kind: lawn, side: left}
  - {area: A, kind: planting, side: bottom}
  - {area: A, kind: building, side: top}
  - {area: B, kind: lawn, side: right}
wishes: {finish: patterned, relief: shallow, colour: warm grey}
not_inspected:
  - The ground under the slab
  - The steps behind the planter, which was too heavy to move
notes: Dry, about 70 F, two days after rain.
"#;

pub fn record() -> Record {
    serde_yaml::from_str(RECORD).expect("the fixture is a record")
}

const VOCABULARY: &str = r"
facts:
  use: {scope: slab, name: use, kind: choice, values: {patio: patio}, comes: survey}
  finish: {scope: slab, name: finish, kind: choice, values: {patterned: relief pattern}, comes: survey}
  covering: {scope: slab, name: covering, kind: choice, values: {film_sealer: a film of sealer}, comes: survey}
  weathering: {scope: site, name: weathering, kind: choice, ordered: true, values: {negligible: hardly ever freezes, severe: freezes often while wet}, comes: survey}
  stones: {scope: defect, name: stones, kind: choice, ordered: true, values: {not_showing: not showing, showing: showing}, comes: survey}
  scaling_grade: {scope: defect, name: scaling, kind: choice, ordered: true, values: {light: light, medium: medium, severe: severe, very_severe: very severe}, comes: made}
  severity: {scope: area, name: severity, kind: choice, ordered: true, values: {slight: slight, moderate: moderate, severe: severe}, comes: made}
  overlay_system: {scope: area, name: kind of overlay, kind: choice, values: {stampable: patterned overlay}, comes: made}
  bond_coat: {scope: area, name: bonding coat, kind: choice, values: {polymer: polymer}, comes: made}
glossary:
  scaling: The top skin of the concrete flakes off in patches.
  delamination: A thin layer has come loose from the slab below and sounds hollow.
  overlay: A new layer of cement-based mortar bonded to the old slab.
  bonding coat: A coat that helps a new layer grip the old slab.
  riser: The upright part of a step.
  sealer: A liquid that keeps water and salt out of concrete.
  sound concrete: Concrete that is hard and rings when tapped.
  isolation joint: A gap that lets two parts move apart.
";

pub fn vocabulary() -> Vocabulary {
    let mut problems = Problems::default();
    let file = SourceFile::new("words.yaml", VOCABULARY);
    let root = file
        .yaml(Limits::default(), &mut problems)
        .expect("the words are YAML");
    let vocabulary = Vocabulary::load([(&file, &root)], &mut problems);
    assert!(problems.is_empty(), "{problems}");
    vocabulary
}

/// The view of a record with this vocabulary.
pub fn view(record: &Record, assessment: &Assessment, method: &Method, photos: &[Photo]) -> View {
    let vocabulary = vocabulary();
    View::build(Sources {
        record,
        assessment,
        method,
        photos,
        vocabulary: &vocabulary,
        sentences: Sentences::none(),
    })
}

/// The record and its assessment with two hundred defects more, sixty of them with a photo.
pub fn many_defects() -> (Record, Assessment) {
    let (mut record, mut assessment) = (record(), assessment());
    let defect = record.areas[0].defects[0].clone();
    let finding = assessment.areas[0].defects[0].clone();
    for number in 100..300 {
        let mut defect = defect.clone();
        defect.id = number;
        defect.photos.truncate(usize::from(number < 160));
        record.areas[0].defects.push(defect);
        let mut finding = finding.clone();
        finding.number = number;
        assessment.areas[0].defects.push(finding);
    }
    (record, assessment)
}

pub fn brief(record: &Record, assessment: &Assessment) -> Brief {
    View::brief(Sources {
        record,
        assessment,
        method: &method(),
        photos: &[],
        vocabulary: &vocabulary(),
        sentences: Sentences::none(),
    })
}

pub fn choice(word: &str, name: &str) -> Choice {
    Choice {
        word: word.into(),
        name: name.into(),
    }
}

pub fn read(fact: &str, name: &str, value: &str, how: &str, line: Option<usize>) -> FactRead {
    FactRead {
        fact: fact.into(),
        name: name.into(),
        scope: Scope::Defect,
        value: value.into(),
        how: how.into(),
        path: None,
        place: None,
        line,
    }
}

pub fn reason(table: &str, row: &str, about: &str, plain: &str) -> Reason {
    Reason {
        table: table.into(),
        row: row.into(),
        about: about.into(),
        certain: true,
        because: format!("{} (crew wording)", plain.trim_end_matches('.')),
        plain: Some(plain.into()),
        crew: None,
        safety: false,
        source: "common practice".into(),
        provenance: Provenance::Practice,
        read: vec![read(
            "loss_depth",
            "usual depth of loss",
            "3/16 in",
            "measured",
            Some(36),
        )],
    }
}

fn may(mut reason: Reason) -> Reason {
    reason.certain = false;
    reason
}

fn safety(mut reason: Reason) -> Reason {
    reason.safety = true;
    reason
}

fn verdict(word: &str, name: &str, reasons: Vec<Reason>) -> Verdict {
    Verdict {
        word: word.into(),
        name: name.into(),
        firm: true,
        possible: vec![choice(word, name)],
        reasons,
    }
}

fn grade(
    table: &str,
    title: &str,
    scale: &str,
    fact: &str,
    class: (&str, &str),
    reasons: Vec<Reason>,
) -> Grade {
    Grade {
        table: table.into(),
        title: title.into(),
        scale: scale.into(),
        fact: fact.into(),
        firm: true,
        classes: vec![choice(class.0, class.1)],
        reasons,
    }
}

fn cause(
    cause: &str,
    name: &str,
    plain: &str,
    prior: f64,
    signs: &[(f64, &str, bool)],
) -> RankedCause {
    let sure: f64 = prior + signs.iter().filter(|s| s.2).map(|s| s.0).sum::<f64>();
    let up: f64 = signs.iter().filter(|s| !s.2).map(|s| s.0.max(0.0)).sum();
    let down: f64 = signs.iter().filter(|s| !s.2).map(|s| s.0.min(0.0)).sum();
    let log_odds = Interval {
        lo: sure + down,
        hi: sure + up,
    };
    let share = |x: f64| 1.0 / (1.0 + (-x).exp());
    let standing = |x: f64| {
        if x >= 1.5 {
            choice("likely", "likely")
        } else if x >= -0.5 {
            choice("possible", "possible")
        } else {
            choice("unlikely", "unlikely")
        }
    };
    let (a, b) = (standing(log_odds.hi), standing(log_odds.lo));
    RankedCause {
        cause: cause.into(),
        name: name.into(),
        plain: plain.into(),
        at_work: "while it freezes wet".into(),
        stops_by: "Keep water and salt out: seal the surface and use sand instead of salt.".into(),
        log_odds,
        share: Interval {
            lo: share(log_odds.lo),
            hi: share(log_odds.hi),
        },
        standing: if a == b { vec![a] } else { vec![b, a] },
        may_lead: log_odds.hi > 1.0,
        prior,
        signs: signs
            .iter()
            .enumerate()
            .map(|(i, (push, text, certain))| {
                let r = reason(
                    "causes_surface_loss",
                    &format!("{cause}-{i}"),
                    "defect 1",
                    text,
                );
                Sign {
                    push: *push,
                    rules_out: false,
                    reason: if *certain { r } else { may(r) },
                }
            })
            .collect(),
    }
}

fn surface_causes() -> Vec<RankedCause> {
    vec![
        cause(
            "finished_wet",
            "Finished while water stood on it",
            "The surface was worked before the water had gone from it. That leaves a weak, pale skin.",
            -0.2,
            &[
                (2.0, "The flakes are paler below than on top.", true),
                (0.8, "The loss is no deeper than the skin.", true),
                (-0.5, "The damage is the same in sun and shade.", true),
            ],
        ),
        cause(
            "low_air",
            "Too little air in the concrete",
            "Without tiny air bubbles, freezing water has no room to grow and pushes the surface off.",
            0.3,
            &[
                (1.0, "The slab freezes often while wet.", true),
                (0.7, "Salt was used in winter.", true),
                (-1.5, "The flakes are paler below than on top.", true),
                (1.2, "The concrete under the skin is weak too.", false),
            ],
        ),
        cause(
            "asr",
            "Swelling stones (ASR)",
            "Some stones react with the cement and swell.",
            -1.8,
            &[(-1.0, "There is no net of cracks.", true)],
        ),
        cause(
            "rust",
            "Rusting steel",
            "Steel rusts, swells and breaks the concrete above it.",
            -2.2,
            &[(-0.8, "No rust stain shows.", true)],
        ),
    ]
}

fn defect(
    number: u32,
    kind: &str,
    kind_name: &str,
    grades: Vec<Grade>,
    causes: Vec<RankedCause>,
) -> DefectFinding {
    let at_work = (!causes.is_empty()).then(|| {
        grade(
            "at_work",
            "still at work",
            "",
            "at_work",
            ("yes", "yes, each winter"),
            vec![reason(
                "at_work",
                "freeze",
                &format!("defect {number}"),
                "It freezes here while the slab is wet, and salt makes that worse.",
            )],
        )
    });
    DefectFinding {
        number,
        kind: kind.into(),
        kind_name: kind_name.into(),
        grades,
        causes,
        cause_note: None,
        at_work,
        reasons: vec![],
    }
}

const ACI: &str = "ACI 201.1R-08 visual inspection, scaling";

fn scaling_grade(class: (&str, &str), plain: &str) -> Grade {
    grade(
        "scaling_grade",
        "Scaling, by stones and depth",
        ACI,
        "scaling_grade",
        class,
        vec![reason(
            "scaling_grade",
            "scaling-aci-stones-showing",
            "the defect",
            plain,
        )],
    )
}

pub fn assessment() -> Assessment {
    let open = Verdict {
        word: "measure_first".into(),
        name: "measure first".into(),
        firm: false,
        possible: vec![
            choice("clean_and_seal", "clean and seal"),
            choice("thin_resurfacing", "thin resurfacing"),
        ],
        reasons: vec![may(reason(
            "verdict_area",
            "thin",
            "area B",
            "If the skin is weak, a seal alone would not hold.",
        ))],
    };
    let seal = verdict(
        "clean_and_seal",
        "clean and seal",
        vec![reason(
            "verdict_area",
            "stain",
            "area C",
            "There is only a stain. The concrete is sound.",
        )],
    );
    let mut question = Question {
        about: "area B".into(),
        fact: "scratch".into(),
        name: "scratch test".into(),
        ask: "Does a steel nail leave a groove in the scaled patch?".into(),
        measure: "Draw a nail across three spots with firm pressure and look for powder".into(),
        minutes: 5.0,
        wait_days: 0.0,
        who: "anyone".into(),
        settles: 1.0,
        outcomes: vec![
            Outcome {
                answer: "no groove".into(),
                verdicts: vec![choice("clean_and_seal", "clean and seal")],
            },
            Outcome {
                answer: "a groove with powder".into(),
                verdicts: vec![choice("thin_resurfacing", "thin resurfacing")],
            },
        ],
    };
    let first = question.clone();
    question.fact = "mix_air".into();
    question.about = "the slab".into();
    question.name = "air in the hard concrete".into();
    question.ask = "How much air is in the hard concrete?".into();
    question.measure = "Have a core looked at under a microscope (ASTM C457)".into();
    question.minutes = 60.0;
    question.wait_days = 21.0;
    question.who = "laboratory".into();
    Assessment {
        slab: SlabFinding {
            verdict: verdict(
                "thick_overlay",
                "patterned overlay on the upper patio",
                vec![
                    reason(
                        "verdict_slab",
                        "most-area",
                        "the slab",
                        "The slab below is sound and lies still, so a new layer will hold.",
                    ),
                    reason(
                        "verdict_slab",
                        "loss",
                        "the slab",
                        "Patching alone would leave a patchwork, because a tenth of the surface is gone.",
                    ),
                ],
            ),
            adds_up: vec![
                "The upper patio is most of the slab, so its overlay leads.".into(),
                "The walk can wait for a five-minute test; do both in one visit if it needs work."
                    .into(),
            ],
            grades: vec![],
        },
        areas: vec![
            AreaFinding {
                id: "A".into(),
                name: "Upper patio".into(),
                verdict: verdict(
                    "thick_overlay",
                    "patterned overlay",
                    vec![reason(
                        "verdict_area",
                        "overlay",
                        "area A",
                        "The top skin is lost in places, but the slab beneath rings true.",
                    )],
                ),
                grades: vec![grade(
                    "severity",
                    "how bad the area is",
                    "this tool's own scale",
                    "severity",
                    ("moderate", "moderate"),
                    vec![reason(
                        "severity",
                        "s2",
                        "area A",
                        "About a tenth of the surface has lost its skin.",
                    )],
                )],
                defects: vec![
                    defect(
                        1,
                        "scaling",
                        "scaling",
                        vec![scaling_grade(
                            ("medium", "medium"),
                            "The top skin is gone and the stones show.",
                        )],
                        surface_causes(),
                    ),
                    defect(
                        2,
                        "delamination",
                        "delamination",
                        vec![grade(
                            "hollow_grade",
                            "Hollow share",
                            "this tool's own scale",
                            "hollow_grade",
                            ("some", "some"),
                            vec![reason(
                                "hollow_grade",
                                "h2",
                                "defect 2",
                                "A loose sheet about a half inch thick.",
                            )],
                        )],
                        vec![],
                    ),
                    defect(
                        3,
                        "crack",
                        "crack",
                        vec![grade(
                            "crack_card",
                            "Crack width",
                            "crack width card",
                            "crack_card",
                            ("fine", "fine"),
                            vec![reason(
                                "crack_card",
                                "c1",
                                "defect 3",
                                "The crack is as wide as a thick card.",
                            )],
                        )],
                        vec![],
                    ),
                    defect(4, "popouts", "popouts", vec![], vec![]),
                    defect(5, "pinholes", "pinholes", vec![], vec![]),
                ],
                panels: vec![
                    PanelFinding {
                        id: "A1".into(),
                        verdict: seal.clone(),
                    },
                    PanelFinding {
                        id: "D1".into(),
                        verdict: verdict(
                            "replace_panels",
                            "replace panels",
                            vec![reason(
                                "verdict_panel",
                                "x",
                                "panel D1",
                                "The panel is in three pieces.",
                            )],
                        ),
                    },
                ],
            },
            AreaFinding {
                id: "B".into(),
                name: "Walk to the gate".into(),
                verdict: open,
                grades: vec![],
                defects: vec![
                    defect(
                        6,
                        "scaling",
                        "scaling",
                        vec![scaling_grade(
                            ("light", "light"),
                            "Only the thin top skin has flaked off.",
                        )],
                        surface_causes(),
                    ),
                    defect(7, "lip", "lip", vec![], vec![]),
                ],
                panels: vec![],
            },
            AreaFinding {
                id: "C".into(),
                name: "Bin stand".into(),
                verdict: seal,
                grades: vec![],
                defects: vec![defect(8, "stain", "stain", vec![], vec![])],
                panels: vec![],
            },
        ],
        stairs: vec![],
        thresholds: vec![],
        exclusions: vec![
            reason(
                "exclusions",
                "wash-only",
                "area A",
                "Don't just wash it and coat it. A coat on a weak skin comes off with the skin.",
            ),
            safety(reason(
                "exclusions",
                "acid",
                "the slab",
                "Don't clean it with acid. Acid eats the paste and the fumes harm you.",
            )),
        ],
        referrals: vec![],
        cautions: vec![
            safety(reason(
                "cautions",
                "dust",
                "the slab",
                "Grinding makes fine dust that harms the lungs. Grind with a vacuum on the tool and wear a mask.",
            )),
            reason(
                "cautions",
                "edge",
                "area A",
                "The edge will stand above the lawn. Bring soil up to it afterward.",
            ),
        ],
        assumed: vec![Assumed {
            about: "the slab".into(),
            fact: "rust_stain".into(),
            name: "rust stains".into(),
            value: "none".into(),
            because: "an inspector writes down rust when he sees it".into(),
        }],
        questions: vec![first, question],
        made_with: MadeWith {
            version: "0.1.0".into(),
            rules: "5ca1ab1e0ff1ce00".into(),
            house_rules: vec![],
        },
    }
}

fn step(stage: &str, owner: &str, why: &str) -> Step {
    Step {
        stage: stage.into(),
        crew: format!("{owner} In full for the crew."),
        line: owner.trim_end_matches('.').into(),
        owner: owner.into(),
        numbers: Vec::new(),
        reason: reason("steps", stage, "area A", why),
    }
}

pub fn method() -> Method {
    let limit = |what: &str, inches: f64| Limit {
        what: what.into(),
        thickness_mm: inches * 25.4,
    };
    Method {
        areas: vec![
            AreaMethod {
                area: "A".into(),
                verdict: "thick_overlay".into(),
                specified: true,
                why_not: None,
                steps: vec![
                    step(
                        "protect",
                        "We cover the door, the wall and the plants.",
                        "Grinding and rinsing make a mess.",
                    ),
                    step(
                        "remove",
                        "We grind off the old sealer and every flake, down to sound concrete.",
                        "Washing alone leaves weak skin behind.",
                    ),
                    step(
                        "profile",
                        "We go over the whole face with a small cup grinder and a vacuum. It follows the dips of the pattern.",
                        "A flat machine would miss the dips.",
                    ),
                    step(
                        "patch",
                        "We cut square edges round the hollow spots, take out the loose layer and fill them.",
                        "A new layer over a hollow spot breaks.",
                    ),
                    step(
                        "joints",
                        "We carry each joint up through the new layer.",
                        "A joint that is covered comes through as a crack.",
                    ),
                    step(
                        "bond",
                        "We scrub in a polymer bonding coat and let it dry.",
                        "It grips the overlay and keeps pinholes away.",
                    ),
                    step(
                        "overlay",
                        "We place the overlay in one lift and set the depth with gauges.",
                        "Less would not fill the pattern; more would raise the door.",
                    ),
                    step(
                        "texture",
                        "We press in a shallow pattern.",
                        "You asked for one, and it keeps the surface from getting slick.",
                    ),
                    step(
                        "cure",
                        "We keep it shaded and damp for a day.",
                        "Slow hardening makes it strong.",
                    ),
                    step(
                        "seal",
                        "We wash it the next day, let it dry for two days, and seal it.",
                        "Sealer on damp mortar turns white.",
                    ),
                ],
                overlay: Some(Overlay {
                    system: "stampable".into(),
                    name: "patterned polymer-modified overlay".into(),
                    floor_mm: 6.35,
                    ceiling_mm: 12.7,
                    thickness_mm: 9.525,
                    lift_mm: None,
                    floor_parts: vec![
                        limit("shallow pattern", 0.25),
                        limit("deepest hole left unpatched", 0.1875),
                    ],
                    ceiling_parts: vec![
                        limit("one lift of this material", 0.5),
                        limit("first riser of steps S1", 0.75),
                        limit("drop at door D1", 1.5),
                    ],
                    reasons: vec![reason(
                        "overlay_system",
                        "wish",
                        "area A",
                        "It takes the pattern you asked for and is thin enough for the door.",
                    )],
                }),
                profile: Some(Profile {
                    least: 4,
                    greatest: 6,
                    class: (4, 6),
                    scale: "ICRI 310.2R-2013".into(),
                    ways: vec![
                        "cup grinder with vacuum".into(),
                        "shot blasting on the flat parts".into(),
                    ],
                    reasons: vec![reason(
                        "profile",
                        "p",
                        "area A",
                        "A layer this thick needs a coarse surface to grip.",
                    )],
                }),
                turned_down: vec![
                    TurnedDown {
                        choice: "overlay_system".into(),
                        name: "thin broom-finish coat".into(),
                        reason: reason(
                            "overlay_system",
                            "thin-out",
                            "area A",
                            "It is too thin to hold a pattern.",
                        ),
                    },
                    TurnedDown {
                        choice: "overlay_system".into(),
                        name: "bonded topping, 2 in".into(),
                        reason: reason(
                            "overlay_system",
                            "thick-out",
                            "area A",
                            "There is no room for it under the door.",
                        ),
                    },
                    TurnedDown {
                        choice: "bond_coat".into(),
                        name: "cement slurry".into(),
                        reason: reason(
                            "bond",
                            "slurry-out",
                            "area A",
                            "It must still be wet when covered, and the area is too large for that on a warm day.",
                        ),
                    },
                ],
                waits: vec![
                    Wait {
                        what: "walk on it".into(),
                        who: Some(Waiter::Foot),
                        days: Interval::exact(1.0),
                        reason: reason("waits", "walk", "area A", "It is hard enough to walk on."),
                    },
                    Wait {
                        what: "seal".into(),
                        who: Some(Waiter::Sealer),
                        days: Interval::of(2.0, 3.0),
                        reason: reason("waits", "seal", "area A", "It must dry first."),
                    },
                ],
                patches: vec![],
            },
            AreaMethod {
                area: "B".into(),
                verdict: "measure_first".into(),
                specified: false,
                why_not: Some("We will say how once the scratch test is done".into()),
                steps: vec![],
                overlay: None,
                profile: None,
                turned_down: vec![],
                waits: vec![],
                patches: vec![],
            },
            AreaMethod {
                area: "C".into(),
                verdict: "clean_and_seal".into(),
                specified: true,
                why_not: None,
                steps: vec![step(
                    "seal",
                    "We wash out the stain and seal the stand.",
                    "It keeps new stains out.",
                )],
                overlay: None,
                profile: None,
                turned_down: vec![],
                waits: vec![],
                patches: vec![],
            },
        ],
        stairs: vec![StairChange {
            stair: "S1".into(),
            before_mm: vec![139.7, 177.8, 177.8],
            after_mm: vec![130.175, 177.8, 177.8],
            checks: vec![
                StairCheck {
                    limit: "greatest riser".into(),
                    limit_mm: 196.85,
                    before_mm: 177.8,
                    after_mm: 177.8,
                    kept_before: true,
                    kept_after: true,
                    source: "IRC R311.7.5.1".into(),
                },
                StairCheck {
                    limit: "greatest difference between risers".into(),
                    limit_mm: 9.525,
                    before_mm: 38.1,
                    after_mm: 47.625,
                    kept_before: false,
                    kept_after: false,
                    source: "IRC R311.7.5.1".into(),
                },
                StairCheck {
                    limit: "least riser".into(),
                    limit_mm: 101.6,
                    before_mm: 139.7,
                    after_mm: 130.175,
                    kept_before: true,
                    kept_after: true,
                    source: "IBC 1011.5.2".into(),
                },
            ],
        }],
        care: vec![
            reason(
                "care",
                "salt",
                "the slab",
                "Use sand, not salt. Salt wears through any sealer where it freezes.",
            ),
            reason(
                "care",
                "reseal",
                "the slab",
                "Pour a cup of water on it each spring. Seal again when the water soaks in.",
            ),
        ],
    }
}
