//! Column generation: prices from the master, layouts from the engines, a bound from both.
//!
//! Each round solves the master, mixes its prices with those of the best bound so far (smoothing, Wentges 1997), asks
//! every engine for its best layout within the demand at the mixed prices, and takes the Lagrangian bound from the
//! engines' proven upper values. Engines remember from round to round which items they are short of, so that one
//! relaxation a round does; they search coarsely at first and exactly once columns dry up. Holds the pool of columns and
//! the bound; building answers is `construct`'s and `recombine`'s business.

use rayon::prelude::*;
use rustc_hash::FxHashSet;

use super::board::{Ask, Effort};
use super::bound::lagrangian;
use super::construct::Ground;
use super::engine::{Engine, Found, Memory, Scratch};
use super::master::{Column, Relaxed, relax};
use super::pack::Known;
use super::problem::Problem;
use super::problem::Stop;
use super::ways::Asked;

/// Thousandths of the master's prices in the mix; the rest is the prices of the best bound.
const SMOOTHING: i64 = 500;
/// Efforts of pricing, stage by stage: from few section starts to all, ever closer to the limits, at first with few widths
/// of staves.
const STAGES: [Effort; 6] = [
    Effort { states: 1, rounds: 1, ..Effort::starts(4) },
    Effort { states: 1, rounds: 1, ..Effort::starts(12) },
    Effort { states: 1, rounds: 2, coarse: true, ..Effort::EXACT },
    Effort { states: 4, rounds: 3, coarse: true, ..Effort::EXACT },
    Effort { states: 4, rounds: 3, ..Effort::EXACT },
    Effort { states: 12, rounds: 4, ..Effort::EXACT },
];
/// Efforts when a cut on the choice of stock is wanted, the more the more care is taken; two cares above none have the same.
const CUTTING: [Effort; 4] = [
    Effort { states: 12, rounds: 3, ..Effort::EXACT },
    Effort { states: 32, rounds: 4, ..Effort::EXACT },
    Effort { states: 64, rounds: 6, ..Effort::EXACT },
    Effort { states: 128, rounds: 8, ..Effort::EXACT },
];
/// With more care than this nothing new comes of it.
pub const MOST_CARE: usize = 2 * (CUTTING.len() - 1);
/// The same where just as much care is taken as is needed, with the part of a piece's cost that is close enough; and where the
/// first pricing of all stands.
const LADDER: [(Effort, i64); 7] = [
    (Effort { states: 4, rounds: 2, starts: 40, ..Effort::EXACT }, 100),
    (Effort { states: 4, rounds: 2, ..Effort::EXACT }, 100),
    (Effort { states: 12, rounds: 3, ..Effort::EXACT }, 100),
    (Effort { states: 25, rounds: 4, ..Effort::EXACT }, 200),
    (Effort { states: 50, rounds: 6, ..Effort::EXACT }, 500),
    (Effort { states: 125, rounds: 8, ..Effort::EXACT }, 500),
    (Effort { states: 250, rounds: 12, ..Effort::EXACT }, 500),
];
const FIRST: usize = 2;
/// How often a class of stock is priced at the same prices, at most.
const AGAIN: usize = 5;
/// A class is priced again when it makes up one part in so many of how near is asked for.
const FAR: i64 = 20;
/// Work it may have taken where it makes up all of that, in proportion where less.
const A_NEAR: i64 = 2000;
/// More care helped when it brought one part in so many of what was apart; there is less of it next time when it took so many
/// times the work that is worth it.
const HELPED: i64 = 8;
const TOO_DEAR: i64 = 8;
/// The same for stock that the choice leaves aside.
const ASIDE: Effort = Effort { states: 2, rounds: 2, ..Effort::EXACT };
/// Pricing that comes within this part of a piece's cost is close enough.
const SLACK: i64 = 500;
/// A bound that rises by less than this part of itself has not risen.
const RISE: i64 = 1000;
/// Reduced costs closer to zero than this share of the price level (micro-units) are the solver's noise.
const NOISE: i64 = 100;
/// Rounds without a better bound or a new column, at full effort, after which nothing more is expected.
const DRY: u32 = 2;
/// The bound is as good as the master when they are apart by no more than this share.
const MET: f64 = 2e-4;
/// A stage ends when its columns promise no more than this share of the master's value.
const PROMISE: f64 = 0.01;
/// The pool is pruned to this many columns a row when it has grown past twice that.
const COLUMNS_A_ROW: usize = 12;

/// What a cut is to say of a class of stock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Wanted {
    /// What it is worth.
    Exactly,
    /// The same, where it is worth more than it costs.
    IfWorthwhile,
    /// About as much.
    Roughly,
}

/// A look at all stock, for a cut on the choice of it.
#[derive(Clone, Copy)]
pub struct Look<'a> {
    /// By item, micro-units.
    pub prices: &'a [i64],
    /// Pieces by class; stock that is not chosen is looked at with less care.
    pub chosen: &'a [u32],
    /// By class, or empty: upper values at these prices that are known already, `i64::MAX` where none is.
    pub known: &'a [i64],
    pub care: usize,
}

/// What a look found.
pub struct Looked<'a> {
    pub look: Look<'a>,
    found: Vec<(usize, Found)>,
    memories: Vec<Memory>,
    uppers: Vec<i64>,
}

/// The state of column generation for one target.
pub struct Colgen {
    pub columns: Vec<Column>,
    seen: FxHashSet<Column>,
    /// Prices of the best bound.
    pub prices: Vec<i64>,
    /// Upper values at them, by class; empty before the first round.
    pub uppers: Vec<i64>,
    /// Shares of the columns in the last master.
    pub taken: Vec<f64>,
    /// The best bound, micro-units.
    pub bound: i64,
    /// No engine finds a layout that would improve the master: the bound is as good as the relaxation gets.
    pub converged: bool,
    /// A bound that is this near to the master's value is as good as it is, micro-units.
    pub near: i64,
    /// Stages at the end that are left out.
    pub spared: usize,
    pub caps: Vec<i64>,
    /// Pieces of stock, by class.
    left: Vec<f64>,
    /// Pieces of each item that an answer may make: those asked for, also where the target is less.
    pub most: Vec<u32>,
    /// What each class's engine remembers.
    pub memories: Vec<Memory>,
    /// By class of stock: with how much care it is priced where that is left open.
    levels: Vec<usize>,
    stage: usize,
    /// Price at the master's own prices, not at the mix.
    straight: bool,
    dry: u32,
    /// The first round prices at the opening prices.
    opening: bool,
}

impl Colgen {
    /// Starts from `prices`; `caps` are prices no item is worth more than in any sensible answer.
    pub fn new(problem: &Problem, prices: Vec<i64>, caps: Vec<i64>) -> Colgen {
        Colgen {
            columns: Vec::new(),
            seen: FxHashSet::default(),
            prices,
            uppers: Vec::new(),
            taken: Vec::new(),
            bound: 0,
            converged: false,
            near: 0,
            spared: 0,
            caps,
            left: problem.stock.iter().map(|s| f64::from(s.count)).collect(),
            most: problem.most(),
            memories: vec![Memory::default(); problem.stock.len()],
            levels: vec![FIRST; problem.stock.len()],
            stage: 0,
            straight: false,
            dry: 0,
            opening: true,
        }
    }

    /// Pricing looks at all section starts by now.
    pub fn is_exact(&self) -> bool {
        STAGES[self.stage].starts == Effort::EXACT.starts
    }

    /// What a search that goes on from here knows.
    pub fn known(&self) -> Known<'_> {
        Known { columns: &self.columns, memories: &self.memories, caps: &self.caps, prices: &self.prices }
    }

    /// Offers a layout to the pool.
    pub fn offer(&mut self, column: Column) -> bool {
        let fresh = column.within(&self.most) && self.seen.insert(column.clone());
        if fresh {
            self.columns.push(column);
        }
        fresh
    }

    /// One round; returns the work spent. Told to stop, it leaves everything as it was.
    pub fn round(&mut self, ground: &Ground, asked: &Asked, stop: Stop) -> u64 {
        let (master, rents, value) = if self.opening {
            (self.prices.clone(), vec![0; self.left.len()], f64::INFINITY)
        } else if let Some(relaxed) = relaxed(asked, &self.left, &self.columns, &self.caps) {
            self.taken = relaxed.taken;
            (relaxed.prices, relaxed.rents, relaxed.value)
        } else {
            // Without the solver's prices the bound stays as it is; the plans do not depend on it.
            self.converged = true;
            return 0;
        };
        let mixed: Vec<i64> = if self.straight {
            master.clone()
        } else {
            let mix = |(&m, &b): (&i64, &i64)| (m * SMOOTHING + b * (1000 - SMOOTHING)) / 1000;
            master.iter().zip(&self.prices).map(mix).collect()
        };
        let stage = STAGES[self.stage];
        // No more is wanted of a piece of stock than that it does not earn its cost, which is all the same to the bound.
        let cost = |s: usize| ground.problem.stock[s].cost;
        let effort = |s: usize| Some(Effort { enough: cost(s), slack: cost(s) / SLACK, ..stage });
        let priced = priced(ground, &mixed, &self.most, &mut self.memories, &effort, stop);
        let Some(found) = priced else { return 0 };
        self.opening = false;
        let work = found.iter().map(|(_, found)| found.work).sum();
        let uppers: Vec<i64> = found.iter().map(|(_, found)| found.upper).collect();
        let bound = lagrangian(ground.problem, asked.worth(&mixed), &uppers);
        let risen = bound > self.bound + self.bound / RISE;
        if bound > self.bound || self.uppers.is_empty() {
            self.bound = bound;
            self.prices.clone_from(&mixed);
            self.uppers = uppers;
        }
        let (improving, promise) = self.gather(ground, found, &mixed, &master, &rents);
        self.advance(improving > 0, promise as f64 / value.max(1.0), risen, value);
        if !self.converged {
            self.prune(ground.problem.items.len() + ground.problem.stock.len());
        }
        work
    }

    /// Offers what pricing found; returns how many layouts improve the master, and by how much together.
    fn gather(
        &mut self,
        ground: &Ground,
        found: Vec<(usize, Found)>,
        prices: &[i64],
        master: &[i64],
        rents: &[i64],
    ) -> (usize, i64) {
        let (mut improving, mut promise) = (0, 0);
        for (stock, found) in found {
            let mut most = 0;
            for column in ground.columns(stock, found, &self.memories[stock], prices) {
                let gain = column.worth(master) - column.net - rents[stock];
                if gain > NOISE && self.offer(column) {
                    improving += 1;
                    most = most.max(gain);
                }
            }
            promise += most;
        }
        (improving, promise)
    }

    /// Decides how the next round searches.
    fn advance(&mut self, improving: bool, promise: f64, risen: bool, value: f64) {
        let last = self.stage + 1 + self.spared >= STAGES.len();
        let near = (MET * value).max(self.near as f64);
        if value.is_finite() && value - self.bound as f64 <= near && last {
            self.converged = true;
        } else if !last && (promise < PROMISE && value.is_finite() || !improving) {
            self.stage += 1;
            self.dry = 0;
        } else if !improving && !self.straight {
            self.straight = true;
        } else {
            self.straight = !improving;
            self.dry = if risen || !last { 0 } else { self.dry + 1 };
            self.converged = self.dry >= if improving { 2 * DRY } else { DRY };
        }
    }

    /// A look at all stock; the layouts found join the pool. Returns the upper values and the work spent; `None` when told to stop.
    pub fn price(&mut self, ground: &Ground, look: Look, stop: Stop) -> Option<(Vec<i64>, u64)> {
        self.look(ground, look, stop).map(|looked| self.take(ground, looked))
    }

    /// The same, without a word of it kept yet.
    pub fn look<'l>(&self, ground: &Ground, look: Look<'l>, stop: Stop) -> Option<Looked<'l>> {
        let Look { prices, chosen, known, care } = look;
        let cutting = CUTTING[care.div_ceil(2).min(CUTTING.len() - 1)];
        let slack = |s: usize| ground.problem.stock[s].cost / SLACK;
        let effort = |s: usize| Effort { slack: slack(s), ..if chosen[s] > 0 { cutting } else { ASIDE } };
        let mut uppers: Vec<i64> = (0..chosen.len()).map(|s| known.get(s).copied().unwrap_or(i64::MAX)).collect();
        let mut memories = self.memories.clone();
        let effort = |s: usize| (uppers[s] == i64::MAX).then(|| effort(s));
        let found = priced(ground, prices, &self.most, &mut memories, &effort, stop)?;
        found.iter().for_each(|(s, found)| uppers[*s] = found.upper);
        Some(Looked { look, found, memories, uppers })
    }

    /// Several looks at the same time, those that were not told to stop.
    pub fn look_each<'l>(&self, ground: &Ground, looks: &[Look<'l>], stop: Stop) -> Vec<Looked<'l>> {
        looks.par_iter().filter_map(|&look| self.look(ground, look, stop)).collect()
    }

    /// Keeps what a look found: layouts, and what was learned of the stock that was looked at with care. Returns the upper values and the
    /// work spent.
    pub fn take(&mut self, ground: &Ground, looked: Looked) -> (Vec<i64>, u64) {
        let Looked { look, found, mut memories, uppers } = looked;
        let work = self.learn(ground, look.prices, found, &memories);
        for (s, known) in self.memories.iter_mut().enumerate().filter(|(s, _)| look.chosen[*s] > 0) {
            *known = std::mem::take(&mut memories[s]);
        }
        (uppers, work)
    }

    /// As [`Colgen::price`], with just as much care as each class of stock needs for the layouts found and what is proven of all
    /// others to be no further apart, together, than `near`: those that are furthest are priced again, with more.
    pub fn price_as(
        &mut self,
        ground: &Ground,
        prices: &[i64],
        wanted: &[Wanted],
        near: i64,
        stop: Stop,
    ) -> Option<(Vec<i64>, u64)> {
        let stock = &ground.problem.stock;
        let mut again: Vec<bool> = vec![true; stock.len()];
        let (mut uppers, mut values, mut works) =
            (vec![i64::MAX; stock.len()], vec![0; stock.len()], vec![0; stock.len()]);
        let (mut before, mut work) = (vec![i64::MAX; stock.len()], 0);
        for _ in 0..AGAIN {
            let levels = self.levels.clone();
            let effort = |s: usize| {
                let (cost, (effort, part)) = (stock[s].cost, LADDER[levels[s]]);
                let effort = match wanted[s] {
                    Wanted::Exactly => Effort { slack: cost / part, ..effort },
                    Wanted::IfWorthwhile => Effort { slack: cost / part, enough: cost, ..effort },
                    Wanted::Roughly => Effort { slack: cost, enough: cost, ..ASIDE },
                };
                again[s].then_some(effort)
            };
            let found = priced(ground, prices, &self.most, &mut self.memories, &effort, stop)?;
            for (s, found) in &found {
                uppers[*s] = found.upper.min(uppers[*s]);
                values[*s] = (found.worth + found.credit).max(values[*s]);
                works[*s] = found.work;
            }
            let memories = std::mem::take(&mut self.memories);
            work += self.learn(ground, prices, found, &memories);
            self.memories = memories;
            let apart = |s: usize| {
                let least = match wanted[s] {
                    Wanted::Exactly => values[s],
                    Wanted::IfWorthwhile => values[s].max(stock[s].cost),
                    Wanted::Roughly => uppers[s],
                };
                (uppers[s] - least).max(0)
            };
            let all: i64 = (0..stock.len()).map(apart).sum();
            for s in 0..stock.len() {
                // More care is worth the more work the further apart it still is, and nothing where it did not help.
                let (apart, taken) = (apart(s), works[s] as i64);
                let worth = apart.saturating_mul(A_NEAR) / near.max(1);
                let helped = apart < before[s] - before[s] / HELPED;
                let higher = self.levels[s] + 1 < LADDER.len();
                again[s] = all > near && apart * FAR >= near && worth >= taken && helped && higher;
                if again[s] {
                    self.levels[s] += 1;
                } else if worth < taken / TOO_DEAR {
                    self.levels[s] = self.levels[s].saturating_sub(1);
                }
                before[s] = apart;
            }
            if !again.contains(&true) {
                break;
            }
        }
        Some((uppers, work))
    }

    /// The layouts that pricing found join the pool; returns the work spent.
    fn learn(&mut self, ground: &Ground, prices: &[i64], found: Vec<(usize, Found)>, memories: &[Memory]) -> u64 {
        let work = found.iter().map(|(_, found)| found.work).sum();
        for (stock, found) in found {
            for column in ground.columns(stock, found, &memories[stock], prices) {
                self.offer(column);
            }
        }
        work
    }

    /// Pieces of each class of stock that the last master took, parts of pieces too.
    pub fn used(&self) -> Vec<f64> {
        let mut used = vec![0.0; self.left.len()];
        self.taken.iter().zip(&self.columns).for_each(|(taken, column)| used[column.stock] += taken);
        used
    }

    /// The prices of the relaxation when just `chosen` pieces of each class are bought, or parts of pieces, whatever is cut
    /// from them.
    pub fn prices_of(&self, problem: &Problem, asked: &Asked, chosen: &[f64]) -> Vec<i64> {
        let bought: Vec<Column> = self
            .columns
            .iter()
            .filter(|column| chosen[column.stock] > 0.0)
            .map(|column| Column { net: column.net - problem.stock[column.stock].cost, ..column.clone() })
            .collect();
        relaxed(asked, chosen, &bought, &self.caps).map_or_else(|| self.prices.clone(), |relaxed| relaxed.prices)
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

/// The best layout within `most` at `prices` of every class that has an effort, by class, unless told to stop.
fn priced(
    ground: &Ground,
    prices: &[i64],
    most: &[u32],
    memories: &mut [Memory],
    effort: &(dyn Fn(usize) -> Option<Effort> + Sync),
    stop: Stop,
) -> Option<Vec<(usize, Found)>> {
    let price = |scratch: &mut Scratch, (s, (engine, memory)): (usize, (&Engine, &mut Memory))| {
        let ask = |effort| Ask { prices, limits: most, effort, stop };
        (!stop()).then(|| effort(s).map(|effort| (s, engine.recalling(ask(effort), memory, scratch))))
    };
    let all = ground.engines.par_iter().zip(memories).enumerate();
    let found: Option<Vec<_>> = all.map_init(Scratch::default, price).collect();
    Some(found?.into_iter().flatten().collect())
}

/// The master over what is asked for. Every group is a stock of its own, of as many pieces as it has ways but one, each of
/// which makes good all pieces of one way: those of the way that is left have to be cut.
fn relaxed(asked: &Asked, left: &[f64], columns: &[Column], caps: &[i64]) -> Option<Relaxed> {
    if asked.groups.is_empty() {
        return relax(&asked.pieces, left, columns, caps);
    }
    let (mut target, mut left_of, mut all) = (asked.pieces.clone(), left.to_vec(), columns.to_vec());
    for ways in &asked.groups {
        for way in ways {
            way.iter().for_each(|&(item, n)| target[item] += n);
            all.push(Column::given(left_of.len(), way.clone(), 0));
        }
        left_of.push(ways.len().saturating_sub(1) as f64);
    }
    let mut relaxed = relax(&target, &left_of, &all, caps)?;
    relaxed.taken.truncate(columns.len());
    relaxed.rents.truncate(left.len());
    Some(relaxed)
}
