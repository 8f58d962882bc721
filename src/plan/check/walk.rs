//! The plan laid open: every piece of stock with what it is in the pile, every blank with the nodes above it, every
//! piece of a part with the blank it comes from.
//!
//! Judges only what it needs to lay the plan open (absurd lengths, blanks for parts that do not exist); the rules of the
//! trade are in the other files. Invariant: after `lengths_are_sane` said yes, sums of a few lengths of the plan cannot
//! overflow.

use std::collections::BTreeMap;

use crate::job::{Job, Part};
use crate::measure::Length;
use crate::pile::{Board, Pile, Sheet, Stick};
use crate::plan::{Node, Role, ShopPlan, StockKind, StockUse};

use super::{Findings, Rule};

/// A thousand kilometres in ticks: no length of a plan may be beyond it.
const ABSURD: i64 = 80_000 * 1_000_000_000;

/// The three files laid open.
pub(super) struct View<'a> {
    pub job: &'a Job,
    pub pile: &'a Pile,
    pub plan: &'a ShopPlan,
    /// Parallel to `plan.stock`.
    pub stock: Vec<Piece<'a>>,
    /// Every node with role `blank`, in the order of the trees.
    pub blanks: Vec<Blank<'a>>,
    /// Every piece of a part that a blank claims to be; parts that the job does not have are left out.
    pub claims: Vec<Claim>,
}

/// A piece of stock of the plan and what it is in the pile.
pub(super) struct Piece<'a> {
    pub entry: &'a StockUse<Length>,
    /// `None` when the pile has no such piece of that kind.
    pub source: Option<Source<'a>>,
    /// `stock[2] "C-04" copy 1`.
    pub place: String,
}

/// What a piece of stock is in the pile.
#[derive(Clone, Copy)]
pub(super) enum Source<'a> {
    /// The board and its index in the pile.
    Board(&'a Board, usize),
    Sheet(&'a Sheet),
    Stick(&'a Stick),
}

impl Source<'_> {
    pub fn length(&self) -> Length {
        match self {
            Source::Board(board, _) => board.length,
            Source::Sheet(sheet) => sheet.length,
            Source::Stick(stick) => stick.length,
        }
    }

    pub fn width(&self) -> Length {
        match self {
            Source::Board(board, _) => board.width,
            Source::Sheet(sheet) => sheet.width,
            Source::Stick(stick) => stick.width,
        }
    }

    pub fn quantity(&self) -> u32 {
        match self {
            Source::Board(board, _) => board.quantity,
            Source::Sheet(sheet) => sheet.quantity,
            Source::Stick(stick) => stick.quantity,
        }
    }
}

/// A node with role `blank`.
pub(super) struct Blank<'a> {
    /// Index into `View::stock`.
    pub piece: usize,
    pub node: &'a Node<Length>,
    /// The nodes above it, root first.
    pub above: Vec<&'a Node<Length>>,
    /// Which child it is at every level, from the root down.
    pub path: Vec<usize>,
    /// Its place in words.
    pub place: String,
}

impl<'a> Blank<'a> {
    /// The nearest node above it with that role.
    pub fn within(&self, role: Role) -> Option<&'a Node<Length>> {
        self.above.iter().rev().find(|node| node.role == Some(role)).copied()
    }
}

/// A piece of a part and the blank it comes from.
#[derive(Clone, Copy, Debug)]
pub(super) struct Claim {
    /// Index into `View::blanks`.
    pub blank: usize,
    /// Index into the job's parts.
    pub part: usize,
    pub copy: u32,
    pub layer: Option<u32>,
    pub stave: Option<u32>,
    /// Planed thickness, when stated.
    pub thickness: Option<Length>,
    /// Which leaf from the top face down, of how many.
    pub leaf: Option<(usize, usize)>,
}

/// The far end along the length.
pub(super) fn end_x(node: &Node<Length>) -> Length {
    node.x + node.length
}

/// The far edge across.
pub(super) fn end_y(node: &Node<Length>) -> Length {
    node.y + node.width
}

/// Calls `visit` on a node and all below it, parents first.
pub(super) fn each_node<'a>(node: &'a Node<Length>, visit: &mut impl FnMut(&'a Node<Length>)) {
    visit(node);
    for child in &node.children {
        each_node(child, visit);
    }
}

impl<'a> View<'a> {
    pub fn of(job: &'a Job, pile: &'a Pile, plan: &'a ShopPlan, found: &mut Findings) -> View<'a> {
        let mut view = View { job, pile, plan, stock: Vec::new(), blanks: Vec::new(), claims: Vec::new() };
        for (index, entry) in plan.stock.iter().enumerate() {
            let place = format!("stock[{index}] \"{}\" copy {}", entry.id, entry.copy);
            view.open_tree(index, &entry.tree, &place);
            view.stock.push(Piece { entry, source: find_source(pile, entry), place });
        }
        let parts: BTreeMap<&str, usize> =
            job.parts.iter().enumerate().map(|(i, part)| (part.id.as_str(), i)).collect();
        for index in 0..view.blanks.len() {
            view.open_claims(index, &parts, found);
        }
        view
    }

    pub fn part(&self, claim: &Claim) -> &'a Part {
        &self.job.parts[claim.part]
    }

    pub fn blank(&self, claim: &Claim) -> &Blank<'a> {
        &self.blanks[claim.blank]
    }

    pub fn source(&self, blank: &Blank<'a>) -> Option<Source<'a>> {
        self.stock[blank.piece].source
    }

    /// The board a blank comes from, if it does.
    pub fn board(&self, blank: &Blank<'a>) -> Option<&'a Board> {
        match self.source(blank) {
            Some(Source::Board(board, _)) => Some(board),
            _ => None,
        }
    }

    /// Claims of one blank, from its top face down.
    pub fn claims_of(&self, blank: usize) -> impl Iterator<Item = &Claim> {
        self.claims.iter().filter(move |claim| claim.blank == blank)
    }

    /// Layers of every copy of a part: as stated, or else the highest layer number in the plan, at least 1.
    pub fn layers(&self, part: usize) -> u32 {
        let Some(lamination) = &self.job.parts[part].lamination else { return 1 };
        let seen = self.claims.iter().filter(|c| c.part == part).filter_map(|c| c.layer).max();
        lamination.layers.unwrap_or(seen.unwrap_or(1)).max(1)
    }

    /// Claims by part and copy.
    pub fn copies(&self) -> BTreeMap<(usize, u32), Vec<&Claim>> {
        let mut copies: BTreeMap<(usize, u32), Vec<&Claim>> = BTreeMap::new();
        for claim in &self.claims {
            copies.entry((claim.part, claim.copy)).or_default().push(claim);
        }
        copies
    }

    /// The thickness a piece is planed to: as stated, or else as its part asks.
    pub fn needed_thickness(&self, claim: &Claim) -> Length {
        let part = self.part(claim);
        if let Some(stated) = claim.thickness {
            return stated;
        }
        let layers = i64::from(self.layers(claim.part));
        if part.panel.is_some() {
            part.thickness + self.job.shop.allowance.panel_face
        } else if layers > 1 {
            let sum = part.thickness + self.job.shop.allowance.layer_face;
            Length::from_ticks((sum.ticks() + layers - 1) / layers)
        } else {
            part.thickness
        }
    }

    fn open_tree(&mut self, piece: usize, root: &'a Node<Length>, place: &str) {
        let mut above = Vec::new();
        let mut path = Vec::new();
        self.open_node(piece, root, place, &mut above, &mut path);
    }

    fn open_node(
        &mut self,
        piece: usize,
        node: &'a Node<Length>,
        place: &str,
        above: &mut Vec<&'a Node<Length>>,
        path: &mut Vec<usize>,
    ) {
        if node.role == Some(Role::Blank) {
            let place = place_of(place, above, path, node);
            self.blanks.push(Blank { piece, node, above: above.clone(), path: path.clone(), place });
        }
        above.push(node);
        for (index, child) in node.children.iter().enumerate() {
            path.push(index);
            self.open_node(piece, child, place, above, path);
            path.pop();
        }
        above.pop();
    }

    fn open_claims(&mut self, index: usize, parts: &BTreeMap<&str, usize>, found: &mut Findings) {
        let node = self.blanks[index].node;
        let place = self.blanks[index].place.clone();
        let mut claim = |part: &str, copy, layer, stave, thickness, leaf| match parts.get(part) {
            Some(&part) => self.claims.push(Claim { blank: index, part, copy, layer, stave, thickness, leaf }),
            None => found.add(Rule::PartUnknown, &place, format!("the job has no part \"{part}\"")),
        };
        if let Some(part) = &node.part {
            claim(part, node.copy.unwrap_or(0), node.layer, node.stave, node.thickness, None);
        }
        for (nth, leaf) in node.leaves.iter().enumerate() {
            let of = Some((nth, node.leaves.len()));
            claim(&leaf.part, leaf.copy, leaf.layer, leaf.stave, Some(leaf.thickness), of);
        }
    }
}

/// A node's place in words, from its stock's place, the nodes above it and which child it is at each level.
pub(super) fn place_of(stock: &str, above: &[&Node<Length>], path: &[usize], node: &Node<Length>) -> String {
    let mut steps = Vec::new();
    for (level, &index) in path.iter().enumerate() {
        let at = above.get(level + 1).copied().unwrap_or(node);
        steps.push(match (at.role, &at.part) {
            (Some(Role::Section), _) => format!("section {}", index + 1),
            (Some(Role::Strip), _) => format!("strip {}", index + 1),
            (Some(Role::Offcut), _) => format!("offcut {}", index + 1),
            (Some(Role::Blank), Some(part)) => blank_name(part, at),
            (Some(Role::Blank), None) => format!("blank {}", index + 1),
            (None, _) => format!("piece {}", index + 1),
        });
    }
    if steps.is_empty() { stock.to_string() } else { format!("{stock}: {}", steps.join(", ")) }
}

fn blank_name(part: &str, node: &Node<Length>) -> String {
    let mut name = format!("blank {part} {}", node.copy.unwrap_or(0));
    if let Some(layer) = node.layer {
        name.push_str(&format!(" layer {layer}"));
    }
    if let Some(stave) = node.stave {
        name.push_str(&format!(" stave {stave}"));
    }
    name
}

fn find_source<'a>(pile: &'a Pile, entry: &StockUse<Length>) -> Option<Source<'a>> {
    match entry.kind {
        StockKind::Board => pile
            .boards
            .iter()
            .enumerate()
            .find(|(_, board)| board.id == entry.id)
            .map(|(index, board)| Source::Board(board, index)),
        StockKind::Sheet => pile.sheets.iter().find(|sheet| sheet.id == entry.id).map(Source::Sheet),
        StockKind::Stick => pile.sticks.iter().find(|stick| stick.id == entry.id).map(Source::Stick),
    }
}

/// Reports every length of the plan that is beyond [`ABSURD`]; true when there is none.
pub(super) fn lengths_are_sane(plan: &ShopPlan, found: &mut Findings) -> bool {
    let before = found.list.len();
    let mut judge = |place: &str, lengths: &[Length]| {
        if let Some(worst) = lengths.iter().find(|length| length.ticks().unsigned_abs() > ABSURD as u64) {
            found.list.push(super::Violation {
                rule: Rule::Absurd,
                place: place.to_string(),
                detail: format!("a length of {} ticks", worst.ticks()),
            });
        }
    };
    for (index, entry) in plan.stock.iter().enumerate() {
        let place = format!("stock[{index}] \"{}\" copy {}", entry.id, entry.copy);
        each_node(&entry.tree, &mut |node| {
            judge(&place, &[node.x, node.y, node.length, node.width]);
            if let Some(net) = &node.net {
                judge(&place, &[net.x, net.y, net.length, net.width]);
            }
            judge(&place, node.thickness.as_slice());
            judge(&place, &node.leaves.iter().map(|leaf| leaf.thickness).collect::<Vec<_>>());
        });
    }
    for (index, glueup) in plan.glueups.iter().enumerate() {
        for member in &glueup.members {
            judge(&format!("glueups[{index}]"), &[member.x, member.y, member.net_width.unwrap_or_default()]);
        }
    }
    for (index, cut) in plan.cuts.iter().enumerate() {
        let setting = cut.setting.unwrap_or_default();
        judge(&format!("cuts[{index}]"), &[cut.at, cut.to, cut.from_edge, cut.to_edge, setting]);
    }
    for (index, row) in plan.offcuts.iter().enumerate() {
        judge(&format!("offcuts[{index}]"), &[row.x, row.y, row.length, row.width]);
    }
    found.list.len() == before
}
