//! Sizes along one axis of a sheet: which extents a rectangle of a layout need ever have.
//!
//! Every guillotine layout can be pushed to the lower left so that each rectangle's extent is a sum of piece extents: the
//! normal patterns (Herz 1972; Christofides and Whitlock 1977). Cuts are taken at the largest pattern that leaves the same
//! remainder only (raster points: Scheithauer and Terno 1996). When the patterns are too many, a subset S of them stands
//! for all: rounding what is left down to S keeps every layout lawful, rounding it up to S keeps every bound proven.
//! Invariant: extents here are grown by one kerf, so that neighbours touch (piece l + k in a sheet L + k).

/// No size: the piece does not fit.
pub(super) const NONE: u32 = u32::MAX;

/// Widest range whose sums are marked one by one, in units of the common divisor.
const MARKS: i64 = 1 << 21;

/// Which way what is left after a cut is rounded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Rounding {
    /// Against the layout: what is found is lawful.
    Down,
    /// Towards the layout: what is found bounds every layout.
    Up,
}

/// The patterns of an axis before any choice among them.
#[derive(Clone, Debug)]
pub(super) enum Patterns {
    /// All sums, ascending, 0 first.
    Listed(Vec<i64>),
    /// Too many to list: every extent up to this one.
    Every(i64),
}

impl Patterns {
    /// Sums of `(extent, copies)` that are at most `space`.
    pub fn new(space: i64, extents: &[(i64, u32)]) -> Self {
        let unit = extents.iter().map(|e| e.0).fold(0, gcd).max(1);
        let range = space / unit;
        if range > MARKS {
            return Self::Every(space);
        }
        let mut marks = vec![false; usize::try_from(range).expect("range is small") + 1];
        marks[0] = true;
        // Copies used of the extent in hand to reach each sum: the fewest, so that the limit is kept exactly.
        let mut used = vec![0_u32; marks.len()];
        for &(extent, copies) in extents {
            let step = usize::try_from(extent / unit).expect("an extent is positive");
            used.fill(0);
            for sum in step..marks.len() {
                if !marks[sum] && marks[sum - step] && used[sum - step] < copies {
                    marks[sum] = true;
                    used[sum] = used[sum - step] + 1;
                }
            }
        }
        Self::Listed((0..=range).filter(|&n| marks[n as usize]).map(|n| n * unit).collect())
    }

    /// How many there are (at least).
    pub fn count(&self) -> usize {
        match self {
            Self::Listed(list) => list.len(),
            Self::Every(_) => usize::MAX,
        }
    }

    /// The greatest pattern.
    fn greatest(&self) -> i64 {
        match self {
            Self::Listed(list) => *list.last().expect("0 is always a pattern"),
            Self::Every(space) => *space,
        }
    }

    /// The greatest pattern that is at most `extent` (not negative).
    fn down(&self, extent: i64) -> i64 {
        match self {
            Self::Listed(list) => list[list.partition_point(|&p| p <= extent) - 1],
            Self::Every(space) => extent.min(*space),
        }
    }

    /// The least pattern greater than `extent`, below the greatest.
    fn above(&self, extent: i64) -> i64 {
        match self {
            Self::Listed(list) => list[list.partition_point(|&p| p <= extent)],
            Self::Every(_) => extent + 1,
        }
    }

    /// About `most` of the patterns with no gap wider than the shortest piece that could be narrower.
    fn chosen(&self, most: usize, lengths: &[i64]) -> Vec<i64> {
        if let Self::Listed(list) = self
            && list.len() <= most
        {
            return list.clone();
        }
        let root = self.greatest();
        // Without pieces nothing is ever cut: no size but the whole is needed.
        let shortest = lengths.first().copied().unwrap_or(root);
        let step = (root / most.max(2) as i64 + 1).min(shortest).max(1);
        let mut sizes = vec![0, root];
        sizes.extend(lengths.iter().copied().filter(|&l| l <= root));
        let mut at = root;
        while at > shortest {
            let below = (at - step).max(0);
            // The least pattern at or above `below`, or else the next one down.
            let next = if below == 0 { 0 } else { self.above(below - 1) };
            at = if next < at { next } else { self.down(at - 1) };
            sizes.push(at);
        }
        sizes.sort_unstable();
        sizes.dedup();
        sizes
    }
}

/// The sizes of an axis and how cuts lead from one to others. Sizes are ascending, the first is 0, the last the sheet's.
#[derive(Clone, Debug)]
pub(super) struct Axis {
    pub sizes: Vec<i64>,
    /// The least true pattern that each size stands for.
    pub least: Vec<i64>,
    /// Distinct piece extents, ascending.
    pub lengths: Vec<i64>,
    /// By length: the first size that holds it.
    pub holds: Vec<u32>,
    /// True when the sizes are all the patterns, so that both roundings are exact.
    pub exact: bool,
    /// By length, then size: the size left when the piece is cut off, or `NONE`.
    after: Vec<u32>,
    /// Two-part cuts of each size, the first part no greater than the second.
    pairs: Vec<(u32, u32)>,
    starts: Vec<usize>,
}

impl Axis {
    /// Builds the axis from the patterns: at most about `most` sizes. `pairs` are built when asked.
    pub fn new(patterns: &Patterns, lengths: Vec<i64>, most: usize, rounding: Rounding, pairs: bool) -> Self {
        let sizes = patterns.chosen(most, &lengths);
        let exact = sizes.len() == patterns.count();
        let mut axis = Self {
            least: sizes.clone(),
            holds: lengths.iter().map(|&l| sizes.partition_point(|&s| s < l) as u32).collect(),
            sizes,
            lengths,
            exact,
            after: Vec::new(),
            pairs: Vec::new(),
            starts: Vec::new(),
        };
        if rounding == Rounding::Up && !exact {
            axis.least = (0..axis.len()).map(|n| if n == 0 { 0 } else { patterns.above(axis.sizes[n - 1]) }).collect();
        }
        // The size that stands for what is left: the last whose least pattern it reaches. Rounded up, that is the size above.
        let left = |extent: i64| axis.least.partition_point(|&l| l <= extent) - 1;
        let mut after = Vec::with_capacity(axis.lengths.len() * axis.len());
        for &length in &axis.lengths {
            let mut rest = 0;
            for &size in &axis.sizes {
                if size < length {
                    after.push(NONE);
                    continue;
                }
                while rest + 1 < axis.len() && axis.least[rest + 1] <= size - length {
                    rest += 1;
                }
                after.push(rest as u32);
            }
        }
        let (mut list, mut starts) = (Vec::new(), vec![0]);
        if pairs {
            for n in 0..axis.len() {
                let begin = list.len();
                let mut rest = left(axis.sizes[n]);
                for i in 1..n {
                    let part = axis.least[i];
                    if 2 * part > axis.sizes[n] {
                        break;
                    }
                    while axis.least[rest] > axis.sizes[n] - part {
                        rest -= 1;
                    }
                    if rest == 0 {
                        break;
                    }
                    // A greater part with the same remainder is never worse.
                    if list.len() > begin && list.last().is_some_and(|&(_, r)| r == rest as u32) {
                        list.pop();
                    }
                    list.push((i as u32, rest as u32));
                }
                starts.push(list.len());
            }
        }
        axis.after = after;
        axis.pairs = list;
        axis.starts = starts;
        axis
    }

    /// How many sizes.
    pub fn len(&self) -> usize {
        self.sizes.len()
    }

    /// The index of the sheet's own size.
    pub fn root(&self) -> usize {
        self.sizes.len() - 1
    }

    /// The size left when a piece of `lengths[length]` is cut off size `n`, or `NONE`.
    pub fn after(&self, length: usize, n: usize) -> u32 {
        self.after[length * self.sizes.len() + n]
    }

    /// The two-part cuts of size `n`; empty when the axis was built without.
    pub fn pairs(&self, n: usize) -> &[(u32, u32)] {
        &self.pairs[self.starts[n]..self.starts[n + 1]]
    }
}

fn gcd(a: i64, b: i64) -> i64 {
    let (mut a, mut b) = (a, b);
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a.abs()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn patterns_are_the_sums_with_no_more_copies_than_there_are() {
        let Patterns::Listed(list) = Patterns::new(20, &[(4, 2), (6, 1)]) else { panic!("few patterns are listed") };
        assert_eq!(list, [0, 4, 6, 8, 10, 14]);
    }

    #[test]
    fn a_cut_is_kept_only_where_it_leaves_a_different_remainder() {
        let patterns = Patterns::new(11, &[(4, 9), (5, 9)]);
        let axis = Axis::new(&patterns, vec![4, 5], 100, Rounding::Down, true);
        assert_eq!(axis.sizes, [0, 4, 5, 8, 9, 10]);
        // Size 10: part 4 leaves 5 (6 rounded down), part 5 leaves 5: only the second is kept.
        assert_eq!(axis.pairs(5), [(2, 2)]);
        assert_eq!(axis.after(0, 5), 2);
        assert_eq!(axis.after(1, 1), NONE);
    }

    #[test]
    fn thinned_sizes_round_down_for_the_layout_and_up_for_the_bound() {
        let extents = [(101, 99), (137, 99), (173, 99)];
        let patterns = Patterns::new(2000, &extents);
        let lengths = vec![101, 137, 173];
        let down = Axis::new(&patterns, lengths.clone(), 30, Rounding::Down, true);
        let up = Axis::new(&patterns, lengths, 30, Rounding::Up, true);
        assert!(!down.exact && down.len() < patterns.count());
        for n in 1..down.len() {
            for length in 0..3 {
                let (d, u) = (down.after(length, n), up.after(length, n));
                if d != NONE {
                    let left = down.sizes[n] - down.lengths[length];
                    assert!(down.sizes[d as usize] <= left);
                    assert!(up.sizes[u as usize] >= patterns.down(left));
                    assert!((u as usize) < n);
                }
            }
            assert!(up.pairs(n).iter().all(|&(i, j)| (i as usize) < n && (j as usize) < n));
        }
    }
}
