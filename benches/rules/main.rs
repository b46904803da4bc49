//! The race: generated code, this engine and a general engine run the same pack over the same
//! records, in one go. `cargo bench --bench rules` prints the table and fails when a target is
//! missed; with `-- --draw` it draws `benches/rules/speed.svg`; `--features bench-beside` brings the
//! general engine in. `--write` writes the generated code anew.
//!
//! Every contestant's outcomes are compared before anything is timed. Rounds of the contestants take
//! turns and the best of each counts, so that what else the machine does hits all alike.

// As the generator writes it, so that the two can be compared.
#[rustfmt::skip]
// Made by the bench itself (`-- --write`); plain as if written for one pack and no more.
#[allow(dead_code, clippy::all)]
mod generated;
mod pack;

use std::alloc::{GlobalAlloc, Layout, System};
use std::hint::black_box;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use pack::{Dice, INPUTS, Kind, Spec, TABLES};
use ringtrue::facts::{Bits, FactId, Scope, Value};
use ringtrue::rules::{Board, Pack, PackFile, Thing, Trail, load_texts, run};
use ringtrue::source::{Problems, SourceFile};

struct Counting;

static TAKEN: AtomicUsize = AtomicUsize::new(0);

// SAFETY: every call is handed on to the system allocator as it came.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        TAKEN.fetch_add(1, Ordering::Relaxed);
        unsafe { System.alloc(layout) }
    }
    unsafe fn dealloc(&self, ptr: *mut u8, layout: Layout) {
        unsafe { System.dealloc(ptr, layout) }
    }
}

#[global_allocator]
static COUNTING: Counting = Counting;

const ROWS: usize = 15;
/// So many that the processor can't learn the way of each through the branches by heart, since
/// outside a benchmark every record comes once; so few that all prepared facts stay near it.
const RECORDS: usize = 2048;
/// How long one figure is measured; the best of the rounds counts, since others only add to it.
const ROUND: Duration = Duration::from_millis(60);
const ROUNDS: usize = 7;

/// Nanoseconds a call of `each`, the best of several rounds.
fn time(records: usize, mut each: impl FnMut(usize)) -> f64 {
    let mut best = f64::INFINITY;
    for _ in 0..ROUNDS {
        best = best.min(round(records, &mut each));
    }
    best
}

/// Nanoseconds a call of `each` in one round. The shortest pass over the records counts.
fn round(records: usize, each: &mut dyn FnMut(usize)) -> f64 {
    let (start, mut best) = (Instant::now(), f64::INFINITY);
    while start.elapsed() < ROUND {
        let pass = Instant::now();
        for i in 0..records {
            each(i);
        }
        best = f64::min(best, pass.elapsed().as_nanos() as f64 / records as f64);
    }
    best
}

/// As [`time`] for several contestants, whose rounds take turns.
fn race<const N: usize>(records: usize, contestants: [&mut dyn FnMut(usize); N]) -> [f64; N] {
    let mut best = [f64::INFINITY; N];
    let mut contestants = contestants;
    for _ in 0..ROUNDS {
        for (best, each) in best.iter_mut().zip(&mut contestants) {
            *best = best.min(round(records, *each));
        }
    }
    best
}

/// Target and what was measured, with the most (or, turned round, the least) it may be.
struct Targets(Vec<(String, bool)>);

impl Targets {
    fn most(&mut self, what: &str, measured: f64, most: f64) {
        let kept = measured <= most;
        self.0
            .push((format!("{what}: {measured:.2}, at most {most}"), kept));
    }

    fn least(&mut self, what: &str, measured: f64, least: f64) {
        let kept = measured >= least;
        self.0
            .push((format!("{what}: {measured:.2}, at least {least}"), kept));
    }
}

fn compiled(spec: &Spec) -> Pack {
    let texts = spec.yaml();
    let mut problems = Problems::default();
    load_texts(
        texts.iter().map(|(n, t)| (n.as_str(), t.as_str())),
        &mut problems,
    )
    .unwrap_or_else(|| panic!("{problems}"))
}

fn board(pack: &Pack) -> Board {
    let thing = Thing {
        scope: Scope::Site,
        label: "it".into(),
        outer: None,
        lies_in: Vec::new(),
        may_lie_in: Vec::new(),
    };
    Board::new(pack, vec![thing])
}

struct Facts(Vec<FactId>);

impl Facts {
    fn of(pack: &Pack) -> Facts {
        let find = |i: usize| pack.vocabulary.find(&format!("f{i}")).unwrap_or(FactId(0));
        Facts((0..INPUTS + TABLES).map(find).collect())
    }

    fn fill(&self, pack: &Pack, spec: &Spec, board: &mut Board, x: &[f64]) {
        for (i, kind) in spec.facts.iter().enumerate() {
            let value = match kind {
                Kind::Number => Value::number(x[i]),
                Kind::Choice(_) => Value::Choices(Bits::one(x[i] as usize)),
            };
            board.set(pack, 0, self.0[i], value);
        }
    }

    fn classes(&self, pack: &Pack, board: &Board) -> [u8; TABLES] {
        std::array::from_fn(|t| {
            let bits = board.get(pack, 0, self.0[INPUTS + t]);
            bits.lowest()
                .filter(|_| bits.is_one())
                .map_or(u8::MAX, |b| b as u8)
        })
    }
}

fn main() {
    let spec = Spec::new(ROWS);
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR"));
    let written = |flag: &str| std::env::args().any(|a| a == flag);
    if written("--write") {
        std::fs::write(folder.join("benches/rules/generated.rs"), spec.code())
            .unwrap_or_else(|e| panic!("{e}"));
        return;
    }
    assert!(
        spec.code() == include_str!("generated.rs"),
        "the generated code is not that of the pack; run with `--write`"
    );
    let mut dice = Dice(0xdeca_fbad_0ddb_a115);
    let records: Vec<Vec<f64>> = (0..RECORDS).map(|_| spec.record(&mut dice)).collect();

    // What each says must be the same before its speed means anything.
    let pack = compiled(&spec);
    let facts = Facts::of(&pack);
    let mut trail = Trail::default();
    let mut code: Vec<generated::Record> = records.iter().map(|x| generated::record(x)).collect();
    let mut boards: Vec<Board> = Vec::new();
    for (x, r) in records.iter().zip(&mut code) {
        generated::run(r);
        let mut board = board(&pack);
        facts.fill(&pack, &spec, &mut board, x);
        run(&pack, &mut board, &mut trail);
        assert_eq!(facts.classes(&pack, &board), generated::classes(r));
        boards.push(board);
    }

    println!(
        "{TABLES} chained tables, {} rows, {} conditions, {INPUTS} inputs, {RECORDS} records\n",
        TABLES * ROWS,
        spec.conditions()
    );
    // The trail has grown to what these records need; from here on nothing may be taken.
    let [ns_code, ns_ours] = race(
        RECORDS,
        [
            &mut |i| {
                generated::run(black_box(&mut code[i]));
                black_box(&code[i]);
            },
            &mut |i| {
                run(&pack, black_box(&mut boards[i]), &mut trail);
                black_box(&trail);
            },
        ],
    );
    let before = TAKEN.load(Ordering::Relaxed);
    for board in &mut boards {
        run(&pack, board, &mut trail);
    }
    let taken = TAKEN.load(Ordering::Relaxed) - before;
    let mut one = board(&pack);
    let ns_filled = time(RECORDS, |i| {
        facts.fill(&pack, &spec, &mut one, black_box(&records[i]));
        run(&pack, &mut one, &mut trail);
        black_box(&trail);
    });
    let mut half: Vec<Board> = Vec::new();
    for x in &records {
        let mut board = board(&pack);
        facts.fill(&pack, &spec, &mut board, x);
        for &fact in &facts.0[..INPUTS] {
            if dice.upto(4) == 0 {
                board.forget(&pack, 0, fact);
            }
        }
        half.push(board);
    }
    let ns_half = time(RECORDS, |i| {
        run(&pack, black_box(&mut half[i]), &mut trail);
        black_box(&trail);
    });
    let line = |what: &str, ns: f64| {
        println!("{what:<58}{:>9.3} µs{:>9.2} x", ns / 1000.0, ns / ns_code);
    };
    line("generated code", ns_code);
    line("this engine, sets and trail, facts prepared", ns_ours);
    line("this engine, numbers turned into cells first", ns_filled);
    line("this engine, a quarter of the facts unknown", ns_half);
    println!("allocations in {RECORDS} runs: {taken}");
    let peer = beside(&spec, &records, &code);
    if let Some(ns) = peer {
        line("a general engine of the package registry", ns);
        println!(
            "the general engine takes {:.1} times as long as this one",
            ns / ns_ours
        );
    }
    let mut targets = Targets(Vec::new());
    targets.most("times generated code", ns_ours / ns_code, 4.0);
    targets.most("allocations in steady state", taken as f64, 0.0);
    match peer {
        Some(ns) => targets.least("times faster than the general engine", ns / ns_ours, 10.0),
        None => println!("no general engine in this build: `--features bench-beside`"),
    }
    let texts = spec.yaml();
    let ns_load = time(1, |_| {
        let mut problems = Problems::default();
        let pack = load_texts(
            texts.iter().map(|(n, t)| (n.as_str(), t.as_str())),
            &mut problems,
        );
        black_box(pack.is_some());
    });
    println!("loading the pack from text: {:.2} ms", ns_load / 1e6);
    let ns_builtin = time(1, |_| {
        black_box(ringtrue::rules::builtin().is_ok());
    });
    println!("loading the built-in pack: {:.2} ms", ns_builtin / 1e6);
    targets.most("ms to load this pack", ns_load / 1e6, 5.0);
    targets.most("ms to load the built-in pack", ns_builtin / 1e6, 10.0);

    println!("\nrows a table, µs a record");
    let mut by_rows = Vec::new();
    for rows in [15, 60, 120, 240, 480, 960] {
        let spec = Spec::new(rows);
        let pack = compiled(&spec);
        let facts = Facts::of(&pack);
        let mut boards: Vec<Board> = records
            .iter()
            .map(|x| {
                let mut board = board(&pack);
                facts.fill(&pack, &spec, &mut board, x);
                board
            })
            .collect();
        let ns = time(RECORDS, |i| {
            run(&pack, black_box(&mut boards[i]), &mut trail)
        });
        println!("{rows:>6} {:>9.3}", ns / 1000.0);
        by_rows.push((rows as f64, ns / 1000.0));
    }
    println!("\nrecords, ms in all");
    let mut by_records = Vec::new();
    for many in [256, 512, 1024, 2048] {
        let ns = time(1, |_| {
            for board in &mut boards[..many] {
                run(&pack, black_box(board), &mut trail);
            }
        });
        println!("{many:>6} {:>9.4}", ns / 1e6);
        by_records.push((many as f64, ns / 1e6));
    }
    if written("--draw") {
        let svg = plot(&[
            ("rows a table", "µs a record", &by_rows),
            ("records", "ms in all", &by_records),
        ]);

        std::fs::write(folder.join("benches/rules/speed.svg"), svg)
            .unwrap_or_else(|e| panic!("{e}"));
    }
    // No more than linear: a pass costs no more a row, or a record, at the far end of the plot than at
    // its beginning, give or take what caches and noise do.
    let steep = |points: &[(f64, f64)]| match (points.first(), points.last()) {
        (Some(a), Some(b)) => (b.1 / a.1) / (b.0 / a.0),
        _ => f64::INFINITY,
    };
    targets.most(
        "growth by rows, over that of the rows",
        steep(&by_rows),
        1.3,
    );
    targets.most(
        "growth by records, over that of the records",
        steep(&by_records),
        1.3,
    );
    // Reading a house pack goes by the same way.
    let mut problems = Problems::default();
    let again: Vec<PackFile> = texts
        .iter()
        .filter_map(|(n, t)| {
            PackFile::read(
                SourceFile::new(n.as_str(), t.as_str()),
                false,
                &mut problems,
            )
        })
        .collect();
    assert_eq!(again.len(), texts.len());
    println!("\ntargets");
    for (what, kept) in &targets.0 {
        println!("  {} {what}", if *kept { "kept  " } else { "MISSED" });
    }
    if targets.0.iter().any(|(_, kept)| !kept) {
        std::process::exit(1);
    }
}

/// Name, style and points of a curve.
type Curve<'a> = (&'a str, &'a str, &'a Vec<(f64, f64)>);

/// Curves side by side, each from zero.
fn plot(curves: &[Curve<'_>]) -> String {
    use std::fmt::Write as _;
    let (w, h, pad) = (300.0, 200.0, 45.0);
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" viewBox=\"0 0 {} {}\" font-family=\"sans-serif\" font-size=\"11\"><title>Time by rows and by records</title><rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>\n",
        curves.len() as f64 * (w + pad) + pad,
        h + 2.0 * pad
    );
    for (k, (x_name, y_name, points)) in curves.iter().enumerate() {
        let left = pad + k as f64 * (w + pad);
        let most = points
            .iter()
            .fold((0.0f64, 0.0f64), |m, p| (m.0.max(p.0), m.1.max(p.1)));
        let at = |p: &(f64, f64)| {
            (
                left + p.0 / most.0 * (w - 10.0),
                pad + h - p.1 / most.1 * (h - 10.0),
            )
        };
        let path: Vec<String> = points
            .iter()
            .map(|p| format!("{:.1},{:.1}", at(p).0, at(p).1))
            .collect();
        let _ = writeln!(
            out,
            "<path d=\"M{left} {pad}V{}H{}\" fill=\"none\" stroke=\"#111\"/><polyline points=\"{}\" fill=\"none\" stroke=\"#111\" stroke-width=\"1.5\"/>",
            pad + h,
            left + w,
            path.join(" ")
        );
        for p in points.iter() {
            let (x, y) = at(p);
            let _ = writeln!(out, "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"2.5\"/>");
        }
        if let Some(last) = points.last() {
            let (x, y) = at(last);
            let _ = writeln!(
                out,
                "<text x=\"{x:.1}\" y=\"{:.1}\" text-anchor=\"end\">{:.3}</text><text x=\"{x:.1}\" y=\"{:.1}\" text-anchor=\"end\">{}</text>",
                y - 6.0,
                last.1,
                pad + h + 14.0,
                last.0
            );
        }
        let _ = writeln!(
            out,
            "<text x=\"{left}\" y=\"{:.1}\">{x_name}</text><text x=\"{left}\" y=\"{:.1}\">{y_name}</text>",
            pad + h + 28.0,
            pad - 8.0
        );
    }
    out + "</svg>\n"
}

/// The same pack in a general engine, compared and timed; `None` where it is not built in.
#[cfg(feature = "bench-beside")]
fn beside(spec: &Spec, records: &[Vec<f64>], code: &[generated::Record]) -> Option<f64> {
    use std::sync::Arc;
    use zen_engine::DecisionEngine;
    use zen_engine::model::DecisionContent;
    let content: DecisionContent =
        serde_json::from_value(spec.graph_json()).unwrap_or_else(|e| panic!("{e}"));
    let engine = DecisionEngine::default();
    let mut decision = engine.create_decision(Arc::new(content));
    decision.compile();
    let inputs: Vec<zen_engine::Variable> =
        records.iter().map(|x| spec.record_json(x).into()).collect();
    for (input, r) in inputs.iter().zip(code) {
        let answer = pollster::block_on(decision.evaluate(input.depth_clone(4)))
            .unwrap_or_else(|e| panic!("{e}"));
        let answer: serde_json::Value = answer.result.to_value();
        let got: Vec<String> = (0..TABLES)
            .map(|t| {
                answer[format!("f{}", INPUTS + t)]
                    .as_str()
                    .unwrap_or_default()
                    .to_owned()
            })
            .collect();
        let wanted: Vec<String> = generated::classes(r)
            .iter()
            .enumerate()
            .map(|(t, &c)| spec.words(INPUTS + t)[usize::from(c)].clone())
            .collect();
        assert_eq!(got, wanted, "the general engine says something else");
    }
    Some(time(records.len(), |i| {
        let answer = pollster::block_on(decision.evaluate(inputs[i].shallow_clone()));
        black_box(answer.is_ok());
    }))
}

#[cfg(not(feature = "bench-beside"))]
fn beside(_: &Spec, _: &[Vec<f64>], _: &[generated::Record]) -> Option<f64> {
    None
}
