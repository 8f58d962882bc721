//! What the marks of a board mean on one face: wood that clear or sound cuttings cannot hold, and the limits of a face.
//!
//! The figures of the limits are `trade::grades`'; each limit is one function here that answers with the reason when it is
//! passed. Readings of the rules that the marks of a pile leave open:
//!
//! - a *clear* cutting shows no mark on its face but sound sapwood and sound (ordinary season) checks, and is sound on the
//!   reverse; a *sound* cutting holds nothing marked unsound, and no pith or wane however marked, on either face
//!   (definitions of NHLA, from memory);
//! - a mark without a kind is taken as it is flagged, sound or not, and counts for no limit;
//! - a knot's or hole's average diameter is half the sum of its sides; a split widens by its width over its length;
//! - wane belongs to the edge it reaches, or else to the nearer one.

use super::field::{Field, Rect};
use crate::measure::{Area, Length};
use crate::pile::{Board, Defect, DefectFace, DefectKind, Face};
use crate::trade::grades;

/// The face on the other side.
pub(crate) fn reverse(face: Face) -> Face {
    match face {
        Face::Top => Face::Bottom,
        Face::Bottom => Face::Top,
    }
}

fn shows(defect: &Defect, face: Face) -> bool {
    matches!(
        (defect.face, face),
        (DefectFace::Through, _) | (DefectFace::Top, Face::Top) | (DefectFace::Bottom, Face::Bottom)
    )
}

fn is_clear(defect: &Defect) -> bool {
    defect.sound && matches!(defect.kind, DefectKind::Sap | DefectKind::Check)
}

fn is_sound(defect: &Defect) -> bool {
    defect.sound && !matches!(defect.kind, DefectKind::Pith | DefectKind::Wane)
}

fn place(defect: &Defect) -> Rect {
    let (x, y) = (defect.x.ticks(), defect.y.ticks());
    Rect { x1: x, y1: y, x2: x + defect.length.ticks(), y2: y + defect.width.ticks() }
}

/// A face on which those defects block that `blocks`.
fn field(board: &Board, blocks: impl Fn(&Defect) -> bool) -> Field {
    let blocked = board.defects.iter().filter(|defect| blocks(defect)).map(place);
    Field::new(board.length.ticks(), board.width.ticks(), blocked)
}

/// Where clear cuttings may lie on a face; the reverse must be sound under them where that is asked.
pub(crate) fn clear_field(board: &Board, face: Face, sound_reverse: bool) -> Field {
    field(board, |defect| {
        shows(defect, face) && !is_clear(defect) || sound_reverse && shows(defect, reverse(face)) && !is_sound(defect)
    })
}

/// Where sound cuttings may lie: the same on both faces.
pub(crate) fn sound_field(board: &Board) -> Field {
    field(board, |defect| !is_sound(defect))
}

/// What of a face's limits is passed, for a FAS face.
pub(crate) fn fas_breaches(board: &Board, face: Face, surface_measure: u32) -> Vec<String> {
    let mut breaches: Vec<String> = [
        pith(board, face, grades::fas_pith(surface_measure)),
        wane_length(board, face),
        splits(board, face, grades::fas_splits(surface_measure)),
        knots(board, face, grades::fas_knot(surface_measure)),
    ]
    .into_iter()
    .flatten()
    .collect();
    breaches.extend(end_feet(board, face));
    breaches
}

/// What of a face's limits is passed, for the No. 1 Common face of F1F and Selects.
pub(crate) fn reverse_breaches(board: &Board, face: Face) -> Vec<String> {
    let mut breaches = common_breaches(board, face);
    breaches.extend(wane_length(board, face));
    let width = |far| waned(board, face, far).map(|defect| defect.width).max().unwrap_or(Length::ZERO);
    let across = width(false) + width(true);
    if across * 3 > board.width {
        breaches.push(format!("wane {} wide, both edges added; at most a third of the width", say(across)));
    }
    breaches
}

/// What of a face's limits is passed, for a No. 1 Common face.
pub(crate) fn common_breaches(board: &Board, face: Face) -> Vec<String> {
    pith(board, face, Length::from_ticks(board.length.ticks() / 2)).into_iter().collect()
}

fn of_kind<'a>(board: &'a Board, face: Face, kinds: &'static [DefectKind]) -> impl Iterator<Item = &'a Defect> {
    board.defects.iter().filter(move |defect| shows(defect, face) && kinds.contains(&defect.kind))
}

fn pith(board: &Board, face: Face, most: Length) -> Option<String> {
    let total: Length = of_kind(board, face, &[DefectKind::Pith]).map(|defect| defect.length).sum();
    (total > most).then(|| format!("pith {} long in all, at most {}", say(total), say(most)))
}

/// The wane of one edge.
fn waned(board: &Board, face: Face, far: bool) -> impl Iterator<Item = &Defect> {
    of_kind(board, face, &[DefectKind::Wane]).filter(move |defect| {
        let (near_gap, far_gap) = (defect.y, board.width - defect.y - defect.width);
        // Wane from edge to edge is on both.
        if near_gap == far_gap { true } else { (far_gap < near_gap) == far }
    })
}

fn wane_length(board: &Board, face: Face) -> Option<String> {
    let longest = [false, true].map(|far| covered_length(waned(board, face, far))).into_iter().max()?;
    (longest * 2 > board.length).then(|| format!("wane {} long on one edge, at most half the length", say(longest)))
}

/// The length that defects cover together, each place counted once.
fn covered_length<'a>(defects: impl Iterator<Item = &'a Defect>) -> Length {
    let mut spans: Vec<(Length, Length)> = defects.map(|defect| (defect.x, defect.x + defect.length)).collect();
    spans.sort_unstable();
    let (mut total, mut reached) = (Length::ZERO, Length::ZERO);
    for (from, to) in spans {
        total += (to - from.max(reached)).max(Length::ZERO);
        reached = reached.max(to);
    }
    total
}

fn splits(board: &Board, face: Face, most: Length) -> Option<String> {
    let total: Length = of_kind(board, face, &[DefectKind::Split]).map(|defect| defect.length).sum();
    if total > most {
        return Some(format!("splits {} long in all, at most {}", say(total), say(most)));
    }
    let wide =
        of_kind(board, face, &[DefectKind::Split]).find(|split| split.width * grades::FAS_SPLIT_SLOPE > split.length);
    wide.map(|split| {
        format!(
            "a split of {} opens by {}, at most 1 in in {} in",
            say(split.length),
            say(split.width),
            grades::FAS_SPLIT_SLOPE
        )
    })
}

fn knots(board: &Board, face: Face, most: Length) -> Option<String> {
    let knots = of_kind(board, face, &[DefectKind::Knot, DefectKind::Hole]);
    let sides = knots.map(|defect| defect.length + defect.width).max()?;
    (sides > most * 2).then(|| {
        let average = Length::from_ticks(sides.ticks() / 2);
        format!("a knot or hole of {} average diameter, at most {}", say(average), say(most))
    })
}

/// Within a foot of either end at least half is clear, and at most a quarter unsound.
fn end_feet(board: &Board, face: Face) -> Vec<String> {
    let (length, width) = (board.length.ticks(), board.width.ticks());
    let foot = grades::FIRST_LINEAL_FOOT.ticks().min(length);
    let whole = Area::from_square_ticks(i128::from(foot) * i128::from(width));
    let marked = field(board, |defect| shows(defect, face) && !is_clear(defect));
    let unsound = field(board, |defect| shows(defect, face) && !is_sound(defect));
    let mut breaches = Vec::new();
    for (name, x1) in [("left", 0), ("right", length - foot)] {
        let window = Rect { x1, y1: 0, x2: x1 + foot, y2: width };
        if marked.blocked_in(&window).square_ticks() * 2 > whole.square_ticks() {
            breaches.push(format!("less than half of the {name} end's first foot is clear"));
        } else if unsound.blocked_in(&window).square_ticks() * 4 > whole.square_ticks() {
            breaches.push(format!("more than a quarter of the {name} end's first foot is unsound"));
        }
    }
    breaches
}

/// A length as the rules of grading give it.
pub(crate) fn say(length: Length) -> String {
    length.inches_text(Length::from_inch_fraction(1, 16))
}
