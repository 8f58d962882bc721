//! The best way to crosscut one stick at given prices, with the credit of its offcut.
//!
//! A bounded knapsack over length: each item in bundles of 1, 2, 4, ... pieces (Martello and Toth 1990, Knapsack Problems,
//! section 3.1), so that limits are kept exactly; without limits as many as fit. Lengths are counted in their greatest
//! common measure; when that is too fine they are rounded, down for `upper` and up for the layout.
//!
//! Pieces of a stick may stand anywhere and an offcut keeps the stick's own end, so what is left lies best together at the
//! right end, or at both ends when two offcuts are long enough: the second saves the left trim and costs a kerf.

use super::layout::StickLayout;
use super::problem::{Credit, Kind, StickStock, Stock};

/// Most cells along a stick: some 10 ms.
const MOST_CELLS: i64 = 100_000;

/// A layout and what is proven about it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PricedStick {
    /// Lawful; empty when nothing is worth cutting.
    pub layout: StickLayout,
    /// Prices of the pieces made, and the credit rounded down, micro-units.
    pub value: i64,
    /// No layout is worth more (credit rounded up), micro-units.
    pub upper: i64,
    /// Pieces made, by item.
    pub counts: Vec<u32>,
}

/// Best layout of a stick, each piece unlimited in number; `None` when the stock is no stick.
///
/// `prices` are micro-units an item; one below zero counts as zero, and what is worth nothing is not cut.
pub fn best(stock: &Stock, prices: &[i64]) -> Option<PricedStick> {
    best_within(stock, prices, &vec![u32::MAX; prices.len()])
}

/// Best layout with at most `limits[item]` pieces of each item; `None` when the stock is no stick.
pub fn best_within(stock: &Stock, prices: &[i64], limits: &[u32]) -> Option<PricedStick> {
    let Kind::Stick(stick) = &stock.kind else { return None };
    let credit = stock.credit.as_ref();
    let room = (stick.length - 2 * stick.trim + stick.kerf).max(0);
    let measure = stick.pieces.iter().map(|piece| piece.1 + stick.kerf).fold(0, gcd).max(1);
    let exact = room / measure <= MOST_CELLS;
    let step = if exact { measure } else { room / MOST_CELLS + 1 };
    let plan = Knapsack::fill(stick, prices, limits, (step, Rounding::Up));
    let (layout, counts) = plan.layout(stick, credit, prices.len());
    let pieces: i64 = counts.iter().zip(prices).map(|(&n, &price)| i64::from(n) * price.max(0)).sum();
    let value = pieces + credit_of(credit, &layout);
    let upper = match exact {
        true => plan.most(stick, credit, step),
        false => Knapsack::fill(stick, prices, limits, (step, Rounding::Down)).most(stick, credit, step),
    };
    let free =
        stick.pieces.iter().any(|&(item, length)| prices[item] <= 0 && limits[item] > 0 && length <= room - stick.kerf);
    let upper = if free { upper.max(earned(stick, credit, 0).1) } else { upper };
    Some(PricedStick { layout, value, upper: upper.max(value), counts })
}

/// What a layout's offcuts earn together, micro-units rounded down.
pub fn credit_of(credit: Option<&Credit>, layout: &StickLayout) -> i64 {
    let Some(credit) = credit else { return 0 };
    let length: i64 = layout.offcuts.iter().map(|&(x0, x1)| x1 - x0).sum();
    (i128::from(length) * credit.rate_numerator).div_euclid(credit.rate_denominator) as i64
}

/// Checks every rule of the class `StickStock` states, and the form.
///
/// # Errors
/// The first rule broken, in words.
pub fn verify(stock: &Stock, layout: &StickLayout) -> Result<(), String> {
    let Kind::Stick(stick) = &stock.kind else { return Err("the stock is no stick".into()) };
    if layout.pieces.is_empty() && !layout.offcuts.is_empty() {
        return Err("offcuts of a stick that is not cut".into());
    }
    let mut spans: Vec<(i64, i64)> = Vec::new();
    for &(x, piece) in &layout.pieces {
        let end = x + stick.pieces.get(piece).ok_or("no such piece")?.1;
        if x < stick.trim || end > stick.length - stick.trim || spans.last().is_some_and(|last| last.0 >= x) {
            return Err(format!("piece {x}..{end} reaches into the trim or is out of order"));
        }
        spans.push((x, end));
    }
    for &(x0, x1) in &layout.offcuts {
        let least = stock.credit.as_ref().ok_or("an offcut where none earns")?.min_length;
        if x0 < 0 || x1 > stick.length || x1 - x0 < least {
            return Err(format!("offcut {x0}..{x1} is outside the stick or too short"));
        }
        spans.push((x0, x1));
    }
    spans.sort_unstable();
    match spans.windows(2).all(|pair| pair[0].1 + stick.kerf <= pair[1].0) {
        true => Ok(()),
        false => Err(format!("pieces closer than the kerf: {spans:?}")),
    }
}

/// Which way a length is taken to cells.
#[derive(Clone, Copy)]
enum Rounding {
    Up,
    Down,
}

/// So many equal pieces taken or left together.
struct Bundle {
    /// Index into the stick's pieces.
    piece: usize,
    count: u32,
    cells: usize,
    worth: i64,
}

/// Best values by cells used at most, after each bundle.
struct Knapsack {
    bundles: Vec<Bundle>,
    best: Vec<i64>,
    /// By bundle and cells: the bundle is taken there.
    taken: Vec<Vec<bool>>,
}

impl Knapsack {
    fn fill(stick: &StickStock, prices: &[i64], limits: &[u32], (step, rounding): (i64, Rounding)) -> Knapsack {
        let room = (stick.length - 2 * stick.trim + stick.kerf).max(0);
        let bundles = bundles(stick, prices, limits, step, rounding);
        let mut best = vec![0; (room / step) as usize + 1];
        let mut taken = Vec::with_capacity(bundles.len());
        for bundle in &bundles {
            let mut take = vec![false; best.len()];
            for cells in (bundle.cells..best.len()).rev() {
                let value = best[cells - bundle.cells] + bundle.worth;
                if value > best[cells] {
                    best[cells] = value;
                    take[cells] = true;
                }
            }
            taken.push(take);
        }
        Knapsack { bundles, best, taken }
    }

    /// Most that pieces and offcut can be worth together, rounded up, when a cell is at least `step`.
    fn most(&self, stick: &StickStock, credit: Option<&Credit>, step: i64) -> i64 {
        let used = self.best.iter().enumerate().filter(|(_, worth)| **worth > 0);
        used.map(|(cells, worth)| worth + earned(stick, credit, cells as i64 * step).1).max().unwrap_or(0)
    }

    /// The best layout and its pieces by item.
    fn layout(&self, stick: &StickStock, credit: Option<&Credit>, items: usize) -> (StickLayout, Vec<u32>) {
        let mut best = (0, vec![]);
        let mut reached = 0;
        for (cells, &worth) in self.best.iter().enumerate() {
            // Only where a value is first reached: more length for the same pieces earns no more.
            if worth > reached {
                reached = worth;
                let pieces = self.pieces(cells);
                let used: i64 = pieces.iter().map(|&piece| stick.pieces[piece].1 + stick.kerf).sum();
                let total = worth + earned(stick, credit, used).0;
                if total > best.0 {
                    best = (total, pieces);
                }
            }
        }
        let mut counts = vec![0; items];
        for &piece in &best.1 {
            counts[stick.pieces[piece].0] += 1;
        }
        (lay(stick, credit, &best.1), counts)
    }

    /// Pieces of the best filling of so many cells, longest first.
    fn pieces(&self, cells: usize) -> Vec<usize> {
        let mut cells = cells;
        let mut pieces = Vec::new();
        for (bundle, take) in self.bundles.iter().zip(&self.taken).rev() {
            if take[cells] {
                cells -= bundle.cells;
                pieces.extend((0..bundle.count).map(|_| bundle.piece));
            }
        }
        pieces.reverse();
        pieces
    }
}

/// Every item by its shortest piece, as often as limits and length allow, longest pieces first.
fn bundles(stick: &StickStock, prices: &[i64], limits: &[u32], step: i64, rounding: Rounding) -> Vec<Bundle> {
    let room = stick.length - 2 * stick.trim + stick.kerf;
    let mut order: Vec<usize> = (0..stick.pieces.len()).collect();
    order.sort_by_key(|&piece| (-stick.pieces[piece].1, piece));
    let mut bundles = Vec::new();
    for piece in order.into_iter().filter(|&piece| shortest(stick, stick.pieces[piece].0) == Some(piece)) {
        let (item, length) = stick.pieces[piece];
        let whole = length + stick.kerf;
        let cells = match rounding {
            Rounding::Up => -(-whole).div_euclid(step),
            Rounding::Down => whole.div_euclid(step),
        };
        let mut left = i64::from(limits[item]).min(room / whole.max(1)).max(0) as u32;
        let mut count = 1;
        while left > 0 && prices[item] > 0 {
            let many = count.min(left);
            let worth = prices[item] * i64::from(many);
            bundles.push(Bundle { piece, count: many, cells: cells as usize * many as usize, worth });
            left -= many;
            count *= 2;
        }
    }
    bundles
}

/// The piece by which an item is cut: its shortest, the first of equals; `None` when it is not cut from such sticks.
pub(super) fn shortest(stick: &StickStock, item: usize) -> Option<usize> {
    let of_item = (0..stick.pieces.len()).filter(|&piece| stick.pieces[piece].0 == item);
    of_item.min_by_key(|&piece| (stick.pieces[piece].1, piece))
}

/// Lays pieces that fit side by side, in their order, and keeps the offcuts that earn most; nothing is kept of a stick
/// that is not cut.
pub(super) fn lay(stick: &StickStock, credit: Option<&Credit>, pieces: &[usize]) -> StickLayout {
    let mut layout = StickLayout::default();
    let used: i64 = pieces.iter().map(|&piece| stick.pieces[piece].1 + stick.kerf).sum();
    let kept = if pieces.is_empty() { Kept::Nothing } else { kept(stick, credit, used) };
    let mut x = stick.trim;
    if let Kept::BothEnds { left, .. } = kept {
        layout.offcuts.push((0, left));
        x = left + stick.kerf;
    }
    for &piece in pieces {
        layout.pieces.push((x, piece));
        x += stick.pieces[piece].1 + stick.kerf;
    }
    if !matches!(kept, Kept::Nothing) {
        layout.offcuts.push((x, stick.length));
    }
    layout
}

/// What is kept of a stick.
#[derive(Clone, Copy)]
enum Kept {
    Nothing,
    /// One offcut at the right end, so long.
    Right {
        length: i64,
    },
    /// An offcut `left` long at the left end, the rest of `length` at the right end.
    BothEnds {
        left: i64,
        length: i64,
    },
}

/// The offcuts that earn most beside so much used length (each piece with its kerf).
fn kept(stick: &StickStock, credit: Option<&Credit>, used: i64) -> Kept {
    let Some(credit) = credit else { return Kept::Nothing };
    let one = stick.length - stick.trim - used;
    let two = stick.length - stick.kerf - used;
    // Pieces beside an offcut at an end keep out of the trim too.
    let least = credit.min_length.max(stick.trim - stick.kerf).max(1);
    if two > one && two >= 2 * least {
        Kept::BothEnds { left: least, length: two }
    } else if one >= credit.min_length.max(1) {
        Kept::Right { length: one }
    } else {
        Kept::Nothing
    }
}

/// What the offcuts beside so much used length earn: rounded down, up.
pub(super) fn earned(stick: &StickStock, credit: Option<&Credit>, used: i64) -> (i64, i64) {
    let (Some(credit), Kept::Right { length } | Kept::BothEnds { length, .. }) = (credit, kept(stick, credit, used))
    else {
        return (0, 0);
    };
    let numerator = i128::from(length) * credit.rate_numerator;
    let floor = numerator.div_euclid(credit.rate_denominator);
    (floor as i64, (floor + i128::from(numerator.rem_euclid(credit.rate_denominator) != 0)) as i64)
}

fn gcd(a: i64, b: i64) -> i64 {
    if b == 0 { a } else { gcd(b, a % b) }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn stock(length: i64, trim: i64, kerf: i64, pieces: Vec<(usize, i64)>, credit: Option<Credit>) -> Stock {
        Stock {
            count: 1,
            cost: 0,
            credit,
            kind: Kind::Stick(StickStock { length, trim, kerf, pieces }),
            together: vec![],
            wider: None,
        }
    }

    /// Best value, times the credit's denominator, of every way to lay pieces and offcuts from `x` on, tick by tick.
    fn brute(stock: &Stock, prices: &[i64], x: i64, left: &mut Vec<u32>, cut: bool) -> Option<i128> {
        let Kind::Stick(stick) = &stock.kind else { panic!("a stick") };
        let denominator = stock.credit.as_ref().map_or(1, |c| c.rate_denominator);
        let mut best = cut.then_some(0);
        for from in x..stick.length {
            for &(item, length) in &stick.pieces {
                if from >= stick.trim && from + length <= stick.length - stick.trim && left[item] > 0 {
                    left[item] -= 1;
                    let rest = brute(stock, prices, from + length + stick.kerf, left, true);
                    best = best.max(rest.map(|rest| rest + i128::from(prices[item]) * denominator));
                    left[item] += 1;
                }
            }
            let Some(credit) = &stock.credit else { continue };
            for end in from + credit.min_length..=stick.length {
                let earned = i128::from(end - from) * credit.rate_numerator;
                best = best.max(brute(stock, prices, end + stick.kerf, left, cut).map(|rest| rest + earned));
            }
        }
        best
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(200))]

        #[test]
        fn value_and_upper_are_those_of_the_best_of_all_layouts(
            (length, trim, kerf) in (6..14i64, 0..3i64, 0..3i64),
            lengths in prop::collection::vec(2..7i64, 3),
            prices in prop::collection::vec(1..90i64, 3),
            limits in prop::collection::vec(0..4u32, 3),
            credit in prop::option::of((1..12i128, 1..4i128, 3..8i64)),
        ) {
            let credit = credit.map(|(rate_numerator, rate_denominator, min_length)|
                Credit { rate_numerator, rate_denominator, min_length, min_width: 0 });
            let denominator = credit.as_ref().map_or(1, |c| c.rate_denominator);
            let stock = stock(length, trim, kerf, lengths.into_iter().enumerate().collect(), credit);
            let found = best_within(&stock, &prices, &limits).expect("a stick");
            let truth = brute(&stock, &prices, 0, &mut limits.clone(), false).unwrap_or(0);
            prop_assert_eq!(verify(&stock, &found.layout), Ok(()));
            prop_assert!(found.counts.iter().zip(&limits).all(|(count, limit)| count <= limit));
            prop_assert_eq!(i128::from(found.value), truth.div_euclid(denominator));
            prop_assert_eq!(i128::from(found.upper), -(-truth).div_euclid(denominator));
        }
    }

    /// Lengths that share no measure but the tick are rounded, and the best lies between.
    #[test]
    fn lengths_without_a_common_measure_are_rounded_safely() {
        let stock = stock(200_000_003, 17, 254_000, vec![(0, 39_999_991), (1, 21_500_017)], None);
        let found = best(&stock, &[186, 100]).expect("a stick");
        assert_eq!(verify(&stock, &found.layout), Ok(()));
        // Room 200 253 969 for pieces of 40 253 991 and 21 754 017: by hand 4 + 1 = 844, 3 + 3 = 858, 2 + 5 = 872, 1 + 7 = 886, 0 + 9 = 900.
        assert_eq!((found.value, found.upper), (900, 900));
    }

    /// Common practice: the kerf is paid between pieces, not after the last.
    #[test]
    fn a_stick_of_18_gives_16_pieces_of_1_with_an_eighth_kerf() {
        let stock = stock(144, 0, 1, vec![(0, 8)], None);
        assert_eq!(best(&stock, &[1]).expect("a stick").counts, [16]);
    }
}
