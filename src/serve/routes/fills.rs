//! `/v1/fills`: what else can be made of one piece of stock? Answered at once, so it has no longer than a plan is waited for;
//! nothing is kept.

use actix_web::http::StatusCode;
use actix_web::{HttpRequest, HttpResponse, web};
use schemars::JsonSchema;
use serde::Serialize;
use serde_json::json;
use serde_json::value::RawValue;

use super::super::accept::{JSON, TEXT, negotiate};
use super::super::answer::{plan_file, typed};
use super::super::body::{Media, receive};
use super::super::endpoints::{Endpoint, Verb};
use super::super::openapi::{self, Operation, Schemas};
use super::super::problem::{BodyError, Kind, Problem};
use super::super::request::Filling;
use super::plans::{Inline, PlanQuery, example};
use super::{Shared, attended, query};
use crate::draw::{self, DrawOptions};
use crate::plan;
use crate::plan::fill::{FillError, Filled, fill, text};

pub const FILL: Endpoint =
    Endpoint { verb: Verb::Post, path: "/v1/fills", open: false, route: |r| r.to(ask), operation: about };

/// The most valuable set of parts found for one piece of stock.
#[derive(Debug, Serialize, JsonSchema)]
struct FillAnswer {
    /// The piece's id in the pile.
    stock: String,
    /// Which of its equal pieces, from 1.
    copy: u32,
    /// Finished pieces cut from it.
    pieces: u32,
    /// What they are worth together: each its part's `value`, or else its finished volume in cubic inches.
    value: f64,
    /// No set of these parts from this piece is worth more.
    at_most: f64,
    /// True when the search proved that no set is worth more than this one.
    proven: bool,
    /// The cuts as a plan file; its shortages say why each other part is not cut from the piece. It is a plan of the job
    /// asked about, or, with `any_number`, of that job asking for as many as are cut.
    #[schemars(schema_with = "plan_file")]
    plan: Box<RawValue>,
    /// Its cut diagram (SVG), where it was asked for and something is cut.
    #[serde(skip_serializing_if = "Option::is_none")]
    drawing: Option<String>,
}

async fn ask(app: Shared, request: HttpRequest, payload: web::Payload) -> Result<HttpResponse, Problem> {
    let media = negotiate(&request, &[JSON, TEXT])?;
    let PlanQuery { diagrams } = query(&request)?;
    let limits = &app.settings.limits;
    let body = receive(&request, payload, &[Media::Json], limits, &app.room).await?;
    let shared = app.clone();
    let answer = attended(&app, move |cancel| {
        let limits = &shared.settings.limits;
        let Filling { job, pile, pick, options } = Filling::read(body.json_text(limits)?, limits)?;
        let filled = fill(&job, &pile, &pick, &options, cancel).map_err(|error| match error {
            FillError::UnknownStock { .. } => Problem::invalid(vec![BodyError::at("/stock", error.to_string())]),
            FillError::NoSuchCopy { .. } => Problem::invalid(vec![BodyError::at("/copy", error.to_string())]),
            FillError::Contradiction(_) | FillError::Unlawful(_) => Problem::fault(&error),
        })?;
        if media == TEXT {
            return Ok(text::summary(&filled, &filled.job.shop));
        }
        let drawing = match diagrams {
            Some(Inline::Inline) if !filled.plan.stock.is_empty() => Some(drawn(&filled, &pile)?),
            _ => None,
        };
        serde_json::to_string(&FillAnswer::of(&filled, drawing)?).map_err(|error| Problem::fault(&error))
    });
    Ok(typed(StatusCode::OK, media).body(answer.await?))
}

fn drawn(filled: &Filled, pile: &crate::pile::Pile) -> Result<String, Problem> {
    let options = DrawOptions::of(&filled.job.shop, filled.plan.units);
    let drawing = draw::stock_drawing(&filled.plan, pile, &options, 0);
    drawing.map(|drawing| draw::as_svg(&drawing)).map_err(|error| Problem::new(Kind::NotDrawn, error.to_string()))
}

impl FillAnswer {
    fn of(filled: &Filled, drawing: Option<String>) -> Result<FillAnswer, Problem> {
        let plan = RawValue::from_string(plan::file::write_json(&filled.plan));
        Ok(FillAnswer {
            stock: filled.pick.id.clone(),
            copy: filled.pick.copy,
            pieces: filled.plan.pieces_placed,
            value: filled.value.to_f64(),
            at_most: filled.upper.to_f64(),
            proven: filled.is_proven(),
            plan: plan.map_err(|error| Problem::fault(&error))?,
            drawing,
        })
    }
}

fn about(schemas: &mut Schemas) -> Operation {
    let limits = schemas.limits().clone();
    let schema = json!({
        "type": "object",
        "properties": {
            "job": openapi::file("Job"), "pile": openapi::file("Pile"), "shop": openapi::file("Shop"),
            "stock": { "type": "string", "description": "The id of the board, sheet or stick to fill" },
            "copy": { "type": "integer", "minimum": 1, "maximum": u32::MAX, "default": 1,
                "description": "Which of its equal pieces" },
            "any_number": { "type": "boolean", "default": false,
                "description": "Cut any number of a part, not at most what the job asks for" },
            "seconds": { "type": "number", "exclusiveMinimum": 0, "maximum": limits.fill_seconds(),
                "description": "Stop after so many seconds, proven or not; left out, the longest" }
        },
        "required": ["job", "pile", "stock"],
        "additionalProperties": false
    });
    let mut example = example();
    example["stock"] = "C2".into();
    let about = "The most valuable set of the job's parts from one piece of the pile, whatever the rest of it could do, with its \
                 cuts. Panels, laminations and matched parts are left out. Nothing is kept.";
    let inline = "Put the SVG of the cut diagram into the answer";
    Operation::new("Plans", "fill_stock", "Fill one piece of stock", about)
        .takes("diagrams", "query", inline, json!({ "type": "string", "enum": ["inline"] }))
        .reads(Media::Json, schema, example)
        .gives(200, "The most valuable set found", JSON, schemas.of::<FillAnswer>())
        .gives(200, "The most valuable set found", TEXT, json!({ "type": "string" }))
        .fails_on_bodies()
        .fails(&[Kind::Closing])
}
