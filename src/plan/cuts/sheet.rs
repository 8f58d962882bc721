//! Cuts of sheets: one sheet after the other, each from the outside in.
//!
//! A sheet is parted as its tree says, every saw line from edge to edge of the piece in hand, the far side of each piece
//! with the fence at its size; what is then still too large in the other direction is trimmed.

use super::super::say;
use super::super::{Cut, CutKind, Length, Node, Role, Station};
use super::{Bench, Planned, Saw, along, extent, part};
use crate::nesting::Kind;

/// Adds every cut of every sheet.
pub(super) fn cuts(bench: &Bench, cuts: &mut Vec<Cut<Length>>) {
    for (used, grown) in bench.grown.iter().enumerate() {
        if let Kind::Sheet(sheet) = &bench.case.milled.problem.stock[bench.uses[used].class].kind {
            let kerf = |kind| match kind {
                CutKind::Cross => Length::from_ticks(sheet.kerf.cross),
                CutKind::Rip => Length::from_ticks(sheet.kerf.rip),
            };
            saw_up(bench, &Sheet { used, kerf: &kerf }, &grown.tree, cuts);
        }
    }
}

/// The sheet being sawn.
struct Sheet<'a> {
    used: usize,
    kerf: &'a dyn Fn(CutKind) -> Length,
}

fn saw_up(bench: &Bench, sheet: &Sheet, node: &Node<Length>, cuts: &mut Vec<Cut<Length>>) {
    let Some(kind) = node.cut else { return };
    let edges = along(node, kind);
    row(bench, sheet, kind, extent(node, kind), edges, &node.children, cuts);
    for child in &node.children {
        if child.role.is_some() {
            let across = match kind {
                CutKind::Cross => CutKind::Rip,
                CutKind::Rip => CutKind::Cross,
            };
            let hand = extent(child, kind);
            row(bench, sheet, across, edges, hand, std::slice::from_ref(child), cuts);
        } else {
            saw_up(bench, sheet, child, cuts);
        }
    }
}

/// Frees `pieces` from a piece in hand that reaches over `hand` in the cut's coordinate and over `edges` along the saw.
fn row(
    bench: &Bench,
    sheet: &Sheet,
    kind: CutKind,
    hand: (Length, Length),
    edges: (Length, Length),
    pieces: &[Node<Length>],
    cuts: &mut Vec<Cut<Length>>,
) {
    let freed = part(pieces.iter().map(|p| extent(p, kind)), hand.0, hand.1, (sheet.kerf)(kind));
    for (piece, freed) in pieces.iter().zip(freed) {
        let (from, to) = extent(piece, kind);
        let what = words(bench, kind, piece, to - from);
        let mut add = |saw: Saw, setting, what| {
            bench
                .add(cuts, Planned { used: sheet.used, station: Station::Sheet, cut: kind, saw, edges, setting, what });
        };
        match (freed.before, freed.after) {
            (Some(before), None) => add(before, Some(to - from), what),
            (before, after) => {
                if let Some(saw) = before {
                    add(saw, None, "trim to a clean edge".to_owned());
                }
                if let Some(saw) = after {
                    add(saw, Some(to - from), what);
                }
            }
        }
    }
}

fn words(bench: &Bench, kind: CutKind, piece: &Node<Length>, size: Length) -> String {
    let verb = match kind {
        CutKind::Cross => "crosscut",
        CutKind::Rip => "rip",
    };
    match piece.role {
        Some(Role::Blank) => format!("{verb} {} to {}", say::label(piece), bench.show(size)),
        Some(Role::Offcut) => format!("{verb} the offcut free"),
        _ => format!("{verb} {} off for {}", bench.show(size), say::tally(&say::names(piece))),
    }
}
