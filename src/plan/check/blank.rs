//! Blanks against their parts: copy, wood, rings, blank size, net rectangle, planed thickness as stated.
//!
//! Whether the board can give that blank is `board`'s and `faces`' business; how layers and staves add up is `glue`'s.

use std::collections::BTreeSet;

use crate::job::Wanted;
use crate::measure::Length;
use crate::plan::Node;

use super::walk::{Blank, Claim, Source, View};
use super::{Findings, Rule, same_words};

/// Every piece that a blank claims to be, and every resawn blank.
pub(super) fn check(view: &View, found: &mut Findings) {
    let mut made = BTreeSet::new();
    for claim in &view.claims {
        let blank = view.blank(claim);
        check_copy(view, claim, blank, found);
        if !made.insert((claim.part, claim.copy, claim.layer, claim.stave)) {
            found.add(Rule::PieceTwice, &blank.place, "this very piece is already made above");
        }
        check_names(view, claim, blank, found);
        check_thickness(view, claim, blank, found);
        match view.source(blank) {
            Some(Source::Board(board, _)) => {
                check_wood(view, claim, blank, Form::Lumber, &board.species, found);
                check_rings(view, claim, blank, board.rings, found);
                check_board_size(view, claim, blank, found);
            }
            Some(Source::Sheet(sheet)) => {
                check_wood(view, claim, blank, Form::Ready, &sheet.material, found);
                check_ready_size(view, claim, blank, found);
            }
            Some(Source::Stick(stick)) => {
                check_wood(view, claim, blank, Form::Ready, &stick.material, found);
                check_ready_size(view, claim, blank, found);
            }
            None => {}
        }
    }
    check_leaves(view, found);
}

fn check_copy(view: &View, claim: &Claim, blank: &Blank, found: &mut Findings) {
    let part = view.part(claim);
    if claim.copy == 0 || claim.copy > part.qty {
        found.add(Rule::CopyRange, &blank.place, format!("copy {} of {} asked for", claim.copy, part.qty));
    }
}

/// Layers belong to laminations, staves to panels.
fn check_names(view: &View, claim: &Claim, blank: &Blank, found: &mut Findings) {
    let part = view.part(claim);
    if claim.layer.is_some() && part.lamination.is_none() {
        found.add(Rule::NodeFields, &blank.place, "a layer of a part that is not laminated");
    }
    if claim.stave.is_some() != part.panel.is_some() {
        found.add(Rule::NodeFields, &blank.place, "staves belong to panels, and panels are made of staves");
    }
    let layers = view.layers(claim.part);
    if layers > 1 && (claim.layer.is_none() || claim.thickness.is_none()) {
        found.add(Rule::NodeFields, &blank.place, "a layer without its number or planed thickness");
    }
}

/// A plain part is planed to its own thickness, a stave to no less than the panel's rough one. Layers are `glue`'s.
fn check_thickness(view: &View, claim: &Claim, blank: &Blank, found: &mut Findings) {
    let Some(stated) = claim.thickness else { return };
    let part = view.part(claim);
    let asked = if part.panel.is_some() {
        let least = part.thickness + view.job.shop.allowance.panel_face;
        if stated >= least {
            return;
        }
        least
    } else if view.layers(claim.part) == 1 && stated != part.thickness {
        part.thickness
    } else {
        return;
    };
    let detail = format!("planed to {} where {} is asked", found.len(stated), found.len(asked));
    found.add(Rule::PlanedThickness, &blank.place, detail);
}

/// Lumber is milled; sheets and sticks come ready.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Form {
    Lumber,
    Ready,
}

fn check_wood(view: &View, claim: &Claim, blank: &Blank, form: Form, wood: &str, found: &mut Findings) {
    let (asked, asked_form) = match &view.part(claim).stock {
        Wanted::Species(species) => (species, Form::Lumber),
        Wanted::Material(material) => (material, Form::Ready),
    };
    if form != asked_form || !same_words(asked, wood) {
        found.add(Rule::Wood, &blank.place, format!("\"{wood}\" where \"{asked}\" is asked"));
    }
}

fn check_rings(view: &View, claim: &Claim, blank: &Blank, rings: Option<crate::pile::Rings>, found: &mut Findings) {
    let asked = &view.part(claim).rings;
    if !asked.is_empty() && !rings.is_some_and(|rings| asked.contains(&rings)) {
        let has = rings.map_or("none stated".to_string(), |rings| format!("{rings:?}").to_lowercase());
        found.add(Rule::Rings, &blank.place, format!("the board's rings: {has}"));
    }
}

/// Blank and net size of a piece from a board. A stave's net width is its own choice: taken from its net rectangle.
struct Size {
    length: Length,
    width: Length,
    net_length: Length,
    net_width: Length,
}

fn board_size(view: &View, claim: &Claim, node: &Node<Length>) -> Size {
    let part = view.part(claim);
    let allowance = &view.job.shop.allowance;
    let net_length = part.full_length();
    if part.panel.is_some() {
        let net_width = node.net.map_or(node.width - allowance.joint * 2, |net| net.width);
        let (length, width) = (net_length + allowance.panel_length, net_width + allowance.joint * 2);
        return Size { length, width, net_length, net_width };
    }
    let (more_length, more_width) = match view.layers(claim.part) {
        1 => (Length::ZERO, Length::ZERO),
        _ => (allowance.layer_length, allowance.layer_width),
    };
    Size {
        length: net_length + allowance.length + more_length,
        width: part.width + allowance.width + more_width,
        net_length,
        net_width: part.width,
    }
}

fn check_board_size(view: &View, claim: &Claim, blank: &Blank, found: &mut Findings) {
    let node = blank.node;
    let size = board_size(view, claim, node);
    report_size(node, size.length, size.width, &blank.place, found);
    let Some(net) = &node.net else { return };
    let middle = |from: Length, blank: Length, net: Length| {
        Length::from_ticks(from.ticks() + (blank - net).ticks().div_euclid(2))
    };
    let x = middle(node.x, size.length, size.net_length);
    let y = middle(node.y, size.width, size.net_width);
    if (net.x, net.y, net.length, net.width) != (x, y, size.net_length, size.net_width) {
        let detail = format!(
            "{} x {} at {}, {} where {} x {} at {}, {} is the middle",
            found.len(net.length),
            found.len(net.width),
            found.len(net.x),
            found.len(net.y),
            found.len(size.net_length),
            found.len(size.net_width),
            found.len(x),
            found.len(y)
        );
        found.add(Rule::NetPlace, &blank.place, detail);
    }
}

/// Sheet and stick parts: the blank is the finished piece, turned or not; a net rectangle, if given, is the blank.
fn check_ready_size(view: &View, claim: &Claim, blank: &Blank, found: &mut Findings) {
    let (node, part) = (blank.node, view.part(claim));
    let (length, width) = if node.turned { (part.width, part.full_length()) } else { (part.full_length(), part.width) };
    report_size(node, length, width, &blank.place, found);
    if let Some(net) = &node.net
        && (net.x, net.y, net.length, net.width) != (node.x, node.y, node.length, node.width)
    {
        found.add(Rule::NetPlace, &blank.place, "a sheet or stick part has no allowance round it");
    }
}

fn report_size(node: &Node<Length>, length: Length, width: Length, place: &str, found: &mut Findings) {
    if (node.length, node.width) != (length, width) {
        let detail = format!(
            "{} x {} where {} x {} is needed",
            found.len(node.length),
            found.len(node.width),
            found.len(length),
            found.len(width)
        );
        found.add(Rule::BlankSize, place, detail);
    }
}

/// Two leaves or more, from a board, all of one blank size and one net rectangle.
fn check_leaves(view: &View, found: &mut Findings) {
    for (index, blank) in view.blanks.iter().enumerate() {
        if blank.node.leaves.is_empty() {
            continue;
        }
        if blank.node.leaves.len() < 2 {
            found.add(Rule::ResawLeaves, &blank.place, "a single leaf is no resawing");
        }
        if view.board(blank).is_none() {
            found.add(Rule::ResawLeaves, &blank.place, "only a board is resawn");
            continue;
        }
        let mut sizes = view.claims_of(index).map(|claim| board_size(view, claim, blank.node));
        let Some(first) = sizes.next() else { continue };
        let alike = |size: &Size| (size.length, size.width) == (first.length, first.width);
        if let Some(other) = sizes.find(|size| !alike(size)) {
            let detail = format!(
                "leaves of {} x {} and {} x {}",
                found.len(first.length),
                found.len(first.width),
                found.len(other.length),
                found.len(other.width)
            );
            found.add(Rule::ResawLeaves, &blank.place, detail);
        }
    }
}
