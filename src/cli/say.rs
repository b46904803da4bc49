//! Talking on a terminal or through a pipe, a line at a time.

use std::io::{BufRead, Read, Write};

use anstyle::{AnsiColor, Style};

/// Longest line that is read, in bytes. What is longer is cut off.
const LONGEST: u64 = 64 * 1024;

/// Where questions go and answers come from.
pub struct Talk<R, W> {
    input: R,
    out: W,
    colour: bool,
    width: usize,
}

impl<R: BufRead, W: Write> Talk<R, W> {
    /// Talks through a reader and a writer, in lines of at most `width` columns.
    pub fn new(input: R, out: W, colour: bool, width: usize) -> Self {
        Talk {
            input,
            out,
            colour,
            width: width.min(90),
        }
    }

    /// A line, wrapped; `lead` stands before its first line and as much room before the others.
    pub fn line(&mut self, lead: &str, text: &str) -> std::io::Result<()> {
        self.styled(lead, text, Style::new())
    }

    /// A bold line.
    pub fn bold(&mut self, lead: &str, text: &str) -> std::io::Result<()> {
        self.styled(lead, text, Style::new().bold())
    }

    /// A line less loud than the others.
    pub fn dim(&mut self, lead: &str, text: &str) -> std::io::Result<()> {
        self.styled(lead, text, Style::new().dimmed())
    }

    /// A line that warns.
    pub fn alert(&mut self, lead: &str, text: &str) -> std::io::Result<()> {
        self.styled(lead, text, AnsiColor::Red.on_default().bold())
    }

    /// An empty line.
    pub fn gap(&mut self) -> std::io::Result<()> {
        writeln!(self.out)
    }

    fn styled(&mut self, lead: &str, text: &str, style: Style) -> std::io::Result<()> {
        let indent = lead.chars().count();
        let room = self.width.saturating_sub(indent).max(20);
        for (i, line) in wrap(text, room).iter().enumerate() {
            let before = match i {
                0 => lead.to_owned(),
                _ => " ".repeat(indent),
            };
            if self.colour {
                writeln!(self.out, "{before}{style}{line}{style:#}")?;
            } else {
                writeln!(self.out, "{before}{line}")?;
            }
        }
        Ok(())
    }

    /// Answers to choose from, numbered from 1; several on a line where they are short.
    pub fn picks(&mut self, names: &[&str]) -> std::io::Result<()> {
        let widest = names.iter().map(|n| n.chars().count()).max().unwrap_or(0) + 6;
        let columns = ((self.width.saturating_sub(2)) / widest.max(1)).clamp(1, 4);
        if columns == 1 || names.len() < 4 {
            for (i, name) in names.iter().enumerate() {
                self.line(&format!("  {:>2}  ", i + 1), name)?;
            }
            return Ok(());
        }
        // Read down the columns, as a list is.
        let rows = names.len().div_ceil(columns);
        for row in 0..rows {
            let mut line = String::from("  ");
            for column in 0..columns {
                let i = column * rows + row;
                let Some(name) = names.get(i) else { continue };
                let cell = format!("{:>2}  {name}", i + 1);
                line.push_str(&cell);
                if column + 1 < columns {
                    let pad = widest.saturating_sub(cell.chars().count());
                    line.push_str(&" ".repeat(pad));
                }
            }
            writeln!(self.out, "{}", line.trim_end())?;
        }
        Ok(())
    }

    /// Asks for a line. `None` at the end of the input.
    pub fn ask(&mut self) -> std::io::Result<Option<String>> {
        write!(self.out, "> ")?;
        self.out.flush()?;
        let mut bytes = Vec::new();
        let read = (&mut self.input)
            .take(LONGEST)
            .read_until(b'\n', &mut bytes)?;
        if read == 0 {
            writeln!(self.out)?;
            return Ok(None);
        }
        if bytes.last() != Some(&b'\n') && read as u64 == LONGEST {
            // The rest of a line that no person typed.
            let mut rest = Vec::new();
            while (&mut self.input)
                .take(LONGEST)
                .read_until(b'\n', &mut rest)?
                > 0
                && rest.last() != Some(&b'\n')
            {
                rest.clear();
            }
        }
        Ok(Some(String::from_utf8_lossy(&bytes).trim().to_owned()))
    }

    /// Lets everything written so far be seen.
    pub fn flush(&mut self) -> std::io::Result<()> {
        self.out.flush()
    }
}

/// A text in lines of at most `room` columns, a longer word on its own line.
pub fn wrap(text: &str, room: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        let longer = line.chars().count() + 1 + word.chars().count();
        if !line.is_empty() && longer > room {
            lines.push(std::mem::take(&mut line));
        }
        if !line.is_empty() {
            line.push(' ');
        }
        line.push_str(word);
    }
    if !line.is_empty() || lines.is_empty() {
        lines.push(line);
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_keep_to_their_room() {
        for line in wrap("a driveway of the usual kind, salted and scaled", 12) {
            assert!(line.chars().count() <= 12, "{line}");
        }
        assert_eq!(wrap("", 10), [""]);
        assert_eq!(wrap("one-very-long-word", 4), ["one-very-long-word"]);
    }

    #[test]
    fn a_line_without_end_and_a_very_long_one_are_read() {
        let long = format!("{}\nnext\nlast", "x".repeat(200_000));
        let mut talk = Talk::new(long.as_bytes(), Vec::new(), false, 80);
        assert_eq!(talk.ask().unwrap().unwrap().len(), 64 * 1024);
        assert_eq!(talk.ask().unwrap().as_deref(), Some("next"));
        assert_eq!(talk.ask().unwrap().as_deref(), Some("last"));
        assert_eq!(talk.ask().unwrap(), None);
    }
}
