//! The hardwood grade that measured boards reach, with the cuttings that prove it.
//!
//! `judge` tries the grades on one board, best first; `faces` reads its marks, `field` and `cuttings` find the best cuttings,
//! `sheet` adds a pile up against its invoice and prints it. The rules themselves are a table in `trade::grades`. A grade
//! that was given is true: the cuttings are there. A higher one that was refused is proven out of reach unless it is called
//! *unsettled*, because the search for cuttings ended by its limit of work.
//!
//! Readings where the published rules leave room: cuttings may lie anywhere on the board, also beyond the whole feet that
//! are tallied; the units are those of the tallied surface measure. The pile's widths and lengths are taken as measured by the
//! rules (narrowest place of the standard length). A board whose moisture is not known is taken as kiln dried. Of warp, cup
//! and half the twist count against surfacing; bow is pressed out by feed rolls (common practice). The exceptions for single
//! species, the one board in ten that may be narrower, and cuttings added by agreement on boards over 16 square feet are left out.

mod cuttings;
mod faces;
mod field;
mod judge;
mod sheet;
mod text;

use crate::measure::Length;
use crate::pile::{Board, Face, Pile};
use crate::trade::grades::{FaceGrade, Grade, Way};

pub use sheet::{
    BoardFigures, CuttingFigures, FaceFigures, GradeFigures, GradeSheet, GradedBoard, Tallied, TallyRow, TrialFigures,
    WayFigures,
};

/// How boards are graded.
#[derive(Clone, Debug, PartialEq)]
pub struct GradeOptions {
    /// Steps of the search for cuttings on one face, for one grade. A grade that is neither reached nor ruled out by then is
    /// unsettled; 20 million take about half a second and settle boards of everyday size.
    pub steps: u64,
    /// Go on to the best cuttings where the grade is decided already: reached with fewer, or out of reach.
    pub best_cuttings: bool,
}

impl Default for GradeOptions {
    fn default() -> GradeOptions {
        GradeOptions { steps: 20_000_000, best_cuttings: true }
    }
}

/// Moisture up to which a board counts as kiln dried, percent (common practice).
pub const KILN_DRIED_MOISTURE: f64 = 12.0;

/// One cutting, from the left end and the reference edge, as defects are measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cutting {
    pub x: Length,
    pub y: Length,
    pub length: Length,
    pub width: Length,
}

/// What became of a question.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, schemars::JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Verdict {
    Reached,
    Refused,
    /// Not reached by the cuttings found, not ruled out by the bound either.
    Unsettled,
}

/// One way to a face's grade, and how far the cuttings got.
#[derive(Clone, Debug, PartialEq)]
pub struct WayFound {
    pub way: Way,
    /// Cuttings allowed; `None` for any number.
    pub allowed: Option<u32>,
    /// Cutting units.
    pub required: f64,
    /// Cutting units of the cuttings found, rounded down to the hundredth.
    pub obtained: f64,
    /// No cuttings have more units than this.
    pub at_most: f64,
    pub cuttings: Vec<Cutting>,
    pub verdict: Verdict,
}

/// One face judged for one grade.
#[derive(Clone, Debug, PartialEq)]
pub struct FaceFound {
    pub face: Face,
    pub asked: FaceGrade,
    /// The cuttings are sound ones, on both faces.
    pub sound: bool,
    /// In the order of the rules, up to the first that is reached.
    pub ways: Vec<WayFound>,
    /// Limits of the face that are passed.
    pub breaches: Vec<String>,
    pub verdict: Verdict,
}

impl FaceFound {
    /// The way that reached the grade, or else the one that came nearest.
    pub fn best_way(&self) -> Option<&WayFound> {
        let share = |way: &&WayFound| if way.required > 0.0 { way.obtained / way.required } else { -1.0 };
        let reached = self.ways.iter().find(|way| way.verdict == Verdict::Reached);
        // Of ways as near as each other the first, the usual one.
        reached.or_else(|| self.ways.iter().rev().max_by(|a, b| share(a).total_cmp(&share(b))))
    }
}

/// One grade tried.
#[derive(Clone, Debug, PartialEq)]
pub struct Trial {
    pub grade: Grade,
    pub verdict: Verdict,
    /// The faces that were looked at; none where the board's size or warp rules the grade out.
    pub faces: Vec<FaceFound>,
    /// Why it is not reached, in words; empty when it is.
    pub reasons: Vec<String>,
}

/// A board's grade and how it was found.
#[derive(Clone, Debug, PartialEq)]
pub struct BoardGrade {
    /// Whole square feet it is tallied at.
    pub surface_measure: u32,
    /// `None` below No. 3B Common.
    pub grade: Option<Grade>,
    /// True when every better grade is proven out of reach.
    pub settled: bool,
    /// The grades tried, best first; the last one is the grade, if any was reached.
    pub trials: Vec<Trial>,
}

impl BoardGrade {
    /// The trial that the grade rests on.
    pub fn reached(&self) -> Option<&Trial> {
        self.trials.iter().find(|trial| trial.verdict == Verdict::Reached)
    }

    /// The trial of the next better grade: what keeps the board from it.
    pub fn next_better(&self) -> Option<&Trial> {
        let refused = self.trials.iter().take_while(|trial| trial.verdict != Verdict::Reached);
        refused.last()
    }
}

/// The grade of one board that is tallied at a surface measure, square feet.
///
/// ```
/// use flitchwork::grade::{GradeOptions, grade_board};
/// use flitchwork::trade::grades::Grade;
/// let text = r#"{ "format": "flitchwork.pile/1", "units": "in", "boards": [
///   { "id": "A", "species": "ash", "nominal": "4/4", "width": 6, "length": "8 ft", "cost": 30 } ] }"#;
/// let pile = flitchwork::pile::file::read_json("pile.json", text)?;
/// assert_eq!(grade_board(&pile.boards[0], 4, &GradeOptions::default()).grade, Some(Grade::Fas));
/// # Ok::<(), flitchwork::pile::Faults>(())
/// ```
pub fn grade_board(board: &Board, surface_measure: u32, options: &GradeOptions) -> BoardGrade {
    judge::judge(board, surface_measure, options)
}

/// How a board stands to one grade.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Standing {
    Below,
    /// It reaches the grade, and no better one.
    Exactly,
    Above,
    /// The search for cuttings ended by its limit.
    Unsettled,
}

/// How a board stands to one grade, cheaper than its grade: a board below it is not tried for any other.
pub(crate) fn standing(board: &Board, surface_measure: u32, grade: Grade, options: &GradeOptions) -> Standing {
    judge::standing(board, surface_measure, grade, options)
}

/// The grades of all boards of a pile, added up against what was invoiced.
pub fn grade_pile(pile: &Pile, options: &GradeOptions) -> GradeSheet {
    GradeSheet::of(pile, options)
}
