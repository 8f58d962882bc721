//! Plans, checks and tallies are those of the command line.

use serde_json::{Value, json};

use crate::client::{call, get, post};
use crate::running::{Running, sample};

/// A plan file without the lines that tell how its run went.
fn without_run(plan: &str) -> String {
    let (before, rest) = plan.split_once("  \"run\": {").expect("a plan tells how its run went");
    let (_, after) = rest.split_once("},\n").expect("the group ends");
    format!("{before}{after}")
}

#[test]
fn the_service_and_the_command_line_make_the_same_plan_byte_for_byte() {
    let service = Running::start("");
    for (name, seed) in [("sideboard", 3), ("sideboard", 11)] {
        let (job, pile) = (sample(&format!("{name}/job.json")), sample(&format!("{name}/pile.json")));
        std::fs::write(service.path("job.json"), &job).unwrap();
        std::fs::write(service.path("pile.json"), &pile).unwrap();
        let typed = format!("plan job.json --pile pile.json --out plan.json --work 40 --seed {seed}");
        assert_eq!(service.command(&typed).status.code(), Some(0));
        let typed = std::fs::read_to_string(service.path("plan.json")).unwrap();

        let asked = service.plan(&job, &pile, &format!("{{ \"work\": 40, \"seed\": {seed} }}"));
        let served = get(service.address, asked.json()["links"]["plan"].as_str().unwrap()).is(200);
        assert_eq!(without_run(&typed), without_run(served.text()));
        let mut inline = asked.json()["plan"].clone();
        let mut file: Value = serde_json::from_str(&typed).unwrap();
        for plan in [&mut inline, &mut file] {
            plan.as_object_mut().unwrap().remove("run");
        }
        assert_eq!(inline, file);
    }
}

#[test]
fn a_piece_of_stock_is_filled_as_the_command_line_fills_it() {
    let service = Running::start("");
    let (job, pile) = (sample("sideboard/job.json"), sample("sideboard/pile.json"));
    std::fs::write(service.path("job.json"), &job).unwrap();
    std::fs::write(service.path("pile.json"), &pile).unwrap();
    let stock: Value = serde_json::from_str::<Value>(&pile).unwrap()["boards"][0]["id"].clone();
    let typed = |format: &str| {
        let line = format!("fill job.json --pile pile.json --stock {} --format {format}", stock.as_str().unwrap());
        let output = service.command(&line);
        assert_eq!(output.status.code(), Some(0));
        String::from_utf8(output.stdout).unwrap()
    };
    let body = format!("{{ \"job\": {job}, \"pile\": {pile}, \"stock\": {stock} }}");
    let asked = post(service.address, "/v1/fills?diagrams=inline", &[], &body).is(200);
    let answer = asked.json();
    assert_eq!(answer["proven"], true);
    assert_eq!(answer["value"], answer["at_most"]);
    assert!(answer["pieces"].as_u64().unwrap() > 0 && answer["drawing"].as_str().unwrap().starts_with("<svg"));
    // The plan stands in the answer as the file has it.
    let (served, typed_plan) = (without_run(asked.text()), without_run(&typed("json")));
    assert!(served.contains(typed_plan.trim_end()), "{served}");
    let words = post(service.address, "/v1/fills", &[("Accept", "text/plain")], &body).is(200);
    assert_eq!(words.text(), typed("text"));

    let elsewhere = |stock: &str| format!("{{ \"job\": {job}, \"pile\": {pile}, \"stock\": \"{stock}\" }}");
    let problem = post(service.address, "/v1/fills", &[], &elsewhere("no such board")).problem(422, "invalid");
    assert_eq!(problem["errors"][0]["pointer"], "/stock");
}

#[test]
fn a_plan_in_words_is_what_the_command_line_prints() {
    let service = Running::start("");
    let plan = service.plan(&sample("sideboard/job.json"), &sample("sideboard/pile.json"), "{ \"work\": 5 }");
    let place = plan.header("content-location").unwrap();
    let words = call(service.address, "GET", place, &[("Accept", "text/plain")], b"").is(200);
    assert!(
        words.text().contains("Pull from the pile") && words.text().contains("Rough crosscuts"),
        "{}",
        words.text()
    );
}

#[test]
fn a_check_finds_nothing_in_a_plan_just_made_and_something_in_one_tampered_with() {
    let service = Running::start("");
    let (job, pile) = (sample("sideboard/job.json"), sample("sideboard/pile.json"));
    let plan = service.plan(&job, &pile, "{ \"work\": 5 }").json()["plan"].clone();
    let check = |plan: &Value| {
        let body = format!("{{ \"job\": {job}, \"pile\": {pile}, \"plan\": {plan} }}");
        post(service.address, "/v1/check", &[], &body).is(200).json()
    };
    assert_eq!(check(&plan), json!({ "lawful": true, "breaches": [] }));
    let mut tampered = plan;
    tampered["cost"] = 1.into();
    let found = check(&tampered);
    assert_eq!(found["lawful"], false);
    assert!(found["breaches"].as_array().unwrap().iter().all(|breach| breach["rule"].is_string()));
}

#[test]
fn a_tally_comes_as_json_text_or_csv_from_json_or_csv() {
    let service = Running::start("");
    let csv = sample("bench/pile.csv");
    std::fs::write(service.path("pile.csv"), &csv).unwrap();
    let typed = service.command("tally pile.csv");
    let ask = |accept: &str| {
        let headers = [("Content-Type", "text/csv"), ("Accept", accept)];
        call(service.address, "POST", "/v1/tally", &headers, csv.as_bytes()).is(200)
    };
    assert_eq!(ask("text/plain").text().as_bytes(), typed.stdout);
    let typed: Value = serde_json::from_slice(&service.command("tally pile.csv --format json").stdout).unwrap();
    assert_eq!(ask("*/*").json(), typed);
    assert!(ask("text/csv").text().starts_with("wood,thickness,pieces,"));

    let pile = json!({ "format": "flitchwork.pile/1", "units": "in", "sheets": [
        { "id": "1", "material": "=1+1", "thickness": 0.7, "length": 96, "width": 48, "cost": 9 } ] });
    let headers = [("Content-Type", "application/json"), ("Accept", "text/csv")];
    let tally = call(service.address, "POST", "/v1/tally", &headers, pile.to_string().as_bytes()).is(200);
    assert!(tally.text().contains("\r\n'=1+1 (1),"), "{}", tally.text());
}

#[test]
fn a_job_that_cannot_be_planned_in_full_says_what_is_short() {
    let service = Running::start("");
    let job = sample("sideboard/job.json");
    let pile = r#"{ "format": "flitchwork.pile/1", "units": "in", "boards": [
        { "id": "C1", "species": "cherry", "nominal": "4/4", "width": 6, "length": 40, "cost": 1 } ] }"#;
    let plan = service.plan(&job, pile, "{ \"work\": 5 }").json();
    assert_eq!((plan["state"].as_str(), plan["plan"]["status"].as_str()), (Some("done"), Some("short")));
    assert!(!plan["plan"]["shortages"].as_array().unwrap().is_empty());
}
