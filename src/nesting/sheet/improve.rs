//! Better bounded layouts from good ones: blocks of a layout are laid anew, each by the exact search for its own rectangle.
//!
//! A block is some children of one split with the room that the split leaves unused; their order does not matter, so any of
//! them may be taken together. What the rest of the sheet cuts is not available to it (large neighbourhood search, Shaw
//! 1998). So that later blocks differ, a block laid as well as before, or a little worse, stands too (Dueck and Scheuer 1990),
//! and some are laid at shaken values. Proves nothing.

use rand::RngExt;
use rand_chacha::ChaCha8Rng;

use super::counts;
use super::fill::{Effort, search};
use super::limited::{Found, completed};
use super::model::{Frame, Model, UNLIMITED, direction, index};
use super::tables::Scratch;
use super::tree::{Cut, worth};
use crate::nesting::problem::SheetStock;

/// Rounds of the Lagrangian for one block.
const ROUNDS: u32 = 12;
/// Steps one run of the programmes for a block may take.
const STEPS: u64 = 4_000_000;
/// Units of work of the search for one block.
const WORK: u64 = 80;
/// Bytes that the builds of one block may take.
const MEMORY: usize = 40 << 20;
/// The area of a block, share of the sheet.
const SHARES: (f64, f64) = (0.1, 0.7);
/// How much of its worth a layout may lie below the best, at most.
const BELOW: f64 = 0.01;
/// Blocks laid at shaken values, and by how much of itself a value is shaken at most.
const SHAKEN: f64 = 0.2;
const SHAKE: f64 = 0.1;
/// Blocks laid without gain before the next begins from the best layout again.
const PATIENCE: u32 = 100;

/// A sheet, what is wanted of it, and the layout at hand.
pub(super) struct Improver<'a> {
    sheet: &'a SheetStock,
    model: &'a Model,
    values: &'a [i64],
    most: &'a [u32],
    rng: ChaCha8Rng,
    current: Option<Cut>,
    /// Blocks laid since the last gain.
    pub since: u32,
}

/// A block: where its split is, and which of its children are laid anew.
struct Block {
    path: Vec<usize>,
    chosen: Vec<usize>,
    frame: Frame,
}

impl<'a> Improver<'a> {
    /// `model` has all sizes of the sheet; at most `most[item]` pieces of `values[item]` are wanted.
    pub fn new(
        sheet: &'a SheetStock,
        model: &'a Model,
        values: &'a [i64],
        most: &'a [u32],
        rng: ChaCha8Rng,
    ) -> Improver<'a> {
        Improver { sheet, model, values, most, rng, current: None, since: 0 }
    }

    /// Lays blocks anew, `moves` of them, until the upper value is met or `stop` says so.
    pub fn improve(&mut self, found: &mut Found, moves: u32, stop: &dyn Fn() -> bool, scratch: &mut Scratch) {
        for _ in 0..moves {
            if found.value >= found.upper || stop() {
                return;
            }
            self.since += 1;
            if self.since.is_multiple_of(PATIENCE) {
                self.current = None;
            }
            let Some(current) = self.current.clone().or_else(|| found.tree.clone()) else { return };
            let Some(next) = self.step(&current, found.value, stop, scratch) else { continue };
            let total = worth(&self.model.frame, Some(&next), self.values);
            if total > found.value {
                (found.value, found.tree, self.since) = (total, Some(next.clone()), 0);
            }
            self.current = Some(next);
        }
    }

    /// The layout with one block laid anew and what is left refilled; `None` where that lies too far below `best`.
    fn step(&mut self, tree: &Cut, best: i64, stop: &dyn Fn() -> bool, scratch: &mut Scratch) -> Option<Cut> {
        let block = self.block(tree)?;
        let mut left = self.most.to_vec();
        let all = counts(Some(tree), left.len());
        left.iter_mut().zip(&all).for_each(|(left, count)| *left -= count);
        let mut own = 0;
        let (_, parts) = split(tree, &block.path)?;
        for &child in &block.chosen {
            parts[child].visit(&mut |p| {
                left[p.item] += 1;
                own += self.values[p.item];
            });
        }
        let copies = |item: usize| left[item];
        let pieces = Model::pieces(self.sheet, &block.frame, &copies);
        let (low, high) = Model::roundings(&block.frame, pieces, &copies, STEPS);
        let slack = (best as f64 * BELOW * self.rng.random::<f64>().powi(3)) as i64;
        let shaken = self.rng.random_bool(SHAKEN).then(|| self.shaken());
        let before = worth(&self.model.frame, Some(tree), self.values);
        // Nothing below the layouts that may stand is looked for; what stands at other values is seen when it is laid.
        let floor = if shaken.is_some() { i64::MIN } else { own - 1 - (slack - (best - before)).max(0) };
        let effort = Effort { rounds: ROUNDS, work: WORK, gap: 0.0, memory: MEMORY, stop };
        let values = shaken.as_deref().unwrap_or(self.values);
        let found = search(&low, high.as_ref(), values, &left, &effort, floor, scratch);
        let laid = replaced(tree, &block, &block.path, found.tree?)?;
        let used = counts(Some(&laid), self.most.len());
        let left = self.most.iter().zip(&used).map(|(most, used)| most - used).collect();
        let refilled = completed(self.model, laid, self.values, left).into_iter();
        let worths = refilled.map(|tree| (worth(&self.model.frame, Some(&tree), self.values), tree));
        worths.max_by_key(|of| of.0).filter(|of| of.0 >= before.min(best - slack)).map(|of| of.1)
    }

    /// The values, each shaken by itself; none becomes worthless.
    fn shaken(&mut self) -> Vec<i64> {
        let most = SHAKE * self.rng.random::<f64>();
        let shake = |&value: &i64| (value as f64 * (1.0 + most * self.rng.random_range(-1.0..1.0))) as i64 + 1;
        self.values.iter().map(shake).collect()
    }

    /// A block at random; `None` when there is none.
    fn block(&mut self, tree: &Cut) -> Option<Block> {
        let Cut::Split(root, _) = tree else { return None };
        let levels = match self.model.frame.first.map(index) {
            Some(first) if first != *root => self.model.frame.stages - 1,
            _ => self.model.frame.stages,
        };
        let mut nodes = Vec::new();
        splits(tree, self.model.frame.space, levels, &mut Vec::new(), &mut nodes);
        let (path, space, levels) = nodes.swap_remove(self.rng.random_range(0..nodes.len()));
        let (d, parts) = split(tree, &path)?;
        let mut room = space[d] - parts.iter().map(|child| child.extent()[d]).sum::<i64>();
        let whole = self.model.frame.space[0] as f64 * self.model.frame.space[1] as f64;
        let most = whole * self.rng.random_range(SHARES.0..SHARES.1);
        let mut left: Vec<usize> = (0..parts.len()).collect();
        let mut chosen = Vec::new();
        while !left.is_empty() {
            let child = left.swap_remove(self.rng.random_range(0..left.len()));
            let next = room + parts[child].extent()[d];
            if next as f64 * space[1 - d] as f64 > most {
                continue;
            }
            room = next;
            chosen.push(child);
        }
        if chosen.is_empty() {
            return None;
        }
        let mut extent = space;
        extent[d] = room;
        let first = (levels < UNLIMITED).then_some(direction(d));
        let frame = Frame { space: extent, stages: levels, first, credit: None, ..self.model.frame.clone() };
        Some(Block { path, chosen, frame })
    }
}

/// The direction and the children of the split that a path leads to.
fn split<'t>(tree: &'t Cut, path: &[usize]) -> Option<(usize, &'t [Cut])> {
    match (tree, path) {
        (Cut::Split(d, parts), []) => Some((*d, parts)),
        (Cut::Split(_, parts), [at, path @ ..]) => split(&parts[*at], path),
        (Cut::Piece(_), _) => None,
    }
}

/// Every split below: its path, the room it may fill, and the stages it may take.
fn splits(
    tree: &Cut,
    space: [i64; 2],
    levels: u32,
    path: &mut Vec<usize>,
    list: &mut Vec<(Vec<usize>, [i64; 2], u32)>,
) {
    let Cut::Split(d, parts) = tree else { return };
    list.push((path.clone(), space, levels));
    for (at, part) in parts.iter().enumerate() {
        let mut inner = space;
        inner[*d] = part.extent()[*d];
        path.push(at);
        splits(part, inner, if levels < UNLIMITED { levels - 1 } else { levels }, path, list);
        path.pop();
    }
}

/// The tree with the block's children replaced by `laid`.
fn replaced(tree: &Cut, block: &Block, path: &[usize], laid: Cut) -> Option<Cut> {
    let Cut::Split(d, parts) = tree else { return None };
    let [at, path @ ..] = path else {
        let kept = parts.iter().enumerate().filter(|c| !block.chosen.contains(&c.0)).map(|c| c.1.clone());
        return Cut::part(*d, kept.chain([laid]).collect());
    };
    let mut parts = parts.clone();
    parts[*at] = replaced(&parts[*at], block, path, laid)?;
    Cut::part(*d, parts)
}
