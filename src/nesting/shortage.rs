//! What is missing and provably had to be.
//!
//! For weights w >= 0 of the items, one piece of stock s yields at most M_s(w) of weighted pieces in any layout, so that no
//! answer makes pieces of more than R(w) = sum_s n_s M_s(w) in all: a cut on the copies that can be made together. M_s comes
//! from the engines' proven upper values at whole prices K w_i, where K is more than any credit, and is rounded down to what
//! sums of the weights can be. Good weights are the prices of a relaxation in which unmade copies cost their value (column
//! generation, as for money); as they stand for the search only, no solver's tolerance enters.
//!
//! Whether copies better than those made keep all cuts is then searched for in integers, by branch and bound over the copies
//! given up. What does not come to an end within its work is not proven.

use rayon::prelude::*;
use rustc_hash::FxHashSet;

use super::board::Effort;
use super::construct::Ground;
use super::engine::Scratch;
use super::master::{Column, relax};
use super::problem::{Problem, Product, Stop};
use super::solution::{priority_levels, whole_copies};

/// Layouts computed at the most, over the whole proof: a few seconds on large piles, far less on small ones.
const LAYOUTS: usize = 1000;
/// Effort of one of them.
const EFFORT: Effort = Effort { rounds: 2, ..Effort::starts(8) };
/// Rounds of column generation for one question.
const ROUNDS: usize = 24;
/// The greatest weight of an item in a round. Highly divisible, so that simple ratios come out whole.
const GRAIN: i64 = 240;
/// Greatest weights tried at the end: coarse ones lose less to rounding down.
const COARSE: [i64; 5] = [1, 2, 3, 4, 6];
/// Terms of sums looked at in the search for better copies, for one product at a time and over the whole proof: some tenths of
/// a second together.
const TERMS_AT_A_TIME: usize = 300_000;
const TERMS: usize = 20_000_000;
/// Cost of an unmade copy in the relaxation, micro-units: the most valuable of the level in question, and all above it.
const OF_LEVEL: i64 = 1_000_000;
const ABOVE: i64 = 100_000_000;

/// Proofs about what is missing, the cuts they rest on and the layouts met on the way.
pub struct Shortage<'a> {
    ground: &'a Ground<'a>,
    /// The copies in question, by product.
    copies: Vec<u32>,
    /// By product: what is missing of it is proven unavoidable.
    proven: Vec<bool>,
    cuts: Vec<Cut>,
    /// Layouts met.
    columns: Vec<Column>,
    seen: FxHashSet<Column>,
    /// By class of stock: the items it can give.
    gives: Vec<Vec<usize>>,
    stop: Stop<'a>,
    layouts_left: usize,
    terms_left: usize,
}

/// No answer makes copies of more weight than `most`.
struct Cut {
    /// Weight of a copy, by product.
    weights: Vec<i128>,
    most: i128,
}

impl<'a> Shortage<'a> {
    /// Knows nothing yet. Everything asked of it ends early, with what is proven by then, when `stop` says so.
    pub fn new(ground: &'a Ground<'a>, stop: Stop<'a>) -> Shortage<'a> {
        Shortage {
            ground,
            copies: Vec::new(),
            proven: Vec::new(),
            cuts: Vec::new(),
            columns: Vec::new(),
            seen: FxHashSet::default(),
            gives: ground.problem.stock.iter().map(|stock| stock.items()).collect(),
            stop,
            layouts_left: LAYOUTS,
            terms_left: TERMS,
        }
    }

    /// From now on `stop` says when to end.
    pub fn heed(&mut self, stop: Stop<'a>) {
        self.stop = stop;
    }

    /// By item: what is missing of its product is proven unavoidable.
    ///
    /// For a product of which `copies` falls short this asserts: among all lawful answers within the demand whose copies of
    /// every higher priority are worth at least as much as those made here, none makes more copies of this product and
    /// has copies of its priority that are worth more together (or as much, and are more in number). So either the product
    /// cannot be made more often, or only by giving up as much of what is as important. Never true of a product that is
    /// made in full.
    pub fn proven(&mut self, copies: &[u32]) -> Vec<bool> {
        self.ask(copies);
        let problem = self.ground.problem;
        for level in priority_levels(problem) {
            let missing = self.missing(level);
            if missing.is_empty() {
                continue;
            }
            // All of the level together; then each alone beside what is more important.
            self.judge(&missing);
            self.pursue(&self.whole(level), &missing);
            for &p in &missing {
                self.weigh_alone(p);
                let one_more = |q: usize| if q == p { self.copies[p] + 1 } else { 0 };
                self.pursue(&self.target(level, one_more), &[p]);
            }
        }
        problem.items.iter().map(|item| self.proven[item.product]).collect()
    }

    /// True when no answer with copies above `level` worth as much as `copies` has copies of the level worth more, or more
    /// of them for as much; found by relaxation.
    pub fn settles(&mut self, copies: &[u32], level: i32) -> bool {
        self.ask(copies);
        let missing = self.missing(level);
        self.pursue(&self.whole(level), &missing);
        self.are_proven(&missing)
    }

    /// The same, as far as what was found before says it.
    pub fn settled(&mut self, copies: &[u32], level: i32) -> bool {
        self.ask(copies);
        let missing = self.missing(level);
        self.judge(&missing);
        self.are_proven(&missing)
    }

    /// By item: what one more piece helps to the copies of a level, the dearest of them being worth one; by relaxation over the
    /// layouts met. `None` where nothing is missing or the solver fails.
    pub fn worths(&self, level: i32) -> Option<Vec<f64>> {
        let missing = self.missing(level);
        let prices = self.prices(&self.whole(level), &missing)?;
        Some(prices.into_iter().map(|price| price as f64 / OF_LEVEL as f64).collect())
    }

    /// The layouts met.
    pub fn columns(&self) -> &[Column] {
        &self.columns
    }

    fn ask(&mut self, copies: &[u32]) {
        self.copies = copies.to_vec();
        self.proven = vec![false; copies.len()];
    }

    /// The products of a level that fall short.
    fn missing(&self, level: i32) -> Vec<usize> {
        let products = self.ground.problem.products.iter().enumerate();
        let short = products.filter(|&(p, product)| product.priority == level && self.copies[p] < product.copies);
        short.map(|(p, _)| p).collect()
    }

    fn are_proven(&self, missing: &[usize]) -> bool {
        missing.iter().all(|&p| self.proven[p])
    }

    /// Copies: those made above a level, and all that are asked for of it.
    fn whole(&self, level: i32) -> Vec<u32> {
        self.target(level, |p| self.ground.problem.products[p].copies)
    }

    /// Copies: those made above a level, its `own`, and none below.
    fn target(&self, level: i32, own: impl Fn(usize) -> u32) -> Vec<u32> {
        let products = self.ground.problem.products.iter().enumerate();
        let of = |(p, product): (usize, &Product)| match product.priority.cmp(&level) {
            std::cmp::Ordering::Greater => self.copies[p],
            std::cmp::Ordering::Equal => own(p),
            std::cmp::Ordering::Less => 0,
        };
        products.map(of).collect()
    }

    /// Looks for weights by which `target` copies cannot be made, until all of `missing` are proven or nothing is gained.
    fn pursue(&mut self, target: &[u32], missing: &[usize]) {
        let mut last = Vec::new();
        for _ in 0..ROUNDS {
            if self.are_proven(missing) {
                return;
            }
            let Some(prices) = self.prices(target, missing) else { return };
            last = prices;
            match self.weigh(&scaled(&last, GRAIN)) {
                None => return,
                Some(fresh) => {
                    self.judge(missing);
                    if !fresh {
                        break;
                    }
                }
            }
        }
        for grain in COARSE {
            if self.are_proven(missing) || self.weigh(&scaled(&last, grain)).is_none() {
                return;
            }
            self.judge(missing);
        }
    }

    /// Every item of a product by itself.
    fn weigh_alone(&mut self, p: usize) {
        let items = self.ground.problem.items.iter();
        let own: Vec<usize> = items.enumerate().filter(|(_, item)| item.product == p).map(|(i, _)| i).collect();
        for i in own {
            let mut weights = vec![0; self.ground.problem.items.len()];
            weights[i] = 1;
            if self.proven[p] || self.weigh(&weights).is_none() {
                return;
            }
            self.judge(&[p]);
        }
    }

    fn judge(&mut self, missing: &[usize]) {
        for &p in missing {
            let terms = self.terms_left.min(TERMS_AT_A_TIME);
            if self.proven[p] || terms == 0 {
                continue;
            }
            let mut search = Copies::new(self.ground.problem, &self.copies, p, &self.cuts, terms);
            self.proven[p] = !search.better();
            self.terms_left -= terms - search.terms_left;
        }
    }

    /// Prices of the pieces when unmade copies of `target` cost their value and layouts nothing.
    fn prices(&self, target: &[u32], missing: &[usize]) -> Option<Vec<i64>> {
        let problem = self.ground.problem;
        let level = problem.products[*missing.first()?].priority;
        let dearest = problem.products.iter().filter(|p| p.priority == level).map(|p| p.value).max()?.max(1);
        let mut left: Vec<f64> = problem.stock.iter().map(|stock| f64::from(stock.count)).collect();
        left.push(f64::from(target.iter().sum::<u32>()));
        let free = |column: &Column| Column { net: 0, ..column.clone() };
        let mut columns: Vec<Column> = self.columns.iter().map(free).collect();
        for (p, product) in problem.products.iter().enumerate().filter(|&(p, _)| target[p] > 0) {
            let share = i128::from(product.value.max(0)) * i128::from(OF_LEVEL) / i128::from(dearest);
            let net = if product.priority > level { ABOVE } else { (share as i64).max(1000) };
            let of_copy = problem.items.iter().enumerate().filter(|(_, item)| item.product == p);
            let counts = of_copy.map(|(i, item)| (i, item.per_copy)).collect();
            // An unmade copy is taken from a stock of its own.
            columns.push(Column::given(problem.stock.len(), counts, net));
        }
        let pieces = whole_copies(problem, target);
        let caps = vec![10 * ABOVE; problem.items.len()];
        Some(relax(&pieces, &left, &columns, &caps)?.prices)
    }

    /// Adds the cut of these weights of the items. True when a layout not met before came of it; `None` when the work is
    /// spent or nothing has a weight.
    fn weigh(&mut self, weights: &[i64]) -> Option<bool> {
        let problem = self.ground.problem;
        let measure = weights.iter().fold(0, |g, &w| gcd(g, w));
        let of_use: Vec<usize> =
            (0..problem.stock.len()).filter(|&s| self.gives[s].iter().any(|&i| weights[i] > 0)).collect();
        if measure == 0 || self.layouts_left < of_use.len() || (self.stop)() {
            return None;
        }
        self.layouts_left -= of_use.len();
        let limits: Vec<u32> = problem.items.iter().map(|item| item.demand).collect();
        let engines = self.ground.engines;
        let found: Vec<(i64, Option<Column>)> = of_use
            .par_iter()
            .map_init(Scratch::default, |scratch, &s| {
                let unit = problem.stock[s].cost.max(1).saturating_mul(2);
                let prices: Vec<i64> = weights.iter().map(|&w| w.saturating_mul(unit)).collect();
                let found = engines[s].best_within(&prices, &limits, scratch, EFFORT);
                let most = found.upper.max(0) / unit;
                let column = Column::new(problem, s, found);
                (most - most % measure, column)
            })
            .collect();
        let mut most = 0;
        let mut fresh = false;
        for (&s, (of_one, column)) in of_use.iter().zip(found) {
            most += i128::from(of_one) * i128::from(problem.stock[s].count);
            if let Some(column) = column
                && self.seen.insert(column.clone())
            {
                self.columns.push(column);
                fresh = true;
            }
        }
        let mut of_copies = vec![0; problem.products.len()];
        for (item, &weight) in problem.items.iter().zip(weights) {
            of_copies[item.product] += i128::from(weight) * i128::from(item.per_copy);
        }
        self.cuts.push(Cut { weights: of_copies, most });
        Some(fresh)
    }
}

/// Prices as whole weights, the greatest of them `grain`.
fn scaled(prices: &[i64], grain: i64) -> Vec<i64> {
    let most = i128::from(prices.iter().copied().max().unwrap_or(0).max(1));
    let of = |&price: &i64| ((i128::from(price) * i128::from(grain) + most / 2) / most) as i64;
    prices.iter().map(of).collect()
}

fn gcd(a: i64, b: i64) -> i64 {
    if b == 0 { a } else { gcd(b, a % b) }
}

/// The search for copies that keep all cuts and are better than those made, as [`proven`] says: over the copies given up of
/// every product as important.
struct Copies {
    products: Vec<Given>,
    /// By cut: weight that must be given up.
    needs: Vec<i128>,
    /// By cut: the products that save most weight for their value first.
    orders: Vec<Vec<usize>>,
    /// By level: the value that may be given up.
    room: Vec<i128>,
    terms_left: usize,
}

/// A product of which copies may be given up.
struct Given {
    level: usize,
    /// What giving up a copy takes from the level's room; more than zero.
    value: i128,
    most: u32,
    /// By cut.
    weights: Vec<i128>,
}

impl Copies {
    fn new(problem: &Problem, copies: &[u32], p: usize, cuts: &[Cut], terms: usize) -> Copies {
        let own = problem.products[p].priority;
        let levels: Vec<i32> = priority_levels(problem).into_iter().filter(|&level| level >= own).collect();
        // At the product's own level a copy counts beside its value, for less than any difference in value.
        let many: i128 = problem.products.iter().map(|product| i128::from(product.copies)).sum::<i128>() + 1;
        let value = |q: usize| {
            let value = i128::from(problem.products[q].value.max(0));
            if problem.products[q].priority == own { value * many + 1 } else { value }
        };
        let mut search = Copies {
            products: Vec::new(),
            needs: cuts.iter().map(|cut| -cut.most).collect(),
            orders: Vec::new(),
            room: vec![0; levels.len()],
            terms_left: terms.saturating_sub(cuts.len() * problem.products.len()),
        };
        for (q, product) in problem.products.iter().enumerate() {
            let Some(level) = levels.iter().position(|&level| level == product.priority) else { continue };
            search.room[level] += value(q) * i128::from(product.copies - copies[q]);
            let most = if q == p { product.copies - copies[q] - 1 } else { product.copies };
            // What is worth nothing is given up at once.
            let kept = if value(q) == 0 { 0 } else { product.copies };
            let weights: Vec<i128> = cuts.iter().map(|cut| cut.weights[q]).collect();
            for (need, weight) in search.needs.iter_mut().zip(&weights) {
                *need += weight * i128::from(kept);
            }
            if kept > 0 && weights.iter().any(|&weight| weight > 0) {
                search.products.push(Given { level, value: value(q), most, weights });
            }
        }
        // Better, not equal.
        if let Some(room) = search.room.last_mut() {
            *room -= 1;
        }
        search.products.sort_by_key(|given| std::cmp::Reverse(given.value));
        search.orders = (0..cuts.len()).map(|cut| search.order(cut)).collect();
        search
    }

    fn order(&self, cut: usize) -> Vec<usize> {
        let mut order: Vec<usize> = (0..self.products.len()).filter(|&q| self.products[q].weights[cut] > 0).collect();
        order.sort_by(|&a, &b| {
            let (a, b) = (&self.products[a], &self.products[b]);
            (b.weights[cut] * a.value).cmp(&(a.weights[cut] * b.value))
        });
        order
    }

    /// True when such copies are found, or the search is given up.
    fn better(&mut self) -> bool {
        let (needs, room) = (self.needs.clone(), self.room.clone());
        self.from(0, &needs, &room)
    }

    fn from(&mut self, at: usize, needs: &[i128], room: &[i128]) -> bool {
        self.terms_left = self.terms_left.saturating_sub(needs.len() * (self.products.len() - at + 1));
        if self.terms_left == 0 || needs.iter().all(|&need| need <= 0) {
            return true;
        }
        let short = |cut: usize| needs[cut] > 0 && self.most_saved(cut, at, room) < needs[cut];
        if at == self.products.len() || (0..needs.len()).any(short) {
            return false;
        }
        let (level, value) = (self.products[at].level, self.products[at].value);
        let most = i128::from(self.products[at].most).min(room[level] / value);
        (0..=most).rev().any(|given_up| {
            let mut room = room.to_vec();
            room[level] -= given_up * value;
            let weights = &self.products[at].weights;
            let needs: Vec<i128> = needs.iter().zip(weights).map(|(need, weight)| need - given_up * weight).collect();
            self.from(at + 1, &needs, &room)
        })
    }

    /// The most weight of a cut that can be given up from product `at` on, parts of copies allowed.
    fn most_saved(&self, cut: usize, at: usize, room: &[i128]) -> i128 {
        let mut room = room.to_vec();
        let mut saved = 0;
        for given in self.orders[cut].iter().filter(|&&q| q >= at).map(|&q| &self.products[q]) {
            let left = &mut room[given.level];
            let whole = i128::from(given.most).min(*left / given.value);
            saved += whole * given.weights[cut];
            *left -= whole * given.value;
            if whole < i128::from(given.most) {
                saved += given.weights[cut] * *left / given.value;
                *left = 0;
            }
        }
        saved
    }
}
