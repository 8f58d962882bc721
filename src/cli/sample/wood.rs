//! The boards of a sample: random widths and lengths, grades, defects, warp and prices.
//!
//! The share of a board's surface that is defective follows its grade: 1.2 % for FAS, 6.8 % for No. 1 Common and 9.8 %
//! for No. 2A Common on average (Wiedenbeck, Gatchell and Walker 1995, on red oak boards, abstract). The spread about the
//! average, the kinds and sizes of defects, warp and prices are invented to look like an everyday delivery.

use crate::measure::{Length, Money, Units};
use crate::pile::scatter;
use crate::pile::{Board, Defect, DefectFace, DefectKind, Nominal, Price, Rings, Surfaced, Warp};

use super::furniture::Wood;
use super::on_grid;
use crate::measure::dice::{Dice, eighths, thirty_seconds};

/// So many boards of one wood.
pub struct Lot {
    pub wood: Wood,
    pub boards: u32,
}

/// A grade as invoiced.
struct Grade {
    name: &'static str,
    /// Average share of the surface that is defective, thousandths.
    defective: i64,
    /// Least and greatest width, eighths of an inch.
    width: (i64, i64),
    /// Least and greatest length, feet.
    length: (i64, i64),
    /// Price against FAS, percent.
    price: i64,
}

const FAS: Grade = Grade { name: "FAS", defective: 12, width: (48, 88), length: (8, 13), price: 100 };
const ONE_COMMON: Grade = Grade { name: "1C", defective: 68, width: (36, 76), length: (6, 12), price: 68 };
const TWO_COMMON: Grade = Grade { name: "2A", defective: 98, width: (32, 68), length: (5, 11), price: 45 };

/// The boards of all lots, in the mixed order in which a stack is taken down.
pub fn boards(dice: &mut Dice, lots: &[Lot], units: Units) -> Vec<Board> {
    let mut woods: Vec<Wood> = lots.iter().flat_map(|lot| (0..lot.boards).map(|_| lot.wood)).collect();
    dice.shuffle(&mut woods);
    let digits = woods.len().to_string().len().max(2);
    woods.iter().enumerate().map(|(at, wood)| board(dice, wood, &format!("{:0digits$}", at + 1), units)).collect()
}

fn board(dice: &mut Dice, wood: &Wood, number: &str, units: Units) -> Board {
    let grade = match dice.roll(1, 100) {
        1..=45 => &FAS,
        46..=85 => &ONE_COMMON,
        _ => &TWO_COMMON,
    };
    let width = on_grid(eighths(dice.middling(grade.width.0, grade.width.1)), units);
    // Yards leave the fraction of a foot on; so does a board cut to a whole number of feet.
    let length = on_grid(eighths(dice.middling(grade.length.0, grade.length.1) * 96 + dice.roll(0, 40)), units);
    let rings = match dice.roll(1, 10) {
        1..=7 => Rings::Flat,
        8..=9 => Rings::Rift,
        _ => Rings::Quarter,
    };
    Board {
        id: format!("{}{number}", wood.species.chars().next().map_or('B', |first| first.to_ascii_uppercase())),
        species: wood.species.to_owned(),
        nominal: Some(Nominal { numerator: wood.quarters, denominator: 4 }),
        thickness: on_grid(thickness(dice, wood), units),
        width,
        length,
        grade: Some(grade.name.to_owned()),
        surfaced: Surfaced::Rough,
        rings: Some(rings),
        heart: None,
        price: Price::BoardFoot(price(wood, grade)),
        board_feet: None,
        surface_measure: None,
        moisture: Some(7.0),
        warp: warp(dice, units),
        defects: defects(dice, grade, length, width, units),
        quantity: 1,
    }
}

/// Rough thickness: from 1/32 in (1/16 in for 2 in stock) under the nominal to 1/16 in over it.
fn thickness(dice: &mut Dice, wood: &Wood) -> Length {
    let nominal = i64::from(wood.quarters) * 8;
    let scant = if wood.quarters >= 8 { 2 } else { 1 };
    thirty_seconds(nominal + dice.roll(-scant, 2))
}

/// Gaps over the whole board: mostly little, now and then 3/8 in of bow.
fn warp(dice: &mut Dice, units: Units) -> Warp {
    let mut gap = |most: i64| on_grid(thirty_seconds(dice.low(0, most)), units);
    Warp { bow: gap(12), crook: gap(8), cup: gap(4), twist: gap(8) }
}

/// An invented price a board foot: by species, dearer when thicker, cheaper when poorer.
fn price(wood: &Wood, grade: &Grade) -> Money {
    let cents = match wood.species {
        "walnut" => 1340,
        "cherry" => 960,
        "white oak" => 1080,
        "hard maple" => 780,
        "ash" => 640,
        "soft maple" => 520,
        _ => 410,
    };
    let thicker = 100 + 6 * (i64::from(wood.quarters) - 4);
    Money::from_micros((cents * thicker * grade.price + 50_000) / 100_000 * 100_000)
}

/// Defects of `grade` on a board, until they cover the share drawn for it; sorted along the board.
fn defects(dice: &mut Dice, grade: &Grade, length: Length, width: Length, units: Units) -> Vec<Defect> {
    let target = (length * width).square_ticks() * i128::from(dice.middling(0, 2 * grade.defective)) / 1000;
    scatter::covering(target, || defect(dice, length, width, units))
}

/// One defect of a kind drawn by how common it is.
fn defect(dice: &mut Dice, length: Length, width: Length, units: Units) -> Defect {
    use DefectKind::{Bark, Check, Hole, Knot, Pith, Sap, Split, Stain, Wane};
    // Kind, length and width in eighths of an inch.
    let (kind, long, wide) = match dice.roll(1, 100) {
        1..=42 => (Knot, dice.roll(6, 28), dice.roll(5, 18)),
        43..=56 => (Check, dice.roll(24, 80), dice.roll(2, 5)),
        57..=62 => (Split, dice.roll(32, 96), dice.roll(2, 4)),
        63..=75 => (Wane, dice.roll(64, 240), dice.roll(3, 9)),
        76..=84 => (Sap, dice.roll(80, 320), dice.roll(4, 10)),
        85..=90 => (Bark, dice.roll(6, 20), dice.roll(3, 8)),
        91..=94 => (Hole, dice.roll(2, 6), dice.roll(2, 4)),
        95..=97 => (Pith, dice.roll(60, 200), dice.roll(3, 6)),
        _ => (Stain, dice.roll(20, 80), dice.roll(8, 24)),
    };
    let long = on_grid(eighths(long), units).min(length);
    let wide = on_grid(eighths(wide), units).min(width);
    let (x, y) = scatter::place(dice, kind, (long, wide), (length, width), |at| on_grid(at, units));
    let face = match kind {
        Wane | Stain | Check => *dice.pick(&[DefectFace::Top, DefectFace::Bottom]),
        Sap | Knot | Bark => *dice.pick(&[DefectFace::Through, DefectFace::Through, DefectFace::Top]),
        _ => DefectFace::Through,
    };
    let sound = matches!(kind, Sap | Stain) || kind == Knot && dice.chance(35);
    Defect { kind, x, y, length: long, width: wide, face, sound }
}
