//! What is decided before a job is milled: layers of laminations, numbers of equal staves, wished matches that are not kept.
//!
//! Lists the combinations worth planning; which of them is the best is `search`'s to find.

use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};

use crate::job::{Job, Match, MatchScope, Part, Wanted};
use crate::measure::Money;
use crate::milling::{self, blank};
use crate::pile::Pile;

/// Most combinations of layer and stave counts and of matches broken that are planned; beyond, layers and staves are taken as
/// few as the stock allows, and matches kept.
const MOST_CHOICES: usize = 16;

/// What is decided before a job is milled.
#[derive(Clone, Debug, Default)]
pub(crate) struct Choice {
    /// By part: pieces a copy is built up from; see [`milling::mill`].
    pub members: Vec<u32>,
    /// Groups with a worth whose match need not be kept.
    pub broken: Vec<String>,
}

impl Choice {
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

/// Every combination worth planning: of how many pieces the copies of each part are built up from (layers of a lamination,
/// staves of a panel of equal staves), and of the matches with a worth that are not kept. Never empty.
pub(super) fn choices(job: &Job, pile: &Pile) -> Vec<Choice> {
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
