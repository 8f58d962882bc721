//! What stock there is: boards, sheets and sticks as measured, and the files they are kept in.
//!
//! The types here are the pile after it was read and found good: every length is exact, every mark is a defect
//! rectangle, every warp word is a figure, a thickness left out is filled in. What a piece *costs* by the yard's tally is
//! in `value`, the whole of it added up in `tally_sheet`; how files are read, and what is wrong with them, in `file`. What a board is good for is `milling`'s business.

mod fault;
pub mod file;
mod marks;
pub(crate) mod reading;
pub(crate) mod record;
pub(crate) mod scatter;
pub mod tally_sheet;
pub mod value;
mod words;

use crate::measure::{Length, Money, Rational, Units};

pub use fault::{Fault, Faults};
pub(crate) use marks::said;
pub use marks::{MarkFault, WarpWord, read_marks};
pub use record::standard_thickness;
pub use words::{normal_words, same_words};

/// The stock at hand.
#[derive(Clone, Debug, PartialEq)]
pub struct Pile {
    /// Units of the file it came from.
    pub units: Units,
    /// How boards priced by the foot are billed.
    pub tally: Tally,
    /// Boards, in the order of the file.
    pub boards: Vec<Board>,
    /// Panel stock.
    pub sheets: Vec<Sheet>,
    /// Linear stock of fixed section.
    pub sticks: Vec<Stick>,
}

/// How a board priced by the foot is billed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, serde::Serialize, serde::Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Tally {
    /// Surface measure to the nearest whole square foot, exact halves up and down in turn, times the billing thickness.
    #[default]
    Hardwood,
    /// Width by true length by billing thickness, unrounded.
    Exact,
}

/// One measured piece of lumber.
#[derive(Clone, Debug, PartialEq)]
pub struct Board {
    /// The maker's mark on it, unique in the pile.
    pub id: String,
    /// Species as written in the file.
    pub species: String,
    /// Nominal thickness in quarters of an inch as written (`5/4`), if stated.
    pub nominal: Option<Nominal>,
    /// Measured thickness, or the nominal's kiln-dried minimum (its surfaced size when surfaced) when left out.
    pub thickness: Length,
    /// Across the grain.
    pub width: Length,
    /// With the grain.
    pub length: Length,
    /// Grade as invoiced.
    pub grade: Option<String>,
    /// What was done to its faces and edges before it came.
    pub surfaced: Surfaced,
    /// How the growth rings lie, if known.
    pub rings: Option<Rings>,
    /// The face towards the heart of the tree, if known.
    pub heart: Option<Face>,
    /// What it costs.
    pub price: Price,
    /// Board feet as invoiced; overrides the tally.
    pub board_feet: Option<Rational>,
    /// Whole square feet as the yard tallied it.
    pub surface_measure: Option<u32>,
    /// Moisture content, percent.
    pub moisture: Option<f64>,
    /// How far from flat and straight it is.
    pub warp: Warp,
    /// What some parts cannot contain; `marks` are already among them.
    pub defects: Vec<Defect>,
    /// Equal boards (1 unless a lot of like pieces is entered as one line).
    pub quantity: u32,
}

/// A nominal thickness: a number of quarters, eighths or halves of an inch as the trade writes it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Nominal {
    /// `5` of `5/4`.
    pub numerator: u16,
    /// `4` of `5/4`.
    pub denominator: u16,
}

/// What a piece of stock costs.
#[derive(Clone, Debug, PartialEq)]
pub enum Price {
    /// The piece.
    Piece(Money),
    /// A board foot, as billed.
    BoardFoot(Money),
}

/// What was done to a board's faces and edges before it came.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize, schemars::JsonSchema,
)]
#[serde(rename_all = "lowercase")]
pub enum Surfaced {
    /// As sawn and dried.
    #[default]
    Rough,
    /// Both faces planed.
    S2s,
    /// Both faces and both edges planed.
    S4s,
    /// Rough faces, one straight edge (the reference edge).
    Slr1e,
}

impl Surfaced {
    /// True when both faces were planed.
    pub const fn faces_planed(self) -> bool {
        matches!(self, Surfaced::S2s | Surfaced::S4s)
    }
}

/// How the growth rings meet the face.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, serde::Serialize, serde::Deserialize, schemars::JsonSchema,
)]
#[serde(rename_all = "lowercase")]
pub enum Rings {
    /// Under 30 degrees or so: plainsawn.
    Flat,
    /// Between the two.
    Rift,
    /// Over 60 degrees or so: quartersawn.
    Quarter,
}

/// One face of a board.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Face {
    /// The face that was up when it was measured.
    Top,
    /// The other one.
    Bottom,
}

/// Measured departures from flat and straight, as gaps over the whole board.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Warp {
    /// Face, end to end.
    pub bow: Length,
    /// Edge, end to end; the hollow edge is the reference edge.
    pub crook: Length,
    /// Face, edge to edge.
    pub cup: Length,
    /// One corner's lift.
    pub twist: Length,
}

/// A rectangle of wood that some parts cannot contain.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Defect {
    /// What it is.
    pub kind: DefectKind,
    /// From the left end along the length.
    pub x: Length,
    /// From the reference edge across.
    pub y: Length,
    /// Along the length.
    pub length: Length,
    /// Across.
    pub width: Length,
    /// Where it shows.
    pub face: DefectFace,
    /// Sound: still solid wood, a blemish only.
    pub sound: bool,
}

/// What a defect is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum DefectKind {
    Knot,
    Check,
    Split,
    Wane,
    Pith,
    Sap,
    Hole,
    Stain,
    Bark,
    /// Noted by tape only (`marks`): no kind was written down.
    Mark,
}

/// Where a defect shows.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize, schemars::JsonSchema,
)]
#[serde(rename_all = "lowercase")]
pub enum DefectFace {
    Top,
    Bottom,
    /// On both faces and in between.
    #[default]
    Through,
}

/// Panel stock.
#[derive(Clone, Debug, PartialEq)]
pub struct Sheet {
    /// Unique in the pile.
    pub id: String,
    /// As a part asks for it.
    pub material: String,
    pub thickness: Length,
    pub length: Length,
    pub width: Length,
    /// Which way the face grain runs.
    pub grain: SheetGrain,
    /// Equal sheets at hand.
    pub quantity: u32,
    /// Of one sheet.
    pub cost: Money,
}

/// Which way a sheet's face grain runs.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize, schemars::JsonSchema,
)]
#[serde(rename_all = "lowercase")]
pub enum SheetGrain {
    #[default]
    Length,
    Width,
    None,
}

/// Linear stock of fixed cross-section.
#[derive(Clone, Debug, PartialEq)]
pub struct Stick {
    /// Unique in the pile.
    pub id: String,
    /// As a part asks for it.
    pub material: String,
    pub thickness: Length,
    pub width: Length,
    pub length: Length,
    /// Equal sticks at hand.
    pub quantity: u32,
    /// Of one stick.
    pub cost: Money,
}
