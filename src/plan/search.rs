//! The search for the best plan over all that is decided before a job is milled.
//!
//! Bounds all choices of layers and staves at once, mills and solves those that promise most, with matches kept and broken,
//! compares the answers, and puts what is proven of each together to one bound. Decides nothing itself about cuts; the plan is
//! built by `make`.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BinaryHeap};
use std::sync::OnceLock;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use super::choices::{Choice, broken, ways};
use super::make::Options;
use crate::job::{Job, Part};
use crate::milling::{self, InRows, Milled};
use crate::nesting::{self, Hint, Limits, Outcome, Progress, Why};
use crate::pile::Pile;

/// One part in so many of the time goes to bounds of all plans together, where a run of the optimiser alone would not give one.
const FLOORS: u32 = 3;
/// One part in so many goes to plans with equal staves first, where staves may have any width.
const EQUAL: u32 = 3;
/// A first plan of free staves, with their bound, takes up to so many times as long as the first one of equal staves took
/// the optimiser.
const FREE_TAKES: u32 = 16;
/// Most choices that are planned, and most of layers and staves among them.
const MOST_PLANNED: usize = 8;
const MOST_WAYS: usize = 4;

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

    /// What is left of it after so much work.
    fn less(self, work: u64) -> Share {
        Share { work: self.work.map(|most| most.saturating_sub(work)), ..self }
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
        if !self.job.parts.iter().any(has_free_staves) {
            return self.searched(whole, &self.all()).0;
        }
        // Equal staves are few pieces to choose from, so that a good plan of them is found long before one of free staves.
        let mut equal = self.job.clone();
        equal.parts.iter_mut().filter_map(|part| part.panel.as_mut()).for_each(|panel| panel.equal = true);
        let first_plan = OnceLock::new();
        let heard = |now: &Progress| {
            if now.made == now.asked {
                first_plan.get_or_init(|| Duration::from_secs_f64(now.seconds));
            }
            (self.progress)(&Progress { bound: 0, ..*now });
        };
        let with_equal = Search { job: &equal, progress: &heard, ..*self };
        let (of_equal, _) = with_equal.searched(whole.first(1, EQUAL), &self.all());
        let made = finished(self.job, &of_equal.milled, &of_equal.outcome);
        let begun = Instant::now();
        let rest = Share { start: begun, ..whole.less(work.unwrap_or(0) / u64::from(EQUAL)) };
        let too_short = |end: Instant, first: Duration| end.saturating_duration_since(begun) < first * FREE_TAKES;
        if deadline.zip(first_plan.get().copied()).is_none_or(|(end, first)| !too_short(end, first)) {
            let (free, floors) = self.searched(rest, &made);
            return self.better_of(free, floors.as_ref(), of_equal);
        }
        // Free staves would not be planned in time: they are only bounded.
        let floors = Floors::of(self, &ways(self.job, self.pile), &made, rest.first(1, FLOORS));
        let (again, _) = with_equal.searched(Share { start: Instant::now(), ..rest }, &made);
        let best = if merit(self.job, &again) > merit(self.job, &of_equal) { again } else { of_equal };
        let made = finished(self.job, &best.milled, &best.outcome);
        let bound = floors.least(&made, None);
        let ended = best.outcome.why;
        self.bounded(best, bound, ended)
    }

    /// The better one of two plans of the job, the second made with equal staves; what is proven is that of the first, and of all
    /// plans.
    fn better_of(&self, free: Answer, floors: Option<&Floors>, equal: Answer) -> Answer {
        if merit(self.job, &equal) <= merit(self.job, &free) {
            return free;
        }
        let made = finished(self.job, &equal.milled, &equal.outcome);
        let proven = Proven::of(self.job, &free).of_making(self.job, &made).unwrap_or(0);
        let bound = proven.max(floors.map_or(0, |floors| floors.least(&made, None)));
        self.bounded(equal, bound, free.outcome.why)
    }

    /// A plan made with equal staves, with what is proven of free ones; `ended` is why their search did.
    fn bounded(&self, equal: Answer, bound: i64, ended: Why) -> Answer {
        let cost = equal.outcome.cost.saturating_add(equal.choice.worth(self.job));
        let why = match ended {
            Why::Cancelled => Why::Cancelled,
            _ if nesting::is_proven(cost, bound) => Why::Proven,
            Why::Time | Why::Proven | Why::Gap if self.options.work.is_none() => Why::Time,
            _ => Why::Work,
        };
        // That equal staves cannot make more says nothing of free ones.
        let shortage_proven = vec![false; equal.outcome.shortage_proven.len()];
        Answer { outcome: Outcome { bound, why, shortage_proven, ..equal.outcome }, ..equal }
    }

    /// Searches within `whole`, where so many `copies` will probably be made; returns what is proven of all plans as well, if
    /// that was asked.
    fn searched(&self, whole: Share, copies: &[u32]) -> (Answer, Option<Floors>) {
        let (ways, broken) = (ways(self.job, self.pile), broken(self.job));
        if ways.iter().all(|counts| counts.len() == 1) && broken.len() == 1 {
            return self.one_choice(ways.concat(), whole, copies);
        }
        let floors = Floors::of(self, &ways, copies, whole.first(1, FLOORS));
        self.best_of(&ways, &broken, floors, whole)
    }

    /// Copies asked for, by part.
    fn all(&self) -> Vec<u32> {
        self.job.parts.iter().map(|part| part.qty).collect()
    }

    fn limits<'l>(&'l self, share: Share, progress: &'l (dyn Fn(&Progress) + Sync)) -> Limits<'l> {
        let Options { gap, seed, threads, .. } = *self.options;
        Limits { deadline: share.deadline, work: share.work, gap, seed, threads, cancel: self.cancel, progress }
    }

    /// Solves what is milled of the choice `at`, with what is known of all plans.
    fn solved(&self, milled: &Milled, floors: &Floors, at: &[usize], share: Share) -> Outcome {
        let prices = floors.cuts.prices().map(|prices| floors.ways.prices_of(milled, prices, at));
        let hint = Hint { prices, bound: floors.least(&floors.all, Some(at)) };
        match milled.in_rows() {
            Some(rows) => self.solved_in_rows(milled, &rows, &hint, share),
            None => nesting::solve_knowing(&milled.problem, &self.limits(share, self.progress), &hint),
        }
    }

    /// Solves what is milled with the rows of sheets and sticks kept, and spends the rest on what plans cost at least, for
    /// which the pieces of a row are free.
    fn solved_in_rows(&self, milled: &Milled, rows: &InRows, hint: &Hint, share: Share) -> Outcome {
        let heard = |now: &Progress| (self.progress)(&Progress { bound: hint.bound, ..*now });
        let in_rows = Hint { prices: hint.prices.as_ref().map(|prices| rows.prices(prices)), ..*hint };
        let kept = nesting::solve_knowing(&rows.problem, &self.limits(share.first(2, 3), &heard), &in_rows);
        let mut outcome = rows.opened(&kept);
        if outcome.why == Why::Work && share.work.is_none() {
            outcome.why = Why::Time;
        }
        if outcome.why != Why::Cancelled {
            let free = nesting::solve_knowing(&milled.problem, &self.limits(share.less(kept.work), &|_| ()), hint);
            // What is proven holds for all that make at least what that answer does.
            if free.made.iter().zip(&outcome.made).all(|(free, made)| free <= made) {
                outcome.bound = free.bound;
            }
            outcome.work += free.work;
        }
        outcome
    }

    /// Plans the only choice there is, after bounding all plans where the optimiser's own bound cannot count on what is asked.
    fn one_choice(&self, members: Vec<u32>, whole: Share, copies: &[u32]) -> (Answer, Option<Floors>) {
        let milled = milling::mill(self.job, self.pile, &members);
        let choice = Choice { members, broken: Vec::new() };
        if !self.job.parts.iter().any(asks_for_more) {
            let outcome = nesting::solve(&milled.problem, &self.limits(whole, self.progress));
            return (Answer { milled, outcome, choice }, None);
        }
        let ways: Vec<Vec<u32>> = choice.members.iter().map(|&n| vec![n]).collect();
        let floors = Floors::of(self, &ways, copies, whole.first(1, FLOORS));
        let at = vec![0; ways.len()];
        let mut outcome = self.solved(&milled, &floors, &at, whole.less(floors.cuts.work));
        if matches!(outcome.why, Why::Time | Why::Work) {
            // Of fewer copies than asked for, the search did not know what is proven.
            let made = finished(self.job, &milled, &outcome);
            outcome.bound = outcome.bound.max(floors.least(&made, None));
            if nesting::is_proven(outcome.cost, outcome.bound) {
                outcome.why = Why::Proven;
            }
        }
        (Answer { milled, outcome, choice }, Some(floors))
    }

    /// Plans the most promising choices, each for a share of the time, then the best one for the rest. The bound is the least of
    /// all choices', planned or not, so it holds whatever is chosen.
    fn best_of(
        &self,
        ways: &[Vec<u32>],
        broken: &[Vec<String>],
        mut floors: Floors,
        share: Share,
    ) -> (Answer, Option<Floors>) {
        let job = self.job;
        let mut ranked = floors.ranked(ways);
        let most = (MOST_PLANNED / broken.len()).clamp(1, MOST_WAYS);
        let first: Vec<Vec<usize>> = ranked.by_ref().take(most).collect();
        let of_ways = |at: &Vec<usize>| {
            let choice = |broken: &Vec<String>| Choice::new(ways, at, broken);
            broken
                .iter()
                .map(|broken| Looked { at: at.clone(), choice: choice(broken), proofs: vec![] })
                .collect::<Vec<_>>()
        };
        let mut looked: Vec<Looked> = first.iter().flat_map(of_ways).collect();
        let parts = 2 * looked.len() as u32;
        let begun = Instant::now();
        // By how much a run went beyond its share, as the next one may.
        let mut beyond = Duration::ZERO;
        let late = |beyond: Duration| {
            share.deadline.is_some_and(|end| Instant::now() + beyond >= end) || self.cancel.load(Ordering::Relaxed)
        };
        let share = share.less(floors.cuts.work);
        let each = share.work.map(|work| work / u64::from(parts));
        let mut best: Option<(Answer, usize)> = None;
        for (k, look) in looked.iter_mut().enumerate() {
            if best.as_ref().is_some_and(|(best, _)| late(beyond) || look.is_hopeless(job, &floors, best)) {
                continue;
            }
            let milled = milling::mill(&look.choice.of(job), self.pile, &look.choice.members);
            let slice = |end: Instant| begun + end.saturating_duration_since(begun) / parts * (k as u32 + 1);
            let slice = Share { deadline: share.deadline.map(slice), work: each, ..share };
            let outcome = self.solved(&milled, &floors, &look.at, slice);
            beyond = slice.deadline.map_or(beyond, |end| beyond.max(Instant::now().saturating_duration_since(end)));
            let answer = Answer { milled, outcome, choice: look.choice.clone() };
            look.proofs.push(Proven::of(job, &answer));
            if best.as_ref().is_none_or(|(best, _)| merit(job, &answer) > merit(job, best)) {
                best = Some((answer, k));
            }
        }
        let (mut answer, chosen) = best.expect("there is at least one choice");
        let made = finished(job, &answer.milled, &answer.outcome);
        let known = floors.cuts.work;
        if made != floors.all && floors.sought == floors.all && !late(beyond) {
            // What everything costs at least says little of less: the stock does not suffice for it at any price.
            let half = Share { start: Instant::now(), work: share.work.map(|work| work / 2), ..share };
            floors.learn(self, &made, half.first(1, FLOORS));
        }
        if !matches!(answer.outcome.why, Why::Proven | Why::Cancelled) && !late(beyond) {
            let rest = Share { work: share.work.map(|work| work / 2), ..share }.less(floors.cuts.work - known);
            let again = self.solved(&answer.milled, &floors, &looked[chosen].at, rest);
            let before = merit(job, &answer);
            let first = std::mem::replace(&mut answer.outcome, again);
            looked[chosen].proofs.push(Proven::of(job, &answer));
            if merit(job, &answer) <= before {
                answer.outcome = first;
            }
        }
        let made = finished(job, &answer.milled, &answer.outcome);
        let of_looked = looked.iter().filter_map(|look| look.least(job, &floors, &made)).min();
        let of_others = ranked.next().map(|at| floors.from(&made, &at));
        let bound = of_looked.into_iter().chain(of_others).min().unwrap_or(0);
        // What one choice cannot make another may: only where each is known to its end is anything proven missing.
        if of_others.is_some() || !looked.iter().all(Looked::is_settled) {
            answer.outcome.shortage_proven.fill(false);
        }
        let cost = answer.outcome.cost.saturating_add(answer.choice.worth(job));
        let apart = cost.saturating_sub(bound);
        // What ended with a proof for its own choice may have none over all of them.
        let why = match (answer.outcome.why, share.deadline) {
            (Why::Cancelled, _) => Why::Cancelled,
            _ if nesting::is_proven(cost, bound) => Why::Proven,
            (Why::Gap, _) if apart as f64 <= self.options.gap * cost as f64 => Why::Gap,
            (Why::Proven | Why::Gap, Some(_)) => Why::Time,
            (Why::Proven | Why::Gap, None) => Why::Work,
            (why, _) => why,
        };
        (Answer { outcome: Outcome { bound, why, ..answer.outcome }, ..answer }, Some(floors))
    }
}

/// A choice that was looked at, its ways by index, and what its runs proved; nothing when it was not planned.
struct Looked {
    at: Vec<usize>,
    choice: Choice,
    proofs: Vec<Proven>,
}

impl Looked {
    /// A run proved that this choice makes no more than its plan did.
    fn is_settled(&self) -> bool {
        self.proofs.iter().any(|proven| proven.settled)
    }

    /// No plan of this choice can be better than `best`, which makes everything.
    fn is_hopeless(&self, job: &Job, floors: &Floors, best: &Answer) -> bool {
        let made = finished(job, &best.milled, &best.outcome);
        let whole = made.iter().zip(&job.parts).all(|(&made, part)| made == part.qty);
        let floor = floors.least(&made, Some(&self.at)).saturating_add(self.choice.least_worth(job));
        whole && floor >= best.outcome.cost.saturating_add(best.choice.worth(job))
    }

    /// What making so many copies of each part costs at least with this choice; `None` when that cannot be done at all.
    ///
    /// A plan that breaks just the matches of a choice costs their worth beside its stock; what is proven of the stock of a
    /// choice of layers and staves holds whichever matches are broken.
    fn least(&self, job: &Job, floors: &Floors, made: &[u32]) -> Option<i64> {
        let proven: Option<Vec<i64>> = self.proofs.iter().map(|proven| proven.of_making(job, made)).collect();
        let stock = proven?.into_iter().chain([floors.least(made, Some(&self.at))]).max().unwrap_or(0);
        Some(stock.saturating_add(self.choice.least_worth(job)))
    }
}

/// A panel whose staves may differ in width.
fn has_free_staves(part: &Part) -> bool {
    part.panel.as_ref().is_some_and(|panel| !panel.equal)
}

/// True when bounds cannot count on all that a part asks for, or know less of it when it is planned.
fn asks_for_more(part: &Part) -> bool {
    part.matching.is_some() || has_free_staves(part) && part.qty > 1
}

/// What is proven of all plans together, and of each choice of layers and staves among them.
struct Floors {
    ways: milling::Ways,
    /// Parts of several ways, in the order of the groups.
    several: Vec<usize>,
    cuts: nesting::Floors,
    /// Copies asked for, and those that proofs were looked for last with a view to.
    all: Vec<u32>,
    sought: Vec<u32>,
}

impl Floors {
    /// For plans that make so many copies; of those that make others something may be known too.
    fn of(search: &Search, ways: &[Vec<u32>], copies: &[u32], share: Share) -> Floors {
        let several = (0..ways.len()).filter(|&p| ways[p].len() > 1).collect();
        let ways = milling::in_every_way(search.job, search.pile, ways);
        let mut floors =
            Floors { ways, several, cuts: nesting::Floors::default(), all: search.all(), sought: Vec::new() };
        floors.learn(search, copies, share);
        floors
    }

    /// Proves more, with a view to plans that make so many copies.
    fn learn(&mut self, search: &Search, copies: &[u32], share: Share) {
        let fresh = nesting::floors(&self.ways.problem, &self.ways.asked(copies), &search.limits(share, &|_| ()));
        self.cuts.join(fresh);
        self.sought = copies.to_vec();
    }

    /// What making so many copies of each part costs at least, micro-units: with each part in the given one of its ways, or in any.
    fn least(&self, copies: &[u32], at: Option<&[usize]>) -> i64 {
        let asked = self.ways.asked(copies);
        match at {
            Some(at) => {
                let ways: Vec<usize> = self.several.iter().map(|&p| at[p]).collect();
                self.cuts.least(&self.ways.problem, &asked.chosen(&ways))
            }
            None => self.cuts.least(&self.ways.problem, &asked),
        }
    }

    /// What the choice `at` and all that are ranked after it cost at least.
    fn from(&self, copies: &[u32], at: &[usize]) -> i64 {
        let any = self.least(copies, None);
        if copies != self.all {
            return any;
        }
        let asked = self.ways.asked(copies);
        let regrets = self.cuts.regrets(&asked);
        let regret = self.several.iter().zip(&regrets).map(|(&p, regrets)| regrets[at[p]]).fold(0, i64::saturating_add);
        any.max(self.cuts.with_regret(&self.ways.problem, &asked, regret))
    }

    /// Every choice of a way for each part, by index, the one that promises most first.
    fn ranked(&self, ways: &[Vec<u32>]) -> Ranked {
        let regrets = self.cuts.regrets(&self.ways.asked(&self.all));
        let mut of_part: Vec<Vec<(i64, usize)>> = vec![vec![(0, 0)]; ways.len()];
        for (&p, regrets) in self.several.iter().zip(regrets) {
            of_part[p] = regrets.into_iter().enumerate().map(|(way, regret)| (regret, way)).collect();
            of_part[p].sort_unstable();
        }
        Ranked::new(of_part)
    }
}

/// Choices of one of each list in ascending order of their sums: a choice follows from one that is not dearer by a step
/// in one list, and each is reached by one road only.
struct Ranked {
    lists: Vec<Vec<(i64, usize)>>,
    /// (sum, place in each list, first list that may step on).
    open: BinaryHeap<Reverse<(i64, Vec<usize>, usize)>>,
}

impl Ranked {
    fn new(lists: Vec<Vec<(i64, usize)>>) -> Ranked {
        let sum = lists.iter().map(|list| list[0].0).fold(0, i64::saturating_add);
        let open = BinaryHeap::from([Reverse((sum, vec![0; lists.len()], 0))]);
        Ranked { lists, open }
    }
}

impl Iterator for Ranked {
    type Item = Vec<usize>;

    fn next(&mut self) -> Option<Vec<usize>> {
        let Reverse((sum, places, from)) = self.open.pop()?;
        for list in from..places.len() {
            let (at, of) = (places[list], &self.lists[list]);
            if at + 1 < of.len() {
                let mut next = places.clone();
                next[list] += 1;
                let sum = sum.saturating_sub(of[at].0).saturating_add(of[at + 1].0);
                self.open.push(Reverse((sum, next, list)));
            }
        }
        Some(self.lists.iter().zip(&places).map(|(list, &at)| list[at].1).collect())
    }
}

/// What is proven of one choice of layers and staves.
struct Proven {
    /// Copies its plan makes, by part; the bound is for all that make at least as many.
    made: Vec<u32>,
    bound: i64,
    /// By part: it is proven that not all copies can be made.
    never_whole: Vec<bool>,
    /// All that its plan does not make is proven missing.
    settled: bool,
}

impl Proven {
    fn of(job: &Job, answer: &Answer) -> Proven {
        let Answer { milled, outcome, .. } = answer;
        let (mut never_whole, mut settled) = (vec![false; job.parts.len()], true);
        for (item, milled_item) in milled.items.iter().enumerate() {
            let short = outcome.made[item] < milled.problem.items[item].demand;
            never_whole[milled_item.part] |= short && outcome.shortage_proven[item];
            settled &= !short || outcome.shortage_proven[item];
        }
        Proven { made: finished(job, milled, outcome), bound: outcome.bound, never_whole, settled }
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

/// How good an answer is, the greater the better: what it makes, by value level by level of priority and then copies, what it costs with the matches that it
/// may break, and of how few pieces it is.
fn merit(job: &Job, answer: &Answer) -> impl Ord + use<> {
    let Answer { milled, outcome, choice } = answer;
    let copies = finished(job, milled, outcome);
    let mut levels: BTreeMap<Reverse<i32>, i128> = BTreeMap::new();
    for (part, &n) in job.parts.iter().zip(&copies) {
        *levels.entry(Reverse(part.priority)).or_default() += i128::from(milling::copy_value(part)) * i128::from(n);
    }
    let values: Vec<i128> = levels.into_values().collect();
    let cost = outcome.cost.saturating_add(choice.worth(job));
    let pieces: u64 = outcome.made.iter().map(|&n| u64::from(n)).sum();
    (values, copies.iter().map(|&n| u64::from(n)).sum::<u64>(), Reverse(cost), Reverse(pieces))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// An answer to the job that makes so many pieces, said to be proven the most there is.
    fn answer(job: &Job, pile: &Pile, cost: i64, made: u32) -> Answer {
        let choice = Choice { members: vec![1; job.parts.len()], broken: vec![] };
        let milled = milling::mill(job, pile, &choice.members);
        let items = milled.items.len();
        let outcome = Outcome {
            layouts: vec![],
            made: vec![made; items],
            cost,
            bound: 0,
            proof: "",
            shortage_proven: vec![true; items],
            why: Why::Time,
            work: 0,
        };
        Answer { milled, outcome, choice }
    }

    #[test]
    fn what_equal_staves_cannot_make_is_not_proven_missing_of_free_ones() {
        let job = r#"{ "format": "flitchwork.job/1", "units": "in", "parts": [
            { "id": "rail", "qty": 4, "species": "ash", "thickness": "3/4", "width": 2, "length": 20 } ] }"#;
        let pile = r#"{ "format": "flitchwork.pile/1", "units": "in", "boards": [
            { "id": "A", "species": "ash", "nominal": "4/4", "thickness": 1, "width": 6, "length": 96, "cost": 30 } ] }"#;
        let job = crate::job::file::read_json("job", job, None).unwrap();
        let pile = crate::pile::file::read_json("pile", pile).unwrap();
        let (options, cancel) = (Options::default(), AtomicBool::new(false));
        let search = Search { job: &job, pile: &pile, options: &options, cancel: &cancel, progress: &|_| () };
        let better = search.better_of(answer(&job, &pile, 30, 2), None, answer(&job, &pile, 30, 3));
        assert_eq!((better.outcome.made[0], better.outcome.shortage_proven[0]), (3, false));
        let kept = search.better_of(answer(&job, &pile, 30, 3), None, answer(&job, &pile, 30, 2));
        assert_eq!((kept.outcome.made[0], kept.outcome.shortage_proven[0]), (3, true));
    }

    #[test]
    fn choices_come_once_each_in_ascending_order_of_what_they_promise() {
        let lists = vec![vec![(0, 2), (3, 0), (4, 1)], vec![(0, 0)], vec![(0, 1), (1, 0)], vec![(2, 0), (2, 1)]];
        let sum = |choice: &Vec<usize>| -> i64 {
            lists
                .iter()
                .zip(choice)
                .map(|(list, &way)| list.iter().find(|(_, w)| *w == way).expect("it is one").0)
                .sum()
        };
        let ranked: Vec<Vec<usize>> = Ranked::new(lists.clone()).collect();
        assert_eq!(ranked[0], [2, 0, 1, 0]);
        assert!(ranked.iter().map(sum).is_sorted());
        let mut once = ranked.clone();
        once.sort();
        once.dedup();
        assert_eq!((once.len(), ranked.len()), (3 * 2 * 2, 3 * 2 * 2));
    }
}
