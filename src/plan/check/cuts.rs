//! The list of cuts against the trees: numbers, stock, stations, kerfs, nothing sawn through, everything sawn to size.
//!
//! Tolerant on purpose: how a shop gets rid of waste is its own affair. Asked is only that each piece can be found at
//! its size after the listed cuts: a section's ends, a strip's far edge, a blank's ends and far edge (a sheet part's four
//! sides) are bordered by a cut of the right direction that runs past the whole side, unless the side is the edge of the
//! stock or of the strip it came from; between neighbours runs at least one cut, in a plain kerf exactly one. A strip's
//! near edge may be jointed and needs none.

use std::collections::BTreeSet;

use crate::measure::Length;
use crate::plan::{Cut, CutKind, Node, Role, Station, StockKind};

use super::walk::{Blank, Piece, View, each_node, end_x, end_y};
use super::{Findings, Rule};

/// Every cut, every side that needs one, every row of the work lists.
pub(super) fn check(view: &View, found: &mut Findings) {
    check_numbers(view, found);
    for cut in &view.plan.cuts {
        let place = format!("cut {} in \"{}\" copy {}", cut.number, cut.stock, cut.stock_copy);
        match view.stock.iter().find(|piece| is_in(cut, piece)) {
            None => found.add(Rule::CutStock, place, "no such piece of stock is cut"),
            Some(piece) => check_cut(view, piece, cut, &place, found),
        }
    }
    for piece in &view.stock {
        let cuts: Vec<&Cut<Length>> = view.plan.cuts.iter().filter(|cut| is_in(cut, piece)).collect();
        each_node(&piece.entry.tree, &mut |node| check_gaps(view, piece, node, &cuts, found));
        check_sections(piece, &cuts, found);
    }
    for blank in &view.blanks {
        check_blank(view, blank, found);
    }
    check_work(view, found);
}

fn is_in(cut: &Cut<Length>, piece: &Piece) -> bool {
    cut.stock == piece.entry.id && cut.stock_copy == piece.entry.copy
}

fn check_numbers(view: &View, found: &mut Findings) {
    let numbers: BTreeSet<u32> = view.plan.cuts.iter().map(|cut| cut.number).collect();
    let count = view.plan.cuts.len();
    let full = numbers.len() == count && numbers.iter().zip(1..).all(|(number, nth)| *number == nth);
    if !full {
        found.add(Rule::CutNumbers, "cuts", format!("{count} cuts are not numbered 1 to {count}, each once"));
    }
}

fn kerf_of(view: &View, cut: CutKind) -> Length {
    match cut {
        CutKind::Cross => view.job.shop.kerf.crosscut,
        CutKind::Rip => view.job.shop.kerf.rip,
    }
}

fn check_cut(view: &View, piece: &Piece, cut: &Cut<Length>, place: &str, found: &mut Findings) {
    let kerf = kerf_of(view, cut.cut);
    // A shop may reckon with no kerf at all (a knife, a bandsaw line split); a saw with a kerf takes some of it.
    let taken = cut.to - cut.at;
    if taken.is_negative() || taken > kerf || (taken == Length::ZERO && kerf > Length::ZERO) {
        let detail = format!("takes {}, the kerf is {}", found.len(taken), found.len(kerf));
        found.add(Rule::CutKerf, place, detail);
    }
    let root = &piece.entry.tree;
    let (across, along) = match cut.cut {
        CutKind::Cross => (root.length, root.width),
        CutKind::Rip => (root.width, root.length),
    };
    let inside = cut.to > Length::ZERO
        && cut.at < across
        && cut.from_edge >= Length::ZERO
        && cut.from_edge < cut.to_edge
        && cut.to_edge <= along;
    if !inside {
        found.add(Rule::CutStock, place, "outside its piece of stock");
    }
    let fits = match cut.station {
        Station::RoughCrosscut | Station::FinalCrosscut => {
            piece.entry.kind == StockKind::Board && cut.cut == CutKind::Cross
        }
        Station::Rip => piece.entry.kind == StockKind::Board && cut.cut == CutKind::Rip,
        Station::Sheet => piece.entry.kind == StockKind::Sheet,
        Station::Stick => piece.entry.kind == StockKind::Stick && cut.cut == CutKind::Cross,
    };
    if !fits {
        let detail = format!("{:?} of a {:?} at {:?}", cut.cut, piece.entry.kind, cut.station).to_lowercase();
        found.add(Rule::CutStation, place, detail);
    }
    check_sawn_wood(root, cut, place, found);
}

/// What the cut goes through, and what its setting is the size of.
fn check_sawn_wood(root: &Node<Length>, cut: &Cut<Length>, place: &str, found: &mut Findings) {
    let mut sized = cut.setting.is_none();
    each_node(root, &mut |node| {
        let (from, to, size) = across(node, cut.cut);
        let (side_from, side_to, _) = across(node, other(cut.cut));
        let beside = cut.from_edge < side_to && side_from < cut.to_edge;
        if matches!(node.role, Some(Role::Blank | Role::Offcut)) && beside && cut.at < to && from < cut.to {
            let detail = format!("through the piece at {}, {}", found.len(node.x), found.len(node.y));
            found.add(Rule::CutThrough, place, detail);
        }
        sized |= beside && cut.setting == Some(size) && (cut.at == to || cut.to == from);
    });
    if !sized {
        let setting = found.len(cut.setting.unwrap_or_default());
        found.add(Rule::CutSetting, place, format!("set to {setting}, and no piece beside it has that size"));
    }
}

fn other(cut: CutKind) -> CutKind {
    match cut {
        CutKind::Cross => CutKind::Rip,
        CutKind::Rip => CutKind::Cross,
    }
}

/// From, to and size of a node in the direction that `cut` parts.
fn across(node: &Node<Length>, cut: CutKind) -> (Length, Length, Length) {
    match cut {
        CutKind::Cross => (node.x, end_x(node), node.length),
        CutKind::Rip => (node.y, end_y(node), node.width),
    }
}

/// True when a cut of that direction runs past the whole side of a node.
fn runs_past(cut: &Cut<Length>, direction: CutKind, node: &Node<Length>) -> bool {
    let (from, to, _) = across(node, other(direction));
    cut.cut == direction && cut.from_edge <= from && cut.to_edge >= to
}

/// Between neighbours at least one cut; in a plain kerf exactly one.
fn check_gaps(view: &View, piece: &Piece, node: &Node<Length>, cuts: &[&Cut<Length>], found: &mut Findings) {
    let Some(direction) = node.cut else { return };
    for pair in node.children.windows(2) {
        let [before, after] = pair else { continue };
        let (from, to) = (across(before, direction).1, across(after, direction).0);
        let inside = cuts.iter().filter(|cut| {
            runs_past(cut, direction, before) && runs_past(cut, direction, after) && cut.at >= from && cut.to <= to
        });
        let times = inside.count();
        let detail = format!("{times} cuts between {} and {}", found.len(from), found.len(to));
        if times == 0 {
            found.add(Rule::CutAbsent, &piece.place, detail);
        } else if times > 1 && to - from <= kerf_of(view, direction) {
            found.add(Rule::CutTwice, &piece.place, detail);
        }
    }
}

/// Reports a side that no cut borders. `near` is the side of lower coordinates.
fn need_side(
    node: &Node<Length>,
    direction: CutKind,
    near: bool,
    cuts: &[&Cut<Length>],
    place: &str,
    found: &mut Findings,
) {
    let (from, to, _) = across(node, direction);
    let borders = |cut: &Cut<Length>| if near { cut.to == from } else { cut.at == to };
    if !cuts.iter().any(|cut| runs_past(cut, direction, node) && borders(cut)) {
        let side = if near { from } else { to };
        let what = format!("{direction:?} cut").to_lowercase();
        found.add(Rule::CutAbsent, place, format!("no {what} brings it to its side at {}", found.len(side)));
    }
}

/// Ends of sections, far edges of strips.
fn check_sections(piece: &Piece, cuts: &[&Cut<Length>], found: &mut Findings) {
    let root = &piece.entry.tree;
    for (nth, section) in root.children.iter().enumerate() {
        if section.role != Some(Role::Section) {
            continue;
        }
        let place = format!("{}: section {}", piece.place, nth + 1);
        if section.x != root.x {
            need_side(section, CutKind::Cross, true, cuts, &place, found);
        }
        if end_x(section) != end_x(root) {
            need_side(section, CutKind::Cross, false, cuts, &place, found);
        }
        for (nth, strip) in section.children.iter().enumerate() {
            if strip.role == Some(Role::Strip) && end_y(strip) != end_y(section) {
                need_side(strip, CutKind::Rip, false, cuts, &format!("{place}, strip {}", nth + 1), found);
            }
        }
    }
}

/// Ends of a blank, its far edge, and on a sheet its near one.
fn check_blank(view: &View, blank: &Blank, found: &mut Findings) {
    let piece = &view.stock[blank.piece];
    let cuts: Vec<&Cut<Length>> = view.plan.cuts.iter().filter(|cut| is_in(cut, piece)).collect();
    let node = blank.node;
    let root = &piece.entry.tree;
    let Some(parent) = blank.above.last() else { return };
    let holder = if piece.entry.kind == StockKind::Board { *parent } else { root };
    if node.x != holder.x {
        need_side(node, CutKind::Cross, true, &cuts, &blank.place, found);
    }
    if end_x(node) != end_x(holder) {
        need_side(node, CutKind::Cross, false, &cuts, &blank.place, found);
    }
    if end_y(node) != end_y(holder) {
        need_side(node, CutKind::Rip, false, &cuts, &blank.place, found);
    }
    if node.y != holder.y && piece.entry.kind == StockKind::Sheet {
        need_side(node, CutKind::Rip, true, &cuts, &blank.place, found);
    }
}

/// Numbers that exist, at their settings; every piece of stock pulled once.
fn check_work(view: &View, found: &mut Findings) {
    let work = &view.plan.work;
    let cut = |number: u32| view.plan.cuts.iter().find(|cut| cut.number == number);
    for (nth, row) in work.rough.iter().enumerate() {
        if let Some(number) = row.cuts.iter().find(|number| cut(**number).is_none()) {
            found.add(Rule::WorkRows, format!("work.rough[{nth}]"), format!("there is no cut {number}"));
        }
    }
    for (list, rows) in [("rips", &work.rips), ("crosscuts", &work.crosscuts), ("sticks", &work.sticks)] {
        for (nth, row) in rows.iter().enumerate() {
            let wrong = |number: &&u32| cut(**number).is_none_or(|cut| cut.setting != Some(row.setting));
            if let Some(number) = row.cuts.iter().find(wrong) {
                let detail = format!("cut {number} is not at {}", found.len(row.setting));
                found.add(Rule::WorkRows, format!("work.{list}[{nth}]"), detail);
            }
        }
    }
    for piece in &view.stock {
        let is_row = |stock: &str, copy: u32| stock == piece.entry.id && copy == piece.entry.copy;
        let times = work.pull.iter().filter(|row| is_row(&row.stock, row.stock_copy)).count();
        if times != 1 {
            found.add(Rule::WorkRows, &piece.place, format!("{times} times on the pull list"));
        }
    }
    for (nth, row) in work.pull.iter().enumerate() {
        let known = view.stock.iter().any(|p| p.entry.id == row.stock && p.entry.copy == row.stock_copy);
        if !known {
            found.add(Rule::WorkRows, format!("work.pull[{nth}]"), format!("\"{}\" is not cut", row.stock));
        }
    }
}
