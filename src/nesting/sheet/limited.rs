//! Layouts with bounded copies, found fast: a Lagrangian on the bounds, then repair and refill.
//!
//! With multipliers m >= 0 on the bounds, the unlimited programme at prices p - m plus the sum of m x bound is a bound of
//! every layout within the bounds; a subgradient moves m (Held and Karp 1971; for this problem Beasley 1985, Hifi 1997).
//! Each round's layout loses its surplus pieces and has its gaps refilled greedily. All in integers: any multipliers give a
//! valid bound, so their rounding decides nothing.

use super::fill::{Effort, MEMORY, search, useful_copies};
use super::model::{Active, Frame, Model, index};
use super::tables::Scratch;
use super::tree::{Cut, lawful, worth};
use super::{Priced, SheetEngine, Solved, solve};

/// Steps of one run for each round asked of `best_within`: the more rounds, the finer the sizes.
const STEPS: u64 = 2_000_000;

/// What a Lagrangian search knows at its end.
pub(super) struct Found {
    pub value: i64,
    pub upper: i64,
    pub tree: Option<Cut>,
    /// Multipliers by item, in units of price shifted by `shift`, of the best bound.
    pub multipliers: Vec<i64>,
    pub shift: u32,
}

impl SheetEngine {
    /// A good layout of at most `limits[item]` copies. `effort` is the number of Lagrangian rounds, each one run of the
    /// dynamic programme over the sizes the bounded copies can add up to; the tree of builds of `fill` follows for as many
    /// units of 4096 pairs. 0 only fills greedily, without a run, and then `upper` is an area bound.
    pub fn best_within(&self, prices: &[i64], limits: &[u32], scratch: &mut Scratch, effort: u32) -> Priced {
        let most = useful_copies(&self.sheet, &self.frame, prices, limits);
        let limits = most.as_slice();
        let wanted = |item: usize| limits[item];
        let pieces = Model::pieces(&self.sheet, &self.frame, &wanted);
        if effort == 0 {
            let greedy = greedy(&self.frame, &pieces, prices, limits);
            let value = worth(&self.frame, greedy.as_ref(), prices);
            return self.priced(greedy.as_ref(), value, area_bound(&self.frame, &pieces, prices, limits).max(value));
        }
        let steps = self.steps.min(STEPS * (1 + u64::from(effort)));
        let (low, high) = Model::roundings(&self.frame, pieces, &wanted, steps);
        let effort = Effort { rounds: effort, work: effort.into(), gap: 0.0, memory: MEMORY, stop: &|| false };
        let found = search(&low, high.as_ref(), prices, limits, &effort, i64::MIN, scratch);
        self.priced(found.tree.as_ref(), found.value, found.upper)
    }
}

/// Runs the rounds of `effort` on models whose pieces all have a positive price and limit; layouts worth `floor` or less are
/// not kept.
pub(super) fn lagrangian(
    low: &Model,
    high: Option<&Model>,
    prices: &[i64],
    limits: &[u32],
    effort: &Effort,
    floor: i64,
    scratch: &mut Scratch,
) -> Found {
    let frame = &low.frame;
    let area = area_bound(frame, &low.pieces, prices, limits);
    // Room for fractions of a price in the multipliers.
    let shift = (50_u32.saturating_sub(64 - area.max(1).leading_zeros())).min(16);
    let mut best = greedy(frame, &low.pieces, prices, limits);
    let mut value = worth(frame, best.as_ref(), prices);
    if value <= floor {
        (value, best) = (floor, None);
    }
    let mut upper = i64::MAX;
    let mut multipliers = vec![0_i64; prices.len()];
    let mut kept = multipliers.clone();
    let (mut step, mut stale) = (1024_i128, 0);
    for _ in 0..effort.rounds {
        let reduced: Vec<i64> = prices.iter().zip(&multipliers).map(|(&p, &m)| (p << shift) - m).collect();
        let Solved { upper: bound, tree, loose, .. } = solve(low, high, &reduced, shift, scratch);
        let constant: i64 = multipliers.iter().zip(limits).map(|(&m, &l)| m * i64::from(l)).sum();
        let bound = bound + constant;
        stale += 1;
        if bound < upper {
            if upper == i64::MAX || upper - bound > upper >> 12 {
                stale = 0;
            }
            upper = bound;
            kept.clone_from(&multipliers);
        }
        // The multipliers follow the layout that the bound is of.
        let counts = super::counts(loose.as_ref().or(tree.as_ref()), prices.len());
        for candidate in [tree, loose].iter().flat_map(|t| repaired(low, t.as_ref(), prices, limits)) {
            let total = worth(frame, candidate.as_ref(), prices);
            if total > value {
                (value, best) = (total, candidate);
            }
        }
        if value >= upper >> shift || (effort.stop)() {
            break;
        }
        if stale >= 4 {
            (step, stale) = (step / 2, 0);
        }
        let slope = |i: usize| -> i64 {
            let g = i64::from(counts[i]) - i64::from(limits[i].min(1 << 30));
            if g < 0 && multipliers[i] == 0 { 0 } else { g }
        };
        let norm: i128 = (0..prices.len()).map(|i| i128::from(slope(i)).pow(2)).sum();
        if norm == 0 || step == 0 {
            break;
        }
        let distance = i128::from((bound - (value << shift)).max(1));
        let moves: Vec<i64> = (0..prices.len())
            .map(|i| i64::try_from(distance * step * i128::from(slope(i)) / (1024 * norm)).unwrap_or(0))
            .collect();
        for (i, m) in multipliers.iter_mut().enumerate() {
            // A piece keeps some price: one without is left out, and the remnant beside it would be lost to the bound.
            *m = (*m + moves[i]).clamp(0, ((prices[i] << shift) - 1).max(0));
        }
    }
    Found { value, upper: (upper >> shift).min(area).max(value), tree: best, multipliers: kept, shift }
}

/// Bound by area alone: the sum of prices of all copies, or the sheet's area at the best price per area.
pub(super) fn area_bound(frame: &Frame, pieces: &[Active], prices: &[i64], limits: &[u32]) -> i64 {
    let mut items: Vec<(usize, i128)> = pieces.iter().map(|p| (p.item, area(p.extent))).collect();
    items.sort_unstable();
    items.dedup_by_key(|i| i.0);
    items.sort_by(|a, b| (i128::from(prices[b.0]) * a.1).cmp(&(i128::from(prices[a.0]) * b.1)).then(a.0.cmp(&b.0)));
    let (mut room, mut sum) = (area(frame.space), 0_i128);
    for (item, size) in items {
        let copies = i128::from(limits[item]).min(room / size);
        sum += copies * i128::from(prices[item]);
        room -= copies * size;
        if copies < i128::from(limits[item]) {
            sum += i128::from(prices[item]) * room / size;
            break;
        }
    }
    let credit = (0..2).map(|d| frame.credit(d, frame.kerf[d] + 1)).max().unwrap_or(0);
    i64::try_from(sum).unwrap_or(i64::MAX).saturating_add(credit)
}

fn area(extent: [i64; 2]) -> i128 {
    i128::from(extent[0]) * i128::from(extent[1])
}

/// The tree without surplus pieces and without what does not fit: as it then is, and refilled; the surplus taken from the
/// end, and from the beginning.
pub(super) fn repaired(model: &Model, tree: Option<&Cut>, prices: &[i64], limits: &[u32]) -> Vec<Option<Cut>> {
    let mut list = Vec::new();
    let Some(tree) = tree.and_then(|t| fitted(t.clone(), model.frame.space, prices)) else { return list };
    let worthwhile: Vec<Active> = model.pieces.iter().copied().filter(|p| prices[p.item] > 0).collect();
    let order = ranked(&worthwhile, |p| i128::from(prices[p.item]));
    for reverse in [false, true] {
        let mut left = limits.to_vec();
        let mut keep = |p: &Active| {
            let more = left[p.item] > 0;
            left[p.item] -= u32::from(more);
            more
        };
        let kept = tree.clone().kept(&mut keep, reverse);
        if let Some(kept) = &kept {
            let mut filler = Filler { order: &order, left };
            list.push(filler.whole(&model.frame, Some(kept.clone()), None));
        }
        list.push(kept);
    }
    list.retain(|tree| tree.as_ref().is_some_and(|t| lawful(&model.frame, t)));
    list
}

/// The tree less the children that are worth least for their extent, until it fits `space`.
fn fitted(tree: Cut, space: [i64; 2], prices: &[i64]) -> Option<Cut> {
    match tree {
        Cut::Piece(p) => (p.extent[0] <= space[0] && p.extent[1] <= space[1]).then_some(Cut::Piece(p)),
        Cut::Split(d, children) => {
            let mut list: Vec<Cut> = children.into_iter().filter_map(|c| fitted(c, space, prices)).collect();
            let mut over = list.iter().map(|c| c.extent()[d]).sum::<i64>() - space[d];
            while over > 0 {
                let worth = |c: &Cut| {
                    let mut sum = 0_i128;
                    c.visit(&mut |p| sum += i128::from(prices[p.item]));
                    sum * 1_000_000 / i128::from(c.extent()[d])
                };
                let (least, _) = list.iter().enumerate().min_by_key(|(_, c)| worth(c))?;
                over -= list.remove(least).extent()[d];
            }
            Cut::part(d, list)
        }
    }
}

/// A lawful build with the sheet around it filled from what is `left`, and the build alone when that is a layout.
pub(super) fn completed(model: &Model, build: Cut, prices: &[i64], left: Vec<u32>) -> Vec<Cut> {
    let order = ranked(&model.pieces, |p| i128::from(prices[p.item]));
    let mut list = Vec::new();
    for d in 0..2 {
        let mut filler = Filler { order: &order, left: left.clone() };
        list.extend(filler.whole(&model.frame, Some(build.clone()), Some(d)));
    }
    list.push(build);
    list.retain(|tree| lawful(&model.frame, tree));
    list
}

/// The best of a few greedy layouts.
pub(super) fn greedy(frame: &Frame, pieces: &[Active], prices: &[i64], limits: &[u32]) -> Option<Cut> {
    let orders = [
        ranked(pieces, |p| i128::from(prices[p.item])),
        ranked(pieces, |p| i128::from(prices[p.item]) * 1_000_000 / area(p.extent)),
        ranked(pieces, |p| i128::from(p.extent[0])),
        ranked(pieces, |p| i128::from(p.extent[1])),
    ];
    let mut best: Option<Cut> = None;
    for order in &orders {
        for d in 0..2 {
            let mut filler = Filler { order, left: limits.to_vec() };
            let tree = filler.whole(frame, None, Some(d));
            if worth(frame, tree.as_ref(), prices) > worth(frame, best.as_ref(), prices) {
                best = tree;
            }
        }
    }
    best
}

/// Pieces by falling score; ties in their own order.
fn ranked(pieces: &[Active], score: impl Fn(&Active) -> i128) -> Vec<Active> {
    let mut list = pieces.to_vec();
    list.sort_by_key(|p| std::cmp::Reverse(score(p)));
    list
}

/// Fills gaps with the first piece of an order that fits and is left.
struct Filler<'a> {
    order: &'a [Active],
    left: Vec<u32>,
}

impl Filler<'_> {
    /// Fills the whole sheet around `tree`, cutting first along its own direction or `d`.
    fn whole(&mut self, frame: &Frame, tree: Option<Cut>, d: Option<usize>) -> Option<Cut> {
        let root = match (&tree, frame.first.map(index)) {
            (_, Some(first)) => first,
            (_, None) if d.is_some() => d.unwrap_or(0),
            (Some(Cut::Split(e, _)), None) => *e,
            _ => 0,
        };
        self.slot(tree, root, frame.stages, frame.space)
    }

    /// Fills a rectangle of extents `space` that may be cut along `d` in `levels` stages and holds `tree` already.
    fn slot(&mut self, tree: Option<Cut>, d: usize, levels: u32, space: [i64; 2]) -> Option<Cut> {
        if levels == 0 {
            return match tree {
                None => self.take(space).map(Cut::Piece),
                some => some,
            };
        }
        if matches!(&tree, Some(Cut::Piece(p)) if p.extent == space) {
            return tree;
        }
        let held = match tree {
            Some(Cut::Split(e, children)) if e == d => children,
            other => other.into_iter().collect(),
        };
        let mut room = space[d] - held.iter().map(|c| c.extent()[d]).sum::<i64>();
        let mut children = Vec::with_capacity(held.len() + 1);
        for child in held {
            let mut inner = space;
            inner[d] = child.extent()[d];
            children.extend(self.slot(Some(child), 1 - d, levels - 1, inner));
        }
        while room > 0 {
            let mut inner = space;
            inner[d] = room;
            let Some(piece) = self.take(inner) else { break };
            inner[d] = piece.extent[d];
            room -= inner[d];
            children.extend(self.slot(Some(Cut::Piece(piece)), 1 - d, levels - 1, inner));
        }
        Cut::part(d, children)
    }

    /// Takes the first piece of the order that fits.
    fn take(&mut self, space: [i64; 2]) -> Option<Active> {
        let fits = |p: &&Active| self.left[p.item] > 0 && p.extent[0] <= space[0] && p.extent[1] <= space[1];
        let found = self.order.iter().find(fits).copied()?;
        self.left[found.item] -= 1;
        Some(found)
    }
}
