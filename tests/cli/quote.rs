//! `quote` through the real binary: the maker's sheet, the client's page, what-ifs, and every way off the road.

use crate::scratch::Scratch;
use rstest::rstest;
use serde_json::{Value, json};

const DATE: &str = "--date 2026-03-02";
/// Enough work for a plan of the bench.
const WORK: &str = "--work 20";

fn shop(rates: &Value) -> String {
    json!({ "format": "flitchwork.shop/1", "units": "in", "rates": rates }).to_string()
}

/// The bench, planned in this folder.
fn bench() -> Scratch {
    let scratch = Scratch::new();
    scratch.run(&format!("plan {{bench}}/job.json --pile {{bench}}/pile.json --out plan.json {WORK}")).ends(0);
    scratch
}

#[test]
fn a_plan_is_priced_with_a_sheet_for_the_maker_and_pages_for_the_client() {
    let scratch = bench();
    let line = format!(
        "quote {{bench}}/job.json --pile {{bench}}/pile.json --plan plan.json {DATE} --for Ada --client-page c.html --client-page c.pdf --out q.json"
    );
    let run = scratch.run(&line).ends(0);
    let quote = scratch.json("q.json");
    assert_eq!((&quote["format"], &quote["status"]), (&json!("flitchwork.quote/1"), &json!("complete")));
    assert_eq!(
        (&quote["for"], &quote["date"], &quote["valid_until"]),
        (&json!("Ada"), &json!("2026-03-02"), &json!("2026-04-01"))
    );
    // The stock costs what the plan says it does: offcuts are credited only when the shop says so.
    let plan = scratch.json("plan.json");
    let cents = |rows: &Value, field: &str| -> i64 {
        rows.as_array().unwrap().iter().map(|row| (row[field].as_f64().unwrap() * 100.0).round() as i64).sum()
    };
    assert_eq!(cents(&quote["stock"], "charged"), cents(&plan["stock"], "cost"));
    for word in
        ["Materials", "Labour", "profit, 20 % of the price", "Equal to the program's placeholders", "long-stretcher"]
    {
        assert!(run.stdout.contains(word), "no {word} in\n{}", run.stdout);
    }
    assert!(scratch.read("c.html").contains("Hall bench"));
    assert!(std::fs::read(scratch.path("c.pdf")).unwrap().starts_with(b"%PDF-"));

    let json = scratch.run(&format!("{line} --format json")).ends(0).stdout;
    assert_eq!(json, scratch.read("q.json"));
    let csv = scratch.run(&format!("{line} --format csv")).ends(0).stdout;
    assert!(csv.starts_with("section,what,quantity,unit,hours,rate,amount\r\nquote,Hall bench,"));
    let schema: Value = serde_json::from_str(&scratch.run("schema quote").ends(0).stdout).unwrap();
    assert!(jsonschema::draft202012::new(&schema).unwrap().is_valid(&quote));
}

#[test]
fn without_a_plan_one_is_made_first_and_gives_the_same_quote() {
    let scratch = bench();
    let quote = |rest: &str| {
        scratch.run(&format!("quote {{bench}}/job.json --pile {{bench}}/pile.json {DATE} {rest}")).ends(0).stdout
    };
    assert_eq!(quote(WORK), quote("--plan plan.json"));
}

#[test]
fn a_shop_file_says_what_the_shop_charges() {
    let scratch = bench();
    let total = |shop: &str| {
        let line = format!("quote {{bench}}/job.json --pile {{bench}}/pile.json --plan plan.json --format json {shop}");
        serde_json::from_str::<Value>(&scratch.run(&line).ends(0).stdout).unwrap()["total"].as_f64().unwrap()
    };
    scratch.write("shop.json", &shop(&json!({ "labour": { "rate": 80 } })));
    assert!(total("--shop shop.json") > total("") * 1.3);
    scratch.write("bad.json", &shop(&json!({ "profit": { "markup": 25, "margin": 20 } })));
    scratch
        .run("quote {bench}/job.json --pile {bench}/pile.json --plan plan.json --shop bad.json")
        .ends(2)
        .complains_of(&["bad.json, rates.profit.margin", "`markup` and `margin` are both given"]);
}

#[test]
fn the_same_piece_of_another_grade_stands_beside_it() {
    let scratch = bench();
    let line = format!(
        "quote {{bench}}/job.json --pile {{bench}}/pile.json --plan plan.json {DATE} --instead grade=FAS {WORK} --client-page c.html"
    );
    let run = scratch.run(&line).ends(0);
    // The bench's FAS boards alone do not hold its seat: the maker is told, and the client is offered no such thing.
    let other = run.stdout.lines().find(|line| line.contains("FAS boards only")).expect("it stands beside the price");
    assert!(other.contains("INCOMPLETE, ") && other.contains(" missing"), "{}", run.stdout);
    assert!(!scratch.read("c.html").contains("FAS boards only"));
    scratch
        .run("quote {bench}/job.json --pile {bench}/pile.json --plan plan.json --instead ash=walnut")
        .ends(2)
        .complains_of(&["--instead: the pile has no walnut; it has ash"]);
}

#[test]
fn a_plan_that_is_short_gives_an_incomplete_quote_and_code_3() {
    let scratch = Scratch::new();
    scratch.write("pile.csv", "id,species,nominal,thickness,width,length,cost\nA1,ash,4/4,1 1/16,8,60,30\n");
    let run =
        scratch.run(&format!("quote {{bench}}/job.json --pile pile.csv {DATE} {WORK} --client-page c.html")).ends(3);
    assert!(run.stdout.contains("INCOMPLETE: "), "{}", run.stdout);
    assert!(scratch.read("c.html").contains("Incomplete quote"));
}

#[test]
fn a_plan_that_goes_with_another_pile_is_refused_by_name() {
    let scratch = bench();
    let mut plan = scratch.json("plan.json");
    plan["stock"][0]["cost"] = json!(1.0);
    scratch.write("other.json", &plan.to_string());
    scratch
        .run("quote {bench}/job.json --pile {bench}/pile.json --plan other.json")
        .ends(2)
        .complains_of(&["other.json: the plan does not go with this job and pile", "plan again"]);
}

#[rstest]
#[case::no_pile("quote {bench}/job.json --plan p.json", &["--pile"])]
#[case::no_such_plan("quote {bench}/job.json --pile {bench}/pile.json --plan nowhere.json", &["nowhere.json", "cannot read"])]
#[case::no_date("quote {bench}/job.json --pile {bench}/pile.json --date 2026-02-30", &["2026-02-30", "2026-03-31"])]
#[case::no_exchange("quote {bench}/job.json --pile {bench}/pile.json --instead walnut", &["cherry=walnut"])]
#[case::a_page_of_no_kind("quote {bench}/job.json --pile {bench}/pile.json --client-page page.doc", &["page.doc", ".html or .pdf"])]
#[case::over_the_plan("quote {bench}/job.json --pile {bench}/pile.json --plan p.pdf --client-page p.pdf", &["p.pdf would overwrite"])]
#[case::twice("quote {bench}/job.json --pile {bench}/pile.json --out a.html --client-page a.html", &["a.html would be written twice"])]
fn wrong_usage_is_refused_with_a_cure(#[case] line: &str, #[case] words: &[&str]) {
    let scratch = Scratch::new();
    scratch.run(line).ends(2).complains_of(words);
    assert!(scratch.names().is_empty(), "nothing is left behind: {:?}", scratch.names());
}
