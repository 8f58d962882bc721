//! Layouts that yield all pieces of a set or none of them: a match from one board, a panel glued up from few boards.
//!
//! The engines know no such rule. A layout that breaks it is made again: without the sets it breaks, and with the worthiest
//! of these so dear that they may come out whole; the best lawful one is kept. The upper value stays that of layouts
//! without the rule: lawful ones are among them. Which pieces belong together is the problem's business.

use super::engine::Found;
use super::problem::Together;

/// The pieces of a set that should come out whole are priced at so many times their price.
const DEARER: i64 = 8;
/// Sets that are tried to be made whole, one after another, in one layout: at most, and when little effort is to be spent.
const TRIED: usize = 3;
const TRIED_LIGHTLY: usize = 1;

/// True when counts (item, pieces) keep every set whole or leave it out.
pub fn kept(sets: &[Together], counts: &[(usize, u32)]) -> bool {
    sets.iter().all(|set| !broken(set, counts))
}

fn count(counts: &[(usize, u32)], item: usize) -> u32 {
    counts.iter().find(|c| c.0 == item).map_or(0, |c| c.1)
}

/// Sets that the counts hold whole.
fn whole_sets(set: &Together, counts: &[(usize, u32)]) -> u32 {
    set.pieces.iter().map(|&(item, pieces)| count(counts, item) / pieces.max(1)).min().unwrap_or(0)
}

/// Some pieces are there that make no whole set.
fn broken(set: &Together, counts: &[(usize, u32)]) -> bool {
    let sets = whole_sets(set, counts);
    let fits = |&(item, pieces): &(usize, u32)| {
        let count = count(counts, item);
        if set.whole || sets == 0 { count == sets * pieces } else { true }
    };
    !set.pieces.iter().all(fits)
}

/// The limits with no more of a set's pieces than so many whole sets have.
fn limit(limits: &mut [u32], set: &Together, sets: u32) {
    for &(item, pieces) in &set.pieces {
        limits[item] = limits[item].min(sets.saturating_mul(pieces));
    }
}

/// The layout that `solve` finds when no more of the sets it breaks are allowed than it holds whole, until it breaks none.
pub fn without_broken(sets: &[Together], limits: &[u32], solve: &mut dyn FnMut(&[u32]) -> Found) -> Found {
    let mut limits = limits.to_vec();
    let mut allowed = vec![u32::MAX; sets.len()];
    loop {
        let found = solve(&limits);
        let mut lawful = true;
        for (set, allowed) in sets.iter().zip(&mut allowed).filter(|(set, _)| broken(set, &found.counts)) {
            // What broke within its limit once is allowed one set less, so that this ends.
            let held = whole_sets(set, &found.counts);
            *allowed = if held < *allowed { held } else { allowed.saturating_sub(1) };
            limit(&mut limits, set, *allowed);
            lawful = false;
        }
        if lawful {
            return found;
        }
    }
}

/// The best layout that `solve` finds, at prices and within limits, that breaks no set. Its work is that of all tries;
/// `lightly` makes few of them.
pub fn keeping(
    sets: &[Together],
    prices: &[i64],
    limits: &[u32],
    lightly: bool,
    solve: &mut dyn FnMut(&[i64], &[u32]) -> Found,
) -> Found {
    let first = solve(prices, limits);
    if kept(sets, &first.counts) {
        return first;
    }
    let worth = |set: &Together| {
        let of = |&(item, pieces): &(usize, u32)| prices[item].max(0).saturating_mul(i64::from(pieces));
        set.pieces.iter().map(of).fold(0, i64::saturating_add)
    };
    let held: Vec<u32> = sets.iter().map(|set| whole_sets(set, &first.counts)).collect();
    let breaks = |k: &usize| broken(&sets[*k], &first.counts);
    // One set more than came out whole, where that many are wanted.
    let able = |k: &usize| sets[*k].pieces.iter().all(|&(item, pieces)| limits[item] >= pieces * (held[*k] + 1));
    let mut wanted: Vec<usize> = (0..sets.len()).filter(breaks).filter(able).collect();
    wanted.sort_by_key(|&k| std::cmp::Reverse(worth(&sets[k])));
    wanted.truncate(if lightly { TRIED_LIGHTLY } else { TRIED });
    let (upper, mut work) = (first.upper, first.work);
    // The limits with the broken sets at what came out whole of them, and one more of those asked for.
    let limited = |asked: &[usize]| {
        let mut limits = limits.to_vec();
        for k in (0..sets.len()).filter(breaks) {
            limit(&mut limits, &sets[k], held[k] + u32::from(asked.contains(&k)));
        }
        limits
    };
    let mut best = without_broken(sets, &limited(&[]), &mut |limits| {
        let found = solve(prices, limits);
        work += found.work;
        found
    });
    let mut asked: Vec<usize> = Vec::new();
    for k in wanted {
        let mut dear = prices.to_vec();
        asked.push(k);
        for &(item, _) in asked.iter().flat_map(|&k| &sets[k].pieces) {
            dear[item] = prices[item].saturating_mul(DEARER);
        }
        let found = without_broken(sets, &limited(&asked), &mut |limits| {
            let found = solve(&dear, limits);
            work += found.work;
            found
        });
        let found = Found { worth: found.counts.iter().map(|&(i, n)| prices[i] * i64::from(n)).sum(), ..found };
        let more = whole_sets(&sets[k], &found.counts) > held[k];
        if found.worth + found.credit > best.worth + best.credit {
            best = found;
        }
        if !more {
            asked.pop();
        }
    }
    Found { upper: upper.max(best.worth + best.credit), work, ..best }
}
