//! One board as the optimiser sees it: what can be cut from it, where, and in sections of what length.
//!
//! Brings the milling rules together: faces and margins give blocked rectangles, flattening and crook give classes of
//! section length, machine limits give the strips. A section of surfaced stock is either planed or not: blanks used at the
//! board's own thickness come only from sections that are not, since planing the section would take their thickness away.

mod blocks;

use std::collections::{BTreeMap, BTreeSet};

use crate::job::shop::RipFirst;
use blocks::{block_candidates, keep_parted_strips_apart, may_lie_in};

use crate::job::Shop;
use crate::measure::Length;
use crate::milling::blank::Piece;
use crate::milling::edges::Edges;
use crate::milling::faces::{self, Shown};
use crate::milling::flatten::Flattening;
use crate::milling::matches::Block;
use crate::milling::{MilledCutting, Placed};
use crate::nesting::{BoardStock, Cutting, Rect, SectionClass, StripKind};
use crate::pile::{Board, Face};

/// A piece wanted from boards of this one's species and rings, with its item index and how often it counts for it (a
/// stave counts in units of width).
#[derive(Clone, Copy)]
pub struct Wanted<'a> {
    pub item: usize,
    pub count: u32,
    pub piece: &'a Piece,
}

/// A blank that the board might give, before it is known in which sections.
struct Candidate {
    cutting: Cutting,
    milled: MilledCutting,
    /// Thickness it can lose to flattening; `None` when it is not planed.
    headroom: Option<Length>,
    /// Its shortest piece that is narrower than it: in a strip of its width that one is ripped by itself.
    ripped: Option<i64>,
    /// Of pieces side by side: its widest, which is the widest strip; its strip is parted and holds nothing else.
    widest: Option<i64>,
    /// Its pieces, if it is a block: each as a cutting, and where it lies.
    block: Vec<(Cutting, MilledCutting, i64, i64)>,
}

impl Candidate {
    /// One blank.
    fn blank(cutting: Cutting, milled: MilledCutting, headroom: Option<Length>) -> Candidate {
        Candidate { cutting, milled, headroom, ripped: None, widest: None, block: Vec::new() }
    }
}

/// The board's geometry and the meaning of its cuttings; cuttings that fit nowhere are left out.
pub fn board_stock(
    board: &Board,
    wanted: &[Wanted],
    blocks: &[Block],
    shop: &Shop,
) -> (BoardStock, Vec<MilledCutting>) {
    let mut blocked = Blocked { board, shop, sets: BTreeMap::new(), rects: Vec::new() };
    let mut candidates = Vec::new();
    for w in wanted {
        plain_candidates(board, w, shop, &mut blocked, &mut candidates);
    }
    if shop.machine.resaw_height > Length::ZERO {
        resawn_candidates(board, wanted, shop, &mut blocked, &mut candidates);
    }
    for block in blocks {
        block_candidates(board, block, shop, &mut blocked, &mut candidates);
    }
    keep_parted_strips_apart(&mut candidates);
    let usable = (board.length - shop.trim.board_end * 2).ticks();
    let mut classes = section_classes(board, &candidates, shop, usable, true);
    classes.extend(section_classes(board, &candidates, shop, usable, false));
    let (cuttings, milled) = keep_used(candidates, &mut classes);
    let stock = BoardStock {
        length: board.length.ticks(),
        width: board.width.ticks(),
        end_trim: shop.trim.board_end.ticks(),
        kerf_cross: shop.kerf.crosscut.ticks(),
        kerf_rip: shop.kerf.rip.ticks(),
        cuttings,
        blocked: blocked.rects,
        classes,
        defects: board.defects.iter().map(|d| rect(d.x, d.y, d.length, d.width)).collect(),
    };
    (stock, milled)
}

/// Interned sets of defects to keep out, as rectangles grown by the shop's margins.
struct Blocked<'a> {
    board: &'a Board,
    shop: &'a Shop,
    sets: BTreeMap<Vec<usize>, usize>,
    rects: Vec<Vec<Rect>>,
}

impl Blocked<'_> {
    fn index(&mut self, keep_out: Vec<usize>) -> usize {
        if let Some(&at) = self.sets.get(&keep_out) {
            return at;
        }
        let margins = &self.shop.defect;
        let grown = keep_out.iter().map(|&i| {
            let d = &self.board.defects[i];
            rect(
                d.x - margins.margin_length,
                d.y - margins.margin_width,
                d.length + margins.margin_length * 2,
                d.width + margins.margin_width * 2,
            )
        });
        self.rects.push(grown.collect());
        self.sets.insert(keep_out, self.rects.len() - 1);
        self.rects.len() - 1
    }
}

fn rect(x: Length, y: Length, length: Length, width: Length) -> Rect {
    Rect { x0: x.ticks(), x1: (x + length).ticks(), y0: y.ticks(), y1: (y + width).ticks() }
}

/// The board's face allowance, both faces together.
fn both_faces(board: &Board, shop: &Shop) -> Length {
    let one = if board.surfaced.faces_planed() { shop.allowance.face_surfaced } else { shop.allowance.face };
    one * 2
}

/// True when the piece is used at the surfaced board's own thickness and so is not planed.
pub fn used_as_it_is(board: &Board, piece: &Piece) -> bool {
    board.surfaced.faces_planed() && board.thickness == piece.thickness
}

/// Thickness that a blank for `piece` may lose to flattening; negative when the board is too thin even flat.
pub fn headroom(board: &Board, piece: &Piece, shop: &Shop) -> Length {
    board.thickness - both_faces(board, shop) - piece.thickness
}

fn plain_candidates(
    board: &Board,
    wanted: &Wanted,
    shop: &Shop,
    blocked: &mut Blocked,
    candidates: &mut Vec<Candidate>,
) {
    let piece = wanted.piece;
    let headroom = if used_as_it_is(board, piece) {
        None
    } else {
        let headroom = headroom(board, piece, shop);
        if headroom.is_negative() {
            return;
        }
        Some(headroom)
    };
    let (top, bottom) = (Shown::Board(Face::Top), Shown::Board(Face::Bottom));
    for way in faces::options(board, piece.asked, top, bottom) {
        let cutting = cutting(piece, blocked.index(way.keep_out), vec![(wanted.item, wanted.count)]);
        let milled = alone(wanted.item, headroom.is_some(), way.first_is_better);
        candidates.push(Candidate::blank(cutting, milled, headroom));
    }
}

fn cutting(piece: &Piece, blocked: usize, yields: Vec<(usize, u32)>) -> Cutting {
    let (net_dx, net_dy) = piece.net_offset();
    Cutting {
        length: piece.length.ticks(),
        width: piece.width.ticks(),
        net_dx,
        net_dy,
        net_length: piece.net_length.ticks(),
        net_width: piece.net_width.ticks(),
        blocked,
        yields,
    }
}

/// The meaning of a blank that is one piece.
fn alone(item: usize, planed: bool, first_is_better: bool) -> MilledCutting {
    let face_up = if first_is_better { Face::Top } else { Face::Bottom };
    MilledCutting { leaves: vec![item], planed, face_up, block: Vec::new() }
}

/// Blanks resawn into two or more leaves of one blank size and one net size.
fn resawn_candidates(
    board: &Board,
    wanted: &[Wanted],
    shop: &Shop,
    blocked: &mut Blocked,
    candidates: &mut Vec<Candidate>,
) {
    let mut sizes: BTreeMap<(Length, Length, Length, Length), Vec<&Wanted>> = BTreeMap::new();
    for w in wanted.iter().filter(|w| w.piece.width <= shop.machine.resaw_height) {
        let p = w.piece;
        sizes.entry((p.length, p.width, p.net_length, p.net_width)).or_default().push(w);
    }
    for alike in sizes.values() {
        let mut stack = Vec::new();
        stacks(board, alike, shop, 0, &mut stack, &mut |leaves, headroom| {
            resawn_ways(board, leaves, headroom, blocked, candidates);
        });
    }
}

/// Calls `found` with every multiset of two or more leaves that the flat board's thickness holds, and what is left of it.
fn stacks<'a>(
    board: &Board,
    alike: &[&'a Wanted<'a>],
    shop: &Shop,
    from: usize,
    stack: &mut Vec<&'a Wanted<'a>>,
    found: &mut impl FnMut(&[&'a Wanted<'a>], Length),
) {
    for (at, w) in alike.iter().enumerate().skip(from) {
        stack.push(w);
        let leaves: Length = stack.iter().map(|w| w.piece.thickness + shop.allowance.resaw).sum();
        let headroom = board.thickness - leaves - shop.kerf.resaw * (stack.len() as i64 - 1);
        // A leaf of no thickness with no allowance and no kerf would never fill the board: such parts are refused on
        // reading, so every leaf takes something and the recursion ends.
        if !headroom.is_negative() {
            if stack.len() >= 2 {
                found(stack, headroom);
            }
            stacks(board, alike, shop, at, stack, found);
        }
        stack.pop();
    }
}

/// Every choice of top and bottom leaf of a stack; the leaves between show sawn faces only, so their order is free.
fn resawn_ways(
    board: &Board,
    leaves: &[&Wanted],
    headroom: Length,
    blocked: &mut Blocked,
    candidates: &mut Vec<Candidate>,
) {
    let mut kept: Vec<(Vec<usize>, Vec<usize>)> = Vec::new();
    for top in 0..leaves.len() {
        for bottom in (0..leaves.len()).filter(|&b| b != top) {
            let middle: Vec<usize> = (0..leaves.len()).filter(|&i| i != top && i != bottom).collect();
            let order: Vec<usize> = std::iter::once(top).chain(middle).chain(std::iter::once(bottom)).collect();
            for keep_out in stack_keep_outs(board, leaves, &order) {
                let items: Vec<usize> = order.iter().map(|&i| leaves[i].item).collect();
                if !kept.iter().any(|(_, k)| k.iter().all(|d| keep_out.contains(d))) {
                    kept.retain(|(_, k)| !keep_out.iter().all(|d| k.contains(d)));
                    kept.push((items, keep_out));
                }
            }
        }
    }
    for (items, keep_out) in kept {
        let mut counts: BTreeMap<usize, u32> = BTreeMap::new();
        for leaf in leaves {
            *counts.entry(leaf.item).or_default() += leaf.count;
        }
        let cutting = cutting(leaves[0].piece, blocked.index(keep_out), counts.into_iter().collect());
        let milled = MilledCutting { leaves: items, planed: true, face_up: Face::Top, block: Vec::new() };
        candidates.push(Candidate::blank(cutting, milled, Some(headroom)));
    }
}

/// The sets of defects to keep out of a stack of leaves in this order, one for every choice of better face.
fn stack_keep_outs(board: &Board, leaves: &[&Wanted], order: &[usize]) -> Vec<Vec<usize>> {
    let last = order.len() - 1;
    let mut sets = vec![Vec::new()];
    for (at, &leaf) in order.iter().enumerate() {
        let first = if at == 0 { Shown::Board(Face::Top) } else { Shown::Sawn };
        let second = if at == last { Shown::Board(Face::Bottom) } else { Shown::Sawn };
        let ways = faces::options(board, leaves[leaf].piece.asked, first, second);
        sets = sets
            .iter()
            .flat_map(|set| ways.iter().map(|way| faces::union(set.clone(), way.keep_out.clone())))
            .collect();
    }
    sets
}

/// The classes of section length: between two lengths at which crook takes another step or a blank becomes too thin,
/// everything is constant, so a section of any length there is judged by the longest.
fn section_classes(
    board: &Board,
    candidates: &[Candidate],
    shop: &Shop,
    usable: i64,
    planed: bool,
) -> Vec<SectionClass> {
    if usable <= 0 || !candidates.iter().any(|c| c.milled.planed == planed) {
        return Vec::new();
    }
    let machine = &shop.machine;
    let (planable, end_margin) = if planed { (machine.min_length.ticks(), shop.trim.snipe.ticks()) } else { (0, 0) };
    let min_rip_length = machine.min_rip_length.ticks();
    // A section is ripped, so it is long enough to be.
    let min_length = planable.max(min_rip_length);
    let edges = Edges::new(board, shop);
    let longest = longest_sections(board, candidates, shop, usable, planed);
    let mut lengths: Vec<i64> = edges.breakpoints(usable);
    lengths.extend(longest.values().copied());
    lengths.retain(|&l| l >= min_length);
    lengths.sort_unstable();
    lengths.dedup();
    let mut classes: Vec<SectionClass> = Vec::new();
    let mut last_allowed = Vec::new();
    for &max_length in lengths.iter().rev() {
        let (low, high) = edges.zone(max_length);
        let allowed: Vec<(i64, usize)> =
            longest.iter().filter(|&(_, &most)| most >= max_length).map(|(&key, _)| key).collect();
        // A class that has what the next longer one has, with the same edges, adds nothing.
        if classes.last().is_some_and(|longer: &SectionClass| longer.low == low) && allowed == last_allowed {
            continue;
        }
        last_allowed = allowed.clone();
        let room = max_length - 2 * end_margin;
        let strips = strip_kinds(candidates, &allowed, room, high - low, min_rip_length);
        classes.push(SectionClass { min_length, max_length, end_margin, low, high, strips });
    }
    classes.retain(|class| !class.strips.is_empty());
    classes.reverse();
    if planable < min_rip_length {
        classes.extend(unripped_classes(board, &classes, candidates, planable));
    }
    classes
}

/// The classes of sections too short to rip: their one strip is the whole width of a board with two finished edges.
fn unripped_classes(
    board: &Board,
    classes: &[SectionClass],
    candidates: &[Candidate],
    min_length: i64,
) -> Vec<SectionClass> {
    let whole = board.width.ticks();
    let unripped = |class: &SectionClass| {
        if class.low != 0 || class.high != whole {
            return None;
        }
        let strip = class.strips.iter().find(|strip| strip.width == whole)?;
        let fills = |c: &Candidate| c.cutting.width == whole && c.ripped.is_none() && c.widest.is_none();
        let full = strip.cuttings.iter().copied().filter(|&c| fills(&candidates[c]));
        let strip = StripKind { width: whole, cuttings: full.collect() };
        Some(SectionClass { min_length, strips: vec![strip], ..class.clone() })
    };
    classes.iter().filter_map(unripped).collect()
}

/// For every (strip width, candidate) the longest section that the candidate may lie in, in a strip of that width.
fn longest_sections(
    board: &Board,
    candidates: &[Candidate],
    shop: &Shop,
    usable: i64,
    planed: bool,
) -> BTreeMap<(i64, usize), i64> {
    let machine = &shop.machine;
    let whole = machine.rip_first == RipFirst::Wide && board.width <= machine.jointer_width;
    let flattening = Flattening::new(&board.warp, board.length, board.width, &shop.warp.factor);
    let of_kind: Vec<usize> = (0..candidates.len()).filter(|&c| candidates[c].milled.planed == planed).collect();
    let mut widths: Vec<i64> = of_kind.iter().map(|&c| candidates[c].cutting.width).collect();
    widths.sort_unstable();
    widths.dedup();
    let widest = if whole { machine.planer_width } else { machine.planer_width.min(machine.jointer_width) };
    let parted: BTreeSet<i64> = candidates.iter().filter(|c| c.widest.is_some()).map(|c| c.cutting.width).collect();
    let mut known: BTreeMap<(Length, Length), Option<i64>> = BTreeMap::new();
    let mut longest = BTreeMap::new();
    for &width in &widths {
        for &c in of_kind.iter().filter(|&&c| may_lie_in(&candidates[c], width, &parted)) {
            let strip = candidates[c].widest.unwrap_or(width);
            let flattened = if whole { board.width } else { Length::from_ticks(strip) };
            let most = match candidates[c].headroom {
                None => Some(usable),
                Some(headroom) => *known.entry((headroom, flattened)).or_insert_with(|| {
                    (flattened <= widest).then(|| flattening.longest(headroom, flattened.ticks(), usable)).flatten()
                }),
            };
            if let Some(most) = most {
                longest.insert((width, c), most);
            }
        }
    }
    longest
}

/// The strips of a class: a strip is as wide as its widest blank, and a blank too short to rip fills its width.
fn strip_kinds(
    candidates: &[Candidate],
    allowed: &[(i64, usize)],
    room: i64,
    across: i64,
    min_rip_length: i64,
) -> Vec<StripKind> {
    let mut strips: BTreeMap<i64, Vec<usize>> = BTreeMap::new();
    for &(width, c) in allowed.iter().filter(|&&(width, _)| width <= across) {
        let candidate = &candidates[c];
        let blank = &candidate.cutting;
        let ripped = if blank.width == width {
            candidate.ripped
        } else {
            candidate.block.iter().map(|(piece, ..)| piece.length).min().or(Some(blank.length))
        };
        if blank.length <= room && ripped.is_none_or(|length| length >= min_rip_length) {
            strips.entry(width).or_default().push(c);
        }
    }
    strips.retain(|&width, cuttings| cuttings.iter().any(|&c| candidates[c].cutting.width == width));
    strips.into_iter().map(|(width, cuttings)| StripKind { width, cuttings }).collect()
}

/// Drops candidates that no class uses, renumbering the classes' lists.
fn keep_used(candidates: Vec<Candidate>, classes: &mut [SectionClass]) -> (Vec<Cutting>, Vec<MilledCutting>) {
    let mut used = vec![false; candidates.len()];
    for strip in classes.iter().flat_map(|class| &class.strips) {
        for &c in &strip.cuttings {
            used[c] = true;
        }
    }
    let mut number = vec![usize::MAX; candidates.len()];
    let (mut cuttings, mut milled) = (Vec::new(), Vec::new());
    let mut blocks = Vec::new();
    for (c, candidate) in candidates.into_iter().enumerate().filter(|&(c, _)| used[c]) {
        number[c] = cuttings.len();
        cuttings.push(candidate.cutting);
        milled.push(candidate.milled);
        blocks.push(candidate.block);
    }
    // The pieces of blocks come last: no strip holds them by themselves.
    for (at, pieces) in blocks.into_iter().enumerate() {
        for (cutting, meaning, dx, dy) in pieces {
            milled[at].block.push(Placed { cutting: cuttings.len(), dx, dy });
            cuttings.push(cutting);
            milled.push(meaning);
        }
    }
    for strip in classes.iter_mut().flat_map(|class| &mut class.strips) {
        for c in &mut strip.cuttings {
            *c = number[*c];
        }
    }
    (cuttings, milled)
}
