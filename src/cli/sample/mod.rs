//! A made-up job and pile of any size, to try the program on.
//!
//! `generate` is a pure function of its arguments: the same seed gives the same job and pile on every machine and with
//! every version that does not say otherwise, for users who try sizes, for benches and for tests. `measure::dice` draws whole
//! numbers, `furniture` the parts, `glued` makes glue-ups of some of them, `wood` the boards; files are written by `pile::file` and `job::file`. Prices, names
//! and sizes are invented; only the share of a board that is defective comes from a published source, named in `wood`.
//! Invariant: no float and no pointer-sized integer takes part in a draw.

mod furniture;
mod glued;
mod wood;

use std::ops::RangeInclusive;

use crate::job::{Job, Part, Shop};
use crate::measure::{Area, Length, Units};
use crate::pile::{Board, Pile, Tally};

use crate::measure::dice::Dice;
use furniture::{Sketch, Wood};
use wood::Lot;

/// How many boards may be asked for.
pub const BOARDS: RangeInclusive<u32> = 1..=5_000;
/// How many finished pieces may be asked for.
pub const PIECES: RangeInclusive<u32> = 1..=50_000;

/// Finished surface of the parts as a share of the surface of their boards, percent, where there are many boards. Half to
/// six tenths of the boards that are cut end up in parts, so a good plan pulls 60 to 75 % of the pile: choosing boards
/// matters, and everything can usually be made.
const DEMAND_PERCENT: i128 = 40;

/// Boards of each wood that are not counted on: of a few boards, one may lie badly for every long part.
const SPARE_BOARDS: i128 = 3;

/// How far parts may be drawn out or shrunk, percent of their usual size, to ask for that share.
const SIZES: RangeInclusive<i64> = 40..=125;

/// A job of `pieces` finished pieces and a pile of `boards` boards in inches; see [`generate_in`].
///
/// ```
/// let (job, pile) = flitchwork::cli::sample::generate(7, 12, 30);
/// assert_eq!(pile.boards.len(), 12);
/// assert_eq!(job.parts.iter().map(|part| part.qty).sum::<u32>(), 30);
/// ```
pub fn generate(seed: u64, boards: u32, pieces: u32) -> (Job, Pile) {
    generate_in(Units::Inches, seed, boards, pieces)
}

/// A job of `pieces` finished pieces and a pile of `boards` boards of one species, or of two from 24 boards on, in
/// one to three thicknesses; sizes are multiples of 1/32 in, or of 1/2 mm.
///
/// With two to six pieces a board, parts have the sizes of furniture and a good plan needs most of the pile but not
/// all of it. Far outside that range parts shrink or grow only so far, and the job may be impossible or trivial.
pub fn generate_in(units: Units, seed: u64, boards: u32, pieces: u32) -> (Job, Pile) {
    generate_with(units, seed, boards, pieces, false)
}

/// As [`generate_in`]; with `glued` the sets of staves are asked for as panels glued up from staves of free width, and
/// legs as laminations of as many layers as the stock makes cheapest. `pieces` then counts the staves of a set, too.
pub fn generate_with(units: Units, seed: u64, boards: u32, pieces: u32, glued: bool) -> (Job, Pile) {
    let mut dice = Dice::new(seed);
    let woods = furniture::choose_woods(&mut dice, boards);
    let sketches = furniture::sketch(&mut dice, &woods, pieces);
    let lots = share_out(&woods, &sketches, boards);
    let stock = wood::boards(&mut dice, &lots, units);
    let part =
        |(at, sketch): (usize, &Sketch)| sketch.part(at + 1, fitting_size(&sketches, &sketch.wood, &stock), units);
    let mut parts: Vec<Part> = sketches.iter().enumerate().map(part).collect();
    if glued {
        parts.iter_mut().for_each(|part| glued::glue_up(part, units));
    }
    let job = Job {
        units,
        title: format!("Sample {seed}: {pieces} pieces from {boards} boards"),
        shop: Shop::defaults(units),
        parts,
    };
    let pile = Pile { units, tally: Tally::Hardwood, boards: stock, sheets: Vec::new(), sticks: Vec::new() };
    (job, pile)
}

/// Shares `boards` out over the woods that are asked for: two each (a wood with a single board hangs on one knot), then each further board to the wood whose boards would
/// otherwise have the most to give.
fn share_out(woods: &[Wood], sketches: &[Sketch], boards: u32) -> Vec<Lot> {
    let asked = |wood: &Wood| surface(sketches, wood, 100).square_ticks();
    let mut lots: Vec<(i128, Lot)> = woods
        .iter()
        .map(|&wood| (asked(&wood), Lot { wood, boards: boards.min(2) }))
        .filter(|(asked, _)| *asked > 0)
        .collect();
    let given: u32 = lots.iter().map(|(_, lot)| lot.boards).sum();
    for _ in given..boards {
        let burden = |(asked, lot): &(i128, Lot)| asked / i128::from(lot.boards);
        let neediest = lots.iter_mut().max_by_key(|lot| burden(lot)).expect("a job asks for some wood");
        neediest.1.boards += 1;
    }
    lots.into_iter().map(|(_, lot)| lot).collect()
}

/// The size of the parts of one wood, percent, at which its boards are asked for no more than their share of surface.
fn fitting_size(sketches: &[Sketch], wood: &Wood, stock: &[Board]) -> i64 {
    let own = || stock.iter().filter(|board| wood.is_of(board));
    let have = own().map(|board| board.length * board.width).sum::<Area>().square_ticks();
    let boards = own().count() as i128;
    let most = have * DEMAND_PERCENT / 100 * boards / (boards + SPARE_BOARDS);
    SIZES.rev().find(|&percent| surface(sketches, wood, percent).square_ticks() <= most).unwrap_or(*SIZES.start())
}

/// Finished surface, tenons included, of everything sketched in `wood` at `percent` of its usual size.
fn surface(sketches: &[Sketch], wood: &Wood, percent: i64) -> Area {
    let of_one = |sketch: &Sketch| {
        let (length, width) = sketch.size(percent);
        (length + sketch.tenon * 2) * width
    };
    let of_all = |sketch: &Sketch| Area::from_square_ticks(of_one(sketch).square_ticks() * i128::from(sketch.qty));
    sketches.iter().filter(|sketch| sketch.wood == *wood).map(of_all).sum()
}

/// `length` on the grid of a file in `units`: as it is in inches, to the half millimetre otherwise.
fn on_grid(length: Length, units: Units) -> Length {
    match units {
        Units::Inches => length,
        Units::Millimetres => {
            let half = Length::PER_MM / 2;
            Length::from_ticks((length.ticks() + half / 2).div_euclid(half) * half)
        }
    }
}

#[cfg(test)]
mod tests;
