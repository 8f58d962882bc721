//! The optimiser: a pure problem in integers in, layouts and a proven bound out.
//!
//! Knows no wood, no files, no screens; reads no clock but through [`Limits`]. `problem` states the question, `layout` the
//! answer. All lengths are ticks (any integer grain would do), all money whole micro-units, all minimisation.
//! A stock piece's layouts form this class: boards crosscut into sections, sections ripped into strips, strips
//! crosscut into blanks, around blocked rectangles; sheets by staged guillotine cuts; sticks in one direction.

pub mod board;
mod bound;
mod choice;
mod colgen;
mod component;
mod construct;
mod dive;
mod engine;
mod enough;
pub mod fill;
mod fork;
pub mod layout;
mod master;
mod pack;
pub mod problem;
mod recombine;
mod rounding;
pub mod sheet;
mod shortage;
mod simplex;
mod solution;
mod solve;
mod split;
pub mod stick;
mod sticks;
mod subset;
#[cfg(test)]
mod tests;
mod together;
mod ways;

pub use enough::Enough;
pub use layout::{BlankAt, BoardLayout, Layout, Outcome, SectionAt, Shape, SheetNode, StickLayout, StripAt, Why};
pub use problem::{
    BoardStock, Credit, Cutting, Direction, Item, Kerfs, Kind, Limits, Problem, Product, Progress, Rect, SectionClass,
    SheetPiece, SheetStock, StickStock, Stock, StripKind, Together,
};
pub(crate) use solve::with_threads;
pub use solve::{Hint, is_proven, most_of, solve, solve_knowing};
pub use ways::{Asked, Floors, Way, floors};
