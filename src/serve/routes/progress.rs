//! `/v1/plans/{id}/events`: how a plan is going, told as it comes (server-sent events, as the HTML standard has them).

use std::time::Duration;

use actix_web::http::StatusCode;
use actix_web::web::Bytes;
use actix_web::{HttpRequest, HttpResponse, web};
use futures_util::stream;
use schemars::JsonSchema;
use serde::Serialize;
use serde_json::json;
use tokio::sync::watch;

use super::super::accept::{JSON, negotiate};
use super::super::answer::typed;
use super::super::endpoints::{Endpoint, Verb};
use super::super::openapi::{Operation, Schemas};
use super::super::problem::{Kind, Problem};
use super::super::solves::{Stage, Told};
use super::super::state::{Best, State};
use super::{ID, Shared, id_schema, no_plan, space};

const MEDIA: &str = "text/event-stream";
/// Something is said this often, so that whatever lies between does not take the connection for dead.
const SIGN_OF_LIFE: Duration = Duration::from_secs(15);
/// News is told no more often than this.
const BREATH: Duration = Duration::from_millis(100);

pub const EVENTS: Endpoint =
    Endpoint { verb: Verb::Get, path: "/v1/plans/{id}/events", open: false, route: |r| r.to(events), operation: about };

/// What an event says.
#[derive(Serialize, JsonSchema)]
struct News {
    state: State,
    #[serde(skip_serializing_if = "Option::is_none")]
    best: Option<Best>,
}

/// The two things that may change, and whether anything is left to say.
struct Tale {
    told: watch::Receiver<Told>,
    stage: watch::Receiver<Stage>,
    begun: bool,
    over: bool,
}

async fn events(app: Shared, request: HttpRequest, id: web::Path<String>) -> Result<HttpResponse, Problem> {
    negotiate(&request, &[MEDIA])?;
    let space = space(&request)?;
    if let Some(solve) = app.solves.live(&space, &id) {
        let tale = Tale { told: solve.told(), stage: app.solves.stage(), begun: false, over: false };
        return Ok(typed(StatusCode::OK, MEDIA).streaming(stream::unfold(tale, next)));
    }
    let kept = app.kept(&space, &id).await?.ok_or_else(no_plan)?;
    Ok(typed(StatusCode::OK, MEDIA).body(event(Told { state: kept.state, best: kept.best })))
}

async fn next(mut tale: Tale) -> Option<(Result<Bytes, std::convert::Infallible>, Tale)> {
    if tale.over {
        return None;
    }
    if tale.begun {
        tokio::time::sleep(BREATH).await;
        let news = tokio::select! {
            changed = tale.told.changed() => changed.is_ok(),
            changed = tale.stage.wait_for(|stage| *stage != Stage::Open) => changed.is_ok(),
            () = tokio::time::sleep(SIGN_OF_LIFE) => false,
        };
        if !news {
            return Some((Ok(Bytes::from_static(b": still here\n\n")), tale));
        }
    }
    tale.begun = true;
    let now = *tale.told.borrow_and_update();
    // A closing service says where the plan stands and lets go; the plan's state stays at its address.
    tale.over = now.state.is_final() || *tale.stage.borrow() != Stage::Open;
    Some((Ok(Bytes::from(event(now))), tale))
}

/// `progress` while there may be more, `end` when there is no more.
fn event(told: Told) -> String {
    let name = if told.state.is_final() { "end" } else { "progress" };
    let news = News { state: told.state, best: told.best };
    let data = serde_json::to_string(&news).expect("a word and finite numbers");
    format!("event: {name}\ndata: {data}\n\n")
}

fn about(schemas: &mut Schemas) -> Operation {
    let about = "An event `progress` whenever there is a better plan or bound, at most ten a second, and one `end`. The \
                 data of each is an object with `state` and `best`, as in the plan's state.";
    let event = json!({
        "type": "object",
        "properties": {
            "event": { "type": "string", "enum": ["progress", "end"] },
            "data": { "type": "string", "contentMediaType": JSON, "contentSchema": schemas.of::<News>() }
        },
        "required": ["event", "data"]
    });
    Operation::new("Plans", "follow_plan", "Follow a plan", about)
        .takes("id", "path", ID, id_schema())
        .gives(200, "Events, until the plan has ended", MEDIA, event)
        .fails(&[Kind::NotFound, Kind::NotAcceptable])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_event_is_one_line_of_data_and_an_empty_line() {
        let told = Told { state: State::Working, best: None };
        assert_eq!(event(told), "event: progress\ndata: {\"state\":\"working\"}\n\n");
        assert!(event(Told { state: State::Stopped, ..told }).starts_with("event: end\n"));
    }
}
