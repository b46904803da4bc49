//! What an assessment says, held to its own promises on every sample: verdicts to the exact sets of the
//! run, grades, causes and lists to the rows that fired. Each rule is written here as the doc comments
//! of `assessment` state it.

use std::collections::BTreeSet;

use jiff::civil::date;
use ringtrue::assessment::{
    Assessment, Grade, PLACES, Ran, RankedCause, Reason, Verdict, assess, board, judge, run_rules,
};
use ringtrue::facts::{Comes, FactKind, Interval, Value};
use ringtrue::record::{self, model::Record};
use ringtrue::rules::{BUDGET, Body, Pack, Spot, Table, Visit, builtin, exact};
use ringtrue::source::{Node, SourceFile};
use ringtrue::survey::{Origin, Survey, survey};

/// A defect of which it is not known in which panel it lies, and that decides.
const SOMEWHERE: &str = include_str!("somewhere.yaml");

#[test]
fn where_a_defect_lies_is_asked_where_it_decides() {
    let pack = &builtin().unwrap();
    let asked = |text: &str| {
        let file = SourceFile::new("r.yaml", text.to_owned());
        let (loaded, problems) = record::read(&file, None, None, Some(&pack.vocabulary));
        let record = loaded.unwrap_or_else(|| panic!("{problems}")).record;
        let survey = survey(&record, &pack.vocabulary);
        let ran = run_rules(pack, &survey);
        assess(&record, None, &survey, pack, &ran)
    };
    let places = |said: &Assessment| -> Vec<(String, f64)> {
        let of = said.questions.iter().filter(|q| q.fact == PLACES);
        of.map(|q| (q.about.clone(), q.settles)).collect()
    };
    let said = asked(SOMEWHERE);
    let words: Vec<&str> = (said.areas[0].verdict.possible.iter())
        .map(|c| c.word.as_str())
        .collect();
    assert_eq!(words, ["patch", "replace_panels"]);
    // It costs next to nothing to say, so it comes first, and it settles all.
    let first = &said.questions[0];
    assert_eq!((first.about.as_str(), first.settles), ("defect 1", 1.0));
    let led: Vec<(&str, Vec<&str>)> = (first.outcomes.iter())
        .map(|o| {
            let verdicts = o.verdicts.iter().map(|v| v.word.as_str()).collect();
            (o.answer.as_str(), verdicts)
        })
        .collect();
    assert_eq!(led, [("A1", vec!["replace_panels"]), ("B1", vec!["patch"])]);
    // Two alike: each is asked about, and one is tried for both.
    let twin = SOMEWHERE.replace(
        "showing}",
        "showing}\n      - {id: 2, kind: spall, extent: 4 ft x 5 ft, depth: 3/4 in, greatest_depth: 3/4 in, stones: showing}",
    );
    let twins = places(&asked(&twin));
    assert_eq!(twins.len(), 2, "{twins:?}");
    assert_eq!(twins[0].1, twins[1].1);
    assert_eq!((&*twins[0].0, &*twins[1].0), ("defect 1", "defect 2"));
    // Told, or of no weight, it is not asked.
    for (was, is) in [
        ("showing}", "showing, panels: [A1]}"),
        ("4 ft x 5 ft", "2 ft x 2 ft"),
    ] {
        let said = asked(&SOMEWHERE.replace(was, is));
        assert_eq!(places(&said), [], "{is}");
    }
}

struct Judged {
    name: String,
    record: Record,
    node: Node,
    survey: Survey,
    ran: Ran,
    said: Assessment,
}

fn all(pack: &Pack) -> Vec<Judged> {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/samples");
    let mut paths: Vec<_> = std::fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().path())
        .filter(|p| p.extension().is_some_and(|e| e == "yaml"))
        .collect();
    paths.sort();
    assert!(paths.len() >= 12);
    let mut out = Vec::new();
    for path in paths {
        let text = std::fs::read_to_string(&path).unwrap();
        let file = SourceFile::new("sample.yaml", text);
        let today = date(2026, 11, 26);
        let (loaded, problems) = record::read(&file, None, Some(today), Some(&pack.vocabulary));
        let loaded = loaded.unwrap_or_else(|| panic!("{}", problems.to_plain()));
        let (record, node) = (loaded.record, loaded.node);
        let survey = survey(&record, &pack.vocabulary);
        let ran = run_rules(pack, &survey);
        let said = judge(&record, None, &survey, pack, &ran);
        out.push(Judged {
            name: path.file_stem().unwrap().to_string_lossy().into_owned(),
            record,
            node,
            survey,
            ran,
            said,
        });
    }
    out
}

impl Judged {
    /// Tables that were looked at for a thing.
    fn visits<'a>(&'a self, pack: &'a Pack, thing: usize) -> Vec<(&'a Table, &'a Visit)> {
        let visits = self.ran.trail.visits().iter();
        visits
            .filter(|v| v.thing as usize == thing)
            .map(|v| (&pack.tables[v.table as usize], v))
            .collect()
    }

    fn rows(&self, table: &Table, visit: &Visit) -> Vec<String> {
        let fired = self.ran.trail.fired(visit).iter();
        fired
            .map(|f| table.rows[usize::from(f.row)].id.clone())
            .collect()
    }
}

fn row_ids(reasons: &[Reason]) -> Vec<String> {
    reasons.iter().map(|r| r.row.clone()).collect()
}

fn gives(pack: &Pack, table: &Table) -> Option<String> {
    match &table.body {
        Body::Grade { gives, .. } => Some(pack.vocabulary.fact(*gives).id.clone()),
        _ => None,
    }
}

/// Firm when one value is left, else "measure first"; the reasons are the rows of the table that makes
/// the verdict.
fn check_verdict(pack: &Pack, j: &Judged, thing: usize, fact: &str, said: &Verdict) {
    let id = pack.vocabulary.find(fact).unwrap();
    let left = j.ran.possible(pack, Spot { thing, fact: id });
    let values = pack.vocabulary.fact(id).values();
    let possible: Vec<&str> = left.iter().map(|i| values[i].id.as_str()).collect();
    let found: Vec<&str> = said.possible.iter().map(|c| c.word.as_str()).collect();
    assert_eq!(found, possible, "{}", j.name);
    assert_eq!(said.firm, possible.len() == 1, "{}", j.name);
    let word = if said.firm {
        possible[0]
    } else {
        "measure_first"
    };
    assert_eq!(said.word, word, "{}", j.name);
    let rows = (j.visits(pack, thing).into_iter())
        .find(|(t, v)| gives(pack, t).as_deref() == Some(fact) && !j.ran.trail.fired(v).is_empty())
        .map_or_else(Vec::new, |(t, v)| j.rows(t, v));
    assert_eq!(row_ids(&said.reasons), rows, "{}", j.name);
}

/// Grades on a scale, but for what is said elsewhere, and only where something was measured or the
/// grade is firm by what it reads.
fn check_grades(pack: &Pack, j: &Judged, thing: usize, but: &str, said: &[Grade]) {
    let mut left = said.iter();
    for (table, visit) in j.visits(pack, thing) {
        let Some(fact) = gives(pack, table) else {
            continue;
        };
        if table.scale.is_none() || fact == but || j.ran.trail.fired(visit).is_empty() {
            continue;
        }
        let Some(grade) = left.clone().next().filter(|g| g.table == table.id) else {
            // Left out: of what its rows read nothing is known.
            for row in j.ran.trail.fired(visit) {
                for c in &table.rows[usize::from(row.row)].when {
                    let entry = j
                        .ran
                        .board
                        .holder(thing, pack.vocabulary.fact(c.fact).scope);
                    let known = entry.and_then(|h| j.survey.entry(h, c.fact));
                    let whole = pack.cells[usize::from(c.fact.0)].domain;
                    let cells = j.ran.board.get(pack, thing, c.fact);
                    assert!(
                        known.is_none() || whole.within(cells),
                        "{} {}: {} is left out",
                        j.name,
                        table.id,
                        row.row
                    );
                }
            }
            continue;
        };
        left.next();
        assert_eq!(grade.fact, fact);
        assert_eq!(row_ids(&grade.reasons), j.rows(table, visit));
        assert_eq!(grade.firm, visit.out.is_one() && visit.applied);
        let reads = || grade.reasons.iter().flat_map(|r| &r.read);
        let measured = reads().any(|r| r.value != "not known");
        let reads_all = grade.reasons.iter().all(|r| !r.read.is_empty());
        assert!(
            measured || (grade.firm && reads_all),
            "{} {}",
            j.name,
            table.id
        );
    }
    assert_eq!(left.next().map(|g| &g.table), None, "{}", j.name);
}

fn middle(i: Interval) -> f64 {
    match (i.lo.is_finite(), i.hi.is_finite()) {
        (true, true) => (i.lo + i.hi) / 2.0,
        (false, true) => i.hi,
        _ => i.lo,
    }
}

/// The figures `cause_close` (0.7, less than two to one) and `cause_few_signs` (2).
fn check_note(j: &Judged, causes: &[RankedCause], note: Option<&str>) -> [bool; 4] {
    let note = note.unwrap_or_default();
    let leaders = causes.iter().filter(|c| c.may_lead).count();
    let open = leaders > 1;
    let close = leaders <= 1
        && causes.len() > 1
        && middle(causes[0].log_odds) - middle(causes[1].log_odds) < 0.7;
    let likely = |c: &&RankedCause| c.standing.iter().all(|s| s.word == "likely");
    let several = causes.iter().filter(likely).count() > 1;
    let known = causes
        .first()
        .map_or(9, |c| c.signs.iter().filter(|s| s.reason.certain).count());
    let thin = known < 2;
    for (part, there) in [
        ("does not decide between these", open),
        ("close call", close),
        ("More than one cause is likely", several),
        ("stands on the setting alone", known == 0),
        ("one sign only", known == 1),
    ] {
        assert_eq!(note.contains(part), there, "{}: {part}: {note}", j.name);
    }
    [open, close, several, thin]
}

#[test]
fn every_sample_is_told_as_the_rows_have_it() {
    let pack = &builtin().unwrap();
    let mut seen = [false; 4];
    for j in all(pack) {
        check_verdict(
            pack,
            &j,
            j.survey.slab,
            "slab_verdict",
            &j.said.slab.verdict,
        );
        check_grades(pack, &j, j.survey.slab, "slab_verdict", &j.said.slab.grades);
        for (area, things) in j.said.areas.iter().zip(&j.survey.areas) {
            check_verdict(pack, &j, things.thing, "verdict", &area.verdict);
            check_grades(pack, &j, things.thing, "verdict", &area.grades);
            let panel = if area.verdict.firm {
                "panel_work"
            } else {
                "panel_verdict"
            };
            assert_eq!(area.panels.len(), things.panels.len());
            for (said, (name, thing)) in area.panels.iter().zip(&things.panels) {
                assert_eq!(&said.id, name);
                check_verdict(pack, &j, *thing, panel, &said.verdict);
            }
            for (defect, &thing) in area.defects.iter().zip(&things.defects) {
                check_grades(pack, &j, thing, "cause_at_work", &defect.grades);
                let at_work = (j.visits(pack, thing).into_iter()).find(|(t, v)| {
                    gives(pack, t).as_deref() == Some("cause_at_work")
                        && !j.ran.trail.fired(v).is_empty()
                });
                assert_eq!(
                    defect.at_work.as_ref().map(|g| row_ids(&g.reasons)),
                    at_work.map(|(t, v)| j.rows(t, v))
                );
                let found = check_note(&j, &defect.causes, defect.cause_note.as_deref());
                (0..4).for_each(|i| seen[i] |= found[i]);
                // Who may lead stands before who may not, then the likelier.
                let key = |c: &RankedCause| {
                    let out = !c.log_odds.hi.is_finite();
                    (
                        c.may_lead,
                        if out {
                            f64::NEG_INFINITY
                        } else {
                            middle(c.log_odds)
                        },
                    )
                };
                for pair in defect.causes.windows(2) {
                    assert!(key(&pair[0]) >= key(&pair[1]), "{}", j.name);
                }
                for cause in &defect.causes {
                    // A share is the odds over one more than the odds.
                    for (odds, share) in [
                        (cause.log_odds.lo, cause.share.lo),
                        (cause.log_odds.hi, cause.share.hi),
                    ] {
                        let expected = 1.0 - 1.0 / (1.0 + odds.exp());
                        assert!((share - expected).abs() < 1e-9, "{odds} {share}");
                    }
                    for sign in &cause.signs {
                        assert_eq!(sign.rules_out, sign.push == f64::NEG_INFINITY);
                    }
                }
            }
        }
        for (said, &thing) in j.said.stairs.iter().zip(&j.survey.stairs) {
            check_grades(pack, &j, thing, "", &said.grades);
        }
        for (said, &thing) in j.said.thresholds.iter().zip(&j.survey.thresholds) {
            check_grades(pack, &j, thing, "", &said.grades);
        }
        assert_eq!(j.said.areas.len(), j.record.areas.len());
    }
    assert_eq!(seen, [true; 4], "some kind of note is in no sample");
}

/// Rows that hold for several things are said once and name them all; certain ones come first; of
/// cautions none whose table may not apply.
#[test]
fn lists_say_every_row_once_for_all_it_holds_for() {
    let pack = &builtin().unwrap();
    for j in all(pack) {
        for (prefix, said) in [
            ("exclusion", &j.said.exclusions),
            ("referral", &j.said.referrals),
            ("caution", &j.said.cautions),
        ] {
            let mut expected: BTreeSet<(String, bool, String)> = BTreeSet::new();
            for visit in j.ran.trail.visits() {
                let table = &pack.tables[visit.table as usize];
                let list = matches!(table.body, Body::Collect) && table.id.starts_with(prefix);
                if !list || (prefix == "caution" && !visit.applied) {
                    continue;
                }
                let label = &j.survey.things[visit.thing as usize].label;
                for fired in j.ran.trail.fired(visit) {
                    let row = table.rows[usize::from(fired.row)].id.clone();
                    expected.insert((row, fired.certain, label.clone()));
                }
            }
            // What is certain of one thing is not said again as perhaps of another.
            let certain: BTreeSet<String> = (expected.iter())
                .filter(|(_, certain, _)| *certain)
                .map(|(row, ..)| row.clone())
                .collect();
            expected.retain(|(row, sure, _)| *sure || !certain.contains(row));
            let mut found = BTreeSet::new();
            for reason in said {
                for about in reason.about.split(", ") {
                    let entry = (reason.row.clone(), reason.certain, about.to_owned());
                    assert!(found.insert(entry), "{}: {} twice", j.name, reason.row);
                }
            }
            assert_eq!(found, expected, "{} {prefix}", j.name);
            let rows: BTreeSet<&str> = said.iter().map(|r| r.row.as_str()).collect();
            assert_eq!(rows.len(), said.len(), "{} {prefix}", j.name);
            let sorted = said.iter().map(|r| !r.certain).collect::<Vec<_>>();
            assert!(sorted.is_sorted(), "{} {prefix}", j.name);
        }
    }
}

#[test]
fn what_was_taken_from_silence_is_listed_for_every_thing() {
    let pack = &builtin().unwrap();
    let mut several = false;
    for j in all(pack) {
        let mut left: BTreeSet<(String, String)> = (j.survey.entries.iter())
            .filter(|(_, entry)| matches!(entry.origin, Origin::Silent(_)))
            .map(|((thing, fact), _)| {
                let label = j.survey.things[*thing].label.clone();
                (pack.vocabulary.fact(*fact).id.clone(), label)
            })
            .collect();
        let mut said = BTreeSet::new();
        for assumed in &j.said.assumed {
            assert!(
                said.insert((assumed.fact.clone(), assumed.value.clone())),
                "{}: {} is {} twice",
                j.name,
                assumed.fact,
                assumed.value
            );
            let things: Vec<&str> = assumed.about.split(", ").collect();
            several |= things.len() > 1;
            for thing in things {
                let entry = (assumed.fact.clone(), thing.to_owned());
                assert!(left.remove(&entry), "{}: {entry:?}", j.name);
            }
        }
        assert_eq!(left, BTreeSet::new(), "{}", j.name);
    }
    assert!(several);
}

#[test]
fn areas_add_up_to_the_slab_in_as_many_sentences() {
    let pack = &builtin().unwrap();
    for j in all(pack) {
        let slab = &j.said.slab;
        let reasons = usize::from(!slab.verdict.reasons.is_empty());
        assert_eq!(
            slab.adds_up.len(),
            j.said.areas.len() + reasons,
            "{}",
            j.name
        );
        for (line, area) in slab.adds_up.iter().zip(&j.said.areas) {
            let head = format!("{} ({}): {}", area.name, area.id, area.verdict.name);
            let rest = line.strip_prefix(&head).unwrap();
            if area.verdict.firm {
                assert_eq!(rest, ".");
            } else {
                // To measure first is what is said already.
                let names: Vec<&str> = (area.verdict.possible.iter())
                    .filter(|c| c.word != area.verdict.word)
                    .map(|c| c.name.as_str())
                    .collect();
                assert_eq!(rest, format!("; still possible: {}.", names.join(", ")));
            }
        }
    }
}

/// Every verdict that the run leaves open is searched for its exact set, and no other.
#[test]
fn open_verdicts_are_searched_and_no_others() {
    let pack = &builtin().unwrap();
    let mut any = false;
    for j in all(pack) {
        let given = board(pack, &j.survey);
        let mut spots = vec![(j.survey.slab, "slab_verdict")];
        for area in &j.survey.areas {
            spots.push((area.thing, "verdict"));
            spots.extend(area.panels.iter().map(|(_, t)| (*t, "panel_verdict")));
        }
        for (thing, name) in spots {
            let fact = pack.vocabulary.find(name).unwrap();
            let spot = Spot { thing, fact };
            let open = j.ran.board.get(pack, thing, fact).len() > 1;
            let settled = j.ran.settled.get(&spot).copied();
            any |= open;
            let found = exact(pack, &given, spot, BUDGET);
            if open && found.exact {
                // A search of less effort holds every value that is possible.
                assert!(
                    settled.is_some_and(|s| found.possible.within(s)),
                    "{}",
                    j.name
                );
            }
            assert_eq!(settled.is_some(), open, "{}: {name}", j.name);
        }
    }
    assert!(any);
}

/// Every fact that a reason reads says where it comes from: a line of the record whose text names it, a
/// table, what is gathered, or that it is not recorded.
#[test]
fn what_a_reason_reads_leads_back_to_the_record() {
    let pack = &builtin().unwrap();
    let mut seen: BTreeSet<&str> = BTreeSet::new();
    for j in all(pack) {
        let said = judge(&j.record, Some(&j.node), &j.survey, pack, &j.ran);
        let areas = said.areas.iter();
        let grades = areas.clone().flat_map(|a| {
            let defects = a.defects.iter().flat_map(|d| &d.grades);
            a.grades.iter().chain(defects)
        });
        let reasons = (areas.flat_map(|a| &a.verdict.reasons))
            .chain(grades.flat_map(|g| &g.reasons))
            .chain(&said.cautions)
            .chain(&said.exclusions);
        for reason in reasons {
            // The thing the row was looked at for; of several the first.
            let label = reason.about.split(", ").next().unwrap();
            let things: Vec<usize> = (0..j.survey.things.len())
                .filter(|&t| j.survey.things[t].label == label)
                .collect();
            let [thing] = things[..] else { continue };
            for read in &reason.read {
                let id = pack.vocabulary.find(&read.fact).unwrap();
                let fact = pack.vocabulary.fact(id);
                let holder = j.ran.board.holder(thing, fact.scope);
                let entry = holder.and_then(|h| j.survey.entry(h, id));
                let place = read.path.as_deref().and_then(|p| j.node.at_path(p));
                assert_eq!(
                    read.line,
                    place.map(|n| n.place.line),
                    "{}: {read:?}",
                    j.name
                );
                let cells = j.ran.board.get(pack, thing, id);
                let choice = matches!(fact.kind, FactKind::Choice { .. });
                let names: Vec<&str> = (cells.iter())
                    .filter_map(|i| fact.values().get(i))
                    .map(|v| v.name.as_str())
                    .collect();
                let known = names.len() < fact.values().len() || fact.values().len() == 1;
                let (how, value) = match entry.map(|e| (&e.origin, e.value)) {
                    Some((Origin::Record(path), value)) => {
                        assert_eq!(read.path.as_ref(), Some(path));
                        let unknown = value == Value::Unknown;
                        let how = if unknown {
                            "recorded as not known"
                        } else {
                            "recorded"
                        };
                        (how, unknown.then_some("not known".to_owned()))
                    }
                    Some((Origin::WorkedOut { .. }, _)) => ("worked out: ", None),
                    Some((Origin::Silent(_), _)) => ("taken so because", None),
                    None if matches!(fact.comes, Comes::Made) && choice => {
                        ("made by a table", known.then(|| names.join(" or ")))
                    }
                    None if matches!(fact.comes, Comes::Gathered { .. }) => (
                        "gathered from",
                        (choice && known).then(|| names.join(" or ")),
                    ),
                    None => ("not recorded", Some("not known".to_owned())),
                };
                seen.insert(how);
                assert!(read.how.starts_with(how), "{}: {read:?}", j.name);
                if how == "recorded" {
                    assert_eq!(read.how, how);
                    assert!(read.line.is_some(), "{}: {read:?}", j.name);
                }
                if let Some(value) = value {
                    assert_eq!(read.value, value, "{}: {read:?}", j.name);
                }
            }
        }
    }
    assert!(seen.len() >= 5, "{seen:?}");
}
