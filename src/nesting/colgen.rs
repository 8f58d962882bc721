//! Column generation: prices from the master, layouts from the engines, a bound from both.
//!
//! Each round solves the master, mixes its prices with those of the best bound so far (smoothing, Wentges 1997), asks
//! every engine for its best layout at the mixed prices, and takes the Lagrangian bound from the engines' proven upper
//! values. Holds the pool of columns and the bound; building answers is `construct`'s and `improve`'s business.

use rayon::prelude::*;
use rustc_hash::FxHashSet;

use super::board::Effort;
use super::bound::lagrangian;
use super::choice::Choice;
use super::construct::Ground;
use super::engine::Scratch;
use super::master::{Column, relax};
use super::problem::Problem;

/// Thousandths of the master's prices in the mix; the rest is the prices of the best bound.
const SMOOTHING: i64 = 500;
/// Effort of pricing within the demand: more rounds raise the bound less than more prices do.
const PROPER: Effort = Effort { rounds: 4, ..Effort::EXACT };
/// Effort when a choice of stock was priced before and its cut did not remove it.
const THOROUGH: Effort = Effort::EXACT;
/// Reduced costs closer to zero than this share of the price level (micro-units) are the solver's noise.
const NOISE: i64 = 100;
/// The pool is pruned to this many columns a row when it has grown past twice that.
const COLUMNS_A_ROW: usize = 12;

/// The state of column generation for one target.
pub struct Colgen {
    pub columns: Vec<Column>,
    seen: FxHashSet<Column>,
    /// Prices of the best bound.
    pub prices: Vec<i64>,
    /// Shares of the columns in the last master.
    pub taken: Vec<f64>,
    /// The best bound, micro-units.
    pub bound: i64,
    /// No engine finds a layout that would improve the master: the bound is as good as the relaxation gets.
    pub converged: bool,
    pub caps: Vec<i64>,
    /// Pieces of stock, by class.
    left: Vec<u32>,
    /// Pieces of each item that an answer may make: those asked for, also where the target is less.
    most: Vec<u32>,
    exact: bool,
    /// The first round prices at the opening prices.
    opening: bool,
    /// Layouts are priced within the target: dearer to find, closer to the truth.
    pub proper: bool,
}

impl Colgen {
    /// Starts from `prices`; `caps` are prices no item is worth more than in any sensible answer.
    pub fn new(problem: &Problem, prices: Vec<i64>, caps: Vec<i64>) -> Colgen {
        Colgen {
            columns: Vec::new(),
            seen: FxHashSet::default(),
            prices,
            taken: Vec::new(),
            bound: 0,
            converged: false,
            caps,
            left: problem.stock.iter().map(|s| s.count).collect(),
            most: problem.items.iter().map(|i| i.demand.saturating_add(i.excess)).collect(),
            exact: false,
            opening: true,
            proper: false,
        }
    }

    /// Offers a layout to the pool.
    pub fn offer(&mut self, column: Column) -> bool {
        let fresh = self.seen.insert(column.clone());
        if fresh {
            self.columns.push(column);
        }
        fresh
    }

    /// One round; returns the number of layouts computed.
    pub fn round(&mut self, ground: &Ground, target: &[u32]) -> u64 {
        let (master, rents) = if self.opening {
            self.opening = false;
            (self.prices.clone(), vec![0; self.left.len()])
        } else if let Some(relaxed) = relax(target, &self.left, &self.columns, &self.caps) {
            self.taken = relaxed.taken;
            (relaxed.prices, relaxed.rents)
        } else {
            // Without the solver's prices the bound stays as it is; the plans do not depend on it.
            self.converged = true;
            return 0;
        };
        let smooth = !self.exact;
        let mixed: Vec<i64> = if smooth {
            let mix = |(&m, &b): (&i64, &i64)| (m * SMOOTHING + b * (1000 - SMOOTHING)) / 1000;
            master.iter().zip(&self.prices).map(mix).collect()
        } else {
            master.clone()
        };
        let (proper, most) = (self.proper, &self.most);
        let found: Vec<_> = ground
            .engines
            .par_iter()
            .zip(&ground.problem.stock)
            .map_init(Scratch::default, |scratch, (engine, stock)| {
                // A piece proven not to earn its cost adds nothing to the bound, however little it earns.
                let effort = Effort { enough: stock.cost, ..PROPER };
                if proper {
                    engine.best_within(&mixed, most, scratch, effort)
                } else {
                    engine.best(&mixed, scratch, effort)
                }
            })
            .collect();
        let uppers: Vec<i64> = found.iter().map(|f| f.upper).collect();
        let bound = lagrangian(ground.problem, &mixed, target, &uppers);
        let risen = bound > self.bound;
        if risen {
            self.bound = self.bound.max(bound);
            self.prices = mixed;
        }
        let mut improving = 0;
        for (stock, f) in found.into_iter().enumerate() {
            let rent = rents[stock];
            if let Some(column) = Column::new(ground.problem, stock, f)
                && column.worth(&master) - column.net - rent > NOISE
            {
                improving += usize::from(self.offer(column));
            }
        }
        if improving == 0 {
            // Nothing new at mixed prices: ask again at the master's own, exactly; then there is nothing left.
            if self.exact && !risen {
                self.converged = self.proper;
                self.keep_proper();
            } else {
                self.exact = true;
            }
        } else {
            self.exact = false;
        }
        self.prune(ground.problem.items.len() + ground.problem.stock.len());
        ground.engines.len() as u64
    }

    /// Prices every class at `prices`, within the demand, and hands the cut to `choice`; the layouts found join the pool.
    /// `thoroughly`: for closer upper values, at many times the price.
    pub fn price(&mut self, ground: &Ground, target: &[u32], prices: &[i64], choice: &mut Choice, thoroughly: bool) {
        let effort = if thoroughly { THOROUGH } else { PROPER };
        let most = &self.most;
        let found: Vec<_> = ground
            .engines
            .par_iter()
            .map_init(Scratch::default, |scratch, engine| engine.best_within(prices, most, scratch, effort))
            .collect();
        let uppers: Vec<i64> = found.iter().map(|f| f.upper).collect();
        choice.add(ground.problem, prices, target, &uppers);
        for (stock, f) in found.into_iter().enumerate() {
            if let Some(column) = Column::new(ground.problem, stock, f) {
                self.offer(column);
            }
        }
    }

    /// The prices of the relaxation when just `chosen` pieces of each class are bought, whatever is cut from them.
    pub fn prices_of(&self, problem: &Problem, target: &[u32], chosen: &[u32]) -> Vec<i64> {
        let bought: Vec<Column> = self
            .columns
            .iter()
            .filter(|column| chosen[column.stock] > 0)
            .map(|column| Column { net: column.net - problem.stock[column.stock].cost, ..column.clone() })
            .collect();
        relax(target, chosen, &bought, &self.caps).map_or_else(|| self.prices.clone(), |relaxed| relaxed.prices)
    }

    /// From here on only layouts within the demand count: with the others in the master its prices would never move.
    fn keep_proper(&mut self) {
        self.proper = true;
        self.exact = false;
        let (seen, most) = (&mut self.seen, &self.most);
        self.columns.retain(|column| {
            let kept = column.within(most);
            if !kept {
                seen.remove(column);
            }
            kept
        });
        self.taken.clear();
    }

    /// Forgets columns of no share once there are too many.
    fn prune(&mut self, rows: usize) {
        let keep = rows * COLUMNS_A_ROW;
        if self.columns.len() <= 2 * keep || self.taken.is_empty() {
            return;
        }
        let known = self.taken.len();
        let mut index = 0;
        let (taken, seen) = (&self.taken, &mut self.seen);
        self.columns.retain(|column| {
            let kept = index >= known || taken[index] > 1e-7;
            index += 1;
            if !kept {
                seen.remove(column);
            }
            kept
        });
        self.taken.clear();
    }
}
