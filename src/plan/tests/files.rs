//! The plan as a file and as a text.

use proptest::prelude::*;
use rstest::rstest;

use super::super::file::{PlanFileError, read_json, schema, write_json};
use super::super::{Length, ShopPlan, text};
use super::bench::{one_rail, small_cabinet};
use crate::measure::Units;

#[test]
fn the_same_case_gives_the_same_bytes() {
    assert_eq!(write_json(&small_cabinet().plan()), write_json(&small_cabinet().plan()));
}

#[test]
fn a_plan_file_reads_as_the_contract_prints_it() {
    let json: serde_json::Value = serde_json::from_str(&write_json(&one_rail().plan())).expect("a plan is JSON");
    assert_eq!(json["format"], "flitchwork.plan/1");
    assert_eq!((&json["units"], &json["status"], &json["stop"]), (&"in".into(), &"complete".into(), &"gap".into()));
    assert_eq!((&json["cost"], &json["bound"]), (&51.85.into(), &51.0.into()));
    let section = &json["stock"][0]["tree"]["children"][0];
    let expected = serde_json::json!({ "x": 1, "y": 0, "length": 46, "width": 7.25, "role": "section", "cut": "rip",
      "children": [
        { "x": 1, "y": 0.1875, "length": 46, "width": 3.125, "role": "strip", "cut": "cross", "children": [
           { "x": 4, "y": 0.1875, "length": 24, "width": 3.125, "role": "blank", "part": "rail", "copy": 1,
             "net": { "x": 4.25, "y": 0.25, "length": 23.5, "width": 3 } } ] } ] });
    assert_eq!(section, &expected);
    let offcut = serde_json::json!(
        { "x": 47.125, "y": 0, "length": 51.375, "width": 7.25, "role": "offcut", "credit": 9.4 });
    assert_eq!(json["stock"][0]["tree"]["children"][1], offcut);
}

#[test]
fn a_written_plan_fits_the_published_schema() {
    let validator = jsonschema::validator_for(&schema()).expect("the schema is a schema");
    let mut json: serde_json::Value = serde_json::from_str(&write_json(&small_cabinet().plan())).expect("JSON");
    assert!(validator.is_valid(&json), "{:?}", validator.iter_errors(&json).next());
    json["stock"][0]["tree"]["colour"] = "red".into();
    assert!(!validator.is_valid(&json));
}

#[test]
fn a_written_plan_reads_back_to_the_same_ticks_and_the_same_bytes() {
    let plan = small_cabinet().plan();
    let text = write_json(&plan);
    let read = read_json("plan.json", &text).expect("a written plan can be read");
    assert_eq!(read.cuts, plan.cuts);
    assert_eq!(read.work, plan.work);
    assert_eq!(read.glueups, plan.glueups);
    assert_eq!(write_json(&read), text);
}

#[rstest]
#[case::not_json("{", "plan.json, line 1 column 1: EOF while parsing an object")]
#[case::unknown_field(
    r#"{ "format": "flitchwork.plan/1", "colour": 1 }"#,
    "plan.json, line 1 column 41: unknown field `colour`, expected one of `format`"
)]
fn a_file_of_another_form_is_refused_with_its_place(#[case] text: &str, #[case] message: &str) {
    let error = read_json("plan.json", text).expect_err("this is no plan").to_string();
    assert!(error.starts_with(message), "{error}");
}

#[test]
fn a_file_of_another_version_or_with_an_absurd_length_is_refused() {
    let text = write_json(&one_rail().plan());
    let newer = text.replace("flitchwork.plan/1", "flitchwork.plan/9");
    let error = read_json("p", &newer).expect_err("version 9 is not known");
    assert_eq!(error.to_string(), "p, format: read \"flitchwork.plan/9\", this version reads \"flitchwork.plan/1\"");
    let absurd = text.replacen("98.5", "1e300", 1);
    assert!(matches!(read_json("p", &absurd), Err(PlanFileError::Length { units: "in", .. })));
}

#[test]
fn the_summary_says_first_what_a_maker_asks_first() {
    let bench = small_cabinet();
    let words = text::summary(&bench.plan(), &bench.job.shop);
    let head = "Bench: all 12 pieces are made from 2 boards, 1 sheet and 2 sticks.\n\
                Cost 169.10: stock 194.00, less 24.90 for offcuts kept.\n\
                Within 11.3 % of the best: no plan from this pile costs less than 150.00. The search ended at the gap asked \
                for.\n\
                Yield of the boards (9.2 board feet as measured): 35 % of their face in finished parts, 33 % in offcuts \
                worth keeping.\n\
                Yield of the sheets: 31 % of their face in finished parts, 62 % in offcuts worth keeping.\n";
    assert!(words.starts_with(head), "{words}");
    for line in [
        "  A-1  Cherry, 1 1/4\" x 8\" x 96\": 1 rail, 1 slat, 2 stile\n      no second board can make \"stile\"\n",
        "  A-1  31 5/8\" to 68 1/8\": 2 stile (cuts 1-2)\n",
        "  7/8\" Cherry: 6 blanks for rail, stile and slat\n",
        "  3 1/8\": 3 rail, 1 slat (cuts 6-8)\n",
        "  after the final crosscuts, to width:\n  1 5/8\": 1 slat (cut 22)\n",
        "Stick cuts, by stop setting\n  20\": 4 foot (cuts 29-31, 33)\n",
        "  SQ (2)  51 5/8\" x 2\", 20 3/8\" from the left end, credited 4.52\n",
    ] {
        assert!(words.contains(line), "{line}\n---\n{words}");
    }
}

#[test]
fn the_summary_names_what_is_short_and_what_to_buy() {
    let mut bench = small_cabinet();
    bench.job.parts[1].qty = 5;
    bench.milled.problem.items[1].demand = 5;
    let words = text::summary(&bench.plan(), &bench.job.shop);
    assert!(words.starts_with("Bench: 12 of 15 pieces are made"), "{words}");
    assert!(words.contains("Short\n  3 stile: why 1 (not proven that no plan can). To buy: buy 1\n"), "{words}");
}

/// The same plan in other units with every length replaced.
fn scrambled(units: Units, lengths: &[i64]) -> ShopPlan {
    let mut plan = small_cabinet().plan();
    plan.units = units;
    let next = std::cell::Cell::new(0);
    let replace = |_: &Length| {
        let index = next.get();
        next.set(index + 1);
        Ok::<Length, std::convert::Infallible>(Length::from_ticks(lengths[index % lengths.len()]))
    };
    match plan.try_map(&replace) {
        Ok(plan) => plan,
        Err(never) => match never {},
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn every_length_of_a_plan_comes_back_to_its_tick(
        metric: bool,
        lengths in proptest::collection::vec(-1_000_000_000_000i64..1_000_000_000_000, 1..200),
    ) {
        let units = if metric { Units::Millimetres } else { Units::Inches };
        let plan = scrambled(units, &lengths);
        let read = read_json("plan.json", &write_json(&plan)).expect("a written plan can be read");
        let ticks = |plan: &ShopPlan| {
            let all = std::cell::RefCell::new(Vec::new());
            let gather = |length: &Length| {
                all.borrow_mut().push(length.ticks());
                Ok::<Length, std::convert::Infallible>(*length)
            };
            plan.try_map(&gather).map(|_| ()).unwrap_or_else(|never| match never {});
            all.into_inner()
        };
        prop_assert_eq!(ticks(&read), ticks(&plan));
    }
}
