//! Text on paper before it is drawn: measured, broken into lines.
//!
//! Widths are the advances of DejaVu Sans, among the widest of the common plain fonts: a label measured here prints
//! inside its box in any of them. What cannot be printed is `markup`'s business.

use crate::markup::clean;

/// Height of a line's box, in ems.
pub(crate) const LINE: f64 = 1.1;
/// Baseline below the upper side of a line's box, in ems.
pub(crate) const BASELINE: f64 = 0.84;

/// Advances of the printable ASCII characters from the space on, thousandths of an em (DejaVu Sans 2.37, `hmtx`).
const ADVANCES: [u16; 95] = [
    318, 401, 460, 838, 637, 951, 780, 275, 391, 391, 500, 838, 318, 361, 318, 337, 637, 637, 637, 637, 637, 637, 637,
    637, 637, 637, 337, 337, 838, 838, 838, 531, 1000, 685, 687, 699, 771, 632, 576, 775, 752, 295, 295, 656, 558, 863,
    749, 788, 604, 788, 695, 635, 611, 732, 685, 989, 686, 611, 686, 391, 337, 391, 838, 500, 500, 613, 635, 550, 635,
    616, 353, 635, 634, 278, 278, 580, 278, 975, 634, 612, 635, 635, 412, 521, 393, 634, 592, 818, 592, 592, 525, 637,
    337, 637, 838,
];
/// Any other character: as wide as the widest of the Latin letters with accents and as an ideograph.
const OTHER: u16 = 1070;
/// The bold face's advances exceed the plain ones by at most this factor over the printable ASCII.
pub(crate) const BOLD: f64 = 1.262;

/// The width of one line of text, millimetres, at an em of `size` millimetres.
pub(crate) fn width(text: &str, size: f64, bold: bool) -> f64 {
    let thousandths: u64 = text.chars().map(|c| u64::from(advance(c))).sum();
    thousandths as f64 / 1000.0 * size * if bold { BOLD } else { 1.0 }
}

fn advance(c: char) -> u16 {
    match c {
        ' '..='~' => ADVANCES[c as usize - ' ' as usize],
        '\u{d7}' => 838,
        '\u{b7}' => 318,
        '\u{2013}' => 500,
        _ => OTHER,
    }
}

/// The text in lines no wider than `room` millimetres, broken at spaces but not between a whole number and its fraction,
/// inside a word only when it is wider than a line. Never empty; nothing is left out but the spaces at breaks.
pub(crate) fn wrap(text: &str, size: f64, room: f64) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in words(&clean(text)) {
        let joined = if line.is_empty() { word.to_string() } else { format!("{line} {word}") };
        if width(&joined, size, false) <= room {
            line = joined;
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        for c in word.chars() {
            line.push(c);
            if width(&line, size, false) > room && line.chars().count() > 1 {
                line.pop();
                lines.push(std::mem::replace(&mut line, c.to_string()));
            }
        }
    }
    if !line.is_empty() || lines.is_empty() {
        lines.push(line);
    }
    lines
}

/// The words of a text; `2 3/8"` is one.
fn words(text: &str) -> Vec<String> {
    let mut words: Vec<String> = Vec::new();
    for word in text.split(' ').filter(|word| !word.is_empty()) {
        let fraction = word.contains('/') && word.starts_with(|c: char| c.is_ascii_digit());
        match words.last_mut() {
            Some(whole) if fraction && whole.chars().all(|c| c.is_ascii_digit()) => {
                whole.push(' ');
                whole.push_str(word);
            }
            _ => words.push(word.to_string()),
        }
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wrapped_lines_keep_every_word_and_stay_inside_the_room() {
        let text = "a rather long name of a part with averyverylongwordthatcannotpossiblyfit inside";
        let lines = wrap(text, 2.0, 20.0);
        assert!(lines.iter().all(|line| width(line, 2.0, false) <= 20.0));
        assert_eq!(lines.concat().replace(' ', ""), text.replace(' ', ""));
        assert!(lines.len() > 3);
    }

    #[test]
    fn a_word_is_not_broken_where_a_space_will_do() {
        assert_eq!(wrap("left rail", 2.0, width("left rai", 2.0, false)), ["left", "rail"]);
    }

    #[test]
    fn a_fraction_stays_with_its_whole_number() {
        assert_eq!(wrap("to 2 3/8\"", 2.0, width("to 2 3/", 2.0, false)), ["to", "2 3/8\""]);
    }

    #[test]
    fn control_characters_and_bidirectional_overrides_are_shown_as_replaced() {}
}
