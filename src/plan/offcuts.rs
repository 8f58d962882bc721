//! What is left and worth keeping: credited offcuts, and sound leftovers of the same size among the waste.
//!
//! Every cut tree leaves separate rectangles of waste: beside the sections of a board, beside the strips of a section,
//! before, between and after the blanks of a strip, beside a blank narrower than its strip, and the same on sheets and
//! sticks, each less the kerf that frees its neighbour. From each, the largest rectangle free of defects is taken while
//! it is at least as large as the shop keeps; a board's own end trims are never part of it. As the rectangles of waste are
//! disjoint from each other and from the credited offcuts, nothing is listed twice.

use super::case::{Case, Use};
use super::tree::{Grown, nodes_of};
use super::{CutKind, Length, Money, Node, OffcutRow, Role, StockKind};

/// A rectangle by its edges.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Patch {
    x0: Length,
    x1: Length,
    y0: Length,
    y1: Length,
}

impl Patch {
    fn of(node: &Node<Length>) -> Patch {
        Patch { x0: node.x, x1: node.right(), y0: node.y, y1: node.far() }
    }

    fn meets(&self, other: &Patch) -> bool {
        self.x0 < other.x1 && other.x0 < self.x1 && self.y0 < other.y1 && other.y0 < self.y1
    }

    /// The same area cut down to `from..to` in the coordinate that cuts of `kind` part.
    fn cut_to(&self, kind: CutKind, from: Length, to: Length) -> Patch {
        match kind {
            CutKind::Cross => Patch { x0: from, x1: to, ..*self },
            CutKind::Rip => Patch { y0: from, y1: to, ..*self },
        }
    }

    fn span(&self, kind: CutKind) -> (Length, Length) {
        match kind {
            CutKind::Cross => (self.x0, self.x1),
            CutKind::Rip => (self.y0, self.y1),
        }
    }
}

/// Every piece worth keeping, in the order of pulling, then x, then y.
pub(super) fn list(case: &Case, uses: &[Use], grown: &[Grown]) -> Vec<OffcutRow<Length>> {
    let mut rows = Vec::new();
    for (used, grown) in uses.iter().zip(grown) {
        let piece = case.piece(used.source);
        let row = |area: Patch, credit: Money| OffcutRow {
            stock: piece.id.to_owned(),
            stock_copy: used.copy,
            x: area.x0,
            y: area.y0,
            length: area.x1 - area.x0,
            width: area.y1 - area.y0,
            credit,
        };
        let credited = nodes_of(&grown.tree, Role::Offcut).into_iter();
        let mut of_piece: Vec<_> =
            credited.map(|node| row(Patch::of(node), node.credit.clone().unwrap_or_default())).collect();
        of_piece.extend(leftovers(case, used, &grown.tree).into_iter().map(|area| row(area, Money::zero())));
        of_piece.sort_by_key(|offcut| (offcut.x, offcut.y));
        rows.append(&mut of_piece);
    }
    rows
}

/// Sound rectangles of the waste that are large enough to keep.
fn leftovers(case: &Case, used: &Use, tree: &Node<Length>) -> Vec<Patch> {
    let piece = case.piece(used.source);
    let keep = &case.job.shop.keep;
    let (end, narrowest) = match piece.kind {
        StockKind::Board => (case.job.shop.trim.board_end, keep.width),
        StockKind::Sheet => (Length::ZERO, keep.width),
        StockKind::Stick => (Length::ZERO, Length::ZERO),
    };
    let mut taken = defects(case, used);
    let mut wastes = Vec::new();
    waste_of(tree, case.kerfs(used.class), &mut wastes);
    let mut kept = Vec::new();
    for waste in wastes {
        let waste = Patch { x0: waste.x0.max(end), x1: waste.x1.min(piece.length - end), ..waste };
        while let Some(sound) = largest_sound(&waste, &taken, keep.length, narrowest) {
            taken.push(sound);
            kept.push(sound);
        }
    }
    kept
}

fn defects(case: &Case, used: &Use) -> Vec<Patch> {
    let board = case.board(used.source);
    let defects = board.iter().flat_map(|board| &board.defects);
    defects.map(|d| Patch { x0: d.x, x1: d.x + d.length, y0: d.y, y1: d.y + d.width }).collect()
}

/// The rectangles under `node` that no child covers and no kerf takes.
fn waste_of(node: &Node<Length>, kerfs: [Length; 2], wastes: &mut Vec<Patch>) {
    let Some(kind) = node.cut else { return };
    let hand = Patch::of(node);
    gaps(hand, kind, &node.children, kerfs, wastes);
    for child in &node.children {
        let across = match kind {
            CutKind::Cross => CutKind::Rip,
            CutKind::Rip => CutKind::Cross,
        };
        match child.role {
            Some(Role::Blank | Role::Offcut) => {
                let (from, to) = Patch::of(child).span(kind);
                gaps(hand.cut_to(kind, from, to), across, std::slice::from_ref(child), kerfs, wastes);
            }
            Some(Role::Section | Role::Strip) | None => waste_of(child, kerfs, wastes),
        }
    }
}

/// What the ascending `pieces` leave of `hand` in the coordinate that cuts of `kind` part.
fn gaps(hand: Patch, kind: CutKind, pieces: &[Node<Length>], kerfs: [Length; 2], wastes: &mut Vec<Patch>) {
    let kerf = match kind {
        CutKind::Cross => kerfs[0],
        CutKind::Rip => kerfs[1],
    };
    let (mut from, end) = hand.span(kind);
    for piece in pieces {
        let (start, stop) = Patch::of(piece).span(kind);
        wastes.push(hand.cut_to(kind, from, start - kerf));
        from = stop + kerf;
    }
    wastes.push(hand.cut_to(kind, from, end));
    wastes.retain(|waste| waste.x0 < waste.x1 && waste.y0 < waste.y1);
}

/// The largest rectangle of `waste` clear of `taken` and at least `length` x `width`; the leftmost, lowest of equals.
///
/// Its ends lie on the waste's own ends or on sides of what is taken, so only those are tried: O(n^3 log n).
fn largest_sound(waste: &Patch, taken: &[Patch], length: Length, width: Length) -> Option<Patch> {
    let inside: Vec<&Patch> = taken.iter().filter(|area| area.meets(waste)).collect();
    let lefts = || std::iter::once(waste.x0).chain(inside.iter().map(|a| a.x1));
    let rights = || std::iter::once(waste.x1).chain(inside.iter().map(|a| a.x0));
    let mut best: Option<Patch> = None;
    for x0 in lefts().filter(|&x| x < waste.x1) {
        for x1 in rights().filter(|&x1| x1 - x0 >= length && x1 > x0) {
            let Some((y0, y1)) = widest_gap(waste, &inside, x0, x1) else { continue };
            let found = Patch { x0, x1, y0, y1 };
            if y1 - y0 >= width && best.is_none_or(|b| beats(&found, &b)) {
                best = Some(found);
            }
        }
    }
    best
}

fn beats(a: &Patch, b: &Patch) -> bool {
    let size = |area: &Patch| ((area.x1 - area.x0) * (area.y1 - area.y0)).square_ticks();
    size(a) > size(b) || size(a) == size(b) && (a.x0, a.y0) < (b.x0, b.y0)
}

/// The widest range of y in which nothing of `inside` lies between x0 and x1; none when all of it is taken.
fn widest_gap(waste: &Patch, inside: &[&Patch], x0: Length, x1: Length) -> Option<(Length, Length)> {
    let mut spans: Vec<(Length, Length)> =
        inside.iter().filter(|a| a.x0 < x1 && x0 < a.x1).map(|a| (a.y0, a.y1)).collect();
    spans.push((waste.y1, waste.y1));
    spans.sort_unstable();
    let mut widest: Option<(Length, Length)> = None;
    let mut from = waste.y0;
    for (low, high) in spans {
        if low > from && widest.is_none_or(|(a, b)| low - from > b - a) {
            widest = Some((from, low));
        }
        from = from.max(high);
    }
    widest
}

#[cfg(test)]
mod tests {
    use super::*;

    fn inches(x0: i64, x1: i64, y0: i64, y1: i64) -> Patch {
        let inch = Length::from_inches;
        Patch { x0: inch(x0), x1: inch(x1), y0: inch(y0), y1: inch(y1) }
    }

    fn sound(waste: Patch, taken: &[Patch]) -> Option<Patch> {
        largest_sound(&waste, taken, Length::from_inches(24), Length::from_inches(3))
    }

    #[test]
    fn waste_without_a_defect_is_kept_whole_or_not_at_all() {
        assert_eq!(sound(inches(10, 40, 0, 4), &[]), Some(inches(10, 40, 0, 4)));
        assert_eq!(sound(inches(10, 33, 0, 4), &[]), None);
        assert_eq!(sound(inches(10, 40, 0, 2), &[]), None);
    }

    #[test]
    fn a_knot_is_passed_on_the_side_that_leaves_more() {
        // Right of the knot: 30 x 8 = 240; beside it, the whole length: 60 x 5 = 300.
        let knot = inches(20, 30, 0, 3);
        assert_eq!(sound(inches(0, 60, 0, 8), &[knot]), Some(inches(0, 60, 3, 8)));
        let wide_knot = inches(20, 30, 0, 5);
        assert_eq!(sound(inches(0, 60, 0, 8), &[wide_knot]), Some(inches(30, 60, 0, 8)));
    }

    #[test]
    fn a_defect_over_the_edge_of_the_waste_blocks_only_what_it_covers() {
        let check = inches(-5, 6, -1, 20);
        assert_eq!(sound(inches(0, 60, 0, 4), &[check]), Some(inches(6, 60, 0, 4)));
    }
}
