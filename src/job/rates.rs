//! What the shop charges: hours and rates by operation, finish, overhead, profit, tax, and how it is paid.
//!
//! Holds the resolved figures, their defaults and the rules across them; how files state them is `rates_file`'s business,
//! what a piece costs by them is `quote`'s. Shares are exact fractions of one (a fifth for 20 percent). Every default is a
//! placeholder to be edited: no published figure fits two shops.

use num_traits::{One, Zero};

use crate::measure::{Money, Rational};

/// Every figure a price is made of, beside the stock itself.
#[derive(Clone, Debug, PartialEq)]
pub struct Rates {
    /// The sign or code amounts are printed with.
    pub currency: String,
    /// Above the client's page: who makes the offer, a line each.
    pub letterhead: Vec<String>,
    /// Below the client's page: what the offer is subject to, a paragraph each.
    pub terms: Vec<String>,
    /// Days an offer stands.
    pub validity_days: u32,
    /// The price before tax is rounded to a whole number of these.
    pub rounding: Money,
    pub material: MaterialRates,
    pub consumables: Consumables,
    pub finish: Finish,
    pub hardware: Vec<Hardware>,
    pub labour: Labour,
    pub overhead: Overhead,
    /// Share of the cost set aside for what goes wrong.
    pub contingency: Rational,
    pub profit: Profit,
    pub tax: Tax,
    /// When what share of the total is due; the shares add up to one.
    pub payments: Vec<Payment>,
}

/// How bought stock is charged.
#[derive(Clone, Debug, PartialEq)]
pub struct MaterialRates {
    /// Share of all materials that is put on them.
    pub markup: Rational,
    /// Offcuts kept are taken off the material at the credit the plan gives them.
    pub credit_offcuts: bool,
}

/// What is used up beside the stock.
#[derive(Clone, Debug, PartialEq)]
pub struct Consumables {
    /// Money for each square foot of glue joint.
    pub glue: Money,
    /// Money for each finished part.
    pub part: Money,
    /// Share of the stock's cost.
    pub share: Rational,
}

/// The finish, its labour apart.
#[derive(Clone, Debug, PartialEq)]
pub struct Finish {
    pub coats: u32,
    /// Money for each square foot and coat.
    pub per_coat: Money,
}

/// One line of hardware, or of anything else bought for the job.
#[derive(Clone, Debug, PartialEq)]
pub struct Hardware {
    pub what: String,
    pub qty: Rational,
    /// Of one.
    pub cost: Money,
}

/// Hours by operation and what an hour costs.
#[derive(Clone, Debug, PartialEq)]
pub struct Labour {
    pub wage: Wage,
    work: [Work; Operation::ALL.len()],
}

/// What an hour costs where an operation has no rate of its own.
#[derive(Clone, Debug, PartialEq)]
pub enum Wage {
    /// Money an hour.
    Hourly(Money),
    /// From a year's figures, over the hours that are billed and not those that are paid.
    Yearly {
        /// Pay and what is due on it.
        wages: Money,
        /// Rent, insurance, machines and the like, if the rate is to carry them.
        overhead: Money,
        billable_hours: Rational,
    },
}

impl Wage {
    /// Money an hour.
    pub fn per_hour(&self) -> Money {
        match self {
            Wage::Hourly(rate) => rate.clone(),
            Wage::Yearly { wages, overhead, billable_hours } => {
                (wages.clone() + overhead.clone()).times(&billable_hours.recip())
            }
        }
    }
}

/// An operation that takes time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Operation {
    Design,
    LumberTrip,
    Cut,
    GlueUp,
    Part,
    Sanding,
    Finishing,
    Assembly,
    Delivery,
    Fitting,
}

/// What an operation's hours are counted by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Basis {
    /// Once for the whole job.
    Job,
    /// Each saw cut of the plan.
    Cut,
    /// Each panel or lamination.
    GlueUp,
    /// Each finished part.
    Part,
    /// Each square foot of finished surface.
    Area,
    /// Each square foot of finished surface, times the coats.
    CoatArea,
    /// Each sub-assembly (`group`).
    Group,
}

impl Operation {
    /// Every operation, in the order of the work.
    pub const ALL: [Operation; 10] = [
        Operation::Design,
        Operation::LumberTrip,
        Operation::Cut,
        Operation::GlueUp,
        Operation::Part,
        Operation::Sanding,
        Operation::Finishing,
        Operation::Assembly,
        Operation::Delivery,
        Operation::Fitting,
    ];

    /// What its hours are counted by.
    pub const fn basis(self) -> Basis {
        match self {
            Operation::Design | Operation::LumberTrip | Operation::Delivery | Operation::Fitting => Basis::Job,
            Operation::Cut => Basis::Cut,
            Operation::GlueUp => Basis::GlueUp,
            Operation::Part => Basis::Part,
            Operation::Sanding => Basis::Area,
            Operation::Finishing => Basis::CoatArea,
            Operation::Assembly => Basis::Group,
        }
    }

    /// Its name in files.
    pub const fn name(self) -> &'static str {
        match self {
            Operation::Design => "design",
            Operation::LumberTrip => "lumber_trip",
            Operation::Cut => "cut",
            Operation::GlueUp => "glue_up",
            Operation::Part => "part",
            Operation::Sanding => "sanding",
            Operation::Finishing => "finishing",
            Operation::Assembly => "assembly",
            Operation::Delivery => "delivery",
            Operation::Fitting => "fitting",
        }
    }
}

/// How long one unit of an operation takes.
#[derive(Clone, Debug, PartialEq)]
pub struct Work {
    /// Hours for one of what it is counted by.
    pub hours: Rational,
    /// Money an hour, where it is not the shop's.
    pub rate: Option<Money>,
}

impl Labour {
    /// Labour at a wage, every operation of the hours that `work` gives it.
    pub fn new(wage: Wage, work: impl Fn(Operation) -> Work) -> Labour {
        Labour { wage, work: Operation::ALL.map(work) }
    }

    /// How long an operation takes.
    pub fn of(&self, operation: Operation) -> &Work {
        &self.work[operation as usize]
    }

    /// What an hour of an operation costs.
    pub fn rate(&self, operation: Operation) -> Money {
        self.of(operation).rate.clone().unwrap_or_else(|| self.wage.per_hour())
    }
}

/// What the shop costs whether or not there is work.
#[derive(Clone, Debug, PartialEq)]
pub struct Overhead {
    /// Money for the whole job.
    pub job: Money,
    /// Money for each hour of labour.
    pub hour: Money,
    /// Share of prime cost: materials and labour.
    pub prime: Rational,
    /// Share of the price before tax.
    pub sales: Rational,
}

/// What the maker earns beyond the cost: a share of the cost, or a share of the price, which is not the same.
#[derive(Clone, Debug, PartialEq)]
pub enum Profit {
    /// Share of the cost.
    Markup(Rational),
    /// Share of the price before tax.
    Margin(Rational),
}

/// Tax, put on last.
#[derive(Clone, Debug, PartialEq)]
pub struct Tax {
    pub name: String,
    /// Share of the price.
    pub share: Rational,
}

/// One payment.
#[derive(Clone, Debug, PartialEq)]
pub struct Payment {
    pub when: String,
    /// Share of the total.
    pub share: Rational,
}

/// Why rates make no price.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum RatesError {
    /// What is asked of the price reaches the whole of it.
    #[error("overhead on sales and profit together take the whole price or more: no price covers them")]
    NothingLeft,
    /// Overhead in the hourly rate and beside it.
    #[error("the yearly overhead is in the hourly rate already, and counted once more here")]
    OverheadTwice,
    /// Payments that are not the whole.
    #[error("the payments do not add up to 100 percent")]
    Payments,
}

impl Rates {
    /// The rules across figures.
    ///
    /// # Errors
    /// The first that is broken.
    pub fn judged(&self) -> Result<(), RatesError> {
        if self.price_per_cost().is_none() {
            return Err(RatesError::NothingLeft);
        }
        let in_wage = matches!(&self.labour.wage, Wage::Yearly { overhead, .. } if *overhead > Money::zero());
        let Overhead { hour, prime, sales, .. } = &self.overhead;
        if in_wage && !(*hour == Money::zero() && prime.is_zero() && sales.is_zero()) {
            return Err(RatesError::OverheadTwice);
        }
        let paid: Rational = self.payments.iter().map(|payment| &payment.share).sum();
        if self.payments.is_empty() || paid.is_one() { Ok(()) } else { Err(RatesError::Payments) }
    }

    /// The price before tax for each unit of cost (overhead on sales not counted in it); `None` when no price covers what
    /// is asked of it.
    ///
    /// With overhead at a share s of the price p, and cost c: by a margin m, p = c + s p + m p; by a markup u, p = (1 + u)
    /// (c + s p).
    pub fn price_per_cost(&self) -> Option<Rational> {
        let one = Rational::one();
        let sales = &self.overhead.sales;
        let (above, below) = match &self.profit {
            Profit::Margin(margin) => (one.clone(), one - sales - margin),
            Profit::Markup(markup) => {
                let grown = one.clone() + markup;
                (grown.clone(), one - sales * grown)
            }
        };
        (below > Rational::zero()).then(|| above / below)
    }

    /// The defaults: placeholders of a plausible size, for the maker to put their own in place of.
    pub fn defaults() -> Rates {
        let ratio = |n: i64, d: i64| Rational::new(n.into(), d.into());
        let money = |cents: i64| Money::from_rational(ratio(cents, 100));
        let hours = |operation| match operation {
            Operation::Design | Operation::LumberTrip => ratio(2, 1),
            Operation::Cut => ratio(1, 20),
            Operation::GlueUp => ratio(1, 2),
            Operation::Part => ratio(1, 4),
            Operation::Sanding => ratio(1, 10),
            Operation::Finishing => ratio(1, 20),
            Operation::Assembly => ratio(1, 1),
            Operation::Delivery | Operation::Fitting => ratio(0, 1),
        };
        let work = |operation| Work { hours: hours(operation), rate: None };
        let half = |when: &str| Payment { when: when.to_owned(), share: ratio(1, 2) };
        Rates {
            currency: "$".to_owned(),
            letterhead: Vec::new(),
            terms: Vec::new(),
            validity_days: 30,
            rounding: money(1),
            material: MaterialRates { markup: ratio(1, 10), credit_offcuts: false },
            consumables: Consumables { glue: money(30), part: money(25), share: ratio(0, 1) },
            finish: Finish { coats: 3, per_coat: money(25) },
            hardware: Vec::new(),
            labour: Labour::new(Wage::Hourly(money(4000)), work),
            overhead: Overhead { job: money(0), hour: money(1200), prime: ratio(0, 1), sales: ratio(0, 1) },
            contingency: ratio(1, 20),
            profit: Profit::Margin(ratio(1, 5)),
            tax: Tax { name: "Tax".to_owned(), share: ratio(0, 1) },
            payments: vec![half("with the order"), half("on delivery")],
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn share(percent: i64) -> Rational {
        Rational::new(percent.into(), 100.into())
    }

    #[test]
    fn margin_is_a_share_of_the_price_and_markup_of_the_cost() {
        // Common practice of pricing: margin = markup / (1 + markup), so 25 percent on top is 20 percent of the price.
        let mut rates = Rates::defaults();
        rates.profit = Profit::Margin(share(20));
        let by_margin = rates.price_per_cost();
        rates.profit = Profit::Markup(share(25));
        assert_eq!(rates.price_per_cost(), by_margin);
        assert_eq!(by_margin, Some(share(125)));
    }

    #[test]
    fn what_takes_the_whole_price_is_refused() {
        let mut rates = Rates::defaults();
        rates.overhead.sales = share(80);
        assert_eq!(rates.judged(), Err(RatesError::NothingLeft));
        rates.profit = Profit::Markup(share(25));
        assert_eq!(rates.judged(), Err(RatesError::NothingLeft));
        rates.profit = Profit::Markup(share(24));
        assert_eq!(rates.judged(), Ok(()));
    }

    #[test]
    fn every_operation_has_a_place_of_its_own() {
        let labour = Labour::new(Wage::Hourly(Money::zero()), |operation| Work {
            hours: Rational::from_integer((operation as i64).into()),
            rate: None,
        });
        for operation in Operation::ALL {
            assert_eq!(labour.of(operation).hours, Rational::from_integer((operation as i64).into()));
        }
    }
}
