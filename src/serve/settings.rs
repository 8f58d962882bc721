//! What the service is told at its start, and what it refuses to start with.
//!
//! Every limit has its unit and default here. Nothing is read from the machine but the token file.

use std::net::SocketAddr;
use std::path::PathBuf;
use std::time::Duration;

use super::tokens::{TokenError, Tokens};

/// All that an operator decides.
#[derive(Clone, Debug, PartialEq)]
pub struct Settings {
    /// Where to listen; port 0 takes a free one.
    pub bind: SocketAddr,
    /// Who may use the service; without it anyone on this machine, and nobody else.
    pub token_file: Option<PathBuf>,
    /// Where plans are kept (SQLite); without it they are kept in memory and end with the program.
    pub store: Option<PathBuf>,
    /// Web origins whose pages may call the service.
    pub origins: Vec<String>,
    pub limits: Limits,
    pub keep: Keep,
    /// How long running solves may go on once the service is told to stop.
    pub grace: Duration,
    /// Threads that serve requests; solves have their own.
    pub doors: usize,
}

/// What one request and all of them together may take.
#[derive(Clone, Debug, PartialEq)]
pub struct Limits {
    /// Largest body, bytes.
    pub body: usize,
    /// Bytes of all bodies that are being received or read at one time.
    pub bodies: usize,
    /// Deepest nesting of a body.
    pub depth: usize,
    /// Most values (numbers, texts, lists, groups) in a body.
    pub values: usize,
    /// Longest text in a body, bytes.
    pub text: usize,
    /// Most lines of a parts list.
    pub parts: usize,
    /// Most finished pieces of a job.
    pub pieces: u64,
    /// Most lines of a pile.
    pub lines: usize,
    /// How long a client may take to send a body.
    pub reading: Duration,
    /// Longest solve, seconds.
    pub seconds: f64,
    /// Solves at one time.
    pub solves: usize,
    /// Solves that may wait for their turn.
    pub queue: usize,
    /// How long a plan is waited for before the answer is where to find it.
    pub patience: Duration,
    /// Connections at one time, for each door.
    pub connections: usize,
}

/// How much is kept, for each space.
#[derive(Clone, Debug, PartialEq)]
pub struct Keep {
    /// Finished plans.
    pub plans: u32,
    /// Age of a finished plan.
    pub age: Duration,
    /// Bytes of plans with their jobs and piles.
    pub bytes: u64,
}

const MEGABYTE: usize = 1 << 20;
const DAY: Duration = Duration::from_secs(24 * 3600);

impl Default for Settings {
    fn default() -> Settings {
        Settings {
            bind: SocketAddr::from(([127, 0, 0, 1], 7117)),
            token_file: None,
            store: None,
            origins: Vec::new(),
            limits: Limits::default(),
            keep: Keep { plans: 1000, age: 30 * DAY, bytes: 1 << 30 },
            grace: Duration::from_secs(10),
            doors: 2,
        }
    }
}

impl Default for Limits {
    fn default() -> Limits {
        let cores = std::thread::available_parallelism().map_or(1, usize::from);
        Limits {
            body: 4 * MEGABYTE,
            bodies: 64 * MEGABYTE,
            depth: 32,
            values: 500_000,
            text: 4_000,
            parts: 2_000,
            pieces: 20_000,
            lines: 10_000,
            reading: Duration::from_secs(15),
            seconds: 60.0,
            solves: (cores / 2).max(1),
            queue: 32,
            patience: Duration::from_secs(5),
            connections: 1000,
        }
    }
}

/// Why the service does not start.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum SettingsError {
    #[error(
        "{0} can be reached from other machines, and there is no token file to say who may come in; give one, or bind to 127.0.0.1"
    )]
    OpenToAll(SocketAddr),
    #[error(transparent)]
    Tokens(#[from] TokenError),
    #[error("{0:?} is no origin; write scheme, host and port only, such as https://shop.example")]
    Origin(String),
    #[error("{name} cannot be {value}; {cure}")]
    Number { name: &'static str, value: String, cure: &'static str },
}

impl Limits {
    /// Longest search for what fills one piece of stock, seconds: it is answered while the client waits.
    pub fn fill_seconds(&self) -> f64 {
        self.seconds.min(self.patience.as_secs_f64())
    }
}

impl Settings {
    /// The tokens that open the service, none when everyone on this machine may come in.
    ///
    /// # Errors
    /// When the settings would let strangers in, or make no sense.
    pub fn judged(&self) -> Result<Option<Tokens>, SettingsError> {
        if self.token_file.is_none() && !self.bind.ip().is_loopback() {
            return Err(SettingsError::OpenToAll(self.bind));
        }
        for origin in &self.origins {
            if !is_origin(origin) {
                return Err(SettingsError::Origin(origin.clone()));
            }
        }
        let limits = &self.limits;
        let wrong = |name, value: String, cure| Err(SettingsError::Number { name, value, cure });
        if !(limits.seconds > 0.0 && limits.seconds <= 86_400.0) {
            return wrong("the longest solve", limits.seconds.to_string(), "write seconds, up to a day");
        }
        if limits.solves == 0 || limits.solves > 256 {
            return wrong("the number of solves", limits.solves.to_string(), "write 1 to 256");
        }
        if limits.body == 0 || limits.body > limits.bodies {
            return wrong("the largest body", limits.body.to_string(), "write bytes, no more than all bodies may have");
        }
        Ok(self.token_file.as_deref().map(Tokens::read).transpose()?)
    }
}

/// `https://shop.example:8443`: a scheme, a host, perhaps a port, and nothing else (RFC 6454, section 6).
fn is_origin(text: &str) -> bool {
    let Some((scheme, host)) = text.split_once("://") else { return false };
    let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, '.' | '-' | ':' | '[' | ']');
    matches!(scheme, "http" | "https") && !host.is_empty() && host.chars().all(plain)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_others_can_reach_needs_a_token_file() {
        let open = |bind: &str| Settings { bind: bind.parse().unwrap(), ..Settings::default() }.judged();
        assert!(open("127.0.0.1:0").unwrap().is_none());
        assert!(open("[::1]:0").unwrap().is_none());
        for bind in ["0.0.0.0:80", "192.168.1.4:80", "[::]:80"] {
            assert!(matches!(open(bind), Err(SettingsError::OpenToAll(_))), "{bind}");
        }
    }

    #[test]
    fn an_origin_is_scheme_host_and_port_only() {
        for good in ["https://shop.example", "http://localhost:3000", "http://[::1]:80"] {
            assert!(is_origin(good), "{good}");
        }
        for bad in ["*", "null", "shop.example", "https://", "https://shop.example/", "ftp://x", "https://a b"] {
            assert!(!is_origin(bad), "{bad}");
        }
    }
}
