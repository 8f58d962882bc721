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
//! without the max for a seat that must be cut. The least open node is what is proven. Best first; a search can be set aside
//! and taken further. `node` works at one node, `settle` lists what its seats may hold and takes the cheapest answer from that, by the
//! counting of `lists`; which stock is chosen is not decided here.

mod lists;
mod node;
mod settle;

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use rustc_hash::FxHashSet;

use super::construct::Ground;
use super::engine::{Memory, Scratch};
use super::master::Column;
use super::problem::Stop;
use super::solution::{Solution, room};
use node::{DEEPER, Outcome};

pub use settle::can_be_listed;

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
    /// Prices of the best bound of its own so far, of the items, then of the rows; and that bound, `i64::MIN` before the first.
    center: Vec<i64>,
    reached: i64,
    /// By seat: upper values at them; empty before the first.
    uppers: Vec<i64>,
    /// By seat: prices at which its sets are looked for; empty before the first time.
    lowered: Vec<Vec<i64>>,
    /// Effort to begin with.
    step: usize,
    /// What was open, and the labels there were, when its sets were last found to be too many.
    too_open: i64,
    too_many: u64,
}

/// What was found out.
pub struct Packing {
    /// No answer from just this stock costs less.
    pub bound: i64,
    /// The best answer found, when it is whole.
    pub answer: Option<Solution>,
    /// Layouts found on the way.
    pub columns: Vec<Column>,
    /// Where the root was priced for the first time: prices of its best bound, and by class of stock what no layout within the
    /// demand is worth at them, `i64::MAX` where that is not known.
    pub priced: Option<(Vec<i64>, Vec<i64>)>,
    /// By class of stock: what was learned of its limits, where it was priced.
    pub memories: Vec<Option<Memory>>,
    /// Whether all that seats may hold could be listed, where it was tried: the answers are the cheapest there are then, as far
    /// as the bound reaches.
    pub listed: Option<bool>,
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
pub enum Aim<'a> {
    /// A bound on the answers that cut every piece of the stock; none costs less than `least`. By class of stock: what no layout
    /// within the demand is worth at the prices known more than it costs.
    Bound { least: i64, profits: &'a [i64] },
    /// A good answer from any of the stock; the bound is not worth much.
    Answer,
}

/// The limits of a search.
#[derive(Clone, Copy)]
pub struct Task<'a> {
    pub target: &'a [u32],
    /// Pieces of stock, by class.
    pub stock: &'a [u32],
    pub aim: Aim<'a>,
}

/// How far a search is to be taken.
#[derive(Clone, Copy)]
pub struct Spend {
    /// Answers from this cost on are of no use.
    pub cutoff: i64,
    /// The least open node first, until the bound is this much; or, since answers lie deep, down one branch to its end before
    /// the least open node is taken up.
    pub until: Option<i64>,
    /// Answers cheaper than this are looked for by listing all there are, where they are few.
    pub sought: i64,
    /// Work to spend, about.
    pub budget: u64,
}

/// A search over the answers from some stock, which can be taken further at any time.
pub struct Tree {
    target: Vec<u32>,
    most: Vec<u32>,
    /// What an unmade piece costs, and what it may come to cost.
    caps: Vec<i64>,
    dearest: Vec<i64>,
    /// Class of stock by seat.
    seats: Vec<usize>,
    /// By seat: its layouts known so far.
    pool: Vec<Vec<Column>>,
    seen: FxHashSet<Column>,
    /// Answers are wanted, not bounds.
    light: bool,
    /// Rules of the root.
    root_rules: usize,
    nodes: Vec<Option<Node>>,
    /// Open nodes, the least bound first.
    order: BinaryHeap<Reverse<(i64, usize)>>,
    /// The node to take up next whatever the others' bounds are, on the way down a branch.
    next: Option<(i64, usize)>,
    /// The least bound of the nodes that were closed.
    closed: i64,
    /// The root was priced, now or before.
    priced: bool,
    /// By class of stock: what was learned of its limits at the root.
    memories: Vec<Option<Memory>>,
    scratch: Scratch,
}

/// One stretch of a search.
struct Pack<'a> {
    ground: &'a Ground<'a>,
    tree: &'a mut Tree,
    /// Layouts found in this stretch.
    columns: Vec<Column>,
    best: Option<Solution>,
    /// Answers from this cost on are of no use.
    cutoff: i64,
    /// No more is to be proven than this bound.
    enough: i64,
    /// Answers cheaper than this are looked for in lists.
    sought: i64,
    /// Whether the answers of the last node that it was tried for could be listed.
    listed: Option<bool>,
    /// The least node's bound is as near as was sought.
    near_enough: bool,
    /// Where the root was priced for the first time: the prices of its best bound, and the upper values there by class.
    priced: Option<(Vec<i64>, Vec<i64>)>,
    work: u64,
}

/// Searches the answers from some stock for one that is cheap enough.
pub fn pack(ground: &Ground, task: &Task, known: &Known, spend: Spend, stop: Stop) -> Packing {
    Tree::new(ground, task, known).grow(ground, known.columns, spend, stop)
}

impl Tree {
    /// A search not yet begun.
    pub fn new(ground: &Ground, task: &Task, known: &Known) -> Tree {
        let Task { target, stock, .. } = *task;
        let seats: Vec<usize> = (0..stock.len()).flat_map(|s| std::iter::repeat_n(s, stock[s] as usize)).collect();
        let (least, profits) = match task.aim {
            Aim::Bound { least, profits } => (least, Some(profits)),
            Aim::Answer => (0, None),
        };
        let light = profits.is_none();
        // Pieces that cannot be made cost enough to tell, and no more, so that prices stay near to what pieces are worth.
        let enough = |(&cap, &u): (&i64, &i64)| if light { cap } else { cap.min(cap / 8 + 4 * u) };
        let cut = |seat| Rule { seat, what: What::Cut, least: Some(1), most: None };
        let rules: Vec<Rule> = (0..if light { 0 } else { seats.len() }).map(cut).collect();
        let memories = seats.iter().map(|&s| known.memories[s].clone()).collect();
        let root_rules = rules.len();
        // What is known at the prices may do for lists.
        let upper = |profits: &[i64]| seats.iter().map(|&s| profits[s] + ground.problem.stock[s].cost).collect();
        let reached = profits.map_or(i64::MIN, |profits| {
            let worth = target.iter().zip(known.prices).map(|(&n, &price)| i128::from(n) * i128::from(price));
            let earned = seats.iter().map(|&s| i128::from(profits[s]));
            i64::try_from(worth.sum::<i128>() - earned.sum::<i128>()).unwrap_or(i64::MIN)
        });
        let root = Node {
            bound: least.max(reached),
            rules,
            memories,
            center: known.prices.to_vec(),
            reached,
            uppers: profits.map(upper).unwrap_or_default(),
            lowered: vec![],
            step: 0,
            too_open: i64::MAX,
            too_many: 0,
        };
        Tree {
            target: target.to_vec(),
            // A bound is for all that make the target or more, up to the demand; an answer makes the target.
            most: if light { room(ground.problem, target) } else { ground.problem.most() },
            caps: known.caps.iter().zip(known.prices).map(enough).collect(),
            dearest: known.caps.to_vec(),
            pool: vec![Vec::new(); seats.len()],
            seats,
            seen: FxHashSet::default(),
            light,
            root_rules,
            order: BinaryHeap::from([Reverse((root.bound, 0))]),
            nodes: vec![Some(root)],
            next: None,
            closed: i64::MAX,
            priced: false,
            memories: vec![None; stock.len()],
            scratch: Scratch::default(),
        }
    }

    /// Takes the search further; `columns` are layouts known by now.
    pub fn grow(&mut self, ground: &Ground, columns: &[Column], spend: Spend, stop: Stop) -> Packing {
        for column in columns.iter().filter(|c| self.seats.contains(&c.stock)) {
            if self.seen.insert(column.clone()) {
                let of_class = self.seats.iter().zip(&mut self.pool).filter(|(class, _)| **class == column.stock);
                of_class.for_each(|(_, pool)| pool.push(column.clone()));
            }
        }
        let (cutoff, enough) = (spend.cutoff, spend.until.unwrap_or(i64::MAX));
        let mut search = Pack {
            ground,
            tree: self,
            columns: vec![],
            best: None,
            cutoff,
            enough,
            sought: spend.sought,
            listed: None,
            near_enough: false,
            priced: None,
            work: 0,
        };
        let unfinished = search.run(spend, stop);
        let Pack { columns, best, listed, priced, work, .. } = search;
        let bound = self.closed.min(unfinished);
        Packing { bound, answer: best, columns, priced, memories: self.memories.clone(), listed, work }
    }

    fn open(&mut self, node: Node) -> (i64, usize) {
        let place = (node.bound, self.nodes.len());
        self.nodes.push(Some(node));
        place
    }

    fn queue(&mut self, node: Node) {
        let place = self.open(node);
        self.order.push(Reverse(place));
    }

    /// What an unmade piece costs is raised; false when it is at its dearest.
    fn make_dearer(&mut self) -> bool {
        let before = self.caps.clone();
        let dearer = |(cap, &most): (&mut i64, &i64)| *cap = cap.saturating_mul(2).min(most);
        self.caps.iter_mut().zip(&self.dearest).for_each(dearer);
        self.caps != before
    }
}

impl Pack<'_> {
    /// Takes up nodes until none is open or the work is spent; returns the least bound of those left open.
    fn run(&mut self, spend: Spend, stop: Stop) -> i64 {
        while self.work < spend.budget && !self.near_enough && !stop() {
            let first = self.tree.next.take().or_else(|| self.tree.order.pop().map(|Reverse(node)| node));
            let Some((bound, at)) = first else { break };
            if bound >= self.cutoff {
                self.close(bound);
                continue;
            }
            if bound >= self.enough {
                self.tree.order.push(Reverse((bound, at)));
                break;
            }
            let node = self.tree.nodes[at].take().expect("a node is opened once");
            let Some(node) = self.settle(node, false, stop) else { continue };
            let (node, outcome) = self.solve(node, stop);
            if node.rules.len() == self.tree.root_rules {
                self.note_root(&node);
            }
            let last = !matches!(outcome, Outcome::Deepen);
            let Some(node) = self.settle(node, last, stop) else { continue };
            if node.bound < self.cutoff {
                match outcome {
                    Outcome::Branch(rules) => {
                        self.part(&node, rules, spend.until.is_none());
                        continue;
                    }
                    Outcome::Deepen => {
                        self.tree.queue(node);
                        continue;
                    }
                    Outcome::Lacking if self.tree.make_dearer() => {
                        self.tree.queue(node);
                        continue;
                    }
                    Outcome::Lacking | Outcome::Settled => {}
                }
            }
            // Too dear, or nothing to branch on: what the node holds is known as well as it will be.
            self.close(node.bound);
        }
        let open = self.tree.order.peek().map(|Reverse((bound, _))| *bound);
        open.into_iter().chain(self.tree.next.map(|(bound, _)| bound)).min().unwrap_or(i64::MAX)
    }

    /// What is of use elsewhere of what was learned at the root.
    fn note_root(&mut self, node: &Node) {
        let Tree { target, seats, memories, priced, .. } = &mut *self.tree;
        for (&class, memory) in seats.iter().zip(&node.memories) {
            memories[class] = Some(memory.clone());
        }
        if !std::mem::replace(priced, true) {
            let mut uppers = vec![i64::MAX; memories.len()];
            seats.iter().zip(&node.uppers).for_each(|(&class, &upper)| uppers[class] = upper);
            self.priced = Some((node.center[..target.len()].to_vec(), uppers));
        }
    }

    /// Opens the two children of a node; the first is the next one on the way down a branch.
    fn part(&mut self, node: &Node, rules: [Rule; 2], plunge: bool) {
        let step = if self.tree.light { 0 } else { DEEPER };
        let [first, second] = rules.map(|rule| {
            let rules = node.rules.iter().copied().chain([rule]).collect();
            Node { rules, uppers: vec![], lowered: vec![], step, ..node.clone() }
        });
        if plunge {
            self.tree.next = Some(self.tree.open(first));
        } else {
            self.tree.queue(first);
        }
        self.tree.queue(second);
    }

    fn close(&mut self, bound: i64) {
        self.tree.closed = self.tree.closed.min(bound);
    }
}
