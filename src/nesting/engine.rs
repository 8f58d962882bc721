//! One question for every kind of stock: the best layout of one piece at given prices.
//!
//! A thin dispatch over the engines of boards, sheets and sticks, so that the search above them never asks what kind a
//! piece is. No geometry lives here.

use super::board::{BoardEngine, Effort, Scratch as BoardScratch};
use super::layout::Shape;
use super::problem::{Kind, Stock};
use super::sheet::{Scratch as SheetScratch, SheetEngine};
use super::stick::StickEngine;

/// Lagrangian rounds in which a sheet's layout is brought within the pieces wanted.
const SHEET_ROUNDS: u32 = 4;

/// The engine of one class of stock, prepared once.
pub enum Engine {
    Board(Box<BoardEngine>),
    Sheet(Box<SheetEngine>),
    Stick(StickEngine),
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
    /// Prices of the pieces plus credit, micro-units, rounded down.
    pub value: i64,
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
        Found { shape, credit: value - made, counts, value, upper }
    }
}

impl Engine {
    /// Prepares the engine of a class of stock.
    pub fn new(stock: &Stock) -> Engine {
        let engine = match &stock.kind {
            Kind::Board(_) => BoardEngine::new(stock).map(|e| Engine::Board(Box::new(e))),
            Kind::Sheet(_) => SheetEngine::new(stock).map(|e| Engine::Sheet(Box::new(e))),
            Kind::Stick(_) => StickEngine::new(stock).map(Engine::Stick),
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
            Engine::Stick(engine) => {
                let p = engine.best(prices, &mut scratch.board);
                Found::new(Shape::Stick(p.layout), &p.counts, p.value, p.upper, prices)
            }
        }
    }

    /// A lawful layout with at most `limits[item]` pieces of each item, as good as the engine finds; its `upper` is that
    /// of unlimited pieces.
    pub fn best_within(&self, prices: &[i64], limits: &[u32], scratch: &mut Scratch, effort: Effort) -> Found {
        match self {
            Engine::Board(engine) => {
                let p = within(engine, prices, limits, &mut scratch.board, effort);
                Found::new(Shape::Board(p.layout), &p.counts, p.value, p.upper, prices)
            }
            Engine::Sheet(engine) => {
                let p = engine.best_within(prices, limits, &mut scratch.sheet, SHEET_ROUNDS);
                Found::new(Shape::Sheet(p.layout), &p.counts, p.value, p.upper, prices)
            }
            Engine::Stick(engine) => {
                let p = engine.best_within(prices, limits, &mut scratch.board);
                Found::new(Shape::Stick(p.layout), &p.counts, p.value, p.upper, prices)
            }
        }
    }
}

pub fn within(engine: &BoardEngine, prices: &[i64], limits: &[u32], scratch: &mut BoardScratch, effort: Effort) -> super::board::Priced {
    let mut lowered: Vec<i64> = prices.iter().zip(limits).map(|(&p, &n)| if n == 0 { 0 } else { p }).collect();
    let mut best: Option<super::board::Priced> = None;
    for _ in 0..6 {
        let mut p = engine.best(&lowered, scratch, effort);
        let over: Vec<usize> = (0..limits.len()).filter(|&i| p.counts[i] > limits[i]).collect();
        let mut left = limits.to_vec();
        for section in &mut p.layout.sections {
            for strip in &mut section.strips {
                strip.blanks.retain(|b| {
                    let y = &engine.cutting(b.cutting).yields;
                    let ok = y.iter().all(|&(i, n)| left[i] >= n);
                    if ok { for &(i, n) in y { left[i] -= n; } }
                    ok
                });
            }
            section.strips.retain(|s| !s.blanks.is_empty());
        }
        p.layout.sections.retain(|s| !s.strips.is_empty());
        let (value, counts) = engine.value(&p.layout, prices);
        p.value = if counts.iter().all(|&n| n == 0) { 0 } else { value };
        p.counts = counts;
        if best.as_ref().is_none_or(|b| p.value > b.value) { best = Some(p); }
        if over.is_empty() { break; }
        for i in over { lowered[i] = lowered[i] * 2 / 3; }
    }
    best.expect("one round")
}
