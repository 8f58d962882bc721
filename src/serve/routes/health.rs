//! Whether the service lives, whether it takes work, and its figures.

use actix_web::http::StatusCode;
use actix_web::{HttpRequest, HttpResponse, web};
use serde_json::json;
use std::sync::Arc;

use super::super::accept::{TEXT, negotiate};
use super::super::answer::typed;
use super::super::endpoints::{Endpoint, Verb};
use super::super::metrics::MEDIA;
use super::super::openapi::{Operation, Schemas};
use super::super::problem::{Kind, Problem};
use super::super::solves::Stage;
use super::Shared;

pub const HEALTH: Endpoint =
    Endpoint { verb: Verb::Get, path: "/healthz", open: true, route: |r| r.to(health), operation: about_health };
pub const READY: Endpoint =
    Endpoint { verb: Verb::Get, path: "/readyz", open: true, route: |r| r.to(ready), operation: about_ready };
pub const METRICS: Endpoint =
    Endpoint { verb: Verb::Get, path: "/metrics", open: false, route: |r| r.to(metrics), operation: about_metrics };

async fn health() -> HttpResponse {
    typed(StatusCode::OK, TEXT).body("alive\n")
}

async fn ready(app: Shared) -> Result<HttpResponse, Problem> {
    let store = Arc::clone(&app.store);
    let answers = web::block(move || store.answers()).await.unwrap_or(false);
    if *app.solves.stage().borrow() == Stage::Open && answers {
        return Ok(typed(StatusCode::OK, TEXT).body("ready\n"));
    }
    Err(Problem::new(Kind::Closing, if answers { "no new work is taken" } else { "the store does not answer" }))
}

async fn metrics(app: Shared, request: HttpRequest) -> Result<HttpResponse, Problem> {
    negotiate(&request, &[MEDIA, TEXT])?;
    Ok(typed(StatusCode::OK, MEDIA).body(app.metrics.text()))
}

fn about_health(_: &mut Schemas) -> Operation {
    Operation::new("Operation", "health", "Does it live", "Answers as long as the program runs.").gives(
        200,
        "It lives",
        TEXT,
        json!({ "type": "string" }),
    )
}

fn about_ready(_: &mut Schemas) -> Operation {
    let about = "Answers when new work is taken: the store can be read, and the service is not closing.";
    Operation::new("Operation", "ready", "Does it take work", about)
        .gives(200, "It does", TEXT, json!({ "type": "string" }))
        .fails(&[Kind::Closing])
}

fn about_metrics(_: &mut Schemas) -> Operation {
    let about = "Requests, queue, solves, gap reached, time to the first plan (OpenMetrics).";
    Operation::new("Operation", "metrics", "Figures for Prometheus", about)
        .gives(200, "The figures", MEDIA, json!({ "type": "string" }))
        .fails(&[Kind::NotAcceptable])
}
