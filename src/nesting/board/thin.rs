//! Fewer section classes where warp makes very many of them, and fewer widths of staves for a first look.
//!
//! On a board whose strips are flattened one by one, every strip width has a greatest section length of its own, and staves
//! of a panel have dozens of widths. Classes that follow one another are then taken together: the plan keeps the longest,
//! with the fewest strips, of each group, the bound takes all that any of the group allows up to the longest. So the plan
//! is rounded against the wood and the bound towards it, by a few rip steps of one strip.

use crate::nesting::problem::{BoardStock, SectionClass, StripKind};

/// Most classes of a board that are all told apart; pricing takes as much longer as there are more.
const MOST_CLASSES: usize = 32;
/// With more, about so many are kept for the plan and as many for the bound, which is no more work than the most.
const KEPT: usize = 16;

/// A board with fewer classes for the plan, and one for the bound; `None` when it has few enough. The classes keep their
/// numbers: those left out have no strips.
pub(super) fn thinned(board: &BoardStock) -> Option<(BoardStock, BoardStock)> {
    if board.classes.len() <= MOST_CLASSES {
        return None;
    }
    let size = board.classes.len().div_ceil(KEPT);
    let (mut plan, mut bound) = (board.clone(), board.clone());
    let mut first = 0;
    for run in board.classes.chunk_by(follows) {
        for group in run.chunks(size) {
            let last = first + group.len() - 1;
            for k in first..last {
                plan.classes[k].strips.clear();
                bound.classes[k].strips.clear();
            }
            bound.classes[last] = union(group);
            first = last + 1;
        }
    }
    Some((plan, bound))
}

/// Widths of strips for staves alone that a coarse board tells apart in a class.
const FEW_WIDTHS: usize = 10;
/// Cuttings that differ in width alone are staves when they are more than this.
const MANY_WIDTHS: usize = 8;

/// A board with fewer widths of staves for the plan, and one for the bound, from those given; `None` when there are few enough.
///
/// Of strips that follow one another in width and are there for staves alone, the plan keeps the widest of each group; the
/// bound takes for the whole group one as narrow as the narrowest that may hold what any of them may. Pricing takes
/// with the square of the widths.
pub(super) fn coarse(plan: &BoardStock, bound: &BoardStock) -> Option<(BoardStock, BoardStock)> {
    let of = |board: &BoardStock, c: usize| {
        let cutting = &board.cuttings[c];
        (cutting.length, cutting.blocked, cutting.yields.first().map(|y| y.0))
    };
    let mut alike = rustc_hash::FxHashMap::default();
    (0..plan.cuttings.len()).for_each(|c| *alike.entry(of(plan, c)).or_insert(0) += 1);
    let stave = |c: usize| alike[&of(plan, c)] > MANY_WIDTHS;
    let for_staves = |kind: &StripKind| {
        let as_wide = |c: &&usize| plan.cuttings[**c].width == kind.width;
        kind.cuttings.iter().filter(as_wide).all(|&c| stave(c))
    };
    let (mut plan_coarse, mut bound_coarse) = (plan.clone(), bound.clone());
    let mut fewer = false;
    let classes = plan_coarse.classes.iter_mut().chain(&mut bound_coarse.classes);
    for (at, class) in classes.enumerate() {
        let many = class.strips.iter().filter(|kind| for_staves(kind)).count();
        let size = many.div_ceil(FEW_WIDTHS);
        if size <= 1 {
            continue;
        }
        fewer = true;
        let groups = class.strips.chunk_by(|one, next| for_staves(one) && for_staves(next));
        let strips = groups.flat_map(|group| group.chunks(if for_staves(&group[0]) { size } else { 1 }));
        class.strips =
            strips.map(|group| if at < plan.classes.len() { widest(group) } else { all_in_one(group) }).collect();
    }
    fewer.then_some((plan_coarse, bound_coarse))
}

fn widest(group: &[StripKind]) -> StripKind {
    group[group.len() - 1].clone()
}

fn all_in_one(group: &[StripKind]) -> StripKind {
    let mut cuttings: Vec<usize> = group.iter().flat_map(|kind| &kind.cuttings).copied().collect();
    cuttings.sort_unstable();
    cuttings.dedup();
    StripKind { width: group[0].width, cuttings }
}

/// The second class is the first for longer sections.
fn follows(one: &SectionClass, next: &SectionClass) -> bool {
    one.min_length == next.min_length && one.end_margin == next.end_margin && one.max_length < next.max_length
}

/// All that any class of the group allows.
fn union(group: &[SectionClass]) -> SectionClass {
    let mut all = group[0].clone();
    for class in &group[1..] {
        all.max_length = all.max_length.max(class.max_length);
        all.low = all.low.min(class.low);
        all.high = all.high.max(class.high);
        for kind in &class.strips {
            join(&mut all.strips, kind);
        }
    }
    all.strips.sort_by_key(|kind| kind.width);
    all
}

fn join(strips: &mut Vec<StripKind>, kind: &StripKind) {
    match strips.iter_mut().find(|known| known.width == kind.width) {
        Some(known) => {
            known.cuttings.extend(&kind.cuttings);
            known.cuttings.sort_unstable();
            known.cuttings.dedup();
        }
        None => strips.push(kind.clone()),
    }
}
