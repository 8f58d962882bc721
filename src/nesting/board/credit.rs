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
        let (from, area, wide) = self.knot(self.knots_until(x));
        area + i128::from(x - from) * i128::from(wide)
    }

    /// The sound areas in [0, x] for `count` places x, the first of them `from` and each `step` from the next, times a fraction:
    /// rounded down and up. Between two knots a product grows by the same each time, so it is divided at knots alone.
    pub fn shares_left_of(
        &self,
        (from, step, count): (i64, i64, usize),
        numerator: i128,
        denominator: i128,
    ) -> Vec<(i64, i64)> {
        let parted = |n: i128| (n.div_euclid(denominator), n.rem_euclid(denominator));
        let mut shares = Vec::with_capacity(count);
        let (mut knots, mut share, mut more) = (usize::MAX, (0, 0), (0, 0));
        for x in (0..count).map(|k| from + k as i64 * step) {
            let until = self.knots_until(x);
            if until == knots {
                share = (share.0 + more.0, share.1 + more.1);
                if share.1 >= denominator {
                    share = (share.0 + 1, share.1 - denominator);
                }
            } else {
                knots = until;
                share = parted(self.left_of(x) * numerator);
                more = parted(i128::from(step) * i128::from(self.knot(until).2) * numerator);
            }
            shares.push((share.0 as i64, (share.0 + i128::from(share.1 != 0)) as i64));
        }
        shares
    }

    /// What a layout's offcuts earn together, micro-units rounded down.
    pub fn credit_of(&self, credit: &Credit, layout: &BoardLayout) -> i64 {
        let area: i128 = layout.offcuts.iter().map(|&(x0, x1)| self.left_of(x1) - self.left_of(x0)).sum();
        (area * credit.rate_numerator).div_euclid(credit.rate_denominator) as i64
    }

    /// Knots at x or left of it.
    fn knots_until(&self, x: i64) -> usize {
        self.knots.partition_point(|knot| knot.0 <= x)
    }

    /// The last of so many knots; there is nothing sound left of the first.
    fn knot(&self, until: usize) -> (i64, i128, i64) {
        until.checked_sub(1).map_or((0, 0, 0), |last| self.knots[last])
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
    credit.map_or(0, |credit| SoundArea::new(board).credit_of(credit, layout))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::nesting::problem::Rect;

    /// Shares found step by step are those that each place has by itself, at any step and across every edge of a defect.
    #[test]
    fn shares_taken_step_by_step_are_the_exact_ones() {
        let defect = |x0, x1, y0, y1| Rect { x0, x1, y0, y1 };
        let board = BoardStock {
            length: 1000,
            width: 90,
            end_trim: 7,
            kerf_cross: 0,
            kerf_rip: 0,
            cuttings: vec![],
            blocked: vec![],
            classes: vec![],
            defects: vec![defect(100, 140, 0, 30), defect(120, 300, 20, 95), defect(640, 641, 5, 6)],
        };
        let sound = SoundArea::new(&board);
        for (from, step) in [(-20, 1), (0, 3), (7, 16), (-5, 61)] {
            let (numerator, denominator) = (7_654_321, 12_345);
            let shares = sound.shares_left_of((from, step, 1100 / step as usize), numerator, denominator);
            for (k, share) in shares.into_iter().enumerate() {
                let exact = sound.left_of(from + k as i64 * step) * numerator;
                let down = exact.div_euclid(denominator);
                let up = down + i128::from(down * denominator < exact);
                assert_eq!(share, (down as i64, up as i64), "place {k} of {step} from {from}");
            }
        }
    }
}
