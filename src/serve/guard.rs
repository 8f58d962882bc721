//! What happens to every request before and after its handler: a request id, the log, the count, the headers that keep a
//! browser safe, and a net under panics; then who may come in.

use std::panic::AssertUnwindSafe;
use std::time::Instant;

use actix_web::body::{BoxBody, MessageBody};
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::error::InternalError;
use actix_web::http::Method;
use actix_web::http::header::{
    ACCESS_CONTROL_ALLOW_HEADERS, ACCESS_CONTROL_ALLOW_METHODS, ACCESS_CONTROL_ALLOW_ORIGIN,
    ACCESS_CONTROL_EXPOSE_HEADERS, ACCESS_CONTROL_MAX_AGE, ACCESS_CONTROL_REQUEST_METHOD, AUTHORIZATION, CACHE_CONTROL,
    CONTENT_SECURITY_POLICY, HOST, HeaderMap, HeaderName, HeaderValue, ORIGIN, REFERRER_POLICY, VARY,
    X_CONTENT_TYPE_OPTIONS, X_FRAME_OPTIONS,
};
use actix_web::middleware::Next;
use actix_web::{Error, HttpMessage, HttpResponse, web};
use futures_util::FutureExt;
use tracing::Instrument;

use super::app::App;
use super::endpoints;
use super::problem::{Kind, Problem};
use super::solves::unguessable;
use super::tokens::Space;

const REQUEST_ID: HeaderName = HeaderName::from_static("x-request-id");
const CORP: HeaderName = HeaderName::from_static("cross-origin-resource-policy");
/// What a page of another origin may read of an answer, beyond what every page may.
const EXPOSED: &str = "Location, Content-Location, Retry-After, Preference-Applied, X-Request-Id";
const ASKED: &str = "Accept, Authorization, Content-Type, Idempotency-Key, Last-Event-ID, Prefer, X-Request-Id";

/// The id of a request, in its log lines and its answer.
#[derive(Clone)]
pub struct RequestId(pub String);

/// The outer layer: nothing leaves without passing here.
///
/// # Errors
/// An error that carries its answer, dressed like any other.
pub async fn watch(
    request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<BoxBody>, Error> {
    let started = Instant::now();
    let Some(app) = request.app_data::<web::Data<App>>().cloned() else {
        return Err(Problem::fault(&"the service was put together wrongly").into());
    };
    let id = request_id(request.headers());
    request.extensions_mut().insert(RequestId(id.clone()));
    let (method, path) = (request.method().clone(), request.path().to_owned());
    let origin = allowed_origin(&app, request.headers());
    let span = tracing::info_span!("request", id = %id);
    let outcome = AssertUnwindSafe(next.call(request)).catch_unwind().instrument(span.clone()).await;

    let _entered = span.enter();
    let mut route = "none".to_owned();
    let mut space = String::new();
    let outcome = match outcome {
        Ok(Ok(answer)) => {
            route = answer.request().match_pattern().unwrap_or(route);
            space = answer.request().extensions().get::<Space>().map_or(space, |space| space.0.to_string());
            Ok(answer.map_into_boxed_body())
        }
        Ok(Err(error)) => Err(error.error_response()),
        Err(_) => {
            app.metrics.panics.inc();
            Err(HttpResponse::from_error(Problem::fault(&"a handler panicked")))
        }
    };
    let status = outcome.as_ref().map_or_else(HttpResponse::status, ServiceResponse::status).as_u16();
    let took = started.elapsed();
    app.metrics.request(known(&method), &route, status, took);
    let milliseconds = took.as_secs_f64() * 1000.0;
    tracing::info!(%method, path, status, milliseconds, space, "answered");
    match outcome {
        Ok(mut answer) => {
            dress(answer.headers_mut(), &id, origin.as_ref());
            Ok(answer)
        }
        Err(mut answer) => {
            dress(answer.headers_mut(), &id, origin.as_ref());
            Err(InternalError::from_response("refused", answer).into())
        }
    }
}

/// The inner layer: who may come in, and as whom.
///
/// # Errors
/// A problem when the host is not this one, or there is no good token where one is needed.
pub async fn admit(
    request: ServiceRequest,
    next: Next<impl MessageBody + 'static>,
) -> Result<ServiceResponse<BoxBody>, Error> {
    let Some(app) = request.app_data::<web::Data<App>>().cloned() else {
        return Err(Problem::fault(&"the service was put together wrongly").into());
    };
    let preflight =
        request.method() == Method::OPTIONS && request.headers().contains_key(ACCESS_CONTROL_REQUEST_METHOD);
    if preflight && allowed_origin(&app, request.headers()).is_some() {
        let answer = HttpResponse::NoContent()
            .insert_header((ACCESS_CONTROL_ALLOW_METHODS, "GET, POST, DELETE"))
            .insert_header((ACCESS_CONTROL_ALLOW_HEADERS, ASKED))
            .insert_header((ACCESS_CONTROL_MAX_AGE, "600"))
            .finish();
        return Ok(request.into_response(answer));
    }
    let space = match &app.tokens {
        // Without tokens only this machine may come in. A page in its browser must not, by a name that leads here.
        None => local_host(&app, request.headers()).map(|()| Space::local()),
        Some(_) if endpoints::is_open(request.path()) => Ok(Space("".into())),
        Some(tokens) => bearer(request.headers())
            .and_then(|token| tokens.space_of(token).ok_or_else(|| Problem::no_token("this token opens nothing here"))),
    }?;
    request.extensions_mut().insert(space);
    Ok(next.call(request).await?.map_into_boxed_body())
}

/// A client's own id, when it is plain and short, or a new one.
fn request_id(headers: &HeaderMap) -> String {
    let given = headers.get(REQUEST_ID).and_then(|value| value.to_str().ok());
    let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '-' | '_' | '.');
    match given.filter(|id| (1..=64).contains(&id.len()) && id.chars().all(plain)) {
        Some(id) => id.to_owned(),
        // Without randomness a request still has an answer, only no id of its own.
        None => unguessable().unwrap_or_else(|_| "none".to_owned()),
    }
}

fn allowed_origin(app: &App, headers: &HeaderMap) -> Option<HeaderValue> {
    let origin = headers.get(ORIGIN)?;
    app.settings.origins.iter().any(|allowed| allowed.as_bytes() == origin.as_bytes()).then(|| origin.clone())
}

fn local_host(app: &App, headers: &HeaderMap) -> Result<(), Problem> {
    let host = headers.get(HOST).and_then(|value| value.to_str().ok()).unwrap_or_default();
    let name = match host.strip_prefix('[').and_then(|rest| rest.split_once(']')) {
        Some((name, _)) => name,
        None => host.split(':').next().unwrap_or_default(),
    };
    let bound = app.settings.bind.ip();
    let here = name.eq_ignore_ascii_case("localhost")
        || name.parse::<std::net::IpAddr>().is_ok_and(|ip| ip == bound || ip.is_loopback());
    let wrong = || Problem::new(Kind::WrongHost, "without tokens, only localhost is answered to");
    if here { Ok(()) } else { Err(wrong()) }
}

fn bearer(headers: &HeaderMap) -> Result<&str, Problem> {
    let missing = || Problem::no_token("send Authorization: Bearer with a token");
    let text = headers.get(AUTHORIZATION).and_then(|value| value.to_str().ok()).ok_or_else(missing)?;
    let (scheme, token) = text.split_once(' ').ok_or_else(missing)?;
    if scheme.eq_ignore_ascii_case("bearer") { Ok(token.trim()) } else { Err(missing()) }
}

/// The headers every answer carries, whatever its handler forgot.
fn dress(headers: &mut HeaderMap, id: &str, origin: Option<&HeaderValue>) {
    let mut default = |name: HeaderName, value: &'static str| {
        if !headers.contains_key(&name) {
            headers.insert(name, HeaderValue::from_static(value));
        }
    };
    default(X_CONTENT_TYPE_OPTIONS, "nosniff");
    default(X_FRAME_OPTIONS, "DENY");
    default(REFERRER_POLICY, "no-referrer");
    default(CONTENT_SECURITY_POLICY, "default-src 'none'; frame-ancestors 'none'; sandbox");
    default(CACHE_CONTROL, "no-store");
    default(CORP, "same-origin");
    if let Ok(id) = HeaderValue::from_str(id) {
        headers.insert(REQUEST_ID, id);
    }
    headers.append(VARY, HeaderValue::from_static("Origin"));
    if let Some(origin) = origin {
        headers.insert(ACCESS_CONTROL_ALLOW_ORIGIN, origin.clone());
        headers.insert(ACCESS_CONTROL_EXPOSE_HEADERS, HeaderValue::from_static(EXPOSED));
    }
}

/// A method as a label: anyone can make up methods, and each label is kept.
fn known(method: &Method) -> &'static str {
    match *method {
        Method::GET => "GET",
        Method::HEAD => "HEAD",
        Method::POST => "POST",
        Method::DELETE => "DELETE",
        Method::OPTIONS => "OPTIONS",
        _ => "other",
    }
}
