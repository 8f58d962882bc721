//! The sheet of one panel: its staves side by side in true proportion, what each is cut from, and what to do.
//!
//! Shows the panel as it comes out of the clamps, with the finished part dashed inside it and the triangle that keeps the
//! order of the staves. Everything drawn stands in the plan.

use super::figures::DrawOptions;
use super::model::{Anchor, Canvas, Dash, Drawing, Frame, Ink, Label, Pen, point};
use super::sheet::{FOOT, MARGIN, PAGE_WIDTH, footer};
use super::table::{self, fixed};
use super::text;
use crate::markup::clean;
use crate::measure::Length;
use crate::pile::Face;
use crate::plan::{GlueSheet, GlueUp, Member, Movement};

/// Least height of the page, as the sheets of the stock.
const PAGE_HEIGHT: f64 = 195.0;
/// Tallest picture.
const TALLEST: f64 = 88.0;
/// Right of the picture: the width.
const RIGHT: f64 = 22.0;

/// The sheet of a panel, drawing `number` of `of`.
pub(crate) fn draw(
    glueup: &GlueUp<Length>,
    sheet: &GlueSheet<Length>,
    options: &DrawOptions,
    title: &str,
    (number, of): (usize, usize),
) -> Drawing {
    let mut page = Canvas::default();
    let room = PAGE_WIDTH - 2.0 * MARGIN;
    let place = format!("drawing {number} of {of}");
    page.label(Label::new(&place, 2.6, Ink::Pencil, Anchor::Right, PAGE_WIDTH - MARGIN, MARGIN));
    let mut top = MARGIN;
    for line in text::wrap(&name(glueup), 6.0, room * 0.7 / text::BOLD) {
        let label = Label::bold(&line, 6.0, Ink::Pencil, Anchor::Left, MARGIN, top);
        top = label.frame.bottom();
        page.label(label);
    }
    top = table::paragraph(&mut page, (MARGIN, top + 0.6), room, 3.0, Ink::Pencil, &facts(sheet, options, title));
    page.line(point(MARGIN, top + 0.8), point(PAGE_WIDTH - MARGIN, top + 0.8), Pen::solid(Ink::Pencil, 0.5));
    top = picture(&mut page, glueup, sheet, options, top + 5.0) + 5.0;
    let columns = ["stave", "cut from", "from its left end", "from its chalked edge", "width", "face up"].map(fixed);
    let rows: Vec<Vec<String>> = glueup.members.iter().map(|member| row(member, options)).collect();
    let staves = table::table("Staves, in their order", &columns, &rows, room * 0.62, 2.75);
    top = table::stack(&mut page, (MARGIN, top), vec![staves]) + 1.0;
    for step in &sheet.steps {
        top = table::paragraph(&mut page, (MARGIN, top), room, 2.75, Ink::Pencil, step) + 0.8;
    }
    if let Some(movement) = &sheet.movement {
        top = table::paragraph(&mut page, (MARGIN, top), room, 2.75, Ink::Pencil, &moves(movement, options)) + 0.8;
    }
    let height = PAGE_HEIGHT.max(top + 1.5 + FOOT + MARGIN);
    let advice = "The dashed line is the finished part; trim to it after planing.";
    footer(&mut page, height - MARGIN - FOOT, options.units, advice);
    Drawing {
        title: format!("Staves of {}", clean(&name(glueup))),
        description: describe(glueup, options),
        width: PAGE_WIDTH,
        height,
        shapes: page.shapes,
    }
}

/// `top 1: a panel of 5 staves`.
fn name(glueup: &GlueUp<Length>) -> String {
    let count = glueup.members.len();
    format!("{} {}: a panel of {count} {}", glueup.part, glueup.copy, if count == 1 { "stave" } else { "staves" })
}

fn facts(sheet: &GlueSheet<Length>, options: &DrawOptions, title: &str) -> String {
    let size = |size: &crate::plan::Size<Length>| {
        [size.length, size.width, size.thickness].map(|side| options.fine(side)).join(" \u{d7} ")
    };
    let mut facts = vec![
        format!("{} as glued", size(&sheet.glued)),
        format!("{} trimmed", size(&sheet.trimmed)),
        format!("{} to trim off the width", options.fine(sheet.to_trim)),
    ];
    if !title.trim().is_empty() {
        facts.push(title.trim().to_string());
    }
    facts.join(" \u{b7} ")
}

fn moves(movement: &Movement<Length>, options: &DrawOptions) -> String {
    let change = |change: Length| {
        let size = if change.is_negative() { Length::ZERO - change } else { change };
        format!("{} {}", if change.is_negative() { "shrinks" } else { "grows" }, options.fine(size))
    };
    format!(
        "Across its width it {} by the driest season and {} by the dampest: fasten it so that it can.",
        change(movement.dry_change),
        change(movement.damp_change)
    )
}

fn row(member: &Member<Length>, options: &DrawOptions) -> Vec<String> {
    vec![
        number(member),
        stock(member),
        options.fine(member.x),
        options.fine(member.y),
        member.net_width.map_or(String::new(), |width| options.fine(width)),
        face(member).to_string(),
    ]
}

fn number(member: &Member<Length>) -> String {
    member.stave.map_or(String::new(), |stave| stave.to_string())
}

fn stock(member: &Member<Length>) -> String {
    if member.stock_copy > 1 { format!("{} ({})", member.stock, member.stock_copy) } else { member.stock.clone() }
}

const fn face(member: &Member<Length>) -> &'static str {
    match member.face_up {
        Some(Face::Top) => "top",
        Some(Face::Bottom) => "bottom",
        None => "either",
    }
}

/// The staves, the first at the top; returns where the picture ends.
fn picture(
    page: &mut Canvas,
    glueup: &GlueUp<Length>,
    sheet: &GlueSheet<Length>,
    options: &DrawOptions,
    top: f64,
) -> f64 {
    let glued = sheet.glued;
    let (length, width) = (glued.length.ticks().max(1) as f64, glued.width.ticks().max(1) as f64);
    let scale = ((PAGE_WIDTH - 2.0 * MARGIN - RIGHT) / length).min(TALLEST / width);
    let whole = Frame { x: MARGIN, y: top, width: length * scale, height: width * scale };
    let mut y = top;
    for member in &glueup.members {
        let height = member.net_width.map_or(0.0, |width| width.ticks() as f64 * scale);
        let stave = Frame { x: MARGIN, y, width: whole.width, height };
        page.rect(stave, None, Some(Pen::solid(Ink::Pencil, 0.35)));
        y += height;
    }
    let (dx, dy) = (glued.length - sheet.trimmed.length, glued.width - sheet.trimmed.width);
    let finished = whole.drawn_in(dx.ticks() as f64 * scale / 2.0, dy.ticks() as f64 * scale / 2.0);
    page.rect(finished, None, Some(Pen { ink: Ink::Blue, width: 0.25, dash: Dash::Dashed }));
    if glueup.members.len() > 1 {
        let inside = whole.inset(1.2);
        let (left, right) = (inside.x + inside.width * 0.62, inside.x + inside.width * 0.9);
        let apex = point((left + right) / 2.0, inside.y);
        let (near, far) = (point(left, inside.bottom()), point(right, inside.bottom()));
        page.strokes(vec![vec![near, apex, far, near]], Pen::solid(Ink::Chalk, 0.4));
    }
    let mut y = top;
    for member in &glueup.members {
        let height = member.net_width.map_or(0.0, |width| width.ticks() as f64 * scale);
        let words = format!(
            "{}  {}  {}, {} up",
            number(member),
            stock(member),
            member.net_width.map_or(String::new(), |width| options.fine(width)),
            face(member)
        );
        let size = (height / text::LINE * 0.8).min(3.4);
        let at = y + (height - size * text::LINE) / 2.0;
        page.label(Label::new(&words, size, Ink::Pencil, Anchor::Left, MARGIN + 4.0, at).backed());
        y += height;
    }
    let middle = whole.centre();
    let across = options.fine(glued.width);
    page.label(Label::new(&across, 2.6, Ink::Blue, Anchor::Left, whole.right() + 1.5, middle.y - 1.4));
    let along = options.fine(glued.length);
    page.label(Label::new(&along, 2.6, Ink::Blue, Anchor::Middle, middle.x, top - 3.2));
    whole.bottom()
}

fn describe(glueup: &GlueUp<Length>, options: &DrawOptions) -> String {
    let staves = glueup.members.iter().map(|member| {
        let width = member.net_width.map_or(String::new(), |width| options.fine(width));
        format!("Stave {} from {}, {width} wide, {} up.", number(member), stock(member), face(member))
    });
    clean(&format!("{}. {}", name(glueup), staves.collect::<Vec<_>>().join(" ")))
}
