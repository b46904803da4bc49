//! Which column of a CSV file is which field of a row.

use std::collections::BTreeMap;

use serde::Deserialize;

use super::fields::{Fields, Slot};
use super::row::{Fault, Row, no_such_key, shortened};

/// A column mapping file.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Mapping {
    /// Field by the name of the column. Columns that are not named are left out.
    pub columns: BTreeMap<String, Column>,
    /// What holds for every row, by field: words, or measures with their units.
    #[serde(default)]
    pub fixed: BTreeMap<String, String>,
}

/// What a column holds.
#[derive(Debug, Clone, Deserialize)]
#[serde(untagged)]
pub enum Column {
    /// A field, its cells as the record wants them.
    Field(String),
    /// A field whose cells need their unit, or other words.
    With(With),
}

/// A field whose cells need their unit, or other words.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct With {
    /// The field.
    pub field: String,
    /// Unit put behind a cell that is a bare number.
    #[serde(default)]
    pub unit: Option<String>,
    /// Word of the record by word of the cell. Others stay as they are.
    #[serde(default)]
    pub words: BTreeMap<String, String>,
}

impl Mapping {
    /// Reads a mapping file.
    ///
    /// # Errors
    /// What is wrong, with line and column.
    pub fn read(text: &str) -> Result<Mapping, String> {
        serde_yaml::from_str(text).map_err(|e| {
            format!("{e} (write `columns:` with lines such as `Depth: {{field: depth, unit: in}}`, and `fixed:` for what holds for every row)")
        })
    }
}

/// The columns of a file, bound to fields.
#[derive(Debug, Default)]
pub struct Columns {
    bound: Vec<Option<(Slot, With)>>,
    fixed: Vec<(Slot, String)>,
    names: Vec<String>,
}

impl Columns {
    /// Binds the head of a file. Without a mapping the columns bear the names of the fields.
    ///
    /// # Errors
    /// A column or a fixed value that is no field, or a mapped column that is not there.
    pub fn bind(
        head: &csv::StringRecord,
        mapping: Option<&Mapping>,
        fields: &Fields,
    ) -> Result<Columns, String> {
        let slot = |key: &str| {
            fields.slot(key).ok_or_else(|| {
                let (message, hint) = no_such_key(fields, key);
                format!("{message} ({hint})")
            })
        };
        let names: Vec<String> = head.iter().map(|h| h.trim().to_owned()).collect();
        let mut columns = Columns::default();
        for name in &names {
            let with = match mapping {
                None => Some(With {
                    field: name.clone(),
                    unit: None,
                    words: BTreeMap::new(),
                }),
                Some(mapping) => mapping.columns.get(name).map(|column| match column {
                    Column::Field(field) => With {
                        field: field.clone(),
                        unit: None,
                        words: BTreeMap::new(),
                    },
                    Column::With(with) => with.clone(),
                }),
            };
            let bound = match with {
                Some(with) => Some((slot(&with.field)?, with)),
                None => None,
            };
            columns.bound.push(bound);
        }
        for (name, _) in mapping.iter().flat_map(|m| &m.columns) {
            if !names.contains(name) {
                let near = crate::source::nearest(name, names.iter().map(String::as_str));
                return Err(format!(
                    "the mapping names a column `{name}`, which the file lacks ({})",
                    near.map_or_else(
                        || format!("it has {}", names.join(", ")),
                        |n| format!("did you mean `{n}`?")
                    )
                ));
            }
        }
        for (key, value) in mapping.iter().flat_map(|m| &m.fixed) {
            let json = serde_json::Value::from(value.as_str()).to_string();
            columns.fixed.push((slot(key)?, json));
        }
        columns.names = names;
        Ok(columns)
    }

    /// Writes the cells of a line as JSON into `arena`, with where each begins and ends.
    pub fn texts(&self, line: &csv::StringRecord, arena: &mut String) -> Vec<(Slot, usize, usize)> {
        arena.clear();
        let mut out = Vec::with_capacity(line.len());
        for (cell, bound) in line.iter().zip(&self.bound) {
            let (Some((slot, with)), cell) = (bound, cell.trim()) else {
                continue;
            };
            if cell.is_empty() {
                continue;
            }
            let cell = with.words.get(cell).map_or(cell, String::as_str);
            let start = arena.len();
            // What is plain goes in as it is; the rest as JSON escapes it.
            let unit = with
                .unit
                .as_deref()
                .filter(|_| cell.ends_with(|c: char| c.is_ascii_digit()));
            if cell.bytes().all(|b| b >= b' ' && b != b'"' && b != b'\\') {
                arena.push('"');
                arena.push_str(cell);
                if let Some(unit) = unit {
                    arena.push(' ');
                    arena.push_str(unit);
                }
                arena.push('"');
            } else {
                let text = match unit {
                    Some(unit) => format!("{cell} {unit}"),
                    None => cell.to_owned(),
                };
                arena.push_str(&serde_json::Value::from(text).to_string());
            }
            out.push((*slot, start, arena.len()));
        }
        out
    }

    /// A row of cells written by [`Columns::texts`].
    ///
    /// # Errors
    /// The first thing wrong with it.
    pub fn row<'a>(
        &'a self,
        cells: &[(Slot, usize, usize)],
        arena: &'a str,
        count: usize,
        line: &str,
        fields: &Fields,
    ) -> Result<Row<'a>, Fault> {
        let fault = |text: &str, message: String, hint: String| Fault {
            column: None,
            key: None,
            text: shortened(text),
            message,
            hint,
        };
        if count != self.names.len() {
            return Err(fault(
                line,
                format!(
                    "the line has {count} cells, the head has {}",
                    self.names.len()
                ),
                "put a cell that holds a comma or a quote in quotes".to_owned(),
            ));
        }
        let mut row = Row::default();
        for &(slot, start, end) in cells {
            let raw = &arena[start..end];
            row.put(slot, raw)
                .map_err(|(message, hint)| fault(raw, message, hint.to_owned()))?;
        }
        for (slot, json) in &self.fixed {
            // A cell of its own comes before what holds for every row.
            let taken = match slot {
                Slot::Field(i) => row.get(*i).is_some(),
                _ => false,
            };
            if !taken {
                row.put(*slot, json)
                    .map_err(|(message, hint)| fault(json, message, hint.to_owned()))?;
            }
        }
        row.check(fields, line)?;
        Ok(row)
    }
}
