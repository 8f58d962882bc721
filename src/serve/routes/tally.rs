//! `/v1/tally`: what a pile holds and what it cost.

use actix_web::{HttpRequest, HttpResponse, web};
use serde::Deserialize;
use serde_json::json;

use super::super::accept::{CSV, JSON, TEXT, negotiate};
use super::super::answer::sheet_as;
use super::super::body::{Media, receive};
use super::super::endpoints::{Endpoint, Verb};
use super::super::openapi::{self, Operation, Schemas};
use super::super::problem::{BodyError, Problem};
use super::super::request::{pile_excess, read_pile};
use super::plans::example;
use super::{Shared, query};
use crate::measure::Units;
use crate::pile;
use crate::pile::tally_sheet::{TallyFigures, TallySheet};

pub const TALLY: Endpoint =
    Endpoint { verb: Verb::Post, path: "/v1/tally", open: false, route: |r| r.to(tally), operation: about };

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct TallyQuery {
    units: Option<Units>,
}

async fn tally(app: Shared, request: HttpRequest, payload: web::Payload) -> Result<HttpResponse, Problem> {
    let media = negotiate(&request, &[JSON, TEXT, CSV])?;
    let TallyQuery { units } = query(&request)?;
    let body = receive(&request, payload, &[Media::Json, Media::Csv], &app.settings.limits, &app.room).await?;
    let shared = app.clone();
    let sheet = app.work(move || {
        let limits = &shared.settings.limits;
        let pile = match body.media {
            Media::Json => read_pile(body.json_text(limits)?, limits)?,
            Media::Csv => {
                let read = pile::file::read_csv("pile", &body.bytes, units.unwrap_or(Units::Inches));
                read.map_err(|faults| Problem::invalid(BodyError::all_of(&faults, "")))?
            }
        };
        match pile_excess(&pile, limits, "") {
            Some(error) => Err(Problem::invalid(vec![error])),
            None => Ok(TallySheet::of(&pile)),
        }
    });
    let sheet = sheet.await?;
    sheet_as(media, || sheet.as_text(), || sheet.as_csv(), || sheet.figures())
}

fn about(schemas: &mut Schemas) -> Operation {
    let about = "Board feet as billed and as measured, and cost, by species and thickness. The body is a pile, or its boards \
                 as a spreadsheet saves them.";
    let units = "What a bare number in CSV is measured in; inches unless told otherwise";
    Operation::new("Piles", "tally_pile", "Tally a pile", about)
        .takes("units", "query", units, json!({ "type": "string", "enum": ["in", "mm"] }))
        .reads(Media::Json, openapi::file("Pile"), example()["pile"].clone())
        .reads(Media::Csv, json!({ "type": "string" }), include_str!("../bodies/pile.csv").into())
        .gives(200, "The tally", JSON, schemas.of::<TallyFigures>())
        .gives(200, "The tally", TEXT, json!({ "type": "string" }))
        .gives(200, "The tally", CSV, json!({ "type": "string" }))
        .fails_on_bodies()
}
