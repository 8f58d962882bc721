//! Sticks alone: the cheapest way to cut everything from linear stock, with proof.
//!
//! Where all stock is sticks the question is cutting stock in one dimension with several stock sizes, and much more is
//! known than for boards. First plans come stick by stick (`greedy`); the relaxation over patterns (`relax`, with
//! `knapsack` for its prices and `simplex` for its programme) gives the bound, which rises to the next total that stock
//! costs can add up to (`sums`); dives from the relaxation (`dive`) find the plan that meets it; where neither closes the
//! gap, branching does (`branch`, over the steps of `paths`, whose whole answers `flow` takes). Kerf, trim and credit
//! for ends are part of the question (`case`).
//! Proven: the bound is integer arithmetic over exact knapsacks. Not covered: jobs that the sticks cannot make whole.

mod branch;
mod case;
mod dive;
mod flow;
mod greedy;
mod knapsack;
mod paths;
mod relax;
mod sums;
#[cfg(test)]
mod tests;

use std::time::Instant;

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rustc_hash::FxHashMap;

use super::layout::{Layout, Outcome, Why};
use super::problem::{Limits, Problem, Progress};
use super::solution::Placed;
use branch::Tree;
use case::{Case, Pattern};
use dive::Choice;
use greedy::Manner;
use relax::{Asked, Rest, Tables};
use sums::Sums;

/// Money differences up to this (micro-units) do not count: one hundredth of the currency unit.
const CENT: i64 = 10_000;
/// Answers by sequential value correction before the relaxation.
const CORRECTIONS: usize = 4;

/// Dives before the tree is looked at.
const DIVES_FIRST: usize = 4;
/// Dives when no plan is found, or when the tree has nothing more to say.
const MOST_DIVES: usize = 200;

/// What was found for sticks.
#[derive(Clone, Debug)]
pub(super) struct Answer {
    /// One entry a stick used, in the order of the stock.
    pub placed: Vec<Placed>,
    /// Sum of cost less credit, micro-units.
    pub cost: i64,
    /// No answer that makes the target costs less, micro-units.
    pub bound: i64,
    /// Why the search ended.
    pub why: Why,
    /// Knapsacks solved.
    pub work: u64,
}

/// Cuts `target` pieces of each item from a problem whose stock is all sticks, within the limits; `None` when some stock
/// is no stick or no way to make everything was found. The same problem, seed and work limit give the same answer.
pub(super) fn solve(problem: &Problem, target: &[u32], limits: &Limits) -> Option<Answer> {
    let case = Case::new(problem, target)?;
    let mut search = Search::new(case, limits);
    let why = search.run();
    let best = search.best?;
    let mut placed: Vec<Placed> = best.patterns.iter().map(|pattern| search.case.placed(pattern)).collect();
    placed.sort_by_key(|placed| placed.stock);
    let cost = placed.iter().map(|placed| placed.net).sum();
    Some(Answer { placed, cost, bound: search.bound.min(cost), why, work: search.stop.work })
}

/// The outcome for a whole problem of sticks; `None` as `solve` says.
pub(super) fn outcome(problem: &Problem, limits: &Limits) -> Option<Outcome> {
    let target: Vec<u32> = problem.items.iter().map(|item| item.demand).collect();
    let answer = solve(problem, &target, limits)?;
    Some(Outcome {
        layouts: answer.placed.into_iter().map(|p| Layout { stock: p.stock, shape: p.shape }).collect(),
        shortage_proven: vec![false; target.len()],
        made: target,
        cost: answer.cost,
        bound: answer.bound,
        proof: "linear relaxation over patterns of sticks, taken up to the next total of stock costs",
        why: answer.why,
        work: answer.work,
    })
}

/// When to stop, and the work done so far.
struct Stop<'a> {
    limits: &'a Limits<'a>,
    work: u64,
}

impl Stop<'_> {
    fn reason(&self) -> Option<Why> {
        self.limits.over(self.work)
    }

    fn now(&self) -> bool {
        self.reason().is_some()
    }
}

/// Patterns found so far, each once.
#[derive(Default)]
struct Pool {
    patterns: Vec<Pattern>,
    known: FxHashMap<Pattern, usize>,
}

impl Pool {
    /// Index of a pattern, new or known.
    fn add(&mut self, pattern: &Pattern) -> usize {
        if let Some(&at) = self.known.get(pattern) {
            return at;
        }
        self.patterns.push(pattern.clone());
        self.known.insert(pattern.clone(), self.patterns.len() - 1);
        self.patterns.len() - 1
    }
}

/// Sticks cut, one pattern each.
#[derive(Clone, Default)]
struct Plan {
    patterns: Vec<Pattern>,
    cost: i64,
}

impl Plan {
    fn push(&mut self, pattern: Pattern) {
        self.cost += pattern.net;
        self.patterns.push(pattern);
    }
}

struct Search<'a> {
    case: Case<'a>,
    stop: Stop<'a>,
    start: Instant,
    best: Option<Plan>,
    bound: i64,
    pool: Pool,
    tables: Tables,
    sums: Sums,
    rng: ChaCha8Rng,
}

impl<'a> Search<'a> {
    fn new(case: Case<'a>, limits: &'a Limits<'a>) -> Search<'a> {
        Search {
            sums: Sums::new(&case, 0),
            case,
            stop: Stop { limits, work: 0 },
            start: Instant::now(),
            best: None,
            bound: 0,
            pool: Pool::default(),
            tables: Tables::default(),
            rng: ChaCha8Rng::seed_from_u64(limits.seed),
        }
    }

    fn run(&mut self) -> Why {
        let demand = self.case.demand.clone();
        let left: Vec<u32> = self.case.classes.iter().map(|class| class.count).collect();
        let rest = Rest { demand: &demand, left: &left, prices: None, asked: &Asked::default() };
        self.open(&rest);
        if let Some(why) = self.ended() {
            return why;
        }
        let relaxed = self.relaxed(&rest, 0);
        self.raise(relaxed.bound);
        let mut tree = Tree::new(&self.case, self.bound, &relaxed.prices);
        let mut dives = 0;
        let (mut on_dives, mut on_tree) = (0, 0);
        loop {
            if let Some(why) = self.ended() {
                return why;
            }
            let before = self.stop.work;
            // The tree alone can prove, once there is a plan; dives alone find one.
            if self.best.is_some() && dives >= DIVES_FIRST && on_tree <= on_dives && !tree.is_done() {
                self.branch(&mut tree);
                on_tree += self.stop.work - before;
                continue;
            }
            if dives > MOST_DIVES && (self.best.is_none() || tree.is_done()) {
                return Why::Work;
            }
            let noise = [0.0, 0.0, 0.1, 0.2, 0.4][dives.min(2 + dives % 3)];
            self.dive(Choice { noise, held_back: (dives % 2) as u32 }, Some(relaxed.clone()));
            on_dives += self.stop.work - before;
            dives += 1;
        }
    }

    /// First plans.
    fn open(&mut self, rest: &Rest) {
        if let Some(plan) = greedy::best_fit(&self.case, rest) {
            self.sums = Sums::new(&self.case, plan.cost);
            self.offer(plan);
            self.raise(0);
        }
        let mut prices = greedy::lengths(&self.case);
        let mut manner = Manner::Longest;
        for _ in 0..=CORRECTIONS {
            if self.ended().is_some() {
                return;
            }
            let filled = greedy::fill(&self.case, rest, &prices, manner, &mut self.tables.table, &mut self.stop);
            let Some(plan) = filled else { continue };
            greedy::corrected(&self.case, &plan, &mut prices);
            manner = Manner::Worthiest;
            self.offer(plan);
        }
    }

    /// Keeps an answer if it is the cheapest.
    fn offer(&mut self, plan: Plan) {
        if self.best.as_ref().is_none_or(|best| plan.cost < best.cost) {
            for pattern in &plan.patterns {
                self.pool.add(pattern);
            }
            self.best = Some(plan);
            self.report();
        }
    }

    /// Lifts the bound to the next total that can occur.
    fn raise(&mut self, bound: i64) {
        let bound = self.sums.up(bound);
        if bound > self.bound {
            self.bound = bound;
            self.report();
        }
    }

    fn report(&self) {
        let Some(best) = &self.best else { return };
        let made: u64 = self.case.demand.iter().map(|&d| u64::from(d)).sum();
        (self.stop.limits.progress)(&Progress {
            seconds: self.start.elapsed().as_secs_f64(),
            made,
            asked: made,
            cost: best.cost,
            bound: self.bound.min(best.cost),
        });
    }

    /// The least cost that is not worth reaching.
    fn ceiling(&self) -> i64 {
        self.best.as_ref().map_or(i64::MAX, |best| best.cost)
    }

    /// True when no answer at such a cost improves on the best.
    fn hopeless(&self, bound: i64) -> bool {
        self.no_better(self.sums.up(bound))
    }

    /// True when a total is not below the best by more than a cent.
    fn no_better(&self, total: i64) -> bool {
        total.saturating_add(CENT) >= self.ceiling()
    }

    fn closed(&self) -> bool {
        self.best.as_ref().is_some_and(|best| best.cost - self.bound <= CENT)
    }

    fn ended(&self) -> Option<Why> {
        if self.closed() {
            return Some(Why::Proven);
        }
        let near = |best: &Plan| (best.cost - self.bound) as f64 <= self.stop.limits.gap * best.cost as f64;
        if self.stop.limits.gap > 0.0 && self.best.as_ref().is_some_and(near) {
            return Some(Why::Gap);
        }
        self.stop.reason()
    }
}
