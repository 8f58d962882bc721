//! Warp of a piece cut from a warped board, and the wood that making it flat and straight costs.
//!
//! Pure geometry in exact fractions of a tick; which piece is flattened whole and what allowances come on top is
//! `milling`'s. Kink is not here: it follows no rule and is cut out.
//!
//! Definitions of bow, crook, cup and twist: PS 20 softwood lumber grading rules. Scaling is geometry: an arc's gap
//! over a chord L is L^2/(8R), so a shorter chord has it times (l/L)^2; twist turns evenly along the length and lifts
//! in proportion to the width. A flat slab inside a piece of even thickness T that is bent by a gap g is T - g thick;
//! a twisted piece loses half its corner lift, with the plane laid evenly. The three together lose at most their sum,
//! because a plane that is best for each alone, the planes added, serves the sum.

use num_bigint::BigInt;
use num_traits::Zero;

use crate::measure::{Length, Rational};

/// Face warp as measured on a board: the greatest gaps under a straight edge, and one corner's lift.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct FaceWarp {
    /// Face, end to end.
    pub bow: Length,
    /// Face, edge to edge.
    pub cup: Length,
    /// One corner's lift with the other three down.
    pub twist: Length,
}

/// Length and width of a board or of a piece of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Face {
    /// With the grain.
    pub length: Length,
    /// Across the grain.
    pub width: Length,
}

/// Bow left in a piece of length `piece` from a board of length `board`, in ticks: bow (l/L)^2. Panics if the board has
/// no length.
pub fn bow_of_piece(bow: Length, piece: Length, board: Length) -> Rational {
    squared(bow, piece, board)
}

/// Cup left in a strip of width `piece` from a board of width `board`, in ticks: cup (w/W)^2. Panics if the board has
/// no width.
pub fn cup_of_piece(cup: Length, piece: Length, board: Length) -> Rational {
    squared(cup, piece, board)
}

/// Twist left in a piece, in ticks: twist (l/L)(w/W). Panics if the board has no length or no width.
pub fn twist_of_piece(twist: Length, piece: Face, board: Face) -> Rational {
    ticks(twist) * share(piece.length, board.length) * share(piece.width, board.width)
}

/// Wood lost at the edge in straightening a piece of length `piece` from a board of length `board` with this crook, in
/// ticks: crook (l/L)^2. Panics if the board has no length.
pub fn crook_loss(crook: Length, piece: Length, board: Length) -> Rational {
    squared(crook, piece, board)
}

/// Thickness lost in flattening both faces of a piece, in ticks, at worst:
/// `factor` x (bow (l/L)^2 + cup (w/W)^2 + twist/2 (l/L)(w/W)). A factor of 1 is even bending; real boards want more.
/// Panics if the board has no length or no width.
///
/// ```
/// use flitchwork::measure::{Length, Rational};
/// use flitchwork::trade::warp::{Face, FaceWarp, flattening_loss};
/// let inch = Length::from_inches;
/// let cupped = FaceWarp { cup: Length::from_inch_fraction(1, 8), ..FaceWarp::default() };
/// let board = Face { length: inch(96), width: inch(8) };
/// let half = Face { length: inch(96), width: inch(4) };
/// let even = Rational::from_integer(1.into());
/// assert_eq!(flattening_loss(cupped, half, board, &even), Rational::from_integer((Length::PER_INCH / 32).into()));
/// ```
pub fn flattening_loss(warp: FaceWarp, piece: Face, board: Face, factor: &Rational) -> Rational {
    let bow = bow_of_piece(warp.bow, piece.length, board.length);
    let cup = cup_of_piece(warp.cup, piece.width, board.width);
    let twist = twist_of_piece(warp.twist, piece, board);
    factor * (bow + cup + twist / BigInt::from(2))
}

fn squared(gap: Length, piece: Length, board: Length) -> Rational {
    let share = share(piece, board);
    ticks(gap) * &share * &share
}

fn share(piece: Length, board: Length) -> Rational {
    assert!(!board.ticks().is_zero(), "a board has a length and a width");
    Rational::new(BigInt::from(piece.ticks()), BigInt::from(board.ticks()))
}

fn ticks(length: Length) -> Rational {
    Rational::from_integer(BigInt::from(length.ticks()))
}
