//! The answer in a relaxation that takes whole numbers of sticks and of steps, though its patterns may be broken.
//!
//! Whole numbers of steps are a whole flow from the stick's clean end, and a flow is paths (Ford and Fulkerson 1962): where
//! paths end is the same however it is taken apart, so sticks of the classes taken hold them, the longest the longest.
//! What patterns make together beyond what is wanted is left out. Nothing here searches or bounds.

use std::collections::BTreeMap;

use super::case::Case;
use super::paths::{Arc, arcs};
use super::relax::Relaxed;
use super::{Plan, Search};

/// Shares of a relaxation added up.
pub(super) struct Flow {
    /// By class: sticks taken.
    pub sticks: Vec<f64>,
    /// How often each step is taken, over all classes of its family.
    pub steps: BTreeMap<Arc, f64>,
}

impl Flow {
    /// The sum of the patterns that `relaxed` takes from the pool of `search`.
    pub fn of(search: &Search, relaxed: &Relaxed) -> Flow {
        let mut flow = Flow { sticks: vec![0.0; search.case.classes.len()], steps: BTreeMap::new() };
        for &(at, share) in &relaxed.taken {
            let pattern = &search.pool.patterns[at];
            flow.sticks[pattern.class] += share;
            arcs(&search.case, pattern).for_each(|arc| *flow.steps.entry(arc).or_default() += share);
        }
        flow
    }

    /// The answer in the flow, its numbers taken to the nearest whole ones; `None` where that is no answer.
    pub fn plan(&self, case: &Case) -> Option<Plan> {
        let mut left = case.demand.clone();
        let mut plan = Plan::default();
        for family in 0..case.families.len() {
            let mut sticks: Vec<usize> = (0..case.classes.len())
                .filter(|&class| case.classes[class].family == family)
                .flat_map(|class| {
                    let count = self.sticks[class].round() as u32;
                    std::iter::repeat_n(class, count.min(case.classes[class].count) as usize)
                })
                .collect();
            sticks.sort_by_key(|&class| -case.classes[class].room);
            let mut paths = self.paths(case, family, sticks.len());
            paths.sort_by_key(|path| -path.0);
            for (class, (_, items)) in sticks.into_iter().zip(paths) {
                let mut counts: BTreeMap<usize, u32> = BTreeMap::new();
                for item in items {
                    if left[item] > 0 {
                        left[item] -= 1;
                        *counts.entry(item).or_default() += 1;
                    }
                }
                if !counts.is_empty() {
                    plan.push(case.pattern(class, counts.into_iter().collect())?);
                }
            }
        }
        left.iter().all(|&count| count == 0).then_some(plan)
    }

    /// At most so many paths of a family: where each ends, ticks, and its items.
    fn paths(&self, case: &Case, family: usize, most: usize) -> Vec<(i64, Vec<usize>)> {
        let mut from: BTreeMap<i64, Vec<(usize, u32)>> = BTreeMap::new();
        for (arc, share) in self.steps.iter().filter(|(arc, _)| arc.family == family) {
            from.entry(arc.start).or_default().push((arc.item, share.round() as u32));
        }
        let path = |_| {
            let (mut at, mut items) = (0, Vec::new());
            while let Some(step) = from.get_mut(&at).and_then(|steps| steps.iter_mut().find(|step| step.1 > 0)) {
                step.1 -= 1;
                items.push(step.0);
                at += case.families[family].pieces[step.0].map_or(0, |piece| piece.1);
            }
            (at, items)
        };
        (0..most).map(path).collect()
    }
}
