//! A quote for a spreadsheet: a row a figure, the sections of the maker's own sheet one below the other.

use super::Quote;
use super::sheet::Sheet;
use super::words::decimal;
use crate::measure::{Money, Rational};
use crate::pile::tally_sheet::inert;

/// The quote as CSV (RFC 4180): section, what, quantity, unit, hours, rate, amount. A cell that a spreadsheet would take
/// for a formula is written with an apostrophe before it.
pub fn as_csv(quote: &Quote) -> String {
    let sheet = Sheet::of(quote);
    let mut out = Rows(csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new()));
    out.row(["section", "what", "quantity", "unit", "hours", "rate", "amount"]);
    let status = if quote.is_complete() { "complete" } else { "incomplete" };
    out.row(["quote", &quote.title, "", "", "", "", ""]);
    out.row(["status", status, "", "", "", "", ""]);
    for missing in &quote.missing {
        out.row(["missing", &missing.part, &missing.copies.to_string(), "pieces", "", "", ""]);
    }
    out.row(["date", &quote.occasion.date.to_string(), "", "", "", "", ""]);
    out.row(["stands until", &quote.valid_until.to_string(), "", "", "", "", ""]);
    for (section, lines) in [("materials", &sheet.materials), ("labour", &sheet.labour)] {
        for (line, printed) in lines {
            let hours = if line.hours == Rational::default() { String::new() } else { decimal(&line.hours) };
            let (quantity, each) = (decimal(&line.qty), line.each.to_string());
            out.row([section, &line.what, &quantity, line.unit, &hours, &each, &printed.to_string()]);
        }
    }
    for (words, printed) in &sheet.steps {
        out.amount("price", words, printed);
    }
    out.amount("price", "price before tax", &quote.price.price);
    out.amount("price", &quote.rates.tax.name, &quote.price.tax);
    out.amount("price", "total", &quote.price.total);
    for (part, printed) in quote.parts.iter().zip(&sheet.parts) {
        out.row(["stock by part", &part.part, &part.made.to_string(), "pieces", "", "", &printed.to_string()]);
    }
    for (group, printed) in quote.groups.iter().zip(&sheet.groups) {
        let name = group.group.as_deref().unwrap_or_default();
        out.row(["stock by sub-assembly", name, &group.pieces.to_string(), "pieces", "", "", &printed.to_string()]);
    }
    for (payment, due) in &sheet.payments {
        out.amount("payments", &payment.when, due);
    }
    for other in &quote.alternatives {
        let section = if other.missing == 0 { "instead" } else { "instead, incomplete" };
        out.amount(section, &other.words, &other.total);
    }
    let bytes = out.0.into_inner().expect("memory takes every byte");
    String::from_utf8(bytes).expect("cells are text")
}

struct Rows(csv::Writer<Vec<u8>>);

impl Rows {
    fn row(&mut self, cells: [&str; 7]) {
        self.0.write_record(cells.map(inert)).expect("rows of one length go into memory");
    }

    fn amount(&mut self, section: &str, what: &str, amount: &Money) {
        self.row([section, what, "", "", "", "", &amount.to_string()]);
    }
}
