//! The relaxation of a choice of stock: the least z above every cut, where parts of pieces may be chosen.
//!
//! Least z with z >= d_k - sum_s p_ks y_s for every cut k and low_s <= y_s <= high_s. A dual simplex with bounds on the
//! variables, on a dense table (Lemke 1954; bound flips in the ratio test, Maros 2003): a search changes a bound or two from
//! one programme to the next, after which the last basis is a few pivots from the best. No library at hand keeps its basis
//! and tells its duals. What it says guides the search only: `mod` takes bounds from the weights of the cuts, in integers.

use super::super::master::UNIT;
use super::Cut;

/// A bound is broken by more than this, in units of money.
const BROKEN: f64 = 1e-7;
/// Smallest pivot, and smallest that is taken gladly.
const PIVOT: f64 = 1e-9;
/// Pivots of one programme at the most, times the number of its rows.
const PIVOTS_A_ROW: usize = 20;

/// The programme and its basis.
///
/// Variables: the classes of stock, then z, then by how much z is above each cut. Each basic variable is
/// `constant - sum over the others of entry * value`, z is `sum of rate * value` and a constant.
pub(super) struct Relaxation {
    classes: usize,
    /// Variable of each row, and of each column.
    basic: Vec<usize>,
    other: Vec<usize>,
    constant: Vec<f64>,
    /// Row by row.
    table: Vec<f64>,
    rate: Vec<f64>,
    /// Value of each column's variable, and of each row's.
    value: Vec<f64>,
    x: Vec<f64>,
    /// By class.
    low: Vec<f64>,
    high: Vec<f64>,
    /// Pivots since it was made.
    pub pivots: usize,
}

impl Relaxation {
    /// The programme of some cuts, with `counts` pieces of each class.
    pub fn new(cuts: &[Cut], counts: &[u32]) -> Relaxation {
        let money = |micro: i64| micro as f64 / UNIT;
        let classes = counts.len();
        let columns = classes + 1;
        let mut table = Vec::with_capacity(cuts.len() * columns);
        for cut in cuts {
            table.extend(cut.profit.iter().map(|&profit| -money(profit)));
            table.push(-1.0);
        }
        let mut rate = vec![0.0; columns];
        rate[classes] = 1.0;
        let mut relaxation = Relaxation {
            classes,
            basic: (0..cuts.len()).map(|k| columns + k).collect(),
            other: (0..columns).collect(),
            constant: cuts.iter().map(|cut| -money(cut.demanded)).collect(),
            table,
            rate,
            value: vec![0.0; columns],
            x: vec![0.0; cuts.len()],
            low: vec![0.0; classes],
            high: counts.iter().map(|&n| f64::from(n)).collect(),
            pivots: 0,
        };
        if !cuts.is_empty() {
            // With z in the place of any cut's slack every class is at the bound that suits its rate.
            relaxation.pivot(0, classes);
        }
        relaxation
    }

    /// Goes to the least z between the bounds, or as near as it comes in time.
    pub fn solve(&mut self, low: &[u32], high: &[u32]) {
        let whole = |(to, &from): (&mut f64, &u32)| *to = f64::from(from);
        self.low.iter_mut().zip(low).for_each(whole);
        self.high.iter_mut().zip(high).for_each(whole);
        for j in 0..self.other.len() {
            let (low, high) = self.bounds(self.other[j]);
            self.value[j] = if self.rate[j] < 0.0 && high.is_finite() { high } else { low };
        }
        self.renew();
        let most = PIVOTS_A_ROW * (self.basic.len() + 1);
        for _ in 0..most {
            let Some((row, broken)) = self.most_broken() else { return };
            let Some(column) = self.entering(row, broken) else { return };
            // What leaves stays at the bound that it broke.
            let (low, high) = self.bounds(self.basic[row]);
            self.pivot(row, column);
            self.value[column] = if broken < 0.0 { low } else { high };
            self.renew();
        }
    }

    /// Pieces chosen by class.
    pub fn chosen(&self) -> Vec<f64> {
        let mut chosen = vec![0.0; self.classes];
        let all = self.other.iter().zip(&self.value).chain(self.basic.iter().zip(&self.x));
        all.filter(|(variable, _)| **variable < self.classes).for_each(|(&variable, &value)| chosen[variable] = value);
        chosen
    }

    /// Weight of each cut in the least z, not negative; they sum up to about one.
    pub fn weights(&self) -> Vec<f64> {
        let mut weights = vec![0.0; self.basic.len()];
        for (&variable, &rate) in self.other.iter().zip(&self.rate) {
            if let Some(cut) = variable.checked_sub(self.classes + 1) {
                weights[cut] = rate.max(0.0);
            }
        }
        weights
    }

    fn bounds(&self, variable: usize) -> (f64, f64) {
        if variable < self.classes {
            (self.low[variable], self.high[variable])
        } else if variable == self.classes {
            (f64::NEG_INFINITY, f64::INFINITY)
        } else {
            (0.0, f64::INFINITY)
        }
    }

    /// Values of the basic variables from those of the others.
    fn renew(&mut self) {
        let columns = self.other.len();
        for (i, x) in self.x.iter_mut().enumerate() {
            let row = &self.table[i * columns..(i + 1) * columns];
            *x = self.constant[i] - row.iter().zip(&self.value).map(|(a, v)| a * v).sum::<f64>();
        }
    }

    /// The row whose variable is furthest beyond a bound, and by how much: below zero where it is too low.
    fn most_broken(&self) -> Option<(usize, f64)> {
        let mut most: Option<(usize, f64)> = None;
        for (i, (&variable, &x)) in self.basic.iter().zip(&self.x).enumerate() {
            let (low, high) = self.bounds(variable);
            let broken = if x < low - BROKEN {
                x - low
            } else if x > high + BROKEN {
                x - high
            } else {
                continue;
            };
            if most.is_none_or(|(_, known)| broken.abs() > known.abs()) {
                most = Some((i, broken));
            }
        }
        most
    }

    /// The column to enter for a row that is beyond a bound; columns that can go from one of their bounds to the other on
    /// the way do.
    fn entering(&mut self, row: usize, broken: f64) -> Option<usize> {
        let columns = self.other.len();
        let entries = &self.table[row * columns..(row + 1) * columns];
        let mut offers: Vec<(f64, usize)> = Vec::new();
        for (j, &entry) in entries.iter().enumerate() {
            let (low, high) = self.bounds(self.other[j]);
            if entry.abs() < PIVOT || low == high {
                continue;
            }
            // A variable at its low bound can only rise, which lowers the row's where its entry is positive.
            let rises = self.value[j] <= low;
            let helps = if rises == (entry > 0.0) { broken > 0.0 } else { broken < 0.0 };
            if helps {
                offers.push((self.rate[j].abs() / entry.abs(), j));
            }
        }
        offers.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
        let mut left = broken.abs();
        let last = offers.len().checked_sub(1)?;
        for (at, &(_, j)) in offers.iter().enumerate() {
            let (low, high) = self.bounds(self.other[j]);
            let taken = (high - low) * self.table[row * columns + j].abs();
            if taken >= left || at == last {
                return Some(j);
            }
            left -= taken;
            self.value[j] = if self.value[j] <= low { high } else { low };
        }
        None
    }

    /// The variable of a row leaves, that of a column enters.
    fn pivot(&mut self, row: usize, column: usize) {
        let columns = self.other.len();
        let (before, rest) = self.table.split_at_mut(row * columns);
        let (own, after) = rest.split_at_mut(columns);
        let pivot = own[column];
        own.iter_mut().for_each(|entry| *entry /= pivot);
        own[column] = 1.0 / pivot;
        self.constant[row] /= pivot;
        let constant = self.constant[row];
        let others = before.chunks_exact_mut(columns).enumerate();
        let others = others.chain(after.chunks_exact_mut(columns).enumerate().map(|(i, of)| (row + 1 + i, of)));
        for (i, entries) in others {
            let factor = entries[column];
            if factor != 0.0 {
                entries.iter_mut().zip(&*own).for_each(|(entry, own)| *entry -= factor * own);
                entries[column] = -factor / pivot;
                self.constant[i] -= factor * constant;
            }
        }
        let factor = self.rate[column];
        self.rate.iter_mut().zip(&*own).for_each(|(rate, own)| *rate -= factor * own);
        self.rate[column] = -factor / pivot;
        std::mem::swap(&mut self.basic[row], &mut self.other[column]);
        self.pivots += 1;
    }
}
