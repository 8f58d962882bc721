//! The key of a sheet: what its lines, patterns and outlines mean, only those it uses.

use super::figure::{self, BLANK, KEPT, NET};
use super::hatch;
use super::model::{Canvas, Dash, Fill, Frame, Ink, Pen, point};
use super::sheet::{kind_word, station_word};
use super::table::{self, Band, Block};
use super::view::View;
use crate::pile::DefectFace;

const SWATCH_WIDTH: f64 = 8.0;
const SWATCH_HEIGHT: f64 = 3.2;

const SWATCH: Frame = Frame { x: 0.0, y: 0.0, width: SWATCH_WIDTH, height: SWATCH_HEIGHT };

/// A sample and what it means.
type Entry = (&'static str, Canvas);

/// The key to the lines and patterns that this drawing uses.
pub(crate) fn block(view: &View<'_>, room: f64, size: f64) -> Block {
    let mut entries = saw_lines(view);
    entries.extend(areas(view));
    entries.extend(defects(view));
    let rows = entries.chunks(2).map(|pair| pair_band(pair, room / 2.0, size)).collect();
    Block { head: table::heading("Key", room, size), rows }
}

fn sample(draw: impl FnOnce(&mut Canvas)) -> Canvas {
    let mut canvas = Canvas::default();
    draw(&mut canvas);
    canvas
}

fn saw_lines(view: &View<'_>) -> Vec<Entry> {
    let mut entries: Vec<Entry> = Vec::new();
    for cut in &view.cuts {
        let word = station_word(cut.station, cut.cut);
        if entries.iter().all(|(other, _)| *other != word) {
            let pen = figure::saw_pen(cut.station, cut.cut);
            let middle = SWATCH.centre().y;
            entries.push((word, sample(|c| c.line(point(0.0, middle), point(SWATCH_WIDTH, middle), pen))));
        }
    }
    entries
}

fn areas(view: &View<'_>) -> Vec<Entry> {
    let mut entries: Vec<Entry> = Vec::new();
    if !view.pieces.is_empty() {
        let blank = sample(|c| {
            c.rect(SWATCH, Some(Fill::Paper), Some(BLANK));
            c.rect(SWATCH.inset(0.8), None, Some(NET));
        });
        entries.push(("blank; dashed inside: finished size", blank));
    }
    let waste = sample(|c| {
        c.rect(SWATCH, Some(Fill::Kraft), None);
        hatch::waste(c, &SWATCH);
    });
    entries.push(("trim and waste", waste));
    if !view.kept.is_empty() {
        let kept = sample(|c| c.rect(SWATCH.inset(0.35), Some(Fill::Paper), Some(KEPT)));
        entries.push(("offcut to keep", kept));
    }
    let middle = SWATCH.centre().y;
    let chalk = sample(|c| hatch::chalk_line(c, point(0.0, middle), point(SWATCH_WIDTH, middle)));
    let words = if view.has_reference_edge() { "chalk: left end, reference edge" } else { "chalk: left end" };
    entries.push((words, chalk));
    entries
}

fn defects(view: &View<'_>) -> Vec<Entry> {
    let mut entries: Vec<Entry> = Vec::new();
    for defect in view.defects {
        let word = kind_word(defect.kind);
        if entries.iter().all(|(other, _)| *other != word) {
            let pattern = sample(|c| {
                hatch::kind(c, &SWATCH, defect.kind);
                c.rect(SWATCH, None, Some(BLANK));
            });
            entries.push((word, pattern));
        }
    }
    if view.defects.iter().any(|defect| !defect.sound) {
        let crossed = sample(|c| {
            c.rect(SWATCH, None, Some(BLANK));
            hatch::unsound(c, &SWATCH);
        });
        entries.push(("crossed out: not sound", crossed));
    }
    if view.defects.iter().any(|defect| defect.face == DefectFace::Bottom) {
        let dotted = Pen { ink: Ink::Pencil, width: 0.25, dash: Dash::Dotted };
        entries.push(("dotted outline: underside only", sample(|c| c.rect(SWATCH, None, Some(dotted)))));
    }
    entries
}

/// Two entries side by side.
fn pair_band(pair: &[Entry], column: f64, size: f64) -> Band {
    let mut band = Canvas::default();
    let mut bottom = SWATCH_HEIGHT + 1.2;
    for (i, (words, canvas)) in pair.iter().enumerate() {
        let left = column * i as f64;
        band.place(canvas.clone(), left, 0.6);
        let at = (left + SWATCH_WIDTH + 1.5, 0.8);
        let end = table::paragraph(&mut band, at, column - SWATCH_WIDTH - 2.5, size, Ink::Pencil, words);
        bottom = bottom.max(end + 0.4);
    }
    Band { canvas: band, height: bottom }
}
