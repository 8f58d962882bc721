//! Cut diagrams: a plan on paper, in true proportion, fit to be taken to the saw.
//!
//! `view` brings plan and pile together, `figure`, `lettering` and `beside` make the picture, `table`, `sheet`, `panel`, `grading`, `yields` and `overview`
//! the pages, all in the drawing model of `model`; `svg` and `pdf` spell a drawing out, `png` renders it, `font` is the face of
//! both, `files` puts it in a folder; `offer` is a quote's page for a client. Nothing here
//! decides a cut or knows a rule of milling; everything drawn stands in the plan or the pile. Invariant: the same plan,
//! pile and options give the same bytes.

mod beside;
mod figure;
mod figures;
mod files;
mod font;
mod grading;
mod hatch;
mod key;
mod lettering;
mod model;
pub mod offer;
mod overview;
mod panel;
mod pdf;
mod placer;
mod png;
mod sheet;
mod svg;
mod table;
mod text;
mod view;
mod yields;

use std::path::PathBuf;

use crate::grade::{GradeSheet, GradedBoard};
use crate::measure::{Length, Units};
use crate::order::Answer;
use crate::pile::Pile;
use crate::plan::{GlueKind, GlueSheet, GlueUp, ShopPlan};

pub use figures::DrawOptions;
pub use files::{write_all, write_grades};
pub use model::{Anchor, Dash, Drawing, Fill, Frame, Ink, Label, Pen, Point, Shape};

/// Why a plan cannot be drawn.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum DrawError {
    /// The plan cuts stock that the pile does not hold.
    #[error("the plan cuts {stock:?}, which is not in the pile: draw it with the pile it was made from")]
    NotInPile { stock: String },
    /// Something in the plan lies beyond the stock as the pile has it.
    #[error(
        "{what} on {stock:?} reaches beyond the stock as the pile has it: draw the plan with the pile it was made from"
    )]
    OutsideStock { stock: String, what: String },
    /// No such entry in the plan's stock.
    #[error("the plan uses {count} pieces of stock; there is no number {}", index + 1)]
    NoSuchStock { index: usize, count: usize },
    /// A print step that is not positive.
    #[error("the print steps must be more than nothing")]
    Step,
    /// A page or picture that cannot be rendered.
    #[error("the drawing cannot be rendered: {what}")]
    Picture { what: String },
    /// A file or folder that cannot be written.
    #[error("cannot write {}", path.display())]
    Write { path: PathBuf, source: std::io::Error },
}

/// The sheet of `plan.stock[index]`, laid out but not yet written.
///
/// # Errors
/// When there is no such entry, when the pile does not hold that stock, or when the plan reaches beyond it.
pub fn stock_drawing(plan: &ShopPlan, pile: &Pile, options: &DrawOptions, index: usize) -> Result<Drawing, DrawError> {
    check_steps(options)?;
    Ok(sheet::draw(&view::View::new(plan, pile, options, index)?, options, &plan.title))
}

/// The sheet of `plan.stock[index]` as an SVG file.
///
/// # Errors
/// As [`stock_drawing`].
pub fn stock_svg(plan: &ShopPlan, pile: &Pile, options: &DrawOptions, index: usize) -> Result<String, DrawError> {
    Ok(svg::write(&stock_drawing(plan, pile, options, index)?))
}

/// The sheets of the panels, laid out but not yet written, each with its part and copy, in the order of the plan. Glue-ups
/// without figures, as other programs may write them, have none.
///
/// # Errors
/// When a print step is not positive.
pub fn panel_drawings(plan: &ShopPlan, options: &DrawOptions) -> Result<Vec<(String, u32, Drawing)>, DrawError> {
    check_steps(options)?;
    let of = drawings(plan);
    let drawn = panels(plan).zip(plan.stock.len() + 1..).map(|((glueup, sheet), number)| {
        let drawing = panel::draw(glueup, sheet, options, &plan.title, (number, of));
        (glueup.part.clone(), glueup.copy, drawing)
    });
    Ok(drawn.collect())
}

/// The overview of all stock used, laid out but not yet written.
///
/// # Errors
/// As [`stock_drawing`].
pub fn overview_drawing(plan: &ShopPlan, pile: &Pile, options: &DrawOptions) -> Result<Drawing, DrawError> {
    check_steps(options)?;
    overview::draw(plan, pile, options)
}

/// The overview of all stock used as an SVG file.
///
/// # Errors
/// As [`stock_drawing`].
pub fn overview_svg(plan: &ShopPlan, pile: &Pile, options: &DrawOptions) -> Result<String, DrawError> {
    Ok(svg::write(&overview_drawing(plan, pile, options)?))
}

/// The sheet of a graded board: both faces and the cuttings its grade rests on, laid out but not yet written.
///
/// # Errors
/// When a print step is not positive.
pub fn grade_drawing(sheet: &GradeSheet, graded: &GradedBoard, options: &DrawOptions) -> Result<Drawing, DrawError> {
    check_steps(options)?;
    Ok(grading::draw(sheet, graded, options))
}

/// The yields of an order's lots as histograms, laid out but not yet written.
pub fn order_drawing(answer: &Answer, units: Units) -> Drawing {
    yields::draw(answer, units)
}

/// The panels that have a sheet, with the figures on it.
fn panels(plan: &ShopPlan) -> impl Iterator<Item = (&GlueUp<Length>, &GlueSheet<Length>)> {
    let of_panels = plan.glueups.iter().filter(|glueup| glueup.kind == GlueKind::Panel);
    of_panels.filter_map(|glueup| Some((glueup, glueup.sheet.as_ref()?)))
}

/// How many sheets a plan has: one a piece of stock, one a panel.
fn drawings(plan: &ShopPlan) -> usize {
    plan.stock.len() + panels(plan).count()
}

/// A drawing as an SVG file.
pub fn as_svg(drawing: &Drawing) -> String {
    svg::write(drawing)
}

/// A drawing as a PNG file, eight dots to the millimetre and at most 6000 along a side.
///
/// # Errors
/// [`DrawError::Picture`] when it cannot be rendered.
pub fn as_png(drawing: &Drawing) -> Result<Vec<u8>, DrawError> {
    png::write(drawing)
}

/// Drawings as a PDF of the title given, a page each, in their true size on paper.
///
/// # Errors
/// [`DrawError::Picture`] when it cannot be rendered.
pub fn as_pdf(title: &str, drawings: &[Drawing]) -> Result<Vec<u8>, DrawError> {
    pdf::write(title, drawings)
}

fn check_steps(options: &DrawOptions) -> Result<(), DrawError> {
    if options.rough > Length::ZERO && options.fine > Length::ZERO { Ok(()) } else { Err(DrawError::Step) }
}
