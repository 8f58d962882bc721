//! The whole road: from a job and a pile to a checked plan.
//!
//! Chooses the layers of laminations and the number of equal staves, calls `milling`, `nesting` and `build`, and lets `check` judge the result before
//! anyone sees it. Holds no rule of the trade and no search of its own.

use std::collections::BTreeSet;
use std::sync::atomic::AtomicBool;
use std::time::{Duration, Instant};

use crate::job::{Job, Part, Wanted};
use crate::measure::Money;
use crate::milling::StockRef;
use crate::milling::{self, Milled, blank};
use crate::nesting::{self, Limits, Outcome, Progress, Why};
use crate::pile::Pile;
use crate::pile::value::billing;
use crate::plan::check::{Violation, check};
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

/// Why no plan was made.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum MakeError {
    /// The job asks for something this version cannot plan.
    #[error("part `{part}` asks for {what}, which this version cannot plan yet; {cure}")]
    NotServed { part: String, what: &'static str, cure: &'static str },
    /// The optimiser contradicted itself: a fault of the program.
    #[error("the answer contradicts itself: {0}")]
    Contradiction(#[from] BuildError),
    /// The checker refused the plan: a fault of the program, never of the maker.
    #[error("the plan broke a rule of its own and was thrown away: {}", .0.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))]
    Unlawful(Vec<Violation>),
}

/// Most combinations of layer and stave counts that are planned; beyond, they are taken as few as the stock allows.
const MOST_CHOICES: usize = 16;

/// Plans a job from a pile.
///
/// `cancel` ends the search at once with the best plan so far; `progress` hears of every better plan or bound.
///
/// # Errors
/// [`MakeError::NotServed`] for parts that cannot be planned, [`MakeError::Unlawful`] when the checker finds a fault in
/// the answer, which is then not given.
pub fn make(
    job: &Job,
    pile: &Pile,
    options: &Options,
    cancel: &AtomicBool,
    progress: &(dyn Fn(&Progress) + Sync),
) -> Result<ShopPlan, MakeError> {
    served(job)?;
    let start = Instant::now();
    let deadline = options.seconds.map(|s| start + Duration::from_secs_f64(s.clamp(0.0, 1e9)));
    let choices = member_choices(job, pile);
    let solved = solve_all(job, pile, &choices, options, start, deadline, cancel, progress);
    let (milled, outcome, members) = solved;
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
        let reason = milling::explain::explain(job, pile, p, members[p], job.parts[p].qty - made[p]);
        (reason.why, reason.buy)
    };
    let facts = Facts {
        cost: &cost,
        copy: None,
        explain: &explain,
        seed: options.seed,
        run: Run { seconds: start.elapsed().as_secs_f64(), threads },
    };
    let plan = build(&Case { job, pile, milled: &milled, outcome: &outcome }, &facts)?;
    let violations = check(job, pile, &plan);
    if violations.is_empty() { Ok(plan) } else { Err(MakeError::Unlawful(violations)) }
}

/// Matches are part of the files, not yet of the planning.
pub(crate) fn served(job: &Job) -> Result<(), MakeError> {
    for part in &job.parts {
        if part.matching.is_some() {
            return Err(MakeError::NotServed {
                part: part.id.clone(),
                what: "a match",
                cure: "leave `match` out, or plan the matched parts as one part and part it later",
            });
        }
    }
    Ok(())
}

/// Every combination worth planning of how many pieces the copies of each part are built up from: layers of a lamination,
/// staves of a panel of equal staves; one entry a part, 1 for all others.
pub(crate) fn member_choices(job: &Job, pile: &Pile) -> Vec<Vec<u32>> {
    let per_part: Vec<Vec<u32>> = job.parts.iter().map(|part| members_of(job, pile, part)).collect();
    let mut choices: Vec<Vec<u32>> = vec![Vec::new()];
    let mut widen = true;
    for options in &per_part {
        widen = widen && choices.len() * options.len() <= MOST_CHOICES;
        let taken = if widen { &options[..] } else { &options[..1] };
        choices = choices
            .iter()
            .flat_map(|choice| {
                taken.iter().map(|&n| choice.iter().copied().chain(std::iter::once(n)).collect::<Vec<u32>>())
            })
            .collect();
    }
    choices
}

/// The numbers of layers, or of equal staves, that the pile could serve for a part, the fewest first; never empty.
fn members_of(job: &Job, pile: &Pile, part: &Part) -> Vec<u32> {
    let shop = &job.shop;
    let counts: Vec<u32> = match (&part.stock, &part.lamination, &part.panel) {
        (Wanted::Species(_), Some(lamination), _) => {
            lamination.layers.map_or_else(|| (1..=shop.glue.max_layers).collect(), |layers| vec![layers])
        }
        (Wanted::Species(_), None, Some(panel)) if panel.equal => blank::equal_counts(part, panel, shop),
        _ => vec![1],
    };
    let [first, _, ..] = counts[..] else { return if counts.is_empty() { vec![1] } else { counts } };
    let alone = |n: u32| {
        let single = Job { parts: vec![part.clone()], ..job.clone() };
        let milled = milling::mill(&single, pile, &[n]);
        let made: BTreeSet<usize> =
            milled.stock.iter().flat_map(|s| s.cuttings.iter().flat_map(|c| c.leaves.iter().copied())).collect();
        made.len() == milled.items.len()
    };
    let able: Vec<u32> = counts.into_iter().filter(|&n| alone(n)).collect();
    if able.is_empty() { vec![first] } else { able }
}

/// Plans every choice of layers and staves for a share of the time, then the best one for the rest. The bound is the least of all
/// choices', so it holds whatever is chosen.
#[allow(clippy::too_many_arguments)]
fn solve_all(
    job: &Job,
    pile: &Pile,
    choices: &[Vec<u32>],
    options: &Options,
    start: Instant,
    deadline: Option<Instant>,
    cancel: &AtomicBool,
    progress: &(dyn Fn(&Progress) + Sync),
) -> (Milled, Outcome, Vec<u32>) {
    let limits = |deadline, work| Limits {
        deadline,
        work,
        gap: options.gap,
        seed: options.seed,
        threads: options.threads,
        cancel,
        progress,
    };
    if let [layers] = choices {
        let milled = milling::mill(job, pile, layers);
        let outcome = nesting::solve(&milled.problem, &limits(deadline, options.work));
        return (milled, outcome, layers.clone());
    }
    let shares = 2 * choices.len() as u32;
    let mut best: Option<(Milled, Outcome, &Vec<u32>)> = None;
    let mut bounds = Vec::new();
    for (k, layers) in choices.iter().enumerate() {
        let milled = milling::mill(job, pile, layers);
        let until = deadline.map(|end| start + (end - start) / shares * (k as u32 + 1));
        let outcome = nesting::solve(&milled.problem, &limits(until, options.work.map(|w| w / u64::from(shares))));
        bounds.push(Floor::of(job, &milled, &outcome));
        if best.as_ref().is_none_or(|(m, o, _)| better(job, &milled, &outcome, m, o)) {
            best = Some((milled, outcome, layers));
        }
    }
    let (milled, first, layers) = best.expect("there is at least one choice");
    let again = nesting::solve(&milled.problem, &limits(deadline, options.work.map(|w| w / 2)));
    let mut outcome = if better(job, &milled, &again, &milled, &first) { again } else { first };
    let made = finished(job, &milled, &outcome);
    let others = bounds.iter().filter_map(|floor| floor.of_making(job, &made)).min().unwrap_or(i64::MAX);
    if others < outcome.bound {
        outcome.bound = others;
        // What ended with a proof for its own choice has none over all of them.
        outcome.why = match (outcome.why, deadline) {
            (Why::Proven | Why::Gap, Some(_)) => Why::Time,
            (Why::Proven | Why::Gap, None) => Why::Work,
            (why, _) => why,
        };
    }
    (milled, outcome, layers.clone())
}

/// What is proven of one choice of layers and staves.
struct Floor {
    /// Copies its plan makes, by part; the bound is for all that make at least as many.
    made: Vec<u32>,
    bound: i64,
    /// By part: it is proven that not all copies can be made.
    never_whole: Vec<bool>,
}

impl Floor {
    fn of(job: &Job, milled: &Milled, outcome: &Outcome) -> Floor {
        let mut never_whole = vec![false; job.parts.len()];
        for (item, milled_item) in milled.items.iter().enumerate() {
            let short = outcome.made[item] < milled.problem.items[item].demand;
            never_whole[milled_item.part] |= short && outcome.shortage_proven[item];
        }
        Floor { made: finished(job, milled, outcome), bound: outcome.bound, never_whole }
    }

    /// The least cost of making so many copies with this choice; `None` when that cannot be done at all.
    fn of_making(&self, job: &Job, copies: &[u32]) -> Option<i64> {
        let parts = || job.parts.iter().zip(copies);
        if parts().zip(&self.never_whole).any(|((part, &copies), &never)| never && copies == part.qty) {
            return None;
        }
        // Of a choice that made something which is not asked for here, nothing is known.
        let known = self.made.iter().zip(copies).all(|(made, copies)| made <= copies);
        Some(if known { self.bound } else { 0 })
    }
}

/// Finished copies by part of the job.
fn finished(job: &Job, milled: &Milled, outcome: &Outcome) -> Vec<u32> {
    milled.copies_made(&outcome.made, job.parts.len())
}

/// True when the first answer makes more (by value, then copies) or as much for less.
fn better(job: &Job, milled: &Milled, outcome: &Outcome, other_milled: &Milled, other: &Outcome) -> bool {
    let key = |m: &Milled, o: &Outcome| {
        let copies = finished(job, m, o);
        let worth: i128 = job
            .parts
            .iter()
            .zip(&copies)
            .map(|(part, &n)| {
                let level = 1000i128.pow(part.priority.clamp(0, 8) as u32);
                i128::from(milling::copy_value(part)) * i128::from(n) * level
            })
            .sum();
        (worth, copies.iter().map(|&n| u64::from(n)).sum::<u64>(), -o.cost)
    };
    key(milled, outcome) > key(other_milled, other)
}
