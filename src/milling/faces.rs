//! Which defects stand in a piece's way, given what is asked of its two faces.
//!
//! Works on indices into a board's defects; where the rectangles lie and how far they are grown is `board`'s business.
//! A piece's two faces are the board's own, or new ones made by resawing, which show only what goes through.

use crate::milling::blank::Asked;
use crate::pile::{Board, DefectFace, Face};

/// A face of a piece before it is planed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shown {
    /// The board's own face.
    Board(Face),
    /// A face made by resawing.
    Sawn,
}

/// A way to meet what is asked: the defects that must be kept out (ascending), and the face that is the better one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Way {
    pub keep_out: Vec<usize>,
    /// True when the first of the two faces is the one that is clear (or sound).
    pub first_is_better: bool,
}

/// The ways to meet `asked` on a piece whose faces are `first` and `second`; none is contained in another.
pub fn options(board: &Board, asked: Asked, first: Shown, second: Shown) -> Vec<Way> {
    let on = |face: Shown, unsound_only: bool| -> Vec<usize> {
        let shows = |at: DefectFace| match at {
            DefectFace::Through => true,
            DefectFace::Top => face == Shown::Board(Face::Top),
            DefectFace::Bottom => face == Shown::Board(Face::Bottom),
        };
        let matters = |d: &crate::pile::Defect| shows(d.face) && !(unsound_only && d.sound);
        (0..board.defects.len()).filter(|&i| matters(&board.defects[i])).collect()
    };
    let one = |keep_out| vec![Way { keep_out, first_is_better: true }];
    match asked {
        Asked::ClearBoth => one(union(on(first, false), on(second, false))),
        Asked::Sound => one(union(on(first, true), on(second, true))),
        Asked::Any => one(Vec::new()),
        Asked::ClearOne => least(union(on(first, false), on(second, true)), union(on(second, false), on(first, true))),
        Asked::SoundOne => least(on(first, true), on(second, true)),
    }
}

/// Both ways, or only the one that keeps out less.
fn least(first: Vec<usize>, second: Vec<usize>) -> Vec<Way> {
    let within = |a: &[usize], b: &[usize]| a.iter().all(|i| b.contains(i));
    let first_way = Way { keep_out: first, first_is_better: true };
    let second_way = Way { keep_out: second, first_is_better: false };
    if within(&first_way.keep_out, &second_way.keep_out) {
        vec![first_way]
    } else if within(&second_way.keep_out, &first_way.keep_out) {
        vec![second_way]
    } else {
        vec![first_way, second_way]
    }
}

/// Sorted union.
pub fn union(mut a: Vec<usize>, b: Vec<usize>) -> Vec<usize> {
    a.extend(b);
    a.sort_unstable();
    a.dedup();
    a
}
