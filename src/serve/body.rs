//! Bodies on their way in: what may come, how much, how fast and how deep, judged before anything is made of them.
//!
//! A body is received whole or refused; the room it takes is held until it was read. What it says is `order`'s business.

use actix_web::http::header::{CONTENT_ENCODING, CONTENT_LENGTH, CONTENT_TYPE};
use actix_web::{HttpRequest, web};
use futures_util::StreamExt;
use tokio::sync::{OwnedSemaphorePermit, Semaphore};

use super::problem::{BodyError, Kind, Problem};
use super::settings::Limits;
use std::sync::Arc;

/// Room is given out in pieces of this many bytes.
const PIECE: usize = 1024;

/// The room all bodies share.
#[derive(Clone)]
pub struct Room(Arc<Semaphore>);

/// A body, received whole.
pub struct Body {
    pub bytes: web::Bytes,
    pub media: Media,
    _room: OwnedSemaphorePermit,
}

/// The kinds of bodies that are read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Media {
    Json,
    Csv,
}

impl Room {
    /// Room for so many bytes.
    pub fn of(bytes: usize) -> Room {
        Room(Arc::new(Semaphore::new((bytes / PIECE).clamp(1, Semaphore::MAX_PERMITS))))
    }

    fn take(&self, bytes: usize) -> Result<OwnedSemaphorePermit, Problem> {
        let pieces = u32::try_from(bytes.div_ceil(PIECE)).unwrap_or(u32::MAX);
        let busy = |_| Problem::busy(1, "many bodies are being received; send it again in a second");
        Arc::clone(&self.0).try_acquire_many_owned(pieces).map_err(busy)
    }
}

/// Receives a body of one of the kinds in `readable`.
///
/// # Errors
/// A problem when it is of another kind, encoded, too large, too slow, cut off, or when there is no room for it now.
pub async fn receive(
    request: &HttpRequest,
    mut payload: web::Payload,
    readable: &[Media],
    limits: &Limits,
    room: &Room,
) -> Result<Body, Problem> {
    let media = media_of(request, readable)?;
    let stated = stated_length(request)?;
    let too_large = || Problem::new(Kind::TooLarge, format!("a body has up to {} bytes", limits.body));
    if stated.is_some_and(|length| length > limits.body) {
        return Err(too_large());
    }
    let held = room.take(stated.unwrap_or(limits.body))?;
    let reading = async {
        let mut bytes = web::BytesMut::with_capacity(stated.unwrap_or(PIECE));
        while let Some(chunk) = payload.next().await {
            let chunk = chunk
                .map_err(|error| Problem::new(Kind::Malformed, format!("the body does not come whole: {error}")))?;
            if bytes.len() + chunk.len() > limits.body {
                return Err(too_large());
            }
            bytes.extend_from_slice(&chunk);
        }
        Ok(bytes.freeze())
    };
    let bytes = tokio::time::timeout(limits.reading, reading).await.map_err(|_| {
        Problem::new(Kind::TooSlow, format!("a body comes within {} seconds", limits.reading.as_secs_f64()))
    })??;
    Ok(Body { bytes, media, _room: held })
}

fn media_of(request: &HttpRequest, readable: &[Media]) -> Result<Media, Problem> {
    let names: Vec<&str> = readable.iter().map(|media| media.name()).collect();
    let wrong = || Problem::new(Kind::WrongMedia, format!("send {} as it is", names.join(" or ")));
    if request.headers().get(CONTENT_ENCODING).is_some_and(|encoding| encoding != "identity") {
        return Err(wrong());
    }
    let stated = request.headers().get(CONTENT_TYPE).ok_or_else(wrong)?;
    let stated = stated.to_str().map_err(|_| wrong())?;
    let mut parts = stated.split(';').map(str::trim);
    let essence = parts.next().unwrap_or_default();
    // Other parameters change nothing; another charset would change every letter.
    let utf8 = parts.filter_map(|part| part.split_once('=')).all(|(name, value)| {
        !name.eq_ignore_ascii_case("charset") || value.trim_matches('"').eq_ignore_ascii_case("utf-8")
    });
    let media = readable.iter().find(|media| essence.eq_ignore_ascii_case(media.name()));
    media.copied().filter(|_| utf8).ok_or_else(wrong)
}

fn stated_length(request: &HttpRequest) -> Result<Option<usize>, Problem> {
    let Some(stated) = request.headers().get(CONTENT_LENGTH) else { return Ok(None) };
    let length = stated.to_str().ok().and_then(|text| text.parse().ok());
    length.map(Some).ok_or_else(|| Problem::new(Kind::Malformed, "Content-Length is no number of bytes"))
}

impl Media {
    /// Its name in `Content-Type`.
    pub const fn name(self) -> &'static str {
        match self {
            Media::Json => "application/json",
            Media::Csv => "text/csv",
        }
    }
}

impl Body {
    /// The text of a JSON body whose nesting, number of values and length of texts are within the limits.
    ///
    /// # Errors
    /// A problem that names the limit, or the place that is no UTF-8.
    pub fn json_text(&self, limits: &Limits) -> Result<&str, Problem> {
        measure(&self.bytes, limits).map_err(|what| Problem::invalid(vec![BodyError::at("", what)]))?;
        self.text()
    }

    /// The text of a body.
    ///
    /// # Errors
    /// A problem that names the place that is no UTF-8.
    pub fn text(&self) -> Result<&str, Problem> {
        std::str::from_utf8(&self.bytes).map_err(|error| {
            Problem::new(Kind::Malformed, format!("byte {} of the body is not UTF-8 text", error.valid_up_to()))
        })
    }
}

/// Walks over JSON without building anything; whether it is JSON at all, its parser says.
fn measure(bytes: &[u8], limits: &Limits) -> Result<(), String> {
    let (mut depth, mut values) = (0_usize, 0_usize);
    let mut at = 0;
    while at < bytes.len() {
        match bytes[at] {
            b'{' | b'[' => {
                depth += 1;
                values += 1;
                if depth > limits.depth {
                    return Err(format!("lists and groups stand inside each other deeper than {} times", limits.depth));
                }
            }
            b'}' | b']' => depth = depth.saturating_sub(1),
            b',' => values += 1,
            b'"' => {
                let start = at + 1;
                at = start;
                while at < bytes.len() && bytes[at] != b'"' {
                    at += if bytes[at] == b'\\' { 2 } else { 1 };
                }
                if at.saturating_sub(start) > limits.text {
                    return Err(format!("a text is longer than {} bytes", limits.text));
                }
            }
            _ => {}
        }
        if values > limits.values {
            return Err(format!("there are more than {} values", limits.values));
        }
        at += 1;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use rstest::rstest;

    fn limits() -> Limits {
        Limits { depth: 4, values: 10, text: 8, ..Limits::default() }
    }

    #[rstest]
    #[case::deep("[[[[[1]]]]]", "deeper than 4")]
    #[case::deep_without_an_end("[[[[[[[[[[[[[[[[", "deeper than 4")]
    #[case::many("[1,1,1,1,1,1,1,1,1,1,1,1]", "more than 10 values")]
    #[case::long("[\"123456789\"]", "longer than 8 bytes")]
    #[case::long_without_an_end("\"123456789", "longer than 8 bytes")]
    fn a_body_beyond_a_limit_is_refused_before_it_is_parsed(#[case] body: &str, #[case] why: &str) {
        assert!(measure(body.as_bytes(), &limits()).unwrap_err().contains(why));
    }

    #[rstest]
    #[case::brackets_in_a_text(r#"["[[[[[["]"#)]
    #[case::a_quotation_mark_in_a_text(r#"["\"[[[[["]"#)]
    #[case::a_backslash_before_the_end(r#"["\\",[[[1]]]]"#)]
    #[case::cut_off_in_an_escape("[\"\\")]
    #[case::closed_too_often("]]]]]]][[[[")]
    fn brackets_are_counted_where_they_are_brackets(#[case] body: &str) {
        assert_eq!(measure(body.as_bytes(), &limits()), Ok(()));
    }

    #[test]
    fn room_is_given_back_when_a_body_is_done_with() {
        let room = Room::of(4 * PIECE);
        let held = room.take(3 * PIECE).unwrap();
        assert_eq!(room.take(2 * PIECE).unwrap_err().status, 429);
        drop(held);
        assert!(room.take(4 * PIECE).is_ok());
    }
}
