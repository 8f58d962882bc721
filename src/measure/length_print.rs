//! Printing lengths for people: fractions of an inch, feet and inches, millimetres.
//!
//! Every style rounds to a step, and puts [`ROUNDED_MARK`] in front of a figure that rounding changed, so that nobody
//! takes it for the true size. What is printed without the mark reads back to the same tick. JSON numbers are
//! `Length::to_f64`'s; reading is `length_text`'s.

use num_bigint::BigInt;
use num_traits::Signed;

use super::{Length, Rational, Units};

/// Stands in front of a printed length that is not the exact one.
pub const ROUNDED_MARK: char = '~';

/// Decimals of a millimetre at which every tick prints exactly (1/80000 mm = 0.0000125 mm).
const EXACT_MM_DECIMALS: u32 = 7;

/// Which way a printed length may differ from the true one.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Rounding {
    /// To the nearest step, halves away from zero.
    #[default]
    Nearest,
    /// Never longer than it is: the greatest step not above it.
    Down,
    /// Never shorter than it is, the safe side of a rough cut: the smallest step not below it.
    Up,
}

impl Length {
    /// The multiple of `step` that `rounding` picks. Panics if `step` is not positive.
    pub const fn rounded_to(self, step: Length, rounding: Rounding) -> Length {
        let down = self.round_down_to(step);
        let up = self.round_up_to(step);
        match rounding {
            Rounding::Down => down,
            Rounding::Up => up,
            Rounding::Nearest => {
                let below = self.0 - down.0;
                let above = up.0 - self.0;
                if below < above || (below == above && self.is_negative()) { down } else { up }
            }
        }
    }

    /// Inches and a fraction, to the nearest `step`: `23 1/2"`, `3/4"`, `0"`, and `~23 1/2"` when rounded. `step` is a
    /// whole part of an inch that ticks hold exactly, such as 1/64 in. Panics if `step` is not positive.
    ///
    /// ```
    /// use flitchwork::measure::Length;
    /// let step = Length::from_inch_fraction(1, 16);
    /// assert_eq!(Length::from_inch_fraction(47, 2).inches_text(step), "23 1/2\"");
    /// assert_eq!(Length::from_millimetres(600).inches_text(step), "~23 5/8\"");
    /// ```
    pub fn inches_text(self, step: Length) -> String {
        self.inches_text_rounded(step, Rounding::Nearest)
    }

    /// [`Length::inches_text`] with the rounding chosen.
    pub fn inches_text_rounded(self, step: Length, rounding: Rounding) -> String {
        let shown = self.rounded_to(step, rounding);
        format!("{}{}\"", self.signs_before(shown), mixed_number(&inches(shown)))
    }

    /// Feet, inches and a fraction, to the nearest `step`: `6' 3 1/2"`, `6' 0"`, and inches alone below a foot. Panics
    /// if `step` is not positive.
    pub fn feet_text(self, step: Length) -> String {
        self.feet_text_rounded(step, Rounding::Nearest)
    }

    /// [`Length::feet_text`] with the rounding chosen.
    pub fn feet_text_rounded(self, step: Length, rounding: Rounding) -> String {
        let shown = self.rounded_to(step, rounding);
        let feet = shown.ticks().unsigned_abs() / (12 * Length::PER_INCH.unsigned_abs());
        if feet == 0 {
            return self.inches_text_rounded(step, rounding);
        }
        let rest = inches(shown) - Rational::from_integer(BigInt::from(12 * feet));
        format!("{}{feet}' {}\"", self.signs_before(shown), mixed_number(&rest))
    }

    /// Millimetres with at most so many decimals, trailing zeros left off: `70 mm`, `596.9 mm`, `~597 mm`.
    pub fn mm_text(self, decimals: u32) -> String {
        self.mm_text_rounded(decimals, Rounding::Nearest)
    }

    /// [`Length::mm_text`] with the rounding chosen.
    pub fn mm_text_rounded(self, decimals: u32, rounding: Rounding) -> String {
        let decimals = decimals.min(EXACT_MM_DECIMALS);
        let scale = 10_i128.pow(decimals);
        let scaled = i128::from(self.0) * scale;
        let per_mm = i128::from(Length::PER_MM);
        let floor = scaled.div_euclid(per_mm);
        let part = scaled.rem_euclid(per_mm);
        let up = match rounding {
            Rounding::Down => false,
            Rounding::Up => part > 0,
            Rounding::Nearest => 2 * part > per_mm || (2 * part == per_mm && scaled > 0),
        };
        let shown = floor + i128::from(up);
        let mark = mark(part != 0);
        let sign = if shown < 0 { "-" } else { "" };
        let (whole, fraction) =
            (shown.unsigned_abs() / scale.unsigned_abs(), shown.unsigned_abs() % scale.unsigned_abs());
        let digits = format!("{fraction:0width$}", width = decimals as usize);
        let digits = if decimals == 0 { "" } else { digits.trim_end_matches('0') };
        let point = if digits.is_empty() { "" } else { "." };
        format!("{mark}{sign}{whole}{point}{digits} mm")
    }

    /// The length as the people of a shop read it: fractions of an inch to `step`, or millimetres with the fewest
    /// decimals that are as fine as `step` (none for 1/16 in, one for 1/32 in). Panics if `step` is not positive.
    pub fn show(self, units: Units, step: Length) -> String {
        self.show_rounded(units, step, Rounding::Nearest)
    }

    /// [`Length::show`] with the rounding chosen.
    pub fn show_rounded(self, units: Units, step: Length, rounding: Rounding) -> String {
        match units {
            Units::Inches => self.inches_text_rounded(step, rounding),
            Units::Millimetres => self.mm_text_rounded(mm_decimals_for(step), rounding),
        }
    }

    /// The rounding mark and the minus sign that belong before `shown`, printed in place of this length.
    fn signs_before(self, shown: Length) -> String {
        let mark = mark(self != shown);
        let sign = if shown.is_negative() { "-" } else { "" };
        format!("{mark}{sign}")
    }
}

/// The fewest decimals of a millimetre that are as fine as `step`. Panics if `step` is not positive.
fn mm_decimals_for(step: Length) -> u32 {
    assert!(step > Length::ZERO, "a step of printing is positive");
    let mut decimals = 0;
    let mut grain = Length::PER_MM;
    while grain > step.ticks() && decimals < EXACT_MM_DECIMALS {
        grain /= 10;
        decimals += 1;
    }
    decimals
}

/// The size in inches, its sign left off.
fn inches(length: Length) -> Rational {
    length.to_rational(Units::Inches).abs()
}

/// `23 1/2`, `3/4`, `6` or `0`.
fn mixed_number(value: &Rational) -> String {
    let whole = value.to_integer();
    let fraction = value.fract();
    if fraction == Rational::from_integer(BigInt::from(0)) {
        whole.to_string()
    } else if whole == BigInt::from(0) {
        format!("{}/{}", fraction.numer(), fraction.denom())
    } else {
        format!("{whole} {}/{}", fraction.numer(), fraction.denom())
    }
}

fn mark(rounded: bool) -> String {
    if rounded { ROUNDED_MARK.to_string() } else { String::new() }
}
