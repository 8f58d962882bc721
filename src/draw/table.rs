//! Tables on a sheet: columns sized to what they hold, long text broken into lines, nothing cut off; and their flow.
//!
//! A table is a [`Block`]: a head and rows of known height, which may be laid in one piece or flow over the columns of a
//! page. What the rows say is `sheet`'s business.

use super::model::{Anchor, Canvas, Ink, Label, Pen, point};
use super::text;

/// A title's em, in ems of the body.
const TITLE: f64 = 1.15;
/// Between columns.
const GUTTER: f64 = 2.4;
/// Between a row's text and the rules above and below.
const PAD: f64 = 0.45;
/// Below a block.
const BELOW: f64 = 2.6;

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

/// Something as wide as a column of the page, with its upper left corner at (0, 0).
#[derive(Clone)]
pub(crate) struct Band {
    pub canvas: Canvas,
    pub height: f64,
}

/// A head and its rows; the head is repeated wherever the rows go on in another column.
pub(crate) struct Block {
    pub head: Band,
    pub rows: Vec<Band>,
}

/// A titled table `room` wide, its body in an em of `size` millimetres. Every row has a cell for every column.
pub(crate) fn table(title: &str, columns: &[Column], rows: &[Vec<String>], room: f64, size: f64) -> Block {
    let mut head = heading(title, room, size);
    let widths = widths(columns, rows, room, size);
    if columns.iter().any(|column| !column.heading.is_empty()) {
        let names: Vec<String> = columns.iter().map(|column| column.heading.to_string()).collect();
        let names = row(&widths, &names, Ink::Blue, size);
        head.canvas.place(names.canvas, 0.0, head.height);
        head.height += names.height;
        head.canvas.line(point(0.0, head.height), point(room, head.height), Pen::solid(Ink::Pencil, 0.15));
    }
    let rows = rows
        .iter()
        .map(|cells| {
            let mut band = row(&widths, cells, Ink::Pencil, size);
            band.canvas.line(point(0.0, band.height), point(room, band.height), Pen::solid(Ink::Faint, 0.08));
            band
        })
        .collect();
    Block { head, rows }
}

/// A title with a rule under it, over text in an em of `size` millimetres.
pub(crate) fn heading(title: &str, room: f64, size: f64) -> Band {
    let size = size * TITLE;
    let mut canvas = Canvas::default();
    let mut bottom = 0.0;
    for line in text::wrap(title, size, room / text::BOLD) {
        let label = Label::bold(&line, size, Ink::Pencil, Anchor::Left, 0.0, bottom);
        bottom = label.frame.bottom();
        canvas.label(label);
    }
    bottom += 0.4;
    canvas.line(point(0.0, bottom), point(room, bottom), Pen::solid(Ink::Pencil, 0.35));
    Band { canvas, height: bottom + 0.3 }
}

/// Lays the blocks one below the other in one column and returns where they end.
pub(crate) fn stack(page: &mut Canvas, (x, y): (f64, f64), blocks: Vec<Block>) -> f64 {
    flow_within(page, (x, y), 0.0, 1, f64::INFINITY, blocks)
}

/// Lays the blocks in `count` columns, `step` apart, as even as their order allows; returns where the longest ends.
pub(crate) fn flow(page: &mut Canvas, at: (f64, f64), step: f64, count: usize, blocks: Vec<Block>) -> f64 {
    let total: f64 = blocks.iter().map(Block::height).sum();
    let mut limit = total / count as f64;
    while columns_needed(&blocks, limit) > count {
        limit += 2.0;
    }
    flow_within(page, at, step, count, limit, blocks)
}

impl Block {
    fn height(&self) -> f64 {
        self.head.height + self.rows.iter().map(|row| row.height).sum::<f64>() + BELOW
    }
}

fn columns_needed(blocks: &[Block], limit: f64) -> usize {
    let mut cursor = Cursor { column: 0, y: 0.0, limit };
    for block in blocks {
        block.rows.iter().enumerate().for_each(|(i, row)| {
            cursor.next(block, i, row);
        });
        cursor.y += BELOW;
    }
    cursor.column + 1
}

fn flow_within(page: &mut Canvas, at: (f64, f64), step: f64, count: usize, limit: f64, blocks: Vec<Block>) -> f64 {
    let mut cursor = Cursor { column: 0, y: 0.0, limit };
    let mut lowest: f64 = 0.0;
    for block in blocks {
        for (i, row) in block.rows.iter().enumerate() {
            let head = cursor.next(&block, i, row);
            let x = at.0 + step * cursor.column.min(count - 1) as f64;
            let top = at.1 + cursor.y - row.height;
            if head {
                page.place(block.head.canvas.clone(), x, top - block.head.height);
            }
            page.place(row.canvas.clone(), x, top);
            lowest = lowest.max(cursor.y);
        }
        cursor.y += BELOW;
    }
    at.1 + lowest
}

/// Where the next row goes.
struct Cursor {
    column: usize,
    y: f64,
    limit: f64,
}

impl Cursor {
    /// Moves below the i-th row of a block, into the next column when this one is full; true when the head comes first.
    fn next(&mut self, block: &Block, i: usize, row: &Band) -> bool {
        let mut head = i == 0;
        let need = row.height + if head { block.head.height } else { 0.0 };
        if self.y > 0.0 && self.y + need > self.limit {
            self.column += 1;
            self.y = 0.0;
            head = true;
        }
        self.y += row.height + if head { block.head.height } else { 0.0 };
        head
    }
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

fn row(widths: &[f64], cells: &[String], ink: Ink, size: f64) -> Band {
    let mut canvas = Canvas::default();
    let mut left = 0.0;
    let mut bottom = PAD + size * text::LINE;
    for (cell, width) in cells.iter().zip(widths) {
        bottom = bottom.max(paragraph(&mut canvas, (left, PAD), *width, size, ink, cell));
        left += width + GUTTER;
    }
    Band { canvas, height: bottom + PAD }
}

/// Fixed columns get what they ask for; the others share the rest, the modest ones served in full first.
fn widths(columns: &[Column], rows: &[Vec<String>], room: f64, size: f64) -> Vec<f64> {
    let natural: Vec<f64> = columns
        .iter()
        .enumerate()
        .map(|(i, column)| {
            let cells = rows.iter().map(|cells| text::width(&cells[i], size, false));
            cells.fold(text::width(column.heading, size, false), f64::max) + 0.01
        })
        .collect();
    let fixed: f64 = columns.iter().zip(&natural).filter(|(column, _)| !column.wraps).map(|(_, width)| width).sum();
    let mut rest = room - fixed - GUTTER * columns.len().saturating_sub(1) as f64;
    let mut widths = natural.clone();
    let mut sharing: Vec<usize> = (0..columns.len()).filter(|&i| columns[i].wraps).collect();
    sharing.sort_by(|&a, &b| natural[a].total_cmp(&natural[b]));
    for (served, &i) in sharing.iter().enumerate() {
        let share = rest / (sharing.len() - served) as f64;
        widths[i] = natural[i].min(share).max(size * 2.0);
        rest -= widths[i];
    }
    widths
}

#[cfg(test)]
mod tests {
    use super::*;

    fn block(rows: usize) -> Block {
        let cells: Vec<Vec<String>> = (0..rows).map(|i| vec![i.to_string()]).collect();
        table("T", &[fixed("n")], &cells, 40.0, 2.2)
    }

    fn texts(canvas: &Canvas, text: &str) -> usize {
        let labels = canvas.shapes.iter().filter(|s| matches!(s, crate::draw::Shape::Label(l) if l.text == text));
        labels.count()
    }

    #[test]
    fn a_long_table_flows_over_the_columns_with_its_head_repeated() {
        let mut page = Canvas::default();
        let one = block(30).height();
        let end = flow(&mut page, (0.0, 0.0), 50.0, 3, vec![block(30)]);
        assert_eq!(texts(&page, "T"), 3);
        assert!((0..30).all(|i| texts(&page, &i.to_string()) == 1));
        assert!(end < one / 2.0);
    }

    #[test]
    fn a_stack_keeps_every_row_in_one_column() {
        let mut page = Canvas::default();
        stack(&mut page, (0.0, 0.0), vec![block(5), block(7)]);
        assert_eq!(texts(&page, "T"), 2);
        assert_eq!(texts(&page, "4"), 2);
    }
}
