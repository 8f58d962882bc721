//! Cut trees of boards and sticks, in the form the plan file publishes.
//!
//! Turns a layout in ticks into nodes: sections, strips, blanks, credited offcuts. Sheets are `sheet_tree`'s. Which copy
//! of a part a blank is, and what an offcut earns, is filled in afterwards. Invariant: the blanks of a tree, read from
//! the root down and in ascending order, come in the order of `Grown::cuttings`.

use super::case::{Case, Use};
use super::sheet_tree;
use super::{CutKind, Length, Node, Rectangle, Role};
use crate::nesting::{BoardLayout, BoardStock, Kind, SectionAt, Shape, StickLayout, StickStock, StripAt};

/// A tree and, for each of its blanks in reading order, the index of its cutting.
pub(super) struct Grown {
    pub tree: Node<Length>,
    pub cuttings: Vec<usize>,
}

pub(super) fn ticks(value: i64) -> Length {
    Length::from_ticks(value)
}

/// A rectangle without a role: corner, size, how its children are parted.
pub(super) fn plain(x: Length, y: Length, length: Length, width: Length) -> Node<Length> {
    Node {
        x,
        y,
        length,
        width,
        role: None,
        cut: None,
        children: Vec::new(),
        credit: None,
        part: None,
        copy: None,
        layer: None,
        stave: None,
        thickness: None,
        turned: false,
        leaves: Vec::new(),
        net: None,
    }
}

pub(super) fn with_role(mut node: Node<Length>, role: Role) -> Node<Length> {
    node.role = Some(role);
    node
}

/// The cut tree of one piece of stock.
pub(super) fn grow(case: &Case, used: &Use) -> Grown {
    let piece = case.piece(used.source);
    let root = plain(Length::ZERO, Length::ZERO, piece.length, piece.width);
    let mut cuttings = Vec::new();
    let tree = match (&used.layout.shape, &case.milled.problem.stock[used.class].kind) {
        (Shape::Board(layout), Kind::Board(stock)) => board(root, layout, stock, &mut cuttings),
        (Shape::Sheet(layout), Kind::Sheet(stock)) => sheet_tree::grow(root, layout, stock, &mut cuttings),
        (Shape::Stick(layout), Kind::Stick(stock)) => stick(root, layout, stock, &mut cuttings),
        _ => unreachable!("a layout has the shape of its stock"),
    };
    Grown { tree, cuttings }
}

fn board(mut root: Node<Length>, layout: &BoardLayout, stock: &BoardStock, cuttings: &mut Vec<usize>) -> Node<Length> {
    let width = root.width;
    let sections = layout.sections.iter().map(|at| section(at, width, stock, cuttings));
    root.children = sections.collect();
    root.children.extend(layout.offcuts.iter().map(|&(from, to)| end_piece(from, to, width)));
    root.children.sort_by_key(|child| child.x);
    root.cut = Some(CutKind::Cross);
    root
}

fn end_piece(from: i64, to: i64, width: Length) -> Node<Length> {
    with_role(plain(ticks(from), Length::ZERO, ticks(to - from), width), Role::Offcut)
}

fn section(at: &SectionAt, width: Length, stock: &BoardStock, cuttings: &mut Vec<usize>) -> Node<Length> {
    let mut node = with_role(plain(ticks(at.x), Length::ZERO, ticks(at.length), width), Role::Section);
    node.cut = Some(CutKind::Rip);
    node.children = at.strips.iter().map(|s| strip(s, node.x, node.length, stock, cuttings)).collect();
    node
}

fn strip(at: &StripAt, x: Length, length: Length, stock: &BoardStock, cuttings: &mut Vec<usize>) -> Node<Length> {
    let mut node = with_role(plain(x, ticks(at.y), length, ticks(at.width)), Role::Strip);
    node.cut = Some(CutKind::Cross);
    for blank in &at.blanks {
        let cutting = &stock.cuttings[blank.cutting];
        let mut leaf = plain(ticks(blank.x), ticks(at.y), ticks(cutting.length), ticks(cutting.width));
        leaf.net = Some(Rectangle {
            x: ticks(blank.x + cutting.net_dx),
            y: ticks(at.y + cutting.net_dy),
            length: ticks(cutting.net_length),
            width: ticks(cutting.net_width),
        });
        node.children.push(with_role(leaf, Role::Blank));
        cuttings.push(blank.cutting);
    }
    node
}

fn stick(mut root: Node<Length>, layout: &StickLayout, stock: &StickStock, cuttings: &mut Vec<usize>) -> Node<Length> {
    let width = root.width;
    for &(x, piece) in &layout.pieces {
        let length = ticks(stock.pieces[piece].1);
        let mut leaf = plain(ticks(x), Length::ZERO, length, width);
        leaf.net = Some(Rectangle { x: leaf.x, y: leaf.y, length, width });
        root.children.push(with_role(leaf, Role::Blank));
        cuttings.push(piece);
    }
    root.children.extend(layout.offcuts.iter().map(|&(from, to)| end_piece(from, to, width)));
    root.children.sort_by_key(|child| child.x);
    root.cut = Some(CutKind::Cross);
    root
}

/// Calls `visit` on every blank, from the root down and in ascending order.
pub(super) fn each_blank_mut(node: &mut Node<Length>, visit: &mut dyn FnMut(&mut Node<Length>)) {
    if node.role == Some(Role::Blank) {
        visit(node);
    }
    for child in &mut node.children {
        each_blank_mut(child, visit);
    }
}

/// Every node with `role`, from the root down and in ascending order.
pub(super) fn nodes_of(node: &Node<Length>, role: Role) -> Vec<&Node<Length>> {
    let mut found = Vec::new();
    gather(node, role, &mut found);
    found
}

fn gather<'n>(node: &'n Node<Length>, role: Role, found: &mut Vec<&'n Node<Length>>) {
    if node.role == Some(role) {
        found.push(node);
    }
    for child in &node.children {
        gather(child, role, found);
    }
}

impl Node<Length> {
    /// x of the right end.
    pub(super) fn right(&self) -> Length {
        self.x + self.length
    }

    /// y of the far edge.
    pub(super) fn far(&self) -> Length {
        self.y + self.width
    }
}
