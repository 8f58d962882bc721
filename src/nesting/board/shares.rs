//! Layouts that yield none of an item or at least its share: a panel glued up from few boards.
//!
//! The search knows no such rule. A layout that gives too little of an item is made again twice, once without the item and
//! once with the item so dear that its share may come out, and the better of the lawful ones is kept. The upper value stays
//! that of layouts without the rule: lawful ones are among them.

use super::{BoardEngine, Priced};

/// An item that should come out more often is priced at so many times its price.
const DEARER: i64 = 8;

impl BoardEngine {
    /// The best layout `solve` finds (at prices, with some items barred) that keeps the shares.
    pub(super) fn in_shares(&self, prices: &[i64], solve: &mut dyn FnMut(&[i64], &[usize]) -> Priced) -> Priced {
        let first = solve(prices, &[]);
        let mut short = self.short_of_share(&first.counts);
        if short.is_empty() {
            return first;
        }
        let mut barred = Vec::new();
        let mut best: Option<Priced> = None;
        let (upper, mut evaluations) = (first.upper, first.evaluations);
        loop {
            let mut dear = prices.to_vec();
            short.iter().for_each(|&item| dear[item] = dear[item].saturating_mul(DEARER));
            let with = solve(&dear, &barred);
            barred.extend(&short);
            let without = solve(prices, &barred);
            evaluations += with.evaluations + without.evaluations;
            short = self.short_of_share(&without.counts);
            for found in [with, without] {
                let value = self.value(&found.layout, prices).0;
                if self.short_of_share(&found.counts).is_empty() && best.as_ref().is_none_or(|best| value > best.value)
                {
                    best = Some(Priced { value, ..found });
                }
            }
            if short.is_empty() {
                let best = best.expect("a layout without the items that are short is lawful");
                return Priced { upper: upper.max(best.value), evaluations, ..best };
            }
        }
    }

    /// Items of which a layout yields some, but less than their share.
    pub(super) fn short_of_share(&self, counts: &[u32]) -> Vec<usize> {
        let least = self.board.least.iter().filter(|&&(item, least)| (1..least).contains(&counts[item]));
        least.map(|&(item, _)| item).collect()
    }
}
