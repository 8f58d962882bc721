//! Cautions and remarks: given where they apply, and only there.

use super::super::ShopPlan;
use super::bench::{Bench, len, one_rail, section, small_cabinet, strip};
use crate::pile::{DefectFace, Surfaced};

fn cautions(plan: &ShopPlan, start: &str) -> Vec<String> {
    plan.cautions.iter().filter(|caution| caution.starts_with(start)).cloned().collect()
}

#[test]
fn the_only_board_for_a_part_is_flagged_on_the_pull_list() {
    let plan = small_cabinet().plan();
    let remarks: Vec<_> = plan.work.pull.iter().map(|row| row.remarks.join("; ")).collect();
    let only = "no second board can make \"stile\"; no second board can make \"slat\"";
    assert_eq!(remarks, [only, "", "", "", ""]);
}

#[test]
fn a_second_board_whose_knots_leave_no_place_does_not_count() {
    let mut bench = one_rail();
    let spare = bench.board("C-05", 34.0, 4.0, 20.0);
    bench.cutting(spare, &[0]);
    assert_eq!(bench.plan().work.pull[0].remarks, Vec::<String>::new());
    // The net rail lies from 4.25 to 29.75 at most; a knot in its middle leaves less than 24 on either side.
    bench.knot(spare, 16.0, 1.0, 1.0, 1.0, DefectFace::Through);
    assert_eq!(bench.plan().work.pull[0].remarks, ["no second board can make \"rail\""]);
}

#[test]
fn a_piece_that_fits_by_less_than_a_sixteenth_is_flagged_in_its_direction() {
    let mut bench = one_rail();
    assert_eq!(cautions(&bench.plan(), "Tight on"), Vec::<String>::new());
    assert_eq!(cautions(&bench.plan(), "Where it is tight"), Vec::<String>::new());
    // Clear of the knot's margin by 1/32 on the right, 0 from the trimmed end on the left.
    bench.knot(0, 28.28125, 1.0, 1.0, 1.0, DefectFace::Through);
    let along = "along the length, 1/32\" to spare for rail 1";
    assert_eq!(cautions(&bench.plan(), "Tight on"), [format!("Tight on C-04: {along}.")]);
    bench.geometry(0).classes[0].high = super::bench::t(3.3125);
    let both = format!("Tight on C-04: {along}; across the width, nothing to spare for rail 1.");
    assert_eq!(cautions(&bench.plan(), "Tight on"), [both]);
    assert_eq!(cautions(&bench.plan(), "Where it is tight").len(), 1);
}

#[test]
fn a_piece_barely_thick_enough_once_flat_is_flagged() {
    let mut bench = one_rail();
    // 7/8 and 1/16 off both faces need 1 in. Bow over 46 of 98.5 in: 1.25 x 0.25 x (46/98.5)^2 = 0.068 in.
    bench.lumber(0).warp.bow = len(0.25);
    bench.lumber(0).thickness = len(1.125);
    let thin = "Tight on C-04: in thickness, ~3/64\" to spare for rail 1.";
    assert_eq!(cautions(&bench.plan(), "Tight on"), [thin]);
    bench.lumber(0).thickness = len(1.25);
    assert_eq!(cautions(&bench.plan(), "Tight on"), Vec::<String>::new());
}

#[test]
fn long_pieces_from_surfaced_stock_are_taken_as_flat_with_a_word() {
    let mut bench = Bench::new();
    let long = bench.part("long", 1, 40.0, 3.0);
    let class = bench.board("S-1", 60.0, 4.0, 30.0);
    let cutting = bench.cutting(class, &[long]);
    bench.lumber(class).surfaced = Surfaced::S2s;
    bench.milled.stock[class].cuttings[0].planed = false;
    bench.cut(class, vec![section(1.0, 46.5, vec![strip(0.125, 3.125, &[(4.0, cutting)])])], &[]);
    let plan = bench.plan();
    assert!(
        cautions(&plan, "S-1")[0]
            .starts_with("S-1: surfaced stock is taken to be flat as it comes; sight along long 1")
    );
    assert_eq!(cautions(&plan, "Jointer and planer"), Vec::<String>::new());
    assert!(plan.work.planer.is_empty());
}

#[test]
fn defects_moved_by_a_great_crook_are_to_be_measured_again() {
    let mut bench = one_rail();
    // Over 46 of 98.5 in a crook of 1/4 in keeps 0.0545 in, one of 3/8 in 0.0818: half the allowance is 1/16.
    bench.knot(0, 40.0, 5.0, 1.0, 1.0, DefectFace::Top);
    bench.lumber(0).warp.crook = len(0.25);
    assert_eq!(cautions(&bench.plan(), "C-04").len(), 0);
    bench.lumber(0).warp.crook = len(0.375);
    assert!(cautions(&bench.plan(), "C-04")[0].contains("moves its defects by more than 1/16\""));
    bench.lumber(0).defects.clear();
    assert_eq!(cautions(&bench.plan(), "C-04").len(), 0);
}

#[test]
fn reminders_follow_the_work_and_end_by_deferring_to_the_manual() {
    let plan = small_cabinet().plan();
    for start in ["Jointer and planer", "Ripping", "Rips of 6\" and under", "Crosscutting", "Two people", "Eyes, ears"]
    {
        assert_eq!(cautions(&plan, start).len(), 1, "{start}");
    }
    for start in ["Resawing", "Glue", "Short pieces"] {
        assert_eq!(cautions(&plan, start).len(), 0, "{start}");
    }
    // A 3/4 in sheet of oak plywood is over the base of NIOSH 94-110; the boards are not.
    let heavy = &cautions(&plan, "Two people")[0];
    assert!(heavy.contains("51 lb") && heavy.contains("PLY") && !heavy.contains("A-1"), "{heavy}");
    assert!(plan.cautions.last().is_some_and(|last| last.starts_with("These are reminders, not instruction")));
}

#[test]
fn a_plan_that_cuts_nothing_reminds_of_nothing() {
    let mut bench = Bench::new();
    bench.part("rail", 1, 24.0, 3.0);
    let plan = bench.plan();
    assert_eq!(plan.cautions, Vec::<String>::new());
    assert_eq!((plan.cost.to_string().as_str(), plan.gap, plan.proven), ("0.00", 0.0, true));
}
