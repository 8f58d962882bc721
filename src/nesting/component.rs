//! The search over one independent part of a problem: stock and items that exchange nothing with the rest.
//!
//! A component has its own prices, bound and best answer, and takes the run one step further each time it is asked: a round
//! of column generation, a cut on the choice of stock, a round of recombination. What a step is follows
//! from the work spent so far, never from a clock. Which component is next is `solve`'s business.

use rayon::prelude::*;
use rustc_hash::FxHashMap;

use super::bound::{attainable, by_area};
use super::choice::Choice;
use super::colgen::{Colgen, Look, Looked, MOST_CARE};
use super::construct::{FILLING, Ground, Judge, Wish, construct};
use super::dive::dive;
use super::engine::{Engine, Scratch};
use super::fork::Forks;
use super::master::Column;
use super::pack::{Aim, Known, Packing, Spend, Task, Tree, can_be_listed, pack};
use super::problem::{Limits, Problem, Stop};
use super::recombine::{Recombination, Sought};
use super::rounding::rounded;
use super::solution::Solution;
use super::sticks;
use super::ways::Asked;

/// Rounds of column generation from one fresh answer at its prices to the next.
const REBUILD_EVERY: usize = 4;
/// An answer from this many pieces of stock or fewer may be proven by choosing stock: so many times as much work goes there as
/// into better answers.
const FEW: usize = 14;
const FEW_SHARE: u64 = 8;
/// With more, one part in so many does, and choices are cut off with more and more care before they are packed.
const MANY_SHARE: u64 = 2;
/// Work on the answers from one choice of stock each time it comes back, about.
const PACKING: u64 = 4_000;
/// When a choice comes back so many times more, an answer is looked for in it.
const ANSWERS_EVERY: u32 = 3;
/// A choice whose bound has come by one part in so many from the least one's to the best answer's cost is left for others.
const ENOUGH: i64 = 2;
/// What a choice of few boards may hold is listed as far as one part in so many of the gap lies above the least choice's bound, or of the
/// cost when that is more.
const SOUGHT: i64 = 3;
const SOUGHT_OF_COST: i64 = 100;
/// Choices that are taken up at once where all that their stock may hold is listed.
const AT_ONCE: usize = 2;
/// Searches of choices kept, to be taken further when the choice comes back.
const TREES: usize = 12;
/// Answers better by less than this part of the cost count as proven.
const CLOSE: i64 = 2500;
/// While prices are still looked for, and pricing is exact already, one part in so many of the work goes to plans from many.
const EARLY: u64 = 3;
/// The relaxation of many is left for choices of stock when its bound has but one part in so many to gain of what it is short of.
const NEAR: i64 = 20;
/// Choices of so many classes of stock at the most are parted; of more, single choices say enough, and the master takes too long.
const FORKED: usize = 100;
/// Where choices are parted, one cut in so many is taken at one choice alone, the others for all choices of a leaf.
const ALONE_EVERY: u32 = 2;
/// Stages of its column generation that are left out: leaves of choices are priced with the care they need.
const SPARED: usize = 2;
/// The first cuts of each choice of many are taken at a point between it and the relaxation, at this share of the way.
const CORED: usize = 1;
const INWARD: f64 = 0.3;
/// One part in so many of the time goes to sticks that share a job with other stock.
const FOR_STICKS: u32 = 6;

/// What is to be done about a choice of stock.
struct Turn {
    /// What is proven of it.
    bound: i64,
    chosen: Vec<u32>,
    /// How often it had its turn, with this one.
    times: u32,
    spend: Spend,
}

/// One component and all that its search knows.
pub struct Component {
    pub problem: Problem,
    engines: Vec<Engine>,
    target: Vec<u32>,
    asked: Asked,
    pub best: Solution,
    pub bound: i64,
    pub work: u64,
    /// How often it was bounded so far, mostly by a round of column generation.
    pub rounds_of_bound: usize,
    colgen: Colgen,
    choice: Choice,
    /// Cuts on the choice of stock so far, about.
    choices: u32,
    forks: Forks,
    /// Pieces of each class of stock that the relaxation takes.
    core: Vec<f64>,
    /// How often each choice of stock was the cheapest.
    tried: FxHashMap<Vec<u32>, u32>,
    /// Choices of which all was listed that their stock may hold, less those of which there was too much.
    listed: i32,
    /// The searches of choices that came back, the latest last.
    trees: Vec<(Vec<u32>, Tree)>,
    recombination: Recombination,
    on_choice: u64,
    on_plans: u64,
    scratch: Scratch,
}

impl Component {
    /// Begins with a whole answer and the prices it was made at.
    pub fn new(
        problem: Problem,
        engines: Vec<Engine>,
        target: Vec<u32>,
        best: Solution,
        prices: Vec<i64>,
        seed: u64,
    ) -> Component {
        let mut colgen = Colgen::new(&problem, prices, caps(&problem));
        for placed in &best.placed {
            colgen.offer(Column::from(placed));
        }
        let bound = attainable(&problem, by_area(&problem, &target));
        Component {
            choice: Choice::new(&problem),
            choices: 0,
            forks: Forks::new(&problem),
            core: Vec::new(),
            recombination: Recombination::new(&problem, seed, Sought::Cheapness),
            engines,
            asked: Asked::from(&target[..]),
            target,
            best,
            bound,
            work: 0,
            rounds_of_bound: 0,
            colgen,
            tried: FxHashMap::default(),
            listed: 0,
            trees: Vec::new(),
            on_choice: 0,
            on_plans: 0,
            scratch: Scratch::default(),
            problem,
        }
    }

    /// What the best answer may still cost too much.
    pub fn apart(&self) -> i64 {
        self.best.cost - self.bound
    }

    /// Where all stock is sticks, answers by the road that is theirs, for a share of the time or work there is.
    pub fn settle_sticks(&mut self, limits: &Limits) {
        let Some(answer) = sticks::solve(&self.problem, &self.target, &limits.part(0, FOR_STICKS)) else { return };
        let mut cut = Solution::empty(&self.problem);
        answer.placed.into_iter().for_each(|placed| cut.place(placed));
        self.keep(&cut);
        self.bound = self.bound.max(answer.bound);
        self.rounds_of_bound += 1;
        self.work += answer.work;
    }

    /// One step of the search.
    pub fn step(&mut self, stop: Stop) {
        self.search(stop);
        // Where nothing is credited, a cost is a sum of whole pieces of stock.
        self.bound = attainable(&self.problem, self.bound);
    }

    fn search(&mut self, stop: Stop) {
        if !self.colgen.converged {
            // Where column generation takes long, answers are not to wait for its end.
            if !self.few() && self.colgen.is_exact() && self.on_plans * EARLY <= self.work {
                self.improve(stop);
            } else {
                self.generate(stop);
            }
            return;
        }
        let (more, less) = if self.few() { (1, FEW_SHARE) } else { (MANY_SHARE, 1) };
        if self.on_choice * more <= self.on_plans * less {
            let before = self.work;
            self.choose(stop);
            self.on_choice += (self.work - before).max(1);
        } else {
            self.improve(stop);
        }
    }

    /// A round of recombination, on account of plans.
    fn improve(&mut self, stop: Stop) {
        let before = self.work;
        self.recombine(stop);
        self.on_plans += (self.work - before).max(1);
    }

    /// So few pieces of stock that choices of them can be proven and dives are short.
    fn few(&self) -> bool {
        self.best.placed.len() <= FEW
    }

    /// The answers of a choice come from lists, which find the cheapest; else they are to be looked for.
    fn listable(&self) -> bool {
        self.few() && self.listed >= 0 && self.problem.stock.iter().all(can_be_listed)
    }

    /// So many pieces of stock that choices are parted, and not too many.
    fn parted(&self) -> bool {
        !self.few() && self.problem.stock.len() <= FORKED
    }

    fn keep(&mut self, candidate: &Solution) -> bool {
        let better = candidate.complete(&self.problem, &self.target)
            && candidate.merit(&self.problem).beats(&self.best.merit(&self.problem));
        if better {
            self.best = candidate.clone();
        }
        better
    }

    /// A round of column generation, and now and then an answer from it.
    fn generate(&mut self, stop: Stop) {
        let ground = Ground { problem: &self.problem, engines: &self.engines };
        if !self.few() {
            self.colgen.near = self.apart() / NEAR;
            self.colgen.spared = if self.parted() { SPARED } else { 0 };
        }
        self.work += self.colgen.round(&ground, &self.asked, stop);
        self.bound = self.bound.max(self.colgen.bound);
        self.rounds_of_bound += 1;
        if self.colgen.converged || self.rounds_of_bound.is_multiple_of(REBUILD_EVERY) {
            let (answer, work) = rounded(&ground, &self.target, &self.colgen, &mut self.scratch);
            self.work += work;
            self.keep(&answer);
        }
        if self.colgen.converged && self.few() {
            let left: Vec<u32> = self.problem.stock.iter().map(|s| s.count).collect();
            self.dive(&left, stop);
        }
    }

    /// A whole answer from the relaxation over just `left`, what it lacks made from what else there is.
    fn dive(&mut self, left: &[u32], stop: Stop) {
        let ground = Ground { problem: &self.problem, engines: &self.engines };
        let (target, known) = (&self.target, self.colgen.known());
        let (mut answer, mut work) = dive(&ground, target, left, &known, self.best.cost, stop);
        if !answer.complete(&self.problem, target) {
            let (spare, prices) = (ground.unused(&answer), &self.colgen.prices);
            let wish = Wish { target, prices, judge: Judge::Profit, effort: FILLING, stop };
            work += construct(&ground, &mut answer, wish, &spare, &mut self.scratch);
        }
        self.work += work;
        self.keep(&answer);
    }

    /// Cuts on the choice of stock from looks at all stock, at the same time.
    fn cut(&mut self, looks: &[Look], stop: Stop) {
        let ground = Ground { problem: &self.problem, engines: &self.engines };
        self.take(self.colgen.look_each(&ground, looks, stop));
    }

    /// Takes up what looks found.
    fn take(&mut self, looked: Vec<Looked>) {
        let ground = Ground { problem: &self.problem, engines: &self.engines };
        for looked in looked {
            let prices = looked.look.prices;
            let (uppers, work) = self.colgen.take(&ground, looked);
            self.choice.add(&self.problem, &self.asked, prices, &uppers);
            self.work += work;
        }
    }

    /// Prices for a cut at a choice. With many pieces of stock, those of the relaxation there swing from one choice to the next and
    /// are mixed with those of the cut that says most of it so far; `cored` ones are of a point between it and what the
    /// relaxation over all stock takes, where a cut says something of many choices (in-out separation, Ben-Ameur and Neto 2007).
    fn prices_at(&self, chosen: &[u32], cored: bool) -> Vec<i64> {
        let share = if cored { INWARD } else { 1.0 };
        let part = |(&n, core): (&u32, &f64)| share * f64::from(n) + (1.0 - share) * core;
        let parts: Vec<f64> = chosen.iter().zip(&self.core).map(part).collect();
        let prices = self.colgen.prices_of(&self.problem, &self.asked, &parts);
        if self.few() {
            return prices;
        }
        let known = self.choice.said_between(chosen, chosen).map_or(&prices[..], |said| said.0);
        prices.iter().zip(known).map(|(price, known)| known + (price - known) / 2).collect()
    }

    /// One more cut on the choice of stock, taken at the choice that looks cheapest, and a plan from just that stock.
    fn choose(&mut self, stop: Stop) {
        if self.choice.is_empty() {
            // Two cuts to begin with: what stock costs by itself, and the prices of the relaxation.
            let (all, nothing) = (vec![1; self.problem.stock.len()], vec![0; self.target.len()]);
            self.core = self.colgen.used();
            let prices = self.colgen.prices.clone();
            let look = |prices| Look { prices, chosen: &all, known: &[], care: 0 };
            self.cut(&[look(&nothing), look(&prices)], stop);
            if self.choice.is_empty() {
                // Told to stop.
                return;
            }
        }
        self.choices += 1;
        if self.parted() && !self.choices.is_multiple_of(ALONE_EVERY) && self.fork(stop) {
            return;
        }
        let (bound, chosen) = self.choice.least();
        self.bound = self.bound.max(bound);
        let mut turns = vec![self.turn(bound, chosen)];
        // Whatever is below what is sought has its turn sooner or later: several at once keep all threads busy.
        while self.listable() && turns.len() < AT_ONCE {
            let (bound, chosen) = self.choice.least_beside(turns.iter().map(|turn| &turn.chosen));
            if bound >= turns[0].spend.sought {
                break;
            }
            turns.push(self.turn(bound, chosen));
        }
        self.take_turns(turns, stop);
    }

    /// A choice's turn, one more.
    fn turn(&mut self, bound: i64, chosen: Vec<u32>) -> Turn {
        let times = self.tried.entry(chosen.clone()).or_default();
        *times += 1;
        let times = *times;
        let cutoff = self.best.cost - self.best.cost / CLOSE;
        let until = (!times.is_multiple_of(3)).then_some(bound + (cutoff - bound) / ENOUGH);
        let sought = bound + ((cutoff - bound) / SOUGHT).max(cutoff / SOUGHT_OF_COST);
        Turn { bound, chosen, times, spend: Spend { cutoff, until, sought, budget: PACKING } }
    }

    /// The first turns of a choice bring cuts, the others a search among what it may give.
    fn take_turns(&mut self, turns: Vec<Turn>, stop: Stop) {
        let (cored, careful) = if self.few() { (0, 0) } else { (CORED, MOST_CARE) };
        let (first, later): (Vec<Turn>, Vec<Turn>) =
            turns.into_iter().partition(|turn| turn.times as usize <= cored + 1 + careful);
        for turn in later.iter().filter(|turn| turn.times % ANSWERS_EVERY == 1) {
            if !self.listable() {
                self.pack_an_answer(&turn.chosen, stop);
            }
        }
        let prices: Vec<Vec<i64>> =
            first.iter().map(|turn| self.prices_at(&turn.chosen, turn.times as usize <= cored)).collect();
        let care = |turn: &Turn| (turn.times as usize).saturating_sub(cored + 1);
        let looks = first.iter().zip(&prices);
        let looks = looks.map(|(turn, prices)| Look { prices, chosen: &turn.chosen, known: &[], care: care(turn) });
        let looks: Vec<Look> = looks.collect();
        let mut trees: Vec<Tree> = later.iter().map(|turn| self.tree(turn)).collect();
        let (ground, colgen) = (Ground { problem: &self.problem, engines: &self.engines }, &self.colgen);
        let grow = |(tree, turn): (&mut Tree, &Turn)| tree.grow(&ground, &colgen.columns, turn.spend, stop);
        let (looked, packings) = rayon::join(
            || colgen.look_each(&ground, &looks, stop),
            || trees.par_iter_mut().zip(&later).map(grow).collect::<Vec<_>>(),
        );
        self.take(looked);
        if self.few() && !self.listable() {
            first.iter().for_each(|turn| self.dive(&turn.chosen, stop));
        }
        self.search_ended(later, trees, packings, stop);
    }

    /// The search of a choice as far as it went, or one not yet begun.
    fn tree(&mut self, turn: &Turn) -> Tree {
        if let Some(at) = self.trees.iter().position(|(of, _)| *of == turn.chosen) {
            return self.trees.remove(at).1;
        }
        let ground = Ground { problem: &self.problem, engines: &self.engines };
        // Prices of the cut that says most of the choice are good ones to begin with.
        let said = self.choice.said_between(&turn.chosen, &turn.chosen);
        let (prices, profits) = said.expect("a choice has its turn once there are cuts");
        let aim = Aim::Bound { least: turn.bound, profits };
        let task = Task { target: &self.target, stock: &turn.chosen, aim };
        Tree::new(&ground, &task, &Known { prices, ..self.colgen.known() })
    }

    /// Takes up what searches of choices came to.
    fn search_ended(&mut self, turns: Vec<Turn>, trees: Vec<Tree>, mut packings: Vec<Packing>, stop: Stop) {
        for (turn, packing) in turns.iter().zip(&mut packings) {
            self.learn(packing);
            if let Some(listed) = packing.listed {
                self.listed = (self.listed + if listed { 1 } else { -1 }).min(TREES as i32);
            }
            self.choice.add_packed(turn.chosen.clone(), packing.bound);
            for (known, learned) in self.colgen.memories.iter_mut().zip(packing.memories.drain(..)) {
                *known = learned.unwrap_or_else(|| std::mem::take(known));
            }
        }
        let priced = turns.iter().zip(&packings).filter(|_| self.few());
        let priced = priced.filter_map(|(turn, packing)| Some((&turn.chosen, packing.priced.as_ref()?)));
        let looks = priced.map(|(chosen, (prices, known))| Look { prices, chosen, known, care: 0 });
        self.cut(&looks.collect::<Vec<_>>(), stop);
        if !packings.is_empty() && packings.iter().all(|packing| packing.work == 0) {
            // All is known of what is the cheapest choice: the bound stays, plans may get better.
            self.recombine(stop);
        }
        self.trees.extend(turns.into_iter().map(|turn| turn.chosen).zip(trees));
        let surplus = self.trees.len().saturating_sub(TREES);
        self.trees.drain(..surplus);
    }

    /// One more cut, for the leaf of the least bound; false when nothing more comes of parting the choices of stock.
    fn fork(&mut self, stop: Stop) -> bool {
        let cutoff = self.best.cost - self.best.cost / CLOSE;
        let known = self.colgen.known();
        let ask = self.forks.next(&self.problem, &self.target, &known, &mut self.choice, cutoff, stop);
        self.work += std::mem::take(&mut self.forks.work);
        self.bound = self.bound.max(self.forks.bound().min(cutoff));
        let Some(ask) = ask else { return false };
        let ground = Ground { problem: &self.problem, engines: &self.engines };
        if let Some((uppers, work)) = self.colgen.price_as(&ground, &ask.prices, &ask.wanted, ask.near, stop) {
            self.choice.add(&self.problem, &self.asked, &ask.prices, &uppers);
            self.work += work;
        }
        true
    }

    /// A search for an answer from just the stock that is `chosen`, by light efforts.
    fn pack_an_answer(&mut self, chosen: &[u32], stop: Stop) {
        let ground = Ground { problem: &self.problem, engines: &self.engines };
        let task = Task { target: &self.target, stock: chosen, aim: Aim::Answer };
        let spend = Spend { cutoff: self.best.cost, until: None, sought: 0, budget: PACKING };
        let mut packing = pack(&ground, &task, &self.colgen.known(), spend, stop);
        self.learn(&mut packing);
    }

    /// Takes up the layouts and the answer that a search found.
    fn learn(&mut self, packing: &mut Packing) {
        self.work += packing.work;
        for column in packing.columns.drain(..) {
            self.colgen.offer(column);
        }
        if let Some(answer) = packing.answer.take() {
            self.keep(&answer);
        }
    }

    /// Better answers from the layouts known.
    fn recombine(&mut self, stop: Stop) {
        let ground = Ground { problem: &self.problem, engines: &self.engines };
        let (columns, prices) = (&self.colgen.columns, &self.colgen.prices);
        let (answers, work) = self.recombination.round(&ground, &self.target, columns, prices, &self.best, stop);
        self.work += work;
        answers.iter().for_each(|answer| {
            self.keep(answer);
        });
    }
}

/// Prices above which no item needs to go: twice the dearest piece of stock that gives it.
pub(super) fn caps(problem: &Problem) -> Vec<i64> {
    let mut caps = vec![0; problem.items.len()];
    for stock in &problem.stock {
        for item in stock.items() {
            caps[item] = caps[item].max(stock.cost);
        }
    }
    caps.into_iter().map(|cap: i64| cap.saturating_mul(2).saturating_add(1_000_000)).collect()
}
