//! The drawing model spelled out as SVG: fixed decimals, fixed order, nothing from outside the file.
//!
//! Knows no wood and decides no place. Everything that came from a file is escaped here.

use crate::markup::safe;
use std::fmt::Write as _;

use super::model::{Anchor, Dash, Drawing, Fill, Frame, Ink, Label, Pen, Point, Shape};

/// Any plain font will do: the layout was measured in a wide one.
const FONTS: &str = "'DejaVu Sans', Verdana, Helvetica, Arial, sans-serif";

/// The drawing as a whole SVG file.
pub(crate) fn write(drawing: &Drawing) -> String {
    let mut out = String::new();
    let (w, h) = (number(drawing.width), number(drawing.height));
    put(
        &mut out,
        format_args!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"{w}mm\" height=\"{h}mm\" viewBox=\"0 0 {w} {h}\" \
             role=\"img\" aria-labelledby=\"drawing-title drawing-description\" font-family=\"{FONTS}\" \
             stroke-linecap=\"butt\" stroke-linejoin=\"round\">\n\
             <title id=\"drawing-title\">{}</title>\n<desc id=\"drawing-description\">{}</desc>\n\
             <rect x=\"0\" y=\"0\" width=\"{w}\" height=\"{h}\" fill=\"{}\"/>\n",
            safe(&drawing.title),
            safe(&drawing.description),
            fill_colour(Fill::Paper),
        ),
    );
    for shape in &drawing.shapes {
        match shape {
            Shape::Rect { frame, fill, pen } => rect(&mut out, frame, *fill, *pen),
            Shape::Strokes { lines, pen } => strokes(&mut out, lines, *pen),
            Shape::Label(label) => label_text(&mut out, label),
        }
    }
    out.push_str("</svg>\n");
    out
}

fn put(out: &mut String, text: std::fmt::Arguments<'_>) {
    out.write_fmt(text).expect("a String takes any text");
}

fn rect(out: &mut String, frame: &Frame, fill: Option<Fill>, pen: Option<Pen>) {
    let fill = fill.map_or("none", fill_colour);
    put(
        out,
        format_args!(
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" fill=\"{fill}\"{}/>\n",
            number(frame.x),
            number(frame.y),
            number(frame.width),
            number(frame.height),
            pen.map_or(String::new(), stroke),
        ),
    );
}

fn strokes(out: &mut String, lines: &[Vec<Point>], pen: Pen) {
    out.push_str("<path d=\"");
    for line in lines {
        for (i, p) in line.iter().enumerate() {
            put(out, format_args!("{}{} {}", if i == 0 { "M" } else { "L" }, number(p.x), number(p.y)));
        }
    }
    put(out, format_args!("\" fill=\"none\"{}/>\n", stroke(pen)));
}

fn label_text(out: &mut String, label: &Label) {
    if label.backed {
        rect(out, &label.frame, Some(Fill::Paper), label.box_pen());
    }
    let anchor = match label.anchor {
        Anchor::Left => "",
        Anchor::Middle => " text-anchor=\"middle\"",
        Anchor::Right => " text-anchor=\"end\"",
    };
    let pin = label.pin();
    put(
        out,
        format_args!(
            "<text x=\"{}\" y=\"{}\" font-size=\"{}\" fill=\"{}\"{}{anchor}>{}</text>\n",
            number(pin.x),
            number(pin.y),
            number(label.size),
            ink_colour(label.ink),
            if label.bold { " font-weight=\"bold\"" } else { "" },
            safe(&label.text),
        ),
    );
}

fn stroke(pen: Pen) -> String {
    let dash = match dashes(pen.dash) {
        [] => String::new(),
        lengths => {
            let lengths: Vec<String> = lengths.iter().map(f64::to_string).collect();
            format!(" stroke-dasharray=\"{}\"", lengths.join(" "))
        }
    };
    format!(" stroke=\"{}\" stroke-width=\"{}\"{dash}", ink_colour(pen.ink), number(pen.width))
}

/// Lengths of a broken line's dashes and gaps, millimetres.
pub(crate) fn dashes(dash: Dash) -> &'static [f64] {
    match dash {
        Dash::Solid => &[],
        Dash::Dashed => &[1.2, 0.8],
        Dash::Dotted => &[0.35, 0.55],
    }
}

/// Words stand on paper in pencil, blue and chalk, hatching on kraft in hard pencil: the tests hold their contrast.
pub(crate) fn ink_colour(ink: Ink) -> &'static str {
    match ink {
        Ink::Pencil => "#24211d",
        Ink::Faint => "#6f675b",
        Ink::Blue => "#1b4a86",
        Ink::Chalk => "#9c2a17",
    }
}

pub(crate) fn fill_colour(fill: Fill) -> &'static str {
    match fill {
        Fill::Paper => "#fffdf8",
        Fill::Kraft => "#e6dac2",
    }
}

/// Two decimals, a hundredth of a millimetre; zero has no sign.
fn number(value: f64) -> String {
    let text = format!("{value:.2}");
    if text == "-0.00" { "0.00".to_string() } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance as WCAG 2.1 defines it.
    fn luminance(colour: &str) -> f64 {
        let channel = |at: usize| {
            let value = f64::from(u8::from_str_radix(&colour[at..at + 2], 16).expect("two hex digits")) / 255.0;
            if value <= 0.03928 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
        };
        0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5)
    }

    fn contrast(a: &str, b: &str) -> f64 {
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    #[test]
    fn words_have_the_enhanced_and_lines_the_non_text_contrast_of_wcag_2_1() {
        let (paper, kraft) = (fill_colour(Fill::Paper), fill_colour(Fill::Kraft));
        for ink in [Ink::Pencil, Ink::Blue, Ink::Chalk] {
            assert!(contrast(ink_colour(ink), paper) >= 7.0, "success criterion 1.4.6: {ink:?} on paper");
        }
        for ink in [Ink::Pencil, Ink::Blue, Ink::Chalk, Ink::Faint] {
            assert!(contrast(ink_colour(ink), kraft) >= 3.0, "success criterion 1.4.11: {ink:?} on kraft");
        }
    }

    #[test]
    fn a_number_has_two_decimals_and_no_negative_zero() {
        assert_eq!([-0.001, 0.0, 1.0, -2.345, 1e4].map(number), ["0.00", "0.00", "1.00", "-2.35", "10000.00"]);
    }

    #[test]
    fn text_is_escaped_for_elements_and_attributes() {
        assert_eq!(safe("<a b=\"c\">&'\u{0}"), "&lt;a b=&quot;c&quot;&gt;&amp;&#39;\u{fffd}");
    }
}
