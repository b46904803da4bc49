//! YAML text to a tree of nodes with places.

use std::collections::{HashMap, HashSet};
use std::sync::Arc;

use saphyr_parser::{Event, Parser, ScalarStyle, Span};

use super::problem::{Problem, Problems};

/// A file's name (as the user gave it) and its text.
#[derive(Debug, Clone)]
pub struct SourceFile {
    /// Name shown in problems.
    pub name: Arc<str>,
    /// Whole text.
    pub text: Arc<str>,
}

/// Where a node stands: line and column count from 1, in characters.
#[derive(
    Debug,
    Clone,
    Copy,
    PartialEq,
    Eq,
    PartialOrd,
    Ord,
    Default,
    Hash,
    serde::Serialize,
    serde::Deserialize,
)]
pub struct Place {
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
    /// First byte of the text.
    pub start: usize,
    /// Byte past the text.
    pub end: usize,
}

/// A mapping key with its place.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Key {
    /// The key's text.
    pub text: String,
    /// Where it stands.
    pub place: Place,
}

/// A YAML node with its place.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Node {
    /// Where it stands.
    pub place: Place,
    /// What it holds.
    pub data: Data,
}

/// What a node holds. Scalars keep their text, so that `1-1/2 in` and `07` stay as written.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
pub enum Data {
    /// Nothing, `~` or `null`.
    Null,
    /// A scalar. `plain` is false when it was quoted or written as a block.
    Scalar {
        /// Text as written, without quotes.
        text: String,
        /// Whether YAML's own types (number, yes/no) may be read into it.
        plain: bool,
    },
    /// A sequence.
    List(Vec<Node>),
    /// A mapping in file order.
    Map(Vec<(Key, Node)>),
}

/// How much a file may hold before it is refused. Guards against hostile input.
#[derive(Debug, Clone, Copy)]
pub struct Limits {
    /// Bytes in the file.
    pub bytes: usize,
    /// Depth of nesting.
    pub depth: usize,
    /// Nodes, counting every use of an alias.
    pub nodes: usize,
}

impl Default for Limits {
    fn default() -> Self {
        Limits {
            bytes: 8 << 20,
            depth: 64,
            nodes: 400_000,
        }
    }
}

impl SourceFile {
    /// A file from its name and text.
    pub fn new(name: impl Into<Arc<str>>, text: impl Into<Arc<str>>) -> Self {
        SourceFile {
            name: name.into(),
            text: text.into(),
        }
    }

    /// Reads the one YAML document in the file.
    ///
    /// # Errors
    /// A file that is no YAML, nests deeper or holds more than `limits`, or is empty, gives the
    /// problem that stopped the reading. Repeated keys are problems too, but do not stop it.
    pub fn yaml(&self, limits: Limits, problems: &mut Problems) -> Option<Node> {
        if self.text.len() > limits.bytes {
            problems.push(
                Problem::error(
                    "file-too-large",
                    format!(
                        "the file has {} bytes, more than the {} that are read",
                        self.text.len(),
                        limits.bytes
                    ),
                )
                .in_file(self)
                .hint("split it, or leave out what is not part of the record"),
            );
            return None;
        }
        let mut builder = Builder {
            file: self,
            offsets: Offsets::new(&self.text),
            limits,
            stack: Vec::new(),
            anchors: HashMap::new(),
            nodes: 0,
            root: None,
        };
        let mut parser = Parser::new_from_str(&self.text);
        while let Some(event) = parser.next_event() {
            match event {
                Ok((event, span)) => match builder.event(event, span, problems) {
                    Ok(true) => {}
                    Ok(false) => break,
                    Err(problem) => {
                        problems.push(*problem);
                        return None;
                    }
                },
                Err(error) => {
                    let marker = error.marker();
                    let place =
                        builder
                            .offsets
                            .place_at(marker.index(), marker.line(), marker.col());
                    problems.push(
                        Problem::error("yaml", format!("this is not readable YAML: {}", error.info()))
                            .at(self, place)
                            .hint("check the indentation and quotes just above this place; text with a colon or an inch mark is best quoted"),
                    );
                    return None;
                }
            }
        }
        if builder.root.is_none() {
            problems.push(
                Problem::error("empty", "the file is empty")
                    .in_file(self)
                    .hint("`ringtrue starter` writes a commented record to begin with"),
            );
        }
        builder.root
    }
}

/// Character index to byte offset, for texts with characters beyond ASCII.
struct Offsets {
    /// `None` where every character is one byte.
    bytes: Option<Vec<u32>>,
    len: usize,
}

impl Offsets {
    fn new(text: &str) -> Self {
        let bytes = (!text.is_ascii()).then(|| {
            text.char_indices()
                .map(|(i, _)| i as u32)
                .chain([text.len() as u32])
                .collect()
        });
        Offsets {
            bytes,
            len: text.len(),
        }
    }

    fn byte(&self, index: usize) -> usize {
        match &self.bytes {
            None => index.min(self.len),
            Some(bytes) => bytes.get(index).map_or(self.len, |&b| b as usize),
        }
    }

    fn place_at(&self, index: usize, line: usize, column0: usize) -> Place {
        let at = self.byte(index);
        Place {
            line: line.max(1),
            column: column0 + 1,
            start: at,
            end: at,
        }
    }

    fn place(&self, span: Span) -> Place {
        let mut place = self.place_at(span.start.index(), span.start.line(), span.start.col());
        place.end = self.byte(span.end.index()).max(place.start);
        place
    }
}

struct Open {
    anchor: usize,
    node: Node,
    key: Option<Key>,
    /// Keys met so far: a search through a long block for every key of it would take minutes.
    keys: HashSet<String>,
}

struct Builder<'a> {
    file: &'a SourceFile,
    offsets: Offsets,
    limits: Limits,
    stack: Vec<Open>,
    anchors: HashMap<usize, Node>,
    nodes: usize,
    root: Option<Node>,
}

impl Builder<'_> {
    /// Takes one parser event. `Ok(false)` ends the reading.
    fn event(
        &mut self,
        event: Event<'_>,
        span: Span,
        problems: &mut Problems,
    ) -> Result<bool, Box<Problem>> {
        let place = self.offsets.place(span);
        match event {
            Event::Scalar(text, style, anchor, _) => {
                let plain = matches!(style, ScalarStyle::Plain);
                let data = if plain && matches!(&*text, "" | "~" | "null" | "Null" | "NULL") {
                    Data::Null
                } else {
                    Data::Scalar {
                        text: text.into_owned(),
                        plain,
                    }
                };
                self.value(Node { place, data }, anchor, problems)?;
            }
            Event::SequenceStart(anchor, _) => self.open(anchor, place, Data::List(Vec::new()))?,
            Event::MappingStart(anchor, _) => self.open(anchor, place, Data::Map(Vec::new()))?,
            Event::SequenceEnd | Event::MappingEnd => {
                if let Some(Open {
                    anchor, mut node, ..
                }) = self.stack.pop()
                {
                    node.place.end = place.end.max(node.place.start);
                    self.value(node, anchor, problems)?;
                }
            }
            Event::Alias(id) => {
                let node = self.anchors.get(&id).cloned().ok_or_else(|| {
                    Box::new(
                        Problem::error(
                            "alias",
                            "this alias refers to something that is not complete yet",
                        )
                        .at(self.file, place)
                        .hint("write the value out in full"),
                    )
                })?;
                self.count(node.size(), place)?;
                self.value(node, 0, problems)?;
            }
            Event::DocumentEnd => return Ok(true),
            Event::DocumentStart(_) if self.root.is_some() => {
                problems.push(
                    Problem::error(
                        "documents",
                        "a second document starts here; one file holds one record",
                    )
                    .at(self.file, place)
                    .hint("put it in a file of its own"),
                );
                return Ok(false);
            }
            _ => {}
        }
        Ok(true)
    }

    fn count(&mut self, more: usize, place: Place) -> Result<(), Box<Problem>> {
        self.nodes += more;
        if self.nodes > self.limits.nodes {
            return Err(Box::new(
                Problem::error(
                    "too-many-values",
                    format!("more than {} values in one file", self.limits.nodes),
                )
                .at(self.file, place)
                .hint("split the file"),
            ));
        }
        Ok(())
    }

    fn open(&mut self, anchor: usize, place: Place, data: Data) -> Result<(), Box<Problem>> {
        if self.stack.len() >= self.limits.depth {
            return Err(Box::new(
                Problem::error(
                    "too-deep",
                    format!("nested deeper than {} levels", self.limits.depth),
                )
                .at(self.file, place)
                .hint("a record needs no more than eight levels"),
            ));
        }
        self.stack.push(Open {
            anchor,
            node: Node { place, data },
            key: None,
            keys: HashSet::new(),
        });
        Ok(())
    }

    fn value(
        &mut self,
        node: Node,
        anchor: usize,
        problems: &mut Problems,
    ) -> Result<(), Box<Problem>> {
        self.count(1, node.place)?;
        if anchor > 0 {
            self.anchors.insert(anchor, node.clone());
        }
        let Some(open) = self.stack.last_mut() else {
            self.root = Some(node);
            return Ok(());
        };
        match &mut open.node.data {
            Data::List(items) => items.push(node),
            Data::Map(entries) => match open.key.take() {
                Some(key) => entries.push((key, node)),
                None => {
                    let text = match node.data {
                        Data::Scalar { text, .. } => text,
                        Data::Null => String::new(),
                        _ => {
                            return Err(Box::new(
                                Problem::error("key", "a key must be a single word")
                                    .at(self.file, node.place)
                                    .hint("write `name: value`"),
                            ));
                        }
                    };
                    if !open.keys.insert(text.clone())
                        && let Some((first, _)) = entries.iter().find(|(key, _)| key.text == text)
                    {
                        problems.push(
                            Problem::error(
                                "repeated-key",
                                format!(
                                    "`{text}` is written twice; it stands on line {} already",
                                    first.place.line
                                ),
                            )
                            .at(self.file, node.place)
                            .hint("keep one of them"),
                        );
                    }
                    open.key = Some(Key {
                        text,
                        place: node.place,
                    });
                }
            },
            _ => {}
        }
        Ok(())
    }
}

impl Node {
    /// Number of nodes in it, itself included.
    fn size(&self) -> usize {
        1 + match &self.data {
            Data::List(items) => items.iter().map(Node::size).sum(),
            Data::Map(entries) => entries.iter().map(|(_, node)| node.size()).sum::<usize>(),
            _ => 0,
        }
    }

    /// The value under `key`, if this is a mapping that has it.
    pub fn get(&self, key: &str) -> Option<&Node> {
        self.entries()
            .iter()
            .find(|(k, _)| k.text == key)
            .map(|(_, node)| node)
    }

    /// The node at a path such as `areas.0.defects.2.depth`.
    pub fn at_path(&self, path: &str) -> Option<&Node> {
        path.split('.')
            .filter(|s| !s.is_empty())
            .try_fold(self, |node, step| match &node.data {
                Data::List(items) => items.get(step.parse::<usize>().ok()?),
                _ => node.get(step),
            })
    }

    /// Mapping entries in file order; empty for anything else.
    pub fn entries(&self) -> &[(Key, Node)] {
        match &self.data {
            Data::Map(entries) => entries,
            _ => &[],
        }
    }

    /// List items; empty for anything else.
    pub fn items(&self) -> &[Node] {
        match &self.data {
            Data::List(items) => items,
            _ => &[],
        }
    }

    /// Text of a scalar.
    pub fn text(&self) -> Option<&str> {
        match &self.data {
            Data::Scalar { text, .. } => Some(text),
            _ => None,
        }
    }

    /// What kind of thing this is, in plain words.
    pub fn what(&self) -> &'static str {
        match &self.data {
            Data::Null => "nothing",
            Data::Scalar { .. } => "a single value",
            Data::List(_) => "a list",
            Data::Map(_) => "a block of `name: value` lines",
        }
    }

    /// The same as JSON. Plain `true`, `false` and numbers become booleans and numbers, as in the
    /// YAML core schema; everything else stays text. A repeated key keeps its first value.
    pub fn to_json(&self) -> serde_json::Value {
        use serde_json::Value;
        match &self.data {
            Data::Null => Value::Null,
            Data::Scalar { text, plain: false } => Value::String(text.clone()),
            Data::Scalar { text, plain: true } => match text.as_str() {
                "true" | "True" | "TRUE" => Value::Bool(true),
                "false" | "False" | "FALSE" => Value::Bool(false),
                _ => plain_number(text).unwrap_or_else(|| Value::String(text.clone())),
            },
            Data::List(items) => Value::Array(items.iter().map(Node::to_json).collect()),
            Data::Map(entries) => {
                let mut map = serde_json::Map::with_capacity(entries.len());
                for (key, node) in entries {
                    map.entry(key.text.clone())
                        .or_insert_with(|| node.to_json());
                }
                Value::Object(map)
            }
        }
    }
}

/// A plain decimal number; `nan`, `inf` and a leading `+` stay text.
fn plain_number(text: &str) -> Option<serde_json::Value> {
    let first = text.strip_prefix('-').unwrap_or(text).bytes().next()?;
    if !first.is_ascii_digit() && first != b'.' {
        return None;
    }
    if let Ok(whole) = text.parse::<i64>() {
        return Some(whole.into());
    }
    let number: f64 = text.parse().ok()?;
    serde_json::Number::from_f64(number).map(serde_json::Value::Number)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> (Option<Node>, Problems) {
        let mut problems = Problems::default();
        let node = SourceFile::new("t.yaml", text).yaml(Limits::default(), &mut problems);
        (node, problems)
    }

    #[test]
    fn nodes_know_their_place() {
        let (node, problems) = read("a: 1\nb:\n  - x: 3/8 in\n  - ü: é zz\n");
        assert!(problems.is_empty());
        let node = node.unwrap();
        let depth = node.at_path("b.0.x").unwrap();
        assert_eq!((depth.place.line, depth.place.column), (3, 8));
        assert_eq!(depth.text(), Some("3/8 in"));
        let wide = node.at_path("b.1.ü").unwrap();
        assert_eq!(
            &"a: 1\nb:\n  - x: 3/8 in\n  - ü: é zz\n"[wide.place.start..wide.place.end],
            "é zz"
        );
    }

    #[test]
    fn repeated_keys_are_named_with_both_lines() {
        let (_, problems) = read("a: 1\nb: 2\na: 3\n");
        let text = problems.to_plain();
        assert!(text.contains("line 1 already"), "{text}");
    }

    #[test]
    fn alias_bombs_and_deep_nesting_are_refused() {
        let mut text = String::from("a0: &a0 [1,1,1,1,1,1,1,1,1,1]\n");
        for i in 1..9 {
            let before = i - 1;
            let list = vec![format!("*a{before}"); 10].join(",");
            text += &format!("a{i}: &a{i} [{list}]\n");
        }
        assert!(read(&text).1.to_plain().contains("too-many-values"));
        let deep = "[".repeat(100) + &"]".repeat(100);
        assert!(read(&deep).1.to_plain().contains("too-deep"));
    }

    #[test]
    fn numbers_in_quotes_stay_text() {
        let (node, _) = read("a: \"10\"\nb: 10\nc: 1.5\nd: true\ne: .inf\nf: 3/8 in");
        let json = node.unwrap().to_json();
        assert_eq!(
            json,
            serde_json::json!({"a":"10","b":10,"c":1.5,"d":true,"e":".inf","f":"3/8 in"})
        );
    }
}
