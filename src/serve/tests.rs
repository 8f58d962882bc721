//! The service as a whole, in this process, where its planner can be made to dawdle, fail and panic.
//!
//! What the real planner makes of real jobs is tested through the binary, in `tests/serve`.

#[path = "../../tests/serve/client.rs"]
#[allow(dead_code)]
mod client;

use std::io::{Read, Write};
use std::net::SocketAddr;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use tokio::sync::oneshot;

use super::*;
use crate::job::Job;
use crate::nesting::Progress;
use crate::pile::Pile;
use crate::plan::{self, MakeError, Options, ShopPlan};
use client::{answer, call, connect, get, head, post};

/// A service under test, closed when dropped.
struct Running {
    address: SocketAddr,
    stop: Option<oneshot::Sender<()>>,
    thread: Option<JoinHandle<()>>,
}

impl Running {
    fn close(&mut self) {
        // A service that ended by itself has dropped its end.
        let _ = self.stop.take().map(|stop| stop.send(()));
        if let Some(thread) = self.thread.take() {
            thread.join().expect("the service ends well");
        }
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        self.close();
    }
}

fn settings() -> Settings {
    let limits = Limits {
        solves: 1,
        queue: 1,
        patience: Duration::from_secs(20),
        reading: Duration::from_millis(400),
        body: 64 * 1024,
        bodies: 256 * 1024,
        ..Limits::default()
    };
    Settings { bind: "127.0.0.1:0".parse().unwrap(), limits, grace: Duration::from_millis(200), ..Settings::default() }
}

fn start(settings: Settings, planner: Box<Planner>) -> Running {
    let service = Service::with_planner(settings, planner).expect("the service binds");
    let address = service.address();
    let (stop, stopped) = oneshot::channel::<()>();
    let thread = std::thread::spawn(move || {
        let stopped = async { drop(stopped.await) };
        actix_web::rt::System::new().block_on(service.run(stopped)).expect("the service runs");
    });
    Running { address, stop: Some(stop), thread: Some(thread) }
}

type Tell<'a> = &'a (dyn Fn(&Progress) + Sync);

fn at_once(job: &Job, pile: &Pile, options: &Options, cancel: &AtomicBool, tell: Tell) -> Result<ShopPlan, MakeError> {
    let options = Options { work: Some(1), ..options.clone() };
    plan::make(job, pile, &options, cancel, tell)
}

/// Tells of a first plan, then goes on until cancelled.
fn dawdling(job: &Job, pile: &Pile, options: &Options, cancel: &AtomicBool, tell: Tell) -> Result<ShopPlan, MakeError> {
    tell(&Progress { seconds: 0.1, made: 1, asked: 5, cost: 20_000_000, bound: 10_009_999 });
    while !cancel.load(Ordering::Relaxed) {
        std::thread::sleep(Duration::from_millis(5));
    }
    let mut plan = at_once(job, pile, options, &AtomicBool::new(false), tell)?;
    plan.stop = plan::Stop::Cancelled;
    Ok(plan)
}

fn order() -> String {
    let (job, pile) = (include_str!("bodies/job.json"), include_str!("bodies/pile.json"));
    format!("{{ \"job\": {job}, \"pile\": {pile}, \"limits\": {{ \"seconds\": 30 }} }}")
}

fn ask_later(address: SocketAddr) -> String {
    let asked = post(address, "/v1/plans", &[("Prefer", "respond-async")], &order()).is(202);
    assert_eq!(asked.header("preference-applied"), Some("respond-async"));
    let place = asked.header("location").expect("it says where").to_owned();
    assert_eq!(asked.json()["links"]["state"], place);
    place
}

/// Waits until `ready`, or fails.
#[track_caller]
fn until(what: &str, ready: impl Fn() -> bool) {
    let started = Instant::now();
    while !ready() {
        assert!(started.elapsed() < Duration::from_secs(30), "never: {what}");
        std::thread::sleep(Duration::from_millis(20));
    }
}

fn state_of(address: SocketAddr, place: &str) -> String {
    get(address, place).is(200).json()["state"].as_str().unwrap().to_owned()
}

fn figure(address: SocketAddr, name: &str) -> f64 {
    let metrics = get(address, "/metrics").is(200);
    let line = metrics.text().lines().find(|line| line.starts_with(name) && !line.starts_with('#'));
    line.and_then(|line| line.rsplit(' ').next()?.parse().ok()).unwrap_or(0.0)
}

#[test]
fn a_plan_that_is_made_in_time_is_the_answer_and_stays_where_it_says() {
    let service = start(settings(), Box::new(at_once));
    let made = post(service.address, "/v1/plans", &[], &order()).is(200);
    let place = made.header("content-location").unwrap().to_owned();
    assert_eq!(made.json()["state"], "done");
    assert_eq!(get(service.address, &place).is(200).json()["plan"], made.json()["plan"]);
}

#[test]
fn a_solve_that_panics_is_a_problem_of_the_service_and_not_its_end() {
    let service = start(settings(), Box::new(|_, _, _, _, _| panic!("a planted panic")));
    for _ in 0..2 {
        let problem = post(service.address, "/v1/plans", &[], &order()).problem(500, "fault");
        assert!(!problem.to_string().contains("planted"), "{problem}");
    }
    assert_eq!(figure(service.address, "flitchwork_panics_total"), 2.0);
    get(service.address, "/readyz").is(200);
}

#[test]
fn a_handler_that_panics_is_answered_for() {
    let ran = actix_web::rt::System::new().block_on(async {
        let store = Arc::new(Store::open(None, Settings::default().keep).unwrap());
        let metrics = Arc::new(Metrics::default());
        let planner: Box<Planner> = Box::new(at_once);
        let solves = Solves::new(Arc::clone(&store), Arc::clone(&metrics), Limits::default(), planner).unwrap();
        let app = web::Data::new(App::new(Settings::default(), None, store, solves, Arc::clone(&metrics)));
        let broken = || async { if true { panic!("a planted panic") } else { actix_web::HttpResponse::Ok().finish() } };
        let service = actix_web::test::init_service(
            actix_web::App::new().app_data(app).wrap(from_fn(guard::watch)).route("/", web::get().to(broken)),
        )
        .await;
        let request = actix_web::test::TestRequest::get().insert_header(("x-request-id", "r-1")).to_request();
        let Err(error) = actix_web::test::try_call_service(&service, request).await else { panic!("it is an error") };
        let answer = error.error_response();
        let id = answer.headers().get("x-request-id").map(|id| id.to_str().unwrap().to_owned());
        assert!(answer.headers().contains_key("x-content-type-options"));
        (answer.status().as_u16(), id, metrics.panics.get())
    });
    assert_eq!(ran, (500, Some("r-1".to_owned()), 1));
}

#[test]
fn work_beyond_the_queue_is_told_to_come_again() {
    let service = start(settings(), Box::new(dawdling));
    let first = ask_later(service.address);
    until("the first is begun", || state_of(service.address, &first) == "working");
    let second = ask_later(service.address);
    assert_eq!(state_of(service.address, &second), "waiting");
    let third = post(service.address, "/v1/plans", &[], &order());
    let wait: u64 = third.header("retry-after").expect("it says when").parse().unwrap();
    assert!((1..=600).contains(&wait));
    third.problem(429, "busy");
    // A plan that waits is cancelled at once, and makes room.
    call(service.address, "DELETE", &second, &[], b"").is(200);
    assert_eq!(state_of(service.address, &second), "stopped");
    ask_later(service.address);
}

#[test]
fn a_cancelled_plan_keeps_the_best_so_far() {
    let service = start(settings(), Box::new(dawdling));
    let place = ask_later(service.address);
    until("there is a first plan", || get(service.address, &place).json()["best"].is_object());
    let before = get(service.address, &place).json();
    assert_eq!((before["best"]["cost"].as_f64(), before["best"]["bound"].as_f64()), (Some(20.0), Some(10.0)));
    get(service.address, &format!("{place}/plan")).problem(409, "not-ready");
    let after = call(service.address, "DELETE", &place, &[], b"").is(200).json();
    assert_eq!((after["state"].as_str(), after["plan"]["stop"].as_str()), (Some("stopped"), Some("cancelled")));
    assert_eq!(call(service.address, "DELETE", &place, &[], b"").is(200).json(), after);
}

#[test]
fn a_client_that_hangs_up_frees_its_solve_and_leaves_nothing_behind() {
    let service = start(settings(), Box::new(dawdling));
    let body = order();
    let length = body.len().to_string();
    let headers = [("Content-Type", "application/json"), ("Content-Length", &length), ("Idempotency-Key", "one")];
    for _ in 0..3 {
        let mut stream = connect(service.address);
        stream.write_all(head("POST", "/v1/plans", &headers).as_bytes()).unwrap();
        stream.write_all(body.as_bytes()).unwrap();
        until("it is begun", || figure(service.address, "flitchwork_solves_working") == 1.0);
        drop(stream);
        until("it is freed", || figure(service.address, "flitchwork_solves_working") == 0.0);
    }
    assert_eq!(figure(service.address, "flitchwork_solves_total{how=\"stopped\"}"), 3.0);
}

#[test]
fn a_key_makes_one_plan_however_often_and_at_one_time_it_is_sent() {
    let count = Arc::new(AtomicUsize::new(0));
    let counted = Arc::clone(&count);
    let planner = move |job: &Job, pile: &Pile, options: &Options, cancel: &AtomicBool, tell: Tell| {
        counted.fetch_add(1, Ordering::SeqCst);
        std::thread::sleep(Duration::from_millis(300));
        at_once(job, pile, options, cancel, tell)
    };
    let service = start(settings(), Box::new(planner));
    let (address, body) = (service.address, order());
    let ask = |body: &str| post(address, "/v1/plans", &[("Idempotency-Key", "monday 7")], body);
    let answers: Vec<serde_json::Value> = std::thread::scope(|scope| {
        let calls: Vec<_> = (0..4).map(|_| scope.spawn(|| ask(&body).is(200).json())).collect();
        calls.into_iter().map(|call| call.join().unwrap()).collect()
    });
    assert!(answers.iter().all(|answer| *answer == answers[0]));
    assert_eq!(ask(&body).is(200).json(), answers[0]);
    assert_eq!(count.load(Ordering::SeqCst), 1);
    ask(&body.replace("Wall shelf", "Another")).problem(422, "key-used");
}

fn on_disk(path: PathBuf) -> Settings {
    Settings { store: Some(path), ..settings() }
}

#[test]
fn what_runs_and_what_waits_at_the_end_is_made_after_the_next_start() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("plans.db");
    let mut service = start(on_disk(path.clone()), Box::new(dawdling));
    let running = ask_later(service.address);
    until("the first is begun", || state_of(service.address, &running) == "working");
    let waiting = ask_later(service.address);
    service.close();

    let mut service = start(on_disk(path.clone()), Box::new(at_once));
    for place in [&running, &waiting] {
        until("it is made", || state_of(service.address, place) == "done");
    }
    let before = get(service.address, &running).json();
    service.close();
    let service = start(on_disk(path), Box::new(at_once));
    assert_eq!(get(service.address, &running).is(200).json(), before);
}

#[test]
fn progress_is_told_as_it_comes_and_an_end_at_the_end() {
    let service = start(settings(), Box::new(dawdling));
    let place = ask_later(service.address);
    let mut stream = connect(service.address);
    stream.write_all(head("GET", &format!("{place}/events"), &[]).as_bytes()).unwrap();
    let mut said = Vec::new();
    let mut some = [0; 512];
    while !String::from_utf8_lossy(&said).contains("\"cost\":20.0") {
        let count = stream.read(&mut some).unwrap();
        assert!(count > 0, "it ended early: {}", String::from_utf8_lossy(&said));
        said.extend_from_slice(&some[..count]);
    }
    call(service.address, "DELETE", &place, &[], b"").is(200);
    stream.read_to_end(&mut said).unwrap();
    let said = String::from_utf8_lossy(&said).into_owned();
    assert!(said.contains("content-type: text/event-stream") && said.contains("event: progress"), "{said}");
    assert!(said.contains("event: end\ndata: {\"state\":\"stopped\""), "{said}");
    let after = get(service.address, &format!("{place}/events")).is(200);
    assert!(after.text().starts_with("event: end\n"));
}

#[test]
fn a_body_that_comes_too_slowly_is_given_up() {
    let service = start(settings(), Box::new(at_once));
    let headers = [("Content-Type", "application/json"), ("Content-Length", "1000")];
    let mut stream = connect(service.address);
    stream.write_all(head("POST", "/v1/plans", &headers).as_bytes()).unwrap();
    stream.write_all(b"{").unwrap();
    answer(stream).problem(408, "too-slow");
}

#[test]
fn a_body_that_is_too_large_is_refused_whether_or_not_it_says_so() {
    let service = start(settings(), Box::new(at_once));
    let large = "x".repeat(65 * 1024);
    post(service.address, "/v1/plans", &[], &large).problem(413, "too-large");
    let mut stream = connect(service.address);
    let headers = [("Content-Type", "application/json"), ("Transfer-Encoding", "chunked")];
    stream.write_all(head("POST", "/v1/plans", &headers).as_bytes()).unwrap();
    let chunk = format!("{:x}\r\n{large}\r\n", large.len());
    stream.write_all(chunk.as_bytes()).unwrap();
    answer(stream).problem(413, "too-large");
}

#[test]
fn a_space_sees_its_own_plans_only() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("tokens");
    let (north, south) = ("north-0123456789abcdef0123456789", "south-0123456789abcdef0123456789");
    std::fs::write(&file, format!("north {north}\nsouth {south}\n")).unwrap();
    let service = start(Settings { token_file: Some(file), ..settings() }, Box::new(at_once));
    let address = service.address;
    let (north, south) = (format!("Bearer {north}"), format!("bearer {south}"));
    let made = post(address, "/v1/plans", &[("Authorization", &north), ("Idempotency-Key", "k")], &order()).is(200);
    let place = made.header("content-location").unwrap();
    for end in ["", "/plan", "/events", "/diagrams", "/diagrams/0.svg", "/diagrams.pdf"] {
        let path = format!("{place}{end}");
        call(address, "GET", &path, &[("Authorization", &north)], b"").is(200);
        call(address, "GET", &path, &[("Authorization", &south)], b"").problem(404, "not-found");
        let refused = get(address, &path);
        assert_eq!(refused.header("www-authenticate"), Some("Bearer realm=\"flitchwork\""));
        refused.problem(401, "no-token");
    }
    call(address, "DELETE", place, &[("Authorization", &south)], b"").problem(404, "not-found");
    // The same key in another space is another key.
    let other = post(address, "/v1/plans", &[("Authorization", &south), ("Idempotency-Key", "k")], &order()).is(200);
    assert_ne!(other.json()["id"], made.json()["id"]);
    call(address, "GET", place, &[("Authorization", "Bearer nonsense")], b"").problem(401, "no-token");
    // With tokens a service may have any name; what says nothing of plans is open to all.
    call(address, "GET", "/healthz", &[("Host", "plans.example")], b"").is(200);
}
