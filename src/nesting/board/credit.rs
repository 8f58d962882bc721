//! What the offcuts of a board earn, exactly.
//!
//! The sound area of a span is the board's full width by the span, less what lies in the end trims, less the union of
//! the defects as they are.

use crate::nesting::layout::BoardLayout;
use crate::nesting::problem::{BoardStock, Credit};

/// Sound area left of any x, as a piecewise linear function.
#[derive(Clone, Debug)]
pub(super) struct SoundArea {
    /// Ascending x, with the area left of it and the sound width from there on.
    knots: Vec<(i64, i128, i64)>,
}

impl SoundArea {
    pub fn new(board: &BoardStock) -> SoundArea {
        let (left, right) = (board.end_trim, (board.length - board.end_trim).max(board.end_trim));
        let mut edges: Vec<i64> =
            board.defects.iter().flat_map(|r| [r.x0, r.x1]).map(|x| x.clamp(left, right)).collect();
        edges.extend([left, right]);
        edges.sort_unstable();
        edges.dedup();
        let mut knots = Vec::with_capacity(edges.len());
        let (mut area, mut from, mut wide) = (0, left, 0);
        for &x in &edges {
            area += i128::from(x - from) * i128::from(wide);
            wide = if x < right { board.width - covered(board, x) } else { 0 };
            from = x;
            knots.push((x, area, wide));
        }
        SoundArea { knots }
    }

    /// Sound area in [0, x], square ticks.
    pub fn left_of(&self, x: i64) -> i128 {
        match self.knots.partition_point(|knot| knot.0 <= x) {
            0 => 0,
            after => {
                let (from, area, wide) = self.knots[after - 1];
                area + i128::from(x - from) * i128::from(wide)
            }
        }
    }
}

/// Width covered by defects just right of `x`.
fn covered(board: &BoardStock, x: i64) -> i64 {
    let mut spans: Vec<(i64, i64)> = board
        .defects
        .iter()
        .filter(|r| r.x0 <= x && x < r.x1)
        .map(|r| (r.y0.clamp(0, board.width), r.y1.clamp(0, board.width)))
        .collect();
    spans.sort_unstable();
    let (mut sum, mut reached) = (0, 0);
    for (low, high) in spans {
        sum += (high - low.max(reached)).max(0);
        reached = reached.max(high);
    }
    sum
}

/// What a layout's offcuts earn together, micro-units rounded down.
pub fn credit_of(board: &BoardStock, credit: Option<&Credit>, layout: &BoardLayout) -> i64 {
    let Some(credit) = credit else { return 0 };
    let sound = SoundArea::new(board);
    let area: i128 = layout.offcuts.iter().map(|&(x0, x1)| sound.left_of(x1) - sound.left_of(x0)).sum();
    (area * credit.rate_numerator).div_euclid(credit.rate_denominator) as i64
}
