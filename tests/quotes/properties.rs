//! What holds whatever the rates: shares add up exactly, printed columns add up, no order of lines changes a total.

use std::sync::OnceLock;

use flitchwork::job::rates::{Hardware, Payment, Profit, Rates, Wage};
use flitchwork::job::{self, Job};
use flitchwork::measure::{Money, Rational};
use flitchwork::pile::{self, Pile};
use flitchwork::plan::ShopPlan;
use flitchwork::quote::file::{AmountRow, to_file};
use flitchwork::quote::{Price, Quote, quote};
use num_traits::{One, Zero};
use proptest::prelude::*;

use crate::workshop::{occasion, planned};

/// The sideboard, planned once: boards of two species, glue-ups, sheets, sticks, sub-assemblies.
fn sideboard() -> &'static (Job, Pile, ShopPlan) {
    static MADE: OnceLock<(Job, Pile, ShopPlan)> = OnceLock::new();
    MADE.get_or_init(|| {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("inventory-samples/sideboard");
        let read = |name: &str| std::fs::read_to_string(folder.join(name)).expect("the sample is there");
        let job = job::file::read_json("job", &read("job.json"), None).expect("a job");
        let pile = pile::file::read_json("pile", &read("pile.json")).expect("a pile");
        let plan = planned(&job, &pile);
        (job, pile, plan)
    })
}

fn ratio(n: i64, d: i64) -> Rational {
    Rational::new(n.into(), d.into())
}

fn money(n: i64, d: i64) -> Money {
    Money::from_rational(ratio(n, d))
}

prop_compose! {
    fn any_rates()(
        credit in any::<bool>(),
        by_margin in any::<bool>(),
        profit in 0i64..600, sales in 0i64..300, prime in 0i64..900, contingency in 0i64..300, markup in 0i64..500,
        tax in 0i64..2500,
        hour in 0i64..4000, wage in 0i64..20_000, per_coat in 0i64..500,
        step in prop::sample::select(vec![1i64, 5, 100, 500]),
        hardware in prop::collection::vec((1i64..9, 0i64..100_000, 1i64..7), 0..6),
        first in 1i64..100,
    ) -> Rates {
        let mut rates = Rates::defaults();
        rates.material.credit_offcuts = credit;
        rates.material.markup = ratio(markup, 1000);
        rates.profit = if by_margin { Profit::Margin(ratio(profit, 1000)) } else { Profit::Markup(ratio(profit, 1000)) };
        rates.overhead.sales = ratio(sales, 1000);
        rates.overhead.prime = ratio(prime, 1000);
        rates.overhead.hour = money(hour, 100);
        rates.contingency = ratio(contingency, 1000);
        rates.tax.share = ratio(tax, 10_000);
        rates.labour.wage = Wage::Hourly(money(wage, 100));
        rates.finish.per_coat = money(per_coat, 300);
        rates.rounding = money(step, 100);
        rates.hardware = hardware
            .into_iter()
            .map(|(qty, cost, parts)| Hardware { what: format!("line {cost}"), qty: ratio(qty, parts), cost: money(cost, 100) })
            .collect();
        let pay = |when: &str, percent: i64| Payment { when: when.to_owned(), share: ratio(percent, 100) };
        rates.payments = vec![pay("first", first), pay("last", 100 - first)];
        rates
    }
}

fn priced(rates: Rates) -> Quote {
    let (job, pile, plan) = sideboard();
    let mut job = job.clone();
    job.shop.rates = rates;
    quote(&job, pile, plan, occasion()).expect("a quote")
}

fn cents(amount: f64) -> i64 {
    (amount * 100.0).round() as i64
}

fn sum(rows: &[AmountRow]) -> i64 {
    rows.iter().map(|row| cents(row.amount)).sum()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, ..ProptestConfig::default() })]

    #[test]
    fn shares_of_stock_add_up_to_what_the_stock_costs(rates in any_rates()) {
        let credited = rates.material.credit_offcuts;
        let quote = priced(rates);
        for piece in &quote.stock {
            prop_assert!(piece.shares.values().sum::<Rational>().is_one());
            prop_assert!(piece.used > Rational::zero() && piece.used <= Rational::one());
            prop_assert_eq!(piece.charged.clone() + piece.credit.clone(), piece.cost.clone());
            prop_assert!(credited || piece.credit == Money::zero());
        }
        let charged = quote.stock_charged();
        prop_assert_eq!(quote.parts.iter().map(|part| part.material.clone()).sum::<Money>(), charged.clone());
        prop_assert_eq!(quote.groups.iter().map(|group| group.material.clone()).sum::<Money>(), charged);
    }

    #[test]
    fn profit_is_exactly_the_share_asked_for(rates in any_rates()) {
        let quote = priced(rates);
        let price = &quote.price;
        match &quote.rates.profit {
            Profit::Margin(margin) => prop_assert_eq!(&price.profit, &price.exact.times(margin)),
            Profit::Markup(markup) => prop_assert_eq!(&price.profit, &price.cost.times(markup)),
        }
        prop_assert_eq!(&price.exact, &(price.cost.clone() + price.profit.clone()));
        prop_assert_eq!(&price.sales_overhead, &price.exact.times(&quote.rates.overhead.sales));
    }

    #[test]
    fn the_price_is_the_nearest_step_and_every_printed_column_adds_up(rates in any_rates()) {
        let quote = priced(rates);
        let off = quote.price.price.clone() - quote.price.exact.clone();
        let half = quote.rates.rounding.as_rational() / Rational::from_integer(2.into());
        prop_assert!(*off.as_rational() <= half && *off.as_rational() >= -half);

        let file = to_file(&quote);
        prop_assert_eq!(sum(&file.steps), cents(file.price));
        prop_assert_eq!(sum(&file.client_page.lines), cents(file.price));
        prop_assert_eq!(cents(file.price) + cents(file.tax), cents(file.total));
        prop_assert_eq!(sum(&file.payments), cents(file.total));
        let step = |name: &str| file.steps.iter().filter(|row| row.what == name).map(|row| cents(row.amount)).sum::<i64>();
        prop_assert_eq!(file.materials.iter().map(|row| cents(row.amount)).sum::<i64>(), step("materials"));
        prop_assert_eq!(file.labour.iter().map(|row| cents(row.amount)).sum::<i64>(), step("labour"));
        let stock: i64 = file.stock.iter().map(|row| cents(row.charged)).sum();
        prop_assert_eq!(file.parts.iter().map(|row| cents(row.material)).sum::<i64>(), stock);
        prop_assert_eq!(file.groups.iter().map(|row| cents(row.material)).sum::<i64>(), stock);
    }

    #[test]
    fn no_order_of_lines_changes_a_figure(rates in any_rates(), turn in 0usize..30) {
        let quote = priced(rates);
        let mut lines = quote.lines.clone();
        lines.reverse();
        let turn = turn % lines.len().max(1);
        lines.rotate_left(turn);
        prop_assert_eq!(Price::of(&lines, &quote.rates).expect("a price"), quote.price);
    }
}
