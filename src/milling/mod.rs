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

use std::collections::BTreeMap;

use num_traits::ToPrimitive;

use crate::job::{Job, Panel, Part, Wanted};
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

impl Milled {
    /// Finished copies of every product when so many pieces (units, of a panel) of each item are made.
    pub fn products_made(&self, made: &[u32]) -> Vec<u32> {
        let mut copies: Vec<u32> = self.problem.products.iter().map(|product| product.copies).collect();
        for (item, &made) in self.problem.items.iter().zip(made) {
            copies[item.product] = copies[item.product].min(made / item.per_copy.max(1));
        }
        copies
    }

    /// Finished copies of each of the first `parts` parts of the job, of which one may be several products.
    pub fn copies_made(&self, made: &[u32], parts: usize) -> Vec<u32> {
        let of_product = self.products_made(made);
        let owners: BTreeMap<usize, usize> =
            self.problem.items.iter().zip(&self.items).map(|(item, milled)| (item.product, milled.part)).collect();
        let mut copies = vec![0; parts];
        for (product, part) in owners {
            copies[part] += of_product[product];
        }
        copies
    }
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
    /// Of a panel: what the item counts.
    pub staves: Option<StaveCount>,
}

/// What an item of a panel counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StaveCount {
    /// Units of width of one copy of the panel, whose staves may have any width.
    Width(Length),
    /// Staves of one width, for all copies.
    Pieces,
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
/// `members[p]` is the number of pieces that a copy of part `p` is built from where that is a choice: the layers of a
/// lamination (1 is one plain piece), the staves of a panel of equal staves. It is not read for other parts. Pieces that a piece of stock cannot give are simply not among its cuttings; stock that can give
/// nothing is left out. Cost: boards x pieces x distinct blank widths.
pub fn mill(job: &Job, pile: &Pile, members: &[u32]) -> Milled {
    let mut mill = Mill { job, pile, pieces: Vec::new(), items: Vec::new(), counted: Vec::new(), products: Vec::new() };
    for (p, part) in job.parts.iter().enumerate() {
        mill.add_part(p, part, members[p]);
    }
    let (stock, milled_stock) = mill.stock();
    Milled {
        problem: Problem { items: mill.counted, products: mill.products, stock },
        items: mill.items,
        stock: milled_stock,
    }
}

struct Mill<'a> {
    job: &'a Job,
    pile: &'a Pile,
    /// What may be cut: the item it counts for, how often it does, and the piece.
    pieces: Vec<(usize, u32, Piece)>,
    items: Vec<MilledItem>,
    /// Parallel to `items`.
    counted: Vec<Item>,
    products: Vec<Product>,
}

impl<'a> Mill<'a> {
    fn add_part(&mut self, p: usize, part: &Part, members: u32) {
        let shop = &self.job.shop;
        let pieces = match (&part.stock, &part.panel) {
            (Wanted::Material(_), _) => vec![blank::finished_piece(part)],
            (Wanted::Species(_), None) => blank::lumber_pieces(part, members, shop),
            (Wanted::Species(_), Some(panel)) if panel.equal => {
                vec![
                    blank::equal_stave(part, panel, members, shop)
                        .unwrap_or_else(|| blank::widest_stave(part, panel, shop)),
                ]
            }
            (Wanted::Species(_), Some(panel)) => return self.add_panel(p, part, panel),
        };
        // Copies that must each come from few boards are kept apart, others share their pieces.
        let apart = part.panel.as_ref().is_some_and(|panel| panel.max_boards.is_some());
        let (products, copies) = if apart { (part.qty, 1) } else { (1, part.qty) };
        let layers = if part.panel.is_none() && matches!(part.stock, Wanted::Species(_)) { members } else { 1 };
        for _ in 0..products {
            let product = self.products.len();
            self.products.push(Product { copies, priority: part.priority, value: copy_value(part) });
            for piece in &pieces {
                let staves = part.panel.as_ref().map(|_| StaveCount::Pieces);
                self.items.push(MilledItem { part: p, layers, thickness: piece.thickness, staves });
                self.counted.push(Item {
                    demand: piece.per_copy * copies,
                    per_copy: piece.per_copy,
                    excess: 0,
                    product,
                    length: piece.net_length.ticks(),
                    width: piece.net_width.ticks(),
                });
                self.pieces.push((self.items.len() - 1, 1, piece.clone()));
            }
        }
    }

    /// Adds a panel whose staves are of free width. Every copy is a product and an item of its own, since what it is glued
    /// from must be wide enough for it alone.
    fn add_panel(&mut self, p: usize, part: &Part, panel: &Panel) {
        let staves = blank::free_staves(part, panel, &self.job.shop);
        for _ in 0..part.qty {
            let (item, product) = (self.items.len(), self.products.len());
            self.products.push(Product { copies: 1, priority: part.priority, value: copy_value(part) });
            let thickness = part.thickness + self.job.shop.allowance.panel_face;
            let count = StaveCount::Width(staves.unit);
            self.items.push(MilledItem { part: p, layers: 1, thickness, staves: Some(count) });
            self.counted.push(Item {
                demand: staves.needed,
                per_copy: staves.needed,
                excess: staves.excess,
                product,
                length: part.full_length().ticks(),
                width: staves.unit.ticks(),
            });
            self.pieces.extend(staves.widths.iter().map(|(piece, units)| (item, *units, piece.clone())));
        }
    }

    /// What may be cut: item, how often it counts, piece, part.
    fn wanted(&self) -> impl Iterator<Item = (usize, u32, &Piece, &'a Part)> {
        let job = self.job;
        self.pieces.iter().map(|(item, count, piece)| (*item, *count, piece, &job.parts[self.items[*item].part]))
    }

    /// What may be cut from sheets or sticks that `fits` says: item, piece, part.
    fn ready(&self, fits: impl Fn(&Part) -> bool) -> Vec<(usize, &Piece, &'a Part)> {
        let wanted = self.wanted().filter(|&(_, _, _, part)| fits(part));
        wanted.map(|(item, _, piece, part)| (item, piece, part)).collect()
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
                .filter(|(_, _, _, part)| board_suits(board, part))
                .map(|(item, count, piece, _)| board::Wanted { item, count, piece })
                .collect();
            let (mut geometry, cuttings) = board::board_stock(board, &wanted, &self.job.shop);
            if cuttings.is_empty() {
                continue;
            }
            let yielded = |item: usize| geometry.cuttings.iter().any(|c| c.yields.iter().any(|y| y.0 == item));
            let fewest =
                |item: usize| fewest_of_layout(&self.job.parts[self.items[item].part], self.counted[item].per_copy);
            let least = (0..self.items.len()).map(|item| (item, fewest(item)));
            geometry.least = least.filter(|&(item, units)| units > 0 && yielded(item)).collect();
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
            let wanted = self.ready(fits);
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
            let wanted: Vec<_> = self.ready(fits).into_iter().map(|(item, piece, _)| (item, piece)).collect();
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

/// What a board must give a copy of a panel at least, if anything, so that no more than the allowed number of boards make
/// it up: one board more would give more than `per_copy` and its excess.
fn fewest_of_layout(part: &Part, per_copy: u32) -> u32 {
    part.panel.as_ref().and_then(|panel| panel.max_boards).map_or(0, |most| per_copy.div_ceil(most))
}

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
pub(crate) fn copy_value(part: &Part) -> i64 {
    match &part.value {
        Some(value) => value.micros_floor(),
        None => {
            let inches = |l: Length| l.to_rational(Units::Inches);
            let volume = inches(part.thickness) * inches(part.width) * inches(part.full_length());
            Money::from_rational(volume).micros_floor()
        }
    }
}
