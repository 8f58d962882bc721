//! Panels from the files to the glue-up sheet: what a maker checks with a tape, worked out by hand.

use std::sync::atomic::AtomicBool;

use flitchwork::measure::{Length, Units};
use flitchwork::pile::Face;
use flitchwork::plan::check::check;
use flitchwork::plan::{GlueKind, GlueSheet, GlueUp, Node, Options, Role, ShopPlan, Status, make};
use flitchwork::{job, pile};
use serde_json::{Value, json};

fn inch(n: i64, d: i64) -> Length {
    Length::from_inch_fraction(n, d)
}

fn board(id: &str, width: f64, length: f64) -> Value {
    json!({ "id": id, "species": "cherry", "thickness": 1.25, "width": width, "length": length, "cost": 40 })
}

fn panel(width: f64, length: f64, panel: Value) -> Value {
    json!({ "id": "top", "species": "cherry", "thickness": 0.875, "width": width, "length": length, "panel": panel })
}

/// A checked plan.
fn planned(shop: Value, parts: Vec<Value>, boards: Vec<Value>) -> ShopPlan {
    let job = json!({ "format": "flitchwork.job/1", "units": "in", "shop": shop, "parts": parts }).to_string();
    let pile = json!({ "format": "flitchwork.pile/1", "units": "in", "boards": boards }).to_string();
    let job = job::file::read_json("job.json", &job, None).expect("a good job");
    let pile = pile::file::read_json("pile.json", &pile).expect("a good pile");
    let options = Options { seconds: None, work: Some(120), ..Options::default() };
    let plan = make(&job, &pile, &options, &AtomicBool::new(false), &|_| ()).expect("a plan");
    assert_eq!(check(&job, &pile, &plan), []);
    plan
}

fn free() -> Value {
    json!({ "stave_min": 2.5, "stave_max": 5.5 })
}

fn only(plan: &ShopPlan) -> (&GlueUp<Length>, &GlueSheet<Length>) {
    assert_eq!(plan.status, Status::Complete);
    let [glueup] = &plan.glueups[..] else { panic!("{} glue-ups", plan.glueups.len()) };
    (glueup, glueup.sheet.as_ref().expect("our glue-ups have their sheet"))
}

fn blanks<'a>(node: &'a Node<Length>, found: &mut Vec<&'a Node<Length>>) {
    if node.role == Some(Role::Blank) {
        found.push(node);
    }
    node.children.iter().for_each(|child| blanks(child, found));
}

/// Common practice: a joint costs a sixteenth of an inch on each edge, so a stave is ripped 1/8 in wider than it counts.
#[test]
fn a_stave_is_ripped_an_eighth_wider_than_it_counts_and_an_inch_longer_than_the_panel() {
    let plan = planned(json!({}), vec![panel(14.0, 30.0, free())], vec![board("A", 8.0, 80.0), board("B", 8.0, 80.0)]);
    let (glueup, _) = only(&plan);
    let mut found = Vec::new();
    plan.stock.iter().for_each(|stock| blanks(&stock.tree, &mut found));
    assert_eq!(found.len(), glueup.members.len());
    for blank in found {
        let net = blank.net.expect("a blank has its net");
        assert_eq!((blank.width - net.width, blank.length), (inch(1, 8), inch(31, 1)));
        assert!(net.width >= inch(5, 2) && net.width <= inch(11, 2));
    }
}

/// By hand: 14 in and 1/4 to trim; 30 in and 1 in; 7/8 and 1/16 in. Clamps no more than 8 in apart over 31 in stand at
/// five places.
#[test]
fn the_sheet_says_what_comes_out_of_the_clamps_and_what_is_trimmed() {
    let plan = planned(json!({}), vec![panel(14.0, 30.0, free())], vec![board("A", 8.0, 80.0), board("B", 8.0, 80.0)]);
    let (glueup, sheet) = only(&plan);
    let sum: Length = glueup.members.iter().filter_map(|member| member.net_width).sum();
    assert_eq!((glueup.kind, sheet.glued.width), (GlueKind::Panel, sum));
    assert_eq!((sheet.glued.length, sheet.glued.thickness), (inch(31, 1), inch(15, 16)));
    assert_eq!((sheet.trimmed.length, sheet.trimmed.width), (inch(30, 1), inch(14, 1)));
    assert_eq!((sheet.to_trim, sheet.excess), (sum - inch(14, 1), sum - inch(57, 4)));
    assert!(sheet.excess < inch(5, 2), "a stave could be left out");
    assert_eq!((sheet.joints as usize, sheet.clamps_in_row, sheet.clamp_rows), (glueup.members.len() - 1, 5, 1));
    let area = 31.0 * 0.9375 * f64::from(sheet.joints);
    assert!((sheet.glue_area - area).abs() < 0.01, "{}", sheet.glue_area);
    assert!(sheet.steps.iter().any(|step| step.contains("over and under in turn")), "{:?}", sheet.steps);
}

/// National Wood Flooring Association, technical note on the dimensional change coefficient: 5 in of flat-sawn red oak
/// grow 0.08856 in from 6.2 to 11.0 percent, which is 30 to 60 percent of humidity at 70 F. The formula of the
/// equilibrium gives 10.97 percent, hence the tolerance.
#[test]
fn a_red_oak_panel_grows_from_the_driest_season_as_published() {
    let oak = json!({ "id": "O", "species": "red oak", "thickness": 1.25, "width": 8, "length": 60, "cost": 9 });
    let mut top = panel(5.0, 30.0, json!({ "stave_min": 2, "stave_max": 4 }));
    top["species"] = json!("red oak");
    let plan = planned(json!({ "climate": { "build_moisture": 6.2 } }), vec![top], vec![oak]);
    let movement = only(&plan).1.movement.expect("red oak moves");
    assert!(!movement.quartersawn);
    assert!((movement.damp_change.to_f64(Units::Inches) - 0.08856).abs() < 0.001, "{movement:?}");
    assert_eq!((movement.dry, movement.damp), (6.2, 11.0));
}

#[test]
fn a_panel_wider_than_the_planer_is_glued_in_parts_that_are_not() {
    let boards = (0..4).map(|i| board(&format!("B{i}"), 7.0, 76.0)).collect();
    let plan = planned(json!({}), vec![panel(20.0, 30.0, free())], boards);
    let (glueup, sheet) = only(&plan);
    let step = sheet.steps.iter().find(|step| step.starts_with("Wider than the planer")).expect("the advice");
    assert!(step.contains("each under 13\"") && step.contains(&format!("{} (", glueup.members.len())), "{step}");
}

#[test]
fn a_panel_shorter_than_the_planer_takes_is_glued_long() {
    let plan = planned(json!({}), vec![panel(9.0, 11.0, free())], vec![board("A", 8.0, 60.0)]);
    let steps = &only(&plan).1.steps;
    assert!(steps.iter().any(|step| step.contains("glue it long, plane, crosscut")), "{steps:?}");
}

/// Common practice: hearts alternate, so that the cups of the staves cancel.
#[test]
fn hearts_alternate_where_the_boards_say_where_they_are() {
    let with_heart = |id, heart| {
        let mut board = board(id, 8.0, 80.0);
        board["heart"] = json!(heart);
        board
    };
    let plan =
        planned(json!({}), vec![panel(14.0, 30.0, free())], vec![with_heart("A", "top"), with_heart("B", "bottom")]);
    let (glueup, _) = only(&plan);
    let up: Vec<bool> = glueup
        .members
        .iter()
        .map(|member| member.face_up == Some(if member.stock == "A" { Face::Top } else { Face::Bottom }))
        .collect();
    assert!(up.len() > 1 && up.windows(2).all(|pair| pair[0] != pair[1]), "{up:?}");
}

#[test]
fn a_panel_from_one_board_takes_none_of_its_staves_from_another() {
    // The two narrow boards together would be cheaper than the wide one.
    let mut narrow = [board("A", 5.0, 34.0), board("B", 5.0, 34.0)];
    narrow.iter_mut().for_each(|board| board["cost"] = json!(10));
    let parts = || vec![panel(8.0, 28.0, json!({ "stave_min": 2.5, "stave_max": 5.5, "max_boards": 1 }))];
    let [a, b] = narrow;
    let plan = planned(json!({ "trim": { "snipe": 0 } }), parts(), vec![a, b, board("C", 10.0, 34.0)]);
    let (glueup, _) = only(&plan);
    assert!(glueup.members.iter().all(|member| member.stock == "C"), "{:?}", glueup.members);
}

#[test]
fn equal_staves_are_as_many_and_as_wide_as_is_cheapest() {
    let boards = vec![board("A", 5.0, 80.0), board("B", 5.0, 80.0)];
    let plan =
        planned(json!({}), vec![panel(15.0, 30.0, json!({ "stave_min": 2, "stave_max": 5, "equal": true }))], boards);
    let (glueup, _) = only(&plan);
    // Four staves of 3 13/16 in come from two lengths of each board; three of 5 1/16 in are too wide, five need a third.
    let widths: Vec<Option<Length>> = glueup.members.iter().map(|member| member.net_width).collect();
    assert_eq!(widths, [Some(inch(61, 16)); 4]);
}

#[test]
fn a_panel_that_the_pile_cannot_make_is_explained_and_what_to_buy_is_said() {
    let parts = vec![panel(14.0, 60.0, free())];
    let plan = planned(json!({}), parts, vec![board("A", 8.0, 50.0)]);
    let [short] = &plan.shortages[..] else { panic!("{:?}", plan.shortages) };
    assert!(short.why.contains("the longest clear run of that width"), "{}", short.why);
    assert!(short.why.contains("which add up to 14 1/4 in"), "{}", short.why);
    assert!(short.buy.contains("the staves of one copy add up to 14 1/4 in net"), "{}", short.buy);
    assert_eq!(plan.glueups, []);
}

/// Of five numbers of equal staves the four that promise most are planned.
#[test]
fn what_one_number_of_staves_cannot_make_is_proven_missing_only_when_none_can() {
    let small = || vec![board("A", 5.0, 40.0)];
    let wanted = |equal: bool| panel(15.0, 30.0, json!({ "stave_min": 2, "stave_max": 5, "equal": equal }));
    let plan = planned(json!({}), vec![wanted(true)], small());
    assert_eq!(
        (plan.shortages.len(), plan.shortages[0].proven),
        (1, false),
        "five numbers of staves, four are planned"
    );
    let plan = planned(json!({}), vec![wanted(false)], small());
    assert_eq!((plan.shortages.len(), plan.shortages[0].proven), (1, true));
}
