//! Lengths, areas and money: exact inside, read from and printed for people at the edge.
//!
//! Holds the newtypes and their arithmetic; `length_text` reads what people write, `length_print` prints it. What a
//! length is *for* (a kerf, a nominal thickness) is known elsewhere. Invariant: no float takes part in any comparison of sizes; floats
//! appear only where a JSON number enters or leaves, and always come back to the same tick.

pub mod dice;
pub mod length_print;
pub mod length_text;

pub use length_print::{ROUNDED_MARK, Rounding};
pub use length_text::{LengthError, parse_quarters};

use std::fmt;
use std::iter::Sum;
use std::ops::{Add, AddAssign, Mul, Neg, Sub, SubAssign};

use num_bigint::BigInt;
use num_traits::{FromPrimitive, Signed, ToPrimitive, Zero};

/// An exact fraction of arbitrary size: rates, factors, percentages, money before it is printed.
pub type Rational = num_rational::BigRational;

/// The measuring system of a file or a shop.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize, schemars::JsonSchema)]
pub enum Units {
    /// Inches.
    #[serde(rename = "in")]
    Inches,
    /// Millimetres.
    #[serde(rename = "mm")]
    Millimetres,
}

impl Units {
    /// Ticks in one unit.
    pub const fn ticks(self) -> i64 {
        match self {
            Units::Inches => Length::PER_INCH,
            Units::Millimetres => Length::PER_MM,
        }
    }

    /// The abbreviation used in files: `in` or `mm`.
    pub const fn symbol(self) -> &'static str {
        match self {
            Units::Inches => "in",
            Units::Millimetres => "mm",
        }
    }
}

/// A length, an exact whole number of ticks of 1/80000 mm (so 1/128 in, 0.001 in and 0.01 mm are all exact).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Length(i64);

impl Length {
    /// Ticks in an inch.
    pub const PER_INCH: i64 = 2_032_000;
    /// Ticks in a millimetre.
    pub const PER_MM: i64 = 80_000;
    /// No length at all.
    pub const ZERO: Length = Length(0);

    /// A length of `ticks` ticks of 1/80000 mm.
    pub const fn from_ticks(ticks: i64) -> Length {
        Length(ticks)
    }

    /// A length of whole inches.
    pub const fn from_inches(inches: i64) -> Length {
        Length(inches * Self::PER_INCH)
    }

    /// `numerator / denominator` inches, to the nearest tick, halves away from zero. Panics if the denominator is not
    /// positive.
    pub const fn from_inch_fraction(numerator: i64, denominator: i64) -> Length {
        assert!(denominator > 0, "a fraction of an inch has a positive denominator");
        let half = if numerator < 0 { -denominator } else { denominator };
        Length((numerator * Self::PER_INCH * 2 + half) / (denominator * 2))
    }

    /// A length of whole millimetres.
    pub const fn from_millimetres(mm: i64) -> Length {
        Length(mm * Self::PER_MM)
    }

    /// The nearest whole tick to an exact number of `units`; `None` when it does not fit in 64 bits.
    pub fn from_rational(value: &Rational, units: Units) -> Option<Length> {
        let ticks = value * Rational::from_integer(BigInt::from(units.ticks()));
        ticks.round().to_integer().to_i64().map(Length)
    }

    /// The length in ticks.
    pub const fn ticks(self) -> i64 {
        self.0
    }

    /// The length as a float in `units`, for JSON numbers and drawings only; reads back to the same tick.
    pub fn to_f64(self, units: Units) -> f64 {
        self.0 as f64 / units.ticks() as f64
    }

    /// The length as an exact fraction of `units`.
    pub fn to_rational(self, units: Units) -> Rational {
        Rational::new(BigInt::from(self.0), BigInt::from(units.ticks()))
    }

    /// The smallest multiple of `step` that is not below this length. Panics if `step` is not positive.
    pub const fn round_up_to(self, step: Length) -> Length {
        let rem = self.0.rem_euclid(step.0);
        if rem == 0 { self } else { Length(self.0 - rem + step.0) }
    }

    /// The greatest multiple of `step` that is not above this length. Panics if `step` is not positive.
    pub const fn round_down_to(self, step: Length) -> Length {
        Length(self.0 - self.0.rem_euclid(step.0))
    }

    /// True when the length is below zero.
    pub const fn is_negative(self) -> bool {
        self.0 < 0
    }
}

impl Add for Length {
    type Output = Length;
    fn add(self, other: Length) -> Length {
        Length(self.0 + other.0)
    }
}

impl AddAssign for Length {
    fn add_assign(&mut self, other: Length) {
        self.0 += other.0;
    }
}

impl Sub for Length {
    type Output = Length;
    fn sub(self, other: Length) -> Length {
        Length(self.0 - other.0)
    }
}

impl SubAssign for Length {
    fn sub_assign(&mut self, other: Length) {
        self.0 -= other.0;
    }
}

impl Neg for Length {
    type Output = Length;
    fn neg(self) -> Length {
        Length(-self.0)
    }
}

/// A length repeated a whole number of times.
impl Mul<i64> for Length {
    type Output = Length;
    fn mul(self, times: i64) -> Length {
        Length(self.0 * times)
    }
}

/// Length by length is an area.
impl Mul for Length {
    type Output = Area;
    fn mul(self, other: Length) -> Area {
        Area(i128::from(self.0) * i128::from(other.0))
    }
}

impl Sum for Length {
    fn sum<I: Iterator<Item = Length>>(iter: I) -> Length {
        iter.fold(Length::ZERO, Add::add)
    }
}

/// An area in square ticks.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Area(i128);

impl Area {
    /// No area at all.
    pub const ZERO: Area = Area(0);

    /// An area of `square_ticks`.
    pub const fn from_square_ticks(square_ticks: i128) -> Area {
        Area(square_ticks)
    }

    /// The area in square ticks.
    pub const fn square_ticks(self) -> i128 {
        self.0
    }

    /// The area as a float in square `units`, for reports only.
    pub fn to_f64(self, units: Units) -> f64 {
        self.0 as f64 / (units.ticks() as f64 * units.ticks() as f64)
    }

    /// This area as an exact share of `whole`. Panics if `whole` is zero.
    pub fn share_of(self, whole: Area) -> Rational {
        Rational::new(BigInt::from(self.0), BigInt::from(whole.0))
    }
}

impl Add for Area {
    type Output = Area;
    fn add(self, other: Area) -> Area {
        Area(self.0 + other.0)
    }
}

impl AddAssign for Area {
    fn add_assign(&mut self, other: Area) {
        self.0 += other.0;
    }
}

impl Sub for Area {
    type Output = Area;
    fn sub(self, other: Area) -> Area {
        Area(self.0 - other.0)
    }
}

impl Sum for Area {
    fn sum<I: Iterator<Item = Area>>(iter: I) -> Area {
        iter.fold(Area::ZERO, Add::add)
    }
}

/// An exact amount of money in the shop's own currency; each printed figure is rounded once, from the exact value.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Money(Rational);

impl Default for Money {
    fn default() -> Money {
        Money::zero()
    }
}

impl Money {
    /// Millionths of the currency unit in one unit: the integer grain in which the optimiser counts.
    pub const MICROS: i64 = 1_000_000;

    /// No money.
    pub fn zero() -> Money {
        Money(Rational::zero())
    }

    /// An exact amount.
    pub fn from_rational(value: Rational) -> Money {
        Money(value)
    }

    /// The amount a JSON number or a float literal stands for: its shortest decimal text, taken exactly.
    /// `None` for NaN and infinities.
    pub fn from_f64(value: f64) -> Option<Money> {
        decimal_from_f64(value).map(Money)
    }

    /// A whole number of millionths of the currency unit.
    pub fn from_micros(micros: i64) -> Money {
        Money(Rational::new(BigInt::from(micros), BigInt::from(Self::MICROS)))
    }

    /// The exact value.
    pub fn as_rational(&self) -> &Rational {
        &self.0
    }

    /// Millionths of the currency unit, rounded down; saturates at the ends of 64 bits.
    pub fn micros_floor(&self) -> i64 {
        saturate(&(&self.0 * micros_per_unit()).floor())
    }

    /// Millionths of the currency unit, rounded up; saturates at the ends of 64 bits.
    pub fn micros_ceil(&self) -> i64 {
        saturate(&(&self.0 * micros_per_unit()).ceil())
    }

    /// The amount in hundredths, halves away from zero: what is printed.
    pub fn cents(&self) -> i64 {
        saturate(&(&self.0 * Rational::from_integer(100.into())).round())
    }

    /// The amount in hundredths, rounded down: how a lower bound is printed.
    pub fn cents_floor(&self) -> i64 {
        saturate(&(&self.0 * Rational::from_integer(100.into())).floor())
    }

    /// The printed amount as the nearest float, for a JSON number.
    pub fn to_f64(&self) -> f64 {
        self.cents() as f64 / 100.0
    }

    /// True when the amount is below zero.
    pub fn is_negative(&self) -> bool {
        self.0.is_negative()
    }

    /// This amount times an exact factor.
    pub fn times(&self, factor: &Rational) -> Money {
        Money(&self.0 * factor)
    }
}

fn micros_per_unit() -> Rational {
    Rational::from_integer(BigInt::from(Money::MICROS))
}

fn saturate(value: &Rational) -> i64 {
    let whole = value.to_integer();
    whole.to_i64().unwrap_or(if whole.is_negative() { i64::MIN } else { i64::MAX })
}

impl Add for Money {
    type Output = Money;
    fn add(self, other: Money) -> Money {
        Money(self.0 + other.0)
    }
}

impl AddAssign for Money {
    fn add_assign(&mut self, other: Money) {
        self.0 += other.0;
    }
}

impl Sub for Money {
    type Output = Money;
    fn sub(self, other: Money) -> Money {
        Money(self.0 - other.0)
    }
}

impl Sum for Money {
    fn sum<I: Iterator<Item = Money>>(iter: I) -> Money {
        iter.fold(Money::zero(), Add::add)
    }
}

/// Two decimals, no currency sign: `412.50`.
impl fmt::Display for Money {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let cents = self.cents();
        let sign = if cents < 0 { "-" } else { "" };
        let text = format!("{sign}{}.{:02}", cents.unsigned_abs() / 100, cents.unsigned_abs() % 100);
        f.pad_integral(true, "", &text)
    }
}

/// The exact value of the shortest decimal text of a float; `None` for NaN and infinities.
pub fn decimal_from_f64(value: f64) -> Option<Rational> {
    if !value.is_finite() {
        return None;
    }
    decimal_from_text(&format!("{value}"))
}

/// The exact value of a plain decimal such as `12`, `-0.3` or `1.25`; `None` for anything else.
pub fn decimal_from_text(text: &str) -> Option<Rational> {
    let (negative, digits) = match text.strip_prefix('-') {
        Some(rest) => (true, rest),
        None => (false, text),
    };
    let (whole, fraction) = digits.split_once('.').unwrap_or((digits, ""));
    let all = |s: &str| s.bytes().all(|b| b.is_ascii_digit());
    if whole.is_empty() && fraction.is_empty() || !all(whole) || !all(fraction) {
        return None;
    }
    let joined = format!("{whole}{fraction}");
    let numerator: BigInt = joined.parse().ok()?;
    let denominator = BigInt::from_u8(10)?.pow(u32::try_from(fraction.len()).ok()?);
    let value = Rational::new(numerator, denominator);
    Some(if negative { -value } else { value })
}
