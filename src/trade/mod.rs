//! Facts and rules of the trade: species, grades, thicknesses, board feet, wood movement, weight, safety figures.
//!
//! Tables and the arithmetic that goes with them, each with its source. Imports only `measure`; which board or part a
//! fact is applied to is decided by the modules that ask. What decides a fit or a bill (thickness, tally, warp) is
//! exact; what is only told to people (movement, weight) is in floats.

pub mod grades;
pub mod lifting;
pub mod movement;
pub mod safety;
pub mod species;
pub mod tally;
pub mod thickness;
pub mod warp;
pub mod weight;

/// How well a figure of the trade is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Status {
    /// Read in the published source named.
    Published,
    /// Named in the source, taken from memory.
    FromMemory,
    /// What shops do; no published source.
    CommonPractice,
}

impl Status {
    /// The words for it in a table of settings or cautions.
    pub const fn words(self) -> &'static str {
        match self {
            Status::Published => "published",
            Status::FromMemory => "from memory",
            Status::CommonPractice => "common practice",
        }
    }
}

/// One figure of the trade with its unit and where it comes from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figure {
    /// The number.
    pub value: f64,
    /// What it counts: `in`, `lb`, `mg/m3`, `dBA`, ...
    pub unit: &'static str,
    /// Where it is printed, or whose custom it is.
    pub source: &'static str,
    /// How well it is known.
    pub status: Status,
}

impl Figure {
    const fn published(value: f64, unit: &'static str, source: &'static str) -> Figure {
        Figure { value, unit, source, status: Status::Published }
    }

    const fn common_practice(value: f64, unit: &'static str, source: &'static str) -> Figure {
        Figure { value, unit, source, status: Status::CommonPractice }
    }
}
