//! The rules' own words in another language, and the sentences that the stages make.
//!
//! Both are data in `templates/text/<language>/`: words by the id of what they belong to, sentences
//! by the English sentence with `{gaps}`. They stand outside `rules/`, so that a translation is no
//! change of the rules; they are read only when a paper asks for their language. What has no
//! translation stays English.

use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::{Arc, LazyLock};

use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::phrases::PhraseError;
use crate::facts::{FactKind, SourceNote, Vocabulary};
use crate::rules::{Body, Pack, Set, gaps};

/// Files of Spanish words and sentences, by name.
const SPANISH: &[(&str, &str)] = &[
    (
        "es/causes.yaml",
        include_str!("../../templates/text/es/causes.yaml"),
    ),
    (
        "es/facts.yaml",
        include_str!("../../templates/text/es/facts.yaml"),
    ),
    (
        "es/rows.yaml",
        include_str!("../../templates/text/es/rows.yaml"),
    ),
    (
        "es/glossary.yaml",
        include_str!("../../templates/text/es/glossary.yaml"),
    ),
    (
        "es/figures.yaml",
        include_str!("../../templates/text/es/figures.yaml"),
    ),
    (
        "es/sources.yaml",
        include_str!("../../templates/text/es/sources.yaml"),
    ),
];
/// Spanish sentences.
const SPANISH_SENTENCES: (&str, &str) = (
    "es/sentences.yaml",
    include_str!("../../templates/text/es/sentences.yaml"),
);

/// The rules' words in another language, by id.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Overlay {
    causes: BTreeMap<String, CauseWords>,
    candidates: BTreeMap<String, BTreeMap<String, Named>>,
    tables: BTreeMap<String, String>,
    /// Names of severity scales, by the table that grades on them.
    scales: BTreeMap<String, String>,
    facts: BTreeMap<String, FactWords>,
    figures: BTreeMap<String, String>,
    /// What the owner reads of a row; the crew's words where the row has none for the owner.
    rows: BTreeMap<String, String>,
    /// What the crew reads of a row.
    because: BTreeMap<String, String>,
    /// The same in a line.
    crew: BTreeMap<String, String>,
    /// A row's own texts in its `set`.
    set: BTreeMap<String, BTreeMap<String, String>>,
    glossary: BTreeMap<String, Meant>,
    /// Where things come from, by the source as the rules write it. What is a name alone stays.
    sources: BTreeMap<String, String>,
}

#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct CauseWords {
    name: String,
    plain: String,
    at_work: String,
    stops_by: String,
}

#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct Named {
    name: String,
    plain: String,
}

#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
struct FactWords {
    name: Option<String>,
    ask: Option<String>,
    measure: Option<String>,
    caution: Option<String>,
    silent: Option<String>,
    values: BTreeMap<String, String>,
}

#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct Meant {
    term: String,
    means: String,
}

/// What an overlay leaves out or names in vain.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Coverage {
    /// Texts that stay English: `row spot-1: plain`.
    pub missing: Vec<String>,
    /// Entries for ids that the rules don't have.
    pub unknown: Vec<String>,
}

impl Overlay {
    /// The rules' words in a language; nothing for English and languages that do not ship.
    ///
    /// # Errors
    /// When a file of it is broken.
    pub fn built_in(language: &str) -> Result<Option<Overlay>, PhraseError> {
        if language != "es" {
            return Ok(None);
        }
        let mut all = Overlay::default();
        for (name, text) in SPANISH {
            let part: Overlay = serde_yaml::from_str(text).map_err(|e| PhraseError::Broken {
                file: (*name).to_owned(),
                why: e.to_string(),
            })?;
            all.causes.extend(part.causes);
            all.candidates.extend(part.candidates);
            all.tables.extend(part.tables);
            all.scales.extend(part.scales);
            all.facts.extend(part.facts);
            all.figures.extend(part.figures);
            all.rows.extend(part.rows);
            all.because.extend(part.because);
            all.crew.extend(part.crew);
            all.set.extend(part.set);
            all.glossary.extend(part.glossary);
            all.sources.extend(part.sources);
        }
        Ok(Some(all))
    }

    /// Puts the words over those of a pack. Ids, conditions and the fingerprint stay.
    pub fn lay(&self, pack: &mut Pack) -> Coverage {
        let mut note = Notes::default();
        self.causes(pack, &mut note);
        self.tables(pack, &mut note);
        self.vocabulary(pack, &mut note);
        note.coverage(self)
    }

    fn causes(&self, pack: &mut Pack, note: &mut Notes) {
        for cause in &mut pack.causes {
            if let Some(words) = note.find("cause", &cause.id, &self.causes) {
                cause.name.clone_from(&words.name);
                cause.plain.clone_from(&words.plain);
                cause.at_work.clone_from(&words.at_work);
                cause.stops_by.clone_from(&words.stops_by);
            }
        }
    }

    fn tables(&self, pack: &mut Pack, note: &mut Notes) {
        // A row that house rules wrote has other words than the row of its name here.
        let house: HashSet<&str> = pack.house.iter().map(|h| h.row.as_str()).collect();
        for table in &mut pack.tables {
            if let Some(title) = note.find("table", &table.id, &self.tables) {
                table.title.clone_from(title);
            }
            if let Some(scale) = &mut table.scale
                && let Some(name) = note.find("scale", &table.id, &self.scales)
            {
                scale.clone_from(name);
            }
            if let Body::Rank(rank) = &mut table.body {
                for c in &mut rank.contestants {
                    if rank.evidence {
                        if let Some(words) = self.causes.get(&c.id) {
                            c.name.clone_from(&words.name);
                            c.plain.clone_from(&words.plain);
                        }
                    } else if let Some(words) =
                        self.candidates.get(&table.id).and_then(|t| t.get(&c.id))
                    {
                        note.known
                            .insert(format!("candidate {} {}", table.id, c.id));
                        c.name.clone_from(&words.name);
                        c.plain.clone_from(&words.plain);
                    } else {
                        note.missing
                            .push(format!("candidate {} {}", table.id, c.id));
                    }
                }
                for prior in &mut rank.priors {
                    if let Some(text) = note.find("because", &prior.id, &self.because) {
                        prior.because.clone_from(text);
                    }
                    self.source(&mut prior.source, note);
                }
            }
            for row in &mut table.rows {
                if house.contains(row.id.as_str()) {
                    note.missing.push(format!("row {} of the house", row.id));
                    note.known.extend(
                        ["row", "because", "crew", "set"].map(|kind| format!("{kind} {}", row.id)),
                    );
                    continue;
                }
                if let Some(plain) = &mut row.plain
                    && let Some(text) = note.find("row", &row.id, &self.rows)
                {
                    plain.clone_from(text);
                }
                if let Some(text) = note.find("because", &row.id, &self.because) {
                    row.because.clone_from(text);
                }
                if let Some(line) = &mut row.crew
                    && let Some(text) = note.find("crew", &row.id, &self.crew)
                {
                    if same_gaps(line, text) {
                        line.clone_from(text);
                    } else {
                        note.missing.push(format!("crew {}: other gaps", row.id));
                    }
                }
                self.source(&mut row.source, note);
                let words = self.set.get(&row.id);
                for (key, value) in &mut row.set {
                    let Set::Text(own) = value else {
                        continue;
                    };
                    match words.and_then(|w| w.get(key)) {
                        Some(text) => {
                            note.known.insert(format!("set {}", row.id));
                            own.clone_from(text);
                        }
                        // A word alone names a stage or who waits; a number is one anywhere.
                        None if !NOT_ON_PAPERS.contains(&key.as_str())
                            && own.split(' ').filter(|w| is_word(w)).count() > 1 =>
                        {
                            note.missing.push(format!("set {} {key}", row.id));
                        }
                        None => {}
                    }
                }
            }
        }
    }

    /// A source in the language, where it holds more than the name of a document.
    fn source(&self, own: &mut SourceNote, note: &mut Notes) {
        let small = |w: &str| is_word(w) && w.chars().all(char::is_lowercase);
        match self.sources.get(&own.source) {
            Some(text) => {
                note.known.insert(format!("source {}", own.source));
                own.source.clone_from(text);
            }
            None if own.source.split(' ').any(small) => {
                let name = format!("source {}", own.source);
                if !note.missing.contains(&name) {
                    note.missing.push(name);
                }
            }
            None => {}
        }
    }

    /// The vocabulary anew, its facts in the same order, so that their numbers stay.
    fn vocabulary(&self, pack: &mut Pack, note: &mut Notes) {
        let old = std::mem::take(&mut pack.vocabulary);
        let mut new = Vocabulary::default();
        new.replaced_figures.clone_from(&old.replaced_figures);
        new.glossary.clone_from(&old.glossary);
        for (_, fact) in old.facts() {
            let mut fact = fact.clone();
            let words = note.find("fact", &fact.id, &self.facts);
            if let FactKind::Choice { values, .. } = &mut fact.kind {
                for value in values {
                    // A verdict or standing is told by its own fact's words, a cause by its name.
                    let own = words.and_then(|w| w.values.get(&value.id));
                    let same = self.same_words(&value.id, &value.name);
                    match own.cloned().or(same) {
                        Some(text) => value.name = text,
                        None if value.name.contains(char::is_alphabetic) => note
                            .missing
                            .push(format!("fact {}: value {}", fact.id, value.id)),
                        None => {}
                    }
                }
            }
            if let Some(words) = words {
                let silent = fact.silent.as_mut().map(|s| &mut s.because);
                for (part, own, text) in [
                    ("name", Some(&mut fact.name), &words.name),
                    ("ask", fact.ask.as_mut(), &words.ask),
                    ("measure", fact.measure.as_mut(), &words.measure),
                    ("caution", fact.caution.as_mut(), &words.caution),
                    ("silent", silent, &words.silent),
                ] {
                    match (own, text) {
                        (Some(own), Some(text)) => own.clone_from(text),
                        (Some(_), None) => note.missing.push(format!("fact {}: {part}", fact.id)),
                        (None, _) => {}
                    }
                }
            }
            new.add(fact);
        }
        for figure in old.figures() {
            let mut figure = figure.clone();
            if let Some(name) = note.find("figure", &figure.id, &self.figures) {
                figure.name.clone_from(name);
            }
            self.source(&mut figure.source, note);
            new.add_figure(figure);
        }
        for term in &mut new.glossary {
            if let Some(words) = note.find("glossary", &term.term, &self.glossary) {
                term.term.clone_from(&words.term);
                term.means.clone_from(&words.means);
            }
        }
        pack.vocabulary = new;
    }

    /// A value that is a cause or candidate, or is called alike under the entry `same`.
    fn same_words(&self, id: &str, name: &str) -> Option<String> {
        let cause = self.causes.get(id).map(|c| c.name.clone());
        let candidate = || {
            self.candidates
                .values()
                .find_map(|t| t.get(id))
                .map(|c| c.name.clone())
        };
        let alike = || self.facts.get("same")?.values.get(name).cloned();
        alike().or(cause).or_else(candidate)
    }
}

/// Whether two texts have the same gaps, in any order.
fn same_gaps(a: &str, b: &str) -> bool {
    let sorted = |text: &str| {
        let mut gaps = gaps(text);
        gaps.sort();
        gaps
    };
    sorted(a) == sorted(b)
}

/// What was looked for and not found.
#[derive(Default)]
struct Notes {
    known: HashSet<String>,
    missing: Vec<String>,
}

impl Notes {
    fn find<'a, T>(&mut self, kind: &str, id: &str, map: &'a BTreeMap<String, T>) -> Option<&'a T> {
        let name = format!("{kind} {id}");
        let found = map.get(id);
        if found.is_none() {
            self.missing.push(name.clone());
        }
        self.known.insert(name);
        found
    }

    fn coverage(self, overlay: &Overlay) -> Coverage {
        let mut entries: Vec<String> = Vec::new();
        let mut add = |kind: &str, ids: Vec<&String>| {
            entries.extend(ids.into_iter().map(|id| format!("{kind} {id}")));
        };
        add("cause", overlay.causes.keys().collect());
        add("table", overlay.tables.keys().collect());
        add("scale", overlay.scales.keys().collect());
        add("source", overlay.sources.keys().collect());
        add(
            "fact",
            overlay.facts.keys().filter(|k| *k != "same").collect(),
        );
        add("figure", overlay.figures.keys().collect());
        add("row", overlay.rows.keys().collect());
        add("because", overlay.because.keys().collect());
        add("crew", overlay.crew.keys().collect());
        add("set", overlay.set.keys().collect());
        add("glossary", overlay.glossary.keys().collect());
        for (table, list) in &overlay.candidates {
            entries.extend(list.keys().map(|c| format!("candidate {table} {c}")));
        }
        entries.retain(|e| !self.known.contains(e));
        Coverage {
            missing: self.missing,
            unknown: entries,
        }
    }
}

/// Sentences by their English, in another language or in a contractor's own words: his own before
/// those that ship.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Sentences {
    layers: Vec<Arc<Layer>>,
}

/// The sentences of a file: whole ones, and ones with gaps.
#[derive(Debug, Default, PartialEq, Eq)]
struct Layer {
    whole: HashMap<String, String>,
    gapped: Vec<(Vec<Piece>, Vec<Piece>)>,
}

#[derive(Debug, Clone, PartialEq, Eq)]
enum Piece {
    Text(String),
    Gap(String),
}

impl Piece {
    /// Letters that must stand there as they are.
    fn fixed(&self) -> usize {
        match self {
            Piece::Text(text) => text.len(),
            Piece::Gap(_) => 0,
        }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SentenceFile {
    sentences: BTreeMap<String, String>,
}

/// What a row sets that no paper prints: the name a sealer is looked for by among the materials, the
/// steps a caution stands before, and what a drill tempts with.
const NOT_ON_PAPERS: [&str; 3] = ["sealer", "before", "tempting_but_wrong"];
/// Parts of a paper that are the client's or nobody's words.
const LEFT: [&str; 16] = [
    "client",
    "address",
    "inspector",
    "reference",
    "caption",
    "remarks",
    "uri",
    "rules",
    "version",
    "id",
    "iso_date",
    "not_inspected",
    "house_rules",
    "anchor",
    "term_id",
    "offer",
];
/// Depth to which gaps are filled with sentences in their turn.
const DEPTH: usize = 24;
/// Longest figure with its unit, letters.
const FIGURE: usize = 48;
/// Days as the plan writes them.
const DAYS: [&str; 7] = ["Mon ", "Tue ", "Wed ", "Thu ", "Fri ", "Sat ", "Sun "];
/// Words that give an English sentence away.
const ENGLISH: [&str; 22] = [
    "the", "is", "are", "it", "for", "at", "of", "not", "from", "with", "that", "by", "when",
    "let", "be", "under", "until", "into", "then", "no", "on", "as",
];

impl Sentences {
    /// The sentences of a language that ships, read once; none for others.
    ///
    /// # Errors
    /// When the file is broken, or a sentence fills a gap that its English does not have.
    pub fn built_in(language: &str) -> Result<Sentences, PhraseError> {
        static SPANISH: LazyLock<Result<Sentences, PhraseError>> = LazyLock::new(|| {
            let (name, text) = SPANISH_SENTENCES;
            let file: SentenceFile =
                serde_yaml::from_str(text).map_err(|e| PhraseError::Broken {
                    file: name.to_owned(),
                    why: e.to_string(),
                })?;
            Sentences::default().under(name, text, file.sentences)
        });
        if language == "es" {
            SPANISH.clone()
        } else {
            Ok(Sentences::default())
        }
    }

    /// These with others before them: `text` is the file that holds them, for messages.
    ///
    /// # Errors
    /// When a sentence fills a gap that its English does not have.
    pub fn under(
        mut self,
        name: &str,
        text: &str,
        sentences: BTreeMap<String, String>,
    ) -> Result<Sentences, PhraseError> {
        let mut layer = Layer::default();
        for (english, other) in sentences {
            let (from, to) = (pieces(&english), pieces(&other));
            let strange = to
                .iter()
                .find(|p| matches!(p, Piece::Gap(_)) && !from.contains(p));
            if let Some(Piece::Gap(gap)) = strange {
                return Err(PhraseError::Key {
                    file: name.to_owned(),
                    line: text
                        .lines()
                        .position(|l| l.contains(english.as_str()))
                        .map_or(0, |i| i + 1),
                    why: format!("nothing fills in `{{{gap}}}` of `{english}`"),
                });
            }
            if from.iter().any(|p| matches!(p, Piece::Gap(_))) {
                layer.gapped.push((from, to));
            } else {
                layer.whole.insert(english.to_lowercase(), other);
            }
        }
        // The most particular first.
        let fixed = |p: &[Piece]| -> usize { p.iter().map(Piece::fixed).sum() };
        layer
            .gapped
            .sort_by_key(|(from, _)| std::cmp::Reverse(fixed(from)));
        if !layer.whole.is_empty() || !layer.gapped.is_empty() {
            self.layers.insert(0, Arc::new(layer));
        }
        Ok(self)
    }

    /// No sentences: the paper stays English.
    pub fn none() -> &'static Sentences {
        static NONE: LazyLock<Sentences> = LazyLock::new(Sentences::default);
        &NONE
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.layers.is_empty()
    }

    /// A text in the other language, as far as it is known there.
    pub fn turn(&self, text: &str) -> String {
        self.turned(text, DEPTH).unwrap_or_else(|| text.to_owned())
    }

    fn turned(&self, text: &str, depth: usize) -> Option<String> {
        if depth == 0 || !text.contains(char::is_alphabetic) {
            return None;
        }
        let trimmed = text.trim();
        for layer in &self.layers {
            if let Some(found) = self.turned_in(layer, trimmed, depth) {
                return Some(found);
            }
        }
        // Several sentences or parts, each on its own. A sentence keeps its full stop.
        for mark in [". ", "; ", ": ", ", "] {
            if !trimmed.contains(mark) {
                continue;
            }
            let keep = if mark == ". " { 1 } else { 0 };
            let mut any = false;
            let mut out = String::with_capacity(trimmed.len());
            for part in trimmed.split_inclusive(mark) {
                let ends = part.ends_with(mark);
                let cut = if ends { mark.len() - keep } else { 0 };
                let (own, tail) = part.split_at(part.len() - cut);
                let turned = self.turned(own, depth - 1);
                any |= turned.is_some();
                out.push_str(turned.as_deref().unwrap_or(own));
                out.push_str(tail);
            }
            if any {
                return Some(out);
            }
        }
        None
    }

    /// A text by the sentences of one file.
    fn turned_in(&self, layer: &Layer, trimmed: &str, depth: usize) -> Option<String> {
        let whole = |text: &str| layer.whole.get(&text.to_lowercase());
        if let Some(found) = whole(trimmed) {
            return Some(like(trimmed, found));
        }
        // The same without its full stop.
        if let Some(found) = whole(trimmed.trim_end_matches('.')) {
            let found = found.trim_end_matches('.');
            return Some(like(trimmed, &format!("{found}.")));
        }
        for (from, to) in &layer.gapped {
            // Joining words alone (`and`, `or`) turn lists, never a sentence that stays English.
            let short: usize = from.iter().map(Piece::fixed).sum();
            let joins = matches!(from.first(), Some(Piece::Gap(_))) && short < 7 && from != to;
            if joins && !from.iter().all(is_figure) && is_english(trimmed) {
                continue;
            }
            // As it stands, or without the full stop that ends it.
            let stop = || Some((fit(from, trimmed.strip_suffix('.')?)?, "."));
            let Some((gaps, end)) = fit(from, trimmed).map(|g| (g, "")).or_else(stop) else {
                continue;
            };
            let mut out = String::new();
            for piece in to {
                match piece {
                    Piece::Text(t) => out.push_str(t),
                    Piece::Gap(name) => {
                        if let Some((_, value)) = gaps.iter().find(|(n, _)| n == name) {
                            out.push_str(
                                &self
                                    .turned(value, depth - 1)
                                    .unwrap_or_else(|| (*value).to_owned()),
                            );
                        }
                    }
                }
            }
            out.push_str(end);
            return Some(like(trimmed, &out));
        }
        None
    }

    /// A paper's data with every text turned.
    ///
    /// # Errors
    /// When it can't be written as data.
    pub fn data<V: Serialize>(&self, view: &V) -> serde_json::Result<Value> {
        let mut data = serde_json::to_value(view)?;
        if !self.is_empty() {
            self.turn_all(&mut data);
        }
        Ok(data)
    }

    /// Turns every text of a paper's data, but for the record's own words.
    fn turn_all(&self, value: &mut Value) {
        match value {
            Value::String(text) if text.contains("<svg") => *text = self.turn_drawing(text),
            Value::String(text) => *text = self.turn(text),
            Value::Array(list) if is_rich(list) => {
                let whole: String = list
                    .iter()
                    .filter_map(|s| s.get("text").and_then(Value::as_str))
                    .collect();
                let turned = self.turn(&whole);
                if turned != whole {
                    *list = remark_terms(&turned, list);
                }
            }
            Value::Array(list) => list.iter_mut().for_each(|v| self.turn_all(v)),
            Value::Object(map) => {
                // The caption of a table is ours, that of a photo is not.
                let table = map.contains_key("rows");
                let left = |k: &str| LEFT.contains(&k) && !(table && k == "caption");
                for (_, v) in map.iter_mut().filter(|(k, _)| !left(k)) {
                    self.turn_all(v);
                }
            }
            _ => {}
        }
    }

    /// What is read aloud of a drawing. Its labels were turned before they were drawn; the record's
    /// own words in it stay.
    fn turn_drawing(&self, svg: &str) -> String {
        let mut out = String::with_capacity(svg.len());
        let mut rest = svg;
        while let Some((tag, after)) = rest.split_once('>') {
            out.push_str(&self.turn_label(tag));
            out.push('>');
            let (text, next) = match after.find('<') {
                Some(i) => after.split_at(i),
                None => (after, ""),
            };
            let tag = tag.trim_start();
            let aloud = tag.starts_with("<title") || tag.starts_with("<desc");
            if aloud && !text.trim().is_empty() {
                out.push_str(&self.turn(text));
            } else {
                out.push_str(text);
            }
            rest = next;
        }
        out.push_str(rest);
        out
    }

    fn turn_label(&self, tag: &str) -> String {
        let Some((before, rest)) = tag.split_once("aria-label=\"") else {
            return tag.to_owned();
        };
        let Some((label, after)) = rest.split_once('"') else {
            return tag.to_owned();
        };
        format!("{before}aria-label=\"{}\"{after}", self.turn(label))
    }
}

/// More than the short form of a unit.
fn is_word(text: &str) -> bool {
    text.chars().filter(|c| c.is_alphabetic()).count() > 2
}

fn is_rich(list: &[Value]) -> bool {
    !list.is_empty()
        && list.iter().all(|s| {
            s.as_object()
                .is_some_and(|o| o.len() == 2 && o.contains_key("text") && o.contains_key("term"))
        })
}

/// Marks that a sentence had before it was turned, where its words still stand in it.
fn remark_terms(text: &str, old: &[Value]) -> Vec<Value> {
    let span = |text: &str, term: Value| serde_json::json!({"text": text, "term": term});
    let mut spans = Vec::new();
    let mut rest = text;
    for mark in old
        .iter()
        .filter(|s| s.get("term").is_some_and(|t| !t.is_null()))
    {
        let word = mark.get("text").and_then(Value::as_str).unwrap_or_default();
        if let Some((before, after)) = rest.split_once(word).filter(|_| !word.is_empty()) {
            if !before.is_empty() {
                spans.push(span(before, Value::Null));
            }
            spans.push(mark.clone());
            rest = after;
        }
    }
    if !rest.is_empty() {
        spans.push(span(rest, Value::Null));
    }
    spans
}

/// Whether a text is still English, by its frequent small words.
fn is_english(text: &str) -> bool {
    text.split(|c: char| !c.is_alphanumeric())
        .any(|w| ENGLISH.contains(&w.to_lowercase().as_str()) && w != "no")
}

/// With the first letter as large or small as that of the English.
fn like(english: &str, other: &str) -> String {
    let mut chars = other.chars();
    let (Some(first), Some(model)) = (chars.next(), english.chars().next()) else {
        return other.to_owned();
    };
    // English writes days large wherever they stand.
    if DAYS.iter().any(|d| english.starts_with(d)) {
        return other.to_owned();
    }
    let word = chars.clone().next().is_some_and(char::is_lowercase);
    if model.is_uppercase() && first.is_lowercase() {
        first.to_uppercase().chain(chars).collect()
    } else if model.is_lowercase() && first.is_uppercase() && word {
        first.to_lowercase().chain(chars).collect()
    } else {
        other.to_owned()
    }
}

/// Whether a gap takes a number or measure.
fn is_number(gap: &str) -> bool {
    gap.starts_with('n') && gap.len() < 3
}

/// Fixed text, or a gap for a number.
fn is_figure(piece: &Piece) -> bool {
    match piece {
        Piece::Text(_) => true,
        Piece::Gap(name) => is_number(name),
    }
}

fn pieces(text: &str) -> Vec<Piece> {
    let mut out = Vec::new();
    let mut rest = text;
    while let Some((before, after)) = rest.split_once('{') {
        let Some((name, next)) = after.split_once('}') else {
            break;
        };
        if !before.is_empty() {
            out.push(Piece::Text(before.to_owned()));
        }
        out.push(Piece::Gap(name.to_owned()));
        rest = next;
    }
    if !rest.is_empty() {
        out.push(Piece::Text(rest.to_owned()));
    }
    out
}

/// What fills the gaps of a sentence, if the text is one of its kind. A gap named `n…` takes a
/// number or measure: it begins with a digit.
fn fit<'a, 'b>(pattern: &'a [Piece], text: &'b str) -> Option<Vec<(&'a str, &'b str)>> {
    fit_from(pattern, text, true)
}

/// The rest of a text that begins with another, its first letter large or small.
fn strip_like<'b>(text: &'b str, start: &str) -> Option<&'b str> {
    let (mut own, mut other) = (text.chars(), start.chars());
    let (a, b) = (own.next()?, other.next()?);
    let alike = a == b || a.to_lowercase().eq(b.to_lowercase());
    own.as_str().strip_prefix(other.as_str()).filter(|_| alike)
}

/// The same from a place in the text; at its very start a gap takes no more than one part of it.
fn fit_from<'a, 'b>(
    pattern: &'a [Piece],
    text: &'b str,
    opens: bool,
) -> Option<Vec<(&'a str, &'b str)>> {
    let Some((first, after)) = pattern.split_first() else {
        return text.is_empty().then(Vec::new);
    };
    match first {
        Piece::Text(fixed) if opens => fit_from(after, strip_like(text, fixed)?, false),
        Piece::Text(fixed) => fit_from(after, text.strip_prefix(fixed.as_str())?, false),
        Piece::Gap(name) => {
            let ends: Vec<usize> = match after.first() {
                None => vec![text.len()],
                Some(Piece::Text(next)) => {
                    text.match_indices(next.as_str()).map(|(i, _)| i).collect()
                }
                Some(Piece::Gap(_)) => return None,
            };
            for end in ends.into_iter().filter(|e| *e > 0) {
                let (value, rest) = text.split_at(end);
                let digit = value
                    .trim_start_matches(['-', '+', '−'])
                    .starts_with(|c: char| c.is_ascii_digit());
                // Only the last gap may run on over the end of a sentence.
                let runs_on = value.contains(". ");
                let part = opens && (runs_on || value.contains("; "));
                let last = match after {
                    [] => true,
                    [Piece::Text(end)] => end == ".",
                    _ => false,
                };
                let figure = digit
                    && value.len() <= FIGURE
                    && ![": ", "; "].iter().any(|m| value.contains(m));
                if is_number(name) && !figure || part || runs_on && !last {
                    continue;
                }
                if let Some(mut gaps) = fit_from(after, rest, false) {
                    gaps.push((name, value));
                    return Some(gaps);
                }
            }
            None
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn laid() -> (Pack, Coverage) {
        let mut pack = crate::rules::builtin().unwrap();
        let coverage = Overlay::built_in("es").unwrap().unwrap().lay(&mut pack);
        (pack, coverage)
    }

    #[test]
    fn the_overlay_names_nothing_unknown_and_keeps_the_fingerprint() {
        let before = crate::rules::builtin().unwrap();
        let (after, coverage) = laid();
        assert_eq!(coverage.unknown, Vec::<String>::new());
        assert_eq!(before.fingerprint, after.fingerprint);
        for (id, fact) in before.vocabulary.facts() {
            assert_eq!(after.vocabulary.fact(id).id, fact.id);
        }
    }

    #[test]
    fn everything_the_rules_say_is_spanish() {
        let (_, coverage) = laid();
        assert_eq!(coverage.missing, Vec::<String>::new());
    }

    #[test]
    fn sentences_are_turned_with_their_gaps_and_the_rest_is_left() {
        let es = Sentences::built_in("es").unwrap();
        assert_eq!(
            es.turn("about 7 chances in 10"),
            "cerca de 7 posibilidades en 10"
        );
        assert_eq!(es.turn("June 4, 2026"), "4 de junio de 2026");
        assert_eq!(
            es.turn("Area A (patio) could still come to parchar or reemplazar todo."),
            "La zona A (patio) aún puede resultar en parchar o reemplazar todo."
        );
        // No half-translated sentence: what is not known stays whole.
        let both = "Keep off for 24 h after the last of it is laid. Use another way in, or stay out that long.";
        assert_eq!(
            es.turn(both),
            "No la pise durante 24 h después de colocar lo último. Use otra entrada o espere ese tiempo."
        );
        let own = "Keep the gate shut and tell the neighbour.";
        assert_eq!(es.turn(own), own);
    }

    #[test]
    fn a_gap_that_nothing_fills_is_named_with_its_line() {
        let text = "sentences:\n  \"Bay {n1}\": Tramo {n2}\n";
        let own = BTreeMap::from([("Bay {n1}".to_owned(), "Tramo {n2}".to_owned())]);
        let said = Sentences::default()
            .under("own.yaml", text, own)
            .unwrap_err()
            .to_string();
        assert!(said.contains("line 2") && said.contains("{n2}"), "{said}");
    }
}
