//! The HTTP service: everything the library does, for other programs.
//!
//! A thin door, like `cli`: bodies become calls (`request`), answers become JSON (`answer`), and no rule of the trade is
//! here. `endpoints` lists every address, `routes` answers them, `guard` stands before them all; `solves` makes plans on
//! threads of its own, `store` keeps them; `openapi` and `page` describe it. Invariant: nothing a client sends makes the
//! service take more memory, threads or time than `settings` allows.

// A problem is made at most once a request and goes straight to the client: its size does not matter.
#![allow(clippy::result_large_err)]

mod accept;
mod answer;
mod app;
mod body;
mod endpoints;
mod guard;
mod metrics;
mod openapi;
mod page;
mod problem;
mod request;
mod routes;
mod settings;
mod solves;
mod state;
mod store;
mod tokens;

#[cfg(test)]
mod tests;

use std::io;
use std::net::{SocketAddr, TcpListener};
use std::sync::Arc;
use std::time::Duration;

use actix_web::middleware::from_fn;
use actix_web::{HttpServer, web};

use app::App;
use metrics::Metrics;
use solves::{Planner, Solves};
use store::Store;

pub use settings::{Keep, Limits, Settings, SettingsError};
pub use store::StoreError;
pub use tokens::TokenError;

/// How often plans that are too old are looked for.
const SWEEP: Duration = Duration::from_secs(300);
/// How long a client may take for the head of a request.
const HEAD: Duration = Duration::from_secs(10);
/// How long a connection is kept for another request.
const IDLE: Duration = Duration::from_secs(30);
/// How long a client may leave unread what was sent to it.
const UNREAD: Duration = Duration::from_secs(30);
/// Connections that wait to be accepted.
const BACKLOG: i32 = 1024;

/// Why the service does not start, or ended.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ServeError {
    #[error(transparent)]
    Settings(#[from] SettingsError),
    #[error(transparent)]
    Store(#[from] StoreError),
    #[error("cannot listen on {address}: {source}; is the port taken?")]
    Bind { address: SocketAddr, source: io::Error },
    #[error("the service cannot run: {0}")]
    Run(#[from] io::Error),
}

/// A service that listens and does not answer yet.
pub struct Service {
    app: web::Data<App>,
    listener: TcpListener,
    address: SocketAddr,
}

impl Service {
    /// Judges the settings, opens the store, takes the port.
    ///
    /// # Errors
    /// When the settings would let strangers in or make no sense, the store cannot be used, or the port is taken.
    pub fn bind(settings: Settings) -> Result<Service, ServeError> {
        Service::with_planner(settings, Box::new(crate::plan::make))
    }

    fn with_planner(settings: Settings, planner: Box<Planner>) -> Result<Service, ServeError> {
        let tokens = settings.judged()?;
        let store = Arc::new(Store::open(settings.store.as_deref(), settings.keep.clone())?);
        let metrics = Arc::new(Metrics::default());
        let solves = Solves::new(Arc::clone(&store), Arc::clone(&metrics), settings.limits.clone(), planner)?;
        let failed = |source| ServeError::Bind { address: settings.bind, source };
        let listener = listen(settings.bind).map_err(failed)?;
        let address = listener.local_addr().map_err(failed)?;
        let app = web::Data::new(App::new(settings, tokens, store, solves, metrics));
        Ok(Service { app, listener, address })
    }

    /// Where it listens.
    pub fn address(&self) -> SocketAddr {
        self.address
    }

    /// Answers requests until `stop` is done; then begins nothing new, gives what runs its grace, and puts the rest back
    /// into the store.
    ///
    /// # Errors
    /// When the machine gives no threads or the listener fails.
    pub async fn run(self, stop: impl Future<Output = ()>) -> Result<(), ServeError> {
        let Service { app, listener, address } = self;
        let (grace, limits) = (app.settings.grace, app.settings.limits.clone());
        let threads = app.solves.start()?;
        let shared = app.clone();
        let server = HttpServer::new(move || {
            actix_web::App::new()
                .app_data(shared.clone())
                .wrap(from_fn(guard::admit))
                .wrap(from_fn(guard::watch))
                .configure(endpoints::register)
                .default_service(web::to(endpoints::nowhere))
        })
        .workers(app.settings.doors)
        .max_connections(limits.connections)
        .client_request_timeout(HEAD)
        .client_disconnect_timeout(Duration::from_secs(2))
        .keep_alive(IDLE)
        // A client that closes its side has hung up: nobody reads the answer.
        .h1_allow_half_closed(false)
        .shutdown_timeout(grace.as_secs() + 10)
        .disable_signals()
        .listen(listener)?
        .run();
        tracing::info!(%address, "the service is open");
        let handle = server.handle();
        let mut running = actix_web::rt::spawn(server);
        let sweeper = actix_web::rt::spawn(sweep(app.clone()));
        tokio::select! {
            () = stop => {}
            ended = &mut running => return Ok(ended.map_err(io::Error::other)??),
        }
        tracing::info!("the service is closing");
        sweeper.abort();
        let solves = Arc::clone(&app.solves);
        let closing = web::block(move || solves.close(grace));
        let (closed, ()) = tokio::join!(closing, handle.stop(true));
        closed.map_err(io::Error::other)?;
        running.await.map_err(io::Error::other)??;
        for thread in threads.into_iter().filter(|thread| thread.is_finished()) {
            if thread.join().is_err() {
                tracing::error!("a thread that solves had panicked");
            }
        }
        tracing::info!("the service is closed");
        Ok(())
    }
}

/// Lets go of plans that are too old, now and then.
async fn sweep(app: web::Data<App>) {
    loop {
        tokio::time::sleep(SWEEP).await;
        let store = Arc::clone(&app.store);
        match web::block(move || store.sweep()).await {
            Ok(Ok(gone)) => tracing::debug!(gone, "plans too old were let go"),
            Ok(Err(error)) => tracing::error!(cause = %error, "the store could not be swept"),
            Err(error) => tracing::error!(cause = %error, "the store could not be swept"),
        }
    }
}

/// A listener whose connections end when a client leaves unread what was sent to it.
fn listen(address: SocketAddr) -> io::Result<TcpListener> {
    use socket2::{Domain, Protocol, Socket, Type};
    let socket = Socket::new(Domain::for_address(address), Type::STREAM, Some(Protocol::TCP))?;
    socket.set_reuse_address(true)?;
    socket.set_tcp_nodelay(true)?;
    #[cfg(target_os = "linux")]
    socket.set_tcp_user_timeout(Some(UNREAD))?;
    socket.bind(&address.into())?;
    socket.listen(BACKLOG)?;
    socket.set_nonblocking(true)?;
    Ok(socket.into())
}
