//! Drawings as the pages of a PDF: to the scale of the paper, its words searchable, its face embedded.
//!
//! The second writer of the drawing model, beside `svg`; colours, dashes and places are the model's and `svg`'s own, so
//! that paper and screen show the same. Knows no wood and decides no place.

use krilla::color::rgb;
use krilla::geom::{PathBuilder, Point as At, Rect};
use krilla::metadata::Metadata;
use krilla::num::NormalizedF32;
use krilla::page::PageSettings;
use krilla::paint::{Fill as Paint, FillRule, LineJoin, Stroke, StrokeDash};
use krilla::surface::Surface;
use krilla::text::TextDirection;
use krilla::{Document, SerializeSettings};

use super::model::{Anchor, Drawing, Fill, Frame, Label, Pen, Point, Shape};
use super::svg::{dashes, fill_colour, ink_colour};
use super::{DrawError, font};

/// Points of a PDF to the millimetre.
const POINTS: f64 = 72.0 / 25.4;

/// One page a drawing, on paper of the model's own tint. Equal drawings give equal bytes.
pub(crate) fn write(title: &str, drawings: &[Drawing]) -> Result<Vec<u8>, DrawError> {
    write_on(Some(Fill::Paper), title, drawings)
}

/// As [`write`], on paper of this tint, or on the paper as it is.
pub(crate) fn write_on(tint: Option<Fill>, title: &str, drawings: &[Drawing]) -> Result<Vec<u8>, DrawError> {
    let failed = |what: String| DrawError::Picture { what };
    let mut document = Document::new_with(SerializeSettings::default());
    document.set_metadata(Metadata::new().title(title.to_owned()).language("en".to_owned()));
    for drawing in drawings {
        let (width, height) = (points(drawing.width), points(drawing.height));
        let size = PageSettings::from_wh(width, height)
            .ok_or_else(|| failed(format!("no page is {width} by {height} points")))?;
        let mut page = document.start_page_with(size);
        let mut surface = page.surface();
        let paper = Frame { x: 0.0, y: 0.0, width: drawing.width, height: drawing.height };
        if tint.is_some() {
            rect(&mut surface, &paper, tint, None);
        }
        for shape in &drawing.shapes {
            match shape {
                Shape::Rect { frame, fill, pen } => rect(&mut surface, frame, *fill, *pen),
                Shape::Strokes { lines, pen } => strokes(&mut surface, lines, *pen),
                Shape::Label(label) => label_text(&mut surface, label),
            }
        }
        surface.finish();
        page.finish();
    }
    document.finish().map_err(|error| failed(format!("{error:?}")))
}

fn points(millimetres: f64) -> f32 {
    (millimetres * POINTS) as f32
}

fn rect(surface: &mut Surface<'_>, frame: &Frame, fill: Option<Fill>, pen: Option<Pen>) {
    let sides = (points(frame.x), points(frame.y), points(frame.width), points(frame.height));
    // A box without an area shows nothing, on paper as on a screen.
    let Some(sides) = Rect::from_xywh(sides.0, sides.1, sides.2, sides.3) else { return };
    let mut path = PathBuilder::new();
    path.push_rect(sides);
    if let Some(path) = path.finish() {
        surface.set_fill(fill.map(|fill| paint(fill_colour(fill))));
        surface.set_stroke(pen.map(stroke));
        surface.draw_path(&path);
    }
}

fn strokes(surface: &mut Surface<'_>, lines: &[Vec<Point>], pen: Pen) {
    let mut path = PathBuilder::new();
    for line in lines {
        for (i, at) in line.iter().enumerate() {
            let (x, y) = (points(at.x), points(at.y));
            if i == 0 { path.move_to(x, y) } else { path.line_to(x, y) }
        }
    }
    if let Some(path) = path.finish() {
        surface.set_fill(None);
        surface.set_stroke(Some(stroke(pen)));
        surface.draw_path(&path);
    }
}

fn label_text(surface: &mut Surface<'_>, label: &Label) {
    if label.backed {
        rect(surface, &label.frame, Some(Fill::Paper), label.box_pen());
    }
    let cut = font::lettering(label.bold);
    let pin = label.pin();
    let x = match label.anchor {
        Anchor::Left => pin.x,
        Anchor::Middle => pin.x - cut.advance(&label.text, label.size) / 2.0,
        Anchor::Right => pin.x - cut.advance(&label.text, label.size),
    };
    surface.set_fill(Some(paint(ink_colour(label.ink))));
    surface.set_stroke(None);
    let at = At::from_xy(points(x), points(pin.y));
    surface.draw_text(at, cut.font.clone(), points(label.size), &label.text, false, TextDirection::Auto);
}

fn stroke(pen: Pen) -> Stroke {
    let dash = dashes(pen.dash);
    let array: Vec<f32> = dash.iter().map(|length| points(*length)).collect();
    Stroke {
        paint: colour(ink_colour(pen.ink)).into(),
        width: points(pen.width),
        line_join: LineJoin::Round,
        dash: (!array.is_empty()).then_some(StrokeDash { array, offset: 0.0 }),
        ..Stroke::default()
    }
}

fn paint(text: &str) -> Paint {
    Paint { paint: colour(text).into(), rule: FillRule::NonZero, opacity: NormalizedF32::ONE }
}

/// A colour as the SVG writer spells it, `#rrggbb`.
fn colour(text: &str) -> rgb::Color {
    let channel = |at: usize| u8::from_str_radix(&text[at..at + 2], 16).expect("colours are six hex digits");
    rgb::Color::new(channel(1), channel(3), channel(5))
}
