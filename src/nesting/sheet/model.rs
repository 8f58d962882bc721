//! A sheet made ready for the dynamic programmes: kerf folded into extents, sizes chosen on both axes, credit by size.
//!
//! Folding: a layout with kerfs (kx, ky) in L x W is one without in (L + kx) x (W + ky) with every piece grown by the kerfs,
//! for the saw may run off the edge of a last trim. Holds no values of pieces and no layout.

use super::axis::{Axis, Patterns, Rounding};
use crate::nesting::problem::{Credit, Direction, SheetStock};

/// Stages that no layout can use up.
pub(super) const UNLIMITED: u32 = u32::MAX / 4;

/// Steps one run of the dynamic programme may take before sizes are thinned.
pub const DEFAULT_STEPS: u64 = 300_000_000;

/// Most copies that are counted row by row; more count as plenty, which only loosens the bound of a row.
const SCARCE: u32 = 16;

/// A piece that may be used in this model.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Active {
    /// Index into the sheet's `pieces`.
    pub piece: usize,
    pub item: usize,
    /// Extents by direction, kerf included.
    pub extent: [i64; 2],
    /// Indices into the `lengths` of the two axes.
    pub length: [usize; 2],
}

/// The numbers of a sheet that do not depend on which pieces are wanted.
#[derive(Clone, Debug)]
pub(super) struct Frame {
    /// Usable extents by direction, kerf included.
    pub space: [i64; 2],
    /// Full extents of the sheet.
    pub full: [i64; 2],
    pub trim: i64,
    pub kerf: [i64; 2],
    /// `UNLIMITED` for any number.
    pub stages: u32,
    pub first: Option<Direction>,
    pub credit: Option<Credit>,
}

impl Frame {
    /// Takes the sheet's numbers.
    pub fn new(sheet: &SheetStock, credit: Option<&Credit>) -> Self {
        let kerf = [sheet.kerf.cross, sheet.kerf.rip];
        Self {
            space: [sheet.length - 2 * sheet.trim + kerf[0], sheet.width - 2 * sheet.trim + kerf[1]],
            full: [sheet.length, sheet.width],
            trim: sheet.trim,
            kerf,
            stages: if sheet.stages == 0 { UNLIMITED } else { sheet.stages },
            first: if sheet.stages == 0 { None } else { sheet.first },
            credit: credit.cloned(),
        }
    }

    /// Extents along `d` of the credited remnants beside a layout of that extent (kerf included), at the lower end and at the
    /// upper: one at the upper end (and 0), or two, which save a trim at the price of a kerf. `None` when none earns.
    pub fn remnants(&self, d: usize, extent: i64) -> Option<(i64, i64)> {
        let credit = self.credit.as_ref().filter(|credit| credit.rate_denominator > 0)?;
        let least = [credit.min_length, credit.min_width];
        if self.full[1 - d] < least[1 - d] {
            return None;
        }
        let one = self.full[d] - self.trim - extent;
        let two = self.full[d] - self.kerf[d] - extent;
        // Pieces beside a remnant keep out of the trim too.
        let lower = least[d].max(self.trim - self.kerf[d]).max(1);
        if two > one && two >= 2 * lower {
            Some((lower, two - lower))
        } else {
            (one >= least[d].max(1)).then_some((0, one))
        }
    }

    /// Credit of the remnants that are left along `d` beside a layout of that extent (kerf included), micro-units rounded
    /// down.
    pub fn credit(&self, d: usize, extent: i64) -> i64 {
        let (Some(credit), Some((lower, upper))) = (&self.credit, self.remnants(d, extent)) else { return 0 };
        let area = i128::from(lower + upper) * i128::from(self.full[1 - d]);
        i64::try_from((area * credit.rate_numerator).div_euclid(credit.rate_denominator)).unwrap_or(i64::MAX).max(0)
    }

    /// Stages a tree needs that begins with direction `d` and changes direction `depth - 1` times; a fixed first stage that
    /// parts nothing counts.
    pub fn stages_needed(&self, d: usize, depth: u32) -> u32 {
        depth + u32::from(depth > 0 && self.first.is_some_and(|f| index(f) != d))
    }
}

/// 0 for cross cuts (pieces differ in x), 1 for rips.
pub(super) fn index(direction: Direction) -> usize {
    match direction {
        Direction::Cross => 0,
        Direction::Rip => 1,
    }
}

/// The inverse of [`index`].
pub(super) fn direction(d: usize) -> Direction {
    if d == 0 { Direction::Cross } else { Direction::Rip }
}

/// A frame with the pieces in play and the sizes of both axes.
#[derive(Clone, Debug)]
pub(super) struct Model {
    pub frame: Frame,
    pub pieces: Vec<Active>,
    pub axes: [Axis; 2],
    /// By direction: the pieces whose copies are too few to fill a row, by item: (copies, indices into `pieces`).
    pub scarce: [Vec<(u32, Vec<usize>)>; 2],
}

impl Model {
    /// The pieces of `sheet` with copies left by `copies[item]` that fit the sheet.
    pub fn pieces(sheet: &SheetStock, frame: &Frame, copies: &dyn Fn(usize) -> u32) -> Vec<Active> {
        let mut list = Vec::new();
        for (piece, p) in sheet.pieces.iter().enumerate() {
            let extent = [p.length + frame.kerf[0], p.width + frame.kerf[1]];
            if extent[0] <= frame.space[0] && extent[1] <= frame.space[1] && copies(p.item) > 0 {
                list.push(Active { piece, item: p.item, extent, length: [0, 0] });
            }
        }
        list
    }

    /// The model rounded down and, where sizes are thinned, the one rounded up; as [`Model::new`].
    pub fn roundings(
        frame: &Frame,
        pieces: Vec<Active>,
        copies: &dyn Fn(usize) -> u32,
        steps: u64,
    ) -> (Self, Option<Self>) {
        let low = Self::new(frame, pieces.clone(), copies, steps, Rounding::Down);
        let high = (!low.exact()).then(|| Self::new(frame, pieces, copies, steps, Rounding::Up));
        (low, high)
    }

    /// Builds the axes; `copies[item]` bounds how often an extent can be added up. Sizes are thinned until a run takes about
    /// `steps` steps.
    pub fn new(
        frame: &Frame,
        pieces: Vec<Active>,
        copies: &dyn Fn(usize) -> u32,
        steps: u64,
        rounding: Rounding,
    ) -> Self {
        let mut pieces = pieces;
        let mut patterns = Vec::new();
        let mut lengths = Vec::new();
        for d in 0..2 {
            let mut extents: Vec<(i64, u32)> = Vec::new();
            for p in &pieces {
                let fits = u32::try_from(frame.space[d] / p.extent[d]).unwrap_or(u32::MAX);
                extents.push((p.extent[d], copies(p.item).min(fits)));
            }
            let mut distinct: Vec<i64> = extents.iter().map(|e| e.0).collect();
            distinct.sort_unstable();
            distinct.dedup();
            for p in &mut pieces {
                p.length[d] = distinct.partition_point(|&l| l < p.extent[d]);
            }
            patterns.push(Patterns::new(frame.space[d], &merged(&extents)));
            lengths.push(distinct);
        }
        let most = thinned(
            [patterns[0].count(), patterns[1].count()],
            [lengths[0].len(), lengths[1].len()],
            frame.stages,
            steps,
        );
        let pairs = frame.stages >= 3;
        let axis = |d: usize| Axis::new(&patterns[d], lengths[d].clone(), most[d], rounding, pairs);
        let axes = [axis(0), axis(1)];
        let scarce = [0, 1].map(|d| scarce(frame.space[d], d, &pieces, copies));
        Self { frame: frame.clone(), pieces, axes, scarce }
    }

    /// True when nothing was thinned.
    pub fn exact(&self) -> bool {
        self.axes[0].exact && self.axes[1].exact
    }
}

/// Items whose copies cannot fill `space` along `d`, with their pieces.
fn scarce(space: i64, d: usize, pieces: &[Active], copies: &dyn Fn(usize) -> u32) -> Vec<(u32, Vec<usize>)> {
    let mut items: Vec<usize> = pieces.iter().map(|p| p.item).collect();
    items.sort_unstable();
    items.dedup();
    let mut list = Vec::new();
    for item in items {
        let own: Vec<usize> = (0..pieces.len()).filter(|&n| pieces[n].item == item).collect();
        let fits = own.iter().map(|&n| space / pieces[n].extent[d]).max().unwrap_or(0);
        if i64::from(copies(item)) < fits && copies(item) <= SCARCE {
            list.push((copies(item), own));
        }
    }
    list
}

/// Copies of equal extents added up.
fn merged(extents: &[(i64, u32)]) -> Vec<(i64, u32)> {
    let mut sorted = extents.to_vec();
    sorted.sort_unstable();
    let mut list: Vec<(i64, u32)> = Vec::new();
    for (extent, copies) in sorted {
        match list.last_mut() {
            Some(last) if last.0 == extent => last.1 = last.1.saturating_add(copies),
            _ => list.push((extent, copies)),
        }
    }
    list
}

/// Sizes to keep on each axis so that a run takes about `steps` steps.
fn thinned(counts: [usize; 2], lengths: [usize; 2], stages: u32, steps: u64) -> [usize; 2] {
    let work = |n: [usize; 2]| -> u128 {
        let (x, y) = (n[0] as u128, n[1] as u128);
        match stages {
            1 | 2 => x * lengths[0] as u128 + y * lengths[1] as u128,
            3 => x * y * (lengths[0] + lengths[1]) as u128 + 4 * (x * x + y * y),
            _ => x * y * (x + y) / 4,
        }
    };
    let mut most = counts.map(|c| c.min(1 << 21));
    while work(most) > u128::from(steps) && most.iter().any(|&m| m > 16) {
        let d = usize::from(most[1] > most[0]);
        most[d] = most[d] * 15 / 16;
    }
    most
}
