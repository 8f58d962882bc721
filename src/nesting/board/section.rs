//! The best sections that start in one cell, for every end at once: dynamic programming over strips and blanks.
//!
//! `V[row][x]`: worth of the best blanks of a strip from the section's first usable cell to x (each with its kerf).
//! `H[base][x]`: worth of the best strips at that base and above, `H[base] = max(H[base + 1], V[strip] + H[after strip])`
//! taken for all x together. Both carry the states of [`Usage`]. Values are scaled prices in `i32`; [`Priced::new`] picks
//! the scale so that no layout's value reaches 2^30.

pub(super) mod holding;

use rustc_hash::FxHashMap;

use super::model::{ClassModel, Model, Row};
use super::usage::Usage;
use crate::nesting::layout::{BlankAt, SectionAt, StripAt};
use crate::nesting::problem::BoardStock;

/// A model under one price vector: what is worth cutting.
#[derive(Debug)]
pub(super) struct PricedModel<'a> {
    pub model: &'a Model,
    pub usage: &'a Usage,
    rows: Vec<ActiveRow>,
    classes: Vec<ActiveClass>,
    /// Splits of the states by the mask of the row that takes the part.
    splits: FxHashMap<u32, Vec<(usize, usize, usize)>>,
    /// Distinct margins of the classes, ascending.
    margins: Vec<usize>,
}

#[derive(Debug)]
struct ActiveRow {
    parts: Vec<ActivePart>,
    /// Cells of the shortest part.
    shortest: usize,
    /// Tracked items it can use, and the states over them.
    mask: u32,
    states: Vec<usize>,
}

#[derive(Clone, Debug)]
struct ActivePart {
    cutting: usize,
    pattern: usize,
    cells: usize,
    worth: i32,
    /// State before this part, by state after it.
    before: Vec<Option<usize>>,
}

#[derive(Debug)]
struct ActiveClass {
    ops: Vec<ActiveOp>,
    starts: Vec<usize>,
    /// Rows used.
    rows: Vec<usize>,
}

#[derive(Clone, Copy, Debug)]
struct ActiveOp {
    strip: usize,
    row: usize,
    next: usize,
}

/// Section values from one start: for each class, by length in cells.
#[derive(Clone, Debug)]
pub(super) struct Evaluated {
    pub classes: Vec<Lengths>,
}

/// Values by length `first..first + count`, one run a state.
#[derive(Clone, Debug, Default)]
pub(super) struct Lengths {
    pub first: usize,
    pub count: usize,
    values: Vec<i32>,
}

impl Lengths {
    /// Values of one state.
    pub fn of(&self, state: usize) -> &[i32] {
        &self.values[state * self.count..(state + 1) * self.count]
    }

    /// Value of a section of `length` cells in `state`, if it was computed.
    pub fn at(&self, state: usize, length: usize) -> Option<i32> {
        let at = length.checked_sub(self.first)?;
        (at < self.count).then(|| self.values[state * self.count + at])
    }
}

/// Buffers of the dynamic programme, resized by the calls that use them and reused between boards.
#[derive(Debug, Default)]
pub struct Scratch {
    rows: Vec<i32>,
    folds: Vec<i32>,
    steps: Steps,
}

/// The cells at which a row of some class is worth more than a cell before, and the rows at those alone. Between them every
/// row stays the same, and so does every fold.
#[derive(Debug, Default)]
struct Steps {
    /// By cell: not zero where a row rises.
    rises: Vec<u8>,
    /// The cells where any does, the first of all among them.
    cells: Vec<usize>,
    /// By row in use, by state: values at `cells`.
    rows: Vec<i32>,
    /// By row: where its values begin in `rows`.
    places: Vec<usize>,
    /// By row, by state: somewhere the row is worth more than with a piece less of any item. Other states are no parts of
    /// use: what they leave to the strips above is less, and no more is made of the rest.
    useful: Vec<bool>,
}

impl Steps {
    /// Finds the steps of the rows of a class between the cells `low` and `low + count`, `slab` holding `stride` cells a row
    /// and state.
    fn find(
        &mut self,
        model: &PricedModel,
        class: &ActiveClass,
        slab: &[i32],
        stride: usize,
        low: usize,
        count: usize,
    ) {
        let states = model.usage.states;
        self.rises.clear();
        self.rises.resize(count, 0);
        let run = |row: usize, state: usize| &slab[(row * states + state) * stride + low..][..count];
        for &row in &class.rows {
            for &state in &model.rows[row].states {
                let values = run(row, state);
                for (rise, pair) in self.rises[1..].iter_mut().zip(values.windows(2)) {
                    *rise |= u8::from(pair[0] != pair[1]);
                }
            }
        }
        self.rises[0] = 1;
        self.cells.clear();
        self.cells.extend((0..count).filter(|&cell| self.rises[cell] > 0));
        self.rows.clear();
        self.places.resize(model.rows.len(), 0);
        for &row in &class.rows {
            self.places[row] = self.rows.len();
            self.rows.resize(self.rows.len() + states * self.cells.len(), 0);
            for &state in &model.rows[row].states {
                let values = run(row, state);
                let to = &mut self.rows[self.places[row] + state * self.cells.len()..][..self.cells.len()];
                to.iter_mut().zip(&self.cells).for_each(|(to, &cell)| *to = values[cell]);
            }
        }
        self.compare_states(model, class);
    }

    fn compare_states(&mut self, model: &PricedModel, class: &ActiveClass) {
        let (states, few) = (model.usage.states, self.cells.len());
        self.useful.clear();
        self.useful.resize(model.rows.len() * states, false);
        for &row in &class.rows {
            let of = |state: usize| &self.rows[self.places[row] + state * few..][..few];
            for &state in &model.rows[row].states {
                // Such a state is one of the row's as well.
                let below: Vec<&[i32]> = model.usage.below(state).map(of).collect();
                let more = |(at, &value): (usize, &i32)| below.iter().all(|lesser| lesser[at] < value);
                self.useful[row * states + state] = state == 0 || of(state).iter().enumerate().any(more);
            }
        }
    }
}

impl<'a> PricedModel<'a> {
    /// `worth[cutting]` is the scaled value of one blank; what is worth nothing is never cut.
    pub fn new(board: &BoardStock, model: &'a Model, worth: &[i32], usage: &'a Usage) -> PricedModel<'a> {
        PricedModel::of(board, model, (worth, usage), &|row| worthwhile(board, model, row, worth, usage))
    }

    /// As [`PricedModel::new`], with all that is worth anything, also where something else is worth more.
    pub fn complete(board: &BoardStock, model: &'a Model, worth: &[i32], usage: &'a Usage) -> PricedModel<'a> {
        PricedModel::of(board, model, (worth, usage), &|row| {
            let of = |part: &super::model::RowPart| {
                let able = model.families.widest_first(part.run).filter(|&c| worth[c] > 0);
                able.map(|c| (c, part.pattern)).collect::<Vec<_>>()
            };
            row.parts.iter().flat_map(of).collect()
        })
    }

    fn of(
        board: &BoardStock,
        model: &'a Model,
        (worth, usage): (&[i32], &'a Usage),
        kept: &dyn Fn(&Row) -> Vec<(usize, usize)>,
    ) -> PricedModel<'a> {
        let mut rows: Vec<ActiveRow> = Vec::new();
        let mut interned: FxHashMap<Vec<(usize, usize)>, usize> = FxHashMap::default();
        let mut active_of: Vec<Option<usize>> = Vec::with_capacity(model.rows.len());
        for row in &model.rows {
            let kept = kept(row);
            if kept.is_empty() {
                active_of.push(None);
                continue;
            }
            let index = *interned.entry(kept).or_insert_with_key(|kept| {
                rows.push(ActiveRow::new(board, model, kept, worth, usage));
                rows.len() - 1
            });
            active_of.push(Some(index));
        }
        let classes: Vec<ActiveClass> = model.classes.iter().map(|c| ActiveClass::new(c, &active_of)).collect();
        let mut margins: Vec<usize> = model.classes.iter().map(|c| c.margin).collect();
        margins.sort_unstable();
        margins.dedup();
        let splits = rows.iter().map(|r| (r.mask, usage.splits(r.mask))).collect();
        PricedModel { model, usage, rows, classes, splits, margins }
    }

    /// Values of all sections from cell `start`, up to `beyond` cells past each class's longest.
    pub fn evaluate(&self, start: usize, beyond: usize, scratch: &mut Scratch) -> Evaluated {
        let mut classes = vec![Lengths::default(); self.classes.len()];
        for &margin in &self.margins {
            let members: Vec<usize> =
                (0..self.classes.len()).filter(|&k| self.model.classes[k].margin == margin).collect();
            let reach = members.iter().map(|&k| self.model.classes[k].wide.1).max().unwrap_or(0) + beyond;
            let end = (start + reach).min(self.model.last).saturating_sub(margin);
            let from = start + margin;
            if end <= from {
                continue;
            }
            // Rows of short classes need not reach as far as those of long ones.
            let reaches = members.iter().map(|&k| {
                let length = self.model.classes[k].wide.1 + beyond;
                (k, (start + length).min(self.model.last).saturating_sub(margin))
            });
            self.fill_rows(reaches, from, end, scratch);
            for k in members {
                classes[k] = self.fold(k, start, beyond, end - from, scratch);
            }
        }
        Evaluated { classes }
    }

    /// Fills `V` for every row of some classes, each with its last cell; the rows are laid out for cells `from..=end`.
    fn fill_rows(&self, reaches: impl Iterator<Item = (usize, usize)>, from: usize, end: usize, scratch: &mut Scratch) {
        let mut cells = vec![0; self.rows.len()];
        for (k, reach) in reaches {
            for &r in &self.classes[k].rows {
                cells[r] = (reach + 1).saturating_sub(from).max(cells[r]);
            }
        }
        let (states, stride) = (self.usage.states, end - from + 1);
        scratch.rows.resize(self.rows.len() * states * stride, 0);
        for (r, row) in self.rows.iter().enumerate().filter(|(r, _)| cells[*r] > 0) {
            let slab = &mut scratch.rows[r * states * stride..(r + 1) * states * stride];
            row.fill(&self.model.patterns, from, slab, stride, cells[r]);
        }
    }

    /// Folds the strips of class `k` over its bases. `span` is the number of cells of the rows past their first.
    fn fold(&self, k: usize, start: usize, beyond: usize, span: usize, scratch: &mut Scratch) -> Lengths {
        let (class, active) = (&self.model.classes[k], &self.classes[k]);
        let first = (class.useful_above + 1).max(2 * class.margin).max(class.wide.0);
        let last = (class.wide.1 + beyond).min(self.model.last - start);
        if last < first || active.ops.is_empty() {
            return Lengths::default();
        }
        // Column of length q is the cell q - 2 margin past the rows' first.
        let (low, high) = (first - 2 * class.margin, (last - 2 * class.margin).min(span));
        if high < low {
            return Lengths::default();
        }
        let count = high - low + 1;
        let (states, stride) = (self.usage.states, span + 1);
        let bases = active.starts.len() - 1;
        let steps = &mut scratch.steps;
        steps.find(self, active, &scratch.rows, stride, low, count);
        let few = steps.cells.len();
        scratch.folds.clear();
        scratch.folds.resize((bases + 1) * states * few, 0);
        for base in (0..bases).rev() {
            let (here, above) = scratch.folds[base * states * few..].split_at_mut(states * few);
            here.copy_from_slice(&above[..states * few]);
            for op in &active.ops[active.starts[base]..active.starts[base + 1]] {
                let after = &above[(op.next - base - 1) * states * few..][..states * few];
                let row = &steps.rows[steps.places[op.row]..][..states * few];
                let useful = &steps.useful[op.row * states..][..states];
                let splits = self.splits[&self.rows[op.row].mask].iter();
                for &(part, rest, whole) in splits.filter(|split| useful[split.0]) {
                    let v = &row[part * few..(part + 1) * few];
                    let h = &after[rest * few..(rest + 1) * few];
                    max_sum(&mut here[whole * few..(whole + 1) * few], v, h);
                }
            }
        }
        let mut values = Vec::with_capacity(states * count);
        for state in 0..states {
            let folded = &scratch.folds[state * few..(state + 1) * few];
            let ends = steps.cells[1..].iter().copied().chain([count]);
            for ((&from, to), &value) in steps.cells.iter().zip(ends).zip(folded) {
                values.extend(std::iter::repeat_n(value, to - from));
            }
        }
        Lengths { first, count, values }
    }

    /// The strips of a best section of class `k`, `length` cells from `start`, in `state`; lawful for a plan's model.
    pub fn trace(
        &self,
        board: &BoardStock,
        k: usize,
        start: usize,
        length: usize,
        state: usize,
        scratch: &mut Scratch,
    ) -> SectionAt {
        let (class, active) = (&self.model.classes[k], &self.classes[k]);
        let (from, end) = (start + class.margin, start + length - class.margin);
        self.fill_rows(std::iter::once((k, end)), from, end, scratch);
        let (states, stride) = (self.usage.states, end - from + 1);
        let bases = active.starts.len() - 1;
        let value = |row: usize, part: usize| scratch.rows[(row * states + part + 1) * stride - 1];
        let mut fold = vec![0; (bases + 1) * states];
        for base in (0..bases).rev() {
            fold.copy_within((base + 1) * states..(base + 2) * states, base * states);
            for op in &active.ops[active.starts[base]..active.starts[base + 1]] {
                for &(part, rest, whole) in &self.splits[&self.rows[op.row].mask] {
                    let sum = value(op.row, part) + fold[op.next * states + rest];
                    fold[base * states + whole] = sum.max(fold[base * states + whole]);
                }
            }
        }
        let mut section = SectionAt {
            x: board.end_trim + start as i64 * self.model.step,
            length: length as i64 * self.model.step - board.kerf_cross,
            class: k,
            strips: vec![],
        };
        let (mut base, mut state) = (0, state);
        while base < bases {
            let here = fold[base * states + state];
            if here == fold[(base + 1) * states + state] {
                base += 1;
                continue;
            }
            let ops = &active.ops[active.starts[base]..active.starts[base + 1]];
            let choices = ops.iter().flat_map(|op| self.splits[&self.rows[op.row].mask].iter().map(move |s| (op, s)));
            let (op, &(part, rest, _)) = choices
                .into_iter()
                .find(|(op, s)| s.2 == state && value(op.row, s.0) + fold[op.next * states + s.1] == here)
                .expect("a fold's value comes from one of its strips");
            let slab = &scratch.rows[op.row * states * stride..(op.row + 1) * states * stride];
            let blanks = self.rows[op.row].trace(&self.model.patterns, from, slab, stride, part);
            let left = board.end_trim;
            section.strips.push(StripAt {
                y: class.bases[base].from,
                width: board.classes[k].strips[op.strip].width,
                blanks: blanks
                    .into_iter()
                    .map(|(cell, cutting)| BlankAt { x: left + cell as i64 * self.model.step, cutting })
                    .collect(),
            });
            (base, state) = (op.next, rest);
        }
        section
    }
}

impl ActiveRow {
    fn new(board: &BoardStock, model: &Model, kept: &[(usize, usize)], worth: &[i32], usage: &Usage) -> ActiveRow {
        let part = |&(cutting, pattern): &(usize, usize)| {
            let pieces = &board.cuttings[cutting].yields;
            let before = (0..usage.states).map(|state| usage.less(state, pieces)).collect();
            ActivePart { cutting, pattern, cells: model.steps[cutting], worth: worth[cutting], before }
        };
        let parts: Vec<ActivePart> = kept.iter().map(part).collect();
        let shortest = parts.iter().map(|p| p.cells).min().unwrap_or(1);
        let mask = kept.iter().fold(0, |mask, &(c, _)| mask | usage.mask(&board.cuttings[c].yields));
        ActiveRow { parts, shortest, mask, states: usage.within(mask) }
    }

    /// The first `cells` of `V`, in blocks no longer than the shortest part, so that a part is one pass over slices.
    fn fill(&self, patterns: &[Vec<(u32, u32)>], from: usize, slab: &mut [i32], stride: usize, cells: usize) {
        for &state in &self.states {
            slab[state * stride] = 0;
        }
        let mut x = 1;
        while x < cells {
            let block = self.shortest.min(cells - x);
            for &state in &self.states {
                let (fewer, rest) = slab.split_at_mut(state * stride);
                let (done, ahead) = rest.split_at_mut(x);
                let target = &mut ahead[..block];
                target.fill(done[x - 1]);
                for part in &self.parts {
                    let Some(before) = part.before[state] else { continue };
                    let source: &[i32] = if before == state { done } else { &fewer[before * stride..][..stride] };
                    // Starts that end in the block, counted from the row's first cell.
                    let low = x.saturating_sub(part.cells);
                    let high = (x + block).saturating_sub(part.cells);
                    for &(a, b) in &patterns[part.pattern] {
                        let a = (a as usize).saturating_sub(from).max(low);
                        let b = (b as usize).saturating_sub(from).min(high);
                        if a < b {
                            let (at, beyond) = (a + part.cells - x, b + part.cells - x);
                            max_plus(&mut target[at..beyond], &source[a..b], part.worth);
                            // No start further right ends in the block: what is reached stays.
                            raise(&mut target[beyond..], source[b - 1] + part.worth);
                        }
                    }
                }
            }
            x += block;
        }
    }

    /// Blanks (cell, cutting) of the best filling, ascending.
    fn trace(
        &self,
        patterns: &[Vec<(u32, u32)>],
        from: usize,
        slab: &[i32],
        stride: usize,
        state: usize,
    ) -> Vec<(usize, usize)> {
        let (mut x, mut state) = (stride - 1, state);
        let mut blanks = Vec::new();
        while x > 0 {
            let here = slab[state * stride + x];
            if here == slab[state * stride + x - 1] {
                x -= 1;
                continue;
            }
            let fits = |part: &&ActivePart| {
                let (Some(at), Some(before)) = (x.checked_sub(part.cells), part.before[state]) else { return false };
                let cell = (from + at) as u32;
                let free = patterns[part.pattern].iter().any(|r| r.0 <= cell && cell < r.1);
                free && slab[before * stride + at] + part.worth == here
            };
            let part = self.parts.iter().find(fits).expect("a row's value comes from one of its parts");
            x -= part.cells;
            blanks.push((from + x, part.cutting));
            state = part.before[state].expect("the part was taken in this state");
        }
        blanks.reverse();
        blanks
    }
}

impl ActiveClass {
    /// Strips that hold something worth cutting and more than a narrower strip at the same base.
    fn new(class: &ClassModel, active_of: &[Option<usize>]) -> ActiveClass {
        let (mut ops, mut starts) = (Vec::new(), Vec::new());
        for base in 0..class.bases.len() {
            starts.push(ops.len());
            let from = ops.len();
            for op in &class.ops[class.starts[base]..class.starts[base + 1]] {
                let Some(row) = active_of[op.row] else { continue };
                let known = ops[from..].iter().any(|o: &ActiveOp| o.row == row && o.next <= op.next);
                if !known {
                    ops.push(ActiveOp { strip: op.strip, row, next: op.next });
                }
            }
        }
        starts.push(ops.len());
        let mut rows: Vec<usize> = ops.iter().map(|o| o.row).collect();
        rows.sort_unstable();
        rows.dedup();
        ActiveClass { ops, starts, rows }
    }
}

/// Parts of a row that no other part of it replaces at no less worth and no more of any tracked item. Of a run the widest
/// that may be cut is enough, unless its item is counted: then a narrower one leaves more for the next.
fn worthwhile(board: &BoardStock, model: &Model, row: &Row, worth: &[i32], usage: &Usage) -> Vec<(usize, usize)> {
    let used = |cutting: usize, item: usize| -> u32 {
        board.cuttings[cutting].yields.iter().filter(|y| y.0 == item).map(|y| y.1).sum()
    };
    let uses_no_more = |i: usize, j: usize| usage.items.iter().all(|&(item, _)| used(i, item) <= used(j, item));
    let mut chosen: Vec<(usize, usize)> = Vec::with_capacity(row.parts.len());
    // By part: where its cuttings begin in `chosen`.
    let mut begins: Vec<usize> = Vec::with_capacity(row.parts.len() + 1);
    for (j, part) in row.parts.iter().enumerate() {
        begins.push(chosen.len());
        let mut able = model.families.widest_first(part.run).filter(|&c| worth[c] > 0);
        if usage.mask(&board.cuttings[part.cutting].yields) == 0 {
            chosen.extend(able.next().map(|c| (j, c)));
        } else {
            chosen.extend(able.map(|c| (j, c)));
        }
    }
    begins.push(chosen.len());
    let beaten = |&(j, cutting): &(usize, usize)| {
        let w = worth[cutting];
        let by = |&(i, other): &(usize, usize)| {
            let v = worth[other];
            let earlier = || i < j || i != j && row.parts[i].covers.binary_search(&(j as u16)).is_err();
            v >= w && (v > w || earlier()) && uses_no_more(other, cutting)
        };
        let covers = || row.parts[j].covers.iter().map(|&i| usize::from(i));
        covers().any(|i| chosen[begins[i]..begins[i + 1]].iter().any(by))
            || chosen[begins[j]..begins[j + 1]].iter().any(|other| other.1 != cutting && by(other))
    };
    chosen.iter().filter(|&part| !beaten(part)).map(|&(j, cutting)| (cutting, row.parts[j].pattern)).collect()
}

/// `target = max(target, source + worth)`.
fn max_plus(target: &mut [i32], source: &[i32], worth: i32) {
    for (t, &s) in target.iter_mut().zip(source) {
        *t = (s + worth).max(*t);
    }
}

/// `target = max(target, value)`.
fn raise(target: &mut [i32], value: i32) {
    target.iter_mut().for_each(|t| *t = value.max(*t));
}

/// `target = max(target, a + b)`.
fn max_sum(target: &mut [i32], a: &[i32], b: &[i32]) {
    for ((t, &a), &b) in target.iter_mut().zip(a).zip(b) {
        *t = (a + b).max(*t);
    }
}
