//! Finding room for labels: boxes that may not overlap, and rows of labels spread along a line.
//!
//! Knows boxes and nothing of what is written in them.

use super::model::Frame;

/// The boxes already taken.
#[derive(Default)]
pub(crate) struct Placer {
    taken: Vec<Frame>,
    /// What a label should rather not hide.
    shy: Vec<Frame>,
}

impl Placer {
    /// True when nothing taken overlaps the box.
    pub fn is_free(&self, frame: &Frame) -> bool {
        self.taken.iter().all(|other| !other.overlaps(frame))
    }

    /// True when the box is free and hides nothing that should rather be seen.
    pub fn is_clear(&self, frame: &Frame) -> bool {
        self.is_free(frame) && self.shy.iter().all(|other| !other.overlaps(frame))
    }

    /// Asks labels not to hide the box as long as there is room elsewhere.
    pub fn spare(&mut self, frame: Frame) {
        self.shy.push(frame);
    }

    /// Takes the box.
    pub fn take(&mut self, frame: Frame) {
        self.taken.push(frame);
    }
}

/// Labels of these sizes, wished for at these centres along a line, moved apart as little as their order allows so that
/// neighbours keep `gap` and all stay within `low..high`. Wishes must ascend. `None` when they cannot all fit.
///
/// The result is the mean of the arrangement that only moves labels up and the one that only moves them down, which
/// keeps every gap since both do. O(n).
pub(crate) fn spread(wishes: &[f64], sizes: &[f64], gap: f64, low: f64, high: f64) -> Option<Vec<f64>> {
    let needed: f64 = sizes.iter().sum::<f64>() + gap * sizes.len().saturating_sub(1) as f64;
    if needed > high - low {
        return None;
    }
    let apart = |i: usize| (sizes[i] + sizes[i + 1]) / 2.0 + gap;
    let confine = |places: &mut [f64]| {
        let n = places.len();
        for i in 0..n {
            let floor = if i == 0 { low + sizes[0] / 2.0 } else { places[i - 1] + apart(i - 1) };
            places[i] = places[i].max(floor);
        }
        for i in (0..n).rev() {
            let ceiling = if i + 1 == n { high - sizes[i] / 2.0 } else { places[i + 1] - apart(i) };
            places[i] = places[i].min(ceiling);
        }
    };
    let mut up = wishes.to_vec();
    confine(&mut up);
    let mut down = wishes.to_vec();
    for i in (0..down.len().saturating_sub(1)).rev() {
        down[i] = down[i].min(down[i + 1] - apart(i));
    }
    confine(&mut down);
    Some(up.iter().zip(&down).map(|(a, b)| (a + b) / 2.0).collect())
}

/// As [`spread`], over as many rows as it takes: the n-th label goes to row n modulo the number of rows, and no two
/// labels of any rows get the same place, so that lines drawn to them fan out. Returns the place and the row of each, and
/// the number of rows.
pub(crate) fn spread_in_rows(
    wishes: &[f64],
    sizes: &[f64],
    gap: f64,
    low: f64,
    high: f64,
) -> (Vec<(f64, usize)>, usize) {
    let count = wishes.len();
    for rows in 1..=count {
        let share = 1.0 / rows as f64;
        let shares: Vec<f64> = sizes.iter().map(|size| size * share).collect();
        let widest = sizes.iter().copied().fold(0.0, f64::max);
        let room = widest * (1.0 - share) / 2.0;
        let Some(places) = spread(wishes, &shares, gap * share, low + room, high - room) else { continue };
        let apart = (rows..count).all(|i| {
            let before = i - rows;
            places[i] - places[before] >= (sizes[i] + sizes[before]) / 2.0 + gap * 0.5
        });
        if apart {
            return (places.into_iter().enumerate().map(|(i, place)| (place, i % rows)).collect(), rows);
        }
    }
    // Labels wider than the line: one a row, each centred on it.
    ((0..count).map(|row| ((low + high) / 2.0, row)).collect(), count.max(1))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn labels_with_room_stay_where_they_are_wished() {
        assert_eq!(spread(&[10.0, 30.0], &[4.0, 4.0], 1.0, 0.0, 40.0), Some(vec![10.0, 30.0]));
    }

    #[test]
    fn crowded_labels_move_apart_evenly() {
        assert_eq!(spread(&[20.0, 20.0], &[4.0, 4.0], 1.0, 0.0, 40.0), Some(vec![17.5, 22.5]));
    }

    #[test]
    fn labels_wished_for_at_one_place_go_to_rows_and_never_stand_straight_above_each_other() {
        let (places, rows) = spread_in_rows(&[50.0; 12], &[10.0; 12], 1.0, 0.0, 100.0);
        assert_eq!(rows, 2);
        for (i, (a, row)) in places.iter().enumerate() {
            for (b, other) in &places[i + 1..] {
                assert!((a - b).abs() > 1.0);
                assert!(row != other || (a - b).abs() >= 10.5);
            }
        }
    }

    proptest! {
        #[test]
        fn spread_labels_keep_their_order_gaps_and_limits(
            mut wishes in prop::collection::vec(-10.0..110.0f64, 1..20),
            size in 1.0..4.0f64,
        ) {
            wishes.sort_by(f64::total_cmp);
            let sizes = vec![size; wishes.len()];
            let places = spread(&wishes, &sizes, 0.5, 0.0, 100.0).expect("20 labels of 4 fit in 100");
            for pair in places.windows(2) {
                prop_assert!(pair[1] - pair[0] >= size + 0.5 - 1e-9);
            }
            prop_assert!(places[0] >= size / 2.0 - 1e-9);
            prop_assert!(places[places.len() - 1] <= 100.0 - size / 2.0 + 1e-9);
        }
    }
}
