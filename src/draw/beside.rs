//! What stands beside the stock: marks with leader lines, the tape below, the ruler at the right, the chalked words.
//!
//! The second half of lettering: `lettering` has written what fits at its place and left the rest as callouts. Invariant:
//! every row here keeps clear of the rows before it.

use super::lettering::{Callout, DIMENSION, LARGE, LEADER, Letterer, OVERHANG, SMALL};
use super::model::{Anchor, Fill, Frame, Ink, Label, Pen, Point, point};
use super::placer::{spread, spread_in_rows};
use super::text;
use crate::measure::Length;
use crate::plan::{Cut, CutKind};

/// Height of a row of marks beside the stock.
const ROW: f64 = 3.5;
/// From the stock to the first row of marks.
const ARM: f64 = 3.4;

impl Letterer<'_> {
    pub fn left_end(&mut self) {
        let height = SMALL * text::LINE;
        let top = self.scale.height / 2.0 - height;
        for (i, word) in ["left", "end"].iter().enumerate() {
            let label = Label::new(word, SMALL, Ink::Chalk, Anchor::Right, -1.7, top + height * i as f64);
            self.placer.take(label.frame);
            self.labels.push(label);
        }
    }

    /// At the right end: the width, and the rips from end to end, measured from the reference edge, if there is room for
    /// them all.
    pub fn ruler(&mut self) {
        const REACH: f64 = 2.5;
        let view = self.view;
        let (x, bottom) = (self.scale.width + 1.6, self.scale.height);
        self.lines.strokes(upright_dimension(x, 0.0, bottom), DIMENSION);
        let rips = view.cuts.iter().filter(|cut| cut.cut == CutKind::Rip && view.spans(cut));
        let mut marks: Vec<(f64, String)> =
            rips.map(|cut| (bottom - self.scale.of(cut.at), view.mark_at(cut, self.options))).collect();
        marks.extend([(0.0, self.options.fine(view.width)), (bottom, "0".to_string())]);
        marks.sort_by(|a, b| a.0.total_cmp(&b.0).then_with(|| a.1.cmp(&b.1)));
        marks.dedup();
        let height = SMALL * text::LINE;
        let wishes: Vec<f64> = marks.iter().map(|(y, _)| *y).collect();
        let places = spread(&wishes, &vec![height; marks.len()], 0.1, -REACH, bottom + REACH);
        let Some(places) = places.filter(|places| places.len() > 2) else {
            let top = bottom / 2.0 - LARGE * text::LINE / 2.0;
            let label = Label::new(&self.options.fine(view.width), LARGE, Ink::Blue, Anchor::Left, x + 1.0, top);
            self.placer.take(label.frame);
            self.labels.push(label);
            return;
        };
        for ((y, text), place) in marks.iter().zip(places) {
            let left = x + 3.2;
            self.lines.line(point(x - 0.6, *y), point(x + 0.6, *y), DIMENSION);
            self.lines.line(point(x + 0.6, *y), point(left - 0.3, place), DIMENSION);
            let label = Label::new(text, SMALL, Ink::Blue, Anchor::Left, left, place - height / 2.0);
            self.placer.take(label.frame);
            self.labels.push(label);
        }
    }

    /// The rows of marks above the stock; returns how high they reach.
    pub fn marks_above(&mut self) -> f64 {
        let rows = self.lay_marks(true, |row| -ARM - ROW * row as f64 - ROW / 2.0);
        if rows == 0 { 1.5 } else { ARM + ROW * rows as f64 }
    }

    /// The rows of marks below the stock from `top` down; returns where they end.
    pub fn marks_below(&mut self, top: f64) -> f64 {
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
            if !above {
                self.run_down.push((x.min(callout.to.x), x.max(callout.to.x)));
            }
            if self.stock().inset(0.3).contains(&Frame { x: callout.to.x, y: callout.to.y, width: 0.0, height: 0.0 }) {
                let dot = Frame { x: callout.to.x - 0.3, y: callout.to.y - 0.3, width: 0.6, height: 0.6 };
                self.lines.rect(dot, Some(Fill::Paper), Some(LEADER));
            }
            self.placer.take(label.frame);
            self.labels.push(label);
        }
        rows
    }

    /// Names the reference edge, right below it, where the fewest lines run down.
    pub fn edge_caption(&mut self, top: f64) {
        if !self.view.has_reference_edge() {
            return;
        }
        let text = "reference edge, towards you";
        let width = text::width(text, SMALL, false);
        let view = self.view;
        let tape = view.cuts.iter().filter(|cut| cut.cut == CutKind::Cross && view.spans(cut));
        let tape = tape.map(|cut| self.scale.of(cut.at)).map(|x| (x, x));
        let crossings: Vec<(f64, f64)> = self.run_down.iter().copied().chain(tape).collect();
        let places = (0..40).map(|i| 1.0 + f64::from(i) * (self.scale.width - width - 2.0).max(0.0) / 39.0);
        let crossed = |x: &f64| crossings.iter().filter(|(a, b)| *a < x + width + 0.5 && x - 0.5 < *b).count();
        let x = places.min_by_key(crossed).unwrap_or(1.0);
        let label = Label::new(text, SMALL, Ink::Chalk, Anchor::Left, x, top).backed();
        self.placer.take(label.frame);
        self.labels.push(label);
    }

    /// The tape: every cut across the whole stock in one pull from the left end. Returns where its last line ends.
    pub fn tape(&mut self, top: f64) -> f64 {
        let view = self.view;
        let y = top + 1.0;
        let mut cuts: Vec<&&Cut<Length>> =
            view.cuts.iter().filter(|cut| cut.cut == CutKind::Cross && view.spans(cut)).collect();
        cuts.sort_by_key(|cut| cut.at);
        cuts.dedup_by_key(|cut| cut.at);
        let mut marks: Vec<(f64, String)> = vec![(0.0, "0".to_string())];
        marks.extend(cuts.iter().map(|cut| (self.scale.of(cut.at), view.mark_at(cut, self.options))));
        marks.push((self.scale.width, self.options.fine(view.length)));
        marks.dedup();
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

/// An upright dimension line with a slanted tick at each end.
pub(crate) fn upright_dimension(x: f64, top: f64, bottom: f64) -> Vec<Vec<Point>> {
    let tick = |y: f64| vec![point(x - 0.45, y + 0.45), point(x + 0.45, y - 0.45)];
    vec![vec![point(x, top), point(x, bottom)], tick(top), tick(bottom)]
}
