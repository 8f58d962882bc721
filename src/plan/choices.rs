//! What is decided before a job is milled: layers of laminations, numbers of equal staves, wished matches that are not kept.
//!
//! Lists what may be decided; which combinations are worth a plan, and which is the best, is `search`'s to find.

use std::borrow::Cow;
use std::collections::BTreeSet;

use crate::job::{Job, Match, MatchScope, Part, Wanted};
use crate::measure::Money;
use crate::milling::{self, blank};
use crate::pile::Pile;

/// Most combinations of layer and stave counts that are listed.
const MOST_CHOICES: usize = 16;
/// Most sets of matches that need not be kept; of further groups every match is kept.
const MOST_BROKEN: usize = 8;

/// What is decided before a job is milled.
#[derive(Clone, Debug, Default)]
pub(crate) struct Choice {
    /// By part: pieces a copy is built up from; see [`milling::mill`].
    pub members: Vec<u32>,
    /// Groups with a worth whose match need not be kept.
    pub broken: Vec<String>,
}

impl Choice {
    /// Of the ways of each part the one at the given place, with the matches of some groups broken.
    pub(super) fn new(ways: &[Vec<u32>], at: &[usize], broken: &[String]) -> Choice {
        let members = ways.iter().zip(at).map(|(counts, &at)| counts[at]).collect();
        Choice { members, broken: broken.to_vec() }
    }

    /// The job as it is planned: without the matches that need not be kept.
    pub fn of<'j>(&self, job: &'j Job) -> Cow<'j, Job> {
        if self.broken.is_empty() {
            return Cow::Borrowed(job);
        }
        Cow::Owned(free_of(job, |matching| self.broken.contains(&matching.group)))
    }

    /// What breaking each of its matches somewhere costs at least, micro-units.
    pub fn least_worth(&self, job: &Job) -> i64 {
        let worth_of = |group: &String| {
            let matches = job.parts.iter().filter_map(|part| part.matching.as_ref());
            let of_group = matches.filter(|matching| matching.group == *group).find_map(|m| m.worth.as_ref());
            of_group.map_or(0, Money::micros_floor)
        };
        self.broken.iter().map(worth_of).fold(0, i64::saturating_add)
    }

    /// What breaking all its matches costs, micro-units.
    pub fn worth(&self, job: &Job) -> i64 {
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

/// The job without the matches that `free` says.
pub(super) fn free_of(job: &Job, free: impl Fn(&Match) -> bool) -> Job {
    let mut freed = job.clone();
    for part in &mut freed.parts {
        part.matching = part.matching.take().filter(|matching| !free(matching));
    }
    freed
}

/// By part: the numbers of pieces that a copy may be built up from, of those that the pile could serve (layers of a lamination,
/// staves of a panel of equal staves), the fewest first; none is empty.
pub(super) fn ways(job: &Job, pile: &Pile) -> Vec<Vec<u32>> {
    job.parts.iter().map(|part| members_of(job, pile, part)).collect()
}

/// The sets of groups whose wished match need not be kept that are worth planning; none of them first.
pub(super) fn broken(job: &Job) -> Vec<Vec<String>> {
    let matches = job.parts.iter().filter_map(|part| part.matching.as_ref());
    let wished: BTreeSet<&str> =
        matches.filter(|matching| matching.worth.is_some()).map(|matching| matching.group.as_str()).collect();
    let mut sets = vec![Vec::new()];
    for &group in &wished {
        // Bounds do not count on matches, so that of keeping one holds for breaking it too.
        if sets.len() * 2 > MOST_BROKEN {
            break;
        }
        let without = sets.clone().into_iter().map(|mut set: Vec<String>| {
            set.push(group.to_owned());
            set
        });
        sets = sets.iter().cloned().chain(without).collect();
    }
    sets
}

/// Combinations of layers and staves, for questions that every one of them answers; see [`milling::mill`]. Never empty. Beyond a
/// number, layers and staves are taken as few as the stock allows.
pub(crate) fn member_choices(job: &Job, pile: &Pile) -> Vec<Vec<u32>> {
    let mut choices = vec![Vec::new()];
    let mut widen = true;
    for counts in ways(job, pile) {
        widen = widen && choices.len() * counts.len() <= MOST_CHOICES;
        let taken = if widen { &counts[..] } else { &counts[..1] };
        let with =
            |choice: &Vec<u32>| taken.iter().map(|&n| choice.iter().copied().chain([n]).collect()).collect::<Vec<_>>();
        choices = choices.iter().flat_map(with).collect();
    }
    choices
}

/// As [`ways`], for one part.
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
