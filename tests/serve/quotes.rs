//! Quotes over HTTP are those of the command line; the client's page shows none of what the price is made of.

use serde_json::{Value, json};

use crate::client::{Answer, call, post};
use crate::running::{Running, sample};

/// A plan of the bench and the body that has it priced.
fn asked(service: &Running) -> Value {
    let (job, pile) = (sample("bench/job.json"), sample("bench/pile.json"));
    let plan = service.plan(&job, &pile, "{ \"work\": 20 }").json()["plan"].clone();
    let read = |text: &str| serde_json::from_str::<Value>(text).unwrap();
    json!({ "job": read(&job), "pile": read(&pile), "plan": plan, "date": "2026-03-02", "for": "Ada" })
}

fn quoted(service: &Running, body: &Value, accept: &str) -> Answer {
    let headers = [("Content-Type", "application/json"), ("Accept", accept)];
    call(service.address, "POST", "/v1/quotes", &headers, body.to_string().as_bytes())
}

#[test]
fn a_quote_comes_in_every_form_and_is_the_command_lines() {
    let service = Running::start("");
    let body = asked(&service);
    for name in ["job", "pile", "plan"] {
        std::fs::write(service.path(&format!("{name}.json")), body[name].to_string()).unwrap();
    }
    let line = "quote job.json --pile pile.json --plan plan.json --date 2026-03-02 --for Ada --client-page c.html --client-page c.pdf";
    for (accept, format) in [("application/json", "json"), ("text/plain", "text"), ("text/csv", "csv")] {
        let typed = service.command(&format!("{line} --format {format}"));
        assert_eq!(quoted(&service, &body, accept).is(200).body, typed.stdout, "{accept}");
    }
    let html = quoted(&service, &body, "text/html").is(200);
    assert_eq!(html.body, std::fs::read(service.path("c.html")).unwrap());
    assert!(
        html.header("content-security-policy").unwrap().starts_with("default-src 'none'; style-src 'unsafe-inline'")
    );
    assert!(html.text().contains("Ada") && !html.text().contains("hour"));
    let pdf = quoted(&service, &body, "application/pdf").is(200);
    assert_eq!(pdf.body, std::fs::read(service.path("c.pdf")).unwrap());
}

#[test]
fn what_cannot_be_priced_is_refused_where_it_stands() {
    let service = Running::start("");
    let whole = asked(&service);
    let refused = |change: &dyn Fn(&mut Value)| {
        let mut body = whole.clone();
        change(&mut body);
        let problem = post(service.address, "/v1/quotes", &[], &body.to_string()).problem(422, "invalid");
        let errors = problem["errors"].as_array().unwrap().clone();
        errors.iter().map(|error| error["pointer"].as_str().unwrap().to_owned()).collect::<Vec<_>>()
    };
    assert_eq!(refused(&|body| body["date"] = "2026-02-30".into()), ["/date"]);
    assert_eq!(refused(&|body| body["date"] = "9999-12-30".into()), ["/date"]);
    assert_eq!(refused(&|body| body["for"] = json!(3)), ["/for"]);
    assert_eq!(refused(&|body| body["plan"]["cost"] = 1.into()), ["/plan"]);
    assert_eq!(refused(&|body| body["plan"] = json!({})), ["/plan"]);
    let both = json!({ "rates": { "profit": { "markup": 25, "margin": 20 } } });
    assert_eq!(refused(&|body| body["job"]["shop"] = both.clone()), ["/job/shop/rates/profit/margin"]);
    assert_eq!(refused(&|body| drop(body.as_object_mut().unwrap().remove("plan"))), ["/plan"]);
}

#[test]
fn the_same_piece_of_another_grade_stands_beside_it_as_on_the_command_line() {
    let service = Running::start("");
    let mut body = asked(&service);
    for name in ["job", "pile", "plan"] {
        std::fs::write(service.path(&format!("{name}.json")), body[name].to_string()).unwrap();
    }
    let grade = body["pile"]["boards"][0]["grade"].as_str().expect("the sample's boards are graded").to_owned();
    body["instead"] = json!([format!("grade={grade}")]);
    body["limits"] = json!({ "work": 20 });
    let line = "quote job.json --pile pile.json --plan plan.json --date 2026-03-02 --for Ada --work 20 --format json";
    let typed = service.command(&format!("{line} --instead grade={grade}"));
    let answer = quoted(&service, &body, "application/json").is(200);
    let read = |bytes: &[u8]| serde_json::from_slice::<Value>(bytes).unwrap();
    assert_eq!(read(&answer.body), read(&typed.stdout));
    assert_eq!(answer.json()["alternatives"].as_array().unwrap().len(), 1);

    let refused = |instead: Value| {
        let mut body = body.clone();
        body["instead"] = instead;
        let problem = post(service.address, "/v1/quotes", &[], &body.to_string()).problem(422, "invalid");
        problem["errors"][0]["pointer"].as_str().unwrap().to_owned()
    };
    assert_eq!(refused(json!(["cherry"])), "/instead/0");
    assert_eq!(refused(json!(["grade=none such"])), "/instead/0");
    assert_eq!(refused(json!("grade=FAS")), "/instead");
    assert_eq!(refused(json!(vec!["grade=FAS"; 7])), "/instead");
}
