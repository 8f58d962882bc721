//! What an order costs: the yard's terms, and the usual waste factor to hold the figure against.
//!
//! Waste factors are shares of the lumber bought, not of the need (order = need / (1 - share)): 15 to 35 % for FAS, 30 to 50 %
//! for No. 1 Common, 40 to 65 % for No. 2A Common (common practice); the middle of each is taken.

use num_traits::ToPrimitive;

use super::lots::LotFound;
use super::{Offer, Question, ThicknessOrder};
use crate::measure::{Length, Money, Rational, Units};
use crate::trade::grades::Grade;
use crate::trade::tally;

/// How a yard sells.
#[derive(Clone, Debug, PartialEq)]
pub struct Terms {
    /// Once an order.
    pub freight: Money,
    /// Board feet are sold in whole multiples of this; at least 1.
    pub bundle: u32,
    /// Surfacing, a board foot.
    pub surfacing: Money,
    /// Boards this wide or wider cost so much more a board foot.
    pub wide: Option<(Length, Money)>,
    /// Boards this long or longer cost so much more a board foot.
    pub long: Option<(Length, Money)>,
    /// Share of the lumber bought that is lost to defects nobody could see, 0 to below 1.
    pub reserve: Rational,
    /// Shrinkage where the yard bills the tally before drying, 0 to below 1; zero for a net tally.
    pub gross: Rational,
}

/// Reads from which width or length on boards cost more; inches without a unit.
///
/// # Errors
/// What is wrong with the text.
pub fn premium_from(text: &str) -> Result<Length, String> {
    let from = Length::parse(text.trim(), Units::Inches).map_err(|error| error.to_string())?;
    if from > Length::ZERO { Ok(from) } else { Err(format!("\"{text}\" is no size of a board; write one above 0")) }
}

impl Default for Terms {
    /// By the single board foot, net tally, nothing on top.
    fn default() -> Terms {
        Terms {
            freight: Money::zero(),
            bundle: 1,
            surfacing: Money::zero(),
            wide: None,
            long: None,
            reserve: Rational::default(),
            gross: Rational::default(),
        }
    }
}

/// What one thickness in one grade comes to, freight left out.
#[derive(Clone, Debug, PartialEq)]
pub struct Total {
    /// Board feet to ask for: the figure, the reserve and the gross tally, up to whole bundles.
    pub board_feet: u64,
    /// None without a price.
    pub cost: Option<Money>,
}

/// What all thicknesses come to in one grade.
#[derive(Clone, Debug, PartialEq)]
pub struct GradeTotal {
    pub grade: Grade,
    pub board_feet: u64,
    /// Freight included.
    pub cost: Money,
}

pub(super) fn total(figure: f64, offer: &Offer, question: &Question, lots: &[LotFound]) -> Option<Total> {
    let terms = &question.terms;
    let exact = Rational::from_float(figure)?;
    let bought = tally::order_for_waste(&exact, &terms.reserve);
    let billed = tally::order_for_waste(&bought, &terms.gross);
    let bundle = Rational::from_integer(terms.bundle.max(1).into());
    let board_feet = ((billed / &bundle).ceil() * bundle).to_integer().to_u64()?;
    let cost = offer.price.as_ref().map(|price| {
        let premium = |wide: &Option<(Length, Money)>, side: fn(&crate::pile::Board) -> Length| match wide {
            Some((least, extra)) => extra.times(&share_of(lots, |board| side(board) >= *least)),
            None => Money::zero(),
        };
        let wide = premium(&terms.wide, |board| board.width);
        let long = premium(&terms.long, |board| board.length);
        let foot = price.clone() + terms.surfacing.clone() + wide + long;
        foot.times(&Rational::from_integer(board_feet.into()))
    });
    Some(Total { board_feet, cost })
}

/// The share of board feet, over all lots, in boards that answer to `is`.
fn share_of(lots: &[LotFound], is: impl Fn(&crate::pile::Board) -> bool) -> Rational {
    let (mut some, mut all) = (Rational::default(), Rational::default());
    for drawn in lots.iter().filter_map(|lot| lot.boards.as_ref()).flatten() {
        all += &drawn.board_feet;
        if is(&drawn.board) {
            some += &drawn.board_feet;
        }
    }
    if all == Rational::default() { all } else { some / all }
}

pub(super) fn totals(orders: &[ThicknessOrder], question: &Question) -> Vec<GradeTotal> {
    let of = |(index, offer): (usize, &Offer)| {
        let parts: Option<Vec<&Total>> = orders.iter().map(|order| order.grades[index].total.as_ref()).collect();
        let parts = parts?;
        let cost: Option<Vec<Money>> = parts.iter().map(|total| total.cost.clone()).collect();
        let cost = cost?.into_iter().sum::<Money>() + question.terms.freight.clone();
        Some(GradeTotal { grade: offer.grade, board_feet: parts.iter().map(|total| total.board_feet).sum(), cost })
    };
    question.offers.iter().enumerate().filter_map(of).collect()
}

/// Board feet by the usual waste factor.
pub(super) fn usual(grade: Grade, net: f64) -> Option<f64> {
    let waste = match grade {
        Grade::Fas | Grade::F1f | Grade::Selects => 0.25,
        Grade::No1Common => 0.40,
        Grade::No2aCommon => 0.525,
        _ => return None,
    };
    Some(net / (1.0 - waste))
}
