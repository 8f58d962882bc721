//! A partial or whole answer under construction, and how two answers compare.
//!
//! Bookkeeping only: which pieces of stock are used, what is made, what it costs. Invariant: `made` never exceeds the
//! target (with its excess) and `used` never exceeds the stock's count; both are kept by those who `place`.

use super::engine::Found;
use super::layout::{Layout, Shape, SheetNode};
use super::problem::{Item, Problem};

/// One piece of stock with its cuts.
#[derive(Clone, Debug)]
pub struct Placed {
    pub stock: usize,
    pub shape: Shape,
    /// (item, pieces), ascending.
    pub counts: Vec<(usize, u32)>,
    /// Cost less credit, micro-units.
    pub net: i64,
}

impl Placed {
    /// The layout found for a piece of class `stock`; `None` when nothing was found for it.
    pub fn new(problem: &Problem, stock: usize, found: Found) -> Option<Placed> {
        let net = problem.stock[stock].cost - found.credit;
        found.shape.map(|shape| Placed { stock, shape, counts: found.counts, net })
    }

    /// What its pieces are worth at `prices`.
    pub fn worth(&self, prices: &[i64]) -> i64 {
        self.counts.iter().map(|&(i, n)| prices[i].saturating_mul(i64::from(n))).sum()
    }
}

/// Layouts chosen so far.
#[derive(Clone, Debug)]
pub struct Solution {
    pub placed: Vec<Placed>,
    /// Pieces made, by item.
    pub made: Vec<u32>,
    /// Pieces of stock used, by class.
    pub used: Vec<u32>,
    /// Sum of the nets.
    pub cost: i64,
}

impl Solution {
    /// Nothing made yet.
    pub fn empty(problem: &Problem) -> Solution {
        Solution { placed: Vec::new(), made: vec![0; problem.items.len()], used: vec![0; problem.stock.len()], cost: 0 }
    }

    /// Adds a piece of stock.
    pub fn place(&mut self, placed: Placed) {
        for &(i, n) in &placed.counts {
            self.made[i] += n;
        }
        self.used[placed.stock] += 1;
        self.cost += placed.net;
        self.placed.push(placed);
    }

    /// Takes back the piece of stock placed at a position.
    pub fn take_back(&mut self, at: usize) {
        let placed = self.placed.remove(at);
        for &(i, n) in &placed.counts {
            self.made[i] -= n;
        }
        self.used[placed.stock] -= 1;
        self.cost -= placed.net;
    }

    /// Pieces of `target` still wanted, by item.
    pub fn wanted(&self, target: &[u32]) -> Vec<u32> {
        target.iter().zip(&self.made).map(|(&target, &made)| target.saturating_sub(made)).collect()
    }

    /// The most that may still be made of each item: what is wanted, and the excess while something is.
    pub fn room(&self, problem: &Problem, target: &[u32]) -> Vec<u32> {
        room(problem, &self.wanted(target))
    }

    /// True when `target` is made, and of elastic items no more on top than may be.
    pub fn complete(&self, problem: &Problem, target: &[u32]) -> bool {
        let most = room(problem, target);
        (0..target.len()).all(|i| target[i] <= self.made[i] && self.made[i] <= most[i])
    }

    /// How good it is.
    pub fn merit(&self, problem: &Problem) -> Merit {
        let cuts = self.placed.iter().map(|p| saw_lines(&p.shape)).sum();
        Merit::of(problem, &self.made, self.cost, cuts)
    }

    /// The layouts in the order of the stock, for the answer.
    pub fn layouts(&self) -> Vec<Layout> {
        let mut order: Vec<&Placed> = self.placed.iter().collect();
        order.sort_by_key(|p| p.stock);
        order.into_iter().map(|p| Layout { stock: p.stock, shape: p.shape.clone() }).collect()
    }
}

/// The most that may be made of each item when `wanted` is wanted: as much, and the excess where anything is.
pub fn room(problem: &Problem, wanted: &[u32]) -> Vec<u32> {
    let of = |(item, &n): (&Item, &u32)| if n > 0 { n.saturating_add(item.excess) } else { 0 };
    problem.items.iter().zip(wanted).map(of).collect()
}

/// How good an answer is: what it makes, level by level of priority from the highest, then copies, then cost,
/// then how few cuts it takes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Merit {
    levels: Vec<i128>,
    copies: u64,
    cost: i64,
    cuts: usize,
}

impl Merit {
    /// The merit of pieces made at a cost with so many saw lines.
    fn of(problem: &Problem, made: &[u32], cost: i64, cuts: usize) -> Merit {
        let copies = copies_made(problem, made);
        let levels = priority_levels(problem)
            .into_iter()
            .map(|level| {
                let at_level = problem.products.iter().zip(&copies).filter(|(p, _)| p.priority == level);
                at_level.map(|(p, &n)| i128::from(p.value) * i128::from(n)).sum()
            })
            .collect();
        let finished = problem.products.iter().zip(&copies).map(|(p, &n)| u64::from(n) * u64::from(p.finished));
        Merit { levels, copies: finished.sum(), cost, cuts }
    }

    /// True when this is strictly the better answer.
    pub fn beats(&self, other: &Merit) -> bool {
        let key = |m: &Merit| (m.copies, -m.cost, std::cmp::Reverse(m.cuts));
        (&self.levels, key(self)) > (&other.levels, key(other))
    }
}

/// The priorities that occur, the highest first.
pub fn priority_levels(problem: &Problem) -> Vec<i32> {
    let mut levels: Vec<i32> = problem.products.iter().map(|p| p.priority).collect();
    levels.sort_unstable_by(|a, b| b.cmp(a));
    levels.dedup();
    levels
}

/// Finished copies of each product that the pieces made allow.
pub fn copies_made(problem: &Problem, made: &[u32]) -> Vec<u32> {
    let mut copies: Vec<u32> = problem.products.iter().map(|p| p.copies).collect();
    for (item, &n) in problem.items.iter().zip(made) {
        let of_this = n / item.per_copy;
        copies[item.product] = copies[item.product].min(of_this);
    }
    copies
}

/// Pieces of each item that just so many copies of each product take.
pub fn whole_copies(problem: &Problem, copies: &[u32]) -> Vec<u32> {
    problem.items.iter().map(|item| item.per_copy * copies[item.product]).collect()
}

/// Saw lines of a layout that part sections, strips and blanks: what the order of equal costs is broken by.
fn saw_lines(shape: &Shape) -> usize {
    fn nodes(node: &SheetNode) -> usize {
        match node {
            SheetNode::Split { children, .. } => children.len() + children.iter().map(nodes).sum::<usize>(),
            _ => 0,
        }
    }
    match shape {
        Shape::Board(board) => {
            let strips = board.sections.iter().flat_map(|section| &section.strips);
            board.offcuts.len() + board.sections.len() + strips.map(|strip| 1 + strip.blanks.len()).sum::<usize>()
        }
        Shape::Sheet(node) => nodes(node),
        Shape::Stick(stick) => stick.pieces.len() + stick.offcuts.len(),
    }
}
