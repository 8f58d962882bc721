//! `fill` through the real binary: each kind of stock, and every way off the road.

use crate::scratch::Scratch;
use rstest::rstest;
use serde_json::{Value, json};

/// Two kinds of lath from a small board, a sheet of squares, a stick of pegs, and parts that no single blank gives.
fn shelf(scratch: &Scratch) {
    let part = |id: &str, qty: u32, stock: &str, wood: &str, size: [f64; 3]| json!({ "id": id, "qty": qty, stock: wood, "thickness": size[0], "width": size[1], "length": size[2] });
    let mut parts = vec![
        part("lath", 2, "species", "ash", [0.75, 2.0, 20.0]),
        part("cleat", 9, "species", "ash", [0.75, 1.0, 16.0]),
        part("square", 40, "material", "birch ply", [0.5, 11.0, 11.0]),
        part("peg", 20, "material", "ash dowel", [0.5, 0.5, 4.0]),
        part("post", 1, "species", "ash", [3.0, 3.0, 16.0]),
        part("top", 1, "species", "ash", [0.75, 12.0, 16.0]),
    ];
    parts[4]["lamination"] = json!({ "layers": 4 });
    parts[5]["panel"] = json!({ "stave_min": 2, "stave_max": 5 });
    let job = json!({ "format": "flitchwork.job/1", "units": "in", "title": "Shelf", "parts": parts });
    let pile = json!({ "format": "flitchwork.pile/1", "units": "in",
        "boards": [
            { "id": "ASH-1", "species": "ash", "nominal": "4/4", "thickness": 1, "width": 5, "length": 60, "cost": 18 },
            { "id": "OAK-1", "species": "oak", "nominal": "4/4", "thickness": 1, "width": 6, "length": 60, "cost": 21, "quantity": 2 } ],
        "sheets": [ { "id": "PLY", "material": "birch ply", "thickness": 0.5, "length": 48.5, "width": 24.5, "quantity": 3, "cost": 40 } ],
        "sticks": [ { "id": "ROD", "material": "ash dowel", "thickness": 0.5, "width": 0.5, "length": 36, "quantity": 4, "cost": 3 } ] });
    scratch.write("job.json", &job.to_string());
    scratch.write("pile.json", &pile.to_string());
}

fn missing(plan: &Value, part: &str) -> u64 {
    let rows = plan["shortages"].as_array().unwrap().iter().filter(|row| row["part"] == part);
    rows.map(|row| row["missing"].as_u64().unwrap()).sum()
}

/// Counted by hand, with the default kerf of 1/8 in and trims of 1/4 in. The sheet of 48 1/2 x 24 1/2 has 48 x 24 in inside
/// its trims: 4 x 2 squares of 11 in with their kerfs. The stick has 35 1/2 in: 8 pegs of 4 in take 32 7/8 with theirs.
/// Default values are volumes: 8 x 0.5 x 11 x 11 = 484 and 8 x 0.5 x 0.5 x 4 = 8 cubic inches.
#[rstest]
#[case::a_sheet("PLY", "square", 40 - 8, "worth 484.00")]
#[case::a_stick("ROD", "peg", 20 - 8, "worth 8.00")]
fn flat_stock_is_filled_with_what_was_counted_by_hand(
    #[case] id: &str,
    #[case] part: &str,
    #[case] left: u64,
    #[case] worth: &str,
) {
    let scratch = Scratch::new();
    shelf(&scratch);
    let line = format!("fill job.json --pile pile.json --stock {id} --copy 2 --out plan.json --draw drawings");
    let run = scratch.run(&line).ends(0);
    assert!(run.stdout.contains(worth) && run.stdout.contains("Proven"), "{}", run.stdout);
    let plan = scratch.json("plan.json");
    let stock = plan["stock"].as_array().unwrap();
    assert_eq!((stock.len(), &stock[0]["id"], &stock[0]["copy"]), (1, &json!(id), &json!(2)));
    assert_eq!(missing(&plan, part), left);
    assert!(scratch.names_in("drawings").len() > 2);
    scratch.run("check job.json pile.json plan.json").ends(0);
}

#[test]
fn a_board_is_filled_and_what_no_single_blank_gives_is_left_out_with_the_reason() {
    let scratch = Scratch::new();
    shelf(&scratch);
    let run = scratch.run("fill job.json --pile pile.json --stock ASH-1 --out plan.json").ends(0);
    assert!(run.stdout.contains("Proven"), "{}", run.stdout);
    for words in ["post: is a lamination", "top: is a panel", "square: is not made of ash"] {
        assert!(run.stdout.contains(words), "no {words:?} in\n{}", run.stdout);
    }
    let plan = scratch.json("plan.json");
    assert_eq!((&plan["status"], &plan["stock"][0]["kind"]), (&json!("short"), &json!("board")));
    assert_eq!(missing(&plan, "lath"), 0);
    scratch.run("check job.json pile.json plan.json").ends(0);
    scratch.run("draw plan.json --pile pile.json --out drawings").ends(0);
}

/// Sides of whole millimetres stand on a millimetre drawing as they are: 247 by 1000 mm, three in a sheet.
#[test]
fn whole_millimetres_are_drawn_as_they_are() {
    let scratch = Scratch::new();
    let part = json!({ "id": "P", "qty": 3, "material": "birch ply", "thickness": 12, "width": 247, "length": 1000 });
    let sheet =
        json!({ "id": "PLY", "material": "birch ply", "thickness": 12, "length": 1220, "width": 820, "cost": 9 });
    let (job, pile) = ("flitchwork.job/1", "flitchwork.pile/1");
    let kerf = json!({ "kerf": { "rip": 3, "crosscut": 3 }, "trim": { "sheet": 5 } });
    let job = json!({ "format": job, "units": "mm", "title": "Shelf", "shop": kerf, "parts": [part] });
    scratch.write("job.json", &job.to_string());
    scratch.write("pile.json", &json!({ "format": pile, "units": "mm", "sheets": [sheet] }).to_string());
    scratch.run("fill job.json --pile pile.json --stock PLY --out plan.json --draw drawings").ends(0);
    let names = scratch.names_in("drawings");
    let name = names.iter().find(|name| name.contains("PLY")).expect("the sheet is drawn");
    let drawing = scratch.read(&format!("drawings/{name}"));
    assert!(drawing.contains("247") && drawing.contains("1000"), "{drawing}");
    // The legend alone names the mark of a rounded figure.
    assert_eq!(drawing.matches('~').count(), 1, "{drawing}");
}

#[test]
fn a_stated_value_goes_before_the_volume() {
    let scratch = Scratch::new();
    shelf(&scratch);
    let fill = || {
        let run = scratch.run("fill job.json --pile pile.json --stock ASH-1 --format json").ends(0);
        serde_json::from_str::<Value>(&run.stdout).unwrap()
    };
    let by_volume = fill();
    let mut job = scratch.json("job.json");
    job["parts"][1]["value"] = json!(100);
    scratch.write("job.json", &job.to_string());
    let by_value = fill();
    assert!(missing(&by_value, "cleat") < missing(&by_volume, "cleat"), "{by_value}\n{by_volume}");
    assert!(by_value["proof"].as_str().unwrap().contains("proven the most"), "{}", by_value["proof"]);
}

#[test]
fn any_number_may_be_cut_when_that_is_asked_for() {
    let scratch = Scratch::new();
    shelf(&scratch);
    let mut job = scratch.json("job.json");
    job["parts"][2]["qty"] = json!(1);
    scratch.write("job.json", &job.to_string());
    let run = scratch.run("fill job.json --pile pile.json --stock PLY --any-number --out plan.json").ends(0);
    assert!(run.stdout.contains("8 square"), "{}", run.stdout);
    // The plan is lawful for the job that asks for as many as are cut.
    job["parts"][2]["qty"] = json!(8);
    scratch.write("job.json", &job.to_string());
    scratch.run("check job.json pile.json plan.json").ends(0);
}

#[test]
fn a_piece_that_gives_nothing_is_no_plan_and_has_its_own_exit_code() {
    let scratch = Scratch::new();
    shelf(&scratch);
    let run = scratch.run("fill job.json --pile pile.json --stock OAK-1 --out plan.json --draw drawings").ends(3);
    assert!(run.stdout.contains("OAK-1 gives nothing") && run.stdout.contains("is not made of oak"), "{}", run.stdout);
    assert_eq!(scratch.names(), ["job.json", "pile.json"]);
}

#[rstest]
#[case::a_slip_of_the_pen("--stock ASH1", &["pile.json", "\"ASH1\"", "did you mean `ASH-1`?"])]
#[case::nothing_like_it("--stock walnut-plank", &["the pieces of the pile are `ASH-1`, `OAK-1`, `PLY`, `ROD`"])]
#[case::too_high_a_copy("--stock OAK-1 --copy 3", &["no copy 3 of \"OAK-1\"", "1 to 2"])]
#[case::copies_count_from_one("--stock OAK-1 --copy 0", &["no copy 0"])]
#[case::no_piece_named("", &["--stock"])]
#[case::over_the_job("--stock ASH-1 --out job.json", &["overwrite"])]
fn a_wrong_piece_is_refused_with_a_cure(#[case] options: &str, #[case] words: &[&str]) {
    let scratch = Scratch::new();
    shelf(&scratch);
    scratch.run(&format!("fill job.json --pile pile.json {options}")).ends(2).complains_of(words);
    assert_eq!(scratch.names(), ["job.json", "pile.json"]);
}
