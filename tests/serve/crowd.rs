//! Two hundred clients at one time, many of them ill-behaved: the service answers the others and comes to rest.

use std::io::Write;
use std::net::{Shutdown, SocketAddr};
use std::sync::atomic::{AtomicUsize, Ordering};

use crate::client::{answer, connect, get, head, post};
use crate::running::Running;

const CLIENTS: usize = 200;

fn order() -> String {
    let example = |name: &str| {
        let path = format!("{}/src/serve/bodies/{name}", env!("CARGO_MANIFEST_DIR"));
        std::fs::read_to_string(path).expect("an example")
    };
    let (job, pile) = (example("job.json"), example("pile.json"));
    format!("{{ \"job\": {job}, \"pile\": {pile}, \"limits\": {{ \"work\": 2 }} }}")
}

/// One client of each kind in turn; what a status should be depends on how busy the service is.
fn behave(kind: usize, address: SocketAddr, order: &str, made: &AtomicUsize) {
    let length = order.len().to_string();
    let whole = [("Content-Type", "application/json"), ("Content-Length", length.as_str())];
    match kind % 5 {
        0 => {
            let answer = post(address, "/v1/plans", &[], order);
            match answer.status {
                200 | 202 => made.fetch_add(1, Ordering::Relaxed),
                429 => answer.header("retry-after").expect("it says when").parse().expect("in seconds"),
                other => panic!("{other}: {}", answer.text()),
            };
        }
        // Hangs up in the middle of its body.
        1 => {
            let mut stream = connect(address);
            let sent = stream.write_all(head("POST", "/v1/plans", &whole).as_bytes());
            sent.and_then(|()| stream.write_all(&order.as_bytes()[..order.len() / 2])).expect("half is taken");
        }
        // Hangs up before the answer.
        2 => {
            let mut stream = connect(address);
            let sent = stream.write_all(head("POST", "/v1/plans", &whole).as_bytes());
            sent.and_then(|()| stream.write_all(order.as_bytes())).expect("all is taken");
            // It may be answered and closed already.
            let _ = stream.shutdown(Shutdown::Both);
        }
        // Says that more comes than may.
        3 => {
            let mut stream = connect(address);
            let headers = [("Content-Type", "application/json"), ("Content-Length", "999999999")];
            stream.write_all(head("POST", "/v1/plans", &headers).as_bytes()).expect("the head is taken");
            answer(stream).problem(413, "too-large");
        }
        // Speaks another language.
        _ => {
            let mut stream = connect(address);
            stream.write_all(b"\x16\x03\x01\x02\x00 hello\r\n\r\n").expect("it is taken");
            assert_eq!(answer(stream).status, 400);
        }
    }
}

#[test]
fn two_hundred_clients_at_one_time_are_answered_or_put_off_and_the_service_comes_to_rest() {
    let service = Running::start("--queue 40 --solves 2");
    let (address, order, made) = (service.address, order(), AtomicUsize::new(0));
    std::thread::scope(|scope| {
        for kind in 0..CLIENTS {
            let (order, made) = (&order, &made);
            scope.spawn(move || behave(kind, address, order, made));
        }
    });
    assert!(made.load(Ordering::Relaxed) > 0);
    for _ in 0..600 {
        let metrics = get(address, "/metrics").is(200);
        if metrics.text().contains("flitchwork_solves_working 0")
            && metrics.text().contains("flitchwork_queue_waiting 0")
        {
            assert!(metrics.text().contains("flitchwork_panics_total 0"));
            post(address, "/v1/plans", &[], &order).is(200);
            return;
        }
        std::thread::sleep(std::time::Duration::from_millis(100));
    }
    panic!("it never came to rest: {}", service.log());
}
