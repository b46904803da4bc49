//! Check values of the rule pack: what a table must say for what is given, and what a figure must
//! be. Each row in `tests/checks/*.yaml` names its source. Rows with a `formula` belong to the
//! arithmetic of the survey and the plan; those that have a function are worked out here.

use std::fs;
use std::path::Path;

use ringtrue::facts::{Interval, Reader, Scope, Thing};
use ringtrue::plan::quantities::{bags, layer_volume, patch_outline, saw_depth};
use ringtrue::plan::sampling::{CountRule, test_count};
use ringtrue::rules::{Board, Pack, Trail, Work, builtin, run_some};
use ringtrue::source::{Limits, Node, Problems, SourceFile};
use ringtrue::survey::heights::{StairWork, risers_after};
use ringtrue::units::{Area, Kind, Length, Volume};
use uom::si::area::square_meter;
use uom::si::length::millimeter;
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

/// Works a formula out. `None` for a formula that has no function of its own.
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
    Some(match name {
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
    let (mut tables, mut figures, mut formulas, mut unwired) = (0, 0, 0, 0);
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
                check_formula(&pack, &check, name).map_or_else(
                    || {
                        unwired += 1;
                        Ok(())
                    },
                    |result| {
                        formulas += 1;
                        result
                    },
                )
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
        tables >= 130 && figures >= 20 && formulas >= 35,
        "{tables} tables, {figures} figures, {formulas} formulas, {unwired} without a function"
    );
}
