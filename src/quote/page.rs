//! The client's page: what is offered, what it costs, until when, how it is paid. None of what it is made of.
//!
//! Says what stands on the page and in which order; `html` spells it out for a screen, `draw` for paper. Invariant: no
//! hour, rate, overhead, profit, stock or piece of the pile gets here; a client's lines are shares of the price.

use super::cost::Heading;
use super::sheet::Sheet;
use super::words::{amount, count, percent};
use super::{Alternative, Quote};
use crate::measure::{Money, Units};

/// A page, from its top down.
#[derive(Clone, Debug, PartialEq)]
pub struct Page {
    /// What the page is called.
    pub title: String,
    /// A page in inches is of Letter size, one in millimetres of A4.
    pub units: Units,
    pub blocks: Vec<Block>,
}

/// One thing on the page.
#[derive(Clone, Debug, PartialEq)]
pub enum Block {
    /// Who makes the offer, a line each.
    Letterhead(Vec<String>),
    /// The title, and what kind of paper it is.
    Title { kind: String, title: String },
    /// Short facts, each with its name.
    Facts(Vec<(String, String)>),
    /// What must not be overlooked.
    Warning(String),
    /// Lines with what they cost, and sums under them.
    Prices { heading: String, lines: Vec<(String, String)>, sums: Vec<(String, String)> },
    /// A paragraph of small print.
    Term(String),
    /// Room to sign: what is signed for.
    Signature(Vec<String>),
}

impl Page {
    /// The client's page of a quote.
    pub fn of(quote: &Quote) -> Page {
        let sheet = Sheet::of(quote);
        let title = if quote.title.is_empty() { "A piece to order".to_owned() } else { quote.title.clone() };
        let mut blocks = Vec::new();
        if !quote.rates.letterhead.is_empty() {
            blocks.push(Block::Letterhead(quote.rates.letterhead.clone()));
        }
        let kind = if quote.is_complete() { "Quote" } else { "Incomplete quote" };
        blocks.push(Block::Title { kind: kind.to_owned(), title: title.clone() });
        blocks.push(facts(quote));
        if !quote.is_complete() {
            let missing: u32 = quote.missing.iter().map(|missing| missing.copies).sum();
            let are = if missing == 1 { "is" } else { "are" };
            blocks.push(Block::Warning(format!(
                "This price is not for the whole piece: {} of {} {are} not covered yet. It is no offer.",
                missing,
                count(quote.pieces_required, "part"),
            )));
        }
        blocks.push(prices(quote, &sheet));
        blocks.extend(alternatives(quote));
        if !sheet.payments.is_empty() && quote.is_complete() {
            blocks.push(payments(quote, &sheet));
        }
        blocks.extend(quote.rates.terms.iter().cloned().map(Block::Term));
        if quote.is_complete() {
            blocks.push(Block::Signature(vec!["Ordered by".to_owned(), "Date".to_owned()]));
        }
        Page { title: format!("{kind}: {title}"), units: quote.units, blocks }
    }
}

fn facts(quote: &Quote) -> Block {
    let mut facts = Vec::new();
    if let Some(client) = &quote.occasion.client {
        facts.push(("For".to_owned(), client.clone()));
    }
    facts.push(("Date".to_owned(), quote.occasion.date.in_words()));
    if quote.is_complete() {
        facts.push(("Stands until".to_owned(), quote.valid_until.in_words()));
    }
    if !quote.woods.is_empty() {
        facts.push(("Made of".to_owned(), quote.woods.join(", ")));
    }
    if quote.rates.finish.coats > 0 {
        facts.push(("Finish".to_owned(), count(quote.rates.finish.coats, "coat")));
    }
    Block::Facts(facts)
}

fn prices(quote: &Quote, sheet: &Sheet) -> Block {
    let money = |printed: &Money| amount(&quote.rates.currency, printed);
    let lines = sheet.client.iter().map(|(heading, printed)| (said(*heading, quote), money(printed)));
    let taxed = quote.price.tax != Money::zero();
    let mut sums = Vec::new();
    if taxed {
        let tax = &quote.rates.tax;
        sums.push(("Before tax".to_owned(), money(&quote.price.price)));
        sums.push((format!("{}, {}", tax.name, percent(&tax.share)), money(&quote.price.tax)));
    }
    sums.push(("Total".to_owned(), money(&quote.price.total)));
    Block::Prices { heading: "Price".to_owned(), lines: lines.collect(), sums }
}

/// What a heading is called on the page.
pub(super) fn said(heading: Heading, quote: &Quote) -> String {
    match heading {
        Heading::Design => "Design and drawings",
        Heading::Making if quote.rates.finish.coats > 0 => "The piece, made and finished",
        Heading::Making => "The piece, made",
        Heading::Hardware => "Hardware",
        Heading::Delivery => "Delivery",
        Heading::Fitting => "Fitting in place",
    }
    .to_owned()
}

fn payments(quote: &Quote, sheet: &Sheet) -> Block {
    let due = sheet.payments.iter();
    let lines = due.map(|(payment, due)| {
        (format!("{} {}", percent(&payment.share), payment.when), amount(&quote.rates.currency, due))
    });
    Block::Prices { heading: "Payment".to_owned(), lines: lines.collect(), sums: Vec::new() }
}

/// What else can be had; a piece that the stock at hand does not hold is no offer.
fn alternatives(quote: &Quote) -> Option<Block> {
    let whole = quote.alternatives.iter().filter(|other| other.missing == 0);
    let line = |other: &Alternative| (other.words.clone(), amount(&quote.rates.currency, &other.total));
    let lines: Vec<(String, String)> = whole.map(line).collect();
    let heading = "The same piece, in total".to_owned();
    (!lines.is_empty()).then_some(Block::Prices { heading, lines, sums: Vec::new() })
}
