//! Whole answers stick by stick: best fit, fullest stick, and prices corrected from one answer to the next.
//!
//! Best fit decreasing (Johnson 1974) is there at once. The fullest stick for the longest piece left is the minimum bin
//! slack of Gupta and Ho 1999 by exact knapsack. Sequential value correction is Belov and Scheithauer's (2007): pieces
//! that end in wasteful sticks grow dearer, so that the next answer cuts them earlier.

use super::case::{Case, Pattern};
use super::knapsack::Table;
use super::relax::{Rest, for_each_family};
use super::{Plan, Stop};

/// Scale of the prices of sequential value correction: thousandths of a tick.
const FINE: i64 = 1000;

/// A stick being filled.
struct Open {
    class: usize,
    /// Ticks left.
    room: i64,
    counts: Vec<(usize, u32)>,
}

/// Best fit decreasing; `None` when some piece finds no room.
pub(super) fn best_fit(case: &Case, rest: &Rest) -> Option<Plan> {
    let mut left = rest.left.to_vec();
    let mut open: Vec<Open> = Vec::new();
    for (k, &wanted) in rest.demand.iter().enumerate() {
        let length = |class: usize| case.families[case.classes[class].family].pieces[k].map(|piece| piece.1);
        for _ in 0..wanted {
            let fitting = open.iter().enumerate().filter_map(|(at, stick)| {
                let spare = stick.room - length(stick.class)?;
                (spare >= 0).then_some((spare, at))
            });
            let at = match fitting.min() {
                Some((_, at)) => at,
                None => {
                    let fits = |&class: &usize| {
                        left[class] > 0 && length(class).is_some_and(|l| l <= case.classes[class].room)
                    };
                    let class = (0..case.classes.len()).filter(fits).min_by(|&a, &b| {
                        let by =
                            |s: usize, t: usize| i128::from(case.classes[s].cost) * i128::from(case.classes[t].room);
                        by(a, b).cmp(&by(b, a))
                    })?;
                    left[class] -= 1;
                    open.push(Open { class, room: case.classes[class].room, counts: Vec::new() });
                    open.len() - 1
                }
            };
            let stick = &mut open[at];
            stick.room -= length(stick.class).unwrap_or(0);
            match stick.counts.last_mut() {
                Some(last) if last.0 == k => last.1 += 1,
                _ => stick.counts.push((k, 1)),
            }
        }
    }
    let patterns = open.into_iter().filter_map(|stick| case.pattern(stick.class, stick.counts));
    Some(shrunk(case, patterns.collect(), left))
}

/// How the next stick is chosen.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Manner {
    /// The stick worth most for its cost.
    Worthiest,
    /// The same among those that hold the longest piece left.
    Longest,
}

/// Cuts stick after stick at `prices`; `None` when some piece finds no room or the search is to stop.
pub(super) fn fill(
    case: &Case,
    rest: &Rest,
    prices: &[i64],
    manner: Manner,
    table: &mut Table,
    stop: &mut Stop,
) -> Option<Plan> {
    let mut demand = rest.demand.to_vec();
    let mut left = rest.left.to_vec();
    let mut patterns = Vec::new();
    while let Some(longest) = demand.iter().position(|&d| d > 0) {
        if stop.now() {
            return None;
        }
        let mut best: Option<(i128, i128, Pattern)> = None;
        let mut offer = |pattern: Option<Pattern>| {
            let Some(pattern) = pattern else { return };
            let worth: i128 = pattern.counts.iter().map(|&(k, n)| i128::from(prices[k]) * i128::from(n)).sum();
            let net = i128::from(pattern.net.max(1));
            if best.as_ref().is_none_or(|(w, n, _)| worth * n > w * net) {
                best = Some((worth, net, pattern));
            }
        };
        if manner == Manner::Longest {
            demand[longest] -= 1;
        }
        for_each_family(case, &left, |family, room, classes| {
            let at_once = match manner {
                Manner::Worthiest => 0,
                Manner::Longest => match case.families[family].pieces[longest] {
                    Some((_, length)) if length <= room => length,
                    _ => return,
                },
            };
            table.fill(&case.families[family], room - at_once, prices, &demand);
            for &class in classes.iter().filter(|&&class| case.classes[class].room >= at_once) {
                offer(match manner {
                    Manner::Worthiest => table.pattern(case, class),
                    Manner::Longest => {
                        let more = table.filling(case.classes[class].room - at_once);
                        case.pattern(class, with_one(more, longest))
                    }
                });
            }
        });
        stop.work += 1;
        if manner == Manner::Longest {
            demand[longest] += 1;
        }
        let (_, _, pattern) = best?;
        let times = pattern.counts.iter().map(|&(k, n)| demand[k] / n).min().unwrap_or(0).min(left[pattern.class]);
        for &(k, n) in &pattern.counts {
            demand[k] -= n * times;
        }
        left[pattern.class] -= times;
        patterns.extend(std::iter::repeat_n(pattern, times as usize));
    }
    Some(shrunk(case, patterns, left))
}

/// The counts and one more piece of the item.
fn with_one(mut counts: Vec<(usize, u32)>, item: usize) -> Vec<(usize, u32)> {
    match counts.iter_mut().find(|count| count.0 == item) {
        Some(count) => count.1 += 1,
        None => counts.push((item, 1)),
    }
    counts.sort_unstable();
    counts
}

/// Each stick's pieces on the cheapest stick that holds them.
fn shrunk(case: &Case, patterns: Vec<Pattern>, mut left: Vec<u32>) -> Plan {
    let mut plan = Plan::default();
    for pattern in patterns {
        left[pattern.class] += 1;
        let cheapest = case.cheapest(&pattern.counts, &left).unwrap_or(pattern);
        left[cheapest.class] -= 1;
        plan.push(cheapest);
    }
    plan
}

/// Prices to begin with: a piece is worth its length.
pub(super) fn lengths(case: &Case) -> Vec<i64> {
    let length = |k: usize| case.families.iter().filter_map(|family| family.pieces[k]).map(|piece| piece.1).max();
    (0..case.items.len()).map(|k| length(k).unwrap_or(1) * FINE).collect()
}

/// Prices after an answer: each piece's moves a third of the way to its length by the room its stick took for what it held,
/// longer pieces a little more than in proportion.
pub(super) fn corrected(case: &Case, plan: &Plan, prices: &mut [i64]) {
    for pattern in &plan.patterns {
        let class = &case.classes[pattern.class];
        let used = case.used(class.family, &pattern.counts).max(1);
        for &(k, _) in &pattern.counts {
            let length = case.families[class.family].pieces[k].map_or(1, |piece| piece.1);
            let share = i128::from(length) * i128::from(FINE) * i128::from(class.room) / i128::from(used);
            let longer = share * (1000 + 40 * i128::from(length) / i128::from(class.room)) / 1000;
            prices[k] = ((2 * i128::from(prices[k]) + longer) / 3).clamp(1, i128::from(i64::MAX / 1_000_000)) as i64;
        }
    }
}
