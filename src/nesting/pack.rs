//! What a given stock can make, by branch and price: an answer from at most some pieces of stock, or the proof that none
//! is cheap enough.
//!
//! A node of the tree says of some pieces of stock (*seats*) how many pieces of an item they hold at least or at most, or
//! whether they are cut at all. Such rules are rows of the node's master or limits of its pricing, so that pricing stays
//! the engines' business (robust branching, Vanderbeck and Wolsey 1996; Barnhart et al. 1998): a row's price is added to
//! the price of that item on that seat. The bound of a node is Lagrangian, from proven upper values, in integers:
//!
//!   cost >= sum_i u_i d_i + sum_v p_v l_v - sum_s max(0, U_s(u + p) - c_s),
//!
//! without the max for a seat that must be cut. The least open node is what is proven. Best first; holds no choice of stock.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use rayon::prelude::*;
use rustc_hash::{FxHashMap, FxHashSet};

use super::board::Effort;
use super::construct::{Candidate, FILLING, Ground, Judge, construct};
use super::engine::{Memory, Scratch};
use super::improve::Stop;
use super::master::{Column, Relaxed, relax};
use super::solution::{Placed, Solution, room};

/// Rounds of column generation at a node, at the root more.
const ROUNDS: usize = 6;
const ROOT_ROUNDS: usize = 30;
/// Efforts of pricing at a node, each taken up when the one before finds nothing new.
const EFFORTS: [Effort; 3] = [
    Effort { states: 1, rounds: 1, coarse: true, ..Effort::EXACT },
    Effort { states: 2, rounds: 4, ..Effort::EXACT },
    Effort { states: 8, rounds: 4, ..Effort::EXACT },
];
/// Efforts when answers are wanted, not bounds.
const LIGHT: [Effort; 2] =
    [Effort { states: 1, rounds: 1, ..Effort::starts(8) }, Effort { states: 2, rounds: 2, ..Effort::starts(16) }];
/// Pricing that comes within this part of a piece's cost is close enough.
const SLACK: i64 = 1000;
/// Reduced costs up to this (micro-units) are the solver's noise.
const NOISE: i64 = 100;
/// A share this near to a whole number is one.
const WHOLE: f64 = 1e-4;
/// The master and the bound of a node are one when they are apart by no more than this share.
const MET: f64 = 2e-4;

/// What a rule speaks of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum What {
    /// The seat is cut at all.
    Cut,
    /// Pieces of an item on the seat.
    Item(usize),
}

/// A rule of a node about one seat.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Rule {
    seat: usize,
    what: What,
    least: Option<u32>,
    most: Option<u32>,
}

#[derive(Clone, Debug)]
struct Node {
    bound: i64,
    rules: Vec<Rule>,
    memories: Vec<Memory>,
    /// Prices of the best bound so far: of the items, then of the rows.
    center: Vec<i64>,
}

/// What was found out.
pub struct Packing {
    /// No answer from just this stock costs less.
    pub bound: i64,
    /// The best answer found, when it is whole.
    pub answer: Option<Solution>,
    /// Layouts found on the way.
    pub columns: Vec<Column>,
    /// Prices of the root's best bound.
    pub prices: Vec<i64>,
    pub work: u64,
}

/// What is known before a search: from column generation, or from the search around it.
#[derive(Clone, Copy)]
pub struct Known<'a> {
    pub columns: &'a [Column],
    /// By class of stock.
    pub memories: &'a [Memory],
    /// By item: what an unmade piece costs.
    pub caps: &'a [i64],
    /// By item: good prices to begin with.
    pub prices: &'a [i64],
}

/// What a search is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Aim {
    /// A bound on the answers that cut every piece of the stock; none costs less than this.
    Bound(i64),
    /// The same, down one branch to its end before the least open node is taken up, since answers lie deep.
    BoundByPlunging(i64),
    /// A good answer from any of the stock; the bound is not worth much.
    Answer,
}

/// The limits of a search.
#[derive(Clone, Copy)]
pub struct Task<'a> {
    pub target: &'a [u32],
    /// Pieces of stock, by class.
    pub stock: &'a [u32],
    pub aim: Aim,
    /// Answers from this cost on are of no use.
    pub cutoff: i64,
    /// Work to spend, about.
    pub budget: u64,
}

/// What one search works with.
struct Pack<'a> {
    ground: &'a Ground<'a>,
    target: &'a [u32],
    most: Vec<u32>,
    caps: &'a [i64],
    /// Class of stock by seat.
    seats: Vec<usize>,
    /// By seat: its layouts known so far.
    pool: Vec<Vec<Column>>,
    seen: FxHashSet<Column>,
    columns: Vec<Column>,
    best: Option<Solution>,
    /// Answers from this cost on are of no use.
    cutoff: i64,
    work: u64,
    /// Answers are wanted, not bounds.
    light: bool,
    /// Rules of the root.
    root_rules: usize,
    scratch: Scratch,
}

/// Searches the answers from some stock for one that is cheap enough.
pub fn pack(ground: &Ground, task: &Task, known: &Known, stop: Stop) -> Packing {
    let Task { target, stock, .. } = *task;
    let seats: Vec<usize> = (0..stock.len()).flat_map(|s| std::iter::repeat_n(s, stock[s] as usize)).collect();
    let light = task.aim == Aim::Answer;
    let (least_known, plunge) = match task.aim {
        Aim::Bound(known) => (known, false),
        Aim::BoundByPlunging(known) => (known, true),
        Aim::Answer => (0, true),
    };
    let pool = |&s: &usize| known.columns.iter().filter(|c| c.stock == s).cloned().collect();
    let mut search = Pack {
        ground,
        target,
        // A bound is for all that make the target or more, up to the demand; an answer makes the target.
        most: if light { room(ground.problem, target) } else { ground.problem.most() },
        caps: known.caps,
        pool: seats.iter().map(pool).collect(),
        seats,
        seen: known.columns.iter().filter(|c| stock[c.stock] > 0).cloned().collect(),
        columns: Vec::new(),
        best: None,
        cutoff: task.cutoff,
        work: 0,
        light,
        root_rules: 0,
        scratch: Scratch::default(),
    };
    let memories = search.seats.iter().map(|&s| known.memories[s].clone()).collect();
    let cut = |seat| Rule { seat, what: What::Cut, least: Some(1), most: None };
    let rules: Vec<Rule> = (0..if light { 0 } else { search.seats.len() }).map(cut).collect();
    search.root_rules = rules.len();
    let mut root_prices = known.prices.to_vec();
    let mut open: Vec<Option<Node>> =
        vec![Some(Node { bound: least_known, rules, memories, center: known.prices.to_vec() })];
    let mut order = BinaryHeap::from([Reverse((least_known, 0))]);
    // The least bound of the nodes that were closed for their cost.
    let mut closed = i64::MAX;
    let mut unfinished = i64::MAX;
    let mut next = None;
    while let Some((bound, at)) = next.take().or_else(|| order.pop().map(|Reverse(node)| node)) {
        if search.work >= task.budget || stop() {
            let least = order.peek().map_or(i64::MAX, |Reverse((bound, _))| *bound);
            unfinished = bound.min(least);
            break;
        }
        if bound >= search.cutoff {
            closed = closed.min(bound);
            continue;
        }
        let node = open[at].take().expect("a node is opened once");
        let (node, branch) = search.solve(node, stop);
        if node.rules.len() == search.root_rules {
            root_prices.copy_from_slice(&node.center[..target.len()]);
        }
        if node.bound >= search.cutoff {
            closed = closed.min(node.bound);
            continue;
        }
        let Some(branch) = branch else {
            // Nothing to branch on: what the node holds is known as well as it will be.
            closed = closed.min(node.bound);
            continue;
        };
        for (side, rule) in branch.into_iter().enumerate() {
            let mut rules = node.rules.clone();
            rules.push(rule);
            if side == 0 && plunge {
                next = Some((node.bound, open.len()));
            } else {
                order.push(Reverse((node.bound, open.len())));
            }
            let (memories, center) = (node.memories.clone(), node.center.clone());
            open.push(Some(Node { bound: node.bound, rules, memories, center }));
        }
    }
    let bound = closed.min(unfinished);
    Packing { bound, answer: search.best, columns: search.columns, prices: root_prices, work: search.work }
}

impl Pack<'_> {
    /// Column generation at a node: its bound, and the two rules to branch on if it stays open.
    fn solve(&mut self, mut node: Node, stop: Stop) -> (Node, Option<[Rule; 2]>) {
        let root = node.rules.len() == self.root_rules;
        let efforts: &[Effort] = if self.light { &LIGHT } else { &EFFORTS };
        let last_step = if root || self.light { efforts.len() } else { efforts.len() - 1 };
        let rounds = if root && !self.light { ROOT_ROUNDS } else { ROUNDS };
        let rows: Vec<Rule> = node.rules.iter().copied().filter(|rule| rule.least.is_some()).collect();
        let limits: Vec<Vec<u32>> = (0..self.seats.len()).map(|seat| self.limits(seat, &node.rules)).collect();
        let (mut step, mut effort, mut last, mut straight) = (0, efforts[0], None, !root);
        for round in 0..rounds {
            let (columns, origin) = self.lawful(&node.rules, &rows, &limits);
            let Some(relaxed) = self.relaxed(&rows, &columns) else { break };
            node.center.resize(relaxed.prices.len(), 0);
            let at = if straight {
                relaxed.prices.clone()
            } else {
                relaxed.prices.iter().zip(&node.center).map(|(&a, &b)| a / 2 + b / 2).collect()
            };
            let grown = self.price(&mut node, &rows, &limits, &relaxed, at, effort);
            let met = relaxed.value - node.bound as f64 <= MET * relaxed.value;
            if round == 0 || !grown {
                self.round_off(&relaxed, &origin);
            }
            last = Some((relaxed, origin));
            if node.bound >= self.cutoff || met || stop() {
                break;
            }
            if !grown && !straight {
                straight = true;
            } else if !grown {
                straight = !root;
                step += 1;
                let Some(&next) = efforts[..last_step].get(step) else { break };
                effort = next;
            }
        }
        let branch = last.and_then(|(relaxed, origin)| self.branch(&node.rules, &relaxed, &origin, &limits));
        (node, branch)
    }

    /// The most of each item on a seat: what its rules say, and what the others' leave.
    fn limits(&self, seat: usize, rules: &[Rule]) -> Vec<u32> {
        let mut limits = self.most.clone();
        // The most that rules ask of an item on another seat, by seat and item.
        let mut elsewhere: FxHashMap<(usize, usize), u32> = FxHashMap::default();
        for rule in rules.iter().filter(|rule| rule.seat != seat) {
            if let (What::Item(item), Some(least)) = (rule.what, rule.least) {
                let known = elsewhere.entry((rule.seat, item)).or_default();
                *known = least.max(*known);
            }
        }
        elsewhere.into_iter().for_each(|((_, item), least)| limits[item] = limits[item].saturating_sub(least));
        for rule in rules.iter().filter(|rule| rule.seat == seat) {
            match (rule.what, rule.most) {
                (What::Cut, Some(0)) => limits.fill(0),
                (What::Item(item), Some(most)) => limits[item] = limits[item].min(most),
                _ => {}
            }
        }
        limits
    }

    /// The layouts that keep a node's rules, as columns of the master over seats: the rows of the rules are more items.
    /// Beside them (seat, index in its pool).
    fn lawful(&self, rules: &[Rule], rows: &[Rule], limits: &[Vec<u32>]) -> (Vec<Column>, Vec<(usize, usize)>) {
        let items = self.target.len();
        let (mut columns, mut origin) = (Vec::new(), Vec::new());
        for (seat, pool) in self.pool.iter().enumerate() {
            for (at, column) in pool.iter().enumerate().filter(|(_, c)| c.within(&limits[seat])) {
                let holds = |rule: &Rule| rule.least.is_none_or(|least| held(column, rule.what) >= least);
                if !rules.iter().filter(|rule| rule.seat == seat).all(holds) {
                    continue;
                }
                let mut counts = column.counts.clone();
                let of_seat = rows.iter().enumerate().filter(|(_, row)| row.seat == seat);
                counts.extend(of_seat.map(|(v, row)| (items + v, held(column, row.what))));
                columns.push(Column { stock: seat, counts, ..column.clone() });
                origin.push((seat, at));
            }
        }
        (columns, origin)
    }

    fn relaxed(&self, rows: &[Rule], columns: &[Column]) -> Option<Relaxed> {
        let mut target = self.target.to_vec();
        let mut caps = self.caps.to_vec();
        let dearest = self.caps.iter().copied().max().unwrap_or(0);
        for row in rows {
            target.push(row.least.unwrap_or(0));
            caps.push(dearest);
        }
        relax(&target, &vec![1; self.seats.len()], columns, &caps)
    }

    /// Prices every seat; raises the node's bound and the pools. True when a layout was found that improves the master.
    fn price(
        &mut self,
        node: &mut Node,
        rows: &[Rule],
        limits: &[Vec<u32>],
        relaxed: &Relaxed,
        at: Vec<i64>,
        effort: Effort,
    ) -> bool {
        let items = self.target.len();
        let (ground, seats) = (self.ground, &self.seats);
        let of_seats =
            |whole: &[i64]| -> Vec<Vec<i64>> { (0..seats.len()).map(|s| of_seat(whole, items, rows, s)).collect() };
        let prices = of_seats(&at);
        let masters = of_seats(&relaxed.prices);
        let found: Vec<_> = node
            .memories
            .par_iter_mut()
            .enumerate()
            .map_init(Scratch::default, |scratch, (seat, memory)| {
                let effort = Effort { slack: ground.problem.stock[seats[seat]].cost / SLACK, ..effort };
                ground.engines[seats[seat]].recalling(&prices[seat], &limits[seat], memory, scratch, effort)
            })
            .collect();
        self.work += found.iter().map(|f| f.work).sum::<u64>();
        let worth = |prices: &[i64], counts: &mut dyn Iterator<Item = u32>| -> i128 {
            prices.iter().zip(counts).map(|(&u, n)| i128::from(u) * i128::from(n)).sum()
        };
        let mut bound = worth(&at[..items], &mut self.target.iter().copied());
        bound += worth(&at[items..], &mut rows.iter().map(|row| row.least.unwrap_or(0)));
        let mut grown = false;
        for (seat, found) in found.into_iter().enumerate() {
            let class = self.seats[seat];
            // A layout that is cut counts once in a row that asks for the seat to be cut.
            let for_cutting = |whole: &[i64]| -> i64 {
                let rows =
                    rows.iter().zip(&whole[items..]).filter(|(row, _)| row.seat == seat && row.what == What::Cut);
                rows.map(|(_, &price)| price).sum()
            };
            let profit =
                i128::from(found.upper) + i128::from(for_cutting(&at)) - i128::from(ground.problem.stock[class].cost);
            let must = rows.iter().any(|row| row.seat == seat && row.least.unwrap_or(0) > 0);
            bound -= if must { profit } else { profit.max(0) };
            for column in ground.columns(class, found, &node.memories[seat], &prices[seat]) {
                let gain =
                    column.worth(&masters[seat]) + for_cutting(&relaxed.prices) - column.net - relaxed.rents[seat];
                if self.seen.insert(column.clone()) {
                    self.columns.push(column.clone());
                }
                if gain > NOISE && !self.pool[seat].contains(&column) {
                    grown = true;
                    self.pool[seat].push(column);
                }
            }
        }
        let bound = i64::try_from(bound).unwrap_or(i64::MAX);
        if bound > node.bound {
            node.bound = bound;
            node.center = at;
        }
        grown
    }

    /// An answer from a node's master: its layouts by share, made to fit each other, the rest filled.
    fn round_off(&mut self, relaxed: &Relaxed, origin: &[(usize, usize)]) {
        let problem = self.ground.problem;
        let mut answer = Solution::empty(problem);
        let mut free = vec![true; self.seats.len()];
        let mut order: Vec<usize> = (0..origin.len()).filter(|&c| relaxed.taken[c] > 0.05).collect();
        order.sort_by(|&a, &b| relaxed.taken[b].total_cmp(&relaxed.taken[a]).then(a.cmp(&b)));
        for c in order {
            let (seat, at) = origin[c];
            if !free[seat] {
                continue;
            }
            let column = &self.pool[seat][at];
            let room = answer.room(problem, self.target);
            if column.within(&room) {
                free[seat] = false;
                answer.place(Placed::from(column));
                continue;
            }
            let engine = &self.ground.engines[self.seats[seat]];
            let found = engine.refit(&column.shape, &relaxed.prices[..self.target.len()], &room);
            if let Some(placed) = found.and_then(|found| Placed::new(problem, self.seats[seat], found)) {
                free[seat] = false;
                answer.place(placed);
            }
        }
        if !answer.complete(problem, self.target) {
            let spare: Vec<Candidate> = (0..self.seats.len())
                .filter(|&seat| free[seat])
                .map(|seat| Candidate { stock: self.seats[seat], left: 1 })
                .collect();
            let prices = &relaxed.prices[..self.target.len()];
            self.work += construct(
                self.ground,
                &mut answer,
                self.target,
                prices,
                &spare,
                Judge::Profit,
                0,
                FILLING,
                &mut self.scratch,
            );
        }
        if answer.complete(problem, self.target) && answer.cost < self.cutoff {
            self.cutoff = answer.cost;
            self.best = Some(answer);
        }
    }

    /// The two rules that part a node's answers: about the seat and item whose count is furthest from whole for its price;
    /// `None` when all counts are whole and each seat has one layout.
    fn branch(
        &self,
        rules: &[Rule],
        relaxed: &Relaxed,
        origin: &[(usize, usize)],
        limits: &[Vec<u32>],
    ) -> Option<[Rule; 2]> {
        let mut best: Option<(f64, [Rule; 2])> = None;
        let mut offer = |score: f64, seat: usize, what: What, least: u32| {
            if best.as_ref().is_none_or(|(known, _)| score > *known) {
                let up = Rule { seat, what, least: Some(least), most: None };
                let down = Rule { seat, what, least: None, most: Some(least - 1) };
                best = Some((score, [up, down]));
            }
        };
        for (seat, limits) in limits.iter().enumerate() {
            let taken: Vec<(f64, &Column)> = origin
                .iter()
                .zip(&relaxed.taken)
                .filter(|&(&(s, _), &share)| s == seat && share > WHOLE)
                .map(|(&(s, at), &share)| (share, &self.pool[s][at]))
                .collect();
            let used: f64 = taken.iter().map(|t| t.0).sum();
            if used > WHOLE && used < 1.0 - WHOLE {
                // Whether a board is cut at all says most.
                let cost = self.ground.problem.stock[self.seats[seat]].cost as f64;
                offer(10.0 * cost * used.min(1.0 - used), seat, What::Cut, 1);
            }
            if taken.len() < 2 {
                continue;
            }
            for (item, &limit) in limits.iter().enumerate() {
                let mean: f64 = taken.iter().map(|(share, c)| share * f64::from(held(c, What::Item(item)))).sum();
                let spread: f64 =
                    taken.iter().map(|(share, c)| share * (f64::from(held(c, What::Item(item))) - mean).abs()).sum();
                if spread < WHOLE {
                    continue;
                }
                let low = mean.floor();
                let off = (mean - low).min(low + 1.0 - mean);
                // Counts whole on the average but not in each layout part as well.
                let least = if off < WHOLE { mean.round().max(1.0) } else { low + 1.0 } as u32;
                let known = |r: &Rule| r.seat == seat && r.what == What::Item(item) && r.least == Some(least);
                if rules.iter().any(known) || least > limit {
                    continue;
                }
                offer(relaxed.prices[item] as f64 * off.max(0.05 * spread), seat, What::Item(item), least);
            }
        }
        best.map(|(_, rules)| rules)
    }
}

/// Prices of the items on a seat: those of all, and those of its own rows.
fn of_seat(whole: &[i64], items: usize, rows: &[Rule], seat: usize) -> Vec<i64> {
    let mut prices = whole[..items].to_vec();
    for (row, &price) in rows.iter().zip(&whole[items..]).filter(|(row, _)| row.seat == seat) {
        if let What::Item(item) = row.what {
            prices[item] += price;
        }
    }
    prices
}

/// What a layout holds of what a rule speaks of.
fn held(column: &Column, what: What) -> u32 {
    match what {
        What::Cut => 1,
        What::Item(item) => column.counts.iter().find(|c| c.0 == item).map_or(0, |c| c.1),
    }
}
