//! The maker's own sheet: every cost, how the price is built, and which part caused which stock, in plain text.
//!
//! Lines end in a line feed; nothing depends on a terminal. Nothing of this goes to a client; their page is `page`'s.

use std::fmt::Write;

use num_traits::One;

use super::cost::LineKind;
use super::sheet::Sheet;
use super::words::{amount, count, decimal, percent};
use super::{Line, Quote};
use crate::job::rates::Rates;
use crate::measure::{Money, Rational};

/// Adds a line; writing to a string cannot fail.
macro_rules! line {
    ($text:expr, $($arg:tt)*) => {
        writeln!($text, $($arg)*).expect("a string takes any text")
    };
}

/// The maker's own sheet.
pub fn summary(quote: &Quote) -> String {
    let sheet = Sheet::of(quote);
    let sections = [
        head(quote),
        costs("Materials", &sheet.materials, &sheet.materials_sum),
        costs("Labour", &sheet.labour, &sheet.labour_sum),
        price(quote, &sheet),
        stock(quote, &sheet),
        shares(quote, &sheet),
        payments(&sheet),
        alternatives(quote),
        notes(quote),
    ];
    let written: Vec<String> = sections.into_iter().filter(|section| !section.is_empty()).collect();
    written.join("\n")
}

fn head(quote: &Quote) -> String {
    let mut text = String::new();
    let title = if quote.title.is_empty() { "Quote" } else { &quote.title };
    let client = quote.occasion.client.as_ref().map(|client| format!(" for {client}")).unwrap_or_default();
    let total = amount(&quote.rates.currency, &quote.price.total);
    line!(text, "{title}{client}: {total}, of {}; it stands until {}.", quote.occasion.date, quote.valid_until);
    let hours = quote.hours();
    line!(text, "{} pieces, {} hours of work.", quote.pieces_placed, decimal(&hours));
    if !quote.is_complete() {
        let missing: u32 = quote.missing.iter().map(|missing| missing.copies).sum();
        line!(
            text,
            "\nINCOMPLETE: {} of {} are not in the plan, and this price does not cover them:",
            missing,
            count(quote.pieces_required, "piece")
        );
        for missing in &quote.missing {
            line!(text, "  {} {}: {}", missing.copies, missing.part, missing.why);
        }
    }
    text
}

fn costs(title: &str, lines: &[(&Line, Money)], sum: &Money) -> String {
    if lines.is_empty() {
        return String::new();
    }
    let labour = lines[0].0.kind == LineKind::Labour;
    let row = |(line, printed): &(&Line, Money)| {
        let quantity = if line.unit.is_empty() { String::new() } else { format!("{} {}", quantity(line), unit(line)) };
        let (hours, each) = match (labour, line.unit) {
            (true, _) => (format!("{} h", decimal(&line.hours)), price_each(&line.each)),
            (false, "" | "of it") => (String::new(), String::new()),
            (false, _) => (String::new(), price_each(&line.each)),
        };
        vec![line.what.clone(), quantity, hours, each, printed.to_string()]
    };
    let mut rows: Vec<Vec<String>> = lines.iter().map(row).collect();
    rows.push(sum_row(&title.to_lowercase(), sum, 5));
    format!("{title}\n{}", table(&rows))
}

fn quantity(line: &Line) -> String {
    if line.unit == "of it" { percent(&line.qty) } else { decimal(&line.qty) }
}

/// What is counted, in the singular where there is one of it.
fn unit(line: &Line) -> &str {
    let one = line.qty.is_one();
    match line.unit {
        "assemblies" if one => "assembly",
        many if one => many.strip_suffix('s').unwrap_or(many),
        many => many,
    }
}

/// Money for one, to the cent or as fine as it was stated.
fn price_each(each: &Money) -> String {
    let cents = Money::from_rational(each.as_rational() * Rational::from_integer(100.into()));
    if cents.as_rational().is_integer() { format!("at {each}") } else { format!("at ~{each}") }
}

fn sum_row(words: &str, sum: &Money, columns: usize) -> Vec<String> {
    let mut row = vec![String::new(); columns];
    row[0] = words.to_owned();
    row[columns - 1] = sum.to_string();
    row
}

fn price(quote: &Quote, sheet: &Sheet) -> String {
    let mut rows: Vec<Vec<String>> =
        sheet.steps.iter().map(|(words, amount)| vec![words.clone(), amount.to_string()]).collect();
    rows.push(sum_row("price", &quote.price.price, 2));
    if quote.price.tax != Money::zero() {
        let tax = &quote.rates.tax;
        rows.push(sum_row(&format!("{}, {}", tax.name, percent(&tax.share)), &quote.price.tax, 2));
        rows.push(sum_row("total", &quote.price.total, 2));
    }
    format!("Price\n{}", table(&rows))
}

fn stock(quote: &Quote, sheet: &Sheet) -> String {
    let row = |(piece, charged): (&super::StockShare, &Money)| {
        let copy = if piece.copy > 1 { format!(", piece {}", piece.copy) } else { String::new() };
        let used = format!("{} in blanks", percent(&piece.used));
        let credit = if piece.credit == Money::zero() { String::new() } else { format!("less {}", piece.credit) };
        vec![format!("{}{copy}", piece.id), piece.wood.clone(), used, credit, charged.to_string()]
    };
    let rows: Vec<Vec<String>> = quote.stock.iter().zip(&sheet.stock).map(row).collect();
    if rows.is_empty() { String::new() } else { format!("Stock charged\n{}", table(&rows)) }
}

fn shares(quote: &Quote, sheet: &Sheet) -> String {
    let mut rows = Vec::new();
    for (group, printed) in quote.groups.iter().zip(&sheet.groups) {
        let name = group.group.as_deref().unwrap_or("of no sub-assembly");
        rows.push(vec![name.to_owned(), count(group.pieces, "piece"), printed.to_string()]);
        for (part, printed) in quote.parts.iter().zip(&sheet.parts) {
            let same = match (&part.group, &group.group) {
                (Some(a), Some(b)) => crate::pile::same_words(a, b),
                (a, b) => a.is_none() && b.is_none(),
            };
            if same {
                rows.push(vec![format!("  {}", part.part), part.made.to_string(), printed.to_string()]);
            }
        }
    }
    if rows.is_empty() {
        return String::new();
    }
    rows.push(sum_row("stock", &sheet.stock_sum, 3));
    format!("Stock that each part caused, waste included\n{}", table(&rows))
}

fn payments(sheet: &Sheet) -> String {
    let row = |(payment, due): &(&crate::job::rates::Payment, Money)| {
        vec![payment.when.clone(), percent(&payment.share), due.to_string()]
    };
    let rows: Vec<Vec<String>> = sheet.payments.iter().map(row).collect();
    if rows.is_empty() { String::new() } else { format!("Payments\n{}", table(&rows)) }
}

fn alternatives(quote: &Quote) -> String {
    if quote.alternatives.is_empty() {
        return String::new();
    }
    let head = ["", "stock", "hours", "price", "total", "difference"].map(str::to_owned);
    let own = [
        "as asked".to_owned(),
        quote.stock_charged().to_string(),
        decimal(&quote.hours()),
        quote.price.price.to_string(),
        quote.price.total.to_string(),
        String::new(),
    ];
    let mut rows = vec![head.to_vec(), own.to_vec()];
    for other in &quote.alternatives {
        let difference = other.total.clone() - quote.price.total.clone();
        let difference = match (other.missing, quote.is_complete()) {
            (0, true) if difference.is_negative() => difference.to_string(),
            (0, true) => format!("+{difference}"),
            (0, false) => "the price above is incomplete".to_owned(),
            (missing, _) => format!("INCOMPLETE, {} missing", count(missing, "piece")),
        };
        rows.push(vec![
            other.words.clone(),
            other.stock.to_string(),
            decimal(&other.hours),
            other.price.to_string(),
            other.total.to_string(),
            difference,
        ]);
    }
    format!("The same piece\n{}", table(&rows))
}

/// What the maker should look at before this goes out.
fn notes(quote: &Quote) -> String {
    let unset = placeholders(&quote.rates);
    if unset.is_empty() {
        return String::new();
    }
    format!(
        "Mind\n  - Equal to the program's placeholders: {}. If these are not your own figures, put yours under `rates` in the \
         shop file or the job's `shop`.\n",
        unset.join(", ")
    )
}

/// The rates that matter most and stand at the defaults.
pub(super) fn placeholders(rates: &Rates) -> Vec<&'static str> {
    let plain = Rates::defaults();
    let hours =
        |rates: &Rates| crate::job::rates::Operation::ALL.map(|operation| rates.labour.of(operation).hours.clone());
    [
        ("the hourly rate", rates.labour.wage == plain.labour.wage),
        ("the hours by operation", hours(rates) == hours(&plain)),
        ("finish", rates.finish == plain.finish),
        ("overhead", rates.overhead == plain.overhead),
        ("profit", rates.profit == plain.profit),
    ]
    .into_iter()
    .filter_map(|(name, unset)| unset.then_some(name))
    .collect()
}

/// Columns under each other, the first to the left, the others to the right.
fn table(rows: &[Vec<String>]) -> String {
    let columns = rows.iter().map(Vec::len).max().unwrap_or_default();
    let width = |column: usize| rows.iter().map(|row| row[column].chars().count()).max().unwrap_or_default();
    let widths: Vec<usize> = (0..columns).map(width).collect();
    let mut text = String::new();
    for row in rows {
        let mut printed = String::from(" ");
        for (column, (cell, width)) in row.iter().zip(&widths).enumerate() {
            let gap = " ".repeat(width - cell.chars().count());
            match (column, *width) {
                (_, 0) => {}
                (0, _) => write!(printed, " {cell}{gap}").expect("a string takes any text"),
                _ => write!(printed, "  {gap}{cell}").expect("a string takes any text"),
            }
        }
        line!(text, "{}", printed.trim_end());
    }
    text
}
