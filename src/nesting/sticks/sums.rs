//! Which totals of stock costs can occur: a bound between two of them rises to the next.
//!
//! Holds for sticks without credit. A total can occur when some choice of sticks costs just that and is together long
//! enough for all that is wanted. Exact, in integers.

use super::case::{Case, gcd};

/// Most cells of the table of totals; beyond, totals are only known to be multiples of their measure.
const MOST_CELLS: i64 = 4_000_000;

/// Totals that can occur.
pub(super) struct Sums {
    /// Every total is a multiple of this, micro-units; 1 when credit is earned somewhere.
    measure: i64,
    /// By multiples of the measure: room of the longest choice of sticks with that total, ticks; -1 where there is none.
    room: Vec<i64>,
    /// Room that all pieces need, ticks.
    needed: i64,
}

impl Sums {
    /// Totals up to `most`, the cost of an answer at hand.
    pub fn new(case: &Case, most: i64) -> Sums {
        let measure = case.classes.iter().fold(0, |g, class| gcd(g, class.cost)).max(1);
        let plain = Sums { measure, room: Vec::new(), needed: 0 };
        if case.classes.iter().any(|class| class.credit.is_some()) {
            return Sums { measure: 1, ..plain };
        }
        let cells = most / measure;
        if cells >= MOST_CELLS {
            return plain;
        }
        let mut room = vec![-1; cells as usize + 1];
        room[0] = 0;
        for class in &case.classes {
            let mut left = class.count;
            let mut many = 1;
            while left > 0 {
                let count = i64::from(many.min(left));
                let (cost, length) = ((class.cost / measure * count) as usize, class.room * count);
                for at in (cost..room.len()).rev() {
                    if room[at - cost] >= 0 {
                        room[at] = room[at].max(room[at - cost] + length);
                    }
                }
                left -= count as u32;
                many *= 2;
            }
        }
        Sums { room, needed: needed(case), ..plain }
    }

    /// The least total that can occur and is not below `bound`; `bound` itself, taken up to the measure, beyond the table.
    pub fn up(&self, bound: i64) -> i64 {
        let at = -(-bound).div_euclid(self.measure);
        let from = usize::try_from(at).unwrap_or(0).min(self.room.len());
        match self.room[from..].iter().position(|&room| room >= self.needed) {
            Some(more) => (from + more) as i64 * self.measure,
            None => at.max(self.room.len() as i64).saturating_mul(self.measure),
        }
    }
}

/// Room that all pieces need at least, ticks.
fn needed(case: &Case) -> i64 {
    let least = |k: usize| case.families.iter().filter_map(|family| family.pieces[k]).map(|piece| piece.1).min();
    case.demand.iter().enumerate().map(|(k, &d)| least(k).unwrap_or(0) * i64::from(d)).sum()
}
