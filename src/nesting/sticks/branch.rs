//! Closing the gap for sure: branch and price over numbers of sticks and steps along them.
//!
//! A node asks for more or fewer sticks of a class, or sticks that take a step (a piece at a place, pieces longest first);
//! its relaxation is bounded as any other (`relax`). Branching on steps keeps the knapsack a knapsack (Valerio de
//! Carvalho 1999; several stock lengths: Alves and Valerio de Carvalho 2008). The least bound of open nodes is a bound of
//! the whole; nodes are taken by it, the deepest first among equals.
//! Steps count all classes of a family together. Where nothing is broken the answer is there to take (`flow`); where several
//! classes earn different credit it may cost more than the relaxation, and the node's bound stays.

use std::cmp::Reverse;
use std::collections::BinaryHeap;
use std::rc::Rc;

use super::case::Case;
use super::dive::Choice;
use super::flow::Flow;
use super::paths::Arc;
use super::relax::{Asked, Relaxed, Rest, Step};
use super::{CENT, Search};

/// A share this far from a whole number is branched on.
const BROKEN: f64 = 1e-3;
/// Times a node in which something stays unmade is looked at with that made dearer: either it is made, or the node is ruled
/// out by its cost.
const MOST_RAISED: u32 = 6;
/// Nodes from one dive out of the tree to the next.
const DIVE_EVERY: usize = 8;

/// Open nodes.
pub(super) struct Tree {
    open: BinaryHeap<Reverse<(i64, Reverse<usize>, usize)>>,
    nodes: Vec<Option<Node>>,
    /// Least bound of nodes that could not be branched on.
    stuck: Option<i64>,
    seen: usize,
}

struct Node {
    left: Vec<u32>,
    asked: Asked,
    /// Of the relaxation it was parted from.
    prices: Rc<Vec<i64>>,
}

impl Tree {
    /// The whole case, already bounded.
    pub fn new(case: &Case, bound: i64, prices: &[i64]) -> Tree {
        let mut tree = Tree { open: BinaryHeap::new(), nodes: Vec::new(), stuck: None, seen: 0 };
        let left = case.classes.iter().map(|class| class.count).collect();
        if case.families.iter().all(|family| family.exact) {
            tree.push(bound, 0, Node { left, asked: Asked::default(), prices: Rc::new(prices.to_vec()) });
        } else {
            tree.stuck = Some(bound);
        }
        tree
    }

    fn push(&mut self, bound: i64, depth: usize, node: Node) {
        self.open.push(Reverse((bound, Reverse(depth), self.nodes.len())));
        self.nodes.push(Some(node));
    }

    /// Nothing is left to branch on.
    pub fn is_done(&self) -> bool {
        self.open.is_empty()
    }

    /// The least bound of what is left; `None` when nothing is.
    fn least(&self) -> Option<i64> {
        self.open.peek().map(|Reverse(node)| node.0).into_iter().chain(self.stuck).min()
    }
}

impl Search<'_> {
    /// Takes one node: bounds it, and parts it in two.
    pub(super) fn branch(&mut self, tree: &mut Tree) {
        let Some(Reverse((bound, Reverse(depth), at))) = tree.open.pop() else { return };
        let Some(mut node) = tree.nodes[at].take() else { return };
        if !self.no_better(bound) {
            let demand = self.case.demand.clone();
            let rest = Rest { demand: &demand, left: &node.left, prices: Some(&node.prices), asked: &node.asked };
            let relaxed = self.relaxed(&rest, 0);
            let bound = self.sums.up(relaxed.bound).max(bound);
            if self.stop.now() {
                tree.push(bound, depth, node);
                return;
            }
            tree.seen += 1;
            if relaxed.short && !self.no_better(bound) && node.asked.raised < MOST_RAISED {
                node.asked.raised += 1;
                tree.push(bound, depth, node);
            } else if !self.no_better(bound) {
                self.part(tree, node, bound, depth, relaxed);
            }
        }
        let pruned = self.ceiling() - CENT;
        self.raise(tree.least().unwrap_or(pruned).min(pruned));
    }

    /// Parts a node in two, or offers its answer when nothing in it is broken.
    fn part(&mut self, tree: &mut Tree, node: Node, bound: i64, depth: usize, relaxed: Relaxed) {
        let prices = Rc::new(relaxed.prices.clone());
        let flow = Flow::of(self, &relaxed);
        let parts = if relaxed.short { None } else { flow.broken() };
        match parts {
            Some(Broken::Sticks(class, count)) => {
                let mut fewer = node.left.clone();
                fewer[class] = count;
                let asked = node.asked.clone();
                let within = asked.sticks.iter().all(|&(c, n)| c != class || n <= count);
                let mut more = node.asked;
                more.sticks.retain(|&(c, _)| c != class);
                more.sticks.push((class, count + 1));
                if within {
                    tree.push(bound, depth + 1, Node { left: fewer, asked, prices: Rc::clone(&prices) });
                }
                tree.push(bound, depth + 1, Node { left: node.left, asked: more, prices });
            }
            Some(Broken::Step(arc, count)) => {
                for (at_least, count) in [(false, count), (true, count + 1)] {
                    let mut asked = node.asked.clone();
                    asked.steps.retain(|step| step.arc != arc || step.at_least != at_least);
                    asked.steps.push(Step { arc, at_least, count });
                    tree.push(bound, depth + 1, Node { left: node.left.clone(), asked, prices: Rc::clone(&prices) });
                }
            }
            None => {
                if let Some(plan) = flow.plan(&self.case) {
                    self.offer(plan);
                }
                // What remains open: an answer dearer than the relaxation, and a piece short at any cost.
                if !self.no_better(bound) {
                    tree.stuck = Some(tree.stuck.map_or(bound, |stuck| stuck.min(bound)));
                }
            }
        }
        if tree.seen.rem_euclid(DIVE_EVERY) == 1 || parts.is_none() {
            self.dive(Choice { noise: 0.1, held_back: 0 }, Some(relaxed));
        }
    }
}

impl Flow {
    /// The number of sticks nearest to a half, else the step of the longest piece, nearest to the stick's end.
    fn broken(&self) -> Option<Broken> {
        let apart = |share: f64| (share - share.round()).abs();
        let most = self.sticks.iter().enumerate().max_by(|a, b| apart(*a.1).total_cmp(&apart(*b.1)));
        if let Some((class, &share)) = most.filter(|(_, share)| apart(**share) > BROKEN) {
            return Some(Broken::Sticks(class, share.floor() as u32));
        }
        let (&arc, &share) = self.steps.iter().find(|&(_, &share)| apart(share) > BROKEN)?;
        Some(Broken::Step(arc, share.floor() as u32))
    }
}

/// What a relaxation takes a broken number of, and the whole number below.
#[derive(Clone, Copy)]
enum Broken {
    Sticks(usize, u32),
    Step(Arc, u32),
}
