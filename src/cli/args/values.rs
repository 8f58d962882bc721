//! The values that options take, and how they are read from words.
//!
//! No command and no option stands here.

use std::fmt::Display;
use std::str::FromStr;

use clap::ValueEnum;

use crate::measure::{Length, Money, Rational, Units, decimal_from_text, parse_quarters};
use crate::order;
use crate::trade::grades::Grade;

/// What a result looks like.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// For a person
    Text,
    /// For a program
    Json,
}

/// What a result with rows looks like.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum SheetFormat {
    /// For a person
    Text,
    /// For a program
    Json,
    /// For a spreadsheet
    Csv,
}

/// What a bare number is measured in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum CsvUnits {
    /// Inches
    In,
    /// Millimetres
    Mm,
}

impl From<CsvUnits> for Units {
    fn from(units: CsvUnits) -> Units {
        match units {
            CsvUnits::In => Units::Inches,
            CsvUnits::Mm => Units::Millimetres,
        }
    }
}

/// When progress is reported.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum ShowProgress {
    /// One line, kept up to date, when standard error is a terminal and the work takes long
    Auto,
    /// A line each time there is news
    Always,
    /// Never
    Never,
}

/// How much a service logs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum LogLevel {
    /// What an operator must look at
    Warnings,
    /// Every request and every plan
    Requests,
    /// Everything
    Details,
}

/// The kinds of files.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum FileKind {
    Pile,
    Job,
    Plan,
    Shop,
    Quote,
}

/// A share between 0 and 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Share(pub f64);

impl FromStr for Share {
    type Err = String;

    fn from_str(text: &str) -> Result<Share, String> {
        let cure = || format!("\"{text}\" is no share from 0 to 1; write 0.01 or 1%");
        let (number, scale) = match text.trim().strip_suffix('%') {
            Some(percent) => (percent.trim(), 100.0),
            None => (text.trim(), 1.0),
        };
        let share = number.parse::<f64>().map_err(|_| cure())? / scale;
        if (0.0..=1.0).contains(&share) { Ok(Share(share)) } else { Err(cure()) }
    }
}

/// A grade of the table, and its price.
#[derive(Clone, Debug, PartialEq)]
pub struct OfferedGrade {
    pub grade: Grade,
    pub price: Option<Money>,
}

impl FromStr for OfferedGrade {
    type Err = String;

    fn from_str(text: &str) -> Result<OfferedGrade, String> {
        let (name, price) = match text.split_once('=') {
            Some((name, price)) => (name, Some(money(price)?)),
            None => (text, None),
        };
        let grade = Grade::read(name).ok_or_else(|| {
            let known: Vec<&str> = Grade::ALL.iter().map(|grade| grade.name()).collect();
            format!("\"{name}\" is no grade of the table; the grades are {}", known.join(", "))
        })?;
        Ok(OfferedGrade { grade, price })
    }
}

/// An amount of money, not below zero.
pub fn money(text: &str) -> Result<Money, String> {
    match decimal_from_text(text.trim()) {
        Some(amount) if amount >= Rational::default() => Ok(Money::from_rational(amount)),
        _ => Err(format!("\"{text}\" is no amount of money; write a number such as 9.60")),
    }
}

/// A thickness in quarters of an inch.
pub fn quarters(text: &str) -> Result<(u16, u16), String> {
    parse_quarters(text).map_err(|error| error.to_string())
}

/// A size and a premium.
pub fn premium(text: &str) -> Result<(Length, Money), String> {
    let (size, extra) = text
        .split_once('=')
        .ok_or_else(|| format!("\"{text}\" is no premium; write a size and an amount: 10 in=1.20"))?;
    Ok((order::premium_from(size)?, money(extra)?))
}

/// A positive, finite number of seconds, at most a year.
pub fn seconds(text: &str) -> Result<f64, String> {
    const YEAR: f64 = 365.0 * 24.0 * 3600.0;
    match text.parse::<f64>() {
        Ok(number) if number > 0.0 && number <= YEAR => Ok(number),
        _ => Err(format!("\"{text}\" is no time; write a number of seconds above 0, such as 30 or 2.5")),
    }
}

/// A name on one line.
pub fn name(text: &str) -> Result<String, String> {
    let text = text.trim();
    let fits = !text.is_empty() && text.chars().count() <= 120 && !text.chars().any(char::is_control);
    if fits { Ok(text.to_owned()) } else { Err("write a name of up to 120 characters on one line".to_owned()) }
}

/// Whole numbers from `least` to `most`, or from `least` on, which the complaint names.
pub fn whole<T>(least: T, most: Option<T>) -> impl Fn(&str) -> Result<T, String> + Clone
where
    T: FromStr + PartialOrd + Display + Clone,
{
    move |text| {
        let serves = |number: &T| *number >= least && most.as_ref().is_none_or(|most| number <= most);
        text.trim().parse().ok().filter(serves).ok_or_else(|| {
            let beyond = most.as_ref().map_or_else(|| "or more".to_owned(), |most| format!("to {most}"));
            format!("\"{text}\" is no whole number that serves here; write {least} {beyond}, in digits")
        })
    }
}
