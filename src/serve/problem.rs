//! What went wrong, said in one form: a problem document (RFC 9457) with every error of the body at once.
//!
//! Each kind of problem has a code, a title and a status here and nowhere else; the page explains the codes. Causes
//! inside the program go to the log, never to a caller.

use actix_web::http::StatusCode;
use actix_web::http::header::{ALLOW, CONTENT_TYPE, HeaderName, RETRY_AFTER, WWW_AUTHENTICATE};
use actix_web::{HttpResponse, ResponseError};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::pile::{Fault, Faults};

/// The media type of problem documents.
pub const MEDIA: &str = "application/problem+json";

macro_rules! kinds {
    ($($name:ident, $code:literal, $status:literal, $title:literal;)*) => {
        /// A kind of problem.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub enum Kind {
            $(#[doc = $title] $name,)*
        }

        impl Kind {
            /// Every kind.
            pub const ALL: &'static [Kind] = &[$(Kind::$name,)*];

            /// The stable code at the end of the problem's type.
            pub const fn code(self) -> &'static str {
                match self { $(Kind::$name => $code,)* }
            }

            /// The HTTP status.
            pub const fn status(self) -> u16 {
                match self { $(Kind::$name => $status,)* }
            }

            /// What the kind means, in a few words.
            pub const fn title(self) -> &'static str {
                match self { $(Kind::$name => $title,)* }
            }
        }
    };
}

kinds! {
    Malformed, "malformed", 400, "The request cannot be read";
    NoToken, "no-token", 401, "A token is needed";
    NotFound, "not-found", 404, "There is nothing here";
    WrongMethod, "wrong-method", 405, "This method does not go with this address";
    NotAcceptable, "not-acceptable", 406, "Nothing that you accept can be given";
    TooSlow, "too-slow", 408, "The body took too long to come";
    NotReady, "not-ready", 409, "The plan is not made yet";
    TooLarge, "too-large", 413, "The body is larger than this service takes";
    WrongMedia, "wrong-media", 415, "Bodies of this kind are not read here";
    WrongHost, "wrong-host", 421, "This service answers to other names";
    Invalid, "invalid", 422, "The body says something that cannot be";
    KeyUsed, "key-used", 422, "This key was used for another request";
    NotDrawn, "not-drawn", 422, "The plan cannot be drawn";
    Busy, "busy", 429, "All hands are full";
    Fault, "fault", 500, "A fault of the program";
    Closing, "closing", 503, "The service is closing or not yet open";
}

/// A problem document.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Problem {
    /// Which kind of problem, as an address on this service's page.
    #[serde(rename = "type")]
    pub kind: String,
    /// The kind in words.
    pub title: String,
    /// The HTTP status.
    pub status: u16,
    /// What is wrong this time, and what would do.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub detail: String,
    /// Everything wrong with the body, in its order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub errors: Vec<BodyError>,
    #[serde(skip)]
    #[schemars(skip)]
    header: Option<(&'static str, String)>,
}

/// One thing wrong with a body.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct BodyError {
    /// Where in the body (RFC 6901); empty for the whole body.
    pub pointer: String,
    /// The place in words where there is no pointer: a line, or a spreadsheet's row and column.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub place: String,
    /// What is wrong, what was read, and what would do.
    pub detail: String,
}

impl Problem {
    /// A problem of a kind, with what is wrong this time.
    pub fn new(kind: Kind, detail: impl Into<String>) -> Problem {
        Problem {
            kind: format!("/#{}", kind.code()),
            title: kind.title().to_owned(),
            status: kind.status(),
            detail: detail.into(),
            errors: Vec::new(),
            header: None,
        }
    }

    /// A body with errors.
    pub fn invalid(errors: Vec<BodyError>) -> Problem {
        let detail = match errors.len() {
            1 => "there is one error".to_owned(),
            many => format!("there are {many} errors"),
        };
        Problem { errors, ..Problem::new(Kind::Invalid, detail) }
    }

    /// All hands are full: come again after so many seconds.
    pub fn busy(seconds: u64, detail: &str) -> Problem {
        Problem { header: Some((RETRY_AFTER.as_str(), seconds.to_string())), ..Problem::new(Kind::Busy, detail) }
    }

    /// Another method is wanted.
    pub fn wrong_method(allowed: &str) -> Problem {
        let detail = format!("the methods here are {allowed}");
        Problem { header: Some((ALLOW.as_str(), allowed.to_owned())), ..Problem::new(Kind::WrongMethod, detail) }
    }

    /// A token is needed, or the one given opens nothing.
    pub fn no_token(detail: &str) -> Problem {
        let bearer = (WWW_AUTHENTICATE.as_str(), "Bearer realm=\"flitchwork\"".to_owned());
        Problem { header: Some(bearer), ..Problem::new(Kind::NoToken, detail) }
    }

    /// A fault of the program; the cause goes to the log with the request's id.
    pub fn fault(cause: &dyn std::fmt::Display) -> Problem {
        tracing::error!(cause = %cause, "a fault of the program");
        Problem::new(Kind::Fault, "the cause is in the service's log, under this answer's X-Request-Id")
    }

    /// The document as JSON.
    pub fn to_json(&self) -> String {
        serde_json::to_string(self).expect("a problem is texts and a number")
    }
}

impl BodyError {
    /// An error at a place in the body.
    pub fn at(pointer: impl Into<String>, detail: impl Into<String>) -> BodyError {
        BodyError { pointer: pointer.into(), place: String::new(), detail: detail.into() }
    }

    /// A fault of a file that stands under `prefix` in the body.
    pub fn of(fault: &Fault, prefix: &str) -> BodyError {
        let mut detail = fault.what.clone();
        if !fault.read.is_empty() {
            detail.push_str(&format!(" (read {})", fault.read));
        }
        if !fault.cure.is_empty() {
            detail.push_str(&format!("; {}", fault.cure));
        }
        let place = if fault.pointer.is_empty() { fault.place.clone() } else { String::new() };
        BodyError { pointer: format!("{prefix}{}", fault.pointer), place, detail }
    }

    /// Every fault of a file that stands under `prefix` in the body.
    pub fn all_of(faults: &Faults, prefix: &str) -> Vec<BodyError> {
        faults.iter().map(|fault| BodyError::of(fault, prefix)).collect()
    }
}

impl std::fmt::Display for Problem {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}: {}", self.title, self.detail)
    }
}

impl std::error::Error for Problem {}

impl ResponseError for Problem {
    fn status_code(&self) -> StatusCode {
        StatusCode::from_u16(self.status).unwrap_or(StatusCode::INTERNAL_SERVER_ERROR)
    }

    fn error_response(&self) -> HttpResponse {
        let mut answer = HttpResponse::build(self.status_code());
        answer.insert_header((CONTENT_TYPE, MEDIA));
        if let Some((name, value)) = &self.header {
            answer.insert_header((HeaderName::from_static(name), value.as_str()));
        }
        // What was not read of a body stands in the way of the next request on the connection.
        if matches!(self.status, 408 | 413 | 415 | 429) {
            answer.force_close();
        }
        answer.body(self.to_json())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fault_of_a_file_becomes_a_pointer_into_the_body() {
        let text = r#"{ "format": "flitchwork.pile/1", "units": "in", "boards": [ { "id": "a/b", "wi~dth": 3 } ] }"#;
        let faults = crate::pile::file::read_json("pile", text).unwrap_err();
        let pointers: Vec<String> = BodyError::all_of(&faults, "/pile").into_iter().map(|e| e.pointer).collect();
        assert!(pointers.contains(&"/pile/boards/0/width".to_owned()), "{pointers:?}");
        assert!(pointers.contains(&"/pile/boards/0/wi~0dth".to_owned()), "{pointers:?}");
        assert!(pointers.len() > 3, "all errors at once: {pointers:?}");
    }

    #[test]
    fn codes_are_unique_and_statuses_are_errors() {
        let mut codes: Vec<&str> = Kind::ALL.iter().map(|kind| kind.code()).collect();
        codes.sort_unstable();
        codes.dedup();
        assert_eq!(codes.len(), Kind::ALL.len());
        assert!(Kind::ALL.iter().all(|kind| (400..600).contains(&kind.status())));
    }
}
