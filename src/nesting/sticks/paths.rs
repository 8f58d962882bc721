//! The best pieces for one stick when single steps along it carry prices too.
//!
//! A stick's pieces, longest first, are a path from 0: each piece is an arc from where it starts to where it ends
//! (Valerio de Carvalho 1999). Branching prices some arcs; the knapsack then runs over exact positions. Exact families only.

use super::super::stick::earned;
use super::case::{Case, Class, Family, Pattern};

/// A piece that starts so far along a stick of the family, pieces longest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) struct Arc {
    pub item: usize,
    /// Ticks, kerfs included.
    pub start: i64,
    pub family: usize,
}

impl Arc {
    /// True when the pattern takes this step.
    pub fn within(&self, case: &Case, pattern: &Pattern) -> bool {
        arcs(case, pattern).any(|arc| arc == *self)
    }
}

/// The steps of a pattern.
pub(super) fn arcs<'p>(case: &'p Case, pattern: &'p Pattern) -> impl Iterator<Item = Arc> + 'p {
    let family = case.classes[pattern.class].family;
    let mut start = 0;
    pattern.counts.iter().flat_map(|&(item, n)| std::iter::repeat_n(item, n as usize)).map(move |item| {
        let arc = Arc { item, start, family };
        start += case.families[family].pieces[item].map_or(0, |piece| piece.1);
        arc
    })
}

/// Nothing reaches this position.
const NOWHERE: i64 = i64::MIN / 4;

/// Best values by exact position. Buffers grow to the longest stick and the most items seen.
#[derive(Default)]
pub(super) struct Paths {
    best: Vec<i64>,
    next: Vec<i64>,
    /// By item and position: pieces of it taken to get there.
    taken: Vec<u16>,
    /// Cells a piece of each item takes; 0 for items left out.
    cells: Vec<usize>,
    step: i64,
}

impl Paths {
    /// Prices every stick of a family up to `room` ticks, with at most `limits` pieces of each item; `steps` are arcs of the
    /// family and what they are worth beside their piece.
    pub fn fill(&mut self, family: &Family, room: i64, prices: &[i64], limits: &[u32], steps: &[(Arc, i64)]) {
        self.step = family.step;
        let cells = (room / family.step) as usize + 1;
        self.best.clear();
        self.best.resize(cells, NOWHERE);
        self.best[0] = 0;
        self.taken.clear();
        self.taken.resize(cells * family.pieces.len(), 0);
        self.cells.clear();
        let mut extra = vec![0; cells];
        for (item, piece) in family.pieces.iter().enumerate() {
            let piece = piece.filter(|_| limits[item] > 0).map_or(0, |piece| (piece.1 / family.step) as usize);
            self.cells.push(piece);
            if piece == 0 || piece >= cells {
                continue;
            }
            let here = || steps.iter().filter(|step| step.0.item == item);
            here().for_each(|step| extra[((step.0.start / family.step) as usize).min(cells - 1)] += step.1);
            let taken = &mut self.taken[item * cells..(item + 1) * cells];
            self.next.clone_from(&self.best);
            for from in 0..cells - piece {
                if self.best[from] == NOWHERE {
                    continue;
                }
                let mut value = self.best[from];
                let mut at = from;
                for copies in 1..=limits[item].min(u32::from(u16::MAX)) {
                    if at + piece >= cells {
                        break;
                    }
                    value += prices[item] + extra[at];
                    at += piece;
                    if value > self.next[at] {
                        self.next[at] = value;
                        taken[at] = copies as u16;
                    }
                }
            }
            here().for_each(|step| extra[((step.0.start / family.step) as usize).min(cells - 1)] = 0);
            std::mem::swap(&mut self.best, &mut self.next);
        }
    }

    fn worths<'a>(&'a self, class: &'a Class, up: bool) -> impl Iterator<Item = (i64, usize)> + 'a {
        let last = (class.room / self.step) as usize;
        (1..=last).filter(|&at| self.best[at] > NOWHERE).map(move |at| {
            let (down, above) = earned(class.stick, class.credit, at as i64 * self.step);
            (self.best[at] + if up { above } else { down }, at)
        })
    }

    /// No pieces on a stick of the class are worth more; micro-units.
    pub fn upper(&self, class: &Class) -> i64 {
        self.worths(class, true).map(|worth| worth.0).max().unwrap_or(0).max(0)
    }

    /// The most valuable pieces on a stick of the class; `None` when none fit.
    pub fn pattern(&self, case: &Case, class: usize) -> Option<Pattern> {
        let (_, mut at) = self.worths(&case.classes[class], false).max()?;
        let cells = self.best.len();
        let mut counts = Vec::new();
        for item in (0..self.cells.len()).rev() {
            let copies = if self.cells[item] == 0 { 0 } else { self.taken[item * cells + at] };
            if copies > 0 {
                counts.push((item, u32::from(copies)));
                at -= usize::from(copies) * self.cells[item];
            }
        }
        counts.reverse();
        case.pattern(class, counts)
    }
}
