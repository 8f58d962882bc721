//! A layout as bare cuts: which pieces, parted in which direction; positions follow from it.
//!
//! Extents are sums along the cut and greatest extents across it, kerf included; so a tree is lawful when its own extents
//! fit the sheet and its depth fits the stages. Turns a tree into a `SheetNode` with its credited remnants.

use super::model::{Active, Frame, direction};
use crate::nesting::layout::SheetNode;

/// A layout without positions. Invariant after [`Cut::part`]: a split has two children at least, of other directions.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Cut {
    Piece(Active),
    /// Parted along direction 0 (cross) or 1 (rip).
    Split(usize, Vec<Cut>),
}

impl Cut {
    /// Parts `children` along `d`; children of the same direction are taken up, one child stands for itself.
    pub fn part(d: usize, children: Vec<Cut>) -> Option<Cut> {
        let mut list = Vec::with_capacity(children.len());
        for child in children {
            match child {
                Cut::Split(e, inner) if e == d => list.extend(inner),
                other => list.push(other),
            }
        }
        if list.len() > 1 { Some(Cut::Split(d, list)) } else { list.pop() }
    }

    /// Extents by direction, kerf included.
    pub fn extent(&self) -> [i64; 2] {
        match self {
            Cut::Piece(p) => p.extent,
            Cut::Split(d, children) => {
                let mut all = [0, 0];
                for child in children {
                    let one = child.extent();
                    all[*d] += one[*d];
                    all[1 - d] = all[1 - d].max(one[1 - d]);
                }
                all
            }
        }
    }

    /// Stages: changes of direction, the first cut included.
    pub fn depth(&self) -> u32 {
        match self {
            Cut::Piece(_) => 0,
            Cut::Split(_, children) => 1 + children.iter().map(Cut::depth).max().unwrap_or(0),
        }
    }

    /// Calls `f` on every piece.
    pub fn visit(&self, f: &mut dyn FnMut(&Active)) {
        match self {
            Cut::Piece(p) => f(p),
            Cut::Split(_, children) => children.iter().for_each(|c| c.visit(f)),
        }
    }

    /// The tree without the pieces that `keep` refuses, asked in order, backwards when `reverse`.
    pub fn kept(self, keep: &mut dyn FnMut(&Active) -> bool, reverse: bool) -> Option<Cut> {
        match self {
            Cut::Piece(p) => keep(&p).then_some(Cut::Piece(p)),
            Cut::Split(d, mut children) => {
                if reverse {
                    children.reverse();
                }
                let mut list: Vec<Cut> = children.into_iter().filter_map(|c| c.kept(keep, reverse)).collect();
                if reverse {
                    list.reverse();
                }
                Cut::part(d, list)
            }
        }
    }
}

/// The best credit a tree can take beside it: (direction, credit), or `None` when none is earned or lawful.
pub(super) fn best_credit(frame: &Frame, tree: &Cut) -> Option<(usize, i64)> {
    let extent = tree.extent();
    let (root, depth) = match tree {
        Cut::Piece(_) => (2, 0),
        Cut::Split(d, _) => (*d, tree.depth()),
    };
    (0..2)
        .filter(|&d| frame.stages_needed(d, if d == root { depth } else { depth + 1 }) <= frame.stages)
        .map(|d| (d, frame.credit(d, extent[d])))
        .filter(|&(_, credit)| credit > 0)
        .max_by_key(|&(d, credit)| (credit, 1 - d))
}

/// True when the tree fits the sheet and its stages.
pub(super) fn lawful(frame: &Frame, tree: &Cut) -> bool {
    let extent = tree.extent();
    let stages = match tree {
        Cut::Piece(_) => 0,
        Cut::Split(d, _) => frame.stages_needed(*d, tree.depth()),
    };
    extent[0] <= frame.space[0] && extent[1] <= frame.space[1] && stages <= frame.stages
}

/// Worth of a tree: its pieces by `price[item]` and its credit.
pub(super) fn worth(frame: &Frame, tree: Option<&Cut>, prices: &[i64]) -> i64 {
    let Some(tree) = tree else { return 0 };
    let mut sum = best_credit(frame, tree).map_or(0, |c| c.1);
    tree.visit(&mut |p| sum += prices[p.item]);
    sum
}

/// Puts the tree on the sheet, with its credited remnants. No tree gives a sheet parted into nothing.
pub(super) fn place(frame: &Frame, tree: Option<&Cut>) -> SheetNode {
    let root = |d: usize, children: Vec<SheetNode>| SheetNode::Split {
        x: 0,
        y: 0,
        length: frame.full[0],
        width: frame.full[1],
        direction: direction(d),
        children,
    };
    let Some(tree) = tree else { return root(0, Vec::new()) };
    let credit = best_credit(frame, tree).map(|c| c.0);
    let d = credit.unwrap_or(match tree {
        Cut::Split(d, _) => *d,
        Cut::Piece(_) => frame.first.map_or(0, super::model::index),
    });
    let own = std::slice::from_ref(tree);
    let parts = match tree {
        Cut::Split(e, children) if *e == d => children.as_slice(),
        _ => own,
    };
    let (lower, upper) = credit.and_then(|d| frame.remnants(d, tree.extent()[d])).unwrap_or((0, 0));
    let remnant = |from: i64, size: i64| {
        let (mut corner, mut span) = ([0, 0], frame.full);
        (corner[d], span[d]) = (from, size);
        (size > 0).then_some(SheetNode::Remnant { x: corner[0], y: corner[1], length: span[0], width: span[1] })
    };
    let mut at = if lower > 0 { lower + frame.kerf[d] } else { frame.trim };
    let mut children: Vec<SheetNode> = remnant(0, lower).into_iter().collect();
    for part in parts {
        let mut corner = [0, 0];
        corner[d] = at;
        // The cut runs over the whole sheet, edges included; pieces keep the trim.
        let mut span = frame.full;
        span[d] = part.extent()[d] - frame.kerf[d];
        children.push(node(frame, part, corner, span));
        at += part.extent()[d];
    }
    children.extend(remnant(at, upper));
    root(d, children)
}

/// A part at `corner` with that span; where the span begins at the sheet's own edge, its pieces begin behind the trim.
fn node(frame: &Frame, part: &Cut, corner: [i64; 2], span: [i64; 2]) -> SheetNode {
    let inside = corner.map(|c| c.max(frame.trim));
    match part {
        Cut::Piece(p) => SheetNode::Piece { x: inside[0], y: inside[1], piece: p.piece },
        Cut::Split(d, parts) => {
            let mut at = inside[*d];
            let mut children = Vec::new();
            for part in parts {
                let mut from = corner;
                from[*d] = at;
                let mut size = span;
                size[*d] = part.extent()[*d] - frame.kerf[*d];
                children.push(node(frame, part, from, size));
                at += part.extent()[*d];
            }
            SheetNode::Split {
                x: corner[0],
                y: corner[1],
                length: span[0],
                width: span[1],
                direction: direction(*d),
                children,
            }
        }
    }
}
