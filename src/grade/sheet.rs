//! A graded pile: every board beside its invoice, and what was received added up against what was invoiced.
//!
//! Boards are tallied again from their measured sizes, in the order of the file. Where the invoice states a surface measure
//! that the size allows (at most half a square foot off, so the yard's turn at an exact half), that one stands; otherwise
//! the board counts as measured and is remarked on. Equal boards on one line are kept together unless exact halves part them.

use num_traits::ToPrimitive;
use schemars::JsonSchema;
use serde::Serialize;

use super::{BoardGrade, Cutting, FaceFound, GradeOptions, Trial, Verdict, WayFound, grade_board};
use crate::measure::{Length, Rational, Units};
use crate::pile::value::{billing, billing_thickness};
use crate::pile::{Board, Face, Pile, Price, normal_words, same_words};
use crate::trade::grades::{FaceGrade, Grade, Way};
use crate::trade::tally::{self, HalfTurn};

/// Boards of one line of the pile with one surface measure.
#[derive(Clone, Debug, PartialEq)]
pub struct GradedBoard {
    /// Index of the line in the pile.
    pub board: usize,
    /// How many of its equal boards.
    pub copies: u32,
    pub found: BoardGrade,
    /// The grade on the invoice, if it is one of the table.
    pub invoiced: Option<Grade>,
    /// Board feet of these copies as invoiced; none for boards bought by the piece.
    pub board_feet_invoiced: Option<Rational>,
    /// Board feet of these copies by their measured size.
    pub board_feet_received: Rational,
    /// Words on an invoice that the board contradicts.
    pub remarks: Vec<String>,
}

/// Boards of one wood, billing thickness and grade, invoiced and received.
#[derive(Clone, Debug, PartialEq)]
pub struct Tallied {
    pub species: String,
    /// Billing thickness, inches.
    pub thickness: Rational,
    /// The name of the grade; the invoice's own word where it is none of the table.
    pub grade: String,
    pub pieces_invoiced: u32,
    pub board_feet_invoiced: Rational,
    pub pieces_received: u32,
    pub board_feet_received: Rational,
}

/// A graded pile.
#[derive(Clone, Debug)]
pub struct GradeSheet {
    /// Units of the pile.
    pub(super) units: Units,
    /// The lines of the pile, for their sizes and names.
    pub(super) boards: Vec<Board>,
    pub graded: Vec<GradedBoard>,
    /// In the order of the pile's woods, the best grade first.
    pub tally: Vec<Tallied>,
}

/// Below the least grade of the table.
pub(super) const BELOW: &str = "below No.3B";
/// No grade on the invoice.
pub(super) const UNSTATED: &str = "not stated";

impl GradeSheet {
    pub(super) fn of(pile: &Pile, options: &GradeOptions) -> GradeSheet {
        let bills = billing(pile);
        let mut turn = HalfTurn::new();
        let mut graded: Vec<GradedBoard> = Vec::new();
        for (index, board) in pile.boards.iter().enumerate() {
            let thickness = billing_thickness(board);
            for (measure, copies) in measures(board, &mut turn) {
                let found = grade_board(board, measure, options);
                let share = Rational::new(copies.into(), board.quantity.into());
                let invoiced = by_the_foot(board).then(|| bills[index].board_feet() * share);
                let received = tally::hardwood_board_feet(&Rational::from_integer(measure.into()), &thickness);
                let remarks = remarks(board, &found);
                graded.push(GradedBoard {
                    board: index,
                    copies,
                    found,
                    invoiced: board.grade.as_deref().and_then(Grade::read),
                    board_feet_invoiced: invoiced,
                    board_feet_received: received * Rational::from_integer(copies.into()),
                    remarks,
                });
            }
        }
        let tally = tallied(&pile.boards, &graded);
        GradeSheet { units: pile.units, boards: pile.boards.clone(), graded, tally }
    }

    /// The line of the pile behind a graded board.
    pub fn line(&self, graded: &GradedBoard) -> &Board {
        &self.boards[graded.board]
    }

    /// The sheet as numbers, for a program.
    pub fn figures(&self) -> GradeFigures {
        let number = |exact: &Rational| exact.to_f64().unwrap_or(f64::MAX);
        GradeFigures {
            units: self.units,
            boards: self.graded.iter().map(|graded| self.board_figures(graded)).collect(),
            tally: self
                .tally
                .iter()
                .map(|row| TallyRow {
                    species: row.species.clone(),
                    thickness_in: number(&row.thickness),
                    grade: row.grade.clone(),
                    pieces_invoiced: row.pieces_invoiced,
                    board_feet_invoiced: number(&row.board_feet_invoiced),
                    pieces_received: row.pieces_received,
                    board_feet_received: number(&row.board_feet_received),
                })
                .collect(),
        }
    }

    /// The sheet as JSON, two spaces a level, with a line feed at the end.
    pub fn as_json(&self) -> String {
        let mut text = serde_json::to_string_pretty(&self.figures()).expect("records of texts and finite numbers");
        text.push('\n');
        text
    }

    fn board_figures(&self, graded: &GradedBoard) -> BoardFigures {
        let number = |exact: &Rational| exact.to_f64().unwrap_or(f64::MAX);
        let board = self.line(graded);
        let trial = |trial: &Trial| TrialFigures {
            grade: trial.grade,
            verdict: trial.verdict,
            faces: trial.faces.iter().map(|face| self.face_figures(face)).collect(),
            reasons: trial.reasons.clone(),
        };
        BoardFigures {
            id: board.id.clone(),
            copies: graded.copies,
            surface_measure: graded.found.surface_measure,
            invoiced: board.grade.clone(),
            grade: graded.found.grade,
            settled: graded.found.settled,
            decided_by: decided_by(&graded.found),
            board_feet_invoiced: graded.board_feet_invoiced.as_ref().map(number),
            board_feet_received: number(&graded.board_feet_received),
            trials: graded.found.trials.iter().map(trial).collect(),
            remarks: graded.remarks.clone(),
        }
    }

    fn face_figures(&self, face: &FaceFound) -> FaceFigures {
        let way = |way: &WayFound| WayFigures {
            way: way.way,
            cuttings_allowed: way.allowed,
            units_required: way.required,
            units_obtained: way.obtained,
            units_at_most: way.at_most,
            cuttings: way.cuttings.iter().map(|cutting| CuttingFigures::of(cutting, self.units)).collect(),
            verdict: way.verdict,
        };
        FaceFigures {
            face: face.face,
            asked: face.asked,
            sound: face.sound,
            ways: face.ways.iter().map(way).collect(),
            breaches: face.breaches.clone(),
            verdict: face.verdict,
        }
    }
}

/// True for a board whose board feet are on the invoice.
fn by_the_foot(board: &Board) -> bool {
    board.board_feet.is_some() || matches!(board.price, Price::BoardFoot(_))
}

/// The surface measures of a line's boards, and how many have each.
fn measures(board: &Board, turn: &mut HalfTurn) -> Vec<(u32, u32)> {
    let exact = tally::surface_measure_unrounded(board.width, board.length);
    let half = Rational::new(1.into(), 2.into());
    if let Some(stated) = board.surface_measure {
        let gap = Rational::from_integer(stated.into()) - &exact;
        if gap <= half && -gap <= half {
            return vec![(stated, board.quantity)];
        }
    }
    let mut found: Vec<(u32, u32)> = Vec::new();
    for _ in 0..board.quantity {
        let measure = turn.to_whole(&exact).to_integer().to_u32().unwrap_or(u32::MAX);
        match found.iter_mut().find(|(known, _)| *known == measure) {
            Some((_, copies)) => *copies += 1,
            None => found.push((measure, 1)),
        }
    }
    found
}

fn remarks(board: &Board, found: &BoardGrade) -> Vec<String> {
    let mut remarks = Vec::new();
    if let Some(stated) = board.surface_measure.filter(|&stated| stated != found.surface_measure) {
        remarks.push(format!("invoiced at {stated} square feet, measures {}", found.surface_measure));
    }
    match board.grade.as_deref().map(|word| (word, Grade::read(word))) {
        Some((word, None)) => remarks.push(format!("`{word}` is no grade of the table")),
        Some((_, Some(invoiced))) => match found.grade {
            Some(grade) if grade < invoiced => remarks.push("better than invoiced".to_owned()),
            Some(grade) if grade == invoiced => {}
            _ if found.settled => remarks.push("below the grade invoiced".to_owned()),
            _ => remarks.push("perhaps below the grade invoiced: the search ended by its limit".to_owned()),
        },
        None => {}
    }
    remarks
}

fn tallied(boards: &[Board], graded: &[GradedBoard]) -> Vec<Tallied> {
    let mut rows: Vec<(Tallied, usize, usize)> = Vec::new();
    let mut woods: Vec<(String, Rational)> = Vec::new();
    for line in graded {
        let board = &boards[line.board];
        let thickness = billing_thickness(board);
        let known = woods.iter().position(|(wood, thick)| same_words(wood, &board.species) && *thick == thickness);
        let wood = known.unwrap_or_else(|| {
            woods.push((board.species.clone(), thickness.clone()));
            woods.len() - 1
        });
        let mut row = |grade: Option<Grade>, word: &str| -> usize {
            let name: &str = match grade {
                Some(grade) => grade.name(),
                None => word,
            };
            let rank = grade.map_or(Grade::ALL.len(), |grade| grade as usize);
            let known =
                rows.iter().position(|(row, of, _)| *of == wood && normal_words(&row.grade) == normal_words(name));
            known.unwrap_or_else(|| {
                let (species, thickness) = woods[wood].clone();
                let empty = Tallied {
                    species,
                    thickness,
                    grade: name.to_owned(),
                    pieces_invoiced: 0,
                    board_feet_invoiced: Rational::default(),
                    pieces_received: 0,
                    board_feet_received: Rational::default(),
                };
                rows.push((empty, wood, rank));
                rows.len() - 1
            })
        };
        let invoiced = row(line.invoiced, board.grade.as_deref().unwrap_or(UNSTATED));
        let received = row(line.found.grade, BELOW);
        rows[invoiced].0.pieces_invoiced += line.copies;
        rows[invoiced].0.board_feet_invoiced += line.board_feet_invoiced.as_ref().unwrap_or(&line.board_feet_received);
        rows[received].0.pieces_received += line.copies;
        rows[received].0.board_feet_received += &line.board_feet_received;
    }
    rows.sort_by_key(|(_, wood, rank)| (*wood, *rank));
    rows.into_iter().map(|(row, _, _)| row).collect()
}

/// The rule a grade rests on, in words.
pub(super) fn decided_by(found: &BoardGrade) -> String {
    let Some(trial) = found.reached() else {
        return "no grade of the table is reached".to_owned();
    };
    let face = |face: &FaceFound| {
        let name = match face.face {
            _ if face.sound => "sound wood",
            Face::Top => "top face",
            Face::Bottom => "bottom face",
        };
        let way = face.best_way().map_or_else(String::new, way_words);
        // Where the two faces are asked for different things, each says what.
        let asked = match trial.grade {
            Grade::F1f | Grade::Selects => format!("{}, ", face.asked.name()),
            _ => String::new(),
        };
        format!("{name} {asked}{way}")
    };
    trial.faces.iter().map(face).collect::<Vec<_>>().join("; ")
}

fn way_words(way: &WayFound) -> String {
    let cuttings = way.cuttings.len();
    let plural = if cuttings == 1 { "cutting" } else { "cuttings" };
    let allowed = way.allowed.map_or_else(String::new, |allowed| format!(" of {allowed}"));
    match way.way {
        Way::AllClear => "all clear".to_owned(),
        Way::Standard => format!("{} of {} units in {cuttings}{allowed} {plural}", way.obtained, way.required),
        Way::ExtraCutting | Way::NinetySeven => {
            let (obtained, required, rule) = (way.obtained, way.required, way.way.words());
            format!("{obtained} of {required} units in {cuttings}{allowed} {plural} by {rule}")
        }
    }
}

/// A graded pile as its JSON has it; lengths in `units`.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct GradeFigures {
    pub units: Units,
    /// In the order of the pile; a line of equal boards is parted where exact halves of surface measure part it.
    pub boards: Vec<BoardFigures>,
    /// Received against invoiced, by wood, thickness and grade.
    pub tally: Vec<TallyRow>,
}

/// One board, or equal ones.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct BoardFigures {
    pub id: String,
    pub copies: u32,
    /// Square feet each.
    pub surface_measure: u32,
    /// The grade as the invoice has it.
    pub invoiced: Option<String>,
    /// The grade reached; none below No.3B Common.
    pub grade: Option<Grade>,
    /// True when every better grade is proven out of reach.
    pub settled: bool,
    /// The rule the grade rests on, in words.
    pub decided_by: String,
    /// Of all copies; none for boards bought by the piece.
    pub board_feet_invoiced: Option<f64>,
    /// Of all copies, by measured size.
    pub board_feet_received: f64,
    /// The grades tried, best first; the last is the grade reached, if any.
    pub trials: Vec<TrialFigures>,
    pub remarks: Vec<String>,
}

/// One grade tried.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct TrialFigures {
    pub grade: Grade,
    pub verdict: Verdict,
    pub faces: Vec<FaceFigures>,
    /// Why it is not reached.
    pub reasons: Vec<String>,
}

/// One face judged.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct FaceFigures {
    pub face: Face,
    pub asked: FaceGrade,
    /// The cuttings are sound ones, on both faces.
    pub sound: bool,
    pub ways: Vec<WayFigures>,
    /// Limits of the face that are passed.
    pub breaches: Vec<String>,
    pub verdict: Verdict,
}

/// One way to the grade of a face.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct WayFigures {
    pub way: Way,
    /// None for any number.
    pub cuttings_allowed: Option<u32>,
    pub units_required: f64,
    pub units_obtained: f64,
    /// No cuttings have more.
    pub units_at_most: f64,
    pub cuttings: Vec<CuttingFigures>,
    pub verdict: Verdict,
}

/// One cutting, as defects are measured.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct CuttingFigures {
    pub x: f64,
    pub y: f64,
    pub length: f64,
    pub width: f64,
}

impl CuttingFigures {
    fn of(cutting: &Cutting, units: Units) -> CuttingFigures {
        let side = |length: Length| length.to_f64(units);
        CuttingFigures {
            x: side(cutting.x),
            y: side(cutting.y),
            length: side(cutting.length),
            width: side(cutting.width),
        }
    }
}

/// Boards of one wood, thickness and grade.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct TallyRow {
    pub species: String,
    /// Billing thickness, inches.
    pub thickness_in: f64,
    pub grade: String,
    pub pieces_invoiced: u32,
    pub board_feet_invoiced: f64,
    pub pieces_received: u32,
    pub board_feet_received: f64,
}
