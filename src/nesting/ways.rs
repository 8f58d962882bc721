//! What an answer is asked for when some things may be made in several ways, and what any such answer costs at least.
//!
//! A group is something of which all copies are made in one of several ways (two layers or three): its pieces are items of
//! their own in one problem. At prices u a group asks for at least its cheapest way, so that the Lagrangian bound of `bound`
//! holds over all ways at once with
//!
//!   sum_i u_i d_i + sum_g min_w sum_{i in w} u_i d_i
//!
//! for the demand, and so does every cut of `choice`. The same cuts, taken for one way of each group, tell what that choice of
//! ways costs at least, and, taken for fewer copies, what those cost. No answer is made here; which ways are worth one is
//! the caller's to find out.

use std::sync::atomic::Ordering;

use rayon::prelude::*;
use rustc_hash::FxHashSet;

use super::bound::{attainable, lagrangian};
use super::choice::Choice;
use super::colgen::{Colgen, Look};
use super::component::caps;
use super::construct::Ground;
use super::engine::Engine;
use super::master::pieces;
use super::problem::{Limits, Problem};
use super::solve::{opening_prices, with_threads};

/// Pieces of each item that one way takes.
pub type Way = Vec<(usize, u32)>;

/// What is asked of an answer: pieces of every item, and of every group the pieces of one of its ways.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Asked {
    /// By item; none of what belongs to a way.
    pub pieces: Vec<u32>,
    pub groups: Vec<Vec<Way>>,
}

impl From<&[u32]> for Asked {
    /// So many pieces, and nothing that may be made in several ways.
    fn from(pieces: &[u32]) -> Asked {
        Asked { pieces: pieces.to_vec(), groups: Vec::new() }
    }
}

impl Asked {
    /// What all that is asked for is worth at least at `prices`.
    pub fn worth(&self, prices: &[i64]) -> i128 {
        let pieces = prices.iter().zip(&self.pieces).map(|(&u, &d)| i128::from(u) * i128::from(d)).sum::<i128>();
        let least = |ways: &Vec<Way>| ways.iter().map(|way| worth_of(way, prices)).min().unwrap_or(0);
        pieces + self.groups.iter().map(least).sum::<i128>()
    }

    /// The same with the groups made in the given ways.
    pub fn chosen(&self, ways: &[usize]) -> Asked {
        let mut pieces = self.pieces.clone();
        for (group, &way) in self.groups.iter().zip(ways) {
            group[way].iter().for_each(|&(item, n)| pieces[item] += n);
        }
        Asked { pieces, groups: Vec::new() }
    }
}

/// What the pieces of a way are worth at `prices`.
fn worth_of(way: &Way, prices: &[i64]) -> i128 {
    way.iter().map(|&(item, n)| i128::from(prices[item]) * i128::from(n)).sum()
}

/// Choices of stock in a row that may leave the bound where it is before no more is expected of them.
const STALLED: usize = 12;

/// Prices and a proven upper value of a piece of every class of stock at them, micro-units.
struct Cut {
    prices: Vec<i64>,
    uppers: Vec<i64>,
}

/// What was proven of all answers to a problem, which its methods are to be given again.
#[derive(Default)]
pub struct Floors {
    /// The first has the prices of the best Lagrangian bound.
    cuts: Vec<Cut>,
    /// Layouts computed.
    pub work: u64,
}

impl Floors {
    /// No answer that makes this costs less, micro-units.
    pub fn least(&self, problem: &Problem, asked: &Asked) -> i64 {
        let mut choice = Choice::new(problem);
        for cut in &self.cuts {
            choice.add(problem, asked, &cut.prices, &cut.uppers);
        }
        if choice.is_empty() { 0 } else { attainable(problem, choice.least().0) }
    }

    /// Takes up what else was proven; its prices are the best from now on.
    pub fn join(&mut self, mut other: Floors) {
        other.cuts.append(&mut self.cuts);
        self.cuts = other.cuts;
        self.work += other.work;
    }

    /// As [`Floors::least`], by the best prices alone, when what is asked is made in ways of so much [regret](Floors::regrets)
    /// together, or of more.
    pub fn with_regret(&self, problem: &Problem, asked: &Asked, regret: i64) -> i64 {
        let bound = |cut: &Cut| lagrangian(problem, asked.worth(&cut.prices) + i128::from(regret), &cut.uppers);
        self.cuts.first().map_or(0, bound)
    }

    /// The best prices, by item, micro-units; `None` when time ran out before any.
    pub fn prices(&self) -> Option<&[i64]> {
        self.cuts.first().map(|cut| &cut.prices[..])
    }

    /// By group and way: how much more the way takes than the cheapest of its group, at the best prices.
    pub fn regrets(&self, asked: &Asked) -> Vec<Vec<i64>> {
        let Some(cut) = self.cuts.first() else { return asked.groups.iter().map(|ways| vec![0; ways.len()]).collect() };
        let of_group = |ways: &Vec<Way>| {
            let worths: Vec<i128> = ways.iter().map(|way| worth_of(way, &cut.prices)).collect();
            let least = worths.iter().copied().min().unwrap_or(0);
            worths.into_iter().map(|worth| i64::try_from(worth - least).unwrap_or(i64::MAX)).collect()
        };
        asked.groups.iter().map(of_group).collect()
    }
}

/// Proves what answers to `problem` that make what is `asked` cost at least, within the limits; the gap is not looked at.
pub fn floors(problem: &Problem, asked: &Asked, limits: &Limits) -> Floors {
    with_threads(limits.threads, || {
        let engines: Vec<Engine> = problem.stock.par_iter().map(Engine::new).collect();
        prove(problem, &engines, asked, limits)
    })
}

fn prove(problem: &Problem, engines: &[Engine], asked: &Asked, limits: &Limits) -> Floors {
    let ground = Ground { problem, engines };
    let mut floors = Floors::default();
    let stop = || limits.called_off().is_some();
    let over = |work: u64| limits.over(work).is_some();
    let mut colgen = Colgen::new(problem, opening_prices(problem), caps(problem));
    // However short the time, one quick round is a bound.
    floors.work += colgen.round(&ground, asked, &|| limits.cancel.load(Ordering::Relaxed));
    while !colgen.converged && !over(floors.work) {
        floors.work += colgen.round(&ground, asked, &stop);
    }
    if colgen.uppers.is_empty() {
        return floors;
    }
    floors.cuts.push(Cut { prices: colgen.prices.clone(), uppers: colgen.uppers.clone() });
    let mut choice = Choice::new(problem);
    choice.add(problem, asked, &colgen.prices, &colgen.uppers);
    let (mut best, mut stalled) = (colgen.bound, 0);
    let mut seen: FxHashSet<Vec<u32>> = FxHashSet::default();
    while stalled < STALLED && !over(floors.work) {
        let (bound, chosen) = choice.least();
        stalled = if bound > best { 0 } else { stalled + 1 };
        best = best.max(bound);
        // A choice that comes back has said what its prices can say.
        if !seen.insert(chosen.clone()) {
            break;
        }
        let prices = colgen.prices_of(problem, asked, &pieces(&chosen));
        let look = Look { prices: &prices, chosen: &chosen, known: &[], care: 0 };
        let Some((uppers, work)) = colgen.price(&ground, look, &stop) else { break };
        floors.work += work;
        choice.add(problem, asked, &prices, &uppers);
        floors.cuts.push(Cut { prices, uppers });
    }
    floors
}
