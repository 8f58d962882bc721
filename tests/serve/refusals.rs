//! What is refused, and how it is said.

use std::process::Command;

use rstest::rstest;
use serde_json::Value;

use crate::client::{call, get, post};
use crate::running::Running;

#[rstest]
#[case::no_such_place("GET", "/v1/plan", &[], "", 404, "not-found")]
#[case::another_file("GET", "/../../etc/passwd", &[], "", 404, "not-found")]
#[case::another_method("PUT", "/v1/plans", &[], "", 405, "wrong-method")]
#[case::no_media("POST", "/v1/plans", &[], "{}", 415, "wrong-media")]
#[case::a_form("POST", "/v1/plans", &[("Content-Type", "application/x-www-form-urlencoded")], "a=b", 415, "wrong-media")]
#[case::another_charset("POST", "/v1/tally", &[("Content-Type", "text/csv; charset=latin1")], "id", 415, "wrong-media")]
#[case::compressed("POST", "/v1/tally", &[("Content-Type", "text/csv"), ("Content-Encoding", "gzip")], "id", 415, "wrong-media")]
#[case::no_json("POST", "/v1/plans", &[("Content-Type", "application/json")], "{", 400, "malformed")]
#[case::cut_off("POST", "/v1/check", &[("Content-Type", "application/json")], "{\"job\": 1", 400, "malformed")]
#[case::another_answer("GET", "/openapi.json", &[("Accept", "image/png")], "", 406, "not-acceptable")]
#[case::no_plan("GET", "/v1/plans/0123456789abcdef0123456789abcdef", &[], "", 404, "not-found")]
#[case::no_id("DELETE", "/v1/plans/1", &[], "", 404, "not-found")]
#[case::a_bad_key("POST", "/v1/plans", &[("Content-Type", "application/json"), ("Idempotency-Key", " ")], "{}", 400, "malformed")]
#[case::a_strange_query("POST", "/v1/tally?colour=red", &[("Content-Type", "application/json")], "{}", 400, "malformed")]
#[case::another_host("GET", "/healthz", &[("Host", "evil.example")], "", 421, "wrong-host")]
fn a_request_that_makes_no_sense_is_refused_with_a_problem(
    #[case] method: &str,
    #[case] path: &str,
    #[case] headers: &[(&str, &str)],
    #[case] body: &str,
    #[case] status: u16,
    #[case] code: &str,
) {
    let service = Running::start("");
    let refused = call(service.address, method, path, headers, body.as_bytes());
    assert_eq!(refused.header("x-content-type-options"), Some("nosniff"));
    assert!(refused.header("x-request-id").is_some());
    if status == 405 {
        assert_eq!(refused.header("allow"), Some("POST"));
    }
    refused.problem(status, code);
}

#[test]
fn all_errors_of_a_body_come_at_once_with_pointers_that_lead_to_them() {
    let service = Running::start("");
    let body = r#"{
        "job": { "format": "flitchwork.job/1", "units": "in", "parts": [
            { "id": "a", "species": "ash", "thickness": "3/4", "width": -3, "length": 20 },
            { "id": "b", "species": "ash", "thickness": "3/4", "width": 3, "lenght": 20 } ] },
        "pile": { "format": "flitchwork.pile/1", "units": "in", "boards": [
            { "id": "C", "species": "ash", "nominal": "4/4", "width": "wide", "length": 90, "cost": 1, "marks": "x" } ] },
        "limits": { "gap": 7 } }"#;
    let problem = post(service.address, "/v1/plans", &[], body).problem(422, "invalid");
    let body: Value = serde_json::from_str(body).unwrap();
    let errors = problem["errors"].as_array().unwrap();
    let pointers: Vec<&str> = errors.iter().map(|error| error["pointer"].as_str().unwrap()).collect();
    for wanted in ["/job/parts/0/width", "/job/parts/1/lenght", "/pile/boards/0/width", "/limits/gap"] {
        assert!(pointers.contains(&wanted), "no {wanted} in {pointers:?}");
        assert!(body.pointer(wanted).is_some());
    }
    assert!(errors.iter().any(|error| error["detail"].as_str().unwrap().contains("did you mean `length`?")));
}

#[test]
fn a_body_too_deep_is_refused_and_the_service_lives() {
    let service = Running::start("");
    let deep = "[".repeat(200_000);
    post(service.address, "/v1/plans", &[], &deep).problem(422, "invalid");
    let deep = format!("{{\"job\": {}}}", "{\"a\":".repeat(100_000));
    post(service.address, "/v1/plans", &[], &deep).problem(422, "invalid");
    get(service.address, "/healthz").is(200);
}

#[test]
fn pages_of_other_origins_are_let_in_by_name_only() {
    let service = Running::start("--allow-origin https://shop.example");
    let ask = |origin: &str| call(service.address, "GET", "/healthz", &[("Origin", origin)], b"").is(200);
    assert_eq!(ask("https://shop.example").header("access-control-allow-origin"), Some("https://shop.example"));
    assert_eq!(ask("https://evil.example").header("access-control-allow-origin"), None);
    let preflight = |origin: &str| {
        let headers = [("Origin", origin), ("Access-Control-Request-Method", "POST")];
        call(service.address, "OPTIONS", "/v1/plans", &headers, b"")
    };
    let allowed = preflight("https://shop.example").is(204);
    assert_eq!(allowed.header("access-control-allow-methods"), Some("GET, POST, DELETE"));
    assert_eq!(preflight("https://evil.example").problem(405, "wrong-method")["status"], 405);
}

#[rstest]
#[case::open_to_all("--bind 0.0.0.0:0", "no token file")]
#[case::no_such_tokens("--tokens nowhere", "cannot read the token file")]
#[case::no_such_folder("--store nowhere/plans.db", "cannot open the store")]
#[case::no_origin("--allow-origin *", "is no origin")]
#[case::no_number("--max-seconds 0", "above 0")]
fn a_service_that_would_not_be_safe_or_cannot_work_does_not_start(#[case] options: &str, #[case] why: &str) {
    let folder = tempfile::tempdir().unwrap();
    let output = Command::new(env!("CARGO_BIN_EXE_flitchwork"))
        .current_dir(folder.path())
        .arg("serve")
        .args(options.split(' '))
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(2), "{said}");
    assert!(said.contains(why), "{said}");
    assert_eq!(output.stdout, b"");
}
