//! The parts of a sample: what furniture is made of, in the proportions a shop sees.
//!
//! Holds the kinds of parts with their usual sizes and the woods they are made from. Sizes are common practice;
//! everything else is invented.

use crate::job::{Faces, Part, PartGrain, Wanted};
use crate::measure::{Length, Units};
use crate::pile::{Board, Nominal};

use super::on_grid;
use crate::measure::dice::{Dice, eighths, thirty_seconds};

/// A species at a nominal thickness.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Wood {
    /// As it stands in the files.
    pub species: &'static str,
    /// Quarters of an inch.
    pub quarters: u16,
}

impl Wood {
    /// True for a board of this wood.
    pub fn is_of(&self, board: &Board) -> bool {
        board.species == self.species && board.nominal == Some(Nominal { numerator: self.quarters, denominator: 4 })
    }
}

/// Woods that show.
const SHOW: [&str; 5] = ["cherry", "walnut", "white oak", "hard maple", "ash"];
/// Woods for the inside of a piece.
const INSIDE: [&str; 2] = ["poplar", "soft maple"];

/// The woods of a sample: 4/4 of one species always, 8/4 from 8 boards on, 5/4 and a second species from 24 on.
pub fn choose_woods(dice: &mut Dice, boards: u32) -> Vec<Wood> {
    let species = *dice.pick(&SHOW);
    let inside = *dice.pick(&INSIDE);
    let mut woods = vec![Wood { species, quarters: 4 }];
    if boards >= 8 {
        woods.push(Wood { species, quarters: 8 });
    }
    if boards >= 24 {
        woods.push(Wood { species, quarters: 5 });
        woods.push(Wood { species: inside, quarters: 4 });
    }
    woods
}

/// Bounds of finished sizes, eighths of an inch.
const SHORTEST: i64 = 48;
const LONGEST: i64 = 432;
const NARROWEST: i64 = 7;

/// A kind of part with its usual sizes, in eighths of an inch.
struct Kind {
    name: &'static str,
    group: &'static str,
    /// Index into the woods of the sample.
    wood: usize,
    /// Finished thickness, thirty-seconds of an inch.
    thickness: i64,
    length: (i64, i64),
    width: (i64, i64),
    /// Each tenon.
    tenon: i64,
    faces: Faces,
    /// Usual counts.
    counts: &'static [u32],
    priority: i32,
    /// How often it comes, against the others.
    weight: i64,
}

#[rustfmt::skip]
const KINDS: [Kind; 14] = [
    Kind { name: "rail", group: "frame", wood: 0, thickness: 24, length: (128, 296), width: (16, 32), tenon: 8, faces: Faces::C1f, counts: &[2, 4], priority: 1, weight: 14 },
    Kind { name: "stile", group: "frame", wood: 0, thickness: 24, length: (184, 440), width: (16, 26), tenon: 0, faces: Faces::C1f, counts: &[2, 4], priority: 1, weight: 12 },
    Kind { name: "apron", group: "base", wood: 0, thickness: 24, length: (144, 408), width: (24, 40), tenon: 8, faces: Faces::C1f, counts: &[2], priority: 1, weight: 8 },
    Kind { name: "shelf-stave", group: "case", wood: 0, thickness: 24, length: (224, 408), width: (24, 40), tenon: 0, faces: Faces::C1f, counts: &[3, 4, 6], priority: 0, weight: 9 },
    Kind { name: "panel-stave", group: "frame", wood: 0, thickness: 16, length: (112, 272), width: (20, 36), tenon: 2, faces: Faces::C2f, counts: &[3, 4], priority: 0, weight: 8 },
    Kind { name: "drawer-front", group: "drawers", wood: 0, thickness: 24, length: (96, 240), width: (32, 54), tenon: 0, faces: Faces::C2f, counts: &[1, 2, 3], priority: 2, weight: 7 },
    Kind { name: "slat", group: "base", wood: 0, thickness: 16, length: (112, 256), width: (12, 20), tenon: 4, faces: Faces::C1f, counts: &[4, 6, 8], priority: 0, weight: 8 },
    Kind { name: "cleat", group: "case", wood: 0, thickness: 24, length: (80, 184), width: (8, 14), tenon: 0, faces: Faces::Any, counts: &[2, 4], priority: -1, weight: 5 },
    Kind { name: "leg", group: "base", wood: 1, thickness: 48, length: (144, 272), width: (12, 14), tenon: 0, faces: Faces::C2f, counts: &[4], priority: 2, weight: 8 },
    Kind { name: "stretcher", group: "base", wood: 1, thickness: 48, length: (184, 368), width: (14, 22), tenon: 8, faces: Faces::C1f, counts: &[1, 2], priority: 1, weight: 4 },
    Kind { name: "top-stave", group: "top", wood: 2, thickness: 32, length: (240, 376), width: (24, 34), tenon: 0, faces: Faces::C1f, counts: &[4, 5, 6], priority: 2, weight: 6 },
    Kind { name: "top-end", group: "top", wood: 2, thickness: 32, length: (168, 296), width: (18, 28), tenon: 0, faces: Faces::C2f, counts: &[2], priority: 1, weight: 4 },
    Kind { name: "drawer-side", group: "drawers", wood: 3, thickness: 16, length: (120, 200), width: (24, 52), tenon: 0, faces: Faces::Sound, counts: &[2, 4], priority: 0, weight: 10 },
    Kind { name: "runner", group: "drawers", wood: 3, thickness: 20, length: (128, 200), width: (10, 16), tenon: 2, faces: Faces::Any, counts: &[2, 4, 6], priority: 0, weight: 6 },
];

/// A part before its final size is known.
pub struct Sketch {
    kind: &'static Kind,
    pub wood: Wood,
    pub qty: u32,
    pub tenon: Length,
    /// Usual size, eighths of an inch.
    length: i64,
    width: i64,
}

/// Draws kinds of parts until their counts add up to `pieces`; bigger jobs make more of each.
pub fn sketch(dice: &mut Dice, woods: &[Wood], pieces: u32) -> Vec<Sketch> {
    let sets = 1 + pieces / 200;
    let mut left = pieces;
    let mut sketches = Vec::new();
    while left > 0 {
        let kind = draw_kind(dice, woods.len());
        let qty = (*dice.pick(kind.counts) * sets).min(left);
        left -= qty;
        sketches.push(Sketch {
            kind,
            wood: woods[kind.wood],
            qty,
            tenon: eighths(kind.tenon),
            // Lengths to half an inch, widths to an eighth.
            length: dice.roll(kind.length.0, kind.length.1) / 4 * 4,
            width: dice.middling(kind.width.0, kind.width.1),
        });
    }
    sketches
}

fn draw_kind(dice: &mut Dice, woods: usize) -> &'static Kind {
    let served = || KINDS.iter().filter(|kind| kind.wood < woods);
    let mut ticket = dice.roll(1, served().map(|kind| kind.weight).sum());
    served()
        .find(|kind| {
            ticket -= kind.weight;
            ticket <= 0
        })
        .expect("the tickets are the weights")
}

impl Sketch {
    /// Length between shoulders and width at `percent` of the usual size, to the eighth: widths follow lengths half way,
    /// a leg stays as thick as it is. Never under 6 in by 7/8 in, never longer than boards of everyday length serve.
    pub fn size(&self, percent: i64) -> (Length, Length) {
        let length = (self.length * percent / 100).clamp(SHORTEST, LONGEST);
        let width =
            if self.kind.name == "leg" { self.width } else { (self.width * (100 + percent) / 200).max(NARROWEST) };
        (eighths(length), eighths(width))
    }

    /// The part, named by its kind and its place in the job.
    pub fn part(&self, number: usize, percent: i64, units: Units) -> Part {
        let (length, width) = self.size(percent);
        let tenon = on_grid(self.tenon, units);
        Part {
            id: format!("{}-{number}", self.kind.name),
            qty: self.qty,
            stock: Wanted::Species(self.wood.species.to_owned()),
            thickness: on_grid(thirty_seconds(self.kind.thickness), units),
            width: on_grid(width, units),
            length: on_grid(length, units),
            tenons: [tenon, tenon],
            faces: self.kind.faces,
            rings: Vec::new(),
            grain: PartGrain::Along,
            priority: self.kind.priority,
            value: None,
            group: Some(self.kind.group.to_owned()),
            note: None,
            lamination: None,
            panel: None,
            matching: None,
        }
    }
}
