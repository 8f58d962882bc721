//! `/v1/plans`: a plan asked for, looked at, cancelled, and taken away as a file.

use std::sync::Arc;
use std::time::Duration;

use actix_web::http::StatusCode;
use actix_web::http::header::{CONTENT_LOCATION, HeaderName, LOCATION};
use actix_web::{HttpRequest, HttpResponse, web};
use serde::Deserialize;
use serde_json::{Value, json};
use sha2::{Digest, Sha256};

use super::super::accept::{JSON, Prefer, TEXT, negotiate, once_only};
use super::super::answer::{PlanAnswer, address, json, typed};
use super::super::body::{Media, receive};
use super::super::endpoints::{Endpoint, Verb};
use super::super::openapi::{self, Operation, Schemas};
use super::super::problem::{Kind, Problem};
use super::super::request::{Planning, Search};
use super::super::solves::{Asked, Solve, Stage};
use super::super::state::State;
use super::super::store::{Kept, Key};
use super::diagrams::drawn;
use super::{ID, Shared, id_schema, kept_plan, no_plan, query, request_id, space};
use crate::plan;

/// How long a cancelled plan is waited for.
const WINDING_DOWN: Duration = Duration::from_secs(5);

pub const ASK: Endpoint =
    Endpoint { verb: Verb::Post, path: "/v1/plans", open: false, route: |r| r.to(ask), operation: about_ask };
pub const STATE: Endpoint =
    Endpoint { verb: Verb::Get, path: "/v1/plans/{id}", open: false, route: |r| r.to(state), operation: about_state };
pub const CANCEL: Endpoint = Endpoint {
    verb: Verb::Delete,
    path: "/v1/plans/{id}",
    open: false,
    route: |r| r.to(cancel),
    operation: about_cancel,
};
pub const FILE: Endpoint = Endpoint {
    verb: Verb::Get,
    path: "/v1/plans/{id}/plan",
    open: false,
    route: |r| r.to(file),
    operation: about_file,
};

/// How an answer with a plan is to be.
#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlanQuery {
    pub diagrams: Option<Inline>,
}

/// Diagrams inside an answer.
#[derive(Clone, Copy, Deserialize, PartialEq)]
#[serde(rename_all = "lowercase")]
pub enum Inline {
    Inline,
}

async fn ask(app: Shared, request: HttpRequest, payload: web::Payload) -> Result<HttpResponse, Problem> {
    let media = negotiate(&request, &[JSON, TEXT])?;
    let PlanQuery { diagrams } = query(&request)?;
    let (prefer, key, space) = (Prefer::of(&request), once_only(&request)?, space(&request)?);
    let body = receive(&request, payload, &[Media::Json], &app.settings.limits, &app.room).await?;
    let (shared, id) = (app.clone(), request_id(&request));
    let asked = app
        .work(move || {
            let key = key.map(|text| Key { text, digest: Sha256::digest(&body.bytes).into() });
            let limits = &shared.settings.limits;
            let order = Planning::read(body.json_text(limits)?, limits)?;
            shared.solves.ask(&space, order, key.as_ref(), &id)
        })
        .await?;
    let id = match asked {
        Asked::Kept(id) => id,
        Asked::Live(attending) => {
            let solve = Arc::clone(&attending.solve);
            if prefer.at_once {
                solve.promise();
                return elsewhere(&solve, true);
            }
            let longest = app.settings.limits.patience;
            let patience = prefer.wait.map_or(longest, |wait| wait.min(longest));
            if attending.wait(patience).await.is_none() {
                if *app.solves.stage().borrow() != Stage::Open && app.settings.store.is_none() {
                    return Err(Problem::new(Kind::Closing, "the service closes before the plan is made"));
                }
                return elsewhere(&solve, false);
            }
            solve.id.clone()
        }
    };
    let kept = kept_plan(&app, &request, &id).await?;
    if let (State::Failed, Some(problem)) = (kept.state, &kept.problem) {
        let problem: Problem = serde_json::from_str(problem).map_err(|error| Problem::fault(&error))?;
        return Err(problem);
    }
    let mut answer = whole(&app, kept, media, diagrams).await?;
    answer.headers_mut().insert(CONTENT_LOCATION, header(&address(&id))?);
    Ok(answer)
}

/// Where the plan will be found.
fn elsewhere(solve: &Solve, preferred: bool) -> Result<HttpResponse, Problem> {
    let told = *solve.told().borrow();
    let mut answer = json(StatusCode::ACCEPTED, &PlanAnswer::live(&solve.id, solve.created, told.state, told.best))?;
    answer.headers_mut().insert(LOCATION, header(&address(&solve.id))?);
    if preferred {
        answer.headers_mut().insert(HeaderName::from_static("preference-applied"), header("respond-async")?);
    }
    Ok(answer)
}

fn header(text: &str) -> Result<actix_web::http::header::HeaderValue, Problem> {
    text.parse().map_err(|error| Problem::fault(&error))
}

/// A plan that has ended, as the client would like it.
async fn whole(
    app: &Shared,
    kept: Kept,
    media: &'static str,
    diagrams: Option<Inline>,
) -> Result<HttpResponse, Problem> {
    if media == TEXT {
        let text = app.work(move || summary(&kept)).await?;
        return Ok(typed(StatusCode::OK, TEXT).body(text));
    }
    let wanted = diagrams.is_some() && kept.plan.is_some();
    let (kept, diagrams) = match wanted {
        false => (kept, None),
        true => app.work(move || drawn(&kept, true).map(|drawn| (kept, Some(drawn)))).await?,
    };
    let mut answer = PlanAnswer::kept(kept).map_err(|error| Problem::fault(&error))?;
    answer.diagrams = diagrams;
    json(StatusCode::OK, &answer)
}

/// The plan in words, as the command line prints it.
fn summary(kept: &Kept) -> Result<String, Problem> {
    let Some(text) = &kept.plan else { return Ok(format!("{}\n", kept.state.word())) };
    let plan = plan::file::read_json("plan", text).map_err(|error| Problem::fault(&error))?;
    let (job, _) = kept.files.read().map_err(Problem::invalid)?;
    Ok(plan::text::summary(&plan, &job.shop))
}

async fn state(app: Shared, request: HttpRequest, id: web::Path<String>) -> Result<HttpResponse, Problem> {
    let media = negotiate(&request, &[JSON, TEXT])?;
    let (PlanQuery { diagrams }, space) = (query(&request)?, space(&request)?);
    if let Some(solve) = app.solves.live(&space, &id) {
        let told = *solve.told().borrow();
        if media == TEXT {
            return Ok(typed(StatusCode::OK, TEXT).body(format!("{}\n", told.state.word())));
        }
        return json(StatusCode::OK, &PlanAnswer::live(&id, solve.created, told.state, told.best));
    }
    let kept = app.kept(&space, &id).await?.ok_or_else(no_plan)?;
    whole(&app, kept, media, diagrams).await
}

async fn cancel(app: Shared, request: HttpRequest, id: web::Path<String>) -> Result<HttpResponse, Problem> {
    negotiate(&request, &[JSON])?;
    let space = space(&request)?;
    if let Some(solve) = app.solves.live(&space, &id) {
        // Whoever cancels wants the best so far to be there afterwards.
        solve.promise();
        let (shared, cancelled) = (app.clone(), Arc::clone(&solve));
        app.work(move || shared.solves.cancel(&cancelled)).await?;
        let mut told = solve.told();
        let ended = tokio::time::timeout(WINDING_DOWN, told.wait_for(|told| told.state.is_final())).await;
        if ended.is_err() {
            return elsewhere(&solve, false);
        }
    }
    let kept = app.kept(&space, &id).await?.ok_or_else(no_plan)?;
    whole(&app, kept, JSON, None).await
}

async fn file(app: Shared, request: HttpRequest, id: web::Path<String>) -> Result<HttpResponse, Problem> {
    negotiate(&request, &[JSON])?;
    let kept = kept_plan(&app, &request, &id).await?;
    let plan = kept.plan.ok_or_else(|| Problem::new(Kind::NotFound, "this plan ended before anything was placed"))?;
    Ok(typed(StatusCode::OK, JSON).body(plan))
}

/// A small job and a pile for it, in the document's examples.
pub fn example() -> Value {
    let read = |text: &str| serde_json::from_str::<Value>(text).expect("the examples are JSON");
    json!({ "job": read(include_str!("../bodies/job.json")), "pile": read(include_str!("../bodies/pile.json")) })
}

fn inline(operation: Operation) -> Operation {
    let about = "Put the SVG of every cut diagram into the answer";
    operation.takes("diagrams", "query", about, json!({ "type": "string", "enum": ["inline"] }))
}

fn about_ask(schemas: &mut Schemas) -> Operation {
    let schema = json!({
        "type": "object",
        "properties": {
            "job": openapi::file("Job"), "pile": openapi::file("Pile"), "shop": openapi::file("Shop"),
            "limits": schemas.taken::<Search>()
        },
        "required": ["job", "pile"],
        "additionalProperties": false
    });
    let mut example = example();
    example["limits"] = json!({ "seconds": 1, "gap": 0.01, "seed": 1 });
    let operation = Operation::new(
        "Plans",
        "ask_plan",
        "Make a plan",
        "Answers with the plan when it is made within a few seconds, and otherwise, or with `Prefer: respond-async`, with \
         where it will be. A client that hangs up before either has its plan dropped. What the shop says goes before the \
         defaults, what the job says goes before the shop.",
    );
    inline(operation)
        .takes("Prefer", "header", "`respond-async`, or `wait=` seconds (RFC 7240)", json!({ "type": "string" }))
        .takes(
            "Idempotency-Key",
            "header",
            "The same key with the same body gives the same plan, without a second search",
            json!({ "type": "string", "minLength": 1, "maxLength": 255, "pattern": "^[ -~]*[!-~][ -~]*$" }),
        )
        .reads(Media::Json, schema, example)
        .gives(200, "The plan", JSON, schemas.of::<PlanAnswer>())
        .gives(200, "The plan", TEXT, json!({ "type": "string" }))
        .with_header(200, "Content-Location", "Where the plan is kept")
        .leads_to(200, &["plan_state", "plan_file", "follow_plan", "list_diagrams", "diagrams_pdf"])
        .leads_to(200, &["diagram_svg", "diagram_png", "diagram_pdf"])
        .gives(202, "Where the plan will be", JSON, schemas.of::<PlanAnswer>())
        .with_header(202, "Location", "Where the plan will be")
        .leads_to(202, &["plan_state", "cancel_plan", "follow_plan"])
        .fails(&[Kind::Malformed, Kind::NotAcceptable, Kind::TooSlow, Kind::NotReady, Kind::TooLarge])
        .fails(&[Kind::WrongMedia, Kind::Invalid, Kind::Busy, Kind::Closing])
}

fn about_state(schemas: &mut Schemas) -> Operation {
    let about = "State, and the best cost, bound and gap so far; the plan once it is made.";
    inline(Operation::new("Plans", "plan_state", "Look at a plan", about).takes("id", "path", ID, id_schema()))
        .gives(200, "The plan, or how it is going", JSON, schemas.of::<PlanAnswer>())
        .gives(200, "The plan, or how it is going", TEXT, json!({ "type": "string" }))
        .fails(&[Kind::Malformed, Kind::NotFound, Kind::NotAcceptable, Kind::NotDrawn, Kind::Busy])
}

fn about_cancel(schemas: &mut Schemas) -> Operation {
    let about = "Ends the search and keeps the best plan so far. A plan that has ended stays as it is.";
    Operation::new("Plans", "cancel_plan", "Cancel a plan", about)
        .takes("id", "path", ID, id_schema())
        .gives(200, "The plan as it is kept", JSON, schemas.of::<PlanAnswer>())
        .gives(202, "It is ending", JSON, schemas.of::<PlanAnswer>())
        .fails(&[Kind::NotFound, Kind::NotAcceptable, Kind::Busy])
}

fn about_file(_: &mut Schemas) -> Operation {
    let about = "The plan as the command line writes it, byte for byte but for `run`.";
    Operation::new("Plans", "plan_file", "Take a plan away as a file", about)
        .takes("id", "path", ID, id_schema())
        .gives(200, "The plan file", JSON, openapi::file("Plan"))
        .fails(&[Kind::NotFound, Kind::NotAcceptable, Kind::NotReady])
}
