//! Board measure: the hardwood tally, the export tally, plain volume, gross and net, as separate named things.
//!
//! Pure rules on sizes and thicknesses in inches, all exact; prices and which rule a pile is invoiced by are `pile`'s.
//! A board foot is 144 cubic inches. Nothing here checks that a size makes sense: zero in gives zero out.
//!
//! Sources: AHEC illustrated grading guide, measurement page (surface measure, order of rounding, export end tally,
//! gross and net); NHLA Rules, paragraph 16, and its tally practice for exact halves.

use num_bigint::BigInt;
use num_traits::{One, Zero};

use crate::measure::{Length, Rational, Units};

/// Which way the next exact half of a tally goes: up, then down, in turn. One for a whole tally, in its order.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct HalfTurn {
    next_goes_down: bool,
}

impl HalfTurn {
    /// The start of a tally: the first half goes up.
    pub fn new() -> HalfTurn {
        HalfTurn::default()
    }

    /// The nearest whole number; an exact half goes the way whose turn it is, and passes the turn.
    pub fn to_whole(&mut self, exact: &Rational) -> Rational {
        let half = Rational::new(BigInt::from(1), BigInt::from(2));
        let floor = exact.floor();
        let part = exact - &floor;
        let up = if part == half {
            let up = !self.next_goes_down;
            self.next_goes_down = up;
            up
        } else {
            part > half
        };
        if up { floor + Rational::one() } else { floor }
    }
}

/// Whole feet of a length, the fraction dropped: the length a hardwood tally counts.
pub fn whole_feet(length: Length) -> Rational {
    (length.to_rational(Units::Inches) / integer(12)).floor()
}

/// Surface measure before it is rounded, square feet: width in inches x whole feet of length / 12.
pub fn surface_measure_unrounded(width: Length, length: Length) -> Rational {
    width.to_rational(Units::Inches) * whole_feet(length) / integer(12)
}

/// Surface measure as tallied, whole square feet; exact halves by `turn`.
///
/// ```
/// use flitchwork::measure::{Length, Rational};
/// use flitchwork::trade::tally::{HalfTurn, surface_measure};
/// let (width, length) = (Length::from_inches(6), Length::from_inches(9 * 12));
/// let mut turn = HalfTurn::new();
/// // 4 1/2 square feet each: one up, one down.
/// assert_eq!(surface_measure(width, length, &mut turn), Rational::from_integer(5.into()));
/// assert_eq!(surface_measure(width, length, &mut turn), Rational::from_integer(4.into()));
/// ```
pub fn surface_measure(width: Length, length: Length, turn: &mut HalfTurn) -> Rational {
    turn.to_whole(&surface_measure_unrounded(width, length))
}

/// Board feet of one hardwood board: its surface measure, already rounded, x the billing thickness in inches.
pub fn hardwood_board_feet(surface_measure: &Rational, billing_thickness: &Rational) -> Rational {
    surface_measure * billing_thickness
}

/// Board feet of a bundle of one thickness: the surface measures added, multiplied by the billing thickness once,
/// rounded to whole board feet (a half goes up).
pub fn bundle_board_feet<'a>(
    surface_measures: impl IntoIterator<Item = &'a Rational>,
    billing_thickness: &Rational,
) -> Rational {
    let sum = surface_measures.into_iter().fold(Rational::zero(), |sum, measure| sum + measure);
    (sum * billing_thickness).round()
}

/// Board feet by plain volume, nothing rounded: width x true length x thickness / 144, all in inches.
pub fn volume_board_feet(width: Length, length: Length, thickness: &Rational) -> Rational {
    width.to_rational(Units::Inches) * length.to_rational(Units::Inches) * thickness / integer(144)
}

/// A board as an export end tally writes it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct EndTally {
    /// Width to the nearest inch.
    pub inches: Rational,
    /// Length down to the whole foot.
    pub feet: Rational,
}

/// The export end tally of a board: width to the nearest inch, exact half inches by `turn`, length down to whole feet.
pub fn export_end_tally(width: Length, length: Length, turn: &mut HalfTurn) -> EndTally {
    EndTally { inches: turn.to_whole(&width.to_rational(Units::Inches)), feet: whole_feet(length) }
}

/// Volume after drying from volume before it: gross x (1 - shrinkage), in whatever measure the gross figure is.
/// `shrinkage` is a share, usually 0.07 to 0.10.
pub fn net_from_gross(gross: &Rational, shrinkage: &Rational) -> Rational {
    gross * (Rational::one() - shrinkage)
}

/// What to buy when a share of the purchase becomes waste: need / (1 - share). Adding the share to the need instead is the
/// usual error.
///
/// ```
/// use flitchwork::measure::Rational;
/// use flitchwork::trade::tally::order_for_waste;
/// let ratio = |n: i64, d: i64| Rational::new(n.into(), d.into());
/// assert_eq!(order_for_waste(&ratio(70, 1), &ratio(3, 10)), ratio(100, 1));
/// ```
pub fn order_for_waste(need: &Rational, share_of_purchase: &Rational) -> Rational {
    need / (Rational::one() - share_of_purchase)
}

/// The share of a purchase that is waste when so much is added to the need: added / (1 + added).
pub fn waste_of_purchase(added_to_need: &Rational) -> Rational {
    added_to_need / (Rational::one() + added_to_need)
}

fn integer(value: i64) -> Rational {
    Rational::from_integer(BigInt::from(value))
}
