//! Bars: all pieces from as little stock as possible, through the library's front door.

use flitchwork::nesting::{Item, Kind, Limits, Problem, Product, Shape, StickStock, Stock, solve, stick};

use super::data::Bar;
use super::report::Answer;

/// Micro-units a unit of published cost.
pub const UNIT: i64 = 1_000_000;

/// Cheapest choice of bars, each length unlimited in number.
///
/// # Errors
/// Layouts that are not lawful or do not make what is asked.
pub fn cheapest(stock: &[Bar], widths: &[i64], demands: &[u32], limits: &Limits) -> Result<Answer, String> {
    let problem = problem(stock, widths, demands);
    let outcome = solve(&problem, limits);
    let mut made = vec![0; demands.len()];
    let mut cost = 0;
    for layout in &outcome.layouts {
        let class = &problem.stock[layout.stock];
        let (Kind::Stick(of), Shape::Stick(cuts)) = (&class.kind, &layout.shape) else { return Err("no stick".into()) };
        stick::verify(class, cuts)?;
        cuts.pieces.iter().for_each(|&(_, piece)| made[of.pieces[piece].0] += 1);
        cost += class.cost;
    }
    if made != demands || cost != outcome.cost {
        return Err(format!("made {made:?} of {demands:?} at {cost}, said {}", outcome.cost));
    }
    Ok(Answer::least(cost / UNIT, outcome.bound.div_euclid(UNIT) + i64::from(outcome.bound.rem_euclid(UNIT) > 0)))
}

fn problem(stock: &[Bar], widths: &[i64], demands: &[u32]) -> Problem {
    let pieces: Vec<(usize, i64)> = widths.iter().copied().enumerate().collect();
    let bar = |bar: &Bar| Stock {
        count: demands.iter().sum(),
        cost: bar.cost * UNIT,
        credit: None,
        kind: Kind::Stick(StickStock { length: bar.length, trim: 0, kerf: 0, pieces: pieces.clone() }),
        together: vec![],
        wider: None,
    };
    let item = |(product, (&length, &demand)): (usize, (&i64, &u32))| Item::alone(product, demand, length, 1);
    Problem {
        items: widths.iter().zip(demands).enumerate().map(item).collect(),
        products: demands.iter().map(|&copies| Product { copies, finished: 1, priority: 0, value: 1 }).collect(),
        stock: stock.iter().map(bar).collect(),
    }
}
