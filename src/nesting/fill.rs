//! The most valuable set of pieces that one piece of stock yields, whatever the stock costs.
//!
//! Asks the engine of each kind of stock for the best layout within the copies wanted, again and harder until value and
//! proven upper value meet or the budget is spent; then lays the same set so that the offcuts earn most. Decides nothing
//! about which pieces are worth what: that is the caller's business. A layout returned is lawful and keeps the limits.
//!
//! Values are divided by their greatest common measure first: sums of whole values lie that far apart at least, so an
//! upper value rounded down to it still holds, and the engines lose nothing to the scaling of large prices.

use std::sync::atomic::Ordering;
use std::time::{Duration, Instant};

use super::board::{Ask, BoardEngine, Effort, Memory, Scratch as BoardScratch};
use super::layout::{Shape, Why};
use super::problem::{Kind, Limits, Stock};
use super::sheet;
use super::stick;

/// States in which a board's copies are counted exactly, at first and at most. Each doubling takes up to eight times as
/// long and twice the memory; beyond the most one look at a board of everyday size takes minutes.
const FIRST_STATES: usize = 8;
const MOST_STATES: usize = 256;
/// The same number of states is tried again while that closes more than this part of what is open.
const LEAST_PROGRESS: i64 = 50;
/// Boards solved between two looks at the clock.
const ROUNDS: u32 = 3;
/// A doubling of the states is expected to take so many times as long; it is not begun when the time left is less.
const GROWTH: u32 = 8;
/// Work spent on the offcuts of a sheet, in units of [`sheet::fill`]: a fraction of a second.
const SHEET_TIDYING: u64 = 200;

/// The most valuable set found.
#[derive(Clone, Debug)]
pub struct Filled {
    /// The cuts; `None` when nothing of value can be cut.
    pub shape: Option<Shape>,
    /// Pieces by item.
    pub counts: Vec<u32>,
    /// Their values together.
    pub value: i64,
    /// No lawful set within the limits is worth more.
    pub upper: i64,
    /// Why the search ended; `Work` when the engines had nothing left to try.
    pub why: Why,
}

/// Finds the most valuable set of pieces of `values[item]` from one piece of `stock`: at most `limits[item]` of each, or any
/// number without limits. The cost of the stock plays no part; of equal sets the one it finds is laid with the most credit
/// for offcuts. Pieces without a positive value are not cut.
///
/// Stops at the deadline or cancellation of `budget`; its work limit and gap are not read. Without a deadline the answer
/// depends on the arguments alone.
pub fn fill(stock: &Stock, values: &[i64], limits: Option<&[u32]>, budget: &Limits) -> Filled {
    let unit = values.iter().copied().filter(|&value| value > 0).fold(0, gcd).max(1);
    let prices: Vec<i64> = values.iter().map(|&value| value.max(0) / unit).collect();
    let free = Stock { count: 1, cost: 0, credit: None, kind: stock.kind.clone(), together: vec![], wider: None };
    let found = match &stock.kind {
        Kind::Board(_) => board(&free, &prices, limits, budget),
        Kind::Sheet(_) => sheet(&free, &prices, limits, budget),
        Kind::Stick(_) => stick(&free, &prices, limits),
    };
    let mut found = found.expect("every kind of stock has its engine");
    found.counts.resize(values.len(), 0);
    if found.counts.iter().all(|&count| count == 0) {
        found.shape = None;
    }
    let why = if found.value == found.upper {
        Why::Proven
    } else if budget.cancel.load(Ordering::Relaxed) {
        Why::Cancelled
    } else if found.out_of_time || budget.ends_within(Duration::ZERO) {
        Why::Time
    } else {
        Why::Work
    };
    if why != Why::Cancelled
        && found.shape.is_some()
        && let Some(shape) = tidied(stock, &found.counts, budget)
    {
        found.shape = Some(shape);
    }
    let scaled = |value: i64| value.saturating_mul(unit);
    Filled { shape: found.shape, counts: found.counts, value: scaled(found.value), upper: scaled(found.upper), why }
}

/// What an engine found, in the units of its prices.
struct Found {
    shape: Option<Shape>,
    counts: Vec<u32>,
    value: i64,
    upper: i64,
    /// More could have been tried, and there was no time for it.
    out_of_time: bool,
}

impl Found {
    fn new(shape: Shape, counts: Vec<u32>, value: i64, upper: i64) -> Found {
        Found { shape: Some(shape), counts, value, upper, out_of_time: false }
    }
}

/// The best of a board: more and more copies are counted exactly until the upper value is met.
fn board(stock: &Stock, prices: &[i64], limits: Option<&[u32]>, budget: &Limits) -> Option<Found> {
    let engine = BoardEngine::new(stock)?;
    let mut scratch = BoardScratch::default();
    let Some(limits) = limits else {
        let p = engine.best(prices, &mut scratch, Effort::EXACT);
        return Some(Found::new(Shape::Board(p.layout), p.counts, p.value, p.upper));
    };
    let mut memory = Memory::default();
    let mut effort = Effort { states: FIRST_STATES, rounds: ROUNDS, ..Effort::EXACT };
    let mut upper = i64::MAX;
    let mut open = i64::MAX;
    loop {
        let began = Instant::now();
        // What was found before is kept in the memory, so the last layout is the best of all calls.
        let stop = || budget.called_off().is_some();
        let p = engine.best_within_from(Ask { prices, limits, effort, stop: &stop }, &mut memory, &mut scratch);
        upper = upper.min(p.upper).max(p.value);
        let before = std::mem::replace(&mut open, upper - p.value);
        let spent = began.elapsed();
        let more_states = effort.states * 2 <= MOST_STATES;
        let again = before - open > before / LEAST_PROGRESS;
        let out_of_time = budget.ends_within(spent) || more_states && !again && budget.ends_within(spent * GROWTH);
        if open > 0 && !out_of_time && !budget.cancel.load(Ordering::Relaxed) {
            if more_states && !budget.ends_within(spent * GROWTH) {
                effort.states *= 2;
                continue;
            }
            if again {
                continue;
            }
        }
        return Some(Found { out_of_time, ..Found::new(Shape::Board(p.layout), p.counts, p.value, upper) });
    }
}

fn sheet(stock: &Stock, prices: &[i64], limits: Option<&[u32]>, budget: &Limits) -> Option<Found> {
    let until_proven = Limits { work: None, gap: 0.0, ..*budget };
    let p = match limits {
        Some(limits) => sheet::fill(stock, prices, limits, &until_proven),
        None => sheet::fill_freely(stock, prices, &until_proven),
    }?;
    Some(Found::new(Shape::Sheet(p.layout), p.counts, p.value, p.upper))
}

fn stick(stock: &Stock, prices: &[i64], limits: Option<&[u32]>) -> Option<Found> {
    let p = match limits {
        Some(limits) => stick::best_within(stock, prices, limits),
        None => stick::best(stock, prices),
    }?;
    Some(Found::new(Shape::Stick(p.layout), p.counts, p.value, p.upper))
}

/// The same set laid so that its offcuts earn most, as far as the engines find it: every piece is priced above all the
/// credit there can be, so that none is given up for it. `None` when nothing earns or a piece did not find its place.
fn tidied(stock: &Stock, counts: &[u32], budget: &Limits) -> Option<Shape> {
    let credit = stock.credit.as_ref()?;
    let size = match &stock.kind {
        Kind::Board(board) => i128::from(board.length) * i128::from(board.width),
        Kind::Sheet(sheet) => i128::from(sheet.length) * i128::from(sheet.width),
        Kind::Stick(stick) => i128::from(stick.length),
    };
    let most = i64::try_from(size * credit.rate_numerator / credit.rate_denominator).ok()?;
    let above = most.checked_add(1)?;
    above.checked_mul(i64::from(counts.iter().sum::<u32>()) + 1)?;
    let prices: Vec<i64> = counts.iter().map(|&count| if count > 0 { above } else { 0 }).collect();
    let (shape, mut again) = match &stock.kind {
        Kind::Board(_) => {
            let engine = BoardEngine::new(stock)?;
            let found = engine.best_within(&prices, counts, &mut BoardScratch::default(), Effort::EXACT);
            (Shape::Board(found.layout), found.counts)
        }
        Kind::Sheet(_) => {
            let little = Limits { work: Some(SHEET_TIDYING), gap: 0.0, ..*budget };
            let found = sheet::fill(stock, &prices, counts, &little)?;
            (Shape::Sheet(found.layout), found.counts)
        }
        Kind::Stick(_) => {
            let found = stick::best_within(stock, &prices, counts)?;
            (Shape::Stick(found.layout), found.counts)
        }
    };
    again.resize(counts.len(), 0);
    (again == counts).then_some(shape)
}

fn gcd(a: i64, b: i64) -> i64 {
    if b == 0 { a } else { gcd(b, a % b) }
}

#[cfg(test)]
mod tests {

    use super::*;
    use crate::nesting::problem::{Kerfs, SheetPiece, SheetStock};
    use crate::nesting::sheet::{Scratch, SheetEngine};

    /// Forty sizes, turned or not: their sums are more than one run with the usual steps takes, which leaves the bound apart.
    #[test]
    fn a_sheet_of_many_sizes_is_looked_at_again_with_fewer_left_out() {
        let size = |item: usize| (60 + 229 * item as i64 % 761, 53 + 137 * item as i64 % 459);
        let pieces = (0..40).flat_map(|item| {
            let (length, width) = size(item);
            let piece = SheetPiece { item, length, width, turned: false };
            [piece, SheetPiece { item, length: width, width: length, turned: true }]
        });
        let values: Vec<i64> = (0..40).map(|item| size(item).0 * size(item).1 + 31 * item as i64 % 7).collect();
        let (kerf, pieces) = (Kerfs { cross: 3, rip: 3 }, pieces.collect());
        let sheet = SheetStock { length: 1220, width: 1220, trim: 0, kerf, stages: 4, first: None, pieces };
        let stock = Stock { count: 1, cost: 0, credit: None, kind: Kind::Sheet(sheet), together: vec![], wider: None };
        let once = SheetEngine::new(&stock).expect("a sheet").best(&values, &mut Scratch::default());
        assert!(once.value < once.upper);
        let budget = Limits::default();
        let found = fill(&stock, &values, None, &budget);
        assert_eq!((found.value, found.why), (found.upper, Why::Proven));
        assert!((once.value..=once.upper).contains(&found.value));
    }
}
