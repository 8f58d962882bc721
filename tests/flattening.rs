//! What flattening costs, against geometry: the worked examples, and a numeric fit of flat slabs into sampled warped
//! boards that shares no formula with the library.
//!
//! The fit: sample the height of a piece's face on a grid, and find the plane whose greatest height under the face less
//! its least is smallest. A piece of even thickness T then holds a flat slab T less that span thick. Heights are small
//! beside lengths, so thickness is measured straight up.

use flitchwork::measure::{Length, Rational, Units};
use flitchwork::trade::warp::{
    Face, FaceWarp, bow_of_piece, crook_loss, cup_of_piece, flattening_loss, twist_of_piece,
};
use num_bigint::BigInt;
use num_traits::ToPrimitive;
use proptest::prelude::*;

fn inches(text: &str) -> Length {
    Length::parse(text, Units::Inches).unwrap()
}

/// Exact ticks of a length.
fn ticks(text: &str) -> Rational {
    Rational::from_integer(BigInt::from(inches(text).ticks()))
}

fn even() -> Rational {
    Rational::from_integer(BigInt::from(1))
}

fn face(length: &str, width: &str) -> Face {
    Face { length: inches(length), width: inches(width) }
}

// The worked examples: constructed from the scaling of an arc, s = L^2/(8R), and of an even twist.

#[test]
fn a_quarter_of_a_bowed_board_keeps_a_sixteenth_of_the_bow() {
    assert_eq!(bow_of_piece(inches("1/2"), inches("24"), inches("96")), ticks("1/32"));
    assert_eq!(crook_loss(inches("1/2"), inches("24"), inches("96")), ticks("1/32"));
}

#[test]
fn half_a_cupped_board_keeps_a_quarter_of_the_cup_and_a_third_a_ninth() {
    assert_eq!(cup_of_piece(inches("1/4"), inches("4"), inches("8")), ticks("1/16"));
    let third = cup_of_piece(inches("0.27"), inches("2.5"), inches("7.5"));
    assert_eq!(third, ticks("0.03"));
}

#[test]
fn a_third_of_the_length_and_half_the_width_keep_a_sixth_of_the_twist() {
    let left = twist_of_piece(inches("0.48"), face("32", "4"), face("96", "8"));
    assert_eq!(left, ticks("0.08"));
}

#[test]
fn flattening_a_cupped_inch_board_whole_leaves_seven_eighths_and_ripped_first_thirty_one_thirty_seconds() {
    let cupped = FaceWarp { cup: inches("1/8"), ..FaceWarp::default() };
    let board = face("96", "8");
    assert_eq!(ticks("1") - flattening_loss(cupped, board, board, &even()), ticks("7/8"));
    assert_eq!(ticks("1") - flattening_loss(cupped, face("96", "4"), board, &even()), ticks("31/32"));
}

#[test]
fn the_loss_is_the_sum_of_the_three_times_the_factor() {
    let warp = FaceWarp { bow: inches("1/2"), cup: inches("1/8"), twist: inches("1/2") };
    let board = face("96", "8");
    let factor = Rational::new(BigInt::from(5), BigInt::from(4));
    let expected = &factor * (ticks("1/8") + ticks("1/32") + ticks("1/16"));
    assert_eq!(flattening_loss(warp, face("48", "4"), board, &factor), expected);
}

/// A warped board and a piece somewhere in it, inches.
#[derive(Clone, Debug)]
struct Case {
    board: (f64, f64),
    piece: (f64, f64),
    corner: (f64, f64),
    /// Bow, cup and twist, either way round.
    warp: (f64, f64, f64),
}

impl Case {
    /// Height of the face at a point of the board: two parabolas and an even twist, as a board is measured.
    fn height(&self, x: f64, y: f64) -> f64 {
        let (length, width) = self.board;
        let (bow, cup, twist) = self.warp;
        let along = 2.0 * x / length - 1.0;
        let across = 2.0 * y / width - 1.0;
        bow * (1.0 - along * along) + cup * (1.0 - across * across) + twist * (x / length) * (y / width)
    }

    /// The span between the two closest parallel planes that hold the piece's face.
    fn fitted_span(&self) -> f64 {
        // Odd, so that the ends and the middle, where an arc stands farthest from a plane, are among the samples.
        const SAMPLES: usize = 9;
        let steps = || (0..SAMPLES).map(|i| i as f64 / (SAMPLES - 1) as f64);
        let samples: Vec<(f64, f64, f64)> = steps()
            .flat_map(|u| steps().map(move |v| (u, v)))
            .map(|(u, v)| (u, v, self.height(self.corner.0 + u * self.piece.0, self.corner.1 + v * self.piece.1)))
            .collect();
        let span = |along: f64, across: f64| {
            let over = samples.iter().map(|(u, v, z)| z - along * u - across * v);
            let (low, high) = over.fold((f64::MAX, f64::MIN), |(low, high), z| (low.min(z), high.max(z)));
            high - low
        };
        // The span is convex in the plane's slopes, and no slope of the face exceeds this.
        let steepest = 4.0 * (self.warp.0.abs() + self.warp.1.abs() + self.warp.2.abs());
        least(steepest, |along| least(steepest, |across| span(along, across)))
    }

    /// What the library says, inches.
    fn stated_loss(&self) -> f64 {
        let inches = |value: f64| Length::from_json_f64(value, Units::Inches).unwrap();
        let face = |(length, width)| Face { length: inches(length), width: inches(width) };
        let (bow, cup, twist) = self.warp;
        let warp = FaceWarp { bow: inches(bow.abs()), cup: inches(cup.abs()), twist: inches(twist.abs()) };
        let ticks = flattening_loss(warp, face(self.piece), face(self.board), &even());
        ticks.to_f64().unwrap() / Length::PER_INCH as f64
    }

    /// How far the search for the plane and the rounding to ticks may be off, inches.
    fn tolerance(&self) -> f64 {
        1e-6 + 1e-6 * (self.warp.0.abs() + self.warp.1.abs() + self.warp.2.abs())
    }
}

/// The least value of a convex function within `reach` of zero, by thirds.
fn least(reach: f64, value: impl Fn(f64) -> f64) -> f64 {
    let (mut low, mut high) = (-reach, reach);
    for _ in 0..50 {
        let third = (high - low) / 3.0;
        if value(low + third) <= value(high - third) { high -= third } else { low += third }
    }
    value(0.5 * (low + high))
}

/// Boards of a shop's sizes with a piece anywhere in them.
fn cases() -> impl Strategy<Value = Case> {
    let share = || 0.05_f64..=1.0;
    let place = || 0.0_f64..=1.0;
    let gap = || -1.0_f64..=1.0;
    ((24.0_f64..=168.0, 3.0_f64..=14.0), (share(), share()), (place(), place()), (gap(), gap(), gap())).prop_map(
        |(board, share, place, warp)| {
            let piece = (board.0 * share.0, board.1 * share.1);
            let corner = ((board.0 - piece.0) * place.0, (board.1 - piece.1) * place.1);
            Case { board, piece, corner, warp }
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn bow_cup_or_twist_alone_costs_what_the_slab_fit_finds(case in cases(), which in 0..3) {
        let (bow, cup, twist) = case.warp;
        let warp = [(bow, 0.0, 0.0), (0.0, cup, 0.0), (0.0, 0.0, twist)][which as usize];
        let case = Case { warp, ..case };
        let (stated, fitted) = (case.stated_loss(), case.fitted_span());
        prop_assert!((stated - fitted).abs() <= case.tolerance(), "stated {stated}, fitted {fitted}");
    }

    #[test]
    fn warp_of_every_kind_together_never_costs_more_than_stated(case in cases()) {
        let (stated, fitted) = (case.stated_loss(), case.fitted_span());
        prop_assert!(fitted <= stated + case.tolerance(), "stated {stated}, fitted {fitted}");
    }
}
