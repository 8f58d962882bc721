//! What an operator watches: counts and times, in the text form that Prometheus scrapes (OpenMetrics 1.0).
//!
//! A registry of its own, so that services in one process do not count for each other. Labels take a route's pattern,
//! never an address as it was typed: their number is bounded.

use std::sync::Mutex;
use std::sync::atomic::AtomicU64;
use std::time::Duration;

use prometheus_client::encoding::text::encode;
use prometheus_client::metrics::counter::Counter;
use prometheus_client::metrics::family::Family;
use prometheus_client::metrics::gauge::Gauge;
use prometheus_client::metrics::histogram::Histogram;
use prometheus_client::registry::{Registry, Unit};

/// The media type of the text.
pub const MEDIA: &str = "application/openmetrics-text; version=1.0.0; charset=utf-8";

type Labels = Vec<(&'static str, String)>;

/// Upper ends of the classes of a request's time, seconds.
const REQUEST: [f64; 11] = [0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.5, 1.0, 5.0, 30.0];
/// Of a solve's, and of the time until its first plan.
const SOLVE: [f64; 10] = [0.01, 0.03, 0.1, 0.3, 1.0, 3.0, 10.0, 30.0, 100.0, 300.0];
/// Of the gap reached, a share of the cost.
const GAP: [f64; 8] = [0.0005, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.3];

/// The figures.
pub struct Metrics {
    registry: Mutex<Registry>,
    requests: Family<Labels, Counter>,
    request_seconds: Family<Labels, Histogram, fn() -> Histogram>,
    pub waiting: Gauge,
    pub working: Gauge,
    solves: Family<Labels, Counter>,
    solve_seconds: Histogram,
    first_plan_seconds: Histogram,
    gap: Histogram,
    pub panics: Counter<u64, AtomicU64>,
}

impl Default for Metrics {
    fn default() -> Metrics {
        let mut registry = Registry::with_prefix("flitchwork");
        let of_requests: fn() -> Histogram = || Histogram::new(REQUEST);
        let metrics = Metrics {
            registry: Mutex::default(),
            requests: Family::default(),
            request_seconds: Family::new_with_constructor(of_requests),
            waiting: Gauge::default(),
            working: Gauge::default(),
            solves: Family::default(),
            solve_seconds: Histogram::new(SOLVE),
            first_plan_seconds: Histogram::new(SOLVE),
            gap: Histogram::new(GAP),
            panics: Counter::default(),
        };
        registry.register("requests", "Requests answered", metrics.requests.clone());
        let time = "Time from a request's head to its answer's";
        registry.register_with_unit("request", time, Unit::Seconds, metrics.request_seconds.clone());
        registry.register("queue_waiting", "Plans that wait for their turn", metrics.waiting.clone());
        registry.register("solves_working", "Plans being made", metrics.working.clone());
        registry.register("solves", "Plans that ended, by how", metrics.solves.clone());
        registry.register_with_unit("solve", "Time of a solve", Unit::Seconds, metrics.solve_seconds.clone());
        let first = "Time from a solve's start to its first plan";
        registry.register_with_unit("first_plan", first, Unit::Seconds, metrics.first_plan_seconds.clone());
        registry.register("solve_gap", "Proven gap of plans made, a share of their cost", metrics.gap.clone());
        registry.register("panics", "Panics caught", metrics.panics.clone());
        Metrics { registry: Mutex::new(registry), ..metrics }
    }
}

impl Metrics {
    /// Counts a request.
    pub fn request(&self, method: &str, route: &str, status: u16, took: Duration) {
        let route = ("route", route.to_owned());
        let labels = vec![("method", method.to_owned()), route.clone(), ("status", status.to_string())];
        self.requests.get_or_create(&labels).inc();
        self.request_seconds.get_or_create(&vec![route]).observe(took.as_secs_f64());
    }

    /// Counts the first plan of a solve.
    pub fn first_plan(&self, after: Duration) {
        self.first_plan_seconds.observe(after.as_secs_f64());
    }

    /// Counts a solve that ended; `gap` is that of its plan.
    pub fn solved(&self, how: &str, took: Duration, gap: Option<f64>) {
        self.solves.get_or_create(&vec![("how", how.to_owned())]).inc();
        self.solve_seconds.observe(took.as_secs_f64());
        if let Some(gap) = gap {
            self.gap.observe(gap);
        }
    }

    /// All figures as text.
    pub fn text(&self) -> String {
        let registry = self.registry.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
        let mut text = String::new();
        encode(&mut text, &registry).expect("a String takes any text");
        text
    }
}
