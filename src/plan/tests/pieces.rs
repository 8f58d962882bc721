//! Copies, layers, leaves and glue-ups.

use super::super::tree::nodes_of;
use super::super::{BuildError, GlueKind, Role};
use super::bench::{Bench, len, money, section, small_cabinet, strip};
use crate::milling::StockRef;
use crate::pile::{DefectFace, Face};

/// Two legs of an outer and an inner layer: both of the first leg and the outer one of the second from L-1, the inner
/// one from L-2.
pub fn legs() -> Bench {
    let mut bench = Bench::new();
    let outer = bench.part("leg", 2, 27.0, 2.0);
    let inner = bench.laminate(outer, 1, 1);
    let first = bench.board("L-1", 96.0, 8.0, 40.0);
    let (o, i) = (bench.cutting(first, &[outer]), bench.cutting(first, &[inner]));
    let strips = [(0.125, i), (2.5, o), (4.875, o)].map(|(y, cutting)| strip(y, 2.25, &[(4.0, cutting)])).to_vec();
    bench.cut(first, vec![section(1.0, 34.0, strips)], &[]);
    let second = bench.board("L-2", 96.0, 8.0, 40.0);
    let i = bench.cutting(second, &[inner]);
    bench.cut(second, vec![section(1.0, 34.0, vec![strip(0.125, 2.25, &[(4.0, i)])])], &[]);
    for class in [first, second] {
        bench.lumber(class).thickness = len(1.25);
    }
    bench
}

/// Stock, y in eighths of an inch, layer, face that shows.
type Layer = (String, i64, Option<u32>, Option<Face>);

fn members(bench: &Bench) -> Vec<Vec<Layer>> {
    let plan = bench.plan();
    let one = |g: &super::super::GlueUp<crate::measure::Length>| {
        let member = |m: &super::super::Member<crate::measure::Length>| {
            (m.stock.clone(), m.y.ticks() / len(0.125).ticks(), m.layer, m.face_up)
        };
        g.members.iter().map(member).collect()
    };
    plan.glueups.iter().map(one).collect()
}

#[test]
fn copies_are_numbered_in_the_order_of_pulling_and_reading() {
    let plan = small_cabinet().plan();
    let mut seen = Vec::new();
    for piece in &plan.stock {
        for blank in nodes_of(&piece.tree, Role::Blank) {
            seen.push(format!("{} {}", blank.part.as_deref().unwrap_or("?"), blank.copy.unwrap_or(0)));
        }
    }
    let expected = "rail 1,slat 1,stile 1,stile 2,rail 2,rail 3,bottom 1,bottom 2,foot 1,foot 2,foot 3,foot 4";
    assert_eq!(seen.join(","), expected);
}

#[test]
fn a_legs_layers_come_from_one_board_where_they_can_the_outer_one_first() {
    let bench = legs();
    let l = |stock: &str, eighths, layer| (stock.to_owned(), eighths, Some(layer), Some(Face::Top));
    let expected = [vec![l("L-1", 20, 1), l("L-1", 1, 2)], vec![l("L-1", 39, 1), l("L-2", 1, 2)]];
    assert_eq!(members(&bench), expected);
    let plan = bench.plan();
    assert_eq!(plan.glueups[0].kind, GlueKind::Lamination);
    let blanks = nodes_of(&plan.stock[0].tree, Role::Blank);
    let labels: Vec<_> = blanks.iter().map(|b| (b.copy, b.layer, b.thickness)).collect();
    let thick = Some(len(1.03125));
    assert_eq!(labels, [(Some(1), Some(2), thick), (Some(1), Some(1), thick), (Some(2), Some(1), thick)]);
    assert_eq!((plan.pieces_required, plan.pieces_placed), (2, 2));
    assert_eq!(plan.work.pull[0].makes, "3 layers of leg");
}

#[test]
fn the_outer_layers_of_a_copy_lie_on_both_sides_of_the_inner_ones() {
    let mut bench = Bench::new();
    let outer = bench.part("post", 1, 27.0, 2.0);
    let inner = bench.laminate(outer, 2, 1);
    let class = bench.board("L-1", 96.0, 8.0, 40.0);
    let (o, i) = (bench.cutting(class, &[outer]), bench.cutting(class, &[inner]));
    let strips = [(0.125, o), (2.5, o), (4.875, i)].map(|(y, cutting)| strip(y, 2.25, &[(4.0, cutting)])).to_vec();
    bench.cut(class, vec![section(1.0, 34.0, strips)], &[]);
    let l = |eighths, layer, face| ("L-1".to_owned(), eighths, Some(layer), face);
    let expected = vec![l(1, 1, Some(Face::Top)), l(39, 2, None), l(20, 3, Some(Face::Top))];
    assert_eq!(members(&bench), [expected]);
    assert_eq!(bench.plan().pieces_placed, 1);
}

#[test]
fn an_outer_layer_turns_its_clear_face_outwards() {
    let mut bench = legs();
    bench.knot(0, 10.0, 3.0, 1.0, 1.0, DefectFace::Top);
    let faces: Vec<Vec<_>> = members(&bench).into_iter().map(|leg| leg.into_iter().map(|m| m.3).collect()).collect();
    let (top, bottom) = (Some(Face::Top), Some(Face::Bottom));
    assert_eq!(faces, [[bottom, top], [top, top]]);
}

#[test]
fn half_a_lamination_is_refused() {
    let mut bench = legs();
    bench.outcome.layouts.pop();
    bench.outcome.made = vec![2, 1];
    let error = bench.try_plan().expect_err("an outer layer is left over");
    assert_eq!(error, BuildError::LooseLayers { part: "leg".to_owned(), pieces: 2, copies: 1 });
}

/// Two thin slats resawn from one blank.
pub fn slats() -> Bench {
    let mut bench = Bench::new();
    let slat = bench.part("slat", 2, 24.0, 3.0);
    bench.job.parts[0].thickness = len(0.375);
    bench.milled.items[slat].thickness = len(0.375);
    bench.job.shop.machine.resaw_height = len(6.0);
    let class = bench.board("R-1", 34.0, 4.0, 30.0);
    let cutting = bench.cutting(class, &[slat, slat]);
    bench.cut(class, vec![section(1.0, 30.5, vec![strip(0.125, 3.125, &[(4.0, cutting)])])], &[]);
    bench
}

#[test]
fn a_resawn_blank_lists_its_leaves_from_the_top_face_down() {
    let plan = slats().plan();
    let blank = nodes_of(&plan.stock[0].tree, Role::Blank)[0];
    let leaves: Vec<_> = blank.leaves.iter().map(|l| (l.part.as_str(), l.copy, l.layer, l.thickness)).collect();
    assert_eq!(leaves, [("slat", 1, None, len(0.375)), ("slat", 2, None, len(0.375))]);
    assert_eq!((&blank.part, blank.copy), (&None, None));
    assert_eq!(plan.work.planer[0].blanks, 2);
    assert_eq!(plan.work.pull[0].makes, "2 slat");
    assert!(plan.cautions.iter().any(|caution| caution.starts_with("Resawing")));
}

#[test]
fn equal_pieces_that_cost_differently_are_told_apart_by_their_price() {
    // Three like boards of 5 1/2 square feet: billed 6, 5, 6 (an exact half goes up, then down, in turn).
    let mut bench = Bench::new();
    let rail = bench.part("rail", 2, 24.0, 3.0);
    let dear = bench.board("Q", 34.0, 4.0, 30.0);
    let cutting = bench.cutting(dear, &[rail]);
    bench.pile.boards[0].quantity = 3;
    let mut cheap = bench.milled.problem.stock[dear].clone();
    cheap.cost = money(25.0).micros_floor();
    bench.milled.problem.stock.push(cheap);
    bench.milled.stock.push(bench.milled.stock[dear].clone());
    let layout = || vec![section(1.0, 30.5, vec![strip(0.125, 3.125, &[(4.0, cutting)])])];
    bench.cut(1, layout(), &[]);
    bench.cut(dear, layout(), &[]);
    let cost = |source: StockRef, copy: u32| {
        assert_eq!(source, StockRef::Board(0));
        if copy == 2 { money(25.0) } else { money(30.0) }
    };
    let explain = |_: usize| (String::new(), String::new());
    let run = super::super::Run { seconds: 0.0, threads: 1 };
    let facts = super::super::Facts {
        cost: &cost,
        copy: None,
        broken: crate::measure::Money::zero(),
        explain: &explain,
        seed: 1,
        run,
    };
    let plan = super::super::build(&bench.case(), &facts).expect("both copies are in the pile");
    let pieces: Vec<_> = plan.stock.iter().map(|piece| (piece.copy, piece.cost.to_string())).collect();
    assert_eq!(pieces, [(1, "30.00".to_owned()), (2, "25.00".to_owned())]);
}
