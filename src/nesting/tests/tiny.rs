//! Tiny problems of every kind, made from a seed: small enough to enumerate, odd enough to be telling.
//!
//! Boards with defects, requirement classes and resawn blanks, sheets of every number of stages, sticks; with and without
//! credit; kerfs and trims of zero and more. What a whole piece of stock earns is never more than it costs.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use crate::nesting::problem::{
    BoardStock, Credit, Cutting, Direction, Item, Kerfs, Kind, Problem, Product, Rect, SectionClass, SheetPiece,
    SheetStock, StickStock, Stock, StripKind, Together,
};

/// What kinds of stock a problem may have.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Of {
    Boards,
    Sheets,
    Sticks,
    All,
}

/// The problem of a seed.
pub fn tiny(seed: u64, of: Of) -> Problem {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let rng = &mut rng;
    let count = rng.random_range(1..=3usize);
    let products: Vec<Product> = (0..count)
        .map(|_| Product {
            finished: 1,
            copies: rng.random_range(1..=if count == 1 { 3 } else { 2 }),
            priority: rng.random_range(0..=1),
            value: rng.random_range(0..=9),
        })
        .collect();
    let mut items: Vec<Item> =
        products.iter().enumerate().map(|(product, p)| Item::alone(product, p.copies, 4, 2)).collect();
    // Now and then a copy takes two pieces of its kind, or a piece of another kind too.
    if let (1, Some(first)) = (rng.random_range(0..4), items.first_mut()) {
        first.per_copy = 2;
        first.demand *= 2;
    }
    if count < 3 && rng.random_range(0..3) == 0 {
        items.push(Item::alone(0, products[0].copies, 4, 2));
    }
    let stock = (0..rng.random_range(1..=3)).map(|_| stock(rng, items.len(), of)).collect();
    Problem { items, products, stock }
}

/// The same with the first product made once or twice, a copy of two pieces of its first kind and one of each other: all of
/// a copy from one piece of stock.
pub fn matched(seed: u64, of: Of) -> Problem {
    let mut problem = tiny(seed, of);
    let copies = 1 + (seed % 2) as u32;
    problem.products[0].copies = copies;
    let mut pieces = Vec::new();
    for (i, item) in problem.items.iter_mut().enumerate().filter(|(_, item)| item.product == 0) {
        item.per_copy = if pieces.is_empty() { 2 } else { 1 };
        item.demand = item.per_copy * copies;
        pieces.push((i, item.per_copy));
    }
    for stock in &mut problem.stock {
        stock.together.push(Together { pieces: pieces.clone(), whole: copies > 1 });
    }
    problem
}

fn stock(rng: &mut ChaCha8Rng, items: usize, of: Of) -> Stock {
    let kind = match of {
        Of::Boards => 0,
        Of::Sheets => 1,
        Of::Sticks => 2,
        Of::All => rng.random_range(0..3),
    };
    let (kind, area) = match kind {
        0 => board(rng, items),
        1 => sheet(rng, items),
        _ => stick(rng, items),
    };
    let cost = rng.random_range(1_000_000..30_000_000i64);
    let credit = (rng.random_range(0..3) > 0).then(|| {
        let rate_denominator = rng.random_range(1..=3i128);
        let percent = i128::from(rng.random_range(5..=100));
        let rate_numerator = i128::from(cost) * rate_denominator * percent / 100 / i128::from(area);
        Credit {
            rate_numerator,
            rate_denominator,
            min_length: rng.random_range(2..9),
            min_width: rng.random_range(1..5),
        }
    });
    // Now and then more than are branched on.
    let count = if rng.random_range(0..8) == 0 { 10 } else { rng.random_range(1..=2) };
    Stock { count, cost, credit, kind, together: vec![], wider: None }
}

fn rect(rng: &mut ChaCha8Rng, length: i64, width: i64) -> Rect {
    let (x0, y0) = (rng.random_range(0..length), rng.random_range(0..width));
    Rect { x0, x1: x0 + rng.random_range(1..5), y0, y1: y0 + rng.random_range(1..4) }
}

fn rects(rng: &mut ChaCha8Rng, length: i64, width: i64) -> Vec<Rect> {
    (0..rng.random_range(0..3)).map(|_| rect(rng, length, width)).collect()
}

fn board(rng: &mut ChaCha8Rng, items: usize) -> (Kind, i64) {
    let (length, width) = (rng.random_range(8..20), rng.random_range(3..7i64));
    let cuttings: Vec<Cutting> = (0..rng.random_range(1..=4)).map(|_| cutting(rng, items)).collect();
    let nested = rng.random::<bool>();
    let mut widths: Vec<i64> = cuttings.iter().map(|c| c.width).collect();
    widths.sort_unstable();
    widths.dedup();
    let holds = |width: i64, c: &Cutting| c.width == width || nested && c.width < width;
    let strips: Vec<StripKind> = widths
        .iter()
        .map(|&width| StripKind {
            width,
            cuttings: (0..cuttings.len()).filter(|&c| holds(width, &cuttings[c])).collect(),
        })
        .collect();
    let classes = (0..rng.random_range(1..=2))
        .map(|_| SectionClass {
            min_length: rng.random_range(0..6),
            max_length: rng.random_range(6..24),
            end_margin: rng.random_range(0..2),
            low: rng.random_range(0..2),
            high: rng.random_range(width - 1..=width),
            strips: strips.clone(),
        })
        .collect();
    let board = BoardStock {
        length,
        width,
        end_trim: rng.random_range(0..3),
        kerf_cross: rng.random_range(0..3),
        kerf_rip: rng.random_range(0..3),
        cuttings,
        blocked: vec![rects(rng, length, width), rects(rng, length, width)],
        classes,
        defects: rects(rng, length, width),
    };
    (Kind::Board(board), length * width)
}

fn cutting(rng: &mut ChaCha8Rng, items: usize) -> Cutting {
    let (length, width) = (rng.random_range(2..8i64), rng.random_range(1..4i64));
    let net_dx = rng.random_range(0..2).min((length - 1) / 2);
    let net_dy = rng.random_range(0..2).min((width - 1) / 2);
    let item = rng.random_range(0..items);
    let yields = match rng.random_range(0..6) {
        0 => vec![(item, 2)],
        1 if items > 1 => {
            let other = (item + 1) % items;
            vec![(item.min(other), 1), (item.max(other), 1)]
        }
        _ => vec![(item, 1)],
    };
    let (net_length, net_width) = (length - 2 * net_dx, width - 2 * net_dy);
    Cutting { length, width, net_dx, net_dy, net_length, net_width, blocked: rng.random_range(0..2), yields }
}

fn sheet(rng: &mut ChaCha8Rng, items: usize) -> (Kind, i64) {
    let (length, width) = (rng.random_range(5..12), rng.random_range(5..11));
    let mut pieces = Vec::new();
    for item in 0..items {
        let (l, w) = (rng.random_range(1..6), rng.random_range(1..6));
        pieces.push(SheetPiece { item, length: l, width: w, turned: false });
        if rng.random::<bool>() {
            pieces.push(SheetPiece { item, length: w, width: l, turned: true });
        }
    }
    let sheet = SheetStock {
        length,
        width,
        trim: rng.random_range(0..3),
        kerf: Kerfs { cross: rng.random_range(0..3), rip: rng.random_range(0..3) },
        stages: rng.random_range(0..5),
        first: [None, None, Some(Direction::Cross), Some(Direction::Rip)][rng.random_range(0..4)],
        pieces,
    };
    (Kind::Sheet(sheet), length * width)
}

fn stick(rng: &mut ChaCha8Rng, items: usize) -> (Kind, i64) {
    let length = rng.random_range(8..24);
    let trim = rng.random_range(0..3);
    let kerf = rng.random_range(0..3);
    let pieces = (0..items).map(|item| (item, rng.random_range(2..9))).collect();
    (Kind::Stick(StickStock { length, trim, kerf, pieces }), length)
}
