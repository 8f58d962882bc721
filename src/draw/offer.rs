//! The client's page of a quote on paper: what `quote::page` says, laid out on as many pages as it takes.
//!
//! Only places and sizes are decided here; every word is the page's. The paper is Letter for a job in inches and A4 for
//! one in millimetres, upright. Invariant: nothing is cut off, and a line stays with what it costs.

use super::model::{Anchor, Canvas, Drawing, Ink, Label, Pen, point};
use super::{DrawError, pdf, text};
use crate::measure::Units;
use crate::quote::page::{Block, Page};

/// Around the text.
const MARGIN: f64 = 22.0;
/// The em of the body: about 10 points.
const BODY: f64 = 3.5;
/// The em of small print.
const SMALL: f64 = 3.1;
/// The em of the title.
const TITLE: f64 = 7.0;
/// Below a line of text, in ems.
const LEAD: f64 = 0.3;
/// Above a block.
const GAP: f64 = 8.0;
/// Above and below the text of a priced line.
const PAD: f64 = 1.5;

/// The page as a PDF. Equal pages give equal bytes.
///
/// # Errors
/// [`DrawError::Picture`] when it cannot be rendered.
pub fn offer_pdf(page: &Page) -> Result<Vec<u8>, DrawError> {
    // A letter is printed on the paper at hand.
    pdf::write_on(None, &page.title, &offer_drawings(page))
}

/// The page laid out, a drawing for each sheet of paper.
pub fn offer_drawings(page: &Page) -> Vec<Drawing> {
    let (width, height) = match page.units {
        Units::Inches => (215.9, 279.4),
        Units::Millimetres => (210.0, 297.0),
    };
    let mut paper = Paper { width, height, sheets: vec![Canvas::default()], top: MARGIN };
    page.blocks.iter().for_each(|block| paper.lay(block));
    let count = paper.sheets.len();
    let sheet = |(i, mut canvas): (usize, Canvas)| {
        if count > 1 {
            let words = format!("{} of {count}", i + 1);
            let foot = height - MARGIN / 2.0 - SMALL;
            canvas.label(Label::new(&words, SMALL, Ink::Faint, Anchor::Middle, width / 2.0, foot));
        }
        let shapes = canvas.shapes;
        Drawing { title: page.title.clone(), description: page.title.clone(), width, height, shapes }
    };
    paper.sheets.into_iter().enumerate().map(sheet).collect()
}

/// Sheets being filled, from the top down.
struct Paper {
    width: f64,
    height: f64,
    sheets: Vec<Canvas>,
    /// Where the next thing goes on the last sheet.
    top: f64,
}

impl Paper {
    fn right(&self) -> f64 {
        self.width - MARGIN
    }

    fn room(&self) -> f64 {
        self.width - 2.0 * MARGIN
    }

    fn sheet(&mut self) -> &mut Canvas {
        if self.sheets.is_empty() {
            self.sheets.push(Canvas::default());
        }
        let last = self.sheets.len() - 1;
        &mut self.sheets[last]
    }

    /// Makes sure that so much fits below; a new sheet is begun when it does not.
    fn need(&mut self, height: f64) {
        if self.top > MARGIN && self.top + height > self.height - MARGIN {
            self.sheets.push(Canvas::default());
            self.top = MARGIN;
        }
    }

    fn lay(&mut self, block: &Block) {
        match block {
            Block::Letterhead(lines) => self.letterhead(lines),
            Block::Title { kind, title } => self.title(kind, title),
            Block::Facts(facts) => self.facts(facts),
            Block::Warning(words) => self.warning(words),
            Block::Prices { heading, lines, sums } => self.prices(heading, lines, sums),
            Block::Term(words) => self.term(words),
            Block::Signature(lines) => self.signature(lines),
        }
    }

    /// Lines of text from `x` on, no wider than `room`; a line that does not fit on the sheet goes to the next.
    fn words(&mut self, words: &str, (x, room): (f64, f64), (size, ink, bold): (f64, Ink, bool)) {
        let narrowed = if bold { room / text::BOLD } else { room };
        for line in text::wrap(words, size, narrowed) {
            self.need(size * text::LINE);
            let top = self.top;
            let label = if bold {
                Label::bold(&line, size, ink, Anchor::Left, x, top)
            } else {
                Label::new(&line, size, ink, Anchor::Left, x, top)
            };
            self.sheet().label(label);
            self.top += size * (text::LINE + LEAD);
        }
    }

    fn letterhead(&mut self, lines: &[String]) {
        let (x, room) = (self.right(), self.room());
        for (i, line) in lines.iter().enumerate() {
            for words in text::wrap(line, BODY, room / text::BOLD) {
                let top = self.top;
                let label = if i == 0 {
                    Label::bold(&words, BODY, Ink::Pencil, Anchor::Right, x, top)
                } else {
                    Label::new(&words, BODY, Ink::Faint, Anchor::Right, x, top)
                };
                self.sheet().label(label);
                self.top += BODY * (text::LINE + LEAD);
            }
        }
        self.top += 1.5 * GAP;
    }

    fn title(&mut self, kind: &str, title: &str) {
        let whole = (MARGIN, self.room());
        self.words(kind, whole, (BODY, Ink::Blue, false));
        self.top += 1.0;
        self.words(title, whole, (TITLE, Ink::Pencil, false));
        self.top += GAP / 2.0;
    }

    fn facts(&mut self, facts: &[(String, String)]) {
        let names = facts.iter().map(|(name, _)| text::width(name, BODY, false));
        let column = names.fold(0.0, f64::max) + 6.0;
        for (name, fact) in facts {
            self.need(BODY * text::LINE);
            let top = self.top;
            self.sheet().label(Label::new(name, BODY, Ink::Faint, Anchor::Left, MARGIN, top));
            let beside = (MARGIN + column, self.room() - column);
            self.words(fact, beside, (BODY, Ink::Pencil, false));
            self.top += 0.6;
        }
    }

    fn warning(&mut self, words: &str) {
        let inner = self.room() - 8.0;
        let lines = text::wrap(words, BODY, inner / text::BOLD).len() as f64;
        let height = lines * BODY * (text::LINE + LEAD) + 5.0;
        self.top += GAP / 2.0;
        self.need(height);
        let frame = super::model::Frame { x: MARGIN, y: self.top, width: self.room(), height };
        self.sheet().rect(frame, None, Some(Pen::solid(Ink::Chalk, 0.6)));
        let below = self.top + height;
        self.top += 3.0;
        self.words(words, (MARGIN + 4.0, inner), (BODY, Ink::Chalk, true));
        self.top = below;
    }

    fn prices(&mut self, heading: &str, lines: &[(String, String)], sums: &[(String, String)]) {
        self.top += GAP;
        self.need(4.0 * BODY * text::LINE + 4.0 * PAD);
        self.words(heading, (MARGIN, self.room()), (BODY, Ink::Blue, false));
        for (what, price) in lines {
            self.priced(what, price, (BODY, false), Some(Pen::solid(Ink::Faint, 0.12)));
        }
        if sums.is_empty() {
            return;
        }
        let last = sums.len() - 1;
        self.need((last + 1) as f64 * (BODY * 1.2 * text::LINE + 2.0 * PAD));
        self.rule(Pen::solid(Ink::Pencil, 0.3));
        for (i, (what, price)) in sums.iter().enumerate() {
            let style = if i == last { (BODY * 1.15, true) } else { (BODY, false) };
            self.priced(what, price, style, None);
        }
    }

    /// A line with what it costs, kept together on one sheet.
    fn priced(&mut self, what: &str, price: &str, (size, bold): (f64, bool), under: Option<Pen>) {
        let figure = text::width(price, size, bold) + 6.0;
        let factor = if bold { text::BOLD } else { 1.0 };
        // A price may be words; both then have half of the line at least.
        let figure = figure.min(self.room() / 2.0);
        let whats = text::wrap(what, size, (self.room() - figure) / factor);
        let prices = text::wrap(price, size, (figure - 4.0).max(size) / factor);
        let line = size * (text::LINE + LEAD);
        let height = whats.len().max(prices.len()) as f64 * line + 2.0 * PAD;
        self.need(height);
        let (top, right) = (self.top + PAD, self.right());
        let canvas = self.sheet();
        for (i, words) in whats.iter().enumerate() {
            canvas.label(label(words, size, bold, Anchor::Left, MARGIN, top + i as f64 * line));
        }
        for (i, words) in prices.iter().enumerate() {
            canvas.label(label(words, size, bold, Anchor::Right, right, top + i as f64 * line));
        }
        self.top += height;
        if let Some(pen) = under {
            self.rule(pen);
        }
    }

    fn rule(&mut self, pen: Pen) {
        let (top, right) = (self.top, self.right());
        self.sheet().line(point(MARGIN, top), point(right, top), pen);
    }

    fn term(&mut self, words: &str) {
        self.top += GAP / 2.0;
        self.words(words, (MARGIN, self.room()), (SMALL, Ink::Pencil, false));
    }

    fn signature(&mut self, lines: &[String]) {
        self.need(2.0 * GAP + 1.0 + SMALL * text::LINE);
        self.top += 2.0 * GAP;
        let (mut x, gap) = (MARGIN, 12.0);
        let part = (self.room() - gap * (lines.len().max(1) - 1) as f64) / (lines.len() + 1) as f64;
        let top = self.top;
        for (i, words) in lines.iter().enumerate() {
            let width = if i == 0 { 2.0 * part } else { part };
            let canvas = self.sheet();
            canvas.line(point(x, top), point(x + width, top), Pen::solid(Ink::Pencil, 0.2));
            canvas.label(Label::new(words, SMALL, Ink::Faint, Anchor::Left, x, top + 1.0));
            x += width + gap;
        }
        self.top += SMALL * text::LINE + 2.0;
    }
}

fn label(words: &str, size: f64, bold: bool, anchor: Anchor, x: f64, top: f64) -> Label {
    if bold {
        Label::bold(words, size, Ink::Pencil, anchor, x, top)
    } else {
        Label::new(words, size, Ink::Pencil, anchor, x, top)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn page(lines: usize, units: Units) -> Page {
        let line = |i: usize| (format!("line {i} with a name that goes on for a while"), format!("${i}.00"));
        let blocks = vec![
            Block::Letterhead(vec!["A shop".into(), "Somewhere".into()]),
            Block::Title {
                kind: "Quote".into(),
                title: "A title so long that it takes more than one line on the paper".into(),
            },
            Block::Facts(vec![("Made of".into(), "cherry, ".repeat(60))]),
            Block::Warning(
                "mind this, and mind that, and all the rest of it too, before anything is signed or paid for".into(),
            ),
            Block::Prices {
                heading: "Price".into(),
                lines: (0..lines).map(line).collect(),
                sums: vec![line(1000), line(1001)],
            },
            Block::Term("A term. ".repeat(80)),
            Block::Signature(vec!["Ordered by".into(), "Date".into()]),
        ];
        Page { title: "Quote".into(), units, blocks }
    }

    #[test]
    fn nothing_leaves_the_paper_or_lies_on_something_else() {
        for (lines, units) in [(3, Units::Inches), (120, Units::Inches), (120, Units::Millimetres)] {
            for drawing in offer_drawings(&page(lines, units)) {
                let labels: Vec<&Label> = drawing.labels().collect();
                for (i, one) in labels.iter().enumerate() {
                    assert!(drawing.page().contains(&one.frame), "{}", one.text);
                    for other in &labels[i + 1..] {
                        assert!(!one.frame.overlaps(&other.frame), "{} over {}", one.text, other.text);
                    }
                }
            }
        }
    }

    #[test]
    fn a_long_quote_goes_on_on_further_sheets_with_every_line() {
        let drawings = offer_drawings(&page(120, Units::Inches));
        assert!(drawings.len() > 2);
        for i in 0..120 {
            let price = format!("${i}.00");
            assert_eq!(drawings.iter().flat_map(Drawing::labels).filter(|label| label.text == price).count(), 1);
        }
        assert_eq!(offer_drawings(&page(2, Units::Inches)).len(), 1);
    }
}
