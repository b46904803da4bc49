//! The figures of the trade that a plan reads, and what was taken because the record is silent.

use serde::Serialize;
use thiserror::Error;

use super::model::Sourced;
use crate::facts::{Interval, Provenance, Vocabulary};
use crate::units::{Kind, System};

/// A figure that the rule pack lacks.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("the rules have no figure `{id}`, which the plan of work needs")]
pub struct MissingFigure {
    /// Name of the figure.
    pub id: String,
}

/// Something taken from the trade because the record does not say.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Taken {
    /// What it is.
    pub what: String,
    /// Value, as the trade writes it.
    pub value: String,
    /// Where it comes from.
    pub source: String,
    /// How near to the source we got.
    pub provenance: Provenance,
}

/// Reads figures and keeps a list of those that stand in for something the record could say.
#[derive(Debug)]
pub struct Figures<'v> {
    vocabulary: &'v Vocabulary,
    system: System,
    taken: Vec<Taken>,
}

impl<'v> Figures<'v> {
    /// Figures of a rule pack; values are written in `system`.
    pub fn new(vocabulary: &'v Vocabulary, system: System) -> Self {
        Figures {
            vocabulary,
            system,
            taken: Vec::new(),
        }
    }

    /// Units that values are written in.
    pub fn system(&self) -> System {
        self.system
    }

    /// A figure, least and greatest, in its kind's canonical unit.
    ///
    /// # Errors
    /// The pack has no such figure.
    pub fn get(&self, id: &str) -> Result<Interval, MissingFigure> {
        self.vocabulary
            .figure(id)
            .map(|f| f.value)
            .ok_or_else(|| MissingFigure { id: id.to_owned() })
    }

    /// A figure that stands in for something the record does not say: it is listed with the plan.
    ///
    /// # Errors
    /// The pack has no such figure.
    pub fn take(&mut self, id: &str) -> Result<Interval, MissingFigure> {
        let figure = self
            .vocabulary
            .figure(id)
            .ok_or_else(|| MissingFigure { id: id.to_owned() })?;
        let value = if figure.kind == Kind::Number {
            figure.text.clone()
        } else {
            figure.kind.write(figure.value, self.system)
        };
        self.note(
            &figure.name,
            value,
            &figure.source.source,
            figure.source.provenance,
        );
        Ok(figure.value)
    }

    /// Lists something taken that is no figure of the pack.
    pub fn note(&mut self, what: &str, value: String, source: &str, provenance: Provenance) {
        let taken = Taken {
            what: what.to_owned(),
            value,
            source: source.to_owned(),
            provenance,
        };
        if !self.taken.contains(&taken) {
            self.taken.push(taken);
        }
    }

    /// Source of a figure in words, for pages.
    pub fn source(&self, id: &str) -> String {
        self.vocabulary
            .figure(id)
            .map_or_else(String::new, |f| f.source.source.clone())
    }

    /// The greatest of a share, with its source.
    ///
    /// # Errors
    /// The pack has no such figure.
    pub fn sourced(&self, id: &str) -> Result<Sourced, MissingFigure> {
        let figure = self
            .vocabulary
            .figure(id)
            .ok_or_else(|| MissingFigure { id: id.to_owned() })?;
        Ok(Sourced {
            share: figure.value.hi,
            source: figure.source.source.clone(),
            provenance: figure.source.provenance,
        })
    }

    /// Everything taken, in the order of first use.
    pub fn into_taken(self) -> Vec<Taken> {
        self.taken
    }
}
