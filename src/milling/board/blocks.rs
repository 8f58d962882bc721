//! Matched pieces as a board sees them: one cutting, blocked wherever one of its pieces is, and strips that are parted again.
//!
//! How the pieces lie in their block is `matches`' business.

use std::collections::{BTreeMap, BTreeSet};

use super::{Blocked, Candidate, alone, cutting, headroom, used_as_it_is};
use crate::job::{MatchRule, Shop};
use crate::milling::MilledCutting;
use crate::milling::faces::{self, Shown};
use crate::milling::matches::{Block, Member};
use crate::nesting::{Cutting, Rect};
use crate::pile::{Board, Face};

/// A block of matched pieces with one face up, and with the other where that keeps out other defects.
pub(super) fn block_candidates(
    board: &Board,
    block: &Block,
    shop: &Shop,
    blocked: &mut Blocked,
    candidates: &mut Vec<Candidate>,
) {
    let as_it_is = block.members.iter().filter(|member| used_as_it_is(board, &member.piece)).count();
    let headroom = if as_it_is == block.members.len() {
        None
    } else {
        let least = block.members.iter().map(|member| headroom(board, &member.piece, shop)).min();
        // Pieces of the board's own thickness lie in sections that are not planed, all others in such that are.
        match least {
            Some(least) if as_it_is == 0 && !least.is_negative() => Some(least),
            _ => return,
        }
    };
    let offsets = block.offsets(shop.kerf.crosscut, shop.kerf.rip);
    let (length, width) = block.size(shop.kerf.crosscut, shop.kerf.rip);
    let mut known: Vec<Vec<Rect>> = Vec::new();
    for first_is_better in [true, false] {
        let (mut pieces, mut rects) = (Vec::new(), Vec::new());
        for (Member { item, count, piece }, &(dx, dy)) in block.members.iter().zip(&offsets) {
            let mut ways = faces::options(board, piece.asked, Shown::Board(Face::Top), Shown::Board(Face::Bottom));
            let at = ways.iter().position(|way| way.first_is_better == first_is_better).unwrap_or(0);
            let way = ways.swap_remove(at);
            let cutting = cutting(piece, blocked.index(way.keep_out), vec![(*item, *count)]);
            rects.extend(
                blocked.rects[cutting.blocked].iter().map(|rect| corners(rect, &cutting, dx.ticks(), dy.ticks())),
            );
            pieces.push((cutting, alone(*item, headroom.is_some(), way.first_is_better), dx.ticks(), dy.ticks()));
        }
        rects.sort_unstable();
        if known.contains(&rects) {
            continue;
        }
        known.push(rects.clone());
        blocked.rects.push(rects);
        let mut yields: BTreeMap<usize, u32> = BTreeMap::new();
        block.members.iter().for_each(|member| *yields.entry(member.item).or_default() += member.count);
        let cutting = Cutting {
            length: length.ticks(),
            width: width.ticks(),
            net_dx: 0,
            net_dy: 0,
            net_length: 1,
            net_width: 1,
            blocked: blocked.rects.len() - 1,
            yields: yields.into_iter().collect(),
        };
        let leaves = block.members.iter().map(|member| member.item).collect();
        let face_up = if first_is_better { Face::Top } else { Face::Bottom };
        let side = block.rule == MatchRule::Side;
        let narrower = block.members.iter().filter(|member| !side && member.piece.width < width);
        candidates.push(Candidate {
            cutting,
            milled: MilledCutting { leaves, planed: headroom.is_some(), face_up, block: Vec::new() },
            headroom,
            ripped: narrower.map(|member| member.piece.length.ticks()).min(),
            widest: block.members.iter().map(|member| member.piece.width.ticks()).max().filter(|_| side),
            block: pieces,
        });
    }
}

/// Where the corner of a block cannot be for a blocked rectangle that stands in the way of a piece of it.
fn corners(rect: &Rect, piece: &Cutting, dx: i64, dy: i64) -> Rect {
    let (x, y) = (dx + piece.net_dx, dy + piece.net_dy);
    Rect {
        x0: rect.x0 - x - piece.net_length + 1,
        x1: rect.x1 - x,
        y0: rect.y0 - y - piece.net_width + 1,
        y1: rect.y1 - y,
    }
}

/// Strips that are parted again hold nothing but pieces parted in the same way. A strip is known by its width, so these are made
/// wider by so many ticks that no other strip is as wide.
pub(super) fn keep_parted_strips_apart(candidates: &mut [Candidate]) {
    let parted = |c: &Candidate| -> Vec<i64> {
        c.widest.map_or_else(Vec::new, |_| c.block.iter().map(|(piece, ..)| piece.width).collect())
    };
    for at in 0..candidates.len() {
        let way = parted(&candidates[at]);
        let taken = |width: i64| candidates.iter().any(|other| other.cutting.width == width && parted(other) != way);
        let mut width = candidates[at].cutting.width;
        while !way.is_empty() && taken(width) {
            width += 1;
        }
        candidates[at].cutting.width = width;
    }
}

/// True when a strip of that width may hold it: strips that are parted again hold just those parted so.
pub(super) fn may_lie_in(candidate: &Candidate, width: i64, parted: &BTreeSet<i64>) -> bool {
    if parted.contains(&width) { candidate.cutting.width == width } else { candidate.cutting.width <= width }
}
