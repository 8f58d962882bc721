//! Sheets: staged and free guillotine cutting with kerf, trim and a credited remnant, in integers.
//!
//! `axis` knows sizes, `model` a sheet with its kerf folded in, `tables` the dynamic programmes at given prices, `tree` bare
//! layouts, `limited` layouts with bounded copies, `fill` the exact most valuable bounded set, `improve` better layouts from
//! good ones, `verify` the conscience of them all. The class: guillotine cuts inside the trim, at most `stages` stages, final trims free, credited remnants across the
//! full sheet at one end or at both; a remnant's length and width are measured along the sheet's own.
//! Every `value` is that of a lawful layout; every `upper` bounds all layouts of the class.

mod axis;
mod completion;
mod fill;
mod improve;
mod limited;
mod model;
mod tables;
#[cfg(test)]
mod tests;
mod tree;
mod verify;

pub use fill::{Filled, fill, fill_freely};
pub use tables::Scratch;
pub use verify::verify;

use super::layout::SheetNode;
use super::problem::{Kind, SheetStock, Stock};
use model::{DEFAULT_STEPS, Frame, Model};
use tables::Run;
use tree::{Cut, place, worth};

/// A layout and what is proven of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Priced {
    /// The cuts; a sheet parted into nothing when no piece is worth cutting.
    pub layout: SheetNode,
    /// Prices of its pieces and its credit.
    pub value: i64,
    /// No layout of the class is worth more.
    pub upper: i64,
    /// Pieces by item.
    pub counts: Vec<u32>,
}

/// The programmes of one class of sheets, made ready once and run at many prices.
#[derive(Clone, Debug)]
pub struct SheetEngine {
    sheet: SheetStock,
    frame: Frame,
    items: usize,
    low: Model,
    /// Sizes rounded up, when there are too many to keep them all.
    high: Option<Model>,
    steps: u64,
}

impl SheetEngine {
    /// Makes a class of sheets ready. `None` when the stock is no sheet.
    ///
    /// # Examples
    ///
    /// ```
    /// use flitchwork::nesting::sheet::{Scratch, SheetEngine};
    /// use flitchwork::nesting::{Kerfs, Kind, SheetPiece, SheetStock, Stock};
    ///
    /// let pieces = vec![SheetPiece { item: 0, length: 4, width: 3, turned: false }];
    /// let kerf = Kerfs { cross: 1, rip: 1 };
    /// let sheet = SheetStock { length: 10, width: 8, trim: 0, kerf, stages: 2, first: None, pieces };
    /// let stock = Stock { count: 1, cost: 0, credit: None, kind: Kind::Sheet(sheet), together: vec![], wider: None };
    /// let engine = SheetEngine::new(&stock).expect("the stock is a sheet");
    /// let best = engine.best(&[5], &mut Scratch::default());
    /// assert_eq!((best.value, best.upper, best.counts), (20, 20, vec![4]));
    /// ```
    pub fn new(stock: &Stock) -> Option<Self> {
        Self::with_steps(stock, DEFAULT_STEPS)
    }

    /// As [`SheetEngine::new`], thinning sizes until a run takes about `steps` steps of the dynamic programme. Fewer steps
    /// are faster and may leave `value` below `upper`.
    pub fn with_steps(stock: &Stock, steps: u64) -> Option<Self> {
        let Kind::Sheet(sheet) = &stock.kind else { return None };
        let frame = Frame::new(sheet, stock.credit.as_ref());
        let copies = |_: usize| u32::MAX;
        let pieces = Model::pieces(sheet, &frame, &copies);
        let (low, high) = Model::roundings(&frame, pieces, &copies, steps);
        let items = sheet.pieces.iter().map(|p| p.item + 1).max().unwrap_or(0);
        Some(Self { sheet: sheet.clone(), frame, items, low, high, steps })
    }

    /// True when no size was thinned: `best` then always proves its value.
    pub fn exact(&self) -> bool {
        self.high.is_none()
    }

    /// The best layout at `prices[item]`, any number of copies; items without a positive price are not cut.
    pub fn best(&self, prices: &[i64], scratch: &mut Scratch) -> Priced {
        let (tree, value, upper) = self.best_tree(prices, scratch);
        self.priced(tree.as_ref(), value, upper)
    }

    /// The same as a tree, its value, and the upper value.
    fn best_tree(&self, prices: &[i64], scratch: &mut Scratch) -> (Option<Cut>, i64, i64) {
        let Solved { mut value, upper, mut tree, loose } = solve(&self.low, self.high.as_ref(), prices, 0, scratch);
        let plenty = vec![u32::MAX; prices.len()];
        for candidate in limited::repaired(&self.low, loose.as_ref(), prices, &plenty) {
            let total = worth(&self.frame, candidate.as_ref(), prices);
            if total > value {
                (value, tree) = (total, candidate);
            }
        }
        let worthwhile: Vec<_> = self.low.pieces.iter().copied().filter(|p| prices[p.item] > 0).collect();
        let area = limited::area_bound(&self.frame, &worthwhile, prices, &plenty);
        debug_assert!(value == worth(&self.frame, tree.as_ref(), prices));
        (tree, value, upper.min(area).max(value))
    }

    fn priced(&self, tree: Option<&Cut>, value: i64, upper: i64) -> Priced {
        Priced { layout: place(&self.frame, tree), value, upper, counts: counts(tree, self.items) }
    }
}

/// What one run on a model, or on its two roundings, found.
struct Solved {
    value: i64,
    upper: i64,
    /// Lawful, worth `value`.
    tree: Option<Cut>,
    /// The layout of the sizes rounded up, perhaps too large for the sheet.
    loose: Option<Cut>,
}

/// Runs a model rounded down and perhaps one rounded up at prices by item; the credit is shifted as the prices are.
fn solve(low: &Model, high: Option<&Model>, prices: &[i64], shift: u32, scratch: &mut Scratch) -> Solved {
    let of = |model: &Model| -> Vec<i64> { model.pieces.iter().map(|p| prices[p.item].max(0)).collect() };
    let (found, tree) = Run::new(low, &of(low), shift, scratch).best();
    let Some(high) = high else { return Solved { value: found, upper: found, tree, loose: None } };
    let (upper, loose) = Run::new(high, &of(high), shift, scratch).best();
    // Its own extents may leave the found layout more credit than its sizes did.
    let mut value = tree.as_ref().and_then(|t| tree::best_credit(&low.frame, t)).map_or(0, |c| c.1) << shift;
    if let Some(tree) = &tree {
        tree.visit(&mut |p| value += prices[p.item]);
    }
    Solved { value, upper, tree, loose }
}

/// Pieces of a tree by item.
fn counts(tree: Option<&Cut>, items: usize) -> Vec<u32> {
    let mut counts = vec![0; items];
    if let Some(tree) = tree {
        tree.visit(&mut |p| counts[p.item] += 1);
    }
    counts
}
