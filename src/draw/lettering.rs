//! The words of a picture: cut numbers, names of pieces, dimensions; each where there is room for it.
//!
//! What fits at its place is written there; what does not gets a short mark beside the stock and a leader line to its
//! place, and the tables of the sheet say the rest. Invariant: no two labels overlap.

use super::beside::upright_dimension;
use super::figure::Scale;
use super::figures::DrawOptions;
use super::model::{Anchor, Canvas, Frame, Ink, Label, Pen, Point, point};
use super::placer::{Placer, spread};
use super::text;
use super::view::{Piece, Span, View};
use crate::measure::Length;
use crate::plan::{Cut, CutKind, StockKind};

/// Em sizes, millimetres.
pub(crate) const LARGE: f64 = 2.5;
pub(crate) const SMALL: f64 = 2.05;
/// For what would have to stand beside the stock otherwise.
const TINY: f64 = 1.8;
const TAG: f64 = 2.1;
const TINY_TAG: f64 = 1.7;
/// How far a mark may stand beyond the stock's ends.
pub(crate) const OVERHANG: f64 = 6.0;
/// Thin leader and extension lines.
pub(crate) const LEADER: Pen = Pen::solid(Ink::Pencil, 0.13);
pub(crate) const DIMENSION: Pen = Pen::solid(Ink::Blue, 0.16);

/// The words, and how far they reach above and below the far edge of the stock.
pub(crate) struct Words {
    pub canvas: Canvas,
    pub above: f64,
    pub below: f64,
}

/// A mark that stands beside the stock.
pub(crate) struct Callout {
    /// What it points at.
    pub to: Point,
    pub label: Label,
    pub above: bool,
}

pub(crate) struct Letterer<'a> {
    pub view: &'a View<'a>,
    pub options: &'a DrawOptions,
    pub scale: Scale,
    pub placer: Placer,
    pub labels: Vec<Label>,
    pub callouts: Vec<Callout>,
    pub lines: Canvas,
    /// Where, from left to right, lines run down from the stock.
    pub run_down: Vec<(f64, f64)>,
}

/// Letters the picture of a piece of stock.
pub(crate) fn letter(view: &View<'_>, options: &DrawOptions, scale: Scale) -> Words {
    let mut letterer = Letterer {
        view,
        options,
        scale,
        placer: Placer::default(),
        labels: Vec::new(),
        callouts: Vec::new(),
        lines: Canvas::default(),
        run_down: Vec::new(),
    };
    letterer.spare_defects();
    letterer.cut_numbers();
    letterer.pieces();
    letterer.kept();
    letterer.strip_widths();
    letterer.defects();
    letterer.left_end();
    letterer.ruler();
    let above = letterer.marks_above();
    let caption = letterer.scale.height + 1.9;
    let marks = letterer.marks_below(caption + SMALL * text::LINE + 1.4);
    letterer.edge_caption(caption);
    let below = letterer.tape(marks);
    let mut canvas = letterer.lines;
    letterer.labels.into_iter().for_each(|label| canvas.label(label));
    Words { canvas, above, below }
}

impl Letterer<'_> {
    pub fn stock(&self) -> Frame {
        Frame { x: 0.0, y: 0.0, width: self.scale.width, height: self.scale.height }
    }

    /// Where words may stand in a blank.
    fn room_in(&self, piece: &Piece) -> Frame {
        self.scale.frame(&piece.at).drawn_in(0.3, 0.15)
    }

    /// Writes the label if its box is free.
    fn write(&mut self, label: Label) -> bool {
        let free = self.placer.is_free(&label.frame);
        if free {
            self.placer.take(label.frame);
            self.labels.push(label);
        }
        free
    }

    fn call_out(&mut self, to: Point, label: Label) {
        let above = to.y < self.scale.height / 2.0;
        self.callouts.push(Callout { to, label, above });
    }

    fn spare_defects(&mut self) {
        for defect in self.view.defects {
            let span = Span { x: defect.x, y: defect.y, length: defect.length, width: defect.width };
            self.placer.spare(self.scale.frame(&span).grown(0.25));
        }
    }

    fn cut_numbers(&mut self) {
        let view = self.view;
        let marks = self.room_for_marks();
        let lines: Vec<(CutKind, Frame)> = view.cuts.iter().map(|cut| (cut.cut, self.line_frame(cut))).collect();
        for cut in &view.cuts {
            let text = cut.number.to_string();
            let [from, to] = self.scale.saw_line(cut);
            if cut.cut == CutKind::Cross && view.spans(cut) {
                self.callouts.push(Callout { to: from, label: Label::tag(&text, TAG, from), above: true });
                continue;
            }
            let crossing: Vec<Frame> = lines.iter().filter(|(kind, _)| *kind != cut.cut).map(|(_, f)| *f).collect();
            if !self.tag_on_line(cut, &text, &marks, &crossing) {
                let middle = point((from.x + to.x) / 2.0, (from.y + to.y) / 2.0);
                self.call_out(middle, Label::tag(&text, TAG, middle));
            }
        }
        lines.into_iter().for_each(|(_, frame)| self.placer.spare(frame));
    }

    /// A saw line as a box without thickness.
    fn line_frame(&self, cut: &Cut<Length>) -> Frame {
        let [from, to] = self.scale.saw_line(cut);
        Frame { x: from.x, y: from.y, width: to.x - from.x, height: to.y - from.y }
    }

    /// The middle of every blank that can hold its mark at all: cut numbers leave it alone.
    fn room_for_marks(&self) -> Vec<Frame> {
        let mark_box = |piece: &Piece| {
            let frame = self.room_in(piece);
            let centre = frame.centre();
            let top = centre.y - TINY * text::LINE / 2.0;
            let label = Label::bold(&piece.mark, TINY, Ink::Pencil, Anchor::Middle, centre.x, top);
            frame.contains(&label.frame).then_some(label.frame)
        };
        self.view.pieces.iter().filter_map(mark_box).collect()
    }

    /// Writes a cut's number on its saw line, clear of `marks`, and better clear of defects and of the saw lines
    /// `crossing` it than not.
    fn tag_on_line(&mut self, cut: &Cut<Length>, text: &str, marks: &[Frame], crossing: &[Frame]) -> bool {
        let limits = self.stock().grown(1.3);
        let [from, to] = self.scale.saw_line(cut);
        let hides = |frame: &Frame, others: &[Frame]| others.iter().any(|other| other.overlaps(frame));
        for clear in [true, false] {
            for size in [TAG, TINY_TAG] {
                for place in tag_places(cut, from, to, text, size) {
                    let label = Label::tag(text, size, place);
                    let frame = &label.frame;
                    let unhidden = self.placer.is_clear(frame) && !hides(frame, crossing);
                    let lawful = limits.contains(frame) && !hides(frame, marks);
                    if lawful && (unhidden || !clear) && self.write(label) {
                        return true;
                    }
                }
            }
        }
        false
    }

    fn pieces(&mut self) {
        let view = self.view;
        let mut outside: Vec<&Piece> = Vec::new();
        for piece in &view.pieces {
            let frame = self.room_in(piece);
            let wordings = piece_wordings(piece, self.options);
            if !self.write_block(&frame, &wordings, Ink::Pencil) {
                outside.push(piece);
            }
        }
        let named = |piece: &Piece| format!("{} {}", piece.mark, piece.name);
        let with_names = self.names_stay_near(&outside, named);
        for piece in outside {
            let at = self.scale.frame(&piece.at).centre();
            let text = if with_names { named(piece) } else { piece.mark.clone() };
            self.call_out(at, Label::bold(&text, SMALL, Ink::Pencil, Anchor::Middle, at.x, at.y).backed());
        }
    }

    /// True when these pieces could be called out by these names in one row with no leader line leaning far.
    fn names_stay_near(&self, pieces: &[&Piece], name: impl Fn(&Piece) -> String) -> bool {
        const LEAN: f64 = 9.0;
        let mut asked: Vec<(f64, f64)> = pieces
            .iter()
            .map(|piece| (self.scale.frame(&piece.at).centre().x, text::width(&name(piece), SMALL, true)))
            .collect();
        asked.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (wishes, sizes): (Vec<f64>, Vec<f64>) = asked.into_iter().unzip();
        let found = spread(&wishes, &sizes, 3.0, -OVERHANG, self.scale.width + OVERHANG);
        found.is_some_and(|places| places.iter().zip(&wishes).all(|(place, wish)| (place - wish).abs() <= LEAN))
    }

    fn kept(&mut self) {
        let view = self.view;
        for kept in &view.kept {
            let frame = self.scale.frame(&kept.at).inset(0.9);
            let size = self.options.size(kept.at.length, kept.at.width);
            let mark = &kept.mark;
            let wordings = [
                vec![format!("{mark} keep {size}")],
                vec![format!("{mark} keep"), size],
                vec![format!("{mark} keep")],
                vec![mark.clone()],
            ];
            if !self.write_block(&frame, &wordings, Ink::Chalk) {
                let at = self.scale.frame(&kept.at).centre();
                let text = format!("{mark} keep");
                self.call_out(at, Label::bold(&text, SMALL, Ink::Chalk, Anchor::Middle, at.x, at.y).backed());
            }
        }
    }

    /// Writes the fullest of the wordings that finds room in the box without hiding a defect, or else hiding one; false
    /// when none does. The first of its lines is bold.
    fn write_block(&mut self, frame: &Frame, wordings: &[Vec<String>], ink: Ink) -> bool {
        let tries: [(&[f64], bool); 3] = [(&[LARGE, SMALL], true), (&[TINY], true), (&[SMALL, TINY], false)];
        let found = tries.into_iter().find_map(|(sizes, clear)| {
            wordings
                .iter()
                .find_map(|lines| sizes.iter().find_map(|&size| self.room_for(frame, lines, size, ink, clear)))
        });
        let Some(labels) = found else { return false };
        for label in labels {
            self.placer.take(label.frame);
            self.labels.push(label);
        }
        true
    }

    /// The lines as labels where they find room in the box.
    fn room_for(&self, frame: &Frame, lines: &[String], size: f64, ink: Ink, clear: bool) -> Option<Vec<Label>> {
        let line_height = size * text::LINE;
        let height = line_height * lines.len() as f64;
        let bold = |i: usize| i == 0;
        let widths = lines.iter().enumerate().map(|(i, line)| text::width(line, size, bold(i)));
        let width = widths.fold(0.0, f64::max);
        if width > frame.width || height > frame.height {
            return None;
        }
        block_places(frame, width, height).into_iter().find_map(|(x, y)| {
            let labels: Vec<Label> = lines
                .iter()
                .enumerate()
                .map(|(i, line)| {
                    let top = y + line_height * i as f64;
                    let label = if bold(i) { Label::bold } else { Label::new };
                    label(line, size, ink, Anchor::Middle, x, top).backed()
                })
                .collect();
            let fits = |label: &Label| {
                if clear { self.placer.is_clear(&label.frame) } else { self.placer.is_free(&label.frame) }
            };
            labels.iter().all(fits).then_some(labels)
        })
    }

    /// The width of every strip of a board, at one of its ends, where there is room.
    fn strip_widths(&mut self) {
        let view = self.view;
        for strip in &view.strips {
            let frame = self.scale.frame(strip);
            let text = self.options.fine(strip.width);
            let width = text::width(&text, SMALL, false);
            let free_ends = free_runs(view, strip, self.scale);
            for (low, high) in free_ends {
                if high - low < width + 2.4 || frame.height < SMALL * text::LINE + 0.6 {
                    continue;
                }
                let x = high - width - 2.0;
                let top = frame.centre().y - SMALL * text::LINE / 2.0;
                let label = Label::new(&text, SMALL, Ink::Blue, Anchor::Left, x + 1.2, top).backed();
                if self.write(label) {
                    self.lines.strokes(upright_dimension(x + 0.5, frame.y + 0.2, frame.bottom() - 0.2), DIMENSION);
                    break;
                }
            }
        }
    }

    /// `d1`, `d2`, ... beside each defect, or beside the stock with a leader line where there is no room.
    fn defects(&mut self) {
        let view = self.view;
        for (i, defect) in view.defects.iter().enumerate() {
            let span = Span { x: defect.x, y: defect.y, length: defect.length, width: defect.width };
            let frame = self.scale.frame(&span);
            let text = format!("d{}", i + 1);
            let (width, height) = (text::width(&text, SMALL, false), SMALL * text::LINE);
            let centre = frame.centre();
            let places = [
                (frame.right() + 0.4, centre.y - height / 2.0),
                (frame.x - 0.4 - width, centre.y - height / 2.0),
                (centre.x - width / 2.0, frame.y - 0.3 - height),
                (centre.x - width / 2.0, frame.bottom() + 0.3),
                (centre.x - width / 2.0, centre.y - height / 2.0),
            ];
            let labels = places.map(|(x, top)| Label::new(&text, SMALL, Ink::Pencil, Anchor::Left, x, top).backed());
            let stock = self.stock();
            let mut inside = labels.iter().filter(|label| stock.contains(&label.frame));
            match inside.find(|label| self.placer.is_clear(&label.frame)) {
                Some(label) => {
                    self.write(label.clone());
                }
                None => self.call_out(centre, Label::new(&text, SMALL, Ink::Pencil, Anchor::Middle, 0.0, 0.0).backed()),
            }
        }
    }
}

/// Where a cut's number may straddle its line, best first.
fn tag_places(cut: &Cut<Length>, from: Point, to: Point, text: &str, size: f64) -> Vec<Point> {
    let size = Label::tag(text, size, from).frame;
    match cut.cut {
        CutKind::Cross if to.y - from.y < size.height => Vec::new(),
        CutKind::Cross => {
            let half = size.height / 2.0 + 0.2;
            [from.y + half, (from.y + to.y) / 2.0, to.y - half].map(|y| point(from.x, y)).to_vec()
        }
        CutKind::Rip if to.x - from.x < size.width => Vec::new(),
        CutKind::Rip => {
            let half = size.width / 2.0 + 0.4;
            let steps = (0..8).map(|k| f64::from(k) * (size.width + 0.8));
            let from_left = steps.clone().map(|step| from.x + half + step);
            let from_right = steps.map(|step| to.x - half - step);
            let inside = |x: &f64| from.x + half - 0.3 <= *x && *x <= to.x - half + 0.3;
            from_left.chain(from_right).filter(inside).map(|x| point(x, from.y)).collect()
        }
    }
}

/// Centres (x) and tops (y) that a block of text may take in a box: the middle first, then towards the ends.
fn block_places(frame: &Frame, width: f64, height: f64) -> Vec<(f64, f64)> {
    let (spare_x, spare_y) = (frame.width - width, frame.height - height);
    let mut places = Vec::new();
    for y_share in [0.5, 0.0, 1.0, 0.25, 0.75] {
        for x_share in [0.5, 0.0, 1.0, 0.25, 0.75, 0.1, 0.9, 0.4, 0.6] {
            places.push((frame.x + width / 2.0 + spare_x * x_share, frame.y + spare_y * y_share));
        }
    }
    places
}

/// A piece in fewer and fewer words.
fn piece_wordings(piece: &Piece, options: &DrawOptions) -> Vec<Vec<String>> {
    let title = format!("{} {}", piece.mark, piece.name);
    let blank = options.size(piece.at.length, piece.at.width);
    let Some(net) = piece.net.filter(|net| *net != piece.at) else {
        return vec![
            vec![title.clone(), blank.clone()],
            vec![format!("{title} \u{b7} {blank}")],
            vec![title],
            vec![format!("{} \u{b7} {blank}", piece.mark)],
            vec![piece.mark.clone()],
        ];
    };
    let finished = format!("finished {}", options.size(net.length, net.width));
    vec![
        vec![title.clone(), format!("blank {blank}"), finished.clone()],
        vec![title.clone(), format!("blank {blank}, {finished}")],
        vec![format!("{title} \u{b7} blank {blank}, {finished}")],
        vec![title.clone(), format!("blank {blank}")],
        vec![format!("{title} \u{b7} {blank}")],
        vec![title],
        vec![format!("{} \u{b7} {blank}", piece.mark)],
        vec![piece.mark.clone()],
    ]
}

/// The stretches of a strip where no blank lies, the right end first, in paper coordinates.
fn free_runs(view: &View<'_>, strip: &Span, scale: Scale) -> Vec<(f64, f64)> {
    if view.used.kind != StockKind::Board {
        return Vec::new();
    }
    let (low, high) = (strip.x, strip.x + strip.length);
    let mut runs = Vec::new();
    let mut reached = low;
    let mut blanks: Vec<&Span> = view
        .pieces
        .iter()
        .map(|piece| &piece.at)
        .filter(|at| strip.y <= at.y && at.y < strip.y + strip.width && low <= at.x && at.x < high)
        .collect();
    blanks.sort_by_key(|at| at.x);
    for at in blanks {
        runs.push((scale.of(reached) + 0.6, scale.of(at.x) - 0.3));
        reached = at.x + at.length;
    }
    runs.push((scale.of(reached) + 0.6, scale.of(high) - 0.6));
    runs.reverse();
    runs
}
