//! Plates: one filled with the most valuable pieces, several filled, or all pieces from as few as possible.

use std::time::{Duration, Instant};

use flitchwork::nesting::sheet::{fill, verify};
use flitchwork::nesting::{
    self, Direction, Item, Kerfs, Kind, Limits, Problem, Product, Shape, SheetPiece, SheetStock, Stock, solve,
};

use super::bars::UNIT;
use super::data;
use super::report::Answer;

/// How a plate may be cut.
#[derive(Clone, Copy)]
pub struct Manner {
    pub stages: u32,
    pub first: Option<Direction>,
    pub turns: bool,
    pub kerf: i64,
}

/// The plate as a class of stock.
pub fn stock(plate: &data::Plate, items: &[data::Item], manner: Manner, count: u32, cost: i64) -> Stock {
    let mut pieces = Vec::new();
    for (item, i) in items.iter().enumerate() {
        pieces.push(SheetPiece { item, length: i.w, width: i.h, turned: false });
        if manner.turns && i.w != i.h {
            pieces.push(SheetPiece { item, length: i.h, width: i.w, turned: true });
        }
    }
    let kerf = Kerfs { cross: manner.kerf, rip: manner.kerf };
    let Manner { stages, first, .. } = manner;
    let sheet = SheetStock { length: plate.w, width: plate.h, trim: 0, kerf, stages, first, pieces };
    Stock { count, cost, credit: None, kind: Kind::Sheet(sheet), together: vec![], wider: None }
}

/// The most valuable pieces of one plate, as many of each as fit.
pub fn fullest(stock: &Stock, items: &[data::Item], limits: &Limits) -> Result<Answer, String> {
    let values: Vec<i64> = items.iter().map(|i| i.value.unwrap_or(0)).collect();
    let found = nesting::fill::fill(stock, &values, None, limits);
    if let Some(Shape::Sheet(layout)) = &found.shape {
        verify(stock, layout)?;
    }
    Ok(Answer::most(found.value, found.upper))
}

/// The most valuable pieces of one plate, copies bounded.
pub fn filled(stock: &Stock, items: &[data::Item], limits: &Limits) -> Result<Answer, String> {
    let values: Vec<i64> = items.iter().map(|i| i.value.unwrap_or(i.w * i.h)).collect();
    let most: Vec<u32> = items.iter().map(|i| i.max.or(i.demand).unwrap_or(u32::MAX)).collect();
    let found = fill(stock, &values, &most, limits).ok_or("no sheet")?;
    verify(stock, &found.layout)?;
    Ok(Answer::most(found.value, found.upper))
}

/// Whether all pieces fit one plate: its fullest filling by area holds them all or is proven not to.
pub fn fits(stock: &Stock, items: &[data::Item], limits: &Limits) -> Result<Answer, String> {
    let all: i64 = items.iter().map(|i| i.w * i.h * i64::from(i.demand.unwrap_or(1))).sum();
    let found = filled(stock, items, limits)?;
    Ok(Answer::fits(found.value == Some(all), found.bound.is_some_and(|bound| bound < all)))
}

/// As few plates as possible for all pieces.
pub fn fewest(plate: &data::Plate, items: &[data::Item], manner: Manner, limits: &Limits) -> Result<Answer, String> {
    let demands: Vec<u32> = items.iter().map(|i| i.demand.unwrap_or(1)).collect();
    let problem = problem(stock(plate, items, manner, shelves(plate, items), UNIT), items, &demands, |_| 1);
    let outcome = solve(&problem, limits);
    let made = made(&problem, &outcome.layouts)?;
    if made != demands {
        return Ok(Answer::least(i64::MAX, 0));
    }
    let plates = outcome.layouts.len() as i64;
    if plates * UNIT != outcome.cost {
        return Err(format!("{plates} plates cost {}", outcome.cost));
    }
    Ok(Answer::least(plates, outcome.bound.div_euclid(UNIT) + i64::from(outcome.bound.rem_euclid(UNIT) > 0)))
}

/// The most valuable pieces of several equal plates. The optimiser proves cost, not value: the bound is one plate's,
/// taken as often as there are plates, and no more than all pieces are worth.
pub fn most_valuable(
    plate: &data::Plate,
    items: &[data::Item],
    manner: Manner,
    limits: &Limits,
    seconds: u64,
) -> Result<Answer, String> {
    let plates = plate.count.unwrap_or(1);
    let demands: Vec<u32> = items.iter().map(|i| i.max.unwrap_or(1)).collect();
    let value = |i: &data::Item| i.value.unwrap_or(0);
    let one = stock(plate, items, manner, plates, UNIT);
    let problem = problem(one.clone(), items, &demands, value);
    let outcome = solve(&problem, limits);
    let made = made(&problem, &outcome.layouts)?;
    let worth: i64 = items.iter().zip(&made).map(|(i, &n)| value(i) * i64::from(n)).sum();
    let all: i64 = items.iter().zip(&demands).map(|(i, &n)| value(i) * i64::from(n)).sum();
    let deadline = Some(Instant::now() + Duration::from_secs(seconds));
    let budget = Limits { deadline, seed: 0, ..Limits::default() };
    let bound = filled(&one, items, &budget)?.bound.unwrap_or(i64::MAX);
    Ok(Answer::most(worth, bound.saturating_mul(i64::from(plates)).min(all)))
}

fn problem(stock: Stock, items: &[data::Item], demands: &[u32], value: impl Fn(&data::Item) -> i64) -> Problem {
    let item = |(product, (i, &demand)): (usize, (&data::Item, &u32))| Item::alone(product, demand, i.w, i.h);
    let product = |(i, &copies): (&data::Item, &u32)| Product { copies, finished: 1, priority: 0, value: value(i) };
    Problem {
        items: items.iter().zip(demands).enumerate().map(item).collect(),
        products: items.iter().zip(demands).map(product).collect(),
        stock: vec![stock],
    }
}

/// Pieces that lawful layouts make, by item.
fn made(problem: &Problem, layouts: &[flitchwork::nesting::Layout]) -> Result<Vec<u32>, String> {
    use flitchwork::nesting::SheetNode;
    fn count(node: &SheetNode, sheet: &SheetStock, made: &mut [u32]) {
        match node {
            SheetNode::Piece { piece, .. } => made[sheet.pieces[*piece].item] += 1,
            SheetNode::Split { children, .. } => children.iter().for_each(|child| count(child, sheet, made)),
            SheetNode::Remnant { .. } => {}
        }
    }
    let mut made = vec![0; problem.items.len()];
    for layout in layouts {
        let class = &problem.stock[layout.stock];
        let (Kind::Sheet(sheet), Shape::Sheet(tree)) = (&class.kind, &layout.shape) else {
            return Err("no sheet".into());
        };
        verify(class, tree)?;
        count(tree, sheet, &mut made);
    }
    Ok(made)
}

/// Plates that a simple packing in shelves takes (next fit, tallest first): enough stock, without looking at the answer.
fn shelves(plate: &data::Plate, items: &[data::Item]) -> u32 {
    let mut pieces: Vec<(i64, i64)> =
        items.iter().flat_map(|i| std::iter::repeat_n((i.h, i.w), i.demand.unwrap_or(1) as usize)).collect();
    pieces.sort_unstable_by(|a, b| b.cmp(a));
    let (mut plates, mut x, mut y, mut shelf) = (1, 0, 0, 0);
    for (h, w) in pieces {
        if x + w > plate.w || shelf == 0 {
            (x, y, shelf) = (0, y + shelf, h);
        }
        if y + h > plate.h {
            plates += 1;
            (x, y, shelf) = (0, 0, h);
        }
        x += w;
    }
    plates
}
