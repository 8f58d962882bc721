//! The kinds of values that files hold: how each is read, refused and described.
//!
//! One type a kind; each says its JSON Schema and reads itself from a tree or a cell, with the bounds beyond which a
//! figure is a slip of the pen. Words of enumerations are in `word`. What a value is *for* is said by the record that
//! asks for it. Lengths in a schema are a number or a text; their upper bounds hang on the units and are said in words
//! only.

use num_traits::{FromPrimitive, ToPrimitive};
use serde_json::{Value, json};

use super::fields::{Record, columns_of, read_record, schema_of};
use super::node::{Node, shown_text};
use super::reader::{Reader, Step};
use crate::measure::{Length, Money, Rational, Units, decimal_from_f64};
use crate::pile::normal_words;

/// Entries of one list: boards, parts, defects of a board.
pub(crate) const LIST_LIMIT: usize = 200_000;
/// Defects of one board.
pub(crate) const DEFECT_LIMIT: usize = 1_000;
/// The greatest amount of money.
const MONEY_LIMIT: f64 = 1.0e9;

/// The greatest length and width of anything.
pub(crate) const fn longest() -> Length {
    Length::from_inches(1000)
}

/// The greatest thickness of anything.
pub(crate) const fn thickest() -> Length {
    Length::from_inches(12)
}

/// A kind of value.
pub(crate) trait Shape {
    /// What it is read into.
    type Out;

    /// Its JSON Schema.
    fn schema(&self) -> Value;

    /// Its unit, and what of its range the schema cannot say: a sentence to follow the field's meaning, or nothing.
    fn unit(&self) -> String {
        String::new()
    }

    /// The value, or `None` with the reason noted.
    fn read(&self, reader: &mut Reader, node: &Node) -> Option<Self::Out>;

    /// The columns under which a spreadsheet holds a field of this kind.
    fn columns(&self, name: &str) -> Vec<String> {
        vec![name.to_owned()]
    }
}

/// Text on one line; trimmed, never empty.
pub(crate) struct Text {
    /// Characters at most.
    pub(crate) most: usize,
}

impl Shape for Text {
    type Out = String;

    fn schema(&self) -> Value {
        json!({ "type": "string", "maxLength": self.most, "pattern": "\\S" })
    }

    fn read(&self, reader: &mut Reader, node: &Node) -> Option<String> {
        let Some(text) = text_of(node) else {
            reader.fault(node.shown(), "text is wanted here", "write it in quotation marks");
            return None;
        };
        let text = text.trim();
        if text.is_empty() {
            reader.fault(node.shown(), "this text is empty", "write something, or leave the field out");
        } else if text.chars().count() > self.most {
            let what = format!("this text is longer than {} characters", self.most);
            reader.fault(node.shown(), what, "shorten it");
        } else if text.chars().any(char::is_control) {
            reader.fault(node.shown(), "this text holds line breaks or control characters", "write it on one line");
        } else {
            return Some(text.to_owned());
        }
        None
    }
}

pub(super) fn text_of(node: &Node) -> Option<&str> {
    match node {
        Node::Text(text) | Node::Cell(text) => Some(text),
        _ => None,
    }
}

/// The text that says what a file is.
pub(crate) struct Tag(pub(crate) &'static str);

impl Shape for Tag {
    type Out = ();

    fn schema(&self) -> Value {
        json!({ "const": self.0 })
    }

    fn read(&self, reader: &mut Reader, node: &Node) -> Option<()> {
        if text_of(node) == Some(self.0) {
            return Some(());
        }
        reader.fault(
            node.shown(),
            format!("this is not a file of the kind asked for, `{}`", self.0),
            format!("check that the right file was given, and write \"format\": \"{}\"", self.0),
        );
        None
    }
}

/// What the smallest lawful size is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Least {
    /// Nothing at all will do.
    Zero,
    /// It must be more than nothing.
    AboveZero,
}

/// A length: a number in the file's units, or a text with its own.
pub(crate) struct Size {
    pub(crate) least: Least,
    pub(crate) most: Length,
}

impl Shape for Size {
    type Out = Length;

    fn schema(&self) -> Value {
        let bound = if self.least == Least::Zero { "minimum" } else { "exclusiveMinimum" };
        json!({ "type": ["number", "string"], bound: 0, "pattern": "^\\s*\\+?\\s*[0-9.,½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅐⅛⅜⅝⅞⅑⅒]" })
    }

    fn unit(&self) -> String {
        let most = self.most.ticks() / Length::PER_INCH;
        format!("A number in the file's `units`, or a text with its own such as `2 3/4 in`; at most {most} in.")
    }

    fn read(&self, reader: &mut Reader, node: &Node) -> Option<Length> {
        let units = reader.units.unwrap_or(Units::Inches);
        let length = match node {
            // Sizes in the millions are refused by the bound below; the exact reading of 1e300 would only take longer.
            Node::Number(number) if number.abs() < 1.0e9 => Length::from_json_f64(*number, units),
            Node::Number(_) => None,
            Node::Text(text) | Node::Cell(text) => match Length::parse(text, units) {
                Ok(_) if in_doubt(reader, node, text) => return None,
                Ok(length) => Some(length),
                Err(error) => {
                    let (what, cure) = said_and_cure(&error.to_string());
                    reader.fault(node.shown(), what, cure);
                    return None;
                }
            },
            _ => {
                let cure = "write a number in the file's units, or a text such as \"2 3/4 in\" or \"70 mm\"";
                reader.fault(node.shown(), "a length is wanted here", cure);
                return None;
            }
        };
        // Without units no size can be judged; that they are missing is a fault of its own.
        if reader.units.is_none() {
            return length;
        }
        self.bounded(reader, node, length, units)
    }
}

impl Size {
    fn bounded(&self, reader: &mut Reader, node: &Node, length: Option<Length>, units: Units) -> Option<Length> {
        let negative = matches!(node, Node::Number(number) if *number < 0.0);
        match length {
            Some(length) if length > self.most => {}
            Some(length) if length.is_negative() => {
                reader.fault(node.shown(), "a length cannot be negative", "check the figure");
                return None;
            }
            Some(Length::ZERO) if self.least == Least::AboveZero => {
                reader.fault(node.shown(), "this must be more than nothing", "check the figure");
                return None;
            }
            Some(length) => return Some(length),
            None if negative => {
                reader.fault(node.shown(), "a length cannot be negative", "check the figure");
                return None;
            }
            None => {}
        }
        let most = self.most.to_f64(units);
        let what = format!("this is absurdly large, more than {most} {}", units.symbol());
        reader.fault(node.shown(), what, "check the figure and the units of the file");
        None
    }
}

/// Parts a length's error into what is wrong and what would do; what was read stands in front and is shown apart.
fn said_and_cure(error: &str) -> (String, String) {
    let (what, cure) = error.rsplit_once("; ").unwrap_or((error, ""));
    let what = match what.split_once("` ") {
        Some((read, rest)) if read.starts_with('`') => format!("this {rest}"),
        _ => what.to_owned(),
    };
    (what, cure.to_owned())
}

/// `1,234` in a file whose columns are parted by commas may be twelve hundred or one and a quarter.
fn in_doubt(reader: &mut Reader, node: &Node, text: &str) -> bool {
    let thousands = |text: &str| {
        let mut groups = text.trim().split(',');
        let first = groups.next().unwrap_or_default();
        let rest: Vec<&str> = groups.collect();
        let digits = |s: &str| s.bytes().all(|b| b.is_ascii_digit());
        !rest.is_empty()
            && (1..=3).contains(&first.len())
            && !first.starts_with('0')
            && digits(first)
            && rest.iter().all(|group| group.len() == 3 && digits(group))
    };
    let doubtful = matches!(node, Node::Cell(_)) && reader.comma_parted && thousands(text);
    if doubtful {
        let what = "the comma may stand for thousands or for decimals";
        reader.fault(node.shown(), what, "write it without thousands, and decimals with a point");
    }
    doubtful
}

/// The number a JSON number or a cell stands for; `None` with the reason noted.
fn number_of(reader: &mut Reader, node: &Node, wanted: &str) -> Option<f64> {
    match node {
        Node::Number(number) => Some(*number),
        Node::Cell(text) => {
            if in_doubt(reader, node, text) {
                return None;
            }
            let plain = if text.contains('.') { text.clone() } else { text.replacen(',', ".", 1) };
            let digits = plain.bytes().all(|b| b.is_ascii_digit() || matches!(b, b'.' | b'-'));
            let number = digits.then(|| plain.parse::<f64>().ok()).flatten().filter(|n| n.is_finite());
            if number.is_none() {
                let cure = "write digits only, without signs of money, units or thousands";
                reader.fault(node.shown(), format!("{wanted} is wanted here"), cure);
            }
            number
        }
        _ => {
            let cure =
                if text_of(node).is_some() { "write it without quotation marks" } else { "write a plain number" };
            reader.fault(node.shown(), format!("{wanted} is wanted here"), cure);
            None
        }
    }
}

fn in_range(reader: &mut Reader, node: &Node, number: f64, range: (f64, f64)) -> Option<f64> {
    if (range.0..=range.1).contains(&number) {
        return Some(number);
    }
    let what = if number < range.0 && range.0 == 0.0 {
        "this cannot be negative".to_owned()
    } else {
        format!("this must lie between {} and {}", range.0, range.1)
    };
    reader.fault(node.shown(), what, "check the figure");
    None
}

/// A plain number in a range.
pub(crate) struct Num {
    pub(crate) range: (f64, f64),
}

impl Shape for Num {
    type Out = f64;

    fn schema(&self) -> Value {
        json!({ "type": "number", "minimum": self.range.0, "maximum": self.range.1 })
    }

    fn read(&self, reader: &mut Reader, node: &Node) -> Option<f64> {
        let number = number_of(reader, node, "a number")?;
        in_range(reader, node, number, self.range)
    }
}

/// A number in a range, taken exactly.
pub(crate) struct Ratio {
    pub(crate) range: (f64, f64),
}

impl Shape for Ratio {
    type Out = Rational;

    fn schema(&self) -> Value {
        Num { range: self.range }.schema()
    }

    fn read(&self, reader: &mut Reader, node: &Node) -> Option<Rational> {
        decimal_from_f64(Num { range: self.range }.read(reader, node)?)
    }
}

/// An amount of money, taken exactly.
pub(crate) struct Amount;

impl Shape for Amount {
    type Out = Money;

    fn schema(&self) -> Value {
        Num { range: (0.0, MONEY_LIMIT) }.schema()
    }

    fn unit(&self) -> String {
        "In the shop's currency.".into()
    }

    fn read(&self, reader: &mut Reader, node: &Node) -> Option<Money> {
        let amount = number_of(reader, node, "an amount of money")?;
        Money::from_f64(in_range(reader, node, amount, (0.0, MONEY_LIMIT))?)
    }
}

/// A whole number in a range.
pub(crate) struct Whole<N> {
    pub(crate) range: (N, N),
}

impl<N: Copy + FromPrimitive + ToPrimitive> Whole<N> {
    fn bounds(&self) -> (f64, f64) {
        (self.range.0.to_f64().unwrap_or(f64::MIN), self.range.1.to_f64().unwrap_or(f64::MAX))
    }
}

impl<N: Copy + FromPrimitive + ToPrimitive> Shape for Whole<N> {
    type Out = N;

    fn schema(&self) -> Value {
        json!({ "type": "integer", "minimum": self.range.0.to_i64(), "maximum": self.range.1.to_i64() })
    }

    fn read(&self, reader: &mut Reader, node: &Node) -> Option<N> {
        let number = number_of(reader, node, "a whole number")?;
        if number.fract() != 0.0 {
            reader.fault(node.shown(), "a whole number is wanted here", "write it without decimals");
            return None;
        }
        N::from_f64(in_range(reader, node, number, self.bounds())?)
    }
}

/// Yes or no.
pub(crate) struct Truth;

impl Shape for Truth {
    type Out = bool;

    fn schema(&self) -> Value {
        json!({ "type": "boolean" })
    }

    fn read(&self, reader: &mut Reader, node: &Node) -> Option<bool> {
        match node {
            Node::Truth(truth) => return Some(*truth),
            Node::Cell(text) => match normal_words(text).as_str() {
                "true" | "yes" | "y" | "x" | "1" => return Some(true),
                "false" | "no" | "n" | "0" => return Some(false),
                _ => reader.fault(node.shown(), "yes or no is wanted here", "write `true` or `false`"),
            },
            _ => reader.fault(node.shown(), "yes or no is wanted here", "write true or false, without quotation marks"),
        }
        None
    }
}

/// A list; an entry that is wrong is `None` in its place, its faults noted.
pub(crate) struct ListOf<S> {
    pub(crate) shape: S,
    /// Entries at least.
    pub(crate) least: usize,
    /// Entries at most.
    pub(crate) most: usize,
}

impl<S: Shape> Shape for ListOf<S> {
    type Out = Vec<Option<S::Out>>;

    fn schema(&self) -> Value {
        json!({ "type": "array", "items": self.shape.schema(), "minItems": self.least, "maxItems": self.most })
    }

    fn unit(&self) -> String {
        self.shape.unit()
    }

    fn read(&self, reader: &mut Reader, node: &Node) -> Option<Self::Out> {
        match node {
            Node::List(items) if items.len() > self.most => {
                let what = format!("this list has {} entries, more than {}", items.len(), self.most);
                reader.fault(String::new(), what, "part it into several files");
                None
            }
            Node::List(items) if items.len() < self.least => {
                let what = format!("this list has {} entries, fewer than {}", items.len(), self.least);
                reader.fault(String::new(), what, "write what is missing");
                None
            }
            Node::List(items) => {
                let read = |(i, item)| reader.within(Step::Index(i), |reader| self.shape.read(reader, item));
                Some(items.iter().enumerate().map(read).collect())
            }
            Node::Cell(text) => {
                let entries =
                    text.split([',', ';', '/', ' ', '\t']).filter(|entry| !entry.is_empty() && *entry != "or");
                Some(entries.map(|entry| self.shape.read(reader, &Node::Cell(entry.into()))).collect())
            }
            _ => {
                reader.fault(node.shown(), "a list is wanted here", "write it in square brackets: [ ... ]");
                None
            }
        }
    }

    /// A list of groups has no place in a row.
    fn columns(&self, name: &str) -> Vec<String> {
        if self.shape.columns(name) == [name] { vec![name.to_owned()] } else { Vec::new() }
    }
}

/// A group of fields.
pub(crate) struct Group<R>(pub(crate) R);

impl<R: Record> Shape for Group<R> {
    type Out = R::Out;

    fn schema(&self) -> Value {
        schema_of(&self.0)
    }

    fn read(&self, reader: &mut Reader, node: &Node) -> Option<R::Out> {
        if let Node::Cell(text) = node {
            let what = format!("{} cannot stand in one cell", shown_text(text));
            reader.fault(String::new(), what, "give each of its fields a column of its own, with a dot in the name");
            return None;
        }
        read_record(reader, &self.0, node)
    }

    fn columns(&self, name: &str) -> Vec<String> {
        columns_of(&self.0).into_iter().map(|column| format!("{name}.{column}")).collect()
    }
}
