//! Figures of a quote in words: amounts with their currency, shares in percent, quantities.

use num_bigint::BigInt;
use num_traits::{Signed, Zero};

use crate::measure::{Money, Rational};

/// An amount as a client reads it: `$3,092.30`, `USD 3,092.30`.
pub(super) fn amount(currency: &str, money: &Money) -> String {
    let plain = money.to_string();
    let (sign, plain) = plain.strip_prefix('-').map_or(("", plain.as_str()), |rest| ("-", rest));
    let (whole, cents) = plain.split_once('.').unwrap_or((plain, "00"));
    let mut grouped = String::new();
    for (i, digit) in whole.chars().enumerate() {
        if i > 0 && (whole.len() - i).is_multiple_of(3) {
            grouped.push(',');
        }
        grouped.push(digit);
    }
    // A code is parted from the figure, a sign stands close to it.
    let gap = if currency.ends_with(char::is_alphabetic) { " " } else { "" };
    format!("{sign}{currency}{gap}{grouped}.{cents}")
}

/// A share in percent, to two decimals at most: `8.25 %`.
pub(super) fn percent(share: &Rational) -> String {
    format!("{} %", decimal(&(share * Rational::from_integer(100.into()))))
}

/// A number to two decimals at most, a half away from nothing.
pub(super) fn decimal(value: &Rational) -> String {
    let hundred = Rational::from_integer(100.into());
    let hundredths = (value * &hundred).round();
    let sign = if hundredths.is_negative() { "-" } else { "" };
    let hundredths: BigInt = hundredths.abs().to_integer();
    let (whole, rest): (BigInt, BigInt) = (&hundredths / 100, &hundredths % 100);
    if rest.is_zero() {
        return format!("{sign}{whole}");
    }
    let text = format!("{sign}{whole}.{rest:0>2}", rest = rest.to_string());
    text.trim_end_matches('0').to_owned()
}

/// `1 piece`, `3 pieces`.
pub(super) fn count(number: u32, one: &str) -> String {
    format!("{number} {one}{}", if number == 1 { "" } else { "s" })
}

#[cfg(test)]
mod tests {
    use super::*;
    use rstest::rstest;

    #[rstest]
    #[case::sign("$", 3_092.3, "$3,092.30")]
    #[case::code("USD", 1_234_567.0, "USD 1,234,567.00")]
    #[case::small("€", 0.05, "€0.05")]
    #[case::less_than_nothing("$", -1_234.5, "-$1,234.50")]
    #[case::a_thousand_less_one("$", 999.999, "$1,000.00")]
    fn an_amount_reads_with_its_currency(#[case] currency: &str, #[case] value: f64, #[case] text: &str) {
        assert_eq!(amount(currency, &Money::from_f64(value).unwrap()), text);
    }

    #[rstest]
    #[case(1, 3, "0.33")]
    #[case(5, 2, "2.5")]
    #[case(4, 2, "2")]
    #[case(-1, 8, "-0.13")]
    #[case(1, 1000, "0")]
    fn a_quantity_has_two_decimals_at_most(#[case] n: i64, #[case] d: i64, #[case] text: &str) {
        assert_eq!(decimal(&Rational::new(n.into(), d.into())), text);
    }
}
