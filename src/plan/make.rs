//! The whole road: from a job and a pile to a checked plan.
//!
//! Chooses the layers of laminations, the number of equal staves, and which wished matches are broken, calls `milling`, `nesting` and `build`, and lets `check` judge the result before
//! anyone sees it. Holds no rule of the trade and no search of its own.

use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::atomic::AtomicBool;
use std::time::{Duration, Instant};

use crate::job::{Job, MatchRule, MatchScope, Part, Wanted};
use crate::measure::Money;
use crate::milling::StockRef;
use crate::milling::{self, Milled, blank};
use crate::nesting::{self, Limits, Outcome, Progress, Why};
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

/// Most combinations of layer and stave counts and of matches broken that are planned; beyond, layers and staves are taken as
/// few as the stock allows, and matches kept.
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
    let choices = choices(job, pile);
    let matched = job.parts.iter().any(|part| part.matching.is_some());
    // Bounds of several choices of layers and staves would each need a run of their own.
    let bounded_free = matched && choices.iter().all(|choice| choice.members == choices[0].members);
    let shares = if bounded_free { 3 } else { 1 };
    let until = deadline.map(|end| end - (end - start) / shares * (shares - 1) / 2);
    let first = Options {
        work: options.work.map(|work| work - work / u64::from(shares) * u64::from(shares - 1) / 2),
        ..options.clone()
    };
    let solved = solve_all(job, pile, &choices, &first, start, until, cancel, progress);
    let (milled, mut outcome, choice) = solved;
    if bounded_free && !matches!(outcome.why, Why::Proven | Why::Gap | Why::Cancelled) {
        let rest = options.work.map(|work| work / 3);
        let cost = outcome.cost.saturating_add(choice.worth(job));
        let limits = Limits {
            deadline,
            work: rest,
            gap: options.gap,
            seed: options.seed,
            threads: options.threads,
            cancel,
            progress: &|_| (),
        };
        let bound = bound_without_matches(job, pile, &choice.members, &finished(job, &milled, &outcome), &limits);
        outcome.bound = outcome.bound.max(bound);
        if nesting::is_proven(cost, outcome.bound) {
            outcome.why = Why::Proven;
        }
    }
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

/// A bound of making at least `copies` of each part when nothing is matched. It holds with matches too, and is often the
/// better one: prices that lead to layouts with the matches kept say little of those without.
fn bound_without_matches(job: &Job, pile: &Pile, members: &[u32], copies: &[u32], limits: &Limits) -> i64 {
    let mut free = job.clone();
    free.parts.iter_mut().for_each(|part| part.matching = None);
    let milled = milling::mill(&free, pile, members);
    let outcome = nesting::solve(&milled.problem, limits);
    Floor::of(job, &milled, &outcome).of_making(job, copies).unwrap_or(0)
}

/// Runs and neighbours are planned on boards alone.
pub(crate) fn served(job: &Job) -> Result<(), MakeError> {
    for part in &job.parts {
        let rule = part.matching.as_ref().map(|matching| matching.rule);
        if matches!(part.stock, Wanted::Material(_)) && matches!(rule, Some(MatchRule::Run | MatchRule::Side)) {
            return Err(MakeError::NotServed {
                part: part.id.clone(),
                what: "a match `run` or `side` from a sheet or a stick",
                cure: "match it by `board` (one sheet or stick), or plan the matched pieces as one part and part it later",
            });
        }
    }
    Ok(())
}

/// What is decided before a job is milled.
#[derive(Clone, Debug, Default)]
struct Choice {
    /// By part: pieces a copy is built up from; see [`milling::mill`].
    members: Vec<u32>,
    /// Groups with a worth whose match need not be kept.
    broken: Vec<String>,
}

impl Choice {
    /// The job as it is planned: without the matches that need not be kept.
    fn of<'j>(&self, job: &'j Job) -> Cow<'j, Job> {
        if self.broken.is_empty() {
            return Cow::Borrowed(job);
        }
        let mut freed = job.clone();
        for part in &mut freed.parts {
            if part.matching.as_ref().is_some_and(|matching| self.broken.contains(&matching.group)) {
                part.matching = None;
            }
        }
        Cow::Owned(freed)
    }

    /// What breaking each of its matches somewhere costs at least, micro-units.
    fn least_worth(&self, job: &Job) -> i64 {
        let worth_of = |group: &String| {
            let matches = job.parts.iter().filter_map(|part| part.matching.as_ref());
            let of_group = matches.filter(|matching| matching.group == *group).find_map(|m| m.worth.as_ref());
            of_group.map_or(0, Money::micros_floor)
        };
        self.broken.iter().map(worth_of).fold(0, i64::saturating_add)
    }

    /// What breaking all its matches costs, micro-units.
    fn worth(&self, job: &Job) -> i64 {
        let mut whole_groups = BTreeSet::new();
        let of_part = |part: &Part| -> i64 {
            let Some(matching) = &part.matching else { return 0 };
            let Some(worth) = matching.worth.as_ref().filter(|_| self.broken.contains(&matching.group)) else {
                return 0;
            };
            let times = match matching.scope {
                MatchScope::Copy => i64::from(part.qty),
                MatchScope::Group => i64::from(whole_groups.insert(matching.group.clone())),
            };
            worth.micros_ceil().saturating_mul(times)
        };
        job.parts.iter().map(of_part).fold(0, i64::saturating_add)
    }
}

/// Every combination worth planning: of how many pieces the copies of each part are built up from (layers of a lamination,
/// staves of a panel of equal staves), and of the matches with a worth that are not kept. Never empty.
fn choices(job: &Job, pile: &Pile) -> Vec<Choice> {
    let mut choices = vec![Choice::default()];
    let mut widen = true;
    for part in &job.parts {
        let counts = members_of(job, pile, part);
        widen = widen && choices.len() * counts.len() <= MOST_CHOICES;
        let taken = if widen { &counts[..] } else { &counts[..1] };
        let with = |choice: &Choice, n: u32| {
            let members = choice.members.iter().copied().chain([n]).collect();
            Choice { members, broken: Vec::new() }
        };
        choices =
            choices.iter().flat_map(|choice| taken.iter().map(|&n| with(choice, n)).collect::<Vec<_>>()).collect();
    }
    let matches = job.parts.iter().filter_map(|part| part.matching.as_ref());
    let wished: BTreeMap<&str, ()> =
        matches.filter(|matching| matching.worth.is_some()).map(|matching| (matching.group.as_str(), ())).collect();
    for &group in wished.keys() {
        // Bounds do not count on matches, so that of keeping one holds for breaking it too.
        if choices.len() * 2 > MOST_CHOICES {
            break;
        }
        let without = choices.clone().into_iter().map(|mut choice| {
            choice.broken.push(group.to_owned());
            choice
        });
        choices = choices.iter().cloned().chain(without).collect();
    }
    choices
}

/// The combinations of layers and staves worth planning with every match kept; see [`milling::mill`]. Never empty.
pub(crate) fn member_choices(job: &Job, pile: &Pile) -> Vec<Vec<u32>> {
    let kept = choices(job, pile).into_iter().filter(|choice| choice.broken.is_empty());
    kept.map(|choice| choice.members).collect()
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

/// Plans every choice for a share of the time, then the best one for the rest. The bound is the least of all choices', so it
/// holds whatever is chosen.
#[allow(clippy::too_many_arguments)]
fn solve_all(
    job: &Job,
    pile: &Pile,
    choices: &[Choice],
    options: &Options,
    start: Instant,
    deadline: Option<Instant>,
    cancel: &AtomicBool,
    progress: &(dyn Fn(&Progress) + Sync),
) -> (Milled, Outcome, Choice) {
    let limits = |deadline, work| Limits {
        deadline,
        work,
        gap: options.gap,
        seed: options.seed,
        threads: options.threads,
        cancel,
        progress,
    };
    if let [only] = choices {
        let milled = milling::mill(job, pile, &only.members);
        let outcome = nesting::solve(&milled.problem, &limits(deadline, options.work));
        return (milled, outcome, only.clone());
    }
    let shares = 2 * choices.len() as u32;
    let mut best: Option<(Milled, Outcome, usize)> = None;
    let mut floors = Vec::new();
    for (k, choice) in choices.iter().enumerate() {
        let milled = milling::mill(&choice.of(job), pile, &choice.members);
        let until = deadline.map(|end| start + (end - start) / shares * (k as u32 + 1));
        let outcome = nesting::solve(&milled.problem, &limits(until, options.work.map(|w| w / u64::from(shares))));
        floors.push(Floor::of(job, &milled, &outcome));
        let worth = choice.worth(job);
        if best.as_ref().is_none_or(|(m, o, c)| better(job, (&milled, &outcome, worth), (m, o, choices[*c].worth(job))))
        {
            best = Some((milled, outcome, k));
        }
    }
    let (milled, first, chosen) = best.expect("there is at least one choice");
    let again = nesting::solve(&milled.problem, &limits(deadline, options.work.map(|w| w / 2)));
    let known = Floor::of(job, &milled, &again);
    let mut outcome = if better(job, (&milled, &again, 0), (&milled, &first, 0)) { again } else { first };
    let made = finished(job, &milled, &outcome);
    // A plan that breaks just the matches of a choice costs their worth beside its stock.
    let of_choice = |(k, floor): (usize, &Floor)| {
        let stock = floor.of_making(job, &made);
        let stock = if k == chosen { stock.max(known.of_making(job, &made)) } else { stock };
        stock.map(|stock| stock.saturating_add(choices[k].least_worth(job)))
    };
    outcome.bound = floors.iter().enumerate().filter_map(of_choice).min().unwrap_or(0);
    let cost = outcome.cost.saturating_add(choices[chosen].worth(job));
    let apart = cost.saturating_sub(outcome.bound);
    // What ended with a proof for its own choice may have none over all of them.
    outcome.why = match (outcome.why, deadline) {
        (Why::Proven, _) if nesting::is_proven(cost, outcome.bound) => Why::Proven,
        (Why::Gap, _) if apart as f64 <= options.gap * cost as f64 => Why::Gap,
        (Why::Proven | Why::Gap, Some(_)) => Why::Time,
        (Why::Proven | Why::Gap, None) => Why::Work,
        (why, _) => why,
    };
    (milled, outcome, choices[chosen].clone())
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

/// True when the first answer makes more (by value, then copies) or as much for less; with each goes the worth of the matches that
/// it may break, micro-units.
fn better(job: &Job, one: (&Milled, &Outcome, i64), other: (&Milled, &Outcome, i64)) -> bool {
    let key = |(m, o, broken): (&Milled, &Outcome, i64)| {
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
        (worth, copies.iter().map(|&n| u64::from(n)).sum::<u64>(), -o.cost.saturating_add(broken))
    };
    key(one) > key(other)
}
