//! From a finished part to its blanks, from a board to its usable zones: turns a job and a pile into a nesting problem.
//!
//! Holds the milling model of the shop: allowances, section edges, flattening, faces, margins round defects, machine
//! limits. Nothing here searches. Every rule is a small function of its own file; the result keeps, beside the pure
//! problem, what each integer of it means in the shop, so that `plan` can bring the answer back.

pub mod blank;
mod board;
mod edges;
pub mod explain;
mod faces;
mod flat_stock;
mod flatten;

use num_traits::ToPrimitive;

use crate::job::{Job, Part, Wanted};
use crate::measure::{Length, Money, Rational, Units};
use crate::milling::blank::Piece;
use crate::nesting::{Credit, Item, Kind, Problem, Product, Stock};
use crate::pile::value::{self, Billing};
use crate::pile::{Board, Face, Pile, same_words};

/// A nesting problem and what its indices mean.
#[derive(Clone, Debug)]
pub struct Milled {
    /// The pure problem.
    pub problem: Problem,
    /// Parallel to `problem.items`.
    pub items: Vec<MilledItem>,
    /// Parallel to `problem.stock`.
    pub stock: Vec<MilledStock>,
}

/// What an item of the problem is in the shop.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MilledItem {
    /// Index of the part in the job.
    pub part: usize,
    /// Layers of one copy; 1 for a plain part.
    pub layers: u32,
    /// Thickness each piece is planed to (the sheet's or stick's own for those).
    pub thickness: Length,
}

/// What a class of stock is in the shop.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MilledStock {
    /// Where it lies in the pile.
    pub source: StockRef,
    /// Parallel to a board's `cuttings`, a sheet's or a stick's `pieces`.
    pub cuttings: Vec<MilledCutting>,
}

/// A piece of stock in the pile.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum StockRef {
    /// Index into `boards`.
    Board(usize),
    /// Index into `sheets`.
    Sheet(usize),
    /// Index into `sticks`.
    Stick(usize),
}

/// What a blank is in the shop.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MilledCutting {
    /// Items of its leaves from the top face down; one for a blank that is not resawn.
    pub leaves: Vec<usize>,
    /// Planed; false for surfaced stock used at its own thickness, sheets and sticks.
    pub planed: bool,
    /// The clear face, for a part that needs only one: the top when both would do.
    pub face_up: Face,
}

/// Turns a job and a pile into a nesting problem.
///
/// `layers[p]` is the number of layers that part `p` is built from, 1 for a plain part; it is not read for parts cut from
/// sheets or sticks. Pieces that a piece of stock cannot give are simply not among its cuttings; stock that can give
/// nothing is left out. Cost: boards x pieces x distinct blank widths.
pub fn mill(job: &Job, pile: &Pile, layers: &[u32]) -> Milled {
    let mut mill = Mill { job, pile, pieces: Vec::new(), items: Vec::new(), products: Vec::new() };
    for (p, part) in job.parts.iter().enumerate() {
        mill.add_part(p, part, layers[p]);
    }
    let (stock, milled_stock) = mill.stock();
    let items = mill.items.iter().zip(&mill.pieces);
    Milled {
        problem: Problem {
            items: items
                .map(|(item, piece)| Item {
                    demand: piece.per_copy * job.parts[item.part].qty,
                    per_copy: piece.per_copy,
                    excess: 0,
                    product: item.part,
                    length: piece.net_length.ticks(),
                    width: piece.net_width.ticks(),
                })
                .collect(),
            products: mill.products,
            stock,
        },
        items: mill.items,
        stock: milled_stock,
    }
}

struct Mill<'a> {
    job: &'a Job,
    pile: &'a Pile,
    /// Parallel to `items`.
    pieces: Vec<Piece>,
    items: Vec<MilledItem>,
    products: Vec<Product>,
}

impl<'a> Mill<'a> {
    fn add_part(&mut self, p: usize, part: &Part, layers: u32) {
        let (layers, pieces) = match part.stock {
            Wanted::Species(_) => (layers, blank::lumber_pieces(part, layers, &self.job.shop)),
            Wanted::Material(_) => (1, vec![blank::finished_piece(part)]),
        };
        for piece in pieces {
            self.items.push(MilledItem { part: p, layers, thickness: piece.thickness });
            self.pieces.push(piece);
        }
        self.products.push(Product { copies: part.qty, priority: part.priority, value: copy_value(part) });
    }

    fn wanted(&self) -> impl Iterator<Item = (usize, &Piece, &'a Part)> {
        let job = self.job;
        self.items.iter().zip(&self.pieces).enumerate().map(move |(i, (item, piece))| (i, piece, &job.parts[item.part]))
    }

    fn stock(&self) -> (Vec<Stock>, Vec<MilledStock>) {
        let mut stock = Vec::new();
        let mut milled = Vec::new();
        let mut add = |class: Stock, meaning: MilledStock| {
            stock.push(class);
            milled.push(meaning);
        };
        let billing = value::billing(self.pile);
        for (b, board) in self.pile.boards.iter().enumerate() {
            let wanted: Vec<board::Wanted> = self
                .wanted()
                .filter(|(_, _, part)| board_suits(board, part))
                .map(|(item, piece, _)| board::Wanted { item, piece })
                .collect();
            let (geometry, cuttings) = board::board_stock(board, &wanted, &self.job.shop);
            if cuttings.is_empty() {
                continue;
            }
            for (cost, count) in counts_by_cost(&billing[b]) {
                let credit = self.credit(&cost, (board.length * board.width).square_ticks());
                let kind = Kind::Board(geometry.clone());
                add(
                    Stock { count, cost: cost.micros_floor(), credit, kind },
                    MilledStock { source: StockRef::Board(b), cuttings: cuttings.clone() },
                );
            }
        }
        for (s, sheet) in self.pile.sheets.iter().enumerate() {
            let fits = |part: &Part| material_is(part, &sheet.material) && flat_stock::sheet_is_as_thick(sheet, part);
            let wanted: Vec<_> = self.wanted().filter(|(_, _, part)| fits(part)).collect();
            let (geometry, cuttings) = flat_stock::sheet_stock(sheet, &wanted, &self.job.shop);
            if !cuttings.is_empty() {
                let credit = self.credit(&sheet.cost, (sheet.length * sheet.width).square_ticks());
                add(
                    Stock {
                        count: sheet.quantity,
                        cost: sheet.cost.micros_floor(),
                        credit,
                        kind: Kind::Sheet(geometry),
                    },
                    MilledStock { source: StockRef::Sheet(s), cuttings },
                );
            }
        }
        for (s, stick) in self.pile.sticks.iter().enumerate() {
            let fits =
                |part: &Part| material_is(part, &stick.material) && flat_stock::stick_is_the_section(stick, part);
            let wanted: Vec<_> =
                self.wanted().filter(|(_, _, part)| fits(part)).map(|(item, piece, _)| (item, piece)).collect();
            let (geometry, cuttings) = flat_stock::stick_stock(stick, &wanted, &self.job.shop);
            if !cuttings.is_empty() {
                let credit = self.credit(&stick.cost, i128::from(stick.length.ticks()));
                add(
                    Stock {
                        count: stick.quantity,
                        cost: stick.cost.micros_floor(),
                        credit,
                        kind: Kind::Stick(geometry),
                    },
                    MilledStock { source: StockRef::Stick(s), cuttings },
                );
            }
        }
        (stock, milled)
    }

    /// Credit for kept offcuts of a piece that costs `cost` and measures `size` (square ticks, or ticks of a stick),
    /// never below the exact figure so that a bound that counts on it holds.
    fn credit(&self, cost: &Money, size: i128) -> Option<Credit> {
        let keep = &self.job.shop.keep;
        let share = keep.credit.clone() * Rational::from_integer(CREDIT_GRAIN.into());
        let share = share.ceil().to_integer().to_i128()?;
        if share == 0 || cost.micros_ceil() == 0 {
            return None;
        }
        Some(Credit {
            rate_numerator: i128::from(cost.micros_ceil()) * share,
            rate_denominator: size * CREDIT_GRAIN,
            min_length: keep.length.ticks(),
            min_width: keep.width.ticks(),
        })
    }
}

/// `keep.credit` is carried to this many parts of one.
const CREDIT_GRAIN: i128 = 1_000_000;

/// How many of a line of equal boards cost how much: the tally may bill them differently on an exact half foot.
fn counts_by_cost(billing: &Billing) -> Vec<(Money, u32)> {
    let (first, second) = (billing.copy(0).cost.clone(), billing.copy(1).cost.clone());
    if first == second || billing.quantity == 1 {
        return vec![(first, billing.quantity)];
    }
    vec![(first, billing.quantity - billing.quantity / 2), (second, billing.quantity / 2)]
}

/// True when the board is of the part's species and its rings are accepted.
fn board_suits(board: &Board, part: &Part) -> bool {
    species_is(part, &board.species) && rings_accepted(board, part)
}

fn rings_accepted(board: &Board, part: &Part) -> bool {
    part.rings.is_empty() || board.rings.is_some_and(|rings| part.rings.contains(&rings))
}

fn species_is(part: &Part, species: &str) -> bool {
    matches!(&part.stock, Wanted::Species(wanted) if same_words(wanted, species))
}

fn material_is(part: &Part, material: &str) -> bool {
    matches!(&part.stock, Wanted::Material(wanted) if same_words(wanted, material))
}

/// What a finished copy counts for in a short plan, in millionths: its stated value, or else its finished volume in
/// cubic inches.
fn copy_value(part: &Part) -> i64 {
    match &part.value {
        Some(value) => value.micros_floor(),
        None => {
            let inches = |l: Length| l.to_rational(Units::Inches);
            let volume = inches(part.thickness) * inches(part.width) * inches(part.full_length());
            Money::from_rational(volume).micros_floor()
        }
    }
}
