//! What a board costs, worked out again from the pile: piece price, invoiced feet, surface measure or plain volume.
//!
//! Deliberately apart from the pile's own billing: the checker would repeat a slip there if it shared the code.
//! Table of thicknesses: NHLA standard thicknesses with the surfaced (S2S) column of the same rules, and the kiln-dried
//! scant allowance of 1/16 in up to 7/4 and 1/8 in from 8/4 on.

use num_traits::{One, Signed, Zero};

use crate::measure::{Length, Money, Rational};
use crate::pile::{Board, Pile, Price, Tally};

/// (nominal in quarters of an inch x 2, kiln-dried minimum, surfaced size), thickest first, in 1/16 in; 0: none agreed.
const STANDARD: [(i64, i64, i64); 17] = [
    (48, 94, 0),
    (44, 86, 0),
    (40, 78, 0),
    (36, 70, 0),
    (32, 62, 60),
    (28, 54, 52),
    (24, 46, 44),
    (20, 38, 36),
    (16, 30, 28),
    (14, 27, 24),
    (12, 23, 21),
    (10, 19, 17),
    (8, 15, 13),
    (6, 11, 9),
    (5, 9, 7),
    (4, 7, 5),
    (3, 5, 3),
];

/// What the board at `index` of the pile costs, exactly.
pub(super) fn board_price(pile: &Pile, index: usize) -> Money {
    match &pile.boards[index].price {
        Price::Piece(money) => money.clone(),
        Price::BoardFoot(rate) => rate.times(&board_feet(pile, index)),
    }
}

/// Board feet as billed: as invoiced, or else by the pile's tally.
fn board_feet(pile: &Pile, index: usize) -> Rational {
    let board = &pile.boards[index];
    if let Some(invoiced) = &board.board_feet {
        return invoiced.clone();
    }
    let square_feet = match (pile.tally, board.surface_measure) {
        (Tally::Exact, _) => inches(board.width) * inches(board.length) / whole(144),
        (Tally::Hardwood, Some(measure)) => whole(i64::from(measure)),
        (Tally::Hardwood, None) => rounded_measure(pile, index),
    };
    square_feet * billing_thickness(board)
}

/// Width x whole feet / 12, unrounded.
fn raw_measure(board: &Board) -> Rational {
    let feet = board.length.ticks().div_euclid(12 * Length::PER_INCH);
    inches(board.width) * whole(feet) / whole(12)
}

/// The surface measure of a board so tallied: to the nearest whole; an exact half goes up, then down, in turn over the
/// lines of the file that are so tallied.
fn rounded_measure(pile: &Pile, index: usize) -> Rational {
    let half = Rational::new(1.into(), 2.into());
    let is_half = |measure: &Rational| measure.fract() == half;
    let raw = raw_measure(&pile.boards[index]);
    if !is_half(&raw) {
        return (raw + half).floor();
    }
    let halves_before = pile.boards[..index]
        .iter()
        .filter(|board| matches!(board.price, Price::BoardFoot(_)))
        .filter(|board| board.board_feet.is_none() && board.surface_measure.is_none())
        .filter(|board| is_half(&raw_measure(board)))
        .count();
    if halves_before % 2 == 0 { raw.ceil() } else { raw.floor() }
}

/// In inches: nominal, or else the largest standard thickness that the measured one satisfies; at least 1.
fn billing_thickness(board: &Board) -> Rational {
    let stated = board.nominal.map(|nominal| Rational::new(nominal.numerator.into(), nominal.denominator.into()));
    let thickness = stated.unwrap_or_else(|| {
        let surfaced = board.surfaced.faces_planed();
        let satisfied = STANDARD.iter().find(|(_, dried, planed)| {
            let least = if surfaced { *planed } else { *dried };
            least > 0 && board.thickness >= Length::from_inch_fraction(least, 16)
        });
        satisfied.map_or_else(Rational::zero, |(eighths, _, _)| Rational::new((*eighths).into(), 8.into()))
    });
    debug_assert!(!thickness.is_negative());
    thickness.max(Rational::one())
}

fn inches(length: Length) -> Rational {
    Rational::new(length.ticks().into(), Length::PER_INCH.into())
}

fn whole(number: i64) -> Rational {
    Rational::from_integer(number.into())
}
