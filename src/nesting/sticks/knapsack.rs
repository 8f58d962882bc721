//! The best pieces for one stick at given prices: a bounded knapsack over cells, for a whole family of sticks at once.
//!
//! Exact dynamic programming in integers (Bellman; copies bounded by doubling bundles, Martello and Toth 1990, 3.4).
//! A measure too fine for the cells is rounded, up for the pieces to cut and down for the value no pieces exceed.

use super::super::stick::earned;
use super::case::{Case, Class, Family, Pattern};

/// Which way a length is taken to cells.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Rounding {
    Up,
    Down,
}

/// So many equal pieces taken or left together.
struct Bundle {
    item: usize,
    count: u32,
    cells: usize,
    worth: i64,
}

/// Best values by cells used at most. Buffers grow to the longest stick and the most bundles seen.
#[derive(Default)]
pub(super) struct Table {
    bundles: Vec<Bundle>,
    best: Vec<i64>,
    /// By bundle: a bit a cell, set where the bundle is taken.
    taken: Vec<u64>,
    words: usize,
    step: i64,
    /// The shortest piece that is wanted and worth nothing: a stick cut for it alone still earns credit.
    free: Option<(i64, usize)>,
    /// Values when lengths are rounded down; empty when no length needs rounding.
    above: Vec<i64>,
}

impl Table {
    /// Prices every stick of a family up to `room` ticks, with at most `limits` pieces of each item; what is worth nothing
    /// is not cut.
    pub fn fill(&mut self, family: &Family, room: i64, prices: &[i64], limits: &[u32]) {
        let unpriced = family.pieces.iter().enumerate().filter(|&(item, _)| limits[item] > 0 && prices[item] <= 0);
        self.free = unpriced.filter_map(|(item, piece)| piece.map(|piece| (piece.1, item))).min();
        self.above.clear();
        if !family.exact {
            self.run(family, room, prices, limits, Rounding::Down);
            std::mem::swap(&mut self.above, &mut self.best);
        }
        self.run(family, room, prices, limits, Rounding::Up);
    }

    fn run(&mut self, family: &Family, room: i64, prices: &[i64], limits: &[u32], rounding: Rounding) {
        self.step = family.step;
        let cells = (room / family.step) as usize + 1;
        self.bundle(family, room, prices, limits, rounding);
        self.words = cells.div_ceil(64);
        self.best.clear();
        self.best.resize(cells, 0);
        self.taken.clear();
        self.taken.resize(self.words * self.bundles.len(), 0);
        // What bundles so far can reach: beyond, values no longer rise.
        for (bundle, taken) in self.bundles.iter().zip(self.taken.chunks_exact_mut(self.words)) {
            for at in (bundle.cells..cells).rev() {
                let value = self.best[at - bundle.cells] + bundle.worth;
                if value > self.best[at] {
                    self.best[at] = value;
                    taken[at / 64] |= 1 << (at % 64);
                }
            }
        }
    }

    fn bundle(&mut self, family: &Family, room: i64, prices: &[i64], limits: &[u32], rounding: Rounding) {
        self.bundles.clear();
        for (item, piece) in family.pieces.iter().enumerate() {
            let Some((_, length)) = *piece else { continue };
            let cells = match rounding {
                Rounding::Up => -(-length).div_euclid(family.step),
                Rounding::Down => length.div_euclid(family.step),
            } as usize;
            let mut left = i64::from(limits[item]).min(room / length.max(1)) as u32;
            let mut many = 1;
            while left > 0 && prices[item] > 0 {
                let count = many.min(left);
                let worth = prices[item] * i64::from(count);
                self.bundles.push(Bundle { item, count, cells: cells * count as usize, worth });
                left -= count;
                many *= 2;
            }
        }
    }

    /// No pieces on a stick of the class, with what is kept of it, are worth more; micro-units.
    pub fn upper(&self, class: &Class) -> i64 {
        let best = if self.above.is_empty() { &self.best } else { &self.above };
        let last = (class.room / self.step) as usize;
        if class.credit.is_none() {
            return best[last];
        }
        let with_credit = |cells: usize| best[cells] + earned(class.stick, class.credit, cells as i64 * self.step).1;
        let free = self.free.filter(|free| free.0 <= class.room);
        let free = free.map_or(0, |(length, _)| earned(class.stick, class.credit, length).1);
        rises(&best[..=last]).map(with_credit).max().unwrap_or(0).max(free)
    }

    /// The most valuable pieces on a stick of the class, credit counted; one that is worth nothing where none is worth more;
    /// `None` when nothing wanted fits.
    pub fn pattern(&self, case: &Case, class: usize) -> Option<Pattern> {
        let of = &case.classes[class];
        let last = (of.room / self.step) as usize;
        let worth = |cells: usize| self.best[cells] + earned(of.stick, of.credit, cells as i64 * self.step).0;
        let cells = match of.credit {
            None => last,
            Some(_) => rises(&self.best[..=last]).max_by_key(|&cells| (worth(cells), cells)).unwrap_or(0),
        };
        let free = self.free.filter(|free| free.0 <= of.room);
        let alone = free.map_or(0, |(length, _)| earned(of.stick, of.credit, length).0);
        let counts = match free {
            Some((_, item)) if cells == 0 || self.best[cells] == 0 || alone > worth(cells) => vec![(item, 1)],
            _ => self.filling(cells as i64 * self.step),
        };
        if counts.is_empty() { None } else { case.pattern(class, counts) }
    }

    /// The most valuable pieces within so many ticks.
    pub fn filling(&self, room: i64) -> Vec<(usize, u32)> {
        let mut cells = (room / self.step) as usize;
        let mut counts: Vec<(usize, u32)> = Vec::new();
        for (b, bundle) in self.bundles.iter().enumerate().rev() {
            if self.taken[b * self.words + cells / 64] >> (cells % 64) & 1 == 1 {
                cells -= bundle.cells;
                match counts.last_mut() {
                    Some(last) if last.0 == bundle.item => last.1 += bundle.count,
                    _ => counts.push((bundle.item, bundle.count)),
                }
            }
        }
        counts.reverse();
        counts
    }
}

/// The cells at which a value is first reached.
fn rises(best: &[i64]) -> impl Iterator<Item = usize> + '_ {
    (1..best.len()).filter(|&cells| best[cells] > best[cells - 1])
}
