//! One node of the search: its relaxation, its bound, an answer from it, and what to branch on.
//!
//! Which node is next, and what is kept of it, is the tree's business.

use rayon::prelude::*;
use rustc_hash::FxHashMap;

use super::super::board::{Ask, Effort};
use super::super::construct::{Candidate, FILLING, Judge, Wish, construct};
use super::super::engine::Scratch;
use super::super::master::{Column, Relaxed, relax};
use super::super::problem::{Stop, never};
use super::super::solution::Solution;
use super::{Node, Pack, Rule, What};

/// Rounds of column generation at a node: for an answer, for a bound.
const ROUNDS: usize = 6;
const ROUNDS_FOR_BOUND: usize = 40;
/// Efforts of pricing, each taken up when the one before finds nothing new. The root begins with the first; other nodes,
/// which know the root's layouts, with `DEEPER`. From `NARROW` on they are for few seats, and dear: for the root, when it is
/// taken up again, and for nodes that they may nearly close.
const EFFORTS: [Effort; 5] = [
    Effort { states: 1, rounds: 1, coarse: true, ..Effort::EXACT },
    Effort { states: 2, rounds: 4, ..Effort::EXACT },
    Effort { states: 8, rounds: 4, ..Effort::EXACT },
    Effort { states: 32, rounds: 4, ..Effort::EXACT },
    Effort { states: 128, rounds: 4, ..Effort::EXACT },
];
pub(super) const DEEPER: usize = 2;
pub(super) const NARROW: usize = 3;
/// More effort goes into a node if that may close at least this part of its gap.
const WORTHWHILE: f64 = 0.3;
/// Seats of few pieces of stock.
pub(super) const FEW: usize = 14;
/// Efforts when answers are wanted, not bounds.
const LIGHT: [Effort; 2] =
    [Effort { states: 1, rounds: 1, ..Effort::starts(8) }, Effort { states: 2, rounds: 2, ..Effort::starts(16) }];
/// Pricing that comes within this part of a piece's cost is close enough.
pub(super) const SLACK: i64 = 1000;
/// Reduced costs up to this (micro-units) are the solver's noise.
const NOISE: i64 = 100;
/// A share this near to a whole number is one.
const WHOLE: f64 = 1e-4;
/// The master and the bound of a node are one when they are apart by no more than this share.
const MET: f64 = 2e-4;
/// A bound that rises by less than this share has not risen.
const RISE: f64 = 1e-3;

/// Pairs of rules of which the best is sought, and what the dearer side counts beside the cheaper.
const TRIED: usize = 8;
const SECOND: f64 = 0.1;

/// What is to become of a node.
pub(super) enum Outcome {
    /// Two rules that part its answers.
    Branch([Rule; 2]),
    /// Nothing to branch on, and pieces are not made: they cost too little.
    Lacking,
    /// Nothing to branch on.
    Settled,
    /// More may be proven with more effort before it is branched on.
    Deepen,
}

/// The rules of a node, as its master and its pricing keep them.
pub(super) struct Kept {
    pub rules: Vec<Rule>,
    /// Those that are rows of the master.
    pub rows: Vec<Rule>,
    /// By seat: the most of each item.
    pub limits: Vec<Vec<u32>>,
}

/// A master, solved: by column its seat and its place in the pool of that.
struct Master {
    relaxed: Relaxed,
    origin: Vec<(usize, usize)>,
}

/// What a round of pricing came to.
#[derive(Clone, Copy)]
struct Priced {
    /// A layout was found that improves the master.
    grown: bool,
    /// The bound of the round.
    bound: i64,
}

impl Pack<'_> {
    /// Column generation at a node: its bound, and what to do if it stays open.
    pub(super) fn solve(&mut self, mut node: Node, stop: Stop) -> (Node, Outcome) {
        let (root, light) = (node.rules.len() == self.tree.root_rules, self.tree.light);
        let efforts: &[Effort] = if light { &LIGHT } else { &EFFORTS };
        let kept = self.kept(node.rules.clone());
        let few = self.tree.seats.len() <= FEW;
        let mut step = node.step;
        let mut straight = !root;
        // The best bound of the effort in use.
        let mut reached = i64::MIN;
        let mut last: Option<Master> = None;
        for round in 0..if light { ROUNDS } else { ROUNDS_FOR_BOUND } {
            let Some(master) = self.master(&kept) else { break };
            let (prices, value) = (&master.relaxed.prices, master.relaxed.value);
            node.center.resize(prices.len(), 0);
            let at = if straight {
                prices.clone()
            } else {
                prices.iter().zip(&node.center).map(|(&a, &b)| a / 2 + b / 2).collect()
            };
            let priced = self.price(&mut node, &kept, &master, at, efforts[step], stop);
            let met = value - node.bound as f64 <= MET * value;
            if round == 0 || !priced.grown {
                self.round_off(&master);
            }
            last = Some(master);
            if node.bound >= self.cutoff || met || stop() {
                break;
            }
            // Dear efforts can wait until the node is the least again.
            if node.bound >= self.enough && step >= NARROW && !light {
                node.step = step;
                return (node, Outcome::Deepen);
            }
            // An engine that goes on from what it remembers comes closer each time.
            let closer = step >= NARROW && !light && priced.bound as f64 > reached as f64 + RISE * value;
            reached = reached.max(priced.bound);
            if priced.grown || straight && closer {
                continue;
            }
            if !straight {
                straight = true;
                continue;
            }
            // More effort is worth its while where it may lift the bound by a good part of what it is short of.
            let (low, high) = (node.bound as f64, self.cutoff as f64);
            let worthwhile = few && value.min(high) - low > WORTHWHILE * (high - low);
            let steps = if light || worthwhile { efforts.len() } else { NARROW.max(node.step + 1) };
            step += 1;
            (straight, reached) = (!root, i64::MIN);
            // The root's lists may do by now, and its first dear effort can wait until it is the least again.
            if root && few && !light && step < steps.max(NARROW + 1) {
                node.step = step;
                return (node, Outcome::Deepen);
            }
            if step >= steps {
                break;
            }
        }
        let outcome = last.map_or(Outcome::Settled, |master| self.outcome(&kept, &master));
        (node, outcome)
    }

    fn outcome(&self, kept: &Kept, master: &Master) -> Outcome {
        if let Some(rules) = self.branch(kept, master) {
            return Outcome::Branch(rules);
        }
        let net = |(&(seat, at), &share): (&(usize, usize), &f64)| share * self.tree.pool[seat][at].net as f64;
        let made: f64 = master.origin.iter().zip(&master.relaxed.taken).map(net).sum();
        let value = master.relaxed.value;
        if value - made > MET * value { Outcome::Lacking } else { Outcome::Settled }
    }

    pub(super) fn kept(&self, rules: Vec<Rule>) -> Kept {
        Kept {
            rows: rules.iter().copied().filter(|rule| rule.least.is_some()).collect(),
            limits: (0..self.tree.seats.len()).map(|seat| self.limits(seat, &rules)).collect(),
            rules,
        }
    }

    /// The most of each item on a seat: what its rules say, and what the others' leave.
    fn limits(&self, seat: usize, rules: &[Rule]) -> Vec<u32> {
        let mut limits = self.tree.most.clone();
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

    /// The master of the layouts within a node's limits: its stock are the seats, its items those of the problem and then the
    /// rows of the rules. For an answer layouts keep the rules each by itself; for a bound only on the whole, as what is
    /// priced does. `None` when the solver fails.
    fn master(&self, kept: &Kept) -> Option<Master> {
        let tree = &self.tree;
        let items = tree.target.len();
        let (mut columns, mut origin) = (Vec::new(), Vec::new());
        for (seat, pool) in tree.pool.iter().enumerate() {
            for (at, column) in pool.iter().enumerate().filter(|(_, c)| c.within(&kept.limits[seat])) {
                let holds = |rule: &Rule| rule.least.is_none_or(|least| held(column, rule.what) >= least);
                if tree.light && !kept.rules.iter().filter(|rule| rule.seat == seat).all(holds) {
                    continue;
                }
                let mut counts = column.counts.clone();
                let of_seat = kept.rows.iter().enumerate().filter(|(_, row)| row.seat == seat);
                counts.extend(of_seat.map(|(v, row)| (items + v, held(column, row.what))));
                columns.push(Column { stock: seat, counts, ..column.clone() });
                origin.push((seat, at));
            }
        }
        let (mut target, mut caps) = (tree.target.clone(), tree.caps.clone());
        let dearest = caps.iter().copied().max().unwrap_or(0);
        for row in &kept.rows {
            target.push(row.least.unwrap_or(0));
            caps.push(dearest);
        }
        let relaxed = relax(&target, &vec![1.0; tree.seats.len()], &columns, &caps)?;
        Some(Master { relaxed, origin })
    }

    /// Prices every seat at the prices `at` of items and rows; raises the node's bound and the pools.
    fn price(
        &mut self,
        node: &mut Node,
        kept: &Kept,
        master: &Master,
        at: Vec<i64>,
        effort: Effort,
        stop: Stop,
    ) -> Priced {
        let (rows, relaxed) = (&kept.rows, &master.relaxed);
        let items = self.tree.target.len();
        let (ground, seats) = (self.ground, &self.tree.seats);
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
                let ask = Ask { prices: &prices[seat], limits: &kept.limits[seat], effort, stop };
                ground.engines[seats[seat]].recalling(ask, memory, scratch)
            })
            .collect();
        self.work += found.iter().map(|f| f.work).sum::<u64>();
        let worth = |prices: &[i64], counts: &mut dyn Iterator<Item = u32>| -> i128 {
            prices.iter().zip(counts).map(|(&u, n)| i128::from(u) * i128::from(n)).sum()
        };
        let mut bound = worth(&at[..items], &mut self.tree.target.iter().copied());
        bound += worth(&at[items..], &mut rows.iter().map(|row| row.least.unwrap_or(0)));
        let uppers: Vec<i64> = found.iter().map(|f| f.upper).collect();
        let mut grown = false;
        for (seat, found) in found.into_iter().enumerate() {
            let class = self.tree.seats[seat];
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
                if self.tree.seen.insert(column.clone()) {
                    self.columns.push(column.clone());
                }
                if gain > NOISE && !self.tree.pool[seat].contains(&column) {
                    grown = true;
                    self.tree.pool[seat].push(column);
                }
            }
        }
        let bound = i64::try_from(bound).unwrap_or(i64::MAX);
        node.bound = node.bound.max(bound);
        if bound > node.reached {
            (node.reached, node.center, node.uppers) = (bound, at, uppers);
            node.lowered.clear();
        }
        Priced { grown, bound }
    }

    /// An answer from a node's master: its layouts by share, made to fit each other, the rest filled.
    fn round_off(&mut self, master: &Master) {
        let Master { relaxed, origin } = master;
        let problem = self.ground.problem;
        let prices = &relaxed.prices[..self.tree.target.len()];
        let mut answer = Solution::empty(problem);
        let mut free = vec![true; self.tree.seats.len()];
        let mut order: Vec<usize> = (0..origin.len()).filter(|&c| relaxed.taken[c] > 0.05).collect();
        order.sort_by(|&a, &b| relaxed.taken[b].total_cmp(&relaxed.taken[a]).then(a.cmp(&b)));
        for c in order {
            let (seat, at) = origin[c];
            if !free[seat] {
                continue;
            }
            let column = &self.tree.pool[seat][at];
            let room = answer.room(problem, &self.tree.target);
            if let Some((placed, _)) = self.ground.fitted(column, prices, &room) {
                free[seat] = false;
                answer.place(placed);
            }
        }
        if !answer.complete(problem, &self.tree.target) {
            let spare: Vec<Candidate> = (0..self.tree.seats.len())
                .filter(|&seat| free[seat])
                .map(|seat| Candidate { stock: self.tree.seats[seat], left: 1 })
                .collect();
            let wish = Wish { target: &self.tree.target, prices, judge: Judge::Profit, effort: FILLING, stop: &never };
            self.work += construct(self.ground, &mut answer, wish, &spare, &mut self.tree.scratch);
        }
        if answer.complete(problem, &self.tree.target) && answer.cost < self.cutoff {
            self.cutoff = answer.cost;
            self.best = Some(answer);
        }
    }

    /// The two rules that part a node's answers; `None` when all counts are whole and each seat has one layout. For a bound,
    /// of those that promise most the pair whose cheaper side the known layouts make dearest (strong branching, Applegate
    /// et al. 1995).
    fn branch(&self, kept: &Kept, master: &Master) -> Option<[Rule; 2]> {
        let mut offers = self.offers(kept, master);
        offers.sort_by(|a, b| b.0.total_cmp(&a.0));
        offers.truncate(if self.tree.light { 1 } else { TRIED });
        if offers.len() < 2 {
            return offers.pop().map(|(_, pair)| pair);
        }
        let dearness = |&(_, pair): &(f64, [Rule; 2])| {
            let [up, down] = pair.map(|rule| self.value_with(&kept.rules, rule));
            up.min(down) + SECOND * up.max(down)
        };
        let dear: Vec<f64> = offers.par_iter().map(dearness).collect();
        let best = (0..dear.len()).max_by(|&a, &b| dear[a].total_cmp(&dear[b]).then(b.cmp(&a)))?;
        Some(offers[best].1)
    }

    /// What the known layouts cost with one more rule.
    fn value_with(&self, rules: &[Rule], rule: Rule) -> f64 {
        let kept = self.kept(rules.iter().copied().chain([rule]).collect());
        self.master(&kept).map_or(0.0, |master| master.relaxed.value)
    }

    /// Pairs of rules to branch on, each about a seat and an item whose count is far from whole for its price, with how far.
    fn offers(&self, kept: &Kept, master: &Master) -> Vec<(f64, [Rule; 2])> {
        let Master { relaxed, origin } = master;
        let mut offers = Vec::new();
        let mut offer = |score: f64, seat: usize, what: What, least: u32| {
            let up = Rule { seat, what, least: Some(least), most: None };
            let down = Rule { seat, what, least: None, most: Some(least - 1) };
            offers.push((score, [up, down]));
        };
        for (seat, limits) in kept.limits.iter().enumerate() {
            let taken: Vec<(f64, &Column)> = origin
                .iter()
                .zip(&relaxed.taken)
                .filter(|&(&(s, _), &share)| s == seat && share > WHOLE)
                .map(|(&(s, at), &share)| (share, &self.tree.pool[s][at]))
                .collect();
            let used: f64 = taken.iter().map(|t| t.0).sum();
            if used > WHOLE && used < 1.0 - WHOLE {
                // Whether a board is cut at all says most.
                let cost = self.ground.problem.stock[self.tree.seats[seat]].cost as f64;
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
                let mut least = if off < WHOLE { mean.round().max(1.0) } else { low + 1.0 } as u32;
                let known = |least| {
                    let same = |r: &Rule| r.seat == seat && r.what == What::Item(item) && r.least == Some(least);
                    kept.rules.iter().any(same)
                };
                // A rule that is kept on the whole only: no layout may hold more, or they must.
                if known(least) {
                    least += 1;
                }
                if known(least) || least > limit {
                    continue;
                }
                offer(relaxed.prices[item] as f64 * off.max(0.05 * spread), seat, What::Item(item), least);
            }
        }
        offers
    }
}

/// Prices of the items on a seat: those of all, and those of its own rows.
pub(super) fn of_seat(whole: &[i64], items: usize, rows: &[Rule], seat: usize) -> Vec<i64> {
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
