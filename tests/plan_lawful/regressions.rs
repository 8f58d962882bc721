//! Faults that made-up jobs brought to light, each in its smallest form.

use flitchwork::measure::Money;
use flitchwork::plan::Status;

use crate::generator::Case;
use crate::lawful_plan;

fn case(job: &str, pile: &str) -> Case {
    let head = |kind: &str, rest: &str| format!(r#"{{ "format": "flitchwork.{kind}/1", "units": "in", {rest} }}"#);
    Case { job: head("job", &format!(r#""title": "a fault", {job}"#)), pile: head("pile", pile) }
}

/// Layers that made no whole copy were left in the plan, which then contradicted itself.
#[test]
fn layers_that_make_no_whole_copy_are_not_cut() {
    let job = r#""parts": [
        { "id": "shelf", "qty": 1, "material": "oak ply", "thickness": 0.75, "width": 3, "length": 4 },
        { "id": "slab", "qty": 3, "species": "cherry", "thickness": 0.5, "width": 2.375, "length": 9.25, "lamination": { "layers": 3 } } ]"#;
    let pile = r#""boards": [ { "id": "B1", "species": "cherry", "thickness": 0.875, "width": 3.625, "length": 20, "cost": 9 } ],
        "sheets": [ { "id": "P1", "material": "oak ply", "thickness": 0.75, "length": 28, "width": 36, "cost": 73 } ]"#;
    let plan = lawful_plan(&case(job, pile));
    assert_eq!((plan.status, plan.pieces_placed, plan.stock.len()), (Status::Short, 1, 1));
}

/// Layers of a part that could not be made took the boards of one that could.
#[test]
fn a_part_that_can_be_made_is_made_beside_one_that_cannot() {
    let job = r#""parts": [
        { "id": "plain", "qty": 1, "species": "cherry", "thickness": 0.5, "width": 2.375, "length": 9.25 },
        { "id": "slab", "qty": 3, "species": "cherry", "thickness": 0.5, "width": 2.375, "length": 9.25, "lamination": { "layers": 3 } } ]"#;
    let pile = r#""boards": [ { "id": "B1", "species": "cherry", "thickness": 0.875, "width": 3.625, "length": 20, "cost": 9, "quantity": 2 } ]"#;
    let plan = lawful_plan(&case(job, pile));
    assert_eq!((plan.status, plan.pieces_placed), (Status::Short, 1));
}

/// The optimiser took the end trim off a stick's credited offcut and the plan did not: the bound lay above the cost.
#[test]
fn the_offcut_of_a_stick_earns_up_to_the_sticks_own_end() {
    let job = r#""shop": { "keep": { "credit": 1, "length": 12 } }, "parts": [
        { "id": "peg", "qty": 1, "material": "ash square", "thickness": 2, "width": 2, "length": 28 } ]"#;
    let pile = r#""sticks": [ { "id": "S1", "material": "ash square", "thickness": 2, "width": 2, "length": 56, "quantity": 4, "cost": 56 } ]"#;
    let plan = lawful_plan(&case(job, pile));
    assert!(plan.bound <= plan.cost);
    // 56 in at 1.00 an inch. Left and right offcuts and a kerf at both sides of the peg: 28 + 2/8 in are paid for, since
    // two offcuts of 12 in or more save the end trim of 1/4 in for a second kerf of 1/8 in.
    assert_eq!(plan.cost, Money::from_micros(28_250_000));
}

/// The checker refused every cut of a shop that reckons without kerf.
#[test]
fn a_shop_may_reckon_without_kerf() {
    let job = r#""shop": { "kerf": { "rip": 0, "crosscut": 0 } }, "parts": [
        { "id": "rail", "qty": 2, "species": "cherry", "thickness": 0.75, "width": 2, "length": 20 } ]"#;
    let pile =
        r#""boards": [ { "id": "B1", "species": "cherry", "thickness": 1, "width": 6, "length": 60, "cost": 9 } ]"#;
    assert_eq!(lawful_plan(&case(job, pile)).status, Status::Complete);
}
