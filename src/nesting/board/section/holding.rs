//! What a section may hold: all sets of pieces that are worth enough, by label setting over strips and blanks.
//!
//! The tables of the best section (`V`, `H`) bound what a label may come to, so that few are made.

use rustc_hash::FxHashMap;

use super::super::chain::{NEVER, UNIT};
use super::super::holding::Sought;
use super::{ActiveRow, PricedModel, Scratch};

/// Sections from one start, and what they are to come to.
pub(in crate::nesting::board) struct Place<'a> {
    pub start: usize,
    /// By class: the longest, in cells.
    pub longest: &'a [usize],
    /// By cell where a section ends: the most that may follow, in units of the chain.
    pub after: &'a [i64],
    /// The least that a section and what follows are to come to.
    pub need: i64,
    /// The most that they come to.
    pub most: i64,
}

/// A set of pieces in a section, with its worth and the cell where the section may end.
#[derive(Clone, Copy, Debug)]
pub(in crate::nesting::board) struct Held {
    pub set: u128,
    pub end: usize,
    pub worth: i32,
}

/// A set of pieces in a strip, or in the strips so far; the cells it takes, and its worth.
#[derive(Clone, Copy, Debug)]
struct Label {
    set: u128,
    cells: usize,
    worth: i32,
}

impl Label {
    /// What it holds, and a strip beside.
    fn with(&self, strip: &Label) -> Label {
        Label { set: self.set + strip.set, cells: self.cells.max(strip.cells), worth: self.worth + strip.worth }
    }

    /// In units of the chain.
    fn value(&self) -> i64 {
        i64::from(self.worth) * UNIT
    }
}

/// What may be made of a section's strips from a base on, and right of the section, by the cells that the strips take.
struct Ahead<'a> {
    /// Best strips by base and step, in scaled units.
    folds: &'a [i32],
    /// The cells at which something changes, counted from the first of any use.
    steps: &'a [usize],
    /// By cell: the last step not beyond it.
    step_of: Vec<u32>,
    /// By base and step: the most when the section ends at that step or further right.
    later: Vec<i64>,
    /// By cell: the most right of a section that ends there.
    after: &'a [i64],
    /// Cells that count as one: strips that take less make no shorter section.
    low: usize,
}

impl<'a> Ahead<'a> {
    /// With `after` from the section's first end on.
    fn new(folds: &'a [i32], steps: &'a [usize], after: &'a [i64], low: usize) -> Ahead<'a> {
        let (count, few) = (after.len(), steps.len());
        let mut step_of = vec![0; count];
        for (t, &from) in steps.iter().enumerate() {
            step_of[from..steps.get(t + 1).copied().unwrap_or(count)].fill(t as u32);
        }
        let bases = folds.len() / few;
        let mut later = vec![NEVER; bases * (few + 1)];
        for (folds, later) in folds.chunks_exact(few).zip(later.chunks_exact_mut(few + 1)) {
            for t in (0..few).rev() {
                later[t] = later[t + 1].max(i64::from(folds[t]) * UNIT + after[steps[t]]);
            }
        }
        Ahead { folds, steps, step_of, later, after, low }
    }

    /// The most that strips from `base` on and what follows may come to, when those so far take so many cells.
    fn most(&self, base: usize, cells: usize) -> i64 {
        let (few, cell) = (self.steps.len(), cells.saturating_sub(self.low));
        let Some(&step) = self.step_of.get(cell) else { return NEVER };
        let here = i64::from(self.folds[base * few + step as usize]) * UNIT + self.after[cell];
        here.max(self.later[base * (few + 1) + step as usize + 1])
    }
}

/// A search for what sections from one place may hold.
pub(in crate::nesting::board) struct Holds<'a> {
    priced: &'a PricedModel<'a>,
    place: &'a Place<'a>,
    sought: &'a Sought<'a>,
    labels: &'a mut u64,
    found: FxHashMap<u128, Held>,
}

impl<'a> Holds<'a> {
    /// Nothing found yet.
    pub fn new(
        priced: &'a PricedModel<'a>,
        place: &'a Place<'a>,
        sought: &'a Sought<'a>,
        labels: &'a mut u64,
    ) -> Holds<'a> {
        Holds { priced, place, sought, labels, found: FxHashMap::default() }
    }

    /// All that sections from the place may hold, within the limits, each set with the first end it can have; `None` when labels
    /// run out.
    pub fn all(mut self, scratch: &mut Scratch) -> Option<Vec<Held>> {
        let (priced, place) = (self.priced, self.place);
        for &margin in &priced.margins {
            let of_margin = |&k: &usize| priced.model.classes[k].margin == margin;
            let members: Vec<usize> = (0..priced.classes.len()).filter(of_margin).collect();
            let longest = members.iter().map(|&k| place.longest[k]).max().unwrap_or(0);
            let (from, end) =
                (place.start + margin, (place.start + longest).min(priced.model.last).saturating_sub(margin));
            if end <= from {
                continue;
            }
            // Rows are shared by classes, so all of them reach as far as the longest.
            priced.fill_rows(members.iter().map(|&k| (k, end)), from, end, scratch);
            let mut contents: Vec<Option<Vec<Label>>> = vec![None; priced.rows.len()];
            for k in members {
                self.of_class(k, (from, end), &mut contents, scratch)?;
            }
        }
        Some(self.found.into_values().collect())
    }

    /// Sections of class `k` whose blanks lie between two cells; `contents` are those of the rows met so far.
    fn of_class(
        &mut self,
        k: usize,
        (from, end): (usize, usize),
        contents: &mut [Option<Vec<Label>>],
        scratch: &mut Scratch,
    ) -> Option<()> {
        let (priced, place, sought) = (self.priced, self.place, self.sought);
        let (class, active) = (&priced.model.classes[k], &priced.classes[k]);
        let beyond = place.longest[k].saturating_sub(class.wide.1);
        let lengths = priced.fold(k, place.start, beyond, end - from, scratch);
        if lengths.count == 0 {
            return Some(());
        }
        let (first, bases) = (lengths.first, active.starts.len() - 1);
        let folds = &scratch.folds[..(bases + 1) * scratch.steps.cells.len()];
        let after = &place.after[place.start + first..][..lengths.count];
        let ahead = Ahead::new(folds, &scratch.steps.cells, after, first - 2 * class.margin);
        // Nothing is worth less than so much less than the best in its place.
        let slack = i32::try_from((place.most - place.need).max(0) / UNIT + 1).unwrap_or(i32::MAX);
        let stride = end - from + 1;
        // By base: the labels that begin there.
        let mut coming: Vec<Vec<Label>> = vec![Vec::new(); bases + 1];
        coming[0].push(Label { set: 0, cells: 0, worth: 0 });
        // By set: a base and the cells of a label there.
        let mut known: FxHashMap<u128, (usize, usize)> = FxHashMap::default();
        let mut alive: Vec<Label> = Vec::new();
        for base in 0..bases {
            let begun = std::mem::take(&mut coming[base]);
            let beaten = |label: &Label| known.get(&label.set).is_some_and(|k| k.0 <= base && k.1 < label.cells);
            alive.extend(begun.into_iter().filter(|label| !beaten(label)));
            alive.retain(|label| label.value() + ahead.most(base, label.cells) >= place.need);
            if alive.is_empty() {
                continue;
            }
            for op in &active.ops[active.starts[base]..active.starts[base + 1]] {
                if contents[op.row].is_none() {
                    let values = &scratch.rows[op.row * stride..(op.row + 1) * stride];
                    let row = &priced.rows[op.row];
                    contents[op.row] =
                        Some(row.held(&priced.model.patterns, from, values, slack, sought, self.labels)?);
                }
                for label in &alive {
                    for content in contents[op.row].iter().flatten() {
                        let next = label.with(content);
                        if next.value() + ahead.most(op.next, next.cells) < place.need
                            || !sought.fields.within(next.set, sought.limits)
                        {
                            continue;
                        }
                        let known = known.entry(next.set).or_insert((usize::MAX, usize::MAX));
                        if known.0 <= op.next && known.1 <= next.cells {
                            continue;
                        }
                        if op.next <= known.0 && next.cells <= known.1 {
                            *known = (op.next, next.cells);
                        }
                        *self.labels += 1;
                        coming[op.next].push(next);
                        let length = (next.cells + 2 * class.margin).max(first);
                        if length < first + lengths.count {
                            self.take(next, place.start + length);
                        }
                    }
                }
                if *self.labels > sought.most || (sought.stop)() {
                    return None;
                }
            }
        }
        Some(())
    }

    /// Takes up what a section with an end holds, where that is worth enough.
    fn take(&mut self, label: Label, end: usize) {
        if label.value() + self.place.after[end] >= self.place.need {
            let Label { set, worth, .. } = label;
            let held = self.found.entry(set).or_insert(Held { set, end, worth });
            held.end = held.end.min(end);
            held.worth = held.worth.max(worth);
        }
    }
}

impl ActiveRow {
    /// All that the row may hold, worth no more than `slack` less than the best in as many cells.
    fn held(
        &self,
        patterns: &[Vec<(u32, u32)>],
        from: usize,
        values: &[i32],
        slack: i32,
        sought: &Sought,
        labels: &mut u64,
    ) -> Option<Vec<Label>> {
        let mut fewest: FxHashMap<u128, (usize, i32)> = FxHashMap::default();
        let mut open = vec![Label { set: 0, cells: 0, worth: 0 }];
        while let Some(label) = open.pop() {
            if label.set != 0 && fewest[&label.set].0 < label.cells {
                continue;
            }
            for part in &self.parts {
                let set = label.set + sought.pieces[part.cutting];
                if !sought.fields.within(set, sought.limits) {
                    continue;
                }
                let free = (from + label.cells) as u32;
                let Some(range) = patterns[part.pattern].iter().find(|range| range.1 > free) else { continue };
                let cells = (range.0.max(free)) as usize - from + part.cells;
                let worth = label.worth + part.worth;
                if cells >= values.len() || worth < values[cells].saturating_sub(slack) {
                    continue;
                }
                let known = fewest.entry(set).or_insert((usize::MAX, 0));
                if cells < known.0 {
                    *known = (cells, worth.max(known.1));
                    *labels += 1;
                    open.push(Label { set, cells, worth });
                }
            }
            if *labels > sought.most {
                return None;
            }
        }
        let mut all: Vec<Label> = fewest.into_iter().map(|(set, (cells, worth))| Label { set, cells, worth }).collect();
        all.sort_by(|a, b| b.worth.cmp(&a.worth).then(a.set.cmp(&b.set)));
        Some(all)
    }
}
