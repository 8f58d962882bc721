//! The dynamic programmes of a sheet at given prices, copies unlimited but for scarce items within one row.
//!
//! Staged: with V(d, j; x, y) the best of a rectangle cut first along d in at most j stages, V(d, j) is a knapsack along d
//! of rectangles V(other, j - 1), pieces being trimmed free (Gilmore and Gomory 1965; Beasley 1985). Only the last stage is
//! wanted at the sheet's own size, so three stages need no table over both axes. Any number of stages: the recursion over
//! two-part cuts (Beasley 1985; Cintra, Miyazawa, Wakabayashi and Xavier 2008). With sizes rounded up the same programmes
//! bound every layout. A remnant is closed off along the direction of the outermost stage (see `model`).

use super::axis::{Axis, NONE};
use super::model::{Active, Model, UNLIMITED, index};
use super::tree::Cut;

/// Buffers kept between runs.
#[derive(Clone, Debug, Default)]
pub struct Scratch {
    /// Level 1 by direction: rows by breadth, then size along.
    rows: [Vec<i64>; 2],
    /// Levels 2 and more by direction, then size along, then size across.
    full: [Vec<Vec<i64>>; 2],
    /// Any number of stages: size along x, then along y.
    any: Vec<i64>,
}

/// The best outermost cut of a run.
#[derive(Clone, Copy, Debug)]
struct Best {
    value: i64,
    /// Direction, level and size along it; for any number of stages the direction that keeps a remnant.
    root: Option<(usize, u32, usize)>,
}

/// A run of the programmes on one model.
pub(super) struct Run<'a> {
    model: &'a Model,
    /// Price of each active piece.
    prices: &'a [i64],
    /// Factor of the credit (prices may be scaled).
    credit_shift: u32,
    scratch: &'a mut Scratch,
}

impl<'a> Run<'a> {
    /// `prices` by active piece; those not above 0 are left out.
    pub fn new(model: &'a Model, prices: &'a [i64], credit_shift: u32, scratch: &'a mut Scratch) -> Self {
        Self { model, prices, credit_shift, scratch }
    }

    /// The best value at the sheet's size, credit included, and a tree that has it (in the model's sizes).
    pub fn best(&mut self) -> (i64, Option<Cut>) {
        let best = self.solve();
        let tree = best.root.and_then(|(d, level, n)| self.trace_root(d, level, n));
        (best.value, tree)
    }

    /// Level 1 along `d`: by breadth, then size.
    pub fn rows(&self, d: usize) -> &[i64] {
        &self.scratch.rows[d]
    }

    fn len(&self, d: usize) -> usize {
        self.model.axes[d].len()
    }

    /// Fills the tables and takes the best root.
    fn solve(&mut self) -> Best {
        let mut best = Best { value: 0, root: None };
        if self.model.pieces.is_empty() {
            return best;
        }
        let stages = self.model.frame.stages;
        if stages >= UNLIMITED {
            self.fill_any();
            let ny = self.len(1);
            for d in 0..2 {
                let edge: Vec<i64> = match d {
                    0 => (0..self.len(0)).map(|x| self.scratch.any[x * ny + ny - 1]).collect(),
                    _ => self.scratch.any[(self.len(0) - 1) * ny..].to_vec(),
                };
                self.take(&mut best, d, UNLIMITED, &edge);
            }
            return best;
        }
        self.fill_levels();
        let roots = match self.model.frame.first.map(index) {
            None => vec![(0, stages), (1, stages)],
            Some(d) if stages >= 2 => vec![(d, stages), (1 - d, stages - 1)],
            Some(d) => vec![(d, stages)],
        };
        for (d, level) in roots {
            let edge = self.edge(d, level);
            self.take(&mut best, d, level, &edge);
        }
        best
    }

    /// Fills the tables of all stages but the two outermost, which are wanted at the sheet's own extents only.
    pub fn fill_levels(&mut self) {
        self.fill_rows();
        for level in 2..self.model.frame.stages.saturating_sub(1) {
            for d in 0..2 {
                self.fill_full(d, level);
            }
        }
    }

    /// Compares a root's edge, with and without a remnant behind it, with the best.
    fn take(&self, best: &mut Best, d: usize, level: u32, edge: &[i64]) {
        let axis = &self.model.axes[d];
        if edge[axis.root()] > best.value {
            *best = Best { value: edge[axis.root()], root: Some((d, level, axis.root())) };
        }
        for (n, &value) in edge.iter().enumerate() {
            if value <= 0 {
                continue;
            }
            let credit = self.model.frame.credit(d, axis.least[n]) << self.credit_shift;
            if credit > 0 && value + credit > best.value {
                *best = Best { value: value + credit, root: Some((d, level, n)) };
            }
        }
    }

    /// Level 1: one row of pieces along `d` for every breadth a piece has.
    fn fill_rows(&mut self) {
        for d in 0..2 {
            let mut rows = std::mem::take(&mut self.scratch.rows[d]);
            rows.clear();
            let plenty = self.plenty(d);
            for breadth in 0..self.model.axes[1 - d].lengths.len() {
                let mut row = plain_row(&self.model.axes[d], &self.best_prices(d, breadth, &plenty));
                for scarce in 0..self.model.scarce[d].len() {
                    for layer in self.layers(d, breadth, scarce, &row) {
                        row.iter_mut().zip(&layer).for_each(|(v, &l)| *v = (*v).max(l));
                    }
                }
                rows.extend_from_slice(&row);
            }
            self.scratch.rows[d] = rows;
        }
    }

    /// By active piece: it may fill a row along `d` as far as its copies go.
    fn plenty(&self, d: usize) -> Vec<bool> {
        let mut plenty = vec![true; self.model.pieces.len()];
        self.model.scarce[d].iter().flat_map(|s| &s.1).for_each(|&n| plenty[n] = false);
        plenty
    }

    /// By length along `d`: the best price of the pieces of plenty that are no broader.
    fn best_prices(&self, d: usize, breadth: usize, plenty: &[bool]) -> Vec<i64> {
        let mut best = vec![0; self.model.axes[d].lengths.len()];
        for (n, p) in self.model.pieces.iter().enumerate() {
            if plenty[n] && p.length[1 - d] <= breadth {
                best[p.length[d]] = best[p.length[d]].max(self.prices[n]);
            }
        }
        best
    }

    /// Rows with one, two, ... copies of a scarce item on top of `row`.
    fn layers(&self, d: usize, breadth: usize, scarce: usize, row: &[i64]) -> Vec<Vec<i64>> {
        let axis = &self.model.axes[d];
        let mut layers: Vec<Vec<i64>> = Vec::new();
        for _ in 0..self.model.scarce[d][scarce].0 {
            let below = layers.last().map_or(row, Vec::as_slice);
            // A size that holds no further copy has the least value, so that it is never taken for one that does.
            let mut layer = vec![i64::MIN / 4; row.len()];
            let mut any = false;
            for (p, price) in self.scarce_pieces(d, breadth, scarce) {
                for (n, v) in layer.iter_mut().enumerate() {
                    let rest = axis.after(p.length[d], n);
                    if rest != NONE {
                        any = true;
                        *v = (*v).max(below[rest as usize] + price);
                    }
                }
            }
            if !any {
                break;
            }
            layers.push(layer);
        }
        layers
    }

    /// The pieces of a scarce item that are no broader and have a price.
    fn scarce_pieces(&self, d: usize, breadth: usize, scarce: usize) -> impl Iterator<Item = (Active, i64)> + '_ {
        let own = self.model.scarce[d][scarce].1.iter();
        own.map(|&n| (self.model.pieces[n], self.prices[n]))
            .filter(move |(p, price)| p.length[1 - d] <= breadth && *price > 0)
    }

    /// Level 1 along `d`: the best row in a rectangle `across` broad, `along` long.
    fn row(&self, d: usize, along: usize, across: usize) -> (i64, Option<usize>) {
        let axis = &self.model.axes[1 - d];
        let breadth = axis.holds.partition_point(|&h| h as usize <= across);
        match breadth.checked_sub(1) {
            Some(b) => (self.scratch.rows[d][b * self.len(d) + along], Some(b)),
            None => (0, None),
        }
    }

    /// Level 2 or more along `d` over all sizes.
    fn fill_full(&mut self, d: usize, level: u32) {
        let (n_along, n_across) = (self.len(d), self.len(1 - d));
        let at = level as usize - 2;
        let mut full = std::mem::take(&mut self.scratch.full[d]);
        if full.len() <= at {
            full.resize(at + 1, Vec::new());
        }
        let mut table = std::mem::take(&mut full[at]);
        table.clear();
        table.resize(n_along * n_across, 0);
        self.scratch.full[d] = full;
        let along = &self.model.axes[d];
        let nothing = vec![0; n_across];
        let segments = if level > 2 { self.turned(1 - d, level - 1) } else { Vec::new() };
        for n in 1..n_along {
            let (done, rest) = table.split_at_mut(n * n_across);
            let line = &mut rest[..n_across];
            line.copy_from_slice(&done[(n - 1) * n_across..]);
            if level == 2 {
                for length in 0..along.lengths.len() {
                    let left = along.after(length, n);
                    if left == NONE {
                        break;
                    }
                    let row = &self.scratch.rows[1 - d][length * n_across..(length + 1) * n_across];
                    raise(line, &done[left as usize * n_across..], row);
                }
            } else {
                raise(line, &nothing, &segments[n * n_across..]);
                for &(i, j) in along.pairs(n) {
                    let (i, j) = (i as usize * n_across, j as usize * n_across);
                    raise(line, &done[i..], &segments[j..j + n_across]);
                    raise(line, &done[j..], &segments[i..i + n_across]);
                }
            }
        }
        self.scratch.full[d][at] = table;
    }

    /// The table of (d, level) with its two axes exchanged.
    pub fn turned(&self, d: usize, level: u32) -> Vec<i64> {
        let (n_along, n_across) = (self.len(d), self.len(1 - d));
        let table = &self.scratch.full[d][level as usize - 2];
        let mut turned = vec![0; table.len()];
        for n in 0..n_along {
            for c in 0..n_across {
                turned[c * n_along + n] = table[n * n_across + c];
            }
        }
        turned
    }

    /// V(d, level) at every size across, at the sheet's full extent along `d`.
    pub fn cap(&mut self, d: usize, level: u32) -> Vec<i64> {
        let n_across = self.len(1 - d);
        match level {
            1 => (0..n_across).map(|c| self.row(d, self.len(d) - 1, c).0).collect(),
            2 => self.cap_two(d),
            _ => {
                self.fill_full(d, level);
                let table = &self.scratch.full[d][level as usize - 2];
                table[table.len() - n_across..].to_vec()
            }
        }
    }

    /// Level 2 at the sheet's full extent, block by block across so that the block stays in the cache.
    fn cap_two(&self, d: usize) -> Vec<i64> {
        const BLOCK: usize = 128;
        let (along, n_across) = (&self.model.axes[d], self.len(1 - d));
        let mut cap = vec![0; n_across];
        let mut table = vec![0_i64; along.len() * BLOCK];
        for from in (0..n_across).step_by(BLOCK) {
            let width = BLOCK.min(n_across - from);
            table[..width].fill(0);
            for n in 1..along.len() {
                let (done, rest) = table.split_at_mut(n * BLOCK);
                let line = &mut rest[..width];
                line.copy_from_slice(&done[(n - 1) * BLOCK..(n - 1) * BLOCK + width]);
                for length in 0..along.lengths.len() {
                    let left = along.after(length, n);
                    if left == NONE {
                        break;
                    }
                    let row = &self.scratch.rows[1 - d][length * n_across + from..];
                    raise(line, &done[left as usize * BLOCK..], row);
                }
            }
            let last = along.root() * BLOCK;
            cap[from..from + width].copy_from_slice(&table[last..last + width]);
        }
        cap
    }

    /// V(d, level) at every size along `d`, at the sheet's full extent across.
    fn edge(&mut self, d: usize, level: u32) -> Vec<i64> {
        let root = self.len(1 - d) - 1;
        match level {
            1 => (0..self.len(d)).map(|n| self.row(d, n, root).0).collect(),
            2 => self.knapsack(d, &self.columns(d, root)),
            _ => {
                let segments = self.cap(1 - d, level - 1);
                self.chain(d, &segments)
            }
        }
    }

    /// Level-1 rows of the other direction by piece length, at size `across` of their own length.
    fn columns(&self, d: usize, across: usize) -> Vec<i64> {
        let n_across = self.len(1 - d);
        (0..self.model.axes[d].lengths.len()).map(|l| self.scratch.rows[1 - d][l * n_across + across]).collect()
    }

    /// Knapsack along `d` of segments as long as the pieces.
    fn knapsack(&self, d: usize, values: &[i64]) -> Vec<i64> {
        let axis = &self.model.axes[d];
        let mut best = vec![0; axis.len()];
        for n in 1..axis.len() {
            let mut top = best[n - 1];
            for (length, &value) in values.iter().enumerate() {
                let left = axis.after(length, n);
                if left == NONE {
                    break;
                }
                top = top.max(best[left as usize] + value);
            }
            best[n] = top;
        }
        best
    }

    /// Knapsack along `d` of segments of any size.
    fn chain(&self, d: usize, segments: &[i64]) -> Vec<i64> {
        let axis = &self.model.axes[d];
        let mut best = vec![0; axis.len()];
        for n in 1..axis.len() {
            let mut top = best[n - 1].max(segments[n]);
            for &(i, j) in axis.pairs(n) {
                let (i, j) = (i as usize, j as usize);
                top = top.max(best[i] + segments[j]).max(best[j] + segments[i]);
            }
            best[n] = top;
        }
        best
    }

    /// Any number of stages.
    fn fill_any(&mut self) {
        let (nx, ny) = (self.len(0), self.len(1));
        let [xs, ys] = &self.model.axes;
        let mut table = std::mem::take(&mut self.scratch.any);
        table.clear();
        table.resize(nx * ny, 0);
        for x in 1..nx {
            let (done, rest) = table.split_at_mut(x * ny);
            let line = &mut rest[..ny];
            line.copy_from_slice(&done[(x - 1) * ny..]);
            for (p, &price) in self.model.pieces.iter().zip(self.prices) {
                if xs.holds[p.length[0]] as usize == x {
                    let from = ys.holds[p.length[1]] as usize;
                    line[from..].iter_mut().for_each(|v| *v = (*v).max(price));
                }
            }
            for &(i, j) in xs.pairs(x) {
                raise(line, &done[i as usize * ny..], &done[j as usize * ny..]);
            }
            for y in 1..ny {
                let mut top = line[y].max(line[y - 1]);
                for &(i, j) in ys.pairs(y) {
                    top = top.max(line[i as usize] + line[j as usize]);
                }
                line[y] = top;
            }
        }
        self.scratch.any = table;
    }

    /// The values of a run with any number of stages, by size along x, then y.
    pub fn table(&mut self) -> &[i64] {
        self.solve();
        &self.scratch.any
    }

    fn trace_root(&mut self, d: usize, level: u32, n: usize) -> Option<Cut> {
        let root = self.len(1 - d) - 1;
        match level {
            UNLIMITED if d == 0 => self.trace_any(n, root),
            UNLIMITED => self.trace_any(root, n),
            1 => self.row(d, n, root).1.and_then(|b| self.trace_row(d, b, n)),
            2 => {
                let columns = self.columns(d, root);
                let parts = self.walk(d, &columns, n);
                Cut::part(d, parts.into_iter().filter_map(|l| self.trace_row(1 - d, l, root)).collect())
            }
            _ => {
                let segments = self.cap(1 - d, level - 1);
                let best = self.chain(d, &segments);
                let parts = self.walk_pairs(d, n, |i| best[i], |i| segments[i]);
                Cut::part(d, parts.into_iter().filter_map(|i| self.trace_cap(1 - d, level - 1, i)).collect())
            }
        }
    }

    /// V(d, level) at full extent along `d`, size `across` across.
    fn trace_cap(&self, d: usize, level: u32, across: usize) -> Option<Cut> {
        let along = self.len(d) - 1;
        if level > 2 {
            return self.trace_full(d, level, along, across);
        }
        let columns = self.columns(d, across);
        let parts = self.walk(d, &columns, along);
        Cut::part(d, parts.into_iter().filter_map(|l| self.trace_row(1 - d, l, across)).collect())
    }

    fn trace_full(&self, d: usize, level: u32, along: usize, across: usize) -> Option<Cut> {
        if level == 2 {
            let parts = self.walk(d, &self.columns(d, across), along);
            return Cut::part(d, parts.into_iter().filter_map(|l| self.trace_row(1 - d, l, across)).collect());
        }
        let n_across = self.len(1 - d);
        let (own, below) = (&self.scratch.full[d][level as usize - 2], &self.scratch.full[1 - d][level as usize - 3]);
        let n_along = self.len(d);
        let parts = self.walk_pairs(d, along, |i| own[i * n_across + across], |i| below[across * n_along + i]);
        Cut::part(d, parts.into_iter().filter_map(|i| self.trace_full(1 - d, level - 1, across, i)).collect())
    }

    /// The piece lengths of a best knapsack of size `n`.
    fn walk(&self, d: usize, values: &[i64], n: usize) -> Vec<usize> {
        let axis = &self.model.axes[d];
        let best = self.knapsack(d, values);
        let (mut n, mut parts) = (n, Vec::new());
        while best[n] > 0 {
            if best[n - 1] == best[n] {
                n -= 1;
                continue;
            }
            let found = values.iter().enumerate().find_map(|(length, &value)| {
                let left = axis.after(length, n);
                (left != NONE && best[left as usize] + value == best[n]).then_some((length, left as usize))
            });
            let (length, left) = found.expect("a value above its neighbour's comes from a cut");
            parts.push(length);
            n = left;
        }
        parts
    }

    /// The segment sizes of a best chain of size `n`.
    fn walk_pairs(
        &self,
        d: usize,
        n: usize,
        best: impl Fn(usize) -> i64,
        segment: impl Fn(usize) -> i64,
    ) -> Vec<usize> {
        let axis = &self.model.axes[d];
        let (mut n, mut parts) = (n, Vec::new());
        while best(n) > 0 {
            if best(n - 1) == best(n) {
                n -= 1;
                continue;
            }
            if segment(n) == best(n) {
                parts.push(n);
                break;
            }
            let found = axis.pairs(n).iter().find_map(|&(i, j)| {
                let (i, j) = (i as usize, j as usize);
                if best(i) + segment(j) == best(n) {
                    Some((j, i))
                } else {
                    (best(j) + segment(i) == best(n)).then_some((i, j))
                }
            });
            let (part, left) = found.expect("a value above its neighbour's comes from a cut");
            parts.push(part);
            n = left;
        }
        parts
    }

    /// A best row of breadth `breadth`, size `n`.
    fn trace_row(&self, d: usize, breadth: usize, n: usize) -> Option<Cut> {
        let axis = &self.model.axes[d];
        let plenty = self.plenty(d);
        let mut rows = vec![plain_row(axis, &self.best_prices(d, breadth, &plenty))];
        let mut layers = Vec::new();
        for scarce in 0..self.model.scarce[d].len() {
            let below = rows.last().expect("the plain row is first");
            let own = self.layers(d, breadth, scarce, below);
            let mut row = below.clone();
            own.iter().for_each(|layer| row.iter_mut().zip(layer).for_each(|(v, &l)| *v = (*v).max(l)));
            rows.push(row);
            layers.push(own);
        }
        let (mut n, mut parts) = (n, Vec::new());
        for scarce in (0..layers.len()).rev() {
            let (value, below) = (rows[scarce + 1][n], &rows[scarce]);
            if value == below[n] {
                continue;
            }
            let copies = layers[scarce].iter().position(|l| l[n] == value).expect("the value is some layer's");
            for copy in (0..=copies).rev() {
                let under = if copy == 0 { below } else { &layers[scarce][copy - 1] };
                let found = self.scarce_pieces(d, breadth, scarce).find_map(|(p, price)| {
                    let left = axis.after(p.length[d], n);
                    (left != NONE && under[left as usize] + price == layers[scarce][copy][n])
                        .then_some((p, left as usize))
                });
                let (piece, left) = found.expect("a layer's value comes from one more copy");
                parts.push(Cut::Piece(piece));
                n = left;
            }
        }
        let row = &rows[0];
        while row[n] > 0 {
            if row[n - 1] == row[n] {
                n -= 1;
                continue;
            }
            let found = self.model.pieces.iter().enumerate().find_map(|(k, &p)| {
                let left = axis.after(p.length[d], n);
                let fits = plenty[k] && self.prices[k] > 0 && p.length[1 - d] <= breadth && left != NONE;
                (fits && row[left as usize] + self.prices[k] == row[n]).then_some((p, left as usize))
            });
            let (piece, left) = found.expect("a value above its neighbour's comes from a piece");
            parts.push(Cut::Piece(piece));
            n = left;
        }
        Cut::part(d, parts)
    }

    /// The pieces with a positive price.
    pub fn candidates(&self) -> impl Iterator<Item = (Active, i64)> + '_ {
        self.model.pieces.iter().copied().zip(self.prices.iter().copied()).filter(|&(_, price)| price > 0)
    }

    fn trace_any(&self, x: usize, y: usize) -> Option<Cut> {
        let ny = self.len(1);
        let at = |x: usize, y: usize| self.scratch.any[x * ny + y];
        let (mut x, mut y) = (x, y);
        let value = at(x, y);
        if value <= 0 {
            return None;
        }
        while at(x - 1, y) == value {
            x -= 1;
        }
        while at(x, y - 1) == value {
            y -= 1;
        }
        let [xs, ys] = &self.model.axes;
        let single = self.candidates().find(|(p, price)| {
            *price == value && xs.holds[p.length[0]] as usize <= x && ys.holds[p.length[1]] as usize <= y
        });
        if let Some((piece, _)) = single {
            return Some(Cut::Piece(piece));
        }
        let across = xs.pairs(x).iter().find(|&&(i, j)| at(i as usize, y) + at(j as usize, y) == value);
        let (d, parts) = match across {
            Some(&(i, j)) => (0, [self.trace_any(i as usize, y), self.trace_any(j as usize, y)]),
            None => {
                let found = ys.pairs(y).iter().find(|&&(i, j)| at(x, i as usize) + at(x, j as usize) == value);
                let &(i, j) = found.expect("a value above its neighbours' comes from a cut");
                (1, [self.trace_any(x, i as usize), self.trace_any(x, j as usize)])
            }
        };
        Cut::part(d, parts.into_iter().flatten().collect())
    }
}

/// Knapsack of pieces by best price of each length, copies unlimited.
fn plain_row(axis: &Axis, prices: &[i64]) -> Vec<i64> {
    let mut row = vec![0_i64; axis.len()];
    for n in 1..axis.len() {
        let mut top = row[n - 1];
        for (length, &value) in prices.iter().enumerate() {
            let rest = axis.after(length, n);
            if rest == NONE {
                break;
            }
            if value > 0 {
                top = top.max(row[rest as usize] + value);
            }
        }
        row[n] = top;
    }
    row
}

/// line = max(line, a + b), element by element.
fn raise(line: &mut [i64], a: &[i64], b: &[i64]) {
    for ((v, &a), &b) in line.iter_mut().zip(a).zip(b) {
        *v = (*v).max(a + b);
    }
}
