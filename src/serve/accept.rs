//! What a client would like: the kind of answer (`Accept`), when (`Prefer`), and once only (`Idempotency-Key`).

use std::time::Duration;

use actix_web::HttpRequest;
use actix_web::http::header::{ACCEPT, HeaderName};

use super::problem::{Kind, Problem};

/// The media type of nearly every answer.
pub const JSON: &str = "application/json";
/// For a person.
pub const TEXT: &str = "text/plain; charset=utf-8";
/// For a spreadsheet.
pub const CSV: &str = "text/csv; charset=utf-8";

/// The offer the client likes best, the first of equals (RFC 9110, section 12.5.1).
///
/// # Errors
/// A problem when it accepts none.
pub fn negotiate(request: &HttpRequest, offers: &[&'static str]) -> Result<&'static str, Problem> {
    let stated: Vec<&str> = request.headers().get_all(ACCEPT).filter_map(|value| value.to_str().ok()).collect();
    let stated = stated.join(",");
    if stated.trim().is_empty() {
        return Ok(offers[0]);
    }
    let liked = offers.iter().map(|offer| (quality(&stated, offer), *offer));
    // `max_by` keeps the last of equals, so the offers are taken from the end.
    let best = liked.rev().max_by(|a, b| a.0.total_cmp(&b.0)).filter(|(quality, _)| *quality > 0.0);
    let none = || Problem::new(Kind::NotAcceptable, format!("this is given as {}", offers.join(" or ")));
    best.map(|(_, offer)| offer).ok_or_else(none)
}

/// How much an `Accept` header likes an offer, by its most specific range.
fn quality(stated: &str, offer: &str) -> f64 {
    let essence = offer.split(';').next().unwrap_or(offer);
    let (kind, _) = essence.split_once('/').unwrap_or((essence, ""));
    let mut best = (0, 0.0);
    for range in stated.split(',') {
        let mut parts = range.split(';').map(str::trim);
        let name = parts.next().unwrap_or_default();
        let close = if name.eq_ignore_ascii_case(essence) {
            3
        } else if name.strip_suffix("/*").is_some_and(|family| family.eq_ignore_ascii_case(kind)) {
            2
        } else if name == "*/*" {
            1
        } else {
            continue;
        };
        let weight = parts.filter_map(|part| part.split_once('=')).find(|(name, _)| name.eq_ignore_ascii_case("q"));
        let weight = weight.map_or(Some(1.0), |(_, value)| value.trim().parse::<f64>().ok()).unwrap_or(0.0);
        if close > best.0 {
            best = (close, weight);
        }
    }
    best.1
}

/// How long a client will wait (RFC 7240).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Prefer {
    /// It wants to be told where to look, at once.
    pub at_once: bool,
    /// It wants to wait so long at most.
    pub wait: Option<Duration>,
}

impl Prefer {
    /// What a request prefers; what is not understood is passed over, as the standard wants it.
    pub fn of(request: &HttpRequest) -> Prefer {
        let mut prefer = Prefer::default();
        let values = request.headers().get_all(HeaderName::from_static("prefer"));
        for preference in values.filter_map(|value| value.to_str().ok()).flat_map(|text| text.split([',', ';'])) {
            let (name, value) = preference.split_once('=').unwrap_or((preference, ""));
            match name.trim().to_ascii_lowercase().as_str() {
                "respond-async" => prefer.at_once = true,
                "wait" => prefer.wait = value.trim().parse().ok().map(Duration::from_secs),
                _ => {}
            }
        }
        prefer
    }
}

/// The key under which a request is to be done once only; blanks within it count, those around it are no part of a header's value
/// (RFC 9110, section 5.5).
///
/// # Errors
/// A problem when it is no visible text of up to 255 characters.
pub fn once_only(request: &HttpRequest) -> Result<Option<String>, Problem> {
    let mut values = request.headers().get_all(HeaderName::from_static("idempotency-key"));
    let Some(value) = values.next() else { return Ok(None) };
    let text = value.to_str().ok().filter(|text| (1..=255).contains(&text.len()));
    match text.filter(|text| text.chars().all(|c| c.is_ascii_graphic() || c == ' ') && !text.trim().is_empty()) {
        Some(text) if values.next().is_none() => Ok(Some(text.to_owned())),
        _ => Err(Problem::new(Kind::Malformed, "an Idempotency-Key is one text of up to 255 visible characters")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use actix_web::test::TestRequest;
    use rstest::rstest;

    #[rstest]
    #[case::nothing_said("", Some(JSON))]
    #[case::anything("*/*", Some(JSON))]
    #[case::by_name("text/csv", Some(CSV))]
    #[case::a_family("text/*", Some(TEXT))]
    #[case::weighed("application/json;q=0.2, text/csv;q=0.9", Some(CSV))]
    #[case::a_browser("text/html,application/xhtml+xml,*/*;q=0.8", Some(JSON))]
    #[case::anything_but("application/json;q=0, */*;q=0.1", Some(TEXT))]
    #[case::another("image/png", None)]
    #[case::weightless("application/json;q=0", None)]
    fn the_offer_a_client_likes_best_is_given(#[case] accept: &str, #[case] expected: Option<&str>) {
        let request = TestRequest::default().insert_header(("accept", accept)).to_http_request();
        assert_eq!(negotiate(&request, &[JSON, TEXT, CSV]).ok(), expected);
    }

    #[test]
    fn preferences_are_read_and_strange_ones_passed_over() {
        let request = TestRequest::default()
            .insert_header(("prefer", "handling=lenient, Wait=3; respond-async"))
            .to_http_request();
        assert_eq!(Prefer::of(&request), Prefer { at_once: true, wait: Some(Duration::from_secs(3)) });
        let request = TestRequest::default().insert_header(("prefer", "wait=soon")).to_http_request();
        assert_eq!(Prefer::of(&request), Prefer::default());
    }

    #[test]
    fn a_key_is_one_visible_text() {
        let key =
            |text: &str| once_only(&TestRequest::default().insert_header(("idempotency-key", text)).to_http_request());
        assert_eq!(key("a 1"), Ok(Some("a 1".to_owned())));
        for wrong in ["", "   ", "a\tb", &"x".repeat(256)] {
            assert!(key(wrong).is_err(), "{wrong:?}");
        }
    }
}
