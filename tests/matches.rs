//! Matched parts from the files to the plan: one board, one strip, neighbouring strips; kept whole, or broken at a price.

use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use flitchwork::measure::{Length, Money};
use flitchwork::plan::check::check;
use flitchwork::plan::{Node, Options, Role, ShopPlan, Status, make};
use flitchwork::{job, pile};
use proptest::prelude::*;
use proptest::test_runner::{Config, TestRunner};
use rstest::rstest;
use serde_json::{Value, json};

fn board(id: &str, width: f64, length: f64) -> Value {
    json!({ "id": id, "species": "ash", "thickness": 1.25, "width": width, "length": length, "cost": 40 })
}

fn part(id: &str, qty: u32, width: f64, length: f64, matching: Value) -> Value {
    let mut part =
        json!({ "id": id, "qty": qty, "species": "ash", "thickness": 0.875, "width": width, "length": length });
    if !matching.is_null() {
        part["match"] = matching;
    }
    part
}

/// The checked plan of a job and a pile; `more` is what the job says beside its parts, if anything.
fn plan_of(parts: Vec<Value>, more: &Value, stock: &Value, work: u64) -> ShopPlan {
    let mut job = json!({ "format": "flitchwork.job/1", "units": "in", "parts": parts });
    let mut pile = json!({ "format": "flitchwork.pile/1", "units": "in" });
    for (file, fields) in [(&mut job, more), (&mut pile, stock)] {
        fields.as_object().into_iter().flatten().for_each(|(name, value)| file[name] = value.clone());
    }
    let job = job::file::read_json("job.json", &job.to_string(), None).expect("a good job");
    let pile = pile::file::read_json("pile.json", &pile.to_string()).expect("a good pile");
    let options = Options { seconds: None, work: Some(work), ..Options::default() };
    let plan = make(&job, &pile, &options, &AtomicBool::new(false), &|_| ()).expect("a plan");
    assert_eq!(check(&job, &pile, &plan), []);
    assert!(plan.bound <= plan.cost);
    plan
}

/// A checked plan from boards.
fn planned(parts: Vec<Value>, boards: Vec<Value>) -> ShopPlan {
    plan_of(parts, &Value::Null, &json!({ "boards": boards }), 400)
}

/// Part, copy, stock, x, y of every blank.
fn blanks(plan: &ShopPlan) -> Vec<(String, u32, String, Length, Length)> {
    fn visit(node: &Node<Length>, stock: &str, found: &mut Vec<(String, u32, String, Length, Length)>) {
        if let (Some(Role::Blank), Some(part)) = (node.role, &node.part) {
            found.push((part.clone(), node.copy.expect("a copy"), stock.to_owned(), node.x, node.y));
        }
        node.children.iter().for_each(|child| visit(child, stock, found));
    }
    let mut found = Vec::new();
    plan.stock.iter().for_each(|stock| visit(&stock.tree, &stock.id, &mut found));
    found
}

fn inch(n: i64, d: i64) -> Length {
    Length::from_inch_fraction(n, d)
}

/// Stock, copy, and the way along from the first, of blanks in the order they lie in.
fn in_line(found: &[(String, u32, String, Length, Length)]) -> Vec<(&str, u32, Length)> {
    found.iter().map(|(_, copy, stock, x, _)| (stock.as_str(), *copy, *x - found[0].3)).collect()
}

/// Two boards of 40 in would do at less cost than one of 100 in: three fronts of 20 in in a row need 61 3/4 in and the ends.
#[test]
fn drawer_fronts_lie_end_to_end_in_one_strip_a_kerf_apart() {
    let mut boards =
        vec![board("S1", 7.0, 34.0), board("S2", 7.0, 34.0), board("S3", 7.0, 34.0), board("L", 7.0, 76.0)];
    boards[3]["cost"] = json!(200);
    let plan = planned(vec![part("front", 3, 6.0, 20.0, json!({ "group": "fronts", "rule": "run" }))], boards);
    assert_eq!(plan.status, Status::Complete);
    let step = inch(205, 10) + inch(1, 8);
    assert_eq!(in_line(&blanks(&plan)), [("L", 1, Length::ZERO), ("L", 2, step), ("L", 3, step * 2)]);
}

/// A knot from 49 to 51 leaves no room for the row without a gap: 61 3/4 in on neither side of it. With the knot between two of
/// its pieces there is, and no more is wasted there than the knot, its margins, the allowances and a quarter inch.
#[test]
fn a_row_may_have_a_defect_in_a_gap_and_no_waste_anywhere_else() {
    let mut flawed = board("K", 7.0, 100.0);
    flawed["defects"] = json!([{ "kind": "knot", "x": 49, "y": 0, "length": 2, "width": 7 }]);
    let plan = planned(vec![part("front", 3, 6.0, 20.0, json!({ "group": "fronts", "rule": "run" }))], vec![flawed]);
    assert_eq!((plan.status, plan.pieces_placed), (Status::Complete, 3));
    let mut at: Vec<Length> = blanks(&plan).iter().map(|blank| blank.3).collect();
    at.sort_unstable();
    let step = inch(205, 10) + inch(1, 8);
    let gaps: Vec<Length> = at.windows(2).map(|pair| pair[1] - pair[0] - step).collect();
    assert!(gaps.contains(&Length::ZERO), "{gaps:?}");
    let knot = gaps.iter().find(|gap| **gap > Length::ZERO).expect("one gap holds the knot");
    assert!(*knot > inch(15, 10) && *knot < inch(3, 1), "{knot:?}");
}

/// Two of the three come from either board, and all three from both.
#[test]
fn a_row_that_no_board_holds_is_not_made_and_the_nearest_is_named() {
    let fronts = part("front", 3, 6.0, 20.0, json!({ "group": "fronts", "rule": "run" }));
    let plan = planned(vec![fronts], vec![board("K", 7.0, 60.0), board("M", 7.0, 60.0)]);
    assert_eq!((plan.status, plan.pieces_placed), (Status::Short, 0));
    let [short] = &plan.shortages[..] else { panic!("{:?}", plan.shortages) };
    assert!(short.why.contains("end to end in one strip, 61 3/4 in long and 6 1/8 in wide together"), "{}", short.why);
    assert!(short.why.contains("the nearest, K, gives 2 of them"), "{}", short.why);
    assert!(!short.proven);
}

#[test]
fn a_door_pair_lies_in_neighbouring_strips_of_one_section() {
    let parts = vec![
        part("door", 2, 4.0, 30.0, json!({ "group": "pair", "rule": "side" })),
        part("rail", 2, 2.0, 20.0, Value::Null),
    ];
    let plan = planned(parts, vec![board("N1", 5.0, 80.0), board("N2", 5.0, 80.0), board("W", 9.0, 80.0)]);
    assert_eq!(plan.status, Status::Complete);
    let doors: Vec<_> = blanks(&plan).into_iter().filter(|blank| blank.0 == "door").collect();
    let [(_, _, one, x1, y1), (_, _, two, x2, y2)] = &doors[..] else { panic!("{doors:?}") };
    assert_eq!((one.as_str(), two.as_str(), x1 == x2), ("W", "W", true));
    // 4 in and 1/8 in of allowance, and the saw.
    assert_eq!(*y2 - *y1, inch(17, 4));
}

/// Six short pieces fill both narrow boards for the price of one wide; matched they come from the wide one.
#[rstest]
#[case::unmatched(Value::Null, 80)]
#[case::matched(json!({ "group": "set", "rule": "board" }), 90)]
fn one_board_is_used_where_two_would_be_cheaper(#[case] matching: Value, #[case] cost: i64) {
    let mut boards = vec![board("N1", 4.5, 80.0), board("N2", 4.5, 80.0), board("W", 9.0, 80.0)];
    boards[2]["cost"] = json!(90);
    let plan = planned(vec![part("slat", 6, 4.0, 22.0, matching)], boards);
    assert_eq!(plan.status, Status::Complete);
    let stock: i64 = plan.stock.iter().map(|stock| stock.cost.cents_floor() / 100).sum();
    assert_eq!(stock, cost);
}

#[test]
fn the_layers_of_each_leg_come_from_one_board_and_the_legs_from_any() {
    let mut leg = part("leg", 4, 2.0, 27.0, json!({ "group": "leg", "rule": "board", "scope": "copy" }));
    leg["thickness"] = json!(2);
    leg["lamination"] = json!({ "layers": 2 });
    let boards = (0..5).map(|i| board(&format!("B{i}"), 5.25, 40.0)).collect();
    let plan = planned(vec![leg], boards);
    assert_eq!(plan.status, Status::Complete);
    for copy in 1..=4 {
        let mut of_copy: Vec<_> =
            blanks(&plan).into_iter().filter(|blank| blank.1 == copy).map(|blank| blank.2).collect();
        of_copy.dedup();
        assert_eq!(of_copy.len(), 1, "leg {copy}");
    }
}

/// The staves of both leaves and of the top come from one board: three panels, one group.
#[test]
fn panels_of_one_group_are_glued_up_from_one_board() {
    let group = json!({ "group": "top", "rule": "board" });
    let of = |id, qty, width| {
        let mut panel = part(id, qty, width, 20.0, group.clone());
        panel["panel"] = json!({ "stave_min": 2, "stave_max": 5 });
        panel
    };
    let boards = vec![board("A", 8.0, 60.0), board("B", 8.0, 60.0), board("C", 8.0, 60.0), board("LONG", 8.5, 140.0)];
    let plan = planned(vec![of("top", 1, 16.0), of("leaf", 2, 8.0)], boards);
    assert_eq!(plan.status, Status::Complete);
    assert!(blanks(&plan).iter().all(|blank| blank.2 == "LONG"), "{:?}", blanks(&plan));
}

#[test]
fn the_staves_of_a_panel_may_run_end_to_end_in_one_strip() {
    let mut panel = part("top", 1, 12.0, 20.0, json!({ "group": "top", "rule": "run", "scope": "copy" }));
    panel["panel"] = json!({ "stave_min": 2, "stave_max": 5 });
    let plan = planned(vec![panel], vec![board("A", 6.0, 80.0)]);
    let found = blanks(&plan);
    assert_eq!((plan.status, found.len()), (Status::Complete, 3));
    assert!(found.iter().all(|blank| blank.4 == found[0].4));
}

/// Keeping the match costs a board of 90 against two of 40: worth 5 it is broken, worth 50 it is kept.
#[rstest]
#[case::cheap(5, 85, 5)]
#[case::dear(50, 90, 0)]
fn a_wish_is_broken_when_that_is_cheaper(#[case] worth: i64, #[case] cost: i64, #[case] broken: i64) {
    let mut boards = vec![board("N1", 4.5, 80.0), board("N2", 4.5, 80.0), board("W", 9.0, 80.0)];
    boards[2]["cost"] = json!(90);
    let wish = json!({ "group": "set", "rule": "board", "worth": worth });
    let plan = planned(vec![part("slat", 6, 4.0, 22.0, wish)], boards);
    let whole = |money: &Money| money.cents_floor() / 100;
    let credit: i64 = plan.stock.iter().map(|stock| whole(&stock.credit)).sum();
    assert_eq!((whole(&plan.cost) + credit, whole(&plan.broken)), (cost, broken));
    assert!(plan.bound <= plan.cost);
}

/// A group that cannot be kept is left out as a whole; the rest of the job is made.
#[test]
fn a_group_is_made_whole_or_not_at_all() {
    let parts = vec![
        part("front", 4, 4.0, 22.0, json!({ "group": "fronts", "rule": "board" })),
        part("back", 4, 4.0, 22.0, Value::Null),
    ];
    let plan = planned(parts, vec![board("N1", 4.5, 80.0), board("N2", 4.5, 80.0), board("N3", 4.5, 80.0)]);
    assert_eq!((plan.status, plan.pieces_placed), (Status::Short, 4));
    assert!(blanks(&plan).iter().all(|blank| blank.0 == "back"));
    let [short] = &plan.shortages[..] else { panic!("{:?}", plan.shortages) };
    assert!(
        short.why.contains("all its 4 pieces from one board or sheet") && short.why.contains("gives 3 of them"),
        "{}",
        short.why
    );
}

#[test]
fn a_match_of_sheet_parts_comes_from_one_sheet() {
    let sheets = vec![sheet("HALF", 48.0, 48.0, 30), sheet("HALF-2", 48.0, 48.0, 30), sheet("FULL", 96.0, 48.0, 92)];
    let plan = planned_flat(vec![ply("side", 4, 20.0, 30.0, Some("board"))], sheets, vec![]);
    assert!(blanks(&plan).iter().all(|blank| blank.2 == "FULL"));
}

fn ply(id: &str, qty: u32, width: f64, length: f64, rule: Option<&str>) -> Value {
    let mut part =
        json!({ "id": id, "qty": qty, "material": "ply", "thickness": 0.75, "width": width, "length": length });
    if let Some(rule) = rule {
        part["match"] = json!({ "group": "set", "rule": rule });
    }
    part
}

fn sheet(id: &str, length: f64, width: f64, cost: u32) -> Value {
    json!({ "id": id, "material": "ply", "thickness": 0.75, "length": length, "width": width, "grain": "length",
        "cost": cost })
}

fn edging(id: &str, qty: u32, length: f64, rule: Option<&str>) -> Value {
    Value::Object(
        ply(id, qty, 0.75, length, rule)
            .as_object()
            .expect("a part")
            .clone()
            .into_iter()
            .chain([("material".to_owned(), json!("edging")), ("thickness".to_owned(), json!(0.25))])
            .collect(),
    )
}

fn stick(id: &str, length: f64, cost: u32) -> Value {
    json!({ "id": id, "material": "edging", "thickness": 0.25, "width": 0.75, "length": length, "cost": cost })
}

/// A checked plan from sheets and sticks.
fn planned_flat(parts: Vec<Value>, sheets: Vec<Value>, sticks: Vec<Value>) -> ShopPlan {
    plan_of(parts, &Value::Null, &json!({ "sheets": sheets, "sticks": sticks }), 4000)
}

/// Two sheets of 48 in at 30 would give three fronts of 20 in more cheaply; in a row they take 60 1/4 in and the trims.
#[test]
fn fronts_of_plywood_lie_end_to_end_in_one_strip_of_a_sheet() {
    let sheets = vec![sheet("S1", 48.0, 14.0, 30), sheet("S2", 48.0, 14.0, 30), sheet("L", 66.0, 12.0, 90)];
    let free = planned_flat(vec![ply("front", 3, 6.0, 20.0, None)], sheets.clone(), vec![]);
    assert!(blanks(&free).iter().all(|blank| blank.2 == "S1"), "four of them fit one short sheet");
    let plan = planned_flat(vec![ply("front", 3, 6.0, 20.0, Some("run"))], sheets, vec![]);
    assert_eq!(plan.status, Status::Complete);
    let step = inch(20, 1) + inch(1, 8);
    assert_eq!(in_line(&blanks(&plan)), [("L", 1, Length::ZERO), ("L", 2, step), ("L", 3, step * 2)]);
}

/// A door pair beside each other with the grain up: 18 + 1/8 + 18 in across, so not from the sheet 36 in wide, though both
/// doors come from it one after the other.
#[test]
fn a_door_pair_of_plywood_lies_side_by_side() {
    let sheets = vec![sheet("NARROW", 96.0, 36.0, 60), sheet("WIDE", 48.0, 48.0, 90)];
    let plan = planned_flat(vec![ply("door", 2, 18.0, 30.0, Some("side"))], sheets, vec![]);
    let found = blanks(&plan);
    assert_eq!((found.len(), found[0].2.as_str(), found[1].2.as_str()), (2, "WIDE", "WIDE"));
    assert_eq!((found[1].3 - found[0].3, found[1].4 - found[0].4), (Length::ZERO, inch(18, 1) + inch(1, 8)));
}

/// The row of edging needs 4 x 20 in and three kerfs; the sticks of 48 in would be cheaper.
#[test]
fn a_row_of_edging_comes_from_one_stick_in_the_order_of_the_copies() {
    let sticks = vec![stick("A", 48.0, 4), stick("B", 48.0, 4), stick("C", 96.0, 30)];
    let parts = vec![edging("edge", 4, 20.0, Some("run")), edging("stub", 4, 20.0, None)];
    let plan = planned_flat(parts, vec![], sticks);
    assert_eq!(plan.status, Status::Complete);
    let edges: Vec<_> = blanks(&plan).into_iter().filter(|blank| blank.0 == "edge").collect();
    let step = inch(20, 1) + inch(1, 8);
    assert_eq!(in_line(&edges), [("C", 1, Length::ZERO), ("C", 2, step), ("C", 3, step * 2), ("C", 4, step * 3)]);
}

/// Three of the four fit; beside each other nothing lies on a stick.
#[rstest]
#[case::a_row_longer_than_any_sheet(
    ply("front", 4, 6.0, 20.0, Some("run")),
    "the nearest, P, gives 3 of them so",
    "4 more pieces of ply"
)]
#[case::neighbours_on_a_stick(
    edging("edge", 2, 20.0, Some("side")),
    "the nearest, E, gives 1 of them so",
    "match these by `run` or `board`"
)]
fn a_row_that_no_sheet_or_stick_holds_is_not_made_and_the_nearest_is_named(
    #[case] part: Value,
    #[case] nearest: &str,
    #[case] cure: &str,
) {
    let plan = planned_flat(vec![part], vec![sheet("P", 66.0, 24.0, 60)], vec![stick("E", 96.0, 9)]);
    assert_eq!((plan.status, plan.pieces_placed), (Status::Short, 0));
    let [short] = &plan.shortages[..] else { panic!("{:?}", plan.shortages) };
    assert!(short.why.contains(nearest), "{}", short.why);
    assert!(short.buy.contains(cure), "{}", short.buy);
}

/// With one stage there are no cuts left to part a row; with two a row takes the second.
#[rstest]
#[case::one_stage(1, 1)]
#[case::two_stages(2, 4)]
fn a_row_takes_a_stage_of_its_own(#[case] stages: u32, #[case] placed: u32) {
    let parts = vec![ply("front", 3, 6.0, 20.0, Some("run")), ply("shelf", 1, 10.0, 40.0, None)];
    let shop = json!({ "shop": { "machine": { "sheet_stages": stages } } });
    let plan = plan_of(parts, &shop, &json!({ "sheets": [sheet("P", 96.0, 24.0, 60)] }), 4000);
    assert_eq!(plan.pieces_placed, placed);
}

/// In one row from the sheet of 66 in at 90, or broken at its worth from that of 48 in at 30.
#[rstest]
#[case::kept(100.0, "L", 0)]
#[case::broken(10.0, "S1", 10)]
fn a_wished_row_of_sheet_parts_is_kept_where_that_is_worth_it(
    #[case] worth: f64,
    #[case] from: &str,
    #[case] broken: i64,
) {
    let sheets = vec![sheet("S1", 48.0, 14.0, 30), sheet("L", 66.0, 12.0, 90)];
    let mut front = ply("front", 3, 6.0, 20.0, Some("run"));
    front["match"]["worth"] = json!(worth);
    let plan = planned_flat(vec![front], sheets, vec![]);
    assert!(blanks(&plan).iter().all(|blank| blank.2 == from));
    assert_eq!(plan.broken, Money::from_micros(broken * 1_000_000));
}

/// A row and the rest of a job are cut from a sheet as one part of the row's size and the rest are, at the same cost: nothing
/// but the row's own stage tells them apart, and the stages are without limit here.
#[rstest]
fn a_row_costs_what_one_part_of_its_size_does(
    #[values("run", "side")] rule: &str,
    #[values(2, 3)] copies: u32,
    #[values((7.0, 15.0), (11.5, 18.0))] size: (f64, f64),
    #[values(1, 4)] shelves: u32,
) {
    let (width, length) = size;
    let whole = f64::from(copies);
    let kerfs = (whole - 1.0) / 8.0;
    let (along, across) = if rule == "run" { (whole * length + kerfs, width) } else { (length, whole * width + kerfs) };
    let cost_of = |part: Value| {
        let shop = json!({ "shop": { "machine": { "sheet_stages": 0 }, "keep": { "credit": 0.0 } } });
        let sheets = [sheet("A", 60.0, 24.0, 31), sheet("B", 60.0, 40.0, 53), sheet("C", 80.0, 48.0, 77)];
        let parts = vec![part, ply("shelf", shelves, 9.0, 22.0, None)];
        let plan = plan_of(parts, &shop, &json!({ "sheets": sheets }), 20_000);
        assert_eq!(plan.status, Status::Complete);
        (plan.cost, plan.proven)
    };
    let (as_one, proven) = cost_of(ply("part", 1, across, along, None));
    assert!(proven);
    assert_eq!(cost_of(ply("part", copies, width, length, Some(rule))).0, as_one);
}

/// Whatever is planned in a run or as neighbours on boards with knots is lawful; some runs have a knot in a gap, some neighbours
/// are shifted past one.
#[rstest]
fn rows_on_boards_with_knots_are_lawful_whatever_lies_between_them(#[values("run", "side")] rule: &str) {
    let knot = (2.0..110.0_f64, 0.0..6.0_f64, 0.5..4.0_f64, 0.5..3.0_f64, 0..3_usize);
    let knots = prop::collection::vec(knot, 1..5);
    let widest = if rule == "run" { 5.0 } else { 2.5 };
    let piece = (2..4_u32, 1.5..widest, 10.0..24.0_f64, 0..2_usize);
    let gaps = AtomicUsize::new(0);
    let mut runner = TestRunner::new(Config { cases: 96, failure_persistence: None, ..Config::default() });
    let eighths = |inches: f64| (inches * 8.0).round() / 8.0;
    let run = runner.run(&(knots, piece), |(knots, (qty, width, length, faces))| {
        let mut flawed = board("K", 7.0, 116.0);
        let marks = knots.iter().map(|&(x, y, length, width, face)| {
            let face = ["through", "top", "bottom"][face];
            json!({ "kind": "knot", "x": eighths(x), "y": eighths(y), "length": eighths(length),
                "width": eighths(width.min(6.5 - y)).max(0.125), "face": face })
        });
        flawed["defects"] = marks.collect();
        let mut front =
            part("front", qty, eighths(width), eighths(length), json!({ "group": "fronts", "rule": "run" }));
        front["faces"] = ["c2f", "c1f"][faces].into();
        let plan = planned(vec![front], vec![flawed]);
        let mut at: Vec<Length> = blanks(&plan).iter().map(|blank| blank.3).collect();
        at.sort_unstable();
        let steps: Vec<Length> = at.windows(2).map(|pair| pair[1] - pair[0]).collect();
        let uneven = match rule {
            "run" => steps.windows(2).any(|pair| pair[0] != pair[1]),
            _ => steps.iter().any(|step| *step > Length::ZERO),
        };
        gaps.fetch_add(usize::from(uneven), Ordering::Relaxed);
        Ok(())
    });
    run.expect("every plan is lawful");
    assert!(gaps.into_inner() > 3);
}
