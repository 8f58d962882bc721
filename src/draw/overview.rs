//! The overview: every piece of stock the plan uses, to one scale, and what a maker reads first.
//!
//! Shows shapes and marks only; sizes and cuts are on the sheets.

use super::DrawError;
use super::figure::{self, Scale};
use super::figures::DrawOptions;
use super::model::{Anchor, Canvas, Drawing, Ink, Label, Pen, point};
use super::sheet::{FOOT, MARGIN, PAGE_WIDTH, footer};
use super::table::{self, fixed, wrapping};
use super::text;
use super::view::View;
use crate::markup::clean;
use crate::measure::Length;
use crate::pile::Pile;
use crate::plan::{ShopPlan, Status, StockKind};

/// The column of pictures.
const PICTURES: f64 = 150.0;
/// The em of the smallest mark: about 4 1/2 points.
const SMALLEST: f64 = 1.6;
/// Between the pictures and their words.
const GAP: f64 = 6.0;
/// The least height of the page: landscape A4 or Letter, as the sheets.
const LEAST_HEIGHT: f64 = 195.0;

/// Lays out the overview.
pub(crate) fn draw(plan: &ShopPlan, pile: &Pile, options: &DrawOptions) -> Result<Drawing, DrawError> {
    let views: Vec<View<'_>> =
        (0..plan.stock.len()).map(|index| View::new(plan, pile, options, index)).collect::<Result<_, _>>()?;
    let mut page = Canvas::default();
    let room = PAGE_WIDTH - 2.0 * MARGIN;
    let mut top = heading(&mut page, plan, room);
    let longest = views.iter().map(|view| view.length).max().unwrap_or(Length::ZERO);
    let per_tick = PICTURES / (longest.ticks().max(1)) as f64;
    for view in &views {
        top = entry(&mut page, view, options, per_tick, top);
    }
    if !plan.shortages.is_empty() {
        top = shortages(&mut page, plan, room, top + 1.0);
    }
    if !plan.cautions.is_empty() {
        let head = table::heading("Mind", room, 2.4);
        page.place(head.canvas, MARGIN, top);
        top += head.height + 0.4;
        for caution in &plan.cautions {
            top = table::paragraph(&mut page, (MARGIN, top), room, 2.4, Ink::Pencil, caution) + 0.6;
        }
    }
    let height = LEAST_HEIGHT.max(top + 2.0 + FOOT + MARGIN);
    footer(
        &mut page,
        height - MARGIN - FOOT,
        options.units,
        "All pictures are to one scale; the cuts are on the sheets.",
    );
    Ok(Drawing {
        title: format!("Overview of the cut plan {}", clean(&plan.title)).trim_end().to_string(),
        description: describe(&views, options),
        width: PAGE_WIDTH,
        height,
        shapes: page.shapes,
    })
}

fn heading(page: &mut Canvas, plan: &ShopPlan, room: f64) -> f64 {
    let title = if plan.title.trim().is_empty() { "Cut plan" } else { &plan.title };
    let mut top = MARGIN;
    for line in text::wrap(title, 5.5, room / 1.3) {
        let label = Label::bold(&line, 5.5, Ink::Pencil, Anchor::Left, MARGIN, top);
        top = label.frame.bottom();
        page.label(label);
    }
    let made = match plan.status {
        Status::Complete => format!("all {} pieces", plan.pieces_required),
        Status::Short => {
            format!("{} of {} pieces (the rest is listed as short)", plan.pieces_placed, plan.pieces_required)
        }
    };
    let proven = if plan.proven { ", so it is proven best" } else { "" };
    let words = format!(
        "Makes {made} from {}. Costs {}; no plan that makes as much costs less than {}{proven}.",
        stock_words(plan),
        plan.cost,
        floor_text(plan)
    );
    top = table::paragraph(page, (MARGIN, top + 0.6), room, 3.0, Ink::Pencil, &words);
    page.line(point(MARGIN, top + 0.8), point(MARGIN + room, top + 0.8), Pen::solid(Ink::Pencil, 0.5));
    top + 3.0
}

/// `4 boards and 1 sheet`.
fn stock_words(plan: &ShopPlan) -> String {
    let kinds = [(StockKind::Board, "board"), (StockKind::Sheet, "sheet"), (StockKind::Stick, "stick")];
    let counts = kinds.into_iter().filter_map(|(kind, word)| {
        let count = plan.stock.iter().filter(|used| used.kind == kind).count();
        (count > 0).then(|| format!("{count} {word}{}", if count == 1 { "" } else { "s" }))
    });
    match counts.collect::<Vec<_>>().as_slice() {
        [] => "no stock".to_string(),
        [only] => only.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// The bound is printed rounded down, so that it stays true.
fn floor_text(plan: &ShopPlan) -> String {
    crate::measure::Money::from_micros(plan.bound.cents_floor().saturating_mul(10_000)).to_string()
}

fn entry(page: &mut Canvas, view: &View<'_>, options: &DrawOptions, per_tick: f64, top: f64) -> f64 {
    let scale = Scale::new(view.length, view.width, per_tick);
    let mut picture = Canvas::default();
    figure::ground(&mut picture, view, scale, 0.5);
    for piece in &view.pieces {
        let frame = scale.frame(&piece.at).inset(0.3);
        let centre = frame.centre();
        let full = format!("{} {}", piece.mark, piece.name);
        for (words, size) in [(&full, 2.0), (&piece.mark, 2.0), (&piece.mark, SMALLEST)] {
            let top = centre.y - size * text::LINE / 2.0;
            let label = Label::new(words, size, Ink::Pencil, Anchor::Middle, centre.x, top).backed();
            if frame.contains(&label.frame) {
                picture.label(label);
                break;
            }
        }
    }
    for kept in &view.kept {
        let frame = scale.frame(&kept.at).inset(0.7);
        let centre = frame.centre();
        let words = format!("{} keep", kept.mark);
        let label = Label::new(&words, 2.0, Ink::Chalk, Anchor::Middle, centre.x, centre.y - 1.1).backed();
        if frame.contains(&label.frame) && view.pieces.iter().all(|p| !scale.frame(&p.at).overlaps(&label.frame)) {
            picture.label(label);
        }
    }
    page.place(picture, MARGIN, top + 0.4);
    let x = MARGIN + PICTURES + GAP;
    let room = PAGE_WIDTH - MARGIN - x;
    let mut bottom = top;
    for line in text::wrap(&format!("{}  {}", view.number, view.name()), 2.8, room / 1.3) {
        let label = Label::bold(&line, 2.8, Ink::Pencil, Anchor::Left, x, bottom);
        bottom = label.frame.bottom();
        page.label(label);
    }
    let size = options.size(view.length, view.width);
    let words = format!("{} \u{b7} {size} \u{b7} {}", view.wood, view.used.cost);
    bottom = table::paragraph(page, (x, bottom), room, 2.4, Ink::Blue, &words);
    bottom = table::paragraph(page, (x, bottom), room, 2.4, Ink::Pencil, &format!("makes {}", view.makes()));
    bottom.max(top + 0.8 + scale.height) + 2.6
}

fn shortages(page: &mut Canvas, plan: &ShopPlan, room: f64, top: f64) -> f64 {
    let rows: Vec<Vec<String>> = plan
        .shortages
        .iter()
        .map(|short| vec![short.part.clone(), short.missing.to_string(), short.why.clone(), short.buy.clone()])
        .collect();
    let columns = [wrapping("part"), fixed("missing"), wrapping("why"), wrapping("buy")];
    table::stack(page, (MARGIN, top), vec![table::table("Short", &columns, &rows, room, 2.4)]) + 3.0
}

fn describe(views: &[View<'_>], options: &DrawOptions) -> String {
    let entries = views.iter().map(|view| {
        format!("{}: {}, {}, makes {}.", view.name(), view.wood, options.size(view.length, view.width), view.makes())
    });
    clean(&entries.collect::<Vec<_>>().join(" "))
}
