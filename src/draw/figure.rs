//! The picture of one piece of stock in true proportion, with everything the maker reads at the wood.
//!
//! Lays down the ground (waste, blanks, what is kept, defects), the saw lines and the chalk marks, and hands the words to
//! `lettering`, which finds them room. Coordinates are local: (0, 0) is the far left corner of the stock, the reference
//! edge is the lower side, since the maker stands at it. Tables and page are `sheet`'s business.

use super::figures::DrawOptions;
use super::hatch;
use super::lettering;
use super::model::{Canvas, Dash, Fill, Frame, Ink, Pen, Point, point};
use super::view::{Span, View};
use crate::measure::Length;
use crate::plan::{Cut, CutKind, Station};

/// A picture and how far it reaches beyond the stock it shows.
pub(crate) struct Figure {
    pub canvas: Canvas,
    /// Height of what stands above the far edge.
    pub above: f64,
    /// Height from the far edge down to the last word.
    pub below: f64,
    /// Millimetres on paper for a millimetre of wood.
    pub scale: Scale,
}

/// From wood to paper.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Scale {
    /// Millimetres on paper a tick.
    per_tick: f64,
    /// The stock on paper.
    pub width: f64,
    pub height: f64,
}

impl Scale {
    /// The largest scale at which a piece fits the room.
    pub fn to_fit(length: Length, width: Length, room_width: f64, room_height: f64) -> Scale {
        let (l, w) = (length.ticks() as f64, width.ticks() as f64);
        Scale::new(length, width, (room_width / l).min(room_height / w))
    }

    /// A given scale, millimetres on paper a tick.
    pub fn new(length: Length, width: Length, per_tick: f64) -> Scale {
        Scale { per_tick, width: length.ticks() as f64 * per_tick, height: width.ticks() as f64 * per_tick }
    }

    /// Millimetres on paper for a length of wood.
    pub fn of(&self, length: Length) -> f64 {
        length.ticks() as f64 * self.per_tick
    }

    /// How many times smaller than the wood the picture is.
    pub fn reduction(&self) -> f64 {
        1.0 / (self.per_tick * Length::PER_MM as f64)
    }

    /// A rectangle of wood on paper: the reference edge is the lower side.
    pub fn frame(&self, at: &Span) -> Frame {
        let top = self.height - self.of(at.y + at.width);
        Frame { x: self.of(at.x), y: top, width: self.of(at.length), height: self.of(at.width) }
    }

    /// A saw line on paper, down the middle of its kerf, kept inside the stock.
    pub fn saw_line(&self, cut: &Cut<Length>) -> [Point; 2] {
        let middle = (self.of(cut.at) + self.of(cut.to)) / 2.0;
        let (from, to) = (self.of(cut.from_edge), self.of(cut.to_edge));
        match cut.cut {
            CutKind::Cross => {
                let x = middle.min(self.width);
                [point(x, self.height - to), point(x, self.height - from)]
            }
            CutKind::Rip => {
                let y = (self.height - middle).max(0.0);
                [point(from, y), point(to, y)]
            }
        }
    }
}

/// The pen of a saw line: rough crosscuts are heaviest, then rips, then final crosscuts.
pub(crate) fn saw_pen(station: Station, cut: CutKind) -> Pen {
    let width = match (station, cut) {
        (Station::RoughCrosscut, _) => 0.85,
        (Station::Rip, _) | (Station::Sheet, CutKind::Rip) => 0.5,
        (Station::Sheet, CutKind::Cross) => 0.4,
        (Station::FinalCrosscut | Station::Stick, _) => 0.28,
    };
    Pen::solid(Ink::Pencil, width)
}

/// The outline of a finished piece inside its blank.
pub(crate) const NET: Pen = Pen { ink: Ink::Blue, width: 0.2, dash: Dash::Dashed };
/// The outline of a blank.
pub(crate) const BLANK: Pen = Pen::solid(Ink::Pencil, 0.2);
/// The outline of what is kept.
pub(crate) const KEPT: Pen = Pen { ink: Ink::Chalk, width: 0.5, dash: Dash::Dashed };

/// Draws the picture no wider than `room_width` (the stock alone) and no higher than `room_height`.
pub(crate) fn draw(view: &View<'_>, options: &DrawOptions, room_width: f64, room_height: f64) -> Figure {
    let scale = Scale::to_fit(view.length, view.width, room_width, room_height);
    let mut canvas = Canvas::default();
    ground(&mut canvas, view, scale, 1.0);
    chalk(&mut canvas, view, scale);
    let words = lettering::letter(view, options, scale);
    canvas.place(words.canvas, 0.0, 0.0);
    Figure { canvas, above: words.above, below: words.below, scale }
}

/// The stock without words: waste, blanks, what is kept, defects, saw lines, outline; saw lines `weight` times as heavy
/// as on a sheet.
pub(crate) fn ground(canvas: &mut Canvas, view: &View<'_>, scale: Scale, weight: f64) {
    let outline = Frame { x: 0.0, y: 0.0, width: scale.width, height: scale.height };
    canvas.rect(outline, Some(Fill::Kraft), None);
    hatch::waste(canvas, &outline);
    for span in view.sections.iter().chain(&view.strips) {
        canvas.rect(scale.frame(span), None, Some(Pen::solid(Ink::Faint, 0.12)));
    }
    for kept in &view.kept {
        let frame = scale.frame(&kept.at);
        canvas.rect(frame, Some(Fill::Paper), None);
        canvas.rect(frame.inset(0.35), None, Some(KEPT));
    }
    for piece in &view.pieces {
        canvas.rect(scale.frame(&piece.at), Some(Fill::Paper), Some(BLANK));
    }
    for defect in view.defects {
        let span = Span { x: defect.x, y: defect.y, length: defect.length, width: defect.width };
        hatch::defect(canvas, &scale.frame(&span), defect);
    }
    for net in view.pieces.iter().filter_map(|piece| piece.net) {
        canvas.rect(scale.frame(&net), None, Some(NET));
    }
    for cut in &view.cuts {
        let [from, to] = scale.saw_line(cut);
        let pen = saw_pen(cut.station, cut.cut);
        canvas.line(from, to, Pen { width: pen.width * weight, ..pen });
    }
    canvas.rect(outline, None, Some(Pen::solid(Ink::Pencil, 0.35)));
}

/// The chalk marks of the measured stock: its left end and, but for sticks, its reference edge.
fn chalk(canvas: &mut Canvas, view: &View<'_>, scale: Scale) {
    hatch::chalk_line(canvas, point(-0.9, 0.0), point(-0.9, scale.height));
    if view.has_reference_edge() {
        hatch::chalk_line(canvas, point(0.0, scale.height + 0.9), point(scale.width, scale.height + 0.9));
    }
}
