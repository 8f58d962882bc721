//! The working grid along a board: how fine, and whether anything has to be rounded on it.
//!
//! Positions are counted in cells from the board's trimmed left end. When every length that can decide a position is a
//! whole number of cells, some best layout has all its positions on the grid (they solve difference constraints whose
//! constants are multiples of the step), so nothing is lost. The longest lengths of section classes come from warp and may
//! be off any grid; they alone may be rounded on an exact one. Otherwise the bound is rounded towards the wood and the
//! layout against it, by [`super::model`].

use crate::nesting::problem::{BoardStock, Credit};

/// Most cells along a board before a coarser grid is taken. The cost of pricing grows with it; rounding costs a second
/// model, which is worth about a halving.
const MOST_CELLS: i64 = 3400;
/// Cells along the board when no usual step suits.
const PLAIN_CELLS: i64 = 1600;
/// Steps tried when the exact one is too fine, ticks: 1/16 in, 1 mm, 1/32 in, 1/2 mm.
const USUAL_STEPS: [i64; 4] = [127_000, 80_000, 63_500, 40_000];

/// Cells along the board.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Grid {
    /// Ticks a cell.
    pub step: i64,
    /// Every length that places a blank is a whole number of cells.
    pub exact: bool,
    /// Also every length that places the end of an offcut is.
    pub exact_offcuts: bool,
}

impl Grid {
    /// The grid for one board.
    pub fn choose(board: &BoardStock, credit: Option<&Credit>) -> Grid {
        let room = board.length - 2 * board.end_trim;
        let places = placing_lengths(board).fold(0, gcd);
        let offcuts = offcut_lengths(board, credit).fold(places, gcd);
        let all = board.classes.iter().map(|class| class.max_length + board.kerf_cross).fold(offcuts, gcd);
        let suits = |step: i64| step > 0 && room / step <= MOST_CELLS;
        if suits(all) {
            return Grid { step: all, exact: true, exact_offcuts: true };
        }
        if suits(offcuts) {
            return Grid { step: finer(offcuts, room), exact: true, exact_offcuts: true };
        }
        if suits(places) {
            return Grid { step: finer(places, room), exact: true, exact_offcuts: false };
        }
        Grid { step: coarse_step(board, room), exact: false, exact_offcuts: false }
    }
}

/// A part of an exact step, for the sake of what is off it all the same.
fn finer(step: i64, room: i64) -> i64 {
    let mut step = step;
    while step % 2 == 0 && 2 * room / step <= PLAIN_CELLS {
        step /= 2;
    }
    step
}

/// Lengths that place blanks pushed left: blank and kerf, margins, shortest sections, right ends of what is blocked.
fn placing_lengths(board: &BoardStock) -> impl Iterator<Item = i64> + '_ {
    let blanks = board.cuttings.iter().map(|c| c.length + board.kerf_cross);
    let margins = board.classes.iter().flat_map(|c| [c.end_margin, c.min_length + board.kerf_cross]);
    let clear =
        board.cuttings.iter().flat_map(|c| board.blocked[c.blocked].iter().map(|r| r.x1 - c.net_dx - board.end_trim));
    blanks.chain(margins).chain(clear)
}

/// What else places the ends of credited offcuts: sections pushed right, edges of the sound area, lengths of sections.
fn offcut_lengths<'a>(board: &'a BoardStock, credit: Option<&'a Credit>) -> impl Iterator<Item = i64> + 'a {
    credit.into_iter().flat_map(move |credit| {
        let ends = [board.length, board.end_trim, board.kerf_cross, credit.min_length];
        let clear = board
            .cuttings
            .iter()
            .flat_map(|c| board.blocked[c.blocked].iter().map(|r| r.x0 - c.net_dx - c.net_length - board.end_trim));
        let sound = board.defects.iter().flat_map(|r| [r.x0, r.x1]);
        ends.into_iter().chain(clear).chain(sound)
    })
}

/// The usual step that wastes least a blank, relative to its length.
fn coarse_step(board: &BoardStock, room: i64) -> i64 {
    let shortest = board.cuttings.iter().map(|c| c.length + board.kerf_cross).min().unwrap_or(room);
    let plain = (room / PLAIN_CELLS).clamp(1, (shortest / 4).max(1));
    let waste = |step: i64| -> i128 {
        let each = board.cuttings.iter().map(|c| {
            let length = i128::from(c.length + board.kerf_cross);
            let step = i128::from(step);
            (-length).rem_euclid(step) * (1 << 30) / length
        });
        each.sum()
    };
    let usual = USUAL_STEPS.into_iter().filter(|&s| room / s <= MOST_CELLS && room / s >= 100 && s * 4 <= shortest);
    usual.min_by_key(|&step| (waste(step), -step)).unwrap_or(plain)
}

/// Greatest common divisor of magnitudes; `gcd(0, x) = |x|`.
fn gcd(a: i64, b: i64) -> i64 {
    let (mut a, mut b) = (a.abs(), b.abs());
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a
}

/// Quotient rounded up, for any dividend and a positive divisor.
pub(super) const fn ceil_div(value: i64, by: i64) -> i64 {
    -(-value).div_euclid(by)
}
