//! One board on its working grid: strip bases, rows and section classes, prepared once for every price vector.
//!
//! A *row* is what a strip can hold: cuttings, each with the cells where it may start. Strips of many bases and widths
//! share one row. A *base* is a y at which a strip may start. Cells count from the trimmed left end; the end of a piece is
//! counted with its kerf, so that a piece that ends in cell q lets its neighbour start in cell q.
//!
//! A [`Side::Bound`] model holds an image of every lawful layout (a position is mapped to the cell it lies in), a
//! [`Side::Plan`] model only lawful layouts (a position is the cell's left end); `Side::Both` is both at once.

use std::hash::Hash;

use rustc_hash::{FxHashMap, FxHashSet};

use super::family::{Families, Run};
use super::grid::{Grid, ceil_div};
use crate::nesting::problem::{BoardStock, Cutting, SectionClass};

/// How strip bases are found.
#[derive(Clone, Copy, Debug)]
pub(super) struct BaseLimits {
    /// Most bases a class before they are taken from a lattice.
    pub most: usize,
    /// Bases of that lattice.
    pub lattice: i64,
}

impl Default for BaseLimits {
    fn default() -> Self {
        BaseLimits { most: 400, lattice: 256 }
    }
}

/// Which way lengths off the grid are rounded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Side {
    /// Nothing that decides a position is rounded.
    Both,
    /// Towards the wood.
    Bound,
    /// Against it.
    Plan,
}

#[derive(Clone, Debug)]
pub(super) struct Model {
    pub side: Side,
    pub step: i64,
    limits: BaseLimits,
    /// Last cell a section, its kerf counted, may end in.
    pub last: usize,
    /// Cells of a cutting with its kerf.
    pub steps: Vec<usize>,
    /// Ranges of cells (half open) where a blank may start, ascending.
    pub patterns: Vec<Vec<(u32, u32)>>,
    pub rows: Vec<Row>,
    pub classes: Vec<ClassModel>,
    /// Shortest piece of board from a section's start to its neighbour's that can hold anything; `None` when nothing fits.
    pub shortest_section: Option<usize>,
    /// Cuttings that differ in width alone.
    pub families: Families,
}

/// What a strip can hold.
#[derive(Clone, Debug)]
pub(super) struct Row {
    pub parts: Vec<RowPart>,
}

#[derive(Clone, Debug)]
pub(super) struct RowPart {
    /// The widest of `run`.
    pub cutting: usize,
    /// It and narrower ones of its family that may start in just the same cells.
    pub run: Run,
    pub pattern: usize,
    /// Positions in `parts` of those that fit wherever this one does and are no longer, ascending.
    pub covers: Vec<u16>,
}

/// A section class in cells; lengths are counted from the section's start to where its neighbour may start.
#[derive(Clone, Debug)]
pub(super) struct ClassModel {
    pub margin: usize,
    /// Lengths that an image of a lawful section may have.
    pub wide: (usize, usize),
    /// Lengths that are lawful for certain.
    pub sure: (usize, usize),
    /// Up to this length another class is at least as good.
    pub useful_above: usize,
    /// Ascending.
    pub bases: Vec<Base>,
    /// Strips of base i: `ops[starts[i]..starts[i + 1]]`, ascending in width.
    pub ops: Vec<Op>,
    pub starts: Vec<usize>,
}

/// The y of a strip: one value, or a cell of the lattice.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) struct Base {
    pub from: i64,
    pub to: i64,
}

/// A strip: its kind in the class, its row, and the base of the next.
#[derive(Clone, Copy, Debug)]
pub(super) struct Op {
    pub strip: usize,
    pub row: usize,
    pub next: usize,
}

/// Whether the strip bases of all classes are few enough to be taken as they are.
pub(super) fn bases_are_exact(board: &BoardStock, limits: BaseLimits) -> bool {
    board.classes.iter().all(|class| closed_bases(board, class, limits).is_some())
}

impl Model {
    pub fn new(board: &BoardStock, grid: Grid, side: Side, limits: BaseLimits) -> Model {
        let step = grid.step;
        let room = board.length - 2 * board.end_trim;
        let last = if room < 0 { 0 } else { (room + board.kerf_cross) / step };
        let steps = board.cuttings.iter().map(|c| round(c.length + board.kerf_cross, step, side) as usize).collect();
        let mut model = Model {
            side,
            step,
            limits,
            last: last as usize,
            steps,
            patterns: vec![],
            rows: vec![],
            classes: vec![],
            shortest_section: None,
            families: Families::of(board),
        };
        let mut interned = Interned::default();
        for (index, class) in board.classes.iter().enumerate() {
            let class = model.class(board, class, index, &mut interned);
            model.classes.push(class);
        }
        model.patterns = interned.patterns.list;
        model.compare_row_parts();
        model.shortest_section = model.find_shortest_section();
        model
    }

    fn find_shortest_section(&self) -> Option<usize> {
        let of_row = |row: &Row| row.parts.iter().map(|part| self.steps[part.cutting]).min();
        let of_rows: Vec<Option<usize>> = self.rows.iter().map(of_row).collect();
        let one = |class: &ClassModel| {
            let shortest = class.ops.iter().filter_map(|op| of_rows[op.row]).min()?;
            Some((2 * class.margin + shortest).max(class.wide.0))
        };
        self.classes.iter().filter_map(one).min()
    }

    fn class(&mut self, board: &BoardStock, class: &SectionClass, index: usize, interned: &mut Interned) -> ClassModel {
        let (step, side) = (self.step, self.side);
        let (shortest, longest) = (class.min_length + board.kerf_cross, class.max_length + board.kerf_cross);
        let sure = (ceil_div(shortest, step).max(0) as usize, longest.div_euclid(step).max(0) as usize);
        let wide = (shortest.div_euclid(step).max(0) as usize, ceil_div(longest, step).max(0) as usize);
        let (wide, sure) = match side {
            Side::Both => (wide, sure),
            Side::Bound => (wide, wide),
            Side::Plan => (sure, sure),
        };
        let bases = self.bases(board, class);
        let held: Vec<usize> =
            class.strips.iter().map(|kind| interned.held.number(self.families.runs(&kind.cuttings))).collect();
        let (mut ops, mut starts) = (Vec::new(), Vec::new());
        for (i, base) in bases.iter().enumerate() {
            starts.push(ops.len());
            let placed = self.place_all(board, *base, interned);
            for (strip, (kind, &held)) in class.strips.iter().zip(&held).enumerate() {
                if base.from + kind.width > class.high {
                    break;
                }
                let Some(row) = self.row(placed, held, interned) else { continue };
                ops.push(Op { strip, row, next: next_base(&bases, i, kind.width + board.kerf_rip, side) });
            }
        }
        starts.push(ops.len());
        let margin = round(class.end_margin, step, side) as usize;
        let useful_above = useful_above(board, index, step);
        ClassModel { margin, wide, sure, useful_above, bases, ops, starts }
    }

    fn bases(&self, board: &BoardStock, class: &SectionClass) -> Vec<Base> {
        if let Some(exact) = closed_bases(board, class, self.limits) {
            return exact.into_iter().map(|y| Base { from: y, to: y }).collect();
        }
        let narrowest = class.strips.iter().map(|k| k.width).min().unwrap_or(0);
        let step = lattice_step(board, class, self.limits);
        let count = (class.high - narrowest - class.low) / step + 1;
        let cells = (0..count).map(|j| class.low + j * step);
        cells.map(|y| Base { from: y, to: if self.side == Side::Bound { y + step - 1 } else { y } }).collect()
    }

    /// The row of what a kind of strip holds where cuttings are placed so; `None` when nothing fits.
    fn row(&mut self, placed: usize, held: usize, interned: &mut Interned) -> Option<usize> {
        *interned.met.entry((placed, held)).or_insert_with(|| {
            let mut parts = Vec::new();
            let (runs, placed) = (&interned.held.list[held], &interned.placed.list[placed]);
            runs.iter().for_each(|&run| self.families.split(run, placed, &mut parts));
            if parts.is_empty() {
                return None;
            }
            let row = interned.rows.entry(parts).or_insert_with_key(|parts| {
                let part = |&(run, pattern): &(Run, usize)| {
                    let cutting = self.families.cutting(run.family, run.last);
                    RowPart { cutting, run, pattern, covers: vec![] }
                };
                self.rows.push(Row { parts: parts.iter().map(part).collect() });
                self.rows.len() - 1
            });
            Some(*row)
        })
    }

    /// Works out, once for every base, where each cutting may start along a strip there; returns the number of that.
    fn place_all(&self, board: &BoardStock, base: Base, interned: &mut Interned) -> usize {
        if let Some(&known) = interned.known.get(&base) {
            return known;
        }
        let mut placed: Vec<Option<usize>> = Vec::with_capacity(board.cuttings.len());
        for (c, cutting) in board.cuttings.iter().enumerate() {
            let alike = self.families.alike(c);
            let pattern =
                if alike < c { placed[alike] } else { self.pattern(board, cutting, self.steps[c], base, interned) };
            placed.push(pattern);
        }
        let number = interned.placed.number(placed);
        interned.known.insert(base, number);
        number
    }

    /// Where a cutting may start along a strip at `base`; `None` when nowhere.
    fn pattern(
        &self,
        board: &BoardStock,
        cutting: &Cutting,
        cells: usize,
        base: Base,
        interned: &mut Interned,
    ) -> Option<usize> {
        let mut spans: Vec<(i64, i64)> = board.blocked[cutting.blocked]
            .iter()
            .filter(|r| {
                let reaches = r.y0 - cutting.net_dy - cutting.net_width;
                base.from > reaches && base.to < r.y1 - cutting.net_dy && r.x0 < r.x1
            })
            .map(|r| {
                let origin = board.end_trim + cutting.net_dx;
                (r.x0 - origin - cutting.net_length, r.x1 - origin)
            })
            .collect();
        spans.sort_unstable();
        let ends = self.last.checked_sub(cells)? as i64 + 1;
        let mut free = Vec::new();
        let mut from = 0;
        for (low, high) in union(&spans) {
            let (first, beyond) = self.blocked_cells(low, high);
            if first > from && beyond > first {
                free.push((from as u32, first.min(ends).max(from) as u32));
            }
            if beyond > first {
                from = from.max(beyond);
            }
        }
        if from < ends {
            free.push((from as u32, ends as u32));
        }
        free.retain(|range| range.0 < range.1);
        if free.is_empty() {
            return None;
        }
        Some(interned.patterns.number(free))
    }

    /// Cells (half open) in which no start is possible, when starts strictly between `low` and `high` are not.
    fn blocked_cells(&self, low: i64, high: i64) -> (i64, i64) {
        let first = low.div_euclid(self.step) + 1;
        let beyond = match self.side {
            Side::Bound => (high - self.step).div_euclid(self.step) + 1,
            Side::Both | Side::Plan => ceil_div(high, self.step),
        };
        (first.max(0), beyond.max(0))
    }

    /// Notes for every part of every row which others could stand in its place.
    fn compare_row_parts(&mut self) {
        let Model { patterns, steps, rows, .. } = self;
        let count = patterns.len();
        let inside: Vec<bool> =
            patterns.iter().flat_map(|inner| patterns.iter().map(|outer| lies_within(inner, outer))).collect();
        let (mut of_parts, mut covers) = (Vec::new(), Vec::new());
        for row in rows {
            of_parts.clear();
            of_parts.extend(row.parts.iter().map(|part| (steps[part.cutting], part.pattern)));
            for (j, part) in row.parts.iter_mut().enumerate() {
                let (cells, within) = (of_parts[j].0, &inside[part.pattern * count..][..count]);
                let others = of_parts.iter().enumerate();
                covers.clear();
                covers.extend(others.filter(|&(i, of)| of.0 <= cells && within[of.1] && i != j).map(|(i, _)| i as u16));
                part.covers.clone_from(&covers);
            }
        }
    }
}

/// What was worked out before, by what it follows from.
#[derive(Default)]
struct Interned {
    /// The number in `placed` of the patterns of all cuttings, by base.
    known: FxHashMap<Base, usize>,
    placed: Numbered<Vec<Option<usize>>>,
    /// What kinds of strips hold.
    held: Numbered<Vec<Run>>,
    /// Rows by the numbers of what is placed and what is held.
    met: FxHashMap<(usize, usize), Option<usize>>,
    patterns: Numbered<Vec<(u32, u32)>>,
    rows: FxHashMap<Vec<(Run, usize)>, usize>,
}

/// Things, each once, by number.
#[derive(Default)]
struct Numbered<T> {
    list: Vec<T>,
    numbers: FxHashMap<T, usize>,
}

impl<T: Clone + Eq + Hash> Numbered<T> {
    fn number(&mut self, thing: T) -> usize {
        if let Some(&known) = self.numbers.get(&thing) {
            return known;
        }
        self.list.push(thing.clone());
        self.numbers.insert(thing, self.list.len() - 1);
        self.list.len() - 1
    }
}

/// A length in cells.
const fn round(length: i64, step: i64, side: Side) -> i64 {
    match side {
        Side::Plan => ceil_div(length, step),
        Side::Both | Side::Bound => length.div_euclid(step),
    }
}

/// Ticks a cell of the lattice of bases; no coarser than the narrowest strip.
fn lattice_step(board: &BoardStock, class: &SectionClass, limits: BaseLimits) -> i64 {
    let narrowest = class.strips.iter().map(|k| k.width).min().unwrap_or(1);
    ceil_div(class.high - class.low, limits.lattice).clamp(1, narrowest + board.kerf_rip)
}

/// All y a strip pushed towards the reference edge can have, ascending; `None` when they are too many.
fn closed_bases(board: &BoardStock, class: &SectionClass, limits: BaseLimits) -> Option<Vec<i64>> {
    let mut widths: Vec<i64> = class.strips.iter().filter(|k| !k.cuttings.is_empty()).map(|k| k.width).collect();
    widths.sort_unstable();
    widths.dedup();
    let Some(&narrowest) = widths.first() else { return Some(vec![]) };
    let top = class.high - narrowest;
    let cuttings = class.strips.iter().flat_map(|k| &k.cuttings).map(|&c| &board.cuttings[c]);
    let clear = cuttings.flat_map(|c| board.blocked[c.blocked].iter().map(|r| r.y1 - c.net_dy));
    let mut open: Vec<i64> = clear.filter(|&y| y > class.low).collect();
    open.push(class.low);
    open.retain(|&y| y <= top);
    let mut found: FxHashSet<i64> = open.iter().copied().collect();
    open = found.iter().copied().collect();
    while let Some(y) = open.pop() {
        if found.len() > limits.most {
            return None;
        }
        // A strip above one that leaves no room for the narrowest is no base.
        let ends = widths.iter().map(|w| y + w).take_while(|&end| end <= class.high);
        let next = ends.map(|end| end + board.kerf_rip).take_while(|&y| y <= top);
        open.extend(next.filter(|&y| found.insert(y)));
    }
    let mut bases: Vec<i64> = found.into_iter().collect();
    bases.sort_unstable();
    (bases.len() <= limits.most).then_some(bases)
}

/// The lowest base from which a strip above one at base `at` may start.
fn next_base(bases: &[Base], at: usize, reach: i64, side: Side) -> usize {
    let lattice_cell = bases[at].to - bases[at].from;
    match side {
        Side::Bound if lattice_cell > 0 => at + (reach / (lattice_cell + 1)) as usize,
        _ => bases.partition_point(|b| b.from < bases[at].from + reach),
    }
    .min(bases.len())
}

/// The greatest length, in cells, up to which another class allows everything this one does.
fn useful_above(board: &BoardStock, index: usize, step: i64) -> usize {
    let class = &board.classes[index];
    let better = board.classes.iter().enumerate().filter(|&(i, other)| {
        let equal = || other.max_length == class.max_length && allows_all_of(class, other);
        i != index && other.max_length <= class.max_length && allows_all_of(other, class) && (i < index || !equal())
    });
    better.map(|(_, o)| (o.max_length + board.kerf_cross).div_euclid(step).max(0) as usize).max().unwrap_or(0)
}

/// Every section of `one` is a section of `other`, as far as the longest length of `other` reaches.
fn allows_all_of(other: &SectionClass, one: &SectionClass) -> bool {
    other.min_length <= one.min_length
        && other.end_margin <= one.end_margin
        && other.low <= one.low
        && other.high >= one.high
        && one.strips.iter().all(|kind| {
            // Strips and cuttings ascend, so that membership is a search.
            let same = other.strips.binary_search_by_key(&kind.width, |k| k.width).ok();
            same.is_some_and(|k| kind.cuttings.iter().all(|c| other.strips[k].cuttings.binary_search(c).is_ok()))
        })
}

/// Open intervals, ascending, merged where they share more than an end.
fn union(spans: &[(i64, i64)]) -> Vec<(i64, i64)> {
    let mut merged: Vec<(i64, i64)> = Vec::new();
    for &(low, high) in spans {
        match merged.last_mut() {
            Some(last) if low < last.1 => last.1 = last.1.max(high),
            _ => merged.push((low, high)),
        }
    }
    merged
}

/// Every range of `inner` lies in one of `outer`.
fn lies_within(inner: &[(u32, u32)], outer: &[(u32, u32)]) -> bool {
    inner.iter().all(|r| outer.iter().any(|o| o.0 <= r.0 && r.1 <= o.1))
}
