//! The clean zone across a section: what crook and the edge trims leave of a board's width.
//!
//! A section of length l of a board of length L with crook k loses k (l/L)^2 at its reference edge, taken up to the next
//! rip step, then the edge trims. Exact integers; lengths at which the loss takes its next step are found in closed form.

use crate::job::Shop;
use crate::measure::Length;
use crate::pile::{Board, Surfaced};

/// Across-the-board zone as a function of section length.
pub struct Edges {
    crook: i128,
    length: i128,
    step: i128,
    near: i64,
    far: i64,
}

impl Edges {
    /// The edges of `board` under the shop's trims; surfaced edges lose nothing.
    pub fn new(board: &Board, shop: &Shop) -> Edges {
        let (crook, near, far_trim) = match board.surfaced {
            Surfaced::Rough | Surfaced::S2s => (board.warp.crook, shop.trim.edge, shop.trim.far_edge),
            Surfaced::Slr1e => (Length::ZERO, Length::ZERO, shop.trim.far_edge),
            Surfaced::S4s => (Length::ZERO, Length::ZERO, Length::ZERO),
        };
        Edges {
            crook: i128::from(crook.ticks()),
            length: i128::from(board.length.ticks()),
            step: i128::from(shop.step.rip.ticks()),
            near: near.ticks(),
            far: (board.width - far_trim).ticks(),
        }
    }

    /// The clean zone (low, high) of a section `l` ticks long.
    pub fn zone(&self, l: i64) -> (i64, i64) {
        (self.steps(l) as i64 * self.step as i64 + self.near, self.far)
    }

    /// Whole rip steps lost to crook: the least s with s step L^2 >= k l^2.
    fn steps(&self, l: i64) -> i128 {
        let l = i128::from(l);
        let per_step = self.step * self.length * self.length;
        (self.crook * l * l + per_step - 1) / per_step
    }

    /// The lengths up to `most` after which the loss takes its next step, ascending, `most` itself last.
    pub fn breakpoints(&self, most: i64) -> Vec<i64> {
        let mut points = Vec::new();
        if self.crook > 0 {
            for s in 0..self.steps(most) {
                // Greatest l with k l^2 <= s step L^2.
                let square = (s * self.step * self.length * self.length / self.crook) as u128;
                points.push(square.isqrt() as i64);
            }
        }
        points.retain(|&l| l > 0 && l < most);
        points.push(most);
        points
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::{Length, Units};
    use crate::pile::{Price, Warp};

    fn board(crook: Length, surfaced: Surfaced) -> Board {
        Board {
            id: "C-04".into(),
            species: "cherry".into(),
            nominal: None,
            thickness: Length::from_inch_fraction(128, 100),
            width: Length::from_inch_fraction(29, 4),
            length: Length::from_inch_fraction(197, 2),
            grade: None,
            surfaced,
            rings: None,
            heart: None,
            price: Price::Piece(crate::measure::Money::zero()),
            board_feet: None,
            surface_measure: None,
            moisture: None,
            warp: Warp { crook, ..Warp::default() },
            defects: Vec::new(),
            quantity: 1,
        }
    }

    #[test]
    fn the_contract_example_loses_three_sixteenths_at_its_reference_edge() {
        // 1/8 in of crook in 98 1/2 in, cut to 46 in: 0.027 in, taken up to 1/16, and 1/8 of trim.
        let edges =
            Edges::new(&board(Length::from_inch_fraction(1, 8), Surfaced::Rough), &Shop::defaults(Units::Inches));
        let (low, high) = edges.zone(Length::from_inches(46).ticks());
        assert_eq!(low, Length::from_inch_fraction(3, 16).ticks());
        assert_eq!(high, Length::from_inches(7).ticks());
    }

    #[test]
    fn the_loss_is_constant_up_to_each_breakpoint_and_greater_after_it() {
        let edges =
            Edges::new(&board(Length::from_inch_fraction(3, 8), Surfaced::Rough), &Shop::defaults(Units::Inches));
        let points = edges.breakpoints(Length::from_inches(96).ticks());
        assert_eq!(points.len(), 6);
        for pair in points.windows(2) {
            assert!(edges.zone(pair[0]).0 < edges.zone(pair[0] + 1).0);
            assert_eq!(edges.zone(pair[0] + 1), edges.zone(pair[1]));
        }
    }

    #[test]
    fn surfaced_edges_lose_nothing() {
        let crook = Length::from_inch_fraction(3, 8);
        let shop = Shop::defaults(Units::Inches);
        let s4s = board(crook, Surfaced::S4s);
        assert_eq!(Edges::new(&s4s, &shop).zone(s4s.length.ticks()), (0, s4s.width.ticks()));
        let one_edge = board(crook, Surfaced::Slr1e);
        assert_eq!(Edges::new(&one_edge, &shop).zone(s4s.length.ticks()), (0, Length::from_inches(7).ticks()));
    }
}
