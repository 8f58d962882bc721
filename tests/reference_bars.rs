//! Small jobs from bars of several sizes and prices, beside a mixed-integer programme of a general library: the same optimum, proven.
//!
//! The programme is the plain model of assignment (Kantorovich 1939, in English 1960): y_b says whether bar b is cut, x_pb how many
//! pieces of part p it gives,
//!
//!   min sum_b c_b y_b,   sum_p (l_p + kerf) x_pb <= (L_b - 2 trim + kerf) y_b,   sum_b x_pb >= d_p,   x whole, y of 0 or 1;
//!
//! good_lp states it and microlp solves it. It knows nothing of how flitchwork cuts. Costs are whole units of currency, so that no
//! tolerance hides a difference. The jobs are made up here, from fixed seeds.

use std::sync::atomic::AtomicBool;

use flitchwork::nesting::{Item, Kind, Limits, Outcome, Problem, Product, StickStock, Stock, solve};
use good_lp::{Expression, ResolutionError, Solution, SolverModel, default_solver, variable, variables};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Micro-units in a unit of currency.
const UNIT: i64 = 1_000_000;
/// Work on one case at the most.
const WORK: u64 = 60_000;
const CASES: u64 = 400;

/// Parts of a length and a number, bars of a length and a price, and what the saw takes.
struct Case {
    parts: Vec<(i64, u32)>,
    bars: Vec<(i64, i64)>,
    kerf: i64,
    trim: i64,
}

impl Case {
    fn new(seed: u64) -> Case {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let parts = (0..rng.random_range(1..=4)).map(|_| (rng.random_range(8..=60), rng.random_range(1..=4))).collect();
        let bars =
            (0..rng.random_range(2..=6)).map(|_| (rng.random_range(50..=140), rng.random_range(3..=20))).collect();
        Case { parts, bars, kerf: rng.random_range(0..=3), trim: rng.random_range(0..=2) }
    }

    /// What the cheapest bars that give everything cost; `None` when all bars together do not.
    fn optimum(&self) -> Option<i64> {
        let mut all = variables!();
        let cut = all.add_vector(variable().binary(), self.bars.len());
        let pieces: Vec<Vec<_>> = self
            .parts
            .iter()
            .map(|&(_, asked)| all.add_vector(variable().integer().min(0).max(asked), self.bars.len()))
            .collect();
        let cost: Expression = cut.iter().zip(&self.bars).map(|(&cut, bar)| bar.1 as f64 * cut).sum();
        let mut model = all.minimise(cost).using(default_solver);
        for (b, bar) in self.bars.iter().enumerate() {
            let taken = self.parts.iter().zip(&pieces).map(|(part, of_part)| (part.0 + self.kerf) as f64 * of_part[b]);
            let room = (bar.0 - 2 * self.trim + self.kerf) as f64;
            model.add_constraint((taken.sum::<Expression>() - room * cut[b]).leq(0));
        }
        for (part, of_part) in self.parts.iter().zip(&pieces) {
            model.add_constraint(of_part.iter().sum::<Expression>().geq(f64::from(part.1)));
        }
        match model.solve() {
            Ok(found) => {
                Some(cut.iter().zip(&self.bars).map(|(&cut, bar)| found.value(cut).round() as i64 * bar.1).sum())
            }
            Err(ResolutionError::Infeasible) => None,
            Err(other) => panic!("the solver failed: {other}"),
        }
    }

    fn problem(&self) -> Problem {
        let pieces: Vec<(usize, i64)> = self.parts.iter().enumerate().map(|(item, part)| (item, part.0)).collect();
        let bar = |&(length, cost): &(i64, i64)| Stock {
            count: 1,
            cost: cost * UNIT,
            credit: None,
            kind: Kind::Stick(StickStock { length, trim: self.trim, kerf: self.kerf, pieces: pieces.clone() }),
            together: vec![],
            wider: None,
        };
        let items = self.parts.iter().enumerate();
        let product = |&(length, copies): &(i64, u32)| Product { copies, finished: 1, priority: 0, value: length };
        Problem {
            items: items.map(|(product, &(length, demand))| Item::alone(product, demand, length, 1)).collect(),
            products: self.parts.iter().map(product).collect(),
            stock: self.bars.iter().map(bar).collect(),
        }
    }

    fn solved(&self) -> Outcome {
        let cancel = AtomicBool::new(false);
        let (work, progress) = (Some(WORK), &|_: &_| {});
        solve(
            &self.problem(),
            &Limits { deadline: None, work, gap: 0.0, seed: 1, threads: 1, cancel: &cancel, progress },
        )
    }
}

#[test]
fn bars_cost_what_a_general_solver_says_and_jobs_it_calls_impossible_lack_pieces() {
    let (mut possible, mut impossible) = (0, 0);
    for seed in 0..CASES {
        let case = Case::new(seed);
        let outcome = case.solved();
        let asked: Vec<u32> = case.parts.iter().map(|part| part.1).collect();
        match case.optimum() {
            Some(optimum) => {
                possible += 1;
                assert_eq!(outcome.made, asked, "case {seed}");
                assert_eq!(outcome.cost, optimum * UNIT, "case {seed}");
                // All costs are whole units: nothing lies between a bound less than one below and the optimum.
                let bound = outcome.bound;
                assert!(bound > (optimum - 1) * UNIT && bound <= optimum * UNIT, "case {seed}: bound {bound}");
            }
            None => {
                impossible += 1;
                assert_ne!(outcome.made, asked, "case {seed}");
                assert!(outcome.shortage_proven.contains(&true), "case {seed}: missing pieces are not proven missing");
            }
        }
    }
    assert!(possible >= 200 && impossible >= 40, "{possible} possible, {impossible} impossible");
}
