//! A quote as its file has it: `flitchwork.quote/1`, the maker's own figures with the client's beside them.
//!
//! Amounts are in whole cents and add up as they are printed; quantities and hours are numbers to four decimals at most.
//! The schema is made from the types that are written.

use num_traits::ToPrimitive;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::sheet::Sheet;
use super::{Line, Quote, page};
use crate::measure::{Money, Rational, Units};
use crate::plan::StockKind;

/// The only quote format this version writes.
pub const FORMAT: &str = "flitchwork.quote/1";

/// A quote.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct QuoteFile {
    /// Always `flitchwork.quote/1`.
    pub format: String,
    /// Units of the job; areas are square feet in inches, square metres in millimetres.
    pub units: Units,
    pub title: String,
    /// The client.
    #[serde(rename = "for", default, skip_serializing_if = "Option::is_none")]
    pub client: Option<String>,
    /// The day it is written (ISO 8601).
    pub date: String,
    /// The last day it stands.
    pub valid_until: String,
    /// Sign or code of every amount.
    pub currency: String,
    /// `incomplete` when the plan does not make everything: the price does not cover what is missing.
    pub status: QuoteStatus,
    pub pieces_required: u32,
    pub pieces_placed: u32,
    pub missing: Vec<MissingRow>,
    /// What is bought; adds up to the step of the same name.
    pub materials: Vec<CostRow>,
    /// The work; adds up to the step of the same name.
    pub labour: Vec<CostRow>,
    /// Hours in all.
    pub hours: f64,
    /// What the price before tax is built of; adds up to it.
    pub steps: Vec<AmountRow>,
    /// Before tax.
    pub price: f64,
    pub tax: f64,
    pub total: f64,
    /// When what is due; adds up to the total.
    pub payments: Vec<AmountRow>,
    /// Every piece of stock, in the order of the plan.
    pub stock: Vec<StockRow>,
    /// The stock each part caused, waste included; adds up to the stock charged.
    pub parts: Vec<PartRow>,
    /// The same by sub-assembly.
    pub groups: Vec<GroupRow>,
    /// The same piece of other wood.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub alternatives: Vec<AlternativeRow>,
    /// Rates that are equal to the program's placeholders.
    pub placeholders: Vec<String>,
    /// What a client is shown.
    pub client_page: ClientPage,
}

/// Whether the price covers everything.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum QuoteStatus {
    Complete,
    Incomplete,
}

/// What the price does not cover.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MissingRow {
    pub part: String,
    pub copies: u32,
    /// Why.
    pub why: String,
}

/// One direct cost.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CostRow {
    pub what: String,
    pub quantity: f64,
    /// What the quantity counts; empty for a sum.
    pub unit: String,
    /// Hours of labour.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hours: Option<f64>,
    /// Money for one, or for an hour.
    pub rate: f64,
    pub amount: f64,
}

/// Something with its amount.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AmountRow {
    pub what: String,
    pub amount: f64,
}

/// One piece of stock.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StockRow {
    /// Id in the pile.
    pub id: String,
    /// Which of its equal pieces, from 1.
    pub copy: u32,
    pub kind: StockKind,
    /// Species or material.
    pub wood: String,
    /// What it costs.
    pub cost: f64,
    /// Credit of kept offcuts taken off.
    pub credit: f64,
    /// Cost less credit.
    pub charged: f64,
    /// Area of its blanks over its whole area.
    pub used: f64,
}

/// The stock one part caused.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PartRow {
    pub part: String,
    /// Sub-assembly.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub group: Option<String>,
    /// Copies made.
    pub made: u32,
    /// All copies.
    pub material: f64,
}

/// The stock one sub-assembly caused.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct GroupRow {
    /// Left out for parts of no sub-assembly.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub group: Option<String>,
    /// Finished pieces.
    pub pieces: u32,
    pub material: f64,
}

/// The same piece of other wood.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AlternativeRow {
    /// What is exchanged, in words.
    pub instead: String,
    /// Finished pieces that the pile does not hold then; the price does not cover them.
    pub missing: u32,
    /// What the stock is charged at.
    pub stock: f64,
    pub hours: f64,
    /// Before tax.
    pub price: f64,
    pub tax: f64,
    pub total: f64,
}

/// What a client is shown: no hours, rates or costs.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ClientPage {
    /// Adds up to the price before tax.
    pub lines: Vec<AmountRow>,
    pub price: f64,
    pub tax: f64,
    pub total: f64,
}

/// The quote as JSON, two spaces a level, with a line feed at the end. Equal quotes give equal bytes.
pub fn write_json(quote: &Quote) -> String {
    let mut text = serde_json::to_string_pretty(&to_file(quote)).expect("records of texts and finite numbers");
    text.push('\n');
    text
}

/// JSON Schema of quote files, made from the types.
pub fn schema() -> serde_json::Value {
    let mut schema = schemars::schema_for!(QuoteFile);
    schema.insert("title".to_owned(), "A flitchwork quote".into());
    schema.to_value()
}

/// The quote as its file has it.
pub fn to_file(quote: &Quote) -> QuoteFile {
    let sheet = Sheet::of(quote);
    let amounts = |rows: &[(String, Money)]| {
        rows.iter().map(|(what, amount)| AmountRow { what: what.clone(), amount: amount.to_f64() }).collect()
    };
    let client: Vec<(String, Money)> =
        sheet.client.iter().map(|(heading, printed)| (page::said(*heading, quote), printed.clone())).collect();
    let payments: Vec<(String, Money)> =
        sheet.payments.iter().map(|(payment, due)| (payment.when.clone(), due.clone())).collect();
    let (price, tax, total) = (quote.price.price.to_f64(), quote.price.tax.to_f64(), quote.price.total.to_f64());
    QuoteFile {
        format: FORMAT.to_owned(),
        units: quote.units,
        title: quote.title.clone(),
        client: quote.occasion.client.clone(),
        date: quote.occasion.date.to_string(),
        valid_until: quote.valid_until.to_string(),
        currency: quote.rates.currency.clone(),
        status: if quote.is_complete() { QuoteStatus::Complete } else { QuoteStatus::Incomplete },
        pieces_required: quote.pieces_required,
        pieces_placed: quote.pieces_placed,
        missing: quote
            .missing
            .iter()
            .map(|m| MissingRow { part: m.part.clone(), copies: m.copies, why: m.why.clone() })
            .collect(),
        materials: costs(&sheet.materials, false),
        labour: costs(&sheet.labour, true),
        hours: number(&quote.hours()),
        steps: amounts(&sheet.steps),
        price,
        tax,
        total,
        payments: amounts(&payments),
        stock: stock(quote, &sheet),
        parts: quote
            .parts
            .iter()
            .zip(&sheet.parts)
            .map(|(p, printed)| PartRow {
                part: p.part.clone(),
                group: p.group.clone(),
                made: p.made,
                material: printed.to_f64(),
            })
            .collect(),
        groups: quote
            .groups
            .iter()
            .zip(&sheet.groups)
            .map(|(g, printed)| GroupRow { group: g.group.clone(), pieces: g.pieces, material: printed.to_f64() })
            .collect(),
        alternatives: alternatives(quote),
        placeholders: super::text::placeholders(&quote.rates).into_iter().map(str::to_owned).collect(),
        client_page: ClientPage { lines: amounts(&client), price, tax, total },
    }
}

fn costs(lines: &[(&Line, Money)], labour: bool) -> Vec<CostRow> {
    let row = |(line, printed): &(&Line, Money)| CostRow {
        what: line.what.clone(),
        quantity: number(&line.qty),
        unit: line.unit.to_owned(),
        hours: labour.then(|| number(&line.hours)),
        rate: number(line.each.as_rational()),
        amount: printed.to_f64(),
    };
    lines.iter().map(row).collect()
}

fn stock(quote: &Quote, sheet: &Sheet) -> Vec<StockRow> {
    let row = |(piece, charged): (&super::StockShare, &Money)| StockRow {
        id: piece.id.clone(),
        copy: piece.copy,
        kind: piece.kind,
        wood: piece.wood.clone(),
        // Credit is in whole cents, so this adds up as it is printed.
        cost: (charged.clone() + piece.credit.clone()).to_f64(),
        credit: piece.credit.to_f64(),
        charged: charged.to_f64(),
        used: number(&piece.used),
    };
    quote.stock.iter().zip(&sheet.stock).map(row).collect()
}

fn alternatives(quote: &Quote) -> Vec<AlternativeRow> {
    let row = |other: &super::Alternative| AlternativeRow {
        instead: other.words.clone(),
        missing: other.missing,
        stock: other.stock.to_f64(),
        hours: number(&other.hours),
        price: other.price.to_f64(),
        tax: other.tax.to_f64(),
        total: other.total.to_f64(),
    };
    quote.alternatives.iter().map(row).collect()
}

/// An exact figure to four decimals, as a JSON number.
fn number(value: &Rational) -> f64 {
    let scale = Rational::from_integer(10_000.into());
    (value * scale).round().to_f64().unwrap_or_default() / 10_000.0
}
