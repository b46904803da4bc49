//! Cases made from the pack: a kind of defect, a cause, and signs drawn as the evidence tables
//! weigh them. The rules themselves say what leads; how far it leads is how hard the case is.

use serde_json::{Value, json};

use crate::facts::{Comes, Fact, FactKind, Scope};
use crate::record;
use crate::rules::{Body, Pack, Rank, Table, Then};
use crate::source::{Problems, SourceFile};

use super::lesson::{Answer, Case, case_of_record};
use super::play::Play;

/// How hard a made case is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Level {
    /// One cause stands far before the others.
    Easy,
    /// One leads clearly.
    Fair,
    /// Two are close.
    Hard,
}

impl Level {
    /// Every level.
    pub const ALL: [Level; 3] = [Level::Easy, Level::Fair, Level::Hard];

    /// Word on the command line and in names of cases.
    pub fn word(self) -> &'static str {
        match self {
            Level::Easy => "easy",
            Level::Fair => "fair",
            Level::Hard => "hard",
        }
    }

    /// Whether a lead in log-odds between first and second is of this level. A trainer's scale of
    /// ours: it sorts cases and judges no slab.
    fn holds(self, lead: f64) -> bool {
        match self {
            Level::Easy => lead >= 2.5,
            Level::Fair => (1.0..2.5).contains(&lead),
            Level::Hard => (0.2..1.0).contains(&lead),
        }
    }
}

/// Tries before a level is given up.
const TRIES: u64 = 60;

/// A case of a level from a seed; the same seed gives the same case. `topic` is a kind of defect,
/// if one is wished for. `None` when the pack has no table of causes for it, or no case of this
/// level was found.
pub fn make(pack: &Pack, level: Level, seed: u64, topic: Option<&str>) -> Option<Case> {
    let mut second_best: Option<Case> = None;
    for attempt in 0..TRIES {
        let mut dice = Dice::new(seed.wrapping_mul(1_000_003).wrapping_add(attempt));
        let Some(case) = try_one(pack, level, seed, topic, &mut dice) else {
            continue;
        };
        let play = Play::new(pack, &case);
        let causes = play.causes();
        let lead = match (causes.first(), causes.get(1)) {
            (Some(a), Some(b)) => a.1 - b.1,
            (Some(_), None) => f64::INFINITY,
            _ => continue,
        };
        if level.holds(lead) {
            return Some(case);
        }
        second_best.get_or_insert(case);
    }
    second_best
}

fn try_one(
    pack: &Pack,
    level: Level,
    seed: u64,
    topic: Option<&str>,
    dice: &mut Dice,
) -> Option<Case> {
    let kinds = topics(pack);
    let (kind, tables) = match topic {
        Some(t) => kinds.iter().find(|(k, _)| k == t)?,
        None => dice.pick(&kinds)?,
    };
    let (table, rank) = dice.pick(tables)?;
    let cause = dice.below(rank.contestants.len() as u64) as usize;
    let mut defect = serde_json::Map::new();
    defect.insert("id".into(), json!(1));
    defect.insert("kind".into(), json!(kind));
    // Sizes of an ordinary find; what they mean is for the rules.
    for (field, fact, values) in [
        ("depth", "loss_depth", ["1/8 in", "1/4 in", "1/2 in"]),
        ("diameter", "diameter", ["1/4 in", "3/4 in", "2 in"]),
        ("width", "crack_width", ["0.01 in", "1/16 in", "1/4 in"]),
        ("offset", "offset", ["0 in", "1/4 in", "3/4 in"]),
        ("water_depth", "water_depth", ["1/8 in", "1/4 in", "1/2 in"]),
    ] {
        if concerns(pack, fact, kind) {
            defect.insert(field.into(), json!(dice.pick(&values)?));
        }
    }
    if concerns(pack, "defect_surface", kind) {
        let sizes = ["2 ft x 3 ft", "5 ft x 6 ft", "6 ft x 12 ft"];
        defect.insert("extent".into(), json!(dice.pick(&sizes)?));
    }
    let mut signs = serde_json::Map::new();
    let (mut slab_signs, mut area_signs, mut site) = (
        serde_json::Map::new(),
        serde_json::Map::new(),
        serde_json::Map::new(),
    );
    let mut slab = serde_json::Map::new();
    for &id in &table.inputs {
        let fact = pack.vocabulary.fact(id);
        let FactKind::Choice { values, .. } = &fact.kind else {
            continue;
        };
        let weights: Vec<f64> = (0..values.len())
            .map(|v| weight(table, cause, id, v))
            .collect();
        let word = || values.first().map(|v| v.id.clone());
        let chosen = dice
            .weighted(&weights)
            .and_then(|i| values.get(i))
            .map(|v| v.id.clone())
            .or_else(word)?;
        let asked = fact.comes == Comes::Asked;
        match (fact.scope, asked) {
            (Scope::Defect, true) if own(fact, kind) => {
                signs.insert(fact.id.clone(), json!(chosen));
            }
            (Scope::Defect, false) if fact.id == "stones" && own(fact, kind) => {
                defect.insert("stones".into(), json!(chosen));
            }
            (Scope::Area, true) => {
                area_signs.insert(fact.id.clone(), json!(chosen));
            }
            (Scope::Slab, true) => {
                slab_signs.insert(fact.id.clone(), json!(chosen));
            }
            (Scope::Site, _)
                if ["weathering", "deicers", "soil", "drainage"].contains(&fact.id.as_str()) =>
            {
                site.insert(fact.id.clone(), json!(chosen));
            }
            (Scope::Slab, false)
                if ["finish", "covering", "reinforcement"].contains(&fact.id.as_str()) =>
            {
                slab.insert(fact.id.clone(), json!(chosen));
            }
            _ => {}
        }
    }
    defect.insert("signs".into(), Value::Object(signs));
    for (field, values) in [
        ("weathering", ["severe", "severe", "moderate"]),
        ("deicers", ["rock_salt", "none", "none"]),
        ("drainage", ["good", "good", "poor"]),
    ] {
        let value = json!(dice.pick(&values)?);
        site.entry(field).or_insert(value);
    }
    let use_ = *dice.pick(&["patio", "drive", "walk", "garage_floor"])?;
    let years = [2009, 2016, 2021, 2024];
    slab.insert("use".into(), json!(use_));
    slab.insert("placed".into(), json!(dice.pick(&years)?));
    for (field, value) in [
        ("finish", "broom"),
        ("covering", "none"),
        ("reinforcement", "mesh"),
        ("support", "on_ground"),
    ] {
        slab.entry(field).or_insert(json!(value));
    }
    slab.insert("thickness".into(), json!(dice.pick(&["4 in", "5 in"])?));
    slab.insert("signs".into(), Value::Object(slab_signs));
    let record = json!({
        "ringtrue": 1,
        "job": {"client": "an owner", "address": "a street", "date": "2026-05-14", "inspector": "you"},
        "site": site,
        "slab": slab,
        "areas": [{
            "id": "A", "name": use_.replace('_', " "), "size": "20 ft x 30 ft",
            "panels": {"columns": ["10 ft", "10 ft"], "rows": ["10 ft", "10 ft", "10 ft"]},
            "defects": [defect],
            "signs": area_signs,
        }],
        "wishes": {"finish": "as_is", "traffic": if use_ == "walk" || use_ == "patio" { "foot" } else { "car" }},
    });
    let text = serde_yaml::to_string(&record).ok()?;
    let name = format!("made-{}-{seed}", level.word());
    let name = match topic {
        Some(topic) => format!("{name}-{topic}"),
        None => name,
    };
    let file = SourceFile::new(format!("{name}.yaml"), text);
    let mut problems = Problems::default();
    let (loaded, _) = record::read(&file, None, None, Some(&pack.vocabulary));
    loaded?;
    let mut case = case_of_record(
        &name,
        &file,
        Answer::default(),
        &pack.vocabulary,
        &mut problems,
    )?;
    case.title = format!("a made case, {}", level.word());
    Some(case)
}

/// Kinds of defect with the evidence tables that apply to them.
fn topics(pack: &Pack) -> Vec<(String, Vec<(&Table, &Rank)>)> {
    let Some(kind) = pack.vocabulary.find("kind") else {
        return Vec::new();
    };
    let mut out = Vec::new();
    for (i, value) in pack.vocabulary.fact(kind).values().iter().enumerate() {
        let tables: Vec<(&Table, &Rank)> = pack
            .tables
            .iter()
            .filter(|t| t.scope == Scope::Defect)
            .filter(|t| t.applies.iter().any(|c| c.fact == kind && c.mask.has(i)))
            .filter_map(|t| match &t.body {
                Body::Rank(rank) if rank.evidence => Some((t, rank)),
                _ => None,
            })
            .collect();
        if !tables.is_empty() {
            out.push((value.id.clone(), tables));
        }
    }
    out
}

/// How likely a sign has a value when a cause is at work: the exponential of the pushes of the rows
/// that read this sign alone.
fn weight(table: &Table, cause: usize, fact: crate::facts::FactId, value: usize) -> f64 {
    let mut push = 0.0;
    for row in &table.rows {
        let [only] = row.when.as_slice() else {
            continue;
        };
        if only.fact != fact || !only.mask.has(value) {
            continue;
        }
        if let Then::Pushes { pushes, rules_out } = &row.then {
            if rules_out.contains(&cause) {
                return 0.0;
            }
            push += pushes
                .iter()
                .filter(|(c, _)| *c == cause)
                .map(|(_, p)| p)
                .sum::<f64>();
        }
    }
    push.clamp(-20.0, 20.0).exp()
}

fn own(fact: &Fact, kind: &str) -> bool {
    fact.kinds.is_empty() || fact.kinds.iter().any(|k| k == kind)
}

fn concerns(pack: &Pack, fact: &str, kind: &str) -> bool {
    pack.vocabulary
        .find(fact)
        .is_some_and(|id| own(pack.vocabulary.fact(id), kind))
}

/// Scrambles a number (the finisher of SplitMix64, public domain).
pub(super) fn mix(x: u64) -> u64 {
    let mut z = x.wrapping_add(0x9E37_79B9_7F4A_7C15);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

/// Numbers that look random and are the same for the same seed.
pub(super) struct Dice(u64);

impl Dice {
    pub(super) fn new(seed: u64) -> Dice {
        Dice(mix(seed))
    }

    pub(super) fn below(&mut self, n: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        mix(self.0) % n.max(1)
    }

    fn pick<'a, T>(&mut self, all: &'a [T]) -> Option<&'a T> {
        let i = self.below(all.len() as u64) as usize;
        all.get(i)
    }

    fn weighted(&mut self, weights: &[f64]) -> Option<usize> {
        let whole: f64 = weights.iter().sum();
        let mut at = self.below(1_000_000) as f64 / 1e6 * whole;
        for (i, w) in weights.iter().enumerate() {
            at -= w;
            if at < 0.0 {
                return Some(i);
            }
        }
        weights.iter().position(|w| *w > 0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_same_seed_makes_the_same_case_and_every_level_can_be_made() {
        let pack = crate::rules::builtin().unwrap();
        for level in Level::ALL {
            let a = make(&pack, level, 7, None).unwrap();
            let b = make(&pack, level, 7, None).unwrap();
            assert_eq!(a.loaded.file.text, b.loaded.file.text);
            let play = Play::new(&pack, &a);
            let causes = play.causes();
            assert!(level.holds(causes[0].1 - causes[1].1), "{level:?}");
        }
        let crack = make(&pack, Level::Easy, 3, Some("crack")).unwrap();
        assert_eq!(crack.topic, "crack");
        assert!(make(&pack, Level::Easy, 3, Some("no such thing")).is_none());
    }
}
