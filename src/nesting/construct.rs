//! Building an answer piece of stock by piece of stock at given prices.
//!
//! The step of sequential value correction (Mukhacheva, Zalgaller and others): at every step the piece of stock whose
//! best layout of what is still wanted earns most for its money is taken. Values only fall as less is wanted, so a layout
//! computed earlier stays the best of its piece as long as it fits what is wanted: most steps compute nothing anew.

use std::cmp::Reverse;

use rayon::prelude::*;

use super::board::{Ask, Effort};
use super::engine::{Engine, Found, Memory, Scratch};
use super::master::Column;
use super::problem::{Problem, Stop};
use super::solution::{Placed, Solution, room};

/// From this many candidates on, the first look at all of them is shared between threads.
const MANY: usize = 8;
/// And later so many are looked at anew at once.
const AT_ONCE: usize = 2;

/// Section starts evaluated a board when an answer is built.
pub const FILLING: Effort = Effort { states: 4, rounds: 3, ..Effort::starts(4) };

/// Stock that is to hold more than it did is laid out closely.
const CLOSELY: Effort = Effort { states: 16, rounds: 6, ..Effort::starts(16) };

/// What the search works with; shared by all threads.
pub struct Ground<'a> {
    pub problem: &'a Problem,
    pub engines: &'a [Engine],
}

impl Ground<'_> {
    /// The columns of what pricing found for a piece of class `stock`: the layout itself, and those met beside it.
    pub fn columns(&self, stock: usize, found: Found, memory: &Memory, prices: &[i64]) -> Vec<Column> {
        let beside = self.engines[stock].beside(memory, prices);
        std::iter::once(found).chain(beside).filter_map(|found| Column::new(self.problem, stock, found)).collect()
    }

    /// One piece of class `stock` laid out, nothing being known of it from before.
    pub fn lay(&self, stock: usize, ask: Ask, scratch: &mut Scratch) -> Found {
        self.engines[stock].laying(ask, &mut Memory::default(), scratch)
    }

    /// The same for several classes, shared between threads.
    fn lay_each(&self, stock: &[usize], ask: Ask) -> Vec<Found> {
        let each = stock.par_iter().with_max_len(1);
        each.map_init(Scratch::default, |scratch, &stock| self.lay(stock, ask, scratch)).collect()
    }

    /// The stock an answer does not use.
    pub fn unused(&self, answer: &Solution) -> Vec<Candidate> {
        let all = self.problem.stock.iter().enumerate();
        let left = all.map(|(stock, class)| Candidate { stock, left: class.count - answer.used[stock] });
        left.filter(|candidate| candidate.left > 0).collect()
    }

    /// A layout that makes no more than `room`: as it is, or with strips filled again at `prices`, and the work spent; `None` when
    /// nothing of it is left.
    pub fn fitted(&self, column: &Column, prices: &[i64], room: &[u32]) -> Option<(Placed, u64)> {
        if column.within(room) {
            return Some((Placed::from(column), 0));
        }
        let found = self.engines[column.stock].refit(&column.shape, prices, room)?;
        let work = found.work;
        Placed::new(self.problem, column.stock, found).map(|placed| (placed, work))
    }
}

/// How a candidate is judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Judge {
    /// Worth made for each unit of money spent.
    Ratio,
    /// Worth made less money spent.
    Profit,
}

/// A class of stock that may be used `left` more times.
#[derive(Clone, Copy, Debug)]
pub struct Candidate {
    pub stock: usize,
    pub left: u32,
}

/// What is to be made, and how candidates are chosen for it.
#[derive(Clone, Copy)]
pub struct Wish<'a> {
    /// Pieces, by item.
    pub target: &'a [u32],
    /// What they are worth, micro-units.
    pub prices: &'a [i64],
    pub judge: Judge,
    pub effort: Effort,
    /// Ends it early, with what is made by then.
    pub stop: Stop<'a>,
}

/// Adds stock to `solution` until all of the wish is made or no candidate makes anything more; returns the
/// work spent.
pub fn construct(
    ground: &Ground,
    solution: &mut Solution,
    wish: Wish,
    candidates: &[Candidate],
    scratch: &mut Scratch,
) -> u64 {
    let Wish { target, prices, judge, effort, stop } = wish;
    let mut work = 0;
    let mut left: Vec<u32> = candidates.iter().map(|c| c.left).collect();
    let mut cache: Vec<Option<Found>> = vec![None; candidates.len()];
    // Upper estimate of each candidate's score, from the last time it was computed.
    let mut score: Vec<f64> = vec![f64::INFINITY; candidates.len()];
    let mut wanted = solution.room(ground.problem, target);
    let many = candidates.len() >= MANY;
    let at_once = if many { AT_ONCE } else { 1 };
    // Those to look at anew; of many, all to begin with.
    let mut stale: Vec<usize> = (0..if many { candidates.len() } else { 0 }).collect();
    while wanted.iter().any(|&n| n > 0) && !stop() {
        let ask = Ask { prices, limits: &wanted, effort, stop };
        let stock: Vec<usize> = stale.iter().map(|&c| candidates[c].stock).collect();
        let renewed =
            if let [one] = stock[..] { vec![ground.lay(one, ask, scratch)] } else { ground.lay_each(&stock, ask) };
        for (c, found) in stale.drain(..).zip(renewed) {
            work += found.work;
            score[c] = judged(ground.problem, candidates[c].stock, &found, prices, judge);
            cache[c] = Some(found);
        }
        let fits = |found: &Found| found.counts.iter().all(|&(i, n)| n <= wanted[i]);
        // The best by what is known of them; the first of which that is known anew ends the list.
        let fresh = loop {
            let open =
                (0..candidates.len()).filter(|c| left[*c] > 0 && score[*c] > f64::NEG_INFINITY && !stale.contains(c));
            let best = open.max_by(|&a, &b| score[a].total_cmp(&score[b]).then(b.cmp(&a)));
            if stale.len() == at_once || best.is_none_or(|best| cache[best].as_ref().is_some_and(fits)) {
                break best;
            }
            stale.extend(best);
        };
        if !stale.is_empty() {
            continue;
        }
        let Some(best) = fresh else { break };
        let stock = candidates[best].stock;
        let found = cache[best].clone().expect("a cached layout was just found to fit");
        let placed = Placed::new(ground.problem, stock, found).expect("a layout without pieces has no score");
        solution.place(placed);
        wanted = solution.room(ground.problem, target);
        left[best] -= 1;
    }
    work
}

/// Makes what `solution` lacks from stock whose own pieces are worth least beside it, and those from what is left over then;
/// returns the work spent. What is lacking in the end may be something else.
pub fn make_way(ground: &Ground, solution: &mut Solution, wish: Wish, scratch: &mut Scratch) -> u64 {
    let problem = ground.problem;
    let Wish { target, prices, effort, stop, .. } = wish;
    let mut lacking = solution.wanted(target);
    let ask = Ask { prices, limits: &room(problem, &lacking), effort, stop };
    let all: Vec<usize> = (0..problem.stock.len()).collect();
    let mut able: Vec<Option<Found>> = ground.lay_each(&all, ask).into_iter().map(Some).collect();
    let mut work: u64 = able.iter().flatten().map(|found| found.work).sum();
    while lacking.iter().any(|&n| n > 0) && !stop() {
        let gain = |found: &Found, stock: usize| {
            found.worth - in_the_way(problem, solution, stock, prices).map_or(0, |(_, worth)| worth)
        };
        let offers = able.iter().enumerate().filter_map(|(stock, found)| found.as_ref().map(|found| (stock, found)));
        let offers = offers.filter(|(_, found)| found.shape.is_some());
        let best = offers.max_by_key(|&(stock, found)| (gain(found, stock), Reverse(stock)));
        let Some((stock, found)) = best else { break };
        let limits = room(problem, &lacking);
        if found.counts.iter().any(|&(item, n)| n > limits[item]) {
            let found = ground.lay(stock, Ask { prices, limits: &limits, effort, stop }, scratch);
            work += found.work;
            able[stock] = Some(found);
            continue;
        }
        let found = able[stock].take().expect("it was just looked at");
        if let Some((at, _)) = in_the_way(problem, solution, stock, prices) {
            solution.take_back(at);
        }
        for &(item, n) in &found.counts {
            lacking[item] = lacking[item].saturating_sub(n);
        }
        // Beside what is lacking there may be room for more.
        let limits = solution.room(problem, target);
        let fuller = ground.lay(stock, Ask { prices, limits: &limits, effort: CLOSELY, stop }, scratch);
        work += fuller.work;
        let made = |&(item, n): &(usize, u32)| fuller.counts.iter().any(|&(i, m)| i == item && m >= n);
        let better = if found.counts.iter().all(made) { fuller } else { found };
        solution.place(Placed::new(problem, stock, better).expect("something was laid out"));
    }
    let unused = ground.unused(solution);
    work + construct(ground, solution, wish, &unused, scratch)
}

/// The place in an answer of the piece of a class of stock whose pieces are worth least, and that worth; `None` when another
/// piece of the class is free.
fn in_the_way(problem: &Problem, solution: &Solution, stock: usize, prices: &[i64]) -> Option<(usize, i64)> {
    if solution.used[stock] < problem.stock[stock].count {
        return None;
    }
    let of_class = solution.placed.iter().enumerate().filter(|(_, placed)| placed.stock == stock);
    of_class.map(|(at, placed)| (at, placed.worth(prices))).min_by_key(|&(_, worth)| worth)
}

/// The score of a layout; minus infinity when it makes nothing.
fn judged(problem: &Problem, stock: usize, found: &Found, prices: &[i64], judge: Judge) -> f64 {
    if found.shape.is_none() {
        return f64::NEG_INFINITY;
    }
    let worth: i64 = found.counts.iter().map(|&(i, n)| prices[i].saturating_mul(i64::from(n))).sum();
    let net = problem.stock[stock].cost - found.credit;
    match judge {
        Judge::Ratio => worth as f64 / net.max(1) as f64,
        Judge::Profit => worth.saturating_sub(net) as f64,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::nesting::problem::{Item, Kind, Product, StickStock, Stock, never};

    /// The short piece lies on the only stick that is long enough for the long one: it has to move to the other.
    #[test]
    fn what_is_in_the_way_of_something_lacking_moves_elsewhere() {
        let stick = |length, pieces| Stock {
            count: 1,
            cost: 1_000_000,
            credit: None,
            kind: Kind::Stick(StickStock { length, trim: 0, kerf: 0, pieces }),
            together: vec![],
            wider: None,
        };
        let product = Product { copies: 1, finished: 1, priority: 0, value: 1 };
        let problem = Problem {
            items: vec![Item::alone(0, 1, 10, 1), Item::alone(1, 1, 4, 1)],
            products: vec![product.clone(), product],
            stock: vec![stick(10, vec![(0, 10), (1, 4)]), stick(5, vec![(1, 4)])],
        };
        let engines: Vec<Engine> = problem.stock.iter().map(Engine::new).collect();
        let ground = Ground { problem: &problem, engines: &engines };
        let mut scratch = Scratch::default();
        let (prices, target) = ([1_000_000, 400_000], [1, 1]);
        let mut solution = Solution::empty(&problem);
        let short = engines[0].best_within(&prices, &[0, 1], &mut scratch, FILLING);
        solution.place(Placed::new(&problem, 0, short).expect("the short piece fits"));
        let wish = Wish { target: &target, prices: &prices, judge: Judge::Ratio, effort: FILLING, stop: &never };
        let mut without = solution.clone();
        construct(&ground, &mut without, wish, &ground.unused(&solution), &mut scratch);
        assert!(!without.complete(&problem, &target));
        make_way(&ground, &mut solution, wish, &mut scratch);
        assert!(solution.complete(&problem, &target));
        assert_eq!((solution.cost, &solution.used[..]), (2_000_000, &[1, 1][..]));
    }
}
