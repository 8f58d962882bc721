//! A pile, added up: what it holds and what it cost, by wood and thickness.
//!
//! Board feet as billed stand beside the measured volume, so that a maker sees what the yard's rounding did. Figures are
//! exact until they are printed; what one board is billed at is in `value`.

use num_traits::ToPrimitive;
use schemars::JsonSchema;
use serde::Serialize;

use super::value::{Billing, billing};
use super::{Board, Pile, same_words};
use crate::measure::{Length, Money, Rational, Units};

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
pub struct TallySheet {
    lumber: Vec<Lumber>,
    sheets: Vec<Ware>,
    sticks: Vec<Ware>,
    cost: Money,
}

impl TallySheet {
    /// The tally of a pile. Groups stand in the order in which the file first names them.
    pub fn of(pile: &Pile) -> TallySheet {
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
        TallySheet { lumber, sheets, sticks, cost }
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

    /// A table to read.
    pub fn as_text(&self) -> String {
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

    /// The tally as JSON, two spaces a level, with a line feed at the end.
    pub fn as_json(&self) -> String {
        let mut text = serde_json::to_string_pretty(&self.figures()).expect("records of texts and finite numbers");
        text.push('\n');
        text
    }

    /// The tally as numbers, for a program.
    pub fn figures(&self) -> TallyFigures {
        let lumber = self.lumber.iter().map(|lot| LumberRow {
            species: lot.species.clone(),
            thickness: quarters(&lot.thickness),
            pieces: lot.pieces,
            board_feet: number(&lot.board_feet),
            measured_board_feet: number(&lot.volume),
            cost: lot.cost.to_f64(),
        });
        TallyFigures {
            boards: lumber.collect(),
            sheets: self.sheets.iter().map(WareRow::of).collect(),
            sticks: self.sticks.iter().map(WareRow::of).collect(),
            total: TotalRow {
                boards: self.pieces(),
                board_feet: number(&self.board_feet()),
                measured_board_feet: number(&self.volume()),
                cost: self.cost.to_f64(),
            },
        }
    }

    /// The tally for a spreadsheet: a row a wood or ware, without the total. A cell that a spreadsheet would take for a
    /// formula is written with an apostrophe before it.
    pub fn as_csv(&self) -> String {
        let mut out = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
        let mut row = |cells: [&str; 6]| {
            out.write_record(cells.map(inert)).expect("rows of one length go into memory");
        };
        row(["wood", "thickness", "pieces", "board_feet", "measured_board_feet", "cost"]);
        for lot in &self.lumber {
            let (pieces, cost) = (lot.pieces.to_string(), lot.cost.to_string());
            let (billed, measured) = (feet(&lot.board_feet), feet(&lot.volume));
            row([&lot.species, &quarters(&lot.thickness), &pieces, &billed, &measured, &cost]);
        }
        for ware in self.sheets.iter().chain(&self.sticks) {
            let wood = format!("{} ({})", ware.material, ware.id);
            row([&wood, &ware.size, &ware.pieces.to_string(), "", "", &ware.cost.to_string()]);
        }
        let bytes = out.into_inner().expect("memory takes every byte");
        String::from_utf8(bytes).expect("cells are text")
    }
}

/// A cell that no spreadsheet takes for a formula (OWASP, "CSV injection").
pub(crate) fn inert(cell: &str) -> String {
    let risky = cell.starts_with(['=', '+', '-', '@', '\t', '\r', '\n']) && cell.parse::<f64>().is_err();
    if risky { format!("'{cell}") } else { cell.to_owned() }
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

/// A tally as its JSON has it; money in the shop's currency.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct TallyFigures {
    /// Boards by species and billing thickness, in the order of the pile.
    pub boards: Vec<LumberRow>,
    pub sheets: Vec<WareRow>,
    pub sticks: Vec<WareRow>,
    pub total: TotalRow,
}

/// Boards of one species and billing thickness.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct LumberRow {
    pub species: String,
    /// Billing thickness in quarters, such as `5/4`.
    pub thickness: String,
    pub pieces: u32,
    /// As billed.
    pub board_feet: f64,
    /// Width by length by measured thickness.
    pub measured_board_feet: f64,
    pub cost: f64,
}

/// Sheets or sticks of one line of the pile.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct WareRow {
    pub id: String,
    pub material: String,
    /// Thickness by width by length, in the units of the pile.
    pub size: String,
    pub pieces: u32,
    pub cost: f64,
}

impl WareRow {
    fn of(ware: &Ware) -> WareRow {
        WareRow {
            id: ware.id.clone(),
            material: ware.material.clone(),
            size: ware.size.clone(),
            pieces: ware.pieces,
            cost: ware.cost.to_f64(),
        }
    }
}

/// The whole pile; `boards` counts boards, `cost` counts everything.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct TotalRow {
    pub boards: u32,
    pub board_feet: f64,
    pub measured_board_feet: f64,
    pub cost: f64,
}

/// A billing thickness in the trade's quarters, `5/4`; in eighths or sixteenths where it is no whole number of those.
pub(crate) fn quarters(inches: &Rational) -> String {
    let parts = [4_i64, 8, 16, 32, 64].map(|parts| (inches * Rational::from_integer(parts.into()), parts));
    match parts.iter().find(|(count, _)| count.is_integer()) {
        Some((count, parts)) => format!("{}/{parts}", count.to_integer()),
        None => Length::from_rational(inches, Units::Inches)
            .map_or_else(|| inches.to_string(), |length| length.inches_text(Length::from_inch_fraction(1, 64))),
    }
}

/// Board feet to the tenth, rounded once from the exact figure.
pub(crate) fn feet(exact: &Rational) -> String {
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
    fn a_cell_that_looks_like_a_formula_is_defused_and_a_figure_is_left_alone() {
        assert_eq!(inert("=HYPERLINK(\"x\")"), "'=HYPERLINK(\"x\")");
        assert_eq!(["@ash", "-2", "+1.5", "ash"].map(inert), ["'@ash", "-2", "+1.5", "ash"]);
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
