//! From a finished part to its blanks, from a board to its usable zones: turns a job and a pile into a nesting problem.
//!
//! Holds the milling model of the shop: allowances, section edges, flattening, faces, margins round defects, machine
//! limits. Nothing here searches. Every rule is a small function of its own file; the result keeps, beside the pure
//! problem, what each integer of it means in the shop, so that `plan` can bring the answer back.

use crate::measure::Length;
use crate::nesting::Problem;
use crate::pile::Face;

/// A nesting problem and what its indices mean.
#[derive(Clone, Debug)]
pub struct Milled {
    /// The pure problem.
    pub problem: Problem,
    /// Parallel to `problem.items`.
    pub items: Vec<MilledItem>,
    /// Parallel to `problem.stock`.
    pub stock: Vec<MilledStock>,
}

/// What an item of the problem is in the shop.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MilledItem {
    /// Index of the part in the job.
    pub part: usize,
    /// Layers of one copy; 1 for a plain part.
    pub layers: u32,
    /// Thickness each piece is planed to (the sheet's or stick's own for those).
    pub thickness: Length,
}

/// What a class of stock is in the shop.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MilledStock {
    /// Where it lies in the pile.
    pub source: StockRef,
    /// Parallel to a board's `cuttings`, a sheet's or a stick's `pieces`.
    pub cuttings: Vec<MilledCutting>,
}

/// A piece of stock in the pile.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum StockRef {
    /// Index into `boards`.
    Board(usize),
    /// Index into `sheets`.
    Sheet(usize),
    /// Index into `sticks`.
    Stick(usize),
}

/// What a blank is in the shop.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MilledCutting {
    /// Items of its leaves from the top face down; one for a blank that is not resawn.
    pub leaves: Vec<usize>,
    /// Planed; false for surfaced stock used at its own thickness, sheets and sticks.
    pub planed: bool,
    /// The clear face, for a part that needs only one: the top when both would do.
    pub face_up: Face,
}
