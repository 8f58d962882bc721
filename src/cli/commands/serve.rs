//! `serve`: the HTTP service, from its start to its end in good order.

use std::io;

use actix_web::rt::System;
use tracing::level_filters::LevelFilter;

use crate::cli::args::LogLevel;
use crate::cli::failure::{Ending, Failure, INTERRUPTED};
use crate::cli::output;
use crate::cli::settings::ServeSettings;
use crate::serve::{ServeError, Service};

pub fn run(settings: ServeSettings) -> Result<Ending, Failure> {
    log(settings.log);
    let service = Service::bind(settings.service).map_err(failure)?;
    output::print(&format!("http://{}\n", service.address()))?;
    System::new().block_on(service.run(told_to_stop())).map_err(failure)?;
    Ok(Ending::Done)
}

/// Log lines are JSON on standard error, panics among them.
fn log(level: LogLevel) {
    let level = match level {
        LogLevel::Warnings => LevelFilter::WARN,
        LogLevel::Requests => LevelFilter::INFO,
        LogLevel::Details => LevelFilter::DEBUG,
    };
    let lines = tracing_subscriber::fmt().json().flatten_event(true).with_writer(io::stderr).with_max_level(level);
    lines.init();
    std::panic::set_hook(Box::new(|panic| {
        let place = panic.location().map(ToString::to_string).unwrap_or_default();
        let payload = panic.payload();
        let words = payload.downcast_ref::<&str>().copied();
        let words = words.or_else(|| payload.downcast_ref::<String>().map(String::as_str));
        tracing::error!(what = words.unwrap_or("no words"), place, "panic");
    }));
}

fn failure(error: ServeError) -> Failure {
    match error {
        ServeError::Settings(_) | ServeError::Store(_) | ServeError::Bind { .. } => Failure::input(error),
        _ => Failure::Fault(error.to_string()),
    }
}

/// Ends at the first Ctrl-C or polite kill; a second one ends the program at once.
async fn told_to_stop() {
    told_once().await;
    actix_web::rt::spawn(async {
        told_once().await;
        std::process::exit(i32::from(INTERRUPTED));
    });
}

#[cfg(unix)]
async fn told_once() {
    use tokio::signal::unix::{SignalKind, signal};
    let (Ok(mut interrupt), Ok(mut terminate)) = (signal(SignalKind::interrupt()), signal(SignalKind::terminate()))
    else {
        return unheard().await;
    };
    tokio::select! {
        _ = interrupt.recv() => {}
        _ = terminate.recv() => {}
    }
}

#[cfg(not(unix))]
async fn told_once() {
    if tokio::signal::ctrl_c().await.is_err() {
        unheard().await;
    }
}

async fn unheard() {
    tracing::error!("signals cannot be heard; the service runs until it is killed");
    std::future::pending().await
}
