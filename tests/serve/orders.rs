//! Orders of lumber over HTTP are those of the command line, with every term of the yard.

use serde_json::{Value, json};

use crate::client::post;
use crate::running::{Running, sample};

fn job() -> Value {
    serde_json::from_str(&sample("bench/job.json")).unwrap()
}

#[test]
fn an_order_with_every_term_is_the_command_lines() {
    let service = Running::start("");
    std::fs::write(service.path("job.json"), job().to_string()).unwrap();
    let line = "order job.json --species ash --grade FAS=8 --grade 1C=5.5 --thickness 4/4 --lots 3 --seed 4 --confidence 80% \
                --freight 40 --bundle 10 --surfacing 0.5 --wide 7in=1.25 --long 10ft=0.75 --reserve 5% --gross 7% --format json";
    let typed = service.command(line);
    let typed: Value = serde_json::from_slice(&typed.stdout).expect("the order is written");
    let order = json!({
        "species": "ash", "grades": [{ "grade": "FAS", "price": 8 }, { "grade": "1C", "price": 5.5 }], "thicknesses": ["4/4"],
        "lots": 3, "seed": 4, "confidence": 0.8, "freight": 40, "bundle": 10, "surfacing": 0.5,
        "wide": { "from": "7 in", "premium": 1.25 }, "long": { "from": "10 ft", "premium": 0.75 }, "reserve": 0.05, "gross": 0.07
    });
    let asked = |order: &Value| json!({ "job": job(), "order": order }).to_string();
    let answer = post(service.address, "/v1/orders", &[], &asked(&order)).is(200).json();
    assert_eq!(answer, typed);
    let cost = |answer: &Value| answer["totals"][0]["cost"].as_f64().expect("a price gives a cost");
    let mut plain = order.clone();
    plain.as_object_mut().unwrap().retain(|name, _| name != "wide" && name != "long");
    let without = post(service.address, "/v1/orders", &[], &asked(&plain)).is(200).json();
    assert!(cost(&answer) > cost(&without), "premiums cost something");
}

#[test]
fn what_is_wrong_with_an_order_is_said_where_it_stands() {
    let service = Running::start("");
    let order = json!({
        "species": "ash", "grades": [{ "grade": "ZZZ" }], "thicknesses": ["a/4"], "lots": 0, "bundle": 0,
        "wide": { "from": "-3 in", "premium": 1 }, "long": { "from": "10 ft", "premium": -1 }, "reserve": 1
    });
    let body = json!({ "job": job(), "order": order });
    let problem = post(service.address, "/v1/orders", &[], &body.to_string()).problem(422, "invalid");
    let errors = problem["errors"].as_array().unwrap();
    let pointers: Vec<&str> = errors.iter().map(|error| error["pointer"].as_str().unwrap()).collect();
    for wanted in ["grades/0/grade", "thicknesses/0", "lots", "bundle", "wide/from", "long/premium", "reserve"] {
        let wanted = format!("/order/{wanted}");
        assert!(pointers.contains(&wanted.as_str()), "no {wanted} in {pointers:?}");
    }
}
