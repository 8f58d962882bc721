//! The integer bound over the choice of stock: no set of stock is cheaper than its prices say.
//!
//! Every price vector u with proven upper values U_s(u) gives a cut on the choice y of stock (y_s pieces of class s):
//! an answer that uses exactly y costs at least sum_i u_i d_i - sum_s (U_s(u) - c_s) y_s (Benders 1962; the Lagrangian
//! bound of `bound` is the minimum over y of one cut alone). What `pack` proves of the answers from just some stock
//! counts for that choice. The least over whole y of the greatest of these bounds every answer, and is stronger
//! where a part of a board cannot be bought. It is found by best-first branching in integers; when that is cut short, the
//! least open node is the bound. Cuts come from the caller, who prices at the choice that is cheapest so far.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use rustc_hash::FxHashMap;

use super::problem::Problem;
use super::ways::Asked;

/// Nodes of one search at the most; the bound is then that of the least open node.
const MOST_NODES: usize = 20_000;
/// Classes of more pieces than this are not branched on: they stay free in the bound.
const MOST_ALIKE: u32 = 8;
/// Cuts kept; beyond, the one that was least often the greatest goes.
const MOST_CUTS: usize = 120;

/// A cut on the choice of stock.
#[derive(Clone, Debug)]
struct Cut {
    prices: Vec<i64>,
    demanded: i64,
    /// Upper value less cost of one piece, by class.
    profit: Vec<i64>,
    /// How often it was the greatest at a choice.
    hits: u32,
}

impl Cut {
    /// What it says that an answer from this choice of stock costs at least.
    fn value(&self, choice: &[u32]) -> i64 {
        let taken = choice.iter().zip(&self.profit).map(|(&n, &p)| p.saturating_mul(i64::from(n)));
        taken.fold(self.demanded, i64::saturating_sub)
    }
}

/// The cuts collected so far.
#[derive(Clone, Debug)]
pub struct Choice {
    counts: Vec<u32>,
    cuts: Vec<Cut>,
    /// What is proven of the answers from just some stock.
    packed: FxHashMap<Vec<u32>, i64>,
}

/// A node: the choice for the first classes of the search order.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Node {
    bound: i64,
    decided: Reverse<usize>,
    chosen: Vec<u32>,
    /// By cut: its value after what is chosen.
    values: Vec<i64>,
}

/// What a search branches on.
struct Order {
    classes: Vec<usize>,
    /// By number of decided classes, by cut: the most that the undecided ones can still take off it.
    off: Vec<Vec<i64>>,
}

impl Choice {
    /// No cuts yet.
    pub fn new(problem: &Problem) -> Choice {
        let counts = problem.stock.iter().map(|s| s.count).collect();
        Choice { counts, cuts: Vec::new(), packed: FxHashMap::default() }
    }

    /// True before the first cut.
    pub fn is_empty(&self) -> bool {
        self.cuts.is_empty()
    }

    /// Adds the cut of `prices` for what is `asked`; `uppers` are proven upper values of one piece of each class at them.
    pub fn add(&mut self, problem: &Problem, asked: &Asked, prices: &[i64], uppers: &[i64]) {
        let demanded = i64::try_from(asked.worth(prices)).unwrap_or(i64::MAX);
        let profit = problem.stock.iter().zip(uppers).map(|(s, &upper)| upper.saturating_sub(s.cost)).collect();
        if self.cuts.len() >= MOST_CUTS
            && let Some(least) = (0..self.cuts.len()).min_by_key(|&k| self.cuts[k].hits)
        {
            self.cuts.remove(least);
        }
        self.cuts.push(Cut { prices: prices.to_vec(), demanded, profit, hits: 0 });
    }

    /// Adds that no answer from just `chosen` pieces of each class costs less than `cost`.
    pub fn add_packed(&mut self, chosen: Vec<u32>, cost: i64) {
        let known = self.packed.entry(chosen).or_insert(cost);
        *known = cost.max(*known);
    }

    /// The bound, and the choice of stock by class at which it is reached.
    pub fn least(&mut self) -> (i64, Vec<u32>) {
        let order = self.order();
        let values: Vec<i64> = self.cuts.iter().map(|cut| cut.demanded).collect();
        let mut open = BinaryHeap::new();
        open.push(Reverse(self.node(&order, Vec::new(), values)));
        let mut nodes = 0;
        while let Some(Reverse(node)) = open.pop() {
            if node.chosen.len() == order.classes.len() || nodes >= MOST_NODES {
                let choice = self.rounded(&order, &node);
                self.count_hit(&choice);
                return (node.bound, choice);
            }
            nodes += 1;
            let class = order.classes[node.chosen.len()];
            for n in 0..=self.counts[class] {
                let mut chosen = node.chosen.clone();
                chosen.push(n);
                let less = |(&v, cut): (&i64, &Cut)| v.saturating_sub(cut.profit[class].saturating_mul(i64::from(n)));
                let values = node.values.iter().zip(&self.cuts).map(less).collect();
                open.push(Reverse(self.node(&order, chosen, values)));
            }
        }
        (0, vec![0; self.counts.len()])
    }

    /// Classes to branch on, those on which the cuts disagree most first.
    fn order(&self) -> Order {
        let mut classes: Vec<usize> = (0..self.counts.len()).filter(|&c| self.counts[c] <= MOST_ALIKE).collect();
        let spread = |c: usize| {
            let profits = self.cuts.iter().map(|cut| cut.profit[c]);
            let (least, most) = profits.fold((i64::MAX, i64::MIN), |(a, b), p| (a.min(p), b.max(p)));
            most.saturating_sub(least)
        };
        classes.sort_by_key(|&c| (Reverse(spread(c)), c));
        let most = |cut: &Cut, c: usize| cut.profit[c].max(0).saturating_mul(i64::from(self.counts[c]));
        let mut free: Vec<i64> = self
            .cuts
            .iter()
            .map(|cut| (0..self.counts.len()).fold(0i64, |sum, c| sum.saturating_add(most(cut, c))))
            .collect();
        let mut off = vec![free.clone()];
        for &c in &classes {
            free.iter_mut().zip(&self.cuts).for_each(|(free, cut)| *free -= most(cut, c));
            off.push(free.clone());
        }
        Order { classes, off }
    }

    /// The node of a partial choice; its bound lets every cut choose the rest for itself.
    fn node(&self, order: &Order, chosen: Vec<u32>, values: Vec<i64>) -> Node {
        let decided = chosen.len();
        let cuts = values.iter().zip(&order.off[decided]).map(|(&value, &off)| value.saturating_sub(off));
        let bound = cuts.max().unwrap_or(0).max(self.packed_at(order, &chosen)).max(0);
        Node { bound, decided: Reverse(decided), chosen, values }
    }

    /// What is proven of a whole choice beside the cuts.
    fn packed_at(&self, order: &Order, chosen: &[u32]) -> i64 {
        if self.packed.is_empty() || chosen.len() < self.counts.len() {
            return 0;
        }
        let mut whole = vec![0; self.counts.len()];
        order.classes.iter().zip(chosen).for_each(|(&c, &n)| whole[c] = n);
        self.packed.get(&whole).copied().unwrap_or(0)
    }

    /// A whole choice: the undecided classes as the cut that is greatest at the node would have them.
    fn rounded(&self, order: &Order, node: &Node) -> Vec<u32> {
        let off = &order.off[node.chosen.len()];
        let mut choice = vec![0; self.counts.len()];
        if let Some(k) = (0..self.cuts.len()).max_by_key(|&k| node.values[k].saturating_sub(off[k])) {
            for (c, n) in choice.iter_mut().enumerate() {
                *n = if self.cuts[k].profit[c] > 0 { self.counts[c] } else { 0 };
            }
        }
        order.classes.iter().zip(&node.chosen).for_each(|(&c, &n)| choice[c] = n);
        choice
    }

    /// The prices of the cut that says most of a choice.
    pub fn prices_at(&self, choice: &[u32]) -> Option<&[i64]> {
        self.cuts.iter().max_by_key(|cut| cut.value(choice)).map(|cut| &cut.prices[..])
    }

    fn count_hit(&mut self, choice: &[u32]) {
        if let Some(cut) = self.cuts.iter_mut().max_by_key(|cut| cut.value(choice)) {
            cut.hits += 1;
        }
    }
}
