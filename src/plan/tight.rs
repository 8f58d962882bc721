//! Pieces that only just fit: where less than 1/16 in of wood is to spare.
//!
//! Play is how far a piece could be shifted from where it lies before it, or a neighbour it pushes, meets a blocked
//! rectangle or the end of the usable wood: along the length within the room its section can move in, across within the
//! section's edges. Neighbours a kerf apart are no tight fit while the row of them can move, and an offcut gives way.
//! Thickness to spare is what flattening leaves beyond the face allowances. A tape or a warp read wrong by more than this
//! costs the piece.

use super::case::{Case, Use};
use super::scarcity::net_at;
use super::tree::{Grown, nodes_of};
use super::{Length, Node, Role, say};
use crate::measure::{Rational, Rounding, Units};
use crate::milling::MilledCutting;
use crate::nesting::{BlankAt, BoardStock, Rect, SectionAt, StripAt};
use crate::pile::Board;
use crate::trade::warp::{Face, FaceWarp, flattening_loss};

/// Less to spare than this is worth a second look.
const TIGHT: Length = Length::from_inch_fraction(1, 16);
/// Play is printed to this, rounded down.
const PRINTED: Length = Length::from_inch_fraction(1, 64);
/// The same in millimetres: 0.1 mm.
const PRINTED_METRIC: Length = Length::from_ticks(Length::PER_MM / 10);

/// One remark for a board on which something fits by less than 1/16 in: each direction, the least to spare in it, the pieces.
pub(super) fn remark(case: &Case, used: &Use, grown: &Grown) -> Option<String> {
    let (board, layout) = case.board_layout(used)?;
    let rough = case.board(used.source);
    let (mut along, mut across, mut through) = (Tight::default(), Tight::default(), Tight::default());
    let sections = nodes_of(&grown.tree, Role::Section);
    for ((at, node), room) in layout.sections.iter().zip(&sections).zip(rooms(board, &layout.sections)) {
        let margin = board.classes[at.class].end_margin;
        let room = (room.0 + margin, room.1 - margin);
        let plays = play_across(board, at);
        for ((strip, strip_node), play) in at.strips.iter().zip(&node.children).zip(plays) {
            across.note(&strip_node.children, &vec![play; strip.blanks.len()]);
            along.note(&strip_node.children, &play_along(board, strip, room));
            if let Some(rough) = rough {
                through.note(&strip_node.children, &thickness_to_spare(case, used, rough, at, strip));
            }
        }
    }
    let directions = [(along, "along the length"), (across, "across the width"), (through, "in thickness")];
    let words: Vec<String> = directions.iter().filter_map(|(tight, way)| tight.words(case.job.units, way)).collect();
    let name = say::stock(case.piece(used.source).id, used.copy);
    (!words.is_empty()).then(|| format!("Tight on {name}: {}.", words.join("; ")))
}

/// What to do about every remark of [`remark`], said once.
pub(super) const ADVICE: &str = "Where it is tight, measure again before the first cut: ends and defects for the length, \
                                 edges and defects for the width, warp for the thickness, and flatten with light cuts.";

/// Blanks looked at in one direction, and those with little to spare, in reading order.
#[derive(Default)]
struct Tight {
    looked_at: usize,
    blanks: Vec<(Node<Length>, Length)>,
}

impl Tight {
    fn note(&mut self, blanks: &[Node<Length>], spare: &[Length]) {
        self.looked_at += blanks.len();
        let tight = blanks.iter().zip(spare).filter(|(_, spare)| **spare < TIGHT);
        self.blanks.extend(tight.map(|(blank, &spare)| (blank.clone(), spare)));
    }

    /// `across the width, nothing to spare for slat 1-5`.
    fn words(&self, units: Units, way: &str) -> Option<String> {
        let least = self.blanks.iter().map(|&(_, spare)| spare).min()?;
        let spare = match units {
            _ if least == Length::ZERO => "nothing".to_owned(),
            Units::Inches if least < PRINTED => format!("less than {}", PRINTED.show(units, PRINTED)),
            Units::Inches => least.show_rounded(units, PRINTED, Rounding::Down),
            Units::Millimetres if least < PRINTED_METRIC => "less than 0.1 mm".to_owned(),
            Units::Millimetres => least.mm_text_rounded(1, Rounding::Down),
        };
        let pieces = match self.blanks.len() {
            1 => say::label(&self.blanks[0].0),
            2 if self.looked_at == 2 => "both its pieces".to_owned(),
            all if all == self.looked_at => format!("all its {all} pieces"),
            _ => say::labels(self.blanks.iter().map(|(blank, _)| blank)),
        };
        Some(format!("{way}, {spare} to spare for {pieces}"))
    }
}

/// How far left and right the ends of each section could be moved, by the board's ends and by the other sections, which
/// move as one piece each.
fn rooms(board: &BoardStock, sections: &[SectionAt]) -> Vec<(i64, i64)> {
    let ends = (board.end_trim, board.length - board.end_trim);
    let row: Vec<InRow> = sections.iter().map(|section| rigid(board, section, ends)).collect();
    let ranges = ranges(&row, board.kerf_cross);
    let room = |index: usize| {
        let before = index.checked_sub(1).map(|i| ranges[i].0 + row[i].size + board.kerf_cross);
        let after = ranges.get(index + 1).map(|range| range.1 - board.kerf_cross);
        (before.unwrap_or(ends.0), after.unwrap_or(ends.1))
    };
    (0..sections.len()).map(room).collect()
}

/// A section as one piece, free to move until one of its blanks meets what blocks it.
fn rigid(board: &BoardStock, section: &SectionAt, ends: (i64, i64)) -> InRow {
    let mut pocket = ends;
    for strip in &section.strips {
        for blank in &strip.blanks {
            let free = pocket_along(board, strip, blank, ends);
            let size = board.cuttings[blank.cutting].length;
            pocket.0 = pocket.0.max(section.x - (blank.x - free.0));
            pocket.1 = pocket.1.min(section.x + section.length + (free.1 - blank.x - size));
        }
    }
    InRow { at: section.x, size: section.length, pocket }
}

/// A piece in a row: where it lies, how long it is, and the free pocket it lies in.
struct InRow {
    at: i64,
    size: i64,
    pocket: (i64, i64),
}

/// The lowest and the highest place of each piece of a row, the others giving way as far as they can.
fn ranges(row: &[InRow], kerf: i64) -> Vec<(i64, i64)> {
    let mut ranges: Vec<(i64, i64)> = Vec::with_capacity(row.len());
    let mut edge = i64::MIN;
    for piece in row {
        let lowest = piece.pocket.0.max(edge).min(piece.at);
        ranges.push((lowest, piece.at));
        edge = lowest + piece.size + kerf;
    }
    let mut edge = i64::MAX;
    for (range, piece) in ranges.iter_mut().zip(row).rev() {
        range.1 = (piece.pocket.1.min(edge) - piece.size).max(piece.at);
        edge = range.1 - kerf;
    }
    ranges
}

/// How far each piece of a row could be shifted.
fn play(row: &[InRow], kerf: i64) -> Vec<Length> {
    ranges(row, kerf).into_iter().map(|(lowest, highest)| Length::from_ticks(highest - lowest)).collect()
}

fn play_along(board: &BoardStock, strip: &StripAt, room: (i64, i64)) -> Vec<Length> {
    let pieces = strip.blanks.iter().map(|blank| InRow {
        at: blank.x,
        size: board.cuttings[blank.cutting].length,
        pocket: pocket_along(board, strip, blank, room),
    });
    play(&pieces.collect::<Vec<_>>(), board.kerf_cross)
}

/// The ends of the pocket, within `room`, in which a blank stays clear of what blocks it at its y.
fn pocket_along(board: &BoardStock, strip: &StripAt, blank: &BlankAt, room: (i64, i64)) -> (i64, i64) {
    let cutting = &board.cuttings[blank.cutting];
    let net = net_at(cutting, blank.x, strip.y);
    let mut pocket = room;
    for rect in board.blocked[cutting.blocked].iter().filter(|r| r.y0 < net.y1 && net.y0 < r.y1) {
        if rect.x1 <= net.x0 {
            pocket.0 = pocket.0.max(rect.x1 - cutting.net_dx);
        } else {
            pocket.1 = pocket.1.min(rect.x0 - cutting.net_dx - cutting.net_length + cutting.length);
        }
    }
    pocket
}

/// Play across of each strip of a section.
fn play_across(board: &BoardStock, section: &SectionAt) -> Vec<Length> {
    let class = &board.classes[section.class];
    let rows = section.strips.iter().map(|strip| {
        let mut pocket = (class.low, class.high);
        for blank in &strip.blanks {
            let cutting = &board.cuttings[blank.cutting];
            let net = net_at(cutting, blank.x, strip.y);
            let beside = |r: &&Rect| r.x0 < net.x1 && net.x0 < r.x1;
            for rect in board.blocked[cutting.blocked].iter().filter(beside) {
                if rect.y1 <= net.y0 {
                    pocket.0 = pocket.0.max(rect.y1 - cutting.net_dy);
                } else {
                    pocket.1 = pocket.1.min(rect.y0 - cutting.net_dy - cutting.net_width + strip.width);
                }
            }
        }
        InRow { at: strip.y, size: strip.width, pocket }
    });
    play(&rows.collect::<Vec<_>>(), board.kerf_rip)
}

/// Thickness that flattening leaves to spare for each blank of a strip; what is not planed has enough.
fn thickness_to_spare(case: &Case, used: &Use, board: &Board, section: &SectionAt, strip: &StripAt) -> Vec<Length> {
    let apart = case.rips_before_flattening(used, section);
    let width = if apart { Length::from_ticks(strip.width) } else { board.width };
    let flat = flattened(case, board, Length::from_ticks(section.length), width);
    let of_blank = |blank: &BlankAt| {
        let cutting = case.cutting(used.class, blank.cutting);
        if !cutting.planed {
            return TIGHT;
        }
        let left = &flat - ticks(needed(case, board, cutting));
        Length::from_ticks(i64::try_from(left.floor().to_integer()).unwrap_or(i64::MAX))
    };
    strip.blanks.iter().map(of_blank).collect()
}

/// Thickness of a piece of the board once both faces are flat, before face allowances, in ticks.
fn flattened(case: &Case, board: &Board, length: Length, width: Length) -> Rational {
    let warp = FaceWarp { bow: board.warp.bow, cup: board.warp.cup, twist: board.warp.twist };
    let whole = Face { length: board.length, width: board.width };
    let loss = flattening_loss(warp, Face { length, width }, whole, &case.job.shop.warp.factor);
    ticks(board.thickness) - loss
}

/// Thickness a blank asks for before face allowances: its own and both faces, or its leaves with their kerfs.
fn needed(case: &Case, board: &Board, cutting: &MilledCutting) -> Length {
    let allowance = &case.job.shop.allowance;
    let thickness = |&item: &usize| case.milled.items[item].thickness;
    if let [only] = cutting.leaves.as_slice() {
        let face = if board.surfaced.faces_planed() { allowance.face_surfaced } else { allowance.face };
        return thickness(only) + face * 2;
    }
    let leaves: Length = cutting.leaves.iter().map(|item| thickness(item) + allowance.resaw).sum();
    leaves + case.job.shop.kerf.resaw * (cutting.leaves.len() as i64 - 1)
}

fn ticks(length: Length) -> Rational {
    Rational::from_integer(length.ticks().into())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn piece(at: i64, size: i64, pocket: (i64, i64)) -> InRow {
        InRow { at, size, pocket }
    }

    fn ticks_of(play: Vec<Length>) -> Vec<i64> {
        play.into_iter().map(Length::ticks).collect()
    }

    #[test]
    fn a_row_of_neighbours_moves_as_one() {
        // Two pieces of 10 a kerf of 2 apart in a room of 30: 8 to spare for each, wherever the row lies.
        let room = (0, 30);
        assert_eq!(ticks_of(play(&[piece(0, 10, room), piece(12, 10, room)], 2)), [8, 8]);
        assert_eq!(ticks_of(play(&[piece(5, 10, room), piece(20, 10, room)], 2)), [8, 8]);
    }

    #[test]
    fn a_pocket_between_two_knots_holds_its_piece_alone() {
        let row = [piece(0, 10, (0, 40)), piece(15, 10, (14, 25))];
        assert_eq!(ticks_of(play(&row, 2)), [3, 1]);
    }
}
