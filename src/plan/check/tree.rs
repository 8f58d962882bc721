//! The shape of the cut trees: roles in their places, children inside, ascending, a kerf apart, spans from edge to edge.
//!
//! The layout class this admits: a board is crosscut into sections (and offcuts), each section ripped into strips, each
//! strip crosscut into blanks on its reference edge; a stick is crosscut; a sheet is any guillotine tree. A node without
//! role on a sheet may be smaller than its parent's other dimension: one more trimming cut frees it, as with a blank.

use crate::measure::Length;
use crate::plan::{CutKind, Node, Role, StockKind};

use super::walk::{View, end_x, end_y, place_of};
use super::{Findings, Rule};

/// Every node of every tree.
pub(super) fn check(view: &View, found: &mut Findings) {
    for piece in &view.stock {
        let walk = TreeWalk { view, kind: piece.entry.kind, stock: &piece.place };
        let root = &piece.entry.tree;
        if root.role.is_some() {
            found.add(Rule::Role, &piece.place, "the whole piece of stock has a role of its own");
        }
        walk.node(root, &mut Vec::new(), &mut Vec::new(), found);
    }
}

struct TreeWalk<'v, 'a> {
    view: &'v View<'a>,
    kind: StockKind,
    stock: &'v str,
}

impl<'a> TreeWalk<'_, 'a> {
    fn node(
        &self,
        node: &'a Node<Length>,
        above: &mut Vec<&'a Node<Length>>,
        path: &mut Vec<usize>,
        found: &mut Findings,
    ) {
        let place = place_of(self.stock, above, path, node);
        if node.length <= Length::ZERO || node.width <= Length::ZERO {
            let detail = format!("{} x {}", found.len(node.length), found.len(node.width));
            found.add(Rule::NodeSize, &place, detail);
        }
        check_fields(self.kind, node, &place, found);
        self.check_cut(node, above.is_empty(), &place, found);
        above.push(node);
        for (index, child) in node.children.iter().enumerate() {
            path.push(index);
            let child_place = place_of(self.stock, above, path, child);
            self.check_child(node, child, above.len() == 1, &child_place, found);
            if let (Some(cut), Some(before)) = (node.cut, index.checked_sub(1).map(|i| &node.children[i])) {
                self.check_neighbours(cut, before, child, &child_place, found);
            }
            self.node(child, above, path, found);
            path.pop();
        }
        above.pop();
    }

    fn check_cut(&self, node: &Node<Length>, is_root: bool, place: &str, found: &mut Findings) {
        if node.cut.is_some() == node.children.is_empty() {
            let detail = if node.cut.is_some() { "a cut that parts nothing" } else { "children without a cut" };
            found.add(Rule::CutKind, place, detail);
        }
        let asked = match (self.kind, node.role) {
            (StockKind::Sheet, _) => None,
            (StockKind::Board, Some(Role::Section)) => Some(CutKind::Rip),
            (StockKind::Board, Some(Role::Strip)) => Some(CutKind::Cross),
            _ if is_root => Some(CutKind::Cross),
            _ => None,
        };
        if let (Some(asked), Some(cut)) = (asked, node.cut)
            && asked != cut
        {
            found.add(Rule::CutKind, place, format!("parted by {cut:?} where it is parted by {asked:?}"));
        }
        if matches!(node.role, Some(Role::Blank | Role::Offcut)) && !node.children.is_empty() {
            found.add(Rule::Role, place, "a blank or an offcut is not cut further");
        }
    }

    fn check_child(
        &self,
        parent: &Node<Length>,
        child: &Node<Length>,
        under_root: bool,
        place: &str,
        found: &mut Findings,
    ) {
        if !self.role_fits(parent, child, under_root) {
            let name = child.role.map_or("without role".to_string(), |role| format!("{role:?}").to_lowercase());
            found.add(Rule::Role, place, format!("a node {name} has no place here on a {:?}", self.kind));
        }
        let inside = child.x >= parent.x
            && child.y >= parent.y
            && end_x(child) <= end_x(parent)
            && end_y(child) <= end_y(parent);
        if !inside {
            let detail = format!(
                "x {} to {}, y {} to {} in x {} to {}, y {} to {}",
                found.len(child.x),
                found.len(end_x(child)),
                found.len(child.y),
                found.len(end_y(child)),
                found.len(parent.x),
                found.len(end_x(parent)),
                found.len(parent.y),
                found.len(end_y(parent))
            );
            found.add(Rule::ChildOutside, place, detail);
        }
        let spans_width = child.y == parent.y && child.width == parent.width;
        let spans_length = child.x == parent.x && child.length == parent.length;
        match child.role {
            Some(Role::Section) if !spans_width => {
                found.add(Rule::Span, place, "a section is the full width of its board");
            }
            Some(Role::Strip) if !spans_length => {
                found.add(Rule::Span, place, "a strip is the full length of its section");
            }
            Some(Role::Blank) if parent.role == Some(Role::Strip) && child.y != parent.y => {
                let detail = format!("y {} on a strip at {}", found.len(child.y), found.len(parent.y));
                found.add(Rule::StripEdge, place, detail);
            }
            _ => {}
        }
    }

    fn role_fits(&self, parent: &Node<Length>, child: &Node<Length>, under_root: bool) -> bool {
        match (self.kind, child.role) {
            (StockKind::Board, Some(Role::Section)) => under_root,
            (StockKind::Board, Some(Role::Strip)) => parent.role == Some(Role::Section),
            (StockKind::Board, Some(Role::Blank)) => parent.role == Some(Role::Strip),
            (StockKind::Board, Some(Role::Offcut)) => true,
            (StockKind::Board, None) => false,
            (StockKind::Stick, role) => under_root && matches!(role, Some(Role::Blank | Role::Offcut)),
            (StockKind::Sheet, Some(Role::Section | Role::Strip)) => false,
            (StockKind::Sheet, Some(_)) => true,
            (StockKind::Sheet, None) => !child.children.is_empty(),
        }
    }

    fn check_neighbours(
        &self,
        cut: CutKind,
        before: &Node<Length>,
        after: &Node<Length>,
        place: &str,
        found: &mut Findings,
    ) {
        let kerfs = &self.view.job.shop.kerf;
        let (gap, kerf) = match cut {
            CutKind::Cross => (after.x - end_x(before), kerfs.crosscut),
            CutKind::Rip => (after.y - end_y(before), kerfs.rip),
        };
        if gap.is_negative() {
            found.add(Rule::ChildOrder, place, format!("overlaps the one before it by {}", found.len(-gap)));
        } else if gap < kerf {
            let detail = format!("{} from the one before it, the kerf is {}", found.len(gap), found.len(kerf));
            found.add(Rule::Kerf, place, detail);
        }
    }
}

/// A node carries what its role needs and nothing that belongs to another.
fn check_fields(kind: StockKind, node: &Node<Length>, place: &str, found: &mut Findings) {
    let is_blank = node.role == Some(Role::Blank);
    let of_blank = node.part.is_some()
        || node.copy.is_some()
        || node.layer.is_some()
        || node.stave.is_some()
        || node.thickness.is_some()
        || node.turned
        || !node.leaves.is_empty()
        || node.net.is_some();
    if !is_blank && of_blank {
        found.add(Rule::NodeFields, place, "only a blank is for a part");
    }
    if node.role != Some(Role::Offcut) && node.credit.is_some() {
        found.add(Rule::NodeFields, place, "only an offcut has credit");
    }
    if !is_blank {
        return;
    }
    match (&node.part, node.leaves.is_empty()) {
        (None, true) => found.add(Rule::NodeFields, place, "a blank for no part"),
        (Some(_), false) => found.add(Rule::NodeFields, place, "both a part and leaves"),
        (Some(_), true) if node.copy.is_none() => found.add(Rule::NodeFields, place, "a part without its copy"),
        (None, false) if node.copy.is_some() || node.layer.is_some() || node.stave.is_some() => {
            found.add(Rule::NodeFields, place, "copy, layer and stave of a resawn blank belong to its leaves");
        }
        _ => {}
    }
    if kind == StockKind::Board && node.net.is_none() {
        found.add(Rule::NodeFields, place, "a board's blank without its net rectangle");
    }
}
