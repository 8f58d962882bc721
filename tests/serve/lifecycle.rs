//! A service's start, its log, and its end in good order.

#![cfg(unix)]

use std::process::Command;

use serde_json::Value;

use crate::client::{call, get, post};
use crate::running::{Running, sample};

fn order(seconds: f64) -> String {
    let (job, pile) = (sample("sideboard/job.json"), sample("sideboard/pile.json"));
    format!("{{ \"job\": {job}, \"pile\": {pile}, \"limits\": {{ \"seconds\": {seconds} }} }}")
}

fn kill(service: &Running, signal: &str) {
    let sent = Command::new("kill").args([signal, &service.child.id().to_string()]).status().unwrap();
    assert!(sent.success());
}

#[test]
fn a_polite_kill_ends_what_runs_and_what_was_promised_is_there_after_the_next_start() {
    let folder = tempfile::tempdir().unwrap();
    let store = folder.path().join("plans.db").display().to_string();
    let mut service = Running::start(&format!("--store {store} --grace 30"));
    let asked = post(service.address, "/v1/plans", &[("Prefer", "respond-async")], &order(1.0)).is(202);
    let place = asked.header("location").unwrap().to_owned();
    kill(&service, "-TERM");
    assert_eq!(service.child.wait().unwrap().code(), Some(0), "{}", service.log());

    let service = Running::start(&format!("--store {store}"));
    let mut plan = get(service.address, &place).is(200).json();
    while plan["state"] == "waiting" || plan["state"] == "working" {
        std::thread::sleep(std::time::Duration::from_millis(100));
        plan = get(service.address, &place).is(200).json();
    }
    assert_eq!((plan["state"].as_str(), plan["plan"]["status"].as_str()), (Some("done"), Some("complete")));
}

#[test]
fn a_plan_outlives_a_kill_that_is_not_polite() {
    let folder = tempfile::tempdir().unwrap();
    let store = folder.path().join("plans.db").display().to_string();
    let mut service = Running::start(&format!("--store {store}"));
    let place = post(service.address, "/v1/plans", &[], &order(0.5)).is(200);
    let place = place.header("content-location").unwrap();
    let before = get(service.address, place).is(200).json();
    kill(&service, "-KILL");
    service.child.wait().unwrap();
    let service = Running::start(&format!("--store {store}"));
    assert_eq!(get(service.address, place).is(200).json(), before);
}

#[test]
fn the_log_is_json_and_carries_the_request_id() {
    let service = Running::start("");
    let answer = call(service.address, "GET", "/readyz", &[("X-Request-Id", "bench-42")], b"").is(200);
    assert_eq!(answer.header("x-request-id"), Some("bench-42"));
    let log = service.log();
    let lines: Vec<Value> = log.lines().map(|line| serde_json::from_str(line).expect("a line is JSON")).collect();
    let line = lines.iter().find(|line| line["path"] == "/readyz").expect("the request is logged");
    assert_eq!((line["status"].as_u64(), line["span"]["id"].as_str()), (Some(200), Some("bench-42")));
}

#[test]
fn figures_are_counted() {
    let service = Running::start("");
    post(service.address, "/v1/plans", &[], &order(0.3)).is(200);
    let metrics = get(service.address, "/metrics").is(200);
    assert!(metrics.header("content-type").unwrap().starts_with("application/openmetrics-text"));
    let text = metrics.text();
    for line in [
        "flitchwork_requests_total{method=\"POST\",route=\"/v1/plans\",status=\"200\"} 1",
        "flitchwork_solves_total{how=\"done\"} 1",
        "flitchwork_solve_gap_count 1",
        "flitchwork_first_plan_seconds_count 1",
        "flitchwork_queue_waiting 0",
        "# EOF",
    ] {
        assert!(text.contains(line), "no {line} in {text}");
    }
}
