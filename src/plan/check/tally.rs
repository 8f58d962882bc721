//! What a board costs, worked out again from the pile: piece price, invoiced feet, surface measure or plain volume.
//!
//! Deliberately apart from the pile's own billing: the checker would repeat a slip there if it shared the code.
//! Table of thicknesses: NHLA standard thicknesses with the surfaced (S2S) column of the same rules, and the kiln-dried
//! scant allowance of 1/16 in up to 7/4 and 1/8 in from 8/4 on.

use num_traits::{One, Zero};

use crate::measure::{Length, Money, Rational};
use crate::pile::{Board, Pile, Price, Tally};

/// Thickest first: (nominal in 1/8 in, kiln-dried minimum in 1/16 in, surfaced size in 1/16 in; 0: none agreed).
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

/// What copy `copy` (from 1) of the board at `index` of the pile costs, exactly.
pub(super) fn board_price(pile: &Pile, index: usize, copy: u32) -> Money {
    match &pile.boards[index].price {
        Price::Piece(money) => money.clone(),
        Price::BoardFoot(rate) => rate.times(&board_feet(pile, index, copy)),
    }
}

/// Board feet as billed: as invoiced, or else by the pile's tally.
fn board_feet(pile: &Pile, index: usize, copy: u32) -> Rational {
    let board = &pile.boards[index];
    if let Some(invoiced) = &board.board_feet {
        return invoiced.clone();
    }
    let square_feet = match (pile.tally, board.surface_measure) {
        (Tally::Exact, _) => inches(board.width) * inches(board.length) / whole(144),
        (Tally::Hardwood, Some(measure)) => whole(i64::from(measure)),
        (Tally::Hardwood, None) => rounded_measure(pile, index, copy),
    };
    square_feet * billing_thickness(board)
}

/// Width x whole feet / 12, unrounded.
fn raw_measure(board: &Board) -> Rational {
    let feet = board.length.ticks().div_euclid(12 * Length::PER_INCH);
    inches(board.width) * whole(feet) / whole(12)
}

/// The surface measure of a board so tallied: to the nearest whole; an exact half goes up, then down, in turn over the
/// boards so tallied, in the order of the file; a line of equal boards is as many boards.
fn rounded_measure(pile: &Pile, index: usize, copy: u32) -> Rational {
    let half = Rational::new(1.into(), 2.into());
    let is_half = |measure: &Rational| measure.fract() == half;
    let raw = raw_measure(&pile.boards[index]);
    if !is_half(&raw) {
        return (raw + half).floor();
    }
    let before: u64 = pile.boards[..index]
        .iter()
        .filter(|board| matches!(board.price, Price::BoardFoot(_)))
        .filter(|board| board.board_feet.is_none() && board.surface_measure.is_none())
        .filter(|board| is_half(&raw_measure(board)))
        .map(|board| u64::from(board.quantity))
        .sum();
    let turn = before + u64::from(copy.saturating_sub(1));
    if turn.is_multiple_of(2) { raw.ceil() } else { raw.floor() }
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
    thickness.max(Rational::one())
}

fn inches(length: Length) -> Rational {
    Rational::new(length.ticks().into(), Length::PER_INCH.into())
}

fn whole(number: i64) -> Rational {
    Rational::from_integer(number.into())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::measure::Units;
    use crate::pile::{Nominal, Surfaced, Warp};

    fn board(nominal: Option<Nominal>, sixteenths: [i64; 3], quantity: u32) -> Board {
        let [thickness, width, length] = sixteenths.map(|n| Length::from_inch_fraction(n, 16));
        Board {
            id: "B".into(),
            species: "oak".into(),
            nominal,
            thickness,
            width,
            length,
            grade: None,
            surfaced: Surfaced::Rough,
            rings: None,
            heart: None,
            price: Price::BoardFoot(Money::from_micros(1_000_000)),
            board_feet: None,
            surface_measure: None,
            moisture: None,
            warp: Warp::default(),
            defects: Vec::new(),
            quantity,
        }
    }

    fn feet(tally: Tally, boards: Vec<Board>, index: usize, copy: u32) -> String {
        let pile = Pile { units: Units::Inches, tally, boards, sheets: Vec::new(), sticks: Vec::new() };
        board_price(&pile, index, copy).to_string()
    }

    const TWO_INCH: Option<Nominal> = Some(Nominal { numerator: 8, denominator: 4 });
    const ONE_INCH: Option<Nominal> = Some(Nominal { numerator: 4, denominator: 4 });

    /// American Hardwood Export Council, grading guide, measurement page: 2 in x 6 1/4 in x 8 ft is 8 board feet.
    #[test]
    fn surface_measure_is_rounded_before_the_thickness() {
        assert_eq!(feet(Tally::Hardwood, vec![board(TWO_INCH, [32, 100, 1536], 1)], 0, 1), "8.00");
    }

    /// American Hardwood Export Council, illustrated grading guide: 6 1/2 in x 8 ft has 4, 8 in x 12 ft has 8.
    #[test]
    fn surface_measure_goes_to_the_nearest_foot() {
        assert_eq!(feet(Tally::Hardwood, vec![board(ONE_INCH, [16, 104, 1536], 1)], 0, 1), "4.00");
        assert_eq!(feet(Tally::Hardwood, vec![board(ONE_INCH, [16, 128, 2304], 1)], 0, 1), "8.00");
    }

    /// Constructed from the rule of the same guide: exact halves go up, then down; two boards of 4 1/2 are 5 and 4.
    #[test]
    fn exact_halves_go_up_then_down_over_boards_and_copies_alike() {
        let half = |quantity| board(ONE_INCH, [16, 96, 1728], quantity);
        let lines = vec![half(1), half(1), half(2)];
        let measures: Vec<String> = [(0, 1), (1, 1), (2, 1), (2, 2)]
            .into_iter()
            .map(|(index, copy)| feet(Tally::Hardwood, lines.clone(), index, copy))
            .collect();
        assert_eq!(measures, ["5.00", "4.00", "5.00", "4.00"]);
    }

    /// US Navy Builder manual, board measure: 1 in x 10 in x 10 ft is 8 1/3 board feet; stock under 1 in bills as 1 in.
    #[test]
    fn plain_volume_is_not_rounded_and_thin_stock_bills_as_an_inch() {
        assert_eq!(feet(Tally::Exact, vec![board(ONE_INCH, [16, 160, 1920], 1)], 0, 1), "8.33");
        assert_eq!(feet(Tally::Hardwood, vec![board(None, [12, 128, 1152], 1)], 0, 1), "4.00");
    }

    /// NHLA rules: 5/4 dries to 1 3/16 in at the least, and is 1 1/16 in when surfaced.
    #[test]
    fn a_measured_thickness_bills_as_the_largest_standard_it_satisfies() {
        let rough = |thickness| board(None, [thickness, 192, 1920], 1);
        let surfaced = |thickness| Board { surfaced: Surfaced::S2s, ..rough(thickness) };
        let bills = |board| feet(Tally::Exact, vec![board], 0, 1);
        assert_eq!(bills(rough(19)), "12.50");
        assert_eq!(bills(rough(18)), "10.00");
        assert_eq!(bills(surfaced(17)), "12.50");
        assert_eq!(bills(surfaced(16)), "10.00");
    }
}
