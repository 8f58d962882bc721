//! What the service says of itself is true: answers are judged by the document, with a JSON Schema validator of others.

use serde_json::{Value, json};

use crate::client::{call, get, post};
use crate::running::{Running, sample};

/// A validator of one schema of the document.
fn validator(document: &Value, name: &str) -> jsonschema::Validator {
    let schema = json!({ "$ref": format!("#/components/schemas/{name}"), "components": document["components"] });
    jsonschema::validator_for(&schema).expect("the document's schemas are schemas")
}

#[track_caller]
fn conforms(document: &Value, name: &str, answer: &Value) {
    let errors: Vec<String> = validator(document, name).iter_errors(answer).map(|error| error.to_string()).collect();
    assert!(errors.is_empty(), "{name}: {errors:?}");
}

#[test]
fn answers_are_what_the_document_says() {
    let service = Running::start("");
    let document = get(service.address, "/openapi.json").is(200).json();
    assert_eq!(document["openapi"], "3.1.0");
    let (job, pile) = (sample("sideboard/job.json"), sample("sideboard/pile.json"));
    let plan = service.plan(&job, &pile, "{ \"work\": 5 }").json();
    conforms(&document, "PlanAnswer", &plan);
    conforms(&document, "Plan", &plan["plan"]);
    let list = get(service.address, plan["links"]["diagrams"].as_str().unwrap()).is(200).json();
    conforms(&document, "DiagramList", &list);
    let body = format!("{{ \"job\": {job}, \"pile\": {pile}, \"plan\": {} }}", plan["plan"]);
    conforms(&document, "Report", &post(service.address, "/v1/check", &[], &body).is(200).json());
    let body = format!(
        "{{ \"job\": {job}, \"pile\": {pile}, \"stock\": \"{}\" }}",
        plan["plan"]["stock"][0]["id"].as_str().unwrap()
    );
    let filled = post(service.address, "/v1/fills?diagrams=inline", &[], &body).is(200).json();
    conforms(&document, "FillAnswer", &filled);
    conforms(&document, "Plan", &filled["plan"]);
    let body = format!("{{ \"job\": {job}, \"pile\": {pile}, \"plan\": {} }}", plan["plan"]);
    conforms(&document, "Quote", &post(service.address, "/v1/quotes", &[], &body).is(200).json());
    conforms(&document, "TallyFigures", &post(service.address, "/v1/tally", &[], &pile).is(200).json());
    conforms(&document, "GradeFigures", &post(service.address, "/v1/grades", &[], &pile).is(200).json());
    let order = json!({ "species": "cherry", "grades": [{ "grade": "FAS" }], "lots": 1, "thicknesses": ["4/4"] });
    let body = format!("{{ \"job\": {job}, \"order\": {order} }}");
    conforms(&document, "OrderFigures", &post(service.address, "/v1/orders", &[], &body).is(200).json());
    conforms(&document, "Problem", &post(service.address, "/v1/plans", &[], "{}").problem(422, "invalid"));
}

#[test]
fn what_may_be_left_out_of_a_body_is_not_required_by_the_document() {
    let service = Running::start("");
    let document = get(service.address, "/openapi.json").is(200).json();
    conforms(&document, "Search", &json!({}));
    conforms(&document, "Asked", &json!({ "species": "cherry", "grades": [{ "grade": "FAS" }] }));
    for (name, lacking) in [("Asked", json!({ "species": "cherry" })), ("AskedPremium", json!({}))] {
        assert!(!validator(&document, name).is_valid(&lacking), "{name}");
    }
    let (job, pile) = (sample("bench/job.json"), sample("bench/pile.json"));
    for limits in ["{ \"work\": 1 }", "{ \"seconds\": 0.2, \"gap\": 0.5 }"] {
        service.plan(&job, &pile, limits);
    }
}

#[test]
fn the_examples_in_the_document_work() {
    let service = Running::start("");
    let document = get(service.address, "/openapi.json").is(200).json();
    let mut tried = 0;
    for (path, verbs) in document["paths"].as_object().unwrap() {
        for (media, body) in verbs["post"]["requestBody"]["content"].as_object().into_iter().flatten() {
            let example = body["example"].as_str().map_or_else(|| body["example"].to_string(), str::to_owned);
            let answer = call(service.address, "POST", path, &[("Content-Type", media)], example.as_bytes()).is(200);
            if path == "/v1/check" {
                assert_eq!(answer.json()["lawful"], true, "{}", answer.text());
            }
            tried += 1;
        }
    }
    assert_eq!(tried, 8);
}

#[test]
fn schemas_are_those_the_command_line_prints() {
    let service = Running::start("");
    for name in ["pile", "job", "shop", "plan", "quote"] {
        let served = get(service.address, &format!("/v1/schemas/{name}")).is(200);
        assert_eq!(served.body, service.command(&format!("schema {name}")).stdout, "{name}");
    }
    get(service.address, "/v1/schemas/house").problem(404, "not-found");
}

#[test]
fn the_page_and_its_looks_come_from_the_service_alone() {
    let service = Running::start("");
    let page = call(service.address, "GET", "/", &[("Accept", "text/html,*/*;q=0.8")], b"").is(200);
    assert_eq!(page.header("content-type"), Some("text/html; charset=utf-8"));
    let policy = page.header("content-security-policy").unwrap();
    assert!(policy.starts_with("default-src 'none'; style-src 'self'"), "{policy}");
    assert!(page.text().contains("/v1/plans/{id}/diagrams/{n}.svg"));
    get(service.address, "/style.css").is(200);
}
