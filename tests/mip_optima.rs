//! Tiny problems whose optimum a general mixed-integer solver found: the same optimum, proven.
//!
//! `tests/data/mip/cases.json` holds sticks of several sizes and prices, sheets and boards with defects, and the optimum of
//! each by HiGHS over enumerated sets of parts; its README says how it is made. Costs are whole units of currency, so that
//! no tolerance of a proof hides a difference, and a bound less than a unit below the optimum proves it.

use std::sync::atomic::AtomicBool;

use flitchwork::nesting::{
    BoardStock, Cutting, Item, Kerfs, Kind, Limits, Outcome, Problem, Product, Rect, SectionClass, SheetPiece,
    SheetStock, StickStock, Stock, StripKind, solve,
};
use serde::Deserialize;

/// Micro-units in a unit of currency.
const UNIT: i64 = 1_000_000;
/// Work on one case at the most.
const WORK: u64 = 60_000;

#[derive(Deserialize)]
struct Cases {
    cases: Vec<Case>,
}

#[derive(Deserialize)]
struct Case {
    kind: String,
    kerf: i64,
    trim: i64,
    #[serde(default)]
    stages: u32,
    parts: Vec<Part>,
    stock: Vec<Piece>,
    optimum: i64,
}

#[derive(Deserialize)]
struct Part {
    length: i64,
    #[serde(default = "one")]
    width: i64,
    demand: u32,
    #[serde(default)]
    turns: bool,
}

#[derive(Deserialize)]
struct Piece {
    length: i64,
    #[serde(default = "one")]
    width: i64,
    count: u32,
    cost: i64,
    #[serde(default)]
    defects: Vec<[i64; 4]>,
}

fn one() -> i64 {
    1
}

fn stick(case: &Case, piece: &Piece) -> Kind {
    let pieces = case.parts.iter().enumerate().map(|(item, part)| (item, part.length)).collect();
    Kind::Stick(StickStock { length: piece.length, trim: case.trim, kerf: case.kerf, pieces })
}

fn sheet(case: &Case, piece: &Piece) -> Kind {
    let mut pieces = Vec::new();
    for (item, part) in case.parts.iter().enumerate() {
        pieces.push(SheetPiece { item, length: part.length, width: part.width, turned: false });
        if part.turns {
            pieces.push(SheetPiece { item, length: part.width, width: part.length, turned: true });
        }
    }
    Kind::Sheet(SheetStock {
        length: piece.length,
        width: piece.width,
        trim: case.trim,
        kerf: Kerfs { cross: case.kerf, rip: case.kerf },
        stages: case.stages,
        first: None,
        pieces,
    })
}

fn board(case: &Case, piece: &Piece) -> Kind {
    let cutting = |(item, part): (usize, &Part)| Cutting {
        length: part.length,
        width: part.width,
        net_dx: 0,
        net_dy: 0,
        net_length: part.length,
        net_width: part.width,
        blocked: 0,
        yields: vec![(item, 1)],
    };
    let cuttings: Vec<Cutting> = case.parts.iter().enumerate().map(cutting).collect();
    let mut widths: Vec<i64> = cuttings.iter().map(|cutting| cutting.width).collect();
    widths.sort_unstable();
    widths.dedup();
    let as_wide = |width: i64| (0..cuttings.len()).filter(|&c| cuttings[c].width == width).collect();
    let strips = widths.iter().map(|&width| StripKind { width, cuttings: as_wide(width) }).collect();
    let defects: Vec<Rect> = piece.defects.iter().map(|&[x0, x1, y0, y1]| Rect { x0, x1, y0, y1 }).collect();
    let (min_length, max_length, end_margin, low, high) = (0, piece.length, 0, 0, piece.width);
    Kind::Board(BoardStock {
        length: piece.length,
        width: piece.width,
        end_trim: case.trim,
        kerf_cross: case.kerf,
        kerf_rip: case.kerf,
        cuttings,
        blocked: vec![defects.clone()],
        classes: vec![SectionClass { min_length, max_length, end_margin, low, high, strips }],
        defects,
    })
}

fn problem(case: &Case) -> Problem {
    let kind = |piece: &Piece| match case.kind.as_str() {
        "sticks" => stick(case, piece),
        "sheets" => sheet(case, piece),
        "boards" => board(case, piece),
        other => panic!("no such kind of stock: {other}"),
    };
    let items = case.parts.iter().enumerate().map(|(product, part)| {
        let (length, width) = (part.length, part.width);
        Item::alone(product, part.demand, length, width)
    });
    let product =
        |part: &Part| Product { copies: part.demand, finished: 1, priority: 0, value: part.length * part.width };
    let stock = case.stock.iter().map(|piece| Stock {
        count: piece.count,
        cost: piece.cost * UNIT,
        credit: None,
        kind: kind(piece),
        together: vec![],
        wider: None,
    });
    Problem { items: items.collect(), products: case.parts.iter().map(product).collect(), stock: stock.collect() }
}

fn solved(problem: &Problem) -> Outcome {
    let cancel = AtomicBool::new(false);
    let limits =
        Limits { deadline: None, work: Some(WORK), gap: 0.0, seed: 1, threads: 1, cancel: &cancel, progress: &|_| {} };
    solve(problem, &limits)
}

#[test]
fn the_optimum_of_a_general_solver_is_found_and_proven() {
    let text = include_str!("data/mip/cases.json");
    let cases = serde_json::from_str::<Cases>(text).expect("the file is well formed").cases;
    assert!(cases.len() >= 20);
    let mut wrong = Vec::new();
    for (number, case) in cases.iter().enumerate() {
        let problem = problem(case);
        let outcome = solved(&problem);
        let demand: Vec<u32> = case.parts.iter().map(|part| part.demand).collect();
        let optimum = case.optimum * UNIT;
        assert!(outcome.bound <= optimum, "case {number}: bound {} above {optimum}", outcome.bound);
        assert!(outcome.made != demand || outcome.cost >= optimum, "case {number}: {} below {optimum}", outcome.cost);
        // All costs are whole units: nothing lies between a bound less than one below and the optimum.
        let proven = outcome.bound > optimum - UNIT;
        if outcome.made != demand || outcome.cost != optimum || !proven {
            let (cost, bound, why) = (outcome.cost, outcome.bound, outcome.why);
            wrong.push(format!("{number} ({}): {cost} with bound {bound} where {optimum} is best; {why:?}", case.kind));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}
