//! What a plan costs: the stock, less what its kept offcuts are credited, exactly.
//!
//! Credit is the shop's share of the stock's cost per area, for the sound area of an offcut: its rectangle less the union
//! of the defects in it and, on boards, less the end trim where it reaches a board's own end; per length on sticks. Every
//! figure is an exact fraction; nothing is rounded here.

use super::case::{Case, Use};
use super::{Length, Money, Node, Role, StockKind};
use crate::measure::{Area, Rational};
use crate::pile::Board;

/// Fills in the credit of every offcut of a tree; the sum of them.
pub(super) fn credit_offcuts(case: &Case, used: &Use, tree: &mut Node<Length>) -> Money {
    let mut sum = Money::zero();
    credit_under(case, used, tree, &mut sum);
    sum
}

fn credit_under(case: &Case, used: &Use, node: &mut Node<Length>, sum: &mut Money) {
    if node.role == Some(Role::Offcut) {
        let credit = credit(case, used, node);
        *sum += credit.clone();
        node.credit = Some(credit);
    }
    for child in &mut node.children {
        credit_under(case, used, child, sum);
    }
}

/// What the offcut `node` earns.
fn credit(case: &Case, used: &Use, node: &Node<Length>) -> Money {
    let piece = case.piece(used.source);
    let share = match piece.kind {
        StockKind::Board => {
            let board = case.board(used.source).expect("a piece of kind board is a board");
            sound_area(board, node, case.job.shop.trim.board_end).share_of(piece.length * piece.width)
        }
        StockKind::Sheet => (node.length * node.width).share_of(piece.length * piece.width),
        StockKind::Stick => Rational::new(node.length.ticks().into(), piece.length.ticks().into()),
    };
    used.cost.times(&(share * &case.job.shop.keep.credit))
}

/// The area of `node` that is sound wood: without the board's own end trims and the union of its defects.
fn sound_area(board: &Board, node: &Node<Length>, end_trim: Length) -> Area {
    let left = if node.x == Length::ZERO { end_trim } else { node.x };
    let right = if node.right() == board.length { board.length - end_trim } else { node.right() };
    if right <= left {
        return Area::ZERO;
    }
    let clip = |d: &crate::pile::Defect| {
        let patch = Patch {
            x0: d.x.max(left),
            x1: (d.x + d.length).min(right),
            y0: d.y.max(node.y),
            y1: (d.y + d.width).min(node.far()),
        };
        (patch.x0 < patch.x1 && patch.y0 < patch.y1).then_some(patch)
    };
    let defects: Vec<Patch> = board.defects.iter().filter_map(clip).collect();
    (right - left) * node.width - union_area(&defects)
}

/// A rectangle by its edges, half open.
#[derive(Clone, Copy)]
struct Patch {
    x0: Length,
    x1: Length,
    y0: Length,
    y1: Length,
}

/// The area covered by at least one of `patches`: upright slabs between neighbouring edges. O(n^2 log n).
fn union_area(patches: &[Patch]) -> Area {
    let mut edges: Vec<Length> = patches.iter().flat_map(|b| [b.x0, b.x1]).collect();
    edges.sort_unstable();
    edges.dedup();
    let slab = |pair: &[Length]| {
        let mut spans: Vec<(Length, Length)> =
            patches.iter().filter(|b| b.x0 <= pair[0] && b.x1 >= pair[1]).map(|b| (b.y0, b.y1)).collect();
        spans.sort_unstable();
        (pair[1] - pair[0]) * covered(&spans)
    };
    edges.windows(2).map(slab).sum()
}

/// The length covered by at least one of `spans`, which ascend.
fn covered(spans: &[(Length, Length)]) -> Length {
    let mut total = Length::ZERO;
    let mut reached: Option<Length> = None;
    for &(from, to) in spans {
        let from = reached.map_or(from, |r| r.max(from));
        if to > from {
            total += to - from;
            reached = Some(to);
        }
    }
    total
}

#[cfg(test)]
mod tests {
    use super::*;

    fn inches(x0: i64, x1: i64, y0: i64, y1: i64) -> Patch {
        let inch = Length::from_inches;
        Patch { x0: inch(x0), x1: inch(x1), y0: inch(y0), y1: inch(y1) }
    }

    #[test]
    fn wood_under_two_defects_is_lost_once() {
        // 4 x 2 and 4 x 3 share 2 x 1: 8 + 12 - 2 = 18 square inches; a third lies inside the first.
        let patches = [inches(0, 4, 0, 2), inches(2, 6, 1, 4), inches(1, 2, 0, 1)];
        let square_inch = Length::from_inches(1) * Length::from_inches(1);
        assert_eq!(union_area(&patches).square_ticks(), 18 * square_inch.square_ticks());
        assert_eq!(union_area(&[]), Area::ZERO);
    }
}
