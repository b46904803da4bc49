//! Check values of the rule pack: what a table must say for what is given, and what a figure must
//! be. Each row in `tests/checks/*.yaml` names its source. Rows with a `formula` are worked out with
//! the arithmetic that survey, method and plan use; every one has its function.

use std::fs;
use std::path::Path;

use ringtrue::facts::{Interval, Reader, Scope, Thing};
use ringtrue::method::sizes::{
    Fit, Force, check_panel, joint_band, patch_outline, patches_merge, probe_depth,
    pull_off_stress, saw_depth, saw_over_joint, share_of, shroud_air, thermal_growth, undercut,
};
use ringtrue::method::{csp, profile_row};
use ringtrue::plan::quantities::{bags, layer_volume};
use ringtrue::plan::sampling::{CountRule, test_count};
use ringtrue::rules::{Board, Pack, Trail, Work, builtin, run_some};
use ringtrue::source::{Limits, Node, Problems, SourceFile};
use ringtrue::survey::air_target;
use ringtrue::survey::heights::{StairWork, drop_over, risers_after, taper_length};
use ringtrue::units::{Area, Kind, Length, Volume};
use uom::si::area::square_meter;
use uom::si::force::pound_force;
use uom::si::length::millimeter;
use uom::si::pressure::megapascal;
use uom::si::volume::liter;

/// One row of a check file.
struct Check<'a> {
    file: &'a SourceFile,
    node: &'a Node,
    id: String,
}

impl Check<'_> {
    fn text(&self, key: &str) -> Option<&str> {
        self.node.get(key).and_then(Node::text)
    }

    fn words(&self, key: &str) -> Vec<&str> {
        self.node
            .get(key)
            .map_or(&[][..], Node::items)
            .iter()
            .filter_map(Node::text)
            .collect()
    }

    fn given(&self, key: &str) -> &str {
        self.node
            .get("given")
            .and_then(|g| g.get(key))
            .and_then(Node::text)
            .unwrap_or_else(|| panic!("{}: `given` lacks {key}", self.id))
    }

    fn given_number(&self, kind: Kind, key: &str) -> f64 {
        number(kind, self.given(key))
    }
}

fn number(kind: Kind, text: &str) -> f64 {
    kind.read(text)
        .unwrap_or_else(|e| panic!("`{text}`: {}", e.message))
        .lo
}

fn length(mm: f64) -> Length {
    Length::new::<millimeter>(mm)
}

/// A site, a slab, an area, a panel and a defect, each in the one before.
fn things() -> Vec<Thing> {
    [
        (Scope::Site, None),
        (Scope::Slab, Some(0)),
        (Scope::Area, Some(1)),
        (Scope::Panel, Some(2)),
        (Scope::Defect, Some(2)),
    ]
    .into_iter()
    .map(|(scope, outer)| Thing {
        scope,
        label: scope.word().to_owned(),
        outer,
        lies_in: Vec::new(),
        may_lie_in: Vec::new(),
    })
    .collect()
}

/// Runs the one table on what is given and compares its answer.
fn check_table(pack: &Pack, check: &Check<'_>, id: &str) -> Result<(), String> {
    let (index, table) = pack.table(id).ok_or(format!("there is no table `{id}`"))?;
    let mut board = Board::new(pack, things());
    let scopes = [
        Scope::Site,
        Scope::Slab,
        Scope::Area,
        Scope::Panel,
        Scope::Defect,
    ];
    let place = |scope: Scope| scopes.iter().position(|s| *s == scope);
    let mut problems = Problems::default();
    for (key, value) in check.node.get("given").map_or(&[][..], Node::entries) {
        let fact = pack
            .vocabulary
            .find(&key.text)
            .ok_or(format!("there is no fact `{}`", key.text))?;
        let declared = pack.vocabulary.fact(fact);
        let mut reader = Reader {
            file: check.file,
            problems: &mut problems,
        };
        let read = declared
            .read_value(&mut reader, value)
            .ok_or(format!("`{}` can't be read", key.text))?;
        let thing = place(declared.scope).ok_or(format!("`{}` has no place here", key.text))?;
        board.set(pack, thing, fact, read);
    }
    let mut trail = Trail::default();
    run_some(
        pack,
        &mut board,
        &mut trail,
        |w| matches!(w, Work::Table(t) if *t == index),
    );
    let thing = place(table.scope).ok_or("the table has no place here")?;
    let visit = trail.visit(index, thing).ok_or("the table did not run")?;
    if let Some(expect) = check.text("expect") {
        let gives = ringtrue::rules::made_by(table)
            .first()
            .copied()
            .ok_or("the table makes nothing")?;
        let made = pack.vocabulary.fact(gives);
        let words: Vec<&str> = visit
            .out
            .iter()
            .filter_map(|i| made.values().get(i))
            .map(|v| v.id.as_str())
            .collect();
        if words != [expect] {
            return Err(format!("expected {expect}, got {words:?}"));
        }
        return Ok(());
    }
    let ringtrue::rules::Body::Rank(rank) = &table.body else {
        return Err("only a choice rules out".to_owned());
    };
    let out = |word: &str| -> Result<bool, String> {
        let i = rank
            .contestants
            .iter()
            .position(|c| c.id == word)
            .ok_or(format!("`{word}` is no candidate"))?;
        trail
            .scored(visit)
            .iter()
            .find(|s| usize::from(s.contestant) == i)
            .map(|s| s.out)
            .ok_or(format!("`{word}` was not ranked"))
    };
    let (ruled_out, kept) = (check.words("ruled_out"), check.words("kept"));
    if ruled_out.is_empty() && kept.is_empty() {
        return Err("nothing is expected".to_owned());
    }
    for word in ruled_out {
        if !out(word)? {
            return Err(format!("{word} should be ruled out"));
        }
    }
    for word in kept {
        if out(word)? {
            return Err(format!("{word} should be kept"));
        }
    }
    Ok(())
}

fn check_figure(pack: &Pack, check: &Check<'_>, id: &str) -> Result<(), String> {
    let figure = pack
        .vocabulary
        .figure(id)
        .ok_or(format!("there is no figure `{id}`"))?;
    let expect = check.text("expect").ok_or("nothing is expected")?;
    let value = figure.kind.read(expect).map_err(|e| e.message)?;
    close(figure.value.lo, value.lo, 1e-9)?;
    close(figure.value.hi, value.hi, 1e-9)
}

fn close(got: f64, expected: f64, tolerance: f64) -> Result<(), String> {
    if (got - expected).abs() <= tolerance * expected.abs().max(1.0) {
        Ok(())
    } else {
        Err(format!("expected {expected}, got {got}"))
    }
}

fn figure(pack: &Pack, id: &str) -> Interval {
    pack.figure(id)
        .unwrap_or_else(|| panic!("there is no figure `{id}`"))
}

/// A count rule from the pack's figures.
fn rule(pack: &Pack, first: f64, first_area: Option<&str>, each: f64, further: &str) -> CountRule {
    CountRule {
        first_count: first as u32,
        first_area: Area::new::<square_meter>(first_area.map_or(0.0, |f| figure(pack, f).lo)),
        further_count: each as u32,
        further_area: Area::new::<square_meter>(figure(pack, further).lo),
    }
}

/// Works a formula out. `None` for a formula that has no function of its own, or no result.
fn check_formula(pack: &Pack, check: &Check<'_>, name: &str) -> Option<Result<(), String>> {
    let expect = || {
        check
            .text("expect")
            .unwrap_or_else(|| panic!("{}: nothing is expected", check.id))
    };
    let lengths = |key: &str| -> Vec<Length> {
        check
            .node
            .get("given")
            .and_then(|g| g.get(key))
            .map_or(&[][..], Node::items)
            .iter()
            .filter_map(Node::text)
            .map(|t| length(number(Kind::Length, t)))
            .collect()
    };
    let optional = |key: &str| {
        check
            .node
            .get("given")
            .and_then(|g| g.get(key))
            .and_then(Node::text)
            .map_or(length(0.0), |t| length(number(Kind::Length, t)))
    };
    let count = |rule: CountRule| {
        let surface = Area::new::<square_meter>(check.given_number(Kind::Area, "surface"));
        let got = test_count(surface, rule).ok_or("no count")?;
        close(got as f64, number(Kind::Number, expect()), 0.0)
    };
    let given_length = |key: &str| length(check.given_number(Kind::Length, key));
    let fig = |id: &str| figure(pack, id);
    let is_length = |got: Length| {
        close(
            got.get::<millimeter>(),
            number(Kind::Length, expect()),
            // uom keeps feet and inches to seven digits.
            1e-6,
        )
    };
    let is_range = |(lo, hi): (Length, Length)| {
        let want = Kind::Length.read(expect()).map_err(|e| e.message)?;
        close(lo.get::<millimeter>(), want.lo, 1e-6)?;
        close(hi.get::<millimeter>(), want.hi, 1e-6)
    };
    let runs = |slope: &str| {
        let run = taper_length(given_length("lip"), fig(slope).lo).ok_or("no run")?;
        is_length(run)
    };
    Some(match name {
        "bevel_run" => runs("lip_bevel_slope"),
        "ramp_run" => runs("lip_ramp_slope"),
        "drop_over" => is_length(drop_over(
            given_length("length"),
            check.given_number(Kind::Slope, "fall"),
        )),
        "profile_of_layer" => {
            let thickness = check.given_number(Kind::Length, "layer_thickness");
            let (_, row) = profile_row(pack, thickness)?;
            let (least, greatest) = csp(&row.set, "csp")?;
            let got = format!("{least} to {greatest}");
            if got == expect() {
                Ok(())
            } else {
                Err(format!("expected {}, got {got}", expect()))
            }
        }
        "shroud_air" => close(
            shroud_air(given_length("wheel"), fig("shroud_air_per_inch").lo),
            number(Kind::Number, expect()),
            1e-6,
        ),
        "joint_band" => is_range(joint_band(
            given_length("thickness"),
            fig("joint_ratio"),
            length(fig("joint_spacing_cap").hi),
        )),
        "panel_check" => {
            let got = check_panel(
                given_length("long"),
                given_length("short"),
                given_length("thickness"),
                fig("panel_ratio_greatest").hi,
                fig("joint_ratio").hi,
            )?;
            let words = |what: &str, fit: Fit| match fit {
                Fit::Within => format!("{what} ok"),
                Fit::AtLimit => format!("{what} at limit"),
                Fit::Over => format!("{what} over"),
            };
            let got = [
                format!("{:.1}", got.ratio),
                words("shape", got.shape),
                words("spacing", got.spacing),
            ];
            let want = check.words("expect");
            if want == got {
                Ok(())
            } else {
                Err(format!("expected {want:?}, got {got:?}"))
            }
        }
        "saw_over_joint" => is_length(saw_over_joint(
            given_length("overlay"),
            length(fig("saw_extra_over_joint").lo),
        )),
        "saw_longitudinal" => is_length(saw_depth(
            given_length("overlay"),
            fig("saw_longitudinal_share").lo,
            length(0.0),
        )),
        "shrinkage_of" => is_range(share_of(given_length("length"), fig("shrinkage"))),
        "curl_length" => {
            let share = match check.given("load_transfer") {
                "yes" => "curl_share_doweled",
                _ => "curl_share_plain",
            };
            is_length(share_of(given_length("panel"), fig(share)).1)
        }
        "thermal_growth_of" => {
            // The rise is a difference of temperatures, so 100 F here are 100 Fahrenheit degrees.
            let rise = check.given("rise").trim_end_matches(" F").parse();
            let rise: f64 = rise.expect("a rise in Fahrenheit degrees");
            is_length(thermal_growth(
                given_length("length"),
                fig("thermal_growth").lo,
                rise,
            ))
        }
        "patches_merge" => {
            let merge = patches_merge(given_length("apart"), length(fig("patch_merge").lo));
            if merge == (expect() == "yes") {
                Ok(())
            } else {
                Err(format!("expected {}, got {merge}", expect()))
            }
        }
        "undercut_of" => is_length(undercut(
            given_length("stone"),
            length(fig("undercut").lo),
            length(fig("undercut_stone_extra").lo),
        )),
        "f2170_depth" => {
            let share = match check.given("sides") {
                "one" => "f2170_depth_one_side",
                _ => "f2170_depth_both_sides",
            };
            is_length(probe_depth(given_length("thickness"), fig(share).lo))
        }
        "pull_off_stress" => {
            let load = check.given("load").trim_end_matches(" lbf").parse();
            let load = Force::new::<pound_force>(load.expect("a load in pounds"));
            let got = pull_off_stress(load, given_length("disk"))?;
            // Published to a tenth of a psi.
            let tenth = number(Kind::Pressure, "0.051 psi");
            let want = number(Kind::Pressure, expect());
            let got = got.get::<megapascal>();
            if (got - want).abs() <= tenth {
                Ok(())
            } else {
                Err(format!("expected {want} MPa, got {got}"))
            }
        }
        "air_shortfall" => {
            let stone = Interval::exact(check.given_number(Kind::Length, "stone"));
            let target = air_target(stone, |id| pack.figure(id))?;
            let short = target - Interval::exact(check.given_number(Kind::Share, "air"));
            let want = number(Kind::Share, expect());
            close(short.lo, want, 1e-9).and_then(|()| close(short.hi, want, 1e-9))
        }
        "bags" => (|| {
            let volume = layer_volume(
                Area::new::<square_meter>(check.given_number(Kind::Area, "surface")),
                length(check.given_number(Kind::Length, "thickness")),
            );
            let got = bags(
                volume,
                check.given_number(Kind::Share, "waste"),
                Volume::new::<liter>(check.given_number(Kind::Volume, "bag_yield")),
            )
            .map_err(|e| e.to_string())?;
            close(got as f64, number(Kind::Number, expect()), 0.0)
        })(),
        "f2170_count" => count(rule(
            pack,
            figure(pack, "f2170_first").lo,
            Some("f2170_first_surface"),
            1.0,
            "f2170_further_surface",
        )),
        "f3191_count" => count(rule(
            pack,
            figure(pack, "f3191_first").lo,
            Some("f3191_first_surface"),
            1.0,
            "f3191_further_surface",
        )),
        "d4262_count" => count(rule(
            pack,
            0.0,
            None,
            figure(pack, "d4262_readings").lo,
            "d4262_surface",
        )),
        "d4263_count" => count(rule(pack, 0.0, None, 1.0, "d4263_surface")),
        "saw_depth" => {
            let got = saw_depth(
                length(check.given_number(Kind::Length, "thickness")),
                figure(pack, "saw_depth_share").lo,
                length(figure(pack, "saw_depth_least").lo),
            );
            close(
                got.get::<millimeter>(),
                number(Kind::Length, expect()),
                1e-9,
            )
        }
        "riser_series" => {
            let after = risers_after(
                &lengths("before"),
                StairWork {
                    below: optional("below"),
                    treads: optional("treads"),
                    above: optional("above"),
                },
            );
            let expected = check.words("expect");
            if after.len() != expected.len() {
                Err(format!("expected {} risers", expected.len()))
            } else {
                after.iter().zip(expected).try_for_each(|(got, e)| {
                    close(got.get::<millimeter>(), number(Kind::Length, e), 1e-9)
                })
            }
        }
        "patch_outline" => {
            let (long, short) = patch_outline(
                length(check.given_number(Kind::Length, "length")),
                length(check.given_number(Kind::Length, "width")),
                length(check.given_number(Kind::Length, "margin")),
                (
                    length(figure(pack, "patch_least_length").lo),
                    length(figure(pack, "patch_least_width").lo),
                ),
            );
            check
                .words("expect")
                .iter()
                .zip([long, short])
                .try_for_each(|(e, got)| {
                    close(got.get::<millimeter>(), number(Kind::Length, e), 1e-9)
                })
        }
        _ => return None,
    })
}

#[test]
fn tables_figures_and_formulas_give_the_published_check_values() {
    let pack = builtin().expect("the built-in pack loads");
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/checks");
    let mut wrong = Vec::new();
    let (mut tables, mut figures, mut formulas) = (0, 0, 0);
    for entry in fs::read_dir(&folder).expect("the folder of check files") {
        let path = entry.expect("a check file").path();
        let text = fs::read_to_string(&path).expect("a readable check file");
        let file = SourceFile {
            name: path.display().to_string().into(),
            text: text.into(),
        };
        let mut problems = Problems::default();
        let root = file
            .yaml(Limits::default(), &mut problems)
            .unwrap_or_else(|| panic!("{}", problems.render(false)));
        for node in root.items() {
            let id = node.get("id").and_then(Node::text).unwrap_or_default();
            let check = Check {
                file: &file,
                node,
                id: id.to_owned(),
            };
            for key in ["source", "provenance"] {
                if check.text(key).is_none() {
                    wrong.push(format!("{id}: {key} is missing"));
                }
            }
            let result = if let Some(table) = check.text("table") {
                tables += 1;
                check_table(&pack, &check, table)
            } else if let Some(name) = check.text("figure") {
                figures += 1;
                check_figure(&pack, &check, name)
            } else if let Some(name) = check.text("formula") {
                formulas += 1;
                check_formula(&pack, &check, name)
                    .unwrap_or_else(|| Err(format!("`{name}` gives nothing")))
            } else {
                Err("neither table, figure nor formula".to_owned())
            };
            if let Err(message) = result {
                wrong.push(format!("{id}: {message}"));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    // Enough rows that an emptied file is noticed.
    assert!(
        tables >= 130 && figures >= 20 && formulas >= 72,
        "{tables} tables, {figures} figures, {formulas} formulas"
    );
}
