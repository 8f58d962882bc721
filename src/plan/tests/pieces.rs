//! Copies, layers, leaves and glue-ups.

use super::super::tree::nodes_of;
use super::super::{BuildError, GlueKind, Role};
use super::bench::{Bench, len, money, section, small_cabinet, strip};
use crate::job::Faces;
use crate::milling::StockRef;
use crate::pile::{DefectFace, Face};

/// Legs of two layers from two boards: three layers from the first, one from the second.
fn legs(faces: Faces) -> Bench {
    let mut bench = Bench::new();
    let leg = bench.part("leg", 2, 27.0, 2.0);
    bench.laminate(leg, 2);
    bench.job.parts[0].faces = faces;
    let first = bench.board("L-1", 96.0, 8.0, 40.0);
    let cutting = bench.cutting(first, &[leg]);
    let strips = [0.125, 2.375, 4.625].map(|y| strip(y, 2.125, &[(4.0, cutting)])).to_vec();
    bench.cut(first, vec![section(1.0, 33.5, strips)], &[]);
    let second = bench.board("L-2", 96.0, 8.0, 40.0);
    let cutting = bench.cutting(second, &[leg]);
    bench.cut(second, vec![section(1.0, 33.5, vec![strip(0.125, 2.125, &[(4.0, cutting)])])], &[]);
    bench
}

fn members(bench: &Bench) -> Vec<Vec<(String, i64, Option<u32>, Option<Face>)>> {
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
fn a_legs_layers_come_from_one_board_where_they_can() {
    let bench = legs(Faces::C1f);
    let l = |stock: &str, eighths, layer| (stock.to_owned(), eighths, Some(layer), Some(Face::Top));
    let expected = [vec![l("L-1", 1, 1), l("L-1", 19, 2)], vec![l("L-1", 37, 1), l("L-2", 1, 2)]];
    assert_eq!(members(&bench), expected);
    let plan = bench.plan();
    assert_eq!(plan.glueups[0].kind, GlueKind::Lamination);
    let blanks = nodes_of(&plan.stock[0].tree, Role::Blank);
    let labels: Vec<_> = blanks.iter().map(|b| (b.copy, b.layer, b.thickness)).collect();
    let thick = Some(len(0.9375));
    assert_eq!(labels, [(Some(1), Some(1), thick), (Some(1), Some(2), thick), (Some(2), Some(1), thick)]);
    assert_eq!(plan.pieces_placed, 2);
}

#[test]
fn clear_faces_go_outside_and_marked_ones_to_the_glue() {
    let mut bench = legs(Faces::C1f);
    // The first layer of L-1 shows a knot above, the second is marked on both faces.
    bench.knot(0, 10.0, 0.5, 1.0, 1.0, DefectFace::Top);
    bench.knot(0, 10.0, 2.75, 1.0, 1.0, DefectFace::Through);
    let l = |stock: &str, eighths, layer, face| (stock.to_owned(), eighths, Some(layer), Some(face));
    let expected = [
        vec![l("L-1", 1, 1, Face::Bottom), l("L-1", 19, 2, Face::Top)],
        vec![l("L-1", 37, 1, Face::Top), l("L-2", 1, 2, Face::Top)],
    ];
    assert_eq!(members(&bench), expected);
}

#[test]
fn layers_are_shared_out_over_boards_when_one_alone_would_waste_clear_faces() {
    let mut bench = legs(Faces::C1f);
    // L-1: clear, clear, marked; L-2: marked. Two clear layers in one leg would leave the other with none.
    bench.knot(0, 10.0, 5.0, 1.0, 1.0, DefectFace::Through);
    bench.knot(1, 10.0, 0.5, 1.0, 1.0, DefectFace::Through);
    let stocks: Vec<Vec<_>> =
        members(&bench).into_iter().map(|leg| leg.into_iter().map(|m| (m.0, m.1)).collect()).collect();
    let l = |stock: &str, eighths| (stock.to_owned(), eighths);
    assert_eq!(stocks, [vec![l("L-1", 1), l("L-1", 37)], vec![l("L-1", 19), l("L-2", 1)]]);
    bench.job.parts[0].faces = Faces::C2f;
    assert_eq!(bench.try_plan(), Err(BuildError::UnclearLayers { part: "leg".to_owned() }));
}

#[test]
fn half_a_lamination_is_refused() {
    let mut bench = legs(Faces::Any);
    bench.outcome.layouts.pop();
    bench.outcome.made[0] = 3;
    let error = bench.try_plan().expect_err("three layers make one leg and a half");
    assert_eq!(error, BuildError::LooseLayers { part: "leg".to_owned(), pieces: 3, layers: 2 });
}

#[test]
fn a_resawn_blank_lists_its_leaves_from_the_top_face_down() {
    let mut bench = Bench::new();
    let slat = bench.part("slat", 2, 24.0, 3.0);
    bench.milled.items[slat].thickness = len(0.375);
    let class = bench.board("R-1", 34.0, 4.0, 30.0);
    let cutting = bench.cutting(class, &[slat, slat]);
    bench.cut(class, vec![section(1.0, 30.5, vec![strip(0.125, 3.125, &[(4.0, cutting)])])], &[]);
    let plan = bench.plan();
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
    let facts = super::super::Facts { cost: &cost, explain: &explain, seed: 1, run };
    let plan = super::super::build(&bench.case(), &facts).expect("both copies are in the pile");
    let pieces: Vec<_> = plan.stock.iter().map(|piece| (piece.copy, piece.cost.to_string())).collect();
    assert_eq!(pieces, [(1, "30.00".to_owned()), (2, "25.00".to_owned())]);
}
