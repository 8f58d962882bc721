//! `/v1/grades`: the hardwood grade each board of a pile reaches.

use actix_web::{HttpRequest, HttpResponse, web};
use serde_json::json;

use super::super::accept::{CSV, JSON, TEXT, negotiate};
use super::super::answer::sheet_as;
use super::super::body::{Media, receive};
use super::super::endpoints::{Endpoint, Verb};
use super::super::openapi::{self, Operation, Schemas};
use super::super::problem::Problem;
use super::super::request::{pile_excess, read_pile};
use super::Shared;
use super::plans::example;
use crate::grade::{GradeFigures, GradeOptions, grade_pile};

pub const GRADES: Endpoint =
    Endpoint { verb: Verb::Post, path: "/v1/grades", open: false, route: |r| r.to(grades), operation: about };

/// Steps of all searches for cuttings together, shared between the boards, and the most for one face: a pile of any size
/// that is let in is graded in seconds.
const STEPS: u64 = 100_000_000;
const STEPS_OF_FACE: u64 = 2_000_000;

async fn grades(app: Shared, request: HttpRequest, payload: web::Payload) -> Result<HttpResponse, Problem> {
    let media = negotiate(&request, &[JSON, TEXT, CSV])?;
    let body = receive(&request, payload, &[Media::Json], &app.settings.limits, &app.room).await?;
    let shared = app.clone();
    let sheet = app.work(move || {
        let limits = &shared.settings.limits;
        let pile = read_pile(body.json_text(limits)?, limits)?;
        match pile_excess(&pile, limits, "") {
            Some(error) => Err(Problem::invalid(vec![error])),
            None => {
                let steps = (STEPS / pile.boards.len().max(1) as u64).min(STEPS_OF_FACE);
                Ok(grade_pile(&pile, &GradeOptions { steps, best_cuttings: true }))
            }
        }
    });
    let sheet = sheet.await?;
    sheet_as(media, || sheet.as_text(), || sheet.as_csv(), || sheet.figures())
}

fn about(schemas: &mut Schemas) -> Operation {
    let about = "The grade each board reaches by the standard hardwood rules, with its cuttings and what keeps it from the next \
                 better one, and what was received against what was invoiced.";
    Operation::new("Piles", "grade_pile", "Grade a pile", about)
        .reads(Media::Json, openapi::file("Pile"), example()["pile"].clone())
        .gives(200, "The grades", JSON, schemas.of::<GradeFigures>())
        .gives(200, "The grades", TEXT, json!({ "type": "string" }))
        .gives(200, "The grades", CSV, json!({ "type": "string" }))
        .fails_on_bodies()
}
