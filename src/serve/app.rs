//! What all requests share, and the hands that do the work of one.

use std::sync::Arc;
use std::time::Duration;

use actix_web::web;
use tokio::sync::Semaphore;

use super::body::Room;
use super::metrics::Metrics;
use super::problem::Problem;
use super::settings::Settings;
use super::solves::Solves;
use super::store::{Kept, Store};
use super::tokens::{Space, Tokens};

/// Longest wait for a free hand.
const PATIENCE: Duration = Duration::from_secs(10);

/// What all requests share.
pub struct App {
    pub settings: Settings,
    pub tokens: Option<Tokens>,
    pub store: Arc<Store>,
    pub solves: Arc<Solves>,
    pub metrics: Arc<Metrics>,
    pub room: Room,
    hands: Arc<Semaphore>,
    searchers: Arc<Semaphore>,
}

impl App {
    /// The shared part of a service.
    pub fn new(
        settings: Settings,
        tokens: Option<Tokens>,
        store: Arc<Store>,
        solves: Arc<Solves>,
        metrics: Arc<Metrics>,
    ) -> App {
        let cores = std::thread::available_parallelism().map_or(1, usize::from);
        let room = Room::of(settings.limits.bodies);
        let (hands, searchers) = (Semaphore::new(cores), Semaphore::new(settings.limits.solves));
        let (hands, searchers) = (Arc::new(hands), Arc::new(searchers));
        App { settings, tokens, store, solves, metrics, room, hands, searchers }
    }

    /// Does work that takes a processor for a while (reading, checking, drawing), off the threads that serve and no
    /// more of it at one time than there are processors.
    ///
    /// # Errors
    /// What the work ends with; a problem when no hand comes free, or the work panics.
    pub async fn work<T: Send + 'static>(
        &self,
        work: impl FnOnce() -> Result<T, Problem> + Send + 'static,
    ) -> Result<T, Problem> {
        self.by(&self.hands, work).await
    }

    /// Does a search that the client waits for, so that those who only read or draw find a hand free beside it; no more
    /// of them at one time than plans are made.
    ///
    /// # Errors
    /// As [`App::work`].
    pub async fn search<T: Send + 'static>(
        &self,
        search: impl FnOnce() -> Result<T, Problem> + Send + 'static,
    ) -> Result<T, Problem> {
        self.by(&self.searchers, search).await
    }

    async fn by<T: Send + 'static>(
        &self,
        hands: &Arc<Semaphore>,
        work: impl FnOnce() -> Result<T, Problem> + Send + 'static,
    ) -> Result<T, Problem> {
        let hand = tokio::time::timeout(PATIENCE, Arc::clone(hands).acquire_owned()).await;
        let hand = match hand {
            Ok(Ok(hand)) => hand,
            Ok(Err(_)) | Err(_) => return Err(Problem::busy(10, "no hand came free in time")),
        };
        let span = tracing::Span::current();
        let done = web::block(move || {
            let _held = hand;
            span.in_scope(work)
        });
        done.await.map_err(|error| {
            self.metrics.panics.inc();
            Problem::fault(&error)
        })?
    }

    /// A plan of a space as it is kept.
    ///
    /// # Errors
    /// A problem when the store cannot be read.
    pub async fn kept(&self, space: &Space, id: &str) -> Result<Option<Kept>, Problem> {
        let (store, space, id) = (Arc::clone(&self.store), space.clone(), id.to_owned());
        let found = web::block(move || store.get(&space, &id)).await.map_err(|error| Problem::fault(&error))?;
        found.map_err(|error| Problem::fault(&error))
    }
}
