//! How files are read: one definition of each record, from which come the reader, the CSV columns and the JSON Schema.
//!
//! A `Record` asks a `Fields` for its fields by name, shape and meaning. When a file is read, the fields are taken from
//! the tree and every fault is collected with its place; when the schema is wanted, the same code runs with nothing to
//! read and each question is written down. So the reader and the schema cannot drift apart. `node` is the tree, `shape`
//! and `word` the kinds of values, `table` turns a spreadsheet's rows into trees. What the records *are* is in
//! `pile::record`, `job::record` and `job::settings`.

mod fields;
mod node;
mod reader;
mod shape;
mod table;
mod word;

pub(crate) use fields::{Fields, Record, columns_of, nearest_cure, read_record, schema_of};
pub(crate) use node::{Node, parse_json};
pub(crate) use reader::{Reader, Step};
pub(crate) use shape::{
    Amount, DEFECT_LIMIT, Group, LIST_LIMIT, Least, ListOf, Num, Ratio, Shape, Size, Tag, Text, Truth, Whole, longest,
    thickest,
};
pub(crate) use table::read_table;
pub(crate) use word::{Quarters, Words};
