//! What is made when the stock cannot make everything: by level of priority from the highest, the copies worth most.
//!
//! A quick rule finds copies to begin with. Then each level in turn: the relaxation in which layouts are free and unmade copies
//! cost their value (`shortage`'s) says what cannot be had and leaves layouts behind, which `recombine` puts together for the
//! greatest worth, with what is more important held by prices it cannot gain against. Only whole copies count, compared level
//! by level, so a price decides nothing but where to look. What the copies cost is not asked here.

use std::cmp::Ordering;

use super::board::Ask;
use super::construct::{FILLING, Ground, Judge, Wish, construct};
use super::engine::Scratch;
use super::problem::{Limits, Problem, never};
use super::recombine::{Recombination, Sought};
use super::shortage::Shortage;
use super::solution::{Placed, Solution, copies_made, priority_levels, whole_copies};

/// With so much work spent the quick rule looks for no more copies; no limit allows less.
const QUICK: u64 = 4_000;
/// One part in so many of the time or work there is goes to the choice of copies.
const SHARE: u32 = 2;
/// Rounds of recombination in a level without better copies, after which nothing more is expected.
const PATIENCE: u32 = 60;
/// The dearest copy of the level in question is worth so many of the dearest pieces of stock, and no more than so much,
/// micro-units: the engines' sums of prices stay far within their integers.
const DEAREST: i64 = 1 << 13;
const MOST: i64 = 1_000_000_000_000;
/// What is more important is worth so many times as much for its area as anything of the level.
const ABOVE: i64 = 4;
/// The dearest copy of what is less important is worth so many of the dearest pieces of stock: enough to be made in passing.
const BELOW: i64 = 16;

/// Copies chosen.
pub struct Subset {
    /// Makes just these, in whole copies.
    pub answer: Solution,
    /// By item: that no more is made is proven unavoidable.
    pub proven: Vec<bool>,
    pub work: u64,
}

/// Chooses what to make, from an answer that is short and prices to build more of them at; `spent` of the work that `limits`
/// allow is gone. Better choices are reported.
pub fn chosen(
    ground: &Ground,
    short: &Solution,
    prices: &[i64],
    limits: &Limits,
    spent: u64,
    report: &dyn Fn(&Solution),
) -> Subset {
    let share = Limits { work: limits.work.map(|work| work.saturating_sub(spent)), ..*limits }.part(0, SHARE);
    let (stop, end) = (|| share.called_off().is_some(), || limits.called_off().is_some());
    let best = Solution::empty(ground.problem);
    let mut search = Search { ground, report, best, work: 0, scratch: Scratch::default() };
    search.quickly(short, prices, &share);
    let mut shortage = Shortage::new(ground, &stop);
    let levels = priority_levels(ground.problem);
    for (&level, left) in levels.iter().zip((1..=levels.len() as u32).rev()) {
        search.level(level, &mut shortage, &share.part(search.work, left));
    }
    // Proofs, of which there are so many and no more, may take of the time that is left.
    shortage.heed(&end);
    let proven = shortage.proven(&copies_made(ground.problem, &search.best.made));
    Subset { answer: search.best, proven, work: search.work }
}

struct Search<'a> {
    ground: &'a Ground<'a>,
    report: &'a dyn Fn(&Solution),
    best: Solution,
    work: u64,
    scratch: Scratch,
}

impl Search<'_> {
    /// Keeps an answer in whole copies if it makes better ones, or the same for less.
    fn keep(&mut self, candidate: Solution) -> bool {
        let problem = self.ground.problem;
        let better = candidate.merit(problem).beats(&self.best.merit(problem));
        if better {
            self.best = candidate;
            (self.report)(&self.best);
        }
        better
    }

    /// From the copies of a known answer, or from none when they cannot be made alone: as many more of each product as fit, the
    /// most important first.
    fn quickly(&mut self, short: &Solution, prices: &[i64], limits: &Limits) {
        let problem = self.ground.problem;
        let products = &problem.products;
        let mut order: Vec<usize> = (0..products.len()).collect();
        order.sort_by_key(|&p| std::cmp::Reverse((products[p].priority, products[p].value)));
        let reached = copies_made(problem, &short.made);
        for mut copies in [reached, vec![0; products.len()]] {
            let trimmed = self.trimmed(short, &copies, prices);
            let whole = trimmed.complete(problem, &whole_copies(problem, &copies));
            let Some(mut answer) = whole.then_some(trimmed).or_else(|| self.making(&copies, prices, limits)) else {
                continue;
            };
            for &p in &order {
                let (mut most, mut least_not) = (copies[p], products[p].copies + 1);
                while least_not - most > 1 && self.work < QUICK && limits.called_off().is_none() {
                    copies[p] = most + (least_not - most) / 2;
                    match self.making(&copies, prices, limits) {
                        Some(better) => (answer, most) = (better, copies[p]),
                        None => least_not = copies[p],
                    }
                }
                copies[p] = most;
            }
            self.keep(answer);
            return;
        }
    }

    /// Better copies of one level, with those of the levels above as they are.
    fn level(&mut self, level: i32, shortage: &mut Shortage, limits: &Limits) {
        let problem = self.ground.problem;
        let copies = |search: &Search| copies_made(problem, &search.best.made);
        if shortage.settles(&copies(self), level) {
            return;
        }
        let scale = Scale::of(problem);
        let by_area = scale.by_area(problem, level);
        let mut recombination = Recombination::new(problem, limits.seed, Sought::Worth);
        let mut target = self.aim(level);
        let (mut rounds, mut idle) = (0, 0);
        let stop = || limits.called_off().is_some();
        // Work, however little, leaves room for one round.
        while idle < PATIENCE && !stop() && (rounds == 0 || limits.over(self.work).is_none()) {
            // Where copies take pieces of several kinds, an even share says little of which of them are hard to come by.
            rounds += 1;
            let relaxed = if rounds % 2 == 0 { shortage.worths(level) } else { None };
            let prices = relaxed.map_or_else(|| by_area.clone(), |relaxed| scale.of_relaxed(&relaxed));
            let columns = shortage.columns();
            let (answers, work) = recombination.round(self.ground, &target, columns, &prices, &self.best, &stop);
            self.work += work.max(1);
            idle += 1;
            for answer in answers {
                let copies = copies_made(problem, &answer.made);
                let whole = self.trimmed(&answer, &copies, &prices);
                if self.keep(whole) {
                    idle = 0;
                }
            }
            if idle == 0 {
                target = self.aim(level);
                if shortage.settled(&copies(self), level) {
                    return;
                }
            }
        }
    }

    /// All that is wanted of a level and those below it, and of those above what is made.
    fn aim(&self, level: i32) -> Vec<u32> {
        let problem = self.ground.problem;
        let made = copies_made(problem, &self.best.made);
        let products = problem.products.iter().zip(made);
        let aim = products.map(|(product, made)| if product.priority > level { made } else { product.copies });
        whole_copies(problem, &aim.collect::<Vec<u32>>())
    }

    /// A known answer without the pieces that are more than `copies` need, the strips they leave filled again.
    fn trimmed(&mut self, known: &Solution, copies: &[u32], prices: &[i64]) -> Solution {
        let problem = self.ground.problem;
        let target = whole_copies(problem, copies);
        let mut surplus: Vec<u32> = known.made.iter().zip(&target).map(|(&m, &t)| m.saturating_sub(t)).collect();
        let mut answer = Solution::empty(problem);
        for placed in &known.placed {
            let mut limits = vec![0; target.len()];
            placed.counts.iter().for_each(|&(i, n)| limits[i] = n - n.min(surplus[i]));
            if placed.counts.iter().all(|&(i, n)| limits[i] == n) {
                answer.place(placed.clone());
                continue;
            }
            let engine = &self.ground.engines[placed.stock];
            let ask = Ask { prices, limits: &limits, effort: FILLING, stop: &never };
            let refitted = engine.refit(&placed.shape, prices, &limits);
            let found = refitted.unwrap_or_else(|| self.ground.lay(placed.stock, ask, &mut self.scratch));
            self.work += found.work;
            let without = Placed::new(problem, placed.stock, found);
            let kept = |item: usize| {
                let counts = without.iter().flat_map(|placed| &placed.counts);
                counts.filter(|c| c.0 == item).map(|c| c.1).sum::<u32>()
            };
            placed.counts.iter().for_each(|&(i, n)| surplus[i] = surplus[i].saturating_sub(n - kept(i)));
            without.into_iter().for_each(|placed| answer.place(placed));
        }
        answer
    }

    /// An answer that makes just so many copies, if one is found in a few attempts.
    fn making(&mut self, copies: &[u32], prices: &[i64], limits: &Limits) -> Option<Solution> {
        let stop = || limits.called_off().is_some();
        let problem = self.ground.problem;
        let target = whole_copies(problem, copies);
        let everything = self.ground.unused(&Solution::empty(problem));
        let mut tried = prices.to_vec();
        for judge in [Judge::Ratio, Judge::Profit, Judge::Ratio, Judge::Profit] {
            let mut answer = Solution::empty(problem);
            let wish = Wish { target: &target, prices: &tried, judge, effort: FILLING, stop: &stop };
            self.work += construct(self.ground, &mut answer, wish, &everything, &mut self.scratch);
            if answer.complete(problem, &target) {
                return Some(answer);
            }
            if stop() {
                return None;
            }
            for (price, &lacking) in tried.iter_mut().zip(&answer.wanted(&target)) {
                if lacking > 0 {
                    *price = price.saturating_mul(2).min(i64::MAX / 1_000_000);
                }
            }
        }
        None
    }
}

/// What a copy of the level in question is worth while it is searched for, micro-units.
struct Scale {
    /// The dearest piece of stock.
    stock: i64,
    /// The dearest copy of the level, and what the dearest copy below it is worth beside.
    dearest: i64,
    below: i64,
}

impl Scale {
    fn of(problem: &Problem) -> Scale {
        let stock = problem.stock.iter().map(|stock| stock.cost).max().unwrap_or(0).max(1);
        let dearest = stock.saturating_mul(DEAREST).min(MOST);
        Scale { stock, dearest, below: stock.saturating_mul(BELOW).min(dearest) }
    }

    /// By item: its share, by area, of its copy's value.
    fn by_area(&self, problem: &Problem, level: i32) -> Vec<i64> {
        let area = |i: usize| (problem.items[i].length as f64 * problem.items[i].width as f64).max(1.0);
        let mut of_copy = vec![0.0; problem.products.len()];
        for (i, item) in problem.items.iter().enumerate() {
            of_copy[item.product] += area(i) * f64::from(item.per_copy);
        }
        let product = |i: usize| &problem.products[problem.items[i].product];
        let most = |of: Ordering| {
            let values = problem.products.iter().filter(|p| p.priority.cmp(&level) == of).map(|p| p.value);
            values.max().unwrap_or(0).max(1) as f64
        };
        let (most_here, most_below) = (most(Ordering::Equal), most(Ordering::Less));
        let share = |i: usize, of: i64, most: f64| {
            of as f64 * product(i).value.max(0) as f64 / most * area(i) / of_copy[problem.items[i].product]
        };
        let all = 0..problem.items.len();
        let here = |&i: &usize| product(i).priority == level;
        let rates = all.clone().filter(here).map(|i| share(i, self.dearest, most_here) / area(i));
        let rate = rates.fold(0.0, f64::max);
        let of = |i: usize| match product(i).priority.cmp(&level) {
            Ordering::Greater => rate * area(i) * ABOVE as f64,
            Ordering::Equal => share(i, self.dearest, most_here),
            Ordering::Less => share(i, self.below, most_below),
        };
        all.map(|i| self.bounded(of(i))).collect()
    }

    /// By item: from prices at which the dearest copy of the level is worth one.
    fn of_relaxed(&self, prices: &[f64]) -> Vec<i64> {
        prices.iter().map(|price| self.bounded(price * self.dearest as f64)).collect()
    }

    /// No piece is worth less than a piece of stock: of equal values, more copies are better.
    fn bounded(&self, worth: f64) -> i64 {
        (worth as i64).clamp(0, ABOVE * MOST).saturating_add(self.stock)
    }
}
