//! The most valuable set of pieces, copies bounded, that one sheet yields: exact, and of proven quality at any time.
//!
//! First a Lagrangian (`limited`) for a good layout, a bound and multipliers. Then the tree of builds, best bound first: a
//! build is a rectangle of pieces; two builds side by side or one above the other make the next (Wang 1983; Viswanathan and
//! Bagchi 1993; Cung, Hifi and Le Cun 2000). A build's bound is its own worth at prices less multipliers, the multipliers'
//! constant, and `completion`; those not above the best layout known are dropped, and so are those that cut the same
//! pieces from no smaller a rectangle in the same stages. Every layout better than the best known is built from builds
//! with a bound as high as its worth, so the highest bound still open bounds the answer whenever the search stops.
//! The tree proves, but comes late to good layouts of many pieces; in turn with it blocks of the best layout are laid anew
//! (`improve`).

use std::collections::{BTreeMap, BinaryHeap};
use std::hash::{Hash, Hasher};
use std::time::Instant;

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rustc_hash::{FxHashMap, FxHasher};

use super::axis::NONE;
use super::completion::{Completion, group};
use super::improve::Improver;
use super::limited::{Found, completed, lagrangian};
use super::model::{DEFAULT_STEPS, Frame, Model, UNLIMITED};
use super::tables::Scratch;
use super::tree::{Cut, place, worth};
use super::{SheetEngine, counts};
use crate::nesting::layout::SheetNode;
use crate::nesting::problem::{Kind, Limits, SheetStock, Stock};

/// Rounds of the Lagrangian before the search.
const ROUNDS: u32 = 200;
/// Steps one run of the programmes may take; a fill makes hundreds.
const STEPS: u64 = 40_000_000;
/// Bytes that the builds may take.
pub(super) const MEMORY: usize = 400 << 20;
/// Units of work that the tree does, then blocks laid anew, in turn.
const SLICE: u64 = 400;
const MOVES: u32 = 50;
/// Without a deadline, blocks laid anew in a row without gain before the search ends, once the tree has taken the memory.
const FRUITLESS: u32 = 1000;
/// A run of a sheet with more sizes than a run takes is followed by one of so many times as many steps, up to so many: tables
/// stay well under a gigabyte.
const FINER: u64 = 8;
const MOST_STEPS: u64 = 20_000_000_000;
/// That run is expected to take so many times as long; it is not begun when the time left is less.
const GROWTH: u32 = 8;
/// Pairs looked at between two looks at the clock; also the unit of work.
const UNIT: u64 = 4096;

/// The most valuable bounded set found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Filled {
    /// The cuts.
    pub layout: SheetNode,
    /// Values of its pieces and its credit.
    pub value: i64,
    /// No lawful set is worth more.
    pub upper: i64,
    /// `value == upper`.
    pub proven: bool,
    /// Pieces by item.
    pub counts: Vec<u32>,
}

/// Finds the most valuable set of at most `limits[item]` pieces of `values[item]` from one sheet. Stops at the deadline,
/// work limit (a unit is 4096 pairs of builds; blocks are laid anew without one only), gap or cancellation of `budget`, or
/// when, without a deadline, its builds fill the memory and nothing better was found for long: the answer then depends on the
/// arguments alone.
///
/// Returns `None` when the stock is no sheet.
pub fn fill(stock: &Stock, values: &[i64], limits: &[u32], budget: &Limits) -> Option<Filled> {
    let Kind::Sheet(sheet) = &stock.kind else { return None };
    let frame = Frame::new(sheet, stock.credit.as_ref());
    // No more copies count than fit side by side.
    let mut most = vec![0_u32; limits.len()];
    for p in Model::pieces(sheet, &frame, &|item| if values[item] > 0 { limits[item] } else { 0 }) {
        let fits = (frame.space[0] / p.extent[0]).saturating_mul(frame.space[1] / p.extent[1]);
        most[p.item] =
            most[p.item].saturating_add(u32::try_from(fits).unwrap_or(u32::MAX)).min(limits[p.item]).min(60_000);
    }
    let copies = |item: usize| most[item];
    let pieces = Model::pieces(sheet, &frame, &copies);
    let (low, high) = Model::roundings(&frame, pieces, &copies, STEPS);
    let mut scratch = Scratch::default();
    let rounds = budget.work.map_or(ROUNDS, |w| u32::try_from(w).unwrap_or(ROUNDS).clamp(1, ROUNDS));
    let stop = || budget.called_off().is_some();
    let effort = |work: u64| Effort { rounds, work, gap: budget.gap, memory: MEMORY, stop: &stop };
    let first = effort(budget.work.unwrap_or(SLICE));
    let mut found = lagrangian(&low, high.as_ref(), values, &most, &first, i64::MIN, &mut scratch);
    if let Some(mut tree) = Search::new(high.as_ref().unwrap_or(&low), values, &most, &found, &first, &mut scratch) {
        let rng = ChaCha8Rng::seed_from_u64(budget.seed);
        let mut improver = Improver::new(sheet, &low, values, &most, rng);
        for slice in 1.. {
            tree.work(&mut found, &effort(budget.work.unwrap_or(slice * SLICE)));
            let near = (found.upper - found.value) as f64 <= budget.gap * found.value as f64;
            if near || budget.work.is_some() || stop() || tree.full && improver.since >= patience(budget) {
                break;
            }
            improver.improve(&mut found, MOVES, &stop, &mut scratch);
        }
    }
    Some(filled(&frame, &found, limits.len()))
}

/// As [`fill`], any number of pieces of each item: the programme over all sizes where that is near enough at hand, else over more
/// and more of them while there is time, then blocks laid anew. Stops at the deadline or cancellation; its work limit and gap
/// are not read.
///
/// Returns `None` when the stock is no sheet.
pub fn fill_freely(stock: &Stock, values: &[i64], budget: &Limits) -> Option<Filled> {
    let stop = || budget.called_off().is_some();
    let mut scratch = Scratch::default();
    let mut steps = DEFAULT_STEPS;
    let mut found = Found { value: 0, upper: i64::MAX, tree: None, multipliers: vec![0; values.len()], shift: 0 };
    loop {
        let began = Instant::now();
        let engine = SheetEngine::with_steps(stock, steps)?;
        let (tree, value, upper) = engine.best_tree(values, &mut scratch);
        if value > found.value {
            (found.value, found.tree) = (value, tree);
        }
        found.upper = found.upper.min(upper).max(found.value);
        steps = steps.saturating_mul(FINER);
        let whole = found.value == found.upper || engine.exact() || steps > MOST_STEPS;
        if whole || stop() || budget.ends_within(began.elapsed() * GROWTH) {
            let plenty: Vec<u32> = values.iter().map(|&value| if value > 0 { u32::MAX } else { 0 }).collect();
            let rng = ChaCha8Rng::seed_from_u64(budget.seed);
            let mut improver = Improver::new(&engine.sheet, &engine.low, values, &plenty, rng);
            while found.value < found.upper && !stop() && improver.since < patience(budget) {
                improver.improve(&mut found, MOVES, &stop, &mut scratch);
            }
            return Some(filled(&engine.frame, &found, values.len()));
        }
    }
}

/// Blocks laid anew in a row without gain before the search ends.
fn patience(budget: &Limits) -> u32 {
    if budget.deadline.is_some() { u32::MAX } else { FRUITLESS }
}

fn filled(frame: &Frame, found: &Found, items: usize) -> Filled {
    Filled {
        layout: place(frame, found.tree.as_ref()),
        value: found.value,
        upper: found.upper,
        proven: found.value == found.upper,
        counts: counts(found.tree.as_ref(), items),
    }
}

/// The limits without copies that cannot fit or are worth nothing; a piece that fits at all counts once at least.
pub(super) fn useful_copies(sheet: &SheetStock, frame: &Frame, values: &[i64], limits: &[u32]) -> Vec<u32> {
    let area = |e: [i64; 2]| i128::from(e[0]) * i128::from(e[1]);
    let mut most = vec![0_u32; limits.len()];
    for p in Model::pieces(sheet, frame, &|item| if values[item] > 0 { limits[item] } else { 0 }) {
        let fits = u32::try_from(area(frame.space) / area(p.extent)).unwrap_or(u32::MAX).max(1);
        most[p.item] = most[p.item].max(fits.min(limits[p.item]));
    }
    most
}

/// How much a search may do.
pub(super) struct Effort<'a> {
    /// Rounds of the Lagrangian.
    pub rounds: u32,
    /// Units of 4096 pairs of builds.
    pub work: u64,
    /// Stop when (bound - value) / value is at most this.
    pub gap: f64,
    /// Bytes that the builds may take.
    pub memory: usize,
    pub stop: &'a dyn Fn() -> bool,
}

/// The Lagrangian, then the tree of builds, on models whose pieces have positive values; layouts worth `floor` or less are
/// not looked for.
pub(super) fn search(
    low: &Model,
    high: Option<&Model>,
    values: &[i64],
    limits: &[u32],
    effort: &Effort,
    floor: i64,
    scratch: &mut Scratch,
) -> Found {
    let mut found = lagrangian(low, high, values, limits, effort, floor, scratch);
    if let Some(mut tree) = Search::new(high.unwrap_or(low), values, limits, &found, effort, scratch) {
        tree.work(&mut found, effort);
    }
    found
}

/// How a build is cut; a single piece has direction 2 and no stages.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Kin {
    d: u8,
    stages: u32,
}

/// A build but for its counts, which lie in one long list.
#[derive(Clone, Copy, Debug)]
struct Build {
    extent: [i64; 2],
    kin: Kin,
    /// Worth at prices less multipliers, shifted.
    reduced: i64,
    /// Two builds, or a piece and `NONE`.
    from: [u32; 2],
    /// Next build with the same counts.
    next: u32,
    open: bool,
    dead: bool,
}

/// Closed builds of one extent: (reduced worth, build), falling.
type Shelf = BTreeMap<i64, Vec<(i64, u32)>>;

pub(super) struct Search<'a> {
    model: &'a Model,
    values: &'a [i64],
    completion: Completion,
    /// Items in play, and the most copies of each.
    items: Vec<usize>,
    most: Vec<u32>,
    /// Sum of multiplier x bound, shifted.
    constant: i64,
    shift: u32,
    builds: Vec<Build>,
    counts: Vec<u32>,
    /// First build of each hash of counts.
    same: FxHashMap<u64, u32>,
    /// Open builds by bound; ties to the earlier.
    open: BinaryHeap<(i64, std::cmp::Reverse<u32>)>,
    shelves: [Shelf; 2],
    value: i64,
    best: Option<Cut>,
    /// The memory is taken.
    full: bool,
    /// The greatest bound of builds that were not joined with all others.
    lost: i64,
    pairs: u64,
}

impl<'a> Search<'a> {
    /// The single pieces, at the multipliers found; `None` when the best is known or no work is left to do.
    pub fn new(
        model: &'a Model,
        values: &'a [i64],
        limits: &[u32],
        found: &Found,
        effort: &Effort,
        scratch: &mut Scratch,
    ) -> Option<Self> {
        if found.value >= found.upper || effort.work == 0 || (effort.stop)() {
            return None;
        }
        let (multipliers, shift) = (&found.multipliers, found.shift);
        let prices: Vec<i64> = model.pieces.iter().map(|p| (values[p.item] << shift) - multipliers[p.item]).collect();
        let mut items: Vec<usize> = model.pieces.iter().map(|p| p.item).collect();
        items.sort_unstable();
        items.dedup();
        let mut search = Self {
            model,
            values,
            completion: Completion::new(model, &prices, shift, scratch),
            most: items.iter().map(|&i| limits[i]).collect(),
            constant: items.iter().map(|&i| multipliers[i] * i64::from(limits[i])).sum(),
            items,
            shift,
            builds: Vec::new(),
            counts: Vec::new(),
            same: FxHashMap::default(),
            open: BinaryHeap::new(),
            shelves: [Shelf::new(), Shelf::new()],
            value: found.value,
            best: None,
            full: false,
            lost: i64::MIN,
            pairs: 0,
        };
        for (n, (p, &reduced)) in model.pieces.iter().zip(&prices).enumerate() {
            let mut counts = vec![0; search.items.len()];
            counts[search.items.binary_search(&p.item).expect("every piece's item is in play")] = 1;
            let kin = Kin { d: 2, stages: 0 };
            search.admit(p.extent, kin, reduced, [n as u32, NONE], &counts);
        }
        Some(search)
    }

    /// Goes on from where it stood, `effort.work` being all it may have done by the end: raises the value that is found,
    /// lowers the upper value.
    pub fn work(&mut self, found: &mut Found, effort: &Effort) {
        self.value = self.value.max(found.value);
        let upper = self.run(found.upper, effort).max(self.lost);
        if let Some(best) = self.best.take() {
            (found.value, found.tree) = (self.value, Some(best));
        }
        found.upper = found.upper.min(upper).max(found.value);
    }

    /// Works until nothing open is better than the best layout, or the budget is spent. Returns the bound.
    fn run(&mut self, upper: i64, effort: &Effort) -> i64 {
        let room = effort.memory / bytes(self.items.len());
        let mut looked = 0;
        while let Some((exact, std::cmp::Reverse(id))) = self.open.pop() {
            let bound = exact >> self.shift;
            if bound <= self.value {
                return self.value;
            }
            let out = self.pairs / UNIT > looked && {
                looked = self.pairs / UNIT;
                looked >= effort.work || (effort.stop)()
            };
            let near = (upper.min(bound) - self.value) as f64 <= effort.gap * self.value as f64;
            self.full |= self.builds.len() >= room;
            if out || near || self.full {
                self.open.push((exact, std::cmp::Reverse(id)));
                return bound;
            }
            if self.builds[id as usize].dead {
                continue;
            }
            self.close(id);
            self.complete(id);
            for d in 0..2 {
                if !self.join_all(id, d, room, effort.stop) {
                    self.lost = self.lost.max(bound);
                    return bound;
                }
            }
        }
        self.value
    }

    /// The size of an extent on axis `d`, or `None` when it is longer than any lawful build.
    fn size(&self, d: usize, extent: i64) -> Option<usize> {
        let n = group(&self.model.axes[d], extent);
        (n != NONE).then_some(n as usize)
    }

    /// Shelves a build, so that later ones are joined to it.
    fn close(&mut self, id: u32) {
        let build = &mut self.builds[id as usize];
        build.open = false;
        for d in 0..2 {
            let shelf = self.shelves[d].entry(build.extent[d]).or_default();
            let at = shelf.partition_point(|&(reduced, _)| reduced >= build.reduced);
            shelf.insert(at, (build.reduced, id));
        }
    }

    /// Tries what greedy filling around a build comes to.
    fn complete(&mut self, id: u32) {
        let tree = self.tree(id);
        let left: Vec<u32> = {
            let mut left = vec![0; self.values.len()];
            let own = self.own_counts(id);
            for (n, &item) in self.items.iter().enumerate() {
                left[item] = self.most[n] - own[n];
            }
            left
        };
        for tree in completed(self.model, tree, self.values, left) {
            let total = worth(&self.model.frame, Some(&tree), self.values);
            if total > self.value {
                (self.value, self.best) = (total, Some(tree));
            }
        }
    }

    fn own_counts(&self, id: u32) -> &[u32] {
        let n = self.items.len();
        &self.counts[id as usize * n..(id as usize + 1) * n]
    }

    /// Joins a closed build along `d` with every closed build that may still lead to a better layout. False when the memory
    /// is taken or `stop` says so.
    fn join_all(&mut self, id: u32, d: usize, room: usize, stop: &dyn Fn() -> bool) -> bool {
        let build = self.builds[id as usize];
        let Some(loosest) = self.completion.class(d, 1) else { return true };
        let across = self.size(1 - d, build.extent[1 - d]).expect("a build lies in the sheet");
        let shelf = std::mem::take(&mut self.shelves[d]);
        let mut counts = vec![0_u32; self.items.len()];
        let mut going = true;
        'shelf: for (&extent, list) in &shelf {
            let Some(along) = self.size(d, build.extent[d] + extent) else { break };
            let at = if d == 0 { [along, across] } else { [across, along] };
            let most = self.constant + build.reduced + self.completion.bound(loosest, at[0], at[1]);
            for &(reduced, other) in list {
                if (most + reduced) >> self.shift <= self.value {
                    break;
                }
                self.pairs += 1;
                self.full |= self.builds.len() >= room;
                if self.full || self.pairs.is_multiple_of(UNIT) && stop() {
                    going = false;
                    break 'shelf;
                }
                self.join(id, other, d, along, &mut counts);
            }
        }
        self.shelves[d] = shelf;
        going
    }

    /// Joins two builds along `d` when that is lawful and may lead to a better layout.
    fn join(&mut self, id: u32, other: u32, d: usize, along: usize, counts: &mut [u32]) {
        let (a, b) = (self.builds[id as usize], self.builds[other as usize]);
        // Two rows of one direction are one row, made piece by piece.
        if usize::from(a.kin.d) == d && usize::from(b.kin.d) == d {
            return;
        }
        let needs = |kin: Kin| if usize::from(kin.d) == d { kin.stages } else { kin.stages + 1 };
        let kin = Kin { d: d as u8, stages: needs(a.kin).max(needs(b.kin)) };
        let Some(class) = self.completion.class(d, kin.stages) else { return };
        let mut extent = [0; 2];
        extent[d] = a.extent[d] + b.extent[d];
        extent[1 - d] = a.extent[1 - d].max(b.extent[1 - d]);
        let across = self.size(1 - d, extent[1 - d]).expect("a build lies in the sheet");
        let at = if d == 0 { [along, across] } else { [across, along] };
        let reduced = a.reduced + b.reduced;
        if (self.constant + reduced + self.completion.bound(class, at[0], at[1])) >> self.shift <= self.value {
            return;
        }
        let (x, y) = (self.own_counts(id), self.own_counts(other));
        for (n, sum) in counts.iter_mut().enumerate() {
            *sum = x[n] + y[n];
        }
        if counts.iter().zip(&self.most).all(|(c, m)| c <= m) {
            self.admit(extent, kin, reduced, [id, other], counts);
        }
    }

    /// Keeps a build unless another cuts the same from no more.
    fn admit(&mut self, extent: [i64; 2], kin: Kin, reduced: i64, from: [u32; 2], counts: &[u32]) {
        let hash = hash(counts);
        let head = self.same.get(&hash).copied().unwrap_or(NONE);
        let mut at = head;
        while at != NONE {
            let old = self.builds[at as usize];
            if !old.dead && self.kindred(old.kin, kin) && self.own_counts(at) == counts {
                if old.extent[0] <= extent[0] && old.extent[1] <= extent[1] {
                    return;
                }
                if old.open && old.extent[0] >= extent[0] && old.extent[1] >= extent[1] {
                    self.builds[at as usize].dead = true;
                }
            }
            at = old.next;
        }
        let (Some(x), Some(y)) = (self.size(0, extent[0]), self.size(1, extent[1])) else { return };
        let more = match self.completion.class(usize::from(kin.d.min(1)), kin.stages) {
            _ if kin.d == 2 => self.completion.piece(x, y),
            Some(class) => self.completion.bound(class, x, y),
            None => return,
        };
        let bound = self.constant + reduced + more;
        if bound >> self.shift <= self.value {
            return;
        }
        let id = self.builds.len() as u32;
        self.builds.push(Build { extent, kin, reduced, from, next: head, open: true, dead: false });
        self.counts.extend_from_slice(counts);
        self.same.insert(hash, id);
        self.open.push((bound, std::cmp::Reverse(id)));
    }

    /// True when the first kind may stand wherever the second may.
    fn kindred(&self, old: Kin, new: Kin) -> bool {
        old == new
            || (self.model.frame.stages >= UNLIMITED) && old.d == new.d
            || old.d == new.d && old.stages <= new.stages
    }

    /// The build's tree.
    fn tree(&self, id: u32) -> Cut {
        let build = &self.builds[id as usize];
        if build.from[1] == NONE {
            return Cut::Piece(self.model.pieces[build.from[0] as usize]);
        }
        let parts = build.from.map(|part| self.tree(part));
        Cut::part(usize::from(build.kin.d), parts.to_vec()).expect("a build has pieces")
    }
}

/// What a build takes, with its counts and its places in lists.
pub(super) fn bytes(items: usize) -> usize {
    4 * items + size_of::<Build>() + 64
}

fn hash(counts: &[u32]) -> u64 {
    let mut hasher = FxHasher::default();
    counts.hash(&mut hasher);
    hasher.finish()
}
