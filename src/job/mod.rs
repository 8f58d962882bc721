//! What is to be made, and the shop that makes it.
//!
//! The types here are the job after it was read and found good. How job files are read is in `file`, the shop profile in
//! `shop`, what the shop charges in `rates`. How a part becomes a blank is `milling`'s business.

pub mod file;
pub mod rates;
mod rates_file;
mod rates_shapes;
mod record;
mod settings;
pub mod shop;

use crate::measure::{Length, Money, Units};
use crate::pile::Rings;

pub use shop::Shop;

/// A commission: its parts and the shop profile they are made under.
#[derive(Clone, Debug, PartialEq)]
pub struct Job {
    /// Units of the file; the plan is written in them.
    pub units: Units,
    /// A title for the sheets.
    pub title: String,
    /// Every setting, defaults filled in.
    pub shop: Shop,
    /// Parts in the order of the file.
    pub parts: Vec<Part>,
}

/// A finished piece, with its count.
#[derive(Clone, Debug, PartialEq)]
pub struct Part {
    /// Unique in the job.
    pub id: String,
    /// Copies to make.
    pub qty: u32,
    /// What it is made from.
    pub stock: Wanted,
    /// Finished thickness.
    pub thickness: Length,
    /// Finished width.
    pub width: Length,
    /// Finished length between shoulders, tenons not counted.
    pub length: Length,
    /// Tenon lengths at the left and right end.
    pub tenons: [Length; 2],
    /// How clear it must be.
    pub faces: Faces,
    /// Ring directions it accepts; empty: any.
    pub rings: Vec<Rings>,
    /// How a sheet part lies to the face grain.
    pub grain: PartGrain,
    /// Higher first when not everything can be made.
    pub priority: i32,
    /// What one finished copy is worth in a short plan; its finished volume when not stated.
    pub value: Option<Money>,
    /// Sub-assembly.
    pub group: Option<String>,
    /// Free text for the sheets.
    pub note: Option<String>,
    /// Built up in thickness.
    pub lamination: Option<Lamination>,
    /// Built up in width.
    pub panel: Option<Panel>,
    /// Kept together for grain and colour.
    pub matching: Option<Match>,
}

impl Part {
    /// Finished length with both tenons.
    pub fn full_length(&self) -> Length {
        self.length + self.tenons[0] + self.tenons[1]
    }
}

/// What a part is made from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Wanted {
    /// Lumber of a species.
    Species(String),
    /// A sheet or a stick of a material.
    Material(String),
}

/// How clear a part must be.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize, schemars::JsonSchema,
)]
#[serde(rename_all = "lowercase")]
pub enum Faces {
    /// No defect on either face.
    C2f,
    /// None on one face, sound ones on the other.
    #[default]
    C1f,
    /// Sound defects only.
    Sound,
    /// Whatever comes.
    Any,
}

/// How a sheet part lies to the face grain.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize, schemars::JsonSchema,
)]
#[serde(rename_all = "lowercase")]
pub enum PartGrain {
    /// Length with the grain.
    #[default]
    Along,
    /// Length across the grain.
    Across,
    /// Either way.
    Any,
}

/// A part built up in thickness from layers glued face to face.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Lamination {
    /// Layers, if the maker fixes them; else chosen from the stock.
    pub layers: Option<u32>,
}

/// A part built up in width from staves glued edge to edge.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Panel {
    /// Narrowest net stave width.
    pub stave_min: Length,
    /// Widest net stave width.
    pub stave_max: Length,
    /// One width for all staves.
    pub equal: bool,
    /// From at most so many boards.
    pub max_boards: Option<u32>,
}

/// Parts or pieces that must come from one board or lie next to each other.
#[derive(Clone, Debug, PartialEq)]
pub struct Match {
    /// Name shared by all that belong together.
    pub group: String,
    pub rule: MatchRule,
    pub scope: MatchScope,
    /// What breaking it costs; absent: it is never broken.
    pub worth: Option<Money>,
}

/// How matched pieces must lie.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum MatchRule {
    /// From one board or sheet.
    Board,
    /// End to end in one strip.
    Run,
    /// Neighbouring strips of one section.
    Side,
}

/// Which pieces a match binds.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize, schemars::JsonSchema,
)]
#[serde(rename_all = "lowercase")]
pub enum MatchScope {
    /// All pieces of all parts that name the group.
    #[default]
    Group,
    /// The pieces of each copy among themselves.
    Copy,
}
