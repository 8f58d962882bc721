//! `/v1/orders`: how much lumber to order, with what confidence.

use std::sync::atomic::Ordering;
use std::time::Instant;

use actix_web::http::StatusCode;
use actix_web::{HttpRequest, HttpResponse, web};
use serde_json::json;

use super::super::accept::{JSON, TEXT, negotiate};
use super::super::answer::{json, typed};
use super::super::body::{Media, receive};
use super::super::endpoints::{Endpoint, Verb};
use super::super::openapi::{self, Operation, Schemas};
use super::super::problem::{BodyError, Kind, Problem};
use super::super::request::{Asked, Purchase};
use super::plans::example;
use super::{Shared, attended};
use crate::order::{self, OrderError, OrderFigures};

pub const ORDERS: Endpoint =
    Endpoint { verb: Verb::Post, path: "/v1/orders", open: false, route: |r| r.to(orders), operation: about };

async fn orders(app: Shared, request: HttpRequest, payload: web::Payload) -> Result<HttpResponse, Problem> {
    let media = negotiate(&request, &[JSON, TEXT])?;
    let body = receive(&request, payload, &[Media::Json], &app.settings.limits, &app.room).await?;
    let shared = app.clone();
    let answered = attended(&app, move |cancel| {
        let limits = &shared.settings.limits;
        let Purchase { job, question } = Purchase::read(body.json_text(limits)?, limits, 1)?;
        // The longest solve that is allowed ends the lots; what was found by then is the answer.
        let start = Instant::now();
        let mind = |_| {
            if start.elapsed().as_secs_f64() >= limits.seconds {
                cancel.store(true, Ordering::Relaxed);
            }
        };
        let answer = order::answer(&job, &question, cancel, &mind).map_err(|error| refusal(&error))?;
        Ok((answer, job.units))
    });
    let (answer, units) = answered.await?;
    match media {
        TEXT => Ok(typed(StatusCode::OK, TEXT).body(answer.as_text(units))),
        _ => json(StatusCode::OK, &answer.figures(units)),
    }
}

/// What an order that cannot be answered says, and of which part of the body.
fn refusal(error: &OrderError) -> Problem {
    let pointer = match error {
        OrderError::NoPastBoards { .. } => "/past",
        _ => "/order",
    };
    Problem::invalid(vec![BodyError::at(pointer, error.to_string())])
}

fn about(schemas: &mut Schemas) -> Operation {
    let schema = json!({
        "type": "object",
        "properties": {
            "job": openapi::file("Job"), "past": openapi::file("Pile"), "shop": openapi::file("Shop"),
            "order": schemas.taken::<Asked>()
        },
        "required": ["job", "order"],
        "additionalProperties": false
    });
    let order = json!({ "species": "cherry", "grades": [{ "grade": "FAS", "price": 9.6 }], "lots": 5 });
    let body = json!({ "job": example()["job"], "order": order });
    let about = "Plans random deliveries of boards, made up by grade or drawn from `past` boards, until the job can be made, and \
                 answers how many board feet suffice in the share of them asked for.";
    Operation::new("Orders", "order_lumber", "Find how much lumber to order", about)
        .reads(Media::Json, schema, body)
        .gives(200, "The order", JSON, schemas.of::<OrderFigures>())
        .gives(200, "The order", TEXT, json!({ "type": "string" }))
        .fails_on_bodies()
        .fails(&[Kind::Closing])
}
