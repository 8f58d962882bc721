//! Fewer section classes where warp makes very many of them.
//!
//! On a board whose strips are flattened one by one, every strip width has a greatest section length of its own, and staves
//! of a panel have dozens of widths. Classes that follow one another are then taken together: the plan keeps the longest,
//! with the fewest strips, of each group, the bound takes all that any of the group allows up to the longest. So the plan
//! is rounded against the wood and the bound towards it, by a few rip steps of one strip.

use crate::nesting::problem::{BoardStock, SectionClass, StripKind};

/// Most classes of a board that are told apart; pricing takes as much longer as there are more.
const MOST_CLASSES: usize = 16;

/// A board with fewer classes for the plan, and one for the bound; `None` when it has few enough. The classes keep their
/// numbers: those left out have no strips.
pub(super) fn thinned(board: &BoardStock) -> Option<(BoardStock, BoardStock)> {
    if board.classes.len() <= MOST_CLASSES {
        return None;
    }
    let size = board.classes.len().div_ceil(MOST_CLASSES);
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
