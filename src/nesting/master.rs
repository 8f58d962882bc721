//! The restricted master problem of column generation, as a linear programme.
//!
//! Rows: one covering row an item, one convexity row a class of stock. Columns: layouts, and one escape column an item,
//! so that the programme is always feasible and prices stay below a cap. Solved by an interior-point library; its answer
//! guides the search only: prices are rounded to integers and every bound is computed from those afresh, so a slow or
//! failing solver costs quality, never truth.

use std::hash::{Hash, Hasher};
use std::sync::Arc;

use clarabel::algebra::CscMatrix;
use clarabel::solver::{
    DefaultSettingsBuilder, DefaultSolver, IPSolver, NonnegativeConeT, SolverStatus, SupportedConeT,
};

use super::engine::Found;
use super::layout::{Shape, StickLayout};
use super::problem::Problem;
use super::solution::Placed;

/// A layout as the master sees it. Two layouts of one class that yield the same for the same are one column.
#[derive(Clone, Debug)]
pub struct Column {
    pub stock: usize,
    /// (item, pieces), ascending.
    pub counts: Vec<(usize, u32)>,
    /// Cost less credit, micro-units.
    pub net: i64,
    /// The cuts.
    pub shape: Arc<Shape>,
}

impl PartialEq for Column {
    fn eq(&self, other: &Column) -> bool {
        (self.stock, self.net, &self.counts) == (other.stock, other.net, &other.counts)
    }
}

impl Eq for Column {}

impl Hash for Column {
    fn hash<H: Hasher>(&self, state: &mut H) {
        (self.stock, self.net, &self.counts).hash(state);
    }
}

impl From<&Placed> for Column {
    fn from(placed: &Placed) -> Column {
        Column {
            stock: placed.stock,
            counts: placed.counts.clone(),
            net: placed.net,
            shape: Arc::new(placed.shape.clone()),
        }
    }
}

impl From<&Column> for Placed {
    fn from(column: &Column) -> Placed {
        Placed { stock: column.stock, shape: (*column.shape).clone(), counts: column.counts.clone(), net: column.net }
    }
}

impl Column {
    /// The column of a layout found for a piece of class `stock`; `None` when nothing was found for it.
    pub fn new(problem: &Problem, stock: usize, found: Found) -> Option<Column> {
        let net = problem.stock[stock].cost - found.credit;
        found.shape.map(|shape| Column { stock, counts: found.counts, net, shape: Arc::new(shape) })
    }

    /// Pieces that are given for a price from a stock of their own, without cuts.
    pub fn given(stock: usize, counts: Vec<(usize, u32)>, net: i64) -> Column {
        Column { stock, counts, net, shape: Arc::new(Shape::Stick(StickLayout::default())) }
    }

    /// What its pieces are worth at `prices`.
    pub fn worth(&self, prices: &[i64]) -> i64 {
        self.counts.iter().map(|&(i, n)| prices[i].saturating_mul(i64::from(n))).sum()
    }

    /// What it costs more than its pieces are worth at `prices`.
    pub fn reduced_cost(&self, prices: &[i64]) -> i64 {
        self.net - self.worth(prices)
    }

    /// True when it makes no more of anything than `limits`.
    pub fn within(&self, limits: &[u32]) -> bool {
        self.counts.iter().all(|&(i, n)| n <= limits[i])
    }
}

/// What the linear programme says.
#[derive(Clone, Debug)]
pub struct Relaxed {
    /// Price of each item, micro-units, not negative.
    pub prices: Vec<i64>,
    /// What one more piece of each class of stock would save, micro-units, not negative.
    pub rents: Vec<i64>,
    /// Share of each column taken.
    pub taken: Vec<f64>,
    /// Cost of the relaxed answer, micro-units, escapes included; as near as the solver comes.
    pub value: f64,
}

/// Pieces of stock as the master takes them.
pub fn pieces(left: &[u32]) -> Vec<f64> {
    left.iter().map(|&n| f64::from(n)).collect()
}

/// Micro-units in a unit of money, the scale that solvers work in.
pub const UNIT: f64 = 1e6;

/// Solves the master over `columns` for `target` pieces of each item from `left` pieces of each class of stock, which may be
/// parts of pieces; `caps` are the prices of the escape columns. `None` when the solver does not bring a usable answer.
pub fn relax(target: &[u32], left: &[f64], columns: &[Column], caps: &[i64]) -> Option<Relaxed> {
    let items = target.len();
    let classes = left.len();
    let variables = columns.len() + items;
    let rows = items + classes + variables;
    let (mut row_of, mut column_of, mut values) = (Vec::new(), Vec::new(), Vec::new());
    let mut entry = |row: usize, column: usize, value: f64| {
        row_of.push(row);
        column_of.push(column);
        values.push(value);
    };
    // Solver's form: A x + s = b, s >= 0.
    for (j, column) in columns.iter().enumerate() {
        for &(i, n) in &column.counts {
            entry(i, j, -f64::from(n));
        }
        entry(items + column.stock, j, 1.0);
        entry(items + classes + j, j, -1.0);
    }
    for i in 0..items {
        let j = columns.len() + i;
        entry(i, j, -1.0);
        entry(items + classes + j, j, -1.0);
    }
    let a = CscMatrix::new_from_triplets(rows, variables, row_of, column_of, values);
    let p = CscMatrix::zeros((variables, variables));
    let q: Vec<f64> =
        columns.iter().map(|c| c.net as f64 / UNIT).chain(caps.iter().map(|&c| c as f64 / UNIT)).collect();
    let mut b: Vec<f64> = target.iter().map(|&d| -f64::from(d)).collect();
    b.extend(left);
    b.resize(rows, 0.0);
    let cones: Vec<SupportedConeT<f64>> = vec![NonnegativeConeT(rows)];
    let settings = DefaultSettingsBuilder::default().verbose(false).max_threads(1).build().ok()?;
    let mut solver = DefaultSolver::new(&p, &q, &a, &b, &cones, settings).ok()?;
    solver.solve();
    let usable = matches!(solver.solution.status, SolverStatus::Solved | SolverStatus::AlmostSolved);
    if !usable {
        return None;
    }
    let micro = |dual: f64| (dual.max(0.0) * UNIT).round() as i64;
    Some(Relaxed {
        prices: solver.solution.z[..items].iter().map(|&z| micro(z)).collect(),
        rents: solver.solution.z[items..items + classes].iter().map(|&z| micro(z)).collect(),
        taken: solver.solution.x[..columns.len()].to_vec(),
        value: solver.solution.obj_val * UNIT,
    })
}
