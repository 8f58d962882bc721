//! Standard thicknesses of hardwood lumber: what a quarter name promises, and what it bills.
//!
//! The table and its look-ups; reading `5/4` is `measure`'s, board feet are `tally`'s. Everything is exact.
//!
//! Source: NHLA Rules, standard thicknesses and surfaced (S2S) thicknesses (same figures in the USDA Wood Handbook,
//! FPL-GTR-190, table 6-5); kiln-dried minimum by the NHLA Standard Kiln Dried Rule (2023 rules, page 56): 1/16 in scant
//! up to 1-3/4 in, 1/8 in scant from 2 in. The rows 10/4 and 18/4 and up are from memory. Stock under 1 in bills as 1 in.

use num_bigint::BigInt;

use crate::measure::{Length, Rational};

/// One standard thickness.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Thickness {
    /// `5` of `5/4`.
    pub numerator: u16,
    /// `4` of `5/4`.
    pub denominator: u16,
    /// Least thickness rough and kiln dried.
    pub kiln_dried: Length,
    /// Thickness surfaced two sides; none where it is by agreement.
    pub surfaced: Option<Length>,
}

impl Thickness {
    /// The thickness that is billed, in inches: the nominal one, at least 1.
    pub fn billing(&self) -> Rational {
        let nominal = Rational::new(BigInt::from(self.numerator), BigInt::from(self.denominator));
        nominal.max(one_inch())
    }

    /// The least thickness at which a board counts as this one, surfaced or rough; none where it is by agreement.
    pub fn least(&self, surfaced: bool) -> Option<Length> {
        if surfaced { self.surfaced } else { Some(self.kiln_dried) }
    }
}

/// The standard thickness of a quarter name, by value: `2/4` is `1/2`. `None` when the trade has no such thickness.
pub fn find(numerator: u16, denominator: u16) -> Option<&'static Thickness> {
    TABLE.iter().find(|row| {
        denominator != 0
            && u32::from(row.numerator) * u32::from(denominator) == u32::from(numerator) * u32::from(row.denominator)
    })
}

/// The largest standard thickness that a measured one satisfies: by the surfaced column when the board is surfaced,
/// by the kiln-dried column when it is rough. `None` when it is thinner than all of them.
///
/// ```
/// use flitchwork::measure::Length;
/// use flitchwork::trade::thickness;
/// let measured = Length::from_inch_fraction(29, 16);
/// let rough = thickness::largest_satisfied(measured, false).expect("thick enough for 7/4");
/// assert_eq!((rough.numerator, rough.denominator), (7, 4));
/// let surfaced = thickness::largest_satisfied(measured, true).expect("thick enough for 8/4");
/// assert_eq!((surfaced.numerator, surfaced.denominator), (8, 4));
/// ```
pub fn largest_satisfied(measured: Length, surfaced: bool) -> Option<&'static Thickness> {
    TABLE.iter().rev().find(|row| row.least(surfaced).is_some_and(|least| least <= measured))
}

/// The thickness in inches that a board of this measured thickness bills: the largest standard one it satisfies, and
/// 1 in below all of them.
pub fn billing_of(measured: Length, surfaced: bool) -> Rational {
    largest_satisfied(measured, surfaced).map_or_else(one_inch, Thickness::billing)
}

/// The whole table, thinnest first.
pub fn all() -> &'static [Thickness] {
    &TABLE
}

fn one_inch() -> Rational {
    Rational::from_integer(BigInt::from(1))
}

/// One row: the quarter name, then the kiln-dried minimum and the S2S thickness in sixteenths of an inch.
const fn row(numerator: u16, denominator: u16, kiln_dried: i64, surfaced: Option<i64>) -> Thickness {
    Thickness {
        numerator,
        denominator,
        kiln_dried: Length::from_inch_fraction(kiln_dried, 16),
        surfaced: match surfaced {
            Some(sixteenths) => Some(Length::from_inch_fraction(sixteenths, 16)),
            None => None,
        },
    }
}

static TABLE: [Thickness; 17] = [
    row(3, 8, 5, Some(3)),
    row(1, 2, 7, Some(5)),
    row(5, 8, 9, Some(7)),
    row(3, 4, 11, Some(9)),
    row(4, 4, 15, Some(13)),
    row(5, 4, 19, Some(17)),
    row(6, 4, 23, Some(21)),
    row(7, 4, 27, Some(24)),
    row(8, 4, 30, Some(28)),
    row(10, 4, 38, Some(36)),
    row(12, 4, 46, Some(44)),
    row(14, 4, 54, Some(52)),
    row(16, 4, 62, Some(60)),
    row(18, 4, 70, None),
    row(20, 4, 78, None),
    row(22, 4, 86, None),
    row(24, 4, 94, None),
];
