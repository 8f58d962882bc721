//! The sheet of one graded board: both faces in true proportion, the cuttings its grade rests on, and why no better one.
//!
//! Shows what `grade` found and decides nothing. Both faces are drawn as they are measured, from the same left end and
//! reference edge, so a knot that goes through stands at one place on both.

use super::figure::Scale;
use super::figures::DrawOptions;
use super::hatch;
use super::model::{Anchor, Canvas, Drawing, Fill, Frame, Ink, Label, Pen, point};
use super::sheet::{FOOT, MARGIN, PAGE_WIDTH, footer};
use super::table;
use super::text;
use super::view::Span;
use crate::grade::{Cutting, FaceFound, GradeSheet, GradedBoard};
use crate::markup::clean;
use crate::measure::Length;
use crate::pile::{Board, DefectFace, Face};

/// Least height of the page, as the sheets of the stock.
const PAGE_HEIGHT: f64 = 195.0;
/// Tallest picture of one face.
const TALLEST: f64 = 46.0;
/// Left of the board: the chalk mark.
const LEFT: f64 = 7.5;
/// The outline of a cutting.
const CUTTING: Pen = Pen::solid(Ink::Blue, 0.5);

/// The sheet of a graded board, laid out but not yet written.
pub(crate) fn draw(sheet: &GradeSheet, graded: &GradedBoard, options: &DrawOptions) -> Drawing {
    let board = sheet.line(graded);
    let mut page = Canvas::default();
    let room = PAGE_WIDTH - 2.0 * MARGIN;
    let reaches = sheet.reaches(graded);
    let mut top = MARGIN;
    for line in text::wrap(&format!("{}: {reaches}", board.id), 6.0, room / text::BOLD) {
        let label = Label::bold(&line, 6.0, Ink::Pencil, Anchor::Left, MARGIN, top);
        top = label.frame.bottom();
        page.label(label);
    }
    top = table::paragraph(&mut page, (MARGIN, top + 0.6), room, 3.0, Ink::Pencil, &facts(board, graded, options));
    page.line(point(MARGIN, top + 0.8), point(PAGE_WIDTH - MARGIN, top + 0.8), Pen::solid(Ink::Pencil, 0.5));
    top += 3.0;
    for face in [Face::Top, Face::Bottom] {
        top = picture(&mut page, board, face, graded, options, top) + 5.0;
    }
    for sentence in sheet.sentences(graded).lines() {
        top = table::paragraph(&mut page, (MARGIN, top), room, 2.75, Ink::Pencil, sentence.trim()) + 0.8;
    }
    let height = PAGE_HEIGHT.max(top + 1.5 + FOOT + MARGIN);
    let advice = "Blue boxes are the cuttings of the grading rules: counted on the board, not sawn. Both faces are shown from the \
                  same left end and chalked edge.";
    footer(&mut page, height - MARGIN - FOOT, options.units, advice);
    Drawing {
        title: format!("Grade of {}", clean(&board.id)),
        description: clean(&format!("{} reaches {reaches}", board.id)),
        width: PAGE_WIDTH,
        height,
        shapes: page.shapes,
    }
}

fn facts(board: &Board, graded: &GradedBoard, options: &DrawOptions) -> String {
    let mut facts = vec![
        board.species.clone(),
        format!("{} long \u{d7} {} wide", options.fine(board.length), options.fine(board.width)),
        format!("surface measure {}", graded.found.surface_measure),
    ];
    facts.extend(board.grade.as_ref().map(|grade| format!("invoiced {grade}")));
    if board.quantity > 1 {
        facts.push(format!("{} of {} equal boards", graded.copies, board.quantity));
    }
    facts.join(" \u{b7} ")
}

/// One face with its heading; returns where it ends.
fn picture(page: &mut Canvas, board: &Board, face: Face, graded: &GradedBoard, options: &DrawOptions, top: f64) -> f64 {
    let found = graded.found.reached().and_then(|trial| on_face(&trial.faces, face));
    let way = found.and_then(FaceFound::best_way);
    let name = match face {
        Face::Top => "top face",
        Face::Bottom => "bottom face, from the same end and edge",
    };
    let words = match way {
        Some(way) => format!("{name}: {} units, {} required", way.obtained, way.required),
        None => name.to_owned(),
    };
    let label = Label::bold(&words, 2.6, Ink::Pencil, Anchor::Left, MARGIN + LEFT, top);
    let below = label.frame.bottom() + 1.0;
    page.label(label);
    let scale = Scale::to_fit(board.length, board.width, PAGE_WIDTH - 2.0 * MARGIN - LEFT, TALLEST);
    let mut canvas = Canvas::default();
    let outline = Frame { x: 0.0, y: 0.0, width: scale.width, height: scale.height };
    canvas.rect(outline, Some(Fill::Kraft), None);
    let cuttings = way.map_or(&[][..], |way| &way.cuttings);
    for cutting in cuttings {
        canvas.rect(scale.frame(&span(cutting)), Some(Fill::Paper), None);
    }
    let hidden = match face {
        Face::Top => DefectFace::Bottom,
        Face::Bottom => DefectFace::Top,
    };
    for defect in board.defects.iter().filter(|defect| defect.face != hidden) {
        let at = Span { x: defect.x, y: defect.y, length: defect.length, width: defect.width };
        hatch::kind(&mut canvas, &scale.frame(&at), defect.kind);
        canvas.rect(scale.frame(&at), None, Some(Pen::solid(Ink::Pencil, 0.25)));
        if !defect.sound {
            hatch::unsound(&mut canvas, &scale.frame(&at));
        }
    }
    for cutting in cuttings {
        let frame = scale.frame(&span(cutting));
        canvas.rect(frame, None, Some(CUTTING));
        let label = Label::new(&size(cutting, options), 2.4, Ink::Blue, Anchor::Middle, frame.centre().x, 0.0);
        if label.frame.width < frame.width && label.frame.height < frame.height {
            let centred =
                Label { frame: Frame { y: frame.centre().y - label.frame.height / 2.0, ..label.frame }, ..label };
            canvas.label(centred.backed());
        }
    }
    canvas.rect(outline, None, Some(Pen::solid(Ink::Pencil, 0.35)));
    hatch::chalk_line(&mut canvas, point(-0.9, 0.0), point(-0.9, scale.height));
    hatch::chalk_line(&mut canvas, point(0.0, scale.height + 0.9), point(scale.width, scale.height + 0.9));
    page.place(canvas, MARGIN + LEFT, below);
    below + scale.height + 1.4
}

/// What was found on a face; sound cuttings lie on both.
fn on_face(faces: &[FaceFound], face: Face) -> Option<&FaceFound> {
    faces.iter().find(|found| found.face == face || found.sound)
}

fn span(cutting: &Cutting) -> Span {
    Span { x: cutting.x, y: cutting.y, length: cutting.length, width: cutting.width }
}

/// Width by length, as cuttings are named.
fn size(cutting: &Cutting, options: &DrawOptions) -> String {
    let (width, length): (Length, Length) = (cutting.width, cutting.length);
    format!("{} \u{d7} {}", options.fine(width), options.fine(length))
}
