//! Random boards as a yard sends them: endless, each of a stated grade, from a stated distribution.
//!
//! Without past boards: the size is drawn first, from the table below, then marks and warp are drawn again and again (an eighth fewer
//! marks after a board too poor, an eighth more after one too good) until the grader finds exactly the grade asked for, no
//! better and no worse, so sizes are distributed as the table says and every board truly has its grade. With past boards: any of them, each as likely as the other, as often as it comes (a
//! bootstrap; Efron 1979). A stream is a pure function of its seed.
//!
//! The average share of a face that is defective is 1.2 % for FAS, 6.8 % for No. 1 Common and 9.8 % for No. 2A Common
//! (Wiedenbeck, Gatchell and Walker 1995, on red oak boards, abstract); F1F and Selects are put between. Sizes, the spread
//! about the average, kinds of marks and warp are common practice: a shop's own past boards say more.

use crate::grade::{GradeOptions, Standing, standing};
use crate::measure::dice::{Dice, eighths, thirty_seconds};
use crate::measure::{Length, Money, Rational};
use crate::pile::scatter;
use crate::pile::value::billing_thickness;
use crate::pile::{Board, Defect, DefectFace, DefectKind, Nominal, Price, Rings, Surfaced, Warp};
use crate::trade::grades::Grade;
use crate::trade::tally::{self, HalfTurn};
use crate::trade::thickness;

/// The sizes and marks of one grade's boards. Widths and feet are the mean of two even draws, rounded down: likeliest in
/// the middle.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct GradeBoards {
    pub grade: Grade,
    /// Least and greatest width, eighths of an inch.
    pub width: (i64, i64),
    /// Least and greatest length, whole feet; up to 5 in more, evenly, are left on.
    pub feet: (i64, i64),
    /// Average share of the surface that is marked, before boards of another grade are thrown out; thousandths.
    pub defective: i64,
}

/// What is known of each grade that can be made up.
pub const TABLE: [GradeBoards; 5] = [
    GradeBoards { grade: Grade::Fas, width: (48, 96), feet: (8, 14), defective: 12 },
    GradeBoards { grade: Grade::F1f, width: (48, 96), feet: (8, 14), defective: 30 },
    GradeBoards { grade: Grade::Selects, width: (32, 45), feet: (6, 12), defective: 20 },
    GradeBoards { grade: Grade::No1Common, width: (32, 80), feet: (6, 12), defective: 68 },
    GradeBoards { grade: Grade::No2aCommon, width: (28, 72), feet: (5, 12), defective: 98 },
];

/// Eighths of an inch left on beyond whole feet, at most.
pub const OVERLENGTH: i64 = 40;

/// Draws of marks for one size before the size itself is drawn again.
const DRAWS: usize = 2000;

/// Steps of the grader for one drawn board; one it leaves unsettled is thrown out.
const STEPS: u64 = 20_000;

/// Where boards come from.
#[derive(Clone, Debug)]
pub enum Source {
    /// Made up by the table.
    Table(GradeBoards, Nominal),
    /// Past boards of the shop; never empty.
    Past(Vec<Board>),
}

impl Source {
    /// The table's boards of a grade; `None` where it has none.
    pub fn of_grade(grade: Grade, nominal: Nominal) -> Option<Source> {
        TABLE.iter().find(|row| row.grade == grade).map(|row| Source::Table(*row, nominal))
    }
}

/// One board of a stream, and what it is billed at.
#[derive(Clone, Debug)]
pub struct Drawn {
    pub board: Board,
    /// Board feet by the hardwood tally, halves in turn along the stream.
    pub board_feet: Rational,
}

/// An endless delivery.
pub struct Stream<'a> {
    source: &'a Source,
    species: &'a str,
    dice: Dice,
    turn: HalfTurn,
    count: usize,
}

impl<'a> Stream<'a> {
    /// The delivery of this seed.
    pub fn new(source: &'a Source, species: &'a str, seed: u64) -> Stream<'a> {
        Stream { source, species, dice: Dice::new(seed), turn: HalfTurn::new(), count: 0 }
    }
}

impl Iterator for Stream<'_> {
    type Item = Drawn;

    fn next(&mut self) -> Option<Drawn> {
        self.count += 1;
        let mut board = match self.source {
            Source::Table(row, nominal) => made_up(&mut self.dice, row, *nominal),
            Source::Past(boards) => Board { quantity: 1, ..self.dice.pick(boards).clone() },
        };
        board.id = format!("{}", self.count);
        board.species = self.species.to_owned();
        let measure = tally::surface_measure(board.width, board.length, &mut self.turn);
        let board_feet = tally::hardwood_board_feet(&measure, &billing_thickness(&board));
        board.board_feet = Some(board_feet.clone());
        Some(Drawn { board, board_feet })
    }
}

fn made_up(dice: &mut Dice, row: &GradeBoards, nominal: Nominal) -> Board {
    let options = GradeOptions { steps: STEPS, best_cuttings: false };
    loop {
        let width = eighths(dice.middling(row.width.0, row.width.1));
        let length = eighths(dice.middling(row.feet.0, row.feet.1) * 96 + dice.roll(0, OVERLENGTH));
        let measure = tally::surface_measure(width, length, &mut HalfTurn::new()).to_integer();
        let measure = measure.try_into().unwrap_or(u32::MAX);
        let mut defective = row.defective;
        for _ in 0..DRAWS {
            let drawn = GradeBoards { defective, ..*row };
            let board = draw(dice, &drawn, nominal, (width, length));
            match standing(&board, measure, row.grade, &options) {
                Standing::Exactly => return board,
                Standing::Below => defective -= defective / 8,
                Standing::Above => defective += defective / 8 + 1,
                Standing::Unsettled => {}
            }
        }
    }
}

fn draw(dice: &mut Dice, row: &GradeBoards, nominal: Nominal, (width, length): (Length, Length)) -> Board {
    let mut gap = |most: i64| thirty_seconds(dice.low(0, most));
    let warp = Warp { bow: gap(12), crook: gap(8), cup: gap(4), twist: gap(8) };
    // Common practice: seven boards in ten are flat sawn, two rift, one quartered.
    let rings = match dice.roll(1, 10) {
        1..=7 => Rings::Flat,
        8..=9 => Rings::Rift,
        _ => Rings::Quarter,
    };
    Board {
        id: String::new(),
        species: String::new(),
        nominal: Some(nominal),
        thickness: thick(dice, nominal),
        width,
        length,
        grade: Some(row.grade.name().to_owned()),
        surfaced: Surfaced::Rough,
        rings: Some(rings),
        heart: None,
        price: Price::BoardFoot(Money::from_micros(Money::MICROS)),
        board_feet: None,
        surface_measure: None,
        moisture: Some(7.0),
        warp,
        defects: marks(dice, row, (width, length)),
        quantity: 1,
    }
}

/// From the kiln-dried minimum to 1/16 in over the nominal, evenly in thirty-seconds.
fn thick(dice: &mut Dice, nominal: Nominal) -> Length {
    let full = Length::from_inch_fraction(i64::from(nominal.numerator), i64::from(nominal.denominator));
    let row = thickness::find(nominal.numerator, nominal.denominator);
    let least = row.map_or(full, |row| row.kiln_dried);
    let step = thirty_seconds(1);
    let steps = (full + thirty_seconds(2) - least).ticks() / step.ticks();
    least + step * dice.roll(0, steps)
}

/// Marks until they cover the share of the surface drawn for the board; sorted along it.
fn marks(dice: &mut Dice, row: &GradeBoards, (width, length): (Length, Length)) -> Vec<Defect> {
    let share = i128::from(dice.middling(0, 2 * row.defective));
    let target = (length * width).square_ticks() * share / 1000;
    // One face of an F1F or Selects board is clear or nearly so.
    let bad_face =
        matches!(row.grade, Grade::F1f | Grade::Selects).then(|| *dice.pick(&[DefectFace::Top, DefectFace::Bottom]));
    scatter::covering(target, || {
        let mark = mark(dice, (width, length));
        Defect { face: bad_face.unwrap_or(mark.face), ..mark }
    })
}

/// One mark of a kind drawn by how common it is.
fn mark(dice: &mut Dice, (width, length): (Length, Length)) -> Defect {
    use DefectKind::{Bark, Check, Hole, Knot, Pith, Split, Stain, Wane};
    // Kind, length and width in eighths of an inch.
    let (kind, long, wide) = match dice.roll(1, 100) {
        1..=48 => (Knot, dice.roll(4, 24), dice.roll(4, 16)),
        49..=60 => (Check, dice.roll(16, 64), dice.roll(1, 4)),
        61..=66 => (Split, dice.roll(32, 80), dice.roll(1, 3)),
        67..=80 => (Wane, dice.roll(48, 240), dice.roll(2, 9)),
        81..=88 => (Bark, dice.roll(4, 20), dice.roll(2, 8)),
        89..=93 => (Hole, dice.roll(1, 6), dice.roll(1, 4)),
        94..=96 => (Pith, dice.roll(40, 160), dice.roll(2, 6)),
        _ => (Stain, dice.roll(20, 80), dice.roll(4, 24)),
    };
    let (long, wide) = (eighths(long).min(length), eighths(wide).min(width));
    let (x, y) = scatter::place(dice, kind, (long, wide), (length, width), |at| at);
    let face = match kind {
        Wane | Stain | Check => *dice.pick(&[DefectFace::Top, DefectFace::Bottom]),
        Knot | Bark => *dice.pick(&[DefectFace::Through, DefectFace::Through, DefectFace::Top, DefectFace::Bottom]),
        _ => DefectFace::Through,
    };
    let sound = kind == Stain || kind == Knot && dice.chance(35);
    Defect { kind, x, y, length: long, width: wide, face, sound }
}
