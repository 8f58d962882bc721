//! The integer bound over board choice: no set of stock is cheaper than its prices say.
//!
//! Every price vector u with proven upper values U_s(u) gives a cut on the choice y of stock (y_s pieces of class s):
//! an answer that uses exactly y costs at least sum_i u_i d_i - sum_s (U_s(u) - c_s) y_s (Benders 1962; the Lagrangian
//! bound of `bound` is the minimum over y of one cut alone). The least over whole y of the greatest cut bounds every
//! answer, and is stronger where a part of a board cannot be bought. Items and stock that never meet are kept apart:
//! the bounds of independent kins add up. The least is found by best-first branching in integers; when it is cut short,
//! the least open node is the bound. Cuts come from the caller, who prices at the choice that is cheapest so far.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use super::problem::Problem;

/// Nodes of one search at the most; the bound is then that of the least open node.
const MOST_NODES: usize = 20_000;
/// Classes of more pieces than this are not branched on: they stay free in the bound.
const MOST_ALIKE: u32 = 8;
/// Cuts kept a kin; beyond, the one that was least often the greatest goes.
const MOST_CUTS: usize = 120;

/// A cut on the choice of stock of one kin.
#[derive(Clone, Debug)]
struct Cut {
    demanded: i64,
    /// Upper value less cost of one piece, parallel to the kin's classes.
    profit: Vec<i64>,
    /// How often it was the greatest at a choice.
    hits: u32,
}

/// Stock and items that exchange nothing with the rest of the problem.
#[derive(Clone, Debug)]
struct Kin {
    classes: Vec<usize>,
    items: Vec<usize>,
    cuts: Vec<Cut>,
}

/// The cuts collected so far.
#[derive(Clone, Debug)]
pub struct Choice {
    kins: Vec<Kin>,
    counts: Vec<u32>,
}

/// A node: the choice for the first `decided` classes of the search order.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Node {
    bound: i64,
    decided: Reverse<usize>,
    chosen: Vec<u32>,
}

impl Choice {
    /// No cuts yet. `kin` numbers the classes of stock that exchange pieces; `items_of` lists what a class gives.
    pub fn new(problem: &Problem, kin: &[usize], items_of: &dyn Fn(usize) -> Vec<usize>) -> Choice {
        let mut numbers: Vec<usize> = kin.iter().copied().filter(|&k| k != usize::MAX).collect();
        numbers.sort_unstable();
        numbers.dedup();
        let kins = numbers
            .into_iter()
            .map(|number| {
                let classes: Vec<usize> = (0..kin.len()).filter(|&s| kin[s] == number).collect();
                let mut items: Vec<usize> = classes.iter().flat_map(|&s| items_of(s)).collect();
                items.sort_unstable();
                items.dedup();
                Kin { classes, items, cuts: Vec::new() }
            })
            .collect();
        Choice { kins, counts: problem.stock.iter().map(|s| s.count).collect() }
    }

    /// True before the first cut.
    pub fn is_empty(&self) -> bool {
        self.kins.iter().all(|kin| kin.cuts.is_empty())
    }

    /// Adds the cuts of a price vector: `uppers` are proven upper values of one piece of each class at `prices`.
    pub fn add(&mut self, problem: &Problem, prices: &[i64], target: &[u32], uppers: &[i64]) {
        for kin in &mut self.kins {
            let demanded = kin.items.iter().map(|&i| prices[i].saturating_mul(i64::from(target[i]))).sum();
            let profit = kin.classes.iter().map(|&s| uppers[s].saturating_sub(problem.stock[s].cost)).collect();
            if kin.cuts.len() >= MOST_CUTS
                && let Some(least) = (0..kin.cuts.len()).min_by_key(|&k| kin.cuts[k].hits)
            {
                kin.cuts.remove(least);
            }
            kin.cuts.push(Cut { demanded, profit, hits: 0 });
        }
    }

    /// The bound, and the choice of stock by class at which it is reached.
    pub fn least(&mut self) -> (i64, Vec<u32>) {
        let mut bound = 0;
        let mut choice = vec![0; self.counts.len()];
        for kin in &mut self.kins {
            let (least, chosen) = kin.least(&self.counts);
            bound += least.max(0);
            for (&class, n) in kin.classes.iter().zip(chosen) {
                choice[class] = n;
            }
        }
        (bound, choice)
    }
}

impl Kin {
    /// Best-first search for the choice whose greatest cut is least.
    fn least(&mut self, counts: &[u32]) -> (i64, Vec<u32>) {
        let counts: Vec<u32> = self.classes.iter().map(|&s| counts[s]).collect();
        let order = self.order(&counts);
        let mut open = BinaryHeap::new();
        open.push(Reverse(self.node(&order, &counts, Vec::new())));
        let mut nodes = 0;
        while let Some(Reverse(node)) = open.pop() {
            if node.chosen.len() == order.len() || nodes >= MOST_NODES {
                let choice = self.rounded(&order, &counts, &node.chosen);
                self.count_hit(&choice);
                return (node.bound, choice);
            }
            nodes += 1;
            for n in 0..=counts[order[node.chosen.len()]] {
                let mut chosen = node.chosen.clone();
                chosen.push(n);
                open.push(Reverse(self.node(&order, &counts, chosen)));
            }
        }
        (0, vec![0; counts.len()])
    }

    /// Classes to branch on, those on which the cuts disagree most first.
    fn order(&self, counts: &[u32]) -> Vec<usize> {
        let mut order: Vec<usize> = (0..counts.len()).filter(|&c| counts[c] <= MOST_ALIKE).collect();
        let spread = |c: usize| {
            let profits = self.cuts.iter().map(|cut| cut.profit[c]);
            let (least, most) = profits.fold((i64::MAX, i64::MIN), |(a, b), p| (a.min(p), b.max(p)));
            most.saturating_sub(least)
        };
        order.sort_by_key(|&c| (Reverse(spread(c)), c));
        order
    }

    /// The node of a partial choice; its bound lets every cut choose the rest for itself.
    fn node(&self, order: &[usize], counts: &[u32], chosen: Vec<u32>) -> Node {
        let of_cut = |cut: &Cut| {
            let mut value = cut.demanded;
            let mut free = vec![true; counts.len()];
            for (&c, &n) in order.iter().zip(&chosen) {
                value = value.saturating_sub(cut.profit[c].saturating_mul(i64::from(n)));
                free[c] = false;
            }
            let rest = (0..counts.len()).filter(|&c| free[c]);
            rest.fold(value, |v, c| v.saturating_sub(cut.profit[c].max(0).saturating_mul(i64::from(counts[c]))))
        };
        let bound = self.cuts.iter().map(of_cut).max().unwrap_or(0).max(0);
        Node { bound, decided: Reverse(chosen.len()), chosen }
    }

    /// A whole choice: the undecided classes as the cut that is greatest at the node would have them.
    fn rounded(&self, order: &[usize], counts: &[u32], chosen: &[u32]) -> Vec<u32> {
        let greatest = (0..self.cuts.len()).max_by_key(|&k| {
            let one = Kin { classes: self.classes.clone(), items: Vec::new(), cuts: vec![self.cuts[k].clone()] };
            one.node(order, counts, chosen.to_vec()).bound
        });
        let mut choice = vec![0; counts.len()];
        if let Some(k) = greatest {
            for c in 0..counts.len() {
                choice[c] = if self.cuts[k].profit[c] > 0 { counts[c] } else { 0 };
            }
        }
        for (&c, &n) in order.iter().zip(chosen) {
            choice[c] = n;
        }
        choice
    }

    fn count_hit(&mut self, choice: &[u32]) {
        let value = |cut: &Cut| {
            let taken = choice.iter().zip(&cut.profit).map(|(&n, &p)| p.saturating_mul(i64::from(n)));
            taken.fold(cut.demanded, i64::saturating_sub)
        };
        if let Some(cut) = self.cuts.iter_mut().max_by_key(|cut| value(cut)) {
            cut.hits += 1;
        }
    }
}
