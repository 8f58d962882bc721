//! `tally`, `schema`, `sample` and `completions` through the real binary.

use crate::scratch::{Scratch, sample};
use rstest::rstest;
use serde_json::Value;

/// Surface measure and board feet of single boards: American Hardwood Export Council, grading guide, measurement page
/// (6 1/4 in by 8 ft of 8/4 is 4 and 8) and the surface measure examples of its illustrated guide (6 1/2 in by 8 ft is 4, 8 in
/// by 12 ft is 8); two exact halves, 6 in by 9 ft, go up and then down (constructed from the tally rule).
#[test]
fn a_tally_bills_board_feet_as_published() {
    let scratch = Scratch::new();
    scratch.write(
        "pile.csv",
        "id,species,nominal,width,length,price_per_bf\n\
         A,ash,8/4,6 1/4,8',10\n\
         B,cherry,4/4,6 1/2,8',10\n\
         C,cherry,4/4,8,12',10\n\
         D,walnut,4/4,6,9',10\n\
         E,walnut,4/4,6,9',10\n",
    );
    let run = scratch.run("tally pile.csv --format json").ends(0);
    let tally: Value = serde_json::from_str(&run.stdout).unwrap();
    let row = |wood: &str| {
        let rows = tally["boards"].as_array().unwrap();
        rows.iter().find(|row| row["species"] == wood).unwrap_or_else(|| panic!("{wood} in {tally}")).clone()
    };
    assert_eq!(row("ash")["board_feet"], 8.0);
    assert_eq!(row("cherry")["board_feet"], 12.0);
    assert_eq!(row("walnut")["board_feet"], 9.0);
    assert_eq!(row("walnut")["cost"], 90.0);
    assert_eq!(tally["total"]["cost"], 290.0);
}

#[test]
fn a_tally_counts_sheets_and_sticks_beside_boards() {
    let scratch = Scratch::new();
    let text = scratch.run("tally {sideboard}/pile.json").ends(0).stdout;
    for word in ["cherry", "soft maple", "5/4", "cherry ply", "cherry edging", "total"] {
        assert!(text.contains(word), "no {word} in\n{text}");
    }
    let run = scratch.run("tally {sideboard}/pile.json --format json").ends(0);
    let tally: Value = serde_json::from_str(&run.stdout).unwrap();
    let pieces: u64 = tally["boards"].as_array().unwrap().iter().map(|row| row["pieces"].as_u64().unwrap()).sum();
    assert_eq!(pieces, 36);
    assert_eq!(tally["sheets"][0]["cost"], 236.0);
    assert_eq!(tally["sticks"][0]["pieces"], 3);
}

#[rstest]
#[case::the_bench("bench")]
#[case::the_sideboard("sideboard")]
fn the_published_schemas_accept_the_samples(#[case] name: &str) {
    let scratch = Scratch::new();
    for kind in ["job", "pile"] {
        let file = std::fs::read_to_string(format!("{}/{kind}.json", sample(name))).unwrap();
        accepts(&scratch, kind, &serde_json::from_str(&file).unwrap());
    }
}

#[test]
fn the_published_schema_accepts_a_plan_and_refuses_an_unknown_field() {
    let scratch = Scratch::new();
    scratch.run("plan {bench}/job.json --pile {bench}/pile.json --out plan.json --work 20").ends(0);
    let mut plan = scratch.json("plan.json");
    let schema = accepts(&scratch, "plan", &plan);
    plan["colour"] = "red".into();
    assert!(!schema.is_valid(&plan));
}

#[test]
fn the_schema_of_the_shop_states_every_default() {
    let scratch = Scratch::new();
    let text = scratch.run("schema shop").ends(0).stdout;
    let schema: Value = serde_json::from_str(&text).unwrap();
    jsonschema::validator_for(&schema).unwrap();
    for setting in ["kerf", "trim", "allowance", "jointer_width", "sheet_stages", "credit", "snipe"] {
        assert!(text.contains(setting), "{setting}");
    }
}

/// Validates with a JSON Schema library of general use.
fn accepts(scratch: &Scratch, kind: &str, file: &Value) -> jsonschema::Validator {
    let schema: Value = serde_json::from_str(&scratch.run(&format!("schema {kind}")).ends(0).stdout).unwrap();
    let validator = jsonschema::validator_for(&schema).unwrap();
    let errors: Vec<String> = validator.iter_errors(file).map(|error| error.to_string()).collect();
    assert!(errors.is_empty(), "{kind}: {errors:#?}");
    validator
}

#[test]
fn a_sample_is_the_same_for_the_same_seed_and_can_be_read() {
    let scratch = Scratch::new();
    let line = "sample --seed 9 --boards 30 --pieces 90 --out";
    let run = scratch.run(&format!("{line} one")).ends(0);
    assert!(run.stdout.contains("job.json") && run.stdout.contains("pile.json"));
    scratch.run(&format!("{line} two")).ends(0);
    for file in ["job.json", "pile.json"] {
        assert_eq!(scratch.read(&format!("one/{file}")), scratch.read(&format!("two/{file}")));
        accepts(&scratch, file.trim_end_matches(".json"), &scratch.json(&format!("one/{file}")));
    }
    scratch.run("tally one/pile.json").ends(0);
    scratch.run("sample --seed 10 --boards 30 --pieces 90 --out one").ends(0);
    assert_ne!(scratch.read("one/pile.json"), scratch.read("two/pile.json"));
}

#[test]
fn a_millimetre_sample_is_planned_and_found_lawful() {
    let scratch = Scratch::new();
    scratch.run("sample --seed 2 --boards 12 --pieces 30 --units mm --out .").ends(0);
    let run = scratch.run("plan job.json --pile pile.json --out plan.json --work 50");
    assert!(run.code == 0 || run.code == 3, "{}", run.stderr);
    assert_eq!(scratch.json("plan.json")["units"], "mm");
    scratch.run("check job.json pile.json plan.json").ends(0);
}

#[rstest]
#[case("bash")]
#[case("zsh")]
#[case("fish")]
fn a_completion_script_names_the_commands(#[case] shell: &str) {
    let script = Scratch::new().run(&format!("completions {shell}")).ends(0).stdout;
    for command in ["plan", "fill", "check", "draw", "tally", "schema", "sample"] {
        assert!(script.contains(command), "{shell}: {command}");
    }
}

#[test]
fn help_and_version_go_to_standard_output() {
    let scratch = Scratch::new();
    let help = scratch.run("plan --help").ends(0);
    assert!(help.stdout.contains("--pile") && help.stderr.is_empty());
    assert_eq!(scratch.run("--version").ends(0).stdout, format!("flitchwork {}\n", env!("CARGO_PKG_VERSION")));
}
