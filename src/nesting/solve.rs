//! The run: first plan, prices and bound, better plans, and when to stop.
//!
//! Phases share one incumbent. Their order and lengths are counted in work (layouts computed), never in time, so that a
//! seed and a work limit decide everything; the clock and the caller's flag can only end the run.

use std::time::Instant;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

use super::board::Effort;
use super::construct::{FILLING, Ground, Judge, Wish, construct, make_way};
use super::engine::{Engine, Scratch};
use super::layout::{Outcome, Why};
use super::problem::{Kind, Limits, Problem, Progress, Stock, Stop, never};
use super::solution::{Solution, copies_made, whole_copies};
use super::split::Split;
use super::sticks;
use super::subset;
use super::ways::Asked;

/// Sequential value correction tries this many times to make everything before the job is called short.
const ATTEMPTS: usize = 24;
/// The first ones take a light look at the stock: the refinement makes more of a plan than care here does.
const LIGHT: usize = 3;
const FIRST_LOOK: Effort = Effort { states: 1, rounds: 1, ..Effort::starts(3) };
/// What a try leaves unmade is made in place of something else, until that has come to no less so many times in a row: where it
/// is much, and where it is less than one part in `LITTLE` of all.
const PATIENCE: usize = 8;
const MORE_PATIENCE: usize = 40;
const LITTLE: i128 = 200;
/// Each time prices of what is left unmade rise by so many steps.
const RISES: usize = 3;
/// Once so much work is spent on that, three tries are enough.
const OPENING: u64 = 10_000;
/// Money differences up to this (micro-units) do not count: one hundredth of the currency unit.
const CENT: i64 = 10_000;

/// Solves the problem within the limits. The same problem, seed and work limit give the same layouts on any number of
/// threads when the clock and the caller do not interfere.
pub fn solve(problem: &Problem, limits: &Limits) -> Outcome {
    solve_knowing(problem, limits, &Hint::default())
}

/// What is known of a problem before it is solved.
#[derive(Clone, Debug, Default)]
pub struct Hint {
    /// By item: prices near those of the relaxation, micro-units.
    pub prices: Option<Vec<i64>>,
    /// No answer that makes everything costs less, micro-units.
    pub bound: i64,
}

/// As [`solve`], with a start.
pub fn solve_knowing(problem: &Problem, limits: &Limits, hint: &Hint) -> Outcome {
    if let Some(outcome) = sticks::outcome(problem, limits) {
        return outcome;
    }
    with_threads(limits.threads, || Run::new(problem, limits).go(hint))
}

/// Does `work` with so many threads, 0 being one a core.
pub(crate) fn with_threads<T: Send>(threads: usize, work: impl FnOnce() -> T + Send) -> T {
    let threads = if threads == 0 { num_threads() } else { threads };
    match rayon::ThreadPoolBuilder::new().num_threads(threads).build() {
        Ok(pool) => pool.install(work),
        // A machine that cannot start threads still does it, on the caller's own.
        Err(_) => work(),
    }
}

/// Price of a piece where only their number counts, micro-units: far above what the effort of a look lets go.
const A_PIECE: i64 = 100_000_000;

/// As many pieces as one piece of stock gives by a single look, at most `limits[item]` of each item: what could be made of it,
/// no proof of what could not.
pub fn most_of(stock: &Stock, limits: &[u32]) -> Vec<u32> {
    let found =
        Engine::new(stock).best_within(&vec![A_PIECE; limits.len()], limits, &mut Scratch::default(), Effort::EXACT);
    let mut counts = vec![0; limits.len()];
    found.counts.into_iter().for_each(|(item, count)| counts[item] = count);
    counts
}

fn num_threads() -> usize {
    std::thread::available_parallelism().map_or(1, usize::from)
}

struct Run<'a> {
    problem: &'a Problem,
    limits: &'a Limits<'a>,
    start: Instant,
    engines: Vec<Engine>,
    best: Solution,
    work: u64,
}

impl<'a> Run<'a> {
    fn new(problem: &'a Problem, limits: &'a Limits<'a>) -> Run<'a> {
        let start = Instant::now();
        let engines = problem.stock.par_iter().map(Engine::new).collect();
        Run { problem, limits, start, engines, best: Solution::empty(problem), work: 0 }
    }

    fn go(mut self, hint: &Hint) -> Outcome {
        let demand: Vec<u32> = self.problem.items.iter().map(|i| i.demand).collect();
        let prices = opening_prices(self.problem);
        self.open(&demand, &prices);
        let mut shortage_proven = vec![false; demand.len()];
        if !self.best.complete(self.problem, &demand) {
            let report = |made: &Solution| self.report(made.cost, 0, &made.made, &demand);
            let subset = subset::chosen(&self.ground(), &self.best, &prices, self.limits, self.work, &report);
            self.work += subset.work;
            (self.best, shortage_proven) = (subset.answer, subset.proven);
        }
        let target = whole_copies(self.problem, &copies_made(self.problem, &self.best.made));
        let (why, bound) = if target.iter().all(|&n| n == 0) {
            self.best = Solution::empty(self.problem);
            (Why::Proven, 0)
        } else {
            let bound = if target == demand { hint.bound } else { 0 };
            self.refine(&target, hint.prices.as_ref().unwrap_or(&prices), bound)
        };
        Outcome {
            layouts: self.best.layouts(),
            made: self.best.made.clone(),
            cost: self.best.cost,
            bound,
            proof: "Lagrangian bound over column generation and whole choices of stock",
            shortage_proven,
            why,
            work: self.work,
        }
    }

    fn ground(&self) -> Ground<'_> {
        Ground { problem: self.problem, engines: &self.engines }
    }

    fn report(&self, cost: i64, bound: i64, made: &[u32], target: &[u32]) {
        (self.limits.progress)(&Progress {
            seconds: self.start.elapsed().as_secs_f64(),
            made: made.iter().zip(target).map(|(&made, &asked)| u64::from(made.min(asked))).sum(),
            asked: target.iter().map(|&n| u64::from(n)).sum(),
            cost,
            bound,
        });
    }

    /// Keeps the better answer.
    fn keep(&mut self, candidate: &Solution, target: &[u32]) {
        if candidate.merit(self.problem).beats(&self.best.merit(self.problem)) {
            self.best = candidate.clone();
            self.report(self.best.cost, 0, &self.best.made, target);
        }
    }

    /// First plans: with the prices of what was left unmade raised from one to the next (sequential value correction),
    /// until everything is made or the attempts run out.
    fn open(&mut self, demand: &[u32], prices: &[i64]) {
        let mut scratch = Scratch::default();
        let everything = self.ground().unused(&Solution::empty(self.problem));
        let mut rng = ChaCha8Rng::seed_from_u64(self.limits.seed);
        let mut tried = prices.to_vec();
        let all = Asked::from(demand).worth(prices);
        let limits = self.limits;
        let stop = || limits.called_off().is_some();
        for attempt in 0..ATTEMPTS {
            if attempt >= LIGHT && self.work > OPENING {
                return;
            }
            let judge = if attempt % 2 == 0 { Judge::Ratio } else { Judge::Profit };
            let effort = if attempt < LIGHT { FIRST_LOOK } else { FILLING };
            let stop: Stop = if attempt == 0 { &never } else { &stop };
            let mut solution = Solution::empty(self.problem);
            let (mut least, mut tries) = (i128::MAX, 0);
            loop {
                let (ground, wish) = (self.ground(), Wish { target: demand, prices: &tried, judge, effort, stop });
                self.work += if solution.placed.is_empty() {
                    construct(&ground, &mut solution, wish, &everything, &mut scratch)
                } else {
                    make_way(&ground, &mut solution, wish, &mut scratch)
                };
                self.keep(&solution, demand);
                if solution.complete(self.problem, demand) || limits.called_off().is_some() {
                    return;
                }
                let wanted = solution.wanted(demand);
                (0..RISES).for_each(|_| raise(self.problem, &mut tried, &wanted, &mut rng));
                let lacking = Asked::from(&wanted[..]).worth(prices);
                let allowed = if lacking < all / LITTLE { MORE_PATIENCE } else { PATIENCE };
                tries = if lacking < least { 0 } else { tries + 1 };
                if tries >= allowed {
                    break;
                }
                least = least.min(lacking);
            }
        }
    }

    /// Prices and bound, and better answers, component by component, until something ends the run.
    fn refine(&mut self, target: &[u32], prices: &[i64], known: i64) -> (Why, i64) {
        let engines = std::mem::take(&mut self.engines);
        let mut split = Split::new(self.problem, engines, target, &self.best, prices, self.limits.seed);
        split.components.iter_mut().for_each(|component| component.settle_sticks(self.limits));
        let opening = self.work;
        let stop = || self.limits.called_off().is_some();
        let bound = |split: &Split| split.bound().max(known);
        let (mut shown, mut why) = ((self.best.cost, 0), None);
        while why.is_none() {
            // A work limit, however small, leaves room for one bound.
            let bounded = split.components.iter().all(|c| c.rounds_of_bound > 0);
            let spent = self.limits.work.is_some_and(|most| opening + split.work() >= most);
            why = closed(split.cost(), bound(&split), self.limits.gap).or_else(|| self.limits.called_off());
            if why.is_none() && spent && bounded {
                why = Some(Why::Work);
            }
            if why.is_none() || !bounded && why != Some(Why::Cancelled) {
                split.step(&stop);
            }
            let now = (split.cost(), bound(&split));
            if now != shown {
                shown = now;
                self.report(now.0, now.1, target, target);
            }
        }
        self.work = opening + split.work();
        let bound = bound(&split);
        self.best = split.whole(self.problem);
        (why.unwrap_or(Why::Work), bound)
    }
}

/// Cost and bound (micro-units) are so near that the answer counts as a best one.
pub fn is_proven(cost: i64, bound: i64) -> bool {
    cost - bound <= CENT.max(cost / 2000)
}

/// Raises the prices of items that were left unmade, the more the more important they are, and shakes all a little.
pub(super) fn raise(problem: &Problem, prices: &mut [i64], wanted: &[u32], rng: &mut ChaCha8Rng) {
    let lowest = problem.products.iter().map(|p| p.priority).min().unwrap_or(0);
    for (i, item) in problem.items.iter().enumerate() {
        let product = &problem.products[item.product];
        let rise = if wanted[i] > 0 { 1300 + 200 * i64::from((product.priority - lowest).clamp(0, 10)) } else { 1000 };
        prices[i] = (prices[i] / 1000).saturating_mul(rise + rng.random_range(-50..=50)).clamp(1, i64::MAX / 1_000_000);
    }
}

/// Why the search is done when the best answer costs so much and the bound stands there.
fn closed(cost: i64, bound: i64, gap: f64) -> Option<Why> {
    if is_proven(cost, bound) {
        return Some(Why::Proven);
    }
    ((cost - bound) as f64 <= gap * cost as f64).then_some(Why::Gap)
}

/// Shape factors of the opening prices, thousandths: a piece is worth its share of the stock, more so when it is wide or
/// long for it, since such pieces are the hardest to place; then the usual waste on top. Plain shares starve wide parts.
const SHARE: i128 = 800;
const FOR_WIDTH: i128 = 700;
const FOR_LENGTH: i128 = 600;
const WASTE: i128 = 1500;

/// Prices to begin with: the cheapest share of a piece of stock that an item takes, weighted by its shape; micro-units.
pub(super) fn opening_prices(problem: &Problem) -> Vec<i64> {
    let mut prices = vec![i64::MAX; problem.items.len()];
    for stock in &problem.stock {
        let mut offer = |item: usize, pieces: u32, length: i64, width: i64, of_length: i64, of_width: i64| {
            let thousandths = |part: i64, whole: i64| i128::from(part) * 1000 / i128::from(whole.max(1));
            let (l, w) = (thousandths(length, of_length), thousandths(width, of_width));
            let weight = SHARE + FOR_WIDTH * w / 1000 + FOR_LENGTH * l / 1000;
            let share = i128::from(stock.cost.max(1)) * l * w / 1_000_000 * weight / 1000 * WASTE / 1000;
            let each = i64::try_from(share / i128::from(pieces.max(1))).unwrap_or(i64::MAX);
            prices[item] = prices[item].min(each.max(1));
        };
        match &stock.kind {
            Kind::Board(board) => {
                let mut held = vec![false; board.cuttings.len()];
                let strips = board.classes.iter().flat_map(|class| &class.strips);
                strips.flat_map(|strip| &strip.cuttings).for_each(|&c| held[c] = true);
                for (c, _) in board.cuttings.iter().zip(&held).filter(|(_, held)| **held) {
                    let pieces = c.yields.iter().map(|&(_, n)| n).sum();
                    for &(item, _) in &c.yields {
                        offer(item, pieces, c.length, c.width, board.length, board.width);
                    }
                }
            }
            Kind::Sheet(sheet) => {
                for p in &sheet.pieces {
                    offer(p.item, 1, p.length, p.width, sheet.length, sheet.width);
                }
            }
            Kind::Stick(stick) => {
                for &(item, length) in &stick.pieces {
                    offer(item, 1, length, 1, stick.length, 1);
                }
            }
        }
    }
    for price in &mut prices {
        if *price == i64::MAX {
            *price = 1;
        }
    }
    prices
}
