//! How many boards of the pile could make each part.
//!
//! A board counts for a part when some cutting that yields it has a lawful place in the board taken alone: inside a
//! section the board can give, clear of that cutting's blocked rectangles. The test is exact: a place that exists can be
//! pushed left and down until it rests against an end, an edge or a blocked rectangle, so only those corners are tried.

use super::case::Case;
use crate::nesting::{BoardStock, Cutting, Kind, Rect, SectionClass};

/// Boards that could make a piece, by part of the job.
pub(super) struct Scarcity {
    boards: Vec<u64>,
}

impl Scarcity {
    /// Looks at every board of the pile. A part with several kinds of pieces is as scarce as the scarcest of them.
    /// O(cuttings x classes x blocked^3).
    pub(super) fn of(case: &Case) -> Scarcity {
        let mut of_item = vec![0u64; case.milled.items.len()];
        for stock in &case.milled.problem.stock {
            let Kind::Board(board) = &stock.kind else { continue };
            for (count, _) in of_item.iter_mut().zip(makes(board, case.milled.items.len())).filter(|(_, makes)| *makes)
            {
                *count += u64::from(stock.count);
            }
        }
        let of_part = |part| case.kinds_of(part).iter().flatten().map(|kind| of_item[kind.item]).min().unwrap_or(0);
        Scarcity { boards: (0..case.job.parts.len()).map(of_part).collect() }
    }

    /// How many boards could make the part.
    pub(super) fn boards(&self, part: usize) -> u64 {
        self.boards[part]
    }
}

/// By item: the board taken alone could yield it.
fn makes(board: &BoardStock, items: usize) -> Vec<bool> {
    let mut makes = vec![false; items];
    for (index, cutting) in board.cuttings.iter().enumerate() {
        let is_new = cutting.yields.iter().any(|&(item, _)| !makes[item]);
        if is_new && has_a_place(board, index, cutting) {
            cutting.yields.iter().for_each(|&(item, _)| makes[item] = true);
        }
    }
    makes
}

fn has_a_place(board: &BoardStock, index: usize, cutting: &Cutting) -> bool {
    board.classes.iter().any(|class| {
        let strips = class.strips.iter().filter(|strip| strip.cuttings.contains(&index));
        strips.map(|strip| strip.width).min().is_some_and(|width| fits(board, class, cutting, width))
    })
}

/// True when a strip `width` wide in some section of `class` can hold the cutting clear of what blocks it.
fn fits(board: &BoardStock, class: &SectionClass, cutting: &Cutting, width: i64) -> bool {
    let usable = board.length - 2 * board.end_trim;
    let section = class.min_length.max(cutting.length + 2 * class.end_margin);
    if section > usable.min(class.max_length) {
        return false;
    }
    let (left, low) = (board.end_trim + class.end_margin, class.low);
    let right = board.length - board.end_trim - class.end_margin - cutting.length;
    let high = class.high - width;
    let blocked = &board.blocked[cutting.blocked];
    let xs = std::iter::once(left).chain(blocked.iter().map(|r| r.x1 - cutting.net_dx));
    xs.filter(|x| (left..=right).contains(x)).any(|x| {
        let ys = std::iter::once(low).chain(blocked.iter().map(|r| r.y1 - cutting.net_dy));
        ys.filter(|y| (low..=high).contains(y)).any(|y| {
            let net = net_at(cutting, x, y);
            !blocked.iter().any(|r| r.meets(&net))
        })
    })
}

/// The net rectangle of a blank at (x, y).
pub(super) const fn net_at(cutting: &Cutting, x: i64, y: i64) -> Rect {
    let (x0, y0) = (x + cutting.net_dx, y + cutting.net_dy);
    Rect { x0, x1: x0 + cutting.net_length, y0, y1: y0 + cutting.net_width }
}
