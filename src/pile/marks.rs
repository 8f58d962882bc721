//! Defects noted in a hurry: the `marks` of a board, and warp in a word.
//!
//! Turns `"31-34, 60-63 far, 90-end, 12-14 near top ok"` into defect rectangles and `slight` into figures for a board of
//! a given size. All arithmetic is exact; a third of a width that is no whole tick is taken outward, so that a mark never
//! covers less than was meant.
//!
//! ```text
//! marks = mark { "," mark } | mark { ";" mark }    with semicolons, a comma is a decimal mark
//! mark  = from ( "-" | "to" ) ( to | "end" ) { word }
//! word  = "near" | "mid" | "far"     which third from the reference edge; the full width without
//!       | "top" | "bottom"           which face; through without
//!       | "ok"                       sound; unsound without
//! ```

use crate::measure::{Length, Units};

use super::{Defect, DefectFace, DefectKind, Warp};

/// How far from flat a board is, in a word.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum WarpWord {
    /// No warp to speak of.
    Flat,
    /// 1/8 in of bow, crook and twist in 8 ft.
    Slight,
    /// 3/8 in of bow, crook and twist in 8 ft.
    Bad,
}

impl WarpWord {
    /// The figures for a board of this `length`: bow and crook by the square of the length, twist in proportion to it,
    /// cup half the word's figure whatever the size; each to the nearest tick.
    ///
    /// ```
    /// use flitchwork::{measure::Length, pile::WarpWord};
    /// let warp = WarpWord::Slight.figures(Length::from_inches(48));
    /// assert_eq!(warp.bow, Length::from_inch_fraction(1, 32));
    /// assert_eq!(warp.twist, Length::from_inch_fraction(1, 16));
    /// assert_eq!(warp.cup, Length::from_inch_fraction(1, 16));
    /// ```
    pub fn figures(self, length: Length) -> Warp {
        let gap = match self {
            WarpWord::Flat => Length::ZERO,
            WarpWord::Slight => Length::from_inch_fraction(1, 8),
            WarpWord::Bad => Length::from_inch_fraction(3, 8),
        };
        let run = i128::from(Length::from_inches(96).ticks());
        let (gap, l) = (i128::from(gap.ticks()), i128::from(length.ticks()));
        let square = nearest(gap * l * l, run * run);
        Warp { bow: square, crook: square, cup: nearest(gap, 2), twist: nearest(gap * l, run) }
    }
}

fn nearest(numerator: i128, denominator: i128) -> Length {
    let ticks = (2 * numerator + denominator) / (2 * denominator);
    Length::from_ticks(i64::try_from(ticks).unwrap_or(i64::MAX))
}

/// What is wrong with one mark.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MarkFault {
    /// The mark as it was read.
    pub mark: String,
    /// What is wrong with it.
    pub what: String,
    /// What would do.
    pub cure: String,
}

const EXAMPLE: &str = "write from-to, as in 31-34 or 90-end, then near, mid or far, top or bottom, ok";

/// The defects that `text` notes on a board of this `length` and `width`; plain numbers are in `units`.
///
/// ```
/// use flitchwork::{measure::{Length, Units}, pile::read_marks};
/// let marks = read_marks("12-14 near top ok", Length::from_inches(96), Length::from_inches(6), Units::Inches).unwrap();
/// assert_eq!(marks[0].width, Length::from_inches(2));
/// assert!(marks[0].sound);
/// assert!(read_marks("end-90", Length::from_inches(96), Length::from_inches(6), Units::Inches).is_err());
/// ```
///
/// # Errors
/// Every mark that is not of the grammar, ends before it starts, or lies outside the board.
pub fn read_marks(text: &str, length: Length, width: Length, units: Units) -> Result<Vec<Defect>, Vec<MarkFault>> {
    let mut defects = Vec::new();
    let mut faults = Vec::new();
    let between = if text.contains(';') { ';' } else { ',' };
    for mark in text.split(between) {
        let mark = mark.trim();
        match read_mark(mark, length, width, units) {
            Ok(defect) => defects.push(defect),
            Err((what, cure)) => faults.push(MarkFault { mark: mark.into(), what, cure }),
        }
    }
    if faults.is_empty() { Ok(defects) } else { Err(faults) }
}

type Said = (String, String);

fn read_mark(mark: &str, length: Length, width: Length, units: Units) -> Result<Defect, Said> {
    if mark.is_empty() {
        return Err(("a mark is empty".into(), EXAMPLE.into()));
    }
    let normal = super::normal_words(mark).replace('–', "-");
    let (span, words) = parted(&normal);
    let (from, to) = span
        .split_once(" to ")
        .or_else(|| span.split_once('-'))
        .ok_or_else(|| ("this mark does not say from where to where".to_owned(), EXAMPLE.to_owned()))?;
    let from = match from.trim() {
        "end" => return Err(("`end` can only be where a mark stops".into(), EXAMPLE.into())),
        "" => return Err(("this mark has no start".into(), EXAMPLE.into())),
        from => along(from, units)?,
    };
    let to = match to.trim() {
        "end" => length,
        "" => return Err(("this mark has no end".into(), EXAMPLE.into())),
        to => along(to, units)?,
    };
    if from.is_negative() || to > length {
        let cure = format!("the board ends at {} {}", said(length, units), units.symbol());
        return Err(("this mark runs past the end of the board".into(), cure));
    }
    if from >= to {
        return Err(("this mark ends before it starts".into(), "write the smaller figure first".into()));
    }
    placed(words, from, to, width)
}

/// The span, and the words behind it.
fn parted(mark: &str) -> (&str, Vec<&str>) {
    let mut span = mark;
    let mut words = Vec::new();
    while let Some((rest, last)) = span.rsplit_once(' ') {
        let is_word = last.chars().all(char::is_alphabetic) && !matches!(last, "end" | "in" | "mm" | "ft" | "cm" | "m");
        if !is_word {
            break;
        }
        words.push(last);
        span = rest;
    }
    words.reverse();
    (span.trim(), words)
}

fn along(text: &str, units: Units) -> Result<Length, Said> {
    Length::parse(text, units).map_err(|_| {
        let what = format!("`{text}` is not a length");
        (what, "write from-to with one dash, broken figures as 31.5 or 31 1/2, as in 31 1/2-34".into())
    })
}

fn placed(words: Vec<&str>, from: Length, to: Length, width: Length) -> Result<Defect, Said> {
    let mut across = None;
    let mut face = None;
    let mut sound = false;
    let third = |n: i64| width.ticks() * n;
    let twice =
        |word: &str| (format!("`{word}` comes on top of another word of its kind"), "leave one of them out".to_owned());
    for word in words {
        let fresh = match word {
            "near" => across.replace((0, third(1))).is_none(),
            "mid" => across.replace((third(1), third(2))).is_none(),
            "far" => across.replace((third(2), third(3))).is_none(),
            "top" => face.replace(DefectFace::Top).is_none(),
            "bottom" => face.replace(DefectFace::Bottom).is_none(),
            "ok" => !std::mem::replace(&mut sound, true),
            other => return Err((format!("`{other}` is no word for a mark"), EXAMPLE.into())),
        };
        if !fresh {
            return Err(twice(word));
        }
    }
    let (start, end) = across.unwrap_or((0, third(3)));
    let y = start.div_euclid(3);
    let far = end.div_euclid(3) + i64::from(end.rem_euclid(3) != 0);
    Ok(Defect {
        kind: DefectKind::Mark,
        x: from,
        y: Length::from_ticks(y),
        length: to - from,
        width: Length::from_ticks(far - y),
        face: face.unwrap_or_default(),
        sound,
    })
}

/// A length as a message says it: at most four decimals, none that say nothing.
pub(crate) fn said(length: Length, units: Units) -> String {
    let text = format!("{:.4}", length.to_f64(units));
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
