//! The drawing model: what is on the paper, in millimetres, x to the right and y down.
//!
//! Rectangles, strokes and labels, in the order they are laid down. Every choice of place, size and wording is made before
//! a drawing gets here; a writer (`svg`) only spells it out. Floats are welcome here: nothing on paper decides whether
//! something fits in wood.

use super::text;
use crate::markup::clean;

/// A place on the paper, millimetres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    pub x: f64,
    pub y: f64,
}

/// A point at (`x`, `y`).
pub(crate) const fn point(x: f64, y: f64) -> Point {
    Point { x, y }
}

/// An upright box on the paper, millimetres; (`x`, `y`) is its upper left corner.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Frame {
    pub x: f64,
    pub y: f64,
    pub width: f64,
    pub height: f64,
}

impl Frame {
    /// The right side.
    pub fn right(&self) -> f64 {
        self.x + self.width
    }

    /// The lower side.
    pub fn bottom(&self) -> f64 {
        self.y + self.height
    }

    /// The middle.
    pub fn centre(&self) -> Point {
        point(self.x + self.width / 2.0, self.y + self.height / 2.0)
    }

    /// True when the two boxes share more than their sides; a micrometre is forgiven, for the floats' sake.
    pub fn overlaps(&self, other: &Frame) -> bool {
        const SLACK: f64 = 0.001;
        self.x + SLACK < other.right()
            && other.x + SLACK < self.right()
            && self.y + SLACK < other.bottom()
            && other.y + SLACK < self.bottom()
    }

    /// True when `other` lies inside, sides included; a micrometre is forgiven.
    pub fn contains(&self, other: &Frame) -> bool {
        const SLACK: f64 = 0.001;
        self.x <= other.x + SLACK
            && self.y <= other.y + SLACK
            && other.right() <= self.right() + SLACK
            && other.bottom() <= self.bottom() + SLACK
    }

    /// The box grown by `by` on every side.
    pub(crate) fn grown(&self, by: f64) -> Frame {
        Frame { x: self.x - by, y: self.y - by, width: self.width + 2.0 * by, height: self.height + 2.0 * by }
    }

    /// The box drawn in by `by` on every side, never less than nothing.
    pub(crate) fn inset(&self, by: f64) -> Frame {
        self.drawn_in(by, by)
    }

    /// The box drawn in by `dx` on its left and right and by `dy` above and below, never less than nothing.
    pub(crate) fn drawn_in(&self, dx: f64, dy: f64) -> Frame {
        let dx = dx.min(self.width / 2.0);
        let dy = dy.min(self.height / 2.0);
        Frame { x: self.x + dx, y: self.y + dy, width: self.width - 2.0 * dx, height: self.height - 2.0 * dy }
    }
}

/// What a line is drawn with. Colour never carries a meaning alone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ink {
    /// Soft pencil: outlines, saw lines, words.
    Pencil,
    /// Hard pencil: hatching and rules.
    Faint,
    /// Blue pencil: dimensions.
    Blue,
    /// Red chalk: the marked end and edge, what is kept.
    Chalk,
}

/// What an area is laid with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fill {
    /// Bare paper: what is used.
    Paper,
    /// Kraft brown: what is lost.
    Kraft,
}

/// How a line is broken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dash {
    Solid,
    Dashed,
    Dotted,
}

/// A line's ink, width in millimetres, and breaks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pen {
    pub ink: Ink,
    pub width: f64,
    pub dash: Dash,
}

impl Pen {
    /// An unbroken line.
    pub(crate) const fn solid(ink: Ink, width: f64) -> Pen {
        Pen { ink, width, dash: Dash::Solid }
    }
}

/// Which side of a label its given place is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    Left,
    Middle,
    Right,
}

/// A line of text and the box it takes up.
#[derive(Clone, Debug, PartialEq)]
pub struct Label {
    /// Printable text; markup is the writer's business.
    pub text: String,
    /// Em size, millimetres.
    pub size: f64,
    pub bold: bool,
    pub ink: Ink,
    /// Which point of the box stays put when another font is narrower.
    pub anchor: Anchor,
    /// The box, measured in a wide font: no common one prints outside it.
    pub frame: Frame,
    /// Laid on a patch of paper, so that lines below do not run through it.
    pub backed: bool,
    /// A thin line around the box: the mark of a cut number.
    pub boxed: bool,
}

impl Label {
    /// A plain label whose box has its upper side at `top` and its `anchor` side (or middle) at `x`.
    pub(crate) fn new(text: &str, size: f64, ink: Ink, anchor: Anchor, x: f64, top: f64) -> Label {
        Label::styled(text, size, false, ink, anchor, x, top)
    }

    /// As [`Label::new`], in bold.
    pub(crate) fn bold(text: &str, size: f64, ink: Ink, anchor: Anchor, x: f64, top: f64) -> Label {
        Label::styled(text, size, true, ink, anchor, x, top)
    }

    fn styled(text: &str, size: f64, bold: bool, ink: Ink, anchor: Anchor, x: f64, top: f64) -> Label {
        let text = clean(text);
        let width = text::width(&text, size, bold);
        let left = match anchor {
            Anchor::Left => x,
            Anchor::Middle => x - width / 2.0,
            Anchor::Right => x - width,
        };
        let frame = Frame { x: left, y: top, width, height: size * text::LINE };
        Label { text, size, bold, ink, anchor, frame, backed: false, boxed: false }
    }

    /// The same label on a patch of paper.
    pub(crate) fn backed(mut self) -> Label {
        self.backed = true;
        self
    }

    /// A cut number: text centred in a box of its own at `centre`.
    pub(crate) fn tag(text: &str, size: f64, centre: Point) -> Label {
        let mut label = Label::bold(text, size, Ink::Pencil, Anchor::Middle, centre.x, 0.0);
        label.frame.height = size * TAG_LINE;
        label.frame.y = centre.y - label.frame.height / 2.0;
        label.frame.x -= TAG_PAD;
        label.frame.width += 2.0 * TAG_PAD;
        label.backed = true;
        label.boxed = true;
        label
    }

    /// What the box around it is drawn with, if it has one.
    pub(crate) fn box_pen(&self) -> Option<Pen> {
        self.boxed.then_some(Pen::solid(self.ink, 0.15))
    }

    /// Where the text itself is pinned: its anchor's x and its baseline.
    pub(crate) fn pin(&self) -> Point {
        let pad = if self.boxed { TAG_PAD } else { 0.0 };
        let x = match self.anchor {
            Anchor::Left => self.frame.x + pad,
            Anchor::Middle => self.frame.x + self.frame.width / 2.0,
            Anchor::Right => self.frame.right() - pad,
        };
        let line = if self.boxed { TAG_LINE } else { text::LINE };
        point(x, self.frame.y + self.size * (text::BASELINE + (line - text::LINE) / 2.0))
    }
}

/// Room left and right of a cut number inside its box, millimetres.
const TAG_PAD: f64 = 0.55;
/// Height of a cut number's box, in ems.
const TAG_LINE: f64 = 1.2;

/// One thing on the paper.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// A box, filled, outlined, or both.
    Rect { frame: Frame, fill: Option<Fill>, pen: Option<Pen> },
    /// Open lines drawn with one pen, each through two points or more.
    Strokes { lines: Vec<Vec<Point>>, pen: Pen },
    /// Text.
    Label(Label),
}

/// One sheet of paper.
#[derive(Clone, Debug, PartialEq)]
pub struct Drawing {
    /// What it is, in a line.
    pub title: String,
    /// What it shows, in words, for who cannot see it.
    pub description: String,
    /// Millimetres.
    pub width: f64,
    /// Millimetres.
    pub height: f64,
    /// In the order they are laid down.
    pub shapes: Vec<Shape>,
}

impl Drawing {
    /// The labels, in the order they are laid down.
    pub fn labels(&self) -> impl Iterator<Item = &Label> {
        self.shapes.iter().filter_map(|shape| match shape {
            Shape::Label(label) => Some(label),
            _ => None,
        })
    }

    /// The whole paper.
    pub fn page(&self) -> Frame {
        Frame { x: 0.0, y: 0.0, width: self.width, height: self.height }
    }
}

/// Shapes being gathered, before they have a place on a page.
#[derive(Clone, Debug, Default)]
pub(crate) struct Canvas {
    pub shapes: Vec<Shape>,
}

impl Canvas {
    pub fn rect(&mut self, frame: Frame, fill: Option<Fill>, pen: Option<Pen>) {
        self.shapes.push(Shape::Rect { frame, fill, pen });
    }

    pub fn line(&mut self, from: Point, to: Point, pen: Pen) {
        self.strokes(vec![vec![from, to]], pen);
    }

    /// Nothing at all when there is no line.
    pub fn strokes(&mut self, lines: Vec<Vec<Point>>, pen: Pen) {
        if !lines.is_empty() {
            self.shapes.push(Shape::Strokes { lines, pen });
        }
    }

    pub fn label(&mut self, label: Label) {
        if !label.text.is_empty() {
            self.shapes.push(Shape::Label(label));
        }
    }

    /// Lays another canvas down, moved by (`dx`, `dy`).
    pub fn place(&mut self, other: Canvas, dx: f64, dy: f64) {
        let moved = |p: &mut Point| {
            p.x += dx;
            p.y += dy;
        };
        for mut shape in other.shapes {
            match &mut shape {
                Shape::Rect { frame, .. } => {
                    frame.x += dx;
                    frame.y += dy;
                }
                Shape::Strokes { lines, .. } => lines.iter_mut().flatten().for_each(moved),
                Shape::Label(label) => {
                    label.frame.x += dx;
                    label.frame.y += dy;
                }
            }
            self.shapes.push(shape);
        }
    }
}
