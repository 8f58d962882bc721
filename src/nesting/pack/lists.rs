//! Lists of all that each seat may hold, and the cheapest ways to make everything from them.
//!
//! A way takes one set of pieces from each list. What its sets cost and make follows from the lists alone: no geometry and no
//! engine here. Ways are counted seat by seat over what is left to make (dynamic programming), as far as they may still come out
//! cheap enough: prices tell what is left is worth, and the linear relaxation over the lists brings good prices and
//! shortens the lists (reduced cost fixing).

use rustc_hash::FxHashMap;

use super::super::board::{Fields, Holding};
use super::super::master::{Column, relax};
use super::super::problem::Stop;

/// What may be left to make after some seats, in as many ways at most.
const MOST_LEFT: usize = 1_000_000;
/// Ways kept at a time.
const MOST_WAYS: usize = 256;
/// Rounds in which lists are shortened, each of which has to leave no more than this share of them.
const ROUNDS: usize = 4;
const FEWER: f64 = 0.8;
/// Told to stop, counting ends after so many steps.
const LOOK_UP: usize = 64;

/// What the seats may hold.
pub(super) struct Lists<'a> {
    pub fields: &'a Fields,
    /// What is to be made.
    pub target: u128,
    /// By seat.
    pub costs: Vec<i64>,
    pub of_seat: Vec<Vec<Holding>>,
    /// By item: good prices.
    pub prices: Vec<i64>,
}

/// A way to make everything: the set of each seat by its place in the list, and what it cost when it was found.
#[derive(Clone, Debug)]
pub(super) struct Way {
    pub sets: Vec<usize>,
    pub cost: i64,
}

/// What is left to make after some seats.
#[derive(Clone, Copy, Debug)]
struct Left {
    set: u128,
    /// What an answer costs at least then.
    cost: i64,
    /// The place of what was left before the last of them, and the set that one holds.
    from: usize,
    which: usize,
}

impl Lists<'_> {
    /// What a way costs by what is known of its sets now.
    pub fn cost(&self, way: &Way) -> i64 {
        let nets = way.sets.iter().zip(&self.of_seat).zip(&self.costs);
        nets.map(|((&set, list), cost)| cost - list[set].credit).sum()
    }

    /// What an answer costs at least at some prices, were every seat to hold what is worth most on it; `None` when one can hold
    /// nothing.
    fn least(&self, prices: &[i64]) -> Option<i64> {
        let mut least = self.fields.worth(self.target, prices);
        for (list, cost) in self.of_seat.iter().zip(&self.costs) {
            least += cost - list.iter().map(|h| self.fields.worth(h.set, prices) + h.credit).max()?;
        }
        Some(least)
    }

    /// Better prices, and lists without what no answer cheaper than `below` may hold; `caps` are what an unmade piece costs, by item.
    pub fn shorten(&mut self, below: i64, caps: &[i64]) {
        let mut target = vec![0; self.prices.len()];
        self.fields.pieces(self.target).for_each(|(item, n)| target[item] = n);
        let Some(mut least) = self.least(&self.prices) else { return };
        for _ in 0..ROUNDS {
            let column = |seat: usize, h: &Holding| Column::given(seat, self.fields.pieces(h.set).collect(), -h.credit);
            let lists = self.of_seat.iter().enumerate();
            let columns: Vec<Column> = lists.flat_map(|(seat, l)| l.iter().map(move |h| column(seat, h))).collect();
            let Some(relaxed) = relax(&target, &vec![1.0; self.of_seat.len()], &columns, caps) else { return };
            let Some(now) = self.least(&relaxed.prices).filter(|&now| now > least) else { return };
            (least, self.prices) = (now, relaxed.prices);
            for list in &mut self.of_seat {
                let worth = |h: &Holding| self.fields.worth(h.set, &self.prices) + h.credit;
                let most = list.iter().map(worth).max().unwrap_or(0);
                list.retain(|h| least + most - worth(h) < below);
            }
            let after: usize = self.of_seat.iter().map(Vec::len).sum();
            if after as f64 > FEWER * columns.len() as f64 {
                return;
            }
        }
    }

    /// Ways cheaper than `below`, the cheapest first, and among them the cheapest of all; none when there is none. `None` when too much
    /// may be left to make, or told to stop.
    pub fn ways(&self, below: i64, stop: Stop) -> Option<Vec<Way>> {
        let Some(least) = self.least(&self.prices) else { return Some(Vec::new()) };
        let (fields, seats) = (self.fields, self.of_seat.len());
        let mut order: Vec<usize> = (0..seats).collect();
        order.sort_by_key(|&seat| (self.of_seat[seat].len(), seat));
        let sets: Vec<Vec<(i64, u128, usize)>> = self.of_seat.iter().map(|list| self.by_loss(list)).collect();
        // The most of each item that the seats still to come may hold.
        let mut reach = vec![0; seats + 1];
        for (place, &seat) in order.iter().enumerate().rev() {
            let most = self.of_seat[seat].iter().fold(0, |most, holding| fields.most(most, holding.set));
            reach[place] = fields.sum_within(reach[place + 1], most, self.target);
        }
        let mut layers = vec![vec![Left { set: self.target, cost: least, from: 0, which: 0 }]];
        let mut ends: Vec<Left> = Vec::new();
        for (place, &seat) in order.iter().enumerate() {
            let mut next: Vec<Left> = Vec::new();
            let mut known: FxHashMap<u128, usize> = FxHashMap::default();
            for (from, left) in layers[place].iter().enumerate() {
                for &(less, set, which) in sets[seat].iter().take_while(|set| left.cost + set.0 < below) {
                    let now = fields.without(left.set, set);
                    if !fields.within(now, reach[place + 1]) {
                        continue;
                    }
                    // What is made and not wanted is worth nothing.
                    let lost = fields.worth(fields.without(set, left.set), &self.prices);
                    let now = Left { set: now, cost: left.cost + less + lost, from, which };
                    if now.cost >= below {
                        continue;
                    }
                    if place + 1 == seats {
                        ends.push(now);
                        continue;
                    }
                    let at = *known.entry(now.set).or_insert(next.len());
                    if at == next.len() {
                        next.push(now);
                    } else if now.cost < next[at].cost {
                        next[at] = now;
                    }
                }
                if next.len() > MOST_LEFT || from % LOOK_UP == 0 && stop() {
                    return None;
                }
                if ends.len() > 4 * MOST_WAYS {
                    keep_cheapest(&mut ends);
                }
            }
            layers.push(next);
        }
        keep_cheapest(&mut ends);
        let way = |end: &Left| {
            let (mut sets, mut at) = (vec![0; seats], end);
            for place in (0..seats).rev() {
                sets[order[place]] = at.which;
                at = &layers[place][at.from];
            }
            Way { sets, cost: end.cost }
        };
        Some(ends.iter().map(way).collect())
    }

    /// By how much each set of a list, with its credit, is worth less than the best one there, and its place; ascending.
    fn by_loss(&self, list: &[Holding]) -> Vec<(i64, u128, usize)> {
        let worths: Vec<i64> = list.iter().map(|h| self.fields.worth(h.set, &self.prices) + h.credit).collect();
        let most = worths.iter().copied().max().unwrap_or(0);
        let of = |((which, worth), holding): ((usize, i64), &Holding)| (most - worth, holding.set, which);
        let mut sets: Vec<(i64, u128, usize)> = worths.into_iter().enumerate().zip(list).map(of).collect();
        sets.sort_unstable();
        sets
    }
}

fn keep_cheapest(ends: &mut Vec<Left>) {
    ends.sort_unstable_by_key(|end| (end.cost, end.from, end.which));
    ends.truncate(MOST_WAYS);
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::super::problem::never;
    use super::*;

    const ITEMS: usize = 4;

    fn holding() -> impl Strategy<Value = (Vec<u32>, i64)> {
        (prop::collection::vec(0..4u32, ITEMS), 0..30i64)
    }

    /// The least cost of all ways, by trying every one.
    fn cheapest(lists: &[Vec<(Vec<u32>, i64)>], target: &[u32], costs: &[i64]) -> Option<i64> {
        let Some(((list, others), cost)) = lists.split_first().zip(costs.first()) else {
            return target.iter().all(|&n| n == 0).then_some(0);
        };
        let with = |(set, credit): &(Vec<u32>, i64)| {
            let left: Vec<u32> = target.iter().zip(set).map(|(target, n)| target.saturating_sub(*n)).collect();
            Some(cost - credit + cheapest(others, &left, &costs[1..])?)
        };
        list.iter().filter_map(with).min()
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(400))]

        /// The first way is the cheapest of all, or there is none that cheap, whatever the prices and after lists were shortened.
        #[test]
        fn the_cheapest_way_is_that_of_all_ways(
            lists in prop::collection::vec(prop::collection::vec(holding(), 1..9), 1..5),
            target in prop::collection::vec(0..6u32, ITEMS),
            prices in prop::collection::vec(1..40i64, ITEMS),
            below in 50..420i64,
        ) {
            let costs: Vec<i64> = (0..lists.len() as i64).map(|seat| 60 + 7 * seat).collect();
            let fields = Fields::new(&(0..ITEMS).map(|item| (item, 6)).collect::<Vec<_>>(), ITEMS).expect("few pieces");
            let hold = |(counts, credit): &(Vec<u32>, i64)| Holding {
                set: fields.set(counts.iter().copied().enumerate()), credit: *credit,
            };
            let mut all = Lists {
                fields: &fields,
                target: fields.set(target.iter().copied().enumerate()),
                costs: costs.clone(),
                of_seat: lists.iter().map(|list| list.iter().map(hold).collect()).collect(),
                prices,
            };
            let truth = cheapest(&lists, &target, &costs).filter(|&cost| cost < below);
            for shorter in [false, true] {
                if shorter {
                    all.shorten(below, &[500; ITEMS]);
                }
                let ways = all.ways(below, &never).expect("few ways");
                prop_assert_eq!(ways.first().map(|way| way.cost), truth);
                for way in &ways {
                    prop_assert_eq!(all.cost(way), way.cost);
                    let sets = way.sets.iter().zip(&all.of_seat).map(|(&set, list)| list[set].set);
                    let left = sets.fold(all.target, |left, set| fields.without(left, set));
                    prop_assert_eq!(left, 0);
                }
            }
        }
    }
}
