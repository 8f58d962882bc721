//! One question for every kind of stock: the best layout of one piece at given prices.
//!
//! A thin dispatch over the engines of boards, sheets and sticks, so that the search above them never asks what kind a
//! piece is. No geometry lives here.

use super::board::{BoardEngine, Effort, Scratch as BoardScratch};
use super::layout::Shape;
use super::problem::{Kind, Stock};
use super::sheet::{Scratch as SheetScratch, SheetEngine};
use super::stick;

/// The stock behind a stick's engine was checked when it was made.
const STICK: &str = "the stock is a stick";
/// Effort with which a sheet's layout is brought within the pieces wanted; more takes seconds on a full sheet.
const SHEET_ROUNDS: u32 = 1;

/// The engine of one class of stock, prepared once.
pub enum Engine {
    Board(Box<BoardEngine>),
    Sheet(Box<SheetEngine>),
    Stick(Box<Stock>),
}

/// Buffers one thread works with; any engine of the problem may use them in turn.
#[derive(Default)]
pub struct Scratch {
    board: BoardScratch,
    sheet: SheetScratch,
}

/// A layout found for one piece of stock, and what is proven of all others.
#[derive(Clone, Debug)]
pub struct Found {
    /// The cuts; `None` when the piece is better left whole.
    pub shape: Option<Shape>,
    /// Pieces it yields: (item, pieces), ascending, none of zero.
    pub counts: Vec<(usize, u32)>,
    /// Credit of its offcuts alone, micro-units, rounded down.
    pub credit: i64,
    /// No layout is worth more at these prices (unlimited pieces); micro-units, rounded up.
    pub upper: i64,
}

impl Found {
    fn new(shape: Shape, counts: &[u32], value: i64, upper: i64, prices: &[i64]) -> Found {
        let counts: Vec<(usize, u32)> =
            counts.iter().enumerate().filter(|&(_, &n)| n > 0).map(|(i, &n)| (i, n)).collect();
        let made: i64 = counts.iter().map(|&(i, n)| prices[i] * i64::from(n)).sum();
        let shape = (!counts.is_empty()).then_some(shape);
        Found { shape, credit: value - made, counts, upper }
    }
}

impl Engine {
    /// Prepares the engine of a class of stock.
    pub fn new(stock: &Stock) -> Engine {
        let engine = match &stock.kind {
            Kind::Board(_) => BoardEngine::new(stock).map(|e| Engine::Board(Box::new(e))),
            Kind::Sheet(_) => SheetEngine::new(stock).map(|e| Engine::Sheet(Box::new(e))),
            Kind::Stick(_) => Some(Engine::Stick(Box::new(stock.clone()))),
        };
        engine.expect("every kind of stock has its engine")
    }

    /// The best layout at `prices` (micro-units an item, none negative), pieces unlimited.
    pub fn best(&self, prices: &[i64], scratch: &mut Scratch, effort: Effort) -> Found {
        match self {
            Engine::Board(engine) => {
                let p = engine.best(prices, &mut scratch.board, effort);
                Found::new(Shape::Board(p.layout), &p.counts, p.value, p.upper, prices)
            }
            Engine::Sheet(engine) => {
                let p = engine.best(prices, &mut scratch.sheet);
                Found::new(Shape::Sheet(p.layout), &p.counts, p.value, p.upper, prices)
            }
            Engine::Stick(stock) => {
                let p = stick::best(stock, prices).expect(STICK);
                Found::new(Shape::Stick(p.layout), &p.counts, p.value, p.upper, prices)
            }
        }
    }

    /// A lawful layout with at most `limits[item]` pieces of each item, as good as the engine finds; its `upper` is that
    /// of unlimited pieces.
    pub fn best_within(&self, prices: &[i64], limits: &[u32], scratch: &mut Scratch, effort: Effort) -> Found {
        match self {
            Engine::Board(engine) => {
                let p = engine.best_within(prices, limits, &mut scratch.board, effort);
                Found::new(Shape::Board(p.layout), &p.counts, p.value, p.upper, prices)
            }
            Engine::Sheet(engine) => {
                let p = engine.best_within(prices, limits, &mut scratch.sheet, SHEET_ROUNDS);
                Found::new(Shape::Sheet(p.layout), &p.counts, p.value, p.upper, prices)
            }
            Engine::Stick(stock) => {
                let p = stick::best_within(stock, prices, limits).expect(STICK);
                Found::new(Shape::Stick(p.layout), &p.counts, p.value, p.upper, prices)
            }
        }
    }
}
