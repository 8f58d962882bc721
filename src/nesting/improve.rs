//! Better answers from an answer: take a few pieces of stock back, offer some others, cut again.
//!
//! Large neighbourhood search (Shaw 1998) with soft demand: while a neighbourhood is cut anew, a piece may stay unmade at
//! a price a little above its worth, so that the search walks through answers that lack a board's worth of pieces; a
//! completion step makes whole answers of them. Neighbourhoods of one round are disjoint and are judged independently, so
//! threads do not change what is found.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

use super::colgen::Colgen;
use super::construct::{Candidate, FILLING, Ground, Judge, construct};
use super::dive::dive;
use super::engine::{Memory, Scratch};
use super::pack::{Aim, Known, Spend, Task, pack};
use super::problem::Stop;
use super::solution::{Placed, Solution};

/// Work on packing one neighbourhood.
const PACKING: u64 = 1_500;

/// Neighbourhoods a round at the most; more than the cores of a shop's machine, so that all of them are used.
const PER_ROUND: usize = 4;
/// Prices are shaken by up to this many thousandths either way.
const SHAKE: i64 = 150;
/// An unmade piece costs its price and, in turn, so many times the gap of the best answer on top.
const SOFTNESS: [f64; 5] = [1.5, 12.0, 3.0, 6.0, 2.0];
/// Worth of unmade pieces allowed, in thousandths of an average piece of stock of the answer.
const LACKING: i64 = 1500;
/// The least and the most that comes on top of a price, thousandths.
const SOFTEST: i64 = 60;
const HARDEST: i64 = 1500;

/// A neighbourhood: what is taken back, what is offered beside it, whether it may make what the answer lacks.
struct Neighbourhood {
    removed: Vec<usize>,
    offered: Vec<usize>,
    may_make_lacking: bool,
    seed: u64,
}

/// What a neighbourhood came to.
struct Proposal {
    removed: Vec<usize>,
    placed: Vec<Placed>,
    /// Change of cost with unmade pieces priced.
    change: i64,
    /// Change of the worth of unmade pieces.
    lacking: i64,
    work: u64,
}

/// The walk of the search; `current` may lack pieces.
pub struct Walk {
    pub current: Solution,
    rng: ChaCha8Rng,
    round: usize,
}

impl Walk {
    /// Starts from `current`.
    pub fn new(current: Solution, seed: u64) -> Walk {
        Walk { current, rng: ChaCha8Rng::seed_from_u64(seed), round: 0 }
    }

    /// One round at `prices` (worth of the items); `heat` is the rise in cost (micro-units) accepted with probability
    /// 1/e. Returns the work spent.
    pub fn round(&mut self, ground: &Ground, target: &[u32], colgen: &Colgen, heat: i64, gap: f64, stop: Stop) -> u64 {
        let prices = &colgen.prices;
        let on_top = (SOFTNESS[self.round % SOFTNESS.len()] * gap * 1000.0) as i64;
        let softness = 1000 + on_top.clamp(SOFTEST, HARDEST);
        self.round += 1;
        let unmade_price: Vec<i64> = prices.iter().map(|&p| p / 1000 * softness + p % 1000).collect();
        let neighbourhoods = self.choose(ground, prices);
        let current = &self.current;
        let proposals: Vec<Proposal> = neighbourhoods
            .into_par_iter()
            .map_init(Scratch::default, |scratch, n| {
                propose(ground, current, target, colgen, &unmade_price, softness, n, scratch, stop)
            })
            .collect();
        let work = proposals.iter().map(|p| p.work).sum();
        // About a board's worth of pieces may be lacking at a time; more, and no completion makes it good.
        let mut lacking = worth_of(&current.wanted(target), prices);
        let most_lacking = current.cost / current.placed.len().max(1) as i64 * LACKING / 1000;
        let accepted: Vec<Proposal> = proposals
            .into_iter()
            .filter(|p| {
                let chance: f64 = self.rng.random();
                let cheaper = p.change < 0 || heat > 0 && chance < (-(p.change as f64) / heat as f64).exp();
                let accepted = cheaper && (p.lacking <= 0 || lacking + p.lacking <= most_lacking);
                lacking += if accepted { p.lacking } else { 0 };
                accepted
            })
            .collect();
        // Indices into `placed` shift on removal: take them back from the highest down.
        let mut removed: Vec<usize> = accepted.iter().flat_map(|p| p.removed.iter().copied()).collect();
        removed.sort_unstable_by(|a, b| b.cmp(a));
        for at in removed {
            self.current.remove(at);
        }
        for placed in accepted.into_iter().flat_map(|p| p.placed) {
            self.current.place(placed);
        }
        work
    }

    /// Disjoint neighbourhoods: the stock that earns least is taken back most often.
    fn choose(&mut self, ground: &Ground, prices: &[i64]) -> Vec<Neighbourhood> {
        let placed = &self.current.placed;
        let mut order: Vec<usize> = (0..placed.len()).collect();
        let mut key: Vec<f64> = placed
            .iter()
            .map(|p| {
                let worth = p.worth(prices).max(1) as f64;
                let loss = (p.net as f64 / worth).clamp(0.05, 20.0);
                // Weighted sampling without replacement (Efraimidis and Spirakis 2006): smallest of -ln(u) / weight first.
                let chance: f64 = self.rng.random();
                -(1.0 - chance).ln() / (loss * loss * loss)
            })
            .collect();
        order.sort_by(|&a, &b| key[a].total_cmp(&key[b]).then(a.cmp(&b)));
        let mut spare: Vec<usize> = Vec::new();
        for (s, stock) in ground.problem.stock.iter().enumerate() {
            let left = stock.count - self.current.used[s];
            spare.extend(std::iter::repeat_n(s, left.min(2) as usize));
        }
        key = spare.iter().map(|_| self.rng.random()).collect();
        let mut spare_order: Vec<usize> = (0..spare.len()).collect();
        spare_order.sort_by(|&a, &b| key[a].total_cmp(&key[b]).then(a.cmp(&b)));
        let mut spare: Vec<usize> = spare_order.into_iter().map(|k| spare[k]).collect();
        let count = PER_ROUND.min(placed.len().div_ceil(6)).max(1);
        let lucky = self.rng.random_range(0..count);
        (0..count)
            .map(|n| {
                let take = self.rng.random_range(1..=4usize);
                let offer = self.rng.random_range(0..=3usize).min(spare.len() / (count - n));
                let removed = order.drain(..take.min(order.len())).collect();
                let offered = spare.drain(..offer).collect();
                Neighbourhood { removed, offered, may_make_lacking: n == lucky, seed: self.rng.random() }
            })
            .collect()
    }
}

/// Cuts a neighbourhood anew: by a dive with prices of its own, or piece by piece at shaken prices.
#[allow(clippy::too_many_arguments)]
fn propose(
    ground: &Ground,
    current: &Solution,
    whole: &[u32],
    colgen: &Colgen,
    unmade_price: &[i64],
    softness: i64,
    neighbourhood: Neighbourhood,
    scratch: &mut Scratch,
    stop: Stop,
) -> Proposal {
    let mut rng = ChaCha8Rng::seed_from_u64(neighbourhood.seed);
    let prices = &colgen.prices;
    let lacking = current.wanted(whole);
    let mut kept = current.made.clone();
    let mut candidates: Vec<Candidate> = Vec::new();
    let mut offer = |stock: usize| match candidates.iter_mut().find(|c| c.stock == stock) {
        Some(candidate) => candidate.left += 1,
        None => candidates.push(Candidate { stock, left: 1 }),
    };
    let mut before = 0;
    for &at in &neighbourhood.removed {
        let placed = &current.placed[at];
        for &(i, n) in &placed.counts {
            kept[i] -= n;
        }
        before += placed.net;
        offer(placed.stock);
    }
    neighbourhood.offered.into_iter().for_each(&mut offer);
    // What is taken back is wanted again, less what was more than enough.
    let mut target: Vec<u32> = whole.iter().zip(&kept).map(|(&whole, &kept)| whole.saturating_sub(kept)).collect();
    let mut lacked = 0;
    if neighbourhood.may_make_lacking {
        before += worth_of(&lacking, unmade_price);
        lacked = worth_of(&lacking, prices);
    } else {
        target.iter_mut().zip(&lacking).for_each(|(wanted, &lacking)| *wanted = wanted.saturating_sub(lacking));
    }
    let judged = |removed, cut: Solution, work| {
        let wanted = cut.wanted(&target);
        let change = cut.cost + worth_of(&wanted, unmade_price) - before;
        Proposal { removed, placed: cut.placed, change, lacking: worth_of(&wanted, prices) - lacked, work }
    };
    let mut left = vec![0; ground.problem.stock.len()];
    candidates.iter().for_each(|c| left[c.stock] = c.left);
    let way = rng.random_range(0..4);
    if way == 0 {
        let task = Task { target: &target, stock: &left, aim: Aim::Answer };
        let spend = Spend { cutoff: before, budget: PACKING, plunge: true };
        let packing = pack(ground, &task, &colgen.known(), spend, stop);
        if let Some(answer) = packing.answer {
            return judged(neighbourhood.removed, answer, packing.work);
        }
        let (removed, placed) = (Vec::new(), Vec::new());
        return Proposal { removed, placed, change: 0, lacking: 0, work: packing.work };
    }
    if way < 2 {
        let fresh = Known { columns: &[], memories: &vec![Memory::default(); left.len()], caps: unmade_price, prices };
        let (cut, work) = dive(ground, &target, &left, &fresh, None, stop);
        return judged(neighbourhood.removed, cut, work);
    }
    let shaken: Vec<i64> =
        prices.iter().map(|&p| (p / 1000 * (1000 + rng.random_range(-SHAKE..=SHAKE))).max(1)).collect();
    let judge = if rng.random_range(0..2) == 0 { Judge::Ratio } else { Judge::Profit };
    let mut cut = Solution::empty(ground.problem);
    let hurdle = 1_000_000 / softness;
    let effort = FILLING;
    let work = construct(ground, &mut cut, &target, &shaken, &candidates, judge, hurdle, effort, scratch);
    judged(neighbourhood.removed, cut, work)
}

fn worth_of(pieces: &[u32], prices: &[i64]) -> i64 {
    pieces.iter().zip(prices).map(|(&n, &p)| i64::from(n) * p).sum()
}
