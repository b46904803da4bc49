//! What a record can hold beyond what a walk asks for by itself: joints, photos, readings over the
//! seasons, places on the map, the products, the crew and the prices. It is offered at the end of a
//! new record and under `add`; the fields of a block come from the record's schema.

use serde_json::Value;

use crate::facts::{Comes, FactKind, Scope};
use crate::record::structs;
use crate::record::words::words;
use crate::units::Kind;

use super::plan::{Pick, Planner, Stage, Take, WORD};

/// Key of the question what else is to be taken down.
pub(super) const MORE: &str = "more?";
/// Key of the question for photos.
pub(super) const PHOTOS: &str = "photos?";
/// Key of the question for remarks.
pub(super) const REMARKS: &str = "remarks?";
/// Key of the question for products.
pub(super) const MATERIALS: &str = "materials?";
/// Key of the question for price lines.
pub(super) const PRICES: &str = "prices.lines?";

fn properties(definition: &str) -> impl Iterator<Item = (&'static String, &'static Value)> {
    structs()
        .get("$defs")
        .and_then(|d| d.get(definition)?.get("properties")?.as_object())
        .into_iter()
        .flatten()
}

/// Follows references, and the one choice of several that is not "nothing".
fn resolve(mut at: &'static Value) -> &'static Value {
    // A reference leads to a definition, which leads no further than one choice.
    for _ in 0..4 {
        let referred = at.get("$ref").and_then(Value::as_str).and_then(|name| {
            structs()
                .get("$defs")?
                .get(name.trim_start_matches("#/$defs/"))
        });
        let chosen = at.get("anyOf").and_then(Value::as_array).and_then(|c| {
            let mut real = c
                .iter()
                .filter(|c| c.get("type").and_then(Value::as_str) != Some("null"));
            match (real.next(), real.next()) {
                (Some(only), None) => Some(only),
                _ => None,
            }
        });
        match referred.or(chosen) {
            Some(next) => at = next,
            None => break,
        }
    }
    at
}

fn type_of(at: &Value) -> &str {
    match at.get("type") {
        Some(Value::String(word)) => word,
        Some(Value::Array(words)) => words
            .iter()
            .filter_map(Value::as_str)
            .find(|w| *w != "null")
            .unwrap_or_default(),
        _ => "",
    }
}

fn kind_of(at: &Value) -> Option<Kind> {
    at.get("format")?.as_str()?.parse().ok()
}

/// How a field is answered; `None` for what is no single answer.
fn take_of(at: &'static Value) -> Option<Take> {
    let at = resolve(at);
    Some(match type_of(at) {
        "array" => {
            let item = resolve(at.get("items")?);
            match (type_of(item), kind_of(item)) {
                ("string", Some(Kind::Length)) if at.get("maxItems").is_some() => Take::Point,
                ("string", Some(kind)) => Take::Measures(kind),
                ("number", _) => Take::Numbers,
                _ => return None,
            }
        }
        "boolean" => WORD,
        "integer" => Take::Count,
        "number" => Take::Measure(Kind::Number),
        "string" => match (kind_of(at), at.get("format").and_then(Value::as_str)) {
            (Some(kind), _) => Take::Measure(kind),
            (None, Some("size")) => Take::Size,
            (None, _) => Take::Text,
        },
        _ => return None,
    })
}

/// What a field means, without the words that stand in it as code.
fn meaning(at: &Value) -> String {
    let said = at.get("description").and_then(Value::as_str).unwrap_or("");
    let said = said.replace('\n', " ");
    let said = said.split(", for example `").next().unwrap_or_default();
    let said = said.split(": `").next().unwrap_or_default();
    said.replace('`', "")
        .trim_end_matches('.')
        .trim()
        .to_owned()
}

impl Planner<'_, '_> {
    fn wants(&self, key: &str) -> bool {
        self.walk.wanted.contains(key)
    }

    /// The fields of a block that were asked for, and, where `list` is wanted, which there are.
    fn block(&mut self, definition: &str, base: &str, about: &str, except: &[&str]) {
        let fields: Vec<(String, &str, &'static Value, Take)> = properties(definition)
            .filter(|(name, _)| !except.contains(&name.as_str()))
            .filter_map(|(name, at)| {
                let path = format!("{base}.{name}");
                let take = match words(definition, name) {
                    Some(_) => WORD,
                    None => take_of(at)?,
                };
                (!self.has(&path)).then_some((path, name.as_str(), at, take))
            })
            .collect();
        for (path, name, at, take) in &fields {
            if !self.wants(path) {
                continue;
            }
            let mut picks: Vec<(&str, String)> = Vec::new();
            if let Some(words) = words(definition, name) {
                let all = words.allowed(Some(&self.walk.pack.vocabulary));
                picks.extend(all.into_iter().map(|w| (w, w.replace('_', " "))));
            } else if type_of(resolve(at)) == "boolean" {
                picks.extend([("no", "no".to_owned()), ("yes", "yes".to_owned())]);
            }
            let picks = picks.into_iter().map(|(word, name)| Pick {
                word: word.to_owned(),
                name,
            });
            let picks: Vec<Pick> = picks.collect();
            let q = self.own(Stage::More, path, about, &meaning(at), take.clone());
            q.picks = picks;
            q.remark = name.replace('_', " ");
        }
        let key = format!("{base}.more?");
        let open: Vec<Pick> = fields
            .iter()
            .filter(|(path, ..)| !self.wants(path) && !self.closed(path))
            .map(|(path, name, at, _)| Pick {
                word: path.clone(),
                name: match meaning(at) {
                    said if said.is_empty() => name.replace('_', " "),
                    said => said,
                },
            })
            .collect();
        if self.wants(&key) && !open.is_empty() {
            let q = self.own(
                Stage::More,
                &key,
                about,
                "Which of these is known? Give the numbers, or `none`.",
                Take::Checklist,
            );
            q.picks = open;
        }
    }

    /// Joints of an area worth a line of their own.
    pub(super) fn joints(&mut self, area: usize, path: &str, name: &str) {
        let joints = self.walk.loaded.record.areas.get(area);
        let ids: Vec<(String, String)> = joints
            .map(|a| a.joints.iter())
            .into_iter()
            .flatten()
            .map(|j| (j.id.clone(), j.kind.clone()))
            .collect();
        for (j, (id, kind)) in ids.iter().enumerate() {
            let base = format!("{path}.joints.{j}");
            let about = format!("joint {id}, {}", kind.replace('_', " "));
            let things = self.walk.survey.areas.get(area);
            if let Some(thing) = things.and_then(|a| a.joints.get(j)).copied() {
                self.signs(Stage::Look, &base, &about, thing, Scope::Joint, &|_| true);
            }
        }
        let key = format!("{path}.joints?");
        if !self.list_open(&key, &format!("{path}.joints")) {
            return;
        }
        let id = self.free_name(&format!("{path}.joints"), "joint");
        let vocabulary = &self.walk.pack.vocabulary;
        let how = vocabulary
            .find("has_isolation")
            .and_then(|id| vocabulary.fact(id).measure.clone());
        let known = words("Joint", "kind")
            .map(|w| w.allowed(Some(vocabulary)))
            .unwrap_or_default();
        let kinds = vocabulary.find("joint_kind").map(|id| vocabulary.fact(id));
        let picks = known
            .into_iter()
            .map(|word| Pick {
                name: kinds
                    .and_then(|f| f.values().iter().find(|v| v.id == word))
                    .map_or_else(|| word.replace('_', " "), |v| v.name.clone()),
                word: word.to_owned(),
            })
            .collect();
        let q = self.own(
            Stage::Look,
            &key,
            name,
            if ids.is_empty() {
                "Is there a joint worth a line of its own: open, broken out, or a soft strip right through? Its kind, and how wide it is open; `none` if not."
            } else {
                "Another such joint? `none` if not."
            },
            Take::Joint { id },
        );
        q.how = how.unwrap_or_default();
        q.picks = picks;
        q.example = "isolation, 1/2 in".to_owned();
    }

    /// Readings over the seasons: widths of cracks, heights of a spot.
    pub(super) fn seasons(&mut self) {
        for (i, path, _, name) in self.areas() {
            for (_, path, thing, kind, label) in self.defects(i) {
                let concerned = self.fact_concerns("width_change", &kind);
                let key = format!("{path}.readings");
                if self.wants(&key)
                    || (concerned && self.missing(&key) && self.matters(&["width_change"], thing))
                {
                    self.dated(&key, &label, "width_change", true);
                }
            }
            let thing = self.walk.survey.areas.get(i).map_or(0, |a| a.thing);
            let key = format!("{path}.tests.levels");
            let facts = ["level_swing", "level_drift"];
            if self.wants(&key) || (self.missing(&key) && self.matters(&facts, thing)) {
                self.dated(&key, &name, "level_swing", false);
            }
        }
    }

    fn dated(&mut self, key: &str, about: &str, fact: &str, slab: bool) {
        let vocabulary = &self.walk.pack.vocabulary;
        let Some(fact) = vocabulary.find(fact).map(|id| vocabulary.fact(id).clone()) else {
            return;
        };
        self.of_fact(Stage::AskAround, key, about, &fact, Take::Dated { slab });
        if let Some(q) = self.out.last_mut() {
            q.ask = format!(
                "{} Each day that was read, with what was read on it.",
                q.ask
            );
            q.example = match slab {
                true => "2025-01-14 0.02 in at 35 F; 2025-07-10 0.03 in",
                false => "2025-01-14 1/4 in; 2025-07-10 5/8 in",
            }
            .to_owned();
        }
    }

    /// What else is to be taken down.
    pub(super) fn more(&mut self) {
        self.more_of_areas();
        if self.wants(PHOTOS) {
            let q = self.own(
                Stage::More,
                PHOTOS,
                "the photos",
                "A photo: number of the defect, name of the file, what it shows. `none` if that is all.",
                Take::Photo,
            );
            q.how = "The file lies in the folder of the record.".to_owned();
            q.example = "2, crack.jpg, crack at the door".to_owned();
        }
        if self.wants(REMARKS) {
            let q = self.own(
                Stage::More,
                REMARKS,
                "remarks",
                "A remark: number of the defect or name of the part, then the remark. `none` if that is all.",
                Take::Remark,
            );
            q.example = "2, wider after every winter".to_owned();
        }
        self.supplies();
        self.block("StepRules", "job.step_rules", "step rules", &[]);
        let known = ["client", "address", "date", "inspector", "units"];
        self.block("Job", "job", "the job", &known);
        let asked = [
            "weathering",
            "freeze_thaw_days",
            "deicers",
            "soil",
            "drainage",
            "tree_distance",
            "sun",
        ];
        self.block("Site", "site", "the site", &asked);
        if self.wants("forecast") && !self.has("forecast") {
            let q = self.own(
                Stage::More,
                "forecast",
                "the weather",
                "In which file lies the hourly forecast?",
                Take::Text,
            );
            q.how = "A table (CSV or JSON) in the folder of the record.".to_owned();
        }
        let record = &self.walk.loaded.record;
        let (stairs, doors, edges) = (
            record.stairs.len(),
            record.thresholds.len(),
            record.edges.len(),
        );
        for s in 0..stairs {
            let about = self.name_of(&format!("stairs.{s}.id"));
            let rest = ["id", "from", "to", "risers"];
            self.block("Stair", &format!("stairs.{s}"), &about, &rest);
        }
        for d in 0..doors {
            let about = self.name_of(&format!("thresholds.{d}.id"));
            let rest = ["id", "area", "drop"];
            self.block("Threshold", &format!("thresholds.{d}"), &about, &rest);
        }
        for e in 0..edges {
            let about = format!("edge to the {}", self.name_of(&format!("edges.{e}.kind")));
            let rest = ["area", "kind", "height"];
            self.block("Edge", &format!("edges.{e}"), &about, &rest);
        }
        if (self.walk.fresh() && !self.closed(MORE)) || self.wants(MORE) {
            let offers = self.offers();
            let q = self.own(
                Stage::More,
                MORE,
                "the record",
                "Anything more to take down? Give the numbers, or `none`.",
                Take::Checklist,
            );
            q.how = "None of it is needed for a verdict. Photos, places and remarks go on the pages; products, crew and prices make the plan and the offer."
                .to_owned();
            q.picks = offers;
        }
    }

    fn name_of(&self, path: &str) -> String {
        self.text_at(path).unwrap_or_default().to_owned()
    }

    fn more_of_areas(&mut self) {
        for (i, path, _, name) in self.areas() {
            let key = format!("{path}.outline");
            if self.wants(&key) && !self.has(&key) {
                let q = self.own(
                    Stage::More,
                    &key,
                    &name,
                    "Its corners in order, each from the lower left of the map: to the right, then up.",
                    Take::Corners,
                );
                q.how = "Walk round it and tape every corner from two sides that meet at a right angle."
                    .to_owned();
                q.minutes = 15.0;
            }
            let key = format!("{path}.tests.sounding.patches");
            if self.wants(&key) {
                let q = self.own(
                    Stage::More,
                    &key,
                    &name,
                    "Hollow patches marked with chalk: the middle of each on the map, then its width by length.",
                    Take::Patches,
                );
                q.how =
                    "Tap outward from the dull spot until it rings, and chalk the line.".to_owned();
                q.minutes = 5.0;
            }
            let facts: Vec<_> = self.panel_facts();
            for fact in facts {
                let key = format!("{path}.panels.signs?{}", fact.id);
                if !self.wants(&key) {
                    continue;
                }
                let kind = match fact.kind {
                    FactKind::Quantity(kind) => Some(kind),
                    FactKind::Choice { .. } => None,
                };
                let known = self.panel_names(i).into_iter().map(|p| p.word).collect();
                let take = Take::PanelSign {
                    fact: fact.id.clone(),
                    kind,
                    panels: known,
                };
                self.of_fact(Stage::More, &key, &name, &fact, take);
                if let Some(q) = self.out.last_mut() {
                    q.ask = format!("{} Panel, then value; several with `;` between.", q.ask);
                    q.example = "B2 3; A1 4 to 6".to_owned();
                }
            }
            for j in 0..self.joints_of(i) {
                let base = format!("{path}.joints.{j}");
                let about = self.name_of(&format!("{base}.id"));
                self.block("Joint", &base, &about, &["id", "kind"]);
            }
            let work = format!("{path}.work_readings");
            self.block("WorkReadings", &work, &name, &[]);
            let asked = ["id", "name", "size", "outline", "fall"];
            self.block("AreaRecord", &path, &name, &asked);
            for (_, path, _, _, label) in self.defects(i) {
                let known: Vec<&str> = properties("Defect")
                    .map(|(name, _)| name.as_str())
                    .filter(|name| *name != "to")
                    .collect();
                self.block("Defect", &path, &label, &known);
            }
        }
    }

    fn joints_of(&self, area: usize) -> usize {
        let areas = &self.walk.loaded.record.areas;
        areas.get(area).map_or(0, |a| a.joints.len())
    }

    fn panel_facts(&self) -> Vec<crate::facts::Fact> {
        let facts = self.walk.pack.vocabulary.facts().map(|(_, f)| f);
        facts
            .filter(|f| f.comes == Comes::Asked && f.scope == Scope::Panel)
            .cloned()
            .collect()
    }

    /// Products, crew and prices.
    fn supplies(&mut self) {
        let materials = self.walk.loaded.record.materials.len();
        for m in 0..materials {
            let base = format!("materials.{m}");
            let about = self.name_of(&format!("{base}.name"));
            self.block("Material", &base, &about, &["name", "kind"]);
        }
        if self.wants(MATERIALS) {
            let known = words("Material", "kind")
                .map(|w| w.allowed(Some(&self.walk.pack.vocabulary)))
                .unwrap_or_default();
            let picks = known.into_iter().map(|word| Pick {
                word: word.to_owned(),
                name: word.replace('_', " "),
            });
            let picks = picks.collect();
            let q = self.own(
                Stage::More,
                MATERIALS,
                "the products",
                "A product really at hand: what it is, then what the crew calls it. `none` if that is all.",
                Take::Material { index: materials },
            );
            q.picks = picks;
            q.example = "sealer, acrylic sealer".to_owned();
        }
        if self.wants("crew.people") && !self.has("crew.people") {
            let q = self.own(
                Stage::More,
                "crew.people",
                "the crew",
                "How many people are on the job?",
                Take::Count,
            );
            q.remark = "people".to_owned();
        }
        self.block("Crew", "crew", "the crew", &["people"]);
        if self.wants("prices.currency") && !self.has("prices.currency") {
            let q = self.own(
                Stage::More,
                "prices.currency",
                "the prices",
                "In which currency? Three letters.",
                Take::Text,
            );
            q.example = "USD".to_owned();
        }
        self.block("Prices", "prices", "the prices", &["currency"]);
        if self.has("prices.currency") && self.wants(PRICES) {
            let vocabulary = &self.walk.pack.vocabulary;
            let allowed = |field: &str| {
                words("PriceLine", field)
                    .map_or_else(String::new, |w| w.allowed(Some(vocabulary)).join(", "))
            };
            let how = format!("Options: {}. Per: {}.", allowed("option"), allowed("per"));
            let q = self.own(
                Stage::More,
                PRICES,
                "the prices",
                "A price: option, what is bought, per what, then low, likely and high; how often it comes again, if it does. `none` if that is all.",
                Take::Price,
            );
            q.how = how;
            q.example = "repair, overlay, ft2, 6.50, 8, 11".to_owned();
        }
    }

    /// What can be taken down beyond what was asked.
    fn offers(&self) -> Vec<Pick> {
        let mut out = Vec::new();
        let mut offer = |key: String, name: String| {
            if !self.wants(&key) {
                out.push(Pick { word: key, name });
            }
        };
        let record = &self.walk.loaded.record;
        if record.areas.iter().any(|a| !a.defects.is_empty()) {
            offer(PHOTOS.to_owned(), "photos of a defect".to_owned());
        }
        offer(
            REMARKS.to_owned(),
            "a remark on a defect or a part".to_owned(),
        );
        for (i, path, _, name) in self.areas() {
            let of = |what: &str| format!("{what}, {name}");
            if !self.has(&format!("{path}.outline")) {
                offer(format!("{path}.outline"), of("corners of its outline"));
            }
            offer(format!("{path}.joints?"), of("a joint"));
            offer(
                format!("{path}.tests.sounding.patches"),
                of("hollow patches marked with chalk"),
            );
            offer(
                format!("{path}.tests.levels"),
                of("heights read on several days"),
            );
            if self.has(&format!("{path}.panels")) {
                for fact in self.panel_facts() {
                    let key = format!("{path}.panels.signs?{}", fact.id);
                    offer(key, of(&fact.name));
                }
            }
            offer(
                format!("{path}.more?"),
                of("its place on the map, its surface"),
            );
            offer(
                format!("{path}.work_readings.more?"),
                of("readings taken while the work was done"),
            );
            for (_, path, _, kind, label) in self.defects(i) {
                if self.fact_concerns("width_change", &kind) {
                    offer(
                        format!("{path}.readings"),
                        format!("its width on several days, {label}"),
                    );
                }
                if self.fact_concerns("crack_length", &kind) {
                    offer(
                        format!("{path}.to"),
                        format!("where it ends on the map, {label}"),
                    );
                }
            }
            for j in 0..self.joints_of(i) {
                let base = format!("{path}.joints.{j}");
                let id = self.name_of(&format!("{base}.id"));
                offer(format!("{base}.more?"), format!("more on {id}"));
            }
        }
        for (list, count) in [
            ("stairs", record.stairs.len()),
            ("thresholds", record.thresholds.len()),
        ] {
            for n in 0..count {
                let id = self.name_of(&format!("{list}.{n}.id"));
                offer(format!("{list}.{n}.more?"), format!("more on {id}"));
            }
        }
        for (e, edge) in record.edges.iter().enumerate() {
            offer(
                format!("edges.{e}.more?"),
                format!("on which side the {} lies", edge.kind),
            );
        }
        if !record.stairs.is_empty() {
            offer(
                "job.step_rules.more?".to_owned(),
                "local rules for steps".to_owned(),
            );
        }
        for (key, name) in [
            (MATERIALS, "products at hand"),
            ("crew.people", "the crew"),
            ("prices.currency", "prices"),
            ("job.more?", "a number for the job"),
            ("site.more?", "latitude and longitude, north on the map"),
            ("forecast", "a saved forecast"),
        ] {
            offer(key.to_owned(), name.to_owned());
        }
        out
    }

    /// Which published limits the steps are held to, asked where there are steps.
    pub(super) fn step_code(&mut self) {
        let key = "job.step_rules.code";
        let stairs = self.walk.loaded.record.stairs.len();
        if stairs == 0 || !self.is_new("stairs.0") || !self.missing(key) {
            return;
        }
        let q = self.own(
            Stage::Steps,
            key,
            "the steps",
            "Which limits do the steps have to keep?",
            WORD,
        );
        q.how = "A house for one or two families keeps other limits than any other building."
            .to_owned();
        q.picks = [
            ("house", "a house for one or two families"),
            ("other_building", "any other building"),
        ]
        .map(|(word, name)| Pick {
            word: word.to_owned(),
            name: name.to_owned(),
        })
        .into();
        q.remark = "step rules".to_owned();
    }
}
