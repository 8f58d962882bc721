//! `plan`, `check` and `draw` through the real binary: the road from a parts list to diagrams, and every way off it.

use std::io::Read;
use std::process::{Command, Stdio};

use crate::scratch::{Scratch, sample, without_run};
use rstest::rstest;
use serde_json::{Value, json};

/// Enough work for a good plan of a sample in a second or two; the plan it gives is the same everywhere.
const WORK: &str = "--work 60";

#[test]
fn a_bench_is_planned_drawn_and_found_lawful() {
    let scratch = Scratch::new();
    let run = scratch
        .run(&format!("plan {{bench}}/job.json --pile {{bench}}/pile.json --out plan.json --draw drawings {WORK}"))
        .ends(0);
    let plan = scratch.json("plan.json");
    assert_eq!(plan["status"], "complete");
    assert_eq!((&plan["pieces_required"], &plan["pieces_placed"]), (&json!(14), &json!(14)));
    assert!(plan["bound"].as_f64().unwrap() <= plan["cost"].as_f64().unwrap());
    for stock in plan["stock"].as_array().unwrap() {
        let id = stock["id"].as_str().unwrap();
        assert!(run.stdout.contains(id), "the summary does not say to pull {id}:\n{}", run.stdout);
    }
    let index = std::path::Path::new("drawings").join("index.html");
    assert!(run.stderr.contains(index.to_str().unwrap()), "where the drawings are: {}", run.stderr);
    let names = scratch.names_in("drawings");
    let drawings = names.iter().filter(|name| name.ends_with(".svg")).count();
    let glued = plan["glueups"].as_array().unwrap().iter().filter(|glueup| glueup["kind"] == "panel").count();
    let stock = plan["stock"].as_array().unwrap().len();
    assert_eq!(drawings, stock + glued + 1, "one a piece of stock and a panel, and the overview");

    scratch.run("check {bench}/job.json {bench}/pile.json plan.json").ends(0);
    scratch.run("draw plan.json --pile {bench}/pile.json --out again").ends(0);
    for name in names {
        let (first, again) = (scratch.read(&format!("drawings/{name}")), scratch.read(&format!("again/{name}")));
        assert!(first == again, "{name} is drawn otherwise the second time");
        if name.ends_with(".svg") {
            roxmltree::Document::parse(&first).unwrap();
        }
    }
}

#[test]
fn a_sideboard_uses_boards_of_both_species_sheets_and_sticks() {
    let scratch = Scratch::new();
    scratch.run(&format!("plan {{sideboard}}/job.json --pile {{sideboard}}/pile.json --out plan.json {WORK}")).ends(0);
    let plan = scratch.json("plan.json");
    assert_eq!(plan["pieces_placed"], 84);
    for kind in ["board", "sheet", "stick"] {
        assert!(plan["stock"].as_array().unwrap().iter().any(|stock| stock["kind"] == kind), "no {kind} is used");
    }
    scratch.run("check {sideboard}/job.json {sideboard}/pile.json plan.json").ends(0);
}

#[test]
fn the_same_seed_and_work_give_the_same_plan_on_one_thread_or_two() {
    let scratch = Scratch::new();
    let plan = |threads: u32| {
        let line =
            format!("plan {{bench}}/job.json --pile {{bench}}/pile.json --format json --threads {threads} {WORK}");
        without_run(&scratch.run(&line).ends(0).stdout)
    };
    let first = plan(1);
    assert_eq!(first, plan(1));
    assert_eq!(first, plan(2));
}

#[test]
fn a_pile_as_a_spreadsheet_saves_it_gives_the_same_plan() {
    let scratch = Scratch::new();
    let plan = |file: &str| {
        let line = format!("plan {{bench}}/job.json --pile {{bench}}/{file} --format json {WORK}");
        without_run(&scratch.run(&line).ends(0).stdout)
    };
    assert_eq!(plan("pile.json"), plan("pile.csv"));
}

#[test]
fn without_out_standard_output_carries_the_plan_itself_and_no_file_is_made() {
    let scratch = Scratch::new();
    let run = scratch.run(&format!("plan {{bench}}/job.json --pile {{bench}}/pile.json --format json {WORK}")).ends(0);
    let plan: Value = serde_json::from_str(&run.stdout).unwrap();
    assert_eq!(plan["format"], "flitchwork.plan/1");
    assert!(scratch.names().is_empty());
}

#[test]
fn a_millimetre_job_with_a_semicolon_pile_is_planned_in_millimetres() {
    let scratch = Scratch::new();
    scratch.write("parts.csv", "id;qty;species;thickness;width;length\r\nlath;3;ash;19;40,5;600\r\n");
    scratch.write(
        "pile.csv",
        "\u{feff}id;species;nominal;thickness;width;length;cost\r\nA1;ash;4/4;26,5;152,5;2440;31,50\r\n",
    );
    scratch.run("plan parts.csv --pile pile.csv --units mm --out plan.json --work 50").ends(0);
    let plan = scratch.json("plan.json");
    assert_eq!(plan["units"], "mm");
    assert_eq!(plan["stock"][0]["tree"]["length"], 2440.0);
    assert_eq!(plan["stock"][0]["cost"], 31.5);
    scratch.run("check parts.csv pile.csv plan.json --units mm").ends(0);
}

#[test]
fn defects_in_a_spreadsheet_of_their_own_keep_parts_away() {
    let scratch = Scratch::new();
    scratch.write("job.json", &one_part("species", "ash", 60.0));
    scratch.write("pile.csv", "id,species,nominal,width,length,cost\nA1,ash,4/4,6,98,30\n");
    scratch.run("plan job.json --pile pile.csv --work 50").ends(0);
    scratch.write("defects.csv", "board,kind,x,y,length,width\nA1,split,48,0,2,6\n");
    let run = scratch.run("plan job.json --pile pile.csv --defects defects.csv --work 50").ends(3);
    assert!(run.stdout.contains("rail"));
}

#[test]
fn a_pile_that_is_too_small_gives_a_lawful_short_plan_that_says_what_is_missing() {
    let scratch = Scratch::new();
    let pile = std::fs::read_to_string(format!("{}/pile.csv", sample("bench"))).unwrap();
    // The header and the two boards of 8/4: legs, and none of the 4/4 stock for the rest.
    let thick: Vec<&str> = pile.lines().filter(|line| line.starts_with("id,") || line.contains("8/4")).collect();
    scratch.write("thick.csv", &thick.join("\n"));
    let run = scratch.run(&format!("plan {{bench}}/job.json --pile thick.csv --out plan.json {WORK}")).ends(3);
    let plan = scratch.json("plan.json");
    assert_eq!(plan["status"], "short");
    let shortages = plan["shortages"].as_array().unwrap();
    assert!(!shortages.is_empty());
    for shortage in shortages {
        assert!(run.stdout.contains(shortage["part"].as_str().unwrap()));
        assert!(!shortage["why"].as_str().unwrap().is_empty() && !shortage["buy"].as_str().unwrap().is_empty());
    }
    scratch.run("check {bench}/job.json thick.csv plan.json").ends(0);
}

#[test]
fn a_shop_file_is_obeyed_and_the_check_needs_the_same_one() {
    let scratch = Scratch::new();
    scratch.write("job.json", &one_part("species", "ash", 60.0));
    scratch.write("pile.csv", "id,species,nominal,width,length,cost\nA1,ash,4/4,6,67,30\n");
    scratch.run("plan job.json --pile pile.csv --work 50").ends(3);
    scratch.write("shop.json", r#"{ "format": "flitchwork.shop/1", "units": "in", "trim": { "snipe": 1 } }"#);
    scratch.run("plan job.json --pile pile.csv --shop shop.json --out plan.json --work 50").ends(0);
    scratch.run("check job.json pile.csv plan.json --shop shop.json").ends(0);
    let run = scratch.run("check job.json pile.csv plan.json").ends(2);
    assert!(run.stdout.contains("A1"), "the breach is named: {}", run.stdout);
}

#[test]
fn a_plan_that_was_tampered_with_is_unlawful_and_the_breach_is_named() {
    let scratch = Scratch::new();
    scratch.run(&format!("plan {{bench}}/job.json --pile {{bench}}/pile.json --out plan.json {WORK}")).ends(0);
    let mut plan = scratch.json("plan.json");
    plan["cost"] = json!(1.0);
    scratch.write("plan.json", &plan.to_string());
    let run = scratch.run("check {bench}/job.json {bench}/pile.json plan.json").ends(2);
    assert!(run.stdout.contains("cost"), "{}", run.stdout);
    let run = scratch.run("check {bench}/job.json {bench}/pile.json plan.json --format json").ends(2);
    let report: Value = serde_json::from_str(&run.stdout).unwrap();
    assert_eq!(report["lawful"], false);
    assert!(!report["breaches"].as_array().unwrap().is_empty());
}

#[rstest]
#[case::no_such_job("plan nowhere.json --pile {bench}/pile.json", &["nowhere.json", "cannot read"])]
#[case::no_such_pile("plan {bench}/job.json --pile nowhere.csv", &["nowhere.csv", "cannot read"])]
#[case::a_folder("plan {bench}/job.json --pile .", &["cannot read"])]
#[case::a_pile_for_a_job("plan {bench}/pile.json --pile {bench}/pile.json", &["pile.json", "format"])]
#[case::no_pile("plan {bench}/job.json", &["--pile"])]
#[case::no_command("", &["Usage"])]
#[case::an_unknown_command("saw", &["saw"])]
#[case::no_share("plan {bench}/job.json --pile {bench}/pile.json --gap 5", &["0.01 or 1%"])]
#[case::no_time("plan {bench}/job.json --pile {bench}/pile.json --seconds 0", &["seconds"])]
#[case::time_below_zero("plan {bench}/job.json --pile {bench}/pile.json --seconds -3", &["seconds", "-3", "30 or 2.5"])]
#[case::a_number_in_words("plan {bench}/job.json --pile {bench}/pile.json --threads two", &["threads", "two", "0 or more"])]
#[case::no_boards("sample --boards 0", &["boards", "1 to"])]
#[case::over_the_pile("plan job.json --pile pile.json --out pile.json", &["pile.json", "overwrite"])]
#[case::into_nowhere("plan {bench}/job.json --pile {bench}/pile.json --out no/plan.json --work 5", &["no/plan.json"])]
#[case::no_plan("check {bench}/job.json {bench}/pile.json {bench}/job.json", &["job.json"])]
#[case::a_drawing_of_a_pile("draw {bench}/pile.json --pile {bench}/pile.json --out drawings", &["pile.json"])]
fn wrong_usage_is_refused_with_its_place_and_a_cure(#[case] line: &str, #[case] words: &[&str]) {
    let scratch = Scratch::new();
    scratch.run(line).ends(2).complains_of(words);
    assert!(scratch.names().is_empty(), "nothing is left behind: {:?}", scratch.names());
}

#[rstest]
#[case::not_json("{ \"format\": ", &["job.json"])]
#[case::an_unknown_field(r#"{ "format": "flitchwork.job/1", "units": "in", "part": [] }"#, &["part", "parts"])]
#[case::a_length_of_no_kind(
    r#"{ "format": "flitchwork.job/1", "units": "in", "parts": [ { "id": "r", "species": "ash", "thickness": 1, "width": "wide", "length": 9 } ] }"#,
    &["parts[0].width", "wide"]
)]
#[case::a_milliard_of_them(
    r#"{ "format": "flitchwork.job/1", "units": "in", "parts": [ { "id": "r", "qty": 1000000000, "species": "ash", "thickness": 1, "width": 2, "length": 9 } ] }"#,
    &["parts[0].qty", "1000000000"]
)]
#[case::two_of_a_name(
    r#"{ "format": "flitchwork.job/1", "units": "in", "parts": [
        { "id": "r", "species": "ash", "thickness": 1, "width": 2, "length": 9 },
        { "id": "r", "species": "ash", "thickness": 1, "width": 2, "length": 9 } ] }"#,
    &["parts[1].id"]
)]
fn a_job_with_a_fault_is_refused_with_file_place_and_cure(#[case] job: &str, #[case] words: &[&str]) {
    let scratch = Scratch::new();
    scratch.write("job.json", job);
    let run = scratch.run("plan job.json --pile {bench}/pile.json").ends(2);
    assert!(run.stderr.contains("job.json"));
    run.complains_of(words);
}

#[test]
fn all_faults_of_a_file_are_told_at_once() {
    let scratch = Scratch::new();
    scratch.write("pile.csv", "id,species,nominal,width,length,cost\nA1,ash,4/4,-6,98,30\nA2,ash,4/4,6,long,30\n");
    let run = scratch.run("tally pile.csv").ends(2);
    run.complains_of(&["pile.csv", "-6", "long"]);
}

#[test]
fn an_old_plan_stays_when_no_new_one_can_be_made() {
    let scratch = Scratch::new();
    scratch.write("plan.json", "the old plan");
    scratch.write("job.json", "{}");
    scratch.run("plan job.json --pile {bench}/pile.json --out plan.json").ends(2);
    assert_eq!(scratch.read("plan.json"), "the old plan");
    assert_eq!(scratch.names(), ["job.json", "plan.json"]);
}

#[test]
fn a_reader_that_has_seen_enough_is_no_failure() {
    let mut child = Command::new(env!("CARGO_BIN_EXE_flitchwork"))
        .args(["schema", "plan"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let mut complaints = String::new();
    child.stderr.take().unwrap().read_to_string(&mut complaints).unwrap();
    assert_eq!(child.wait().unwrap().code(), Some(0));
    assert_eq!(complaints, "");
}

/// A job of one rail, 3/4 in by 2 in, of the length given.
fn one_part(stock: &str, wood: &str, length: f64) -> String {
    json!({ "format": "flitchwork.job/1", "units": "in", "title": "One rail",
            "parts": [{ "id": "rail", stock: wood, "thickness": 0.75, "width": 2, "length": length }] })
    .to_string()
}
