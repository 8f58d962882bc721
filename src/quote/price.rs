//! From direct costs to a price: markup on materials, overhead, contingency, profit, one rounding, tax last.
//!
//! With materials M, labour L over h hours, and the shop's rates:
//! cost before contingency K = M (1 + markup) + L + overhead a job + overhead an hour x h + share of prime cost x (M + L);
//! contingency is a share of K; overhead on sales and profit are shares of the price itself, or profit of the cost, so
//! the price follows by [`Rates::price_per_cost`]. The price is rounded once, from its exact value, to the shop's step;
//! tax is taken on the rounded price, which is what is charged, and to the cent.

use num_traits::{One, Zero};

use super::cost::{Heading, Line, LineKind};
use crate::job::rates::{Overhead, Profit, Rates, RatesError};
use crate::measure::{Money, Rational};

/// How a price is built. Every amount is exact but `price`, `tax` and `total`, which are what is charged.
#[derive(Clone, Debug, PartialEq)]
pub struct Price {
    pub materials: Money,
    /// Markup on the materials.
    pub material_markup: Money,
    pub labour: Money,
    /// Overhead for the job, by the hour and on prime cost.
    pub overhead: Money,
    pub contingency: Money,
    /// Overhead as a share of the price.
    pub sales_overhead: Money,
    /// All of the above.
    pub cost: Money,
    pub profit: Money,
    /// Cost and profit.
    pub exact: Money,
    /// The price before tax: `exact`, rounded once.
    pub price: Money,
    pub tax: Money,
    pub total: Money,
    /// By heading, what of `price` is charged for it: exact shares that add up to it.
    pub by_heading: Vec<(Heading, Money)>,
}

impl Price {
    /// The price of direct costs.
    ///
    /// # Errors
    /// [`RatesError::NothingLeft`] when no price covers what is asked of it.
    pub fn of(lines: &[Line], rates: &Rates) -> Result<Price, RatesError> {
        let all = Direct::of(lines, |_| true);
        let before = all.cost(rates) + rates.overhead.job.clone();
        let contingency = before.times(&rates.contingency);
        let carried = before.clone() + contingency.clone();
        let exact = carried.times(&rates.price_per_cost().ok_or(RatesError::NothingLeft)?);
        let sales_overhead = exact.times(&rates.overhead.sales);
        let cost = carried + sales_overhead.clone();
        let profit = match &rates.profit {
            Profit::Markup(share) => cost.times(share),
            Profit::Margin(share) => exact.times(share),
        };
        let price = nearest(&exact, &rates.rounding);
        let tax = to_the_cent(&price.times(&rates.tax.share));
        Ok(Price {
            material_markup: all.materials.times(&rates.material.markup),
            overhead: all.overhead(rates) + rates.overhead.job.clone(),
            materials: all.materials,
            labour: all.labour,
            contingency,
            sales_overhead,
            cost,
            profit,
            exact,
            by_heading: by_heading(lines, rates, &before, &price),
            total: price.clone() + tax.clone(),
            price,
            tax,
        })
    }
}

/// What each heading costs before contingency, as a share of the price: everything on top is in proportion to it. What is
/// for the whole job, and a price without any cost, belong to the making.
fn by_heading(lines: &[Line], rates: &Rates, before: &Money, price: &Money) -> Vec<(Heading, Money)> {
    let cost = |heading| {
        let own = Direct::of(lines, |line| line.heading == heading).cost(rates);
        if heading == Heading::Making { own + rates.overhead.job.clone() } else { own }
    };
    let share = |heading| {
        if before.as_rational().is_zero() {
            return if heading == Heading::Making { price.clone() } else { Money::zero() };
        }
        price.times(&(cost(heading).as_rational() / before.as_rational()))
    };
    let shares = Heading::ALL.map(|heading| (heading, share(heading)));
    shares
        .into_iter()
        .filter(|(heading, share)| *heading == Heading::Making || !share.as_rational().is_zero())
        .collect()
}

struct Direct {
    materials: Money,
    labour: Money,
    hours: Rational,
}

impl Direct {
    fn of(lines: &[Line], counts: impl Fn(&Line) -> bool) -> Direct {
        let sum = |labour: bool| {
            let lines = lines.iter().filter(|line| (line.kind == LineKind::Labour) == labour && counts(line));
            lines.map(|line| line.amount.clone()).sum()
        };
        Direct {
            materials: sum(false),
            labour: sum(true),
            hours: lines.iter().filter(|line| counts(line)).map(|line| &line.hours).sum(),
        }
    }

    /// Overhead by the hour and on prime cost.
    fn overhead(&self, rates: &Rates) -> Money {
        let Overhead { hour, prime, .. } = &rates.overhead;
        hour.times(&self.hours) + (self.materials.clone() + self.labour.clone()).times(prime)
    }

    /// Materials with their markup, labour, overhead.
    fn cost(&self, rates: &Rates) -> Money {
        let marked = self.materials.times(&(Rational::one() + &rates.material.markup));
        marked + self.labour.clone() + self.overhead(rates)
    }
}

/// The nearest whole number of steps, a half up.
fn nearest(amount: &Money, step: &Money) -> Money {
    if step.as_rational().is_zero() {
        return amount.clone();
    }
    let steps = (amount.as_rational() / step.as_rational()).round();
    step.times(&steps)
}

/// The nearest cent, a half up.
pub(super) fn to_the_cent(amount: &Money) -> Money {
    nearest(amount, &Money::from_rational(Rational::new(1.into(), 100.into())))
}
