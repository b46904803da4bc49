//! Graphs as SVG and as DOT: boxes in layers from left to right, lines between them.
//!
//! Takes boxes and lines between them, gives pictures that stand alone. Knows nothing of what the
//! boxes stand for.

use std::collections::HashSet;
use std::fmt::Write as _;

use super::escape;

/// How a box is drawn. Told apart by its border and corner, not by colour alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// Something given from outside: round ends.
    Given,
    /// Something made: a plain box.
    Made,
    /// Something gathered: a doubled border.
    Gathered,
    /// Something that does not matter to the answer: a dashed border.
    Faint,
}

/// A box.
#[derive(Debug, Clone)]
pub struct Tile {
    /// Name, unique in the graph.
    pub id: String,
    /// Lines of text; the first is the title.
    pub lines: Vec<String>,
    /// How it is drawn.
    pub shape: Shape,
}

/// A line from one box to another, by index, with a word on it.
#[derive(Debug, Clone)]
pub struct Line {
    /// Tile it starts from.
    pub from: usize,
    /// Tile it leads to.
    pub to: usize,
    /// Word on it; may be empty.
    pub word: String,
}

/// A graph without loops. Lines that would close a loop are drawn, but do not order the layers.
#[derive(Debug, Clone, Default)]
pub struct Graph {
    /// Title, for readers of the picture.
    pub title: String,
    /// Boxes.
    pub boxes: Vec<Tile>,
    /// Lines.
    pub lines: Vec<Line>,
}

const CHAR: f64 = 7.0;
const LEADING: f64 = 16.0;
const PAD: f64 = 8.0;
const GAP_X: f64 = 70.0;
const GAP_Y: f64 = 14.0;
/// Sweeps that bring boxes nearer to those they are joined with.
const SWEEPS: usize = 8;

struct Laid {
    x: f64,
    y: f64,
    width: f64,
    height: f64,
}

impl Graph {
    /// The graph in the DOT language.
    pub fn dot(&self) -> String {
        let quote = |text: &str| text.replace('\\', "\\\\").replace('"', "\\\"");
        let mut out = String::from(
            "digraph {\n  rankdir=LR;\n  node [shape=box, fontname=\"sans-serif\", fontsize=11];\n  edge [fontname=\"sans-serif\", fontsize=9];\n",
        );
        if !self.title.is_empty() {
            let _ = writeln!(out, "  label=\"{}\";", quote(&self.title));
        }
        for b in &self.boxes {
            let lines: Vec<String> = b.lines.iter().map(|l| quote(l)).collect();
            let style = match b.shape {
                Shape::Given => ", style=rounded",
                Shape::Made => "",
                Shape::Gathered => ", peripheries=2",
                Shape::Faint => ", style=dashed",
            };
            let _ = writeln!(
                out,
                "  \"{}\" [label=\"{}\"{style}];",
                quote(&b.id),
                lines.join("\\n")
            );
        }
        for l in &self.lines {
            if let (Some(a), Some(b)) = (self.boxes.get(l.from), self.boxes.get(l.to)) {
                let word = if l.word.is_empty() {
                    String::new()
                } else {
                    format!(" [label=\"{}\"]", quote(&l.word))
                };
                let _ = writeln!(out, "  \"{}\" -> \"{}\"{word};", quote(&a.id), quote(&b.id));
            }
        }
        out.push_str("}\n");
        out
    }

    /// The layer of each box: one more than the deepest box that leads to it.
    fn layers(&self) -> Vec<usize> {
        let n = self.boxes.len();
        let mut layer = vec![0usize; n];
        // A box can't lie deeper than there are boxes, which also ends loops.
        for _ in 0..n {
            let mut moved = false;
            for l in &self.lines {
                if l.from < n && l.to < n && l.from != l.to && layer[l.to] <= layer[l.from] {
                    let deeper = layer[l.from] + 1;
                    if deeper < n {
                        layer[l.to] = deeper;
                        moved = true;
                    }
                }
            }
            if !moved {
                break;
            }
        }
        layer
    }

    /// Boxes of each layer, ordered so that lines cross little.
    fn ordered(&self) -> Vec<Vec<usize>> {
        let layer = self.layers();
        let depth = layer.iter().max().map_or(0, |d| d + 1);
        let mut rows: Vec<Vec<usize>> = vec![Vec::new(); depth];
        for (i, &l) in layer.iter().enumerate() {
            rows[l].push(i);
        }
        let mut place = vec![0.0f64; self.boxes.len()];
        let number = |rows: &[Vec<usize>], place: &mut [f64]| {
            for row in rows {
                for (k, &i) in row.iter().enumerate() {
                    place[i] = (k as f64 + 0.5) / row.len() as f64;
                }
            }
        };
        number(&rows, &mut place);
        for sweep in 0..SWEEPS {
            for row in &mut rows {
                let pull = |i: usize| {
                    let near = self.lines.iter().filter_map(|l| {
                        let (a, b) = if sweep % 2 == 0 {
                            (l.from, l.to)
                        } else {
                            (l.to, l.from)
                        };
                        (b == i && a < place.len()).then(|| place[a])
                    });
                    let (sum, count) = near.fold((0.0, 0usize), |(s, c), p| (s + p, c + 1));
                    if count == 0 {
                        place[i]
                    } else {
                        sum / count as f64
                    }
                };
                let mut keyed: Vec<(f64, usize)> = row.iter().map(|&i| (pull(i), i)).collect();
                keyed.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
                *row = keyed.into_iter().map(|(_, i)| i).collect();
            }
            number(&rows, &mut place);
        }
        rows
    }

    /// The graph as an SVG picture.
    pub fn svg(&self) -> String {
        let rows = self.ordered();
        let size = |b: &Tile| {
            let longest = b.lines.iter().map(|l| l.chars().count()).max().unwrap_or(0);
            (
                longest as f64 * CHAR + 2.0 * PAD,
                b.lines.len().max(1) as f64 * LEADING + 2.0 * PAD,
            )
        };
        let mut laid: Vec<Option<Laid>> = self.boxes.iter().map(|_| None).collect();
        let height =
            |row: &Vec<usize>| -> f64 { row.iter().map(|&i| size(&self.boxes[i]).1 + GAP_Y).sum() };
        let tallest = rows.iter().map(height).fold(0.0, f64::max);
        let mut x = GAP_Y;
        for row in &rows {
            let mut y = GAP_Y + (tallest - height(row)) / 2.0;
            let mut widest = 0.0f64;
            for &i in row {
                let (width, height) = size(&self.boxes[i]);
                laid[i] = Some(Laid {
                    x,
                    y,
                    width,
                    height,
                });
                y += height + GAP_Y;
                widest = widest.max(width);
            }
            x += widest + GAP_X;
        }
        let (width, height) = ((x - GAP_X + GAP_Y).max(1.0), tallest + 2.0 * GAP_Y);
        let mut out = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" role=\"img\" viewBox=\"0 0 {width:.0} {height:.0}\" \
             width=\"{width:.0}\" height=\"{height:.0}\" font-family=\"sans-serif\" font-size=\"12\">\
             <title>{}</title><desc>{} boxes joined by {} lines, from left to right.</desc>\
             <defs><marker id=\"arrow\" viewBox=\"0 0 8 8\" refX=\"8\" refY=\"4\" markerWidth=\"7\" markerHeight=\"7\" orient=\"auto\">\
             <path d=\"M0 0L8 4L0 8z\" fill=\"#555\"/></marker></defs>\
             <rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>\n",
            escape(&self.title),
            self.boxes.len(),
            self.lines.len()
        );
        let mut drawn: HashSet<(usize, usize)> = HashSet::new();
        for l in &self.lines {
            if !drawn.insert((l.from, l.to)) {
                continue;
            }
            let (Some(Some(a)), Some(Some(b))) = (laid.get(l.from), laid.get(l.to)) else {
                continue;
            };
            let words: Vec<&str> = self
                .lines
                .iter()
                .filter(|m| (m.from, m.to) == (l.from, l.to) && !m.word.is_empty())
                .map(|m| m.word.as_str())
                .collect();
            let (x1, y1) = (a.x + a.width, a.y + a.height / 2.0);
            let (x2, y2) = (b.x, b.y + b.height / 2.0);
            let bend = (x2 - x1).abs().max(40.0) / 2.0;
            let _ = writeln!(
                out,
                "<path d=\"M{x1:.1} {y1:.1}C{:.1} {y1:.1} {:.1} {y2:.1} {x2:.1} {y2:.1}\" fill=\"none\" stroke=\"#777\" marker-end=\"url(#arrow)\"><title>{}</title></path>",
                x1 + bend,
                x2 - bend,
                escape(&words.join(", "))
            );
        }
        for (b, at) in self.boxes.iter().zip(&laid) {
            let Some(at) = at else { continue };
            let (radius, dash, ink) = match b.shape {
                Shape::Given => (12, "", "#111"),
                Shape::Made | Shape::Gathered => (2, "", "#111"),
                Shape::Faint => (2, " stroke-dasharray=\"4 3\"", "#666"),
            };
            let _ = write!(
                out,
                "<g><rect x=\"{:.1}\" y=\"{:.1}\" width=\"{:.1}\" height=\"{:.1}\" rx=\"{radius}\" fill=\"#fff\" stroke=\"{ink}\"{dash}/>",
                at.x, at.y, at.width, at.height
            );
            if b.shape == Shape::Gathered {
                let _ = write!(
                    out,
                    "<rect x=\"{:.1}\" y=\"{:.1}\" width=\"{:.1}\" height=\"{:.1}\" rx=\"1\" fill=\"none\" stroke=\"{ink}\"/>",
                    at.x + 3.0,
                    at.y + 3.0,
                    at.width - 6.0,
                    at.height - 6.0
                );
            }
            for (k, line) in b.lines.iter().enumerate() {
                let _ = write!(
                    out,
                    "<text x=\"{:.1}\" y=\"{:.1}\" fill=\"{ink}\"{}>{}</text>",
                    at.x + PAD,
                    at.y + PAD + LEADING * (k as f64 + 0.75),
                    if k == 0 { " font-weight=\"bold\"" } else { "" },
                    escape(line)
                );
            }
            out.push_str("</g>\n");
        }
        out.push_str("</svg>\n");
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn graph() -> Graph {
        let b = |id: &str, shape| Tile {
            id: id.to_owned(),
            lines: vec![id.to_owned(), "say \"<&>\"".to_owned()],
            shape,
        };
        let l = |from, to| Line {
            from,
            to,
            word: "w".to_owned(),
        };
        Graph {
            title: "T".to_owned(),
            boxes: vec![
                b("a", Shape::Given),
                b("b", Shape::Made),
                b("c", Shape::Gathered),
                b("d", Shape::Faint),
            ],
            // A loop at the end must not hang.
            lines: vec![l(0, 1), l(1, 2), l(0, 2), l(3, 2), l(2, 1), l(9, 1)],
        }
    }

    #[test]
    fn boxes_stand_right_of_what_leads_to_them() {
        let mut g = graph();
        g.lines.truncate(4);
        assert_eq!(g.layers(), [0, 1, 2, 0]);
    }

    #[test]
    fn every_box_is_drawn_once_and_text_is_escaped_even_with_a_loop() {
        let svg = graph().svg();
        assert_eq!(svg.matches("<g>").count(), 4);
        assert!(svg.contains("&lt;&amp;&gt;") && !svg.contains("\"<&>\""));
        let dot = graph().dot();
        assert_eq!(dot.matches(" -> ").count(), 5);
        assert!(dot.contains("say \\\"<&>\\\""));
    }
}
