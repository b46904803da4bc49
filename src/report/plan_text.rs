//! The plan of work for the terminal.

use std::fmt::Write;

use anstyle::Style;

use super::plan_view::{PlanView, Section, Table};
use super::text::{columns, wrap};

/// Writes a plan, ending with a line break. `width` in columns; `hours` with the long tables, such
/// as the forecast hour by hour.
pub fn plan(view: &PlanView, width: usize, colour: bool, hours: bool) -> String {
    let width = width.clamp(40, 120);
    let mut out = String::new();
    let _ = writeln!(out, "\n  {}", bold(&view.title, colour));
    for line in wrap(&view.subtitle, width - 2) {
        let _ = writeln!(out, "  {line}");
    }
    for s in &view.sections {
        section(s, width, colour, hours, &mut out);
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

fn section(s: &Section, width: usize, colour: bool, hours: bool, out: &mut String) {
    let _ = writeln!(out, "\n  {}", bold(&s.title, colour));
    for sentence in &s.lead {
        bullet(sentence, width, out);
    }
    let long = s.details.iter().filter(|_| hours);
    for t in s.tables.iter().chain(long).filter(|t| !t.rows.is_empty()) {
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

/// A table with columns as wide as they need to be. Where they do not fit the widest give way and
/// their cells run over several lines; where even that is too narrow, each row becomes a block of
/// heads and values.
fn table(t: &Table, width: usize, colour: bool, out: &mut String) {
    const GAP: usize = 2;
    const INDENT: usize = 4;
    let n = t.head.len();
    let cells = || std::iter::once(&t.head).chain(&t.rows);
    let widest = |i: usize, of: fn(&str) -> usize| {
        cells()
            .map(|r| r.get(i).map_or(0, |c| of(c)))
            .max()
            .unwrap_or(0)
    };
    let natural: Vec<usize> = (0..n).map(|i| widest(i, columns)).collect();
    let least: Vec<usize> = (0..n).map(|i| widest(i, longest_word)).collect();
    let room = width.saturating_sub(INDENT + GAP * n.saturating_sub(1));
    let _ = writeln!(out);
    for line in wrap(&t.caption, width - INDENT) {
        let _ = writeln!(out, "    {}", underline(&line, colour));
    }
    let Some(widths) = fit(&natural, &least, room) else {
        return blocks(t, width, out);
    };
    for (number, row) in cells().enumerate() {
        let wrapped: Vec<Vec<String>> = widths
            .iter()
            .enumerate()
            .map(|(i, w)| {
                row.get(i)
                    .filter(|c| !c.is_empty())
                    .map_or_else(Vec::new, |c| wrap(c, (*w).max(1)))
            })
            .collect();
        let lines = wrapped.iter().map(Vec::len).max().unwrap_or(0).max(1);
        for k in 0..lines {
            let mut text = " ".repeat(INDENT);
            for (i, w) in widths.iter().enumerate() {
                let c = wrapped
                    .get(i)
                    .and_then(|l| l.get(k))
                    .map_or("", String::as_str);
                text.push_str(c);
                if i + 1 < n {
                    text.push_str(&" ".repeat(w.saturating_sub(columns(c)) + GAP));
                }
            }
            let _ = writeln!(out, "{}", text.trim_end());
        }
        if number == 0 && n > 0 {
            let rule: Vec<String> = widths.iter().map(|w| "─".repeat(*w)).collect();
            let _ = writeln!(out, "    {}", rule.join(&" ".repeat(GAP)));
        }
    }
}

fn longest_word(text: &str) -> usize {
    text.split_whitespace().map(columns).max().unwrap_or(0)
}

/// Widths of columns within `room`: each as wide as it wants while there is room, the rest shared
/// evenly among the wide ones, none narrower than its longest word. `None` where they do not fit.
fn fit(natural: &[usize], least: &[usize], room: usize) -> Option<Vec<usize>> {
    if natural.iter().sum::<usize>() <= room {
        return Some(natural.to_vec());
    }
    // Short cells stay whole where they can; a column of sentences narrower than a dozen letters
    // reads badly.
    let (mut widths, mut spare) = [20, 12].into_iter().find_map(|whole| {
        let widths: Vec<usize> = natural
            .iter()
            .zip(least)
            .map(|(n, l)| (*l).max(whole).min(*n))
            .collect();
        let spare = room.checked_sub(widths.iter().sum())?;
        Some((widths, spare))
    })?;
    // One column at a time to whichever lacks most: a row is as tall as its most crowded cell.
    while spare > 0 {
        let (i, lack) = natural
            .iter()
            .zip(&widths)
            .map(|(n, w)| n.saturating_sub(*w) * 100 / (*w).max(1))
            .enumerate()
            .max_by_key(|(i, lack)| (*lack, std::cmp::Reverse(*i)))?;
        if lack == 0 {
            break;
        }
        if let Some(w) = widths.get_mut(i) {
            *w += 1;
        }
        spare -= 1;
    }
    Some(widths)
}

/// Rows as blocks: the first cell, then each head with its value.
fn blocks(t: &Table, width: usize, out: &mut String) {
    let label = t.head.iter().skip(1).map(|h| columns(h)).max().unwrap_or(0);
    let label = label.min(width / 3);
    for row in &t.rows {
        let first = row.first().map_or("", String::as_str);
        for line in wrap(first, width - 6) {
            let _ = writeln!(out, "    {line}");
        }
        for (head, value) in t.head.iter().zip(row).skip(1) {
            if value.is_empty() {
                continue;
            }
            for (i, line) in wrap(value, width.saturating_sub(8 + label).max(8))
                .iter()
                .enumerate()
            {
                let head = if i == 0 { head.as_str() } else { "" };
                let pad = label.saturating_sub(columns(head)) + 2;
                let _ = writeln!(out, "      {head}{}{line}", " ".repeat(pad));
            }
        }
    }
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

    fn days() -> Table {
        let row = vec![
            "lay".to_owned(),
            "x".repeat(30),
            "a long sentence that does not fit".to_owned(),
        ];
        Table {
            caption: "Days".into(),
            head: ["What", "How", ""].map(String::from).to_vec(),
            rows: vec![row],
        }
    }

    #[test]
    fn wide_tables_wrap_their_cells_and_nothing_overflows() {
        let mut out = String::new();
        table(&days(), 60, false, &mut out);
        assert!(
            out.contains("lay   xxx") && out.lines().all(|l| columns(l) <= 60),
            "{out}"
        );
        // The sentence stands in its own column, over two lines.
        let at = |part: &str| out.lines().find_map(|l| l.find(part));
        assert!(
            at("a long").is_some() && at("a long") == at("that does"),
            "{out}"
        );
        let mut wide = String::new();
        table(&days(), 100, false, &mut wide);
        assert!(wide.contains("What  How"), "{wide}");
    }

    #[test]
    fn what_no_column_can_hold_becomes_blocks() {
        let mut out = String::new();
        table(&days(), 40, false, &mut out);
        assert!(
            out.contains("    lay\n      How  xxx") && out.lines().all(|l| columns(l) <= 46),
            "{out}"
        );
    }
}
