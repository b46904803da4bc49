//! How far the ranking of causes can be trusted: shares said against what the worked cases hold to
//! be true, each case judged by a calibration fitted to all the others. Writes
//! `tests/cases/RELIABILITY.md` when run with `WRITE_RELIABILITY=1`; otherwise checks that the page
//! is up to date.

use std::fmt::Write as _;
use std::path::Path;

use ringtrue::record::model::Record;
use ringtrue::rules::{Board, Body, Pack, Then, Trail, builtin, run};
use ringtrue::survey::survey;
use serde::Deserialize;

#[derive(Deserialize)]
struct Case {
    id: String,
    record: Record,
    expect: Expect,
}

#[derive(Deserialize)]
struct Expect {
    defect: u32,
    cause_first_in: Vec<String>,
}

/// A cause of a case: log-odds by the signs that are known, and whether the case holds it true.
#[derive(Debug, Clone)]
struct Said {
    case: usize,
    log_odds: f64,
    holds: bool,
}

/// Log-odds that stand for "ruled out".
const OUT: f64 = -9.0;

fn cases() -> Vec<Case> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/cases");
    let mut paths: Vec<_> = std::fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().path())
        .filter(|p| p.extension().is_some_and(|e| e == "yaml"))
        .collect();
    paths.sort();
    paths
        .iter()
        .map(|p| serde_yaml::from_str(&std::fs::read_to_string(p).unwrap()).unwrap())
        .collect()
}

/// Every cause of the defect a case is about; empty where no ranking applies.
fn said(pack: &Pack, number: usize, case: &Case) -> Vec<Said> {
    let survey = survey(&case.record, &pack.vocabulary);
    let mut board = Board::new(pack, survey.things.clone());
    for (&(thing, fact), entry) in &survey.entries {
        board.set(pack, thing, fact, entry.value);
    }
    let mut trail = Trail::default();
    run(pack, &mut board, &mut trail);
    let at = case.record.areas[0]
        .defects
        .iter()
        .position(|d| d.id == case.expect.defect)
        .unwrap();
    let thing = survey.areas[0].defects[at];
    let visit = trail.visits().iter().find(|v| {
        let body = &pack.tables[v.table as usize].body;
        v.thing as usize == thing && v.applied && matches!(body, Body::Rank(r) if r.evidence)
    });
    let Some(visit) = visit else {
        return Vec::new();
    };
    let table = &pack.tables[visit.table as usize];
    let Body::Rank(rank) = &table.body else {
        return Vec::new();
    };
    let mut log_odds: Vec<f64> = trail
        .scored(visit)
        .iter()
        .map(|s| {
            if s.out {
                OUT
            } else {
                f64::midpoint(s.prior.lo, s.prior.hi)
            }
        })
        .collect();
    for fired in trail.fired(visit).iter().filter(|f| f.certain) {
        if let Then::Pushes { pushes, .. } = &table.rows[usize::from(fired.row)].then {
            for &(c, push) in pushes {
                log_odds[c] += push;
            }
        }
    }
    rank.contestants
        .iter()
        .zip(log_odds)
        .map(|(c, log_odds)| Said {
            case: number,
            log_odds: log_odds.max(OUT),
            holds: case.expect.cause_first_in.contains(&c.id),
        })
        .collect()
}

fn share(log_odds: f64) -> f64 {
    1.0 / (1.0 + (-log_odds).exp())
}

/// Stretch and shift of log-odds that fit what came true best, pulled gently toward leaving them
/// as they are (as if by one more observation), so that few cases can't run away.
fn fit(points: &[&Said]) -> (f64, f64) {
    let (mut a, mut b) = (1.0f64, 0.0f64);
    for _ in 0..60 {
        let (mut ga, mut gb) = (a - 1.0, b);
        let (mut haa, mut hab, mut hbb) = (1.0, 0.0, 1.0);
        for p in points {
            let q = share(a * p.log_odds + b);
            let miss = q - f64::from(u8::from(p.holds));
            let w = q * (1.0 - q);
            ga += miss * p.log_odds;
            gb += miss;
            haa += w * p.log_odds * p.log_odds;
            hab += w * p.log_odds;
            hbb += w;
        }
        let det = haa * hbb - hab * hab;
        a -= (hbb * ga - hab * gb) / det;
        b -= (haa * gb - hab * ga) / det;
    }
    (a, b)
}

/// Mean square of the distance between what was said and what came true; less is better.
fn brier(pairs: &[(f64, bool)]) -> f64 {
    let sum: f64 = pairs
        .iter()
        .map(|(p, holds)| (p - f64::from(u8::from(*holds))).powi(2))
        .sum();
    sum / pairs.len() as f64
}

#[test]
fn shares_said_are_held_against_the_worked_cases() {
    let pack = builtin().unwrap_or_else(|p| panic!("{p}"));
    let cases = cases();
    let all: Vec<Said> = cases
        .iter()
        .enumerate()
        .flat_map(|(i, c)| said(&pack, i, c))
        .collect();
    let ranked = cases
        .iter()
        .enumerate()
        .filter(|(i, _)| all.iter().any(|s| s.case == *i))
        .count();
    assert!(ranked >= 15, "only {ranked} cases are ranked");
    let (mut raw, mut left_out, mut base) = (Vec::new(), Vec::new(), Vec::new());
    for s in &all {
        let others: Vec<&Said> = all.iter().filter(|o| o.case != s.case).collect();
        let (a, b) = fit(&others);
        let rate = others.iter().filter(|o| o.holds).count() as f64 / others.len() as f64;
        raw.push((share(s.log_odds), s.holds));
        left_out.push((share(a * s.log_odds + b), s.holds));
        base.push((rate, s.holds));
    }
    let every: Vec<&Said> = all.iter().collect();
    let (a, b) = fit(&every);
    let mut page = String::from(
        "# How far the ranking of causes can be trusted\n\nWritten by `WRITE_RELIABILITY=1 cargo test --test calibration`; do not change by hand.\n\n",
    );
    let _ = writeln!(
        page,
        "{ranked} of {} worked cases have a ranked defect; together they rank {} causes. A cause counts\nas true where the case names it among those that may come first. Shares are those of the signs\nthat are known, before anything open is settled. The weights are our judgement and were chosen with\nthe cases in sight, so the table shows whether they hang together, not how they do on slabs nobody\nhas seen.\n",
        cases.len(),
        all.len()
    );
    page += "| share said | causes | mean share said | came true | after calibration on the other cases |\n|---|---|---|---|---|\n";
    for (lo, hi) in [
        (0.0, 0.05),
        (0.05, 0.2),
        (0.2, 0.5),
        (0.5, 0.8),
        (0.8, 1.01),
    ] {
        let inside: Vec<usize> = (0..all.len())
            .filter(|&i| raw[i].0 >= lo && raw[i].0 < hi)
            .collect();
        if inside.is_empty() {
            continue;
        }
        let n = inside.len() as f64;
        let mean = |list: &[(f64, bool)]| inside.iter().map(|&i| list[i].0).sum::<f64>() / n;
        let came = inside.iter().filter(|&&i| raw[i].1).count();
        let _ = writeln!(
            page,
            "| {:.0} to {:.0} % | {} | {:.0} % | {came} of {} ({:.0} %) | {:.0} % |",
            lo * 100.0,
            (hi * 100.0f64).min(100.0),
            inside.len(),
            mean(&raw) * 100.0,
            inside.len(),
            came as f64 / n * 100.0,
            mean(&left_out) * 100.0
        );
    }
    let _ = writeln!(
        page,
        "\nMean square miss (Brier score, less is better): {:.3} as said, {:.3} after a calibration fitted\nwithout the case that is judged, {:.3} if every cause were given the same share.\n\nThe calibration that fits all cases best multiplies log-odds by {a:.2} and adds {b:.2}. It is shown\nhere and not applied: twenty-odd cases are too few to move weights by.",
        brier(&raw),
        brier(&left_out),
        brier(&base)
    );
    // Knowing the signs must be worth more than knowing how many causes there are.
    assert!(
        brier(&raw) < brier(&base) && brier(&left_out) < brier(&base),
        "{page}"
    );
    let unranked: Vec<&str> = cases
        .iter()
        .enumerate()
        .filter(|(i, _)| !all.iter().any(|s| s.case == *i))
        .map(|(_, c)| c.id.as_str())
        .collect();
    if !unranked.is_empty() {
        let _ = writeln!(page, "\nWithout a ranking: {}.", unranked.join(", "));
    }
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/cases/RELIABILITY.md");
    if std::env::var_os("WRITE_RELIABILITY").is_some() {
        std::fs::write(&path, &page).unwrap();
    }
    let kept = std::fs::read_to_string(&path).unwrap_or_default();
    assert_eq!(
        kept, page,
        "the page is out of date; run with WRITE_RELIABILITY=1 and look at what changed"
    );
}
