//! `/v1/quotes`: what a commission costs by a plan and the shop's rates; the maker's own sheet, or the client's page.

use std::sync::atomic::AtomicBool;

use actix_web::http::StatusCode;
use actix_web::http::header::CONTENT_SECURITY_POLICY;
use actix_web::{HttpRequest, HttpResponse, web};
use serde_json::{Value, json};

use super::super::accept::{CSV, JSON, TEXT, negotiate};
use super::super::answer::typed;
use super::super::body::{Media, receive};
use super::super::endpoints::{Endpoint, Verb};
use super::super::openapi::{self, Operation, Schemas};
use super::super::problem::{BodyError, Kind, Problem};
use super::super::request::{Doubt, MOST_INSTEAD, Pricing, Search};
use super::super::settings::Limits;
use super::diagrams::PAGES;
use super::documents::HTML;
use super::plans::example;
use super::{Shared, attended};
use crate::draw::offer;
use crate::quote::page::Page;
use crate::quote::{self, Alternative, Instead, InsteadError, Quote, QuoteError};

pub const QUOTE: Endpoint =
    Endpoint { verb: Verb::Post, path: "/v1/quotes", open: false, route: |r| r.to(price), operation: about };

async fn price(app: Shared, request: HttpRequest, payload: web::Payload) -> Result<HttpResponse, Problem> {
    let media = negotiate(&request, &[JSON, TEXT, CSV, HTML, PAGES])?;
    let body = receive(&request, payload, &[Media::Json], &app.settings.limits, &app.room).await?;
    let shared = app.clone();
    let priced = app.work(move || {
        let limits = &shared.settings.limits;
        let pricing = Pricing::read(body.json_text(limits)?, limits)?;
        let Doubt { job, pile, plan } = &pricing.doubt;
        let quote = quote::quote(job, pile, plan, pricing.occasion.clone()).map_err(|error| refused(&error))?;
        Ok((pricing, quote))
    });
    let (pricing, mut quote) = priced.await?;
    if !pricing.instead.is_empty() {
        let shared = app.clone();
        let others = attended(&app, move |cancel| alternatives(&pricing, &shared.settings.limits, cancel));
        quote.alternatives = others.await?;
    }
    let bytes = app.work(move || spelled(&quote, media));
    let mut answer = typed(StatusCode::OK, media);
    if media == HTML {
        // The page has its own looks and nothing else.
        let policy = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; frame-ancestors 'none'; sandbox";
        answer.insert_header((CONTENT_SECURITY_POLICY, policy));
    }
    Ok(answer.body(bytes.await?))
}

/// The same piece of other woods. All of them together take no longer than the longest plan.
fn alternatives(pricing: &Pricing, limits: &Limits, cancel: &AtomicBool) -> Result<Vec<Alternative>, Problem> {
    let Pricing { doubt: Doubt { job, pile, .. }, occasion, instead, search } = pricing;
    let mut options = search.options(limits, 1);
    options.seconds = options.seconds.map(|seconds| seconds.min(limits.seconds / instead.len() as f64));
    let priced = |(at, instead): (usize, &Instead)| {
        let priced = instead.priced(job, pile, occasion, &options, cancel, &|_| ());
        priced.map_err(|error| not_had(at, &error))
    };
    instead.iter().enumerate().map(priced).collect()
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

/// What an exchange that cannot be priced says.
fn not_had(at: usize, error: &InsteadError) -> Problem {
    match error {
        InsteadError::Quote(error) => refused(error),
        InsteadError::Cancelled => Problem::new(Kind::Closing, error.to_string()),
        InsteadError::Make(_) => Problem::fault(error),
        _ => Problem::invalid(vec![BodyError::at(format!("/instead/{at}"), error.to_string())]),
    }
}

fn about(schemas: &mut Schemas) -> Operation {
    let schema = json!({
        "type": "object",
        "properties": {
            "job": openapi::file("Job"), "pile": openapi::file("Pile"), "shop": openapi::file("Shop"),
            "plan": openapi::file("Plan"),
            "date": {
                "type": "string", "format": "date",
                "description": "The day of the quote, which stands so many days from then on; today (UTC) when left out."
            },
            "for": { "type": "string", "maxLength": 120, "pattern": "\\S", "description": "The client, as the quote names them." },
            "instead": {
                "type": "array", "maxItems": MOST_INSTEAD, "items": { "type": "string", "pattern": "[^=]=[^=]" },
                "description": "Other woods to plan and price beside it: `cherry=walnut`, `grade=FAS`, or several with commas between."
            },
            "limits": schemas.taken::<Search>()
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
                 With `instead`, the same piece of other wood from the same pile is planned within `limits` and stands beside \
                 it.";
    Operation::new("Quotes", "price_plan", "Price a plan", about)
        .reads(Media::Json, schema, example)
        .gives(200, "The quote", JSON, openapi::file("Quote"))
        .gives(200, "The quote", TEXT, json!({ "type": "string" }))
        .gives(200, "The quote", CSV, json!({ "type": "string" }))
        .gives(200, "The quote", HTML, json!({ "type": "string" }))
        .gives(200, "The quote", PAGES, json!({}))
        .fails_on_bodies()
        .fails(&[Kind::Closing])
}
