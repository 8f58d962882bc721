//! Cuttings that differ in width alone: the staves of a panel, which may be ripped to many widths.
//!
//! Wherever one of a family fits, every narrower one does. In a strip, of those that may start in just the same cells only
//! the widest is of use, so a row holds a [`Run`] of the family where it would hold dozens of cuttings. Which of a run may
//! be cut at all depends on the limits of the moment, and is asked when prices are known.

use rustc_hash::FxHashMap;

use crate::nesting::problem::{BoardStock, Cutting};

/// Members `first..=last` of a family, in ascending width.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) struct Run {
    pub family: usize,
    pub first: usize,
    pub last: usize,
}

/// The families of a board's cuttings; a cutting without kin is a family of one.
#[derive(Clone, Debug)]
pub(super) struct Families {
    /// Cuttings of each, ascending in width.
    members: Vec<Vec<usize>>,
    /// Family and place in it, by cutting.
    place: Vec<(usize, usize)>,
    /// The first cutting of just the same geometry, by cutting.
    alike: Vec<usize>,
}

impl Families {
    pub fn of(board: &BoardStock) -> Families {
        let cuttings = &board.cuttings;
        let mut members: Vec<Vec<usize>> = Vec::new();
        let mut known: FxHashMap<(i64, i64, i64, i64, usize, usize), usize> = FxHashMap::default();
        let mut first_alike: FxHashMap<[i64; 7], usize> = FxHashMap::default();
        let mut alike = Vec::with_capacity(cuttings.len());
        for (c, cutting) in cuttings.iter().enumerate() {
            alike.push(*first_alike.entry(geometry(cutting)).or_insert(c));
            let [(item, _)] = cutting.yields[..] else {
                members.push(vec![c]);
                continue;
            };
            let key = (cutting.length, cutting.net_dx, cutting.net_length, cutting.net_dy, cutting.blocked, item);
            let family = *known.entry(key).or_insert_with(|| {
                members.push(Vec::new());
                members.len() - 1
            });
            members[family].push(c);
        }
        let units = |c: usize| cuttings[c].yields.first().map_or(0, |y| y.1);
        let mut families: Vec<Vec<usize>> = Vec::new();
        for mut list in members {
            list.sort_by_key(|&c| (cuttings[c].width, cuttings[c].net_width, units(c), c));
            // Only where the wider one gives at least as much, and needs as much clear wood, is the rest of no use.
            let grows = |&a: &usize, &b: &usize| cuttings[a].net_width <= cuttings[b].net_width && units(a) <= units(b);
            families.extend(list.chunk_by(grows).map(<[usize]>::to_vec));
        }
        let mut place = vec![(0, 0); cuttings.len()];
        for (family, list) in families.iter().enumerate() {
            list.iter().enumerate().for_each(|(at, &c)| place[c] = (family, at));
        }
        let members = families;
        Families { members, place, alike }
    }

    /// The first cutting of just the geometry of `cutting`.
    pub fn alike(&self, cutting: usize) -> usize {
        self.alike[cutting]
    }

    pub fn cutting(&self, family: usize, at: usize) -> usize {
        self.members[family][at]
    }

    /// The cuttings of a run, the widest first.
    pub fn widest_first(&self, run: Run) -> impl Iterator<Item = usize> + '_ {
        self.members[run.family][run.first..=run.last].iter().rev().copied()
    }

    /// Some cuttings as runs, by family; members not in the list part a run.
    pub fn runs(&self, cuttings: &[usize]) -> Vec<Run> {
        let mut places: Vec<(usize, usize)> = cuttings.iter().map(|&c| self.place[c]).collect();
        places.sort_unstable();
        let joined = places.chunk_by(|a, b| a.0 == b.0 && a.1 + 1 == b.1);
        joined.map(|run| Run { family: run[0].0, first: run[0].1, last: run[run.len() - 1].1 }).collect()
    }

    /// Parts a run where the pattern changes; members that fit nowhere are left out.
    pub fn split(&self, run: Run, placed: &[Option<usize>], parts: &mut Vec<(Run, usize)>) {
        let list = &self.members[run.family][run.first..=run.last];
        let mut first = run.first;
        for same in list.chunk_by(|&a, &b| placed[a] == placed[b]) {
            if let Some(pattern) = placed[same[0]] {
                parts.push((Run { family: run.family, first, last: first + same.len() - 1 }, pattern));
            }
            first += same.len();
        }
    }
}

fn geometry(c: &Cutting) -> [i64; 7] {
    [c.length, c.width, c.net_dx, c.net_dy, c.net_length, c.net_width, c.blocked as i64]
}
