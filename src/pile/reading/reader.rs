//! What is known while a file is read: where the reader stands, in which units, and what was wrong so far.
//!
//! Collects faults and never stops at the first. Knows no record and no field.

use std::borrow::Cow;
use std::collections::HashMap;
use std::fmt::Write as _;

use crate::measure::Units;
use crate::pile::{Fault, Faults};

/// One step of the way from the top of a file to a value.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Step {
    /// A field.
    Name(Cow<'static, str>),
    /// An entry of a list, from 0.
    Index(usize),
    /// A row of a spreadsheet, as the spreadsheet numbers it.
    Row(u64),
}

/// Where the reader stands, and what it found wrong.
pub(crate) struct Reader {
    file: String,
    /// Units of plain numbers; none when the file does not say, so that no size is judged.
    pub(crate) units: Option<Units>,
    /// Columns of the spreadsheet; none for JSON.
    columns: Option<Vec<String>>,
    /// True when the spreadsheet's columns are parted by commas, so that `1,234` is in doubt.
    pub(crate) comma_parted: bool,
    place: Vec<Step>,
    faults: Vec<Fault>,
    said: HashMap<(&'static str, String), (String, String)>,
    columns_missed: Vec<&'static str>,
}

impl Reader {
    /// A reader of a JSON file whose units are not known yet.
    pub(crate) fn json(file: &str) -> Reader {
        Reader {
            file: file.into(),
            units: None,
            columns: None,
            comma_parted: false,
            place: Vec::new(),
            faults: Vec::new(),
            said: HashMap::new(),
            columns_missed: Vec::new(),
        }
    }

    /// A reader of a spreadsheet with these columns.
    pub(crate) fn csv(file: &str, units: Units, columns: Vec<String>, comma_parted: bool) -> Reader {
        Reader { units: Some(units), columns: Some(columns), comma_parted, ..Reader::json(file) }
    }

    /// True when a spreadsheet is read.
    pub(crate) fn is_csv(&self) -> bool {
        self.columns.is_some()
    }

    /// True when the spreadsheet has the column, or one of a group's (`warp.bow` for `warp`); always for JSON.
    pub(crate) fn has_column(&self, name: &str) -> bool {
        self.columns.as_ref().is_none_or(|columns| {
            columns.iter().any(|c| c == name || c.strip_prefix(name).is_some_and(|rest| rest.starts_with('.')))
        })
    }

    /// Runs `read` one step further in.
    pub(crate) fn within<T>(&mut self, step: Step, read: impl FnOnce(&mut Reader) -> T) -> T {
        self.place.push(step);
        let out = read(self);
        self.place.pop();
        out
    }

    /// Notes a fault where the reader stands.
    pub(crate) fn fault(&mut self, read: String, what: impl Into<String>, cure: impl Into<String>) {
        let (place, pointer) = (self.place(), self.pointer());
        let (what, cure) = (what.into(), cure.into());
        self.faults.push(Fault { file: self.file.clone(), place, pointer, read, what, cure });
    }

    /// Notes a fault at a place of the caller's own.
    pub(crate) fn fault_at(&mut self, place: String, read: String, what: impl Into<String>, cure: impl Into<String>) {
        let (what, cure) = (what.into(), cure.into());
        self.faults.push(Fault { file: self.file.clone(), place, pointer: String::new(), read, what, cure });
    }

    /// Notes once that the spreadsheet lacks a column that every row needs.
    pub(crate) fn column_missing(&mut self, name: &'static str, what: String, cure: String) {
        if !self.columns_missed.contains(&name) {
            self.columns_missed.push(name);
            self.fault_at("the header row".into(), String::new(), what, cure);
        }
    }

    /// Remembers that `key` of this `kind` said `value` here; gives back what it said first, and where, if it did before.
    pub(crate) fn first_said(&mut self, kind: &'static str, key: &str, value: &str) -> Option<(String, String)> {
        let key = (kind, key.to_owned());
        if let Some(first) = self.said.get(&key) {
            return Some(first.clone());
        }
        let place = self.place();
        self.said.insert(key, (value.to_owned(), place));
        None
    }

    /// Where the reader stands: `boards[3].width`, or `row 4, column warp.bow`.
    pub(crate) fn place(&self) -> String {
        let mut place = String::new();
        let mut in_row = false;
        for step in &self.place {
            match step {
                Step::Row(row) => {
                    in_row = true;
                    let _ = write!(place, "row {row}");
                }
                Step::Index(index) => {
                    let _ = write!(place, "[{index}]");
                }
                Step::Name(name) if in_row => {
                    in_row = false;
                    let _ = write!(place, ", column {name}");
                }
                Step::Name(name) if place.is_empty() => place.push_str(name),
                Step::Name(name) => {
                    let _ = write!(place, ".{name}");
                }
            }
        }
        place
    }

    /// Where the reader stands in a JSON file, as RFC 6901 writes it; empty in a spreadsheet.
    fn pointer(&self) -> String {
        let mut pointer = String::new();
        for step in &self.place {
            match step {
                Step::Row(_) => return String::new(),
                Step::Index(index) => {
                    let _ = write!(pointer, "/{index}");
                }
                Step::Name(name) => {
                    let _ = write!(pointer, "/{}", name.replace('~', "~0").replace('/', "~1"));
                }
            }
        }
        pointer
    }

    /// What was read, if nothing was wrong.
    ///
    /// # Errors
    /// All faults, in the order in which they were met.
    pub(crate) fn finish<T>(self, out: Option<T>) -> Result<T, Faults> {
        match (Faults::from_vec(self.faults), out) {
            (Some(faults), _) => Err(faults),
            (None, Some(out)) => Ok(out),
            // A record that comes to nothing has noted why; this line keeps the promise if one ever did not.
            (None, None) => Err(Faults::one(Fault {
                file: self.file,
                place: String::new(),
                pointer: String::new(),
                read: String::new(),
                what: "this file could not be understood".into(),
                cure: "compare it with the published schema".into(),
            })),
        }
    }
}
