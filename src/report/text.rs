//! The short summary for the terminal: verdict, why, a line for each area, what to measure next,
//! where the report was written.

use std::fmt::Write;

use anstyle::{AnsiColor, Style};

use super::language::Sentences;
use super::view::Brief;
use super::words::Rich;

/// How the summary is laid out.
#[derive(Debug, Clone, Copy)]
pub struct Layout<'a> {
    /// Columns of the terminal. Lines are kept to 80 even where there are more: longer ones read
    /// badly.
    pub columns: usize,
    /// Whether to use colour and weight.
    pub colour: bool,
    /// File that the report was written to.
    pub written: Option<&'a str>,
    /// The language of the report; the summary keeps to it.
    pub tongue: &'a Sentences,
}

impl Default for Layout<'_> {
    fn default() -> Self {
        Layout {
            columns: 80,
            colour: false,
            written: None,
            tongue: Sentences::none(),
        }
    }
}

/// Writes the summary, ending with a line break.
pub fn summary(view: &Brief, layout: Layout<'_>) -> String {
    let width = layout.columns.clamp(32, 80);
    let paint = Paint {
        colour: layout.colour,
    };
    let mut out = String::new();
    let v = &view.verdict;
    let say = |text: &str| layout.tongue.turn(text);

    let _ = writeln!(out);
    let who = format!(
        "{} · {} · {}",
        view.job.address, view.job.client, view.job.date
    );
    for line in wrap(&who, width.saturating_sub(2)) {
        let _ = writeln!(out, "  {}", paint.dim(&line));
    }
    let _ = writeln!(out);
    let mark = if v.firm { "(o)" } else { "( )" };
    let head = format!("{mark} {}", say(&v.headline));
    for line in wrap(&head, width.saturating_sub(2)) {
        let _ = writeln!(out, "  {}", paint.bold(&line));
    }
    let means = format!(
        "{}: {}",
        say(&v.mark).to_lowercase(),
        lower(&say(&v.mark_means))
    );
    for line in wrap(&means, width.saturating_sub(6)) {
        let _ = writeln!(
            out,
            "      {}",
            if v.firm {
                paint.dim(&line)
            } else {
                paint.alert(&line)
            }
        );
    }
    for sentence in &v.paragraph {
        for line in wrap(&say(&plain(sentence)), width.saturating_sub(6)) {
            let _ = writeln!(out, "      {line}");
        }
    }

    if !v.areas.is_empty() {
        let _ = writeln!(out);
        let ids = v
            .areas
            .iter()
            .map(|a| columns(&a.id))
            .max()
            .unwrap_or(1)
            .min(12);
        let names = v
            .areas
            .iter()
            .map(|a| columns(&a.name))
            .max()
            .unwrap_or(1)
            .min(width / 3);
        let left = 2 + ids + 2 + names + 2 + 4;
        for area in &v.areas {
            let mut lines =
                wrap(&say(&area.verdict), width.saturating_sub(left).max(16)).into_iter();
            let first = lines.next().unwrap_or_default();
            let mark = if area.firm { "(o)" } else { "( )" };
            let verdict = |text: &str| {
                if area.firm {
                    text.to_owned()
                } else {
                    paint.alert(text)
                }
            };
            let _ = writeln!(
                out,
                "  {}  {}  {mark} {}",
                paint.bold(&fill(&area.id, ids)),
                fill(&area.name, names),
                verdict(&first)
            );
            for line in lines {
                let _ = writeln!(out, "{:left$}{}", "", verdict(&line));
            }
        }
    }

    if !view.uncertain.questions.is_empty() {
        let _ = writeln!(out, "\n  {}", paint.bold(&say("Measure next")));
        for q in view.uncertain.questions.iter().take(3) {
            let text = format!(
                "{} [{}] {}.",
                say(&plain(&q.ask)),
                say(&q.about),
                say(&q.effort)
            );
            for (i, line) in wrap(&text, width.saturating_sub(6)).iter().enumerate() {
                let lead = if i == 0 {
                    format!("  {}. ", q.number)
                } else {
                    "     ".to_owned()
                };
                let _ = writeln!(out, "{lead}{line}");
            }
        }
        let more = view.uncertain.questions.len().saturating_sub(3) + view.uncertain.more;
        if more > 0 {
            let _ = writeln!(
                out,
                "     {}",
                paint.dim(&say(&format!("and {more} more in the report")))
            );
        }
    }

    if view.broken_photos > 0 {
        let text = format!(
            "{} of {} photos can't be shown; the report says which.",
            view.broken_photos, view.photos
        );
        let text = say(&text);
        let _ = writeln!(out);
        for line in wrap(&text, width.saturating_sub(2)) {
            let _ = writeln!(out, "  {}", paint.alert(&line));
        }
    }
    if let Some(file) = layout.written {
        let _ = writeln!(out, "\n  {}: {}", say("Report"), clean(file));
    }
    out
}

#[derive(Clone, Copy)]
struct Paint {
    colour: bool,
}

impl Paint {
    fn with(self, style: Style, text: &str) -> String {
        if self.colour {
            format!("{style}{text}{style:#}")
        } else {
            text.to_owned()
        }
    }

    fn bold(self, text: &str) -> String {
        self.with(Style::new().bold(), text)
    }

    fn dim(self, text: &str) -> String {
        self.with(Style::new().dimmed(), text)
    }

    fn alert(self, text: &str) -> String {
        self.with(AnsiColor::Yellow.on_default(), text)
    }
}

fn plain(rich: &Rich) -> String {
    rich.iter().map(|s| s.text.as_str()).collect()
}

fn lower(text: &str) -> String {
    let mut chars = text.chars();
    chars
        .next()
        .map_or_else(String::new, |c| c.to_lowercase().chain(chars).collect())
}

/// Text from a record may hold terminal commands; only what can be printed is let through.
fn clean(text: &str) -> String {
    text.chars()
        .filter(|c| {
            !c.is_control() && !matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
        })
        .collect()
}

/// Columns a text takes in a terminal: wide scripts and pictographs take two.
pub(super) fn columns(text: &str) -> usize {
    text.chars().map(column).sum()
}

fn column(c: char) -> usize {
    match c as u32 {
        0x0300..=0x036f | 0x200b..=0x200f | 0xfe00..=0xfe0f | 0x20d0..=0x20ff => 0,
        0x1100..=0x115f
        | 0x2e80..=0xa4cf
        | 0xac00..=0xd7a3
        | 0xf900..=0xfaff
        | 0xfe30..=0xfe6f
        | 0xff00..=0xff60
        | 0x1f300..=0x1faff => 2,
        _ => 1,
    }
}

/// Filled with blanks, or cut, to a width.
fn fill(text: &str, width: usize) -> String {
    let text = clean(text);
    let mut out = String::new();
    let mut used = 0;
    let long = columns(&text) > width;
    for c in text.chars() {
        let room = if long { width.saturating_sub(1) } else { width };
        if used + column(c) > room {
            break;
        }
        used += column(c);
        out.push(c);
    }
    if long {
        out.push('…');
        used += 1;
    }
    out.extend(std::iter::repeat_n(' ', width.saturating_sub(used)));
    out
}

/// Lines no wider than `width`; a longer word is broken.
pub(super) fn wrap(text: &str, width: usize) -> Vec<String> {
    let width = width.max(8);
    let mut lines = Vec::new();
    let mut line = String::new();
    let mut used = 0;
    for word in clean(text).split_whitespace() {
        let w = columns(word);
        if used > 0 && used + 1 + w > width {
            lines.push(std::mem::take(&mut line));
            used = 0;
        }
        if used > 0 {
            line.push(' ');
            used += 1;
        }
        for c in word.chars() {
            if used + column(c) > width {
                lines.push(std::mem::take(&mut line));
                used = 0;
            }
            line.push(c);
            used += column(c);
        }
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_keep_to_their_width() {
        let text =
            "a slab 混凝土 with averyveryverylongwordthatcannotbebrokenanywhere and 🧱🧱 bricks";
        for width in [8, 20, 40] {
            assert!(
                wrap(text, width).iter().all(|l| columns(l) <= width),
                "{width}"
            );
        }
        assert_eq!(wrap("", 20), Vec::<String>::new());
        assert_eq!(columns(&fill("混凝土板", 6)), 6);
    }

    #[test]
    fn terminal_commands_do_not_get_through() {
        assert_eq!(clean("a\u{1b}[31mb\u{202e}c"), "a[31mbc");
    }
}
