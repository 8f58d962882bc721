//! Facts of the trade, each common practice, asked of the program as a maker would ask them: a job, a pile, a plan.
//!
//! Every figure is worked out in the comment beside it from the shop's default settings, which the tests state where they
//! matter. Plans are judged by the checker before they come back.

use std::sync::atomic::AtomicBool;

use flitchwork::job::{self, Job};
use flitchwork::measure::{Length, Units};
use flitchwork::milling::{Milled, mill};
use flitchwork::nesting::{BoardStock, Kind};
use flitchwork::pile::{self, Pile};
use flitchwork::plan::{Node, Options, Role, ShopPlan, Status, make};
use serde_json::{Value, json};

fn inches(text: &str) -> Length {
    Length::parse(text, Units::Inches).expect("a length in inches")
}

fn job(parts: Value, shop: Value) -> Job {
    let file = json!({ "format": "flitchwork.job/1", "units": "in", "title": "facts", "shop": shop, "parts": parts });
    job::file::read_json("job.json", &file.to_string(), None).expect("a good job")
}

fn cherry(board: Value) -> Pile {
    let mut board = board;
    board["id"] = json!("C-01");
    board["species"] = json!("cherry");
    board["cost"] = json!(40);
    pile_of(json!({ "boards": [board] }))
}

fn pile_of(lists: Value) -> Pile {
    let mut file = lists;
    file["format"] = json!("flitchwork.pile/1");
    file["units"] = json!("in");
    pile::file::read_json("pile.json", &file.to_string()).expect("a good pile")
}

fn plan(job: &Job, pile: &Pile) -> ShopPlan {
    let options = Options { seconds: None, work: Some(60), gap: 0.0, seed: 1, threads: 1 };
    make(job, pile, &options, &AtomicBool::new(false), &|_| ()).expect("a lawful plan")
}

fn complete(job: &Job, pile: &Pile) -> bool {
    plan(job, pile).status == Status::Complete
}

/// Nodes of a role in a plan, in order.
fn nodes(plan: &ShopPlan, role: Role) -> Vec<&Node<Length>> {
    fn walk<'a>(node: &'a Node<Length>, role: Role, found: &mut Vec<&'a Node<Length>>) {
        if node.role == Some(role) {
            found.push(node);
        }
        node.children.iter().for_each(|child| walk(child, role, found));
    }
    let mut found = Vec::new();
    plan.stock.iter().for_each(|stock| walk(&stock.tree, role, &mut found));
    found
}

/// The one board of a milled problem; `None` when nothing can be cut from it.
fn board(milled: &Milled) -> Option<&BoardStock> {
    match milled.problem.stock.as_slice() {
        [] => None,
        [stock] => match &stock.kind {
            Kind::Board(board) => Some(board),
            other => panic!("the pile holds one board, not {other:?}"),
        },
        more => panic!("the pile holds one board, not {}", more.len()),
    }
}

#[test]
fn common_practice_a_two_inch_leg_is_glued_from_two_layers_of_plump_five_quarter_and_not_of_four_quarter() {
    let legs = |layers: u32| {
        job(
            json!([{ "id": "leg", "qty": 1, "species": "cherry", "thickness": 2, "width": 2, "length": 27,
                "lamination": { "layers": layers } }]),
            json!({}),
        )
    };
    let stock = |thickness: &str| cherry(json!({ "thickness": thickness, "width": 6, "length": 72 }));
    // (2 + 1/16) / 2 = 1 1/32 a layer, and 1/16 off each face: 1 5/32 at the least. 5/4 kiln-dried is 1 3/16, 4/4 is 1.
    assert!(complete(&legs(2), &stock("1 3/16")));
    assert!(complete(&legs(2), &stock("1 5/32")));
    assert!(!complete(&legs(2), &stock("1 1/8")));
    assert!(!complete(&legs(2), &stock("1")));
    // From 4/4 it takes three: (2 + 1/16) / 3 = 11/16, 13/16 with both faces.
    assert!(complete(&legs(3), &stock("1")));
}

#[test]
fn common_practice_a_quarter_inch_tenon_at_each_end_lengthens_the_blank_by_half_an_inch() {
    let blank = |tenons: Value| {
        let rail = json!([{ "id": "rail", "species": "cherry", "thickness": "3/4", "width": 3, "length": 20, "tenons": tenons }]);
        let plan = plan(&job(rail, json!({})), &cherry(json!({ "thickness": 1, "width": 6, "length": 60 })));
        let blanks = nodes(&plan, Role::Blank);
        assert_eq!(blanks.len(), 1);
        (blanks[0].length, blanks[0].net.as_ref().expect("a finished piece").length)
    };
    // 20 in between shoulders, 1/2 in of allowance.
    assert_eq!(blank(json!([0, 0])), (inches("20 1/2"), inches("20")));
    assert_eq!(blank(json!(["1/4", "1/4"])), (inches("21"), inches("20 1/2")));
    assert_eq!(blank(json!(["1/2", 0])), (inches("21"), inches("20 1/2")));
}

#[test]
fn common_practice_sixteen_inch_long_pieces_come_from_eighteen_inches_under_an_eighth_inch_saw() {
    let sticks = |length: &str, qty: u32| {
        let pegs =
            json!([{ "id": "peg", "qty": qty, "material": "ash square", "thickness": 1, "width": 1, "length": 1 }]);
        let pile = pile_of(json!({ "sticks": [{ "id": "S", "material": "ash square", "thickness": 1, "width": 1,
            "length": length, "cost": 5 }] }));
        complete(&job(pegs, json!({ "trim": { "stick": 0 }, "kerf": { "crosscut": "1/8" } })), &pile)
    };
    // 16 pieces and 15 kerfs between them: 16 + 15/8 = 17 7/8. A seventeenth needs 17 + 16/8 = 19.
    assert!(sticks("18", 16) && !sticks("18", 17));
    assert!(sticks("17 7/8", 16) && !sticks("17 55/64", 16));
    assert!(sticks("19", 17));
}

#[test]
fn common_practice_a_bowed_board_serves_short_parts_and_no_long_ones() {
    let slats = |length: u32| {
        job(
            json!([{ "id": "slat", "species": "cherry", "thickness": "13/16", "width": 3, "length": length }]),
            json!({ "warp": { "factor": 1 }, "trim": { "board_end": 0, "snipe": 0 }, "allowance": { "length": 0 } }),
        )
    };
    let stock = |bow: &str| cherry(json!({ "thickness": 1, "width": 6, "length": 96, "warp": { "bow": bow } }));
    // 1 - 2/16 - 13/16 leaves 1/16 to flatten with. A bow of 1/4 in 96 in is 1/16 in 48 in: a quarter at half the length.
    assert!(complete(&slats(48), &stock("1/4")));
    assert!(!complete(&slats(49), &stock("1/4")));
    assert!(complete(&slats(96), &stock("1/16")));
    assert!(!complete(&slats(96), &stock("5/64")));
    // A quarter of the length keeps a sixteenth of the bow: a whole inch of it serves 24 in.
    assert!(complete(&slats(24), &stock("1")) && !complete(&slats(25), &stock("1")));
}

#[test]
fn common_practice_parts_shorter_than_the_planer_takes_are_ganged_in_one_section_and_never_planed_alone() {
    let blocks = |qty: u32| {
        job(
            json!([{ "id": "block", "qty": qty, "species": "cherry", "thickness": "3/4", "width": 3, "length": 4 }]),
            json!({ "machine": { "min_length": 14, "min_rip_length": 0 } }),
        )
    };
    let plan = plan(&blocks(4), &cherry(json!({ "thickness": 1, "width": "3 1/2", "length": 60 })));
    assert_eq!(plan.status, Status::Complete);
    let sections = nodes(&plan, Role::Section);
    // Four blanks of 4 1/2 in, three kerfs and 3 in of snipe at both ends lie in one section; two sections would be dearer
    // in snipe. However they lie, none is under the planer's 14 in.
    assert_eq!(nodes(&plan, Role::Blank).len(), 4);
    assert!(sections.len() < 4 && sections.iter().all(|section| section.length >= inches("14")), "{sections:?}");
    // A board that holds the block but no section of 14 in is of no use: 13 in between its trimmed ends.
    assert!(!complete(&blocks(1), &cherry(json!({ "thickness": 1, "width": "3 1/2", "length": 15 }))));
    assert!(complete(&blocks(1), &cherry(json!({ "thickness": 1, "width": "3 1/2", "length": 16 }))));
}

#[test]
fn common_practice_the_planers_snipe_is_kept_out_of_every_blank() {
    let rails = job(
        json!([{ "id": "rail", "qty": 2, "species": "cherry", "thickness": "3/4", "width": 3, "length": 20 }]),
        json!({ "trim": { "snipe": 3 } }),
    );
    let whole = plan(&rails, &cherry(json!({ "thickness": 1, "width": "3 1/2", "length": "49 1/8" })));
    // 1 + 3 + 20 1/2 + 1/8 + 20 1/2 + 3 + 1 = 49 1/8, and not a hair less.
    assert_eq!(whole.status, Status::Complete);
    for section in nodes(&whole, Role::Section) {
        for strip in &section.children {
            for blank in &strip.children {
                assert!(blank.x - section.x >= inches("3"));
                assert!(section.x + section.length - blank.x - blank.length >= inches("3"));
            }
        }
    }
    assert!(!complete(&rails, &cherry(json!({ "thickness": 1, "width": "3 1/2", "length": "49 7/64" }))));
    // Bought planed to size, it is not planed again and has no snipe: 43 1/8 in do.
    let planed = cherry(json!({ "thickness": "3/4", "surfaced": "s4s", "width": "3 1/2", "length": "43 1/8" }));
    assert!(complete(&rails, &planed));
}

#[test]
fn common_practice_thick_stock_may_be_planed_down_for_a_thin_part() {
    let slat =
        job(json!([{ "id": "slat", "species": "cherry", "thickness": "3/8", "width": 3, "length": 20 }]), json!({}));
    assert!(complete(&slat, &cherry(json!({ "thickness": 2, "width": 6, "length": 60 }))));
}

#[test]
fn common_practice_a_thick_blank_is_resawn_into_two_leaves_where_the_shop_resaws() {
    let panels = |resaw_height: u32| {
        job(
            json!([{ "id": "leaf", "qty": 2, "species": "cherry", "thickness": "1/4", "width": 5, "length": 18 }]),
            json!({ "machine": { "resaw_height": resaw_height } }),
        )
    };
    // One blank's room only: 1 + 3 + 18 1/2 + 3 + 1.
    let stock = |thickness: &str| cherry(json!({ "thickness": thickness, "width": "5 1/2", "length": "26 1/2" }));
    // 2 x (1/4 + 3/32) + 1/16 of kerf = 3/4.
    assert!(complete(&panels(6), &stock("3/4")));
    assert!(!complete(&panels(6), &stock("47/64")));
    assert!(!complete(&panels(0), &stock("3/4")));
    // The blank is 5 1/8 in wide: it does not go under a saw of 5 in.
    assert!(!complete(&panels(5), &stock("3/4")));
    let plan = plan(&panels(6), &stock("3/4"));
    let blanks = nodes(&plan, Role::Blank);
    assert_eq!((blanks.len(), blanks[0].leaves.len()), (1, 2));
    assert_eq!(blanks[0].leaves.iter().map(|leaf| leaf.copy).collect::<Vec<_>>(), [1, 2]);
}

#[test]
fn common_practice_a_board_wider_than_the_jointer_is_ripped_before_it_is_flattened() {
    let shelf = |width: u32| {
        job(
            json!([{ "id": "shelf", "species": "cherry", "thickness": "13/16", "width": width, "length": 30 }]),
            json!({ "machine": { "jointer_width": 6 }, "warp": { "factor": 1 } }),
        )
    };
    let cupped = cherry(json!({ "thickness": 1, "width": 10, "length": 60, "warp": { "cup": "1/8" } }));
    // Flat to 1/16: whole, 1/8 of cup is too much; a strip of 4 1/8 keeps (4 1/8 / 10)^2 of it, 0.021 in.
    assert!(complete(&shelf(4), &cupped));
    // A strip of 6 1/8 does not go over the jointer, flat or not.
    assert!(!complete(&shelf(6), &cupped));
    let narrow = cherry(json!({ "thickness": 1, "width": 6, "length": 60, "warp": { "cup": "1/8" } }));
    // Six inches wide it goes over the jointer whole, and loses its whole cup.
    assert!(!complete(&shelf(4), &narrow));
}

#[test]
fn a_part_that_fits_no_board_leaves_the_optimiser_nothing_to_cut() {
    let leg = job(json!([{ "id": "leg", "species": "cherry", "thickness": 2, "width": 2, "length": 27 }]), json!({}));
    assert!(board(&mill(&leg, &cherry(json!({ "thickness": 1, "width": 6, "length": 60 })), &[1])).is_none());
    let milled = mill(&leg, &cherry(json!({ "thickness": "2 1/4", "width": 6, "length": 60 })), &[1]);
    let cuttings = &board(&milled).expect("2 1/4 in of cherry holds a leg").cuttings;
    // 2 in and 1/8 across, 27 in and 1/2 along.
    assert_eq!((cuttings.len(), cuttings[0].width), (1, inches("2 1/8").ticks()));
    assert_eq!(cuttings[0].length, inches("27 1/2").ticks());
}
