//! `/v1/check`: is a plan lawful?

use actix_web::http::StatusCode;
use actix_web::{HttpRequest, HttpResponse, web};
use serde_json::{Value, json};

use super::super::accept::{JSON, negotiate};
use super::super::answer::json;
use super::super::body::{Media, receive};
use super::super::endpoints::{Endpoint, Verb};
use super::super::openapi::{self, Operation, Schemas};
use super::super::problem::Problem;
use super::super::request::Doubt;
use super::Shared;
use super::plans::example;
use crate::plan::check::{Report, check};

pub const CHECK: Endpoint =
    Endpoint { verb: Verb::Post, path: "/v1/check", open: false, route: |r| r.to(judge), operation: about };

async fn judge(app: Shared, request: HttpRequest, payload: web::Payload) -> Result<HttpResponse, Problem> {
    negotiate(&request, &[JSON])?;
    let body = receive(&request, payload, &[Media::Json], &app.settings.limits, &app.room).await?;
    let shared = app.clone();
    let report = app.work(move || {
        let limits = &shared.settings.limits;
        let Doubt { job, pile, plan } = Doubt::read(body.json_text(limits)?, limits)?;
        Ok(Report::of(&check(&job, &pile, &plan)))
    });
    json(StatusCode::OK, &report.await?)
}

fn about(schemas: &mut Schemas) -> Operation {
    let schema = json!({
        "type": "object",
        "properties": {
            "job": openapi::file("Job"), "pile": openapi::file("Pile"), "shop": openapi::file("Shop"),
            "plan": openapi::file("Plan")
        },
        "required": ["job", "pile", "plan"],
        "additionalProperties": false
    });
    let mut example = example();
    let plan: Value = serde_json::from_str(include_str!("../bodies/plan.json")).expect("the examples are JSON");
    example["plan"] = plan;
    let about = "Every rule again, from the job, the pile and the plan alone. An unlawful plan is no error: the answer names \
                 each breach.";
    Operation::new("Checks", "check_plan", "Check a plan", about)
        .reads(Media::Json, schema, example)
        .gives(200, "What was found", JSON, schemas.of::<Report>())
        .fails_on_bodies()
}
