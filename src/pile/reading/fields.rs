//! Records: what a group of fields is called, made of, and checked for, said once.
//!
//! `Fields` is what a record asks for its fields. Reading, it takes them from the tree and notes what is wrong;
//! describing, it writes each question into a JSON Schema and a list of CSV columns. A record must therefore be content
//! with `None` for anything it asks for. Shapes of single values are in `shape`.

use std::borrow::Cow;
use std::collections::HashSet;

use serde_json::{Map, Value, json};

use super::node::{Node, shown_text};
use super::reader::{Reader, Step};
use super::shape::Shape;

/// A group of fields that stands for one thing.
pub(crate) trait Record {
    /// What it stands for.
    type Out;

    /// Asks for every field, in the order in which people write them.
    fn fields(&self, fields: &mut Fields<'_>) -> Option<Self::Out>;
}

/// The fields of one record, read or described.
pub(crate) struct Fields<'a> {
    mode: Mode<'a>,
}

enum Mode<'a> {
    Read { reader: &'a mut Reader, object: &'a Node, known: Vec<&'static str> },
    Describe(Description),
}

/// What a record asked for.
#[derive(Default)]
struct Description {
    properties: Map<String, Value>,
    required: Vec<Value>,
    rules: Vec<Value>,
    columns: Vec<String>,
}

/// Unknown names in one record that are compared with the known ones; past that the file is something else altogether.
const NEAREST_TRIED: usize = 50;

impl Fields<'_> {
    /// A field that must be there.
    pub(crate) fn required<S: Shape>(&mut self, name: &'static str, about: &str, shape: S) -> Option<S::Out> {
        self.describe(name, about, None, &shape);
        if let Mode::Describe(description) = &mut self.mode {
            description.required.push(json!(name));
        }
        let found = self.read(name, &shape);
        if found.is_none()
            && let Mode::Read { reader, object, .. } = &mut self.mode
            && object.get(name).is_none()
        {
            let (what, cure) = (format!("`{name}` is missing"), format!("add it: {}", lower_first(about)));
            if reader.has_column(name) {
                reader.within(step(name), |r| r.fault(String::new(), what, cure));
            } else {
                reader.column_missing(name, format!("there is no column `{name}`"), cure);
            }
        }
        found
    }

    /// A field that may be left out.
    pub(crate) fn optional<S: Shape>(&mut self, name: &'static str, about: &str, shape: S) -> Option<S::Out> {
        self.describe(name, about, None, &shape);
        self.read(name, &shape)
    }

    /// A field that may be left out and then has a value of its own; that value, too, when what was read is wrong (the
    /// file is then refused anyway).
    pub(crate) fn defaulted<S: Shape>(
        &mut self,
        name: &'static str,
        about: &str,
        shape: S,
        default: S::Out,
        default_json: Value,
    ) -> S::Out {
        self.describe(name, about, Some(default_json), &shape);
        self.read(name, &shape).unwrap_or(default)
    }

    /// A spreadsheet's own spelling of a field that JSON writes another way; no part of the schema.
    pub(crate) fn column<S: Shape>(&mut self, name: &'static str, shape: S) -> Option<S::Out> {
        match &mut self.mode {
            Mode::Describe(description) => {
                description.columns.push(name.into());
                None
            }
            Mode::Read { reader, .. } if !reader.is_csv() => None,
            Mode::Read { .. } => self.read(name, &shape),
        }
    }

    /// Exactly one of these fields must be there.
    pub(crate) fn exactly_one(&mut self, names: [&'static str; 2], cure: &str) {
        let [a, b] = names;
        if let Mode::Describe(description) = &mut self.mode {
            description.rules.push(json!({ "oneOf": [{ "required": [a] }, { "required": [b] }] }));
        }
        self.missing_both(names, cure);
        if self.has(a) && self.has(b) {
            self.fault(b, &format!("`{a}` and `{b}` are both given"), cure);
        }
    }

    /// One of these fields, or both, must be there.
    pub(crate) fn at_least_one(&mut self, names: [&'static str; 2], cure: &str) {
        let [a, b] = names;
        if let Mode::Describe(description) = &mut self.mode {
            description.rules.push(json!({ "anyOf": [{ "required": [a] }, { "required": [b] }] }));
        }
        self.missing_both(names, cure);
    }

    /// These fields may not both be there.
    pub(crate) fn not_both(&mut self, names: [&'static str; 2], cure: &str) {
        let [a, b] = names;
        if let Mode::Describe(description) = &mut self.mode {
            description.rules.push(json!({ "not": { "required": [a, b] } }));
        }
        if self.has(a) && self.has(b) {
            self.fault(b, &format!("`{a}` and `{b}` are both given"), cure);
        }
    }

    fn missing_both(&mut self, [a, b]: [&'static str; 2], cure: &str) {
        let Mode::Read { reader, object, .. } = &mut self.mode else { return };
        if object.get(a).is_some() || object.get(b).is_some() {
            return;
        }
        if reader.has_column(a) || reader.has_column(b) {
            reader.fault(String::new(), format!("neither `{a}` nor `{b}` is given"), cure);
        } else {
            reader.column_missing(a, format!("there is neither a column `{a}` nor `{b}`"), cure.into());
        }
    }

    /// True when the field was written, rightly or wrongly; false while describing.
    pub(crate) fn has(&self, name: &str) -> bool {
        self.node(name).is_some()
    }

    /// What was written in the field.
    pub(crate) fn node(&self, name: &str) -> Option<&Node> {
        match &self.mode {
            Mode::Read { object, .. } => object.get(name),
            Mode::Describe(_) => None,
        }
    }

    /// Notes a fault with a field, or with what is in it by the dots (`match.group`).
    pub(crate) fn fault(&mut self, name: &str, what: &str, cure: &str) {
        let Mode::Read { reader, object, .. } = &mut self.mode else { return };
        let mut node = Some(*object);
        for part in name.split('.') {
            node = node.and_then(|n| n.get(part));
        }
        let read = match node {
            Some(Node::Object(_)) | None => String::new(),
            Some(node) => node.shown(),
        };
        let mut parts: Vec<&str> = name.split('.').collect();
        fault_within(reader, &mut parts, &read, what, cure);
    }

    /// The reader, to note faults further in; none while describing.
    pub(crate) fn reader(&mut self) -> Option<&mut Reader> {
        match &mut self.mode {
            Mode::Read { reader, .. } => Some(reader),
            Mode::Describe(_) => None,
        }
    }

    fn describe<S: Shape>(&mut self, name: &'static str, about: &str, default: Option<Value>, shape: &S) {
        let Mode::Describe(description) = &mut self.mode else { return };
        let mut schema = shape.schema();
        if let Value::Object(schema) = &mut schema {
            let unit = shape.unit();
            let gap = if unit.is_empty() { "" } else { " " };
            schema.insert("description".into(), json!(format!("{about}{gap}{unit}")));
            if let Some(default) = default {
                schema.insert("default".into(), default);
            }
        }
        description.properties.insert(name.into(), schema);
        description.columns.extend(shape.columns(name));
    }

    fn read<S: Shape>(&mut self, name: &'static str, shape: &S) -> Option<S::Out> {
        let Mode::Read { reader, object, known } = &mut self.mode else { return None };
        known.push(name);
        let node = object.get(name)?;
        reader.within(step(name), |reader| shape.read(reader, node))
    }
}

/// Notes a fault some fields further in.
fn fault_within(reader: &mut Reader, parts: &mut Vec<&str>, read: &str, what: &str, cure: &str) {
    if parts.is_empty() {
        return reader.fault(read.to_owned(), what, cure);
    }
    let first = Step::Name(Cow::Owned(parts.remove(0).to_owned()));
    reader.within(first, |reader| fault_within(reader, parts, read, what, cure));
}

fn step(name: &'static str) -> Step {
    Step::Name(Cow::Borrowed(name))
}

/// Reads a record where the reader stands, and notes unknown and repeated names.
pub(crate) fn read_record<R: Record>(reader: &mut Reader, record: &R, node: &Node) -> Option<R::Out> {
    let Node::Object(pairs) = node else {
        reader.fault(node.shown(), "a group of fields is wanted here", "write { \"name\": value, ... }");
        return None;
    };
    let mut fields = Fields { mode: Mode::Read { reader, object: node, known: Vec::new() } };
    let out = record.fields(&mut fields);
    let Mode::Read { reader, known, .. } = fields.mode else { return None };
    if !reader.is_csv() {
        check_names(reader, &known, pairs);
    }
    out
}

fn check_names(reader: &mut Reader, known: &[&'static str], pairs: &[(String, Node)]) {
    let mut seen = HashSet::new();
    let mut strangers = 0;
    for (name, value) in pairs {
        let place = Step::Name(Cow::Owned(shortened(name)));
        if !seen.insert(name.as_str()) {
            reader.within(place, |r| r.fault(value.shown(), "this field is written twice", "leave one of them out"));
        } else if !known.contains(&name.as_str()) {
            strangers += 1;
            let known = if strangers <= NEAREST_TRIED { known } else { &[] };
            let cure = nearest_cure(name, known.iter().copied(), "fields");
            let what = format!("there is no field {} here", shown_text(name));
            reader.within(place, |r| r.fault(String::new(), what, cure));
        }
    }
}

fn shortened(name: &str) -> String {
    let shown = shown_text(name);
    shown.get(1..shown.len() - 1).unwrap_or_default().to_owned()
}

/// What to write instead of an unknown word: the nearest known one, or all of them when none is near.
pub(crate) fn nearest_cure<'k>(word: &str, known: impl Iterator<Item = &'k str> + Clone, them: &str) -> String {
    // Longer words than any known one are never near, and comparing them costs their length.
    let near = (word.len() <= 64)
        .then(|| {
            known
                .clone()
                .map(|k| (strsim::normalized_damerau_levenshtein(&word.to_lowercase(), &k.to_lowercase()), k))
                .max_by(|a, b| a.0.total_cmp(&b.0))
        })
        .flatten();
    match near {
        Some((likeness, nearest)) if likeness >= 0.5 => format!("did you mean `{nearest}`?"),
        _ => {
            let all: Vec<String> = known.map(|k| format!("`{k}`")).collect();
            if all.is_empty() { "leave it out".into() } else { format!("the {them} are {}", all.join(", ")) }
        }
    }
}

/// A meaning as the end of a sentence: `Width, across the grain.` becomes `width, across the grain`.
fn lower_first(about: &str) -> String {
    let mut chars = about.trim_end_matches('.').chars();
    let first = chars.next().map(char::to_lowercase);
    first.into_iter().flatten().chain(chars).collect()
}

/// The JSON Schema of a record: every field it reads, and no other.
pub(crate) fn schema_of<R: Record>(record: &R) -> Value {
    let description = describe(record);
    let mut schema = json!({
        "type": "object",
        "properties": description.properties,
        "additionalProperties": false,
    });
    if !description.required.is_empty() {
        schema["required"] = Value::Array(description.required);
    }
    if !description.rules.is_empty() {
        schema["allOf"] = Value::Array(description.rules);
    }
    schema
}

/// The columns under which a spreadsheet holds a record's fields.
pub(crate) fn columns_of<R: Record>(record: &R) -> Vec<String> {
    describe(record).columns
}

fn describe<R: Record>(record: &R) -> Description {
    let mut fields = Fields { mode: Mode::Describe(Description::default()) };
    record.fields(&mut fields);
    match fields.mode {
        Mode::Describe(description) => description,
        Mode::Read { .. } => Description::default(),
    }
}
