//! What each board of a pile is billed at: surface measure, board feet, cost.
//!
//! Applies the pile's tally, board by board in the order of the file; the rules of measure themselves are in
//! `trade::tally`. Everything is exact; nothing is rounded but the surface measure. Sheets and sticks cost what their
//! file says.

use num_bigint::BigInt;
use num_traits::ToPrimitive;

use super::{Board, Pile, Price, Tally};
use crate::measure::{Money, Rational, Units};
use crate::trade::tally::{self, HalfTurn};
use crate::trade::thickness;

/// What one piece is billed at.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Billed {
    /// Whole square feet it is tallied at; none where no surface measure is taken.
    pub surface_measure: Option<u32>,
    /// Board feet as billed; for a board bought by the piece, what it measures.
    pub board_feet: Rational,
    /// Cost of the piece.
    pub cost: Money,
}

/// How one line of boards is billed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Billing {
    /// Billing thickness, inches.
    pub thickness: Rational,
    /// Measured volume of one piece, board feet: width by length by measured thickness, nothing rounded.
    pub volume: Rational,
    /// Equal boards on the line.
    pub quantity: u32,
    /// The copies in turn: where the surface measure is an exact half they go up and down by turns, so two figures tell all.
    turns: [Billed; 2],
}

impl Billing {
    /// What a copy is billed at; copies count from 0.
    pub fn copy(&self, copy: u32) -> &Billed {
        &self.turns[(copy % 2) as usize]
    }

    /// Board feet of the whole line, as billed.
    pub fn board_feet(&self) -> Rational {
        let [even, odd] = self.counts();
        &self.turns[0].board_feet * even + &self.turns[1].board_feet * odd
    }

    /// Cost of the whole line.
    pub fn cost(&self) -> Money {
        let [even, odd] = self.counts();
        self.turns[0].cost.times(&even) + self.turns[1].cost.times(&odd)
    }

    fn counts(&self) -> [Rational; 2] {
        [self.quantity - self.quantity / 2, self.quantity / 2].map(|n| Rational::from_integer(BigInt::from(n)))
    }
}

/// How every board of the pile is billed, parallel to `boards`. A line of several equal boards counts as that many in
/// the tally.
///
/// ```
/// let text = r#"{ "format": "flitchwork.pile/1", "units": "in", "boards": [
///   { "id": "A", "species": "ash", "nominal": "4/4", "width": 6, "length": "9 ft", "price_per_bf": 10, "quantity": 2 } ] }"#;
/// let pile = flitchwork::pile::file::read_json("pile.json", text)?;
/// let billing = &flitchwork::pile::value::billing(&pile)[0];
/// // 4 1/2 square feet each: the first half goes up, the second down.
/// assert_eq!(billing.copy(0).surface_measure, Some(5));
/// assert_eq!(billing.copy(1).surface_measure, Some(4));
/// assert_eq!(billing.cost().to_string(), "90.00");
/// # Ok::<(), flitchwork::pile::Faults>(())
/// ```
pub fn billing(pile: &Pile) -> Vec<Billing> {
    let mut turn = HalfTurn::new();
    pile.boards.iter().map(|board| line(board, pile.tally, &mut turn)).collect()
}

/// The thickness a board bills, inches: its nominal one, or else the largest standard thickness that the measured one
/// satisfies; at least 1.
pub fn billing_thickness(board: &Board) -> Rational {
    let one = Rational::from_integer(BigInt::from(1));
    match board.nominal {
        Some(nominal) => Rational::new(BigInt::from(nominal.numerator), BigInt::from(nominal.denominator)).max(one),
        None => thickness::billing_of(board.thickness, board.surfaced.faces_planed()),
    }
}

fn line(board: &Board, rule: Tally, turn: &mut HalfTurn) -> Billing {
    let billing_thickness = billing_thickness(board);
    let first = billed(board, rule, &billing_thickness, turn);
    let second = if board.quantity > 1 { billed(board, rule, &billing_thickness, turn) } else { first.clone() };
    // Copies beyond the first two repeat them; an odd one out still takes its turn.
    if board.quantity > 2 && board.quantity % 2 == 1 {
        billed(board, rule, &billing_thickness, turn);
    }
    let measured = board.thickness.to_rational(Units::Inches);
    Billing {
        volume: tally::volume_board_feet(board.width, board.length, &measured),
        thickness: billing_thickness,
        quantity: board.quantity,
        turns: [first, second],
    }
}

fn billed(board: &Board, rule: Tally, thickness: &Rational, turn: &mut HalfTurn) -> Billed {
    let surface_measure = surface_measure(board, rule, turn);
    let board_feet = match (&board.board_feet, surface_measure) {
        (Some(invoiced), _) => invoiced.clone(),
        (None, Some(measure)) => tally::hardwood_board_feet(&Rational::from_integer(BigInt::from(measure)), thickness),
        (None, None) => tally::volume_board_feet(board.width, board.length, thickness),
    };
    let cost = match &board.price {
        Price::Piece(cost) => cost.clone(),
        Price::BoardFoot(price) => price.times(&board_feet),
    };
    Billed { surface_measure, board_feet, cost }
}

/// The surface measure a board is tallied at. A board that is bought by the piece, or whose board feet are invoiced, is
/// not tallied and takes no turn at the halves.
fn surface_measure(board: &Board, rule: Tally, turn: &mut HalfTurn) -> Option<u32> {
    if rule == Tally::Exact {
        return None;
    }
    if board.surface_measure.is_some() {
        return board.surface_measure;
    }
    if board.board_feet.is_some() || matches!(board.price, Price::Piece(_)) {
        return None;
    }
    tally::surface_measure(board.width, board.length, turn).to_integer().to_u32()
}
