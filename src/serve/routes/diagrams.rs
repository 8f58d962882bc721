//! `/v1/plans/{id}/diagrams`: the cut diagrams of a plan, listed and drawn, as SVG, PNG and PDF.
//!
//! Drawn anew each time from the plan and the pile that are kept; equal plans give equal bytes.

use actix_web::http::StatusCode;
use actix_web::http::header::CONTENT_SECURITY_POLICY;
use actix_web::{HttpRequest, HttpResponse, web};
use serde_json::{Value, json};

use super::super::accept::{JSON, negotiate};
use super::super::answer::{Diagram, DiagramList, address, json, typed};
use super::super::endpoints::{Endpoint, Verb};
use super::super::openapi::{Operation, Schemas};
use super::super::problem::{Kind, Problem};
use super::super::store::Kept;
use super::{ID, Shared, id_schema, kept_plan};
use crate::draw::{self, DrawError, DrawOptions, Drawing};
use crate::pile::Pile;
use crate::plan::{self, ShopPlan};

const IMAGE_SVG: &str = "image/svg+xml";
const IMAGE_PNG: &str = "image/png";
pub const PAGES: &str = "application/pdf";

const fn endpoint(
    path: &'static str,
    route: fn(actix_web::Route) -> actix_web::Route,
    operation: fn(&mut Schemas) -> Operation,
) -> Endpoint {
    Endpoint { verb: Verb::Get, path, open: false, route, operation }
}

pub const LIST: Endpoint = endpoint("/v1/plans/{id}/diagrams", |r| r.to(list), about_list);
pub const SVG: Endpoint = endpoint("/v1/plans/{id}/diagrams/{n}.svg", |r| r.to(svg), about_svg);
pub const PNG: Endpoint = endpoint("/v1/plans/{id}/diagrams/{n}.png", |r| r.to(png), about_png);
pub const PDF: Endpoint = endpoint("/v1/plans/{id}/diagrams/{n}.pdf", |r| r.to(pdf), about_pdf);
pub const BOOK: Endpoint = endpoint("/v1/plans/{id}/diagrams.pdf", |r| r.to(book), about_book);

/// What a plan is drawn from.
struct Easel {
    plan: ShopPlan,
    pile: Pile,
    options: DrawOptions,
}

impl Easel {
    fn of(kept: &Kept) -> Result<Easel, Problem> {
        let none = || Problem::new(Kind::NotFound, "this plan ended before anything was placed");
        let text = kept.plan.as_ref().ok_or_else(none)?;
        let plan = plan::file::read_json("plan", text).map_err(|error| Problem::fault(&error))?;
        let (job, pile) = kept.files.read().map_err(Problem::invalid)?;
        let options = DrawOptions::of(&job.shop, plan.units);
        Ok(Easel { plan, pile, options })
    }

    fn count(&self) -> usize {
        self.plan.stock.len()
    }

    /// Drawing 0 is the overview, the others the stock in the order of the plan.
    fn draw(&self, number: usize) -> Result<Drawing, Problem> {
        let drawn = match number.checked_sub(1) {
            None => draw::overview_drawing(&self.plan, &self.pile, &self.options),
            Some(index) => draw::stock_drawing(&self.plan, &self.pile, &self.options, index),
        };
        drawn.map_err(|error| match error {
            DrawError::NoSuchStock { .. } => Problem::new(Kind::NotFound, error.to_string()),
            error => Problem::new(Kind::NotDrawn, error.to_string()),
        })
    }
}

/// The diagrams of a plan, with their SVG when they are `inline`.
pub fn drawn(kept: &Kept, inline: bool) -> Result<Vec<Diagram>, Problem> {
    let easel = Easel::of(kept)?;
    let place = format!("{}/diagrams", address(&kept.id));
    (0..=easel.count())
        .map(|number| {
            let stock = number.checked_sub(1).map(|index| &easel.plan.stock[index]);
            let drawing = easel.draw(number)?;
            Ok(Diagram {
                number,
                title: drawing.title.clone(),
                stock: stock.map(|used| used.id.clone()),
                copy: stock.map(|used| used.copy),
                svg: format!("{place}/{number}.svg"),
                png: format!("{place}/{number}.png"),
                pdf: format!("{place}/{number}.pdf"),
                drawing: inline.then(|| draw::as_svg(&drawing)),
            })
        })
        .collect()
}

async fn list(app: Shared, request: HttpRequest, id: web::Path<String>) -> Result<HttpResponse, Problem> {
    negotiate(&request, &[JSON])?;
    let kept = kept_plan(&app, &request, &id).await?;
    let diagrams = app.work(move || drawn(&kept, false)).await?;
    json(StatusCode::OK, &DiagramList { diagrams, pdf: format!("{}/diagrams.pdf", address(&id)) })
}

/// One drawing, spelled out by `spell`.
async fn one(
    app: &Shared,
    request: &HttpRequest,
    (id, number): (String, String),
    media: &'static str,
    spell: fn(&Drawing) -> Result<Vec<u8>, DrawError>,
) -> Result<HttpResponse, Problem> {
    negotiate(request, &[media])?;
    let strange = || Problem::new(Kind::NotFound, "diagrams have numbers from 0 on");
    let plain = number.bytes().all(|c| c.is_ascii_digit());
    let number: usize = Some(number).filter(|_| plain).and_then(|n| n.parse().ok()).ok_or_else(strange)?;
    let kept = kept_plan(app, request, &id).await?;
    let bytes = app.work(move || {
        spell(&Easel::of(&kept)?.draw(number)?).map_err(|error| Problem::new(Kind::NotDrawn, error.to_string()))
    });
    let mut answer = typed(StatusCode::OK, media);
    if media == IMAGE_SVG {
        // Opened by itself, a drawing may have its own looks and nothing else.
        let policy = "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'; sandbox";
        answer.insert_header((CONTENT_SECURITY_POLICY, policy));
    }
    Ok(answer.body(bytes.await?))
}

async fn svg(app: Shared, request: HttpRequest, at: web::Path<(String, String)>) -> Result<HttpResponse, Problem> {
    one(&app, &request, at.into_inner(), IMAGE_SVG, |drawing| Ok(draw::as_svg(drawing).into_bytes())).await
}

async fn png(app: Shared, request: HttpRequest, at: web::Path<(String, String)>) -> Result<HttpResponse, Problem> {
    one(&app, &request, at.into_inner(), IMAGE_PNG, draw::as_png).await
}

async fn pdf(app: Shared, request: HttpRequest, at: web::Path<(String, String)>) -> Result<HttpResponse, Problem> {
    let page = |drawing: &Drawing| draw::as_pdf(&drawing.title, std::slice::from_ref(drawing));
    one(&app, &request, at.into_inner(), PAGES, page).await
}

async fn book(app: Shared, request: HttpRequest, id: web::Path<String>) -> Result<HttpResponse, Problem> {
    negotiate(&request, &[PAGES])?;
    let kept = kept_plan(&app, &request, &id).await?;
    let bytes = app.work(move || {
        let easel = Easel::of(&kept)?;
        let drawings: Vec<Drawing> = (0..=easel.count()).map(|number| easel.draw(number)).collect::<Result<_, _>>()?;
        draw::as_pdf(&easel.plan.title, &drawings).map_err(|error| Problem::new(Kind::NotDrawn, error.to_string()))
    });
    Ok(typed(StatusCode::OK, PAGES).body(bytes.await?))
}

const ENDS: [Kind; 5] = [Kind::NotFound, Kind::NotAcceptable, Kind::NotReady, Kind::NotDrawn, Kind::Busy];

fn about_list(schemas: &mut Schemas) -> Operation {
    let about = "The overview, then a diagram for each piece of stock that is cut.";
    Operation::new("Diagrams", "list_diagrams", "List the cut diagrams", about)
        .takes("id", "path", ID, id_schema())
        .gives(200, "The diagrams", JSON, schemas.of::<DiagramList>())
        .fails(&ENDS)
}

fn about_one(id: &'static str, summary: &'static str, about: &'static str, media: &str, schema: Value) -> Operation {
    let number = json!({ "type": "integer", "minimum": 0, "maximum": 1_000_000 });
    Operation::new("Diagrams", id, summary, about)
        .takes("id", "path", ID, id_schema())
        .takes("n", "path", "The diagram's number", number)
        .gives(200, "The diagram", media, schema)
        .fails(&ENDS)
}

fn about_svg(_: &mut Schemas) -> Operation {
    let about = "In millimetres, in true proportion; nothing is loaded from elsewhere.";
    about_one("diagram_svg", "A cut diagram as SVG", about, IMAGE_SVG, json!({ "type": "string" }))
}

fn about_png(_: &mut Schemas) -> Operation {
    let about = "Eight dots to the millimetre, at most 6000 along a side.";
    about_one("diagram_png", "A cut diagram as a picture", about, IMAGE_PNG, json!({}))
}

fn about_pdf(_: &mut Schemas) -> Operation {
    let about = "A page in the drawing's true size, with its lettering embedded and searchable.";
    about_one("diagram_pdf", "A cut diagram as a page", about, PAGES, json!({}))
}

fn about_book(_: &mut Schemas) -> Operation {
    let about = "The overview and every diagram, a page each, to print at once.";
    Operation::new("Diagrams", "diagrams_pdf", "All cut diagrams in one file", about)
        .takes("id", "path", ID, id_schema())
        .gives(200, "The pages", PAGES, json!({}))
        .fails(&ENDS)
}
