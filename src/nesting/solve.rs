//! The run: first plan, prices and bound, better plans, and when to stop.
//!
//! Phases share one incumbent. Their order and lengths are counted in work (layouts computed), never in time, so that a
//! seed and a work limit decide everything; the clock and the caller's flag can only end the run.

use std::sync::atomic::Ordering;
use std::time::Instant;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;
use rustc_hash::FxHashSet;

use super::bound::{attainable, by_area};
use super::choice::Choice;
use super::colgen::Colgen;
use super::construct::{Candidate, FILLING, Ground, Judge, construct};
use super::dive::dive;
use super::engine::{Engine, Scratch};
use super::improve::{Walk, kinships};
use super::layout::{Outcome, Why};
use super::master::Column;
use super::problem::{Kind, Limits, Problem, Progress};
use super::shortage;
use super::solution::{Solution, copies_made};
use super::sticks;

/// Sequential value correction tries this many times to make everything before the job is called short.
const ATTEMPTS: usize = 24;
/// Money differences up to this (micro-units) do not count: one hundredth of the currency unit.
const CENT: i64 = 10_000;
/// Rounds of the walk between two restarts from the incumbent.
const CYCLE: usize = 60;
/// Rounds of column generation from one fresh answer at its prices to the next.
const REBUILD_EVERY: usize = 4;
/// Unused classes of stock offered to complete an answer.
const COMPLETERS: usize = 8;

/// Solves the problem within the limits. The same problem, seed and work limit give the same layouts on any number of
/// threads when the clock and the caller do not interfere.
pub fn solve(problem: &Problem, limits: &Limits) -> Outcome {
    if let Some(outcome) = sticks::outcome(problem, limits) {
        return outcome;
    }
    let threads = if limits.threads == 0 { num_threads() } else { limits.threads };
    match rayon::ThreadPoolBuilder::new().num_threads(threads).build() {
        Ok(pool) => pool.install(|| Run::new(problem, limits).go()),
        // A machine that cannot start threads still solves, on the caller's own.
        Err(_) => Run::new(problem, limits).go(),
    }
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
    bound: i64,
}

impl<'a> Run<'a> {
    fn new(problem: &'a Problem, limits: &'a Limits<'a>) -> Run<'a> {
        let start = Instant::now();
        let engines = problem.stock.par_iter().map(Engine::new).collect();
        Run { problem, limits, start, engines, best: Solution::empty(problem), work: 0, bound: 0 }
    }

    fn go(mut self) -> Outcome {
        let demand: Vec<u32> = self.problem.items.iter().map(|i| i.demand).collect();
        let prices = opening_prices(self.problem);
        self.open(&demand, &prices);
        if !self.best.complete(&demand) {
            self.settle_for_less(&prices);
        }
        let copies = copies_made(self.problem, &self.best.made);
        let target = self.whole_copies(&copies);
        let why = if target.iter().all(|&n| n == 0) {
            self.best = Solution::empty(self.problem);
            Why::Proven
        } else {
            self.refine(&target, prices)
        };
        let shortage_proven = shortage::proven(&self.ground(), &copies);
        Outcome {
            layouts: self.best.layouts(),
            made: self.best.made.clone(),
            cost: self.best.cost,
            bound: self.bound,
            proof: "Lagrangian bound over column generation and whole choices of stock",
            shortage_proven,
            why,
            work: self.work,
        }
    }

    fn ground(&self) -> Ground<'_> {
        Ground { problem: self.problem, engines: &self.engines }
    }

    /// The reason to stop now, if there is one.
    fn interrupted(&self) -> Option<Why> {
        if self.limits.cancel.load(Ordering::Relaxed) {
            return Some(Why::Cancelled);
        }
        if self.limits.deadline.is_some_and(|deadline| Instant::now() >= deadline) {
            return Some(Why::Time);
        }
        self.limits.work.is_some_and(|most| self.work >= most).then_some(Why::Work)
    }

    fn closed(&self) -> Option<Why> {
        let apart = self.best.cost - self.bound;
        if apart <= CENT.max(self.best.cost / 2000) {
            return Some(Why::Proven);
        }
        (apart as f64 <= self.limits.gap * self.best.cost as f64).then_some(Why::Gap)
    }

    fn report(&self, target: &[u32]) {
        (self.limits.progress)(&Progress {
            seconds: self.start.elapsed().as_secs_f64(),
            made: self.best.made.iter().map(|&n| u64::from(n)).sum(),
            asked: target.iter().map(|&n| u64::from(n)).sum(),
            cost: self.best.cost,
            bound: self.bound,
        });
    }

    /// Lifts the bound to the next total that can occur.
    fn raise(&mut self, bound: i64, target: &[u32]) {
        let bound = attainable(self.problem, bound);
        if bound > self.bound {
            self.bound = bound;
            self.report(target);
        }
    }

    /// Keeps the better answer; true when it is `candidate`.
    fn keep(&mut self, candidate: &Solution, target: &[u32]) -> bool {
        let better = candidate.merit(self.problem).beats(&self.best.merit(self.problem));
        if better {
            self.best = candidate.clone();
            self.report(target);
        }
        better
    }

    /// First plans: with the prices of what was left unmade raised from one to the next (sequential value correction),
    /// until everything is made or the attempts run out.
    fn open(&mut self, demand: &[u32], prices: &[i64]) {
        let mut scratch = Scratch::default();
        let everything = self.candidates();
        let mut rng = ChaCha8Rng::seed_from_u64(self.limits.seed);
        let mut tried = prices.to_vec();
        for attempt in 0..ATTEMPTS {
            let judge = if attempt % 2 == 0 { Judge::Ratio } else { Judge::Profit };
            let mut solution = Solution::empty(self.problem);
            let effort = FILLING;
            let (ground, at) = (self.ground(), &mut scratch);
            let calls = construct(&ground, &mut solution, demand, &tried, &everything, judge, 0, effort, at);
            self.work += calls;
            self.keep(&solution, demand);
            if solution.complete(demand) || self.interrupted().is_some() {
                return;
            }
            let wanted = solution.wanted(demand);
            let lowest = self.problem.products.iter().map(|p| p.priority).min().unwrap_or(0);
            for (i, item) in self.problem.items.iter().enumerate() {
                let product = &self.problem.products[item.product];
                let rise =
                    if wanted[i] > 0 { 1300 + 200 * i64::from((product.priority - lowest).clamp(0, 10)) } else { 1000 };
                tried[i] =
                    (tried[i] / 1000).saturating_mul(rise + rng.random_range(-50..=50)).clamp(1, i64::MAX / 1_000_000);
            }
        }
    }

    /// Replaces an answer that is short by one that makes whole copies only: from the copies it has, or
    /// from none when they cannot be made alone, as many more of each product as fit, the most important first.
    fn settle_for_less(&mut self, prices: &[i64]) {
        let products = &self.problem.products;
        let mut order: Vec<usize> = (0..products.len()).collect();
        order.sort_by_key(|&p| std::cmp::Reverse((products[p].priority, products[p].value)));
        let reached = copies_made(self.problem, &self.best.made);
        let known = std::mem::replace(&mut self.best, Solution::empty(self.problem));
        for mut copies in [reached, vec![0; products.len()]] {
            let start = if known.complete(&self.whole_copies(&copies)) {
                Some(known.clone())
            } else {
                self.making(&copies, prices)
            };
            let Some(mut answer) = start else { continue };
            for &p in &order {
                let (mut most, mut least_not) = (copies[p], products[p].copies + 1);
                while least_not - most > 1 {
                    copies[p] = most + (least_not - most) / 2;
                    match self.making(&copies, prices) {
                        Some(better) => (answer, most) = (better, copies[p]),
                        None => least_not = copies[p],
                    }
                }
                copies[p] = most;
            }
            let target = self.whole_copies(&copies);
            self.keep(&answer, &target);
            return;
        }
    }

    /// An answer that makes just so many copies, if one is found in a few attempts.
    fn making(&mut self, copies: &[u32], prices: &[i64]) -> Option<Solution> {
        let target = self.whole_copies(copies);
        let everything = self.candidates();
        let mut scratch = Scratch::default();
        let mut tried = prices.to_vec();
        for judge in [Judge::Ratio, Judge::Profit, Judge::Ratio, Judge::Profit] {
            let mut answer = Solution::empty(self.problem);
            let calls =
                construct(&self.ground(), &mut answer, &target, &tried, &everything, judge, 0, FILLING, &mut scratch);
            self.work += calls;
            if answer.complete(&target) {
                return Some(answer);
            }
            if matches!(self.interrupted(), Some(Why::Cancelled | Why::Time)) {
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

    /// Pieces that make whole copies only.
    fn whole_copies(&self, copies: &[u32]) -> Vec<u32> {
        self.problem.items.iter().map(|item| item.per_copy * copies[item.product]).collect()
    }

    fn candidates(&self) -> Vec<Candidate> {
        let all = self.problem.stock.iter().enumerate();
        all.map(|(stock, class)| Candidate { stock, left: class.count }).collect()
    }

    fn unused(&self, solution: &Solution) -> Vec<Candidate> {
        let all = self.problem.stock.iter().enumerate();
        all.map(|(stock, class)| Candidate { stock, left: class.count - solution.used[stock] })
            .filter(|c| c.left > 0)
            .collect()
    }

    /// Prices and bound, and better answers, until something ends the run.
    fn refine(&mut self, target: &[u32], prices: Vec<i64>) -> Why {
        self.raise(by_area(self.problem, target), target);
        let caps = caps(self.problem);
        let mut colgen = Colgen::new(self.problem, prices, caps);
        for placed in &self.best.placed {
            colgen.offer(Column::from(placed));
        }
        let mut walk: Option<Walk> = None;
        let (mut rounds_of_bound, mut dived) = (0, false);
        let kin = kinships(self.problem);
        let mut choice = Choice::new(self.problem, &kin, &|s| items_of(&self.problem.stock[s].kind));
        let mut tried = FxHashSet::default();
        let (mut on_choice, mut on_plans) = (0, 0);
        let mut scratch = Scratch::default();
        let mut rng = ChaCha8Rng::seed_from_u64(self.limits.seed ^ 0x9e37_79b9_7f4a_7c15);
        let mut rounds = 0;
        loop {
            let why = self.closed().or_else(|| self.interrupted());
            // A work limit, however small, leaves room for one bound.
            if let Some(why) = why.filter(|why| rounds_of_bound > 0 || *why != Why::Work) {
                return why;
            }
            if !colgen.converged {
                let calls = colgen.round(&self.ground(), target);
                self.work += calls;
                self.raise(colgen.bound, target);
                rounds_of_bound += 1;
                if colgen.converged || (colgen.proper && !dived) {
                    self.dive(target, &colgen, &mut scratch);
                    dived = true;
                } else if rounds_of_bound % REBUILD_EVERY == 3 {
                    self.rebuild(target, &colgen.prices, &mut scratch);
                }
                continue;
            }
            if on_choice <= on_plans {
                let calls = self.choose(target, &mut colgen, &mut choice, &mut tried, &mut scratch);
                on_choice += calls;
                self.work += calls;
                continue;
            }
            let walk = walk.get_or_insert_with(|| Walk::new(self.problem, self.best.clone(), self.limits.seed));
            if rounds % CYCLE == 0 {
                walk.current = self.best.clone();
            }
            let heat = (self.best.cost / 1000).max(1) * (CYCLE - rounds % CYCLE) as i64 / CYCLE as i64;
            rounds += 1;
            let mut calls = walk.round(&self.ground(), target, &colgen.prices, heat, &|| self.interrupted().is_some());
            let mut answer = walk.current.clone();
            let lacking = !answer.complete(target);
            if lacking {
                calls += self.complete(&mut answer, target, &colgen.prices, &mut rng, &mut scratch);
            }
            self.work += calls;
            on_plans += calls;
            if answer.complete(target) && self.keep(&answer, target) && lacking {
                walk.current = answer;
            }
        }
    }

    /// A fresh answer at the prices of the relaxation.
    fn rebuild(&mut self, target: &[u32], prices: &[i64], scratch: &mut Scratch) {
        let mut solution = Solution::empty(self.problem);
        let candidates = self.candidates();
        let calls =
            construct(&self.ground(), &mut solution, target, prices, &candidates, Judge::Ratio, 0, FILLING, scratch);
        self.work += calls;
        if solution.complete(target) {
            self.keep(&solution, target);
        }
    }

    /// One more cut on the choice of stock, taken at the choice that looks cheapest, and a plan from just that stock.
    /// Returns the number of layouts computed.
    fn choose(
        &mut self,
        target: &[u32],
        colgen: &mut Colgen,
        choice: &mut Choice,
        tried: &mut FxHashSet<Vec<u32>>,
        scratch: &mut Scratch,
    ) -> u64 {
        let fresh = choice.is_empty();
        if fresh {
            // Two cuts to begin with: what stock costs by itself, and the prices of the relaxation.
            for prices in [vec![0; target.len()], colgen.prices.clone()] {
                colgen.price(&self.ground(), target, &prices, choice, false);
            }
        }
        let (bound, chosen) = choice.least();
        self.raise(bound, target);
        let prices = colgen.prices_of(self.problem, target, &chosen);
        let unseen = tried.insert(chosen.clone());
        colgen.price(&self.ground(), target, &prices, choice, !unseen);
        let mut calls = self.engines.len() as u64 * if fresh { 3 } else { 1 };
        if unseen {
            let stop = || self.interrupted().is_some();
            let (mut answer, more) = dive(&self.ground(), target, &chosen, &colgen.columns, &colgen.caps, &stop);
            calls += more;
            if !answer.complete(target) {
                calls += self.complete_at(&mut answer, target, &prices, scratch);
            }
            if answer.complete(target) {
                self.keep(&answer, target);
            }
        }
        calls
    }

    /// Makes what is lacking from all that is unused.
    fn complete_at(&self, answer: &mut Solution, target: &[u32], prices: &[i64], scratch: &mut Scratch) -> u64 {
        let spare = self.unused(answer);
        construct(&self.ground(), answer, target, prices, &spare, Judge::Profit, 0, FILLING, scratch)
    }

    /// A whole answer from the relaxation, what it lacks made from what is left.
    fn dive(&mut self, target: &[u32], colgen: &Colgen, scratch: &mut Scratch) {
        let left: Vec<u32> = self.problem.stock.iter().map(|s| s.count).collect();
        let stop = || self.interrupted().is_some();
        let (mut answer, calls) = dive(&self.ground(), target, &left, &colgen.columns, &colgen.caps, &stop);
        self.work += calls;
        if !answer.complete(target) {
            let spare = self.unused(&answer);
            let ground = self.ground();
            self.work +=
                construct(&ground, &mut answer, target, &colgen.prices, &spare, Judge::Ratio, 0, FILLING, scratch);
        }
        if answer.complete(target) {
            self.keep(&answer, target);
        }
    }

    /// Makes what is lacking from a few unused pieces of stock.
    fn complete(
        &self,
        answer: &mut Solution,
        target: &[u32],
        prices: &[i64],
        rng: &mut ChaCha8Rng,
        scratch: &mut Scratch,
    ) -> u64 {
        let lacking: i64 =
            answer.wanted(target).iter().zip(prices).map(|(&n, &p)| i64::from(n).saturating_mul(p)).sum();
        if answer.cost.saturating_add(lacking) >= self.best.cost {
            return 0;
        }
        let mut spare = self.unused(answer);
        while spare.len() > COMPLETERS {
            spare.swap_remove(rng.random_range(0..spare.len()));
        }
        let ground = self.ground();
        construct(&ground, answer, target, prices, &spare, Judge::Profit, 0, FILLING, scratch)
    }
}

/// Shape factors of the opening prices, thousandths: a piece is worth its share of the stock, more so when it is wide or
/// long for it, since such pieces are the hardest to place; then the usual waste on top. Plain shares starve wide parts.
const SHARE: i128 = 800;
const FOR_WIDTH: i128 = 700;
const FOR_LENGTH: i128 = 600;
const WASTE: i128 = 1500;

/// Prices to begin with: the cheapest share of a piece of stock that an item takes, weighted by its shape; micro-units.
fn opening_prices(problem: &Problem) -> Vec<i64> {
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
                for c in &board.cuttings {
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

/// Prices above which no item needs to go: twice the dearest piece of stock that gives it.
fn caps(problem: &Problem) -> Vec<i64> {
    let mut caps = vec![0; problem.items.len()];
    for stock in &problem.stock {
        for item in items_of(&stock.kind) {
            caps[item] = caps[item].max(stock.cost);
        }
    }
    caps.into_iter().map(|cap: i64| cap.saturating_mul(2).saturating_add(1_000_000)).collect()
}

/// The items a piece of stock can give, some of them more than once.
pub(super) fn items_of(kind: &Kind) -> Vec<usize> {
    match kind {
        Kind::Board(board) => board.cuttings.iter().flat_map(|c| c.yields.iter().map(|&(item, _)| item)).collect(),
        Kind::Sheet(sheet) => sheet.pieces.iter().map(|p| p.item).collect(),
        Kind::Stick(stick) => stick.pieces.iter().map(|&(item, _)| item).collect(),
    }
}
