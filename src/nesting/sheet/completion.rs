//! What a part of a layout can still come to: bounds of every way to go on from a build in the sheet's corner.
//!
//! For a build of extents (a, b), F(a, b) is the most that the rest of the sheet can add, copies unlimited, when the build
//! is grown by a neighbour along x or along y until it is the sheet (Viswanathan and Bagchi 1993; Cung, Hifi and Le Cun
//! 2000). With stages, F(d, j) is of a build that is cut along d and is the node with j stages left of the sheet's tree: it
//! grows along d only, by nodes with j - 1 stages, or is closed and becomes the first child of a node with j + 1.
//! At prices less multipliers F bounds the bounded problem too. Sizes rounded up keep it a bound.

use super::axis::{Axis, NONE};
use super::model::{Model, UNLIMITED, index};
use super::tables::{Run, Scratch};

/// Completion bounds of all kinds of builds; tables by size along x, then along y.
pub(super) struct Completion {
    ny: usize,
    /// By class of build.
    tables: Vec<Vec<i64>>,
    /// By direction, then stages that a build needs: its class. Empty when the only class serves all.
    classes: [Vec<Option<usize>>; 2],
}

impl Completion {
    /// Runs the programmes at `prices` by active piece.
    pub fn new(model: &Model, prices: &[i64], shift: u32, scratch: &mut Scratch) -> Self {
        let ny = model.axes[1].len();
        if model.frame.stages >= UNLIMITED {
            let tables = vec![any(model, shift, Run::new(model, prices, shift, scratch).table())];
            return Self { ny, tables, classes: [Vec::new(), Vec::new()] };
        }
        let stages = model.frame.stages;
        let exists = |d: usize, level: u32| match model.frame.first.map(index) {
            None => level <= stages,
            Some(f) if f == d => level <= stages && (stages - level).is_multiple_of(2),
            Some(_) => level < stages && (stages - 1 - level).is_multiple_of(2),
        };
        let mut run = Run::new(model, prices, shift, scratch);
        run.fill_levels();
        // Outer levels first: a closed build goes on as a child of the level above.
        let mut found: Vec<(usize, u32, Vec<i64>)> = Vec::new();
        for level in (1..=stages).rev() {
            for d in (0..2).filter(|&d| exists(d, level)) {
                let outer = found.iter().find(|t| t.0 == 1 - d && t.1 == level + 1).map(|t| turned(model, &t.2, 1 - d));
                let table = staged(model, &mut run, shift, (d, level, level == stages), outer.as_deref());
                found.push((d, level, table));
            }
        }
        let mut own = Self { ny, tables: Vec::new(), classes: [Vec::new(), Vec::new()] };
        for d in 0..2 {
            own.classes[d] = vec![None; stages as usize + 1];
            // A build may be a node of more stages than it needs, so the greatest bound of all those counts.
            for (_, level, table) in found.iter().filter(|t| t.0 == d) {
                let mut table = if d == 0 { table.clone() } else { turned(model, table, 1) };
                if let Some(above) = own.classes[d][0].map(|class| &own.tables[class]) {
                    table.iter_mut().zip(above).for_each(|(v, &t)| *v = (*v).max(t));
                }
                own.tables.push(table);
                own.classes[d][..=*level as usize].fill(Some(own.tables.len() - 1));
            }
        }
        own
    }

    /// The class of a build cut along `d` that needs `level` stages; `None` when the sheet has none for it.
    pub fn class(&self, d: usize, level: u32) -> Option<usize> {
        if self.classes[0].is_empty() { Some(0) } else { self.classes[d].get(level as usize).copied().flatten() }
    }

    /// The bound of a class at sizes (x, y).
    pub fn bound(&self, class: usize, x: usize, y: usize) -> i64 {
        self.tables[class][x * self.ny + y]
    }

    /// The bound of a single piece at sizes (x, y).
    pub fn piece(&self, x: usize, y: usize) -> i64 {
        (0..2).filter_map(|d| self.class(d, 1)).map(|c| self.bound(c, x, y)).max().unwrap_or(0)
    }
}

/// The first size that an extent is at most; `NONE` when it is longer than the sheet.
pub(super) fn group(axis: &Axis, extent: i64) -> u32 {
    if extent > axis.sizes[axis.root()] { NONE } else { axis.sizes.partition_point(|&s| s < extent) as u32 }
}

/// By size: (part added, size reached), the greatest part for each size reached.
fn growths(axis: &Axis) -> Vec<Vec<(usize, usize)>> {
    (0..axis.len())
        .map(|n| {
            let mut list: Vec<(usize, usize)> = Vec::new();
            for i in 1..axis.len() {
                let to = group(axis, axis.least[n] + axis.least[i]);
                if to == NONE {
                    break;
                }
                // Sizes are never further apart than the shortest piece (see `Patterns::chosen`).
                debug_assert!(to as usize > n);
                if list.last().is_some_and(|l| l.1 == to as usize) {
                    list.pop();
                }
                list.push((i, to as usize));
            }
            list
        })
        .collect()
}

/// Completion with any number of stages, from the values of all rectangles.
fn any(model: &Model, shift: u32, values: &[i64]) -> Vec<i64> {
    let [xs, ys] = &model.axes;
    let (nx, ny) = (xs.len(), ys.len());
    let (grow_x, grow_y) = (growths(xs), growths(ys));
    let credit_y: Vec<i64> = ys.least.iter().map(|&e| model.frame.credit(1, e) << shift).collect();
    let mut table = vec![0_i64; nx * ny];
    for x in (1..nx).rev() {
        let (head, done) = table.split_at_mut((x + 1) * ny);
        let line = &mut head[x * ny..];
        let credit = model.frame.credit(0, xs.least[x]) << shift;
        for (v, &c) in line.iter_mut().zip(&credit_y) {
            *v = credit.max(c);
        }
        if x + 1 < nx {
            line.iter_mut().zip(&done[..ny]).for_each(|(v, &d)| *v = (*v).max(d));
        }
        for &(i, to) in &grow_x[x] {
            let (later, part) = (&done[(to - x - 1) * ny..], &values[i * ny..]);
            for ((v, &f), &u) in line.iter_mut().zip(later).zip(part) {
                *v = (*v).max(f + u);
            }
        }
        let own = &values[x * ny..(x + 1) * ny];
        for y in (1..ny).rev() {
            let mut top = if y + 1 < ny { line[y].max(line[y + 1]) } else { line[y] };
            for &(j, to) in &grow_y[y] {
                top = top.max(line[to] + own[j]);
            }
            line[y] = top;
        }
    }
    table
}

/// Completion of builds cut along `d` at `level`, by size along, then across; `root` when the sheet itself is such a node.
fn staged(
    model: &Model,
    run: &mut Run,
    shift: u32,
    (d, level, root): (usize, u32, bool),
    outer: Option<&[i64]>,
) -> Vec<i64> {
    let (along, across) = (&model.axes[d], &model.axes[1 - d]);
    let (n_along, n_across) = (along.len(), across.len());
    // The sheet's own node is as broad as the sheet: its bound does not depend on the build's breadth.
    let from = if root { n_across - 1 } else { 0 };
    let grow = if level > 2 { growths(along) } else { Vec::new() };
    let parts = match level {
        1 | 2 => Vec::new(),
        _ if root => run.cap(1 - d, level - 1),
        _ => run.turned(1 - d, level - 1),
    };
    let mut table = vec![0_i64; n_along * n_across];
    for n in (1..n_along).rev() {
        let (head, done) = table.split_at_mut((n + 1) * n_across);
        let line = &mut head[n * n_across + from..];
        line.fill(model.frame.credit(d, along.least[n]) << shift);
        if n + 1 < n_along {
            line.iter_mut().zip(&done[from..]).for_each(|(v, &t)| *v = (*v).max(t));
        }
        if let Some(outer) = outer {
            line.iter_mut().zip(&outer[n * n_across + from..]).for_each(|(v, &t)| *v = (*v).max(t));
        }
        let later = |to: usize| &done[(to - n - 1) * n_across + from..(to - n) * n_across];
        match level {
            1 => {
                for (p, price) in run.candidates() {
                    let to = group(along, along.least[n] + p.extent[d]);
                    if to == NONE {
                        continue;
                    }
                    let holds = (across.holds[p.length[1 - d]] as usize).max(from) - from;
                    for (v, &f) in line.iter_mut().zip(later(to as usize)).skip(holds) {
                        *v = (*v).max(f + price);
                    }
                }
            }
            2 => {
                for (l, &length) in along.lengths.iter().enumerate() {
                    let to = group(along, along.least[n] + length);
                    if to == NONE {
                        break;
                    }
                    let row = &run.rows(1 - d)[l * n_across + from..];
                    for ((v, &f), &u) in line.iter_mut().zip(later(to as usize)).zip(row) {
                        *v = (*v).max(f + u);
                    }
                }
            }
            _ => {
                for &(i, to) in &grow[n] {
                    let part = if root { &parts[i..=i] } else { &parts[i * n_across..] };
                    for ((v, &f), &u) in line.iter_mut().zip(later(to)).zip(part) {
                        *v = (*v).max(f + u);
                    }
                }
            }
        }
        for c in (0..line.len() - 1).rev() {
            line[c] = line[c].max(line[c + 1]);
        }
        if root {
            let own = line[0];
            head[n * n_across..].fill(own);
        }
    }
    table
}

/// A table by size along `d`, then across, with its axes exchanged.
fn turned(model: &Model, table: &[i64], d: usize) -> Vec<i64> {
    let (n_along, n_across) = (model.axes[d].len(), model.axes[1 - d].len());
    let mut turned = vec![0; table.len()];
    for n in 0..n_along {
        for c in 0..n_across {
            turned[c * n_along + n] = table[n * n_across + c];
        }
    }
    turned
}
