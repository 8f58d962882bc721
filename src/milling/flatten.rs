//! How long a piece may be and still flatten thick enough.
//!
//! A piece l x w of a board L x W loses f (bow (l/L)^2 + cup (w/W)^2 + twist/2 (l/L)(w/W)) of its thickness to flattening
//! both faces. The rule is monotone in l, so the longest piece that keeps a given headroom is found by bisection, in
//! whole ticks and exact integers. Which pieces are flattened whole and which in strips is decided in `board`.

use num_bigint::BigInt;

use crate::measure::{Length, Rational};
use crate::pile::Warp;

/// A board's warp with its size, ready to be asked about.
pub struct Flattening<'a> {
    warp: &'a Warp,
    length: i64,
    width: i64,
    factor: &'a Rational,
}

impl<'a> Flattening<'a> {
    /// `length` and `width` are the whole board's; `factor` is the shop's `warp.factor`.
    pub fn new(warp: &'a Warp, length: Length, width: Length, factor: &'a Rational) -> Flattening<'a> {
        Flattening { warp, length: length.ticks(), width: width.ticks(), factor }
    }

    /// True when a piece `l` x `w` (ticks) loses no more than `headroom`.
    pub fn fits(&self, headroom: Length, l: i64, w: i64) -> bool {
        if headroom.is_negative() {
            return false;
        }
        let big = |v: i64| BigInt::from(v);
        let (length, width) = (big(self.length), big(self.width));
        let (l, w) = (big(l), big(w));
        let bow = big(2 * self.warp.bow.ticks()) * &l * &l * &width * &width;
        let cup = big(2 * self.warp.cup.ticks()) * &w * &w * &length * &length;
        let twist = big(self.warp.twist.ticks()) * &l * &w * &length * &width;
        let lost = (bow + cup + twist) * self.factor.numer();
        let kept = big(2 * headroom.ticks()) * self.factor.denom() * &length * &length * &width * &width;
        lost <= kept
    }

    /// The greatest length up to `most` at which a piece of width `w` loses no more than `headroom`; `None` when even
    /// the shortest does not.
    pub fn longest(&self, headroom: Length, w: i64, most: i64) -> Option<i64> {
        if most < 0 || !self.fits(headroom, 0, w) {
            return None;
        }
        if self.fits(headroom, most, w) {
            return Some(most);
        }
        let (mut fits, mut fails) = (0, most);
        while fails - fits > 1 {
            let middle = fits + (fails - fits) / 2;
            if self.fits(headroom, middle, w) {
                fits = middle;
            } else {
                fails = middle;
            }
        }
        Some(fits)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn inch(n: i64, d: i64) -> Length {
        Length::from_inch_fraction(n, d)
    }

    #[test]
    fn half_the_length_loses_a_quarter_of_the_bow() {
        let warp = Warp { bow: inch(1, 2), ..Warp::default() };
        let one = Rational::from_integer(1.into());
        let board = Flattening::new(&warp, inch(96, 1), inch(8, 1), &one);
        assert!(board.fits(inch(1, 8), inch(48, 1).ticks(), inch(8, 1).ticks()));
        assert!(!board.fits(inch(1, 8), inch(48, 1).ticks() + 1, inch(8, 1).ticks()));
        assert_eq!(board.longest(inch(1, 8), inch(8, 1).ticks(), inch(96, 1).ticks()), Some(inch(48, 1).ticks()));
    }

    #[test]
    fn a_piece_that_cannot_lose_its_cup_has_no_length_at_all() {
        let warp = Warp { cup: inch(1, 8), ..Warp::default() };
        let one = Rational::from_integer(1.into());
        let board = Flattening::new(&warp, inch(96, 1), inch(8, 1), &one);
        assert_eq!(board.longest(inch(1, 16), inch(8, 1).ticks(), inch(96, 1).ticks()), None);
        assert_eq!(board.longest(inch(1, 32), inch(4, 1).ticks(), inch(96, 1).ticks()), Some(inch(96, 1).ticks()));
    }
}
