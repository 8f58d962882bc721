//! The best layout of one board at given prices: the pricing engine of the optimiser.
//!
//! `grid` counts positions, `model` prepares a board once, `section` finds the best sections from one start by dynamic
//! programming, `chain` puts sections and credited offcuts in a row, `credit` knows what offcuts earn, `verify` checks a
//! layout from the statement of the class alone. Which boards are cut, and how often each piece is still wanted, is the
//! caller's business.
//!
//! Everything is integer. A layout returned is lawful and worth exactly `value`; `upper` is proven for the whole class:
//! strip bases and blank positions may be taken as far down and left as they go (exact), whatever lies off the grid is
//! rounded towards the wood.

mod chain;
mod credit;
mod family;
mod grid;
mod holding;
mod model;
mod section;
mod thin;
mod usage;
mod verify;
mod within;

#[cfg(test)]
mod brute;
#[cfg(test)]
mod tests;

pub use credit::credit_of;
pub use holding::{Fields, Holding, LABELS_A_START, Listing};
pub use section::Scratch;
pub use verify::verify;
pub use within::Memory;

use chain::{Chained, CreditCells, Search, UNIT, Until};
use credit::SoundArea;
use grid::Grid;
use model::{BaseLimits, Model, Side};
use section::PricedModel;
use usage::Usage;

use super::layout::BoardLayout;
use super::problem::{BoardStock, Credit, Kind, Stock, Stop, never};

/// Scaled values of whole boards stay below this, so that sums in `i32` cannot overflow.
const MOST_VALUE: i128 = 1 << 30;

/// How hard to search.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Effort {
    /// Section starts evaluated at most; each costs about as much as the next.
    pub starts: u32,
    /// Stop as soon as the board is proven to be worth no more than this, micro-units: it cannot help.
    pub enough: i64,
    /// Stop when value and upper value differ by no more than this, micro-units.
    pub slack: i64,
    /// With limits: states of use at most (product of limit + 1 over the items counted exactly); 1 counts none.
    pub states: usize,
    /// With limits: boards solved at most before the best lawful layout so far is returned.
    pub rounds: u32,
    /// Few widths of staves will do.
    pub coarse: bool,
    /// The upper value must hold for all layouts of the class; else that of the layouts a plan is looked for among will do.
    pub bounded: bool,
}

impl Effort {
    /// To the end; with limits, as far as 16 states and 12 rounds go.
    pub const EXACT: Effort =
        Effort { starts: u32::MAX, enough: 0, slack: 0, states: 16, rounds: 12, coarse: false, bounded: true };

    /// At most so many section starts, of few widths of staves.
    pub const fn starts(starts: u32) -> Effort {
        Effort { starts, coarse: true, ..Effort::EXACT }
    }
}

/// What is asked of the engine of a piece of stock.
#[derive(Clone, Copy)]
pub struct Ask<'a> {
    /// By item, micro-units.
    pub prices: &'a [i64],
    /// Pieces of each item at most.
    pub limits: &'a [u32],
    pub effort: Effort,
    /// Told to stop, an engine makes do with what it has found.
    pub stop: Stop<'a>,
}

/// A layout and what is proven about it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Priced {
    /// Lawful; empty when nothing is worth cutting.
    pub layout: BoardLayout,
    /// Prices of the pieces made, and the credit rounded down, micro-units.
    pub value: i64,
    /// No layout is worth more (credit rounded up), micro-units.
    pub upper: i64,
    /// Pieces made, by item.
    pub counts: Vec<u32>,
    /// Section starts evaluated.
    pub evaluations: u32,
}

/// One class of boards, prepared for any number of price vectors.
#[derive(Clone, Debug)]
pub struct BoardEngine {
    board: BoardStock,
    credit: Option<Credit>,
    sound: SoundArea,
    grid: Grid,
    /// Layouts come from `plan`, bounds from `bound`; the one serves both when nothing is rounded.
    plan: Sided,
    bound: Option<Sided>,
    /// Cuttings that fit somewhere.
    fits: Vec<bool>,
}

/// A model and its like without defects.
#[derive(Clone, Debug)]
struct Sided {
    /// The board, with the section classes of this side.
    board: BoardStock,
    model: Model,
    clear: Model,
}

impl Sided {
    fn new(board: BoardStock, grid: Grid, side: Side, limits: BaseLimits) -> Sided {
        let clear = BoardStock { blocked: vec![vec![]; board.blocked.len()], ..board.clone() };
        let (model, clear) = (Model::new(&board, grid, side, limits), Model::new(&clear, grid, side, limits));
        Sided { board, model, clear }
    }
}

impl BoardEngine {
    /// Prepares a board; `None` when the stock is no board.
    pub fn new(stock: &Stock) -> Option<BoardEngine> {
        let Kind::Board(board) = &stock.kind else { return None };
        let grid = Grid::choose(board, stock.credit.as_ref());
        Some(BoardEngine::on_grid(board, stock.credit.as_ref(), grid, BaseLimits::default()))
    }

    /// Prepares a board with few widths of staves, for a first look: its layouts are lawful and its upper values proven, both are
    /// further apart. `None` when the stock is no board, or has few enough.
    pub fn coarse(stock: &Stock) -> Option<BoardEngine> {
        let Kind::Board(board) = &stock.kind else { return None };
        let grid = Grid::choose(board, stock.credit.as_ref());
        let thinned = thin::thinned(board);
        let (plan, bound) = thinned.as_ref().map_or((board, board), |(plan, bound)| (plan, bound));
        let simpler = thin::coarse(plan, bound)?;
        Some(BoardEngine::simplified(board, stock.credit.as_ref(), grid, BaseLimits::default(), Some(simpler)))
    }

    fn on_grid(board: &BoardStock, credit: Option<&Credit>, grid: Grid, limits: BaseLimits) -> BoardEngine {
        BoardEngine::simplified(board, credit, grid, limits, thin::thinned(board))
    }

    /// With a board for the plan and one for the bound in place of `board`, if they are given.
    fn simplified(
        board: &BoardStock,
        credit: Option<&Credit>,
        grid: Grid,
        limits: BaseLimits,
        thinned: Option<(BoardStock, BoardStock)>,
    ) -> BoardEngine {
        let exact = grid.exact && thinned.is_none() && model::bases_are_exact(board, limits);
        let (for_plan, for_bound) = thinned.unwrap_or_else(|| (board.clone(), board.clone()));
        let plan = Sided::new(for_plan, grid, if exact { Side::Both } else { Side::Plan }, limits);
        let bound = (!exact).then(|| Sided::new(for_bound, grid, Side::Bound, limits));
        let widest = &bound.as_ref().unwrap_or(&plan).model;
        let mut fits = vec![false; board.cuttings.len()];
        let parts = widest.rows.iter().flat_map(|row| &row.parts);
        parts.flat_map(|part| widest.families.widest_first(part.run)).for_each(|cutting| fits[cutting] = true);
        let (board, sound) = (board.clone(), SoundArea::new(board));
        BoardEngine { board, credit: credit.cloned(), sound, grid, plan, bound, fits }
    }

    /// The engine of a board that differs in the numbers of its items alone.
    pub fn renumbered(mut self, board: &BoardStock) -> BoardEngine {
        for sided in std::iter::once(&mut self.plan).chain(&mut self.bound) {
            sided.board.cuttings.clone_from(&board.cuttings);
        }
        BoardEngine { board: board.clone(), ..self }
    }

    /// Best layout by the prices of the pieces made and the credit of offcuts, each piece unlimited in number.
    ///
    /// `prices` are micro-units an item; a price below zero counts as zero, and what is worth nothing is not cut.
    pub fn best(&self, prices: &[i64], scratch: &mut Scratch, effort: Effort) -> Priced {
        self.solve(prices, &self.fits, &Usage::none(), scratch, effort, &never)
    }

    /// A quick bound on [`BoardEngine::best`]: strips as dense as the densest cutting of their width, no defects.
    pub fn cheap_upper(&self, prices: &[i64]) -> i64 {
        let worth = self.worth(prices, &self.fits);
        let board = &self.board;
        let room = i128::from(board.length - 2 * board.end_trim + board.kerf_cross).max(0);
        let density = board.classes.iter().map(|class| self.density(class, &worth)).max().unwrap_or(0);
        let margin = board.classes.iter().map(|class| class.end_margin).min().unwrap_or(0);
        let earned = self.credit.as_ref().map_or(0, |credit| {
            let area = (i128::from(board.width) * credit.rate_numerator) << DENSITY_BITS;
            area.div_euclid(credit.rate_denominator) + 1
        });
        if density == 0 && !cuts_for_nothing(&worth, &self.fits) {
            return 0;
        }
        let upper =
            (density * (room - 2 * i128::from(margin)).max(0)).max(if earned > density { earned * room } else { 0 });
        i64::try_from((upper >> DENSITY_BITS) + 1).unwrap_or(i64::MAX)
    }

    /// Value of each cutting that may be cut, micro-units.
    fn worth(&self, prices: &[i64], may: &[bool]) -> Vec<i64> {
        let value = |yields: &[(usize, u32)]| -> i64 {
            let sum: i128 = yields.iter().map(|&(item, n)| i128::from(prices[item].max(0)) * i128::from(n)).sum();
            sum.min(i128::from(i64::MAX / 4)) as i64
        };
        let cuttings = self.board.cuttings.iter().zip(may);
        cuttings.map(|(c, &may)| if may { value(&c.yields) } else { 0 }).collect()
    }

    /// Most value a tick of length that strips beside each other can have, times 2^[`DENSITY_BITS`], rounded up.
    fn density(&self, class: &super::problem::SectionClass, worth: &[i64]) -> i128 {
        let board = &self.board;
        let room = class.high - class.low + board.kerf_rip;
        let narrowest = class.strips.iter().map(|kind| kind.width + board.kerf_rip).min().unwrap_or(1);
        let step = (room / 128).clamp(1, narrowest.max(1));
        let mut best = vec![0; room.div_euclid(step).max(0) as usize + 1];
        for kind in &class.strips {
            let dense = kind.cuttings.iter().map(|&c| {
                let length = i128::from(board.cuttings[c].length + board.kerf_cross);
                ((i128::from(worth[c]) << DENSITY_BITS) + length - 1) / length
            });
            let dense = dense.max().unwrap_or(0);
            let cells = ((kind.width + board.kerf_rip) / step) as usize;
            for used in cells..best.len() {
                best[used] = (best[used - cells] + dense).max(best[used]);
            }
        }
        *best.last().unwrap_or(&0)
    }

    /// Values in `i32` are prices over this, rounded up.
    fn scale(&self, worth: &[i64]) -> i64 {
        let board = &self.board;
        let high = board.classes.iter().map(|c| c.high - c.low + board.kerf_rip).max().unwrap_or(0).max(0);
        let models = [Some(&self.plan), self.bound.as_ref()];
        let most = models.into_iter().flatten().flat_map(|sided| {
            board.cuttings.iter().zip(&sided.model.steps).zip(worth).map(|((cutting, &cells), &worth)| {
                // Strips from a lattice may overlap by less than half.
                let area = i128::from(cutting.width + board.kerf_rip) * cells.max(1) as i128;
                let room = i128::from(high) * 2 * (sided.model.last as i128 + 1);
                i128::from(worth) * room / area.max(1) + 1
            })
        });
        (most.max().unwrap_or(0) / MOST_VALUE + 1).min(i128::from(i64::MAX)) as i64
    }

    /// Best layout of cuttings that `may` be cut, within the limits of `usage`.
    fn solve(
        &self,
        prices: &[i64],
        may: &[bool],
        usage: &Usage,
        scratch: &mut Scratch,
        effort: Effort,
        stop: Stop,
    ) -> Priced {
        let worth = self.worth(prices, may);
        let (scaled, scale) = self.scaled(&worth);
        let found = self.chained(&self.plan, (&scaled, scale), usage, scratch, effort, stop);
        let bounding = self.bound.as_ref().filter(|_| effort.bounded);
        let bounding = bounding.map(|sided| self.chained(sided, (&scaled, scale), usage, scratch, effort, stop));
        let mut evaluations = found.as_ref().map_or(0, |f| f.evaluations);
        let mut upper = found.as_ref().map_or(0, |f| f.upper);
        if let Some(bounding) = &bounding {
            upper = bounding.as_ref().map_or(0, |b| b.upper);
            evaluations += bounding.as_ref().map_or(0, |b| b.evaluations);
        }
        let mut upper = in_money(upper, scale);
        if cuts_for_nothing(&worth, may) {
            upper = upper.max(self.whole_credit());
        }
        let layout = found.map(|f| f.layout).unwrap_or_default();
        let (value, counts) = self.value(&layout, prices);
        debug_assert_eq!(self.verified(&layout), Ok(()));
        Priced { layout, value, upper: upper.max(value), counts, evaluations }
    }

    /// Values in `i32`, rounded up, and what one of them is, micro-units.
    fn scaled(&self, worth: &[i64]) -> (Vec<i32>, i64) {
        let scale = self.scale(worth);
        (worth.iter().map(|&w| (-(-w).div_euclid(scale)) as i32).collect(), scale)
    }

    /// Credit by cell of the model of a side.
    fn credit_cells(&self, sided: &Sided, scale: i64) -> Option<CreditCells> {
        let model = &sided.model;
        let credit = self.credit.as_ref()?;
        Some(CreditCells::new(&sided.board, (credit, &self.sound), self.grid, model.last, model.side, scale))
    }

    /// What the whole board would earn as an offcut, micro-units rounded up; nothing where no offcut earns.
    fn whole_credit(&self) -> i64 {
        let Some(credit) = &self.credit else { return 0 };
        in_money(CreditCells::new(&self.board, (credit, &self.sound), self.grid, 0, Side::Bound, 1).whole(), 1)
    }

    fn verified(&self, layout: &BoardLayout) -> Result<(), String> {
        let kind = Kind::Board(self.board.clone());
        verify(&Stock { count: 1, cost: 0, credit: self.credit.clone(), kind, together: vec![], wider: None }, layout)
    }

    fn chained(
        &self,
        sided: &Sided,
        (worth, scale): (&[i32], i64),
        usage: &Usage,
        scratch: &mut Scratch,
        effort: Effort,
        stop: Stop,
    ) -> Option<Chained> {
        let (board, model) = (&sided.board, &sided.model);
        let priced = PricedModel::new(board, model, worth, usage);
        let clear = PricedModel::new(board, &sided.clear, worth, usage);
        let credit = self.credit_cells(sided, scale);
        let units =
            |micro: i64| i64::try_from(i128::from(micro) * i128::from(UNIT) / i128::from(scale)).unwrap_or(i64::MAX);
        let until =
            Until { evaluations: effort.starts, enough: units(effort.enough), slack: units(effort.slack), stop };
        Some(Search::new(board, &priced, &clear, credit.as_ref(), scratch)?.run(until, scratch))
    }

    /// What a layout is worth at some prices, and the pieces it makes.
    pub fn value(&self, layout: &BoardLayout, prices: &[i64]) -> (i64, Vec<u32>) {
        let mut counts = vec![0; prices.len()];
        let blanks = layout.sections.iter().flat_map(|section| &section.strips).flat_map(|strip| &strip.blanks);
        for blank in blanks {
            self.board.cuttings[blank.cutting].yields.iter().for_each(|&(item, n)| counts[item] += n);
        }
        let pieces: i64 = counts.iter().zip(prices).map(|(&n, &price)| i64::from(n) * price.max(0)).sum();
        let credit = self.credit.as_ref().map_or(0, |credit| self.sound.credit_of(credit, layout));
        (pieces + credit, counts)
    }
}

/// Units of the chain in money, micro-units rounded up.
fn in_money(units: i64, scale: i64) -> i64 {
    (-(-i128::from(units) * i128::from(scale)).div_euclid(i128::from(UNIT))) as i64
}

/// Fraction bits of a density.
const DENSITY_BITS: u32 = 20;

/// Something that may be cut has no price: a layout may live on credit alone.
fn cuts_for_nothing(worth: &[i64], may: &[bool]) -> bool {
    worth.iter().zip(may).any(|(&worth, &may)| may && worth == 0)
}
