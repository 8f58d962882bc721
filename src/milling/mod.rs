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
pub mod matches;
mod mill;
mod nearest;
mod rows;

use std::collections::BTreeSet;

use crate::job::{Job, Part, Wanted};
use crate::measure::{Length, Money, Units};
use crate::milling::matches::Bundle;
use crate::milling::mill::Mill;
pub use crate::milling::rows::{InRows, MatchedRow};
use crate::nesting::{Asked, BlankAt, BoardStock, Kind, Outcome, Problem, Shape, StripAt, Way};
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
    /// Pieces of sheets and sticks that must lie in a row, of which the problem knows nothing; see [`Milled::in_rows`].
    pub rows: Vec<MatchedRow>,
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
        let mut copies = vec![0; parts];
        let mut seen = BTreeSet::new();
        for (item, milled) in self.problem.items.iter().zip(&self.items) {
            // A panel of free staves is one copy an item; other parts share their items, whole copies of them counted once.
            let each = matches!(milled.staves, Some(StaveCount::Width(_)));
            if each || seen.insert((item.product, milled.part)) {
                copies[milled.part] += of_product[item.product] * milled.copies;
            }
        }
        copies
    }

    /// The same answer with blocks of matched pieces opened: every piece a blank of its own.
    pub fn opened(&self, outcome: &Outcome) -> Outcome {
        let mut opened = outcome.clone();
        for layout in &mut opened.layouts {
            let (Shape::Board(board), Kind::Board(stock)) = (&mut layout.shape, &self.problem.stock[layout.stock].kind)
            else {
                continue;
            };
            let meaning = &self.stock[layout.stock].cuttings;
            for section in &mut board.sections {
                let strips = section.strips.iter().flat_map(|strip| {
                    let block = strip.blanks.first().map(|blank| &meaning[blank.cutting].block);
                    match block {
                        Some(block) if block.iter().any(|at| at.dy > 0) => side_by_side(strip, meaning, stock),
                        _ => vec![end_to_end(strip, meaning)],
                    }
                });
                section.strips = strips.collect();
            }
        }
        opened
    }
}

/// A strip whose blanks may be runs of pieces, as the pieces.
fn end_to_end(strip: &StripAt, meaning: &[MilledCutting]) -> StripAt {
    let pieces = strip.blanks.iter().flat_map(|blank| {
        let block = &meaning[blank.cutting].block;
        let alone = block.is_empty().then_some(*blank);
        let of_block = block.iter().map(|at| BlankAt { x: blank.x + at.dx, cutting: at.cutting });
        alone.into_iter().chain(of_block)
    });
    StripAt { blanks: pieces.collect(), ..*strip }
}

/// A strip whose blanks are rows of pieces side by side, as one strip for each place in the row.
fn side_by_side(strip: &StripAt, meaning: &[MilledCutting], stock: &BoardStock) -> Vec<StripAt> {
    let first = &meaning[strip.blanks[0].cutting].block;
    let of_place = |(place, at): (usize, &Placed)| {
        let blanks = strip.blanks.iter().map(|blank| {
            let at = meaning[blank.cutting].block[place];
            BlankAt { x: blank.x + at.dx, cutting: at.cutting }
        });
        StripAt { y: strip.y + at.dy, width: stock.cuttings[at.cutting].width, blanks: blanks.collect() }
    };
    first.iter().enumerate().map(of_place).collect()
}

/// What an item of the problem is in the shop.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MilledItem {
    /// Index of the part in the job.
    pub part: usize,
    /// Finished copies of the part that one copy of the item's product stands for: all of a matched group's.
    pub copies: u32,
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
    /// Of a block of matched pieces: the pieces, as cuttings of the same board; empty for a blank that is one.
    pub block: Vec<Placed>,
}

/// A piece of a block: its cutting, and where it lies from the block's corner, ticks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Placed {
    pub cutting: usize,
    pub dx: i64,
    pub dy: i64,
}

/// Turns a job and a pile into a nesting problem.
///
/// `members[p]` is the number of pieces that a copy of part `p` is built from where that is a choice: the layers of a
/// lamination (1 is one plain piece), the staves of a panel of equal staves. It is not read for other parts. Pieces that a piece of stock cannot give are simply not among its cuttings; stock that can give
/// nothing is left out. Cost: boards x pieces x distinct blank widths.
pub fn mill(job: &Job, pile: &Pile, members: &[u32]) -> Milled {
    let mill = Mill::new(job, pile, members);
    let (stock, milled_stock) = mill.stock();
    Milled {
        rows: mill.rows(),
        problem: Problem { items: mill.counted, products: mill.products, stock },
        items: mill.items,
        stock: milled_stock,
    }
}

/// A job with all that its parts may be built up from, for bounds: what makes it in any way is an answer here.
#[derive(Clone, Debug)]
pub struct Ways {
    pub problem: Problem,
    /// By part: the products of its ways, parallel to the numbers of members.
    products: Vec<Vec<usize>>,
}

impl Ways {
    /// Prices of the items of a job milled for itself, from prices of the items here: `at[p]` is which of its ways part p is
    /// milled in.
    pub fn prices_of(&self, milled: &Milled, prices: &[i64], at: &[usize]) -> Vec<i64> {
        let of_way: Vec<Vec<i64>> = self
            .products
            .iter()
            .zip(at)
            .map(|(products, &at)| {
                let items = self.problem.items.iter().zip(prices);
                items.filter(|(item, _)| item.product == products[at]).map(|(_, &price)| price).collect()
            })
            .collect();
        let mut seen = vec![0; of_way.len()];
        let of_item = |item: &MilledItem| {
            // Copies that are items of their own have their kinds of pieces in the same order.
            let of_way = &of_way[item.part];
            let price = of_way[seen[item.part] % of_way.len()];
            seen[item.part] += 1;
            price
        };
        milled.items.iter().map(of_item).collect()
    }

    /// What an answer is asked for that makes so many copies of each part; the groups are the parts of several ways, in
    /// their order.
    pub fn asked(&self, copies: &[u32]) -> Asked {
        let items = &self.problem.items;
        let mut asked = Asked { pieces: vec![0; items.len()], groups: Vec::new() };
        for (products, &copies) in self.products.iter().zip(copies) {
            let way = |&product: &usize| -> Way {
                let of_product = items.iter().enumerate().filter(|(_, item)| item.product == product);
                of_product.map(|(i, item)| (i, item.per_copy.saturating_mul(copies))).collect()
            };
            match &products[..] {
                [only] => way(only).into_iter().for_each(|(item, n)| asked.pieces[item] = n),
                several => asked.groups.push(several.iter().map(way).collect()),
            }
        }
        asked
    }
}

/// Turns a job into a problem of which every plan is an answer, in whatever number of `members` of each part; see [`mill`].
///
/// It asks for less than the job does: pieces need not match, the staves of a panel may come from any number of boards, and
/// of several copies only the widths together must do.
pub fn in_every_way(job: &Job, pile: &Pile, members: &[Vec<u32>]) -> Ways {
    let mut free = job.clone();
    for part in &mut free.parts {
        part.matching = None;
        if let Some(panel) = &mut part.panel {
            panel.max_boards = None;
        }
    }
    let (mill, products) = Mill::in_every_way(&free, pile, members);
    let (stock, _) = mill.stock();
    Ways { problem: Problem { items: mill.counted, products: mill.products, stock }, products }
}

/// The pieces that the matches of a job keep together, when its parts are built up as `members` says.
fn bundles(job: &Job, pile: &Pile, members: &[u32]) -> Vec<Bundle> {
    Mill::new(job, pile, members).bundles
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
