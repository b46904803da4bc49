//! Finding the fact of the thing a person means, and saying facts in his words.

use anyhow::{anyhow, bail};

use crate::assessment::Describer;
use crate::facts::{Bits, Comes, FactId, Reader, Value};
use crate::rules::{Pack, Possible, Spot};
use crate::source::{Limits, Problems, SourceFile, nearest};

use super::Work;

/// The facts a person means by a fact's name and, if given, what it is about: `area A`, `A`,
/// `defect 3`, `3`, `the slab`.
///
/// # Errors
/// When there is no such fact or thing; names the nearest.
pub fn spots(work: &Work, fact: &str, about: Option<&str>) -> anyhow::Result<Vec<Spot>> {
    let id = fact_id(&work.pack, fact)?;
    let scope = work.pack.vocabulary.fact(id).scope;
    let things: Vec<usize> = work.ran.board.of_scope(scope).collect();
    let label = |t: usize| work.ran.board.label(t);
    let found: Vec<usize> = match about {
        None => things.clone(),
        Some(about) => {
            let wanted = about.trim().to_lowercase();
            things
                .iter()
                .copied()
                .filter(|&t| {
                    let label = label(t).to_lowercase();
                    label == wanted || label.ends_with(&format!(" {wanted}"))
                })
                .collect()
        }
    };
    if found.is_empty() {
        let names: Vec<&str> = things.iter().map(|&t| label(t)).collect();
        let fact = &work.pack.vocabulary.fact(id).id;
        if names.is_empty() {
            bail!(
                "`{fact}` is about {}, and the record has none",
                scope.named()
            );
        }
        bail!(
            "`{fact}` is about {}; there is no `{}` among {}",
            scope.named(),
            about.unwrap_or_default(),
            names.join(", ")
        );
    }
    Ok(found
        .into_iter()
        .map(|thing| Spot { thing, fact: id })
        .collect())
}

/// A fact by its name.
///
/// # Errors
/// When there is none; names the nearest.
pub fn fact_id(pack: &Pack, fact: &str) -> anyhow::Result<FactId> {
    let word = fact.trim().replace([' ', '-'], "_");
    pack.vocabulary.find(&word).ok_or_else(|| {
        let hint = nearest(&word, pack.vocabulary.facts().map(|(_, f)| f.id.as_str()))
            .map_or_else(String::new, |n| format!("; did you mean `{n}`?"));
        anyhow!("there is no fact `{fact}`{hint}")
    })
}

/// Reads a value of a fact as it would stand in a record.
///
/// # Errors
/// When it is no value of the fact, with how to write it.
pub fn value_of(pack: &Pack, id: FactId, text: &str) -> anyhow::Result<Value> {
    let fact = pack.vocabulary.fact(id);
    // Quoted, so that an inch mark or a colon in it is no matter to YAML.
    let quoted = format!(
        "\"{}\"",
        text.trim().replace('\\', "\\\\").replace('"', "\\\"")
    );
    let file = SourceFile::new(fact.id.as_str(), quoted);
    let mut problems = Problems::default();
    let value = file
        .yaml(Limits::default(), &mut problems)
        .and_then(|node| {
            fact.read_value(
                &mut Reader {
                    file: &file,
                    problems: &mut problems,
                },
                &node,
            )
        });
    value.ok_or_else(|| {
        let problem = problems.iter().next();
        let message = problem.map_or("it can't be read", |p| p.message.as_str());
        let hint = problem
            .and_then(|p| p.hint.as_deref())
            .map_or_else(String::new, |h| format!(" ({h})"));
        anyhow!("`{}`: {message}{hint}", fact.id)
    })
}

/// Cells of a value of a fact; every plausible one for an unknown value.
pub fn cells_of(pack: &Pack, id: FactId, value: Value) -> Bits {
    pack.cells
        .get(usize::from(id.0))
        .map_or(Bits::NONE, |c| c.of_value(value))
}

impl Work {
    /// The one who puts facts of this record into words.
    pub fn describer(&self) -> Describer<'_> {
        Describer {
            pack: &self.pack,
            survey: &self.survey,
            board: &self.ran.board,
            node: Some(&self.loaded.node),
            units: self.loaded.record.job.units,
        }
    }

    /// A fact from outside as the record has it, with its line: `12 mm (line 41)`.
    pub fn recorded(&self, spot: Spot) -> String {
        let read = self.describer().read(spot.fact, spot.thing);
        match (read.line, read.how.as_str()) {
            (Some(line), "recorded") => format!("{} (line {line})", read.value),
            (Some(line), how) => format!("{} (line {line}, {how})", read.value),
            (None, how) => format!("{} ({how})", read.value),
        }
    }

    /// What is possible for a fact, in one line. Facts from outside as the record has them.
    pub fn say(&self, of: &Possible) -> String {
        if self.is_given(of.spot) {
            self.recorded(of.spot)
        } else {
            of.text()
        }
    }

    /// Whether a fact comes from outside.
    pub fn is_given(&self, spot: Spot) -> bool {
        self.pack.maker(spot.fact).is_none()
            && !matches!(
                self.pack.vocabulary.fact(spot.fact).comes,
                Comes::Made | Comes::Gathered { .. }
            )
    }
}
