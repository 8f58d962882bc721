//! A graded pile in words and as a table for a spreadsheet.

use super::sheet::{BELOW, GradeSheet, GradedBoard, UNSTATED, decided_by};
use super::{Trial, Verdict};
use crate::measure::Length;
use crate::pile::Board;
use crate::pile::tally_sheet::{feet, inert, quarters};
use crate::pile::value::billing_thickness;
use crate::trade::grades::Grade;

impl GradeSheet {
    /// A table of the boards, what keeps each from the next better grade, and received against invoiced.
    pub fn as_text(&self) -> String {
        let mut rows = vec![["board", "wood", "size", "sm", "invoiced", "reaches"].map(str::to_owned)];
        rows.extend(self.graded.iter().map(|graded| self.row(graded)));
        let mut text = columns(&rows, &[3]);
        text.push('\n');
        for graded in &self.graded {
            text.push_str(&self.sentences(graded));
        }
        text.push_str("\nreceived against invoiced\n");
        let head = ["wood", "grade", "pieces invoiced", "bf", "pieces received", "bf"];
        let mut rows = vec![head.map(str::to_owned)];
        rows.extend(self.tally.iter().map(|row| {
            [
                format!("{} {}", row.species, quarters(&row.thickness)),
                row.grade.clone(),
                row.pieces_invoiced.to_string(),
                feet(&row.board_feet_invoiced),
                row.pieces_received.to_string(),
                feet(&row.board_feet_received),
            ]
        }));
        text.push_str(&columns(&rows, &[2, 3, 4, 5]));
        text
    }

    /// One row a board: sizes in the units of the pile.
    pub fn as_csv(&self) -> String {
        let mut out = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(Vec::new());
        let mut row = |cells: &[&str]| {
            let cells: Vec<String> = cells.iter().map(|cell| inert(cell)).collect();
            out.write_record(cells).expect("rows of one length go into memory");
        };
        row(&[
            "id",
            "copies",
            "species",
            "width",
            "length",
            "surface_measure",
            "invoiced",
            "grade",
            "settled",
            "decided_by",
            "next_better",
            "kept_from_it_by",
            "board_feet_invoiced",
            "board_feet_received",
            "remarks",
        ]);
        for graded in &self.graded {
            let board = self.line(graded);
            let side = |length: Length| length.to_f64(self.units).to_string();
            let invoiced = graded.board_feet_invoiced.as_ref().map(feet).unwrap_or_default();
            let next = graded.found.next_better();
            row(&[
                &board.id,
                &graded.copies.to_string(),
                &board.species,
                &side(board.width),
                &side(board.length),
                &graded.found.surface_measure.to_string(),
                board.grade.as_deref().unwrap_or_default(),
                graded.found.grade.map_or("", Grade::name),
                if graded.found.settled { "yes" } else { "no" },
                &decided_by(&graded.found),
                next.map_or("", |trial| trial.grade.name()),
                &next.map(|trial| trial.reasons.join("; ")).unwrap_or_default(),
                &invoiced,
                &feet(&graded.board_feet_received),
                &graded.remarks.join("; "),
            ]);
        }
        let bytes = out.into_inner().expect("memory takes every byte");
        String::from_utf8(bytes).expect("cells are text")
    }

    fn row(&self, graded: &GradedBoard) -> [String; 6] {
        let board = self.line(graded);
        let size = |length: Length| length.show(self.units, Length::from_inch_fraction(1, 16));
        [
            name(board, graded),
            format!("{} {}", board.species, quarters(&billing_thickness(board))),
            format!("{} x {}", size(board.width), size(board.length)),
            graded.found.surface_measure.to_string(),
            board.grade.clone().unwrap_or_else(|| UNSTATED.to_owned()),
            self.reaches(graded),
        ]
    }

    /// The grade a board reaches, in words.
    pub fn reaches(&self, graded: &GradedBoard) -> String {
        let doubt = if graded.found.settled { "" } else { " at least" };
        format!("{}{doubt}", graded.found.grade.map_or(BELOW, Grade::name))
    }

    /// What a board's grade rests on, what keeps it from the next better one, and what its invoice says wrong: a sentence a
    /// line.
    pub fn sentences(&self, graded: &GradedBoard) -> String {
        let name = name(self.line(graded), graded);
        let reaches = graded.found.grade.map_or(BELOW, Grade::name);
        let mut text = format!("{name}: {reaches}. {}", capital(&decided_by(&graded.found)));
        text.push_str(".\n");
        if let Some(next) = graded.found.next_better() {
            text.push_str(&format!("  not {}\n", kept_from(next)));
        }
        if !graded.found.settled {
            let open = graded.found.trials.iter().find(|trial| trial.verdict == Verdict::Unsettled);
            let open = open.filter(|open| Some(open.grade) != graded.found.next_better().map(|next| next.grade));
            text.extend(open.map(|open| format!("  not proven out of reach: {}\n", kept_from(open))));
        }
        text.extend(graded.remarks.iter().map(|remark| format!("  {remark}\n")));
        text
    }
}

/// `Selects: top face: 38.5 of 40 units for FAS in one cutting`
fn kept_from(trial: &Trial) -> String {
    format!("{}: {}", trial.grade.name(), trial.reasons.join("; "))
}

fn name(board: &Board, graded: &GradedBoard) -> String {
    if board.quantity == 1 {
        board.id.clone()
    } else {
        format!("{} ({} of {})", board.id, graded.copies, board.quantity)
    }
}

fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map(|first| first.to_uppercase().chain(chars).collect()).unwrap_or_default()
}

/// Columns as wide as they need to be, those of figures to the right.
fn columns<const N: usize>(rows: &[[String; N]], figures: &[usize]) -> String {
    let width = |column: usize| rows.iter().map(|row| row[column].chars().count()).max().unwrap_or(0);
    let widths: [usize; N] = std::array::from_fn(width);
    let mut text = String::new();
    for row in rows {
        let cells = row.iter().zip(widths).enumerate().map(|(column, (cell, width))| {
            if figures.contains(&column) { format!("{cell:>width$}") } else { format!("{cell:<width$}") }
        });
        text.push_str(cells.collect::<Vec<_>>().join("  ").trim_end());
        text.push('\n');
    }
    text
}
