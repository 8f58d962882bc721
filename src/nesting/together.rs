//! Layouts that yield all pieces of a set or none of them: a match from one board, a panel glued up from few boards.
//!
//! The engines know no such rule. A layout that breaks it is made again: without the sets it breaks, and with the worthiest
//! of these so dear that they may come out whole; the best lawful one is kept. The upper value stays that of layouts
//! without the rule: lawful ones are among them. Which pieces belong together is the problem's business.

use super::engine::Found;
use super::problem::Together;

/// The pieces of a set that should come out whole are priced at so many times their price.
const DEARER: i64 = 8;
/// Sets that are tried to be made whole, one after another, in one layout.
const TRIED: usize = 3;

/// True when counts (item, pieces) keep every set whole or leave it out.
pub fn kept(sets: &[Together], counts: &[(usize, u32)]) -> bool {
    sets.iter().all(|set| !broken(set, counts))
}

/// Some pieces of the set are there, and not all.
fn broken(set: &Together, counts: &[(usize, u32)]) -> bool {
    let of = |item: usize| counts.iter().find(|c| c.0 == item).map_or(0, |c| c.1);
    set.iter().any(|&(item, _)| of(item) > 0) && set.iter().any(|&(item, pieces)| of(item) < pieces)
}

/// The limits with none of some sets allowed.
fn barring<'a>(sets: impl Iterator<Item = &'a Together>, limits: &[u32]) -> Vec<u32> {
    let mut limits = limits.to_vec();
    sets.flatten().for_each(|&(item, _)| limits[item] = 0);
    limits
}

/// The layout that `solve` finds when the sets it breaks are barred until it breaks none.
pub fn without_broken(sets: &[Together], limits: &[u32], solve: &mut dyn FnMut(&[u32]) -> Found) -> Found {
    let mut limits = limits.to_vec();
    loop {
        let found = solve(&limits);
        let mut broke = sets.iter().filter(|set| broken(set, &found.counts)).peekable();
        if broke.peek().is_none() {
            return found;
        }
        limits = barring(broke, &limits);
    }
}

/// The best layout that `solve` finds, at prices and within limits, that keeps every set whole or leaves it out. Its work is
/// that of all tries.
pub fn keeping(
    sets: &[Together],
    prices: &[i64],
    limits: &[u32],
    solve: &mut dyn FnMut(&[i64], &[u32]) -> Found,
) -> Found {
    let first = solve(prices, limits);
    if kept(sets, &first.counts) {
        return first;
    }
    let able = |set: &&Together| set.iter().all(|&(item, pieces)| limits[item] >= pieces);
    let worth = |set: &Together| {
        set.iter().map(|&(i, n)| prices[i].max(0).saturating_mul(i64::from(n))).fold(0, i64::saturating_add)
    };
    let mut wanted: Vec<&Together> = sets.iter().filter(able).filter(|set| broken(set, &first.counts)).collect();
    wanted.sort_by_key(|set| std::cmp::Reverse(worth(set)));
    wanted.truncate(TRIED);
    let (upper, mut work) = (first.upper, first.work);
    let broke = |found: &Found| sets.iter().filter(|set| broken(set, &found.counts)).cloned().collect::<Vec<_>>();
    // Sets that came out whole when nothing was asked of them may stay; the others are barred but for those asked for.
    let barred = broke(&first);
    let mut best = without_broken(sets, &barring(barred.iter(), limits), &mut |limits| {
        let found = solve(prices, limits);
        work += found.work;
        found
    });
    let mut asked: Vec<&Together> = Vec::new();
    for set in wanted {
        let mut dear = prices.to_vec();
        let raised = || asked.iter().copied().chain([set]);
        raised().flatten().for_each(|&(item, _)| dear[item] = dear[item].saturating_mul(DEARER));
        let others = barred.iter().filter(|other| raised().all(|set| set != *other));
        let found = without_broken(sets, &barring(others, limits), &mut |limits| {
            let found = solve(&dear, limits);
            work += found.work;
            found
        });
        let whole = raised().all(|set| found.counts.iter().any(|&(item, _)| set[0].0 == item));
        let found = Found { worth: found.counts.iter().map(|&(i, n)| prices[i] * i64::from(n)).sum(), ..found };
        if found.worth + found.credit > best.worth + best.credit {
            best = found;
            if whole {
                asked.push(set);
            }
        }
    }
    Found { upper: upper.max(best.worth + best.credit), work, ..best }
}
