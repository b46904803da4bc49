//! A draft through every stage: problems, verdicts, what to measure next.

use jiff::civil::Date;
use serde_json::{Value, json};

use super::draft::{self, Layout, at, take as take_away};
use super::forms::{self, Place};
use super::{Core, map, text};
use crate::assessment::{self, Assessment, PLACES, Reason, Verdict, judge, run_rules};
use crate::method::decide;
use crate::record::{self, Loaded};
use crate::source::{Limits, Node, Problems, Severity, SourceFile};
use crate::survey::{Survey, survey};

/// How often what can't be read is taken out before the rest is judged. Every round takes out all
/// that one reading found.
const ROUNDS: usize = 6;

/// Longest draft that is looked at, in bytes of its YAML.
const LONGEST: usize = 4 << 20;

/// A draft as far as it can be read.
struct Sight {
    /// The record as it would be handed over.
    yaml: String,
    /// What is wrong with it.
    problems: Vec<Value>,
    /// What could be read of it.
    loaded: Option<Loaded>,
    /// Whether something had to be left out to read it.
    partly: bool,
}

fn see(core: &Core, q: &Value) -> Result<Sight, String> {
    let draft = q
        .get("draft")
        .ok_or("`draft` is missing from the question")?;
    let today: Date = text(q, "today")?
        .parse()
        .map_err(|_| "`today` is no date".to_owned())?;
    // As on the command line: somewhere it is tomorrow already.
    let last_day = today.tomorrow().ok();
    let layout = Layout::new(core.schema);
    let yaml = layout.yaml(draft);
    if yaml.len() > LONGEST {
        return Err("the record is too long to be looked at".to_owned());
    }
    let read = |yaml: &str| {
        let file = SourceFile::new("record.yaml", yaml);
        let (loaded, problems) = record::read(&file, None, last_day, Some(&core.pack.vocabulary));
        let node = file.yaml(Limits::default(), &mut Problems::default());
        (loaded, problems, node)
    };
    let (mut loaded, mut found, mut node) = read(&yaml);
    let problems = found
        .iter()
        .map(|p| {
            let path = node
                .as_ref()
                .zip(p.place)
                .and_then(|(n, at)| path_of(n, at, ""));
            json!({
                "severity": p.severity,
                "code": p.code,
                "message": p.message,
                "hint": p.hint,
                "path": path,
                "line": p.place.map(|p| p.line),
            })
        })
        .collect();
    let mut partly = false;
    let mut trial = draft.clone();
    for _ in 0..ROUNDS {
        if loaded.is_some() {
            break;
        }
        let mut changed = stand_in(&mut trial, today);
        for p in found.iter().filter(|p| p.severity == Severity::Error) {
            let Some(path) = node
                .as_ref()
                .zip(p.place)
                .and_then(|(n, at)| path_of(n, at, ""))
            else {
                continue;
            };
            // The job is stood in for, and without a slab there is nothing to judge.
            if !matches!(path.as_str(), "" | "job" | "slab" | "areas") {
                changed |= take_away(&mut trial, &path);
            }
        }
        if !changed {
            break;
        }
        partly = true;
        drop_nothings(&mut trial);
        (loaded, found, node) = read(&layout.yaml(&trial));
    }
    Ok(Sight {
        yaml,
        problems,
        loaded,
        partly,
    })
}

/// Fills in what a record must name but no rule reads; whether anything was missing.
fn stand_in(draft: &mut Value, today: Date) -> bool {
    let Some(root) = draft.as_object_mut() else {
        return false;
    };
    let mut changed = false;
    root.entry("ringtrue").or_insert_with(|| json!("1"));
    let job = root.entry("job").or_insert_with(|| json!({}));
    if let Some(job) = job.as_object_mut() {
        for (key, value) in [
            ("client", "not written".to_owned()),
            ("address", "not written".to_owned()),
            ("inspector", "not written".to_owned()),
            ("date", today.to_string()),
        ] {
            if job.get(key).is_none_or(draft::is_empty) {
                job.insert(key.to_owned(), json!(value));
                changed = true;
            }
        }
    }
    changed
}

/// Takes the entries out of lists that were left as nothing.
fn drop_nothings(value: &mut Value) {
    match value {
        Value::Array(items) => {
            items.retain(|i| !draft::is_empty(i));
            items.iter_mut().for_each(drop_nothings);
        }
        Value::Object(map) => map.values_mut().for_each(drop_nothings),
        _ => {}
    }
}

/// Path of the value (or of the value under the key) that stands at a place.
fn path_of(node: &Node, place: crate::source::Place, path: &str) -> Option<String> {
    let same = |p: crate::source::Place| p.start == place.start && p.end == place.end;
    if same(node.place) {
        return Some(path.to_owned());
    }
    let join = |step: &str| match path {
        "" => step.to_owned(),
        _ => format!("{path}.{step}"),
    };
    for (key, below) in node.entries() {
        if same(key.place) {
            return Some(join(&key.text));
        }
        if let Some(found) = path_of(below, place, &join(&key.text)) {
            return Some(found);
        }
    }
    node.items()
        .iter()
        .enumerate()
        .find_map(|(i, below)| path_of(below, place, &join(&i.to_string())))
}

struct Judged<'l> {
    loaded: &'l Loaded,
    survey: Survey,
    ran: assessment::Ran,
}

fn judged<'l>(core: &Core, loaded: &'l Loaded) -> Judged<'l> {
    let mut survey = survey(&loaded.record, &core.pack.vocabulary);
    let ran = run_rules(&core.pack, &survey);
    let (ran, _) = decide(&loaded.record, &mut survey, &core.pack, ran);
    Judged {
        loaded,
        survey,
        ran,
    }
}

/// The record, its problems, the verdicts as they stand, and the map.
pub(super) fn look(core: &Core, q: &Value) -> Result<Value, String> {
    let sight = see(core, q)?;
    let mut out = json!({
        "yaml": sight.yaml,
        "problems": sight.problems,
        "partly": sight.partly,
        "judged": sight.loaded.is_some(),
    });
    if let (Some(loaded), Some(out)) = (&sight.loaded, out.as_object_mut()) {
        let j = judged(core, loaded);
        let a = judge(
            &loaded.record,
            Some(&loaded.node),
            &j.survey,
            &core.pack,
            &j.ran,
        );
        out.insert("map".to_owned(), map::of(&loaded.record));
        out.insert("slab".to_owned(), verdict(&a.slab.verdict));
        out.insert("adds_up".to_owned(), json!(a.slab.adds_up));
        out.insert("areas".to_owned(), areas(&a));
        for (key, list) in [
            ("cautions", &a.cautions),
            ("referrals", &a.referrals),
            ("exclusions", &a.exclusions),
        ] {
            out.insert(key.to_owned(), list.iter().map(reason).collect());
        }
        out.insert("assumed".to_owned(), json!(a.assumed));
    }
    Ok(out)
}

fn verdict(v: &Verdict) -> Value {
    json!({
        "word": v.word,
        "name": v.name,
        "firm": v.firm,
        "possible": v.possible.iter().map(|c| &c.name).collect::<Vec<_>>(),
        "reasons": v.reasons.iter().map(reason).collect::<Vec<_>>(),
    })
}

fn reason(r: &Reason) -> Value {
    json!({
        "row": r.row,
        "about": r.about,
        "certain": r.certain,
        "because": r.because,
        "plain": r.plain,
        "safety": r.safety,
        "source": r.source,
    })
}

fn areas(a: &Assessment) -> Value {
    a.areas
        .iter()
        .map(|area| {
            let defects: Vec<Value> = area
                .defects
                .iter()
                .map(|d| {
                    let causes: Vec<Value> = d
                        .causes
                        .iter()
                        .filter(|c| c.may_lead)
                        .map(|c| {
                            json!({
                                "name": c.name,
                                "plain": c.plain,
                                "standing": c.standing.iter().map(|s| &s.name).collect::<Vec<_>>(),
                            })
                        })
                        .collect();
                    json!({
                        "id": d.number,
                        "kind": d.kind_name,
                        "causes": causes,
                        "note": d.cause_note,
                    })
                })
                .collect();
            let panels: Vec<Value> = area
                .panels
                .iter()
                .map(|p| json!({"id": p.id, "word": p.verdict.word, "name": p.verdict.name, "firm": p.verdict.firm}))
                .collect();
            json!({
                "id": area.id,
                "name": area.name,
                "verdict": verdict(&area.verdict),
                "defects": defects,
                "panels": panels,
            })
        })
        .collect()
}

/// What to measure next, each with the field its answer goes into.
pub(super) fn ask(core: &Core, q: &Value) -> Result<Value, String> {
    let sight = see(core, q)?;
    let Some(loaded) = &sight.loaded else {
        return Ok(json!({"questions": []}));
    };
    let j = judged(core, loaded);
    let draft = &q["draft"];
    let questions: Vec<Value> =
        assessment::questions(&loaded.record, &core.pack, &j.survey, &j.ran)
            .into_iter()
            .map(|question| {
                let field = place_for(core, &j, draft, &question);
                json!({
                    "about": question.about,
                    "name": question.name,
                    "ask": question.ask,
                    "how": question.measure,
                    "minutes": question.minutes,
                    "wait_days": question.wait_days,
                    "who": question.who,
                    "settles": question.settles,
                    "outcomes": question.outcomes,
                "goes": goes(core, &j, &question),
                    "field": field,
                })
            })
            .collect();
    Ok(json!({"questions": questions}))
}

fn place_for(
    core: &Core,
    j: &Judged<'_>,
    draft: &Value,
    q: &assessment::Question,
) -> Option<Value> {
    let thing = j.survey.things.iter().position(|t| t.label == q.about)?;
    let (key, base) = Place::of(&j.loaded.record).thing(&j.survey, thing)?;
    let base = in_draft(&j.loaded.record, draft, &base)?;
    let mut field = if q.fact == PLACES {
        let area = j.survey.areas.iter().find(|a| a.defects.contains(&thing))?;
        let names = area
            .panels
            .iter()
            .map(|(name, _)| json!({"word": name, "name": name}));
        json!({
            "path": "panels",
            "label": q.name,
            "kind": "choice",
            "many": true,
            "values": names.collect::<Vec<_>>(),
        })
    } else {
        let id = core.pack.vocabulary.find(&q.fact)?;
        let kind = key.strip_prefix("defect ");
        forms::field_of(core, core.pack.vocabulary.fact(id), kind)?
    };
    let below = field["path"].as_str()?.to_owned();
    if !base.is_empty() {
        field["path"] = json!(format!("{base}.{below}"));
    }
    Some(field)
}

/// What of its thing a fact is worked out from, where it is no field of its own.
fn goes(core: &Core, j: &Judged<'_>, q: &assessment::Question) -> Option<String> {
    let thing = j.survey.things.iter().position(|t| t.label == q.about)?;
    let (key, _) = Place::of(&j.loaded.record).thing(&j.survey, thing)?;
    let fact = core
        .pack
        .vocabulary
        .fact(core.pack.vocabulary.find(&q.fact)?);
    core.origins
        .field(fact.scope, key.strip_prefix("defect "), &fact.id)
        .map(str::to_owned)
}

/// A path of the record that was read as a path of the draft, where entries may have been left out.
fn in_draft(record: &record::model::Record, draft: &Value, base: &str) -> Option<String> {
    let steps: Vec<&str> = base.split('.').collect();
    let index = |list: &str, id: &str| -> Option<usize> {
        at(draft, list)?.as_array()?.iter().position(|x| {
            x.get("id").is_some_and(|own| {
                own.as_str() == Some(id) || own.as_u64().is_some_and(|n| n.to_string() == id)
            })
        })
    };
    match steps.as_slice() {
        ["areas", a, rest @ ..] => {
            let area = record.areas.get(a.parse::<usize>().ok()?)?;
            let i = index("areas", &area.id)?;
            let base = format!("areas.{i}");
            match rest {
                ["defects", d] => {
                    let id = area.defects.get(d.parse::<usize>().ok()?)?.id.to_string();
                    Some(format!(
                        "{base}.defects.{}",
                        index(&format!("{base}.defects"), &id)?
                    ))
                }
                [] => Some(base),
                rest => Some(format!("{base}.{}", rest.join("."))),
            }
        }
        ["stairs", s] => {
            let stair = record.stairs.get(s.parse::<usize>().ok()?)?;
            Some(format!("stairs.{}", index("stairs", &stair.id)?))
        }
        ["thresholds", t] => {
            let door = record.thresholds.get(t.parse::<usize>().ok()?)?;
            Some(format!("thresholds.{}", index("thresholds", &door.id)?))
        }
        _ => Some(base.to_owned()),
    }
}

/// A record's text as a draft.
pub(super) fn take(q: &Value) -> Result<Value, String> {
    match draft::from_yaml(text(q, "yaml")?) {
        Ok((draft, remarks)) => Ok(json!({"draft": draft, "remarks": remarks})),
        Err(problems) => {
            let said = problems.iter().next().map_or_else(
                || "this is no record: `name: value` lines are needed".to_owned(),
                |p| match p.place {
                    Some(place) => format!("line {}: {}", place.line, p.message),
                    None => p.message.clone(),
                },
            );
            Err(said)
        }
    }
}
