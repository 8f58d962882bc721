//! Tiny problems whose optimum a general mixed-integer solver finds: the same optimum, proven.
//!
//! `tests/data/mip/cases.json` holds sticks of several sizes and prices, sheets and boards with defects, and the optimum of
//! each by HiGHS over enumerated sets of parts; its README says how it is made. Hundreds of jobs from sticks are made up here, from
//! fixed seeds, and solved by microlp through good_lp, which know nothing of cutting, as the plain model of assignment (Kantorovich 1939, in
//! English 1960): y_b says whether stick b is cut, x_pb how many pieces of part p it gives,
//!
//!   min sum_b c_b y_b,   sum_p (l_p + kerf) x_pb <= (L_b - 2 trim + kerf) y_b,   sum_b x_pb >= d_p,   x whole, y of 0 or 1.
//!
//! Costs are whole units of currency, so that no tolerance of a proof hides a difference, and a bound less than a unit below the
//! optimum proves it.

use flitchwork::nesting::{
    BoardStock, Cutting, Item, Kerfs, Kind, Limits, Outcome, Problem, Product, Rect, SectionClass, SheetPiece,
    SheetStock, StickStock, Stock, StripKind, solve,
};
use good_lp::{Expression, ResolutionError, Solution, SolverModel, default_solver, variable, variables};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde::Deserialize;

/// Micro-units in a unit of currency.
const UNIT: i64 = 1_000_000;
/// Work on one case at the most.
const WORK: u64 = 60_000;
/// Jobs from sticks that are made up.
const MADE_UP: u64 = 400;

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
    /// Cost of the cheapest stock that gives everything; `None` when all of it does not.
    optimum: Option<i64>,
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
    let limits = Limits { work: Some(WORK), ..Limits::default() };
    solve(problem, &limits)
}

/// A job from sticks, with its optimum by the model of assignment.
fn made_up(seed: u64) -> Case {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut part =
        || Part { length: rng.random_range(8..=60), width: one(), demand: rng.random_range(1..=4), turns: false };
    let parts: Vec<Part> = (0..1 + seed % 4).map(|_| part()).collect();
    let mut piece = || Piece {
        length: rng.random_range(50..=140),
        width: one(),
        count: 1,
        cost: rng.random_range(3..=20),
        defects: vec![],
    };
    let stock: Vec<Piece> = (0..2 + seed % 5).map(|_| piece()).collect();
    let (kerf, trim) = (rng.random_range(0..=3), rng.random_range(0..=2));
    let mut case = Case { kind: "sticks".to_owned(), kerf, trim, stages: 0, parts, stock, optimum: None };
    case.optimum = assigned(&case);
    case
}

/// The optimum of a job from single sticks by the model of assignment.
fn assigned(case: &Case) -> Option<i64> {
    let mut all = variables!();
    let cut = all.add_vector(variable().binary(), case.stock.len());
    let of_part = |part: &Part| variable().integer().min(0).max(part.demand);
    let pieces: Vec<Vec<_>> = case.parts.iter().map(|p| all.add_vector(of_part(p), case.stock.len())).collect();
    let cost: Expression = cut.iter().zip(&case.stock).map(|(&cut, stick)| stick.cost as f64 * cut).sum();
    let mut model = all.minimise(cost).using(default_solver);
    for (b, stick) in case.stock.iter().enumerate() {
        let taken = case.parts.iter().zip(&pieces).map(|(part, of_part)| (part.length + case.kerf) as f64 * of_part[b]);
        let room = (stick.length - 2 * case.trim + case.kerf) as f64;
        model.add_constraint((taken.sum::<Expression>() - room * cut[b]).leq(0));
    }
    for (part, of_part) in case.parts.iter().zip(&pieces) {
        model.add_constraint(of_part.iter().sum::<Expression>().geq(f64::from(part.demand)));
    }
    match model.solve() {
        Ok(found) => {
            Some(cut.iter().zip(&case.stock).map(|(&cut, stick)| found.value(cut).round() as i64 * stick.cost).sum())
        }
        Err(ResolutionError::Infeasible) => None,
        Err(other) => panic!("the solver failed: {other}"),
    }
}

/// What is wrong with our answer to a case, if anything.
fn fault(case: &Case) -> Option<String> {
    let outcome = solved(&problem(case));
    let whole = case.parts.iter().map(|part| part.demand).eq(outcome.made.iter().copied());
    let (cost, bound, why) = (outcome.cost, outcome.bound, outcome.why);
    let Some(optimum) = case.optimum.map(|optimum| optimum * UNIT) else {
        let proven = outcome.shortage_proven.contains(&true);
        return (whole || !proven).then(|| format!("made {:?} of what cannot be made; {why:?}", outcome.made));
    };
    // All costs are whole units: nothing lies between a bound less than one below and the optimum.
    let proven = bound > optimum - UNIT && bound <= optimum;
    let right = whole && cost == optimum && proven;
    (!right).then(|| format!("{}: {cost} with bound {bound} where {optimum} is best; {why:?}", case.kind))
}

fn faults(cases: &[Case]) -> Vec<String> {
    let faults = cases.iter().enumerate().filter_map(|(number, case)| Some((number, fault(case)?)));
    faults.map(|(number, fault)| format!("{number}: {fault}")).collect()
}

#[test]
fn the_optimum_of_a_general_solver_is_found_and_proven() {
    let text = include_str!("data/mip/cases.json");
    let cases = serde_json::from_str::<Cases>(text).expect("the file is well formed").cases;
    assert!(cases.len() >= 20 && cases.iter().all(|case| case.optimum.is_some()));
    let wrong = faults(&cases);
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn jobs_from_sticks_cost_what_a_general_solver_says_and_what_it_calls_impossible_lacks_pieces() {
    let cases: Vec<Case> = (0..MADE_UP).map(made_up).collect();
    let possible = cases.iter().filter(|case| case.optimum.is_some()).count();
    assert!(possible >= 200 && cases.len() - possible >= 40, "{possible} possible");
    let wrong = faults(&cases);
    assert!(wrong.is_empty(), "{wrong:#?}");
}
