//! Hatching: the lines that tell one kind of area from another in black and white, cut to a box.
//!
//! Pure geometry on paper plus the table of which pattern stands for which defect. Lines of one family share a grid over
//! the whole drawing, so neighbouring areas match up.

use super::model::{Canvas, Dash, Frame, Ink, Pen, Point, point};
use crate::pile::{Defect, DefectFace, DefectKind};

type Lines = Vec<Vec<Point>>;

/// Rising to the right by 45 degrees, `spacing` apart along x.
fn rising(frame: &Frame, spacing: f64) -> Lines {
    grid(frame.x + frame.y, frame.right() + frame.bottom(), spacing)
        .map(|c| {
            let (x0, x1) = (frame.x.max(c - frame.bottom()), frame.right().min(c - frame.y));
            vec![point(x0, c - x0), point(x1, c - x1)]
        })
        .collect()
}

/// Falling to the right by 45 degrees, `spacing` apart along x.
fn falling(frame: &Frame, spacing: f64) -> Lines {
    grid(frame.x - frame.bottom(), frame.right() - frame.y, spacing)
        .map(|c| {
            let (x0, x1) = (frame.x.max(c + frame.y), frame.right().min(c + frame.bottom()));
            vec![point(x0, x0 - c), point(x1, x1 - c)]
        })
        .collect()
}

fn level(frame: &Frame, spacing: f64) -> Lines {
    inside(frame.y, frame.height, spacing).map(|y| vec![point(frame.x, y), point(frame.right(), y)]).collect()
}

fn upright(frame: &Frame, spacing: f64) -> Lines {
    inside(frame.x, frame.width, spacing).map(|x| vec![point(x, frame.y), point(x, frame.bottom())]).collect()
}

/// Short dashes in staggered rows.
fn specks(frame: &Frame, spacing: f64) -> Lines {
    let mut lines = Lines::new();
    for (row, y) in inside(frame.y, frame.height, spacing).enumerate() {
        let stagger = if row % 2 == 0 { 0.0 } else { spacing / 2.0 };
        for x in inside(frame.x, frame.width, spacing) {
            let from = x + stagger - 0.2;
            if from >= frame.x && from + 0.4 <= frame.right() {
                lines.push(vec![point(from, y), point(from + 0.4, y)]);
            }
        }
    }
    lines
}

/// Ovals inside one another, as the rings around a knot.
fn rings(frame: &Frame, spacing: f64) -> Lines {
    const SIDES: usize = 24;
    let centre = frame.centre();
    let half = frame.width.min(frame.height) / 2.0;
    let count = ((half / spacing).floor() as usize).clamp(1, 4);
    (1..=count)
        .map(|ring| {
            let share = ring as f64 / count as f64;
            (0..=SIDES)
                .map(|i| {
                    let angle = (i % SIDES) as f64 / SIDES as f64 * std::f64::consts::TAU;
                    point(
                        centre.x + angle.cos() * frame.width / 2.0 * share,
                        centre.y + angle.sin() * frame.height / 2.0 * share,
                    )
                })
                .collect()
        })
        .collect()
}

/// A saw-tooth line from the left end to the right through the middle, and back up: a crack along the grain.
fn zigzags(frame: &Frame, spacing: f64) -> Lines {
    inside(frame.y, frame.height, spacing)
        .map(|y| {
            let swing = (spacing / 3.0).min(frame.height / 4.0);
            let steps = ((frame.width / 1.2).ceil() as usize).max(2);
            (0..=steps)
                .map(|i| {
                    let side = if i % 2 == 0 { -swing } else { swing };
                    point(frame.x + frame.width * i as f64 / steps as f64, y + side)
                })
                .collect()
        })
        .collect()
}

/// Small open circles.
fn bubbles(frame: &Frame, spacing: f64) -> Lines {
    let mut lines = Lines::new();
    let across = (frame.width.min(frame.height)).min(spacing * 0.6);
    for y in inside(frame.y, frame.height, spacing) {
        for x in inside(frame.x, frame.width, spacing) {
            let circle = Frame { x: x - across / 2.0, y: y - across / 2.0, width: across, height: across };
            lines.extend(rings(&circle, across));
        }
    }
    lines
}

/// Multiples of `spacing` strictly between `low` and `high`.
fn grid(low: f64, high: f64, spacing: f64) -> impl Iterator<Item = f64> {
    let first = (low / spacing).floor() as i64 + 1;
    let last = (high / spacing).ceil() as i64 - 1;
    (first..=last).map(move |i| i as f64 * spacing)
}

/// Evenly spread places inside a length, about `spacing` apart, at least one.
fn inside(start: f64, length: f64, spacing: f64) -> impl Iterator<Item = f64> {
    let count = ((length / spacing).round() as usize).max(1);
    (0..count).map(move |i| start + length * (i as f64 + 0.5) / count as f64)
}

/// The shading of trim and waste.
pub(crate) fn waste(canvas: &mut Canvas, frame: &Frame) {
    canvas.strokes(rising(frame, 1.9), Pen::solid(Ink::Faint, 0.1));
}

/// A defect: the pattern of its kind, a cross through it when it is unsound, a dotted outline when it shows on the
/// underside only.
pub(crate) fn defect(canvas: &mut Canvas, frame: &Frame, defect: &Defect) {
    kind(canvas, frame, defect.kind);
    let dash = if defect.face == DefectFace::Bottom { Dash::Dotted } else { Dash::Solid };
    canvas.rect(*frame, None, Some(Pen { ink: Ink::Pencil, width: 0.25, dash }));
    if !defect.sound {
        unsound(canvas, frame);
    }
}

/// The cross of an unsound defect.
pub(crate) fn unsound(canvas: &mut Canvas, frame: &Frame) {
    let (l, t, r, b) = (frame.x, frame.y, frame.right(), frame.bottom());
    let cross = vec![vec![point(l, t), point(r, b)], vec![point(l, b), point(r, t)]];
    canvas.strokes(cross, Pen::solid(Ink::Pencil, 0.3));
}

/// The pattern of a kind of defect.
pub(crate) fn kind(canvas: &mut Canvas, frame: &Frame, kind: DefectKind) {
    let thin = Pen::solid(Ink::Pencil, 0.13);
    let lines = match kind {
        DefectKind::Knot => rings(frame, 0.55),
        DefectKind::Check => zigzags(frame, 1.6),
        DefectKind::Split => [zigzags(frame, 2.2), level(frame, 1.1)].concat(),
        DefectKind::Wane => falling(frame, 0.8),
        DefectKind::Pith => level(frame, 0.5),
        DefectKind::Sap => specks(frame, 1.1),
        DefectKind::Hole => bubbles(frame, 1.6),
        DefectKind::Stain => upright(frame, 0.8),
        DefectKind::Bark => [falling(frame, 0.9), rising(frame, 0.9)].concat(),
        DefectKind::Mark => [level(frame, 1.2), upright(frame, 1.2)].concat(),
    };
    canvas.strokes(lines, thin);
}

/// A hand-drawn chalk line: waves across the straight line from `from` to `to`.
pub(crate) fn chalk_line(canvas: &mut Canvas, from: Point, to: Point) {
    let (dx, dy) = (to.x - from.x, to.y - from.y);
    let length = dx.hypot(dy).max(0.001);
    let steps = ((length / 1.1).ceil() as usize).max(2);
    let line = (0..=steps)
        .map(|i| {
            let share = i as f64 / steps as f64;
            let side = if i % 2 == 0 { 0.3 } else { -0.3 };
            point(from.x + dx * share - dy / length * side, from.y + dy * share + dx / length * side)
        })
        .collect();
    canvas.strokes(vec![line], Pen::solid(Ink::Chalk, 0.45));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_pattern_stays_inside_its_box_and_leaves_something_to_see() {
        use DefectKind::*;
        for frame in [
            Frame { x: 10.0, y: 5.0, width: 12.0, height: 6.0 },
            Frame { x: 3.3, y: 4.4, width: 90.0, height: 0.9 },
            Frame { x: 50.0, y: 5.0, width: 0.7, height: 14.0 },
        ] {
            for defect_kind in [Knot, Check, Split, Wane, Pith, Sap, Hole, Stain, Bark, Mark] {
                let mut canvas = Canvas::default();
                kind(&mut canvas, &frame, defect_kind);
                let points: Vec<Point> = canvas
                    .shapes
                    .iter()
                    .flat_map(|shape| match shape {
                        crate::draw::Shape::Strokes { lines, .. } => lines.concat(),
                        _ => Vec::new(),
                    })
                    .collect();
                assert!(
                    points.iter().all(|p| frame.contains(&Frame { x: p.x, y: p.y, width: 0.0, height: 0.0 })),
                    "{defect_kind:?} in {frame:?}"
                );
                assert!(!points.is_empty(), "{defect_kind:?} in {frame:?}");
            }
        }
    }
}
