//! Lawful plans, worked out by hand, have no violation.

use crate::workshop::workshop;
use flitchwork::plan::check::check;

#[test]
fn a_lawful_plan_of_boards_sheets_sticks_and_glue_ups_has_no_violation() {
    let (job, pile, plan) = workshop();
    let found: Vec<String> = check(&job, &pile, &plan).iter().map(ToString::to_string).collect();
    assert!(found.is_empty(), "{}", found.join("\n"));
}
