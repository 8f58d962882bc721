//! Published bars against the optimiser: where a value is proved optimal, ours is the same, and proven.
//!
//! The data name their sources. The whole sets are run by `benches/published`.

use flitchwork::nesting::{Item, Kind, Limits, Outcome, Problem, Product, Shape, StickStock, Stock, Why, solve, stick};
use serde::Deserialize;

/// Micro-units a unit of published cost.
const UNIT: i64 = 1_000_000;

#[derive(Deserialize)]
struct Set {
    source: String,
    instances: Vec<Instance>,
}

#[derive(Deserialize)]
struct Instance {
    name: String,
    stock: Vec<Bar>,
    widths: Vec<i64>,
    demands: Vec<u32>,
    optimum: i64,
    source: String,
}

#[derive(Deserialize)]
struct Bar {
    length: i64,
    cost: i64,
}

fn instances() -> Vec<Instance> {
    let set: Set = serde_json::from_str(include_str!("data/sticks/bars.json")).expect("the data are well formed");
    assert!(!set.source.is_empty() && set.instances.len() > 30);
    set.instances
}

impl Instance {
    /// The instance with bars and pieces shortened by `kerf` and bars lengthened by `trim` at each end: by the kerf identity
    /// the same question.
    fn problem(&self, kerf: i64, trim: i64) -> Problem {
        let pieces: Vec<(usize, i64)> = self.widths.iter().map(|w| w - kerf).enumerate().collect();
        let bar = |bar: &Bar| Stock {
            count: self.demands.iter().sum(),
            cost: bar.cost * UNIT,
            credit: None,
            kind: Kind::Stick(StickStock { length: bar.length - kerf + 2 * trim, trim, kerf, pieces: pieces.clone() }),
            together: vec![],
            wider: None,
        };
        let items = self.widths.iter().zip(&self.demands).enumerate();
        Problem {
            items: items.map(|(product, (&length, &demand))| Item::alone(product, demand, length, 1)).collect(),
            products: self
                .demands
                .iter()
                .map(|&copies| Product { copies, finished: 1, priority: 0, value: 1 })
                .collect(),
            stock: self.stock.iter().map(bar).collect(),
        }
    }
}

fn solved(problem: &Problem, work: u64, threads: usize) -> Outcome {
    solve(problem, &Limits { work: Some(work), seed: 3, threads, ..Limits::default() })
}

/// Cost of the layouts, each lawful, together making just what is asked.
fn cost_of(problem: &Problem, outcome: &Outcome, name: &str) -> i64 {
    let mut made = vec![0; problem.items.len()];
    let mut used = vec![0; problem.stock.len()];
    for layout in &outcome.layouts {
        let stock = &problem.stock[layout.stock];
        let (Kind::Stick(of), Shape::Stick(cuts)) = (&stock.kind, &layout.shape) else { panic!("{name}: no stick") };
        assert_eq!(stick::verify(stock, cuts), Ok(()), "{name}");
        cuts.pieces.iter().for_each(|&(_, piece)| made[of.pieces[piece].0] += 1);
        used[layout.stock] += 1;
    }
    let demands: Vec<u32> = problem.items.iter().map(|item| item.demand).collect();
    assert_eq!(made, demands, "{name}");
    used.iter().zip(&problem.stock).map(|(n, stock)| n * stock.cost).sum()
}

#[test]
fn bars_reach_their_published_optimum_and_prove_it() {
    for instance in instances() {
        let problem = instance.problem(0, 0);
        let outcome = solved(&problem, 20_000, 1);
        let case = format!("{} ({})", instance.name, instance.source);
        let cost = cost_of(&problem, &outcome, &case);
        assert_eq!((cost, outcome.cost), (instance.optimum * UNIT, cost), "{case}");
        assert_eq!((outcome.bound, outcome.why), (cost, Why::Proven), "{case}");
    }
}

/// Kerf k on (L, l) is kerf 0 on (L + k, l + k), and a trim is taken off both ends: the published value holds.
#[test]
fn kerf_and_trim_change_nothing_when_bars_and_pieces_make_up_for_them() {
    for instance in instances().iter().filter(|i| i.widths.iter().all(|w| *w > 3)).take(12) {
        let problem = instance.problem(3, 40);
        let outcome = solved(&problem, 20_000, 1);
        assert_eq!(cost_of(&problem, &outcome, &instance.name), instance.optimum * UNIT, "{}", instance.name);
        assert_eq!(outcome.bound, outcome.cost, "{}", instance.name);
    }
}

#[test]
fn one_and_two_threads_give_the_same_layouts() {
    for instance in instances().iter().step_by(7) {
        let problem = instance.problem(0, 0);
        let (one, two) = (solved(&problem, 300, 1), solved(&problem, 300, 2));
        assert_eq!((one.layouts, one.bound, one.work), (two.layouts, two.bound, two.work), "{}", instance.name);
    }
}
