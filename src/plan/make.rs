//! The whole road: from a job and a pile to a checked plan.
//!
//! Has `search` find the best answer, has it built, and lets `check` judge the result before anyone sees it. Holds no rule of
//! the trade and no search of its own.

use std::sync::atomic::AtomicBool;
use std::time::Instant;

use super::search::{Answer, Search, finished};
use crate::job::Job;
use crate::measure::Money;
use crate::milling::{self, StockRef};
use crate::nesting::Progress;
use crate::pile::Pile;
use crate::pile::value::billing;
use crate::plan::check::{Violation, broken_matches, check};
use crate::plan::{BuildError, Case, Facts, Run, ShopPlan, build};

/// How long to look, how good is good enough, and what every random choice follows from.
#[derive(Clone, Debug, PartialEq)]
pub struct Options {
    /// Stop after so many seconds.
    pub seconds: Option<f64>,
    /// Stop after so much work (layouts computed): the same plan on every machine.
    pub work: Option<u64>,
    /// Stop when (cost - bound) / cost is at most this.
    pub gap: f64,
    pub seed: u64,
    /// Threads; 0 = one a core. The plan does not depend on it.
    pub threads: usize,
}

impl Default for Options {
    /// Ten seconds, until proven, seed 1, all cores.
    fn default() -> Options {
        Options { seconds: Some(10.0), work: None, gap: 0.0, seed: 1, threads: 0 }
    }
}

/// Why no plan was made: a fault of the program, whatever the job and the pile are.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum MakeError {
    /// The optimiser contradicted itself.
    #[error("the answer contradicts itself: {0}")]
    Contradiction(#[from] BuildError),
    /// The checker refused the plan.
    #[error("the plan broke a rule of its own and was thrown away: {}", .0.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))]
    Unlawful(Vec<Violation>),
}

/// Plans a job from a pile.
///
/// `cancel` ends the search at once with the best plan so far; `progress` hears of every better plan or bound.
///
/// # Errors
/// [`MakeError::Contradiction`] and [`MakeError::Unlawful`], faults of the program: an answer that is not lawful is not given.
pub fn make(
    job: &Job,
    pile: &Pile,
    options: &Options,
    cancel: &AtomicBool,
    progress: &(dyn Fn(&Progress) + Sync),
) -> Result<ShopPlan, MakeError> {
    let start = Instant::now();
    let Answer { milled, outcome, choice } = Search { job, pile, options, cancel, progress }.run(start);
    let outcome = milled.opened(&outcome);
    let threads = if options.threads == 0 {
        std::thread::available_parallelism().map_or(1, usize::from)
    } else {
        options.threads
    };
    let billed = billing(pile);
    let cost = |source: StockRef, copy: u32| -> Money {
        match source {
            StockRef::Board(b) => billed[b].copy(copy - 1).cost.clone(),
            StockRef::Sheet(s) => pile.sheets[s].cost.clone(),
            StockRef::Stick(s) => pile.sticks[s].cost.clone(),
        }
    };
    let made = finished(job, &milled, &outcome);
    let explain = |p: usize| {
        let reason = milling::explain::explain(&choice.of(job), pile, p, choice.members[p], job.parts[p].qty - made[p]);
        (reason.why, reason.buy)
    };
    let case = Case { job, pile, milled: &milled, outcome: &outcome };
    let run = Run { seconds: start.elapsed().as_secs_f64(), threads };
    let mut facts =
        Facts { cost: &cost, copy: None, broken: Money::zero(), explain: &explain, seed: options.seed, run };
    let mut plan = build(&case, &facts)?;
    if !choice.broken.is_empty() {
        // What may be broken need not be: only the plan tells what it costs.
        facts.broken = broken_matches(job, pile, &plan);
        plan = build(&case, &facts)?;
    }
    let violations = check(job, pile, &plan);
    if violations.is_empty() { Ok(plan) } else { Err(MakeError::Unlawful(violations)) }
}
