//! The integer bound over the choice of stock: no set of stock is cheaper than its prices say.
//!
//! Every price vector u with proven upper values U_s(u) gives a cut on the choice y of stock (y_s pieces of class s):
//! an answer that uses exactly y costs at least sum_i u_i d_i - sum_s (U_s(u) - c_s) y_s (Benders 1962; the Lagrangian
//! bound of `bound` is the minimum over y of one cut alone). What `pack` proves of the answers from just some stock
//! counts for that choice. The least over whole y of the greatest of these bounds every answer, and is stronger
//! where a part of a board cannot be bought. It is found by branch and bound (Land and Doig 1960) over the linear relaxation of
//! `dual`, whose duals w >= 0 are weights of the cuts: with weights that sum up to one, sum_k w_k cut_k(y) bounds the greatest of
//! them, and its least between the bounds of a node is a sum over classes, taken in integers. When the search is cut short,
//! the least open node is the bound. Cuts come from the caller, who prices at the choice that is cheapest so far.

mod dual;

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use rustc_hash::FxHashMap;

use super::problem::Problem;
use super::ways::Asked;
use dual::Relaxation;

/// Entries of the relaxation's table that one search may change, about: it is cut short then.
const MOST_ENTRIES: usize = 100_000_000;
/// A whole choice is least when nothing less is open by more than one part in so many.
const CLOSE: i64 = 20_000;
/// Parts of a piece nearer to a whole one than this are whole.
const WHOLE: f64 = 1e-6;
/// Fraction bits of the weights of cuts.
const WEIGHT_BITS: u32 = 24;
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
    /// What it says that an answer from at least `low` and at most `high` pieces of each class costs at least.
    fn value(&self, low: &[u32], high: &[u32]) -> i64 {
        let bounds = low.iter().zip(high).zip(&self.profit);
        let taken = bounds.map(|((&low, &high), &p)| p.saturating_mul(i64::from(if p > 0 { high } else { low })));
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

/// A node: the least and the most of each class.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct Node {
    bound: i64,
    low: Vec<u32>,
    high: Vec<u32>,
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

    /// The bound, and the choice of stock by class at which it is reached, or comes nearest to it.
    pub fn least(&mut self) -> (i64, Vec<u32>) {
        self.least_between(&vec![0; self.counts.len()], &self.counts.clone())
    }

    /// The same of all choices but some.
    pub fn least_beside<'c>(&mut self, others: impl Iterator<Item = &'c Vec<u32>>) -> (i64, Vec<u32>) {
        let known: Vec<_> = others.map(|other| (other, self.packed.insert(other.clone(), i64::MAX))).collect();
        let least = self.least();
        for (other, known) in known {
            match known {
                Some(known) => self.packed.insert(other.clone(), known),
                None => self.packed.remove(other),
            };
        }
        least
    }

    /// The same of the choices of at least `low` and at most `high` pieces of each class.
    pub fn least_between(&mut self, low: &[u32], high: &[u32]) -> (i64, Vec<u32>) {
        let start = Node { bound: 0, low: low.to_vec(), high: high.to_vec() };
        let mut best = (self.value(low), low.to_vec());
        if self.cuts.is_empty() {
            return (best.0.max(0), best.1);
        }
        let mut relaxation = Relaxation::new(&self.cuts, &self.counts);
        let spreads: Vec<f64> = (0..self.counts.len()).map(|class| self.spread(class) as f64).collect();
        let most_pivots = MOST_ENTRIES / (self.cuts.len() * (self.counts.len() + 1));
        // The least bound of the nodes that hold nothing better than the best choice.
        let mut closed = i64::MAX;
        let mut open = BinaryHeap::from([Reverse(start)]);
        let (mut next, mut solved): (Option<Node>, usize) = (None, 0);
        while let Some(mut node) = next.take().or_else(|| open.pop().map(|Reverse(node)| node)) {
            // A programme is read over once even where it takes no pivot.
            if relaxation.pivots + solved >= most_pivots {
                open.push(Reverse(node));
                break;
            }
            relaxation.solve(&node.low, &node.high);
            solved += 1;
            let chosen = relaxation.chosen();
            node.bound = self.bound(&relaxation.weights(), &node).max(node.bound);
            let rounded = rounded(&chosen, &node);
            let value = self.value(&rounded);
            if value < best.0 {
                best = (value, rounded.clone());
            }
            match parted(&node, &chosen, &rounded, &spreads) {
                None => closed = closed.min(value),
                Some(_) if node.bound >= best.0 - best.0 / CLOSE => closed = closed.min(node.bound),
                Some((near, far)) => {
                    open.push(Reverse(far));
                    next = Some(near);
                }
            }
        }
        let left = open.peek().map_or(i64::MAX, |Reverse(node)| node.bound);
        let bound = left.min(closed).min(best.0).max(0);
        if let Some((_, greatest)) = self.greatest(&best.1, &best.1) {
            self.cuts[greatest].hits += 1;
        }
        (bound, best.1)
    }

    /// What the cuts, and what was packed, say that an answer from this choice of stock costs at least.
    fn value(&self, choice: &[u32]) -> i64 {
        let cuts = self.greatest(choice, choice).map_or(0, |(value, _)| value);
        cuts.max(self.packed.get(choice).copied().unwrap_or(0))
    }

    /// The most that a cut by itself says of all choices between `low` and `high`, and which cut that is.
    fn greatest(&self, low: &[u32], high: &[u32]) -> Option<(i64, usize)> {
        self.cuts.iter().enumerate().map(|(at, cut)| (cut.value(low, high), at)).max()
    }

    /// The least at a node of the cuts' mean by some weights, rounded down.
    fn bound(&self, weights: &[f64], node: &Node) -> i64 {
        let one = 1i128 << WEIGHT_BITS;
        let mut whole: Vec<i128> = weights.iter().map(|w| (w * one as f64).clamp(0.0, one as f64) as i128).collect();
        let sum: i128 = whole.iter().sum();
        let Some(heaviest) = (0..whole.len()).max_by_key(|&k| whole[k]) else { return 0 };
        // What rounding left over, or brought too much.
        whole[heaviest] += one - sum;
        if whole[heaviest] < 0 {
            return 0;
        }
        let mut mean: i128 = 0;
        let mut profits = vec![0i128; self.counts.len()];
        for (&weight, cut) in whole.iter().zip(&self.cuts).filter(|(weight, _)| **weight > 0) {
            mean += weight * i128::from(cut.demanded);
            profits.iter_mut().zip(&cut.profit).for_each(|(sum, &p)| *sum += weight * i128::from(p));
        }
        for (class, profit) in profits.into_iter().enumerate() {
            let n = if profit > 0 { node.high[class] } else { node.low[class] };
            mean -= profit * i128::from(n);
        }
        i64::try_from(mean >> WEIGHT_BITS).unwrap_or(0)
    }

    /// By how much the cuts disagree on a piece of a class.
    fn spread(&self, class: usize) -> i64 {
        let profits = self.cuts.iter().map(|cut| cut.profit[class]);
        let (least, most) = profits.fold((i64::MAX, i64::MIN), |(a, b), p| (a.min(p), b.max(p)));
        most.saturating_sub(least)
    }

    /// The prices of the cut that by itself says most of all choices between `low` and `high`, and by class what a piece is worth
    /// at them more than it costs, at most.
    pub fn said_between(&self, low: &[u32], high: &[u32]) -> Option<(&[i64], &[i64])> {
        let (_, greatest) = self.greatest(low, high)?;
        let cut = &self.cuts[greatest];
        Some((&cut.prices, &cut.profit))
    }
}

/// The whole choice next to one of parts.
fn rounded(chosen: &[f64], node: &Node) -> Vec<u32> {
    let bounds = node.low.iter().zip(&node.high);
    // The clamp is by whole numbers of pieces, so the value fits.
    let whole =
        |(&part, (&low, &high)): (&f64, (&u32, &u32))| part.round().clamp(f64::from(low), f64::from(high)) as u32;
    chosen.iter().zip(bounds).map(whole).collect()
}

/// The two halves of a node, that nearer to its relaxation first: by the class furthest from whole, weighed by how much the
/// cuts disagree on it; or, where all are whole, apart from that choice. `None` when it is one choice alone.
fn parted(node: &Node, chosen: &[f64], rounded: &[u32], spreads: &[f64]) -> Option<(Node, Node)> {
    let off = |c: usize| (chosen[c] - chosen[c].round()).abs();
    let undecided = (0..chosen.len()).filter(|&c| node.low[c] < node.high[c]);
    let weighed = |c: usize| off(c).max(WHOLE) * spreads[c];
    let class = undecided.max_by(|&a, &b| weighed(a).total_cmp(&weighed(b)).then(b.cmp(&a)))?;
    let (part, whole) = (chosen[class], rounded[class]);
    let most = if off(class) > WHOLE { part.floor() as u32 } else { whole };
    let mut lower = node.clone();
    lower.high[class] = most.clamp(node.low[class], node.high[class] - 1);
    let mut upper = node.clone();
    upper.low[class] = lower.high[class] + 1;
    Some(if whole <= lower.high[class] { (lower, upper) } else { (upper, lower) })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// All choices of up to `counts` pieces.
    fn all(counts: &[u32]) -> Vec<Vec<u32>> {
        let longer = |known: Vec<Vec<u32>>, &most: &u32| {
            known.iter().flat_map(|choice| (0..=most).map(|n| [&choice[..], &[n]].concat())).collect()
        };
        counts.iter().fold(vec![vec![]], longer)
    }

    fn choices() -> impl Strategy<Value = Choice> {
        let counts = prop::collection::vec(0u32..4, 1..7);
        counts.prop_flat_map(|counts| {
            let profits = prop::collection::vec(-80_000_000i64..120_000_000, counts.len());
            let cut = (0i64..400_000_000, profits);
            let packed = prop::collection::vec((any::<prop::sample::Index>(), 0i64..500_000_000), 0..6);
            (Just(counts), prop::collection::vec(cut, 1..8), packed).prop_map(|(counts, cuts, packed)| {
                let all = all(&counts);
                let cut = |(demanded, profit)| Cut { prices: vec![], demanded, profit, hits: 0 };
                let packed = packed.into_iter().map(|(at, cost)| (at.get(&all).clone(), cost)).collect();
                Choice { counts, cuts: cuts.into_iter().map(cut).collect(), packed }
            })
        })
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(600))]

        /// Against enumeration: the bound is never above the least, and no further below it than asked for.
        #[test]
        fn the_least_choice_is_that_of_all(mut choice in choices()) {
            let least = all(&choice.counts).iter().map(|y| choice.value(y)).min().expect("there is a choice");
            let (bound, chosen) = choice.least();
            prop_assert!(chosen.iter().zip(&choice.counts).all(|(n, most)| n <= most));
            prop_assert!(bound <= least, "bound {bound} above {least}");
            prop_assert!(bound >= least - least / CLOSE - 1_000, "bound {bound} far below {least}");
            prop_assert!(choice.value(&chosen) - least <= least / CLOSE + 1_000);
        }
    }

    /// Two cuts on one board: without it an answer costs 150, with it what it costs by itself, 100. Three fifths of it would
    /// bound an answer by 60 alone.
    #[test]
    fn half_a_board_cannot_be_bought() {
        let cut = |demanded, profit: i64| Cut { prices: vec![], demanded, profit: vec![profit], hits: 0 };
        let cuts = vec![cut(150_000_000, 150_000_000), cut(0, -100_000_000)];
        let mut choice = Choice { counts: vec![1], cuts, packed: FxHashMap::default() };
        let (bound, chosen) = choice.least();
        assert_eq!(chosen, [1]);
        assert!((99_999_000..=100_000_000).contains(&bound), "{bound}");
    }
}
