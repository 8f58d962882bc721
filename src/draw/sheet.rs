//! The sheet for one piece of stock: heading, picture, tables of pieces and cuts, key, footer.
//!
//! Composes what `figure` and `table` lay down into one landscape page that prints on A4 and on Letter. A piece of stock
//! with more cuts than a page holds gets a longer page; nothing is left out.

use super::figure::{self, Figure};
use super::figures::DrawOptions;
use super::key;
use super::model::{Anchor, Canvas, Drawing, Ink, Label, Pen, Point, point};
use super::table::{self, Block, fixed, wrapping};
use super::text;
use super::view::{Grain, View};
use crate::markup::clean;
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
/// Columns of tables.
const COLUMNS: usize = 3;
/// Between the columns of tables.
const GAP: f64 = 5.0;

const ADVICE: &str = "A mark is the near side of the kerf: keep the blade on its far side; kerfs are counted in. A figure \
                      after ~ is rounded. Check each mark against the wood before you saw.";

/// How large the words of the tables and the picture are, from the most readable on. The first that fits a page is taken.
const TRIES: [(f64, f64); 7] =
    [(3.0, TALLEST), (2.75, TALLEST), (2.5, TALLEST), (2.2, TALLEST), (2.2, 78.0), (2.2, 64.0), (2.2, 52.0)];

/// The sheet as laid out, before it is written.
pub(crate) fn draw(view: &View<'_>, options: &DrawOptions, title: &str) -> Drawing {
    let mut tries = TRIES.into_iter().map(|(size, tallest)| lay_out(view, options, title, size, tallest));
    let page = tries.find(|(_, height)| *height <= PAGE_HEIGHT);
    let (mut page, height) = page.unwrap_or_else(|| lay_out(view, options, title, 2.2, TALLEST));
    let height = height.max(PAGE_HEIGHT);
    footer(&mut page, height - MARGIN - FOOT, options.units, ADVICE);
    Drawing {
        title: format!("Cuts of {}", clean(&view.name())),
        description: describe(view, options),
        width: PAGE_WIDTH,
        height,
        shapes: page.shapes,
    }
}

/// Everything but the footer, with tables in an em of `size` and a picture no higher than `tallest`; and the height of
/// the page that takes.
fn lay_out(view: &View<'_>, options: &DrawOptions, title: &str, size: f64, tallest: f64) -> (Canvas, f64) {
    let mut page = Canvas::default();
    let room = PAGE_WIDTH - 2.0 * MARGIN;
    let top = heading(&mut page, view, options, title);
    let figure = figure::draw(view, options, room - LEFT - RIGHT, tallest);
    let top = caption(&mut page, view, options, &figure, top + 1.0);
    let origin = top + figure.above;
    let tables = origin + figure.below + 3.5;
    page.place(figure.canvas, MARGIN + LEFT, origin);

    let column = (room - GAP * (COLUMNS - 1) as f64) / COLUMNS as f64;
    let mut blocks = vec![piece_table(view, options, column, size)];
    blocks.extend(cut_tables(view, options, column, size));
    blocks.push(kept_table(view, options, column, size));
    blocks.push(defect_table(view, options, column, size));
    blocks.push(key::block(view, column, size));
    blocks.retain(|block| !block.rows.is_empty());
    let foot = table::flow(&mut page, (MARGIN, tables), column + GAP, COLUMNS, blocks);
    (page, foot + 1.5 + FOOT + MARGIN)
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

/// One row for all pieces of one part and size: `B3` on the picture is copy 3 of the part in row B.
fn piece_table(view: &View<'_>, options: &DrawOptions, room: f64, size: f64) -> Block {
    let rows: Vec<Vec<String>> = view
        .groups()
        .into_iter()
        .map(|group| {
            let piece = group[0];
            let finished = piece.net.unwrap_or(piece.at);
            let mut name = piece.name.clone();
            if group.len() > 1 {
                let copies = ranges(group.iter().map(|piece| piece.copy));
                name = format!("{} #{copies}{}", piece.part, piece.member);
            }
            if !piece.notes.is_empty() {
                name = format!("{name}, {}", piece.notes);
            }
            vec![
                piece.letter.clone(),
                name,
                options.size(piece.at.length, piece.at.width),
                options.size(finished.length, finished.width),
            ]
        })
        .collect();
    let columns = [fixed(""), wrapping("piece"), fixed("blank"), fixed("finished")];
    table::table("Pieces, length \u{d7} width", &columns, &rows, room, size)
}

/// `1-4, 6`: ascending numbers, runs drawn together.
fn ranges(numbers: impl Iterator<Item = u32>) -> String {
    let mut numbers: Vec<u32> = numbers.collect();
    numbers.sort_unstable();
    let mut runs: Vec<(u32, u32)> = Vec::new();
    for n in numbers {
        match runs.last_mut() {
            Some((_, last)) if n - *last <= 1 => *last = n,
            _ => runs.push((n, n)),
        }
    }
    let words = runs.iter().map(|(a, b)| if a == b { a.to_string() } else { format!("{a}\u{2013}{b}") });
    words.collect::<Vec<_>>().join(", ")
}

fn kept_table(view: &View<'_>, options: &DrawOptions, room: f64, size: f64) -> Block {
    let rows: Vec<Vec<String>> = view
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
    table::table("Keep", &columns, &rows, room, size)
}

fn defect_table(view: &View<'_>, options: &DrawOptions, room: f64, size: f64) -> Block {
    let rows: Vec<Vec<String>> = view
        .defects
        .iter()
        .enumerate()
        .map(|(i, defect)| {
            let face = match defect.face {
                DefectFace::Top => "top",
                DefectFace::Bottom => "underside",
                DefectFace::Through => "through",
            };
            let sound = if defect.sound { "sound" } else { "not sound" };
            let range =
                |from: Length, size: Length| format!("{}\u{2013}{}", options.fine(from), options.fine(from + size));
            vec![
                format!("d{}", i + 1),
                format!("{}, {face}, {sound}", kind_word(defect.kind)),
                range(defect.x, defect.length),
                range(defect.y, defect.width),
            ]
        })
        .collect();
    let columns = [fixed(""), wrapping(""), fixed("from left"), fixed("from ref. edge")];
    table::table("Defects", &columns, &rows, room, size)
}

/// The cuts in order, one table for each run of cuts at one saw.
fn cut_tables(view: &View<'_>, options: &DrawOptions, room: f64, size: f64) -> Vec<Block> {
    let runs = view.cuts.chunk_by(|a, b| a.station == b.station);
    runs.map(|run| {
        let (title, setting) = match run[0].station {
            Station::RoughCrosscut => ("Rough crosscuts from left end", "length"),
            Station::Rip => ("Rips from reference edge", "fence"),
            Station::FinalCrosscut => ("Final crosscuts from left end", "stop"),
            Station::Sheet => ("Sheet cuts from left end or edge", "set to"),
            Station::Stick => ("Stick cuts from left end", "stop"),
        };
        let rows: Vec<Vec<String>> = run
            .iter()
            .map(|cut| {
                let mark = view.mark_at(cut, options);
                let mark = match (cut.station, cut.cut) {
                    (Station::Sheet, CutKind::Cross) => format!("{mark} left"),
                    (Station::Sheet, CutKind::Rip) => format!("{mark} edge"),
                    _ => mark,
                };
                let setting = cut.setting.map_or(String::new(), |setting| options.fine(setting));
                vec![cut.number.to_string(), mark, setting, cut.what.clone()]
            })
            .collect();
        table::table(title, &[fixed("cut"), fixed("mark"), fixed(setting), wrapping("what it does")], &rows, room, size)
    })
    .collect()
}

/// Height of the footer.
pub(crate) const FOOT: f64 = 7.0;

/// The unit, `advice`, and that a drawing is not the last word.
pub(crate) fn footer(page: &mut Canvas, top: f64, units: Units, advice: &str) {
    let room = PAGE_WIDTH - 2.0 * MARGIN;
    page.line(point(MARGIN, top), point(PAGE_WIDTH - MARGIN, top), Pen::solid(Ink::Pencil, 0.25));
    let unit = match units {
        Units::Inches => "All lengths in inches.",
        Units::Millimetres => "All lengths in millimetres.",
    };
    let words = format!(
        "{unit} {advice} A drawing cannot see your machine: its manual, the rules of your place and qualified instruction \
         come before anything on this sheet."
    );
    table::paragraph(page, (MARGIN, top + 0.8), room, 2.3, Ink::Pencil, &words);
}

fn describe(view: &View<'_>, options: &DrawOptions) -> String {
    let unit = options.units.symbol();
    let seen = if view.has_reference_edge() { "its reference edge towards you and its" } else { "its" };
    let mut words = vec![format!(
        "{}: {}, {} by {} {unit}, seen with {seen} left end on the left.",
        view.name(),
        view.wood,
        options.fine(view.length),
        options.fine(view.width)
    )];
    for piece in &view.pieces {
        let across = if view.has_reference_edge() {
            format!(" and {} from the reference edge", options.fine(piece.at.y))
        } else {
            String::new()
        };
        words.push(format!(
            "Piece {}: {}, blank {} {unit}, {} from the left end{across}.",
            piece.mark,
            piece.name,
            options.size(piece.at.length, piece.at.width),
            options.fine(piece.at.x),
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
    clean(&words.join(" "))
}

pub(crate) fn station_word(station: Station, cut: CutKind) -> &'static str {
    match (station, cut) {
        (Station::RoughCrosscut, _) => "rough crosscut",
        (Station::Rip, _) => "rip",
        (Station::FinalCrosscut, _) => "final crosscut",
        (Station::Sheet, CutKind::Cross) => "sheet crosscut",
        (Station::Sheet, CutKind::Rip) => "sheet rip",
        (Station::Stick, _) => "stick crosscut",
    }
}

pub(crate) fn kind_word(kind: DefectKind) -> &'static str {
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
