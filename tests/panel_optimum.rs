//! Small panels with known optima: the plan costs what an integer programme and what full enumeration say.
//!
//! The cases and the programme's optima are in `tests/data/panels`, with their source. The enumeration here knows nothing
//! of the optimiser: it tries every set of boards, every place of the plain parts, and every filling of the rest with
//! staves.

use std::collections::BTreeSet;
use std::sync::atomic::AtomicBool;

use flitchwork::measure::Money;
use flitchwork::plan::check::check;
use flitchwork::plan::{Options, ShopPlan, Status, make};
use flitchwork::{job, pile};
use serde_json::{Value, json};

/// Sixty-fourths of an inch: every figure of the cases is a whole number of them.
fn parts_of_64(value: &Value) -> i64 {
    let exact = value.as_f64().expect("a number") * 64.0;
    assert_eq!(exact.fract(), 0.0);
    exact as i64
}

const KERF: i64 = 8;
/// Trims at the two edges.
const EDGES: i64 = 8 + 16;
/// Both joints of a stave; a plain part has as much.
const ROUND: i64 = 8;

fn cases() -> Vec<Value> {
    let text = include_str!("data/panels/cases.json");
    let read: Value = serde_json::from_str(text).expect("the cases are JSON");
    read["cases"].as_array().expect("a list of cases").clone()
}

/// The job and the pile of a case as files.
fn files(case: &Value) -> (String, String) {
    let mut panel = json!({ "stave_min": case["stave_min"], "stave_max": case["stave_max"], "equal": case["equal"] });
    if !case["max_boards"].is_null() {
        panel["max_boards"] = case["max_boards"].clone();
    }
    let mut parts = vec![json!({ "id": "panel", "qty": case["copies"], "species": "cherry", "thickness": 0.75,
        "width": case["width"], "length": 20, "panel": panel })];
    for (i, part) in case["parts"].as_array().expect("parts").iter().enumerate() {
        parts.push(json!({ "id": format!("part {i}"), "qty": part["qty"], "species": "cherry", "thickness": 0.75,
            "width": part["width"], "length": 20.5 }));
    }
    let shop = json!({ "step": { "rip": case["step"] }, "trim": { "snipe": 0 }, "keep": { "credit": 0 } });
    let job = json!({ "format": "flitchwork.job/1", "units": "in", "shop": shop, "parts": parts });
    let boards = case["boards"].as_array().expect("boards").iter().enumerate().map(|(i, board)| {
        let bins = board["bins"].as_f64().expect("a count");
        json!({ "id": format!("B{i}"), "species": "cherry", "thickness": 1.25, "width": board["width"],
            "length": 2.0 + 21.0 * bins + 0.125 * (bins - 1.0) + 5.0, "cost": board["cost"] })
    });
    let pile = json!({ "format": "flitchwork.pile/1", "units": "in", "boards": boards.collect::<Vec<_>>() });
    (job.to_string(), pile.to_string())
}

fn planned(case: &Value) -> ShopPlan {
    let (job, pile) = files(case);
    let job = job::file::read_json("job.json", &job, None).expect("a good job");
    let pile = pile::file::read_json("pile.json", &pile).expect("a good pile");
    let options = Options { seconds: None, work: Some(3000), ..Options::default() };
    let plan = make(&job, &pile, &options, &AtomicBool::new(false), &|_| ()).expect("a plan");
    assert_eq!(check(&job, &pile, &plan), []);
    plan
}

/// Every pair of sums that the staves of two copies (or of one) can have in a strip of board so wide.
fn fillings(room: i64, widths: &[i64], copies: usize) -> BTreeSet<(i64, i64)> {
    let mut sums = BTreeSet::from([(0, 0)]);
    for (at, &width) in widths.iter().enumerate().filter(|&(_, &width)| width + ROUND <= room) {
        // The order of the staves in a strip is free: none is followed by a wider one.
        for (one, other) in fillings(room - width - ROUND - KERF, &widths[at..], copies) {
            sums.insert((one + width, other));
            if copies > 1 {
                sums.insert((one, other + width));
            }
        }
    }
    sums
}

/// True when some filling of the bins (board, room) gives every copy what it needs.
fn serves(bins: &[(usize, i64)], widths: &[i64], needed: i64, copies: usize, one_board: bool) -> bool {
    let mut reached = BTreeSet::from([(0, 0)]);
    for board in bins.iter().map(|bin| bin.0).collect::<BTreeSet<_>>() {
        let mut of_board = BTreeSet::from([(0, 0)]);
        for &(_, room) in bins.iter().filter(|bin| bin.0 == board) {
            let sums = fillings(room, widths, copies);
            of_board = of_board.iter().flat_map(|a| sums.iter().map(move |b| (a.0 + b.0, a.1 + b.1))).collect();
        }
        if one_board {
            // A copy is glued from this board alone or not from it at all.
            let all_or_none = |sum: i64| if sum >= needed { needed } else { 0 };
            of_board = of_board.iter().map(|sum| (all_or_none(sum.0), all_or_none(sum.1))).collect();
        }
        let cap = |sum: i64| sum.min(needed);
        reached = reached.iter().flat_map(|a| of_board.iter().map(move |b| (cap(a.0 + b.0), cap(a.1 + b.1)))).collect();
    }
    reached.iter().any(|sum| sum.0 >= needed && (copies == 1 || sum.1 >= needed))
}

/// Says whether some bins will do.
type Enough<'a> = &'a dyn Fn(&[(usize, i64)]) -> bool;

/// True when the parts find places in the bins so that the panels still can be made.
fn places(bins: &mut Vec<(usize, i64)>, parts: &[i64], enough: Enough) -> bool {
    let Some((&part, rest)) = parts.split_first() else { return enough(bins) };
    (0..bins.len()).any(|bin| {
        let blank = part + ROUND;
        if bins[bin].1 < blank {
            return false;
        }
        bins[bin].1 -= blank + KERF;
        let found = places(bins, rest, enough);
        bins[bin].1 += blank + KERF;
        found
    })
}

/// The least cost, by trying everything.
fn enumerated(case: &Value) -> i64 {
    let boards: Vec<(i64, i64, i64)> = case["boards"]
        .as_array()
        .expect("boards")
        .iter()
        .map(|b| (parts_of_64(&b["width"]), b["bins"].as_i64().expect("bins"), b["cost"].as_i64().expect("a cost")))
        .collect();
    let mut parts = Vec::new();
    for part in case["parts"].as_array().expect("parts") {
        let qty = part["qty"].as_u64().expect("a count") as usize;
        parts.extend(std::iter::repeat_n(parts_of_64(&part["width"]), qty));
    }
    let (least, most, step) =
        (parts_of_64(&case["stave_min"]), parts_of_64(&case["stave_max"]), parts_of_64(&case["step"]));
    let mut widths: Vec<i64> = (least..=most).filter(|w| w % step == 0 || *w == least || *w == most).collect();
    widths.sort_unstable_by(|a, b| b.cmp(a));
    let needed = parts_of_64(&case["width"]) + 16;
    let copies = case["copies"].as_u64().expect("a count") as usize;
    let one_board = case["max_boards"] == json!(1);
    let equal = case["equal"] == json!(true);
    let enough = |bins: &[(usize, i64)]| {
        if equal {
            widths.iter().any(|&width| {
                let count: i64 = bins.iter().map(|bin| ((bin.1 + KERF) / (width + ROUND + KERF)).max(0)).sum();
                count >= (needed + width - 1) / width * copies as i64
            })
        } else {
            serves(bins, &widths, needed, copies, one_board)
        }
    };
    let sets = 1..1u32 << boards.len();
    let cost = |set: u32| (0..boards.len()).filter(|b| set & (1 << b) != 0).map(|b| boards[b].2).sum::<i64>();
    let able = sets.filter(|&set| {
        let taken = (0..boards.len()).filter(|b| set & (1 << b) != 0);
        let mut bins: Vec<(usize, i64)> =
            taken.flat_map(|b| std::iter::repeat_n((b, boards[b].0 - EDGES), boards[b].1 as usize)).collect();
        places(&mut bins, &parts, &enough)
    });
    able.map(cost).min().expect("the cases can be made")
}

#[test]
fn enumeration_and_the_integer_programme_agree_on_every_case() {
    for (i, case) in cases().iter().enumerate() {
        assert_eq!(Some(enumerated(case) as f64), case["optimum"].as_f64(), "case {i}");
    }
}

#[test]
fn a_plan_of_every_case_costs_the_optimum_and_its_bound_never_stands_above_it() {
    let mut proven = 0;
    let cases = cases();
    for (i, case) in cases.iter().enumerate() {
        let plan = planned(case);
        let optimum = Money::from_f64(case["optimum"].as_f64().expect("an optimum")).expect("an amount");
        assert_eq!((plan.status, &plan.cost), (Status::Complete, &optimum), "case {i}: {case}");
        assert!(plan.bound <= optimum, "case {i}: bound {}", plan.bound);
        proven += usize::from(plan.proven);
    }
    assert!(proven * 4 >= cases.len() * 3, "{proven} of {} are proven", cases.len());
}
