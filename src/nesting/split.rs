//! A problem parted into components that exchange nothing, and the order in which these are worked on.
//!
//! Two classes of stock belong together when a chain of items leads from one to the other. Costs and bounds of components
//! add up. Which component takes the next step follows from work and gaps alone, so that a seed and a work limit decide
//! everything. Holds no search of its own.

use super::component::Component;
use super::engine::Engine;
use super::problem::{Problem, Stock, Stop};
use super::solution::{Placed, Solution};

/// The components of a problem, and where their classes of stock and items are in it.
pub struct Split {
    pub components: Vec<Component>,
    /// By component, by its class of stock or item: the index in the whole problem.
    stock: Vec<Vec<usize>>,
    items: Vec<Vec<usize>>,
}

impl Split {
    /// Parts a problem with its engines, the pieces to make, and the answer to begin with.
    pub fn new(
        problem: &Problem,
        engines: Vec<Engine>,
        target: &[u32],
        best: &Solution,
        prices: &[i64],
        seed: u64,
    ) -> Split {
        let kin = kinships(problem);
        let most = problem.most();
        let mut numbers: Vec<usize> = kin.iter().copied().filter(|&k| k != usize::MAX).collect();
        numbers.sort_unstable();
        numbers.dedup();
        let mut engines: Vec<Option<Engine>> = engines.into_iter().map(Some).collect();
        let mut split = Split { components: Vec::new(), stock: Vec::new(), items: Vec::new() };
        for number in numbers {
            let stock: Vec<usize> = (0..kin.len()).filter(|&s| kin[s] == number).collect();
            let mut items: Vec<usize> = stock.iter().flat_map(|&s| problem.stock[s].items()).collect();
            items.sort_unstable();
            items.dedup();
            let wanted: Vec<u32> = items.iter().map(|&i| target[i]).collect();
            if wanted.iter().all(|&n| n == 0) {
                continue;
            }
            let asked = items.iter().map(|&i| most[i]).fold(0, u32::saturating_add);
            let mut number_of = vec![usize::MAX; problem.items.len()];
            items.iter().enumerate().for_each(|(new, &old)| number_of[old] = new);
            let part = Problem {
                items: items.iter().map(|&i| problem.items[i].clone()).collect(),
                products: problem.products.clone(),
                stock: stock.iter().map(|&s| renumbered(&problem.stock[s], &number_of, asked)).collect(),
            };
            let mut answer = Solution::empty(&part);
            for placed in &best.placed {
                if let Ok(class) = stock.binary_search(&placed.stock) {
                    let counts = placed.counts.iter().map(|&(i, n)| (number_of[i], n)).collect();
                    answer.place(Placed { stock: class, counts, ..placed.clone() });
                }
            }
            let engines = stock.iter().filter_map(|&s| engines[s].take()).zip(&part.stock);
            let engines = engines.map(|(engine, stock)| engine.renumbered(stock)).collect();
            let prices = items.iter().map(|&i| prices[i]).collect();
            split.components.push(Component::new(part, engines, wanted, answer, prices, seed));
            split.stock.push(stock);
            split.items.push(items);
        }
        split
    }

    pub fn cost(&self) -> i64 {
        self.components.iter().map(|c| c.best.cost).sum()
    }

    pub fn bound(&self) -> i64 {
        self.components.iter().map(|c| c.bound).sum()
    }

    pub fn work(&self) -> u64 {
        self.components.iter().map(|c| c.work).sum()
    }

    /// One step of the component that had the least work for its gap; none is stepped that is closed.
    pub fn step(&mut self, stop: Stop) {
        let due = |c: &Component| (c.work + 1) as f64 / c.apart().max(1) as f64;
        let open = self.components.iter_mut().filter(|c| c.apart() > 0);
        if let Some(next) = open.min_by(|a, b| due(a).total_cmp(&due(b))) {
            next.step(stop);
        }
    }

    /// The best answers of the components, as one of the whole problem.
    pub fn whole(self, problem: &Problem) -> Solution {
        let mut answer = Solution::empty(problem);
        for ((component, stock), items) in self.components.into_iter().zip(self.stock).zip(self.items) {
            for placed in component.best.placed {
                let counts = placed.counts.iter().map(|&(i, n)| (items[i], n)).collect();
                answer.place(Placed { stock: stock[placed.stock], counts, ..placed });
            }
        }
        answer
    }
}

/// A class of stock with its items numbered anew, and no more pieces of it than pieces may be made: each one used makes
/// at least one.
fn renumbered(stock: &Stock, number_of: &[usize], asked: u32) -> Stock {
    let mut stock = stock.clone();
    stock.count = stock.count.min(asked);
    std::iter::once(&mut stock.kind).chain(&mut stock.wider).for_each(|kind| kind.renumber(number_of));
    for set in &mut stock.together {
        // What this stock, and all that is linked with it, cannot give is never whole here.
        let never_whole = set.pieces.iter().any(|&(item, _)| number_of[item] == usize::MAX);
        set.pieces.retain(|&(item, _)| number_of[item] != usize::MAX);
        set.pieces.iter_mut().for_each(|(item, pieces)| {
            *item = number_of[*item];
            *pieces = if never_whole { u32::MAX } else { *pieces };
        });
    }
    stock
}

/// By class of stock: a number shared by all classes that are linked by items they can give.
fn kinships(problem: &Problem) -> Vec<usize> {
    let mut kin_of_item: Vec<usize> = (0..problem.items.len()).collect();
    let mut kin = vec![usize::MAX; problem.stock.len()];
    for stock in &problem.stock {
        let items = stock.items();
        let Some(least) = items.iter().map(|&i| kin_of_item[i]).min() else { continue };
        let merged: Vec<usize> = items.iter().map(|&i| kin_of_item[i]).collect();
        for k in &mut kin_of_item {
            if merged.contains(k) {
                *k = least;
            }
        }
    }
    for (kin, stock) in kin.iter_mut().zip(&problem.stock) {
        if let Some(&item) = stock.items().first() {
            *kin = kin_of_item[item];
        }
    }
    kin
}
