//! Cost, credit, bound, gap, offcuts, weights: to the cent.

use super::super::{BuildError, Money, Status, Stop};
use super::bench::{Bench, len, money, one_rail, section, small_cabinet, strip, t};
use crate::nesting::Why;
use crate::pile::DefectFace;

#[test]
fn the_end_of_the_contracts_example_earns_what_is_printed_there() {
    let plan = one_rail().plan();
    assert_eq!(plan.stock[0].credit.to_string(), "9.40");
    assert_eq!(plan.stock[0].tree.children[1].credit, Some(plan.stock[0].credit.clone()));
    // 61.25 - 0.3 x 61.25 x 50.375 / 98.5 = 51.85263...
    assert_eq!(plan.cost.to_string(), "51.85");
}

#[test]
fn an_offcut_is_credited_without_its_dirty_end_and_without_its_defects() {
    let mut bench = one_rail();
    // 10 x 2 and 10 x 3 share 5 x 1: 45 square inches of defects, 5 x 3 of which lie past the trimmed end.
    bench.knot(0, 60.0, 1.0, 10.0, 2.0, DefectFace::Through);
    bench.knot(0, 65.0, 2.0, 10.0, 3.0, DefectFace::Top);
    bench.knot(0, 97.5, 0.0, 1.0, 7.25, DefectFace::Through);
    let plan = bench.plan();
    // 0.3 x 61.25 x (50.375 x 7.25 - 45) / (98.5 x 7.25) = 8.2393...
    assert_eq!(plan.stock[0].credit.to_string(), "8.24");
}

#[test]
fn cost_is_stock_less_credit_and_each_figure_is_rounded_once() {
    let plan = small_cabinet().plan();
    let credits: Vec<String> = plan.stock.iter().map(|piece| piece.credit.to_string()).collect();
    // 0.3 x 40 x 26.75/96 = 3.34375; 0; 0.3 x 92 x 29.625/48 = 17.034375; 0; 0.3 x 21 x 51.625/72 = 4.5171875.
    assert_eq!(credits, ["3.34", "0.00", "17.03", "0.00", "4.52"]);
    // 194 - 24.8953125 = 169.1046875, where the printed credits would make 169.11.
    assert_eq!(plan.cost, money(169.1046875));
    assert_eq!(plan.cost.to_string(), "169.10");
    assert_eq!(plan.gap, 0.112976);
    assert_eq!((plan.status, plan.stop, plan.proven), (Status::Complete, Stop::Gap, false));
}

#[test]
fn the_bound_is_printed_rounded_down() {
    let mut bench = one_rail();
    bench.outcome.bound = 51_019_999;
    assert_eq!(bench.plan().bound.to_string(), "51.01");
}

#[test]
fn a_plan_is_proven_within_a_cent_or_half_a_thousandth() {
    let mut bench = one_rail();
    bench.outcome.why = Why::Proven;
    // Cost 51.8526332...; less 0.05 % of it, 51.8267069...
    for (bound, proven) in [(51_826_707, true), (51_826_706, false), (51_852_633, true)] {
        bench.outcome.bound = bound;
        assert_eq!(bench.plan().proven, proven, "bound {bound}");
    }
}

#[test]
fn a_bound_rounded_up_by_the_optimisers_grain_closes_the_gap_and_a_greater_one_is_refused() {
    let mut bench = one_rail();
    bench.outcome.bound = 51_852_634;
    let plan = bench.plan();
    assert_eq!((plan.gap, plan.bound.to_string().as_str()), (0.0, "51.85"));
    bench.outcome.bound = 51_860_000;
    assert!(matches!(bench.try_plan(), Err(BuildError::BoundAboveCost { .. })));
}

#[test]
fn offcuts_and_sound_leftovers_are_listed_once_each() {
    let plan = small_cabinet().plan();
    let rows: Vec<_> = plan
        .offcuts
        .iter()
        .map(|row| {
            (row.stock.as_str(), row.stock_copy, row.x, row.y, row.length, row.width, row.credit != Money::zero())
        })
        .collect();
    let expected = [
        // Above the two stile strips: 4.5 + 1/8 to 8.
        ("A-1", 1, 31.625, 4.625, 36.5, 3.375, false),
        ("A-1", 1, 68.25, 0.0, 27.75, 8.0, true),
        ("PLY", 1, 0.0, 18.375, 96.0, 29.625, true),
        ("SQ", 2, 20.375, 0.0, 51.625, 2.0, true),
    ]
    .map(|(stock, copy, x, y, l, w, credited)| (stock, copy, len(x), len(y), len(l), len(w), credited));
    assert_eq!(rows, expected);
}

#[test]
fn a_leftover_is_cut_back_to_its_sound_part_and_to_clean_ends() {
    let mut bench = Bench::new();
    let rail = bench.part("rail", 1, 24.0, 3.0);
    let class = bench.board("B-1", 60.0, 10.0, 30.0);
    let cutting = bench.cutting(class, &[rail]);
    bench.knot(class, 40.0, 8.0, 2.0, 1.0, DefectFace::Bottom);
    bench.cut(class, vec![section(1.0, 58.0, vec![strip(0.125, 3.125, &[(4.0, cutting)])])], &[]);
    let rows: Vec<_> = bench.plan().offcuts.iter().map(|row| [row.x, row.y, row.length, row.width]).collect();
    // Tail of the strip: 28.625 to 59. Above it, 3.375 to 10 with a knot from 8 to 9: below the knot 58 x 4.625.
    assert_eq!(rows, [[1.0, 3.375, 58.0, 4.625].map(len), [28.625, 0.125, 30.375, 3.125].map(len)]);
}

#[test]
fn a_part_weighs_what_its_wood_does_and_an_unknown_wood_is_named() {
    let mut bench = small_cabinet();
    let plan = bench.plan();
    let rail = &plan.weights[0];
    // 24 x 3 x 7/8 in of black cherry, gravity 0.50 at 12 % (Wood Handbook table 5-3b): at about 34.8 lb a cubic foot
    // at 7 %, 0.0365 cubic feet weigh 1.25 to 1.28 lb.
    assert_eq!(rail.part, "rail");
    assert!((1.22..1.30).contains(&rail.pounds), "{}", rail.pounds);
    assert!((rail.kilograms - rail.pounds * 0.45359237).abs() < 0.006, "{}", rail.kilograms);
    assert_eq!(plan.weights.len(), 5);
    bench.job.parts[0].stock = crate::job::Wanted::Species("moonwood".to_owned());
    let plan = bench.plan();
    assert_eq!(plan.weights.len(), 4);
    assert!(plan.cautions.iter().any(|caution| caution.contains("\"moonwood\"")));
}

#[test]
fn missing_copies_are_listed_with_their_reason_and_proof() {
    let mut bench = small_cabinet();
    bench.job.parts[1].qty = 5;
    bench.milled.problem.items[1].demand = 5;
    bench.outcome.shortage_proven[1] = true;
    let plan = bench.plan();
    assert_eq!((plan.status, plan.pieces_required, plan.pieces_placed), (Status::Short, 15, 12));
    let [short] = plan.shortages.as_slice() else { panic!("one part is short") };
    assert_eq!((short.part.as_str(), short.missing, short.proven), ("stile", 3, true));
    assert_eq!((short.why.as_str(), short.buy.as_str()), ("why 1", "buy 1"));
    bench.outcome.shortage_proven[1] = false;
    assert!(!bench.plan().shortages[0].proven);
}

#[test]
fn layouts_that_contradict_the_outcome_are_refused() {
    let mut bench = small_cabinet();
    bench.outcome.made[0] = 2;
    let error = bench.try_plan().expect_err("the layouts make three rails");
    assert_eq!(error.to_string(), "the layouts yield 3 pieces of part \"rail\", the outcome counts 2");
    let mut bench = one_rail();
    let twice = bench.outcome.layouts[0].clone();
    bench.outcome.layouts.push(twice);
    assert_eq!(bench.try_plan(), Err(BuildError::NoSuchPiece { stock: "C-04".to_owned() }));
    let mut bench = one_rail();
    bench.milled.problem.stock[0].cost = t(1.0);
    assert_eq!(bench.try_plan(), Err(BuildError::NoSuchPiece { stock: "C-04".to_owned() }));
}
