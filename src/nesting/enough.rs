//! Whether some of the stock is enough for everything: the question of who has not bought it yet.
//!
//! The first phase of `solve` by itself (sequential value correction), on engines built once for all the stock and
//! asked for any part of it. A yes is a whole set of lawful layouts; a no is either plain arithmetic (less area than the
//! pieces and their kerfs take) or the search's, which is no proof.

use std::sync::atomic::{AtomicBool, Ordering};

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

use super::construct::{Candidate, FILLING, Ground, Judge, Wish, construct};
use super::engine::{Engine, Scratch};
use super::problem::{Kind, Problem, never};
use super::solution::Solution;
use super::solve::{opening_prices, raise};

/// An attempt that leaves more than one part in so many of the pieces' area unmade is not followed by another: prices move
/// by a third from one to the next, which shifts a few pieces and no more.
const HOPE: i128 = 8;

/// A problem, ready to be asked about parts of its stock.
pub struct Enough<'a> {
    problem: &'a Problem,
    engines: Vec<Engine>,
    prices: Vec<i64>,
    /// By item: the least area that all of it takes, kerfs included.
    takes: Vec<i128>,
    /// By class of stock: area of one piece with the kerfs beyond its sides, and the items it can give.
    gives: Vec<(i128, Vec<bool>)>,
}

/// What came of an attempt.
#[derive(Clone, Debug)]
pub struct Tried {
    /// Left unmade, by item; all zero when the stock is enough.
    pub unmade: Vec<u32>,
    /// Pieces used, by class of stock.
    pub used: Vec<u32>,
}

impl<'a> Enough<'a> {
    /// Prepares every piece of stock.
    pub fn new(problem: &'a Problem) -> Enough<'a> {
        let engines = problem.stock.iter().map(Engine::new).collect();
        let (takes, gives) = areas(problem);
        Enough { problem, engines, prices: opening_prices(problem), takes, gives }
    }

    /// True when `available` pieces of each class of stock have too little area for all pieces, or those that can give an item
    /// for all of it: no layouts make everything. Pieces with a kerf on two sides do not overlap inside a board with a
    /// kerf more on two sides, so areas may be compared.
    pub fn is_too_little(&self, available: &[u32]) -> bool {
        let have = |item: Option<usize>| -> i128 {
            let able = self.gives.iter().zip(available).filter(|((_, items), _)| item.is_none_or(|item| items[item]));
            able.map(|((area, _), &count)| area * i128::from(count)).sum()
        };
        have(None) < self.takes.iter().sum()
            || self.takes.iter().enumerate().any(|(item, takes)| have(Some(item)) < *takes)
    }

    /// The best of up to `attempts` at making everything from `available` pieces of each class of stock; fewer when one is
    /// hopeless or `cancel` is set. Deterministic in the seed.
    pub fn attempt(&self, available: &[u32], attempts: usize, seed: u64, cancel: &AtomicBool) -> Tried {
        let demand: Vec<u32> = self.problem.items.iter().map(|item| item.demand).collect();
        let left = available.iter().zip(&self.problem.stock).map(|(&left, class)| left.min(class.count));
        let candidates: Vec<Candidate> =
            left.enumerate().filter(|&(_, left)| left > 0).map(|(stock, left)| Candidate { stock, left }).collect();
        let ground = Ground { problem: self.problem, engines: &self.engines };
        let mut scratch = Scratch::default();
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let mut prices = self.prices.clone();
        let mut best = Tried { unmade: demand.clone(), used: vec![0; available.len()] };
        for attempt in 0..attempts {
            let judge = if attempt % 2 == 0 { Judge::Ratio } else { Judge::Profit };
            let mut solution = Solution::empty(self.problem);
            let wish = Wish { target: &demand, prices: &prices, judge, effort: FILLING, stop: &never };
            construct(&ground, &mut solution, wish, &candidates, &mut scratch);
            let unmade = solution.wanted(&demand);
            let done = unmade.iter().all(|&n| n == 0);
            if done || self.size(&unmade) < self.size(&best.unmade) {
                best = Tried { unmade: unmade.clone(), used: solution.used.clone() };
            }
            let hopeless = self.size(&unmade) * HOPE > self.size(&demand);
            if done || hopeless || cancel.load(Ordering::Relaxed) {
                break;
            }
            raise(self.problem, &mut prices, &unmade, &mut rng);
        }
        best
    }

    /// Net area of so many pieces of each item.
    fn size(&self, pieces: &[u32]) -> i128 {
        let pieces = pieces.iter().zip(&self.problem.items);
        pieces.map(|(&n, item)| i128::from(n) * i128::from(item.length) * i128::from(item.width)).sum()
    }
}

/// What each item takes at least and each class of stock gives at most. Only boards are compared; an item that anything else
/// gives takes nothing here.
fn areas(problem: &Problem) -> (Vec<i128>, Vec<(i128, Vec<bool>)>) {
    let mut unit: Vec<Option<i128>> = vec![None; problem.items.len()];
    let mut gives = Vec::new();
    for class in &problem.stock {
        let mut able = vec![false; problem.items.len()];
        let Kind::Board(board) = &class.kind else {
            class.items().into_iter().for_each(|item| {
                able[item] = true;
                unit[item] = Some(0);
            });
            gives.push((0, able));
            continue;
        };
        for cutting in &board.cuttings {
            let with_kerf = |side: i64, kerf: i64| i128::from(side + kerf);
            let area = with_kerf(cutting.length, board.kerf_cross) * with_kerf(cutting.width, board.kerf_rip);
            let units: u32 = cutting.yields.iter().map(|&(_, units)| units).sum();
            for &(item, _) in &cutting.yields {
                able[item] = true;
                // Leaves of one blank share its area; rounded down, so never too much.
                let each = area / i128::from(units.max(1));
                unit[item] = Some(unit[item].map_or(each, |known| known.min(each)));
            }
        }
        let length = i128::from(board.length - 2 * board.end_trim + board.kerf_cross);
        gives.push((length * i128::from(board.width + board.kerf_rip), able));
    }
    let takes =
        unit.iter().zip(&problem.items).map(|(unit, item)| unit.unwrap_or(0) * i128::from(item.demand)).collect();
    (takes, gives)
}
