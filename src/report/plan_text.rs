//! The plan of work for the terminal.

use std::fmt::Write;

use anstyle::Style;

use super::plan_view::{PlanView, Section, Table};
use super::text::{columns, wrap};

/// Writes a plan, ending with a line break. `width` in columns.
pub fn plan(view: &PlanView, width: usize, colour: bool) -> String {
    let width = width.clamp(40, 100);
    let mut out = String::new();
    let _ = writeln!(out, "\n  {}", bold(&view.title, colour));
    for line in wrap(&view.subtitle, width - 2) {
        let _ = writeln!(out, "  {line}");
    }
    for s in &view.sections {
        section(s, width, colour, &mut out);
    }
    if !view.notes.is_empty() {
        let _ = writeln!(out, "\n  {}", bold("Look out", colour));
        for note in &view.notes {
            bullet(note, width, &mut out);
        }
    }
    if !view.taken.rows.is_empty() {
        table(&view.taken, width, colour, &mut out);
    }
    out
}

fn section(s: &Section, width: usize, colour: bool, out: &mut String) {
    let _ = writeln!(out, "\n  {}", bold(&s.title, colour));
    for sentence in &s.lead {
        bullet(sentence, width, out);
    }
    for t in s.tables.iter().filter(|t| !t.rows.is_empty()) {
        table(t, width, colour, out);
    }
}

fn bullet(text: &str, width: usize, out: &mut String) {
    for (i, line) in wrap(text, width - 4).iter().enumerate() {
        let _ = writeln!(out, "  {} {line}", if i == 0 { "-" } else { " " });
    }
}

fn bold(text: &str, colour: bool) -> String {
    if colour {
        let style = Style::new().bold();
        format!("{style}{text}{style:#}")
    } else {
        text.to_owned()
    }
}

/// A table with columns as wide as they need to be; where they do not fit, each row becomes a
/// block of `head: value` lines.
fn table(t: &Table, width: usize, colour: bool, out: &mut String) {
    const GAP: usize = 2;
    let n = t.head.len();
    let cell = |row: &[String], i: usize| row.get(i).map_or(0, |c| columns(c));
    let widths: Vec<usize> = (0..n)
        .map(|i| {
            t.rows
                .iter()
                .map(|r| cell(r, i))
                .max()
                .unwrap_or(0)
                .max(cell(&t.head, i))
        })
        .collect();
    let whole: usize = widths.iter().sum::<usize>() + GAP * n.saturating_sub(1) + 4;
    let _ = writeln!(out);
    for line in wrap(&t.caption, width - 4) {
        let _ = writeln!(out, "    {}", underline(&line, colour));
    }
    if whole <= width {
        let line = |row: &[String]| {
            let mut text = String::from("    ");
            for (i, w) in widths.iter().enumerate() {
                let c = row.get(i).map_or("", String::as_str);
                text.push_str(c);
                if i + 1 < n {
                    text.push_str(&" ".repeat(w.saturating_sub(columns(c)) + GAP));
                }
            }
            text.trim_end().to_owned()
        };
        let _ = writeln!(out, "{}", line(&t.head));
        for row in &t.rows {
            let _ = writeln!(out, "{}", line(row));
        }
        return;
    }
    for row in &t.rows {
        let mut parts = Vec::new();
        for (head, value) in t
            .head
            .iter()
            .zip(row)
            .skip(1)
            .filter(|(_, v)| !v.is_empty())
        {
            parts.push(if head.is_empty() {
                value.clone()
            } else {
                format!("{}: {value}", head.to_lowercase())
            });
        }
        let first = row.first().map_or("", String::as_str);
        let text = if parts.is_empty() {
            first.to_owned()
        } else {
            format!("{first}. {}", capital(&parts.join("; ")))
        };
        for (i, line) in wrap(&text, width - 6).iter().enumerate() {
            let _ = writeln!(out, "    {}{line}", if i == 0 { "" } else { "  " });
        }
    }
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars
        .next()
        .map_or_else(String::new, |c| c.to_uppercase().chain(chars).collect())
}

fn underline(text: &str, colour: bool) -> String {
    if colour {
        let style = Style::new().underline();
        format!("{style}{text}{style:#}")
    } else {
        text.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wide_tables_become_blocks_and_nothing_overflows() {
        let row = vec![
            "lay".to_owned(),
            "x".repeat(30),
            "a long sentence that does not fit".to_owned(),
        ];
        let t = Table {
            caption: "Days".into(),
            head: ["What", "How", ""].map(String::from).to_vec(),
            rows: vec![row],
        };
        let mut out = String::new();
        table(&t, 60, false, &mut out);
        assert!(
            out.contains("lay. How: xxx") && out.lines().all(|l| l.len() <= 60),
            "{out}"
        );
        let mut wide = String::new();
        table(&t, 100, false, &mut wide);
        assert!(wide.contains("What  How"), "{wide}");
    }
}
