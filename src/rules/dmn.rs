//! Grade tables as OMG DMN 1.3 XML, for any tool that speaks the open standard.
//!
//! Facts from outside become input data, tables become decisions with information requirements,
//! hit policies stay as they are (`collect` becomes `RULE ORDER`, whose result is the list of the
//! rows that fire, in order). Numbers stand in the canonical unit of their kind, named in each
//! input's description. Facts made by rankings, and facts gathered from several things, have no
//! counterpart in a decision table and come in as input data.
//!
//! A table's `applies` has no counterpart either, so it is written into the rows: with `otherwise`
//! as rows for what it shuts out, without as conditions of every row; where no row fires, the
//! decision is null, which is what DMN has for "nothing is said".

use std::fmt::Write as _;

use crate::facts::{Bits, FactId, FactKind};
use crate::units::Kind;

use super::model::{Body, Hit, Pack, Row, Table, Then, Work};

/// Namespace of the DMN 1.3 model.
const DMN: &str = "https://www.omg.org/spec/DMN/20191111/MODEL/";
/// Namespace of the FEEL 1.3 types.
const FEEL: &str = "https://www.omg.org/spec/DMN/20191111/FEEL/";
/// Namespace of the exported names.
pub const NAMESPACE: &str = "urn:ringtrue:rules";

/// The grade tables of a pack as DMN 1.3 XML.
pub fn dmn(pack: &Pack) -> String {
    let mut out = String::from("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
    let exported: Vec<usize> = (0..pack.tables.len())
        .filter(|&t| !matches!(pack.tables[t].body, Body::Rank(_)))
        .collect();
    let _ = writeln!(
        out,
        "<definitions xmlns=\"{DMN}\" xmlns:feel=\"{FEEL}\" namespace=\"{NAMESPACE}\" \
         name=\"ringtrue rules {}\" id=\"ringtrue\" exporter=\"ringtrue\" \
         exporterVersion=\"{}\" expressionLanguage=\"{FEEL}\" \
         typeLanguage=\"{FEEL}\">",
        pack.fingerprint,
        env!("CARGO_PKG_VERSION")
    );
    let mut facts: Vec<FactId> = Vec::new();
    for &t in &exported {
        let made = super::graph::made_by(&pack.tables[t]);
        for &fact in pack.tables[t].inputs.iter().chain(&made) {
            if !facts.contains(&fact) {
                facts.push(fact);
            }
        }
    }
    facts.sort_unstable();
    for &fact in &facts {
        item(pack, fact, &mut out);
    }
    for &fact in &facts {
        if decision_of(pack, fact).is_none() {
            input_data(pack, fact, &mut out);
        }
    }
    for t in exported {
        decision(pack, &pack.tables[t], &mut out);
    }
    out.push_str("</definitions>\n");
    out
}

/// The exported table that makes a fact.
fn decision_of(pack: &Pack, fact: FactId) -> Option<&Table> {
    match pack.maker(fact)? {
        Work::Table(t) => {
            let table = &pack.tables[t];
            (!matches!(table.body, Body::Rank(_))).then_some(table)
        }
        Work::Gather(_) => None,
    }
}

/// Name of a table's decision: what its fact is called, so that FEEL expressions can read it.
pub fn decision_name(pack: &Pack, table: &Table) -> String {
    match &table.body {
        Body::Grade { gives, .. } => pack.vocabulary.fact(*gives).id.clone(),
        _ => table.id.clone(),
    }
}

fn escape(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
}

fn type_of(pack: &Pack, fact: FactId) -> String {
    match pack.vocabulary.fact(fact).kind {
        FactKind::Quantity(_) => "number".into(),
        FactKind::Choice { .. } => format!("t_{}", pack.vocabulary.fact(fact).id),
    }
}

/// A FEEL string literal.
fn literal(word: &str) -> String {
    format!("\"{}\"", word.replace('\\', "\\\\").replace('"', "\\\""))
}

fn item(pack: &Pack, id: FactId, out: &mut String) {
    let fact = pack.vocabulary.fact(id);
    if let FactKind::Choice { values, .. } = &fact.kind {
        let words: Vec<String> = values.iter().map(|v| literal(&v.id)).collect();
        let _ = writeln!(
            out,
            "  <itemDefinition name=\"t_{0}\" label=\"{1}\" id=\"t_{0}\">\n    \
             <typeRef>string</typeRef>\n    <allowedValues><text>{2}</text></allowedValues>\n  \
             </itemDefinition>",
            fact.id,
            escape(&fact.name),
            escape(&words.join(", "))
        );
    }
}

/// Name of the unit numbers of a kind are exported in.
pub fn canonical_unit(kind: Kind) -> &'static str {
    match kind {
        Kind::Length => "mm",
        Kind::Area => "m2",
        Kind::Volume => "L",
        Kind::Mass => "kg",
        Kind::Temperature => "degrees Celsius",
        Kind::Pressure => "MPa",
        Kind::Share => "a fraction of one",
        Kind::Slope => "rise over run",
        Kind::Duration => "days",
        Kind::Speed => "km/h",
        Kind::Coverage => "m2/L",
        Kind::SpreadRate => "kg/m2/h",
        Kind::Number => "a bare number",
    }
}

fn input_data(pack: &Pack, id: FactId, out: &mut String) {
    let fact = pack.vocabulary.fact(id);
    let unit = match fact.kind {
        FactKind::Quantity(kind) => format!(", in {}", canonical_unit(kind)),
        FactKind::Choice { .. } => String::new(),
    };
    let mut about = format!("{} of {}{unit}.", fact.name, fact.scope.named());
    if let Some(ask) = &fact.ask {
        let _ = write!(about, " {ask}");
    }
    let _ = writeln!(
        out,
        "  <inputData name=\"{0}\" id=\"i_{0}\" label=\"{1}\">\n    \
         <description>{2}</description>\n    <variable name=\"{0}\" typeRef=\"{3}\"/>\n  \
         </inputData>",
        fact.id,
        escape(&fact.name),
        escape(&about),
        type_of(pack, id)
    );
}

fn decision(pack: &Pack, table: &Table, out: &mut String) {
    let name = decision_name(pack, table);
    let (policy, result) = match &table.body {
        Body::Grade {
            hit: Hit::Unique,
            gives,
            ..
        } => ("UNIQUE", Some(*gives)),
        Body::Grade { gives, .. } => ("FIRST", Some(*gives)),
        _ => ("RULE ORDER", None),
    };
    let result_type = result.map_or_else(|| "string".to_owned(), |f| type_of(pack, f));
    let mut about = format!("{}.", table.title);
    if let Some(scale) = &table.scale {
        let _ = write!(about, " Scale: {scale}.");
    }
    let _ = writeln!(
        out,
        "  <decision name=\"{name}\" id=\"d_{}\" label=\"{}\">\n    \
         <description>{}</description>\n    <question>{}</question>\n    \
         <variable name=\"{name}\"{}/>",
        table.id,
        escape(&table.title),
        escape(&about),
        escape(&table.question),
        // The rows that fire are a list, which has no named type here.
        result.map_or_else(String::new, |_| format!(" typeRef=\"{result_type}\""))
    );
    for &fact in &table.inputs {
        let (tag, href) = match decision_of(pack, fact) {
            Some(from) => ("requiredDecision", format!("#d_{}", from.id)),
            None => (
                "requiredInput",
                format!("#i_{}", pack.vocabulary.fact(fact).id),
            ),
        };
        let _ = writeln!(
            out,
            "    <informationRequirement><{tag} href=\"{href}\"/></informationRequirement>"
        );
    }
    let _ = writeln!(
        out,
        "    <decisionTable hitPolicy=\"{policy}\" outputLabel=\"{}\">",
        escape(&table.title)
    );
    for &id in &table.inputs {
        let fact = pack.vocabulary.fact(id);
        let unit = match fact.kind {
            FactKind::Quantity(kind) => format!(", {}", canonical_unit(kind)),
            FactKind::Choice { .. } => String::new(),
        };
        let _ = writeln!(
            out,
            "      <input label=\"{}\"><inputExpression typeRef=\"{}\"><text>{}</text>\
             </inputExpression></input>",
            escape(&format!("{}{unit}", fact.name)),
            type_of(pack, id),
            fact.id
        );
    }
    let _ = writeln!(
        out,
        "      <output name=\"{name}\" typeRef=\"{result_type}\"/>\n      \
         <annotation name=\"row\"/>\n      <annotation name=\"as written\"/>\n      \
         <annotation name=\"because\"/>\n      <annotation name=\"source\"/>"
    );
    rules(pack, table, out);
    out.push_str("    </decisionTable>\n  </decision>\n");
}

/// The rows, with what `applies` shuts out written into them.
fn rules(pack: &Pack, table: &Table, out: &mut String) {
    let all = |input: usize| whole(pack, table.inputs[input]);
    let open: Vec<Bits> = (0..table.inputs.len()).map(all).collect();
    let mut inside = open.clone();
    if let Body::Grade {
        otherwise: Some(bits),
        gives,
        ..
    } = &table.body
    {
        // Where several values are possible outside, no one of them is said.
        let values = pack.vocabulary.fact(*gives).values();
        let said = bits
            .lowest()
            .filter(|_| bits.is_one())
            .and_then(|i| values.get(i))
            .map_or_else(|| "null".to_owned(), |v| literal(&v.id));
        // Only one condition fails in each of these rows, so no two of them overlap.
        for (i, &(input, mask)) in table.flat_applies.iter().enumerate() {
            let input = usize::from(input);
            let mut outside = inside.clone();
            outside[input] = outside[input].less(mask);
            if !outside[input].is_empty() {
                let fact = &pack.vocabulary.fact(table.inputs[input]).id;
                let id = format!("{}-applies-{}", table.id, i + 1);
                let written = format!("not {fact} {}", table.applies[i].text);
                let note = [
                    id.as_str(),
                    written.as_str(),
                    "The table does not apply.",
                    "follows from the table",
                ];
                rule(pack, table, &outside, &said, note, out);
            }
            inside[input] = inside[input].and(mask);
        }
    } else {
        for &(input, mask) in &table.flat_applies {
            let slot = &mut inside[usize::from(input)];
            *slot = slot.and(mask);
        }
    }
    // With the rows for what is shut out before them, rows of a first table need not repeat it.
    let first_with_otherwise = matches!(
        table.body,
        Body::Grade {
            hit: Hit::First,
            otherwise: Some(_),
            ..
        }
    );
    for (r, row) in table.rows.iter().enumerate() {
        let mut cells = if first_with_otherwise {
            open.clone()
        } else {
            inside.clone()
        };
        for &(input, mask) in table.conditions(r) {
            let slot = &mut cells[usize::from(input)];
            *slot = slot.and(mask);
        }
        // A row that can never fire is no row.
        if cells.iter().any(|c| c.is_empty()) {
            continue;
        }
        let written: Vec<String> = row
            .when
            .iter()
            .map(|c| format!("{} {}", pack.vocabulary.fact(c.fact).id, c.text))
            .collect();
        let source = format!("{} ({})", row.source.source, row.source.provenance.words());
        let written = written.join("; ");
        let note = [&row.id, written.as_str(), &row.because, source.as_str()];
        rule(pack, table, &cells, &result(pack, table, row), note, out);
    }
}

/// Every cell of a fact.
fn whole(pack: &Pack, id: FactId) -> Bits {
    let fact = pack.vocabulary.fact(id);
    match fact.kind {
        FactKind::Choice { .. } => fact.all_bits(),
        FactKind::Quantity(_) => Bits::first(pack.cells[usize::from(id.0)].count()),
    }
}

fn result(pack: &Pack, table: &Table, row: &Row) -> String {
    match (&table.body, &row.then) {
        (Body::Grade { gives, .. }, Then::Class(class)) => pack
            .vocabulary
            .fact(*gives)
            .values()
            .get(*class)
            .map_or_else(String::new, |v| literal(&v.id)),
        _ => literal(&row.id),
    }
}

fn rule(
    pack: &Pack,
    table: &Table,
    cells: &[Bits],
    result: &str,
    note: [&str; 4],
    out: &mut String,
) {
    let _ = write!(out, "      <rule>");
    for (&fact, &cells) in table.inputs.iter().zip(cells) {
        let _ = write!(
            out,
            "<inputEntry><text>{}</text></inputEntry>",
            escape(&unary(pack, fact, cells))
        );
    }
    let _ = write!(
        out,
        "<outputEntry><text>{}</text></outputEntry>",
        escape(result)
    );
    for text in note {
        let _ = write!(
            out,
            "<annotationEntry><text>{}</text></annotationEntry>",
            escape(text)
        );
    }
    out.push_str("</rule>\n");
}

/// A set of cells as a FEEL unary test.
pub fn unary(pack: &Pack, id: FactId, cells: Bits) -> String {
    let fact = pack.vocabulary.fact(id);
    if whole(pack, id).within(cells) {
        return "-".into();
    }
    if let FactKind::Choice { values, .. } = &fact.kind {
        let words: Vec<String> = cells
            .iter()
            .filter_map(|i| values.get(i))
            .map(|v| literal(&v.id))
            .collect();
        return words.join(", ");
    }
    let lines = &pack.cells[usize::from(id.0)];
    let mut parts = Vec::new();
    let mut rest = cells;
    while let Some(first) = rest.lowest() {
        let mut last = first;
        while rest.has(last + 1) {
            last += 1;
        }
        rest = rest.less(Bits::first(last + 1));
        let s = lines.segment(first, last);
        parts.push(match (s.lo.is_finite(), s.hi.is_finite()) {
            (false, _) if s.hi_closed => format!("<= {}", number(s.hi)),
            (false, _) => format!("< {}", number(s.hi)),
            (true, false) if s.lo_closed => format!(">= {}", number(s.lo)),
            (true, false) => format!("> {}", number(s.lo)),
            (true, true) if s.lo == s.hi => number(s.lo),
            (true, true) => format!(
                "{}{}..{}{}",
                if s.lo_closed { '[' } else { '(' },
                number(s.lo),
                number(s.hi),
                if s.hi_closed { ']' } else { ')' }
            ),
        });
    }
    parts.join(", ")
}

/// A number as FEEL writes it: plain decimals, no exponent.
pub fn number(x: f64) -> String {
    format!("{x}")
}
