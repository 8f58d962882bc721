//! A small primal simplex for master programmes that are solved again and again: cover the demand by layouts, at least cost.
//!
//! Revised, with an explicit inverse of the basis (Dantzig's rule; demands shifted by tiny unequal amounts against
//! stalling, Charnes 1952). A library's programme would do; none at hand keeps its basis while columns are added or costs
//! change, and a search solves programmes that differ by so little thousands of times. What it says guides
//! the search only: bounds are taken from its prices, rounded, in integers.

/// Reduced costs above this do not enter; costs are scaled to about one.
const ENTERING: f64 = -1e-9;
/// Smallest pivot.
const PIVOT: f64 = 1e-8;
/// Pivots from one fresh inverse to the next.
const REFRESH: usize = 1000;
/// What a demand is shifted by at most.
const SHIFT: f64 = 1e-6;

/// A column is taken when its share is above this, well above the shifts.
const TAKEN: f64 = 1e-4;

/// A row: at least `count` where what is lacking may be bought at `escape`, else at most `count`.
pub(in crate::nesting) struct Row {
    pub count: u32,
    pub escape: Option<f64>,
}

/// Where a programme stands: goes with the columns and costs it was taken at.
pub(in crate::nesting) struct Basis {
    basis: Vec<usize>,
    inverse: Vec<f64>,
    x: Vec<f64>,
    duals: Vec<f64>,
    pivots: usize,
}

/// The programme and its basis. The first columns are the rows' own: escape or slack, one a row, then surplus.
pub(in crate::nesting) struct Simplex {
    rows: usize,
    /// Entries of column j: `entries[starts[j]..starts[j + 1]]`.
    starts: Vec<usize>,
    entries: Vec<(u32, f64)>,
    cost: Vec<f64>,
    basic: Vec<bool>,
    /// Column of each row's basic variable.
    basis: Vec<usize>,
    inverse: Vec<f64>,
    rhs: Vec<f64>,
    x: Vec<f64>,
    pub duals: Vec<f64>,
    /// Since the inverse was last fresh.
    pivots: usize,
    /// Since they were last asked for.
    counted: u64,
    alpha: Vec<f64>,
}

impl Simplex {
    /// An empty programme with these rows.
    pub fn new(rows: &[Row]) -> Simplex {
        let n = rows.len();
        let shift = |row: usize| SHIFT * (0.1 + (row as f64 * 0.618_033_988_7).fract());
        let rhs: Vec<f64> = rows.iter().enumerate().map(|(row, of)| f64::from(of.count) + shift(row)).collect();
        let mut simplex = Simplex {
            rows: n,
            starts: vec![0],
            entries: Vec::new(),
            cost: Vec::new(),
            basic: Vec::new(),
            basis: (0..n).collect(),
            inverse: vec![0.0; n * n],
            x: rhs.clone(),
            rhs,
            duals: vec![0.0; n],
            pivots: 0,
            counted: 0,
            alpha: vec![0.0; n],
        };
        for (row, of) in rows.iter().enumerate() {
            let escape = of.escape.unwrap_or(0.0);
            simplex.add(escape, &[(row as u32, 1.0)]);
            simplex.inverse[row * n + row] = 1.0;
            simplex.basic[row] = true;
            simplex.duals[row] = escape;
        }
        for (row, _) in rows.iter().enumerate().filter(|(_, of)| of.escape.is_some()) {
            simplex.add(0.0, &[(row as u32, -1.0)]);
        }
        simplex
    }

    /// Adds a column and returns its index.
    pub fn add(&mut self, cost: f64, entries: &[(u32, f64)]) -> usize {
        self.entries.extend_from_slice(entries);
        self.starts.push(self.entries.len());
        self.cost.push(cost);
        self.basic.push(false);
        self.cost.len() - 1
    }

    /// Changes what a column costs; the duals are those of before until [`Simplex::reprice`].
    pub fn set_cost(&mut self, column: usize, cost: f64) {
        self.cost[column] = cost;
    }

    /// Duals from the costs as they are.
    pub fn reprice(&mut self) {
        let n = self.rows;
        self.duals.fill(0.0);
        for (at, &j) in self.basis.iter().enumerate() {
            let (cost, of) = (self.cost[j], &self.inverse[at * n..(at + 1) * n]);
            self.duals.iter_mut().zip(of).for_each(|(dual, entry)| *dual += cost * entry);
        }
    }

    /// Where it stands, to come back to.
    pub fn stand(&self) -> Basis {
        Basis {
            basis: self.basis.clone(),
            inverse: self.inverse.clone(),
            x: self.x.clone(),
            duals: self.duals.clone(),
            pivots: self.pivots,
        }
    }

    /// Back to where it stood, at the costs of then.
    pub fn back_to(&mut self, stand: &Basis) {
        self.basis.iter().for_each(|&j| self.basic[j] = false);
        stand.basis.iter().for_each(|&j| self.basic[j] = true);
        self.basis.clone_from(&stand.basis);
        self.inverse.clone_from(&stand.inverse);
        self.x.clone_from(&stand.x);
        self.duals.clone_from(&stand.duals);
        self.pivots = stand.pivots;
    }

    /// Pivots since this was last asked for.
    pub fn take_count(&mut self) -> u64 {
        std::mem::take(&mut self.counted)
    }

    /// Number of columns so far.
    pub fn columns(&self) -> usize {
        self.cost.len()
    }

    fn column(&self, j: usize) -> &[(u32, f64)] {
        &self.entries[self.starts[j]..self.starts[j + 1]]
    }

    fn reduced(&self, j: usize) -> f64 {
        self.cost[j] - self.column(j).iter().map(|&(row, a)| a * self.duals[row as usize]).sum::<f64>()
    }

    /// Pivots to the optimum of the columns at hand; false when it gave up (the answer is then only feasible).
    pub fn optimise(&mut self) -> bool {
        for _ in 0..20 * self.rows + 1000 {
            let mut entering = (ENTERING, usize::MAX);
            for j in 0..self.cost.len() {
                if !self.basic[j] {
                    let reduced = self.reduced(j);
                    if reduced < entering.0 {
                        entering = (reduced, j);
                    }
                }
            }
            if entering.1 == usize::MAX {
                return true;
            }
            if !self.pivot(entering.1, entering.0) {
                return false;
            }
        }
        false
    }

    fn pivot(&mut self, j: usize, reduced: f64) -> bool {
        let n = self.rows;
        for row in 0..n {
            let inverse = &self.inverse[row * n..(row + 1) * n];
            self.alpha[row] = self.column(j).iter().map(|&(r, a)| a * inverse[r as usize]).sum();
        }
        let mut leaving = (f64::INFINITY, usize::MAX);
        for row in 0..n {
            if self.alpha[row] > PIVOT {
                let ratio = self.x[row].max(0.0) / self.alpha[row];
                if ratio < leaving.0 {
                    leaving = (ratio, row);
                }
            }
        }
        let (step, row) = leaving;
        if row == usize::MAX {
            return false;
        }
        let pivot = self.alpha[row];
        let old: Vec<f64> = self.inverse[row * n..(row + 1) * n].to_vec();
        for (dual, of) in self.duals.iter_mut().zip(&old) {
            *dual += reduced / pivot * of;
        }
        for other in 0..n {
            let factor = self.alpha[other] / pivot;
            if other != row && factor != 0.0 {
                self.x[other] -= self.alpha[other] * step;
                for (entry, of) in self.inverse[other * n..(other + 1) * n].iter_mut().zip(&old) {
                    *entry -= factor * of;
                }
            }
        }
        for (entry, of) in self.inverse[row * n..(row + 1) * n].iter_mut().zip(&old) {
            *entry = of / pivot;
        }
        self.x[row] = step;
        self.basic[self.basis[row]] = false;
        self.basic[j] = true;
        self.basis[row] = j;
        self.pivots += 1;
        self.counted += 1;
        self.pivots < REFRESH || self.refresh()
    }

    /// The inverse afresh, by elimination with row exchanges; false when the basis is singular to working accuracy.
    fn refresh(&mut self) -> bool {
        let n = self.rows;
        self.pivots = 0;
        let mut matrix = vec![0.0; n * n];
        for (at, &j) in self.basis.iter().enumerate() {
            for &(row, a) in self.column(j) {
                matrix[row as usize * n + at] = a;
            }
        }
        let mut inverse = vec![0.0; n * n];
        for row in 0..n {
            inverse[row * n + row] = 1.0;
        }
        for at in 0..n {
            let best = (at..n).max_by(|&a, &b| matrix[a * n + at].abs().total_cmp(&matrix[b * n + at].abs()));
            let Some(best) = best.filter(|&row| matrix[row * n + at].abs() > 1e-11) else { return false };
            for k in 0..n {
                matrix.swap(at * n + k, best * n + k);
                inverse.swap(at * n + k, best * n + k);
            }
            let pivot = matrix[at * n + at];
            for k in 0..n {
                matrix[at * n + k] /= pivot;
                inverse[at * n + k] /= pivot;
            }
            for row in 0..n {
                let factor = matrix[row * n + at];
                if row != at && factor != 0.0 {
                    for k in 0..n {
                        matrix[row * n + k] -= factor * matrix[at * n + k];
                        inverse[row * n + k] -= factor * inverse[at * n + k];
                    }
                }
            }
        }
        self.inverse = inverse;
        for row in 0..n {
            let of = &self.inverse[row * n..(row + 1) * n];
            self.x[row] = of.iter().zip(&self.rhs).map(|(a, b)| a * b).sum();
        }
        self.reprice();
        true
    }

    /// Value of the answer.
    pub fn value(&self) -> f64 {
        self.basis.iter().zip(&self.x).map(|(&j, &x)| self.cost[j] * x).sum()
    }

    /// Columns taken, with how much of each.
    pub fn taken(&self) -> impl Iterator<Item = (usize, f64)> + '_ {
        self.basis.iter().zip(&self.x).filter(|&(_, &x)| x > TAKEN).map(|(&j, &x)| (j, x))
    }
}
