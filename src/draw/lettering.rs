//! The words of a picture: cut numbers, names of pieces, dimensions; each where there is room for it.
//!
//! What fits at its place is written there; what does not gets a short mark beside the stock and a leader line to its
//! place, and the tables of the sheet say the rest. Invariant: no two labels overlap.

use super::figure::Scale;
use super::figures::DrawOptions;
use super::model::{Anchor, Canvas, Frame, Ink, Label, Pen, Point, point};
use super::placer::{Placer, spread_in_rows};
use super::text;
use super::view::{Piece, Span, View};
use crate::measure::Length;
use crate::plan::{Cut, CutKind, StockKind};

/// Em sizes, millimetres.
const LARGE: f64 = 2.5;
const SMALL: f64 = 2.05;
const TAG: f64 = 2.1;
/// Height of a row of marks beside the stock.
const ROW: f64 = 3.5;
/// From the stock to the first row of marks.
const ARM: f64 = 3.4;
/// How far a mark may stand beyond the stock's ends.
const OVERHANG: f64 = 6.0;
/// Thin leader and extension lines.
const LEADER: Pen = Pen::solid(Ink::Pencil, 0.13);
const DIMENSION: Pen = Pen::solid(Ink::Blue, 0.16);

/// The words, and how far they reach above and below the far edge of the stock.
pub(crate) struct Words {
    pub canvas: Canvas,
    pub above: f64,
    pub below: f64,
}

/// A mark that stands beside the stock.
struct Callout {
    /// What it points at.
    to: Point,
    label: Label,
    above: bool,
}

struct Letterer<'a> {
    view: &'a View<'a>,
    options: &'a DrawOptions,
    scale: Scale,
    placer: Placer,
    labels: Vec<Label>,
    callouts: Vec<Callout>,
    lines: Canvas,
}

/// Letters the picture of a piece of stock.
pub(crate) fn letter(view: &View<'_>, options: &DrawOptions, scale: Scale) -> Words {
    let mut letterer = Letterer {
        view,
        options,
        scale,
        placer: Placer::default(),
        labels: Vec::new(),
        callouts: Vec::new(),
        lines: Canvas::default(),
    };
    letterer.cut_numbers();
    letterer.pieces();
    letterer.kept();
    letterer.strip_widths();
    letterer.defects();
    letterer.left_end();
    letterer.ruler();
    let above = letterer.marks_above();
    let caption = letterer.scale.height + 1.9;
    let marks = letterer.marks_below(caption + SMALL * text::LINE + 1.4);
    letterer.edge_caption(caption);
    let below = letterer.tape(marks);
    let mut canvas = letterer.lines;
    letterer.labels.into_iter().for_each(|label| canvas.label(label));
    Words { canvas, above, below }
}

impl Letterer<'_> {
    fn stock(&self) -> Frame {
        Frame { x: 0.0, y: 0.0, width: self.scale.width, height: self.scale.height }
    }

    /// Writes the label if its box is free.
    fn write(&mut self, label: Label) -> bool {
        let free = self.placer.is_free(&label.frame);
        if free {
            self.placer.take(label.frame);
            self.labels.push(label);
        }
        free
    }

    fn call_out(&mut self, to: Point, label: Label) {
        let above = to.y < self.scale.height / 2.0;
        self.callouts.push(Callout { to, label, above });
    }

    fn cut_numbers(&mut self) {
        let view = self.view;
        for cut in &view.cuts {
            let text = cut.number.to_string();
            let [from, to] = self.scale.saw_line(cut);
            if cut.cut == CutKind::Cross && view.spans(cut) {
                self.callouts.push(Callout { to: from, label: Label::tag(&text, TAG, from), above: true });
                continue;
            }
            let limits = Frame { x: 0.0, y: -1.3, width: self.scale.width, height: self.scale.height + 2.6 };
            let placed = tag_places(cut, from, to, &text).into_iter().any(|place| {
                let label = Label::tag(&text, TAG, place);
                limits.contains(&label.frame) && self.write(label)
            });
            if !placed {
                let middle = point((from.x + to.x) / 2.0, (from.y + to.y) / 2.0);
                self.call_out(middle, Label::tag(&text, TAG, middle));
            }
        }
    }

    fn pieces(&mut self) {
        let view = self.view;
        let mut outside: Vec<&Piece> = Vec::new();
        for piece in &view.pieces {
            let frame = self.scale.frame(&piece.at).inset(0.5);
            let wordings = piece_wordings(piece, self.options);
            if !self.write_block(&frame, &wordings, Ink::Pencil) {
                outside.push(piece);
            }
        }
        let with_names = outside.len() <= 8;
        for piece in outside {
            let named = format!("{} {}", piece.mark, piece.name);
            let brief = with_names && text::width(&named, SMALL, true) <= 26.0;
            let at = self.scale.frame(&piece.at).centre();
            let text = if brief { &named } else { &piece.mark };
            self.call_out(at, Label::bold(text, SMALL, Ink::Pencil, Anchor::Middle, at.x, at.y).backed());
        }
    }

    fn kept(&mut self) {
        let view = self.view;
        for kept in &view.kept {
            let frame = self.scale.frame(&kept.at).inset(0.9);
            let size = self.options.size(kept.at.length, kept.at.width);
            let mark = &kept.mark;
            let wordings = [
                vec![format!("{mark} keep {size}")],
                vec![format!("{mark} keep"), size],
                vec![format!("{mark} keep")],
                vec![mark.clone()],
            ];
            if !self.write_block(&frame, &wordings, Ink::Chalk) {
                let at = self.scale.frame(&kept.at).centre();
                let text = format!("{mark} keep");
                self.call_out(at, Label::bold(&text, SMALL, Ink::Chalk, Anchor::Middle, at.x, at.y).backed());
            }
        }
    }

    /// Writes the fullest of the wordings that finds room in the box; false when none does.
    fn write_block(&mut self, frame: &Frame, wordings: &[Vec<String>], ink: Ink) -> bool {
        for lines in wordings {
            for size in [LARGE, SMALL] {
                let height = size * text::LINE * lines.len() as f64;
                let width = lines.iter().map(|line| text::width(line, size, true)).fold(0.0, f64::max);
                if width > frame.width || height > frame.height {
                    continue;
                }
                for (x, y) in block_places(frame, width, height) {
                    let labels: Vec<Label> = lines
                        .iter()
                        .enumerate()
                        .map(|(i, line)| {
                            let top = y + size * text::LINE * i as f64;
                            if i == 0 {
                                Label::bold(line, size, ink, Anchor::Middle, x, top).backed()
                            } else {
                                Label::new(line, size, ink, Anchor::Middle, x, top).backed()
                            }
                        })
                        .collect();
                    if labels.iter().all(|label| self.placer.is_free(&label.frame)) {
                        labels.into_iter().for_each(|label| {
                            self.write(label);
                        });
                        return true;
                    }
                }
            }
        }
        false
    }

    /// The width of every strip of a board, at one of its ends, where there is room.
    fn strip_widths(&mut self) {
        let view = self.view;
        for strip in &view.strips {
            let frame = self.scale.frame(strip);
            let text = self.options.fine(strip.width);
            let width = text::width(&text, SMALL, false);
            let free_ends = free_runs(view, strip, self.scale);
            for (low, high) in free_ends {
                if high - low < width + 2.4 || frame.height < SMALL * text::LINE + 0.6 {
                    continue;
                }
                let x = high - width - 2.0;
                let top = frame.centre().y - SMALL * text::LINE / 2.0;
                let label = Label::new(&text, SMALL, Ink::Blue, Anchor::Left, x + 1.2, top).backed();
                if self.write(label) {
                    self.lines.strokes(upright_dimension(x + 0.5, frame.y + 0.2, frame.bottom() - 0.2), DIMENSION);
                    break;
                }
            }
        }
    }

    /// `d1`, `d2`, ... beside each defect, where there is room; the table says where they lie in any case.
    fn defects(&mut self) {
        let view = self.view;
        for (i, defect) in view.defects.iter().enumerate() {
            let span = Span { x: defect.x, y: defect.y, length: defect.length, width: defect.width };
            let frame = self.scale.frame(&span);
            let text = format!("d{}", i + 1);
            let (width, height) = (text::width(&text, SMALL, false), SMALL * text::LINE);
            let centre = frame.centre();
            let places = [
                (frame.right() + 0.4, centre.y - height / 2.0),
                (frame.x - 0.4 - width, centre.y - height / 2.0),
                (centre.x - width / 2.0, frame.y - 0.3 - height),
                (centre.x - width / 2.0, frame.bottom() + 0.3),
                (centre.x - width / 2.0, centre.y - height / 2.0),
            ];
            let stock = self.stock();
            for (x, top) in places {
                let label = Label::new(&text, SMALL, Ink::Pencil, Anchor::Left, x, top).backed();
                if stock.contains(&label.frame) && self.write(label) {
                    break;
                }
            }
        }
    }

    fn left_end(&mut self) {
        let height = SMALL * text::LINE;
        let top = self.scale.height / 2.0 - height;
        for (i, word) in ["left", "end"].iter().enumerate() {
            let label = Label::new(word, SMALL, Ink::Chalk, Anchor::Right, -1.7, top + height * i as f64);
            self.placer.take(label.frame);
            self.labels.push(label);
        }
    }

    /// At the right end: the width, and the rips from end to end, measured from the reference edge.
    fn ruler(&mut self) {
        let view = self.view;
        let (x, bottom) = (self.scale.width + 1.6, self.scale.height);
        self.lines.strokes(upright_dimension(x, 0.0, bottom), DIMENSION);
        let mut rips: Vec<&&Cut<Length>> =
            view.cuts.iter().filter(|cut| cut.cut == CutKind::Rip && view.spans(cut)).collect();
        if rips.is_empty() {
            let top = bottom / 2.0 - LARGE * text::LINE / 2.0;
            let label = Label::new(&self.options.fine(view.width), LARGE, Ink::Blue, Anchor::Left, x + 1.0, top);
            self.placer.take(label.frame);
            self.labels.push(label);
            return;
        }
        rips.sort_by_key(|cut| cut.at);
        rips.dedup_by_key(|cut| cut.at);
        let mut marks: Vec<(f64, String)> = vec![(0.0, self.options.fine(view.width)), (bottom, "0".to_string())];
        marks.extend(rips.iter().map(|cut| (bottom - self.scale.of(cut.at), view.mark_at(cut, self.options))));
        marks.sort_by(|a, b| a.0.total_cmp(&b.0));
        let wishes: Vec<f64> = marks.iter().map(|(y, _)| *y).collect();
        let height = SMALL * text::LINE;
        let sizes = vec![height; marks.len()];
        let reach = (height * marks.len() as f64 / 2.0 - bottom / 2.0).max(0.0) + 1.2;
        let (places, _) = spread_in_rows(&wishes, &sizes, 0.1, -reach, bottom + reach);
        for ((y, text), (place, row)) in marks.iter().zip(places) {
            let left = x + 3.2 + row as f64 * 14.0;
            self.lines.line(point(x - 0.6, *y), point(x + 0.6, *y), DIMENSION);
            self.lines.line(point(x + 0.6, *y), point(left - 0.3, place), DIMENSION);
            let label = Label::new(text, SMALL, Ink::Blue, Anchor::Left, left, place - height / 2.0);
            self.placer.take(label.frame);
            self.labels.push(label);
        }
    }

    /// The rows of marks above the stock; returns how high they reach.
    fn marks_above(&mut self) -> f64 {
        let rows = self.lay_marks(true, |row| -ARM - ROW * row as f64 - ROW / 2.0);
        if rows == 0 { 1.5 } else { ARM + ROW * rows as f64 }
    }

    /// The rows of marks below the stock from `top` down; returns where they end.
    fn marks_below(&mut self, top: f64) -> f64 {
        let rows = self.lay_marks(false, |row| top + ROW * row as f64 + ROW / 2.0);
        top + ROW * rows as f64
    }

    /// Spreads the marks of one side in rows centred at `middle(row)`, with leader lines; returns the number of rows.
    fn lay_marks(&mut self, above: bool, middle: impl Fn(usize) -> f64) -> usize {
        let (mut these, others): (Vec<Callout>, Vec<Callout>) =
            std::mem::take(&mut self.callouts).into_iter().partition(|callout| callout.above == above);
        self.callouts = others;
        if these.is_empty() {
            return 0;
        }
        these.sort_by(|a, b| a.to.x.total_cmp(&b.to.x).then(a.to.y.total_cmp(&b.to.y)));
        let wishes: Vec<f64> = these.iter().map(|callout| callout.to.x).collect();
        let sizes: Vec<f64> = these.iter().map(|callout| callout.label.frame.width).collect();
        let (places, rows) = spread_in_rows(&wishes, &sizes, 0.7, -OVERHANG, self.scale.width + OVERHANG);
        for (callout, (x, row)) in these.into_iter().zip(places) {
            let mut label = callout.label;
            label.frame.x = x - label.frame.width / 2.0;
            label.frame.y = middle(row) - label.frame.height / 2.0;
            let end = if above { label.frame.bottom() } else { label.frame.y };
            self.lines.line(callout.to, point(x, end), LEADER);
            if self.stock().inset(0.3).contains(&Frame { x: callout.to.x, y: callout.to.y, width: 0.0, height: 0.0 }) {
                let dot = Frame { x: callout.to.x - 0.3, y: callout.to.y - 0.3, width: 0.6, height: 0.6 };
                self.lines.rect(dot, Some(super::model::Fill::Paper), Some(LEADER));
            }
            self.placer.take(label.frame);
            self.labels.push(label);
        }
        rows
    }

    /// Names the reference edge, right below it.
    fn edge_caption(&mut self, top: f64) {
        let text = "reference edge, towards you";
        let label = Label::new(text, SMALL, Ink::Chalk, Anchor::Left, 1.0, top).backed();
        self.placer.take(label.frame);
        self.labels.push(label);
    }

    /// The tape: every cut across the whole stock in one pull from the left end. Returns where its last line ends.
    fn tape(&mut self, top: f64) -> f64 {
        let view = self.view;
        let y = top + 1.0;
        let mut cuts: Vec<&&Cut<Length>> =
            view.cuts.iter().filter(|cut| cut.cut == CutKind::Cross && view.spans(cut)).collect();
        cuts.sort_by_key(|cut| cut.at);
        cuts.dedup_by_key(|cut| cut.at);
        let mut marks: Vec<(f64, String)> = vec![(0.0, "0".to_string())];
        marks.extend(cuts.iter().map(|cut| (self.scale.of(cut.at), view.mark_at(cut, self.options))));
        marks.push((self.scale.width, self.options.fine(view.length)));
        self.lines.line(point(0.0, y), point(self.scale.width, y), DIMENSION);
        let wishes: Vec<f64> = marks.iter().map(|(x, _)| *x).collect();
        let sizes: Vec<f64> = marks.iter().map(|(_, text)| text::width(text, LARGE, false)).collect();
        let (places, rows) = spread_in_rows(&wishes, &sizes, 1.0, -OVERHANG, self.scale.width + OVERHANG);
        for ((x, text), (place, row)) in marks.iter().zip(places) {
            let label_top = y + 2.2 + row as f64 * (LARGE * text::LINE + 0.5);
            self.lines.line(point(*x, self.scale.height + 1.5), point(*x, y + 0.8), Pen { width: 0.1, ..DIMENSION });
            self.lines.line(point(*x - 0.5, y + 0.5), point(*x + 0.5, y - 0.5), Pen { width: 0.3, ..DIMENSION });
            self.lines.line(point(*x, y + 0.8), point(place, label_top), DIMENSION);
            let label = Label::new(text, LARGE, Ink::Blue, Anchor::Middle, place, label_top).backed();
            self.placer.take(label.frame);
            self.labels.push(label);
        }
        y + 2.2 + rows as f64 * (LARGE * text::LINE + 0.5)
    }
}

/// Where a cut's number may straddle its line, best first.
fn tag_places(cut: &Cut<Length>, from: Point, to: Point, text: &str) -> Vec<Point> {
    let size = Label::tag(text, TAG, from).frame;
    match cut.cut {
        CutKind::Cross if to.y - from.y < size.height => Vec::new(),
        CutKind::Cross => {
            let half = size.height / 2.0 + 0.2;
            [from.y + half, (from.y + to.y) / 2.0, to.y - half].map(|y| point(from.x, y)).to_vec()
        }
        CutKind::Rip if to.x - from.x < size.width => Vec::new(),
        CutKind::Rip => {
            let half = size.width / 2.0 + 0.4;
            let steps = (0..8).map(|k| f64::from(k) * (size.width + 0.8));
            let from_left = steps.clone().map(|step| from.x + half + step);
            let from_right = steps.map(|step| to.x - half - step);
            let inside = |x: &f64| from.x + half - 0.3 <= *x && *x <= to.x - half + 0.3;
            from_left.chain(from_right).filter(inside).map(|x| point(x, from.y)).collect()
        }
    }
}

/// Centres (x) and tops (y) that a block of text may take in a box: the middle first, then towards the ends.
fn block_places(frame: &Frame, width: f64, height: f64) -> Vec<(f64, f64)> {
    let (spare_x, spare_y) = (frame.width - width, frame.height - height);
    let mut places = Vec::new();
    for y_share in [0.5, 0.0, 1.0, 0.25, 0.75] {
        for x_share in [0.5, 0.0, 1.0, 0.25, 0.75, 0.1, 0.9, 0.4, 0.6] {
            places.push((frame.x + width / 2.0 + spare_x * x_share, frame.y + spare_y * y_share));
        }
    }
    places
}

/// A piece in fewer and fewer words.
fn piece_wordings(piece: &Piece, options: &DrawOptions) -> Vec<Vec<String>> {
    let title = format!("{} {}", piece.mark, piece.name);
    let blank = options.size(piece.at.length, piece.at.width);
    let Some(net) = piece.net.filter(|net| *net != piece.at) else {
        return vec![
            vec![title.clone(), blank.clone()],
            vec![format!("{title} \u{b7} {blank}")],
            vec![title],
            vec![piece.mark.clone()],
        ];
    };
    let finished = format!("finished {}", options.size(net.length, net.width));
    vec![
        vec![title.clone(), format!("blank {blank}"), finished.clone()],
        vec![title.clone(), format!("blank {blank}, {finished}")],
        vec![format!("{title} \u{b7} blank {blank}, {finished}")],
        vec![title.clone(), format!("blank {blank}")],
        vec![format!("{title} \u{b7} {blank}")],
        vec![title],
        vec![piece.mark.clone()],
    ]
}

/// The stretches of a strip where no blank lies, the right end first, in paper coordinates.
fn free_runs(view: &View<'_>, strip: &Span, scale: Scale) -> Vec<(f64, f64)> {
    if view.used.kind != StockKind::Board {
        return Vec::new();
    }
    let (low, high) = (strip.x, strip.x + strip.length);
    let mut runs = Vec::new();
    let mut reached = low;
    let mut blanks: Vec<&Span> = view
        .pieces
        .iter()
        .map(|piece| &piece.at)
        .filter(|at| strip.y <= at.y && at.y < strip.y + strip.width && low <= at.x && at.x < high)
        .collect();
    blanks.sort_by_key(|at| at.x);
    for at in blanks {
        runs.push((scale.of(reached) + 0.6, scale.of(at.x) - 0.3));
        reached = at.x + at.length;
    }
    runs.push((scale.of(reached) + 0.6, scale.of(high) - 0.6));
    runs.reverse();
    runs
}

/// An upright dimension line with a slanted tick at each end.
fn upright_dimension(x: f64, top: f64, bottom: f64) -> Vec<Vec<Point>> {
    let tick = |y: f64| vec![point(x - 0.45, y + 0.45), point(x + 0.45, y - 0.45)];
    vec![vec![point(x, top), point(x, bottom)], tick(top), tick(bottom)]
}
