//! The answer of the optimiser: layouts in ticks, and what is proven.
//!
//! Plain data and its bookkeeping (what a layout yields, what it earns). Whether a layout is lawful is decided again,
//! from the published plan, by `plan::check`; the `verify` functions here are the optimiser's own debug conscience.

/// How one piece of stock is cut.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Layout {
    /// Index of the stock class.
    pub stock: usize,
    /// The cuts.
    pub shape: Shape,
}

/// The cuts of one piece of stock.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Shape {
    Board(BoardLayout),
    Sheet(SheetNode),
    Stick(StickLayout),
}

/// Sections in ascending x, and the credited offcuts between or beside them.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct BoardLayout {
    pub sections: Vec<SectionAt>,
    /// Credited spans (x0, x1) of the full board, ascending; x0 = 0 or x1 = length at a board's own end.
    pub offcuts: Vec<(i64, i64)>,
}

/// A section and its strips in ascending y.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SectionAt {
    pub x: i64,
    pub length: i64,
    /// Index into the board's `classes`.
    pub class: usize,
    pub strips: Vec<StripAt>,
}

/// A strip and its blanks in ascending x.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StripAt {
    pub y: i64,
    pub width: i64,
    pub blanks: Vec<BlankAt>,
}

/// A blank: left end and cutting.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BlankAt {
    pub x: i64,
    /// Index into the board's `cuttings`.
    pub cutting: usize,
}

/// A node of a sheet's cut tree, in sheet coordinates.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum SheetNode {
    /// A piece at the node's lower corner; `piece` indexes the sheet's `pieces`.
    Piece { x: i64, y: i64, piece: usize },
    /// A credited remnant.
    Remnant { x: i64, y: i64, length: i64, width: i64 },
    /// A rectangle parted by saw lines of one direction; children ascending.
    Split { x: i64, y: i64, length: i64, width: i64, direction: super::problem::Direction, children: Vec<SheetNode> },
}

/// Pieces of a stick in ascending x.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct StickLayout {
    /// (left end, index into the stick's `pieces`).
    pub pieces: Vec<(i64, usize)>,
    /// Credited spans (x0, x1), ascending.
    pub offcuts: Vec<(i64, i64)>,
}

/// What the optimiser found.
#[derive(Clone, Debug)]
pub struct Outcome {
    /// One entry a piece of stock used; at most `count` of a class.
    pub layouts: Vec<Layout>,
    /// Pieces made, by item.
    pub made: Vec<u32>,
    /// Sum of (cost - credit), micro-units, rounded up.
    pub cost: i64,
    /// No solution making at least `made` of every item costs less; micro-units, rounded down.
    pub bound: i64,
    /// How the bound was found, in words.
    pub proof: &'static str,
    /// By item: what is missing is proven unavoidable.
    pub shortage_proven: Vec<bool>,
    /// Why the search ended.
    pub why: Why,
    /// Units of work spent.
    pub work: u64,
}

/// Why the search ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Why {
    /// The bound meets the cost.
    Proven,
    /// The asked gap was reached.
    Gap,
    /// The clock ran out.
    Time,
    /// The work limit ran out, or nothing was left to try.
    Work,
    /// The caller cancelled.
    Cancelled,
}
