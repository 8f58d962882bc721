//! How many of a few limited items a layout has used: the states of count-bounded pricing.
//!
//! State u stands for "at most u of each tracked item"; the last state is the limits themselves. With nothing tracked
//! there is one state.

/// Tracked items and the states of their use.
#[derive(Clone, Debug)]
pub(super) struct Usage {
    /// (item, limit), in the order of the mixed radix.
    pub items: Vec<(usize, u32)>,
    /// Number of states.
    pub states: usize,
    /// Weight of each tracked item in the number of a state.
    weights: Vec<usize>,
}

impl Usage {
    /// Nothing tracked.
    pub fn none() -> Usage {
        Usage::new(vec![])
    }

    pub fn new(items: Vec<(usize, u32)>) -> Usage {
        let mut weights = Vec::with_capacity(items.len());
        let mut states = 1;
        for &(_, limit) in &items {
            weights.push(states);
            states *= limit as usize + 1;
        }
        Usage { items, states, weights }
    }

    /// Use of tracked item number `which` in a state.
    pub fn of(&self, state: usize, which: usize) -> u32 {
        (state / self.weights[which] % (self.items[which].1 as usize + 1)) as u32
    }

    /// The state left when `pieces` (item, count) come out of `state`; `None` when it holds too few.
    pub fn less(&self, state: usize, pieces: &[(usize, u32)]) -> Option<usize> {
        let mut left = state;
        for (which, &(item, _)) in self.items.iter().enumerate() {
            let used: u32 = pieces.iter().filter(|p| p.0 == item).map(|p| p.1).sum();
            if used > self.of(state, which) {
                return None;
            }
            left -= used as usize * self.weights[which];
        }
        Some(left)
    }

    /// The states that allow one piece less of one tracked item, and no less of the others.
    pub fn below(&self, state: usize) -> impl Iterator<Item = usize> + '_ {
        let some = move |&(which, _): &(usize, &usize)| self.of(state, which) > 0;
        self.weights.iter().enumerate().filter(some).map(move |(_, weight)| state - weight)
    }

    /// Which tracked items some pieces use, as bits.
    pub fn mask(&self, pieces: &[(usize, u32)]) -> u32 {
        let uses = |item: usize| pieces.iter().any(|p| p.0 == item && p.1 > 0);
        self.items.iter().enumerate().filter(|(_, t)| uses(t.0)).map(|(which, _)| 1 << which).sum()
    }

    /// States that use only tracked items of `mask`, ascending; such a state counts "at most" for the rest too.
    pub fn within(&self, mask: u32) -> Vec<usize> {
        let outside = |state: usize| (0..self.items.len()).any(|w| mask & (1 << w) == 0 && self.of(state, w) > 0);
        (0..self.states).filter(|&state| !outside(state)).collect()
    }

    /// All (part, rest, whole) with part + rest = whole, part within `mask`.
    pub fn splits(&self, mask: u32) -> Vec<(usize, usize, usize)> {
        let parts = self.within(mask);
        let below = |part: usize, whole: usize| (0..self.items.len()).all(|w| self.of(part, w) <= self.of(whole, w));
        let pairs = (0..self.states).flat_map(|whole| parts.iter().map(move |&part| (part, whole)));
        pairs.filter(|&(part, whole)| below(part, whole)).map(|(part, whole)| (part, whole - part, whole)).collect()
    }
}
