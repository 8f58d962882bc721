//! Plans in the making: a bounded queue, a set number of threads that solve, and those who wait for the answer.
//!
//! Solves run on threads of their own and never on those that serve requests. A plan is in the store from the moment it
//! is asked for; here is only what is alive. A plan that nobody was promised, and for which nobody waits any more, is
//! cancelled and forgotten. Invariant: what is in `live` is not ended in the store, and ends there before it leaves.

use std::collections::{HashMap, VecDeque};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use tokio::sync::watch;

use super::metrics::Metrics;
use super::problem::{Kind, Problem};
use super::request::Planning;
use super::settings::Limits;
use super::state::{Best, State};
use super::store::{Ended, Kept, Key, Store, StoreError, now};
use super::tokens::Space;
use crate::job::Job;
use crate::nesting::Progress;
use crate::pile::Pile;
use crate::plan::{self, MakeError, Options, ShopPlan, Stop};

/// What makes plans: `plan::make`, or something else under test.
pub type Planner = dyn Fn(&Job, &Pile, &Options, &AtomicBool, &(dyn Fn(&Progress) + Sync)) -> Result<ShopPlan, MakeError>
    + Send
    + Sync;

/// Room for the deepest recursion of a solve, as a program's first thread has it.
const STACK: usize = 8 << 20;
/// How long a cancelled solve is given to notice.
const NOTICE: Duration = Duration::from_secs(5);

/// How far the service is on its way out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Stage {
    Open,
    /// Nothing new is begun.
    Closing,
    /// Nothing goes on.
    Closed,
}

/// What is told of a plan while it is made.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Told {
    pub state: State,
    pub best: Option<Best>,
}

/// A plan in the making.
pub struct Solve {
    pub id: String,
    pub space: Space,
    /// When it was asked for, milliseconds since 1970.
    pub created: u64,
    /// The request that asked for it, for the log.
    request: String,
    order: Mutex<Option<Planning>>,
    cancel: AtomicBool,
    told: watch::Sender<Told>,
    audience: Mutex<Audience>,
}

/// Who wants the plan.
#[derive(Default)]
struct Audience {
    waiting: usize,
    /// Somebody was told where to find it.
    promised: bool,
    /// Nobody wants it any more.
    forsaken: bool,
}

/// What became of asking for a plan.
pub enum Asked {
    /// It is in the making, and the one who asked waits for it.
    Live(Attending),
    /// It was made before, under the same key.
    Kept(String),
}

/// All plans in the making.
pub struct Solves {
    store: Arc<Store>,
    metrics: Arc<Metrics>,
    limits: Limits,
    planner: Box<Planner>,
    /// Held while a plan is asked for, so that a key is used once.
    door: Mutex<()>,
    desk: Mutex<Desk>,
    called: Condvar,
    stage: watch::Sender<Stage>,
}

struct Desk {
    queue: VecDeque<Arc<Solve>>,
    live: HashMap<String, Arc<Solve>>,
    working: usize,
    /// Seconds a solve takes, a running mean.
    pace: f64,
}

impl Solves {
    /// Takes up what was left over in the store. Nothing is begun before [`Solves::start`].
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn new(
        store: Arc<Store>,
        metrics: Arc<Metrics>,
        limits: Limits,
        planner: Box<Planner>,
    ) -> Result<Arc<Solves>, StoreError> {
        let gave_up = Problem::new(Kind::Fault, "the service went down each time this plan was begun").to_json();
        let mut desk = Desk { queue: VecDeque::new(), live: HashMap::new(), working: 0, pace: 1.0 };
        for kept in store.left_over(&gave_up)? {
            match Planning::again(kept.files, kept.search) {
                Ok(order) => {
                    let request = "a start of the service".to_owned();
                    let solve = Arc::new(Solve::new(kept.id, kept.space, kept.created, request, order));
                    solve.audience().promised = true;
                    desk.live.insert(solve.id.clone(), Arc::clone(&solve));
                    desk.queue.push_back(solve);
                }
                Err(problem) => {
                    let ended =
                        Ended { state: State::Failed, best: None, plan: None, problem: Some(problem.to_json()) };
                    store.end(&kept.id, &kept.space, &ended)?;
                }
            }
        }
        metrics.waiting.set(desk.queue.len() as i64);
        Ok(Arc::new(Solves {
            store,
            metrics,
            limits,
            planner,
            door: Mutex::new(()),
            desk: Mutex::new(desk),
            called: Condvar::new(),
            stage: watch::Sender::new(Stage::Open),
        }))
    }

    /// Starts the threads that solve.
    ///
    /// # Errors
    /// When the machine gives none.
    pub fn start(self: &Arc<Solves>) -> std::io::Result<Vec<JoinHandle<()>>> {
        (0..self.limits.solves)
            .map(|at| {
                let solves = Arc::clone(self);
                std::thread::Builder::new()
                    .name(format!("solve-{at}"))
                    .stack_size(STACK)
                    .spawn(move || while solves.make_next() {})
            })
            .collect()
    }

    /// How far the service is on its way out, and news of it.
    pub fn stage(&self) -> watch::Receiver<Stage> {
        self.stage.subscribe()
    }

    fn desk(&self) -> MutexGuard<'_, Desk> {
        self.desk.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Asks for a plan. With a key that was used before for the same request, this is that request's plan. Blocks.
    ///
    /// # Errors
    /// A problem when the key was used for another request, when the queue is full or the service is closing.
    pub fn ask(
        self: &Arc<Solves>,
        space: &Space,
        order: Planning,
        key: Option<&Key>,
        request: &str,
    ) -> Result<Asked, Problem> {
        let fault = |error: StoreError| Problem::fault(&error);
        let _door = self.door.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(key) = key
            && let Some((id, digest)) = self.store.by_key(space, &key.text).map_err(fault)?
        {
            let live = self.desk().live.get(&id).cloned();
            if live.as_ref().is_some_and(|solve| solve.audience().forsaken) {
                self.store.forget(&id).map_err(fault)?;
            } else if digest != key.digest {
                let detail = "send the first request again, or this one under a key of its own";
                return Err(Problem::new(Kind::KeyUsed, detail));
            } else {
                return Ok(live.map_or(Asked::Kept(id), |solve| Asked::Live(self.attend(solve))));
            }
        }
        self.admit()?;
        let id = unguessable().map_err(|error| Problem::fault(&error))?;
        let (files, search) = (order.files.clone(), order.search.clone());
        let solve = Arc::new(Solve::new(id.clone(), space.clone(), now(), request.to_owned(), order));
        let kept = Kept {
            id,
            space: space.clone(),
            created: solve.created,
            ended: None,
            state: State::Waiting,
            files,
            search,
            best: None,
            plan: None,
            problem: None,
        };
        self.store.insert(&kept, key).map_err(fault)?;
        let mut desk = self.desk();
        desk.live.insert(solve.id.clone(), Arc::clone(&solve));
        desk.queue.push_back(Arc::clone(&solve));
        self.metrics.waiting.set(desk.queue.len() as i64);
        self.called.notify_one();
        drop(desk);
        Ok(Asked::Live(self.attend(solve)))
    }

    fn attend(self: &Arc<Solves>, solve: Arc<Solve>) -> Attending {
        solve.audience().waiting += 1;
        Attending { solves: Arc::clone(self), solve }
    }

    fn admit(&self) -> Result<(), Problem> {
        if *self.stage.borrow() != Stage::Open {
            return Err(Problem::new(Kind::Closing, "nothing new is begun"));
        }
        let desk = self.desk();
        if desk.queue.len() + desk.working < self.limits.solves + self.limits.queue {
            return Ok(());
        }
        let seconds = desk.pace * (desk.queue.len() + 1) as f64 / self.limits.solves as f64;
        Err(Problem::busy(seconds.ceil().clamp(1.0, 600.0) as u64, "as many plans wait for their turn as may"))
    }

    /// A plan in the making, if it is this space's.
    pub fn live(&self, space: &Space, id: &str) -> Option<Arc<Solve>> {
        self.desk().live.get(id).filter(|solve| solve.space == *space && !solve.audience().forsaken).cloned()
    }

    /// Cancels a plan: one that waits ends at once, one being made soon, with its best plan so far. Blocks.
    ///
    /// # Errors
    /// A problem when the store cannot be written.
    pub fn cancel(&self, solve: &Arc<Solve>) -> Result<(), Problem> {
        solve.cancel.store(true, Ordering::Relaxed);
        if self.unqueue(solve) {
            let ended = Ended { state: State::Stopped, best: None, plan: None, problem: None };
            self.end(solve, &ended).map_err(|error| Problem::fault(&error))?;
        }
        Ok(())
    }

    /// Takes a plan out of the queue; false when it is not there.
    fn unqueue(&self, solve: &Arc<Solve>) -> bool {
        let mut desk = self.desk();
        let before = desk.queue.len();
        desk.queue.retain(|other| other.id != solve.id);
        self.metrics.waiting.set(desk.queue.len() as i64);
        desk.queue.len() < before
    }

    fn end(&self, solve: &Arc<Solve>, ended: &Ended) -> Result<(), StoreError> {
        let result = if solve.audience().forsaken {
            self.store.forget(&solve.id)
        } else {
            self.store.end(&solve.id, &solve.space, ended)
        };
        self.desk().live.remove(&solve.id);
        solve.told.send_replace(Told { state: ended.state, best: ended.best });
        result
    }

    /// Makes the next plan; false when the service is closing.
    fn make_next(&self) -> bool {
        let mut desk = self.desk();
        let solve = loop {
            if *self.stage.borrow() != Stage::Open {
                return false;
            }
            if let Some(solve) = desk.queue.pop_front() {
                break solve;
            }
            desk = self.called.wait(desk).unwrap_or_else(PoisonError::into_inner);
        };
        desk.working += 1;
        self.metrics.waiting.set(desk.queue.len() as i64);
        self.metrics.working.set(desk.working as i64);
        drop(desk);

        let span = tracing::info_span!("solve", plan = %solve.id, request = %solve.request);
        let started = Instant::now();
        if let Err(error) = span.in_scope(|| self.make(&solve, started)) {
            // It stands in the store as begun, and is begun again when the service starts.
            tracing::error!(parent: &span, cause = %error, "the plan could not be kept");
            self.desk().live.remove(&solve.id);
            solve.told.send_modify(|told| told.state = State::Failed);
        }

        let mut desk = self.desk();
        desk.working -= 1;
        desk.pace = 0.8 * desk.pace + 0.2 * started.elapsed().as_secs_f64();
        self.metrics.working.set(desk.working as i64);
        true
    }

    fn make(&self, solve: &Arc<Solve>, started: Instant) -> Result<(), StoreError> {
        let order = solve.order.lock().unwrap_or_else(PoisonError::into_inner).take();
        let Some(order) = order else { return Ok(()) };
        self.store.begin(&solve.id)?;
        solve.told.send_modify(|told| told.state = State::Working);
        let cores = std::thread::available_parallelism().map_or(1, usize::from);
        let options = order.search.options(&self.limits, (cores / self.limits.solves).max(1));
        let first = AtomicBool::new(true);
        let progress = |progress: &Progress| {
            if first.swap(false, Ordering::Relaxed) {
                self.metrics.first_plan(started.elapsed());
            }
            solve.told.send_modify(|told| told.best = Some(Best::of(progress)));
        };
        let made = catch_unwind(AssertUnwindSafe(|| {
            (self.planner)(&order.job, &order.pile, &options, &solve.cancel, &progress)
        }));
        let ended = match made {
            Ok(Ok(plan)) if plan.stop == Stop::Cancelled && *self.stage.borrow() == Stage::Closed => {
                tracing::info!("put back until the service starts again");
                self.store.put_back(&solve.id)?;
                return Ok(());
            }
            Ok(made) => ended(made),
            Err(_) => {
                self.metrics.panics.inc();
                failed(&Problem::fault(&"a solve panicked"))
            }
        };
        let (took, gap) = (started.elapsed(), ended.best.filter(|_| ended.plan.is_some()).map(|best| best.gap));
        self.metrics.solved(ended.state.word(), took, gap);
        tracing::info!(state = ended.state.word(), seconds = took.as_secs_f64(), gap, "a plan ended");
        self.end(solve, &ended)
    }

    /// Begins nothing new, gives what goes on `grace` to end, then stops it and puts it back. Blocks.
    pub fn close(&self, grace: Duration) {
        self.stage.send_replace(Stage::Closing);
        // Whoever waits for work holds the desk until it waits, and so hears this call.
        drop(self.desk());
        self.called.notify_all();
        self.wait_until_idle(grace);
        self.stage.send_replace(Stage::Closed);
        let live: Vec<Arc<Solve>> = self.desk().live.values().cloned().collect();
        for solve in live {
            solve.cancel.store(true, Ordering::Relaxed);
        }
        if !self.wait_until_idle(NOTICE) {
            tracing::warn!("a solve did not stop in time; it is begun again when the service starts");
        }
    }

    fn wait_until_idle(&self, longest: Duration) -> bool {
        let started = Instant::now();
        while self.desk().working > 0 {
            if started.elapsed() >= longest {
                return false;
            }
            std::thread::sleep(Duration::from_millis(10));
        }
        true
    }

    /// Nobody waits any more for a plan that nobody was promised.
    fn forsake(self: &Arc<Solves>, solve: &Arc<Solve>) {
        solve.cancel.store(true, Ordering::Relaxed);
        tracing::info!(plan = %solve.id, "the client hung up; the plan is dropped");
        if self.unqueue(solve) {
            let (solves, solve) = (Arc::clone(self), Arc::clone(solve));
            let end = move || {
                let ended = Ended { state: State::Stopped, best: None, plan: None, problem: None };
                if let Err(error) = solves.end(&solve, &ended) {
                    tracing::error!(cause = %error, "a dropped plan could not be forgotten");
                }
            };
            // The store blocks, so not on a thread that serves.
            match tokio::runtime::Handle::try_current() {
                Ok(runtime) => drop(runtime.spawn_blocking(end)),
                Err(_) => end(),
            }
        }
    }
}

impl Solve {
    fn new(id: String, space: Space, created: u64, request: String, order: Planning) -> Solve {
        Solve {
            id,
            space,
            created,
            request,
            order: Mutex::new(Some(order)),
            cancel: AtomicBool::new(false),
            told: watch::Sender::new(Told { state: State::Waiting, best: None }),
            audience: Mutex::default(),
        }
    }

    fn audience(&self) -> MutexGuard<'_, Audience> {
        self.audience.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Somebody was told where to find the plan: it is made whether or not anyone waits.
    pub fn promise(&self) {
        self.audience().promised = true;
    }

    /// What is known now, and news of it.
    pub fn told(&self) -> watch::Receiver<Told> {
        self.told.subscribe()
    }
}

/// One who waits for a plan, until dropped.
pub struct Attending {
    solves: Arc<Solves>,
    pub solve: Arc<Solve>,
}

impl Attending {
    /// Waits for the plan to end. None when it is not ended after `patience`, or will not end before the service does;
    /// it is then made whether or not anyone waits.
    pub async fn wait(self, patience: Duration) -> Option<Told> {
        let (mut told, mut stage) = (self.solve.told.subscribe(), self.solves.stage());
        let ended = async {
            loop {
                let now = *told.borrow_and_update();
                if now.state.is_final() {
                    return Some(now);
                }
                let stage_now = *stage.borrow_and_update();
                if stage_now == Stage::Closed || (stage_now == Stage::Closing && now.state == State::Waiting) {
                    return None;
                }
                tokio::select! {
                    changed = told.changed() => changed.ok()?,
                    changed = stage.changed() => changed.ok()?,
                }
            }
        };
        let ended = tokio::time::timeout(patience, ended).await.ok().flatten();
        if ended.is_none() {
            self.solve.promise();
        }
        ended
    }
}

impl Drop for Attending {
    fn drop(&mut self) {
        let mut audience = self.solve.audience();
        audience.waiting -= 1;
        let ended = self.solve.told.borrow().state.is_final();
        if audience.waiting == 0 && !audience.promised && !ended {
            audience.forsaken = true;
            drop(audience);
            self.solves.forsake(&self.solve);
        }
    }
}

fn ended(made: Result<ShopPlan, MakeError>) -> Ended {
    match made {
        Ok(plan) => {
            let state = if plan.stop == Stop::Cancelled { State::Stopped } else { State::Done };
            // A search stopped before it placed anything has no plan to keep.
            let empty = state == State::Stopped && plan.pieces_placed == 0;
            let best = (!empty).then(|| Best::at_end(&plan));
            Ended { state, best, plan: (!empty).then(|| plan::file::write_json(&plan)), problem: None }
        }
        Err(error) => failed(&Problem::fault(&error)),
    }
}

fn failed(problem: &Problem) -> Ended {
    Ended { state: State::Failed, best: None, plan: None, problem: Some(problem.to_json()) }
}

/// 128 bits of the system's randomness, in hexadecimal.
pub fn unguessable() -> Result<String, getrandom::Error> {
    let mut bytes = [0; 16];
    getrandom::fill(&mut bytes)?;
    Ok(bytes.iter().map(|byte| format!("{byte:02x}")).collect())
}
