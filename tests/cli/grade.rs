//! `grade` through the real binary: what it prints, what it draws, and what it refuses.

use crate::scratch::Scratch;
use serde_json::json;

/// A clear board, one that is less than invoiced, one that is short measure, and one that is bought by the piece.
fn yard(scratch: &Scratch) {
    let board = |id: &str, width: f64, grade: &str| json!({ "id": id, "species": "ash", "nominal": "4/4", "width": width, "length": 96, "grade": grade, "price_per_bf": 6 });
    let mut boards =
        vec![board("A", 6.0, "FAS"), board("B", 6.0, "FAS"), board("C", 8.0, "1C"), board("D", 6.0, "rustic")];
    boards[1]["defects"] = json!([{ "kind": "knot", "x": 30, "y": 2, "length": 2, "width": 2, "face": "through" }]);
    boards[2]["surface_measure"] = json!(6);
    boards[3].as_object_mut().unwrap().remove("price_per_bf");
    boards[3]["cost"] = json!(20);
    let pile = json!({ "format": "flitchwork.pile/1", "units": "in", "boards": boards });
    scratch.write("pile.json", &pile.to_string());
}

#[test]
fn grades_are_listed_with_their_reason_and_the_invoice_is_held_against_them() {
    let scratch = Scratch::new();
    yard(&scratch);
    let run = scratch.run("grade pile.json").ends(0);
    for words in [
        "A: FAS. Top face 48 of 40 units in 1 of 1 cutting; bottom face 48 of 40 units in 1 of 1 cutting.",
        // 96 - 32 = 64 in of full width: 5 1/3 ft x 6 in; No. 1 Common asks 8 x 4 = 32 units.
        "B: No.1 Common. Top face 32 of 32 units in 1 of 1 cutting; bottom face 32 of 32 units in 1 of 1 cutting.",
        "not Selects: top face: ",
        "top face: 32 of 40 units for FAS in one cutting",
        "below the grade invoiced",
        "invoiced at 6 square feet, measures 5",
        "better than invoiced",
        "`rustic` is no grade of the table",
    ] {
        assert!(run.stdout.contains(words), "no {words:?} in\n{}", run.stdout);
    }
    assert_eq!(run.stderr, "");
}

#[test]
fn the_sheet_comes_as_json_and_for_a_spreadsheet() {
    let scratch = Scratch::new();
    yard(&scratch);
    let sheet: serde_json::Value =
        serde_json::from_str(&scratch.run("grade pile.json --format json").ends(0).stdout).unwrap();
    assert_eq!(sheet["boards"][1]["grade"], "No.1 Common");
    assert_eq!(
        sheet["boards"][0]["trials"][0]["faces"][0]["ways"][0]["cuttings"][0],
        json!({ "x": 0.0, "y": 0.0, "length": 96.0, "width": 6.0 })
    );
    assert_eq!(sheet["boards"][2]["board_feet_invoiced"], 6.0);
    assert_eq!(sheet["boards"][2]["board_feet_received"], 5.0);
    let text = scratch.run("grade pile.json --format csv").ends(0).stdout;
    let mut rows = csv::Reader::from_reader(text.as_bytes());
    let grades: Vec<String> = rows.records().map(|row| row.unwrap()[7].to_owned()).collect();
    assert_eq!(grades, ["FAS", "No.1 Common", "FAS", "FAS"]);
}

#[test]
fn every_board_is_drawn_with_its_cuttings() {
    let scratch = Scratch::new();
    yard(&scratch);
    let run = scratch.run("grade pile.json --drawings sheets").ends(0);
    assert!(run.stderr.contains("4 drawings"), "{}", run.stderr);
    assert_eq!(scratch.names_in("sheets"), ["01-A.svg", "02-B.svg", "03-C.svg", "04-D.svg", "index.html"]);
    let svg = scratch.read("sheets/02-B.svg");
    assert!(svg.contains("6 \u{d7} 64") && svg.contains("top face: 32 units, 32 required"), "{svg}");
    roxmltree::Document::parse(&svg).unwrap();
}

#[test]
fn every_board_of_a_sample_is_graded_without_a_doubt() {
    let scratch = Scratch::new();
    let run = scratch.run("grade {sideboard}/pile.json --format json").ends(0);
    let sheet: serde_json::Value = serde_json::from_str(&run.stdout).unwrap();
    let boards = sheet["boards"].as_array().unwrap();
    assert!(!boards.is_empty() && boards.iter().all(|board| board["settled"] == true), "{sheet}");
}

#[test]
fn a_pile_that_cannot_be_read_is_refused() {
    let scratch = Scratch::new();
    scratch.write("pile.json", "{}");
    scratch.run("grade pile.json").ends(2).complains_of(&["pile.json"]);
    scratch.run("grade nowhere.json").ends(2).complains_of(&["nowhere.json"]);
}
