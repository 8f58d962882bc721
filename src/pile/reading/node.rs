//! The tree a file is read into before it is understood: JSON with its duplicate keys kept, or a spreadsheet's cells.
//!
//! Holds parsing of JSON text, writing of JSON in the order given, and how a value is shown in a message. Invariant:
//! numbers are finite (a number beyond a float is refused while parsing).

use std::fmt;

use serde::de::{Deserialize, Deserializer, MapAccess, SeqAccess, Visitor};
use serde::ser::{Serialize, SerializeMap, Serializer};

use crate::pile::{Fault, Faults};

/// A value of a file.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Node {
    Null,
    Truth(bool),
    Number(f64),
    Text(String),
    /// A spreadsheet's cell: text that may stand for any kind of value; trimmed, never empty.
    Cell(String),
    List(Vec<Node>),
    /// In the order of the file; a key may come twice.
    Object(Vec<(String, Node)>),
}

/// Characters of a value that a message shows.
const SHOWN: usize = 48;

impl Node {
    /// The value of a field; the first, when the key comes twice.
    pub(crate) fn get(&self, name: &str) -> Option<&Node> {
        match self {
            Node::Object(fields) => fields.iter().find(|(key, _)| key == name).map(|(_, value)| value),
            _ => None,
        }
    }

    /// How a message shows the value.
    pub(crate) fn shown(&self) -> String {
        match self {
            Node::Null => "null".into(),
            Node::Truth(truth) => truth.to_string(),
            Node::Number(number) if number.abs() >= 1.0e15 => format!("{number:e}"),
            Node::Number(number) => format!("{number}"),
            Node::Text(text) | Node::Cell(text) => shown_text(text),
            Node::List(items) if items.is_empty() => "an empty list".into(),
            Node::List(_) => "a list".into(),
            Node::Object(_) => "a group of fields".into(),
        }
    }
}

/// Text in quotation marks, cut off when long, control characters made visible.
pub(crate) fn shown_text(text: &str) -> String {
    format!("\"{}\"", visible_text(text))
}

/// A name as a file has it, cut off when long, control characters made visible.
pub(crate) fn shown_name(name: &str) -> String {
    format!("`{}`", visible_text(name))
}

fn visible_text(text: &str) -> String {
    let mut shown: String = text.chars().take(SHOWN).flat_map(visible).collect();
    if text.chars().nth(SHOWN).is_some() {
        shown.push_str("...");
    }
    shown
}

fn visible(c: char) -> Vec<char> {
    if c.is_control() { c.escape_default().collect() } else { vec![c] }
}

/// Reads JSON text; a byte order mark in front is passed over.
///
/// # Errors
/// One fault with line and column when the text is no JSON.
pub(crate) fn parse_json(file: &str, text: &str) -> Result<Node, Faults> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    serde_json::from_str(text).map_err(|error| Faults::one(syntax_fault(file, text, &error)))
}

fn syntax_fault(file: &str, text: &str, error: &serde_json::Error) -> Fault {
    let whole = error.to_string();
    let message = whole.rsplit_once(" at line ").map_or(whole.as_str(), |(message, _)| message);
    let line = text.lines().nth(error.line().saturating_sub(1)).unwrap_or_default();
    let read = around(line, error.column()).trim();
    let cure = match message {
        _ if text.trim().is_empty() => "the file is empty; start it with { \"format\": ..., \"units\": \"in\" }",
        m if m.contains("number out of range") => "write a number of ordinary size",
        m if m.contains("trailing comma") => "take away the comma before the closing bracket",
        m if m.contains("recursion limit") => "the file is nested far deeper than any file of this kind",
        m if m.starts_with("EOF") => "the file ends too early; look for a missing bracket or quotation mark",
        _ => "look there, or just before, for a missing comma, bracket or quotation mark",
    };
    Fault {
        file: file.into(),
        place: format!("line {}, column {}", error.line(), error.column()),
        pointer: String::new(),
        read: if read.is_empty() { String::new() } else { shown_text(read) },
        what: format!("this is not JSON: {message}"),
        cure: cure.into(),
    }
}

/// The part of a line that shows what stands at a column: all of a short line, from a little before it in a long one.
fn around(line: &str, column: usize) -> &str {
    if line.chars().nth(SHOWN).is_none() {
        return line;
    }
    let start = column.saturating_sub(SHOWN / 2).min(line.len());
    let start = (0..=start).rev().find(|at| line.is_char_boundary(*at)).unwrap_or(0);
    &line[start..]
}

impl<'de> Deserialize<'de> for Node {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Node, D::Error> {
        deserializer.deserialize_any(NodeVisitor)
    }
}

struct NodeVisitor;

impl<'de> Visitor<'de> for NodeVisitor {
    type Value = Node;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a JSON value")
    }

    fn visit_unit<E>(self) -> Result<Node, E> {
        Ok(Node::Null)
    }

    fn visit_bool<E>(self, truth: bool) -> Result<Node, E> {
        Ok(Node::Truth(truth))
    }

    fn visit_i64<E>(self, number: i64) -> Result<Node, E> {
        Ok(Node::Number(number as f64))
    }

    fn visit_u64<E>(self, number: u64) -> Result<Node, E> {
        Ok(Node::Number(number as f64))
    }

    fn visit_f64<E>(self, number: f64) -> Result<Node, E> {
        Ok(Node::Number(number))
    }

    fn visit_str<E>(self, text: &str) -> Result<Node, E> {
        Ok(Node::Text(text.into()))
    }

    fn visit_string<E>(self, text: String) -> Result<Node, E> {
        Ok(Node::Text(text))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut seq: A) -> Result<Node, A::Error> {
        let mut items = Vec::new();
        while let Some(item) = seq.next_element()? {
            items.push(item);
        }
        Ok(Node::List(items))
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Node, A::Error> {
        let mut fields = Vec::new();
        while let Some(field) = map.next_entry()? {
            fields.push(field);
        }
        Ok(Node::Object(fields))
    }
}

impl Serialize for Node {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self {
            Node::Null => serializer.serialize_unit(),
            Node::Truth(truth) => serializer.serialize_bool(*truth),
            // Below 2^53 a whole float is exactly that integer, and prints without ".0".
            Node::Number(number) if number.fract() == 0.0 && number.abs() < 9.0e15 => {
                serializer.serialize_i64(*number as i64)
            }
            Node::Number(number) => serializer.serialize_f64(*number),
            Node::Text(text) | Node::Cell(text) => serializer.serialize_str(text),
            Node::List(items) => serializer.collect_seq(items),
            Node::Object(fields) => {
                let mut map = serializer.serialize_map(Some(fields.len()))?;
                for (name, value) in fields {
                    map.serialize_entry(name, value)?;
                }
                map.end()
            }
        }
    }
}
