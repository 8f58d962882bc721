//! What the service says of plans, as JSON; the types here are what the OpenAPI document describes.

use std::time::{Duration, UNIX_EPOCH};

use actix_web::http::StatusCode;
use actix_web::http::header::{ACCEPT, CONTENT_TYPE, VARY};
use actix_web::{HttpResponse, HttpResponseBuilder};
use schemars::{JsonSchema, Schema, SchemaGenerator};
use serde::Serialize;
use serde_json::value::RawValue;

use super::accept::{CSV, JSON, TEXT};
use super::openapi;
use super::problem::Problem;
use super::state::{Best, State};
use super::store::Kept;

/// A plan, or how it is going.
#[derive(Debug, Serialize, JsonSchema)]
pub struct PlanAnswer {
    /// The plan's own part of its address.
    #[schemars(regex(pattern = "^[0-9a-f]{32}$"))]
    pub id: String,
    pub state: State,
    /// When it was asked for (RFC 3339).
    pub created: String,
    /// When it ended.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ended: Option<String>,
    /// The best plan so far, or the plan, in figures.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub best: Option<Best>,
    /// The plan file.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(schema_with = "plan_file")]
    pub plan: Option<Box<RawValue>>,
    /// Why there is no plan.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub problem: Option<Problem>,
    /// Its cut diagrams, when they were asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub diagrams: Option<Vec<Diagram>>,
    pub links: Links,
}

/// Where to look further.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Links {
    /// This answer.
    pub state: String,
    /// Progress, as it comes.
    pub events: String,
    /// The plan file, once there is one.
    pub plan: String,
    /// Its cut diagrams, likewise.
    pub diagrams: String,
}

/// One cut diagram.
#[derive(Debug, Serialize, JsonSchema)]
pub struct Diagram {
    /// 0 is the overview; from 1 on the stock in the order of the plan.
    pub number: usize,
    /// What it shows.
    pub title: String,
    /// The stock's id in the pile; none for the overview.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stock: Option<String>,
    /// Which of its equal pieces, from 1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub copy: Option<u32>,
    /// Addresses of the drawing.
    pub svg: String,
    pub png: String,
    pub pdf: String,
    /// The drawing itself (SVG), where it was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub drawing: Option<String>,
}

/// The cut diagrams of a plan.
#[derive(Debug, Serialize, JsonSchema)]
pub struct DiagramList {
    pub diagrams: Vec<Diagram>,
    /// All of them in one file, a page each.
    pub pdf: String,
}

/// The schema of a plan file.
pub fn plan_file(_: &mut SchemaGenerator) -> Schema {
    Schema::try_from(openapi::file("Plan")).expect("a reference is a schema")
}

/// Where a plan is found.
pub fn address(id: &str) -> String {
    format!("/v1/plans/{id}")
}

/// A time in milliseconds since 1970, as RFC 3339 writes it.
pub fn time(milliseconds: u64) -> String {
    humantime::format_rfc3339_millis(UNIX_EPOCH + Duration::from_millis(milliseconds)).to_string()
}

impl Links {
    /// The links of a plan.
    pub fn of(id: &str) -> Links {
        let state = address(id);
        let (events, plan) = (format!("{state}/events"), format!("{state}/plan"));
        Links { events, plan, diagrams: format!("{state}/diagrams"), state }
    }
}

impl PlanAnswer {
    /// A plan in the making.
    pub fn live(id: &str, created: u64, state: State, best: Option<Best>) -> PlanAnswer {
        PlanAnswer {
            id: id.to_owned(),
            state,
            created: time(created),
            ended: None,
            best,
            plan: None,
            problem: None,
            diagrams: None,
            links: Links::of(id),
        }
    }

    /// A plan as it is kept.
    ///
    /// # Errors
    /// When what is kept is no JSON.
    pub fn kept(kept: Kept) -> Result<PlanAnswer, serde_json::Error> {
        Ok(PlanAnswer {
            ended: kept.ended.map(time),
            plan: kept.plan.map(RawValue::from_string).transpose()?,
            problem: kept.problem.as_deref().map(serde_json::from_str).transpose()?,
            ..PlanAnswer::live(&kept.id, kept.created, kept.state, kept.best)
        })
    }
}

/// A JSON answer.
pub fn json<T: Serialize>(status: StatusCode, answer: &T) -> Result<HttpResponse, Problem> {
    let text = serde_json::to_string(answer).map_err(|error| Problem::fault(&error))?;
    Ok(typed(status, JSON).body(text))
}

/// An answer of a media type that may depend on what the client accepts.
pub fn typed(status: StatusCode, media: &str) -> HttpResponseBuilder {
    let mut answer = HttpResponse::build(status);
    answer.insert_header((CONTENT_TYPE, media)).append_header((VARY, ACCEPT.as_str()));
    answer
}

/// A sheet of rows in the form the client asked for: in words, for a spreadsheet, or as its figures.
pub fn sheet_as<T: Serialize>(
    media: &str,
    text: impl FnOnce() -> String,
    csv: impl FnOnce() -> String,
    figures: impl FnOnce() -> T,
) -> Result<HttpResponse, Problem> {
    match media {
        TEXT => Ok(typed(StatusCode::OK, TEXT).body(text())),
        CSV => Ok(typed(StatusCode::OK, CSV).body(csv())),
        _ => json(StatusCode::OK, &figures()),
    }
}
