//! `tally`: what a pile holds and what it cost, by wood and thickness.
//!
//! Board feet as billed stand beside the measured volume, so that a maker sees what the yard's rounding did.

use num_traits::ToPrimitive;
use serde::Serialize;

use crate::cli::args::Format;
use crate::cli::failure::{Ending, Failure};
use crate::cli::settings::TallySettings;
use crate::cli::{input, output};
use crate::measure::{Length, Money, Rational, Units};
use crate::pile::value::{Billing, billing};
use crate::pile::{Board, Pile, same_words};

pub fn run(settings: &TallySettings) -> Result<Ending, Failure> {
    let tally = Tally::of(&input::read_pile(&settings.stock)?);
    output::print(&match settings.format {
        Format::Text => tally.as_text(),
        Format::Json => tally.as_json(),
    })?;
    Ok(Ending::Done)
}

/// Boards of one species and billing thickness.
struct Lumber {
    species: String,
    /// Billing thickness, inches.
    thickness: Rational,
    pieces: u32,
    board_feet: Rational,
    /// Width by length by measured thickness, board feet.
    volume: Rational,
    cost: Money,
}

/// Sheets or sticks of one line of the file.
struct Ware {
    id: String,
    material: String,
    pieces: u32,
    size: String,
    cost: Money,
}

/// A pile, added up.
struct Tally {
    lumber: Vec<Lumber>,
    sheets: Vec<Ware>,
    sticks: Vec<Ware>,
    cost: Money,
}

impl Tally {
    /// Groups stand in the order in which the file first names them.
    fn of(pile: &Pile) -> Tally {
        let mut lumber: Vec<Lumber> = Vec::new();
        for (board, bill) in pile.boards.iter().zip(billing(pile)) {
            add(&mut lumber, board, &bill);
        }
        let all = |quantity: u32, cost: &Money| cost.times(&Rational::from_integer(quantity.into()));
        let size = |sides: &[Length]| {
            let step = Length::from_inch_fraction(1, 64);
            sides.iter().map(|side| side.show(pile.units, step)).collect::<Vec<_>>().join(" x ")
        };
        let ware = |id: &str, material: &str, pieces: u32, sides: &[Length], each: &Money| Ware {
            id: id.to_owned(),
            material: material.to_owned(),
            pieces,
            size: size(sides),
            cost: all(pieces, each),
        };
        let sheets: Vec<Ware> = pile
            .sheets
            .iter()
            .map(|s| ware(&s.id, &s.material, s.quantity, &[s.thickness, s.width, s.length], &s.cost))
            .collect();
        let sticks: Vec<Ware> = pile
            .sticks
            .iter()
            .map(|s| ware(&s.id, &s.material, s.quantity, &[s.thickness, s.width, s.length], &s.cost))
            .collect();
        let wares = sheets.iter().chain(&sticks).map(|ware| ware.cost.clone());
        let cost = lumber.iter().map(|lot| lot.cost.clone()).chain(wares).sum();
        Tally { lumber, sheets, sticks, cost }
    }

    fn pieces(&self) -> u32 {
        self.lumber.iter().map(|lot| lot.pieces).sum()
    }

    fn board_feet(&self) -> Rational {
        self.lumber.iter().map(|lot| &lot.board_feet).sum()
    }

    fn volume(&self) -> Rational {
        self.lumber.iter().map(|lot| &lot.volume).sum()
    }

    fn as_text(&self) -> String {
        let mut rows = vec![["wood", "thickness", "pieces", "bf billed", "bf measured", "cost"].map(str::to_owned)];
        rows.extend(self.lumber.iter().map(|lot| {
            let (billed, measured) = (feet(&lot.board_feet), feet(&lot.volume));
            [
                lot.species.clone(),
                quarters(&lot.thickness),
                lot.pieces.to_string(),
                billed,
                measured,
                lot.cost.to_string(),
            ]
        }));
        for ware in self.sheets.iter().chain(&self.sticks) {
            let what = format!("{} ({})", ware.material, ware.id);
            let none = String::new;
            rows.push([what, ware.size.clone(), ware.pieces.to_string(), none(), none(), ware.cost.to_string()]);
        }
        let pieces = self.sheets.iter().chain(&self.sticks).fold(self.pieces(), |sum, ware| sum + ware.pieces);
        let (billed, measured) = (feet(&self.board_feet()), feet(&self.volume()));
        rows.push(["total".to_owned(), String::new(), pieces.to_string(), billed, measured, self.cost.to_string()]);
        table(&rows)
    }

    fn as_json(&self) -> String {
        let lumber = self.lumber.iter().map(|lot| LumberRow {
            species: &lot.species,
            thickness: quarters(&lot.thickness),
            pieces: lot.pieces,
            board_feet: number(&lot.board_feet),
            measured_board_feet: number(&lot.volume),
            cost: lot.cost.to_f64(),
        });
        let file = TallyFile {
            boards: lumber.collect(),
            sheets: self.sheets.iter().map(WareRow::of).collect(),
            sticks: self.sticks.iter().map(WareRow::of).collect(),
            total: TotalRow {
                boards: self.pieces(),
                board_feet: number(&self.board_feet()),
                measured_board_feet: number(&self.volume()),
                cost: self.cost.to_f64(),
            },
        };
        let mut text = serde_json::to_string_pretty(&file).expect("records of texts and finite numbers");
        text.push('\n');
        text
    }
}

/// Adds a line of equal boards to the group it belongs to.
fn add(lumber: &mut Vec<Lumber>, board: &Board, bill: &Billing) {
    let at = lumber.iter().position(|lot| same_words(&lot.species, &board.species) && lot.thickness == bill.thickness);
    let at = at.unwrap_or_else(|| {
        lumber.push(Lumber {
            species: board.species.clone(),
            thickness: bill.thickness.clone(),
            pieces: 0,
            board_feet: Rational::default(),
            volume: Rational::default(),
            cost: Money::zero(),
        });
        lumber.len() - 1
    });
    let lot = &mut lumber[at];
    lot.pieces += bill.quantity;
    lot.board_feet += bill.board_feet();
    lot.volume += &bill.volume * Rational::from_integer(bill.quantity.into());
    lot.cost += bill.cost();
}

#[derive(Serialize)]
struct TallyFile<'a> {
    boards: Vec<LumberRow<'a>>,
    sheets: Vec<WareRow<'a>>,
    sticks: Vec<WareRow<'a>>,
    total: TotalRow,
}

#[derive(Serialize)]
struct LumberRow<'a> {
    species: &'a str,
    thickness: String,
    pieces: u32,
    board_feet: f64,
    measured_board_feet: f64,
    cost: f64,
}

#[derive(Serialize)]
struct WareRow<'a> {
    id: &'a str,
    material: &'a str,
    size: &'a str,
    pieces: u32,
    cost: f64,
}

impl<'a> WareRow<'a> {
    fn of(ware: &'a Ware) -> WareRow<'a> {
        WareRow {
            id: &ware.id,
            material: &ware.material,
            size: &ware.size,
            pieces: ware.pieces,
            cost: ware.cost.to_f64(),
        }
    }
}

#[derive(Serialize)]
struct TotalRow {
    boards: u32,
    board_feet: f64,
    measured_board_feet: f64,
    cost: f64,
}

/// A billing thickness in the trade's quarters, `5/4`; in eighths or sixteenths where it is no whole number of those.
fn quarters(inches: &Rational) -> String {
    let parts = [4_i64, 8, 16, 32, 64].map(|parts| (inches * Rational::from_integer(parts.into()), parts));
    match parts.iter().find(|(count, _)| count.is_integer()) {
        Some((count, parts)) => format!("{}/{parts}", count.to_integer()),
        None => Length::from_rational(inches, Units::Inches)
            .map_or_else(|| inches.to_string(), |length| length.inches_text(Length::from_inch_fraction(1, 64))),
    }
}

/// Board feet to the tenth, rounded once from the exact figure.
fn feet(exact: &Rational) -> String {
    let tenths = (exact * Rational::from_integer(10.into())).round().to_integer();
    format!("{}.{}", &tenths / 10, &tenths % 10)
}

/// Board feet to the thousandth, for a JSON number.
fn number(exact: &Rational) -> f64 {
    let thousandths = (exact * Rational::from_integer(1000.into())).round().to_integer();
    thousandths.to_f64().expect("a pile has a finite volume") / 1000.0
}

/// Columns as wide as they need to be: the first two to the left, figures to the right.
fn table<const N: usize>(rows: &[[String; N]]) -> String {
    let width = |column: usize| rows.iter().map(|row| row[column].chars().count()).max().unwrap_or(0);
    let widths: [usize; N] = std::array::from_fn(width);
    let mut text = String::new();
    for row in rows {
        let cells = row.iter().zip(widths).enumerate().map(|(column, (cell, width))| match column {
            0 | 1 => format!("{cell:<width$}"),
            _ => format!("{cell:>width$}"),
        });
        text.push_str(cells.collect::<Vec<_>>().join("  ").trim_end());
        text.push('\n');
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ratio(numerator: i64, denominator: i64) -> Rational {
        Rational::new(numerator.into(), denominator.into())
    }

    #[test]
    fn a_billing_thickness_reads_in_quarters_where_it_can() {
        assert_eq!(quarters(&ratio(1, 1)), "4/4");
        assert_eq!(quarters(&ratio(5, 4)), "5/4");
        assert_eq!(quarters(&ratio(2, 1)), "8/4");
        assert_eq!(quarters(&ratio(11, 8)), "11/8");
    }

    #[test]
    fn board_feet_are_rounded_once() {
        assert_eq!(feet(&ratio(25, 6)), "4.2");
        assert_eq!(feet(&ratio(199, 20)), "10.0");
        assert_eq!(feet(&ratio(0, 1)), "0.0");
    }

    #[test]
    fn columns_stand_under_each_other() {
        let rows = [["wood", "bf"].map(str::to_owned), ["ash", "4.2"].map(str::to_owned)];
        assert_eq!(table(&rows), "wood  bf\nash   4.2\n");
    }
}
