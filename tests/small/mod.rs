//! Small packs out of texts as written.

use ringtrue::rules::{Pack, load_texts};
use ringtrue::source::Problems;

/// A pack from its facts and tables, without proofs.
pub fn plain<T: AsRef<str>>(facts: &str, tables: &[T]) -> Pack {
    let mut problems = Problems::default();
    let texts = std::iter::once(facts).chain(tables.iter().map(AsRef::as_ref));
    load_texts(texts.map(|text| ("pack.yaml", text)), &mut problems)
        .unwrap_or_else(|| panic!("{}", problems.render(false)))
}

/// Head of a table of which the first row that fires counts.
pub const FIRST: &str = "kind: grade\nhit: first";

/// A table with a head of its kind. Rows are written as `when: …, then: …` and numbered from 0 behind what
/// it gives.
pub fn table(gives: &str, scope: &str, head: &str, rows: &[&str]) -> String {
    let rows: String = (rows.iter().enumerate())
        .map(|(i, row)| {
            format!(
                "  - {{id: {gives}-{i}, {row}, because: B., source: S, provenance: practice}}\n"
            )
        })
        .collect();
    format!(
        "table: {gives}\ntitle: T\nscope: {scope}\nquestion: Q?\n{head}\ngives: {gives}\nrows:\n{rows}"
    )
}
