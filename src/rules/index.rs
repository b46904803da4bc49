//! For every input and cell of a table, the rows whose condition on that input the cell passes.
//!
//! The rows that may fire over a box are then the intersection, over the inputs, of the union of
//! the columns of its cells; the rows that must fire, of their intersection. One word holds 64
//! rows, so a table costs one step an input instead of one a condition.

use serde::{Deserialize, Serialize};

use crate::facts::{Bits, FactId, FactKind, Vocabulary};

use super::cells::Cells;

/// The columns of a table.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub(super) struct Index {
    /// Words a column.
    words: usize,
    /// Rows of the table as bits.
    all: Vec<u64>,
    columns: Vec<u64>,
    pub inputs: Vec<Input>,
}

/// An input and where its columns start. After the columns of the cells come two for the whole
/// domain, since unknown facts are common: its union and its intersection.
#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
pub(super) struct Input {
    /// Fact, by index.
    pub fact: u16,
    /// Scope of the fact, by index.
    pub scope: u8,
    width: u8,
    start: u32,
    domain: Bits,
}

impl Index {
    /// Columns of a table with `rows` rows; `flat[starts[r]..starts[r + 1]]` are the conditions
    /// of row `r`.
    pub fn new(
        vocabulary: &Vocabulary,
        cells: &[Cells],
        inputs: &[FactId],
        flat: &[(u16, Bits)],
        starts: &[u32],
    ) -> Index {
        let rows = starts.len().saturating_sub(1);
        let words = rows.div_ceil(64).max(1);
        let mut all = vec![0u64; words];
        for r in 0..rows {
            all[r / 64] |= 1 << (r % 64);
        }
        let mut index = Index {
            words,
            all,
            columns: Vec::new(),
            inputs: Vec::with_capacity(inputs.len()),
        };
        for &id in inputs {
            let fact = vocabulary.fact(id);
            let width = match &fact.kind {
                FactKind::Choice { values, .. } => values.len(),
                FactKind::Quantity(_) => cells[usize::from(id.0)].count(),
            };
            index.inputs.push(Input {
                fact: id.0,
                scope: fact.scope as u8,
                // At most 128 cells.
                width: width as u8,
                start: index.columns.len() as u32,
                domain: cells[usize::from(id.0)].domain,
            });
            for _ in 0..width + 2 {
                index.columns.extend_from_slice(&index.all);
            }
        }
        for r in 0..rows {
            for &(input, mask) in &flat[starts[r] as usize..starts[r + 1] as usize] {
                let input = index.inputs[usize::from(input)];
                for cell in Bits::first(usize::from(input.width)).less(mask).iter() {
                    let at = input.start as usize + cell * words + r / 64;
                    index.columns[at] &= !(1 << (r % 64));
                }
            }
        }
        for i in 0..index.inputs.len() {
            let input = index.inputs[i];
            for w in 0..words {
                let (mut union, mut both) = (0, u64::MAX);
                for cell in input.domain.iter() {
                    let column = index.columns[input.start as usize + cell * words + w];
                    union |= column;
                    both &= column;
                }
                let at = input.start as usize + usize::from(input.width) * words + w;
                index.columns[at] = union;
                index.columns[at + words] = both;
            }
        }
        index
    }

    /// Writes the rows that may fire and those that must, over a box of inputs.
    pub fn rows(&self, inputs: &[Bits], may: &mut Vec<u64>, must: &mut Vec<u64>) {
        may.clear();
        may.extend_from_slice(&self.all);
        must.clear();
        must.extend_from_slice(&self.all);
        for (input, &cells) in self.inputs.iter().zip(inputs) {
            for w in 0..self.words {
                let (union, both) = self.column(input, cells, w);
                may[w] &= union;
                must[w] &= both;
            }
        }
    }

    /// As [`Index::rows`] for a table of up to 64 rows, without touching memory; `None` for a
    /// larger one.
    pub fn few_rows(&self, inputs: &[Bits]) -> Option<(u64, u64)> {
        let [all] = self.all[..] else { return None };
        let (mut may, mut must) = (all, all);
        for (input, &cells) in self.inputs.iter().zip(inputs) {
            let (union, both) = self.column(input, cells, 0);
            may &= union;
            must &= both;
        }
        Some((may, must))
    }

    /// Union and intersection of the columns of some cells, one word of them.
    #[inline]
    fn column(&self, input: &Input, cells: Bits, w: usize) -> (u64, u64) {
        let at = |cell: usize| {
            self.columns
                .get(input.start as usize + cell * self.words + w)
                .copied()
                .unwrap_or(0)
        };
        if cells.is_one() {
            let column = at(cells.0.trailing_zeros() as usize);
            (column, column)
        } else if cells == input.domain {
            let width = usize::from(input.width);
            (at(width), at(width + 1))
        } else {
            cells
                .iter()
                .map(at)
                .fold((0, u64::MAX), |(u, b), c| (u | c, b & c))
        }
    }

    /// Whether two cells of an input pass the same rows.
    pub fn alike(&self, input: usize, a: usize, b: usize) -> bool {
        let Some(input) = self.inputs.get(input) else {
            return false;
        };
        let column = |cell: usize| {
            let from = input.start as usize + cell * self.words;
            self.columns.get(from..from + self.words)
        };
        column(a) == column(b)
    }
}

/// The set bits of a list of words, in order.
pub(super) fn set_bits(words: &[u64]) -> impl Iterator<Item = usize> + '_ {
    words.iter().enumerate().flat_map(|(w, &word)| {
        let mut rest = word;
        std::iter::from_fn(move || {
            (rest != 0).then(|| {
                let i = rest.trailing_zeros() as usize;
                rest &= rest - 1;
                w * 64 + i
            })
        })
    })
}
