//! The search held against full enumeration on tiny boards, and a pinwheel that no saw could cut.

use proptest::prelude::*;

use super::{Effort, Found, best};
use crate::grade::field::{Field, Least, Rect};

const PLENTY: Effort = Effort { goal: i128::MAX, decide: false, steps: 50_000_000 };

fn rect(x1: i64, y1: i64, x2: i64, y2: i64) -> Rect {
    Rect { x1, y1, x2, y2 }
}

/// The greatest area of at most `most` disjoint rectangles with whole coordinates, by trying them all.
fn enumerated(length: i64, width: i64, blocked: &[Rect], least: &Least, most: u32) -> i128 {
    let mut all = Vec::new();
    for x1 in 0..length {
        for x2 in x1 + 1..=length {
            for y1 in 0..width {
                for y2 in y1 + 1..=width {
                    let one = rect(x1, y1, x2, y2);
                    if least.allows(&one) && !blocked.iter().any(|other| other.meets(&one)) {
                        all.push(one);
                    }
                }
            }
        }
    }
    fn take(all: &[Rect], taken: &mut Vec<Rect>, from: usize, more: u32) -> i128 {
        let area: i128 = taken.iter().map(Rect::area).sum();
        if more == 0 {
            return area;
        }
        (from..all.len()).fold(area, |best, next| {
            if taken.iter().any(|one| one.meets(&all[next])) {
                return best;
            }
            taken.push(all[next]);
            let found = take(all, taken, next + 1, more - 1);
            taken.pop();
            best.max(found)
        })
    }
    take(&all, &mut Vec::new(), 0, most)
}

fn lawful(found: &Found, blocked: &[Rect], least: &Least, most: u32) {
    assert!(found.cuttings.len() <= most as usize);
    assert_eq!(found.area, found.cuttings.iter().map(Rect::area).sum::<i128>());
    for (i, one) in found.cuttings.iter().enumerate() {
        assert!(least.allows(one) && !blocked.iter().any(|other| other.meets(one)), "{one:?}");
        assert!(found.cuttings[..i].iter().all(|other| !other.meets(one)), "{found:?}");
    }
}

fn boards() -> impl Strategy<Value = (i64, i64, Vec<Rect>)> {
    (3..7i64, 2..5i64).prop_flat_map(|(length, width)| {
        let defect = (0..length, 0..width, 1..3i64, 1..3i64)
            .prop_map(move |(x, y, l, w)| rect(x, y, (x + l).min(length), (y + w).min(width)));
        proptest::collection::vec(defect, 0..5).prop_map(move |defects| (length, width, defects))
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn the_cuttings_found_are_as_good_as_any_that_can_be_enumerated(
        (length, width, blocked) in boards(),
        (long, wide, most) in (1..4i64, 1..4i64, 1..4u32),
    ) {
        let least = Least { pairs: vec![(wide, 2), (1, long + 1)], area: 0 };
        let found = best(&Field::new(length, width, blocked.clone()), &least, Some(most), PLENTY);
        lawful(&found, &blocked, &least, most);
        let truth = enumerated(length, width, &blocked, &least, most);
        prop_assert_eq!((found.area, found.upper), (truth, truth));
    }

    #[test]
    fn a_search_that_is_cut_short_still_bounds_the_best(
        (length, width, blocked) in boards(),
        (steps, most) in (1..400u64, 1..4u32),
    ) {
        let least = Least { pairs: vec![(1, 2), (2, 1)], area: 0 };
        let found = best(&Field::new(length, width, blocked.clone()), &least, Some(most), Effort { steps, ..PLENTY });
        lawful(&found, &blocked, &least, most);
        let truth = enumerated(length, width, &blocked, &least, most);
        prop_assert!(found.area <= truth && truth <= found.upper, "{:?} {}", found, truth);
    }

    #[test]
    fn any_number_of_cuttings_is_bounded_by_the_clear_wood((length, width, blocked) in boards()) {
        let least = Least { pairs: vec![(1, 2)], area: 0 };
        let field = Field::new(length, width, blocked.clone());
        let found = best(&field, &least, None, PLENTY);
        lawful(&found, &blocked, &least, 64);
        prop_assert!(enumerated(length, width, &blocked, &least, 2) <= found.upper);
    }
}

/// Four cuttings around a knot, each ending at the side of the next: no saw line runs through, and all 24 of 25 are used.
#[test]
fn cuttings_may_lie_where_no_saw_could_part_them() {
    let blocked = [rect(2, 2, 3, 3)];
    let least = Least { pairs: vec![(2, 3), (3, 2)], area: 0 };
    let found = best(&Field::new(5, 5, blocked), &least, Some(4), PLENTY);
    lawful(&found, &blocked, &least, 4);
    assert_eq!((found.area, found.upper), (24, 24));
}

/// One cutting right across parts the room of two others; the room serves both.
#[test]
fn one_clear_strip_may_hold_two_cuttings() {
    let blocked = [rect(0, 1, 4, 2), rect(6, 1, 10, 2)];
    let least = Least { pairs: vec![(1, 2)], area: 0 };
    let found = best(&Field::new(10, 2, blocked), &least, Some(3), PLENTY);
    assert_eq!((found.area, found.upper), (12, 12));
}
