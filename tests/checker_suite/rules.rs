//! Rules one by one at their edges: faces, stages, runs, sound area, millimetres.
//!
//! Facts of the trade used here: warp of a piece cut down goes by the square of its length or width (geometry of an arc,
//! sagitta s = L^2 / 8R); a clear-face cutting has one face clear and the other sound (common practice of grading).

use crate::support::*;
use flitchwork::job::shop::Shop;
use flitchwork::job::{Faces, Job, MatchRule, MatchScope, Part};
use flitchwork::measure::{Length, Units};
use flitchwork::pile::{DefectFace, Pile, Price, Sheet, SheetGrain, Surfaced, Tally};
use flitchwork::plan::check::{Rule, check};
use flitchwork::plan::{CutKind, Leaf, Node, Role, ShopPlan, StockKind};
use rstest::rstest;

fn codes(job: &Job, pile: &Pile, plan: &ShopPlan) -> Vec<&'static str> {
    check(job, pile, plan).iter().map(|violation| violation.rule.code()).collect()
}

fn job_of(parts: Vec<Part>) -> Job {
    Job { units: Units::Inches, title: "one".into(), shop: Shop::defaults(Units::Inches), parts }
}

/// One board 40 x 6 at 40.00, 1 1/4 thick and flat, with one strip and these blanks in it, in a section 1..39.
fn one_strip(job: &Job, width: f64, blanks: Vec<Node<Length>>, placed: u32) -> (Pile, ShopPlan) {
    let pile = Pile {
        units: Units::Inches,
        tally: Tally::Hardwood,
        boards: vec![board("B", "oak", inch(1.25), 6.0, 40.0, Price::Piece(money(40.0)))],
        sheets: Vec::new(),
        sticks: Vec::new(),
    };
    let strip = parted((1.0, 0.125, 38.0, width), Some(Role::Strip), CutKind::Cross, blanks);
    let section = parted((1.0, 0.0, 38.0, 6.0), Some(Role::Section), CutKind::Rip, vec![strip]);
    let tree = parted((0.0, 0.0, 40.0, 6.0), None, CutKind::Cross, vec![section]);
    let mut plan = plan_of(vec![stock_use("B", StockKind::Board, 40.0, 0.0, tree)]);
    finish(&mut plan, job, (40.0, 38.0, 0.05), (placed, placed));
    (pile, plan)
}

/// 20 x 3 finished in a blank 20 1/2 x 3 1/8; its net is 4 1/4..24 1/4 x 3/16..3 3/16.
fn one_rail(faces: Faces) -> (Job, Pile, ShopPlan) {
    let job = job_of(vec![Part { faces, ..part("rail", 1, species("oak"), 0.875, 3.0, 20.0) }]);
    let rail = blank("rail", 1, (4.0, 0.125, 20.5, 3.125), (4.25, 0.1875, 20.0, 3.0));
    let (pile, plan) = one_strip(&job, 3.125, vec![rail], 1);
    (job, pile, plan)
}

#[rstest]
#[case::clear_two_faces_refuse_a_sound_knot_on_one(Faces::C2f, &[(DefectFace::Top, true)], false)]
#[case::clear_one_face_takes_a_sound_knot_on_the_other(Faces::C1f, &[(DefectFace::Bottom, true)], true)]
#[case::clear_one_face_refuses_an_unsound_knot_on_the_other(Faces::C1f, &[(DefectFace::Bottom, false)], false)]
#[case::clear_one_face_refuses_sound_knots_on_both(
    Faces::C1f, &[(DefectFace::Top, true), (DefectFace::Bottom, true)], false)]
#[case::clear_one_face_refuses_a_sound_knot_through(Faces::C1f, &[(DefectFace::Through, true)], false)]
#[case::sound_takes_a_sound_knot_through(Faces::Sound, &[(DefectFace::Through, true)], true)]
#[case::sound_refuses_an_unsound_one(Faces::Sound, &[(DefectFace::Top, false)], false)]
#[case::any_takes_what_comes(Faces::Any, &[(DefectFace::Through, false)], true)]
fn faces_are_judged_as_the_part_asks(#[case] faces: Faces, #[case] knots: &[(DefectFace, bool)], #[case] lawful: bool) {
    let (job, mut pile, plan) = one_rail(faces);
    for (face, sound) in knots {
        pile.boards[0].defects.push(defect(10.0, 1.0, 1.0, 1.0, *face, *sound));
    }
    assert_eq!(codes(&job, &pile, &plan), if lawful { vec![] } else { vec!["defects"] });
}

#[rstest]
#[case::margin_touches_the_left_end(1.75, 2.0, true)]
#[case::margin_reaches_over_the_left_end(1.7578125, 2.0, false)]
#[case::margin_touches_the_far_edge(5.0, 3.4375, true)]
#[case::margin_reaches_over_the_far_edge(5.0, 3.4296875, false)]
fn a_defect_counts_only_where_its_margin_enters_the_net(#[case] x: f64, #[case] y: f64, #[case] lawful: bool) {
    let (job, mut pile, plan) = one_rail(Faces::C2f);
    pile.boards[0].defects.push(defect(x, y, 2.0, 1.0, DefectFace::Through, false));
    assert_eq!(codes(&job, &pile, &plan).is_empty(), lawful);
}

/// 1 1/4 less 1/16 on both faces holds 7/8 with 1/4 to spare: that is all the gap, x 1.25, that may be lost.
#[rstest]
#[case::bow_by_the_square_of_the_section([0.22, 0.0, 0.0], true)]
#[case::more_bow([0.2226, 0.0, 0.0], false)]
#[case::cup_of_the_whole_width([0.0, 0.2, 0.0], true)]
#[case::more_cup([0.0, 0.201, 0.0], false)]
#[case::half_of_twist_by_the_length([0.0, 0.0, 0.421], true)]
#[case::more_twist([0.0, 0.0, 0.422], false)]
fn flattening_takes_bow_cup_and_twist_of_the_piece_that_is_cut(#[case] warp: [f64; 3], #[case] lawful: bool) {
    let (job, mut pile, plan) = one_rail(Faces::C1f);
    let [bow, cup, twist] = warp.map(|gap| Length::from_ticks((gap * Length::PER_INCH as f64) as i64));
    pile.boards[0].warp = flitchwork::pile::Warp { bow, crook: Length::ZERO, cup, twist };
    // 38 in of 40: bow may be 0.2 x (40/38)^2 = 0.2216, twist 0.4 x 40/38 = 0.42105.
    assert_eq!(codes(&job, &pile, &plan), if lawful { vec![] } else { vec!["thickness"] });
}

#[test]
fn the_inner_leaf_of_a_resawn_blank_does_not_show_the_boards_faces() {
    let mut job = job_of(vec![Part { faces: Faces::C2f, ..part("slat", 2, species("oak"), 0.25, 3.0, 20.0) }]);
    job.shop.machine.resaw_height = inch(6.0);
    let leaf = |copy| Leaf { part: "slat".into(), copy, layer: None, stave: None, thickness: inch(0.25) };
    let slats = Node {
        part: None,
        copy: None,
        leaves: vec![leaf(1), leaf(2)],
        ..blank("slat", 1, (4.0, 0.125, 20.5, 3.125), (4.25, 0.1875, 20.0, 3.0))
    };
    let (mut pile, plan) = one_strip(&job, 3.125, vec![slats], 2);
    assert_eq!(check(&job, &pile, &plan), []);
    pile.boards[0].defects.push(defect(10.0, 1.0, 1.0, 1.0, DefectFace::Top, true));
    assert_eq!(codes(&job, &pile, &plan), ["defects"]);
    pile.boards[0].defects[0].face = DefectFace::Through;
    assert_eq!(codes(&job, &pile, &plan), ["defects", "defects"]);
}

#[test]
fn a_run_may_skip_a_defect_and_nothing_else() {
    let run = matched("pair", MatchRule::Run, MatchScope::Group, None);
    let job = job_of(vec![Part { matching: run, ..part("front", 2, species("oak"), 0.875, 3.0, 12.0) }]);
    let front = |copy, x: f64| blank("front", copy, (x, 0.125, 12.5, 3.125), (x + 0.25, 0.1875, 12.0, 3.0));
    let (mut pile, plan) = one_strip(&job, 3.125, vec![front(2, 4.0), front(1, 20.0)], 2);
    assert_eq!(codes(&job, &pile, &plan), ["match-broken"]);
    pile.boards[0].defects.push(defect(17.5, 1.0, 1.0, 1.0, DefectFace::Through, false));
    assert_eq!(check(&job, &pile, &plan), []);
    let (_, close) = one_strip(&job, 3.125, vec![front(2, 4.0), front(1, 16.625)], 2);
    pile.boards[0].defects.clear();
    assert_eq!(check(&job, &pile, &close), []);
}

#[rstest]
#[case::rough(Surfaced::Rough, 0.125, true)]
#[case::rough_on_the_edge(Surfaced::Rough, 0.0, false)]
#[case::one_straight_edge(Surfaced::Slr1e, 0.0, true)]
fn the_reference_edge_is_trimmed_unless_it_came_straight(
    #[case] surfaced: Surfaced,
    #[case] y: f64,
    #[case] lawful: bool,
) {
    let job = job_of(vec![part("rail", 1, species("oak"), 0.875, 3.0, 20.0)]);
    let rail = blank("rail", 1, (4.0, y, 20.5, 3.125), (4.25, y + 0.0625, 20.0, 3.0));
    let (mut pile, mut plan) = one_strip(&job, 3.125, vec![rail], 1);
    plan.stock[0].tree.children[0].children[0].y = inch(y);
    finish(&mut plan, &job, (40.0, 38.0, 0.05), (1, 1));
    pile.boards[0].surfaced = surfaced;
    pile.boards[0].warp.crook = if lawful && y == 0.0 { inch(1.0) } else { Length::ZERO };
    assert_eq!(codes(&job, &pile, &plan), if lawful { vec![] } else { vec!["section-edge"] });
}

/// A sheet 40 x 40 of squares: `lanes` of stages, each case its tree and how many stages it takes.
#[rstest]
#[case::side_by_side(0, 1)]
#[case::side_by_side_in_two_nodes_of_one_direction(1, 1)]
#[case::lanes_crosscut(2, 2)]
#[case::three_directions(3, 3)]
fn stages_are_changes_of_direction_that_part_two_pieces(#[case] tree: usize, #[case] stages: u32) {
    let square = |copy, x, y| ready("square", copy, (x, y, 8.0, 8.0));
    let cross = |at, children| parted(at, None, CutKind::Cross, children);
    let rip = |at, children| parted(at, None, CutKind::Rip, children);
    let whole = (0.0, 0.0, 40.0, 40.0);
    let (copies, root) = match tree {
        0 => (2, cross(whole, vec![square(1, 1.0, 1.0), square(2, 10.0, 1.0)])),
        1 => {
            let rest = cross((10.0, 0.0, 30.0, 40.0), vec![square(2, 10.0, 1.0), square(3, 19.0, 1.0)]);
            (3, cross(whole, vec![square(1, 1.0, 1.0), rest]))
        }
        2 => {
            let lane = cross((0.0, 0.0, 40.0, 9.0), vec![square(1, 1.0, 1.0), square(2, 10.0, 1.0)]);
            (3, rip(whole, vec![lane, square(3, 1.0, 10.0)]))
        }
        _ => {
            let pile = rip((10.0, 0.0, 9.0, 18.0), vec![square(2, 10.0, 1.0), square(3, 10.0, 9.5)]);
            let lane = cross((0.0, 0.0, 40.0, 18.0), vec![square(1, 1.0, 1.0), pile]);
            (4, rip(whole, vec![lane, square(4, 1.0, 19.0)]))
        }
    };
    let mut job = job_of(vec![part("square", copies, material("ply"), 0.5, 8.0, 8.0)]);
    let sheet = Sheet {
        id: "S".into(),
        material: "Ply".into(),
        thickness: inch(0.5),
        length: inch(40.0),
        width: inch(40.0),
        grain: SheetGrain::None,
        quantity: 1,
        cost: money(40.0),
    };
    let pile = Pile {
        units: Units::Inches,
        tally: Tally::Hardwood,
        boards: Vec::new(),
        sheets: vec![sheet],
        sticks: Vec::new(),
    };
    let mut plan = plan_of(vec![stock_use("S", StockKind::Sheet, 40.0, 0.0, root)]);
    finish(&mut plan, &job, (40.0, 38.0, 0.05), (copies, copies));
    job.shop.machine.sheet_stages = stages;
    assert_eq!(check(&job, &pile, &plan), []);
    if stages > 1 {
        job.shop.machine.sheet_stages = stages - 1;
        assert_eq!(codes(&job, &pile, &plan), [Rule::SheetStages.code()]);
    }
    job.shop.machine.sheet_stages = 0;
    assert_eq!(check(&job, &pile, &plan), []);
}

#[test]
fn figures_are_told_in_the_units_of_the_job() {
    let (mut job, pile, mut plan) = one_rail(Faces::Any);
    job.units = Units::Millimetres;
    plan.units = Units::Millimetres;
    assert_eq!(check(&job, &pile, &plan), []);
    plan.stock[0].tree.children[0].children[0].children[0].length = inch(20.0);
    let found = check(&job, &pile, &plan);
    let size = found.iter().find(|violation| violation.rule == Rule::BlankSize).expect("the blank is too short");
    assert_eq!(size.detail, "508 mm x 79.375 mm where 520.7 mm x 79.375 mm is needed");
    assert_eq!(size.place, "stock[0] \"B\" copy 1: section 1, strip 1, blank rail 1");
}
