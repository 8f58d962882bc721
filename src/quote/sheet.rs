//! The figures of a quote as they are printed: whole cents that add up, block by block, from the price down.
//!
//! The price before tax is rounded once. The steps that build it are reconciled to its exact value in cents, and what the
//! shop's own rounding adds stands as a step of its own; lines are reconciled to their printed step, payments to the
//! total, a client's lines to the price. So every column that a reader adds up comes to what is printed under it.

use super::cost::{Heading, Line, LineKind};
use super::price::to_the_cent;
use super::round::reconciled;
use super::words::{amount, percent};
use super::{Price, Quote};
use crate::job::rates::{Overhead, Payment, Profit, Rates};
use crate::measure::Money;
use crate::pile::same_words;

/// Everything that is printed, in whole cents.
pub(super) struct Sheet<'a> {
    pub(super) materials: Vec<(&'a Line, Money)>,
    pub(super) materials_sum: Money,
    pub(super) labour: Vec<(&'a Line, Money)>,
    pub(super) labour_sum: Money,
    /// What the price before tax is built of; they add up to it.
    pub(super) steps: Vec<(String, Money)>,
    pub(super) payments: Vec<(&'a Payment, Money)>,
    /// Parallel to the quote's stock: what is charged.
    pub(super) stock: Vec<Money>,
    pub(super) stock_sum: Money,
    /// Parallel to the quote's parts.
    pub(super) parts: Vec<Money>,
    /// Parallel to the quote's groups.
    pub(super) groups: Vec<Money>,
    /// What a client is shown; they add up to the price before tax.
    pub(super) client: Vec<(Heading, Money)>,
}

impl Sheet<'_> {
    /// The printed figures of a quote.
    pub(super) fn of(quote: &Quote) -> Sheet<'_> {
        let Quote { price, rates, .. } = quote;
        let (steps, [materials_sum, labour_sum]) = steps(price, rates);
        let materials = lines(&quote.lines, |line| line.kind != LineKind::Labour, &materials_sum);
        let labour = lines(&quote.lines, |line| line.kind == LineKind::Labour, &labour_sum);
        let of_stock = |(line, _): &&(&Line, Money)| line.kind == LineKind::Stock;
        let stock_sum = materials.iter().find(of_stock).map_or_else(Money::zero, |(_, printed)| printed.clone());
        let charged: Vec<Money> = quote.stock.iter().map(|piece| piece.charged.clone()).collect();
        let caused: Vec<Money> = quote.parts.iter().map(|part| part.material.clone()).collect();
        let parts = reconciled(&caused, &stock_sum);
        let due: Vec<Money> = rates.payments.iter().map(|payment| price.total.times(&payment.share)).collect();
        let client: Vec<Money> = price.by_heading.iter().map(|(_, share)| share.clone()).collect();
        let headings = price.by_heading.iter().map(|(heading, _)| *heading);
        Sheet {
            steps,
            payments: rates.payments.iter().zip(reconciled(&due, &price.total)).collect(),
            stock: reconciled(&charged, &stock_sum),
            groups: quote.groups.iter().map(|group| group_sum(quote, group.group.as_deref(), &parts)).collect(),
            client: headings.zip(reconciled(&client, &price.price)).collect(),
            materials,
            materials_sum,
            labour,
            labour_sum,
            stock_sum,
            parts,
        }
    }
}

/// What the parts of a sub-assembly are printed at.
fn group_sum(quote: &Quote, group: Option<&str>, parts: &[Money]) -> Money {
    let same = |other: Option<&str>| match (group, other) {
        (Some(a), Some(b)) => same_words(a, b),
        (a, b) => a.is_none() && b.is_none(),
    };
    let of_group = quote.parts.iter().zip(parts).filter(|(part, _)| same(part.group.as_deref()));
    of_group.map(|(_, printed)| printed.clone()).sum()
}

fn lines<'a>(lines: &'a [Line], which: impl Fn(&Line) -> bool, sum: &Money) -> Vec<(&'a Line, Money)> {
    let lines: Vec<&Line> = lines.iter().filter(|line| which(line)).collect();
    let exact: Vec<Money> = lines.iter().map(|line| line.amount.clone()).collect();
    lines.into_iter().zip(reconciled(&exact, sum)).collect()
}

/// The steps, and what materials and labour are printed at.
fn steps(price: &Price, rates: &Rates) -> (Vec<(String, Money)>, [Money; 2]) {
    let Overhead { sales, .. } = &rates.overhead;
    let profit = match &rates.profit {
        Profit::Markup(share) => format!("profit, {} of the cost", percent(share)),
        Profit::Margin(share) => format!("profit, {} of the price", percent(share)),
    };
    let exact = [
        ("materials".to_owned(), &price.materials),
        (format!("markup on materials, {}", percent(&rates.material.markup)), &price.material_markup),
        ("labour".to_owned(), &price.labour),
        (overhead_words(rates), &price.overhead),
        (format!("contingency, {}", percent(&rates.contingency)), &price.contingency),
        (format!("overhead, {} of the price", percent(sales)), &price.sales_overhead),
        (profit, &price.profit),
    ];
    let sum = to_the_cent(&price.exact);
    let amounts: Vec<Money> = exact.iter().map(|(_, amount)| (*amount).clone()).collect();
    let printed = reconciled(&amounts, &sum);
    let sums = [printed[0].clone(), printed[2].clone()];
    let mut steps: Vec<(String, Money)> = exact.into_iter().map(|(words, _)| words).zip(printed).collect();
    let rounding = amount(&rates.currency, &rates.rounding);
    steps.push((format!("to the nearest {rounding}"), price.price.clone() - sum));
    steps.retain(|(_, amount)| *amount != Money::zero());
    (steps, sums)
}

fn overhead_words(rates: &Rates) -> String {
    let Overhead { job, hour, prime, .. } = &rates.overhead;
    let zero = Money::zero();
    let mut words = Vec::new();
    if *job != zero {
        words.push(format!("{} the job", amount(&rates.currency, job)));
    }
    if *hour != zero {
        words.push(format!("{} an hour", amount(&rates.currency, hour)));
    }
    if *prime != num_traits::Zero::zero() {
        words.push(format!("{} of prime cost", percent(prime)));
    }
    format!("overhead, {}", words.join(", "))
}
