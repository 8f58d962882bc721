//! A small HTTP client that can also misbehave: it writes what it is told, as slowly as it is told, and reads the answer.

use std::io::{Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::time::Duration;

/// An answer, read whole.
#[derive(Debug)]
pub struct Answer {
    pub status: u16,
    pub headers: Vec<(String, String)>,
    pub body: Vec<u8>,
}

impl Answer {
    pub fn header(&self, name: &str) -> Option<&str> {
        self.headers.iter().find(|(key, _)| key.eq_ignore_ascii_case(name)).map(|(_, value)| value.as_str())
    }

    pub fn text(&self) -> &str {
        std::str::from_utf8(&self.body).expect("the body is text")
    }

    #[track_caller]
    pub fn json(&self) -> serde_json::Value {
        serde_json::from_slice(&self.body).unwrap_or_else(|error| panic!("{error}: {}", self.text()))
    }

    /// The answer, if it has this status; otherwise all of it is shown.
    #[track_caller]
    pub fn is(self, status: u16) -> Answer {
        assert_eq!(self.status, status, "{}", String::from_utf8_lossy(&self.body));
        self
    }

    /// Fails unless this is a problem document of the kind, and gives it back.
    #[track_caller]
    pub fn problem(self, status: u16, code: &str) -> serde_json::Value {
        let answer = self.is(status);
        assert_eq!(answer.header("content-type"), Some("application/problem+json"));
        let problem = answer.json();
        assert_eq!(problem["type"], format!("/#{code}"));
        assert_eq!(problem["status"], status);
        problem
    }
}

/// Connects with a limit on every wait.
pub fn connect(address: SocketAddr) -> TcpStream {
    let stream = TcpStream::connect(address).expect("the service listens");
    stream.set_read_timeout(Some(Duration::from_secs(60))).expect("a stream has a limit");
    stream
}

/// The head of a request.
pub fn head(method: &str, path: &str, headers: &[(&str, &str)]) -> String {
    let mut head = format!("{method} {path} HTTP/1.1\r\n");
    if !headers.iter().any(|(name, _)| name.eq_ignore_ascii_case("host")) {
        head.push_str("Host: localhost\r\n");
    }
    for (name, value) in headers {
        head.push_str(&format!("{name}: {value}\r\n"));
    }
    head + "Connection: close\r\n\r\n"
}

/// A request and its answer.
#[track_caller]
pub fn call(address: SocketAddr, method: &str, path: &str, headers: &[(&str, &str)], body: &[u8]) -> Answer {
    let mut stream = connect(address);
    let length = body.len().to_string();
    let mut headers = headers.to_vec();
    if !body.is_empty() {
        headers.push(("Content-Length", &length));
    }
    stream.write_all(head(method, path, &headers).as_bytes()).expect("the head is taken");
    // A service may refuse a body before it has all of it.
    let _ = stream.write_all(body);
    answer(stream)
}

/// GET without further headers.
#[track_caller]
pub fn get(address: SocketAddr, path: &str) -> Answer {
    call(address, "GET", path, &[], b"")
}

/// POST of JSON.
#[track_caller]
pub fn post(address: SocketAddr, path: &str, headers: &[(&str, &str)], body: &str) -> Answer {
    let mut headers = headers.to_vec();
    headers.push(("Content-Type", "application/json"));
    call(address, "POST", path, &headers, body.as_bytes())
}

/// The answer on a connection that the service closes after it.
#[track_caller]
pub fn answer(mut stream: TcpStream) -> Answer {
    let mut bytes = Vec::new();
    // Bytes that came before a connection was cut count.
    let read = stream.read_to_end(&mut bytes);
    let end = bytes.windows(4).position(|four| four == b"\r\n\r\n");
    let end = end.unwrap_or_else(|| panic!("no answer ({read:?}): {:?}", String::from_utf8_lossy(&bytes)));
    let head = std::str::from_utf8(&bytes[..end]).expect("a head is text");
    let mut lines = head.split("\r\n");
    let status = lines.next().and_then(|line| line.split(' ').nth(1)).and_then(|code| code.parse().ok());
    let headers: Vec<(String, String)> = lines
        .filter_map(|line| line.split_once(':'))
        .map(|(name, value)| (name.to_owned(), value.trim().to_owned()))
        .collect();
    let chunked =
        headers.iter().any(|(name, value)| name.eq_ignore_ascii_case("transfer-encoding") && value == "chunked");
    let body = bytes[end + 4..].to_vec();
    Answer { status: status.expect("a status"), headers, body: if chunked { unchunked(&body) } else { body } }
}

fn unchunked(mut rest: &[u8]) -> Vec<u8> {
    let mut body = Vec::new();
    while let Some(end) = rest.windows(2).position(|two| two == b"\r\n") {
        let size = std::str::from_utf8(&rest[..end]).ok().and_then(|text| usize::from_str_radix(text, 16).ok());
        let size = size.expect("a chunk has a size");
        if size == 0 {
            break;
        }
        body.extend_from_slice(&rest[end + 2..end + 2 + size]);
        rest = &rest[end + 4 + size..];
    }
    body
}
