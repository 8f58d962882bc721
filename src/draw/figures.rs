//! Lengths as they stand on a drawing: rounded to the shop's step, marked when rounded, rough cuts on the safe side.
//!
//! Rounding is exact integer work. How lengths are printed elsewhere is `measure`'s business; here a figure is always a
//! bare number, the unit being stated once on the drawing.

use crate::job::Shop;
use crate::measure::{Length, Units};

/// Put before a figure that is rounded.
const ROUNDED: &str = "~";

/// How a drawing prints its lengths.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DrawOptions {
    /// Units of every figure.
    pub units: Units,
    /// Rough crosscuts are given to this step, on the safe side.
    pub rough: Length,
    /// Everything else is given to this step.
    pub fine: Length,
}

impl DrawOptions {
    /// In `units`, to the steps that the shop prints in.
    pub fn of(shop: &Shop, units: Units) -> DrawOptions {
        DrawOptions { units, rough: shop.print.rough, fine: shop.print.fine }
    }

    /// The steps of a shop that says nothing of them.
    pub fn defaults(units: Units) -> DrawOptions {
        DrawOptions::of(&Shop::defaults(units), units)
    }

    /// The length to the fine step, with a mark when it is rounded.
    pub(crate) fn fine(&self, length: Length) -> String {
        self.to_step(length, self.fine)
    }

    /// The length to 1/64 in or 0.1 mm, with a mark when it is rounded: thicknesses, and the odd cut with no room.
    pub(crate) fn finest(&self, length: Length) -> String {
        self.to_step(length, self.finest_step())
    }

    /// The two sides of a rectangle, to the fine step.
    pub(crate) fn size(&self, length: Length, width: Length) -> String {
        format!("{} \u{d7} {}", self.fine(length), self.fine(width))
    }

    /// Where to mark a cut whose kerf may begin anywhere from `low` to `high`, planned at `at`: the nearest whole step
    /// in that range, trying the `coarsest` step first, then the fine one, then 1/64 in (0.1 mm); if the range holds
    /// none, the plan's own figure.
    pub(crate) fn safe_mark(&self, at: Length, low: Length, high: Length, coarsest: Length) -> String {
        for step in [coarsest, self.fine, self.finest_step()] {
            let below = at.round_down_to(step);
            let above = at.round_up_to(step);
            let mut choices: Vec<Length> = [below, above].into_iter().filter(|m| low <= *m && *m <= high).collect();
            choices.sort_by_key(|m| (*m - at).ticks().abs());
            if let Some(mark) = choices.first() {
                return self.exact(*mark);
            }
        }
        self.finest(at)
    }

    fn finest_step(&self) -> Length {
        match self.units {
            Units::Inches => Length::from_inch_fraction(1, 64),
            Units::Millimetres => Length::from_ticks(Length::PER_MM / 10),
        }
    }

    fn to_step(self, length: Length, step: Length) -> String {
        let below = length.round_down_to(step);
        if below == length {
            return self.exact(length);
        }
        let above = below + step;
        let nearest = if (length - below) < (above - length) { below } else { above };
        format!("{ROUNDED}{}", self.exact(nearest))
    }

    /// A length that is a whole number of some shop step.
    fn exact(&self, length: Length) -> String {
        let sign = if length.is_negative() { "-" } else { "" };
        let ticks = length.ticks().unsigned_abs();
        let unit = self.units.ticks().unsigned_abs();
        let (whole, rest) = (ticks / unit, ticks % unit);
        if rest == 0 {
            return format!("{sign}{whole}");
        }
        let common = gcd(rest, unit);
        let (numerator, denominator) = (rest / common, unit / common);
        if self.units == Units::Inches && denominator.is_power_of_two() {
            let whole = if whole == 0 { String::new() } else { format!("{whole} ") };
            return format!("{sign}{whole}{numerator}/{denominator}");
        }
        let thousandths = (u128::from(ticks) * 1000 + u128::from(unit) / 2) / u128::from(unit);
        let text = format!("{sign}{}.{:03}", thousandths / 1000, thousandths % 1000);
        text.trim_end_matches('0').trim_end_matches('.').to_string()
    }
}

fn gcd(a: u64, b: u64) -> u64 {
    if b == 0 { a } else { gcd(b, a % b) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rstest::rstest;

    fn inch(numerator: i64, denominator: i64) -> Length {
        Length::from_inch_fraction(numerator, denominator)
    }

    #[rstest]
    #[case::whole(inch(24, 1), "24")]
    #[case::sixteenth(inch(121, 16), "7 9/16")]
    #[case::below_one(inch(3, 4), "3/4")]
    #[case::rounded_to_a_thirty_second(inch(201, 64), "~3 5/32")]
    #[case::nothing(Length::ZERO, "0")]
    fn an_inch_figure_is_printed_to_a_thirty_second(#[case] length: Length, #[case] text: &str) {
        assert_eq!(DrawOptions::defaults(Units::Inches).fine(length), text);
    }

    #[test]
    fn a_millimetre_figure_is_printed_to_half_a_millimetre() {
        let options = DrawOptions::defaults(Units::Millimetres);
        assert_eq!(options.fine(Length::from_ticks(Length::PER_MM * 143 / 2)), "71.5");
        assert_eq!(options.fine(Length::from_inches(1)), "~25.5");
    }

    #[rstest]
    #[case::kept_wood_on_the_left_rounds_up(inch(1501, 32), inch(1501, 32), inch(50, 1), "46 15/16")]
    #[case::kept_wood_on_the_right_rounds_down(inch(1501, 32), inch(40, 1), inch(1501, 32), "46 7/8")]
    #[case::no_room_either_way_goes_to_the_fine_step(inch(1501, 32), inch(1501, 32), inch(1501, 32), "46 29/32")]
    #[case::no_room_and_between_steps_is_marked(inch(3003, 64) + Length::from_ticks(5), inch(3003, 64) + Length::from_ticks(5), inch(3003, 64) + Length::from_ticks(5), "~46 59/64")]
    fn a_rough_mark_never_takes_wood_from_a_kept_piece(
        #[case] at: Length,
        #[case] low: Length,
        #[case] high: Length,
        #[case] text: &str,
    ) {
        let options = DrawOptions::defaults(Units::Inches);
        assert_eq!(options.safe_mark(at, low, high, options.rough), text);
    }
}
