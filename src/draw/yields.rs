//! The yields of an order's lots as histograms, one for each thickness and grade.
//!
//! A bar stands on the share of the lumber that ends in parts; its height is the number of lots. Nothing is decided here.

use super::model::{Anchor, Canvas, Drawing, Fill, Frame, Ink, Label, Pen, point};
use super::sheet::{FOOT, MARGIN, PAGE_WIDTH, footer};
use crate::markup::clean;
use crate::measure::Units;
use crate::order::figures::Bar;
use crate::order::{Answer, GradeOrder, ThicknessOrder};

/// Height of the tallest bar.
const TALLEST: f64 = 52.0;
/// Width of a picture.
const WIDE: f64 = 170.0;
/// Height of one histogram with its words.
const ROW: f64 = TALLEST + 22.0;
/// Least height of the page, as the sheets of the stock.
const PAGE_HEIGHT: f64 = 195.0;

/// The histograms under one another.
pub(crate) fn draw(answer: &Answer, units: Units) -> Drawing {
    let mut page = Canvas::default();
    let title = format!("Yield of {} by lot", answer.question.species);
    page.label(Label::bold(&title, 6.0, Ink::Pencil, Anchor::Left, MARGIN, MARGIN));
    let mut top = MARGIN + 11.0;
    for order in &answer.orders {
        for grade in order.grades.iter().filter(|grade| !grade.histogram.is_empty()) {
            row(&mut page, answer, order, grade, top);
            top += ROW;
        }
    }
    let height = PAGE_HEIGHT.max(top + FOOT + MARGIN);
    let advice = "Yield is the finished faces of the parts over the board feet that were enough for them.";
    footer(&mut page, height - MARGIN - FOOT, units, advice);
    let description = format!("{title}: {}", answer.orders.iter().map(describe).collect::<Vec<_>>().join("; "));
    Drawing { title: clean(&title), description: clean(&description), width: PAGE_WIDTH, height, shapes: page.shapes }
}

fn describe(order: &ThicknessOrder) -> String {
    let of = |grade: &GradeOrder| {
        let median = grade.median_yield().map_or_else(|| "none".to_owned(), |share| format!("{:.0} %", share * 100.0));
        format!("{} in the middle lot {median}", grade.grade.name())
    };
    let thickness = format!("{}/{}", order.nominal.numerator, order.nominal.denominator);
    format!("{thickness} {}", order.grades.iter().map(of).collect::<Vec<_>>().join(", "))
}

fn row(page: &mut Canvas, answer: &Answer, order: &ThicknessOrder, grade: &GradeOrder, top: f64) {
    let figure = grade.asked(answer.question.confidence).and_then(|figure| figure.board_feet);
    let figure = figure.map_or_else(|| "no figure".to_owned(), |feet| format!("{feet:.1} bf"));
    let words = format!(
        "{}/{} {}: {figure} at {:.0} %, {} lots",
        order.nominal.numerator,
        order.nominal.denominator,
        grade.grade.name(),
        answer.question.confidence * 100.0,
        grade.lots
    );
    let heading = Label::bold(&words, 3.0, Ink::Pencil, Anchor::Left, MARGIN, top);
    let ceiling = heading.frame.bottom() + 4.0;
    page.label(heading);
    let floor = ceiling + TALLEST;
    let bars = &grade.histogram;
    let most = bars.iter().map(|bar| bar.lots).max().unwrap_or(0).max(1) as f64;
    let width = WIDE / bars.len() as f64;
    for (at, bar) in bars.iter().enumerate() {
        let left = MARGIN + 4.0 + at as f64 * width;
        let height = TALLEST * bar.lots as f64 / most;
        if bar.lots > 0 {
            let frame = Frame { x: left, y: floor - height, width, height };
            page.rect(frame, Some(Fill::Kraft), Some(Pen::solid(Ink::Pencil, 0.25)));
            let count = bar.lots.to_string();
            let size = 2.4;
            page.label(Label::new(&count, size, Ink::Pencil, Anchor::Middle, left + width / 2.0, floor - height - 3.0));
        }
        edge(page, bar.from, left, floor);
    }
    edge(page, bars.last().map_or(0.0, |bar: &Bar| bar.to), MARGIN + 4.0 + WIDE, floor);
    page.line(point(MARGIN + 4.0, floor), point(MARGIN + 4.0 + WIDE, floor), Pen::solid(Ink::Pencil, 0.35));
}

/// The share at a bar's edge.
fn edge(page: &mut Canvas, share: f64, x: f64, floor: f64) {
    let percent = share * 100.0;
    let words =
        if (percent - percent.round()).abs() < 1e-6 { format!("{percent:.0} %") } else { format!("{percent:.1} %") };
    page.line(point(x, floor), point(x, floor + 1.2), Pen::solid(Ink::Pencil, 0.25));
    page.label(Label::new(&words, 2.2, Ink::Blue, Anchor::Middle, x, floor + 1.5));
}
