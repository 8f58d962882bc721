//! The bound over whole choices of stock, by branching on which stock is used.
//!
//! A leaf stands for all choices of at least so many and at most so many pieces of each class; the leaves part all choices
//! between them. The linear master over the layouts known, where stock that is used for certain is paid for already and stock
//! that is not used gives nothing, says what a leaf may cost and at which prices to cut (`choice`): such a cut bounds all
//! choices of the leaf at once, where one taken at a single choice says little of the next. A leaf whose cuts come near to
//! what its master says is parted at the class of stock that raises both halves most (strong branching, Applegate, Bixby,
//! Chvatal and Cook 1995; branching on aggregate variables before columns, Barnhart et al. 1998). The least leaf bounds every
//! answer. Pricing is the caller's, the proof is `choice`'s; floats here only say where to look.

use super::choice::Choice;
use super::colgen::Wanted;
use super::master::Column;
use super::pack::Known;
use super::problem::{Problem, Stop};
use super::simplex::{Row, Simplex};

/// What a layout costs more where its stock may not be used, in costs of an average piece of stock.
const NEVER: f64 = 1e4;
/// Parts of a piece nearer to a whole one than this are whole.
const WHOLE: f64 = 1e-3;
/// Classes of stock tried to part a leaf.
const TRIED: usize = 6;
/// A leaf is parted when its cuts are nearer to its master than such a part of the way to the cutoff, or after so many cuts of
/// its own.
const NEAR: i64 = 6;
const MOST_CUTS: u32 = 4;
/// A cut should come nearer to its value than that by so many times, or make up one part less in so many of what is apart.
const CLOSER: i64 = 2;
const A_STEP: i64 = 8;
/// What a half rises at the least where two of them are compared, in costs of an average piece of stock.
const LEAST_RISE: f64 = 1e-3;
/// So many pivots of the master take about as long as a section start of a board.
const PIVOTS_A_WORK: u64 = 2;

/// The leaves, and the master they share.
pub struct Forks {
    master: Option<Master>,
    leaves: Vec<Leaf>,
    /// The least bound of the leaves that nothing more comes of here.
    done: i64,
    /// Work of the master so far.
    pub work: u64,
}

/// Choices of stock between `low` and `high`.
struct Leaf {
    low: Vec<u32>,
    high: Vec<u32>,
    /// No answer from these costs less, micro-units.
    bound: i64,
    /// Cuts taken at its prices.
    cuts: u32,
    /// The last of them did not raise the bound.
    stalled: bool,
}

/// A cut that is wanted.
pub struct Ask {
    /// The prices to take it at, by item, micro-units.
    pub prices: Vec<i64>,
    /// By class: what it is to say.
    pub wanted: Vec<Wanted>,
    /// How near to its value the cut should come, micro-units.
    pub near: i64,
}

impl Forks {
    /// One leaf, of all choices.
    pub fn new(problem: &Problem) -> Forks {
        let high: Vec<u32> = problem.stock.iter().map(|s| s.count).collect();
        let root = Leaf { low: vec![0; high.len()], high, bound: 0, cuts: 0, stalled: false };
        Forks { master: None, leaves: vec![root], done: i64::MAX, work: 0 }
    }

    /// No answer costs less, or less than the last cutoff, micro-units.
    pub fn bound(&self) -> i64 {
        self.leaves.iter().map(|leaf| leaf.bound).min().unwrap_or(i64::MAX).min(self.done)
    }

    /// Parts leaves until a cut is wanted; `None` when nothing more comes of parting, or when told to stop. Choices that cannot
    /// cost less than `cutoff` are left out.
    pub fn next(
        &mut self,
        problem: &Problem,
        target: &[u32],
        known: &Known,
        choice: &mut Choice,
        cutoff: i64,
        stop: Stop,
    ) -> Option<Ask> {
        while !stop() {
            let at = self.least(choice, cutoff)?;
            let leaf = &mut self.leaves[at];
            let master = self.master.get_or_insert_with(|| Master::new(problem, target, known.caps));
            master.take_up(known.columns);
            master.go_to(problem, &leaf.low, &leaf.high);
            let (apart, left) = (master.value() - leaf.bound, cutoff - leaf.bound);
            let used = master.used();
            if apart > left / NEAR && leaf.cuts < MOST_CUTS {
                leaf.cuts += 1;
                self.work += master.work();
                let most = choice.said_between(&leaf.low, &leaf.high).filter(|_| !leaf.stalled);
                return Some(Ask {
                    prices: mixed(master.prices(), most.map(|said| said.0)),
                    wanted: leaf.wanted(&used),
                    near: (left / NEAR / CLOSER).max(apart / A_STEP),
                });
            }
            let halves = master.halves(problem, leaf, &used);
            self.work += master.work();
            let leaf = self.leaves.swap_remove(at);
            match halves {
                None => self.done = self.done.min(leaf.bound),
                Some(halves) => self.leaves.extend(halves),
            }
        }
        None
    }

    /// The leaf of the least bound, when the cuts by now are counted; leaves beyond the cutoff go.
    fn least(&mut self, choice: &mut Choice, cutoff: i64) -> Option<usize> {
        loop {
            let at = (0..self.leaves.len()).min_by_key(|&at| self.leaves[at].bound)?;
            let leaf = &mut self.leaves[at];
            let (bound, _) = choice.least_between(&leaf.low, &leaf.high);
            if bound >= cutoff {
                self.leaves.swap_remove(at);
                self.done = self.done.min(cutoff);
                continue;
            }
            if bound <= leaf.bound {
                leaf.stalled = leaf.cuts > 0;
                return Some(at);
            }
            (leaf.bound, leaf.stalled) = (bound, false);
        }
    }
}

impl Leaf {
    /// What a cut is to say of each class of stock, where the master uses so much of it.
    fn wanted(&self, used: &[f64]) -> Vec<Wanted> {
        let of = |((&low, &high), &part): ((&u32, &u32), &f64)| match high {
            0 => Wanted::Roughly,
            _ if part > WHOLE || low > 0 => Wanted::Exactly,
            _ => Wanted::IfWorthwhile,
        };
        self.low.iter().zip(&self.high).zip(used).map(of).collect()
    }
}

/// Prices of the master half way to those of the cut that says most so far, if there is one to be mixed with.
fn mixed(prices: Vec<i64>, most: Option<&[i64]>) -> Vec<i64> {
    match most {
        Some(most) => prices.iter().zip(most).map(|(price, most)| (price + most) / 2).collect(),
        None => prices,
    }
}

/// The linear master over the layouts known, its costs those of one leaf.
struct Master {
    simplex: Simplex,
    items: usize,
    /// Column of the programme of the first layout, and of each layout its stock and its cost.
    first: usize,
    layouts: Vec<(usize, f64)>,
    /// The layouts of each class of stock.
    of_class: Vec<Vec<usize>>,
    /// By class: what its layouts cost more than they do by themselves at the leaf the master is at.
    more: Vec<f64>,
    /// Cost of the stock used for certain.
    paid: f64,
    /// Micro-units in one unit of the programme's costs.
    unit: f64,
}

impl Master {
    fn new(problem: &Problem, target: &[u32], caps: &[i64]) -> Master {
        let costs: Vec<i64> = problem.stock.iter().map(|s| s.cost).collect();
        let unit = (costs.iter().sum::<i64>() / costs.len().max(1) as i64).max(1) as f64;
        let items = target.iter().zip(caps).map(|(&count, &cap)| Row { count, escape: Some(cap as f64 / unit) });
        let classes = problem.stock.iter().map(|s| Row { count: s.count, escape: None });
        let rows: Vec<Row> = items.chain(classes).collect();
        let simplex = Simplex::new(&rows);
        Master {
            items: target.len(),
            first: simplex.columns(),
            simplex,
            layouts: Vec::new(),
            of_class: vec![Vec::new(); costs.len()],
            more: vec![0.0; costs.len()],
            paid: 0.0,
            unit,
        }
    }

    /// Adds the layouts that are new.
    fn take_up(&mut self, columns: &[Column]) {
        for column in &columns[self.layouts.len()..] {
            let mut entries: Vec<(u32, f64)> = column.counts.iter().map(|&(i, n)| (i as u32, f64::from(n))).collect();
            entries.push(((self.items + column.stock) as u32, 1.0));
            let cost = column.net as f64 / self.unit;
            self.of_class[column.stock].push(self.layouts.len());
            self.layouts.push((column.stock, cost));
            self.simplex.add(cost + self.more[column.stock], &entries);
        }
    }

    /// The cheapest answer in parts of layouts at a leaf.
    fn go_to(&mut self, problem: &Problem, low: &[u32], high: &[u32]) {
        self.paid = 0.0;
        for (class, stock) in problem.stock.iter().enumerate() {
            let cost = stock.cost as f64 / self.unit;
            // Only classes of one piece are parted.
            let (more, paid) = match (low[class], high[class]) {
                (_, 0) => (NEVER, 0.0),
                (0, _) => (0.0, 0.0),
                _ => (-cost, cost),
            };
            self.paid += paid;
            self.charge(class, more);
        }
        self.optimise();
    }

    fn optimise(&mut self) {
        self.simplex.reprice();
        self.simplex.optimise();
    }

    /// Work since this was last asked for.
    fn work(&mut self) -> u64 {
        self.simplex.take_count() / PIVOTS_A_WORK
    }

    /// Lets the layouts of a class cost so much more than they do by themselves.
    fn charge(&mut self, class: usize, more: f64) {
        if self.more[class] != more {
            self.more[class] = more;
            for &at in &self.of_class[class] {
                self.simplex.set_cost(self.first + at, self.layouts[at].1 + more);
            }
        }
    }

    /// What the leaf costs by it, micro-units.
    fn value(&self) -> i64 {
        ((self.simplex.value() + self.paid) * self.unit) as i64
    }

    /// Prices of the items, micro-units.
    fn prices(&self) -> Vec<i64> {
        self.simplex.duals[..self.items].iter().map(|dual| (dual.max(0.0) * self.unit).round() as i64).collect()
    }

    /// Pieces of each class of stock that are used, parts of pieces too.
    fn used(&self) -> Vec<f64> {
        let mut used = vec![0.0; self.of_class.len()];
        for (column, part) in self.simplex.taken() {
            if let Some(at) = column.checked_sub(self.first) {
                used[self.layouts[at].0] += part;
            }
        }
        used
    }

    /// The halves of the leaf the master is at, parted where both come out dearest; `None` when no piece is used in part.
    fn halves(&mut self, problem: &Problem, leaf: &Leaf, used: &[f64]) -> Option<[Leaf; 2]> {
        let apart = |class: usize| (used[class] - used[class].round()).abs();
        let may = |&class: &usize| {
            problem.stock[class].count == 1 && leaf.low[class] < leaf.high[class] && apart(class) > WHOLE
        };
        let mut classes: Vec<usize> = (0..used.len()).filter(may).collect();
        classes.sort_by(|&a, &b| apart(b).total_cmp(&apart(a)).then(a.cmp(&b)));
        classes.truncate(TRIED);
        let (here, stand) = (self.simplex.value(), self.simplex.stand());
        let mut best: Option<(f64, usize)> = None;
        for class in classes {
            let cost = problem.stock[class].cost as f64 / self.unit;
            let [with, without] = [(-cost, cost), (NEVER, 0.0)].map(|(more, paid)| {
                self.charge(class, more);
                self.optimise();
                let rise = self.simplex.value() + paid - here;
                self.charge(class, 0.0);
                self.simplex.back_to(&stand);
                rise.max(LEAST_RISE)
            });
            if best.is_none_or(|(most, _)| with * without > most) {
                best = Some((with * without, class));
            }
        }
        let (_, class) = best?;
        let half = |pieces: u32| {
            let (mut low, mut high) = (leaf.low.clone(), leaf.high.clone());
            (low[class], high[class]) = (pieces, pieces);
            Leaf { low, high, bound: leaf.bound, cuts: 0, stalled: false }
        };
        Some([half(1), half(0)])
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::board::Effort;
    use super::super::component::caps;
    use super::super::engine::{Engine, Scratch};
    use super::super::problem::{Item, Kind, Product, StickStock, Stock, never};
    use super::super::ways::Asked;
    use super::*;

    /// Sticks, one of each length and cost, for so many pieces of each length.
    fn sticks(sticks: &[(i64, i64)], pieces: &[(i64, u32)]) -> Problem {
        let lengths: Vec<(usize, i64)> = pieces.iter().enumerate().map(|(i, piece)| (i, piece.0)).collect();
        let stock = |&(length, cost): &(i64, i64)| Stock {
            count: 1,
            cost: cost * 1_000_000,
            credit: None,
            kind: Kind::Stick(StickStock { length, trim: 0, kerf: 0, pieces: lengths.clone() }),
            together: vec![],
            wider: None,
        };
        let product = |&(_, copies): &(i64, u32)| Product { copies, finished: 1, priority: 0, value: 1 };
        Problem {
            items: pieces.iter().enumerate().map(|(i, &(length, n))| Item::alone(i, n, length, 1)).collect(),
            products: pieces.iter().map(product).collect(),
            stock: sticks.iter().map(stock).collect(),
        }
    }

    /// The least cost of the sticks, each piece tried on each of them.
    fn least(sticks: &[(i64, i64)], pieces: &[i64], room: &mut Vec<i64>) -> Option<i64> {
        let Some((&piece, rest)) = pieces.split_first() else {
            let used = sticks.iter().zip(room.iter()).filter(|(stick, left)| **left < stick.0);
            return Some(used.map(|(stick, _)| stick.1).sum());
        };
        let mut best = None;
        for at in 0..sticks.len() {
            if room[at] >= piece {
                room[at] -= piece;
                best = least(sticks, rest, room).into_iter().chain(best).min();
                room[at] += piece;
            }
        }
        best
    }

    /// Parts leaves and takes cuts to the end; the bounds on the way, and the last.
    fn bounds(problem: &Problem, cutoff: i64) -> Vec<i64> {
        let engines: Vec<Engine> = problem.stock.iter().map(Engine::new).collect();
        let target = problem.most();
        let (asked, caps) = (Asked::from(&target[..]), caps(problem));
        let (mut choice, mut forks) = (Choice::new(problem), Forks::new(problem));
        let (mut columns, mut met): (Vec<Column>, Vec<i64>) = (Vec::new(), Vec::new());
        let mut prices = vec![0; target.len()];
        for _ in 0..400 {
            let mut uppers = Vec::new();
            for (class, engine) in engines.iter().enumerate() {
                let found = engine.best_within(&prices, &target, &mut Scratch::default(), Effort::EXACT);
                uppers.push(found.upper);
                let column = Column::new(problem, class, found);
                columns.extend(column.filter(|column| !columns.contains(column)));
            }
            choice.add(problem, &asked, &prices, &uppers);
            let known = Known { columns: &columns, memories: &[], caps: &caps, prices: &prices };
            let ask = forks.next(problem, &target, &known, &mut choice, cutoff, &never);
            met.push(forks.bound());
            let Some(ask) = ask else { break };
            prices = ask.prices;
        }
        met
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(150))]

        /// Against every way to share the pieces out: no bound on the way exceeds the least cost.
        #[test]
        fn the_least_leaf_is_never_dearer_than_the_cheapest_answer(
            stock in prop::collection::vec((8i64..21, 1i64..10), 3..6),
            pieces in prop::collection::vec((3i64..9, 1u32..3), 1..4),
        ) {
            let all: Vec<i64> = pieces.iter().flat_map(|&(length, n)| std::iter::repeat_n(length, n as usize)).collect();
            let mut room: Vec<i64> = stock.iter().map(|stick| stick.0).collect();
            let least = least(&stock, &all, &mut room);
            prop_assume!(least.is_some());
            let least = least.unwrap_or_default() * 1_000_000;
            let met = bounds(&sticks(&stock, &pieces), least + 1_000_000);
            prop_assert!(met.iter().all(|&bound| bound <= least), "{met:?} above {least}");
            prop_assert!(met.windows(2).all(|pair| pair[0] <= pair[1]), "{met:?} falls");
        }
    }

    /// Three pieces of 5 from sticks of 10 at 100 each: one and a half sticks would do, two have to be bought.
    #[test]
    fn leaves_are_parted_until_half_a_stick_is_a_whole_one() {
        let problem = sticks(&[(10, 100), (10, 100), (10, 100)], &[(5, 3)]);
        let met = bounds(&problem, 300_000_000);
        let last = met.last().copied().unwrap_or_default();
        assert!((199_900_000..=200_000_000).contains(&last), "{last}");
    }
}
