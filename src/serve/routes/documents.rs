//! What the service says of itself: the schemas of the files, the OpenAPI document, and the page that shows it.

use actix_web::http::StatusCode;
use actix_web::http::header::CONTENT_SECURITY_POLICY;
use actix_web::{HttpRequest, HttpResponse, web};
use serde_json::json;

use super::super::accept::{JSON, negotiate};
use super::super::answer::typed;
use super::super::endpoints::{Endpoint, Verb};
use super::super::openapi::{Operation, Schemas, document};
use super::super::page;
use super::super::problem::{Kind, Problem};
use super::Shared;
use crate::{job, pile, plan, quote};

const SCHEMA_MEDIA: &str = "application/schema+json";
pub const HTML: &str = "text/html; charset=utf-8";
const CSS: &str = "text/css; charset=utf-8";

const fn open(
    path: &'static str,
    route: fn(actix_web::Route) -> actix_web::Route,
    operation: fn(&mut Schemas) -> Operation,
) -> Endpoint {
    Endpoint { verb: Verb::Get, path, open: true, route, operation }
}

pub const SCHEMA: Endpoint = open("/v1/schemas/{name}", |r| r.to(schema), about_schema);
pub const OPENAPI: Endpoint = open("/openapi.json", |r| r.to(openapi), about_openapi);
pub const PAGE: Endpoint = open("/", |r| r.to(shown), about_page);
pub const STYLE: Endpoint = open("/style.css", |r| r.to(style), about_style);

async fn schema(request: HttpRequest, name: web::Path<String>) -> Result<HttpResponse, Problem> {
    let media = negotiate(&request, &[SCHEMA_MEDIA, JSON])?;
    let schema = match name.as_str() {
        "pile" => pile::file::schema(),
        "job" => job::file::schema(),
        "shop" => job::file::shop_schema(),
        "plan" => plan::file::schema(),
        "quote" => quote::file::schema(),
        _ => return Err(Problem::new(Kind::NotFound, "the schemas are pile, job, shop, plan and quote")),
    };
    Ok(typed(StatusCode::OK, media).body(format!("{schema:#}\n")))
}

async fn openapi(app: Shared, request: HttpRequest) -> Result<HttpResponse, Problem> {
    negotiate(&request, &[JSON])?;
    let shared = app.clone();
    let text = app.work(move || Ok(document(&shared.settings.limits, shared.tokens.is_some()).to_string()));
    Ok(typed(StatusCode::OK, JSON).body(text.await?))
}

async fn shown(app: Shared, request: HttpRequest) -> Result<HttpResponse, Problem> {
    negotiate(&request, &[HTML])?;
    let shared = app.clone();
    let text = app.work(move || Ok(page::of(&document(&shared.settings.limits, shared.tokens.is_some()))));
    let policy = "default-src 'none'; style-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'";
    Ok(typed(StatusCode::OK, HTML).insert_header((CONTENT_SECURITY_POLICY, policy)).body(text.await?))
}

async fn style(request: HttpRequest) -> Result<HttpResponse, Problem> {
    negotiate(&request, &[CSS])?;
    Ok(typed(StatusCode::OK, CSS).body(page::STYLE))
}

fn about_schema(_: &mut Schemas) -> Operation {
    let about = "Every field of a file with its meaning, unit and default, as `flitchwork schema` prints it.";
    Operation::new("Documents", "file_schema", "The JSON Schema of a file", about)
        .takes(
            "name",
            "path",
            "Which file",
            json!({ "type": "string", "enum": ["pile", "job", "shop", "plan", "quote"] }),
        )
        .gives(200, "The schema", SCHEMA_MEDIA, json!({ "type": "object" }))
        .gives(200, "The schema", JSON, json!({ "type": "object" }))
        .fails(&[Kind::NotFound, Kind::NotAcceptable])
}

fn about_openapi(_: &mut Schemas) -> Operation {
    Operation::new("Documents", "openapi", "This document", "Made from the same types as the answers.")
        .gives(200, "The document", JSON, json!({ "type": "object" }))
        .fails(&[Kind::NotAcceptable, Kind::Busy])
}

fn about_page(_: &mut Schemas) -> Operation {
    Operation::new("Documents", "page", "This document to read", "A page that loads nothing from elsewhere.")
        .gives(200, "The page", HTML, json!({ "type": "string" }))
        .fails(&[Kind::NotAcceptable, Kind::Busy])
}

fn about_style(_: &mut Schemas) -> Operation {
    Operation::new("Documents", "style", "The looks of the page", "A style sheet.")
        .gives(200, "The style sheet", CSS, json!({ "type": "string" }))
        .fails(&[Kind::NotAcceptable])
}
