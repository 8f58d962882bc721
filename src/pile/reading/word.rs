//! The kinds of values that are words: those of an enumeration, and the quarter names of the trade.
//!
//! The words of an enumeration come from the Rust type itself, by its serde names; nothing here lists them again. All
//! other kinds of values are in `shape`.

use schemars::JsonSchema;
use serde::de::value::StrDeserializer;
use serde::de::{DeserializeOwned, IntoDeserializer};
use serde_json::{Value, json};

use super::fields::nearest_cure;
use super::node::Node;
use super::reader::Reader;
use super::shape::{Shape, text_of};
use crate::measure::parse_quarters;
use crate::pile::{Nominal, normal_words};

/// One of the words of a Rust enumeration, by its names in files.
pub(crate) struct Words<T>(std::marker::PhantomData<T>);

impl<T: DeserializeOwned + JsonSchema> Words<T> {
    /// The words of `T`.
    pub(crate) fn of() -> Words<T> {
        Words(std::marker::PhantomData)
    }

    /// The word as `T`, if it is one.
    pub(crate) fn parse(text: &str) -> Option<T> {
        let normal = normal_words(text);
        let word: StrDeserializer<'_, serde::de::value::Error> = normal.as_str().into_deserializer();
        T::deserialize(word).ok()
    }

    /// All words, as the type's own schema lists them.
    pub(crate) fn all() -> Vec<String> {
        let schema = T::json_schema(&mut schemars::SchemaGenerator::default());
        let mut words = Vec::new();
        collect_words(schema.as_value(), &mut words);
        words
    }
}

fn collect_words(schema: &Value, words: &mut Vec<String>) {
    let text = |value: &Value| value.as_str().map(str::to_owned);
    words.extend(schema.get("const").and_then(text));
    words.extend(schema.get("enum").and_then(Value::as_array).into_iter().flatten().filter_map(text));
    for one in schema.get("oneOf").and_then(Value::as_array).into_iter().flatten() {
        collect_words(one, words);
    }
}

impl<T: DeserializeOwned + JsonSchema> Shape for Words<T> {
    type Out = T;

    fn schema(&self) -> Value {
        json!({ "type": "string", "enum": Words::<T>::all() })
    }

    fn read(&self, reader: &mut Reader, node: &Node) -> Option<T> {
        let text = text_of(node);
        let word = text.and_then(Words::<T>::parse);
        if word.is_none() {
            let words = Words::<T>::all();
            let known = words.iter().map(String::as_str);
            let listed: Vec<String> = known.clone().map(|w| format!("`{w}`")).collect();
            let cure = match text {
                Some(text) => match nearest_cure(text, known, "words") {
                    near if near.starts_with("did") => near,
                    _ => format!("write {}", or_list(&listed)),
                },
                None => format!("write {}, in quotation marks", or_list(&listed)),
            };
            reader.fault(node.shown(), "this word is not known here", cure);
        }
        word
    }
}

fn or_list(words: &[String]) -> String {
    match words {
        [rest @ .., last] if !rest.is_empty() => format!("{} or {last}", rest.join(", ")),
        _ => words.concat(),
    }
}

/// A nominal thickness as the trade writes it: `5/4`.
pub(crate) struct Quarters;

impl Shape for Quarters {
    type Out = Nominal;

    fn schema(&self) -> Value {
        json!({ "type": "string", "pattern": "^\\s*([0-9]+\\s*[/⁄∕]\\s*[0-9]+|[½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅐⅛⅜⅝⅞⅑⅒])\\s*$" })
    }

    fn read(&self, reader: &mut Reader, node: &Node) -> Option<Nominal> {
        let cure = "write the quarter name in quotation marks: \"4/4\", \"5/4\", \"8/4\"";
        let Some((numerator, denominator)) = text_of(node).and_then(|text| parse_quarters(text).ok()) else {
            let cure = if reader.is_csv() { "write 4/4, 5/4, 8/4; format the cells as text" } else { cure };
            reader.fault(node.shown(), "this is not a nominal thickness", cure);
            return None;
        };
        if u32::from(numerator) > 12 * u32::from(denominator) {
            reader.fault(node.shown(), "this is absurdly large, more than 12 in", "check the figure");
            return None;
        }
        Some(Nominal { numerator, denominator })
    }
}
