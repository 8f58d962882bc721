//! Cut trees of sheets: the optimiser's nested splits brought to one normal form.
//!
//! In the published tree a node without a role spans its parent's full other dimension (trims fall to the node that makes
//! them), consecutive cuts of one direction are one node, and no node has a single child but the root. So every saw line
//! in it runs from edge to edge of the piece in hand, whatever shape the optimiser handed over.

use super::tree::{plain, ticks, with_role};
use super::{CutKind, Length, Node, Rectangle, Role};
use crate::nesting::{Direction, SheetNode, SheetStock};

/// The tree of a sheet under `root`, the whole sheet.
pub(super) fn grow(
    root: Node<Length>,
    layout: &SheetNode,
    stock: &SheetStock,
    cuttings: &mut Vec<usize>,
) -> Node<Length> {
    let mut node = normal(layout, stock, cuttings);
    if node.role.is_some() {
        return Node { cut: Some(CutKind::Cross), children: vec![node], ..root };
    }
    (node.x, node.y, node.length, node.width) = (root.x, root.y, root.length, root.width);
    spread(&mut node);
    node
}

fn normal(layout: &SheetNode, stock: &SheetStock, cuttings: &mut Vec<usize>) -> Node<Length> {
    match *layout {
        SheetNode::Piece { x, y, piece } => {
            let kind = &stock.pieces[piece];
            let mut node = plain(ticks(x), ticks(y), ticks(kind.length), ticks(kind.width));
            node.net = Some(Rectangle { x: node.x, y: node.y, length: node.length, width: node.width });
            node.turned = kind.turned;
            cuttings.push(piece);
            with_role(node, Role::Blank)
        }
        SheetNode::Remnant { x, y, length, width } => {
            with_role(plain(ticks(x), ticks(y), ticks(length), ticks(width)), Role::Offcut)
        }
        SheetNode::Split { x, y, length, width, direction, ref children } => {
            let cut = match direction {
                Direction::Cross => CutKind::Cross,
                Direction::Rip => CutKind::Rip,
            };
            let node = plain(ticks(x), ticks(y), ticks(length), ticks(width));
            split(node, cut, children.iter().map(|child| normal(child, stock, cuttings)).collect())
        }
    }
}

/// A split whose children of the same direction are its own, without empty ones, and that is no split at all when it
/// parts nothing.
fn split(mut node: Node<Length>, cut: CutKind, children: Vec<Node<Length>>) -> Node<Length> {
    node.cut = Some(cut);
    for mut child in children {
        if child.role.is_none() && child.cut == Some(cut) {
            node.children.append(&mut child.children);
        } else if child.role.is_some() || !child.children.is_empty() {
            node.children.push(child);
        }
    }
    match node.children.pop() {
        Some(only) if node.children.is_empty() => only,
        Some(last) => {
            node.children.push(last);
            node
        }
        None => node,
    }
}

/// Widens every node without a role to its parent's full other dimension.
fn spread(node: &mut Node<Length>) {
    let (x, y, length, width, cut) = (node.x, node.y, node.length, node.width, node.cut);
    for child in node.children.iter_mut().filter(|c| c.role.is_none()) {
        match cut {
            Some(CutKind::Rip) => (child.x, child.length) = (x, length),
            _ => (child.y, child.width) = (y, width),
        }
        spread(child);
    }
}
