//! Matched pieces as a board sees them: one cutting, blocked wherever one of its pieces is, and strips that are parted again.
//!
//! How the pieces lie in their block is `matches`' business.

use std::collections::{BTreeMap, BTreeSet};

use super::{Blocked, Candidate, alone, cutting, headroom, used_as_it_is};
use crate::job::{MatchRule, Shop};
use crate::measure::Length;
use crate::milling::MilledCutting;
use crate::milling::faces::{self, Shown};
use crate::milling::matches::{Block, Member};
use crate::nesting::{Cutting, Rect};
use crate::pile::{Board, Face};

/// A gap with a defect is at least so much longer than the defect, its margins and the allowances, so that it has a place on any
/// grid.
const PLAY: Length = Length::from_inch_fraction(1, 4);
/// Most ways in which one block may lie round the defects of one board.
const MOST_AROUND: usize = 24;

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
    let close: Vec<(i64, i64)> = offsets.iter().map(|(dx, dy)| (dx.ticks(), dy.ticks())).collect();
    let mut known: Vec<(Vec<i64>, Vec<Rect>)> = Vec::new();
    for first_is_better in [true, false] {
        let mut pieces = Vec::with_capacity(block.members.len());
        for Member { item, count, piece } in &block.members {
            let mut ways = faces::options(board, piece.asked, Shown::Board(Face::Top), Shown::Board(Face::Bottom));
            let at = ways.iter().position(|way| way.first_is_better == first_is_better).unwrap_or(0);
            let way = ways.swap_remove(at);
            let cutting = cutting(piece, blocked.index(way.keep_out), vec![(*item, *count)]);
            pieces.push((cutting, alone(*item, headroom.is_some(), way.first_is_better)));
        }
        let mut layings = vec![Laying { at: close.clone(), nowhere: vec![] }];
        match block.rule {
            MatchRule::Run => layings.extend(over_defects(board, &pieces, &close, shop, blocked)),
            MatchRule::Side if !board.defects.is_empty() => layings.extend(shifted(&pieces, &close, shop)),
            MatchRule::Side | MatchRule::Board => {}
        }
        layings.truncate(1 + MOST_AROUND);
        for Laying { at, mut nowhere } in layings {
            for ((cutting, _), &(dx, dy)) in pieces.iter().zip(&at) {
                nowhere.extend(blocked.rects[cutting.blocked].iter().map(|rect| corners(rect, cutting, dx, dy)));
            }
            nowhere.sort_unstable();
            let key = (at.iter().map(|at| at.0).collect(), nowhere.clone());
            if known.contains(&key) {
                continue;
            }
            known.push(key);
            blocked.rects.push(nowhere);
            let last = blocked.rects.len() - 1;
            candidates.push(laid(block, &pieces, &at, last, headroom, first_is_better));
        }
    }
}

/// The pieces of a block on a board: where they lie from its corner, and where the corner cannot be, beside what is in the
/// way of the pieces.
struct Laying {
    at: Vec<(i64, i64)>,
    nowhere: Vec<Rect>,
}

/// A block laid in one way, as one cutting.
fn laid(
    block: &Block,
    pieces: &[(Cutting, MilledCutting)],
    at: &[(i64, i64)],
    blocked: usize,
    headroom: Option<Length>,
    first_is_better: bool,
) -> Candidate {
    let mut yields: BTreeMap<usize, u32> = BTreeMap::new();
    block.members.iter().for_each(|member| *yields.entry(member.item).or_default() += member.count);
    let ends = || pieces.iter().zip(at);
    let length = ends().map(|((piece, _), (dx, _))| dx + piece.length).max().unwrap_or(0);
    let width = ends().map(|((piece, _), (_, dy))| dy + piece.width).max().unwrap_or(0);
    let cutting = Cutting {
        length,
        width,
        net_dx: 0,
        net_dy: 0,
        net_length: 1,
        net_width: 1,
        blocked,
        yields: yields.into_iter().collect(),
    };
    let leaves = block.members.iter().map(|member| member.item).collect();
    let face_up = if first_is_better { Face::Top } else { Face::Bottom };
    let side = block.rule == MatchRule::Side;
    let narrower = pieces.iter().filter(|(piece, _)| !side && piece.width < width);
    Candidate {
        cutting,
        milled: MilledCutting { leaves, planed: headroom.is_some(), face_up, block: Vec::new() },
        headroom,
        ripped: narrower.map(|(piece, _)| piece.length).min(),
        widest: pieces.iter().map(|(piece, _)| piece.width).max().filter(|_| side),
        block: ends().map(|((piece, alone), (dx, dy))| (piece.clone(), alone.clone(), *dx, *dy)).collect(),
    }
}

/// The ways neighbours may lie with one of them shifted along its strip, by a quarter or half of the shortest: they still
/// overlap.
fn shifted(pieces: &[(Cutting, MilledCutting)], close: &[(i64, i64)], shop: &Shop) -> Vec<Laying> {
    let shortest = pieces.iter().map(|(piece, _)| piece.length).min().unwrap_or(0);
    let mut layings = Vec::new();
    for k in 0..pieces.len() {
        for part in [4, 2] {
            let by = Length::from_ticks(shortest / part).round_down_to(shop.print.rough).ticks();
            let ahead = |i: usize| if i == k { by } else { 0 };
            let behind = |i: usize| by - ahead(i);
            let laid = |shift: &dyn Fn(usize) -> i64| {
                let at = close.iter().enumerate().map(|(i, &(dx, dy))| (dx + shift(i), dy)).collect();
                Laying { at, nowhere: vec![] }
            };
            layings.extend([laid(&ahead), laid(&behind)]);
        }
    }
    layings
}

/// The ways a run may lie with a defect in one of its gaps. Such a run can only be where the defect is: elsewhere nothing would
/// excuse the waste between its pieces.
fn over_defects(
    board: &Board,
    pieces: &[(Cutting, MilledCutting)],
    close: &[(i64, i64)],
    shop: &Shop,
    blocked: &Blocked,
) -> Vec<Laying> {
    let mut layings: Vec<Laying> = Vec::new();
    let everywhere = board.length.ticks() + board.width.ticks();
    let room = (board.length - shop.trim.board_end * 2).ticks();
    for k in 1..pieces.len() {
        let ((left, _), (right, _)) = (&pieces[k - 1], &pieces[k]);
        let mut in_the_way: Vec<&Rect> = [left, right].iter().flat_map(|c| &blocked.rects[c.blocked]).collect();
        in_the_way.sort_unstable();
        in_the_way.dedup();
        for defect in in_the_way {
            // From the corner to where the piece on the left ends, clear wood counted.
            let end = close[k - 1].0 + left.net_dx + left.net_length;
            let needed = end + defect.x1 - defect.x0 - right.net_dx - close[k].0;
            let more = (Length::from_ticks(needed) + PLAY).round_up_to(shop.print.rough).ticks();
            let play = more - needed;
            let last = &pieces[pieces.len() - 1].0;
            if needed <= 0 || close[pieces.len() - 1].0 + more + last.length > room {
                continue;
            }
            let at = close.iter().enumerate().map(|(i, &(dx, dy))| (if i < k { dx } else { dx + more }, dy)).collect();
            let (from, to) = (defect.x0 - end - play, defect.x0 - end);
            let (low, high) = (defect.y0 - left.net_dy - left.net_width, defect.y1 - left.net_dy);
            let beside = |x0, x1| Rect { x0, x1, y0: -everywhere, y1: everywhere };
            let across = |y0, y1| Rect { x0: -everywhere, x1: everywhere, y0, y1 };
            let nowhere = vec![
                beside(-everywhere, from),
                beside(to + 1, everywhere),
                across(-everywhere, low + 1),
                across(high, everywhere),
            ];
            layings.push(Laying { at, nowhere });
        }
    }
    layings
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
