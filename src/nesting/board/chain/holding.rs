//! What a whole board may hold: sections and credited offcuts in a row, by label setting from left to right.
//!
//! The upper chain says what may follow a label. Starts are evaluated, and set where a section may really begin, as far as
//! that matters to what is worth enough.

use rustc_hash::FxHashMap;

use super::super::holding::{LABELS_A_START, Sought};
use super::super::section::holding::{Held, Holds, Place};
use super::{Chain, NEVER, Scratch, Search, UNIT, Which};

/// Starts at the most; with more, sections begin where the next one to the left does.
const MOST_STARTS: usize = 600;

/// A set of pieces left of a cell.
#[derive(Clone, Copy, Debug)]
struct Label {
    set: u128,
    /// The board is free from here on.
    cell: usize,
    /// Worth of the pieces, scaled.
    worth: i64,
    /// Credit of the offcuts; less that left of the offcut it is in, for a label in one.
    credit: i64,
}

impl Label {
    fn value(&self) -> i64 {
        self.worth * UNIT + self.credit
    }
}

/// Labels by the start from which they may go on.
struct Waiting {
    coming: Vec<Vec<Label>>,
    /// Those that may go on from the start looked at, or further right.
    open: Vec<Label>,
}

impl Waiting {
    fn new(starts: usize) -> Waiting {
        Waiting { coming: vec![Vec::new(); starts + 1], open: Vec::new() }
    }

    fn put(&mut self, start: usize, label: Label) {
        self.coming[start].push(label);
    }

    /// Opens what waits for a start, as far as it is `fresh`; what is worth less than `least` is dropped.
    fn ready(&mut self, start: usize, least: i64, fresh: &dyn Fn(&Label) -> bool) {
        self.open.extend(std::mem::take(&mut self.coming[start]).into_iter().filter(|label| fresh(label)));
        self.open.retain(|label| label.value() >= least);
    }
}

/// By start: the most that sections and offcuts left of it come to, when no offcut lies before it, and when one does.
struct Before {
    direct: Vec<i64>,
    offcut: Vec<i64>,
}

impl Search<'_> {
    /// The sets that are worth enough with what their offcuts earn at most, each with that credit; `None` when labels run out.
    pub fn holdings(mut self, sought: &Sought, labels: &mut u64, scratch: &mut Scratch) -> Option<Vec<(u128, i64)>> {
        let Some((chain, before)) = self.refined(sought, labels, scratch) else { return Some(Vec::new()) };
        let last = self.priced.model.last;
        let after: Vec<i64> = (0..=last).map(|end| self.after(&chain, end, 0)).collect();
        let mut row = Row { search: &self, chain: &chain, after: &after, sought, found: FxHashMap::default() };
        // Labels that go on from a start as they are, and in an offcut.
        let (mut bare, mut offcut) = (Waiting::new(self.starts.len()), Waiting::new(self.starts.len()));
        let begin = Label { set: 0, cell: 0, worth: 0, credit: 0 };
        bare.put(chain.from[0], begin);
        if let Some(at) = self.entry_after_left_offcut(&chain) {
            offcut.put(at, begin);
        }
        let mut known: FxHashMap<u128, Vec<(usize, i64)>> = FxHashMap::default();
        for at in 0..self.starts.len() {
            let fresh = |label: &Label| {
                let beaten = |&(cell, value): &(usize, i64)| cell < label.cell && value >= label.value();
                !known.get(&label.set).is_some_and(|known| known.iter().any(beaten))
            };
            bare.ready(at, sought.least - chain.best[at], &fresh);
            offcut.ready(at, sought.least - chain.after_offcut[at], &|_| true);
            let earned = self.credit_before(Which::Upper, at);
            let mut ended = Vec::new();
            for (waiting, earned, before, here, after_offcut) in [
                (&bare, 0, before.direct[at], chain.here[at], false),
                (&offcut, earned, before.offcut[at], chain.here_after[at], true),
            ] {
                let here_now = waiting.open.iter().map(|label| Label { credit: label.credit + earned, ..*label });
                let labels_here: Vec<Label> = here_now.filter(|label| label.value() + here >= sought.least).collect();
                if labels_here.is_empty() {
                    continue;
                }
                let longest: Vec<usize> = self.longest(at, after_offcut);
                let (start, need) = (self.starts[at].cell, sought.least.saturating_sub(before));
                let place = Place { start, longest: &longest, after: &after, need, most: here };
                let held = Holds::new(self.priced, &place, sought, labels).all(scratch)?;
                row.join(&labels_here, held, labels, &mut ended)?;
            }
            for label in ended {
                row.end(&label);
                let ends = known.entry(label.set).or_default();
                if ends.iter().any(|&(cell, value)| cell <= label.cell && value >= label.value()) {
                    continue;
                }
                ends.retain(|&(cell, value)| !(cell >= label.cell && value <= label.value()));
                ends.push((label.cell, label.value()));
                bare.put(chain.from[label.cell], label);
                if let Some((next, spent)) = self.entry_after_offcut(&chain, label.cell) {
                    offcut.put(next, Label { credit: label.credit - spent, ..label });
                }
            }
            if (sought.stop)() {
                return None;
            }
        }
        Some(row.found.into_iter().collect())
    }

    /// By class: the longest section that may begin in the interval of a start.
    fn longest(&self, at: usize, after_offcut: bool) -> Vec<usize> {
        let spread = self.interval_end(at) - 1 - self.starts[at].cell;
        let exact = self.uneven && !after_offcut;
        let classes = self.priced.model.classes.iter();
        classes.map(|class| spread + if exact { class.sure.1 } else { class.wide.1 }).collect()
    }

    /// The upper chain with all starts evaluated, and set, that sets worth enough may need; `None` when no set is.
    fn refined(&mut self, sought: &Sought, labels: &mut u64, scratch: &mut Scratch) -> Option<(Chain, Before)> {
        loop {
            let chain = self.chain(Which::Upper);
            if chain.root < sought.least {
                return None;
            }
            let before = self.before(&chain);
            let through =
                |at: usize| (before.direct[at] + chain.here[at]).max(before.offcut[at] + chain.here_after[at]);
            let open = (0..self.starts.len()).filter(|&at| self.starts[at].evaluated.is_none());
            let next = open.filter(|&at| through(at) >= sought.least).max_by_key(|&at| (through(at), at));
            if (sought.stop)() {
                return Some((chain, before));
            }
            if let Some(next) = next {
                self.evaluate(next, scratch);
                *labels += LABELS_A_START;
                continue;
            }
            let mut ends: Vec<usize> = Vec::new();
            for at in (0..self.starts.len()).filter(|&at| through(at) >= sought.least) {
                for (after_offcut, before) in [(false, before.direct[at]), (true, before.offcut[at])] {
                    for &(end, value) in chain.points(&self.starts[at], after_offcut).iter().flatten() {
                        let value = before + i64::from(value) * UNIT;
                        let next = chain.from[end];
                        let rounded = self.starts.get(next).is_some_and(|start| start.cell < end);
                        if rounded && value + chain.best[next] >= sought.least {
                            ends.push(end);
                        }
                    }
                }
            }
            ends.sort_unstable();
            ends.dedup();
            if ends.is_empty() || self.starts.len() + ends.len() > MOST_STARTS {
                return Some((chain, before));
            }
            for cell in ends {
                let at = self.starts.partition_point(|start| start.cell < cell);
                self.part(at - 1, cell);
            }
        }
    }

    /// What may lie left of every start.
    fn before(&self, chain: &Chain) -> Before {
        let count = self.starts.len() + 1;
        let (mut direct, mut offcut) = (vec![NEVER; count], vec![NEVER; count]);
        direct[chain.from[0]] = 0;
        if let Some(at) = self.entry_after_left_offcut(chain) {
            offcut[at] = 0;
        }
        for at in 0..self.starts.len() {
            if at > 0 {
                direct[at] = direct[at].max(direct[at - 1]);
                offcut[at] = offcut[at].max(offcut[at - 1]);
            }
            let after_offcut = (offcut[at] + self.credit_before(Which::Upper, at)).max(NEVER);
            for (follows, here) in [(false, direct[at]), (true, after_offcut)] {
                if here <= NEVER / 2 {
                    continue;
                }
                for &(end, value) in chain.points(&self.starts[at], follows).iter().flatten() {
                    let value = here + i64::from(value) * UNIT;
                    let next = &mut direct[chain.from[end]];
                    *next = value.max(*next);
                    if let Some((next, spent)) = self.entry_after_offcut(chain, end) {
                        offcut[next] = offcut[next].max(value - spent);
                    }
                }
            }
        }
        for (at, offcut) in offcut.iter_mut().enumerate().take(self.starts.len()) {
            *offcut = (*offcut + self.credit_before(Which::Upper, at)).max(NEVER);
        }
        Before { direct, offcut }
    }
}

/// Labels on their way along the board.
struct Row<'a> {
    search: &'a Search<'a>,
    chain: &'a Chain,
    after: &'a [i64],
    sought: &'a Sought<'a>,
    /// By set: the most credit it may come with.
    found: FxHashMap<u128, i64>,
}

impl Row<'_> {
    /// Labels followed by sections that begin at one place.
    fn join(&self, labels: &[Label], mut held: Vec<Held>, made: &mut u64, ended: &mut Vec<Label>) -> Option<()> {
        let ahead = |held: &Held| i64::from(held.worth) * UNIT + self.after[held.end];
        held.sort_by(|a, b| ahead(b).cmp(&ahead(a)).then(a.set.cmp(&b.set)));
        for label in labels {
            for held in &held {
                if label.value() + ahead(held) < self.sought.least {
                    break;
                }
                let set = label.set + held.set;
                if self.sought.fields.within(set, self.sought.limits) {
                    *made += 1;
                    ended.push(Label {
                        set,
                        cell: held.end,
                        worth: label.worth + i64::from(held.worth),
                        credit: label.credit,
                    });
                }
            }
            if *made > self.sought.most {
                return None;
            }
        }
        Some(())
    }

    /// Nothing more is cut right of a label.
    fn end(&mut self, label: &Label) {
        let right = self.search.right_offcut(self.chain, label.cell);
        let credit = label.credit + right.max(0);
        if label.worth * UNIT + credit >= self.sought.least {
            let known = self.found.entry(label.set).or_insert(credit);
            *known = credit.max(*known);
        }
    }
}
