//! The search for the best plan over all that is decided before a job is milled.
//!
//! Mills and solves one choice of layers, staves and matches after another, compares the answers, and puts what is proven of
//! each together to one bound. Decides nothing itself about cuts; the plan is built by `make`.

use std::sync::atomic::AtomicBool;
use std::time::{Duration, Instant};

use super::choices::{Choice, choices, free_of};
use super::make::Options;
use crate::job::Job;
use crate::milling::{self, Milled};
use crate::nesting::{self, Limits, Outcome, Progress, Why};
use crate::pile::Pile;

/// A search: what for, how long, and who is told.
pub(super) struct Search<'a> {
    pub job: &'a Job,
    pub pile: &'a Pile,
    pub options: &'a Options,
    pub cancel: &'a AtomicBool,
    pub progress: &'a (dyn Fn(&Progress) + Sync),
}

/// Time and work for a part of the search.
#[derive(Clone, Copy)]
struct Share {
    start: Instant,
    deadline: Option<Instant>,
    work: Option<u64>,
}

impl Share {
    /// The first `part` of `parts` of it.
    fn first(self, part: u32, parts: u32) -> Share {
        let left_over = |whole: Duration| whole / parts * (parts - part);
        Share {
            deadline: self.deadline.map(|end| end - left_over(end - self.start)),
            work: self.work.map(|work| work - work / u64::from(parts) * u64::from(parts - part)),
            ..self
        }
    }
}

/// The best answer found, and the choice it is one of.
pub(super) struct Answer {
    pub milled: Milled,
    pub outcome: Outcome,
    pub choice: Choice,
}

impl Search<'_> {
    /// Searches from `start` on for as long as the options say.
    pub fn run(&self, start: Instant) -> Answer {
        let Options { seconds, work, .. } = *self.options;
        let deadline = seconds.map(|s| start + Duration::from_secs_f64(s.clamp(0.0, 1e9)));
        let whole = Share { start, deadline, work };
        let choices = choices(self.job, self.pile);
        let matched = self.job.parts.iter().any(|part| part.matching.is_some());
        // Bounds of several choices of layers and staves would each need a run of their own.
        let bounded_free = matched && choices.iter().all(|choice| choice.members == choices[0].members);
        if !bounded_free {
            return self.best_of(&choices, whole);
        }
        let mut answer = self.best_of(&choices, whole.first(2, 3));
        if !matches!(answer.outcome.why, Why::Proven | Why::Gap | Why::Cancelled) {
            let copies = finished(self.job, &answer.milled, &answer.outcome);
            let bound = self.bound_without_matches(
                &answer.choice.members,
                &copies,
                Share { work: work.map(|w| w / 3), ..whole },
            );
            let Answer { outcome, choice, .. } = &mut answer;
            outcome.bound = outcome.bound.max(bound);
            if nesting::is_proven(outcome.cost.saturating_add(choice.worth(self.job)), outcome.bound) {
                outcome.why = Why::Proven;
            }
        }
        answer
    }

    fn limits<'l>(&'l self, share: Share, progress: &'l (dyn Fn(&Progress) + Sync)) -> Limits<'l> {
        let Options { gap, seed, threads, .. } = *self.options;
        Limits { deadline: share.deadline, work: share.work, gap, seed, threads, cancel: self.cancel, progress }
    }

    fn solved(&self, milled: &Milled, share: Share) -> Outcome {
        nesting::solve(&milled.problem, &self.limits(share, self.progress))
    }

    /// Plans every choice for a share of the time, then the best one for the rest. The bound is the least of all choices', so it
    /// holds whatever is chosen.
    fn best_of(&self, choices: &[Choice], share: Share) -> Answer {
        let (job, pile) = (self.job, self.pile);
        if let [only] = choices {
            let milled = milling::mill(job, pile, &only.members);
            let outcome = self.solved(&milled, share);
            return Answer { milled, outcome, choice: only.clone() };
        }
        let parts = 2 * choices.len() as u32;
        let each = share.work.map(|work| work / u64::from(parts));
        let mut best: Option<(Milled, Outcome, usize)> = None;
        let mut floors = Vec::new();
        for (k, choice) in choices.iter().enumerate() {
            let milled = milling::mill(&choice.of(job), pile, &choice.members);
            let deadline = share.deadline.map(|end| share.start + (end - share.start) / parts * (k as u32 + 1));
            let outcome = self.solved(&milled, Share { deadline, work: each, ..share });
            floors.push(Floor::of(job, &milled, &outcome));
            let worth = choice.worth(job);
            let beaten = |(m, o, c): &(Milled, Outcome, usize)| {
                better(job, (&milled, &outcome, worth), (m, o, choices[*c].worth(job)))
            };
            if best.as_ref().is_none_or(beaten) {
                best = Some((milled, outcome, k));
            }
        }
        let (milled, first, chosen) = best.expect("there is at least one choice");
        let again = self.solved(&milled, Share { work: share.work.map(|work| work / 2), ..share });
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
        outcome.why = match (outcome.why, share.deadline) {
            (Why::Proven, _) if nesting::is_proven(cost, outcome.bound) => Why::Proven,
            (Why::Gap, _) if apart as f64 <= self.options.gap * cost as f64 => Why::Gap,
            (Why::Proven | Why::Gap, Some(_)) => Why::Time,
            (Why::Proven | Why::Gap, None) => Why::Work,
            (why, _) => why,
        };
        Answer { milled, outcome, choice: choices[chosen].clone() }
    }

    /// A bound of making at least `copies` of each part when nothing is matched. It holds with matches too, and is often the
    /// better one: prices that lead to layouts with the matches kept say little of those without.
    fn bound_without_matches(&self, members: &[u32], copies: &[u32], share: Share) -> i64 {
        let milled = milling::mill(&free_of(self.job, |_| true), self.pile, members);
        let outcome = nesting::solve(&milled.problem, &self.limits(share, &|_| ()));
        Floor::of(self.job, &milled, &outcome).of_making(self.job, copies).unwrap_or(0)
    }
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
pub(super) fn finished(job: &Job, milled: &Milled, outcome: &Outcome) -> Vec<u32> {
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
