//! The same piece of another wood or grade, and the stock that parts cause, on cases worked out by hand.

use std::sync::atomic::AtomicBool;

use flitchwork::measure::{Money, Rational};
use flitchwork::quote::{self, Alternative, Instead, InsteadError};
use rstest::rstest;
use serde_json::json;

use crate::workshop::{job, nothing, occasion, only, options, pile, planned, quoted};

fn boards() -> flitchwork::pile::Pile {
    pile(json!({ "boards": [
        { "id": "C1", "species": "cherry", "grade": "1C", "nominal": "4/4", "width": 6, "length": 60, "cost": 20 },
        { "id": "C2", "species": "cherry", "grade": "FAS", "nominal": "4/4", "width": 6, "length": 60, "cost": 32 },
        { "id": "W1", "species": "walnut", "grade": "FAS", "nominal": "4/4", "width": 6, "length": 60, "cost": 50 } ] }))
}

fn rail() -> serde_json::Value {
    json!([ { "id": "rail", "species": "cherry", "thickness": "3/4", "width": 3, "length": 40 } ])
}

fn instead(text: &str) -> Result<Alternative, InsteadError> {
    let rates = only(json!({ "profit": { "margin": 20 }, "tax": { "percent": 10 } }));
    let exchange: Instead = text.parse()?;
    exchange.priced(&job(&rates, rail()), &boards(), &occasion(), &options(), &AtomicBool::new(false), &|_| {})
}

#[rstest]
#[case::another_species("cherry=walnut", 50, "62.50", "68.75")]
#[case::another_case_and_spaces(" CHERRY = Walnut ", 50, "62.50", "68.75")]
#[case::a_better_grade("grade=FAS", 32, "40.00", "44.00")]
#[case::both("cherry=walnut, grade=fas", 50, "62.50", "68.75")]
#[case::the_grade_it_has_anyway("grade=1C", 20, "25.00", "27.50")]
fn the_same_piece_of_other_wood_is_planned_and_priced_anew(
    #[case] text: &str,
    #[case] stock: i64,
    #[case] price: &str,
    #[case] total: &str,
) {
    let other = instead(text).unwrap();
    assert_eq!(other.stock, Money::from_micros(stock * Money::MICROS));
    assert_eq!((other.missing, other.price.to_string(), other.total.to_string()), (0, price.into(), total.into()));
}

#[test]
fn a_wood_or_grade_that_does_not_hold_the_piece_says_how_much_is_missing() {
    let other = instead("cherry=walnut,grade=1C").unwrap();
    assert_eq!(other.missing, 1);
}

#[rstest]
#[case("oak=walnut", "no part asks for oak; the woods of the job are cherry")]
#[case("cherry=teak", "the pile has no teak; it has cherry, walnut")]
#[case("grade=2A", "no board is of grade 2A; the grades in the pile are 1C, FAS")]
#[case("walnut", "\"walnut\" names no exchange; write `cherry=walnut`, `grade=FAS`, or both with a comma between")]
#[case(
    "cherry=Cherry",
    "\"cherry=Cherry\" names no exchange; write `cherry=walnut`, `grade=FAS`, or both with a comma between"
)]
fn what_cannot_be_exchanged_is_refused_with_what_can(#[case] text: &str, #[case] message: &str) {
    assert_eq!(instead(text).unwrap_err().to_string(), message);
}

#[test]
fn boards_of_another_grade_keep_their_turn_in_the_yards_tally() {
    // Both measure 4 1/2 square feet, 6 in by 9 ft: by the hardwood rule the first goes up to 5, the second down to 4.
    // Without the first, the second would be billed at 5.
    let pile = pile(json!({ "boards": [
        { "id": "A", "species": "cherry", "grade": "1C", "nominal": "4/4", "width": 6, "length": 108, "price_per_bf": 10 },
        { "id": "B", "species": "cherry", "grade": "FAS", "nominal": "4/4", "width": 6, "length": 108, "price_per_bf": 10 } ] }));
    let exchange: Instead = "grade=FAS".parse().unwrap();
    let job = job(&nothing(), rail());
    let other = exchange.priced(&job, &pile, &occasion(), &options(), &AtomicBool::new(false), &|_| {}).unwrap();
    assert_eq!(other.stock.to_string(), "40.00");
}

#[test]
fn a_part_pays_for_its_own_length_and_its_share_of_what_is_left() {
    // A stick of 100 at 60.00: pieces of 10 and 30 pay a quarter and three quarters of it, whatever is left over.
    let sticks = pile(json!({ "sticks": [
        { "id": "S", "material": "square", "thickness": 1, "width": 1, "length": 100, "cost": 60 } ] }));
    let part = |id: &str, length: u32, group: &str| json!({ "id": id, "material": "square", "thickness": 1, "width": 1, "length": length, "group": group });
    let job = job(&nothing(), json!([part("short", 10, "base"), part("long", 30, "Top"), part("second", 20, "top")]));
    let quote = quoted(&job, &sticks);
    let material: Vec<String> = quote.parts.iter().map(|part| part.material.to_string()).collect();
    assert_eq!(material, ["10.00", "30.00", "20.00"]);
    let groups: Vec<(Option<&str>, String)> =
        quote.groups.iter().map(|group| (group.group.as_deref(), group.material.to_string())).collect();
    assert_eq!(groups, [(Some("base"), "10.00".to_owned()), (Some("Top"), "50.00".to_owned())]);
    assert_eq!(quote.stock[0].used, Rational::new(3.into(), 5.into()));
}

#[test]
fn offcuts_are_credited_only_where_the_shop_says_so() {
    let board = pile(json!({ "boards": [
        { "id": "C1", "species": "cherry", "nominal": "4/4", "width": 6, "length": 120, "cost": 60 } ] }));
    let charged = |credit: bool| {
        let job = job(&only(json!({ "material": { "credit_offcuts": credit } })), rail());
        let plan = planned(&job, &board);
        assert!(plan.stock[0].credit > Money::zero(), "an offcut of some six feet is kept");
        let quote = quote::quote(&job, &board, &plan, occasion()).unwrap();
        (quote.stock_charged(), plan.stock[0].credit.cents())
    };
    assert_eq!(charged(false).0.to_string(), "60.00");
    let (with, credit) = charged(true);
    assert_eq!(with.cents(), 6000 - credit);
}
