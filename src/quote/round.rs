//! Printed amounts that add up: exact ones to whole cents, so that a column comes to its printed sum.
//!
//! The sum is rounded once, from its exact value; each line is then its exact amount rounded down to the cent, and the
//! cents that are left go to the lines that lost most by that, the first of equals (the method of largest remainders,
//! as seats are given to parties). No line is off by a cent or more.

use num_traits::ToPrimitive;

use crate::measure::{Money, Rational};

/// The lines in whole cents, adding up to `sum`, which is a whole number of cents within less than one of their exact sum.
pub(super) fn reconciled(exact: &[Money], sum: &Money) -> Vec<Money> {
    let hundred = Rational::from_integer(100.into());
    let cents: Vec<Rational> = exact.iter().map(|amount| amount.as_rational() * &hundred).collect();
    let floors: Vec<Rational> = cents.iter().map(Rational::floor).collect();
    let left = sum.as_rational() * &hundred - floors.iter().sum::<Rational>();
    let left = left.to_integer().to_usize().unwrap_or_default();
    let mut losers: Vec<usize> = (0..cents.len()).collect();
    losers.sort_by(|&a, &b| (&cents[b] - &floors[b]).cmp(&(&cents[a] - &floors[a])));
    let mut printed = floors;
    for &line in losers.iter().take(left) {
        printed[line] += Rational::from_integer(1.into());
    }
    printed.into_iter().map(|cents| Money::from_rational(cents / &hundred)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quote::price::to_the_cent;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn printed_lines_add_up_and_none_is_off_by_a_cent(
            lines in prop::collection::vec((-1_000_000i64..100_000_000, 1i64..5_000), 1..40),
        ) {
            let exact: Vec<Money> =
                lines.iter().map(|&(n, d)| Money::from_rational(Rational::new(n.into(), d.into()))).collect();
            let whole: Money = exact.iter().cloned().sum();
            let sum = to_the_cent(&whole);
            let printed = reconciled(&exact, &sum);
            prop_assert_eq!(printed.iter().cloned().sum::<Money>(), sum);
            let cent = Rational::new(1.into(), 100.into());
            for (exact, printed) in exact.iter().zip(&printed) {
                let off = (exact.clone() - printed.clone()).as_rational().clone();
                prop_assert!(off < cent && off > -cent.clone());
                prop_assert!((printed.as_rational() * Rational::from_integer(100.into())).is_integer());
            }
        }
    }

    #[test]
    fn three_thirds_of_a_unit_print_as_a_whole_one() {
        let third = Money::from_rational(Rational::new(1.into(), 3.into()));
        let printed = reconciled(&[third.clone(), third.clone(), third], &Money::from_micros(1_000_000));
        assert_eq!(printed.iter().map(ToString::to_string).collect::<Vec<_>>(), ["0.34", "0.33", "0.33"]);
    }
}
