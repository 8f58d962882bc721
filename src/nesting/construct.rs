//! Building an answer piece of stock by piece of stock at given prices.
//!
//! The step of sequential value correction (Mukhacheva, Zalgaller and others): at every step the piece of stock whose
//! best layout of what is still wanted earns most for its money is taken. Values only fall as less is wanted, so a layout
//! computed earlier stays the best of its piece as long as it fits what is wanted: most steps compute nothing anew.

use rayon::prelude::*;

use super::board::{Ask, Effort};
use super::engine::{Engine, Found, Memory, Scratch};
use super::master::Column;
use super::problem::{Problem, Stop};
use super::solution::{Placed, Solution};

/// From this many candidates on, the first look at all of them is shared between threads.
const MANY: usize = 8;

/// Section starts evaluated a board when an answer is built.
pub const FILLING: Effort = Effort { states: 4, rounds: 3, ..Effort::starts(4) };

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
    if candidates.len() >= MANY {
        let first: Vec<Found> = candidates
            .par_iter()
            .map_init(Scratch::default, |scratch, c| {
                ground.engines[c.stock].laying(
                    Ask { prices, limits: &wanted, effort, stop },
                    &mut Memory::default(),
                    scratch,
                )
            })
            .collect();
        work += first.iter().map(|found| found.work).sum::<u64>();
        for (c, found) in first.into_iter().enumerate() {
            score[c] = judged(ground.problem, candidates[c].stock, &found, prices, judge);
            cache[c] = Some(found);
        }
    }
    while wanted.iter().any(|&n| n > 0) && !stop() {
        let Some(best) = (0..candidates.len())
            .filter(|&c| left[c] > 0 && score[c] > f64::NEG_INFINITY)
            .max_by(|&a, &b| score[a].total_cmp(&score[b]).then(b.cmp(&a)))
        else {
            break;
        };
        let stock = candidates[best].stock;
        let fits = |found: &Found| found.counts.iter().all(|&(i, n)| n <= wanted[i]);
        if !cache[best].as_ref().is_some_and(fits) {
            let found = ground.engines[stock].laying(
                Ask { prices, limits: &wanted, effort, stop },
                &mut Memory::default(),
                scratch,
            );
            work += found.work;
            score[best] = judged(ground.problem, stock, &found, prices, judge);
            cache[best] = Some(found);
            continue;
        }
        let found = cache[best].clone().expect("a cached layout was just found to fit");
        let placed = Placed::new(ground.problem, stock, found).expect("a layout without pieces has no score");
        solution.place(placed);
        wanted = solution.room(ground.problem, target);
        left[best] -= 1;
    }
    work
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
