//! What is wrong with a file, said so that its writer can put it right.
//!
//! A `Fault` names the file, the place in it, what was read there, what is wrong and what would do. `Faults` holds all
//! faults of a file together and is never empty. Finding them is the readers' business.

use std::fmt;

/// One thing wrong with a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// The file, as the caller named it.
    pub file: String,
    /// Where in it: a path such as `boards[3].width`, a row and column, a line and column; empty for the whole file.
    pub place: String,
    /// The same place in a JSON file as RFC 6901 writes it, `/boards/3/width`; empty for the whole file, and in a spreadsheet.
    pub pointer: String,
    /// What was read there, shortened when long; empty when nothing was.
    pub read: String,
    /// What is wrong with it.
    pub what: String,
    /// What would do instead.
    pub cure: String,
}

/// One paragraph: `pile.json, boards[3].width: a width must be more than 0 (read -3); measure it again`.
impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.file)?;
        if !self.place.is_empty() {
            write!(f, ", {}", self.place)?;
        }
        write!(f, ": {}", self.what)?;
        if !self.read.is_empty() {
            write!(f, " (read {})", self.read)?;
        }
        if !self.cure.is_empty() {
            write!(f, "; {}", self.cure)?;
        }
        Ok(())
    }
}

impl std::error::Error for Fault {}

/// Everything wrong with a file, in the order in which it was met; never empty.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Faults(Vec<Fault>);

impl Faults {
    /// The faults, or `None` when there are none.
    pub fn from_vec(faults: Vec<Fault>) -> Option<Faults> {
        (!faults.is_empty()).then_some(Faults(faults))
    }

    /// A single fault.
    pub fn one(fault: Fault) -> Faults {
        Faults(vec![fault])
    }

    /// The faults, first met first.
    pub fn as_slice(&self) -> &[Fault] {
        &self.0
    }

    /// The faults one by one.
    pub fn iter(&self) -> std::slice::Iter<'_, Fault> {
        self.0.iter()
    }
}

impl<'a> IntoIterator for &'a Faults {
    type Item = &'a Fault;
    type IntoIter = std::slice::Iter<'a, Fault>;
    fn into_iter(self) -> Self::IntoIter {
        self.0.iter()
    }
}

/// One paragraph a fault, an empty line between them.
impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, fault) in self.0.iter().enumerate() {
            if i > 0 {
                f.write_str("\n\n")?;
            }
            write!(f, "{fault}")?;
        }
        Ok(())
    }
}

impl std::error::Error for Faults {}
