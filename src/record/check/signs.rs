//! Words of the record's own fields, and signs against the fact list of the rule pack.

use super::Check;
use crate::facts::{Comes, Fact, FactKind, Scope, Vocabulary};
use crate::record::model::{OneOrMore, Signs};
use crate::record::shape::{one_of_hint, short};
use crate::record::words::words;
use crate::source::{Place, Problem, nearest};
use crate::units::{Kind, is_unknown};

impl Check<'_> {
    /// Fields that take one of a few words.
    pub(super) fn words(&mut self) {
        let record = self.record;
        let site = &record.site;
        for (field, value) in [
            ("weathering", &site.weathering),
            ("deicers", &site.deicers),
            ("soil", &site.soil),
            ("drainage", &site.drainage),
            ("sun", &site.sun),
        ] {
            self.one_or_more(&format!("site.{field}"), ("Site", field), value.as_ref());
        }
        let slab = &record.slab;
        self.one_word("slab.use", ("Slab", "use"), Some(&slab.use_));
        for (field, value) in [
            ("finish", &slab.finish),
            ("reinforcement", &slab.reinforcement),
            ("support", &slab.support),
            ("covering", &slab.covering),
        ] {
            self.one_or_more(&format!("slab.{field}"), ("Slab", field), value.as_ref());
        }
        for (a, area) in record.areas.iter().enumerate() {
            for (d, defect) in area.defects.iter().enumerate() {
                self.one_or_more(
                    &format!("areas.{a}.defects.{d}.stones"),
                    ("Defect", "stones"),
                    defect.stones.as_ref(),
                );
            }
            for (j, joint) in area.joints.iter().enumerate() {
                self.one_word(
                    &format!("areas.{a}.joints.{j}.kind"),
                    ("Joint", "kind"),
                    Some(&joint.kind),
                );
            }
            for (i, sheet) in area.tests.sheet.iter().enumerate() {
                self.one_word(
                    &format!("areas.{a}.tests.sheet.{i}"),
                    ("Tests", "sheet"),
                    Some(sheet),
                );
            }
        }
        for (e, edge) in record.edges.iter().enumerate() {
            self.one_word(
                &format!("edges.{e}.kind"),
                ("Edge", "kind"),
                Some(&edge.kind),
            );
            self.one_word(
                &format!("edges.{e}.side"),
                ("Edge", "side"),
                edge.side.as_ref(),
            );
        }
        let wishes = &record.wishes;
        self.one_word(
            "wishes.finish",
            ("Wishes", "finish"),
            wishes.finish.as_ref(),
        );
        self.one_word(
            "wishes.relief",
            ("Wishes", "relief"),
            wishes.relief.as_ref(),
        );
        self.one_word(
            "wishes.traffic",
            ("Wishes", "traffic"),
            wishes.traffic.as_ref(),
        );
        for (m, material) in record.materials.iter().enumerate() {
            self.one_word(
                &format!("materials.{m}.kind"),
                ("Material", "kind"),
                Some(&material.kind),
            );
        }
        for (l, line) in record.prices.iter().flat_map(|p| &p.lines).enumerate() {
            self.one_word(
                &format!("prices.lines.{l}.option"),
                ("PriceLine", "option"),
                Some(&line.option),
            );
            self.one_word(
                &format!("prices.lines.{l}.per"),
                ("PriceLine", "per"),
                Some(&line.per),
            );
        }
    }

    fn one_word(&mut self, path: &str, field: (&str, &str), word: Option<&String>) {
        let (Some(word), Some(list)) = (word, words(field.0, field.1)) else {
            return;
        };
        let allowed = list.allowed(self.vocabulary);
        if !allowed.contains(&word.as_str()) {
            let hint = one_of_hint(word, allowed.iter().copied());
            self.error(
                "word",
                path,
                format!(
                    "`{}` is not among the words that can stand here",
                    short(word)
                ),
                hint,
            );
        }
    }

    fn one_or_more(&mut self, path: &str, field: (&str, &str), value: Option<&OneOrMore>) {
        let Some(list) = words(field.0, field.1) else {
            return;
        };
        match value {
            None => {}
            Some(OneOrMore::One(word)) if is_unknown(word) => {}
            Some(OneOrMore::One(word)) => self.one_word(path, field, Some(word)),
            Some(OneOrMore::More(many)) => {
                for (i, word) in many.iter().enumerate() {
                    let path = format!("{path}.{i}");
                    if !self.unknown_in_list(&path, word) {
                        self.one_word(&path, field, Some(word));
                    }
                }
            }
            Some(OneOrMore::Flag(_) | OneOrMore::Number(_)) => {
                let allowed = list.allowed(self.vocabulary);
                self.error(
                    "word",
                    path,
                    "a word is needed here",
                    format!("one of: {}, unknown", allowed.join(", ")),
                );
            }
        }
    }

    /// A list holds what is possible; `unknown` stands alone.
    fn unknown_in_list(&mut self, path: &str, word: &str) -> bool {
        let unknown = is_unknown(word);
        if unknown {
            self.error(
                "word",
                path,
                "`unknown` stands in a list",
                "write `unknown` alone if anything is possible, else take it out of the list",
            );
        }
        unknown
    }

    /// Every `signs` block.
    pub(super) fn all_signs(&mut self) {
        let record = self.record;
        self.signs("site.signs", Scope::Site, None, &record.site.signs);
        self.signs("slab.signs", Scope::Slab, None, &record.slab.signs);
        for (a, area) in record.areas.iter().enumerate() {
            self.signs(&format!("areas.{a}.signs"), Scope::Area, None, &area.signs);
            if let Some(panels) = &area.panels {
                for (name, signs) in &panels.signs {
                    self.signs(
                        &format!("areas.{a}.panels.signs.{name}"),
                        Scope::Panel,
                        None,
                        signs,
                    );
                }
            }
            for (d, defect) in area.defects.iter().enumerate() {
                let kind = (!self.is_broken(&format!("areas.{a}.defects.{d}.kind")))
                    .then(|| {
                        serde_json::to_value(defect.kind)
                            .ok()?
                            .as_str()
                            .map(str::to_owned)
                    })
                    .flatten();
                self.signs(
                    &format!("areas.{a}.defects.{d}.signs"),
                    Scope::Defect,
                    kind.as_deref(),
                    &defect.signs,
                );
            }
            for (j, joint) in area.joints.iter().enumerate() {
                self.signs(
                    &format!("areas.{a}.joints.{j}.signs"),
                    Scope::Joint,
                    None,
                    &joint.signs,
                );
            }
        }
    }

    fn signs(&mut self, path: &str, scope: Scope, kind: Option<&str>, signs: &Signs) {
        let Some(vocabulary) = self.vocabulary else {
            return;
        };
        for (name, value) in signs {
            let place = self.key_place(path, name);
            let Some(fact) = vocabulary.find(name).map(|id| vocabulary.fact(id)) else {
                let hint = unknown_sign_hint(vocabulary, scope, kind, name);
                self.at_key(
                    "unknown-sign",
                    place,
                    format!("there is no sign `{name}` of the {}", scope.word()),
                    hint,
                );
                continue;
            };
            match &fact.comes {
                Comes::Asked if fact.scope == scope => {}
                Comes::Asked => {
                    let hint = format!("write it under `signs:` of the {}", fact.scope.word());
                    let message = format!(
                        "`{name}` is a sign of the {}, not of the {}",
                        fact.scope.word(),
                        scope.word()
                    );
                    self.at_key("sign-scope", place, message, hint);
                    continue;
                }
                Comes::Survey => {
                    let message = format!("`{name}` is taken from the record's own fields");
                    let hint = format!(
                        "write it in its own field of the {}, not among the signs",
                        fact.scope.word()
                    );
                    self.at_key("sign-made", place, message, hint);
                    continue;
                }
                Comes::Made | Comes::Gathered { .. } => {
                    let message = format!("`{name}` is a conclusion of the rules");
                    self.at_key(
                        "sign-made",
                        place,
                        message,
                        "write down what was seen or measured instead",
                    );
                    continue;
                }
            }
            if let Some(kind) = kind
                && !fact.kinds.is_empty()
                && !fact.kinds.iter().any(|k| k == kind)
            {
                let message =
                    format!("`{name}` is not asked for a `{kind}`; the rules leave it aside");
                let problem = Problem::warning("sign-kind", message)
                    .at(self.file, place)
                    .hint(format!("it is asked for: {}", fact.kinds.join(", ")));
                self.problems.push(problem);
            }
            self.sign_value(&format!("{path}.{name}"), fact, value);
        }
    }

    fn at_key(
        &mut self,
        code: &'static str,
        place: Place,
        message: String,
        hint: impl Into<String>,
    ) {
        self.problems.push(
            Problem::error(code, message)
                .at(self.file, place)
                .hint(hint),
        );
    }

    fn sign_value(&mut self, path: &str, fact: &Fact, value: &OneOrMore) {
        match &fact.kind {
            FactKind::Quantity(kind) => self.sign_quantity(path, fact, *kind, value),
            FactKind::Choice { values, .. } => {
                let words: Vec<&str> = values.iter().map(|v| v.id.as_str()).collect();
                let flag = words == ["no", "yes"];
                match value {
                    OneOrMore::Flag(_) if flag => {}
                    OneOrMore::One(word) => self.sign_word(path, fact, &words, word),
                    OneOrMore::More(many) => {
                        for (i, word) in many.iter().enumerate() {
                            let path = format!("{path}.{i}");
                            if !self.unknown_in_list(&path, word) {
                                self.sign_word(&path, fact, &words, word);
                            }
                        }
                    }
                    OneOrMore::Flag(_) | OneOrMore::Number(_) => {
                        let hint = format!("one of: {}, unknown", words.join(", "));
                        self.error(
                            "sign-value",
                            path,
                            format!("`{}` takes a word", fact.id),
                            hint,
                        );
                    }
                }
            }
        }
    }

    fn sign_word(&mut self, path: &str, fact: &Fact, words: &[&str], word: &str) {
        let word = match word {
            "true" => "yes",
            "false" => "no",
            other => other,
        };
        if !is_unknown(word) && !words.contains(&word) {
            let hint = one_of_hint(word, words.iter().copied());
            self.error(
                "sign-value",
                path,
                format!("`{}` is no value of `{}`", short(word), fact.id),
                hint,
            );
        }
    }

    fn sign_quantity(&mut self, path: &str, fact: &Fact, kind: Kind, value: &OneOrMore) {
        let text = match value {
            OneOrMore::One(text) => text.clone(),
            OneOrMore::Number(_) => self.written(path).to_owned(),
            OneOrMore::Flag(_) | OneOrMore::More(_) => {
                let example = kind.examples().first().copied().unwrap_or_default();
                self.error(
                    "sign-value",
                    path,
                    format!("`{}` takes {}", fact.id, kind.named()),
                    format!("write one measure or a range, for example `{example}`"),
                );
                return;
            }
        };
        if is_unknown(&text) {
            return;
        }
        match kind.read(&text) {
            Ok(number) => self.plausible(path, &fact.id, kind, number),
            Err(error) => self.error("measure", path, error.message, error.hint),
        }
    }
}

/// The nearest sign of the same scope, or one of the same name elsewhere.
fn unknown_sign_hint(
    vocabulary: &Vocabulary,
    scope: Scope,
    kind: Option<&str>,
    name: &str,
) -> String {
    let here: Vec<&str> = vocabulary
        .facts()
        .map(|(_, f)| f)
        .filter(|f| f.comes == Comes::Asked && f.scope == scope)
        .filter(|f| kind.is_none_or(|k| f.kinds.is_empty() || f.kinds.iter().any(|own| own == k)))
        .map(|f| f.id.as_str())
        .collect();
    if let Some(near) = nearest(name, here.iter().copied()) {
        return format!("did you mean `{near}`?");
    }
    let asked = vocabulary
        .facts()
        .map(|(_, f)| f)
        .filter(|f| f.comes == Comes::Asked);
    if let Some(near) = nearest(name, asked.map(|f| f.id.as_str())) {
        return match vocabulary.find(near).map(|id| vocabulary.fact(id)) {
            Some(fact) if fact.scope == scope => {
                format!(
                    "did you mean `{near}`? It is asked for: {}",
                    fact.kinds.join(", ")
                )
            }
            Some(fact) => format!(
                "did you mean `{near}`? It is a sign of the {}",
                fact.scope.word()
            ),
            None => format!("did you mean `{near}`?"),
        };
    }
    match here.len() {
        0 => format!(
            "the fact list asks no signs of the {}; put remarks into `note`",
            scope.word()
        ),
        1..=12 => format!("one of: {}", here.join(", ")),
        _ => "the published schema lists every sign; put remarks into `note`".to_owned(),
    }
}
