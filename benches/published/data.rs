//! The files of a published family: `instances.jsonl`, one instance a line, and `values.csv`, one row a question.
//!
//! An instance's form tells its kind: bars (`capacity`, `widths`, `demands`), bars of several lengths (`stock`), or plates
//! (`plate`, `items`, `defects` as [x, y, width, height]). Lines of another form are kept as such and not answered.

use std::collections::BTreeMap;
use std::path::Path;

use serde::Deserialize;

#[derive(Deserialize)]
#[serde(untagged)]
pub enum Instance {
    Bars {
        capacity: i64,
        widths: Vec<i64>,
        demands: Vec<u32>,
    },
    ManyBars {
        stock: Vec<Bar>,
        widths: Vec<i64>,
        demands: Vec<u32>,
    },
    Plates {
        plate: Plate,
        items: Vec<Item>,
        #[serde(default)]
        defects: Vec<[i64; 4]>,
    },
    Other {},
}

#[derive(Deserialize)]
pub struct Bar {
    pub length: i64,
    pub cost: i64,
}

#[derive(Deserialize)]
pub struct Plate {
    pub w: i64,
    pub h: i64,
    pub count: Option<u32>,
}

#[derive(Deserialize)]
pub struct Item {
    pub w: i64,
    pub h: i64,
    /// Pieces to be made, where all must be.
    pub demand: Option<u32>,
    /// Pieces that may be made at most; none = any number.
    pub max: Option<u32>,
    pub value: Option<i64>,
}

/// A question and its published answer.
#[derive(Deserialize)]
pub struct Row {
    pub instance: String,
    pub set: String,
    pub variant: String,
    pub sense: String,
    lower: Option<f64>,
    upper: Option<f64>,
    pub status: String,
}

impl Row {
    /// Proved from below, or the best known where more is better.
    pub fn lower(&self) -> i64 {
        self.lower.map_or(0, |value| value.round() as i64)
    }

    /// Proved from above, or the best known where less is better.
    pub fn upper(&self) -> i64 {
        self.upper.map_or(i64::MAX, |value| value.round() as i64)
    }
}

/// Instances by name.
pub type Instances = BTreeMap<String, Instance>;

/// Reads one family.
///
/// # Errors
/// A file that cannot be read, or a line that is not of the form; the message names which.
pub fn read(folder: &Path) -> Result<(Instances, Vec<Row>), Box<dyn std::error::Error>> {
    #[derive(Deserialize)]
    struct Named {
        name: String,
    }
    let mut instances = Instances::new();
    let file = folder.join("instances.jsonl");
    for (at, line) in std::fs::read_to_string(&file)?.lines().enumerate() {
        let fault = |error: serde_json::Error| format!("{}:{}: {error}", file.display(), at + 1);
        let Named { name } = serde_json::from_str(line).map_err(fault)?;
        instances.insert(name, serde_json::from_str(line).map_err(fault)?);
    }
    let rows = csv::Reader::from_path(folder.join("values.csv"))?.deserialize().collect::<Result<_, _>>()?;
    Ok((instances, rows))
}
