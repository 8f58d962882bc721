//! What many lots say together: the quantity that suffices in a share of them, and how sure that is.
//!
//! Pure statistics on sorted quantities. The figure for a share p is the order statistic of rank ceil(p n); its interval
//! goes from the rank l to the rank u whose binomial probability of lying around the true p-quantile is at least the level asked
//! (the distribution-free interval; David and Nagaraja, Order Statistics, section 7.1). No shape of distribution is
//! assumed.

/// How likely the interval of a figure holds the true one, at least.
pub const LEVEL: f64 = 0.95;

/// A quantity that suffices in a share of the lots.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize, schemars::JsonSchema)]
#[schemars(rename = "OrderFigure")]
pub struct Figure {
    /// The share of lots, 0 to 1.
    pub share: f64,
    /// Board feet; none when more than the rest of the lots were never enough.
    pub board_feet: Option<f64>,
    /// The ends of its interval; the upper end is missing where the lots are too few to give one.
    pub from: Option<f64>,
    pub to: Option<f64>,
}

/// The figure for `share`, from quantities in ascending order; lots that were never enough come last, as `None`.
pub fn figure(sorted: &[Option<f64>], share: f64) -> Figure {
    let (lower, upper) = ranks(sorted.len(), share);
    let at = |rank: usize| rank.checked_sub(1).and_then(|index| sorted.get(index).copied().flatten());
    let rank = ((share * sorted.len() as f64 - 1e-9).ceil() as usize).max(1);
    Figure { share, board_feet: at(rank), from: at(lower), to: at(upper) }
}

/// The ranks (from 1) of the interval's ends: as close around the middle as the level allows. Rank 0 and rank n + 1 stand
/// for "no such lot".
pub fn ranks(n: usize, share: f64) -> (usize, usize) {
    let below = cumulative(n, share);
    // P(X_(l) <= quantile < X_(u)) = P(l <= B < u) with B binomial(n, share).
    let tail = (1.0 - LEVEL) / 2.0;
    let lower = (0..=n).take_while(|&l| l == 0 || below[l - 1] <= tail).last().unwrap_or(0);
    let upper = (0..=n + 1).find(|&u| u > 0 && below[u - 1] >= 1.0 - tail).unwrap_or(n + 1);
    (lower, upper)
}

/// `P(B <= k)` for k from 0 to n.
fn cumulative(n: usize, share: f64) -> Vec<f64> {
    let mut sum = 0.0;
    let mut log = n as f64 * (1.0 - share).max(f64::MIN_POSITIVE).ln();
    let odds = (share / (1.0 - share).max(f64::MIN_POSITIVE)).ln();
    (0..=n)
        .map(|k| {
            sum += log.exp();
            log += ((n - k) as f64 / (k + 1) as f64).ln() + odds;
            sum.min(1.0)
        })
        .collect()
}

/// One bar of a histogram.
#[derive(Clone, Copy, Debug, PartialEq, serde::Serialize, schemars::JsonSchema)]
#[schemars(rename = "OrderBar")]
pub struct Bar {
    /// From, including.
    pub from: f64,
    /// To; including in the last bar only.
    pub to: f64,
    pub lots: usize,
}

/// Bars of one round width over all values; none without values.
pub fn histogram(values: &[f64], most_bars: usize) -> Vec<Bar> {
    let (Some(low), Some(high)) = (values.iter().copied().reduce(f64::min), values.iter().copied().reduce(f64::max))
    else {
        return Vec::new();
    };
    let width = round_width((high - low) / most_bars.max(1) as f64);
    let start = (low / width + 1e-9).floor();
    let count = ((high / width - 1e-9).ceil() - start).max(1.0) as usize;
    let mut bars: Vec<Bar> = (0..count)
        .map(|i| Bar { from: (start + i as f64) * width, to: (start + i as f64 + 1.0) * width, lots: 0 })
        .collect();
    for value in values {
        let at = ((value / width + 1e-9).floor() - start).max(0.0) as usize;
        bars[at.min(count - 1)].lots += 1;
    }
    bars
}

/// 1, 2 or 5 times a power of ten, at least `least`.
fn round_width(least: f64) -> f64 {
    if least <= 0.0 {
        return 1.0;
    }
    let power = 10f64.powf(least.log10().floor());
    [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .map(|n| n * power)
        .find(|&width| width >= least * (1.0 - 1e-9))
        .unwrap_or(10.0 * power)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By arithmetic: with n = 16 and p = 3/4, P(B = 16) = 0.75^16 = 0.0100 and P(B = 15) = 16 x 0.75^15 / 4 = 0.0535; the tail up
    /// to 8 is 0.0271 in the usual tables.
    #[test]
    fn binomial_tails_are_those_of_arithmetic() {
        let below = cumulative(16, 0.75);
        assert!((below[8] - 0.0271).abs() < 5e-5, "{}", below[8]);
        assert!((below[14] - 0.9365).abs() < 5e-5, "{}", below[14]);
        assert!((below[15] - 0.9900).abs() < 5e-5, "{}", below[15]);
    }

    #[test]
    fn the_interval_of_a_median_of_ten_is_the_second_and_ninth() {
        // Binomial(10, 1/2): P(B <= 1) = 11/1024 = 0.0107, P(B <= 8) = 1013/1024; 97.9 % between them.
        assert_eq!(ranks(10, 0.5), (2, 9));
    }

    #[test]
    fn too_few_lots_have_no_upper_end() {
        let sorted: Vec<Option<f64>> = (1..=20).map(|n| Some(f64::from(n))).collect();
        let figure = figure(&sorted, 0.95);
        assert_eq!((figure.board_feet, figure.to), (Some(19.0), None));
    }

    #[test]
    fn bars_have_round_edges_and_hold_everything() {
        let bars = histogram(&[0.51, 0.62, 0.6, 0.7], 4);
        assert_eq!(bars.iter().map(|bar| bar.lots).sum::<usize>(), 4);
        assert!((bars[0].from - 0.5).abs() < 1e-9 && bars.len() <= 5);
        assert_eq!(histogram(&[0.75; 3], 10).len(), 1);
        assert!(histogram(&[], 10).is_empty());
    }
}
