//! `order` through the real binary: what it prints and draws, that threads do not matter, and what it refuses.

use crate::scratch::Scratch;
use rstest::rstest;
use serde_json::{Value, json};

fn frame(scratch: &Scratch) {
    let part = |id: &str, qty: u32, width: f64, length: f64| json!({ "id": id, "qty": qty, "species": "ash", "thickness": 0.75, "width": width, "length": length });
    let mut parts = vec![part("rail", 4, 3.0, 24.0), part("stile", 4, 2.5, 40.0)];
    parts.push(json!({ "id": "back", "qty": 1, "material": "ash ply", "thickness": 0.25, "width": 20, "length": 30 }));
    let job = json!({ "format": "flitchwork.job/1", "units": "in", "title": "Frame", "parts": parts });
    scratch.write("job.json", &job.to_string());
}

const FRAME: &str = "order job.json --species ash --thickness 4/4 --lots 8";

#[test]
fn an_order_compares_grades_and_says_how_sure_it_is() {
    let scratch = Scratch::new();
    frame(&scratch);
    let run = scratch.run(&format!("{FRAME} --grade FAS=6.40 --grade 1C=4.35 --freight 30 --draw yields.svg")).ends(0);
    for words in [
        "ash 4/4 for rail, stile",
        "50.0 %",
        "80.0 %",
        "95.0 %",
        "95 % interval",
        "Grades compared",
        "the least",
        "yield",
    ] {
        assert!(run.stdout.contains(words), "no {words:?} in\n{}", run.stdout);
    }
    let svg = scratch.read("yields.svg");
    roxmltree::Document::parse(&svg).unwrap();
    assert!(svg.contains("4/4 FAS") && svg.contains("4/4 No.1 Common"), "{svg}");
}

#[test]
fn the_figures_do_not_depend_on_threads_and_follow_the_seed() {
    let scratch = Scratch::new();
    frame(&scratch);
    let figures = |options: &str| -> Value {
        let run = scratch.run(&format!("{FRAME} --grade 1C --format json {options}")).ends(0);
        serde_json::from_str(&run.stdout).unwrap()
    };
    let one = figures("--threads 1");
    assert_eq!(one, figures("--threads 2"));
    assert_eq!(one["orders"][0]["grades"][0]["lots"], 8);
    assert_ne!(one["orders"][0]["grades"][0]["figures"], figures("--seed 2")["orders"][0]["grades"][0]["figures"]);
}

#[test]
fn past_boards_of_the_shop_take_the_place_of_made_up_ones() {
    let scratch = Scratch::new();
    frame(&scratch);
    let board = json!({ "id": "P", "species": "ash", "nominal": "4/4", "thickness": 1, "width": 6, "length": 97, "grade": "FAS", "cost": 30 });
    scratch.write("past.json", &json!({ "format": "flitchwork.pile/1", "units": "in", "boards": [board] }).to_string());
    let run = scratch.run(&format!("{FRAME} --grade FAS --pile past.json --format json")).ends(0);
    let order: Value = serde_json::from_str(&run.stdout).unwrap();
    let figures = &order["orders"][0]["grades"][0]["figures"];
    assert_eq!(figures[0]["board_feet"], figures[2]["board_feet"], "every board is the same: {figures}");
}

#[test]
fn progress_goes_to_standard_error_and_says_how_long_it_takes() {
    let scratch = Scratch::new();
    frame(&scratch);
    let run = scratch.run(&format!("{FRAME} --grade FAS --progress always --threads 1")).ends(0);
    assert!(run.stderr.contains("8 of 8 lots") && run.stderr.contains("s left"), "{}", run.stderr);
    assert!(!run.stdout.contains("s left"));
}

#[test]
fn an_order_that_never_suffices_has_its_own_exit_code() {
    let scratch = Scratch::new();
    let part = json!({ "id": "beam", "qty": 1, "species": "ash", "thickness": 0.75, "width": 3, "length": 178 });
    scratch.write(
        "job.json",
        &json!({ "format": "flitchwork.job/1", "units": "in", "title": "Beam", "parts": [part] }).to_string(),
    );
    let run = scratch.run(&format!("{FRAME} --grade FAS")).ends(3);
    assert!(run.stdout.contains("cannot be ordered; beam:"), "{}", run.stdout);
}

#[rstest]
#[case::another_wood("--species oak --grade FAS", &["oak", "the job asks for ash"])]
#[case::no_grade_of_the_table("--species ash --grade rustic", &["rustic", "FAS"])]
#[case::certainty("--species ash --grade FAS --confidence 100%", &["--confidence", "95%"])]
#[case::all_lost("--species ash --grade FAS --reserve 1", &["--reserve"])]
#[case::no_money("--species ash --grade FAS=cheap", &["cheap", "9.60"])]
#[case::no_grade("--species ash", &["--grade"])]
#[case::a_rare_grade("--species ash --grade 3B", &["No.3B", "past boards"])]
#[case::over_the_job("--species ash --grade FAS --draw job.json", &["overwrite"])]
fn a_wrong_question_is_refused_with_a_cure(#[case] options: &str, #[case] words: &[&str]) {
    let scratch = Scratch::new();
    frame(&scratch);
    scratch.run(&format!("order job.json --lots 2 {options}")).ends(2).complains_of(words);
}
