//! The addresses, a file for each kind: handlers and what the OpenAPI document says of them. The list of them all is in
//! `endpoints`. Handlers read what was asked, call the library, and say the answer; no rule of the trade is here.

pub mod check;
pub mod diagrams;
pub mod documents;
pub mod fills;
pub mod grades;
pub mod health;
pub mod orders;
pub mod plans;
pub mod progress;
pub mod quotes;
pub mod tally;

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use actix_web::{HttpMessage, HttpRequest, web};
use serde::de::DeserializeOwned;
use serde_json::{Value, json};

use super::app::App;
use super::guard::RequestId;
use super::problem::{Kind, Problem};
use super::solves::Stage;
use super::store::Kept;
use super::tokens::Space;

type Shared = web::Data<App>;

/// The space of a request; the guard put it there.
fn space(request: &HttpRequest) -> Result<Space, Problem> {
    request.extensions().get::<Space>().cloned().ok_or_else(|| Problem::fault(&"a request passed the guard unseen"))
}

fn request_id(request: &HttpRequest) -> String {
    request.extensions().get::<RequestId>().map(|id| id.0.clone()).unwrap_or_default()
}

/// What stands behind the question mark; an unknown name or value is an error.
fn query<T: DeserializeOwned>(request: &HttpRequest) -> Result<T, Problem> {
    let read = web::Query::<T>::from_query(request.query_string());
    read.map(web::Query::into_inner).map_err(|error| Problem::new(Kind::Malformed, format!("the query: {error}")))
}

/// Calls a search off when dropped: a client that hangs up drops the request.
struct CallOff(Arc<AtomicBool>);

impl Drop for CallOff {
    fn drop(&mut self) {
        self.0.store(true, Ordering::Relaxed);
    }
}

/// A search that its client waits for. It is told to end when the client hangs up, or when the service stops going on.
async fn attended<T: Send + 'static>(
    app: &Shared,
    search: impl FnOnce(&AtomicBool) -> Result<T, Problem> + Send + 'static,
) -> Result<T, Problem> {
    let closing = || Problem::new(Kind::Closing, "nothing new is begun");
    let mut stage = app.solves.stage();
    if *stage.borrow() != Stage::Open {
        return Err(closing());
    }
    let cancel = Arc::new(AtomicBool::new(false));
    let _call_off = CallOff(Arc::clone(&cancel));
    tokio::select! {
        answer = app.search(move || search(&cancel)) => answer,
        _ = stage.wait_for(|stage| *stage == Stage::Closed) => Err(closing()),
    }
}

fn no_plan() -> Problem {
    Problem::new(Kind::NotFound, "there is no plan of this id, or it is no longer kept")
}

/// A plan that has ended; others are a problem.
async fn kept_plan(app: &App, request: &HttpRequest, id: &str) -> Result<Kept, Problem> {
    let space = space(request)?;
    if app.solves.live(&space, id).is_some() {
        return Err(Problem::new(Kind::NotReady, "wait for its end; its state says how it is going"));
    }
    app.kept(&space, id).await?.ok_or_else(no_plan)
}

fn id_schema() -> Value {
    json!({ "type": "string", "pattern": "^[0-9a-f]{32}$" })
}

const ID: &str = "The plan's id";
