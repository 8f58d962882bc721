//! `/v1/quotes`: what a commission costs by a plan and the shop's rates; the maker's own sheet, or the client's page.

use actix_web::http::StatusCode;
use actix_web::http::header::CONTENT_SECURITY_POLICY;
use actix_web::{HttpRequest, HttpResponse, web};
use serde_json::{Value, json};

use super::super::accept::{CSV, JSON, TEXT, negotiate};
use super::super::answer::typed;
use super::super::body::{Media, receive};
use super::super::endpoints::{Endpoint, Verb};
use super::super::openapi::{self, Operation, Schemas};
use super::super::problem::{BodyError, Problem};
use super::super::request::{Doubt, Pricing};
use super::Shared;
use super::diagrams::PAGES;
use super::documents::HTML;
use super::plans::example;
use crate::draw::offer;
use crate::quote::page::Page;
use crate::quote::{self, Quote, QuoteError};

pub const QUOTE: Endpoint =
    Endpoint { verb: Verb::Post, path: "/v1/quotes", open: false, route: |r| r.to(price), operation: about };

async fn price(app: Shared, request: HttpRequest, payload: web::Payload) -> Result<HttpResponse, Problem> {
    let media = negotiate(&request, &[JSON, TEXT, CSV, HTML, PAGES])?;
    let body = receive(&request, payload, &[Media::Json], &app.settings.limits, &app.room).await?;
    let shared = app.clone();
    let bytes = app.work(move || {
        let limits = &shared.settings.limits;
        let Pricing { doubt: Doubt { job, pile, plan }, occasion } = Pricing::read(body.json_text(limits)?, limits)?;
        let quote = quote::quote(&job, &pile, &plan, occasion).map_err(|error| refused(&error))?;
        spelled(&quote, media)
    });
    let mut answer = typed(StatusCode::OK, media);
    if media == HTML {
        // The page has its own looks and nothing else.
        let policy = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; frame-ancestors 'none'; sandbox";
        answer.insert_header((CONTENT_SECURITY_POLICY, policy));
    }
    Ok(answer.body(bytes.await?))
}

fn spelled(quote: &Quote, media: &str) -> Result<Vec<u8>, Problem> {
    Ok(match media {
        TEXT => quote::summary(quote).into_bytes(),
        CSV => quote::as_csv(quote).into_bytes(),
        HTML => quote::as_html(&Page::of(quote)).into_bytes(),
        PAGES => offer::offer_pdf(&Page::of(quote)).map_err(|error| Problem::fault(&error))?,
        _ => quote::file::write_json(quote).into_bytes(),
    })
}

fn refused(error: &QuoteError) -> Problem {
    let place = match error {
        QuoteError::Unlawful(_) => "/plan",
        QuoteError::Rates(_) | QuoteError::TooMuch => "/job/shop/rates",
        QuoteError::Date(_) => "/date",
    };
    Problem::invalid(vec![BodyError::at(place, error.to_string())])
}

fn about(_: &mut Schemas) -> Operation {
    let schema = json!({
        "type": "object",
        "properties": {
            "job": openapi::file("Job"), "pile": openapi::file("Pile"), "shop": openapi::file("Shop"),
            "plan": openapi::file("Plan"),
            "date": {
                "type": "string", "format": "date",
                "description": "The day of the quote, which stands so many days from then on; today (UTC) when left out."
            },
            "for": { "type": "string", "maxLength": 120, "pattern": "\\S", "description": "The client, as the quote names them." }
        },
        "required": ["job", "pile", "plan"],
        "additionalProperties": false
    });
    let mut example = example();
    let plan: Value = serde_json::from_str(include_str!("../bodies/plan.json")).expect("the examples are JSON");
    example["plan"] = plan;
    example["date"] = "2026-03-02".into();
    let about = "The stock at what it costs in the pile, everything else by the `rates` of the shop or of the job's own \
                 `shop`. JSON, text and CSV are the maker's own sheet; HTML and PDF are the client's page, which shows none \
                 of what the price is made of. A plan that does not make everything gives a quote that is marked incomplete. \
                 For the same piece of another wood, have it planned and price that plan too.";
    Operation::new("Quotes", "price_plan", "Price a plan", about)
        .reads(Media::Json, schema, example)
        .gives(200, "The quote", JSON, openapi::file("Quote"))
        .gives(200, "The quote", TEXT, json!({ "type": "string" }))
        .gives(200, "The quote", CSV, json!({ "type": "string" }))
        .gives(200, "The quote", HTML, json!({ "type": "string" }))
        .gives(200, "The quote", PAGES, json!({}))
        .fails_on_bodies()
}
