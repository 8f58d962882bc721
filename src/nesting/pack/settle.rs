//! A node settled at one blow: all that its seats may hold is listed, and the cheapest answer taken from the lists.
//!
//! With prices u, upper values U and their bound B, an answer of cost z has layouts that are worth less than the upper values by
//! no more than z - B, all of them together. So whatever is cheaper than a cost has on every seat s a layout that is worth at least
//! U_s less what that cost is above B, and where that is little the sets of pieces of such layouts are few enough to be listed
//! (column enumeration, as of routes by Baldacci, Christofides and Mingozzi 2008). The cheapest way to make everything from the
//! lists bounds the node; what they hold beyond the lawful is found out where it matters, by the engine, and then looked
//! at again. Counting over lists is the business of `lists`, what a board may hold that of its engine.

use std::sync::atomic::{AtomicBool, Ordering};

use rayon::prelude::*;

use super::super::board::{Ask, Effort, Fields, Holding, LABELS_A_START, Listing};
use super::super::engine::{Found, Memory, Scratch};
use super::super::master::Column;
use super::super::problem::{Kind, Stock, Stop};
use super::super::solution::Solution;
use super::lists::{Lists, Way};
use super::node::{FEW, Kept, NARROW, SLACK, of_seat};
use super::{Node, Pack, Rule, What};

/// Labels a seat at the most, the more the more effort went into the node.
const LABELS: [u64; 5] = [1_000_000, 1_000_000, 3_000_000, 3_000_000, 10_000_000];
/// Where sets were too many, they are looked for again where no more than this share of what was open is.
const AGAIN: f64 = 0.7;
/// At least one part in so many of what is open is taken up.
const LEAST_PART: i64 = 32;
/// More is open than one part in so many of the cost: first the bound is to be raised, which often is all there is to do.
const WIDE: i64 = 20;
/// Prices below this count as none, micro-units.
const NO_PRICE: i64 = 1_000;
/// Ways that are tried to be cut, and the efforts of that, the next where the one before leaves it open.
const TRIED: usize = 40;
const CUTTING: [Effort; 2] =
    [Effort { states: 64, rounds: 4, ..Effort::EXACT }, Effort { states: 1024, rounds: 12, ..Effort::EXACT }];
/// How much more a piece with a price is worth then than one without.
const DEARER: i64 = 8;
/// Answers that are cheaper by less than this are not looked for, micro-units: credit is rounded.
const SAME: i64 = 1_000;
/// Credit of a set that no layout holds; a sum over all seats stays far from the ends of an integer.
const NEVER: i64 = -(1 << 56);

/// Whether some stock is such that what it may hold can be listed.
pub fn can_be_listed(stock: &Stock) -> bool {
    matches!(stock.kind, Kind::Board(_)) && stock.together.is_empty()
}

/// What came of the lists of a node.
struct Settled {
    /// No answer of the node is cheaper.
    bound: i64,
    /// The cheapest answer is known, or there is none that is cheap enough.
    closed: bool,
}

impl Pack<'_> {
    /// Looks for the answers of a node that are cheaper than what is sought, and raises its bound by what comes of that. The node,
    /// when there is more to find out about it in another way; else it is closed, or set aside as near enough. `last` says that
    /// it is parted next: lists of less are tried before.
    pub(super) fn settle(&mut self, mut node: Node, last: bool, stop: Stop) -> Option<Node> {
        let (ground, tree) = (self.ground, &self.tree);
        let open = self.cutoff.saturating_sub(node.reached);
        let few = !tree.light && tree.seats.len() <= FEW;
        let listable = few && tree.seats.iter().all(|&class| can_be_listed(&ground.problem.stock[class]));
        if !listable || node.uppers.is_empty() || open <= 0 {
            return Some(node);
        }
        // No nearer to what is proven already than is worth the lists.
        let least = node.bound + open / LEAST_PART;
        let mut below = self.sought.max(least).min(self.cutoff);
        let labels = LABELS[node.step.min(LABELS.len() - 1)];
        if node.step < NARROW && below - node.reached > self.cutoff / WIDE {
            return Some(node);
        }
        if labels <= node.too_many && node.too_open < i64::MAX {
            let again = node.reached + (node.too_open as f64 * AGAIN) as i64;
            if again < if last { least.min(self.cutoff) } else { below } {
                return Some(node);
            }
            below = below.min(again);
        }
        let settled = self.settled(&mut node, below, labels, stop);
        self.listed = Some(settled.is_some());
        if let Some(settled) = &settled {
            node.bound = node.bound.max(settled.bound);
            if settled.closed || node.bound >= self.cutoff - SAME {
                self.close(node.bound);
                return None;
            }
            if settled.bound >= below {
                self.tree.queue(node);
                self.near_enough = true;
                return None;
            }
        }
        (node.too_open, node.too_many) = (below - node.reached, labels);
        Some(node)
    }

    /// What the answers of a node cost that are cheaper than `below`; `None` when there is too much to be listed.
    fn settled(&mut self, node: &mut Node, below: i64, labels: u64, stop: Stop) -> Option<Settled> {
        let kept = self.kept(node.rules.clone());
        let (tree, items) = (&self.tree, self.tree.target.len());
        let must = |seat: usize| {
            let cut = |rule: &Rule| rule.seat == seat && rule.what == What::Cut && rule.least.unwrap_or(0) > 0;
            kept.rows.iter().any(cut)
        };
        if !(0..tree.seats.len()).all(must) {
            return None;
        }
        // What has next to no price is left out of the lists, and what it is worth is lost to the bound.
        let (mut at, mut reached) = (node.center.clone(), i128::from(node.reached));
        for (price, &wanted) in at[..items].iter_mut().zip(&tree.target) {
            if *price < NO_PRICE {
                reached -= i128::from(*price) * i128::from(wanted);
                *price = 0;
            }
        }
        let unpriced = |rule: &Rule| matches!(rule.what, What::Item(item) if at[item] == 0);
        if kept.rows.iter().any(unpriced) {
            return None;
        }
        let priced: Vec<(usize, u32)> = (0..items).filter(|&i| at[i] > 0).map(|i| (i, tree.most[i])).collect();
        let fields = Fields::new(&priced, items)?;
        let open = i64::try_from(i128::from(below) - reached).ok()?;
        let of_seat = self.listed(node, &kept, &fields, &at, (open, labels), stop)?;
        let costs = self.tree.seats.iter().map(|&class| self.ground.problem.stock[class].cost).collect();
        let target = fields.set(self.tree.target.iter().copied().enumerate());
        at.truncate(items);
        let mut lists = Lists { fields: &fields, target, costs, of_seat, prices: at };
        lists.shorten(below, &self.tree.dearest);
        self.cheapest(&kept, lists, below, stop)
    }

    /// By seat: the sets that it may hold, worth at the prices `at` of items and rows no more than `open` less than its upper
    /// value.
    fn listed(
        &mut self,
        node: &mut Node,
        kept: &Kept,
        fields: &Fields,
        at: &[i64],
        (open, most): (i64, u64),
        stop: Stop,
    ) -> Option<Vec<Vec<Holding>>> {
        let (ground, tree) = (self.ground, &self.tree);
        let (items, seats) = (tree.target.len(), tree.seats.len());
        let prices: Vec<Vec<i64>> = (0..seats).map(|seat| of_seat(at, items, &kept.rows, seat)).collect();
        let ask = |seat: usize| {
            let effort = Effort { slack: ground.problem.stock[tree.seats[seat]].cost / SLACK, ..Effort::EXACT };
            Ask { prices: &prices[seat], limits: &kept.limits[seat], effort, stop }
        };
        if node.lowered.is_empty() {
            let lower = |scratch: &mut Scratch, seat: usize| {
                ground.engines[tree.seats[seat]].listing_prices(ask(seat), &node.memories[seat], scratch)
            };
            let found: Option<Vec<_>> = (0..seats).into_par_iter().map_init(Scratch::default, lower).collect();
            let (lowered, works): (Vec<_>, Vec<u64>) = found?.into_iter().unzip();
            self.work += works.iter().sum::<u64>();
            node.lowered = lowered;
        }
        // One seat of which there is too much is enough.
        let failed = AtomicBool::new(false);
        let ended = || failed.load(Ordering::Relaxed) || stop();
        let list = |scratch: &mut Scratch, seat: usize| {
            let (upper, lowered) = (node.uppers[seat], &node.lowered[seat]);
            let listing = Listing { fields, lowered, least: upper.saturating_sub(open), upper, most };
            let ask = Ask { stop: &ended, ..ask(seat) };
            let found = ground.engines[tree.seats[seat]].holdings(ask, listing, scratch);
            if found.is_none() {
                failed.store(true, Ordering::Relaxed);
            }
            found
        };
        let found: Vec<_> = (0..seats).into_par_iter().map_init(Scratch::default, list).collect();
        let found: Option<Vec<(Vec<Holding>, u64)>> = found.into_iter().collect();
        // Which seat ends the others is a matter of time, so that a failure counts as so much always.
        self.work += found.as_ref().map_or(most / LABELS_A_START, |found| found.iter().map(|list| list.1).sum());
        let mut lists: Vec<Vec<Holding>> = found?.into_iter().map(|list| list.0).collect();
        for row in &kept.rows {
            if let What::Item(item) = row.what {
                lists[row.seat].retain(|holding| fields.count(holding.set, item) >= row.least.unwrap_or(0));
            }
        }
        Some(lists)
    }

    /// The cheapest answer from the lists that is cheaper than `below`, as far as its ways can be cut.
    fn cheapest(&mut self, kept: &Kept, mut lists: Lists, below: i64, stop: Stop) -> Option<Settled> {
        let mut tried = 0;
        loop {
            let ways = lists.ways(below.min(self.cutoff - SAME), stop)?;
            let Some(least) = ways.first().map(|way| way.cost) else {
                let bound = below.min(self.cutoff - SAME);
                return Some(Settled { bound, closed: bound >= self.cutoff - SAME });
            };
            let mut stuck = false;
            for way in ways {
                // What was learned since may have made it dearer.
                if lists.cost(&way) >= below.min(self.cutoff - SAME) {
                    continue;
                }
                tried += 1;
                if tried > TRIED || stop() {
                    return Some(Settled { bound: least, closed: false });
                }
                stuck |= !self.cut(kept, &mut lists, &way, below, stop);
            }
            if stuck {
                return Some(Settled { bound: least, closed: false });
            }
            lists.of_seat.iter_mut().for_each(|list| list.retain(|holding| holding.credit > NEVER));
        }
    }

    /// Tries to cut a way. Where a seat proves not to hold its set, or for less credit, its list says so from now on; false when
    /// the way is neither cut nor found to be dearer.
    fn cut(&mut self, kept: &Kept, lists: &mut Lists, way: &Way, below: i64, stop: Stop) -> bool {
        let (ground, tree, fields) = (self.ground, &self.tree, lists.fields);
        let seats = way.sets.len();
        let sets: Vec<u128> = way.sets.iter().zip(&lists.of_seat).map(|(&set, list)| list[set].set).collect();
        let lay =
            |(seat, others, prices): (usize, &[u32], &[i64]), effort, memory: &mut Memory, scratch: &mut Scratch| {
                let mut limits = others.to_vec();
                fields.items().for_each(|item| limits[item] = 0);
                fields.pieces(sets[seat]).for_each(|(item, n)| limits[item] = n);
                limits.iter_mut().zip(&kept.limits[seat]).for_each(|(limit, &most)| *limit = most.min(*limit));
                let ask = Ask { prices, limits: &limits, effort, stop };
                ground.engines[tree.seats[seat]].recalling(ask, memory, scratch)
            };
        // First for the pieces that have a field, alone; others may come with them, for nothing.
        let mut prices = vec![0; tree.dearest.len()];
        fields.items().for_each(|item| prices[item] = tree.dearest[item].saturating_mul(DEARER));
        let mut memories = vec![Memory::default(); seats];
        let mut found: Vec<Option<Found>> = vec![None; seats];
        let mut learned = false;
        for effort in CUTTING {
            let open = |found: &Found| found.upper - found.worth - found.credit > SAME;
            let looks = found.par_iter_mut().zip(&mut memories).enumerate();
            let looks = looks.filter(|(_, (found, _))| found.as_ref().is_none_or(open));
            let works = looks.map_init(Scratch::default, |scratch, (seat, (found, memory))| {
                let now = lay((seat, &kept.limits[seat], &prices), effort, memory, scratch);
                let work = now.work;
                *found = Some(now);
                work
            });
            self.work += works.sum::<u64>();
            for (seat, found) in found.iter().enumerate() {
                let holding = &mut lists.of_seat[seat][way.sets[seat]];
                // No layout that holds the set earns more.
                let credit = found.as_ref().map_or(i64::MAX, |found| found.upper) - fields.worth(holding.set, &prices);
                if credit < holding.credit - SAME {
                    holding.credit = if credit < 0 { NEVER } else { credit };
                    learned = true;
                }
            }
            if lists.cost(way) >= below.min(self.cutoff - SAME) {
                return learned;
            }
        }
        let mut found: Vec<Found> = found.into_iter().map(|found| found.expect("every seat was looked at")).collect();
        // What has no field goes where there is room beside, worth less but more than credit, first where no credit is lost.
        let others = (0..prices.len()).filter(|&item| !fields.has(item));
        others.for_each(|item| prices[item] = tree.dearest[item]);
        let mut order: Vec<usize> = (0..seats).collect();
        order.sort_by_key(|&seat| (found[seat].credit, seat));
        let mut answer = Solution::empty(ground.problem);
        let mut scratch = Scratch::default();
        for seat in order {
            let room = answer.room(ground.problem, &tree.target);
            let beside = |item: usize| room[item] > 0 && !fields.has(item);
            if !learned && (0..room.len()).any(beside) {
                let fuller = lay((seat, &room, &prices), CUTTING[1], &mut Memory::default(), &mut scratch);
                self.work += fuller.work;
                found[seat] = fuller;
            }
            if let Some(column) = Column::new(ground.problem, tree.seats[seat], found[seat].clone())
                && let Some((placed, _)) = ground.fitted(&column, &prices, &room)
            {
                answer.place(placed);
            }
        }
        if answer.complete(ground.problem, &tree.target) && answer.cost < self.cutoff {
            self.columns.extend(answer.placed.iter().map(Column::from));
            // As cheap as the way: nothing more is to be learned of it.
            learned |= answer.cost <= lists.cost(way) + SAME;
            self.cutoff = answer.cost;
            self.best = Some(answer);
        }
        learned
    }
}
