//! The sheet for one piece of stock: heading, picture, tables of pieces and cuts, key, footer.
//!
//! Composes what `figure` and `table` lay down into one landscape page that prints on A4 and on Letter. A piece of stock
//! with more cuts than a page holds gets a longer page; nothing is left out.

use super::figure::{self, BLANK, Figure, KEPT, NET};
use super::figures::DrawOptions;
use super::hatch;
use super::model::{Anchor, Canvas, Drawing, Fill, Frame, Ink, Label, Pen, Point, point};
use super::table::{self, fixed, wrapping};
use super::text;
use super::view::{Grain, View};
use crate::measure::{Length, Money, Units};
use crate::pile::{DefectFace, DefectKind};
use crate::plan::{CutKind, Station, StockKind};

/// A page that fits the printable area of landscape A4 (297 x 210 mm, ISO 216) and Letter (279.4 x 215.9 mm).
pub(crate) const PAGE_WIDTH: f64 = 265.0;
const PAGE_HEIGHT: f64 = 195.0;
pub(crate) const MARGIN: f64 = 6.0;
/// Left of the stock: the words "left end".
const LEFT: f64 = 7.5;
/// Right of the stock: its width, or the ruler of its rips.
const RIGHT: f64 = 15.0;
/// Tallest picture of a piece of stock.
const TALLEST: f64 = 92.0;
/// Between the two columns of tables.
const GAP: f64 = 6.0;

/// The sheet as laid out, before it is written.
pub(crate) fn draw(view: &View<'_>, options: &DrawOptions, title: &str) -> Drawing {
    let mut page = Canvas::default();
    let room = PAGE_WIDTH - 2.0 * MARGIN;
    let top = heading(&mut page, view, options, title);
    let figure = figure::draw(view, options, room - LEFT - RIGHT, TALLEST);
    let top = caption(&mut page, view, options, &figure, top + 1.0);
    let origin = top + figure.above;
    let tables = origin + figure.below + 3.5;
    page.place(figure.canvas, MARGIN + LEFT, origin);

    let left_room = room * 0.5 - GAP / 2.0;
    let right = MARGIN + left_room + GAP;
    let left_end = left_column(&mut page, view, options, (MARGIN, tables), left_room);
    let cuts_end = cut_table(&mut page, view, options, (right, tables), room - left_room - GAP);
    let right_end = key(&mut page, view, (right, cuts_end), room - left_room - GAP);
    let foot = left_end.max(right_end) + 1.0;
    let height = PAGE_HEIGHT.max(foot + FOOT + MARGIN);
    footer(&mut page, height - MARGIN - FOOT, options.units);
    Drawing {
        title: format!("Cuts of {}", text::clean(&view.name())),
        description: describe(view, options),
        width: PAGE_WIDTH,
        height,
        shapes: page.shapes,
    }
}

fn heading(page: &mut Canvas, view: &View<'_>, options: &DrawOptions, title: &str) -> f64 {
    let right = PAGE_WIDTH - MARGIN;
    let room = PAGE_WIDTH - 2.0 * MARGIN;
    let place = format!("drawing {} of {}", view.number, view.of);
    let place = Label::new(&place, 2.6, Ink::Pencil, Anchor::Right, right, MARGIN);
    let mut title_top = place.frame.bottom() + 0.3;
    page.label(place);
    for line in text::wrap(title, 2.6, room * 0.4) {
        let label = Label::new(&line, 2.6, Ink::Pencil, Anchor::Right, right, title_top);
        title_top = label.frame.bottom();
        page.label(label);
    }
    let mut top = MARGIN;
    for line in text::wrap(&view.name(), 6.0, room * 0.55 / 1.3) {
        let label = Label::bold(&line, 6.0, Ink::Pencil, Anchor::Left, MARGIN, top);
        top = label.frame.bottom();
        page.label(label);
    }
    top = top.max(title_top) + 0.6;
    let mut facts = vec![view.wood.clone()];
    facts.push(format!("{} long \u{d7} {} wide", options.fine(view.length), options.fine(view.width)));
    facts.extend(view.facts.iter().cloned());
    facts.push(format!("costs {}", view.used.cost));
    if view.used.credit != Money::zero() {
        facts.push(format!("{} credited for what is kept", view.used.credit));
    }
    top = table::paragraph(page, (MARGIN, top), room, 3.0, Ink::Pencil, &facts.join(" \u{b7} "));
    let makes = view.makes();
    let makes = if makes.is_empty() { "Makes nothing.".to_string() } else { format!("Makes {makes}.") };
    top = table::paragraph(page, (MARGIN, top + 0.4), room, 3.0, Ink::Pencil, &makes);
    for remark in &view.remarks {
        top = table::paragraph(page, (MARGIN, top + 0.4), room, 2.6, Ink::Chalk, &format!("Mind: {remark}"));
    }
    page.line(point(MARGIN, top + 0.8), point(right, top + 0.8), Pen::solid(Ink::Pencil, 0.5));
    top + 1.4
}

/// Above the picture: which face is up, how the grain runs, how large the picture is. Returns where it ends.
fn caption(page: &mut Canvas, view: &View<'_>, options: &DrawOptions, figure: &Figure, top: f64) -> f64 {
    let mut x = MARGIN + LEFT;
    let size = 2.4;
    let line = size * text::LINE;
    let middle = top + line / 2.0;
    let write = |page: &mut Canvas, words: &str, x: f64, ink: Ink| {
        let label = Label::bold(words, size, ink, Anchor::Left, x, top);
        let right = label.frame.right();
        page.label(label);
        right
    };
    x = match view.used.kind {
        StockKind::Board => write(page, "top face up", x, Ink::Pencil) + 8.0,
        StockKind::Sheet => write(page, "show face up", x, Ink::Pencil) + 8.0,
        StockKind::Stick => x,
    };
    match view.grain {
        Grain::None => x = write(page, "no grain direction", x, Ink::Pencil),
        Grain::Along => {
            x = write(page, "grain", x, Ink::Pencil) + 1.5;
            page.strokes(arrow(point(x, middle), point(x + 16.0, middle)), Pen::solid(Ink::Pencil, 0.3));
            x += 16.0;
        }
        Grain::Across => {
            x = write(page, "grain", x, Ink::Pencil) + 2.5;
            page.strokes(arrow(point(x, middle - 2.6), point(x, middle + 2.6)), Pen::solid(Ink::Pencil, 0.3));
            x += 1.0;
        }
    }
    x += 8.0;
    let (words, length) = scale_bar(options.units, view.length);
    x = write(page, &words, x, Ink::Blue) + 1.5;
    let bar = figure.scale.of(length);
    let ends = [x, x + bar].map(|x| vec![point(x, middle - 0.8), point(x, middle + 0.8)]);
    let mut lines = vec![vec![point(x, middle), point(x + bar, middle)]];
    lines.extend(ends);
    page.strokes(lines, Pen::solid(Ink::Blue, 0.3));
    write(page, &format!("about 1 : {:.1}", figure.scale.reduction()), x + bar + 2.0, Ink::Blue);
    top + line + 1.2
}

/// A round length that is at most a quarter of the stock, and its name.
fn scale_bar(units: Units, length: Length) -> (String, Length) {
    let unit = Length::from_ticks(units.ticks());
    let steps: [i64; 4] = match units {
        Units::Inches => [12, 6, 3, 1],
        Units::Millimetres => [300, 100, 50, 10],
    };
    let fitting = steps.into_iter().find(|n| unit * *n * 4 <= length).unwrap_or(steps[3]);
    (format!("{fitting} {}", units.symbol()), unit * fitting)
}

/// A line with a head at each end.
fn arrow(from: Point, to: Point) -> Vec<Vec<Point>> {
    let length = (to.x - from.x).hypot(to.y - from.y);
    let (ux, uy) = ((to.x - from.x) / length, (to.y - from.y) / length);
    let head = |tip: Point, way: f64| {
        let back =
            |side: f64| point(tip.x + way * 1.6 * ux - side * 0.7 * uy, tip.y + way * 1.6 * uy + side * 0.7 * ux);
        vec![back(1.0), tip, back(-1.0)]
    };
    vec![vec![from, to], head(from, 1.0), head(to, -1.0)]
}

/// Pieces, what is kept, defects. Returns where the column ends.
fn left_column(page: &mut Canvas, view: &View<'_>, options: &DrawOptions, at: (f64, f64), room: f64) -> f64 {
    let noted = view.pieces.iter().any(|piece| !piece.notes.is_empty());
    let mut columns = vec![fixed(""), wrapping("piece"), fixed("blank"), fixed("finished"), fixed("from left")];
    if noted {
        columns.push(wrapping("note"));
    }
    let rows: Vec<Vec<String>> = view
        .pieces
        .iter()
        .map(|piece| {
            let finished = piece.net.unwrap_or(piece.at);
            let mut row = vec![
                piece.mark.clone(),
                piece.name.clone(),
                options.size(piece.at.length, piece.at.width),
                options.size(finished.length, finished.width),
                options.fine(piece.at.x),
            ];
            if noted {
                row.push(piece.notes.clone());
            }
            row
        })
        .collect();
    let end = table::lay(page, at, room, "Pieces (length \u{d7} width)", &columns, &rows);

    let kept: Vec<Vec<String>> = view
        .kept
        .iter()
        .map(|kept| {
            let worth = if kept.credit == Money::zero() {
                "worth keeping, no credit".to_string()
            } else {
                format!("credited {}", kept.credit)
            };
            vec![kept.mark.clone(), options.size(kept.at.length, kept.at.width), options.fine(kept.at.x), worth]
        })
        .collect();
    let columns = [fixed(""), fixed("length \u{d7} width"), fixed("from left"), wrapping("")];
    let end = table::lay(page, (at.0, end), room, "Keep", &columns, &kept);

    let defects: Vec<Vec<String>> = view
        .defects
        .iter()
        .enumerate()
        .map(|(i, defect)| {
            let face = match defect.face {
                DefectFace::Top => "top face",
                DefectFace::Bottom => "underside",
                DefectFace::Through => "through",
            };
            let range = |from: Length, size: Length| format!("{} to {}", options.fine(from), options.fine(from + size));
            vec![
                format!("d{}", i + 1),
                kind_word(defect.kind).to_string(),
                range(defect.x, defect.length),
                range(defect.y, defect.width),
                face.to_string(),
                if defect.sound { "sound" } else { "not sound" }.to_string(),
            ]
        })
        .collect();
    let columns =
        [fixed(""), wrapping(""), fixed("from left"), fixed("from ref. edge"), wrapping("shows"), wrapping("")];
    table::lay(page, (at.0, end), room, "Defects", &columns, &defects)
}

fn cut_table(page: &mut Canvas, view: &View<'_>, options: &DrawOptions, at: (f64, f64), room: f64) -> f64 {
    let rows: Vec<Vec<String>> = view
        .cuts
        .iter()
        .map(|cut| {
            let from = match cut.cut {
                CutKind::Cross => "left end",
                CutKind::Rip => "ref. edge",
            };
            vec![
                cut.number.to_string(),
                station_word(cut.station, cut.cut).to_string(),
                view.mark_at(cut, options),
                from.to_string(),
                cut.setting.map_or(String::new(), |setting| options.fine(setting)),
                cut.what.clone(),
            ]
        })
        .collect();
    let columns = [
        fixed("no."),
        wrapping("saw"),
        fixed("mark at"),
        fixed("from"),
        fixed("fence / stop"),
        wrapping("what it does"),
    ];
    let end = table::lay(page, at, room, "Cuts, in order", &columns, &rows);
    if rows.is_empty() {
        return end;
    }
    let note = "A mark is the side of the kerf nearer the end or edge it is measured from: keep the blade on the far \
                side of it. Kerfs are counted in. ~ before a figure: rounded to the nearest step of the rule.";
    table::paragraph(page, (at.0, end - 2.0), room, 2.05, Ink::Pencil, note) + 2.5
}

/// The key to the lines and patterns that this drawing uses. Returns where it ends.
fn key(page: &mut Canvas, view: &View<'_>, (x, y): (f64, f64), room: f64) -> f64 {
    const SWATCH: f64 = 9.0;
    let mut entries: Vec<(&str, Canvas)> = Vec::new();
    let frame = Frame { x: 0.0, y: 0.0, width: SWATCH, height: 3.4 };
    let swatch = |draw: &dyn Fn(&mut Canvas)| {
        let mut canvas = Canvas::default();
        draw(&mut canvas);
        canvas
    };
    let mut pens: Vec<(&str, Pen)> = Vec::new();
    for cut in &view.cuts {
        let word = station_word(cut.station, cut.cut);
        if pens.iter().all(|(other, _)| *other != word) {
            pens.push((word, figure::saw_pen(cut.station, cut.cut)));
        }
    }
    for (word, pen) in pens {
        entries.push((word, swatch(&|c| c.line(point(0.0, 1.7), point(SWATCH, 1.7), pen))));
    }
    if !view.pieces.is_empty() {
        entries.push((
            "blank; dashed inside: finished size",
            swatch(&|c| {
                c.rect(frame, Some(Fill::Paper), Some(BLANK));
                c.rect(frame.inset(0.8), None, Some(NET));
            }),
        ));
    }
    entries.push((
        "trim and waste",
        swatch(&|c| {
            c.rect(frame, Some(Fill::Kraft), None);
            hatch::waste(c, &frame);
        }),
    ));
    if !view.kept.is_empty() {
        entries.push(("offcut to keep", swatch(&|c| c.rect(frame.inset(0.35), Some(Fill::Paper), Some(KEPT)))));
    }
    entries.push((
        "chalk: left end, reference edge",
        swatch(&|c| hatch::chalk_line(c, point(0.0, 1.7), point(SWATCH, 1.7))),
    ));
    let mut kinds: Vec<DefectKind> = Vec::new();
    for defect in view.defects {
        if !kinds.contains(&defect.kind) {
            kinds.push(defect.kind);
        }
    }
    for kind in kinds {
        entries.push((
            kind_word(kind),
            swatch(&|c| {
                hatch::kind(c, &frame, kind);
                c.rect(frame, None, Some(BLANK));
            }),
        ));
    }
    if view.defects.iter().any(|defect| !defect.sound) {
        entries.push((
            "crossed out: not sound",
            swatch(&|c| {
                c.rect(frame, None, Some(BLANK));
                hatch::unsound(c, &frame);
            }),
        ));
    }
    if view.defects.iter().any(|defect| defect.face == DefectFace::Bottom) {
        let dotted = Pen { ink: Ink::Pencil, width: 0.25, dash: super::model::Dash::Dotted };
        entries.push(("dotted outline: underside only", swatch(&|c| c.rect(frame, None, Some(dotted)))));
    }
    let top = table::heading(page, x, y, room, "Key");
    let column = room / 2.0;
    let mut row_top = top + 0.4;
    for pair in entries.chunks(2) {
        let mut bottom = row_top + frame.height;
        for (i, (words, canvas)) in pair.iter().enumerate() {
            let left = x + column * i as f64;
            page.place(canvas.clone(), left, row_top);
            let at = (left + SWATCH + 1.8, row_top + 0.5);
            bottom = bottom.max(table::paragraph(page, at, column - SWATCH - 3.0, table::BODY, Ink::Pencil, words));
        }
        row_top = bottom + 1.0;
    }
    row_top
}

/// Height of the footer.
pub(crate) const FOOT: f64 = 7.0;

pub(crate) fn footer(page: &mut Canvas, top: f64, units: Units) {
    let room = PAGE_WIDTH - 2.0 * MARGIN;
    page.line(point(MARGIN, top), point(PAGE_WIDTH - MARGIN, top), Pen::solid(Ink::Pencil, 0.25));
    let unit = match units {
        Units::Inches => "All lengths in inches.",
        Units::Millimetres => "All lengths in millimetres.",
    };
    let words = format!(
        "{unit} Check each mark against the wood before you saw. A drawing cannot see your machine: its manual, the rules \
         of your place and a qualified teacher come before anything on this sheet."
    );
    table::paragraph(page, (MARGIN, top + 0.8), room, 2.3, Ink::Pencil, &words);
}

fn describe(view: &View<'_>, options: &DrawOptions) -> String {
    let unit = options.units.symbol();
    let mut words = vec![format!(
        "{}: {}, {} by {} {unit}, seen with its reference edge towards you and its left end on the left.",
        view.name(),
        view.wood,
        options.fine(view.length),
        options.fine(view.width)
    )];
    for piece in &view.pieces {
        words.push(format!(
            "Piece {}: {}, blank {} {unit}, {} from the left end and {} from the reference edge.",
            piece.mark,
            piece.name,
            options.size(piece.at.length, piece.at.width),
            options.fine(piece.at.x),
            options.fine(piece.at.y)
        ));
    }
    for cut in &view.cuts {
        let from = match cut.cut {
            CutKind::Cross => "left end",
            CutKind::Rip => "reference edge",
        };
        let at = view.mark_at(cut, options);
        words.push(format!("Cut {}: {}, {at} from the {from}.", cut.number, station_word(cut.station, cut.cut)));
    }
    for kept in &view.kept {
        words.push(format!("Keep {}: {} {unit}.", kept.mark, options.size(kept.at.length, kept.at.width)));
    }
    text::clean(&words.join(" "))
}

fn station_word(station: Station, cut: CutKind) -> &'static str {
    match (station, cut) {
        (Station::RoughCrosscut, _) => "rough crosscut",
        (Station::Rip, _) => "rip",
        (Station::FinalCrosscut, _) => "final crosscut",
        (Station::Sheet, CutKind::Cross) => "sheet crosscut",
        (Station::Sheet, CutKind::Rip) => "sheet rip",
        (Station::Stick, _) => "stick crosscut",
    }
}

fn kind_word(kind: DefectKind) -> &'static str {
    match kind {
        DefectKind::Knot => "knot",
        DefectKind::Check => "check",
        DefectKind::Split => "split",
        DefectKind::Wane => "wane",
        DefectKind::Pith => "pith",
        DefectKind::Sap => "sap",
        DefectKind::Hole => "hole",
        DefectKind::Stain => "stain",
        DefectKind::Bark => "bark",
        DefectKind::Mark => "marked by tape",
    }
}
