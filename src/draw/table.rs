//! Tables on a sheet: columns sized to what they hold, long text broken into lines, nothing cut off.
//!
//! Places labels and rules on a canvas; what the rows say is `sheet`'s business.

use super::model::{Anchor, Canvas, Ink, Label, Pen, point};
use super::text;

/// Em of the body, millimetres.
pub(crate) const BODY: f64 = 2.2;
/// Em of a table's title.
const TITLE: f64 = 2.7;
/// Between columns.
const GUTTER: f64 = 2.6;
/// Between the rows' text and the rule below.
const PAD: f64 = 0.5;

/// A column's heading, and whether its text may be broken into lines to save width.
pub(crate) struct Column {
    pub heading: &'static str,
    pub wraps: bool,
}

/// A column that keeps its text in one line.
pub(crate) const fn fixed(heading: &'static str) -> Column {
    Column { heading, wraps: false }
}

/// A column whose text may be broken into lines.
pub(crate) const fn wrapping(heading: &'static str) -> Column {
    Column { heading, wraps: true }
}

/// Lays a titled table with its upper left corner at (`x`, `y`) and returns where it ends. Every row has a cell for
/// every column. Nothing is laid for a table without rows.
pub(crate) fn lay(
    canvas: &mut Canvas,
    (x, y): (f64, f64),
    room: f64,
    title: &str,
    columns: &[Column],
    rows: &[Vec<String>],
) -> f64 {
    if rows.is_empty() {
        return y;
    }
    let mut top = heading(canvas, x, y, room, title);
    let widths = widths(columns, rows, room);
    let headings: Vec<String> = columns.iter().map(|column| column.heading.to_string()).collect();
    top = row(canvas, x, top, &widths, &headings, Ink::Blue);
    canvas.line(point(x, top), point(x + room, top), Pen::solid(Ink::Pencil, 0.2));
    for cells in rows {
        top = row(canvas, x, top + PAD, &widths, cells, Ink::Pencil);
        canvas.line(point(x, top), point(x + room, top), Pen::solid(Ink::Faint, 0.08));
    }
    top + 3.0
}

/// Lays a title with a rule under it and returns where it ends.
pub(crate) fn heading(canvas: &mut Canvas, x: f64, y: f64, room: f64, title: &str) -> f64 {
    let label = Label::bold(title, TITLE, Ink::Pencil, Anchor::Left, x, y);
    let bottom = label.frame.bottom() + 0.5;
    canvas.label(label);
    canvas.line(point(x, bottom), point(x + room, bottom), Pen::solid(Ink::Pencil, 0.35));
    bottom + 0.7
}

/// Lays text broken into lines and returns where it ends.
pub(crate) fn paragraph(canvas: &mut Canvas, (x, y): (f64, f64), room: f64, size: f64, ink: Ink, words: &str) -> f64 {
    let mut top = y;
    for line in text::wrap(words, size, room) {
        let label = Label::new(&line, size, ink, Anchor::Left, x, top);
        top = label.frame.bottom();
        canvas.label(label);
    }
    top
}

fn row(canvas: &mut Canvas, x: f64, y: f64, widths: &[f64], cells: &[String], ink: Ink) -> f64 {
    let mut left = x;
    let mut bottom = y + BODY * text::LINE;
    for (cell, width) in cells.iter().zip(widths) {
        bottom = bottom.max(paragraph(canvas, (left, y), *width, BODY, ink, cell));
        left += width + GUTTER;
    }
    bottom + PAD
}

/// Fixed columns get what they ask for; the others share the rest, the modest ones served in full first.
fn widths(columns: &[Column], rows: &[Vec<String>], room: f64) -> Vec<f64> {
    let natural: Vec<f64> = columns
        .iter()
        .enumerate()
        .map(|(i, column)| {
            let cells = rows.iter().map(|cells| text::width(&cells[i], BODY, false));
            cells.fold(text::width(column.heading, BODY, false), f64::max) + 0.01
        })
        .collect();
    let fixed: f64 = columns.iter().zip(&natural).filter(|(column, _)| !column.wraps).map(|(_, width)| width).sum();
    let mut rest = room - fixed - GUTTER * columns.len().saturating_sub(1) as f64;
    let mut widths = natural.clone();
    let mut sharing: Vec<usize> = (0..columns.len()).filter(|&i| columns[i].wraps).collect();
    sharing.sort_by(|&a, &b| natural[a].total_cmp(&natural[b]));
    for (served, &i) in sharing.iter().enumerate() {
        let share = rest / (sharing.len() - served) as f64;
        widths[i] = natural[i].min(share).max(BODY * 2.0);
        rest -= widths[i];
    }
    widths
}
