//! Whole answers from the relaxation: take what it takes most of, solve again for the rest, until nothing is left.
//!
//! A dive with fresh patterns at every step (Vanderbeck 2000; restarts with other choices in the spirit of Sadykov,
//! Vanderbeck, Pessoa, Tahiri and Uchoa 2019). It is left as soon as its own bound says that it cannot improve.

use rand::RngExt;

use super::greedy::{self, Manner};
use super::relax::{Asked, Relaxed, Rest, relax};
use super::{Plan, Search};

/// A share this near to one is taken as one.
const NEARLY: f64 = 0.92;
/// Rests of at most so many pieces are also filled stick by stick.
const SMALL_REST: u32 = 45;
/// One pattern more is taken at a time for so many pieces of the rest.
const PIECES_A_STEP: u32 = 60;

/// How a dive chooses.
#[derive(Clone, Copy)]
pub(super) struct Choice {
    /// Chance added to a share.
    pub noise: f64,
    /// Of a pattern taken several times, so many copies are left to the rest.
    pub held_back: u32,
}

impl Search<'_> {
    /// Dives once, from a relaxation of the whole at hand or a fresh one; every whole answer on the way is offered.
    pub(super) fn dive(&mut self, choice: Choice, from: Option<Relaxed>) {
        let mut demand = self.case.demand.clone();
        let mut left: Vec<u32> = self.case.classes.iter().map(|class| class.count).collect();
        let mut plan = Plan::default();
        let mut at_hand = from;
        let mut prices: Option<Vec<i64>> = None;
        loop {
            let rest = Rest { demand: &demand, left: &left, prices: prices.as_deref(), asked: &Asked::default() };
            let pieces: u32 = demand.iter().sum();
            if pieces == 0 {
                self.offer(plan);
                return;
            }
            let relaxed = at_hand.take().unwrap_or_else(|| self.relaxed(&rest, plan.cost));
            if self.hopeless(plan.cost.saturating_add(relaxed.bound)) || relaxed.short || self.stop.now() {
                return;
            }
            if pieces <= SMALL_REST {
                self.fill_rest(&plan, &rest, &relaxed.prices);
                if self.closed() {
                    return;
                }
            }
            prices = Some(relaxed.prices.clone());
            if !self.take(&relaxed, choice, &mut demand, &mut left, &mut plan) {
                return;
            }
        }
    }

    /// The relaxation of the rest beside what costs `cost` already.
    pub(super) fn relaxed(&mut self, rest: &Rest, cost: i64) -> Relaxed {
        let ceiling = self.ceiling();
        let sums = &self.sums;
        let settled = |bound: i64, value: f64| {
            let reached = sums.up(cost.saturating_add(bound));
            reached >= ceiling || reached >= sums.up(cost.saturating_add(value as i64))
        };
        relax(&self.case, rest, &mut self.pool, &mut self.tables, &mut self.stop, &settled)
    }

    /// Fills the rest at the relaxation's prices and by length.
    fn fill_rest(&mut self, plan: &Plan, rest: &Rest, prices: &[i64]) {
        let lengths = greedy::lengths(&self.case);
        for (prices, manner) in [(&lengths[..], Manner::Longest), (prices, Manner::Worthiest)] {
            let filled = greedy::fill(&self.case, rest, prices, manner, &mut self.tables.table, &mut self.stop);
            if let Some(more) = filled {
                let mut whole = plan.clone();
                more.patterns.into_iter().for_each(|pattern| whole.push(pattern));
                self.offer(whole);
            }
        }
    }

    /// Takes patterns of the relaxation; false when none can be taken.
    fn take(
        &mut self,
        relaxed: &Relaxed,
        choice: Choice,
        demand: &mut [u32],
        left: &mut [u32],
        plan: &mut Plan,
    ) -> bool {
        let mut took = false;
        let pieces: u32 = demand.iter().sum();
        let mut shares: Vec<(f64, usize)> = Vec::new();
        for &(at, share) in &relaxed.taken {
            let whole = (share + 1e-3).floor() as u32;
            let held_back = if whole > 1 { choice.held_back } else { 0 };
            took |= self.cut(at, whole - held_back.min(whole), demand, left, plan) > 0;
            let part = share - f64::from(whole);
            if part > 1e-3 {
                shares.push((part + choice.noise * self.rng.random::<f64>(), at));
            }
        }
        if took && choice.noise == 0.0 {
            return true;
        }
        shares.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        let mut more = 1 + (pieces / PIECES_A_STEP) as usize;
        for (share, at) in shares {
            if more == 0 && share < NEARLY {
                break;
            }
            let cut = self.cut(at, 1, demand, left, plan);
            took |= cut > 0;
            more = more.saturating_sub(cut as usize);
        }
        took
    }

    /// Cuts at most so many sticks by a pattern of the pool, as far as pieces are wanted and sticks are left.
    fn cut(&self, at: usize, most: u32, demand: &mut [u32], left: &mut [u32], plan: &mut Plan) -> u32 {
        let pattern = &self.pool.patterns[at];
        let wanted = pattern.counts.iter().map(|&(k, n)| demand[k] / n).min().unwrap_or(0);
        let times = most.min(wanted).min(left[pattern.class]);
        for &(k, n) in &pattern.counts {
            demand[k] -= n * times;
        }
        left[pattern.class] -= times;
        (0..times).for_each(|_| plan.push(pattern.clone()));
        times
    }
}
