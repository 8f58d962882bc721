//! Every address of the service, once: what answers there, who may ask, and what the OpenAPI document says of it.
//!
//! The router, the document, the page and the tests are all made from [`ALL`], so an address is added in one place: write
//! its handler and its operation in a file of `routes`, and name it here.

use actix_web::{HttpResponse, Resource, Route, guard, web};

use super::openapi::{Operation, Schemas};
use super::problem::{Kind, Problem};
use super::routes::{check, diagrams, documents, fills, grades, health, orders, plans, progress, quotes, tally};

/// One method at one address.
pub struct Endpoint {
    pub verb: Verb,
    /// Variable parts in braces.
    pub path: &'static str,
    /// Answers to anyone who can reach the service: says nothing of any plan.
    pub open: bool,
    pub route: fn(Route) -> Route,
    pub operation: fn(&mut Schemas) -> Operation,
}

/// The methods in use.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Verb {
    Get,
    Post,
    Delete,
}

impl Verb {
    /// Its name in a request.
    pub const fn name(self) -> &'static str {
        match self {
            Verb::Get => "GET",
            Verb::Post => "POST",
            Verb::Delete => "DELETE",
        }
    }

    fn route(self) -> Route {
        match self {
            // Whoever may read an answer may ask for its head alone (RFC 9110, section 9.1).
            Verb::Get => web::route().guard(guard::Any(guard::Get()).or(guard::Head())),
            Verb::Post => web::route().guard(guard::Post()),
            Verb::Delete => web::route().guard(guard::Delete()),
        }
    }
}

/// Every endpoint, in the order of the page.
pub const ALL: &[Endpoint] = &[
    plans::ASK,
    plans::STATE,
    plans::CANCEL,
    plans::FILE,
    progress::EVENTS,
    diagrams::LIST,
    diagrams::SVG,
    diagrams::PNG,
    diagrams::PDF,
    diagrams::BOOK,
    fills::FILL,
    check::CHECK,
    quotes::QUOTE,
    tally::TALLY,
    grades::GRADES,
    orders::ORDERS,
    documents::SCHEMA,
    documents::OPENAPI,
    documents::PAGE,
    documents::STYLE,
    health::HEALTH,
    health::READY,
    health::METRICS,
];

/// True for addresses that answer to anyone; an address that is none of ours does too, by saying so.
pub fn is_open(path: &str) -> bool {
    !path.starts_with("/v1/") && path != "/metrics" || path.starts_with("/v1/schemas/")
}

/// The router.
pub fn register(services: &mut web::ServiceConfig) {
    let mut done: Vec<&str> = Vec::new();
    for Endpoint { path, .. } in ALL {
        if done.contains(path) {
            continue;
        }
        done.push(path);
        let here: Vec<&Endpoint> = ALL.iter().filter(|other| other.path == *path).collect();
        let mut allowed: Vec<&str> = here.iter().map(|endpoint| endpoint.verb.name()).collect();
        if allowed.contains(&"GET") {
            allowed.push("HEAD");
        }
        let allowed = allowed.join(", ");
        let mut resource = Resource::new(*path);
        for endpoint in here {
            resource = resource.route((endpoint.route)(endpoint.verb.route()));
        }
        services.service(resource.default_service(web::to(move || {
            let problem = Problem::wrong_method(&allowed);
            async move { Err::<HttpResponse, Problem>(problem) }
        })));
    }
}

/// The answer where there is no endpoint.
pub async fn nowhere() -> Result<HttpResponse, Problem> {
    Err(Problem::new(Kind::NotFound, "the page at / lists every address"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_says_nothing_of_plans_is_open() {
        for Endpoint { path, open, .. } in ALL {
            assert_eq!(is_open(path), *open, "{path}");
        }
        assert!(!is_open("/v1/plans") && !is_open("/v1/") && !is_open("/metrics"));
    }
}
