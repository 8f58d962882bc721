//! Whether some of the stock is enough for everything: the question of who has not bought it yet.
//!
//! The first phase of `solve` by itself (sequential value correction), on engines built once for all the stock and
//! asked for any part of it. A yes is a whole set of lawful layouts; a no is the search's, not a proof.

use std::sync::atomic::{AtomicBool, Ordering};

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

use super::construct::{Candidate, FILLING, Ground, Judge, construct};
use super::engine::{Engine, Scratch};
use super::problem::Problem;
use super::solution::Solution;
use super::solve::{opening_prices, raise};

/// A problem, ready to be asked about parts of its stock.
pub struct Enough<'a> {
    problem: &'a Problem,
    engines: Vec<Engine>,
    prices: Vec<i64>,
}

impl<'a> Enough<'a> {
    /// Prepares every piece of stock.
    pub fn new(problem: &'a Problem) -> Enough<'a> {
        let engines = problem.stock.iter().map(Engine::new).collect();
        Enough { problem, engines, prices: opening_prices(problem) }
    }

    /// What is left unmade, by item, when only `available` pieces of each class of stock may be used: all zero when it is
    /// enough. The best of up to `attempts`; fewer when `cancel` is set. Deterministic in the seed.
    pub fn unmade(&self, available: &[u32], attempts: usize, seed: u64, cancel: &AtomicBool) -> Vec<u32> {
        let demand: Vec<u32> = self.problem.items.iter().map(|item| item.demand).collect();
        let left = available.iter().zip(&self.problem.stock).map(|(&left, class)| left.min(class.count));
        let candidates: Vec<Candidate> =
            left.enumerate().filter(|&(_, left)| left > 0).map(|(stock, left)| Candidate { stock, left }).collect();
        let ground = Ground { problem: self.problem, engines: &self.engines };
        let mut scratch = Scratch::default();
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let mut prices = self.prices.clone();
        let mut fewest = demand.clone();
        for attempt in 0..attempts {
            let judge = if attempt % 2 == 0 { Judge::Ratio } else { Judge::Profit };
            let mut solution = Solution::empty(self.problem);
            construct(&ground, &mut solution, &demand, &prices, &candidates, judge, 0, FILLING, &mut scratch);
            let wanted = solution.wanted(&demand);
            let size = |unmade: &[u32]| -> i128 {
                let pieces = unmade.iter().zip(&self.problem.items);
                pieces.map(|(&n, item)| i128::from(n) * i128::from(item.length) * i128::from(item.width)).sum()
            };
            let done = wanted.iter().all(|&n| n == 0);
            if size(&wanted) < size(&fewest) || done {
                fewest = wanted.clone();
            }
            if done || cancel.load(Ordering::Relaxed) {
                break;
            }
            raise(self.problem, &mut prices, &wanted, &mut rng);
        }
        fewest
    }
}
