//! The price of a commission: what it costs by the plan and the shop's rates, what is charged, and how that is shown.
//!
//! `cost` takes quantities from the plan and prices them, `share` says which part caused which stock, `price` builds the
//! price from the costs, `round` turns exact amounts into printed ones that add up, `instead` makes the same piece of
//! another wood. `file` and `csv` are for programs, `text` is the maker's own sheet, `page` the client's, `html` spells it
//! out (its PDF is `draw`'s). No search happens here. Invariant: every amount is an exact fraction until it is printed, and
//! printed lines add up to the printed sums.

mod cost;
mod csv;
mod date;
pub mod file;
mod html;
pub mod instead;
mod missing;
pub mod page;
pub mod price;
mod round;
mod share;
mod sheet;
mod text;
mod words;

use crate::job::Job;
use crate::job::rates::{Rates, RatesError};
use crate::measure::{Money, Rational, Units};
use crate::pile::Pile;
use crate::plan::ShopPlan;
use crate::plan::check::{Violation, check};

pub use cost::{Heading, Line, LineKind};
pub use csv::as_csv;
pub use date::{Date, DateError};
pub use html::as_html;
pub use instead::{Alternative, Instead, InsteadError};
pub use missing::Missing;
pub use price::Price;
pub use share::{GroupShare, PartShare, StockShare};
pub use text::summary;

/// When, and for whom, a quote is written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Occasion {
    pub date: Date,
    /// The client, as the page addresses them.
    pub client: Option<String>,
}

/// What a commission costs and what is charged for it.
#[derive(Clone, Debug, PartialEq)]
pub struct Quote {
    pub title: String,
    pub units: Units,
    pub occasion: Occasion,
    /// The last day it stands.
    pub valid_until: Date,
    pub pieces_required: u32,
    pub pieces_placed: u32,
    /// What the plan does not make, and the price does not cover; empty for a whole quote.
    pub missing: Vec<Missing>,
    /// Species and materials of what is made, as the job names them.
    pub woods: Vec<String>,
    /// Finished surface, square feet.
    pub surface: Rational,
    /// Direct costs.
    pub lines: Vec<Line>,
    pub price: Price,
    /// Every piece of stock, in the order of the plan.
    pub stock: Vec<StockShare>,
    /// The stock each part caused, in the order of the job.
    pub parts: Vec<PartShare>,
    /// The same by sub-assembly, in the order in which parts name them.
    pub groups: Vec<GroupShare>,
    /// The same piece of other wood.
    pub alternatives: Vec<Alternative>,
    /// What it was priced by.
    pub rates: Rates,
}

/// Why there is no quote.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum QuoteError {
    /// The plan was made from other files, or changed since.
    #[error("the plan does not go with this job and pile: {}; plan again, or give the files and the shop it was made from", listed(.0))]
    Unlawful(Vec<Violation>),
    /// The rates make no price.
    #[error("{0}")]
    Rates(#[from] RatesError),
    /// An amount that nobody means.
    #[error("the price comes to more than {MOST} million; check the figures under `rates` and the prices of the pile")]
    TooMuch,
    /// No such day, or one beyond the calendar.
    #[error("{0}")]
    Date(#[from] DateError),
}

/// The greatest price, millions.
const MOST: i64 = 1_000_000;

/// Breaches that a message names.
const NAMED: usize = 3;

fn listed(violations: &[Violation]) -> String {
    let mut words: Vec<String> = violations.iter().take(NAMED).map(ToString::to_string).collect();
    if violations.len() > NAMED {
        words.push(format!("and {} more", violations.len() - NAMED));
    }
    words.join("; ")
}

/// Prices a plan: the stock at what it costs in the pile, everything else by the job's own shop.
///
/// The plan is judged by the checker first, so that no price is made of a plan that goes with other files.
///
/// # Errors
/// [`QuoteError::Unlawful`] with every breach; [`QuoteError::Rates`] when no price covers what is asked of it.
pub fn quote(job: &Job, pile: &Pile, plan: &ShopPlan, occasion: Occasion) -> Result<Quote, QuoteError> {
    let breaches = check(job, pile, plan);
    if !breaches.is_empty() {
        return Err(QuoteError::Unlawful(breaches));
    }
    let rates = &job.shop.rates;
    rates.judged()?;
    let missing = missing::of(plan);
    let made = missing::made(job, plan);
    let stock = share::stock(pile, plan, rates.material.credit_offcuts);
    let parts = share::parts(job, &made, &stock);
    let surface = cost::surface(job, &made);
    let lines = cost::lines(job, plan, &made, &stock);
    let price = Price::of(&lines, rates)?;
    if *price.total.as_rational() > Rational::from_integer((MOST * 1_000_000).into()) {
        return Err(QuoteError::TooMuch);
    }
    Ok(Quote {
        title: job.title.clone(),
        units: job.units,
        valid_until: occasion.date.after(rates.validity_days)?,
        occasion,
        pieces_required: plan.pieces_required,
        pieces_placed: plan.pieces_placed,
        missing,
        woods: cost::woods(job, &made),
        surface,
        lines,
        price,
        stock,
        groups: share::groups(&parts),
        parts,
        alternatives: Vec::new(),
        rates: rates.clone(),
    })
}

impl Quote {
    /// True when the price covers everything the job asks for.
    pub fn is_complete(&self) -> bool {
        self.missing.is_empty()
    }

    /// What the stock is charged at, credit taken off where the shop gives it.
    pub fn stock_charged(&self) -> Money {
        self.stock.iter().map(|piece| piece.charged.clone()).sum()
    }

    /// Hours of labour in all.
    pub fn hours(&self) -> Rational {
        self.lines.iter().map(|line| &line.hours).sum()
    }
}
