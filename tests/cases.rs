//! The worked cases of `tests/cases`: each expected cause leads, each verdict is a fair one, nothing
//! a case forbids is recommended, and the steps of the work say what they must.

use std::path::{Path, PathBuf};

use ringtrue::assessment::run_rules;
use ringtrue::facts::{FactKind, Value};
use ringtrue::method::{AreaMethod, Step, decide, specify};
use ringtrue::record::model::{AreaRecord, DefectKind, Record};
use ringtrue::rules::{Board, Body, Pack, Rank, Scored, Trail, Visit, builtin, run};
use ringtrue::survey::{Survey, survey};
use serde::Deserialize;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Case {
    id: String,
    title: String,
    source: String,
    record: Record,
    expect: Expect,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Expect {
    defect: u32,
    cause_first_in: Vec<String>,
    #[serde(default)]
    cause_not_first: Vec<String>,
    #[serde(default)]
    grades: std::collections::BTreeMap<String, String>,
    verdict_in: Vec<String>,
    forbidden_verdicts: Vec<String>,
    #[serde(default)]
    forbidden_whatever_wished: Vec<String>,
    #[serde(default)]
    rows: Vec<String>,
    #[serde(default)]
    forbidden_rows: Vec<String>,
    #[serde(default)]
    steps_with: Vec<String>,
    #[serde(default)]
    forbidden_steps: Vec<String>,
    #[serde(default)]
    steps_in_order: Vec<String>,
}

/// Whether a step is the one meant: `stage:overlay` means any step of a stage, other words those
/// that the crew reads, whatever their case.
fn is_meant(step: &Step, what: &str) -> bool {
    match what.strip_prefix("stage:") {
        Some(stage) => step.stage == stage,
        None => step.crew.to_lowercase().contains(&what.to_lowercase()),
    }
}

/// The work specified for an area of a record.
fn work(pack: &Pack, record: &Record, area: usize) -> AreaMethod {
    let mut survey = survey(record, &pack.vocabulary);
    let ran = run_rules(pack, &survey);
    let (ran, fitted) = decide(record, &mut survey, pack, ran);
    specify(record, None, &survey, pack, &ran, &fitted)
        .areas
        .swap_remove(area)
}

/// What is wrong with the steps of a case, in plain words.
fn step_faults(case: &Case, method: &AreaMethod) -> Vec<String> {
    let mut faults = Vec::new();
    let first = |what: &str| method.steps.iter().position(|s| is_meant(s, what));
    for what in &case.expect.steps_with {
        if first(what).is_none() {
            faults.push(format!("no step says `{what}`"));
        }
    }
    for what in &case.expect.forbidden_steps {
        if let Some(i) = first(what) {
            faults.push(format!(
                "`{what}` must not be said: {}",
                method.steps[i].crew
            ));
        }
    }
    for pair in case.expect.steps_in_order.windows(2) {
        match (first(&pair[0]), first(&pair[1])) {
            (Some(a), Some(b)) if a < b => {}
            places => faults.push(format!(
                "`{}` must come before `{}`: {places:?}",
                pair[0], pair[1]
            )),
        }
    }
    faults
}

fn case_files() -> Vec<PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/cases");
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "yaml"))
        .collect();
    files.sort();
    files
}

struct Judged<'a> {
    pack: &'a Pack,
    survey: Survey,
    board: Board,
    trail: Trail,
}

impl<'a> Judged<'a> {
    fn of(pack: &'a Pack, record: &Record) -> Judged<'a> {
        let survey = survey(record, &pack.vocabulary);
        let mut board = Board::new(pack, survey.things.clone());
        for (&(thing, fact), entry) in &survey.entries {
            board.set(pack, thing, fact, entry.value);
        }
        let mut trail = Trail::default();
        run(pack, &mut board, &mut trail);
        Judged {
            pack,
            survey,
            board,
            trail,
        }
    }

    /// Words still possible for a choice fact of a thing.
    fn words(&self, thing: usize, fact: &str) -> Vec<String> {
        let id = self
            .pack
            .vocabulary
            .find(fact)
            .unwrap_or_else(|| panic!("no fact `{fact}`"));
        let bits = self.board.get(self.pack, thing, id);
        let FactKind::Choice { values, .. } = &self.pack.vocabulary.fact(id).kind else {
            panic!("`{fact}` is no choice")
        };
        bits.iter().map(|i| values[i].id.clone()).collect()
    }

    fn value(&self, thing: usize, fact: &str) -> Value {
        self.survey.value(&self.pack.vocabulary, thing, fact)
    }

    /// The ranking of causes of a defect, with its table.
    fn ranking(&self, thing: usize) -> Option<(&Rank, &Visit)> {
        self.trail.visits().iter().find_map(|v| {
            let table = &self.pack.tables[v.table as usize];
            match &table.body {
                Body::Rank(rank) if rank.evidence && v.thing as usize == thing && v.applied => {
                    Some((rank, v))
                }
                _ => None,
            }
        })
    }

    /// Causes of a defect by what is known for certain, likeliest first: log-odds from the prior
    /// and the rows that fire whatever the unknowns turn out to be.
    fn by_known_signs(&self, thing: usize) -> Vec<(String, f64)> {
        let Some((rank, visit)) = self.ranking(thing) else {
            return Vec::new();
        };
        let table = &self.pack.tables[visit.table as usize];
        let scored: &[Scored] = self.trail.scored(visit);
        let mut list: Vec<(String, f64)> = rank
            .contestants
            .iter()
            .map(|c| (c.id.clone(), 0.0))
            .collect();
        for s in scored {
            // Where the prior itself hangs on an unknown its middle is taken.
            list[usize::from(s.contestant)].1 = f64::midpoint(s.prior.lo, s.prior.hi);
            if s.out {
                list[usize::from(s.contestant)].1 = f64::NEG_INFINITY;
            }
        }
        for fired in self.trail.fired(visit).iter().filter(|f| f.certain) {
            if let ringtrue::rules::Then::Pushes { pushes, .. } =
                &table.rows[usize::from(fired.row)].then
            {
                for &(c, push) in pushes {
                    list[c].1 += push;
                }
            }
        }
        list.sort_by(|a, b| b.1.total_cmp(&a.1));
        list
    }

    /// Names of the rows that fired; only the certain ones when asked.
    fn fired(&self, certain: bool) -> Vec<&str> {
        self.trail
            .visits()
            .iter()
            .flat_map(|v| {
                let table = &self.pack.tables[v.table as usize];
                self.trail
                    .fired(v)
                    .iter()
                    .filter(move |f| f.certain || !certain)
                    .map(|f| table.rows[usize::from(f.row)].id.as_str())
            })
            .collect()
    }
}

/// What is wrong with the answer to a case, in plain words.
fn faults(pack: &Pack, case: &Case) -> Vec<String> {
    let at = case
        .record
        .areas
        .iter()
        .position(|a| a.defects.iter().any(|d| d.id == case.expect.defect))
        .unwrap_or_else(|| panic!("{}: no defect {}", case.id, case.expect.defect));
    let judged = Judged::of(pack, &case.record);
    let mut faults = Vec::new();
    let area = &judged.survey.areas[at];
    let index = case.record.areas[at]
        .defects
        .iter()
        .position(|d| d.id == case.expect.defect)
        .unwrap_or_else(|| panic!("{}: no defect {}", case.id, case.expect.defect));
    let defect = area.defects[index];

    let ranked = judged.by_known_signs(defect);
    let lead = ranked.first().map_or("", |c| c.0.as_str());
    let margin = ranked
        .iter()
        .find(|c| !case.expect.cause_first_in.contains(&c.0))
        .map_or(f64::INFINITY, |other| ranked[0].1 - other.1);
    if !case.expect.cause_first_in.iter().any(|c| c == lead) || margin < 1.0 {
        faults.push(format!("the causes rank {ranked:?}"));
    }
    if case.expect.cause_not_first.iter().any(|c| c == lead) {
        faults.push(format!("`{lead}` leads and must not"));
    }
    for (table, class) in &case.expect.grades {
        let (_, t) = pack
            .table(table)
            .unwrap_or_else(|| panic!("{}: no table `{table}`", case.id));
        let Body::Grade { gives, .. } = &t.body else {
            panic!("{}: `{table}` gives no grade", case.id)
        };
        let fact = &pack.vocabulary.fact(*gives).id;
        let got = judged.words(defect, fact);
        if got != [class.clone()] {
            faults.push(format!("`{table}` gives {got:?}, not `{class}`"));
        }
    }
    let verdicts = judged.words(area.thing, "verdict");
    if verdicts.len() > 1 {
        let open: Vec<&str> = judged
            .fired(false)
            .into_iter()
            .filter(|r| r.starts_with("av-"))
            .collect();
        faults.push(format!("the verdict is open: {verdicts:?} by {open:?}"));
    }
    for verdict in &verdicts {
        if !case.expect.verdict_in.contains(verdict) {
            faults.push(format!(
                "the verdict may be `{verdict}`, not among {:?}",
                case.expect.verdict_in
            ));
        }
        if case.expect.forbidden_verdicts.contains(verdict) {
            faults.push(format!(
                "the verdict may be `{verdict}`, which is forbidden"
            ));
        }
    }
    let fired = judged.fired(true);
    for row in &case.expect.rows {
        if !fired.contains(&row.as_str()) {
            faults.push(format!("the row `{row}` did not fire"));
        }
    }
    for row in &case.expect.forbidden_rows {
        if fired.contains(&row.as_str()) {
            faults.push(format!("the row `{row}` fired and must not"));
        }
    }
    // Every sign of the record must be a fact of the pack, or it would be dropped unread.
    for sign in case.record.areas[at].defects[index].signs.keys() {
        if pack.vocabulary.find(sign).is_none() {
            faults.push(format!("there is no sign `{sign}`"));
        } else if judged.value(defect, sign) == Value::Unknown {
            faults.push(format!("the sign `{sign}` was not taken"));
        }
    }
    faults.extend(step_faults(case, &work(pack, &case.record, at)));
    faults
}

fn cases() -> Vec<Case> {
    case_files()
        .iter()
        .map(|path| {
            let text = std::fs::read_to_string(path).unwrap();
            serde_yaml::from_str(&text).unwrap_or_else(|e| panic!("{}: {e}", path.display()))
        })
        .collect()
}

/// Every fault of some cases, one case after the other.
fn report(pack: &Pack, cases: &[Case]) -> String {
    let mut report = String::new();
    for case in cases {
        let found = faults(pack, case);
        if !found.is_empty() {
            report += &format!("{} {} ({})\n", case.id, case.title, case.source);
            for fault in found {
                report += &format!("    {fault}\n");
            }
        }
    }
    report
}

#[test]
fn every_worked_case_is_answered_as_an_inspector_would() {
    let pack = builtin().unwrap_or_else(|p| panic!("{}", p.render(false)));
    let report = report(&pack, &cases());
    assert!(report.is_empty(), "\n{report}");
}

/// A sound area written down before the sick one, and the defects in another order, change nothing.
#[test]
fn every_case_still_holds_with_areas_and_defects_the_other_way_round() {
    let pack = builtin().unwrap_or_else(|p| panic!("{}", p.render(false)));
    let mut cases = cases();
    for case in &mut cases {
        for area in &mut case.record.areas {
            area.defects.reverse();
            // An area that is the only one lies at the corner of the map.
            if area.origin.is_none() && area.size.is_some() {
                area.origin = Some(["0 in".parse().unwrap(), "0 in".parse().unwrap()]);
            }
        }
        let sound: AreaRecord = serde_yaml::from_str("{id: Z, name: sound part}").unwrap();
        case.record.areas.push(sound);
        case.record.areas.reverse();
    }
    let report = report(&pack, &cases);
    assert!(report.is_empty(), "\n{report}");
}

/// Whatever finish is wished for, a loose layer comes off before anything goes on.
#[test]
fn loose_layers_come_off_before_anything_goes_on() {
    let pack = builtin().unwrap_or_else(|p| panic!("{}", p.render(false)));
    let mut layers = 0;
    for case in cases() {
        for finish in ["as_is", "plain", "broom", "patterned", "sealed"] {
            let mut record = case.record.clone();
            record.wishes.finish = Some(finish.to_owned());
            let method = work(&pack, &record, 0);
            let Some(on) = method.steps.iter().position(|s| s.stage == "overlay") else {
                continue;
            };
            layers += 1;
            for defect in &record.areas[0].defects {
                if defect.kind != DefectKind::Delamination || defect.depth.is_none() {
                    continue;
                }
                let off = format!("Defect {}: the loose layer", defect.id);
                let off = method.steps.iter().position(|s| s.crew.starts_with(&off));
                assert!(off.is_some_and(|off| off < on), "{} {finish}", case.id);
            }
        }
    }
    assert!(layers >= 20, "only {layers} layers were specified");
}

/// What a sick slab forbids stays forbidden, whatever finish the owner would like.
#[test]
fn no_wish_overrules_what_a_case_forbids() {
    let pack = builtin().unwrap_or_else(|p| panic!("{}", p.render(false)));
    let mut report = String::new();
    for case in cases() {
        for finish in ["as_is", "plain", "broom", "patterned", "sealed"] {
            for relief in ["shallow", "deep"] {
                let mut record = case.record.clone();
                record.wishes.finish = Some(finish.to_owned());
                record.wishes.relief = Some(relief.to_owned());
                let judged = Judged::of(&pack, &record);
                for verdict in judged.words(judged.survey.areas[0].thing, "verdict") {
                    if case.expect.forbidden_whatever_wished.contains(&verdict) {
                        report += &format!("{}: {finish}, {relief}: may be `{verdict}`\n", case.id);
                    }
                }
            }
        }
    }
    assert!(report.is_empty(), "\n{report}");
}

/// All twenty-five worked cases are there.
#[test]
fn no_case_is_missing() {
    let names: Vec<String> = case_files()
        .iter()
        .map(|p| p.file_stem().unwrap().to_string_lossy().into_owned())
        .collect();
    let expected: Vec<String> = (1..=25).map(|n| format!("V{n:02}")).collect();
    assert_eq!(names, expected);
}
